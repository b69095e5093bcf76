package desk

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"sidetone/timeline/logbook"
)

// stream is what the pages are told from now on.
func (c *client) stream() func(event string) bool {
	c.t.Helper()
	res, err := http.Get(c.srv.URL + "/events")
	if err != nil {
		c.t.Fatal(err)
	}
	c.t.Cleanup(func() { res.Body.Close() })
	said := make(chan string, 1000)
	go func() {
		b := make([]byte, 4096)
		for {
			n, err := res.Body.Read(b)
			said <- string(b[:n])
			if err != nil {
				return
			}
		}
	}()
	all := ""
	return func(event string) bool {
		for {
			select {
			case s := <-said:
				all += s
				continue
			default:
			}
			return strings.Contains(all, event)
		}
	}
}

// Another program has the same library open.
func TestWhatAnotherProgramDoesIsNoticed(t *testing.T) {
	dir := t.TempDir()
	c := start(t, dir, func(o *Options) { o.Look = 20 * time.Millisecond })
	id := c.lesson("sound")
	other, err := logbook.Open(t.Context(), c.desk.book.Dir())
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	told := c.stream()
	new, _, err := other.Add(t.Context(), logbook.Lesson{Title: "put in"}, []logbook.File{{Name: "a.wav", Path: "/nowhere/a.wav", Digest: strings.Repeat("0", 64)}})
	if err != nil {
		t.Fatal(err)
	}
	c.wait(name(new), func(s *State) bool { return strings.Contains(s.Trouble, "was not found") }) // it was to be listened to
	until(t, "the pages are told of the new lesson", func() bool { return told("event: library") && told(`"id":"`+name(new)+`"`) })
	at := 1.0
	if _, _, err := other.Append(t.Context(), 1, logbook.Fact{Key: "6c7a4b1e-7a6c-4a0e-9d3c-0a1b2c3d4e5f", Kind: logbook.KindNote, Author: "Sam", Text: "from elsewhere", At: &at}); err != nil {
		t.Fatal(err)
	}
	until(t, "the pages are told of the note", func() bool { return told(`{"id":"` + id + `","revision":1}`) })
	if _, err := other.Remove(t.Context(), 1); err != nil {
		t.Fatal(err)
	}
	until(t, "the pages are told that it is gone", func() bool { return told("event: removed\ndata: {\"id\":\"" + id + `"`) })
}

func TestADeskIsOpenWhileItSaysSo(t *testing.T) {
	const address = "http://127.0.0.1:8017/"
	book, err := logbook.Open(t.Context(), t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	d, err := New(t.Context(), Options{Book: book, Ears: fake{}, Address: address, Look: 10 * time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	if open := book.OpenDesks(); len(open) != 1 || open[0] != address {
		t.Errorf("open: %v", open)
	}
	d.Close()
	if open := book.OpenDesks(); len(open) != 0 {
		t.Errorf("closed: %v", open)
	}
}
