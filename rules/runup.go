package rules

import (
	"fmt"

	"tapefit/internal/interp"
	"tapefit/internal/motion"
	"tapefit/profiles"
)

// runUps are the rules about the spindle coming up to speed. They belong to the
// spindle.
func runUps() []*Rule {
	const head = "%\nT7 M6\nM42\nG0 X0 Y0\nG43 H7 Z.1\nS4000 M3\n"
	return []*Rule{{
		Name: "speed-unreachable-in-time", Family: "spindle", Level: Warning,
		Summary: "a cut begins before the spindle is up to speed",
		Doc:     `Some controls go on with the next block as soon as the spindle has its command, and do not wait until it turns as fast as was said (spindle.goes_on in the profile; without it nothing is told here). Where the moves and dwells up to the first feed take less time than the spindle needs, the tool meets the part too slow, at a feed that is meant for the full speed. The time that it needs is taken as spindle.start times the share of the speed in the highest of the gear; the contact as the beginning of the first feed.`,
		Uses:    []string{"spindle.goes_on", "spindle.start", "spindle.gears"},
		Example: Example{"bed-mill",
			head + "G1 Z-.1 F20.\nG0 Z1.\nM30\n%\n",
			head + "G4 P2.5\nG1 Z-.1 F20.\nG0 Z1.\nM30\n%\n"},
		ExampleSet: []string{"spindle.goes_on=true"},
		New:        newRunUp,
	}}
}

// runUp follows the spindle from its start to the first cut.
type runUp struct {
	m       *profiles.Machine
	turned  bool // before the operation
	started bool // and has not cut
	counts  bool // what was before the start is settled
	open    bool // the first cut is not seen yet: dwells count
	speed   float64
	needs   float64 // s
	has     float64 // s, up to now
}

func newRunUp(m *profiles.Machine, _ *Options) Checker {
	if !m.Spindle.GoesOn || m.Spindle.Start == 0 {
		return Checker{}
	}
	r := &runUp{m: m}
	return Checker{
		State: []any{r},
		Ops:   Of(interp.Spindle, interp.Traverse, interp.Feed, interp.Arc, interp.Dwell, interp.Stop, interp.Tool),
		Op:    r.op, Timed: r.timed,
	}
}

func (r *runUp) op(_ *Pass, op *interp.Op) {
	switch op.Kind {
	case interp.Spindle:
		r.start(op)
		return
	case interp.Stop: // the operator takes his time
		if op.StopKind != interp.OptionalStop {
			r.giveUp()
		}
		return
	case interp.Tool:
		if !op.Turret { // it stops the spindle
			r.giveUp()
			r.turned = false
		}
		return
	}
	if !r.started {
		return
	}
	r.counts = true
	switch op.Kind {
	case interp.Dwell:
		if r.open {
			r.has += op.Seconds
		}
	case interp.Traverse:
		if op.Moves&^(op.FromKnown&op.ToKnown) != 0 && r.open {
			r.giveUp() // it takes nobody knows how long
		}
	default:
		r.open = false
	}
}

// giveUp ends the wait for the first cut. One that was seen is settled later
// than its operation comes: it is still judged.
func (r *runUp) giveUp() { r.started = r.started && !r.open }

func (r *runUp) start(op *interp.Op) {
	s := op.State
	before := r.turned
	r.turned = turning(s)
	if before || !r.turned || op.InCycle {
		if !r.turned {
			r.giveUp()
		}
		return
	}
	if r.started = speedKnown(s) && s.Speed > 0; !r.started {
		return
	}
	_, top, ok := speedRange(r.m)
	if g := gearIn(s); g >= 0 {
		top = float64(r.m.Spindle.Gears[g].Speed[1])
	}
	r.speed, r.needs = s.Speed, float64(r.m.Spindle.Start)
	if ok && s.Speed < top {
		r.needs *= s.Speed / top
	}
	r.has, r.counts, r.open = 0, false, true
}

func (r *runUp) timed(p *Pass, t *motion.Timed) {
	if !r.started || !r.counts {
		return
	}
	if !t.Cut {
		r.has += t.Seconds
		return
	}
	r.started = false
	const least = 0.1 // s: less is nothing at the machine
	if r.has > r.needs-least {
		return
	}
	if n := p.Note(0, Place{t.Line, t.Offset, t.Pos, t.End}); n != nil {
		n.Message = fmt.Sprintf("the spindle needs about %s s to S%s, this feed begins %s s after its start, and %s does not wait",
			trim(r.needs, 1), rpm(r.speed), trim(r.has, 1), r.m.Name)
		n.Advice = fmt.Sprintf("Start the spindle before the approach, or dwell %s s before the feed.", trim(r.needs-r.has+0.05, 1))
	}
}
