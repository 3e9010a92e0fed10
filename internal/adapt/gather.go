package adapt

import (
	"math"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
)

// gather makes canned cycles of holes that a program drills with plain moves:
// over the hole, down to R, in at the feed, out. Blocks are held until it is
// known what they make: at most mostHeld of them, so memory does not grow with
// the program. What makes no hole is then written as if it had not been held.
type gather struct {
	on      bool
	held    []*heldBlock // of the holes that wait, and behind them those of the visit
	free    []*heldBlock // were held, to be used again
	visit   visit
	begin   interp.State // of the source at the first of them
	trial   track
	waiting []drilled      // alike, and too few yet to be worth a cycle
	open    bool           // the cycle is in force
	homed   interp.AxisSet // axes that were last sent home
	ended   bool           // and the source's next block ends cycles, whether there is one or not
	last    drilled        // of those that are written or wait
	end     float64        // the level where they end, mm
	lines   int            // written for the first hole before its cycle
	labels  [2][]byte      // of the last two blocks of the last hole
}

const (
	mostHeld = 4096
	// worth is how many blocks a cycle must spare.
	worth = 2
	// roomForCycle is how long a block with a cycle may become, without blanks:
	// five words of up to nine characters, codes, a sequence number and a feed.
	roomForCycle = 64
)

// A heldBlock is one that is not yet written, with what writing it needs.
type heldBlock struct {
	b             parser.Block
	before, after interp.State
	ops           []done
}

// A visit is what the program does over one place of the plane: from the
// traverse there to the next one.
type visit struct {
	blocks  int
	begun   bool       // it has a move
	strange bool       // it can be no hole
	moved   bool       // the traverse to the place is part of it
	place   [2]float64 // mm
	level   float64    // where it begins, in the last digit of the axis
	plane   interp.Plane
	track
}

// A track is a way up and down along the axis of the tool. Levels are whole:
// in the last digit that the axis can be told.
type track struct {
	at   float64
	legs []leg
}

// A leg is one stretch of a track, or a dwell.
type leg struct {
	rapid, down, dwell bool
	to                 float64
	feed               float64 // mm/s
	seconds            float64
}

// add goes on along the track. What goes on in the same way is one leg, however
// it is cut; what goes nowhere is none.
func (t *track) add(l leg) {
	if l.dwell {
		l.to = t.at
		t.legs = append(t.legs, l)
		return
	}
	if l.to == t.at {
		return
	}
	l.down = l.to < t.at
	t.at = l.to
	if n := len(t.legs) - 1; n >= 0 {
		if was := &t.legs[n]; !was.dwell && was.rapid == l.rapid && was.down == l.down && (l.rapid || sameRate(was.feed, l.feed)) {
			was.to = l.to
			return
		}
	}
	t.legs = append(t.legs, l)
}

// begins empties the track.
func (t *track) begins(at float64) { t.at, t.legs = at, t.legs[:0] }

// is says whether two tracks are one.
func (t *track) is(o *track) bool {
	if len(t.legs) != len(o.legs) {
		return false
	}
	for i := range t.legs {
		x, y := t.legs[i], o.legs[i]
		if !sameRate(x.feed, y.feed) || math.Abs(x.seconds-y.seconds) > mostDwell {
			return false
		}
		x.feed, x.seconds = y.feed, y.seconds
		if x != y {
			return false
		}
	}
	return true
}

// drilled is a hole that the program makes with plain moves.
type drilled struct {
	hole
	level  float64 // where it begins, mm
	up     float64 // how far it feeds out, mm; the bottom where it does not
	moved  bool    // the traverse over it is part of it
	moves  int     // plain moves and dwells
	blocks int
}

// gathers takes the block in where it may be one of a hole.
func (a *adapter) gathers(b *parser.Block) bool {
	g := &a.gather
	if !g.on {
		return false
	}
	if !a.plain(b) {
		g.away(a.ops)
		g.ended = a.endsCycle(b)
		a.endGather()
		g.ended = false
		return false
	}
	op, over := a.along()
	if op != nil {
		moves := differs(&op.From, &op.To)
		first := g.homed & moves
		g.homed &^= moves
		if _, _, normal := a.state.Plane.Axes(); first.Has(normal) {
			// The first move from there stays as it is: where it begins is another
			// place to the program than to the output.
			a.endGather()
			return false
		}
	}
	if over && g.visit.blocks > 0 {
		a.endVisit()
	}
	g.hold(b, &a.before, a.state, a.ops)
	g.visit.blocks++
	if op != nil {
		a.addToVisit(op, over)
	}
	if len(g.held) > mostHeld {
		a.endGather()
	}
	return true
}

// hold keeps a block.
func (g *gather) hold(b *parser.Block, before, after *interp.State, ops []done) {
	if len(g.free) == 0 {
		g.free = append(g.free, new(heldBlock))
	}
	last := len(g.free) - 1
	h := g.free[last]
	g.free = g.free[:last]
	b.CopyTo(&h.b)
	h.before, h.after, h.ops = *before, *after, append(h.ops[:0], ops...)
	g.held = append(g.held, h)
}

// drop forgets the first n blocks that are held.
func (g *gather) drop(n int) {
	g.free = append(g.free, g.held[:n]...)
	g.held = append(g.held[:0], g.held[n:]...)
}

// away notes which axes the operations send home, and which they bring back.
func (g *gather) away(ops []done) {
	for i := range ops {
		switch op := &ops[i]; {
		case op.Kind > interp.Arc:
		case op.Home:
			g.homed |= op.Moves
		default:
			g.homed &^= op.Moves
		}
	}
}

// endsCycle says whether the block does nothing but end cycles.
func (a *adapter) endsCycle(b *parser.Block) bool {
	ends := len(a.ops) == 0 && b.Delete == 0
	for i := range b.Words {
		w := &b.Words[i]
		ends = ends && (w.Address == 'N' || w.Address == 'G' && meaningG(a.from, w) == profiles.CycleOff)
	}
	return ends && len(b.Words) > 0 && b.Words[len(b.Words)-1].Address == 'G'
}

// plain says whether the block does nothing but move along the plane by
// traverse, along the axis of the tool, or dwell.
func (a *adapter) plain(b *parser.Block) bool {
	return a.plainState(b) && a.plainWords(b) && (len(a.ops) == 0 || len(a.ops) == 1 && a.plainOp(&a.ops[0]))
}

func (a *adapter) plainState(b *parser.Block) bool {
	if b.Delete != 0 || len(b.Comments)+len(b.Settings)+len(b.Faults) > 0 || b.Flow != nil || a.unused|a.unknown != 0 ||
		a.turned != 0 || a.resolved || a.pending != interp.SpindleUnknown {
		return false
	}
	for _, s := range [...]*interp.State{&a.before, a.state} {
		if s.Comp != profiles.CompOff || s.FeedMode != profiles.FeedPerMinute || s.Unknown != 0 {
			return false
		}
	}
	return a.state.Motion == profiles.TraverseMove || a.state.Motion == profiles.FeedMove
}

func (a *adapter) plainWords(b *parser.Block) bool {
	for i := range b.Words {
		w := &b.Words[i]
		switch w.Address {
		case 'X', 'Y', 'Z', 'U', 'V', 'W', 'F', 'P':
		case 'N':
			if a.seen.leadsTo(w) {
				return false
			}
		case 'G':
			switch meaningG(a.from, w) {
			case profiles.TraverseMove, profiles.FeedMove, profiles.DwellHere, profiles.Absolute, profiles.Incremental:
			default:
				return false
			}
		default:
			return false
		}
	}
	return true
}

func (a *adapter) plainOp(op *done) bool {
	_, _, normal := a.state.Plane.Axes()
	switch {
	case op.late || op.InCycle || op.Home:
		return false
	case op.Kind == interp.Dwell:
		return true
	case op.Kind > interp.Feed || op.Synchron || op.Lead > 0 || op.PerRev > 0 || op.Moves&^interp.XYZ != 0,
		op.FromKnown&op.ToKnown&interp.XYZ != interp.XYZ:
		return false
	}
	moves := differs(&op.From, &op.To)
	return moves&^(1<<normal) == 0 || op.Kind == interp.Traverse && !moves.Has(normal)
}

// along is what the plain block does, nil for nothing; over says that it is a
// traverse along the plane.
func (a *adapter) along() (op *done, over bool) {
	if len(a.ops) == 0 {
		return nil, false
	}
	op = &a.ops[0]
	_, _, normal := a.state.Plane.Axes()
	return op, op.Kind == interp.Traverse && differs(&op.From, &op.To)&^(1<<normal) != 0
}

// addToVisit takes in one operation.
func (a *adapter) addToVisit(op *done, over bool) {
	v := &a.gather.visit
	first, second, normal := a.state.Plane.Axes()
	switch {
	case op.Kind == interp.Dwell:
		v.strange = v.strange || !v.begun
		v.add(leg{dwell: true, seconds: op.Seconds})
		return
	case !v.begun:
		v.begun, v.moved, v.plane = true, over, a.state.Plane
		v.place, v.level = [2]float64{op.To[first], op.To[second]}, a.counts(normal, op.From[normal])
		v.begins(v.level)
	}
	v.strange = v.strange || v.plane != a.state.Plane
	if !over {
		l := leg{rapid: op.Kind == interp.Traverse, to: a.counts(normal, op.To[normal])}
		if !l.rapid {
			l.feed = op.Feed
		}
		v.add(l)
	}
}

// endGather writes what is held, and ends the cycle.
func (a *adapter) endGather() {
	if a.gather.visit.blocks > 0 {
		a.endVisit()
	}
	a.endHoles()
}

// endVisit decides what becomes of the blocks of the visit.
func (a *adapter) endVisit() {
	g, live := &a.gather, a.state
	g.begin = g.held[0].after
	a.state = &g.begin
	d, ok := a.drilled()
	g.visit = visit{track: track{legs: g.visit.legs[:0]}}
	goesOn := ok && (g.open || len(g.waiting) > 0) && d.moved && d.like(&g.last) && a.endsWith(&d, g.end)
	if !goesOn {
		a.endHoles()
	}
	if goesOn || ok && a.startsWith(&d) {
		a.take(&d)
	} else {
		a.replay(d.blocks)
	}
	a.state = live
}

// like says whether two holes can be made by one cycle.
func (d *drilled) like(o *drilled) bool { return d.same(&o.hole) && sameRate(d.feed, o.feed) }

// drilled reads the visit as a hole; ok is false where it is none that the
// machine has a cycle for. The number of blocks it gives in any case.
func (a *adapter) drilled() (d drilled, ok bool) {
	v := &a.gather.visit
	d = drilled{blocks: v.blocks, moved: v.moved, moves: len(v.legs)}
	if v.strange || !v.begun || len(v.legs) < 2 {
		return d, false
	}
	if v.moved {
		d.moves++
	}
	r, body := v.level, v.legs
	if down := &body[0]; down.rapid {
		if !down.down {
			return d, false
		}
		r, body = down.to, body[1:]
	}
	if in := &body[0]; in.rapid || in.dwell || !in.down || len(body) < 2 {
		return d, false
	}
	out := body[len(body)-1]
	if out.dwell || out.down || out.to < r {
		return d, false
	}
	_, _, normal := v.plane.Axes()
	step := a.w.step(normal)
	bottom, up := body[0].to, body[0].to
	for i := range body {
		switch l := &body[i]; {
		case l.dwell:
			d.dwell += l.seconds
		case l.rapid:
		case l.down:
			bottom = math.Min(bottom, l.to)
			up = bottom
		default:
			up = l.to
		}
	}
	d.place, d.level, d.feed = v.place, v.level*step, body[0].feed
	d.r, d.bottom, d.out, d.up = r*step, bottom*step, out.to*step, up*step
	if body[0].to != bottom {
		d.peck = (r - body[0].to) * step
	}
	return d, a.findCycle(&d, &track{legs: body}, r, step)
}

// findCycle finds the machine's cycle that goes the way from R on that was seen.
func (a *adapter) findCycle(d *drilled, seen *track, r, step float64) bool {
	for _, m := range [...]profiles.Meaning{profiles.Drill, profiles.DrillDwell, profiles.Peck, profiles.ChipBreak, profiles.BoreFeedOut, profiles.BoreDwellOut} {
		d.m = m
		form := a.to.CycleForm(m)
		pecks := m == profiles.Peck || m == profiles.ChipBreak
		dwells := m == profiles.DrillDwell || m == profiles.BoreDwellOut
		switch {
		case a.to.CodeFor(m) == "" || !form.Has('R') || pecks != (d.peck > 0) || dwells != (d.dwell > 0), pecks && !form.Has('Q'):
			continue
		}
		a.wayOf(d, form, r, step, len(seen.legs))
		if a.gather.trial.is(seen) {
			return true
		}
	}
	return false
}

// wayOf puts the way that the machine's cycle goes from R on, and out to where
// the hole ends, into trial (NISTIR 6556, 3.5.16: from memory; the profile says
// the clearance of pecks). It ends with more legs than most where it is longer.
func (a *adapter) wayOf(d *drilled, form profiles.Cycle, r, step float64, most int) {
	t := &a.gather.trial
	t.begins(r)
	in := func(level float64) { t.add(leg{to: math.Round(level / step), feed: d.feed}) }
	fast := func(level float64) { t.add(leg{rapid: true, to: math.Round(level / step)}) }
	const rest = 1e-6 // mm, as package interp has it
	if d.m == profiles.Peck || d.m == profiles.ChipBreak {
		for level := d.r - d.peck; level > d.bottom+rest && len(t.legs) <= most; level -= d.peck {
			in(level)
			if d.m == profiles.Peck {
				fast(d.r)
			}
			fast(math.Min(level+float64(form.ClearPeck), d.r))
		}
	}
	in(d.bottom)
	if d.dwell > 0 {
		t.add(leg{dwell: true, seconds: d.dwell})
	}
	if d.m == profiles.BoreFeedOut || d.m == profiles.BoreDwellOut {
		in(d.up)
	}
	fast(d.out)
}
