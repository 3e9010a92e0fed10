package adapt

import (
	"strings"
	"testing"

	"tapefit/profiles"
)

// Where the control that a program is said to be written for would not execute
// it, nobody knows what is meant, though the machine reads it all.
func TestSourceThatStops(t *testing.T) {
	tests := []struct {
		name, from string
		set        []string
		to, source string
		rule       string
	}{
		{"a code that it does not take", "bed-mill", []string{"codes.G43=refused"}, "bed-mill", "T1 M6\nG43 H1 Z1.\nM42\nS2000 M3\nG99 G81 X1. Y1. Z-1. R.1 F5.\nG80\nG0 Z2.\n", "code-not-accepted"},
		{"an inside corner in compensation", "bed-mill", []string{"control.comp=refuse-concave"}, "knee-mill",
			"T1 M6\nS1000 M3\nG0 X-1. Y-1.\nG1 Z-.1 F10.\nG41 D1 X0 Y-.5\nY1.\nX-1.\nG40 Y2.\nG0 Z1.\n", "comp-gouge"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			from, err := profiles.FindWith(test.from, nil, test.set)
			if err != nil {
				t.Fatal(err)
			}
			_, r, err := adapted(t, "%\nG20 G90 G94\nG0 X0 Y0 Z1.\n"+test.source+"M30\n%\n", Options{From: from, To: machine(t, test.to)})
			if err != nil {
				t.Fatal(err)
			}
			if r.Written || len(r.Unfollowed) == 0 || r.Unfollowed[0].Rule.Name != test.rule {
				t.Errorf("written: %v, cannot be followed for %+v", r.Written, r.Unfollowed)
			}
		})
	}
}

// A control may take R of a cycle from the initial level in G90 too, or the
// levels of a row from its first block (profiles.Control). Where a program goes
// another way by that, it must be said which is meant.
func TestLevelsOfCycles(t *testing.T) {
	const (
		absolute = "G0 X0 Y0 Z1.\nG99 G81 X1. Y1. Z-.5 R.1 F5.\nG80\nG0 Z2.\n"
		repeated = "G0 X0 Y0 Z1.\nG99 G81 X1. Y1. Z-.5 R.1 F5.\nG91 X.5 L2\nG90 G80\nG0 Z2.\n"
		back     = "G0 X0 Y0 Z1.\nG98 G81 X1. Y1. Z-.5 R.1 F5.\nG80\nG0 Z2.\n"
	)
	tests := []struct {
		name, source, set string
		guess             bool
		want              string // in the output; "": nobody knows
	}{
		{"R, said", absolute, "control.cycle_r=initial", false, "R-0.9"},
		{"R, not said", absolute, "control.cycle_r=initial", true, ""},
		{"levels, said", repeated, "control.cycle_level=each", false, "X0.5 Y0. Z-0.6 R0."},
		{"levels, not said", repeated, "control.cycle_level=each", true, ""},
		{"levels that make no difference", back, "control.cycle_level=each", true, "G98 G81 X1. Y1. Z-.5 R.1"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			to, err := profiles.FindWith("bed-mill", nil, []string{test.set})
			if err != nil {
				t.Fatal(err)
			}
			got, r, err := adapted(t, "%\nG20 G90 G94\nM42\nS2000 M3\n"+test.source+"M30\n%\n", Options{From: base(t, Guessed), To: to, Guess: test.guess})
			if test.want == "" {
				if err == nil || !strings.Contains(err.Error(), "each in its own way") {
					t.Errorf("got %v\n%s", err, got)
				}
				return
			}
			if err != nil || !r.Written || !strings.Contains(got, test.want) {
				t.Errorf("got %v, %+v\n%s\nwant %s", err, r, got, test.want)
			}
		})
	}
}

// What was written for a program with block delete does the same with the
// switch on as with it off, or a person decides.
func TestBlockDeleteBothWays(t *testing.T) {
	tests := []struct{ name, to, source, want string }{
		{"a call that is written out", "knee-mill", "G1 Z-.1 F5.\n/M98 P101\nG0 Z1.\nM30\nO101\nX4.\nM99\n", ""},
		{"a mirror that is written out", "knee-mill", "/G51.1 X0\nG1 Z-.1 F5.\nX2.\nG0 Z1.\nG50.1 X0\nM30\n", ""},
		{"a parameter that is written out", "knee-mill", "#5=4.\n/#5=8.\nG1 Z-.1 F5.\nX#5\nG0 Z1.\nM30\n", ""},
		{"a centre that hangs on the block", "bed-mill without R", "G1 Z-.1 F5.\nX1. Y0\n/X1.2 Y-.2\nG2 X3. Y1. R2.\nG0 Z1.\nM30\n", ""},
		{"a move that hangs on nothing", "knee-mill", "G1 Z-.1 F5.\n/X.50004\nX1.00004\nG0 Z1.\nM30\n", "/X0.5"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			name, without, _ := strings.Cut(test.to, " without ")
			set := []string{"block.delete=true"}
			if without == "R" {
				set = append(set, "arcs.radius=false")
			}
			to, err := profiles.FindWith(name, nil, set)
			if err != nil {
				t.Fatal(err)
			}
			got, r, err := adapted(t, "%\nG20 G90 G94\nS1000 M3\nG0 X0 Y0 Z1.\n"+test.source+"%\n", Options{From: base(t, Guessed), To: to})
			if err != nil {
				t.Fatal(err)
			}
			told := false
			for _, l := range r.Left {
				told = told || strings.Contains(l.What, "switch for block delete (/) on")
			}
			if r.Written != (test.want != "") || told == r.Written || !strings.Contains(got, test.want) {
				t.Errorf("written: %v, left: %+v\n%s", r.Written, r.Left, got)
			}
		})
	}
}
