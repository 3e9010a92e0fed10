package rules

import (
	"fmt"
	"testing"
)

// On bed-mill T2 is 0.5 in and T3 0.375 in, T12 stands in no profile.
func TestOffsetFindings(t *testing.T) {
	const head = "%\nT2 M6\nM41\nS800 M3\nG0 X0 Y-1.\nG43 H2 Z1.\nG0 Z0\n"
	const contour = "G1 X1. F10.\nG40 X2.\nG0 Z1.\n"
	const away = "G0 Z1.\nM30\n%\n"
	findingsTable{
		{"its own diameter", "bed-mill", head + "G41 D2 " + contour + "M30\n%\n", nil},
		{"that of the other end mill", "bed-mill", head + "G41 D3 " + contour + "G0 X0 Z0\nG41 D3 " + contour + "M30\n%\n",
			[]string{"warning comp-offset-of-other-tool 8:8"}},
		{"ten more, by custom", "bed-mill", head + "G41 D12 " + contour + "M30\n%\n", []string{"note comp-radius-unknown 8:5"}},
		{"no D: that of the tool", "bed-mill", head + "G41 " + contour + "M30\n%\n", nil},
		{"left on at the end", "bed-mill", head + "G41 D2 G1 X1. F10.\nX2.\n" + away, []string{"warning comp-on-at-end 11:1"}},
		{"left on, and told at home already", "bed-mill", head + "G41 D2 G1 X1. F10.\nX2.\nG0 Z1.\nG53 G0 Z0\nM30\n%\n",
			[]string{"error comp-not-allowed 11:1"}},
		{"left on, and told at the tool change already", "bed-mill", head + "G41 D2 G1 X1. F10.\nX2.\nG0 Z1.\nT3 M6\nM30\n%\n",
			[]string{"error tool-change-in-comp 11:4"}},
		{"cuts in G54 unsaid, then in G55", "bed-mill", head + "G1 X1. F10.\nG0 Z1.\nG55 X0 Y0\nG1 Z0\nX1.\n" + away,
			[]string{"warning offset-never-called 8:1"}},
		{"in G54 unsaid, in G55, and in G54 again", "bed-mill", head + "G1 X1. F10.\nG0 Z1.\nG55 X0 Y0\nG1 Z0\nX1.\nG0 Z1.\nG54 X0\n" + away, nil},
		{"all in G54 unsaid", "bed-mill", head + "G1 X1. F10.\n" + away, nil},
		{"G55 from the beginning", "bed-mill", "%\nG55\n" + head[2:] + "G1 X1. F10.\n" + away, nil},

		{"across and down to where it is fed from", "bed-mill", "%\nT2 M6\nM41\nS800 M3\nG43 H2 G0 X4. Y2. Z.1\nG1 Z-.1 F8.\nG0 Z1.\nM30\n%\n",
			[]string{"warning first-move-unsafe 5:8"}},
		{"across and down to the level that it retracts to", "bed-mill", "%\nT2 M6\nM41\nS800 M3\nG43 H2 G0 X4. Y2. Z1.\nZ.1\nG1 Z-.1 F8.\nG0 Z1.\nM30\n%\n", nil},
		{"across and down below the top", "bed-mill", "%\nT2 M6\nM41\nS800 M3\nG43 H2 G0 X4. Y2. Z-.2\nG1 X5. F8.\nG53 G0 Z0\nM30\n%\n",
			[]string{"warning first-move-unsafe 5:8"}},
		{"across, then down", "bed-mill", "%\nT2 M6\nM41\nS800 M3\nG0 X4. Y2.\nG43 H2 Z.1\nG1 Z-.1 F8.\nG0 Z1.\nM30\n%\n", nil},
		{"down, then across: another rule's", "bed-mill", "%\nT2 M6\nM41\nS800 M3\nG43 H2 G0 Z.1\nX4. Y2.\nG1 Z-.1 F8.\nG0 Z1.\nM30\n%\n", nil},
		{"a cycle goes across first by itself", "bed-mill", "%\nT5 M6\nM41\nS650 M3\nG43 H5 G81 X4. Y2. Z-.5 R.1 F4.\nG80\nG0 Z1.\nM30\n%\n", nil},
	}.run(t)
}

func TestTurretFindings(t *testing.T) {
	findingsTable{
		{"its offset", "slant-lathe", "T0101\nM41\nS500 M3\nG0 X2. Z.1\nG1 Z-1. F.01\nM30\n", nil},
		{"taken away before the turret turns", "slant-lathe", "T0101\nM41\nS500 M3\nG0 X2. Z.1\nG1 Z-1. F.01\nG0 X4.\nT0100\nT0202\nG0 X2. Z.1\nG1 Z-1.\nM30\n", nil},
		{"that of another tool", "slant-lathe", "T0305\nM41\nS500 M3\nG0 X2. Z.1\nG1 Z-1. F.01\nX3.\nM30\n",
			[]string{"warning turret-offset-of-other-tool 5:1 x2 to 6:4"}},
		{"a second one, under a number of its own", "slant-lathe", "T0313\nM41\nS500 M3\nG0 X2. Z.1\nG1 Z-1. F.01\nM30\n", nil},
		{"taken away, and cut on", "slant-lathe", "T0101\nM41\nS500 M3\nG0 X2. Z.1\nG1 Z-.5 F.01\nT0100\nG1 Z-1.\nX3.\nM30\n",
			[]string{"error turret-offset-cancelled 7:1 x2 to 8:4"}},
		{"a clamp of another lathe", "slant-lathe", "T0101\nM42\nG50 S4000\nG0 X4. Z.1\nG96 S700 M3\nG1 X2. F.01\nM30\n", []string{"warning clamp-over-machine 3:5"}},
		{"a clamp of another lathe, passed at the centre: one finding", "slant-lathe", "T0101\nM42\nG50 S4000\nG0 X4. Z.1\nG96 S700 M3\nG1 X0 F.01\nM30\n",
			[]string{"warning clamp-over-machine 3:5"}},
	}.run(t)
}

// A control that keeps the work offset of the last program wants one called.
func TestOffsetKept(t *testing.T) {
	kept := *machine(t, "bed-mill")
	kept.Start.Offset = ""
	const cut = "T2 M6\nM41\nS800 M3\nG0 X0 Y-1.\nG43 H2 Z1.\nG0 Z0\nG1 X1. F10.\nG0 Z1.\nM30\n"
	if got := findings(t, &kept, cut, Options{}); fmt.Sprint(got) != "[warning offset-never-called 7:1]" {
		t.Errorf("got %q", got)
	}
	if got := findings(t, &kept, "G54\n"+cut, Options{}); len(got) != 0 {
		t.Errorf("got %q", got)
	}
}
