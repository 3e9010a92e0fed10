package motion

import "math"

// An axis that is at its limit of acceleration all along falls: its own squared
// speed changes by 2*a over the way that it goes itself (any mechanics text). On a
// circle one of the two axes always is, when the speed is changed as fast as can
// be, so such a ramp needs no pieces. In the quarter turn where x and y, the radial
// direction, are not negative and the way goes on counter-clockwise, the direction
// of the path is -y, x; turning helps Y to speed up and is a burden to X. With s
// for the centripetal acceleration,
//
//	Y at its limit: s*x^2 grows by 2*a for 1 of y
//	X at its limit: s*y^2 grows by 2*a for 1 of -x
//
// and it is Y as long as s <= ax*x - ay*y.

// A climb is a ramp on an arc.
type climb struct {
	angle   float64 // rad
	seconds float64
}

// climbs says that the arc's ramps can be had in this way: both axes have a limit
// and no other comes before theirs.
func (b *bend) climbs() bool {
	first, second := b.accel[0], b.accel[1]
	return b.even && max(first, second) < boundless/2 && b.other*b.share >= first+second
}

// spared is the arc with so much less acceleration of one of its axes that no other
// axis comes to its limit before them. False: that is not needed, or the arc would not
// be even any more.
func (b *bend) spared(axis int) (less bend, ok bool) {
	rest := b.other*b.share - b.accel[1-axis]
	if !b.even || rest >= b.accel[axis] || b.accel[1-axis] >= boundless/2 {
		return less, false
	}
	less = *b
	less.accel[axis] = rest
	return less, b.limit*b.curve <= evenShare*spare*rest
}

// mostQuarters are more than a climb takes on an arc that is even.
const mostQuarters = 4

// climb goes from the squared speed in to the limit of the arc as fast as its axes
// can, counter-clockwise from the radial direction x, y on. False: it comes to no
// end.
func (b *bend) climb(x, y, in float64) (c climb, ok bool) {
	ax, ay := b.accel[0], b.accel[1]
	switch { // turned into the first quarter
	case x > 0 && y >= 0:
	case y > 0:
		x, y, ax, ay = y, -x, ay, ax
	case x < 0:
		x, y = -x, -y
	default:
		x, y, ax, ay = -y, x, ay, ax
	}
	fromX, fromY := x, y
	at, limit := in*b.curve, b.limit*b.curve
	root := math.Sqrt(at)
	for quarter := range mostQuarters {
		if at <= ax*x-ay*y {
			toX, toY, to := helped(x, y, at, limit, ax, ay)
			next := math.Sqrt(to)
			c.seconds += (next*toX - root*x) / ay
			x, y, at, root = toX, toY, to, next
		}
		if at < limit {
			toX, toY, to := burdened(x, y, at, limit, ax)
			next := math.Sqrt(to)
			c.seconds += (next*toY - root*y) / ax
			x, y, at, root = toX, toY, to, next
		}
		if at >= limit {
			c.angle = float64(quarter)*(math.Pi/2) + between(fromX*y-fromY*x, fromX*x+fromY*y)
			c.seconds *= math.Sqrt(b.radius)
			return c, true
		}
		x, y, ax, ay = 1, 0, ay, ax
	}
	return c, false
}

// between is the angle of a sine and a cosine, by the first terms of the arc sine
// where it is small, as most ramps are: to a millionth of itself.
func between(sin, cos float64) float64 {
	if cos < 0.97 {
		return math.Atan2(sin, cos)
	}
	q := sin * sin
	return sin * (1 + q*(1./6+q*(3./40+q*(15./336))))
}

// helped goes on with Y at its limit, to where s is the limit or X comes to its own.
func helped(x, y, s, limit, ax, ay float64) (toX, toY, to float64) {
	k := s*x*x - 2*ay*y
	toY = min((limit-k)/(ay+math.Sqrt(ay*ay+limit*(limit-k))), 1) // limit*(1-y^2) = k + 2*ay*y
	toX = math.Sqrt(1 - toY*toY)
	if limit <= ax*toX-ay*toY {
		return toX, toY, limit
	}
	// Newton's method for (ax*x-ay*y)*x^2 = k + 2*ay*y, between here and there.
	low, high := y, toY
	toX, toY = x, y
	for range 8 {
		over := (ax*toX-ay*toY)*toX*toX - k - 2*ay*toY
		step := over / (3 * toX * (ax*toY + ay*toX))
		toY = min(max(toY+step, low), high)
		toX = math.Sqrt(1 - toY*toY)
		if math.Abs(step) < 1e-7 {
			break
		}
	}
	return toX, toY, min(max(s, ax*toX-ay*toY), limit)
}

// burdened goes on with X at its limit, to where s is the limit or the quarter
// ends.
func burdened(x, y, s, limit, ax float64) (toX, toY, to float64) {
	k := s*y*y + 2*ax*x // limit*(1-x^2) = k - 2*ax*x
	if k < limit {
		return 0, 1, k
	}
	toX = min((k-limit)/(ax+math.Sqrt(max(0, ax*ax-limit*(k-limit)))), x)
	return toX, math.Sqrt(1 - toX*toX), limit
}

// glide travels an arc that is even, from the squared speed in up to its limit and
// down to out; see run, but for r.top and r.limited, which are those of the limit.
// False: there is no room for both.
func (b *bend) glide(in, out, slow float64) (r ride, ok bool) {
	var up, down climb
	if in < b.limit {
		if up, ok = b.climb(b.x, b.y, in); !ok || up.angle > b.sweep {
			return r, false
		}
	}
	if out < b.limit { // backwards in time
		if down, ok = b.climb(b.toX, -b.toY, out); !ok {
			return r, false
		}
	}
	rest := b.sweep - up.angle - down.angle
	if rest < 0 {
		return r, false
	}
	speed := math.Sqrt(b.limit)
	cruise := rest / b.sweep * b.length / speed
	r.seconds = up.seconds + cruise + down.seconds
	r.out = min(out, b.limit)
	r.below = up.seconds*under(slow, in, b.limit) + down.seconds*under(slow, out, b.limit)
	if b.limit < slow {
		r.below = r.seconds
	}
	return r, true
}
