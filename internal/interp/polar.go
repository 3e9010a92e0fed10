package interp

import (
	"math"

	"tapefit/profiles"
)

// polar says how the words of the plane's axes are read: in polar mode the
// first is a radius, the second an angle in degrees from the first axis to the
// second (ISO 6983 leaves polar pairs to the maker; the form is common
// practice). Absolute, the pole is the work zero and the angle one from the
// first axis; incremental, the radius is measured from where the axes stand,
// and the angle from the one before. What a block does not name stays.
type polar struct {
	on     bool
	pole   [2]float64
	radius float64
	angle  float64 // degrees
	known  bool    // radius and angle are; the pole is with the radius
	has    [2]bool // radius, angle have been said since the mode came on
}

// setPolar turns the mode on or off.
func (in *Interp) setPolar(m profiles.Meaning) {
	in.polar = polar{on: m == profiles.PolarOn, known: true}
}

// polarMoves are the axes that move where a block names some: a radius or an
// angle moves both of the plane.
func (in *Interp) polarMoves(axes AxisSet) AxisSet {
	first, second, _ := in.s.Plane.Axes()
	if plane := AxisSet(1<<first | 1<<second); axes&plane != 0 {
		return axes | plane
	}
	return axes
}

// polarTarget puts the place that the polar words name into the plane's axes of
// to, written coordinates, and gives the axes that are left to read.
func (in *Interp) polarTarget(to *Point, known *AxisSet, axes AxisSet) AxisSet {
	p, w, s := &in.polar, &in.w, &in.s
	first, second, _ := s.Plane.Axes()
	plane := AxisSet(1<<first | 1<<second)
	if axes&plane == 0 {
		return axes
	}
	incremental := s.Distance == profiles.Incremental
	if axes.Has(first) {
		p.radius = w.take(axisLetter[first]) * in.unit(first)
		p.pole = [2]float64{}
		p.known = !in.unitsUnknown(first) && s.Unknown&(UnknownDistance|UnknownPlane) == 0
		p.has[0] = true
		if incremental {
			p.pole = [2]float64{to[first], to[second]}
			p.known = p.known && *known&plane == plane
		}
	}
	if axes.Has(second) {
		v := w.take(axisLetter[second])
		if incremental {
			v += p.angle
		}
		p.angle = v
		p.has[1] = true
	}
	*known &^= plane
	if p.known && p.has[0] && p.has[1] {
		*known |= plane
	}
	sin, cos := sinCos(p.angle)
	to[first] = p.pole[0] + p.radius*cos
	to[second] = p.pole[1] + p.radius*sin
	return axes &^ plane
}

// oneTurn is an angle or a place of a rotary axis as 0 to below 360 degrees.
func oneTurn(degrees float64) float64 {
	d := math.Mod(degrees, 360)
	if d < 0 {
		d += 360
	}
	if d >= 360 { // a very small negative one
		return 0
	}
	return d
}
