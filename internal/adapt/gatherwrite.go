package adapt

import (
	"math"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
)

// startsWith says whether a cycle can begin with the hole, and sets the level at
// which it and the next ones end.
func (a *adapter) startsWith(d *drilled) bool {
	if a.w.known&interp.XYZ != interp.XYZ || !a.hasCycle(&d.hole) {
		return false
	}
	for _, end := range [...]float64{d.out, d.r} {
		if end <= math.Max(d.level, d.r) && a.endsWith(d, end) {
			a.gather.end = end
			return true
		}
	}
	return false
}

// endsWith says whether the machine's cycle can make the hole and end at a level,
// from where the traverse out goes on if it does.
func (a *adapter) endsWith(d *drilled, end float64) bool {
	if d.out < end {
		return false
	}
	if d.m == profiles.BoreFeedOut || d.m == profiles.BoreDwellOut {
		to := d.r
		if feedsOutTo(a.to.CycleForm(d.m)) == "clear" {
			to = end
		}
		if d.up != to {
			return false
		}
	}
	mode := retractTo(d, end)
	return a.w.retract == mode || a.to.CodeFor(mode) != "" && a.to.CodeFor(a.w.retract) != ""
}

// retractTo is the retract mode in which a hole ends at the level.
func retractTo(d *drilled, end float64) profiles.Meaning {
	if end == d.r {
		return profiles.RetractR
	}
	return profiles.RetractInitial
}

// take takes in a hole behind those that wait or are written.
func (a *adapter) take(d *drilled) {
	g := &a.gather
	g.waiting, g.last = append(g.waiting, *d), *d
	if !g.open && a.spares() >= worth {
		a.openCycle()
	}
	if g.open {
		for i := range g.waiting {
			a.writeDrilled(&g.waiting[i])
		}
		g.waiting = g.waiting[:0]
	}
	if on := d.out == g.end; !on { // the next one cannot begin there
		a.endHoles()
	}
}

// spares is how many blocks a cycle spares for the holes that wait, whatever
// the moves are written like.
func (a *adapter) spares() int {
	g := &a.gather
	n := -1 // G80
	for i := range g.waiting {
		n += g.waiting[i].moves - 1
	}
	n -= a.approach(&g.waiting[0])
	if g.last.out != g.end {
		n--
	}
	return n
}

// approach is how many moves stand before the first cycle, which bring the tool
// to the level where the holes end.
func (a *adapter) approach(d *drilled) int {
	switch end := a.gather.end; {
	case end == d.r || end == d.level:
		return 0
	case d.moved:
		return 2
	}
	return 1
}

// endHoles ends the cycle, or writes the blocks of the holes that wait as they are.
func (a *adapter) endHoles() {
	g := &a.gather
	n := 0
	for i := range g.waiting {
		n += g.waiting[i].blocks
	}
	g.waiting = g.waiting[:0]
	a.replay(n)
	if !g.open {
		return
	}
	g.open = false
	w := a.w
	further := g.last.out != g.end
	if g.ended && !further {
		return
	}
	w.label = append(w.label[:0], g.labels[1]...)
	if further {
		w.label = append(w.label[:0], g.labels[0]...)
	}
	w.code(profiles.CycleOff)
	w.motion, w.inCycle = profiles.CycleOff, false
	w.flush()
	if further {
		w.label = append(w.label[:0], g.labels[1]...)
		_, _, normal := w.plane.Axes()
		a.words, w.said = wordList{o: -1, gear: -1}, false
		a.motionCode(profiles.TraverseMove)
		w.goTo(normal, g.last.out)
		w.flush()
	}
	w.label = w.label[:0]
}

// openCycle writes what stands before the first hole.
func (a *adapter) openCycle() {
	g, w := &a.gather, a.w
	d := &g.waiting[0]
	g.open, g.lines = true, a.approach(d)
	w.recent = w.recent[:0]
	w.slash, w.tail = false, w.tail[:0]
	a.words, w.said = wordList{o: -1, gear: -1}, false
	w.label = append(w.label[:0], number(&g.held[0].b)...)
	if w.distance != profiles.Absolute && a.to.CodeFor(profiles.Absolute) != "" {
		w.code(profiles.Absolute)
		w.distance = profiles.Absolute
	}
	first, second, normal := w.plane.Axes()
	if g.lines == 2 {
		a.motionCode(profiles.TraverseMove)
		for i, axis := range [...]int{first, second} {
			if w.snap(axis, d.place[i]) != w.snap(axis, w.at[axis]) {
				w.goTo(axis, d.place[i])
			}
		}
		w.flush()
		w.label = append(w.label[:0], number(&g.held[1].b)...)
	}
	if g.lines > 0 {
		a.motionCode(profiles.TraverseMove)
		w.goTo(normal, g.end)
		w.flush()
		w.label = append(w.label[:0], number(&g.held[g.lines].b)...)
	}
	// The level is said with each cycle: who begins there reads it.
	if mode := retractTo(d, g.end); a.to.CodeFor(mode) != "" {
		w.code(mode)
		w.retract = mode
	}
}

// writeDrilled writes the first hole of those that are held as a cycle.
func (a *adapter) writeDrilled(d *drilled) {
	g, w := &a.gather, a.w
	state, block, line := a.state, a.block, a.line
	blocks := g.held[:d.blocks]
	a.state = &blocks[0].after
	for i := range blocks {
		a.block, a.line = &blocks[i].b, blocks[i].b.Line
		a.did(Gather)
	}
	first, second, _ := w.plane.Axes()
	a.words = wordList{o: -1, gear: -1}
	for i, axis := range [...]int{first, second} {
		if w.snap(axis, d.place[i]) != w.snap(axis, w.at[axis]) {
			a.words.axes |= 1 << axis
		}
	}
	w.said = false
	if len(w.buf) == 0 {
		w.label = append(w.label[:0], number(&blocks[g.lines].b)...)
	}
	h := d.hole
	h.out = g.end
	a.writeHole(&h)
	w.flush()
	g.labels[0], g.labels[1] = g.labels[0][:0], append(g.labels[1][:0], number(&blocks[len(blocks)-1].b)...)
	if n := len(blocks) - 2; n > g.lines {
		g.labels[0] = append(g.labels[0], number(&blocks[n].b)...)
	}
	g.lines = 0
	a.examples()
	a.touched = true
	g.drop(d.blocks)
	a.state, a.block, a.line = state, block, line
}

// number is the sequence number of a block, as it is written.
func number(b *parser.Block) []byte {
	if w := b.Word('N'); w != nil {
		return b.Text(w.Pos, w.End)
	}
	return nil
}

// replay writes the first n blocks that are held, as if they had not been.
func (a *adapter) replay(n int) {
	state, block, line, before, ops := a.state, a.block, a.line, a.before, a.ops
	unused, unknown := a.unused, a.unknown
	for i := range n {
		h := a.gather.held[i]
		a.state, a.block, a.line, a.before, a.ops = &h.after, &h.b, h.b.Line, h.before, h.ops
		a.unused, a.unknown = 0, 0
		a.put(&h.b)
	}
	a.gather.drop(n)
	a.state, a.block, a.line, a.before, a.ops = state, block, line, before, ops
	a.unused, a.unknown = unused, unknown
}

// restore says the modes again that were others for the holes, before a cycle of
// the source that relies on them.
func (a *adapter) restore() {
	w := a.w
	if !a.gather.on || !a.state.Motion.IsCycle() {
		return
	}
	if mode := a.before.Distance; mode != w.distance && a.to.CodeFor(mode) != "" {
		w.code(mode)
		w.distance = mode
	}
	if mode := a.before.Retract; mode != w.retract && !a.saysRetract() && a.to.CodeFor(mode) != "" {
		w.code(mode)
		w.retract = mode
	}
	w.flush()
}
