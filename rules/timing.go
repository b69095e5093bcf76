package rules

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"sidetone/callouts"
)

// CueReach is how long after a cue a call can be the reaction to it, in seconds.
const CueReach = 60

// cue is a callout heard as a cue, in whatever stance but in talk about it or a
// denial. What is said again within repeatWithin is the same cue.
type cue struct {
	at  float64
	end float64 // when it was last said again
}

// listenForCues finds the cues of the stretch.
func (j *judging) listenForCues() {
	j.cues = map[string][]cue{}
	wanted := map[string]bool{}
	for _, p := range j.Procedure.Phases {
		wanted[p.Cue] = true
	}
	for i := range j.steps {
		if w := j.steps[i].Within; w != nil {
			wanted[w.Cue] = true
		}
	}
	for _, b := range j.bounds() {
		wanted[b.Cue] = true
	}
	delete(wanted, "")
	if len(wanted) == 0 {
		return
	}
	for _, c := range j.all[j.lo:j.hi] {
		if wanted[c.ID] && c.Confidence >= fairlyHeard && c.Stance != callouts.TalkedAbout && c.Stance != callouts.Denied {
			j.cues[c.ID] = append(j.cues[c.ID], cue{c.Start, c.Start})
		}
	}
	for id, list := range j.cues {
		slices.SortFunc(list, func(a, b cue) int { return cmp.Compare(a.at, b.at) })
		runs := list[:1]
		for _, c := range list[1:] {
			if last := &runs[len(runs)-1]; c.at-last.end <= repeatWithin+clockSlack {
				last.end = c.end
			} else {
				runs = append(runs, c)
			}
		}
		j.cues[id] = runs
	}
}

// bounds are those of all stretches that are watched.
func (pl *Plan) bounds() []Bound {
	var out []Bound
	for _, h := range pl.holds {
		out = append(out, h.From, h.Until)
	}
	for _, n := range pl.nevers {
		out = append(out, n.From, n.Until)
	}
	return out
}

// Cues tells whether steps are due within a time from a callout.
func (pl *Plan) Cues(callout string) bool {
	return slices.ContainsFunc(pl.steps, func(s planStep) bool { return s.Within != nil && s.Within.Cue == callout })
}

// cueBefore is the last cue not after a second.
func (j *judging) cueBefore(id string, second float64) (cue, bool) {
	list := j.cues[id]
	for i := len(list) - 1; i >= 0; i-- {
		if list[i].at <= second+clockSlack {
			return list[i], second-list[i].end <= CueReach
		}
	}
	return cue{}, false
}

// afterCue gives the cue a step's call is the reaction to, and whether it came
// later than due.
func (j *judging) afterCue(st *planStep, c *callouts.Call) (at float64, late bool) {
	if st.Within == nil || st.Within.Cue == "" {
		return 0, false
	}
	cue, ok := j.cueBefore(st.Within.Cue, c.Start)
	return cue.at, ok && c.Start-cue.at > st.Within.Seconds+clockSlack
}

// timed says what is wrong with the time of a step's call. fault is "" when
// nothing is.
type timed struct {
	fault Verdict
	from  float64
	what  string // what it counts from
	due   string
}

// timing tells whether a step came later than it was due, or sooner. One that was moved
// can only be late, and only if nothing before which it is due came after it.
func (j *judging) timing(s int) timed {
	if j.choices[s].kind != moved {
		return j.timed(s, j.choices)
	}
	for o, ch := range j.choices {
		if ch.kind == inPlace && j.before[o][s] && ch.call > j.choices[s].call {
			return timed{}
		}
	}
	choices := slices.Clone(j.choices)
	choices[s].kind = inPlace
	if t := j.timed(s, choices); t.fault == Late {
		return t
	}
	return timed{}
}

// timed is what is wrong with the time of a step in place.
func (j *judging) timed(s int, choices []choice) timed {
	st := &j.steps[s]
	if choices[s].kind == inPlace && !st.Optional {
		if at, late := j.afterCue(st, j.callOf(choices[s])); late {
			return timed{Late, at, fmt.Sprintf("the cue %q", spoken(st.Within.Cue)), dueWithin(st.Within.Seconds)}
		}
	}
	for _, d := range j.problem.delays {
		if d.step != s || !j.problem.mistimed(choices, d) {
			continue
		}
		t := timed{Late, j.call(d.of).Start, inSentence(j.steps[d.of].Title), dueWithin(d.seconds)}
		if d.sooner {
			t.fault, t.due = OutOfOrder, "it is due no sooner than "+amount(d.seconds)+" after"
		}
		return t
	}
	return timed{}
}

func dueWithin(s float64) string { return "it is due within " + amount(s) }

func amount(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// spoken is an id as it may be said.
func spoken(id string) string { return strings.ReplaceAll(id, "-", " ") }

// Reaction is how long a phase took from its cue to its last step.
type Reaction struct {
	Phase    string
	Cue      string
	From, To float64 // seconds of the recording
	Last     string  // the id of the last step
}

// react measures the phases that are flown on a cue, and notes it with their
// last steps.
func (j *judging) react(a *Assessment) {
	for i, ph := range j.Procedure.Phases {
		if ph.Cue == "" {
			continue
		}
		begin, end, last, before := math.Inf(1), math.Inf(-1), -1, math.Inf(-1)
		for s := range j.steps {
			st := &j.steps[s]
			c := j.call(s)
			if c == nil || st.Optional || st.Anytime || j.choices[s].kind != inPlace {
				continue
			}
			if st.phase < i {
				before = max(before, c.Start)
			}
			if st.phase == i {
				begin = min(begin, c.Start)
				if c.Start > end {
					end, last = c.Start, s
				}
			}
		}
		from, ok := j.cueBefore(ph.Cue, begin)
		if last < 0 || !ok || from.at < before {
			continue
		}
		st := &j.steps[last]
		a.Reactions = append(a.Reactions, Reaction{ph.Title, ph.Cue, from.at, end, st.ID})
		for k := range a.Steps {
			if r := &a.Steps[k]; r.ID == st.ID {
				r.Reason = sentences(r.Reason, fmt.Sprintf("%s took %.0f seconds from the cue %q at %s.", ph.Title, end-from.at, spoken(ph.Cue), Clock(from.at)))
			}
		}
	}
}
