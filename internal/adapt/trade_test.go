package adapt

import (
	"strings"
	"testing"

	"tapefit/profiles"
)

// with is a machine or base of the library with settings laid over it: "slant-lathe
// codes.G20=refused|start.units=mm".
func with(t *testing.T, said string) *profiles.Machine {
	t.Helper()
	name, set, some := strings.Cut(said, " ")
	var settings []string
	if some {
		settings = strings.Split(set, "|")
	}
	if name == "lenient" {
		settings = append(settings, "codes.M41=accepted", "codes.M42=accepted")
	}
	m, err := profiles.FindWith(name, nil, settings)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// What people and posts write, and what the machine is given for it.
func TestTrade(t *testing.T) {
	const metric = "slant-lathe codes.G20=refused|start.units=mm"
	tests := []struct{ name, from, to, source, want string }{
		{"a safe start line, and up out of a cycle", "lenient", "bed-mill",
			"N10 G0 G17 G20 G40 G49 G80 G90\nM41\nG0 X0 Y0 Z1. S500 M3\nG99 G81 X1. Z-.5 R.1 F5.\nN70 G80 G0 Z1.\nX0\nM30\n",
			"N10 G17 G20 G40 G49 G90 G80\nG0\nM41\nG0 X0 Y0 Z1. S500 M3\nG99 G81 X1. Y0. Z-0.5 R0.1 F5.\nN70 G80\nG0 Z1.\nX0\nM30\n"},
		{"where the control takes both", "lenient", "bed-mill block.cycle_off_beside=true",
			"N10 G0 G17 G20 G40 G49 G80 G90\nG0 X0 Y0 Z1.\nM30\n", "N10 G0 G17 G20 G40 G49 G80 G90\nG0 X0 Y0 Z1.\nM30\n"},
		{"where a motion code needs its axes", "lenient", "bed-mill block.idle_motion=false",
			"G20 G90\nG1 G80\nG0 X0 Y0 Z1.\nX1.\nM30\n", "G20 G90\nG80\nG0 X0 Y0 Z1.\nX1.\nM30\n"},
		{"home by distances, before anybody knows where it stands", "slant-lathe", metric, "G20 G18 G90\nG28 U0 W0\nT0101\nM30\n", "G18 G90\nG28 U0. W0.\nT0101\nM30\n"},
		{"home through a place by distances", "slant-lathe", metric, "G20 G18 G90\nT0101\nG0 X2. Z1.\nG28 U.5 W1.\nM30\n",
			"G18 G90\nT0101\nG0 X50.8 Z25.4\nG28 U12.7 W25.4\nM30\n"},
		{"surface speed in ft/min, its limit in rpm", "slant-lathe", metric,
			"G20 G18 G90 G95\nT0101\nM42\nG50 S2000\nG96 S400 M3\nG0 X2. Z.1\nG1 Z-1. F.01\nG97 S700\nM30\n",
			"G18 G90 G95\nT0101\nM42\nG50 S2000\nG96 S122 M3\nG0 X50.8 Z2.54\nG1 Z-25.4 F0.254\nG97 S700\nM30\n"},
		{"with its units in the block", "slant-lathe", metric,
			"G18 G90 G95\nT0101\nM42\nG20 G96 S400 M3\nG0 X2. Z.1\nG1 Z-1. F.01\nM30\n",
			"G18 G90 G95\nT0101\nM42\nG96 S122 M3\nG0 X50.8 Z2.54\nG1 Z-25.4 F0.254\nM30\n"},
		{"a thread of ten to the inch", "slant-lathe", metric, "G20 G18 G90 G95\nT0404\nM41\nG97 S300 M3\nG0 X2. Z.3\nG33 Z-1. F.1\nG0 X3.\nM30\n",
			"G18 G90 G95\nT0404\nM41\nG97 S300 M3\nG0 X50.8 Z7.62\nG33 Z-25.4 F2.54\nG0 X76.2\nM30\n"},
		{"its lead in K", "slant-lathe", "slant-lathe turning.thread_lead=K", "G21 G18 G90 G94\nT0404\nM41\nG97 S300 M3\nG0 X30. Z5.\nG33 Z-20. F2.\nX34. Z-25.\nG1 X40. F100.\nM30\n",
			"G21 G18 G90 G94\nT0404\nM41\nG97 S300 M3\nG0 X30. Z5.\nG33 Z-20. K2.\nX34. Z-25. K2.\nG1 X40. F100.\nM30\n"},
		{"F by the minute stays what it was", "slant-lathe", metric, "G20 G18 G90 G94\nT0404\nM41\nG97 S300 M3\nG0 X2. Z.3\nG1 Z.2 F10.\nG33 Z-1. F.1\nG1 X3.\nM30\n",
			"G18 G90 G94\nT0404\nM41\nG97 S300 M3\nG0 X50.8 Z7.62\nG1 Z5.08 F254.\nG33 Z-25.4 F2.54\nG1 X76.2\nM30\n"},
		{"diameters on a lathe that goes by the radius", "slant-lathe", "slant-lathe axes.x.diameter=false",
			"G21 G18 G90 G95\nT0101\nM41\nG97 S300 M3\nG0 X30. Z5.\nX24.\nG1 Z-20. F.2\nG2 X34. Z-25. I5. K0\nG0 U10.\nX0\nM30\n",
			"G21 G18 G90 G95\nT0101\nM41\nG97 S300 M3\nG0 X15. Z5.\nX12.\nG1 Z-20. F.2\nG2 X17. Z-25. K0. I5.\nG0 X22.\nX0\nM30\n"},
		{"a thread by its cycle, in other units", "slant-lathe", metric,
			"G20 G18 G90 G95\nT0404\nM41\nG97 S300 M3\nG0 X2. Z.3\nG78 X1.9 Z-1. F.1\nX1.8\nG0 X3.\nM30\n",
			"G18 G90 G95\nT0404\nM41\nG97 S300 M3\nG0 X50.8 Z7.62\nX48.26\nG33 Z-25.4 F2.54\nG0 X50.8\nZ7.62\nX45.72\nG33 Z-25.4 F2.54\nG0 X50.8\nZ7.62\nG0 X76.2\nM30\n"},
		{"a pass along Z, by the radius", "slant-lathe", "slant-lathe axes.x.diameter=false",
			"G20 G90\nT0101\nM41\nG97 S300 M3\nG95\nG0 X2. Z.1\nG77 X1.8 Z-.5 F.01\nG0 X3.\nM30\n",
			"G20 G90\nT0101\nM41\nG97 S300 M3\nG95\nG0 X1. Z0.1\nX0.9\nG1 Z-0.5 F0.01\nX1.\nG0 Z0.1\nG0 X1.5\nM30\n"},
		{"a groove for a control with one block, in other units", "slant-lathe", metric + "|turning.cycle_lines=1|words.accepted=ADFGIKLMNPQRSTUWXZ",
			"G20 G90\nT0101\nM41\nG97 S300 M3\nG95\nG0 X2. Z.1\nG75 R0.02\nG75 X1.9 Z.1 P1000 Q300 F.003\nG0 X3.\nM30\n",
			"G90\nT0101\nM41\nG97 S300 M3\nG95\nG0 X50.8 Z2.54\nG1 X48.26 F0.0762\nG0 X50.8\nG0 X76.2\nM30\n"},
		{"feed by time, an arc in another form", "lenient", "bed-mill arcs.centre=absolute", "G21 G90\nG0 X1. Y0 Z2.\nG93 G1 Z-1. F30.\nG2 X11. Y-10. I0 J-10. F10.\nG94 G1 Y-20. F200.\nM30\n",
			"G21 G90\nG0 X1. Y0 Z2.\nG93 G1 Z-1. F30.\nG2 X11. Y-10. I1. J-10. F10.\nG94 G1 Y-20. F200.\nM30\n"},
		{"and cut at the quadrants: each piece has its own time", "lenient", "bed-mill arcs.quadrant=true", "G21 G90\nG0 X0 Y0 Z2.\nG93 G1 Z-1. F30.\nG2 X20. Y0 I10. J0 F10.\nG1 X30. F5.\nM30\n",
			"G21 G90\nG0 X0 Y0 Z2.\nG93 G1 Z-1. F30.\nG2 X10. Y10. I10. J0. F20.\nX20. Y0. I0. J-10. F20.\nG1 X30. F5.\nM30\n"},
		{"by time, to fewer digits", "lenient", "bed-mill numbers.decimals={inch=3,mm=1}", "G21 G90\nG0 X0 Y0 Z2.\nG93 G1 X3.33 F10.\nX6.66 F10.\nM30\n",
			"G21 G90\nG0 X0 Y0 Z2.\nG93 G1 X3.3 F10.0909\nX6.7 F9.79412\nM30\n"},
		{"rotary axes by the minute, in inches", "lenient", "bed-mill words.accepted=ADFGHIJKLMNPQRSTXYZ|numbers.decimals={inch=3,mm=2}|axes.a.rapid=\"3600 deg/min\"|axes.a.acceleration=\"500 deg/s^2\"",
			"G20 G90\nG0 X0 Y0 Z2. A0\nG1 A90.0001 F360.\nX1. F10.\nM30\n", "G20 G90\nG0 X0 Y0 Z2. A0\nG1 A90. F360.\nX1. F10.\nM30\n"},
		{"by time, what the axes do not make", "bed-mill", "bed-mill with clamp-feed", "G20 G90\nG0 X1. Y1. Z1.\nG93 G1 X9. F60.\nM30\n", "G20 G90\nG0 X1. Y1. Z1.\nG93 G1 X9. F18.75\nM30\n"},
		{"work offsets in other units", "lenient", "bed-mill codes.G20=refused|start.units=mm", "G20 G90 G17\nG10 L2 P1 X2. Y3. Z-10.\nG10 L2 P2 X-4. Z-10.\nG54 G0 X1. Y1. Z1.\nG55 X1. Z1.\nM30\n",
			"G90 G17\nG10 L2 P1 X50.8 Y76.2 Z-254.\nG10 L2 P2 X-101.6 Z-254.\nG54 G0 X25.4 Y25.4 Z25.4\nG55 X25.4 Z25.4\nM30\n"},
		{"and by the radius", "slant-lathe", "slant-lathe axes.x.diameter=false", "G20 G18 G90\nG10 L2 P1 X2. Z-10.\nT0101\nG0 X1. Z1.\nM30\n", "G20 G18 G90\nG10 L2 P1 X1. Z-10.\nT0101\nG0 X0.5 Z1.\nM30\n"},
		{"a dwell of a cycle in ms", "bed-mill", "bed-mill block.dwell={P=\"ms\"}", "G20 G90\nM41\nG0 X1. Y1. Z1. S500 M3\nG82 X1. Y1. Z-.1 R.1 P.5 F5.\nX2.\nG80\nM30\n",
			"G20 G90\nM41\nG0 X1. Y1. Z1. S500 M3\nG82 X1. Y1. Z-0.1 R0.1 P500 F5.\nX2.\nG80\nM30\n"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			machine, asked, _ := strings.Cut(test.to, " with ")
			opt := Options{From: with(t, test.from), To: with(t, machine)}
			if asked != "" {
				opt.Passes = map[string]bool{asked: true}
			}
			got, r, err := adapted(t, test.source, opt)
			if err != nil {
				t.Fatalf("%v\n%s", err, got)
			}
			if !r.Written {
				t.Fatalf("not written: %+v %+v", r.Left, r.Unfollowed)
			}
			if got != test.want {
				t.Errorf("got\n%s\nwant\n%s", got, test.want)
			}
		})
	}
}
