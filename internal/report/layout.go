package report

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/fatih/color"
	"github.com/mattn/go-runewidth"
)

// A run is text in one style; a nil style is plain.
type run struct {
	style *color.Color
	text  string
}

// A cell is what a terminal shows of one character.
type cell struct {
	style *color.Color
	text  string
	width int // columns: 0 for a combining mark, 2 for a wide character
	pos   int // bytes of the source it stands for: pos to end
	end   int
	blank bool
}

// unreadable stands for a byte that is not UTF-8 and for every character that
// a terminal would obey instead of showing it: a program must not be able to
// move the cursor or to turn its own text around.
const unreadable = "\uFFFD"

// tabStop is the distance of tab stops in blocks.
const tabStop = 8

// widths counts ambiguous characters as narrow, as terminals do, whatever the
// locale.
var widths = runewidth.Condition{StrictEmojiNeutral: true}

// appendCells adds the cells of text, whose first byte is in column 0.
func appendCells(cells []cell, style *color.Color, text string) []cell {
	column := 0
	for pos := 0; pos < len(text); {
		r, size := utf8.DecodeRuneInString(text[pos:])
		c := cell{style: style, text: text[pos : pos+size], width: 1, pos: pos, end: pos + size}
		switch {
		case r == '\t':
			c.width = tabStop - column%tabStop
			c.text, c.blank = strings.Repeat(" ", c.width), true
		case r == ' ':
			c.blank = true
		case r == utf8.RuneError || !unicode.IsGraphic(r):
			c.text = unreadable
		default:
			c.width = widths.RuneWidth(r)
		}
		cells = append(cells, c)
		column += c.width
		pos += size
	}
	return cells
}

// breakRows parts cells into rows that fit the width: behind blanks where that
// can be, else where the row is full. Blanks at the end of a row stay there,
// beyond the width if need be. A first row may have less room.
func breakRows(cells []cell, first, width int) [][]cell {
	var rows [][]cell
	for room := first; len(cells) > 0; room = width {
		n := fit(cells, room)
		rows = append(rows, cells[:n])
		cells = cells[n:]
	}
	return rows
}

// fit is how many of the cells go into a row.
func fit(cells []cell, room int) int {
	used, word := 0, 0 // word: where the last whole word and its blanks end
	for i, c := range cells {
		if c.blank {
			word = i + 1
		} else if used+c.width > room && i > 0 {
			if word > 0 && !allBlank(cells[:word]) {
				return word
			}
			return i
		}
		used += c.width
	}
	return len(cells)
}

func allBlank(cells []cell) bool {
	for _, c := range cells {
		if !c.blank {
			return false
		}
	}
	return true
}

func trimRight(row []cell) []cell {
	for len(row) > 0 && row[len(row)-1].blank {
		row = row[:len(row)-1]
	}
	return row
}

func widthOf(row []cell) int {
	w := 0
	for _, c := range row {
		w += c.width
	}
	return w
}

// clean is text for one line: blanks of any sort become one, and nothing in it
// can steer a terminal.
func clean(text string) string {
	var b strings.Builder
	for _, c := range appendCells(nil, nil, strings.Join(strings.Fields(text), " ")) {
		b.WriteString(c.text)
	}
	return b.String()
}

// marker is the line under a row of a block: ^~~~ below the bytes from pos to
// end of the source, or "" where the row has none of them. begun says that an
// earlier row has shown the ^. What lies in blanks beyond the room is marked at
// its edge.
func marker(row []cell, pos, end, room int, begun bool) string {
	var line []byte
	column := 0
	for _, c := range row {
		if c.pos < end && c.end > pos {
			from, to := min(column, room-1), min(column+c.width, room)
			if c.width == 0 { // it stands over the character before it
				from, to = max(from-1, 0), max(from, 1)
			}
			for len(line) < from {
				line = append(line, ' ')
			}
			for len(line) < to {
				line = append(line, '~')
			}
			if !begun {
				line[from], begun = '^', true
			}
		}
		column += c.width
	}
	return string(line)
}
