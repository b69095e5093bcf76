package callouts

import (
	"strings"

	"sidetone/callouts/english"

	"sidetone/audio/transcript"
)

// token is a word of the stream.
type token struct {
	text       string // lower case, without punctuation
	raw        string
	start, end float64
	confidence float64
	utterance  int
	estimated  bool // the times are
	comma      bool // a comma follows
	stop       bool // a sentence ends
	question   bool // with a question mark
	broken     bool // no call runs on past this word
	kind       english.Kind
}

// stream is what was said on one channel, end to end. Calls may run from one
// utterance into the next when hardly a pause lies between.
type stream struct {
	tokens []token
	raw    []string
	broken []bool
	light  []bool
}

// fill are words that people put into any call: "carb heat is now on".
var fill = set("is", "are", "now", "comes", "come", "coming", "goes", "going", "the", "a", "all", "uh", "um", "to", "at", "my", "our", "your", "it", "here", "just")

// Pauses, in seconds.
const (
	joinGap   = 0.6 // utterances closer than this are one breath
	wordGap   = 2.0 // words further apart than this are not one call
	clauseGap = 0.5 // a pause this long parts clauses
)

// streams splits a transcript by channel.
func streams(t *transcript.Transcript) []*stream {
	var out []*stream
	of := map[int]*stream{}
	last := map[int]int{}
	for i, u := range t.Utterances {
		s := of[u.Channel]
		if s == nil {
			s = &stream{}
			of[u.Channel] = s
			out = append(out, s)
		}
		words := u.Words
		if len(words) == 0 {
			words = spread(u)
		}
		if len(words) == 0 {
			continue
		}
		if n := len(s.tokens); n > 0 {
			prev := t.Utterances[last[u.Channel]]
			if words[0].Start-s.tokens[n-1].end >= joinGap || prev.Speaker != u.Speaker {
				s.tokens[n-1].broken = true
			}
		}
		for _, w := range words {
			s.add(w, i)
		}
		last[u.Channel] = i
	}
	for _, s := range out {
		s.broken, s.light = make([]bool, len(s.tokens)), make([]bool, len(s.tokens))
		for i := range s.tokens {
			s.light[i] = fill[s.tokens[i].text]
			s.broken[i] = s.tokens[i].broken
		}
	}
	return out
}

func (s *stream) add(w transcript.Word, utterance int) {
	if strings.TrimSpace(w.Text) == "" {
		return
	}
	t := token{raw: w.Text, start: w.Start, end: max(w.Start, w.End), confidence: w.Confidence, utterance: utterance, estimated: w.Estimated}
	t.text, t.comma, t.stop = Plain(w.Text)
	t.question = strings.HasSuffix(tail(w.Text), "?")
	t.kind = english.KindOf(t.text)
	if n := len(s.tokens); n > 0 && s.tokens[n-1].utterance == utterance && t.start-s.tokens[n-1].end > wordGap {
		s.tokens[n-1].broken = true
	}
	s.tokens = append(s.tokens, t)
	s.raw = append(s.raw, w.Text)
}

func tail(raw string) string { return strings.TrimRight(raw, " \t\"'”’)]") }

// Plain is a word in small letters without punctuation, and whether a comma or the
// end of a sentence follows it.
func Plain(raw string) (text string, comma, stop bool) {
	tail := tail(raw)
	switch {
	case strings.HasSuffix(tail, "..."), strings.HasSuffix(tail, "…"):
		comma = true // a pause, not the end of a sentence
	case strings.HasSuffix(tail, "?"), strings.HasSuffix(tail, "."), strings.HasSuffix(tail, "!"), strings.HasSuffix(tail, ";"):
		stop = true
	case strings.HasSuffix(tail, ","), strings.HasSuffix(tail, ":"), strings.HasSuffix(tail, "-"), strings.HasSuffix(tail, "–"), strings.HasSuffix(tail, "—"):
		comma = true
	}
	text = strings.ToLower(strings.Trim(raw, " \t\"'“”‘’(),.;:?!…-–—[]"))
	return strings.ReplaceAll(text, "’", "'"), comma, stop
}

// spread gives words their times when only the utterance has them.
func spread(u transcript.Utterance) []transcript.Word {
	fields := strings.Fields(u.Text)
	letters := 0
	for _, f := range fields {
		letters += len(f) + 1
	}
	out := make([]transcript.Word, len(fields))
	at := u.Start
	for i, f := range fields {
		d := (u.End - u.Start) * float64(len(f)+1) / float64(letters)
		out[i] = transcript.Word{Text: f, Start: at, End: at + d, Confidence: 1, Estimated: len(fields) > 1}
		at += d
	}
	return out
}

// heard is the words [first, end) as they were recognised.
func (s *stream) heard(first, end int) string {
	return strings.Join(s.raw[first:end], " ")
}

// pause is the silence after word i, in seconds.
func (s *stream) pause(i int) float64 {
	if i < 0 || i+1 >= len(s.tokens) {
		return 1e9
	}
	return s.tokens[i+1].start - s.tokens[i].end
}

func (s *stream) kind(i int) english.Kind { return s.tokens[i].kind }

// text is the words [first, end), plain.
func (s *stream) text(first, end int) []string {
	out := make([]string, 0, end-first)
	for i := first; i < end; i++ {
		out = append(out, s.tokens[i].text)
	}
	return out
}
