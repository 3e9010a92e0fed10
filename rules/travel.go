package rules

import (
	"fmt"
	"math"
	"strings"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// travel are the rules about where the axes go.
func travel() []*Rule {
	return []*Rule{
		{
			Name: "travel-exceeded", Family: "travel", Level: Error,
			Summary: "a move outside the travels",
			Doc:     `With the work offset and the tool's length known, every move is laid into the machine's travels. Where they are not known, only the extent is judged: what is longer than the travel fits nowhere, and what is shorter may still not fit where the part is clamped (travel-not-checked says so). Work offsets come from the profile or from --offset.`,
			Uses:    []string{"axes.*.travel", "offsets", "tools.loaded"},
			Example: Example{"bed-mill", "%\nG54\nG0 X30.\nM30\n%\n", "%\nG54\nG0 X20.\nM30\n%\n"},
			New:     newTravel,
		},
		{
			Name: "travel-not-checked", Family: "travel", Level: Note,
			Summary: "a place in the machine that is not known, so its travel is not checked",
			Doc:     `Where the work offset or the length of a tool is not in the profile, tapefit does not know where in the machine the tool is. The travels are then judged by the extent of the moves alone: what fits may still run into an end where the part is clamped.`,
			Uses:    []string{"offsets", "tools.loaded", "axes.*.travel"},
			Example: Example{"bed-mill", "%\nG56\nG0 X30.\nM30\n%\n", "%\nG54\nG0 X20.\nM30\n%\n"},
			New:     newNotChecked,
		},
		{
			Name: "rapid-below-clearance", Family: "travel", Level: Warning,
			Summary: "a traverse across the part below the last retract level",
			Doc:     `The tool last retracted by traverse to a level above the part; a traverse along X or Y below that level may go through the part or a clamp, and so may a move to the home position or in machine coordinates that leaves Z where it is. With the spindle stopped it is told where the tool has cut its way down and goes further than a boring bar is moved off its wall. On an old control the traverse may also leave the straight line: each axis runs as fast as it can. A part that is turned by a rotary axis with the tool below that level comes round into the tool. On a lathe it is told of a drill that leaves its hole sideways.`,
			Example: Example{"bed-mill", "%\nM41\nS500 M3\nG0 X0 Y0 Z1.\nG1 Z-0.5 F10.\nG0 X4.\nM30\n%\n", "%\nM41\nS500 M3\nG0 X0 Y0 Z1.\nG1 Z-0.5 F10.\nG0 Z1.\nX4.\nM30\n%\n"},
			New:     newBelowClearance,
		},
	}
}

// travelled follows how far the axes go.
type travelled struct {
	m     *profiles.Machine
	low   [profiles.NumAxes]float64
	high  [profiles.NumAxes]float64
	axes  interp.AxisSet // that have travels
	worst map[uint64]*beyond

	// For what is not known in machine coordinates.
	extent  [profiles.NumAxes]Range
	setting [2]int // work offset and length offset of the extent
}

// beyond is the worst place beyond one end of one axis.
type beyond struct {
	note  *Finding
	by    float64
	axis  int
	end   int // 0 low, 1 high
	work  float64
	at    float64
	line  int
	tip   bool   // work is known
	inch  bool   // under inch units
	step  bool   // under increments that another block has said
	times string // the word of a cycle that repeats it
}

func newTravel(m *profiles.Machine, _ *Options) Checker {
	t := &travelled{m: m, worst: map[uint64]*beyond{}}
	for i := range profiles.NumAxes {
		if a := m.Axis(i); a != nil && len(a.Travel) == 2 {
			t.low[i], t.high[i] = float64(a.Travel[0]), float64(a.Travel[1])
			t.axes |= 1 << i
		}
	}
	if t.axes == 0 {
		return Checker{}
	}
	return Checker{State: []any{t}, Op: t.op, Ops: Of(interp.Traverse, interp.Feed, interp.Arc), End: t.end}
}

// slack is how far beyond a soft limit rounding may go, mm.
const slack = 1e-6

func (t *travelled) op(p *Pass, op *interp.Op) {
	moves := op.Moves & t.axes
	known := moves & op.ToMachineKnown
	for i := 0; known>>i != 0; i++ {
		if known.Has(i) && (op.ToMachine[i] < t.low[i]-slack || op.ToMachine[i] > t.high[i]+slack) {
			t.beyond(p, op, i, op.ToMachine[i])
		}
	}
	if op.Kind == interp.Arc {
		t.arc(p, op, known)
	}
	if rest := moves &^ op.ToMachineKnown & op.ToKnown; rest != 0 {
		t.span(p, op, rest)
	}
}

// arc looks at the extremes of an arc between its ends, where the circle comes
// near the travels at all.
func (t *travelled) arc(p *Pass, op *interp.Op, known interp.AxisSet) {
	axes := [2]int{}
	axes[0], axes[1], _ = op.Plane.Axes()
	for k, i := range axes {
		if !known.Has(i) {
			continue
		}
		center := op.Center[i] + op.ToMachine[i] - op.To[i]
		if center-op.Radius >= t.low[i] && center+op.Radius <= t.high[i] {
			continue
		}
		low, high := arcBox(op)
		for _, v := range [2]float64{low[k], high[k]} {
			if at := v + op.ToMachine[i] - op.To[i]; at < t.low[i]-slack || at > t.high[i]+slack {
				t.beyond(p, op, i, at)
			}
		}
	}
}

// beyond notes a place outside the travel and keeps the worst.
func (t *travelled) beyond(p *Pass, op *interp.Op, i int, at float64) {
	end, by := 0, t.low[i]-at
	if at > t.high[i] {
		end, by = 1, at-t.high[i]
	}
	key := uint64(i<<1|end)<<8 | uint64(op.State.Offset)
	n := p.Note(key, axisPlace(op, i))
	b := t.worst[key]
	t.misread(p, op, i, op.To[i]+at-op.ToMachine[i])
	if n != nil {
		b = &beyond{note: n, axis: i, end: end}
		t.worst[key] = b
	}
	if b == nil || by <= b.by || n == nil && p.hushed(axisPlace(op, i)) {
		return
	}
	b.by, b.at, b.line = by, at, op.Block.Line
	b.tip = op.ToKnown.Has(i)
	b.work = op.To[i] + at - op.ToMachine[i]
	b.inch = op.State.Units == profiles.UnitsInch
	b.step, b.times = op.State.Distance == profiles.Incremental && !op.Home, ""
	for i := range op.Block.Words {
		switch w := &op.Block.Words[i]; {
		case w.Address == 'G' && w.Expr == nil && t.m.G(tenths(w)) == profiles.Incremental:
			b.step = false
		case w.Address == 'L' && op.InCycle:
			b.times = wordText(op.Block, i)
		}
	}
}

// misread takes a distance that the travel does not have for a sign of the wrong
// units: of a place from work zero, or of the whole program.
func (t *travelled) misread(p *Pass, op *interp.Op, i int, distance float64) {
	kind := readAcross
	switch {
	case i == 2:
		kind = readDeep
	case i > 2:
		return
	}
	p.misread(kind, op, axisPlace(op, i), sign{math.Abs(distance) / (t.high[i] - t.low[i]), profiles.AxisLetters[i], distance})
}

// axisPlace is the word of axis i in the block of the move, or the word that
// caused it.
func axisPlace(op *interp.Op, i int) Place {
	for w := range op.Block.Words {
		if op.Block.Words[w].Address == profiles.AxisLetters[i] {
			return WordPlace(op.Block, w)
		}
	}
	return OpPlace(op)
}

// span gathers the extent of axes whose machine coordinates are not known. A
// change of work offset or tool length moves the work under the axes: the
// extent begins anew.
func (t *travelled) span(p *Pass, op *interp.Op, axes interp.AxisSet) {
	s := op.State
	if s.Tool > t.m.Tools.Highest && t.m.Tools.Highest > 0 || s.Tool > t.m.Tools.Pockets && t.m.Tools.Pockets > 0 {
		return // tool-not-in-changer has spoken
	}
	if now := [2]int{s.Offset, s.LengthH}; now != t.setting {
		t.extent = [profiles.NumAxes]Range{}
		t.setting = now
	}
	low, high := op.To, op.To
	if op.Kind == interp.Arc {
		a, b, _ := op.Plane.Axes()
		boxLow, boxHigh := arcBox(op)
		low[a], low[b], high[a], high[b] = boxLow[0], boxLow[1], boxHigh[0], boxHigh[1]
	}
	for i := 0; axes>>i != 0; i++ {
		if !axes.Has(i) {
			continue
		}
		r := &t.extent[i]
		r.widen(low[i])
		r.widen(high[i])
		if r.Max-r.Min > t.high[i]-t.low[i]+slack {
			t.tooLong(p, op, i, r.Max-r.Min)
		}
	}
}

// tooLong is an extent that fits nowhere into the travel.
func (t *travelled) tooLong(p *Pass, op *interp.Op, i int, extent float64) {
	t.misread(p, op, i, extent)
	if n := p.Note(1<<32|uint64(i), axisPlace(op, i)); n != nil {
		n.Message = fmt.Sprintf("the program moves more than %s along %c; the travel of %s is %s, wherever the part is clamped",
			p.along(i, math.Floor(extent*1e4)/1e4), profiles.AxisLetters[i], t.m.Name, p.along(i, t.high[i]-t.low[i]))
		n.Advice = "Turn the part, split the job into two clampings, or run it on a machine with more travel."
	}
}

func (t *travelled) end(p *Pass) {
	metric := 0 // one wrong number is no wrong unit
	for _, b := range t.worst {
		if t.fitsAsMetric(b) {
			metric++
		}
	}
	for _, b := range t.worst {
		i := b.axis
		where := ""
		if b.tip {
			where = fmt.Sprintf(" (work %s)", p.along(i, b.work))
			if a := t.m.Axis(i); i == 0 && a.Diameter {
				where = fmt.Sprintf(" (work diameter %s; the slide goes by the radius)", p.along(i, 2*b.work))
			}
		}
		if b.line != b.note.Line {
			where += fmt.Sprintf(" in line %d", b.line)
		}
		b.note.Message = fmt.Sprintf("%c goes to machine %s%s, %s beyond the travel of %s to %s",
			profiles.AxisLetters[i], p.along(i, b.at), where, p.along(i, b.by), p.along(i, t.low[i]), p.along(i, t.high[i]))
		b.note.Advice = "Clamp the part elsewhere and check with --offset, or change the moves."
		if i == 2 {
			b.note.Advice = "Check the tool's length in the profile, the work offset (--offset) and the retract height."
		}
		if b.times != "" {
			b.note.Advice = fmt.Sprintf("Check %s, which repeats the block. ", b.times) + b.note.Advice
		}
		if b.step {
			n := orCode(t.m, profiles.Incremental, "distances")
			b.note.Advice = fmt.Sprintf("%s is in force there, and the numbers are distances: if places are meant, write %s before them. ", n, orCode(t.m, profiles.Absolute, "the code for places")) + b.note.Advice
		}
		if metric > 1 && t.fitsAsMetric(b) {
			b.note.Advice = fmt.Sprintf("Were millimetres meant? %s mm fits: then %s belongs before the first move. ", trim(b.work/25.4, 3), orCode(t.m, profiles.UnitsMM, "the code for millimetres")) + b.note.Advice
		}
	}
}

// fitsAsMetric says whether the number of a place beyond the travel, far from
// work zero for inches, would lie within it as millimetres.
func (t *travelled) fitsAsMetric(b *beyond) bool {
	const far = 20 // in
	if !b.inch || !b.tip || b.axis >= 3 || math.Abs(b.work) < far*25.4 {
		return false
	}
	at := b.at - b.work + b.work/25.4
	return at >= t.low[b.axis] && at <= t.high[b.axis]
}

// notChecked looks for places that are known in the work and not in the
// machine.
type notChecked struct {
	m       *profiles.Machine
	travels interp.AxisSet
	given   [9]interp.AxisSet // axes of the work offsets that are known
	lengths interp.AxisSet    // along which tools have lengths
	axes    map[uint64]*interp.AxisSet
	notes   map[uint64]*Finding
}

func newNotChecked(m *profiles.Machine, opt *Options) Checker {
	c := &notChecked{m: m, lengths: interp.Z, axes: map[uint64]*interp.AxisSet{}, notes: map[uint64]*Finding{}}
	for i := range profiles.NumAxes {
		if a := m.Axis(i); a != nil && len(a.Travel) == 2 {
			c.travels |= 1 << i
		}
	}
	if m.Tools.Word == "tool-offset" {
		c.lengths |= interp.X
	}
	if c.travels == 0 || m.CodeFor(profiles.WorkOffset1) == "" {
		return Checker{} // without work offsets the zero is set at the machine, as ever
	}
	for n := range c.given {
		o := m.WorkOffset(n)
		if said, ok := opt.Offsets[c.code(n)]; ok {
			o = &said
		}
		if o != nil {
			for i, l := range [profiles.NumAxes]*profiles.Length{o.X, o.Y, o.Z, o.A, o.B, o.C} {
				if l != nil {
					c.given[n] |= 1 << i
				}
			}
		}
	}
	return Checker{State: []any{c}, Op: c.op, Ops: Of(interp.Traverse, interp.Feed, interp.Arc), End: c.end}
}

// measured says whether the profile has the tool.
func (c *notChecked) measured(number int) bool {
	for i := range c.m.Tools.Loaded {
		if t := &c.m.Tools.Loaded[i]; t.Number == number && (t.Length != 0 || c.m.Tools.Word == "tool-offset") {
			return true
		}
	}
	return false
}

func (c *notChecked) code(n int) string {
	return c.m.CodeFor(profiles.WorkOffset1 + profiles.Meaning(n))
}

// ofLength marks the keys of tool lengths; those of work offsets are below.
const ofLength = 1 << 32

func (c *notChecked) op(p *Pass, op *interp.Op) {
	rest := op.Moves & c.travels & op.ToKnown &^ op.ToMachineKnown
	if rest == 0 {
		return
	}
	s := op.State
	missing := rest &^ c.given[s.Offset]
	key := uint64(s.Offset)
	if missing == 0 {
		missing = rest & c.lengths
		if missing == 0 || s.LengthH <= 0 || s.LengthH > c.m.Tools.Highest || c.m.Tools.Pockets > 0 && s.Tool > c.m.Tools.Pockets || c.measured(s.LengthH) {
			return // another finding has said what is not known
		}
		key = ofLength | uint64(s.LengthH)
	}
	if n := p.Note(key, OpPlace(op)); n != nil {
		c.notes[key], c.axes[key] = n, new(interp.AxisSet)
	}
	if axes := c.axes[key]; axes != nil {
		*axes |= missing
	}
}

func (c *notChecked) end(*Pass) {
	for key, n := range c.notes {
		names := axisNames(*c.axes[key])
		if key >= ofLength {
			h := key - ofLength
			what := fmt.Sprintf("the length of H%d is", h)
			if c.m.Tools.Word == "tool-offset" {
				what = fmt.Sprintf("the offsets %d are", h)
			}
			n.Message = fmt.Sprintf("%s not known: the travel along %s is judged by the extent alone", what, letters(names))
			n.Advice = fmt.Sprintf("Put tool %d with its length into the profile to have the travel checked.", h)
			continue
		}
		code := c.code(int(key))
		n.Message = fmt.Sprintf("where %s lies in the machine is not known: the travel along %s is judged by the extent alone", code, letters(names))
		n.Advice = fmt.Sprintf("Give --offset \"%s %s..\" to have the travels checked.", code, strings.Join(strings.Split(names, ""), ".. "))
	}
}

// axisNames are the letters of the axes.
func axisNames(axes interp.AxisSet) (names string) {
	for i := range profiles.NumAxes {
		if axes.Has(i) {
			names += profiles.AxisLetters[i : i+1]
		}
	}
	return names
}

// clearance follows the level that the tool last retracted to.
type clearance struct {
	level  float64
	known  bool
	at     float64 // Z behind the last move
	placed bool    // at is known
	offset int     // in which the last traverse went
	length bool    // under a length offset
	turned bool    // the last cut was made with the spindle turning
}

func newBelowClearance(m *profiles.Machine, _ *Options) Checker {
	if m.Kind == "lathe" {
		d := &drilled{}
		return Checker{State: []any{d}, Op: d.op, Ops: Of(interp.Traverse, interp.Feed, interp.Arc, interp.Tool)}
	}
	c := &clearance{}
	return Checker{State: []any{c}, Op: c.op, Ops: Of(interp.Traverse, interp.Feed, interp.Arc, interp.Tool)}
}

func (c *clearance) op(p *Pass, op *interp.Op) {
	const z = 2
	if op.Kind == interp.Tool || op.Home {
		if op.Home && c.known && op.FromKnown.Has(z) && !op.Moves.Has(z) && op.From[z] < c.level-slack && c.homeAcross(op) {
			c.say(p, op, 0, "sent home across")
		}
		c.known, c.placed, c.turned = false, false, false
		return
	}
	zKnown, fromKnown := op.ToKnown.Has(z), op.FromKnown.Has(z)
	if c.placed && fromKnown {
		c.level += op.From[z] - c.at // where the work zero was moved, the level moves with it
	}
	c.at, c.placed = op.To[z], zKnown
	if c.length && op.State.LengthH == 0 {
		c.known = false // switched off: length-offset-missing speaks
	}
	c.length = op.State.LengthH > 0
	if op.Kind != interp.Traverse {
		c.turned = turning(op.State)
		return
	}
	// Up and across in one block goes along the slope from where it starts.
	turn := op.Moves &^ interp.XYZ
	if !op.InCycle && c.known && zKnown && fromKnown &&
		op.From[z] < c.level-slack && op.To[z] >= op.From[z] && c.through(op, turn) && !c.spared(p, op) {
		key, what := uint64(0), "a traverse across"
		if turn != 0 {
			key, what = 1, "the part is turned ("+letters(axisNames(turn))+")"
		}
		c.say(p, op, key, what)
	}
	c.offset = op.State.Offset
	if op.Moves.Has(z) && zKnown && (!c.known || !fromKnown || op.To[z] > op.From[z]) {
		// Up, or the first approach of a tool: this is the level now. Repeats of a
		// cycle return to R by design.
		if !op.InCycle || !c.known || op.To[z] > c.level {
			c.level, c.known = op.To[z], true
		}
	}
}

// offWall is as far, in mm, as a tool is moved off the wall of a bore with the spindle
// stopped, to come out without a mark (common practice).
const offWall = 5

// through says whether a traverse below the level goes through the part: turn are the
// rotary axes that it moves. With the spindle stopped it does where the tool has cut
// its way down there.
func (c *clearance) through(op *interp.Op, turn interp.AxisSet) bool {
	if turning(op.State) {
		return turn != 0 || acrossWork(op)
	}
	x, y := op.To[0]-op.From[0], op.To[1]-op.From[1]
	return c.turned && acrossWork(op) && (op.FromKnown & op.ToKnown).Has(0) && (op.FromKnown & op.ToKnown).Has(1) && math.Hypot(x, y) > offWall
}

// homeAcross says whether a move to a place of the machine goes along X or Y, as far
// as is known.
func (c *clearance) homeAcross(op *interp.Op) bool {
	known := op.FromMachineKnown & op.ToMachineKnown
	for i := range 2 {
		if op.Moves.Has(i) && (!known.Has(i) || math.Abs(op.ToMachine[i]-op.FromMachine[i]) > offWall) && (c.turned || turning(op.State)) {
			return true
		}
	}
	return false
}

func (c *clearance) say(p *Pass, op *interp.Op, key uint64, what string) {
	n := p.Note(key, OpPlace(op))
	if n == nil {
		return
	}
	how := "turning"
	if !turning(op.State) {
		how = "stopped"
	}
	n.Message = fmt.Sprintf("%s at Z %s with the spindle %s, below the level %s of the last retract", what, p.length(op.From[2]), how, p.length(c.level))
	n.Advice = "Retract before the traverse, or make it a feed move if the way is cut free."
	if op.Home {
		n.Advice = "Send Z home first, in a block of its own, or retract before it."
	}
}

// drilled is a tool of a lathe that was fed in along the centre line.
type drilled struct {
	in    bool
	begun float64 // Z from which it was fed in
}

func (d *drilled) op(p *Pass, op *interp.Op) {
	const z = 2
	switch {
	case op.Kind == interp.Tool:
		*d = drilled{}
		return
	case op.Kind != interp.Traverse:
		if in := onCentre(op) && (op.FromKnown & op.ToKnown).Has(z) && op.Lead == 0; !in {
			*d = drilled{}
		} else if op.To[z] < op.From[z] && (!d.in || op.From[z] > d.begun) {
			*d = drilled{true, op.From[z]}
		}
		return
	case !d.in || !op.FromKnown.Has(z) || !op.FromKnown.Has(0) || math.Abs(op.From[0]) > slack:
		return
	}
	sideways := op.Moves.Has(0) && !(op.ToKnown.Has(0) && math.Abs(op.To[0]) < slack)
	if sideways && op.From[z] < d.begun-slack {
		if n := p.Note(2, OpPlace(op)); n != nil {
			n.Message = fmt.Sprintf("a traverse sideways out of the hole on the centre line: the tool is at Z %s, and was fed in from Z %s", p.length(op.From[z]), p.length(d.begun))
			n.Advice = "Go back along Z first, in front of the part, and then to the side."
		}
	}
	if sideways {
		*d = drilled{}
	}
}

// spared says whether a traverse below the level is told by another rule, or is
// none to tell.
func (c *clearance) spared(p *Pass, op *interp.Op) bool {
	if p.work.down && op.State.Offset != c.offset || p.forgotten {
		return true // offset-change-without-retract or feed-on-traverse speaks
	}
	return stepsBeside(p, op)
}

// stepsBeside says whether a traverse is the step from one pass of a face mill
// to the next: along one axis, at the very end of its passes along the other,
// by less than its diameter. There it stands beside the part (common practice);
// a smaller tool may as well be in a pocket.
func stepsBeside(p *Pass, op *interp.Op) bool {
	const faceMill = 38 // mm, 1 1/2 in
	t, w := p.Machine.ToolOfD(op.State.Tool), &p.work
	if t == nil || t.Number != op.State.Tool || t.Diameter < faceMill || w.now.mixed || w.now.cuts == 0 || !w.cutting {
		return false
	}
	from, to := &op.From, &op.To
	if w.now.frame == inMachine {
		from, to = &op.FromMachine, &op.ToMachine
	}
	for along, passes := range [2]*Range{&w.now.x, &w.now.y} {
		step := 1 - along
		at := from[along]
		if at == to[along] && (at <= passes.Min || at >= passes.Max) && passes.Max > passes.Min &&
			math.Abs(to[step]-from[step]) < float64(t.Diameter) {
			return true
		}
	}
	return false
}

// acrossWork says whether the move goes along X or Y.
func acrossWork(op *interp.Op) bool {
	for i := range 2 {
		if op.Moves.Has(i) && op.FromKnown.Has(i) && op.ToKnown.Has(i) && op.To[i] != op.From[i] {
			return true
		}
	}
	return false
}
