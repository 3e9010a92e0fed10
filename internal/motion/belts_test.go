package motion

import (
	"testing"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// Belts on a head with three steps, the last two of which share 900 to 1250 rpm.
// Between parts the belt goes back to where the program begins (common practice:
// where it lies at the start of the lot is set-up).
func TestBelts(t *testing.T) {
	m := shop()
	m.Spindle.Shift = "by-hand"
	m.Spindle.Gears = []profiles.SpindleGear{
		{Name: "slow", Speed: []profiles.Rotation{75, 380}},
		{Name: "middle", Speed: []profiles.Rotation{420, 1250}},
		{Name: "fast", Speed: []profiles.Rotation{900, 3600}},
	}
	const cw, ccw, off = interp.SpindleCW, interp.SpindleCCW, interp.SpindleOff
	tapping := spin(ccw, 3000)
	tapping.InCycle = true
	unknown := spin(cw, 3000)
	unknown.State.Unknown = interp.UnknownSpeed
	for _, c := range []struct {
		name string
		ops  []interp.Op
		want int
	}{
		{"no spindle", nil, 0},
		{"one speed", []interp.Op{spin(cw, 300), spin(off, 300), spin(cw, 300)}, 0},
		{"one step", []interp.Op{spin(cw, 100), spin(ccw, 380)}, 0},
		{"to fast and back", []interp.Op{spin(cw, 300), spin(off, 300), spin(cw, 2000), spin(off, 2000), spin(cw, 300)}, 2},
		{"to fast, and back for the next part", []interp.Op{spin(cw, 300), spin(cw, 2000)}, 2},
		{"all three, and back", []interp.Op{spin(cw, 300), spin(cw, 500), spin(cw, 2000)}, 3},
		{"a speed of two steps is cut in the one that is needed later", []interp.Op{spin(cw, 1000), spin(cw, 2000)}, 0},
		{"and in the one that was needed before", []interp.Op{spin(cw, 500), spin(cw, 1000), spin(cw, 2000)}, 2},
		{"the last speed and the first share a step", []interp.Op{spin(cw, 2000), spin(cw, 300), spin(cw, 1000)}, 2},
		{"a speed of no step", []interp.Op{spin(cw, 300), spin(cw, 400), spin(cw, 300)}, 0},
		{"a speed with the spindle off", []interp.Op{spin(cw, 300), spin(off, 2000), spin(cw, 300)}, 0},
		{"reversals of a cycle", []interp.Op{spin(cw, 300), tapping}, 0},
		{"a speed that is not known", []interp.Op{spin(cw, 300), unknown}, 0},
	} {
		if got, _ := run(m, c.ops); got.HandShifts != c.want || got.OperatorStops != 0 || got.GearShift != 0 {
			t.Errorf("%s: %d moves, not %d: %+v", c.name, got.HandShifts, c.want, got)
		}
	}
	m.Spindle.Shift = "automatic"
	if got, _ := run(m, []interp.Op{spin(cw, 300), spin(cw, 2000)}); got.HandShifts != 0 {
		t.Errorf("a head that shifts by itself has %d belt moves", got.HandShifts)
	}
}
