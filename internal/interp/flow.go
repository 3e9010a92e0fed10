package interp

import (
	"fmt"

	"tapefit/parser"
)

// A loop is one that is being run. Those of all levels lie in Interp.loops, the
// innermost last.
type loop struct {
	label      int64
	begin, end place // its DO; behind its END
	count      int64 // how often END has led back
}

// mostLoops is how deep loops nest on one level: deeper than controls take
// them (three, by common practice).
const mostLoops = 32

// inContour is why nothing leads elsewhere from the blocks of a contour.
const inContour = "flow and calls in the contour of a cycle are not computed"

// faultFlow is a fault at the flow statement; number is its sequence number or
// label. Where the machine would go on, if at all, is not known.
func (in *Interp) faultFlow(kind FaultKind, b *parser.Block, number int64, cause string) {
	f := in.faultAt(kind, b, -1)
	f.Pos, f.End, f.Cause, f.A = b.Flow.Pos, b.Flow.End, cause, float64(number)
	in.emitFault()
	in.lose()
}

// flow obeys a flow statement. It stands alone in its block, but for the
// numbers of block and program.
func (in *Interp) flow(b *parser.Block) error {
	if in.lathe.inside {
		in.faultFlow(NotInterpreted, b, 0, inContour)
		return nil
	}
	in.settings(b, b.Settings)
	for i := range b.Words {
		if a := b.Words[i].Address; a != 'N' && a != 'O' {
			in.faultCause(NotAccepted, b, i, RefusedBeside)
			in.loseWords(b)
			break
		}
	}
	f := b.Flow
	switch f.Kind {
	case parser.Goto:
		return in.jump(b)
	case parser.IfGoto:
		if yes, ok := in.condition(b); ok && yes {
			return in.jump(b)
		}
	case parser.IfThen:
		if yes, ok := in.condition(b); ok && yes {
			in.settings(b, []parser.Setting{*f.Then})
		}
	case parser.While, parser.Do:
		return in.do(b)
	case parser.EndDo:
		in.endDo(b)
	}
	return nil
}

// condition computes the condition of a flow statement.
func (in *Interp) condition(b *parser.Block) (yes, ok bool) {
	v, ok := in.flowValue(b, b.Flow.Cond)
	return v != 0, ok
}

// flowValue computes a number of a flow statement. Without it, where the
// program goes is not known.
func (in *Interp) flowValue(b *parser.Block, e *parser.Expr) (float64, bool) {
	if e.Op == parser.Number {
		return e.Value, true
	}
	if in.mayCompute(b, -1, e) {
		if v, ok := in.eval(b, -1, e); ok {
			return v, true
		}
	}
	in.lose()
	return 0, false
}

// jump goes to the sequence number of the flow statement, out of the loops that
// do not hold it.
func (in *Interp) jump(b *parser.Block) error {
	v, ok := in.flowValue(b, b.Flow.Target)
	if !ok {
		return nil
	}
	n, ok := whole(v)
	if !ok {
		in.faultFlow(BadExpression, b, 0, "a sequence number is whole, 0 or more")
		return nil
	}
	at, found, err := in.find(b, n)
	if err != nil {
		return err
	}
	if !found {
		in.faultFlow(JumpMissing, b, n, "")
		return nil
	}
	for len(in.loops) > in.top().loops {
		l := &in.loops[len(in.loops)-1]
		if l.begin.offset <= at.offset && at.offset < l.end.offset {
			break
		}
		in.loops = in.loops[:len(in.loops)-1]
	}
	if at.offset <= b.Offset {
		in.turns.note(in.top().text, place{b.Offset, b.Line})
	}
	in.goTo(at)
	return nil
}

// find looks for a sequence number: from the block on to the end of its
// program, then from the program's beginning (common practice).
func (in *Interp) find(b *parser.Block, number int64) (at place, found bool, err error) {
	t, begin := in.top().text, in.top().begin
	here := jump{b.Offset, number}
	nowhere := jump{^begin.offset, number} // in the whole program
	if at, found = t.jumps[here]; found {
		return at, true, nil
	}
	if _, known := t.jumps[nowhere]; known {
		return place{}, false, nil
	}
	look := func(c *parser.Block) bool {
		if n := c.Word('N'); n != nil && n.Expr == nil && n.Value == float64(number) {
			at, found = place{c.Offset, c.Line}, true
		}
		return found
	}
	if err = in.scan(t, begin, after(b), look); err == nil && !found {
		err = in.scan(t, begin, begin, func(c *parser.Block) bool { return c.Offset > b.Offset || look(c) })
	}
	if err != nil {
		return place{}, false, err
	}
	if len(t.jumps) == mostPlaces {
		clear(t.jumps)
	}
	if found {
		t.jumps[here] = at
	} else {
		t.jumps[nowhere] = place{}
	}
	return at, found, nil
}

// scan is text.scan on the budget: a program that does nothing but look for
// blocks ends too.
func (in *Interp) scan(t *text, begin, at place, do func(*parser.Block) bool) error {
	n, err := t.scan(begin, at, do)
	in.budget = max(0, in.budget-n)
	return err
}

// label is the number that ties DO to END. False: a fault has said why it has
// none.
func (in *Interp) label(b *parser.Block) (int64, bool) {
	if n, ok := labelOf(b.Flow); ok {
		return n, true
	}
	in.faultFlow(LoopUnmatched, b, -1, "the number of a loop is whole and not computed")
	return 0, false
}

// labelOf is the number of a DO or END; false where it is computed, and for all
// other statements and nil.
func labelOf(f *parser.Flow) (int64, bool) {
	if f == nil || f.Kind != parser.Do && f.Kind != parser.While && f.Kind != parser.EndDo {
		return 0, false
	}
	n, ok := whole(f.Target.Value)
	return n, ok && f.Target.Op == parser.Number
}

// do begins a loop or, where END has led back to it, its next turn; a loop whose
// condition does not hold is left.
func (in *Interp) do(b *parser.Block) error {
	i := in.running(func(l *loop) bool { return l.begin.offset == b.Offset })
	if i < 0 {
		end, ok, err := in.matched(b)
		if err != nil || !ok {
			return err
		}
		i = len(in.loops)
		n, _ := labelOf(b.Flow)
		in.loops = append(in.loops, loop{label: n, begin: place{b.Offset, b.Line}, end: end})
	}
	in.loops = in.loops[:i+1]
	if b.Flow.Kind == parser.Do {
		return nil
	}
	if yes, ok := in.condition(b); !yes || !ok {
		in.goTo(in.loops[i].end)
		in.loops = in.loops[:i]
	}
	return nil
}

// running is the innermost loop of this level of calls that is meant, -1 for
// none.
func (in *Interp) running(meant func(*loop) bool) int {
	for i := len(in.loops) - 1; i >= in.top().loops; i-- {
		if meant(&in.loops[i]) {
			return i
		}
	}
	return -1
}

// matched is the end of the loop that begins at the block. False: a fault has
// said why it cannot be run.
func (in *Interp) matched(b *parser.Block) (end place, ok bool, err error) {
	n, ok := in.label(b)
	if !ok {
		return place{}, false, nil
	}
	end, found, err := in.loopEnd(b, n)
	if err != nil {
		return place{}, false, err
	}
	cause := ""
	switch outer := in.loops[in.top().loops:]; {
	case !found:
		cause = fmt.Sprintf("no END %d stands behind it", n)
	case len(outer) == mostLoops:
		cause = fmt.Sprintf("loops nest deeper than %d", mostLoops)
	case len(outer) > 0 && end.offset > outer[len(outer)-1].end.offset:
		cause = fmt.Sprintf("END %d stands behind the END %d of the loop around it", n, outer[len(outer)-1].label)
	default:
		return end, true, nil
	}
	in.faultFlow(LoopUnmatched, b, n, cause)
	return place{}, false, nil
}

// loopEnd is the place behind the END of the loop that begins at the block;
// loops of the same number inside it have their own. What the search passes is
// remembered too, so that loops in loops are read once.
func (in *Interp) loopEnd(b *parser.Block, label int64) (end place, found bool, err error) {
	t := in.top().text
	if end, known := t.ends[b.Offset]; known {
		return end, end.line > 0, nil
	}
	if len(t.ends) >= mostPlaces {
		clear(t.ends)
	}
	p := pairs{ends: t.ends, open: map[int64][]int64{}}
	p.begin(label, b.Offset)
	err = in.scan(t, in.top().begin, after(b), func(c *parser.Block) bool {
		n, ok := labelOf(c.Flow)
		switch {
		case !ok:
			return false
		case c.Flow.Kind == parser.EndDo:
			return p.end(n, after(c)) == b.Offset
		}
		return !p.begin(n, c.Offset)
	})
	end = t.ends[b.Offset]
	if found = end.line > 0; found {
		p.forget()
	}
	return end, found, err
}

// pairs pairs DO and END as they are passed.
type pairs struct {
	ends  map[int64]place   // behind the END, by offset of DO; no place where none is met
	open  map[int64][]int64 // offsets of DO, by number
	count int               // of those open
}

// begin takes in a DO. False: too many are open.
func (p *pairs) begin(label, offset int64) bool {
	p.open[label] = append(p.open[label], offset)
	p.count++
	if len(p.ends) < 2*mostPlaces {
		p.ends[offset] = place{}
	}
	return p.count <= mostPlaces
}

// end takes in an END and gives the offset of its DO, -1 for none.
func (p *pairs) end(label int64, behind place) int64 {
	begun := p.open[label]
	if len(begun) == 0 {
		return -1
	}
	offset := begun[len(begun)-1]
	p.open[label] = begun[:len(begun)-1]
	p.count--
	if _, kept := p.ends[offset]; kept {
		p.ends[offset] = behind
	}
	return offset
}

// forget forgets the loops that are open: their END may stand further on.
func (p *pairs) forget() {
	for _, begun := range p.open {
		for _, offset := range begun {
			delete(p.ends, offset)
		}
	}
}

// endDo leads back to the DO of the loop.
func (in *Interp) endDo(b *parser.Block) {
	n, ok := in.label(b)
	if !ok {
		return
	}
	end := after(b).offset
	i := in.running(func(l *loop) bool { return l.label == n && l.end.offset == end })
	if i < 0 {
		in.faultFlow(LoopUnmatched, b, n, fmt.Sprintf("no DO %d is running here", n))
		return
	}
	in.loops[i].count++
	in.goTo(in.loops[i].begin)
}

// turns is the block of a backward jump that is executed most, by majority
// vote (R. S. Boyer, J S. Moore, "MJRTY", 1991): one place and a count do.
type turns struct {
	text  *text
	at    place
	count int64
}

func (t *turns) note(text *text, at place) {
	switch {
	case t.text == text && t.at == at:
		t.count++
	case t.count > 0:
		t.count--
	default:
		*t = turns{text, at, 1}
	}
}

// spend takes one block or move from the budget and says whether it may be
// executed; word is that of the move, -1 for a block. The first that may not
// is a Fault; the program then ends.
func (in *Interp) spend(b *parser.Block, word int) bool {
	if in.budget > 0 {
		in.budget--
		if in.budget>>16 != in.asked {
			in.asked = in.budget >> 16
			return !in.interrupted()
		}
		return true
	}
	if !in.s.Ended {
		in.runaway(b, word)
		in.s.Ended = true
	}
	return false
}

// interrupted says whether a person wants no more; the program then ends. It is
// asked now and then: a program that loops may never read its file again.
func (in *Interp) interrupted() bool {
	select {
	case <-in.done:
		in.s.Ended = true
		return true
	default:
		return false
	}
}

// runaway says what has used up the budget: the loop, the jump or the call that
// was repeated most; else the block or word where it ended.
func (in *Interp) runaway(b *parser.Block, word int) {
	visit := in.visit.Fault
	if t := in.repeated(); word < 0 && t.text != nil {
		if c, err := t.text.from(t.at).Next(); err == nil {
			b = c
		}
		if in.changing && t.text != in.change {
			visit = in.outside.Fault
		}
	}
	f := in.faultAt(Runaway, b, word)
	if b.Flow != nil {
		f.Pos, f.End = b.Flow.Pos, b.Flow.End
	}
	if visit != nil {
		visit(f)
	}
}

// repeated is what was repeated most, of what is still running.
func (in *Interp) repeated() turns {
	most := in.turns
	level := len(in.frames) - 1
	for i := len(in.loops) - 1; i >= 0; i-- {
		for level > 0 && i < in.frames[level].loops {
			level--
		}
		if l := &in.loops[i]; l.count > most.count {
			most = turns{in.frames[level].text, l.begin, l.count}
		}
	}
	for i := 1; i < len(in.frames); i++ {
		if f := &in.frames[i]; f.done > most.count {
			most = turns{in.frames[i-1].text, f.from, f.done}
		}
	}
	return most
}
