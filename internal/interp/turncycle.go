package interp

import (
	"fmt"
	"math"
	"strings"

	"tapefit/parser"
	"tapefit/profiles"
)

// Turning cycles, as they are common practice. All lie in the ZX plane and end
// where they began. Values along X that are depths of cut, retracts and reliefs
// are radii; the finishing allowance along X is a diameter where X words are.
//
// What is left open by the trade is taken thus: the way back after a pass is a
// traverse at 45 degrees by the retract and then along the pass; the rough
// contour is the contour moved by the allowances; behind the passes the tool
// cuts along that once.

// rough is what the first block of a cycle of two says, in mm.
type rough struct {
	m        profiles.Meaning // of the cycle that the values are for; Refused: none
	cut      float64          // depth of one pass
	retract  float64
	relief   [2]float64 // of a pattern: along X and Z
	passes   int64      // of a pattern
	repeats  int64      // of a thread: passes at the full depth
	chamfer  float64    // of a thread: run-out, in leads
	angle    float64    // of a thread, degrees
	leastCut float64    // of a thread
	finish   float64    // of a thread: depth of the last cut
}

// turningCycle executes a cycle of the family with its own words.
func (in *Interp) turningCycle(b *parser.Block, m profiles.Meaning) error {
	w, s := &in.w, &in.s
	word := w.gAt[profiles.NonModal]
	defer func() { in.w.used = ^uint32(0) }()
	if in.lathe.inside {
		in.faultCause(BadValue, b, word, "a cycle stands within the contour of a cycle")
		return nil
	}
	if in.changing && m.IsContour() {
		in.faultCause(NotInterpreted, b, word, "a contour in a tool-change program is not computed")
		return nil
	}
	two := in.m.Turning.CycleLines == 2
	if two && in.firstLine(m) {
		in.lathe.rough = in.readFirst(m)
		return nil
	}
	if s.Known&(X|Z) != X|Z || s.Unknown&(UnknownUnits|UnknownDistance|UnknownPlane) != 0 || w.doubt {
		in.loseAxes(X | Z) // it would end where it began, and where that is nobody knows
		return nil
	}
	if s.Plane != ZX {
		in.faultCause(NotInterpreted, b, word, "turning cycles are computed in the ZX plane")
		return nil
	}
	r := &in.lathe.rough
	if !two {
		*r = in.readOne(m)
	} else if r.m != m && m != profiles.FinishContour && (m != profiles.FaceGroove && m != profiles.TurnGroove) {
		in.faultCause(BadValue, b, word, "the first of the two blocks of this cycle, with the depth of cut, is missing")
		return nil
	}
	was := in.op.InCycle
	in.op.InCycle = true
	defer func() { in.op.InCycle = was }()
	switch m {
	case profiles.FinishContour:
		in.op.InCycle = was
		return in.finish(b, word)
	case profiles.RoughTurn:
		return in.roughing(b, course{in: in, word: word, depth: 0, along: 2})
	case profiles.RoughFace:
		return in.roughing(b, course{in: in, word: word, depth: 2, along: 0})
	case profiles.RoughPattern:
		return in.pattern(b, word)
	case profiles.FaceGroove:
		in.groove(b, course{in: in, word: word, depth: 2, along: 0})
	case profiles.TurnGroove:
		in.groove(b, course{in: in, word: word, depth: 0, along: 2})
	case profiles.ThreadCycle:
		in.threadCycle(b, word)
	}
	return nil
}

// firstLine says whether the block is the first of a cycle that is written in
// two: it names no contour and no place.
func (in *Interp) firstLine(m profiles.Meaning) bool {
	if m.IsContour() {
		return m != profiles.FinishContour && !in.w.has('P') && !in.w.has('Q')
	}
	return in.w.axes()&(X|Z) == 0
}

// mm is the value of a word as a length, or what stands for it where it is
// missing. Without a point it counts least increments on a control that counts, and
// may do so in grooves and threads on others.
func (in *Interp) mm(letter byte, missing float64) float64 {
	if !in.w.has(letter) {
		return missing
	}
	v := in.w.take(letter) * in.linear
	word := &in.op.Block.Words[in.w.at[letter-'A']]
	if word.Point || word.Expr != nil || in.countsNumbers(letter) {
		return v
	}
	switch point := in.m.Numbers.Point; {
	case point == "counts" || point == "refused": // so does every length
		v *= in.countWorth(word)
	case !in.w.g[profiles.NonModal].IsContour() && strings.IndexByte(in.m.Turning.Counts, letter) >= 0:
		v *= in.leastIncrement()
	}
	return v
}

// readFirst reads the first block of two.
func (in *Interp) readFirst(m profiles.Meaning) rough {
	r := rough{m: m, retract: float64(in.m.Turning.Retract), repeats: 1}
	switch m {
	case profiles.RoughTurn:
		r.cut = math.Abs(in.mm('U', 0))
	case profiles.RoughFace:
		r.cut = math.Abs(in.mm('W', 0))
	case profiles.RoughPattern:
		r.relief = [2]float64{in.mm('U', 0), in.mm('W', 0)}
		r.passes, _ = whole(in.w.take('R'))
		return r
	case profiles.ThreadCycle:
		// P holds three numbers of two digits: passes at the full depth, the run-out
		// in tenths of the lead, the angle of the tool.
		n, _ := whole(in.w.take('P'))
		r.repeats, r.chamfer, r.angle = n/10000, float64(n/100%100)/10, float64(n%100)
		r.leastCut = in.mm('Q', 0)
		r.finish = math.Abs(in.mm('R', 0))
		return r
	}
	r.retract = math.Abs(in.mm('R', r.retract))
	return r
}

// readOne reads the same from the only block of a cycle.
func (in *Interp) readOne(m profiles.Meaning) rough {
	r := rough{m: m, retract: float64(in.m.Turning.Retract), repeats: 1}
	switch m {
	case profiles.RoughPattern:
		r.relief = [2]float64{in.mm('I', 0), in.mm('K', 0)}
		r.passes, _ = whole(in.w.take('D'))
	case profiles.ThreadCycle:
		r.angle = in.w.take('A')
	case profiles.RoughTurn, profiles.RoughFace:
		r.cut = math.Abs(in.mm('D', 0))
	}
	return r
}

// allowances is how far the rough contour lies from the finished one.
func (in *Interp) allowances() (shift Point) {
	shift[0] = in.w.take('U') * in.unit(0)
	shift[2] = in.w.take('W') * in.linear
	return shift
}

// finish executes the contour itself and goes back to where it began.
func (in *Interp) finish(b *parser.Block, word int) error {
	home := in.s.At
	w, op := in.w, in.op
	ok, err := in.contourBlocks(b)
	in.w, in.op = w, op
	if !ok || err != nil {
		return err
	}
	c := course{in: in, word: word, depth: 0, along: 2}
	in.op.InCycle = true
	c.both(Traverse, home[0], home[2])
	in.op.InCycle = false
	return nil
}

// roughing takes the stock off in passes along one axis, each to where it meets
// the rough contour, and then cuts along that.
func (in *Interp) roughing(b *parser.Block, c course) error {
	r := &in.lathe.rough
	shift := in.allowances()
	if ok, err := in.readContour(b, c.word); !ok {
		return err
	}
	if !(r.cut > 0) {
		in.faultCause(BadValue, b, c.word, "the depth of one cut is more than zero")
		return nil
	}
	first, contour := &in.lathe.contour[0], in.lathe.contour[1:]
	depth, along := c.at()
	start := contour[0].from[c.depth] + shift[c.depth]
	up := math.Copysign(1, depth-start)
	on := math.Copysign(1, contour[len(contour)-1].to[c.along]-along)
	if cause := in.unfit(first, contour, c, up, on); cause != "" {
		in.faultCause(NotInterpreted, b, c.word, cause)
		return nil
	}
	if math.Abs(depth-start)/r.cut > maxPecks {
		in.faultCause(BadValue, b, c.word, "the depth of one cut is so small that there are over 10,000 passes")
		return nil
	}
	in.op.Step, in.op.Depth = r.cut, math.Abs(depth-start)
	defer func() { in.op.Step, in.op.Depth = 0, 0 }()
	approach := Feed
	if first.rapid {
		approach = Traverse
	}
	for level := depth; up*(level-start) > 1e-6; {
		if !in.spend(b, c.word) {
			return nil
		}
		level -= up * r.cut
		if up*(level-start) < 1e-6 {
			level = start
		}
		end := reach(contour, c.depth, c.along, shift, level, up)
		if on*(end-along) <= 0 {
			continue
		}
		c.one(approach, c.depth, level)
		c.one(Feed, c.along, end)
		back := end - on*r.retract
		if on*(back-along) < 0 {
			back = along
		}
		c.to(Traverse, level+up*r.retract, back)
		c.one(Traverse, c.along, along)
	}
	c.one(approach, c.depth, start)
	in.follows(contour, shift, c.word)
	c.one(Traverse, c.depth, depth)
	c.one(Traverse, c.along, along)
	return nil
}

// unfit says why a contour cannot be roughed out in straight passes, or "".
func (in *Interp) unfit(first *contourMove, contour []contourMove, c course, up, on float64) string {
	const slack = 1e-6
	letter := profiles.AxisLetters[c.depth]
	if first.arc || math.Abs(first.to[c.along]-first.from[c.along]) > slack {
		return fmt.Sprintf("the contour begins in line %d with a move that is not along %c alone", first.line, letter)
	}
	if line, ok := steady(contour, c.depth, c.along, up, on); !ok {
		return fmt.Sprintf("the contour goes back along X or Z in line %d: passes are computed for contours that rise or fall all the way", line)
	}
	return ""
}

// follows cuts along the contour, moved by a shift, from where the tool is.
func (in *Interp) follows(contour []contourMove, shift Point, word int) {
	c := course{in: in, word: word, depth: 0, along: 2}
	if g := &contour[0]; in.s.At[0] != g.from[0]+shift[0] || in.s.At[2] != g.from[2]+shift[2] {
		c.both(Feed, g.from[0]+shift[0], g.from[2]+shift[2])
	}
	for i := range contour {
		g := &contour[i]
		if !g.arc {
			c.both(Feed, g.to[0]+shift[0], g.to[2]+shift[2])
			continue
		}
		a := g.shape
		for _, at := range [...]*[2]float64{&a.start, &a.end, &a.center} {
			at[0] += shift[2]
			at[1] += shift[0]
		}
		to := in.s.At
		to[0], to[2] = g.to[0]+shift[0], g.to[2]+shift[2]
		in.showArc(word, &a, g.radius, to, in.s.Known, X|Z, 1)
	}
}

// pattern cuts along the contour several times, each pass nearer than the one
// before: castings and forgings, whose stock has the form already.
func (in *Interp) pattern(b *parser.Block, word int) error {
	r := &in.lathe.rough
	allow := in.allowances()
	if ok, err := in.readContour(b, word); !ok {
		return err
	}
	if r.passes < 1 || r.passes > maxPecks {
		in.faultCause(BadValue, b, word, "the number of passes is a whole number from 1 to 10,000")
		return nil
	}
	home := in.s.At
	first, contour := in.lathe.contour[0], in.lathe.contour[1:]
	approach := Feed
	if first.rapid {
		approach = Traverse
	}
	c := course{in: in, word: word, depth: 0, along: 2}
	for i := range r.passes {
		if !in.spend(b, word) {
			return nil
		}
		left := 0.0
		if r.passes > 1 {
			left = float64(r.passes-1-i) / float64(r.passes-1)
		}
		shift := allow
		shift[0] += r.relief[0] * left
		shift[2] += r.relief[1] * left
		c.both(Traverse, home[0]+shift[0], home[2]+shift[2])
		c.both(approach, contour[0].from[0]+shift[0], contour[0].from[2]+shift[2])
		in.follows(contour, shift, word)
	}
	c.one(Traverse, 0, home[0])
	c.one(Traverse, 2, home[2])
	return nil
}

// groove pecks in along the depth, and goes on beside until it is wide enough.
func (in *Interp) groove(b *parser.Block, c course) {
	w, s := &in.w, &in.s
	axes := w.axes() & (X | Z)
	to, _ := in.target(b, axes)
	if !axes.Has(c.depth) {
		in.faultMissing(b, c.word, axisLetter[c.depth])
		return
	}
	retract := float64(in.m.Turning.Retract)
	if in.lathe.rough.m == w.g[profiles.NonModal] {
		retract = in.lathe.rough.retract
	}
	stepX, stepZ, relief := byte('P'), byte('Q'), byte('R')
	if in.m.Turning.CycleLines == 1 {
		stepX, stepZ, relief = 'I', 'K', 'D'
	}
	steps := [...]float64{0: math.Abs(in.mm(stepX, 0)), 2: math.Abs(in.mm(stepZ, 0))}
	aside := math.Abs(in.mm(relief, 0))
	depth, along := c.at()
	in.op.Step, in.op.Depth = steps[c.depth], math.Abs(to[c.depth]-depth)
	defer func() { in.op.Step, in.op.Depth = 0, 0 }()
	wide := to[c.along] - along
	way := math.Copysign(1, wide)
	holes := 1
	if step := steps[c.along]; step > 0 && wide != 0 {
		if math.Abs(wide)/step > maxPecks {
			in.faultCause(BadValue, b, c.word, "the step aside is so small that there are over 10,000 of them")
			return
		}
		holes += int(math.Ceil(math.Abs(wide)/step - 1e-9))
	} else if wide != 0 {
		holes = 2
	}
	for i := range holes {
		if !in.spend(b, c.word) {
			return
		}
		at := to[c.along]
		if i < holes-1 {
			at = along + way*steps[c.along]*float64(i)
		}
		if s.At[c.along] != at {
			c.one(Traverse, c.along, at)
		}
		if !in.pecks(b, c, depth, to[c.depth], steps[c.depth], retract) {
			return
		}
		if i > 0 && aside > 0 {
			c.one(Traverse, c.along, at-way*aside)
		}
		c.one(Traverse, c.depth, depth)
	}
	if s.At[c.along] != along {
		c.one(Traverse, c.along, along)
	}
}

// pecks feeds in from one level to another by steps, and back a little each time.
func (in *Interp) pecks(b *parser.Block, c course, from, to, step, retract float64) bool {
	way := math.Copysign(1, to-from)
	if step == 0 {
		step = math.Abs(to - from)
	}
	if math.Abs(to-from) > maxPecks*step {
		in.faultCause(BadValue, b, c.word, "the depth of one peck is so small that there are over 10,000 of them")
		return false
	}
	for level := from; ; {
		level += way * step
		if way*(to-level) < 1e-9 {
			c.one(Feed, c.depth, to)
			return true
		}
		if !in.spend(b, c.word) {
			return false
		}
		c.one(Feed, c.depth, level)
		c.one(Traverse, c.depth, level-way*math.Min(retract, way*(level-from)))
	}
}

// threadCycle cuts a thread in passes of equal chip: the depth grows with the
// root of their number (common practice).
func (in *Interp) threadCycle(b *parser.Block, word int) {
	r := &in.lathe.rough
	t, ok := in.threadWords(b, word)
	if !ok {
		return
	}
	depth, rough := 0.0, t.high-r.finish
	for n := 1.0; depth < rough-1e-9; n++ {
		if !in.spend(b, word) {
			return
		}
		depth = math.Min(math.Max(t.first*math.Sqrt(n), depth+r.leastCut), rough)
		t.cut(depth)
	}
	last := max(r.repeats, 1)
	if r.finish == 0 {
		last-- // the last pass was at the full depth
	}
	for range last {
		if !in.spend(b, word) {
			return
		}
		t.cut(t.high)
	}
}

// threadWords reads the block of a thread cycle that says where it goes. False: a
// fault has said what is wrong with it.
func (in *Interp) threadWords(b *parser.Block, word int) (t threading, ok bool) {
	w, r, home := &in.w, &in.lathe.rough, in.s.At
	to, _ := in.target(b, w.axes()&(X|Z))
	taper, height, first := byte('R'), byte('P'), byte('Q')
	if in.m.Turning.CycleLines == 1 {
		taper, height, first = 'I', 'K', 'D'
	}
	for _, letter := range [...]byte{'X', 'Z', height, first} {
		if !w.has(letter) {
			in.faultMissing(b, word, letter)
			return t, false
		}
	}
	high, cut := math.Abs(in.mm(height, 0)), math.Abs(in.mm(first, 0))
	switch {
	case in.lead() == 0:
		in.faultMissing(b, word, 'F')
		return t, false
	case !(cut > 0) || !(high > 0):
		in.faultCause(BadValue, b, word, "the height of the thread and the depth of its first cut are more than zero")
		return t, false
	case (high/cut)*(high/cut) > maxPecks && !(r.leastCut*maxPecks > high):
		in.faultCause(BadValue, b, word, "the first cut is so small that the thread has over 10,000 passes")
		return t, false
	}
	return threading{
		course: course{in: in, word: word, depth: 0, along: 2},
		home:   home, end: to, slope: in.mm(taper, 0), high: high, first: cut,
		out:     math.Copysign(1, home[0]-to[0]),
		crest:   to[0] + math.Copysign(high, home[0]-to[0]),
		flank:   math.Copysign(math.Tan(r.angle/2*math.Pi/180), to[2]-home[2]),
		chamfer: r.chamfer * in.lead(),
	}, true
}

// threading is a thread that is cut in passes.
type threading struct {
	course
	home, end Point
	slope     float64 // radius at the start less that at the end
	high      float64 // from the crest to the root, mm
	first     float64 // depth of the first pass, mm
	out       float64 // 1: the thread is outside, the tool goes out along X+
	crest     float64 // radius at the end of the thread
	flank     float64 // how far the start moves along Z for each mm of depth
	chamfer   float64 // length of the run-out at 45 degrees, mm
}

// cut makes one pass at a depth below the crest.
func (t *threading) cut(depth float64) {
	level := t.crest - t.out*depth
	start := t.home[2] + t.flank*depth
	if start != t.in.s.At[2] {
		t.one(Traverse, 2, start)
	}
	t.one(Traverse, 0, level+t.slope)
	way := math.Copysign(1, t.end[2]-t.home[2])
	if c, long := t.chamfer, math.Abs(t.end[2]-start); c > 0 && c < long {
		at := level + t.slope*c/long
		t.thread(at, t.end[2]-way*c)
		t.thread(at+t.out*c, t.end[2])
	} else {
		t.thread(level, t.end[2])
	}
	t.one(Traverse, 0, t.home[0])
	t.one(Traverse, 2, t.home[2])
}
