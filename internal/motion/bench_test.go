package motion

import (
	"fmt"
	"math"
	"testing"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
)

// BenchmarkClock times short chords of 0.2 mm along a wavy line, as a 3D finish
// has them, and arcs. One operation is one move.
func BenchmarkClock(b *testing.B) {
	for _, ahead := range []int{24, 200} {
		for _, accel := range []float64{500, 50} {
			b.Run(fmt.Sprintf("chords/look-ahead=%d/acceleration=%g", ahead, accel), func(b *testing.B) {
				m := mill(100, 100, accel)
				m.Control = control(ahead, 0.008, 0.0127)
				benchmark(b, m, chords(256, 0.2, 25))
			})
		}
	}
	b.Run("arcs", func(b *testing.B) {
		m := mill(100, 100, 500)
		m.Control = control(24, 0.008, 0.0127)
		benchmark(b, m, waves(256, 5, 25))
	})
}

func benchmark(b *testing.B, m *profiles.Machine, ops []interp.Op) {
	waited := 0
	c := NewClock(m, func(t *Timed) {
		if t.Wait > 0 {
			waited++
		}
	})
	b.ReportAllocs()
	// One operation is filled in for each move, as the interpreter does.
	op, i := ops[0], 0
	for b.Loop() {
		next := &ops[i&(len(ops)-1)]
		op.From, op.To, op.Moves, op.Center, op.CW = next.From, next.To, next.Moves, next.Center, next.CW
		c.Block(20)
		c.Op(&op)
		i++
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "moves/s")
	if t := c.Finish(); !(t.Total > 0) || math.IsInf(t.Total, 0) {
		b.Fatal("no time", t)
	}
}

// chords is a closed wavy path of n straight feeds.
func chords(n int, length, feed float64) []interp.Op {
	ops := make([]interp.Op, n)
	at := interp.Point{}
	block := &parser.Block{Words: []parser.Word{{Address: 'X'}}}
	for i := range ops {
		angle := 2 * math.Pi * float64(i) / float64(n)
		to := at
		to[0] += length * math.Cos(angle)
		to[1] += length * math.Sin(angle)
		to[2] = 0.5 * math.Sin(2*angle)
		ops[i] = feedTo(at, to, feed)
		ops[i].Block = block
		at = to
	}
	return ops
}

// waves is a row of n half circles, left and right in turns.
func waves(n int, radius, feed float64) []interp.Op {
	ops := make([]interp.Op, n)
	at := interp.Point{}
	for i := range ops {
		center := at
		center[0] += radius
		ops[i] = arcFrom(at, center, i%2 == 0, math.Pi, 0, feed)
		at = ops[i].To
	}
	return ops
}
