package rules

import (
	"fmt"
	"math"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// depths are the rules about a tool that is down in the work, or goes there.
func depths() []*Rule {
	const head = "%\nT3 M6\nM42\nS2000 M3\nG54 G0 X-1.5 Y0\nG43 H3 Z1.\n"
	return []*Rule{
		{
			Name: "offset-change-without-retract", Family: "travel", Level: Warning,
			Summary: "another work offset, and the tool is still down in the work",
			Doc:     `With another work offset the next move goes to another vice or another part. Where the tool was fed down and not retracted since, it goes there at depth: through the part, the jaws and the clamps between. Most often the retract was lost when a program was made for a second vice. It is not told of two offsets that the profile, or --offset, gives the same X and Y: they are for one part.`,
			Uses:    []string{"codes", "offsets"},
			Example: Example{"bed-mill",
				head + "Z.1\nG1 Z-.2 F10.\nX1.5\nG55 X-1.5 Y0\nX1.5\nG0 Z1.\nM30\n%\n",
				head + "Z.1\nG1 Z-.2 F10.\nX1.5\nG0 Z1.\nG55 X-1.5 Y0\nG1 Z-.2\nX1.5\nG0 Z1.\nM30\n%\n"},
			New: newOffsetDown,
		},
		{
			Name: "rapid-into-work", Family: "travel", Level: Warning,
			Summary: "a traverse that goes down to where the work is",
			Doc:     `Two traverses are told. One goes across and down in one block, and ends below every level from which this tool was fed down before: it comes into the work, or past it, on a slope, and on an old control on no straight line at all. The other goes straight down below the depth to which the tool has fed at that place, and is no approach, for no feed goes on from there: what was to be drilled is drilled at rapid. Most often G0 stands where G1 was meant, or a level was mistyped.`,
			Example: Example{"bed-mill",
				head + "Z.1\nG1 Z-.2 F10.\nG0 Z1.\nX1.5 Z-1.\nG1 Z-1.2\nG0 Z1.\nM30\n%\n",
				head + "Z.1\nG1 Z-.2 F10.\nG0 Z1.\nX1.5 Z.1\nG1 Z-1.2\nG0 Z1.\nM30\n%\n"},
			New: newRapidInto,
		},
		{
			Name: "cut-deeper-than-tool", Family: "travel", Level: Error,
			Summary: "a cut further below the top of the work than the tool is long",
			Doc:     `The tool's length in the profile goes from the spindle's gauge line to its tip. What is cut further below work zero, and below the level from which the tool was first fed down, than that length would have the holder and the spindle's nose in the part. Most often a decimal point is missing or stands wrong, or millimetres are read as inches.`,
			Uses:    []string{"tools.loaded"},
			Example: Example{"bed-mill",
				head + "Z.1\nG1 Z-8. F5.\nX1.5\nG0 Z1.\nM30\n%\n",
				head + "Z.1\nG1 Z-.008 F5.\nX1.5\nG0 Z1.\nM30\n%\n"},
			New: newDeeperThanTool,
		},
		{
			Name: "home-through-work", Family: "travel", Level: Warning,
			Summary: "on its way home the tool first goes down",
			Doc:     `G28 and G30 go to the place that their words name, and from there home. In absolute mode G28 Z0 goes to work zero first: down to the top of the part, or through it where zero lies on the table, at rapid. Most often G91 is missing before it, where Z0 means no way at all; on a lathe it is X0, to the centre line. Told of where the tool goes down to that place, or on a lathe towards the work.`,
			Uses:    []string{"codes"},
			Example: Example{"bed-mill",
				head + "Z.1\nG1 Z-.2 F10.\nG0 Z1.\nG28 Z0\nM30\n%\n",
				head + "Z.1\nG1 Z-.2 F10.\nG0 Z1.\nG91 G28 Z0\nM30\n%\n"},
			New: newHomeThrough,
		},
	}
}

func newHomeThrough(m *profiles.Machine, _ *Options) Checker {
	if m.CodeFor(profiles.Home) == "" && m.CodeFor(profiles.HomeSecond) == "" {
		return Checker{}
	}
	lathe := m.Kind == "lathe"
	return Checker{Ops: Of(interp.Traverse), Op: func(p *Pass, op *interp.Op) {
		for _, i := range [...]int{2, 0} {
			if i == 0 && !lathe || !op.Moves.Has(i) || !(op.FromKnown & op.ToKnown).Has(i) || op.To[i] >= op.From[i]-slack {
				continue
			}
			if word := homing(p.Machine, op); word >= 0 {
				sayHomeThrough(p, op, word, i)
			}
			return
		}
	}}
}

func sayHomeThrough(p *Pass, op *interp.Op, word, axis int) {
	n := p.Note(0, axisPlace(op, axis))
	if n == nil {
		return
	}
	from, to := op.From[axis], op.To[axis]
	if a := p.Machine.Axis(axis); a != nil && a.Diameter {
		from, to = 2*from, 2*to
	}
	n.Message = fmt.Sprintf("%s goes to %c %s first and from there home: from %s that is towards the work",
		wordText(op.Block, word), profiles.AxisLetters[axis], p.along(axis, to), p.along(axis, from))
	n.Advice = "Name a place on the way out."
	if code := p.Machine.CodeFor(profiles.Incremental); code != "" && op.State.Distance == profiles.Absolute {
		n.Advice = fmt.Sprintf("Write %s before it and %s behind, with 0 for the way, or name a place on the way out.", code, orCode(p.Machine, profiles.Absolute, "the absolute mode"))
	}
}

// homing is the word that sends a traverse home by way of where it goes; -1: it
// goes there alone, or is the second part of the way.
func homing(m *profiles.Machine, op *interp.Op) int {
	if op.Home {
		return -1
	}
	for i := range op.Block.Words {
		if w := &op.Block.Words[i]; w.Address == 'G' && w.Expr == nil {
			if meaning := m.G(tenths(w)); meaning == profiles.Home || meaning == profiles.HomeSecond {
				return i
			}
		}
	}
	return -1
}

// offsetDown waits for a move under another work offset than that in which the
// tool was last above the work, or went into it.
type offsetDown struct {
	offset int
	zeros  [9]*profiles.Offset
}

func newOffsetDown(m *profiles.Machine, opt *Options) Checker {
	if m.Kind == "lathe" || m.CodeFor(profiles.WorkOffset2) == "" {
		return Checker{}
	}
	d := &offsetDown{}
	for n := range d.zeros {
		d.zeros[n] = m.WorkOffset(n)
		if said, ok := opt.Offsets[m.CodeFor(profiles.WorkOffset1+profiles.Meaning(n))]; ok {
			d.zeros[n] = &said
		}
	}
	return Checker{State: []any{d}, Op: d.op, Ops: Of(interp.Traverse, interp.Feed, interp.Arc)}
}

func (d *offsetDown) op(p *Pass, op *interp.Op) {
	s := op.State
	if s.Offset == d.offset {
		return
	}
	was := d.offset
	switch {
	case !p.work.down || op.Home || s.Unknown&interp.UnknownOffset != 0 || d.onePart(was, s.Offset):
		d.offset = s.Offset
		return
	case !goesAcross(op):
		return // up, or down: what goes across is still to come
	}
	d.offset = s.Offset
	if n := p.Note(uint64(was<<8|s.Offset), OpPlace(op)); n != nil {
		m := p.Machine
		code := func(i int) string { return m.CodeFor(profiles.WorkOffset1 + profiles.Meaning(i)) }
		n.Message = fmt.Sprintf("the move goes to another place with %s, and the tool has not been retracted since it was fed into the work under %s", code(s.Offset), code(was))
		n.Advice = fmt.Sprintf("Retract above the part, the jaws and the clamps before %s.", code(s.Offset))
	}
}

// onePart says whether two work offsets have the same X and Y.
func (d *offsetDown) onePart(a, b int) bool {
	if a < 0 || b < 0 || a >= len(d.zeros) || b >= len(d.zeros) {
		return true // no work offset of the control's: nothing is known
	}
	one, two := d.zeros[a], d.zeros[b]
	if one == nil || two == nil || one.X == nil || one.Y == nil || two.X == nil || two.Y == nil {
		return false
	}
	return *one.X == *two.X && *one.Y == *two.Y
}

// rapidInto follows the levels from which a tool is fed down, and the depth at
// the place where it was fed last.
type rapidInto struct {
	lathe bool
	begun float64 // the lowest level from which it was fed down
	fed   bool    // it was: begun is known

	depth   float64 // the lowest Z to which it was fed at the place
	here    bool    // it has not left the place: depth is known
	suspect Place   // a traverse below depth; no line: none
	to      float64 // where that goes
}

func newRapidInto(m *profiles.Machine, _ *Options) Checker {
	r := &rapidInto{lathe: m.Kind == "lathe"}
	return Checker{State: []any{r}, Op: r.op, Ops: Of(interp.Traverse, interp.Feed, interp.Arc, interp.Tool), End: func(p *Pass) { r.confirm(p) }}
}

func (r *rapidInto) op(p *Pass, op *interp.Op) {
	const z = 2
	cut := op.Kind == interp.Feed || op.Kind == interp.Arc
	if cut && op.Moves&(interp.Z|interp.A|interp.B|interp.C) == 0 {
		r.here = false // along the work: the suspect, if there is one, was an approach
		r.suspect.Line = 0
		return
	}
	known := (op.FromKnown & op.ToKnown).Has(z)
	switch {
	case op.Kind == interp.Tool || op.Moves&^interp.XYZ != 0:
		r.confirm(p)
		*r = rapidInto{lathe: r.lathe}
	case cut && known:
		r.feeds(p, op)
	case cut:
		r.here = false
	default:
		r.traverse(p, op, known)
	}
}

func (r *rapidInto) feeds(p *Pass, op *interp.Op) {
	const z = 2
	from, to := op.From[z], op.To[z]
	straight := op.Moves == interp.Z
	if to < from {
		r.suspect.Line = 0
		if !p.work.cutting && (!r.fed || from < r.begun) {
			r.begun, r.fed = from, true
		}
	}
	switch {
	case !straight:
		r.here = false
	case to < from && (!r.here || to < r.depth):
		r.depth, r.here = to, true
	}
	if r.lathe && op.State.At[0] != 0 {
		r.here = false // beside the centre line the stock has any form
	}
}

func (r *rapidInto) traverse(p *Pass, op *interp.Op, known bool) {
	const z = 2
	r.confirm(p)
	switch {
	case op.InCycle || op.Home:
		r.here = false
	case op.Moves != interp.Z:
		r.here = false
		if !r.lathe && r.fed && op.ToKnown.Has(z) && op.To[z] < r.begun-slack && falls(op) && goesAcross(op) && turning(op.State) && homing(p.Machine, op) < 0 {
			r.slope(p, op)
		}
	case r.here && known && op.From[z] > r.depth+slack && op.To[z] < r.depth-slack && turning(op.State):
		r.suspect, r.to = OpPlace(op), op.To[z]
	}
}

func (r *rapidInto) slope(p *Pass, op *interp.Op) {
	if n := p.Note(0, OpPlace(op)); n != nil {
		n.Message = fmt.Sprintf("a traverse goes across and down to Z %s in one block; this tool was fed down from %s and above", p.length(op.To[2]), p.length(r.begun))
		n.Advice = fmt.Sprintf("Go across first and down then, to Z %s, and feed from there.", p.length(r.begun))
	}
}

// confirm tells of a traverse below what was cut, from which no feed went on.
func (r *rapidInto) confirm(p *Pass) {
	if r.suspect.Line == 0 {
		return
	}
	if n := p.Note(1, r.suspect); n != nil {
		n.Message = fmt.Sprintf("a traverse goes straight down to Z %s, and at this place the tool was fed to Z %s: what lies between is cut at rapid", p.length(r.to), p.length(r.depth))
		n.Advice = "Make it a feed move, or mend the level."
	}
	r.suspect.Line = 0
}

// deeper knows the lowest level that the tool reaches.
type deeper struct {
	least float64
	top   float64
	begun bool // the tool was fed down
}

func newDeeperThanTool(m *profiles.Machine, _ *Options) Checker {
	if m.Kind == "lathe" || len(m.Tools.Loaded) == 0 {
		return Checker{}
	}
	d := &deeper{least: math.Inf(-1)}
	offset := 0
	return Checker{State: []any{d, &offset}, Ops: Of(interp.Feed, interp.Arc, interp.Tool), Op: func(p *Pass, op *interp.Op) {
		if op.Kind == interp.Tool || op.State.Offset != offset {
			*d = deeper{least: math.Inf(-1)}
			offset = op.State.Offset
		}
		if op.Kind == interp.Tool || d.begun && op.To[2] >= d.least {
			return
		}
		d.cut(p, op)
	}}
}

func (d *deeper) cut(p *Pass, op *interp.Op) {
	const z = 2
	if !(op.FromKnown & op.ToKnown).Has(z) || op.To[z] >= op.From[z] || op.Moves&^interp.XYZ != 0 {
		return
	}
	t := measuredTool(p.Machine, op.State)
	if !d.begun {
		d.begun = true
		if t == nil {
			return
		}
		d.top = math.Min(op.From[z], 0)
		d.least = d.top - float64(t.Length)
	}
	if t == nil || op.To[z] >= d.least {
		return
	}
	p.misread(readDeep, op, axisPlace(op, z), sign{(d.top - op.To[z]) / float64(t.Length), 'Z', op.To[z]})
	if n := p.Note(uint64(t.Number), axisPlace(op, z)); n != nil {
		n.Message = fmt.Sprintf("a cut to Z %s, %s below the top of the work; tool %d is %s long from the spindle's gauge line", p.length(op.To[z]), p.length(d.top-op.To[z]), t.Number, p.length(float64(t.Length)))
		n.Advice = "Check the decimal point and the units of Z, and the tool's length in the profile."
	}
}

// measuredTool is the tool in the spindle where Z goes by its length and the profile
// has that; else nil.
func measuredTool(m *profiles.Machine, s *interp.State) *profiles.Tool {
	if s.LengthH <= 0 || s.Tool != s.LengthH || s.Unknown&(interp.UnknownTool|interp.UnknownLength) != 0 {
		return nil
	}
	for i := range m.Tools.Loaded {
		if t := &m.Tools.Loaded[i]; t.Number == s.Tool && t.Length > 0 {
			return t
		}
	}
	return nil
}
