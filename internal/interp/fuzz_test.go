package interp

import (
	"math"
	"strings"
	"testing"

	"tapefit/parser"
	"tapefit/profiles"
)

// FuzzRun executes any bytes on machines of five kinds: nothing panics, every
// place that is said to be known is a number, every operation has its block, and
// the budget ends what loops.
func FuzzRun(f *testing.F) {
	for _, seed := range []string{
		"%\nO1\nG20 G90\nT2 M6\nM41\nS800 M3\nG0 X0 Y0\nG43 H2 Z1.\nG1 Z-0.1 F5.\nG2 X1. I0.5 F10.\nG83 X1 Z-1 R.1 Q.2\nG80\nM30\n%\n",
		"O1\nM98 P2 L3\nM30\nO2\n#1=[2**3]\nG91 X#1\nM99\n",
		"G93 G1 X1 F2\nG28 Z0\nG92 X5\nG92.2\nG10 L2 P1 X3\nG53 G0 Z0\n",
		"G18 G87 X1 Y2 Z3 R1 I1 J1 K1\nG41 D1 X1\nT3 M6\nG40\n",
		"G21 F9\nG0 X0 Y-20\nG41 D2 G1 Y0\nY20\nZ1\nX20\nG2 X30 Y10 I10 J0\nG3 X20 Y0 J-10 Z2\nM8\nG1 X0\nG42 D8 X9\nG18 X3\nG40 X-20\nM30\n",
		"G0 X0 Y0\nG93 G42 D1 G1 X99 F1\nG3 X99 I-99 F2\nG2 X100 I0.5 F3\nG1 X98 F1\nX99 F1\nG91 X#1 F1\nG41\nG40 G2 I1 F1\n",
		"G2 X1 R-5\nG3 I1\nG2 X0 Y0 I-99999 J3\nG70 G0 X12500\nG71 X9\n",
		"T0101\nG50 S1500\nG96 S300 M3\nG0 X2. Z.1\nG71 U.1 R.02\nG71 P1 Q2 U.02 W.01 F.01\nN1 G0 X1.\nG1 Z-1.\nG2 X1.5 Z-1.25 R.25\nN2 X2.\nG70 P1 Q2\n",
		"G33 Z-1 F.1\nG77 X1 Z-1 R.1\nG76 P020060 Q.01 R.01\nG76 X.9 Z-1. P.05 Q.02 F.1\nG74 R.1\nG74 X1 Z-1 P.1 Q.2\nU1 W1\n",
		"G73 U1 W1 R3\nG73 P1 Q2\nN1 G72 P1 Q2\nM24\nN2 G1 X1\nG72 W.1\nG72 P1 Q2\n",
		"#1=0\nWHILE[#1LT3]DO1\n#1=[#1+1]\nG0X#1\nIF[#1EQ2]GOTO5\nEND1\nN5M30\n",
		"DO 1\nDO 2\nGOTO 7\nEND 2\nEND 1\nN7 G65 P2 L3 A1 X#1 M5\nGOTO 9\nN8 M30\nN9 GOTO 8\nO2\n#1=[#1+#24]\nT#1 M6\nIF [#1 GT 3] THEN #500=#[#1]\nM99\n",
		"O1\nM98 P2\nEND 1\nO2\nDO 1\nGOTO #1\nDO 2\nEND 1\nEND 2\nG65 P2\nM99\n%\nN1\n",
		"X[1/0] Y[SQRT[-1]] (open\nG0 X1 ? Y2\nM98 P9\nGOTO 5\n",
		"G90\rG0 X1 Y2\rM98 P5\rM30\rO5\rG91 G1 X1 F9\rM99\r",
		"\xef\xbb\xbf%\r\nG0 X1\r\nM30\r\n%\r\n",
		"\x00\x00%\n\x00N1 G0\x00 X1\n\x00\x00%\n\x00",
		"G16 G90 X10 Y30\nG91 G81 Y60 Z-1 R1 L5\nG15\n#5221=7 G54 X#5161\n#5212=#5220\nG92.3\nG4 X5\nG38.2 Z-9\n",
		"G51 X1 P2\nG68 X0 Y1 R33\nG51.1 X4\nG3 X5 Y5 R9\nG2 I4\nG83 X1 Z-9 R-1 Q1\nG69\nG50 G50.1\nG51 I-1 J2 K3\nG2 X1 I1\n",
		"G0 A350\nA-0\nG91 A-9999\nG28 A3\nG53 A[1/3]\nG93 G1 A10 X1 F3\nM98 P30020\nO20\nG68 R1\nM99\n",
	} {
		f.Add([]byte(seed))
	}
	table, err := profiles.Load("../../testdata/machines/table-mill.toml")
	if err != nil {
		f.Fatal(err)
	}
	machines := []*profiles.Machine{
		machine(f, "rs274ngc"), machine(f, "bed-mill"), machine(f, "knee-mill"), table, machine(f, macroMill), machine(f, macroLathe),
		variant(f, "rs274ngc", transformCodes+"G16 = \"polar-on\"\nG15 = \"polar-off\"\nM98 = \"call\"\nM99 = \"return\"\n"+
			"[block]\nsubprograms = 3\ncall = \"digits\"\ndwell.X = \"ms\"\n[control]\ncycle_level = \"first\"\ncycle_r = \"initial\"\n"),
	}
	f.Fuzz(func(t *testing.T, program []byte) {
		for _, m := range machines {
			line := 0
			in := New(m, Options{MaxBlocks: 2000}, Visitor{
				Block: func(b *parser.Block) {
					if b.Kind == parser.Remainder {
						return
					}
					if line++; b.Line != line {
						t.Fatalf("line %d is shown as the %dth", b.Line, line)
					}
				},
				Op: func(op *Op) { sane(t, op) },
				Fault: func(f *Fault) {
					if f.Block == nil || f.Pos < 0 || f.End < f.Pos || int(f.End) > len(f.Block.Raw) {
						t.Fatalf("a fault without a place: %+v", f)
					}
				},
			})
			if _, err := in.Run(strings.NewReader(string(program)), int64(len(program))); err != nil {
				t.Fatal(err)
			}
		}
	})
}

func sane(t *testing.T, op *Op) {
	if op.Block == nil || op.Word >= len(op.Block.Words) || op.State == nil {
		t.Fatalf("an operation without its block: %+v", op)
	}
	if op.Kind > Arc {
		return
	}
	for i := range profiles.NumAxes {
		if op.ToKnown.Has(i) && (math.IsNaN(op.To[i]) || math.IsInf(op.To[i], 0)) {
			t.Fatalf("line %d: axis %d goes to %v", op.Block.Line, i, op.To[i])
		}
	}
	for _, v := range []float64{op.Feed, op.Length, op.Radius, op.Sweep, op.PerRev, op.Lead, op.State.Speed} {
		if math.IsNaN(v) || math.IsInf(v, 0) || v < 0 {
			t.Fatalf("line %d: not a number: %+v", op.Block.Line, *op)
		}
	}
	// The planner takes the length of a chord as it is.
	if unknown := op.Moves &^ (op.FromKnown&op.ToKnown | op.Steps); op.Kind != Arc && unknown&XYZ == 0 {
		var d [3]float64
		for i := range d {
			if op.Moves.Has(i) {
				d[i] = op.To[i] - op.From[i]
			}
		}
		if length := math.Sqrt(d[0]*d[0] + d[1]*d[1] + d[2]*d[2]); op.Length != length {
			t.Fatalf("line %d: a move of %v mm is said to be %v long", op.Block.Line, length, op.Length)
		}
	}
}
