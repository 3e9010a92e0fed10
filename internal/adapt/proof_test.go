package adapt

import (
	"errors"
	"strings"
	"testing"

	"tapefit/profiles"
)

// machine loads an embedded machine or base.
func machine(t testing.TB, name string) *profiles.Machine {
	t.Helper()
	m, err := profiles.Find(name, nil)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func sideOf(m *profiles.Machine, program string) Side {
	return Side{Src: strings.NewReader(program), Size: int64(len(program)), Machine: m}
}

// prove compares two programs and gives the difference, "" where there is none.
func prove(t testing.TB, from, to *profiles.Machine, source, out string, allowed Allowed) (Proof, *Difference) {
	t.Helper()
	p, err := Prove(sideOf(from, source), sideOf(to, out), allowed)
	var d *Difference
	if err != nil && !errors.As(err, &d) {
		t.Fatal(err)
	}
	return p, d
}

const start = "G0 X0 Y0 Z5\nS900 M3\nG1 Z-1 F300\n"

// Pairs of programs for the machine rs274ngc, where the output begins like the
// source with start; what must be said of them, "" where they agree.
func TestProve(t *testing.T) {
	tests := []struct {
		name, source, out string
		path              float64
		say               string
	}{
		{"the same", "X10\nY10\n", "X10\nY10\n", 0, ""},
		{"a feed said again", "X10\nY10\n", "X10\nG1 F300 Y10\n", 0, ""},
		{"a line in two", "X10\n", "X4\nX10\n", 0, ""},
		{"two lines in one", "X4\nX10\n", "X10\n", 0, ""},
		{"incremental", "X10 Y3\nX5\n", "G91 X10 Y3\nX-5\n", 0, ""},
		{"inches", "X25.4\n", "G20 F11.811023622 X1\n", 0, ""},
		{"another end", "X10\n", "X10.01\n", 0.005, "the path goes on in the output to X10.010, 0.0100 mm away; in the program it ends at X10.000, and then it ends"},
		{"another end, allowed", "X10\n", "X10.01\n", 0.02, ""},
		{"a corner cut", "X10\nY10\n", "X9.99\nX10 Y0.01\nY10\n", 0.02, ""},
		{"a corner cut too far", "X10\nY10\n", "X9.9\nX10 Y0.1\nY10\n", 0.02, "part"},
		{"back and forth", "X10\nX0\n", "", 0.02, "the path goes on in the program to X10.000"},
		{"a loop left out", "X10\nX10 Y5\nX15\nX10 Y0\nX20\n", "X20\n", 0.02, "part"},
		{"there and back left out", "X10\nX5\nX20\n", "X20\n", 0.02, "part"},
		{"backwards", "G3 X0 Y0 I5\n", "G2 X0 Y0 I5\n", 0.02, "part"},
		{"a circle in halves", "G3 X0 Y0 I5\n", "G3 X10 I5\nX0 I-5\n", 1e-9, ""},
		{"R for a centre", "G3 X10 I5\n", "G3 X10 R5\n", 1e-9, ""},
		{"R of the long way", "G3 X5 Y5 I5\n", "G3 X5 Y5 R5\n", 1e-9, "part"},
		{"an arc in chords", "G3 X10 I5\n", "X1.464 Y-3.536\nX5 Y-5\nX8.536 Y-3.536\nX10 Y0\n", 0.39, ""},
		{"chords too coarse", "G3 X10 I5\n", "X1.464 Y-3.536\nX5 Y-5\nX8.536 Y-3.536\nX10 Y0\n", 0.37, "part"},
		{"a helix in halves", "G3 X0 Y0 Z-3 I5\n", "G3 X10 Z-2 I5\nX0 Z-3 I-5\n", 0.02, ""},
		{"a helix in unlike halves", "G3 X0 Y0 Z-3 I5\n", "G3 X10 Z-1 I5\nX0 Z-3 I-5\n", 0.02, "part"},
		{"a feed", "X10\nX20\n", "X10\nF200 X20\n", 0.02, "the feed is 300 mm/min in the program and 200 mm/min in the output"},
		{"a feed too late", "X10\nF200 X20\n", "X11\nF200 X20\n", 0.02, "the feed"},
		{"rapid for feed", "X10\nG0 X20\n", "X10\nG1 X20\n", 0.02, "and then it goes at rapid to X20"},
		{"rapids in another order", "G0 X10\nY10\n", "G0 Y10\nX10\n", 0.02, "part"},
		{"a rapid of two axes in two", "G0 X10 Y10\n", "G0 X5 Y5\nX10 Y10\n", 0.02, "part"},
		{"a rapid of one axis in two", "G0 X10\n", "G0 X5\nX10\n", 0.02, ""},
		{"a dwell lost", "X10\nG4 P1\nX20\n", "X10\nX20\n", 0.02, "and then it dwells 1 s"},
		{"a dwell elsewhere", "X10\nG4 P1\nX20\n", "X11\nG4 P1\nX20\n", 0.02, "goes on in the output to X11"},
		{"coolant", "M8\nX10\n", "M7\nX10\n", 0.02, "the coolant is flood in the program and mist in the output"},
		{"coolant twice", "M8\nX10\n", "M8\nM8\nX10\n", 0.02, ""},
		{"coolant later", "M8\nX10\n", "X5\nM8\nX10\n", 0.02, "and then it turns the coolant to flood"},
		{"speed", "S800\nX10\n", "S801\nX10\n", 0.02, "the spindle speed is 800 rpm in the program and 801 rpm in the output"},
		{"a work offset", "G55 X10\n", "G56 X10\n", 0.02, "the work offset"},
		{"a position set", "X10\nG92 X0\nX10\n", "X10\nX20\n", 0.02, "goes on in the output to X20"},
		{"a stop", "X10\nM0\n", "X10\nM1\n", 0.02, "the program stops, the output stops if the switch says so"},
		{"no end", "X10\nM2\n", "X10\n", 0.02, "the program ends with M2 or M30, the output ends"},
		{"a cycle unrolled", "G98 G81 X5 Y5 Z-4 R2\nX9\nG80\n", "G0 Z2\nX5 Y5\nG1 Z-4\nG0 Z2\nX9\nG1 Z-4\nG0 Z2\n", 0.02, ""},
		{"a hole lost", "G98 G81 X5 Y5 Z-4 R2\nX9\nG80\n", "G0 Z2\nX5 Y5\nG1 Z-4\nG0 Z2\n", 0.02, "ends"},
		{"a tool", "T3 M6\n", "T4 M6\n", 0.02, "changes to tool 3"},
		{"a length", "G0 G43 H3 Z9\n", "G0 G43 H4 Z9\n", 0.02, "the tool length offset is H3"},
		{"a rotary axis", "G0 A90\n", "G0 A91\n", 0.02, "the output goes at rapid to A91"},
		{"a fault in the output", "X10\n", "X10 G64.5\n", 0.02, "is not accepted"},
	}
	m := machine(t, "rs274ngc")
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			p, d := prove(t, m, m, start+test.source, start+test.out, Allowed{Path: test.path, Angle: 0.001})
			switch {
			case d == nil && test.say != "":
				t.Errorf("proven, with a deviation of %g mm", p.Deviation)
			case d != nil && (test.say == "" || !strings.Contains(d.Error(), test.say)):
				t.Errorf("%v\nwant %q", d, test.say)
			case d == nil && p.Deviation > test.path+floor:
				t.Errorf("a deviation of %g mm", p.Deviation)
			}
		})
	}
}
