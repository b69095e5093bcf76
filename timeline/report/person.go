package report

import (
	"sidetone/callouts"
	"sidetone/rules"
)

// personLine says who decided a verdict, why, and what the machine had said; "" where
// the verdict is the machine's.
func personLine(s rules.StepResult) string {
	p := s.Person
	if p == nil {
		return ""
	}
	was := "was: " + word(p.Was)
	if p.Was == "" {
		was = "the machine did not find this maneuver"
	}
	if p.How == rules.Added {
		return was + ", call added by " + clean(p.Author)
	}
	line := was + ", overruled by " + clean(p.Author)
	if reason := clean(p.Reason); reason != "" {
		line += ": “" + reason + "”"
	}
	return line
}

// saidIn is the words of a call between quotation marks, or who added it: then there
// are none.
func saidIn(c *callouts.Call, open, shut string) string {
	if c.AddedBy != "" {
		return "added by " + clean(c.AddedBy)
	}
	return open + clean(c.Heard) + shut
}
