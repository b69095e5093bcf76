package timeline

import (
	"sidetone/callouts"
	"sidetone/rules"
)

// HeardOnly takes out the calls that were only perhaps made: they were not heard. The
// steps that are unsure for their sake keep the second to listen at; the others point
// to where their calls are now. The steps are changed in place.
func HeardOnly(calls []callouts.Call, as []rules.Assessment) []callouts.Call {
	out := make([]callouts.Call, 0, len(calls))
	at := make([]int, len(calls))
	for i, c := range calls {
		if at[i] = len(out); c.Perhaps {
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
