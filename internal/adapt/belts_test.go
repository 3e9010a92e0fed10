package adapt

import (
	"strings"
	"testing"
)

// The belts of the knee mill: slow to 380 rpm, middle from 420 to 1250, fast from
// 1400. Who is told to move the belt is told each time, at the first speed too.
func TestBelts(t *testing.T) {
	tests := []struct{ name, source, want string }{
		{"one belt: nobody is told", "T1 M6\nS1000 M3\nG1 X1. F5.\nS500\nX2.\n", "T1 M6\nS1000 M3\nG1 X1. F5.\nS500\nX2.\n"},
		{"each tool its own: the setup sheet has it", "T1 M6\nS1000 M3\nG1 X1. F5.\nM5\nT2 M6\nS2000 M3\nX2.\n", "T1 M6\nS1000 M3\nG1 X1. F5.\nM5\nT2 M6\nS2000 M3\nX2.\n"},
		{"a shift: the first belt too", "T1 M6\nS1000 M3\nG1 X1. F5.\nS2000\nX2.\n",
			"T1 M6\nM0 (BELT ON MIDDLE)\nS1000 M3\nG1 X1. F5.\nM5\nM0 (BELT ON FAST)\nS2000 M3\nX2.\n"},
		{"and back for the next tool", "T1 M6\nS1000 M3\nG1 X1. F5.\nS2000\nX2.\nM5\nT2 M6\nS300 M3\nX1.\n",
			"T1 M6\nM0 (BELT ON MIDDLE)\nS1000 M3\nG1 X1. F5.\nM5\nM0 (BELT ON FAST)\nS2000 M3\nX2.\nM5\nT2 M6\nM0 (BELT ON SLOW)\nS300 M3\nX1.\n"},
		{"not again where it stays", "T1 M6\nS1000 M3\nG1 X1. F5.\nS2000\nX2.\nM5\nT2 M6\nS2500 M3\nX1.\n",
			"T1 M6\nM0 (BELT ON MIDDLE)\nS1000 M3\nG1 X1. F5.\nM5\nM0 (BELT ON FAST)\nS2000 M3\nX2.\nM5\nT2 M6\nS2500 M3\nX1.\n"},
		{"a stop of the program for it", "M0 (BELT ON MIDDLE)\nS1000 M3\nG1 X1. F5.\nM5\nM0 (BELT ON FAST)\nS2000 M3\nX2.\n",
			"M0 (BELT ON MIDDLE)\nS1000 M3\nG1 X1. F5.\nM5\nM0 (BELT ON FAST)\nS2000 M3\nX2.\n"},
	}
	for _, test := range tests {
		opt := Options{From: base(t, "lenient"), To: machine(t, "knee-mill"), Passes: map[string]bool{ToolChange: false}}
		got, r, err := adapted(t, "%\nG70 G90\nG0 X0. Y0. Z2.\n"+test.source+"M5\nM30\n%\n", opt)
		if err != nil || !r.Written {
			t.Fatalf("%s: %v %+v\n%s", test.name, err, r.Left, got)
		}
		twice, _, err := adapted(t, got, opt)
		if err != nil || twice != got {
			t.Errorf("%s: adapted twice: %v\n%s", test.name, err, twice)
		}
		_, got, _ = strings.Cut(got, "Z2.\n")
		if got = strings.TrimSuffix(got, "M5\nM30\n%\n"); got != test.want {
			t.Errorf("%s: got\n%s\nwant\n%s", test.name, got, test.want)
		}
	}
}
