package rules

import (
	"fmt"
	"strconv"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
)

// tools are the rules about tools and their offsets.
func tools() []*Rule {
	return []*Rule{
		{
			Name: "tool-not-in-changer", Family: "tools", Level: Error,
			Summary: "a tool number that the changer has no pocket for",
			Doc:     `The control stops on a tool number over the pockets of its changer, or turns the carousel to the wrong one.`,
			Uses:    []string{"tools.pockets"},
			Example: Example{"bed-mill", "%\nT22 M6\nM30\n%\n", "%\nT2 M6\nM30\n%\n"},
			New:     newNotInChanger,
		},
		{
			Name: "tool-change-in-comp", Family: "tools", Level: Error,
			Summary: "a tool change while cutter compensation is on",
			Doc:     `The control stops, or carries the old tool's radius into the new tool's path. Compensation is switched off, on a move away from the part, before the tool is changed.`,
			Example: Example{"bed-mill", "%\nT2 M6\nG41 D2\nT3 M6\nG40\nM30\n%\n", "%\nT2 M6\nG41 D2\nG40\nT3 M6\nM30\n%\n"},
			New:     newChangeInComp,
		},
		{
			Name: "length-offset-missing", Family: "tools", Level: Error,
			Summary: "a tool goes to work without its length offset",
			Doc:     `Without its length offset the tip of a tool is not where the program means it: a long tool goes into the part at the first approach. The finding stands at the first move along Z after the tool change, and where the offset was switched off and the tool then goes down. Machines whose profile has no length offset, where each tool is set by hand, are left out.`,
			Uses:    []string{"codes", "tools.pockets"},
			Example: Example{"bed-mill", "%\nT2 M6\nG0 X0 Y0\nG0 Z0.1\nM30\n%\n", "%\nT2 M6\nG0 X0 Y0\nG43 H2 Z0.1\nM30\n%\n"},
			New:     newLengthMissing,
		},
		{
			Name: "length-offset-of-other-tool", Family: "tools", Level: Warning,
			Summary: "a length offset with another number than the tool",
			Doc:     `By custom tool 3 has its length under H3. Another number is right only where a tool has two offsets; most often a block was copied.`,
			Uses:    []string{"codes"},
			Example: Example{"bed-mill", "%\nT2 M6\nG43 H3 Z1.\nM30\n%\n", "%\nT2 M6\nG43 H2 Z1.\nM30\n%\n"},
			New:     newLengthOfOther,
		},
		{
			Name: "tool-change-program-faulty", Family: "tools", Level: Error,
			Summary: "the profile's tool-change program cannot be run",
			Doc:     `A profile may give the blocks that this machine's tool change code runs (tools.change_program). What the control refuses in them, or what has no value when they run, is found at the code in the part program. It is the profile that must be mended, unless the part program leaves something behind that the blocks do not expect.`,
			Uses:    []string{"tools.change_program", "tools.change_parameter"},
			Example: Example{Machine: "bed-mill"},
			New:     faultRule(changeFault, interp.ToolChangeFault),
		},
		{
			Name: "offset-number-shared", Family: "tools", Level: Error,
			Summary: "one number for a length and for a diameter, on a control that has one table for both",
			Doc:     `Where H and D numbers are of one table, an entry holds a length or a diameter, not both. A program from a control with two tables, T5 with H5 and D5, then offsets the path by the length of the tool. By custom D is given the tool's number and a constant: D25 for T5.`,
			Uses:    []string{"tools.shared_offsets"},
			Example: Example{Machine: "bed-mill"}, // no machine of the library has one table
			New:     newSharedOffsets,
		},
	}
}

// mostOffsets are more entries than any table has.
const mostOffsets = 2000

// sharedOffsets remembers which numbers stood behind H and behind D.
type sharedOffsets map[float64]uint8

const (
	usedAsH uint8 = 1 << iota
	usedAsD
)

func newSharedOffsets(m *profiles.Machine, _ *Options) Checker {
	if !m.Tools.Shared {
		return Checker{}
	}
	uses := sharedOffsets{}
	return Checker{State: []any{uses}, Block: uses.block, Words: With("HD")}
}

func (s sharedOffsets) block(p *Pass, b *parser.Block) {
	for i := range b.Words {
		w := &b.Words[i]
		use := usedAsH
		if w.Address == 'D' {
			use = usedAsD
		}
		if w.Address != 'H' && w.Address != 'D' || w.Expr != nil || w.Value == 0 {
			continue
		}
		before := s[w.Value]
		if before == 0 && len(s) >= mostOffsets {
			continue // numbers that no table has
		}
		s[w.Value] = before | use
		if before&^use == 0 {
			continue
		}
		if n := p.Note(uint64(w.Value), WordPlace(b, i)); n != nil {
			n.Message = fmt.Sprintf("%s: entry %s serves as H and as D, and %s has one table for both", wordText(b, i), trim(w.Value, 3), p.Machine.Name)
			n.Advice = "Give the diameter an entry of its own, as in D = tool number + 20, and set it at the control."
		}
	}
}

func newNotInChanger(m *profiles.Machine, _ *Options) Checker {
	if m.Tools.Pockets == 0 {
		return Checker{}
	}
	return Checker{Ops: Of(interp.Tool), Op: func(p *Pass, op *interp.Op) {
		t := op.State.Tool
		if t <= m.Tools.Pockets {
			return
		}
		if n := p.Note(uint64(t), OpPlace(op)); n != nil {
			n.Message = fmt.Sprintf("tool %d; the changer of %s has pockets 1 to %d", t, m.Name, m.Tools.Pockets)
			n.Advice = "Give the tool a number that the changer has, or change it by hand at a program stop."
		}
	}}
}

// newChangeInComp is silent where comp-not-allowed has spoken of the same
// compensation that was left on.
func newChangeInComp(*profiles.Machine, *Options) Checker {
	spoken := false
	return Checker{
		State:  []any{&spoken},
		Faults: []interp.FaultKind{interp.CompForbidden},
		Fault:  func(*Pass, *interp.Fault) { spoken = true },
		Ops:    Of(interp.Tool),
		Op: func(p *Pass, op *interp.Op) {
			s := op.State
			before := spoken
			spoken = false
			if s.Comp == profiles.CompOff || s.Unknown&interp.UnknownComp != 0 || before {
				return
			}
			if n := p.Note(0, OpPlace(op)); n != nil {
				n.Message = fmt.Sprintf("tool change while cutter compensation (%s) is on", orCode(p.Machine, s.Comp, "left or right"))
				n.Advice = fmt.Sprintf("Write %s on the move away from the part, before the tool change.", orCode(p.Machine, profiles.CompOff, "compensation off"))
			}
		},
	}
}

// lengthOffset waits for the first move along Z of each tool.
type lengthOffset struct {
	fresh bool
	had   bool // the tool has had its offset
}

func newLengthMissing(m *profiles.Machine, _ *Options) Checker {
	if m.CodeFor(profiles.LengthOn) == "" {
		return Checker{}
	}
	l := &lengthOffset{}
	return Checker{State: []any{l}, Op: l.op, Ops: Of(interp.Traverse, interp.Feed, interp.Arc, interp.Tool), Steady: true}
}

func (l *lengthOffset) op(p *Pass, op *interp.Op) {
	s := op.State
	if op.Kind == interp.Tool {
		l.fresh, l.had = s.Tool != 0, false
		return
	}
	if !l.fresh {
		l.switchedOff(p, op)
		return
	}
	if op.Home || !op.Moves.Has(2) {
		p.stay()
		return
	}
	l.fresh, l.had = false, s.LengthH > 0
	if s.LengthH != 0 || s.Unknown&interp.UnknownLength != 0 {
		return
	}
	on := p.Machine.CodeFor(profiles.LengthOn)
	if n := p.Note(uint64(s.Tool+1), OpPlace(op)); n != nil {
		n.Message = fmt.Sprintf("tool %s moves along Z without its length offset", toolName(s.Tool))
		n.Advice = fmt.Sprintf("Write %s H%s on the first move along Z after the tool change.", on, toolName(s.Tool))
	}
}

// switchedOff looks for a tool that has lost its offset and goes down.
func (l *lengthOffset) switchedOff(p *Pass, op *interp.Op) {
	s := op.State
	if s.LengthH != 0 {
		l.had = true
		return
	}
	if !l.had || s.Tool <= 0 || s.Unknown&interp.UnknownLength != 0 {
		return
	}
	p.stay()
	if op.Home || !op.Moves.Has(2) || !(op.FromKnown & op.ToKnown).Has(2) || op.To[2] >= op.From[2]-slack {
		return
	}
	l.had = false
	on := p.Machine.CodeFor(profiles.LengthOn)
	if n := p.Note(uint64(s.Tool+1)<<32, axisPlace(op, 2)); n != nil {
		n.Message = fmt.Sprintf("tool %s goes down along Z, and its length offset was switched off: its tip comes lower by its length than is written", toolName(s.Tool))
		n.Advice = fmt.Sprintf("Write %s H%s before it, or go up or home.", on, toolName(s.Tool))
	}
}

func toolName(t int) string {
	if t < 0 {
		return "?"
	}
	return strconv.Itoa(t)
}

func newLengthOfOther(m *profiles.Machine, _ *Options) Checker {
	if m.CodeFor(profiles.LengthOn) == "" {
		return Checker{}
	}
	last := [2]int{}
	return Checker{State: []any{&last}, Ops: Of(interp.Traverse, interp.Feed), Steady: true, Op: func(p *Pass, op *interp.Op) {
		s := op.State
		now := [2]int{s.Tool, s.LengthH}
		if now == last || s.LengthH <= 0 || s.Tool <= 0 || s.Unknown&(interp.UnknownLength|interp.UnknownTool) != 0 {
			return
		}
		if !op.Moves.Has(2) || op.Home {
			p.stay()
			return
		}
		last = now
		if s.LengthH == s.Tool {
			return
		}
		if n := p.Note(uint64(s.Tool)<<32|uint64(s.LengthH), OpPlace(op)); n != nil {
			n.Message = fmt.Sprintf("tool %d works with length offset H%d", s.Tool, s.LengthH)
			n.Advice = fmt.Sprintf("Write H%d if the other was not meant.", s.Tool)
		}
	}}
}

func changeFault(p *Pass, f *interp.Fault) {
	if n := p.Note(textKey(f.Cause), FaultPlace(f)); n != nil {
		n.Message = fmt.Sprintf("line %s of the tool-change program of %s: %s", trim(f.A, 0), p.Machine.Name, f.Cause)
		n.Advice = "Mend tools.change_program in the profile" + origin(p.Machine) + "."
	}
}

// origin is where the profile gives the tool-change program.
func origin(m *profiles.Machine) string {
	if at := m.Origin("tools.change_program"); at != "" {
		return " (" + at + ")"
	}
	return ""
}
