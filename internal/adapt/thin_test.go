package adapt

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// circle is a program of n chords round a circle of the radius in mm.
func circle(radius float64, n int) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%%\nG21 G90 G94\nG0 X%.4f Y0 Z5.\nG1 Z0. F300.\n", radius)
	for i := 1; i <= n; i++ {
		t := 2 * math.Pi * float64(i) / float64(n)
		fmt.Fprintf(&b, "X%.4f Y%.4f\n", radius*math.Cos(t), radius*math.Sin(t))
	}
	b.WriteString("G0 Z5.\nM30\n%\n")
	return b.String()
}

func TestThin(t *testing.T) {
	square := "%\nG21 G90 G94\nG0 X0 Y0 Z5.\nG1 Z0. F300.\n"
	for _, side := range []string{"X%d.", "X10. Y%d.", "-"} {
		for i := 1; i <= 10 && side != "-"; i++ {
			square += fmt.Sprintf(side+"\n", i)
		}
	}
	tests := []struct {
		name, program string
		tolerance     float64
		most          int // blocks of the output
		has           string
	}{
		{"a circle in chords", circle(20, 360), 0.01, 14, "G3 X"},
		// Chords of 10 degrees lie 0.076 mm inside the circle of 20 mm:
		// r*(1-cos(5 degrees)).
		{"chords wider than the tolerance stay", circle(20, 36), 0.01, 60, "X19.6962 Y3.473"},
		{"chords within the tolerance", circle(20, 36), 0.1, 14, "G3 X"},
		{"corners stay", square, 0.5, 9, "X10.\nY10."},
		{"straight on, with moves of nothing", "%\nG21 G90 G94\nG0 X0 Y0 Z0\nG1 X0. F300.\nX0.\nX3.\nX3.\nX6.\nX6.\nM30\n%\n", 0.01, 9, "X6."},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			opt := Options{From: base(t, "lenient"), To: machine(t, "bed-mill"), Tolerance: test.tolerance, Passes: map[string]bool{Thin: true}}
			got, r, err := adapted(t, test.program, opt)
			if err != nil {
				t.Fatalf("%v\n%s", err, got)
			}
			if !r.Written || r.Proof.Deviation > test.tolerance+0.001 {
				t.Errorf("written: %v, deviation %g mm", r.Written, r.Proof.Deviation)
			}
			if n := strings.Count(got, "\n"); n > test.most {
				t.Errorf("%d blocks\n%s", n, got)
			}
			if !strings.Contains(got, test.has) {
				t.Errorf("no %q in\n%s", test.has, got)
			}
		})
	}
}
