package interp

import (
	"fmt"
	"io"

	"tapefit/parser"
)

// A place is where a block begins.
type place struct {
	offset int64
	line   int
}

// after is the place behind a block.
func after(b *parser.Block) place { return place{b.Offset + int64(len(b.Raw)), b.Line + 1} }

// A text is what blocks are executed from again: the file of the program, or
// the tool-change program of the profile. It keeps places, and the blocks that
// take long to read; both are bounded.
type text struct {
	src  io.ReaderAt
	size int64
	read bool // something was read here, not by the main pass

	subs    map[int64]place // of O words; nil until the first call
	partial bool            // there are more of them
	jumps   map[jump]place
	ends    map[int64]place // of loops, by the offset of their DO

	readers [4]reader // by level: a call does not throw away what its caller has read
	search  *parser.Reader
	kept    map[int64]*parser.Block // by offset
	room    int                     // for more of them, bytes of their text
}

// A reader remembers which block it gives next.
type reader struct {
	*parser.Reader
	next int64
}

// A jump is a sequence number looked for from a block.
type jump struct{ from, number int64 }

const (
	mostPlaces  = 1 << 16 // program numbers, jumps and loops kept
	mostKept    = 512 << 10
	longestKept = 4 << 10
)

func newText(src io.ReaderAt, size int64) *text {
	return &text{
		src: src, size: size,
		jumps: map[jump]place{}, ends: map[int64]place{}, kept: map[int64]*parser.Block{}, room: mostKept,
	}
}

// source is src for whoever reads from it.
func (t *text) source() io.ReaderAt {
	t.read = true
	return t.src
}

// block reads the block at a place for a level of calls. It holds until the
// next call for the level. At the end of the text the error is io.EOF.
func (t *text) block(level int, at place) (*parser.Block, error) {
	if b := t.kept[at.offset]; b != nil {
		return b, nil
	}
	r := &t.readers[level%len(t.readers)]
	switch {
	case r.Reader == nil:
		r.Reader = parser.NewReaderAt(t.source(), at.offset, at.line)
	case r.next != at.offset:
		r.Rewind(t.source(), at.offset, at.line)
	}
	b, err := r.Next()
	if err != nil {
		r.next = -1
		return nil, err
	}
	r.next = b.Offset + int64(len(b.Raw))
	if len(b.Raw) > longestKept || !computed(b) {
		return b, nil
	}
	return t.keep(b), nil
}

// computed says whether the block has expressions or flow: those are slow to
// read, and what stands in a loop is read again and again.
func computed(b *parser.Block) bool {
	if b.Flow != nil || len(b.Settings) > 0 {
		return true
	}
	for i := range b.Words {
		if b.Words[i].Expr != nil {
			return true
		}
	}
	return false
}

// keep keeps a copy of the block; when the room is used up, the others go.
func (t *text) keep(b *parser.Block) *parser.Block {
	if t.room < len(b.Raw) {
		clear(t.kept)
		t.room = mostKept
	}
	t.room -= len(b.Raw)
	b = b.Clone()
	t.kept[b.Offset] = b
	return b
}

// from is the reader for searches, set to a place.
func (t *text) from(at place) *parser.Reader {
	if t.search == nil {
		t.search = parser.NewReaderAt(t.source(), at.offset, at.line)
	} else {
		t.search.Rewind(t.source(), at.offset, at.line)
	}
	return t.search
}

// scan shows the blocks from a place on, of the program that begins at begin,
// until do has seen enough. It gives how many it has read.
func (t *text) scan(begin, at place, do func(*parser.Block) bool) (n int64, err error) {
	r := t.from(at)
	for {
		b, err := r.Next()
		if err == io.EOF {
			return n, nil
		}
		if err != nil {
			return n, fmt.Errorf("line %d: %w", at.line, err)
		}
		n++
		if ends(b, begin) || do(b) {
			return n, nil
		}
	}
}

// ends says whether the program that begins at begin ends in front of the
// block: at the mark, or where the next one begins.
func ends(b *parser.Block, begin place) bool {
	switch b.Kind {
	case parser.Percent, parser.Outside:
		return true
	case parser.Ordinary:
		return b.Offset != begin.offset && b.Word('O') != nil
	}
	return false
}

// subprogram finds a program number. The first search reads the text once and
// keeps the places of all.
func (t *text) subprogram(number int64) (at place, found bool, err error) {
	if t.subs == nil {
		t.subs = map[int64]place{}
		err = t.programs(func(n int64, at place) bool {
			if len(t.subs) == mostPlaces {
				t.partial = true
				return true
			}
			if _, twice := t.subs[n]; !twice {
				t.subs[n] = at
			}
			return false
		})
	}
	at, found = t.subs[number]
	if err != nil || found || !t.partial {
		return at, found, err
	}
	err = t.programs(func(n int64, here place) bool {
		if n == number {
			at, found = here, true
		}
		return found
	})
	return at, found, err
}

// programs shows the program numbers and where they stand, until do has seen
// enough.
func (t *text) programs(do func(number int64, at place) bool) error {
	r := parser.NewFileReader(t.source(), t.size)
	for {
		b, err := r.Next()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		if o := b.Word('O'); o != nil {
			if n, ok := whole(o.Value); ok && do(n, place{b.Offset, b.Line}) {
				return nil
			}
		}
	}
}
