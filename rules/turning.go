package rules

import (
	"fmt"
	"math"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// turnings are the rules about constant surface speed and threads.
func turnings() []*Rule {
	const head = "%\nG20 G18 G95\nT0101\n"
	return []*Rule{
		{
			Name: "css-crosses-gear", Family: "turning", Level: Error,
			Summary: "a cut under constant surface speed whose speed leaves the gear",
			Doc:     `Under constant surface speed the spindle turns faster as the tool comes nearer to the centre line. Where the speed passes the end of the gear that is engaged, the spindle stays at that end and the surface speed falls off, or the control stops; a control that shifts by itself shifts in the cut. The message tells the diameter at which it happens. Clamp the speed at the gear's highest, or face in two cuts, the second one in the other gear.`,
			Uses:    []string{"spindle.gears", "spindle.shift", "axes.x.diameter"},
			Example: Example{"slant-lathe",
				head + "M41\nG50 S2000\nG0 X4. Z0\nG96 S250 M3\nG1 X0 F.008\nM30\n%\n",
				head + "M41\nG50 S700\nG0 X4. Z0\nG96 S250 M3\nG1 X0 F.008\nM30\n%\n"},
			New: newCrosses,
		},
		{
			Name: "css-clamp-missing", Family: "turning", Level: Warning,
			Summary: "constant surface speed without a highest speed",
			Doc:     `On the way to the centre line the speed that constant surface speed asks for grows without end: the spindle runs to its highest, whatever the chuck, its jaws and the part bear. A clamp before the first cut says how fast this job may turn.`,
			Uses:    []string{"codes", "spindle.clamp_with_set_position"},
			Example: Example{"slant-lathe",
				head + "M41\nG0 X4. Z0\nG96 S250 M3\nG1 X3. F.008\nM30\n%\n",
				head + "M41\nG50 S700\nG0 X4. Z0\nG96 S250 M3\nG1 X3. F.008\nM30\n%\n"},
			New: newClampMissing,
		},
		{
			Name: "thread-lead-limit", Family: "turning", Level: Error,
			Summary: "a thread whose lead times the speed is more than the axis feeds",
			Doc:     `In a thread the slide goes one lead a revolution, without an override. Where that is more than the axis feeds, the control stops or the lead comes out short, and what is cut is no thread. A coarser lead wants a slower spindle.`,
			Uses:    []string{"axes.*.feed", "spindle.gears"},
			Example: Example{"slant-lathe",
				head + "M42\nS2400 M3\nG0 X2. Z.5\nG33 Z-1. F.1\nM30\n%\n",
				head + "M41\nS600 M3\nG0 X2. Z.5\nG33 Z-1. F.1\nM30\n%\n"},
			New: newLeadLimit,
		},
		{
			Name: "thread-under-surface-speed", Family: "turning", Level: Warning,
			Summary: "a thread is cut under constant surface speed",
			Doc:     `Each pass of a thread lies at another diameter: under constant surface speed each has another speed, and the slide, which lags behind by the more the faster it goes, begins each pass at another place of the thread. Threads are cut at a fixed speed.`,
			Uses:    []string{"codes"},
			Example: Example{"slant-lathe",
				head + "M41\nG50 S600\nG0 X2. Z.5\nG96 S200 M3\nG33 Z-1. F.05\nM30\n%\n",
				head + "M41\nG50 S600\nG0 X2. Z.5\nG97 S400 M3\nG33 Z-1. F.05\nM30\n%\n"},
			New: func(*profiles.Machine, *Options) Checker {
				return Checker{Op: threadSurface, Ops: Of(interp.Feed), Steady: true}
			},
		},
		{
			Name: "surface-speed-on-centre", Family: "turning", Level: Warning,
			Summary: "drilling on the centre line under constant surface speed",
			Doc:     `On the centre line constant surface speed asks for a speed without end: a drill, reamer or tap there turns at the highest that is set, or that the spindle has, whatever S says. Most often the fixed speed was forgotten behind a turning tool, and S in rpm is read as a surface speed. Before the first cut and at tool changes it is worth a look at what the last tool left in force.`,
			Uses:    []string{"codes"},
			Example: Example{"slant-lathe",
				head + "M42\nG50 S2400\nG0 X2. Z.1\nG96 S400 M3\nG1 Z-1. F.008\nG0 X6. Z3.\nT0505\nS700 M3\nG0 X0 Z.2\nG1 Z-1. F.006\nG0 Z1.\nM30\n%\n",
				head + "M42\nG50 S2400\nG0 X2. Z.1\nG96 S400 M3\nG1 Z-1. F.008\nG0 X6. Z3.\nT0505\nG97 S700 M3\nG0 X0 Z.2\nG1 Z-1. F.006\nG0 Z1.\nM30\n%\n"},
			New: newCentreSurface,
		},
		{
			Name: "cut-past-centre", Family: "turning", Level: Warning,
			Summary: "a cut goes on beyond the centre line",
			Doc:     `A facing cut ends at the centre line, or beyond it by what the nose is round. Further on the work comes at the tool from behind and below: the edge breaks off. Most often X has a sign too many, or a decimal point too far to the right. Told of where one feed move goes from X above zero to more than 2.5 mm (0.1 in) below it; tools that begin and work below zero are meant to.`,
			Uses:    []string{"axes.x.diameter"},
			Example: Example{"slant-lathe",
				head + "M41\nG97 S500 M3\nG0 X2. Z0\nG1 X-1. F.008\nG0 Z.1\nM30\n%\n",
				head + "M41\nG97 S500 M3\nG0 X2. Z0\nG1 X-.06 F.008\nG0 Z.1\nM30\n%\n"},
			New: func(m *profiles.Machine, _ *Options) Checker {
				if m.Kind != "lathe" {
					return Checker{}
				}
				return Checker{Op: pastCentre, Ops: Of(interp.Feed)}
			},
		},
	}
}

// pastCentre is a cut from one side of the centre line to the other.
func pastCentre(p *Pass, op *interp.Op) {
	const most = 2.5 // mm: twice the largest nose of common tools
	if !(op.FromKnown & op.ToKnown).Has(0) || op.From[0] <= slack || op.To[0] >= -most {
		return
	}
	if n := p.Note(0, axisPlace(op, 0)); n != nil {
		n.Message = fmt.Sprintf("a cut from the work to %s beyond the centre line", p.length(-op.To[0]))
		n.Advice = "Check the sign and the decimal point of X."
	}
}

// surfaced says whether a cut is made under a constant surface speed that is
// known. Of threads and of holes on the centre line it is not asked: they are cut
// at a fixed speed, and thread-under-surface-speed or surface-speed-on-centre has
// said so.
func surfaced(op *interp.Op) bool {
	s := op.State
	return s.Surface > 0 && turning(s) && op.Lead == 0 && !onCentre(op)
}

// onCentre says whether a cut goes along the centre line.
func onCentre(op *interp.Op) bool {
	return op.Kind == interp.Feed && (op.FromKnown & op.ToKnown).Has(0) && math.Abs(op.From[0]) < slack && math.Abs(op.To[0]) < slack
}

// speeds is the range of rpm that constant surface speed asks for along a cut,
// within the clamp; the limits of the machine are left aside. Without a clamp it
// is infinite on the centre line. False: where the cut lies is not known.
func speeds(op *interp.Op) (low, high float64, ok bool) {
	near, far, ok := radii(op)
	if !ok {
		return 0, 0, false
	}
	law := interp.SpeedLaw{Surface: op.State.Surface, Highest: math.Inf(1)}
	if c := op.State.Clamp; c > 0 {
		law.Highest = c
	}
	return law.At(far), law.At(near), true
}

// radii are how near to the centre line a cut comes and how far from it, mm.
func radii(op *interp.Op) (near, far float64, ok bool) {
	if !(op.FromKnown & op.ToKnown).Has(0) {
		return 0, 0, false
	}
	a, b := op.From[0], op.To[0]
	low, high := math.Min(a, b), math.Max(a, b)
	if first, second, _ := op.Plane.Axes(); op.Kind == interp.Arc && (first == 0 || second == 0) {
		from, to := arcBox(op)
		i := 0
		if second == 0 {
			i = 1
		}
		low, high = from[i], to[i]
	}
	near, far = math.Min(math.Abs(low), math.Abs(high)), math.Max(math.Abs(low), math.Abs(high))
	if low < 0 && high > 0 {
		near = 0
	}
	return near, far, true
}

// diameterAt is where constant surface speed turns n rpm, for people.
func (p *Pass) diameterAt(op *interp.Op, n float64) string {
	law := interp.SpeedLaw{Surface: op.State.Surface}
	return p.length(2*law.Radius(n)) + " diameter"
}

// surface writes a surface speed.
func (p *Pass) surface(v float64) string {
	if p.Machine.Display == "inch" {
		return trim(v*60/304.8, 0) + " ft/min"
	}
	return trim(v*60/1000, 1) + " m/min"
}

// hair is the share by which a speed may pass a limit: rounding, and the corner
// of a clamp that is set to the gear's own end.
const hair = 1e-6

func newCrosses(m *profiles.Machine, _ *Options) Checker {
	if len(m.Spindle.Gears) < 2 || m.Spindle.Shift == "by-hand" {
		return Checker{}
	}
	c := &crossing{}
	return Checker{State: []any{c}, Op: c.op, Ops: Of(interp.Feed, interp.Arc), Steady: true}
}

// crossing remembers the last gear and surface speed at which a cut lay outside
// the gear: speed-outside-gear has told of it.
type crossing struct{ outside uint64 }

// surfaceGear is one surface speed in one gear.
func surfaceGear(s *interp.State) uint64 { return math.Float64bits(s.Surface) ^ uint64(s.Gear) }

func (c *crossing) op(p *Pass, op *interp.Op) {
	s := op.State
	if !surfaced(op) || s.Gear < 0 || s.Unknown&interp.UnknownGear != 0 {
		return
	}
	low, high, ok := speeds(op)
	if !ok {
		return
	}
	m, g := p.Machine, &p.Machine.Spindle.Gears[s.Gear]
	least, most := float64(g.Speed[0]), float64(g.Speed[1])
	_, top, _ := speedRange(m)
	end, word := 0.0, ""
	switch {
	case low <= most*(1-hair) && high > most*(1+hair) && most < top:
		end, word = most, "over"
	case high >= least*(1+hair) && low < least*(1-hair):
		end, word = least, "under"
	default:
		if high < least*(1-hair) || low > most*(1+hair) {
			c.outside = surfaceGear(s)
		}
		return
	}
	if c.outside == surfaceGear(s) {
		return
	}
	n := p.Note(math.Float64bits(s.Surface)^math.Float64bits(end), OpPlace(op))
	if n == nil {
		return
	}
	n.Message = fmt.Sprintf("at %s the speed goes %s %s rpm, the end of gear %s, at %s; %s",
		p.surface(s.Surface), word, rpm(end), g.Name, p.diameterAt(op, end), p.behind(op, low, high))
	if s.Clamp == 0 && word == "over" {
		p.unclamped = true
		n.Message += ", for no highest speed is set"
	}
	if m.Spindle.Shift == "automatic" {
		n.Message += ": the control shifts in the cut or holds the speed there"
	}
	other := m.Spindle.Reaching(math.Min(high, top))
	if word == "under" {
		other = m.Spindle.Reaching(low)
		n.Advice = fmt.Sprintf("Cut what lies outside that diameter in %s, with the spindle stopped between, or lower the surface speed.", orOther(m, other))
		return
	}
	n.Advice = fmt.Sprintf("Clamp the speed with %s S%s, or cut what lies inside that diameter in %s, with the spindle stopped between.",
		clampCode(m), rpm(most), orOther(m, other))
}

// behind tells the speeds that the cut asks for.
func (p *Pass) behind(op *interp.Op, low, high float64) string {
	if math.IsInf(high, 1) {
		return fmt.Sprintf("the cut asks for %s rpm and more, to the centre line", rpm(low))
	}
	if rpm(low) == rpm(high) {
		return fmt.Sprintf("the cut asks for %s rpm", rpm(low))
	}
	return fmt.Sprintf("the cut asks for %s to %s rpm", rpm(low), rpm(high))
}

func orOther(m *profiles.Machine, set uint64) string {
	if set == 0 {
		return "another gear"
	}
	return gearNames(m, set)
}

// noClamp stands for the code of a machine that has none.
const noClamp = "the clamp"

// clampCode is the code that sets the highest speed.
func clampCode(m *profiles.Machine) string {
	if code := m.CodeFor(profiles.ClampSpeed); code != "" {
		return code
	}
	if m.Spindle.Clamp {
		return orCode(m, profiles.SetPosition, noClamp)
	}
	return noClamp
}

func newClampMissing(m *profiles.Machine, _ *Options) Checker {
	if m.CodeFor(profiles.SurfaceSpeed) == "" || clampCode(m) == noClamp {
		return Checker{}
	}
	var at Place
	end := func(p *Pass) {
		if p.unclamped {
			p.drop(0) // css-crosses-gear says it, and the clamp mends both
		}
	}
	return Checker{State: []any{&at}, End: end, Ops: Of(interp.Spindle, interp.Feed, interp.Arc), Steady: true, Op: func(p *Pass, op *interp.Op) {
		s := op.State
		if op.Kind == interp.Spindle {
			at = OpPlace(op)
			return
		}
		if !surfaced(op) || s.Clamp > 0 {
			return
		}
		if at.Line == 0 {
			at = OpPlace(op)
		}
		n := p.Note(0, at)
		if n == nil {
			return
		}
		n.Message = fmt.Sprintf("constant surface speed, %s, and no highest speed is set", p.surface(s.Surface))
		if _, high, ok := speedRange(m); ok {
			n.Message += fmt.Sprintf(": inside %s the spindle runs up to %s rpm", p.diameterAt(op, high), rpm(high))
		}
		n.Advice = fmt.Sprintf("Write %s S and what chuck and part bear before it.", clampCode(m))
	}}
}

// outsideSurfaced is speed-outside-gear under constant surface speed: all of a
// cut lies outside the gear. What crosses its end, another rule tells, and once
// it has told of a surface speed in a gear this one is silent about it.
func (o *outside) surfaced(p *Pass, op *interp.Op) {
	s := op.State
	low, high, ok := speeds(op)
	if !ok || s.Unknown&interp.UnknownGear != 0 {
		return
	}
	if s.Gear < 0 {
		ungearedSurfaced(p, op, low, high)
		return
	}
	g := &p.Machine.Spindle.Gears[s.Gear]
	least, most := float64(g.Speed[0]), float64(g.Speed[1])
	_, top, _ := speedRange(p.Machine)
	if low <= most*(1+hair) && high >= least*(1-hair) || low > top {
		if low < least*(1-hair) || high > most*(1+hair) && most < top {
			o.crossed = surfaceGear(s)
		}
		return
	}
	if o.crossed == surfaceGear(s) {
		return
	}
	if n := p.Note(surfaceGear(s), OpPlace(op)); n != nil {
		n.Message = fmt.Sprintf("%s in gear %s, which turns %s to %s rpm; %s",
			p.surface(s.Surface), g.Name, rpm(least), rpm(most), p.behind(op, low, high))
		n.Advice = fmt.Sprintf("Engage %s before the cut, with the spindle stopped, or choose a surface speed that %s reaches.",
			orOther(p.Machine, p.Machine.Spindle.Reaching(math.Min(high, top))), g.Name)
	}
}

// ungearedSurfaced is a cut before the program has engaged a gear.
func ungearedSurfaced(p *Pass, op *interp.Op, low, high float64) {
	n := p.Note(0, OpPlace(op))
	if n == nil {
		return
	}
	n.Level = Warning
	n.Message = fmt.Sprintf("constant surface speed, and the program has not engaged a gear: it runs in whichever the last job left; %s", p.behind(op, low, high))
	n.Advice = fmt.Sprintf("Engage a gear before the speed, with the spindle stopped; they are %s.", gearList(p.Machine))
}

// overSurfaced is speed-over-machine under constant surface speed.
func overSurfaced(p *Pass, op *interp.Op, top float64) {
	s := op.State
	low, high, ok := speeds(op)
	if !ok || high <= top*(1+hair) {
		return
	}
	if s.Clamp > top {
		return // clamp-over-machine speaks
	}
	hasClamp := clampCode(p.Machine) != noClamp
	if s.Clamp == 0 && hasClamp && low < top {
		return // css-clamp-missing speaks
	}
	if g := s.Gear; g >= 0 && s.Unknown&interp.UnknownGear == 0 && float64(p.Machine.Spindle.Gears[g].Speed[1]) < top {
		return // the end of the gear comes first, and another rule speaks
	}
	n := p.Note(math.Float64bits(s.Surface), OpPlace(op))
	if n == nil {
		return
	}
	n.Level = Warning // the control holds the speed at the highest
	where := "all along this cut"
	if low < top {
		where = "inside " + p.diameterAt(op, top)
	}
	n.Message = fmt.Sprintf("%s is more than %s rpm, the highest of %s, %s: the spindle stays at its highest there", p.surface(s.Surface), rpm(top), p.Machine.Name, where)
	n.Advice = "Lower the surface speed, or cut there at one speed."
	if hasClamp && low < top {
		n.Advice = fmt.Sprintf("Set the highest speed with %s S%s or less, so that the program says what happens.", clampCode(p.Machine), rpm(top))
	}
}

// leadLimit knows what the axes feed, mm/s; 0: no limit.
type leadLimit [3]float64

func newLeadLimit(m *profiles.Machine, _ *Options) Checker {
	var l leadLimit
	for i := range l {
		if a := m.Axis(i); a != nil {
			l[i] = float64(a.HighestFeed())
		}
	}
	return Checker{State: []any{l}, Op: l.op, Ops: Of(interp.Feed), Steady: true}
}

func (l *leadLimit) op(p *Pass, op *interp.Op) {
	if op.Lead == 0 || op.PerRev == 0 {
		return
	}
	top := highestFeed(op)
	for i, limit := range l {
		v := top * share(op, i)
		if limit == 0 || v <= limit*(1+1e-9) {
			continue
		}
		n := p.Note(math.Float64bits(op.Lead)^math.Float64bits(op.State.Speed), OpPlace(op))
		if n == nil {
			return
		}
		n.Message = fmt.Sprintf("a lead of %s at %s rpm moves %c at %s; that axis of %s feeds up to %s",
			p.fine(op.Lead), rpm(60*top/op.PerRev), profiles.AxisLetters[i], p.feed(v), p.Machine.Name, p.feed(limit))
		n.Advice = fmt.Sprintf("Cut this thread at %s rpm or less.", rpm(math.Floor(60*top/op.PerRev*limit/v)))
		return
	}
}

// highestFeed is the greatest feed along a move, mm/s: under constant surface
// speed that at the place nearest to the centre line.
func highestFeed(op *interp.Op) float64 {
	if op.PerRev == 0 || op.Turn.Surface == 0 {
		return op.Feed
	}
	near, _, ok := radii(op)
	if !ok {
		return op.Feed
	}
	return op.PerRev * op.Turn.At(near) / 60
}

func threadSurface(p *Pass, op *interp.Op) {
	if op.Lead == 0 || op.State.Surface == 0 || !turning(op.State) {
		return
	}
	if n := p.Note(0, OpPlace(op)); n != nil {
		n.Message = fmt.Sprintf("a thread under constant surface speed (%s)", p.surface(op.State.Surface))
		n.Advice = fmt.Sprintf("Write %s and S in rpm before it.", orCode(p.Machine, profiles.SpindleSpeed, "the code for a fixed speed"))
	}
}

// centred waits for the end of a tool's work: one that cuts elsewhere too is no
// drill, and may begin its contour on the centre line.
type centred struct {
	at      Place // no line: none
	surface float64
	clamp   float64
}

func newCentreSurface(m *profiles.Machine, _ *Options) Checker {
	if m.CodeFor(profiles.SurfaceSpeed) == "" {
		return Checker{}
	}
	c := &centred{}
	return Checker{State: []any{c}, Op: c.op, Ops: Of(interp.Feed, interp.Arc, interp.Tool), End: c.say}
}

func (c *centred) op(p *Pass, op *interp.Op) {
	s := op.State
	switch {
	case op.Kind == interp.Tool:
		c.say(p)
		*c = centred{}
	case !onCentre(op):
		c.surface = -1
	case c.surface == 0 && s.Surface > 0 && turning(s) && op.Lead == 0 && op.To[2] < op.From[2]:
		*c = centred{OpPlace(op), s.Surface, s.Clamp}
	}
}

func (c *centred) say(p *Pass) {
	if c.surface <= 0 {
		return
	}
	n := p.Note(0, c.at)
	if n == nil {
		return
	}
	turns := "as fast as it can"
	if _, high, ok := speedRange(p.Machine); c.clamp > 0 || ok {
		if c.clamp > 0 && (!ok || c.clamp < high) {
			high = c.clamp
		}
		turns = "at " + rpm(high) + " rpm"
	}
	n.Message = fmt.Sprintf("a hole on the centre line under constant surface speed (%s): there the spindle turns %s, whatever S says", p.surface(c.surface), turns)
	n.Advice = fmt.Sprintf("Write %s and S in rpm for this tool.", orCode(p.Machine, profiles.SpindleSpeed, "the code for a fixed speed"))
}
