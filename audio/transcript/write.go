package transcript

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strings"
)

// WriteVTT writes t as WebVTT (W3C): a cue per utterance, the speaker as a
// voice tag, and a time stamp before each word whose time is known, so that reading
// it back gives every word's start to the millisecond. Word ends and confidences
// are lost.
func WriteVTT(w io.Writer, t *Transcript) error {
	b := bufio.NewWriter(w)
	b.WriteString("WEBVTT\n")
	for _, u := range t.Utterances {
		texts, words := plainWords(u)
		if len(texts) == 0 {
			continue
		}
		start, end := span(u)
		fmt.Fprintf(b, "\n%s --> %s\n", clock(start, '.'), clock(end, '.'))
		if u.Speaker != "" || u.Channel > 0 {
			b.WriteString("<v")
			if u.Channel > 0 {
				fmt.Fprintf(b, ".%s%d", channelClass, u.Channel)
			}
			if u.Speaker != "" {
				b.WriteString(" " + escape(strings.Join(strings.Fields(u.Speaker), " ")))
			}
			b.WriteByte('>')
		}
		last := start // stamps must rise inside the cue
		for i, text := range texts {
			if i > 0 {
				b.WriteByte(' ')
			}
			if at := millis(words[i].Start); at > last && at < end && !words[i].Estimated {
				fmt.Fprintf(b, "<%s>", clock(at, '.'))
				last = at
			}
			b.WriteString(escape(text))
		}
		b.WriteByte('\n')
	}
	return b.Flush()
}

// WriteSRT writes t as SRT: line times only, no speakers.
func WriteSRT(w io.Writer, t *Transcript) error {
	b := bufio.NewWriter(w)
	n := 0
	for _, u := range t.Utterances {
		texts, _ := plainWords(u)
		if len(texts) == 0 {
			continue
		}
		if n++; n > 1 {
			b.WriteByte('\n')
		}
		start, end := span(u)
		fmt.Fprintf(b, "%d\n%s --> %s\n%s\n", n, clock(start, ','), clock(end, ','),
			escape(strings.Join(texts, " ")))
	}
	return b.Flush()
}

// WriteJSON writes t in the form Read takes and a debrief contains.
func WriteJSON(w io.Writer, t *Transcript) error {
	us := make([]Utterance, len(t.Utterances))
	for i, u := range t.Utterances {
		if u.Words == nil {
			u.Words = []Word{}
		}
		us[i] = u
	}
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", " ")
	return enc.Encode(struct {
		Transcript []Utterance `json:"transcript"`
	}{us})
}

// plainWords are the words of u, each one token, with their times.
func plainWords(u Utterance) ([]string, []Word) {
	words := u.Words
	if len(words) == 0 {
		words = Spread(u.Text, u.Start, u.End)
	}
	var texts []string
	var kept []Word
	for _, w := range words {
		for _, part := range Spread(w.Text, w.Start, w.End) {
			part.Confidence, part.Estimated = w.Confidence, w.Estimated
			texts, kept = append(texts, part.Text), append(kept, part)
		}
	}
	return texts, kept
}

// span is the cue of u in milliseconds, at least one long.
func span(u Utterance) (start, end int64) {
	start, end = millis(u.Start), millis(u.End)
	return start, max(end, start+1)
}

func millis(seconds float64) int64 {
	return int64(math.Round(max(seconds, 0) * 1000))
}

func clock(ms int64, point byte) string {
	return fmt.Sprintf("%02d:%02d:%02d%c%03d", ms/3600_000, ms/60_000%60, ms/1000%60, point, ms%1000)
}

// escape also keeps an arrow in the text from looking like a line of times.
func escape(s string) string { return escaper.Replace(s) }

var escaper = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;")
