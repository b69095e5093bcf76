package callouts

import (
	"fmt"
	"slices"
	"testing"
)

func TestAFigureAloneIsAHintAtEveryCallItMayBe(t *testing.T) {
	_, f := builtinFinder(t)
	for _, c := range []struct {
		said string
		hint string // a callout and its value
		p    float64
	}{
		{"Seventy-five.", "climb-speed 75", figureAlone},
		{"Seventy-five.", "airspeed 75", figureAlone},
		{"And that's forty-six.", "airspeed 46", figureAlone},
		{"One eight zero now.", "heading 180", figureAlone},
		{"Fifteen hundred.", "power-back 1500", figureAlone},
		{"She's settled on sixty-five.", "airspeed 65", figureAmong},
		{"Fifteen hundred above the wheat.", "power-back 1500", figureAmong},
		{"Twenty-three hundred feet.", "power-back 2300", 0}, // feet are no revolutions
		{"We have twenty miles to go.", "flaps 20", 0},
		{"Lining up on runway two one zero.", "heading 210", 0},
		{"Within fifty feet.", "altitude 50", 0},
		{"Flaps twenty.", "bank 20", 0}, // that figure is the flaps'
	} {
		t.Run(c.said+" "+c.hint, func(t *testing.T) {
			_, hints := f.Hear(line(c.said))
			i := slices.IndexFunc(hints, func(h Call) bool {
				return h.Value != nil && fmt.Sprint(h.ID, " ", *h.Value) == c.hint && (h.Confidence == figureAlone || h.Confidence == figureAmong)
			})
			switch {
			case c.p == 0 && i >= 0:
				t.Errorf("hinted at: %+v", hints[i])
			case c.p > 0 && i < 0:
				t.Errorf("no hint among %+v", hints)
			case c.p > 0 && (hints[i].Confidence != c.p || !hints[i].Perhaps || hints[i].Stance != Done):
				t.Errorf("hint %+v, want %g", hints[i], c.p)
			}
		})
	}
}
