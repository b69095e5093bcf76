package desk

import (
	"encoding/json"
	"fmt"
	"net/http"
	"testing"

	"sidetone/audio/transcript"
	"sidetone/timeline"
	"sidetone/timeline/logbook"
)

// BenchmarkList is the server's time for the page and the JSON of a library of 2,000
// lessons.
func BenchmarkList(b *testing.B) {
	c := start(b, b.TempDir(), nil)
	for i := range 2000 {
		l := logbook.Lesson{Title: fmt.Sprint("Lesson ", i), Student: "Sam", Instructor: "Robin", Aircraft: "trainer", Stage: logbook.Heard,
			Flown: fmt.Sprintf("20%02d-%02d-%02d", i%26, 1+i%12, 1+i%28), Maneuvers: []string{"Slow flight, clean", "Steep turns", "Power-off stall"},
			Result: "25 of 28 calls as they should be, 2 not heard, 1 out of order", Duration: 4000}
		if _, _, err := c.desk.book.Add(b.Context(), l, []logbook.File{{Name: "a.wav", Path: "/nowhere/a.wav", Size: 1, Digest: fmt.Sprintf("%064x", i)}}); err != nil {
			b.Fatal(err)
		}
	}
	for _, path := range []string{"/", "/lessons"} {
		b.Run(map[string]string{"/": "page", "/lessons": "JSON"}[path], func(b *testing.B) {
			for b.Loop() {
				if status, _, body := c.get(path); status != http.StatusOK || len(body) < 100_000 {
					b.Fatal(status, len(body))
				}
			}
		})
	}
}

// longLesson is two hours with 3,000 calls and 21,000 words.
func longLesson(b *testing.B, c *client) string {
	b.Helper()
	t := &transcript.Transcript{}
	for i := range 3000 {
		at := float64(i) * 2.4
		text := []string{"carb heat on", "power back seventeen hundred and that is how we do it", "flaps ten degrees", "nose up", "airspeed five five looking good today", "trim set"}[i%6]
		t.Utterances = append(t.Utterances, transcript.Utterance{Start: at, End: at + 2, Text: text, Words: transcript.Spread(text, at, at+2)})
	}
	j, err := judge()
	if err != nil {
		b.Fatal(err)
	}
	tl := j.Debrief(timeline.Recording{File: "a.wav", Duration: 7200, Channels: 1, SampleRate: 16000}, t, nil, nil)
	h, err := hearingOf(tl, "")
	if err != nil {
		b.Fatal(err)
	}
	h.Peaks = logbook.Peaks{Peaks: make([][2]float32, 20000), PerSecond: 20000. / 7200}
	id, _, err := c.desk.book.Add(b.Context(), logbook.Lesson{Title: "long", Aircraft: "trainer"}, nil)
	if err == nil {
		err = c.desk.book.SetHearing(b.Context(), id, h)
	}
	if err != nil {
		b.Fatal(err)
	}
	b.Logf("%d calls, %d maneuvers", len(tl.Calls), len(tl.Maneuvers))
	return name(id)
}

// BenchmarkLongLesson is the server's time for the state of a two-hour lesson, first
// and again, its peaks, and a corrected word until the new judgement is sent.
func BenchmarkLongLesson(b *testing.B) {
	c := start(b, b.TempDir(), nil)
	id := longLesson(b, c)
	b.Run("state first", func(b *testing.B) {
		for b.Loop() {
			c.desk.views.mu.Lock()
			c.desk.views.kept, c.desk.views.order = nil, nil
			c.desk.views.mu.Unlock()
			c.get("/lessons/" + id + "/state")
		}
	})
	b.Run("state again", func(b *testing.B) {
		for b.Loop() {
			_, _, body := c.get("/lessons/" + id + "/state")
			b.SetBytes(int64(len(body)))
			if !json.Valid(body) {
				b.Fatal("no JSON")
			}
		}
	})
	b.Run("peaks", func(b *testing.B) {
		for b.Loop() {
			c.get("/lessons/" + id + "/peaks")
		}
	})
	b.Run("word corrected", func(b *testing.B) {
		n := 0
		for b.Loop() {
			c.post(id, word(n, "carp"), http.StatusCreated)
			n++
		}
	})
}
