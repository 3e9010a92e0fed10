package interp

import (
	"math"
	"strings"

	"tapefit/parser"
	"tapefit/profiles"
)

// An arcShape is an arc in its plane: first and second axis of the plane, mm.
type arcShape struct {
	start, end, center [2]float64
	cw                 bool
}

// radii are the distances of start and end from the centre.
func (a *arcShape) radii() (start, end float64) {
	return distance(&a.start, &a.center), distance(&a.end, &a.center)
}

// distance is math.Hypot for places that a machine can have: elsewhere it is
// infinite.
func distance(a, b *[2]float64) float64 {
	x, y := a[0]-b[0], a[1]-b[1]
	return math.Sqrt(x*x + y*y)
}

// angles are the direction from the centre to the start and the angle
// travelled, positive, a full turn where start and end are one.
func (a *arcShape) angles() (from, sweep float64) {
	from = math.Atan2(a.start[1]-a.center[1], a.start[0]-a.center[0])
	to := math.Atan2(a.end[1]-a.center[1], a.end[0]-a.center[0])
	if a.cw {
		sweep = from - to
	} else {
		sweep = to - from
	}
	if sweep <= 0 {
		sweep += 2 * math.Pi
	}
	if a.full() {
		sweep = 2 * math.Pi
	}
	return from, sweep
}

// full says whether the arc ends where it starts. Places that were reached by
// adding up increments differ in their last bits.
func (a *arcShape) full() bool {
	const same = 1e-6 // mm, far below any least increment
	return math.Abs(a.end[0]-a.start[0]) < same && math.Abs(a.end[1]-a.start[1]) < same
}

// crossesQuadrant says whether the arc passes, not merely touches with an end,
// a direction of a plane axis.
func (a *arcShape) crossesQuadrant() bool {
	const quarter = math.Pi / 2
	from, sweep := a.angles()
	radius, _ := a.radii()
	if radius == 0 {
		return false
	}
	// An end that lies a thousandth of a millimetre over the line is rounding.
	slack := math.Min(0.001/radius, 0.1)
	if a.cw {
		from = -from
	}
	first := math.Floor((from+slack)/quarter)*quarter + quarter
	return first < from+sweep-slack
}

// arc executes G2 and G3. An arc whose form the control refuses is a fault and
// is executed all the same: what it means is not in doubt. One whose geometry
// is wrong is not executed, and the axes are taken to be at its end.
func (in *Interp) arc(b *parser.Block, m profiles.Meaning) {
	s := &in.s
	word := in.moveWord(b)
	axes := in.w.axes()
	to, known := in.target(b, axes)
	first, second, normal := s.Plane.Axes()
	plane := AxisSet(1<<first | 1<<second)
	if axes&plane == 0 && in.m.Arcs.NeedsEnd && s.Unknown&UnknownPlane == 0 {
		in.faultMissing(b, word, axisLetter[first])
		in.dropMove(plane)
		return
	}
	if s.Unknown&UnknownPlane != 0 {
		in.takeCentre()
		in.setAt(to, known, axes)
		return
	}
	a := arcShape{cw: m == profiles.ArcCW}
	a.start = [2]float64{s.At[first], s.At[second]}
	a.end = [2]float64{to[first], to[second]}
	axes = in.movedAxes(axes)
	if in.tr.active {
		in.tr.written(&a, first, second)
	}
	if !in.centre(b, word, &a, plane) {
		in.setAt(to, known, axes|plane)
		return
	}
	if s.Known&plane != plane || known&plane != plane || in.unitsUnknown(first) {
		in.setAt(to, known, axes|plane)
		return
	}
	r0, r1 := a.radii()
	if !(math.Abs(r0-r1) <= in.radiusTolerance()) { // nor if both are infinite
		f := in.faultAt(ArcRadius, b, word)
		f.A, f.B = r0, r1
		in.emitFault()
		in.setAt(to, known, axes|plane)
		return
	}
	if r0 == 0 {
		in.faultCause(BadValue, b, word, "the centre of the arc is its start: the radius is zero")
		in.setAt(to, known, axes|plane)
		return
	}
	in.arcForms(b, word, &a, r0, axes&^plane)
	if in.tr.active && !in.tr.arc(&a, &r0, first, second) {
		in.faultCause(ArcForm, b, word, RefusedUnequal)
		in.setAt(to, known, axes|plane)
		return
	}
	in.showArc(word, &a, r0, to, known, axes, normal)
}

// RadiusTolerance is how far the radii at the start and the end of an arc may
// differ on the machine, in mm, in a program with these units.
func RadiusTolerance(m *profiles.Machine, units profiles.Meaning) float64 {
	t := m.Arcs.Tolerance
	if units == profiles.UnitsInch && m.Arcs.ToleranceInch != 0 {
		t = m.Arcs.ToleranceInch
	}
	if t == 0 {
		t = 0.002 // NISTIR 6556, in millimetres (from memory)
	}
	return float64(t)
}

// radiusTolerance is RadiusTolerance with room for the rounding of floats.
func (in *Interp) radiusTolerance() float64 {
	return RadiusTolerance(in.m, in.s.Units) + 1e-9
}

// setAt goes to a place without an operation.
func (in *Interp) setAt(to Point, known, axes AxisSet) {
	in.silent = true
	in.move(Traverse, -1, to, known, axes)
	in.silent = false
}

// centreLetter is the centre word of an axis.
var centreLetter = [3]byte{'I', 'J', 'K'}

// takeCentre marks the centre words as used where they cannot be read.
func (in *Interp) takeCentre() {
	for _, letter := range centreLetter {
		in.w.take(letter)
	}
	in.w.take('R')
}

// centre finds the centre of the arc from I J K or R. False: there is none, and
// a fault has said why, unless the start is unknown.
func (in *Interp) centre(b *parser.Block, word int, a *arcShape, plane AxisSet) bool {
	w, s := &in.w, &in.s
	first, second, _ := s.Plane.Axes()
	l1, l2 := centreLetter[first], centreLetter[second]
	if w.has('R') {
		if w.has(l1) || w.has(l2) {
			in.faultConflict(b, w.at['R'-'A'], in.centreWord(l1, l2))
			in.takeCentre()
			return false
		}
		if !in.m.Arcs.Radius {
			in.faultCause(ArcForm, b, w.at['R'-'A'], RefusedRadius)
		}
		r := w.take('R') * in.linear
		if s.Known&plane != plane {
			return false
		}
		return in.centreFromRadius(b, a, r)
	}
	if !w.has(l1) && !w.has(l2) {
		in.faultMissing(b, word, l1)
		return false
	}
	c1, c2 := w.take(l1)*in.linear, w.take(l2)*in.linear
	switch in.m.Arcs.Centre {
	case "absolute":
		a.center = [2]float64{c1, c2}
	case "unsigned":
		if c1 < 0 || c2 < 0 {
			negative := l1
			if c1 >= 0 {
				negative = l2
			}
			in.faultCause(ArcForm, b, w.at[negative-'A'], RefusedSign)
			a.center = [2]float64{a.start[0] + c1, a.start[1] + c2}
			break
		}
		if s.Known&plane != plane {
			return false
		}
		return in.centreUnsigned(b, word, a, c1, c2)
	default:
		a.center = [2]float64{a.start[0] + c1, a.start[1] + c2}
	}
	return true
}

// centreWord is the index of the first centre word in the block.
func (in *Interp) centreWord(l1, l2 byte) int {
	if in.w.has(l1) {
		return in.w.at[l1-'A']
	}
	return in.w.at[l2-'A']
}

// centreFromRadius is the R form: of the two circles of the radius through
// start and end, a positive radius takes the arc of at most 180 degrees, a
// negative one the other (NISTIR 6556).
func (in *Interp) centreFromRadius(b *parser.Block, a *arcShape, r float64) bool {
	word := in.w.at['R'-'A']
	dx, dy := a.end[0]-a.start[0], a.end[1]-a.start[1]
	d := math.Hypot(dx, dy)
	if d == 0 {
		in.faultCause(BadValue, b, word, "an arc with R that ends where it starts has no centre")
		return false
	}
	abs := math.Abs(r)
	if d/2 > abs+in.radiusTolerance() {
		f := in.faultAt(ArcRadius, b, word)
		f.A, f.B, f.Cause = abs, d/2, RadiusTooSmall
		in.emitFault()
		return false
	}
	h := math.Sqrt(math.Max(0, r*r-d*d/4))
	// The centre lies left of the chord for a short counter-clockwise arc.
	if a.cw == (r > 0) {
		h = -h
	}
	a.center = [2]float64{a.start[0] + dx/2 - h*dy/d, a.start[1] + dy/2 + h*dx/d}
	return true
}

// centreUnsigned finds the signs of a centre that is written without them: of
// the four centres it is the one about which the arc, in its direction, ends on
// its circle within a quarter turn.
func (in *Interp) centreUnsigned(b *parser.Block, word int, a *arcShape, c1, c2 float64) bool {
	best, found := math.Inf(1), false
	var center [2]float64
	for i := range 4 {
		try := *a
		try.center = [2]float64{a.start[0] + c1*float64(1-i&1*2), a.start[1] + c2*float64(1-i>>1*2)}
		r0, r1 := try.radii()
		_, sweep := try.angles()
		if sweep > math.Pi/2+1e-3 {
			continue
		}
		if d := math.Abs(r0 - r1); d < best {
			best, center, found = d, try.center, true
		}
	}
	if !found {
		in.faultCause(ArcQuadrant, b, word, NoQuadrant)
		return false
	}
	a.center = center
	return true
}

// Causes of ArcForm, ArcQuadrant and ArcRadius faults.
const (
	RefusedRadius  = "R form"
	RefusedSign    = "signed centre"
	RefusedCircle  = "full circle"
	RefusedHelix   = "helix"
	RefusedPlane   = "plane"
	RefusedLargest = "radius too large"
	RefusedUnequal = "scaled unlike or turned out of its plane" // not executed
	NoQuadrant     = "no centre within a quadrant"
	RadiusTooSmall = "chord longer than the diameter"
)

// arcForms says what the control refuses of the arc's form.
func (in *Interp) arcForms(b *parser.Block, word int, a *arcShape, radius float64, others AxisSet) {
	arcs := &in.m.Arcs
	if arcs.Planes != "" && !strings.Contains(arcs.Planes, in.s.Plane.String()) {
		in.faultCause(ArcForm, b, word, RefusedPlane)
	}
	if arcs.Largest != 0 && radius > float64(arcs.Largest)+1e-9 {
		f := in.faultAt(ArcForm, b, word)
		f.A, f.B, f.Cause = radius, float64(arcs.Largest), RefusedLargest
		in.emitFault()
	}
	if others != 0 && !arcs.Helix {
		in.faultCause(ArcForm, b, word, RefusedHelix)
	}
	full := a.full()
	if full && !arcs.FullCircle {
		in.faultCause(ArcForm, b, word, RefusedCircle)
	} else if arcs.Quadrant && a.crossesQuadrant() {
		in.faultCause(ArcQuadrant, b, word, "")
	}
}

// showArc shows the arc and goes to its end.
func (in *Interp) showArc(word int, a *arcShape, radius float64, to Point, known, axes AxisSet, normal int) {
	s, op := &in.s, &in.op
	first, second, _ := s.Plane.Axes()
	in.setAt(to, known, axes|1<<first|1<<second)
	op.Kind, op.Word = Arc, word
	op.Moves = axes | 1<<first | 1<<second
	op.Center = op.From
	op.Center[first], op.Center[second] = a.center[0], a.center[1]
	op.Plane, op.CW, op.Turns, op.Radius = s.Plane, a.cw, 1, radius
	_, op.Sweep = a.angles()
	flat := radius * op.Sweep
	op.Length = flat
	if op.Moves.Has(normal) && op.FromKnown.Has(normal) && op.ToKnown.Has(normal) {
		op.Length = math.Hypot(flat, op.To[normal]-op.From[normal])
	}
	in.showAt(op.Length)
}
