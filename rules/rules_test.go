package rules

import (
	"fmt"
	"strings"
	"testing"

	"tapefit/profiles"
)

func machine(t testing.TB, name string) *profiles.Machine {
	t.Helper()
	m, err := profiles.Find(name, nil)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// findings checks a program and writes what was found, one a line: level, rule,
// place and count.
func findings(t testing.TB, m *profiles.Machine, program string, opt Options) []string {
	t.Helper()
	r, err := Check(strings.NewReader(program), int64(len(program)), "test", m, All(), opt)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, f := range r.Findings {
		if f.Message == "" || f.Advice == "" {
			t.Errorf("%s at %d:%d says nothing", f.Rule.Name, f.Line, f.Column)
		}
		s := fmt.Sprintf("%s %s %d:%d", f.Level, f.Rule.Name, f.Line, f.Column)
		if f.Count > 1 {
			s += fmt.Sprintf(" x%d to %d:%d", f.Count, f.EndLine, f.EndColumn)
		}
		out = append(out, s)
	}
	return out
}

func names(list []string, rule string) (n int) {
	for _, s := range list {
		if strings.Contains(s, " "+rule+" ") {
			n++
		}
	}
	return n
}

// Every rule speaks on its example and is silent on the mending of it, and its
// texts are there.
func TestExamples(t *testing.T) {
	seen := map[string]bool{}
	for _, rule := range All() {
		t.Run(rule.Name, func(t *testing.T) {
			if seen[rule.Name] {
				t.Error("two rules of one name")
			}
			seen[rule.Name] = true
			if strings.Trim(rule.Name, "abcdefghijklmnopqrstuvwxyz-") != "" || rule.Summary == "" || rule.Doc == "" || rule.Family == "" || rule.Example.Machine == "" {
				t.Errorf("the rule is not whole: %+v", rule)
			}
			if rule.Example.Program == "" {
				switch rule.Name {
				case "program-too-big-for-memory": // tested below: the example would be as big
				case "link-too-slow", "look-ahead-too-short": // TestLink, TestLookAhead: no machine of the library is so
				case "tool-change-program-faulty": // tested below: no machine of the library has such a program
				case "offset-number-shared": // TestSharedOffsets: it needs a machine of its own
				default:
					t.Error("no example")
				}
				return
			}
			m, err := profiles.FindWith(rule.Example.Machine, nil, rule.ExampleSet)
			if err != nil {
				t.Fatal(err)
			}
			if got := findings(t, m, rule.Example.Program, Options{MaxBlocks: 100000}); names(got, rule.Name) == 0 {
				t.Errorf("silent on its example; found %q", got)
			}
			if got := findings(t, m, rule.Example.Mended, Options{}); names(got, rule.Name) != 0 {
				t.Errorf("speaks on its mending: %q", got)
			}
		})
	}
}

// Programs as they come to a machine, and what must be said: every finding, in
// order, and no other.
func TestFindings(t *testing.T) {
	for _, c := range []struct {
		name, machine, program string
		want                   []string
	}{
		{"nothing to say", "bed-mill", "%\nO1\nG20 G90\nT2 M6\nM41\nS800 M3\nG54 G0 X0 Y0\nG43 H2 Z1. M8\nG1 Z-0.1 F5.\nX2. F10.\nG0 Z1.\nM9\nM5\nG53 Z0\nM30\n%\n", nil},
		{"one refused code a thousand times is one finding", "bed-mill", "G0 X0\n" + strings.Repeat("G95\n", 1000) + "M30\n",
			[]string{"error code-not-accepted 2:1 x1000 to 1001:4"}},
		{"a repeat of a subprogram counts its blocks once", "bed-mill", "O1\nM98 P2 L50\nM30\nO2\nG95\nM99\n",
			[]string{"error code-not-accepted 5:1"}},
		{"in subprograms and behind them, each place once", "bed-mill", "G0 X0 E5\nM98 P9 L2\nX1. E5\nM98 P8\nM98 P9\nX2. E5\nM30\nO8\nX3. E5\nM99\nO9\nX4. E5\nX5. E5\nM99\n",
			[]string{"error code-not-accepted 1:7 x6 to 13:7"}},
		{"the gear first, then the speed", "bed-mill", "M42\nS3000 M3\nM5\nM41\nS500 M3\nM30\n", nil},
		{"speed in the wrong gear", "bed-mill", "M41\nS3000 M3\nM30\n", []string{"error speed-outside-gear 2:1"}},
		{"no gear engaged, one reaches it: a warning", "bed-mill", "G0 X0\nS3000 M3\nG1 X1. F10.\nM5\nS3500 M3\nX2.\nM30\n",
			[]string{"warning speed-outside-gear 2:1 x2 to 5:6"}},
		{"the gear behind the speed, before any cut: one finding", "bed-mill", "G0 X0\nS3000 M3\nM42\nG1 X1. F10.\nM30\n",
			[]string{"error gear-shift-in-cut 3:1"}},
		{"no gear engaged, both reach it", "bed-mill", "S900 M3\nG0 X0\nG1 X1. F10.\nM30\n", []string{"warning speed-straddles-gear 1:1"}},
		{"in the overlap with the gear engaged is clear", "bed-mill", "M41\nS900 M3\nM30\n", nil},
		{"shifting back and forth within one tool", "bed-mill", "M41\nS500 M3\nM5\nM42\nS2000 M3\nM5\nM41\nS500 M3\nM30\n",
			[]string{"warning speed-straddles-gear 7:1"}},
		{"shift while turning", "bed-mill", "M41\nS500 M3\nM42\nM30\n", []string{"error gear-shift-in-cut 3:1"}},
		{"over the machine", "bed-mill", "M42\nS6500 M3\nM30\n", []string{"error speed-over-machine 2:1"}},
		{"belts by hand: a stop between", "knee-mill", "%\nS300 M3\nM5\nM0\nS1000 M3\nM30\n%\n", nil},
		{"belts by hand: no stop between", "knee-mill", "%\nS300 M3\nM5\nS1000 M3\nM30\n%\n", []string{"error speed-outside-gear 4:1"}},
		{"belts by hand: two speeds of one step", "knee-mill", "%\nS500 M3\nM5\nS1000 M3\nM30\n%\n", nil},
		{"below the slowest", "knee-mill", "%\nS50 M3\nM30\n%\n", []string{"error speed-between-gears 2:1"}},
		{"tapping reverses: no speed finding", "bed-mill", "M41\nS500 M3\nG0 X0 Y0 Z1.\nG84 X0 Z-0.5 R0.2 F38.46\nG80\nM30\n", nil},
		{"feed never given", "bed-mill", "M41\nS500 M3\nG0 X0\nG1 X1.\nX2.\nM30\n", []string{"error feed-missing 4:1 x2 to 5:4"}},
		{"diagonal feed within each axis", "bed-mill", "M41\nS500 M3\nG0 X0 Y0\nG1 X4. Y4. F200.\nM30\n", nil},
		{"feed over one axis", "bed-mill", "M41\nS500 M3\nG0 X0 Y0 Z5.\nG1 Z0 F120.\nM30\n", []string{"error feed-over-axis-limit 4:1"}},
		{"beyond the travel, once for each end", "bed-mill", "G0 X29.\nX30.\nX-13.\nM30\n",
			[]string{"error travel-exceeded 1:4 x2 to 2:5", "error travel-exceeded 3:1"}},
		{"the top of an arc beyond the travel", "bed-mill", "M41\nS500 M3\nG0 X0 Y11.\nG2 X4. I2. F10.\nM30\n", []string{"error travel-exceeded 4:1"}},
		{"an offset that nobody knows", "bed-mill", "G56 G0 X30.\nM30\n", []string{"note travel-not-checked 1:5"}},
		{"an offset that nobody knows, too long anyway", "bed-mill", "G56 G0 X-30.\nX30.\nM30\n",
			[]string{"note travel-not-checked 1:5 x2 to 2:5", "error travel-exceeded 2:1"}},
		{"across at depth", "bed-mill", "M41\nS500 M3\nG0 X0 Y0 Z1.\nG1 Z-0.5 F10.\nG0 X4.\nM30\n", []string{"warning rapid-below-clearance 5:1"}},
		{"from hole to hole at R is meant", "bed-mill", "M41\nS500 M3\nG0 X0 Y0 Z1.\nG99 G81 X0 Y0 Z-0.5 R0.1 F5.\nX1.\nX2.\nG80\nG0 Z1.\nX5.\nM30\n", nil},
		{"the level of the last retract moves with the work zero", "bed-mill", "M41\nS500 M3\nG0 X0 Y0 Z1.\nG92 Z0\nG0 X2.\nG92 Z1.\nX3.\nM30\n", nil},
		{"up and across from the level", "bed-mill", "M41\nS500 M3\nG0 X0 Y0 Z1.\nG0 X2. Z2.\nM30\n", nil},
		{"the main program returns", "bed-mill", "G0 X1.\nM99\n", []string{"note program-end-missing 2:1"}},
		{"drilling on a lathe", "slant-lathe", "G20 G18 G95\nT0101\nM42\nG97 S700 M3\nG0 X0 Z.1\nG83 X0 Z-2. R.1 Q.5 F.005\nG80\nM30\n", nil},
		{"product-like text is one finding a block", "bed-mill", "G0 X1.\no<bolt> sub\nX2.\nM30\n", []string{"error block-unreadable 2:1"}},
		{"a number of D that is none", "bed-mill", "T2 M6\nM41\nS500 M3\nG0 G43 H2 Z1.\nX0 Y0\nG41 D2.5\nG1 X1. F10.\nG40 X2.\nM30\n", []string{"error value-not-usable 6:5"}},
		{"spindle off behind a stop", "bed-mill", "M41\nS500 M3\nG0 X0 Z0\nM5\nM0\nG1 X1. F10.\nX2.\nM30\n", []string{"error spindle-off-in-cut 6:1 x2 to 7:4"}},
		{"feeding up with the spindle off", "bed-mill", "G0 X0 Z0\nG1 Z1. F10.\nM30\n", nil},
		{"tool 22", "bed-mill", "T22 M6\nM30\n", []string{"error tool-not-in-changer 1:5"}},
		{"length offset of another tool", "bed-mill", "T2 M6\nG0 G43 H3 Z1.\nM30\n", []string{"warning length-offset-of-other-tool 2:1"}},
		{"unknown state after a fault rains nothing", "bed-mill", "M41\nS500 M3\nG0 X0 Y0 Z1.\nG1 Z-0.5 F10.\nG12 X1 R2\nX4.\nG0 X5.\nY2.\nM30\n", []string{"error code-not-accepted 5:1"}},
		{"compensation with lead-in and lead-out", "bed-mill", "M41\nS500 M3\nG0 X0 Y-1. Z0\nG41 D2 G1 Y0 F10.\nY2.\nX2.\nY0\nX0\nG40 X-1.\nM30\n", nil},
		{"compensation by a diameter that nobody knows: one note", "bed-mill", "M41\nS500 M3\nG0 X0 Y-1. Z0\nG41 D12 G1 Y0 F10.\nY2.\nG40 X-1.\nG41 D12 Y0\nG40 X0\nM30\n",
			[]string{"note comp-radius-unknown 4:5 x2 to 7:8"}},
		{"the tool's centre goes beyond the travel", "bed-mill", "M41\nS500 M3\nG0 X27. Y-1. Z0\nG42 D2 G1 X27.9 F10.\nY2.\nG40 X20.\nM30\n",
			[]string{"error travel-exceeded 4:11"}},
		{"a line of codes before the start, with a traverse that goes nowhere", "rs274ngc", "G0 G17 G20 G40 G49 G80 G90\nM2\n", []string{"error codes-conflict 1:20"}},
		{"the end of a cycle beside the traverse that is taken", "bed-mill", "M41\nS500 M3\nG0 X0 Y0\nG80 G0 Z2.\nM30\n", []string{"error codes-conflict 4:5"}},
		{"a motion code beside home", "rs274ngc", "G0 X0\nG1 G28 X1\nM2\n", []string{"error codes-conflict 2:1"}},
		{"a motion code beside home where the control takes it", "bed-mill", "G0 X0\nG0 G28 X0\nM2\n", nil},
		{"a motion code alone", "rs274ngc", "G0 X0\nG1 F10\nX1\nM2\n", []string{"error word-missing 2:1", "error spindle-off-in-cut 3:1"}},
		{"tape: a program number behind a colon", "knee-mill", "%\n:12345\nG90\nM30\n%\n", []string{"error program-number-out-of-range 2:1"}},
		{"a place nobody knows is no fault of the number", "bed-mill", "G0 X#5261\nM30\n", []string{"warning not-interpreted 1:5"}},
		{"M30 missing", "bed-mill", "G0 X0\nX1.\n\n", []string{"warning program-end-missing 2:1"}},
		{"blocks behind the end are read, not run", "bed-mill", "G0 X0\nM30\nG0 X100.\nG95\n", []string{"warning unreachable-blocks 3:1 x2 to 4:4"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := findings(t, machine(t, c.machine), c.program, Options{})
			if fmt.Sprint(got) != fmt.Sprint(c.want) {
				t.Errorf("program:\n%s\ngot:\n%s\nwant:\n%s", c.program, strings.Join(got, "\n"), strings.Join(c.want, "\n"))
			}
		})
	}
}

func TestTooBigForMemory(t *testing.T) {
	m := machine(t, "knee-mill")
	for _, c := range []struct {
		blocks, want int
	}{{100, 0}, {4000, 1}} {
		program := "%\nG90\nG0 X0\n" + strings.Repeat("X10000\nX0\n", c.blocks) + "M30\n%\n"
		if got := findings(t, m, program, Options{}); names(got, "program-too-big-for-memory") != c.want {
			t.Errorf("%d bytes: %q", len(program), got)
		}
	}
}

// An offset said on the command line is over the profile's.
func TestOffsetOption(t *testing.T) {
	m := machine(t, "bed-mill")
	x, y, z := profiles.Length(0), profiles.Length(0), profiles.Length(-400)
	opt := Options{Offsets: map[string]profiles.Offset{"G56": {X: &x, Y: &y, Z: &z}}}
	if got := findings(t, m, "G56 G0 X30.\nM30\n", opt); len(got) != 0 {
		t.Errorf("known and within: %q", got)
	}
	if got := findings(t, m, "G56 G0 X41.\nM30\n", opt); fmt.Sprint(got) != "[error travel-exceeded 1:8]" {
		t.Errorf("known and beyond: %q", got)
	}
}

// Where the profile says that the end of a cycle may stand beside a motion code,
// that is no finding: the motion code is in force, and the cycle is over.
func TestCycleOffBeside(t *testing.T) {
	m := *machine(t, "bed-mill")
	m.Block.CycleOffBeside = true
	for _, c := range []struct{ name, program, want string }{
		{"at the start, and to go up", "G0 G17 G20 G40 G49 G80 G90\nM41\nS500 M3\nG81 X0 Y0 Z-.2 R.1 F4.\nG80 G0 Z2.\nX3.\nM30\n", "[]"},
		{"beside a cycle", "M41\nS500 M3\nG0 X0 Y0 Z1.\nG80 G81 X0 Y0 Z-.2 R.1 F4.\nG80\nM30\n", "[error codes-conflict 4:5]"},
	} {
		if got := findings(t, &m, c.program, Options{}); fmt.Sprint(got) != c.want {
			t.Errorf("%s: got %q, want %s", c.name, got, c.want)
		}
	}
}
