package parser

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"
)

// chunk is how much is read at a time, and how far NewReader looks ahead to
// find out whether the first % mark opens the program or closes it, and whether
// there is a program.
const chunk = 64 << 10

// phase is where a Reader stands as to the % marks.
type phase uint8

const (
	unread phase = iota // nothing is read yet
	before              // of the opening mark, which is known to come
	inside              // the program
	behind              // the closing mark
	alien               // the file is no program: nothing in it is
)

// A Reader gives the blocks of a program one by one, in constant memory.
type Reader struct {
	src     io.Reader
	err     error // of src, once it has one
	buf     []byte
	pos     int   // in buf, of the next block
	end     int   // in buf, behind what is read; one byte more is always there
	base    int64 // offset in the program of buf[0]
	line    int   // of the next block
	phase   phase
	opening int64 // offset of the line with the opening mark, in phase before
	cut     bool  // the last block was a piece of a line longer than MaxBlock
	tape    *tape // that the text is punched in, or nil
	block   Block
	law     law
}

// NewReader reads a program from its beginning.
func NewReader(r io.Reader) *Reader {
	return &Reader{src: r, buf: make([]byte, chunk+1), line: 1}
}

// NewFileReader reads a program of size bytes from its beginning. Of text that
// Tape gave, it reports the rows that are wrong.
func NewFileReader(src io.ReaderAt, size int64) *Reader {
	r := NewReader(io.NewSectionReader(src, 0, size))
	r.tape, _ = src.(*tape)
	return r
}

// NewReaderAt reads a program from the block at offset on, which has the given
// line number: a subprogram, or the target of a jump. The block is taken to
// stand inside the program, so that the next % mark closes it.
func NewReaderAt(r io.ReaderAt, offset int64, line int) *Reader {
	punched, _ := r.(*tape)
	return &Reader{
		src:   io.NewSectionReader(r, offset, math.MaxInt64-offset),
		buf:   make([]byte, chunk+1),
		base:  offset,
		line:  line,
		phase: inside,
		tape:  punched,
	}
}

// Alien says, behind the first block, whether the bytes of the file are neither
// text nor punched tape. Then all of it is outside of a program.
func (r *Reader) Alien() bool { return r.phase == alien }

// A Mark is a place between two blocks, from which reading can go on later.
type Mark struct {
	Offset  int64
	Line    int
	phase   phase
	opening int64
}

// Mark gives the place in front of the next block; ok is false within a line that
// is longer than MaxBlock.
func (r *Reader) Mark() (m Mark, ok bool) {
	return Mark{r.base + int64(r.pos), r.line, r.phase, r.opening}, !r.cut
}

// Start is the mark in front of the first block of a text. It hangs on what the
// beginning of the text says of its % marks, and on whether it is text at all. The error is one of reading src.
func Start(src io.ReaderAt, size int64) (Mark, error) {
	r := NewFileReader(src, size)
	r.findOpening()
	m, _ := r.Mark()
	if r.err != nil && r.err != io.EOF {
		return m, r.err
	}
	return m, nil
}

// NewReaderFrom reads on from a mark that a reader of a text gave which had the same
// Start, the same bytes before the mark, and the same one behind it.
func NewReaderFrom(src io.ReaderAt, size int64, m Mark) *Reader {
	r := NewFileReader(src, size)
	r.src = io.NewSectionReader(src, m.Offset, size-m.Offset)
	r.base, r.line, r.phase, r.opening = m.Offset, m.Line, m.phase, m.opening
	return r
}

// Next gives the next block, which holds until the call after. At the end it
// gives io.EOF; another error is the source's, with the line it was met on.
func (r *Reader) Next() (*Block, error) {
	if r.phase == inside && !r.cut && r.tape == nil {
		if n := r.block.scan(r.buf[r.pos:r.end]); n > 0 {
			return r.take(n, Ordinary), nil
		}
	}
	return r.next()
}

// next is Next for all that the scanner does not take in passing: the edge of
// the buffer, the % marks and what stands outside them, the grammar.
func (r *Reader) next() (*Block, error) {
	if r.phase == unread {
		r.findOpening()
	}
	n, whole, err := r.measure()
	if err != nil {
		if err == io.EOF {
			return nil, err
		}
		return nil, fmt.Errorf("line %d: %w", r.line, err)
	}
	kind := r.kind(r.buf[r.pos : r.pos+n])
	tail := r.cut
	r.cut = !whole
	b := &r.block
	b.reset()
	if whole && kind == Ordinary {
		r.read(n)
		if r.tape != nil {
			if err := r.tape.judge(b, r.buf[r.pos:r.pos+n], r.base+int64(r.pos)); err != nil {
				return nil, fmt.Errorf("line %d: %w", r.line, err)
			}
		}
	}
	if !whole && !tail && kind != Outside {
		b.Faults = append(b.Faults, Fault{End: int32(n), Cause: fmt.Sprintf("block is longer than %d bytes: split it", MaxBlock)})
	}
	r.take(n, kind)
	if !whole {
		r.line-- // what is left is on the same line
	}
	return b, nil
}

// read reads the words of the ordinary block of n bytes at pos.
func (r *Reader) read(n int) {
	s := r.buf[r.pos : r.pos+n]
	if r.pos+n == r.end {
		// The last line may have no end. The scanner needs one and is lent
		// it; take has the true length.
		r.buf[r.end] = '\n'
		s = r.buf[r.pos : r.end+1]
	}
	if r.block.scan(s) == 0 {
		r.block.reset()
		r.law.read(&r.block, withoutEnd(s[:n]), r.base+int64(r.pos))
	}
}

// take makes a block of the next n bytes.
func (r *Reader) take(n int, kind Kind) *Block {
	b := &r.block
	b.Line = r.line
	b.Offset = r.base + int64(r.pos)
	b.Raw = r.buf[r.pos : r.pos+n : r.pos+n]
	b.Kind = kind
	r.pos += n
	r.line++
	return b
}

// reset empties the block and keeps its room.
func (b *Block) reset() {
	b.Delete = 0
	b.Words = b.Words[:0]
	b.Comments = b.Comments[:0]
	b.Settings = b.Settings[:0]
	b.Flow = nil
	b.Faults = b.Faults[:0]
	b.nodes.used = 0
}

// kind says what the line at pos is, and steps over the % marks.
func (r *Reader) kind(line []byte) Kind {
	at := r.base + int64(r.pos)
	first := firstByte(line, at)
	switch {
	case r.cut && r.block.Kind != Outside:
		return Remainder
	case r.cut, r.phase == behind, r.phase == alien:
		return Outside
	case r.phase == before && at < r.opening && first != 0:
		return Outside
	case first != '%':
		return Ordinary
	case r.phase == before:
		r.phase = inside
	default:
		r.phase = behind
	}
	return Percent
}

// findOpening looks whether the first % mark within reach opens the program:
// text follows it, and no end of program stands before it.
func (r *Reader) findOpening() {
	for r.err == nil && r.end < chunk {
		r.fill()
	}
	if r.phase = inside; r.tape == nil && isAlien(r.buf[:r.end]) {
		r.phase = alien
		return
	}
	for rest, at := r.buf[:r.end], 0; len(rest) > 0; {
		n := LineLength(rest)
		if firstByte(rest[:n], int64(at)) == '%' {
			if hasText(rest[n:]) && !endsProgram(r.buf[:at]) {
				r.phase = before
				r.opening = int64(at)
			}
			return
		}
		rest = rest[n:]
		at += n
	}
}

// endsProgram says whether an M2, M30 or M99 stands in the lines.
func endsProgram(lines []byte) bool {
	var b Block
	var law law
	for at := 0; at < len(lines); {
		n := LineLength(lines[at:])
		if b.scan(lines[at:]) == 0 {
			b.reset()
			law.read(&b, withoutEnd(lines[at:at+n]), int64(at))
		}
		at += n
		for i := range b.Words {
			w := &b.Words[i]
			if w.Address == 'M' && w.Expr == nil && (w.Value == 2 || w.Value == 30 || w.Value == 99) {
				return true
			}
		}
	}
	return false
}

// measure gives the length of the line at pos with its end, and reads on until
// the line is in the buffer. A line longer than MaxBlock is not whole: it gives
// the length of a piece of it.
func (r *Reader) measure() (n int, whole bool, err error) {
	for seen := 0; ; {
		s := r.buf[r.pos:r.end]
		n := seen + LineLength(s[seen:])
		ended := n > 0 && (s[n-1] == '\n' || s[n-1] == '\r' && (n < len(s) || r.err == io.EOF))
		switch {
		case ended && n <= MaxBlock:
			return n, true, nil
		case len(s) > MaxBlock:
			if s[MaxBlock-1] == '\r' { // its LF is the next byte, and belongs to it
				return MaxBlock - 1, false, nil
			}
			return MaxBlock, false, nil
		case r.err == io.EOF && len(s) > 0:
			return len(s), true, nil
		case r.err != nil:
			return 0, false, r.err
		}
		if seen = n; seen > 0 && s[seen-1] == '\r' {
			seen--
		}
		r.fill()
	}
}

// fill moves what is not yet given to the front of the buffer, makes room and
// reads more.
func (r *Reader) fill() {
	if r.pos > 0 {
		copy(r.buf, r.buf[r.pos:r.end])
		r.base += int64(r.pos)
		r.end -= r.pos
		r.pos = 0
	}
	if r.end == len(r.buf)-1 {
		// Room for the longest line, the byte behind it that tells CR from
		// CR LF, and the one lent in read.
		grown := make([]byte, min(2*len(r.buf), MaxBlock+2))
		copy(grown, r.buf[:r.end])
		r.buf = grown
	}
	for range 100 {
		n, err := r.src.Read(r.buf[r.end : len(r.buf)-1])
		r.end += n
		if err != nil {
			r.err = err
			return
		}
		if n > 0 {
			return
		}
	}
	r.err = io.ErrNoProgress
}

// LineLength is the length of the first line in s with its end; all of s where
// it has none.
func LineLength(s []byte) int {
	for i, c := range s {
		if c == '\n' {
			return i + 1
		}
		if c == '\r' {
			if i+1 < len(s) && s[i+1] == '\n' {
				return i + 2
			}
			return i + 1
		}
	}
	return len(s)
}

// withoutEnd is the line without its LF, CR LF or CR.
func withoutEnd(line []byte) []byte {
	line = bytes.TrimSuffix(line, []byte("\n"))
	return bytes.TrimSuffix(line, []byte("\r"))
}

// bom is the byte order mark of UTF-8: blank at the start of a program.
const bom = "\xEF\xBB\xBF"

// leader is the length of the byte order mark in front of the line at offset.
func leader(line []byte, offset int64) int {
	if offset == 0 && len(line) >= len(bom) && string(line[:len(bom)]) == bom {
		return len(bom)
	}
	return 0
}

// isBlank says whether the byte means nothing: blank, tab, or the NUL of a tape's leader.
func isBlank(c byte) bool { return c == ' ' || c == '\t' || c == 0 }

// firstByte is the first byte of the line at offset that means something, 0
// where there is none.
func firstByte(line []byte, offset int64) byte {
	for _, c := range line[leader(line, offset):] {
		if !isBlank(c) && c != '\n' && c != '\r' {
			return c
		}
	}
	return 0
}

// hasText says whether something stands in the lines.
func hasText(lines []byte) bool { return firstByte(lines, -1) != 0 }

// Clone copies the block and all it points to.
func (b *Block) Clone() *Block {
	c := new(Block)
	b.CopyTo(c)
	return c
}

// CopyTo makes c a copy of the block and all it points to. What c was has its
// room used again.
func (b *Block) CopyTo(c *Block) {
	raw, words, comments, settings, faults := c.Raw[:0], c.Words[:0], c.Comments[:0], c.Settings[:0], c.Faults[:0]
	*c = *b
	c.nodes = nodes{}
	c.Raw = append(raw, b.Raw...)
	c.Words = append(words, b.Words...)
	for i := range c.Words {
		c.Words[i].Expr = c.Words[i].Expr.clone()
	}
	c.Comments = append(comments, b.Comments...)
	c.Settings = append(settings, b.Settings...)
	for i := range c.Settings {
		c.Settings[i] = *c.Settings[i].clone()
	}
	if b.Flow != nil {
		f := *b.Flow
		f.Cond, f.Target, f.Then = f.Cond.clone(), f.Target.clone(), f.Then.clone()
		c.Flow = &f
	}
	c.Faults = append(faults, b.Faults...)
}

// cloneFilled copies a slice; of an empty one it makes nil.
func cloneFilled[T any](s []T) []T {
	if len(s) == 0 {
		return nil
	}
	return slices.Clone(s)
}

func (s *Setting) clone() *Setting {
	if s == nil {
		return nil
	}
	return &Setting{s.Pos, s.End, s.Index.clone(), s.Value.clone(), s.Bare}
}

func (e *Expr) clone() *Expr {
	if e == nil {
		return nil
	}
	c := *e
	c.Args = cloneFilled(e.Args)
	for i, a := range c.Args {
		c.Args[i] = a.clone()
	}
	return &c
}
