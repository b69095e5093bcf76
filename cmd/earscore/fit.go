package main

import (
	"cmp"
	"fmt"
	"io"
	"maps"
	"math"
	"os"
	"slices"
	"strings"

	"sidetone/audio/transcript"
	"sidetone/callouts"
	"sidetone/callouts/stance"
	"sidetone/cmd/internal/lesson"
)

// spread is how far the weights of the stances are expected to lie from what the
// facts mean; of those tried, the one that does best on sentences left out of the fit.
const spread = 1.0

// lessonsCount is how often each call of a lesson counts against a sentence of the
// file: lessons are what the weights are for.
const lessonsCount = 3

// sentencesCount is how often a sentence of the files counts against a marked call:
// there are fewer of them, and they are about the stances.
const sentencesCount = 2.5

// folds is how many parts the examples are left out in, in turn.
const folds = 10

// fitStances fits the weights of the stances to the sentences of files, to the calls
// marked in others and, when there is a folder, to those of its lessons, and writes them
// to a file. It prints how many sentences are right when they are left out of the fit.
func fitStances(w io.Writer, args []string, o options, finder *callouts.Finder) error {
	all, err := lesson.ReadSentences(o.stances...)
	if err != nil {
		return err
	}
	var examples []stance.Example
	var said []string
	for _, s := range all {
		if c := callOf(s, finder); s.ID != "" && c != nil {
			examples = append(examples, stance.Example{Facts: c.Meant.Facts, Stance: s.Stance})
			said = append(said, s.Say)
		}
	}
	fmt.Fprintf(w, "%d sentences, the call found in %d\n", len(all), len(examples))
	sentences := len(examples)
	for _, name := range o.marked {
		some, err := markedExamples(name, finder)
		if err != nil {
			return err
		}
		fmt.Fprintf(w, "%d calls marked in %s\n", len(some), name)
		for _, e := range some {
			examples, said = append(examples, e.Example), append(said, e.said)
		}
	}
	even(examples)
	for i := range sentences {
		examples[i].Count *= sentencesCount
	}
	n := len(examples)
	more, err := lessonExamples(args, o, finder)
	if err != nil {
		return err
	}
	fmt.Fprintf(w, "%d calls of lessons\n", len(more))
	more = slices.Repeat(more, lessonsCount)
	right, confused := 0, map[string]int{}
	loss := 0.0
	for k := range folds {
		train := slices.Clone(more)
		for i := range n {
			if i%folds != k {
				train = append(train, examples[i])
			}
		}
		m := stance.Fit(train, spread)
		for i := k; i < n; i += folds {
			r := m.Read(examples[i].Facts)
			got, p := r.Best()
			loss -= math.Log(max(1e-9, r.Of(examples[i].Stance)))
			if got == examples[i].Stance {
				right++
			} else {
				confused[string(examples[i].Stance)+" taken for "+string(got)]++
				if o.misses {
					fmt.Fprintf(w, "%s %.2f, not %s %.2f: %q\n    %s\n", got, p, examples[i].Stance, r.Of(examples[i].Stance), said[i], show(examples[i].Facts))
				}
			}
		}
	}
	fmt.Fprintf(w, "%s %% of sentences left out right, loss %.3f\n", percent(share(right, n)), loss/float64(n))
	for _, k := range slices.SortedFunc(maps.Keys(confused), func(a, b string) int { return cmp.Compare(confused[b], confused[a]) }) {
		fmt.Fprintf(w, "   %3d  %s\n", confused[k], k)
	}
	m := stance.Fit(append(slices.Clone(more), examples...), spread)
	return os.WriteFile(o.fit, []byte(stance.WriteModel(m)), 0o644)
}

// even makes the stances count more alike than their shares of the sentences.
func even(examples []stance.Example) {
	count := map[callouts.Stance]float64{}
	for _, e := range examples {
		count[e.Stance]++
	}
	each := float64(len(examples)) / float64(len(count))
	for i := range examples {
		examples[i].Count = math.Sqrt(each / count[examples[i].Stance])
	}
}

func show(facts []stance.Fact) string {
	var out []string
	for _, f := range facts {
		out = append(out, fmt.Sprintf("%s %.1f", f.Name, f.Much))
	}
	return strings.Join(out, ", ")
}

// lessonExamples are the calls of lessons that are found in the words as they
// were said.
func lessonExamples(args []string, o options, finder *callouts.Finder) ([]stance.Example, error) {
	if len(args) == 0 {
		return nil, nil
	}
	o.words, o.snrs = true, []float64{math.Inf(1)}
	lessons, done, err := prepare(args[0], o)
	if err != nil {
		return nil, err
	}
	defer done()
	var out []stance.Example
	for _, m := range lessons {
		found := finder.Find(script(m))
		for _, p := range pair(m.truth.Calls, found) {
			if c := m.truth.Calls[p.made]; !c.Perhaps {
				out = append(out, stance.Example{Facts: found[p.found].Meant.Facts, Stance: c.Stance})
			}
		}
	}
	return out, nil
}

type markedExample struct {
	stance.Example
	said string
}

// markedExamples are the calls found in a file where it is marked how they are meant.
// What is found where nothing is marked was only talked about.
func markedExamples(name string, finder *callouts.Finder) ([]markedExample, error) {
	f, err := lesson.ReadMarked(name)
	if err != nil {
		return nil, err
	}
	if !f.Stances {
		return nil, fmt.Errorf("%s: it is not marked how the calls are meant", name)
	}
	var out []markedExample
	for i, h := range findMarked(finder, f) {
		for _, c := range h.calls {
			is := callouts.TalkedAbout
			for _, m := range f.Lines[i].Calls {
				if !h.at(m, c) {
					continue
				}
				is = ""
				if m.ID == c.ID {
					is = m.Stance
					break
				}
			}
			if is != "" { // not taken for another
				out = append(out, markedExample{stance.Example{Facts: c.Meant.Facts, Stance: is}, h.said.Text})
			}
		}
	}
	return out, nil
}

// callOf is the call of a sentence as it is found, nil when it is not; of several
// the one whose stance is the likeliest to be right.
func callOf(s lesson.Sentence, finder *callouts.Finder) *callouts.Call {
	var got *callouts.Call
	for _, c := range finder.Find(&transcript.Transcript{Utterances: []transcript.Utterance{utterance(s.Say)}}) {
		if c.ID == s.ID && (got == nil || c.Meant.Of(s.Stance) > got.Meant.Of(s.Stance)) {
			got = &c
		}
	}
	return got
}
