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
	meant []int // the way each is meant, train.Any where that is not told
}

// ways are those a call can be meant, but for being talked about: that makes none.
var ways = []string{string(callouts.Done), string(callouts.Ordered), string(callouts.Asked), string(callouts.Announced), string(callouts.Denied)}

type data struct {
	classes []string
	learn   []sentence   // each by itself
	lessons [][]sentence // one after the other
	held    []sentence   // whole lessons are one sentence
	apart   []part
	talk    []sentence
	phrases [][]sentence // by callout
	grammar *grammar
	drawn   int // sentences of the grammar for each callout in an epoch
}

// holdOut is how many sentences there are to one that is held out, to fit the
// probabilities by.
const holdOut = 12

// part is what is reported on and not learnt from.
type part struct {
	name string
	all  []sentence
}

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
	for _, f := range slices.Concat(files, o.apartFiles) {
		lessons, err := readMarked(f, d.classes)
		if err != nil {
			return nil, err
		}
		switch {
		case slices.Contains(o.without, filepath.Base(f)), slices.Contains(o.apartFiles, f):
			p := part{name: filepath.Base(f)}
			for _, l := range lessons {
				p.all = append(p.all, joined(l))
			}
			d.apart = append(d.apart, p)
		default:
			for i, l := range lessons {
				switch {
				case i%holdOut == 0:
					d.held = append(d.held, joined(l))
				case len(l) == 1:
					d.learn = append(d.learn, l...)
				default:
					d.lessons = append(d.lessons, l)
				}
			}
		}
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
	s.add(text, class, train.Any)
	return s
}

func (s *sentence) add(text string, class, meant int) {
	for raw := range strings.FieldsSeq(text) {
		text, comma, stop := callouts.Plain(raw)
		question := strings.HasSuffix(raw, "?")
		if text == "" {
			// Punctuation right behind a mark belongs to its last word.
			if n := len(s.words); n > 0 {
				s.words[n-1].Comma = s.words[n-1].Comma || comma
				s.words[n-1].Stop = s.words[n-1].Stop || stop
				s.words[n-1].Question = s.words[n-1].Question || question
			}
			continue
		}
		s.words = append(s.words, meaning.Word{Text: text, Comma: comma, Stop: stop, Question: question})
		s.class, s.meant = append(s.class, class), append(s.meant, meant)
	}
}

// readMarked reads sentences whose calls are marked, each word with its class, by
// lesson. In files that are no lessons each sentence stands for itself.
func readMarked(file string, classes []string) ([][]sentence, error) {
	f, err := lesson.ReadMarked(file)
	if err != nil {
		return nil, err
	}
	var out [][]sentence
	for _, l := range f.Lines {
		class, meant := make([]int, len(l.Words)), make([]int, len(l.Words))
		for i := range meant {
			meant[i] = train.Any
		}
		for _, c := range l.Calls {
			for i := c.From; i < c.To; i++ {
				class[i] = slices.Index(classes, c.ID)
				if f.Stances {
					meant[i] = slices.Index(ways, string(c.Stance))
				}
			}
		}
		var s sentence
		for i, w := range l.Words {
			s.add(w, class[i], meant[i])
		}
		if l.First || !f.Lessons {
			out = append(out, nil)
		}
		out[len(out)-1] = append(out[len(out)-1], s)
	}
	return out, nil
}

// joined are sentences one after the other, each in a breath.
func joined(list []sentence) sentence {
	var out sentence
	for _, s := range list {
		out.words = append(out.words, s.words...)
		out.class, out.meant = append(out.class, s.class...), append(out.meant, s.meant...)
		if n := len(out.words); n > 0 {
			out.words[n-1].Breath = true
		}
	}
	return out
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
	for _, list := range slices.Concat([][]sentence{d.learn, d.talk, drawn}, d.lessons, d.phrases) {
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

// epoch is what is learnt from once: pieces of the lessons, and all other sentences and
// some phrases in any order; some joined to one breath, some spoilt as recognisers do.
func (d *data) epoch(v *vocabulary, phrases int, rng *rand.Rand) []train.Example {
	pool := slices.Concat(d.learn, d.talk, d.drawnWith(rng, d.drawn))
	for _, list := range d.phrases {
		for range min(phrases, len(list)) {
			pool = append(pool, list[rng.IntN(len(list))])
		}
	}
	var pieces [][]sentence
	for _, l := range d.lessons {
		if rng.Float64() < strangers {
			pool = append(pool, l...)
			continue
		}
		for at := 0; at < len(l); {
			n := min(len(l)-at, 2+rng.IntN(6))
			pieces = append(pieces, l[at:at+n])
			at += n
		}
	}
	rng.Shuffle(len(pool), func(i, j int) { pool[i], pool[j] = pool[j], pool[i] })
	for len(pool) > 0 {
		n := 1
		for n < min(5, len(pool)) && rng.Float64() < 0.5 {
			n++
		}
		pieces, pool = append(pieces, pool[:n]), pool[n:]
	}
	rng.Shuffle(len(pieces), func(i, j int) { pieces[i], pieces[j] = pieces[j], pieces[i] })
	var out []train.Example
	for _, p := range pieces {
		if ex := v.example(breathed(p, rng), rng); len(ex) > 0 {
			out = append(out, ex)
		}
	}
	return out
}

// strangers is the share of lessons whose sentences are learnt from among others than
// their own, lest what is said before were believed too much.
const strangers = 0.25

// breathed is what sentences may look like when they are heard: recognisers leave
// punctuation out, people breathe in the middle and not at the end.
func breathed(list []sentence, rng *rand.Rand) sentence {
	var out sentence
	for _, s := range list {
		bare := rng.Float64() < 0.35
		for i, w := range s.words {
			if (w.Comma || w.Stop) && i+1 < len(s.words) {
				w.Breath = rng.Float64() < 0.2
			}
			if i+1 == len(s.words) {
				w.Breath = rng.Float64() < 0.8
				w.Stop = w.Stop || rng.Float64() < 0.7
			}
			if bare {
				w.Comma, w.Stop, w.Question = false, false, false
			}
			out.words, out.class, out.meant = append(out.words, w), append(out.class, s.class[i]), append(out.meant, s.meant[i])
		}
	}
	return out
}

// example is a sentence for learning, some of its words lost or misheard.
func (v *vocabulary) example(s sentence, rng *rand.Rand) train.Example {
	words := make([]meaning.Word, 0, len(s.words))
	var class, meant []int
	for i, w := range s.words {
		switch r := rng.Float64(); {
		case r < 0.03:
			continue // not heard
		case r < 0.05:
			w.Text = v.words[rng.IntN(len(v.words))] // misheard
		}
		words, class, meant = append(words, w), append(class, s.class[i]), append(meant, s.meant[i])
	}
	out := make(train.Example, len(words))
	for i, w := range words {
		out[i] = train.Token{Row: meaning.Row(v.rows, w.Text), Marks: meaning.MarksOf(words, i), Class: class[i], Meant: meant[i]}
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
