package interp

import (
	"fmt"
	"strings"
	"testing"
)

// #0 is always vacant, and so is what was never set: common practice of controls with
// local parameters.
func TestVacantParameters(t *testing.T) {
	check(t, []run{
		{"counts as zero", parametric, "G0 X[#11+1]", "traverse X1"},
		{"tested before it is used", parametric, "IF [#24 EQ #0] GOTO 9\nG0 X#24\nN9 G0 X5", "traverse X5"},
		{"set, if to zero", parametric, "#24=0\nIF [#24 EQ #0] GOTO 9\nG0 X2\nN9 G0 X5", "traverse X2\ntraverse X5"},
		{"tested the other way round", parametric, "#1=3\nIF [#0 NE #1] THEN #2=7\nIF [#0 NE #3] THEN #2=8\nG0 X#2", "traverse X7"},
		{"made vacant again", parametric, "#1=3\n#1=#0\nIF [#1 EQ #0] GOTO 9\nG0 X1\nN9 G0 X2", "traverse X2"},
		{"of another by a computed number", parametric, "#1=30\nIF [#[#1+1] EQ #0] THEN #31=4\nG0 X#31", "traverse X4"},
		{"the argument that is missing", parametric, "G65 P5 X2\nM30\nO5\nG0 X#24\nIF [#25 EQ #0] THEN #25=7\nY#25\nZ#26\nM99", `
			traverse X2
			traverse Y7
			traverse Z0
			stop end`},
		{"a repeat begins with the same", parametric, "G65 P5 L2\nM30\nO5\nIF [#1 EQ #0] GOTO 4\nG0 X9\nN4 #1=1\nG0 X#1\nM99", "traverse X1\ntraverse X1\nstop end"},
		{"without local parameters there is no #0", "bed-mill", "G0 X#0", "! expression X#0"},
	})
}

// Which are read before anything has set them, and what would have.
func TestVacantIsTold(t *testing.T) {
	for _, c := range []struct{ program, want string }{
		{"#1=60\nG0 X[#11/2]", "2:#11"},
		{"G0 X[#1+#2]", "1:#1"},
		{"IF [#24 EQ #0] GOTO 9\nN9 G0 X5", ""},
		{"IF [#24 EQ 0] GOTO 9\nN9 G0 X5", "1:#24"},
		{"#1=#0\nG0 X#1", "2:#1"},
		{"#1=[#1+1]\n#1=[#1+1]", "1:#1"},
		{"G65 P5 X2\nM30\nO5\nG0 X#24\nM98 P6\nM99\nO6\nZ#26\nM99", "8:#26 Z"},
		{"G65 P5 X2\nM30\nO5\nG0 X#30\nY#500\nM99", "4:#30 5:#500"},
		{"G0 X#5221", ""}, // a place that the control keeps: another fault
	} {
		var got []string
		in := New(machine(t, parametric), Options{}, Visitor{Fault: func(f *Fault) {
			if f.Kind != ParamVacant {
				return
			}
			text := fmt.Sprintf("%d:#%g", f.Block.Line, f.A)
			if f.Missing != 0 {
				text += " " + string(f.Missing)
			}
			got = append(got, text)
		}})
		if _, err := in.Run(strings.NewReader(c.program), int64(len(c.program))); err != nil {
			t.Fatal(err)
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("%q: %q, want %q", c.program, got, c.want)
		}
	}
}
