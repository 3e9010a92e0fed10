package motion

import (
	"math"
	"testing"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

const deg = math.Pi / 180

// Arcs in closed form. What an axis does that is at its limit of acceleration is
// a fall: x = a*t^2/2; one that is at its limit of speed goes x = v*t (any
// mechanics text). An arc is followed in pieces, so the figures agree to a few
// hundredths of a per cent.
func TestArcs(t *testing.T) {
	p := func(x, y float64) interp.Point { return interp.Point{x, y} }
	slowX := mill(0, 0, 0)
	slowX.Axes.X.Feed = 10
	slowY := mill(0, 0, 0)
	slowY.Axes.Y.Feed = 10

	// From rest at 0 degrees Y falls: v*cos = sqrt(2*a*r*sin) until v is the feed.
	start := func(r, v, a float64) (seconds, angle float64) {
		sin := (math.Sqrt(a*a*r*r+v*v*v*v) - a*r) / (v * v)
		return math.Sqrt(2 * r * sin / a), math.Asin(sin)
	}
	restArc := func(r, sweep, v, a float64) float64 {
		seconds, angle := start(r, v, a)
		return 2*seconds + r*(sweep-2*angle)/v
	}
	// Where the limit of X is 10 and the feed is 50: dx/10, or at the feed where
	// the tangent has less than a fifth of X.
	beside := math.Asin(0.2)
	fifth := func(from, to float64) float64 { // degrees from 0, in one quadrant
		a, b := from*deg, to*deg
		at := math.Min(math.Max(beside, a), b)
		return 10*(at-a)/50 + 10*(math.Cos(at)-math.Cos(b))/10
	}
	helix := math.Hypot(10*math.Pi, 3)
	for _, test := range []struct {
		name string
		m    *profiles.Machine
		op   interp.Op
		want float64
	}{
		{"quarter", mill(100, 100, 500), arcFrom(p(10, 0), p(0, 0), false, math.Pi/2, 0, 20), restArc(10, math.Pi/2, 20, 500)},
		{"full circle", mill(100, 100, 500), arcFrom(p(10, 0), p(0, 0), true, 2*math.Pi, 0, 20), restArc(10, 2*math.Pi, 20, 500)},
		{"ten turns", mill(100, 100, 500), arcFrom(p(10, 0), p(0, 0), false, 20*math.Pi, 0, 20), restArc(10, 20*math.Pi, 20, 500)},
		{"fast on a small one", mill(100, 100, 500), arcFrom(p(3, 0), p(0, 0), false, 2*math.Pi, 0, 30), restArc(3, 2*math.Pi, 30, 500)},
		{"a sliver", mill(100, 100, 500), arcFrom(p(300, 0), p(0, 0), false, 0.001, 0, 20), rest(0.3, 20, 500)},
		{"helix", mill(100, 100, 500), arcFrom(p(5, 0), p(0, 0), false, 2*math.Pi, 3, 20),
			restArc(5, 2*math.Pi, 20*10*math.Pi/helix, 500)},
		{"no acceleration given", mill(100, 100, 0), arcFrom(p(5, 0), p(0, 0), false, 2*math.Pi, 3, 20), helix / 20},
		{"at an axis limit, whole circle", slowX, arcFrom(p(10, 0), p(0, 0), false, 2*math.Pi, 0, 50), 4 * fifth(0, 90)},
		{"at the limit of the other", slowY, arcFrom(p(0, 10), p(0, 0), true, 2*math.Pi, 0, 50), 4 * fifth(0, 90)},
		{"through its direction", slowX,
			arcFrom(p(10*math.Cos(80*deg), 10*math.Sin(80*deg)), p(0, 0), false, 20*deg, 0, 50), 2 * fifth(80, 90)},
		{"beside its direction", slowX,
			arcFrom(p(10*math.Cos(10*deg), -10*math.Sin(10*deg)), p(0, 0), false, 20*deg, 0, 50), 2 * fifth(0, 10)},
		{"clockwise", slowX,
			arcFrom(p(10*math.Cos(30*deg), 10*math.Sin(30*deg)), p(0, 0), true, 40*deg, 0, 50), fifth(0, 30) + fifth(0, 10)},
	} {
		got, all := run(test.m, []interp.Op{test.op})
		if math.Abs(got.Total/test.want-1) > 5e-4 || got.Total < test.want*(1-2e-4) {
			t.Errorf("%s: %.12g s, want %.12g", test.name, got.Total, test.want)
		}
		if len(all) != 1 || all[0].Seconds != got.Total {
			t.Errorf("%s: shown as %+v", test.name, all)
		}
	}
}

// A circle without end at no feed to speak of: from each quadrant on one axis
// falls to its middle, r - r*cos(45) = a*t^2/2, and the other slows down from
// there as it sped up. A constant speed, sqrt(a*r), would be 2.6 % slower.
func TestCircleAtItsLimit(t *testing.T) {
	const a, r = 500.0, 1.8
	for _, plane := range []interp.Plane{interp.XY, interp.ZX, interp.YZ} {
		first, second, normal := plane.Axes()
		m := mill(1e4, 1e4, a)
		m.Axis(normal).Acceleration = 1
		m.Control = control(10, 0, 0)
		op := arcFrom(interp.Point{r}, interp.Point{}, false, 2*math.Pi, 0, 1e4)
		op.Plane, op.From, op.To = plane, interp.Point{}, interp.Point{}
		op.From[first], op.To[first] = r, r
		op.Moves = 1<<first | 1<<second
		_, all := run(m, []interp.Op{op, op, op})
		want := 8 * math.Sqrt(2*r*(1-math.Cos(math.Pi/4))/a)
		if got := all[1].Seconds; math.Abs(got/want-1) > 2e-3 || got < want*(1-1e-4) {
			t.Errorf("%v: %.9g s a turn, want %.9g", plane, got, want)
		}
		if all[1].Limit != ByAcceleration {
			t.Errorf("%v: limited by %v", plane, all[1].Limit)
		}
	}
}

// More turns than are followed in pieces go at the speed that holds all around.
func TestManyTurns(t *testing.T) {
	const a, r = 500.0, 1.8
	m := mill(1e4, 1e4, a)
	op := arcFrom(interp.Point{r}, interp.Point{}, false, 40*math.Pi, 0, 1e4)
	got, _ := run(m, []interp.Op{op})
	round := 40 * math.Pi * math.Sqrt(r/a)
	if got.Total < round || got.Total > 1.03*round {
		t.Errorf("%g s, at the speed that holds all around %g", got.Total, round)
	}
}

// On a table that turns along with the arc the slowest axis of all counts.
func TestArcWithOthers(t *testing.T) {
	m := mill(100, 100, 500)
	m.Axes.A = &profiles.Axis{Rapid: 36, Acceleration: 1000}
	op := arcFrom(interp.Point{10}, interp.Point{}, false, math.Pi, 0, 50)
	op.To[3] = 180
	op.Moves |= interp.A
	got, _ := run(m, []interp.Op{op})
	if want := rest(180, 36, 1000); math.Abs(got.Total/want-1) > 1e-3 {
		t.Errorf("%g s, want %g", got.Total, want)
	}
}

// The more X has, the sooner a steep helix is done, also from where Z is the first
// to come to its limit.
func TestHelixWithABetterAxis(t *testing.T) {
	op := arcFrom(interp.Point{}, interp.Point{0, 50}, false, 1.75, 1, 20)
	before := math.Inf(1)
	for _, accel := range []float64{40, 350, 3000, 3440, 3460, 3480, 4500, 1e5} {
		m := mill(20, 20, 40)
		m.Axes.X.Acceleration = profiles.Acceleration(accel)
		got, _ := run(m, []interp.Op{op})
		if got.Total > before*(1+1e-12) {
			t.Errorf("%g mm/s^2: %.12g s, with less %.12g", accel, got.Total, before)
		}
		before = got.Total
	}
}
