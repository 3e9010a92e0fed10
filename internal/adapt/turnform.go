package adapt

import (
	"fmt"
	"math"
	"strings"

	"tapefit/parser"
	"tapefit/profiles"
	"tapefit/rules"
)

// Turning cycles are written in one block or in two (turning.cycle_lines). What
// the first of two says stands in other words in the one: the depth of a cut in D,
// steps in I and K. What one of the forms has no word for cannot go over: the cycle
// is then written out as moves, and of a thread, which is none, it is told.

// cutting is what the first block of a cycle of two says, or the words of the one
// that stand for it. Lengths are in mm.
type cutting struct {
	m       profiles.Meaning // of the cycle; Refused: nothing was said
	cut     float64          // depth of a pass
	retract float64
	relief  [2]float64 // of a pattern: along X and Z
	passes  float64    // of a pattern
	thread  float64    // of a thread: its P, passes, run-out and angle
	least   float64    // of a thread
	finish  float64    // of a thread
}

// sameTurning says whether both controls read a turning code alike.
func (a *adapter) sameTurning(m profiles.Meaning) bool {
	to, from := &a.to.Turning, &a.from.Turning
	switch {
	case a.to.Kind != a.from.Kind:
		return false
	case m == profiles.Thread || m == profiles.ThreadPassCycle:
		return to.ThreadLead == from.ThreadLead
	case m == profiles.FinishContour || m == profiles.TurnCycle || m == profiles.FaceCycle:
		return true
	}
	return *to == *from
}

// turnCycle writes a turning cycle: in the other number of blocks, or as moves.
func (a *adapter) turnCycle(b *parser.Block, m profiles.Meaning) {
	two := a.from.Turning.CycleLines == 2
	if two && isFirst(b, m) {
		a.did(Cycles)
		a.cutting = a.firstWords(b, m)
		return
	}
	if m != profiles.FinishContour && a.to.Turning.CycleLines != a.from.Turning.CycleLines && a.otherForm(b, m) {
		a.keptCycle(b)
		a.at(a.moved())
		return
	}
	if m == profiles.ThreadCycle && a.to.Turning.CycleLines == 1 && two {
		a.leave(rules.Error, a.line, "the thread says passes, run-out or depths of cuts for which "+a.to.Name+" has no words in a cycle of one block",
			"Write it by hand in the form of "+a.to.Name+", and look what that control takes for them.")
		return
	}
	if a.before.Comp != profiles.CompOff {
		a.leave(rules.Error, a.line, fmt.Sprintf("%s under compensation of the nose, which %s has no cycle for in this form", m, a.to.Name),
			"Write it by hand in a form that the control has.")
		return
	}
	if m == profiles.FinishContour && a.contours.end != 0 && !a.contours.bare {
		a.leave(rules.Error, a.line, "the contour that is finished here has codes beside its moves, and must be written out as moves for "+a.to.Name,
			"Write codes of compensation, spindle, tool and coolant into blocks of their own, in front of the finish cut.")
		return
	}
	a.did(Cycles)
	a.written()
}

// isFirst says whether the block is the first of a cycle of two: it names no
// contour and no place.
func isFirst(b *parser.Block, m profiles.Meaning) bool {
	if m.IsContour() {
		return m != profiles.FinishContour && b.Word('P') == nil && b.Word('Q') == nil
	}
	for _, letter := range [...]byte{'X', 'Z', 'U', 'W'} {
		if b.Word(letter) != nil {
			return false
		}
	}
	return true
}

// firstWords are those of the first block of two.
func (a *adapter) firstWords(b *parser.Block, m profiles.Meaning) cutting {
	c := cutting{m: m, retract: float64(a.from.Turning.Retract)}
	switch m {
	case profiles.RoughTurn:
		c.cut = a.turnLength(b, 'U', m, 0)
	case profiles.RoughFace:
		c.cut = a.turnLength(b, 'W', m, 0)
	case profiles.RoughPattern:
		c.relief = [2]float64{a.turnLength(b, 'U', m, 0), a.turnLength(b, 'W', m, 0)}
		c.passes = wordValue(b, 'R')
		return c
	case profiles.ThreadCycle:
		c.thread, c.least, c.finish = wordValue(b, 'P'), a.turnLength(b, 'Q', m, 0), a.turnLength(b, 'R', m, 0)
		return c
	}
	c.retract = a.turnLength(b, 'R', m, c.retract)
	return c
}

// oneWords are the same of a cycle of one block.
func (a *adapter) oneWords(b *parser.Block, m profiles.Meaning) cutting {
	c := cutting{m: m, retract: float64(a.from.Turning.Retract), thread: 10000 + wordValue(b, 'A')}
	switch m {
	case profiles.RoughTurn, profiles.RoughFace:
		c.cut = a.turnLength(b, 'D', m, 0)
	case profiles.RoughPattern:
		c.relief = [2]float64{a.turnLength(b, 'I', m, 0), a.turnLength(b, 'K', m, 0)}
		c.passes = wordValue(b, 'D')
	}
	return c
}

func wordValue(b *parser.Block, letter byte) float64 {
	if w := b.Word(letter); w != nil && w.Expr == nil {
		return w.Value
	}
	return 0
}

// turnLength is the length that a word of a turning cycle says, mm, or what holds
// where it is missing. Without a point it may count least increments.
func (a *adapter) turnLength(b *parser.Block, letter byte, m profiles.Meaning, missing float64) float64 {
	w := b.Word(letter)
	if w == nil {
		return missing
	}
	if a.from.Numbers.Point == "counts" && !w.Point && w.Expr == nil && a.from.Numbers.Suppress != "trailing" {
		return w.Value * inUnits(a.state.Units) * math.Pow10(-leastDecimals(a.from, a.state.Units))
	}
	v, _ := a.writtenLength(w)
	if !m.IsContour() && !w.Point && strings.IndexByte(a.from.Turning.Counts, letter) >= 0 {
		v *= math.Pow10(-leastDecimals(a.from, a.state.Units))
	}
	return v
}

func leastDecimals(m *profiles.Machine, units profiles.Meaning) int {
	if units == profiles.UnitsInch {
		return m.Numbers.Decimals.Inch
	}
	return m.Numbers.Decimals.MM
}

// otherForm writes a cycle in the number of blocks that the machine has. It gives
// false where that has no words for what the cycle says.
func (a *adapter) otherForm(b *parser.Block, m profiles.Meaning) bool {
	if a.to.CodeFor(m) == "" || !a.sayable(b, m) || !a.keepsCycle(b) {
		return false
	}
	a.did(Cycles)
	a.ready()
	if a.to.Turning.CycleLines == 2 {
		a.twoBlocks(b, m)
	} else {
		a.oneBlock(b, m)
	}
	return true
}

// sayable says whether the machine's form has words for all that a cycle says.
func (a *adapter) sayable(b *parser.Block, m profiles.Meaning) bool {
	if a.wantUnits(a.state.Units) != a.state.Units || a.w.diameter != a.state.Diameter {
		return false // its words go over as they stand
	}
	for i := range b.Words {
		w := &b.Words[i]
		if w.Expr != nil || strings.IndexByte("PQUWXZF", w.Address) >= 0 && m.IsContour() && !a.keepsWord(w) && !a.keepsUnmeasured(b, w) {
			return false
		}
	}
	if a.to.Turning.CycleLines == 2 {
		angle := wordValue(b, 'A')
		return m != profiles.ThreadCycle || angle == math.Trunc(angle) && angle >= 0 && angle < 100
	}
	c := a.cuttingOf(m)
	if m == profiles.ThreadCycle {
		passes, runOut := math.Trunc(c.thread/10000), math.Trunc(math.Mod(c.thread/100, 100))
		return passes <= 1 && runOut == 0 && c.least == 0 && c.finish == 0 && a.to.Takes('A')
	}
	return m == profiles.RoughPattern || math.Abs(c.retract-float64(a.to.Turning.Retract)) < 1e-9
}

// cuttingOf is what the last first block of the cycle said.
func (a *adapter) cuttingOf(m profiles.Meaning) cutting {
	if a.cutting.m == m {
		return a.cutting
	}
	return cutting{m: m, retract: float64(a.from.Turning.Retract)}
}

// oneBlock writes a cycle of two in one.
func (a *adapter) oneBlock(b *parser.Block, m profiles.Meaning) {
	w, c := a.w, a.cuttingOf(m)
	w.code(m)
	switch m {
	case profiles.RoughTurn, profiles.RoughFace:
		a.texts(b, "PQUW")
		a.turnWord('D', c.cut, m)
	case profiles.RoughPattern:
		a.texts(b, "PQUW")
		a.turnWord('I', c.relief[0], m)
		a.turnWord('K', c.relief[1], m)
		w.whole('D', c.passes)
	case profiles.FaceGroove, profiles.TurnGroove:
		a.texts(b, "XZUW")
		a.renamed(b, m, [3]byte{'P', 'Q', 'R'}, [3]byte{'I', 'K', 'D'})
	case profiles.ThreadCycle:
		a.texts(b, "XZUW")
		a.renamed(b, m, [3]byte{'R', 'P', 'Q'}, [3]byte{'I', 'K', 'D'})
		w.whole('A', math.Mod(c.thread, 100))
	}
	a.texts(b, "F")
	w.moves = true
}

// twoBlocks writes a cycle of one block in two.
func (a *adapter) twoBlocks(b *parser.Block, m profiles.Meaning) {
	w, c := a.w, a.oneWords(b, m)
	w.code(m)
	switch m {
	case profiles.RoughTurn:
		a.turnWord('U', c.cut, m)
	case profiles.RoughFace:
		a.turnWord('W', c.cut, m)
	case profiles.RoughPattern:
		a.turnWord('U', c.relief[0], m)
		a.turnWord('W', c.relief[1], m)
		w.whole('R', c.passes)
	case profiles.ThreadCycle:
		w.text(fmt.Appendf(nil, "P%06d", int(c.thread)))
		w.whole('Q', 0)
	}
	if m != profiles.RoughPattern && m != profiles.ThreadCycle {
		a.turnWord('R', c.retract, m)
	}
	w.flush()
	w.code(m)
	switch m {
	case profiles.FaceGroove, profiles.TurnGroove:
		a.texts(b, "XZUW")
		a.renamed(b, m, [3]byte{'I', 'K', 'D'}, [3]byte{'P', 'Q', 'R'})
	case profiles.ThreadCycle:
		a.texts(b, "XZUW")
		a.renamed(b, m, [3]byte{'I', 'K', 'D'}, [3]byte{'R', 'P', 'Q'})
	default:
		a.texts(b, "PQUW")
	}
	a.texts(b, "F")
	w.moves = true
}

// renamed writes lengths that stand under other addresses.
func (a *adapter) renamed(b *parser.Block, m profiles.Meaning, from, to [3]byte) {
	for i, letter := range from {
		if b.Word(letter) != nil {
			a.turnWord(to[i], a.turnLength(b, letter, m, 0), m)
		}
	}
}

// texts appends words as they stand.
func (a *adapter) texts(b *parser.Block, letters string) {
	for i := range b.Words {
		if w := &b.Words[i]; strings.IndexByte(letters, w.Address) >= 0 {
			a.w.text(b.Text(w.Pos, w.End))
		}
	}
}

// turnWord appends a length of a turning cycle.
func (a *adapter) turnWord(letter byte, v float64, m profiles.Meaning) {
	w := a.w
	if !m.IsContour() && strings.IndexByte(a.to.Turning.Counts, letter) >= 0 {
		w.whole(letter, math.Round(v/w.inch()*math.Pow10(leastDecimals(a.to, w.units))))
		return
	}
	w.number(letter, math.Round(v/a.centreStep()))
}
