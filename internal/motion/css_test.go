package motion

import (
	"math"
	"testing"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// simpson integrates f from a to b with an even number of intervals.
func simpson(f func(float64) float64, a, b float64, n int) float64 {
	h := (b - a) / float64(n)
	sum := f(a) + f(b)
	for i := 1; i < n; i++ {
		w := 2.0
		if i%2 == 1 {
			w = 4
		}
		sum += w * f(a+float64(i)*h)
	}
	return sum * h / 3
}

// surfaced is a feed move under constant surface speed from z, x to z, x (mm), at
// vc m/min and f mm a revolution.
func surfaced(law interp.SpeedLaw, f, z0, x0, z1, x1 float64) *interp.Op {
	op := &interp.Op{Kind: interp.Feed, PerRev: f, Turn: law, Moves: interp.X | interp.Z,
		FromKnown: interp.XYZ, ToKnown: interp.XYZ, State: &interp.State{Path: profiles.Continuous}}
	op.From[0], op.From[2] = x0, z0
	op.To[0], op.To[2] = x1, z1
	op.Length = math.Hypot(x1-x0, z1-z0)
	op.Feed = f * law.At(math.Abs(x0)) / 60
	return op
}

const metre = 1000.0 / 60 // mm/s in 1 m/min

// n = 1000*vc/(pi*D) and v = f*n (handbooks, from memory): the times follow by
// hand.
func TestTurnedTimeByHand(t *testing.T) {
	free := interp.SpeedLaw{Surface: 120 * metre, Highest: 1e6}
	for _, c := range []struct {
		name string
		op   *interp.Op
		want float64
	}{
		// 100 mm of 50 diameter: n = 763.944 rpm, 0.2 mm a revolution: 152.789 mm/min.
		{"cylinder", surfaced(free, 0.2, 0, 25, -100, 25), 100 / (0.2 * 1000 * 120 / (math.Pi * 50)) * 60},
		// t = pi*(r0^2-r1^2)/(f*vc)
		{"facing a ring", surfaced(free, 0.2, 0, 60, 0, 20), math.Pi * (60*60 - 20*20) / (0.2 * 120 * metre)},
		// A taper has the mean of its two radii along its length.
		{"taper", surfaced(free, 0.2, 0, 20, -40, 50), math.Hypot(30, 40) / (0.2 * 1000 * 120 / (math.Pi * 70)) * 60},
		// Clamped at 1500 rpm within r = 12.7324 mm: the ring, and then 0.2*1500/60 = 5 mm/s.
		{"facing to the centre with a clamp", surfaced(interp.SpeedLaw{Surface: 120 * metre, Highest: 1500}, 0.2, 0, 60, 0, 0),
			math.Pi*(60*60-rc*rc)/(0.2*120*metre) + rc/5},
		{"all of it clamped", surfaced(interp.SpeedLaw{Surface: 120 * metre, Highest: 500}, 0.2, 0, 20, 0, 0), 20 / (0.2 * 500 / 60)},
		{"beyond the centre line", surfaced(interp.SpeedLaw{Surface: 120 * metre, Highest: 1500}, 0.2, 0, 10, 0, -1), 11 / 5.0},
		{"the gear's lowest outside", surfaced(interp.SpeedLaw{Surface: 120 * metre, Lowest: 600, Highest: 2800}, 0.2, 0, 60, 0, 50), 10 / (0.2 * 600 / 60)},
	} {
		got := turnedTime(c.op, c.op.Length)
		if math.Abs(got-c.want) > 1e-9*c.want {
			t.Errorf("%s: %.12g s, want %.12g", c.name, got, c.want)
		}
	}
}

const rc = 1000 * 120 / (2 * math.Pi * 1500) // mm

// Every path against Simpson's rule, with the corners of 1/n left to a fine step.
func TestTurnedTimeBySimpson(t *testing.T) {
	laws := []interp.SpeedLaw{
		{Surface: 120 * metre, Highest: 1e6},
		{Surface: 120 * metre, Lowest: 30, Highest: 1500},
		{Surface: 200 * metre, Lowest: 600, Highest: 2800},
	}
	const n = 400_000
	for _, law := range laws {
		for _, c := range [][4]float64{{0, 80, 0, 1}, {0, 25, -50, 25}, {0, 12, -30, 44}, {0, 70, -3, 5}} {
			op := surfaced(law, 0.15, c[0], c[1], c[2], c[3])
			want := simpson(func(u float64) float64 {
				return 60 * op.Length / (0.15 * law.At(math.Abs(op.From[0]+u*(op.To[0]-op.From[0]))))
			}, 0, 1, n)
			if got := turnedTime(op, op.Length); math.Abs(got-want) > 1e-9*want {
				t.Errorf("%+v along %v: %.12g s, Simpson %.12g", law, c, got, want)
			}
		}
		for _, c := range []struct {
			start, sweep, radius, x float64
			cw                      bool
		}{
			{0, math.Pi / 2, 10, 20, false}, {0, math.Pi / 2, 10, 20, true}, {1, 3, 18, 20, false},
			{math.Pi, math.Pi, 30, 35, true}, {0.3, 6, 7, 40, false}, {0, math.Pi / 2, 40, 0, false},
		} {
			op := surfaced(law, 0.15, 0, 0, 0, 0)
			way := 1.0
			if c.cw {
				way = -1
			}
			place := func(a float64) (z, x float64) {
				return c.radius * math.Cos(c.start+way*a), c.x + c.radius*math.Sin(c.start+way*a)
			}
			op.Kind, op.Plane, op.CW, op.Turns, op.Radius, op.Sweep = interp.Arc, interp.ZX, c.cw, 1, c.radius, c.sweep
			op.Center[0] = c.x
			op.From[2], op.From[0] = place(0)
			op.To[2], op.To[0] = place(c.sweep)
			op.Length = c.radius * c.sweep
			want := simpson(func(a float64) float64 {
				_, x := place(a)
				return 60 * c.radius / (0.15 * law.At(math.Abs(x)))
			}, 0, c.sweep, n)
			if got := turnedTime(op, op.Length); math.Abs(got-want) > 1e-9*want {
				t.Errorf("%+v around %+v: %.12g s, Simpson %.12g", law, c, got, want)
			}
		}
	}
}

// The planner takes the mean: on a machine without limits of the axes a move
// takes the closed form's time.
func TestPlannerTakesTheMean(t *testing.T) {
	m := &profiles.Machine{}
	op := surfaced(interp.SpeedLaw{Surface: 120 * metre, Highest: 1500}, 0.2, 0, 60, 0, 0)
	c := NewClock(m, nil)
	c.Op(op)
	want := turnedTime(op, op.Length)
	if got := c.Finish().Cutting; math.Abs(got-want) > 1e-12*want {
		t.Errorf("%g s, want %g", got, want)
	}
}

// A bar feed is other time, and a turret leaves the spindle as it is.
func TestAuxiliaryAndTurret(t *testing.T) {
	m := &profiles.Machine{}
	m.Spindle.Start, m.Spindle.Stop = 3, 4
	m.Tools.ChangeTime = 2
	c := NewClock(m, nil)
	s := &interp.State{Spindle: interp.SpindleCW, Speed: 500}
	c.Op(&interp.Op{Kind: interp.Spindle, State: s})
	c.Op(&interp.Op{Kind: interp.Tool, State: s, Turret: true})
	c.Op(&interp.Op{Kind: interp.Auxiliary, Seconds: 6, State: s})
	got := c.Finish()
	if got.Spindle != 3 || got.ToolChange != 2 || got.Other != 6 || got.Total != 11 {
		t.Errorf("%+v", got)
	}
}
