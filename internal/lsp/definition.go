package lsp

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"math"

	"tapefit/parser"
	"tapefit/profiles"
)

// definition goes from a call to its program, from GOTO to the block with the
// number, from END to its DO, and from the P and Q of a contour cycle to its
// blocks.
func (s *Server) definition(ctx context.Context, params json.RawMessage) (any, error) {
	p, err := ask[atPosition](params)
	if err != nil {
		return nil, err
	}
	o := s.open(p.TextDocument.URI)
	if o == nil {
		return nil, nil
	}
	u := &outliner{text: o.text, m: s.choose(o.text, o.path, o.settings).profile()}
	if u.m == nil {
		if u.m, err = profiles.Find("rs274ngc", nil); err != nil {
			return nil, err
		}
	}
	at := o.text.offset(p.Position)
	line := o.text.lineAt(at)
	blocks := func() *parser.Reader {
		src, size := o.reader(ctx)
		return parser.NewFileReader(src, size)
	}
	b, err := findBlock(blocks(), func(b *parser.Block) bool { return o.text.lineAt(int(b.Offset)) == line })
	if b == nil || err != nil {
		return nil, err
	}
	w := u.wanted(b, int32(at-int(b.Offset)))
	if w == nil {
		return nil, nil
	}
	target, err := w.find(blocks)
	if target == nil || err != nil {
		return nil, err
	}
	from, to := o.text.line(o.text.lineAt(int(target.Offset)))
	if word := target.Word(w.address); word != nil {
		from, to = int(target.Offset)+int(word.Pos), int(target.Offset)+int(word.End)
	}
	return location{o.uri, o.text.span(from, to)}, nil
}

// A target is what a word leads to.
type target struct {
	address byte // 'O', 'N', or 0: the DO of an END
	number  int64
	from    *parser.Block // which leads there
}

// wanted is what the block leads to, by the word at byte at where it has several;
// nil where it leads nowhere, or where to is computed.
func (u *outliner) wanted(b *parser.Block, at int32) *target {
	if f := b.Flow; f != nil {
		n, ok := whole(f.Target)
		switch {
		case !ok:
		case f.Kind == parser.Goto || f.Kind == parser.IfGoto:
			return &target{'N', n, b}
		case f.Kind == parser.EndDo:
			return &target{0, n, b}
		}
		return nil
	}
	for i := range b.Words {
		meaning := u.meaning(&b.Words[i])
		switch {
		case meaning == profiles.CallSubprogram || meaning == profiles.CallArguments:
			if n, ok := wholeWord(b.Word('P')); ok {
				if u.m.Block.Call == "digits" && meaning == profiles.CallSubprogram {
					n %= 10000
				}
				return &target{'O', n, b}
			}
		case meaning.IsContour():
			w := b.Word('P')
			if i := wordAt(b, at); i >= 0 && b.Words[i].Address == 'Q' {
				w = &b.Words[i]
			}
			if n, ok := wholeWord(w); ok {
				return &target{'N', n, b}
			}
		}
	}
	return nil
}

// find looks for the target as the control does: a program number in the whole
// file, a sequence number and a loop in the program that the block is in, a
// sequence number first behind the block.
func (t *target) find(blocks func() *parser.Reader) (*parser.Block, error) {
	if t.address == 'O' {
		return findBlock(blocks(), func(b *parser.Block) bool { return t.has(b) })
	}
	var begin int64 // of the program
	var before, after, loop *parser.Block
	_, err := findBlock(blocks(), func(b *parser.Block) bool {
		if b.Kind == parser.Ordinary && b.Word('O') != nil {
			if b.Offset > t.from.Offset {
				return true
			}
			begin, before, loop = b.Offset, nil, nil
		}
		switch f := b.Flow; {
		case t.address == 0 && f != nil && (f.Kind == parser.While || f.Kind == parser.Do) && b.Offset < t.from.Offset:
			if n, ok := whole(f.Target); ok && n == t.number {
				loop = b.Clone()
			}
		case t.address == 0 || !t.has(b):
		case b.Offset > t.from.Offset:
			after = b.Clone()
			return true
		case before == nil && b.Offset >= begin:
			before = b.Clone()
		}
		return false
	})
	switch {
	case t.address == 0:
		return loop, err
	case after != nil:
		return after, err
	}
	return before, err
}

func (t *target) has(b *parser.Block) bool {
	n, ok := wholeWord(b.Word(t.address))
	return ok && n == t.number && b.Kind == parser.Ordinary
}

// findBlock gives a copy of the first block that is it, or nil.
func findBlock(r *parser.Reader, is func(*parser.Block) bool) (*parser.Block, error) {
	for {
		b, err := r.Next()
		switch {
		case errors.Is(err, io.EOF):
			return nil, nil
		case err != nil:
			return nil, err
		case is(b):
			return b.Clone(), nil
		}
	}
}

// wholeWord is a word's value where it is written as a whole number.
func wholeWord(w *parser.Word) (int64, bool) {
	if w == nil || w.Expr != nil {
		return 0, false
	}
	return int64(w.Value), w.Value >= 0 && w.Value < 1e9 && w.Value == math.Trunc(w.Value)
}

func whole(e *parser.Expr) (int64, bool) {
	if e == nil || e.Op != parser.Number {
		return 0, false
	}
	return int64(e.Value), e.Value >= 0 && e.Value < 1e9 && e.Value == math.Trunc(e.Value)
}
