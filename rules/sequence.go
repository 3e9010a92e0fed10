package rules

import (
	"fmt"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
)

// sequence are the rules about the order in which a program runs.
func sequence() []*Rule {
	return []*Rule{
		{
			Name: "program-end-missing", Family: "sequence", Level: Warning,
			Summary: "the program runs out without its end code",
			Doc:     `Without M2 or M30 the control stops at the end of the tape with the spindle and the coolant as they are, or with an alarm; some wait for ever for the next block.`,
			Uses:    []string{"codes"},
			Example: Example{"rs274ngc", "G0 X1\n", "G0 X1\nM2\n"},
			New:     newProgramEnd,
		},
		{
			Name: "unreachable-blocks", Family: "sequence", Level: Warning,
			Summary: "blocks behind the end of the program",
			Doc:     `What stands behind M2 or M30 is not executed, unless it begins with a program number and is called. Most often an end code was left in the middle when two programs were joined: the rest of the job is silently not made, and not checked here.`,
			Uses:    []string{"codes"},
			Example: Example{"bed-mill", "%\nG0 X1.\nM30\nG0 X2.\nM30\n%\n", "%\nG0 X1.\nG0 X2.\nM30\n%\n"},
			New:     newUnreachable,
		},
		{
			Name: "percent-marks-missing", Family: "sequence", Level: Error,
			Summary: "a program without the % marks that this control needs",
			Doc:     `A control of the tape era rewinds to the % mark and begins to read behind it; without the mark it winds the tape off, or takes the leader for the program.`,
			Uses:    []string{"block.percent_marks"},
			Example: Example{"knee-mill", "G90\nM30\n", "%\nG90\nM30\n%\n"},
			New:     newPercent,
		},
		{
			Name: "sequence-number-out-of-range", Family: "sequence", Level: Error,
			Summary: "a sequence number with more digits than the control reads",
			Doc:     `A sequence number beyond the control's range is refused or loses its first digits. Long CAM programs run into it when each block is numbered by tens.`,
			Uses:    []string{"block.sequence"},
			Example: Example{"knee-mill", "%\nN9990 G90\nN10000 M30\n%\n", "%\nN9980 G90\nN9990 M30\n%\n"},
			New:     newSequenceRange,
		},
		{
			Name: "program-number-out-of-range", Family: "sequence", Level: Error,
			Summary: "a program number that the control has no place for",
			Doc:     `A control files programs under their number, O1234 or, on tape, :1234. A number beyond its range is refused when the program is read in, or loses its first digits and overwrites another program.`,
			Uses:    []string{"block.program_number"},
			Example: Example{"knee-mill", "%\n:12345\nG90\nM30\n%\n", "%\n:1234\nG90\nM30\n%\n"},
			New:     newProgramRange,
		},
		{
			Name: "subprogram-missing", Family: "sequence", Level: Error,
			Summary: "a call of a subprogram that is not in the file",
			Doc:     `The control looks for the program number of the call in its memory. tapefit looks in the file: what it does not find there it cannot check, and positions and modes are unknown behind the call.`,
			Uses:    []string{"block.subprograms"},
			Example: Example{"bed-mill", "%\nO1\nM98 P20\nM30\n%\n", "%\nO1\nM98 P20\nM30\nO20\nG0 X1.\nM99\n%\n"},
			New:     faultRule(subprogramMissing, interp.SubprogramMissing),
		},
		{
			Name: "return-missing", Family: "sequence", Level: Error,
			Summary: "a subprogram that is called and runs out without its return",
			Doc:     `A subprogram goes back to where it was called by M99. Without it the control runs on into what stands behind: the next subprogram, with the tool where this one has left it, or the end of the file, where it stops with the spindle turning. The finding stands at the program number of a subprogram that was called and came to its end; what is judged behind the call is as if the return were there.`,
			Uses:    []string{"block.subprograms"},
			Example: Example{"bed-mill", "%\nO1\nM98 P20\nM30\nO20\nG0 X1.\n%\n", "%\nO1\nM98 P20\nM30\nO20\nG0 X1.\nM99\n%\n"},
			New:     faultRule(returnMissing, interp.ReturnMissing),
		},
		{
			Name: "calls-too-deep", Family: "sequence", Level: Error,
			Summary: "subprograms call each other deeper than the control allows",
			Doc:     `A control keeps the way back from a subprogram in a few places. A call beyond them stops with an alarm. A subprogram that calls itself ends here too.`,
			Uses:    []string{"block.subprograms"},
			Example: Example{"bed-mill", "%\nO1\nM98 P20\nM30\nO20\nM98 P20\nM99\n%\n", "%\nO1\nM98 P20\nM30\nO20\nG0 X1.\nM99\n%\n"},
			New:     faultRule(callTooDeep, interp.CallTooDeep),
		},
		{
			Name: "jump-target-missing", Family: "sequence", Level: Error,
			Summary: "GOTO a sequence number that is not in the program",
			Doc:     `The control looks for the sequence number from the jump to the end of the program and then from its beginning, within the same program number. Where it finds none it stops with an alarm. Blocks that were numbered anew, or whose numbers were taken out to save memory, leave such jumps behind.`,
			Uses:    []string{"block.flow"},
			Example: Example{"parametric", "IF [#1 EQ 0] GOTO 90\nG0 X1\nN100 M30\n", "IF [#1 EQ 0] GOTO 90\nG0 X1\nN90 M30\n"},
			New:     faultRule(jumpMissing, interp.JumpMissing),
		},
		{
			Name: "loop-unmatched", Family: "sequence", Level: Error,
			Summary: "DO without its END, END without its DO, or loops that cross",
			Doc:     `Each DO is closed by the END of the same number, in the same program and within the loop around it. What is open, closed twice or crossed stops the control at the block, or sends it to another loop of the same number. A jump into a loop from outside meets its END without having met its DO.`,
			Uses:    []string{"block.flow"},
			Example: Example{"parametric", "WHILE [#1 LT 3] DO 1\n#1=[#1+1]\nEND 2\nM30\n", "WHILE [#1 LT 3] DO 1\n#1=[#1+1]\nEND 1\nM30\n"},
			New:     faultRule(loopUnmatched, interp.LoopUnmatched),
		},
		{
			Name: "loop-runaway", Family: "sequence", Level: Error,
			Summary: "the program executes more blocks than any part needs",
			Doc:     `Repeats within repeats can make a short program run for days, a loop whose condition always holds for ever. The finding stands at what was repeated most. tapefit stops after a budget of executed blocks (--max-blocks) and judges what ran until then.`,
			Example: Example{"bed-mill", "%\nO1\nM98 P20 L99999\nM30\nO20\nM98 P30 L99999\nM99\nO30\nG0 X1.\nM99\n%\n", "%\nO1\nM98 P20 L3\nM30\nO20\nG0 X1.\nM99\n%\n"},
			New:     faultRule(runaway, interp.Runaway),
		},
	}
}

// programEnd remembers the last block that held anything.
type programEnd struct {
	again   Place // where the main program returns instead of ending
	last    Place
	any     bool
	program Place  // of the last program number behind other blocks
	number  string // that
}

func newProgramEnd(*profiles.Machine, *Options) Checker {
	e := &programEnd{}
	return Checker{State: []any{e}, Block: e.block, End: e.end, Ops: Of(interp.Stop), Op: func(p *Pass, op *interp.Op) {
		if op.StopKind == interp.End && op.Word >= 0 {
			word := &op.Block.Words[op.Word]
			if word.Expr == nil && p.Machine.M(int(word.Value*10)) == profiles.ReturnFromSubprogram {
				e.again = OpPlace(op)
			}
		}
	}}
}

func (e *programEnd) block(p *Pass, b *parser.Block) {
	if e.any && e.again == (Place{}) && b.Word('O') != nil {
		e.program, e.number = BlockPlace(b), wordText(b, wordAt(b, 'O'))
	}
	if !p.State.Ended && b.Kind == parser.Ordinary && len(b.Words) > 0 {
		e.last, e.any = Place{b.Line, b.Offset, b.Words[0].Pos, b.Words[len(b.Words)-1].End}, true
	}
}

// wordAt is the index of the first word with the address, or -1.
func wordAt(b *parser.Block, address byte) int {
	for i := range b.Words {
		if b.Words[i].Address == address {
			return i
		}
	}
	return -1
}

func (e *programEnd) end(p *Pass) {
	if e.again != (Place{}) && e.number != "" {
		if n := p.Note(2, e.program); n != nil {
			n.Level = Error
			n.Message = fmt.Sprintf("the main program runs on into program %s: no end code stands before it", e.number)
			n.Advice = fmt.Sprintf("Write %s before it.", orCode(p.Machine, profiles.ProgramEndRewind, "the end code"))
		}
	} else if e.again != (Place{}) {
		if n := p.Note(1, e.again); n != nil {
			n.Level = Note
			n.Message = "the main program ends by the return of a subprogram: most controls begin it again, without end"
			n.Advice = fmt.Sprintf("Meant for work from the bar, leave it; else end with %s.", orCode(p.Machine, profiles.ProgramEndRewind, "the end code"))
		}
	}
	if p.State.Ended {
		return
	}
	if !e.any {
		if n := p.Note(0, Place{Line: 1}); n != nil {
			n.Message = "there is no block to execute in this file"
			n.Advice = "Check that the whole program was saved or sent."
		}
		return
	}
	if n := p.Note(0, e.last); n != nil {
		n.Message = "the program ends here without an end code"
		n.Advice = fmt.Sprintf("End it with %s.", orCode(p.Machine, profiles.ProgramEndRewind, orCode(p.Machine, profiles.ProgramEnd, "M30")))
	}
}

func newUnreachable(*profiles.Machine, *Options) Checker {
	over := false // a program number came: what follows may be called
	var note *Finding
	ended := false // before this block, by an end code
	return Checker{
		State: []any{&over, &note, &ended},
		Ops:   Of(interp.Stop),
		Op: func(_ *Pass, op *interp.Op) {
			ended = ended || op.StopKind == interp.End
		},
		Block: func(p *Pass, b *parser.Block) {
			if !ended || over || b.Kind != parser.Ordinary {
				return
			}
			if over = b.Word('O') != nil; over || len(b.Words) == 0 {
				return
			}
			if n := p.Note(0, BlockPlace(b)); n != nil {
				note = n
			}
		},
		End: func(p *Pass) {
			if note != nil {
				note.Message = fmt.Sprintf("%s behind the end of the program: never executed, and not checked here", count(note.Count, "block"))
				note.Advice = "If they belong to the job, take the end code before them out; else take them out."
			}
		},
	}
}

func newPercent(m *profiles.Machine, _ *Options) Checker {
	if m.Block.PercentMarks != "needed" {
		return Checker{}
	}
	marks := 0
	last := Place{Line: 1}
	return Checker{
		State: []any{&marks, &last},
		Block: func(_ *Pass, b *parser.Block) {
			if b.Kind == parser.Percent {
				marks++
			} else if b.Kind == parser.Ordinary && len(b.Words) > 0 {
				last = BlockPlace(b)
			}
		},
		End: func(p *Pass) {
			if marks >= 2 {
				return
			}
			if marks == 0 {
				last = Place{Line: 1}
			}
			if n := p.Note(0, last); n != nil {
				n.Message = fmt.Sprintf("the program has %s; %s wants %% alone in a block before it and behind it", []string{"no % mark", "only one % mark"}[marks], m.Name)
				n.Advice = "Have the post write % before the first block and behind the last."
			}
		},
	}
}

func newSequenceRange(m *profiles.Machine, _ *Options) Checker {
	return numbersWithin('N', m.Block.Sequence, "Number fewer blocks, or none, or begin again from the start at each tool.")
}

func newProgramRange(m *profiles.Machine, _ *Options) Checker {
	return numbersWithin('O', m.Block.ProgramNumber, "Give the program a number in this range, and its calls too.")
}

// numbersWithin checks the words of an address against a lowest and a highest.
func numbersWithin(address byte, ends []int, advice string) Checker {
	if len(ends) != 2 {
		return Checker{}
	}
	low, high := float64(ends[0]), float64(ends[1])
	return Checker{Words: With(string(address)), Block: func(p *Pass, b *parser.Block) {
		if address == 'O' && len(b.Faults) > 0 {
			return // a letter O for a zero, it may be
		}
		for i := range b.Words {
			w := &b.Words[i]
			if w.Address != address {
				continue
			}
			if w.Expr != nil || w.Value >= low && w.Value <= high {
				return // a block has one
			}
			if n := p.Note(0, WordPlace(b, i)); n != nil {
				n.Message = fmt.Sprintf("%s; %s takes %c%s to %c%s", wordText(b, i), p.Machine.Name, address, trim(low, 0), address, trim(high, 0))
				n.Advice = advice
			}
			return
		}
	}}
}

func subprogramMissing(p *Pass, f *interp.Fault) {
	n := p.Note(uint64(f.A), FaultPlace(f))
	if n == nil {
		return
	}
	n.Message = fmt.Sprintf("program O%s is not in this file", trim(f.A, 0))
	n.Advice = "Put it into the file, or check the number; what the call does is not judged here."
}

func returnMissing(p *Pass, f *interp.Fault) {
	n := p.Note(uint64(f.Block.Offset), FaultPlace(f))
	if n == nil {
		return
	}
	name, code := wordText(f.Block, f.Word), orCode(p.Machine, profiles.ReturnFromSubprogram, "the return")
	n.Message = fmt.Sprintf("subprogram %s ends without %s: the control runs on into what stands behind it", name, code)
	n.Advice = fmt.Sprintf("Write %s at its end; what follows the call is judged as if it stood there.", code)
}

func callTooDeep(p *Pass, f *interp.Fault) {
	n := p.Note(0, FaultPlace(f))
	if n == nil {
		return
	}
	n.Message = fmt.Sprintf("this call is deeper than the %s level%s that %s keeps", trim(f.A, 0), plural(int(f.A)), p.Machine.Name)
	n.Advice = "Call from the main program instead, or write the blocks out; the call is not made here."
}

func jumpMissing(p *Pass, f *interp.Fault) {
	if n := p.Note(uint64(f.A), FaultPlace(f)); n != nil {
		n.Message = fmt.Sprintf("no block of this program has N%s", trim(f.A, 0))
		n.Advice = "Number the block that is meant, or mend the jump; here the blocks behind it are read, with all that was in force unknown."
	}
}

func loopUnmatched(p *Pass, f *interp.Fault) {
	// A loop closed by a wrong number is both open and never begun.
	if n := p.Note(0, FaultPlace(f)); n != nil {
		n.Message = fmt.Sprintf("%s: %s", printable(f.Block.Text(f.Pos, f.End)), f.Cause)
		n.Advice = "Give each DO one END of its number behind it, loops one in the other; here the loop is not run, and all that was in force is unknown."
	}
}

func runaway(p *Pass, f *interp.Fault) {
	n := p.Note(0, FaultPlace(f))
	switch {
	case n == nil:
	case f.Block.Flow != nil:
		n.Message = "this goes round without end: the budget of executed blocks is spent in it"
		n.Advice = "Check the condition and what counts it up; if the program is right, give more with --max-blocks."
	default:
		n.Message = "the budget of executed blocks is spent here"
		n.Advice = "Check the repeats that lead here; if the program is right, give more with --max-blocks."
	}
}
