package rules

import "testing"

// What a tool does that is down in the work. Tools of bed-mill: 3 is 4.75 in
// long, 1 is a face mill of 3 in.
func TestDepthFindings(t *testing.T) {
	mill := func(tool, moves string) string {
		return "%\nT" + tool + " M6\nM41\nS800 M3\nG54 G0 X-1.5 Y0\nG43 H" + tool + " Z1.\nZ.1\nG1 Z-.2 F10.\n" + moves + "G0 Z1.\nM5\nM30\n%\n"
	}
	lathe := func(moves string) string {
		return "G20 G18 G95\nT0505\nM41\nS300 M3\nG0 X0 Z.2\nG1 Z-.75 F.008\n" + moves + "G0 Z1.\nM30\n"
	}
	findingsTable{
		{"to the next vice by feed, at depth", "bed-mill", mill("3", "X1.5\nG55 X-1.5 Y0\nX1.5\n"), []string{"warning offset-change-without-retract 10:5"}},
		{"to the next vice by traverse, at depth: one finding", "bed-mill", mill("3", "X1.5\nG55 G0 X-1.5 Y0\nG1 X1.5\n"), []string{"warning offset-change-without-retract 10:5"}},
		{"the offset in a block before", "bed-mill", mill("3", "X1.5\nG55\nX-1.5 Y0\n"), []string{"warning offset-change-without-retract 11:1"}},
		{"with a retract", "bed-mill", mill("3", "X1.5\nG0 Z1.\nG55 X-1.5 Y0\nG1 Z-.2\nX1.5\n"), nil},
		{"the retract under the new offset, before it goes across", "bed-mill", mill("3", "X1.5\nG55 G0 Z1.\nX-1.5 Y0\n"), nil},
		{"retracted by feed", "bed-mill", mill("3", "X1.5\nZ.1\nG55 X-1.5 Y0\n"), nil},
		{"by way of the home position", "bed-mill", mill("3", "X1.5\nG53 G0 Z0\nG55 X-1.5 Y0\nZ1.\n"), nil},
		{"behind a cycle", "bed-mill", "%\nT5 M6\nM41\nS700 M3\nG54 G0 X0 Y0\nG43 H5 Z1.\nG81 X0 Y0 Z-.5 R.1 F5.\nG55 X0 Y0\nG80\nM30\n%\n", nil},

		{"across and down into the work", "bed-mill", mill("3", "X1.5\nG0 Z1.\nX-1.5 Y1. Z-1.\nG1 X0\n"), []string{"warning rapid-into-work 11:1"}},
		{"the same under the next offset", "bed-mill", mill("3", "X1.5\nG0 Z1.\nG55 X-1.5 Y0 Z-1.\nZ.1\nG1 Z-.2\n"), []string{"warning rapid-into-work 11:5"}},
		{"across and down to the level of the approach", "bed-mill", mill("3", "X1.5\nG0 Z1.\nX-1.5 Y1. Z.1\nG1 Z-.2\n"), nil},
		{"across, and down to near the last depth of a pocket", "bed-mill", mill("3", "X1.5\nG0 Z1.\nX-1.5\nZ-.15\nG1 Z-.4\nX1.5\n"), nil},
		{"drilled at rapid", "bed-mill", mill("5", "G0 Z.1\nZ-1.4\n"), []string{"warning rapid-into-work 10:1"}},
		{"pecks by hand", "bed-mill", mill("5", "G0 Z.1\nZ-.15\nG1 Z-.4\nG0 Z.1\nZ-.35\nG1 Z-.6\n"), nil},
		{"through the gap between two walls", "bed-mill", mill("5", "G0 Z.1\nZ-1.4\nG1 Z-2.\n"), nil},
		{"drilled at rapid on the lathe", "slant-lathe", lathe("G0 Z.1\nZ-.65\nG1 Z-1.5\nG0 Z.1\nZ-1.4\nZ-2.4\n"), []string{"warning rapid-into-work 12:1"}},
		{"pecks on the lathe", "slant-lathe", lathe("G0 Z.1\nZ-.65\nG1 Z-1.5\nG0 Z.1\nZ-1.4\nG1 Z-2.4\n"), nil},

		{"a lost point: deeper than the tool is long", "bed-mill", mill("3", "Z-8. F5.\nX1.5 F20.\n"), []string{"error cut-deeper-than-tool 9:1"}},
		{"as deep as the tool lets", "bed-mill", mill("3", "Z-4.7 F5.\nX1.5 F20.\n"), nil},
		{"work zero high above the part", "bed-mill", "%\nT3 M6\nM42\nS2000 M3\nG54 G0 X0 Y0\nG43 H3 Z1.\nZ-4.9\nG1 Z-5.1 F10.\nX1.\nG0 Z1.\nM30\n%\n", nil},

		{"a face mill steps to its next pass", "bed-mill", mill("1", "X6. F18.\nG0 Y-1.2\nG1 X-6.\n"), nil},
		{"a small mill does: a pocket", "bed-mill", mill("2", "X6. F8.\nG0 Y-.4\nG1 X-6.\n"), []string{"warning rapid-below-clearance 10:1"}},
		{"a face mill goes further than it is wide", "bed-mill", mill("1", "X6. F18.\nG0 Y-3.2\nG1 X-6.\n"), []string{"warning rapid-below-clearance 10:1"}},
		{"a face mill goes back over the part", "bed-mill", mill("1", "X6. F18.\nG0 X-6.\n"), []string{"warning rapid-below-clearance 10:1"}},
	}.run(t)
}
