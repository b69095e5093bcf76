package main

import (
	"crypto/sha256"
	"fmt"
	"io"
	"os"

	"github.com/spf13/pflag"

	"sidetone/audio/models"
	"sidetone/audio/recognise"
	"sidetone/audio/recognise/kept"
	"sidetone/audio/recognise/remote"
)

// keepingFlags say what is done with the words that were recognised, for the
// next run.
type keepingFlags struct{ fresh, nothing bool }

func (k *keepingFlags) add(fl *pflag.FlagSet) {
	fl.BoolVar(&k.fresh, "fresh", false, "listen to everything anew, whatever was recognised on earlier runs")
	fl.BoolVar(&k.nothing, "keep-nothing", false, "keep no recognised words for the next run, and use none")
}

// through is a recogniser that asks open only for what is not kept, or the other
// itself when nothing is to be kept. settings tells what decides the words.
func (k keepingFlags) through(settings func() (string, error), open func() (recognise.Recogniser, error), stderr io.Writer) (recognise.Recogniser, error) {
	if k.nothing {
		return open()
	}
	store := openStore(stderr)
	if store == nil {
		return open()
	}
	s, err := settings()
	if err != nil {
		return nil, err
	}
	return kept.New(store, s, k.fresh, open), nil
}

// shelf is where the words of a recogniser are kept that keeps them itself, nil for
// nowhere.
func (k keepingFlags) shelf(settings string, stderr io.Writer) *kept.Shelf {
	if k.nothing {
		return nil
	}
	store := openStore(stderr)
	if store == nil {
		return nil
	}
	return kept.NewShelf(store, settings, k.fresh)
}

// openStore is the user's store of words, nil where there can be none.
func openStore(stderr io.Writer) *kept.Store {
	dir, err := kept.UserDir()
	if err != nil {
		return nil // a user without a cache folder keeps nothing
	}
	store, err := kept.Open(dir, kept.Limit)
	if err != nil {
		fmt.Fprintf(stderr, "The words cannot be kept for the next run: %v\n", err)
		return nil
	}
	return store
}

// embedded names all that decides what the embedded recogniser understands: this
// program, the files it listens with, the phrases it expects.
func embedded(set models.Set, phrases []recognise.Phrase) (string, error) {
	files, err := set.Digest()
	if err != nil {
		return "", err
	}
	program, err := ownDigest()
	if err != nil {
		return "", err
	}
	h := sha256.New()
	for _, p := range phrases {
		fmt.Fprintf(h, "%q %q %v\n", p.Text, p.Means, p.Odds)
	}
	return fmt.Sprintf("embedded %s %s %x", program, files, h.Sum(nil)), nil
}

// ownDigest names this build of the program.
func ownDigest() (string, error) {
	exe, err := os.Executable()
	if err != nil {
		return "", err
	}
	f, err := os.Open(exe)
	if err != nil {
		return "", err
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "", err
	}
	return fmt.Sprintf("%x", h.Sum(nil)), nil
}

// tell says what was known from earlier runs, and what could not be kept.
func tell(r recognise.Recogniser, stderr io.Writer) {
	k, ok := r.(interface{ Tally() kept.Tally })
	if !ok {
		return
	}
	t := k.Tally()
	away, ok := r.(*remote.Recogniser)
	if t.Known > 0 && !(ok && away.Sent()) { // that was said before it was sent
		fmt.Fprintf(stderr, "%d of %d stretches of speech were recognised on an earlier run (--fresh listens anew).\n", t.Known, t.Known+t.Heard)
	}
	if t.Damaged > 0 {
		fmt.Fprintf(stderr, "%d kept on an earlier run were damaged and were listened to again.\n", t.Damaged)
	}
	if t.Trouble != nil {
		fmt.Fprintf(stderr, "The words cannot be kept for the next run: %v\n", sayWhy(t.Trouble))
	}
}
