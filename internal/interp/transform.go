package interp

import (
	"math"
	"slices"

	"tapefit/parser"
	"tapefit/profiles"
)

// A transform lies between the coordinates that a program writes and the work
// coordinates in which it is executed. What is written is mirrored first, then
// scaled, then rotated (common practice); the lines and centres that the codes
// name are work coordinates, whatever else is in force. It keeps no place of
// its own: where the program believes to stand is reckoned back from where the
// axes are.
type transform struct {
	active bool // any of the below
	// lost are the axes of which a fault has left open where they go, by
	// mirror, scale and rotation.
	lost [3]AxisSet

	mirror AxisSet
	line   Point // of mirror: the coordinate that stays

	scale  bool
	factor [3]float64 // of X Y Z
	centre Point      // of scale

	rotate        bool
	sin, cos      float64
	first, second int        // axes of the plane that was in force
	pivot         [2]float64 // of rotate
}

// Indices in transform.lost.
const (
	mirrorLost = iota
	scaleLost
	rotateLost
)

// forward is where a written place lies in work coordinates.
func (tr *transform) forward(p Point) Point {
	for i := range p {
		p[i] = tr.place(i, p[i])
	}
	if tr.rotate {
		p = tr.turned(p, tr.sin)
	}
	return p
}

// back is the written place of work coordinates: the way of forward, back.
func (tr *transform) back(p Point) Point {
	if tr.rotate {
		p = tr.turned(p, -tr.sin)
	}
	for i := range p {
		if tr.scale && i < 3 {
			p[i] = tr.centre[i] + (p[i]-tr.centre[i])/tr.factor[i]
		}
		if tr.mirror.Has(i) {
			p[i] = 2*tr.line[i] - p[i]
		}
	}
	return p
}

// turned is p turned about the pivot by the angle of cos and the given sine.
func (tr *transform) turned(p Point, sin float64) Point {
	u, v := p[tr.first]-tr.pivot[0], p[tr.second]-tr.pivot[1]
	p[tr.first] = tr.pivot[0] + u*tr.cos - v*sin
	p[tr.second] = tr.pivot[1] + u*sin + v*tr.cos
	return p
}

// place is where a written coordinate of axis i lies, before any rotation.
func (tr *transform) place(i int, v float64) float64 {
	if tr.mirror.Has(i) {
		v = 2*tr.line[i] - v
	}
	if tr.scale && i < 3 {
		v = tr.centre[i] + (v-tr.centre[i])*tr.factor[i]
	}
	return v
}

// grow is what a written distance along axis i becomes, before any rotation:
// less than zero where the axis is mirrored.
func (tr *transform) grow(i int) float64 {
	f := 1.0
	if tr.scale && i < 3 {
		f = tr.factor[i]
	}
	if tr.mirror.Has(i) {
		f = -f
	}
	return f
}

// flips says whether the plane is seen from behind: what was left is right.
func (tr *transform) flips(p Plane) bool {
	first, second, _ := p.Axes()
	return tr.active && tr.grow(first)*tr.grow(second) < 0
}

// moves are the axes that move where the program names some: under a rotation
// one of its plane moves both.
func (tr *transform) moves(axes AxisSet) AxisSet {
	if plane := tr.plane(); axes&plane != 0 {
		return axes | plane
	}
	return axes
}

// plane are the axes that a rotation mixes.
func (tr *transform) plane() AxisSet {
	if !tr.rotate {
		return 0
	}
	return 1<<tr.first | 1<<tr.second
}

// written takes the ends of an arc back to written coordinates. Ends that are
// one but for rounding are one.
func (tr *transform) written(a *arcShape, first, second int) {
	for _, p := range [...]*[2]float64{&a.start, &a.end} {
		var at Point
		at[first], at[second] = p[0], p[1]
		at = tr.back(at)
		*p = [2]float64{at[first], at[second]}
	}
	if math.Hypot(a.end[0]-a.start[0], a.end[1]-a.start[1]) < 1e-9 {
		a.end = a.start
	}
}

// arc takes an arc with its radius to work coordinates. False: it is stretched
// unlike along its two axes or turned out of its plane, and is an arc no more.
func (tr *transform) arc(a *arcShape, radius *float64, first, second int) bool {
	f1, f2 := tr.grow(first), tr.grow(second)
	plane := AxisSet(1<<first | 1<<second)
	if math.Abs(f1) != math.Abs(f2) || tr.rotate && tr.plane() != plane {
		return false
	}
	full := a.start == a.end
	for _, p := range [...]*[2]float64{&a.start, &a.end, &a.center} {
		var at Point
		at[first], at[second] = p[0], p[1]
		at = tr.forward(at)
		*p = [2]float64{at[first], at[second]}
	}
	if full {
		a.end = a.start
	}
	*radius *= math.Abs(f1)
	if f1*f2 < 0 {
		a.cw = !a.cw
	}
	return true
}

// movedAxes are the axes that move for those that the block names.
func (in *Interp) movedAxes(axes AxisSet) AxisSet {
	if in.polar.on {
		axes = in.polarMoves(axes)
	}
	if in.tr.active {
		axes = in.tr.moves(axes)
	}
	return axes
}

// targetThrough is target where polar words are in force or a transform is.
func (in *Interp) targetThrough(b *parser.Block, axes AxisSet) (to Point, known AxisSet) {
	s, tr := &in.s, &in.tr
	to, known = s.At, s.Known
	if plane := tr.plane(); known&plane != plane {
		known &^= plane
	}
	if tr.active {
		to = tr.back(to)
	}
	written := axes
	if in.polar.on {
		written = in.polarTarget(&to, &known, axes)
	}
	in.targetPlain(b, written, &to, &known)
	if plane := tr.plane(); axes&plane != 0 && known&plane != plane {
		known &^= plane
		in.steps &^= plane // both axes move, and only one has its step
	}
	if !tr.active {
		return to, known
	}
	to = tr.forward(to)
	for i := range to {
		if !in.movedAxes(axes).Has(i) {
			to[i] = s.At[i] // to the last bit
		}
	}
	return to, known &^ (in.movedAxes(axes) & (tr.lost[mirrorLost] | tr.lost[scaleLost] | tr.lost[rotateLost]))
}

// transforms executes the codes that mirror, scale and rotate. They take the
// axis words of their block.
func (in *Interp) transforms(b *parser.Block) {
	w, tr := &in.w, &in.tr
	if in.s.Comp != profiles.CompOff {
		in.s.Unknown |= UnknownComp // a fault has said that this does not go
	}
	for group := profiles.ScaleGroup; group <= profiles.RotateGroup; group++ {
		switch m := w.g[group]; m {
		case profiles.ScaleOn:
			in.scaleOn(b)
		case profiles.ScaleOff:
			tr.scale, tr.lost[scaleLost] = false, 0
		case profiles.MirrorOn:
			in.mirrorOn(b)
		case profiles.MirrorOff:
			if axes := w.axes(); axes != 0 { // the numbers do not matter
				tr.mirror &^= axes
				tr.lost[mirrorLost] &^= axes
				in.takeAxes()
			} else {
				tr.mirror, tr.lost[mirrorLost] = 0, 0
			}
		case profiles.RotateOn:
			in.rotateOn(b)
		case profiles.RotateOff:
			tr.rotate, tr.lost[rotateLost] = false, 0
		}
	}
	tr.active = tr.mirror != 0 || tr.scale || tr.rotate
}

// takeAxes takes the axis words out of the block: no move is named by them.
func (in *Interp) takeAxes() {
	in.w.set &^= axisWords
}

// centreWords are the work coordinates that the axis words of the block name;
// where there is none, those of the place where the axes stand. known are those
// of the axes wanted that have a value.
func (in *Interp) centreWords(want AxisSet) (at Point, known AxisSet) {
	w, s := &in.w, &in.s
	at, known = s.At, s.Known&want
	for i, letter := range axisLetter {
		if !w.has(letter) || !want.Has(i) {
			continue
		}
		at[i] = w.take(letter) * in.unit(i)
		known |= 1 << i
		if in.unitsUnknown(i) {
			known &^= 1 << i
		}
	}
	in.takeAxes()
	return at, known
}

// leastFactor bounds what can be scaled back again.
const leastFactor = 1e-6

// scaleOn reads the factors: P of X, Y and Z alike, or I, J and K, one each. A
// factor less than zero mirrors at the centre.
func (in *Interp) scaleOn(b *parser.Block) {
	w, tr := &in.w, &in.tr
	word := w.gAt[profiles.ScaleGroup]
	factor := [3]float64{1, 1, 1}
	any := false
	if w.has('P') {
		f := in.plain(b, 'P')
		factor = [3]float64{f, f, f}
		any = true
	}
	for i, letter := range centreLetter {
		if w.has(letter) {
			factor[i] = in.plain(b, letter)
			any = true
		}
	}
	centre, known := in.centreWords(XYZ)
	bad := slices.ContainsFunc(factor[:], func(f float64) bool { return math.Abs(f) < leastFactor || math.Abs(f) > 1/leastFactor })
	switch {
	case !any:
		in.faultMissing(b, word, 'P')
	case bad:
		in.faultCause(BadValue, b, word, "a factor is between a millionth and a million, and not zero")
	}
	if !any || bad {
		tr.scale, tr.factor, tr.lost[scaleLost] = true, [3]float64{1, 1, 1}, XYZ
		return
	}
	tr.scale, tr.factor, tr.centre = true, factor, centre
	tr.lost[scaleLost] = 0
	for i, f := range factor {
		if f != 1 && !known.Has(i) {
			tr.lost[scaleLost] |= 1 << i
		}
	}
}

// mirrorOn reads the lines: each axis that is named is mirrored at the
// coordinate that it names.
func (in *Interp) mirrorOn(b *parser.Block) {
	w, tr := &in.w, &in.tr
	axes := w.axes()
	if axes == 0 {
		in.faultMissing(b, w.gAt[profiles.MirrorGroup], 'X')
		tr.mirror, tr.lost[mirrorLost] = XYZ, XYZ
		return
	}
	at, known := in.centreWords(axes)
	for i := range at {
		if axes.Has(i) {
			tr.line[i] = at[i]
		}
	}
	tr.mirror |= axes
	tr.lost[mirrorLost] = tr.lost[mirrorLost]&^axes | axes&^known
}

// rotateOn reads the angle R, in degrees from the first to the second axis of
// the plane in force, and the centre.
func (in *Interp) rotateOn(b *parser.Block) {
	w, tr := &in.w, &in.tr
	first, second, _ := in.s.Plane.Axes()
	plane := AxisSet(1<<first | 1<<second)
	centre, known := in.centreWords(plane)
	if !w.has('R') {
		in.faultMissing(b, w.gAt[profiles.RotateGroup], 'R')
		known = 0
	}
	angle := in.plain(b, 'R')
	tr.rotate, tr.first, tr.second = true, first, second
	tr.sin, tr.cos = sinCos(angle)
	tr.pivot = [2]float64{centre[first], centre[second]}
	tr.lost[rotateLost] = 0
	if known != plane || in.s.Unknown&UnknownPlane != 0 {
		tr.lost[rotateLost] = plane
	}
}

// sinCos is exact at the quarters: a part turned by 90 degrees keeps its
// numbers.
func sinCos(degrees float64) (sin, cos float64) {
	switch oneTurn(degrees) {
	case 0:
		return 0, 1
	case 90:
		return 1, 0
	case 180:
		return 0, -1
	case 270:
		return -1, 0
	}
	return math.Sincos(degrees * math.Pi / 180)
}

// plain is the number of a word that is no place and no length: a factor, an
// angle, a time. Where the control counts least increments it counts
// thousandths in these (common practice). Zero where the word is missing.
func (in *Interp) plain(b *parser.Block, letter byte) float64 {
	w := &in.w
	v := w.take(letter)
	if !w.has(letter) {
		return 0
	}
	word := &b.Words[w.at[letter-'A']]
	if p := in.m.Numbers.Point; word.Expr == nil && !word.Point && (p == "counts" || p == "refused") {
		return word.Value / 1000
	}
	return v
}
