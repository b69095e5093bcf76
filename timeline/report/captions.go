package report

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strings"

	"sidetone/audio/transcript"
	"sidetone/rules"
	"sidetone/timeline"
)

// WriteCaptions writes everything that was said as WebVTT captions, speakers as
// voice tags, with a time stamp before each word whose time is known.
func WriteCaptions(w io.Writer, tl *timeline.Timeline) error {
	return transcript.WriteVTT(w, &transcript.Transcript{Utterances: tl.Transcript})
}

// WriteChapters writes the maneuvers as WebVTT chapters, and within each the
// moments to listen to: first the maneuver, then, nested in it, what is to be talked
// about, each from its moment to the next (W3C WebVTT: a file using chapter title
// text, with nested cues). Findings without a moment are left out, and moments
// outside the maneuver are drawn to its edge.
func WriteChapters(w io.Writer, tl *timeline.Timeline) error {
	b := bufio.NewWriter(w)
	b.WriteString("WEBVTT\n")
	cue := func(from, to int64, text string) {
		fmt.Fprintf(b, "\n%s --> %s\n%s\n", vttClock(from), vttClock(to), chapterText.Replace(clean(text)))
	}
	for _, m := range tl.Maneuvers {
		start := millis(m.Start)
		end := max(millis(m.End), start+1)
		title := m.Title
		if m.Abandoned != nil {
			title += " (abandoned)"
		}
		cue(start, end, title)
		type moment struct {
			at    int64
			texts []string
		}
		var moments []moment
		for _, f := range findingsByTime(m) {
			at := min(max(millis(*f.At), start), end-1)
			text := word(rules.Verdict(f.Kind)) + ": " + clean(f.Message)
			if n := len(moments); n > 0 && moments[n-1].at == at {
				moments[n-1].texts = append(moments[n-1].texts, text)
				continue
			}
			moments = append(moments, moment{at, []string{text}})
		}
		for i, x := range moments {
			to := end
			if i+1 < len(moments) {
				to = moments[i+1].at
			}
			cue(x.at, to, strings.Join(x.texts, " / "))
		}
	}
	return b.Flush()
}

// chapterText keeps a title from being taken for markup, or for a line of times.
var chapterText = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;")

func millis(seconds float64) int64 { return int64(math.Round(max(seconds, 0) * 1000)) }

func vttClock(ms int64) string {
	return fmt.Sprintf("%02d:%02d:%02d.%03d", ms/3600_000, ms/60_000%60, ms/1000%60, ms%1000)
}
