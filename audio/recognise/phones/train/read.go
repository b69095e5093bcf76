package train

import "sidetone/audio/recognise/phones"

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
