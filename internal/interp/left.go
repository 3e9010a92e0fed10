package interp

import "tapefit/parser"

// What is left out of a program because something of it is not executed. A time
// that is computed without it is the least that the program takes.

// Dropped is how many executed blocks leave something out that takes time: a
// move, a cycle, a dwell, a call, a tool change, after a fault in the block or
// one before. A refused word that takes none, such as the code of a clamp, or
// one that sets an offset, leaves nothing out.
func (in *Interp) Dropped() int {
	if in.left { // by a fault outside a block's execution
		return in.dropped + 1
	}
	return in.dropped
}

// drops says whether the fault as such keeps a block or a move from being
// executed. NotAccepted hangs on what was refused.
func (kind FaultKind) drops() bool {
	switch kind {
	case NotUsed, NotAccepted, Conflict, TooManyM, ArcForm,
		CompForbidden, CompUnknown, CompEntryShort, CompArcSmall, CompGouge, CompInside, ReturnMissing, ParamVacant:
		return false
	}
	return true
}

// axisLetters are the addresses that move axes on one control or another.
const axisLetters = axisWords | 7<<('U'-'A')

// doubtWord is a word that the control refuses, or whose value is not known. One
// that names an axis was a way to go; of any other it shows at the move of its
// block, which is then not made.
func (in *Interp) doubtWord(address byte) {
	in.w.doubt = true
	in.left = in.left || letterBit(address)&axisLetters != 0
}

// doubtCode is a refused G code, ten to one. One that takes time without axis
// words leaves something out by itself; for others the axis words of the block
// tell, unless it is one that only sets with them (numbers of the published
// report and of common practice).
func (in *Interp) doubtCode(b *parser.Block, t int) {
	w := &in.w
	w.doubt, w.strange = true, true
	switch {
	case t >= 40 && t < 50, // dwell
		t >= 280 && t < 290, t >= 300 && t < 310, // home
		t >= 650 && t < 670,                       // calls with arguments
		t >= 700 && t < 770 && b.Word('P') != nil: // turning cycles of a contour
		in.left = true
	case t >= 100 && t < 120, t >= 500 && t < 530, t >= 680 && t < 700, t >= 920 && t < 930: // data, scale, offsets, rotation, position
		w.sets = true
	}
}

// lastsM says whether a refused M code, ten to one, would have taken time.
func (in *Interp) lastsM(t int) bool {
	switch t {
	case 30, 40, 50, 130, 140: // spindle
		return true
	case 60: // tool change, unless it is the T word that makes it
		return in.m.Tools.Word != "tool-offset"
	case 980: // call
		return true
	case 410, 420, 430, 440: // gears, unless it shifts them otherwise
		return in.m.Spindle.Shift == "coded"
	}
	return false
}
