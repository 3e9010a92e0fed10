package interp

import (
	"math"

	"tapefit/parser"
	"tapefit/profiles"
)

// cycle is what one canned cycle hands to the next block of the same cycle.
type cycle struct {
	active bool // a cycle is in force since it was last called
	sticky bool // the values below hold for the cycle in force
	lost   bool // the block that began the cycle was not executed: its values are unknown
	level  float64
	known  bool // level is: where the normal axis stood before the first of the contiguous cycles

	have        uint32 // bit n: the value of address 'A'+n
	incremental uint32 // bit n: it was written in incremental mode
	val         [26]float64
}

// hole is one execution of a cycle, in the coordinates of the program.
type hole struct {
	m                     profiles.Meaning
	word                  int
	first, second, normal int
	bottom, r             float64
	clear                 float64 // level of traverses between holes
	clearKnown            bool
	q, p                  float64
}

// canned executes G81 to G89 and their kin (NISTIR 6556, 3.5.16: from memory):
// traverse over the hole, traverse to R, the cycle's own motion, traverse to
// the clearance level; L times.
func (in *Interp) canned(b *parser.Block, m profiles.Meaning) {
	w, s := &in.w, &in.s
	word := in.moveWord(b)
	first, second, normal := s.Plane.Axes()
	if in.m.Kind == "lathe" && !in.m.Takes(axisLetter[normal]) {
		first, second, normal = 0, 1, 2 // without an axis across its plane it drills along Z (common practice)
	}
	if w.g[profiles.MotionGroup] != profiles.Refused {
		in.cycle.lost = false
	}
	if in.cycle.lost {
		in.dropMove(1 << normal)
		return
	}
	if !in.cycleWords(b, m, word, normal) {
		in.dropMove(1 << normal)
		return
	}
	c := &in.cycle
	if !c.active || in.m.Control.CycleLevel == "each" {
		c.active = true
		c.level, c.known = s.At[normal], s.Known.Has(normal)
	}
	repeats, ok := in.cycleRepeats(b, in.m.CycleForm(m))
	if !ok || in.cycleFaults(b, word) {
		in.dropMove(1 << normal)
		return
	}
	h := hole{m: m, word: word, first: first, second: second, normal: normal}
	if !in.holeLevels(b, &h) {
		in.dropMove(1 << normal)
		return
	}
	in.op.InCycle = true
	in.holes(b, &h, repeats)
	in.op.InCycle, in.op.Synchron = false, false
}

// cycleWords gathers the words of the cycle: those of the block over those of
// the blocks before. False: one that the profile needs is missing.
func (in *Interp) cycleWords(b *parser.Block, m profiles.Meaning, word, normal int) bool {
	w, c := &in.w, &in.cycle
	if !c.sticky {
		c.have, c.sticky = 0, true
	}
	form := in.m.CycleForm(m)
	bottom := axisLetter[normal]
	for _, letter := range [...]byte{'R', 'P', 'Q', 'I', 'J', 'K', bottom} {
		if letter == in.repeatLetter() && !needs(form, letter) {
			continue
		}
		if w.has(letter) && (letter == bottom || form.Has(letter)) {
			c.keep(letter, w.take(letter), in.s.Distance == profiles.Incremental)
		}
	}
	complete := true
	for _, letter := range []byte(form.Needs) {
		if letter == 'Z' {
			letter = bottom
		}
		if c.have&letterBit(letter) == 0 {
			in.faultMissing(b, word, letter)
			complete = false
		}
	}
	return complete
}

// keep holds a word for this block and those behind it.
func (c *cycle) keep(letter byte, v float64, incremental bool) {
	c.have |= letterBit(letter)
	c.val[letter-'A'] = v
	c.incremental &^= letterBit(letter)
	if incremental {
		c.incremental |= letterBit(letter)
	}
}

// cycleFaults says what no cycle does (NISTIR 6556, 3.5.16: from memory): it
// needs a word of X, Y and Z, and does not go with turning rotary axes or
// inverse time.
func (in *Interp) cycleFaults(b *parser.Block, word int) bool {
	axes := in.w.axes()
	if axes&XYZ == 0 {
		in.faultMissing(b, word, 'X')
		return true
	}
	if in.s.FeedMode == profiles.FeedInverseTime {
		in.faultCause(BadValue, b, word, "a canned cycle does not go with inverse time feed")
		return true
	}
	if axes&^XYZ == 0 {
		return false
	}
	to, known := in.s.At, in.s.Known
	in.targetPlain(b, axes&^XYZ, &to, &known)
	if in.turnsRotary(to, known) {
		in.faultCause(BadValue, b, word, "a rotary axis does not turn in a canned cycle")
		return true
	}
	return false
}

// holeLevels finds R, the bottom and the clearance level.
func (in *Interp) holeLevels(b *parser.Block, h *hole) bool {
	s, c := &in.s, &in.cycle
	if s.Unknown&(UnknownUnits|UnknownDistance|UnknownPlane|UnknownRetract) != 0 {
		return false
	}
	unit := in.linear
	letter := axisLetter[h.normal]
	r := c.val['R'-'A'] * unit
	bottom := c.val[letter-'A'] * unit
	rDistance, zDistance := in.isDistance('R'), in.isDistance(letter)
	if in.m.Control.CycleR == "initial" {
		rDistance = true
	}
	if rDistance && !c.known {
		return false
	}
	r = in.level(h.normal, r, rDistance, c.level)
	bottom = in.level(h.normal, bottom, zDistance, r)
	if bottom > r {
		in.faultCause(BadValue, b, h.word, "R is below the bottom of the hole")
		return false
	}
	h.r, h.bottom = r, bottom
	h.clear, h.clearKnown = r, true
	if s.Retract == profiles.RetractInitial {
		h.clearKnown = c.known
		h.clear = math.Max(r, c.level)
	}
	h.p = c.value('P') * in.cycleDwellUnit()
	if h.p < 0 {
		in.faultCause(BadValue, b, h.word, "a dwell is not negative")
		return false
	}
	h.q = c.value('Q') * unit
	if (h.m == profiles.Peck || h.m == profiles.ChipBreak) && !(h.q > 0) {
		in.faultCause(BadValue, b, h.word, "Q, the depth of one peck, is more than zero")
		return false
	}
	return true
}

// isDistance says whether a word of the cycle is a distance: written in
// incremental mode or, on controls that read kept words anew, used in it.
func (in *Interp) isDistance(letter byte) bool {
	if in.m.Control.CycleLevel == "each" {
		return in.s.Distance == profiles.Incremental
	}
	return in.cycle.incremental&letterBit(letter) != 0
}

// level is a level along the normal axis in work coordinates: a place, or a
// distance from another level.
func (in *Interp) level(normal int, v float64, distance bool, from float64) float64 {
	tr := &in.tr
	switch {
	case distance && tr.active:
		return from + v*tr.grow(normal)
	case distance:
		return from + v
	case tr.active:
		return tr.place(normal, v)
	}
	return v
}

func (c *cycle) value(letter byte) float64 {
	if c.have&letterBit(letter) == 0 {
		return 0
	}
	return c.val[letter-'A']
}

// holes drills at one place after the other.
func (in *Interp) holes(b *parser.Block, h *hole, repeats int64) {
	w, s := &in.w, &in.s
	axes := AxisSet(1<<h.first | 1<<h.second)
	named := w.axes() & axes
	moved := in.movedAxes(named)
	for range repeats {
		if !in.spend(b, h.word) {
			return
		}
		if s.Known.Has(h.normal) && s.At[h.normal] < h.r {
			in.along(Traverse, h, h.r)
		}
		to, known := in.target(b, named)
		if named != 0 {
			in.move(Traverse, h.word, to, known, moved)
		}
		if s.At[h.normal] != h.r || !s.Known.Has(h.normal) {
			in.along(Traverse, h, h.r)
		}
		in.hole(b, h)
		switch {
		case !h.clearKnown:
			in.loseAxes(1 << h.normal)
		case s.At[h.normal] != h.clear || !s.Known.Has(h.normal):
			in.along(Traverse, h, h.clear)
		}
	}
	w.used |= axisWords
}

// along moves the normal axis alone.
func (in *Interp) along(kind OpKind, h *hole, level float64) {
	to := in.s.At
	to[h.normal] = level
	in.move(kind, h.word, to, in.s.Known|1<<h.normal, 1<<h.normal)
}

// hole is the motion of a cycle from R to its end.
func (in *Interp) hole(b *parser.Block, h *hole) {
	switch h.m {
	case profiles.Peck, profiles.ChipBreak:
		in.peck(b, h)
		return
	case profiles.Tap:
		in.tap(h)
		return
	case profiles.BackBore:
		in.backBore(h)
		return
	}
	in.along(Feed, h, h.bottom)
	if h.p > 0 && h.m != profiles.Drill && h.m != profiles.BoreFeedOut {
		in.cycleDwell(h)
	}
	switch h.m {
	case profiles.BoreFeedOut, profiles.BoreDwellOut:
		in.along(Feed, h, in.feedOut(h))
	case profiles.BoreStopOut:
		was := in.turn(h, SpindleOff)
		if h.clearKnown {
			in.along(Traverse, h, h.clear)
		} else {
			in.along(Traverse, h, h.r)
		}
		in.turn(h, was)
	case profiles.BoreManualOut:
		was := in.turn(h, SpindleOff)
		in.op.StopKind = ManualStop
		in.emitCycle(Stop, h)
		in.loseAxes(1 << h.normal) // where the operator has moved it
		in.turn(h, was)
	}
}

// turn sets the spindle within a cycle and gives what it was.
func (in *Interp) turn(h *hole, to SpindleState) SpindleState {
	was := in.s.Spindle
	in.s.Spindle = to
	if was != to {
		in.emitCycle(Spindle, h)
	}
	return was
}

func (in *Interp) emitCycle(kind OpKind, h *hole) {
	in.op.Home = false
	in.emitAs(kind, h.word)
}

func (in *Interp) cycleDwell(h *hole) {
	in.op.Seconds = h.p
	in.emitCycle(Dwell, h)
}

// tap feeds in and out with the spindle, which reverses at the bottom.
func (in *Interp) tap(h *hole) {
	back := in.s.Spindle
	switch back {
	case SpindleCW:
		back = SpindleCCW
	case SpindleCCW:
		back = SpindleCW
	}
	in.op.Synchron = true
	in.along(Feed, h, h.bottom)
	was := in.turn(h, back)
	if h.p > 0 {
		in.cycleDwell(h)
	}
	in.along(Feed, h, in.feedOut(h))
	in.turn(h, was)
	in.op.Synchron = false
}

// feedOut is how far a cycle that feeds out goes at the feed.
func (in *Interp) feedOut(h *hole) float64 {
	if h.clearKnown && in.m.CycleForm(h.m).FeedOut == "clear" {
		return h.clear
	}
	return h.r
}

// maxPecks is how many pecks one hole may have: more is a wrong Q.
const maxPecks = 10000

// peck feeds in by steps of Q. A deep hole peck goes out to R each time and
// back to a little above the last depth; a chip break goes back by that little.
func (in *Interp) peck(b *parser.Block, h *hole) {
	clear := float64(in.m.CycleForm(h.m).ClearPeck)
	if (h.r-h.bottom)/h.q > maxPecks {
		in.faultCause(BadValue, b, h.word, "Q, the depth of one peck, is so small that a hole has over 10,000 pecks")
		in.along(Feed, h, h.bottom)
		return
	}
	// What adding up pecks leaves over the bottom is no peck of its own.
	const rest = 1e-6 // mm
	for level := h.r; ; {
		if level -= h.q; level < h.bottom+rest {
			level = h.bottom
		}
		in.along(Feed, h, level)
		if level <= h.bottom {
			return
		}
		if !in.spend(b, h.word) {
			return
		}
		if h.m == profiles.ChipBreak {
			in.along(Traverse, h, math.Min(level+clear, h.r))
			continue
		}
		in.along(Traverse, h, h.r)
		in.along(Traverse, h, math.Min(level+clear, h.r))
	}
}

// backBore cuts a hole from below (NISTIR 6556, G87: from memory): beside the
// hole by I and J with the spindle stopped, down, under the hole, up to K with
// the spindle turning, down, beside the hole, up and over the hole again.
func (in *Interp) backBore(h *hole) {
	s, c := &in.s, &in.cycle
	unit := in.linear
	over := s.At
	aside := over
	aside[h.first] += c.value(centreLetter[h.first]) * unit
	aside[h.second] += c.value(centreLetter[h.second]) * unit
	plane := AxisSet(1<<h.first | 1<<h.second)
	letter := centreLetter[h.normal]
	upper := in.level(h.normal, c.value(letter)*unit, in.isDistance(letter), h.bottom)
	side := func(to Point) {
		to[h.normal] = s.At[h.normal]
		in.move(Traverse, h.word, to, s.Known, plane)
	}
	side(aside)
	was := in.turn(h, SpindleOff)
	in.along(Traverse, h, h.bottom)
	side(over)
	in.turn(h, was)
	in.along(Feed, h, upper)
	if h.p > 0 {
		in.cycleDwell(h)
	}
	in.along(Feed, h, h.bottom)
	in.turn(h, SpindleOff)
	side(aside)
	out := h.r
	if h.clearKnown {
		out = h.clear
	}
	in.along(Traverse, h, out)
	side(over)
	in.turn(h, was)
}
