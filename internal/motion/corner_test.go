package motion

import (
	"fmt"
	"math"
	"testing"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// leg is the time over d from speed v0 to v1 by way of the full speed v, which
// is reached.
func leg(d, v0, v, v1, a float64) float64 {
	cruise := d - (v*v-v0*v0)/(2*a) - (v*v-v1*v1)/(2*a)
	return (v-v0)/a + cruise/v + (v-v1)/a
}

// at is the point at a distance and an angle, in degrees, from another.
func at(p interp.Point, d, angle float64) interp.Point {
	sin, cos := math.Sincos(angle * math.Pi / 180)
	return interp.Point{p[0] + d*cos, p[1] + d*sin, p[2]}
}

// along is the acceleration in a direction of axes that have a each.
func along(a, angle float64) float64 {
	sin, cos := math.Sincos(angle * math.Pi / 180)
	return a / math.Max(math.Abs(sin), math.Abs(cos))
}

func TestCornerSpeed(t *testing.T) {
	const a, feed, e = 500.0, 40.0, 0.05
	m := mill(100, 100, a)
	m.Control = control(10, 0, e)
	for _, phi := range []float64{2, 10, 30, 45, 60, 90, 120, 150, 170} {
		corner := at(interp.Point{}, 80, 0)
		ops := polyline(feed, interp.Point{}, corner, at(corner, 80, phi))
		// The arc inscribed in a corner stays e from it: plane geometry.
		half := phi / 2 * math.Pi / 180
		r := e * math.Cos(half) / (1 - math.Cos(half))
		v := math.Min(feed, math.Sqrt(a*r))
		want := leg(80, 0, feed, v, a) + leg(80, v, feed, 0, along(a, phi))
		got, all := run(m, ops)
		if !near(got.Total, want) {
			t.Errorf("%g degrees: %.12g s, want %.12g", phi, got.Total, want)
		}
		if all[0].Top != feed {
			t.Errorf("%g degrees: top speed %g, want %g", phi, all[0].Top, feed)
		}
	}
}

func TestCornerOfSlowerAxis(t *testing.T) {
	// Only axes whose share of the direction changes count: Z is slow and does
	// not turn, then it is one of those that do.
	m := mill(100, 100, 500)
	m.Axes.Z.Acceleration = 80
	m.Control = control(10, 0, 0.05)
	r := 0.05 * math.Sqrt2 / 2 / (1 - math.Sqrt2/2)
	for _, test := range []struct {
		name     string
		via, to  interp.Point
		a1, a2   float64
		inCorner float64
	}{
		{"X to Y", interp.Point{80}, interp.Point{80, 80}, 500, 500, 500},
		{"X to Z", interp.Point{80}, interp.Point{80, 0, 80}, 500, 80, 80},
		{"Z to Y", interp.Point{0, 0, 80}, interp.Point{0, 80, 80}, 80, 500, 80},
	} {
		v := math.Sqrt(test.inCorner * r)
		want := leg(80, 0, 40, v, test.a1) + leg(80, v, 40, 0, test.a2)
		if got, _ := run(m, polyline(40, interp.Point{}, test.via, test.to)); !near(got.Total, want) {
			t.Errorf("%s: %g s, want %g", test.name, got.Total, want)
		}
	}
}

func TestCornerOfShortMoves(t *testing.T) {
	// Chords of a circle of radius R: the greatest inscribed arc that fits is
	// that of the inscribed circle, R*cos(phi/2). The tolerance would allow more.
	const a, R, n = 500.0, 1.0, 40
	m := mill(100, 100, a)
	m.Control = control(1000, 0, 1)
	points := []interp.Point{at(interp.Point{}, R, 0)}
	for i := 1; i <= 4*n; i++ {
		points = append(points, at(interp.Point{}, R, 360*float64(i)/n))
	}
	_, all := run(m, polyline(90, points...))
	chord := 2 * R * math.Sin(math.Pi/n)
	v2 := a * R * math.Cos(math.Pi/n)
	// Up and down again within a chord: the one that leaves 3 o'clock.
	path := along(a, 90+180.0/n)
	want := 2 * (math.Sqrt(v2+path*chord) - math.Sqrt(v2)) / path
	if got := all[2*n].Seconds; !near(got, want) {
		t.Errorf("a chord takes %.12g s, want %.12g", got, want)
	}
}

func TestStops(t *testing.T) {
	const a, v = 500.0, 20.0
	square := []interp.Point{{}, {5}, {5, 5}, {0, 5}, {}}
	straight := []interp.Point{{}, {5}, {10}, {15}, {20}}
	stairs := 4 * rest(5, v, a)
	through := rest(20, v, a)
	const small = 0.05 // degrees: 0.9 thousandths of a radian
	bevel := []interp.Point{{}, {5}, at(interp.Point{5}, 15, small)}
	for _, test := range []struct {
		name      string
		state     *interp.State
		ahead     int
		corner    string
		tolerance float64
		points    []interp.Point
		want      float64
	}{
		{"exact stop at corners", exactStop, 10, "tolerance", 0.1, square, stairs},
		{"exact stop on a straight line", exactStop, 10, "tolerance", 0.1, straight, stairs},
		{"exact path stops at corners", exactPath, 10, "tolerance", 0.1, square, stairs},
		{"exact path goes straight on", exactPath, 10, "tolerance", 0.1, straight, through},
		{"exact path: a thousandth is straight", exactPath, 10, "tolerance", 0.1, bevel, leg(5, 0, v, v, a) + leg(15, v, v, 0, along(a, small))},
		{"a control that stops at corners", continuous, 10, "stop", 0.1, square, stairs},
		{"a control that stops at corners goes straight on", continuous, 10, "stop", 0, straight, through},
		{"nothing said of corners: stop", continuous, 10, "", 0.1, square, stairs},
		{"no tolerance given", continuous, 10, "tolerance", 0, square, stairs},
		{"no look-ahead", continuous, 0, "tolerance", 0.1, straight, stairs},
		{"continuous, straight", continuous, 10, "tolerance", 0.1, straight, through},
		{"there and back", continuous, 10, "tolerance", 0.1, []interp.Point{{}, {5}, {}, {5}, {}}, stairs},
		{"path mode not known", &interp.State{}, 10, "stop", 0, straight, through},
	} {
		m := mill(100, 100, a)
		m.Control = profiles.Control{LookAhead: test.ahead, Corner: test.corner, CornerTolerance: profiles.Length(test.tolerance)}
		got, _ := run(m, in(test.state, polyline(v, test.points...)...))
		if !near(got.Total, test.want) {
			t.Errorf("%s: %.12g s, want %.12g", test.name, got.Total, test.want)
		}
	}
}

func TestModeOfEitherMove(t *testing.T) {
	const a, v = 500.0, 20.0
	m := mill(100, 100, a)
	m.Control = control(10, 0, 0.1)
	stairs, through := 2*rest(5, v, a), rest(10, v, a)
	states := map[string]*interp.State{"continuous": continuous, "exact path": exactPath, "exact stop": exactStop}
	for first, a := range states {
		for second, b := range states {
			// The block that ends with an exact stop asks for the stop; a corner
			// is cut where both moves allow it.
			ops := polyline(v, interp.Point{}, interp.Point{5}, interp.Point{10})
			ops[0].State, ops[1].State = a, b
			want := through
			if a == exactStop {
				want = stairs
			}
			if got, _ := run(m, ops); !near(got.Total, want) {
				t.Errorf("%s to %s, straight: %g s, want %g", first, second, got.Total, want)
			}
			ops = polyline(v, interp.Point{}, interp.Point{5}, interp.Point{5, 5})
			ops[0].State, ops[1].State = a, b
			if got, _ := run(m, ops); near(got.Total, stairs) == (a == continuous && b == continuous) {
				t.Errorf("%s to %s, corner: %g s", first, second, got.Total)
			}
		}
	}
}

func TestTangentArc(t *testing.T) {
	// A slot: line, half circle, line, half circle, all tangent: one path.
	const a, v, r = 500.0, 20.0, 5.0
	m := mill(100, 100, a)
	m.Control = control(10, 0, 0.01)
	for _, cw := range []bool{false, true} {
		side := 1.0
		if cw {
			side = -1
		}
		ops := []interp.Op{
			feedTo(interp.Point{}, interp.Point{30}, v),
			arcFrom(interp.Point{30}, interp.Point{30, side * r}, cw, math.Pi, 0, v),
			feedTo(interp.Point{30, 2 * side * r}, interp.Point{0, 2 * side * r}, v),
			arcFrom(interp.Point{0, 2 * side * r}, interp.Point{0, side * r}, cw, math.Pi, 0, v),
		}
		want := rest(60+2*math.Pi*r, v, a)
		for name, state := range map[string]*interp.State{"continuous": continuous, "exact path": exactPath} {
			if got, _ := run(m, in(state, ops...)); math.Abs(got.Total-want) > 1e-4 {
				t.Errorf("cw %v, %s: %g s, want %g", cw, name, got.Total, want)
			}
		}
		// The wrong way round the end it is a corner of a half turn.
		wrong := ops[:2:2]
		wrong[1].CW = !cw
		if got, _ := run(m, wrong); math.Abs(got.Total-rest(30, v, a)-rest(math.Pi*r, v, a)) > 1e-3 {
			t.Errorf("cw %v: no stop at a half turn: %g s", cw, got.Total)
		}
	}
}

func TestSlowerMoveAhead(t *testing.T) {
	// 100 mm at 30 mm/s, then 100 at 10: at the junction the speed is 10.
	const a = 500.0
	m := mill(100, 100, a)
	m.Control = control(10, 0, 0.01)
	ops := []interp.Op{
		feedTo(interp.Point{}, interp.Point{100}, 30),
		feedTo(interp.Point{100}, interp.Point{200}, 10),
	}
	want := leg(100, 0, 30, 10, a) + leg(100, 10, 10, 0, a)
	if got, _ := run(m, ops); !near(got.Total, want) {
		t.Errorf("%g s, want %g", got.Total, want)
	}
}

func TestStopBetween(t *testing.T) {
	const a, v = 500.0, 20.0
	m := mill(v, v, a)
	m.Control = control(10, 0, 0.1)
	one, two := feedTo(interp.Point{}, interp.Point{5}, v), feedTo(interp.Point{5}, interp.Point{10}, v)
	still := feedTo(interp.Point{5}, interp.Point{5}, v)
	still.Moves = interp.X
	halfKnown := feedTo(interp.Point{5}, interp.Point{10, 0, 1}, v)
	halfKnown.FromKnown = interp.X
	three := feedTo(interp.Point{10}, interp.Point{15}, v)
	unknown := feedTo(interp.Point{5}, interp.Point{5, 1}, v)
	unknown.FromKnown = interp.X
	for _, test := range []struct {
		name string
		ops  []interp.Op
		want float64
	}{
		{"nothing", []interp.Op{one, two}, rest(10, v, a)},
		{"a feed to where it is", []interp.Op{one, still, two}, rest(10, v, a)},
		{"coolant", []interp.Op{one, {Kind: interp.Coolant, State: continuous}, two}, 2 * rest(5, v, a)},
		{"an optional stop", []interp.Op{one, {Kind: interp.Stop, StopKind: interp.OptionalStop, State: continuous}, two}, 2 * rest(5, v, a)},
		{"a rapid", []interp.Op{one, traverse(interp.Point{5}, interp.Point{10})}, 2 * rest(5, v, a)},
		{"two rapids", []interp.Op{traverse(interp.Point{}, interp.Point{5}), traverse(interp.Point{5}, interp.Point{10})}, rest(10, v, a)},
		{"a move from an unknown height", []interp.Op{one, halfKnown, three}, 3 * rest(5, v, a)},
		{"a move from nowhere", []interp.Op{one, unknown, two}, 2 * rest(5, v, a)},
	} {
		if got, _ := run(m, test.ops); !near(got.Total, test.want) {
			t.Errorf("%s: %g s, want %g", test.name, got.Total, test.want)
		}
	}
}

func TestRotaryAtJunctions(t *testing.T) {
	// X goes on at 20 mm/s while A starts to turn along, 9 degrees a mm. It has
	// 2 mm before and 2 behind the junction: v^2 <= 4 * 90 / 9.
	m := mill(100, 100, 0)
	m.Axes.A = &profiles.Axis{Rapid: 360, Acceleration: 90}
	m.Control = control(10, 0, 0.1)
	l := newLimits(m)
	take := func(state *interp.State, from, to interp.Point) *path {
		op := feedTo(from, to, 20)
		op.State = state
		p := &path{}
		if !p.take(&op, &l) {
			t.Fatal("not a move")
		}
		p.first = p.speed * p.speed
		p.last = p.first
		return p
	}
	var o interp.Point
	alone, back := interp.Point{3: 30}, interp.Point{3: -30}
	y := interp.Point{1: 4}
	touch := 0.1 * (1 + math.Sqrt2/2) / (math.Sqrt2 / 2) // e*(1+cos)/sin of half a right angle
	x, xa, xa2 := interp.Point{4}, interp.Point{0: 4, 3: 36}, interp.Point{0: 8, 3: 72.01}
	for _, test := range []struct {
		name   string
		state  *interp.State
		to1    interp.Point
		to2    interp.Point
		square float64
	}{
		{"A starts along", continuous, x, xa, 40},
		{"A stops in a corner: over the arc in it", continuous, xa, y, 2 * touch * 90 / 9},
		{"A stops", continuous, xa, x, 40},
		{"A starts, exact path", exactPath, x, xa, 0},
		{"A goes on", exactPath, xa, xa2, 400},
		{"A alone goes on", exactPath, alone, alone, 400},
		{"A alone turns back", continuous, alone, back, 0},
		{"A alone, then X", continuous, alone, x, 0},
	} {
		c := newCorners(m)
		a, b := take(test.state, o, test.to1), take(test.state, o, test.to2)
		got, _ := c.junction(a, b, &l)
		if !near(got, test.square) {
			t.Errorf("%s: squared speed %g, want %g", test.name, got, test.square)
		}
	}
}

// Chords in a line are the line, if the control sees far enough. With a look-
// ahead of n chords of length h and no other limit the speed at the end of chord
// i of m is the root of 2*a*h times the least of i, n and m-i: it has to be able
// to stop within n chords, and at the end of the last.
func TestLookAhead(t *testing.T) {
	const a, h, m = 500.0, 0.2, 400
	points := make([]interp.Point, m+1)
	for i := range points {
		points[i][0] = h * float64(i)
	}
	machine := mill(0, 0, a)
	for _, n := range []int{0, 1, 2, 3, 24, 150, 199, 200, 399, 400, 1000, 100000} {
		t.Run(fmt.Sprint(n), func(t *testing.T) {
			machine.Control = control(n, 0, 0)
			got, _ := run(machine, polyline(1e6, points...))
			var want float64
			switch {
			case n == 0:
				want = m * rest(h, 1e6, a)
			case n >= m/2:
				want = rest(h*m, 1e6, a)
			default:
				// n chords of pure acceleration and as many to stop; in each of
				// the others half a chord up, half a chord down.
				root := math.Sqrt(2 * h / a)
				k := float64(n)
				want = root * (2*math.Sqrt(k) + (m-2*k)*2*(math.Sqrt(k+0.5)-math.Sqrt(k)))
			}
			if !near(got.Total, want) {
				t.Errorf("%.12g s, want %.12g", got.Total, want)
			}
		})
	}
}

// A control with no end of look-ahead is taken to see farLook moves ahead. On
// chords of five thousandths of a millimetre, at a speed from which it takes ten
// thousand of them to stop, that loses less than a hundredth of a per cent against
// a window that holds the whole program.
func TestFarLook(t *testing.T) {
	const n, feed, accel = 3 * farLook, 100, 100
	m := mill(feed, feed, accel)
	m.Control = control(1<<30, 0, 0.01)
	far := NewClock(m, nil)
	if len(far.window.ring) != farLook+1 {
		t.Fatalf("a window of %d moves", len(far.window.ring))
	}
	whole := NewClock(m, nil)
	whole.ahead, whole.window = n, newWindow(n+1)
	at := interp.Point{}
	for i := range n {
		to := at
		angle := math.Sin(float64(i)/7000) + math.Floor(float64(i)/40000) // a wave, with a corner now and then
		to[0] += 0.005 * math.Cos(angle)
		to[1] += 0.005 * math.Sin(angle)
		op := feedTo(at, to, feed)
		for _, c := range []*Clock{far, whole} {
			c.Block(20)
			c.Op(&op)
		}
		at = to
	}
	got, want := far.Finish().Total, whole.Finish().Total
	if got < want*(1-1e-12) || got > want*1.0001 {
		t.Errorf("%.9g s, %.9g with the whole program known", got, want)
	}
	if want < 1.1*n*0.005/feed { // else the test says nothing
		t.Errorf("%g s: nothing had to slow down", want)
	}
}
