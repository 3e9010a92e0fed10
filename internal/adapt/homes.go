package adapt

import (
	"tapefit/internal/interp"
	"tapefit/profiles"
)

// What a proof makes of gears that were put in, and of moves to places of the
// machine and tool lengths that the machine of the output has no codes for.

// passGears takes over states that differ in no more than the gear, where some of
// those that were put in may be missing.
func (m *matcher) passGears(s *side) {
	for m.allowed.GearsLeft {
		x := s.peek(0)
		if x == nil || x.kind != stateStep || s == &m.b && !m.gearFits(x.state) && x.state.gear != m.a.now.gear {
			return
		}
		geared := *x.state
		geared.gear, geared.ownGear = s.now.gear, s.now.ownGear
		if geared != s.now {
			return
		}
		s.now, s.line, s.changed = *x.state, x.line, true
		s.next()
	}
}

// otherLength is a change of the tool length offset on a machine that the other
// has none of: there the tool stands where the last move went.
func (r *recorder) otherLength() {
	for i := range r.last {
		bit := interp.AxisSet(1) << i
		switch {
		case !lengthAxes(r.m).Has(i) || r.opened.Has(i):
		case r.known.Has(i):
			r.placed |= bit
			r.place[i] = r.last[i]
		default:
			r.opened |= bit
		}
	}
}

// homing is where moves in machine coordinates go on a machine that has no code for
// them.
type homing struct {
	from, to *profiles.Machine
	place    Place
}

// homeCode is the code by which a machine makes a move of the source's G28 or G30, or
// one in machine coordinates: the same; or, where its profile says where home is,
// the one in machine coordinates. Refused: it has none.
func homeCode(from, to *profiles.Machine, code profiles.Meaning, moves interp.AxisSet) profiles.Meaning {
	place := to.CodeFor(profiles.MachineCoordinates) != ""
	switch {
	case !isHome(code) && place:
		return profiles.MachineCoordinates
	case !isHome(code):
		return profiles.Refused
	case to.CodeFor(code) != "" && to.Control.HomeAxes == from.Control.HomeAxes:
		return code
	}
	moves &= interp.AxisSet(to.AllAxes())
	for i := range profiles.NumAxes {
		place = place && !(moves.Has(i) && to.HomeOf(i, code) == nil)
	}
	if moves == 0 || !place {
		return profiles.Refused
	}
	return profiles.MachineCoordinates
}

// homeCode is that of the block that is written.
func (a *adapter) homeCode() profiles.Meaning {
	moves := interp.AxisSet(0)
	for i := range a.ops {
		if op := &a.ops[i]; op.Home && !op.late {
			moves |= op.Moves
		}
	}
	return homeCode(a.from, a.to, a.words.nonMod, moves)
}

// lacks says whether the machine has no code for a move of the source.
func (h *homing) lacks(op *interp.Op) bool {
	return h != nil && homeCode(h.from, h.to, gOf(h.from, op), op.Moves) == profiles.Refused
}

// isAbove says whether Z is known to stand above a level: on the way out of the work
// nothing goes down.
func isAbove(known interp.AxisSet, at *interp.Point, i int, level float64) bool {
	return i == 2 && known.Has(i) && at[i] > level+1e-6
}

// homeInWork sends the move that the output makes in place of one in machine
// coordinates. From there the source goes on.
func (r *recorder) homeInWork(op *interp.Op) {
	from, to, known, moves := op.From, op.From, op.FromKnown, interp.AxisSet(0)
	for i, v := range r.homes.place {
		switch bit := interp.AxisSet(1) << i; {
		case !op.Moves.Has(i):
			continue
		case v != nil && !isAbove(known, &from, i, *v):
			moves |= bit
			to[i] = *v
			r.placed |= bit
		case known.Has(i):
			r.placed |= bit // it stays
		default:
			r.placed &^= bit
		}
		r.place[i] = to[i]
	}
	if moves == 0 || known&moves == moves && from == to {
		r.last, r.known = from, known
		return
	}
	r.tellCodes()
	r.modes(op)
	r.tellState(op.Block.Line)
	s := r.steps.add(moveStep, op.Block.Line)
	from, to = only(&from, known), only(&to, known|moves)
	s.curve = line(&from, &to, r.scale)
	s.rapid, s.feed, s.moves, s.steps = op.Kind == interp.Traverse, r.rate(op), moves, 0
	s.jump = r.jumps(&from, known) || r.opened != 0
	s.fromKnown, s.toKnown = known, known|moves
	r.last, r.known = to, known|moves
	r.opened &^= moves
}

// fromPlace is the move from where the output stands, after moves that go
// elsewhere there.
func (r *recorder) fromPlace(op *interp.Op) *interp.Op {
	moved := *op
	for i := range moved.From {
		bit := interp.AxisSet(1) << i
		if !r.placed.Has(i) {
			continue
		}
		moved.From[i] = r.place[i]
		moved.FromKnown |= bit
		if !op.Moves.Has(i) {
			moved.To[i] = r.place[i]
			moved.ToKnown |= bit
		}
	}
	r.opened &^= r.placed
	r.placed &^= op.Moves
	return &moved
}
