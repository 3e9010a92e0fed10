package motion

import (
	"math"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// belts counts the belt steps that the operator moves on a machine whose spindle
// is shifted by hand, which no code says: the fewest with which each speed is
// reached. Where the belt lies at the start belongs to the set-up.
type belts struct {
	spindle  *profiles.Spindle // nil: there is nothing to move
	first    uint64            // steps that reach all speeds up to the first move
	possible uint64            // and all since the last; 0: the spindle has not turned yet
	moves    int
}

func newBelts(m *profiles.Machine) belts {
	if m.Spindle.Shift != "by-hand" {
		return belts{}
	}
	return belts{spindle: &m.Spindle}
}

// spin takes in how the spindle turns from now on. A speed that no step reaches
// is for rules.
func (b *belts) spin(op *interp.Op) {
	s := op.State
	if b.spindle == nil || op.InCycle || !s.SpeedSet || s.Unknown&interp.UnknownSpeed != 0 ||
		s.Spindle != interp.SpindleCW && s.Spindle != interp.SpindleCCW {
		return
	}
	reach := b.spindle.Reaching(math.Abs(s.Speed))
	switch {
	case reach == 0:
		return
	case b.possible == 0:
		b.possible = reach
	case b.possible&reach != 0:
		b.possible &= reach
	default:
		b.possible = reach
		b.moves++
	}
	if b.moves == 0 {
		b.first = b.possible
	}
}

// all are the moves for one part of many: at the end the belt must come to lie
// where the next part begins.
func (b *belts) all() int {
	if b.moves > 0 && b.first&b.possible == 0 {
		return b.moves + 1
	}
	return b.moves
}
