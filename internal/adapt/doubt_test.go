package adapt

import (
	"strings"
	"testing"

	"tapefit/profiles"
)

// What only blocks with / have said is said again behind them, where the program says
// it again: the proof goes through with the switch on and off.
func TestBehindDeleted(t *testing.T) {
	tests := []struct{ name, set, source, want string }{
		{"the feed of a cycle that is written out", "codes.G81=refused", "Z1.\n/G1 Z.5 F10.\n/G0 Z1.\nG81 X2. Y2. Z-.5 R.1 F10.\nG80\n",
			"Z1.\n/G1 Z.5 F10.\n/G0 Z1.\nX2. Y2.\nZ0.1\nG1 Z-0.5 F10.\nG0 Z1.\nG80\n"},
		{"its place", "codes.G81=refused", "Z1.\n/X2. Y2.\nG81 X2. Y2. Z-.5 R.1 F10.\nG80\n",
			"Z1.\n/X2. Y2.\nX2. Y2.\nZ0.1\nG1 Z-0.5 F10.\nG0 Z1.\nG80\n"},
		{"a feed that holds is not said again", "codes.G81=refused", "G1 Z1. F10.\n/X2.\nG81 X2. Y2. Z-.5 R.1 F10.\nG80\n",
			"G1 Z1. F10.\n/X2.\nG0 X2. Y2.\nZ0.1\nG1 Z-0.5\nG0 Z1.\nG80\n"},
		{"a gear for a speed", "", "M5\n/S3000 M3\n/G1 X1. F5.\n/M5\nS3500 M3\nG1 X2. F5.\nM5\n",
			"M5\n/M42\n/S3000 M3\n/G1 X1. F5.\n/M5\nM42\nS3500 M3\nG1 X2. F5.\nM5\n"},
		{"a speed of the same gear", "", "M41\nS500 M3\n/S600\n/G1 X1. F5.\nS700\nG1 X2. F5.\nM5\n",
			"M41\nS500 M3\n/S600\n/G1 X1. F5.\nS700\nG1 X2. F5.\nM5\n"},
	}
	for _, test := range tests {
		var set []string
		if test.set != "" {
			set = []string{test.set}
		}
		to, err := profiles.FindWith("bed-mill", nil, set)
		if err != nil {
			t.Fatal(err)
		}
		got, r, err := adapted(t, "%\nG20 G90 G98\nG0 X0 Y0\n"+test.source+"M30\n%\n", Options{From: base(t, "lenient"), To: to})
		if err != nil || !r.Written {
			t.Errorf("%s: %v %+v\n%s", test.name, err, r.Left, got)
			continue
		}
		_, got, _ = strings.Cut(got, "X0 Y0\n")
		if got = strings.TrimSuffix(got, "M30\n%\n"); got != test.want {
			t.Errorf("%s: got\n%s\nwant\n%s", test.name, got, test.want)
		}
	}
}
