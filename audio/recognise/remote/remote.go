// Package remote recognises speech on another machine, through the API many speech
// recognisers offer: POST /audio/transcriptions as in OpenAI's published reference.
//
// Only stretches of speech are sent, packed several to an upload with silence between
// them, as FLAC, or as WAV where that is not taken. What comes back is kept piece by
// piece as soon as it is there, so that nothing is paid for twice.
package remote

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"sync"
	"time"

	"sidetone/audio"
	"sidetone/audio/recognise/kept"
	"sidetone/audio/transcript"
)

// Options of a remote recogniser. What is 0 is as the defaults say.
type Options struct {
	Endpoint *url.URL // as Endpoint reads it
	Model    string
	Key      string // sent as a bearer token; "" for none
	Prompt   string // words to expect
	Language string // ISO 639-1, "" for the recogniser to find out

	MaxBytes int // of sound in an upload, as WAV: FLAC is less. DefaultMaxBytes
	AtOnce   int // uploads under way at the same time. DefaultAtOnce
	Tries    int // of each upload. DefaultTries

	// Shelf keeps what comes back; nil keeps nothing.
	Shelf *kept.Shelf
	// Announce is told what will be sent before the first byte leaves. An error
	// sends nothing.
	Announce func(Plan) error
	// Progress is told how much of the sound has come back as words, in seconds, and
	// what is being waited for, "" for nothing out of the ordinary.
	Progress func(done, of float64, waiting string)

	// Patience is the longest wait a server may ask for. DefaultPatience
	Patience time.Duration
	// FirstWait is about how long is waited before the second try; each wait after it
	// is about twice the last. DefaultFirstWait
	FirstWait time.Duration
	// Deadline is how long a try may take, of an upload of no sound; twice the length
	// of the sound is added. DefaultDeadline
	Deadline time.Duration
}

// The defaults of Options. Five minutes of sound is less than any server's limit we
// know of, and little to send again.
const (
	DefaultMaxBytes  = 300 * audio.Rate * 2
	DefaultAtOnce    = 3
	DefaultTries     = 5
	DefaultPatience  = 2 * time.Minute
	DefaultFirstWait = time.Second
	DefaultDeadline  = time.Minute
)

// MostAtOnce is the most uploads at the same time: more would be rude.
const MostAtOnce = 16

// LeastBytes is the least MaxBytes: the longest stretch of speech must fit.
const LeastBytes = 30 * audio.Rate * 2

// Plan says what will be sent, and where. Sizes are of sound as WAV: at most that
// much is sent.
type Plan struct {
	Host      string // and port, where it is not the usual one
	Model     string
	Encrypted bool // by TLS
	Loopback  bool // it is this machine
	Stretches int  // of speech
	Seconds   float64
	Uploads   int
	Bytes     int
	MaxBytes  int // of an upload
	AtOnce    int
	Known     int // stretches that are known and not sent
}

// Endpoint reads the address of a recogniser: what stands before
// /audio/transcriptions, "https://host/v1".
func Endpoint(s string) (*url.URL, error) {
	u, err := url.Parse(strings.TrimSpace(s))
	switch {
	case err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https":
		return nil, fmt.Errorf("%q is no address of a recogniser: it looks like https://host/v1", s)
	case u.User != nil:
		return nil, errors.New("the address of a recogniser must hold no name or password: the key goes elsewhere")
	case u.RawQuery != "" || u.Fragment != "":
		return nil, fmt.Errorf("%q is no address of a recogniser: it ends before the question mark", s)
	}
	u.Path = strings.TrimSuffix(strings.TrimSuffix(u.Path, "/"), "/audio/transcriptions")
	return u, nil
}

// Loopback tells whether an address is this machine's own.
func Loopback(u *url.URL) bool {
	host := u.Hostname()
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// Recogniser is a recogniser elsewhere. It implements recognise.Later.
type Recogniser struct {
	opt    Options
	caller *caller
	spool  *spool

	mu     sync.Mutex
	pieces []piece
	known  int
	done   []transcript.Utterance
	back   float64 // seconds of sound that have come back
	alone  bool    // each piece goes by itself: the recogniser gives no times
}

// New makes a recogniser. Nothing is sent before Finish.
func New(opt Options) (*Recogniser, error) {
	if opt.Endpoint == nil || opt.Model == "" {
		return nil, errors.New("a remote recogniser needs an address and a model")
	}
	set := func(v *int, to int) {
		if *v == 0 {
			*v = to
		}
	}
	set(&opt.MaxBytes, DefaultMaxBytes)
	set(&opt.AtOnce, DefaultAtOnce)
	set(&opt.Tries, DefaultTries)
	for v, to := range map[*time.Duration]time.Duration{&opt.Patience: DefaultPatience, &opt.FirstWait: DefaultFirstWait, &opt.Deadline: DefaultDeadline} {
		if *v == 0 {
			*v = to
		}
	}
	if opt.MaxBytes < LeastBytes {
		return nil, fmt.Errorf("an upload of %d bytes is too small for a stretch of speech: allow %d at least", opt.MaxBytes, LeastBytes)
	}
	if opt.AtOnce < 1 || opt.AtOnce > MostAtOnce {
		return nil, fmt.Errorf("%d uploads at once: 1 to %d are possible", opt.AtOnce, MostAtOnce)
	}
	if opt.Announce == nil {
		opt.Announce = func(Plan) error { return nil }
	}
	if opt.Progress == nil {
		opt.Progress = func(float64, float64, string) {}
	}
	r := &Recogniser{opt: opt}
	r.caller = newCaller(opt, func(waiting string) { r.tell(waiting) })
	return r, nil
}

// Recognise implements recognise.Recogniser: it puts the segment aside, unless what
// was said in it is known.
func (r *Recogniser) Recognise(_ context.Context, seg audio.Segment) (transcript.Utterance, error) {
	none := transcript.Utterance{Start: seg.Start, End: seg.End(), Channel: seg.Channel}
	if len(seg.Samples) == 0 {
		return none, nil
	}
	p := piece{Piece: r.opt.Shelf.Piece(seg), samples: len(seg.Samples)}
	u, ok := r.opt.Shelf.Look(p.Piece)
	r.mu.Lock()
	defer r.mu.Unlock()
	if ok {
		r.known++
		return u, nil
	}
	if r.spool == nil {
		s, err := newSpool()
		if err != nil {
			return none, err
		}
		r.spool = s
	}
	var err error
	if p.at, err = r.spool.put(seg.Samples); err != nil {
		return none, err
	}
	r.pieces = append(r.pieces, p)
	return none, nil
}

// Finish implements recognise.Later: it sends what was put aside. When that fails,
// what came back before is on the shelf.
func (r *Recogniser) Finish(ctx context.Context) ([]transcript.Utterance, error) {
	if len(r.pieces) == 0 {
		return nil, nil
	}
	slices.SortFunc(r.pieces, byTime) // several goroutines gave them
	packs := r.pack()
	if err := r.opt.Announce(r.plan(packs)); err != nil {
		return nil, err
	}
	r.tell("")
	// The first goes alone: it shows which times and formats the recogniser gives.
	if err := r.send(ctx, packs[0]); err != nil {
		return nil, r.failed(ctx, err)
	}
	jobs := make(chan pack)
	trouble := make(chan error, r.opt.AtOnce)
	stop := make(chan struct{})
	var once sync.Once
	var wg sync.WaitGroup
	for range r.opt.AtOnce {
		wg.Go(func() {
			for p := range jobs {
				if err := r.send(ctx, p); err != nil {
					// What is under way is paid for: it may come home, but no more is begun.
					once.Do(func() { trouble <- err; close(stop) })
					return
				}
			}
		})
	}
feed:
	for _, p := range packs[1:] {
		select {
		case jobs <- p:
		case <-stop:
			break feed
		case <-ctx.Done():
			break feed
		}
	}
	close(jobs)
	wg.Wait()
	select {
	case err := <-trouble:
		return nil, r.failed(ctx, err)
	default:
	}
	if ctx.Err() != nil {
		return nil, context.Cause(ctx)
	}
	return r.done, nil
}

// failed says how far it came, and how to go on.
func (r *Recogniser) failed(ctx context.Context, err error) error {
	if ctx.Err() != nil {
		return context.Cause(ctx)
	}
	have := r.known + r.opt.Shelf.Tally().Heard
	if r.opt.Shelf == nil || have == 0 {
		return err
	}
	return fmt.Errorf("%w. Recognised and kept are %d of %d stretches of speech: the same command goes on from there", err, have, r.known+len(r.pieces))
}

// keep puts what was understood of pieces where it belongs.
func (r *Recogniser) keep(p pack, words [][]transcript.Word) {
	var us []transcript.Utterance
	seconds := 0.0
	for i, x := range p.pieces {
		us = append(us, r.opt.Shelf.Keep(x.Piece, words[i]))
		seconds += x.Length
	}
	r.mu.Lock()
	r.back += seconds
	for _, u := range us {
		if len(u.Words) > 0 {
			r.done = append(r.done, u)
		}
	}
	r.mu.Unlock()
	r.tell("")
}

func (r *Recogniser) tell(waiting string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	total := 0.0
	for _, p := range r.pieces {
		total += p.Length
	}
	r.opt.Progress(r.back, total, waiting)
}

// send has one upload recognised. One that comes back without times that could be
// told apart, or that is too large, is sent again in parts.
func (r *Recogniser) send(ctx context.Context, p pack) error {
	r.mu.Lock()
	alone := r.alone
	r.mu.Unlock()
	if alone && len(p.pieces) > 1 {
		return r.inParts(ctx, p, 1)
	}
	sound, err := r.spool.sound(p)
	if err != nil {
		return err
	}
	answer, err := r.caller.transcribe(ctx, sound)
	if errors.Is(err, errTooLarge) && len(p.pieces) > 1 {
		return r.inParts(ctx, p, (len(p.pieces)+1)/2)
	}
	if err != nil {
		return err
	}
	words, err := p.place(answer)
	if err != nil && len(p.pieces) > 1 {
		r.mu.Lock()
		r.alone = true
		r.mu.Unlock()
		return r.inParts(ctx, p, 1)
	}
	if err != nil { // one piece: what was said was said in it
		words = p.somewhere(answer)
	}
	r.keep(p, words)
	return nil
}

// inParts sends a pack as several of n pieces each.
func (r *Recogniser) inParts(ctx context.Context, p pack, n int) error {
	for part := range slices.Chunk(p.pieces, n) {
		if err := r.send(ctx, newPack(part)); err != nil {
			return err
		}
	}
	return nil
}

// Close frees what was put aside.
func (r *Recogniser) Close() error {
	err := r.opt.Shelf.Close()
	if r.spool != nil {
		err = errors.Join(err, r.spool.close())
	}
	r.caller.http.CloseIdleConnections()
	return err
}

// Tally tells what was known and what was heard: see kept.Shelf.
func (r *Recogniser) Tally() kept.Tally { return r.opt.Shelf.Tally() }

// Sent tells whether anything had to be sent.
func (r *Recogniser) Sent() bool { return len(r.pieces) > 0 }

var _ http.RoundTripper = (*listener)(nil)
