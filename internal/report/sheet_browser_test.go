package report

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"regexp"
	"testing"

	cdpage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// papers are sizes in inches: A4 is 210 by 297 mm (ISO 216), Letter 8.5 by 11 in
// (ANSI/ASME Y14.1, from memory).
var papers = map[string][2]float64{"A4": {210 / 25.4, 297 / 25.4}, "Letter": {8.5, 11}}

// onPaper counts the pages that a sheet takes.
func (b *browser) onPaper(t *testing.T, size [2]float64) int {
	t.Helper()
	var pdf []byte
	b.run(t, chromedp.ActionFunc(func(ctx context.Context) (err error) {
		pdf, _, err = cdpage.PrintToPDF().WithPaperWidth(size[0]).WithPaperHeight(size[1]).WithPreferCSSPageSize(false).Do(ctx)
		return err
	}))
	if !bytes.HasPrefix(pdf, []byte("%PDF")) {
		t.Fatal("no PDF")
	}
	return len(regexp.MustCompile(`/Type\s*/Page\b[^s]`).FindAll(pdf, -1))
}

// cutOff is the first text of a picture that does not lie in it whole.
const cutOff = `(Array.from(document.querySelectorAll("figure > svg text")).find((e) => {
	const text = e.getBoundingClientRect(), all = e.closest("figure > svg").getBoundingClientRect();
	return text.left < all.left || text.right > all.right || text.top < all.top - 1 || text.bottom > all.bottom + 1;
}) || {textContent: ""}).textContent`

// A setup sheet is one or two pages, on either paper: who has to turn more of
// them at the machine does not read them.
func TestSheetOnPaper(t *testing.T) {
	var b *browser
	for _, job := range []struct {
		machine, program string
		most             int
	}{
		{"bed-mill", "programs/gland-plate-proven.ngc", 1},
		{"bed-mill", "programs/bearing-cap-metric.ngc", 2}, // much to say
		{"bed-mill", "programs/bearing-bracket-mended.ngc", 2},
		{"knee-mill", "adapted/gland-plate-proven.tap", 2}, // all by hand
		{"slant-lathe", "lathe/gland-nut-proven.ngc", 2},
	} {
		page := sheetOf(t, job.machine, job.program, demo(t, job.program))
		if b == nil {
			b = openPage(t, page)
		} else { // in the same browser: starting one takes longer than printing
			file := filepath.Join(t.TempDir(), "sheet.html")
			if err := os.WriteFile(file, []byte(page), 0o644); err != nil {
				t.Fatal(err)
			}
			b.run(t, chromedp.Navigate("file://"+file))
		}
		if cut := eval[string](t, b, cutOff); cut != "" {
			t.Errorf("%s on %s: cut off at the edge of its picture: %s", job.program, job.machine, cut)
		}
		for name, size := range papers {
			if n := b.onPaper(t, size); n < 1 || n > job.most {
				t.Errorf("%s on %s: %d pages of %s", job.program, job.machine, n, name)
			}
		}
	}
}
