package motion

import "math"

// A smoother adds what a limit of jerk costs: acceleration that rises and falls
// evenly instead of at once. A change of speed by d at the acceleration a and the
// jerk j takes d/a + a/j, or 2*sqrt(d/j) where a is not reached (double-S:
// Biagiotti and Melchiorri, 2008, ch. 3.4; from memory). The moves are planned
// without; a change that goes over several of them is counted once.
type smoother struct {
	rising, falling bool    // the last move ended on its way up, or down
	from            float64 // speed at which that began, mm/s
	paid            float64 // of what it costs, s
}

// extra is how much longer a change of speed takes by the jerk. accel and jerk are
// given as reciprocals.
func extra(d, accel, jerk float64) float64 {
	if d <= 0 {
		return 0
	}
	if full := jerk / accel; accel > 0 && d*accel >= full { // d >= a^2/j
		return full
	}
	return 2*math.Sqrt(d*jerk) - d*accel
}

// cost is how much later the axes are at the far end of a change of speed between
// low and high, beyond which they go at high.
func cost(low, high, accel, jerk float64) float64 {
	if high <= low {
		return 0
	}
	return extra(high-low, accel, jerk) * (high - low) / (2 * high)
}

// reset is for axes at rest.
func (s *smoother) reset() { *s = smoother{} }

// add is the time to add to a move over a length, in s: planned from the speed in
// to out by way of top, of which limit is the most that may be.
func (s *smoother) add(length, in, top, out, limit, accel, jerk float64) float64 {
	if top <= in && top <= out { // no change
		s.reset()
		return 0
	}
	alone := !(s.rising && top > in) && !(s.falling && top <= in)
	if alone && top > in && top > out {
		s.rising, s.falling = false, true
		s.from, s.paid = top, cost(out, top, accel, jerk)
		return lower(length, in, top, out, limit, accel, jerk)
	}
	sum := 0.0
	if top > in {
		if !s.rising {
			s.from, s.paid = in, 0
		}
		due := cost(s.from, top, accel, jerk)
		sum += max(0, due-s.paid)
		s.paid = due
		s.rising, s.falling = true, false
	}
	if top > out {
		if !s.falling || top > in {
			s.from, s.paid = top, 0
		}
		due := cost(out, s.from, accel, jerk)
		sum += max(0, due-s.paid)
		s.paid = due
		s.rising, s.falling = false, true
	}
	if out >= limit || out <= 0 {
		s.reset()
	}
	return sum
}

// lower is what jerk adds to a move that speeds up and slows down within itself:
// where there is no length for the longer ramps its top has to be lower.
func lower(length, in, top, out, limit, accel, jerk float64) float64 {
	ramp := func(d float64) float64 { return d*accel + extra(d, accel, jerk) }
	way := func(v float64) float64 { return (in+v)/2*ramp(v-in) + (out+v)/2*ramp(v-out) }
	low, high := max(in, out), limit
	if way(low) >= length { // not even that: the change is taken as it is
		return cost(in, top, accel, jerk) + cost(out, top, accel, jerk)
	}
	if math.IsInf(high, 1) || way(high) > length {
		high = min(high, top)
		for range 60 {
			if v := (low + high) / 2; way(v) > length {
				high = v
			} else {
				low = v
			}
		}
		high = low
	}
	seconds := ramp(high-in) + ramp(high-out) + (length-way(high))/high
	straight := trapezoid(length, in, top, out, accel)
	return max(0, seconds-straight)
}

// trapezoid is the time of a move without a limit of jerk.
func trapezoid(length, in, top, out, accel float64) float64 {
	cruise := length - ((top*top-in*in)+(top*top-out*out))*accel/2
	return (top-in)*accel + (top-out)*accel + max(0, cruise)/top
}
