package callouts

import (
	"slices"
	"strings"

	"sidetone/audio/transcript"
)

// OnRadio tells, for each call of a transcript, whether its words are part of a
// radio call, by what radio calls have in them: the name of a place with "traffic"
// at their beginning or end, a station spoken to, a call sign (AIM 4-1-9 and 4-2-4),
// a runway. Whose radio call it is the words do not tell.
func OnRadio(t *transcript.Transcript, calls []Call) []bool {
	out := make([]bool, len(calls))
	for i := range calls {
		out[i] = radioed(t, &calls[i])
	}
	return out
}

// transmissionGap is a pause, in seconds, that parts a radio call from what is said
// before and after it.
const transmissionGap = 1.2

// radioed looks at the words around a call up to the next pause. An utterance is not
// always all of it: segments are cut where a voice falls.
func radioed(t *transcript.Transcript, c *Call) bool {
	type spoken struct {
		text       string
		start, end float64
	}
	var words []spoken
	for i := max(0, c.Utterance-2); i < min(len(t.Utterances), c.Utterance+3); i++ {
		u := &t.Utterances[i]
		if u.Channel != t.Utterances[c.Utterance].Channel || u.Speaker != c.Speaker {
			continue
		}
		list := u.Words
		if len(list) == 0 {
			list = transcript.Spread(u.Text, u.Start, u.End)
		}
		for _, w := range list {
			text := strings.ToLower(strings.Trim(w.Text, " \"'“”‘’(),.;:?!…-–—"))
			words = append(words, spoken{text, w.Start, w.End})
		}
	}
	from := slices.IndexFunc(words, func(w spoken) bool { return (w.start+w.end)/2 >= c.Start })
	if from < 0 {
		return false
	}
	to := from
	for from > 0 && words[from].start-words[from-1].end < transmissionGap {
		from--
	}
	for to+1 < len(words) && words[to+1].start-words[to].end < transmissionGap {
		to++
	}
	var said []string
	for _, w := range words[from : to+1] {
		said = append(said, w.text)
	}
	return isRadioCall(said)
}

var (
	stations = set("tower", "ground", "approach", "departure", "center", "radio", "unicom", "clearance", "information", "delivery")
	letters  = set("alpha", "alfa", "bravo", "charlie", "delta", "echo", "foxtrot", "golf", "hotel", "india", "juliet", "juliett", "kilo", "lima", "mike",
		"november", "oscar", "papa", "quebec", "romeo", "sierra", "tango", "uniform", "victor", "whiskey", "x-ray", "xray", "yankee", "zulu")
	spokenDigits = set("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "niner", "oh")
	// notPlaces are words "traffic" and the names of stations are spoken of with, not to.
	notPlaces = set("a", "an", "the", "any", "some", "no", "that", "this", "for", "of", "and", "is", "more", "other", "your", "our", "my", "his", "their", "to",
		"with", "from", "see", "have", "there's", "in", "on", "at", "watch", "on", "call", "by", "said", "what", "which", "where", "let", "ask", "tell")
)

// isRadioCall tells whether words are a radio call.
func isRadioCall(said []string) bool {
	for i, w := range said {
		edge := i <= 2 || i >= len(said)-2
		switch {
		case i > 0 && edge && (w == "traffic" || i <= 2 && i+1 < len(said) && stations[w]) && !notPlaces[said[i-1]]:
			return true
		case w == "runway" && i+2 < len(said) && spokenDigits[said[i+1]] && spokenDigits[said[i+2]]:
			return true
		case letters[w] && (i > 0 && (spokenDigits[said[i-1]] || letters[said[i-1]]) || i+1 < len(said) && (spokenDigits[said[i+1]] || letters[said[i+1]])):
			return true
		}
	}
	return false
}
