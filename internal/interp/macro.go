package interp

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"tapefit/parser"
	"tapefit/profiles"
)

// runChange runs the tool-change program of the profile for the tool change
// code of block b. The tool change code in it is the change itself; if there is
// none, the change is made at its end.
func (in *Interp) runChange(b *parser.Block) {
	in.releaseHeld() // it is not the tool change that made that move
	words, word := in.w, in.w.mAt[toolSlot]
	in.outside = in.visit
	in.visit = standIn(in.outside, b, word)
	in.changing, in.changed = true, false

	base := len(in.frames)
	in.enter(b, frame{text: in.change, begin: place{0, 1}, times: 1, own: in.locals.n > 0})
	if in.locals.n > 0 {
		in.locals.push()
	}
	if number := in.m.Tools.ChangeParameter; number > 0 {
		in.setParam(number, float64(max(0, in.s.NextTool)))
	}
	// Reading from memory has no errors.
	_ = in.goOn(base, 0)

	in.w, in.op.Block = words, b
	if !in.changed && !in.s.Ended {
		in.toolChange(b)
	}
	in.releaseHeld()
	in.visit, in.changing = in.outside, false
}

// standIn is a visitor to which all that a tool-change program does is done by
// the word of block b that runs it.
func standIn(v Visitor, b *parser.Block, word int) Visitor {
	var in Visitor
	if v.Exec != nil {
		in.Exec = func(*parser.Block) { v.Exec(b) }
	}
	if v.Op != nil {
		in.Op = func(op *Op) {
			op.Block, op.Word = b, word
			v.Op(op)
		}
	}
	if v.Fault != nil {
		in.Fault = func(f *Fault) {
			at := &b.Words[word]
			v.Fault(&Fault{
				Kind: ToolChangeFault, Block: b, Word: word, Other: -1, Pos: at.Pos, End: at.End,
				A: float64(f.Block.Line), Cause: told(f),
			})
		}
	}
	return in
}

// told is a fault in a few words, with the text that it is about in quotes.
func told(f *Fault) string {
	const longest = 40
	text := strings.TrimSpace(string(f.Block.Text(f.Pos, f.End)))
	if len(text) > longest {
		text = text[:longest]
	}
	cause := f.Cause
	switch f.Kind {
	case NotAccepted:
		cause = "not accepted by the control"
		if f.Cause != "" {
			cause = f.Cause + " are " + cause
		}
	case Missing:
		cause = "it needs " + string(f.Missing)
	default:
		if cause == "" {
			cause = reasons[f.Kind]
		}
	}
	return fmt.Sprintf("%q: %s", text, cause)
}

// reasons are the kinds of fault that have no cause of their own.
var reasons = [NumFaultKinds]string{
	CycleNotAccepted:  "the cycle is not accepted by the control",
	Conflict:          "it excludes another word of its block",
	NotUsed:           "nothing in its block uses it",
	ArcRadius:         "the radius at its start is not that at its end",
	ArcQuadrant:       "the arc crosses a quadrant",
	SubprogramMissing: "it is not in the tool-change program",
	CallTooDeep:       "the call is too deep",
	Runaway:           "the budget of executed blocks is spent",
	NoMotion:          "no motion mode is in force",
	TooManyM:          "too many M codes in a block",
	ParamVacant:       "nothing has set the parameter",
	ReturnMissing:     "the subprogram runs out without its return",
	JumpMissing:       "it is not in the tool-change program",
}

// CheckProfile reads the tool-change program of a profile. What is no block of
// the language is an error with the place in the profile.
func CheckProfile(m *profiles.Machine) error {
	if m.Tools.ChangeProgram == "" {
		return nil
	}
	const path = "tools.change_program"
	var errs []error
	r := parser.NewReaderAt(strings.NewReader(m.Tools.ChangeProgram), 0, 1)
	for {
		b, err := r.Next()
		if err == io.EOF {
			return errors.Join(errs...)
		}
		if err != nil {
			return fmt.Errorf("%s: %s: %w", m.Origin(path), path, err)
		}
		for _, f := range b.Faults {
			errs = append(errs, fmt.Errorf("%s: %s: line %d of it, column %d: %s", m.Origin(path), path, b.Line, f.Pos+1, f.Cause))
		}
	}
}
