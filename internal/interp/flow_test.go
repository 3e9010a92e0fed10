package interp

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"tapefit/parser"
	"tapefit/profiles"
)

const (
	parametric = "parametric"
	macroMill  = "../../testdata/flow/macro-mill.toml"
	macroLathe = "../../testdata/flow/macro-lathe.toml"
)

// profile loads a profile that is written in the test.
func profile(t testing.TB, text string) *profiles.Machine {
	t.Helper()
	file := filepath.Join(t.TempDir(), "test-mill.toml")
	const head = "name = \"test-mill\"\ntitle = \"for a test\"\nextends = \"parametric\"\n"
	if err := os.WriteFile(file, []byte(head+text), 0o600); err != nil {
		t.Fatal(err)
	}
	m, err := profiles.Load(file)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// changer is a mill with a tool-change program.
func changer(t testing.TB, program string) *profiles.Machine {
	t.Helper()
	return profile(t, `kind = "mill"
[spindle]
speed = ["40 rpm", "4000 rpm"]
[axes]
x = { travel = ["0 mm", "500 mm"], rapid = "5 m/min", acceleration = "1 m/s^2" }
y = { travel = ["0 mm", "500 mm"], rapid = "5 m/min", acceleration = "1 m/s^2" }
z = { travel = ["0 mm", "500 mm"], rapid = "5 m/min", acceleration = "1 m/s^2" }
[tools]
pockets = 8
change_program = """
`+program+`
"""
`)
}

// The forms and their meaning are common practice: no standard has them.
func TestJumps(t *testing.T) {
	check(t, []run{
		{"forward", parametric, "G0 X1\nGOTO 20\nX2\nN20 X3\nM30", `
			traverse X1
			traverse X3
			stop end`},
		{"back, until a count is reached", parametric, "#1=0\nN10 #1=[#1+1]\nG0 X#1\nIF [#1 LT 3] GOTO 10\nX9", `
			traverse X1
			traverse X2
			traverse X3
			traverse X9`},
		{"forward comes before back", parametric, "G0\nGOTO 5\nN10 X1\nGOTO 99\nN5 X2\nGOTO 10\nX3\nN10 X4\nN99 X5", `
			traverse X2
			traverse X4
			traverse X5`},
		{"back to the first of two, where none stands ahead", parametric, "#1=0\nN7 #1=[#1+1]\nN7 G0 X#1\nIF [#1 LT 2] GOTO 7\nX9", `
			traverse X1
			traverse X2
			traverse X9`},
		{"a computed number", parametric, "#3=20\nG0\nGOTO [#3+10]\nX1\nN20 X2\nN30 X3", "traverse X3"},
		{"a number from a parameter", parametric, "#3=20\nG0\nGOTO #3\nX1\nN20 X2", "traverse X2"},
		{"leading zeros of N mean nothing", parametric, "G0\nGOTO 20\nX1\nN0020 X2", "traverse X2"},
		{"a condition that does not hold", parametric, "G0\nIF [1 GT 2] GOTO 20\nX1\nN20 X2", "traverse X1\ntraverse X2"},
		{"THEN sets a parameter", parametric, "#1=5\nIF [#1 GE 5] THEN #2=7\nIF [#1 GT 5] THEN #2=8\nG0 X#2", "traverse X7"},
		// The main pass stands at the last GOTO; from there back, then over it forward.
		{"from a block read again over the place where reading stands", parametric, `
			G0
			GOTO 30
			N10 X10
			GOTO 40
			X1
			N30 X30
			GOTO 10
			X2
			N40 X40
			M30
			X3`, `
			traverse X30
			traverse X10
			traverse X40
			stop end`},
		{"an end that is reached by going back", parametric, "G0\nGOTO 5\nN1 X1\nM30\nN5 X5\nGOTO 1\nX9", `
			traverse X5
			traverse X1
			stop end`},
		{"over a whole jungle", parametric, "G0\nGOTO 4\nN1 X1\nGOTO 3\nN2 X2\nGOTO 5\nN3 X3\nGOTO 2\nN4 X4\nGOTO 1\nN5 X5\nM30", `
			traverse X4
			traverse X1
			traverse X3
			traverse X2
			traverse X5
			stop end`},
		{"to a block behind the end code", parametric, "G0\nGOTO 9\nM30\nN9 X9\nM30", "traverse X9\nstop end"},
		{"nowhere", parametric, "G0 X1\nGOTO 77\nX2\nG90 G21 G0 X3", `
			traverse X1
			! no jump
			traverse X3`},
		{"not into another program", parametric, "O1\nG0 X1\nGOTO 5\nG0 X2\nM30\nO2\nN5 X5\nM99", `
			traverse X1
			! no jump
			traverse X?
			stop end`},
		{"within a subprogram its own numbers", parametric, `
			O1
			N5 G0 X1
			M98 P2
			M30
			O2
			#500=[#500+1]
			GOTO 5
			X8
			N5 X5
			M99`, `
			traverse X1
			traverse X5
			stop end`},
		{"back within a subprogram", parametric, `
			M98 P2
			M30
			O2 G0
			N5 #500=[#500+1]
			X#500
			IF [#500 LT 3] GOTO 5
			M99`, `
			traverse X1
			traverse X2
			traverse X3
			stop end`},
		{"a number that is none", parametric, "G0\nGOTO 1.5\nG0 X1", "! expression\ntraverse X?"},
		{"a condition without a value", parametric, "G0\nIF [1/0] GOTO 5\nG90 G21 G0 X1\nN5 X2", "! expression\ntraverse X1\ntraverse X2"},
		{"words beside it", parametric, "G0 X1 GOTO 5\nX2\nN5 G0 X3", "! refused G0\ntraverse X3"},
		{"the number of the block beside it", parametric, "G0\nN1 GOTO 5\nX2\nN5 X3", "traverse X3"},
		{"refused where the profile has none", "rs274ngc", "G0 X1\nGOTO 5\nX2\nN5 G90 G21 G0 X3", `
			traverse X1
			! refused
			traverse X3`},
	})
}

func TestLoops(t *testing.T) {
	check(t, []run{
		{"while", parametric, "#1=1\nWHILE [#1 LE 3] DO 1\nG0 X#1\n#1=[#1+1]\nEND 1\nX9", `
			traverse X1
			traverse X2
			traverse X3
			traverse X9`},
		{"counted without brackets", parametric, "#1=1\nWHILE [#1 LE 3] DO 1\nG0 X#1\nIF [#1 EQ 2] THEN #1=#1+9*1\n#1=#1+1\nEND 1\nX-#1", `
			traverse X1
			traverse X2
			traverse X-12`},
		{"not once", parametric, "G0\nWHILE [1 GT 2] DO 1\nX1\nEND 1\nX9", "traverse X9"},
		{"one in another", parametric, `
			G0
			#1=1
			WHILE [#1 LE 2] DO 1
			#2=1
			WHILE [#2 LE 2] DO 2
			X#1 Y#2
			#2=[#2+1]
			END 2
			#1=[#1+1]
			END 1
			X9`, `
			traverse X1 Y1
			traverse X1 Y2
			traverse X2 Y1
			traverse X2 Y2
			traverse X9`},
		{"one behind another of the same number", parametric, "G0\n#1=0\nWHILE [#1 LT 1] DO 1\n#1=1\nX1\nEND 1\nWHILE [#1 LT 2] DO 1\n#1=2\nX2\nEND 1", `
			traverse X1
			traverse X2`},
		{"passed over with one of the same number in it", parametric, "G0\nWHILE [0] DO 1\nX1\nWHILE [0] DO 1\nX2\nEND 1\nX3\nEND 1\nX9", "traverse X9"},
		{"without a condition, left by a jump", parametric, "G0\n#1=0\nDO 1\n#1=[#1+1]\nX#1\nIF [#1 EQ 3] GOTO 20\nEND 1\nX8\nN20 X9", `
			traverse X1
			traverse X2
			traverse X3
			traverse X9`},
		{"out of two and in again", parametric, `
			G0
			N1 #1=[#1+1]
			WHILE [#1 LT 9] DO 1
			WHILE [#1 LT 9] DO 2
			X#1
			GOTO 5
			END 2
			END 1
			N5 X5
			IF [#1 LT 2] GOTO 1
			X9`, `
			traverse X1
			traverse X5
			traverse X2
			traverse X5
			traverse X9`},
		{"a jump within a loop stays in it", parametric, "G0\n#1=0\nWHILE [#1 LT 2] DO 1\n#1=[#1+1]\nGOTO 5\nX8\nN5 X#1\nEND 1\nX9", `
			traverse X1
			traverse X2
			traverse X9`},
		{"a jump to the number that is the loop's too", parametric, "G0\nDO 1\nX5\nGOTO 1\nEND 1\nN1 X9\nIF [0] THEN #1=1", "traverse X5\ntraverse X9"},
		{"in a subprogram, repeated", parametric, `
			M98 P2 L2
			M30
			O2 G0
			#1=0
			WHILE [#1 LT 2] DO 1
			#1=[#1+1]
			X#1
			END 1
			M99`, `
			traverse X1
			traverse X2
			traverse X1
			traverse X2
			stop end`},
		{"a call in a loop", parametric, `
			G0
			WHILE [#500 LT 2] DO 1
			M98 P2
			END 1
			X9
			M30
			O2
			#500=[#500+1]
			X#500
			M99`, `
			traverse X1
			traverse X2
			traverse X9
			stop end`},
		{"returned from within a loop", parametric, `
			G0
			M98 P2
			END 1
			G90 G21 G0 X9
			M30
			O2
			DO 1
			X1
			M99
			END 1`, `
			traverse X1
			! loop
			traverse X9
			stop end`},
		{"END without DO", parametric, "G0 X1\nEND 1\nG90 G21 G0 X2", "traverse X1\n! loop\ntraverse X2"},
		{"DO without END", parametric, "G0 X1\nDO 1\nG90 G21 G0 X2", "traverse X1\n! loop\ntraverse X2"},
		{"END of another program is none", parametric, "O1\nDO 1\nG90 G21 G0 X2\nM30\nO2\nEND 1\nM99", "! loop\ntraverse X2\nstop end"},
		{"loops that cross", parametric, "G0\n#1=0\nWHILE [#1 LT 1] DO 1\n#1=1\nWHILE [#1 LT 1] DO 2\nEND 1\nEND 2\nG90 G21 G0 X9", `
			! loop
			! loop
			traverse X9`},
		{"a computed label", parametric, "DO #1\nG90 G21 G0 X1", "! loop\ntraverse X1"},
		{"into a loop from outside", parametric, "G0\nGOTO 5\nDO 1\nX1\nN5 X5\nEND 1\nG90 G21 G0 X9", "traverse X5\n! loop\ntraverse X9"},
		{"a condition without a value is not run", parametric, "G0\nWHILE [1/0] DO 1\nX1\nEND 1\nG90 G21 G0 X9", "! expression\ntraverse X9"},
	})
}

// Letters and parameters by common practice.
func TestArguments(t *testing.T) {
	letters := "ABCIJKDEFHMQRSTUVWXYZ"
	numbers := []int{1, 2, 3, 4, 5, 6, 7, 8, 9, 11, 13, 17, 18, 19, 20, 21, 22, 23, 24, 25, 26}
	for i, letter := range letters {
		program := fmt.Sprintf("G65 P7 %c%d.5\nM30\nO7\nG0 X#%d Y#33\nM99\n", letter, i+1, numbers[i])
		if want, got := fmt.Sprintf("traverse X%d.5 Y0\nstop end", i+1), ops(t, machine(t, parametric), program); got != want {
			t.Errorf("%c: got %s, want %s", letter, got, want)
		}
	}
	check(t, []run{
		{"each call has its own, commons are common", parametric, `
			#1=1 #100=1
			G65 P7 A5
			G0 X#1 Y#100
			M30
			O7
			G0 X#1 Y#100
			#1=6 #2=7 #100=2
			G65 P8
			X#1 Y#2
			M99
			O8
			X#1 Y#2
			#1=8
			M99`, `
			traverse X5 Y1
			traverse X0 Y0
			traverse X6 Y7
			traverse X1 Y2
			stop end`},
		{"a plain call shares its caller's", parametric, `
			#1=1
			M98 P7
			G0 X#1
			M30
			O7
			#1=[#1+1]
			M99`, "traverse X2\nstop end"},
		{"each repeat begins with the arguments", parametric, "G65 P7 L2 A5\nM30\nO7 G0\nX#1 Y#2\n#1=9 #2=9\nM99", `
			traverse X5 Y0
			traverse X5 Y0
			stop end`},
		{"arguments are computed by the caller", parametric, "#1=3\nG65 P7 A[#1*2] B#1\nM30\nO7 G0\nX#1 Y#2\nM99", "traverse X6 Y3\nstop end"},
		{"without a program", parametric, "G65 A5", "! missing G65 without P"},
		{"beside another code", parametric, "G0 G65 P7 X5\nM30\nO7\nG1 X#24 F100\nM99", "! conflict G0\nfeed X5 at 100\nstop end"},
		{"an argument without a value: no call", parametric, "G65 P7 X[1/0]\nG90 G21 G0 X1\nM30\nO7\nG0 X#24\nM99", "! expression X[1/0]\ntraverse X1\nstop end"},
		{"too deep", parametric, "G65 P7\nM30\nO7\nG65 P7\nM99", "! too deep P7\nstop end"},
		{"not there", parametric, "G65 P7\nM30", "! no subprogram P7\nstop end"},
		{"a loop by arguments", parametric, `
			G65 P7 X10 I5 K3
			M30
			O7 G0
			WHILE [#6 GT 0] DO 1
			X#24
			#24=[#24+#4]
			#6=[#6-1]
			END 1
			M99`, `
			traverse X10
			traverse X15
			traverse X20
			stop end`},
	})
}

// Turning codes beside flow: words of a call are no distances, a contour may
// stand in a loop, and nothing leads out of one. X words are diameters.
func TestFlowInTurning(t *testing.T) {
	check(t, []run{
		{"U and W are arguments", macroLathe, "G21 G0 X10 Z10\nG65 P7 U3 W4\nM30\nO7\nX#21 Z#23\nM99", `
			traverse X5 Z10
			traverse X1.5 Z4
			stop end`},
		{"a contour in a loop", macroLathe, `
			G21 G94 G0 X50 Z5
			WHILE [#1 LT 2] DO 1
			G70 P10 Q20
			N10 G0 X20 Z5
			N20 G1 Z-10 F100
			#1=[#1+1]
			END 1
			M30`, `
			traverse X25 Z5
			traverse X10 Z5
			feed Z-10 at 100
			traverse X25 Z5
			traverse X10 Z5
			feed Z-10 at 100
			traverse X25 Z5
			stop end`},
		{"a jump in a contour", macroLathe, "G21 G94 G0 X50 Z5\nG70 P10 Q20\nN10 G0 X20 Z5\nGOTO 20\nN20 G1 Z-10 F100\nM30", `
			traverse X25 Z5
			traverse X10 Z5
			! not interpreted
			feed Z? at 0
			traverse X25 Z5
			stop end`},
		{"a call in a contour", macroLathe, "G21 G94 G0 X50 Z5\nG70 P10 Q20\nN10 G0 X20 Z5\nM98 P7\nN20 G1 Z-10 F100\nM30\nO7\nM99", `
			traverse X25 Z5
			traverse X10 Z5
			! not interpreted M98
			feed Z-10 at 100
			traverse X25 Z5
			stop end`},
	})
}

func TestToolChangeProgram(t *testing.T) {
	check(t, []run{
		{"in place of the change", macroMill, "G21 G0 Z10\nM3 S500\nM8\nT3 M6\nX1\nT3 M6\nM30", `
			traverse Z10
			spindle cw 500
			coolant flood=true mist=false
			coolant flood=false mist=false
			spindle off 500
			traverse Z457.2
			traverse X-304.8 Y-183.2
			tool 3
			traverse X1
			tool 3
			stop end`},
	})
	for _, c := range []struct{ name, profile, program, want string }{
		{"without the code: the change comes last", "G0 X5\nM5", "T1 M6", "traverse X5\ntool 1"},
		{"the rest of the block comes behind", "G0 X5\nM6\nX6", "G1 X9 F100 T1 M6", "traverse X5\ntool 1\ntraverse X6\nfeed X9 at 100"},
		{"a loop in it", "#1=0\nWHILE [#1 LT 2] DO 1\n#1=[#1+1]\nG0 X#1\nEND 1\nM6", "#1=7\nT1 M6\nX#1", "traverse X1\ntraverse X2\ntool 1\ntraverse X7"},
		{"a program of its own", "M98 P1\nM99\nO1\nG0 X5\nM99", "T1 M6", "traverse X5\ntool 1"},
		{"in a subprogram", "G0 X5", "M98 P1\nX8\nM30\nO1\nT1 M6\nX7\nM99", "traverse X5\ntool 1\ntraverse X7\ntraverse X8\nstop end"},
		{"a refused code", "G0 X5\nG73", "T1 M6\nG0 X1", "traverse X5\n! tool change M6\ntool 1\ntraverse X1"},
		{"a jump to nowhere", "GOTO 5", "T1 M6\nG0 X1", "! tool change M6\ntool -1\ntraverse X?"},
		{"it ends the program", "M30", "T1 M6 G0 X1\nG0 X2", "stop end"},
		{"no tool was named", "M6", "M6", "! missing M6 without T\ntool -1"},
		{"it runs away", "DO 1\nEND 1", "T1 M6\nG0 X1", "! tool change M6"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := ops(t, changer(t, c.profile), c.program+"\n"); got != c.want {
				t.Errorf("got:\n%s\nwant:\n%s", got, c.want)
			}
		})
	}
}

// What a tool-change program does stands at the code that runs it.
func TestToolChangePlace(t *testing.T) {
	m := changer(t, "G0 X5\nG4 P1\nX6 G73")
	const program = "G0 X0\nX1 T1 M6\n"
	seen := 0
	at := func(b *parser.Block, word int) {
		if b.Line == 2 && string(b.Raw[b.Words[word].Pos:b.Words[word].End]) == "M6" {
			seen++
		}
	}
	in := New(m, Options{}, Visitor{
		Op: func(op *Op) { at(op.Block, op.Word) },
		Fault: func(f *Fault) {
			at(f.Block, f.Word)
			if f.A != 3 || f.Cause != `"G73": the cycle is not accepted by the control` {
				t.Errorf("fault %+v", *f)
			}
		},
	})
	if _, err := in.Run(strings.NewReader(program), int64(len(program))); err != nil {
		t.Fatal(err)
	}
	if seen != 4 { // traverse, dwell, fault, change
		t.Errorf("%d of 4 stand at M6", seen)
	}
}

func TestCheckProfile(t *testing.T) {
	err := CheckProfile(changer(t, "M5\nG0 X"))
	const want = "test-mill.toml:13: tools.change_program: line 2 of it, column 4: address X has no number"
	if err == nil || !strings.Contains(err.Error(), want) {
		t.Errorf("got %v, want %s", err, want)
	}
	if err := CheckProfile(machine(t, macroMill)); err != nil {
		t.Error(err)
	}
}

// A runaway is found at what turns: the loop, the jump or the call.
func TestRunawayPlace(t *testing.T) {
	for _, c := range []struct{ program, want string }{
		{"G0\n\nDO 1\nX1\nX2\nX3\nEND 1\n", "3: DO 1"},
		{"G0\nX1\nN5 X2\nX3\nGOTO 5\n", "5: GOTO 5"},
		{"G0\nN5 X2\nIF [1 EQ 1] GOTO 5\nM30\n", "3: IF [1 EQ 1] GOTO 5"},
		{"G0\nN5 X2\n#1=0\nWHILE [#1 LT 10] DO 2\n#1=[#1+1]\nEND 2\nGOTO 5\n", "7: GOTO 5"},
		{"G0\nDO 1\n#1=0\nWHILE [#1 LT 10] DO 2\n#1=[#1+1]\nX#1\nEND 2\nEND 1\n", "2: DO 1"},
		{"DO 1\nM98 P2\nEND 1\nM30\nO2\nM99\n", "1: DO 1"},
		{"M98 P2\nM30\nO2 G0\nX1\nDO 3\nX2\nEND 3\nM99\n", "5: DO 3"},
		{"G0\nM98 P2 L99999\nM30\nO2\nX1\nM99\n", "2: M98 P2 L99999"},
		{"GOTO 1\nN1 GOTO 2\nN2 GOTO 1\n", "3: GOTO 1"},
		{"G0 X0 Y0 Z0\nG91\nG81 X1 Z-1 R1 L99999 F10\n", "3: G81"},
	} {
		var got []string
		m := profile(t, "")
		in := New(m, Options{MaxBlocks: 5000}, Visitor{Fault: func(f *Fault) {
			if f.Kind == Runaway {
				got = append(got, fmt.Sprintf("%d: %s", f.Block.Line, f.Block.Text(f.Pos, f.End)))
			}
		}})
		if _, err := in.Run(strings.NewReader(c.program), int64(len(c.program))); err != nil {
			t.Fatal(err)
		}
		if len(got) != 1 || got[0] != c.want {
			t.Errorf("%q: got %q, want %q", c.program, got, c.want)
		}
	}
}

// A runaway that does nothing but look for what is not there ends too.
func TestSearchesAreOnTheBudget(t *testing.T) {
	var b strings.Builder
	for i := range 20000 {
		fmt.Fprintf(&b, "GOTO %d\n", 100000+i)
	}
	faults := map[FaultKind]int{}
	in := New(machine(t, parametric), Options{MaxBlocks: 1_000_000}, Visitor{Fault: func(f *Fault) { faults[f.Kind]++ }})
	if _, err := in.Run(strings.NewReader(b.String()), int64(b.Len())); err != nil {
		t.Fatal(err)
	}
	if faults[Runaway] != 1 || faults[JumpMissing] > 100 {
		t.Errorf("%v", faults)
	}
}

// 20,000 loops one in the other: each DO is paired once, what nests too deep is a
// fault, and the budget is not spent on looking.
func TestDeepLoops(t *testing.T) {
	const deep = 20000
	for _, program := range []string{
		strings.Repeat("DO 1\n", deep),
		strings.Repeat("WHILE [1] DO 2\n", deep) + strings.Repeat("END 2\n", deep),
	} {
		faults := map[FaultKind]int{}
		in := New(machine(t, parametric), Options{MaxBlocks: 20 * deep}, Visitor{Fault: func(f *Fault) { faults[f.Kind]++ }})
		if _, err := in.Run(strings.NewReader(program), int64(len(program))); err != nil {
			t.Fatal(err)
		}
		if faults[LoopUnmatched] < deep/2 || faults[Runaway] > 1 {
			t.Errorf("%.10q: %v", program, faults)
		}
	}
}

// Each block of the file is shown once in its order, however the program jumps.
func TestBlocksAreShownOnce(t *testing.T) {
	for _, program := range []string{
		"G0\nGOTO 30\nN10 X10\nGOTO 40\nX1\nN30 X30\nGOTO 10\nX2\nN40 X40\nM30\nX3\n",
		"DO 1\nX1\nEND 1\nX9\n",
		"%\nO1\nG65 P2 L3\nM30\nO2\nWHILE [#1 LT 3] DO 1\n#1=[#1+1]\nEND 1\nM99\n%\nbehind\n",
		"N1 X1\nM98 P1\nGOTO 1\n\n\nX2",
	} {
		var lines []int
		in := New(machine(t, parametric), Options{MaxBlocks: 500}, Visitor{Block: func(b *parser.Block) { lines = append(lines, b.Line) }})
		n, err := in.Run(strings.NewReader(program), int64(len(program)))
		if err != nil {
			t.Fatal(err)
		}
		want := make([]int, n)
		for i := range want {
			want[i] = i + 1
		}
		if !slices.Equal(lines, want) || n != strings.Count(strings.TrimSuffix(program, "\n"), "\n")+1 {
			t.Errorf("%q: %d blocks, shown %v", program, n, lines)
		}
	}
}

// 10,000 levels of calls, each a program of its own that counts them, and a
// machine that allows one less: a finding, a bounded stack and little memory.
func TestDeepCalls(t *testing.T) {
	const levels = 10000
	var b strings.Builder
	b.WriteString("G65 P1 A1\nM30\n")
	for i := 1; i < levels; i++ {
		fmt.Fprintf(&b, "O%d\n#2=[#1+1]\nG65 P%d A#2\nM99\n", i, i+1)
	}
	fmt.Fprintf(&b, "O%d\nG0 X#1\nM99\n", levels)
	for _, c := range []struct {
		allowed int
		want    string
	}{
		{levels, "traverse X10000\nstop end"},
		{levels - 1, "! too deep P10000\nstop end"},
	} {
		m := profile(t, fmt.Sprintf("[block]\nsubprograms = %d\n", c.allowed))
		var before, behind runtime.MemStats
		runtime.ReadMemStats(&before)
		got := ops(t, m, b.String())
		runtime.ReadMemStats(&behind)
		if got != c.want {
			t.Errorf("%d levels allowed: got %s", c.allowed, got)
		}
		if grown := int64(behind.StackSys) - int64(before.StackSys); grown > 1<<20 {
			t.Errorf("the stack has grown by %d bytes", grown)
		}
		if grown := int64(behind.HeapSys) - int64(before.HeapSys); grown > 64<<20 {
			t.Errorf("the heap has grown by %d bytes", grown)
		}
	}
}

func TestDeepBrackets(t *testing.T) {
	const deep = 10000
	program := "G0 X" + strings.Repeat("[", deep) + "1" + strings.Repeat("]", deep) + "\nX" + strings.Repeat("#", deep) + "1\n" +
		"WHILE " + strings.Repeat("[", deep) + "1" + strings.Repeat("]", deep) + " DO 1\nG0 X1\n"
	got := ops(t, machine(t, parametric), program)
	if want := "! unreadable\n! unreadable\n! unreadable\ntraverse X1"; got != want {
		t.Errorf("got %s", got)
	}
}

// Forms of flow that one product alone has are one finding for each block that
// has them, and nothing of them is run.
func TestOtherFlowIsNotRead(t *testing.T) {
	for _, program := range []string{
		"IF [#1 EQ 0]\nENDIF",
		"IF [#1 EQ 0] THEN\nELSE",
		"WHILE [#1 LT 3]\nENDWHILE",
		"O100 WHILE [#1 LT 3]\nO100 ENDWHILE",
		"O100 SUB\nO100 ENDSUB",
		"O100 CALL [1]\nO100 RETURN",
		"REPEAT 3\nUNTIL [#1 EQ 3]",
	} {
		got := ops(t, machine(t, parametric), program+"\nG0 X1 Y1 Z1\n")
		if want := "! unreadable\n! unreadable\ntraverse X1 Y1 Z1"; got != want {
			t.Errorf("%q: got %s", program, got)
		}
	}
}

// A number table and a block each: parsing aside, turns of a loop allocate
// nothing.
func TestLoopsAllocateNothing(t *testing.T) {
	m := machine(t, parametric) // once: loading is not what is counted
	allocs := func(turns int) float64 {
		program := fmt.Sprintf("#1=0\nG0\nWHILE [#1 LT %d] DO 1\n#1=[#1+1]\nX#1 Y[#1*2]\nEND 1\nM30\n", turns)
		return testing.AllocsPerRun(3, func() {
			in := New(m, Options{}, Visitor{})
			if _, err := in.Run(strings.NewReader(program), int64(len(program))); err != nil {
				t.Fatal(err)
			}
		})
	}
	if few, many := allocs(10), allocs(10000); math.Abs(many-few) > 100 {
		t.Errorf("%v allocations with 10 turns, %v with 10000", few, many)
	}
}

func BenchmarkLoop(b *testing.B) {
	m := machine(b, parametric)
	const turns = 100000
	program := fmt.Sprintf("#1=0\nG1 F100\nWHILE [#1 LT %d] DO 1\n#1=[#1+1]\nX#1 Y[#1*2]\nX0\nY[#1+1]\nEND 1\nM30\n", turns)
	for b.Loop() {
		in := New(m, Options{}, Visitor{})
		if _, err := in.Run(strings.NewReader(program), int64(len(program))); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(3*turns*float64(b.N)/b.Elapsed().Seconds(), "moves/s")
}
