package main

import (
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"

	"sidetone/callouts"
	"sidetone/callouts/meaning"
	"sidetone/callouts/meaning/train"
	"sidetone/cmd/internal/lesson"
)

// sentence is what is said in one breath, each word with the callout it belongs to.
type sentence struct {
	words []meaning.Word
	class []int
}

type data struct {
	classes           []string
	learn, held, test []sentence
	talk              []sentence
	phrases           [][]sentence // by callout
	grammar           *grammar
	drawn             int // sentences of the grammar for each callout in an epoch
}

// holdOut is how many sentences there are to one that is held out, to fit the
// probabilities by.
const holdOut = 12

func gather(o options) (*data, error) {
	lexicon, err := callouts.Builtin()
	if err != nil {
		return nil, err
	}
	d := &data{classes: []string{""}, drawn: o.drawn}
	quantity := []callouts.Quantity{""}
	for _, c := range lexicon.Callouts {
		d.classes = append(d.classes, c.ID)
		quantity = append(quantity, c.Quantity)
	}
	if d.grammar, err = readGrammar(filepath.Join(o.project, "testdata/meanings/grammar.txt"), d.classes, quantity); err != nil {
		return nil, err
	}
	d.phrases = make([][]sentence, len(d.classes))
	expected, err := lexicon.Expected()
	if err != nil {
		return nil, err
	}
	for _, e := range expected {
		id, _, _ := strings.Cut(e.Means, "=")
		if c := slices.Index(d.classes, id); c > 0 {
			d.phrases[c] = append(d.phrases[c], all(e.Phrase, c))
		}
	}
	rng := rand.New(rand.NewPCG(o.how.Seed, 2))
	for c, ways := range d.grammar.ways {
		if len(ways) > 0 {
			d.held = append(d.held, d.grammar.sentences(c, 2, rng)...)
		}
	}
	files, err := filepath.Glob(filepath.Join(o.project, "testdata/meanings/lot-*.txt"))
	if err != nil {
		return nil, err
	}
	for _, f := range files {
		some, err := readMarked(f, d.classes)
		if err != nil {
			return nil, err
		}
		for i, s := range some {
			if i%holdOut == 0 {
				d.held = append(d.held, s)
			} else {
				d.learn = append(d.learn, s)
			}
		}
	}
	if d.test, err = readMarked(filepath.Join(o.project, o.test), d.classes); err != nil {
		return nil, err
	}
	said, err := lesson.ReadSentences(filepath.Join(o.project, "testdata/wordings.yaml"), filepath.Join(o.project, "testdata/stances-tuning.yaml"))
	if err != nil {
		return nil, err
	}
	for _, s := range said {
		if s.ID == "" {
			d.talk = append(d.talk, all(s.Say, 0))
		}
	}
	return d, nil
}

// all is a sentence whose words are all of one class.
func all(text string, class int) sentence {
	var s sentence
	s.add(text, class)
	return s
}

func (s *sentence) add(text string, class int) {
	for raw := range strings.FieldsSeq(text) {
		text, comma, stop := callouts.Plain(raw)
		if text == "" {
			// Punctuation right behind a mark belongs to its last word.
			if n := len(s.words); n > 0 {
				s.words[n-1].Comma = s.words[n-1].Comma || comma
				s.words[n-1].Stop = s.words[n-1].Stop || stop
			}
			continue
		}
		s.words = append(s.words, meaning.Word{Text: text, Comma: comma, Stop: stop})
		s.class = append(s.class, class)
	}
}

// readMarked reads sentences whose calls are marked, each word with its class.
func readMarked(file string, classes []string) ([]sentence, error) {
	lines, err := lesson.ReadMarked(file)
	if err != nil {
		return nil, err
	}
	var out []sentence
	for _, l := range lines {
		class := make([]int, len(l.Words))
		for _, c := range l.Calls {
			for i := c.From; i < c.To; i++ {
				class[i] = slices.Index(classes, c.ID)
			}
		}
		var s sentence
		for i, w := range l.Words {
			s.add(w, class[i])
		}
		out = append(out, s)
	}
	return out, nil
}

func (d *data) count() int {
	n := 0
	for _, p := range d.phrases {
		n += len(p)
	}
	return n
}

// words are those of all sentences, each once.
func (d *data) words() []string {
	seen := map[string]bool{}
	rng := rand.New(rand.NewPCG(1, 3))
	drawn := d.drawnWith(rng, 400)
	for _, list := range slices.Concat([][]sentence{d.learn, d.talk, drawn}, d.phrases) {
		for _, s := range list {
			for _, w := range s.words {
				seen[w.Text] = true
			}
		}
	}
	out := make([]string, 0, len(seen))
	for w := range seen {
		out = append(out, w)
	}
	slices.Sort(out)
	return out
}

// epoch is what is learnt from once: all sentences and some phrases, some joined to
// one breath, some spoilt as recognisers do.
func (d *data) epoch(v *vocabulary, phrases int, rng *rand.Rand) []train.Example {
	pool := slices.Concat(d.learn, d.talk, d.drawnWith(rng, d.drawn))
	for _, list := range d.phrases {
		for range min(phrases, len(list)) {
			pool = append(pool, list[rng.IntN(len(list))])
		}
	}
	rng.Shuffle(len(pool), func(i, j int) { pool[i], pool[j] = pool[j], pool[i] })
	var out []train.Example
	for len(pool) > 0 {
		n := 1
		for n < min(4, len(pool)) && rng.Float64() < 0.4 {
			n++
		}
		bare := rng.Float64() < 0.35 // recognisers leave punctuation out
		var e sentence
		for _, s := range pool[:n] {
			if k := len(e.words); k > 0 && !bare && rng.Float64() < 0.7 {
				e.words[k-1].Stop = true
			}
			e.words = append(e.words, s.words...)
			e.class = append(e.class, s.class...)
		}
		pool = pool[n:]
		if ex := v.example(e, bare, rng); len(ex) > 0 {
			out = append(out, ex)
		}
	}
	return out
}

// example is a sentence for learning, some of its words lost or misheard.
func (v *vocabulary) example(s sentence, bare bool, rng *rand.Rand) train.Example {
	words := make([]meaning.Word, 0, len(s.words))
	class := make([]int, 0, len(s.words))
	for i, w := range s.words {
		if bare {
			w.Comma, w.Stop = false, false
		}
		switch r := rng.Float64(); {
		case r < 0.03:
			continue // not heard
		case r < 0.05:
			w.Text = v.words[rng.IntN(len(v.words))] // misheard
		}
		words, class = append(words, w), append(class, s.class[i])
	}
	out := make(train.Example, len(words))
	for i, w := range words {
		out[i] = train.Token{Row: meaning.Row(v.rows, w.Text), Marks: meaning.MarksOf(words, i), Class: class[i]}
	}
	return out
}

// drawnWith are sentences of the grammar, many of each callout and as many again of
// talk for every four callouts.
func (d *data) drawnWith(rng *rand.Rand, many int) []sentence {
	var out []sentence
	for c, ways := range d.grammar.ways {
		n := many
		if c == 0 {
			n = many * len(d.classes) / 4
		}
		if len(ways) > 0 {
			out = append(out, d.grammar.sentences(c, n, rng)...)
		}
	}
	return out
}
