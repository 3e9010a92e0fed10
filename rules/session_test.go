package rules

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tapefit/internal/recall"
	"tapefit/profiles"
)

// shown is all that anybody sees of a check.
func shown(r *Result) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%d blocks, %d dropped, %+v, %+v\n", r.Blocks, r.Dropped, r.Times, r.Extents)
	for _, s := range r.Silenced {
		fmt.Fprintf(&b, "silenced %s %d\n", s.Rule.Name, s.Count)
	}
	for _, f := range r.Findings {
		name := f.Rule.Name
		f.Rule = nil
		fmt.Fprintf(&b, "%s %+v\n", name, f)
	}
	return b.String()
}

// closeSession has a stop in front of each nth block.
func closeSession(m *profiles.Machine, set []*Rule, n int) *Session {
	s := NewSession("x", m, set, Options{MaxBlocks: 20_000})
	s.every, s.look = n, 1
	return s
}

// same demands of a session what a check from the beginning gives.
func same(t rapid.TB, s *Session, text string) {
	t.Helper()
	got, err := s.Check(context.Background(), []byte(text), nil)
	if err != nil {
		t.Fatal(err)
	}
	want, err := Check(strings.NewReader(text), int64(len(text)), "x", s.machine, s.set, s.opt)
	if err != nil {
		t.Fatal(err)
	}
	if a, b := shown(got), shown(want); a != b {
		t.Fatalf("%s: of\n%s\ngoing on from offset %d gives\n%sand from the beginning\n%sDoes Checker.State reach all that the rule remembers?", s.machine.Name, text, s.from.Offset, linesWithout(a, b), linesWithout(b, a))
	}
}

// linesWithout are the lines of a that b does not have.
func linesWithout(a, b string) (left string) {
	for line := range strings.Lines(a) {
		if !strings.Contains(b, line) {
			left += line
		}
	}
	return left
}

// variants of machines in which most rules are awake.
func variants(t testing.TB) (all []*profiles.Machine) {
	for name, settings := range map[string][]string{
		"bed-mill":    {"spindle.goes_on=true", "control.end_keeps_coolant=true", "control.backlash=left"},
		"knee-mill":   {},
		"slant-lathe": {},
		"parametric":  {},
		"lenient":     {},
	} {
		m, err := profiles.FindWith(name, nil, settings)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, m)
	}
	slices.SortFunc(all, func(a, b *profiles.Machine) int { return strings.Compare(a.Name, b.Name) })
	return all
}

// Each rule's example, taken up again in front of each of its blocks: once with the
// block left out, then with it again.
func TestSessionExamples(t *testing.T) {
	for _, rule := range All() {
		t.Run(rule.Name, func(t *testing.T) {
			m, err := profiles.FindWith(rule.Example.Machine, nil, rule.ExampleSet)
			if err != nil {
				t.Fatal(err)
			}
			for _, program := range []string{rule.Example.Program, rule.Example.Mended} {
				lines := strings.SplitAfter(program, "\n")
				s := closeSession(m, All(), 1)
				same(t, s, program)
				for i := range lines {
					same(t, s, strings.Join(slices.Delete(slices.Clone(lines), i, i+1), ""))
					same(t, s, program)
				}
			}
		})
	}
}

// oddLines are lines that bear on what comes far behind them, or before.
var oddLines = []string{
	"%\n", "M30\n", "M2\n", "O7\n", "M99\n", "M98 P7 L2\n", "N10 G0 X1.\n", "G40\n", "G41 D2\n", "(TAPEFIT SKIP speed-missing: A TEST)\n",
	"(TAPEFIT OFF feed-missing: A TEST)\n", "(TAPEFIT ON feed-missing)\n", "(TAPEFIT OFF word-not-used)\n", "(NOTHING)\n", "\n", "/ G1 Z-1. F5.\n", "S900 M3\n", "M5\n", "T3 M6\n",
	"T0303\n", "G20\n", "G21\n", "G91\n", "G90\n", "G2 X1. Y1. I1. J0\n", "G3 X2. R1.\n", "G81 X1. Z-1. R.1 F5.\n", "G80\n", "G55\n", "G43 H3 Z1.\n", "G4 P100\n", "G96 S100\n",
	"G1 X99. F400.\n", "#1=3\n", "WHILE [#1 GT 0] DO 1\n", "#1=[#1-1]\n", "END 1\n", "GOTO 10\n", "G71 P10 Q20 U.1 W.1\n", "N20 X2. Z-1.\n", "qqq\n", "G1 X(\n", "\r", "X1.\rX2.\r\n", "G92 X0 Y0\n",
	"G38.2 Z-1. F5.\n", "M0\n", "G28 Z0\n", "M8\n", "M9\n", "M42\n", "M41\n", "G68 X0 Y0 R30.\n", "G93\n", "G94\n",
}

// shopPrograms are those of the demo that are short enough to be checked often.
func shopPrograms(t testing.TB) (all []string) {
	for _, glob := range []string{"../testdata/shop/programs/*", "../testdata/shop/lathe/*", "../testdata/forms/*.ngc", "../testdata/flow/*"} {
		files, err := filepath.Glob(glob)
		if err != nil || len(files) == 0 {
			t.Fatal(glob, err)
		}
		for _, file := range files {
			b, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if len(b) < 12_000 {
				all = append(all, string(b))
			}
		}
	}
	return all
}

// A person edits a program anywhere and is told the same as if it had been checked
// from its beginning, whatever came before: checks that were broken off too.
func TestSessionEdits(t *testing.T) {
	programs, machines := shopPrograms(t), variants(t)
	pool := slices.Clone(oddLines)
	for _, p := range programs {
		pool = append(pool, strings.SplitAfter(p, "\n")...)
	}
	rapid.Check(t, func(t *rapid.T) {
		m := rapid.SampledFrom(machines).Draw(t, "machine")
		text := rapid.SampledFrom(programs).Draw(t, "program")
		set, err := For(m)
		if err != nil {
			t.Fatal(err)
		}
		s := closeSession(m, set, rapid.SampledFrom([]int{1, 2, 5, 20}).Draw(t, "every"))
		same(t, s, text)
		for range rapid.IntRange(1, 6).Draw(t, "edits") {
			text = edited(t, text, pool)
			if rapid.IntRange(0, 3).Draw(t, "break off") == 0 {
				ctx, stop := context.WithCancel(context.Background())
				if _, err := s.Check(ctx, []byte(text), &Soon{Show: func([]Finding) { stop() }}); ctx.Err() != nil && !errors.Is(err, context.Canceled) {
					t.Fatal("broken off, and nothing said")
				}
				stop()
				text = edited(t, text, pool)
			}
			same(t, s, text)
		}
	})
}

// edited changes some lines, or some bytes.
func edited(t *rapid.T, text string, pool []string) string {
	if rapid.IntRange(0, 4).Draw(t, "bytes") == 0 {
		from := rapid.IntRange(0, len(text)).Draw(t, "from")
		to := min(len(text), from+rapid.IntRange(0, 3).Draw(t, "gone"))
		return text[:from] + rapid.StringOfN(rapid.RuneFrom([]rune("GXYZMF0129.-#[]()%/\r\n NOT")), 0, 3, -1).Draw(t, "new") + text[to:]
	}
	lines := strings.SplitAfter(text, "\n")
	from := rapid.IntRange(0, len(lines)).Draw(t, "line")
	to := min(len(lines), from+rapid.IntRange(0, 2).Draw(t, "lines gone"))
	return strings.Join(slices.Replace(lines, from, to, rapid.SliceOfN(rapid.SampledFrom(pool), 0, 3).Draw(t, "lines")...), "")
}

// A session for each of two people: what one takes up again is none of the other's.
func TestSessionsApart(t *testing.T) {
	for _, m := range variants(t) {
		set, err := For(m)
		if err != nil {
			t.Fatal(err)
		}
		var images []*recall.Image
		for range 2 {
			s := closeSession(m, set, 1)
			for _, program := range shopPrograms(t)[:3] {
				same(t, s, program)
			}
			images = append(images, s.stops[len(s.stops)-1].image)
		}
		if images[0].Overlaps(images[1]) {
			t.Errorf("%s: two checks have something in common that one of them would write to", m.Name)
		}
	}
}

// longProgram has n chords, whose text says their number, between head and tail.
func longProgram(n int) string {
	var b strings.Builder
	b.WriteString("%\nT3 M6\nM42\nS2000 M3\nG54 G0 X0 Y0\nG43 H3 Z1.\nG1 Z-.1 F30.\n")
	for i := range n {
		fmt.Fprintf(&b, "X%.3f Y%.3f\n", float64(i%97)/50, float64(i%101)/40)
	}
	b.WriteString("G0 Z1.\nM30\n%\n")
	return b.String()
}

// What is walked again is little where the change stands late, whatever the size.
func TestSessionGoesOn(t *testing.T) {
	text := longProgram(40_000)
	m := variants(t)[0]
	s := NewSession("x", m, All(), Options{})
	same(t, s, text)
	for _, line := range []int{39_990, 20_000, 10_000, 30_000, 5} {
		at := 0
		for range line {
			at += strings.IndexByte(text[at:], '\n') + 1
		}
		text = text[:at] + "G1 X.5 F999.\n" + text[at:]
		same(t, s, text)
		if gone := lines([]byte(text[s.from.Offset:at])); gone > firstEvery+firstLook+10 {
			t.Errorf("line %d: %d lines were walked again in front of it", line, gone)
		}
		if want := lines([]byte(text[:s.from.Offset])) + 1; s.from.Line != want {
			t.Errorf("line %d: taken up at line %d, which is %d", line, s.from.Line, want)
		}
	}
	if n := len(s.stops); n > mostStops {
		t.Errorf("%d stops", n)
	}
}

// However long a program is, there are so many stops and no more.
func TestSessionThin(t *testing.T) {
	s := closeSession(variants(t)[0], nil, 1)
	if _, err := s.Check(context.Background(), []byte(longProgram(3000)), nil); err != nil {
		t.Fatal(err)
	}
	if n := len(s.stops); n > mostStops || n < mostStops/4 {
		t.Errorf("%d stops", n)
	}
	if !slices.IsSortedFunc(s.stops, func(a, b stop) int { return int(a.mark.Offset - b.mark.Offset) }) {
		t.Error("the stops are in no order")
	}
}

// What is shown soon: the findings up to the change as they are, those behind it as
// they were, in the lines where they stand now.
func TestSessionSoon(t *testing.T) {
	text := longProgram(3000)
	text = strings.Replace(text, "X1.000 Y0.125\n", "G901\n", 1) // far in front of the change
	text = strings.Replace(text, "G0 Z1.\nM30", "G902\nG0 Z1.\nM30", 1)
	s := closeSession(variants(t)[0], All(), 50)
	first, err := s.Check(context.Background(), []byte(text), nil)
	if err != nil {
		t.Fatal(err)
	}
	at := len(text) / 2
	at += strings.IndexByte(text[at:], '\n') + 1
	changed := text[:at] + "(A)\nG903\n(B)\n" + text[at:]
	var soon []Finding
	last, err := s.Check(context.Background(), []byte(changed), &Soon{Show: func(f []Finding) {
		if soon != nil {
			t.Error("shown twice")
		}
		soon = f
	}})
	if err != nil {
		t.Fatal(err)
	}
	if len(last.Findings) != len(first.Findings)+1 || len(soon) != len(last.Findings) {
		t.Fatalf("%d findings, then %d, soon %d", len(first.Findings), len(last.Findings), len(soon))
	}
	for i, f := range last.Findings {
		if g := soon[i]; f.Line != g.Line || f.EndLine != g.EndLine || f.Offset != g.Offset || f.Message != g.Message {
			t.Errorf("soon %+v, then %+v", g, f)
		}
	}
	mended := strings.Replace(changed, "G903\n", "", 1)
	soon = nil
	if _, err = s.Check(context.Background(), []byte(mended), &Soon{Show: func(f []Finding) { soon = f }}); err != nil {
		t.Fatal(err)
	}
	if len(soon) != len(first.Findings) {
		t.Errorf("the mended fault is still shown: %+v", soon)
	}
}

// changed and its helpers hold whatever the texts are.
func TestChanged(t *testing.T) {
	gen := rapid.SliceOfN(rapid.SampledFrom([]byte("ab\n\r")), 0, 30)
	rapid.Check(t, func(t *rapid.T) {
		old, text := gen.Draw(t, "old"), gen.Draw(t, "text")
		n := commonPrefix(old, text)
		if !bytes.Equal(old[:n], text[:n]) || n < min(len(old), len(text)) && old[n] == text[n] {
			t.Fatal("no prefix:", n)
		}
		was, is := changed(old, text, n)
		if !bytes.Equal(old[was:], text[is:]) || was < n || is < n {
			t.Fatal("no suffix:", was, is)
		}
	})
}

// BenchmarkSession is an edit of a program of 100,000 blocks: in the midst, and in
// the first block, where all is walked again. Each has the time to the first findings
// beside it (soon-ms), and what a check from the beginning takes.
func BenchmarkSession(b *testing.B) {
	text := []byte(longProgram(100_000))
	m := variants(b)[0]
	b.Run("full", func(b *testing.B) {
		for b.Loop() {
			if _, err := Check(bytes.NewReader(text), int64(len(text)), "x", m, All(), Options{}); err != nil {
				b.Fatal(err)
			}
		}
	})
	for _, at := range []int{0, 50, 99} {
		b.Run(fmt.Sprintf("at%d%%", at), func(b *testing.B) {
			s := NewSession("x", m, All(), Options{})
			from := len(text) / 100 * at
			from += bytes.IndexByte(text[from:], '\n') + 1
			one, two := slices.Insert(slices.Clone(text), from, []byte("(A)\n")...), slices.Insert(slices.Clone(text), from, []byte("(B)\n")...)
			for _, t := range [][]byte{one, two} {
				if _, err := s.Check(context.Background(), t, nil); err != nil {
					b.Fatal(err)
				}
			}
			for i := 0; b.Loop(); i++ {
				if _, err := s.Check(context.Background(), [][]byte{one, two}[i%2], nil); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
