package parser

import (
	"io"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
)

// benchSize is how much program text each benchmark reads in one run.
const benchSize = 20 << 20

// linesProgram is a finish pass in short straight blocks, as CAM writes it.
func linesProgram(size int) string {
	rnd := rand.New(rand.NewPCG(1, 2))
	var s strings.Builder
	x, y, z := 12.0, -3.0, -0.25
	for n := 10; s.Len() < size; n += 10 {
		x += rnd.NormFloat64() * 0.4
		y += rnd.NormFloat64() * 0.4
		z += rnd.NormFloat64() * 0.02
		switch {
		case n%100 == 0:
			s.WriteString("G1 " + axis('X', x) + " " + axis('Y', y) + " F" + strconv.Itoa(200+rnd.IntN(900)) + "\n")
		default:
			s.WriteString("N" + strconv.Itoa(n%100000) + " " + axis('X', x) + " " + axis('Y', y) + " " + axis('Z', z) + "\n")
		}
	}
	return s.String()
}

// arcsProgram is a contour of arcs with their centres.
func arcsProgram(size int) string {
	rnd := rand.New(rand.NewPCG(3, 4))
	var s strings.Builder
	x, y := 0.0, 0.0
	for s.Len() < size {
		r, a, b := 0.5+20*rnd.Float64(), 2*math.Pi*rnd.Float64(), 2*math.Pi*rnd.Float64()
		i, j := -r*math.Cos(a), -r*math.Sin(a)
		x, y = x+i+r*math.Cos(b), y+j+r*math.Sin(b)
		s.WriteString("G" + strconv.Itoa(2+rnd.IntN(2)) + " " + axis('X', x) + " " + axis('Y', y) + " " + axis('I', i) + " " + axis('J', j) + "\n")
	}
	return s.String()
}

func axis(address byte, v float64) string {
	return string(address) + strconv.FormatFloat(v, 'f', 4, 64)
}

func benchPrograms(b *testing.B, run func(b *testing.B, text string)) {
	for _, p := range []struct {
		name string
		make func(size int) string
	}{{"lines", linesProgram}, {"arcs", arcsProgram}} {
		text := p.make(benchSize)
		b.Run(p.name, func(b *testing.B) {
			b.SetBytes(int64(len(text)))
			b.ReportAllocs()
			run(b, text)
		})
	}
}

// BenchmarkBareScan is what Parse is measured against: each word is cut out
// and its number goes to strconv.ParseFloat, and nothing else is done.
func BenchmarkBareScan(b *testing.B) {
	benchPrograms(b, func(b *testing.B, text string) {
		for b.Loop() {
			sum := 0.0
			for i := 0; i < len(text); {
				if c := text[i]; c < 'A' || c > 'Z' {
					i++
					continue
				}
				j := i + 1
				for j < len(text) && (text[j] >= '0' && text[j] <= '9' || text[j] == '.' || text[j] == '-' || text[j] == '+') {
					j++
				}
				v, err := strconv.ParseFloat(text[i+1:j], 64)
				if err != nil {
					b.Fatal(err)
				}
				sum += v
				i = j
			}
			if math.IsNaN(sum) {
				b.Fatal("sum of all numbers is not a number")
			}
		}
	})
}

// BenchmarkParse reads the same bytes into blocks.
func BenchmarkParse(b *testing.B) {
	benchPrograms(b, func(b *testing.B, text string) {
		for b.Loop() {
			r := NewReader(strings.NewReader(text))
			words := 0
			for {
				block, err := r.Next()
				if err == io.EOF {
					break
				}
				if err != nil {
					b.Fatal(err)
				}
				words += len(block.Words)
			}
			if words < benchSize/16 {
				b.Fatal("words are missing: ", words)
			}
		}
	})
}

// BenchmarkExpressions reads blocks of settings and computed words.
func BenchmarkExpressions(b *testing.B) {
	text := strings.Repeat("N10 #1=[#1+0.5] G1 X[10*COS[#1]] Y[10*SIN[#1]]\n", 1000)
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		r := NewReader(strings.NewReader(text))
		for {
			block, err := r.Next()
			if err == io.EOF {
				break
			}
			if err != nil || len(block.Words) != 4 {
				b.Fatal(err, block)
			}
		}
	}
}

// BenchmarkNasty reads lines that the scanner hands on to the grammar, each
// line of a file for its own reason: none may take more than a few times what
// the others take for a byte.
func BenchmarkNasty(b *testing.B) {
	for _, line := range []struct{ name, text string }{
		{"text", "hello world this is text"},
		{"broken words", "G1 X? Y1 = 2"},
		{"broken expressions", "G1 X[10*COS[#1] Y[10**]"},
		{"comment in a comment", "(a (b) c) X1"},
		{"never closed", "G1 X1 (to the end"},
		{"blanks in names", "X[C OS[#1] M OD 2]"},
		{"100 brackets", "X" + strings.Repeat("[", 100) + "1" + strings.Repeat("]", 100)},
		{"10000 brackets", "X" + strings.Repeat("[", 10_000) + "1" + strings.Repeat("]", 10_000)},
		{"1 MB of junk", strings.Repeat("? = ", 1<<18)},
		{"1 MB of letters", strings.Repeat("X Y ", 1<<18)},
		{"1 MB of expressions", strings.Repeat("X[1] ", 1<<18) + "?"},
		{"1 MB of terms", "X[" + strings.Repeat("1+", 1<<19) + "1]"},
		{"1 MB of brackets", "X" + strings.Repeat("[", 1<<20)},
		{"1 MB of slashes", strings.Repeat("/", 1<<20)},
	} {
		text := strings.Repeat(line.text+"\n", max(1, 1<<20/len(line.text)))
		b.Run(line.name, func(b *testing.B) {
			b.SetBytes(int64(len(text)))
			for b.Loop() {
				r := NewReader(strings.NewReader(text))
				for {
					if _, err := r.Next(); err == io.EOF {
						break
					} else if err != nil {
						b.Fatal(err)
					}
				}
			}
		})
	}
}
