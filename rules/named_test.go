package rules

import (
	"strings"
	"testing"

	"tapefit/profiles"
)

func TestNamedMachine(t *testing.T) {
	m, err := profiles.Find("rs274ngc", nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		program, name string
		line          int
		finding       string // what a check says of the comment
	}{
		{"(TAPEFIT MACHINE bed-mill)\nM2\n", "bed-mill", 1, ""},
		{"%\n( tapefit  machine: BED-MILL )\nM2\n%\n", "bed-mill", 2, ""},
		{"G0 X1 ; Tapefit Machine bed-mill: AS POSTED\nM2\n", "bed-mill", 1, ""},
		{"(TAPEFIT MACHINE knee-mill)\n(TAPEFIT MACHINE bed-mill)\nM2\n", "knee-mill", 1, ""},
		{"G0 X1\nM2\n(TAPEFIT MACHINE bed-mill)\n", "bed-mill", 3, ""},
		{"(TAPEFIT MACHINE)\nM2\n", "", 0, "silence-not-read"},
		{"(TAPEFITMACHINE bed-mill)\nM2\n", "", 0, ""},
		{"(FOR THE BED-MILL)\nM2\n", "", 0, ""},
	} {
		src := strings.NewReader(c.program)
		name, at, err := NamedMachine(src, src.Size())
		if err != nil || name != c.name || at.Line != c.line {
			t.Errorf("%q: machine %q in line %d, %v; want %q in line %d", c.program, name, at.Line, err, c.name, c.line)
		}
		r, err := Check(src, src.Size(), "", m, All(), Options{})
		if err != nil {
			t.Fatal(err)
		}
		said := ""
		for i := range r.Findings {
			if f := &r.Findings[i]; f.Rule.Family == silenceFamily {
				said += f.Rule.Name
			}
		}
		if said != c.finding {
			t.Errorf("%q: found %q, want %q", c.program, said, c.finding)
		}
	}
}
