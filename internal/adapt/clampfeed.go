package adapt

import (
	"fmt"
	"math"

	"tapefit/internal/interp"
	"tapefit/profiles"
	"tapefit/rules"
)

// clampedFeed is the feed of a move, mm/s, brought down with a speed that was
// clamped, and to what its axes make, where that is asked for. The feed of a tap
// goes with the speed and no further, since the pitch is that of the tap; that of
// a thread the control makes of its lead.
func (a *adapter) clampedFeed(op *done) float64 {
	feed := op.Feed
	if feed <= 0 || op.Kind == interp.Traverse || op.Lead > 0 {
		return feed
	}
	feed = a.withSpeed(op)
	limit := a.feedLimit(op)
	if op.Synchron || feed <= limit*(1+1e-9) {
		return feed
	}
	unit := a.w.inch() / 60
	return math.Floor(limit/unit*100+1e-6) / 100 * unit
}

// withSpeed is the feed of a move, mm/s, by the share by which its speed was
// clamped. Only a tap feeds faster where the speed is now higher.
func (a *adapter) withSpeed(op *done) float64 {
	v := a.state.Speed
	if v <= 0 || !tellsGear(a.state) {
		return op.Feed
	}
	to := a.clampedSpeed(v)
	switch {
	case to == v, to > v && !op.Synchron:
		return op.Feed
	case op.PerRev > 0:
		return op.PerRev * to / 60
	}
	return op.Feed * to / v
}

// feedLimit is what the axes of a move make along it, mm/s; infinite where feeds
// are not to be brought down.
func (a *adapter) feedLimit(op *done) float64 {
	limit := math.Inf(1)
	if !a.makes.clampFeed {
		return limit
	}
	for i := range firstRotary {
		share := a.share(op, i)
		axis := a.to.Axis(i)
		if axis == nil || share < 1e-9 {
			continue
		}
		most := axis.Feed
		if most == 0 {
			most = axis.Rapid
		}
		if most > 0 {
			limit = math.Min(limit, float64(most)/share)
		}
	}
	if most := a.to.Feed.Greatest; most > 0 {
		limit = math.Min(limit, float64(most))
	}
	return limit
}

// keepsPitch tells of a tap or a thread that feeds faster than the axes do: less F
// alone would cut another pitch.
func (a *adapter) keepsPitch() {
	for i := range a.ops {
		op := &a.ops[i]
		if !op.Synchron || op.late || op.Kind != interp.Feed {
			continue
		}
		feed, limit := a.withSpeed(op), a.feedLimit(op)
		if feed <= limit*(1+1e-9) {
			continue
		}
		unit, per := inUnits(a.state.Units), " mm/min"
		if a.state.Units == profiles.UnitsInch {
			per = " in/min"
		}
		a.leave(rules.Error, op.line, fmt.Sprintf("a feed tied to the spindle goes at %s%s, and %s feeds at up to %s there: less of it without less speed would cut another pitch",
			num(feed*60/unit), per, a.to.Name, num(limit*60/unit)), a.samePitch(op, limit, unit))
		return
	}
}

// samePitch is what to write so that a feed that is tied to the spindle is no
// faster than limit, mm/s. unit is that of the source, mm.
func (a *adapter) samePitch(op *done, limit, unit float64) string {
	const other = "Cut it by hand, or on another machine."
	v := a.state.Speed
	if v <= 0 || !tellsGear(a.state) {
		return "Write its speed and its feed into the source so that it goes no faster."
	}
	pitch := op.PerRev
	if pitch == 0 {
		pitch = op.Feed * 60 / v
	}
	most := math.Floor(limit*60/pitch + 1e-9)
	to := clampedSpeed(a.to, most)
	switch {
	case most < 1 || to > most:
		return other
	case op.PerRev > 0:
		return fmt.Sprintf("Write S%s for it into the source.", num(to))
	}
	return fmt.Sprintf("Write S%s F%s for it into the source: that is the same pitch.", num(to), num(round(pitch*to/unit, 3)))
}
