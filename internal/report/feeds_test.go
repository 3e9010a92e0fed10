package report

import (
	"math"
	"testing"
)

// The spindle's start, a dwell and a gear shift between cuts are no cuts: the
// picture has as much time with cuts as the machine cuts, at their feed.
func TestFeedsLeaveOutStanding(t *testing.T) {
	for name, program := range map[string]string{
		"spindle start and dwell": "%\nG20 G90 G94 M41\nG0 X0 Y0 Z1.\nS500 M3\nG1 X1. F60.\nG4 P4\nG1 X2.\nM5\nM30\n%\n",
		"gear shift":              "%\nG20 G90 G94 M41\nG0 X0 Y0 Z1.\nS500 M3\nG1 X1. F60.\nM5\nM42\nS900 M3\nG1 X2.\nM5\nM30\n%\n",
		"a hole that dwells":      "%\nG20 G90 G94 M41\nG0 X0 Y0 Z1.\nS500 M3\nG98 G82 X1. Z-1. R.1 P3 F60.\nX2.\nG80\nM5\nM30\n%\n",
	} {
		s, r := sceneOf(t, "bed-mill", program)
		f := s.feeds(r.Times.Total)
		column := r.Times.Total / feedColumns
		cutting, bars, open := 0.0, 0, false
		for k := range feedColumns {
			if f.cuts[k] {
				cutting += column
				if f.actual[k] < 0.85*f.wanted[k] || f.actual[k] > f.wanted[k]*1.001 {
					t.Errorf("%s: at %.1f s it goes %g mm/s of %g", name, float64(k)*column, f.actual[k], f.wanted[k])
				}
				if !open {
					bars++
				}
			}
			open = f.cuts[k]
		}
		if bars != 2 || math.Abs(cutting-r.Times.Cutting) > 4*column {
			t.Errorf("%s: %d bars of %g s, and it cuts for %g s", name, bars, cutting, r.Times.Cutting)
		}
		for i := 1; i < len(s.Vertices); i++ {
			if v := &s.Vertices[i]; v.Kind != Jump && v.Start < s.Vertices[i-1].Time-1e-6 {
				t.Errorf("%s: a piece begins at %g s, before the one in front of it ends", name, v.Start)
			}
		}
	}
}
