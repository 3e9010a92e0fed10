package interp

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tapefit/profiles"
)

// lathe is the slant lathe with lines of its own over its profile.
func lathe(t testing.TB, lines string) *profiles.Machine {
	t.Helper()
	file := filepath.Join(t.TempDir(), "lathe.toml")
	text := "name = \"lathe\"\ntitle = \"Lathe\"\nextends = \"slant-lathe\"\n" + lines
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	m, err := profiles.Load(file)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// turned runs tables of programs in millimetres, absolute, with G97 and a feed a
// revolution, on the slant lathe: points are Z and the radius.
func turned(t *testing.T, m *profiles.Machine, table []run) {
	t.Helper()
	for _, c := range table {
		t.Run(c.name, func(t *testing.T) {
			got := ops(t, m, "G21\n"+lines(c.program)+"\n")
			if got != lines(c.want) {
				t.Errorf("program:\n%s\ngot:\n%s\nwant:\n%s", lines(c.program), got, lines(c.want))
			}
		})
	}
}

func TestTurningModes(t *testing.T) {
	turned(t, machine(t, "slant-lathe"), []run{
		{"X words are diameters", "", "G0 X50 Z2\nX40", "traverse X25 Z2\ntraverse X20"},
		{"U and W are distances, U on the diameter", "", "G0 X50 Z2\nU-10 W-1\nU2", `
			traverse X25 Z2
			traverse X20 Z1
			traverse X21`},
		{"a distance from nowhere stays unknown", "", "G0 U5\nX10\nU2", "traverse X?\ntraverse X5\ntraverse X6"},
		{"X and U in one block", "", "G0 X50 U2", "! conflict U2\ntraverse X25"},
		{"I of an arc is a radius", "", "G97 S600 M3\nG0 X20 Z0\nG3 X30 Z-5 I0 K-5 F0.1", `
			spindle cw 600
			traverse X10 Z0
			arc ccw X15 Z-5 centre -5 10 sweep 90 at 60`},
		// v = f*n.
		{"feed a revolution", "", "S500 M3\nG0 X50 Z2\nG1 Z-10 F0.2\nG94 G1 Z-20 F150\nG95 Z-30\nZ-40 F0.1", `
			spindle cw 500
			traverse X25 Z2
			feed Z-10 at 100
			feed Z-20 at 150
			feed Z-30 at 0
			feed Z-40 at 50`},
		{"the gear bounds the speed", "", "M41\nS900 M3\nG0 X50 Z2\nG1 Z-10 F0.1", `
			gear 0
			spindle cw 900
			traverse X25 Z2
			feed Z-10 at 70`},
		// n = 1000*vc/(pi*D): 157.0796 m/min at 50 mm is 1000 rpm.
		{"constant surface speed", "", "G0 X50 Z2\nG96 S157.0796326795 M3\nG1 Z-10 F0.1\nX100", `
			traverse X25 Z2
			spindle cw 1000
			feed Z-10 at 100
			feed X50 at 100`},
		{"clamped near the centre", "", "G50 S1500\nG0 X10 Z2\nG96 S157.0796326795 M3\nG1 Z-10 F0.1\nG50 S2000\nZ-20", `
			traverse X5 Z2
			spindle cw 1500
			feed Z-10 at 150
			feed Z-20 at 200`},
		{"back to rpm: the spindle goes on as it turns", "", "G0 X50 Z2\nG96 S157.0796326795 M3\nG97\nG1 X40 F0.1\nG96\nZ0", `
			traverse X25 Z2
			spindle cw 1000
			feed X20 at 100
			spindle cw 1250
			feed Z0 at 125`},
		{"G96 that was never given a speed", "", "G0 X50 Z2\nG96 M3\nG1 X40 F0.1", `
			traverse X25 Z2
			! missing G96 without S
			spindle cw 0
			feed X20 at 0`},
		{"surface speed where X is not known", "", "G96 S157.0796326795 M3\nG0 Z2\nX50\nG1 Z0 F0.1", `
			spindle cw 0
			traverse Z2
			traverse X25
			feed Z0 at 100`},
		{"clamp without S", "", "G50", "! missing G50 without S"},
		{"thread: lead times rpm", "", "S400 M3\nG0 X20 Z5\nG33 Z-20 F1.5\nG0 X25\nG33 X29 Z-40 F1.5", `
			spindle cw 400
			traverse X10 Z5
			feed Z-20 at 600
			traverse X12.5
			feed X14.5 Z-40 at 602.992537`},
		{"thread without a lead", "", "G94\nS400 M3\nG0 X20 Z5\nG33 Z-20\nG0 X30", `
			spindle cw 400
			traverse X10 Z5
			! missing G33 without F
			traverse X15`},
		{"tool and offset in one word", "", "S500 M3\nT0101\nG0 X50 Z5\nT0102\nG0 X50 Z5\nT0100\nT0308", `
			spindle cw 500
			tool 1
			traverse X25 Z5
			traverse X25 Z5
			tool 3`},
		{"an auxiliary function takes its time", "", "M24\nM73 M74", "auxiliary 6\nauxiliary 3"},
	})
}

func TestTurningChoices(t *testing.T) {
	for _, c := range []struct {
		profile string
		run
	}{
		{"[axes.x]\ndiameter = false\n", run{"X words are radii", "", "G0 X50\nU-1", "traverse X50\ntraverse X49"}},
		{"[codes]\nG7 = \"diameter-mode\"\nG8 = \"radius-mode\"\n", run{"radius and diameter by code", "", "G8 G0 X50\nG7 X50", "traverse X50\ntraverse X25"}},
		{"[codes]\nG50 = \"refused\"\n[spindle]\nclamp_with_set_position = true\n",
			run{"G92 S clamps, G92 X sets the position", "", "G0 X10 Z0\nG92 S1500\nG96 S157.0796326795 M3\nG92 X20\nX30", `
				traverse X5 Z0
				spindle cw 1500
				traverse X15`}},
		{"[turning]\nthread_lead = \"K\"\n", run{"the lead in K", "", "S400 M3\nG0 X20 Z5\nG33 Z-20 K1.5\nZ-30", `
				spindle cw 400
				traverse X10 Z5
				feed Z-20 at 600
				feed Z-30 at 600`}},
		{"[start]\nfeed = \"per-minute\"\n", run{"feed a minute at the start", "", "S400 M3\nG0 X20 Z5\nG33 Z-20 F1.5\nG1 Z-25\nG1 Z-26 F50", `
				spindle cw 400
				traverse X10 Z5
				feed Z-20 at 600
				feed Z-25 at 0
				feed Z-26 at 50`}},
	} {
		t.Run(c.name, func(t *testing.T) { turned(t, lathe(t, c.profile), []run{c.run}) })
	}
}

// The law at the centre line, at the limits and between: n = 1000*vc/(pi*D).
func TestSpeedLaw(t *testing.T) {
	l := SpeedLaw{Surface: 2000, Lowest: 600, Highest: 2800}
	for _, c := range []struct{ radius, want float64 }{
		{0, 2800}, {6, 2800}, {10, 1000 * 120 / (math.Pi * 20)}, {30, 1000 * 120 / (math.Pi * 60)}, {40, 600}, {1e9, 600},
	} {
		if got := l.At(c.radius); math.Abs(got-c.want) > 1e-9*c.want {
			t.Errorf("at radius %g: %g rpm, want %g", c.radius, got, c.want)
		}
	}
	if got := l.At(l.Radius(1000)); math.Abs(got-1000) > 1e-9 {
		t.Errorf("there and back: %g", got)
	}
	if got := (&SpeedLaw{Highest: 500}).At(20); got != 500 {
		t.Errorf("rpm: %g", got)
	}
}

// Offsets of tools lie between the tip and the turret.
func TestTurretOffsets(t *testing.T) {
	var at []string
	in := New(machine(t, "slant-lathe"), Options{}, Visitor{Op: func(op *Op) {
		if op.Kind == Traverse {
			at = append(at, point(op.ToMachine, op.ToMachineKnown, X|Z))
		}
	}})
	program := "T0101\nG0 X2. Z0\nT0105\nG0 X2. Z0\nT0109\nG0 X2. Z0\nT0100\nG0 X2. Z0\n"
	if _, err := in.Run(strings.NewReader(program), int64(len(program))); err != nil {
		t.Fatal(err)
	}
	const inch = 25.4
	want := []string{
		fmt.Sprintf("X%s Z%s", num(3.5*inch), num(-8.9*inch)),
		fmt.Sprintf("X%s Z%s", num(1*inch), num(-5.5*inch)),
		"X? Z?",
		fmt.Sprintf("X%s Z%s", num(1*inch), num(-12*inch)),
	}
	if strings.Join(at, ";") != strings.Join(want, ";") {
		t.Errorf("got %q, want %q", at, want)
	}
}

// The cycles of one block and one pass: out along a rectangle and back to where
// they began (common practice).
func TestTurnPasses(t *testing.T) {
	turned(t, machine(t, "slant-lathe"), []run{
		{"along Z, and deeper", "", "S500 M3\nG0 X60 Z2\nG77 X50 Z-30 F0.2\nX40\nG0 X100", `
			spindle cw 500
			traverse X30 Z2
			traverse X25
			feed X25 Z-30 at 100
			feed X30 at 100
			traverse Z2
			traverse X20
			feed X20 Z-30 at 100
			feed X30 at 100
			traverse Z2
			traverse X50`},
		{"a taper by R", "", "S500 M3\nG0 X60 Z0\nG77 U-20 W-30 R-5 F0.2", `
			spindle cw 500
			traverse X30 Z0
			traverse X15
			feed X20 Z-30 at 100
			feed X30 at 100
			traverse Z0`},
		{"along X", "", "S500 M3\nG0 X60 Z2\nG79 X0 Z0 F0.1\nZ-1", `
			spindle cw 500
			traverse X30 Z2
			traverse Z0
			feed X0 Z0 at 50
			feed Z2 at 50
			traverse X30
			traverse Z-1
			feed X0 Z-1 at 50
			feed Z2 at 50
			traverse X30`},
		{"a thread by hand", "", "S400 M3\nG0 X24 Z5\nG78 X19 Z-20 F1.5\nX18.5", `
			spindle cw 400
			traverse X12 Z5
			traverse X9.5
			feed X9.5 Z-20 at 600
			traverse X12
			traverse Z5
			traverse X9.25
			feed X9.25 Z-20 at 600
			traverse X12
			traverse Z5`},
		{"without Z", "", "S500 M3\nG0 X60 Z2\nG77 X50 F0.2", "spindle cw 500\ntraverse X30 Z2\n! missing G77 without Z"},
		{"from a place that is not known", "", "S500 M3\nG77 X50 Z-10 F0.2\nG0 X50 Z5", "spindle cw 500\ntraverse X25 Z5"},
	})
}

// A shaft of two steps, 40 and 60 mm, with a taper between and a fillet, from a
// bar of 80: levels, lengths and the contour by hand.
const shaft = `
	N10 G0 X40
	G1 Z-20
	X60 Z-40
	Z-60
	G2 X70 Z-65 R5
	N20 G1 X80`

func TestContourCycles(t *testing.T) {
	turned(t, machine(t, "slant-lathe"), []run{
		{"roughing along Z, then finishing", "", "S500 M3\nG0 X80 Z2\nG71 U10 R1\nG71 P10 Q20 U1 W0.2 F0.3\n" + shaft + "\nG70 P10 Q20\nG0 X100", `
			spindle cw 500
			traverse X40 Z2
			traverse X30
			feed Z-38.8 at 150
			traverse X31 Z-37.8
			traverse Z2
			traverse X20.5
			feed Z-19.8 at 150
			traverse X21.5 Z-18.8
			traverse Z2
			traverse X20.5
			feed X20.5 Z2.2 at 150
			feed X20.5 Z-19.8 at 150
			feed X30.5 Z-39.8 at 150
			feed X30.5 Z-59.8 at 150
			arc cw X35.5 Z-64.8 centre -59.8 35.5 sweep 90 at 150
			feed X40.5 Z-64.8 at 150
			traverse X40
			traverse Z2
			traverse X20
			feed Z-20 at 150
			feed X30 Z-40 at 150
			feed Z-60 at 150
			arc cw X35 Z-65 centre -60 35 sweep 90 at 150
			feed X40 at 150
			traverse X40 Z2
			traverse X50`},
		{"roughing along X", "", `
			S500 M3
			G0 X60 Z1
			G72 W2 R0.5
			G72 P10 Q20 U0.4 W0.1 F0.2
			N10 G0 Z-4
			G1 X40
			N20 X20 Z1
			G0 X70`, `
			spindle cw 500
			traverse X30 Z1
			traverse Z-1
			feed X14.4 at 100
			traverse X14.9 Z-0.5
			traverse X30
			traverse Z-3
			feed X18.4 at 100
			traverse X18.9 Z-2.5
			traverse X30
			traverse Z-3.9
			feed X20.2 at 100
			traverse X20.7 Z-3.4
			traverse X30
			traverse Z-3.9
			feed X30.2 Z-3.9 at 100
			feed X20.2 Z-3.9 at 100
			feed X10.2 Z1.1 at 100
			traverse Z1
			traverse X30
			traverse X35`},
		{"roughing a bore", "", `
			S500 M3
			G0 X20 Z1
			G71 U3 R0.5
			G71 P10 Q20 U-1 W0 F0.2
			N10 G0 X40
			G1 Z-10
			X30
			N20 Z-20
			M5`, `
			spindle cw 500
			traverse X10 Z1
			traverse X13
			feed Z-20 at 100
			traverse X12.5 Z-19.5
			traverse Z1
			traverse X16
			feed Z-10 at 100
			traverse X15.5 Z-9.5
			traverse Z1
			traverse X19
			feed Z-10 at 100
			traverse X18.5 Z-9.5
			traverse Z1
			traverse X19.5
			feed Z-10 at 100
			traverse X19 Z-9.5
			traverse Z1
			traverse X19.5
			feed X19.5 Z-10 at 100
			feed X14.5 Z-10 at 100
			feed X14.5 Z-20 at 100
			traverse X10
			traverse Z1
			spindle off 500`},
		{"along the pattern", "", `
			S500 M3
			G0 X100 Z5
			G73 U4 W2 R2
			G73 P10 Q20 U2 W0.5 F0.2
			N10 G0 X40 Z0
			N20 G1 X60 Z-30
			G0 X110`, `
			spindle cw 500
			traverse X50 Z5
			traverse X55 Z7.5
			traverse X25 Z2.5
			feed X35 Z-27.5 at 100
			traverse X51 Z5.5
			traverse X21 Z0.5
			feed X31 Z-29.5 at 100
			traverse X50
			traverse Z5
			traverse X55`},
		{"feed of the contour is for finishing", "", "S500 M3\nG0 X50 Z1\nG71 U10 R1\nG71 P1 Q2 F0.3\nN1 G0 X30 F0.1\nN2 G1 Z-10\nG70 P1 Q2", `
			spindle cw 500
			traverse X25 Z1
			traverse X15
			feed Z-10 at 150
			traverse X16 Z-9
			traverse Z1
			traverse X15
			feed X15 Z-10 at 150
			traverse X25
			traverse Z1
			traverse X15
			feed Z-10 at 50
			traverse X25 Z1`},
		{"a contour that goes back is said, not cut", "", "S500 M3\nG0 X50 Z1\nG71 U10 R1\nG71 P1 Q2 F0.3\nN1 G0 X30\nG1 Z-10\nX20 Z-20\nN2 X40\nG0 X60", `
			spindle cw 500
			traverse X25 Z1
			! not interpreted G71
			traverse X30`},
		{"an arc with a waist", "", "S500 M3\nG0 X50 Z1\nG71 U10 R1\nG71 P1 Q2 F0.3\nN1 G0 X30\nG1 Z-10\nG2 X32 Z-20 R20\nN2 G1 X40\nG0 X60", `
			spindle cw 500
			traverse X25 Z1
			! not interpreted G71
			traverse X30`},
		{"begun along both axes", "", "S500 M3\nG0 X50 Z1\nG71 U10 R1\nG71 P1 Q2 F0.3\nN1 G0 X30 Z0\nN2 G1 Z-10\nG0 X60", `
			spindle cw 500
			traverse X25 Z1
			! not interpreted G71
			traverse X30`},
		{"no such block", "", "S500 M3\nG0 X50 Z1\nG71 U10 R1\nG71 P1 Q2 F0.3\nN2 G1 Z-10 F0.1", `
			spindle cw 500
			traverse X25 Z1
			! value P1
			feed Z-10 at 50`},
		{"no end", "", "S500 M3\nG0 X50 Z1\nG71 U10 R1\nG71 P1 Q2 F0.3\nN1 G0 X20\nN3 G1 Z-10 F0.1", `
			spindle cw 500
			traverse X25 Z1
			! value Q2
			traverse X10
			feed Z-10 at 50`},
		{"without its first block", "", "S500 M3\nG0 X50 Z1\nG71 P1 Q2 F0.3\nN1 G0 X30\nN2 G1 Z-10\nG0 X60", `
			spindle cw 500
			traverse X25 Z1
			! value G71
			traverse X15
			feed Z-10 at 150
			traverse X30`},
		{"a cycle in a contour", "", "S500 M3\nG0 X50 Z1\nG71 U10 R1\nG71 P1 Q2 F0.3\nN1 G0 X30\nG71 P1 Q2\nN2 G1 Z-10\nG0 X60", `
			spindle cw 500
			traverse X25 Z1
			! value G71
			traverse X15
			feed Z-10 at 150
			traverse X16 Z-9
			traverse Z1
			traverse X15
			feed X15 Z-10 at 150
			traverse X25
			traverse Z1
			traverse X30`},
	})
}

func TestGroovesAndThreads(t *testing.T) {
	turned(t, machine(t, "slant-lathe"), []run{
		{"a hole in pecks", "", "S500 M3\nG0 X0 Z5\nG74 R1\nG74 Z-15 Q10000 F0.1", `
			spindle cw 500
			traverse X0 Z5
			feed Z-5 at 50
			traverse Z-4
			feed Z-15 at 50
			traverse Z5`},
		{"a groove in the face, side by side", "", "S500 M3\nG0 X40 Z1\nG74 R0.5\nG74 X34 Z-3 P2000 Q0 R0.1 F0.1", `
			spindle cw 500
			traverse X20 Z1
			feed Z-3 at 50
			traverse Z1
			traverse X18
			feed Z-3 at 50
			traverse X18.1
			traverse Z1
			traverse X17
			feed Z-3 at 50
			traverse X17.1
			traverse Z1
			traverse X20`},
		{"a groove around, in pecks", "", "S500 M3\nG0 X50 Z-10\nG75 R0.5\nG75 X40 Z-12 P3. Q2000 F0.1", `
			spindle cw 500
			traverse X25 Z-10
			feed X22 at 50
			traverse X22.5
			feed X20 at 50
			traverse X25
			traverse Z-12
			feed X22 at 50
			traverse X22.5
			feed X20 at 50
			traverse X25
			traverse Z-10`},
		// M20x1.5: the height of an outside thread is 0.613 of its lead (handbooks,
		// from memory). Depths 0.5, 0.5*sqrt(2), 0.5*sqrt(3), then 0.92 less 0.05, then all.
		{"a thread in passes", "", "S400 M3\nG0 X24 Z5\nG76 P020060 Q100 R0.05\nG76 X18.16 Z-20 P920 Q500 F1.5", `
			spindle cw 400
			traverse X12 Z5
			traverse Z4.711325
			traverse X9.5
			feed X9.5 Z-20 at 600
			traverse X12
			traverse Z5
			traverse Z4.591752
			traverse X9.292893
			feed X9.292893 Z-20 at 600
			traverse X12
			traverse Z5
			traverse Z4.5
			traverse X9.133975
			feed X9.133975 Z-20 at 600
			traverse X12
			traverse Z5
			traverse Z4.497705
			traverse X9.13
			feed X9.13 Z-20 at 600
			traverse X12
			traverse Z5
			traverse Z4.468838
			traverse X9.08
			feed X9.08 Z-20 at 600
			traverse X12
			traverse Z5
			traverse Z4.468838
			traverse X9.08
			feed X9.08 Z-20 at 600
			traverse X12
			traverse Z5`},
		{"a taper with a run-out", "", "S400 M3\nG0 X30 Z0\nG76 P011000 Q1000 R0\nG76 X20 Z-20 R-2 P1000 Q1000 F2", `
			spindle cw 400
			traverse X15 Z0
			traverse X8
			feed X9.8 Z-18 at 803.99005
			feed X11.8 Z-20 at 1131.37085
			traverse X15
			traverse Z0`},
		{"without its height", "", "S400 M3\nG0 X30 Z0\nG76 P011000 Q1 R0\nG76 X20 Z-20 Q1 F2", `
			spindle cw 400
			traverse X15 Z0
			! missing G76 without P`},
	})
}

// The same cycles written in one block each.
func TestOneLineCycles(t *testing.T) {
	turned(t, lathe(t, "[turning]\ncycle_lines = 1\nretract = \"1 mm\"\n[words]\naccepted = \"ADFGIKLMNPQRSTUWXZ\"\n"), []run{
		{"roughing", "", "S500 M3\nG0 X50 Z1\nG71 P1 Q2 U0.4 W0.1 D10 F0.3\nN1 G0 X30\nN2 G1 Z-10\nG0 X60", `
			spindle cw 500
			traverse X25 Z1
			traverse X15.2
			feed Z-9.9 at 150
			traverse X16.2 Z-8.9
			traverse Z1
			traverse X15.2
			feed X15.2 Z1.1 at 150
			feed X15.2 Z-9.9 at 150
			traverse X25
			traverse Z1
			traverse X30`},
		{"pattern", "", "S500 M3\nG0 X50 Z1\nG73 P1 Q2 I3 K1 U0 W0 D1 F0.3\nN1 G0 X30\nN2 G1 Z-10\nG0 X60", `
			spindle cw 500
			traverse X25 Z1
			traverse X25 Z1
			traverse X15 Z1
			feed X15 Z-10 at 150
			traverse X25
			traverse Z1
			traverse X30`},
		{"groove", "", "S500 M3\nG0 X0 Z5\nG74 Z-15 K10 F0.1", `
			spindle cw 500
			traverse X0 Z5
			feed Z-5 at 50
			traverse Z-4
			feed Z-15 at 50
			traverse Z5`},
		{"thread", "", "S400 M3\nG0 X24 Z5\nG76 X18 Z-20 K1 D1 A0 F1.5", `
			spindle cw 400
			traverse X12 Z5
			traverse X9
			feed X9 Z-20 at 600
			traverse X12
			traverse Z5`},
		{"without a depth", "", "S500 M3\nG0 X50 Z1\nG71 P1 Q2 F0.3\nN1 G0 X30\nN2 G1 Z-10\nG0 X60", `
			spindle cw 500
			traverse X25 Z1
			! value G71
			traverse X30`},
	})
}

// Nose radius compensation: the tip that is set goes where the contour is on
// cylinders and faces, and r*(1-tan(a/2)) beside it along Z on a chamfer of the
// angle a (handbooks, from memory).
func TestNoseRadius(t *testing.T) {
	m := lathe(t, "")
	m.Tools.Loaded = []profiles.Tool{{Number: 1, NoseRadius: 1, NoseDirection: 3}, {Number: 2, NoseRadius: 1, NoseDirection: 2}, {Number: 3}}
	turned(t, m, []run{
		{"outside, cylinder, chamfer, face", "", `
			S500 M3
			T0101
			G0 X20 Z10
			G42 G1 Z2 F0.1
			Z-10
			X40 Z-20
			Z-30
			X60
			G40 G0 X80`, `
			spindle cw 500
			tool 1
			traverse X10 Z10
			feed Z1 at 50
			feed Z-10.585786 at 50
			feed X19.707107 Z-20.292893 at 50
			arc ccw X20 Z-21 centre -21 19 sweep 45 at 50
			feed Z-30 at 50
			feed X29 at 50
			traverse X40`},
		{"a bore", "", `
			S500 M3
			T0202
			G0 X40 Z10
			G41 G1 Z2 F0.1
			Z-10
			X20
			G40 G0 X10`, `
			spindle cw 500
			tool 2
			traverse X20 Z10
			feed Z1 at 50
			feed Z-10 at 50
			feed X11 at 50
			traverse X5`},
		{"the nose is not known", "", "S500 M3\nT0303\nG0 X20 Z10\nG42 G1 Z2 F0.1\nZ-10", `
			spindle cw 500
			tool 3
			traverse X10 Z10
			! radius unknown G42
			feed Z2 at 50
			feed Z-10 at 50`},
		{"roughing cuts the contour of the program, finishing that of the nose", "", `
			S500 M3
			T0101
			G0 X50 Z2
			G71 U10 R1
			G71 P1 Q2 F0.1
			N1 G42 G0 X30
			G1 Z-10
			N2 G40 X40
			G70 P1 Q2`, `
			spindle cw 500
			tool 1
			traverse X25 Z2
			traverse X15
			feed Z-10 at 50
			traverse X16 Z-9
			traverse Z2
			traverse X15
			feed X15 Z-10 at 50
			feed X20 Z-10 at 50
			traverse X25
			traverse Z2
			traverse X15 Z1
			feed Z-11 at 50
			feed X20 Z-10 at 50
			traverse X25 Z2`},
	})
}

// Cycles among jumps and calls: the program goes on behind the contour, wherever
// the cycle stands.
func TestContourAndFlow(t *testing.T) {
	m := lathe(t, "[block]\nflow = true\nsubprograms = 2\n[codes]\nM98 = \"call\"\nM99 = \"return\"\n[words]\naccepted = \"DFGIKLMNOPQRSTUWXZ\"\n")
	turned(t, m, []run{
		{"in a subprogram, twice", "", `
			S500 M3
			M98 P2 L2
			M30
			O2
			G0 X50 Z2
			G71 U10 R1
			G71 P1 Q2 F0.1
			N1 G0 X40
			N2 G1 Z-5
			M99`, `
			spindle cw 500
			traverse X25 Z2
			traverse X20
			feed Z-5 at 50
			traverse X21 Z-4
			traverse Z2
			traverse X20
			feed X20 Z-5 at 50
			traverse X25
			traverse Z2
			traverse X25 Z2
			traverse X20
			feed Z-5 at 50
			traverse X21 Z-4
			traverse Z2
			traverse X20
			feed X20 Z-5 at 50
			traverse X25
			traverse Z2
			stop end`},
		{"in a loop", "", `
			S500 M3
			#1=0
			WHILE [#1 LT 2] DO1
			G0 X50 Z2
			G71 U10 R1
			G71 P1 Q2 F0.1
			N1 G0 X40
			N2 G1 Z-5
			#1=[#1+1]
			END1
			M30`, `
			spindle cw 500
			traverse X25 Z2
			traverse X20
			feed Z-5 at 50
			traverse X21 Z-4
			traverse Z2
			traverse X20
			feed X20 Z-5 at 50
			traverse X25
			traverse Z2
			traverse X25 Z2
			traverse X20
			feed Z-5 at 50
			traverse X21 Z-4
			traverse Z2
			traverse X20
			feed X20 Z-5 at 50
			traverse X25
			traverse Z2
			stop end`},
		{"a jump out of the contour", "", `
			S500 M3
			G0 X50 Z2
			G71 U10 R1
			G71 P1 Q2 F0.1
			N1 G0 X40
			GOTO 9
			N2 G1 Z-5
			M30
			N9 M0`, `
			spindle cw 500
			traverse X25 Z2
			! not interpreted
			! not interpreted G71
			stop end`},
	})
}
