package rules

import (
	"tapefit/internal/interp"
	"tapefit/profiles"
)

// mostStretches bounds what is kept of a program's tool changes. What comes
// after is told by work.more.
const mostStretches = 500

// work is what each tool does, told in a few figures: rules about the order of
// the job read them when the tool is changed, or at the end. It grows with the
// tool changes, not with the moves.
type work struct {
	lathe bool
	done  []stretch // behind which a tool change came
	now   stretch
	more  bool // there were more than mostStretches: done does not hold all
	any   bool // there was a cut

	// down: the tool was fed and has not been retracted since. On a lathe any
	// traverse takes it away from the work.
	down    bool
	fed     bool // the last move was a cut, or a probe
	cutting bool // the last move was a cut
	part    int  // counts the stops for the operator: what he moves nobody knows
}

// A stretch is the work of one tool from its change to the next.
type stretch struct {
	tool int   // -1: unknown, or before the first change
	at   Place // of the change; no line: none
	part int   // work.part at its first cut

	cuts, wet int // feeds and arcs, and those of them with the coolant on
	// X and Y between which it cuts, mm, and in which coordinates: those of a work
	// offset, 0 to 8, or of the machine; mixed: in several, or not known.
	x, y  Range
	frame int
	mixed bool
	// Gears of the first and the last cut, and how often they were changed between
	// cuts; -1: not known.
	first, last, shifts int
}

func newWork(m *profiles.Machine) work {
	return work{lathe: m.Kind == "lathe", now: stretch{tool: -1}}
}

// add takes in an operation.
func (w *work) add(op *interp.Op) {
	switch op.Kind {
	case interp.Traverse:
		w.cutting, w.fed = false, false
		if w.down && (w.lathe || op.Home || rises(op)) {
			w.down = false
		}
	case interp.Feed, interp.Arc:
		w.fed = true
		w.cut(op)
	case interp.Tool:
		if w.now.cuts > 0 || w.now.at.Line != 0 {
			if w.more = len(w.done) >= mostStretches; !w.more {
				w.done = append(w.done, w.now)
			}
		}
		w.now = stretch{tool: op.State.Tool, at: OpPlace(op)}
		w.down, w.cutting, w.fed = false, false, false
	case interp.Stop:
		w.cutting = false
		if op.StopKind != interp.OptionalStop {
			w.part++
		}
	}
}

// cut takes in a feed or an arc.
func (w *work) cut(op *interp.Op) {
	s, t := op.State, &w.now
	if s.Motion == profiles.Probe {
		return
	}
	w.any = true
	w.down = w.lathe || !retracts(op)
	frame := s.Offset
	from, to := &op.From, &op.To
	if op.FromMachineKnown&op.ToMachineKnown&across == across {
		frame, from, to = inMachine, &op.FromMachine, &op.ToMachine
	}
	if t.cuts == 0 {
		t.part, t.frame, t.first, t.last = w.part, frame, gearIn(s), gearIn(s)
	}
	t.cuts++
	if s.Flood || s.Mist {
		t.wet++
	}
	if gear := gearIn(s); gear != t.last {
		t.last = gear
		t.shifts++
	}
	if frame != t.frame || op.FromKnown&op.ToKnown&across != across {
		t.mixed = true
		return
	}
	if !w.cutting {
		t.x.widen(from[0])
		t.y.widen(from[1])
		w.cutting = true
	}
	t.x.widen(to[0])
	t.y.widen(to[1])
	if op.Kind == interp.Arc && op.Plane == interp.XY {
		around(&t.x, &t.y, op, to[0]-op.To[0], to[1]-op.To[1])
	}
}

const (
	across    = interp.X | interp.Y
	inMachine = 9 // a frame beside the work offsets
)

// gearIn is the gear that is engaged, -1 where it is not known.
func gearIn(s *interp.State) int {
	if s.Unknown&interp.UnknownGear != 0 {
		return -1
	}
	return s.Gear
}

// rises says whether a traverse goes up along Z, or may.
func rises(op *interp.Op) bool {
	return op.Moves.Has(2) && (!(op.FromKnown & op.ToKnown).Has(2) || op.To[2] > op.From[2])
}

// stretches are all of them, where they are all known. Call it at the end.
func (w *work) stretches() (all []stretch, ok bool) {
	if w.more {
		return nil, false
	}
	all = append(all, w.done...)
	if w.now.cuts > 0 || w.now.at.Line != 0 {
		all = append(all, w.now)
	}
	return all, true
}
