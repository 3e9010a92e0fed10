package adapt

import (
	"bufio"
	"fmt"
	"io"
	"os"

	"tapefit/parser"
)

// Delete says what becomes of blocks with block delete.
type Delete uint8

const (
	DeleteKept Delete = iota // they stay what they are
	DeleteOff                // as with the switch off: they are executed
	DeleteOn                 // as with the switch on: they are left out
)

// settled is the program with the switch set for good: blanks stand in place of the
// marks, or of the blocks, so that places stay. It is a temporary file, which
// is gone when it is closed. change is what was done; nil: nothing.
func settled(src io.ReaderAt, size int64, how Delete) (text *os.File, change *Change, err error) {
	text, err = os.CreateTemp("", "tapefit-*")
	if err != nil {
		return nil, nil, err
	}
	defer os.Remove(text.Name())
	out := bufio.NewWriterSize(text, 1<<16)
	r := parser.NewFileReader(src, size)
	for {
		b, err := r.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			text.Close()
			return nil, nil, err
		}
		if b.Delete > 0 && b.Kind == parser.Ordinary {
			if change == nil {
				change = &Change{Pass: Find(BlockDelete), Line: b.Line, Was: string(b.Text(0, int32(len(b.Raw)-len(lineEnd(b)))))}
			}
			change.Count++
			blank(b, how)
		}
		out.Write(b.Raw) // Flush has its error
	}
	if err := out.Flush(); err != nil {
		text.Close()
		return nil, nil, fmt.Errorf("writing: %w", err)
	}
	return text, change, nil
}

// blank puts blanks in place of the block delete mark, or of the block.
func blank(b *parser.Block, how Delete) {
	var room [64]parser.Token
	for _, t := range b.Tokens(room[:0]) {
		if t.Kind == parser.EndOfBlock || how == DeleteOff && t.Kind != parser.DeleteMark {
			continue
		}
		for i := t.Pos; i < t.End; i++ {
			b.Raw[i] = ' '
		}
	}
}
