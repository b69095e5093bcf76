package phones

import (
	_ "embed"
	"sync"
)

//go:embed english.net
var english []byte

// English is the network for the encoder of the base model of the embedded
// recogniser. It was taught by a forerunner of cmd/eartrainer, in the same way and
// on the same kind of speech: 14,200 sentences by flite (4 voices), festival (3)
// and espeak-ng (25) in cabin noise of 3 to
// 34 dB; 1 million frames three times, then 1.8 million twice.
var English = sync.OnceValues(func() (*Net, error) { return Load(english) })
