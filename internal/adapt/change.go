package adapt

import (
	"slices"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
)

// changing follows how a program changes its tools, and says what of the
// machine's own sequence (tools.change_sequence) is not done where one is
// changed. Blocks in front of the change say what must be so there: what is so
// already is not missing, whatever its order. The writer and the proof each have
// one of their own.
type changing struct {
	to, from *profiles.Machine
	blocks   []profiles.ChangeBlock
	change   int // the block that is the change

	now  progress
	at   progress // when the tool was changed in this block
	hits bool     // it was
	owed []int    // blocks behind the change that have not been done
	away interp.AxisSet
}

// progress is what a program has done before a tool change.
type progress struct {
	place    interp.Point // machine coordinates, of axes that went home
	known    interp.AxisSet
	stops    [2]bool // program and optional, since the last move
	accepted []int   // M codes, by tenths, since the last move

	spindle interp.SpindleState
	coolant bool
	z       float64 // work coordinates
	zKnown  bool
}

// newChanging makes one; nil where the machine has no sequence.
func newChanging(from, to *profiles.Machine) *changing {
	blocks := to.ChangeSequence()
	if len(blocks) == 0 {
		return nil
	}
	c := &changing{to: to, from: from, blocks: blocks}
	for i := range blocks {
		if blocks[i].Change {
			c.change = i
		}
	}
	return c
}

// begins says that a block is about to be executed.
func (c *changing) begins() {
	if c != nil {
		c.hits = false
	}
}

// op takes over an operation of the program.
func (c *changing) op(op *interp.Op) {
	if c == nil {
		return
	}
	switch op.Kind {
	case interp.Traverse, interp.Feed, interp.Arc:
		c.moved(op)
	case interp.Stop:
		if op.StopKind <= interp.OptionalStop {
			c.now.stops[op.StopKind] = true
		}
	case interp.Tool:
		if op.Turret || c.hits {
			return
		}
		s := op.State
		c.hits, c.at = true, c.now
		c.at.accepted = slices.Clone(c.now.accepted)
		c.at.spindle, c.at.coolant = s.Spindle, s.Flood || s.Mist
		c.at.z, c.at.zKnown = s.At[2], s.Known.Has(2)
		c.now.stops, c.now.accepted = [2]bool{}, c.now.accepted[:0]
	}
}

// moved takes over where a move leads. Only home moves lead to a place that is
// the same whatever work zero is.
func (c *changing) moved(op *interp.Op) {
	c.now.stops, c.now.accepted = [2]bool{}, c.now.accepted[:0]
	for i := range profiles.NumAxes {
		if !op.Moves.Has(i) {
			continue
		}
		c.now.known &^= 1 << i
		if !op.Home {
			continue
		}
		at, known := op.ToMachine[i], op.ToMachineKnown.Has(i)
		code := gOf(c.from, op)
		if homeCode(c.from, c.to, code, op.Moves) == profiles.Refused {
			continue // there it goes to a place of the work
		}
		if isHome(code) {
			if home := c.to.HomeOf(i, code); home != nil {
				at, known = float64(*home), true
			}
		}
		if known {
			c.now.place[i] = at
			c.now.known |= 1 << i
		}
	}
}

// gOf is what the G code does on the machine that has caused an operation; Refused:
// it was none.
func gOf(m *profiles.Machine, op *interp.Op) profiles.Meaning {
	if op.Word < 0 || op.Word >= len(op.Block.Words) || op.Block.Words[op.Word].Address != 'G' {
		return profiles.Refused
	}
	return meaningG(m, &op.Block.Words[op.Word])
}

// goes takes over a move of the sequence: from now on the program's places are
// not those where the axes stand, until it names them.
func (c *changing) goes(b *profiles.ChangeBlock) {
	c.away |= interp.AxisSet(b.Axes)
	for i := range 3 {
		if b.Axes>>i&1 == 1 && b.Move != profiles.TraverseMove {
			c.now.place[i] = c.target(b, i)
			c.now.known |= 1 << i
		}
	}
}

func isHome(m profiles.Meaning) bool { return m == profiles.Home || m == profiles.HomeSecond }

// ends takes over the M codes of a block that has been executed: they come
// before its move.
func (c *changing) ends(b *parser.Block, moved bool) {
	if moved {
		return
	}
	for i := range b.Words {
		if w := &b.Words[i]; w.Address == 'M' && w.Expr == nil && meaningM(c.to, w) == profiles.Accepted {
			c.now.accepted = append(c.now.accepted, tenths(w))
		}
	}
}

// missing says whether block i, in front of the change, is not done with what
// stands in p. done are the answers for the blocks before it: a move takes back
// what was done where the tool stood.
func (c *changing) missing(p *progress, i int, moves bool) bool {
	b := &c.blocks[i]
	switch {
	case b.SpindleOff && p.spindle != interp.SpindleOff, b.CoolantOff && p.coolant:
		return true
	case b.Stop != profiles.Refused:
		return moves || !p.stops[b.Stop-profiles.ProgramStop]
	case b.Accepted != 0:
		return moves || !slices.Contains(p.accepted, b.Accepted)
	case b.Move != profiles.Refused:
		return !c.isUp(p, b)
	}
	return false
}

// before are the blocks in front of the change that are not done.
func (c *changing) before(p *progress) []int {
	var all []int
	moves := false
	for i := range c.change {
		b := &c.blocks[i]
		idle := !b.SpindleOff && !b.CoolantOff && !b.Tool && b.Stop == profiles.Refused && b.Accepted == 0 && b.Move == profiles.Refused
		if n := len(all); idle && n > 0 && all[n-1] == i-1 || !b.Tool && c.missing(p, i, moves) {
			all = append(all, i)
			moves = moves || b.Move != profiles.Refused
		}
	}
	return all
}

// isUp says whether the axes stand where a block takes them. Z may be higher; a
// level over work zero is no aim while it is not known where Z stands.
func (c *changing) isUp(p *progress, b *profiles.ChangeBlock) bool {
	const same = 1e-3 // mm
	if b.Move == profiles.TraverseMove {
		return !p.zKnown || p.z >= float64(b.To[2])-same
	}
	for i := range 3 {
		if b.Axes>>i&1 == 0 {
			continue
		}
		to := c.target(b, i)
		if !p.known.Has(i) || p.place[i] < to-same || i != 2 && p.place[i] > to+same {
			return false
		}
	}
	return true
}

// target is where a block takes an axis in machine coordinates.
func (c *changing) target(b *profiles.ChangeBlock, i int) float64 {
	if isHome(b.Move) {
		return float64(*c.to.HomeOf(i, b.Move)) // the profile is checked
	}
	return float64(b.To[i])
}

// written says whether the change itself stands in b as the machine wants it: T
// and the code in one block or in two.
func (c *changing) written(b *parser.Block) bool {
	code := false
	for i := range b.Words {
		if w := &b.Words[i]; w.Address == 'M' && meaningM(c.to, w) == profiles.ToolChange {
			code = true
		}
	}
	return code && (b.Word('T') != nil) == c.blocks[c.change].Tool
}

// after are the blocks behind the change that do something.
func (c *changing) after() []int {
	var all []int
	for i := c.change + 1; i < len(c.blocks); i++ {
		if b := &c.blocks[i]; b.Stop != profiles.Refused || b.Accepted != 0 || b.Comment != "" {
			all = append(all, i)
		}
	}
	return all
}

// settles says whether a block is the next one that is owed: it has that M code
// and nothing else. Of the block of the change, own, that goes for what stands
// beside it.
func (c *changing) settles(b *parser.Block, own bool) bool {
	if len(c.owed) == 0 {
		return false
	}
	owed, found := &c.blocks[c.owed[0]], false
	for i := range b.Words {
		switch w := &b.Words[i]; {
		case w.Address == 'N' || w.Address == 'O', w.Address == 'T' && own:
		case w.Address != 'M' || w.Expr != nil:
			return false
		case meaningM(c.from, w) == profiles.ToolChange && own:
		case owed.Stop != profiles.Refused && meaningM(c.from, w) == owed.Stop, owed.Accepted != 0 && tenths(w) == owed.Accepted:
			found = true
		default:
			return false
		}
	}
	return found
}

// settle drops what was owed, and the comments behind it.
func (c *changing) settle() {
	c.owed = c.owed[1:]
	for len(c.owed) > 0 && c.comment(c.owed[0]) {
		c.owed = c.owed[1:]
	}
}

// comment says whether block i is nothing but a comment.
func (c *changing) comment(i int) bool {
	b := &c.blocks[i]
	return b.Stop == profiles.Refused && b.Accepted == 0
}

// owes says that what stands behind the change is still to come. Comments alone
// are nothing that a program must have.
func (c *changing) owes() {
	c.owed = c.after()
	if !slices.ContainsFunc(c.owed, func(i int) bool { return !c.comment(i) }) {
		c.owed = nil
	}
}

// works says whether a block does something; of the block of the change, own, what
// stands beside it.
func (c *changing) works(b *parser.Block, own bool) bool {
	for i := range b.Words {
		switch w := &b.Words[i]; {
		case w.Address == 'N' || w.Address == 'O':
		case own && (w.Address == 'T' || w.Address == 'M' && meaningM(c.from, w) == profiles.ToolChange):
		default:
			return true
		}
	}
	return false
}

// setsPlace says whether a block sets the position of an axis that stands where
// the change has taken it.
func (c *changing) setsPlace(b *parser.Block) bool {
	if c.away == 0 {
		return false
	}
	sets, axes := false, interp.AxisSet(0)
	for i := range b.Words {
		w := &b.Words[i]
		if w.Address == 'G' && w.Expr == nil && meaningG(c.from, w) == profiles.SetPosition {
			sets = true
		}
		if w.Address >= 'X' && w.Address <= 'Z' {
			axes |= 1 << (w.Address - 'X')
		}
	}
	return sets && axes&c.away != 0
}

// setsThere is what is wrong with such a block.
const setsThere = "sets the position where the tool stood before the tool change"

// strays says what is wrong with a move while axes stand where the change has
// taken them and the program believes them where they were; "": nothing. The move
// then brings back those that it names.
func (c *changing) strays(op *interp.Op) string {
	const xy = interp.X | interp.Y
	if c.away == 0 || op.Kind > interp.Arc {
		return ""
	}
	steps := op.State.Distance == profiles.Incremental && !op.Home
	if steps && op.Length == 0 && isHome(gOf(c.from, op)) {
		return "" // the way home, through where it stands
	}
	switch {
	case op.Kind != interp.Traverse || op.InCycle || op.Steps&c.away != 0 || steps && op.Moves&c.away != 0:
		return "goes on from where it stood before the tool change"
	case op.Moves.Has(2) && c.away&xy&^op.Moves != 0 && !op.Home:
		return "goes down behind the tool change before it names X and Y"
	}
	c.away &^= op.Moves
	return ""
}
