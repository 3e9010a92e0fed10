package report

import (
	"math"

	"tapefit/internal/interp"
	"tapefit/internal/motion"
	"tapefit/profiles"
	"tapefit/rules"
)

// A Scene is what a page draws of one program: the path of the tool tip as a
// chain of vertices, thinned to what a screen can show, with the time at each,
// and the speeds and feeds over time. It is bounded, however long the program is.
type Scene struct {
	Vertices  []Vertex
	Spindle   []SpindleStep
	Kept      [profiles.NumAxes]bool // axes that the path has
	Tools     map[int]*ToolUse       // by number, -1 unknown
	Moves     int                    // of the program, before thinning
	Tolerance float64                // mm by which the drawn path may be off

	tolerance         float64
	first             int  // work offset of the first move that goes by one, from 0; -1 yet
	homing            bool // all moves yet went to machine coordinates: first may be another
	machine           *profiles.Machine
	marked            map[int]bool // lines with findings, which are never thinned away
	pending           []Vertex     // between the last vertex kept and the next, bounded
	queue             []queued     // moves that are not timed yet
	head              int
	thinned, thinning bool    // there were too many vertices; they are being drawn anew
	now               float64 // of what is timed
	instant           float64 // s: what lies nearer than that is one on a picture over time
}

// A Vertex is where a piece of the path ends; the piece begins at the vertex
// before, unless Kind is Jump.
type Vertex struct {
	At     [3]float64 // mm, in the work coordinates of the program's first offset
	Kind   PieceKind
	Tool   int     // -1: unknown
	Line   int     // of the block
	Start  float64 // s from the start of the program, at the start of the piece
	Time   float64 // the same at its end
	Feed   float64 // programmed, mm/s; 0 for traverses
	Actual float64 // mean speed of the piece, mm/s; 0 where it is not timed
	Speed  float64 // of the spindle, rpm; negative counter-clockwise, 0 at rest
}

// A ToolUse is what one tool does.
type ToolUse struct {
	Calls    int         // tool changes to it
	Speeds   rules.Range // of its cuts, rpm
	Surfaces rules.Range // of its cuts under constant surface speed, mm/s
	Feeds    rules.Range // of its cuts, mm/s, but of those by the revolution
	PerRevs  rules.Range // of its cuts by the revolution, mm; of threads the lead
	Deepest  rules.Range // Z of its cuts, mm, in the work coordinates
}

// PieceKind is how a piece of the path is drawn.
type PieceKind uint8

const (
	Jump   PieceKind = iota // no piece: where it begins is not known
	Rapid                   // traverse
	Cut                     // straight feed
	Round                   // arc or helix
	Plunge                  // straight feed down, without moving across
)

// A SpindleStep is a change of the spindle's speed or gear.
type SpindleStep struct {
	Time  float64
	Speed float64 // rpm; negative counter-clockwise
	Gear  int     // index in the profile's gears, -1 unknown
	Ramp  bool    // it went there steadily, from the step before: under constant surface speed
	Line  int
}

// mostVertices bounds the path, mostPending what is looked over for one vertex,
// and mostSteps the changes of the spindle.
const (
	mostVertices = 60_000
	mostPending  = 48
	mostSteps    = 4000
)

// queued is a move that the clock has not timed yet.
type queued struct {
	offset  int64
	pos     int32
	length  float64
	from    [3]float64
	known   bool
	vertex  Vertex
	arc     bool
	center  [3]float64
	sweep   float64 // signed, counter-clockwise positive
	plane   interp.Plane
	seconds float64
	turns   *turns // nil: the spindle turns as fast all along
}

// NewScene makes an empty scene for a program whose findings and extents are
// known. Size is how many columns of a screen the greatest extent is to fill.
func NewScene(r *rules.Result, size float64) *Scene {
	s := &Scene{machine: r.Machine, first: -1, marked: map[int]bool{}, Tools: map[int]*ToolUse{}}
	reach := 0.0
	for i := range 3 {
		if e := r.Extents[i]; e.Set && finite(e.Max-e.Min) == e.Max-e.Min {
			reach = max(reach, e.Max-e.Min)
		}
	}
	s.tolerance = max(reach/size, 1e-6)
	s.instant = finite(r.Times.Total) / 2000
	for i := range r.Findings {
		s.marked[r.Findings[i].Line] = true
	}
	return s
}

// Watch is how the scene looks on while the program is walked.
func (s *Scene) Watch() *rules.Watch {
	return &rules.Watch{Move: s.move, Timed: s.timed, Stood: s.stood}
}

// Finish draws what is left. The scene is then whole.
func (s *Scene) Finish() {
	s.drawAll()
	s.keepPending()
	s.Tolerance = s.tolerance
}

// place is a point in the coordinates of the first work offset, where the
// profile says how the others lie to it.
func (s *Scene) place(at *interp.Point, offset int) (p [3]float64) {
	copy(p[:], at[:3])
	if offset == s.first || offset < 0 || s.first < 0 {
		return p
	}
	from, to := s.machine.WorkOffset(offset), s.machine.WorkOffset(s.first)
	if from == nil || to == nil {
		return p
	}
	for i, pair := range [3][2]*profiles.Length{{from.X, to.X}, {from.Y, to.Y}, {from.Z, to.Z}} {
		if pair[0] != nil && pair[1] != nil {
			p[i] += float64(*pair[0] - *pair[1])
		}
	}
	return p
}

// begin finds the work offset that the path is drawn in. A way home goes by none,
// so what was drawn of it is moved when the first is known.
func (s *Scene) begin(op *interp.Op) {
	switch {
	case s.first < 0:
		s.first, s.homing = op.State.Offset, op.Home
	case s.homing && !op.Home:
		s.homing = false
		was := s.first
		s.first = op.State.Offset
		by := s.place(&interp.Point{}, was)
		for _, list := range [][]Vertex{s.Vertices, s.pending} {
			for i := range list {
				list[i].At = plus(list[i].At, by)
			}
		}
		for i := range s.queue {
			q := &s.queue[i]
			q.from, q.center, q.vertex.At = plus(q.from, by), plus(q.center, by), plus(q.vertex.At, by)
		}
	}
}

func plus(p, by [3]float64) [3]float64 {
	for i := range p {
		p[i] += by[i]
	}
	return p
}

func (s *Scene) move(op *interp.Op) {
	s.Moves++
	s.begin(op)
	q := queued{offset: op.Block.Offset, length: op.Length, known: true}
	if uint(op.Word) < uint(len(op.Block.Words)) {
		q.pos = op.Block.Words[op.Word].Pos
	}
	for i := range 3 {
		bit := interp.AxisSet(1 << i)
		if s.machine.Axis(i) == nil && s.machine.Kind != "" {
			continue
		}
		if op.FromKnown&op.ToKnown&bit == 0 {
			q.known = q.known && op.Moves&bit == 0 && op.ToKnown&bit == 0
			continue
		}
		s.Kept[i] = true
	}
	q.from = s.place(&op.From, op.State.Offset)
	v := &q.vertex
	v.At, v.Line, v.Tool, v.Feed, v.Speed = s.place(&op.To, op.State.Offset), op.Block.Line, op.State.Tool, op.Feed, turning(op.State)
	for i := range 3 {
		if !op.ToKnown.Has(i) {
			v.At[i], q.from[i] = 0, 0
		}
	}
	v.Kind = kindOf(op)
	if v.Kind == Plunge && s.machine.Kind == "lathe" {
		v.Kind = Cut
	}
	q.turns = turnsOf(op, s.machine)
	switch {
	case v.Kind == Rapid:
		v.Feed = 0
	case q.turns != nil && op.PerRev > 0:
		v.Feed = op.PerRev * q.turns.mean / 60
	}
	if v.Kind == Round {
		q.arc, q.plane, q.sweep = true, op.Plane, op.Sweep
		if op.CW {
			q.sweep = -q.sweep
		}
		q.center = s.place(&op.Center, op.State.Offset)
	}
	if v.Kind != Rapid {
		s.use(op, q.turns, v)
	}
	s.queue = append(s.queue, q)
}

// mostToolUses bounds the tools that are told apart; no changer holds as many.
const mostToolUses = 1000

func (s *Scene) tool(number int) *ToolUse {
	u := s.Tools[number]
	if u == nil && len(s.Tools) < mostToolUses {
		u = &ToolUse{}
		s.Tools[number] = u
	}
	return u
}

// use takes in a cut.
func (s *Scene) use(op *interp.Op, t *turns, v *Vertex) {
	u := s.tool(v.Tool)
	if u == nil {
		return
	}
	if n := speedsOf(op, t); n.Set {
		widen(&u.Speeds, n.Min)
		widen(&u.Speeds, n.Max)
		if op.State.Surface > 0 {
			widen(&u.Surfaces, op.State.Surface)
		}
	}
	switch {
	case op.Moves&interp.XYZ == 0: // degrees are no lengths
	case op.Lead > 0:
		widen(&u.PerRevs, op.Lead)
	case op.PerRev > 0:
		widen(&u.PerRevs, op.PerRev)
	case v.Feed > 0:
		widen(&u.Feeds, v.Feed)
	}
	if op.ToKnown.Has(2) {
		widen(&u.Deepest, v.At[2])
	}
}

func widen(r *rules.Range, v float64) {
	if !r.Set {
		*r = rules.Range{Set: true, Min: v, Max: v}
		return
	}
	r.Min, r.Max = min(r.Min, v), max(r.Max, v)
}

func kindOf(op *interp.Op) PieceKind {
	switch {
	case op.Kind == interp.Traverse:
		return Rapid
	case op.Kind == interp.Arc:
		return Round
	case op.Moves&interp.XYZ == 1<<2 && op.To[2] < op.From[2]:
		return Plunge
	}
	return Cut
}

// turning is the spindle's speed with its way as the sign.
func turning(s *interp.State) float64 {
	switch s.Spindle {
	case interp.SpindleCW:
		return s.Speed
	case interp.SpindleCCW:
		return -s.Speed
	}
	return 0
}

// timed finds the move that was timed among those that wait, and draws it and
// those before it, which have no time of their own.
func (s *Scene) timed(t *motion.Timed) {
	for s.head < len(s.queue) {
		q := &s.queue[s.head]
		s.head++
		found := q.offset == t.Offset && q.pos == t.Pos && (t.Length == 0 || math.Abs(q.length-t.Length) <= 1e-6*(1+t.Length))
		if found {
			s.now += t.Seconds
			q.seconds = t.Seconds
		}
		s.draw(q)
		if found {
			break
		}
	}
	if s.head > 4096 && s.head*2 > len(s.queue) {
		s.queue = append(s.queue[:0], s.queue[s.head:]...)
		s.head = 0
	}
}

// drawAll draws the moves that wait, whether they were timed or not.
func (s *Scene) drawAll() {
	for i := s.head; i < len(s.queue); i++ {
		s.draw(&s.queue[i])
	}
	s.queue, s.head = s.queue[:0], 0
}

// stood takes in what is no move. All moves before it are timed.
func (s *Scene) stood(op *interp.Op, now float64) {
	s.drawAll()
	s.now = now
	if op.Kind == interp.Tool {
		if u := s.tool(op.State.Tool); u != nil {
			u.Calls++
		}
	}
	switch op.Kind {
	case interp.Spindle, interp.Gear, interp.Tool, interp.Stop:
		if op.Kind == interp.Stop && op.StopKind != interp.End {
			return
		}
		step := SpindleStep{Time: now, Speed: turning(op.State), Gear: op.State.Gear, Line: op.Block.Line}
		if op.Kind == interp.Stop {
			step.Speed = 0 // the end stops it
		}
		s.step(step)
	}
}

// step keeps a change of the spindle.
func (s *Scene) step(to SpindleStep) {
	if n := len(s.Spindle); n > 0 && s.Spindle[n-1].Speed == to.Speed && s.Spindle[n-1].Gear == to.Gear {
		return
	}
	if len(s.Spindle) < mostSteps {
		s.Spindle = append(s.Spindle, to)
	}
}

// follow keeps the speeds along a move under constant surface speed.
func (s *Scene) follow(q *queued) {
	n := len(s.Spindle)
	if q.turns == nil || n == 0 {
		return
	}
	before, begin := s.Spindle[n-1], s.now-q.seconds
	all := q.turns.at
	if q.turns.steady() && math.Abs(all[0].speed-math.Abs(before.Speed)) <= 1e-9*all[0].speed {
		return
	}
	kept := math.Inf(-1)
	for i, t := range all {
		time := begin + t.time*q.seconds
		flat := i > 0 && t.speed == all[i-1].speed && (i+1 == len(all) || t.speed == all[i+1].speed)
		if flat || time-kept < s.instant && !t.bend || len(s.Spindle) >= mostSteps {
			continue
		}
		kept = time
		s.Spindle = append(s.Spindle, SpindleStep{
			Time: time, Speed: math.Copysign(t.speed, q.vertex.Speed), Gear: before.Gear, Line: q.vertex.Line, Ramp: i > 0,
		})
	}
}

// draw adds the pieces of a move.
func (s *Scene) draw(q *queued) {
	v := q.vertex
	v.Start, v.Time = s.now-q.seconds, s.now
	s.follow(q)
	if q.seconds > 0 && q.length > 0 {
		v.Actual = q.length / q.seconds
	}
	if !q.known {
		v.Kind = Jump
		s.add(v)
		return
	}
	if n := len(s.Vertices) + len(s.pending); n == 0 || s.last().At != q.from {
		start := v
		start.At, start.Kind, start.Time = q.from, Jump, v.Start
		s.add(start)
	}
	switch {
	case q.arc && math.Abs(q.sweep) < 1e4:
		s.chords(q, v)
	case q.turns == nil || v.Kind == Rapid || q.turns.steady():
		s.add(v)
	default:
		p := pieces{s: s, q: q, end: v}
		for _, t := range q.turns.at[1:] {
			at := v.At
			for i := range at {
				at[i] = q.from[i] + t.way*(v.At[i]-q.from[i])
			}
			p.add(t.way, at)
		}
	}
}

// chords draws an arc as straight pieces, none further from it than the
// tolerance.
func (s *Scene) chords(q *queued, v Vertex) {
	first, second, normal := q.plane.Axes()
	x, y := q.from[first]-q.center[first], q.from[second]-q.center[second]
	radius := math.Hypot(x, y)
	step := math.Pi / 3
	if ratio := s.tolerance / radius; ratio < 0.5 {
		step = min(step, 2*math.Acos(1-ratio))
	}
	n := int(min(math.Ceil(math.Abs(q.sweep)/step), 720))
	p := pieces{s: s, q: q, end: v}
	for k := 1; k < n; k++ {
		part := float64(k) / float64(n)
		sin, cos := math.Sincos(q.sweep * part)
		at := v.At
		at[first] = q.center[first] + x*cos - y*sin
		at[second] = q.center[second] + x*sin + y*cos
		at[normal] = q.from[normal] + part*(v.At[normal]-q.from[normal])
		p.add(part, at)
	}
	p.add(1, v.At)
}

// pieces draws a move in several, each with its own time and speeds.
type pieces struct {
	s      *Scene
	q      *queued
	end    Vertex // of the move
	before turn
	i      int // of the turns
}

// add draws the piece that ends at a share of the way.
func (p *pieces) add(way float64, at [3]float64) {
	v, here := p.end, turn{way: way, time: way}
	if p.q.turns != nil {
		here, p.i = p.q.turns.when(way, p.i)
		v.Speed = math.Copysign(here.speed, v.Speed)
	}
	begin := v.Time - p.q.seconds
	v.At, v.Start, v.Time = at, begin+p.before.time*p.q.seconds, begin+here.time*p.q.seconds
	if faster := (here.way - p.before.way) / (here.time - p.before.time); finite(faster) == faster {
		v.Feed *= faster
		v.Actual *= faster
	}
	p.before = here
	p.s.add(v)
}

// last is the vertex added last.
func (s *Scene) last() *Vertex {
	if n := len(s.pending); n > 0 {
		return &s.pending[n-1]
	}
	return &s.Vertices[len(s.Vertices)-1]
}

// add takes in a vertex, and keeps of those before it what the picture needs.
func (s *Scene) add(v Vertex) {
	if n := len(s.pending); n > 0 {
		before := &s.pending[n-1]
		dot := s.thinned && s.near(v.At) // smaller than can be shown, whatever it is
		if s.marked[v.Line] || s.marked[before.Line] || n >= mostPending || !dot && !(alike(before, &v) && s.straight(v.At)) {
			s.keepPending()
		}
	}
	s.pending = append(s.pending, v)
}

// alike says whether two pieces in a row can become one: between them the tool
// does not stand.
func alike(a, b *Vertex) bool {
	const rounding = 1e-6 // s
	return a.Kind == b.Kind && b.Kind != Jump && a.Tool == b.Tool && a.Feed == b.Feed && a.Speed == b.Speed && b.Start-a.Time < rounding
}

// near says whether all that waits and a place lie about the last vertex kept.
func (s *Scene) near(to [3]float64) bool {
	if len(s.Vertices) == 0 {
		return false
	}
	at := s.Vertices[len(s.Vertices)-1].At
	return s.waitsBeside(at, at) && distance(to, at, at) <= s.tolerance
}

// straight says whether all that waits lies near the line from the last vertex
// kept to a place.
func (s *Scene) straight(to [3]float64) bool {
	return len(s.Vertices) > 0 && s.waitsBeside(s.Vertices[len(s.Vertices)-1].At, to)
}

// waitsBeside says whether all that waits lies near the line between two places.
func (s *Scene) waitsBeside(from, to [3]float64) bool {
	for i := range s.pending {
		if distance(s.pending[i].At, from, to) > s.tolerance {
			return false
		}
	}
	return true
}

// distance is that of a place from the piece between two others.
func distance(p, a, b [3]float64) float64 {
	var along, length float64
	for i := range p {
		along += (p[i] - a[i]) * (b[i] - a[i])
		length += (b[i] - a[i]) * (b[i] - a[i])
	}
	t := 0.0
	if length > 0 {
		t = min(max(along/length, 0), 1)
	}
	sum := 0.0
	for i := range p {
		d := p[i] - a[i] - t*(b[i]-a[i])
		sum += d * d
	}
	return math.Sqrt(sum)
}

// keepPending ends the piece that waits at its last vertex.
func (s *Scene) keepPending() {
	n := len(s.pending)
	if n == 0 {
		return
	}
	v := s.pending[n-1]
	first := n - 1
	for first > 0 && alike(&s.pending[first-1], &s.pending[first]) {
		first--
	}
	v.Start = s.pending[first].Start
	if t := v.Time - v.Start; t > 0 && v.Actual > 0 && (first > 0 || len(s.Vertices) > 0) {
		v.Actual = s.way(first) / t
	}
	s.Vertices = append(s.Vertices, v)
	s.pending = s.pending[:0]
	if len(s.Vertices) > mostVertices && !s.thinning {
		s.thin()
	}
}

// way is how long the pieces that wait are together, from the first of them on, in
// mm.
func (s *Scene) way(first int) (sum float64) {
	var from [3]float64
	if first > 0 {
		from = s.pending[first-1].At
	} else {
		from = s.Vertices[len(s.Vertices)-1].At
	}
	for i := first; i < len(s.pending); i++ {
		to := s.pending[i].At
		sum += math.Sqrt((to[0]-from[0])*(to[0]-from[0]) + (to[1]-from[1])*(to[1]-from[1]) + (to[2]-from[2])*(to[2]-from[2]))
		from = to
	}
	return sum
}

// thin draws what is there anew with twice the tolerance, until there is room.
func (s *Scene) thin() {
	s.thinned, s.thinning = true, true
	for len(s.Vertices) > mostVertices*3/4 && s.tolerance < farthestView {
		s.tolerance *= 2
		all := s.Vertices
		s.Vertices = make([]Vertex, 0, mostVertices+1)
		for _, v := range all {
			s.add(v)
		}
		s.keepPending()
	}
	s.thinning = false
}

// farthestView is a tolerance at which nothing is left to be seen, mm.
const farthestView = 1e9
