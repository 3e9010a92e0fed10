package rules

import (
	"strings"
	"testing"

	"tapefit/profiles"
)

// Millimetres on a machine that wakes up in inches, and inches on one that
// wakes up in millimetres: bed-mill, whose axes go 40, 20 and 24 in.
func TestUnitsMisread(t *testing.T) {
	mill := func(units, moves string) string {
		return "%\n" + units + "T2 M6\nM41\nS800 M3\nG54 G0 X0 Y0\nG43 H2 Z25.\nZ5.\n" + moves + "G0 Z25.\nM5\nM30\n%\n"
	}
	base := "G1 Z-6. F120.\nX180. F300.\nY95.\nG3 X160. Y115. I-20. J0\nG1 X0\nY0\n"
	findingsTable{
		{"a pump base in millimetres, no code: one finding", "bed-mill", mill("", base), []string{"error units-misread 6:8"}},
		{"the code says inches", "bed-mill", mill("G20 G90\n", base), []string{"error units-misread 2:1"}},
		{"the code says inches again at the next tool", "bed-mill", mill("G20 G90\n", base+"G0 Z25.\nG20 T3 M6\nM5\nS1000 M3\nG43 H3 Z25.\nX120. Y40.\nG1 Z-4. F120.\nX10. F300.\n"), []string{"error units-misread 2:1"}},
		{"the code is there", "bed-mill", mill("G21 G90\n", base), nil},
		{"tapped too", "bed-mill", mill("", base+"G0 Z25.\nT6 M6\nM5\nS200 M3\nG43 H6 Z25.\nG84 X20. Y20. Z-12. R5. F250.\nG80\n"), []string{"error units-misread 6:8"}},
		{"one lost point is a lost point", "bed-mill", "%\nT2 M6\nM41\nS800 M3\nG54 G0 X0 Y0\nG43 H2 Z1.\nZ.1\nG1 Z-.2 F8.\nX180. F20.\nY2.\nG0 Z1.\nM30\n%\n",
			[]string{"error travel-exceeded 9:1"}},
		{"an inch program for a larger machine", "bed-mill", "%\nT2 M6\nM41\nS800 M3\nG54 G0 X0 Y0\nG43 H2 Z1.\nZ.1\nG1 Z-.2 F8.\nX58.5 F160.\nY21.25\nX0\nG0 Z1.\nM30\n%\n",
			[]string{"error feed-over-axis-limit 9:1 x3 to 11:3", "error travel-exceeded 9:1", "error travel-exceeded 10:1"}},
		{"a shaft in millimetres on the lathe", "slant-lathe", "%\nT0101\nM41\nG97 S400 M3\nG0 X64. Z2.\nG1 Z-80. F.25\nX68.\nG0 X120. Z60.\nM5\nM30\n%\n",
			[]string{"error units-misread 5:4"}},
		{"an inch program on a machine in millimetres is told where no code is", "rs274ngc", "G0 X0 Y0 Z1.\nZ.1\nG1 Z-.1875 F8.\nX4.375 F18.\nY2.0625\nX0\nG0 Z1.\nM2\n",
			[]string{"warning units-misread 1:1", "error spindle-off-in-cut 3:1 x4 to 6:3"}},
		{"the code is there for the inches", "rs274ngc", "G20\nM3 S800\nG0 X0 Y0 Z1.\nZ.1\nG1 Z-.1875 F8.\nX4.375 F18.\nY2.0625\nX0\nG0 Z1.\nM2\n", nil},
		{"a small part in millimetres, engraved slowly", "rs274ngc", "M3 S800\nG0 X0 Y0 Z5.\nZ0.5\nG1 Z-0.2 F40.\nX14.375 F60.\nY12.25\nX0\nG0 Z5.\nM2\n", nil},
		{"a post for millimetres that writes four decimals", "bed-mill", mill("G21\n", "G1 Z-6.0000 F120.\nX180.0000 F300.\nY95.1234\n"), nil},
	}.run(t)
}

// Where the finding is silenced, what comes of the wrong units is told.
func TestUnitsMisreadSilenced(t *testing.T) {
	program := "%\nT2 M6\nM41\nS800 M3\nG54 G0 X0 Y0\n(TAPEFIT OFF units-misread: THE LAST JOB LEAVES G21)\nG43 H2 Z25.\nZ5.\nG1 Z-6. F120.\nX180. F300.\nG0 Z25.\nM30\n%\n"
	got := findings(t, machine(t, "bed-mill"), program, Options{})
	if names(got, "units-misread") != 0 || names(got, "travel-exceeded") == 0 {
		t.Errorf("got %q", got)
	}
}

// A letter O for a zero. What the parser cannot read is told by block-unreadable,
// with what is likely meant.
func TestLetterForZero(t *testing.T) {
	for _, c := range []struct{ block, rule, says string }{
		{"X5O10 F10.", "program-number-inside-block", "X5O10 is read as X5 and the number of a program, O10 / Write the digit 0 in place of the letter O: X5010"},
		{"N90 X1.O5", "program-number-inside-block", "X1.O5 is read as X1. and the number of a program, O5 / Write the digit 0 in place of the letter O: X1.05"},
		{"X5. O10", "program-number-inside-block", "O10 stands behind other words"},
		{"GO X1.", "block-unreadable", "letters GO have no number / Write G0 if the digit 0 was meant"},
		{"MO5", "block-unreadable", "the letter O stands behind \"M\" / Write the digit 0 if that was meant"},
		{"X2. Z-O.5", "block-unreadable", "the letter O stands behind \"-\""},
		{"X1. F1O.", "block-unreadable", "the letter O stands in a number"},
		{"O10", "", ""},
		{"N10 O10", "", ""},
	} {
		program := "%\nT2 M6\nM41\nS800 M3\nG54 G0 X0 Y0\nG43 H2 Z1.\nG1 Z-.1 F5.\n" + c.block + "\nG1 X5. F10.\nG0 Z1.\nM30\n%\n"
		r, err := Check(strings.NewReader(program), int64(len(program)), "test", machine(t, "bed-mill"), All(), Options{})
		if err != nil {
			t.Fatal(err)
		}
		var all []string
		for _, f := range r.Findings {
			all = append(all, f.Rule.Name+": "+f.Message+" / "+f.Advice)
		}
		if c.rule == "" && len(all) != 0 || c.rule != "" && (len(all) != 1 || !strings.HasPrefix(all[0], c.rule+": "+c.says)) {
			t.Errorf("%s: %q", c.block, all)
		}
	}
	m := *machine(t, "rs274ngc")
	if m.Takes('O') {
		t.Fatal("rs274ngc takes O")
	}
	if got := advices(t, &m, "X5O10\nM2\n"); !strings.Contains(got, "write the digit: X5010") {
		t.Errorf("where O is refused: %q", got)
	}
}

func advices(t *testing.T, m *profiles.Machine, program string) string {
	t.Helper()
	r, err := Check(strings.NewReader(program), int64(len(program)), "test", m, All(), Options{})
	if err != nil {
		t.Fatal(err)
	}
	var all []string
	for _, f := range r.Findings {
		all = append(all, f.Advice)
	}
	return strings.Join(all, "\n")
}
