package rules

import (
	"math"

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
	fed     bool    // the last move was a cut, or a probe
	cutting bool    // the last move was a cut
	lowered bool    // by a traverse, behind the last cut
	begun   float64 // Z from which the tool was fed down last, mm
	level   float64 // Z behind the last move, where it is known
	offset  int     // work offset in which it was
	x, z    Range   // on a lathe: radii and places between which this tool cuts, mm
	part    int     // counts the stops for the operator: what he moves nobody knows
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
		w.lower(op)
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
		w.down, w.cutting, w.fed, w.lowered = false, false, false, false
		w.x, w.z = Range{}, Range{}
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
	w.down, w.lowered = w.lathe || !retracts(op), false
	if known := op.FromKnown & op.ToKnown; !w.lathe && known.Has(2) && op.To[2] < op.From[2] {
		w.begun, w.offset = op.From[2], s.Offset
	} else if w.lathe && known&(interp.X|interp.Z) == interp.X|interp.Z {
		for _, at := range [2]*interp.Point{&op.From, &op.To} {
			w.x.widen(math.Abs(at[0]))
			w.z.widen(at[2])
		}
	}
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

// lower follows a traverse down behind the last cut, to below where the tool was fed
// into the work.
func (w *work) lower(op *interp.Op) {
	const z = 2
	if w.lathe || !op.Moves.Has(z) {
		return
	}
	known := (op.FromKnown & op.ToKnown).Has(z) && !op.Home && !op.InCycle
	w.lowered = known && w.now.cuts > 0 && op.To[z] < op.From[z] && op.To[z] < w.begun-slack &&
		op.State.Offset == w.offset && op.State.LengthH > 0
	w.level = op.To[z]
}

// beside says whether a turret that turns here does so beside the work, or in it: not
// in front of what the tool has cut, and nearer to it along X than tools differ in
// length.
func (w *work) beside(s *interp.State) bool {
	const (
		room  = 10 // mm
		front = 1  // mm: the face itself is no part in the way
	)
	return w.lathe && w.x.Set && s.Known&(interp.X|interp.Z) == interp.X|interp.Z &&
		s.At[2] < w.z.Max-front && math.Abs(s.At[0]) < w.x.Max+room
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
