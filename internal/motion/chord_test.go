package motion

import (
	"math"
	"reflect"
	"slices"
	"testing"

	"tapefit/internal/interp"
	"tapefit/profiles"

	"pgregory.net/rapid"
)

// timeSteps times the steps: all moves by the long way, or chords by the short one.
// It counts these.
func timeSteps(m *profiles.Machine, size int64, steps []step, long bool) (times Times, moves []Timed, chords int) {
	c := NewClock(m, func(m *Timed) { moves = append(moves, *m) })
	c.Load(size)
	for i := range steps {
		for range steps[i].blocks {
			c.Block(20)
		}
		switch op := &steps[i].op; {
		case long && op.Kind <= interp.Arc:
			c.move(op)
			c.advance()
		case op.Kind == interp.Feed && c.chord(op):
			c.advance()
			chords++
		default:
			c.Op(op)
		}
	}
	return c.Finish(), moves, chords
}

// aRow draws chords in a row, as along one pass of a surface.
func aRow(t *rapid.T) (steps []step) {
	feed := rapid.SampledFrom([]float64{5, 20, 25, 100}).Draw(t, "feed of the row")
	bow := rapid.SampledFrom([]float64{0, 0.0005, 0.002, 0.02, 0.1, 0.8, 2}).Draw(t, "bow")
	at, angle := interp.Point{}, rapid.Float64Range(0, 2*math.Pi).Draw(t, "direction")
	for range rapid.IntRange(1, 60).Draw(t, "chords") {
		to, length := at, rapid.SampledFrom([]float64{0.02, 0.2, 0.2, 0.2, 2}).Draw(t, "chord")
		to[0] += length * math.Cos(angle)
		to[1] += length * math.Sin(angle)
		to[2] += rapid.SampledFrom([]float64{0, 0, 0.01, -0.01}).Draw(t, "up")
		steps = append(steps, step{1, feedTo(at, to, feed)})
		at, angle = to, angle+bow
	}
	return steps
}

func TestChords(t *testing.T) {
	chords, open := 0, 0 // at their feed from end to end
	rapid.Check(t, func(t *rapid.T) {
		m := anyMachine(t)
		m.Feed.Greatest = profiles.Speed(rapid.SampledFrom([]float64{0, 0, 24, 60}).Draw(t, "greatest feed"))
		m.Axes.Y.Jerk = profiles.Jerk(rapid.SampledFrom([]float64{0, 0, 0, 5000}).Draw(t, "jerk"))
		m.Control.Drip = rapid.Bool().Draw(t, "drip feed")
		m.Control.Link = profiles.Link{Baud: rapid.SampledFrom([]int{0, 9600, 38400}).Draw(t, "baud"), Bits: 10, Buffer: 200}
		if rapid.Bool().Draw(t, "fast axes") {
			m.Axes.X.Feed, m.Axes.Y.Feed, m.Axes.Z.Feed = 200, 200, 200
		}
		steps := slices.Concat(anyProgram(t), aRow(t), aRow(t), anyProgram(t))
		short, got, n := timeSteps(m, 1000, steps, false)
		long, want, _ := timeSteps(m, 1000, steps, true)
		for i := range want {
			if got[i] != want[i] {
				t.Fatalf("move %d: %+v, by the long way %+v", i, got[i], want[i])
			}
			if want[i].Cut && want[i].Seconds == want[i].Length/want[i].Feed {
				open++
			}
		}
		if !reflect.DeepEqual(short, long) {
			t.Fatalf("%+v, by the long way %+v", short, long)
		}
		chords += n
	})
	if chords < 1000 || open < 100 {
		t.Errorf("%d chords, %d cuts at their feed: too few to tell", chords, open)
	}
}

func TestOnlyLosses(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, steps := anyMachine(t), slices.Concat(aRow(t), anyProgram(t))
		var want, got []Timed
		all := runSteps(m, steps, func(_ *Clock, m *Timed) {
			if m.Lost != 0 || m.Wait != 0 {
				want = append(want, *m)
			}
		})
		c := NewClock(m, func(m *Timed) { got = append(got, *m) })
		c.OnlyLosses()
		for i := range steps {
			for range steps[i].blocks {
				c.Block(20)
			}
			c.Op(&steps[i].op)
		}
		if times := c.Finish(); !reflect.DeepEqual(times, all) || !slices.Equal(got, want) {
			t.Fatalf("%+v\n%+v\nwant %+v\n%+v", got, times, want, all)
		}
	})
}
