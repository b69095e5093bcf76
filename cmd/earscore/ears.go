package main

import (
	"context"
	"fmt"
	"os"
	"slices"
	"strings"
	"time"

	"sidetone/audio"
	"sidetone/audio/hear"
	"sidetone/audio/models"
	"sidetone/audio/recognise"
	"sidetone/audio/recognise/onnx"
	"sidetone/audio/transcript"
	"sidetone/callouts"
	"sidetone/cmd/internal/expect"
)

// ears turn the recordings of lessons into words.
type ears interface {
	hear(ctx context.Context, lessons []*made) error
	close() error
}

// embedded listens with the program's own recogniser, as debrief does.
type embedded struct {
	set        models.Set
	recogniser recognise.Recogniser
	options
}

func newEmbedded(set models.Set, lexicon *callouts.Lexicon, o options, weighed func(onnx.Candidate), read func(onnx.WordEvidence)) (*embedded, error) {
	listening, err := expect.Listening(lexicon)
	if err != nil {
		return nil, err
	}
	listening.Weighed, listening.Read = weighed, read
	r, err := onnx.New(set, listening)
	if err != nil {
		return nil, err
	}
	return &embedded{set, r, o}, nil
}

func (e *embedded) close() error { return e.recogniser.Close() }

func (e *embedded) hear(ctx context.Context, lessons []*made) error {
	for _, m := range lessons {
		if err := m.listen(ctx, e.set, e.recogniser, e.options); err != nil {
			return err
		}
		fmt.Fprint(os.Stderr, ".")
	}
	return nil
}

// listen takes a lesson in with a recogniser, its speakers known where each has
// a channel.
func (m *made) listen(ctx context.Context, set models.Set, r recognise.Recogniser, o options) error {
	speakers := map[int]string{}
	for c, who := range m.seats {
		speakers[c] = who
	}
	var taught []hear.Voice
	if o.teach > 0 && len(m.seats) < 2 {
		taught = m.lessons(o.teach)
	}
	began := time.Now()
	res, err := hear.Listen(ctx, m.audio, hear.Options{
		Recogniser: r,
		Detectors:  hear.Silero(set.Runtime, set.VAD),
		Speakers:   speakers,
		Workers:    o.workers,
		Cleaning:   o.cleaning,
		Voices:     taught,
	})
	if err != nil {
		return fmt.Errorf("%s: %w", m.audio, err)
	}
	m.took += time.Since(began).Seconds()
	m.words, m.channels, m.levels = res.Transcript, res.Layouts[0].Use, res.Levels
	return nil
}

// reader takes the words of the script themselves: nothing is misheard.
type reader struct{}

func (reader) close() error { return nil }

func (reader) hear(_ context.Context, lessons []*made) error {
	for _, m := range lessons {
		m.words = script(m)
		m.channels = []int{0}
		if len(m.seats) == 2 {
			m.channels = []int{0, 1}
		}
	}
	return nil
}

// script is what a perfect recogniser would give for a lesson. What is heard on
// both channels is given once, on the first.
func script(m *made) *transcript.Transcript {
	t := &transcript.Transcript{}
	for _, l := range m.truth.Lines {
		u := transcript.Utterance{Start: l.Start, End: l.End, Channel: max(0, l.Channel), Text: l.Text}
		if l.Channel >= 0 {
			u.Speaker = l.Speaker
		}
		for _, w := range l.Words {
			u.Words = append(u.Words, transcript.Word{Text: w.Text, Start: w.Start, End: w.End, Confidence: 1})
		}
		t.Utterances = append(t.Utterances, u)
	}
	slices.SortStableFunc(t.Utterances, func(a, b transcript.Utterance) int {
		switch {
		case a.Start < b.Start:
			return -1
		case a.Start > b.Start:
			return 1
		}
		return 0
	})
	return t
}

// passages are what was said and heard in a lesson, channel by channel where
// each has its own voice, and whose voice said each word of the reference.
func (m *made) passages() (out []passage, voices [][]string) {
	several := len(m.channels) > 1
	for _, c := range m.channels {
		p := passage{name: fmt.Sprintf("%s at %g dB", m.name, m.snr)}
		var voice []string
		for _, l := range m.truth.Lines {
			if several && l.Channel >= 0 && l.Channel != c {
				continue
			}
			for _, w := range plain(strings.Fields(l.Text)) {
				p.ref = append(p.ref, w)
				voice = append(voice, l.Voice)
			}
		}
		for _, u := range m.words.Utterances {
			if several && u.Channel != c {
				continue
			}
			for _, w := range u.Words {
				p.hyp = append(p.hyp, plain([]string{w.Text})...)
			}
		}
		out, voices = append(out, p), append(voices, voice)
		if !several {
			break
		}
	}
	return out, voices
}

// collector takes the segments of a lesson without recognising them, for those
// who do that later and all at once. The utterance it gives has one word, the
// number of its segment.
type collector struct {
	take func(seg audio.Segment) (word string, err error)
}

func (c collector) Recognise(_ context.Context, seg audio.Segment) (transcript.Utterance, error) {
	word, err := c.take(seg)
	return transcript.Utterance{Start: seg.Start, End: seg.End(), Channel: seg.Channel, Text: word,
		Words: []transcript.Word{{Text: word, Start: seg.Start, End: seg.End(), Confidence: 1}}}, err
}

func (c collector) Close() error { return nil }
