package adapt

import (
	"fmt"
	"math"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
)

type stepKind uint8

const (
	moveStep   stepKind = iota // a curve
	homeStep                   // to a place of the machine: G28, G30, G53
	stateStep                  // what is in force has changed: before what comes next, not where it is written
	toolStep                   // number: the tool, -1 unknown
	dwellStep                  // number: s
	stopStep                   // number: interp.StopKind
	codeStep                   // number: an M code that is taken and does what tapefit does not compute, by tenths
	orientStep                 // the spindle stops in place
	faultStep                  // the program has a fault
)

// A step is one thing that a program does, in a form in which two ways of
// writing it come out alike.
type step struct {
	kind   stepKind
	line   int
	number float64
	state  *state // of stateStep
	text   string // of faultStep: what is wrong

	// Of moves. The curve of a homeStep goes to machine coordinates.
	curve
	rapid              bool
	jump               bool           // it begins elsewhere than the one before has ended
	fromKnown, toKnown interp.AxisSet // what is not known is 0 in the curve
	moves              interp.AxisSet // axes that move or may move
	steps              interp.AxisSet // of an open one: the curve says how far they move, not where to
	feed               rate
}

// open says whether it is not known where the move leads, or from where, so
// that it has no curve.
func (s *step) open() bool { return s.moves&^(s.fromKnown&s.toKnown) != 0 }

// A rate is a feed in one of its kinds: 60 mm/min is not 60 mm a revolution.
type rate struct {
	kind  rateKind
	value float64 // mm/s or deg/s; mm or deg in a revolution; mm; 0: not set
	still bool    // of perRev: the speed of the spindle does not follow the radius
	speed float64 // of perRev: mm/s or deg/s at the start
}

type rateKind uint8

const (
	perTime rateKind = iota
	perRev
	lead // of a thread, along its main axis
)

// state is what is in force beside places and feeds. Two are equal where the
// machine is in one state.
type state struct {
	spindle     interp.SpindleState
	speed       float64 // rpm, -1 not known or not set; under constant surface speed 0
	surface     float64 // mm/s; 0: none
	clamp       float64 // rpm, under constant surface speed; 0: none
	gear        int     // coded: index in the profile of the output's machine, -1 none
	ownGear     int     // of the source: see gearing.own
	flood, mist bool
	offset      int
	length      int // number of the tool length offset
	path        profiles.Meaning
	comp        profiles.Meaning // where the path does not tell: the tool's diameter is not known
	compD       int
	synchron    bool
	probe       bool
	overrides   profiles.Meaning // OverridesOff, or Refused: on, as at the start
}

// common says what both machines have, so that it can be compared.
type common struct {
	lengths   bool // both have tool length offsets, or neither
	paths     bool // both have codes for all path modes
	gears     bool // the output's machine shifts by code
	overrides bool
	orient    bool
	change    bool // both change tools by the same program
	axes      interp.AxisSet
}

// recorder makes steps of operations.
type recorder struct {
	m       *profiles.Machine
	common  common
	scale   float64 // of rotary axes
	out     bool    // it is the output: a fault is the end
	in      *interp.Interp
	steps   *pipe
	leftOut map[int]bool
	homes   *homing // not nil: where moves in machine coordinates go instead
	place   interp.Point
	placed  interp.AxisSet // axes that stand at place, wherever the source has them

	now, told state
	begun     bool // told holds
	line      int  // of what has changed the state since it was told; 0: nothing
	last      interp.Point
	known     interp.AxisSet // of last
	turned    interp.Point   // degrees that wrapping axes have left behind
	length    int            // in force at the last move
	opened    interp.AxisSet // axes whose place at the start of the next move is the machine's own affair
	blind     bool           // compensation is on and its tool not known
	codes     []int          // of the block, not yet told
	block     int            // its line
	moved     bool           // the block has made a move
	unseen    bool           // the block may have a move that is not shown

	gears    *gearing       // of the source: the gears that the output is to be in
	change   *changing      // tools are changed as the output's machine wants; nil: as in the source
	dry      bool           // the coolant is off since a change, and on in the source
	settling bool           // what comes next is owed of a change
	sent     interp.AxisSet // axes that a change has sent to sentTo, in machine coordinates
	sentTo   interp.Point

	arc    curve // being cut
	moves  int64
	limits limits
	err    error // of reading
}

// limits are what keeps a proof from being whole.
type limits struct {
	told []string
	more int // not told one by one
}

// mostLimits bounds those that are told.
const mostLimits = 20

func (l *limits) add(line int, text string) {
	if len(l.told) < mostLimits {
		l.told = append(l.told, fmt.Sprintf("line %d: %s", line, text))
	} else {
		l.more++
	}
}

// exec looks at the words of a block that become no operation.
func (r *recorder) exec(b *parser.Block) {
	if !r.gears.within(b) {
		r.shift(r.in.State())
	}
	r.endBlock()
	r.block = b.Line
	r.gears.begins(b)
	if !r.out {
		r.change.begins()
		r.owedCode(b)
		if r.change != nil && r.change.setsPlace(b) {
			r.steps.add(faultStep, b.Line).text = "it " + setsThere
		}
	}
	for i := range b.Words {
		w := &b.Words[i]
		if w.Address == 'M' && w.Expr == nil {
			r.code(b, int(math.Round(w.Value*10)))
		}
	}
	axes := interp.AxisSet(r.m.AllAxes()) & interp.XYZ
	if r.in.State().Known&axes != axes {
		r.unseen = b.Word('X') != nil || b.Word('Y') != nil || b.Word('Z') != nil
	}
}

// code notes an M code that becomes no operation.
func (r *recorder) code(b *parser.Block, tenths int) {
	switch m := r.m.M(tenths); {
	case m == profiles.Accepted && r.leftOut[tenths]:
	case m == profiles.Accepted:
		r.codes = append(r.codes, tenths)
	case m == profiles.SpindleOrient && (r.common.orient || r.out):
		r.codes = append(r.codes, -1)
	case m == profiles.OverridesOn && (r.common.overrides || r.out):
		r.now.overrides = profiles.Refused // as at the start (NISTIR 6556, from memory)
		r.line = b.Line
	case m == profiles.OverridesOff && (r.common.overrides || r.out):
		r.now.overrides = m
		r.line = b.Line
	}
}

// endBlock tells what is left of a block.
func (r *recorder) endBlock() {
	r.tellCodes()
	if r.unseen && !r.moved {
		if m := r.in.State().Motion; m == profiles.ArcCW || m == profiles.ArcCCW {
			r.limits.add(r.block, "an arc from a place that is not known is not compared")
		}
	}
	r.moved, r.unseen = false, false
}

// tellCodes sends the M codes of the block: they are executed after tool,
// spindle and coolant and before the move.
func (r *recorder) tellCodes() {
	if len(r.codes) == 0 {
		return
	}
	codes := r.codes
	r.codes = r.codes[:0]
	r.tellState(r.block)
	for _, c := range codes {
		s := r.steps.add(codeStep, r.block)
		s.number = float64(c)
		if c < 0 {
			s.kind = orientStep
		}
	}
	if r.settling {
		r.settled()
	}
}

// tellState sends what is in force, where that has changed.
func (r *recorder) tellState(line int) {
	if r.begun && r.now == r.told {
		r.line = 0
		return
	}
	if r.line != 0 {
		line = r.line
	}
	r.begun, r.told, r.line = true, r.now, 0
	now := r.now
	r.steps.add(stateStep, line).state = &now
}

// op sends one operation.
func (r *recorder) op(op *interp.Op) {
	line := op.Block.Line
	if op.Kind != interp.Tool && !(op.Word >= 0 && r.isToolChange(&op.Block.Words[op.Word])) {
		r.shift(op.State)
	}
	if !r.out {
		r.paysOwed(op)
		r.change.op(op)
	}
	switch op.Kind {
	case interp.Traverse, interp.Feed, interp.Arc:
		r.strays(op)
		r.move(op)
		r.sent &^= op.Moves
	case interp.Spindle, interp.Coolant, interp.Gear:
		r.setting(op)
	case interp.Tool:
		switch {
		case r.change != nil && !op.Turret && !r.out:
			r.changesTool(op)
		case r.change != nil && !op.Turret:
			r.tellChange(op)
		default:
			r.steps.add(toolStep, line).number = float64(op.State.Tool)
		}
		if !op.Turret {
			r.now.spindle, r.now.speed, r.now.surface = interp.SpindleOff, 0, 0
		}
		if !r.common.change {
			r.opened = r.common.axes
		}
	case interp.Dwell:
		if op.Seconds > 0 {
			r.tellCodes()
			r.tellState(line)
			r.steps.add(dwellStep, line).number = op.Seconds
		}
	case interp.Stop:
		r.tellCodes()
		if op.StopKind != interp.End { // which sets all back but the gear
			r.tellState(line)
		}
		r.steps.add(stopStep, line).number = float64(op.StopKind)
		if r.settling {
			r.settled()
		}
		if op.StopKind == interp.End {
			gear, own := r.now.gear, r.now.ownGear
			r.now = r.told
			if r.now.gear, r.now.ownGear = gear, own; r.now == r.told {
				r.line = 0
			}
		}
	}
}

// setting takes over what an operation has changed.
func (r *recorder) setting(op *interp.Op) {
	s := op.State
	switch op.Kind {
	case interp.Spindle:
		r.now.spindle = s.Spindle
		r.now.speed, r.now.surface = speeds(s)
	case interp.Coolant:
		r.now.flood, r.now.mist, r.dry = s.Flood, s.Mist, false
	case interp.Gear:
		if !r.common.gears || !r.out {
			return
		}
		r.now.gear = s.Gear
	}
	r.line = op.Block.Line
}

// shift takes over the gear that the block of the source has the output engage.
func (r *recorder) shift(s *interp.State) {
	if r.gears.shifts(s) {
		r.now.gear, r.now.ownGear, r.line = r.gears.gear, r.gears.own, r.block
	}
}

// speeds is how fast the spindle turns by the program, in rpm, or the surface
// in mm/s; nothing of that counts while it stands.
func speeds(s *interp.State) (speed, surface float64) {
	switch {
	case s.Spindle == interp.SpindleOff:
		return 0, 0
	case s.Surface > 0:
		return 0, s.Surface
	case !s.SpeedSet || s.Unknown&interp.UnknownSpeed != 0:
		return -1, 0
	}
	return s.Speed, 0
}

// modes takes over what is in force at a move.
func (r *recorder) modes(op *interp.Op) {
	s, now := op.State, &r.now
	now.offset = s.Offset
	now.length = 0
	if r.common.lengths {
		now.length = s.LengthH
	}
	if r.common.paths {
		now.path = s.Path
	}
	if s.Spindle != interp.SpindleOff && s.Surface != now.surface {
		now.speed, now.surface = speeds(s) // the mode has changed, and no word of speed
	}
	now.clamp = 0
	if now.surface > 0 {
		now.clamp = s.Clamp
	}
	now.synchron = op.Synchron
	now.probe = s.Motion == profiles.Probe && op.Kind == interp.Feed && !op.InCycle
	r.blind = r.blind && s.Comp != profiles.CompOff
	now.comp, now.compD = profiles.CompOff, 0
	if r.blind {
		now.comp, now.compD = s.Comp, s.CompD
	}
}

// move sends a move.
func (r *recorder) move(op *interp.Op) {
	r.moved = true
	if !r.common.change && op.Word >= 0 && r.isToolChange(&op.Block.Words[op.Word]) {
		r.last, r.known = op.To, op.ToKnown
		return // the machine's own way to change tools
	}
	r.lengthChanged(op)
	if r.placed != 0 {
		op = r.fromPlace(op)
	}
	if op.Home {
		r.home(op)
		return
	}
	if op.Kind != interp.Arc && r.stands(op) {
		return
	}
	r.tellCodes()
	r.modes(op)
	r.tellState(op.Block.Line)
	r.path(op)
}

// stands says whether a straight move goes nowhere.
func (r *recorder) stands(op *interp.Op) bool {
	if op.Moves&^(op.FromKnown&op.ToKnown|op.Steps) != 0 || r.opened&op.Moves != 0 && op.State.Distance != profiles.Incremental {
		return false
	}
	const nothing = 1e-9 // mm or degrees: what adding up leaves over
	for i := range op.From {
		if op.Moves.Has(i) && math.Abs(op.From[i]-op.To[i]) > nothing {
			return false
		}
	}
	return true
}

func (r *recorder) isToolChange(w *parser.Word) bool {
	return w.Address == 'M' && w.Expr == nil && r.m.M(int(math.Round(w.Value*10))) == profiles.ToolChange
}

// home sends a move in machine coordinates.
func (r *recorder) home(op *interp.Op) {
	moves := interp.AxisSet(0)
	for i := range op.ToMachine {
		known := (op.FromMachineKnown & op.ToMachineKnown).Has(i)
		there := known && op.FromMachine[i] == op.ToMachine[i]
		if r.sent.Has(i) { // it went there for a tool change
			there = op.ToMachineKnown.Has(i) && r.sentTo[i] == op.ToMachine[i]
		}
		if op.Moves.Has(i) && !there {
			moves |= 1 << i
		}
	}
	if r.homes.lacks(op) {
		r.homeInWork(op)
		return
	}
	r.last, r.known = op.To, op.ToKnown
	if moves == 0 {
		return
	}
	r.tellCodes()
	r.modes(op)
	r.tellState(op.Block.Line)
	s := r.steps.add(homeStep, op.Block.Line)
	to := only(&op.ToMachine, op.ToMachineKnown&moves)
	s.curve = line(&to, &to, r.scale)
	s.rapid, s.moves, s.toKnown = op.Kind == interp.Traverse, moves, op.ToMachineKnown&moves
	s.feed = r.rate(op)
	if r.change != nil || !r.common.lengths {
		// Of both programs alike: one of them may have gone there for a change, or
		// without the length that the other reckons with.
		r.opened |= moves
	}
}

// path sends the curve of a move.
func (r *recorder) path(op *interp.Op) {
	from, to := op.From, op.To
	fromKnown, toKnown := op.FromKnown, op.ToKnown
	if steps := op.Steps &^ fromKnown; steps != 0 {
		// Of a place that is not known it is known how far it moves.
		for i := range from {
			if steps.Has(i) {
				to[i] -= from[i]
				from[i] = 0
			}
		}
	}
	from, to = only(&from, fromKnown), only(&to, toKnown|op.Steps)
	for i := range from {
		if !(fromKnown & r.known).Has(i) {
			continue
		}
		if r.wraps(i) {
			r.turned[i] += 360 * math.Round((r.last[i]-from[i]-r.turned[i])/360)
			from[i] += r.turned[i]
			to[i] += r.turned[i]
		}
	}
	jump := r.jumps(&from, fromKnown)
	r.last, r.known = to, toKnown
	r.moves++
	s := r.steps.add(moveStep, op.Block.Line)
	s.rapid, s.feed, s.moves, s.steps = op.Kind == interp.Traverse, r.rate(op), op.Moves, op.Steps
	s.fromKnown, s.toKnown, s.jump = fromKnown&^r.opened, (toKnown|op.Steps)&^(r.opened&^op.Moves), jump || r.opened != 0
	if r.opened != 0 {
		from, to = only(&from, s.fromKnown), only(&to, s.toKnown)
	}
	r.opened &^= op.Moves
	if op.Kind != interp.Arc {
		s.curve = line(&from, &to, r.scale)
		return
	}
	r.arc = arc(op, &from, &to, r.scale)
	n := r.arc.parts()
	s.curve = r.arc.part(0, n, r.arc.from)
	for k := 1; k < n; k++ {
		whole := *s
		s = r.steps.add(moveStep, op.Block.Line)
		*s = whole
		s.jump = false
		s.curve = r.arc.part(k, n, whole.to)
	}
}

// jumps says whether a move begins elsewhere than where the one before has ended. What
// the control makes of adding up is not a jump.
func (r *recorder) jumps(from *interp.Point, known interp.AxisSet) bool {
	const same = 1e-7
	if known != r.known {
		return true
	}
	for i := range from {
		if known.Has(i) && math.Abs(from[i]-r.last[i]) > same {
			return true
		}
	}
	return false
}

func (r *recorder) wraps(i int) bool {
	if i < 3 {
		return false
	}
	a := r.m.Axis(i)
	return a != nil && a.Wrap != ""
}

// only is a place with what is not known set to nought.
func only(p *interp.Point, known interp.AxisSet) interp.Point {
	q := *p
	for i := range q {
		if !known.Has(i) {
			q[i] = 0
		}
	}
	return q
}

// rate is the feed of a move.
func (r *recorder) rate(op *interp.Op) rate {
	s := op.State
	switch {
	case op.Kind == interp.Traverse:
		return rate{}
	case op.Lead > 0:
		return rate{kind: lead, value: op.Lead}
	case op.PerRev > 0:
		return rate{kind: perRev, value: op.PerRev, still: op.Turn.Surface == 0, speed: op.Feed}
	case s.FeedMode == profiles.FeedPerRevolution && s.FeedSet && s.Unknown&interp.UnknownFeed == 0:
		return rate{kind: perRev, value: s.Feed}
	case s.FeedMode == profiles.FeedPerRevolution && op.Feed == 0:
		return rate{kind: perRev} // of an F from before the program
	}
	return rate{value: op.Feed}
}

// fault takes a fault: of the output it is the end of the proof, unless the
// block is executed all the same; of the source it is a limit.
func (r *recorder) fault(f *interp.Fault) {
	switch f.Kind {
	case interp.CompUnknown:
		r.blind = true
		return
	case interp.ArcForm:
		if f.Cause != interp.RefusedUnequal {
			return
		}
	case interp.ArcQuadrant:
		if f.Cause != interp.NoQuadrant {
			return
		}
	case interp.NotUsed, interp.TooManyM, interp.CompEntryShort:
		return
	}
	text := fmt.Sprintf("%q %s", f.Block.Text(f.Pos, min(f.End, f.Pos+40)), faultText(f))
	if !r.out || r.homeUnknown(f) {
		r.limits.add(f.Block.Line, text)
		return
	}
	r.steps.add(faultStep, f.Block.Line).text = text
}

// homeUnknown says whether the fault is that the profile does not say where
// home is: then both go there, wherever it is.
func (r *recorder) homeUnknown(f *interp.Fault) bool {
	if f.Kind != interp.NotInterpreted || f.Word < 0 || f.Block.Words[f.Word].Address != 'G' {
		return false
	}
	m := r.m.G(int(math.Round(f.Block.Words[f.Word].Value * 10)))
	return m == profiles.Home || m == profiles.HomeSecond
}

// faultText is a fault in a few words; check tells the whole.
func faultText(f *interp.Fault) string {
	switch f.Kind {
	case interp.NotAccepted, interp.CycleNotAccepted:
		return "is not accepted"
	case interp.Missing:
		return "needs " + string(f.Missing)
	case interp.Conflict:
		return "excludes another word of its block"
	case interp.ArcRadius:
		return fmt.Sprintf("has a radius of %.4f mm at its start and %.4f at its end", f.A, f.B)
	case interp.Runaway:
		return "is where the budget of blocks is spent"
	case interp.NotAProgram:
		return "is where reading ends: this is no part program"
	case interp.SubprogramMissing:
		return "calls a program that is not in the file"
	case interp.CallTooDeep:
		return "calls too deep"
	case interp.NoMotion:
		return "names axes with no motion mode in force"
	}
	if f.Cause != "" {
		return "is not executed: " + f.Cause
	}
	return "is not executed as it is written"
}

// lengthAxes are the axes that a tool length offset moves.
func lengthAxes(m *profiles.Machine) interp.AxisSet {
	if m.Tools.Word == "tool-offset" {
		return interp.X | interp.Z
	}
	return interp.Z
}
