package main

import (
	"fmt"
	"io"
	"slices"

	"sidetone/callouts/meaning"
	"sidetone/callouts/meaning/train"
)

// right tells whether a span is where its callout was marked: over half of its words
// are, or all of a marked stretch.
func right(s sentence, sp meaning.Span, class int) bool {
	n := 0
	for _, c := range s.class[sp.First:sp.End] {
		if c == class {
			n++
		}
	}
	return 2*n >= sp.End-sp.First && n > 0
}

// calibrate fits the belief in stretches to sentences that were not learnt from: a
// logistic regression, by gradient.
func calibrate(net *meaning.Net, held []sentence) meaning.Belief {
	var seen []meaning.Evidence
	var is []float64
	for _, s := range held {
		odds, _ := net.Read(s.words)
		for _, sp := range net.Spans(odds) {
			class := slices.Index(net.Classes(), sp.ID)
			seen = append(seen, meaning.EvidenceOf(odds[sp.First:sp.End], class))
			if right(s, sp, class) {
				is = append(is, 1)
			} else {
				is = append(is, 0)
			}
		}
	}
	var w meaning.Belief
	for range 30000 {
		var slope meaning.Belief
		for i, e := range seen {
			d := is[i] - w.P(e)
			for k, v := range e {
				slope[k] += d * v
			}
		}
		for k := range w {
			w[k] += 0.02 * (slope[k]/float64(max(1, len(seen))) - 1e-4*w[k])
		}
	}
	return w
}

// report tells how many marked stretches are found, how many found are marked, and
// whether the probabilities are true.
func report(w io.Writer, name string, net *meaning.Net, all []sentence) {
	var marked, met, found, rightly, told, toldRight int
	var bins [10]struct{ n, right, sum float64 }
	for _, s := range all {
		odds, meant := net.Read(s.words)
		spans := net.Spans(odds)
		for i, w := range s.meant {
			if w == train.Any {
				continue
			}
			told++
			if meant[i][w] == slices.Max(meant[i]) {
				toldRight++
			}
		}
		for at := 0; at < len(s.class); {
			end := at + 1
			for end < len(s.class) && s.class[end] == s.class[at] {
				end++
			}
			if s.class[at] > 0 {
				marked++
				for _, sp := range spans {
					if sp.First < end && at < sp.End && slices.Index(net.Classes(), sp.ID) == s.class[at] {
						met++
						break
					}
				}
			}
			at = end
		}
		for _, sp := range spans {
			found++
			b := &bins[min(9, int(10*sp.P))]
			b.n++
			b.sum += sp.P
			if right(s, sp, slices.Index(net.Classes(), sp.ID)) {
				rightly++
				b.right++
			}
		}
	}
	fmt.Fprintf(w, "%s: of %d marked %.1f %% found, of %d found %.1f %% right\n", name, marked, 100*float64(met)/float64(max(1, marked)), found, 100*float64(rightly)/float64(max(1, found)))
	if told > 0 {
		fmt.Fprintf(w, "  how it is meant: %.1f %% of %d words right\n", 100*float64(toldRight)/float64(told), told)
	}
	for i, b := range bins {
		if b.n > 0 {
			fmt.Fprintf(w, "  %.1f: %4.0f found, believed %.2f, right %.2f\n", float64(i)/10, b.n, b.sum/b.n, b.right/b.n)
		}
	}
}
