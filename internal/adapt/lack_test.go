package adapt

import (
	"strings"
	"testing"

	"tapefit/rules"
)

// What the machine has nothing for is told with what to do, and nothing is written.
func TestLacks(t *testing.T) {
	tests := []struct{ name, from, to, source, say, decide string }{
		{"mist", "lenient", "bed-mill codes.M7=refused", "G0 X1. M7\nM9\n", "no code for mist", "--leave-out M7; or write M8 (flood)"},
		{"any coolant", "lenient", "bed-mill codes.M7=refused|codes.M8=refused|codes.M9=refused|tools.change_sequence=[]", "G0 X1. M8\nM9\n", "no code for flood", "--leave-out M8; else"},
		{"a spindle that stops in place", "lenient", "knee-mill", "S700 M3\nM19\nG0 X1.\n", "M19 stops the spindle in place", "--leave-out M19: the spindle is then stopped with M5"},
		{"an optional stop", "lenient", "bed-mill codes.M1=refused", "M1\n", "no code for optional-stop", "--leave-out M1"},
		{"a rotary axis", "lenient", "bed-mill", "G0 X1. A90.\nG1 A180. F360.\n", "moves A", "one place from beginning to end"},
		{"a tool that nobody can call for", "lenient", "bed-mill words.accepted=DFGHIJKLMNPQRSXYZ|tools.change_sequence=[]", "T1 M6\n", "no T words", "tools.change_sequence"},
		{"a dwell", "lenient", "bed-mill codes.G4=refused", "G4 P1.\n", "no code for a dwell", "where the cut does not need it"},
		{"a tool length", "lenient", "bed-mill", "G10 L1 P1 Z4.5\n", "other than work offsets", "by hand"},
		{"a work offset", "lenient", "bed-mill codes.G10=refused|codes.G20=refused|start.units=mm", "G10 L2 P1 Z4.5\n", "is not taken by bed-mill", "another way"},
		{"a tool length, in other units", "lenient", "bed-mill codes.G20=refused|start.units=mm", "G10 L1 P1 Z4.5\n", "other than work offsets", "by hand"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got, r, err := adapted(t, "%\nG20 G90 G94\nG0 X0 Y0 Z1.\n"+test.source+"M30\n%\n", Options{From: with(t, test.from), To: with(t, test.to)})
			if err != nil {
				t.Fatalf("%v\n%s", err, got)
			}
			for _, l := range r.Left {
				if l.Level == rules.Error && strings.Contains(l.What, test.say) && strings.Contains(l.Decide, test.decide) && !r.Written {
					return
				}
			}
			t.Errorf("written: %v, left: %+v", r.Written, r.Left)
		})
	}
}

// What a person wants left out is left out, and the proof knows it.
func TestLeaveOut(t *testing.T) {
	tests := []struct {
		name, to     string
		code         int // by tenths
		source, want string
	}{
		{"mist", "bed-mill codes.M7=refused", 70, "G0 X1. M7\nX2. M9\n", "G0 X1.\nX2. M9\n"},
		{"mist beside flood", "bed-mill codes.M7=refused", 70, "M7\nG0 X1. M8\nX2. M9\n", "G0 X1. M8\nX2. M9\n"},
		{"an optional stop", "bed-mill codes.M1=refused", 10, "G0 X1. M1\nX2.\n", "G0 X1.\nX2.\n"},
		{"a spindle that stops in place stops", "knee-mill", 190, "S700 M3\nM19\nX1.\nM3\nX2.\nM5\n", "S700 M3\nM5\nX1.\nM3\nX2.\nM5\n"},
		{"and where the machine has a code for it", "bed-mill codes.M19=spindle-orient", 190, "S700 M3\nM19\nX1.\n", "M41\nS700 M3\nM5\nX1.\n"},
		{"a tool made ready, where there is no changer", "bed-mill words.accepted=DFGHIJKLMNPQRSXYZ", 0, "T2\nX1.\n", "X1.\n"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			const head = "%\nG20 G90 G94\nG0 X0 Y0 Z1.\n"
			got, r, err := adapted(t, head+test.source+"M30\n%\n", Options{
				From: with(t, "lenient"), To: with(t, test.to), LeaveOut: map[int]bool{test.code: true},
			})
			if err != nil {
				t.Fatalf("%v\n%s", err, got)
			}
			if !r.Written {
				t.Fatalf("not written: %+v", r.Left)
			}
			got = strings.Replace(got, "G70", "G20", 1)
			got = strings.TrimSuffix(strings.TrimPrefix(strings.Replace(got, " G94", "", 1), strings.Replace(head, " G94", "", 1)), "M30\n%\n")
			if got != test.want {
				t.Errorf("got\n%s\nwant\n%s", got, test.want)
			}
		})
	}
}
