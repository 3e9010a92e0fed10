package motion

import (
	"math"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// A bend is an arc as its axes feel it. With b for the squared speed along the
// path, t for the tangent and n for the direction to the centre, the
// acceleration is t*b'/2 + n*b/r: the tangential and the centripetal share of
// each axis of the plane come together under its one limit (any mechanics text).
// Both are linear in b.
type bend struct {
	x, y   float64 // from the centre to the start, a unit vector, so mirrored that the arc goes from X to Y
	toX    float64 // and to the end
	toY    float64
	radius float64    // mm
	sweep  float64    // rad
	length float64    // mm, of the path
	share  float64    // of it that lies in the plane: less than 1 on a helix
	curve  float64    // centripetal acceleration over squared path speed, 1/mm
	accel  [2]float64 // of the plane's axes, mm/s^2; boundless: no limit
	slow   [2]float64 // reciprocal of their speed limits
	other  float64    // acceleration along the path that the other axes allow
	limit  float64    // of the squared speed along the path, beside the plane's axes
	steady float64    // acceleration that can be had anywhere on the arc below limit
	even   bool       // limit can be held all along
}

// An arc is followed in pieces of at most bendStep, so that what changes within
// one is small. Acceleration is held within its limits half way along each; what
// can come over them elsewhere, 5/8 of the square of the step as a share of the
// acceleration, is spared. mostBends is a full circle and a little.
const (
	bendStep  = math.Pi / 96
	mostBends = 198
	spare     = 1 - 0.625*bendStep*bendStep
)

// evenShare is the greatest centripetal share of an acceleration on an arc that
// is taken to be even: what is left for speeding up is then a fifth.
const evenShare = 0.98

// set takes an arc by its radial directions at the start and the end.
func (b *bend) set(op *interp.Op, l *limits, rates *[profiles.NumAxes]float64, from, to [2]float64, length float64) {
	first, second, _ := op.Plane.Axes()
	b.x, b.y, b.toX, b.toY = from[0], from[1], to[0], to[1]
	if op.CW {
		b.y, b.toY = -b.y, -b.toY
	}
	b.radius, b.sweep, b.length = op.Radius, op.Sweep, length
	b.share = op.Radius * op.Sweep / length
	b.curve = min(b.share*b.share/op.Radius, sharpest)
	b.accel = [2]float64{boundless, boundless}
	for i, axis := range [2]int{first, second} {
		if slow := l.accel[axis]; slow > 0 {
			b.accel[i] = 1 / slow
		}
	}
	b.slow = [2]float64{rates[first], rates[second]}
}

// sharpest bounds the curvature, in 1/mm, to keep it a number.
const sharpest = 1e12

// round is the greatest speed all around, in mm/s, with what is taken to be left
// for speeding up.
func (b *bend) round() float64 {
	return math.Sqrt(evenShare * spare * min(b.accel[0], b.accel[1]) / b.curve)
}

// level decides whether the speed, that the feed and the other axes allow, can be
// held all along, and lowers it where it cannot and the arc has too many turns to
// be followed in pieces. fast and round are what the
// speed and the acceleration of the plane's axes allow wherever they point.
func (b *bend) level(speed, fast, round float64) {
	b.even = speed <= fast && speed <= round
	if !b.even && pieces(b.sweep) > mostBends {
		speed, b.even = min(speed, fast, round), true
	}
	b.limit = speed * speed
	b.steady = b.other
	if least := spare * min(b.accel[0], b.accel[1]); b.even && least < boundless/2 {
		// Tangential and centripetal part stand at a right angle.
		round := b.limit * b.curve
		b.steady = min(b.other, math.Sqrt(least*least-round*round)/b.share)
	}
}

// pieces is how many an angle is followed in.
func pieces(angle float64) int {
	if !(angle > 0) {
		return 0
	}
	return max(1, int(math.Ceil(min(angle/bendStep, mostBends+1)-1e-9)))
}

// A table holds an arc in pieces, for one run over it.
type table struct {
	n     int                    // pieces
	h     [mostBends]float64     // their lengths
	plain [mostBends]bool        // with the steady acceleration
	q, w  [2][mostBends]float64  // see lay
	limit [mostBends + 1]float64 // of the squared speed, between pieces
	b     [mostBends + 1]float64 // the greatest from which the end can be reached
	x, y  float64                // radial direction at the end of the last
	accel [2]float64             // of the axes, less what is spared
}

// begin starts anew, for pieces of at most the step.
func (t *table) begin(b *bend, step float64) {
	t.n = 0
	t.x, t.y = b.x, b.y
	room := 1 - 0.625*step*step
	t.accel = [2]float64{room * b.accel[0], room * b.accel[1]}
	t.node(b)
}

// node sets the limit at x, y, where the next piece begins.
func (t *table) node(b *bend) {
	limit := b.limit
	for i, tangent := range [2]float64{t.y, t.x} {
		if v := tangent * b.share * b.slow[i]; v*v*limit > 1 {
			limit = 1 / (v * v)
		}
	}
	for i, normal := range [2]float64{t.x, t.y} {
		if c := math.Abs(normal) * b.curve; c*limit > t.accel[i] {
			limit = t.accel[i] / c
		}
	}
	t.limit[t.n] = limit
}

// lay adds n pieces over an angle. In a piece from b1 to b2 an axis has the
// acceleration q*(b2-b1) + w*(b2+b1), with q not negative.
func (t *table) lay(b *bend, angle float64, n int) {
	if n == 0 {
		return
	}
	step := angle / float64(n)
	h := b.length * step / b.sweep
	along, round := b.share/(2*h), b.curve/2
	sin, cos := math.Sincos(step / 2)
	for range n {
		k := t.n
		t.h[k], t.plain[k] = h, false
		x, y := t.x*cos-t.y*sin, t.x*sin+t.y*cos
		t.q[0][k], t.w[0][k] = math.Abs(y)*along, math.Copysign(x, x*y)*round
		t.q[1][k], t.w[1][k] = math.Abs(x)*along, -math.Copysign(y, x*y)*round
		t.x, t.y = x*cos-y*sin, x*sin+y*cos
		t.n++
		t.node(b)
		for i, a := range t.accel {
			if w := math.Abs(t.w[i][k]); w > t.q[i][k] { // it turns back here
				t.limit[k] = min(t.limit[k], a/(2*w))
				t.limit[k+1] = min(t.limit[k+1], a/(2*w))
			}
		}
	}
}

// jump adds one piece over an angle at the limit all along.
func (t *table) jump(b *bend, angle float64) {
	t.h[t.n] = b.length * angle / b.sweep
	t.plain[t.n] = true
	sin, cos := math.Sincos(angle)
	t.x, t.y = t.x*cos-t.y*sin, t.x*sin+t.y*cos
	t.n++
	t.node(b)
}

// follow lays the arc, finely where the speed changes: from in at its start to
// at most out at its end.
func (t *table) follow(b *bend, in, out float64) {
	n := pieces(b.sweep)
	if b.even {
		ramp := b.sweep / (2 * b.steady * b.length)
		up, down := 0.0, 0.0 // angles
		if in < b.limit {
			up = (b.limit - in) * ramp
		}
		if out < b.limit {
			down = (b.limit - out) * ramp
		}
		nu, nd := pieces(up), pieces(down)
		switch {
		case up+down < 0.98*b.sweep && nu+nd < mostBends:
			t.begin(b, max(up/float64(max(nu, 1)), down/float64(max(nd, 1))))
			t.lay(b, up, nu)
			t.jump(b, b.sweep-up-down)
			t.lay(b, down, nd)
			return
		case n > mostBends:
			t.begin(b, bendStep)
			t.jump(b, b.sweep)
			return
		}
	}
	t.begin(b, b.sweep/float64(n))
	t.lay(b, b.sweep, n)
}

// up is the greatest squared speed at the end of piece k that is entered with
// in: each axis allows what is linear in that.
func (t *table) up(b *bend, k int, in float64) float64 {
	if t.plain[k] {
		return in + 2*b.steady*t.h[k]
	}
	most := in + 2*b.other*t.h[k]
	for i, a := range t.accel {
		if q, w := t.q[i][k], t.w[i][k]; math.Abs(w) < q {
			most = min(most, (a+in*(q-w))/(q+w))
		}
	}
	return most
}

// down is the greatest squared speed at the start of piece k that is left with
// out.
func (t *table) down(b *bend, k int, out float64) float64 {
	if t.plain[k] {
		return out + 2*b.steady*t.h[k]
	}
	most := out + 2*b.other*t.h[k]
	for i, a := range t.accel {
		if q, w := t.q[i][k], t.w[i][k]; math.Abs(w) < q {
			most = min(most, (a+out*(q+w))/(q-w))
		}
	}
	return most
}

// fold gives the arc as the function min(most, keep*x+gain) of the squared speed
// at its end: the greatest at its start, or a little less. Of each piece that is
// the least of some lines, which is concave, so the line through its values at
// both ends of what can be lies below.
func (t *table) fold(b *bend) (most, keep, gain float64) {
	free := 2 * b.steady * b.length
	if b.even && (free >= b.limit || pieces(b.sweep) > mostBends) {
		return b.limit, 1, free
	}
	n := pieces(b.sweep)
	t.begin(b, b.sweep/float64(n))
	t.lay(b, b.sweep, n)
	most, keep, gain = t.limit[t.n], 1, 0
	for k := t.n - 1; k >= 0; k-- {
		g := t.down(b, k, 0)
		slope := max(0, (t.down(b, k, t.limit[k+1])-g)/t.limit[k+1])
		most = min(t.limit[k], slope*most+g)
		keep, gain = slope*keep, slope*gain+g
	}
	return most, keep, gain
}

// ends are the limits of the squared speed at the start and the end.
func (t *table) ends(b *bend) (start, end float64) {
	if b.even {
		return b.limit, b.limit
	}
	return t.limit[0], t.limit[t.n]
}

// A ride is how an arc was travelled.
type ride struct {
	seconds, top, out float64
	limited           float64 // s it would take at the limits alone
	below             float64 // s slower than the speed that was asked for
}

// run travels the arc from the squared speed in to at most out. Slow is the
// squared speed below which its time is counted.
func (t *table) run(b *bend, in, out, slow float64) (r ride) {
	t.follow(b, in, out)
	n := t.n
	t.b[n] = min(out, t.limit[n])
	for k := n - 1; k >= 0; k-- {
		t.b[k] = min(t.limit[k], t.down(b, k, t.b[k+1]))
	}
	at := min(in, t.b[0])
	for k := range n {
		up := t.up(b, k, at)
		next := min(up, t.b[k+1])
		seconds, top := ramps(t.h[k], at, next, up-at, t.down(b, k, next)-next, t.limit[k], t.limit[k+1])
		r.seconds += seconds
		r.top = max(r.top, top)
		r.limited += 2 * t.h[k] / (math.Sqrt(t.limit[k]) + math.Sqrt(t.limit[k+1]))
		r.below += seconds * under(slow, min(at, next), max(at, next, top*top))
		at = next
	}
	r.out = at
	return r
}

// under is the share of a piece that is slower than the squared speed, from the
// lowest and the highest on it, if the speed changes evenly.
func under(slow, low, high float64) float64 {
	switch {
	case high <= slow:
		return 1
	case low >= slow:
		return 0
	}
	l := math.Sqrt(low)
	return (math.Sqrt(slow) - l) / (math.Sqrt(high) - l)
}

// ramps is the time over a length h, in s, and the greatest speed on it: from the
// squared speed in to out, which can rise by up and fall by down over the length.
// Its limit goes straight from first to last.
func ramps(h, in, out, up, down, first, last float64) (seconds, top float64) {
	up, down = max(up, out-in), max(down, in-out)
	first, last = max(first, in), max(last, out)
	rise, fall := 0.0, 0.0 // shares of the length up to the limit and from it down
	if in < first {
		rise = share(first-in, up-(last-first))
	}
	if out < last {
		fall = share(last-out, down-(first-last))
	}
	switch {
	case rise+fall < 1:
	case up+down <= 0: // there is but one way
		return h * pace(in, out), math.Sqrt(max(in, out))
	default: // up and down: (peak-in)/up + (peak-out)/down = 1
		peak := max((up*down+in*down+out*up)/(up+down), in, out)
		rise = 0
		if peak > in {
			rise = share(peak-in, up)
		}
		return h * (rise*pace(in, peak) + (1-rise)*pace(peak, out)), math.Sqrt(peak)
	}
	high := first + (last-first)*rise
	low := last - (last-first)*fall
	seconds = h * (rise*pace(in, high) + fall*pace(low, out))
	if along := 1 - rise - fall; along > 0 {
		seconds += h * along * (1/math.Sqrt(high) + 1/math.Sqrt(low)) / 2
	}
	return seconds, math.Sqrt(max(high, low))
}

// share is how much of a length a way takes at what can be done over the whole of
// it; 1 is all, and never.
func share(way, can float64) float64 {
	if way >= can {
		return 1
	}
	return way / can
}

// pace is the time for 1 mm at a constant acceleration between two squared speeds.
func pace(a, b float64) float64 {
	if a == 0 && b == 0 {
		return 0
	}
	return 2 / (math.Sqrt(a) + math.Sqrt(b))
}
