package lesson

import (
	"fmt"
	"slices"

	"github.com/goccy/go-yaml"

	"sidetone/rules"
)

// Script is a lesson as written: who says what, in order, and what it is
// recorded with.
//
// In the text of a line, {carb-heat-on: carb heat on} marks a call made,
// {flaps=20: flaps twenty} one with a figure, and {carb-heat-on!ordered: give me
// carb heat} one with another stance than done. {power-set|cruise-power=2300:
// twenty three hundred} may fairly be taken for either,
// {distance?: five miles east} for a call or for none.
type Script struct {
	Title    string            `yaml:"title"`
	Seed     uint64            `yaml:"seed"`     // of the noise
	SNR      float64           `yaml:"snr"`      // dB, sounding speech against engine noise within 300 to 3400 Hz; 20 when left out
	Narrow   bool              `yaml:"narrow"`   // intercom bandwidth, about 300 to 3400 Hz
	Channels int               `yaml:"channels"` // 1, or 2: one per seat
	Leak     float64           `yaml:"leak"`     // dB, a seat's voice on the other seat's channel; about -30 when left out
	Clip     float64           `yaml:"clip"`     // seconds a slow voice switch eats of the start of each line
	Riding   float64           `yaml:"riding"`   // dB, how far the level drifts up and down
	Voices   map[string]string `yaml:"voices"`   // speaker: engine:voice, such as festival:kal_diphone; "slt" is flite:slt
	Seats    []string          `yaml:"seats"`    // with two channels, the speaker of each
	Radio    []string          `yaml:"radio"`    // speakers heard over the radio: muffled, with a squelch tail, on both channels
	Lines    []Line            `yaml:"lines"`
}

// Line is something said, or where a maneuver begins or ends.
type Line struct {
	Who   string  `yaml:"who"`
	Say   string  `yaml:"say"`
	Pause float64 `yaml:"pause"` // seconds of nobody speaking before the line; 0 is 0.9, below 0 it starts while the last one runs
	Gain  float64 `yaml:"gain"`  // dB against the speaker's usual level
	// Late is a step this line calls, but too late: the line waits until the step's
	// "within" has passed, counted from the call it counts from, and the step's
	// verdict is late.
	Late string `yaml:"late"`

	// Begin and End name the procedure flown from here, or up to here. Its
	// required steps count as heard unless Verdicts, which stand with Begin, say
	// otherwise; optional ones when they are called.
	Begin    string                   `yaml:"begin"`
	End      string                   `yaml:"end"`
	Verdicts map[string]rules.Verdict `yaml:"verdicts"`
}

// Parse reads a script. file is its name in errors. Unknown voices, calls,
// stances, procedures, steps and verdicts are errors.
func Parse(file string, b []byte) (*Script, error) {
	s := &Script{SNR: 20, Channels: 1}
	if err := yaml.UnmarshalWithOptions(b, s, yaml.Strict()); err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	if err := s.Check(); err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	return s, nil
}

// Check tells what is wrong with a script.
func (s *Script) Check() error {
	switch {
	case len(s.Lines) == 0:
		return fmt.Errorf("the script has no lines")
	case s.Channels != 1 && s.Channels != 2:
		return fmt.Errorf("channels %d: 1 or 2", s.Channels)
	case s.Channels == 2 && len(s.Seats) != 2:
		return fmt.Errorf("two channels need two seats")
	case s.Leak > 0:
		return fmt.Errorf("leak %g dB: the other seat is quieter, so below 0", s.Leak)
	case s.Clip < 0 || s.Clip > 1:
		return fmt.Errorf("clip %g s: between 0 and 1", s.Clip)
	case s.Riding < 0 || s.Riding > 20:
		return fmt.Errorf("riding %g dB: between 0 and 20", s.Riding)
	}
	for who, voice := range s.Voices {
		if _, err := ParseVoice(voice); err != nil {
			return fmt.Errorf("the voice of %s: %w", who, err)
		}
	}
	for _, who := range slices.Concat(s.Seats, s.Radio) {
		if s.Voices[who] == "" {
			return fmt.Errorf("no voice for %q", who)
		}
	}
	known, err := knownCallouts()
	if err != nil {
		return err
	}
	for i, l := range s.Lines {
		if l.Begin != "" || l.End != "" {
			continue
		}
		if s.Voices[l.Who] == "" {
			return fmt.Errorf("line %d (%q): no voice for %q", i+1, l.Say, l.Who)
		}
		words, marks, err := parseLine(l.Say)
		if err != nil {
			return fmt.Errorf("line %d: %w", i+1, err)
		}
		if err := sayable(words); err != nil {
			return fmt.Errorf("line %d: %w", i+1, err)
		}
		for _, m := range marks {
			if err := m.check(known); err != nil {
				return fmt.Errorf("line %d: %w", i+1, err)
			}
		}
	}
	_, err = s.flown()
	return err
}
