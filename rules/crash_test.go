package rules

import "testing"

// What would wreck a tool or a machine and looks like a small slip of the pen, and
// what looks like it and is right. Common practice throughout.
func TestSlips(t *testing.T) {
	cut := begin + tool(3, "M42", 2400, "X2. Y2.") + "Z.1\nG1 Z-.2 F5.\nX4. F14.\n"
	drill := begin + tool(5, "M41", 700, "X0 Y0")
	shaft := turn + "T0101\nM42\nG50 S2400\nG0 X2.2 Z.1\nG96 S450 M3\nG1 X1.9 F.01\nZ-1.\nG0 X6. Z3.\n"
	hole := "T0505\nM41\nG97 S350 M3\nG0 X0 Z.2\nG1 Z-2. F.006\n"
	out := "G0 X6. Z5.\nM5\nM30\n%\n"
	findingsTable{
		{"the wrong way round a corner", "bed-mill", cut + "G2 X5. Y3. J1.\nG1 Y5.\n" + end, []string{"warning arc-against-its-cut 13:1"}},
		{"the right way round", "bed-mill", cut + "G3 X5. Y3. J1.\nG1 Y5.\n" + end, nil},
		{"half round, and back beside its way", "bed-mill", cut + "G3 X4. Y3. J.5\nG1 X2.\n" + end, nil},
		{"half round the wrong way: a cusp at both ends", "bed-mill", cut + "G2 X4. Y3. J.5\nG1 X2.\n" + end, []string{"warning arc-against-its-cut 13:1"}},
		{"a whole circle the other way", "bed-mill", cut + "G2 X4. Y2. J1.\nG1 X5.\n" + end, nil},
		{"into a bore on a quarter circle and round it", "bed-mill", cut + "G3 X4.5 Y2.5 I0 J.5\nG3 X4.5 Y2.5 I-.5 J0\nG3 X4. Y3. I-.5 J0\nG1 Y2.5\n" + end, nil},
		{"letters turn on the spot", "bed-mill", cut + "G2 X4.05 Y2.05 J.05\nG1 Y2.1\n" + end, nil},
		{"back and forth on a line is no arc", "bed-mill", cut + "X2.\nX4.\n" + end, nil},

		{"round a boss whose far side lies beyond the travel, from a lead-in with R", "bed-mill", begin + tool(2, "M42", 2000, "X0 Y-5.") + "Z.1\nG1 Z-.2 F10.\nG41 D2 X1. Y-4. F15.\nG3 X0. Y-3. R1.\nG2 X0. Y-3. J8.\nG3 X-1. Y-4. R1.\nG40 G1 X0 Y-5.\n" + end,
			[]string{"error travel-exceeded 14:8"}},

		{"home by way of work zero", "bed-mill", cut + "G0 Z1.\nG28 Z0\nM9\nM5\nM30\n%\n", []string{"warning home-through-work 14:5"}},
		{"home from below work zero goes up", "bed-mill", cut + "G28 Z0\nM9\nM5\nM30\n%\n", nil},
		{"home by a place above", "bed-mill", cut + "G28 Z2.\nM9\nM5\nM30\n%\n", nil},
		{"home on the lathe by the centre line", "slant-lathe", shaft + "G28 X0 Z0\nM5\nM30\n%\n", []string{"warning home-through-work 11:8"}},
		{"home on the lathe by increments", "slant-lathe", shaft + "G28 U0 W0\nM5\nM30\n%\n", nil},

		{"G1 forgotten", "bed-mill", begin + tool(3, "M42", 2400, "X2. Y2.") + "Z.1\nZ-.2 F5.\nX4. F14.\nY3.\n" + end, []string{"warning feed-on-traverse 11:6 x2 to 12:9"}},
		{"G0 behind it is meant", "bed-mill", begin + tool(3, "M42", 2400, "X2. Y2.") + "Z.1\nX2.1 F14.\nX2.1\nG0 Z1.\nZ-.2\nX4.\n" + end,
			[]string{"warning feed-on-traverse 11:6", "warning rapid-below-clearance 15:1"}},
		{"F beside G0 is for what comes", "bed-mill", begin + tool(3, "M42", 2400, "X2. Y2.") + "G0 Z.1 F5.\nG1 Z-.2\nX4. F14.\n" + end, nil},
		{"F of a cycle", "bed-mill", drill + "G81 R.1 Z-.5 X1. F5.\nX2. F4.\nG80\n" + end, nil},
		{"G1 forgotten on the lathe", "slant-lathe", shaft + "X1.7 Z.1\nZ-1. F.01\nG1 X2.2\n" + out, []string{"warning feed-on-traverse 12:6"}},

		{"the length offset switched off, and down", "bed-mill", cut + "G49\nG0 Z1.\nX2.\nM9\nM5\nG53 Z0\nM30\n%\n", []string{"error length-offset-missing 14:4"}},
		{"the length offset switched off on the way up", "bed-mill", cut + "G0 G49 Z8.\nM9\nM5\nG53 Z0\nM30\n%\n", nil},

		{"a point lost in Q", "bed-mill", drill + "G83 X0 Y0 R.1 Z-1.5 Q25 F5.\nX1.\nG80\n" + end, []string{"warning peck-implausible 10:21"}},
		{"a shallow hole in one peck", "bed-mill", drill + "G83 X0 Y0 R.1 Z-.15 Q.5 F5.\nX1.\nG80\n" + end, nil},
		{"many pecks in a deep hole", "bed-mill", drill + "G83 X0 Y0 R.1 Z-3. Q.05 F5.\nG80\n" + end, nil},

		{"M4 typed for M3", "bed-mill", begin + "T2 M6\nM41\nS800 M4\nG54 G0 X0 Y0\nG43 H2 Z1.\nZ.1\nG1 Z-.1 F6.\n" + end, []string{"warning spindle-counter-clockwise 6:6"}},
		{"a left-hand tap", "bed-mill", begin + "T6 M6\nM41\nS260 M4\nG54 G0 X0 Y0\nG43 H6 Z1.\nG84 X0 Y0 R.3 Z-.8 F20.\nG80\n" + end, nil},
		{"the lathe turns either way", "slant-lathe", turn + "T0101\nM42\nG97 S900 M4\nG0 X2.2 Z.1\nG1 X1.9 F.01\nZ-1.\n" + out, nil},

		{"a drill out sideways", "slant-lathe", turn + hole + out, []string{"warning rapid-below-clearance 8:1"}},
		{"a drill out along Z", "slant-lathe", turn + hole + "G0 Z.2\n" + out, nil},
		{"a drill home from the hole", "slant-lathe", turn + hole + "G28 U0 W0\nM5\nM30\n%\n", []string{"warning rapid-below-clearance 8:1"}},
		{"faced to the centre and away", "slant-lathe", turn + "T0101\nM42\nG97 S900 M3\nG0 X2.2 Z0\nG1 X0 F.008\nG0 X2.2 Z.1\n" + out, nil},
		{"a drill under the surface speed of the tool before: one finding", "slant-lathe", shaft + "M5\nT0505\nM41\nS350 M3\nG0 X0 Z.2\nG1 Z-2. F.006\nG0 Z.2\n" + out,
			[]string{"warning surface-speed-on-centre 16:1"}},
		{"a contour that begins on the centre line", "slant-lathe", shaft + "T0202\nS500\nG0 X0 Z.1\nG1 Z0 F.005\nX.5\nZ-1.\n" + out, nil},
		{"no highest speed, and the end of the gear passed: one finding", "slant-lathe", turn + "T0101\nM41\nG0 X4. Z0\nG96 S250 M3\nG1 X1. F.008\nG0 Z.1\n" + out,
			[]string{"error css-crosses-gear 7:1"}},

		{"the turret turned in the work", "slant-lathe", turn + "T0101\nM42\nG97 S900 M3\nG0 X2.2 Z.1\nG1 X1.9 F.01\nZ-2.\nT0202\n" + out, []string{"warning stop-without-retract 9:1"}},
		{"the turret turned at a distance", "slant-lathe", turn + "T0101\nM42\nG97 S900 M3\nG0 X2.2 Z.1\nG1 X1.9 F.01\nZ-2.\nG0 X6. Z3.\nT0202\n" + out, nil},
		{"another offset for the same tool in the work", "slant-lathe", turn + "T0101\nM42\nG97 S900 M3\nG0 X2.2 Z.1\nG1 X1.9 F.01\nZ-2.\nT0111\nX1.95\n" + out, nil},
		{"far past the centre", "slant-lathe", turn + "T0101\nM42\nG97 S900 M3\nG0 X2.2 Z0\nG1 X-2.2 F.008\nG0 Z.1\n" + out, []string{"warning cut-past-centre 7:4"}},
		{"a tool that works behind the centre", "slant-lathe", turn + "T0101\nM42\nG97 S900 M4\nG0 X-1. Z.1\nG1 Z-1. F.008\nX-.9\nG0 Z.1\n" + out, nil},
	}.run(t)
}
