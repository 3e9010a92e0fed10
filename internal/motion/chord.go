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

func (l *limits) feedRate(feed float64) feedRate {
	p := feedRate{feed: feed, speed: feed}
	if feed > l.greatest {
		p.speed, p.capped = l.greatest, ByMachine
	}
	p.square = p.speed * p.speed
	slowest := max(l.feed[0], l.feed[1], l.feed[2])
	p.any = feed > 0 && feed <= fastest && p.speed*slowest*wholeShare <= 1 && !l.smooth
	return p
}

// chord takes in a move, if it is one. It is move for chords.
func (c *Clock) chord(op *interp.Op) bool {
	if op.Feed != c.feed.feed {
		c.feed = c.limits.feedRate(op.Feed)
	}
	places := interp.XYZ & (op.FromKnown&op.ToKnown | op.Steps)
	length := op.Length
	if !c.feed.any || op.Moves&^places != 0 || op.PerRev != 0 || !(length > 0) || length > farthest {
		return false
	}
	var x, y, z float64
	if op.Moves&interp.X != 0 {
		x = op.To[0] - op.From[0]
	}
	if op.Moves&interp.Y != 0 {
		y = op.To[1] - op.From[1]
	}
	if op.Moves&interp.Z != 0 {
		z = op.To[2] - op.From[2]
	}
	unit := 1 / length
	w := &c.window
	m, p, before := w.at(w.tail), &c.paths[c.now], &c.paths[1-c.now]
	if !m.chord { // what was at this place; all chords are the same in this
		*m = move{chord: true, cut: true, steady: true, keep: 1}
	}
	if !p.chord {
		*p = path{chord: true, cut: true}
	}
	m.length, m.speed, m.wanted, m.capped, m.feed = length, c.feed.speed, c.feed.feed, c.feed.capped, c.feed.feed
	m.slow, m.gain = c.limits.ramp(x, y, z, length)
	m.slow *= unit
	if m.lag = 0; c.slack.any {
		m.lag = c.slack.straight(x, y, z)
	}
	m.supply = c.reader.take()
	p.length, p.first, p.last, p.mode = length, c.feed.square, c.feed.square, op.State.Path
	p.start[0], p.start[1], p.start[2] = x*unit, y*unit, z*unit
	p.end[0], p.end[1], p.end[2] = p.start[0], p.start[1], p.start[2]
	m.entry, m.why = 0, ByAcceleration
	if c.rolling {
		ok := false
		if m.entry, ok = c.corners.open(before, p, &c.limits); !ok {
			m.entry, m.why = c.corners.junction(before, p, &c.limits)
		}
	}
	c.rolling = true
	c.take(m, op)
	return true
}

// ramp is how fast the axes can change the speed along x, y, z: the reciprocal of
// the acceleration times the length, and the gain.
func (l *limits) ramp(x, y, z, length float64) (slow, gain float64) {
	slow = math.Abs(x) * l.accel[0]
	if s := math.Abs(y) * l.accel[1]; s > slow {
		slow = s
	}
	if s := math.Abs(z) * l.accel[2]; s > slow {
		slow = s
	}
	if slow > 0 {
		if gain = 2 * length * (length / slow); gain < boundless {
			return slow, gain
		}
	}
	return slow, boundless
}

// open is junction where chord b goes on from chord a and nothing of the corner
// holds the control back. False: something may.
func (c *corners) open(a, b *path, l *limits) (limit float64, ok bool) {
	if c.stop || !a.chord || a.mode != profiles.Continuous || b.mode != profiles.Continuous {
		return 0, false
	}
	x, y, z := b.start[0]-a.end[0], b.start[1]-a.end[1], b.start[2]-a.end[2]
	sine2 := (x*x + y*y + z*z) / 4
	limit = a.last
	if b.first < limit {
		limit = b.first
	}
	if sine2 <= straightOn {
		return limit, true
	}
	reach := a.length
	if b.length < reach {
		reach = b.length
	}
	return limit, c.tolerance > 0 && !c.step && sine2 <= 1 && gentle(limit*l.slowest, sine2, reach/2, c.tolerance)
}

// cruise times a chord that goes at its feed from end to end and waits for
// nothing. See settle.
func (c *Clock) cruise(m *move, seconds float64) {
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
}
