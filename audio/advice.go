package audio

import (
	"fmt"
	"math"
)

// From where on a pilot is told. Our own choice, but tooNoisy and poorSNR, which
// are set by what is heard of our own lessons (make score): of recordings above
// the first some three calls in four are found, below the second hardly every
// other one, and what is not heard says little.
const (
	tooNoisy = 12.0 // dB
	poorSNR  = 6.0  // dB

	tooQuiet    = -42.0 // dBFS of the voices
	tooClipped  = 0.01  // of the speech
	humUnder    = 30.0  // dB under the voices: fainter hum troubles nobody
	tooWindy    = 0.2   // of the time between words
	someSpeech  = 0.005 // of the time: less is a cough
	wholeShare  = 0.2   // of all that is spoken: a seat with less decides nothing
	muchClipped = 0.5   // of the speech
)

// Name is how a pilot knows the channel.
func (l Level) Name() string {
	if l.Channels == 1 {
		return "the recording"
	}
	return channelName(l.Channel, l.Channels)
}

// Advice says what is wrong with a channel that was listened to, and what to do
// about it next time; nothing when all is well.
func (l Level) Advice() (say []string) {
	if !l.Listened {
		return nil
	}
	tell := func(format string, args ...any) {
		s := fmt.Sprintf(format, args...)
		say = append(say, string(s[0]-'a'+'A')+s[1:])
	}
	if l.Share < someSpeech {
		if l.Channels > 1 {
			tell("%s has next to no speech on it: is that headset plugged in, and its volume up?", l.Name())
		}
		return say
	}
	if l.Voice < tooQuiet {
		tell("%s is very quiet (voices at %.0f dBFS): turn the recording level up, or see whether the plug is fully in.", l.Name(), l.Voice)
	}
	if l.Clipped >= tooClipped {
		tell("%s is too loud for the recorder: %.0f %% of the speech is cut off at the top. Turn the recording level down, or use a cable with an attenuator.", l.Name(), max(1, 100*l.Clipped))
	}
	if l.Hum > 0 && l.HumLevel > l.Voice-humUnder {
		tell("%s has mains hum on it (%.0f Hz, %.0f dB under the voices): run the recorder on batteries, and keep its cable away from chargers and inverters.", l.Name(), l.Hum, max(0, l.Voice-l.HumLevel))
	}
	if l.Wind >= tooWindy {
		tell("%s has wind or handling noise in %.0f %% of the pauses: cover the microphone with foam, and let nothing touch it or its cable.", l.Name(), 100*l.Wind)
	}
	if l.SNR < tooNoisy && l.SNR >= poorSNR {
		tell("%s is noisy (voices %.0f dB above the noise under them): some calls will not be heard. Recording from the intercom by cable helps most.", l.Name(), l.SNR)
	}
	return say
}

// Poor says why a recording is too poor to judge anybody by, "" when it is not.
// A seat that speaks little decides nothing.
func Poor(levels []Level) string {
	total := 0.0
	for _, l := range levels {
		if l.Listened {
			total += l.Share
		}
	}
	for _, l := range levels {
		if !l.Listened || l.Share < someSpeech || l.Share < wholeShare*total {
			continue
		}
		switch {
		case l.SNR < poorSNR:
			return fmt.Sprintf("on %s the voices are only %.0f dB above the noise under them", l.Name(), l.SNR)
		case l.Clipped >= muchClipped:
			return fmt.Sprintf("on %s %.0f %% of the speech is cut off at the top", l.Name(), 100*l.Clipped)
		case math.IsInf(l.Voice, -1):
			return fmt.Sprintf("on %s the voices are no louder than the noise", l.Name())
		}
	}
	return ""
}
