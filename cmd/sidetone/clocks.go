package main

import (
	"fmt"
	"math"
	"strings"
	"time"

	"sidetone/audio"
	"sidetone/audio/hear"
	"sidetone/rules"
	"sidetone/timeline"
)

// partsOf describes the files of a recording in several, those that were read,
// and gives the whole a name.
func partsOf(heard *hear.Result) (name string, parts []timeline.Part) {
	var names []string
	for i, start := range heard.Starts {
		end := heard.Duration
		if i+1 < len(heard.Starts) {
			end = heard.Starts[i+1]
		}
		info := heard.Tape.Parts[i].Info
		names = append(names, info.File)
		parts = append(parts, timeline.Part{File: info.File, Start: start, Duration: end - start,
			Channels: info.Channels, SampleRate: info.SampleRate})
	}
	const shown = 3
	if more := len(names) - shown; more > 0 {
		names = append(names[:shown], fmt.Sprintf("%d more", more))
	}
	return strings.Join(names, ", "), parts
}

// setClocks gives a recording and its parts their time of day, from what the user
// said and what the files say, and tells of what was not recorded in between.
func setClocks(rec *timeline.Recording, heard *hear.Result, given *timeline.Clock) (notes []string) {
	said := heard.Tape.Parts[0].Info.Began
	switch {
	case given != nil:
		rec.Starts = given
	case said != nil:
		rec.Starts = clockOf(said)
		notes = append(notes, whence(said))
	}
	for i := range rec.Parts {
		p := &rec.Parts[i]
		began := heard.Tape.Parts[i].Info.Began
		if i == 0 {
			p.Starts = rec.Starts
			continue
		}
		last := &rec.Parts[i-1]
		apart := 0.0 // seconds between the two files
		if before := heard.Tape.Parts[i-1].Info.Began; comparable(before, began) {
			apart = began.Time.Sub(before.Time).Seconds() - last.Duration
		}
		p.Gap, notes = gap(last, p, apart, notes)
		switch {
		case last.Starts != nil && math.Abs(apart) <= enough:
			p.Starts = last.Starts.After(last.Duration)
			p.Starts.Thousandths = true // it is no surer, but seconds counted from it come out even
		case given != nil && comparable(said, began):
			p.Starts = given.After(began.Time.Sub(said.Time).Seconds())
		case given == nil && began != nil:
			p.Starts = clockOf(began)
		}
	}
	return notes
}

// comparable says whether two times are by the same kind of clock.
func comparable(a, b *audio.Began) bool { return a != nil && b != nil && a.Zone == b.Zone }

// enough seconds apart are a gap; less is the rounding of clocks and headers.
const enough = 2.0

// gap tells of the seconds between two files.
func gap(last, next *timeline.Part, seconds float64, notes []string) (float64, []string) {
	switch {
	case seconds > enough:
		return seconds, append(notes, fmt.Sprintf("Between %s and %s %s were not recorded, by their own clocks: what was called then was not heard.",
			last.File, next.File, span(seconds)))
	case seconds < -enough:
		return 0, append(notes, fmt.Sprintf("By their own clocks %s begins %s before %s ends: name the files in the order they were recorded.",
			next.File, span(-seconds), last.File))
	}
	return 0, notes
}

func span(seconds float64) string {
	switch {
	case seconds < 90:
		return fmt.Sprintf("%.0f s", seconds)
	case seconds < 3600:
		return rules.Clock(seconds) + " min"
	}
	return rules.Clock(seconds) + " h"
}

func clockOf(b *audio.Began) *timeline.Clock {
	return &timeline.Clock{Time: b.Time, Date: true, Zone: b.Zone, Thousandths: b.Exact && b.Time.Nanosecond() >= int(time.Millisecond)}
}

// whence says where the time of day is from, and what to do when it is off.
func whence(b *audio.Began) string {
	zone := "in UTC as it says"
	switch {
	case !b.Zone:
		zone = "by the recorder's own clock, zone unknown"
	case b.Time.Location() != time.UTC:
		zone = "in the zone it says"
	}
	return fmt.Sprintf("Times of day are from the file itself, %s; if they are off, give --starts.", zone)
}
