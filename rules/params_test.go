package rules

import "testing"

func TestParameterFindings(t *testing.T) {
	const start = "%\nO1\nG21 G17 G40 G49 G80 G90 G94\n"
	findingsTable{
		{"one set, another used", "parametric", start + "#1=60.\nG0 X[#11/2]\nY[#11/2]\nM30\n%\n", []string{"warning parameter-never-set 5:6 x2 to 6:6"}},
		{"an argument missing in the call", "parametric", start + "G65 P300 X10. F100.\nM30\nO300\nG0 X#24\nZ#26 F#9\nM99\n%\n", []string{"warning parameter-never-set 8:2"}},
		{"an argument that may be missing", "parametric", start + "G65 P300 X10. F100.\nM30\nO300\nIF [#26 EQ #0] THEN #26=-2.\nG0 X#24\nZ#26 F#9\nM99\n%\n", nil},
		{"what the shop keeps in the control: one note", "parametric", start + "G0 X#501 Y#502\nX[#501+10]\nM30\n%\n", []string{"note parameter-never-set 4:5 x3 to 5:7"}},
		{"no local ones: what was left in it", "bed-mill", "%\nO1\n#1=2.\nG0 X#11\nM30\n%\n", []string{"warning parameter-never-set 4:5"}},
		{"places that the control keeps", "rs274ngc", "G0 X#5221\nM2\n", []string{"warning not-interpreted 1:5"}},

		{"no return before the end of the file", "bed-mill", "%\nO1\nG0 X0\nM98 P300\nX1.\nM98 P300\nM30\nO300\nG0 Y1.\n%\n", []string{"error return-missing 8:1"}},
		{"no return before the next subprogram", "bed-mill", "%\nO1\nG0 X0\nM98 P300\nM98 P400\nM30\nO300\nG0 Y1.\nO400\nG0 Y2.\nM99\n%\n", []string{"error return-missing 7:1"}},
		{"a return in the midst, and the end not reached", "parametric", start + "M98 P300\nM30\nO300\n#1=1\nIF [#1 EQ 1] GOTO 5\nN4 G0 X1.\nGOTO 6\nN5 G0 X2.\nM99\nN6 X3.\n%\n", nil},
		{"the end within a subprogram", "bed-mill", "%\nO1\nG0 X0\nM98 P300\nM30\nO300\nG0 Y1.\nM30\n%\n", []string{"warning unreachable-blocks 5:1"}},
		{"not called", "bed-mill", "%\nO1\nG0 X0\nM30\nO300\nG0 Y1.\n%\n", nil},
	}.run(t)
}
