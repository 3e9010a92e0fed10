package adapt

import (
	"fmt"
	"math"
	"strings"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
	"tapefit/rules"
)

// moves writes what the block does with its axes, and its stop.
func (a *adapter) moves(b *parser.Block) {
	l := &a.words
	if l.ends {
		a.endCycle()
	}
	switch m := l.nonMod; {
	case m == profiles.DwellHere:
		for i := range a.ops {
			if op := &a.ops[i]; op.Kind == interp.Dwell {
				a.dwell(op.Seconds)
			}
		}
		a.idle()
	case m == profiles.Home || m == profiles.HomeSecond:
		a.home(b, m)
	case m == profiles.MachineCoordinates:
		a.machineMove(b)
	case m == profiles.SetPosition && l.axes != 0:
		a.setPosition()
	case m.IsTurning():
		a.turnCycle(b, m)
	case m == profiles.CallArguments:
		a.written()
	case m == profiles.SetData && a.to.CodeFor(m) != "" && !(setsOffset(b) && a.sameLengths()):
		a.setData(b)
	case m != profiles.Refused:
		a.data(b)
	case a.inComp():
		a.compMove(b)
	case a.state.Motion.IsCycle() && a.drills():
		a.cycles(b)
	case a.state.Motion == profiles.Probe && l.axes != 0:
		a.leave(rules.Error, a.line, "a probe move that would have to be written anew", "Write it as "+a.to.Name+" takes it, and adapt again.")
	default:
		a.written()
	}
	a.stops(b)
}

// written writes the moves of the block, and its motion code where it has none.
func (a *adapter) written() {
	n := 0
	for i := range a.ops {
		if op := &a.ops[i]; op.Kind <= interp.Arc && !op.late {
			n++
		}
	}
	if n == 0 {
		a.idle()
		return
	}
	explicit := interp.AxisSet(0)
	if n == 1 && a.turned == 0 && !a.resolved {
		explicit = a.words.axes
	}
	for i := range a.ops {
		if op := &a.ops[i]; !op.late {
			a.operation(op, explicit)
		}
	}
}

// operation writes one that is not made by words of its own.
func (a *adapter) operation(op *done, explicit interp.AxisSet) {
	switch {
	case op.Kind == interp.Arc:
		a.arc(op)
	case op.Kind <= interp.Feed:
		a.straight(op, explicit)
	case op.Kind == interp.Dwell:
		a.dwell(op.Seconds)
	case op.Kind == interp.Spindle && op.InCycle:
		a.turnTo(op.spindle)
	case op.Kind == interp.Stop && op.StopKind == interp.ManualStop:
		a.w.flush()
		a.mcode(profiles.ProgramStop)
		a.w.flush()
	}
}

// resolvedMove writes a move of the tool's centre.
func (a *adapter) resolvedMove(op *done) {
	if op.Kind <= interp.Arc {
		a.ready()
		a.operation(op, 0)
	}
}

// endCycle writes the end of a cycle that stands beside a motion code, where the
// control takes both, else in a block in front.
func (a *adapter) endCycle() {
	w := a.w
	w.inCycle = false
	if a.to.CodeFor(profiles.CycleOff) == "" {
		return
	}
	w.code(profiles.CycleOff)
	w.motion = profiles.CycleOff
	if !a.to.Block.CycleOffBeside {
		a.did(Codes)
		w.flush()
	}
}

// idle writes a motion code that moves nothing: it comes into force.
func (a *adapter) idle() {
	w, m := a.w, a.words.motion
	switch {
	case m == profiles.Refused:
	case a.resolved: // the path of the tool's centre has codes of its own
	case m == profiles.CycleOff:
		w.inCycle = false
		if a.to.CodeFor(m) != "" {
			w.code(m)
			w.motion = m
		}
	case m.IsCycle():
	case a.to.Block.IdleMotion && a.to.CodeFor(m) != "" && (m == profiles.TraverseMove || m == profiles.FeedMove || m == profiles.ArcCW || m == profiles.ArcCCW):
		w.code(m)
		w.motion = m
	}
}

// motionCode begins a line for a move.
func (a *adapter) motionCode(m profiles.Meaning) {
	w := a.w
	if w.moves {
		w.flush()
	}
	a.restart()
	if w.motion != m || a.words.motion == m && !w.said {
		w.code(m)
	}
	w.motion, w.moves, w.said = m, true, true
	if !m.IsCycle() {
		w.inCycle = false
	}
}

// straight writes a traverse or a feed move. explicit are the axes that the
// source names: they are named whether they move or not.
func (a *adapter) straight(op *done, explicit interp.AxisSet) {
	w := a.w
	if op.Synchron && !(op.Lead > 0 && a.threads(op)) {
		a.leave(rules.Error, op.line, "a feed tied to the spindle, which "+a.to.Name+" has no cycle for in this form",
			"Write it by hand in a form that the control has.")
		return
	}
	for i := range profiles.NumAxes {
		if op.Moves.Has(i) && !op.ToKnown.Has(i) && !(op.Steps.Has(i) && w.distance == profiles.Incremental) {
			a.leave(rules.Error, op.line, fmt.Sprintf("where %c goes is not known here, and the block cannot stay as it is", profiles.AxisLetters[i]),
				"Name the place in work coordinates before it, or say where work zero lies with --offset.")
			return
		}
	}
	if w.distance == profiles.Incremental {
		for i := range profiles.NumAxes {
			if op.Moves.Has(i) && !w.known.Has(i) && !(op.FromKnown | op.Steps).Has(i) {
				a.byDistance(op.line, 1<<i)
				return
			}
		}
	}
	named := explicit & op.Moves
	for i := range profiles.NumAxes {
		if op.Moves.Has(i) && !named.Has(i) && (!w.known.Has(i) || w.snap(i, op.To[i]) != w.snap(i, w.at[i])) {
			named |= 1 << i
		}
	}
	if named == 0 {
		return // it is shorter than anything that can be written
	}
	m := profiles.FeedMove
	switch {
	case op.Kind == interp.Traverse:
		m = profiles.TraverseMove
	case op.Lead > 0:
		m = profiles.Thread
	}
	a.motionCode(m)
	from := w.at
	a.axisWords(op, named)
	switch m {
	case profiles.FeedMove:
		a.feedOf(op, a.ran(op, &from))
	case profiles.Thread:
		a.leadWord(op.Lead)
	}
}

// byDistance tells of a move from where nobody knows, on a machine that moves by
// distances.
func (a *adapter) byDistance(line int, from interp.AxisSet) {
	for i := range profiles.NumAxes {
		if from.Has(i) {
			a.leave(rules.Error, line, fmt.Sprintf("%s moves by distances only, and where %c stands is not known here", a.to.Name, profiles.AxisLetters[i]),
				"Say with --start where the tool stands when the program begins.")
			return
		}
	}
}

// axisWords appends the words that go to the end of a move.
func (a *adapter) axisWords(op *done, named interp.AxisSet) {
	w := a.w
	for i := range profiles.NumAxes {
		switch {
		case !named.Has(i):
		case w.distance == profiles.Incremental && (!w.known.Has(i) || !op.ToKnown.Has(i)):
			w.goBy(i, op.To[i]-op.From[i])
		default:
			w.goTo(i, op.To[i])
		}
	}
}

// dwell writes a dwell in a block of its own.
func (a *adapter) dwell(seconds float64) {
	w := a.w
	if a.to.CodeFor(profiles.DwellHere) == "" {
		a.leave(rules.Error, a.line, a.to.Name+" has no code for a dwell", "Take it out of the source where the cut does not need it; where it does, write a stop (M0) in its place.")
		return
	}
	for _, letter := range [...]byte{'P', 'X', 'U'} {
		unit := a.to.DwellUnit(letter)
		if unit == 0 || !a.to.Takes(letter) {
			continue
		}
		if w.moves {
			w.flush()
		}
		w.code(profiles.DwellHere)
		w.room()
		w.buf = append(w.buf, letter)
		if letter == 'P' {
			w.buf = append(w.buf, plain(seconds/unit)...)
		} else {
			w.buf = appendPoint(w.buf, math.Round(seconds/unit*1000), 3)
		}
		w.moves = true
		return
	}
}

// home writes G28 and G30, or the moves that stand for them.
func (a *adapter) home(b *parser.Block, m profiles.Meaning) {
	w, by := a.w, a.homeCode()
	same := by == m
	for i := range a.ops {
		op := &a.ops[i]
		switch {
		case op.late || op.Kind > interp.Arc:
		case !op.Home && same:
			a.restart()
			a.ready()
			w.code(m)
			a.throughWords(op)
		case !op.Home:
			if op.Length == 0 && op.Moves&^(op.FromKnown|op.Steps) == 0 {
				continue
			}
			a.straight(op, 0)
		case same:
			if a.words.axes == 0 {
				w.code(m)
			}
			a.at(op.Moves)
		case by == profiles.MachineCoordinates:
			a.did(Codes)
			axes, at := op.Moves&interp.AxisSet(a.to.AllAxes()), interp.Point{}
			for axis := range profiles.NumAxes {
				if axes.Has(axis) {
					at[axis] = float64(*a.to.HomeOf(axis, m))
				}
			}
			a.toMachine(op, axes, &at)
		default:
			a.homeless(op)
		}
	}
	_ = b
}

// throughWords appends the words of the place that the way home leads through.
func (a *adapter) throughWords(op *done) {
	w := a.w
	for i := range profiles.NumAxes {
		switch {
		case !a.words.axes.Has(i):
		case a.words.away.Has(i) && strings.IndexByte(a.to.Words.Incremental, "UVW"[i]) >= 0:
			w.number("UVW"[i], math.Round((op.To[i]-op.From[i])/w.step(i)))
		case !op.ToKnown.Has(i) && w.distance != profiles.Incremental:
			a.leave(rules.Error, op.line, fmt.Sprintf("%c goes home from a place that is not known here, and %s has no word for a distance", profiles.AxisLetters[i], a.to.Name),
				"Write G91 in front of the block, the distance as the axis word, and G90 behind it.")
		default:
			a.axisWords(op, 1<<i)
		}
	}
}

// at takes over where the source stands.
func (a *adapter) at(axes interp.AxisSet) {
	for i := range profiles.NumAxes {
		if axes.Has(i) {
			a.w.at[i] = a.state.At[i]
			a.w.known = a.w.known&^(1<<i) | a.state.Known&(1<<i)
		}
	}
	if lengths(a.from) != lengths(a.to) { // where that is in the work is another place there
		a.w.known &^= axes & lengthAxes(a.from)
	}
}

// machineMove writes a move in machine coordinates.
func (a *adapter) machineMove(b *parser.Block) {
	for i := range a.ops {
		op := &a.ops[i]
		switch {
		case op.late || op.Kind > interp.Arc:
		case a.to.CodeFor(profiles.MachineCoordinates) == "":
			a.homeless(op)
		default:
			a.toMachine(op, a.words.axes, &op.ToMachine)
		}
	}
	_ = b
}

// toMachine writes a move to a place in machine coordinates.
func (a *adapter) toMachine(op *done, axes interp.AxisSet, to *interp.Point) {
	w := a.w
	if w.moves {
		w.flush()
	}
	a.ready()
	w.code(profiles.MachineCoordinates)
	m := profiles.TraverseMove
	if op.Kind == interp.Feed {
		m = profiles.FeedMove
	}
	a.motionCode(m)
	for axis := range profiles.NumAxes {
		if axes.Has(axis) {
			w.number(profiles.AxisLetters[axis], a.counts(axis, to[axis]))
		}
	}
	a.at(op.Moves)
}

// toPlace says whether the block goes to places of the work in the stead of
// places of the machine. Those are named by a person, and are places also where
// the source moves by distances: it often does so on its way home, from where
// nobody knows.
func (a *adapter) toPlace() bool {
	switch m := a.words.nonMod; m {
	case profiles.Home, profiles.HomeSecond, profiles.MachineCoordinates:
		return a.homeCode() != m
	}
	return false
}

// homeless writes a move to the home position, or in machine coordinates, for a
// machine that has no code for it: to the place that a person has named.
func (a *adapter) homeless(op *done) {
	w := a.w
	a.did(Homing)
	named := interp.AxisSet(0)
	for i := range profiles.NumAxes {
		switch letter := profiles.AxisLetters[i]; {
		case !op.Moves.Has(i):
		case a.opt.Home[i] != nil && !isAbove(w.known, &w.at, i, *a.opt.Home[i]):
			named |= 1 << i
		case a.opt.Home[i] != nil: // it stands above that
		case i == 2:
			a.leave(rules.Error, op.line, fmt.Sprintf("the tool goes to the top of the machine; %s has no code for that", a.to.Name),
				`Say to which level over the work it shall go instead, with --home "Z1in".`)
			return
		default:
			a.leave(rules.Note, op.line, fmt.Sprintf("%c goes home; %s has no code for that: the move is left out", letter, a.to.Name),
				fmt.Sprintf(`If it must move out of the way, say where to with --home "%c2in".`, letter))
		}
	}
	if named == 0 {
		return
	}
	a.ready()
	if from := named &^ w.known; from != 0 && w.distance == profiles.Incremental {
		a.byDistance(op.line, from)
		return
	}
	a.motionCode(profiles.TraverseMove)
	for i := range profiles.NumAxes {
		if named.Has(i) {
			w.goTo(i, *a.opt.Home[i])
		}
	}
}

// setPosition writes a code that says where the tool stands.
func (a *adapter) setPosition() {
	w := a.w
	switch {
	case a.to.CodeFor(profiles.SetPosition) == "":
		what := "Write all places from one zero"
		if code := a.to.CodeFor(profiles.WorkOffset1 + 1); code != "" {
			what += ", or set a work offset (" + code + ") at the machine to the new zero and write its code here"
		}
		a.leave(rules.Error, a.line, "the program sets the position anew where it stands, and "+a.to.Name+" has no code for that", what+".")
		return
	case a.state.Known&a.words.axes != a.words.axes:
		a.leave(rules.Error, a.line, "the program sets the position anew, to a place that is not known here",
			"Write the block by hand in the form of "+a.to.Name+".")
		return
	}
	a.ready()
	w.code(profiles.SetPosition)
	for i := range profiles.NumAxes {
		if a.words.axes.Has(i) {
			n := a.counts(i, a.state.At[i])
			w.number(profiles.AxisLetters[i], n)
			w.at[i] = n * w.step(i)
			w.known |= 1 << i
		}
	}
}

// data writes a block that sets data of the control, or another code for the
// block alone, with its words as they are.
func (a *adapter) data(b *parser.Block) {
	a.ready()
	for i := range b.Words {
		word := &b.Words[i]
		switch word.Address {
		case 'N', 'O', 'M', 'S', 'T', 'F':
			continue
		case 'G':
			if meaningG(a.from, word).Group() != profiles.NonModal {
				continue
			}
		}
		if a.unused>>i&1 == 1 {
			a.did(Words)
			continue
		}
		if word.Expr != nil || !a.keepsWord(word) {
			a.leave(rules.Error, a.line, fmt.Sprintf("%s, %s, is not taken by %s as it stands", b.Text(word.Pos, word.End), a.words.nonMod, a.to.Name),
				"Write what it does in another way, and adapt again.")
			return
		}
		a.w.text(b.Text(word.Pos, word.End))
	}
	a.at(a.moved())
}

// inComp says whether the block is read by the machine's own cutter
// compensation.
func (a *adapter) inComp() bool {
	return !a.resolved && (a.before.Comp != profiles.CompOff || a.state.Comp != profiles.CompOff) && a.words.axes != 0 &&
		a.to.CodeFor(profiles.CompLeft) != ""
}

// compMove writes a move of the program under compensation that the machine
// makes.
func (a *adapter) compMove(b *parser.Block) {
	w, m := a.w, a.state.Motion
	arc := m == profiles.ArcCW || m == profiles.ArcCCW
	contour, ok := done{}, m == profiles.FeedMove || m == profiles.TraverseMove
	if arc {
		contour, ok = a.compArc(b)
	}
	if !ok || a.state.Known&a.words.axes != a.words.axes || arc && !a.makesArc(&contour) {
		a.leave(rules.Error, a.line, "a move under cutter compensation that "+a.to.Name+" does not take in this form",
			"Have the post write the contour in the form of "+a.to.Name+".")
		return
	}
	a.ready()
	if arc {
		a.arc(&contour)
		return
	}
	a.motionCode(m)
	for i := range profiles.NumAxes {
		if a.words.axes.Has(i) {
			w.goTo(i, a.state.At[i])
		}
	}
	switch {
	case m == profiles.TraverseMove:
	case a.state.FeedMode == profiles.FeedPerMinute:
		w.feedWord(a.state.Feed)
	case w.feedMode == profiles.FeedInverseTime:
		w.timeWord(a.state.Feed) // the path that it is for is that of the tool's centre
	}
}

// stops writes the stop or the end of the block, the last that it does.
func (a *adapter) stops(b *parser.Block) {
	w := a.w
	for _, i := range a.words.stops {
		word := &b.Words[i]
		m := meaningM(a.from, word)
		w.behind()
		if limit := a.to.Words.MCodes; limit > 0 && w.ms >= limit {
			w.flush()
		}
		a.mcode(m)
		if m == profiles.ProgramStop || m == profiles.PalletStop {
			w.freesBelt(false)
		}
		a.ended = a.ended || m == profiles.ProgramEnd || m == profiles.ProgramEndRewind
	}
}
