package interp

import (
	"math"

	"tapefit/parser"
	"tapefit/profiles"
)

// X is the radius in every point, whether the X words of the program are
// diameters or not: only the words are halved (Interp.unit).

// turning is what lathe work keeps beside the state.
type turning struct {
	surface float64 // last S under constant surface speed, mm/s
	lead    float64 // of threads, mm
	pass    pass
	rough   rough
	inside  bool   // the blocks of a contour are executed
	reading bool   // for their geometry alone, which goes to contour
	trouble string // with it
	contour []contourMove
	reader  *parser.Reader // of contours; nil until the first
	ahead   *parser.Reader // that looks for the end of one; nil until the first
	last    sequence       // the contour read last: finishing names the one that was roughed out
}

// A sequence is a sequence number and the place of its block.
type sequence struct {
	n  int64
	at place
}

// A SpeedLaw is how fast the spindle turns with the tool at a distance from the
// centre line. Under constant surface speed that is n = 1000*vc/(pi*D), with vc
// in m/min and D in mm (handbooks, from memory), held within what the clamp, the
// gear and the spindle allow.
type SpeedLaw struct {
	Surface         float64 // of the cut, mm/s; 0: the speed is Highest everywhere
	Lowest, Highest float64 // rpm
}

// At is the speed in rpm at the radius in mm.
func (l *SpeedLaw) At(radius float64) float64 {
	if l.Surface == 0 {
		return l.Highest
	}
	// Times the radius, so that the centre line needs no case of its own.
	n := 60 * l.Surface / (2 * math.Pi)
	switch {
	case n >= l.Highest*radius:
		return l.Highest
	case n <= l.Lowest*radius:
		return l.Lowest
	}
	return n / radius
}

// Radius is where the speed is n rpm under constant surface speed, in mm, the
// limits left aside.
func (l *SpeedLaw) Radius(n float64) float64 { return 60 * l.Surface / (2 * math.Pi * n) }

// NoLimit is the speed that bounds a law where nothing bounds it, rpm.
const NoLimit = 1e6

// law is how the spindle turns now.
func (in *Interp) law() SpeedLaw { return in.s.Law(in.m) }

// Law is how the spindle turns on the machine, by what is in force. Under constant
// surface speed without a clamp, on a machine that has no limit, its Highest is
// NoLimit.
func (s *State) Law(m *profiles.Machine) SpeedLaw {
	low, high := 0.0, float64(NoLimit)
	limits := m.Spindle.Speed
	if s.Gear >= 0 && s.Unknown&UnknownGear == 0 {
		limits = m.Spindle.Gears[s.Gear].Speed
	}
	if len(limits) == 2 {
		low, high = float64(limits[0]), float64(limits[1])
	}
	if s.Surface == 0 {
		n := math.Min(math.Max(s.Speed, low), high)
		return SpeedLaw{0, n, n}
	}
	if s.Clamp > 0 {
		high = math.Min(high, s.Clamp)
	}
	return SpeedLaw{s.Surface, math.Min(low, high), high}
}

// follow makes the spindle turn as it does with the tool where it is now.
func (in *Interp) follow() {
	s := &in.s
	if !s.Known.Has(0) {
		s.Unknown |= UnknownSpeed
		return
	}
	law := in.law()
	s.Speed = law.At(math.Abs(s.At[0]))
	s.Unknown &^= UnknownSpeed
}

// turnModes sets diameter or radius words.
func (in *Interp) turnModes() {
	switch in.w.g[profiles.DiameterGroup] {
	case profiles.DiameterMode:
		in.s.Diameter = true
	case profiles.RadiusMode:
		in.s.Diameter = false
	}
}

// speedMode goes over to constant surface speed, with the last such speed until
// S gives another, or back to rpm, where the spindle goes on as it turns. It
// gives the word that has changed the speed, or -1.
func (in *Interp) speedMode(b *parser.Block) int {
	w, s := &in.w, &in.s
	switch at := w.gAt[profiles.SpeedGroup]; w.g[profiles.SpeedGroup] {
	case profiles.SurfaceSpeed:
		if s.SpeedMode == profiles.SurfaceSpeed {
			return -1
		}
		s.SpeedMode, s.Surface = profiles.SurfaceSpeed, in.lathe.surface
		if w.has('S') {
			return -1
		}
		if s.Surface == 0 {
			in.faultMissing(b, at, 'S')
			s.Unknown |= UnknownSpeed
			return -1
		}
		in.follow()
		return at
	case profiles.SpindleSpeed:
		s.SpeedMode, s.Surface = profiles.SpindleSpeed, 0
	}
	return -1
}

// clamps says whether S in the block is the highest speed under constant surface
// speed.
func (in *Interp) clamps() bool {
	w := &in.w
	switch w.g[profiles.NonModal] {
	case profiles.ClampSpeed:
		return true
	case profiles.SetPosition:
		return in.m.Spindle.Clamp && w.has('S') && w.axes() == 0
	}
	return false
}

// speedWord takes S: the highest speed, that of the surface in m/min or ft/min,
// or that of the spindle in rpm. It gives the index of the word where it has
// changed the speed, else -1.
func (in *Interp) speedWord(v float64) int {
	s := &in.s
	at := in.w.at['S'-'A']
	if in.clamps() {
		s.Clamp = v
		if s.Surface > 0 {
			in.follow()
		}
		return -1
	}
	same := s.SpeedSet && s.Unknown&UnknownSpeed == 0
	s.SpeedSet = true
	s.Unknown &^= UnknownSpeed
	if s.SpeedMode != profiles.SurfaceSpeed {
		same = same && v == s.Speed
		s.Speed = v
	} else {
		meters := 1000.0
		if s.Units == profiles.UnitsInch {
			meters = 304.8
		}
		surface := v * meters / 60
		same = same && surface == s.Surface
		s.Surface, in.lathe.surface, s.Speed = surface, surface, 0
		if surface > 0 {
			in.follow()
		}
	}
	if same {
		return -1
	}
	return at
}

// turret is a T word of the form T0203: the turret brings tool 2 at once, with
// offset 3; T3 changes the offset alone. The offset moves the work coordinates
// under the tip, as a tool length does.
func (in *Interp) turret(b *parser.Block) {
	w, s := &in.w, &in.s
	n, ok := whole(w.take('T'))
	if !ok {
		in.faultValue(b, w.at['T'-'A'], "a tool number is a whole number, 0 or more")
		return
	}
	if tool := int(n / 100); tool != 0 {
		s.NextTool = tool
		if tool != s.Tool || s.Unknown&UnknownTool != 0 {
			s.Tool = tool
			s.Changes++
			s.Unknown &^= UnknownTool
			in.op.Manual = in.m.Tools.Pockets == 0
			in.op.Turret = true
			in.emit(Tool, w.at['T'-'A'])
			in.op.Turret = false
		}
	}
	s.LengthH = int(n % 100)
	s.Unknown &^= UnknownLength
	in.toolOffset(s.LengthH)
}

// toolOffset puts the offset of a turning tool in force, along X and Z.
func (in *Interp) toolOffset(number int) {
	zero := profiles.Length(0)
	x, z := &zero, &zero
	if number != 0 {
		x, z = nil, nil
		for i := range in.m.Tools.Loaded {
			if t := &in.m.Tools.Loaded[i]; t.Number == number {
				x, z = t.OffsetX, t.OffsetZ
			}
		}
	}
	for _, c := range [...]struct {
		axis int
		at   *profiles.Length
	}{{0, x}, {2, z}} {
		if c.at == nil {
			in.shift.lose(&in.s, toolPart, 1<<c.axis)
		} else {
			in.shift.change(&in.s, toolPart, c.axis, float64(*c.at), true)
		}
	}
}

// noseTip is where the tip that is set lies from the centre of the nose, Z and X,
// in radii (common practice): 1 to 4 in the quadrants from X+ Z+ on, seen with Z
// to the right and X upwards, 5 to 8 along Z+, X+, Z- and X-, 0 and 9 in the
// centre.
func noseTip(direction int) vec2 {
	return [10]vec2{1: {1, 1}, 2: {-1, 1}, 3: {-1, -1}, 4: {1, -1}, 5: {1, 0}, 6: {0, 1}, 7: {-1, 0}, 8: {0, -1}, 9: {}}[direction]
}

// foldAway makes U V W words of X Y Z that are distances, but where they are
// something else: the allowances of a contour, the time of a dwell.
func (in *Interp) foldAway(b *parser.Block) {
	w := &in.w
	if m := w.g[profiles.NonModal]; m.IsContour() || m == profiles.DwellHere || m == profiles.CallArguments {
		return
	}
	for i := range 3 {
		letter, axis := byte('U'+i), byte('X'+i)
		switch {
		case !w.has(letter) || in.away&letterBit(letter) == 0:
		case w.has(axis):
			in.faultConflict(b, w.at[letter-'A'], w.at[axis-'A'])
			w.set &^= letterBit(letter)
		default:
			w.set = w.set&^letterBit(letter) | letterBit(axis)
			w.val[axis-'A'], w.at[axis-'A'] = w.val[letter-'A'], w.at[letter-'A']
			w.away |= 1 << i
		}
	}
}

// auxiliary shows what the accepted M codes of the block take.
func (in *Interp) auxiliary() {
	w := &in.w
	if w.codes == 0 || w.aux == 0 {
		return
	}
	in.op.Seconds = w.aux
	in.emit(Auxiliary, w.auxAt)
}

// turnedFeed is the feed of a move that goes by the revolution, at its start, in
// mm/s, or deg/s where only rotary axes move; 0 where it is not known. It sets
// PerRev and Turn of the operation.
func (in *Interp) turnedFeed(length float64) float64 {
	s, op := &in.s, &in.op
	per := s.Feed
	switch {
	case op.Lead > 0:
		per = op.Lead * in.slant(length)
	case !s.FeedSet || s.Unknown&(UnknownFeed|UnknownFeedMode) != 0:
		return 0
	case op.Moves&XYZ == 0 && op.Moves != 0:
		per = in.feedWord
	}
	if s.Spindle == SpindleOff && s.Unknown&UnknownSpindle == 0 {
		return 0 // by the revolution of what stands nothing moves: how long it waits is not known
	}
	if !s.SpeedSet || s.Surface == 0 && s.Unknown&UnknownSpeed != 0 || s.Surface > 0 && !op.FromKnown.Has(0) {
		return 0
	}
	op.PerRev, op.Turn = per, in.law()
	return per * op.Turn.At(math.Abs(op.From[0])) / 60
}

// slant is the length of the move over how far its main axis goes: a lead is
// along that axis.
func (in *Interp) slant(length float64) float64 {
	op, most := &in.op, 0.0
	for i := range 3 {
		if op.Moves.Has(i) && (op.FromKnown & op.ToKnown).Has(i) {
			most = math.Max(most, math.Abs(op.To[i]-op.From[i]))
		}
	}
	if most == 0 {
		return 1
	}
	return length / most
}

// takeLead keeps F where it is the lead of a thread, and says whether it is
// nothing else: under feed per revolution the two are one number.
func (in *Interp) takeLead(f float64) bool {
	w, s := &in.w, &in.s
	m := w.g[profiles.MotionGroup]
	if m == profiles.Refused {
		m = s.Motion
	}
	switch {
	case w.g[profiles.NonModal] == profiles.ThreadCycle:
	case m == profiles.ThreadPassCycle:
	case m == profiles.Thread && in.m.Turning.ThreadLead != "K":
	default:
		return false
	}
	in.lathe.lead = f * in.linear
	return s.FeedMode != profiles.FeedPerRevolution
}

// lead is the lead in force, mm; 0: none was given.
func (in *Interp) lead() float64 {
	if in.lathe.lead == 0 && in.s.FeedMode == profiles.FeedPerRevolution {
		return in.s.Feed
	}
	return in.lathe.lead
}

// thread is a move whose lead is tied to the spindle.
func (in *Interp) thread(b *parser.Block) {
	w := &in.w
	word := in.moveWord(b)
	letter := byte('F')
	if in.m.Turning.ThreadLead == "K" {
		letter = 'K'
		if w.has('K') {
			in.lathe.lead = math.Abs(w.take('K')) * in.linear
		}
	}
	if in.lead() == 0 {
		in.faultMissing(b, word, letter)
		in.dropMove(0)
		return
	}
	axes := w.axes()
	to, known := in.target(b, axes)
	in.threadTo(word, to, known, axes)
}

// threadTo cuts a thread to a place.
func (in *Interp) threadTo(word int, to Point, known, axes AxisSet) {
	in.op.Synchron, in.op.Lead = true, in.lead()
	in.move(Feed, word, to, known, axes)
	in.op.Synchron, in.op.Lead = false, 0
}

// pass is the simple cycle in force: where it goes and how it slopes.
type pass struct {
	m     profiles.Meaning // Refused: none
	at    Point
	slope float64 // along the depth, start less end, mm
	have  AxisSet
}

// turnPass is a cycle of one block and one pass that ends where it began:
// along Z, along X, or a thread. X, Z and R hold for the blocks that follow.
func (in *Interp) turnPass(b *parser.Block, m profiles.Meaning) {
	w, s := &in.w, &in.s
	word := in.moveWord(b)
	p := &in.lathe.pass
	if p.m != m || w.g[profiles.MotionGroup] != profiles.Refused {
		*p = pass{m: m}
	}
	axes := w.axes() & (X | Z)
	to, known := in.target(b, axes)
	for _, i := range [...]int{0, 2} {
		if axes.Has(i) {
			p.at[i] = to[i]
		}
	}
	p.have |= axes
	if w.has('R') {
		p.slope = w.take('R') * in.linear
	}
	switch {
	case p.have != X|Z:
		missing := byte('X')
		if p.have.Has(0) {
			missing = 'Z'
		}
		in.faultMissing(b, word, missing)
		in.dropMove(0)
		return
	case m == profiles.ThreadPassCycle && in.lead() == 0:
		in.faultMissing(b, word, 'F')
		in.dropMove(0)
		return
	case s.Known&known&(X|Z) != X|Z:
		in.dropMove(X | Z)
		return
	}
	c := course{in: in, word: word, depth: 0, along: 2}
	if m == profiles.FaceCycle {
		c.depth, c.along = 2, 0
	}
	in.op.InCycle = true
	home := s.At
	c.one(Traverse, c.depth, p.at[c.depth]+p.slope)
	end := p.at
	if m == profiles.ThreadPassCycle {
		c.thread(end[0], end[2])
		c.one(Traverse, c.depth, home[c.depth])
	} else {
		c.both(Feed, end[0], end[2])
		c.one(Feed, c.depth, home[c.depth])
	}
	c.one(Traverse, c.along, home[c.along])
	in.op.InCycle = false
}

// course makes the moves of a turning cycle. Its depth is along one axis of X
// and Z, its cuts go along the other.
type course struct {
	in           *Interp
	word         int
	depth, along int // 0 or 2
}

// one moves one axis.
func (c *course) one(kind OpKind, axis int, at float64) {
	to := c.in.s.At
	to[axis] = at
	c.in.move(kind, c.word, to, c.in.s.Known|1<<axis, 1<<axis)
}

// both moves X and Z.
func (c *course) both(kind OpKind, x, z float64) {
	to := c.in.s.At
	to[0], to[2] = x, z
	c.in.move(kind, c.word, to, c.in.s.Known|X|Z, X|Z)
}

func (c *course) thread(x, z float64) {
	to := c.in.s.At
	to[0], to[2] = x, z
	c.in.threadTo(c.word, to, c.in.s.Known|X|Z, X|Z)
}

// at is where the tool stands along the depth and along the cuts.
func (c *course) at() (depth, along float64) { return c.in.s.At[c.depth], c.in.s.At[c.along] }

// to moves both axes, said by depth and along.
func (c *course) to(kind OpKind, depth, along float64) {
	if c.depth == 0 {
		c.both(kind, depth, along)
	} else {
		c.both(kind, along, depth)
	}
}
