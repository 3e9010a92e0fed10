package motion

import (
	"math"
	"testing"

	"tapefit/internal/interp"
	"tapefit/profiles"

	"pgregory.net/rapid"
)

// The double-S example of Biagiotti and Melchiorri, "Trajectory Planning for
// Automatic Machines and Robots", 2008, ch. 3.4 (from memory, re-derived): from 0
// to 10 at no more than 5, entered with 1, acceleration 10, jerk 30. The parts are
// 0.7333, 1.1433 and 0.8333.
func TestDoubleS(t *testing.T) {
	var s smoother
	got := trapezoid(10, 1, 5, 0, 0.1) + s.add(10, 1, 5, 0, 5, 0.1, 1.0/30)
	if want := 0.4 + 1.0/3 + 1.1433333333 + 0.5 + 1.0/3; math.Abs(got-want) > 1e-9 {
		t.Errorf("%.10f s, want %.10f", got, want)
	}
}

// smoothMill has a limit of jerk.
func smoothMill(rapid, feed, accel, jerk float64) *profiles.Machine {
	m := mill(rapid, feed, accel)
	for i := range 3 {
		m.Axis(i).Jerk = profiles.Jerk(jerk)
	}
	return m
}

// From rest to rest in closed form (any text on motion): with full speed, with
// full acceleration only, with neither.
func TestJerkRestToRest(t *testing.T) {
	const v, a, j = 20.0, 500.0, 20000.0
	peak := -a*a/(2*j) + math.Sqrt(a*a*a*a/(4*j*j)+a*0.9)
	for _, test := range []struct {
		name    string
		d, want float64
	}{
		{"full speed", 100, 100/v + v/a + a/j},
		{"just full speed", v*v/a + v*a/j, 2 * (v/a + a/j)},
		{"full acceleration", 0.9, 2*peak/a + 2*a/j},
		{"neither: four stretches of d = j*t^3/2 in all", 0.1, 4 * math.Cbrt(0.1/(2*j))},
		{"a least increment", 0.001, 4 * math.Cbrt(0.001/(2*j))},
	} {
		m := smoothMill(100, 100, a, j)
		if got, _ := run(m, polyline(v, interp.Point{}, interp.Point{test.d})); math.Abs(got.Total/test.want-1) > 1e-9 {
			t.Errorf("%s: %.12g s, want %.12g", test.name, got.Total, test.want)
		}
		m.Control.RapidPath = "each-axis"
		m.Axes.X.Rapid = v
		if got, _ := run(m, []interp.Op{traverse(interp.Point{}, interp.Point{test.d})}); math.Abs(got.Total/test.want-1) > 1e-9 {
			t.Errorf("%s, traverse: %.12g s, want %.12g", test.name, got.Total, test.want)
		}
	}
}

// Chords in a line are the line: a ramp over many of them is one ramp.
func TestJerkOverChords(t *testing.T) {
	const v, a, j = 20.0, 500.0, 20000.0
	points := make([]interp.Point, 1001)
	for i := range points {
		points[i][0] = 0.1 * float64(i)
	}
	m := smoothMill(100, 100, a, j)
	m.Control = control(100, 0, 0)
	if got, _ := run(m, polyline(v, points...)); math.Abs(got.Total/(100/v+v/a+a/j)-1) > 1e-9 {
		t.Errorf("%.12g s, want %.12g", got.Total, 100/v+v/a+a/j)
	}
}

// On an arc the centripetal acceleration turns: v^3/r^2 is its jerk.
func TestJerkOnArcs(t *testing.T) {
	const j, r = 2000.0, 2.0
	m := smoothMill(1000, 1000, 1e5, j)
	m.Control = control(10, 0, 0)
	op := arcFrom(interp.Point{r}, interp.Point{}, false, 2*math.Pi, 0, 1000)
	_, all := run(m, []interp.Op{op, op, op})
	if got, want := all[1].Seconds, 2*math.Pi*r/math.Cbrt(j*r*r); math.Abs(got/want-1) > 1e-9 {
		t.Errorf("%g s a turn, want %g", got, want)
	}
}

// A limit of jerk costs time and never gives any; a very high one costs nearly none.
func TestJerkCosts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, steps := anyMachine(t), anyProgram(t)
		without := runSteps(m, steps, nil)
		last := without.Total
		for _, jerk := range []profiles.Jerk{1e12, 1e4} {
			for i := range 4 {
				m.Axis(i).Jerk = jerk
			}
			got := runSteps(m, steps, nil)
			if got.Total < last*(1-5e-3) {
				t.Fatalf("%g s with a jerk of %g, %g before", got.Total, jerk, last)
			}
			if jerk == 1e12 && got.Total > without.Total*1.01+0.01 {
				t.Fatalf("%g s with a jerk of %g, %g without", got.Total, jerk, without.Total)
			}
			last = got.Total
		}
	})
}

// Each axis goes for itself: the longest time of all.
func TestRapidsOfEachAxis(t *testing.T) {
	m := mill(100, 50, 500)
	m.Axes.Z.Rapid, m.Axes.Z.Acceleration = 40, 300
	m.Axes.A = &profiles.Axis{Rapid: 36, Acceleration: 90}
	m.Control = control(10, 0, 1)
	m.Control.RapidPath = "each-axis"
	for _, test := range []struct {
		name string
		to   interp.Point
		want float64
	}{
		{"X alone", interp.Point{30}, rest(30, 100, 500)},
		{"X longest", interp.Point{90, 20, 10}, rest(90, 100, 500)},
		{"Z is slow", interp.Point{60, 60, 50}, rest(50, 40, 300)},
		{"Z is short, and slow to start", interp.Point{1, 1, 0.9}, rest(0.9, 40, 300)},
		{"A turns along", interp.Point{10, 0, 0, 180}, rest(180, 36, 90)},
	} {
		got, _ := run(m, []interp.Op{traverse(interp.Point{}, test.to), traverse(test.to, interp.Point{})})
		if !near(got.Total, 2*test.want) {
			t.Errorf("%s: %g s, want %g there and back", test.name, got.Total, 2*test.want)
		}
	}
	// Together they go straight, and as the slowest for its share.
	m.Control.RapidPath = "straight"
	if got, _ := run(m, []interp.Op{traverse(interp.Point{}, interp.Point{90, 0, 10})}); !near(got.Total, rest(math.Hypot(90, 10), 100*math.Hypot(90, 10)/90, 500*math.Hypot(90, 10)/90)) {
		t.Errorf("straight: %g s", got.Total)
	}
}

// Where the control lets each axis step, the corner's speed is the step over the
// change of the axis's share.
func TestCornerStep(t *testing.T) {
	const a, v = 500.0, 40.0
	m := mill(100, 100, a)
	m.Control = control(10, 0, 0)
	m.Control.Corner = "step"
	m.Axes.X.CornerStep, m.Axes.Y.CornerStep = 5, 3
	for _, phi := range []float64{2, 10, 45, 90, 135} {
		corner := at(interp.Point{}, 80, 0)
		ops := polyline(v, interp.Point{}, corner, at(corner, 80, phi))
		sin, cos := math.Sincos(phi * deg)
		speed := math.Min(v, math.Min(5/(1-cos), 3/sin))
		want := leg(80, 0, v, speed, a) + leg(80, speed, v, 0, along(a, phi))
		if got, _ := run(m, ops); !near(got.Total, want) {
			t.Errorf("%g degrees: %.12g s, want %.12g", phi, got.Total, want)
		}
		if got, _ := run(m, in(exactPath, ops...)); !near(got.Total, leg(80, 0, v, 0, a)+leg(80, 0, v, 0, along(a, phi))) {
			t.Errorf("%g degrees, exact path: %.12g s", phi, got.Total)
		}
	}
	// A rotary axis that starts along has a step of its own.
	m.Axes.A = &profiles.Axis{Rapid: 360, CornerStep: 18}
	ops := []interp.Op{feedTo(interp.Point{}, interp.Point{80}, v), feedTo(interp.Point{80}, interp.Point{0: 160, 3: 72}, v)}
	if got, _ := run(m, ops); !near(got.Total, leg(80, 0, v, 20, a)+leg(80, 20, v, 0, a)) {
		t.Errorf("A starts along: %g s", got.Total)
	}
}

// Backlash that the control takes out is taken up from rest to rest where an axis turns back.
func TestBacklash(t *testing.T) {
	const v, a, slack = 20.0, 500.0, 0.05
	m := mill(100, 100, a)
	m.Axes.X.Backlash = slack
	m.Axes.Y.Backlash = 4 * slack
	x, y := 2*math.Sqrt(slack/a), 2*math.Sqrt(4*slack/a)
	p := func(x, y float64) interp.Point { return interp.Point{x, y} }
	arc := func(from interp.Point, cw bool, sweep float64) interp.Op {
		return arcFrom(from, interp.Point{}, cw, sweep, 0, v)
	}
	circle, half := arc(p(10, 0), false, 2*math.Pi), arc(p(10, 0), true, math.Pi)
	for _, test := range []struct {
		name string
		ops  []interp.Op
		want float64
	}{
		{"nobody knows which way X went before", polyline(v, p(0, 0), p(9, 0)), 0},
		{"on and on", polyline(v, p(0, 0), p(9, 0), p(20, 0)), 0},
		{"back", polyline(v, p(0, 0), p(9, 0), p(0, 0)), x},
		{"back, with Y between", polyline(v, p(0, 0), p(9, 0), p(9, 5), p(0, 5)), x},
		{"both back", polyline(v, p(0, 0), p(9, 9), p(0, 0)), y},
		{"Z has none", polyline(v, interp.Point{}, interp.Point{2: 9}, interp.Point{}), 0},
		{"in a circle X turns once within, Y twice", []interp.Op{circle}, x + 2*y},
		{"a second circle begins with X back", []interp.Op{circle, circle}, 2*(x+2*y) + x},
		{"half a circle clockwise: X never, Y once", []interp.Op{half}, y},
		{"the circle after X+", []interp.Op{feedTo(p(5, 0), p(10, 0), v), circle}, x + x + 2*y},
		{"the circle after X-", []interp.Op{feedTo(p(15, 0), p(10, 0), v), circle}, x + 2*y},
		{"after a circle Y+, X-", []interp.Op{circle, feedTo(p(10, 0), p(9, 9), v)}, x + 2*y + x},
		{"after half a circle clockwise Y-", []interp.Op{half, feedTo(p(-10, 0), p(-10, -9), v)}, y + y},
		{"ten turns", []interp.Op{arc(p(10, 0), false, 20*math.Pi)}, 19*x + 20*y},
	} {
		got, _ := run(m, test.ops)
		if math.Abs(got.Lost[ByBacklash]-test.want) > 1e-12 {
			t.Errorf("%s: %.9g s, want %.9g", test.name, got.Lost[ByBacklash], test.want)
		}
	}
}

// A thread begins when the spindle has come round to its mark: half a turn on
// average.
func TestThreadWaitsForTheSpindle(t *testing.T) {
	m := mill(100, 100, 500)
	pass := feedTo(interp.Point{2: 30}, interp.Point{}, 10)
	pass.Synchron, pass.Lead, pass.PerRev = true, 1.5, 1.5 // 400 rpm: 0.15 s a turn
	plain := pass
	plain.Synchron, plain.Lead = false, 0
	thread, all := run(m, []interp.Op{pass})
	feed, _ := run(m, []interp.Op{plain})
	if !near(thread.Total, feed.Total+0.075) || !near(thread.Lost[BySpindle], 0.075) || all[0].Limit != BySpindle {
		t.Errorf("%g s, a plain feed %g: %+v", thread.Total, feed.Total, all[0])
	}
}

// A program that comes over a link at 1200 characters a second cannot go faster
// than that, once what the control holds is used up.
func TestDripFeed(t *testing.T) {
	points := make([]interp.Point, 1001)
	for i := range points {
		points[i][0] = 0.1 * float64(i)
	}
	ops := polyline(20, points...)
	for _, test := range []struct {
		rate, buffer, block float64
		want                float64
		by                  Limit
	}{
		{1200, 1200, 0, (20000 - 1200) / 1200.0, ByLink},     // 1000 blocks of 20 characters, less what is held
		{1e6, 1200, 0, 5, ByFeed},                            // 0.1 mm at 20 mm/s
		{1200, 1e6, 0, 5, ByFeed},                            // all of it is held
		{1200, 1200, 0.012, (20000 - 1200) / 1200.0, ByLink}, // the control would be faster
		{1200, 1200, 0.02, 1000*0.02 - 0.02, ByBlockTime},    // the control is slower
	} {
		m := mill(100, 100, 0)
		m.Control = control(1, test.block, 0)
		m.Control.Memory = 10000
		m.Control.Link = profiles.Link{Baud: 10 * int(test.rate), Bits: 10, Buffer: profiles.Size(test.buffer)}
		c := NewClock(m, nil)
		c.Load(20000)
		for i := range ops {
			c.Block(20)
			c.Op(&ops[i])
		}
		got := c.Finish()
		if math.Abs(got.Total-test.want) > 0.01 || test.by != ByFeed && most(&got) != test.by {
			t.Errorf("%+v: %g s, want %g by %v", test, got.Total, test.want, most(&got))
		}
		// What fits into the memory does not come over the link, unless all does.
		for _, drip := range []bool{false, true} {
			m.Control.Drip = drip
			c = NewClock(m, nil)
			c.Load(10000)
			for i := range ops {
				c.Block(20)
				c.Op(&ops[i])
			}
			if fits := c.Finish(); (fits.Lost[ByLink] > 0) != (drip && test.by == ByLink) {
				t.Errorf("%+v, drip-fed %v: %g s by the link", test, drip, fits.Lost[ByLink])
			}
		}
	}
}
