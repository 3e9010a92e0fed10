package rules

import (
	"fmt"
	"strings"
	"testing"
)

// findingsTable runs programs and compares every finding with what is wanted.
type findingsTable []struct {
	name, machine, program string
	want                   []string
}

func (table findingsTable) run(t *testing.T) {
	for _, c := range table {
		t.Run(c.name, func(t *testing.T) {
			got := findings(t, machine(t, c.machine), c.program, Options{})
			if fmt.Sprint(got) != fmt.Sprint(c.want) {
				t.Errorf("program:\n%s\ngot:\n%s\nwant:\n%s", c.program, strings.Join(got, "\n"), strings.Join(c.want, "\n"))
			}
		})
	}
}

// Tool 6 of bed-mill is a 1/2-13 tap, tool 9 is no tap there. F = S times
// the pitch: 208/13 = 16, 500 * 1.25 = 625.
func TestTappingFindings(t *testing.T) {
	tap := func(change, speed, cycles string) string {
		return "%\n" + change + "\nM41\nS" + speed + " M3\nG0 X0 Y0\nG43 H" + change[1:strings.IndexByte(change, ' ')] + " Z1.\n" + cycles + "G80\nM30\n%\n"
	}
	findingsTable{
		{"the profile's tap at its pitch", "bed-mill", tap("T6 M6", "208", "G84 X0 Y0 Z-.5 R.25 F16.\nX1.\n"), nil},
		{"F in round figures", "bed-mill", tap("T6 M6", "500", "G84 X0 Y0 Z-.5 R.25 F38.5\n"), nil},
		{"F cut off", "bed-mill", tap("T6 M6", "500", "G84 X0 Y0 Z-.5 R.25 F38.\nX1.\nX2.\n"), []string{"warning tapping-feed-mismatch 7:1 x3 to 9:4"}},
		{"the comment is over the profile: the tool in the pocket is another", "bed-mill", tap("T6 M6 G21 (M8 TAP)", "500", "G21 G84 X0 Y0 Z-12. R5. F625.\n"), nil},
		{"M8 named, F of a coarser thread", "bed-mill", tap("T9 M6 G21 (M8 TAP)", "500", "G21 G84 X0 Y0 Z-12. R5. F750.\n"), []string{"error tapping-feed-mismatch 7:5"}},
		{"M8 named, the fine pitch programmed", "bed-mill", tap("T9 M6 G21 (M8 TAP)", "500", "G21 G84 X0 Y0 Z-12. R5. F500.\n"), []string{"warning tapping-feed-mismatch 7:5"}},
		{"M8X1 named", "bed-mill", tap("T9 M6 G21 (M8X1)", "500", "G21 G84 X0 Y0 Z-12. R5. F500.\n"), nil},
		{"short on purpose for a holder that gives", "bed-mill", tap("T9 M6 G21 (M8X1.25)", "500", "G21 G84 X0 Y0 Z-12. R5. F606.\n"), []string{"warning tapping-feed-mismatch 7:5"}},
		{"too long is never meant", "bed-mill", tap("T9 M6 G21 (M8X1.25)", "500", "G21 G84 X0 Y0 Z-12. R5. F640.\n"), []string{"error tapping-feed-mismatch 7:5"}},
		{"the list of tools at the head", "bed-mill", "(TOOLS: T5 27/64 DRILL, T9 3/8-16 TAP)\n" + tap("T9 M6", "320", "G84 X0 Y0 Z-.5 R.25 F20.\n"), nil},
		{"the list says another", "bed-mill", "(TOOLS: T5 27/64 DRILL, T9 3/8-16 TAP)\n" + tap("T9 M6", "320", "G84 X0 Y0 Z-.5 R.25 F16.\n"), []string{"error tapping-feed-mismatch 8:1"}},
		{"a size in the head that is of no tool", "bed-mill", "(FLANGE, HOLES TAPPED 1/2-13)\n\n\n\n" + tap("T9 M6", "320", "G84 X0 Y0 Z-.5 R.25 F20.\n"), nil},
		{"one tap, two speeds and feeds", "bed-mill", tap("T9 M6", "320", "G84 X0 Y0 Z-.5 R.25 F20.\nS400\nX1. F25.\n"), nil},
		{"the speed was changed, the feed was not", "bed-mill", tap("T9 M6", "320", "G84 X0 Y0 Z-.5 R.25 F20.\nS400\nX1.\nX2.\n"), []string{"error tapping-feed-mismatch 9:1 x2 to 10:4"}},
		{"nothing known, 10.4 threads an inch", "bed-mill", tap("T9 M6", "400", "G84 X0 Y0 Z-.5 R.25 F38.46\n"), []string{"warning tapping-feed-mismatch 7:1"}},
		{"nothing known, near 20 threads an inch", "bed-mill", tap("T9 M6", "400", "G84 X0 Y0 Z-.5 R.25 F20.5\n"), []string{"warning tapping-feed-mismatch 7:1"}},
		{"nothing known, odd but exact: 1.15 mm", "bed-mill", tap("T9 M6 G21", "600", "G21 G84 X0 Y0 Z-12. R5. F690.\n"), nil},
		{"nothing known, odd but exact: 26 threads an inch", "bed-mill", tap("T9 M6", "520", "G84 X0 Y0 Z-.5 R.25 F20.\n"), nil},
		{"boring is no tapping", "bed-mill", tap("T9 M6 (M8X1.25)", "400", "G85 X0 Y0 Z-.5 R.25 F3.3\n"), nil},
	}.run(t)
}

// What texts of the trade name, and what only looks like it.
func TestThreadsIn(t *testing.T) {
	for _, c := range []struct {
		text string
		want string // name and pitch in mm of each
	}{
		{"1/2-13 tap", "1/2-13 1.953846"},
		{"RIGID TAP #10-32", "#10-32 0.79375"},
		{"TAP 10-24", "10-24 1.058333"},
		{"10-24-2025", ""},
		{"10-24", ""},
		{"TAP 1 1/8-7", "1 1/8-7 3.628571"},
		{"1-1/8-7 UNC", "1-1/8-7 3.628571"},
		{"2.000-12", ""},
		{"THREAD 2.000-12", "2.000-12 2.116667"},
		{"M8X1.25", "M8X1.25 1.25"},
		{"m10 x 1.0", "m10 x 1.0 1"},
		{"M8", ""},
		{"M8 TAP", "M8 1.25"},
		{"M8 ON BEFORE THE DRILL", ""},
		{"TAPER 1-8", ""},
		{"1/4-20", "1/4-20 1.27"},
		{"1/4-21", ""},
		{"SLOTS 1/4 DEEP - 20 OF THEM", ""},
		{"M6 T6 TAP", "M6 1"},
	} {
		var list []string
		for _, th := range threadsIn([]byte(c.text)) {
			list = append(list, th.name+" "+trim(th.pitch, 6))
		}
		if got := strings.Join(list, ", "); got != c.want {
			t.Errorf("%q: %q, want %q", c.text, got, c.want)
		}
	}
}

func TestProcessFindings(t *testing.T) {
	const head = "%\nT5 M6\nM41\nS650 M3\nG0 X0 Y0\nG43 H5 Z1. M8\n"
	other := func(tool, rest string) string {
		return "M9\nT" + tool + " M6\nS650 M3\nG0 X1.\nG43 H" + tool + " Z1. " + rest + "\nG1 Z-.1 F4.\nG0 Z1.\n"
	}
	findingsTable{
		{"half a second in milliseconds", "bed-mill", head + "G1 Z-.1 F4.\nG4 P500\nG0 Z1.\nM30\n%\n", []string{"warning dwell-implausible 8:4"}},
		{"half a second", "bed-mill", head + "G1 Z-.1 F4.\nG4 P.5\nG0 Z1.\nM30\n%\n", nil},
		{"a minute", "bed-mill", head + "G1 Z-.1 F4.\nG4 P60\nG0 Z1.\nM30\n%\n", nil},
		{"no dwell at all", "bed-mill", head + "G1 Z-.1 F4.\nG4 P0\nG0 Z1.\nM30\n%\n", nil},
		{"seconds for milliseconds", "bed-mill", head + "G82 X0 Y0 Z-.1 R.1 P.0005 F4.\nX1.\nG80\nM30\n%\n", []string{"warning dwell-implausible 7:20 x2 to 8:4"}},
		{"warming up for ten minutes", "bed-mill", "M41\nS500 M3\nG4 P600\nS1000\nG4 P600\nM30\n", nil},
		{"a stop in the hole", "bed-mill", head + "G1 Z-.1 F4.\nM0\nG0 Z1.\nM30\n%\n", []string{"warning stop-without-retract 8:1"}},
		{"a stop beside it, still down", "bed-mill", head + "G1 Z-.1 F4.\nX1.\nG0 X2.\nM1\nG0 Z1.\nM30\n%\n",
			[]string{"warning rapid-below-clearance 9:1", "warning stop-without-retract 10:1"}},
		{"fed out", "bed-mill", head + "G1 Z-.1 F4.\nZ.1\nM0\nG0 Z1.\nM30\n%\n", nil},
		{"home lifts it", "bed-mill", head + "G1 Z-.1 F4.\nG53 G0 Z0\nM0\nM30\n%\n", nil},
		{"behind a cycle", "bed-mill", head + "G81 X0 Y0 Z-.1 R.1 F4.\nG80\nM0\nM30\n%\n", nil},
		{"a tool change in the hole", "bed-mill", head + "G1 Z-.1 F4.\nM9\nT2 M6\nM30\n%\n", []string{"warning stop-without-retract 9:4"}},
		{"the turret is in the way of nobody", "slant-lathe", "T0101\nM41\nS500 M3\nG0 X2. Z.1\nG1 Z-1. F.01\nM0\nG0 X3.\nM30\n", []string{"warning stop-without-retract 6:1"}},
		{"off the work by traverse", "slant-lathe", "T0101\nM41\nS500 M3\nG0 X2. Z.1\nG1 Z-1. F.01\nG0 X3.\nM0\nM30\n", nil},
		{"the third tool is dry", "bed-mill", head + "G1 Z-.1 F4.\nG0 Z1.\n" + other("4", "M8") + other("2", "") + "M30\n%\n", []string{"warning coolant-never-on 17:4"}},
		{"one wet, one dry: who knows", "bed-mill", head + "G1 Z-.1 F4.\nG0 Z1.\n" + other("2", "") + "M30\n%\n", nil},
		{"all dry", "bed-mill", "%\nM41\n" + other("4", "") + other("3", "") + other("2", "") + "M30\n%\n", nil},
		{"its own coolant code, which this machine refuses", "bed-mill", head + "G1 Z-.1 F4.\nG0 Z1.\n" + other("4", "M8") + other("2", "M88") + "M30\n%\n",
			[]string{"error code-not-accepted 20:12"}},
	}.run(t)
}

// A control that leaves the coolant on at the end, and one that does not.
func TestCoolantAtEnd(t *testing.T) {
	const program = "G0 X0 M8\nX1.\nM30\n"
	m := machine(t, "bed-mill")
	if got := findings(t, m, program, Options{}); len(got) != 0 {
		t.Errorf("got %q", got)
	}
	keeps := *m
	keeps.Control.EndKeepsCoolant = true
	if got := findings(t, &keeps, program, Options{}); fmt.Sprint(got) != "[warning coolant-never-off 3:1]" {
		t.Errorf("got %q", got)
	}
	if got := findings(t, &keeps, "G0 X0 M8\nX1. M9\nM30\n", Options{}); len(got) != 0 {
		t.Errorf("got %q", got)
	}
}
