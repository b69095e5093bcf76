package report

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"sidetone/rules"
	"sidetone/timeline"
)

// strip is a stretch of the recording drawn from left to right: the sound, and
// under it lanes of marks.
type strip struct {
	From, To string // seconds, for the script
	Label    string
	Wave     string // path in a box of waveWidth x waveHeight
	Measured bool   // Wave is sound, not just where words are
	Lanes    []lane
	Ticks    []tick
}

type lane struct {
	Name  string
	Bands []band
	Marks []mark
}

// band is a stretch of a lane; X, Width in percent of the strip.
type band struct {
	X, Width string
	Text     string
}

// mark is a moment on a lane; X in percent of the strip.
type mark struct {
	X, At string
	Shape string
	Hint  string
}

type tick struct{ X, Clock string }

const (
	waveWidth  = 1000
	waveHeight = 100
)

// scale maps seconds to percent of a strip.
type scale struct{ from, to float64 }

func (s scale) percent(t float64) float64 {
	if s.to <= s.from {
		return 0
	}
	return 100 * min(max((t-s.from)/(s.to-s.from), 0), 1)
}

func (s scale) x(t float64) string { return short(s.percent(t)) }

func short(v float64) string { return strconv.FormatFloat(v, 'f', 2, 64) }

// length is how long the recording is, at least as long as what is in it.
func length(tl *timeline.Timeline) float64 {
	end := tl.Recording.Duration
	for _, u := range tl.Transcript {
		end = max(end, u.End)
	}
	for _, a := range tl.Maneuvers {
		end = max(end, a.End)
	}
	return end
}

func newStrip(tl *timeline.Timeline, s scale, peaks [][2]float32, label string) strip {
	out := strip{From: short(s.from), To: short(s.to), Label: label, Measured: len(peaks) > 0}
	if out.Measured {
		out.Wave = wavePath(peaks, s, length(tl))
	} else {
		out.Wave = speechPath(tl, s)
	}
	step := tickStep(s.to - s.from)
	for t := math.Ceil(s.from/step) * step; t <= s.to; t += step {
		if x := s.percent(t); x < 97 { // the last would hang over the edge
			out.Ticks = append(out.Ticks, tick{short(x), rules.Clock(t)})
		}
	}
	return out
}

// overview is the whole recording with the maneuvers and findings on it.
func overview(tl *timeline.Timeline, peaks [][2]float32) strip {
	s := scale{0, length(tl)}
	out := newStrip(tl, s, peaks, "The whole recording")
	if len(tl.Maneuvers) == 0 {
		return out
	}
	var where, what lane
	where.Name, what.Name = "Maneuvers", "Findings"
	for i, a := range tl.Maneuvers {
		where.Bands = append(where.Bands, band{s.x(a.Start), short(s.percent(a.End) - s.percent(a.Start)), strconv.Itoa(i + 1)})
		for _, f := range a.Findings {
			if f.At != nil {
				what.Marks = append(what.Marks, newMark(s, *f.At, rules.Verdict(f.Kind), clean(f.Message)))
			}
		}
	}
	out.Lanes = []lane{where, what}
	return out
}

// maneuverStrip is one maneuver with a lane for each of its phases.
func maneuverStrip(tl *timeline.Timeline, a rules.Assessment, peaks [][2]float32) strip {
	const before, after = 4, 6 // s of what surrounds it
	s := scale{a.Start, a.End}
	for _, st := range a.Steps {
		if t := due(a, st); t != nil {
			s.from, s.to = min(s.from, *t), max(s.to, *t)
		}
	}
	s = scale{max(0, s.from-before), min(length(tl), s.to+after)}
	out := newStrip(tl, s, peaks, clean(a.Title))
	var names []string
	ends := map[string]*scale{}
	for i, st := range a.Steps {
		if !asked(st) {
			continue
		}
		name := phaseOf(a, i)
		k := slices.Index(names, name)
		if k < 0 {
			k = len(names)
			names = append(names, name)
			out.Lanes = append(out.Lanes, lane{Name: name})
		}
		t := due(a, st)
		if t == nil {
			continue
		}
		out.Lanes[k].Marks = append(out.Lanes[k].Marks, newMark(s, *t, st.Verdict, clean(st.Title)+", "+word(st.Verdict)))
		if e := ends[name]; e == nil {
			ends[name] = &scale{*t, *t}
		} else {
			e.from, e.to = min(e.from, *t), max(e.to, *t)
		}
	}
	for k := range out.Lanes {
		if e := ends[out.Lanes[k].Name]; e != nil {
			out.Lanes[k].Bands = []band{{s.x(e.from), short(s.percent(e.to) - s.percent(e.from)), ""}}
		}
	}
	return out
}

func newMark(s scale, t float64, v rules.Verdict, hint string) mark {
	return mark{X: s.x(t), At: short(max(t, 0)), Shape: newBadge(v).Shape, Hint: rules.Clock(t) + "  " + hint}
}

// tickStep is a round number of seconds that gives about eight ticks.
func tickStep(span float64) float64 {
	for _, step := range []float64{1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800} {
		if span/step <= 9 {
			return step
		}
	}
	return max(3600, math.Ceil(span/9/3600)*3600)
}

// wavePath outlines the sound between s.from and s.to: along the highest samples
// and back along the lowest, in the finest steps the peaks or the box allow.
func wavePath(peaks [][2]float32, s scale, whole float64) string {
	if whole <= 0 || s.to <= s.from {
		return ""
	}
	n := float64(len(peaks))
	lo, hi := s.from/whole*n, s.to/whole*n
	columns := int(min(waveWidth, math.Ceil(hi-lo)))
	loud := loudest(peaks)
	y := func(v float32) int { // the middle is silence
		if v != v {
			v = 0
		}
		return int(math.Round(waveHeight/2 - float64(min(max(v/loud, -1), 1))*waveHeight/2))
	}
	top := make([]int, columns)
	bottom := make([]int, columns)
	for c := range columns {
		from := int(lo + (hi-lo)*float64(c)/float64(columns))
		to := max(from+1, int(lo+(hi-lo)*float64(c+1)/float64(columns)))
		var low, high float32
		for _, p := range peaks[min(from, len(peaks)-1):min(to, len(peaks))] {
			low, high = min(low, p[0]), max(high, p[1])
		}
		top[c], bottom[c] = y(high), y(low)
		if top[c] == bottom[c] {
			bottom[c]++ // silence is a thin line
		}
	}
	var b strings.Builder
	x := func(c int) int { return c * waveWidth / columns }
	fmt.Fprintf(&b, "M0 %d", top[0])
	for c := range columns {
		fmt.Fprintf(&b, "V%dH%d", top[c], x(c+1))
	}
	for c := columns - 1; c >= 0; c-- {
		fmt.Fprintf(&b, "V%dH%d", bottom[c], x(c))
	}
	b.WriteByte('Z')
	return b.String()
}

// loudest is the level drawn at full height: not the very loudest bucket, which
// may be a knock on the microphone.
func loudest(peaks [][2]float32) float32 {
	levels := make([]float32, len(peaks))
	for i, p := range peaks {
		levels[i] = max(p[1], -p[0])
	}
	slices.Sort(levels)
	level := levels[len(levels)*99/100]
	if !(level > 1e-4) {
		return 1
	}
	return level
}

// speechPath draws a block wherever something was said.
func speechPath(tl *timeline.Timeline, s scale) string {
	var b strings.Builder
	for _, u := range tl.Transcript {
		if u.End < s.from || u.Start > s.to {
			continue
		}
		from, to := s.percent(u.Start)*waveWidth/100, s.percent(u.End)*waveWidth/100
		fmt.Fprintf(&b, "M%.1f %dV%dH%.1fV%dZ", from, waveHeight/4, waveHeight*3/4, max(to, from+0.5), waveHeight/4)
	}
	return b.String()
}
