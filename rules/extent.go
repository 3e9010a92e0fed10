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
	for i := 0; known>>i != 0; i++ {
		if known.Has(i) {
			e.all[i].widen(op.To[i])
		}
	}
	if op.Kind == interp.Arc {
		first, second, _ := op.Plane.Axes()
		e.all[first].widen(op.From[first])
		e.all[second].widen(op.From[second])
		around(&e.all[first], &e.all[second], op, 0, 0)
	}
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

// around widens the ranges of the first and the second axis of an arc's plane,
// which hold its ends, by what of it lies beyond both. The ranges lie dx and dy
// from the arc's own coordinates.
func around(first, second *Range, op *interp.Op, dx, dy float64) {
	a, b, _ := op.Plane.Axes()
	x, y := op.Center[a]+dx, op.Center[b]+dy
	if v := x + op.Radius; v > first.Max && passes(op, 0) {
		first.Max = v
	}
	if v := y + op.Radius; v > second.Max && passes(op, 1) {
		second.Max = v
	}
	if v := x - op.Radius; v < first.Min && passes(op, 2) {
		first.Min = v
	}
	if v := y - op.Radius; v < second.Min && passes(op, 3) {
		second.Min = v
	}
}

// passes says whether the arc goes through the end of its circle in a direction, a
// number of quarter turns from the first axis of its plane. A direction lies on an
// arc where it is left of the start and right of the end, both within half a turn:
// for those of the axes that is a sign. Of more than half a turn it is what does not
// lie on the rest. Of a full turn there is no rest: its ends are one place but for
// rounding, and may lie the one past the other.
func passes(op *interp.Op, quarter int) bool {
	const none = 1e-6 // rad: what this leaves out is less than a billionth of the radius
	if op.Sweep > 2*math.Pi-none || op.Turns > 1 {
		return true
	}
	first, second, _ := op.Plane.Axes()
	a := [2]float64{op.From[first] - op.Center[first], op.From[second] - op.Center[second]}
	b := [2]float64{op.To[first] - op.Center[first], op.To[second] - op.Center[second]}
	if op.CW {
		a, b = b, a // the same arc, counter-clockwise from its end
	}
	var left, right bool
	switch quarter {
	case 0:
		left, right = a[1] <= 0, b[1] >= 0
	case 1:
		left, right = a[0] >= 0, b[0] <= 0
	case 2:
		left, right = a[1] >= 0, b[1] <= 0
	case 3:
		left, right = a[0] <= 0, b[0] >= 0
	}
	if op.Sweep > math.Pi {
		return left || right
	}
	return left && right
}

// arcBox is the box around an arc in its plane: low and high of the first and
// second axis, mm.
func arcBox(op *interp.Op) (low, high [2]float64) {
	first, second, _ := op.Plane.Axes()
	var x, y Range
	x.widen(op.From[first])
	x.widen(op.To[first])
	y.widen(op.From[second])
	y.widen(op.To[second])
	around(&x, &y, op, 0, 0)
	return [2]float64{x.Min, y.Min}, [2]float64{x.Max, y.Max}
}
