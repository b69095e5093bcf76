package timeline

import (
	"fmt"
	"strings"
)

// Level is what one channel of a recording is like. Levels are in dBFS, nil what
// could not be measured.
type Level struct {
	Channel     int      `json:"channel"` // counts from 0
	Name        string   `json:"name"`    // as a pilot knows it: "the left side"
	Listened    bool     `json:"listened"`
	SpeechShare float64  `json:"speech_share"` // of the time, 0 to 1
	Peak        *float64 `json:"peak"`
	Voice       *float64 `json:"voice"`   // RMS while somebody speaks
	Noise       *float64 `json:"noise"`   // RMS where nobody speaks
	SNR         *float64 `json:"snr"`     // dB
	Clipped     float64  `json:"clipped"` // share of the speech
	Hum         float64  `json:"hum"`     // 50 or 60 Hz, 0 for none
	Wind        float64  `json:"wind"`    // share of the time between words
}

// Text is a level for people.
func (l Level) Text() string {
	if l.Peak == nil {
		return l.Name + ": silent"
	}
	parts := []string{fmt.Sprintf("speech %.0f %% of the time", 100*l.SpeechShare)}
	if l.Voice != nil {
		parts = append(parts, fmt.Sprintf("voices %.0f dBFS", *l.Voice))
	}
	if l.Noise != nil {
		parts = append(parts, fmt.Sprintf("noise floor %.0f", *l.Noise))
	}
	if l.SNR != nil {
		parts = append(parts, fmt.Sprintf("voices %.0f dB above the noise", *l.SNR))
	}
	parts = append(parts, fmt.Sprintf("peak %.0f", *l.Peak))
	text := l.Name + ": " + strings.Join(parts, ", ")
	if !l.Listened {
		text += " (not listened to)"
	}
	return text
}
