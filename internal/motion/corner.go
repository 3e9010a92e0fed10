package motion

import (
	"math"

	"tapefit/profiles"
)

// straightOn is the square of the sine of half the deflection up to which the
// path is taken to go straight on, and the share of its speed that a rotary
// axis may change by: a thousandth, see the package's text.
const (
	straightOn     = 0.0005 * 0.0005
	straightOnRate = 0.001
)

// sameShare is the change of an axis's share of the direction that is none.
const sameShare = 1e-6

// corners says how the control takes junctions.
type corners struct {
	stop      bool    // at each: there is no look-ahead
	tolerance float64 // how far a corner may be cut, mm; 0: not at all
	rounds    bool    // it cuts them
	step      bool    // each axis may change its speed at once
}

func newCorners(m *profiles.Machine) corners {
	c := corners{stop: m.Control.LookAhead <= 0}
	if m.Control.Corner == "tolerance" {
		c.tolerance = float64(m.Control.CornerTolerance)
	}
	c.step = m.Control.Corner == "step"
	c.rounds = c.tolerance > 0 && !c.stop
	return c
}

// junction is the greatest squared speed with which move a may go over into
// move b, and what makes it that. See the package's text for the model.
func (c *corners) junction(a, b *path, l *limits) (float64, Limit) {
	switch {
	case c.stop:
		return 0, ByLookAhead
	case a.mode == profiles.ExactStop:
		return 0, ByCorner
	case a.cut != b.cut || a.rotary != b.rotary || a.alone+b.alone > 0:
		return 0, ByAcceleration
	}
	limit, why := a.last, ByAcceleration
	if b.first < limit { // from the faster to the slower
		limit = b.first
	}
	d := [linear]float64{b.start[0] - a.end[0], b.start[1] - a.end[1], b.start[2] - a.end[2]}
	// |u2-u1|^2 = 4 sin^2(phi/2): exact to the last digits for small angles,
	// where the cosine from u1*u2 has none left.
	sine2 := (d[0]*d[0] + d[1]*d[1] + d[2]*d[2]) / 4
	if sine2 > 1 {
		sine2 = 1
	}
	steady := !a.turns && !b.turns || sameRate(a, b)
	if sine2 <= straightOn && steady {
		return limit, why
	}
	if c.step && a.mode == profiles.Continuous && b.mode == profiles.Continuous {
		if step := stepping(a, b, &d, l); step < limit {
			return step, ByCorner
		}
		return limit, why
	}
	if c.tolerance <= 0 || a.rotary || b.mode == profiles.ExactStop || a.mode == profiles.ExactPath || b.mode == profiles.ExactPath {
		return 0, ByCorner
	}
	reach := min(a.length, b.length) / 2
	slow := changing(&d, l)
	if steady && gentle(limit*slow, sine2, reach, c.tolerance) {
		return limit, why
	}
	if sine2 > straightOn {
		radius := 0.0
		radius, reach = c.round(sine2, reach)
		if radius < limit*slow {
			limit, why = radius/slow, ByCorner
		}
	}
	if !steady {
		if turn := turning(a, b, reach, l); turn < limit {
			limit, why = turn, ByCorner
		}
	}
	return limit, why
}

// round is the radius of the arc that fits into a corner, and how far from it that
// touches the moves: reach at most. sine2 is the square of the sine of half the
// deflection.
func (c *corners) round(sine2, reach float64) (radius, touch float64) {
	sine, cosine := math.Sqrt(sine2), math.Sqrt(1-sine2)
	// e*cos/(1-cos), with 1-cos = sin^2/(1+cos); r*tan(phi/2) <= reach.
	per := 1 / sine
	touch = c.tolerance * (1 + cosine) * per
	if reach < touch {
		touch = reach
	}
	return touch * cosine * per, touch
}

// gentle says that an arc of the radius fits into a corner, by what is not more
// than its cosine: 1-sine^2. It spares most corners of smooth paths their roots.
func gentle(radius, sine2, reach, tolerance float64) bool {
	cosine := 1 - sine2
	return tolerance*(1+cosine)*cosine >= radius*sine2 && reach*reach*cosine >= radius*radius*sine2
}

// changing is the reciprocal of the least acceleration of the linear axes whose
// share of the direction changes by d.
func changing(d *[linear]float64, l *limits) float64 {
	slow := 0.0
	for i, x := range d {
		if math.Abs(x) > sameShare && l.accel[i] > slow {
			slow = l.accel[i]
		}
	}
	return slow
}

// stepping is the greatest squared speed with which no axis changes its own by more
// than its step at once, where its share of the direction changes by d.
func stepping(a, b *path, d *[linear]float64, l *limits) float64 {
	linears, rotaries := d, [linear]float64{}
	if a.rotary {
		linears, rotaries = &[linear]float64{}, *d
	} else {
		ra, rb := a.rotation(), b.rotation()
		for i := range rotaries {
			rotaries[i] = rb[i] - ra[i]
		}
	}
	speed := math.Inf(1)
	for i := range linear {
		if x := math.Abs(linears[i]); x > sameShare {
			speed = min(speed, l.step[i]/x)
		}
		if x := math.Abs(rotaries[i]); x > sameShare {
			speed = min(speed, l.step[linear+i]/x)
		}
	}
	return speed * speed
}

// sameRate says whether the rotary axes go on as fast as they went.
func sameRate(a, b *path) bool {
	ra, rb := a.rotation(), b.rotation()
	for i := range ra {
		if math.Abs(rb[i]-ra[i]) > straightOnRate*max(math.Abs(ra[i]), math.Abs(rb[i])) {
			return false
		}
	}
	return true
}

// rotation is how the rotary axes move along, in degrees a mm.
func (p *path) rotation() [linear]float64 {
	if !p.turns {
		return [linear]float64{}
	}
	return p.rate
}

// turning is the greatest squared speed with which the rotary axes can change
// theirs from reach before the junction to reach behind it: the time for that
// is 2*reach/v, the change v*|rate2-rate1|.
func turning(a, b *path, reach float64, l *limits) float64 {
	ra, rb := a.rotation(), b.rotation()
	slow := 0.0
	for i := range ra {
		slow = max(slow, math.Abs(rb[i]-ra[i])*l.accel[linear+i])
	}
	if slow == 0 {
		return math.Inf(1)
	}
	return 2 * reach / slow
}
