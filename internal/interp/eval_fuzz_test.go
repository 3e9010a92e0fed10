package interp

import (
	"io"
	"math"
	"strings"
	"testing"

	"tapefit/parser"
)

// FuzzEval computes any expression, with parameters set to odd values: what has
// a value has a finite one, what has none says why and where, and what the tree
// is written as has the same value.
func FuzzEval(f *testing.F) {
	for _, seed := range []string{
		"1+2*3**2", "[1/0]", "SQRT[-1]", "ATAN[1]/[-1] MOD 7", "#[#1+2]*-#3", "LN[0]", "EXP[999]", "[2**0.5]**-3", "-2**0.5",
		"ACOS[2]", "FIX[-2.5]+FUP[-2.5]+ROUND[0.5]", "1 AND 0 OR 1 XOR 1", "#0", "#5400", "#1.5", "1e5", "TAN[90]", "9999999**9999",
	} {
		f.Add(seed)
	}
	m := machine(f, "rs274ngc")
	f.Fuzz(func(t *testing.T, text string) {
		if strings.ContainsAny(text, "\r\n") || len(text) > 4000 {
			return
		}
		r := parser.NewReader(strings.NewReader("G0 X1\nX[" + text + "]\n"))
		for {
			b, err := r.Next()
			if err == io.EOF {
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			for i := range b.Words {
				if e := b.Words[i].Expr; e != nil {
					evaluates(t, New(m, Options{}, Visitor{}), e)
				}
			}
		}
	})
}

func evaluates(t *testing.T, in *Interp, e *parser.Expr) {
	in.params = make([]float64, numParams)
	for i := range in.params {
		in.params[i] = []float64{0, 1, -1, 2.5, 5399, 1e300, -1e-300, 30}[i%8]
	}
	v, bad, cause := in.compute(e)
	if cause != "" {
		if bad == nil || bad.End < bad.Pos {
			t.Fatalf("%s: %q has no place", e, cause)
		}
		return
	}
	if math.IsNaN(v) || math.IsInf(v, 0) {
		t.Fatalf("%s is %v", e, v)
	}
	r := parser.NewReader(strings.NewReader("G0 X1\nX[" + e.String() + "]\n"))
	var b *parser.Block
	for range 2 {
		var err error
		if b, err = r.Next(); err != nil {
			t.Fatal(err)
		}
	}
	if len(b.Faults) > 0 || len(b.Words) != 1 {
		return // the brackets that String adds nest too deep
	}
	if again := b.Words[0].Expr; again != nil {
		if w, _, cause := in.compute(again); cause != "" || w != v {
			t.Fatalf("%s is %v, and written again %v (%s)", e, v, w, cause)
		}
	}
}
