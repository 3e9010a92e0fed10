package adapt

import (
	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
)

// What a proof makes of tool changes that were written as the machine wants
// them. The source's steps become those of the source with the machine's own
// sequence: what it says before a change and the program has not done, the
// change, the stops behind it. The output is held against that, so whatever else
// it does at a change, or leaves out, is a difference.

// changesTool sends a tool change of the source with what the sequence puts in
// front of it.
func (r *recorder) changesTool(op *interp.Op) {
	c := r.change
	r.lengthChanged(op)
	p := c.at
	p.spindle, p.coolant = r.now.spindle, r.now.flood || r.now.mist
	at, known := r.standsAt(op)
	p.z, p.zKnown = at[2], known.Has(2)
	for _, i := range c.before(&p) {
		b := &c.blocks[i]
		r.switchOff(b)
		if b.Move != profiles.Refused {
			c.goes(b)
		}
		switch {
		case b.Move == profiles.TraverseMove:
			r.goUp(op, &at, known, float64(b.To[2]))
		case b.Move != profiles.Refused:
			r.goHome(op, b)
		case b.Stop != profiles.Refused:
			r.stopHere(op.Block.Line, b.Stop)
		case b.Accepted != 0:
			r.codeHere(op.Block.Line, b.Accepted)
		}
	}
	for i := range c.change + 1 { // what was done already holds at the change too
		r.switchOff(&c.blocks[i])
	}
	if c.blocks[c.change].Stop != profiles.Refused {
		r.stopHere(op.Block.Line, c.blocks[c.change].Stop)
	} else {
		r.tellChange(op)
	}
	c.owes()
	r.dry = r.now.flood != op.State.Flood || r.now.mist != op.State.Mist
	if len(c.owed) == 0 {
		r.wet()
	}
}

// tellChange sends a tool change of either program. What else than the sequence
// asks for is in force there is compared with the next move.
func (r *recorder) tellChange(op *interp.Op) {
	now := r.now
	r.now = r.told
	for i := range r.change.change + 1 {
		b := &r.change.blocks[i]
		if b.SpindleOff {
			r.now.spindle, r.now.speed, r.now.surface = now.spindle, now.speed, now.surface
		}
		if b.CoolantOff {
			r.now.flood, r.now.mist = now.flood, now.mist
		}
	}
	r.tellState(op.Block.Line)
	r.steps.add(toolStep, op.Block.Line).number = float64(op.State.Tool)
	r.now = now
}

// switchOff takes over what a block of the sequence switches off.
func (r *recorder) switchOff(b *profiles.ChangeBlock) {
	if b.SpindleOff {
		r.now.spindle, r.now.speed, r.now.surface = interp.SpindleOff, 0, 0
	}
	if b.CoolantOff {
		r.now.flood, r.now.mist = false, false
	}
}

// wet brings the coolant back to what the program has: before the next step.
func (r *recorder) wet() {
	if r.dry {
		s := r.in.State()
		r.now.flood, r.now.mist, r.dry = s.Flood, s.Mist, false
	}
}

// paysOwed sends what is owed of a change before an operation, or takes the
// operation for it.
func (r *recorder) paysOwed(op *interp.Op) {
	c := r.change
	if c == nil || len(c.owed) == 0 {
		return
	}
	b := &c.blocks[c.owed[0]]
	if op.Kind == interp.Stop && b.Stop != profiles.Refused && op.StopKind == interp.StopKind(b.Stop-profiles.ProgramStop) && !r.moved {
		r.settling = true
		return
	}
	r.payOwed(op.Block.Line)
}

// payOwed sends what is owed of a change.
func (r *recorder) payOwed(line int) {
	c := r.change
	for _, i := range c.owed {
		if b := &c.blocks[i]; b.Stop != profiles.Refused {
			r.stopHere(line, b.Stop)
		} else if b.Accepted != 0 {
			r.codeHere(line, b.Accepted)
		}
	}
	c.owed = nil
	r.wet()
}

// settled takes what was just sent for what was owed.
func (r *recorder) settled() {
	r.settling = false
	if r.change.settle(); len(r.change.owed) == 0 {
		r.wet()
	}
}

// owedCode takes an M code of the block for one that is owed; the others come
// behind it.
func (r *recorder) owedCode(b *parser.Block) {
	c := r.change
	if c == nil || len(c.owed) == 0 || !c.works(b, false) {
		return
	}
	if owed := &c.blocks[c.owed[0]]; owed.Accepted == 0 || !c.settles(b, false) {
		if owed.Stop == profiles.Refused || !c.settles(b, false) {
			r.payOwed(b.Line)
		}
		return
	}
	r.settling = true
}

func (r *recorder) stopHere(line int, m profiles.Meaning) {
	r.tellState(line)
	r.steps.add(stopStep, line).number = float64(m - profiles.ProgramStop)
}

func (r *recorder) codeHere(line, tenths int) {
	r.tellState(line)
	r.steps.add(codeStep, line).number = float64(tenths)
}

// standsAt is where the output stands before a tool change of the source.
func (r *recorder) standsAt(op *interp.Op) (at interp.Point, known interp.AxisSet) {
	at, known = op.State.At, op.State.Known
	for i := range at {
		if r.placed.Has(i) {
			at[i] = r.place[i]
			known |= 1 << i
		}
	}
	return at, known &^ r.opened
}

// goUp sends the move to a level over work zero.
func (r *recorder) goUp(op *interp.Op, at *interp.Point, known interp.AxisSet, level float64) {
	r.modes(op)
	r.tellState(op.Block.Line)
	from := only(at, known)
	at[2] = level
	to := only(at, known)
	s := r.steps.add(moveStep, op.Block.Line)
	s.curve = line(&from, &to, r.scale)
	s.rapid, s.feed, s.moves, s.steps = true, rate{}, interp.Z, 0
	s.fromKnown, s.toKnown, s.jump = known, known, r.jumps(&from, known)
	r.last, r.known = to, known
	r.place[2] = level
	r.placed |= interp.Z
}

// goHome sends a move to a place of the machine.
func (r *recorder) goHome(op *interp.Op, b *profiles.ChangeBlock) {
	moves, to := interp.AxisSet(0), interp.Point{}
	for i := range 3 {
		if b.Axes>>i&1 == 0 {
			continue
		}
		to[i] = r.change.target(b, i)
		at, known := op.State.Machine[i], op.State.MachineKnown.Has(i)
		if r.sent.Has(i) { // by the change before, and the program has not moved it since
			at, known = r.sentTo[i], true
		}
		if !known || at != to[i] {
			moves |= 1 << i
		}
	}
	r.sent |= interp.AxisSet(b.Axes)
	for i := range to {
		if b.Axes>>i&1 == 1 {
			r.sentTo[i] = to[i]
		}
	}
	if moves == 0 {
		return
	}
	r.modes(op)
	r.tellState(op.Block.Line)
	to = only(&to, moves)
	s := r.steps.add(homeStep, op.Block.Line)
	s.curve = line(&to, &to, r.scale)
	s.rapid, s.feed, s.moves, s.toKnown = true, rate{}, moves, moves
	r.opened |= moves
	r.known &^= moves
}

// strays sends the end of the proof where the source goes on from where it stood
// before a change, and the output stands elsewhere.
func (r *recorder) strays(op *interp.Op) {
	if r.change == nil || r.out {
		return
	}
	if what := r.change.strays(op); what != "" {
		r.steps.add(faultStep, op.Block.Line).text = "it " + what
	}
}

// lengthChanged takes over a tool length offset that has changed since the last
// move on a machine that the other has none of.
func (r *recorder) lengthChanged(op *interp.Op) {
	if !r.common.lengths && op.State.LengthH != r.length {
		r.otherLength()
	}
	r.length = op.State.LengthH
}
