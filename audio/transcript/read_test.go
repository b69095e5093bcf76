package transcript

import (
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// said is what a test compares: who said what from when to when.
type said struct {
	Speaker    string
	Channel    int
	Start, End float64
	Text       string
}

func saidIn(t *Transcript) []said {
	var all []said
	for _, u := range t.Utterances {
		all = append(all, said{u.Speaker, u.Channel, u.Start, u.End, u.Text})
	}
	return all
}

// The expectations for WebVTT follow the parser of the W3C recommendation
// "WebVTT: The Web Video Text Tracks Format", sections 6.1 (file), 6.3 (times
// and settings) and 6.4 (cue text).
func TestReadsWhatPilotsHave(t *testing.T) {
	carbHeat := []said{{"", 0, 1, 2.5, "carb heat on"}}
	for name, c := range map[string]struct {
		in   string
		want []said
	}{
		"a plain WebVTT cue":               {"WEBVTT\n\n00:01.000 --> 00:02.500\ncarb heat on\n", carbHeat},
		"the last line without an end":     {"WEBVTT\n\n00:01.000 --> 00:02.500\ncarb heat on", carbHeat},
		"a byte order mark":                {"\ufeffWEBVTT\n\n00:01.000 --> 00:02.500\ncarb heat on\n", carbHeat},
		"Windows line ends":                {"WEBVTT\r\n\r\n00:01.000 --> 00:02.500\r\ncarb heat on\r\n", carbHeat},
		"old Macintosh line ends":          {"WEBVTT\r\r00:01.000 --> 00:02.500\rcarb heat on\r", carbHeat},
		"words after the signature":        {"WEBVTT - lesson four\nKind: captions\n\n00:01.000 --> 00:02.500\ncarb heat on\n", carbHeat},
		"a cue right under the signature":  {"WEBVTT\n00:01.000 --> 00:02.500\ncarb heat on\n", carbHeat},
		"hours, and no space at the arrow": {"WEBVTT\n\n00:00:01.000-->00:00:02.500\ncarb heat on\n", carbHeat},
		"one-digit hours":                  {"WEBVTT\n\n1:00:01.000 --> 1:00:02.500\nflaps up\n", []said{{"", 0, 3601, 3602.5, "flaps up"}}},
		"cue settings and an identifier":   {"WEBVTT\n\ncue 7\n00:01.000 --> 00:02.500 align:start line:0 region:bottom x\ncarb heat on\n", carbHeat},
		"notes, styles and regions": {"WEBVTT\n\nSTYLE\n::cue { color: lime }\n\nREGION\nid:bottom\nwidth:40%\n\nNOTE\nnot a call:\nflaps up\n\n" +
			"NOTE nor this: trim set\n\n00:01.000 --> 00:02.500\ncarb heat on\n", carbHeat},
		"a caption that begins with NOTE": {"WEBVTT\n\n00:01.000 --> 00:02.000\nNOTE the heading\n", []said{{"", 0, 1, 2, "NOTE the heading"}}},
		"two cues without a blank line":   {"WEBVTT\n\n00:01.000 --> 00:02.500\ncarb heat on\n00:03.000 --> 00:04.000\nflaps up\n", append(carbHeat, said{"", 0, 3, 4, "flaps up"})},
		"markup and entities": {"WEBVTT\n\n00:01.000 --> 00:02.000\n<i>carb</i> <b.loud>he</b>at &amp; trim&nbsp;set &lt;now&gt; <lang en>ok</lang>\n",
			[]said{{"", 0, 1, 2, "carb heat & trim set <now> ok"}}},
		"a voice that lasts over two lines": {"WEBVTT\n\n00:01.000 --> 00:02.500\n<v.loud Student>carb heat\non\n", []said{{"Student", 0, 1, 2.5, "carb heat on"}}},
		"a voice with a space and an entity": {"WEBVTT\n\n00:01.000 --> 00:02.500\n<v  Right &amp;  loud>carb heat on</v>\n",
			[]said{{"Right & loud", 0, 1, 2.5, "carb heat on"}}},
		"two voices in one cue part it by length": {"WEBVTT\n\n00:10.000 --> 00:14.000\n<v Instructor>trim</v> <v Student>trim set\n",
			// weights 5, 5, 4: the student starts after 5/14 of four seconds
			[]said{{"Instructor", 0, 10, 10 + 4*5.0/14, "trim"}, {"Student", 0, 10 + 4*5.0/14, 14, "trim set"}}},
		"cues out of order are sorted": {"WEBVTT\n\n00:03.000 --> 00:04.000\nflaps up\n\n00:01.000 --> 00:02.500\ncarb heat on\n", append(carbHeat[:1:1], said{"", 0, 3, 4, "flaps up"})},
		"an empty cue says nothing":    {"WEBVTT\n\n00:01.000 --> 00:02.000\n\n00:03.000 --> 00:04.000\n<b></b>\n", nil},
		"no cue at all":                {"WEBVTT", nil},
		"bytes that are not UTF-8":     {"WEBVTT\n\n00:01.000 --> 00:02.000\nflaps\xff up\x00\n", []said{{"", 0, 1, 2, "flaps\uFFFD up\uFFFD"}}},

		"an SRT file":                         {"1\n00:00:01,000 --> 00:00:02,500\ncarb heat on\n\n2\n00:00:03,000 --> 00:00:04,000\nflaps\nup\n", append(carbHeat[:1:1], said{"", 0, 3, 4, "flaps up"})},
		"SRT with marks and Windows ends":     {"\ufeff1\r\n00:00:01,000 --> 00:00:02,500\r\ncarb heat on\r\n\r\n", carbHeat},
		"SRT with tags, positions, entities":  {"1\n00:00:01,000 --> 00:00:02,500 X1:0 Y1:9\n{\\an8}<i>carb</i> <font color=\"red\">heat</font> on\n", carbHeat},
		"SRT without numbers":                 {"00:00:01,000 --> 00:00:02,500\ncarb heat on\n\n00:00:03,000 --> 00:00:04,000\nflaps up\n", append(carbHeat[:1:1], said{"", 0, 3, 4, "flaps up"})},
		"SRT with a blank line in the words":  {"1\n00:00:01,000 --> 00:00:02,500\ncarb\n\nheat on\n\n2\n00:00:03,000 --> 00:00:04,000\nflaps up\n", append(carbHeat[:1:1], said{"", 0, 3, 4, "flaps up"})},
		"SRT that says less than":             {"1\n00:00:01,000 --> 00:00:02,000\nspeed < 65\n", []said{{"", 0, 1, 2, "speed < 65"}}},
		"SRT whose words are a figure":        {"1\n00:00:01,000 --> 00:00:02,000\n270\n\n2\n00:00:03,000 --> 00:00:04,000\n3500\n", []said{{"", 0, 1, 2, "270"}, {"", 0, 3, 4, "3500"}}},
		"SRT with fewer digits after a comma": {"1\n0:00:01,5 --> 0:00:02,25\nflaps up\n", []said{{"", 0, 1.5, 2.25, "flaps up"}}},

		"the JSON of a debrief": {`{"version":1,"calls":[{"id":"x"}],"transcript":[{"start":1,"end":2.5,"channel":1,"speaker":"Student","text":"carb heat on",
			"words":[{"text":"carb","start":1,"end":1.5,"confidence":0.5},{"text":"heat","start":1.5,"end":2,"confidence":1},{"text":"on","start":2,"end":2.5,"confidence":1}]}],"maneuvers":[]}`,
			[]said{{"Student", 1, 1, 2.5, "carb heat on"}}},
		"a bare list without words":        {`[{"start":1,"end":2.5,"text":"carb heat on"}]`, carbHeat},
		"a bare list of words":             {` [{"start":1,"end":2.5,"words":[{"text":"carb","start":1,"end":1.1},{"text":"heat","start":1.2,"end":1.3},{"text":"on","start":2,"end":2.5}]}]`, carbHeat},
		"a debrief where nothing was said": {`{"version":1,"transcript":[]}`, nil},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := Read("lesson", strings.NewReader(c.in))
			if err != nil {
				t.Fatal(err)
			}
			near := cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < 1e-9 })
			if d := cmp.Diff(c.want, saidIn(got), near); d != "" {
				t.Errorf("-want +got:\n%s", d)
			}
		})
	}
}

func TestSaysWhereAFileIsBroken(t *testing.T) {
	for name, c := range map[string]struct{ in, want string }{
		"no end of the times":          {"WEBVTT\n\n00:01.000 -->\nflaps up\n", `lesson.vtt:3: cannot read the times "00:01.000 -->"`},
		"comma times in WebVTT":        {"WEBVTT\n\n00:00:01,000 --> 00:00:02,000\nflaps up\n", "lesson.vtt:3: cannot read the times"},
		"sixty seconds":                {"WEBVTT\n\n00:01.000 --> 00:60.000\nflaps up\n", "lesson.vtt:3: cannot read the times"},
		"an end before the start":      {"WEBVTT\n\nid\n00:03.000 --> 00:02.000\nflaps up\n", "lesson.vtt:4: the cue ends before it starts"},
		"more hours than any lesson":   {"WEBVTT\n\n99999999999999999999:00:03.000 --> 00:02.000\nflaps up\n", "lesson.vtt:3: 99999999999999999999 hours"},
		"words after a blank line":     {"WEBVTT\r\n\r\n00:01.000 --> 00:02.000\r\nflaps up\r\n\r\nand trim set\r\n", "lesson.vtt:6: text outside any cue"},
		"a tag that is never closed":   {"WEBVTT\n\n00:01.000 --> 00:02.000\nflaps <b up\n", "lesson.vtt:3: in the cue that starts here: a tag is opened"},
		"a broken second SRT cue":      {"1\n00:00:01,000 --> 00:00:02,000\nflaps up\n\n2\n00:00:03,000 --> \ntrim\n", "lesson.vtt:6: cannot read the times"},
		"JSON cut off":                 {"{\"version\":1,\n\"transcript\":[\n{\"start\":1,", "lesson.vtt:3: the file ends in the middle"},
		"JSON with a comma too many":   {"[\n{\"start\":1,\"end\":2,\"text\":\"a\",}\n]", "lesson.vtt:2: invalid character"},
		"JSON with a word for a time":  {"[\n\n{\"start\":\"soon\"}]", `lesson.vtt:3: "start" cannot be string`},
		"JSON with time running back":  {"[{\"start\":1,\"end\":2,\"text\":\"a\"},\n{\"start\":3,\"end\":2,\"text\":\"b\"}]", "lesson.vtt:2: an utterance cannot last from 3 to 2 s"},
		"JSON with a certainty of two": {"[{\"start\":1,\"end\":2,\"words\":[{\"text\":\"a\",\"start\":1,\"end\":2,\"confidence\":2}]}]", `lesson.vtt:1: the confidence of the word "a" is 2`},
		"JSON where words are no list": {"{\"transcript\":\n\"flaps up\"}", `lesson.vtt:2: "transcript" should be a list`},
		"a negative channel":           {"[{\"channel\":-1}]", "lesson.vtt:1: channels count from 0"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Read("lesson.vtt", strings.NewReader(c.in))
			var where *SyntaxError
			if !errors.As(err, &where) || !strings.HasPrefix(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
				t.Errorf("got %v\nwant a line that starts %s", err, c.want)
			}
		})
	}
}

func TestRefusesWhatIsNoTranscript(t *testing.T) {
	for name, c := range map[string]struct{ in, want string }{
		"an empty file":             {"", "lesson.vtt: the file is empty, not a transcript"},
		"only blank lines":          {"\ufeff\n \n", "lesson.vtt: the file is empty, not a transcript"},
		"plain text renamed":        {"Dear student,\nwell flown.\n", "lesson.vtt: not a transcript: it is neither WebVTT"},
		"a word like the signature": {"WEBVTTX\n\n00:01.000 --> 00:02.000\nflaps up\n", "lesson.vtt: not a transcript: it has times but no first line WEBVTT"},
		"no signature":              {"00:01.000 --> 00:02.000\nflaps up\n", "lesson.vtt: not a transcript: it has times but no first line WEBVTT"},
		"UTF-16":                    {"\xff\xfeW\x00E\x00B\x00", "lesson.vtt: the text is UTF-16; save it as UTF-8"},
		"sound renamed":             {"RIFF\x24\x00\x00\x00WAVEfmt ", "lesson.vtt: not a transcript: it is neither"},
		"JSON of something else":    {`{"name": "x", "list": [1, {"transcript": []}]}`, `lesson.vtt: not a transcript: the JSON has no "transcript"`},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Read("lesson.vtt", strings.NewReader(c.in))
			if !errors.Is(err, ErrNotTranscript) || !strings.HasPrefix(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
				t.Errorf("got %v\nwant a line that starts %s", err, c.want)
			}
		})
	}
}

func TestReadFile(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "misnamed.srt")
	if err := os.WriteFile(path, []byte("WEBVTT\n\n00:01.000 --> 00:02.000\nflaps up\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if got, err := ReadFile(path); err != nil || len(got.Utterances) != 1 {
		t.Errorf("content should decide, not the name: %v, %v", got, err)
	}
	if _, err := ReadFile(filepath.Join(dir, "none.vtt")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("missing file: %v", err)
	}
	if _, err := ReadFile(dir); err == nil || !strings.Contains(err.Error(), "is a folder") {
		t.Errorf("a folder: %v", err)
	}
}

func TestWordsWithoutTimesShareTheCueByLength(t *testing.T) {
	got := Spread("carb heat, on", 10, 13) // 4+1, 4+1 and 2+1 of 13
	want := []Word{
		{"carb", 10, 10 + 3*5.0/13, 1, true, nil},
		{"heat,", 10 + 3*5.0/13, 10 + 3*10.0/13, 1, true, nil},
		{"on", 10 + 3*10.0/13, 13, 1, true, nil},
	}
	if d := cmp.Diff(want, got, cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < 1e-12 })); d != "" {
		t.Errorf("-want +got:\n%s", d)
	}
}

// Inline time stamps: W3C WebVTT section 6.4.
func TestTimeStampsInACueTimeItsWords(t *testing.T) {
	got, err := Read("x", strings.NewReader("WEBVTT\n\n00:10.000 --> 00:20.000\n"+
		"<v Student>full<00:12.000> power <00:15.000>carb heat<00:14.000> cold<00:30.000>\n"))
	if err != nil {
		t.Fatal(err)
	}
	want := []Word{ // the stamps at 14 (runs back) and 30 (past the end) are slips
		{"full", 10, 12, 1, false, nil}, {"power", 12, 15, 1, false, nil},
		{"carb", 15, 15 + 5.0/3, 1, true, nil}, {"heat", 15 + 5.0/3, 15 + 10.0/3, 1, true, nil}, {"cold", 15 + 10.0/3, 20, 1, true, nil},
	}
	if d := cmp.Diff(want, got.Utterances[0].Words, cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < 1e-9 })); d != "" {
		t.Errorf("-want +got:\n%s", d)
	}
}

func FuzzRead(f *testing.F) {
	for _, s := range []string{
		"WEBVTT\n\nid\n00:01.000 --> 00:02.500 align:start\n<v Student>carb <00:02.000>heat</v> &lt;on\n",
		"1\n00:00:01,000 --> 00:00:02,500\n{\\an8}<i>carb</i> heat\n\n2\n00:00:03,000 --> 00:00:03,000\nx\n",
		`{"version":1,"transcript":[{"start":1,"end":2,"words":[{"text":"a","start":1,"end":2}]}]}`,
		`[{"start":1,"end":2,"text":"flaps up"}]`,
		"WEBVTT\n\nNOTE x\n\n00:01.000 -->\n",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		got, err := Read("fuzz", strings.NewReader(string(b)))
		if err != nil {
			if strings.Contains(err.Error(), "\n") {
				t.Errorf("an error is one line: %q", err)
			}
			return
		}
		last := 0.0
		for _, u := range got.Utterances {
			if u.Start < last || u.End < u.Start || math.IsNaN(u.End) || math.IsInf(u.End, 0) {
				t.Fatalf("times do not rise: %+v after %g", u, last)
			}
			last = u.Start
			for _, w := range u.Words {
				if w.End < w.Start || w.Confidence < 0 || w.Confidence > 1 {
					t.Fatalf("word %+v", w)
				}
			}
		}
		var vtt strings.Builder
		if err := WriteVTT(&vtt, got); err != nil {
			t.Fatal(err)
		}
		if _, err := Read("again", strings.NewReader(vtt.String())); err != nil {
			t.Fatalf("cannot read what was written: %v\n%s", err, vtt.String())
		}
	})
}

func TestStampTimeReadsTheFormOfTheRecommendation(t *testing.T) {
	for s, want := range map[string]float64{"00:01.500": 1.5, "59:59.999": 3599.999, "01:00:00.000": 3600, "123:00:00.001": 442800.001} {
		if got, ok := stampTime(s); !ok || got != want {
			t.Errorf("%s: %v, %v", s, got, ok)
		}
	}
	for _, s := range []string{"", "b", "1", "0:01.000", "00:01.00", "00:60.000", "60:00.000", "00:01,000", ":00:01.000", "a:00:01.000", "00:00:00:01.000", "00:0x.000"} {
		if got, ok := stampTime(s); ok {
			t.Errorf("%q was read as %v", s, got)
		}
	}
}
