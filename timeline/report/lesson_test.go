package report

import (
	"encoding/binary"
	"math"

	"sidetone/audio/transcript"
	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/timeline"
)

// An invented lesson: an invented student and instructor fly slow flight in
// landing configuration in an invented trainer, with several faults.

type saying struct {
	at   float64 // s
	who  string
	text string
	id   string // the callout, "" for talk
	val  float64
	unit string
	not  callouts.Stance // "" is done
}

var said = []saying{
	{at: 3.2, who: "Instructor", text: "right, that was a nice climb, let's do some slow flight with the flaps out this time"},
	{at: 9.5, who: "Student", text: "okay, clearing turn left first", id: "clearing-turns"},
	{at: 15.1, who: "Student", text: "and clear on the right, clearing turns complete", id: "clearing-turns"},
	{at: 21.4, who: "Student", text: "altitude three thousand five hundred", id: "altitude", val: 3500, unit: "ft"},
	{at: 25.0, who: "Student", text: "heading two seven zero", id: "heading", val: 270, unit: "deg"},
	{at: 28.3, who: "Instructor", text: "last time you forgot the trim, remember", id: "trim-set", not: callouts.TalkedAbout},
	{at: 33.6, who: "Student", text: "carved heed on", id: "carb-heat-on"},
	{at: 36.0, who: "Student", text: "trim set", id: "trim-set"},
	{at: 39.8, who: "Student", text: "power back seventeen hundred", id: "power-back", val: 1700, unit: "rpm"},
	{at: 45.2, who: "Instructor", text: "first stage when you are in the white arc", id: "flaps", not: callouts.Ordered},
	{at: 47.9, who: "Student", text: "in the white arc, flaps ten", id: "flaps", val: 10, unit: "deg"},
	{at: 53.5, who: "Student", text: "flaps thirty, correction, twenty", id: "flaps", val: 20, unit: "deg"},
	{at: 59.0, who: "Student", text: "full flaps", id: "flaps-full"},
	{at: 63.3, who: "Student", text: "nose coming up", id: "nose-up"},
	{at: 69.7, who: "Student", text: "airspeed seven eight", id: "airspeed", val: 78, unit: "kt"},
	{at: 76.4, who: "Instructor", text: "look outside, nice and easy, a touch of right rudder, there is a lake down there with a funny shape, see it?"},
	{at: 84.0, who: "Student", text: "oh yes, looks like a duck"},
	{at: 92.5, who: "Instructor", text: "good, and recover"},
	{at: 94.2, who: "Student", text: "recovering, full power", id: "full-power"},
	{at: 99.1, who: "Student", text: "flap stranded", id: "flaps", val: 20, unit: "deg"},
	{at: 104.8, who: "Student", text: "flaps ten", id: "flaps", val: 10, unit: "deg"},
	{at: 108.9, who: "Student", text: "flaps up", id: "flaps-up"},
	{at: 113.6, who: "Student", text: "positive rate", id: "positive-rate"},
	{at: 121.2, who: "Student", text: "and level, cruise power twenty three hundred", id: "cruise-power", val: 2300, unit: "rpm"},
	{at: 129.0, who: "Student", text: "mumble mumble some trim", id: "trim-set"},
	{at: 136.5, who: "Instructor", text: "not bad at all, we'll talk about the carb heat on the ground"},
	{at: 150.0, who: "Student", text: "sorry, I always forget that one"},
	{at: 171.3, who: "Instructor", text: "my controls, let's go home", id: "controls-mine"},
}

func ref[T any](v T) *T { return &v }

// lesson builds the timeline of said, 180 s long.
func lesson() *timeline.Timeline {
	tl := &timeline.Timeline{
		Version:   timeline.Version,
		Recording: timeline.Recording{File: "lesson.wav", Duration: 180, Channels: 2, SampleRate: 48000, SpeechSeconds: 71.5},
		Notes:     []string{"The two channels are copies of each other; one was listened to."},
	}
	for i, s := range said {
		end := s.at + 0.9 + 0.055*float64(len(s.text))
		u := transcript.Utterance{Start: s.at, End: end, Speaker: s.who, Text: s.text, Words: transcript.Spread(s.text, s.at, end)}
		for j := range u.Words {
			u.Words[j].Confidence, u.Words[j].Estimated = 0.93, false
		}
		if s.text == "mumble mumble some trim" {
			u.Words[0].Confidence, u.Words[1].Confidence = 0.2, 0.25
		}
		tl.Transcript = append(tl.Transcript, u)
		if s.id == "" {
			continue
		}
		c := callouts.Call{ID: s.id, Start: s.at, End: end, Speaker: s.who, Stance: callouts.Done, Confidence: 0.9, Heard: s.text, Unit: s.unit, Utterance: i}
		if s.not != "" {
			c.Stance = s.not
		}
		if s.unit != "" {
			c.Value = ref(s.val)
		}
		tl.Calls = append(tl.Calls, c)
	}
	a := rules.Assessment{Procedure: "slow-flight-landing", Title: "Slow flight, landing configuration", Start: 9.5, End: 131}
	step := func(phase, id, title string, v rules.Verdict, call float64, reason string) {
		s := rules.StepResult{ID: id, Title: title, Verdict: v, Reason: reason}
		for i, c := range tl.Calls {
			if c.Start == call {
				s.Call, s.At, s.Value, s.Confidence = ref(i), ref(c.Start), c.Value, c.Confidence
			}
		}
		if id == "flaps-ten" {
			s.Prompted = true
		}
		if v == rules.Unsure {
			s.Confidence = 0.41
		}
		if v == rules.NotApplicable {
			s.Waived = rules.NotRequired
		}
		if id == "landing-light" {
			s.Waived = rules.OtherAircraft
		}
		a.Steps, a.Phases = append(a.Steps, s), append(a.Phases, phase)
	}
	step("Set-up", "clearing-turns", "Clearing turns", rules.Heard, 15.1, "Heard at 0:15, before the entry.")
	step("Set-up", "altitude", "Altitude called", rules.Heard, 21.4, "Heard at 0:21.")
	step("Set-up", "heading", "Heading called", rules.Heard, 25.0, "Heard at 0:25.")
	step("Set-up", "landing-light", "Landing light on", rules.NotApplicable, -1, "This aircraft has no landing light.")
	step("Set-up", "pre-maneuver-check", "Checks complete", rules.NotApplicable, -1, "Optional, and not heard.")
	step("Set-up", "gauges", "Gauges green", rules.NotApplicable, -1, "Optional, and not heard.")
	step("Entry", "carb-heat-on", "Carburettor heat on", rules.Heard, 33.6, "Heard at 0:33, before power came back.")
	step("Entry", "power-back", "Power back to entry power", rules.Heard, 39.8, "1,700 rpm, as planned.")
	step("Entry", "flaps-ten", "Flaps first stage", rules.Heard, 47.9, "Said at 0:47 after the instructor asked for it at 0:45.")
	step("Entry", "flaps-twenty", "Flaps middle stage", rules.Heard, 53.5, "Corrected from 30 to 20 in the same breath.")
	step("Entry", "flaps-full", "Flaps full", rules.Heard, 59.0, "Heard at 0:59.")
	step("Entry", "nose-up", "Nose up to hold altitude", rules.Heard, 63.3, "Heard at 1:03, after power came back.")
	step("Entry", "airspeed", "Target airspeed called", rules.OffValue, 69.7, "78 kt was called at 1:09; 65 to 75 kt was expected.")
	step("Entry", "trim-entry", "Trim", rules.OutOfOrder, 36.0, "Trim set at 0:36 came before power back at 0:39.")
	step("Recovery", "full-power", "Full power", rules.Heard, 94.2, "Heard at 1:34.")
	step("Recovery", "carb-heat-cold", "Carburettor heat cold", rules.NotHeard, -1, "Not heard between 1:34 and 1:59; listen there.")
	step("Recovery", "flaps-twenty-again", "Flaps to the middle stage", rules.Late, 99.1, "Came 5 seconds after full power; at once was expected.")
	step("Recovery", "flaps-ten-again", "Flaps to the first stage", rules.Heard, 104.8, "Heard at 1:44.")
	step("Recovery", "positive-rate", "Positive rate", rules.Heard, 113.6, "Heard at 1:53.")
	step("Recovery", "flaps-up", "Flaps up", rules.OutOfOrder, 108.9, "Flaps up at 1:48 came before positive rate at 1:53.")
	step("Recovery", "cruise-power", "Cruise power", rules.Heard, 121.2, "2,300 rpm, as planned.")
	step("Recovery", "trim-cruise", "Trim for level flight", rules.Unsure, 129.0, "The words at 2:09 are unclear; listen for \"trim set\".")
	a.Findings = []rules.Finding{
		{Step: "flaps-twenty", Kind: "corrected", Severity: rules.Note, At: ref(53.5), Message: "Flaps thirty was corrected to twenty in the same breath, the standard way.", Reference: "AIM 4-2"},
		{Step: "airspeed", Kind: "off-value", Severity: rules.Important, At: ref(69.7), Message: "78 kt was called at 1:09; hold 65 kt, no slower and at most 10 kt faster.", Reference: "FAA-S-ACS-6C VII.A"},
		{Step: "trim-entry", Kind: "out-of-order", Severity: rules.Important, At: ref(36.0), Message: "Trim set at 0:36 came before power back at 0:39. Power first, then trim for what the nose asks for.", Reference: "common practice, no source"},
		{Step: "carb-heat-cold", Kind: "not-heard", Severity: rules.Safety, At: ref(95.6), Message: "Carburettor heat cold was not heard after full power. Hot air costs power when you need all of it.", Reference: "common practice, no source"},
		{Step: "flaps-twenty-again", Kind: "late", Severity: rules.Note, At: ref(99.1), Message: "The middle stage came 5 seconds after full power; take the drag off at once.", Reference: "common practice, no source"},
		{Step: "flaps-up", Kind: "out-of-order", Severity: rules.Safety, At: ref(108.9), Message: "Flaps up at 1:48 came before positive rate at 1:53. Near the ground that is a sink.", Reference: "common practice, no source"},
		{Step: "trim-cruise", Kind: "unsure", Severity: rules.Note, At: ref(129.0), Message: "The words at 2:09 are unclear; listen and decide whether trim was called.", Reference: ""},
	}
	tl.Maneuvers = []rules.Assessment{a}
	return tl
}

// longLesson is two hours with 20,000 words and 3,000 calls, 24 maneuvers.
func longLesson() *timeline.Timeline {
	one := lesson()
	tl := &timeline.Timeline{Version: timeline.Version, Recording: one.Recording}
	tl.Recording.Duration = 7200
	const lines = 2000
	for i := range lines {
		at := float64(i) * 7200 / lines
		text := "and carb heat on then power back to seventeen hundred"
		u := transcript.Utterance{Start: at, End: at + 3, Speaker: "Student", Text: text, Words: transcript.Spread(text, at, at+3)}
		tl.Transcript = append(tl.Transcript, u)
		tl.Calls = append(tl.Calls, callouts.Call{ID: "carb-heat-on", Start: u.Words[1].Start, End: u.Words[3].End, Stance: callouts.Done, Confidence: 0.9, Heard: "carb heat on", Utterance: i})
		if i%2 == 0 {
			tl.Calls = append(tl.Calls, callouts.Call{ID: "power-back", Start: u.Words[5].Start, End: u.Words[9].End, Stance: callouts.Done, Value: ref(1700.0), Unit: "rpm", Confidence: 0.9, Heard: "power back to seventeen hundred", Utterance: i})
		}
	}
	for i := range 24 {
		m := one.Maneuvers[0]
		shift := float64(i) * 300
		m.Start, m.End = m.Start+shift, m.End+shift
		m.Steps = append([]rules.StepResult(nil), m.Steps...)
		for j := range m.Steps {
			if m.Steps[j].At != nil {
				m.Steps[j].At = ref(*m.Steps[j].At + shift)
			}
		}
		m.Findings = append([]rules.Finding(nil), m.Findings...)
		for j := range m.Findings {
			m.Findings[j].At = ref(*m.Findings[j].At + shift)
		}
		tl.Maneuvers = append(tl.Maneuvers, m)
	}
	return tl
}

// sound is a WAV of 8-bit mono at 8 kHz: a faint engine all through and a louder
// tone wherever something is said. peaks are its buckets, n of them.
func sound(tl *timeline.Timeline, n int) (wav []byte, peaks [][2]float32) {
	const rate = 8000
	size := int(tl.Recording.Duration * rate)
	amp := make([]float64, size)
	for i := range amp {
		amp[i] = 0.06 + 0.02*math.Sin(float64(i)*0.0013)
	}
	for _, u := range tl.Transcript {
		for i := int(u.Start * rate); i < min(int(u.End*rate), size); i++ {
			x := float64(i)/rate - u.Start
			amp[i] = 0.25 + 0.35*math.Abs(math.Sin(x*7))*math.Abs(math.Sin(x*2.3+u.Start))
		}
	}
	wav = make([]byte, 0, 44+size)
	wav = append(wav, "RIFF"...)
	wav = binary.LittleEndian.AppendUint32(wav, uint32(36+size))
	wav = append(wav, "WAVEfmt "...)
	for _, v := range []uint32{16, 1 | 1<<16, rate, rate, 1 | 8<<16} { // PCM, mono; bytes/s; block 1, 8 bits
		wav = binary.LittleEndian.AppendUint32(wav, v)
	}
	wav = append(wav, "data"...)
	wav = binary.LittleEndian.AppendUint32(wav, uint32(size))
	peaks = make([][2]float32, n)
	for i, a := range amp {
		v := a * math.Sin(2*math.Pi*220*float64(i)/rate)
		wav = append(wav, byte(128+v*120))
		p := &peaks[i*n/size]
		p[0], p[1] = min(p[0], float32(v)), max(p[1], float32(v))
	}
	return wav, peaks
}
