package motion

import (
	"math"
	"testing"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// rest is the time from rest to rest over d at no more than v with the
// acceleration a (any mechanics text).
func rest(d, v, a float64) float64 {
	if d >= v*v/a {
		return d/v + v/a
	}
	return 2 * math.Sqrt(d/a)
}

func TestOneMove(t *testing.T) {
	uneven := mill(0, 0, 0)
	uneven.Axes.X = &profiles.Axis{Rapid: 40, Feed: 10, Acceleration: 300}
	uneven.Axes.Y = &profiles.Axis{Rapid: 40, Feed: 20, Acceleration: 100}
	uneven.Axes.Z = &profiles.Axis{Rapid: 40, Acceleration: 50}
	bounded := mill(100, 100, 500)
	bounded.Feed.Greatest = 15
	bounded.Axes.A = &profiles.Axis{Rapid: 36, Acceleration: 90}
	table := mill(100, 100, 0)
	table.Axes.A = &profiles.Axis{Rapid: 36, Acceleration: 90}

	p := func(x, y, z float64) interp.Point { return interp.Point{x, y, z} }
	for _, test := range []struct {
		name string
		m    *profiles.Machine
		op   interp.Op
		want float64
	}{
		{"line, trapezoid", mill(100, 100, 500), feedTo(p(0, 0, 0), p(100, 0, 0), 20), rest(100, 20, 500)},
		{"line, just a triangle", mill(100, 100, 500), feedTo(p(0, 0, 0), p(0, 0.8, 0), 20), rest(0.8, 20, 500)},
		{"line, triangle", mill(100, 100, 500), feedTo(p(0, 0, 0), p(0, 0, -0.5), 20), rest(0.5, 20, 500)},
		{"line in space", mill(0, 0, 0), feedTo(p(1, 2, 3), p(3, 5, 9), 3.5), 2},
		{"one least increment", mill(100, 100, 500), feedTo(p(0, 0, 0), p(0.001, 0, 0), 20), rest(0.001, 20, 500)},
		{"far from zero", mill(100, 100, 500), feedTo(p(1000, 0, 0), p(1100, 0, 0), 20), rest(100, 20, 500)},
		{"traverse", mill(100, 50, 500), traverse(p(0, 0, 0), p(30, 0, 0)), rest(30, 100, 500)},
		{"traverse on a diagonal: each axis at its rapid", mill(100, 50, 500), traverse(p(0, 0, 0), p(30, 30, 0)), rest(30, 100, 500)},
		{"feed over the axes' limit", mill(100, 50, 500), feedTo(p(0, 0, 0), p(30, 0, 0), 80), rest(30, 50, 500)},
		{"feed over the control's limit", bounded, feedTo(p(0, 0, 0), p(30, 0, 0), 80), rest(30, 15, 500)},
		// Unit direction 0.6, 0.8: speed 10/0.6 or 20/0.8, acceleration 300/0.6 or 100/0.8.
		{"diagonal of uneven axes", uneven, feedTo(p(0, 0, 0), p(30, 40, 0), 99), rest(50, 10/0.6, 125)},
		{"axis without a feed limit: its rapid", uneven, feedTo(p(0, 0, 0), p(0, 0, 80), 99), rest(80, 40, 50)},
		{"no acceleration given", mill(100, 100, 0), feedTo(p(0, 0, 0), p(30, 0, 0), 20), 1.5},
		{"no rapid given: not known", mill(0, 100, 500), traverse(p(0, 0, 0), p(30, 0, 0)), 0},
		{"no F: the axes' limit", mill(100, 50, 500), feedTo(p(0, 0, 0), p(30, 0, 0), 0), rest(30, 50, 500)},
		{"nothing known", mill(0, 0, 0), feedTo(p(0, 0, 0), p(30, 0, 0), 0), 0},
		{"no length", mill(100, 100, 500), feedTo(p(5, 5, 5), p(5, 5, 5), 20), 0},

		{"rotary axis alone: degrees", table, feedTo(p(0, 0, 0), interp.Point{3: 180}, 20), rest(180, 20, 90)},
		{"rotary axis alone: the control's limit is in mm", bounded, feedTo(p(0, 0, 0), interp.Point{3: 180}, 20), rest(180, 20, 90)},
		{"rotary axis alone, traverse", table, traverse(p(0, 0, 0), interp.Point{3: -180}), rest(180, 36, 90)},
		{"rotary axis along: the feed is along X", table, feedTo(p(0, 0, 0), interp.Point{0: 100, 3: 9}, 20), rest(100, 20, 1000)},
		{"rotary axis along: its limit", table, feedTo(p(0, 0, 0), interp.Point{0: 10, 3: 360}, 20), rest(10, 1, 2.5)},
	} {
		got, all := run(test.m, []interp.Op{test.op})
		if !near(got.Total, test.want) {
			t.Errorf("%s: %.12g s, want %.12g", test.name, got.Total, test.want)
		}
		if test.op.Kind == interp.Traverse && got.Total != got.Rapid || test.op.Kind != interp.Traverse && got.Total != got.Cutting {
			t.Errorf("%s: on the wrong account: %+v", test.name, got)
		}
		if got.UnknownMoves != 0 {
			t.Errorf("%s: unknown", test.name)
		}
		if test.want > 0 && (len(all) != 1 || !near(all[0].Seconds, test.want)) {
			t.Errorf("%s: shown as %+v", test.name, all)
		}
	}
}

func TestUnknownPlaces(t *testing.T) {
	m := mill(100, 100, 0)
	// 30, 40, 120 long in work coordinates, a tenth of that in machine coordinates
	// to tell them apart.
	known := func(from, to, fromMachine, toMachine interp.AxisSet) interp.Op {
		op := feedTo(interp.Point{}, interp.Point{30, 40, 120}, 10)
		op.FromMachine, op.ToMachine = interp.Point{1, 1, 1}, interp.Point{4, 5, 13}
		op.FromKnown, op.ToKnown, op.FromMachineKnown, op.ToMachineKnown = from, to, fromMachine, toMachine
		return op
	}
	const all = interp.XYZ
	for _, test := range []struct {
		name    string
		op      interp.Op
		want    float64
		unknown int
	}{
		{"all known", known(all, all, 0, 0), 13, 0},
		{"by machine coordinates", known(0, 0, all, all), 1.3, 0},
		{"home: from work unknown, X by machine", known(interp.Y|interp.Z, all, all, all), math.Sqrt(3*3+40*40+120*120) / 10, 0},
		{"Z unknown", known(interp.X|interp.Y, all, 0, 0), 5, 1},
		{"Z unknown at the end", known(all, interp.X|interp.Y, all, 0), 5, 1},
		{"nothing known", known(0, all, all, 0), 0, 1},
	} {
		got, _ := run(m, []interp.Op{test.op})
		if !near(got.Total, test.want) || got.UnknownMoves != test.unknown {
			t.Errorf("%s: %g s and %d unknown, want %g and %d", test.name, got.Total, got.UnknownMoves, test.want, test.unknown)
		}
	}
}

func TestOutOfThisWorld(t *testing.T) {
	huge := math.MaxFloat64
	arc := arcFrom(interp.Point{1}, interp.Point{}, false, 1, 0, 10)
	far, flat, negative := arc, arc, arc
	far.From[0], far.Center[0] = huge, -huge
	flat.Center = flat.From
	negative.Radius, negative.Sweep = -1, -1
	turning := feedTo(interp.Point{}, interp.Point{3: huge}, 10)
	along := turning
	along.To[0] = 1
	for name, op := range map[string]interp.Op{
		"line": feedTo(interp.Point{-huge}, interp.Point{huge}, 10), "not a number": feedTo(interp.Point{}, interp.Point{math.NaN()}, 10),
		"centre": far, "no radius": flat, "negative radius": negative, "degrees": turning, "degrees along": along,
	} {
		m := mill(100, 100, 500)
		m.Axes.A = &profiles.Axis{Rapid: 36, Acceleration: 90}
		if got, all := run(m, []interp.Op{op}); got.Total != 0 || got.UnknownMoves != 1 || len(all) != 0 {
			t.Errorf("%s: %+v", name, got)
		}
	}
	slow := feedTo(interp.Point{}, interp.Point{1e9}, 5e-324)
	if got, _ := run(mill(100, 100, 500), []interp.Op{slow}); got.Total != longest {
		t.Errorf("no end of time: %+v", got)
	}
}
