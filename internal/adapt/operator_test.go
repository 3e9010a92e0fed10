package adapt

import (
	"strings"
	"testing"

	"tapefit/profiles"
	"tapefit/rules"
)

// What the operator is told at stops is not lost in silence with the comments.
func TestOperatorIsTold(t *testing.T) {
	tests := []struct {
		name, comments, source string
		level                  rules.Level
		say                    string // "": nothing is left out
	}{
		{"beside the stop", "", "M0 (TURN THE PART OVER)\n", rules.Warning, `M0 "TURN THE PART OVER" (line 4)`},
		{"in the block before", "", "(MEASURE THE BORE)\nM1\n", rules.Warning, `M1 "MEASURE THE BORE" (line 5)`},
		{"in more than one, and beside", "", "(CLAMPS OFF)\n\nN20 (BLOW OUT)\nM0 (TURN)\n", rules.Warning, `M0 "CLAMPS OFF, BLOW OUT, TURN" (line 7)`},
		{"not what belongs to the cut before", "", "(FINISH)\nG1 X2. F5.\nM0\n", rules.Note, "reads no comments: they are left out"},
		{"nothing at the stop", "", "G1 X2. F5. (FINISH)\nM0\n", rules.Note, "reads no comments: they are left out"},
		{"the end is no stop", "", "M9 (DONE)\n", rules.Note, "reads no comments: they are left out"},
		{"many", "", strings.Repeat("M1 (LOOK)\n", 8), rules.Warning, `M1 "LOOK" (line 9) and 2 more`},
		{"the belt", "", "S200 M3\nG1 X2. F5.\nM5\nS2000 M3\nX3.\n", rules.Warning, `M0 "BELT ON SLOW" (line 4); M0 "BELT ON FAST" (line 7)`},
		{"in another way of writing", ";", "M0 (TURN)\n", 0, ""},
		{"as it is", "(", "M0 (TURN)\n", 0, ""},
	}
	for _, test := range tests {
		to, err := profiles.FindWith("knee-mill", nil, []string{"block.comments=" + test.comments})
		if err != nil {
			t.Fatal(err)
		}
		_, r, err := adapted(t, "%\nG20 G90\nG0 X0 Y0\n"+test.source+"M30\n%\n", Options{From: base(t, "lenient"), To: to})
		if err != nil || !r.Written {
			t.Fatalf("%s: %v %+v", test.name, err, r.Left)
		}
		switch {
		case test.say == "" && len(r.Left) > 0, test.say != "" && len(r.Left) != 1:
			t.Errorf("%s: %+v", test.name, r.Left)
		case test.say != "" && (r.Left[0].Level != test.level || !strings.Contains(r.Left[0].What, test.say)):
			t.Errorf("%s: %+v", test.name, r.Left[0])
		}
	}
}
