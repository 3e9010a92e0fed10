package motion

import (
	"math"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// farLook is the longest look-ahead that is computed, in moves: ten metres of
// the shortest chords, more than any axis needs to come to rest.
const farLook = 1<<16 - 1

// mostTools bounds the list of times by tool; what comes after goes to the
// unknown tool. No changer holds as many.
const mostTools = 1000

// A Clock times the operations of one program on one machine. Make it with
// NewClock; it is for one goroutine.
type Clock struct {
	limits  limits
	corners corners
	reader  reader
	spindle spindle
	belts   belts
	change  float64 // tool change, s
	visit   func(*Timed)
	losses  bool // visit is for moves alone that lose time

	ahead   int // moves known beside the one that is made
	slack   slack
	smooth  smoother
	window  window
	feed    feedRate // of the last move with one
	bends   []bend   // of the arcs in the window, at the same places; made for the first
	paths   [2]path  // the move taken in last and the one before, in turns
	now     int      // index of the path to write next
	rolling bool     // the last path has a move, with nothing between it and the next
	speed2  float64  // at the end of the last settled move, squared
	speed   float64  // its root
	why     Limit    // what makes it that
	last    ride     // of the last settled move
	timed   Timed

	times Times
	tool  int         // index in times.Tools, of which the first is an unknown tool: that of the beginning
	tools map[int]int // by number

	table table // for one arc at a time; large, so behind what every move needs
}

// NewClock makes a clock for the machine. It calls visit, if that is not nil,
// for each move of known time, in order, as soon as it is settled; the Timed
// is reused.
func NewClock(m *profiles.Machine, visit func(*Timed)) *Clock {
	c := &Clock{
		limits:  newLimits(m),
		corners: newCorners(m),
		reader:  newReader(m),
		spindle: newSpindle(m),
		belts:   newBelts(m),
		change:  float64(m.Tools.ChangeTime),
		why:     ByAcceleration,
		visit:   visit,
		ahead:   min(max(m.Control.LookAhead, 0), farLook),
		tools:   map[int]int{-1: 0},
	}
	c.slack = newSlack(m, &c.limits)
	c.window = newWindow(c.ahead + 1)
	c.times.Tools = []ToolTime{{Tool: -1}}
	return c
}

// OnlyLosses spares visit the moves that neither lose time nor wait. Call it first.
func (c *Clock) OnlyLosses() { c.losses = true }

// Block counts one executed block of so many characters: the control has to read
// it. Call it before Op with the operations of the block.
func (c *Clock) Block(chars int) {
	c.reader.next.blocks++
	c.reader.next.chars += chars
}

// Load says how many bytes the program has: what does not fit into the memory
// comes over the link while it runs, where the profile has one. Call it first.
func (c *Clock) Load(size int64) { c.reader.load(size) }

// Op takes in the next operation. It keeps nothing of op.
func (c *Clock) Op(op *interp.Op) {
	switch {
	case op.Kind == interp.Feed && c.chord(op):
	case op.Kind <= interp.Arc:
		c.move(op)
	default:
		c.stand(op)
	}
	c.advance()
}

// advance settles the oldest move where the control knows more than it can.
func (c *Clock) advance() {
	if c.window.len() > c.ahead {
		c.settle(ByLookAhead)
	}
}

// Finish settles what is left and gives the times. The clock is then spent.
func (c *Clock) Finish() Times {
	c.halt()
	t := c.times
	t.HandShifts = c.belts.all()
	t.Total = t.Cutting + t.Rapid + t.Dwell + t.ToolChange + t.GearShift + t.Spindle + t.Other
	if t.Tools[0].Total == 0 {
		t.Tools = t.Tools[1:]
	}
	return t
}

// move takes in a move.
func (c *Clock) move(op *interp.Op) {
	p := &c.paths[c.now]
	ok := p.take(op, &c.limits)
	if p.unknown {
		c.times.UnknownMoves++
	}
	if p.cut && p.unknown {
		c.times.UnknownCuts++
	} else if p.cut && !(op.Feed > 0) && ok {
		c.times.UnknownFeeds++
	}
	switch {
	case !ok && !p.unknown: // no axis moves
		return
	case !ok || p.speed > fastest:
		// The axes go somewhere, in no known time.
		c.settleAll()
		c.slack.forget()
		return
	}
	w := &c.window
	m := w.at(w.tail)
	most := c.span(m, p)
	m.entry, m.why = 0, ByAcceleration
	if c.rolling && !p.unknown {
		m.entry, m.why = c.corners.junction(&c.paths[1-c.now], p, &c.limits)
		if most < m.entry {
			m.entry, m.why = most, ByAcceleration
		}
	}
	c.fill(m, p, op)
	c.now = 1 - c.now
	c.rolling = !p.unknown // where an unknown move goes, and so its corners, is not known
	c.window.push(m)
}

// span writes what the window needs of a move to be: the limits at the ends of
// its path, and how the speed can change along it. It gives the greatest squared
// speed at the start from which that at the end can be reached.
func (c *Clock) span(m *move, p *path) float64 {
	m.length, m.speed, m.slow, m.bent, m.chord = p.length, p.speed, p.slow, p.bent, false
	m.sharp, m.alone = p.sharp, p.alone
	if !p.bent {
		p.first = p.speed * p.speed
		p.last = p.first
		m.keep, m.gain = 1, p.gain
		m.steady = p.sharp == 0 && p.alone == 0
		return p.first
	}
	if c.bends == nil {
		c.bends = make([]bend, len(c.window.ring))
	}
	b := &c.bends[c.window.tail&(len(c.bends)-1)]
	*b = p.bend
	m.steady = b.even && p.sharp == 0
	most, keep, gain := c.table.fold(b)
	m.keep, m.gain = keep, gain
	p.first, p.last = c.table.ends(b)
	m.slow = max(p.slow, 1/min(b.accel[0], b.accel[1]))
	return most
}

// fill writes the rest of m.
func (c *Clock) fill(m *move, p *path, op *interp.Op) {
	m.wanted, m.capped = p.wanted, p.capped
	m.cut, m.rotary = p.cut, p.rotary
	m.feed = 0
	if p.cut {
		m.feed = op.Feed
	}
	m.lag, m.wait = 0, 0
	if c.slack.any {
		m.lag = c.slack.turn(op, p)
	}
	if op.Lead > 0 && op.PerRev > 0 && op.Feed > 0 {
		m.wait = min(op.PerRev/op.Feed/2, longest) // half a turn, on average
	}
	m.supply = c.reader.take()
	if c.visit != nil {
		m.at(op)
	}
}

// at notes what caused the move.
func (m *move) at(op *interp.Op) {
	b := op.Block
	m.line, m.offset = b.Line, b.Offset
	if uint(op.Word) < uint(len(b.Words)) {
		word := &b.Words[op.Word]
		m.pos, m.end = word.Pos, word.End
	} else {
		m.pos, m.end = 0, int32(lineLength(b.Raw))
	}
}

// lineLength is the length of a block without its end of line.
func lineLength(raw []byte) int {
	n := len(raw)
	for n > 0 && (raw[n-1] == '\n' || raw[n-1] == '\r') {
		n--
	}
	return n
}

// settle times the oldest move: all that the control knows when it begins is in
// the window. Rest is why the axes have to come to rest at the end of that.
func (c *Clock) settle(rest Limit) {
	m, most, why := c.window.pop(rest)
	if limit := m.speed * m.speed; m.chord && c.speed2 == limit && most == limit && c.cruise(m) { // most do
		c.why = why
		return
	}
	before, in := c.why, c.speed2
	r := &c.last
	c.ride(m, most, why, r)
	seconds := r.seconds
	if !(seconds <= longest) {
		seconds = longest
	}
	naive := seconds
	if m.wanted != m.speed || r.limited != seconds {
		naive = min(m.length/m.wanted, longest)
	}
	standing := m.lag + m.wait
	wait, waitBy := c.reader.use(m.supply, seconds+standing)
	by, lost, below := ByFeed, 0.0, r.below
	if below > seconds {
		below = seconds
	}
	c.times.Naive += naive
	if seconds != naive || wait+standing > 0 {
		if r.out < in {
			before = c.why
		}
		slow := min(r.limited, longest) - naive
		switch { // most are of the first two kinds
		case slow == 0 && wait+standing == 0:
			by, lost = c.times.lose(before, seconds-naive)
		case seconds == naive && standing == 0:
			by, lost = c.times.lose(waitBy, wait)
		default:
			l := loss{wait: wait, waitBy: waitBy, lag: m.lag, spindle: m.wait, slowBy: m.capped, rampBy: before, slow: slow}
			l.ramp = seconds - naive - slow
			by, lost = c.times.loseAll(&l)
		}
		c.times.Waiting += wait
		below += wait + standing
	}
	seconds += wait + standing
	if !m.cut || m.feed == 0 {
		below = 0
	}
	tool := &c.times.Tools[c.tool]
	tool.Total += seconds
	if m.cut {
		c.times.Cutting += seconds
		tool.Cutting += seconds
		c.times.BelowFeed += below
	} else {
		c.times.Rapid += seconds
	}
	if c.visit != nil && !(c.losses && lost == 0 && wait == 0) {
		t := &c.timed
		t.Seconds, t.Wait, t.WaitBy, t.Top = seconds, wait, waitBy, r.top
		t.Limit, t.Lost, t.BelowFeed = by, lost, below
		t.Tool = tool.Tool
		c.show(m)
	}
}

// ride travels the move that has just been taken out of the window, and sets the
// speed at its end.
func (c *Clock) ride(m *move, most float64, why Limit, r *ride) {
	in, vin := c.speed2, c.speed
	limit := m.speed * m.speed
	if in == limit && most == limit && m.steady { // the most common by far
		c.why = why
		r.seconds = m.length / m.speed
		r.top, r.out, r.limited, r.below = m.speed, limit, r.seconds, 0
		if m.speed < belowShare*m.wanted {
			r.below = r.seconds
		}
		return
	}
	*r = ride{}
	slow := belowShare * m.wanted
	switch {
	case m.bent && !(in >= limit && most >= limit && m.steady):
		*r = c.round(m, in, most, slow*slow)
		c.speed = math.Sqrt(r.out)
	case m.alone > 0:
		r.seconds, r.top, r.limited = m.alone, m.speed, m.length/m.speed
		c.speed = 0
	default:
		r.out = min(most, in+m.gain)
		c.speed = math.Sqrt(r.out)
		r.seconds, r.top = m.profile(in, r.out, vin, c.speed)
		r.limited = m.length / m.speed
		r.below = m.belowTime(vin, c.speed, r.top, slow, r.seconds)
	}
	if m.sharp > 0 && m.alone == 0 {
		later := c.smooth.add(m.length, vin, r.top, c.speed, m.speed, m.slow, m.sharp)
		r.seconds += later
		r.below += later
	}
	if r.out >= most { // else it is on its way up from where it was slow: that is still why
		c.why = why
	}
	c.speed2 = r.out
}

// round travels an arc: where it can be in closed form. Where another axis would come
// to its limit before those of the arc, it is travelled in pieces, or in closed form
// with less of one of them: as it is faster.
func (c *Clock) round(m *move, in, most, slow float64) ride {
	b := &c.bends[(c.window.head-1)&(len(c.bends)-1)]
	if b.climbs() {
		if r, ok := b.glide(in, most, slow); ok {
			r.limited, r.top = m.length/m.speed, m.speed
			return r
		}
	}
	r := c.table.run(b, in, most, slow)
	r.top = min(r.top, m.speed) // its root may be a digit above
	for axis := range b.accel {
		less, ok := b.spared(axis)
		if !ok {
			continue
		}
		if g, ok := less.glide(in, most, slow); ok && g.seconds < r.seconds {
			r = g
			r.limited, r.top = m.length/m.speed, m.speed
		}
	}
	return r
}

func (c *Clock) show(m *move) {
	length := m.length
	if m.rotary {
		length = 0
	}
	t := &c.timed
	t.Line, t.Offset, t.Pos, t.End = m.line, m.offset, m.pos, m.end
	t.Cut, t.Length, t.Feed = m.cut, length, m.feed
	c.visit(t)
}

// spend adds to a part of the times, and to the tool's share.
func (c *Clock) spend(part *float64, seconds float64) {
	*part += seconds
	c.times.Tools[c.tool].Total += seconds
}

// settleAll brings the axes to rest at the end of what is known.
func (c *Clock) settleAll() {
	for c.window.len() > 0 {
		c.settle(ByAcceleration)
	}
	c.rolling = false
	c.smooth.reset()
}

// halt is settleAll before something that is not a move. The control must have
// read the blocks up to there.
func (c *Clock) halt() {
	c.settleAll()
	wait, _ := c.reader.use(c.reader.take(), 0)
	c.spend(&c.times.Other, wait)
}

// stand takes in an operation during which the axes stand.
func (c *Clock) stand(op *interp.Op) {
	c.halt()
	switch op.Kind {
	case interp.Dwell:
		c.pass(&c.times.Dwell, op.Seconds)
	case interp.Spindle:
		c.belts.spin(op)
		c.pass(&c.times.Spindle, c.spindle.set(op.State))
	case interp.Tool:
		c.toolChange(op)
	case interp.Gear:
		c.pass(&c.times.Spindle, c.spindle.pause())
		c.pass(&c.times.GearShift, c.spindle.shift)
	case interp.Stop:
		c.stop(op)
	case interp.Auxiliary:
		c.pass(&c.times.Other, op.Seconds)
	}
}

// pass lets time go by, in which the control reads on.
func (c *Clock) pass(part *float64, seconds float64) {
	if !(seconds > 0) {
		return
	}
	seconds = min(seconds, longest)
	c.spend(part, seconds)
	c.reader.use(supply{}, seconds)
}

// operator waits for a person: nobody knows how long.
func (c *Clock) operator() {
	c.times.OperatorStops++
	c.reader.fill()
}

// toolChange stops the spindle on the old tool's account; the change is the new
// one's.
func (c *Clock) toolChange(op *interp.Op) {
	if !op.Turret {
		c.pass(&c.times.Spindle, c.spindle.off())
	}
	number := op.State.Tool
	at, ok := c.tools[number]
	if !ok && len(c.tools) < mostTools {
		at = len(c.times.Tools)
		c.tools[number] = at
		c.times.Tools = append(c.times.Tools, ToolTime{Tool: number})
	}
	c.tool = at
	if op.Manual {
		c.operator()
		c.times.HandTools++
		return
	}
	c.pass(&c.times.ToolChange, c.change)
}

func (c *Clock) stop(op *interp.Op) {
	switch op.StopKind {
	case interp.ProgramStop, interp.PalletStop, interp.ManualStop:
		c.operator()
	case interp.End:
		c.pass(&c.times.Spindle, c.spindle.off())
	}
}
