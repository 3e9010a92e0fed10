package motion

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
	BySpindle                   // the spindle that a thread waits for
	ByBacklash                  // taking up backlash where an axis reverses
	NumLimits

	ByDwell = NumLimits // of a Stretch alone: dwells in it take more than any limit of its moves
)

func (l Limit) String() string {
	return [...]string{
		"programmed feed", "axis speed", "feed limit of the machine", "acceleration",
		"corner", "look-ahead", "block time", "drip-feed link", "spindle", "backlash", "dwell",
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
	wait    float64 // for the control to read, or for the link: waitBy
	slow    float64 // the limit of the whole move is lower than the feed: slowBy
	ramp    float64 // the speed rises and falls: rampBy
	lag     float64 // backlash is taken up
	spindle float64 // a thread waits for it

	waitBy, slowBy, rampBy Limit
}

// total is never negative but for rounding.
func (l *loss) total() float64 { return max(0, l.wait+l.slow+l.ramp+l.lag+l.spindle) }

// most is the limit that the greatest part goes to.
func (l *loss) most() Limit {
	if !(l.total() > lossless) {
		return ByFeed
	}
	by, part := l.rampBy, l.ramp
	for _, other := range [...]struct {
		by   Limit
		part float64
	}{{l.slowBy, l.slow}, {l.waitBy, l.wait}, {ByBacklash, l.lag}, {BySpindle, l.spindle}} {
		if other.part >= part && other.part > 0 {
			by, part = other.by, other.part
		}
	}
	return by
}

// lose adds what a move loses by one limit, and gives both as the move shows them.
func (t *Times) lose(by Limit, part float64) (Limit, float64) {
	t.Lost[by] += part
	if part > lossless {
		return by, part
	}
	return ByFeed, max(0, part)
}

// loseAll adds what it loses by several.
func (t *Times) loseAll(l *loss) (Limit, float64) {
	t.Lost[l.waitBy] += l.wait
	t.Lost[l.slowBy] += l.slow
	t.Lost[l.rampBy] += l.ramp
	t.Lost[ByBacklash] += l.lag
	t.Lost[BySpindle] += l.spindle
	return l.most(), l.total()
}

// lossless is a loss that is rounding, in s.
const lossless = 1e-9

// belowTime is how long a move goes slower than the speed slow, in s. It enters and
// leaves with vin and vout and reaches top between.
func (m *move) belowTime(vin, vout, top, slow, seconds float64) float64 {
	if top < slow {
		return seconds
	}
	below := 0.0
	if vin < slow {
		below = (slow - vin) * m.slow
	}
	if vout < slow {
		below += (slow - vout) * m.slow
	}
	return min(below, seconds)
}
