package adapt

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"tapefit/profiles"
)

// memory is a File that lies in memory.
type memory struct{ bytes.Buffer }

func (m *memory) ReadAt(p []byte, off int64) (int, error) {
	return bytes.NewReader(m.Bytes()).ReadAt(p, off)
}

// FuzzAdapt holds what must be so of any bytes: no panic, and what was written
// fits the machine that it was written for. What differs is told as a
// Difference, and counts as not written.
func FuzzAdapt(f *testing.F) {
	for _, pattern := range []string{"programs/*.ngc", "tape/*.tap", "lathe/*.ngc"} {
		paths, err := filepath.Glob(shop + pattern)
		if err != nil || len(paths) == 0 {
			f.Fatal("no seeds", err)
		}
		for _, path := range paths {
			text, err := os.ReadFile(path)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(text[:min(len(text), 2000)], uint8(0))
		}
	}
	f.Add([]byte("%\nG20\nG0 X0 Y0 Z1\nS500 M3\nG2 X1 R1 Z.5 F5\nG98 G83 X1 Y1 Z-1 R.1 Q.2\nG16 X1 Y45\nG91 X.33333\nM99"), uint8(7))
	f.Add([]byte("%\nG20\nG0 X0 Y0 Z1\nN5 X1\nZ.1\nG1 Z-.5 F5\nG0 Z.1\nX2\nG1 Z-.5\nG0 Z.1\n/N6 X3\nGOTO 5\nM30"), uint8(33))
	lenient := base(f, "lenient")
	var to []*profiles.Machine
	for _, name := range []string{"knee-mill", "bed-mill", "slant-lathe", "rs274ngc", "tape-era"} {
		to = append(to, machine(f, name))
	}
	f.Fuzz(func(t *testing.T, program []byte, how uint8) {
		opt := Options{From: lenient, To: to[int(how)%len(to)], Guess: how&64 != 0, MaxBlocks: 20000, Home: Place{2: mm(25.4)}}
		if how&32 != 0 {
			opt.Passes = map[string]bool{Thin: true, ClampSpeed: true, ClampFeed: true, Gather: true, Renumber: true}
			opt.Tolerance = 0.02
		}
		opt.Delete = Delete(how >> 3 & 3 % 3)
		var out memory
		r, err := Run(&out, bytes.NewReader(program), int64(len(program)), "fuzz", opt)
		if err != nil || !r.Written {
			return
		}
		if int64(out.Len()) != r.Wrote {
			t.Errorf("%d bytes were written, %d are told", out.Len(), r.Wrote)
		}
	})
}
