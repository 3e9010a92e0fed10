package rules

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"tapefit/internal/interp"
	"tapefit/parser"
)

// Flats on a circle, written as 40000 chords: with a radius of 1 in and 0.002 in
// of play half the chord is sqrt(2*1*0.002 - 0.002^2) = 0.06321 in long (the
// intersecting chords theorem, Euclid III.35). They lie at the quadrants, where
// an axis turns round: common practice.
func TestFlatOnCircle(t *testing.T) {
	const play, r = 0.002, 1.0
	for _, start := range []float64{0, 0.3, 1.5, 2, 3, 4, 5.5} {
		for _, cw := range []bool{false, true} {
			rev := &reversal{axes: interp.X | interp.Y}
			for i := range rev.all {
				rev.all[i].play = play
			}
			op := &interp.Op{Block: &parser.Block{Line: 1}}
			at0 := [2]float64{r * math.Cos(start), r * math.Sin(start)}
			var ends, flats []float64
			for i := range 2 {
				a := &rev.all[i]
				from, at := at0[i], 0.0
				// The pieces of the arc, by hand: the axis turns where its tangent is across it.
				for step := 1; step <= 40000; step++ {
					phi := float64(step) * 2 * math.Pi / 40000
					turn := start + phi
					if cw {
						turn = start - phi
					}
					v := []float64{math.Cos(turn), math.Sin(turn)}[i] * r
					if flat := a.follow(piece{delta: v - from, length: r * (phi - at), side: beside, from: from, cut: true}, op); flat > 0 {
						flats = append(flats, flat)
						ends = append(ends, math.Abs(a.place))
					}
					from, at = v, phi
				}
			}
			want := math.Sqrt(2*r*play - play*play)
			if len(flats) < 3 || len(flats) > 4 {
				t.Errorf("from %g, clockwise %v: %d flats", start, cw, len(flats))
			}
			for k := range flats {
				if math.Abs(flats[k]-want) > 0.01*want || math.Abs(ends[k]-r) > 1e-5 {
					t.Errorf("chords from %g, clockwise %v: flat %g at %g, want %g at %g", start, cw, flats[k], ends[k], want, r)
				}
			}
		}
	}
}

func TestMechanics(t *testing.T) {
	const head = "%\nG92 X0 Y0 Z1000\nS500 M3\n"
	circle := "G1 X10000 F5\n" + strings.Repeat("G3 X0 Y10000 I10000 J0\nG3 X-10000 Y0 I0 J10000\nG3 X0 Y-10000 I10000 J0\nG3 X10000 Y0 I0 J10000\n", 2)
	for _, c := range []struct {
		name, program string
		settings      []string
		rule, want    string
	}{
		{"twice round: X turns at both ends", head + circle + "M30\n%\n", nil, "reversal-in-cut",
			"warning: turns round in the cut: X 4 times (2 on arcs at X+, 2 on arcs at X-) and Y 4 times (2 on arcs at Y+, 2 on arcs at Y-); the backlash of 0.002 in leaves flats as deep there, the longest of 0.0632 in"},
		{"taken out, and more than is good", head + circle + "M30\n%\n", []string{"control.backlash=taken-out"}, "reversal-in-cut",
			"note: turns round in the cut: X 4 times"},
		{"a good screw", head + circle + "M30\n%\n", []string{"axes.x.backlash=0.0005 in", "axes.y.backlash=0.0005 in"}, "reversal-in-cut", ""},
		{"only Y is worn", head + circle + "M30\n%\n", []string{"axes.x.backlash=0.0005 in"}, "reversal-in-cut", "warning: turns round in the cut: Y 4 times"},
		{"two tools: one cause, the screws", head + "T2 M6\n" + circle + "T3 M6\n" + circle + "M30\n%\n", nil, "reversal-in-cut",
			"warning: turns round in the cut with tools 2 and 3: X 8 times (4 on arcs at X+, 4 on arcs at X-) and Y 8 times"},
		{"back and forth on a line", head + "G1 X10000 F5\nX0\nX10000\nM30\n%\n", nil, "reversal-in-cut", ""},
		{"a zigzag with steps across", head + "G1 X10000 F5\nY2000\nX0\nY40000\nX10000\nM30\n%\n", nil, "reversal-in-cut", ""},
		{"positioning is no cut", head + "G0 X10000\nY1000\nX0 Y5000\nM30\n%\n", nil, "reversal-in-cut", ""},

		{"from one side", head + "G0 X-9000 Y-9000\nG81 X0 Y0 Z-1000 R500 F5\nX1000\nX2000\nG80\nM30\n%\n", nil, "approach-side-differs", ""},
		{"from both", head + "G0 X-9000 Y-9000\nG81 X0 Y0 Z-1000 R500 F5\nX2000\nX1000\nG80\nM30\n%\n", nil, "approach-side-differs",
			"note: this hole is reached from the other side than the first of its tool: with the backlash of knee-mill they lie 0.002 in along X off"},
		{"bored from both", head + "G0 X-9000 Y-9000\nG85 X0 Y0 Z-1000 R500 F5\nX2000\nX1000\nG80\nM30\n%\n", nil, "approach-side-differs", "warning: this hole"},
		{"overshot and back", head + "G0 X-9000 Y-9000\nG81 X0 Y0 Z-1000 R500 F5\nX2000\nG80\nG0 X0\nG81 X1000 Y0 Z-1000 R500\nG80\nM30\n%\n", nil, "approach-side-differs", ""},
		{"taken out before the tool comes down", head + "G0 X-9000 Y-9000\nG81 X0 Y0 Z-1000 R500 F5\nX2000\nX1000\nG80\nM30\n%\n", []string{"control.backlash=taken-out"}, "approach-side-differs", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := Check(strings.NewReader(c.program), int64(len(c.program)), "test", with(t, "knee-mill", c.settings...), All(), Options{})
			if err != nil {
				t.Fatal(err)
			}
			got := ""
			for _, f := range r.Findings {
				if f.Rule.Name == c.rule {
					got += fmt.Sprintf("%s: %s", f.Level, f.Message)
				}
			}
			if c.want == "" && got != "" || !strings.HasPrefix(got, c.want) {
				t.Errorf("got  %q\nwant %q", got, c.want)
			}
		})
	}
}
