package rules

import (
	"fmt"
	"math"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
)

// modes are the rules about what is left in force from earlier in the program.
func modes() []*Rule {
	return []*Rule{
		{
			Name: "units-switched", Family: "modes", Level: Warning,
			Summary: "inch and metric in one program",
			Doc:     `A code for units behind the first moves changes what every number from there on is worth, F too, and on many controls the numbers in the offset tables. It is right where it is meant, as for one metric thread in an inch part; most often two programs were joined, or the code stands too far down and the first moves ran in the units in which the control wakes up. Started again behind the code, the control may be in either.`,
			Uses:    []string{"start.units"},
			Example: Example{"bed-mill", "%\nG0 X2.\nG21\nG0 X50.8\nM30\n%\n", "%\nG21\nG0 X50.8\nG0 X0\nM30\n%\n"},
			New:     newUnitsSwitched,
		},
		{
			Name: "feed-mode-stale", Family: "modes", Level: Warning,
			Summary: "F was meant for another feed mode than the one in force",
			Doc:     `A feed a minute read as a feed a revolution tears the tool out of its holder; a feed a revolution read as one a minute stands still and rubs. It happens where a feed mode is left in force by the tool before, or holds since power-up. Told of are more than 2.5 mm (0.1 in) a revolution, threads apart; less than 0.001 mm a revolution of the turning spindle; and inverse time that was left by an earlier tool, where one F stands for moves of different lengths.`,
			Uses:    []string{"start.feed", "codes"},
			Example: Example{"slant-lathe", "%\nT0101\nM41\nG97 S500 M3\nG0 X2. Z.1\nG94 G1 Z-1. F5.\nG0 X3. Z.1\nG1 Z-1. F.008\nM30\n%\n", "%\nT0101\nM41\nG97 S500 M3\nG0 X2. Z.1\nG94 G1 Z-1. F5.\nG0 X3. Z.1\nG95 G1 Z-1. F.008\nM30\n%\n"},
			New:     newFeedModeStale,
		},
		{
			Name: "retract-mode-stale", Family: "modes", Level: Warning,
			Summary: "from hole to hole at R, because an earlier tool left it so",
			Doc:     `The return to R (G99) stays in force over a tool change. A later tool that comes down from a clearance height and says nothing then goes from hole to hole at R, through clamps and ribs that the height was meant to clear; started again at that tool, the control wakes up in the other mode and does something else than yesterday. Told of where the retract mode was written for an earlier tool, the cycle began higher than R, and the tool goes on to another hole.`,
			Uses:    []string{"codes", "start.retract"},
			Example: Example{"bed-mill",
				"%\nT4 M6\nM41\nS700 M3\nG0 X0 Y0\nG43 H4 Z1.\nG99 G81 X0 Y0 Z-.2 R.1 F4.\nX1.\nG80\nM5\nT5 M6\nM41\nS700 M3\nG0 X0 Y0\nG43 H5 Z1.\nG81 X0 Y0 Z-1. R.1 F4.\nX1.\nG80\nM30\n%\n",
				"%\nT4 M6\nM41\nS700 M3\nG0 X0 Y0\nG43 H4 Z1.\nG99 G81 X0 Y0 Z-.2 R.1 F4.\nX1.\nG80\nM5\nT5 M6\nM41\nS700 M3\nG0 X0 Y0\nG43 H5 Z1.\nG98 G81 X0 Y0 Z-1. R.1 F4.\nX1.\nG80\nM30\n%\n"},
			New: newRetractStale,
		},
		{
			Name: "plane-stale", Family: "modes", Level: Error,
			Summary: "an arc or cycle in the plane that an earlier tool left in force",
			Doc:     `In G18 a canned cycle drills along Y and an arc by R with X and Y words turns into the depth of Z. A plane stays in force over a tool change, so a program that takes G17 for granted behind a tool that worked in another plane goes somewhere else than was drawn. Told of where the plane was written for an earlier tool, it is not that of power-up, and the arc or cycle is written as for the plane of power-up. An arc written so where this tool's own work names the plane is a warning: G18 typed for G17.`,
			Uses:    []string{"start.plane"},
			Example: Example{"bed-mill",
				"%\nT2 M6\nM42\nS2000 M3\nG0 X0 Y0\nG43 H2 Z1.\nG18 G2 X1. Z1. R.5 F10.\nM5\nT3 M6\nM42\nS2000 M3\nG0 X0 Y0\nG43 H3 Z1.\nG2 X1. Y1. R1. F10.\nM30\n%\n",
				"%\nT2 M6\nM42\nS2000 M3\nG0 X0 Y0\nG43 H2 Z1.\nG18 G2 X1. Z1. R.5 F10.\nM5\nT3 M6\nM42\nS2000 M3\nG0 G17 X0 Y0\nG43 H3 Z1.\nG2 X1. Y1. R1. F10.\nM30\n%\n"},
			New: newPlaneStale,
		},
	}
}

// since says where a mode was brought into force: "G99 of line 12".
func (p *Pass) since(m profiles.Meaning, said *interp.Said) string {
	code := orCode(p.Machine, m, m.String())
	if said.Line == 0 {
		return code + ", in force since power-up"
	}
	return fmt.Sprintf("%s of line %d", code, said.Line)
}

func newUnitsSwitched(*profiles.Machine, *Options) Checker {
	last := profiles.Refused // of the moves so far
	line := 0                // of the last of them
	return Checker{State: []any{&last, &line}, Ops: Of(interp.Traverse, interp.Feed, interp.Arc), Op: func(p *Pass, op *interp.Op) {
		s := op.State
		if s.Units == last {
			line = op.Block.Line
			return
		}
		if op.Home || s.Unknown&interp.UnknownUnits != 0 {
			return // to a place of the machine, whatever the units
		}
		before := last
		last = s.Units
		if before == profiles.Refused {
			line = op.Block.Line
			return
		}
		said := &s.UnitsSaid
		if n := p.Note(0, Place{said.Line, said.Offset, said.Pos, said.End}); n != nil {
			n.Message = fmt.Sprintf("from %s here on numbers are in %s; the moves up to line %d were read in %s", orCode(p.Machine, s.Units, s.Units.String()), s.Units, line, before)
			n.Advice = "Say the units once, before the first move. Where both are meant, check every F, length and offset behind the switch."
		}
		line = op.Block.Line
	}}
}

// Bounds of what a feed by the revolution can be, mm: no cut takes more or
// less (common practice; threads apart, whose lead is given in other ways).
const (
	mostPerRev  = 2.5
	leastPerRev = 0.001
)

// feedMode remembers the last cut in inverse time.
type feedMode struct {
	feed, length float64
	changes      int
}

func newFeedModeStale(*profiles.Machine, *Options) Checker {
	f := &feedMode{}
	return Checker{State: []any{f}, Op: f.op, Ops: Of(interp.Feed, interp.Arc), Steady: true}
}

func (f *feedMode) op(p *Pass, op *interp.Op) {
	s := op.State
	if op.Feed <= 0 || op.Synchron || op.Lead > 0 || op.Moves&interp.XYZ == 0 {
		return
	}
	switch s.FeedMode {
	case profiles.FeedPerMinute:
		if op.Feed*60 < leastPerRev*s.Speed && turning(s) && s.Unknown&interp.UnknownSpeed == 0 {
			f.tooThin(p, op)
		}
	case profiles.FeedPerRevolution:
		if s.Feed > mostPerRev {
			f.tooThick(p, op)
		}
	case profiles.FeedInverseTime:
		f.inverse(p, op)
	}
}

func (f *feedMode) tooThin(p *Pass, op *interp.Op) {
	s := op.State
	if n := p.Note(1, OpPlace(op)); n != nil {
		n.Message = fmt.Sprintf("F is %s with %s; at S%s that is %s a revolution: the tool rubs and does not cut",
			p.feed(op.Feed), p.since(s.FeedMode, &s.FeedModeSaid), rpm(s.Speed), p.smaller(op.Feed*60/s.Speed, 2.54e-4))
		n.Advice = "F looks like one a revolution: write it a minute"
		if code := p.Machine.CodeFor(profiles.FeedPerRevolution); code != "" {
			n.Advice += ", or " + code + " before it"
		}
		n.Advice += "."
	}
}

// smaller is a length of which two figures are to be seen; what is less than
// least (mm) is told as less.
func (p *Pass) smaller(mm, least float64) string {
	if mm < least {
		return "less than " + p.smaller(least, least)
	}
	unit := " mm"
	if p.Machine.Display == "inch" {
		mm, unit = mm/25.4, " in"
	}
	decimals := 3
	for limit := 0.01; mm < limit && decimals < 9; limit /= 10 {
		decimals++
	}
	return trim(mm, decimals) + unit
}

func (f *feedMode) tooThick(p *Pass, op *interp.Op) {
	s := op.State
	p.misread(readFast, op, OpPlace(op), sign{s.Feed / mostPerRev, 'F', op.Feed})
	if n := p.Note(2, OpPlace(op)); n != nil {
		if p.overLimit(op) {
			n.Level = Error // it is not cut as written
		}
		n.Message = fmt.Sprintf("F is %s a revolution with %s: no tool takes that", p.length(s.Feed), p.since(s.FeedMode, &s.FeedModeSaid))
		n.Advice = fmt.Sprintf("F looks like one a minute: write %s before it, or F a revolution.", orCode(p.Machine, profiles.FeedPerMinute, "feed a minute"))
	}
}

// inverse looks for one F on moves of different lengths: under inverse time
// each would be made in the same time.
func (f *feedMode) inverse(p *Pass, op *interp.Op) {
	s := op.State
	if !s.FeedModeSaid.Stale(s.Changes) {
		return
	}
	before := *f
	*f = feedMode{s.Feed, op.Length, s.Changes}
	if before.changes != s.Changes || before.feed != s.Feed || math.Abs(before.length-op.Length) < 0.2*op.Length {
		return
	}
	if n := p.Note(3, OpPlace(op)); n != nil {
		n.Message = fmt.Sprintf("one F for moves of %s and %s with %s, which an earlier tool left in force: both take the same time, at %s and %s",
			p.length(before.length), p.length(op.Length), p.since(s.FeedMode, &s.FeedModeSaid), p.feed(before.length*s.Feed), p.feed(op.Feed))
		n.Advice = fmt.Sprintf("Write %s for this tool if F is meant a minute.", orCode(p.Machine, profiles.FeedPerMinute, "feed a minute"))
	}
}

// retractMode follows one row of holes.
type retractMode struct {
	row   bool // the last move was one of a cycle
	level float64
	known bool
}

func newRetractStale(m *profiles.Machine, _ *Options) Checker {
	if m.CodeFor(profiles.RetractR) == "" {
		return Checker{}
	}
	r := &retractMode{}
	return Checker{State: []any{r}, Op: r.op, Ops: Of(interp.Traverse, interp.Feed, interp.Arc), Steady: true}
}

func (r *retractMode) op(p *Pass, op *interp.Op) {
	if !op.InCycle {
		r.row = false
		return
	}
	s := op.State
	if s.Retract != profiles.RetractR || !s.RetractSaid.Stale(s.Changes) || s.Unknown&interp.UnknownRetract != 0 {
		return
	}
	first, second, normal := s.Plane.Axes()
	if !r.row {
		r.row, r.level, r.known = true, op.From[normal], op.FromKnown.Has(normal)
		return
	}
	across := interp.AxisSet(1<<first | 1<<second)
	if op.Kind != interp.Traverse || op.Moves&across == 0 || op.Length == 0 || !r.known || op.From[normal] >= r.level-slack {
		return
	}
	if n := p.Note(uint64(s.Changes), OpPlace(op)); n != nil {
		n.Message = fmt.Sprintf("from hole to hole at %c %s, below the %s where this tool's cycle began: %s is still in force, written for an earlier tool",
			profiles.AxisLetters[normal], p.length(op.From[normal]), p.length(r.level), p.since(s.Retract, &s.RetractSaid))
		n.Advice = fmt.Sprintf("Write %s in the first block of the cycle to go over clamps, or %s if the way at R is clear.",
			orCode(p.Machine, profiles.RetractInitial, "the return to the initial level"), orCode(p.Machine, profiles.RetractR, "the return to R"))
	}
}

func newPlaneStale(m *profiles.Machine, _ *Options) Checker {
	if m.Kind == "lathe" {
		return Checker{}
	}
	home := startPlane(m)
	return Checker{Ops: Of(interp.Traverse, interp.Feed, interp.Arc), Steady: true, Op: func(p *Pass, op *interp.Op) {
		s := op.State
		if s.Plane == home || op.Kind != interp.Arc && !op.InCycle || s.Unknown&interp.UnknownPlane != 0 {
			return
		}
		p.stay()
		if !s.PlaneSaid.Stale(s.Changes) {
			mistaken(p, op, home)
			return
		}
		what := "the cycle"
		if op.Kind == interp.Arc {
			if what = "the arc"; !acrossWritten(op) {
				return
			}
		}
		n := p.Note(uint64(s.Changes), OpPlace(op))
		if n == nil {
			return
		}
		_, _, normal := s.Plane.Axes()
		n.Message = fmt.Sprintf("%s runs in the plane %s: %s is still in force, written for an earlier tool", what, s.Plane, p.since(profiles.PlaneXY+profiles.Meaning(s.Plane), &s.PlaneSaid))
		if op.InCycle {
			n.Message += fmt.Sprintf("; it drills along %c", profiles.AxisLetters[normal])
		}
		n.Advice = fmt.Sprintf("Write %s for this tool, or its plane if this one is meant.", orCode(p.Machine, profiles.PlaneXY+profiles.Meaning(home), "the plane"))
	}}
}

// mistaken is an arc in a plane that this tool's work names, written as for that of
// power-up.
func mistaken(p *Pass, op *interp.Op, home interp.Plane) {
	s := op.State
	if op.Kind != interp.Arc || op.Corner || !asFor(op.Block, home, s.Plane) {
		return
	}
	said := &s.PlaneSaid
	if n := p.Note(math.MaxUint64-1, Place{said.Line, said.Offset, said.Pos, said.End}); n != nil {
		n.Level = Warning
		n.Message = fmt.Sprintf("the arc in line %d is written as for the plane %s and runs in %s: it goes round along %c, and to its end along %c like a thread",
			op.Block.Line, home, s.Plane, profiles.AxisLetters[normalOf(home)], profiles.AxisLetters[normalOf(s.Plane)])
		n.Advice = fmt.Sprintf("Was %s meant?", orCode(p.Machine, profiles.PlaneXY+profiles.Meaning(home), "the other plane"))
	}
}

// asFor says whether the block of an arc in one plane is written as for another: it
// names the axis across its plane, or the centre along that, and nothing along the
// axis across the other.
func asFor(b *parser.Block, other, plane interp.Plane) bool {
	across, alien := normalOf(plane), normalOf(other)
	names, arc := false, false
	for i := range b.Words {
		address := b.Words[i].Address
		arc = arc || address == 'R' || address >= 'I' && address <= 'K'
		switch address {
		case 'X' + byte(alien), 'I' + byte(alien):
			return false
		case 'X' + byte(across), 'I' + byte(across):
			names = true
		}
	}
	return names && arc
}

func normalOf(plane interp.Plane) int {
	_, _, normal := plane.Axes()
	return normal
}

// planeLeft is a word more for faults that a plane left by an earlier tool may
// have brought about, or "".
func (p *Pass) planeLeft(b *parser.Block) string {
	s, home := p.State, startPlane(p.Machine)
	if p.Machine.Kind == "lathe" || s.Plane == home || s.Unknown&interp.UnknownPlane != 0 {
		return ""
	}
	if !s.PlaneSaid.Stale(s.Changes) {
		if !asFor(b, home, s.Plane) {
			return ""
		}
		return fmt.Sprintf(" The plane is %s, by %s, and the arc is written as for %s: was %s meant?", s.Plane, p.since(profiles.PlaneXY+profiles.Meaning(s.Plane), &s.PlaneSaid), home, orCode(p.Machine, profiles.PlaneXY+profiles.Meaning(home), "that"))
	}
	return fmt.Sprintf(" The plane is %s: %s is still in force, written for an earlier tool.", s.Plane, p.since(profiles.PlaneXY+profiles.Meaning(s.Plane), &s.PlaneSaid))
}

// startPlane is the plane of power-up.
func startPlane(m *profiles.Machine) interp.Plane {
	return map[string]interp.Plane{"xy": interp.XY, "zx": interp.ZX, "yz": interp.YZ}[m.Start.Plane]
}

// acrossWritten says whether the block of an arc names the axis across its
// plane and only one of those in it: as is written for another plane.
func acrossWritten(op *interp.Op) bool {
	first, second, normal := op.Plane.Axes()
	var named interp.AxisSet
	for i := range op.Block.Words {
		if a := op.Block.Words[i].Address; a >= 'X' && a <= 'Z' {
			named |= 1 << (a - 'X')
		}
	}
	return named.Has(normal) && !(named.Has(first) && named.Has(second))
}
