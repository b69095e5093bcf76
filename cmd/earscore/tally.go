package main

import (
	"math"
	"slices"

	"sidetone/callouts"
	"sidetone/cmd/internal/lesson"
	"sidetone/rules"
)

// tally is what is counted; tallies add up.
type tally struct {
	Words      int `json:"words"`       // said
	WordErrors int `json:"word_errors"` // of them and of words nobody said

	Made  int `json:"calls_made"`  // done or ordered, by the sheet
	Found int `json:"calls_found"` // done or ordered, by the program
	Right int `json:"calls_right"` // callout, value, stance and time agree

	Stances      int `json:"stances"` // of calls found for one on the sheet, of any stance
	StancesRight int `json:"stances_right"`

	TimeErrors []float64 `json:"time_errors"` // seconds, of where right calls begin

	Steps     int `json:"steps"` // on the sheet, or said of a maneuver nobody flew
	StepsMade int `json:"steps_made"`
	StepRight int `json:"steps_right"`
	Accused   int `json:"falsely_accused"`
	Unsure    int `json:"unsure"`

	Prompted      int `json:"prompted"`       // steps answered to an order, by the sheet
	SaidPrompted  int `json:"said_prompted"`  // by the program
	RightPrompted int `json:"prompted_right"` // by both

	SpokenWords int `json:"words_spoken"` // heard, that somebody in the airplane says by the sheet
	NamedWords  int `json:"words_named"`  // of them, given a speaker
	NamedRight  int `json:"words_named_right"`
	RadioWords  int `json:"radio_words"` // heard, that are on the radio by the sheet
	RadioNamed  int `json:"radio_words_named"`

	Flown    int `json:"maneuvers_flown"`
	Spotted  int `json:"maneuvers_found"`    // of them
	Invented int `json:"maneuvers_invented"` // found where none was flown

	Bins [len(binEdges)]bin `json:"confidence"`

	Audio float64 `json:"audio_seconds"`
	Took  float64 `json:"took_seconds"`
}

// binEdges are where the bins of confidence begin.
var binEdges = [...]float64{0, 0.3, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95}

// bin is the calls found with a confidence about the same. Right are those made
// with that value at that time, in whatever stance.
type bin struct {
	Calls int     `json:"calls"`
	Right int     `json:"right"`
	Sum   float64 `json:"sum"` // of the confidences
}

func binOf(confidence float64) int {
	i, _ := slices.BinarySearch(binEdges[:], confidence)
	if i < len(binEdges) && binEdges[i] == confidence {
		return i
	}
	return max(0, i-1)
}

func (t *tally) add(o *tally) {
	t.Words += o.Words
	t.WordErrors += o.WordErrors
	t.Made += o.Made
	t.Found += o.Found
	t.Right += o.Right
	t.Stances += o.Stances
	t.StancesRight += o.StancesRight
	t.TimeErrors = append(t.TimeErrors, o.TimeErrors...)
	t.Steps += o.Steps
	t.StepsMade += o.StepsMade
	t.StepRight += o.StepRight
	t.Accused += o.Accused
	t.Unsure += o.Unsure
	t.Prompted += o.Prompted
	t.SaidPrompted += o.SaidPrompted
	t.RightPrompted += o.RightPrompted
	t.SpokenWords += o.SpokenWords
	t.NamedWords += o.NamedWords
	t.NamedRight += o.NamedRight
	t.RadioWords += o.RadioWords
	t.RadioNamed += o.RadioNamed
	t.Flown += o.Flown
	t.Spotted += o.Spotted
	t.Invented += o.Invented
	for i := range t.Bins {
		t.Bins[i].Calls += o.Bins[i].Calls
		t.Bins[i].Right += o.Bins[i].Right
		t.Bins[i].Sum += o.Bins[i].Sum
	}
	t.Audio += o.Audio
	t.Took += o.Took
}

// quantile is the value that a part q of the values do not pass, by the nearest
// rank; NaN when there are none.
func quantile(values []float64, q float64) float64 {
	if len(values) == 0 {
		return math.NaN()
	}
	v := slices.Sorted(slices.Values(values))
	return v[max(0, int(math.Ceil(q*float64(len(v))))-1)]
}

func share(part, whole int) float64 {
	if whole == 0 {
		return math.NaN()
	}
	return float64(part) / float64(whole)
}

// scored is one lesson at one signal-to-noise ratio, counted.
type scored struct {
	*made
	byVoice  map[string]*tally // "" for what belongs to no voice
	passages []passage
	pairs    []pairing
	steps    []stepScore
}

func (s *scored) of(voice string) *tally {
	if s.byVoice[voice] == nil {
		s.byVoice[voice] = &tally{}
	}
	return s.byVoice[voice]
}

// score counts what was heard in a lesson against its sheet.
func score(m *made) *scored {
	s := &scored{made: m, byVoice: map[string]*tally{}}
	s.countWords()
	s.countCalls()
	s.countSteps()
	s.countWho()
	all := s.of("")
	all.Audio, all.Took = m.truth.Duration, m.took
	return s
}

func (s *scored) countWords() {
	var voices [][]string
	s.passages, voices = s.made.passages()
	for i, p := range s.passages {
		last := "" // an extra word is put down to the voice it was heard after
		if len(voices[i]) > 0 {
			last = voices[i][0]
		}
		for _, e := range align(p.ref, p.hyp) {
			if e.ref >= 0 {
				last = voices[i][e.ref]
				s.of(last).Words++
			}
			if e.wrong {
				s.of(last).WordErrors++
			}
		}
	}
}

func (s *scored) countCalls() {
	s.pairs = pair(s.truth.Calls, s.calls)
	for _, c := range s.truth.Calls {
		if counts(c.Stance) && !c.Perhaps {
			s.of(c.Voice).Made++
		}
	}
	right, neither := map[int]bool{}, map[int]bool{}
	for _, p := range s.pairs {
		c, f := s.truth.Calls[p.made], s.calls[p.found]
		if c.Perhaps {
			neither[p.found] = true
			continue
		}
		t := s.of(c.Voice)
		t.Stances++
		if p.stance {
			t.StancesRight++
		}
		if counts(c.Stance) {
			if p.right() {
				t.Right++
				t.TimeErrors = append(t.TimeErrors, math.Abs(f.Start-c.Start))
			}
		}
		right[p.found] = p.value
	}
	for i, f := range s.calls {
		if f.Perhaps {
			continue // not reported as heard
		}
		t := s.of(s.voiceAt(f))
		if _, paired := right[i]; neither[i] || !paired && s.again(f) {
			continue
		}
		if counts(f.Stance) {
			t.Found++
		}
		b := &t.Bins[binOf(f.Confidence)]
		b.Calls++
		b.Sum += f.Confidence
		if right[i] {
			b.Right++
		}
	}
}

// again tells whether a call found only says once more what is one call on the
// sheet ("trim, trim set").
func (s *scored) again(f callouts.Call) bool {
	return slices.ContainsFunc(s.truth.Calls, func(c lesson.SpokenCall) bool {
		return c.Is(f.ID) && sameValue(c.Value, f.Value) && c.Stance == f.Stance && f.Start < c.End && f.End > c.Start
	})
}

// voiceAt is the voice that speaks most of the time of a call found: of the one
// on the sheet it was found for, if there is one.
func (s *scored) voiceAt(f callouts.Call) string {
	for _, p := range s.pairs {
		if s.calls[p.found].Start == f.Start && s.calls[p.found].ID == f.ID && s.calls[p.found].End == f.End {
			return s.truth.Calls[p.made].Voice
		}
	}
	voice, most := "", math.Inf(-1)
	for _, l := range s.truth.Lines {
		if o := min(l.End, f.End) - max(l.Start, f.Start); o > most {
			voice, most = l.Voice, o
		}
	}
	return voice
}

func (s *scored) countSteps() {
	var partner map[int]int
	s.steps, partner = judged(s.truth.Maneuvers, s.found)
	for i, f := range s.truth.Maneuvers {
		t := s.of(f.Voice)
		t.Flown++
		if _, ok := partner[i]; ok {
			t.Spotted++
		}
	}
	s.of("").Invented += len(s.found) - len(partner)
	s.countPrompted(partner)
	for _, st := range s.steps {
		t := s.of(st.voice)
		t.Steps++
		if st.made() {
			t.StepsMade++
		}
		if st.right() {
			t.StepRight++
		}
		if st.falselyAccused() {
			t.Accused++
		}
		if st.Said == rules.Unsure {
			t.Unsure++
		}
	}
}

// countPrompted counts the steps that answer an order: those of maneuvers flown and
// found whose call is on the sheet.
func (s *scored) countPrompted(partner map[int]int) {
	made := map[int]int{}
	for _, p := range s.pairs {
		made[p.found] = p.made
	}
	for i, f := range s.truth.Maneuvers {
		j, ok := partner[i]
		if !ok {
			continue
		}
		t := s.of(f.Voice)
		for _, st := range s.found[j].Steps {
			if st.Call == nil {
				continue
			}
			k, ok := made[*st.Call]
			if !ok {
				continue
			}
			if s.truth.Calls[k].Prompted {
				t.Prompted++
			}
			if st.Prompted {
				t.SaidPrompted++
			}
			if st.Prompted && s.truth.Calls[k].Prompted {
				t.RightPrompted++
			}
		}
	}
}

// hard tells whether a voice is of the engine that is hard to understand.
func hard(voice string) bool {
	v, err := lesson.ParseVoice(voice)
	return err == nil && v.Engine == "espeak-ng"
}
