package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
	"testing"

	"tapefit/profiles"
	"tapefit/rules"
)

// With more than one processor the second thing is done beside the first; here
// each waits for its neighbour, so the odd one must have been begun, and still
// all is shown in order.
func TestInOrderDoesTwoAtATimeAndShowsInOrder(t *testing.T) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(2))
	const n = 200
	var met [n / 2]sync.WaitGroup
	for i := range met {
		met[i].Add(2)
	}
	var shown []int
	inOrder(n, func(i int) int {
		met[i/2].Done()
		met[i/2].Wait()
		return i
	}, func(i int) bool {
		shown = append(shown, i)
		return true
	})
	if len(shown) != n || !slices.IsSorted(shown) {
		t.Errorf("%d shown: %v", len(shown), shown)
	}
}

// Behind one that takes long not more than the bound is done.
func TestInOrderWaits(t *testing.T) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(2))
	var ahead, most atomic.Int64
	inOrder(1000, func(int) struct{} {
		ahead.Add(1)
		return struct{}{}
	}, func(struct{}) bool {
		most.Store(max(most.Load(), ahead.Load()))
		runtime.Gosched()
		ahead.Add(-1)
		return true
	})
	if bound := int64(mostWaiting + 1 + 2); most.Load() > bound+1 {
		t.Errorf("%d were done ahead of what was shown", most.Load())
	}
}

func TestInOrderEndsWhenToldSo(t *testing.T) {
	var done atomic.Int64
	shown := 0
	inOrder(1_000_000, func(int) int { return int(done.Add(1)) }, func(int) bool { shown++; return shown < 3 })
	after := done.Load()
	if shown != 3 || after > 3+mostWaiting+int64(runtime.GOMAXPROCS(0))+1 {
		t.Errorf("%d shown, %d done", shown, after)
	}
	inOrder(0, func(int) int { panic("nothing to do") }, func(int) bool { panic("nothing to show") })
	if done.Load() != after {
		t.Error("work goes on behind the end")
	}
}

// archiveProgram is 200 kB of what a post writes: chords over a wavy surface.
func archiveProgram() []byte {
	var b bytes.Buffer
	b.WriteString("%\nO1 (BENCHMARK)\nG20 G17 G90 G94 G54\nT7 M6\nM42\nS4000 M3\nG0 X0 Y0\nG43 H7 Z1.\nG1 Z-0.1 F20.\nF60.\n")
	for i := 0; b.Len() < 200_000; i++ {
		a := float64(i) * 0.011
		fmt.Fprintf(&b, "N%d X%.4f Y%.4f Z%.4f\n", i+10, 2+1.5*math.Sin(a), 2+1.5*math.Cos(a*0.37), -0.2+0.1*math.Sin(3*a))
	}
	b.WriteString("G0 Z1.\nM9\nM5\nG53 Z0\nM30\n%\n")
	return b.Bytes()
}

// BenchmarkArchive checks 1,000 programs of 200 kB, and compares as many on two
// machines. The goal is 1.7 times the rate of one core on two:
//
//	go test -run '^$' -bench Archive -cpu 1,2 ./cmd/tapefit
//
// It is one file that is opened a thousand times, so that the disk is no part
// of the figure.
func BenchmarkArchive(b *testing.B) {
	program := archiveProgram()
	file := filepath.Join(b.TempDir(), "part.nc")
	if err := os.WriteFile(file, program, 0o644); err != nil {
		b.Fatal(err)
	}
	paths := slices.Repeat([]string{file}, 1000)
	now, err := profiles.Find("bed-mill", nil)
	if err != nil {
		b.Fatal(err)
	}
	was, err := profiles.Find("knee-mill", nil)
	if err != nil {
		b.Fatal(err)
	}
	one := job{machine: now, rules: rules.All()}
	two := one
	two.was = &earlier{machine: was, rules: rules.All()}
	for _, bench := range []struct {
		name string
		job  job
	}{{"check", one}, {"was", two}} {
		b.Run(bench.name, func(b *testing.B) {
			b.SetBytes(int64(len(program) * len(paths)))
			for b.Loop() {
				a := &app{stderr: io.Discard}
				shown := 0
				if gone := a.each(context.Background(), paths, bench.job, func(*checked) bool { shown++; return true }); gone != (missing{}) || shown != len(paths) {
					b.Fatalf("%d shown, %+v", shown, gone)
				}
			}
		})
	}
}
