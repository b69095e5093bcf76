package train

import "math"

// adam steps down the gradient, each weight at a pace of its own, and lets the
// weights decay beside that (Loshchilov and Hutter, "Decoupled Weight Decay
// Regularization", ICLR 2019).
type adam struct{ mean, square [][]float32 }

func newAdam(n *Net) adam {
	var a adam
	for _, p := range n.parameters() {
		a.mean = append(a.mean, make([]float32, len(p)))
		a.square = append(a.square, make([]float32, len(p)))
	}
	return a
}

// parameters are all that is learnt.
func (n *Net) parameters() [][]float32 {
	var out [][]float32
	for _, l := range n.layers {
		out = append(out, l.Weights, l.Bias)
	}
	return out
}

// learn takes a step, counted from 1, along gradients in the order of parameters.
func (a *adam) learn(n *Net, grads [][]float32, step int, rate, decay float64) {
	const b1, b2, tiny = 0.9, 0.999, 1e-8
	pace := float32(rate / (1 - math.Pow(b1, float64(step))))
	even := float32(1 / (1 - math.Pow(b2, float64(step))))
	stay := float32(1 - rate*decay)
	for i, p := range n.parameters() {
		m, v := a.mean[i], a.square[i]
		for k, g := range grads[i] {
			m[k] = b1*m[k] + (1-b1)*g
			v[k] = b2*v[k] + (1-b2)*g*g
			p[k] = stay*p[k] - pace*m[k]/(float32(math.Sqrt(float64(even*v[k])))+tiny)
		}
	}
}
