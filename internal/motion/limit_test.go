package motion

import (
	"math"
	"testing"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// What holds the second move of a program back, and for how long.
func TestLimits(t *testing.T) {
	const a = 500.0
	fast := func(change func(*profiles.Machine)) *profiles.Machine {
		m := mill(100, 50, a)
		m.Control = control(10, 0, 0.01)
		change(m)
		return m
	}
	line := func(feed float64, to ...float64) []interp.Op {
		points := make([]interp.Point, len(to)+1)
		for i, x := range to {
			points[i+1][0] = x
		}
		return polyline(feed, points...)
	}
	ramp := func(v float64) float64 { return v / a / 2 } // lost on the way from rest to v
	full := arcFrom(interp.Point{0.5}, interp.Point{}, false, math.Pi, 0, 40)
	for _, test := range []struct {
		name string
		m    *profiles.Machine
		ops  []interp.Op
		want Limit
		lost float64 // NaN: some
	}{
		{"at its feed", fast(func(*profiles.Machine) {}), line(20, 10, 20, 30), ByFeed, 0},
		{"starting and stopping", fast(func(*profiles.Machine) {}), append([]interp.Op{traverse(interp.Point{}, interp.Point{9})}, line(20, 10)...), ByAcceleration, 2 * ramp(20)},
		{"an axis", fast(func(*profiles.Machine) {}), line(80, 100, 200, 300), ByAxis, 100.0/50 - 100.0/80},
		{"the greatest feed", fast(func(m *profiles.Machine) { m.Feed.Greatest = 10 }), line(20, 10, 20, 30), ByMachine, 0.5},
		{"an exact stop", fast(func(*profiles.Machine) {}), in(exactStop, line(20, 10, 20, 30)...), ByCorner, 2 * ramp(20)},
		{"a corner", fast(func(m *profiles.Machine) { m.Control.Corner = "stop" }),
			polyline(20, interp.Point{}, interp.Point{10}, interp.Point{10, 10}, interp.Point{}), ByCorner, 2 * ramp(20)},
		{"no look-ahead", fast(func(m *profiles.Machine) { m.Control.LookAhead = 0 }), line(20, 10, 20, 30), ByLookAhead, 2 * ramp(20)},
		{"little look-ahead", fast(func(m *profiles.Machine) { *m = *mill(1e3, 1e3, a); m.Control.LookAhead = 1 }), line(1e3, 1, 2, 3, 4, 5, 6, 7, 8, 9), ByLookAhead, math.NaN()},
		{"block time", fast(func(m *profiles.Machine) { m.Control = control(1, 0.5, 0) }), line(20, 1, 2, 3, 4), ByBlockTime, 0.5 - (1.0/20 + ramp(20))},
		{"an arc", fast(func(*profiles.Machine) {}), []interp.Op{full, full, full}, ByAcceleration, math.NaN()},
	} {
		got, all := run(test.m, test.ops)
		m := all[1]
		if m.Limit != test.want || math.Abs(m.Lost-test.lost) > 1e-12 {
			t.Errorf("%s: loses %.12g s by %v, want %.12g s by %v", test.name, m.Lost, m.Limit, test.lost, test.want)
		}
		if most(&got) != test.want && test.want != ByFeed {
			t.Errorf("%s: the times lose most by %v", test.name, most(&got))
		}
	}
}

// most is what most is lost by.
func most(t *Times) Limit {
	at := ByFeed
	for i := range NumLimits {
		if t.Lost[i] > t.Lost[at]+lossless {
			at = i
		}
	}
	return at
}

func TestBelowFeed(t *testing.T) {
	// From rest to rest at 20 mm/s: each ramp is below 18 mm/s for 18/500 s.
	m := mill(100, 100, 500)
	got, all := run(m, polyline(20, interp.Point{}, interp.Point{100}))
	if !near(got.BelowFeed, 2*18/500.0) || !near(got.Naive, 5) || all[0].Slow() {
		t.Errorf("a long move: %+v", got)
	}
	// A short one never comes to 18 mm/s.
	got, all = run(m, polyline(20, interp.Point{}, interp.Point{0.6}))
	if got.BelowFeed != got.Cutting || !all[0].Slow() {
		t.Errorf("a short move: %+v", got)
	}
	// An axis that is slower than 90 % of the feed is so all the time.
	got, all = run(mill(100, 100, 0), polyline(120, interp.Point{}, interp.Point{60}))
	if got.BelowFeed != got.Cutting || !all[0].Slow() {
		t.Errorf("a slow axis: %+v", got)
	}
	if got, _ = run(m, []interp.Op{traverse(interp.Point{}, interp.Point{60})}); got.BelowFeed != 0 || !near(got.Naive, 0.6) {
		t.Errorf("a traverse: %+v", got)
	}
}
