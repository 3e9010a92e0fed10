package report

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tapefit/profiles"
	"tapefit/rules"
)

// sceneOf walks a program twice, as a page does.
func sceneOf(t testing.TB, machine, program string) (*Scene, *rules.Result) {
	t.Helper()
	m, err := profiles.Find(machine, nil)
	if err != nil {
		t.Fatal(err)
	}
	src := strings.NewReader(program)
	r, err := rules.Check(src, src.Size(), "part.ngc", m, rules.All(), rules.Options{})
	if err != nil {
		t.Fatal(err)
	}
	s := NewScene(r, 4000)
	if _, err := rules.Check(src, src.Size(), "part.ngc", m, nil, rules.Options{Watch: s.Watch()}); err != nil {
		t.Fatal(err)
	}
	s.Finish()
	return s, r
}

func TestScene(t *testing.T) {
	s, r := sceneOf(t, "bed-mill", "%\nG21 G90 M41\nG0 X0 Y0 Z10\nS800 M3\nG1 Z0 F100\nX50\nX100\nG2 X100 Y0 I-50\nG0 Z10\nM30\n%\n")
	var kinds strings.Builder
	for _, v := range s.Vertices {
		kinds.WriteByte("JRCAP"[v.Kind])
	}
	// Z10 is reached from an unknown place; X50 and X100 are one piece; the
	// circle is many chords.
	got := kinds.String()
	if !strings.HasPrefix(got, "JPCA") || !strings.HasSuffix(got, "AR") || strings.Contains(strings.Trim(got, "JPCR"), "C") {
		t.Errorf("pieces %s", got)
	}
	for _, v := range s.Vertices {
		if d := math.Hypot(v.At[0]-50, v.At[1]); v.Kind == Round && math.Abs(d-50) > 1e-6 {
			t.Errorf("a vertex of the circle lies at %g from its centre", d)
		}
	}
	last := s.Vertices[len(s.Vertices)-1]
	if math.Abs(last.Time-r.Times.Total) > 4 { // the spindle stops behind the last move
		t.Errorf("the last move ends at %g s of %g", last.Time, r.Times.Total)
	}
	if cut := s.Vertices[2]; math.Abs(cut.Feed*60-100) > 1e-9 || cut.Actual <= 0 || cut.Actual > cut.Feed*1.001 || cut.Speed != 800 || cut.Line != 7 {
		t.Errorf("%+v", cut)
	}
	if len(s.Spindle) < 2 || s.Spindle[len(s.Spindle)-1].Speed != 0 {
		t.Errorf("spindle %+v", s.Spindle)
	}
}

// Whatever is left out, no point of the real path is further from the drawn one
// than the tolerance: the demo's chords lie on a known curve of the file itself,
// so each place of the program is looked for in the picture.
func TestSceneKeepsThePath(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "shop", "programs", "volute-throat-finish.ngc"))
	if err != nil {
		t.Fatal(err)
	}
	s, _ := sceneOf(t, "bed-mill", string(text))
	if s.Moves < 10000 || len(s.Vertices) > s.Moves {
		t.Fatalf("%d moves, %d vertices", s.Moves, len(s.Vertices))
	}
	full := &Scene{machine: s.machine, first: -1, marked: map[int]bool{}, Tools: map[int]*ToolUse{}, tolerance: 1e-12}
	src := strings.NewReader(string(text))
	if _, err := rules.Check(src, src.Size(), "part.ngc", s.machine, nil, rules.Options{Watch: full.Watch()}); err != nil {
		t.Fatal(err)
	}
	full.Finish()
	k := 1
	for _, v := range full.Vertices {
		for k < len(s.Vertices)-1 && s.Vertices[k].Time < v.Time-1e-9 {
			k++
		}
		best := math.Inf(1)
		for i := max(1, k-3); i < min(len(s.Vertices), k+4); i++ {
			best = min(best, distance(v.At, s.Vertices[i-1].At, s.Vertices[i].At))
		}
		if best > 2*s.Tolerance+1e-9 {
			t.Fatalf("line %d is drawn %g mm off, with a tolerance of %g", v.Line, best, s.Tolerance)
		}
	}
}

// A path that no screen can show whole is thinned to a bound, and the blocks
// with findings stay.
func TestSceneIsBounded(t *testing.T) {
	var b strings.Builder
	b.WriteString("%\nG21 G90 M41\nG0 X0 Y0 Z10\nS800 M3\nF100\n")
	for i := range 40_000 { // holes: no two pieces in a row are alike
		fmt.Fprintf(&b, "G0 X%d Y%d\nG1 Z-5\nG0 Z10\n", i%200, i/200)
	}
	b.WriteString("G0 X0\nM5\nG1 Z-5\nM30\n%\n")
	s, r := sceneOf(t, "bed-mill", b.String())
	if len(s.Vertices) > mostVertices || len(s.Vertices) < 1000 {
		t.Errorf("%d vertices", len(s.Vertices))
	}
	lines := map[int]bool{}
	for _, v := range s.Vertices {
		lines[v.Line] = true
	}
	found := false
	for i := range r.Findings {
		if f := &r.Findings[i]; f.Rule.Name == "spindle-off-in-cut" {
			found = true
			if !lines[f.Line] {
				t.Errorf("line %d has a finding and is not drawn", f.Line)
			}
		}
	}
	if !found {
		t.Fatalf("no finding: %+v", r.Findings)
	}
}
