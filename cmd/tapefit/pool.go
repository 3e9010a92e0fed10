package main

import (
	"runtime"
	"sync"
)

// mostWaiting bounds what is done and waits for its turn to be shown, behind one
// that takes long: memory stays flat however many there are.
const mostWaiting = 64

// inOrder does the work for 0 to n-1, on all processors at once, and shows what
// came of each in this order, on the caller's goroutine, until show says no. It
// comes back when no work is being done any more.
func inOrder[T any](n int, do func(i int) T, show func(T) bool) {
	type task struct {
		i    int
		done chan<- T
	}
	tasks := make(chan task)
	turns := make(chan (<-chan T), mostWaiting)
	enough := make(chan struct{})
	var crew sync.WaitGroup
	defer crew.Wait()
	defer close(enough)

	crew.Go(func() {
		defer close(turns)
		defer close(tasks)
		for i := range n {
			done := make(chan T, 1)
			select {
			case turns <- done:
			case <-enough:
				return
			}
			select {
			case tasks <- task{i, done}:
			case <-enough:
				return
			}
		}
	})
	for range min(n, runtime.GOMAXPROCS(0)) {
		crew.Go(func() {
			for t := range tasks {
				t.done <- do(t.i)
			}
		})
	}
	for done := range turns {
		if !show(<-done) {
			return
		}
	}
}
