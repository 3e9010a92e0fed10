package adapt

import (
	"bytes"
	"os"
	"testing"

	"tapefit/profiles"
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
