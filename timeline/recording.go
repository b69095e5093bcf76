package timeline

import "sidetone/rules"

// Recording describes what was listened to. Times in seconds, rate in Hz.
// SpeechSeconds is the length of the stretches with speech in them.
type Recording struct {
	File          string  `json:"file"`
	Duration      float64 `json:"duration"`
	Channels      int     `json:"channels"`
	SampleRate    int     `json:"sample_rate"`
	SpeechSeconds float64 `json:"speech_seconds"`

	// Parts are the files of a recording in several, in order; none when there
	// is one.
	Parts []Part `json:"parts,omitempty"`
	// Starts is the time of day at second 0, nil when unknown. See Clock.
	Starts *Clock `json:"starts,omitempty"`
	// Levels are those of every channel; none when words were given.
	Levels []Level `json:"levels,omitempty"`
	// Poor is why the recording is too poor to judge anybody by, "" when it is not.
	Poor string `json:"poor,omitempty"`
	// SentTo is the host whose recogniser the speech was sent to, "" when the sound
	// stayed on this machine.
	SentTo string `json:"sent_to,omitempty"`
}

// Part is one file of a recording in several. Start is the second of the
// recording it begins at.
type Part struct {
	File       string  `json:"file"`
	Start      float64 `json:"start"`
	Duration   float64 `json:"duration"`
	Channels   int     `json:"channels"`
	SampleRate int     `json:"sample_rate"`
	// Starts is the time of day the file begins at, nil when unknown.
	Starts *Clock `json:"starts,omitempty"`
	// Gap is how long nothing was recorded before the file, by the files' clocks.
	Gap float64 `json:"gap,omitempty"`
}

// part is the index of the part a moment lies in, -1 without parts.
func (r Recording) part(at float64) int {
	in := -1
	for i, p := range r.Parts {
		if i == 0 || p.Start <= at {
			in = i
		}
	}
	return in
}

// Place says in which file a moment lies, and at which second of it. In a
// recording of one file that is the moment itself.
func (r Recording) Place(at float64) (file string, second float64) {
	i := r.part(at)
	if i < 0 {
		return r.File, at
	}
	return r.Parts[i].File, at - r.Parts[i].Start
}

// PlaceText is Place for people, "" in a recording of one file.
func (r Recording) PlaceText(at float64) string {
	if len(r.Parts) == 0 {
		return ""
	}
	file, second := r.Place(at)
	return file + " " + rules.Clock(second)
}

// ClockAt is the time of day at a moment, nil when unknown.
func (r Recording) ClockAt(at float64) *Clock {
	if i := r.part(at); i >= 0 && r.Parts[i].Starts != nil {
		return r.Parts[i].Starts.After(at - r.Parts[i].Start)
	}
	if r.Starts == nil {
		return nil
	}
	return r.Starts.After(at)
}
