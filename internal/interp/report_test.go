package interp

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"tapefit/profiles"
)

// variant loads a profile that says something more than a base or a machine.
func variant(t testing.TB, base, toml string) *profiles.Machine {
	t.Helper()
	file := filepath.Join(t.TempDir(), "variant.toml")
	text := fmt.Sprintf("name = \"variant\"\ntitle = \"Variant\"\nextends = %q\n%s\n", base, toml)
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	m, err := profiles.Load(file)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// Table 8 of NISTIR 6556, order of execution, from memory, walked from one end
// to the other: each block would come out otherwise if its two things changed
// places.
func TestOrderOfExecution(t *testing.T) {
	check(t, []run{
		{"feed mode before F", "rs274ngc", "G0 X0 Y0\nX10 F2 G1 G93", "traverse X0 Y0\nfeed X10 at 20"},
		{"F and S before the move", "rs274ngc", "G1 X1 S100 M3 F50", "spindle cw 100\nfeed X1 at 50"},
		{"T before its change, change before the spindle", "rs274ngc", "M3 M6 S100 T4", "tool 4\nspindle cw 100"},
		{"spindle before coolant", "rs274ngc", "M8 M3 S100", "spindle cw 100\ncoolant flood=true mist=false"},
		{"coolant before a dwell", "rs274ngc", "G4 P1 M8", "coolant flood=true mist=false\ndwell 1"},
		{"a dwell before the move", "rs274ngc", "G1 X1 F10 G4 P1", "dwell 1\nfeed X1 at 10"},
		{"plane before the arc", "rs274ngc", "G0 X0 Y0 Z0\nG2 X2 I1 F10 G18", "traverse X0 Y0 Z0\narc cw X2 Z0 centre 0 1 sweep 180 at 10"},
		{"units before the move", "rs274ngc", "G0 X1 G20", "traverse X25.4"},
		{"length before the offset, both before the move", "bed-mill", "G0 Z1. G43 H2 G55", "traverse Z25.4"},
		{"distance before the move", "rs274ngc", "G0 X1\nX1 G91", "traverse X1\ntraverse X2"},
		{"distance before home", "bed-mill", "G0 Z1.\nG28 Z1. G91", "traverse Z25.4\ntraverse Z50.8\ntraverse Z457.2"},
		{"retract before the cycle", "rs274ngc", "G0 X0 Y0 Z5 F10\nG81 X1 Z0 R1 G99", `
			traverse X0 Y0 Z5
			traverse X1
			traverse Z1
			feed Z0 at 10
			traverse Z1`},
		{"a position is cleared before the move", "rs274ngc", "G0 X10\nG92 X0\nG0 X1 G92.1", "traverse X10\ntraverse X1"},
		{"the move before the stop", "rs274ngc", "M0 G0 X1", "traverse X1\nstop program"},
	})
}

// Cycles of NISTIR 6556, 3.5.16, from memory, where they are not in TestCycles.
func TestReportCycles(t *testing.T) {
	check(t, []run{
		{"words are kept from block to block, L is not", "rs274ngc", "G0 X0 Y0 Z5 F60\nG99 G82 X1 Y1 Z-1 R1 P0.5 L2\nY2\nZ-2\nP1 X3", `
			traverse X0 Y0 Z5
			traverse X1 Y1
			traverse Z1
			feed Z-1 at 60
			dwell 0.5
			traverse Z1
			traverse X1 Y1
			feed Z-1 at 60
			dwell 0.5
			traverse Z1
			traverse Y2
			feed Z-1 at 60
			dwell 0.5
			traverse Z1
			feed Z-2 at 60
			dwell 0.5
			traverse Z1
			traverse X3
			feed Z-2 at 60
			dwell 1
			traverse Z1`},
		{"another cycle needs its own words", "rs274ngc", "G0 X0 Y0 Z5 F60\nG81 X1 Z-1 R1\nG82 X2 P1", `
			traverse X0 Y0 Z5
			traverse X1
			traverse Z1
			feed Z-1 at 60
			traverse Z5
			! missing G82 without R
			! missing G82 without Z`},
		// Preliminary motion: below R the axis goes up first, then across; once.
		{"below R first up, then across", "rs274ngc", "G0 X0 Y0 Z-5 F60\nG81 X1 Z-1 R1 L2", `
			traverse X0 Y0 Z-5
			traverse Z1
			traverse X1
			feed Z-1 at 60
			traverse Z1
			traverse X1
			feed Z-1 at 60
			traverse Z1`},
		{"R and Z from where the axis stands at each block in G91", "rs274ngc", "G0 X0 Y0 Z10 F60\nG91 G99 G81 X1 Z-2 R-4\nX1", `
			traverse X0 Y0 Z10
			traverse X1
			traverse Z6
			feed Z4 at 60
			traverse Z6
			traverse X2
			traverse Z2
			feed Z0 at 60
			traverse Z2`},
		{"G98 goes to where the axis stood before the block", "rs274ngc", "G0 X0 Y0 Z10 F60\nG99 G81 X1 Z-2 R1\nG98 X2", `
			traverse X0 Y0 Z10
			traverse X1
			traverse Z1
			feed Z-2 at 60
			traverse Z1
			traverse X2
			feed Z-2 at 60
			traverse Z1`},
		{"G85 feeds out to the clearance level", "rs274ngc", "G0 X0 Y0 Z10 F60\nG98 G85 X1 Z-2 R1", `
			traverse X0 Y0 Z10
			traverse X1
			traverse Z1
			feed Z-2 at 60
			feed Z10 at 60`},
		{"G87 in G91: K counts from the bottom", "rs274ngc", "G0 X0 Y0 Z5 F60\nG91 G99 G87 X1 Z-10 R-4 I1 J0 K3", `
			traverse X0 Y0 Z5
			traverse X1
			traverse Z1
			traverse X2 Y0
			traverse Z-9
			traverse X1 Y0
			feed Z-6 at 60
			feed Z-9 at 60
			traverse X2 Y0
			traverse Z1
			traverse X1 Y0`},
		{"errors: no axis", "rs274ngc", "G0 X0 Y0 Z5 F60\nG81 X1 Z-1 R1\nG81 R2", `
			traverse X0 Y0 Z5
			traverse X1
			traverse Z1
			feed Z-1 at 60
			traverse Z5
			! missing G81 without X`},
		{"errors: P below zero, L of nothing or a part, inverse time, a turning rotary axis", "rs274ngc", `
			G0 X0 Y0 Z5 A0 F60
			G82 X1 Z-1 R1 P-1
			G81 X1 Z-1 R1 L0
			G81 X1 Z-1 R1 L1.5
			G81 X1 Z-1 R1 A5
			G93 G81 X1 Z-1 R1 F1`, `
			traverse X0 Y0 Z5 A0
			! value G82
			! value L0
			! value L1.5
			! value G81
			! value G81`},
		{"a rotary axis that stays may be named", "rs274ngc", "G0 X0 Y0 Z1 A5 F60\nG99 G81 X1 Z-1 R1 A5", `
			traverse X0 Y0 Z1 A5
			traverse X1
			feed Z-1 at 60
			traverse Z1`},
	})
}

// rename turns a program in the XY plane, or what came of it, into the same
// one in another plane.
func rename(text, names string) string {
	out := []byte(text)
	for i, c := range out {
		if at := strings.IndexByte("XYZIJK", c); at >= 0 && i+1 < len(out) && strings.IndexByte("-.0123456789", out[i+1]) >= 0 {
			out[i] = names[at]
		}
	}
	return string(out)
}

// sortedLines puts the words of each line in order.
func sortedLines(text string) string {
	all := strings.Split(text, "\n")
	for i, line := range all {
		words := strings.Fields(line)
		slices.Sort(words)
		all[i] = strings.Join(words, " ")
	}
	return strings.Join(all, "\n")
}

// Each cycle does in the planes ZX and YZ what it does in XY (NISTIR 6556,
// 3.5.16: "in the other planes the axes are exchanged", from memory): in G90
// and G91, with either retract, with repeats.
func TestCyclesInAllPlanes(t *testing.T) {
	m := machine(t, "rs274ngc")
	for code := 81; code <= 89; code++ {
		for _, distance := range []string{"G90", "G91"} {
			for _, retract := range []string{"G98", "G99"} {
				program := fmt.Sprintf("G17 G0 X1 Y2 Z7 S100 M3 F60\n%s %s G%d X4 Y5 Z-3 R2 P0.5 Q1.5 I1 J0.5 K-1 L3\nX1 L2\n", distance, retract, code)
				// What the cycle does not take would be called unused: leave it out.
				form := m.CycleForm(profiles.Drill + profiles.Meaning([]int{0, 1, 2, 4, 5, 6, 7, 8, 9}[code-81]))
				for _, word := range []string{"P0.5", "Q1.5", "I1", "J0.5", "K-1"} {
					if !form.Has(word[0]) {
						program = strings.Replace(program, " "+word, "", 1)
					}
				}
				want := ops(t, m, program)
				if strings.Contains(want, "!") || strings.Count(want, "feed") < 5 {
					t.Fatalf("%s%s", program, want)
				}
				for plane, names := range map[string]string{"G18": "ZXYKIJ", "G19": "YZXJKI"} {
					other := strings.Replace(rename(program, names), "G17", plane, 1)
					if got := ops(t, m, other); sortedLines(got) != sortedLines(rename(want, names)) {
						t.Errorf("%sgot:\n%s\nwant:\n%s", other, got, rename(want, names))
					}
				}
			}
		}
	}
}

// Parameters of NISTIR 6556, 3.2.1 and 3.3.2, from memory.
func TestReportParameters(t *testing.T) {
	check(t, []run{
		// The report's example: if parameter 3 is 15, "#3=6 G1 x#3" goes to 15.
		{"a setting waits for its block", "rs274ngc", "#3=15\n#3=6 G0 X#3\nX#3", "traverse X15\ntraverse X6"},
		{"settings of one block see none of the others", "rs274ngc", "#1=1 #2=2\n#1=#2 #2=#1\nG0 X#1 Y#2", "traverse X2 Y1"},
		{"the last of two settings holds", "rs274ngc", "#1=1 #1=2\nG0 X#1", "traverse X2"},
		// The report: "##2 means the value of the parameter whose index is the value of parameter 2".
		{"a parameter of a parameter", "rs274ngc", "#2=7 #7=3\nG0 X##2", "traverse X3"},
		// The report: a number within 0.0001 of a whole one may stand where one is due.
		{"nearly whole is whole", "rs274ngc", "#[2.00009]=4\nG0 X#2", "traverse X4"},
		{"a fraction is not", "rs274ngc", "#[2.001]=4", "! expression"},
		{"the highest is 5399", "rs274ngc", "#5399=1\nG0 X#5399\nX#5400", "traverse X1\n! expression X#5400"},
		{"G10 L2 writes a system", "rs274ngc", "G10 L2 P2 X10 Y20\nG0 X#5241 Y#5242", "traverse X10 Y20"},
		{"a system's number is read", "rs274ngc", "G56\nG0 X#5220\nG59.3\nX#5220", "traverse X3\ntraverse X9"},
		{"setting the selected system changes nothing", "rs274ngc", "#5220=4\nG0 X#5220", "traverse X1"},
		{"places are read in the units in force", "bed-mill", "G20 G0 X#5221\nG21\nX#5221", "traverse X304.8\ntraverse X304.8"},
		{"a system that is set holds when it is selected", "bed-mill", "G21 G0 X0\nG53 G0 X0\n#5221=100\nG0 X1\nG53 X0\nG54\nG53 X0", `
			traverse X0
			traverse X-304.8
			traverse X1
			traverse X-304.8
			traverse X-100`},
		{"a place that nobody has given", "bed-mill", "G0 X#5261", "! not interpreted X#5261"},
		{"home is read, set and used", "bed-mill", "G21\nG0 Y#5162\n#5161=50.8\nG28 X0", `
			traverse Y508
			traverse X0
			traverse X-254`},
		{"second home", "rs274ngc", "G10 L2 P1 X0 Y0 Z0\n#5181=7\nG0 X1\nG30 X2", `
			traverse X1
			traverse X2
			traverse X7 Y? Z? A? B? C?`},
		{"where the probe touched is not known", "rs274ngc", "G0 X0 Y0 Z5\nG38.2 Z-5 F10\nG0 X#5063\nX1 Z5", `
			traverse X0 Y0 Z5
			feed Z-5 at 10
			! not interpreted X#5063
			traverse X1 Z5`},
	})
}

// G92 and its kin (NISTIR 6556, 3.5.18: from memory). The parameters 5211 to
// 5216 hold what G92 has made; G92.2 leaves them, G92.3 takes them up, G92.1
// zeroes them.
func TestSetPosition(t *testing.T) {
	// The report's example: at X=4 with an axis offset, G92 X7 makes the offset -3.
	check(t, []run{
		{"the report's example", "rs274ngc", "G0 X4\nG92 X7\nG0 Y#5211\nX7", "traverse X4\ntraverse Y-3\ntraverse X7"},
		{"twice", "rs274ngc", "G0 X4\nG92 X7\nX8\nG92 X0\nG0 Y#5211", "traverse X4\ntraverse X8\ntraverse Y5"},
		{"G92.2 leaves the parameters, G92.3 restores", "rs274ngc", "G0 X4\nG92 X7\nG92.2\nG91 G0 X0\nG90 Y#5211\nG92.2\nG92.3\nG91 X0", `
			traverse X4
			traverse X4
			traverse Y-3
			traverse X7`},
		{"G92.1 zeroes them", "rs274ngc", "G0 X4\nG92 X7\nG92.1\nG91 X0\nG90 Y#5211\nG92.3\nG91 X0", `
			traverse X4
			traverse X4
			traverse Y0
			traverse X4`},
		{"G92.3 of a position set in the parameters", "rs274ngc", "G0 X4\n#5211=1 #5212=0 #5213=0 #5214=0 #5215=0 #5216=0\nG92.3\nG91 X0", `
			traverse X4
			traverse X3`},
		{"in another system the position stays set", "bed-mill", "G21 G0 X0\nG92 X10\nG55\nG53 G0 X762\nG0 X0", `
			traverse X0
			traverse X10
			traverse X0`},
		{"no axis", "rs274ngc", "G92", "! missing G92 without X"},
	})
}

// What else NISTIR 6556, 3.5, calls an error, from memory.
func TestReportErrors(t *testing.T) {
	check(t, []run{
		{"a motion code moves something", "rs274ngc", "G1 F10", "! missing G1 without X"},
		{"an arc names a word of its end", "rs274ngc", "G0 X0 Y0\nG2 I5 F100", `
			traverse X0 Y0
			! missing G2 without X`},
		{"two codes that want the axis words", "rs274ngc", "G0 X0 Y0\nG1 G28 X1", `
			traverse X0 Y0
			! conflict G1
			traverse X1
			traverse X? Y? Z? A? B? C?`},
		{"inverse time wants F in each block", "rs274ngc", "G0 X0 Y0\nG93 G1 X1 F1\nX2", `
			traverse X0 Y0
			feed X1 at 1
			! missing X2 without F
			feed X2 at 1`},
		{"machine coordinates want a straight move", "rs274ngc", "G80\nG53 X1", "! value G53"},
		{"a dwell is not negative", "rs274ngc", "G4 P-1", "! value P-1"},
		{"a tool is whole and not negative", "rs274ngc", "T1.5\nT-1", "! value T1.5\n! value T-1"},
		{"a length offset has its number", "rs274ngc", "G43", "! missing G43 without H"},
		{"P of G10 is 1 to 9", "rs274ngc", "G10 L2 P0 X1\nG10 L2 P10 X1", "! value P0\n! value P10"},
		{"a probe too short", "rs274ngc", "G0 X0 Y0 Z0\nG38.2 Z-0.2 F10", "traverse X0 Y0 Z0\n! value G38.2"},
		{"a probe that turns", "rs274ngc", "G0 X0 Y0 Z0 A0\nG38.2 Z-2 A5 F10", "traverse X0 Y0 Z0 A0\n! value G38.2"},
		{"a probe in inverse time", "rs274ngc", "G0 X0 Y0 Z0\nG93 G38.2 Z-2 F1", "traverse X0 Y0 Z0\n! value G38.2"},
		{"a probe of nothing", "rs274ngc", "G0 A0\nG38.2 A5 F10", "traverse A0\n! missing G38.2 without X"},
		{"negative root", "rs274ngc", "G0 X[SQRT[-1]]", "! expression X[SQRT[-1]]"},
		{"negative base with a broken power", "rs274ngc", "G0 X[[0-2]**0.5]", "! expression X[[0-2]**0.5]"},
	})
}

// A motion code beside one that takes the axis words comes into force.
func TestIdleMotion(t *testing.T) {
	check(t, []run{
		{"G0 beside G28", "bed-mill", "G21 G1 X0 F100\nG0 G28 Z20\nX5", `
			feed X0 at 100
			traverse Z20
			traverse Z457.2
			traverse X5`},
		{"alone", "bed-mill", "G21 G1 F100\nX5", "feed X5 at 100"},
	})
}
