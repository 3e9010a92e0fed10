package adapt

import (
	"math"
	"strings"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// vec is a place in the plane of an arc: first and second axis, mm.
type vec [2]float64

func (v vec) minus(u vec) vec       { return vec{v[0] - u[0], v[1] - u[1]} }
func (v vec) length() float64       { return math.Hypot(v[0], v[1]) }
func polar(c vec, r, t float64) vec { return vec{c[0] + r*math.Cos(t), c[1] + r*math.Sin(t)} }

// piece is a part of an arc.
type piece struct {
	end  vec
	done float64 // share of the arc's sweep at its end, 0 to 1
}

// course is how an arc runs in its plane: about a centre, from an angle on, one
// way or the other.
type course struct {
	centre, from vec     // from is the start, seen from the centre
	begin, way   float64 // rad; 1 against the clock, -1 with it
}

func courseOf(op *done) course {
	first, second, _ := op.Plane.Axes()
	c := course{centre: vec{op.Center[first], op.Center[second]}, way: 1}
	c.from = vec{op.From[first], op.From[second]}.minus(c.centre)
	c.begin = math.Atan2(c.from[1], c.from[0])
	if op.CW {
		c.way = -1
	}
	return c
}

// makesArc says whether the machine makes such arcs at all.
func (a *adapter) makesArc(op *done) bool {
	arcs := &a.to.Arcs
	first, second, _ := op.Plane.Axes()
	flat := interp.AxisSet(1<<first | 1<<second)
	switch {
	case arcs.Planes != "" && !strings.Contains(arcs.Planes, op.Plane.String()),
		a.planeCode(op.Plane) == "" && a.w.plane != op.Plane,
		arcs.Largest != 0 && op.Radius > float64(arcs.Largest)+1e-9,
		!arcs.Helix && a.leaves(op, flat):
		return false
	}
	return true
}

// leaves says whether the arc moves an axis that is not of its plane.
func (a *adapter) leaves(op *done, flat interp.AxisSet) bool {
	for i := range profiles.NumAxes {
		if (op.Moves &^ flat).Has(i) && math.Abs(op.To[i]-op.From[i]) > 1e-9 {
			return true
		}
	}
	return false
}

func (a *adapter) planeCode(p interp.Plane) string {
	return a.to.CodeFor(profiles.PlaneXY + profiles.Meaning(p))
}

// crosses says whether an arc passes, not merely touches with an end, a
// direction of a plane axis.
func crosses(from, to, center interp.Point, cw bool, plane interp.Plane, sweep float64) bool {
	first, second, _ := plane.Axes()
	x, y := from[first]-center[first], from[second]-center[second]
	if cw {
		y = -y
	}
	const quarter = math.Pi / 2
	begin := math.Atan2(y, x)
	slack := math.Min(0.001/math.Hypot(x, y), 0.1)
	next := math.Floor((begin+slack)/quarter)*quarter + quarter
	return next < begin+sweep-slack
}

// arc writes an arc in the form that the machine takes, in pieces where it must
// be cut, or as chords.
func (a *adapter) arc(op *done) {
	w := a.w
	if op.FromKnown&op.ToKnown&op.Moves != op.Moves {
		a.straight(op, 0) // says what is not known
		return
	}
	if !a.makesArc(op) {
		a.did(Chords)
		a.chords(op, op.To, 1)
		return
	}
	if w.plane != op.Plane {
		w.code(profiles.PlaneXY + profiles.Meaning(op.Plane))
		w.plane = op.Plane
	}
	a.cut(op)
	if len(a.pieces) > 1 || a.form(op) {
		a.did(Arcs)
	}
	for i := range a.pieces {
		a.piece(op, &a.pieces[i])
	}
}

// form says whether the source writes the arc in another form than the machine
// takes.
func (a *adapter) form(op *done) bool {
	if a.block.Word('R') != nil {
		return true
	}
	if a.to.Arcs.Centre != "unsigned" || a.from.Arcs.Centre == "absolute" {
		return a.to.Arcs.Centre != a.from.Arcs.Centre
	}
	first, second, _ := op.Plane.Axes()
	return op.Center[first] < op.From[first]-1e-9 || op.Center[second] < op.From[second]-1e-9
}

// cut puts the pieces in which the machine takes the arc into a.pieces: at the
// quadrants, or a full circle in two.
func (a *adapter) cut(op *done) {
	a.pieces = a.pieces[:0]
	first, second, _ := op.Plane.Axes()
	run := courseOf(op)
	c, begin, way := run.centre, run.begin, run.way
	end := vec{op.To[first], op.To[second]}
	r1 := end.minus(c).length()
	at := func(share float64) vec { // the radius goes from that at the start to that at the end
		return polar(c, op.Radius+(r1-op.Radius)*share, begin+way*op.Sweep*share)
	}
	switch arcs := &a.to.Arcs; {
	case arcs.Quadrant:
		const quarter = math.Pi / 2
		slack := math.Min(2*a.least(op.Plane)/op.Radius, 0.1)
		next := math.Floor((way*begin+slack)/quarter)*quarter + quarter
		for ; next < way*begin+op.Sweep-slack; next += quarter {
			share := (next - way*begin) / op.Sweep
			a.pieces = append(a.pieces, piece{at(share), share})
		}
	case op.Sweep > 2*math.Pi-1e-6 && (!arcs.FullCircle || !a.closes(first, second, end)):
		a.pieces = append(a.pieces, piece{at(0.5), 0.5})
	}
	a.pieces = append(a.pieces, piece{end, 1})
}

// closes says whether the end of a full circle, as it is written, is where the
// machine stands: else it were no circle but a very short arc.
func (a *adapter) closes(first, second int, end vec) bool {
	w := a.w
	return math.Abs(w.snap(first, end[0])-w.at[first]) < 1e-7 && math.Abs(w.snap(second, end[1])-w.at[second]) < 1e-7
}

// least is the finest step that both axes of the plane can be told.
func (a *adapter) least(p interp.Plane) float64 {
	first, second, _ := p.Axes()
	return math.Max(a.w.step(first), a.w.step(second))
}

// piece writes one piece of an arc from where the machine stands.
func (a *adapter) piece(op *done, p *piece) {
	w := a.w
	first, second, normal := op.Plane.Axes()
	to := a.between(op, p)
	start := vec{w.at[first], w.at[second]}
	end := vec{w.snap(first, to[first]), w.snap(second, to[second])}
	small := end.minus(start).length() < 1.5*a.least(op.Plane)
	if small && !(p.done == 1 && len(a.pieces) == 1 && op.Sweep > math.Pi) {
		a.chord(op, to) // no more than a step or two
		return
	}
	center, ok := a.center(op, start, end)
	if !ok {
		a.did(Chords)
		a.chords(op, to, p.done)
		return
	}
	m := profiles.ArcCCW
	if op.CW {
		m = profiles.ArcCW
	}
	a.motionCode(m)
	before := w.at[normal]
	for i := range profiles.NumAxes {
		if i == first || i == second || op.Moves.Has(i) && (i != normal || w.snap(i, to[i]) != w.snap(i, w.at[i])) {
			w.goTo(i, to[i])
		}
	}
	a.centerWords(op.Plane, start, center)
	a.feedOf(op, math.Hypot(roundArc(start, end, center, op.CW), w.at[normal]-before))
}

// between is the place at the end of a piece: axes that are not of the plane
// move along with the angle.
func (a *adapter) between(op *done, p *piece) interp.Point {
	to := op.To
	if p.done < 1 {
		first, second, _ := op.Plane.Axes()
		for i := range to {
			to[i] = op.From[i] + (op.To[i]-op.From[i])*p.done
		}
		to[first], to[second] = p.end[0], p.end[1]
	}
	return to
}

var centreLetters = [3]byte{'I', 'J', 'K'}

// centerWords appends the centre in the form that the machine takes.
func (a *adapter) centerWords(plane interp.Plane, start, center vec) {
	w := a.w
	first, second, _ := plane.Axes()
	for i, axis := range [...]int{first, second} {
		v := center[i]
		if a.to.Arcs.Centre != "absolute" {
			v -= start[i]
		}
		if a.to.Arcs.Centre == "unsigned" {
			v = math.Abs(v)
		}
		w.number(centreLetters[axis], math.Round(v/a.centreStep()))
	}
}

// centreStep is what one in the last digit of a centre word is, mm: centres are
// no diameters.
func (a *adapter) centreStep() float64 { return math.Pow10(-a.w.decimals()) * a.w.inch() }

// center is a centre that can be written, such that both radii agree as far as
// the machine wants; ok is false where there is none near the true one.
func (a *adapter) center(op *done, start, end vec) (center vec, ok bool) {
	first, second, _ := op.Plane.Axes()
	step := a.centreStep()
	c := vec{op.Center[first], op.Center[second]}
	base := vec{}
	for i := range c {
		from := start[i]
		if a.to.Arcs.Centre == "absolute" {
			from = 0
		}
		base[i] = from + math.Round((c[i]-from)/step)*step
		// An end on an axis through the centre stays on it.
		for _, on := range [...]float64{start[i], end[i]} {
			if a.to.Arcs.Quadrant && math.Abs(on-c[i]) <= step && math.Abs(on-base[i]) > 1e-9 {
				base[i] = on
				break
			}
		}
	}
	most := 0.9 * interp.RadiusTolerance(a.to, a.w.units)
	if a.agrees(op, start, end, base, most) {
		return base, true
	}
	best := math.Inf(1)
	for i := -3; i <= 3; i++ {
		for j := -3; j <= 3; j++ {
			try := vec{base[0] + float64(i)*step, base[1] + float64(j)*step}
			if off := try.minus(c).length(); off < best && a.agrees(op, start, end, try, most) {
				best, center, ok = off, try, true
			}
		}
	}
	return center, ok
}

// agrees says whether the machine takes an arc with the centre: the radii are
// alike, and from unsigned distances it finds this centre and no other.
func (a *adapter) agrees(op *done, start, end, center vec, most float64) bool {
	off := math.Abs(start.minus(center).length() - end.minus(center).length())
	if off > most {
		return false
	}
	if a.to.Arcs.Centre != "unsigned" {
		return true
	}
	d := start.minus(center)
	for i := range 4 {
		try := vec{start[0] + math.Abs(d[0])*float64(1-i&1*2), start[1] + math.Abs(d[1])*float64(1-i>>1*2)}
		if try.minus(center).length() < 1e-9 {
			if turn(start, end, try, op.CW) > math.Pi/2+1e-3 {
				return false
			}
			continue
		}
		if turn(start, end, try, op.CW) <= math.Pi/2+1e-3 && math.Abs(start.minus(try).length()-end.minus(try).length()) <= off {
			return false
		}
	}
	return true
}

// turn is the angle from start to end about the centre, above 0.
func turn(start, end, center vec, cw bool) float64 {
	s, e := start.minus(center), end.minus(center)
	t := math.Atan2(e[1], e[0]) - math.Atan2(s[1], s[0])
	if cw {
		t = -t
	}
	if t <= 0 {
		t += 2 * math.Pi
	}
	return t
}

// chords writes the arc from where the machine stands to the share done of its
// sweep as straight moves within the tolerance.
func (a *adapter) chords(op *done, to interp.Point, share float64) {
	first, second, _ := op.Plane.Axes()
	run := courseOf(op)
	c, from, begin, way := run.centre, run.from, run.begin, run.way
	here := vec{a.w.at[first], a.w.at[second]}.minus(c)
	along := way * (math.Atan2(here[1], here[0]) - begin)
	gone := math.Mod(along+4*math.Pi, 2*math.Pi) / op.Sweep
	if here.minus(from).length() < 2*a.least(op.Plane) || gone >= share {
		gone = 0
	}
	r1 := math.Hypot(op.To[first]-c[0], op.To[second]-c[1])
	most := 2 * math.Acos(math.Max(0, 1-a.opt.Tolerance/math.Max(op.Radius, r1)))
	n := math.Ceil((share - gone) * op.Sweep / most)
	for i := 1.0; i < n; i++ {
		s := gone + (share-gone)*i/n
		p := piece{polar(c, op.Radius+(r1-op.Radius)*s, begin+way*op.Sweep*s), s}
		a.chord(op, a.between(op, &p))
	}
	a.chord(op, to)
}

// chord writes one straight move of an arc.
func (a *adapter) chord(op *done, to interp.Point) {
	w := a.w
	named := interp.AxisSet(0)
	for i := range profiles.NumAxes {
		if op.Moves.Has(i) && w.snap(i, to[i]) != w.snap(i, w.at[i]) {
			named |= 1 << i
		}
	}
	if named == 0 {
		return
	}
	a.motionCode(profiles.FeedMove)
	from := w.at
	for i := range profiles.NumAxes {
		if named.Has(i) {
			w.goTo(i, to[i])
		}
	}
	a.feedOf(op, a.ran(op, &from))
}
