package report

import (
	"bytes"
	"encoding/base64"
	"errors"
	"fmt"
	"html"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"sidetone/rules"
	"sidetone/timeline"
)

func htmlOf(t *testing.T, tl *timeline.Timeline, m Media) string {
	t.Helper()
	var b strings.Builder
	if err := HTML(&b, tl, m, PageOptions{Made: time.Date(2031, 5, 6, 7, 8, 0, 0, time.UTC), Version: "1.2"}); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

var (
	scriptOrStyle = regexp.MustCompile(`(?s)<(script|style)>.*?</(script|style)>`)
	tags          = regexp.MustCompile(`(?s)<[^>]*>`)
)

// shown is the text of a page as a reader sees it.
func shown(page string) string {
	s := scriptOrStyle.ReplaceAllString(page, " ")
	return flat(html.UnescapeString(tags.ReplaceAllString(s, " ")))
}

func withSound(tl *timeline.Timeline) Media {
	wav, peaks := sound(tl, 1000)
	return Media{Audio: bytes.NewReader(wav), MIME: "audio/wav", Peaks: peaks}
}

func TestPageSaysEverything(t *testing.T) {
	tl := lesson()
	for name, m := range map[string]Media{"with sound": withSound(tl), "without": {}} {
		t.Run(name, func(t *testing.T) {
			text := shown(htmlOf(t, tl, m))
			for _, s := range tl.Maneuvers[0].Steps {
				from := s.Title + " " + word(s.Verdict)
				if !asked(s) {
					if strings.Contains(text, s.Reason) || strings.Contains(text, s.Title) != (s.Waived == rules.NotRequired) {
						t.Errorf("%s is shown as if it were asked for, or not told of at all", s.ID)
					}
					continue
				}
				if s.Prompted {
					from += " prompted"
				}
				i := strings.Index(text, from)
				if i < 0 {
					t.Errorf("missing: %s", from)
					continue
				}
				rest := text[i:min(len(text), i+400)]
				if s.At != nil && !strings.Contains(rest, rules.Clock(*s.At)) {
					t.Errorf("%s: no time", s.ID)
				}
				if c := callOf(tl, s); c != nil && !strings.Contains(rest, c.Heard) {
					t.Errorf("%s: what was heard is not shown", s.ID)
				}
				if strings.Contains(rest, s.Reason) == plainlyHeard.MatchString(s.Reason) {
					t.Errorf("%s: no reason", s.ID)
				}
			}
			for _, f := range tl.Maneuvers[0].Findings {
				if want := flat(f.Message + " " + f.Reference); !strings.Contains(text, want) {
					t.Errorf("missing: %s", want)
				}
			}
			for _, u := range tl.Transcript {
				if !strings.Contains(text, u.Text) {
					t.Errorf("missing in the transcript: %s", u.Text)
				}
			}
			for _, want := range []string{Caution,
				"Debrief of lesson.wav", "3:00 long, 2 channels, 48 kHz, 1:11 of speech", "debrief made 6 May 2031, 07:08", "sidetone 1.2",
				"The two channels are copies of each other", "1 Slow flight, landing configuration 0:09 to 2:11 13 heard, 1 not heard, 2 out of order",
				"does not keep what you write here", "Not called, and not required: Checks complete, Gauges green.", "unsure: listen here corrected"} {
				if !strings.Contains(text, flat(want)) {
					t.Errorf("missing: %s", want)
				}
			}
		})
	}
}

func TestPageHoldsTheSoundWhole(t *testing.T) {
	tl := lesson()
	wav, _ := sound(tl, 10)
	for _, in := range []io.Reader{bytes.NewReader(wav), iotest.OneByteReader(bytes.NewReader(wav)), iotest.DataErrReader(bytes.NewReader(wav))} {
		page := htmlOf(t, tl, Media{Audio: in, MIME: "audio/wav"})
		_, rest, _ := strings.Cut(page, `src="data:audio/wav;base64,`)
		data, rest, ok := strings.Cut(rest, `"`)
		got, err := base64.StdEncoding.DecodeString(data)
		if !ok || err != nil || !bytes.Equal(got, wav) {
			t.Fatalf("%d bytes of %d, %v", len(got), len(wav), err)
		}
		if !strings.HasPrefix(rest, "></audio>") || !strings.HasSuffix(rest, "</html>\n") {
			t.Error("the page does not go on after the sound")
		}
	}
}

func TestPageNeedsNoNetworkAndLetsNothingElseRun(t *testing.T) {
	tl := lesson()
	page := htmlOf(t, tl, withSound(tl))
	if i := strings.Index(strings.ToLower(page), "http://"); i >= 0 {
		t.Errorf("an address: %.60s", page[i:])
	}
	if i := strings.Index(strings.ToLower(page), "https://"); i >= 0 {
		t.Errorf("an address: %.60s", page[i:])
	}
	m := regexp.MustCompile(`<meta http-equiv="Content-Security-Policy" content="([^"]*)">`).FindStringSubmatch(page)
	if m == nil {
		t.Fatal("no policy")
	}
	policy := html.UnescapeString(m[1])
	for _, want := range []string{"default-src 'none'", "media-src data: blob:", "img-src data:", "form-action 'none'", "base-uri 'none'"} {
		if !strings.Contains(policy, want) {
			t.Errorf("the policy lacks %s: %s", want, policy)
		}
	}
	if strings.Contains(policy, "unsafe") {
		t.Errorf("the policy is open: %s", policy)
	}
	for kind, re := range map[string]*regexp.Regexp{"script": regexp.MustCompile(`(?s)<script>(.*?)</script>`), "style": regexp.MustCompile(`(?s)<style>(.*?)</style>`)} {
		all := re.FindAllStringSubmatch(page, -1)
		if len(all) != 1 || !strings.Contains(policy, kind+"-src "+hash(all[0][1])) {
			t.Errorf("%d %ss, or not the one the policy names", len(all), kind)
		}
	}
	if re := regexp.MustCompile(`\s(style|on[a-z]+)="`); re.MatchString(scriptOrStyle.ReplaceAllString(page, "")) {
		t.Error("an inline style or handler, which the policy blocks")
	}
}

func TestPageEscapesHostileWords(t *testing.T) {
	evil := `</script></style><script>alert(1)</script><img src=x onerror=alert(1)>"'` + "`" + audioMark + `" javascript:alert(1) {{.}} ` + "\x00\u202e"
	tl := lesson()
	tl.Recording.File, tl.Notes[0] = evil, evil
	m := &tl.Maneuvers[0]
	m.Title, m.Procedure = evil, evil
	for i := range m.Steps {
		s := &m.Steps[i]
		s.ID, s.Title, s.Reason, s.Verdict = evil, evil, evil, rules.Verdict(evil)
		m.Phases[i] = evil
	}
	m.Remarks = []string{evil}
	for i := range m.Findings {
		f := &m.Findings[i]
		f.Kind, f.Severity, f.Message, f.Reference = evil, rules.Severity(evil), evil, evil
	}
	for i := range tl.Calls {
		c := &tl.Calls[i]
		c.ID, c.Heard, c.Unit, c.Speaker = evil, evil, evil, evil
	}
	for i := range tl.Transcript {
		u := &tl.Transcript[i]
		u.Speaker, u.Text = evil, evil
		for j := range u.Words {
			u.Words[j].Text = evil
		}
	}
	empty := *tl
	empty.Maneuvers = nil
	clean := lesson()
	cleanEmpty := lesson()
	cleanEmpty.Maneuvers = nil
	short, cleanShort := lesson(), afresh()
	short.Maneuvers = []rules.Assessment{{Title: evil, Abandoned: &rules.Abandonment{Reason: evil}, Remarks: []string{evil}}, lesson().Maneuvers[0]}
	for name, pair := range map[string][2]*timeline.Timeline{"with a maneuver": {tl, clean}, "abandoned": {short, cleanShort}, "without": {&empty, cleanEmpty}} {
		page := htmlOf(t, pair[0], withSound(pair[0]))
		friendly := htmlOf(t, pair[1], withSound(pair[1]))
		for _, tag := range []string{"<script", "</script", "<style", "</style", "<img", "<audio", "<meta", "<iframe", "<link"} {
			if got, want := strings.Count(page, tag), strings.Count(friendly, tag); got != want {
				t.Errorf("%s: %d times %s, want %d", name, got, tag, want)
			}
		}
		for _, tag := range tags.FindAllString(scriptOrStyle.ReplaceAllString(page, ""), -1) {
			if strings.Contains(tag, "onerror=") && !strings.Contains(tag, "&lt;img") {
				t.Fatalf("%s: a handler got into %.120s", name, tag)
			}
		}
		if !strings.Contains(shown(page), "alert(1)") {
			t.Errorf("%s: the words are not shown at all", name)
		}
	}
}

func TestPageWithoutAManeuver(t *testing.T) {
	tl := lesson()
	tl.Maneuvers = nil
	text := shown(htmlOf(t, tl, withSound(tl)))
	for _, want := range []string{"No maneuver was found", "22 callouts were heard", "0:33 carb heat on carved heed on", "and 10 more", "What to try", "--procedure"} {
		if !strings.Contains(text, want) {
			t.Errorf("missing: %s", want)
		}
	}
	text = shown(htmlOf(t, &timeline.Timeline{}, Media{}))
	if !strings.Contains(text, "No words were heard") {
		t.Error("a silent lesson is not called silent")
	}
}

func TestPageTellsWhatWentWrong(t *testing.T) {
	broken := errors.New("disk full")
	if err := HTML(io.Discard, lesson(), Media{Audio: iotest.ErrReader(broken), MIME: "audio/wav"}, PageOptions{}); !errors.Is(err, broken) {
		t.Errorf("reading the sound fails: %v", err)
	}
	if err := HTML(failing{broken}, lesson(), Media{}, PageOptions{}); !errors.Is(err, broken) {
		t.Errorf("writing the page fails: %v", err)
	}
	for _, mime := range []string{"", "text/html", `audio/x"><script>`} {
		if err := HTML(io.Discard, lesson(), Media{Audio: strings.NewReader("x"), MIME: mime}, PageOptions{}); err == nil {
			t.Errorf("%q passes for a type of sound", mime)
		}
	}
}

type failing struct{ err error }

func (f failing) Write([]byte) (int, error) { return 0, f.err }

func TestCallsAreMarkedInTheTranscript(t *testing.T) {
	tl := lesson()
	call := &tl.Calls[0] // of "okay, clearing turn left first", only the middle
	words := tl.Transcript[call.Utterance].Words
	call.Start, call.End = words[1].Start, words[3].End
	page := htmlOf(t, tl, withSound(tl))
	at := short(call.Start)
	want := `okay, <button type="button" class="call" data-at="` + at + `" title="clearing turns, done"><mark>clearing turn left</mark></button> first `
	if !strings.Contains(page, want) {
		t.Errorf("missing: %s", want)
	}
	if want := `<i title="doubtful">`; strings.Contains(htmlOf(t, lesson(), Media{}), want) {
		t.Error("words of a call are not marked as doubtful on top")
	}
	tl.Transcript[0].Words[2].Confidence = 0.2
	if want := `right, that <i title="doubtful">was</i> a nice`; !strings.Contains(htmlOf(t, tl, Media{}), want) {
		t.Errorf("missing: %s", want)
	}
}

// A call may begin in one utterance and end in the next.
func TestACallOverTwoUtterancesIsMarkedInBoth(t *testing.T) {
	tl := &timeline.Timeline{Transcript: lesson().Transcript[:3], Calls: lesson().Calls[:1]}
	tl.Calls[0].Utterance = 1
	a, b := tl.Transcript[1], tl.Transcript[2]
	tl.Calls[0].Start, tl.Calls[0].End = a.Words[len(a.Words)-1].Start, b.Words[0].End
	of := callsByWord(tl)
	for i, want := range [][]int{{-1, -1}, {-1, 0}, {0, -1}} {
		if first, last := of[i][0], of[i][len(of[i])-1]; first != want[0] || last != want[1] {
			t.Errorf("utterance %d: first word %d, last %d, want %v", i, first, last, want)
		}
	}
}

func TestStripsPutThingsWhereTheyWere(t *testing.T) {
	tl := lesson()
	_, peaks := sound(tl, 360) // two a second
	o := overview(tl, peaks)
	if o.From != "0.00" || o.To != "180.00" {
		t.Errorf("the overview goes from %s to %s", o.From, o.To)
	}
	if b := o.Lanes[0].Bands[0]; b.X != short(9.5/1.8) || b.Width != short(121.5/1.8) {
		t.Errorf("the maneuver is drawn at %s, %s wide", b.X, b.Width)
	}
	if n := len(o.Lanes[1].Marks); n != len(tl.Maneuvers[0].Findings) {
		t.Errorf("%d findings are marked", n)
	}
	s := maneuverStrip(tl, tl.Maneuvers[0], peaks)
	var names []string
	for _, l := range s.Lanes {
		names = append(names, l.Name)
		for _, m := range l.Marks {
			from, _ := strconv.ParseFloat(s.From, 64)
			to, _ := strconv.ParseFloat(s.To, 64)
			at, _ := strconv.ParseFloat(m.At, 64)
			x, _ := strconv.ParseFloat(m.X, 64)
			if math.Abs(x-100*(at-from)/(to-from)) > 0.01 {
				t.Errorf("%s is drawn at %s percent", m.Hint, m.X)
			}
		}
	}
	if got := strings.Join(names, ","); got != "Set-up,Entry,Recovery" {
		t.Errorf("lanes %s", got)
	}
	// Trim, called in the entry before the power, is marked in the entry's lane;
	// carburettor heat cold, not heard, where it was due.
	hints := fmt.Sprint(s.Lanes[1].Marks, s.Lanes[2].Marks)
	for _, want := range []string{"0:36  Trim, out of order", "1:35  Carburettor heat cold, not heard"} {
		if !strings.Contains(hints, want) {
			t.Errorf("no mark %q", want)
		}
	}
}

func TestTheWaveFollowsTheSound(t *testing.T) {
	peaks := make([][2]float32, 100)
	for i := 50; i < 75; i++ {
		peaks[i] = [2]float32{-0.5, 0.25}
	}
	tl := &timeline.Timeline{Recording: timeline.Recording{Duration: 100}}
	whole := wavePath(peaks, scale{0, 100}, length(tl))
	for _, want := range []string{"V50H490V50H500V25H510", "V25H750V50H760", "V100H740"} { // loudest is full height, downwards
		if !strings.Contains(whole, want) {
			t.Errorf("missing %s in %s", want, whole)
		}
	}
	if got, want := wavePath(peaks, scale{50, 51}, 100), "M0 25V25H1000V100H0Z"; got != want {
		t.Errorf("one second: %s, want %s", got, want)
	}
	for name, p := range map[string]string{
		"silence":      wavePath(make([][2]float32, 3), scale{0, 3}, 3),
		"past an end":  wavePath(peaks, scale{99, 140}, 100),
		"not a number": wavePath([][2]float32{{float32(math.NaN()), float32(math.NaN())}}, scale{0, 1}, 1),
	} {
		if strings.Contains(p, "NaN") || !strings.HasSuffix(p, "Z") || regexp.MustCompile(`-?\d{5}`).MatchString(p) {
			t.Errorf("%s: %s", name, p)
		}
	}
}

// WCAG 2.2, 1.4.3 Contrast (Minimum): 4.5 to 1 for text; the formulas of
// relative luminance and contrast ratio are those of its definitions.
func TestColoursHaveContrast(t *testing.T) {
	blocks := regexp.MustCompile(`(?s):root \{(.*?)\}`).FindAllStringSubmatch(pageCSS, -1)
	if len(blocks) != 3 {
		t.Fatalf("%d sets of colours, want light, dark and print", len(blocks))
	}
	for i, name := range []string{"light", "dark"} {
		colour := map[string]float64{}
		for _, m := range regexp.MustCompile(`--([a-z-]+): #([0-9a-f]{6});`).FindAllStringSubmatch(blocks[i][1], -1) {
			v, _ := strconv.ParseUint(m[2], 16, 32)
			l := 0.0
			for j, weight := range []float64{0.2126, 0.7152, 0.0722} {
				c := float64(v>>(16-8*j)&255) / 255
				if c <= 0.04045 {
					c /= 12.92
				} else {
					c = math.Pow((c+0.055)/1.055, 2.4)
				}
				l += weight * c
			}
			colour[m[1]] = l
		}
		check := func(a, b string, least float64) {
			t.Helper()
			x, ok1 := colour[a]
			y, ok2 := colour[b]
			if ratio := (max(x, y) + 0.05) / (min(x, y) + 0.05); !ok1 || !ok2 || ratio < least {
				t.Errorf("%s: %s on %s is %.2f to 1, want %g", name, a, b, ratio, least)
			}
		}
		for _, text := range append([]string{"ink", "soft", "link"}, func() (vs []string) {
			for v := range verdictWords {
				vs = append(vs, string(v))
			}
			return
		}()...) {
			check(text, "paper", 4.5)
			check(text, "card", 4.5)
		}
		check("ink", "call", 4.5)
		check("ink", "band", 4.5)
		for v := range verdictWords {
			check(string(v), "band", 3) // shapes, 1.4.11
		}
	}
}

func benchMedia(n int) (wav []byte, peaks [][2]float32) {
	return bytes.Repeat([]byte("0123456789abcdef"), n/16), make([][2]float32, 2000)
}

func BenchmarkJSON(b *testing.B) {
	tl := longLesson()
	for b.Loop() {
		if err := JSON(io.Discard, tl); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkTerminal(b *testing.B) {
	tl := longLesson()
	for b.Loop() {
		if err := Terminal(io.Discard, tl, TerminalOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkHTML(b *testing.B) {
	tl := longLesson()
	audio, peaks := benchMedia(36 << 20) // two hours at 40 kbit/s
	for name, m := range map[string]func() Media{
		"silent": func() Media { return Media{} },
		"sound":  func() Media { return Media{Audio: bytes.NewReader(audio), MIME: "audio/mpeg", Peaks: peaks} },
	} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if err := HTML(io.Discard, tl, m(), PageOptions{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func TestTheCoverIsOnThePage(t *testing.T) {
	for name, c := range map[string]struct {
		opt  PageOptions
		want string
	}{
		"all of it is known":        {PageOptions{Student: "Sam", Instructor: "Robin", Aircraft: "trainer", Date: "2026-05-01"}, "2026-05-01 · student Sam · instructor Robin · aircraft trainer"},
		"only the student is known": {PageOptions{Student: "Sam"}, "student Sam"},
		"nothing is known":          {PageOptions{}, ""},
	} {
		var b strings.Builder
		if err := HTML(&b, lesson(), Media{}, c.opt); err != nil {
			t.Fatal(err)
		}
		got := ""
		if m := regexp.MustCompile(`<p class="cover">(.*?)</p>`).FindStringSubmatch(b.String()); m != nil {
			got = html.UnescapeString(m[1])
		}
		if got != c.want {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
}
