package timeline

import (
	"fmt"
	"slices"

	"sidetone/callouts"
	"sidetone/rules"
)

// TooPoor is why nobody is accused on a recording that is too poor.
const TooPoor = "the recording is too poor to judge by"

// Doubt takes back what is said against anybody where the recording does not bear
// it out: what was not heard, or heard wrong, is unsure, and why is said.
func Doubt(as []rules.Assessment, why string) {
	for i := range as {
		doubtSome(&as[i], why, func(string, rules.Verdict) bool { return true })
	}
}

// doubtSome is Doubt for the steps and findings that which names.
func doubtSome(a *rules.Assessment, why string, which func(step string, v rules.Verdict) bool) {
	for j := range a.Steps {
		s := &a.Steps[j]
		if accuses(s.Verdict) && which(s.ID, s.Verdict) {
			s.Reason = fmt.Sprintf("Unsure: %s. Made out was: %s", why, s.Reason)
			s.Verdict = rules.Unsure
		}
	}
	for j := range a.Findings {
		f := &a.Findings[j]
		if v := rules.Verdict(f.Kind); accuses(v) && which(f.Step, v) {
			f.Kind, f.Severity = string(rules.Unsure), rules.Note
			f.Message = fmt.Sprintf("Unsure, listen here: %s. Made out was: %s", why, f.Message)
		}
	}
}

func accuses(v rules.Verdict) bool {
	switch v {
	case rules.NotHeard, rules.OutOfOrder, rules.Late, rules.OffValue:
		return true
	}
	return false
}

// edge is how near to the end of a recording the last call must be for the calls
// after it to be lost with it, in seconds; likewise at its start. Our own choice.
const edge = 10.0

// doubt judges each maneuver by what was recorded of it.
func (r Recording) doubt(as []rules.Assessment) {
	if r.Poor != "" {
		Doubt(as, TooPoor)
		return
	}
	for i := range as {
		a := &as[i]
		for _, p := range r.Parts {
			if p.Gap > 0 && p.Start > a.Start && p.Start < a.End {
				Doubt(as[i:i+1], fmt.Sprintf("%.0f s before %s were not recorded", p.Gap, p.File))
				break
			}
		}
		r.doubtEdges(a)
	}
}

// doubtEdges is for what was called, perhaps, before the recorder ran or after it
// stopped: the steps missing before the first heard and after the last.
func (r Recording) doubtEdges(a *rules.Assessment) {
	first, last := -1, -1 // steps heard at the edges of the maneuver
	for i, s := range a.Steps {
		if s.At == nil {
			continue
		}
		if first < 0 || *s.At < *a.Steps[first].At {
			first = i
		}
		if last < 0 || *s.At > *a.Steps[last].At {
			last = i
		}
	}
	if first < 0 || r.SampleRate == 0 { // nothing heard, or a file of words, which ends with the last of them
		return
	}
	lose := func(steps []rules.StepResult, why string) {
		lost := map[string]bool{}
		for _, s := range steps {
			lost[s.ID] = s.Verdict == rules.NotHeard
		}
		doubtSome(a, why, func(step string, v rules.Verdict) bool { return v == rules.NotHeard && lost[step] })
	}
	if *a.Steps[first].At < edge {
		lose(a.Steps[:first], "the recording begins about here")
	}
	if r.Duration-*a.Steps[last].At < edge {
		lose(a.Steps[last+1:], "the recording ends about here")
	}
}

// ByLines is why nothing is held against anybody for having been late when only the
// times of whole lines are known.
const ByLines = "only the times of whole lines are known, and how late it was rests on them"

// doubtTimes takes back what rests on estimated times: that a call was late. The
// order of the words of a file is known whatever their times.
func doubtTimes(as []rules.Assessment, calls []callouts.Call) {
	for i := range as {
		if slices.ContainsFunc(as[i].Steps, func(s rules.StepResult) bool {
			return s.Call != nil && *s.Call >= 0 && *s.Call < len(calls) && calls[*s.Call].Estimated
		}) {
			doubtSome(&as[i], ByLines, func(_ string, v rules.Verdict) bool { return v == rules.Late })
		}
	}
}
