package adapt

import (
	"math"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// feedOf appends F for a feed move that was just written and is so long, in mm, or
// degrees of rotary axes alone: where it is another than the one in force, and by
// time always.
func (a *adapter) feedOf(op *done, length float64) {
	w, feed := a.w, a.toldFeed(op)
	switch {
	case w.feedMode == profiles.FeedPerRevolution && op.PerRev > 0:
		w.revWord(op.PerRev)
	case w.feedMode != profiles.FeedInverseTime:
		w.feedWord(a.inForce(op, feed))
	case feed > 0 && length > 0:
		w.timeWord(feed / length)
	default:
		w.timeWord(a.state.Feed)
	}
}

// toldFeed is clampedFeed where it is written: what was brought down is told.
func (a *adapter) toldFeed(op *done) float64 {
	feed := a.clampedFeed(op)
	if a.makes.clampFeed && feed < a.withSpeed(op) {
		a.did(ClampFeed)
	}
	return feed
}

// inForce is what a feed by the minute is in force as, mm/s: F is in the units of
// the program, also where it is degrees of rotary axes.
func (a *adapter) inForce(op *done, feed float64) float64 {
	if op.Moves&interp.XYZ == 0 {
		return feed * a.w.inch()
	}
	return feed
}

// ran is how long the straight move is that was written from a place, as the
// machine measures it for a feed by time: mm, or degrees where only rotary axes
// turn.
func (a *adapter) ran(op *done, from *interp.Point) float64 {
	linear, rotary := 0.0, 0.0
	for i := range profiles.NumAxes {
		d := a.w.at[i] - from[i]
		switch {
		case !op.Moves.Has(i):
		case !(op.FromKnown & op.ToKnown).Has(i):
			return op.Length
		case i < firstRotary:
			linear += d * d
		default:
			rotary += d * d
		}
	}
	if op.Moves&interp.XYZ == 0 {
		return math.Sqrt(rotary)
	}
	return math.Sqrt(linear)
}

// roundArc is the length of an arc in its plane, mm; from a place to itself it is a
// full circle.
func roundArc(start, end, center vec, cw bool) float64 {
	from, to := start.minus(center), end.minus(center)
	sweep := math.Atan2(to[1], to[0]) - math.Atan2(from[1], from[0])
	if cw {
		sweep = -sweep
	}
	if sweep = math.Mod(sweep+4*math.Pi, 2*math.Pi); sweep < 1e-9 {
		sweep = 2 * math.Pi
	}
	return sweep * from.length()
}

// timeWord appends F of a feed by time, given in 1/s: each move needs its own.
func (w *writer) timeWord(perSecond float64) {
	if perSecond <= 0 {
		return
	}
	n := 60 * perSecond
	w.rate(n, min(max(5-int(math.Floor(math.Log10(n))), 2), 6))
}
