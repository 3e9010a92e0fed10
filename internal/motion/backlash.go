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
	any  bool                      // one has some
	all  bool                      // X, Y and Z have gone somewhere
	last [profiles.NumAxes]float64 // which way the axis went last, by the sign; 0: not known
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
func (s *slack) forget() { s.last, s.all = [profiles.NumAxes]float64{}, false }

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
func (s *slack) turn(op *interp.Op, p *path) float64 {
	if !s.any {
		return 0
	}
	if op.Kind != interp.Arc && op.Moves&^interp.XYZ == 0 {
		return s.straight(p.start[0], p.start[1], p.start[2])
	}
	together, within := 0.0, 0.0 // axes that reverse at the start take it up together
	first, second, angle := -1, -1, 0.0
	if op.Kind == interp.Arc {
		first, second, _ = op.Plane.Axes()
		angle = math.Atan2(op.From[second]-op.Center[second], op.From[first]-op.Center[first])
		if op.CW {
			angle = -angle // its mirror image, see reversals
		}
	}
	for i, take := range s.take {
		if take == 0 || !op.Moves.Has(i) {
			continue
		}
		var out, in int8 // which way it goes at the start and at the end
		times := 0       // that it turns between
		switch i {
		case first:
			out, in, times = reversals(angle, op.Sweep)
		case second:
			out, in, times = reversals(angle-math.Pi/2, op.Sweep)
			if op.CW {
				out, in = -out, -in
			}
		default:
			if d, ok := delta(op, i); ok && d > 0 {
				out, in = 1, 1
			} else if ok && d < 0 {
				out, in = -1, -1
			}
		}
		if out == 0 {
			continue
		}
		together = max(together, s.goes(i, out, in))
		within += float64(times) * take
	}
	return together + within
}

// turns says whether straight has something to do.
func (s *slack) turns(x, y, z float64) bool {
	return !s.all || x*s.last[0] < 0 || y*s.last[1] < 0 || z*s.last[2] < 0
}

// straight is turn for a straight move of X, Y and Z in this direction: most are.
func (s *slack) straight(x, y, z float64) (together float64) {
	if x*s.last[0] < 0 {
		together = s.take[0]
	}
	if y*s.last[1] < 0 && s.take[1] > together {
		together = s.take[1]
	}
	if z*s.last[2] < 0 && s.take[2] > together {
		together = s.take[2]
	}
	if x != 0 {
		s.last[0] = x
	}
	if y != 0 {
		s.last[1] = y
	}
	if z != 0 {
		s.last[2] = z
	}
	s.all = s.last[0]*s.last[1]*s.last[2] != 0
	return together
}

// goes notes which way axis i goes at the start and at the end of a move, and gives
// what it takes if that reverses it.
func (s *slack) goes(i int, out, in int8) (take float64) {
	if s.last[i]*float64(out) < 0 {
		take = s.take[i]
	}
	s.last[i] = float64(in)
	return take
}

// reversals says which way an axis goes at the start and at the end of an arc, and
// how often it turns between. The axis is the cosine of an angle that grows by the
// sweep.
func reversals(angle, sweep float64) (first, last int8, times int) {
	// The cosine turns at multiples of half a turn; up to a thousandth of a
	// degree it is taken to be there.
	const there = 1e-3 * math.Pi / 180
	if !(sweep > 2*there && sweep < 1e6) || math.IsNaN(angle) {
		return 0, 0, 0
	}
	from := int(math.Floor((angle + there) / math.Pi))
	to := int(math.Floor((angle + sweep - there) / math.Pi))
	way := func(half int) int8 { return int8(2*(half&1) - 1) } // it falls over the first half
	return way(from), way(to), to - from
}
