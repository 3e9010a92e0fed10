package adapt

import (
	"strings"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
	"tapefit/rules"
)

// ownChange is what tool-change programs (tools.change_program) mean for what comes
// behind a tool change, where the two machines do not have the same: one of them
// leaves the tool elsewhere, and may have switched the coolant off.
type ownChange struct {
	changing                // for where the tool is away to
	axes     interp.AxisSet // that one of the programs moves
	dry      bool           // the machine's own switches the coolant off
}

// newOwnChange makes one; nil where tools are changed alike.
func newOwnChange(from, to *profiles.Machine) *ownChange {
	if from.Tools.ChangeProgram == to.Tools.ChangeProgram {
		return nil
	}
	o := &ownChange{changing: changing{from: from, to: to}}
	axes, dry := tryChange(to)
	o.axes, o.dry = axes, dry
	axes, _ = tryChange(from)
	o.axes |= axes
	return o
}

// tryChange changes a tool with the coolant on, and gives the axes that move and
// whether the coolant is off then.
func tryChange(m *profiles.Machine) (axes interp.AxisSet, dry bool) {
	on, change := m.CodeFor(profiles.Flood), m.CodeFor(profiles.ToolChange)
	if m.Tools.ChangeProgram == "" || change == "" {
		return 0, false
	}
	program := on + "\nT1\n" + change + "\n"
	in := interp.New(m, interp.Options{MaxBlocks: mostTried}, interp.Visitor{Op: func(op *interp.Op) {
		if op.Kind <= interp.Arc {
			axes |= op.Moves
		}
	}})
	// Reading from memory has no errors.
	_, _ = in.Run(strings.NewReader(program), int64(len(program)))
	return axes, on != "" && !in.State().Flood
}

// mostTried bounds the blocks of a tool-change program that is tried.
const mostTried = 10000

// op takes over an operation of block b, and gives what is wrong with it; "":
// nothing.
func (o *ownChange) op(op *interp.Op, b *parser.Block) string {
	switch {
	case o == nil:
	case op.Kind == interp.Tool && !op.Turret:
		o.away = o.axes
	case op.Block.Offset == b.Offset && op.Word >= 0 && o.isChange(&b.Words[op.Word]):
	default:
		return o.strays(op)
	}
	return ""
}

// isChange says whether a word changes the tool: then what is done is the
// machine's own affair.
func (o *ownChange) isChange(w *parser.Word) bool {
	return w.Address == 'M' && meaningM(o.from, w) == profiles.ToolChange
}

// followsOwn looks at the block for what the tool-change programs leave it to do,
// and says that it has written something: coolant that is on again.
func (a *adapter) followsOwn(b *parser.Block) (wrote bool) {
	o, c := a.own, &a.change
	if o == nil {
		return false
	}
	if c.changing == nil && c.coolant && a.restoresCoolant(b) {
		a.did(ToolChange)
		wrote = true
	}
	if o.setsPlace(b) {
		a.movedOff(b.Line, setsThere)
	}
	for i := range a.ops {
		op := &a.ops[i]
		op.State = a.state
		if what := o.op(&op.Op, b); what != "" {
			a.movedOff(op.line, what)
		}
		if op.Kind == interp.Tool && o.dry && a.opt.makes(Find(ToolChange)) {
			c.coolant = c.coolant || a.state.Flood || a.state.Mist
		}
	}
	return wrote
}

// movedOff tells of what relies on where the tool stood before a change that one
// of the machines makes by a program of its own.
func (a *adapter) movedOff(line int, what string) {
	a.own.away = 0
	name := a.to.Name
	if a.to.Tools.ChangeProgram == "" {
		name = a.from.Name
	}
	a.leave(rules.Error, line, "the program "+what+", and the tool-change program of "+name+" has moved it (tools.change_program)",
		"Write a traverse to X and Y, and then one to Z, behind the change.")
}

// busy says that the next block must be looked at by itself.
func (o *ownChange) busy() bool { return o != nil && o.away != 0 }
