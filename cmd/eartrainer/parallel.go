package main

import (
	"context"
	"sync"
	"sync/atomic"
)

// inParallel calls do for 0 to n-1 from several goroutines and gives the first
// error, after which no more are begun.
func inParallel(ctx context.Context, workers, n int, do func(i int) error) error {
	var next atomic.Int64
	var once sync.Once
	var first error
	var group sync.WaitGroup
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	for range workers {
		group.Go(func() {
			for ctx.Err() == nil {
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				if err := do(i); err != nil {
					once.Do(func() { first = err; stop() })
					return
				}
			}
		})
	}
	group.Wait()
	if first == nil && int(next.Load()) < n {
		return context.Cause(ctx)
	}
	return first
}
