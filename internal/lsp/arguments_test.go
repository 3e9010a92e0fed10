package lsp

import (
	"context"
	"strings"
	"testing"
)

// hovered is what is told of a word: the first with that text in the first block
// that begins so.
func hovered(t *testing.T, machine string, values []string, program, block, word string) string {
	t.Helper()
	c := choice{machine: load(machine, nil, values)}
	if c.machine.err != nil {
		t.Fatal(c.machine.err)
	}
	line := 0
	for i, text := range strings.Split(program, "\n") {
		if strings.HasPrefix(text, block) {
			line = i + 1
			break
		}
	}
	seen, err := look(context.Background(), &opened{text: newText(program)}, &c, line)
	if err != nil || seen.block == nil {
		t.Fatalf("%q: %v", block, err)
	}
	i := wordAt(seen.block, int32(strings.Index(string(seen.block.Raw), word)))
	if i < 0 {
		t.Fatalf("%q has no word %q", block, word)
	}
	says, lines := wordText(c.Machine, seen, &seen.block.Words[i])
	return strings.Join(append([]string{says}, lines...), "; ")
}

// What words mean whose letter has a meaning by the code that takes it.
func TestArguments(t *testing.T) {
	const start = "%\nG20 G17 G40 G80 G90 G94\nT1 M6\nM41\nS500 M3\nG54 G0 X0 Y0\nG43 H1 Z1.\n"
	const turn = "%\nG20 G18 G40 G80 G90 G95\nG28 U0 W0\nT0101\nM41\nG97 S400 M3\nG0 X2. Z.1\n"
	const end = "M30\nN900 M30\n%\n"
	for _, tt := range []struct {
		machine, program, block, word, want string
		values                              []string
	}{
		// Dwells: the unit is the profile's.
		{"bed-mill", start + "G4 P1.5\n" + end, "G4 ", "P1.5", "how long it waits, 1.5 s; this control reads it in seconds", nil},
		{"bed-mill", start + "G4 P1500\n" + end, "G4 ", "P1500", "how long it waits, 1.5 s; this control reads it in thousandths of a second", []string{"block.dwell={P=\"ms\"}"}},
		{"bed-mill", start + "G4 X1.5\n" + end, "G4 ", "X1.5", "how long it waits, 1.5 s; this control reads it in seconds", []string{"block.dwell={P=\"ms\", X=\"s\"}"}},
		{"bed-mill", start + "G99 G82 X1. Z-.5 R.1 P1.5 F5.\n" + end, "G99", "P1.5", "how long it stays at the bottom, 1.5 s; this control reads it in seconds", nil},
		{"bed-mill", start + "G99 G82 X1. Z-.5 R.1 P1500 F5.\n" + end, "G99", "P1500", "how long it stays at the bottom, 1.5 s; this control reads it in thousandths of a second", []string{"block.dwell={P=\"ms\"}"}},

		// Cycles.
		{"bed-mill", start + "G99 G81 X1. Z-.5 R.1 F5.\n" + end, "G99", "R.1", "the level at which the feed begins, along Z, 0.1 in", nil},
		{"bed-mill", start + "G91 G81 X1. Z-.5 R-.9 F5.\n" + end, "G91", "R-.9", "how far the level at which the feed begins is from that at the call, along Z, -0.9 in", nil},
		{"bed-mill", start + "G99 G81 X1. Z-.5 R-.9 F5.\n" + end, "G99", "R-.9", "how far the level at which the feed begins is from that at the call, along Z, -0.9 in", []string{"control.cycle_r=initial"}},
		{"bed-mill", start + "G99 G83 X1. Z-.5 R.1 Q.2 F5.\n" + end, "G99", "Q.2", "the depth of one peck, 0.2 in; after each it goes out to R, and back to 0.01 in above the last depth", nil},
		{"bed-mill", start + "G91 G81 X1. Z-.5 R-.9 L3 F5.\n" + end, "G91", "L3", "how often the cycle is made, 3 times", nil},
		{"bed-mill", start + "G91 G81 X1. Z-.5 R-.9 K3 F5.\n" + end, "G91", "K3", "how often the cycle is made, 3 times", []string{"block.repeat=K", "cycles.drill.takes=XYK"}},
		{"lenient", start + "G99 G81 X1. Z-.5 R.1 P2 F5.\n" + end, "G99", "P2", "this cycle makes no use of it", nil},
		{"knee-mill", "%\nG70 G90\nT1 M6\nS500 M3\nG0 X0 Y0 Z10000\nG81 X10000 Z-5000 R1000 F5\nM30\n%\n", "G81", "R1000", "the level at which the feed begins, along Z, 0.1 in", nil},

		// Arcs: in what form the centre is written.
		{"bed-mill", start + "G1 Z0 F5.\nG2 X1. Y-1. J-1.\n" + end, "G2 ", "J-1.", "how far the centre of the arc is from its start along Y, -1 in; the centre is at Y -1 in", nil},
		{"bed-mill", start + "G1 Z0 F5.\nG2 X1. Y-1. I0 J-1.\n" + end, "G2 ", "J-1.", "where the centre of the arc is along Y, -1 in; the centre is at Y -1 in", []string{"arcs.centre=absolute"}},
		{"bed-mill", start + "G1 Z0 F5.\nG2 X1. Y-1. R1.\n" + end, "G2 ", "R1.", "the radius of the arc, 1 in: the arc of no more than half a circle", nil},
		{"bed-mill", start + "G1 Z0 F5.\nG2 X1. Y-1. R-1.\n" + end, "G2 ", "R-1.", "the radius of the arc, 1 in: the arc of more than half a circle, by the minus sign", nil},
		{"knee-mill", "%\nG70 G90\nT1 M6\nS500 M3\nG0 X0 Y0 Z0\nG2 X10000 Y-10000 I0 J10000 F5\nM30\n%\n", "G2 ", "J10000", "how far the centre of the arc is from its start along Y, without sign, 1 in; the centre is at Y -1 in", nil},
		{"slant-lathe", turn + "G3 X3. Z-.4 K-.5 F.01\n" + end, "G3 ", "K-.5", "how far the centre of the arc is from its start along Z, -0.5 in; the centre is at Z -0.4 in", nil},

		// Nothing takes it.
		{"bed-mill", start + "G1 X1. P5 F5.\n" + end, "G1 ", "P5", "nothing in this block uses it", nil},

		// Calls, work zeros.
		{"bed-mill", start + "M98 P7 L3\n" + end + "O7\nM99\n", "M98", "P7", "the program that is called, O7", nil},
		{"bed-mill", start + "M98 P7 L3\n" + end + "O7\nM99\n", "M98", "L3", "how often the program is called, 3 times", nil},
		{"bed-mill", start + "M98 P30007\n" + end + "O7\nM99\n", "M98", "P30007", "the program that is called, O7, 3 times: the last four digits name it, those in front say how often", []string{"block.call=digits"}},
		{"bed-mill", start + "G10 L2 P2 X1.\n" + end, "G10", "P2", "which work zero is set: G55", nil},

		// Lathe.
		{"slant-lathe", turn + "G1 U-.1 F.01\n" + end, "G1 U", "U-.1", "a distance along X from where the tool stands, whatever the distance mode, on the diameter; the tool is at a diameter of 1.9 in behind this block", nil},
		{"slant-lathe", turn + "G71 U.08 R.02\n" + end, "G71", "U.08", "the depth of one cut, by the radius, 0.08 in", nil},
		{"slant-lathe", turn + "G71 U.08 R.02\nG71 P10 Q20 U.02 W.004 F.01\nN10 G0 X1.\nN20 G1 Z-1.\n" + end, "G71 P", "U.02", "what is left along X for finishing, 0.02 in, on the diameter", nil},
		{"slant-lathe", turn + "G71 U.08 R.02\nG71 P10 Q20 U.02 W.004 F.01\nN10 G0 X1.\nN20 G1 Z-1.\n" + end, "G71 P", "Q20", "the contour ends with the block N20", nil},
		{"slant-lathe", turn + "G75 R.01\nG75 X1. P500 F.003\n" + end, "G75 X", "P500", "the depth of one peck along X, by the radius, 0.05 in", nil},
		{"slant-lathe", turn + "G76 P020060 Q20 R.001\nG76 X1.9 Z-1. P511 Q100 F.125\n" + end, "G76 P", "P020060", "three numbers of two digits: passes at the full depth, 2; run-out in tenths of the lead, 0 leads; angle of the tool, 60 degrees", nil},
		{"slant-lathe", turn + "G76 P020060 Q20 R.001\nG76 X1.9 Z-1. P511 Q100 F.125\n" + end, "G76 P", "Q20", "the least depth of a cut, by the radius, 0.002 in", nil},
		{"slant-lathe", turn + "G76 P020060 Q20 R.001\nG76 X1.9 Z-1. P511 Q100 F.125\n" + end, "G76 X", "P511", "the height of the thread, by the radius, 0.0511 in", nil},
		{"slant-lathe", turn + "G76 P020060 Q20 R.001\nG76 X1.9 Z-1. P511 Q100 F.125\n" + end, "G76 X", "F.125", "the lead of the thread, 0.125 in", nil},

		// A block that is not executed: by what code it would be, nobody knows.
		{"bed-mill", start + "M30\nG4 P1.5\n%\n", "G4 ", "P1.5", "", nil},
	} {
		if got := hovered(t, tt.machine, tt.values, tt.program, tt.block, tt.word); got != tt.want && !(tt.want != "" && strings.HasPrefix(got, tt.want+"; ")) {
			t.Errorf("%s, %s of %q:\n got %q\nwant %q", tt.machine, tt.word, tt.block, got, tt.want)
		}
	}
}

// S is a speed of the spindle, of the surface, or the highest there may be. 191 is
// 12*200/(pi*4) (Machinery's Handbook, from memory).
func TestSpeedWord(t *testing.T) {
	const program = "%\nG20 G18 G40 G80 G90 G95\nG28 U0 W0\nT0101\nM41\nG50 S700\nG97 S400 M3\nG0 X4. Z0\nG96 S200\nG1 X.2 S250 F.01\nG0 X6.\nM30\n%\n"
	for _, tt := range []struct{ block, word, want string }{
		{"G50", "S700", "the highest speed of the spindle under constant surface speed, in rpm; as rpm, reached in low and high"},
		{"G97", "S400", "the speed of the spindle, in rpm; as rpm, reached in low;"},
		{"G96", "S200", "the speed of the surface, 200 ft/min; behind this block it turns at 191 rpm, with the tool at X dia. 4 in; gear low"},
		{"G1", "S250", "the speed of the surface, 250 ft/min; behind this block it turns at 700 rpm, with the tool at X dia. 0.2 in: the clamp holds it there; gear low"},
	} {
		if got := hovered(t, "slant-lathe", nil, program, tt.block, tt.word); !strings.HasPrefix(got, tt.want) {
			t.Errorf("%s: %q, want %q", tt.word, got, tt.want)
		}
	}
	c := choice{machine: load("slant-lathe", nil, nil)}
	seen, err := look(context.Background(), &opened{text: newText(program)}, &c, 9)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := spindleText(c.Machine, &seen.after), "spindle clockwise, S 200 ft/min at the surface, 191 rpm here"; got != want {
		t.Errorf("in force: %q, want %q", got, want)
	}
}

// A comment that names the machine goes where it is read: behind the first % mark.
func TestHead(t *testing.T) {
	for _, tt := range []struct{ program, want string }{
		{"G0 X1\nM30\n", "#G0 X1\nM30\n"},
		{"%\nG0 X1\n%\n", "%\n#G0 X1\n%\n"},
		{"(PART 17)\n%\nG0 X1\nM30\n%\n", "(PART 17)\n%\n#G0 X1\nM30\n%\n"},
		{"(PART 17)\r\n\r\n% TITLE\r\nG0 X1\r\nM30\r\n%\r\n", "(PART 17)\r\n\r\n% TITLE\r\n#G0 X1\r\nM30\r\n%\r\n"},
		{"G0 X1\nM30\n%\n", "#G0 X1\nM30\n%\n"},
		{"%", "%\n#"},
		{"%\n", "%\n#"},
		{"", "#"},
	} {
		text := newText(tt.program)
		at, front := text.head()
		i := text.offset(at)
		if got := tt.program[:i] + front + "#" + tt.program[i:]; got != tt.want {
			t.Errorf("%q becomes %q, want %q", tt.program, got, tt.want)
		}
	}
}
