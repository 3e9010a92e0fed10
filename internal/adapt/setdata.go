package adapt

import (
	"fmt"
	"strings"

	"tapefit/parser"
	"tapefit/profiles"
	"tapefit/rules"
)

// sameLengths says whether the machine reads words of lengths here as the source
// does: in the same units, and X by the diameter on both or on neither.
func (a *adapter) sameLengths() bool {
	return a.w.units == a.state.Units && a.wantUnits(a.state.Units) == a.state.Units && a.w.diameter == a.state.Diameter
}

// setsOffset says whether a block that sets data sets a work offset: L2. What other
// data does is not computed, and which of its words are lengths differs from control
// to control.
func setsOffset(b *parser.Block) bool {
	l := b.Word('L')
	return l != nil && l.Expr == nil && l.Value == 2
}

// setData writes a work offset in the units that the machine reads.
func (a *adapter) setData(b *parser.Block) {
	w := a.w
	a.ready()
	if !setsOffset(b) {
		a.leave(rules.Error, a.line, "the program sets data of the control other than work offsets (G10 L2): what that does is not computed",
			"Set it by hand at "+a.to.Name+", and take the block out of the source.")
		return
	}
	w.code(profiles.SetData)
	for i := range b.Words {
		word := &b.Words[i]
		axis := strings.IndexByte(profiles.AxisLetters, word.Address)
		v, known := a.writtenLength(word)
		switch {
		case strings.IndexByte("NOGMSTF", word.Address) >= 0:
		case a.unused>>i&1 == 1:
			a.did(Words)
		case axis < 0 && (word.Address == 'L' || word.Address == 'P') && word.Expr == nil:
			w.text(b.Text(word.Pos, word.End))
		case axis < 0 || !known:
			a.leave(rules.Error, a.line, fmt.Sprintf("%s of a work offset cannot be written in the units of %s", b.Text(word.Pos, word.End), a.to.Name),
				"Set the offset by hand at "+a.to.Name+", and take the block out of the source.")
			return
		default:
			w.number(word.Address, a.counts(axis, a.lengthOf(axis, word.Value, v)))
		}
	}
	a.at(a.moved())
}

// lengthOf is what an axis word of the source is in mm along the axis, or degrees:
// value is its number, mm that in mm.
func (a *adapter) lengthOf(axis int, value, mm float64) float64 {
	switch {
	case axis >= firstRotary:
		return value
	case axis == 0 && a.state.Diameter:
		return mm / 2
	}
	return mm
}
