package adapt

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"

	"tapefit/parser"
	"tapefit/rules"
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

// switched proves an output as it runs with the switch for block delete on:
// without the blocks that have the mark.
func switched(source, out Side, allowed Allowed) (Proof, error) {
	for _, side := range [...]*Side{&source, &out} {
		text, _, err := settled(side.Src, side.Size, DeleteOn)
		if err != nil {
			return Proof{}, err
		}
		defer text.Close()
		side.Src = text
	}
	return Prove(source, out, allowed)
}

// proveSwitched proves what was written with the switch on too.
func (r *Result) proveSwitched(source, out Side, allowed Allowed) error {
	proof, err := switched(source, out, allowed)
	var different *Difference
	switch {
	case errors.As(err, &different) && len(proof.Limits) <= len(r.Proof.Limits):
		r.leave(rules.Error, different.SourceLine, "with the switch for block delete (/) on, the output would not do what the program does: "+different.What,
			"Decide which is meant: --block-delete off executes these blocks, on leaves them out.")
	case errors.As(err, &different):
		r.leave(rules.Warning, different.SourceLine, "with the switch for block delete (/) on, what the program does is not known, and nothing is proven: "+proof.Limits[len(proof.Limits)-1],
			"Run it with the switch off, or mend the program first.")
	case err != nil:
		return err
	case proof.Deviation > r.Proof.Deviation:
		r.Proof.Deviation, r.Proof.SourceLine, r.Proof.OutLine = proof.Deviation, proof.SourceLine, proof.OutLine
	}
	return nil
}
