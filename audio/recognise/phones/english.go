package phones

import (
	_ "embed"
	"sync"
)

//go:embed english.net
var english []byte

// English is the network for the encoder of the base model of the embedded
// recogniser. It was taught by cmd/eartrainer; DEVELOPERS.md tells on what.
var English = sync.OnceValues(func() (*Net, error) { return Load(english) })
