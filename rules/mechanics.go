package rules

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// mechanics are the rules about what worn screws make of a program.
func mechanics() []*Rule {
	return []*Rule{
		{
			Name: "reversal-in-cut", Family: "mechanics", Level: Warning,
			Summary: "an axis with much backlash turns round in the cut",
			Doc: `Where an axis turns round it stands until its backlash is taken up. The other axes go on meanwhile, and the cut gets a flat: as deep as the backlash, and on a circle of radius r of the tool's path as long as the root of backlash times (2r - backlash). On circles that is at the quadrants, where X or Y turns round. A control that takes the backlash out moves the axis by it at once, and what the worn screw has more or less at that place stays in the work; then this is a note.

Told of are axes with more backlash than the limit in the profile, once in a program: with which tools, how often, on which side of arcs, and the longest flat. A flat counts where it is at least three times as long as deep: at a corner where the axis goes straight back nothing else moves while it stands.`,
			Uses:    []string{"axes.*.backlash", "axes.*.backlash_limit", "control.backlash"},
			Example: Example{"knee-mill", "%\nG92 X0 Y0 Z1000\nS500 M3\nG1 X10000 F5\nG3 X0 Y10000 I10000 J0\nG3 X-10000 Y0 I0 J10000\nG3 X0 Y-10000 I10000 J0\nG3 X10000 Y0 I0 J10000\nM30\n%\n", "%\nG92 X0 Y0 Z1000\nS500 M3\nG1 X10000 F5\nX0\nM30\n%\n"},
			New:     newReversal,
		},
		{
			Name: "approach-side-differs", Family: "mechanics", Level: Note,
			Summary: "holes of one tool are reached from different sides on screws with backlash",
			Doc:     `An axis that comes to a hole from the left stands elsewhere than one that comes from the right, by the backlash that nothing takes out. Holes of one pattern then lie apart by as much. Come to all of them from one side: let the traverse overshoot and come back by more than the backlash, or put the holes in an order in which no axis turns round. Silent where the control takes the backlash out, which it does before the tool comes down.`,
			Uses:    []string{"axes.*.backlash", "axes.*.backlash_limit", "control.backlash"},
			Example: Example{"knee-mill", "%\nG92 X0 Y0 Z1000\nS500 M3\nG0 X-20000\nG81 X10000 Y0 Z-1000 R500 F5\nX20000\nX0\nG80\nM30\n%\n", "%\nG92 X0 Y0 Z1000\nS500 M3\nG0 X-20000\nG81 X0 Y0 Z-1000 R500 F5\nX10000\nX20000\nG80\nM30\n%\n"},
			New:     newApproach,
		},
	}
}

// loose are the linear axes of a machine with more backlash than is good.
func loose(m *profiles.Machine) (axes interp.AxisSet, play [3]float64) {
	for i := range play {
		if a := m.Axis(i); a != nil && a.Backlash > 0 && a.Backlash > a.BacklashLimit {
			axes |= 1 << i
			play[i] = float64(a.Backlash)
		}
	}
	return axes, play
}

// A turnAxis follows one axis and its play.
type turnAxis struct {
	play  float64
	way   float64 // +1 or -1: the side of the screw that drives; 0: not known
	back  float64 // gone back from where the axis turned, not yet the play
	cut   bool    // and all of that in the cut
	gone  float64 // along the path meanwhile, mm
	side  int     // where it turned: high, low or beside
	place float64 // along the axis
	line  int
	at    Place
}

// Sides on which an axis turns round: the high or low end of an arc along it,
// or somewhere else.
const (
	high = iota
	low
	beside
	numSides
)

// A piece is a stretch of a move on which the axis goes one way.
type piece struct {
	delta  float64 // along the axis
	length float64 // along the path, mm
	radius float64 // of an arc, where the piece begins at its end along the axis; else 0
	side   int     // where it begins
	from   float64 // along the axis
	cut    bool
}

// follow takes in a piece. It gives the length of the flat where the axis has
// turned round in the cut, as of now; 0: it has not.
func (a *turnAxis) follow(p piece, op *interp.Op) (flat float64) {
	if p.delta == 0 && a.back == 0 {
		return 0
	}
	if a.way == 0 {
		a.way = math.Copysign(1, p.delta)
		return 0
	}
	before := a.back
	a.back -= p.delta * a.way
	if a.back <= 0 {
		a.back = 0
		return 0
	}
	if before == 0 {
		a.cut, a.gone = true, 0
		a.side, a.place, a.line, a.at = p.side, p.from, op.Block.Line, OpPlace(op)
	}
	a.cut = a.cut && p.cut
	if a.back < a.play {
		a.gone += p.length
		return 0
	}
	// The play is taken up on this piece.
	switch {
	case before == 0 && p.radius > a.play:
		flat = math.Sqrt(a.play * (2*p.radius - a.play))
	default:
		flat = a.gone + p.length*(a.play-before)/math.Abs(p.delta)
	}
	a.way, a.back = -a.way, 0
	if !a.cut || flat < 3*a.play {
		return 0
	}
	return flat
}

// turned is what the axes did.
type turned struct {
	note  *Finding
	tools []int
	count [3][numSides]int
	flat  float64 // the longest
	axis  int     // of that, as all below
	line  int
	place float64
}

// reversal follows the axes that have more backlash than is good. What they do is
// of the screws and not of the tools: one finding tells it.
type reversal struct {
	axes interp.AxisSet
	all  [3]turnAxis
	turned
}

func newReversal(m *profiles.Machine, _ *Options) Checker {
	axes, play := loose(m)
	if axes == 0 {
		return Checker{}
	}
	r := &reversal{axes: axes}
	for i := range r.all {
		r.all[i].play = play[i]
	}
	return Checker{State: []any{r}, Op: r.op, Ops: Of(interp.Traverse, interp.Feed, interp.Arc), End: r.end}
}

func (r *reversal) op(p *Pass, op *interp.Op) {
	cut := op.Kind != interp.Traverse && !op.InCycle && op.Lead == 0
	first, second := -1, -1
	if op.Kind == interp.Arc {
		first, second, _ = op.Plane.Axes()
	}
	for i := range r.all {
		if !r.axes.Has(i) {
			continue
		}
		a := &r.all[i]
		switch {
		case i == first || i == second:
			r.arc(p, op, i, cut)
		case op.Moves.Has(i) && !(op.FromKnown&op.ToKnown | op.Steps).Has(i):
			a.way, a.back = 0, 0
		case op.Moves.Has(i):
			r.take(p, op, i, piece{delta: op.To[i] - op.From[i], length: op.Length, side: beside, from: op.From[i], cut: cut})
		case a.back > 0: // it stands, and the others go on
			a.gone += op.Length
			a.cut = a.cut && cut
		}
	}
}

// arc takes in an arc along one axis of its plane, cut where the axis turns: at
// the ends of the circle along it.
func (r *reversal) arc(p *Pass, op *interp.Op, i int, cut bool) {
	first, second, _ := op.Plane.Axes()
	if plane := interp.AxisSet(1<<first | 1<<second); op.FromKnown&op.ToKnown&plane != plane || !(op.Sweep > 0) {
		r.all[i].way, r.all[i].back = 0, 0
		return
	}
	// t is the angle gone; the axis turns at next, next + pi, and so on.
	angle := math.Atan2(op.From[second]-op.Center[second], op.From[first]-op.Center[first])
	if i == second {
		angle -= math.Pi / 2 // now 0 is the high end of this axis and pi the low one
	}
	if op.CW {
		angle = -angle
	}
	const rounding = 1e-6 // rad: an arc that begins or ends at a quadrant
	next := math.Mod(math.Pi-math.Mod(angle, math.Pi), math.Pi)
	side, radius := beside, 0.0
	if next < rounding || next > math.Pi-rounding {
		side, radius = endAt(angle), op.Radius
		next = math.Pi
	}
	from, t := op.From[i], 0.0
	for range 4 * max(op.Turns, 1) {
		to, until := op.To[i], op.Sweep
		if next < op.Sweep-rounding {
			until = next
			to = op.Center[i] + op.Radius
			if endAt(angle+next) == low {
				to = op.Center[i] - op.Radius
			}
		}
		r.take(p, op, i, piece{to - from, op.Length * (until - t) / op.Sweep, radius, side, from, cut})
		if until == op.Sweep {
			return
		}
		from, t, side, radius = to, until, endAt(angle+next), op.Radius
		next += math.Pi
	}
}

// endAt is the end of a circle along an axis at an angle near a multiple of pi.
func endAt(angle float64) int {
	if math.Cos(angle) > 0 {
		return high
	}
	return low
}

// take follows axis i and counts where it turned round in the cut.
func (r *reversal) take(p *Pass, op *interp.Op, i int, stretch piece) {
	a := &r.all[i]
	flat := a.follow(stretch, op)
	if flat == 0 {
		return
	}
	n := p.Note(0, a.at)
	if n != nil {
		r.note = n
	}
	t := &r.turned
	if t.note == nil || n == nil && p.hushed(a.at) {
		return
	}
	if tool := op.State.Tool; len(t.tools) < mostTools && !slices.Contains(t.tools, tool) {
		t.tools = append(t.tools, tool)
	}
	t.count[i][a.side]++
	if flat > t.flat {
		t.flat, t.axis, t.line, t.place = flat, i, a.line, a.place
	}
}

// mostTools bounds the tools that are named.
const mostTools = 8

func (r *reversal) end(p *Pass) {
	t := &r.turned
	if t.note == nil {
		return
	}
	var list []string
	for i := range t.count {
		if text := sides(i, &t.count[i]); text != "" {
			list = append(list, text)
		}
	}
	what := "turns round in the cut" + withTools(t.tools) + ": " + join(list, "and")
	play := p.length(r.all[t.axis].play)
	where := fmt.Sprintf("the longest of %s (line %d, %c %s)", p.length(t.flat), t.line, profiles.AxisLetters[t.axis], p.length(t.place))
	t.note.Message = fmt.Sprintf("%s; the backlash of %s leaves flats as deep there, %s", what, play, where)
	if p.Machine.Control.Backlash != "left" {
		t.note.Level = Note
		t.note.Message = fmt.Sprintf("%s; %s takes out %s of backlash there, and what a worn screw has more or less leaves flats, %s", what, p.Machine.Name, play, where)
	}
	t.note.Advice = "Bore what must be round, and begin cuts where a flat does no harm. "
	if none := [numSides]int{}; t.count[0] == none && t.count[1] == none {
		t.note.Advice = "Where depth matters, come to it from one side along Z. "
	}
	t.note.Advice += "Adjusting the screw, its nut and its bearings is what mends it."
}

// withTools names several tools.
func withTools(tools []int) string {
	if len(tools) < 2 {
		return ""
	}
	var names []string
	for _, n := range tools {
		names = append(names, toolName(n))
	}
	if len(names) == mostTools {
		names[mostTools-1] = "others"
	}
	return " with tools " + join(names, "and")
}

// sides writes how often an axis turned round, and where: "X 8 times (4 at X+,
// 4 at X-)".
func sides(i int, n *[numSides]int) string {
	total := n[high] + n[low] + n[beside]
	if total == 0 {
		return ""
	}
	letter := profiles.AxisLetters[i : i+1]
	var at []string
	for side, text := range [...]string{"on arcs at " + letter + "+", "on arcs at " + letter + "-", "elsewhere"} {
		if n[side] > 0 {
			at = append(at, fmt.Sprintf("%d %s", n[side], text))
		}
	}
	return fmt.Sprintf("%s %s (%s)", letter, times(total), strings.Join(at, ", "))
}

// times writes how often.
func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

// approach follows from which side the axes come to holes.
type approach struct {
	axes  interp.AxisSet
	play  [3]float64
	from  [3]Range // how much of the play lies behind the axis: from 0 to all of it; a range while it is not known
	tools map[int]*approached
}

// approached are the holes of one tool.
type approached struct {
	note  *Finding
	first [3]float64
	set   interp.AxisSet
	by    [3]float64 // greatest difference
	bore  bool
}

func newApproach(m *profiles.Machine, _ *Options) Checker {
	axes, play := loose(m)
	if axes == 0 || m.Control.Backlash != "left" {
		return Checker{}
	}
	a := &approach{axes: axes, play: play, tools: map[int]*approached{}}
	for i := range a.from {
		a.lose(i)
	}
	return Checker{State: []any{a}, Op: a.op, Ops: Of(interp.Traverse, interp.Feed, interp.Arc), End: a.end}
}

func (a *approach) lose(i int) { a.from[i] = Range{true, 0, a.play[i]} }

func (a *approach) op(p *Pass, op *interp.Op) {
	moves := op.Moves & a.axes
	for i := 0; moves>>i != 0; i++ {
		switch {
		case !moves.Has(i):
		case op.Kind == interp.Arc || !(op.FromKnown&op.ToKnown | op.Steps).Has(i):
			a.lose(i)
		default:
			d := op.To[i] - op.From[i]
			r := &a.from[i]
			r.Min, r.Max = clamp(r.Min+d, a.play[i]), clamp(r.Max+d, a.play[i])
		}
	}
	if _, _, normal := op.State.Plane.Axes(); op.InCycle && op.Kind == interp.Feed && op.Moves == 1<<normal {
		a.hole(p, op, normal)
	}
}

func clamp(v, most float64) float64 { return min(max(v, 0), most) }

// hole compares a hole with the first of its tool.
func (a *approach) hole(p *Pass, op *interp.Op, normal int) {
	t := a.tools[op.State.Tool]
	if t == nil {
		t = &approached{}
		a.tools[op.State.Tool] = t
	}
	switch op.State.Motion {
	case profiles.BoreFeedOut, profiles.BoreStopOut, profiles.BoreManualOut, profiles.BoreDwellOut, profiles.BackBore:
		t.bore = true
	}
	for i := range a.from {
		r := &a.from[i]
		if !a.axes.Has(i) || i == normal || r.Max-r.Min > slack {
			continue
		}
		if !t.set.Has(i) {
			t.set |= 1 << i
			t.first[i] = r.Min
			continue
		}
		by := math.Abs(r.Min - t.first[i])
		if by <= float64(p.Machine.Axis(i).BacklashLimit) {
			continue
		}
		if n := p.Note(uint64(op.State.Tool+1), OpPlace(op)); n != nil {
			t.note = n
		}
		t.by[i] = max(t.by[i], by)
	}
}

func (a *approach) end(p *Pass) {
	for _, t := range a.tools {
		if t.note == nil {
			continue
		}
		var list []string
		for i, by := range t.by {
			if by > 0 {
				list = append(list, fmt.Sprintf("%s along %c", p.length(by), profiles.AxisLetters[i]))
			}
		}
		if t.bore {
			t.note.Level = Warning
		}
		t.note.Message = fmt.Sprintf("this hole is reached from the other side than the first of its tool: with the backlash of %s they lie %s off from each other", p.Machine.Name, join(list, "and"))
		t.note.Advice = "Come to all holes from one side: overshoot and come back, or put them in an order in which no axis turns round."
	}
}
