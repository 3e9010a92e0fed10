package rules

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strconv"
	"testing"

	"tapefit/parser"
)

const benchSize = 20 << 20

const benchHead = "%\nO1 (BENCHMARK)\nG20 G17 G90 G94 G54\nT7 M6\nM42\nS4000 M3\nG0 X0 Y0\nG43 H7 Z1.\nG1 Z-0.1 F20.\nF60.\n"
const benchTail = "G0 Z1.\nM9\nM5\nG53 Z0\nM30\n%\n"

// benchPrograms are 20 MB of what a post writes: short chords over a wavy
// surface, and arcs from groove to groove.
func benchPrograms() map[string][]byte {
	var chords, arcs bytes.Buffer
	chords.WriteString(benchHead)
	for i := 0; chords.Len() < benchSize; i++ {
		a := float64(i) * 0.011
		fmt.Fprintf(&chords, "N%d X%.4f Y%.4f Z%.4f\n", i%99990+10, 2+1.5*math.Sin(a)+0.0001*float64(i%1000), 2+1.5*math.Cos(a*0.37), -0.2+0.1*math.Sin(3*a))
	}
	chords.WriteString(benchTail)
	arcs.WriteString(benchHead + "G0 X0 Y0\n")
	for i := 0; arcs.Len() < benchSize; i++ {
		r := 0.25 + 0.0005*float64(i%500)
		fmt.Fprintf(&arcs, "N%d G2 X%.4f Y0. I%.4f J0.\nN%d G3 X0. Y0. I%.4f J0.\n", i%49990+10, 2*r, r, i%49990+15, -r)
	}
	arcs.WriteString(benchTail)
	return map[string][]byte{"chords": chords.Bytes(), "arcs": arcs.Bytes()}
}

func benchmark(b *testing.B, do func(b *testing.B, program []byte)) {
	for name, program := range benchPrograms() {
		b.Run(name, func(b *testing.B) {
			b.SetBytes(int64(len(program)))
			b.ReportAllocs()
			b.ResetTimer()
			for b.Loop() {
				do(b, program)
			}
		})
	}
}

var sink float64

// BenchmarkBareScan is the measure: split the words, read the numbers, do
// nothing with them.
func BenchmarkBareScan(b *testing.B) {
	benchmark(b, func(b *testing.B, program []byte) {
		sum := 0.0
		for i := 0; i < len(program); {
			c := program[i]
			i++
			if c < 'A' || c > 'Z' {
				continue
			}
			from := i
			for i < len(program) && (program[i] == '-' || program[i] == '.' || program[i]-'0' < 10) {
				i++
			}
			v, _ := strconv.ParseFloat(string(program[from:i]), 64)
			sum += v
		}
		sink = sum
	})
}

func BenchmarkParse(b *testing.B) {
	benchmark(b, func(b *testing.B, program []byte) {
		r := parser.NewReader(bytes.NewReader(program))
		for {
			block, err := r.Next()
			if err == io.EOF {
				return
			}
			if err != nil {
				b.Fatal(err)
			}
			sink += float64(len(block.Words))
		}
	})
}

// BenchmarkCheck is the whole: all rules and the time, on bed-mill.
func BenchmarkCheck(b *testing.B) {
	m := machine(b, "bed-mill")
	benchmark(b, func(b *testing.B, program []byte) {
		r, err := Check(bytes.NewReader(program), int64(len(program)), "bench", m, All(), Options{})
		if err != nil {
			b.Fatal(err)
		}
		sink = r.Times.Total
	})
}
