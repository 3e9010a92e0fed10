package rules

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tapefit/profiles"
)

// FuzzCheck checks any bytes on each demo machine: nothing panics, every finding
// has a place in the file and says something, the parts of the time add up.
func FuzzCheck(f *testing.F) {
	for _, rule := range All() {
		f.Add([]byte(rule.Example.Program))
		f.Add([]byte(rule.Example.Mended))
	}
	for _, form := range []string{"../testdata/tape/*.*", "../testdata/forms/*.ngc", "../testdata/shop/lathe/*.ngc"} { // tapes, CR alone, the byte order mark ...
		files, err := filepath.Glob(form)
		if err != nil || len(files) == 0 {
			f.Fatal(files, err)
		}
		for _, file := range files {
			program, err := os.ReadFile(file)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(program)
		}
	}
	var machines []*profiles.Machine
	for _, name := range []string{"bed-mill", "knee-mill", "slant-lathe", "rs274ngc"} {
		machines = append(machines, machine(f, name))
	}
	f.Fuzz(func(t *testing.T, program []byte) {
		for _, m := range machines {
			r, err := Check(strings.NewReader(string(program)), int64(len(program)), "fuzz", m, All(), Options{MaxBlocks: 2000})
			if err != nil {
				t.Fatal(err)
			}
			for _, x := range r.Findings {
				if x.Message == "" || x.Advice == "" || x.Line < 1 || x.Column < 1 || x.MarkEnd < x.Column || x.EndLine < x.Line || x.Count < 1 {
					t.Fatalf("%s: %+v", m.Name, x)
				}
			}
			s := &r.Times
			sum := s.Cutting + s.Rapid + s.Dwell + s.ToolChange + s.GearShift + s.Spindle + s.Other
			if math.IsNaN(sum) || sum < 0 || math.Abs(sum-s.Total) > 1e-9*(1+sum) {
				t.Fatalf("%s: the time is %+v", m.Name, *s)
			}
		}
	})
}
