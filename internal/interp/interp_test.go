package interp

import (
	"fmt"
	"math"
	"strconv"
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

// ops runs a program and writes its operations, one a line, as a machinist
// would say them; faults stand among them with a "!".
func ops(t testing.TB, m *profiles.Machine, program string) string {
	t.Helper()
	var out []string
	in := New(m, Options{MaxBlocks: 100000}, Visitor{
		Op: func(op *Op) { out = append(out, opText(op)) },
		Fault: func(f *Fault) {
			if f.Kind != ParamVacant { // it counts as zero: TestVacantParameters
				out = append(out, faultText(f))
			}
		},
	})
	if _, err := in.Run(strings.NewReader(program), int64(len(program))); err != nil {
		t.Fatal(err)
	}
	return strings.Join(out, "\n")
}

func num(v float64) string { return strconv.FormatFloat(math.Round(v*1e6)/1e6+0, 'f', -1, 64) }

func point(p Point, known AxisSet, axes AxisSet) string {
	var s []string
	for i := range profiles.NumAxes {
		switch {
		case !axes.Has(i):
		case known.Has(i):
			s = append(s, profiles.AxisLetters[i:i+1]+num(p[i]))
		default:
			s = append(s, profiles.AxisLetters[i:i+1]+"?")
		}
	}
	return strings.Join(s, " ")
}

func opText(op *Op) string {
	s := op.State
	switch op.Kind {
	case Traverse:
		return "traverse " + point(op.To, op.ToKnown, op.Moves)
	case Feed:
		return fmt.Sprintf("feed %s at %s", point(op.To, op.ToKnown, op.Moves), num(op.Feed*60))
	case Arc:
		dir := "ccw"
		if op.CW {
			dir = "cw"
		}
		first, second, _ := op.Plane.Axes()
		return fmt.Sprintf("arc %s %s centre %s %s sweep %s at %s", dir, point(op.To, op.ToKnown, op.Moves),
			num(op.Center[first]), num(op.Center[second]), num(op.Sweep*180/math.Pi), num(op.Feed*60))
	case Dwell:
		return "dwell " + num(op.Seconds)
	case Spindle:
		return fmt.Sprintf("spindle %s %s", [...]string{"?", "off", "cw", "ccw"}[s.Spindle], num(s.Speed))
	case Tool:
		return fmt.Sprintf("tool %d", s.Tool)
	case Gear:
		return fmt.Sprintf("gear %d", s.Gear)
	case Auxiliary:
		return "auxiliary " + num(op.Seconds)
	case Coolant:
		return fmt.Sprintf("coolant flood=%t mist=%t", s.Flood, s.Mist)
	}
	return "stop " + [...]string{"program", "optional", "pallet", "by hand", "end"}[op.StopKind]
}

func faultText(f *Fault) string {
	word := ""
	if f.Word >= 0 {
		w := &f.Block.Words[f.Word]
		word = " " + string(f.Block.Text(w.Pos, w.End))
	}
	if f.Missing != 0 {
		word += " without " + string(f.Missing)
	}
	return "! " + [...]string{"unreadable", "refused", "cycle refused", "conflict", "not used", "missing", "arc radius", "arc form", "quadrant", "value", "expression", "no subprogram", "too deep", "runaway", "no motion", "too many M", "not interpreted",
		"forbidden in comp", "radius unknown", "entry short", "arc too small", "gouge", "inside corner", "no jump", "loop", "tool change", "parameter vacant", "no return"}[f.Kind] + word
}

// lines trims a table's text.
func lines(s string) string {
	var out []string
	for _, l := range strings.Split(strings.TrimSpace(s), "\n") {
		out = append(out, strings.TrimSpace(l))
	}
	return strings.Join(out, "\n")
}

type run struct {
	name, machine, program, want string
}

func check(t *testing.T, table []run) {
	t.Helper()
	for _, c := range table {
		t.Run(c.name, func(t *testing.T) {
			got := ops(t, machine(t, c.machine), lines(c.program)+"\n")
			if got != lines(c.want) {
				t.Errorf("program:\n%s\ngot:\n%s\nwant:\n%s", lines(c.program), got, lines(c.want))
			}
		})
	}
}

func TestMoves(t *testing.T) {
	check(t, []run{
		{"traverse and feed", "rs274ngc", "G0 X1 Y2 Z3\nG1 X4 F120", `
			traverse X1 Y2 Z3
			feed X4 at 120`},
		{"inches are millimetres inside", "rs274ngc", "G20 G0 X1\nG1 X2 F10", `
			traverse X25.4
			feed X50.8 at 254`},
		{"incremental from a known place", "rs274ngc", "G0 X1\nG91 X2\nX-0.5", `
			traverse X1
			traverse X3
			traverse X2.5`},
		{"incremental from nowhere stays unknown", "rs274ngc", "G91 G0 X2\nG90 X1", `
			traverse X?
			traverse X1`},
		// NISTIR 6556 (from memory): "g0x +0. 12 34y 7" is "g0 x+0.1234 y7".
		{"blanks mean nothing", "rs274ngc", "g0x +0. 12 34y 7", "traverse X0.1234 Y7"},
		// NISTIR 6556 (from memory): a setting takes effect after the whole block was read.
		{"settings wait for their block", "rs274ngc", "#3=15 G0 X#3\nX#3\n#3=6 X#3\nX#3", `
			traverse X0
			traverse X15
			traverse X15
			traverse X6`},
		{"dwell", "rs274ngc", "G4 P0.5", "dwell 0.5"},
		{"inverse time", "rs274ngc", "G0 X0 Y0\nG93 G1 X10 F2\nX20\nX30 F1", `
			traverse X0 Y0
			feed X10 at 20
			! missing X20 without F
			feed X20 at 20
			feed X30 at 10`},
		{"rotary axes alone feed in degrees", "rs274ngc", "G0 A0\nG1 A90 F360", "traverse A0\nfeed A90 at 360"},
		{"machine coordinates without an offset known", "rs274ngc", "G0 X1 Z5\nG53 G0 Z0\nX2\nZ7", `
			traverse X1 Z5
			traverse Z?
			traverse X2
			traverse Z7`},
		{"G54 known: machine coordinates are work coordinates away", "bed-mill", "G0 X0 Y0 Z1\nG53 G0 Z0\nX1", `
			traverse X0 Y0 Z25.4
			traverse Z457.2
			traverse X25.4`},
		{"G53 with an arc", "rs274ngc", "G0 X0 Y0\nG2 X1 I0.5 F10\nG53 X5", `
			traverse X0 Y0
			arc cw X1 Y0 centre 0.5 0 sweep 180 at 10
			! value G53`},
		{"home through a point, named axes", "bed-mill", "G21 G54 G0 X0 Y0 Z10\nG28 Z20\nG0 Z10", `
			traverse X0 Y0 Z10
			traverse Z20
			traverse Z457.2
			traverse Z10`},
		{"home without words: every axis", "bed-mill", "G21 G0 X0 Y0 Z10\nG28", `
			traverse X0 Y0 Z10
			traverse X-304.8 Y304.8 Z457.2`},
		{"set position", "rs274ngc", "G0 X10 Y10\nG92 X0\nX5\nG92.1\nX5", `
			traverse X10 Y10
			traverse X5
			traverse X5`},
		{"no motion mode", "tape-era", "X10000\nG0 X10000", `
			! no motion X10000
			traverse X25.4`},
		{"numbers without a point count least increments", "tape-era", "G0 X12500 Y-5\nG71\nX12500", `
			traverse X31.75 Y-0.0127
			traverse X12.5`},
		{"a number with a point is itself", "tape-era", "G0 X1.25", "traverse X31.75"},
		{"end restores", "rs274ngc", "G0 X1\nM30\nG0 X2", `
			traverse X1
			stop end`},
	})
}

func TestArcs(t *testing.T) {
	check(t, []run{
		{"centre from the start", "rs274ngc", "G0 X0 Y0\nG3 X10 I5 F100", `
			traverse X0 Y0
			arc ccw X10 Y0 centre 5 0 sweep 180 at 100`},
		// NISTIR 6556 (from memory): it is an error if X and Y are both missing.
		{"full circle without an end", "rs274ngc", "G0 X0 Y0\nG2 I5 F100", `
			traverse X0 Y0
			! missing G2 without X`},
		{"full circle without an end, on a control that closes it", "bed-mill", "G21 G0 X0 Y0\nG2 I5 F100", `
			traverse X0 Y0
			arc cw X0 Y0 centre 5 0 sweep 360 at 100`},
		{"full circle after increments", "rs274ngc", "G0 X0 Y0\nG91 Y0.1\nY0.2\nG90 G3 Y0.3 I-5 F100\nG2 Y0.3 I-5", `
			traverse X0 Y0
			traverse Y0.1
			traverse Y0.3
			arc ccw X0 Y0.3 centre -5 0.3 sweep 360 at 100
			arc cw X0 Y0.3 centre -5 0.3 sweep 360 at 100`},
		{"full circle", "rs274ngc", "G0 X0 Y0\nG2 X0 I5 F100", `
			traverse X0 Y0
			arc cw X0 Y0 centre 5 0 sweep 360 at 100`},
		{"R at most 180 degrees", "rs274ngc", "G0 X10 Y0\nG3 X0 Y10 R10 F100", `
			traverse X10 Y0
			arc ccw X0 Y10 centre 0 0 sweep 90 at 100`},
		// NISTIR 6556 (from memory): "a negative number for the radius indicates an arc of 180 to 359.999 degrees".
		{"negative R takes the long way", "rs274ngc", "G0 X10 Y0\nG3 X0 Y10 R-10 F100", `
			traverse X10 Y0
			arc ccw X0 Y10 centre 10 10 sweep 270 at 100`},
		{"R with end at start is an error", "rs274ngc", "G0 X10 Y0\nG3 X10 Y0 R10 F100", `
			traverse X10 Y0
			! value R10`},
		// NISTIR 6556 (from memory): G17 G2 x 10 y 15 r 20 z 5 is a helix; so is G2 x 10 y 16 i 3 j 4 z 9.
		{"helix", "rs274ngc", "G0 X3 Y0 Z0\nG17 G3 X-3 I-3 Z9 F100", `
			traverse X3 Y0 Z0
			arc ccw X-3 Y0 Z9 centre 0 0 sweep 180 at 100`},
		{"plane ZX: I and K", "rs274ngc", "G0 X0 Y0 Z0\nG18 G3 X10 K0 I5 F100", `
			traverse X0 Y0 Z0
			arc ccw X10 Z0 centre 0 5 sweep 180 at 100`},
		{"plane YZ: J and K", "rs274ngc", "G0 X0 Y0 Z0\nG19 G2 Y10 J5 F100", `
			traverse X0 Y0 Z0
			arc cw Y10 Z0 centre 5 0 sweep 180 at 100`},
		{"radii apart", "rs274ngc", "G0 X0 Y0\nG2 X10 I5.01 F100\nG1 X0", `
			traverse X0 Y0
			! arc radius G2
			feed X0 at 100`},
		{"within 0.002 mm", "rs274ngc", "G0 X0 Y0\nG2 X10 I5.0009 F100", `
			traverse X0 Y0
			arc cw X10 Y0 centre 5.0009 0 sweep 180 at 100`},
		{"unsigned centre in each quadrant", "tape-era", `
			G0 X10000 Y0
			G3 X0 Y10000 I10000 J0 F100
			X-10000 Y0 I0 J10000
			X0 Y-10000 I10000 J0
			X10000 Y0 I0 J10000`, `
			traverse X25.4 Y0
			arc ccw X0 Y25.4 centre 0 0 sweep 90 at 2540
			arc ccw X-25.4 Y0 centre 0 0 sweep 90 at 2540
			arc ccw X0 Y-25.4 centre 0 0 sweep 90 at 2540
			arc ccw X25.4 Y0 centre 0 0 sweep 90 at 2540`},
		{"R is refused, and done", "tape-era", "G0 X0 Y0\nG2 X10000 Y10000 R10000 F10", `
			traverse X0 Y0
			! arc form R10000
			arc cw X25.4 Y25.4 centre 25.4 0 sweep 90 at 254`},
		{"no centre", "rs274ngc", "G0 X0 Y0\nG2 X10 F100", `
			traverse X0 Y0
			! missing G2 without I`},
	})
}

// The cycles of NISTIR 6556, 3.5.16, from memory; the first is the report's own
// example.
func TestCycles(t *testing.T) {
	check(t, []run{
		{"G81, the report's example", "rs274ngc", "G0 X1 Y2 Z3 F60\nG90 G81 G98 X4 Y5 Z1.5 R2.8", `
			traverse X1 Y2 Z3
			traverse X4 Y5
			traverse Z2.8
			feed Z1.5 at 60
			traverse Z3`},
		// The report's second example: G91 G81 G98 X4 Y5 Z-0.6 R1.8 L3 from 1, 2, 3.
		{"G81 in G91 with L, the report's example", "rs274ngc", "G0 X1 Y2 Z3 F60\nG91 G81 G98 X4 Y5 Z-0.6 R1.8 L3", `
			traverse X1 Y2 Z3
			traverse Z4.8
			traverse X5 Y7
			feed Z4.2 at 60
			traverse Z4.8
			traverse X9 Y12
			feed Z4.2 at 60
			traverse Z4.8
			traverse X13 Y17
			feed Z4.2 at 60
			traverse Z4.8`},
		{"R level, words kept from hole to hole", "rs274ngc", "G0 X0 Y0 Z10 F60\nG99 G81 X1 Y1 Z-5 R2\nX2\nG80 X3", `
			traverse X0 Y0 Z10
			traverse X1 Y1
			traverse Z2
			feed Z-5 at 60
			traverse Z2
			traverse X2
			feed Z-5 at 60
			traverse Z2
			! no motion X3`},
		{"G82 dwells", "rs274ngc", "G0 X0 Y0 Z2 F60\nG82 X1 Z-1 R1 P0.5", `
			traverse X0 Y0 Z2
			traverse X1
			traverse Z1
			feed Z-1 at 60
			dwell 0.5
			traverse Z2`},
		// 0.05 less three times 0.04 is 0.17, and in floats a little more.
		{"G83 has no peck for what floats leave over", "rs274ngc", "G20 G0 X0 Y0 Z0 F1\nG99 G83 X0 Z-0.17 R-0.05 Q0.04", `
			traverse X0 Y0 Z0
			traverse X0
			traverse Z-1.27
			feed Z-2.286 at 25.4
			traverse Z-1.27
			traverse Z-2.032
			feed Z-3.302 at 25.4
			traverse Z-1.27
			traverse Z-3.048
			feed Z-4.318 at 25.4
			traverse Z-1.27`},
		{"G83 pecks", "rs274ngc", "G0 X0 Y0 Z5 F60\nG83 X0 Z-2.5 R1 Q1.5", `
			traverse X0 Y0 Z5
			traverse X0
			traverse Z1
			feed Z-0.5 at 60
			traverse Z1
			traverse Z-0.246
			feed Z-2 at 60
			traverse Z1
			traverse Z-1.746
			feed Z-2.5 at 60
			traverse Z5`},
		{"G84 taps", "rs274ngc", "G0 X0 Y0 Z5 S100 M3 F60\nG84 X0 Z-2 R1", `
			spindle cw 100
			traverse X0 Y0 Z5
			traverse X0
			traverse Z1
			feed Z-2 at 60
			spindle ccw 100
			feed Z5 at 60
			spindle cw 100`},
		{"G85 feeds out, G89 dwells first", "rs274ngc", "G0 X0 Y0 Z1 F60\nG85 X0 Z-2 R1\nG89 X1 Z-2 R1 P1", `
			traverse X0 Y0 Z1
			traverse X0
			feed Z-2 at 60
			feed Z1 at 60
			traverse X1
			feed Z-2 at 60
			dwell 1
			feed Z1 at 60`},
		{"G86 stops, goes out and starts", "rs274ngc", "G0 X0 Y0 Z1 S100 M4 F60\nG86 X0 Z-2 R1 P0.2", `
			spindle ccw 100
			traverse X0 Y0 Z1
			traverse X0
			feed Z-2 at 60
			dwell 0.2
			spindle off 100
			traverse Z1
			spindle ccw 100`},
		{"G87 bores from behind", "rs274ngc", "G0 X0 Y0 Z5 S100 M3 F60\nG87 X1 Y0 Z-10 R1 I2 J0 K-4", `
			spindle cw 100
			traverse X0 Y0 Z5
			traverse X1 Y0
			traverse Z1
			traverse X3 Y0
			spindle off 100
			traverse Z-10
			traverse X1 Y0
			spindle cw 100
			feed Z-4 at 60
			feed Z-10 at 60
			spindle off 100
			traverse X3 Y0
			traverse Z5
			traverse X1 Y0
			spindle cw 100`},
		{"G88 leaves the way out to the operator", "rs274ngc", "G0 X0 Y0 Z1 S100 M3 F60\nG88 X0 Z-2 R1 P0.2", `
			spindle cw 100
			traverse X0 Y0 Z1
			traverse X0
			feed Z-2 at 60
			dwell 0.2
			spindle off 100
			stop by hand
			spindle cw 100
			traverse Z1`},
		{"plane ZX drills along Y", "rs274ngc", "G18 G0 X0 Y5 Z0 F60\nG81 X1 Z2 Y-3 R1", `
			traverse X0 Y5 Z0
			traverse X1 Z2
			traverse Y1
			feed Y-3 at 60
			traverse Y5`},
		{"R below the bottom", "rs274ngc", "G0 X0 Y0 Z5 F60\nG81 X0 Z2 R1", `
			traverse X0 Y0 Z5
			! value G81`},
		{"no R", "rs274ngc", "G0 X0 Y0 Z5 F60\nG81 X0 Z-2\nG0 X1", `
			traverse X0 Y0 Z5
			! missing G81 without R
			traverse X1`},
		{"a peck of nothing", "rs274ngc", "G0 X0 Y0 Z5 F60\nG83 X0 Z-2 R1 Q0", `
			traverse X0 Y0 Z5
			! value G83`},
	})
}

func TestSpindleAndTools(t *testing.T) {
	check(t, []run{
		{"speed, start, stop", "rs274ngc", "S500 M3\nS600\nM5\nS700\nM4", `
			spindle cw 500
			spindle cw 600
			spindle off 600
			spindle ccw 700`},
		{"gear before the spindle in one block", "bed-mill", "M41 S500 M3", "gear 0\nspindle cw 500"},
		{"tool change stops the spindle", "rs274ngc", "S500 M3\nT2\nM6\nM3", `
			spindle cw 500
			tool 2
			spindle cw 500`},
		{"tool change without a tool", "rs274ngc", "M6", "! missing M6 without T\ntool -1"},
		{"coolant", "rs274ngc", "M7\nM8\nM9\nM9", `
			coolant flood=false mist=true
			coolant flood=true mist=true
			coolant flood=false mist=false`},
		{"stops", "rs274ngc", "M0\nM1\nM60\nM2", "stop program\nstop optional\nstop pallet\nstop end"},
		// NISTIR 6556, table 8 (from memory): M0 comes behind the motion, M3 before it.
		{"order in a block", "rs274ngc", "G1 X1 F10 M0 S100 M3 M8 G4 P1", `
			spindle cw 100
			coolant flood=true mist=false
			dwell 1
			feed X1 at 10
			stop program`},
	})
}

func TestSubprograms(t *testing.T) {
	check(t, []run{
		{"call and repeat", "bed-mill", `
			O1
			G21 G0 X0
			M98 P20 L2
			X9
			M30
			O20
			G91 X1
			G90
			M99`, `
			traverse X0
			traverse X1
			traverse X2
			traverse X9
			stop end`},
		{"nested", "bed-mill", `
			O1
			G21 M98 P20
			G0 X9
			M30
			O20
			M98 P30
			G0 X2
			M99
			O30
			G0 X1
			M99`, `
			traverse X1
			traverse X2
			traverse X9
			stop end`},
		{"not there", "bed-mill", "O1\nG21 G0 X5\nM98 P20\nG91 G0 X1\nG90 X7\nM30", `
			traverse X5
			! no subprogram P20
			traverse X?
			traverse X?
			stop end`},
		{"calls itself", "bed-mill", "O1\nM98 P20\nM30\nO20\nM98 P20\nM99", `
			! too deep P20
			stop end`},
		{"runs away", "bed-mill", "O1\nM98 P20 L999999\nM30\nO20\nG4 P0\nM98 P30 L999999\nM99\nO30\nM99", `
			dwell 0
			! runaway`},
	})
}

func TestFaults(t *testing.T) {
	check(t, []run{
		{"a refused code is one fault", "rs274ngc", "G0 X1 Y1\nG73 X2 Z-1 R1 Q1\nX3\nX4\nG0 X5 Y5 Z5", `
			traverse X1 Y1
			! cycle refused G73
			traverse X5 Y5 Z5`},
		{"a doubtful cycle block does not make the next ones wrong", "tape-era", "G0 X0 Y0 Z10000\nG99 G81 X10000 Z-5000 R1000 F10\nX20000\nG80\nG0 X0 Z10000", `
			traverse X0 Y0 Z25.4
			! refused G99
			traverse X0 Z25.4`},
		{"two of one group", "rs274ngc", "G0 G1 X1 F10", "! conflict G1\ntraverse X1"},
		{"an address twice", "rs274ngc", "G0 X1 X2", "! conflict X2\ntraverse X1"},
		{"mist and flood may stand together", "rs274ngc", "M7 M8", "coolant flood=false mist=true\ncoolant flood=true mist=true"},
		{"not used", "rs274ngc", "G0 X1 R5", "traverse X1\n! not used R5"},
		{"H without its code", "rs274ngc", "G0 X1 H5", "traverse X1\n! not used H5"},
		{"unreadable: nothing is invented", "rs274ngc", "G0 X1 Y1\nX2 Y\nG91 X1\nG90 X3 Y3", `
			traverse X1 Y1
			! unreadable
			traverse X?
			traverse X3 Y3`},
		{"an unclosed comment leaves the words", "rs274ngc", "G0 X1 (over the part\nX2", `
			! unreadable
			traverse X1
			traverse X2`},
		{"expression without a value", "rs274ngc", "G0 X[1/0] Y2\nX1", `
			! expression X[1/0]
			traverse X1`},
		{"a parameter without a value is lost, not old", "bed-mill", "G21 #1=5\n#1=[1/0]\nG0 X#1 Y1\n#1=2 Y2\nX#1", `
			! expression
			traverse Y2
			traverse X2`},
		{"what cannot be read may have set any parameter", "bed-mill", "G21 #1=5\n#1=[#1+\nG0 X#1 Y1", `
			! unreadable`},
		{"a loop whose count is lost ends", "parametric", "#1=0\nWHILE [#1 LT 3] DO 1\n#1=[#1+1\nEND 1\nG0 X1\nM30", `
			! unreadable
			traverse X?
			stop end`},
		{"a time at another address is no move", "bed-mill", "G21 G0 X1\nG4 X2.\nG1 X3 F10", `
			traverse X1
			! missing G4 without P
			feed X3 at 10`},
		{"an axis that is not there", "bed-mill", "G21 G0 X1 B30.\nX2", `
			! refused B30.
			traverse X2`},
		{"a home that nobody knows", "bed-mill", "G21 G0 X0 Y0 Z5\nG30 Z6", `
			traverse X0 Y0 Z5
			traverse Z6
			! not interpreted G30
			traverse Z?`},
		{"more than four M codes", "rs274ngc", "M3 M8 M48 M0 M6 T1", `
			! too many M M6
			tool 1
			spindle cw 0
			coolant flood=true mist=false
			stop program`},
		{"parameters refused", "tape-era", "G0 X#1", "! refused X#1"},
		{"a number beyond reason", "rs274ngc", "G0 X99999999999999", "! value X99999999999999"},
	})
}

// Operators and functions of NISTIR 6556, 3.3.2.3, from memory; values from
// any table of functions.
func TestExpressions(t *testing.T) {
	for expr, want := range map[string]float64{
		"[1+2*3]": 7, "[[1+2]*3]": 9, "[2**3**2]": 64, "[2*3**2]": 18, "[10-4-3]": 3, "[12/4/3]": 1,
		"[7 MOD 4]": 3, "[-7 MOD 4]": 1, "[1 AND 0]": 0, "[1 OR 0]": 1, "[1 XOR 1]": 0,
		"SIN[30]": 0.5, "COS[60]": 0.5, "TAN[45]": 1, "ASIN[0.5]": 30, "ACOS[0.5]": 60, "ATAN[1]/[1]": 45, "ATAN[1]/[-1]": 135,
		"SQRT[2]": math.Sqrt2, "EXP[1]": math.E, "LN[EXP[2]]": 2, "ABS[-3]": 3,
		"FIX[2.8]": 2, "FIX[-2.8]": -3, "FUP[2.8]": 3, "FUP[-2.8]": -2, "ROUND[2.5]": 3, "ROUND[-2.5]": -3,
		"#7": 0, "-[2]": -2,
	} {
		got := ops(t, machine(t, "rs274ngc"), "G0 X"+expr+"\n")
		if want := "traverse X" + num(want); got != want {
			t.Errorf("%s: got %s, want %s", expr, got, want)
		}
	}
}
