package rules

import (
	"fmt"
	"math"
	"slices"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
)

// offsets are more rules about tools: their offsets, and what is left on.
func offsets() []*Rule {
	const mill = "%\nT2 M6\nM41\nS800 M3\nG0 X0 Y-1.\nG43 H2 Z1.\nG0 Z0\n"
	return []*Rule{
		{
			Name: "comp-offset-of-other-tool", Family: "tools", Level: Warning,
			Summary: "cutter compensation by the diameter of another tool",
			Doc:     `By custom tool 3 has its diameter under D3, or under the number that is ten, twenty or more tens higher. With the number of another tool the path is offset by that tool's radius: the contour comes out too large or too small. Most often a block was copied, or the tool was given another place in the changer. Where the profile says which D a tool has (tools.loaded), that is right.`,
			Uses:    []string{"tools.loaded"},
			Example: Example{"bed-mill",
				mill + "G41 D3 G1 X1. F10.\nG40 X2.\nG0 Z1.\nM30\n%\n",
				mill + "G41 D2 G1 X1. F10.\nG40 X2.\nG0 Z1.\nM30\n%\n"},
			New: newCompOfOther,
		},
		{
			Name: "comp-on-at-end", Family: "tools", Level: Warning,
			Summary: "the program ends while cutter compensation is on",
			Doc:     `The last moves away from the part are made beside the path that the program says, and a control that does not switch compensation off at the end begins the next program with it. Some stop with an alarm at the end code. Compensation is switched off on a move away from the part. Where comp-not-allowed or tool-change-in-comp has told of the same compensation, this is silent.`,
			Uses:    []string{"codes"},
			Example: Example{"bed-mill",
				mill + "G41 D2 G1 X1. F10.\nY1.\nG0 Z1.\nM30\n%\n",
				mill + "G41 D2 G1 X1. F10.\nY1.\nG40 X-1.\nG0 Z1.\nM30\n%\n"},
			New: newCompAtEnd,
		},
		{
			Name: "turret-offset-cancelled", Family: "tools", Level: Error,
			Summary: "a turret tool cuts without its offset",
			Doc:     `T0100 takes the offset of tool 1 away: the work coordinates are then those of the turret's reference and no longer those of the tip, and the tool goes as far beside the part as its offset is long, into the chuck on most lathes. It belongs before the turret is turned, away from the part. What is cut behind it wants T0101.`,
			Uses:    []string{"tools.word"},
			Example: Example{"slant-lathe",
				"G20 T0100\nM41\nS500 M3\nG0 X2. Z.1\nG1 Z-1. F.01\nM30\n",
				"G20 T0101\nM41\nS500 M3\nG0 X2. Z.1\nG1 Z-1. F.01\nM30\n"},
			New: newTurretOffset,
		},
		{
			Name: "turret-offset-of-other-tool", Family: "tools", Level: Warning,
			Summary: "a turret tool cuts with the offset of another tool",
			Doc:     `By custom T0303 is tool 3 with its own offset; a second offset of a tool has a number that no tool has, such as T0313. In T0305 the tip is taken to be where that of tool 5 is: the cut goes wrong by the difference, into the chuck or beside the part. Most often the block was copied. Told of where the profile has a tool of that number (tools.loaded).`,
			Uses:    []string{"tools.word", "tools.loaded"},
			Example: Example{"slant-lathe",
				"G20 T0305\nM41\nS500 M3\nG0 X2. Z.1\nG1 Z-1. F.01\nM30\n",
				"G20 T0303\nM41\nS500 M3\nG0 X2. Z.1\nG1 Z-1. F.01\nM30\n"},
			New: newTurretOther,
		},
		{
			Name: "offset-never-called", Family: "tools", Level: Warning,
			Summary: "cuts before any work offset was called",
			Doc:     `A program that calls G55 for its later cuts and nothing for its first makes those in the work offset of power-up, or in the one that the last program left: in the wrong vice. A program that never calls any is meant for the one of power-up and is not told, unless the profile says that the control has none then (start.offset is empty: it keeps the last).`,
			Uses:    []string{"start.offset", "codes"},
			Example: Example{"bed-mill",
				mill + "G1 X1. F10.\nG0 Z1.\nG55 X0 Y0\nG1 Z0\nX1.\nG0 Z1.\nM30\n%\n",
				mill + "G54 G1 X1. F10.\nG0 Z1.\nG55 X0 Y0\nG1 Z0\nX1.\nG0 Z1.\nM30\n%\n"},
			New: newOffsetNeverCalled,
		},
		{
			Name: "first-move-unsafe", Family: "tools", Level: Warning,
			Summary: "a tool comes to the work across and down in one traverse, below the level to which it retracts later",
			Doc:     `The first approach of a tool comes from the tool change, over clamps and vice jaws. Across and down in one block it passes them on a slope, and on an old control on no straight line at all: each axis runs as fast as it can, and Z, which often has the shortest way, is down first. Where the tool is fed on from there and retracted to a higher level later on, or the approach ends at work zero or below it, the tool belongs above the place first and down then. On lathes X and Z come together as a rule: they are left out.`,
			Example: Example{"bed-mill",
				"%\nT2 M6\nM41\nS800 M3\nG43 H2 G0 X4. Y2. Z.1\nG1 Z-.1 F8.\nG0 Z1.\nM30\n%\n",
				"%\nT2 M6\nM41\nS800 M3\nG0 X4. Y2.\nG43 H2 Z.1\nG1 Z-.1 F8.\nG0 Z1.\nM30\n%\n"},
			New: newFirstMove,
		},
	}
}

func newCompOfOther(m *profiles.Machine, _ *Options) Checker {
	if m.Kind == "lathe" || m.CodeFor(profiles.CompLeft) == "" {
		return Checker{}
	}
	last := [2]int{}
	return Checker{State: []any{&last}, Ops: Of(interp.Traverse, interp.Feed), Steady: true, Op: func(p *Pass, op *interp.Op) {
		s := op.State
		if s.Comp == profiles.CompOff || s.CompD <= 0 || s.Tool <= 0 || last == [2]int{s.Tool, s.CompD} {
			return
		}
		last = [2]int{s.Tool, s.CompD}
		if s.Unknown&(interp.UnknownComp|interp.UnknownTool) != 0 || ownD(m, s.Tool, s.CompD) {
			return
		}
		if n := p.Note(uint64(s.Tool)<<32|uint64(s.CompD), OpPlace(op)); n != nil {
			n.Message = fmt.Sprintf("tool %d works with compensation by D%d", s.Tool, s.CompD)
			if t := m.ToolOfD(s.CompD); t != nil && t.Number != s.Tool && t.Diameter > 0 {
				n.Message += fmt.Sprintf(", %s of tool %d", p.length(float64(t.Diameter)), t.Number)
			}
			n.Advice = fmt.Sprintf("Write D%d if the other was not meant.", ownNumber(m, s.Tool))
		}
	}}
}

// ownD says whether the D number is one that belongs to the tool: that of the
// profile, its own, or its own and tens more.
func ownD(m *profiles.Machine, tool, d int) bool {
	return d == ownNumber(m, tool) || d >= tool && (d-tool)%10 == 0
}

func ownNumber(m *profiles.Machine, tool int) int {
	for i := range m.Tools.Loaded {
		if t := &m.Tools.Loaded[i]; t.Number == tool && t.D != 0 {
			return t.D
		}
	}
	return tool
}

// newCompAtEnd is silent where another finding has told of the same compensation.
func newCompAtEnd(*profiles.Machine, *Options) Checker {
	told := false
	return Checker{
		State:  []any{&told},
		Faults: []interp.FaultKind{interp.CompForbidden},
		Fault:  func(*Pass, *interp.Fault) { told = true },
		Ops:    Of(interp.Tool, interp.Stop),
		Op: func(p *Pass, op *interp.Op) {
			s := op.State
			switch on := s.Comp != profiles.CompOff && s.Unknown&interp.UnknownComp == 0; {
			case op.Kind == interp.Tool:
				told = on // tool-change-in-comp speaks
			case op.StopKind == interp.End && on && !told:
				if n := p.Note(0, OpPlace(op)); n != nil {
					n.Message = fmt.Sprintf("the program ends while cutter compensation (%s) is on", orCode(p.Machine, s.Comp, "left or right"))
					n.Advice = fmt.Sprintf("Write %s on the move away from the part.", orCode(p.Machine, profiles.CompOff, "compensation off"))
				}
			}
		},
	}
}

func newTurretOffset(m *profiles.Machine, _ *Options) Checker {
	if m.Tools.Word != "tool-offset" {
		return Checker{}
	}
	return Checker{Ops: Of(interp.Feed, interp.Arc), Steady: true, Op: func(p *Pass, op *interp.Op) {
		s := op.State
		if s.LengthH != 0 || s.Tool <= 0 || s.Unknown&(interp.UnknownLength|interp.UnknownTool) != 0 {
			return
		}
		if n := p.Note(uint64(s.Tool), OpPlace(op)); n != nil {
			n.Message = fmt.Sprintf("tool %d cuts without an offset: the last T word has taken it away", s.Tool)
			n.Advice = fmt.Sprintf("Write T%02d%02d before the approach.", s.Tool, s.Tool)
		}
	}}
}

func newTurretOther(m *profiles.Machine, _ *Options) Checker {
	if m.Tools.Word != "tool-offset" || len(m.Tools.Loaded) == 0 {
		return Checker{}
	}
	return Checker{Ops: Of(interp.Feed, interp.Arc), Steady: true, Op: func(p *Pass, op *interp.Op) {
		s := op.State
		if s.LengthH <= 0 || s.Tool <= 0 || s.LengthH == s.Tool || s.Unknown&(interp.UnknownLength|interp.UnknownTool) != 0 {
			return
		}
		if !slices.ContainsFunc(m.Tools.Loaded, func(t profiles.Tool) bool { return t.Number == s.LengthH }) {
			return
		}
		if n := p.Note(uint64(s.Tool)<<32|uint64(s.LengthH), OpPlace(op)); n != nil {
			n.Message = fmt.Sprintf("tool %d cuts with offset %d, which is that of tool %d", s.Tool, s.LengthH, s.LengthH)
			n.Advice = fmt.Sprintf("Write T%02d%02d before the approach; a second offset of a tool wants a number that no tool has.", s.Tool, s.Tool)
		}
	}}
}

// neverCalled waits for the first work offset that the text calls.
type neverCalled struct {
	called    bool // before the block that is read
	start     int  // the work offset of power-up, 0 to 8
	first     Place
	later     string // called behind the first cut
	spareText bool   // the text calls that of power-up too: all is said
}

func newOffsetNeverCalled(m *profiles.Machine, _ *Options) Checker {
	if m.CodeFor(profiles.WorkOffset1) == "" {
		return Checker{}
	}
	c := &neverCalled{}
	for n := range 9 {
		if m.Start.Offset == m.CodeFor(profiles.WorkOffset1+profiles.Meaning(n)) {
			c.start = n
		}
	}
	return Checker{State: []any{c}, Block: c.block, Words: With("G"), Op: c.op, Ops: Of(interp.Feed, interp.Arc), Steady: true, End: c.end}
}

func (c *neverCalled) block(p *Pass, b *parser.Block) {
	if c.called {
		return
	}
	for i := range b.Words {
		w := &b.Words[i]
		if w.Address != 'G' {
			continue
		}
		m := p.Machine.G(int(math.Round(w.Value * 10)))
		switch {
		case m < profiles.WorkOffset1 || m > profiles.WorkOffset9:
		case c.first.Line == 0:
			c.called = true
		case int(m-profiles.WorkOffset1) == c.start:
			c.spareText = true
		case c.later == "":
			c.later = wordText(b, i)
		}
	}
}

func (c *neverCalled) op(_ *Pass, op *interp.Op) {
	if c.called || c.first.Line != 0 || op.State.Motion == profiles.Probe {
		return
	}
	if c.called = op.State.Offset != c.start; !c.called {
		c.first = OpPlace(op)
	}
}

func (c *neverCalled) end(p *Pass) {
	m := p.Machine
	if c.first.Line == 0 || c.spareText || c.later == "" && m.Start.Offset != "" {
		return
	}
	n := p.Note(0, c.first)
	if n == nil {
		return
	}
	if c.later != "" {
		n.Message = fmt.Sprintf("cuts begin here before any work offset is called; %s comes later", c.later)
	} else {
		n.Message = fmt.Sprintf("the program cuts and calls no work offset; %s keeps that of the last program", m.Name)
	}
	n.Advice = fmt.Sprintf("Call the work offset that is meant, such as %s, before the first approach.", m.CodeFor(profiles.WorkOffset1))
}

// firstMove watches how each tool comes to the work.
type firstMove struct {
	fresh  bool // the tool has not moved along Z since its change
	steep  bool // it came across and down
	feeds  bool // from there it was fed
	next   bool // the move behind the approach is still to come
	at     Place
	tool   int
	to     float64 // Z where it came to
	offset int
	level  float64 // highest Z to which it was retracted
	out    bool    // it was
}

func newFirstMove(m *profiles.Machine, _ *Options) Checker {
	if m.Kind == "lathe" {
		return Checker{}
	}
	f := &firstMove{}
	return Checker{State: []any{f}, Op: f.op, Ops: Of(interp.Traverse, interp.Feed, interp.Arc, interp.Tool), Steady: true, End: f.close}
}

func (f *firstMove) op(p *Pass, op *interp.Op) {
	const z = 2
	switch {
	case op.Kind == interp.Tool:
		f.close(p)
		*f = firstMove{fresh: true}
	case !f.fresh && !f.steep:
		return
	case op.Kind != interp.Traverse:
		p.stay()
		f.feeds = f.feeds || f.next
		f.fresh, f.next = false, false
	case !op.Moves.Has(z) || op.Home:
		p.stay()
		f.next = false
	case f.fresh:
		p.stay()
		f.fresh = false
		if f.steep = !op.InCycle && op.ToKnown.Has(z) && falls(op) && goesAcross(op); f.steep {
			f.next = true
			f.at, f.tool, f.to, f.offset = OpPlace(op), op.State.Tool, op.To[z], op.State.Offset
		}
	default:
		p.stay()
		f.next = false
		if op.State.Offset == f.offset && op.ToKnown.Has(z) && rises(op) && (!f.out || op.To[z] > f.level) {
			f.level, f.out = op.To[z], true
		}
	}
}

// falls says whether a traverse goes down along Z, or may.
func falls(op *interp.Op) bool {
	return !op.FromKnown.Has(2) || op.To[2] < op.From[2]-slack
}

// goesAcross says whether a traverse goes along X or Y, more than by a hair, or
// may.
func goesAcross(op *interp.Op) bool {
	const least = 1 // mm
	for i := range 2 {
		if op.Moves.Has(i) && (!(op.FromKnown & op.ToKnown).Has(i) || math.Abs(op.To[i]-op.From[i]) > least) {
			return true
		}
	}
	return false
}

// close ends a tool's work.
func (f *firstMove) close(p *Pass) {
	below := f.feeds && f.out && f.level > f.to+slack
	if !f.steep || !below && f.to > 0 {
		return
	}
	n := p.Note(uint64(f.tool+1), f.at)
	if n == nil {
		return
	}
	n.Message = fmt.Sprintf("the first approach goes across and down to Z %s in one traverse", p.length(f.to))
	n.Advice = "Go above the place first and down in a block of its own."
	if below {
		n.Message += fmt.Sprintf("; later the tool is retracted to %s", p.length(f.level))
		n.Advice = fmt.Sprintf("Go above the place at Z %s first and down in a block of its own.", p.length(f.level))
	}
}
