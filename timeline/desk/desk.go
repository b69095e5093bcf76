package desk

import (
	"context"
	"crypto/rand"
	"io"
	"net"
	"net/http"
	"sync"
	"time"

	"sidetone/audio/transcript"
	"sidetone/timeline"
	"sidetone/timeline/logbook"
)

// Ears listen for the desk, which knows nothing of audio itself.
type Ears interface {
	// Listen hears a lesson's recording in one or more files, or reads a file of words.
	Listen(ctx context.Context, l logbook.Lesson, paths []string, tell func(Progress)) (*Heard, error)
	// Sound writes all of a recording as a small sound that browsers play; second t of
	// it is second t of the recording. ext is the ending of its kind: ".mp3".
	Sound(ctx context.Context, paths []string, w io.Writer) (ext string, err error)
}

// Heard is what Ears give of a recording. Peaks are those of equal stretches of all
// of it; none when it is a file of words.
type Heard struct {
	Recording timeline.Recording
	Words     *transcript.Transcript
	Notes     []string
	Peaks     [][2]float32
}

// Options are what a desk is made of.
type Options struct {
	Book *logbook.Book
	Ears Ears
	// Judge judges lessons by their aircraft (Aircraft, Source) and the procedures asked
	// for (Procedures); no more of the lesson is given. It is asked once for each.
	Judge func(l logbook.Lesson) (*timeline.Judge, error)
	// Aircraft are the ids of the built-in ones.
	Aircraft []string
	// Hosts are what the Host header may say: "127.0.0.1:8017".
	Hosts []string
	// Address is that of the page, for others who find the library open; "" tells nobody.
	Address string
	// Password is asked for when it is not "".
	Password string
	// Version is that of the program.
	Version string
	// Copy keeps a copy of recordings named on the command line as well.
	Copy bool
	// Largest is how large an upload may be in bytes; 0 is DefaultLargest.
	Largest int64
	// Look is how often it is looked at what other programs do to the library; 0 is
	// every few seconds.
	Look time.Duration
	// Log is told of what went wrong here, nil for nobody.
	Log func(string)
}

// DefaultLargest is how large an upload may be: a day of 48 kHz stereo at 24 bit.
const DefaultLargest = 25 << 30

// Desk is the pages over one logbook. Its background work runs until Close.
type Desk struct {
	opt    Options
	book   *logbook.Book
	token  string
	me     string // as a listener
	hub    hub
	queue  queue
	views  views
	judges judges
	knocks knocks
	lost   lost

	stopWatching func()

	mu      sync.Mutex
	offered map[string]Offer // recordings of the command line, by path
}

// Offer is a recording named on the command line: those of its files and what is known
// of it.
type Offer struct {
	Paths []string
	About logbook.Lesson
}

// Built says whether the program holds the bundled pages; make build puts them in.
func Built() bool { return built() }

// New makes a desk and begins to hear the lessons that wait for it.
func New(ctx context.Context, opt Options) (*Desk, error) {
	if opt.Largest == 0 {
		opt.Largest = DefaultLargest
	}
	if opt.Log == nil {
		opt.Log = func(string) {}
	}
	d := &Desk{opt: opt, book: opt.Book, token: rand.Text(), me: rand.Text(), offered: map[string]Offer{}}
	d.queue.start(d)
	lessons, err := d.book.Lessons(ctx)
	if err != nil {
		d.Close()
		return nil, err
	}
	known := map[int64]logbook.Lesson{}
	for i := len(lessons) - 1; i >= 0; i-- {
		known[lessons[i].ID] = lessons[i]
		if lessons[i].Stage == logbook.Waiting {
			d.queue.add(job{lessons[i].ID, hearing})
		}
	}
	if opt.Address != "" {
		if err := d.book.SayOpen(d.me, opt.Address); err != nil {
			d.Close()
			return nil, err
		}
	}
	watching, stop := context.WithCancel(context.Background())
	stopped := make(chan struct{})
	go func() {
		defer close(stopped)
		d.watch(watching, known)
	}()
	d.stopWatching = func() {
		stop()
		<-stopped
	}
	return d, nil
}

// Close stops the background work and waits for it.
func (d *Desk) Close() {
	if d.stopWatching != nil {
		d.stopWatching()
	}
	d.book.SayClosed(d.me)
	d.queue.stop()
	d.hub.close()
}

// Handler serves the desk.
func (d *Desk) Handler() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", d.libraryPage)
	mux.HandleFunc("GET /lessons", d.list)
	mux.HandleFunc("POST /lessons", d.takeIn)
	mux.HandleFunc("POST /lessons/import", d.takeOver)
	mux.HandleFunc("GET /lessons/{id}", d.lessonPage("lesson.tmpl.html"))
	mux.HandleFunc("GET /lessons/{id}/print", d.lessonPage("print.tmpl.html"))
	mux.HandleFunc("GET /lessons/{id}/state", d.state)
	mux.HandleFunc("GET /lessons/{id}/peaks", d.peaks)
	mux.HandleFunc("GET /lessons/{id}/sound", d.sound)
	mux.HandleFunc("POST /lessons/{id}/facts", d.append)
	mux.HandleFunc("POST /lessons/{id}/recording", d.bringBack)
	mux.HandleFunc("GET /lessons/{id}/removal", d.removal)
	mux.HandleFunc("POST /lessons/{id}/remove", d.remove)
	for kind, e := range exports {
		mux.HandleFunc("GET /lessons/{id}/export."+kind, d.export(e))
	}
	mux.HandleFunc("GET /events", d.events)
	mux.Handle("GET /assets/", http.StripPrefix("/assets/", noLists(http.FileServerFS(assets()))))
	mux.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		refuse(w, http.StatusNotFound, "There is no such page here; go back to the library.")
	})
	return d.guard(mux)
}

// Serve serves until ctx ends, and gives pages a moment to finish.
func (d *Desk) Serve(ctx context.Context, l net.Listener) error {
	srv := &http.Server{
		Handler:           d.Handler(),
		ReadHeaderTimeout: 10 * time.Second,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    64 << 10,
	}
	srv.RegisterOnShutdown(d.hub.close)
	done := make(chan error, 1)
	go func() { done <- srv.Serve(l) }()
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
	}
	grace, cancel := context.WithTimeout(context.WithoutCancel(ctx), 3*time.Second)
	defer cancel()
	if err := srv.Shutdown(grace); err != nil {
		return srv.Close()
	}
	return nil
}
