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
	tests := []struct{ name, from, to, source, want string }{
		{"a safe start line, and up out of a cycle", "lenient", "bed-mill",
			"N10 G0 G17 G20 G40 G49 G80 G90\nM41\nG0 X0 Y0 Z1. S500 M3\nG99 G81 X1. Z-.5 R.1 F5.\nN70 G80 G0 Z1.\nX0\nM30\n",
			"N10 G17 G20 G40 G49 G90 G80\nG0\nM41\nG0 X0 Y0 Z1. S500 M3\nG99 G81 X1. Z-.5 R.1 F5.\nN70 G80\nG0 Z1.\nX0\nM30\n"},
		{"where the control takes both", "lenient", "bed-mill block.cycle_off_beside=true",
			"N10 G0 G17 G20 G40 G49 G80 G90\nG0 X0 Y0 Z1.\nM30\n", "N10 G0 G17 G20 G40 G49 G80 G90\nG0 X0 Y0 Z1.\nM30\n"},
		{"where a motion code needs its axes", "lenient", "bed-mill block.idle_motion=false",
			"G20 G90\nG1 G80\nG0 X0 Y0 Z1.\nX1.\nM30\n", "G20 G90\nG80\nG0 X0 Y0 Z1.\nX1.\nM30\n"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got, r, err := adapted(t, test.source, Options{From: with(t, test.from), To: with(t, test.to)})
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
