package main

import (
	"context"
	"fmt"
	"os"

	"sidetone/audio"
	"sidetone/rules"
	"sidetone/timeline"
)

// soundChoices are what --sound may say.
var soundChoices = []string{"auto", "whole", "maneuvers", "none"}

// wholeLimit is how large the sound of a page may be before auto cuts it to the
// maneuvers: a page of twice that still opens on a tablet, and in a mail it is
// too large already. As MP3 it is 3 h 29 min of one channel, 2 h 20 min of two.
const wholeLimit = 48 << 20

// What is kept around a maneuver, in seconds: how it was begun and what was said
// of it.
const (
	keepBefore = 20
	keepAfter  = 20
	keepCall   = 10 // around a call, when no maneuver was found
)

// soundPlan says what sound a page gets, and puts the choice into words.
type soundPlan struct {
	none    bool
	excerpt audio.Excerpt
	spans   []timeline.Span
	note    string // for the page and the table; "" when it is all there
}

func planSound(ctx context.Context, choice string, l *lesson, tl *timeline.Timeline) soundPlan {
	p := soundPlan{excerpt: audio.Excerpt{Layouts: l.layouts, Gains: l.gains}}
	if l.tape == nil || choice == "none" {
		p.none = true
		return p
	}
	total := tl.Recording.Duration
	size := p.excerpt.SoundBytes(ctx, total)
	if choice == "whole" || choice == "auto" && size <= wholeLimit {
		return p
	}
	why := "as you asked"
	if choice == "auto" {
		why = fmt.Sprintf("since all of it would be %s", megabytes(size))
		p.excerpt.Mix = true
		if p.excerpt.SoundBytes(ctx, total) <= wholeLimit {
			p.note = fmt.Sprintf("The page holds all of the sound, but the seats are mixed into one, %s (--sound whole keeps them apart).", why)
			return p
		}
		p.excerpt.Mix = false
	}
	kept := 0.0
	p.spans = stretches(tl)
	for _, s := range p.spans {
		p.excerpt.Keep = append(p.excerpt.Keep, audio.Span(s))
		kept += s.To - s.From
	}
	p.excerpt.Mix = choice == "auto" && p.excerpt.SoundBytes(ctx, kept) > wholeLimit
	what := "the maneuvers"
	if len(tl.Maneuvers) == 0 {
		what = "the calls"
	}
	if len(p.spans) == 0 {
		p.none = true
		p.note = fmt.Sprintf("The page is without sound, %s and nothing was found to cut it to (--sound whole puts it in).", why)
		return p
	}
	p.note = fmt.Sprintf("The page holds the sound around %s only, %s of %s, %s (--sound whole puts all of it in).",
		what, rules.Clock(kept), rules.Clock(total), why)
	return p
}

// stretches are what to keep of a long lesson: the maneuvers and what surrounds
// them, else the calls.
func stretches(tl *timeline.Timeline) (out []timeline.Span) {
	add := func(from, to float64) {
		from, to = max(0, from), min(to, tl.Recording.Duration)
		if n := len(out); n > 0 && from <= out[n-1].To {
			out[n-1].To = max(out[n-1].To, to)
		} else if to > from {
			out = append(out, timeline.Span{From: from, To: to})
		}
	}
	for _, a := range tl.Maneuvers {
		add(a.Start-keepBefore, a.End+keepAfter)
	}
	if len(tl.Maneuvers) == 0 {
		for _, c := range tl.Calls {
			add(c.Start-keepCall, c.End+keepCall)
		}
	}
	return out
}

func megabytes(n int64) string { return fmt.Sprintf("%.0f MB", float64(n)/1e6) }

// pageSize tells how large a page came out, and what sound is in it.
func pageSize(path string, p soundPlan, mime string) string {
	st, err := os.Stat(path)
	if err != nil || !st.Mode().IsRegular() {
		return ""
	}
	sound := "no sound"
	switch {
	case mime == "":
	case len(p.spans) > 0:
		sound = "part of the sound"
	default:
		sound = "the whole sound"
	}
	if mime == "audio/mpeg" {
		sound += ", made small as MP3"
	} else if mime != "" {
		sound += ", as WAV since ffmpeg is not there to make it small"
	}
	return fmt.Sprintf(" (%.1f MB, with %s)", float64(st.Size())/1e6, sound)
}
