package main

import (
	"cmp"
	"slices"

	"sidetone/audio/transcript"
	"sidetone/callouts"
	"sidetone/cmd/internal/lesson"
)

// perfect are the calls of the sheet, as a perfect understanding would give them.
func perfect(made []lesson.SpokenCall, utterances []transcript.Utterance, lexicon *callouts.Lexicon) []callouts.Call {
	quantities := map[string]callouts.Quantity{}
	for _, c := range lexicon.Callouts {
		quantities[c.ID] = c.Quantity
	}
	var out []callouts.Call
	for _, c := range made {
		if c.Perhaps {
			continue
		}
		f := callouts.Call{ID: c.ID, Start: c.Start, End: c.End, Stance: c.Stance, Value: c.Value, Confidence: 1}
		if c.Value != nil {
			f.Readings = []callouts.Reading{{Quantity: quantities[c.ID], Value: *c.Value}}
		}
		for i, u := range utterances {
			if c.Start >= u.Start && c.End <= u.End {
				f.Speaker, f.Utterance = u.Speaker, i
			}
		}
		out = append(out, f)
	}
	slices.SortStableFunc(out, func(a, b callouts.Call) int { return cmp.Compare(a.Start, b.Start) })
	return out
}
