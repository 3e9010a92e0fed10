package interp

import (
	"math"

	"tapefit/parser"
	"tapefit/profiles"
)

// comp is cutter radius compensation: it takes the moves of the program and
// shows those of the tool's centre. A control that looks ahead ("intersect")
// needs the next move in the plane to know where the one before ends, so one is
// held back, with what moves along the normal behind it. What is no move is not
// overtaken: it ends the look-ahead.
//
// The published report (NISTIR 6556, appendix B: from memory) does not look
// ahead: it refuses inside corners and begins with a straight move that touches
// the tool's circle about its end.
type comp struct {
	state compState
	h     float64 // mm: the tool's radius, negative where the tool is on the right
	plane Plane
	at    vec2 // from the program's place to the tool's centre
	tip   vec2 // from there to the tip that is shown: of a turning tool
	lost  bool // the tool's centre is not known; the next move begins at its own offset
	end   vec2 // where the last move in the plane ends in the program

	holding bool
	seg     segment // of held
	start   vec2    // from its start to that of its offset
	entry   bool    // it begins the compensation
	lead    lead
	held    kept
	waiting [2]kept // moves behind it that stand still in the plane
	waits   int
	out     Op
}

type compState uint8

const (
	compIdle  compState = iota // off, and the tool is where the program is
	compEntry                  // on; the next move in the plane begins it
	compOn
	compExit // off; the next move in the plane ends it
)

// lead is what goes before a move of the program, to the start of its offset.
type lead uint8

const (
	noLead     lead = iota
	roundLead       // an arc about the corner
	straightOn      // a straight line, after a fault
)

// kept is an operation that outlives its block.
type kept struct {
	op    Op
	state State
	block parser.Block
	raw   []byte
	words []parser.Word
}

// keep copies an operation with its state and its block. It allocates nothing
// for a block of plain words once its room is large enough.
func (k *kept) keep(op *Op) {
	k.op, k.state = *op, *op.State
	k.op.State, k.op.Block = &k.state, k.copied(op.Block)
}

func (k *kept) copied(b *parser.Block) *parser.Block {
	plain := len(b.Comments)+len(b.Settings)+len(b.Faults) == 0 && b.Flow == nil
	for i := range b.Words {
		plain = plain && b.Words[i].Expr == nil
	}
	if !plain {
		return b.Clone()
	}
	k.raw, k.words = append(k.raw[:0], b.Raw...), append(k.words[:0], b.Words...)
	k.block = *b
	k.block.Raw, k.block.Words = k.raw, k.words
	return &k.block
}

// setComp sets cutter compensation. Without D the tool in the spindle is meant,
// or the D in force where it is on already.
func (in *Interp) setComp(b *parser.Block, m profiles.Meaning) {
	w, s, c := &in.w, &in.s, &in.comp
	side, again := s.Comp, s.Comp != profiles.CompOff && s.Unknown&UnknownComp == 0
	s.Comp = m
	s.Unknown &^= UnknownComp
	if m == profiles.CompOff {
		s.CompD = 0
		in.endComp()
		return
	}
	if !again {
		s.CompD = s.Tool
		if in.m.Tools.Word == "tool-offset" {
			s.CompD = s.LengthH
		}
	}
	if w.has('D') {
		d, ok := whole(w.take('D'))
		if !ok {
			in.faultValue(b, w.at['D'-'A'], "an offset number is a whole number, 0 or more")
			s.Unknown |= UnknownComp
			s.CompD = 0
			in.endComp()
			return
		}
		s.CompD = int(d)
	}
	h, tip := in.toolRadius(b)
	if (m == profiles.CompRight) != in.tr.flips(s.Plane) { // mirrored, left is right
		h = -h
	}
	if s.Comp == side && h == c.h && tip == c.tip && (c.state == compEntry || c.state == compOn) {
		return
	}
	in.releaseHeld()
	c.h, c.tip, c.plane = h, tip, s.Plane
	switch {
	case h != 0:
		c.state = compEntry
	case c.at != vec2{} || c.lost:
		c.state = compExit
	default:
		c.state = compIdle
	}
}

// endComp is G40: the next move in the plane goes to its place without offset.
func (in *Interp) endComp() {
	in.releaseHeld()
	c := &in.comp
	c.state = compIdle
	if c.at != (vec2{}) || c.lost {
		c.state = compExit
	}
}

// resetComp is after the end of the program.
func (in *Interp) resetComp() {
	in.comp.state, in.comp.at, in.comp.lost = compIdle, vec2{}, false
}

// toolRadius is the radius under the D in force, 0 where compensation has no
// path: that of the program then holds, and a fault says so where the reason is
// that nobody knows the tool. Of a turning tool it is that of the nose, under the
// offset of the T word where there is no D; tip is where its tip lies then.
func (in *Interp) toolRadius(b *parser.Block) (radius float64, tip vec2) {
	s := &in.s
	if s.CompD == 0 && in.w.has('D') {
		return 0, vec2{}
	}
	word := in.w.gAt[profiles.CompGroup]
	if in.w.has('D') {
		word = in.w.at['D'-'A']
	}
	lathe := in.m.Kind == "lathe"
	switch {
	case lathe && s.Plane != ZX:
		in.faultCause(CompForbidden, b, word, "nose radius compensation works in the ZX plane only")
		return 0, vec2{}
	case !lathe && s.Plane != XY && !in.intersects():
		in.faultCause(CompForbidden, b, word, "cutter compensation works in the XY plane only")
		return 0, vec2{}
	}
	switch t := in.m.ToolOfD(s.CompD); {
	case t == nil:
	case lathe && t.NoseRadius > 0:
		r := float64(t.NoseRadius)
		return r, noseTip(t.NoseDirection).times(r)
	case !lathe && t.Diameter > 0:
		return float64(t.Diameter) / 2, vec2{}
	}
	in.faultAt(CompUnknown, b, word).A = float64(s.CompD)
	in.emitFault()
	return 0, vec2{}
}

// intersects says whether the control looks ahead to where offset curves cross.
func (in *Interp) intersects() bool { return in.m.Control.Comp == "intersect" }

// Causes of CompForbidden.
const (
	CompOnArc  = "the first move with cutter compensation is straight"
	CompOffArc = "the first move after cutter compensation is straight"
)

// CompBehind is a cause of CompGouge.
const CompBehind = "an inside corner behind blocks over which the control does not look ahead"

// forbiddenInComp says which codes of the block are an error while compensation
// is on (NISTIR 6556, appendix B and 3.5: from memory).
func (in *Interp) forbiddenInComp(b *parser.Block) {
	w, s := &in.w, &in.s
	if in.m.Kind == "lathe" || w.g[profiles.CompGroup] == profiles.CompOff || s.Unknown&UnknownComp != 0 {
		return
	}
	fault := func(group profiles.Group, cause string) { in.faultCause(CompForbidden, b, w.gAt[group], cause) }
	if m := w.g[profiles.CompGroup]; m != profiles.Refused {
		changes := m != s.Comp || w.has('D') && w.val['D'-'A'] != float64(s.CompD)
		if changes || !in.intersects() {
			fault(profiles.CompGroup, "compensation is on already: it is switched off before side or D change")
		}
	}
	if m := w.g[profiles.PlaneGroup]; m != profiles.Refused && Plane(m-profiles.PlaneXY) != s.Plane {
		fault(profiles.PlaneGroup, "the plane does not change while cutter compensation is on")
	}
	if m := w.g[profiles.UnitsGroup]; m != profiles.Refused && m != s.Units {
		fault(profiles.UnitsGroup, "the units do not change while cutter compensation is on")
	}
	if m := w.g[profiles.OffsetGroup]; m != profiles.Refused && int(m-profiles.WorkOffset1) != s.Offset {
		fault(profiles.OffsetGroup, "the work offset does not change while cutter compensation is on")
	}
	for group := profiles.ScaleGroup; group <= profiles.RotateGroup; group++ {
		if w.g[group] != profiles.Refused {
			fault(group, "mirroring, scaling and rotation do not change while cutter compensation is on")
		}
	}
	switch w.g[profiles.NonModal] {
	case profiles.Home, profiles.HomeSecond, profiles.MachineCoordinates:
		fault(profiles.NonModal, "no move to the home position or in machine coordinates while cutter compensation is on")
	case profiles.SetPosition, profiles.ClearPosition, profiles.SuspendPosition, profiles.RestorePosition:
		fault(profiles.NonModal, "the work zero does not change while cutter compensation is on")
	}
	if m := w.g[profiles.MotionGroup]; m.IsCycle() || m == profiles.Probe {
		fault(profiles.MotionGroup, "no canned cycle and no probing while cutter compensation is on")
	}
}

// compMove takes the move in in.op, which is that of the program.
func (in *Interp) compMove() {
	c, op, s := &in.comp, &in.op, &in.s
	if s.Unknown&(UnknownComp|UnknownPlane) != 0 {
		in.abandonComp()
		in.showHere(vec2{}, vec2{})
		return
	}
	if s.Plane != c.plane {
		in.releaseHeld()
		c.plane, c.at, c.lost = s.Plane, vec2{}, false
		if c.state == compOn {
			c.state = compEntry
		}
	}
	first, second, _ := c.plane.Axes()
	plane := AxisSet(1<<first | 1<<second)
	if op.FromKnown&op.ToKnown&plane != plane {
		in.compUnplaced(plane)
		return
	}
	g := c.segmentOf(op)
	switch {
	case !g.arc && g.from.near(g.to):
		in.compStands()
	case op.Home || op.InCycle:
		in.releaseHeld()
		in.showHere(c.at, vec2{})
		in.restartComp()
	case c.state == compExit:
		in.compExits(&g)
	case c.state == compEntry:
		in.compEnters(&g)
	default:
		in.compGoesOn(&g)
	}
	c.end = g.to
}

func (c *comp) segmentOf(op *Op) segment {
	first, second, _ := c.plane.Axes()
	in := func(p *Point) vec2 { return vec2{p[first], p[second]} }
	g := segment{from: in(&op.From), to: in(&op.To)}
	if op.Kind == Arc {
		g.arc, g.cw, g.center, g.sweep = true, op.CW, in(&op.Center), op.Sweep
	}
	return g
}

// abandonComp gives compensation up: nobody knows whether it is on.
func (in *Interp) abandonComp() {
	in.releaseHeld()
	in.resetComp()
}

// restartComp is after a move that has gone to its place without offset.
func (in *Interp) restartComp() {
	c := &in.comp
	in.resetComp()
	if in.s.Comp != profiles.CompOff && c.h != 0 {
		c.state = compEntry
	}
}

// compUnplaced is a move of which a place in the plane is not known: neither is
// then the offset.
func (in *Interp) compUnplaced(plane AxisSet) {
	c := &in.comp
	in.releaseHeld()
	c.out = in.op
	if c.at != (vec2{}) || c.lost {
		c.out.FromKnown &^= plane
		c.out.FromMachineKnown &^= plane
	}
	c.at = vec2{}
	switch {
	case in.op.Moves&plane == 0:
	case c.state == compExit:
		c.state, c.lost = compIdle, false
	default:
		c.state, c.lost = compOn, true
		c.out.ToKnown &^= plane
		c.out.ToMachineKnown &^= plane
	}
	in.showComp(&c.out)
}

// compStands is a move that stands still in the plane: the offset stays. Two
// of them are looked over (common practice).
func (in *Interp) compStands() {
	c := &in.comp
	if c.holding && c.waits < len(c.waiting) {
		c.waiting[c.waits].keep(&in.op)
		c.waits++
		return
	}
	in.releaseHeld()
	in.showHere(c.at, c.at)
}

// compExits is the move after G40: from where the tool's centre is to the place
// of the program. An arc cannot do that.
func (in *Interp) compExits(g *segment) {
	c := &in.comp
	if c.lost {
		first, second, _ := c.plane.Axes()
		in.compUnplaced(1<<first | 1<<second)
		return
	}
	if g.arc {
		in.faultCause(CompForbidden, in.op.Block, in.op.Word, CompOffArc)
		in.placeFromHere(g)
	} else {
		in.place(g, c.at, vec2{})
	}
	c.state = compIdle
}

// compEnters is the first move in the plane after G41 or G42.
func (in *Interp) compEnters(g *segment) {
	c := &in.comp
	if g.arc {
		in.faultCause(CompForbidden, in.op.Block, in.op.Word, CompOnArc)
		in.placeFromHere(g)
		return
	}
	c.state = compOn
	from := g.from.plus(c.at)
	way, radius := g.to.minus(from).length(), math.Abs(c.h)
	if way < radius-nothing {
		f := in.faultAt(CompEntryShort, in.op.Block, in.op.Word)
		f.A, f.B = way, radius
		in.emitFault()
	}
	if in.intersects() {
		in.hold(g, c.at)
		c.entry = true
		return
	}
	end, ok := tangentEnd(from, g.to, c.h)
	if !ok {
		_, t := g.tangents()
		end = t.left().times(c.h)
	}
	in.place(g, c.at, end)
}

// compGoesOn is a move between the first and the last.
func (in *Interp) compGoesOn(g *segment) {
	c := &in.comp
	if g.arc && in.tooSmall(g) {
		// Nothing is known of what the control would do: the chord stands for the arc.
		in.op.Kind = Feed
		g.arc = false
		if g.from.near(g.to) {
			in.compStands()
			return
		}
	}
	if !c.lost && !g.from.near(c.end) {
		in.releaseHeld()
		c.at, c.lost = vec2{}, true // the program has jumped: a fault before has said why
	}
	start := in.cornerTo(g)
	if in.intersects() {
		in.hold(g, start)
		return
	}
	_, t := g.tangents()
	in.place(g, start, t.left().times(c.h))
}

// tooSmall says an arc with the tool on its inside that the tool does not fit.
func (in *Interp) tooSmall(g *segment) bool {
	c := &in.comp
	offset := g.radius(c.h)
	if g.cw == (c.h > 0) || offset > arcSlack || offset > -arcSlack && in.intersects() {
		return false
	}
	f := in.faultAt(CompArcSmall, in.op.Block, in.op.Word)
	f.A, f.B = g.from.minus(g.center).length(), math.Abs(c.h)
	in.emitFault()
	return true
}

// arcSlack is the rounding of a radius, mm: a tool as large as the arc fits it
// where the control looks ahead. NISTIR 6556 wants it smaller (from memory).
const arcSlack = 1e-6

// cornerTo ends the offset of the move before and gives the start of that of
// the next, with the lead to it.
func (in *Interp) cornerTo(g *segment) vec2 {
	c := &in.comp
	after, _ := g.tangents()
	own := after.left().times(c.h)
	switch {
	case c.lost:
		c.lost = false
		return own
	case c.holding && c.entry:
		in.release(own)
		return own
	case c.holding:
		k := meet(&c.seg, g, c.h)
		in.release(k.end)
		return in.leadOf(k, "the inside corner is too narrow for the tool")
	}
	// What lies behind tells its direction by where the tool's centre stands.
	k := corner{end: c.at, start: own}
	k.turn = turnOf(c.at.times(-1/c.h).left(), after, c.h)
	if k.turn == smooth {
		k.start, k.fits = c.at, true
	}
	return in.leadOf(k, CompBehind)
}

// leadOf sets the lead of the next move through a corner, says what is wrong
// with an inside corner, and gives the start of the move's offset.
func (in *Interp) leadOf(k corner, cause string) vec2 {
	c := &in.comp
	switch {
	case k.turn == outside && in.op.Kind == Traverse:
		return k.end // straight on from there: no cutting arc for a traverse
	case k.turn == outside:
		c.lead = roundLead
	case k.turn == inside && !k.fits:
		c.lead = straightOn
		kind := CompGouge
		if !in.intersects() {
			kind, cause = CompInside, ""
		}
		in.faultCause(kind, in.op.Block, in.op.Word, cause)
	}
	return k.start
}

// hold keeps the move until the next one tells where it ends.
func (in *Interp) hold(g *segment, start vec2) {
	c := &in.comp
	c.holding, c.entry, c.seg, c.start, c.waits = true, false, *g, start, 0
	c.held.keep(&in.op)
}

// place shows the move at once, between these offsets of its ends.
func (in *Interp) place(g *segment, start, end vec2) {
	c := &in.comp
	c.seg, c.start = *g, start
	c.held.op = in.op
	in.settle(end)
}

// placeFromHere shows the move without offset, and before it the way from where
// the tool is to where it begins.
func (in *Interp) placeFromHere(g *segment) {
	if in.comp.at != (vec2{}) {
		in.comp.lead = straightOn
	}
	in.place(g, vec2{}, vec2{})
}

// releaseHeld ends the look-ahead: the move that is held, if there is one, ends
// at a right angle to itself.
func (in *Interp) releaseHeld() {
	c := &in.comp
	if c.holding {
		_, t := c.seg.tangents()
		in.release(t.left().times(c.h))
	}
}

// release shows what is held.
func (in *Interp) release(end vec2) {
	c := &in.comp
	c.holding = false
	if !c.entry && c.seg.remaining(c.start, end) < -arcSlack {
		in.faultCause(CompGouge, c.held.op.Block, c.held.op.Word, "between its corners the move is shorter than the tool needs")
	}
	in.settle(end)
	for i := range c.waits {
		op := &c.waiting[i].op
		c.shift(op, c.at, c.at)
		in.showComp(op)
	}
	c.waits = 0
}

// settle shows the move of held, from start to end of its offset, and its lead
// before it. Under inverse time both together take the time of the move.
func (in *Interp) settle(end vec2) {
	c, op := &in.comp, &in.comp.held.op
	led := c.lead != noLead
	if led {
		c.leadFrom(op)
	}
	c.lead = noLead
	if op.Kind == Arc {
		c.shiftArc(op, end)
	} else {
		c.shift(op, c.start, end)
	}
	if op.State.FeedMode == profiles.FeedInverseTime && op.Feed > 0 {
		length := op.Length
		if led {
			length += c.out.Length
		}
		op.Feed = length * op.State.Feed
		c.out.Feed = op.Feed
	}
	if led {
		in.showComp(&c.out)
	}
	in.showComp(op)
	c.at = end
}

// leadFrom makes c.out the lead to the start of a move's offset. The axes beside
// those of the plane stand still on it.
func (c *comp) leadFrom(op *Op) {
	c.out = *op
	lead := &c.out
	lead.To, lead.ToKnown = op.From, op.FromKnown
	lead.ToMachine, lead.ToMachineKnown = op.FromMachine, op.FromMachineKnown
	first, second, _ := c.plane.Axes()
	lead.Moves = 1<<first | 1<<second
	if c.lead == straightOn {
		if op.Kind == Arc {
			lead.Kind = Feed
		}
		c.shift(lead, c.at, c.start)
		return
	}
	lead.Kind, lead.Plane, lead.Center = Arc, c.plane, op.From
	lead.CW, lead.Turns, lead.Radius, lead.Corner = c.h > 0, 1, c.at.length(), true
	lead.Sweep = c.at.angleTo(c.start)
	if lead.CW {
		lead.Sweep = -lead.Sweep
	}
	if lead.Sweep < 0 {
		lead.Sweep += 2 * math.Pi
	}
	c.shift(lead, c.at, c.start)
	lead.Length = lead.Radius * lead.Sweep
}

// shiftArc moves the ends of an arc to those of its offset. One that has
// shrunk to nothing, or would run backwards, is gone straight.
func (c *comp) shiftArc(op *Op, end vec2) {
	op.Sweep = c.seg.remaining(c.start, end)
	op.Radius = c.seg.from.plus(c.start).minus(c.seg.center).length()
	flat := op.Radius * op.Sweep
	if !(op.Sweep > 0 && flat > arcSlack) {
		op.Kind, op.Sweep, op.Radius, op.Turns = Feed, 0, 0, 0
	}
	c.shift(op, c.start, end)
	if op.Kind != Arc {
		return
	}
	op.Length = flat
	_, _, normal := op.Plane.Axes()
	if op.Moves.Has(normal) && op.FromKnown.Has(normal) && op.ToKnown.Has(normal) {
		op.Length = math.Hypot(flat, op.To[normal]-op.From[normal])
	}
}

// shift moves the ends of a move in the plane, in work and machine coordinates,
// and gives it the length of a straight one.
func (c *comp) shift(op *Op, start, end vec2) {
	var axes [2]int
	axes[0], axes[1], _ = c.plane.Axes()
	start, end = c.withTip(start), c.withTip(end)
	for k, i := range axes {
		if op.Kind == Arc {
			op.Center[i] += c.tip[k] // both ends are compensated
		}
		op.From[i] += start[k]
		op.FromMachine[i] += start[k]
		op.To[i] += end[k]
		op.ToMachine[i] += end[k]
		if math.Abs(op.To[i]-op.From[i]) > nothing {
			op.Moves |= 1 << i
		}
	}
	if op.Kind != Arc {
		op.Length = op.straightLength()
	}
}

// withTip is where the tip lies from the program's place, with the tool's centre
// at an offset. Without an offset the tip is where the program is.
func (c *comp) withTip(at vec2) vec2 {
	if at == (vec2{}) {
		return at
	}
	return at.plus(c.tip)
}

// showHere shows the move in in.op between these offsets of its ends.
func (in *Interp) showHere(start, end vec2) {
	c := &in.comp
	c.out = in.op
	c.shift(&c.out, start, end)
	in.showComp(&c.out)
}

func (in *Interp) showComp(op *Op) {
	if in.visit.Op != nil {
		in.visit.Op(op)
	}
}
