package onnx

import (
	"cmp"
	"math"
	"slices"
	"strings"

	onnxruntime "github.com/yalue/onnxruntime_go"
	"gonum.org/v1/gonum/floats"

	"sidetone/audio"
	"sidetone/audio/recognise/phones"
	"sidetone/audio/recognise/talk"
	"sidetone/audio/transcript"
)

// The decoder was taught on everyday speech: "carb heat on" is so unlikely a
// sentence to it that it writes "carve ye on". So what the encoder heard is also
// turned into phonemes, which have no such prejudice, and explained as a whole
// by the expected phrases, the decoder's own words and other sounds, whatever is
// likeliest.

// In nats; fitted on the tuning lessons, generously: what is found is weighed again.
const (
	phrasePrice = 2 // of the likeliest phrase
	wordPrice   = 3 // of a word the decoder is sure of
	noWordPrice = 8 // more, of one that is no word: "torbigon"
)

var costs = phones.Costs{Sound: 4, Scale: 0.6, Beam: 25, Width: 4000}

// spotter finds expected phrases by their phonemes.
type spotter struct {
	net     *phones.Net
	say     func(string) ([][]phones.Phone, bool)
	spoken  func(string) [][]string
	talk    *talk.Vocabulary // nil for none
	words   []word           // that make up the phrases
	phrases []spotted
	tree    *phones.Tree
	byMeans map[string][]int32 // phrases, by what they mean
}

// word is one of the few that make up all the phrases.
type word struct {
	text      string
	sounds    []phones.Phone
	in, opens []int32 // phrases it is in, and those it is the first word of
}

// spotted is a phrase; there are tens of thousands.
type spotted struct {
	words []int32 // by number
	means string
}

func newSpotter(net *phones.Net, opt Options) *spotter {
	s := &spotter{net: net, say: opt.Say, spoken: opt.Spoken, talk: opt.Talk, tree: phones.NewTree(), byMeans: map[string][]int32{}}
	s.phrases = make([]spotted, len(opt.Phrases))
	number := map[string]int32{}
	for i, p := range opt.Phrases {
		var words []int32
		var sounds []phones.Phone
		for w := range strings.FieldsSeq(p.Text) {
			n, ok := number[w]
			if !ok {
				n = int32(len(s.words))
				number[w] = n
				ways, _ := s.say(w)
				s.words = append(s.words, word{text: w, sounds: ways[0]})
			}
			known := &s.words[n]
			if len(words) == 0 {
				known.opens = append(known.opens, int32(i))
			}
			if !slices.Contains(words, n) {
				known.in = append(known.in, int32(i))
			}
			words, sounds = append(words, n), append(sounds, known.sounds...)
		}
		means := cmp.Or(p.Means, p.Text)
		s.phrases[i] = spotted{slices.Clone(words), means} // no room to grow is kept
		s.byMeans[means] = append(s.byMeans[means], int32(i))
		s.tree.Add(sounds, i, float32(p.Odds-phrasePrice))
	}
	return s
}

// hear gives the phonemes of samples, of which the encoder made hidden.
func (s *spotter) hear(hidden onnxruntime.Value, samples []float32) phones.Heard {
	return s.net.Hear(phones.Features(hidden.(*onnxruntime.Tensor[float32]).GetData(), s.net.States(), samples))
}

// Words of less than this share of the sounds that were heard, and this many fewer,
// leave something out.
const (
	leastShare = 0.5
	mostLost   = 12
)

// tooFew tells whether the decoder left much out: it wrote half a sentence and
// stopped, or nothing at all.
func (s *spotter) tooFew(words []transcript.Word, heard phones.Heard) bool {
	written := 0
	for _, w := range words {
		ways, _ := s.say(w.Text)
		written += len(ways[0])
	}
	all := len(heard.Likeliest())
	return float64(written) < leastShare*float64(all) && all-written > mostLost
}

// placed is a word in its place in a segment.
type placed struct {
	transcript.Word
	sounds []phones.Phone
	span   phones.Span
	known  bool    // a word of the language
	fit    float64 // nats it loses beside what is heard best; 0 or less
}

// misfit is what a phoneme of a word may lose, in nats, and be as heard as any.
const misfit = 0.3

// lay gives the decoder's words their places. A word that does not sound like
// what was heard there is less likely than the decoder thinks.
func (s *spotter) lay(heard phones.Heard, free []transcript.Word) ([]placed, bool) {
	rows, words := make([][]phones.Phone, len(free)), make([]placed, len(free))
	ways := make([][][]phones.Phone, len(free))
	for i, w := range free {
		ways[i], words[i].known = s.say(w.Text)
		rows[i] = ways[i][0]
	}
	spans, fit, ok := phones.Align(heard, rows)
	for i := range free {
		for _, way := range ways[i][1:] {
			usual := rows[i]
			rows[i] = way
			if spans2, fit2, ok2 := phones.Align(heard, rows); ok2 && (!ok || floats.Sum(fit2) > floats.Sum(fit)) {
				spans, fit, ok = spans2, fit2, true
			} else {
				rows[i] = usual
			}
		}
	}
	for i, w := range free {
		if n := float64(len(rows[i])); n > 0 {
			w.Confidence *= math.Exp(min(0, fit[i]/n+misfit))
		}
		words[i].Word, words[i].sounds, words[i].span, words[i].fit = w, rows[i], spans[i], fit[i]
	}
	return words, ok
}

// phrase is an expected phrase in its place.
type phrase struct {
	words []placed
	Candidate
}

func (p phrase) start() int { return p.words[0].span.Start }
func (p phrase) end() int   { return p.words[len(p.words)-1].span.End }

// find gives the expected phrases that were likelier said than anything else, and
// those that may have been, though something else is likelier.
func (s *spotter) find(heard phones.Heard, words []placed, seg audio.Segment) (found, perhaps []phrase) {
	own := phones.NewTree()
	for i, w := range words {
		odds := math.Log(max(w.Confidence, leastSure)) - wordPrice
		if !w.known {
			odds -= noWordPrice
		}
		own.Add(w.sounds, i, float32(odds))
	}
	trees := []*phones.Tree{s.tree, own}
	found = s.search(heard, trees, costs, seg, nil)
	generous := costs
	generous.Favour = favour
	perhaps = s.search(heard, trees, generous, seg, func(means string, span phones.Span) bool {
		return slices.ContainsFunc(found, func(p phrase) bool {
			return p.Means == means && p.start() < span.End && span.Start < p.end()
		})
	})
	return found, perhaps
}

// favour is what a phrase that is only perhaps heard may be less likely, in nats,
// than what is likeliest.
const favour = 8

// search is find at certain costs, without the phrases that are known already.
func (s *spotter) search(heard phones.Heard, trees []*phones.Tree, c phones.Costs, seg audio.Segment, known func(means string, span phones.Span) bool) (out []phrase) {
	found, score := phones.Search(heard, trees, c, nil)
	for _, f := range found {
		if f.Tree != 0 || known != nil && known(s.phrases[f.Phrase].means, f.Span) {
			continue
		}
		// How likely it is beside the best explanation without what it means.
		expected := &s.phrases[f.Phrase]
		alike := s.alike(f.Phrase)
		banned := func(tree, phrase int) bool { return tree == 0 && alike[phrase] }
		in, with := heard, score
		if c.Favour > 0 { // there are many of these: only what was heard in their place is looked at
			in = heard[f.Start:f.End]
			_, with = phones.Search(in, trees, c, nil)
		}
		_, without := phones.Search(in, trees, c, banned)
		p := phrase{Candidate: Candidate{Means: expected.means, Margin: with - without - float64(c.Favour)}}
		rows := make([][]phones.Phone, len(expected.words))
		for i, w := range expected.words {
			rows[i] = s.words[w].sounds
		}
		spans, fit, _ := phones.Align(heard[f.Start:f.End], rows)
		sounds := 0
		for i, w := range expected.words {
			span := phones.Span{Start: spans[i].Start + f.Start, End: spans[i].End + f.Start}
			p.words = append(p.words, placed{Word: transcript.Word{Text: s.words[w].text}, sounds: rows[i], span: span, known: true})
			p.Fit += fit[i]
			sounds += len(rows[i])
		}
		p.Fit /= float64(sounds)
		p.Phrase, p.Start, p.End = written(p.words), moment(p.start(), seg), moment(p.end(), seg)
		out = append(out, p)
	}
	return out
}

// alike tells which phrases mean what a phrase means, or say it within other words
// or a part of it: "carb heat" and "carb heat on" are no rivals.
func (s *spotter) alike(phrase int) []bool {
	p := &s.phrases[phrase]
	out := make([]bool, len(s.phrases))
	for _, i := range s.byMeans[p.means] {
		out[i] = true
	}
	rarest := s.words[p.words[0]].in
	for from, w := range p.words {
		if in := s.words[w].in; len(in) < len(rarest) {
			rarest = in
		}
		for _, i := range s.words[w].opens {
			out[i] = out[i] || begins(p.words[from:], s.phrases[i].words)
		}
	}
	for _, i := range rarest {
		out[i] = out[i] || holds(s.phrases[i].words, p.words)
	}
	return out
}

func begins(words, with []int32) bool {
	return len(with) <= len(words) && slices.Equal(words[:len(with)], with)
}

// holds tells whether a part of words are those of part, in their order.
func holds(words, part []int32) bool {
	for ; len(words) >= len(part); words = words[1:] {
		if begins(words, part) {
			return true
		}
	}
	return false
}

// leastSure bounds how unlikely a word of the decoder's may be.
const leastSure = 1e-4

// moment is a frame in seconds of the recording: whole milliseconds after the
// start of its segment, a frame being 24.
func moment(frame int, seg audio.Segment) float64 {
	after := math.Round(float64(frame*phones.Hop+phones.First) / audio.Rate * 1000)
	return min(seg.Start+after/1000, seg.End())
}

// timed turns places into seconds of the recording.
func timed(words []placed, seg audio.Segment) []transcript.Word {
	out := make([]transcript.Word, len(words))
	last := seg.Start
	for i, w := range words {
		out[i] = w.Word
		out[i].Start = max(moment(w.span.Start, seg), last)
		out[i].End = max(moment(w.span.End, seg), out[i].Start)
		last = out[i].End
	}
	return out
}
