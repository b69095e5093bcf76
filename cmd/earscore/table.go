package main

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"text/tabwriter"
)

const (
	allVoices  = "all voices"
	easyVoices = "flite, festival"
)

// row is a line of the table.
type row struct {
	SNR   string `json:"snr"` // "all" for all of them
	Voice string `json:"voice"`
	tally
}

// rows sum up lessons: for each ratio all voices and those of flite and festival,
// then each voice at all ratios, then everything.
func rows(lessons []*scored) []row {
	type key struct{ snr, voice string }
	sums := map[key]*tally{}
	at := func(k key, t *tally) {
		if sums[k] == nil {
			sums[k] = &tally{}
		}
		sums[k].add(t)
	}
	var snrs, voices []string
	for _, s := range lessons {
		snr := s.ratio()
		if !slices.Contains(snrs, snr) {
			snrs = append(snrs, snr)
		}
		for _, v := range sortedKeys(s.byVoice) {
			t := s.byVoice[v]
			at(key{snr, allVoices}, t)
			at(key{"all", allVoices}, t)
			if v == "" {
				continue
			}
			if !slices.Contains(voices, v) {
				voices = append(voices, v)
			}
			at(key{"all", v}, t)
			at(key{snr, v}, t)
			if !hard(v) {
				at(key{snr, easyVoices}, t)
			}
		}
	}
	slices.Sort(voices)
	var out []row
	put := func(snr, voice string) {
		if t := sums[key{snr, voice}]; t != nil {
			out = append(out, row{snr, voice, *t})
		}
	}
	for _, snr := range snrs {
		put(snr, allVoices)
		put(snr, easyVoices)
	}
	for _, v := range voices {
		put("all", v)
	}
	put("all", allVoices)
	for _, snr := range snrs { // for the raw numbers
		for _, v := range voices {
			put(snr, v)
		}
	}
	return out
}

func (s *scored) ratio() string {
	if s.audio == "" {
		return "words"
	}
	return fmt.Sprintf("%g dB", s.snr)
}

const tableLegend = `WER: words wrong of words said. recall, precision: calls done or ordered, right in
callout, value, stance and time (1.5 s). stance: of calls found. median, p95: seconds
between where a right call begins and where it was heard. maneuvers: found of those
flown, + invented. verdicts: steps right, optional
ones nobody called left out. prompted: steps found to answer an order of those that
did, + wrongly said to. accused: steps called, and said to be missing, late, out
of order or off value when they were not, of all steps called. unsure: of all steps.
x real time: seconds of lesson per second of listening and judging.
`

// printTable prints rows in columns. Rows of one voice at one ratio are left to
// the raw numbers.
func printTable(w io.Writer, list []row) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "SNR\tvoice\tWER\trecall\tprecision\tstance\tmedian\tp95\tmaneuvers\tverdicts\tprompted\taccused\tunsure\tsteps\tx real time\t")
	for _, r := range list {
		if r.SNR != "all" && r.Voice != allVoices && r.Voice != easyVoices {
			continue
		}
		fmt.Fprintln(t, strings.Join([]string{
			r.SNR, r.Voice,
			percent(share(r.WordErrors, r.Words)),
			percent(share(r.Right, r.Made)), percent(share(r.Right, r.Found)), percent(share(r.StancesRight, r.Stances)),
			figure("%.2f", quantile(r.TimeErrors, 0.5)), figure("%.2f", quantile(r.TimeErrors, 0.95)),
			r.maneuvers(), percent(share(r.StepRight, r.Steps)), r.prompts(), percent(share(r.Accused, r.StepsMade)), percent(share(r.Unsure, r.Steps)),
			fmt.Sprint(r.Steps), figure("%.1f", r.speed()), "",
		}, "\t"))
	}
	if err := t.Flush(); err != nil {
		return err
	}
	_, err := fmt.Fprint(w, "\n", tableLegend)
	return err
}

func (t *tally) maneuvers() string {
	s := fmt.Sprintf("%d/%d", t.Spotted, t.Flown)
	if t.Invented > 0 {
		s += fmt.Sprintf("+%d", t.Invented)
	}
	return s
}

func (t *tally) prompts() string {
	s := fmt.Sprintf("%d/%d", t.RightPrompted, t.Prompted)
	if n := t.SaidPrompted - t.RightPrompted; n > 0 {
		s += fmt.Sprintf("+%d", n)
	}
	return s
}

func (t *tally) speed() float64 {
	if t.Took == 0 {
		return math.NaN()
	}
	return t.Audio / t.Took
}

func percent(v float64) string { return figure("%.1f", 100*v) }

func figure(format string, v float64) string {
	if math.IsNaN(v) {
		return "-"
	}
	return fmt.Sprintf(format, v)
}

// printReliability prints how often calls of a confidence are right.
func printReliability(w io.Writer, t *tally) error {
	fmt.Fprint(w, "\nConfidence of the calls found, and how many of them were made (callout, value, time):\n")
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(tw, "confidence\tcalls\tmean\tright\t")
	for i, b := range t.Bins {
		to := 1.0
		if i+1 < len(binEdges) {
			to = binEdges[i+1]
		}
		mean := math.NaN()
		if b.Calls > 0 {
			mean = b.Sum / float64(b.Calls)
		}
		fmt.Fprintf(tw, "%.2f-%.2f\t%d\t%s\t%s\t\n", binEdges[i], to, b.Calls, figure("%.2f", mean), figure("%.2f", share(b.Right, b.Calls)))
	}
	return tw.Flush()
}
