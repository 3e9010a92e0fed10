package rules

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"tapefit/internal/interp"
)

// The box around an arc is that around many of its points.
func TestArcBox(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		plane := rapid.SampledFrom([]interp.Plane{interp.XY, interp.ZX, interp.YZ}).Draw(t, "plane")
		first, second, _ := plane.Axes()
		op := &interp.Op{Kind: interp.Arc, Plane: plane, CW: rapid.Bool().Draw(t, "cw"), Radius: rapid.Float64Range(0.1, 100).Draw(t, "radius")}
		quarter := func(name string) float64 { // often at an axis
			if rapid.Bool().Draw(t, "at an axis") {
				return float64(rapid.IntRange(0, 4).Draw(t, name)) * math.Pi / 2
			}
			return rapid.Float64Range(0, 2*math.Pi).Draw(t, name)
		}
		start := quarter("start")
		op.Sweep = max(quarter("sweep"), 0.01)
		if rapid.Bool().Draw(t, "a full turn") { // the corners of a compensated one take or give some thousandths
			op.Sweep = 2*math.Pi + rapid.SampledFrom([]float64{-0.005, -1e-5, -1e-9, 0, 1e-15, 1e-9, 0.005}).Draw(t, "but for")
		}
		op.Center[first], op.Center[second] = rapid.Float64Range(-50, 50).Draw(t, "x"), rapid.Float64Range(-50, 50).Draw(t, "y")
		at := func(share float64) (x, y float64) {
			turn := op.Sweep * share
			if op.CW {
				turn = -turn
			}
			sin, cos := math.Sincos(start + turn)
			return op.Center[first] + op.Radius*cos, op.Center[second] + op.Radius*sin
		}
		op.From[first], op.From[second] = at(0)
		op.To[first], op.To[second] = at(1)
		if op.Sweep == 2*math.Pi {
			op.To = op.From
		}
		for _, i := range []int{first, second} { // what adding up leaves in the last bits
			op.From[i] += rapid.SampledFrom([]float64{-1e-13, 0, 1e-13}).Draw(t, "rounding")
			op.To[i] += rapid.SampledFrom([]float64{-1e-13, 0, 1e-13}).Draw(t, "rounding")
		}
		var x, y Range
		const n = 2000
		for i := range n + 1 {
			px, py := at(float64(i) / n)
			x.widen(px)
			y.widen(py)
		}
		low, high := arcBox(op)
		within := op.Radius * 1e-5
		for i, d := range [4]float64{low[0] - x.Min, low[1] - y.Min, high[0] - x.Max, high[1] - y.Max} {
			if math.Abs(d) > within {
				t.Fatalf("side %d is off by %g: %v to %v, points %+v %+v", i, d, low, high, x, y)
			}
		}
	})
}
