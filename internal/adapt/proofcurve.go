package adapt

import (
	"math"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// A curve is a stretch of a path: a straight line, or an arc or helix of at
// most a quarter turn. It is run from 0 to 1. Places are in mm, rotary axes in
// degrees times the scale that makes both tolerances one number.
type curve struct {
	from, to interp.Point
	length   float64 // of all axes
	turns    bool    // a rotary axis moves
	arc      bool

	// Of an arc: the axes of its plane, and in it the centre, the radius at both
	// ends, the angle at the start and the one travelled, counter-clockwise.
	first, second  int
	center         [2]float64
	r0, r1, a0, da float64
}

// line is the straight line between two places.
func line(from, to *interp.Point, scale float64) curve {
	c := curve{from: *from, to: *to}
	sum := 0.0
	for i := range c.from {
		if i >= 3 {
			c.from[i] *= scale
			c.to[i] *= scale
			c.turns = c.turns || c.from[i] != c.to[i]
		}
		d := c.to[i] - c.from[i]
		sum += d * d
	}
	c.length = math.Sqrt(sum)
	return c
}

// arc is the arc or helix of an operation between two places.
func arc(op *interp.Op, from, to *interp.Point, scale float64) curve {
	c := line(from, to, scale)
	c.arc = true
	c.first, c.second, _ = op.Plane.Axes()
	c.center = [2]float64{op.Center[c.first], op.Center[c.second]}
	x, y := c.from[c.first]-c.center[0], c.from[c.second]-c.center[1]
	c.r0, c.a0 = hypot(x, y), math.Atan2(y, x)
	c.r1 = hypot(c.to[c.first]-c.center[0], c.to[c.second]-c.center[1])
	c.da = op.Sweep + 2*math.Pi*float64(max(op.Turns-1, 0))
	if op.CW {
		c.da = -c.da
	}
	chord := hypot(c.to[c.first]-c.from[c.first], c.to[c.second]-c.from[c.second])
	others := math.Sqrt(math.Max(0, c.length*c.length-chord*chord))
	c.length = hypot((c.r0+c.r1)/2*c.da, others)
	return c
}

// hypot is math.Hypot for what a machine can reach: it is quicker where nothing
// has to be kept from overflowing.
func hypot(x, y float64) float64 { return math.Sqrt(x*x + y*y) }

// parts is into how many pieces an arc is cut: each is at most a quarter turn,
// so that it goes one way and never comes near its own start.
func (c *curve) parts() int {
	return int(math.Max(1, math.Ceil(math.Abs(c.da)/(math.Pi/2)-1e-9)))
}

// part is piece k of an arc cut into n. It begins where the one before has ended.
func (c *curve) part(k, n int, from interp.Point) curve {
	if n == 1 {
		return *c
	}
	a, b := float64(k)/float64(n), float64(k+1)/float64(n)
	p := *c
	p.from = from
	if k < n-1 {
		p.to = c.at(b)
	}
	p.r0, p.r1 = c.r0+(c.r1-c.r0)*a, c.r0+(c.r1-c.r0)*b
	p.a0, p.da = c.a0+c.da*a, c.da/float64(n)
	p.length = c.length / float64(n)
	return p
}

// at is the place at u.
func (c *curve) at(u float64) interp.Point {
	switch u {
	case 0:
		return c.from
	case 1:
		return c.to
	}
	var p interp.Point
	for i := range p {
		p[i] = c.from[i] + (c.to[i]-c.from[i])*u
	}
	if c.arc {
		sin, cos := math.Sincos(c.a0 + c.da*u)
		r := c.r0 + (c.r1-c.r0)*u
		p[c.first], p[c.second] = c.center[0]+r*cos, c.center[1]+r*sin
	}
	return p
}

// nearest is where, from u on, the curve comes nearest to a place.
func (c *curve) nearest(u float64, p *interp.Point) float64 {
	if c.length == 0 {
		return 1
	}
	var v float64
	if c.arc {
		v = c.nearestOfArc(p)
	} else {
		dot := 0.0
		for i := range c.axes() {
			dot += (p[i] - c.from[i]) * (c.to[i] - c.from[i])
		}
		v = dot / (c.length * c.length)
	}
	// What is left of it is nothing that a number in a program can say.
	const end = 1e-7 // mm
	if (1-v)*c.length < end {
		return 1
	}
	return math.Max(u, v)
}

// enters is where a straight line comes within a distance of a place; 1 where it
// does not, and of an arc.
func (c *curve) enters(p *interp.Point, distance float64) float64 {
	if c.arc || c.length == 0 {
		return 1
	}
	var along, off float64
	for i := range p {
		d := p[i] - c.from[i]
		along += d * (c.to[i] - c.from[i])
		off += d * d
	}
	along /= c.length // to the foot, mm
	root := distance*distance - (off - along*along)
	if root < 0 {
		return 1
	}
	return math.Max(0, (along-math.Sqrt(root))/c.length)
}

// axes counts those that a distance along the curve is made of.
func (c *curve) axes() int {
	if c.turns {
		return profiles.NumAxes
	}
	return 3
}

// nearestOfArc is by the angle and, on a helix, by a few steps from there to
// where the way to the place stands square to the curve.
func (c *curve) nearestOfArc(p *interp.Point) float64 {
	a := math.Remainder(math.Atan2(p[c.second]-c.center[1], p[c.first]-c.center[0])-c.a0, 2*math.Pi)
	u := a / c.da
	normal := 3 - c.first - c.second
	if c.from[normal] == c.to[normal] && !c.turns {
		return u
	}
	for range 4 {
		u = math.Min(math.Max(u, 0), 1)
		q := c.at(u)
		var along, square float64
		for i := range c.axes() {
			d := c.to[i] - c.from[i]
			switch i {
			case c.first:
				d = -(q[c.second] - c.center[1]) * c.da
			case c.second:
				d = (q[c.first] - c.center[0]) * c.da
			}
			along += (p[i] - q[i]) * d
			square += d * d
		}
		if square == 0 {
			return u
		}
		u += along / square
	}
	return u
}

// apart is the distance of two places: of X Y Z and of the rotary axes, the
// greater of the two.
func apart(p, q *interp.Point) float64 {
	x, y, z := p[0]-q[0], p[1]-q[1], p[2]-q[2]
	d := math.Sqrt(x*x + y*y + z*z)
	if p[3] != q[3] || p[4] != q[4] || p[5] != q[5] {
		a, b, c := p[3]-q[3], p[4]-q[4], p[5]-q[5]
		d = math.Max(d, math.Sqrt(a*a+b*b+c*c))
	}
	return d
}

// between is how far two stretches lie apart between their ends, when both are
// run at a steady pace; 0 where that is no more than at the ends or than least.
func between(a *curve, a0, a1 float64, b *curve, b0, b1, least float64) float64 {
	if !a.arc && !b.arc {
		return 0 // the way from one to the other changes by the same all along
	}
	if a.arc && b.arc && a.r0 == b.r0 && a.r1 == b.r1 && a.center == b.center && a.first == b.first && a.da*b.da > 0 {
		return 0 // of one circle
	}
	if bound(a, a0, a1, b, b0, b1) <= least {
		return 0
	}
	// Within a quarter turn the distance bends so little that eight steps find
	// its greatest to two hundredths of itself.
	const steps = 8
	most := 0.0
	p, q := a.runner(a0, (a1-a0)/steps), b.runner(b0, (b1-b0)/steps)
	for k := 1; k < steps; k++ {
		p.next()
		q.next()
		most = math.Max(most, apart(&p.at, &q.at))
	}
	return most
}

// A runner goes along a curve in equal steps. On an arc it turns its spoke by
// the same angle each time, which costs no sine.
type runner struct {
	at, step      interp.Point
	arc           *curve // nil: a straight line
	x, y          float64
	cos, sin      float64 // of the angle of a step
	radius, widen float64 // the length of the spoke, and by how much it grows in a step; x and y are for the length 1
}

// runner stands at u; its steps are of size by.
func (c *curve) runner(u, by float64) runner {
	r := runner{at: c.at(u)}
	for i := range r.step {
		r.step[i] = (c.to[i] - c.from[i]) * by
	}
	if c.arc {
		r.arc = c
		r.y, r.x = math.Sincos(c.a0 + c.da*u)
		r.sin, r.cos = math.Sincos(c.da * by)
		r.radius, r.widen = c.r0+(c.r1-c.r0)*u, (c.r1-c.r0)*by
	}
	return r
}

func (r *runner) next() {
	for i := range r.at {
		r.at[i] += r.step[i]
	}
	if c := r.arc; c != nil {
		r.x, r.y = r.x*r.cos-r.y*r.sin, r.y*r.cos+r.x*r.sin
		r.radius += r.widen
		r.at[c.first], r.at[c.second] = c.center[0]+r.radius*r.x, c.center[1]+r.radius*r.y
	}
}

// bound is a distance that between does not come over, for two arcs of one
// plane without a rotary axis; of others it is infinite.
func bound(a *curve, a0, a1 float64, b *curve, b0, b1 float64) float64 {
	if !a.arc || !b.arc || a.first != b.first || a.turns || b.turns {
		return math.Inf(1)
	}
	turn := func(u, v float64) float64 {
		return math.Abs(math.Remainder(a.a0+a.da*u-b.a0-b.da*v, 2*math.Pi))
	}
	if math.Abs(a.da*(a1-a0)-b.da*(b1-b0)) > 1 {
		return math.Inf(1)
	}
	n := 3 - a.first - a.second
	rise := func(u, v float64) float64 {
		return math.Abs(a.from[n] + (a.to[n]-a.from[n])*u - b.from[n] - (b.to[n]-b.from[n])*v)
	}
	flat := hypot(a.center[0]-b.center[0], a.center[1]-b.center[1]) +
		math.Max(math.Abs(a.r0-b.r0), math.Abs(a.r1-b.r1)) + math.Abs(a.r1-a.r0) +
		math.Max(a.r0, a.r1)*math.Max(turn(a0, b0), turn(a1, b1))
	return hypot(flat, math.Max(rise(a0, b0), rise(a1, b1)))
}
