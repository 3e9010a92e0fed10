package report

import (
	"fmt"
	"io"
	"strings"

	"github.com/fatih/color"

	"tapefit/internal/adapt"
)

const (
	diffContext = 3  // equal blocks shown around what is not
	sideBySide  = 90 // columns from which both programs stand beside each other
	diffGutter  = 8  // columns of a line number, and a blank behind it
)

// Diff writes in what two programs differ, block by block: beside each other
// where there is room for both, else one under the other, the source marked
// with - and the output with +. The error is one of reading or writing.
func (t *Text) Diff(source io.ReaderAt, sourceSize int64, out io.ReaderAt, outSize int64) error {
	d := diff{t: t}
	err := adapt.Align(source, sourceSize, out, outSize, func(r adapt.Row) bool {
		d.row(r)
		return true
	})
	if err != nil {
		return err
	}
	return t.out.Flush()
}

// diff holds back the equal blocks that may stand before a change.
type diff struct {
	t     *Text
	held  []adapt.Row
	after int  // equal blocks still to be shown behind a change
	gap   bool // some were not shown
	begun bool
}

func (d *diff) row(r adapt.Row) {
	switch {
	case r.Same && d.after > 0:
		d.after--
		d.show(r)
	case r.Same:
		if len(d.held) == diffContext {
			d.gap = true
			d.held = d.held[:copy(d.held, d.held[1:])]
		}
		d.held = append(d.held, r)
	default:
		if d.gap && d.begun {
			d.t.cells(appendCells(nil, d.t.styles.quiet, strings.Repeat(" ", diffGutter-4)+"..."))
		}
		for _, held := range d.held {
			d.show(held)
		}
		d.held, d.gap, d.begun, d.after = d.held[:0], false, true, diffContext
		d.show(r)
	}
}

func (d *diff) show(r adapt.Row) {
	if d.t.width >= sideBySide {
		d.beside(r)
		return
	}
	if r.Same {
		d.under(r.Out, " ", nil, 0, 0)
		return
	}
	from, tail := unlike(r)
	if r.Source != nil {
		d.under(r.Source, "-", d.t.styles.gone, from, tail)
	}
	if r.Out != nil {
		d.under(r.Out, "+", d.t.styles.clear, from, tail)
	}
}

// under writes one block with its mark.
func (d *diff) under(b *adapt.Block, mark string, style *color.Color, from, tail int) {
	lead := fmt.Sprintf("%*d %s ", diffGutter-1, b.Line, mark)
	room := d.t.width - len(lead)
	for i, row := range blockRows(b, style, from, tail, room) {
		if i > 0 {
			lead = strings.Repeat(" ", len(lead))
		}
		d.t.cells(append(appendCells(nil, style, lead), row...))
	}
}

// beside writes the source on the left and the output on the right.
func (d *diff) beside(r adapt.Row) {
	room := (d.t.width-3)/2 - diffGutter
	from, tail := unlike(r)
	old, new, mark := d.t.styles.gone, d.t.styles.clear, " | "
	if r.Same {
		old, new, mark = nil, nil, "   "
	}
	left, right := blockRows(r.Source, old, from, tail, room), blockRows(r.Out, new, from, tail, room)
	for i := range max(len(left), len(right)) {
		line := half(r.Source, old, left, i)
		if pad := diffGutter + room - widthOf(line); pad > 0 {
			line = appendCells(line, nil, strings.Repeat(" ", pad))
		}
		line = appendCells(line, d.t.styles.quiet, mark)
		d.t.cells(append(line, half(r.Out, new, right, i)...))
	}
}

// half is row i of a block behind its line number, which stands at the first.
func half(b *adapt.Block, style *color.Color, rows [][]cell, i int) []cell {
	number := strings.Repeat(" ", diffGutter)
	if b != nil && i == 0 {
		number = fmt.Sprintf("%*d ", diffGutter-1, b.Line)
	}
	cells := appendCells(nil, style, number)
	if i < len(rows) {
		cells = append(cells, rows[i]...)
	}
	return cells
}

// blockRows are the rows of a block, none of nil, with the style on what the
// other has not: all but its first and its last bytes.
func blockRows(b *adapt.Block, style *color.Color, from, tail, room int) [][]cell {
	if b == nil {
		return nil
	}
	cells := appendCells(nil, nil, b.Text)
	for i := range cells {
		if cells[i].pos >= from && cells[i].end <= len(b.Text)-tail {
			cells[i].style = style
		}
	}
	if len(cells) == 0 {
		return [][]cell{nil}
	}
	return breakRows(cells, room, room)
}

// unlike is how many bytes the two blocks of a row have in common at their
// beginnings and at their ends, by whole words.
func unlike(r adapt.Row) (from, tail int) {
	if r.Source == nil || r.Out == nil {
		return 0, 0
	}
	a, b := r.Source.Text, r.Out.Text
	least := min(len(a), len(b))
	for from < least && a[from] == b[from] {
		from++
	}
	for from > 0 && (from < len(a) && !begins(a[from]) || from < len(b) && !begins(b[from])) {
		from--
	}
	for tail < least-from && a[len(a)-1-tail] == b[len(b)-1-tail] {
		tail++
	}
	for tail > 0 && !begins(a[len(a)-tail]) {
		tail--
	}
	return from, tail
}

// begins says whether a byte begins a word or stands between words.
func begins(c byte) bool { return c < '#' || c > '9' }
