package interp

import (
	"strings"
	"testing"
)

// What a control refuses leaves something out of the time where it may have moved
// an axis, waited, called or changed a tool; the code of a clamp, or of an offset,
// does not. Which numbers mean what on other controls is common practice.
func TestDropped(t *testing.T) {
	const head = "G20 G17 G90 G94\nT1 M6\nM41\nS500 M3\nG54 G43 H1 G0 X0 Y0 Z1.\nF10.\n"
	plain := `kind = "mill"
[words]
accepted = "DFGHIJKLMNOPQRSTXYZ"
[codes]
"G38.2" = "refused"
[spindle]
shift = "coded"
gears = [{ name = "low", code = "M41", speed = ["40 rpm", "1000 rpm"] }, { name = "high", code = "M42", speed = ["900 rpm", "4000 rpm"] }]
[axes]
x = { travel = ["0 mm", "500 mm"], rapid = "5 m/min", acceleration = "1 m/s^2" }
y = { travel = ["0 mm", "500 mm"], rapid = "5 m/min", acceleration = "1 m/s^2" }
z = { travel = ["0 mm", "500 mm"], rapid = "5 m/min", acceleration = "1 m/s^2" }
[tools]
pockets = 8
`
	belts := strings.NewReplacer(`shift = "coded"`, `shift = "by-hand"`, ` code = "M41",`, "", ` code = "M42",`, "").Replace(plain)
	plain += "[block]\nparameters = false\nexpressions = false\nflow = false\n"
	for _, c := range []struct {
		name, profile, program string
		want                   int
	}{
		{"nothing refused", plain, "G1 X5.\nX0 M8\nG4 P1\n", 0},
		{"a word beside a move", plain, "G1 X5. E5\n", 1},
		{"an unknown code beside a move", plain, "G1 X5.\nG1 X0 G999\n", 1},
		{"a spline", plain, "G5 X5. Y5. I1. J1.\n", 1},
		{"another length offset, and its move", plain, "G43.1 G1 X5.\n", 1},
		{"a word in a cycle, and its holes", plain, "G99 G82 X1. Y0 E1 Z-.5 R.1 P1.5\nX2.\nX3.\nG80\n", 3},
		{"a cycle, and its holes", plain, "G73 X1. Z-1. R.1 Q.2\nX2.\nX3.\nG80\n", 3},
		{"a probe, and what moves as it", plain, "G38.2 Z-1.\nX5.\nG0 X0\n", 2},
		{"a move by an axis that is not taken", plain, "G1 U1.\n", 1},
		{"an axis that there is none of", plain, "G0 X0 A90.\n", 1},
		{"a move by a parameter", plain, "G1 X#1\n", 1},
		{"a loop", plain, "WHILE [#1 LT 5] DO1\nEND1\n", 2},

		{"the code of a clamp", plain, "G1 X5. M88\nM11\n", 0},
		{"a word that moves nothing", plain, "E5\n", 0},
		{"a word beside a dwell", plain, "G4 P5 E1\n", 0},
		{"an unknown code alone", plain, "G999\nG5\n", 0},
		{"a position set anew", plain, "G92.7 X0 Y0\nG52 X1. Y1.\n", 0},
		{"an offset of another family", plain, "G54.1 P3\n", 0},
		{"other planes, units, modes", plain, "G70\n", 0},

		{"a dwell without a code for it", plain + "[codes]\nG4 = \"refused\"\n", "G4 P5\n", 1},
		{"home without axes", plain + "[codes]\nG28 = \"refused\"\n", "G28\n", 1},
		{"a call without a code for it", plain + "[codes]\nM98 = \"refused\"\n", "M98 P100\n", 1},
		{"a call with arguments", plain, "G66 P100\n", 1},
		{"a turning cycle of a contour", plain, "G71 P10 Q20\n", 1},
		{"a gear that it does not have", plain, "M43\n", 1},
		{"a gear code, and belts", belts, "M43\n", 0},
		{"spindle and coolant in one code", plain, "M13\n", 1},
	} {
		text := c.profile
		if strings.Count(text, "[codes]") > 1 { // one table
			text = strings.Replace(text, "[codes]\n\"G38.2\" = \"refused\"\n", "", 1)
		}
		head := head
		if strings.Contains(text, "by-hand") {
			head = strings.Replace(head, "M41\n", "", 1)
		}
		program := head + c.program + "M30\n"
		in := New(profile(t, text), Options{}, Visitor{})
		if _, err := in.Run(strings.NewReader(program), int64(len(program))); err != nil {
			t.Fatal(err)
		}
		if got := in.Dropped(); got != c.want {
			t.Errorf("%s: %d blocks leave something out, not %d\n%s", c.name, got, c.want, c.program)
		}
	}
}

// By the revolution of a spindle that stands an axis does not move: nobody knows
// how long it waits. That it goes at no known feed is so for threads too.
func TestFeedByRevolutionAtRest(t *testing.T) {
	const program = "G18 G90 G95 G0 X50. Z2.\nF0.2\nG1 Z0.\nM3 S500\nG1 Z-1.\nM5\nG1 Z-2.\n"
	want := []float64{0, 0.2 * 500 / 60, 0}
	var got []float64
	m := variant(t, "slant-lathe", "[start]\nunits = \"mm\"\n")
	in := New(m, Options{}, Visitor{Op: func(op *Op) {
		if op.Kind == Feed {
			got = append(got, op.Feed)
		}
	}})
	if _, err := in.Run(strings.NewReader(program), int64(len(program))); err != nil {
		t.Fatal(err)
	}
	if len(got) != len(want) {
		t.Fatal(got)
	}
	for i := range want {
		if d := got[i] - want[i]; d < -1e-9 || d > 1e-9 {
			t.Errorf("cut %d at %g mm/s, not %g", i+1, got[i], want[i])
		}
	}
}
