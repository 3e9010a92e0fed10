package report

import (
	"bytes"
	"regexp"
	"strings"
	"testing"
	"unicode"

	"pgregory.net/rapid"

	"tapefit/rules"
)

var sgr = regexp.MustCompile("\x1b\\[[0-9;]*m")

// blockOf is what Text shows of one finding's block, without the gutter.
func blockOf(width int, f *rules.Finding) []string {
	var out bytes.Buffer
	text := NewText(&out, width, false)
	text.block(f, nil)
	text.out.Flush()
	var lines []string
	for line := range strings.Lines(out.String()) {
		_, rest, _ := strings.Cut(strings.TrimSuffix(line, "\n"), " |")
		lines = append(lines, strings.TrimPrefix(rest, " "))
	}
	return lines
}

func TestMarker(t *testing.T) {
	for _, tt := range []struct {
		name        string
		source      string
		column, end int // of the mark, bytes from 1
		want        []string
	}{
		{"one letter", "G1 X1", 1, 2, []string{"G1 X1", "^"}},
		{"a word", "N10 G1 X1.5", 8, 12, []string{"N10 G1 X1.5", "       ^~~~"}},
		{"the whole block", "G1 X1", 1, 6, []string{"G1 X1", "^~~~~"}},
		{"behind the block", "G81 X1", 7, 7, []string{"G81 X1", "      ^"}},
		{"an empty mark", "G81 X1", 5, 5, []string{"G81 X1", "    ^"}},
		{"a tab before", "N1\tG1\tX1", 7, 9, []string{"N1      G1      X1", "                ^~"}},
		{"a tab marked", "N1\tX", 3, 4, []string{"N1      X", "  ^~~~~~"}},
		{"é as UTF-8", "(é) G5", 6, 8, []string{"(é) G5", "    ^~"}},
		{"é as Latin-1", "(\xe9) G5", 5, 7, []string{"(\uFFFD) G5", "    ^~"}},
		{"a combining mark", "(e\u0301) G5", 7, 9, []string{"(e\u0301) G5", "    ^~"}},
		{"wide characters", "(面) G5", 7, 9, []string{"(面) G5", "     ^~"}},
		{"a wide character marked", "面 G5", 1, 4, []string{"面 G5", "^~"}},
		{"control bytes", "\x00\x00G5\x7f", 3, 5, []string{"\uFFFD\uFFFDG5\uFFFD", "  ^~"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := blockOf(60, &rules.Finding{Line: 7, Column: tt.column, MarkEnd: tt.end, Source: tt.source, SourceCol: 1})
			same(t, strings.Join(got, "\n"), strings.Join(tt.want, "\n"))
		})
	}
}

// Blocks that are too long for a line go on below, the marker with them.
func TestLongBlock(t *testing.T) {
	const source = "N1 G1 X1.0000 Y2.0000 Z3.0000 F10.0 (NOTE)" // 30 - 10 = 20 columns a row
	for _, tt := range []struct {
		name        string
		column, end int
		want        []string
	}{
		{"first row", 4, 6, []string{"N1 G1 X1.0000", "   ^~", "Y2.0000 Z3.0000", "F10.0 (NOTE)"}},
		{"second row", 23, 30, []string{"N1 G1 X1.0000", "Y2.0000 Z3.0000", "        ^~~~~~~", "F10.0 (NOTE)"}},
		{"over rows", 7, 22, []string{"N1 G1 X1.0000", "      ^~~~~~~~", "Y2.0000 Z3.0000", "~~~~~~~", "F10.0 (NOTE)"}},
		{"behind", 43, 43, []string{"N1 G1 X1.0000", "Y2.0000 Z3.0000", "F10.0 (NOTE)", "            ^"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := blockOf(30, &rules.Finding{Line: 7, Column: tt.column, MarkEnd: tt.end, Source: source, SourceCol: 1})
			same(t, strings.Join(got, "\n"), strings.Join(tt.want, "\n"))
		})
	}
	t.Run("without blanks", func(t *testing.T) {
		got := blockOf(30, &rules.Finding{Line: 7, Column: 22, MarkEnd: 25, Source: "N1G1X1.0000Y2.0000Z3.0000F10.", SourceCol: 1})
		same(t, strings.Join(got, "\n"), "N1G1X1.0000Y2.0000Z3\n.0000F10.\n ^~~")
	})
}

// A piece of a long block is marked by its own columns.
func TestPieceOfBlock(t *testing.T) {
	got := blockOf(60, &rules.Finding{Line: 7, Column: 5001, MarkEnd: 5004, Source: "X1 Y2.5 Z3", SourceCol: 4998})
	same(t, strings.Join(got, "\n"), "... X1 Y2.5 Z3\n       ^~~")
}

// text draws what may stand in a program.
func drawText(t *rapid.T) string {
	part := rapid.OneOf(
		rapid.StringMatching(`[A-Z][0-9]{1,4}(\.[0-9]{1,4})?`),
		rapid.SampledFrom([]string{" ", "  ", "\t", "é", "\xe9", "面", "e\u0301", "\x00", "(", ")", strings.Repeat("9", 70)}),
		rapid.String(),
	)
	return strings.Join(rapid.SliceOfN(part, 0, 30).Draw(t, "text"), "")
}

// Nothing is cut off: rows hold all cells in order, none is wider than the
// width but for its blanks at the end, and none is empty.
func TestBreakRowsKeepsAll(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cells := appendCells(nil, nil, drawText(t))
		first, width := rapid.IntRange(8, 90).Draw(t, "first"), rapid.IntRange(8, 90).Draw(t, "width")
		n := 0
		for i, row := range breakRows(cells, first, width) {
			room := width
			if i == 0 {
				room = first
			}
			if len(row) == 0 || widthOf(trimRight(row)) > room && len(trimRight(row)) > 1 {
				t.Fatalf("row %d is %d wide of %d", i, widthOf(trimRight(row)), room)
			}
			for _, c := range row {
				if c != cells[n] {
					t.Fatalf("cell %d is %+v, not %+v", n, c, cells[n])
				}
				n++
			}
		}
		if n != len(cells) {
			t.Fatalf("%d of %d cells are left", n, len(cells))
		}
	})
}

// Each non-blank character of a message is in the report, in order, and no
// line is wider than the terminal, at any width.
func TestReportKeepsAll(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := flange()
		f := &r.Findings[0]
		f.Message, f.Advice = drawText(t), drawText(t)
		f.Source = strings.NewReplacer("\n", "", "\r", "").Replace(drawText(t))
		f.Column = rapid.IntRange(1, len(f.Source)+2).Draw(t, "column")
		f.MarkEnd = f.Column + rapid.IntRange(0, 30).Draw(t, "mark")
		r.Findings = r.Findings[:1]
		width := rapid.IntRange(leastWidth, 120).Draw(t, "width")
		var out bytes.Buffer
		if err := NewText(&out, width, false).Check(r); err != nil {
			t.Fatal(err)
		}
		for line := range strings.Lines(out.String()) {
			if w := widthOf(trimRight(appendCells(nil, nil, strings.TrimSuffix(line, "\n")))); w > width {
				t.Fatalf("%d columns of %d: %q", w, width, line)
			}
		}
		text := squeeze(strings.ReplaceAll(clean(out.String()), "|", ""))
		for _, part := range []string{f.Message, f.Advice} {
			if want := squeeze(strings.ReplaceAll(clean(part), "|", "")); !strings.Contains(text, want) {
				t.Fatalf("%q is not in %q", want, text)
			}
		}
		if marks := strings.Count(out.String(), "^") - strings.Count(f.Message+f.Advice+f.Source, "^"); strings.TrimSpace(f.Source) != "" && marks != 1 {
			t.Fatalf("%d marks in\n%s", marks, out.String())
		}
	})
}

// squeeze leaves blanks out.
func squeeze(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) {
			return -1
		}
		return r
	}, s)
}
