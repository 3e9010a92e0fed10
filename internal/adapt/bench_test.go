package adapt

import (
	"bytes"
	"fmt"
	"os"
	"testing"

	"tapefit/profiles"
	"tapefit/rules"
)

// BenchmarkAdapt stands beside BenchmarkCheck on the same 20 MB: the goal is
// less than four times its time. "same" is a program of which few blocks must
// change, "rounded" one of which all must.
func BenchmarkAdapt(b *testing.B) {
	from := base(b, "lenient")
	coarse, err := profiles.FindWith("bed-mill", nil, []string{"numbers.decimals={inch=4,mm=3}", "control.memory=100 MB"})
	if err != nil {
		b.Fatal(err)
	}
	for name, program := range benchPrograms(5) {
		for _, to := range []struct {
			name string
			m    *profiles.Machine
		}{{"same", machine(b, "bed-mill")}, {"rounded", coarse}} {
			b.Run(name+"/"+to.name, func(b *testing.B) {
				b.SetBytes(int64(len(program)))
				b.ReportAllocs()
				for b.Loop() {
					file, err := os.CreateTemp(b.TempDir(), "")
					if err != nil {
						b.Fatal(err)
					}
					r, err := Run(file, bytes.NewReader(program), int64(len(program)), "bench", Options{From: from, To: to.m, Passes: map[string]bool{Words: true}})
					if err != nil || !r.Written {
						b.Fatal(err, r)
					}
					file.Close()
				}
			})
		}
	}
}

// BenchmarkLate is a program of 5 MB that does nothing but drill: checked, without the
// passes that work on what was written and with each of them.
func BenchmarkLate(b *testing.B) {
	m, err := profiles.FindWith("bed-mill", nil, []string{"control.memory=100 MB"})
	if err != nil {
		b.Fatal(err)
	}
	program := bytes.NewBufferString("%\nG20 G90 G94\nG0 X0. Y0. Z1.\nZ.1\n")
	for i := 0; program.Len() < 5e6; i++ {
		fmt.Fprintf(program, "N%d X%.4f Y%.4f\nG1 Z-.5 F5.\nG0 Z.1\n", i%90000, float64(i%900)/100, float64(i/900%900)/100)
	}
	program.WriteString("G0 Z1.\nM30\n%\n")
	b.Run("check", func(b *testing.B) {
		b.SetBytes(int64(program.Len()))
		for b.Loop() {
			if _, err := rules.Check(bytes.NewReader(program.Bytes()), int64(program.Len()), "bench", m, rules.All(), rules.Options{}); err != nil {
				b.Fatal(err)
			}
		}
	})
	for _, pass := range []string{Words, Gather, Unnumber, Renumber} {
		b.Run(pass, func(b *testing.B) {
			b.SetBytes(int64(program.Len()))
			b.ReportAllocs()
			for b.Loop() {
				file, err := os.CreateTemp(b.TempDir(), "")
				if err != nil {
					b.Fatal(err)
				}
				r, err := Run(file, bytes.NewReader(program.Bytes()), int64(program.Len()), "bench", Options{From: m, To: m, NumberBy: 1, Passes: map[string]bool{pass: true}})
				if err != nil || !r.Written {
					b.Fatal(err, r)
				}
				file.Close()
			}
		})
	}
}
