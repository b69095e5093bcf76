package desk

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"

	"sidetone/audio/transcript"
	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/rules/library"
	"sidetone/timeline"
	"sidetone/timeline/logbook"
)

// said is what the lessons of these tests say: a slow flight without the call of the
// carburettor heat, of which a word was misheard.
const said = `clearing turns complete|altitude three thousand five hundred|heading two seven zero|carve ye on|power back seventeen hundred|nose up|airspeed five five|trim set|
full power|carb heat cold|nose down|cruise power|trim set for cruise`

// fake hears the same words in every recording, and makes a sound of its name.
type fake struct{ fail error }

func (f fake) Listen(_ context.Context, _ logbook.Lesson, paths []string, tell func(Progress)) (*Heard, error) {
	if f.fail != nil {
		return nil, f.fail
	}
	t := &transcript.Transcript{}
	at := 10.0
	for line := range strings.SplitSeq(strings.ReplaceAll(said, "\n", ""), "|") {
		end := at + 2
		t.Utterances = append(t.Utterances, transcript.Utterance{Start: at, End: end, Text: line, Words: transcript.Spread(line, at, end)})
		at += 5
	}
	for i := range t.Utterances {
		for j := range t.Utterances[i].Words {
			t.Utterances[i].Words[j].Estimated = false
		}
	}
	tell(Progress{Stage: "listening", Done: 30, Of: 100})
	return &Heard{Recording: timeline.Recording{File: filepath.Base(paths[0]), Duration: 100, Channels: 1, SampleRate: 16000, SpeechSeconds: 26},
		Words: t, Notes: []string{"The left side is silent."}, Peaks: [][2]float32{{-.5, .5}, {-.25, .125}}}, nil
}

func (fake) Sound(_ context.Context, paths []string, w io.Writer) (string, error) {
	_, err := io.WriteString(w, "a small sound of "+filepath.Base(paths[0]))
	return ".mp3", err
}

var judge = sync.OnceValues(func() (*timeline.Judge, error) {
	lexicon, err := callouts.Builtin()
	if err != nil {
		return nil, err
	}
	p, err := library.Procedure("slow-flight-clean")
	if err != nil {
		return nil, err
	}
	ac, err := library.DefaultAircraft()
	if err != nil {
		return nil, err
	}
	return timeline.NewJudge(lexicon, []*rules.Procedure{p}, ac)
})

// a desk under test, and a page of it.
type client struct {
	t     testing.TB
	desk  *Desk
	srv   *httptest.Server
	dir   string
	token string
}

func start(t testing.TB, dir string, change func(*Options)) *client {
	t.Helper()
	book, err := logbook.Open(t.Context(), filepath.Join(dir, "library"))
	if err != nil {
		t.Fatal(err)
	}
	srv := httptest.NewUnstartedServer(nil)
	host := srv.Listener.Addr().String()
	opt := Options{Book: book, Ears: fake{}, Hosts: []string{host}, Judge: func(l logbook.Lesson) (*timeline.Judge, error) {
		if l.Aircraft != "" && l.Aircraft != "trainer" {
			return nil, fmt.Errorf("no aircraft %q", l.Aircraft)
		}
		return judge()
	}}
	if change != nil {
		change(&opt)
	}
	d, err := New(t.Context(), opt)
	if err != nil {
		t.Fatal(err)
	}
	srv.Config.Handler = d.Handler()
	srv.Start()
	t.Cleanup(func() { d.Close(); srv.Close(); book.Close() })
	return &client{t, d, srv, dir, d.token}
}

// do sends a request as the page would, changed by change.
func (c *client) do(method, path string, body io.Reader, change func(*http.Request)) (int, http.Header, []byte) {
	c.t.Helper()
	r, err := http.NewRequest(method, c.srv.URL+path, body)
	if err != nil {
		c.t.Fatal(err)
	}
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	if method == http.MethodPost {
		r.Header.Set("Origin", c.srv.URL)
		r.Header.Set(TokenHeader, c.token)
	}
	if change != nil {
		change(r)
	}
	res, err := http.DefaultTransport.RoundTrip(r) // no redirect is followed
	if err != nil {
		c.t.Fatal(err)
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	if err != nil {
		c.t.Fatal(err)
	}
	return res.StatusCode, res.Header, b
}

func (c *client) get(path string) (int, http.Header, []byte) {
	c.t.Helper()
	return c.do(http.MethodGet, path, nil, nil)
}

func (c *client) state(id string) *State {
	c.t.Helper()
	status, _, b := c.get("/lessons/" + id + "/state")
	var s State
	if err := json.Unmarshal(b, &s); status != 200 || err != nil {
		c.t.Fatalf("the state of %s: %d %s", id, status, b)
	}
	return &s
}

// post sends a fact, and expects the status.
func (c *client) post(id string, f Fact, want int) *State {
	c.t.Helper()
	if f.Key == "" {
		f.Key = uuid.NewString()
	}
	if f.Author == "" {
		f.Author = "Robin"
	}
	b, err := json.Marshal(f)
	if err != nil {
		c.t.Fatal(err)
	}
	status, _, answer := c.do(http.MethodPost, "/lessons/"+id+"/facts", bytes.NewReader(b), nil)
	if status != want {
		c.t.Fatalf("%s: %d, want %d: %s", b, status, want, answer)
	}
	if want != http.StatusCreated {
		var tr Trouble
		if err := json.Unmarshal(answer, &tr); err != nil || tr.Error == "" {
			c.t.Fatalf("the refusal says nothing: %s", answer)
		}
		return nil
	}
	var s State
	if err := json.Unmarshal(answer, &s); err != nil {
		c.t.Fatal(err)
	}
	return &s
}

func form(fields map[string]string, name, content string) (io.Reader, string) {
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	for k, v := range fields {
		_ = w.WriteField(k, v)
	}
	p, _ := w.CreateFormFile("recording", name)
	_, _ = io.WriteString(p, content)
	_ = w.Close()
	return &b, w.FormDataContentType()
}

func (c *client) upload(fields map[string]string, name, content string) (int, []byte) {
	c.t.Helper()
	body, kind := form(fields, name, content)
	status, _, b := c.do(http.MethodPost, "/lessons", body, func(r *http.Request) { r.Header.Set("Content-Type", kind) })
	return status, b
}

// lesson adds a lesson and waits until it was heard and its sound made.
func (c *client) lesson(content string) string {
	c.t.Helper()
	status, b := c.upload(map[string]string{"student": "Sam", "date": "2026-05-01"}, "slow flight.mov", content)
	var made Created
	if err := json.Unmarshal(b, &made); status != http.StatusCreated || err != nil {
		c.t.Fatalf("%d %s", status, b)
	}
	c.wait(made.ID, func(s *State) bool { return s.Sound != "" })
	return made.ID
}

func (c *client) wait(id string, until func(*State) bool) {
	c.t.Helper()
	for end := time.Now().Add(20 * time.Second); ; time.Sleep(10 * time.Millisecond) {
		s := c.state(id)
		if until(s) {
			return
		}
		if time.Now().After(end) {
			c.t.Fatalf("lesson %s stays so: progress %+v, trouble %q, sound %q", id, s.Progress, s.Trouble, s.Sound)
		}
	}
}

// verdict is that on a step of the only maneuver.
func verdict(t testing.TB, debrief json.RawMessage, step string) rules.Verdict {
	t.Helper()
	var tl struct{ Maneuvers []rules.Assessment }
	if err := json.Unmarshal(debrief, &tl); err != nil || len(tl.Maneuvers) != 1 {
		t.Fatalf("%d maneuvers, %v", len(tl.Maneuvers), err)
	}
	for _, s := range tl.Maneuvers[0].Steps {
		if s.ID == step {
			return s.Verdict
		}
	}
	t.Fatalf("no step %q", step)
	return ""
}

func word(n int, text string) Fact { return Fact{Kind: "word", Word: &n, Text: text} }

// wordAt is the number of a word the machine heard.
func wordAt(t testing.TB, s *State, text string) int {
	t.Helper()
	for _, w := range s.Words {
		if w.Text == text {
			return w.N
		}
	}
	t.Fatalf("nobody said %q", text)
	return 0
}

func TestALessonDroppedOnThePageIsHeardAndListed(t *testing.T) {
	c := start(t, t.TempDir(), nil)
	id := c.lesson("sound")
	s := c.state(id)
	if s.Title != "slow flight" || s.Student != "Sam" || s.Date != "2026-05-01" || s.Duration != 100 || len(s.Remarks) == 0 {
		t.Errorf("%+v", s)
	}
	if v := verdict(t, s.Timeline, "carb-heat-on"); v == rules.Heard {
		t.Error("the misheard call counts as heard: the lesson is no test")
	}
	var all []Listed
	if _, _, b := c.get("/lessons"); json.Unmarshal(b, &all) != nil || len(all) != 1 || all[0].Result == "" || len(all[0].Maneuvers) != 1 {
		t.Errorf("%+v", all)
	}
	if _, _, b := c.get("/lessons/" + id + "/peaks"); string(b) != `{"perSecond":0.02,"peaks":[[-0.5,0.5],[-0.25,0.125]]}` {
		t.Errorf("%s", b)
	}
	if again, _ := c.upload(nil, "copy.wav", "sound"); again != http.StatusCreated {
		t.Errorf("again: %d", again)
	}
	if _, _, b := c.get("/lessons"); json.Unmarshal(b, &all) != nil || len(all) != 1 {
		t.Errorf("the same recording is there twice: %+v", all)
	}
}

func TestACorrectedWordIsJudgedAtOnce(t *testing.T) {
	c := start(t, t.TempDir(), nil)
	id := c.lesson("sound")
	s := c.state(id)
	n := wordAt(t, s, "carve")
	c.post(id, word(n, "carb"), 201)
	after := c.post(id, word(n+1, "heat"), 201)
	if v := verdict(t, after.Timeline, "carb-heat-on"); v != rules.Heard {
		t.Errorf("corrected, it is %q", v)
	}
	if v := verdict(t, after.Machine, "carb-heat-on"); v == rules.Heard {
		t.Error("what the machine said was changed")
	}
	w := after.Words[n]
	if w.Text != "carb" || w.Was == nil || *w.Was != "carve" || w.By != "Robin" {
		t.Errorf("%+v", w)
	}
	var back *State
	for n := FactNumber(1); n <= 2; n++ {
		back = c.post(id, Fact{Kind: "undo", Undo: &n}, 201)
	}
	if v := verdict(t, back.Timeline, "carb-heat-on"); v == rules.Heard || back.Machine != nil || !back.History[1].Undone || back.Revision != 4 {
		t.Errorf("undone, it is %q, history %+v", v, back.History)
	}
}

func TestAnAddedCallIsJudgedAtOnce(t *testing.T) {
	c := start(t, t.TempDir(), nil)
	id := c.lesson("sound")
	at := 26.0
	s := c.post(id, Fact{Kind: "call", Callout: "carb-heat-on", At: &at}, 201)
	if v := verdict(t, s.Timeline, "carb-heat-on"); v != rules.Heard {
		t.Errorf("added, it is %q", v)
	}
	if len(s.Added) != 1 || s.Added[0].Author != "Robin" || s.Machine == nil {
		t.Errorf("%+v", s.Added)
	}
	if err := checkDebrief(s.Timeline); err != nil {
		t.Error(err)
	}
}

func TestAHandCountsAndWhatTheMachineSaidStays(t *testing.T) {
	c := start(t, t.TempDir(), nil)
	id := c.lesson("sound")
	before := c.state(id)
	over := Fact{Kind: "verdict", Maneuver: "slow-flight-clean/1", Step: "carb-heat-on", Hand: "overrule", Verdict: "heard", Reason: "mumbled"}
	c.post(id, over, 201)
	over.Author, over.Hand, over.Verdict, over.Reason = "Sam", "listen-again", "", ""
	s := c.post(id, over, 201)
	if !bytes.Equal(s.Machine, before.Timeline) || verdict(t, s.Timeline, "carb-heat-on") != rules.Heard || len(s.Hands) != 2 || s.Hands[0].Verdict != "heard" || s.Hands[0].Maneuver != "slow-flight-clean/1" {
		t.Errorf("hands %+v", s.Hands)
	}
	over.Author, over.Hand = "Robin", "accept"
	if s = c.post(id, over, 201); len(s.Hands) != 2 || s.Hands[1].Hand != "accept" {
		t.Errorf("the last of an author does not count: %+v", s.Hands)
	}
	// The maneuver is still meant after its beginning was corrected away.
	s = c.post(id, word(wordAt(t, s, "clearing"), "la"), 201)
	if s.Hands[0].Maneuver != "slow-flight-clean/1" {
		t.Errorf("after a correction the hand is on %q", s.Hands[0].Maneuver)
	}
}

func TestWhatCannotBeMeantIsRefused(t *testing.T) {
	c := start(t, t.TempDir(), nil)
	id := c.lesson("sound")
	far, v := 1e6, 3.0
	for name, f := range map[string]Fact{
		"a maneuver there is none of": {Kind: "note", Maneuver: "slow-flight-clean/2", Text: "x"},
		"a step there is none of":     {Kind: "note", Maneuver: "slow-flight-clean/1", Step: "barrel-roll", Text: "x"},
		"a word after the last":       word(10000, "x"),
		"a call nobody listens for":   {Kind: "call", Callout: "hello", At: &v},
		"a call after the end":        {Kind: "call", Callout: "trim", At: &far},
		"a figure in another unit":    {Kind: "call", Callout: "power-back", At: &v, Value: &v, Unit: "kt"},
		"an empty note":               {Kind: "note", At: &v},
		"a key that is none":          {Key: "7", Kind: "note", At: &v, Text: "x"},
	} {
		t.Run(name, func(t *testing.T) { c.post(id, f, http.StatusUnprocessableEntity) })
	}
	if s := c.state(id); s.Revision != 0 {
		t.Errorf("%d were kept", s.Revision)
	}
}

// counting ears tell how often they were asked, and hear when they are let.
type counting struct {
	patient
	asked *atomic.Int32
}

func (c counting) Listen(ctx context.Context, l logbook.Lesson, paths []string, tell func(Progress)) (*Heard, error) {
	c.asked.Add(1)
	return c.patient.Listen(ctx, l, paths, tell)
}

func TestTwoDesksHearALessonOnce(t *testing.T) {
	dir := t.TempDir()
	ears := counting{patient{let: make(chan struct{})}, new(atomic.Int32)}
	one := start(t, dir, func(o *Options) { o.Ears = ears })
	_, made := one.upload(nil, "lesson.mov", "sound")
	var lesson Created
	if err := json.Unmarshal(made, &lesson); err != nil {
		t.Fatal(err)
	}
	one.wait(lesson.ID, func(s *State) bool { return s.Progress != nil && s.Progress.Stage == "listening" })
	two := start(t, dir, func(o *Options) { o.Ears = ears }) // finds it waiting
	two.wait(lesson.ID, func(s *State) bool { return s.Progress != nil && s.Progress.Stage == "another desk listens to it" })
	close(ears.let)
	for _, c := range []*client{one, two} {
		c.wait(lesson.ID, func(s *State) bool { return s.Timeline != nil && s.Progress == nil })
	}
	if n := ears.asked.Load(); n != 1 {
		t.Errorf("it was listened to %d times", n)
	}
}

func TestALessonThatCannotBeHeardSaysWhy(t *testing.T) {
	c := start(t, t.TempDir(), func(o *Options) { o.Ears = fake{fmt.Errorf("it is not a recording")} })
	_, b := c.upload(nil, "a.wav", "x")
	var made Created
	_ = json.Unmarshal(b, &made)
	c.wait(made.ID, func(s *State) bool { return s.Trouble == "it is not a recording" })
	at := 1.0
	c.post(made.ID, Fact{Kind: "note", At: &at, Text: "x"}, http.StatusConflict)
}

func TestTwoPagesAtOnceLoseNothing(t *testing.T) {
	c := start(t, t.TempDir(), nil)
	id := c.lesson("sound")
	var wg sync.WaitGroup
	const pages, each = 4, 12
	for p := range pages {
		wg.Go(func() {
			for i := range each {
				at := float64(i)
				f := Fact{Key: uuid.NewString(), Kind: "note", Author: fmt.Sprint("page ", p), At: &at, Text: fmt.Sprint(i)}
				c.post(id, f, 201)
				c.post(id, f, 201) // the answer was lost, it is sent again
			}
		})
	}
	wg.Wait()
	s := c.state(id)
	if len(s.Notes) != pages*each || s.Revision != pages*each {
		t.Errorf("%d notes, revision %d", len(s.Notes), s.Revision)
	}
}

func TestPagesAreToldOfChanges(t *testing.T) {
	c := start(t, t.TempDir(), nil)
	id := c.lesson("sound")
	res, err := http.Get(c.srv.URL + "/events")
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	if res.Header.Get("Content-Type") != "text/event-stream" {
		t.Fatal(res.Header)
	}
	head := make([]byte, len("retry: 1000\n\n"))
	if _, err := io.ReadFull(res.Body, head); err != nil {
		t.Fatal(err)
	}
	at := 1.0
	c.post(id, Fact{Kind: "note", At: &at, Text: "x"}, 201)
	want := fmt.Sprintf("event: lesson\ndata: {\"id\":%q,\"revision\":1}\n\n", id)
	got := make([]byte, len(want))
	if _, err := io.ReadFull(res.Body, got); err != nil || string(got) != want {
		t.Errorf("%q %v", got, err)
	}
}

func TestSoundIsServedInRanges(t *testing.T) {
	c := start(t, t.TempDir(), nil)
	id := c.lesson("sound")
	status, h, b := c.do(http.MethodGet, "/lessons/"+id+"/sound", nil, func(r *http.Request) { r.Header.Set("Range", "bytes=2-6") })
	if status != http.StatusPartialContent || string(b) != "small" || h.Get("Content-Type") != "audio/mpeg" {
		t.Errorf("%d %q %v", status, b, h)
	}
}

func TestALessonHandedOnIsTheSameElsewhere(t *testing.T) {
	here := start(t, t.TempDir(), nil)
	id := here.lesson("sound")
	n := wordAt(t, here.state(id), "carve")
	here.post(id, word(n, "carb heat"), 201)
	here.post(id, word(n+1, ""), 201)
	here.post(id, Fact{Kind: "note", Maneuver: "slow-flight-clean/1", Step: "trim", Text: "softly"}, 201)
	here.post(id, Fact{Kind: "work-on", Text: "power first"}, 201)
	item := FactNumber(4)
	here.post(id, Fact{Kind: "work-on", Work: &item, Done: true}, 201)
	three := FactNumber(3)
	here.post(id, Fact{Kind: "undo", Undo: &three}, 201)
	here.post(id, Fact{Kind: "cover", Cover: &logbook.Cover{Student: ptr("Kim"), Title: ptr("Second lesson")}}, 201)
	_, _, exported := here.get("/lessons/" + id + "/export.json")

	there := start(t, t.TempDir(), nil)
	there.lesson("another") // numbers differ
	take := func(b []byte) (int, string) {
		body, kind := form(nil, "lesson.json", string(b))
		status, _, answer := there.do(http.MethodPost, "/lessons/import", body, func(r *http.Request) { r.Header.Set("Content-Type", kind) })
		var made Created
		_ = json.Unmarshal(answer, &made)
		return status, made.ID
	}
	status, other := take(exported)
	if status != 201 || other == id {
		t.Fatalf("%d %q", status, other)
	}
	a, b := here.state(id), there.state(other)
	if b.Sound != "" {
		t.Error("it plays without its recording")
	}
	if b.Missing == nil || b.Missing.Name != "slow flight.mov" || b.Missing.LastSeen != "" {
		t.Errorf("of its recording it says %+v", b.Missing)
	}
	a.ID, a.Sound, a.Missing, a.Peaks = b.ID, b.Sound, b.Missing, b.Peaks
	x, _ := json.Marshal(a)
	y, _ := json.Marshal(b)
	if !bytes.Equal(x, y) {
		t.Errorf("it differs:\n%s\n%s", x, y)
	}
	// What was said since is added, nothing twice.
	here.post(id, Fact{Kind: "note", Maneuver: "slow-flight-clean/1", Text: "later"}, 201)
	there.post(other, Fact{Kind: "note", Maneuver: "slow-flight-clean/1", Text: "meanwhile"}, 201)
	_, _, exported = here.get("/lessons/" + id + "/export.json")
	if status, again := take(exported); status != 201 || again != other {
		t.Fatalf("%d %q", status, again)
	}
	if s := there.state(other); s.Revision != 9 || len(s.Notes) != 2 || s.Student != "Kim" {
		t.Errorf("revision %d, notes %+v", s.Revision, s.Notes)
	}
	// What the cover said first was handed on too: putting it right can be undone there.
	cover := FactNumber(7)
	if s := there.post(other, Fact{Kind: "undo", Undo: &cover}, 201); s.Student == "Kim" || s.Title == "Second lesson" {
		t.Errorf("the cover says %q, %q", s.Title, s.Student)
	}
	// With its recording it plays.
	if status, _ := there.upload(nil, "found.mov", "sound"); status != 201 {
		t.Fatal(status)
	}
	there.wait(other, func(s *State) bool { return s.Sound != "" })
}

func ptr[T any](v T) *T { return &v }

func TestACoverIsPutRight(t *testing.T) {
	var asked []string
	c := start(t, t.TempDir(), func(o *Options) {
		plain := o.Judge
		o.Aircraft = []string{"trainer", "complex"}
		o.Judge = func(l logbook.Lesson) (*timeline.Judge, error) {
			asked = append(asked, l.Aircraft)
			if l.Aircraft == "complex" {
				l.Aircraft = "trainer"
			}
			return plain(l)
		}
	})
	id := c.lesson("sound")
	before := c.state(id)
	listed := func() Listed {
		var all []Listed
		_, _, b := c.get("/lessons")
		if err := json.Unmarshal(b, &all); err != nil || len(all) != 1 {
			t.Fatalf("%v: %s", err, b)
		}
		return all[0]
	}
	s := c.post(id, Fact{Kind: "cover", Cover: &logbook.Cover{Student: ptr(" Sam "), Flown: ptr("2026-05-01")}}, 201)
	if s.Student != "Sam" || s.Date != "2026-05-01" || s.Title != before.Title {
		t.Errorf("the page says %q, %q, %q", s.Title, s.Student, s.Date)
	}
	if l := listed(); l.Student != "Sam" || l.Date != "2026-05-01" {
		t.Errorf("the list says %q, %q", l.Student, l.Date)
	}
	if h := s.History[len(s.History)-1]; !strings.Contains(h.Summary, `put the cover right: date “2026-05-01”, student “Sam”`) {
		t.Errorf("the history says %q", h.Summary)
	}
	asked = nil
	s = c.post(id, Fact{Kind: "cover", Cover: &logbook.Cover{Aircraft: ptr("complex")}}, 201)
	if s.Aircraft != "complex" || !slices.Contains(asked, "complex") {
		t.Errorf("it is judged in %v, the page says %q", asked, s.Aircraft)
	}
	for _, n := range []FactNumber{1, 2} {
		s = c.post(id, Fact{Kind: "undo", Undo: &n}, 201)
	}
	if s.Student != before.Student || s.Date != before.Date || s.Aircraft != before.Aircraft || listed().Student != before.Student {
		t.Errorf("after undoing it says %q, %q, %q", s.Student, s.Date, s.Aircraft)
	}
	for _, bad := range []logbook.Cover{{}, {Flown: ptr("last Tuesday")}, {Title: ptr(" ")}, {Aircraft: ptr("zeppelin")}, {Aircraft: ptr("")}, {Student: ptr(strings.Repeat("x", 300))}} {
		c.post(id, Fact{Kind: "cover", Cover: &bad}, 422)
	}
	c.post(id, Fact{Kind: "cover"}, 422)
}

func TestOtherExports(t *testing.T) {
	c := start(t, t.TempDir(), nil)
	id := c.lesson("sound")
	c.post(id, Fact{Kind: "verdict", Maneuver: "slow-flight-clean/1", Step: "carb-heat-on", Hand: "overrule", Verdict: "heard", Reason: "mumbled <script>"}, 201)
	for path, want := range map[string]string{
		"html":           "was: not heard, overruled by Robin",
		"vtt":            "WEBVTT",
		"vtt?chapters=1": "Slow flight, clean",
		"csv":            "slow-flight-clean",
		"csv?calls=1":    "call,start",
	} {
		status, h, b := c.get("/lessons/" + id + "/export." + path)
		if status != 200 || !strings.Contains(string(b), want) || strings.Contains(string(b), "mumbled <script>") && path == "html" || !strings.HasPrefix(h.Get("Content-Disposition"), "attachment") {
			t.Errorf("%s: %d %v", path, status, h)
		}
	}
	if _, _, b := c.get("/lessons/" + id + "/export.html"); !strings.Contains(string(b), "base64,YSBzbWFsbCBzb3VuZA") && !strings.Contains(string(b), "base64,") {
		t.Error("the page is without its sound")
	}
}

func TestARecordingFoundAgainElsewherePlays(t *testing.T) {
	dir := t.TempDir()
	c := start(t, dir, nil)
	from := filepath.Join(dir, "flights", "a.wav")
	if err := os.MkdirAll(filepath.Dir(from), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(from, wav(16), 0o600); err != nil {
		t.Fatal(err)
	}
	n, err := c.desk.Add(t.Context(), Offer{Paths: []string{from}})
	if err != nil {
		t.Fatal(err)
	}
	id := name(n)
	c.wait(id, func(s *State) bool { return s.Sound != "" })
	if _, _, b := c.get("/lessons/" + id + "/sound"); !bytes.Equal(b, wav(16)) {
		t.Error("a recording browsers play is not served as it is")
	}
	if err := os.Rename(from, filepath.Join(dir, "moved.wav")); err != nil {
		t.Fatal(err)
	}
	if s := c.state(id); s.Sound == "" {
		t.Errorf("moved, it is not found: %v", s.Remarks)
	}
}

// wav is a tenth of a second of silence.
func wav(bits int) []byte {
	data := make([]byte, 1600*bits/8)
	var b bytes.Buffer
	b.WriteString("RIFF")
	le := func(v uint32, n int) {
		for i := range n {
			b.WriteByte(byte(v >> (8 * i)))
		}
	}
	le(uint32(36+len(data)), 4)
	b.WriteString("WAVEfmt ")
	le(16, 4)
	le(1, 2)
	le(1, 2)
	le(16000, 4)
	le(uint32(2000*bits), 4)
	le(uint32(bits/8), 2)
	le(uint32(bits), 2)
	b.WriteString("data")
	le(uint32(len(data)), 4)
	b.Write(data)
	return b.Bytes()
}

func TestWhatBrowsersPlay(t *testing.T) {
	whole := wav(16)
	for name, c := range map[string]struct {
		content []byte
		want    bool
	}{
		"16 bit":          {whole, true},
		"24 bit":          {wav(24), false},
		"cut off":         {whole[:len(whole)-100], false},
		"a FLAC":          {append([]byte("fLaC"), make([]byte, 100)...), true},
		"a video":         {append([]byte("\x00\x00\x00\x18ftypqt  "), make([]byte, 100)...), false},
		"nothing much":    {[]byte("RIFF"), false},
		"sound of no end": {append(append(append([]byte{}, whole[:40]...), 0xff, 0xff, 0xff, 0xff), whole[44:]...), false},
	} {
		path := filepath.Join(t.TempDir(), "x")
		if err := os.WriteFile(path, c.content, 0o600); err != nil {
			t.Fatal(err)
		}
		if got := plays(path); got != c.want {
			t.Errorf("%s: %v", name, got)
		}
	}
}
