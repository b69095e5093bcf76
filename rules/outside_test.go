package rules

import (
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"sidetone/callouts"
)

// The alignment, written down once more as an integer program and given to an
// outside solver: GLPK's glpsol, of the Debian package glpk-utils.

func glpsol(t *testing.T) string {
	t.Helper()
	path, err := exec.LookPath("glpsol")
	if err != nil {
		if os.Getenv("SIDETONE_REQUIRE_TOOLS") == "1" {
			t.Fatal("glpsol is missing: install glpk-utils")
		}
		t.Skip("glpsol is missing: install glpk-utils")
	}
	return path
}

// program is an integer program in CPLEX LP format. All variables are 0 or 1.
type program struct {
	objective, rows, vars strings.Builder
	n                     int
}

func (p *program) variable(name string, price cost) {
	fmt.Fprintf(&p.objective, " + %.9f %s\n", float64(price)/float64(nat), name)
	fmt.Fprintf(&p.vars, " %s\n", name)
}

func (p *program) row(format string, args ...any) {
	p.n++
	fmt.Fprintf(&p.rows, " r%d: %s\n", p.n, fmt.Sprintf(format, args...))
}

// integerProgram writes the rules and prices of align.go as one.
func integerProgram(p *problem) string {
	var m program
	place := func(s, call int) string { return fmt.Sprintf("p_%d_%d", s, call) }
	move := func(s, call int) string { return fmt.Sprintf("m_%d_%d", s, call) }
	either := func(s, call int) string { return place(s, call) + " + " + move(s, call) }
	byCall := map[int][]string{}
	for s, opts := range p.options {
		none := fmt.Sprintf("n_%d", s)
		m.variable(none, p.none[s])
		all := []string{none}
		for _, o := range opts {
			if o.place < forbidding {
				m.variable(place(s, o.call), o.place)
			} else {
				m.variable(place(s, o.call), forbidding)
			}
			if o.move < forbidding {
				m.variable(move(s, o.call), o.move)
			} else {
				m.variable(move(s, o.call), forbidding)
			}
			all = append(all, either(s, o.call))
			byCall[o.call] = append(byCall[o.call], either(s, o.call))
		}
		m.row("%s = 1", strings.Join(all, "\n + ")) // one thing per step
	}
	for _, list := range byCall {
		m.row("%s <= 1", strings.Join(list, "\n + ")) // one step per call
	}
	for a := range p.options {
		for b := range p.options {
			if a == b {
				continue
			}
			if a < b && p.group[a] > 0 && p.group[a] == p.group[b] {
				m.row("n_%d + n_%d >= 1", a, b) // one of a group
			}
			for _, x := range p.options[a] {
				for _, y := range p.options[b] {
					late := x.call > y.call
					if p.before[a][b] && late {
						m.row("%s + %s <= 1", place(a, x.call), place(b, y.call))
					}
					like := p.before[a][b] && late && p.says[x.call] == p.says[y.call]
					stray := p.phase[a] >= 0 && p.phase[b] >= 0 && p.phase[a] < p.phase[b] && p.start[y.call] < p.start[x.call]-max(p.slip[a], p.slip[b])
					if like || stray {
						m.row("%s + %s <= 1", either(a, x.call), either(b, y.call))
					}
				}
			}
		}
	}
	for i, d := range p.delays {
		paid := fmt.Sprintf("d_%d", i)
		m.variable(paid, p.late)
		for _, x := range p.options[d.step] {
			for _, y := range p.options[d.of] {
				gap := p.start[x.call] - p.start[y.call]
				if d.sooner && gap < d.seconds || !d.sooner && gap > d.seconds {
					m.row("%s + %s - %s <= 1", place(d.step, x.call), place(d.of, y.call), paid)
				}
			}
		}
	}
	for i, l := range p.like {
		for _, x := range p.options[l.step] {
			for _, y := range p.options[l.of] {
				if k := l.price(x.call, y.call); k > 0 {
					paid := fmt.Sprintf("l_%d_%d_%d", i, x.call, y.call)
					m.variable(paid, k)
					m.row("%s + %s - %s <= 1", either(l.step, x.call), either(l.of, y.call), paid)
				}
			}
		}
	}
	return "Minimize\n cost:\n" + m.objective.String() + "Subject To\n" + m.rows.String() + "Binary\n" + m.vars.String() + "End\n"
}

// outside is what the outside solver says a problem costs at least, in nats.
func outside(t *testing.T, tool string, p *problem) float64 {
	t.Helper()
	dir := t.TempDir()
	in, out := filepath.Join(dir, "in.lp"), filepath.Join(dir, "out")
	text := integerProgram(p)
	if err := os.WriteFile(in, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	if b, err := exec.Command(tool, "--lp", in, "--mipgap", "0", "-w", out).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s\n%s", err, b, text)
	}
	b, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(b)) {
		f := strings.Fields(line) // s mip ROWS COLUMNS STATUS COST
		if len(f) < 6 || f[0] != "s" || f[1] != "mip" {
			continue
		}
		v, err := strconv.ParseFloat(f[5], 64)
		if err != nil || f[4] != "o" {
			t.Fatalf("no optimum: %s", line)
		}
		return v + float64(p.offset)/float64(nat)
	}
	t.Fatalf("no solution in %s", b)
	return 0
}

func agree(t *testing.T, tool, name string, p *problem) {
	t.Helper()
	var s solver
	_, total := s.solve(p)
	got, want := float64(total)/float64(nat), outside(t, tool, p)
	if math.Abs(got-want) > 1e-6 {
		t.Errorf("%s costs %.9f, the outside solver finds %.9f", name, got, want)
	}
}

func TestAnOutsideSolverAgreesOnSmallProblems(t *testing.T) {
	tool := glpsol(t)
	draw := rapid.Custom(drawProblem)
	for i := range 60 {
		agree(t, tool, fmt.Sprintf("problem %d", i), draw.Example(i))
	}
}

const flown = `
id: flown
title: Flown
phases:
  - title: Entry
    steps:
      - {id: heading, title: H, call: heading, value: {of: heading}, reference: r}
      - {id: heat, title: Heat, call: carb-heat-on, reference: r}
      - {id: back, title: Back, call: [power-back, power-set], reference: r}
      - {id: flaps-10, title: F, call: flaps, value: {of: flaps, target: 10}, reference: r}
      - {id: flaps-20, title: F, call: flaps, value: {of: flaps, target: 20}, within: {seconds: 20, of: flaps-10}, reference: r}
      - {id: speed, title: S, call: airspeed, value: {of: airspeed, target: 60, tolerance: {plus: 10}}, after: [back], reference: r}
      - {id: trim, title: T, call: trim-set, reference: r}
  - title: Recovery
    steps:
      - {id: nose, title: N, call: nose-down, within: {seconds: 5, cue: recover}, reference: r}
      - one_of:
          - {id: full, title: F, call: full-power, reference: r}
          - {id: most, title: M, call: power-set, reference: r}
      - {id: cold, title: C, call: carb-heat-cold, within: {seconds: 20, of: full}, after: [full], reference: r}
      - {id: up-10, title: U, call: flaps, value: {of: flaps, target: 10}, after: [full], not_before: {seconds: 4, of: nose}, reference: r}
      - {id: rate, title: R, call: positive-rate, after: [full], reference: r}
      - {id: up, title: U, call: flaps-up, after: [up-10, rate], reference: r}
      - {id: out, title: O, call: heading, value: {of: heading, as_called_at: heading, tolerance: 10}, reference: r}
      - {id: trim-2, title: T, call: trim-set, anytime: true, optional: true, reference: r}
`

// drawFlown are the calls of flown with some lost, moved, misheard and made up.
func drawFlown(t *rapid.T) []callouts.Call {
	ids := []string{"heading", "carb-heat-on", "power-back", "flaps", "flaps", "airspeed", "trim-set", "recover", "nose-down", "full-power",
		"carb-heat-cold", "flaps", "positive-rate", "flaps-up", "heading", "trim-set", "power-set"}
	var calls []callouts.Call
	at := 0.0
	for i, id := range ids {
		if rapid.IntRange(0, 7).Draw(t, "other") == 0 {
			id = rapid.SampledFrom(ids).Draw(t, "which")
		}
		if rapid.IntRange(0, 7).Draw(t, "lost") == 0 {
			continue
		}
		at += float64(rapid.IntRange(1, 12).Draw(t, "gap"))
		c := callouts.Call{ID: id, Start: at, End: at + 1, Stance: callouts.Done, Confidence: float64(rapid.IntRange(2, 20).Draw(t, "confidence")) / 20}
		v := map[string][]float64{"heading": {90, 95, 101, 270}, "flaps": {10, 20}, "airspeed": {58, 60, 70, 75}}[id]
		if v != nil && i != 7 {
			x := rapid.SampledFrom(v).Draw(t, "figure")
			c.Value = &x
		}
		calls = append(calls, c)
	}
	return calls
}

func TestAnOutsideSolverAgreesOnManeuvers(t *testing.T) {
	tool := glpsol(t)
	p, err := ParseProcedure("flown.yaml", []byte(flown))
	if err != nil {
		t.Fatal(err)
	}
	pl, err := Bind(p, &Aircraft{ID: "any", Facts: map[string]Fact{}})
	if err != nil {
		t.Fatal(err)
	}
	draw := rapid.Custom(drawFlown)
	for i := range 40 {
		calls := draw.Example(i)
		agree(t, tool, fmt.Sprintf("maneuver %d", i), &newJudging(pl, calls, 0, len(calls)).problem)
	}
}
