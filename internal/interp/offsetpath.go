package interp

import "math"

// vec2 is a point or a vector in a plane: its first and second axis, mm.
type vec2 [2]float64

func (a vec2) plus(b vec2) vec2             { return vec2{a[0] + b[0], a[1] + b[1]} }
func (a vec2) minus(b vec2) vec2            { return vec2{a[0] - b[0], a[1] - b[1]} }
func (a vec2) times(k float64) vec2         { return vec2{a[0] * k, a[1] * k} }
func (a vec2) dot(b vec2) float64           { return a[0]*b[0] + a[1]*b[1] }
func (a vec2) cross(b vec2) float64         { return a[0]*b[1] - a[1]*b[0] }
func (a vec2) length() float64              { return math.Hypot(a[0], a[1]) }
func (a vec2) left() vec2                   { return vec2{-a[1], a[0]} } // a quarter turn counter-clockwise
func (a vec2) unit() vec2                   { return a.times(1 / a.length()) }
func (a vec2) angleTo(b vec2) float64       { return math.Atan2(a.cross(b), a.dot(b)) } // -pi to pi, counter-clockwise positive
func (a vec2) near(b vec2) bool             { return a.minus(b).length() <= nothing }
func rotated(a vec2, sin, cos float64) vec2 { return vec2{a[0]*cos - a[1]*sin, a[0]*sin + a[1]*cos} }

// nothing is a length, in mm, that is rounding and no move.
const nothing = 1e-9

// A segment is a straight line or an arc in a plane, of some length. Its offset
// curve lies at the distance h: to the left of the way it is travelled where h
// is positive, to the right where it is negative.
type segment struct {
	from, to vec2
	arc, cw  bool
	center   vec2
	sweep    float64 // of an arc: angle travelled, rad, positive
}

// tangents are the unit vectors along the segment at its start and its end.
func (g *segment) tangents() (start, end vec2) {
	if !g.arc {
		t := g.to.minus(g.from).unit()
		return t, t
	}
	return g.turned(g.from.minus(g.center).unit()), g.turned(g.to.minus(g.center).unit())
}

// turned is a vector turned by a quarter the way that the arc goes round.
func (g *segment) turned(u vec2) vec2 {
	if g.cw {
		return u.left().times(-1)
	}
	return u.left()
}

// radius is that of the arc's offset curve at its start; not above zero: the
// arc is too small for the tool on its inside.
func (g *segment) radius(h float64) float64 {
	r := g.from.minus(g.center).length()
	if g.cw {
		return r + h
	}
	return r - h
}

// ahead is how far the offset curve has gone from its start at right angles to
// the segment's start to a point on it: mm of a line, rad of an arc. Negative:
// the point lies before the start.
func (g *segment) ahead(at vec2) float64 {
	if !g.arc {
		t, _ := g.tangents()
		return at.minus(g.from).dot(t)
	}
	return g.travelled(g.from, at)
}

// behind is how far it is from a point on the offset curve to its end.
func (g *segment) behind(at vec2) float64 {
	if !g.arc {
		_, t := g.tangents()
		return g.to.minus(at).dot(t)
	}
	return g.travelled(at, g.to)
}

// travelled is the angle of the arc between the directions of two points from
// its centre, up to half a turn either way.
func (g *segment) travelled(a, b vec2) float64 {
	angle := a.minus(g.center).angleTo(b.minus(g.center))
	if g.cw {
		return -angle
	}
	return angle
}

// extent is the length of the segment: mm of a line, rad of an arc.
func (g *segment) extent() float64 {
	if g.arc {
		return g.sweep
	}
	return g.to.minus(g.from).length()
}

// remaining is what the offset curve keeps of its extent between its start and
// its end, which are given from those of the segment. Negative: it would be travelled backwards.
func (g *segment) remaining(start, end vec2) float64 {
	return g.extent() - g.ahead(g.from.plus(start)) - g.behind(g.to.plus(end))
}

// turn is how two segments meet, seen from the side of the tool.
type turn uint8

const (
	smooth  turn = iota // the one goes on as the other
	outside             // the tool goes round the corner
	inside              // the tool meets the second before it ends the first
)

// smoothAngle is the angle up to which a corner counts as smooth, in rad: the
// rounding of ends and centres in a program makes tangent moves meet at an angle
// of some thousandths. NISTIR 6556 allows a concave corner of 0.01 (from memory).
const smoothAngle = 0.01

// turnOf is the turn from one direction to another, both unit vectors.
func turnOf(before, after vec2, h float64) turn {
	angle := before.angleTo(after)
	if h < 0 {
		angle = -angle
	}
	switch {
	case math.Abs(angle) < smoothAngle:
		return smooth
	case angle > 0 && angle < math.Pi-smoothAngle:
		return inside
	}
	return outside // also straight back
}

// A corner is where two segments meet and what the offset curve makes of it.
// end and start lead from the programmed corner to the end of the first offset
// curve and to the start of the second.
type corner struct {
	turn       turn
	end, start vec2
	fits       bool // false: of an inside corner whose offset curves do not meet
}

// meet joins two segments, the second of which begins where the first ends.
// Round an outside corner both curves end at right angles to their segments; an
// arc about the corner leads from the one to the other. In an inside corner both
// end where they cross, of two such places at the one nearer to the corner.
func meet(first, second *segment, h float64) corner {
	_, before := first.tangents()
	after, _ := second.tangents()
	end, start := before.left().times(h), after.left().times(h)
	c := corner{turn: turnOf(before, after, h), end: end, start: start, fits: true}
	switch c.turn {
	case smooth:
		v := before.plus(after).unit().left().times(h)
		c.end, c.start = v, v
	case inside:
		v, ok := crossing(first, second, h)
		if c.fits = ok; ok {
			c.end, c.start = v, v
		}
	}
	return c
}

// crossing is the vector from the corner to where the offset curves of two
// segments cross in it.
func crossing(first, second *segment, h float64) (v vec2, ok bool) {
	p := first.to
	var at [2]vec2
	n := 0
	switch {
	case !first.arc && !second.arc:
		// Both lines lie at h from the corner: the way to the crossing halves the
		// angle between their normals.
		a, _ := first.tangents()
		b, _ := second.tangents()
		return a.left().plus(b.left()).times(h / (1 + a.dot(b))), true
	case !first.arc:
		t, _ := first.tangents()
		at, n = lineCircle(p.plus(t.left().times(h)), t, second.center, second.radius(h))
	case !second.arc:
		t, _ := second.tangents()
		at, n = lineCircle(p.plus(t.left().times(h)), t, first.center, first.radius(h))
	default:
		at, n = circleCircle(first.center, first.radius(h), second.center, second.radius(h))
	}
	best := math.Inf(1)
	for _, x := range at[:n] {
		if first.behind(x) < -nothing || second.ahead(x) < -nothing {
			continue // on what the curves are before and behind their segments
		}
		if d := x.minus(p).length(); d < best {
			best, v, ok = d, x.minus(p), true
		}
	}
	return v, ok
}

// lineCircle are the places where the line through a along the unit vector t
// crosses a circle.
func lineCircle(a, t, center vec2, radius float64) (at [2]vec2, n int) {
	foot := a.plus(t.times(center.minus(a).dot(t)))
	away := center.minus(foot).length()
	if away > radius {
		return at, 0
	}
	half := t.times(math.Sqrt((radius - away) * (radius + away)))
	return [2]vec2{foot.minus(half), foot.plus(half)}, 2
}

// circleCircle are the places where two circles cross.
func circleCircle(a vec2, ra float64, b vec2, rb float64) (at [2]vec2, n int) {
	d := b.minus(a).length()
	if d < nothing || d > ra+rb || d < math.Abs(ra-rb) {
		return at, 0
	}
	t := b.minus(a).unit()
	along := (d + (ra-rb)*(ra+rb)/d) / 2
	foot := a.plus(t.times(along))
	half := t.left().times(math.Sqrt(math.Max(0, (ra-along)*(ra+along))))
	return [2]vec2{foot.minus(half), foot.plus(half)}, 2
}

// tangentEnd is the vector from p to where a straight move from a ends that
// touches the circle of the tool about p, with p on the side of h. False: a lies
// within the circle.
func tangentEnd(a, p vec2, h float64) (vec2, bool) {
	back := a.minus(p)
	d := back.length()
	cos := math.Abs(h) / d
	if !(cos < 1) {
		return vec2{}, false
	}
	sin := math.Sqrt((1 - cos) * (1 + cos))
	if h > 0 {
		sin = -sin // the tool goes by on the left: the radius lies clockwise of the way back
	}
	return rotated(back.times(math.Abs(h)/d), sin, cos), true
}
