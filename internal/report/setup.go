package report

import (
	"math"
	"slices"

	"tapefit/internal/interp"
	"tapefit/profiles"
	"tapefit/rules"
)

// A setup is what the machine must be made ready with before a program runs and
// while it does: tools, offsets, gears and stops. It is gathered while the
// program is walked and is bounded, however long that is.
type setup struct {
	machine *profiles.Machine
	tools   []*toolSetup // in order of first use
	offsets uint16       // work offsets in which it moves: bit 0 is the first
	stops   []*stopHere  // where a person has to do something, in order
	more    int          // stops beside those
	seen    map[stopKey]*stopHere

	last *stopHere // since which the spindle was not started
	belt int       // step that the belt lies on, where it is moved by hand; -1 not known
}

// A toolSetup is one tool.
type toolSetup struct {
	number  int   // -1: not known
	line    int   // of its first call, 0 without one
	calls   int   // tool changes to it
	lengths []int // numbers of length or turning offsets with which it moves
	radii   []int // numbers of cutter compensation with which it moves
	gears   []gearUse
}

// A gearUse is a gear in which a tool cuts; -1 is one that the program does not
// say.
type gearUse struct {
	gear     int
	speeds   rules.Range // rpm
	surfaces rules.Range // of cuts under constant surface speed, mm/s
}

// A stopHere is a block at which a person has to do something.
type stopHere struct {
	stopKey
	count   int
	tool    int // in the spindle behind it
	turning bool
	belt    int // step that the belt must be moved to; -1: none
	speeds  float64
}

type stopKey struct {
	line int // 0: before the start
	kind stopKind
}

// stopKind is what a person has to do at a stop.
type stopKind uint8

const (
	stopProgram  stopKind = iota // what the program's author had in mind
	stopOptional                 // the same, where the switch is on
	stopPallet
	stopManual // take the tool out of the bore
	stopTool   // change the tool by hand
	stopBelt   // move the belt where the program has no stop for it
)

// Bounds of a setup. Who has more tools or stops in one program reads the report.
const (
	mostSetupTools = 60
	mostSetupStops = 40
	mostNumbers    = 6
)

func newSetup(m *profiles.Machine) *setup {
	return &setup{machine: m, seen: map[stopKey]*stopHere{}, belt: -1}
}

// tool is the tool with the number; nil where there are too many.
func (s *setup) tool(number int) *toolSetup {
	for _, t := range s.tools {
		if t.number == number {
			return t
		}
	}
	if len(s.tools) >= mostSetupTools {
		return nil
	}
	t := &toolSetup{number: number}
	s.tools = append(s.tools, t)
	return t
}

// move takes in the offsets, and of a cut the gear.
func (s *setup) move(op *interp.Op) {
	st := op.State
	if !op.Home && st.Unknown&interp.UnknownOffset == 0 {
		s.offsets |= 1 << st.Offset
	}
	if op.Home || op.Kind == interp.Traverse && st.Tool < 0 {
		return
	}
	t := s.tool(st.Tool)
	if t == nil {
		return
	}
	if st.LengthH > 0 && op.Moves.Has(2) { // across, that of the tool before may still be in force
		t.lengths = with(t.lengths, st.LengthH)
	}
	if st.Comp != profiles.CompOff && st.CompD > 0 {
		t.radii = with(t.radii, st.CompD)
	}
	if speed := math.Abs(turning(st)); op.Kind != interp.Traverse && speed > 0 {
		gear := st.Gear
		if s.machine.Spindle.Shift == "by-hand" {
			gear = s.step(speed)
		}
		t.use(gear, speedsOf(op, turnsOf(op, s.machine)), st.Surface)
	}
}

// with is a short list with the number in it.
func with(list []int, number int) []int {
	if slices.Contains(list, number) || len(list) >= mostNumbers {
		return list
	}
	return append(list, number)
}

// use takes in a cut in a gear, at speeds that are set. Surface is 0 where they are
// not those of constant surface speed.
func (t *toolSetup) use(gear int, speeds rules.Range, surface float64) {
	i := slices.IndexFunc(t.gears, func(g gearUse) bool { return g.gear == gear })
	if i < 0 {
		i = len(t.gears)
		t.gears = append(t.gears, gearUse{gear: gear})
	}
	g := &t.gears[i]
	widen(&g.speeds, speeds.Min)
	widen(&g.speeds, speeds.Max)
	if surface > 0 {
		widen(&g.surfaces, surface)
	}
}

// step is the belt step for a speed: the one that the belt lies on if that
// reaches it, else the slowest that does; -1 if none does.
func (s *setup) step(speed float64) int {
	gears := s.machine.Spindle.Gears
	if s.belt >= 0 && gears[s.belt].Reaches(speed) {
		return s.belt
	}
	return slices.IndexFunc(gears, func(g profiles.SpindleGear) bool { return g.Reaches(speed) })
}

// stood takes in what is no move.
func (s *setup) stood(op *interp.Op) {
	switch op.Kind {
	case interp.Tool:
		if t := s.tool(op.State.Tool); t != nil {
			t.calls++
			if t.line == 0 {
				t.line = op.Block.Line
			}
		}
		if op.Manual {
			s.stop(op.Block.Line, stopTool, op.State)
		}
	case interp.Stop:
		if op.StopKind != interp.End {
			s.stop(op.Block.Line, [...]stopKind{stopProgram, stopOptional, stopPallet, stopManual}[op.StopKind], op.State)
		}
	case interp.Spindle:
		if speed := math.Abs(turning(op.State)); speed > 0 {
			s.started(op, speed)
		}
	}
}

// started tells of a belt that must be moved before the spindle starts: at the
// stop before, where there is one.
func (s *setup) started(op *interp.Op, speed float64) {
	if s.machine.Spindle.Shift == "by-hand" {
		if to := s.step(speed); to >= 0 && to != s.belt {
			at := s.last
			if at == nil {
				line := op.Block.Line
				if s.belt < 0 {
					line = 0
				}
				at = s.stop(line, stopBelt, op.State)
			}
			if at != nil {
				at.belt, at.speeds = to, speed
			}
			s.belt = to
		}
	}
	s.last = nil
}

// stop keeps a stop, and gives it; nil where there are too many.
func (s *setup) stop(line int, kind stopKind, state *interp.State) *stopHere {
	key := stopKey{line, kind}
	at := s.seen[key]
	if at == nil {
		if len(s.stops) >= mostSetupStops {
			s.more++
			return nil
		}
		at = &stopHere{stopKey: key, belt: -1}
		s.seen[key] = at
		s.stops = append(s.stops, at)
	}
	at.count++
	at.tool = state.Tool
	at.turning = at.turning || kind != stopTool && kind != stopBelt && turning(state) != 0
	s.last = at
	return at
}
