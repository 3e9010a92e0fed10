package report

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"tapefit/profiles"
	"tapefit/rules"
)

// pageOf writes the page of a program and gives its text.
func pageOf(t testing.TB, machine, name, program string) string {
	t.Helper()
	return madeOf(t, Page, machine, name, program)
}

// madeOf is what one of the writers of pages makes of a program.
func madeOf[R any](t testing.TB, write func(io.Writer, io.ReaderAt, int64, string, *profiles.Machine, []*rules.Rule, rules.Options) (R, error), machine, name, program string) string {
	t.Helper()
	m, err := profiles.Find(machine, nil)
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	src := strings.NewReader(program)
	if _, err := write(&out, src, src.Size(), name, m, rules.All(), rules.Options{}); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

func demo(t testing.TB, path string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "shop", path))
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// A page has in it what the reports for a terminal say.
func TestPageSays(t *testing.T) {
	page := pageOf(t, "bed-mill", "programs/flange-bolt-circle.ngc", demo(t, "programs/flange-bolt-circle.ngc"))
	for _, want := range []string{
		"<title>flange-bolt-circle.ngc on bed-mill</title>",
		"bed-mill would refuse this program or do other than is written: 1 error, the first in line 14",
		"<b>10:5",
		`<mark>M42</mark>`,
		"Put M5 in a block before the gear code",
		"T5 27/64 in drill",
		`aria-label="Spindle speed over time, with the ranges of the gears"`,
		"a hand on feed hold",
		"licensed people",
	} {
		if !strings.Contains(page, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
}

// Under constant surface speed a page has the range of rpm, and speed and feed as
// they are written.
func TestPageSaysSurfaceSpeed(t *testing.T) {
	text := words(pageOf(t, "slant-lathe", "face.ngc", facing))
	for _, want := range []string{
		"T1 80 degree turning tool 1 191 to 700 at 200 ft/min 0.01 in/rev 0.0000 0:33.8",
		"X dia., in 0.0000 to 4.0000", // as the words are
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the page does not say %q:\n%s", want, text[:1000])
		}
	}
}

// A page needs nothing beside it.
func TestPageStandsAlone(t *testing.T) {
	page := pageOf(t, "bed-mill", "part.ngc", demo(t, "programs/impeller-cover-contour.ngc"))
	for _, reach := range []string{`https?://`, `(?i)\ssrc=`, `(?i)@import`, `(?i)<link[^>]+stylesheet`, `url\(`} {
		if at := regexp.MustCompile(reach).FindString(page); at != "" {
			t.Errorf("the page reaches out with %q", at)
		}
	}
}

// What a program has in it cannot become part of the page.
func TestPageEscapes(t *testing.T) {
	const evil = `</script><script>alert(1)</script><img src=x onerror=alert(2)>`
	page := pageOf(t, "bed-mill", `"><b>.ngc`, "%\n("+evil+")\nG0 X1. ("+evil+")\nG1 X2. ("+evil+")\nM30\n%\n")
	if n := strings.Count(page, "<script"); n != 2 {
		t.Errorf("%d scripts", n)
	}
	if strings.Contains(page, "<img") || strings.Contains(page, `"><b>`) {
		t.Error("a comment has become part of the page")
	}
}

// Any file makes a page: empty ones, bytes, a tape, an endless line.
func TestPageOfAnything(t *testing.T) {
	for name, program := range map[string]string{
		"empty":     "",
		"bytes":     string([]byte{0, 1, 2, 0xff, 0xfe, '%', '\n', 0x80}),
		"no moves":  "%\nM30\n%\n",
		"far away":  "%\nG0 X99999999999999999999\nG1 X-99999999999999999999 F1\nG2 X1 I1e300\nM30\n%\n",
		"long line": strings.Repeat("G1 X1 ", 100000),
		"tape":      demo(t, "tape/foot-plate-proven.tap"),
	} {
		for _, machine := range []string{"bed-mill", "slant-lathe", "rs274ngc"} {
			page := pageOf(t, machine, name, program)
			body, _, _ := strings.Cut(page, "<script>") // in the script the words have their use
			if strings.Contains(body, "NaN") || strings.Contains(body, "Inf") || !strings.HasSuffix(strings.TrimSpace(page), "</html>") {
				t.Errorf("%s on %s: no whole page", name, machine)
			}
		}
	}
}

// A long program has a short page, and its findings are in it.
func TestPageOfALongProgram(t *testing.T) {
	var b strings.Builder
	b.WriteString("%\nG21 G90 M41\nG0 X0 Y0 Z10\nS800 M3\nG1 Z0 F500\n")
	for i := range 120_000 {
		b.WriteString([...]string{"X1\n", "Y1\n", "X0\n", "Y0\n"}[i%4])
	}
	b.WriteString("M88\nM30\n%\n")
	page := pageOf(t, "bed-mill", "long.ngc", b.String())
	if len(page) > 6<<20 {
		t.Errorf("%d bytes", len(page))
	}
	for _, want := range []string{"blocks left out", "<mark>M88</mark>", `data-line="120006"`} {
		if !strings.Contains(page, want) {
			t.Errorf("the page has no %q", want)
		}
	}
}
