package desk

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"sidetone/rules"
	"sidetone/timeline"
	"sidetone/timeline/logbook"
	"sidetone/timeline/report"
)

// judges are made once for each aircraft and what is asked for.
type judges struct {
	mu sync.Mutex
	by map[string]*timeline.Judge
}

func (d *Desk) judge(l logbook.Lesson) (*timeline.Judge, error) {
	l = logbook.Lesson{Aircraft: l.Aircraft, Source: l.Source, Procedures: l.Procedures}
	b, err := json.Marshal(l)
	if err != nil {
		return nil, err
	}
	key := string(b)
	d.judges.mu.Lock()
	defer d.judges.mu.Unlock()
	if j := d.judges.by[key]; j != nil {
		return j, nil
	}
	j, err := d.opt.Judge(l)
	if err != nil {
		return nil, err
	}
	if d.judges.by == nil {
		d.judges.by = map[string]*timeline.Judge{}
	}
	d.judges.by[key] = j
	return j, nil
}

var errLost = errors.New("its recording was not found where it was, nor near by; put it back, or add it again")

// recording is the files of a lesson's recording; errLost when they are nowhere.
func (d *Desk) recording(ctx context.Context, id int64) ([]string, error) {
	paths, ok, err := d.book.Recording(ctx, id)
	if err == nil && !ok {
		err = errLost
	}
	return paths, err
}

// hear listens to a lesson, judges it and writes down what the machine says.
func (d *Desk) hear(ctx context.Context, id int64, tell func(Progress)) error {
	l, err := d.book.Lesson(ctx, id)
	if err != nil {
		return err
	}
	j, err := d.judge(l)
	if err != nil {
		return err
	}
	paths, err := d.recording(ctx, id)
	if err != nil {
		return err
	}
	files, err := d.book.Files(ctx, id)
	if err != nil {
		return err
	}
	heard, err := d.opt.Ears.Listen(ctx, l, paths, tell)
	if err != nil {
		return errors.New(ownNames(oneLine(err), paths, files))
	}
	rec := &heard.Recording
	rec.File = ownNames(rec.File, paths, files)
	rec.Parts = slices.Clone(rec.Parts)
	for i := range rec.Parts {
		rec.Parts[i].File = ownNames(rec.Parts[i].File, paths, files)
	}
	for i, n := range heard.Notes {
		heard.Notes[i] = ownNames(n, paths, files)
	}
	logbook.Fill(heard.Words)
	tl := j.Debrief(heard.Recording, heard.Words, nil, heard.Notes)
	h, err := hearingOf(tl, d.opt.Version)
	if err != nil {
		return err
	}
	if n := len(heard.Peaks); n > 0 && heard.Recording.Duration > 0 {
		h.Peaks = logbook.Peaks{Peaks: heard.Peaks, PerSecond: float64(n) / heard.Recording.Duration}
	}
	if err := d.book.SetHearing(ctx, id, h); err != nil {
		return err
	}
	if err := d.summarise(ctx, id, tl, nil); err != nil {
		return err
	}
	if len(heard.Peaks) > 0 && !(len(paths) == 1 && plays(paths[0])) {
		d.queue.add(job{id, making})
	}
	return nil
}

// ownNames calls files in a text as the user knows them: a copy in the library has its
// content for a name, and lies where nobody has to look.
func ownNames(text string, paths []string, files []logbook.File) string {
	for i, p := range paths {
		if i < len(files) && files[i].Name != "" {
			text = strings.ReplaceAll(strings.ReplaceAll(text, p, files[i].Name), filepath.Base(p), files[i].Name)
		}
	}
	return text
}

// hearingOf is a debrief as it is kept.
func hearingOf(tl *timeline.Timeline, version string) (h logbook.Hearing, err error) {
	var b bytes.Buffer
	if err := report.JSON(&b, tl); err != nil {
		return h, err
	}
	h = logbook.Hearing{Debrief: b.Bytes(), Notes: tl.Notes, Version: version, Duration: tl.Recording.Duration}
	for _, c := range tl.Calls {
		h.Utterances = append(h.Utterances, c.Utterance)
	}
	return h, nil
}

// machineOf is the timeline the machine made, as it was kept.
func machineOf(h logbook.Hearing) (*timeline.Timeline, error) {
	tl, err := report.ReadJSON(h.Debrief)
	if err != nil {
		return nil, err
	}
	tl.Notes = h.Notes
	for i := range tl.Calls {
		if i < len(h.Utterances) && h.Utterances[i] >= 0 && h.Utterances[i] < len(tl.Transcript) {
			tl.Calls[i].Utterance = h.Utterances[i]
		}
	}
	return tl, nil
}

// summarise writes the list's line for a lesson.
func (d *Desk) summarise(ctx context.Context, id int64, tl *timeline.Timeline, facts []logbook.Fact) error {
	var titles []string
	for _, m := range tl.Maneuvers {
		if !slices.Contains(titles, m.Title) {
			titles = append(titles, m.Title)
		}
	}
	return d.book.Summarise(ctx, id, titles, result(tl, facts))
}

// result is a lesson in one line: what was heard of the calls asked for, and how often
// people overruled that.
func result(tl *timeline.Timeline, facts []logbook.Fact) string {
	if len(tl.Maneuvers) == 0 {
		return fmt.Sprintf("No maneuver was found; %s", report.Plural(len(tl.Calls), "call heard", "calls heard"))
	}
	of := map[rules.Verdict]int{}
	asked := 0
	for _, m := range tl.Maneuvers {
		for _, s := range m.Steps {
			if s.Verdict != rules.NotApplicable {
				of[s.Verdict]++
				asked++
			}
		}
	}
	parts := []string{fmt.Sprintf("%d of %s as they should be", of[rules.Heard], report.Plural(asked, "call", "calls"))}
	for _, v := range []rules.Verdict{rules.NotHeard, rules.OutOfOrder, rules.Late, rules.OffValue, rules.Unsure} {
		if n := of[v]; n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, verdictWords[v]))
		}
	}
	line := strings.Join(parts, ", ")
	overruled := 0
	for _, f := range logbook.LastHands(facts) {
		if f.Hand == logbook.Overrule {
			overruled++
		}
	}
	if overruled > 0 {
		line += fmt.Sprintf("; %d overruled by people", overruled)
	}
	return line
}

func oneLine(err error) string {
	return strings.Join(strings.Fields(strings.ReplaceAll(err.Error(), "\n", "; ")), " ")
}
