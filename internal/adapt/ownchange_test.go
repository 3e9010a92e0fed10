package adapt

import (
	"strings"
	"testing"

	"tapefit/profiles"
	"tapefit/rules"
)

// A machine whose control changes tools by a program of its own: what it leaves
// elsewhere than the program believes is told; the coolant that it switches off is
// on again.
func TestChangePrograms(t *testing.T) {
	const up, away, level = "G53 G0 Z0\nM6\n", "M9\nM5\nG53 G0 Z0\nG53 X20 Y20\nM6\n", "G0 Z5.\nM6\n"
	tests := []struct {
		name, program, source, want string
		say                         string // what is left, where nothing is written
	}{
		{"it names all axes anew", up, "T2 M6\nS900 M3\nG0 X1. Y1.\nG43 H2 Z.5\nG1 Z0. F5.\n", "T2 M6\nS900 M3\nG0 X1. Y1.\nG43 H2 Z.5\nG1 Z0. F5.\n", ""},
		{"and the coolant is on again", away, "T2 M6\nS900 M3\nG0 X1. Y1.\nG43 H2 Z.5\nG1 Z0. F5.\n", "T2 M6\nS900 M3\nM8\nG0 X1. Y1.\nG43 H2 Z.5\nG1 Z0. F5.\n", ""},
		{"it has the coolant off itself", away, "M9\nT2 M6\nS900 M3\nG0 X1. Y1.\nG43 H2 Z.5\nM8\nG1 Z0. F5.\n", "M9\nT2 M6\nS900 M3\nG0 X1. Y1.\nG43 H2 Z.5\nM8\nG1 Z0. F5.\n", ""},
		{"it cuts on at the depth", up, "T2 M6\nS900 M3\nG1 X1.\n", "", "goes on from where it stood"},
		{"it goes down by a distance", up, "T2 M6\nS900 M3\nG91 G0 Z-.1\nG90 G1 X1.\n", "", "goes on from where it stood"},
		{"a cycle takes its level from there", up, "T2 M6\nS900 M3\nG98 G81 X1. Z-.2 R.1 F4.\nG80\n", "", "goes on from where it stood"},
		{"an arc begins there", up, "T2 M6\nS900 M3\nG2 X.5 Y.5 J.5 F4.\n", "", "goes on from where it stood"},
		{"down where tools are changed", away, "T2 M6\nS900 M3\nG0 Z.1\nX1. Y1.\n", "", "goes down behind the tool change"},
		{"a level over the work, and a cut at the depth", level, "T2 M6\nS900 M3\nG1 X1.\n", "", "goes on from where it stood"},
		{"it is told where it stands", up, "T2 M6\nG92 Z2.\nG0 X1. Y1.\nZ.1\n", "", "sets the position"},
		{"no axis is moved", "M5\nM6\n", "T2 M6\nS900 M3\nG1 X1.\n", "T2 M6\nS900 M3\nG1 X1.\n", ""},
	}
	plain, err := profiles.FindWith("bed-mill", nil, []string{"tools.change_sequence=[]"})
	if err != nil {
		t.Fatal(err)
	}
	for _, test := range tests {
		to, err := profiles.FindWith("bed-mill", nil, []string{"tools.change_sequence=[]", "tools.change_program=" + test.program})
		if err != nil {
			t.Fatal(err)
		}
		got, r, err := adapted(t, changeHead+test.source+"M30\n%\n", Options{From: plain, To: to})
		switch {
		case err != nil:
			t.Errorf("%s: %v\n%s", test.name, err, got)
		case test.say == "" && (!r.Written || got != changeHead+test.want+"M30\n%\n"):
			t.Errorf("%s: written %v, left %+v\n%s", test.name, r.Written, r.Left, got)
		case test.say != "" && (r.Written || len(r.Left) != 1 || r.Left[0].Level != rules.Error || !strings.Contains(r.Left[0].What, test.say)):
			t.Errorf("%s: written %v, left %+v\n%s", test.name, r.Written, r.Left, got)
		}
	}
}
