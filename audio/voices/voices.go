package voices

import (
	"cmp"
	"fmt"
	"slices"

	"gonum.org/v1/gonum/floats"

	"sidetone/audio/transcript"
)

// Taught is a voice and what it is taught by: a stretch of the recording itself, or
// the sounds of a clip.
type Taught struct {
	Name     string
	From, To float64 // seconds of the recording; not used with a clip
	Clip     []Sound
}

// Sure is how likely it must be that a voice is somebody's for that name to be given.
const Sure = 0.9

// Report says how the voices were told.
type Report struct {
	Voices  []Learnt
	Unsure  int // utterances of which it is not sure whose they are
	Nobodys int // that are nobody's who was taught, as it seems
	// Tried are the stretches of TriedSeconds of what voices were taught by, each left
	// out in turn and told from the rest; Right of them were told rightly.
	Tried, Right int
}

// Learnt is what came of one voice.
type Learnt struct {
	Name    string
	Seconds float64 // of clear speech it was taught by
	Named   int     // utterances that are its
	Trouble string  // why it could not be learnt, "" when it could
}

const (
	// TriedSeconds is about the length of a call.
	TriedSeconds = 2.0
	// leastTaught seconds of clear speech teach a voice.
	leastTaught = 2.0
)

// What is believed of voices beforehand. Frames follow one another: scale is how much
// each says by itself. The offsets of a voice have a variance of 1/relevance frames
// for each Gaussian and 1/shared for all together. All but Sure are fitted on
// synthetic voices and recorded ones (TestWhoSpeaks in cmd/earscore).
const (
	scale     = 0.25
	relevance = 32.0
	shared    = 30.0
	other     = 0.3  // somebody speaks who was not taught
	strangers = 5    // voices besides the taught that are told apart
	strange   = 0.25 // from when on speech is taken for a stranger's
	passes    = 2    // over the recording, learning from what was told
	theirs    = 0.72 // from when on what was told teaches somebody's voice: else a stranger's does

	// pause parts pieces of an utterance between which the voice may change, in
	// seconds; change is how likely it does.
	pause  = 0.12
	change = 0.1
)

// ears are voices being told in one recording.
type ears struct {
	ubm    *mixture
	heard  []heardSound
	taught []Learnt
	base   []sums // what each is taught by
	voices []sums // and what else was told to be its, and strangers
	chunks [][]sums
}

// heardSound is a sound as the mixture sees it.
type heardSound struct {
	*Sound
	features []feature
}

// Name gives the utterances of a recording that have no speaker yet the names of
// taught voices, and parts them where another voice goes on. All is every sound of the
// recording. The speaker stays "" where it is not sure who speaks, or where it is
// nobody who was taught.
func Name(us []transcript.Utterance, all []Sound, taught []Taught) ([]transcript.Utterance, Report) {
	all = slices.Clone(all)
	slices.SortStableFunc(all, func(a, b Sound) int {
		return cmp.Or(cmp.Compare(a.Channel, b.Channel), cmp.Compare(a.Start, b.Start))
	})
	e, rep := learn(all, taught)
	if len(e.base) == 0 {
		return us, rep
	}
	rep.Tried, rep.Right = e.try()
	own := e.train(us, taught)
	var out []transcript.Utterance
	for i, u := range us {
		if u.Speaker != "" || len(u.Words) == 0 {
			out = append(out, u)
			continue
		}
		if k := e.labelled(u, taught); k >= 0 {
			u.Speaker = e.taught[k].Name
			e.taught[k].Named++
			out = append(out, u)
			continue
		}
		for _, p := range e.part(u, own[i]) {
			switch {
			case p.who >= 0:
				e.taught[p.who].Named++
				p.Speaker = e.taught[p.who].Name
			case p.who == nobody:
				rep.Nobodys++
			default:
				rep.Unsure++
			}
			out = append(out, p.Utterance)
		}
	}
	for k := range rep.Voices {
		for _, l := range e.taught {
			if l.Name == rep.Voices[k].Name {
				rep.Voices[k].Named = l.Named
			}
		}
	}
	return out, rep
}

// learn fits the mixture and takes in what the voices are taught by. Several
// stretches may teach one voice.
func learn(all []Sound, taught []Taught) (*ears, Report) {
	e := &ears{}
	noise := noises(all)
	var frames []feature
	var usual [bands]float64
	level := 0.0
	for i := range all {
		h := heardSound{&all[i], all[i].features(noise[i], asIs)}
		e.heard = append(e.heard, h)
		frames = append(frames, h.features...)
		level += loudness(&all[i], noise[i]) / float64(len(all))
		for b, v := range noise[i] {
			usual[b] += v / float64(len(all))
		}
	}
	var rep Report
	by := map[string][]feature{}
	for _, t := range taught {
		if _, ok := by[t.Name]; !ok {
			by[t.Name] = nil
			rep.Voices = append(rep.Voices, Learnt{Name: t.Name})
		}
		by[t.Name] = append(by[t.Name], e.lesson(t, level, usual)...)
		if t.Clip != nil {
			frames = append(frames, by[t.Name]...)
		}
	}
	for k := range rep.Voices {
		v := &rep.Voices[k]
		if v.Seconds = float64(len(by[v.Name])) * FrameSeconds; v.Seconds < leastTaught {
			v.Trouble = fmt.Sprintf("only %.1f s of clear speech were found to learn it by; ten are good", v.Seconds)
		}
	}
	if len(frames) < framesEach {
		return e, rep
	}
	e.ubm = fit(frames)
	for _, v := range rep.Voices {
		if v.Trouble != "" {
			continue
		}
		fs := by[v.Name]
		e.taught = append(e.taught, v)
		e.base = append(e.base, e.ubm.sums(fs, scale))
		const each = int(TriedSeconds / FrameSeconds)
		var chunks []sums
		for at := 0; at+each <= len(fs); at += each {
			chunks = append(chunks, e.ubm.sums(fs[at:at+each], scale))
		}
		e.chunks = append(e.chunks, chunks)
	}
	return e, rep
}

// lesson is the frames a voice is taught by. A clip is made as loud as the recording
// and the noise of the recording is put under it (M. J. F. Gales and S. J. Young,
// "Robust Continuous Speech Recognition Using Parallel Model Combination", IEEE Trans.
// Speech and Audio Processing 4(5), 1996, do so to models).
func (e *ears) lesson(t Taught, level float64, noise [bands]float64) (out []feature) {
	if t.Clip == nil {
		for _, h := range e.heard {
			out = append(out, between(h.features, t.From, t.To)...)
		}
		return out
	}
	ns := noises(t.Clip)
	own := 0.0
	for i := range t.Clip {
		own += loudness(&t.Clip[i], ns[i]) / float64(len(t.Clip))
	}
	more := asIs
	if own > 0 && level > 0 {
		more = added{level / own, noise}
	}
	for i := range t.Clip {
		out = append(out, t.Clip[i].features(ns[i], more)...)
	}
	return out
}

// loudness is the mean power of what stands clear of the noise in a sound.
func loudness(s *Sound, noise [bands]float64) float64 {
	floor, sum, n := floats.Sum(noise[:]), 0.0, 0
	for k := range s.powers {
		if p := float64(total(&s.powers[k])); p >= clear*floor {
			sum += p - floor
			n++
		}
	}
	return sum / float64(max(n, 1))
}

// between are the frames from one second to another.
func between(fs []feature, from, to float64) []feature {
	lo, _ := slices.BinarySearchFunc(fs, from, func(f feature, t float64) int { return cmp.Compare(f.at, t) })
	hi, _ := slices.BinarySearchFunc(fs, to, func(f feature, t float64) int { return cmp.Compare(f.at, t) })
	return fs[lo:max(lo, hi)]
}

// said sums up what is heard on a channel from one second to another.
func (e *ears) said(channel int, from, to float64) sums {
	s := e.ubm.none()
	for _, h := range e.heard {
		if h.Channel == channel && h.Start < to && h.End > from {
			s.add(e.ubm.sums(between(h.features, from, to), scale), 1)
		}
	}
	return s
}

// try tells stretches of what was taught, each left out of what teaches it.
func (e *ears) try() (tried, right int) {
	if len(e.base) < 2 {
		return 0, 0
	}
	for k, chunks := range e.chunks {
		if len(chunks) < 2 {
			continue
		}
		for _, c := range chunks {
			own := make([]float64, len(e.base))
			own[k] = 1
			p := e.whose(c, e.base, own)
			tried++
			if best(p) == k {
				right++
			}
		}
	}
	return tried, right
}

// labelled is the taught voice of an utterance that lies in a stretch that teaches
// it, -1 for others.
func (e *ears) labelled(u transcript.Utterance, taught []Taught) int {
	mid := (u.Start + u.End) / 2
	for _, t := range taught {
		if t.Clip == nil && mid >= t.From && mid <= t.To {
			return slices.IndexFunc(e.taught, func(l Learnt) bool { return l.Name == t.Name })
		}
	}
	return -1
}
