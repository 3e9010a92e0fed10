package adapt

import (
	"strconv"
	"strings"
	"testing"

	"tapefit/profiles"
)

// How the way home is written for a machine that has no code for it: never down,
// and to the true place where the machine has another code for that.
func TestHoming(t *testing.T) {
	const (
		noG28 = "codes.G28=refused|codes.G30=refused"
		noG43 = "codes.G43=refused|codes.G49=refused"
	)
	tests := []struct {
		name, to, set string
		home          string // Z is named, in; "": nothing
		source, want  string
	}{
		{"up to the level named", "knee-mill", "", "1", "Z.5\nG91 G28 Z0\nG90\nX1.\n", "Z.5\nZ1.\nG90\nX1.\n"},
		{"not down to it", "knee-mill", "", "1", "Z2.\nG91 G28 Z0\nG90\nX1.\n", "Z2.\nG90\nX1.\n"},
		{"and from there on", "knee-mill", "", "1", "Z2.\nG91 G28 Z0\nG90\nG1 Z.1 F5.\nG53 G0 Z0\n", "Z2.\nG90\nG1 Z.1 F5.\nG0 Z1.\n"},
		{"not down in machine coordinates", "knee-mill", "", "1", "Z2.\nG53 G0 Z0\nX1.\n", "Z2.\nX1.\n"},
		{"the change of the machine where the tool stands high enough", "knee-mill", "", "1", "Z2.\nG91 G28 Z0\nG90\nT1 M6\n", "Z2.\nG90\nT1 M6\n"},
		{"and where it does not", "knee-mill", "", "1", "Z.5\nG91 G28 Z0\nG90\nT1 M6\n", "Z.5\nZ1.\nG90\nG0 Z2.\nT1 M6\n"},
		{"to the true place", "bed-mill", noG28, "", "Z.5\nG91 G28 Z0\nG90\nG0 X1.\n", "Z.5\nG53 Z0.\nG90\nG0 X1.\n"},
		{"also where a level is named", "bed-mill", noG28, "1", "Z2.\nG91 G28 Z0\nG90\nG0 X1.\n", "Z2.\nG53 Z0.\nG90\nG0 X1.\n"},
		{"by a point on the way", "bed-mill", noG28, "", "G28 Y1.\nX1.\n", "Y1.\nG53 Y20.\nX1.\n"},
		{"two axes", "bed-mill", noG28, "", "G91 G28 X0 Y0\nG90\n", "G53 X0. Y20.\nG90\n"},
		{"and no more for the change", "bed-mill", noG28, "", "Z2.\nG91 G28 Z0\nG90\nT1 M6\n", "Z2.\nG53 Z0.\nG90\nT1 M6\n"},
		{"to a level of the work on a machine whose home is not known: the change goes up", "bed-mill", noG28 + "|no home", "1",
			"Z.5\nG91 G28 Z0\nG90\nT1 M6\n", "Z.5\nZ1.\nG90\nG53 G0 Z0.\nT1 M6\n"},
		{"from a place that has been added up", "knee-mill", "", "4", "Z0\nG91\nY.1\nY.1\nY.1\nG90\nY.3\nG53 G0 Z0\nX1.\n", "Z0\nG91\nY.1\nY.1\nY.1\nG90\nY.3\nG0 Z4.\nX1.\n"},
		{"two tools without their lengths", "bed-mill", noG43, "", "G53 G0 Z0\nT1 M6\nG0 X1. Y1.\nG43 H1 Z1.\nG53 G0 Z0\nT2 M6\nG0 X2. Y3.\nG43 H2 Z1.\n",
			"G53 G0 Z0\nT1 M6\nG0 X1. Y1.\nZ1.\nG53 G0 Z0\nT2 M6\nG0 X2. Y3.\nZ1.\n"},
		{"to where the length would bring it anyway", "bed-mill", noG43, "", "T1 M6\nG43 H1 G0 Z1.\nG53 G0 Z0\nG0 Z14.\nX1.\n",
			"G53 G0 Z0.\nT1 M6\nG0 Z1.\nG53 G0 Z0\nG0 Z14.\nX1.\n"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			set := strings.Split(test.set, "|")
			noHome := strings.HasSuffix(test.set, "no home")
			if noHome {
				set = set[:len(set)-1]
			}
			if test.set == "" {
				set = nil
			}
			to, err := profiles.FindWith(test.to, nil, set)
			if err != nil {
				t.Fatal(err)
			}
			if noHome {
				z := *to.Axes.Z
				z.Home, to.Axes.Z = nil, &z
			}
			opt := Options{From: base(t, "lenient"), To: to}
			if strings.Contains(test.set, noG43) {
				opt.From = machine(t, "bed-mill")
			}
			if test.home != "" {
				level, _ := strconv.ParseFloat(test.home, 64)
				opt.Home[2] = mm(25.4 * level)
			}
			got, r, err := adapted(t, "%\nG20 G90\nG0 X0 Y0\n"+test.source+"M30\n%\n", opt)
			if err != nil {
				t.Fatalf("%v\n%s", err, got)
			}
			if !r.Written {
				t.Fatalf("left: %+v", r.Left)
			}
			_, got, _ = strings.Cut(got, "X0 Y0\n")
			if got = strings.TrimSuffix(got, "M30\n%\n"); got != test.want {
				t.Errorf("got\n%s\nwant\n%s", got, test.want)
			}
		})
	}
}

// The proof takes no way down for a way home.
func TestProveHoming(t *testing.T) {
	tests := []struct {
		name, source, out string
		proven            bool
	}{
		{"up", "Z.5\nG91 G28 Z0\nG90\nX1.\n", "Z.5\nZ1.\nX1.\n", true},
		{"left out below the level", "Z.5\nG91 G28 Z0\nG90\nX1.\n", "Z.5\nX1.\n", false},
		{"left out above it", "Z2.\nG91 G28 Z0\nG90\nX1.\n", "Z2.\nX1.\n", true},
		{"down", "Z2.\nG91 G28 Z0\nG90\nX1.\n", "Z2.\nZ1.\nX1.\n", false},
		{"beside the level", "Z.5\nG53 G0 Z0\nX1.\n", "Z.5\nZ.9\nX1.\n", false},
	}
	for _, test := range tests {
		_, d := prove(t, base(t, "lenient"), machine(t, "knee-mill"), "G20 G90\nG0 X0. Y0.\n"+test.source, "G70 G90\nG0 X0. Y0.\n"+test.out,
			Allowed{Path: 0.001, Homed: true, Home: Place{2: mm(25.4)}})
		if (d == nil) != test.proven {
			t.Errorf("%s: %v", test.name, d)
		}
	}
}
