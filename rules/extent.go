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
	center := [2]float64{op.Center[first], op.Center[second]}
	start := [2]float64{op.From[first], op.From[second]}
	end := [2]float64{op.To[first], op.To[second]}
	for i := range 2 {
		low[i] = math.Min(start[i], end[i])
		high[i] = math.Max(start[i], end[i])
	}
	from := math.Atan2(start[1]-center[1], start[0]-center[0])
	if op.CW {
		from -= op.Sweep // the same arc, counter-clockwise from its end
	}
	const quarter = math.Pi / 2
	for k := math.Ceil(from / quarter); k*quarter < from+op.Sweep; k++ {
		switch int(math.Mod(k, 4)+4) % 4 {
		case 0:
			high[0] = math.Max(high[0], center[0]+op.Radius)
		case 1:
			high[1] = math.Max(high[1], center[1]+op.Radius)
		case 2:
			low[0] = math.Min(low[0], center[0]-op.Radius)
		case 3:
			low[1] = math.Min(low[1], center[1]-op.Radius)
		}
	}
	return low, high
}
