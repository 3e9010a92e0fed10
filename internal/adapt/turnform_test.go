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

// A contour whose arcs the machine does not take is finished in moves: at the feed
// of the cycle where its blocks say none, and back to where the cycle began.
func TestFinishInMoves(t *testing.T) {
	const (
		head = "%\nG20 G90\nT0101\nM41\nG97 S300 M3\nG95\nG0 X2.3 Z.1\n"
		back = "G1 X2. Z-1.2\nG0 X2.3 Z0.1\n"
	)
	tests := []struct {
		name, source, want string
		say                string // what is left, where nothing is written
	}{
		{"at the feed of the cycle", "G70 P30 Q50 F.01\nN30 G0 X1.\nG1 Z-1.\nG3 X1.2 Z-1.1 R.1\nN50 G1 X2. Z-1.2\n",
			"X1.\nG1 Z-1. F0.01\nG3 X1.2 Z-1.1 K-0.1 I0.\n" + back, ""},
		{"at its own", "G70 P30 Q50 F.01\nN30 G0 X1.\nG1 Z-1. F.008\nG3 X1.2 Z-1.1 R.1 F.004\nN50 G1 X2. Z-1.2\n",
			"X1.\nG1 Z-1. F0.008\nG3 X1.2 Z-1.1 K-0.1 I0. F0.004\n" + back, ""},
		{"at the feed before it", "G1 X2.2 F.01\nX2.3\nG70 P30 Q50\nN30 G0 X1.\nG1 Z-1.\nG3 X1.2 Z-1.1 R.1\nN50 G1 X2. Z-1.2\n",
			"G1 X2.2 F.01\nX2.3\nG0 X1.\nG1 Z-1.\nG3 X1.2 Z-1.1 K-0.1 I0.\n" + back, ""},
		{"with a dwell", "G70 P30 Q50 F.01\nN30 G0 X1.\nG1 Z-1.\nG4 P.5\nG3 X1.2 Z-1.1 R.1\nN50 G1 X2. Z-1.2\n",
			"X1.\nG1 Z-1. F0.01\nG4 P0.5\nG3 X1.2 Z-1.1 K-0.1 I0.\n" + back, ""},
		{"under compensation of the nose", "G70 P30 Q50 F.01\nN30 G42 G0 X1.\nG1 Z-1.\nG3 X1.2 Z-1.1 R.1\nN50 G40 G1 X2. Z-1.2\n", "", "codes beside its moves"},
		{"with a speed of its own", "G70 P30 Q50 F.01\nN30 G0 X1. S400\nG1 Z-1.\nG3 X1.2 Z-1.1 R.1\nN50 G1 X2. Z-1.2\n", "", "codes beside its moves"},
	}
	from := machine(t, "slant-lathe")
	to, err := profiles.FindWith("slant-lathe", nil, []string{"arcs.radius=false"})
	if err != nil {
		t.Fatal(err)
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got, r, err := adapted(t, head+test.source+"M30\n%\n", Options{From: from, To: to})
			if err != nil {
				t.Fatalf("%v\n%s", err, got)
			}
			if test.say != "" {
				if r.Written || len(r.Left) == 0 || !strings.Contains(r.Left[0].What, test.say) {
					t.Errorf("written %v, left %+v\n%s", r.Written, r.Left, got)
				}
				return
			}
			if want := head + test.want + "M30\n%\n"; got != want {
				t.Errorf("got\n%s\nwant\n%s", got, want)
			}
		})
	}
}
