package train

import "sidetone/audio/dot"

// times puts a·bᵀ into c: a is rows of k numbers, b columns of them, c a row for each
// row of a. k is a multiple of lanes.
func times(c, a, b []float32, rows, columns, k int) {
	var four [4]float32
	for j := range columns {
		w := b[j*k : (j+1)*k]
		i := 0
		for ; i+4 <= rows; i += 4 {
			dot.Four(&four, a[i*k:], k, w)
			for n, v := range four {
				c[(i+n)*columns+j] = v
			}
		}
		for ; i < rows; i++ {
			c[i*columns+j] = dot.Product(a[i*k:(i+1)*k], w)
		}
	}
}

// lanes is what the length of a product must be a multiple of.
const lanes = 16

func whole(n int) int { return (n + lanes - 1) / lanes * lanes }

// turned puts the rows of x, n numbers each, into columns of out: a row of out has
// whole(rows) numbers, the last of them nothing.
func turned(out, x []float32, rows, n int) []float32 {
	wide := whole(rows)
	out = room(out, n*wide)
	for j := range n {
		clear(out[j*wide+rows : (j+1)*wide])
	}
	const block = 16
	for i0 := 0; i0 < rows; i0 += block {
		for j0 := 0; j0 < n; j0 += block {
			for i := i0; i < min(i0+block, rows); i++ {
				for j := j0; j < min(j0+block, n); j++ {
					out[j*wide+i] = x[i*n+j]
				}
			}
		}
	}
	return out
}

// padded puts rows of n numbers into rows of whole(n).
func padded(out, x []float32, rows, n int) []float32 {
	wide := whole(n)
	out = room(out, rows*wide)
	for i := range rows {
		copy(out[i*wide:], x[i*n:(i+1)*n])
		clear(out[i*wide+n : (i+1)*wide])
	}
	return out
}

func room(x []float32, n int) []float32 {
	if cap(x) < n {
		return make([]float32, n, 2*n)
	}
	return x[:n]
}
