package adapt

import (
	"math"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
	"tapefit/rules"
)

// hole is what one canned cycle does at one place.
type hole struct {
	m         profiles.Meaning
	place     [2]float64 // over it, in the plane
	r, bottom float64
	out       float64 // where the tool stands after it
	dwell     float64 // s
	peck      float64 // depth of the first of several
	feed      float64
}

// drills says whether the block makes holes.
func (a *adapter) drills() bool {
	for i := range a.ops {
		if a.ops[i].InCycle && !a.ops[i].late {
			return true
		}
	}
	return false
}

// cycles writes the holes of the block: as cycles where the machine has them in
// the same form, else as moves.
func (a *adapter) cycles(b *parser.Block) {
	a.ready()
	a.did(Cycles)
	m := a.state.Motion
	for from := 0; from < len(a.ops); {
		if op := &a.ops[from]; op.late || !op.InCycle {
			from++
			continue
		}
		h, n, ok := a.hole(m, a.ops[from:])
		switch {
		case ok && a.writesHole(&h):
			a.writeHole(&h)
		case m == profiles.Tap:
			a.leave(rules.Error, a.line, "tapping, which "+a.to.Name+" has no cycle for in this form",
				"Tap by hand, or on another machine. A tap that feeds out further than R on the machine that the program was written for does not here.")
			return
		default:
			a.surePlace(&a.ops[from], &h)
			for i := from; i < from+n; i++ {
				a.ops[i].InCycle = true // dwells and the spindle too
				a.operation(&a.ops[i], 0)
			}
		}
		from += n
	}
}

// hole reads the operations of one hole: over it, to R, the feeds, out. n is how
// many there are; ok says that they have the form of the cycle's own text.
func (a *adapter) hole(m profiles.Meaning, ops []done) (h hole, n int, ok bool) {
	first, second, normal := a.state.Plane.Axes()
	h.m = m
	for n < len(ops) && ops[n].Kind == interp.Traverse {
		n++
	}
	if n == len(ops) || ops[n].Kind != interp.Feed || ops[n].Moves != 1<<normal {
		return h, max(n, 1), false
	}
	down := &ops[n]
	h.r, h.bottom, h.feed = down.From[normal], down.To[normal], a.toldFeed(down)
	h.place = [2]float64{a.state.At[first], a.state.At[second]}
	if n > 0 {
		h.place = [2]float64{ops[n-1].To[first], ops[n-1].To[second]}
	}
	n++
	for n < len(ops) && !a.over(&ops[n], normal) {
		switch op := &ops[n]; op.Kind {
		case interp.Dwell:
			h.dwell = op.Seconds
		case interp.Feed:
			if op.To[normal] < h.bottom {
				if h.peck == 0 {
					h.peck = h.r - h.bottom
				}
				h.bottom = op.To[normal]
			}
		}
		n++
	}
	last := n - 1
	for ops[last].Kind > interp.Arc { // a tap that has fed out turns on
		last--
	}
	h.out = ops[last].To[normal]
	return h, n, ops[last].ToKnown.Has(normal) && down.FromKnown.Has(normal)
}

// over says whether an operation is the traverse over the next hole, or up
// before it.
func (a *adapter) over(op *done, normal int) bool {
	return op.Kind == interp.Traverse && op.Moves&^(1<<normal) != 0
}

// writesHole says whether the machine's own cycle makes the same of a hole.
func (a *adapter) writesHole(h *hole) bool {
	form, was := a.to.CycleForm(h.m), a.from.CycleForm(h.m)
	switch h.m {
	case profiles.Tap, profiles.BoreFeedOut, profiles.BoreDwellOut:
		if h.out > h.r+1e-9 && feedsOutTo(was) == "clear" && (feedsOutTo(form) != "clear" || !a.toInitial(h)) {
			return false
		}
	case profiles.Peck, profiles.ChipBreak:
		if form.ClearPeck != was.ClearPeck {
			return false
		}
	}
	return a.hasCycle(h)
}

// hasCycle says whether the machine has the cycle of a hole in a form that can be
// written here.
func (a *adapter) hasCycle(h *hole) bool {
	w := a.w
	_, _, normal := a.state.Plane.Axes()
	form := a.to.CycleForm(h.m)
	if a.to.CodeFor(h.m) == "" || form.Needs == "" || w.plane != a.state.Plane || !w.known.Has(normal) {
		return false
	}
	switch h.m {
	case profiles.Drill, profiles.DrillDwell, profiles.Tap, profiles.BoreFeedOut, profiles.BoreDwellOut, profiles.Peck, profiles.ChipBreak:
	default:
		return false
	}
	for _, letter := range []byte(form.Needs) {
		if letter != 'R' && letter != 'Z' && letter != 'P' && letter != 'Q' {
			return false
		}
	}
	return !(h.dwell > 0 && !form.Has('P'))
}

// toInitial says whether the machine ends the hole at its initial level, and that
// is where the source ends it.
func (a *adapter) toInitial(h *hole) bool {
	return a.wantRetract(h) == profiles.RetractInitial
}

// wantRetract is the retract mode that the machine must be in.
func (a *adapter) wantRetract(h *hole) profiles.Meaning {
	w := a.w
	_, _, normal := a.state.Plane.Axes()
	top := math.Max(h.r, a.initial())
	endsAt := func(level float64) bool { return math.Abs(level-h.out) < w.step(normal) }
	switch {
	case w.retract == profiles.RetractR && endsAt(h.r), w.retract == profiles.RetractInitial && endsAt(top):
		return w.retract
	case endsAt(top) && !endsAt(h.r) && a.to.CodeFor(profiles.RetractInitial) != "":
		return profiles.RetractInitial
	}
	return profiles.RetractR
}

// initial is the level that the machine's cycles begin from.
func (a *adapter) initial() float64 {
	_, _, normal := a.state.Plane.Axes()
	if a.w.inCycle && cycleLevel(a.to) == "first" {
		return a.w.level
	}
	return a.w.at[normal]
}

// writeHole writes a hole as a cycle of the machine, and a traverse to where the
// source ends where the cycle ends elsewhere.
func (a *adapter) writeHole(h *hole) {
	w := a.w
	first, second, normal := a.state.Plane.Axes()
	retract := a.wantRetract(h)
	if retract != w.retract && a.to.CodeFor(retract) == "" {
		retract = w.retract
	}
	level := a.initial()
	if w.moves {
		w.flush()
	}
	if retract != w.retract {
		w.flush() // the other may stand in the line
		w.code(retract)
		w.retract = retract
	}
	levels := a.levels(h, level, normal)
	again := w.motion == h.m && w.cycle.same(h) && w.inCycle && levels == w.levels
	if !w.inCycle {
		w.level = w.at[normal]
	}
	a.motionCode(h.m)
	w.inCycle = true
	for i, axis := range [...]int{first, second} {
		if !again || w.snap(axis, h.place[i]) != w.snap(axis, w.at[axis]) || w.doubts.axes.Has(axis) || a.words.axes.Has(axis) {
			w.goTo(axis, h.place[i])
		}
	}
	form := a.to.CycleForm(h.m)
	if !again || a.words.axes&^(1<<normal) == 0 {
		a.holeWords(h, form, levels, normal)
	}
	w.feedWord(h.feed)
	w.cycle, w.levels = *h, levels
	w.at[normal] = a.writtenR(h, level, normal)
	if retract == profiles.RetractInitial {
		w.at[normal] = math.Max(w.at[normal], level)
	}
	if math.Abs(w.at[normal]-h.out) > w.step(normal)/2 {
		w.flush()
		a.motionCode(profiles.TraverseMove)
		w.goTo(normal, h.out)
	}
}

// same says whether two holes differ in no more than their place.
func (h *hole) same(o *hole) bool {
	return h.m == o.m && h.r == o.r && h.bottom == o.bottom && h.dwell == o.dwell && h.peck == o.peck
}

// holeLevels are the bottom and R of a hole as the words say them, in the last
// digit, and the mode in which they do.
type holeLevels struct {
	bottom, r float64
	distance  profiles.Meaning
}

// levels are those of a hole whose cycle begins at a level.
func (a *adapter) levels(h *hole, level float64, normal int) holeLevels {
	w := a.w
	step := w.step(normal)
	r, bottom := a.writtenR(h, level, normal), h.bottom
	if w.distance == profiles.Incremental {
		bottom -= r
	}
	if a.fromLevel() {
		r -= level
	}
	return holeLevels{math.Round(bottom / step), math.Round(r / step), w.distance}
}

// fromLevel says whether R is a distance from the level that a cycle begins at.
func (a *adapter) fromLevel() bool {
	return a.w.distance == profiles.Incremental || a.to.Control.CycleR == "initial"
}

// writtenR is where R of a hole is as it is written.
func (a *adapter) writtenR(h *hole, level float64, normal int) float64 {
	from, step := 0.0, a.w.step(normal)
	if a.fromLevel() {
		from = level
	}
	return from + math.Round((h.r-from)/step)*step
}

// dwellUnit is what one of P is in a cycle, s.
func dwellUnit(m *profiles.Machine) float64 {
	if unit := m.DwellUnit('P'); unit != 0 {
		return unit
	}
	return 1
}

// holeWords appends bottom, R, dwell and peck of a cycle.
func (a *adapter) holeWords(h *hole, form profiles.Cycle, levels holeLevels, normal int) {
	w := a.w
	w.number(profiles.AxisLetters[normal], levels.bottom)
	w.number('R', levels.r)
	if form.Has('P') && (h.dwell > 0 || needs(form, 'P')) {
		w.room()
		w.buf = append(append(w.buf, 'P'), plain(h.dwell/dwellUnit(a.to))...)
	}
	if form.Has('Q') && (h.m == profiles.Peck || h.m == profiles.ChipBreak) {
		peck := h.peck
		if peck == 0 {
			peck = h.r - h.bottom
		}
		w.number('Q', math.Round(peck/w.step(normal)))
	}
}

func needs(c profiles.Cycle, letter byte) bool {
	for i := range len(c.Needs) {
		if c.Needs[i] == letter {
			return true
		}
	}
	return false
}
