package interp

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tapefit/profiles"
)

// compMill is bed-mill with tools of round figures: D1 has a radius of 1 mm, D5
// of 5 mm.
func compMill(t testing.TB, comp string) *profiles.Machine {
	t.Helper()
	m := machine(t, "bed-mill")
	m.Control.Comp = comp
	m.Tools.Loaded = []profiles.Tool{{Number: 1, Diameter: 2}, {Number: 5, Diameter: 10}, {Number: 9}}
	return m
}

type compRun struct{ name, program, want string }

func checkComp(t *testing.T, comp string, table []compRun) {
	t.Helper()
	for _, c := range table {
		t.Run(c.name, func(t *testing.T) {
			got := ops(t, compMill(t, comp), "G21\n"+lines(c.program)+"\n")
			if got != lines(c.want) {
				t.Errorf("program:\n%s\ngot:\n%s\nwant:\n%s", lines(c.program), got, lines(c.want))
			}
		})
	}
}

// A control that looks ahead. The places are worked out by hand: a parallel at
// 5 mm, circles of the radius 5 mm more or less, and where they cross.
func TestCompIntersect(t *testing.T) {
	checkComp(t, "intersect", []compRun{
		{"square from outside: an arc round each corner", `
			G0 X0 Y-20
			G41 D5 G1 Y0 F100
			Y20
			X20
			Y0
			X0
			Y10
			G40 X-20`, `
			traverse X0 Y-20
			feed X-5 Y0 at 100
			feed Y20 at 100
			arc cw X0 Y25 centre 0 20 sweep 90 at 100
			feed X20 at 100
			arc cw X25 Y20 centre 20 20 sweep 90 at 100
			feed Y0 at 100
			arc cw X20 Y-5 centre 20 0 sweep 90 at 100
			feed X0 at 100
			arc cw X-5 Y0 centre 0 0 sweep 90 at 100
			feed Y10 at 100
			feed X-20 at 100`},
		{"square from inside: the parallels cross", `
			G0 X20 Y20
			G41 D5 G1 Y0 F100
			X40
			Y40
			X0
			Y0
			X20
			G40 Y20`, `
			traverse X20 Y20
			feed Y5 at 100
			feed X35 at 100
			feed Y35 at 100
			feed X5 at 100
			feed Y5 at 100
			feed X20 at 100
			feed Y20 at 100`},
		{"on the right, the other way round: the same", `
			G0 X20 Y20
			G42 D5 G1 Y0 F100
			X0
			Y40
			G40 X20`, `
			traverse X20 Y20
			feed Y5 at 100
			feed X5 at 100
			feed Y40 at 100
			feed X20 at 100`},
		{"circle from outside: r + 5", `
			G0 X-20 Y-20
			G41 D5 G1 Y0 F100
			G2 I20
			G40 G1 Y20`, `
			traverse X-20 Y-20
			feed X-25 Y0 at 100
			arc cw X-25 Y0 centre 0 0 sweep 360 at 100
			feed X-20 Y20 at 100`},
		{"circle from inside: r - 5, down a helix", `
			G0 X20 Y-10 Z0
			G41 D5 G1 Y0 F100
			G3 I-20 Z-2
			G40 G1 X0`, `
			traverse X20 Y-10 Z0
			feed X15 Y0 at 100
			arc ccw X15 Y0 Z-2 centre 0 0 sweep 360 at 100
			feed X0 at 100`},
		{"line into arc into line, tangent: nothing between", `
			G0 X-30 Y0
			G42 D5 G1 X-20 F100
			X0
			G3 X10 Y10 J10
			G1 Y30
			G40 Y40`, `
			traverse X-30 Y0
			feed X-20 Y-5 at 100
			feed X0 at 100
			arc ccw X15 Y10 centre 0 10 sweep 90 at 100
			feed Y30 at 100
			feed X10 Y40 at 100`},
		// y = 5 crosses the circle of 25 about 20, 0 at x = 20 - sqrt(625-25).
		{"inside corner of line and arc, bulging to the tool", `
			G0 X-50 Y0
			G41 D5 G1 X-30 F100
			X0
			G2 X20 Y20 I20
			G40 G1 X30`, `
			traverse X-50 Y0
			feed X-30 Y5 at 100
			feed X-4.494897 at 100
			arc cw X20 Y25 centre 20 0 sweep 78.463041 at 100
			feed X30 Y20 at 100`},
		// y = 5 crosses the circle of 15 about -20, 0 at x = -20 + sqrt(225-25).
		{"inside corner of line and arc, hollow to the tool", `
			G0 X-50 Y0
			G41 D5 G1 X-30 F100
			X0
			G3 X-20 Y20 I-20
			G40 G1 X-30`, `
			traverse X-50 Y0
			feed X-30 Y5 at 100
			feed X-5.857864 at 100
			arc ccw X-20 Y15 centre -20 0 sweep 70.528779 at 100
			feed X-30 Y20 at 100`},
		// The same corner the other way: the arc comes first.
		{"inside corner of arc and line", `
			G0 X-10 Y40
			G42 D5 G1 X20 Y20 F100
			G3 X0 Y0 J-20
			G1 X-30
			G40 X-50`, `
			traverse X-10 Y40
			feed X20 Y25 at 100
			arc ccw X-4.494897 Y5 centre 20 0 sweep 78.463041 at 100
			feed X-30 at 100
			feed X-50 Y0 at 100`},
		// x2 + (y-20)2 = 225 and (x-20)2 + y2 = 625 give x = y-10, y = 15 - sqrt(87.5).
		{"inside corner of two arcs", `
			G0 X-20 Y40
			G41 D5 G1 Y20 F100
			G3 X0 Y0 I20
			G2 X20 Y20 I20
			G40 G1 X30`, `
			traverse X-20 Y40
			feed X-15 Y20 at 100
			arc ccw X-4.354143 Y5.645857 centre 0 20 sweep 73.125506 at 100
			arc cw X20 Y25 centre 20 0 sweep 76.948059 at 100
			feed X30 Y20 at 100`},
		{"outside corner of arc and line", `
			G0 X-20 Y-20
			G41 D5 G1 Y0 F100
			G2 X0 Y20 I20
			G1 Y0
			G40 Y-10`, `
			traverse X-20 Y-20
			feed X-25 Y0 at 100
			arc cw X0 Y25 centre 0 0 sweep 90 at 100
			arc cw X5 Y20 centre 0 20 sweep 90 at 100
			feed Y0 at 100
			feed X0 Y-10 at 100`},
		{"straight back: half round the end", `
			G0 X-20 Y0
			G41 D5 G1 X0 F100
			X20
			X0
			G40 X-20`, `
			traverse X-20 Y0
			feed X0 Y5 at 100
			feed X20 at 100
			arc cw X20 Y-5 centre 20 0 sweep 180 at 100
			feed X0 at 100
			feed X-20 Y0 at 100`},
		{"down in the corner: the control looks over two blocks", `
			G0 X0 Y20 Z0
			G41 D5 G1 Y0 F100
			X40
			Z-1
			Z-2
			Y40
			G40 X20`, `
			traverse X0 Y20 Z0
			feed Y5 at 100
			feed X35 at 100
			feed Z-1 at 100
			feed Z-2 at 100
			feed Y40 at 100
			feed X20 at 100`},
		{"a third block hides the corner", `
			G0 X0 Y20 Z0
			G41 D5 G1 Y0 F100
			X40
			Z-1
			Z-2
			Z-3
			Y40
			G40 X20`, `
			traverse X0 Y20 Z0
			feed Y5 at 100
			feed X40 at 100
			feed Z-1 at 100
			feed Z-2 at 100
			feed Z-3 at 100
			! gouge Y40
			feed X35 Y0 at 100
			feed Y40 at 100
			feed X20 at 100`},
		{"what is no move is not overtaken; round an outside corner it is no matter", `
			G0 X0 Y-20
			G41 D5 G1 Y0 F100
			Y20
			M8
			X20
			G4 P1
			G40 Y0`, `
			traverse X0 Y-20
			feed X-5 Y0 at 100
			feed Y20 at 100
			coolant flood=true mist=false
			arc cw X0 Y25 centre 0 20 sweep 90 at 100
			feed X20 at 100
			dwell 1
			feed Y0 at 100`},
		{"incremental moves count from the contour", `
			G0 X0 Y-20
			G91 G41 D5 G1 Y20 F100
			Y20
			X20
			G40 Y20
			X1`, `
			traverse X0 Y-20
			feed X-5 Y0 at 100
			feed Y20 at 100
			arc cw X0 Y25 centre 0 20 sweep 90 at 100
			feed X20 at 100
			feed Y40 at 100
			feed X21 at 100`},
		// 5 pi/2 + 20 mm in half a minute.
		{"inverse time: the arc round the corner is part of its move", `
			G0 X0 Y-20
			G93 G41 D5 G1 Y0 F1
			Y20 F1
			X20 F2
			G40 Y0 F1`, `
			traverse X0 Y-20
			feed X-5 Y0 at 20.615528
			feed Y20 at 20
			arc cw X0 Y25 centre 0 20 sweep 90 at 55.707963
			feed X20 at 55.707963
			feed Y0 at 25`},
		{"a traverse goes on from where the tool is", `
			G0 X0 Y-20
			G41 D5 G1 Y0 F100
			Y20
			G0 X20
			G40 Y0`, `
			traverse X0 Y-20
			feed X-5 Y0 at 100
			feed Y20 at 100
			traverse X20 Y25
			traverse Y0`},
		{"the tool in the spindle where D is missing", `
			T1 M6
			G0 X0 Y-20
			G41 G1 Y0 F100
			Y20
			G40 X-20`, `
			tool 1
			traverse X0 Y-20
			feed X-1 Y0 at 100
			feed Y20 at 100
			feed X-20 at 100`},
		{"D0 is no radius", `
			G0 X0 Y-20
			G41 D0 G1 Y0 F100
			X20
			G40 Y0`, `
			traverse X0 Y-20
			feed Y0 at 100
			feed X20 at 100
			feed Y0 at 100`},
		{"a diameter that nobody knows: the path of the program", `
			G0 X0 Y-20
			G41 D9 G1 Y0 F100
			X20
			G40 Y0`, `
			traverse X0 Y-20
			! radius unknown D9
			feed Y0 at 100
			feed X20 at 100
			feed Y0 at 100`},
		{"the end of the program ends it", `
			G0 X0 Y-20
			G41 D5 G1 Y0 F100
			Y20
			M30`, `
			traverse X0 Y-20
			feed X-5 Y0 at 100
			feed Y20 at 100
			stop end`},
		{"a program that runs out shows its last move", `
			G0 X0 Y-20
			G41 D5 G1 Y0 F100`, `
			traverse X0 Y-20
			feed X-5 Y0 at 100`},
		{"plane ZX: Z is the first axis", `
			G18 G0 Z-20 X0
			G41 D5 G1 Z0 F100
			Z20
			G40 Z40`, `
			traverse X0 Z-20
			feed X5 Z0 at 100
			feed Z20 at 100
			feed X0 Z40 at 100`},
		{"from nowhere", `
			G41 D5 G1 X0 Y0 F100
			X20
			Y-20
			G40 X40`, `
			feed X? Y? at 100
			feed X20 at 100
			arc cw X25 Y0 centre 20 0 sweep 90 at 100
			feed Y-20 at 100
			feed X40 at 100`},
	})
}

func TestCompFaults(t *testing.T) {
	checkComp(t, "intersect", []compRun{
		{"entry shorter than the radius", `
			G0 X0 Y-4.9
			G41 D5 G1 Y0 F100
			Y20
			G40 X-20`, `
			traverse X0 Y-4.9
			! entry short G1
			feed X-5 Y0 at 100
			feed Y20 at 100
			feed X-20 at 100`},
		{"entry as long as the radius", `
			G0 X0 Y-5
			G41 D5 G1 Y0 F100
			Y20
			G40 X-20`, `
			traverse X0 Y-5
			feed X-5 Y0 at 100
			feed Y20 at 100
			feed X-20 at 100`},
		{"a fillet smaller than the tool", `
			G0 X0 Y-20
			G41 D5 G1 Y0 F100
			X20
			G3 X24 Y4 J4
			G1 Y30
			G40 X0`, `
			traverse X0 Y-20
			feed Y5 at 100
			! arc too small G3
			feed X17.928932 at 100
			feed X19 Y6.071068 at 100
			feed Y30 at 100
			feed X0 at 100`},
		{"a fillet of the tool's radius: it turns on the spot", `
			G0 X0 Y-20
			G41 D5 G1 Y0 F100
			X20
			G3 X25 Y5 J5
			G1 Y30
			G40 X0`, `
			traverse X0 Y-20
			feed Y5 at 100
			feed X20 at 100
			feed X20 Y5 at 100
			feed Y30 at 100
			feed X0 at 100`},
		{"a slot narrower than the tool", `
			G0 X0 Y-20
			G41 D5 G1 Y0 F100
			X20
			Y8
			X0
			G40 X-20`, `
			traverse X0 Y-20
			feed Y5 at 100
			feed X15 at 100
			! gouge Y8
			feed Y3 at 100
			feed X0 at 100
			feed X-20 Y8 at 100`},
		// The circle of 1 about -6, 0 stays below the line y = 5.
		{"an inside corner whose offsets do not meet", `
			G0 X-40 Y0
			G41 D5 G1 X-20 F100
			X0
			G3 X-6 Y6 I-6
			G40 G1 Y20`, `
			traverse X-40 Y0
			feed X-20 Y5 at 100
			feed X0 at 100
			! gouge G3
			feed X-5 Y0 at 100
			arc ccw X-6 Y1 centre -6 0 sweep 90 at 100
			feed Y20 at 100`},
		{"a jump after a refused arc: the next move begins beside itself", `
			G0 X-40 Y0
			G41 D5 G1 X-20 F100
			X0
			G2 X40 Y0 I21
			G1 X60
			G40 X80`, `
			traverse X-40 Y0
			feed X-20 Y5 at 100
			! arc radius G2
			feed X0 at 100
			feed X60 at 100
			feed X80 Y0 at 100`},
		{"it begins on an arc", `
			G0 X0 Y0
			G41 D5 G2 X10 I5 F100
			G1 X30
			X40
			G40 X50`, `
			traverse X0 Y0
			! forbidden in comp G2
			arc cw X10 Y0 centre 5 0 sweep 180 at 100
			feed X30 Y5 at 100
			feed X40 at 100
			feed X50 Y0 at 100`},
		{"it ends on an arc", `
			G0 X-10 Y0
			G41 D5 G1 X0 F100
			X20
			G40 G2 X30 I5`, `
			traverse X-10 Y0
			feed X0 Y5 at 100
			feed X20 at 100
			! forbidden in comp G2
			feed X20 Y0 at 100
			arc cw X30 Y0 centre 25 0 sweep 180 at 100`},
		{"what needs compensation off", `
			G0 X-10 Y0 Z0
			G41 D5 G1 X0 F100
			G18
			G17
			G20
			G21
			G55
			G53 G0 Z0
			G92 X0
			G81 X1 Z-1 R1`, `
			traverse X-10 Y0 Z0
			! forbidden in comp G18
			! forbidden in comp G17
			! forbidden in comp G20
			! forbidden in comp G21
			! forbidden in comp G55
			! forbidden in comp G53
			! forbidden in comp G92
			! forbidden in comp G81
			feed X0 Y5 at 100
			traverse Z444.5
			traverse X1 Y0
			traverse Z1
			feed Z-1 at 100
			traverse Z444.5`},
		{"the other side without G40", `
			G0 X-20 Y0
			G41 D5 G1 X0 F100
			X20
			G42 X60
			X80
			G40 X90`, `
			traverse X-20 Y0
			feed X0 Y5 at 100
			! forbidden in comp G42
			feed X20 at 100
			feed X60 Y-5 at 100
			feed X80 at 100
			feed X90 Y0 at 100`},
		{"said again, nothing changes", `
			G0 X0 Y20
			G41 D5 G1 Y0 F100
			G41 X40
			Y40
			G40 X20`, `
			traverse X0 Y20
			feed Y5 at 100
			feed X35 at 100
			feed Y40 at 100
			feed X20 at 100`},
	})
}

// NISTIR 6556, appendix B, from memory: the first move ends where it touches the
// tool's circle about its end; a concave corner is an error; no look-ahead.
func TestCompReport(t *testing.T) {
	checkComp(t, "refuse-concave", []compRun{
		{"entry touches the circle about its end", `
			G0 X0 Y-10
			G41 D5 G1 Y0 F100
			Y20
			X20
			G40 Y40`, `
			traverse X0 Y-10
			feed X-4.330127 Y-2.5 at 100
			arc cw X-5 Y0 centre 0 0 sweep 30 at 100
			feed Y20 at 100
			arc cw X0 Y25 centre 0 20 sweep 90 at 100
			feed X20 at 100
			feed Y40 at 100`},
		{"on the right", `
			G0 X0 Y-10
			G42 D5 G1 Y0 F100
			Y20
			G40 X20`, `
			traverse X0 Y-10
			feed X4.330127 Y-2.5 at 100
			arc ccw X5 Y0 centre 0 0 sweep 30 at 100
			feed Y20 at 100
			feed X20 at 100`},
		{"inside corner", `
			G0 X-20 Y0
			G42 D5 G1 X0 F100
			X20
			Y-20
			G40 X0`, `
			traverse X-20 Y0
			feed X-1.25 Y-4.841229 at 100
			arc ccw X0 Y-5 centre 0 0 sweep 14.477512 at 100
			feed X20 at 100
			! inside corner Y-20
			feed X15 Y0 at 100
			feed Y-20 at 100
			feed X0 at 100`},
		{"a fillet of the tool's radius is too small", `
			G0 X-20 Y0
			G41 D5 G1 X0 F100
			X20
			G3 X25 Y5 J5
			G40 G1 Y20`, `
			traverse X-20 Y0
			feed X-1.25 Y4.841229 at 100
			arc cw X0 Y5 centre 0 0 sweep 14.477512 at 100
			feed X20 at 100
			! arc too small G3
			! inside corner G3
			feed X16.464466 Y3.535534 at 100
			feed X21.464466 Y8.535534 at 100
			feed X25 Y20 at 100`},
		{"only in the plane XY", `
			G18 G0 X0 Z0
			G41 D5 G1 X10 F100`, `
			traverse X0 Z0
			! forbidden in comp D5
			feed X10 at 100`},
		{"G41 again is an error", `
			G0 X0 Y-20
			G41 D5
			G41 D5`, `
			traverse X0 Y-20
			! forbidden in comp G41`},
	})
}

// Holding a move back costs no memory that grows with the program.
func TestCompAllocatesNothing(t *testing.T) {
	m := compMill(t, "intersect")
	allocs := func(blocks int) float64 {
		program := "G21 F100\nG0 X0 Y-20\nG41 D1 G1 Y0\n" + strings.Repeat("Y20\nZ1\nG2 X20 I10\nG1 Y0\nX0\n", blocks) + "G40 X-20\nM30\n"
		return testing.AllocsPerRun(3, func() {
			in := New(m, Options{}, Visitor{Op: func(*Op) {}})
			if _, err := in.Run(strings.NewReader(program), int64(len(program))); err != nil {
				t.Fatal(err)
			}
		})
	}
	if few, many := allocs(100), allocs(1000); many > few+20 {
		t.Errorf("%v allocations for 500 blocks, %v for 5000", few, many)
	}
}

// contour is a closed contour of lines and arcs, and the program that goes
// round it once from the middle of its first line.
type contour struct {
	segs []segment
}

// around says whether the arc has a point in the direction of p.
func (g *segment) around(p vec2) bool {
	angle := g.from.minus(g.center).angleTo(p.minus(g.center))
	if g.cw {
		angle = -angle
	}
	if angle < 0 {
		angle += 2 * math.Pi
	}
	return angle < g.sweep
}

// distance is that of a point from the contour.
func (c *contour) distance(p vec2) float64 {
	best := math.Inf(1)
	for i := range c.segs {
		g := &c.segs[i]
		d := math.Min(p.minus(g.from).length(), p.minus(g.to).length())
		if !g.arc {
			t := g.to.minus(g.from).unit()
			if s := p.minus(g.from).dot(t); s > 0 && s < g.to.minus(g.from).length() {
				d = math.Abs(p.minus(g.from).cross(t))
			}
		} else if g.around(p) {
			d = math.Abs(p.minus(g.center).length() - g.from.minus(g.center).length())
		}
		best = math.Min(best, d)
	}
	return best
}

func (c *contour) program(side, entry string) string {
	var sb strings.Builder
	fmt.Fprintf(&sb, "G21 F100\n%s\n", entry)
	for i, g := range c.segs {
		code := "G1"
		if i == 0 {
			fmt.Fprintf(&sb, "%s D5 G1 X%.9f Y%.9f\n", side, g.from[0], g.from[1])
		}
		switch {
		case g.arc && g.cw:
			code = "G2"
		case g.arc:
			code = "G3"
		}
		fmt.Fprintf(&sb, "%s X%.9f Y%.9f", code, g.to[0], g.to[1])
		if g.arc {
			fmt.Fprintf(&sb, " I%.9f J%.9f", g.center[0]-g.from[0], g.center[1]-g.from[1])
		}
		sb.WriteByte('\n')
	}
	return sb.String() + "G40 G1 X0 Y0\nM30\n"
}

// convex draws the corners of a convex polygon, counter-clockwise or clockwise.
func convex(t *rapid.T, cw bool) []vec2 {
	n := rapid.IntRange(3, 9).Draw(t, "corners")
	gaps, sum := make([]float64, n), 0.0
	for i := range gaps {
		gaps[i] = rapid.Float64Range(1, 2.2).Draw(t, "gap")
		sum += gaps[i]
	}
	size := rapid.Float64Range(10, 100).Draw(t, "size")
	angle := rapid.Float64Range(0, 6).Draw(t, "turned")
	var corners []vec2
	for _, g := range gaps {
		way := 1.0
		if cw {
			way = -1
		}
		angle += way * g / sum * 2 * math.Pi
		corners = append(corners, vec2{size * math.Cos(angle), 0.7 * size * math.Sin(angle)})
	}
	return corners
}

// rounded is the polygon with its corners rounded by arcs of the radius, from
// the middle of its last side round to there.
func rounded(corners []vec2, radius float64, cw bool) *contour {
	c := &contour{}
	n := len(corners)
	at := corners[n-1].plus(corners[0]).times(0.5)
	last := at
	for i, p := range corners {
		before, after := p.minus(corners[(i+n-1)%n]).unit(), corners[(i+1)%n].minus(p).unit()
		turn := math.Abs(before.angleTo(after))
		cut := radius * math.Tan(turn/2)
		a, b := p.minus(before.times(cut)), p.plus(after.times(cut))
		c.segs = append(c.segs, segment{from: at, to: a})
		if radius > 0 {
			in := before.left()
			if cw {
				in = in.times(-1)
			}
			c.segs = append(c.segs, segment{from: a, to: b, arc: true, cw: cw, center: a.plus(in.times(radius)), sweep: turn})
		}
		at = b
	}
	c.segs = append(c.segs, segment{from: at, to: last})
	return c
}

// bulged is the polygon with each side bent into an arc that rises by a share of
// its length, to the left or to the right, or left straight.
func bulged(t *rapid.T, corners []vec2) *contour {
	c := &contour{}
	n := len(corners)
	middle := corners[n-1].plus(corners[0]).times(0.5)
	c.segs = append(c.segs, segment{from: middle, to: corners[0]})
	for i := range n - 1 {
		g := segment{from: corners[i], to: corners[i+1]}
		if rapid.Bool().Draw(t, "bent") {
			rise := rapid.Float64Range(0.01, 0.05).Draw(t, "rise")
			g.arc, g.cw = true, rapid.Bool().Draw(t, "way")
			way := g.to.minus(g.from)
			half := 2 * math.Atan(2*rise) // half the sweep: tan of its half is rise over half the chord
			g.sweep = 2 * half
			in := way.left().times(0.5 / math.Tan(half))
			if g.cw {
				in = in.times(-1)
			}
			g.center = g.from.plus(way.times(0.5)).plus(in)
		}
		c.segs = append(c.segs, g)
	}
	c.segs = append(c.segs, segment{from: corners[n-1], to: middle})
	return c
}

// contains says whether a point lies within the contour, by the sides of a fine
// polygon that a ray from it crosses.
func (c *contour) contains(p vec2) bool {
	in := false
	for i := range c.segs {
		g := &c.segs[i]
		pieces := 1
		if g.arc {
			pieces = 100
		}
		a := g.from
		for k := range pieces {
			b := g.to
			if k < pieces-1 {
				angle := g.sweep * float64(k+1) / float64(pieces)
				if g.cw {
					angle = -angle
				}
				b = g.center.plus(rotated(g.from.minus(g.center), math.Sin(angle), math.Cos(angle)))
			}
			if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0]+(p[1]-a[1])/(b[1]-a[1])*(b[0]-a[0]) {
				in = !in
			}
			a = b
		}
	}
	return in
}

// samples are points on the path of a move.
func samples(op *Op) []vec2 {
	var all []vec2
	const n = 7
	for i := range n + 1 {
		k := float64(i) / n
		if op.Kind != Arc {
			all = append(all, vec2{op.From[0] + k*(op.To[0]-op.From[0]), op.From[1] + k*(op.To[1]-op.From[1])})
			continue
		}
		angle := k * op.Sweep
		if op.CW {
			angle = -angle
		}
		center := vec2{op.Center[0], op.Center[1]}
		u := rotated(vec2{op.From[0], op.From[1]}.minus(center), math.Sin(angle), math.Cos(angle))
		all = append(all, center.plus(u))
	}
	return all
}

// Every point of the tool's path round a contour lies at the tool's radius from
// it, on the side that the program says, and the path has no gap.
func TestCompDistance(t *testing.T) {
	m := compMill(t, "intersect")
	rapid.Check(t, func(t *rapid.T) {
		cw, left := rapid.Bool().Draw(t, "clockwise"), rapid.Bool().Draw(t, "left")
		inside := cw != left
		corners := convex(t, cw)
		radius := rapid.Float64Range(0.5, 8).Draw(t, "tool")
		room, mustFit := roomFor(corners), !inside
		c := rounded(corners, 0, cw)
		switch rapid.IntRange(0, 2).Draw(t, "form") {
		case 1:
			fillet := room * rapid.Float64Range(0.1, 0.9).Draw(t, "fillet")
			if inside {
				radius = fillet * rapid.Float64Range(0.1, 0.99).Draw(t, "share")
			}
			c, mustFit = rounded(corners, fillet, cw), true
		case 2:
			radius = room * rapid.Float64Range(0.01, 0.1).Draw(t, "share")
			c, mustFit = bulged(t, corners), true
		}
		m.Tools.Loaded[1].Diameter = profiles.Length(2 * radius)
		side := "G41"
		if !left {
			side = "G42"
		}
		if !follow(t, m, c, c.program(side, "G0 X300 Y300"), radius, inside) && mustFit {
			t.Fatal("said not to fit, and it does")
		}
	})
}

// roomFor is the greatest radius that rounds all corners of a polygon.
func roomFor(corners []vec2) float64 {
	room, n := math.Inf(1), len(corners)
	for i, p := range corners {
		before, after := p.minus(corners[(i+n-1)%n]), corners[(i+1)%n].minus(p)
		half := math.Min(before.length(), after.length()) / 2
		room = math.Min(room, half/math.Tan(math.Abs(before.angleTo(after))/2))
	}
	return room
}

// follow runs the program and checks its path, without the first and the last
// move. False: the interpreter has said that the tool does not fit; then the path
// is not checked.
func follow(t *rapid.T, m *profiles.Machine, c *contour, program string, radius float64, inside bool) (fits bool) {
	var moves []Op
	fits = true
	in := New(m, Options{}, Visitor{
		Op: func(op *Op) {
			if op.Kind <= Arc {
				moves = append(moves, *op)
			}
		},
		Fault: func(f *Fault) { fits = fits && f.Kind != CompGouge },
	})
	if _, err := in.Run(strings.NewReader(program), int64(len(program))); err != nil {
		t.Fatal(err)
	}
	if !fits {
		return false
	}
	if len(moves) < 3+len(c.segs) {
		t.Fatalf("%s: only %d moves", program, len(moves))
	}
	for i := 2; i < len(moves)-1; i++ {
		op, before := &moves[i], &moves[i-1]
		if math.Hypot(op.From[0]-before.To[0], op.From[1]-before.To[1]) > 1e-9 {
			t.Fatalf("%s: a gap before move %d", program, i)
		}
		for _, p := range samples(op) {
			if d := c.distance(p); math.Abs(d-radius) > 1e-6 || c.contains(p) != inside {
				t.Fatalf("%s: %v on move %d (%s) lies %.9f from the contour, radius %.9f, inside: %t", program, p, i, opText(op), d, radius, c.contains(p))
			}
		}
	}
	return true
}
