package rules

import (
	"fmt"
	"strings"
	"testing"

	"tapefit/profiles"
)

// Turning on the slant lathe: gears of 30 to 700 and 600 to 2800 rpm, Z feeds up
// to 150 in/min, X words are diameters.
func TestTurningFindings(t *testing.T) {
	for _, c := range []struct {
		name, program string
		want          []string
	}{
		{"clamped at the gear's end", "M41\nG50 S700\nG0 X4. Z0\nG96 S250 M3\nG1 X0 F.008\nM30\n", nil},
		{"over the gear's end, once for both cuts", "M41\nG50 S1000\nG0 X4. Z0\nG96 S250 M3\nG1 X1. F.008\nG0 X4.\nG1 X1.\nM30\n",
			[]string{"error css-crosses-gear 5:1 x2 to 7:3"}},
		{"under the low end of the high gear, outside", "M42\nG50 S2800\nG0 X1. Z0\nG96 S250 M3\nG1 X4. F.008\nM30\n",
			[]string{"error css-crosses-gear 5:1"}},
		{"all of the cut in the wrong gear", "M42\nG50 S2800\nG0 X6. Z0\nG96 S250 M3\nG1 X4. F.008\nM30\n",
			[]string{"error speed-outside-gear 5:1"}},
		{"an arc that comes near enough", "M41\nG50 S1000\nG0 X2. Z0\nG96 S300 M3\nG2 X2. Z-1. R.6 F.008\nM30\n",
			[]string{"error css-crosses-gear 5:1"}},
		{"to the centre with no clamp: the highest is passed", "M42\nG0 X1. Z0\nG96 S250 M3\nG1 X0 F.008\nM30\n",
			[]string{"warning css-clamp-missing 3:5"}},
		{"no clamp, and more than the highest all along", "M42\nG0 X.3 Z0\nG96 S250 M3\nG1 Z-1. F.008\nM30\n",
			[]string{"warning css-clamp-missing 3:5", "warning speed-over-machine 4:1"}},
		{"rough passes over the end of the gear and beyond it: one cause", "M42\nG50 S2800\nG0 X4. Z0\nG96 S250 M3\nG1 Z-1. F.008\nX1.\nX4.\nM30\n",
			[]string{"error speed-outside-gear 5:1"}},
		{"over the end first, then beyond it: one cause", "M42\nG50 S2800\nG0 X1. Z0\nG96 S250 M3\nG1 X4. F.008\nZ-1.\nM30\n",
			[]string{"error css-crosses-gear 5:1"}},
		{"nose compensation before any offset", "T0100\nM41\nG50 S600\nG0 X4. Z.1\nG96 S100 M3\nG42 G0 X2. Z.1\nG0 X4. Z.2\nG40 G0 X5.\nM30\n",
			[]string{"note comp-radius-unknown 6:1"}},
		{"turning far from the centre with no clamp", "M41\nG0 X4. Z0\nG96 S250 M3\nG1 Z-1. F.008\nM30\n",
			[]string{"warning css-clamp-missing 3:5"}},
		{"surface speed while the tool only travels", "M41\nG0 X4. Z0\nG96 S250 M3\nG0 X0\nM30\n", nil},
		{"surface speed in whichever gear is in", "G50 S700\nG0 X4. Z0\nG96 S250 M3\nG1 X2. F.008\nX1.9\nM30\n",
			[]string{"warning speed-outside-gear 4:1 x2 to 5:5"}},
		{"a cycle without its contour's end", "G0 X4. Z0\nG71 U.1 R.02\nG71 P1 U0 W0\nM30\n", []string{"error word-missing 3:1"}},
		{"a clamp without a speed", "G50\nM30\n", []string{"error word-missing 1:1"}},
		{"the speed in rpm is judged as ever", "M41\nG97 S900 M3\nM30\n", []string{"error speed-outside-gear 2:5"}},
		{"feed a revolution over the axis", "M42\nS2000 M3\nG0 X2. Z.5\nG1 Z-1. F.08\nM30\n", []string{"error feed-over-axis-limit 4:1"}},
		{"feed a revolution within it", "M42\nS2000 M3\nG0 X2. Z.5\nG1 Z-1. F.07\nM30\n", nil},
		{"surface speed drives the feed over the axis near the centre", "M42\nG50 S2800\nG0 X1.2 Z0\nG96 S250 M3\nG1 X.1 F.04\nM30\n",
			[]string{"error feed-over-axis-limit 5:1"}},
		{"no feed after the change of mode", "M41\nG94\nS500 M3\nG0 X2. Z.5\nG1 Z0 F5.\nG95\nZ-1.\nM30\n", []string{"error feed-missing 7:1"}},
		{"a thread at its lead", "M41\nS600 M3\nG0 X2. Z.5\nG33 Z-1. F.1\nM30\n", nil},
		{"a lead over the axis, in each pass of a cycle, is one", "M42\nS1600 M3\nG0 X2. Z.5\nG78 X1.9 Z-1. F.1\nX1.85\nX1.8\nM30\n",
			[]string{"error thread-lead-limit 4:1 x3 to 6:5"}},
		{"a contour that goes back", "M41\nS500 M3\nG0 X2. Z.1\nG71 U.1 R.02\nG71 P1 Q2 U0 W0 F.01\nN1 G0 X1.\nG1 Z-.5\nX.8 Z-.7\nN2 X2.\nM30\n",
			[]string{"warning not-interpreted 5:1"}},
		{"a contour whose last block is missing: one finding, and the program goes on", "M41\nS500 M3\nG0 X2. Z.1\nG71 U.1 R.02\nG71 P1 Q2 U0 W0 F.01\nN1 G0 X1.\nG1 Z-.5\nX2.1\nG0 X2.2 Z.1\nG70 P1 Q2\nG0 X3.\nM30\n",
			[]string{"error value-not-usable 5:8 x2 to 10:10"}},
		{"a thread under surface speed: one finding", "M41\nG0 X1.1 Z.3\nG96 S350 M3\nG33 Z-1.5 F.125\nG0 Z.3\nM30\n",
			[]string{"warning thread-under-surface-speed 4:1"}},
		{"a thread under surface speed, and a cut: the clamp is missing there", "M42\nG0 X1.1 Z.3\nG96 S350 M3\nG33 Z-1.5 F.025\nG0 Z.3\nG1 Z-.1 F.005\nM30\n",
			[]string{"warning css-clamp-missing 3:5", "warning thread-under-surface-speed 4:1"}},
		{"nose compensation that is never switched off: one finding", "T0202\nM42\nG50 S2400\nG0 X1.2 Z.1\nG96 S400 M3\nM8\nG42 G0 X.5 Z.1\nG1 Z0 F.005\nX.75 Z-1.\nX.8\nZ-2.\nX1.3\nG0 X1.5 Z.2 M9\nM5\nM30\n",
			[]string{"warning comp-on-at-end 15:1"}},
		{"a contour that is not there", "M41\nS500 M3\nG0 X2. Z.1\nG71 U.1 R.02\nG71 P1 Q2 U0 W0 F.01\nM30\n",
			[]string{"error value-not-usable 5:5"}},
		{"tool 9 of eight", "T0901\nM30\n", []string{"error tool-not-in-changer 1:1"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := findings(t, machine(t, "slant-lathe"), c.program, Options{})
			if fmt.Sprint(got) != fmt.Sprint(c.want) {
				t.Errorf("program:\n%s\ngot:\n%s\nwant:\n%s", c.program, strings.Join(got, "\n"), strings.Join(c.want, "\n"))
			}
		})
	}
}

// The diameter at which a boundary is crossed: D = 12*sfm/(pi*n), in inches
// (handbooks, from memory).
func TestCrossingDiameter(t *testing.T) {
	for _, c := range []struct{ program, want string }{
		{"M41\nG50 S1000\nG0 X4. Z0\nG96 S250 M3\nG1 X1. F.008\nM30\n", "goes over 700 rpm, the end of gear low, at 1.3642 in diameter"},
		{"M42\nG50 S2800\nG0 X1. Z0\nG96 S250 M3\nG1 X4. F.008\nM30\n", "goes under 600 rpm, the end of gear high, at 1.5915 in diameter"},
		{"M42\nG0 X1. Z0\nG96 S250 M3\nG1 X0 F.008\nM30\n", "inside 0.341 in diameter"},
	} {
		m := machine(t, "slant-lathe")
		r, err := Check(strings.NewReader(c.program), int64(len(c.program)), "test", m, All(), Options{})
		if err != nil {
			t.Fatal(err)
		}
		found := false
		for _, f := range r.Findings {
			found = found || strings.Contains(f.Message, c.want)
		}
		if !found {
			t.Errorf("%q: nothing says %q: %+v", c.program, c.want, r.Findings)
		}
	}
}

// What a control shifts by itself it shifts in the cut.
func TestCrossingAutomatic(t *testing.T) {
	m := machine(t, "slant-lathe")
	automatic := *m
	automatic.Spindle.Shift = "automatic"
	automatic.Spindle.Gears = append([]profiles.SpindleGear(nil), m.Spindle.Gears...)
	program := "G20 G0 X4. Z0\nG50 S1000\nG96 S250 M3\nG1 X1. F.008\nM30\n"
	got := findings(t, &automatic, program, Options{})
	if fmt.Sprint(got) != "[error css-crosses-gear 4:1]" {
		t.Errorf("got %q", got)
	}
}
