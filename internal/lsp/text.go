package lsp

import (
	"slices"
	"sort"
	"unicode/utf8"

	"tapefit/parser"
)

// A text is a program as the editor has it, in UTF-8. Once made it never changes:
// whoever works on one goes on with it while the next is being typed.
type text struct {
	bytes  []byte
	starts []int // offsets of the lines
}

func newText(s string) *text { return newTextOf([]byte(s)) }

func newTextOf(b []byte) *text {
	t := &text{bytes: b, starts: make([]int, 1, 1+len(b)/16)}
	t.starts = lineStarts(t.starts, b, 0, len(b))
	return t
}

// lineStarts adds the offsets behind the ends of the lines in b from offset from
// on that end at or before to. Lines end as package parser has them end, which is
// as the protocol has it: LF, CR LF or CR.
func lineStarts(starts []int, b []byte, from, to int) []int {
	for from < to {
		n := parser.LineLength(b[from:])
		from += n
		if c := b[from-1]; from <= to && (c == '\n' || c == '\r') {
			starts = append(starts, from)
		}
	}
	return starts
}

// edited is the text with the changes made, in order.
func (t *text) edited(changes []contentChange) *text {
	mine := false // bytes and starts may be written to
	for _, c := range changes {
		if c.Range == nil {
			t, mine = newText(c.Text), true
			continue
		}
		if !mine {
			t, mine = &text{slices.Clone(t.bytes), slices.Clone(t.starts)}, true
		}
		t.replace(t.offset(c.Range.Start), t.offset(c.Range.End), c.Text)
	}
	return t
}

// replace puts other text for that between two offsets, and finds the lines anew
// from the one in front (its CR may meet an LF) to the one behind.
func (t *text) replace(from, to int, with string) {
	to = max(from, to)
	first := t.lineAt(max(0, from-1))
	last := t.lineAt(min(to+1, len(t.bytes))) + 1 // the first start that stays
	grown := len(with) - (to - from)
	t.bytes = slices.Replace(t.bytes, from, to, []byte(with)...)
	end := len(t.bytes)
	if last < len(t.starts) {
		end = t.starts[last] + grown
		for i := last; i < len(t.starts); i++ {
			t.starts[i] += grown
		}
		end-- // its own start is there already
	}
	t.starts = slices.Replace(t.starts, first+1, last, lineStarts(nil, t.bytes, t.starts[first], end)...)
}

// lineAt is the number of the line that an offset is in.
func (t *text) lineAt(offset int) int {
	return sort.Search(len(t.starts), func(i int) bool { return t.starts[i] > offset }) - 1
}

// line gives the offsets of a line, without its end.
func (t *text) line(n int) (from, to int) {
	from, to = t.starts[n], len(t.bytes)
	if n+1 < len(t.starts) {
		to = t.starts[n+1]
	}
	for to > from && (t.bytes[to-1] == '\n' || t.bytes[to-1] == '\r') {
		to--
	}
	return from, to
}

// position is an offset as the protocol has it. One in the end of a line is that
// of the end.
func (t *text) position(offset int) position {
	offset = max(0, min(offset, len(t.bytes)))
	n := t.lineAt(offset)
	from, to := t.line(n)
	p := position{Line: n}
	for at := from; at < min(offset, to); {
		r, size := utf8.DecodeRune(t.bytes[at:to])
		at += size
		p.Character += units(r)
	}
	return p
}

// offset is a position as an offset. What lies behind the end of a line is its
// end, what lies behind the last line the end of the text.
func (t *text) offset(p position) int {
	switch {
	case p.Line < 0:
		return 0
	case p.Line >= len(t.starts):
		return len(t.bytes)
	}
	at, to := t.line(p.Line)
	for n := 0; at < to; {
		r, size := utf8.DecodeRune(t.bytes[at:to])
		if n += units(r); n > p.Character {
			break
		}
		at += size
	}
	return at
}

// units are how many of UTF-16 a character is written in.
func units(r rune) int {
	if r >= 0x10000 {
		return 2
	}
	return 1
}

func (t *text) span(from, to int) span { return span{t.position(from), t.position(to)} }

// lineSpan are whole lines, counted from 0, with their ends: from on, before to.
func (t *text) lineSpan(from, to int) span {
	end := position{Line: to}
	if to >= len(t.starts) {
		end = t.position(len(t.bytes))
	}
	start := position{Line: from}
	if from >= len(t.starts) {
		start = end
	}
	return span{start, end}
}
