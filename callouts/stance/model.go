package stance

import (
	_ "embed"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"sync"

	"github.com/goccy/go-yaml"
)

// Model is the weight, in nats, of each fact for each stance. What is in favour of
// a stance is above 0.
type Model map[string]map[Stance]float64

// always is a fact of every sentence: it carries how common the stances are.
const always = "always"

//go:generate go run sidetone/cmd/earscore --listed --fit weights.yaml --stances ../../testdata/stances-tuning.yaml,../../testdata/wordings.yaml ../../testdata/lessons/tuning
//go:embed weights.yaml
var weights []byte

// told are the weights where a network of meanings has told its part: fitted to lessons
// it has not learnt from as well (DEVELOPERS.md).
//
//go:embed told.yaml
var told []byte

var (
	fitted     = sync.OnceValue(func() Model { return mustRead("weights.yaml", weights) })
	fittedTold = sync.OnceValue(func() Model { return mustRead("told.yaml", told) })
)

func mustRead(name string, b []byte) Model {
	m, err := ReadModel(b)
	if err != nil {
		panic(fmt.Sprintf("stance: %s is damaged, build the program again: %v", name, err))
	}
	return m
}

// ReadModel reads weights as WriteModel writes them.
func ReadModel(b []byte) (Model, error) {
	m := Model{}
	if err := yaml.Unmarshal(b, &m); err != nil {
		return nil, err
	}
	return m, nil
}

// Read tells how a call is meant by the facts of its sentence.
func (m Model) Read(facts []Fact) Reading { return Reading{Odds: m.odds(facts), Facts: facts} }

// Weight is what a fact says for a stance, in nats.
func Weight(fact string, s Stance) float64 { return fitted()[fact][s] }

// WriteModel writes weights as they are kept: a line a fact, by name.
func WriteModel(m Model) string {
	var b strings.Builder
	b.WriteString("# How much each fact of a sentence speaks for each stance, in nats. Fitted, not\n# written: see the package comment.\n")
	for _, name := range slices.Sorted(maps.Keys(m)) {
		var parts []string
		for _, s := range All {
			if w := m[name][s]; w != 0 {
				parts = append(parts, fmt.Sprintf("%s: %.2f", s, w))
			}
		}
		fmt.Fprintf(&b, "%q: {%s}\n", name, strings.Join(parts, ", "))
	}
	return b.String()
}

// odds are the probabilities of the stances, in the order of All.
func (m Model) odds(facts []Fact) [len(All)]float64 {
	var sum [len(All)]float64
	add := func(name string, much float64) {
		for s, w := range m[name] {
			for i := range All {
				if All[i] == s {
					sum[i] += w * much
				}
			}
		}
	}
	add(always, 1)
	for _, f := range facts {
		add(f.Name, f.Much)
	}
	return softmax(sum)
}

func softmax(sum [len(All)]float64) [len(All)]float64 {
	top := math.Inf(-1)
	for _, s := range sum {
		top = max(top, s)
	}
	total := 0.0
	for i := range sum {
		sum[i] = math.Exp(sum[i] - top)
		total += sum[i]
	}
	for i := range sum {
		sum[i] /= total
	}
	return sum
}
