package adapt

import (
	"fmt"
	"strings"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
	"tapefit/rules"
)

// changes follows the tool changes of the program; nil where they stay as they
// are.
func (o *Options) changes() *changing {
	if !o.makes(Find(ToolChange)) {
		return nil
	}
	return newChanging(o.From, o.To)
}

// other takes over an executed block, and says whether what it changes, or what
// is owed of a change before it, is otherwise than the machine wants.
func (c *changing) other(b *parser.Block) bool {
	other := false
	if len(c.owed) > 0 && c.works(b, false) {
		if other = !c.settles(b, false); other {
			c.owed = nil
		} else {
			c.settle()
		}
	}
	if c.hits {
		other = other || len(c.before(&c.at)) > 0 || !c.written(b)
		c.owes()
		if len(c.owed) > 0 && c.works(b, true) {
			if other = other || !c.settles(b, true); !other {
				c.settle()
			}
		}
	}
	c.ends(b, false)
	c.hits = false
	return other
}

// aChange is what the adapter keeps of a tool change.
type aChange struct {
	*changing
	due     []int // blocks in front of the change in this block that are to be written
	writes  bool  // the change is written anew
	coolant bool  // it has been switched off for a change, and is to be on again before the next move
}

// changesTool gets ready for the block: it writes what is still owed of a
// change before it, and says that it has written something.
func (a *adapter) changesTool(b *parser.Block) (wrote bool) {
	c := &a.change
	if c.changing == nil {
		return false
	}
	c.due, c.writes = c.due[:0], false
	settled := false
	if len(c.owed) > 0 && c.works(b, false) {
		if settled = c.settles(b, false); settled {
			c.settle()
		} else {
			a.payOwed()
			wrote = true
		}
	}
	if c.setsPlace(b) {
		a.strayed(b.Line, setsThere)
	}
	a.straying()
	if c.coolant && !settled && a.restoresCoolant(b) {
		wrote = true
	}
	if c.hits && a.state.Tool >= 0 {
		p := &c.at
		p.spindle, p.coolant = a.w.spindle, p.coolant && !c.coolant
		p.z, p.zKnown = a.w.at[2], a.w.known.Has(2)
		c.due = append(c.due, c.before(p)...)
		c.owes()
		c.writes = len(c.due) > 0 || !c.written(b) || len(c.owed) > 0 && c.works(b, true) && !c.settles(b, true)
		if !c.writes && c.settles(b, true) {
			c.settle()
		}
	}
	c.ends(b, a.movesAxes())
	return wrote
}

// movesAxes says whether the block has moved something.
func (a *adapter) movesAxes() bool {
	for i := range a.ops {
		if a.ops[i].Kind <= interp.Arc && !a.ops[i].late {
			return true
		}
	}
	return false
}

// straying tells of moves that rely on where the tool stood before the change.
func (a *adapter) straying() {
	c := &a.change
	for i := range a.ops {
		op := &a.ops[i]
		op.State = a.state
		what := c.strays(&op.Op)
		if what == "" {
			continue
		}
		a.strayed(op.line, what)
	}
}

// strayed tells of what relies on where the tool stood before the change.
func (a *adapter) strayed(line int, what string) {
	a.leave(rules.Error, line, "the program "+what+"; there the tool has gone up, as "+a.to.Name+" changes tools",
		fmt.Sprintf("Write a traverse to X and Y, and then one to Z, behind the change. Or leave changes as they are, with --pass %s=off.", ToolChange))
	a.change.away = 0
}

// restoresCoolant switches the coolant on again before a block for which it is
// on in the source, and says whether it has.
func (a *adapter) restoresCoolant(b *parser.Block) bool {
	if !a.state.Flood && !a.state.Mist {
		a.change.coolant = false // switched off since
		return false
	}
	needs := hasAxes(b)
	for i := range a.ops {
		k := a.ops[i].Kind
		needs = needs || k <= interp.Dwell || k == interp.Auxiliary || k == interp.Stop && a.ops[i].StopKind != interp.End
	}
	for i := range b.Words {
		w := &b.Words[i]
		needs = needs || w.Address == 'M' && w.Expr == nil && meaningM(a.to, w) == profiles.Accepted
	}
	if !needs {
		return false
	}
	a.change.coolant = false
	a.w.slash, a.w.label = false, a.w.label[:0]
	for _, m := range [...]struct {
		on   bool
		code profiles.Meaning
	}{{a.before.Flood && a.state.Flood, profiles.Flood}, {a.before.Mist && a.state.Mist, profiles.Mist}} {
		if m.on {
			a.mcode(m.code)
			a.w.flush()
		}
	}
	return true
}

// payOwed writes what stands behind the last change.
func (a *adapter) payOwed() {
	c := &a.change
	a.did(ToolChange)
	a.w.slash, a.w.label = false, a.w.label[:0]
	for _, i := range c.owed {
		a.changeBlock(&c.blocks[i])
	}
	c.owed = nil
}

// changeTool writes a tool change as the machine wants it.
func (a *adapter) changeTool(b *parser.Block) {
	a.did(ToolChange)
	c, w := &a.change, a.w
	tail := w.tail // the comment goes with the change
	w.tail = nil
	due := c.due
	for i := range c.change + 1 {
		cb := &c.blocks[i]
		if i == c.change {
			w.tail = tail
		}
		if len(due) > 0 && due[0] == i {
			due = due[1:]
		} else if !cb.Tool && !cb.Change {
			continue
		}
		a.wayUp(cb)
		a.changeBlock(cb)
	}
	w.spindle, a.pending = interp.SpindleOff, interp.SpindleUnknown
	if a.to.Tools.Pockets == 0 {
		w.freesBelt(true)
	}
	if len(c.owed) > 0 && c.works(b, true) {
		if c.settles(b, true) {
			c.settle()
		} else {
			a.payOwed()
		}
	}
}

// wayUp gets ready for a move of the change.
func (a *adapter) wayUp(cb *profiles.ChangeBlock) {
	if cb.Move == profiles.Refused {
		return
	}
	a.change.goes(cb)
	if a.before.Comp != profiles.CompOff {
		a.leave(rules.Error, a.line, "the tool is changed with cutter compensation on, and "+a.to.Name+" goes up for it",
			"Write the end of compensation, with the move that leads off, before the change.")
	}
	if cb.Move == profiles.TraverseMove {
		a.ready()
	}
}

// changeBlock writes a block of the machine's sequence.
func (a *adapter) changeBlock(cb *profiles.ChangeBlock) {
	w := a.w
	w.flush()
	for i := range cb.Words {
		switch word := &cb.Words[i]; {
		case word.Address == 'T':
			w.whole('T', float64(a.state.Tool))
		case word.Axis >= 0 && cb.Move == profiles.TraverseMove:
			w.goTo(word.Axis, float64(cb.To[word.Axis]))
		case word.Axis >= 0:
			w.number(word.Address, a.counts(word.Axis, float64(cb.To[word.Axis])))
			w.known &^= 1 << word.Axis
		default:
			w.text([]byte(word.Text))
			a.changeCode(word.Meaning)
		}
	}
	if text := a.asComment(a.changeComment(cb.Comment)); text != "" {
		w.text([]byte(text))
	}
	w.flush()
}

// changeCode takes over what a code of the sequence brings into force.
func (a *adapter) changeCode(m profiles.Meaning) {
	w := a.w
	switch m {
	case profiles.SpindleStop:
		w.spindle = interp.SpindleOff
	case profiles.CoolantOff:
		a.change.coolant = a.change.coolant || a.before.Flood || a.before.Mist
	case profiles.TraverseMove:
		w.motion, w.inCycle = m, false
	case profiles.Absolute, profiles.Incremental:
		w.distance = m
	case profiles.ProgramStop:
		w.freesBelt(false)
	}
}

// changeComment fills in what a comment of the sequence says of the tool.
func (a *adapter) changeComment(text string) string {
	if text == "" {
		return ""
	}
	return strings.NewReplacer("{tool}", fmt.Sprint(a.state.Tool), "{name}", a.toolName(a.state.Tool)).Replace(text)
}

// toolName is what a profile says the tool is, or what the block of the change
// says of it; else its number.
func (a *adapter) toolName(number int) string {
	for _, m := range [...]*profiles.Machine{a.to, a.from} {
		for i := range m.Tools.Loaded {
			if t := &m.Tools.Loaded[i]; t.Number == number && t.Title != "" {
				return strings.ToUpper(t.Title)
			}
		}
	}
	if len(a.block.Comments) > 0 {
		c := &a.block.Comments[0]
		if text := strings.TrimSpace(strings.Trim(string(a.block.Text(c.Pos, c.End)), "();")); text != "" {
			return text
		}
	}
	return fmt.Sprintf("TOOL %d", number)
}

// busy says that the next block must be looked at by itself.
func (c *aChange) busy() bool {
	return c.coolant || c.changing != nil && (len(c.owed) > 0 || c.away != 0)
}
