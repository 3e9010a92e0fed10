package rules

import (
	"fmt"
	"strings"
	"testing"

	"tapefit/profiles"
)

// only are the findings of some rules, in order.
func only(t *testing.T, m *profiles.Machine, program string, rules ...string) []string {
	t.Helper()
	var out []string
	for _, s := range findings(t, m, program, Options{}) {
		for _, name := range rules {
			if strings.Contains(s, " "+name+" ") {
				out = append(out, s)
			}
		}
	}
	return out
}

// with is a machine of the library with values set beside its profile.
func with(t *testing.T, name string, settings ...string) *profiles.Machine {
	t.Helper()
	m, err := profiles.FindWith(name, nil, settings)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// What is left in force: where it must be told and where not.
func TestModesLeft(t *testing.T) {
	const tool2, tool3 = "T2 M6\nM42\nS2000 M3\nG0 X0 Y0\nG43 H2 Z1.\n", "M5\nT3 M6\nM42\nS2000 M3\nG0 X0 Y0\nG43 H3 Z1.\n"
	for _, c := range []struct {
		name, machine, program string
		want                   []string
	}{
		{"units said once", "bed-mill", "G21\nG0 X50.\nG21\nX0\nM30\n", nil},
		{"units said behind the first move", "bed-mill", "G0 X2.\nG21\nX50.\nM30\n", []string{"warning units-switched 2:1"}},
		{"home first, then the units", "bed-mill", "G53 G0 Z0\nG21\nG0 X50.\nM30\n", nil},
		{"there and back again is one cause", "bed-mill", "G20 G0 X2.\nG21 X50.\nG20 X1.\nM30\n", []string{"warning units-switched 2:1 x2 to 3:4"}},
		{"said and nothing moved", "bed-mill", "G21\nG20\nG0 X1.\nM30\n", nil},

		{"F a revolution under G94", "slant-lathe", "T0101\nM41\nG97 S500 M3\nG0 X2. Z.1\nG94 G1 Z-1. F.008\nX2.1\nM30\n", []string{"warning feed-mode-stale 5:5 x2 to 6:5"}},
		{"F a minute under G95", "slant-lathe", "T0101\nM41\nG97 S500 M3\nG0 X2. Z.1\nG1 Z-1. F5.\nM30\n", []string{"error feed-mode-stale 5:1"}},
		{"a coarse thread is no feed", "slant-lathe", "T0404\nM41\nG97 S100 M3\nG0 X2. Z.5\nG33 Z-1. F.25\nM30\n", nil},
		{"a slow feed of a slow spindle", "bed-mill", "T2 M6\nM41\nS40 M3\nG0 X0 Y0\nG43 H2 Z1.\nG1 X1. F.3\nM30\n", nil},
		{"inverse time by the tool that says it", "bed-mill", tool2 + "G93 G1 X1. F10.\nX3. F10.\nG94\nM30\n", nil},
		{"inverse time left to the next tool", "bed-mill", tool2 + "G93 G1 X1. F10.\n" + tool3 + "G1 X1. F10.\nX3. F10.\nM30\n", []string{"warning feed-mode-stale 14:1"}},
		{"inverse time left, and F goes with the length", "bed-mill", tool2 + "G93 G1 X1. F10.\n" + tool3 + "G1 X1. F10.\nX3. F5.\nM30\n", nil},

		{"G99 of this tool", "bed-mill", tool2 + "G99 G81 X0 Z-.2 R.1 F4.\nX1.\nG80\nM30\n", nil},
		{"G99 at the top holds for all", "bed-mill", "G99\n" + tool2 + "G81 X0 Z-.2 R.1 F4.\nX1.\nG80\nM30\n", nil},
		{"G99 left to the next tool", "bed-mill", tool2 + "G99 G81 X0 Z-.2 R.1 F4.\nX1.\nG80\n" + tool3 + "G81 X0 Z-.2 R.1 F4.\nX1.\nX2.\nG80\nM30\n", []string{"warning retract-mode-stale 16:1 x2 to 17:4"}},
		{"G99 left, one hole", "bed-mill", tool2 + "G99 G81 X0 Z-.2 R.1 F4.\nX1.\nG80\n" + tool3 + "G81 X0 Z-.2 R.1 F4.\nG80\nM30\n", nil},
		{"G99 left, the tool stands at R already", "bed-mill", tool2 + "G99 G81 X0 Z-.2 R.1 F4.\nG80\n" + tool3 + "G0 Z.1\nG81 X0 Z-.2 R.1 F4.\nX1.\nG80\nM30\n", nil},
		{"no choice of the level", "knee-mill", "%\nG92 X0 Y0 Z20000\nG81 X0 Y0 Z-500 R100 F4\nX1000\nG80\nM30\n%\n", nil},

		{"G18 said for the arc", "bed-mill", tool2 + "G18 G2 X1. Z1. R.5 F10.\nG17\nM30\n", nil},
		{"G18 left, the arc means it", "bed-mill", tool2 + "G18 G2 X1. Z1. R.5 F10.\n" + tool3 + "G2 X1. Z1. R.5 F10.\nM30\n", nil},
		{"G18 left, the cycle drills along Y", "bed-mill", tool2 + "G18 G2 X1. Z1. R.5 F10.\n" + tool3 + "G81 X1. Y-2. Z-1. R.1 F4.\nG80\nM30\n", []string{"error plane-stale 13:1"}},
		{"G18 left, straight moves", "bed-mill", tool2 + "G18 G2 X1. Z1. R.5 F10.\n" + tool3 + "G1 X1. F4.\nM30\n", nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := only(t, machine(t, c.machine), c.program, "units-switched", "feed-mode-stale", "retract-mode-stale", "plane-stale")
			if fmt.Sprint(got) != fmt.Sprint(c.want) {
				t.Errorf("program:\n%s\ngot:  %q\nwant: %q", c.program, got, c.want)
			}
		})
	}
}

// Blocks with /, and what relies on them.
func TestBlockDelete(t *testing.T) {
	const head = "M41\nS500 M3\nG0 X0 Y0 Z1.\n"
	for _, c := range []struct {
		name, program string
		want          []string
	}{
		{"a stop", head + "/ M0\nG1 X1. F5.\nM30\n", nil},
		{"a cut that leaves nothing behind", head + "/ G1 Z-.1 F5.\n/ X1.\nG0 Z1.\nG1 X2. F5.\nM30\n", nil},
		{"the next block has no motion code", head + "/ G1 Z-.1 F5.\nX1.\nM30\n", []string{"warning block-delete-changes-state 4:1"}},
		{"the motion code is said, F is not", head + "/ G1 Z-.1 F5.\nG1 X1.\nM30\n", []string{"warning block-delete-changes-state 4:1"}},
		{"the distance mode", head + "/ G91\nG0 X1.\nG90\nM30\n", []string{"warning block-delete-changes-state 4:1"}},
		{"changed and changed back within", head + "/ G91\n/ G0 X1.\n/ G90\nG0 X2.\nM30\n", nil},
		{"the spindle", "M41\nG0 X0 Y0 Z1.\n/ S500 M3\nG1 X1. F5.\nM30\n", []string{"warning block-delete-changes-state 3:1"}},
		{"a tool by itself, all of it with /", head + "G1 X1. F5.\nM5\n/ T4 M6\n/ S600 M3\n/ G43 H4 G0 Z1.\n/ G81 X1. Z-.1 R.1 F4.\n/ G80\n/ M5\nT2 M6\nS500 M3\nG43 H2 G0 X0 Z1.\nG1 X1. F5.\nM30\n", nil},
		{"one cause, twice", head + "/ G1 Z-.1 F5.\nX1.\nG0 Z1.\n/ G1 Z-.1 F5.\nX2.\nG0 Z1.\nM30\n", []string{"warning block-delete-changes-state 4:1 x2 to 7:14"}},
		{"in a subprogram that is called", head + "M98 P2\nM30\nO2\n/ G91\nG0 X1.\nG90\nM99\n", []string{"warning block-delete-changes-state 7:1"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := only(t, machine(t, "bed-mill"), c.program, "block-delete-changes-state")
			if fmt.Sprint(got) != fmt.Sprint(c.want) {
				t.Errorf("program:\n%s\ngot:  %q\nwant: %q", c.program, got, c.want)
			}
		})
	}
}

// Characters and block numbers, as profiles have them.
func TestReading(t *testing.T) {
	for _, c := range []struct {
		name    string
		m       *profiles.Machine
		program string
		want    []string
	}{
		{"capitals on tape", machine(t, "knee-mill"), "%\nN10 G90 (SET: 2 IN)\nM30\n%\n", nil},
		{"small letters, a block each", machine(t, "knee-mill"), "%\ng90\nm30\n%\n", []string{"error characters-not-accepted 2:1 x2 to 3:2"}},
		{"in front of the tape nobody reads", machine(t, "knee-mill"), "Set the dials\n%\nG90\nM30\n%\n", nil},
		{"parameters are refused by another rule", machine(t, "knee-mill"), "%\n#1=2*3\nG90\nM30\n%\n", nil},
		{"a control that reads all", machine(t, "bed-mill"), "g90\t(small)\nm30\n", nil},
		{"an editor without tabs", with(t, "bed-mill", `block.characters=A-Za-z0-9 %()+-./`), "g90\tg0 x1.\nm30\n", []string{"error characters-not-accepted 1:4"}},

		{"numbers that fall, and nobody asks", machine(t, "bed-mill"), "N20 G90\nN10 G0 X1.\nM30\n", nil},
		{"numbers that must rise", with(t, "bed-mill", `block.sequence_rising=true`), "N10 G90\nN20 G0 X1.\nN20 X2.\nN15 X3.\nN30 M30\n", []string{"note sequence-numbers-not-rising 3:1 x2 to 4:4"}},
		{"anew in each program", with(t, "bed-mill", `block.sequence_rising=true`), "O1\nN10 G90\nM98 P2\nN20 M30\nO2\nN10 G0 X1.\nM99\n", nil},
		{"a jump to a number that stands twice", machine(t, "parametric"), "GOTO 20\nN20 G0 X1\nN20 X2\nM30\n", []string{"note sequence-numbers-not-rising 3:1"}},
		{"twice, and nothing jumps", machine(t, "parametric"), "N20 G0 X1\nN20 X2\nM30\n", nil},
		{"falling, with a jump", machine(t, "parametric"), "GOTO 10\nN20 G0 X1\nN10 X2\nM30\n", nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := only(t, c.m, c.program, "characters-not-accepted", "sequence-numbers-not-rising")
			if fmt.Sprint(got) != fmt.Sprint(c.want) {
				t.Errorf("program:\n%s\ngot:  %q\nwant: %q", c.program, got, c.want)
			}
		})
	}
}

// Figures of a feed that is far too small are shown, not rounded away.
func TestFeedTooThin(t *testing.T) {
	const program = "T0101\nM42\nG50 S2200\nG94 G97 S2200 M3\nG0 X2. Z.1\nG1 Z-1. F.008\nM30\n"
	r, err := Check(strings.NewReader(program), int64(len(program)), "test", machine(t, "slant-lathe"), All(), Options{})
	if err != nil {
		t.Fatal(err)
	}
	const want = "F is 0.008 in/min with G94 of line 4; at S2200 that is less than 0.00001 in a revolution"
	if len(r.Findings) != 1 || !strings.Contains(r.Findings[0].Message, want) {
		t.Errorf("nothing says %q: %+v", want, r.Findings)
	}
}
