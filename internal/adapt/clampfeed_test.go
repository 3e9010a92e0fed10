package adapt

import (
	"strings"
	"testing"

	"tapefit/rules"
)

// F over S is the pitch of the tap (facts: tapping feed = n * pitch), whatever is
// brought down. The numbers of the thread are common practice.
func TestPitchStays(t *testing.T) {
	both := map[string]bool{ClampSpeed: true, ClampFeed: true}
	tests := []struct {
		name, from, to, source, want string // want: of the output, or of what to decide where nothing is written
		written                      bool
	}{
		{"feed with speed", "lenient", "bed-mill", "S5000 M3\nG84 X1. Z-.5 R.2 F50.\n", "S4200 M3\nG84 X1. Y0. Z-0.5 R0.2 F42.\n", true},
		{"up with the lowest speed too", "lenient", "bed-mill", "S20 M3\nG84 X1. Z-.5 R.2 F1.\n", "S40 M3\nG84 X1. Y0. Z-0.5 R0.2 F2.\n", true},
		{"a tap slow enough", "lenient", "bed-mill", "M42\nS2000 M3\nG84 X1. Z-.5 R.2 F100.\n", "S2000 M3\nG84 X1. Y0. Z-0.5 R0.2 F100.\n", true},
		{"20 threads an inch, too fast for Z", "lenient", "knee-mill", "S4000 M3\nG84 X1. Z-.5 R.2 F200.\n", "Write S800 F40 for it", false},
		{"too fast with a speed that is reached", "lenient", "knee-mill", "S1500 M3\nG84 X1. Z-.5 R.2 F75.\n", "Write S800 F40 for it", false},
		{"and in mm", "lenient", "bed-mill", "G21 S4000 M3\nG84 X1. Z-12. R2. F5000.\n", "Write S2032 F2540 for it", false},
		{"slower than the spindle turns", "lenient", "knee-mill", "S700 M3\nG84 X1. Z-.5 R.2 F700.\n", "by hand, or on another machine", false},
		{"a feed a revolution", "lenient", "bed-mill", "S5000 M3\nG95 G84 X1. Z-.5 R.2 F.01\nG94\n", "S4200 M3\nG84 X1. Y0. Z-0.5 R0.2 F42.\n", true},
		{"a cut a revolution goes as fast as the axis", "lenient", "bed-mill", "S5000 M3\nG95 G1 X1. F.1\nG94\n", "S4200 M3\nG1 X1. F150.\n", true},
		{"a thread keeps its lead", "slant-lathe", "slant-lathe", "M42\nG97 S4000 M3\nG33 Z-1. F.05\n", "S2800 M3\nG33 Z-1. F.05\n", true},
		{"a thread too fast for Z", "slant-lathe", "slant-lathe", "M42\nG97 S2800 M3\nG33 Z-1. F.1\n", "Write S1500 for it", false},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			from := machine(t, test.from)
			if test.from == "lenient" {
				from = base(t, test.from)
			}
			begin, end := "%\nG20 G90\nG0 X0. Y0. Z1.\n", "G80\nM5\nM30\n%\n"
			if test.from == "slant-lathe" {
				begin, end = "%\nG20 G90 G95\nT0404\nG0 X1.2 Z1.\n", "G0 X2.\nM5\nM30\n%\n"
			}
			got, r, err := adapted(t, begin+test.source+end, Options{From: from, To: machine(t, test.to), Passes: both})
			if err != nil {
				t.Fatalf("%v\n%s", err, got)
			}
			if test.written != r.Written {
				t.Fatalf("written: %v, left: %+v", r.Written, r.Left)
			}
			for _, l := range r.Left {
				if l.Level == rules.Error {
					got += l.Decide
				}
			}
			if !strings.Contains(got, test.want) {
				t.Errorf("got\n%s\nwant\n%s", got, test.want)
			}
		})
	}
}

// The proof lets no other pitch pass, whatever may be brought down.
func TestProvePitch(t *testing.T) {
	const begin = "G20 G90 G99\nG0 X0. Y0. Z1.\n"
	both := Allowed{SpeedClamped: true, FeedClamped: true, GearsAdded: true}
	tests := []struct {
		name, source, out string
		allowed           Allowed
		proven            bool
	}{
		{"less feed alone", "S3000 M3\nG84 Z-.5 R.2 F150.\n", "M42\nS3000 M3\nG84 Z-.5 R.2 F100.\n", both, false},
		{"less speed alone", "S5000 M3\nG84 Z-.5 R.2 F50.\n", "M42\nS4200 M3\nG84 Z-.5 R.2 F50.\n", both, false},
		{"more speed alone", "S20 M3\nG84 Z-.5 R.2 F1.\n", "M41\nS40 M3\nG84 Z-.5 R.2 F1.\n", both, false},
		{"both, the feed further", "S5000 M3\nG84 Z-.5 R.2 F125.\n", "M42\nS4200 M3\nG84 Z-.5 R.2 F100.\n", both, false},
		{"both by one share", "S5000 M3\nG84 Z-.5 R.2 F125.\n", "M42\nS4200 M3\nG84 Z-.5 R.2 F105.\n", both, true},
		{"by the minute for the revolution", "S5000 M3\nG95 G84 Z-.5 R.2 F.025\n", "M42\nS4200 M3\nG84 Z-.5 R.2 F105.\n", both, true},
		{"by the minute, and less", "S5000 M3\nG95 G84 Z-.5 R.2 F.025\n", "M42\nS4200 M3\nG84 Z-.5 R.2 F100.\n", both, false},
	}
	from, to := base(t, "lenient"), machine(t, "bed-mill")
	for _, test := range tests {
		if _, d := prove(t, from, to, begin+test.source, begin+test.out, test.allowed); (d == nil) != test.proven {
			t.Errorf("%s: %v", test.name, d)
		}
	}
}
