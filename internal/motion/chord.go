package motion

import (
	"math"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// Most moves of a long program are chords: straight feeds of X, Y and Z, each from
// a known place and much like the one before. They have a short way through the
// planner, which does not ask again what the chord before has answered. It gives
// what the long way gives, to the last bit: TestChords lets both run side by side.

// A feedRate is what the limits make of a programmed feed.
type feedRate struct {
	feed   float64 // mm/s
	speed  float64 // the feed, or the greatest that the control takes
	square float64 // of the speed
	capped Limit   // what makes it less than the feed
	any    bool    // every axis can go it in any direction, and nothing else is to be minded
}

// wholeShare is 1, the greatest share of its direction that a move can have along
// an axis, and more than rounding can add.
const wholeShare = 1 + 1e-12

func (f *feedRate) set(feed float64, l *limits) {
	*f = feedRate{feed: feed, speed: feed}
	if feed > l.greatest {
		f.speed, f.capped = l.greatest, ByMachine
	}
	f.square = f.speed * f.speed
	f.any = feed > 0 && feed <= fastest && !l.smooth
	for _, slow := range l.feed[:linear] {
		f.any = f.any && f.speed*slow*wholeShare <= 1
	}
}

// chord takes in a move, if it is one. It is move for chords.
func (c *Clock) chord(op *interp.Op) bool {
	f, l := &c.feed, &c.limits
	if op.Feed != f.feed {
		f.set(op.Feed, l)
	}
	places := interp.XYZ & (op.FromKnown&op.ToKnown | op.Steps)
	length := op.Length
	if !f.any || op.Moves&^places != 0 || op.PerRev != 0 || !(length > 0) || length > farthest {
		return false
	}
	unit := 1 / length
	m := c.window.at(c.window.tail)
	if !m.chord { // what was at this place; all chords are the same in this
		*m = move{chord: true, cut: true, steady: true, keep: 1}
	}
	m.length, m.speed, m.wanted, m.capped, m.feed = length, f.speed, f.feed, f.capped, f.feed
	m.supply = c.reader.take()
	if c.visit != nil {
		m.at(op)
	}
	var x, y, z, slow float64
	if op.Moves&interp.X != 0 {
		x = op.To[0] - op.From[0]
		slow = math.Abs(x) * l.accel[0]
	}
	if op.Moves&interp.Y != 0 {
		y = op.To[1] - op.From[1]
		if s := math.Abs(y) * l.accel[1]; s > slow {
			slow = s
		}
	}
	if op.Moves&interp.Z != 0 {
		z = op.To[2] - op.From[2]
		if s := math.Abs(z) * l.accel[2]; s > slow {
			slow = s
		}
	}
	m.slow, m.gain = slow*unit, boundless
	if slow > 0 {
		if gain := 2 * length * (length / slow); gain < boundless {
			m.gain = gain
		}
	}
	x, y, z = x*unit, y*unit, z*unit
	if m.lag = 0; c.slack.any && c.slack.turns(x, y, z) {
		m.lag = c.slack.straight(x, y, z)
	}
	c.join(m, x, y, z, op.State.Path)
	c.window.push(m)
	return true
}

// join sets the speed at which chord m, in the direction x, y, z, may begin.
func (c *Clock) join(m *move, x, y, z float64, mode profiles.Meaning) {
	a := &c.paths[(1-c.now)&1]
	square := c.feed.square
	if c.rolling && c.corners.rounds && a.chord && a.mode == profiles.Continuous && mode == profiles.Continuous {
		d := [linear]float64{x - a.end[0], y - a.end[1], z - a.end[2]}
		shorter, limit := a.length, a.last
		if m.length < shorter {
			shorter = m.length
		}
		if square < limit {
			limit = square
		}
		m.entry, m.why = c.corners.bow(&d, shorter/2, limit, &c.limits)
		a.end[0], a.end[1], a.end[2] = x, y, z
		a.length, a.last = m.length, square
		return
	}
	b := &c.paths[c.now]
	*b = path{chord: true, cut: true, mode: mode, length: m.length, first: square, last: square}
	b.start, b.end = [linear]float64{x, y, z}, [linear]float64{x, y, z}
	m.entry, m.why = 0, ByAcceleration
	if c.rolling {
		m.entry, m.why = c.corners.junction(a, b, &c.limits)
	}
	c.now = 1 - c.now
	c.rolling = true
}

// bow is junction for two chords in continuous mode, where corners are cut: by the
// difference of their directions, half of the shorter and the lower of their limits.
func (c *corners) bow(d *[linear]float64, reach, limit float64, l *limits) (float64, Limit) {
	sine2 := (d[0]*d[0] + d[1]*d[1] + d[2]*d[2]) / 4
	if sine2 > 1 {
		sine2 = 1
	}
	if sine2 <= straightOn || gentle(limit*l.slowest, sine2, reach, c.tolerance) {
		return limit, ByAcceleration
	}
	slow := changing(d, l)
	if slow < l.slowest && gentle(limit*slow, sine2, reach, c.tolerance) {
		return limit, ByAcceleration
	}
	if radius, _ := c.round(sine2, reach); radius < limit*slow {
		return radius / slow, ByCorner
	}
	return limit, ByAcceleration
}

// cruise times a chord that goes at its feed from end to end, where the control
// keeps up. False: it is not such.
func (c *Clock) cruise(m *move) bool {
	seconds := m.length / m.speed
	if m.wanted != m.speed || m.lag > 0 || !(seconds <= longest) || !c.reader.keepsUp(m.supply, seconds) {
		return false
	}
	t := &c.times
	tool := &t.Tools[c.tool]
	t.Naive += seconds
	t.Cutting += seconds
	tool.Total += seconds
	tool.Cutting += seconds
	if c.visit != nil && !c.losses {
		c.timed = Timed{Seconds: seconds, WaitBy: ByBlockTime, Top: m.speed, Tool: tool.Tool}
		c.show(m)
	}
	return true
}
