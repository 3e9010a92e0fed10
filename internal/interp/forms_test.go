package interp

import (
	"slices"
	"strings"
	"testing"

	"tapefit/profiles"
)

// on is a run on a machine that a few lines of a profile make.
type on struct {
	name, base, profile, program, want string
}

func checkOn(t *testing.T, table []on) {
	t.Helper()
	for _, c := range table {
		t.Run(c.name, func(t *testing.T) {
			got := ops(t, variant(t, c.base, c.profile), lines(c.program)+"\n")
			if got != lines(c.want) {
				t.Errorf("profile:\n%s\nprogram:\n%s\ngot:\n%s\nwant:\n%s", c.profile, lines(c.program), got, lines(c.want))
			}
		})
	}
}

// Number formats of EIA RS-274-D and ISO 6983-1, from memory: X3.4 has three
// digits before the point that is not written and four behind it, X4.3 four and
// three. With leading zeros left out a number is counted from its end, with
// trailing zeros left out from its front.
func TestNumberFormats(t *testing.T) {
	const mm = `
		[start]
		units = "mm"
		motion = "traverse"
		[arcs]
		centre = "incremental"
		radius = true
		quadrant = false
		tolerance = "0.01 mm"
		[codes]
		G83 = "peck"
		[cycles.peck]
		needs = "RZQ"
		[words]
		accepted = "FGIJKMNOPQRSTXYZ"
		`
	leading := mm + "[numbers]\npoint = \"counts\"\nsuppress = \"leading\"\ndigits = { inch = 3, mm = 4 }\ndecimals = { inch = 4, mm = 3 }\n"
	trailing := mm + "[numbers]\npoint = \"counts\"\nsuppress = \"trailing\"\ndigits = { inch = 3, mm = 4 }\ndecimals = { inch = 4, mm = 3 }\n"
	refused := trailing + "feed_point = \"refused\"\n"
	checkOn(t, []on{
		{"X4.3, leading zeros left out", "tape-era", leading, "X12500\nX-5\nX0012500\nX0", "traverse X12.5\ntraverse X-0.005\ntraverse X12.5\ntraverse X0"},
		{"X3.4, leading zeros left out", "tape-era", leading, "G70 X12500\nX-5", "traverse X31.75\ntraverse X-0.0127"},
		{"X4.3, trailing zeros left out", "tape-era", trailing, "X00125\nX-0000005\nX0012500\nX1", "traverse X12.5\ntraverse X-0.005\ntraverse X12.5\ntraverse X1000"},
		{"X3.4, trailing zeros left out", "tape-era", trailing, "G70 X00125\nX-0000005\nX1", "traverse X31.75\ntraverse X-0.0127\ntraverse X2540"},
		{"a point is a point in both", "tape-era", trailing, "X12.5\nX.005", "traverse X12.5\ntraverse X0.005"},
		{"centre and R, leading", "tape-era", leading, "X0 Y0\nG3 X10000 I5000 J0 F100\nG2 X0 R5000", `
			traverse X0 Y0
			arc ccw X10 Y0 centre 5 0 sweep 180 at 100
			arc cw X0 Y0 centre 5 0 sweep 180 at 100`},
		{"centre and R, trailing", "tape-era", trailing, "X0 Y0\nG3 X001 I0005 J0 F100\nG2 X0 R0005", `
			traverse X0 Y0
			arc ccw X10 Y0 centre 5 0 sweep 180 at 100
			arc cw X0 Y0 centre 5 0 sweep 180 at 100`},
		{"cycle: Z R Q, leading", "tape-era", leading, "X0 Y0 Z5000\nG83 X1000 Z-2000 R1000 Q2000 F50", `
			traverse X0 Y0 Z5
			traverse X1
			traverse Z1
			feed Z-1 at 50
			traverse Z1
			traverse Z-1
			feed Z-2 at 50
			traverse Z1`},
		{"cycle: Z R Q, trailing", "tape-era", trailing, "X0 Y0 Z0005\nG83 X0001 Z-0002 R0001 Q0002 F50", `
			traverse X0 Y0 Z5
			traverse X1
			traverse Z1
			feed Z-1 at 50
			traverse Z1
			traverse Z-1
			feed Z-2 at 50
			traverse Z1`},
		{"F that is written whole", "tape-era", leading, "X0 Y0\nG1 X1000 F50", "traverse X0 Y0\nfeed X1 at 50"},
		{"F that counts", "tape-era", refused, "X0 Y0\nG1 X0001 F0050", "traverse X0 Y0\nfeed X1 at 50"},
		{"S, T and P are whole numbers in any format", "tape-era", trailing, "S500 M3\nT12\nM6\nG4 P2", "spindle cw 500\ntool 12\ndwell 2"},
	})
}

// The ways of writing an arc (ISO 6983-1, from memory; common practice).
func TestArcForms(t *testing.T) {
	checkOn(t, []on{
		{"absolute centre", "rs274ngc", "arcs.centre = \"absolute\"", "G0 X10 Y20\nG3 X20 Y10 I10 J10 F100", `
			traverse X10 Y20
			arc ccw X20 Y10 centre 10 10 sweep 270 at 100`},
		{"absolute centre is absolute in G91 too", "rs274ngc", "arcs.centre = \"absolute\"", "G0 X10 Y20\nG91 G2 X10 Y-10 I10 J10 F100", `
			traverse X10 Y20
			arc cw X20 Y10 centre 10 10 sweep 90 at 100`},
		{"absolute centre in a plane of Z and X", "rs274ngc", "arcs.centre = \"absolute\"", "G18 G0 X0 Z10\nG3 X10 Z0 I0 K0 F100", `
			traverse X0 Z10
			arc ccw X10 Z0 centre 0 0 sweep 90 at 100`},
		{"unsigned centre clockwise", "tape-era", "start.units = \"mm\"", "G0 X10. Y0.\nG2 X0. Y-10. I10. J0. F100\nX-10. Y0. I0. J10.", `
			traverse X10 Y0
			arc cw X0 Y-10 centre 0 0 sweep 90 at 100
			arc cw X-10 Y0 centre 0 0 sweep 90 at 100`},
		{"G70 and G71 switch the units", "tape-era", "", "G71 G0 X10.\nG70 X1.", "traverse X10\ntraverse X25.4"},
	})
}

// What the trade writes in more than one way (common practice): the profile
// says which is meant.
func TestDwellRepeatCall(t *testing.T) {
	const sub = "O1\nM98 P30020\nG0 X9\nM30\nO20\nG91 G0 X1\nG90\nM99"
	const calls = "block.subprograms = 2\nwords.accepted = \"ABCDFGHIJKLMNOPQRSTUXYZ\"\n[codes]\nM98 = \"call\"\nM99 = \"return\"\n"
	checkOn(t, []on{
		{"P in milliseconds", "rs274ngc", "block.dwell.P = \"ms\"", "G4 P1500", "dwell 1.5"},
		{"X in seconds moves nothing", "rs274ngc", "block.dwell.X = \"s\"", "G0 X0\nG4 X2.5\nG91 X1", "traverse X0\ndwell 2.5\ntraverse X1"},
		{"U in seconds", "rs274ngc", "words.accepted = \"GUPX\"\nblock.dwell = { X = \"s\", U = \"s\", P = \"ms\" }", "G4 U.5\nG4 P500\nG4 X.5", "dwell 0.5\ndwell 0.5\ndwell 0.5"},
		{"X counts thousandths", "tape-era", "block.dwell.X = \"s\"", "G4 X2500\nG4 X2.5\nG4 P2", "dwell 2.5\ndwell 2.5\ndwell 2"},
		{"P does not say how long", "rs274ngc", "block.dwell = { X = \"s\", P = \"none\" }", "G4 P2", "! missing G4 without X\n! not used P2"},
		{"a cycle dwells in the unit of P", "rs274ngc", "block.dwell.P = \"ms\"", "G0 X0 Y0 Z1 F60\nG99 G82 X1 Z-1 R1 P250", `
			traverse X0 Y0 Z1
			traverse X1
			feed Z-1 at 60
			dwell 0.25
			traverse Z1`},
		{"K repeats a cycle", "rs274ngc", "block.repeat = \"K\"\ncycles.drill.takes = \"XYABCK\"", "G0 X0 Y0 Z1 F60\nG91 G99 G81 X1 Z-2 R0 K2", `
			traverse X0 Y0 Z1
			traverse X1
			feed Z-1 at 60
			traverse Z1
			traverse X2
			feed Z-1 at 60
			traverse Z1`},
		{"then L repeats nothing", "rs274ngc", "block.repeat = \"K\"", "G0 X0 Y0 Z1 F60\nG99 G81 X1 Z-1 R1 L2", `
			traverse X0 Y0 Z1
			traverse X1
			feed Z-1 at 60
			traverse Z1
			! not used L2`},
		{"K counts in any number form", "tape-era", "block.repeat = \"K\"", "G0 X0 Y0 Z0\nG91 G81 X10000 Z-10000 R0 F1. K2", `
			traverse X0 Y0 Z0
			traverse X25.4
			feed Z-25.4 at 25.4
			traverse Z0
			traverse X50.8
			feed Z-25.4 at 25.4
			traverse Z0`},
		{"upper digits of P repeat", "rs274ngc", "block.call = \"digits\"\n" + calls, sub, `
			traverse X?
			traverse X?
			traverse X?
			traverse X9
			stop end`},
		{"P alone calls once", "rs274ngc", "block.call = \"digits\"\n" + calls, "O1\nM98 P20\nM30\nO20\nG0 X1\nM99", "traverse X1\nstop end"},
		{"K repeats a call", "rs274ngc", "block.repeat = \"K\"\n" + calls, "O1\nM98 P20 K2\nM30\nO20\nG0 X1\nM99", "traverse X1\ntraverse X1\nstop end"},
		{"a program number behind a colon is called like one behind O", "rs274ngc", calls, ":1\nM98 P20\nM30\n:20\nG0 X1\nM99", "traverse X1\nstop end"},
	})
}

// Where controls differ in canned cycles (common practice).
func TestCycleForms(t *testing.T) {
	const first = "control.cycle_level = \"first\""
	checkOn(t, []on{
		{"the last hole goes back to the initial level", "rs274ngc", first, "G0 X0 Y0 Z10 F60\nG99 G81 X1 Z-2 R1\nG98 X2", `
			traverse X0 Y0 Z10
			traverse X1
			traverse Z1
			feed Z-2 at 60
			traverse Z1
			traverse X2
			feed Z-2 at 60
			traverse Z10`},
		{"R in G91 from the initial level, hole after hole", "rs274ngc", first, "G0 X0 Y0 Z10 F60\nG91 G99 G81 X1 Z-2 R-4\nX1", `
			traverse X0 Y0 Z10
			traverse X1
			traverse Z6
			feed Z4 at 60
			traverse Z6
			traverse X2
			feed Z4 at 60
			traverse Z6`},
		{"R and Z of G90 hold through a row in G91", "rs274ngc", first, "G0 X0 Y0 Z10 F60\nG90 G99 G81 X1 Z-2 R1\nG91 X1 L2", `
			traverse X0 Y0 Z10
			traverse X1
			traverse Z1
			feed Z-2 at 60
			traverse Z1
			traverse X2
			feed Z-2 at 60
			traverse Z1
			traverse X3
			feed Z-2 at 60
			traverse Z1`},
		{"R from the initial level in G90", "rs274ngc", first + "\ncontrol.cycle_r = \"initial\"", "G0 X0 Y0 Z10 F60\nG99 G81 X1 Z-2 R-8\nX2", `
			traverse X0 Y0 Z10
			traverse X1
			traverse Z2
			feed Z-2 at 60
			traverse Z2
			traverse X2
			feed Z-2 at 60
			traverse Z2`},
		{"out to R at the feed, from there by traverse", "rs274ngc", "cycles.bore-feed-out.feed_out = \"r\"", "G0 X0 Y0 Z10 F60\nG98 G85 X1 Z-2 R1", `
			traverse X0 Y0 Z10
			traverse X1
			traverse Z1
			feed Z-2 at 60
			feed Z1 at 60
			traverse Z10`},
		{"G73 breaks chips and goes back by the profile's step", "rs274ngc", "codes.G73 = \"chip-break\"\ncycles.chip-break = { needs = \"RZQ\", takes = \"XY\", clear_peck = \"0.5 mm\" }",
			"G0 X0 Y0 Z1 F60\nG99 G73 X1 Z-3 R1 Q2", `
			traverse X0 Y0 Z1
			traverse X1
			feed Z-1 at 60
			traverse Z-0.5
			feed Z-3 at 60
			traverse Z1`},
		{"G83 that breaks chips, with its peck in I", "rs274ngc", "codes.G83 = \"drill\"\ncycles.drill = { needs = \"RZ\", takes = \"XYL\" }", "G0 X0 Y0 Z1 F60\nG99 G83 X1 Z-3 R1 Q2", `
			traverse X0 Y0 Z1
			traverse X1
			feed Z-3 at 60
			traverse Z1
			! not used Q2`},
	})
}

// Polar pairs (common practice): a radius and an angle in the plane.
const polarCodes = "codes.G16 = \"polar-on\"\ncodes.G15 = \"polar-off\"\n"

func TestPolar(t *testing.T) {
	checkOn(t, []on{
		{"absolute: from work zero", "rs274ngc", polarCodes, "G0 X0 Y0\nG16 X10 Y90\nY180\nX20\nG15 X1", `
			traverse X0 Y0
			traverse X0 Y10
			traverse X-10 Y0
			traverse X-20 Y0
			traverse X1`},
		{"angles in G91 add up about work zero", "rs274ngc", polarCodes, "G0 X0 Y0\nG16 X10 Y0\nG91 Y90\nY90", `
			traverse X0 Y0
			traverse X10 Y0
			traverse X0 Y10
			traverse X-10 Y0`},
		{"radius in G91 from where the axes stand", "rs274ngc", polarCodes, "G0 X5 Y5\nG91 G16 X10 Y0\nX10 Y90", `
			traverse X5 Y5
			traverse X15 Y5
			traverse X15 Y15`},
		{"a bolt circle of four by repeats", "rs274ngc", polarCodes + "control.cycle_level = \"first\"", "G0 X0 Y0 Z1 F60\nG16 G99 G81 X10 Y0 Z-1 R1\nG91 Y90 L3\nG80 G15", `
			traverse X0 Y0 Z1
			traverse X10 Y0
			feed Z-1 at 60
			traverse Z1
			traverse X0 Y10
			feed Z-1 at 60
			traverse Z1
			traverse X-10 Y0
			feed Z-1 at 60
			traverse Z1
			traverse X0 Y-10
			feed Z-1 at 60
			traverse Z1`},
		{"the plane of Z and X: Z is the radius, X the angle", "rs274ngc", polarCodes, "G18 G0 X0 Z0\nG16 Z10 X90", "traverse X0 Z0\ntraverse X10 Z0"},
		{"an arc to a polar end", "rs274ngc", polarCodes, "G0 X10 Y0\nG16 G3 X10 Y90 R10 F100", "traverse X10 Y0\narc ccw X0 Y10 centre 0 0 sweep 90 at 100"},
		{"inches", "rs274ngc", polarCodes, "G20 G0 X0 Y0\nG16 X1 Y90", "traverse X0 Y0\ntraverse X0 Y25.4"},
		{"an angle without a radius goes nowhere known", "rs274ngc", polarCodes, "G0 X5 Y5\nG16 Y90", "traverse X5 Y5\ntraverse X? Y?"},
		{"refused", "rs274ngc", "", "G0 X0 Y0\nG16 X10 Y90\nX10 Y120", "traverse X0 Y0\n! refused G16\ntraverse X? Y?"},
	})
}

const transformCodes = `
	[codes]
	G51 = "scale-on"
	G50 = "scale-off"
	"G51.1" = "mirror-on"
	"G50.1" = "mirror-off"
	G68 = "rotate-on"
	G69 = "rotate-off"
	`

// Mirroring, scaling and turning (common practice), the arithmetic by hand.
func TestTransforms(t *testing.T) {
	const base = "rs274ngc"
	checkOn(t, []on{
		{"mirror at X0 and off again", base, transformCodes, "G0 X10 Y5\nG51.1 X0\nX20 Y6\nG91 X1\nG90 G50.1 X0\nX3", `
			traverse X10 Y5
			traverse X-20 Y6
			traverse X-21
			traverse X3`},
		{"mirror at a line", base, transformCodes, "G0 X0 Y0\nG51.1 X50\nX20", "traverse X0 Y0\ntraverse X80"},
		{"mirrored in one axis an arc turns the other way", base, transformCodes, "G0 X0 Y0\nG51.1 X0\nG0 X10\nG3 X0 Y10 I-10 F100\nG2 X10 Y0 J-10", `
			traverse X0 Y0
			traverse X-10
			arc cw X0 Y10 centre 0 0 sweep 90 at 100
			arc ccw X-10 Y0 centre 0 0 sweep 90 at 100`},
		{"mirrored in both it keeps its way", base, transformCodes, "G0 X0 Y0\nG51.1 X0 Y0\nG0 X10\nG3 X0 Y10 R10 F100\nG50.1\nX1 Y-11 R1", `
			traverse X0 Y0
			traverse X-10
			arc ccw X0 Y-10 centre 0 0 sweep 90 at 100
			arc ccw X1 Y-11 centre 1 -10 sweep 90 at 100`},
		{"scaled about a centre", base, transformCodes, "G0 X0 Y0 Z0\nG51 X10 Y10 Z0 P2\nX20 Y10 Z1\nG50\nX20", `
			traverse X0 Y0 Z0
			traverse X30 Y10 Z2
			traverse X20`},
		{"scaled about where the axes stand", base, transformCodes, "G0 X10 Y10 Z0\nG51 P0.5\nX30\nG91 X20", `
			traverse X10 Y10 Z0
			traverse X20
			traverse X30`},
		{"an arc scaled", base, transformCodes, "G0 X0 Y0 Z0\nG51 X0 Y0 Z0 P3\nG0 X10\nG3 X0 Y10 I-10 F100", `
			traverse X0 Y0 Z0
			traverse X30
			arc ccw X0 Y30 centre 0 0 sweep 90 at 100`},
		{"unlike factors: lines are scaled, an arc is none any more", base, transformCodes, "G0 X0 Y0 Z0\nG51 X0 Y0 Z0 I2 J1 K1\nG0 X10 Y10\nG3 X0 Y20 I-10 F100\nG1 X1", `
			traverse X0 Y0 Z0
			traverse X20 Y10
			! arc form G3
			feed X2 at 100`},
		{"a factor of minus one mirrors", base, transformCodes, "G0 X0 Y0 Z0\nG51 X0 Y0 Z0 I-1 J1 K1\nG0 X10\nG2 X0 Y-10 I-10 F100", `
			traverse X0 Y0 Z0
			traverse X-10
			arc ccw X0 Y-10 centre 0 0 sweep 90 at 100`},
		{"factors count thousandths", "tape-era", transformCodes + "[words]\naccepted = \"FGIJKMNOPRSTXYZ\"", "G71 G0 X0 Y0 Z0\nG51 X0 Y0 Z0 P2000\nX1000", `
			traverse X0 Y0 Z0
			traverse X2`},
		{"turned by 90 degrees about zero", base, transformCodes, "G0 X0 Y0\nG68 X0 Y0 R90\nX10 Y0\nY5\nG69\nX1", `
			traverse X0 Y0
			traverse X0 Y10
			traverse X-5 Y10
			traverse X1`},
		{"turned about a point, in G91 too", base, transformCodes, "G0 X10 Y0\nG68 X10 Y0 R180\nX15 Y0\nG91 X5 Y2", `
			traverse X10 Y0
			traverse X5 Y0
			traverse X0 Y-2`},
		{"an arc turned", base, transformCodes, "G0 X0 Y0\nG68 X0 Y0 R90\nG0 X10 Y0\nG3 X0 Y10 I-10 F100", `
			traverse X0 Y0
			traverse X0 Y10
			arc ccw X-10 Y0 centre 0 0 sweep 90 at 100`},
		{"a full circle turned by an odd angle", base, transformCodes, "G0 X0 Y0\nG68 X0 Y0 R30\nG0 X10 Y0\nG3 X10 Y0 I-10 F100", `
			traverse X0 Y0
			traverse X8.660254 Y5
			arc ccw X8.660254 Y5 centre 0 0 sweep 360 at 100`},
		// By hand: (10, 0) mirrored is (-10, 0), scaled by 2 (-20, 0), turned by 90 degrees (0, -20).
		{"mirror, then scale, then turn, in whatever order they are written", base, transformCodes, "G0 X0 Y0 Z0\nG68 X0 Y0 R90\nG51 X0 Y0 Z0 P2\nG51.1 X0\nX10 Y0", `
			traverse X0 Y0 Z0
			traverse X0 Y-20`},
		{"holes turned and scaled", base, transformCodes, "G0 X0 Y0 Z10 F60\nG51 X0 Y0 Z0 P2\nG68 X0 Y0 R90\nG99 G81 X10 Y0 Z-1 R2\nX20", `
			traverse X0 Y0 Z10
			traverse X0 Y20
			traverse Z4
			feed Z-2 at 60
			traverse Z4
			traverse X0 Y40
			feed Z-2 at 60
			traverse Z4`},
		{"machine coordinates are not touched", "bed-mill", transformCodes, "G21 G0 X0 Y0\nG51.1 X0\nG53 X304.8\nX10", "traverse X0 Y0\ntraverse X0\ntraverse X-10"},
		{"from nowhere the turned axes stay unknown", base, transformCodes, "G68 X0 Y0 R90\nG0 X10\nG0 X10 Y0\nG69 X1", `
			traverse X? Y?
			traverse X0 Y10
			traverse X1`},
		{"scale without a factor", base, transformCodes, "G0 X0 Y0 Z0\nG51 X0 Y0 Z0\nX5\nG50\nX5", `
			traverse X0 Y0 Z0
			! missing G51 without P
			traverse X?
			traverse X5`},
		{"a factor of zero", base, transformCodes, "G0 X0\nG51 X0 P0\nX5", "traverse X0\n! value G51\ntraverse X?"},
		{"mirror without a line", base, transformCodes, "G0 X0\nG51.1\nX5\nG50.1\nX5", "traverse X0\n! missing G51.1 without X\ntraverse X?\ntraverse X5"},
		{"rotate without an angle", base, transformCodes, "G0 X0 Y0\nG68 X0 Y0\nX5\nG69\nX5 Y5", "traverse X0 Y0\n! missing G68 without R\ntraverse X? Y?\ntraverse X5 Y5"},
		{"mirrored, the tool on the left goes right", "bed-mill", transformCodes, "G21 G0 X-20 Y0\nG51.1 X0\nG0 X20 Y-20\nG41 D2 G1 Y0 F100\nY30\nG40 X40", `
			traverse X-20 Y0
			traverse X-20 Y-20
			feed X-13.65 Y0 at 100
			feed Y30 at 100
			feed X-40 at 100`},
		{"D of its own", "bed-mill", "tools.loaded = [{ number = 2, diameter = \"8 mm\", d = 22 }]", "G21 G0 X0 Y-20\nG41 D22 G1 Y0 F100\nY30\nG40 X40", `
			traverse X0 Y-20
			feed X-4 Y0 at 100
			feed Y30 at 100
			feed X40 at 100`},
		{"a position set while the part is turned", base, transformCodes, "G0 X0 Y0\nG68 X0 Y0 R45\nG92 X0\nG69\nG90 X5 Y5", `
			traverse X0 Y0
			! not interpreted G92
			traverse X5 Y5`},
	})
}

// A rotary axis without ends (common practice).
func TestWrap(t *testing.T) {
	const axis = "kind = \"mill\"\ndisplay = \"mm\"\naxes = { x = { rapid = \"1 mm/s\", acceleration = \"1 mm/s^2\" }, y = { rapid = \"1 mm/s\", acceleration = \"1 mm/s^2\" }, " +
		"z = { rapid = \"1 mm/s\", acceleration = \"1 mm/s^2\" }, a = { home = \"0 deg\", rapid = \"1 deg/s\", acceleration = \"1 deg/s^2\", wrap = \"%s\" } }\noffsets.G54 = { a = \"350 deg\" }"
	turns := func(wrap string, program string) (list []string) {
		m := variant(t, "rs274ngc", strings.ReplaceAll(axis, "%s", wrap))
		in := New(m, Options{}, Visitor{
			Op: func(op *Op) {
				list = append(list, num(op.From[3])+"+"+num(op.To[3]-op.From[3]), num(op.ToMachine[3]-op.FromMachine[3]))
			},
			Fault: func(f *Fault) { list = append(list, faultText(f)) },
		})
		if _, err := in.Run(strings.NewReader(program), int64(len(program))); err != nil {
			t.Fatal(err)
		}
		return append(list, num(in.State().At[3]))
	}
	for _, c := range []struct {
		wrap, program string
		want          []string // from+way, way in machine coordinates, for each move; the place at the end
	}{
		{"", "G0 A0\nA350\nA10\nA720\n", []string{"0+350", "350", "350+-340", "-340", "10+710", "710", "720"}},
		{"shortest", "G0 A0\nA350\nA10\nA190\nA720\n", []string{"0+-10", "-10", "350+20", "20", "10+180", "180", "190+170", "170", "0"}},
		{"shortest", "G0 A0\nG91 A400\nA-50\n", []string{"0+400", "400", "40+-50", "-50", "350"}},
		{"sign", "G0 A0\nA350\nA10\nA-350\nA-0\n", []string{"0+350", "350", "350+20", "20", "10+-20", "-20", "350+-350", "-350", "0"}},
		{"sign", "G0 A0\nA-90\nA-90\n", []string{"0+-270", "-270", "90+0", "0", "90"}},
		// Work zero lies at machine 350: home, machine 0, is work 10.
		{"shortest", "G0 A20\nG28 A20\n", []string{"20+0", "0", "20+-10", "-10", "10"}},
	} {
		got := turns(c.wrap, c.program)[2:] // the first move comes from nowhere
		if !slices.Equal(got, c.want) {
			t.Errorf("wrap %q, program:\n%sgot  %q\nwant %q", c.wrap, c.program, got, c.want)
		}
	}
}

// What a transform does is undone by its inverse.
func TestTransformBack(t *testing.T) {
	tr := transform{active: true, mirror: X | C, line: Point{3, 0, 0, 0, 0, 7}, scale: true, factor: [3]float64{2, -0.5, 3}, centre: Point{1, 2, 3},
		rotate: true, first: 1, second: 2, pivot: [2]float64{5, 6}}
	tr.sin, tr.cos = sinCos(33)
	p := Point{1, 2, 3, 4, 5, 6}
	back := tr.back(tr.forward(p))
	for i := range profiles.NumAxes {
		if d := back[i] - p[i]; d > 1e-12 || d < -1e-12 {
			t.Errorf("axis %d: %g became %g", i, p[i], back[i])
		}
	}
}
