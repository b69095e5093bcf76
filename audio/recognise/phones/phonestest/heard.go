// Package phonestest makes what tests give to be heard.
package phonestest

import (
	"math"

	"sidetone/audio/recognise/phones"
)

// Clearly is how sounds are heard that are spoken clearly: each three frames, then a
// blank, every one of them at a probability of 0.9.
func Clearly(sounds ...phones.Phone) phones.Heard {
	var out phones.Heard
	for _, p := range sounds {
		for _, p := range []phones.Phone{p, p, p, 0} {
			var f [phones.Count]float32
			for i := range f {
				f[i] = float32(math.Log(0.1 / phones.Count))
			}
			f[p] = float32(math.Log(0.9))
			out = append(out, f)
		}
	}
	return out
}
