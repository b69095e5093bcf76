// Package report shows a timeline to people and programs: on a terminal, as one
// self-contained page of HTML, and as JSON.
//
// It draws what is in the timeline and decides nothing. What comes from a
// recording or a caption file (words, names of files and speakers) is hostile
// until shown otherwise: control characters never reach a terminal, markup never
// reaches a page.
package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/timeline"
)

// Caution ends every debrief.
const Caution = "A training aid, not for use in flight. " +
	"The aircraft's own POH/AFM, the current standards and a qualified instructor decide. " +
	"It hears calls, it does not see hands: \"not heard\" is not \"not done\". " +
	"Recording people needs their consent under local law."

// stayed is added when there was audio: it says where it went.
const stayed = " The audio stayed on the machine that made this debrief."

// cautions is what a debrief of this timeline ends with.
func cautions(tl *timeline.Timeline) string {
	switch {
	case tl.Recording.SampleRate == 0: // read from a file of words
		return Caution
	case tl.Recording.SentTo != "":
		return Caution + " The speech in it was sent to " + clean(tl.Recording.SentTo) + " to be recognised."
	}
	return Caution + stayed
}

// verdicts in the order they are counted and explained. Steps that are not asked
// for are neither: see asked.
var verdicts = []rules.Verdict{
	rules.Heard, rules.NotHeard, rules.OutOfOrder, rules.Late, rules.OffValue, rules.Unsure,
}

// corrected is the one kind of finding that is not a verdict.
const corrected rules.Verdict = "corrected"

var verdictWords = map[rules.Verdict]string{
	rules.Heard:      "heard",
	rules.NotHeard:   "not heard",
	rules.OutOfOrder: "out of order",
	rules.Late:       "late",
	rules.OffValue:   "off value",
	rules.Unsure:     "unsure: listen here",
	corrected:        "corrected",
}

// word is the verdict for people.
func word(v rules.Verdict) string {
	if w, ok := verdictWords[v]; ok {
		return w
	}
	return spaced(string(v))
}

// accuses tells verdicts a reader should look at from those that are fine.
func accuses(v rules.Verdict) bool { return v != rules.Heard }

// asked tells whether a step has a row of its own. One that is for other aircraft,
// or that another stands in for, would only be in the way; but not if a person said so.
func asked(s rules.StepResult) bool { return s.Verdict != rules.NotApplicable || s.Person != nil }

// uncalled names the optional steps that were not called, "" for none. They are
// told in one line.
func uncalled(a rules.Assessment) string {
	var titles []string
	for _, s := range a.Steps {
		if !asked(s) && s.Waived == rules.NotRequired {
			titles = append(titles, clean(s.Title))
		}
	}
	if len(titles) == 0 {
		return ""
	}
	return "Not called, and not required: " + strings.Join(titles, ", ") + "."
}

// more is what the reason of a step says beside what its row does: that a call was
// heard, when, and with which figure stands there already.
func more(tl *timeline.Timeline, s rules.StepResult) string {
	reason := clean(s.Reason)
	judged := s.Verdict
	if p := s.Person; p != nil && p.How == rules.Overruled {
		judged = p.Was // the reason is the machine's
	}
	if judged != rules.Heard || s.At == nil {
		return reason
	}
	plainly := "Heard at " + rules.Clock(*s.At)
	for _, p := range []string{plainly + ".", plainly + ": " + figure(callOf(tl, s), s) + "."} {
		if rest, ok := strings.CutPrefix(reason, p); ok {
			return strings.TrimSpace(rest)
		}
	}
	return reason
}

// judgedLine says which part of the recording was judged, "" for all of it.
func judgedLine(tl *timeline.Timeline) string {
	if tl.Judged == nil {
		return ""
	}
	return fmt.Sprintf("Only %s to %s was judged.", rules.Clock(tl.Judged.From), rules.Clock(tl.Judged.To))
}

// outcome is the verdicts of a maneuver in figures, or that it was abandoned.
func outcome(a rules.Assessment) string {
	if a.Abandoned != nil {
		return "abandoned at " + rules.Clock(a.Abandoned.At)
	}
	return tallyText(count(a))
}

// spaced makes an id readable.
func spaced(id string) string { return strings.ReplaceAll(clean(id), "-", " ") }

var severityWords = map[rules.Severity]string{
	rules.Safety:    "Safety",
	rules.Important: "Important",
	rules.Note:      "Note",
}

func severityWord(s rules.Severity) string {
	if w, ok := severityWords[s]; ok {
		return w
	}
	return clean(string(s))
}

// number writes a figure without needless digits.
func number(v float64) string {
	return strconv.FormatFloat(math.Round(v*1000)/1000, 'f', -1, 64)
}

// clean makes text from outside safe to show on one line: control characters
// and the marks that reorder text are dropped, blanks run together.
func clean(s string) string {
	return strings.Join(strings.FieldsFunc(strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r):
			return ' '
		case unicode.IsControl(r), r >= 0x202A && r <= 0x202E, r >= 0x2066 && r <= 0x2069, r == unicode.ReplacementChar:
			return -1
		}
		return r
	}, s), func(r rune) bool { return r == ' ' }), " ")
}

// callOf is the call a step rests on, nil when there is none.
func callOf(tl *timeline.Timeline, s rules.StepResult) *callouts.Call {
	if s.Call == nil || *s.Call < 0 || *s.Call >= len(tl.Calls) {
		return nil
	}
	return &tl.Calls[*s.Call]
}

// figure is the value a step was judged by, written as pilots do: 090°, 3,500 ft;
// "" without one.
func figure(c *callouts.Call, s rules.StepResult) string {
	if s.Value == nil {
		return ""
	}
	n := number(*s.Value)
	if c == nil {
		return n
	}
	switch unit := clean(c.Unit); unit {
	case "":
		return n
	case callouts.Heading.Unit(): // of flaps and bank too
		if len(c.Readings) > 0 && c.Readings[0].Quantity == callouts.Heading {
			n = strings.Repeat("0", max(0, 3-len(n))) + n
		}
		return n + "°"
	case callouts.Altitude.Unit(), callouts.RPM.Unit():
		if v := *s.Value; v >= 1000 && v < 1e6 && v == math.Trunc(v) {
			n = n[:len(n)-3] + "," + n[len(n)-3:]
		}
		return n + " " + unit
	default:
		return n + " " + unit
	}
}

// phaseOf is the phase of step i, "" when unknown.
func phaseOf(a rules.Assessment, i int) string {
	if i < len(a.Phases) {
		return clean(a.Phases[i])
	}
	return ""
}

// due is the moment to look for step s: its call, else its finding.
func due(a rules.Assessment, s rules.StepResult) *float64 {
	if s.At != nil {
		return s.At
	}
	for _, f := range a.Findings {
		if f.Step == s.ID && f.At != nil {
			return f.At
		}
	}
	if s.Person != nil {
		return s.Person.At
	}
	return nil
}

// tally counts the verdicts of a maneuver.
type tally struct {
	Verdict rules.Verdict
	Count   int
}

func count(a rules.Assessment) []tally {
	var ts []tally
	for _, v := range verdicts {
		n := 0
		for _, s := range a.Steps {
			if s.Verdict == v {
				n++
			}
		}
		if n > 0 {
			ts = append(ts, tally{v, n})
		}
	}
	return ts
}

func tallyText(ts []tally) string {
	var parts []string
	for _, t := range ts {
		w := word(t.Verdict)
		if t.Verdict == rules.Unsure {
			w = "unsure"
		}
		parts = append(parts, fmt.Sprintf("%d %s", t.Count, w))
	}
	return strings.Join(parts, ", ")
}

// found is a finding with the maneuver it belongs to.
type found struct {
	rules.Finding
	Maneuver int
}

// findingsOf lists the findings of the maneuvers, most serious first, then by
// the moment to listen to.
func findingsOf(as []rules.Assessment) []found {
	var fs []found
	for i, a := range as {
		for _, f := range a.Findings {
			fs = append(fs, found{f, i})
		}
	}
	rank := func(f found) int {
		return slices.Index([]rules.Severity{rules.Note, rules.Important, rules.Safety}, f.Severity)
	}
	at := func(f found) float64 {
		if f.At == nil {
			return math.Inf(1)
		}
		return *f.At
	}
	slices.SortStableFunc(fs, func(a, b found) int {
		return cmp.Or(rank(b)-rank(a), cmp.Compare(at(a), at(b)))
	})
	return fs
}

// recordingLine says what was listened to.
func recordingLine(r timeline.Recording) string {
	parts := []string{rules.Clock(r.Duration) + " long"}
	switch {
	case r.Channels == 1:
		parts = append(parts, "one channel")
	case r.Channels > 1:
		parts = append(parts, fmt.Sprintf("%d channels", r.Channels))
	}
	if r.SampleRate > 0 {
		parts = append(parts, number(float64(r.SampleRate)/1000)+" kHz")
	}
	parts = append(parts, rules.Clock(r.SpeechSeconds)+" of speech")
	if r.Starts != nil {
		parts = append(parts, "began "+strings.Replace(r.Starts.String(), "T", " ", 1))
	}
	return strings.Join(parts, ", ")
}

// words counts the words of the lesson.
func words(tl *timeline.Timeline) int {
	n := 0
	for _, u := range tl.Transcript {
		n += len(u.Words)
	}
	return n
}

// Plural writes a count with its noun: "1 call", "2 calls".
func Plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// emptyAdvice explains a debrief without a maneuver: first what was found, then
// what to try.
func emptyAdvice(tl *timeline.Timeline) (lead string, try []string) {
	if tl.Judged != nil {
		defer func() { try = append([]string{judgedLine(tl) + " Widen --from and --to, or leave them out."}, try...) }()
	}
	switch n := words(tl); {
	case n == 0:
		return "No words were heard in this recording, so there is nothing to debrief.", []string{
			"Listen to a minute of it: is there speech, and is it louder than the engine?",
			"If the intercom was recorded on one side of a stereo track, check that the right file was chosen.",
			"A transcript made elsewhere (WebVTT or SRT) can be given instead of the recording.",
		}
	case len(tl.Calls) == 0:
		return Plural(n, "word was", "words were") + " heard, and no callout among them. This is how it begins:", []string{
			"If the words above are wrong, the recording may be too noisy or too faint: compare them with what you hear.",
			"Calls count only when they are spoken: \"carb heat on\", \"power back\", \"flaps ten\".",
		}
	default:
		return Plural(len(tl.Calls), "callout was", "callouts were") + " heard, but they do not follow any of the procedures closely enough to say which was flown.", []string{
			"Name the procedure with --procedure; \"sidetone procedures list\" lists them.",
			"If the calls above are wrong, the recording may be too noisy or too faint: compare them with what you hear.",
			"If your school calls the steps by other words, the procedure may need them added.",
		}
	}
}

// emptySample is how many calls or utterances an empty debrief lists.
const emptySample = 12

// sampled is one thing heard in a lesson without a maneuver.
type sampled struct {
	At    float64
	What  string // the callout, "" for an utterance
	Heard string
}

func sample(tl *timeline.Timeline) []sampled {
	var out []sampled
	if len(tl.Calls) > 0 {
		for _, c := range tl.Calls[:min(len(tl.Calls), emptySample)] {
			what := spaced(c.ID)
			if c.Stance != callouts.Done && c.Stance != "" {
				what += " (" + spaced(string(c.Stance)) + ")"
			}
			if c.AddedBy != "" {
				what += ", " + saidIn(&c, "", "")
			}
			out = append(out, sampled{c.Start, what, clean(c.Heard)})
		}
		return out
	}
	for _, u := range tl.Transcript[:min(len(tl.Transcript), emptySample)] {
		out = append(out, sampled{u.Start, "", clean(u.Text)})
	}
	return out
}
