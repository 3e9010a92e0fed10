package rules

import (
	"fmt"
	"testing"

	"tapefit/profiles"
)

// The high gear of bed-mill ends at 4200 rpm and takes 2.5 s to there: 4000 rpm
// take 2.38 s, 1000 rpm 0.6 s. Z goes 150 in/min.
func TestRunUp(t *testing.T) {
	m, err := profiles.FindWith("bed-mill", nil, []string{"spindle.goes_on=true"})
	if err != nil {
		t.Fatal(err)
	}
	const head = "%\nG54 T7 M6\nM42\nG0 X0 Y0\nG43 H7 Z5.\n"
	const speaks = "[warning speed-unreachable-in-time "
	for _, c := range []struct{ name, program, want string }{
		{"at once", head + "S4000 M3\nG1 Z-.1 F20.\nG0 Z1.\nM5\nM30\n%\n", speaks + "7:1]"},
		{"a short approach", head + "S4000 M3\nG0 Z1.\nG1 Z-.1 F20.\nM5\nG0 Z1.\nM30\n%\n", speaks + "8:1]"},
		{"a long approach", head + "S4000 M3\nX12.\nG0 Z.1\nG1 Z-.1 F20.\nG0 Z1.\nM5\nM30\n%\n", "[]"},
		{"a short approach, a slow spindle", head + "S1000 M3\nG0 Z1.\nG1 Z-.1 F20.\nG0 Z1.\nM5\nM30\n%\n", "[]"},
		{"a dwell", head + "S4000 M3\nG4 P2.5\nG1 Z-.1 F20.\nG0 Z1.\nM5\nM30\n%\n", "[]"},
		{"a dwell that comes too late", head + "S4000 M3\nG1 Z-.1 F20.\nG4 P2.5\nG0 Z1.\nM5\nM30\n%\n", speaks + "7:1]"},
		{"the operator stands between", head + "S4000 M3\nM0\nG1 Z-.1 F20.\nG0 Z1.\nM5\nM30\n%\n", "[]"},
		{"what was before the start does not count", head + "X12.\nX0\nS4000 M3\nG1 Z-.1 F20.\nG0 Z1.\nM5\nM30\n%\n", speaks + "9:1]"},
		{"it turns already", head + "S4000 M3\nG4 P3\nS3900\nG1 Z-.1 F20.\nG0 Z1.\nM5\nM30\n%\n", "[]"},
	} {
		if got := fmt.Sprint(findings(t, m, c.program, Options{})); got != c.want {
			t.Errorf("%s:\n%s\ngot %s, want %s", c.name, c.program, got, c.want)
		}
	}
	waits := machine(t, "bed-mill")
	if got := findings(t, waits, head+"S4000 M3\nG1 Z-.1 F20.\nG0 Z1.\nM5\nM30\n%\n", Options{}); len(got) != 0 {
		t.Errorf("a control that waits: %q", got)
	}
}

// On a head that the control shifts by itself, tapping near the end of a gear.
func TestTapNearShift(t *testing.T) {
	coded := machine(t, "bed-mill")
	automatic := *coded
	automatic.Spindle.Shift = "automatic"
	program := func(gear string, s, f int) string {
		return fmt.Sprintf("%%\nT9 M6\n%sS%d M3\nG0 X0 Y0\nG43 H9 Z1.\nG84 X0 Y0 Z-.5 R.25 F%d.\nX1.\nG80\nM30\n%%\n", gear, s, f)
	}
	for _, c := range []struct {
		name    string
		m       *profiles.Machine
		program string
		want    string
	}{
		{"in the middle", coded, program("M41\n", 500, 25), "[]"},
		{"at the end of the low gear", coded, program("M41\n", 1080, 54), "[note tapping-speed-near-shift 7:1 x2 to 8:4]"},
		{"the same speed in the high gear", coded, program("M42\n", 1080, 54), "[]"},
		{"at the machine's own lowest", coded, program("M41\n", 40, 2), "[]"},
		{"at the end, where the control shifts", &automatic, program("", 1080, 54), "[warning tapping-speed-near-shift 6:1 x2 to 7:4]"},
	} {
		if got := fmt.Sprint(findings(t, c.m, c.program, Options{})); got != c.want {
			t.Errorf("%s:\n%s\ngot %s, want %s", c.name, c.program, got, c.want)
		}
	}
}
