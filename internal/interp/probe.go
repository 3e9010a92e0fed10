package interp

import (
	"tapefit/parser"
	"tapefit/profiles"
)

// probe moves until something is touched: where that is nobody knows. The
// report refuses a move of less than 0.254 mm (0.01 in), a turning rotary axis
// and inverse time (NISTIR 6556, 3.5.7: from memory); what is refused is not
// executed.
func (in *Interp) probe(b *parser.Block) {
	const least = 0.254 // mm
	axes := in.w.axes()
	word := in.moveWord(b)
	to, known := in.target(b, axes)
	sum := 0.0
	for i := range 3 {
		d := to[i] - in.s.At[i]
		sum += d * d
	}
	cause := ""
	switch {
	case axes&XYZ == 0:
		in.faultMissing(b, word, 'X')
		in.dropMove(0)
		return
	case in.s.FeedMode == profiles.FeedInverseTime:
		cause = "a probe does not go with inverse time feed"
	case in.turnsRotary(to, known):
		cause = "a rotary axis does not turn while the probe moves"
	case known&in.s.Known&XYZ == XYZ && sum < least*least:
		cause = "a probe moves 0.254 mm (0.01 in) or more"
	}
	if cause != "" {
		in.faultCause(BadValue, b, word, cause)
		in.dropMove(0)
		return
	}
	in.move(Feed, word, to, known, in.movedAxes(axes))
	in.loseAxes(in.movedAxes(axes))
	in.probed = true
}

// turnsRotary says whether a move to a place turns a rotary axis.
func (in *Interp) turnsRotary(to Point, known AxisSet) bool {
	for i := 3; i < profiles.NumAxes; i++ {
		if in.w.axes().Has(i) && (known & in.s.Known).Has(i) && to[i] != in.s.At[i] {
			return true
		}
	}
	return false
}
