package onnx

import (
	"math"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	onnxruntime "github.com/yalue/onnxruntime_go"

	"sidetone/audio"
	"sidetone/audio/recognise/phones"
	"sidetone/audio/transcript"
)

// punctuation is what the decoder puts behind a word.
const punctuation = ".,?!;:…"

// readAnew gives the words of a segment as they were likeliest said, in their places;
// those the decoder wrote where it is sure of them. It says too whether they fit.
func (r *Recogniser) readAnew(hidden onnxruntime.Value, heard phones.Heard, free decoded, seg audio.Segment) ([]placed, bool, error) {
	read := r.spotter.reread(free.words, heard)
	words := make([]transcript.Word, len(read))
	for i, w := range read {
		words[i] = w.Word
	}
	out, ok := r.spotter.lay(heard, words)
	stays := !ok
	if ok {
		var err error
		if stays, err = r.stays(hidden, free, written(out)); err != nil {
			return nil, false, err
		}
	}
	if stays {
		if own, laid := r.spotter.lay(heard, free.words); laid || !ok {
			return own, laid, nil
		}
	}
	for i := range out {
		w := &out[i]
		n := max(1, len(w.sounds))
		e := WordEvidence{
			Text: w.Text, Start: moment(w.span.Start, seg), End: moment(w.span.End, seg),
			Fit: w.fit / float64(n), Agreed: read[i].agreed, Own: read[i].Confidence, Odds: read[i].odds,
			Clear: clarity(heard[w.span.Start:w.span.End]), Sounds: n,
		}
		e.Likely = e.believed()
		w.Confidence = e.Likely
		if r.read != nil {
			r.read(e)
		}
	}
	return out, true, nil
}

// Whether the decoder's text stays: a logistic regression on how sure it is of it and
// how much less likely it finds the other one, fitted on the tuning lessons and on
// recorded prompts, which are no talk of a cockpit.
const (
	staysSure    = 13.68 // of the mean probability of its words
	staysRather  = 0.90  // of the nats a word by which it finds the other text less likely
	staysMost    = 10.0  // of which so many count
	staysNought  = -13.6
	staysPerhaps = 0.4 // below this probability of its words it never stays
)

func (r *Recogniser) stays(hidden onnxruntime.Value, free decoded, read string) (bool, error) {
	sure, n := 0.0, float64(len(free.words))
	for _, w := range free.words {
		sure += w.Confidence / n
	}
	if sure < staysPerhaps || transcript.Join(free.words) == read {
		return false, nil
	}
	ids, ok := r.tokens.encode(read)
	if !ok {
		return false, nil
	}
	likely, err := r.weighOne(hidden, ids)
	if err != nil {
		return false, err
	}
	rather := max(-staysMost, min(staysMost, (free.logProb-likely)/n))
	return staysSure*sure+staysRather*rather+staysNought > 0, nil
}

// reread gives the words that were likeliest said by their phonemes and by how people
// talk in a cockpit. Those the decoder wrote too stay as it wrote them; of the others
// the marks behind them and capitals stay.
func (s *spotter) reread(free []transcript.Word, heard phones.Heard) []reading {
	ways := make([][][]string, len(free))
	var hints []string
	for i, w := range free {
		ways[i] = s.spoken(w.Text)
		for _, way := range ways[i] {
			hints = append(hints, way...)
		}
	}
	said := s.talk.Read(heard, hints)
	texts := make([]string, len(said))
	for i, w := range said {
		texts[i] = w.Text
	}
	of, as := beside(ways, texts)
	var out []reading
	next, mark := 0, "" // of free, and the mark behind what was left out
	capital, stop := false, false
	flush := func(to int) { // words of free up to to were not said
		for ; next < to; next++ {
			w := free[next].Text
			r, _ := utf8.DecodeRuneInString(w)
			capital = capital || unicode.IsUpper(r) && w != "I" && !strings.HasPrefix(w, "I'")
			if m := w[len(strings.TrimRight(w, punctuation)):]; m != "" {
				mark = m
			}
		}
	}
	settle := func() { // the mark goes behind the last word
		if n := len(out); mark != "" && n > 0 && !marked(out[n-1].Text) {
			out[n-1].Text += mark
		}
		mark = ""
	}
	for j := 0; j < len(said); {
		// A word of which all parts were said stays.
		if i := as[j]; i >= 0 && (i == 0 || of[i-1] != of[i]) {
			n := 1
			for i+n < len(of) && of[i+n] == of[i] {
				n++
			}
			whole := j+n <= len(said)
			for k := 1; k < n && whole; k++ {
				whole = as[j+k] == i+k
			}
			if whole {
				flush(of[i])
				settle()
				w := free[of[i]]
				if stop {
					w.Text = upper(w.Text)
				}
				j += n
				// What follows was misheard, and with it where a sentence begins.
				if stop = said[j-1].Ends && j < len(said) && as[j] < 0 && !marked(w.Text); stop {
					w.Text += "."
				}
				out = append(out, reading{Word: w, agreed: true, odds: said[j-n].Odds})
				next, capital = of[i]+1, false
				continue
			}
		}
		if i := slices.IndexFunc(as[j:], func(i int) bool { return i >= 0 }); i < 0 {
			flush(len(free))
		} else {
			flush(of[as[j+i]])
		}
		text := said[j].Text
		if text == "i" || strings.HasPrefix(text, "i'") || capital || stop || len(out) == 0 {
			text = upper(text)
		}
		capital, stop = false, said[j].Ends && j+1 < len(said)
		if stop {
			text += "."
		}
		out = append(out, reading{Word: transcript.Word{Text: text}, odds: said[j].Odds})
		j++
	}
	flush(len(free))
	settle()
	return out
}

// marked tells whether a mark stands behind a word.
func marked(word string) bool { return strings.ContainsAny(word[len(word)-1:], punctuation) }

func upper(word string) string {
	r, n := utf8.DecodeRuneInString(word)
	return string(unicode.ToUpper(r)) + word[n:]
}

// beside lays words, each in one of its ways, beside a text as it fits best: of each
// part of a word the word, and of each word of the text its part, -1 for none.
func beside(ways [][][]string, text []string) (of, as []int) {
	chosen := make([][]string, len(ways))
	for i := range ways {
		chosen[i] = ways[i][0]
	}
	lay := func() int {
		var parts []string
		of = of[:0]
		for i, way := range chosen {
			for _, p := range way {
				parts, of = append(parts, p), append(of, i)
			}
		}
		as = alignment(parts, text)
		n := 0
		for _, i := range as {
			if i >= 0 {
				n++
			}
		}
		return n
	}
	most := lay()
	for i := range ways {
		best := chosen[i]
		for _, way := range ways[i][1:] {
			chosen[i] = way
			if n := lay(); n > most {
				most, best = n, way
			}
		}
		chosen[i] = best
	}
	lay()
	return of, as
}

// reading is a word of a text read anew.
type reading struct {
	transcript.Word         // its confidence is the decoder's; 0 when it wrote something else
	agreed          bool    // the decoder wrote it too
	odds            float64 // log-probability of it after the words before
}

// alignment gives for each of b the one of a it is the same as, in the order of both
// and with the fewest others between; -1 for none.
func alignment(a, b []string) []int {
	cost := make([][]int, len(a)+1)
	for i := range cost {
		cost[i] = make([]int, len(b)+1)
		for j := range cost[i] {
			switch {
			case i == 0:
				cost[i][j] = 2 * j
			case j == 0:
				cost[i][j] = 2 * i
			case a[i-1] == b[j-1]:
				cost[i][j] = cost[i-1][j-1]
			default:
				cost[i][j] = min(cost[i-1][j]+2, cost[i][j-1]+2, cost[i-1][j-1]+3)
			}
		}
	}
	out := make([]int, len(b))
	i, j := len(a), len(b)
	for j > 0 {
		out[j-1] = -1
		switch {
		case i > 0 && a[i-1] == b[j-1]:
			i, j = i-1, j-1
			out[j] = i
		case i > 0 && cost[i][j] == cost[i-1][j-1]+3:
			i, j = i-1, j-1
		case i > 0 && cost[i][j] == cost[i-1][j]+2:
			i--
		default:
			j--
		}
	}
	return out
}

// How likely a word is right: a logistic regression, fitted on the words of the tuning
// lessons at 20 and 10 dB (earscore --fit-ears).
const (
	wordFit    = 0.657  // of what a sound of it loses beside what is heard best, in nats
	wordAgreed = 1.947  // the decoder wrote it too
	wordOwn    = 1.733  // of the log-probability the decoder gave it then
	wordOdds   = 0.259  // of its log-probability among such talk
	wordClear  = 3.101  // of how clearly its frames were heard, in nats
	wordShort  = -2.039 // of one over its sounds
	wordNought = 3.476
)

// leastOwn and leastOdds bound how much one of them can speak against a word.
const (
	leastOwn  = 1e-3
	leastOdds = -12
)

// WordEvidence is what speaks for a word that was read.
type WordEvidence struct {
	Text       string
	Start, End float64 // seconds of the recording
	Fit        float64 // nats a sound of it loses beside what is heard best; 0 or less
	Agreed     bool    // the decoder wrote it too
	Own        float64 // the probability the decoder gave it then
	Odds       float64 // log-probability of it after the words before
	Clear      float64 // mean log-probability of the likeliest sound of its frames
	Sounds     int
	Likely     float64 // probability that it was said
}

// Features are what its probability is fitted on, as they stand in the constants.
func (w WordEvidence) Features() []float64 {
	agreed, own := 0.0, 0.0
	if w.Agreed {
		agreed, own = 1, math.Log(max(w.Own, leastOwn))
	}
	return []float64{w.Fit, agreed, own, max(w.Odds, leastOdds), w.Clear, 1 / float64(max(1, w.Sounds)), 1}
}

func (w WordEvidence) believed() float64 {
	z := 0.0
	x := w.Features()
	for i, c := range []float64{wordFit, wordAgreed, wordOwn, wordOdds, wordClear, wordShort, wordNought} {
		z += c * x[i]
	}
	return 1 / (1 + math.Exp(-z))
}

// clarity is the mean log-probability of the likeliest sound of frames.
func clarity(heard phones.Heard) float64 {
	sum := 0.0
	for i := range heard {
		sum += float64(slices.Max(heard[i][:]))
	}
	return sum / float64(max(1, len(heard)))
}
