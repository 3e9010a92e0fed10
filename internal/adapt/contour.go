package adapt

import (
	"tapefit/parser"
	"tapefit/profiles"
)

// contours keeps the blocks of the contours that turning cycles name by their
// sequence numbers. The cycle executes them; where they stand the program jumps
// over them. So they are written as they are behind a cycle that stays, and not at
// all behind one that is written out.
type contours struct {
	first, end int64 // of the block being executed, in the text; end 0: it has none
	fits       bool  // the machine reads its blocks as they are
	bare       bool  // its blocks are moves and dwells, and nothing else

	text    [2]int64       // from, to: passed on as it is
	written map[int64]bool // by the offset of the first block
}

// sees takes over a block of the contour that a cycle executes.
func (a *adapter) sees(b *parser.Block) {
	c := &a.contours
	if c.end == 0 {
		c.first, c.fits, c.bare = b.Offset, true, true
	}
	c.end = max(c.end, b.Offset+int64(len(b.Raw)))
	c.fits = c.fits && a.fitsContour(b)
	c.bare = c.bare && a.isBare(b)
}

// isBare says whether a block does no more than move, at its own feed, or dwell.
func (a *adapter) isBare(b *parser.Block) bool {
	for i := range b.Words {
		w := &b.Words[i]
		switch w.Address {
		case 'G':
			m := meaningG(a.from, w)
			if g := m.Group(); m != profiles.DwellHere && g != profiles.MotionGroup && g != profiles.DistGroup {
				return false
			}
		case 'M', 'S', 'T', 'D', 'H':
			return false
		}
	}
	return true
}

// fitsContour says whether the machine reads a block of a contour as the source's
// control does.
func (a *adapter) fitsContour(b *parser.Block) bool {
	if len(b.Faults) > 0 || b.Delete != 0 && !a.to.Block.Delete || !a.keepsForm(b) {
		return false
	}
	for i := range b.Words {
		if w := &b.Words[i]; !a.keepsWord(w) || w.Address == 'G' && !a.keepsCode(meaningG(a.to, w), b) {
			return false
		}
	}
	to, from := &a.to.Arcs, &a.from.Arcs
	return to.Centre == from.Centre && (!to.Quadrant || from.Quadrant) && (to.Radius || b.Word('R') == nil)
}

// keepsCycle says whether a cycle with a contour can stay: its contour can, and
// stands in what is written.
func (a *adapter) keepsCycle(b *parser.Block) bool {
	c, w, s := &a.contours, a.w, &a.before
	if c.end == 0 {
		return true
	}
	return c.fits && (c.first > b.Offset || c.written[c.first]) &&
		w.units == s.Units && w.distance == s.Distance && w.plane == s.Plane
}

// keptCycle has the contour of a cycle that stayed passed on.
func (a *adapter) keptCycle(b *parser.Block) {
	c := &a.contours
	if c.end == 0 {
		return
	}
	if c.first > b.Offset {
		c.text = [2]int64{b.Offset + int64(len(b.Raw)), c.end}
		if c.written == nil {
			c.written = map[int64]bool{}
		}
		c.written[c.first] = true
	}
	if a.state.FeedMode != profiles.FeedInverseTime {
		a.w.feed = a.state.Feed
	}
}

// inText says whether a block belongs to a contour that is passed on.
func (c *contours) inText(b *parser.Block) bool { return b.Offset >= c.text[0] && b.Offset < c.text[1] }
