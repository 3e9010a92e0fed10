package interp

import (
	"strings"
	"testing"
)

// A control that counts numbers without a point reads sequence numbers, passes and
// the angle of a thread like any other (common practice).
func TestCountingControl(t *testing.T) {
	const point, counts = "[numbers]\npoint = \"optional\"\n", "[numbers]\npoint = \"counts\"\nsuppress = \"leading\"\n"
	for _, c := range []struct{ name, form, program string }{
		{"roughing and finishing", "", "S500 M3\nG0 X50. Z1.\nG71 U3. R1.\nG71 P10 Q20 U2. W.5 F.2\nN10 G0 X20.\nG1 Z-20.\nN20 X40. Z-30.\nG70 P10 Q20\n"},
		{"the numbers of a pattern", "", "S500 M3\nG0 X50. Z1.\nG73 U4. W2. R3\nG73 P10 Q20 U2. W.5 F.2\nN10 G0 X20.\nN20 G1 Z-20.\n"},
		{"grooves, whose steps count on both", "", "S500 M3\nG0 X50. Z-10.\nG75 R.5\nG75 X40. Z-20. P2000 Q2500 F.1\nG0 X0 Z5.\nG74 R1.\nG74 Z-30. Q8000 F.1\n"},
		{"a thread in two blocks", "", "S400 M3\nG0 X24. Z5.\nG76 P020060 Q100 R.05\nG76 X18.16 Z-20. P920 Q500 F1.5\n"},
		{"a thread in one block, at an angle", "[turning]\ncycle_lines = 1\n", "S400 M3\nG0 X24. Z5.\nG76 X18. Z-20. K1. D.3 A60 F1.5\n"},
		{"roughing in one block, the units said beside it", "[turning]\ncycle_lines = 1\n", "S500 M3\nG0 X50. Z1.\nG20 G71 P10 Q20 U.1 W.02 D.1 F.01\nN10 G0 X1.\nN20 G1 Z-1.\n"},
		{"a depth of cut in least increments, against one in millimetres", "[turning]\ncycle_lines = 1\n", "S500 M3\nG0 X50. Z1.\nG71 P10 Q20 U2. W.5 D3. F.2\nN10 G0 X20.\nN20 G1 Z-20.\n"},
	} {
		t.Run(c.name, func(t *testing.T) {
			counted := strings.ReplaceAll(c.program, " D3. ", " D3000 ")
			want := ops(t, lathe(t, point+c.form), "G21\n"+c.program)
			if got := ops(t, lathe(t, counts+c.form), "G21\n"+counted); got != want || len(want) == 0 {
				t.Errorf("%s\ncounts:\n%s\notherwise:\n%s", c.program, got, want)
			}
		})
	}
}
