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
		{"a feed that rounding has made nothing of", "G0 X10\nG1 X10.00001\nG0 X10 Y5\n", "G0 X10\nG0 Y5\n", 0.001, ""},
		{"turning round by less", "X10\nX20\n", "X10.015\nX10\nX20\n", 0.01, ""},
		{"turning round by more", "X10\nX20\n", "X10.03\nX10\nX20\n", 0.01, "part"},
		{"many turns of the feed, too short each", "X10\n", "F200 X0.005\nX0.01\nX0.015\nX0.02\nX0.025\nX0.03\nX0.035\nF300 X10\n", 0.01, "the feed"},
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
			case d == nil && p.Deviation > test.path+1.1*floor:
				t.Errorf("a deviation of %g mm", p.Deviation)
			}
		})
	}
}

// What was changed on purpose passes when it is allowed, and only as far.
func TestProveAllowed(t *testing.T) {
	const body = "G20 G90\nG0 X0. Y0. Z1.\n"
	tests := []struct {
		name        string
		from, to    string
		source, out string
		allowed     Allowed
		say         string
	}{
		{"a speed of the belts", "tape-era", "knee-mill", "S400\nM3\nG1 X1 F5\n", "S420\nM3\nG1 X1 F5\n", Allowed{SpeedClamped: true}, ""},
		{"the belt on the other side", "tape-era", "knee-mill", "S400\nM3\nG1 X1 F5\n", "S380\nM3\nG1 X1 F5\n", Allowed{SpeedClamped: true}, ""},
		{"a speed further off than need be", "tape-era", "knee-mill", "S400\nM3\nG1 X1 F5\n", "S430\nM3\nG1 X1 F5\n", Allowed{SpeedClamped: true}, "the spindle speed"},
		{"a speed that is reached", "tape-era", "knee-mill", "S500\nM3\nG1 X1 F5\n", "S600\nM3\nG1 X1 F5\n", Allowed{SpeedClamped: true}, "the spindle speed"},
		{"a speed, not allowed", "tape-era", "knee-mill", "S400\nM3\nG1 X1 F5\n", "S420\nM3\nG1 X1 F5\n", Allowed{}, "the spindle speed is 400 rpm in the program and 420 rpm in the output"},
		{"a feed", "rs274ngc", "bed-mill", "G1 X1 F900\n", "G1 X1 F150\n", Allowed{FeedClamped: true}, ""},
		{"a feed with its speed", "tape-era", "knee-mill", "S400\nM3\nG1 X1. F10\n", "S380\nM3\nG1 X1. F9.5\n", Allowed{SpeedClamped: true, FeedClamped: true}, ""},
		{"a feed more than its speed", "tape-era", "knee-mill", "S400\nM3\nG1 X1. F10\n", "S380\nM3\nG1 X1. F9.\n", Allowed{SpeedClamped: true, FeedClamped: true}, "the feed"},
		{"a gear that is shifted within a path", "bed-mill", "bed-mill", "S900 M3\nG1 X1 F5\nX2\n", "M41\nS900 M3\nG1 X1 F5\nM42\nX2\n", Allowed{GearsAdded: true}, "and then it shifts the gear"},
		{"a feed slower than any axis", "rs274ngc", "bed-mill", "G1 X1 F900\n", "G1 X1 F90\n", Allowed{FeedClamped: true}, "the feed"},
		{"a feed made faster", "rs274ngc", "bed-mill", "G1 X1 F120\n", "G1 X1 F150\n", Allowed{FeedClamped: true}, "the feed"},
		{"a gear", "bed-mill", "bed-mill", "S900 M3\nG1 X1 F5\n", "M41\nS900 M3\nG1 X1 F5\n", Allowed{GearsAdded: true}, ""},
		{"a gear that reaches it, and is not the lowest", "bed-mill", "bed-mill", "S900 M3\nG1 X1 F5\n", "M42\nS900 M3\nG1 X1 F5\n", Allowed{GearsAdded: true}, "line 3 of the program, line 4 of the output: the gear is to be low, and is high in the output"},
		{"a gear before a speed for a spindle that starts later", "rs274ngc", "bed-mill", "S3000\nG0 X1\nM3\nG1 X2 F5\n", "M42\nS3000\nG0 X1\nM3\nG1 X2 F5\n", Allowed{GearsAdded: true}, ""},
		{"a gear that is missing", "rs274ngc", "bed-mill", "S3000 M3\nG1 X2 F5\n", "S3000 M3\nG1 X2 F5\n", Allowed{GearsAdded: true}, "the gear is to be high, and is not set in the output"},
		{"a gear code too many, with the spindle off", "rs274ngc", "bed-mill", "G1 X2 F5\nM5\n", "G1 X2 F5\nM41\nM5\n", Allowed{GearsAdded: true}, "the gear is to be not set, and is low in the output"},
		{"a gear code in place of another, not allowed", "rs274ngc", "bed-mill", "S900 M3\nM48\nG1 X2 F5\n", "S900 M3\nM41\nG1 X2 F5\n", Allowed{}, "line 4 of the output: the gear is to be not set, and is low in the output"},
		{"a gear code that says what is in, within a path", "bed-mill", "bed-mill", "S200 M3\nG1 X.0001 F5\nM41\nX0\n", "M41\nS200 M3\nG1 X.0001 F5\nX0\n", Allowed{GearsAdded: true, Path: 0.003}, ""},
		{"a gear code too many, before the end", "rs274ngc", "bed-mill", "G1 X2 F5\nM30\n", "G1 X2 F5\nM41\nM30\n", Allowed{GearsAdded: true}, "line 4 of the output: the gear is to be not set, and is low in the output"},
		{"a gear code between two speeds of one gear", "rs274ngc", "bed-mill", "S500 M3\nG1 X1 F5\nS900\nX2\n", "M41\nS500 M3\nG1 X1 F5\nM5\nM42\nS900 M3\nX2\n", Allowed{GearsAdded: true}, "the gear is to be low, and is high in the output"},
		{"a gear code of the program behind a tool change", "bed-mill", "bed-mill", "T2 M6 M42 S900 M3\nG1 X2 F5\n", "T2 M6 M42 S900 M3\nG1 X2 F5\n", Allowed{LeftOut: map[int]bool{}}, ""},
		{"a gear some of whose codes are left to the operator", "rs274ngc", "bed-mill", "S3000 M3\nG1 X2 F5\nS200\nX1\n", "S3000 M3\nG1 X2 F5\nM5\nM41\nS200 M3\nX1\n", Allowed{GearsAdded: true, GearsLeft: true}, ""},
		{"a gear with the spindle stopped for it", "bed-mill", "bed-mill", "S900 M3\nG1 X1 F5\nS3000\nX2\n", "M41\nS900 M3\nG1 X1 F5\nM5\nG4 P2\nM42\nS3000 M3\nX2\n", Allowed{GearsAdded: true, DwellsAdded: true}, ""},
		{"a gear that does not reach the speed", "bed-mill", "bed-mill", "S2000 M3\nG1 X1 F5\n", "M41\nS2000 M3\nG1 X1 F5\n", Allowed{GearsAdded: true}, "the gear is to be high, and is low in the output"},
		{"a gear, not allowed", "bed-mill", "bed-mill", "S900 M3\nG1 X1 F5\n", "M42\nS900 M3\nG1 X1 F5\n", Allowed{}, "the gear"},
		{"the spindle left off", "bed-mill", "bed-mill", "S900 M3\nG1 X1 F5\nS3000\nX2\n", "M41\nS900 M3\nG1 X1 F5\nM5\nG4 P2\nM42\nS3000\nX2\n", Allowed{GearsAdded: true, DwellsAdded: true}, "the spindle is on clockwise in the program and off in the output"},
		{"a dwell, not allowed", "bed-mill", "bed-mill", "S900 M3\nG1 X1 F5\n", "S900 M3\nG4 P2\nG1 X1 F5\n", Allowed{}, "dwells 2 s"},
		{"a stop for the belt", "knee-mill", "knee-mill", "S300\nM3\nG1 X1 F5\n", "M0\nS300\nM3\nG1 X1 F5\n", Allowed{StopsAdded: true}, ""},
		{"a stop, not allowed", "knee-mill", "knee-mill", "S300\nM3\nG1 X1 F5\n", "M0\nS300\nM3\nG1 X1 F5\n", Allowed{}, "stops"},
		{"lengths that the machine does not have", "bed-mill", "knee-mill", "T2 M6\nG0 G43 H2 Z1.\nG1 Z-0.1 F5\nT3 M6\nG0 X1.\nG43 H3 Z1.\n", "T2\nM6\nG0 Z1.\nG1 Z-0.1 F5\nT3\nM6\nG0 X1.\nZ1.\n", Allowed{}, ""},
		{"a rounded feed", "rs274ngc", "rs274ngc", "G1 X1 F5.00049\n", "G1 X1 F5.0005\n", Allowed{Feed: 1e-5}, ""},
		{"a feed rounded too far", "rs274ngc", "rs274ngc", "G1 X1 F5.00049\n", "G1 X1 F5.001\n", Allowed{Feed: 1e-5}, "the feed"},
		{"a work offset by another code", "rs274ngc", "rs274ngc", "G55\nG0 X1\n", "G57\nG0 X1\n", Allowed{Offsets: map[int]int{1: 3}}, ""},
		{"per minute for per revolution", "slant-lathe", "slant-lathe", "S300 M3\nG95 G1 X1 F0.01\n", "S300 M3\nG94 G1 X1 F3.\n", Allowed{}, ""},
		{"per minute under constant surface speed", "slant-lathe", "slant-lathe", "G96 S300 M3\nG95 G1 X1 F0.01\n", "G96 S300 M3\nG94 G1 X1 F3.\n", Allowed{}, "the feed"},
		{"the highest speed", "slant-lathe", "slant-lathe", "G50 S1000\nG96 S300 M3\nG95 G1 X1 F0.01\n", "G50 S2000\nG96 S300 M3\nG95 G1 X1 F0.01\n", Allowed{}, "the highest spindle speed"},
		{"the surface speed", "slant-lathe", "slant-lathe", "G96 S300 M3\nG95 G1 X1 F0.01\n", "G96 S310 M3\nG95 G1 X1 F0.01\n", Allowed{}, "the surface speed"},
		{"back to rpm", "slant-lathe", "slant-lathe", "G96 S300 M3\nG95 G1 X1 F0.01\nG97\nX2\n", "G96 S300 M3\nG95 G1 X1 F0.01\nX2\n", Allowed{}, "and then it changes the spindle speed"},
		{"a thread", "slant-lathe", "slant-lathe", "S300 M3\nG33 Z-1 F0.1\n", "S300 M3\nG33 Z-1 F0.11\n", Allowed{}, "the feed is a lead of 0.1 in in the program"},
		{"a thread cut as a feed", "slant-lathe", "slant-lathe", "S300 M3\nG33 Z-1 F0.1\n", "S300 M3\nG1 Z-1 F0.1\n", Allowed{}, "by spindle"},
		{"a part catcher", "slant-lathe", "slant-lathe", "M73\nG0 X2\n", "M74\nG0 X2\n", Allowed{}, "the program has M73, the output has M74"},
		{"compensation resolved", "bed-mill", "bed-mill", "G1 G41 D2 Y-1 F5\nX1\nG40 Y0\n", "G1 Y-0.75 X0 F5\nX1\nY0\n", Allowed{Path: 0.001}, ""},
		{"home", "bed-mill", "bed-mill", "G28 G91 Z0\n", "G91 G28 Z0\n", Allowed{}, ""},
		{"home, one axis more", "bed-mill", "bed-mill", "G28 G91 Z0\n", "G28 G91 Z0 X0\n", Allowed{}, "machine position"},
		{"home for machine coordinates", "bed-mill", "bed-mill", "G53 G0 Z0\n", "G28 G91 Z0\n", Allowed{}, ""},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			source := strings.Replace(body, "G20", machine(t, test.from).CodeFor(profiles.UnitsInch), 1)
			out := strings.Replace(body, "G20", machine(t, test.to).CodeFor(profiles.UnitsInch), 1)
			if test.to == "slant-lathe" {
				source, out = strings.Replace(source, "Y0. ", "", 1), strings.Replace(out, "Y0. ", "", 1)
			}
			_, d := prove(t, machine(t, test.from), machine(t, test.to), source+test.source, out+test.out, test.allowed)
			if d == nil && test.say != "" || d != nil && (test.say == "" || !strings.Contains(d.Error(), test.say)) {
				t.Errorf("%v\nwant %q", d, test.say)
			}
		})
	}
}

// What the source's own control could not execute is a limit, told by line; a
// failure of reading is no difference.
func TestProveLimits(t *testing.T) {
	m := machine(t, "rs274ngc")
	p, d := prove(t, m, m, "G0 X1 Y1\nG200\nX2 Y2\nG200 X3 Y3\n", "G0 X1 Y1\nX2 Y2\n", Allowed{})
	if d != nil || len(p.Limits) != 2 || !strings.Contains(p.Limits[0], `line 2: "G200" is not accepted`) {
		t.Errorf("%v, %q", d, p.Limits)
	}
	_, d = prove(t, m, m, "G0 X1 Y1\nX2 Y2\n", "G0 X1 Y1\nG200\nX2 Y2\n", Allowed{})
	if d == nil || d.OutLine != 2 {
		t.Errorf("%v", d)
	}
	p, d = prove(t, m, m, "G2 X1 Y1 I1\n", "", Allowed{})
	if d == nil && len(p.Limits) == 0 {
		t.Error("an arc from nowhere is passed over")
	}
	_, err := Prove(sideOf(m, "G0 X1\n"), Side{Src: torn{}, Size: 10, Machine: m}, Allowed{})
	if errors.As(err, &d) || !errors.Is(err, errTorn) {
		t.Errorf("%v", err)
	}
}

var errTorn = errors.New("torn tape")

type torn struct{}

func (torn) ReadAt([]byte, int64) (int, error) { return 0, errTorn }
