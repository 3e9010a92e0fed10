package rules

import (
	"fmt"
	"strings"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
)

// blocks are the rules about blocks that are left out, sought or not read:
// those of the families sequence and control that need more than a few lines.
func blocks() []*Rule {
	return []*Rule{
		{
			Name: "block-delete-changes-state", Family: "sequence", Level: Warning,
			Summary: "a block that can be left out (/) changes what the rest relies on",
			Doc:     `With the switch for block delete on, a block that begins with / is left out. What it brought into force is then not in force: a G1 in it leaves the next block, which has none of its own, to run at rapid; an M3 in it leaves the spindle off in the cut. tapefit runs the program with the switch off. Where a block with / leaves another state behind than it found, and a block without / relies on that before it is said again, this says which.`,
			Uses:    []string{"block.delete"},
			Example: Example{"bed-mill",
				"%\nM41\nS500 M3\nG0 X0 Y0 Z.1\n/ G1 Z-.1 F5.\nX2.\nG0 Z1.\nM30\n%\n",
				"%\nM41\nS500 M3\nG0 X0 Y0 Z.1\n/ G1 Z-.1 F5.\nG1 X2. F5.\nG0 Z1.\nM30\n%\n"},
			New: newDeleted,
		},
		{
			Name: "sequence-numbers-not-rising", Family: "sequence", Level: Note,
			Summary: "block numbers that repeat or fall, where blocks are sought by number",
			Doc:     `A jump, a turning cycle and a search for the block to start again at all go by the number of the block, and take the first that they find. Where a number stands twice, that may be the wrong one. The numbers are compared within each program number, on controls whose profile asks for it (block.sequence_rising), and in programs that jump (GOTO) or name the blocks of a contour (P and Q); there a number that only falls is left alone.`,
			Uses:    []string{"block.sequence_rising", "block.flow"},
			Example: Example{"parametric", "N10 #1=0\nN20 #1=[#1+1]\nN20 G0 X#1\nIF [#1 LT 3] GOTO 20\nN30 M30\n", "N10 #1=0\nN20 #1=[#1+1]\nN25 G0 X#1\nIF [#1 LT 3] GOTO 20\nN30 M30\n"},
			New:     newNotRising,
		},
		{
			Name: "characters-not-accepted", Family: "control", Level: Error,
			Summary: "a character that the control does not read",
			Doc:     `Tape controls and many old editors know capitals, digits and a few marks. A small letter, a tab or an accent, in a comment too, stops the reader with an alarm, or is dropped, and with it what stood behind. The finding counts the blocks that have such a character and names the first.`,
			Uses:    []string{"block.characters"},
			Example: Example{"knee-mill", "%\nG90\n(set the dials)\nM30\n%\n", "%\nG90\n(SET THE DIALS)\nM30\n%\n"},
			New:     newCharacters,
		},
	}
}

// A kept is one thing that stays in force from block to block.
type kept uint8

const (
	keptMotion kept = iota
	keptPlane
	keptDistance
	keptFeedMode
	keptUnits
	keptComp
	keptRetract
	keptOffset
	keptLength
	keptTool
	keptGear
	keptSpindle
	keptSpeed
	keptFeed
	numKept
)

// inForce is what is kept, as numbers that can be compared.
type inForce [numKept]float64

func inForceNow(s *interp.State) inForce {
	return inForce{float64(s.Motion), float64(s.Plane), float64(s.Distance), float64(s.FeedMode), float64(s.Units),
		float64(s.Comp), float64(s.Retract), float64(s.Offset), float64(s.LengthH), float64(s.Tool), float64(s.Gear),
		float64(s.Spindle), s.Speed, s.Feed}
}

// deleted follows what blocks with / have changed.
type deleted struct {
	open    bool    // the block that runs, or ran last, has /
	before  inForce // what would be in force without the blocks that have /
	entry   inForce // what was when the block that is open began
	place   Place   // of that block
	differs uint32  // bit n: kept n is another than it would be
	where   [numKept]Place
}

func newDeleted(m *profiles.Machine, _ *Options) Checker {
	if !m.Block.Delete {
		return Checker{}
	}
	d := &deleted{}
	return Checker{State: []any{d}, Exec: d.exec, Op: d.op, Ops: Of(interp.Traverse, interp.Feed, interp.Arc), Steady: true}
}

func (d *deleted) exec(p *Pass, b *parser.Block) {
	if b.Delete == 0 && !d.open && d.differs == 0 {
		return
	}
	if d.open {
		d.close(p.State)
	}
	if b.Delete != 0 {
		d.begin(b, p.State)
		return
	}
	for i := range b.Words {
		d.said(p.Machine, &b.Words[i])
	}
}

// begin notes the state before a block that can be left out.
func (d *deleted) begin(b *parser.Block, s *interp.State) {
	d.open, d.place, d.entry = true, BlockPlace(b), inForceNow(s)
	for k, v := range d.entry {
		if d.differs>>k&1 == 0 {
			d.before[k] = v
		}
	}
}

// close notes what that block has changed.
func (d *deleted) close(s *interp.State) {
	d.open = false
	now := inForceNow(s)
	for k, v := range now {
		if v != d.entry[k] {
			d.differs |= 1 << k
			d.where[k] = d.place
		}
		if v == d.before[k] {
			d.differs &^= 1 << k
		}
	}
	if s.Unknown != 0 || now[keptSpindle] == float64(interp.SpindleUnknown) {
		d.differs = 0
	}
}

// said takes out what a word of a block without / brings into force anew.
func (d *deleted) said(m *profiles.Machine, w *parser.Word) {
	switch w.Address {
	case 'G':
		if w.Expr == nil {
			d.saidG(m.G(int(w.Value*10 + 0.5)))
		}
	case 'M':
		if w.Expr == nil {
			d.saidM(m.M(int(w.Value*10 + 0.5)))
		}
	case 'F':
		d.clear(keptFeed)
	case 'S':
		d.clear(keptSpeed)
	case 'H':
		d.clear(keptLength)
	case 'T':
		if m.Tools.Word == "tool-offset" {
			d.clear(keptTool)
			d.clear(keptLength)
		}
	}
}

func (d *deleted) clear(k kept) { d.differs &^= 1 << k }

func (d *deleted) saidG(m profiles.Meaning) {
	switch m.Group() {
	case profiles.MotionGroup:
		d.clear(keptMotion)
	case profiles.PlaneGroup:
		d.clear(keptPlane)
	case profiles.DistGroup:
		d.clear(keptDistance)
	case profiles.FeedGroup:
		d.clear(keptFeedMode)
	case profiles.UnitsGroup:
		d.clear(keptUnits)
	case profiles.CompGroup:
		d.clear(keptComp)
	case profiles.RetractGroup:
		d.clear(keptRetract)
	case profiles.OffsetGroup:
		d.clear(keptOffset)
	case profiles.LengthGroup:
		d.clear(keptLength)
	}
}

func (d *deleted) saidM(m profiles.Meaning) {
	switch m.Group() {
	case profiles.ToolGroup:
		d.clear(keptTool)
		d.clear(keptSpindle) // a tool change stops it
	case profiles.SpindleGroup:
		d.clear(keptSpindle)
	case profiles.GearGroup:
		d.clear(keptGear)
	}
}

// op looks whether a move of a block without / relies on what differs.
func (d *deleted) op(p *Pass, op *interp.Op) {
	if d.differs == 0 || d.open || op.Block.Delete != 0 {
		return
	}
	hit := d.differs & reliesOn(op)
	for k := range numKept {
		if hit>>k&1 == 0 {
			continue
		}
		at := d.where[k]
		if n := p.Note(uint64(k), at); n != nil {
			n.Message = fmt.Sprintf("with the switch on, this block is left out and line %d, which has no /, runs with %s, not %s",
				op.Block.Line, k.text(p, d.before[k]), k.text(p, inForceNow(op.State)[k]))
			n.Advice = "Say it again in the first block without / that needs it, or take the / away."
		}
		for other, place := range d.where { // what else the block has changed is the same cause
			if place == at {
				d.differs &^= 1 << other
			}
		}
		return
	}
}

// reliesOn is what a move relies on of what its block does not say.
func reliesOn(op *interp.Op) uint32 {
	const move = 1<<keptMotion | 1<<keptDistance | 1<<keptUnits | 1<<keptOffset | 1<<keptLength | 1<<keptTool
	const cut = 1<<keptFeedMode | 1<<keptFeed | 1<<keptComp | 1<<keptSpindle | 1<<keptSpeed | 1<<keptGear
	if op.Home {
		return 0
	}
	set := uint32(move)
	if op.Kind != interp.Traverse {
		set |= cut
	}
	if op.Kind == interp.Arc || op.InCycle {
		set |= 1 << keptPlane
	}
	if op.InCycle {
		set |= 1 << keptRetract
	}
	return set
}

// text names a value that is kept.
func (k kept) text(p *Pass, v float64) string {
	switch k {
	case keptPlane:
		return orCode(p.Machine, profiles.PlaneXY+profiles.Meaning(v), "another plane")
	case keptOffset:
		return orCode(p.Machine, profiles.WorkOffset1+profiles.Meaning(v), "another work offset")
	case keptLength:
		if v == 0 {
			return "no length offset"
		}
		return "length offset H" + trim(v, 0)
	case keptTool:
		return "tool " + toolName(int(v))
	case keptGear:
		if i := int(v); i >= 0 && i < len(p.Machine.Spindle.Gears) {
			return "gear " + p.Machine.Spindle.Gears[i].Name
		}
		return "the gear that the last job left"
	case keptSpindle:
		return [...]string{"the spindle as it was", "the spindle off", "the spindle clockwise", "the spindle counter-clockwise"}[int(v)]
	case keptSpeed:
		return "S" + rpm(v)
	case keptFeed:
		if v == 0 {
			return "no F"
		}
		return "F of " + p.feed(v)
	}
	m := profiles.Meaning(v)
	if m == profiles.Refused {
		return "no motion mode"
	}
	return orCode(p.Machine, m, m.String())
}

// mostNumbers bounds the memory for block numbers.
const mostNumbers = 100_000

// rising follows the block numbers of one program.
type rising struct {
	asked bool
	seen  map[float64]struct{}
	last  float64
	note  *Finding
	jumps bool
	first string
}

func newNotRising(m *profiles.Machine, _ *Options) Checker {
	r := &rising{asked: m.Block.SequenceRising, last: -1}
	contour := m.CodeFor(profiles.RoughTurn)+m.CodeFor(profiles.RoughFace)+m.CodeFor(profiles.FinishContour) != ""
	if !r.asked && !m.Block.Flow && !contour {
		return Checker{}
	}
	if !r.asked {
		r.seen = map[float64]struct{}{}
	}
	return Checker{State: []any{r}, Block: r.block, End: r.end}
}

func (r *rising) block(p *Pass, b *parser.Block) {
	if b.Kind != parser.Ordinary {
		return
	}
	r.jumps = r.jumps || b.Flow != nil && b.Flow.Target != nil && (b.Flow.Kind == parser.Goto || b.Flow.Kind == parser.IfGoto)
	if len(b.Words) == 0 {
		return
	}
	if b.Word('O') != nil {
		r.last = -1
		clear(r.seen)
	}
	w := &b.Words[0]
	if w.Address != 'N' {
		if w = b.Word('N'); w == nil {
			return
		}
	}
	r.jumps = r.jumps || b.Word('P') != nil && b.Word('Q') != nil
	if !r.fits(w) {
		at := Place{b.Line, b.Offset, w.Pos, w.End}
		if n := p.Note(0, at); n != nil {
			r.note, r.first = n, fmt.Sprintf("%s stands here a second time", printable(b.Text(w.Pos, w.End)))
			if r.asked && w.Value != r.last {
				r.first = fmt.Sprintf("%s behind N%s", printable(b.Text(w.Pos, w.End)), trim(r.last, 0))
			}
		}
	}
	r.last = w.Value
}

// fits says whether a number is as the control wants it: above the last, or
// new.
func (r *rising) fits(w *parser.Word) bool {
	if r.asked {
		return w.Value > r.last
	}
	if _, again := r.seen[w.Value]; again {
		return false
	}
	if len(r.seen) < mostNumbers {
		r.seen[w.Value] = struct{}{}
	}
	return true
}

func (r *rising) end(p *Pass) {
	if !r.asked && !r.jumps {
		p.drop(0)
		return
	}
	if r.note == nil {
		return
	}
	r.note.Message = r.first + ": whatever seeks a block by its number takes the first that it finds"
	if r.asked {
		r.note.Message = fmt.Sprintf("%s; %s wants numbers that rise", r.first, p.Machine.Name)
	}
	if r.note.Count > 1 {
		r.note.Message += fmt.Sprintf(" (%s)", count(r.note.Count, "block"))
	}
	r.note.Advice = "Number the blocks anew, and the jumps and P and Q with them."
}

// characters knows what the control reads.
type characters struct {
	set      profiles.CharacterSet
	refused  profiles.CharacterSet // outside comments code-not-accepted speaks of them
	comments string                // marks of those that the control knows: of others code-not-accepted speaks too
}

func newCharacters(m *profiles.Machine, _ *Options) Checker {
	set, limited := m.Characters()
	if !limited {
		return Checker{}
	}
	c := &characters{set: set, comments: m.Block.Comments}
	for mark, taken := range map[byte]bool{
		'#': m.Block.Parameters, '=': m.Block.Parameters, '[': m.Block.Expressions, ']': m.Block.Expressions,
		'*': m.Block.Expressions, '/': m.Block.Delete,
	} {
		c.refused[mark] = !taken
	}
	return Checker{State: []any{c}, Block: c.block}
}

func (c *characters) block(p *Pass, b *parser.Block) {
	if b.Kind == parser.Outside || b.Kind == parser.Remainder || len(b.Faults) > 0 {
		return // block-unreadable speaks
	}
	for i, ch := range b.Raw {
		if c.set[ch] {
			continue
		}
		switch mark := commentAt(b, i); {
		case mark == 0 && c.refused[ch], mark != 0 && strings.IndexByte(c.comments, mark) < 0:
			continue
		}
		key, what := kindOfCharacter(ch)
		if n := p.Note(key, Place{b.Line, b.Offset, int32(i), int32(i + 1)}); n != nil {
			n.Message = fmt.Sprintf("%s does not read %s", p.Machine.Name, what)
			n.Advice = "Have the post, or the editor that sends the program, write it in what the control reads."
			if key == 'a' {
				n.Advice = "Write the program in capitals, comments too."
			}
		}
		return // one thing to mend in a block is enough
	}
}

// commentAt is the mark of the comment in which a character stands, or 0.
func commentAt(b *parser.Block, i int) byte {
	for _, c := range b.Comments {
		if int(c.Pos) <= i && i < int(c.End) {
			return b.Raw[c.Pos]
		}
	}
	return 0
}

// kindOfCharacter is the cause of a character that is not read, and its name.
func kindOfCharacter(c byte) (key uint64, what string) {
	switch {
	case c >= 'a' && c <= 'z':
		return 'a', fmt.Sprintf("small letters (%c)", c)
	case c == '\t':
		return '\t', "tabs"
	case c >= 0x80:
		return 0x80, "accents and other characters outside the code of the tape"
	case c < ' ':
		return uint64(c), fmt.Sprintf("the control character %d", c)
	}
	return uint64(c), fmt.Sprintf("%q", string(c))
}
