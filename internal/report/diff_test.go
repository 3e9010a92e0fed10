package report

import (
	"bytes"
	"strings"
	"testing"
)

func diffOf(t *testing.T, width int, colour bool, a, b string) string {
	t.Helper()
	var out bytes.Buffer
	if err := NewText(&out, width, colour).Diff(strings.NewReader(a), int64(len(a)), strings.NewReader(b), int64(len(b))); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

const (
	diffOld = "%\nN1 G0 X1\nN2 Y1\nN3 Z1\nN4 X2\nN5 M3 S900\nN6 G1 X9 F10\nN7 X8\nN8 X7\nN9 X6\n\nN10 X5\nN11 X4\nN12 X3\nN13 M30\n%\n"
	diffNew = "%\nN1 G0 X1\nN2 Y1\nN3 Z1\nN4 X2\nN5 M42\nS900 M3\nN6 G1 X9 F10\nN7 X8\nN8 X7\nN9 X6\n\nN10 X5\nN11 X4\nN12 X3.5\nN13 M30\n%\n"
)

func TestDiff(t *testing.T) {
	got := diffOf(t, 60, false, diffOld, diffNew)
	want := `      3   N2 Y1
      4   N3 Z1
      5   N4 X2
      6 + N5 M42
      6 - N5 M3 S900
      7 + S900 M3
      8   N6 G1 X9 F10
      9   N7 X8
     10   N8 X7
    ...
     12
     13   N10 X5
     14   N11 X4
     14 - N12 X3
     15 + N12 X3.5
     16   N13 M30
     17   %
`
	if got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
	if got := diffOf(t, 60, false, diffOld, diffOld); got != "" {
		t.Errorf("of equal programs:\n%s", got)
	}
}

func TestDiffBeside(t *testing.T) {
	got := diffOf(t, 95, false, "G1 X1\nG1 X2\nM30\n", "G1 X1\nG1 X2.5 (A COMMENT THAT GOES ON OVER MORE THAN HALF)\nM30\n")
	want := `      1 G1 X1                                          1 G1 X1
      2 G1 X2                                  |       2 G1 X2.5 (A COMMENT THAT GOES ON OVER
                                               |         MORE THAN HALF)
      3 M30                                            3 M30
`
	if got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
}

// Only what is not the same has a colour, by whole words, and nothing in a
// program can steer the terminal.
func TestDiffColour(t *testing.T) {
	got := diffOf(t, 60, true, "G1 X12 Y3\n", "G1 X13 Y3\n")
	for _, want := range []string{"G1 \x1b[31mX12\x1b[0m Y3", "G1 \x1b[32mX13\x1b[0m Y3"} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is not in %q", want, got)
		}
	}
	if got := diffOf(t, 60, false, "(\x1b[2J)\n", "(\x1b[3J)\n"); strings.Contains(got, "\x1b") {
		t.Errorf("%q", got)
	}
}
