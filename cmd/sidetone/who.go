package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"sidetone/audio/hear"
	"sidetone/audio/voices"
	"sidetone/rules"
)

const voiceUsage = "learn a voice, NAME=CLIP.wav or NAME=12:30-12:45 of this recording, and name who speaks by it (may be repeated)"

// voicesOf reads what --voice says. Several may teach one voice.
func voicesOf(given []string) (out []hear.Voice, err error) {
	for _, g := range given {
		name, source, ok := strings.Cut(g, "=")
		name, source = strings.TrimSpace(name), strings.TrimSpace(source)
		if !ok || name == "" || source == "" {
			return nil, usageErrorf("--voice %q: write a name and where the voice is heard, as student=clip.wav or student=12:30-12:45", g)
		}
		v := hear.Voice{Name: name, Clip: source}
		if from, to, ok := strings.Cut(source, "-"); ok {
			a, errA := seconds("--voice", from)
			b, errB := seconds("--voice", to)
			switch {
			case errA == nil && errB == nil && b <= a:
				return nil, usageErrorf("--voice %s: %s is not after %s", g, to, from)
			case errA == nil && errB == nil:
				v = hear.Voice{Name: name, From: a, To: b}
			}
		}
		if v.Clip != "" {
			if _, err := os.Stat(v.Clip); errors.Is(err, fs.ErrNotExist) {
				return nil, usageErrorf("--voice %s: there is no file %q, and it is no stretch of the recording such as 12:30-12:45", g, source)
			} else if err != nil {
				return nil, explain(v.Clip, err)
			}
		}
		out = append(out, v)
	}
	return out, nil
}

// voicesWithin says of the first stretch that lies beyond the recording's end.
func voicesWithin(vs []hear.Voice, duration float64) error {
	for _, v := range vs {
		if v.Clip == "" && v.From >= duration {
			return usageErrorf("--voice %s=%s-%s: the recording is only %s long", v.Name, rules.Clock(v.From), rules.Clock(v.To), rules.Clock(duration))
		}
	}
	return nil
}

// voiceNotes say what voices were taught, and how surely they are told.
func voiceNotes(given []hear.Voice, r *voices.Report) (notes []string) {
	if r == nil {
		return nil
	}
	var learnt, named, strange []string
	for _, v := range r.Voices {
		var from []string
		for _, g := range given {
			switch {
			case g.Name != v.Name:
			case g.Clip != "":
				from = append(from, filepath.Base(g.Clip))
			default:
				from = append(from, rules.Clock(g.From)+" to "+rules.Clock(g.To))
			}
		}
		if v.Trouble != "" {
			notes = append(notes, fmt.Sprintf("The voice of %s (%s) was not learnt: %s. Nobody is named by it.", v.Name, strings.Join(from, ", "), v.Trouble))
			continue
		}
		learnt = append(learnt, fmt.Sprintf("%s by %.0f s of clear speech (%s)", v.Name, v.Seconds, strings.Join(from, ", ")))
		named = append(named, fmt.Sprintf("%s by %s", utterancesText(v.Named), v.Name))
		if !slices.Contains([]string{string(rules.Student), string(rules.Instructor)}, strings.ToLower(v.Name)) {
			strange = append(strange, v.Name)
		}
	}
	if len(learnt) == 0 {
		return notes
	}
	note := "Voices were learnt: " + strings.Join(learnt, "; ") + "."
	if r.Tried > 0 {
		note += fmt.Sprintf(" Of the stretches of %.0f s they were learnt by, each left out in turn, %d of %d were told rightly.", voices.TriedSeconds, r.Right, r.Tried)
	}
	notes = append(notes, note, fmt.Sprintf("By their voice: %s; %s by somebody else, as it seems; %s unsure. A name is given when it is at least %.0f %% likely by the sound; it can still be wrong.",
		strings.Join(named, ", "), utterancesText(r.Nobodys), utterancesText(r.Unsure), 100*voices.Sure))
	if len(strange) > 0 {
		notes = append(notes, fmt.Sprintf("Procedures speak of the student and the instructor: to them, %s is neither. Use these names to have it applied whose a step is to say.", strings.Join(strange, " or ")))
	}
	return notes
}

func utterancesText(n int) string {
	if n == 1 {
		return "1 utterance"
	}
	return fmt.Sprintf("%d utterances", n)
}

// crosstalkNotes say what of the words was heard on several channels.
func crosstalkNotes(c hear.Crosstalk) (notes []string) {
	if n := c.Words + c.Moved; n > 0 {
		notes = append(notes, fmt.Sprintf("Cross-talk: %s of one seat, heard on the other's channel as well, only fainter, counted once, for the seat that spoke.", wordsText(n)))
	}
	if c.Shared > 0 {
		notes = append(notes, fmt.Sprintf("%s, as loud on both channels, counted once; who spoke is not known (the radio, most likely).", wordsText(c.Shared)))
	}
	return notes
}

func wordsText(n int) string {
	if n == 1 {
		return "1 word"
	}
	return fmt.Sprintf("%d words", n)
}
