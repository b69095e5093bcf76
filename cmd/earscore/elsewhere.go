package main

import (
	"context"
	"fmt"
	"os"
	"strings"

	"sidetone/audio/hear"
	"sidetone/audio/models"
	"sidetone/audio/recognise/remote"
	"sidetone/audio/transcript"
	"sidetone/callouts"
	"sidetone/cmd/internal/expect"
)

// away listens with a recogniser elsewhere, as debrief --recogniser remote does.
type away struct {
	set      models.Set
	opt      remote.Options
	cleaning hear.Cleaning
}

func newRemote(set models.Set, lexicon *callouts.Lexicon, o options) (*away, error) {
	at, err := remote.Endpoint(o.endpoint)
	if err != nil {
		return nil, err
	}
	prompt, _, err := expect.Prompt(lexicon)
	if err != nil {
		return nil, err
	}
	return &away{set, remote.Options{Endpoint: at, Model: o.model, Key: os.Getenv(remote.EnvKey), Prompt: prompt, Language: "en"}, o.cleaning}, nil
}

func (*away) close() error { return nil }

func (a *away) hear(ctx context.Context, lessons []*made) error {
	for _, m := range lessons {
		r, err := remote.New(a.opt)
		if err != nil {
			return err
		}
		err = m.listen(ctx, a.set, r, options{workers: 1, cleaning: a.cleaning})
		if e := r.Close(); err == nil {
			err = e
		}
		if err != nil {
			return err
		}
		fmt.Fprint(os.Stderr, ".")
	}
	return nil
}

// captioned takes the words of the script as captions have them: nothing is misheard,
// but only lines have times, and nobody knows the channels.
type captioned struct{}

func (captioned) close() error { return nil }

func (captioned) hear(_ context.Context, lessons []*made) error {
	for _, m := range lessons {
		var b strings.Builder
		if err := transcript.WriteSRT(&b, script(m)); err != nil {
			return err
		}
		words, err := transcript.Read(m.name+".srt", strings.NewReader(b.String()))
		if err != nil {
			return err
		}
		m.words, m.channels = words, []int{0}
	}
	return nil
}
