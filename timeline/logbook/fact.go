package logbook

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/google/uuid"

	"sidetone/rules"
	"sidetone/timeline"
)

// Kind says what a fact is about.
type Kind string

// The kinds of facts.
const (
	KindVerdict Kind = "verdict" // what a person says of a verdict
	KindCall    Kind = "call"    // a call the tool did not hear
	KindWord    Kind = "word"    // a word put right
	KindNote    Kind = "note"    // a note at a time or on a step
	KindWorkOn  Kind = "work-on" // something to work on next
	KindCover   Kind = "cover"   // the lesson's cover put right
	KindUndo    Kind = "undo"    // an earlier fact no longer counts
)

// Hand is what a person does with a verdict.
type Hand string

// The hands.
const (
	Accept      Hand = "accept"
	Overrule    Hand = "overrule"
	ListenAgain Hand = "listen-again"
)

// Maneuver names a maneuver of a lesson so that it is found again after the lesson
// was judged anew, when its place in the list, and its start, may be others: by its
// procedure and by when it began. See Find.
type Maneuver struct {
	Procedure string  `json:"procedure"`
	Start     float64 `json:"start"` // seconds
}

// Nearest is how far apart the starts of a maneuver before and after may be, in seconds.
const Nearest = 60.0

// Find gives the index of the maneuver in tl.Maneuvers: of those of the procedure the
// one that begins nearest to Start, at most Nearest away; -1 when there is none.
func (m Maneuver) Find(tl *timeline.Timeline) int {
	best, least := -1, math.Inf(1)
	for i, a := range tl.Maneuvers {
		if d := math.Abs(a.Start - m.Start); a.Procedure == m.Procedure && d <= Nearest && d < least {
			best, least = i, d
		}
	}
	return best
}

// Fact is one thing a person said about a lesson. Facts are appended and never
// changed. Which fields count depends on Kind:
//
//	verdict: Maneuver, Step, Hand; overrule also Verdict and Reason
//	call:    Callout, At, perhaps Value with Unit, Speaker
//	word:    Word, Text (several words are allowed; "" takes the word out)
//	note:    Text, and At, or Maneuver with or without Step
//	work-on: Text, perhaps Maneuver and Step; or Of and Done for an earlier one
//	cover:   Cover
//	undo:    Undo
type Fact struct {
	// Key is a UUID made by whoever sends the fact: sent twice it is kept once.
	Key    string `json:"key"`
	Kind   Kind   `json:"kind"`
	Author string `json:"author"`

	Maneuver *Maneuver     `json:"maneuver,omitempty"`
	Step     string        `json:"step,omitempty"`
	Hand     Hand          `json:"hand,omitempty"`
	Verdict  rules.Verdict `json:"verdict,omitempty"`
	Reason   string        `json:"reason,omitempty"`

	Callout string   `json:"callout,omitempty"`
	Value   *float64 `json:"value,omitempty"`
	Unit    string   `json:"unit,omitempty"` // that of the callout's figure; checked, not converted
	At      *float64 `json:"at,omitempty"`   // seconds of the recording
	Speaker string   `json:"speaker,omitempty"`

	Word *int   `json:"word,omitempty"` // index among all words the machine heard, from 0
	Text string `json:"text,omitempty"`

	Cover *Cover `json:"cover,omitempty"`

	Of   int  `json:"of,omitempty"` // number of a work-on fact
	Done bool `json:"done,omitempty"`
	Undo int  `json:"undo,omitempty"` // number of the fact undone; an undo may be undone
	// OwnLast asks that Undo be the last of Author's changes that stand, see LastOwn. It
	// is checked where the fact is appended, and not kept.
	OwnLast bool `json:"-"`

	// Number and Written are given by the logbook: 1 for the first fact of a lesson.
	Number  int       `json:"fact,omitempty"`
	Written time.Time `json:"written,omitzero"`
}

// ErrFact is wrapped by what is wrong with a fact itself.
var ErrFact = errors.New("this cannot be kept")

func wrong(format string, a ...any) error {
	return fmt.Errorf("%w: %s", ErrFact, fmt.Sprintf(format, a...))
}

// Bounds of what a person writes, in bytes.
const (
	maxText = 8000
	maxName = 200
)

var overruledTo = []rules.Verdict{rules.Heard, rules.NotHeard, rules.OutOfOrder, rules.Late, rules.OffValue, rules.Unsure, rules.NotApplicable}

// check tells what is wrong with a fact by itself; whether what it names exists is
// checked where it is appended.
func (f *Fact) check() error {
	if _, err := uuid.Parse(f.Key); err != nil || len(f.Key) != 36 {
		return wrong("its key is not a UUID")
	}
	f.Author = strings.TrimSpace(f.Author)
	f.Text = strings.TrimSpace(f.Text)
	f.Reason = strings.TrimSpace(f.Reason)
	switch {
	case f.Author == "":
		return wrong("say who you are first")
	case len(f.Author) > maxName || len(f.Speaker) > maxName || len(f.Step) > maxName || len(f.Callout) > maxName || len(f.Unit) > maxName:
		return wrong("a name is longer than %d letters", maxName)
	case len(f.Text) > maxText || len(f.Reason) > maxText:
		return wrong("the text is longer than %d letters; write it in two notes", maxText)
	case !utf8.ValidString(f.Text + f.Reason + f.Author + f.Speaker):
		return wrong("the text is not UTF-8")
	case f.Maneuver != nil && (f.Maneuver.Procedure == "" || len(f.Maneuver.Procedure) > maxName || !finite(f.Maneuver.Start)):
		return wrong("the maneuver is not named: give its procedure and its start")
	case f.At != nil && (!finite(*f.At) || *f.At < 0):
		return wrong("the time is before the start of the recording")
	case f.Value != nil && !finite(*f.Value):
		return wrong("the figure is none")
	}
	switch f.Kind {
	case KindVerdict:
		if f.Maneuver == nil || f.Step == "" {
			return wrong("name the maneuver and the step of the verdict")
		}
		switch f.Hand {
		case Accept, ListenAgain:
			if f.Verdict != "" {
				return wrong("only an overruled verdict gets another one")
			}
		case Overrule:
			if !slices.Contains(overruledTo, f.Verdict) {
				return wrong("say which verdict is the right one")
			}
			if f.Reason == "" {
				return wrong("say in a few words why you overrule the verdict")
			}
		default:
			return wrong("a verdict is accepted, overruled or marked to listen again, not %q", f.Hand)
		}
	case KindCall:
		if f.Callout == "" || f.At == nil {
			return wrong("choose the call and the moment it was made")
		}
	case KindWord:
		if f.Word == nil || *f.Word < 0 {
			return wrong("choose the word that is put right")
		}
	case KindNote:
		if f.Text == "" {
			return wrong("the note is empty; write something first")
		}
		if f.At == nil && f.Maneuver == nil {
			return wrong("say where the note belongs: a time, or a maneuver")
		}
	case KindWorkOn:
		if f.Of == 0 && f.Text == "" {
			return wrong("write what is to be worked on")
		}
		if f.Of < 0 {
			return wrong("there is no fact %d", f.Of)
		}
	case KindCover:
		if f.Cover == nil {
			return wrong("say what on the cover is put right")
		}
		return f.Cover.check()
	case KindUndo:
		if f.Undo <= 0 {
			return wrong("say which fact is undone")
		}
	default:
		return wrong("%q is no kind of fact", f.Kind)
	}
	return nil
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
