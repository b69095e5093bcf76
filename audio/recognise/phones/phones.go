// Package phones hears speech as phonemes and finds in them what was said: the
// phrases a lesson is likely to hold, and when each word was spoken.
//
// A speech model that writes words knows what words usually follow each other,
// and so writes "carve ye on" for "carb heat on". Phonemes carry no such
// prejudice. A small network gives the probability of each for every 24 ms of
// what the speech model's encoder heard; it was taught with connectionist
// temporal classification (Graves et al., "Connectionist Temporal
// Classification: Labelling Unsegmented Sequence Data with Recurrent Neural
// Networks", ICML 2006), in which each frame holds a phoneme or a blank, a
// phoneme may last several frames, and two alike have a blank between them.
package phones

// Phone is a phoneme of the CMU Pronouncing Dictionary without stress, numbered
// from 1 in the dictionary's order; 0 is the blank.
type Phone byte

// Count is how many there are, the blank included.
const Count = 40

// Names of the phonemes in ARPAbet, by number.
var Names = [Count]string{"", "AA", "AE", "AH", "AO", "AW", "AY", "B", "CH", "D", "DH", "EH", "ER", "EY", "F", "G", "HH", "IH", "IY",
	"JH", "K", "L", "M", "N", "NG", "OW", "OY", "P", "R", "S", "SH", "T", "TH", "UH", "UW", "V", "W", "Y", "Z", "ZH"}

// Heard is the log-probability of every phoneme in every frame.
type Heard [][Count]float32

// Likeliest gives the likeliest class of each frame, repetitions and blanks left out.
func (h Heard) Likeliest() []Phone {
	var out []Phone
	last := Phone(0)
	for i := range h {
		best := 0
		for p, v := range h[i] {
			if v > h[i][best] {
				best = p
			}
		}
		if p := Phone(best); p != last {
			if last = p; p != 0 {
				out = append(out, p)
			}
		}
	}
	return out
}
