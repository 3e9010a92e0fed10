package parser

import (
	"bytes"
	"fmt"
	"io"
	"math/bits"
)

// Code is the code in which a program is punched.
type Code uint8

const (
	None   Code = iota // plain text: no tape
	ISO840             // the 7-bit code of ISO 840, the same as ASCII, with even parity in track 8; LF ends a block
	RS244              // the code of EIA RS-244, with odd parity in track 5; a hole in track 8 alone ends a block
)

func (c Code) String() string { return [...]string{"plain text", "ISO 840", "EIA RS-244"}[c] }

// rs244 are the characters of EIA RS-244 by row, track 1 in bit 0, from memory.
// Digits are binary in tracks 1 to 4, with 0 a hole in track 6; letters are
// digits with holes in tracks 6 and 7 (a to i), 7 (j to r) or 6 (s to z);
// track 5 makes the number of holes odd. That number is the proof of each row,
// and all of these pass; what it cannot prove is which sign a row stands for.
// The brackets are the control-out and control-in rows of later practice.
var rs244 = [256]byte{
	0x01: '1', 0x02: '2', 0x13: '3', 0x04: '4', 0x15: '5', 0x16: '6', 0x07: '7', 0x08: '8', 0x19: '9', 0x20: '0',
	0x61: 'A', 0x62: 'B', 0x73: 'C', 0x64: 'D', 0x75: 'E', 0x76: 'F', 0x67: 'G', 0x68: 'H', 0x79: 'I',
	0x51: 'J', 0x52: 'K', 0x43: 'L', 0x54: 'M', 0x45: 'N', 0x46: 'O', 0x57: 'P', 0x58: 'Q', 0x49: 'R',
	0x32: 'S', 0x23: 'T', 0x34: 'U', 0x25: 'V', 0x26: 'W', 0x37: 'X', 0x38: 'Y', 0x29: 'Z',
	0x10: ' ', 0x3E: '\t', 0x70: '+', 0x40: '-', 0x6B: '.', 0x3B: ',', 0x31: '/', 0x0E: '&',
	0x1A: '(', 0x4A: ')',
	0x0B: '%',  // end of record, which stops the rewinding
	0x80: '\n', // end of block
}

// Rows of EIA RS-244 that a control passes over: from memory too.
const (
	rs244Backspace = 0x2A
	rs244LowerCase = 0x7A
	rs244UpperCase = 0x7C
	rs244Delete    = 0x7F // rub-out: it makes any row unsaid but that of track 8
)

// misread stands in the text for a row that is no character of its code. The
// text of a row that reads well is below 0x80.
const misread = 0xFF

// text is the byte that a row stands for: 0 for blank tape and for what a
// control passes over, misread where the parity is wrong or the code has no
// such row. Letters are upper case.
func (c Code) text(row byte) byte {
	odd := bits.OnesCount8(row)&1 == 1
	switch {
	case row == 0:
		return 0
	case c == ISO840 && !odd:
		switch ch := row & 0x7F; ch {
		case 0x08, '\r', 0x7F: // backspace, carriage return, rub-out
			return 0
		default:
			return ch
		}
	case c == RS244 && rs244[row] != 0:
		return rs244[row]
	case c == RS244 && (row == rs244Backspace || row == rs244LowerCase || row == rs244UpperCase || row == rs244Delete):
		return 0
	}
	return misread
}

// table is what the rows of a code stand for.
func (c Code) table() (t [256]byte) {
	for row := range t {
		t[row] = c.text(byte(row))
	}
	return t
}

// Tape gives the text of a program of size bytes in src. Where src is the image
// of a punched tape, one byte a row, each row becomes one byte of text, so that
// offsets, lines and columns are those of the tape; blank tape, rub-outs and a
// leader punched to be read by eye become NUL. The Readers made on the text
// report every row of a block that is wrong. Where src is plain text it comes
// back as it is. The error is one of reading src.
func Tape(src io.ReaderAt, size int64) (io.ReaderAt, Code, error) {
	head := make([]byte, min(size, chunk))
	n, err := io.ReadFull(io.NewSectionReader(src, 0, size), head)
	if err != nil && err != io.EOF && err != io.ErrUnexpectedEOF {
		return nil, None, err
	}
	head = head[:n]
	code := Recognise(head)
	if code == None {
		return src, None, nil
	}
	t := &tape{src: src, code: code, table: code.table()}
	t.leader, t.opening = leaderByEye(head, &t.table)
	return t, code, nil
}

// A tape is an image of punched tape that reads as text.
type tape struct {
	src             io.ReaderAt
	code            Code
	table           [256]byte
	leader, opening int64 // the rows between are a leader to be read by eye
}

// ReadAt reads text. The errors are those of the image.
func (t *tape) ReadAt(p []byte, off int64) (int, error) {
	n, err := t.src.ReadAt(p, off)
	for i, row := range p[:n] {
		p[i] = t.table[row]
	}
	if off < t.opening {
		for at := max(off, t.leader); at < min(off+int64(n), t.opening); at++ {
			p[at-off] = 0
		}
	}
	return n, err
}

// judge puts the wrong rows of a block, whose text stands at the offset, in the
// place of its other faults, which may be nothing but their consequence. The
// error is one of reading the image.
func (t *tape) judge(b *Block, text []byte, offset int64) error {
	end := len(withoutEnd(text))
	begin := skipBlanks(text, 0)
	// Blank rows in EIA RS-244 have an even number of holes too, none. They are
	// right between blocks; inside one a hole is missing: of 1, 2, 4, 8 or 0.
	blanks := t.code == RS244 && end < len(text)
	if bytes.IndexByte(text, misread) < 0 && !(blanks && begin < end && bytes.IndexByte(text[begin:end], 0) >= 0) {
		return nil
	}
	rows := make([]byte, len(text))
	if n, err := t.src.ReadAt(rows, offset); n < len(rows) {
		return err
	}
	var faults []Fault
	for i := begin; i < end && len(faults) <= maxFaults; {
		n := 0
		switch {
		case text[i] == misread:
			n = 1
		case blanks:
			n = len(rows[i:end]) - len(bytes.TrimLeft(rows[i:end], "\x00"))
		}
		if n > 0 {
			faults = append(faults, Fault{Pos: int32(i), End: int32(i + n), Cause: t.cause(rows[i], offset+int64(i)+1)})
		}
		i += max(n, 1)
	}
	if len(faults) > maxFaults {
		faults[maxFaults].End, faults[maxFaults].Cause = int32(end), tooMuch
	}
	if len(faults) > 0 {
		b.Faults = faults
	}
	return nil
}

// cause says what is wrong with a row of the tape, which counts from 1 at the
// start of the image, and what to do.
func (t *tape) cause(row byte, count int64) string {
	const remedy = "punch the row anew, or type the block again"
	odd := bits.OnesCount8(row)&1 == 1
	switch {
	case row == 0:
		return fmt.Sprintf("row %d of the tape is blank inside a block: %s", count, remedy)
	case odd && t.code == RS244:
		return fmt.Sprintf("row %d of the tape, 0x%02x, is no character of %v: %s", count, row, t.code, remedy)
	case odd:
		return fmt.Sprintf("parity error in row %d of the tape, 0x%02x with an odd number of holes: %s", count, row, remedy)
	}
	return fmt.Sprintf("parity error in row %d of the tape, 0x%02x with an even number of holes: %s", count, row, remedy)
}

// Least and most of what makes an image a tape.
const (
	fewestRows   = 8  // that are punched
	wellOfOneBad = 20 // of so many rows one may be misread
	fewestHigh   = 4  // of so many rows of ISO 840 outside comments one has track 8
	fewestLow    = 8  // of so many rows of EIA RS-244 one is a control character in text
)

// Recognise says which code the beginning of a file is punched in. It takes
// none for a tape that could be text. Even parity sets the top bit in every
// second character, blanks and half the digits among them; text has it in
// letters of other languages, in comments mostly, and its blanks and closing
// brackets have the wrong parity. EIA RS-244 ends blocks with 0x80, which no
// ASCII or Latin-1 text has, and UTF-8 only behind a byte of another kind; and
// its digits are control characters there, which text has none of.
func Recognise(head []byte) Code {
	for _, code := range [...]Code{ISO840, RS244} {
		table := code.table()
		// A leader or trailer to be read by eye may have more rows than a short
		// program.
		if isPunched(head, 0, len(head), code, &table) {
			return code
		}
		if begin, end := betweenMarks(head, &table); isPunched(head, begin, end, code, &table) {
			return code
		}
	}
	return None
}

// isPunched says whether the rows from begin to end of a file that begins with
// head can be nothing but a program in the code.
func isPunched(head []byte, begin, end int, code Code, table *[256]byte) bool {
	punched, bad, ends, low := 0, 0, 0, 0
	outside, high := 0, 0 // rows outside of what would be a comment in plain text
	comment := byte(0)    // that mark, 0 outside
	for i, row := range head[:end] {
		switch {
		case row == '\n' || row == '\r' || row == ')' && comment == '(':
			comment = 0
		case comment == 0 && (row == '(' || row == ';'):
			comment = row
		case comment == 0 && row != 0 && i >= begin:
			outside++
			high += int(row >> 7)
		}
		if row == 0 || i < begin {
			continue
		}
		punched++
		if row < ' ' && row != '\t' && row != '\n' && row != '\r' {
			low++
		}
		switch c := table[row]; {
		case c == '\n':
			ends++
		case c == misread, c != 0 && c < ' ' && c != '\t':
			bad++
		}
	}
	if punched < fewestRows || bad*wellOfOneBad > punched || ends == 0 || !looksLikeBlocks(head[begin:end], table) {
		return false
	}
	if code == RS244 {
		return ends > bad && low*fewestLow >= punched
	}
	return high > 0 && high*fewestHigh >= outside
}

// looksLikeBlocks says whether most of the lines that the rows come to begin as
// a block does: with a comment, a % mark, a parameter, or an address and a number.
func looksLikeBlocks(rows []byte, table *[256]byte) bool {
	blocks, lines := 0, 0
	var start [2]byte // of the line, blanks and the block delete mark aside
	n := 0
	for i, row := range rows {
		c := table[row]
		switch {
		case isBlank(c) || c == '/' && n == 0:
		case c != '\n' && n < len(start):
			start[n] = c
			n++
		}
		if n > 0 && (c == '\n' || i == len(rows)-1) {
			lines++
			if start[0] == '%' || start[0] == '(' || start[0] == '#' ||
				(isLetter(start[0]) || start[0] == ':') && n > 1 && (isNumeral(start[1]) || start[1] == '-' || start[1] == '+') {
				blocks++
			}
			n = 0
		}
	}
	return 2*blocks > lines
}

// betweenMarks is where the first % mark that stands alone begins and where the
// second does, or the end.
func betweenMarks(rows []byte, table *[256]byte) (begin, end int) {
	begin = -1
	for i, row := range rows {
		if table[row] != '%' || !standsAlone(rows[i+1:], table) {
			continue
		}
		if begin >= 0 {
			return begin, i
		}
		begin = i
	}
	return max(begin, 0), len(rows)
}

// leaderByEye finds rows that are punched to be read by eye: letters made of
// holes, in front of a % mark that stands alone on the rest of its line. It
// gives where they begin and where the mark stands; 0, 0 where there are none.
func leaderByEye(head []byte, table *[256]byte) (begin, opening int64) {
	from, punched, bad := 0, 0, 0
	for i, row := range head {
		switch c := table[row]; {
		case c == '\n':
			from, punched, bad = i+1, 0, 0
		case c == '%' && standsAlone(head[i+1:], table):
			// Letters of holes are wrong in every second row; a block that a
			// dirty reader spoiled is not.
			if bad < fewestRows || 4*bad < punched {
				return 0, 0
			}
			return int64(from), int64(i)
		case row != 0:
			punched++
			if c == misread {
				bad++
			}
		}
	}
	return 0, 0
}

// standsAlone says whether nothing but blanks stands in the rows up to the end
// of the block.
func standsAlone(rows []byte, table *[256]byte) bool {
	for _, row := range rows {
		if c := table[row]; !isBlank(c) {
			return c == '\n'
		}
	}
	return false
}
