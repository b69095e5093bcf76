package timeline_test

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"sidetone/timeline"
)

func TestAClockIsReadAsPilotsAndRecordersWriteIt(t *testing.T) {
	for text, want := range map[string]string{
		"14:32:05Z":                 "14:32:05Z",
		"14:32:05z":                 "14:32:05Z",
		"14:32Z":                    "14:32:00Z",
		"14:32":                     "14:32:00",
		" 14:32:05 ":                "14:32:05",
		"14:32:05+02:00":            "14:32:05+02:00",
		"14:32:05.250Z":             "14:32:05.250Z",
		"2026-05-01T14:32:05Z":      "2026-05-01T14:32:05Z",
		"2026-05-01 14:32:05":       "2026-05-01T14:32:05",
		"2026-05-01T14:32:05-05:30": "2026-05-01T14:32:05-05:30",
	} {
		c, err := timeline.ParseClock(text)
		if err != nil {
			t.Errorf("%q: %v", text, err)
		} else if c.String() != want {
			t.Errorf("%q is read as %q, want %q", text, c, want)
		}
	}
	for _, text := range []string{"", "now", "25:00:00Z", "14:61Z", "1432Z", "14.32.05", "2026-13-01T14:32:05Z", "14:32:05 pm"} {
		if c, err := timeline.ParseClock(text); err == nil {
			t.Errorf("%q is read as %q", text, c)
		} else if !strings.Contains(err.Error(), "14:32:05Z") {
			t.Errorf("%q: the error does not say how to write it: %v", text, err)
		}
	}
}

func TestAClockGoesOnOverMidnight(t *testing.T) {
	c, err := timeline.ParseClock("23:59:50Z")
	if err != nil {
		t.Fatal(err)
	}
	if got := c.After(15.9).Day(); got != "00:00:05Z" {
		t.Errorf("16 s after 23:59:50Z it is %s", got)
	}
	d := timeline.Clock{Time: time.Date(2026, 12, 31, 23, 59, 59, 0, time.UTC), Date: true}
	if got := d.After(1).String(); got != "2027-01-01T00:00:00" {
		t.Errorf("a second after the last of the year it is %s", got)
	}
}

func TestMomentsOfARecordingInPartsAreTheirFilesToo(t *testing.T) {
	clock := func(s string) *timeline.Clock {
		c, err := timeline.ParseClock(s)
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	one := timeline.Recording{File: "a.wav", Starts: clock("14:00:00Z")}
	two := timeline.Recording{File: "a.wav, b.wav", Starts: clock("14:00:00Z"), Parts: []timeline.Part{
		{File: "a.wav", Duration: 60, Starts: clock("14:00:00Z")},
		{File: "b.wav", Start: 60, Duration: 60, Starts: clock("14:05:00Z")}, // five minutes were not recorded
	}}
	for _, c := range []struct {
		name               string
		rec                timeline.Recording
		at                 float64
		file, place, clock string
		second             float64
	}{
		{"one file", one, 90, "a.wav", "", "14:01:30Z", 90},
		{"the first of two", two, 59, "a.wav", "a.wav 0:59", "14:00:59Z", 59},
		{"the second of two, at its start", two, 60, "b.wav", "b.wav 0:00", "14:05:00Z", 0},
		{"the second of two", two, 75, "b.wav", "b.wav 0:15", "14:05:15Z", 15},
	} {
		file, second := c.rec.Place(c.at)
		if file != c.file || second != c.second || c.rec.PlaceText(c.at) != c.place || c.rec.ClockAt(c.at).Day() != c.clock {
			t.Errorf("%s: %s at %v, %q, %s", c.name, file, second, c.rec.PlaceText(c.at), c.rec.ClockAt(c.at))
		}
	}
	if (timeline.Recording{}).ClockAt(3) != nil {
		t.Error("a recording of an unknown time has a clock")
	}
	b, err := json.Marshal(two)
	if err != nil {
		t.Fatal(err)
	}
	var back timeline.Recording
	if err := json.Unmarshal(b, &back); err != nil {
		t.Fatal(err)
	}
	if got := back.ClockAt(75).String(); got != "14:05:15Z" {
		t.Errorf("read back from %s the clock at 75 s is %s", b, got)
	}
}

// FuzzClock reads what a user may type for a time of day; what is taken is
// written and read as the same.
func FuzzClock(f *testing.F) {
	for _, s := range []string{"14:32:05Z", "14:32", "2026-05-01T14:32:05.123456789+14:00", "2026-05-01 14:32", "24:00Z", "", "T", "0000-01-01T00:00:00Z"} {
		f.Add(s, 12.5)
	}
	f.Fuzz(func(t *testing.T, s string, later float64) {
		c, err := timeline.ParseClock(s)
		if err != nil {
			return
		}
		again, err := timeline.ParseClock(c.String())
		if err != nil || again.String() != c.String() {
			t.Errorf("%q is written %q and read as %v, %v", s, c, again, err)
		}
		if later > 0 && later < 1e6 {
			if d := c.After(later).Day(); len(d) < len("14:32:05") {
				t.Errorf("%v s after %s it is %q", later, c, d)
			}
		}
	})
}
