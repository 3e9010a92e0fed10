package adapt

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func align(t testing.TB, a, b string) []Row {
	t.Helper()
	var rows []Row
	err := Align(strings.NewReader(a), int64(len(a)), strings.NewReader(b), int64(len(b)), func(r Row) bool {
		rows = append(rows, r)
		return true
	})
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

func rowText(r Row) string {
	switch {
	case r.Source == nil:
		return "+ " + r.Out.Text
	case r.Out == nil:
		return "- " + r.Source.Text
	case r.Same:
		return "  " + r.Out.Text
	}
	return "- " + r.Source.Text + " / + " + r.Out.Text
}

func TestAlign(t *testing.T) {
	for _, test := range []struct{ name, a, b, want string }{
		{"equal", "G0 X1\nM30\n", "G0 X1\nM30\n", "  G0 X1\n  M30"},
		{"the end of the line alone", "G0 X1\r\nM30\n", "G0 X1\nM30", "  G0 X1\n  M30"},
		{"numbers written otherwise", "N10 G1 X1 F5\nN20 Y2\n", "N10 G1 X1. F5.\nN20 Y2.\n", "- N10 G1 X1 F5 / + N10 G1 X1. F5.\n- N20 Y2 / + N20 Y2."},
		{"a block put in", "S900 M3\nG1 X1\n", "M5\nM42\nS900 M3\nG1 X1\n", "+ M5\n+ M42\n  S900 M3\n  G1 X1"},
		{"a block left out", "G0 X1\n(A NOTE)\nG1 X2\n", "G0 X1\nG1 X2\n", "  G0 X1\n- (A NOTE)\n  G1 X2"},
		{"a circle in quarters", "G1 X0 Y0\nG3 I5\nG1 X9\n", "G1 X0. Y0.\nG3 X5. Y-5. I5.\nX10. Y0. J5.\nG1 X9.\n",
			"- G1 X0 Y0 / + G1 X0. Y0.\n- G3 I5 / + G3 X5. Y-5. I5.\n+ X10. Y0. J5.\n- G1 X9 / + G1 X9."},
		{"one empty", "", "M30\n", "+ M30"},
	} {
		t.Run(test.name, func(t *testing.T) {
			var got []string
			for _, r := range align(t, test.a, test.b) {
				got = append(got, rowText(r))
			}
			if s := strings.Join(got, "\n"); s != test.want {
				t.Errorf("%s\nwant\n%s", s, test.want)
			}
		})
	}
}

// Whatever the programs, each block of both comes once and in order, and what
// is called the same is.
func TestAlignIsWhole(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		blocks := rapid.SampledFrom([]string{"G0 X1", "G1 X2 F3", "Y5", "(A)", "", "M3", "N5 G2 X1 Y1 I2"})
		a := rapid.SliceOfN(blocks, 0, 700).Draw(t, "source")
		b := append([]string(nil), a...)
		for range rapid.IntRange(0, 40).Draw(t, "edits") {
			i := rapid.IntRange(0, len(b)).Draw(t, "at")
			switch n := rapid.IntRange(0, 2).Draw(t, "edit"); {
			case n == 0 || i == len(b):
				b = append(b[:i], append([]string{blocks.Draw(t, "new")}, b[i:]...)...)
			case n == 1:
				b = append(b[:i], b[i+1:]...)
			default:
				b[i] += " M8"
			}
		}
		i, j := 0, 0
		text := func(lines []string) string { return strings.Join(append(lines, ""), "\n") }
		err := Align(strings.NewReader(text(a)), int64(len(text(a))), strings.NewReader(text(b)), int64(len(text(b))), func(r Row) bool {
			if r.Source != nil {
				if r.Source.Line != i+1 || r.Source.Text != a[i] {
					t.Fatalf("source block %d is %+v", i+1, *r.Source)
				}
				i++
			}
			if r.Out != nil {
				if r.Out.Line != j+1 || r.Out.Text != b[j] {
					t.Fatalf("output block %d is %+v", j+1, *r.Out)
				}
				j++
			}
			if r.Same != (r.Source != nil && r.Out != nil && r.Source.Text == r.Out.Text) {
				t.Fatal(rowText(r))
			}
			return true
		})
		if err != nil || i != len(a) || j != len(b) {
			t.Fatalf("%v: %d of %d and %d of %d blocks", err, i, len(a), j, len(b))
		}
	})
}

// BenchmarkAlign is 20 MB of which every block is written otherwise.
func BenchmarkAlign(b *testing.B) {
	program := benchPrograms(4)["chords"]
	var out strings.Builder
	for line := range strings.Lines(string(program)) {
		fmt.Fprint(&out, strings.ReplaceAll(line, " Y", "Y"))
	}
	b.SetBytes(int64(len(program)))
	b.ReportAllocs()
	for b.Loop() {
		n := 0
		err := Align(strings.NewReader(string(program)), int64(len(program)), strings.NewReader(out.String()), int64(out.Len()), func(Row) bool {
			n++
			return true
		})
		if err != nil {
			b.Fatal(err)
		}
	}
}
