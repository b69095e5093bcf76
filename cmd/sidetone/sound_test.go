package main

import (
	"bytes"
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"sidetone/audio"
	"sidetone/audio/audiotest"
	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/timeline"
)

func TestTheSoundOfAPageIsWholeUntilItIsTooLarge(t *testing.T) {
	audiotest.Need(t, "ffmpeg")
	dir := t.TempDir()
	tape, err := audio.Load(context.Background(), wav(t, filepath.Join(dir, "l.wav"), make([]float32, audio.Rate)))
	if err != nil {
		t.Fatal(err)
	}
	one, two := []int{0}, []int{0, 1}
	maneuvers := []rules.Assessment{{Start: 100, End: 200}, {Start: 230, End: 300}, {Start: 5, End: 10}, {Start: 3990, End: 4000}}
	slicesOf := func(spans []timeline.Span) string {
		var parts []string
		for _, s := range spans {
			parts = append(parts, fmt.Sprintf("%.0f-%.0f", s.From, s.To))
		}
		return strings.Join(parts, " ")
	}
	for _, c := range []struct {
		name      string
		choice    string
		hours     float64
		use       []int
		maneuvers []rules.Assessment
		calls     []callouts.Call
		spans     string
		none      bool
		says      string
	}{
		{"an hour", "auto", 1, one, maneuvers, nil, "", false, ""},
		{"three hours of one channel", "auto", 3, one, maneuvers, nil, "", false, ""},
		{"three hours of two channels", "auto", 3, two, maneuvers, nil, "", false, "the seats are mixed into one, since all of it would be 65 MB"},
		{"four hours of two channels", "auto", 4, two, maneuvers[1:2], nil, "210-320", false, "around the maneuvers only, 1:50 of 4:00:00, since all of it would be 86 MB"},
		{"five hours of one channel", "auto", 5, one, maneuvers[:2], nil, "80-320", false, "around the maneuvers only"},
		{"five hours with calls and no maneuver", "auto", 5, one, nil, []callouts.Call{{Start: 4, End: 5}, {Start: 60, End: 61}}, "0-15 50-71", false, "around the calls only"},
		{"five hours with nothing", "auto", 5, one, nil, nil, "", true, "nothing was found to cut it to"},
		{"five hours, all of them wanted", "whole", 5, two, maneuvers, nil, "", false, ""},
		{"an hour, only the maneuvers wanted", "maneuvers", 4000.0 / 3600, one, maneuvers[3:], nil, "3970-4000", false, "as you asked"},
		{"none wanted", "none", 1, one, maneuvers, nil, "", true, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			tl := &timeline.Timeline{Recording: timeline.Recording{Duration: c.hours * 3600}, Maneuvers: c.maneuvers, Calls: c.calls}
			l := &lesson{tape: tape, layouts: []audio.Layout{{Use: c.use}}}
			p := planSound(context.Background(), c.choice, l, tl)
			if got := slicesOf(p.spans); got != c.spans || p.none != c.none || len(p.excerpt.Keep) != len(p.spans) {
				t.Errorf("stretches %q, none %v", got, p.none)
			}
			if (c.says == "") != (p.note == "") || !strings.Contains(p.note, c.says) {
				t.Errorf("says %q, want %q", p.note, c.says)
			}
		})
	}
	if p := planSound(context.Background(), "auto", &lesson{}, &timeline.Timeline{}); !p.none || p.note != "" {
		t.Errorf("a lesson of words has sound: %+v", p)
	}
}

// What is planned is what ends up in the page.
func TestTheSizeOfTheSoundIsAsForeseen(t *testing.T) {
	audiotest.Need(t, "ffmpeg")
	path := wav(t, filepath.Join(t.TempDir(), "l.wav"), make([]float32, 60*audio.Rate))
	tape, err := audio.Load(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	for _, mp3 := range []bool{true, false} {
		if !mp3 {
			t.Setenv("PATH", t.TempDir())
		}
		e := audio.Excerpt{Layouts: []audio.Layout{{Use: []int{0}}}}
		var b bytes.Buffer
		if _, err := tape.Encode(context.Background(), e, &b); err != nil {
			t.Fatal(err)
		}
		if want := e.SoundBytes(context.Background(), 60); int64(b.Len()) < want*98/100 || int64(b.Len()) > want*102/100 {
			t.Errorf("MP3 %v: %d bytes, foreseen were %d", mp3, b.Len(), want)
		}
	}
}
