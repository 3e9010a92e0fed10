package adapt

import (
	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
)

// doubts are what is in force on the machine by blocks with block delete alone: with
// the switch on they are left out, and what the program says again behind them must
// be said again.
type doubts struct {
	within bool // blocks with block delete are being written
	feed   bool
	motion bool
	gear   bool
	axes   interp.AxisSet // where they stand

	before struct { // in force before the first of these blocks
		feed   float64
		motion profiles.Meaning
		gear   int
		belts  uint64
		at     interp.Point
		known  interp.AxisSet
	}
}

// doubt gets ready for a block: what it names and is in doubt is no longer held for
// known. m is the machine of the source.
func (w *writer) doubt(b *parser.Block, m *profiles.Machine) {
	d := &w.doubts
	if b.Delete != 0 {
		if !d.within {
			d.within = true
			k := &d.before
			k.feed, k.motion, k.gear, k.belts, k.at, k.known = w.feed, w.motion, w.gear, w.belts, w.at, w.known
		}
		return
	}
	if d.within {
		w.endDeleted()
	}
	if !d.feed && !d.motion && !d.gear && d.axes == 0 {
		return
	}
	for i := range b.Words {
		switch word := &b.Words[i]; {
		case word.Address == 'F' && d.feed:
			w.feed, d.feed = 0, false
		case word.Address == 'G' && word.Expr == nil && d.motion && meaningG(m, word).Group() == profiles.MotionGroup:
			w.motion, d.motion = profiles.Refused, false
		case d.gear && (word.Address == 'S' || word.Address == 'M' && word.Expr == nil && meaningM(m, word).Group() == profiles.SpindleGroup):
			w.gear, w.belts, d.gear = -1, 0, false
		}
	}
}

// endDeleted notes what the blocks with block delete have changed.
func (w *writer) endDeleted() {
	d := &w.doubts
	k := &d.before
	d.within = false
	d.feed = d.feed || w.feed != k.feed
	d.motion = d.motion || w.motion != k.motion
	d.gear = d.gear || w.gear != k.gear || w.belts&k.belts == 0
	d.axes |= differs(&w.at, &k.at) | (w.known ^ k.known)
}

// sure takes over that axes have been named, for whatever the switch says.
func (w *writer) sure(axes interp.AxisSet) {
	if !w.doubts.within {
		w.doubts.axes &^= axes
	}
}

// surePlace writes the place of a hole that is made of plain moves, where the block
// names it and blocks with block delete alone have gone there. Where the tool goes up
// first it is left to the proof.
func (a *adapter) surePlace(over *done, h *hole) {
	w := a.w
	first, second, normal := a.state.Plane.Axes()
	if axes := interp.AxisSet(1<<first | 1<<second); w.doubts.axes&a.words.axes&axes == 0 || over.To[normal] > over.From[normal] {
		return
	}
	a.motionCode(profiles.TraverseMove)
	w.goTo(first, h.place[0])
	w.goTo(second, h.place[1])
}
