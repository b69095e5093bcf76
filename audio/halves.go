package audio

import (
	"runtime"
	"sync"
)

// halves runs work over [0,n) on two goroutines, each on one half, when n is
// worth it. Two is the number of threads sidetone takes unless told otherwise.
func halves(n int, work func(lo, hi int)) {
	const worthwhile = 512
	if n < worthwhile || runtime.GOMAXPROCS(0) < 2 {
		work(0, n)
		return
	}
	var wg sync.WaitGroup
	wg.Go(func() { work(0, n/2) })
	work(n/2, n)
	wg.Wait()
}
