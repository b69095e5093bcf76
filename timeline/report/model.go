package report

import (
	"fmt"
	"html/template"
	"slices"
	"strconv"
	"strings"

	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/timeline"
)

// page is everything the template shows, already in words.
type page struct {
	Title     string
	Policy    string
	CSS       template.CSS
	JS        template.JS
	Sound     template.URL // "" without sound
	Spans     string       // the stretches in it, "" for all
	Length    string       // of the recording, seconds
	Recording string
	Parts     []string
	Levels    []string
	Judged    string // "" when all of it was
	Made      string
	Version   string
	Notes     []string
	Overview  strip
	Cards     []card
	Empty     *emptyPage
	Findings  int
	Words     string
	Lines     []line
	Caution   string
	Legend    []badge

	Student, Instructor, Aircraft, Date string
	Cover                               string // what of them is known, in one line

	Said   []told // of moments
	WorkOn []told
}

// told is what a person says, ready to be shown.
type told struct {
	Who, When, What, Text string
	Done                  bool
	Time                  *moment
}

type emptyPage struct {
	Lead   string
	Sample []sampleRow
	More   int // calls not listed
	Try    []string
}

type sampleRow struct {
	Time  moment
	What  string
	Heard string
}

// badge is a verdict as a word and a shape.
type badge struct {
	Shape string // id of the drawing in the template, and the style class
	Word  string
}

// moment is a time that can be listened to.
type moment struct {
	Sound bool
	At    string // seconds, for the script
	Clock string
	What  string // what is listened to, for those who cannot see the row
	Else  string // the time of day and the file, where known
}

type card struct {
	Number    int
	Title     string
	Span      string
	Else      string
	Tally     string
	Remarks   []string
	Abandoned string // in a sentence, "" when flown to its end: then there is no more to the card but findings
	Listen    moment // to where it was abandoned
	Strip     strip
	Phases    []phase
	Uncalled  string
	Finds     []finding
	Said      []told
}

type phase struct {
	Name  string
	Steps []row
}

type row struct {
	Badge    badge
	Title    string
	Prompted bool
	Time     *moment // nil when there is nothing to listen to
	Due      bool    // Time is when it was due, not when it was heard
	Heard    string
	Figure   string
	Reason   string
	Person   string // who decided it and what the machine said, "" for nobody
	Said     []told
}

type finding struct {
	Severity  string
	Level     string // style class
	Badge     badge
	Time      *moment
	Message   string
	Reference string
}

// line is an utterance of the transcript.
type line struct {
	Time    moment
	Speaker string
	Parts   []part
}

// part is a run of words: plain, doubtful, or a call.
type part struct {
	Text  string
	Doubt bool
	Call  string // what the call is, "" for talk
	Aside bool   // the call was not made, only spoken of
	Time  moment
}

// doubtful is the confidence below which a word is marked in the transcript.
const doubtful = 0.5

func newBadge(v rules.Verdict) badge {
	shape := string(v)
	if v == rules.NotApplicable {
		return badge{Shape: "waived", Word: word(v)}
	}
	if _, known := verdictWords[v]; !known {
		shape = string(rules.Unsure)
	}
	return badge{Shape: shape, Word: word(v)}
}

func newPage(tl *timeline.Timeline, media Media, opt PageOptions) *page {
	p := &page{
		Title:     clean(tl.Recording.File),
		Policy:    pagePolicy,
		CSS:       template.CSS(pageCSS),
		JS:        template.JS(pageJS),
		Recording: recordingLine(tl.Recording),
		Parts:     partLines(tl.Recording),
		Judged:    judgedLine(tl),
		Version:   clean(opt.Version),
		Words:     Plural(words(tl), "word", "words"),
		Caution:   cautions(tl),
	}
	if !opt.Made.IsZero() {
		p.Made = opt.Made.Format("2 January 2006, 15:04")
	}
	for _, l := range tl.Recording.Levels {
		p.Levels = append(p.Levels, clean(l.Text()))
	}
	for _, n := range tl.Notes {
		p.Notes = append(p.Notes, clean(n))
	}
	for _, v := range verdicts {
		p.Legend = append(p.Legend, newBadge(v))
	}
	if slices.ContainsFunc(findingsOf(tl.Maneuvers), func(f found) bool { return rules.Verdict(f.Kind) == corrected }) {
		p.Legend = append(p.Legend, newBadge(corrected))
	}
	if opt.Title != "" {
		p.Title = clean(opt.Title)
	}
	p.Student, p.Instructor, p.Aircraft, p.Date = clean(opt.Student), clean(opt.Instructor), clean(opt.Aircraft), clean(opt.Date)
	p.Cover = coverLine(p)
	p.Spans, p.Length = media.spanText(), short(tl.Recording.Duration)
	at := func(t float64, what string) moment {
		return moment{media.holds(t), strconv.FormatFloat(max(t, 0), 'f', 2, 64), rules.Clock(t), what, elsewhere(tl.Recording, t)}
	}
	words := func(list []Said, of func(Said) bool) (out []told) {
		for _, s := range list {
			if !of(s) {
				continue
			}
			x := told{Who: clean(s.Author), What: clean(s.What), Text: clean(s.Text), Done: s.Done}
			if !s.Written.IsZero() {
				x.When = s.Written.Format("2 January 2006, 15:04")
			}
			if s.At != nil {
				m := at(*s.At, x.Text)
				x.Time = &m
			}
			out = append(out, x)
		}
		return out
	}
	p.Said = words(opt.Said, func(s Said) bool { return s.Maneuver < 0 || s.Maneuver >= len(tl.Maneuvers) })
	p.WorkOn = words(opt.WorkOn, func(Said) bool { return true })
	p.Overview = overview(tl, media.Peaks)
	for i, a := range tl.Maneuvers {
		c := card{
			Number: i + 1,
			Title:  clean(a.Title),
			Span:   rules.Clock(a.Start) + " to " + rules.Clock(a.End),
			Else:   elsewhereSpan(tl.Recording, a.Start, a.End),
			Tally:  outcome(a),
		}
		for _, r := range a.Remarks {
			c.Remarks = append(c.Remarks, clean(r))
		}
		steps := a.Steps
		if a.Abandoned != nil {
			c.Abandoned = clean(a.Abandoned.Reason)
			c.Listen = at(a.Abandoned.At, c.Abandoned)
			steps = nil
		} else {
			c.Strip, c.Uncalled = maneuverStrip(tl, a, media.Peaks), uncalled(a)
		}
		for j, s := range steps {
			if !asked(s) {
				continue
			}
			if name := phaseOf(a, j); len(c.Phases) == 0 || name != c.Phases[len(c.Phases)-1].Name {
				c.Phases = append(c.Phases, phase{Name: name})
			}
			r := row{Badge: newBadge(s.Verdict), Title: clean(s.Title), Prompted: s.Prompted, Reason: more(tl, s), Person: personLine(s)}
			call := callOf(tl, s)
			if t := due(a, s); t != nil {
				m := at(*t, r.Title)
				if s.At != nil && call != nil && call.Estimated {
					m.Else = strings.Trim("estimated, "+m.Else, ", ")
				}
				r.Time, r.Due = &m, s.At == nil && s.Verdict != rules.Unsure
			}
			if call != nil {
				r.Heard = clean(call.Heard)
			}
			r.Figure = figure(call, s)
			r.Said = words(opt.Said, func(x Said) bool { return x.Maneuver == i && x.Step == s.ID })
			ph := &c.Phases[len(c.Phases)-1]
			ph.Steps = append(ph.Steps, r)
		}
		for _, f := range findingsOf(tl.Maneuvers[i : i+1]) {
			x := finding{
				Severity: severityWord(f.Severity), Level: "note",
				Badge:   newBadge(rules.Verdict(f.Kind)),
				Message: clean(f.Message), Reference: clean(f.Reference),
			}
			if _, known := severityWords[f.Severity]; known {
				x.Level = string(f.Severity)
			}
			if f.At != nil {
				m := at(*f.At, x.Message)
				x.Time = &m
			}
			c.Finds = append(c.Finds, x)
		}
		c.Said = words(opt.Said, func(x Said) bool { return x.Maneuver == i && !hasRow(steps, x.Step) })
		p.Findings += len(c.Finds)
		p.Cards = append(p.Cards, c)
	}
	if len(tl.Maneuvers) == 0 {
		e := &emptyPage{More: max(0, len(tl.Calls)-emptySample)}
		e.Lead, e.Try = emptyAdvice(tl)
		for _, s := range sample(tl) {
			e.Sample = append(e.Sample, sampleRow{at(s.At, s.Heard), s.What, s.Heard})
		}
		p.Empty = e
	}
	p.Lines = transcriptLines(tl, at)
	return p
}

// coverLine is what is known of the cover, "" for nothing. On paper there is a line for
// each, to be filled in by hand.
func coverLine(p *page) string {
	var known []string
	for _, l := range []struct{ name, text string }{{"", p.Date}, {"student ", p.Student}, {"instructor ", p.Instructor}, {"aircraft ", p.Aircraft}} {
		if l.text != "" {
			known = append(known, l.name+l.text)
		}
	}
	return strings.Join(known, " · ")
}

// transcriptLines cuts each utterance into talk and calls.
func transcriptLines(tl *timeline.Timeline, at func(float64, string) moment) []line {
	callAt := callsByWord(tl)
	lines := make([]line, 0, len(tl.Transcript))
	for i, u := range tl.Transcript {
		l := line{Time: at(u.Start, "from here"), Speaker: clean(u.Speaker)}
		if l.Speaker == "" && tl.Recording.Channels > 1 {
			l.Speaker = fmt.Sprintf("Channel %d", u.Channel+1)
		}
		last := -2
		for j, w := range u.Words {
			text := clean(w.Text)
			if text == "" {
				continue
			}
			k, doubt := callAt[i][j], w.Confidence < doubtful
			if n := len(l.Parts); n > 0 && k == last && (k >= 0 || doubt == l.Parts[n-1].Doubt) {
				l.Parts[n-1].Text += " " + text
				continue
			}
			last = k
			x := part{Text: text, Doubt: doubt && k < 0}
			if k >= 0 {
				c := tl.Calls[k]
				x.Call = spaced(c.ID) + ", " + spaced(string(c.Stance))
				x.Aside = c.Stance != callouts.Done
				x.Time = at(c.Start, x.Call)
			}
			l.Parts = append(l.Parts, x)
		}
		if len(u.Words) == 0 {
			if text := clean(u.Text); text != "" {
				l.Parts = []part{{Text: text}}
			}
		}
		lines = append(lines, l)
	}
	return lines
}

// callsByWord gives, for each word of each utterance, the call it belongs to, or
// -1. A call may run on into the utterances that follow on its channel.
func callsByWord(tl *timeline.Timeline) [][]int {
	of := make([][]int, len(tl.Transcript))
	for i, u := range tl.Transcript {
		of[i] = make([]int, len(u.Words))
		for j := range of[i] {
			of[i][j] = -1
		}
	}
	const slack = 0.01 // s
	for k, c := range tl.Calls {
		first := max(c.Utterance, 0)
		for i := first; i < len(tl.Transcript) && tl.Transcript[i].Start <= c.End; i++ {
			u := tl.Transcript[i]
			if u.Channel != tl.Transcript[first].Channel {
				continue
			}
			for j, w := range u.Words {
				if mid := (w.Start + w.End) / 2; mid >= c.Start-slack && mid <= c.End+slack {
					of[i][j] = k
				}
			}
		}
	}
	return of
}

// hasRow says whether there is a row for a step.
func hasRow(steps []rules.StepResult, id string) bool {
	return slices.ContainsFunc(steps, func(s rules.StepResult) bool { return s.ID == id && asked(s) })
}
