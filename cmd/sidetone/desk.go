package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"

	"github.com/spf13/cobra"

	"sidetone/audio"
	"sidetone/audio/hear"
	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/rules/library"
	"sidetone/timeline"
	"sidetone/timeline/desk"
	"sidetone/timeline/logbook"
)

// deskFlags are what the user asked of desk.
type deskFlags struct {
	listen, library, password string
	hosts                     []string
	beyond, open, copy        bool
	together                  bool
	title, date               string
	student, instructor       string
	aircraft                  string
	procedures                []string
	largest                   int64
	hearing                   hearingFlags
}

func newDesk() *cobra.Command {
	var f deskFlags
	cmd := &cobra.Command{
		Use:   "desk [RECORDING...]",
		Short: "Sit down together over a library of lessons, in the browser",
		Long: `desk opens a local web page over a library of lessons, for an instructor and a
student to look at side by side: listen to any call, accept or overrule a verdict,
put a word right and see the judgement follow, add notes and what to work on next.
Each RECORDING is added as a lesson and listened to in the background; with
--together they are the parts of one lesson. More are added by dropping them on the
page.

The library lies in the user's data folder (sidetone in $XDG_DATA_HOME or
~/.local/share), or where --library says. Recordings stay where they are, unless
--copy is given; those dropped on the page are copied, since a browser does not say
where they lie. A recording that was moved is found again by its content, in the
folders recordings were seen in, and in those beside and below them.

While a desk is open over the library, "sidetone desk RECORDING" puts the recording into
it, and the desk that is open listens to it.

A procedure or an aircraft of your own is kept with the lesson as it was when the
lesson was added.

A lesson is removed on its page, in the list, or by "sidetone desk remove".

Everything people write is appended with author and time, and can be taken back; it is
safe on the disk before the page says so.

The page is for this machine alone, though anybody with an account on it can open
it. --beyond-this-machine with --password-file and --listen opens it to the network:
password and sound then travel unencrypted, so do that only in a network you trust.

A training aid for use on the ground. Recording people needs their consent under
local law. Audio stays on this machine, unless you name a remote recogniser.`,
		Example: `  sidetone desk
  sidetone desk lesson.wav --student Sam --instructor Robin --open
  sidetone desk part1.wav part2.wav --together
  sidetone desk lesson.wav --procedure ours-flow.yaml --aircraft ours.yaml
  sidetone desk --listen 192.168.1.20:8017 --beyond-this-machine --password-file pass.txt
  sidetone desk list`,
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			return runDesk(cmd.Context(), args, f, cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	cmd.AddCommand(newDeskList(), newDeskRemove())
	fl := cmd.Flags()
	fl.StringVar(&f.listen, "listen", "127.0.0.1:8017", "address and port of the page; port 0 is any that is free")
	fl.StringVar(&f.library, "library", "", "folder of the library (default: in the user's data folder)")
	fl.BoolVar(&f.open, "open", false, "open the page in the browser")
	fl.BoolVar(&f.copy, "copy", false, "copy the recordings into the library")
	fl.BoolVar(&f.together, "together", false, "the recordings are parts of one lesson, in this order")
	fl.StringVar(&f.title, "title", "", "title of the lesson added (default: the name of the recording)")
	fl.StringVar(&f.date, "date", "", "date it was flown: 2026-05-01")
	fl.StringVar(&f.student, "student", "", "name of the student")
	fl.StringVar(&f.instructor, "instructor", "", "name of the instructor")
	fl.StringVar(&f.aircraft, "aircraft", "", "aircraft flown: a built-in name or a YAML file (default the generic trainer)")
	fl.StringArrayVar(&f.procedures, "procedure", nil, "procedure to look for in the lesson added: a built-in name or a YAML file (may be repeated; default: those flown are found)")
	fl.BoolVar(&f.beyond, "beyond-this-machine", false, "let other machines open the page; needs --password-file")
	fl.StringVar(&f.password, "password-file", "", "file with the password to ask for, 8 letters or more")
	fl.StringArrayVar(&f.hosts, "host", nil, "another name this machine is called by, for --beyond-this-machine (may be repeated)")
	fl.Int64Var(&f.largest, "largest", desk.DefaultLargest>>20, "how large a recording dropped on the page may be, in MB")
	f.hearing.add(fl)
	_ = cmd.RegisterFlagCompletionFunc("aircraft", completeAircraft)
	_ = cmd.RegisterFlagCompletionFunc("procedure", completeProcedures)
	_ = cmd.RegisterFlagCompletionFunc("channels", cobra.FixedCompletions(channelChoices, cobra.ShellCompDirectiveNoFileComp))
	return cmd
}

func runDesk(ctx context.Context, paths []string, f deskFlags, stdout, stderr io.Writer) error {
	if f.largest < 1 {
		return usageErrorf("--largest %d: at least 1", f.largest)
	}
	if !desk.Built() {
		return errors.New("this program was built without the desk's pages: build it with make build")
	}
	offers, err := f.offers(paths)
	if err != nil {
		return err
	}
	password, err := readPassword(f.password)
	if err != nil {
		return err
	}
	if f.beyond && password == "" {
		return usageErrorf("--beyond-this-machine needs --password-file: others must not open the page without one")
	}
	dir, err := libraryDir(f.library)
	if err != nil {
		return err
	}
	l, hosts, err := f.bind(ctx)
	if errors.Is(err, syscall.EADDRINUSE) {
		return f.handOver(ctx, dir, offers, stdout, stderr, err)
	}
	if err != nil {
		return err
	}
	defer l.Close()
	book, err := logbook.Open(ctx, dir)
	if err != nil {
		return err
	}
	defer book.Close()
	lexicon, err := callouts.Builtin()
	if err != nil {
		return err
	}
	builtin, err := library.AllAircraft()
	if err != nil {
		return err
	}
	var ids []string
	for _, a := range builtin {
		ids = append(ids, a.ID)
	}
	address := "http://" + hosts[0] + "/"
	d, err := desk.New(ctx, desk.Options{
		Book: book,
		Ears: ears{f.hearing, lexicon, struct{ io.Writer }{stderr}}, // not a terminal: the page shows the progress
		Judge: func(l logbook.Lesson) (*timeline.Judge, error) {
			ac, err := aircraftOf(l.Aircraft, l.Source)
			if err != nil {
				return nil, err
			}
			asked, lexicon, err := proceduresOf(l, lexicon)
			if err != nil {
				return nil, err
			}
			return judgeOf(asked, lexicon, ac)
		},
		Aircraft: ids,
		Address:  address,
		Hosts:    hosts, Password: password, Version: version, Copy: f.copy, Largest: f.largest << 20,
		Log: func(s string) { fmt.Fprintln(stderr, s) },
	})
	if err != nil {
		return err
	}
	defer d.Close()
	for _, o := range offers {
		d.Offer(o)
		if _, err := d.Add(ctx, o); err != nil {
			return explain(strings.Join(o.Paths, ", "), err)
		}
	}
	fmt.Fprintf(stdout, "The desk is open at %s (Ctrl-C closes it)\nThe library is in %s\n", address, book.Dir())
	if f.open {
		if err := browse(address); err != nil {
			fmt.Fprintf(stderr, "The browser was not opened: %v. Open the address yourself.\n", err)
		}
	}
	return d.Serve(ctx, l)
}

// offers are the lessons named on the command line.
func (f deskFlags) offers(paths []string) (offers []desk.Offer, err error) {
	about := logbook.Lesson{Title: f.title, Student: f.student, Instructor: f.instructor}
	if about.Flown, err = logbook.CheckDay(f.date); err != nil {
		return nil, usageErrorf("--date: %w", err)
	}
	ac, err := chooseAircraft(f.aircraft)
	if err != nil {
		return nil, err
	}
	about.Aircraft = ac.ID
	if isFile(f.aircraft) {
		b, err := os.ReadFile(f.aircraft)
		if err != nil {
			return nil, explain(f.aircraft, err)
		}
		about.Source = string(b)
	}
	for _, arg := range f.procedures {
		p, err := chooseProcedure(arg)
		if err != nil {
			return nil, err
		}
		asked := logbook.Procedure{ID: p.ID}
		if isFile(arg) {
			b, err := os.ReadFile(arg)
			if err != nil {
				return nil, explain(arg, err)
			}
			asked.Text = string(b)
		}
		about.Procedures = append(about.Procedures, asked)
	}
	// What cannot be judged by is said before anything is listened to.
	lexicon, err := callouts.Builtin()
	if err != nil {
		return nil, err
	}
	asked, lexicon, err := proceduresOf(about, lexicon)
	if err != nil {
		return nil, err
	}
	if _, err := judgeOf(asked, lexicon, ac); err != nil {
		return nil, err
	}
	for i, p := range paths {
		if st, err := os.Stat(p); err != nil {
			return nil, explain(p, err)
		} else if !st.Mode().IsRegular() {
			return nil, fmt.Errorf("%s is not a recording: name the file", p)
		}
		if p, err = filepath.Abs(p); err != nil {
			return nil, err
		}
		if f.together && i > 0 {
			offers[0].Paths = append(offers[0].Paths, p)
			continue
		}
		offers = append(offers, desk.Offer{Paths: []string{p}, About: about})
	}
	return offers, nil
}

// proceduresOf are those a lesson is to be judged by, and the lexicon with the phrases
// they bring along.
func proceduresOf(l logbook.Lesson, lexicon *callouts.Lexicon) ([]*rules.Procedure, *callouts.Lexicon, error) {
	var out []*rules.Procedure
	for _, asked := range l.Procedures {
		p, err := procedureOf(asked)
		if err != nil {
			return nil, nil, err
		}
		if err := knows(lexicon, p); err != nil {
			return nil, nil, err
		}
		out = append(out, p)
	}
	return out, withPhrases(lexicon, out), nil
}

func procedureOf(p logbook.Procedure) (*rules.Procedure, error) {
	if p.Text == "" {
		return library.Procedure(p.ID)
	}
	return library.ParseProcedure(p.ID+".yaml", []byte(p.Text))
}

func aircraftOf(id, source string) (*rules.Aircraft, error) {
	switch {
	case source != "":
		return rules.ParseAircraft(id+".yaml", []byte(source))
	case id == "":
		return library.DefaultAircraft()
	}
	return library.Aircraft(id)
}

func readPassword(path string) (string, error) {
	if path == "" {
		return "", nil
	}
	b, err := os.ReadFile(path)
	if err != nil {
		return "", explain(path, err)
	}
	p := string(bytes.TrimRight(b, "\r\n"))
	if len(p) < 8 {
		return "", fmt.Errorf("%s: a password has 8 letters or more", path)
	}
	return p, nil
}

// bind opens the port, and gives the names the page may be called by, the best first.
func (f deskFlags) bind(ctx context.Context) (net.Listener, []string, error) {
	host, port, err := net.SplitHostPort(f.listen)
	if err != nil {
		return nil, nil, usageErrorf("--listen %q: write an address and a port, 127.0.0.1:8017", f.listen)
	}
	ips, err := net.DefaultResolver.LookupIPAddr(ctx, host)
	if host == "" {
		ips, err = []net.IPAddr{{IP: net.IPv6unspecified}}, nil
	}
	if err != nil {
		return nil, nil, fmt.Errorf("--listen %s: %w", f.listen, err)
	}
	for _, ip := range ips {
		if !ip.IP.IsLoopback() && !f.beyond {
			return nil, nil, usageErrorf("--listen %s lets other machines open the page: add --beyond-this-machine and --password-file if they shall", f.listen)
		}
	}
	l, err := (&net.ListenConfig{}).Listen(ctx, "tcp", net.JoinHostPort(host, port))
	if err != nil {
		return nil, nil, fmt.Errorf("the page cannot be opened at %s: %w; is a desk open already? --listen names another port", f.listen, err)
	}
	at := l.Addr().(*net.TCPAddr)
	if !at.IP.IsLoopback() && !f.beyond {
		l.Close()
		return nil, nil, usageErrorf("--listen %s lets other machines open the page: add --beyond-this-machine and --password-file if they shall", f.listen)
	}
	names := []string{"127.0.0.1", "localhost", "::1"}
	if !at.IP.IsLoopback() {
		var more []string
		if at.IP.IsUnspecified() {
			more = addresses()
			if h, err := os.Hostname(); err == nil {
				more = append(more, h)
			}
		} else {
			more = []string{at.IP.String()}
		}
		names = append(append(more, f.hosts...), names...)
	} else if !at.IP.Equal(net.IPv4(127, 0, 0, 1)) {
		names = append([]string{at.IP.String()}, names...)
	}
	var hosts []string
	for _, n := range names {
		hosts = append(hosts, net.JoinHostPort(n, fmt.Sprint(at.Port)))
		if at.Port == 80 {
			hosts = append(hosts, n)
		}
	}
	return l, hosts, nil
}

// addresses are those other machines reach this one by.
func addresses() (out []string) {
	all, err := net.InterfaceAddrs()
	if err != nil {
		return nil
	}
	for _, a := range all {
		if n, ok := a.(*net.IPNet); ok && !n.IP.IsLoopback() && !n.IP.IsLinkLocalUnicast() {
			out = append(out, n.IP.String())
		}
	}
	return out
}

// browse opens an address in the user's browser.
func browse(address string) error {
	switch runtime.GOOS {
	case "darwin":
		return exec.Command("open", address).Start()
	case "windows":
		return exec.Command("rundll32", "url.dll,FileProtocolHandler", address).Start()
	}
	return exec.Command("xdg-open", address).Start()
}

// ears listen for the desk as debrief does.
type ears struct {
	flags   hearingFlags
	lexicon *callouts.Lexicon
	said    io.Writer // what is said of the hearing goes here
}

func (e ears) Listen(ctx context.Context, about logbook.Lesson, paths []string, tell func(desk.Progress)) (*desk.Heard, error) {
	_, lexicon, err := proceduresOf(about, e.lexicon)
	if err != nil {
		return nil, err
	}
	h := e.flags
	h.told = func(now hear.Progress) {
		tell(desk.Progress{Stage: now.Stage, Done: now.Position, Of: now.Duration})
	}
	l, err := takeIn(ctx, paths, h, lexicon, e.said)
	if err != nil {
		return nil, err
	}
	return &desk.Heard{Recording: l.recording, Words: l.words, Notes: l.notes, Peaks: l.peaks}, nil
}

func (e ears) Sound(ctx context.Context, paths []string, w io.Writer) (string, error) {
	tape, err := audio.Load(ctx, paths...)
	if err != nil {
		return "", err
	}
	found, err := tape.Survey(ctx)
	if err != nil {
		return "", err
	}
	mime, err := tape.Encode(ctx, audio.Excerpt{Layouts: found.Layouts}, w)
	switch {
	case err != nil:
		return "", err
	case mime == "audio/mpeg":
		return ".mp3", nil
	case mime == "audio/wav":
		return ".wav", nil
	}
	return "", errors.New("the sound was made in a kind that is not known: " + mime)
}
