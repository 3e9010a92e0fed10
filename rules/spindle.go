package rules

import (
	"fmt"
	"math"
	"strings"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// spindle are the rules about the spindle and its gears.
func spindle() []*Rule {
	return []*Rule{
		{
			Name: "speed-missing-before-cut", Family: "spindle", Level: Error,
			Summary: "the spindle turns in a cut, and no speed was given",
			Doc:     `Without an S word the spindle turns at whatever the last program left, in whatever gear.`,
			Example: Example{"bed-mill", "%\nM41\nM3\nG0 X0\nG1 X1. F10.\nM30\n%\n", "%\nM41\nS500 M3\nG0 X0\nG1 X1. F10.\nM30\n%\n"},
			New: func(*profiles.Machine, *Options) Checker {
				return Checker{Op: speedMissing, Ops: Of(interp.Feed, interp.Arc), Steady: true}
			},
		},
		{
			Name: "speed-over-machine", Family: "spindle", Level: Error,
			Summary: "a speed over the highest that the spindle has",
			Doc:     `The control stops on the speed or runs at its highest: the feed then cuts a thicker chip than was meant. Feed and speed must come down together. Under constant surface speed each cut is judged by the speeds that it asks for along its way; there the control holds the highest, and the finding is a warning.`,
			Uses:    []string{"spindle.speed", "spindle.gears"},
			Example: Example{"bed-mill", "%\nM42\nS6500 M3\nM30\n%\n", "%\nM42\nS4000 M3\nM30\n%\n"},
			New:     newSpeedOver,
		},
		{
			Name: "speed-between-gears", Family: "spindle", Level: Error,
			Summary: "a speed that no gear reaches",
			Doc:     `The speed lies in a gap between two gears or belt steps, or below the slowest. The control stops, or runs at the nearest end of the gear that is in.`,
			Uses:    []string{"spindle.gears"},
			Example: Example{"knee-mill", "%\nS400 M3\nM30\n%\n", "%\nS380 M3\nM30\n%\n"},
			New: func(m *profiles.Machine, _ *Options) Checker {
				return gearChecker(m, speedBetween)
			},
		},
		{
			Name: "speed-outside-gear", Family: "spindle", Level: Error,
			Summary: "a speed that the gear engaged does not reach",
			Doc:     `The gear that is in does not reach the speed: the spindle stalls, overspeeds its motor or stops the control. With gears shifted by code the code must stand before the speed; with belts shifted by hand there must be a stop at which the operator can move the belt. Where the program has not engaged a gear yet, the one that the last job left may be the wrong one. Under constant surface speed a cut is meant here that lies outside the gear as a whole; css-crosses-gear tells of those that pass its end.`,
			Uses:    []string{"spindle.gears", "spindle.shift", "start.gear"},
			Example: Example{"bed-mill", "%\nM41\nS3000 M3\nM30\n%\n", "%\nM42\nS3000 M3\nM30\n%\n"},
			New:     newSpeedOutside,
		},
		{
			Name: "speed-straddles-gear", Family: "spindle", Level: Warning,
			Summary: "a speed or a tool's speeds that two gears share",
			Doc:     `Where gears overlap, a speed in both runs in whichever happens to be in: in the low one with the torque, in the high one without. And where one tool's speeds fall on both sides, the spindle is stopped and shifted back and forth within its work.`,
			Uses:    []string{"spindle.gears", "spindle.shift", "spindle.shift_time"},
			Example: Example{"bed-mill", "%\nS950 M3\nG0 X0\nG1 X1. F10.\nM30\n%\n", "%\nM41\nS950 M3\nG0 X0\nG1 X1. F10.\nM30\n%\n"},
			New:     newStraddle,
		},
		{
			Name: "gear-shift-in-cut", Family: "spindle", Level: Error,
			Summary: "a gear is shifted while the spindle turns or the tool is in the cut",
			Doc:     `A gearbox that is shifted by hydraulics wants the spindle stopped, or creeping by itself; shifted under way the teeth clash. And while the control shifts, the tool stands in the cut and rubs.`,
			Uses:    []string{"spindle.shift", "spindle.shift_turning", "spindle.gears"},
			Example: Example{"bed-mill", "%\nM41\nS900 M3\nM42\nS2000\nM30\n%\n", "%\nM41\nS900 M3\nM5\nM42\nS2000 M3\nM30\n%\n"},
			New:     newShiftInCut,
		},
		{
			Name: "spindle-off-in-cut", Family: "spindle", Level: Error,
			Summary: "a feed move while the spindle stands",
			Doc:     `Fed into the part with the spindle stopped the tool breaks, or the part moves. Most often the M3 is missing behind a stop, a tool change or a tapping cycle. Straight retracts along the tool are left out.`,
			Example: Example{"bed-mill", "%\nM41\nS500 M3\nG0 X0 Z0\nM0\nM5\nG1 X1. F10.\nM30\n%\n", "%\nM41\nS500 M3\nG0 X0 Z0\nM0\nM3\nG1 X1. F10.\nM30\n%\n"},
			New:     newSpindleOff,
		},
		{
			Name: "spindle-counter-clockwise", Family: "spindle", Level: Warning,
			Summary: "a tool cuts with the spindle counter-clockwise",
			Doc:     `Drills, mills and boring bars are right-hand tools, but for a few: with M4 they rub with their backs, burn and break. On a mill M4 is mostly typed for M3. A tool that is a left-hand one is silenced by a comment with the reason, or has "left" in its title in the profile. Taps, back boring and lathes are left out.`,
			Uses:    []string{"tools.loaded"},
			Example: Example{"bed-mill", "%\nT2 M6\nM41\nS800 M4\nG0 X0 Y0\nG43 H2 Z.1\nG1 Z-.1 F8.\nG0 Z1.\nM30\n%\n", "%\nT2 M6\nM41\nS800 M3\nG0 X0 Y0\nG43 H2 Z.1\nG1 Z-.1 F8.\nG0 Z1.\nM30\n%\n"},
			New:     newCounterClockwise,
		},
	}
}

// newCounterClockwise waits for the first cut behind each start.
func newCounterClockwise(m *profiles.Machine, _ *Options) Checker {
	if m.Kind != "mill" {
		return Checker{}
	}
	at := Place{} // of the start; no line: none, or told
	return Checker{State: []any{&at}, Ops: Of(interp.Spindle, interp.Feed, interp.Arc), Steady: true, Op: func(p *Pass, op *interp.Op) {
		s := op.State
		switch {
		case op.Kind == interp.Spindle:
			at.Line = 0
			if !op.InCycle && s.Spindle == interp.SpindleCCW {
				at = OpPlace(op)
				for i := range op.Block.Words {
					if w := &op.Block.Words[i]; w.Address == 'M' && w.Expr == nil && m.M(tenths(w)) == profiles.SpindleCCW {
						at = WordPlace(op.Block, i)
					}
				}
			}
			return
		case at.Line == 0 || op.Synchron || s.Motion == profiles.Tap || s.Motion == profiles.BackBore || s.Motion == profiles.Probe || leftHand(m, s.Tool):
			return
		}
		if n := p.Note(0, at); n != nil {
			what := "the tool"
			if s.Tool > 0 {
				what = "tool " + toolName(s.Tool)
			}
			n.Message = fmt.Sprintf("the spindle turns counter-clockwise, and %s cuts, first in line %d", what, op.Block.Line)
			n.Advice = fmt.Sprintf("Write %s, unless it is a left-hand tool.", orCode(m, profiles.SpindleCW, "clockwise"))
		}
		at.Line = 0
	}}
}

// leftHand says whether the profile's title of a tool has it for a left-hand one.
func leftHand(m *profiles.Machine, tool int) bool {
	for i := range m.Tools.Loaded {
		if t := &m.Tools.Loaded[i]; t.Number == tool {
			return strings.Contains(strings.ToLower(t.Title), "left")
		}
	}
	return false
}

// speedKnown says whether the spindle turns, or may turn, at a known speed in
// rpm; constant surface speed is judged cut by cut.
func speedKnown(s *interp.State) bool {
	return s.SpeedSet && s.SpeedMode != profiles.SurfaceSpeed && s.Unknown&interp.UnknownSpeed == 0
}

func turning(s *interp.State) bool {
	return s.Spindle == interp.SpindleCW || s.Spindle == interp.SpindleCCW
}

func speedMissing(p *Pass, op *interp.Op) {
	s := op.State
	if s.SpeedSet && s.Speed > 0 || !turning(s) || s.Unknown&(interp.UnknownSpeed|interp.UnknownSpindle) != 0 {
		return
	}
	if n := p.Note(0, OpPlace(op)); n != nil {
		n.Message = "a cut with the spindle on, and no S word before it"
		n.Advice = "Give S before the spindle is started."
	}
}

// speedRange is the lowest and highest speed of the spindle; ok is false where
// the profile does not tell.
func speedRange(m *profiles.Machine) (low, high float64, ok bool) {
	if s := m.Spindle.Speed; len(s) == 2 {
		return float64(s[0]), float64(s[1]), true
	}
	low, high = math.Inf(1), 0
	for _, g := range m.Spindle.Gears {
		if len(g.Speed) == 2 {
			low = math.Min(low, float64(g.Speed[0]))
			high = math.Max(high, float64(g.Speed[1]))
			ok = true
		}
	}
	return low, high, ok
}

func newSpeedOver(m *profiles.Machine, _ *Options) Checker {
	low, high, ok := speedRange(m)
	if !ok {
		return Checker{}
	}
	return Checker{Ops: Of(interp.Spindle, interp.Feed, interp.Arc), Steady: true, Op: func(p *Pass, op *interp.Op) {
		s := op.State
		if op.Kind != interp.Spindle {
			if surfaced(op) {
				overSurfaced(p, op, high)
			}
			return
		}
		if op.InCycle || !turning(s) || !speedKnown(s) || s.Speed <= high {
			return
		}
		if n := p.Note(math.Float64bits(s.Speed), OpPlace(op)); n != nil {
			n.Message = fmt.Sprintf("S%s; the spindle of %s turns %s to %s rpm", rpm(s.Speed), m.Name, rpm(low), rpm(high))
			n.Advice = fmt.Sprintf("Program S%s or less, and F smaller by the same share.", rpm(high))
		}
	}}
}

// gearChecker looks at each speed of a spindle with gears.
func gearChecker(m *profiles.Machine, do func(*Pass, *interp.Op)) Checker {
	if len(m.Spindle.Gears) == 0 {
		return Checker{}
	}
	return Checker{Ops: Of(interp.Spindle), Op: func(p *Pass, op *interp.Op) {
		if !op.InCycle && turning(op.State) && speedKnown(op.State) {
			do(p, op)
		}
	}}
}

// gearNames are the names of the gears in the set.
func gearNames(m *profiles.Machine, set uint64) string {
	var list []string
	for i := range m.Spindle.Gears {
		if set>>i&1 == 1 {
			g := &m.Spindle.Gears[i]
			name := g.Name
			if g.Code != "" {
				name += " (" + g.Code + ")"
			}
			list = append(list, name)
		}
	}
	return join(list, "or")
}

func speedBetween(p *Pass, op *interp.Op) {
	m, speed := p.Machine, op.State.Speed
	_, high, _ := speedRange(m)
	if m.Spindle.Reaching(speed) != 0 || speed > high {
		return
	}
	n := p.Note(math.Float64bits(speed), OpPlace(op))
	if n == nil {
		return
	}
	n.Message = fmt.Sprintf("S%s: no gear of %s reaches it; they are %s", rpm(speed), m.Name, gearList(m))
	below, above := math.Inf(-1), math.Inf(1)
	for _, g := range m.Spindle.Gears {
		if v := float64(g.Speed[1]); v < speed {
			below = math.Max(below, v)
		}
		if v := float64(g.Speed[0]); v > speed {
			above = math.Min(above, v)
		}
	}
	if math.IsInf(below, -1) {
		n.Advice = fmt.Sprintf("Program S%s or more.", rpm(above))
		return
	}
	n.Advice = fmt.Sprintf("Program S%s or less, or S%s or more, and F by the same share.", rpm(below), rpm(above))
}

// outside follows which gear is in, or can be.
type outside struct {
	m        *profiles.Machine
	waiting  ungeared
	possible uint64 // of belts shifted by hand: the steps that reach every speed since the last stop
	since    int    // line of the first of those speeds
	crossed  uint64 // the last surface speed and gear of which css-crosses-gear has told
}

func newSpeedOutside(m *profiles.Machine, _ *Options) Checker {
	if len(m.Spindle.Gears) == 0 || m.Spindle.Shift == "automatic" {
		return Checker{} // the control shifts to a gear that reaches the speed
	}
	o := &outside{m: m, possible: ^uint64(0)}
	if m.Spindle.Shift == "by-hand" {
		return Checker{State: []any{o}, Op: o.byHand, Ops: Of(interp.Spindle, interp.Stop, interp.Tool)}
	}
	c := o.waiting.checker(m, o.noGear, o.coded)
	c.State = []any{o}
	fixed := c.Op
	c.Op = func(p *Pass, op *interp.Op) {
		fixed(p, op)
		if op.Kind <= interp.Arc && surfaced(op) {
			o.surfaced(p, op)
		}
	}
	return c
}

// ungeared is a spindle that was started before the program engaged a gear. It
// speaks at the first cut: until then the gear may still be engaged.
type ungeared struct {
	waiting bool
	speed   float64
	place   Place
}

// checker calls say at the first cut after each speed that no gear was engaged
// for, and engaged at each speed otherwise.
func (u *ungeared) checker(m *profiles.Machine, say func(*Pass), engaged func(*Pass, *interp.Op)) Checker {
	return Checker{State: []any{u}, Ops: Of(interp.Spindle, interp.Gear, interp.Feed, interp.Arc), Steady: true, Op: func(p *Pass, op *interp.Op) {
		s := op.State
		switch op.Kind {
		case interp.Gear:
			u.waiting = false
		case interp.Spindle:
			if op.InCycle || !turning(s) || !speedKnown(s) || s.Unknown&interp.UnknownGear != 0 {
				return
			}
			if s.Gear >= 0 {
				engaged(p, op)
				return
			}
			u.waiting, u.speed, u.place = true, s.Speed, OpPlace(op)
		default:
			if u.waiting {
				u.waiting = false
				say(p)
			}
		}
	}}
}

func (o *outside) coded(p *Pass, op *interp.Op) {
	m, s := o.m, op.State
	reach := m.Spindle.Reaching(s.Speed)
	if reach == 0 || reach>>s.Gear&1 == 1 {
		return
	}
	g := &m.Spindle.Gears[s.Gear]
	if n := p.Note(math.Float64bits(s.Speed)^uint64(s.Gear), OpPlace(op)); n != nil {
		n.Message = fmt.Sprintf("S%s in gear %s, which turns %s to %s rpm", rpm(s.Speed), g.Name, rpm(float64(g.Speed[0])), rpm(float64(g.Speed[1])))
		n.Advice = fmt.Sprintf("Engage %s before the speed, with the spindle stopped, or program a speed that %s reaches.", gearNames(m, reach), g.Name)
	}
}

// noGear is a speed that some gears reach and some do not, before any was
// engaged.
func (o *outside) noGear(p *Pass) {
	m, speed := o.m, o.waiting.speed
	reach := m.Spindle.Reaching(speed)
	if all := uint64(1)<<len(m.Spindle.Gears) - 1; reach == 0 || reach == all {
		return // another rule speaks
	}
	if n := p.Note(0, o.waiting.place); n != nil {
		n.Level = Warning
		n.Message = fmt.Sprintf("S%s, and the program has not engaged a gear: only %s reaches it; the gear is the one that the last job left", rpm(speed), gearNames(m, reach))
		n.Advice = fmt.Sprintf("Write %s before the speed, with the spindle stopped.", m.Spindle.Gears[first(reach)].Code)
	}
}

// first is the lowest member of a set that has one.
func first(set uint64) int {
	for i := range 64 {
		if set>>i&1 == 1 {
			return i
		}
	}
	return 0
}

func (o *outside) byHand(p *Pass, op *interp.Op) {
	s := op.State
	switch op.Kind {
	case interp.Stop:
		if op.StopKind != interp.OptionalStop {
			o.possible = ^uint64(0)
		}
		return
	case interp.Tool:
		if op.Manual {
			o.possible = ^uint64(0)
		}
		return
	}
	if op.InCycle || !turning(s) || !speedKnown(s) {
		return
	}
	reach := o.m.Spindle.Reaching(s.Speed)
	switch {
	case reach == 0:
		return // speed-between-gears or speed-over-machine speaks
	case o.possible == ^uint64(0):
		o.since = op.Block.Line
	case o.possible&reach == 0:
		if n := p.Note(math.Float64bits(s.Speed)^o.possible, OpPlace(op)); n != nil {
			n.Message = fmt.Sprintf("S%s needs belt step %s, but the speeds since line %d need %s, and no stop lies between for moving the belt",
				rpm(s.Speed), gearNames(o.m, reach), o.since, gearNames(o.m, o.possible))
			n.Advice = "Put a program stop with the spindle off before this speed and tell the operator which step, or choose speeds of one step."
		}
		o.possible, o.since = reach, op.Block.Line
		return
	}
	o.possible &= reach
}

// straddle counts the shifts within one tool's work.
type straddle struct {
	waiting ungeared
	shifts  int
	place   Place
}

func newStraddle(m *profiles.Machine, _ *Options) Checker {
	if len(m.Spindle.Gears) < 2 || m.Spindle.Shift == "by-hand" {
		return Checker{}
	}
	s := &straddle{}
	c := s.waiting.checker(m, s.overlap, func(*Pass, *interp.Op) {})
	c.State = []any{s}
	ungeared := c.Op
	c.Ops |= Of(interp.Tool)
	c.Op = func(p *Pass, op *interp.Op) {
		s.count(p, op)
		ungeared(p, op)
	}
	c.End = s.tool
	return c
}

func (t *straddle) count(p *Pass, op *interp.Op) {
	switch op.Kind {
	case interp.Tool:
		t.tool(p)
	case interp.Gear:
		t.shifts++
		t.place = OpPlace(op)
	}
}

// overlap is a speed that several gears reach, before any was engaged.
func (t *straddle) overlap(p *Pass) {
	m, speed := p.Machine, t.waiting.speed
	reach := m.Spindle.Reaching(speed)
	if reach&(reach-1) == 0 {
		return
	}
	if n := p.Note(0, t.waiting.place); n != nil {
		n.Message = fmt.Sprintf("S%s lies in %s, and the program has not engaged a gear: it runs in whichever the last job left", rpm(speed), gearNames(m, reach))
		n.Advice = "Engage the gear before the speed: the low one for torque, the high one where the next speeds are higher."
	}
}

// tool ends one tool's work. The first shift of a tool is its own; a second is
// back or forth.
func (t *straddle) tool(p *Pass) {
	shifts := t.shifts
	t.shifts = 0
	if shifts < 3 {
		return
	}
	if n := p.Note(1, t.place); n != nil {
		n.Message = fmt.Sprintf("one tool's work shifts gears %d times, %s s each", shifts, trim(float64(p.Machine.Spindle.ShiftTime), 1))
		n.Advice = "Choose the tool's speeds within one gear, or order its cuts by gear; the ranges are " + gearList(p.Machine) + "."
	}
}

func newShiftInCut(m *profiles.Machine, _ *Options) Checker {
	if len(m.Spindle.Gears) == 0 || m.Spindle.Shift == "by-hand" {
		return Checker{}
	}
	return Checker{Op: shiftInCut, Ops: Of(interp.Gear)}
}

func shiftInCut(p *Pass, op *interp.Op) {
	m := p.Machine
	running := turning(op.State)
	if m.Spindle.Shift == "coded" && running && !m.Spindle.Turning {
		if n := p.Note(0, OpPlace(op)); n != nil {
			n.Message = fmt.Sprintf("%s shifts the gear while the spindle turns; %s wants it stopped", wordText(op.Block, op.Word), m.Name)
			n.Advice = fmt.Sprintf("Put %s in a block before the gear code and start the spindle again behind it.", orCode(m, profiles.SpindleStop, "the spindle stop"))
		}
		return
	}
	if p.work.fed {
		if n := p.Note(1, OpPlace(op)); n != nil {
			n.Message = fmt.Sprintf("%s shifts the gear with the tool in the cut", wordText(op.Block, op.Word))
			n.Advice = "Retract the tool before the speed or gear changes."
		}
	}
}

// spindleOff counts stretches: between two operations on spindle, tool or stop
// there is one cause.
type spindleOff struct{ stretch uint64 }

func newSpindleOff(*profiles.Machine, *Options) Checker {
	c := &spindleOff{}
	return Checker{State: []any{c}, Op: c.op, Ops: Of(interp.Feed, interp.Arc, interp.Spindle, interp.Tool, interp.Stop), Steady: true}
}

func (c *spindleOff) op(p *Pass, op *interp.Op) {
	if op.Kind != interp.Feed && op.Kind != interp.Arc {
		c.stretch++
		return
	}
	s := op.State
	if s.Spindle != interp.SpindleOff || s.Unknown&interp.UnknownSpindle != 0 || s.Motion == profiles.Probe {
		return
	}
	if p.stay(); retracts(op) {
		return
	}
	if n := p.Note(c.stretch, OpPlace(op)); n != nil {
		n.Message = "a feed move, and the spindle is off"
		n.Advice = fmt.Sprintf("Start the spindle before it with %s and S; a move that cuts nothing is better a traverse.",
			orCode(p.Machine, profiles.SpindleCW, "its code"))
	}
}

// retracts says whether a move goes straight up along the tool.
func retracts(op *interp.Op) bool {
	return op.Kind == interp.Feed && op.Moves == interp.Z && op.FromKnown&op.ToKnown&interp.Z != 0 && op.To[2] > op.From[2]
}
