package main

import (
	"fmt"
	"io"
	"net/url"
	"os"
	"strings"

	"github.com/spf13/pflag"

	"sidetone/audio/recognise"
	"sidetone/audio/recognise/kept"
	"sidetone/audio/recognise/remote"
	"sidetone/callouts"
	"sidetone/cmd/internal/expect"
	"sidetone/rules"
	"sidetone/timeline/report"
)

// sendingFlags say which recogniser listens.
type sendingFlags struct{ recogniser, endpoint string }

var recogniserChoices = []string{"embedded", "remote"}

func (s *sendingFlags) add(fl *pflag.FlagSet) {
	fl.StringVar(&s.recogniser, "recogniser", "", "`who` recognises the speech: embedded, on this machine, or remote, which sends it to --endpoint (default embedded)")
	fl.StringVar(&s.endpoint, "endpoint", "", "`address` of a remote recogniser, https://host/v1; its key is read from "+remote.EnvKey+" or the config file")
}

// elsewhere is a remote recogniser that was asked for, nil for the embedded one.
type elsewhere struct {
	at     *url.URL
	model  string
	key    string
	config remoteConfig
}

// chosen finds out whether the speech is to be sent, and where.
func (s sendingFlags) chosen(model string) (*elsewhere, error) {
	switch s.recogniser {
	case "embedded":
		if s.endpoint != "" {
			return nil, usageErrorf("--endpoint is for --recogniser remote")
		}
		return nil, nil
	case "", "remote":
	default:
		return nil, usageErrorf("--recogniser %q: one of %s", s.recogniser, strings.Join(recogniserChoices, ", "))
	}
	c, err := readConfig()
	if err != nil {
		return nil, err
	}
	if s.recogniser == "" {
		usual, err := c.remoteByDefault()
		if err != nil {
			return nil, err
		}
		if !usual && s.endpoint != "" {
			return nil, usageErrorf("--endpoint alone sends nothing: add --recogniser remote if the speech is to go there")
		}
		if !usual {
			return nil, nil
		}
		if s.endpoint != "" && s.endpoint != c.Remote.Endpoint {
			return nil, usageErrorf("--endpoint names another recogniser than the config file: add --recogniser remote if the speech is to go there")
		}
	}
	e := &elsewhere{model: model, key: os.Getenv(remote.EnvKey), config: c.Remote}
	address := s.endpoint
	if address == "" {
		address = c.Remote.Endpoint
	}
	if address == "" {
		return nil, usageErrorf("--recogniser remote needs --endpoint, the address of one: https://host/v1")
	}
	if e.at, err = remote.Endpoint(address); err != nil {
		return nil, usageErrorf("--endpoint: %w", err)
	}
	// What the config file says of its own recogniser is not for another.
	if own, err := remote.Endpoint(c.Remote.Endpoint); err == nil && *own == *e.at {
		if e.key == "" {
			e.key = c.Remote.Key
		}
		if e.model == "" {
			e.model = c.Remote.Model
		}
	}
	if e.model == "" {
		return nil, usageErrorf("--recogniser remote needs --model, the name of the model that is to listen there")
	}
	return e, nil
}

// open makes the remote recogniser. It says on stderr what will be sent before
// anything is.
func (e *elsewhere) open(lexicon *callouts.Lexicon, k keepingFlags, p *progress, stderr io.Writer) (*remote.Recogniser, error) {
	prompt, phrases, err := expect.Prompt(lexicon)
	if err != nil {
		return nil, err
	}
	// Not the prompt: another procedure should not make the same words be paid for again.
	shelf := k.shelf(fmt.Sprintf("remote %s %s", e.at, e.model), stderr)
	return remote.New(remote.Options{
		Endpoint: e.at, Model: e.model, Key: e.key, Prompt: prompt, Language: "en",
		MaxBytes: e.config.UploadMB * 1_000_000, AtOnce: e.config.UploadsOnce, Shelf: shelf,
		Announce: func(plan remote.Plan) error {
			p.clear()
			return announce(stderr, plan, phrases, e.key != "", shelf != nil)
		},
		Progress: func(done, of float64, waiting string) {
			line := fmt.Sprintf("recognised elsewhere  %s of %s of speech", rules.Clock(done), rules.Clock(of))
			if waiting != "" {
				line = waiting
			}
			p.say(line)
		},
	})
}

// announce says what is about to leave this machine.
func announce(w io.Writer, p remote.Plan, phrases int, key, kept bool) error {
	var b strings.Builder
	fmt.Fprintf(&b, "Sending speech to %s, model %s: ", p.Host, p.Model)
	fmt.Fprintf(&b, "%s, %s of sound in all, in %s of at most %s, together at most %s; %d at a time. ",
		report.Plural(p.Stretches, "stretch", "stretches"), rules.Clock(p.Seconds), report.Plural(p.Uploads, "upload", "uploads"), size(p.MaxBytes), size(p.Bytes), p.AtOnce)
	fmt.Fprintf(&b, "With each goes a list of %d phrases to expect. Nothing else of the recording is sent. ", phrases)
	if p.Known > 0 {
		fmt.Fprintf(&b, "%s known from an earlier run and not sent again. ", countedAre(p.Known))
	}
	if !p.Encrypted && !p.Loopback {
		secret := ""
		if key {
			secret = ", and read the key"
		}
		fmt.Fprintf(&b, "The connection is not encrypted: others in the network can listen%s. ", secret)
	}
	if !kept {
		b.WriteString("What comes back is not kept: if this run is stopped, all is sent again. ")
	}
	_, err := io.WriteString(w, folded(b.String(), 79))
	return err
}

func countedAre(n int) string {
	if n == 1 {
		return "1 stretch is"
	}
	return fmt.Sprintf("%d stretches are", n)
}

func size(n int) string {
	if n < 950_000 {
		return fmt.Sprintf("%d kB", (n+999)/1000)
	}
	return fmt.Sprintf("%.1f MB", float64(n)/1e6)
}

// folded breaks a text into lines of at most so many letters.
func folded(text string, width int) string {
	var b strings.Builder
	used := 0
	for _, w := range strings.Fields(text) {
		n := len([]rune(w))
		switch {
		case used == 0:
		case used+1+n > width:
			b.WriteByte('\n')
			used = 0
		default:
			b.WriteByte(' ')
			used++
		}
		b.WriteString(w)
		used += n
	}
	b.WriteByte('\n')
	return b.String()
}

var _ recognise.Later = (*remote.Recogniser)(nil)
var _ interface{ Tally() kept.Tally } = (*remote.Recogniser)(nil)
