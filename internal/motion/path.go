package motion

import (
	"math"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// A path is the geometry of one move and what its axes make of it.
type path struct {
	length     float64    // mm; degrees where only rotary axes move
	start, end [3]float64 // unit tangents; of rotary axes where only they move
	rate       [3]float64 // of the rotary axes that move along: degrees a mm
	turns      bool       // one does
	rotary     bool       // only rotary axes move
	unknown    bool       // an axis moves of which a place is not known
	speed      float64    // limit, mm/s; above fastest: none; of an arc that is not even, of its other axes and the feed
	first      float64    // limit at its start, squared
	last       float64    // and at its end
	wanted     float64    // programmed speed, mm/s; of a traverse, and where there is no feed, the limit of the axes
	capped     Limit      // what makes speed less than wanted
	slow       float64    // reciprocal of the acceleration
	unit       float64    // reciprocal of the length
	gain       float64    // most that the squared speed can rise or fall along it
	sharp      float64    // reciprocal of the jerk; 0: no limit
	alone      float64    // s, of a traverse in which each axis goes for itself; 0: they go together
	cut        bool
	bent       bool             // an arc
	chord      bool             // see chord.go: of the above it has the ends, the lengths and the limits alone
	mode       profiles.Meaning // path control mode
	bend       bend             // of an arc
}

// Bounds that keep sums finite whatever a program says: nothing real comes near.
// What is faster than fastest takes no time.
const (
	farthest = 1e12 // mm
	fastest  = 1e12 // mm/s
	longest  = 1e12 // s, of one move or dwell

	// An arc that is shorter or slower is taken as if it were straight.
	shortest = 1e-9 // mm
	slowest  = 1e-9 // mm/s

	// boundless is an acceleration, or a gain of squared speed, without a limit:
	// finite, so that it can be multiplied by nothing.
	boundless = 1e30
)

// limits are the reciprocals of what the axes can do: 0 is no limit.
type limits struct {
	rapid, feed, accel, jerk [profiles.NumAxes]float64
	step                     [profiles.NumAxes]float64 // by which its speed may change at once: of all these no reciprocal
	smooth                   bool                      // an axis has a limit of jerk
	each                     bool                      // in traverses each axis goes for itself
	greatest                 float64                   // feed, mm/s; +Inf: none
	slowest                  float64                   // accel of X, Y and Z that is greatest
}

func newLimits(m *profiles.Machine) limits {
	l := limits{greatest: math.Inf(1), each: m.Control.RapidPath == "each-axis"}
	if m.Feed.Greatest > 0 {
		l.greatest = float64(m.Feed.Greatest)
	}
	for i := range profiles.NumAxes {
		a := m.Axis(i)
		if a == nil {
			continue
		}
		l.rapid[i] = reciprocal(float64(a.Rapid))
		l.feed[i] = reciprocal(float64(a.Feed))
		if a.Feed <= 0 {
			l.feed[i] = l.rapid[i]
		}
		l.accel[i] = reciprocal(float64(a.Acceleration))
		l.jerk[i] = reciprocal(float64(a.Jerk))
		l.step[i] = float64(a.CornerStep)
		l.smooth = l.smooth || a.Jerk > 0
	}
	l.slowest = max(l.accel[0], l.accel[1], l.accel[2])
	return l
}

func reciprocal(v float64) float64 {
	if v <= 0 {
		return 0
	}
	return 1 / v
}

// linear are the first three axes: X Y Z.
const linear = 3

// delta is how far axis i goes, by work coordinates or, where those are not
// known, by machine coordinates; false: by neither.
func delta(op *interp.Op, i int) (float64, bool) {
	switch {
	case !op.Moves.Has(i):
		return 0, true
	case (op.FromKnown&op.ToKnown | op.Steps).Has(i):
		return op.To[i] - op.From[i], true
	case (op.FromMachineKnown & op.ToMachineKnown).Has(i):
		return op.ToMachine[i] - op.FromMachine[i], true
	}
	return 0, false
}

// take reads a move. False: there is no length that could be timed.
func (p *path) take(op *interp.Op, l *limits) bool {
	p.cut, p.mode = op.Kind != interp.Traverse, op.State.Path
	p.chord, p.turns, p.rotary, p.unknown, p.bent = false, false, false, false, false
	p.sharp, p.alone = 0, 0
	if op.Kind == interp.Arc {
		return p.arc(op, l)
	}
	if !p.straight(op, l) {
		return false
	}
	if l.smooth || l.each && !p.cut {
		p.single(op, l)
	}
	return true
}

// single reads what each axis for itself makes of a straight move.
func (p *path) single(op *interp.Op, l *limits) {
	for i := range profiles.NumAxes {
		d, ok := delta(op, i)
		if !ok || d == 0 {
			continue
		}
		d = math.Abs(d)
		p.sharp = max(p.sharp, d*l.jerk[i]/p.length)
		if l.each && !p.cut {
			p.alone = max(p.alone, l.own(i, d, &l.rapid))
		}
	}
}

// straight reads a traverse or a straight feed.
func (p *path) straight(op *interp.Op, l *limits) bool {
	var d [linear]float64
	for i := range d {
		var ok bool
		d[i], ok = delta(op, i)
		p.unknown = p.unknown || !ok
	}
	p.length = math.Sqrt(d[0]*d[0] + d[1]*d[1] + d[2]*d[2])
	rates := p.rates(l)
	least, slow := 0.0, 0.0
	for i := range d {
		reach := math.Abs(d[i])
		if s := reach * rates[i]; s > least { // max is slow: it has to mind NaN
			least = s
		}
		if s := reach * l.accel[i]; s > slow {
			slow = s
		}
	}
	if op.Moves&^interp.XYZ != 0 {
		least, slow = p.turn(op, l, least, slow)
		if p.rotary {
			return p.bounded(op, l, least, slow)
		}
	}
	if !p.bounded(op, l, least, slow) {
		return false
	}
	for i := range d {
		u := d[i] * p.unit
		p.start[i], p.end[i] = u, u // a copy of the whole would wait for the parts
	}
	return true
}

// rates are the reciprocals of the axes' speed limits for this kind of move.
func (p *path) rates(l *limits) *[profiles.NumAxes]float64 {
	if p.cut {
		return &l.feed
	}
	return &l.rapid
}

// turn takes in the rotary axes: p.length is that of X Y Z yet. It gives the
// least time that the axes need at their speed limits, and the reciprocal of
// the acceleration times the length.
func (p *path) turn(op *interp.Op, l *limits, least, slow float64) (float64, float64) {
	rates := p.rates(l)
	var d [linear]float64
	for i := range d {
		turn, ok := delta(op, linear+i)
		d[i] = turn
		p.unknown = p.unknown || !ok
		least = max(least, math.Abs(turn)*rates[linear+i])
		slow = max(slow, math.Abs(turn)*l.accel[linear+i])
	}
	degrees := math.Sqrt(d[0]*d[0] + d[1]*d[1] + d[2]*d[2])
	if degrees == 0 {
		return least, slow
	}
	if !(degrees <= farthest) {
		p.length = math.Inf(1)
		return least, slow
	}
	p.rotary = p.length == 0
	p.turns = !p.rotary
	if p.rotary {
		p.length = degrees
	}
	for i := range d {
		d[i] /= p.length
	}
	if p.rotary {
		p.start, p.end = d, d
	} else {
		p.rate = d
	}
	return least, slow
}

// bounded sets the speed and the acceleration of the path of p.length. False:
// there is no length, or none that makes sense.
func (p *path) bounded(op *interp.Op, l *limits, least, slow float64) bool {
	if !(p.length > 0) || p.length > farthest {
		p.unknown = p.unknown || p.length != 0
		return false
	}
	p.speed, p.capped = math.Inf(1), ByFeed
	if p.cut && op.Feed > 0 {
		if p.speed = op.Feed; p.speed > fastest {
			p.speed = fastest
		}
		if op.PerRev > 0 && op.Turn.Surface > 0 {
			p.speed = min(p.length/turnedTime(op, p.length), fastest)
		}
	}
	p.wanted = p.speed
	if p.wanted <= fastest && p.speed > l.greatest && !p.rotary {
		p.speed, p.capped = l.greatest, ByMachine
	}
	if least*p.speed > p.length { // false for Inf times 0: no limit at all
		p.speed, p.capped = p.length/least, ByAxis
	}
	if p.wanted > fastest {
		p.wanted, p.capped = p.speed, ByFeed
	}
	p.unit = 1 / p.length
	p.slow = slow * p.unit
	p.gain = boundless
	if slow > 0 {
		if gain := 2 * p.length * (p.length / slow); gain < boundless {
			p.gain = gain
		}
	}
	return true
}

// arc reads an arc or helix.
func (p *path) arc(op *interp.Op, l *limits) bool {
	first, second, normal := op.Plane.Axes()
	plane := interp.AxisSet(1<<first | 1<<second)
	flat := op.Radius * op.Sweep
	from, okFrom := radial(&op.From, &op.Center, first, second)
	to, okTo := radial(&op.To, &op.Center, first, second)
	if op.FromKnown&op.ToKnown&plane != plane || !okFrom || !okTo ||
		!(op.Radius > 0) || !(flat > 0) || flat > farthest {
		p.unknown = true
		return false
	}
	rise, ok := delta(op, normal)
	p.unknown = !ok
	p.length = math.Sqrt(flat*flat + rise*rise)
	rates := p.rates(l)
	share1, share2 := shares(from, to, op.Sweep)
	least := max(flat*share1*rates[first], flat*share2*rates[second])
	others, slow := math.Abs(rise)*rates[normal], math.Abs(rise)*l.accel[normal]
	if op.Moves&^interp.XYZ != 0 {
		others, slow = p.turn(op, l, others, slow)
	}
	p.bend.set(op, l, rates, from, to, p.length)
	if !p.around(op, l, least, others, slow) {
		return false
	}
	along, up := flat/p.length, rise/p.length
	if op.CW {
		along = -along
	}
	p.start[first], p.start[second], p.start[normal] = -from[1]*along, from[0]*along, up
	p.end[first], p.end[second], p.end[normal] = -to[1]*along, to[0]*along, up
	return true
}

// around is bounded of an arc. least is the time that the axes of the plane need
// at their speed limits, others that of the others.
func (p *path) around(op *interp.Op, l *limits, least, others, slow float64) bool {
	all := others
	if !(op.Feed > 0) { // as fast as the axes can
		all = max(least, others)
	}
	if !p.bounded(op, l, all, slow) {
		return false
	}
	if l.smooth {
		p.swing(op, l)
	}
	b := &p.bend
	round, fast := b.round(), math.Inf(1)
	if least > 0 {
		fast = p.length / least
	}
	if p.speed > fastest && round <= fastest {
		p.speed, p.wanted = round, round
	}
	if p.speed > fastest || p.speed < slowest || p.length < shortest {
		return true
	}
	b.other = boundless
	if p.slow > 0 {
		b.other = 1 / p.slow
	}
	b.level(p.speed, fast, round)
	if limit := min(fast, round); limit < p.speed {
		p.capped = ByAcceleration
		if fast < round {
			p.capped = ByAxis
		}
	}
	if b.even {
		p.speed = min(p.speed, math.Sqrt(b.limit))
	}
	p.bent = true
	return true
}

// swing lowers the limit to where the centripetal acceleration turns with the arc
// within the jerk of the plane's axes: v^3/r^2 (any mechanics text).
func (p *path) swing(op *interp.Op, l *limits) {
	first, second, normal := op.Plane.Axes()
	share := p.bend.share
	plane := max(l.jerk[first], l.jerk[second])
	p.sharp = max(plane*share, l.jerk[normal]*math.Sqrt(max(0, 1-share*share)))
	if s := math.Cbrt(op.Radius*op.Radius/plane) / share; s < p.speed { // +Inf without a limit
		p.speed, p.capped = s, ByAcceleration
		if p.wanted > fastest {
			p.wanted = s
		}
	}
}

// radial is the unit vector in the plane from the centre to a point.
func radial(at, center *interp.Point, first, second int) (u [2]float64, ok bool) {
	x, y := at[first]-center[first], at[second]-center[second]
	r := math.Sqrt(x*x + y*y) // what is too great for this is too far
	if !(r > 0) || r > farthest {
		return u, false
	}
	unit := 1 / r
	return [2]float64{x * unit, y * unit}, true
}

// shares are the greatest shares of the path's direction that the two axes of
// the plane take anywhere on an arc, from its radial directions at both ends.
// The tangent lies at a right angle to the radius: the first axis has all of it
// where the radius passes the second. Within less than half a turn that happens
// once at most, and the first component of the radius then changes its sign.
func shares(from, to [2]float64, sweep float64) (first, second float64) {
	first = max(math.Abs(from[1]), math.Abs(to[1]))
	second = max(math.Abs(from[0]), math.Abs(to[0]))
	if sweep >= math.Pi || from[0]*to[0] <= 0 {
		first = 1
	}
	if sweep >= math.Pi || from[1]*to[1] <= 0 {
		second = 1
	}
	return first, second
}
