package motion

import (
	"math"
	"slices"

	"tapefit/internal/interp"
)

// turnedTime is how long a feed by the revolution takes under constant surface
// speed, in s, over a path of the length, in mm.
//
// With f mm a revolution and n rpm the tool goes f*n/60 mm/s, so the time is
// 60/f times the integral of 1/n along the path. Where nothing bounds the speed
// 1/n is proportional to the radius, n = 60*vc/(2*pi*r) with vc in mm/s, and the
// integral is that of r: along a straight line it has the mean of both ends, and
// a facing cut from r0 to r1 takes pi*(r0^2-r1^2)/(f*vc). Where the clamp or the
// gear bounds the speed 1/n is constant. The path is split where the one goes
// over into the other, and where it crosses the centre line.
func turnedTime(op *interp.Op, length float64) float64 {
	mean := 0.0
	if first, second, _ := op.Plane.Axes(); op.Kind == interp.Arc && (first == 0 || second == 0) {
		mean = arcMean(op, second == 0)
	} else {
		mean = lineMean(&op.Turn, op.From[0], op.To[0])
	}
	return 60 * length * mean / op.PerRev
}

// kinks are the places along X where 1/n has a corner.
func kinks(l *interp.SpeedLaw) (at [5]float64) {
	high := l.Radius(l.Highest)
	at = [5]float64{0, high, -high, 0, 0}
	if l.Lowest > 0 {
		low := l.Radius(l.Lowest)
		at[3], at[4] = low, -low
	}
	return at
}

// lineMean is the mean of 1/n along a straight line, in minutes.
func lineMean(l *interp.SpeedLaw, from, to float64) float64 {
	at := kinks(l)
	shares := make([]float64, 0, len(at)+2)
	shares = append(shares, 0, 1)
	for _, x := range at {
		if u := (x - from) / (to - from); u > 0 && u < 1 {
			shares = append(shares, u)
		}
	}
	slices.Sort(shares)
	mean := 0.0
	for i := 1; i < len(shares); i++ {
		a, b := shares[i-1], shares[i]
		na := l.At(math.Abs(from + a*(to-from)))
		nb := l.At(math.Abs(from + b*(to-from)))
		mean += (b - a) * (1/na + 1/nb) / 2
	}
	return mean
}

// arcMean is the mean of 1/n along an arc. X is the second axis of its plane, or
// the first.
func arcMean(op *interp.Op, second bool) float64 {
	// X on the arc is center + radius*cos(angle), with the angle counted from X+
	// and growing along the arc: the mean does not mind its direction.
	first, other, _ := op.Plane.Axes()
	x, y := op.From[0]-op.Center[0], op.From[other]-op.Center[other]
	sense := 1.0
	if second {
		y = op.From[first] - op.Center[first]
		sense = -1
	}
	if op.CW {
		sense = -sense
	}
	from := math.Atan2(sense*y, x)
	to := from + op.Sweep
	l, center, radius := &op.Turn, op.Center[0], op.Radius
	at := kinks(l)
	angles := make([]float64, 0, 32)
	angles = append(angles, from, to)
	for _, k := range at {
		c := (k - center) / radius
		if math.Abs(c) >= 1 {
			continue
		}
		for _, a := range [...]float64{math.Acos(c), -math.Acos(c)} {
			for a += 2 * math.Pi * math.Ceil((from-a)/(2*math.Pi)); a < to && len(angles) < cap(angles); a += 2 * math.Pi {
				angles = append(angles, a)
			}
		}
	}
	slices.Sort(angles)
	sum := 0.0
	for i := 1; i < len(angles); i++ {
		sum += arcPiece(l, center, radius, angles[i-1], angles[i])
	}
	return sum / op.Sweep
}

// arcPiece is the integral of 1/n over the angle, where 1/n has no corner.
func arcPiece(l *interp.SpeedLaw, center, radius, a, b float64) float64 {
	middle := (a + b) / 2
	n := l.At(math.Abs(center + radius*math.Cos(middle)))
	if n == l.Highest || n == l.Lowest {
		return (b - a) / n
	}
	// sin(b) - sin(a), without the loss of digits on a short piece.
	x := center*(b-a) + radius*2*math.Cos(middle)*math.Sin((b-a)/2)
	return math.Abs(x) / l.Radius(1)
}
