package motion

import (
	"math"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// A slack knows the backlash that the control takes up where an axis reverses:
// before the slide moves the screw has to turn by it. The path waits for that.
type slack struct {
	take [profiles.NumAxes]float64 // s, from rest to rest over the backlash
	last [profiles.NumAxes]int8    // which way the axis went last; 0: not known
	any  bool
}

func newSlack(m *profiles.Machine, l *limits) slack {
	var s slack
	if m.Control.Backlash == "left" {
		return s
	}
	for i := range profiles.NumAxes {
		if a := m.Axis(i); a != nil && a.Backlash > 0 {
			s.take[i] = l.own(i, float64(a.Backlash), &l.rapid)
			s.any = true
		}
	}
	return s
}

// forget is for moves of which nobody knows where they go.
func (s *slack) forget() { s.last = [profiles.NumAxes]int8{} }

// own is the time that axis i needs from rest to rest over a distance, for itself.
func (l *limits) own(i int, d float64, rates *[profiles.NumAxes]float64) float64 {
	slow, accel, jerk := rates[i], l.accel[i], l.jerk[i]
	top := math.Inf(1)
	if slow > 0 {
		top = 1 / slow
	}
	limit := top
	if accel > 0 {
		top = min(top, math.Sqrt(d/accel))
	}
	if math.IsInf(top, 1) {
		return 0
	}
	seconds := trapezoid(d, 0, top, 0, accel)
	if jerk > 0 {
		seconds += lower(d, 0, top, 0, limit, accel, jerk)
	}
	return seconds
}

// turn is how long the axes take up their backlash before and within a move, in s.
func (s *slack) turn(op *interp.Op) float64 {
	if !s.any {
		return 0
	}
	together, within := 0.0, 0.0 // axes that reverse at the start take it up together
	var round [2]int
	if op.Kind == interp.Arc {
		round[0], round[1], _ = op.Plane.Axes()
	}
	for i, take := range s.take {
		if take == 0 || !op.Moves.Has(i) {
			continue
		}
		var first, last int8
		times := 0
		if op.Kind == interp.Arc && (i == round[0] || i == round[1]) {
			first, last, times = reversals(op, i == round[1])
		} else if d, ok := delta(op, i); ok && d != 0 {
			first = int8(math.Copysign(1, d))
			last = first
		}
		if first == 0 {
			continue
		}
		if s.last[i] == -first {
			together = max(together, take)
		}
		within += float64(times) * take
		s.last[i] = last
	}
	return together + within
}

// reversals says which way an axis of an arc's plane goes at its start and at its
// end, and how often it turns between.
func reversals(op *interp.Op, second bool) (first, last int8, times int) {
	a, b, _ := op.Plane.Axes()
	x, y := op.From[a]-op.Center[a], op.From[b]-op.Center[b]
	if op.CW {
		y = -y
	}
	angle := math.Atan2(y, x) // from here it grows; the first axis is its cosine
	if second {
		angle -= math.Pi / 2
	}
	// The cosine turns at multiples of half a turn; up to a thousandth of a
	// degree it is taken to be there.
	const there = 1e-3 * math.Pi / 180
	from := math.Floor((angle + there) / math.Pi)
	to := math.Floor((angle + op.Sweep - there) / math.Pi)
	if !(op.Sweep > 2*there) || !(op.Sweep < 1e6) || math.IsNaN(angle) {
		return 0, 0, 0
	}
	first = -1
	if math.Mod(from, 2) != 0 {
		first = 1
	}
	times = int(to - from)
	last = first
	if times%2 != 0 {
		last = -first
	}
	if second && op.CW { // its mirror image was looked at
		first, last = -first, -last
	}
	return first, last, times
}
