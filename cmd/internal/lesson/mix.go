package lesson

import (
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"github.com/go-audio/audio"
	"github.com/go-audio/wav"

	"sidetone/callouts"
	"sidetone/rules"
)

const (
	usualPause  = 0.9
	leadIn      = 1.5
	speechLevel = 0.09 // root mean square of the sounding parts
	usualLeak   = 0.03 // of a seat's voice on the other seat's channel
)

// Generators are kept apart, so that an effect does not change another's noise.
const (
	streamNoise = 1
	streamRadio = 2
	streamDrift = 3
)

// Sayer speaks words with a voice.
type Sayer func(v Voice, words []string) (Speech, error)

// Spoken is a script whose lines are spoken and wait to be mixed. Mixing it
// again with other options is quick.
type Spoken struct {
	script *Script
	lines  []spokenLine
	flown  []flown
}

type spokenLine struct {
	Line
	voice  Voice
	words  []string
	marks  []mark
	speech Speech
}

// Speak speaks the lines of a script.
func Speak(s *Script, say Sayer) (*Spoken, error) {
	if err := s.Check(); err != nil {
		return nil, err
	}
	out := &Spoken{script: s}
	var err error
	if out.flown, err = s.flown(); err != nil {
		return nil, err
	}
	for i, l := range s.Lines {
		sl := spokenLine{Line: l}
		if l.Say != "" {
			if sl.words, sl.marks, err = parseLine(l.Say); err != nil {
				return nil, err
			}
			if sl.voice, err = ParseVoice(s.Voices[l.Who]); err != nil {
				return nil, err
			}
			if sl.speech, err = say(sl.voice, sl.words); err != nil {
				return nil, fmt.Errorf("line %d: %w", i+1, err)
			}
		}
		out.lines = append(out.lines, sl)
	}
	return out, nil
}

// Mix puts the lines over engine noise, as the script wants it: samples per
// channel in [-1,1], and the sheet.
func (sp *Spoken) Mix() ([][]float64, Truth, error) { return sp.MixAs(*sp.script) }

// MixAs is Mix with the options of another script instead (SNR, Narrow,
// Channels, Leak, Clip, Riding, Seed); the lines stay.
func (sp *Spoken) MixAs(s Script) ([][]float64, Truth, error) {
	if err := s.Check(); err != nil {
		return nil, Truth{}, err
	}
	sheet := Truth{Title: s.Title, Lines: []SpokenLine{}, Calls: []SpokenCall{}, Maneuvers: []FlownProcedure{}}
	channels := make([][]float64, s.Channels)
	starts, ends := make([]float64, len(sp.lines)), make([]float64, len(sp.lines))
	at := leadIn
	for i, l := range sp.lines {
		starts[i], ends[i] = at, at
		if l.words == nil {
			continue
		}
		pause := l.Pause
		if pause == 0 {
			pause = usualPause
		}
		begin := max(leadIn, at+pause)
		if due, ok := sp.tooLate(i, &sheet); ok {
			begin = max(begin, due)
		}
		start := int(begin * rate)
		voice := sp.voiced(&s, i)
		for c := range channels {
			g := share(&s, l.Who, c)
			if g == 0 {
				continue
			}
			channels[c] = grow(channels[c], start+len(voice))
			for i, v := range voice {
				channels[c][start+i] += g * v
			}
		}
		line := sp.sheet(&s, i, begin, &sheet)
		starts[i], ends[i] = line.Start, line.End
		at = max(at, begin+float64(len(voice))/rate)
	}
	prompt(sheet.Calls)
	for _, f := range sp.flown {
		sheet.Maneuvers = append(sheet.Maneuvers, sp.maneuver(f, starts, ends))
	}
	n := int((at + leadIn) * rate)
	sheet.Duration = float64(n) / rate
	addNoise(&s, channels, n)
	return channels, sheet, nil
}

// tooLate is when line i may begin at the earliest, where it is to come too late.
func (sp *Spoken) tooLate(i int, sheet *Truth) (begin float64, ok bool) {
	for _, f := range sp.flown {
		late, is := f.late[i]
		if !is {
			continue
		}
		for k := len(sheet.Calls) - 1; k >= 0; k-- {
			if c := sheet.Calls[k]; !c.Perhaps && slices.ContainsFunc(late.of, c.Is) {
				return c.Start + late.seconds + lateBy, true
			}
		}
	}
	return 0, false
}

// answerWithin is how long after an order the call that answers it begins, in
// seconds: that of rules/COSTS.md.
const answerWithin = 8

// prompt marks the calls done right after another ordered them: not what the student
// asks for, nor what the instructor then does.
func prompt(calls []SpokenCall) {
	for i := range calls {
		c := &calls[i]
		c.Prompted = c.Stance == callouts.Done && slices.ContainsFunc(calls[:i], func(o SpokenCall) bool {
			return o.Stance == callouts.Ordered && !o.Perhaps && c.Is(o.ID) && o.Speaker != c.Speaker &&
				o.Speaker != string(rules.Student) && c.Speaker != string(rules.Instructor) && o.Start >= c.Start-answerWithin
		})
	}
}

// voiced is line i as it reaches the intercom.
func (sp *Spoken) voiced(s *Script, i int) []float64 {
	l := &sp.lines[i]
	voice := level(l.speech.Samples, speechLevel*math.Pow(10, l.Gain/20))
	if slices.Contains(s.Radio, l.Who) {
		voice = overRadio(voice, slices.Max(l.speech.Ends), rand.New(rand.NewPCG(s.Seed+uint64(i), streamRadio)))
	}
	if s.Clip > 0 {
		clipStart(voice, slices.Min(l.speech.Begins), s.Clip)
	}
	return voice
}

// sheet writes line i, which begins at a second, into the sheet.
func (sp *Spoken) sheet(s *Script, i int, at float64, t *Truth) SpokenLine {
	l := &sp.lines[i]
	channel := -1
	if s.Channels == 2 {
		channel = slices.Index(s.Seats, l.Who)
	}
	begins, ends := l.speech.Begins, l.speech.Ends
	line := SpokenLine{Start: at + begins[0], End: at + slices.Max(ends), Speaker: l.Who, Voice: l.voice.String(),
		Channel: channel, Text: strings.Join(l.words, " ")}
	for k, w := range l.words {
		line.Words = append(line.Words, SpokenWord{w, at + begins[k], at + ends[k]})
	}
	t.Lines = append(t.Lines, line)
	for _, m := range l.marks {
		t.Calls = append(t.Calls, SpokenCall{
			ID: m.IDs[0], Or: m.IDs[1:], Perhaps: m.Perhaps, Start: at + begins[m.From], End: at + ends[m.To-1],
			Speaker: l.Who, Voice: l.voice.String(), Stance: m.Stance, Value: m.Value,
		})
	}
	return line
}

func (sp *Spoken) maneuver(f flown, starts, ends []float64) FlownProcedure {
	out := FlownProcedure{Procedure: f.procedure.ID, Start: math.Inf(1), End: math.Inf(-1), Verdicts: f.verdicts}
	calls := map[string]int{}
	for i := f.from; i < f.to; i++ {
		l := &sp.lines[i]
		if l.words == nil {
			continue
		}
		out.Start, out.End = min(out.Start, starts[i]), max(out.End, ends[i])
		for _, m := range l.marks {
			if m.Stance == callouts.Done {
				calls[l.voice.String()]++
			}
		}
	}
	for v, n := range calls {
		if best := calls[out.Voice]; n > best || n == best && v < out.Voice {
			out.Voice = v
		}
	}
	return out
}

// addNoise puts n samples of engine noise under the voices.
func addNoise(s *Script, channels [][]float64, n int) {
	noise := trainer.Noise(n, rand.New(rand.NewPCG(s.Seed, streamNoise)))
	if s.Narrow {
		noise = Band(noise, 300, 3400)
	}
	heard := Power(Band(noise, 300, 3400))
	gain := speechLevel / math.Sqrt(heard) * math.Pow(10, -s.SNR/20)
	for c := range channels {
		channels[c] = grow(channels[c], n)[:n]
		if s.Narrow {
			channels[c] = Band(channels[c], 300, 3400)
		}
		if s.Riding > 0 {
			ride(channels[c], s.Riding, rand.New(rand.NewPCG(s.Seed+uint64(c), streamDrift)))
		}
		for i := range channels[c] {
			channels[c][i] = clip(channels[c][i] + gain*noise[i])
		}
		if s.Riding > 0 {
			pump(channels[c], s.Riding)
		}
	}
}

// share is how loud a speaker is on a channel: each seat on its own when there
// are two, a little of it on the other; the radio on both.
func share(s *Script, who string, channel int) float64 {
	if s.Channels < 2 || !slices.Contains(s.Seats, who) || s.Seats[channel] == who {
		return 1
	}
	if s.Leak < 0 {
		return math.Pow(10, s.Leak/20)
	}
	return usualLeak
}

// level scales samples so that their sounding parts have this root mean square.
func level(samples []float32, rms float64) []float64 {
	out := make([]float64, len(samples))
	for i, v := range samples {
		out[i] = float64(v)
	}
	g := rms / math.Sqrt(Sounding(out)+1e-12)
	for i := range out {
		out[i] *= g
	}
	return out
}

// Sounding is the power of the parts of samples that are not silence.
func Sounding(samples []float64) float64 {
	peak := 0.0
	for _, v := range samples {
		peak = math.Max(peak, math.Abs(v))
	}
	const frame = rate / 50
	var loud []float64
	for i := 0; i+frame <= len(samples); i += frame {
		if f := samples[i : i+frame]; Power(f) > peak*peak*0.003 {
			loud = append(loud, f...)
		}
	}
	return Power(loud)
}

func grow(s []float64, n int) []float64 {
	if len(s) < n {
		s = append(s, make([]float64, n-len(s))...)
	}
	return s
}

func clip(v float64) float64 { return math.Max(-1, math.Min(1, v)) }

// WriteWAV writes 16-bit samples.
func WriteWAV(w io.WriteSeeker, channels [][]float64) error {
	buf := &audio.IntBuffer{
		Format:         &audio.Format{NumChannels: len(channels), SampleRate: rate},
		SourceBitDepth: 16,
	}
	for i := range channels[0] {
		for c := range channels {
			buf.Data = append(buf.Data, int(math.Round(channels[c][i]*32767)))
		}
	}
	e := wav.NewEncoder(w, rate, 16, len(channels), 1)
	return errors.Join(e.Write(buf), e.Close())
}
