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
	groove := turn + "T0303\nM41\nG97 S400 M3\nG0 X2.1 Z-1.\nG1 X1.5 F.004\n"
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

		{"home across while down in the cut", "bed-mill", cut + "G91 G28 X0 Y0\nG28 Z0\nG90\nM9\nM5\nM30\n%\n", []string{"warning rapid-below-clearance 13:5"}},
		{"home across in machine coordinates while down in the cut", "bed-mill", cut + "G53 G0 X0 Y0\nM9\nM5\nG53 Z0\nM30\n%\n", []string{"warning rapid-below-clearance 13:5"}},
		{"Z first, then across", "bed-mill", cut + "G91 G28 Z0\nG28 X0 Y0\nG90\nM9\nM5\nM30\n%\n", nil},
		{"home across from above", "bed-mill", cut + "G0 Z1.\nG91 G28 X0 Y0\nG28 Z0\nG90\nM9\nM5\nM30\n%\n", nil},
		{"across with the spindle stopped in the cut", "bed-mill", cut + "M9\nM5\nG0 X-8. Y0\nG53 Z0\nM30\n%\n", []string{"warning rapid-below-clearance 15:1"}},
		{"a boring bar off the wall", "bed-mill", begin + tool(9, "M41", 400, "X0 Y0") + "Z.1\nG1 Z-1. F2.\nM5\nG0 X-.01\nZ1.\nM9\nG53 Z0\nM30\n%\n", nil},
		{"an indicator carried along, nothing cut", "bed-mill", begin + "T9 M6\nG54 G0 X0 Y0\nG43 H9 Z1.\nZ-.2\nX5.\nY3.\n" + end, nil},

		{"G53 forgotten before a tool change", "bed-mill", cut + "G0 Z1.\nM9\nM5\nG0 Z0\n" + tool(4, "M42", 1400, "X0 Y0") + end, []string{"warning stop-without-retract 17:4"}},
		{"down by traverse, to where it began to feed", "bed-mill", cut + "G0 Z1.\nM9\nM5\nG0 Z.1\n" + tool(4, "M42", 1400, "X0 Y0") + end, nil},
		{"down to the next place and up again", "bed-mill", cut + "G0 Z1.\nX8.\nZ0\nZ1.\nM9\nM5\nG53 G0 Z0\n" + tool(4, "M42", 1400, "X0 Y0") + end, nil},

		{"the wrong way round a corner under compensation", "bed-mill", begin + tool(2, "M42", 2000, "X0 Y0") + "Z.1\nG1 Z-.2 F10.\nG41 D2 X1. Y-1. F15.\nX2.\nG2 X2.5 Y-.5 J.5\nG1 Y1.\nG40 X0 Y0\n" + end, []string{"warning arc-against-its-cut 14:1"}},
		{"the right way round it", "bed-mill", begin + tool(2, "M42", 2000, "X0 Y0") + "Z.1\nG1 Z-.2 F10.\nG42 D2 X1. Y-1. F15.\nX2.\nG3 X2.5 Y-.5 J.5\nG1 Y1.\nG40 X0 Y0\n" + end, nil},

		{"the plane of the arc is another: R", "bed-mill", "%\nO1001\nG20 G18 G40 G49 G80 G90 G94\n" + tool(2, "M42", 2000, "X0 Y0") + "Z.1\nG1 Z-.2 F10.\nX1. F15.\nG3 X1.5 Y.5 R.5\nG1 Y1.\n" + end,
			[]string{"warning plane-stale 3:5", "note reversal-in-cut 13:1"}},
		{"the plane of the arc is another: centre", "bed-mill", "%\nO1001\nG20 G18 G40 G49 G80 G90 G94\n" + tool(2, "M42", 2000, "X0 Y0") + "Z.1\nG1 Z-.2 F10.\nX1. F15.\nG3 X1.5 Y.5 I0 J.5\nG1 Y1.\n" + end,
			[]string{"error arc-radius-mismatch 13:1"}},
		{"an arc in ZX that is meant", "bed-mill", begin + tool(7, "M42", 3000, "X0 Y0") + "Z.1\nG1 Z0 F10.\nX1. F15.\nG18 G3 X1.5 Z-.5 K-.5\nG17 G1 Y1.\n" + end, nil},

		{"the point lost in the depth of a pass", "slant-lathe", turn + "T0101\nM41\nG97 S400 M3\nG0 X2.1 Z.1\nG71 U10. R.03\nG71 P1 Q2 U.02 W.005 F.012\nN1 G0 X1.\nG1 Z-1. F.006\nN2 X2.1\n" + out, []string{"warning peck-implausible 8:1"}},
		{"the point lost in the peck of a groove", "slant-lathe", turn + "T0303\nM41\nG97 S400 M3\nG0 X2.1 Z-.5\nG75 R.01\nG75 X1.6 P50000 F.004\n" + out, []string{"warning peck-implausible 8:1"}},
		{"a groove in one peck", "slant-lathe", turn + "T0303\nM41\nG97 S400 M3\nG0 X2.1 Z-.5\nG75 R.01\nG75 X1.6 P5000 F.004\n" + out, nil},

		{"sideways out of a groove", "slant-lathe", groove + "G0 Z-2.\n" + out, []string{"warning rapid-into-metal 8:1"}},
		{"a groove made wide in two plunges, the farther first", "slant-lathe", turn + "T0303\nM41\nG97 S400 M3\nG0 X2.1 Z-1.1\nG1 X1.5 F.004\nG0 X2.1\nZ-1.\nG1 X1.5\nG0 Z-1.1\nX2.1\n" + out, nil},
		{"faced behind what was turned before, and away", "slant-lathe", groove + "G0 Z.1\n" + out, nil},
		{"parted off by traverse", "slant-lathe", groove + "G0 X-.02\nX2.1\n" + out, []string{"warning rapid-into-metal 8:1"}},
		{"faced to a bore and over it", "slant-lathe", turn + "T0101\nM41\nG97 S400 M3\nG0 X2.1 Z0\nG1 X1. F.008\nG0 X0\nZ.1\n" + out, nil},
		{"U with the wrong sign, and back", "slant-lathe", turn + "T0101\nM41\nG97 S400 M3\nG0 X2. Z.1\nG1 Z-2. F.01\nU-.2 W.05\nG0 Z.1\n" + out, []string{"warning rapid-into-metal 9:1"}},
		{"a bore, the tool off its wall and back", "slant-lathe", turn + "T0606\nM41\nG97 S400 M3\nG0 X1.6 Z.1\nG1 Z-2. F.01\nU-.1\nG0 Z.1\n" + out, []string{"note travel-not-checked 6:1 x5 to 10:3"}},
		{"a relief behind a thread, and out", "slant-lathe", turn + "T0101\nM41\nG97 S400 M3\nG0 X2. Z.1\nG1 Z-2. F.01\nX1.8\nX2.1\nG0 Z.1\n" + out, nil},

		{"the turret turned beside the part", "slant-lathe", turn + "T0101\nM42\nG97 S900 M3\nG0 X2. Z.1\nG1 Z-2. F.01\nG0 X2.05\nT0202\n" + out, []string{"warning stop-without-retract 9:1"}},
		{"the turret turned in front of the face", "slant-lathe", turn + "T0101\nM42\nG97 S900 M3\nG0 X2. Z.1\nG1 Z-2. F.01\nG0 X2.05\nZ.5\nT0202\n" + out, nil},

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
