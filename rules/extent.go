package rules

import (
	"math"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// extent gathers how far the tool tip goes, in work coordinates.
type extent struct {
	all [profiles.NumAxes]Range
}

// add widens the extents by a move. Home moves are left out: they go where the
// machine's home is, not where the part is.
func (e *extent) add(op *interp.Op) {
	if op.Kind > interp.Arc || op.Home {
		return
	}
	known := op.ToKnown & op.Moves
	for i := range profiles.NumAxes {
		if known.Has(i) {
			e.all[i].widen(op.To[i])
		}
	}
	if op.Kind == interp.Arc {
		first, second, _ := op.Plane.Axes()
		if e.all[first].holds(op.Center[first], op.Radius) && e.all[second].holds(op.Center[second], op.Radius) {
			return // the whole circle lies within
		}
		low, high := arcBox(op)
		e.all[first].widen(low[0])
		e.all[first].widen(high[0])
		e.all[second].widen(low[1])
		e.all[second].widen(high[1])
	}
}

// holds says whether the range reaches as far as by on both sides of v.
func (r *Range) holds(v, by float64) bool {
	return r.Set && r.Min <= v-by && v+by <= r.Max
}

func (r *Range) widen(v float64) {
	if !r.Set {
		*r = Range{true, v, v}
		return
	}
	if v < r.Min {
		r.Min = v
	}
	if v > r.Max {
		r.Max = v
	}
}

// arcBox is the box around an arc in its plane: low and high of the first and
// second axis, mm.
func arcBox(op *interp.Op) (low, high [2]float64) {
	first, second, _ := op.Plane.Axes()
	x, y := op.Center[first], op.Center[second]
	a := [2]float64{op.From[first], op.From[second]}
	b := [2]float64{op.To[first], op.To[second]}
	low = [2]float64{min(a[0], b[0]), min(a[1], b[1])}
	high = [2]float64{max(a[0], b[0]), max(a[1], b[1])}
	if op.CW {
		a, b = b, a // the same arc, counter-clockwise from its end
	}
	// A direction lies on the arc where it is left of the start and right of the
	// end, both within half a turn: for those of the axes that is a sign. Of more
	// than half a turn it is what does not lie on the rest.
	left := [4]bool{a[1] <= y, a[0] >= x, a[1] >= y, a[0] <= x}
	right := [4]bool{b[1] >= y, b[0] <= x, b[1] <= y, b[0] >= x}
	turned := func(k int) bool {
		if op.Sweep > math.Pi {
			return left[k] || right[k]
		}
		return left[k] && right[k]
	}
	if turned(0) {
		high[0] = max(high[0], x+op.Radius)
	}
	if turned(1) {
		high[1] = max(high[1], y+op.Radius)
	}
	if turned(2) {
		low[0] = min(low[0], x-op.Radius)
	}
	if turned(3) {
		low[1] = min(low[1], y-op.Radius)
	}
	return low, high
}
