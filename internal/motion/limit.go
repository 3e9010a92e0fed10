package motion

import "math"

// A Limit is what holds a move back most.
type Limit uint8

const (
	ByFeed         Limit = iota // the programmed feed, or a rapid that has its speed: nothing is lost
	ByAxis                      // the speed of an axis
	ByMachine                   // the greatest feed of the control
	ByAcceleration              // starting, stopping and arcs
	ByCorner                    // a corner or an exact stop
	ByLookAhead                 // the control has to be able to stop at the end of the blocks that it knows
	ByBlockTime                 // waiting for the control to make a block ready
	ByLink                      // waiting for the drip-feed link
	BySpindle                   // the spindle that the move is tied to
	NumLimits
)

func (l Limit) String() string {
	return [...]string{
		"programmed feed", "axis speed", "feed limit of the machine", "acceleration",
		"corner", "look-ahead", "block time", "drip-feed link", "spindle",
	}[l]
}

// belowShare is the share of the programmed feed below which a cut is counted
// as slow.
const belowShare = 0.9

// Slow says whether the move is a cut that takes so long, waiting included,
// that it goes at less than 90 % of the programmed feed.
func (t *Timed) Slow() bool {
	return t.Cut && t.Feed > 0 && t.Seconds-t.Lost < belowShare*t.Seconds
}

// A loss is where the seconds of one move go beyond its length over its feed.
type loss struct {
	wait float64 // for the control or the link
	slow float64 // the limit of the whole move is lower than the feed
	ramp float64 // the speed rises and falls
}

// total is never negative but for rounding.
func (l *loss) total() float64 { return math.Max(0, l.wait+l.slow+l.ramp) }

// most is the limit that the greatest part goes to.
func (l *loss) most(wait, slow, ramp Limit) Limit {
	switch {
	case !(l.total() > lossless):
		return ByFeed
	case l.wait >= l.slow && l.wait >= l.ramp:
		return wait
	case l.slow >= l.ramp:
		return slow
	}
	return ramp
}

// lossless is a loss that is rounding, in s.
const lossless = 1e-9

// belowTime is how long a move goes slower than the speed, in s. It enters and
// leaves with the squared speeds in and out and reaches top between.
func (m *move) belowTime(in, out, top, speed, seconds float64) float64 {
	if top < speed {
		return seconds
	}
	up := math.Max(0, speed-math.Sqrt(in))
	down := math.Max(0, speed-math.Sqrt(out))
	return min((up+down)*m.slow, seconds)
}
