package adapt

import (
	"strings"
	"testing"

	"tapefit/rules"
)

// The numbers of another machine's zero are told, and its home position is not. The
// home of Y is 20 in on the bed mill.
func TestPlaces(t *testing.T) {
	tests := []struct {
		name, from, source string
		level              rules.Level
		say                string // "": nothing
	}{
		{"the top", "bed-mill", "G53 G0 Z0\n", 0, ""},
		{"home", "bed-mill", "G53 G0 X0 Y20.\n", 0, ""},
		{"by the code for home", "bed-mill", "G91 G28 X0 Y0\nG90\n", 0, ""},
		{"a place to load", "bed-mill", "G53 G0 X20. Y20.\n", rules.Warning, "G53 goes to places in the machine coordinates of bed-mill: X20. Y20. (line 4). other-mill counts"},
		{"half way up, and aside", "bed-mill", "G53 G0 Z-2.\nG53 X5.\n", rules.Warning, "Z-2. (line 4), X5. (line 5)"},
		{"again and again", "bed-mill", strings.Repeat("G53 G0 Z-2.\nX1.\n", 6), rules.Warning, "(line 10) and 2 more"},
		{"nobody said for what machine", "lenient", "G53 G0 Z-2.\n", rules.Note, "If the program was not written for other-mill"},
		{"the machine that it was written for", "other-mill", "G53 G0 Z-2.\n", 0, ""},
	}
	other := *machine(t, "bed-mill")
	other.Name = "other-mill"
	for _, test := range tests {
		from := &other
		switch test.from {
		case "lenient":
			from = base(t, test.from)
		case "bed-mill":
			from = machine(t, test.from)
		}
		// G64 P is mended: the program does not fit as it stands.
		for _, mended := range []string{"G64 P.01\n", "G64\n"} {
			_, r, err := adapted(t, "%\nG20 G90\n"+mended+test.source+"M30\n%\n", Options{From: from, To: &other, Guess: from.Kind == ""})
			if err != nil || !r.Written {
				t.Fatalf("%s: %v %+v", test.name, err, r.Left)
			}
			want := test.say
			if r.Fits && from.Kind == "" {
				want = "" // it is as good as this machine's own
			}
			switch {
			case want == "" && len(r.Left) > 0, want != "" && len(r.Left) != 1:
				t.Errorf("%s, fits %v: %+v", test.name, r.Fits, r.Left)
			case want != "" && (r.Left[0].Level != test.level || !strings.Contains(r.Left[0].What, want)):
				t.Errorf("%s: %+v", test.name, r.Left[0])
			}
		}
	}
}
