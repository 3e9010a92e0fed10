package adapt

import (
	"os"
	"strings"
	"testing"

	"tapefit/profiles"
)

// oneBlock is the slant lathe with a control that writes a turning cycle in one
// block.
func oneBlock(t *testing.T, set ...string) *profiles.Machine {
	t.Helper()
	m, err := profiles.FindWith("slant-lathe", nil, append([]string{"turning.cycle_lines=1", "words.accepted=ADFGIKLMNPQRSTUWXZ"}, set...))
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// A cycle goes over into the other number of blocks, and back. What both blocks
// say: common practice.
func TestTurnForms(t *testing.T) {
	const head, contour = "G20 G90\nT0101\nM41\nG97 S300 M3\nG95\nG0 X2.3 Z.1\n",
		"N10 G0 X1.4\nG1 Z0. F.005\nX1.5 Z-.05\nN20 Z-1.\n"
	tests := []struct{ name, two, one string }{
		{"roughing along Z", "G71 U0.08 R0.02\nG71 P10 Q20 U.02 W.004 F.012\n" + contour, "G71 P10 Q20 U.02 W.004 D0.08 F.012\n" + contour},
		{"roughing along X", "G72 W0.05 R0.02\nG72 P10 Q20 U.02 W.004 F.012\nN10 G0 Z-1.\nG1 X2. F.005\nN20 X1.5 Z0.\n", "G72 P10 Q20 U.02 W.004 D0.05 F.012\nN10 G0 Z-1.\nG1 X2. F.005\nN20 X1.5 Z0.\n"},
		{"a casting", "G73 U0.1 W0.05 R3\nG73 P10 Q20 U.02 W.004 F.012\n" + contour, "G73 P10 Q20 U.02 W.004 I0.1 K0.05 D3 F.012\n" + contour},
		{"finishing", "G71 U0.08 R0.02\nG71 P10 Q20 U.02 W.004 F.012\n" + contour + "G70 P10 Q20\n", "G71 P10 Q20 U.02 W.004 D0.08 F.012\n" + contour + "G70 P10 Q20\n"},
		{"a groove", "G75 R0.02\nG75 X1.5 Z0. P500 Q300 F.003\n", "G75 X1.5 Z0. I0.05 K0.03 F.003\n"},
		{"a groove in the face", "G74 R0.02\nG74 X2. Z-.5 P300 Q500 F.003\n", "G74 X2. Z-.5 I0.03 K0.05 F.003\n"},
		{"a thread", "G76 P010060 Q0\nG76 X1.4 Z-1. P500 Q100 F.0625\n", "G76 X1.4 Z-1. K0.05 D0.01 A60 F.0625\n"},
	}
	slant := machine(t, "slant-lathe")
	one := oneBlock(t)
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			for _, way := range []struct {
				from, to     *profiles.Machine
				source, want string
			}{{slant, one, test.two, test.one}, {one, slant, test.one, test.two}} {
				got, r, err := adapted(t, head+way.source+"M30\n", Options{From: way.from, To: way.to})
				if err != nil || !r.Written {
					t.Fatalf("%v %+v %+v\n%s", err, r.Left, r.Unfollowed, got)
				}
				if want := head + way.want + "M30\n"; got != want {
					t.Errorf("got\n%s\nwant\n%s", got, want)
				}
			}
		})
	}
}

// What the other form has no words for is written out, or told.
func TestTurnFormsLeft(t *testing.T) {
	const head = "G20 G90\nT0101\nM41\nG97 S300 M3\nG95\nG0 X2.3 Z.1\n"
	tests := []struct{ name, source, say string }{
		{"a retract that is not the control's", head + "G75 R0.05\nG75 X2.1 P500 F.003\nM30\n", ""},
		{"a run-out", head + "G76 P011060 Q0\nG76 X1.4 Z-1. P500 Q100 F.0625\nM30\n", "no words in a cycle of one block"},
	}
	for _, test := range tests {
		got, r, err := adapted(t, test.source, Options{From: machine(t, "slant-lathe"), To: oneBlock(t)})
		switch {
		case err != nil:
			t.Errorf("%s: %v\n%s", test.name, err, got)
		case test.say == "" && (!r.Written || strings.Contains(got, "G75")):
			t.Errorf("%s: %+v\n%s", test.name, r.Left, got)
		case test.say != "" && (len(r.Left) != 1 || !strings.Contains(r.Left[0].What, test.say)):
			t.Errorf("%s: left %+v", test.name, r.Left)
		}
	}
}

// A contour stands where it stood though another block changes.
func TestContourOfProvenStays(t *testing.T) {
	source, err := os.ReadFile(shop + "lathe/gland-nut-proven.ngc")
	if err != nil {
		t.Fatal(err)
	}
	m := machine(t, "slant-lathe")
	more := strings.Replace(string(source), "N370 G76", "N370 G76 D9", 1)
	got, r, err := adapted(t, more, Options{From: m, To: m})
	if err != nil || !r.Written {
		t.Fatalf("%v %+v", err, r.Left)
	}
	if got != more && got != string(source) {
		t.Errorf("got\n%s", got)
	}
	more = strings.Replace(string(source), "N60 G50 S700", "N60 G50 S700 I9", 1)
	if got, r, err = adapted(t, more, Options{From: m, To: m}); err != nil || !r.Written || got != string(source) {
		t.Errorf("%v %+v\n%s", err, r.Left, got)
	}
}
