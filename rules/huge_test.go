package rules

import (
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"runtime"
	"strings"
	"testing"

	"tapefit/profiles"
)

// allMachines are the demo's and the bases.
func allMachines(t testing.TB) []*profiles.Machine {
	t.Helper()
	var all []*profiles.Machine
	for _, name := range []string{"bed-mill", "knee-mill", "slant-lathe", "rs274ngc", "tape-era"} {
		all = append(all, machine(t, name))
	}
	return all
}

// A file that is no program is told in few findings, each with its place.
func TestNoProgram(t *testing.T) {
	for name, file := range map[string]endless{
		"random bytes":   {200_000, randomBytes},
		"prose":          {200_000, pattern("Dear sir, the pump that we sent back leaks again.\n")},
		"broken words":   {200_000, pattern("G1 X? Y1 = 2\nZ-- [\n")},
		"one line":       {6 << 20, pattern("G1 X1.5 Y-2 ")},
		"brackets":       {200_000, pattern("[")},
		"nested deeply":  {60_000, pattern("G0 X" + strings.Repeat("[", 10_000) + "1" + strings.Repeat("]", 10_000) + "\n")},
		"never closed":   {200_000, pattern("G0 X1 (to the corner\n")},
		"rub-outs":       {200_000, pattern("\xff")},
		"blank tape":     {200_000, pattern("\x00")},
		"% marks":        {200_000, pattern("%\n")},
		"ends of blocks": {200_000, pattern("\r\n\n\r")},
	} {
		t.Run(name, func(t *testing.T) {
			for _, m := range allMachines(t) {
				r, err := Check(file, file.size, name, m, All(), Options{})
				if err != nil {
					t.Fatal(err)
				}
				if len(r.Findings) > 70 {
					t.Errorf("%s: %d findings", m.Name, len(r.Findings))
				}
				seen := map[string]bool{}
				for _, f := range r.Findings {
					place := fmt.Sprint(f.Line, f.Column, f.Rule.Name, f.Message)
					if f.Offset >= file.size || f.Count < 1 || seen[place] {
						t.Errorf("%s: %+v", m.Name, f)
					}
					seen[place] = true
				}
			}
		})
	}
}

// Past the causes that are told one by one, known ones are still counted and new
// ones come to one finding.
func TestManyCauses(t *testing.T) {
	var s strings.Builder
	for i := range 30 {
		fmt.Fprintf(&s, "G0 X%d.%d.\n", i, i) // each number in its own words
	}
	s.WriteString("G0 X0.0.\nM30\n")
	got := findings(t, machine(t, "rs274ngc"), s.String(), Options{})
	if n := names(got, "block-unreadable"); n != mostCauses+1 || got[0] != "error block-unreadable 1:4 x2 to 31:9" || !strings.Contains(got[mostCauses], "x5 to 30:") {
		t.Errorf("%d: %q", n, got)
	}
}

// A line longer than is read at a time is one line and one block.
func TestPiecesAreOneBlock(t *testing.T) {
	file := endless{10 << 20, pattern("G1 X1.5 Y-2 ")}
	r, err := Check(file, file.size, "one line", machine(t, "knee-mill"), All(), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if r.Blocks != 1 {
		t.Errorf("%d blocks", r.Blocks)
	}
	for _, f := range r.Findings {
		if f.Count != 1 || f.EndLine > 1 {
			t.Errorf("%+v", f)
		}
	}
}

// endless is a file of any size whose bytes are computed.
type endless struct {
	size int64
	fill func(p []byte, off int64)
}

func (e endless) ReadAt(p []byte, off int64) (int, error) {
	if off >= e.size {
		return 0, io.EOF
	}
	n := int(min(int64(len(p)), e.size-off))
	e.fill(p[:n], off)
	if n < len(p) {
		return n, io.EOF
	}
	return n, nil
}

// pattern repeats the text.
func pattern(text string) func([]byte, int64) {
	return func(p []byte, off int64) {
		for n := 0; n < len(p); {
			n += copy(p[n:], text[(off+int64(n))%int64(len(text)):])
		}
	}
}

// randomBytes are the same at each place whenever they are read. There is no %
// among them, behind which nothing would be read.
func randomBytes(p []byte, off int64) {
	for i := range p {
		at := uint64(off + int64(i))
		if i == 0 || at%8 == 0 {
			var block [8]byte
			v := rand.NewPCG(at/8, 7).Uint64()
			for k := range block {
				block[k] = byte(v >> (8 * k))
			}
			copy(p[i:], block[at%8:])
		}
		if p[i] == '%' {
			p[i] = '$'
		}
	}
}

// TestHuge checks files of up to 500 MB on every machine in flat memory: with
// TAPEFIT_HUGE=1, since it takes some minutes. The files are computed, so that
// nothing but the program and the page cache of no disk is measured.
func TestHuge(t *testing.T) {
	if os.Getenv("TAPEFIT_HUGE") == "" {
		t.Skip("TAPEFIT_HUGE=1 runs it")
	}
	const most = 100 << 20 // of memory, bytes
	for _, c := range []struct {
		name string
		file endless
	}{
		{"one line of words", endless{500_000_000, pattern("G1 X1.5 Y-2 ")}},
		{"one comment", endless{500_000_000, pattern("(")}},
		{"random bytes", endless{100_000_000, randomBytes}},
		{"plain blocks", endless{500_000_000, pattern("N10 G1 X1.2345 Y-3.2 Z-.25\nX2.\n")}},
		{"expressions", endless{20_000_000, pattern("#1=[#1+0.5] G1 X[10*COS[#1]] Y[10*SIN[#1]]\n")}},
		{"faults", endless{20_000_000, pattern("G1 X1\nY2\nX3\nG1 X? Y1 = 2\nX2\nY3\nX4\nZ[1+[2]\n")}},
		{"lines of 1 MB", endless{100_000_000, pattern("X[1]? = " + strings.Repeat("X1 #2=[3] ", 100_000) + "\n")}},
	} {
		t.Run(c.name, func(t *testing.T) {
			for _, m := range allMachines(t) {
				r, err := Check(c.file, c.file.size, c.name, m, All(), Options{})
				if err != nil {
					t.Fatal(err)
				}
				var mem runtime.MemStats
				runtime.ReadMemStats(&mem)
				t.Logf("%s: %d findings, %d MB taken from the system by now", m.Name, len(r.Findings), mem.Sys>>20)
				if mem.Sys > most {
					t.Errorf("%d MB of memory", mem.Sys>>20)
				}
			}
		})
	}
}
