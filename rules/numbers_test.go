package rules

import (
	"fmt"
	"testing"
)

// A lathe whose control counts numbers without a point: which words are written
// without one as a matter of course (common practice), and which are not.
func TestCountedWords(t *testing.T) {
	const start = "G21 G18 G40 G90 G95\nT0101\nM41\nG97 S400 M3\nG0 X62. Z2.\n"
	counts := []string{"numbers.point=counts", "numbers.suppress=leading"}
	for _, c := range []struct {
		name, program string
		set           []string
		want          []string
	}{
		{"sequence numbers of a contour", start + "G71 U2. R.5\nG71 P10 Q20 U.4 W.1 F.25\nN10 G0 X20.\nG1 Z-30.\nN20 X62.\nG70 P10 Q20\nM30\n", nil, nil},
		{"steps that count", start + "G75 R.5\nG75 X40. Z-30. P2000 Q2500 F.1\nM30\n", nil, nil},
		{"steps, where the profile says nothing of them", start + "G74 R.5\nG74 Z-30. Q2500 F.1\nM30\n", []string{"turning.counts="}, nil},
		{"the angle of a thread", start + "G76 X22.16 Z-25. K.92 D.3 A60 F1.5\nM30\n", []string{"turning.cycle_lines=1"}, nil},
		{"a place in such a cycle", start + "G75 R.5\nG75 X40 Z-30. P2000 Q2500 F.1\nM30\n", nil, []string{"error number-format 7:5"}},
		{"a depth of cut", start + "G71 U2 R.5\nG71 P10 Q20 U.4 W.1 F.25\nN10 G0 X20.\nG1 Z-30.\nN20 X62.\nM30\n", nil, []string{"error number-format 6:5", "error value-not-usable 7:1"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := with(t, "slant-lathe", append(counts, c.set...)...)
			if got := only(t, m, c.program, "number-format", "value-not-usable", "word-missing"); fmt.Sprint(got) != fmt.Sprint(c.want) {
				t.Errorf("%s\ngot  %q\nwant %q", c.program, got, c.want)
			}
		})
	}
}
