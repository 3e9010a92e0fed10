package interp

import "tapefit/parser"

// faultAt prepares a fault at word i of the block, -1 for the whole block.
func (in *Interp) faultAt(kind FaultKind, b *parser.Block, i int) *Fault {
	in.fault = Fault{Kind: kind, Block: b, Word: i, Other: -1}
	if i >= 0 && i < len(b.Words) {
		in.fault.Pos, in.fault.End = b.Words[i].Pos, b.Words[i].End
	} else {
		in.fault.Word = -1
		in.fault.Pos, in.fault.End = span(b)
	}
	return &in.fault
}

// span is the place of a block's text without blanks and its end of line.
func span(b *parser.Block) (pos, end int32) {
	end = int32(len(b.Raw))
	for end > 0 && b.Raw[end-1] <= ' ' {
		end--
	}
	for pos < end && b.Raw[pos] <= ' ' {
		pos++
	}
	return pos, end
}

func (in *Interp) emitFault() {
	in.left = in.left || in.changing || in.fault.Kind.drops()
	if in.visit.Fault != nil {
		in.visit.Fault(&in.fault)
	}
}

func (in *Interp) faultMissing(b *parser.Block, i int, address byte) {
	in.faultAt(Missing, b, i).Missing = address
	in.emitFault()
}

func (in *Interp) faultConflict(b *parser.Block, i, other int) {
	in.faultAt(Conflict, b, i).Other = other
	in.emitFault()
}

func (in *Interp) faultValue(b *parser.Block, i int, cause string) {
	in.faultAt(BadValue, b, i).Cause = cause
	in.emitFault()
}

func (in *Interp) faultCause(kind FaultKind, b *parser.Block, i int, cause string) {
	in.faultAt(kind, b, i).Cause = cause
	in.emitFault()
}
