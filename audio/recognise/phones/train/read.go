package train

import "sidetone/audio/recognise/phones"

// Read gives the likeliest class of each frame, repetitions and blanks left out.
func Read(heard phones.Heard) []phones.Phone {
	var out []phones.Phone
	last := phones.Phone(blank)
	for _, frame := range heard {
		best := 0
		for p, v := range frame {
			if v > frame[best] {
				best = p
			}
		}
		if p := phones.Phone(best); p != last {
			if last = p; p != blank {
				out = append(out, p)
			}
		}
	}
	return out
}

// Errors counts the sounds that are missing, too many or others: the fewest that
// make read of said.
func Errors(said, read []phones.Phone) int {
	row := make([]int, len(read)+1)
	for j := range row {
		row[j] = j
	}
	for i, s := range said {
		diagonal := row[0]
		row[0] = i + 1
		for j, r := range read {
			other := diagonal
			if r != s {
				other++
			}
			diagonal = row[j+1]
			row[j+1] = min(other, row[j+1]+1, row[j]+1)
		}
	}
	return row[len(read)]
}
