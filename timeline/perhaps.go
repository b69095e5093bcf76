package timeline

import (
	"sidetone/callouts"
	"sidetone/rules"
)

// HeardOnly takes out the calls that were only perhaps made, but for those a
// verdict rests on, and lets the steps point to where their calls are now. The steps
// are changed in place.
func HeardOnly(calls []callouts.Call, as []rules.Assessment) []callouts.Call {
	used := map[int]bool{}
	for _, a := range as {
		for _, s := range a.Steps {
			if s.Call != nil {
				used[*s.Call] = true
			}
		}
	}
	out := make([]callouts.Call, 0, len(calls))
	at := make([]int, len(calls))
	for i, c := range calls {
		if at[i] = len(out); !c.Perhaps || used[i] {
			out = append(out, c)
		}
	}
	for _, a := range as {
		for k := range a.Steps {
			if s := &a.Steps[k]; s.Call != nil {
				now := at[*s.Call]
				s.Call = &now
			}
		}
	}
	return out
}
