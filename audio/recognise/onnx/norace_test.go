//go:build !race

package onnx

// shorter is 1 under the race detector, which makes listening half as slow again.
const shorter = 0
