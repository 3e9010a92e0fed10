package adapt

import (
	"bytes"
	"fmt"
	"math"
	"testing"

	"tapefit/internal/interp"
	"tapefit/rules"
)

const benchSize = 20 << 20

const (
	benchHead = "%\nO1 (BENCHMARK)\nG20 G17 G90 G94 G54\nT7 M6\nM42\nS4000 M3\nG0 X0 Y0\nG43 H7 Z1.\nG1 Z-0.1 F20.\nF60.\n"
	benchTail = "G0 Z1.\nM9\nM5\nG53 Z0\nM30\n%\n"
)

// benchPrograms are 20 MB of what a post writes, chords and arcs, each with
// the number of digits given.
func benchPrograms(digits int) map[string][]byte {
	var chords, arcs bytes.Buffer
	chords.WriteString(benchHead)
	for i := 0; chords.Len() < benchSize; i++ {
		a := float64(i) * 0.011
		fmt.Fprintf(&chords, "N%d X%.*f Y%.*f Z%.*f\n", i%99990+10, digits, 2+1.5*math.Sin(a)+0.0001*float64(i%1000), digits, 2+1.5*math.Cos(a*0.37), digits, -0.2+0.1*math.Sin(3*a))
	}
	chords.WriteString(benchTail)
	arcs.WriteString(benchHead + "G0 X0 Y0\n")
	for i := 0; arcs.Len() < benchSize; i++ {
		r := 0.25 + 0.00053*float64(i%500)
		fmt.Fprintf(&arcs, "N%d G2 X%.*f Y0. I%.*f J0.\nN%d G3 X0. Y0. I%.*f J0.\n", i%49990+10, digits, 2*r, digits, r, i%49990+15, digits, -r)
	}
	arcs.WriteString(benchTail)
	return map[string][]byte{"chords": chords.Bytes(), "arcs": arcs.Bytes()}
}

// BenchmarkInterp, BenchmarkCheck and BenchmarkProve are to be compared in one
// run: a proof has to read two programs.
func BenchmarkInterp(b *testing.B) {
	m := machine(b, "bed-mill")
	for name, program := range benchPrograms(5) {
		b.Run(name, func(b *testing.B) {
			b.SetBytes(int64(len(program)))
			n := 0
			for b.Loop() {
				in := interp.New(m, interp.Options{}, interp.Visitor{Op: func(*interp.Op) { n++ }})
				if _, err := in.Run(bytes.NewReader(program), int64(len(program))); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkCheck(b *testing.B) {
	m := machine(b, "bed-mill")
	for name, program := range benchPrograms(5) {
		b.Run(name, func(b *testing.B) {
			b.SetBytes(int64(len(program)))
			for b.Loop() {
				if _, err := rules.Check(bytes.NewReader(program), int64(len(program)), "bench", m, rules.All(), rules.Options{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// The output has the same blocks, rounded to a digit less.
func BenchmarkProve(b *testing.B) {
	m := machine(b, "bed-mill")
	fine, coarse := benchPrograms(5), benchPrograms(4)
	for name, program := range fine {
		for _, out := range []struct {
			name string
			text []byte
		}{{"same", program}, {"rounded", coarse[name]}} {
			b.Run(name+"/"+out.name, func(b *testing.B) {
				b.SetBytes(int64(len(program)))
				b.ReportAllocs()
				text := out.text
				if out.name == "rounded" {
					// The two are cut at 20 MB, at other blocks.
					text = cutTo(b, text, program)
				}
				b.ResetTimer()
				for b.Loop() {
					p, err := Prove(Side{Src: bytes.NewReader(program), Size: int64(len(program)), Machine: m},
						Side{Src: bytes.NewReader(text), Size: int64(len(text)), Machine: m}, Allowed{Path: 0.01})
					if err != nil {
						b.Fatal(err)
					}
					sink = p.Deviation
				}
			})
		}
	}
}

var sink float64

// cutTo leaves as many blocks of a program as the other has.
func cutTo(b *testing.B, text, other []byte) []byte {
	b.Helper()
	have, want := bytes.Count(text, []byte("\n")), bytes.Count(other, []byte("\n"))
	body := text[:len(text)-len(benchTail)]
	for ; have > want; have-- {
		body = body[:bytes.LastIndexByte(body[:len(body)-1], '\n')+1]
	}
	return append(append([]byte(nil), body...), benchTail...)
}
