package interp

import (
	"fmt"
	"io"
	"math"

	"tapefit/parser"
	"tapefit/profiles"
)

// A contourMove is one move of a contour in the ZX plane.
type contourMove struct {
	arc      bool
	rapid    bool
	from, to Point
	shape    arcShape // of an arc: Z and X
	radius   float64
	line     int
}

// longestContour bounds the memory for a contour, in moves: far more than a
// control takes.
const longestContour = 10000

// readContour executes the blocks P to Q that the words name for their geometry
// alone, and leaves it in turn.contour: the state is afterwards what it was. It
// says whether there is a contour; if not, a fault has said why.
func (in *Interp) readContour(b *parser.Block, word int) (bool, error) {
	t := &in.lathe
	t.contour, t.trouble = t.contour[:0], ""
	in.releaseHeld()
	s, w, op, shift, cycle, saved, comp, show := in.s, in.w, in.op, in.shift, in.cycle, in.saved, in.comp, in.visit.Op
	linear, feedWord, lead := in.linear, in.feedWord, t.lead
	in.visit.Op, t.reading = nil, true
	ok, err := in.contourBlocks(b)
	in.visit.Op, t.reading = show, false
	in.s, in.w, in.op, in.shift, in.cycle, in.saved, in.comp = s, w, op, shift, cycle, saved, comp
	in.linear, in.feedWord, t.lead = linear, feedWord, lead
	if !ok || err != nil {
		return false, err
	}
	trouble := t.trouble
	if trouble == "" && len(t.contour) < 2 {
		trouble = "the blocks P to Q make no contour"
	}
	if trouble != "" {
		in.faultCause(NotInterpreted, b, word, trouble)
		return false, nil
	}
	return true, nil
}

// addMove takes in one move of the contour, as the program has it, and says what
// is wrong with it.
func (in *Interp) addMove(op *Op) string {
	if op.FromKnown&op.ToKnown&(X|Z) != X|Z {
		return fmt.Sprintf("a place of the contour is not known, in line %d", op.Block.Line)
	}
	if len(in.lathe.contour) >= longestContour {
		return fmt.Sprintf("the contour has more than %d moves", longestContour)
	}
	g := contourMove{arc: op.Kind == Arc, rapid: op.Kind == Traverse, from: op.From, to: op.To, line: op.Block.Line}
	if g.arc {
		if op.Plane != ZX {
			return fmt.Sprintf("an arc of the contour lies in another plane than ZX, in line %d", op.Block.Line)
		}
		g.radius = op.Radius
		g.shape = arcShape{
			start:  [2]float64{op.From[2], op.From[0]},
			end:    [2]float64{op.To[2], op.To[0]},
			center: [2]float64{op.Center[2], op.Center[0]},
			cw:     op.CW,
		}
	}
	if g.from[0] != g.to[0] || g.from[2] != g.to[2] {
		in.lathe.contour = append(in.lathe.contour, g)
	}
	return ""
}

// contourBlocks executes the blocks from sequence number P to sequence number Q.
// Where they stand behind the cycle, the program goes on behind them. False: a
// fault has said what is wrong with P or Q.
func (in *Interp) contourBlocks(b *parser.Block) (bool, error) {
	p, q, ok := in.contourNumbers(b)
	if !ok {
		return false, nil
	}
	word := in.w.at['P'-'A']
	behind := b.Offset + int64(len(b.Raw))
	r, first, err := in.beginContour(b, p)
	switch {
	case err != nil:
		return false, err
	case first == nil:
		in.faultValue(b, word, fmt.Sprintf("no block has the sequence number N%d", p))
		return false, nil
	}
	in.lathe.last = sequence{p, place{first.Offset, first.Line}}
	if ends, err := in.contourEnds(b, first, q); !ends || err != nil {
		return false, err
	}
	forward := first.Offset >= behind
	in.lathe.inside = true
	next, err := in.runContour(r, first, q)
	in.lathe.inside = false
	switch {
	case err != nil:
		return false, err
	case next.line == 0:
		in.noContourEnd(b, q)
		return false, nil
	}
	if forward {
		in.goTo(next)
	}
	return true, nil
}

// contourEnds looks ahead for the block with the sequence number q, from the
// first of the contour on. Where there is none nothing is executed: the program
// would be, to its end.
func (in *Interp) contourEnds(b, first *parser.Block, q int64) (bool, error) {
	t, text := &in.lathe, in.top().text
	if t.ahead == nil {
		t.ahead = parser.NewReaderAt(text.source(), first.Offset, first.Line)
	} else {
		t.ahead.Rewind(text.source(), first.Offset, first.Line)
	}
	last, err := in.findSequence(b, t.ahead, q, math.MaxInt64)
	if last == nil && err == nil {
		in.noContourEnd(b, q)
	}
	return last != nil, err
}

func (in *Interp) noContourEnd(b *parser.Block, q int64) {
	p := in.lathe.last.n
	in.faultValue(b, in.qWord(b), fmt.Sprintf("no block behind N%d has the sequence number N%d", p, q))
}

// contourNumbers are P and Q.
func (in *Interp) contourNumbers(b *parser.Block) (p, q int64, ok bool) {
	w := &in.w
	var n [2]int64
	for i, letter := range [...]byte{'P', 'Q'} {
		if !w.has(letter) {
			in.faultMissing(b, w.gAt[profiles.NonModal], letter)
			return 0, 0, false
		}
		if n[i], ok = whole(w.take(letter)); !ok {
			in.faultValue(b, w.at[letter-'A'], "a sequence number is a whole number, 0 or more")
			return 0, 0, false
		}
	}
	return n[0], n[1], true
}

// qWord is the index of the Q word of the block: in.w may be another block's.
func (in *Interp) qWord(b *parser.Block) int {
	for i := range b.Words {
		if b.Words[i].Address == 'Q' {
			return i
		}
	}
	return -1
}

// beginContour finds the block with the sequence number p: behind the cycle, or
// where the last contour began, or else from the start of the program on. It
// gives a reader that stands behind the block; nil: there is none.
func (in *Interp) beginContour(b *parser.Block, p int64) (*parser.Reader, *parser.Block, error) {
	t, text := &in.lathe, in.top().text
	behind := place{b.Offset + int64(len(b.Raw)), b.Line + 1}
	if t.last.n == p && t.last.at.line > 0 && t.last.at.offset < behind.offset {
		behind = t.last.at
	}
	if t.reader == nil {
		t.reader = parser.NewReaderAt(text.source(), behind.offset, behind.line)
	} else {
		t.reader.Rewind(text.source(), behind.offset, behind.line)
	}
	r := t.reader
	first, err := in.findSequence(b, r, p, math.MaxInt64)
	if first == nil && err == nil {
		r = parser.NewFileReader(text.source(), text.size)
		first, err = in.findSequence(b, r, p, behind.offset)
	}
	return r, first, err
}

// findSequence reads on, up to an offset or the end of the program, for the
// block with the sequence number n; nil: there is none.
func (in *Interp) findSequence(b *parser.Block, r *parser.Reader, n, limit int64) (*parser.Block, error) {
	for began := limit == math.MaxInt64; ; {
		next, err := r.Next()
		switch {
		case err == io.EOF:
			return nil, nil
		case err != nil:
			return nil, fmt.Errorf("the contour from N%d: %w", n, err)
		case next.Offset >= limit || began && next.Kind == parser.Percent:
			return nil, nil
		case next.Kind != parser.Ordinary:
			began = began || next.Kind == parser.Percent
			continue
		}
		if !in.spend(b, -1) {
			return nil, nil
		}
		if hasSequence(next, n) {
			return next, nil
		}
	}
}

func hasSequence(b *parser.Block, n int64) bool {
	w := b.Word('N')
	return w != nil && w.Expr == nil && w.Value == float64(n)
}

// runContour executes from a block on to the one with the sequence number q, and
// gives the place behind that; its line is 0 where there is none.
func (in *Interp) runContour(r *parser.Reader, b *parser.Block, q int64) (place, error) {
	for {
		last := hasSequence(b, q)
		if err := in.exec(b); err != nil {
			return place{}, err
		}
		if last {
			return after(b), nil
		}
		if in.s.Ended {
			return place{}, nil
		}
		next, err := r.Next()
		if err == io.EOF || err == nil && next.Kind != parser.Ordinary {
			return place{}, nil
		}
		if err != nil {
			return place{}, fmt.Errorf("a contour: %w", err)
		}
		b = next
	}
}

// steady says where the contour goes back, if it does: behind its first move it
// must go one way along the depth, from its start towards where the cycle began
// (up, 1 or -1), and one way along the cuts (on).
func steady(contour []contourMove, depth, along int, up, on float64) (line int, ok bool) {
	const slack = 1e-4 // mm: rounding of a tangent point
	for i := range contour {
		g := &contour[i]
		back := up*(g.to[depth]-g.from[depth]) < -slack || on*(g.to[along]-g.from[along]) < -slack
		if back || g.arc && g.shape.crossesQuadrant() {
			return g.line, false
		}
	}
	return 0, true
}

// reach is how far along a cut at a level goes before the contour, shifted, rises
// above it: the place along the cuts. up is 1 where the contour rises, -1 where
// it falls.
func reach(contour []contourMove, depth, along int, shift Point, level, up float64) float64 {
	const slack = 1e-9
	for i := range contour {
		g := &contour[i]
		from, to := g.from[depth]+shift[depth], g.to[depth]+shift[depth]
		if up*(to-level) <= slack {
			continue
		}
		if up*(from-level) >= -slack {
			return g.from[along] + shift[along]
		}
		if !g.arc {
			u := (level - from) / (to - from)
			return g.from[along] + u*(g.to[along]-g.from[along]) + shift[along]
		}
		return g.arcAt(depth, along, level-shift[depth]) + shift[along]
	}
	return contour[len(contour)-1].to[along] + shift[along]
}

// arcAt is where an arc within one quadrant passes a level.
func (g *contourMove) arcAt(depth, along int, level float64) float64 {
	center := g.shape.center[1] // X
	other := g.shape.center[0]
	if depth == 2 {
		center, other = other, center
	}
	d := level - center
	half := math.Sqrt(math.Max(0, g.radius*g.radius-d*d))
	low, high := math.Min(g.from[along], g.to[along]), math.Max(g.from[along], g.to[along])
	one := other + half
	if two := other - half; math.Abs(two-(low+high)/2) < math.Abs(one-(low+high)/2) {
		one = two
	}
	return math.Min(math.Max(one, low), high)
}
