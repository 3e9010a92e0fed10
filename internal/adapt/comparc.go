package adapt

import (
	"math"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
)

// compArc is the arc of the contour that a block under cutter compensation says:
// what the interpreter shows is the path of the tool's centre, which the machine
// makes for itself. ok is false where the words do not give the arc.
func (a *adapter) compArc(b *parser.Block) (op done, ok bool) {
	s := a.state
	first, second, _ := s.Plane.Axes()
	from, to := a.before.At, s.At
	if a.turned != 0 || a.before.Known&s.Known&(1<<first|1<<second) != 1<<first|1<<second {
		return op, false
	}
	cw := s.Motion == profiles.ArcCW
	center, ok := a.writtenCenter(b, vec{from[first], from[second]}, vec{to[first], to[second]}, cw)
	if !ok {
		return op, false
	}
	op.Kind, op.Plane, op.CW, op.Turns, op.line = interp.Arc, s.Plane, cw, 1, b.Line
	op.From, op.To, op.Center = from, to, from
	op.Center[first], op.Center[second] = center[0], center[1]
	op.FromKnown, op.ToKnown, op.Moves = a.before.Known, s.Known, axesOf(b)|1<<first|1<<second
	start, end := vec{from[first], from[second]}, vec{to[first], to[second]}
	op.Radius, op.Sweep = start.minus(center).length(), turn(start, end, center, cw)
	if start == end {
		op.Sweep = 2 * math.Pi
	}
	op.Length, op.Feed = op.Radius*op.Sweep, 0
	if s.FeedMode == profiles.FeedPerMinute {
		op.Feed = s.Feed
	}
	return op, op.Radius > 0
}

// axesOf are the axes that the words of a block name.
func axesOf(b *parser.Block) (set interp.AxisSet) {
	for i := range b.Words {
		for axis := range profiles.NumAxes {
			if profiles.AxisLetters[axis] == b.Words[i].Address {
				set |= 1 << axis
			}
		}
	}
	return set
}

// keepsContour says whether the machine takes an arc under cutter compensation as
// it is written.
func (a *adapter) keepsContour(b *parser.Block) bool {
	s := a.state
	if s.Motion != profiles.ArcCW && s.Motion != profiles.ArcCCW || a.before.Comp == profiles.CompOff && s.Comp == profiles.CompOff ||
		!hasAxes(b) && b.Word('I') == nil && b.Word('J') == nil && b.Word('K') == nil {
		return true
	}
	contour, ok := a.compArc(b)
	if !ok {
		to := &a.to.Arcs
		return to.Centre == a.from.Arcs.Centre && (!to.Quadrant || a.from.Arcs.Quadrant) && (to.Radius || b.Word('R') == nil)
	}
	return a.keepsArc(b, &contour)
}

// writtenCenter is the centre that the words of an arc say, in the plane.
func (a *adapter) writtenCenter(b *parser.Block, start, end vec, cw bool) (center vec, ok bool) {
	first, second, _ := a.state.Plane.Axes()
	if r := b.Word('R'); r != nil {
		radius, ok := a.writtenLength(r)
		if !ok {
			return center, false
		}
		return radiusCenter(start, end, radius, cw)
	}
	switch a.from.Arcs.Centre {
	case "incremental":
		center = start
	case "absolute":
	default:
		return center, false
	}
	for i, axis := range [...]int{first, second} {
		word := b.Word(centreLetters[axis])
		if word == nil {
			if a.from.Arcs.Centre == "absolute" {
				center[i] = start[i]
			}
			continue
		}
		v, ok := a.writtenLength(word)
		if !ok {
			return center, false
		}
		center[i] += v
	}
	return center, true
}

// writtenLength is the length that a word says, mm; ok is false where that takes
// more than the word to know.
func (a *adapter) writtenLength(w *parser.Word) (v float64, ok bool) {
	if w.Expr != nil || counting(a.from) && !w.Point && w.Value != 0 {
		return 0, false
	}
	return w.Value * inUnits(a.state.Units), true
}

// radiusCenter is the centre of an arc that is said by its radius: above 0 it
// goes at most half round, below 0 further (NISTIR 6556: from memory).
func radiusCenter(start, end vec, radius float64, cw bool) (center vec, ok bool) {
	chord := end.minus(start)
	half := chord.length() / 2
	if half == 0 || radius == 0 {
		return center, false
	}
	high := math.Sqrt(math.Max(0, radius*radius-half*half)) / (2 * half)
	if cw != (radius < 0) {
		high = -high
	}
	return vec{start[0] + chord[0]/2 - chord[1]*high, start[1] + chord[1]/2 + chord[0]*high}, true
}
