package parser

import (
	"io"
	"math"
)

// Rewind makes a Reader that NewReaderAt gave begin again at another block of
// the same source. What still stands in the buffer is not read again: a short
// subprogram that is called a thousand times costs one read.
func (r *Reader) Rewind(src io.ReaderAt, offset int64, line int) {
	if offset < r.base || offset > r.base+int64(r.end) {
		r.src = io.NewSectionReader(src, offset, math.MaxInt64-offset)
		r.base, r.end, r.err = offset, 0, nil
	}
	r.pos = int(offset - r.base)
	r.line = line
	r.phase, r.cut = inside, false
}
