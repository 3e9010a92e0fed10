package adapt

import (
	"bytes"
	"io"

	"tapefit/parser"
	"tapefit/profiles"
)

// structure is a program with calls, loops or expressions that the machine has
// too: it stays one, and each of its blocks is written once, in its place. That
// goes as long as a block becomes the same text each time it is executed.
type structure struct {
	on     bool
	failed bool
	texts  map[int64][]byte // of blocks that must change, by offset; nil: the block stays
	size   int
	head   []byte // what stands before the first block
}

// mostStructured bounds the text that is held for blocks that change, in bytes:
// what is longer is no program that somebody wrote with loops.
const mostStructured = 16 << 20

// structures says whether the machine reads calls, loops and expressions as the
// control does that the program is written for.
func structures(from, to *profiles.Machine) bool {
	f, t := &from.Block, &to.Block
	return to.Kind != "lathe" && t.Parameters && t.Expressions && call(f.Call) == call(t.Call) && f.Repeat == t.Repeat
}

func call(form string) string {
	if form == "digits" {
		return form
	}
	return "words"
}

// keepsStructure says whether the machine has what makes the block part of a
// structure.
func (a *adapter) keepsStructure(b *parser.Block) bool {
	if !structural(b, a.from) {
		return true
	}
	if !a.structure.on {
		return false
	}
	if b.Flow != nil && !a.to.Block.Flow || bare(b) && !a.to.Block.BareSettings {
		return false
	}
	for i := range b.Words {
		w := &b.Words[i]
		if w.Address == 'G' && w.Expr == nil && meaningG(a.from, w) == profiles.CallArguments && a.from.Block.Locals != a.to.Block.Locals {
			return false
		}
	}
	return true
}

// bare says whether the block sets a parameter to what is computed without brackets.
func bare(b *parser.Block) bool {
	for i := range b.Settings {
		if b.Settings[i].Bare {
			return true
		}
	}
	return b.Flow != nil && b.Flow.Then != nil && b.Flow.Then.Bare
}

// hold takes over the text of a block that was just executed; kept says that it
// is the source's.
func (a *adapter) hold(b *parser.Block, kept bool) {
	s := &a.structure
	text := a.w.held
	a.w.held = a.w.held[:0]
	if kept {
		text = nil
	}
	before, again := s.texts[b.Offset]
	switch {
	case again && !bytes.Equal(before, text), !kept && structural(b, a.from):
		s.failed = true
	case again:
	case kept:
		s.texts[b.Offset] = nil
		s.size += 16
	default:
		s.texts[b.Offset] = append([]byte{}, text...)
		s.size += len(text) + 16
	}
	s.failed = s.failed || s.size > mostStructured
}

// writeStructure writes the program in the order of its text.
func (a *adapter) writeStructure(src io.ReaderAt, size int64) error {
	r := parser.NewFileReader(src, size)
	a.w.holds, a.w.held = false, nil
	head := a.structure.head
	for {
		b, err := r.Next()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		if b.Kind == parser.Ordinary && head != nil {
			a.w.write(head)
			head = nil
		}
		if text := a.structure.texts[b.Offset]; b.Kind == parser.Ordinary && text != nil {
			a.w.write(text)
		} else {
			a.w.write(b.Raw)
		}
	}
}
