package timeline

import (
	"sidetone/callouts"
	"sidetone/rules"
)

// unasked is the least confidence of a call that no procedure asks for: of those below,
// hardly every other one was made (the tables of earscore).
const unasked = 0.7

// HeardOnly takes out the calls that were only perhaps made, and those no step rests on
// that are not fairly sure. The steps that are unsure for their sake keep the second to
// listen at; the others point to where their calls are now. The steps are changed in place.
func HeardOnly(calls []callouts.Call, as []rules.Assessment) []callouts.Call {
	asked := map[int]bool{}
	for _, a := range as {
		for _, s := range a.Steps {
			if s.Call != nil {
				asked[*s.Call] = true
			}
		}
	}
	out := make([]callouts.Call, 0, len(calls))
	at := make([]int, len(calls))
	for i, c := range calls {
		if at[i] = len(out); c.Perhaps || !asked[i] && c.Confidence < unasked && c.AddedBy == "" {
			at[i] = -1
		} else {
			out = append(out, c)
		}
	}
	for _, a := range as {
		for k := range a.Steps {
			s := &a.Steps[k]
			if s.Call == nil {
				continue
			}
			if now := at[*s.Call]; now >= 0 {
				s.Call = &now
			} else {
				s.Call = nil
			}
		}
	}
	return out
}
