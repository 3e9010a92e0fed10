package interp

import (
	"bytes"
	"math"

	"tapefit/parser"
	"tapefit/profiles"
)

// exec executes one block and shows that it has.
func (in *Interp) exec(b *parser.Block) error {
	err := in.execute(b)
	if in.left {
		in.left = false
		in.dropped++
	}
	if in.visit.After != nil {
		in.visit.After(b)
	}
	return err
}

// execute executes one block in the order of the published report (NISTIR 6556,
// table 8: from memory): feed mode, F, S, T, tool change, spindle, coolant,
// overrides, dwell, plane, units, compensation, length, work offset, path
// mode, distance, retract, home and offsets, motion, stop. Gear codes, which
// the report does not have, come before the spindle. Where the block leads
// elsewhere than to the next one, in.moved is set. The error is one of reading
// the program.
func (in *Interp) execute(b *parser.Block) error {
	if !in.spend(b, -1) {
		return nil
	}
	if in.visit.Exec != nil {
		in.visit.Exec(b)
	}
	in.op.Block = b
	steady := in.s.Steady
	in.s.Steady = 0
	if len(b.Faults) > 0 && !in.readable(b) {
		return nil
	}
	in.sort(b)
	if b.Flow != nil {
		if in.m.Block.Flow {
			return in.flow(b)
		}
		in.faultFlow(NotAccepted, b, 0, RefusedFlow)
		in.left = true
	}
	if len(b.Settings) > 0 {
		in.settings(b, b.Settings)
	}
	if in.simple(b, steady) {
		return nil
	}
	if in.w.g[profiles.NonModal] == profiles.CallArguments {
		return in.callArguments(b)
	}
	if err := in.execOrdered(b); err != nil || in.s.Ended {
		return err
	}
	in.reportUnused(b)
	return in.execStop(b)
}

// simple executes a block that changes places and nothing else, as most are: axis
// words, with a code of straight or circular motion or none. Steady is that of the
// block before. False: it is of another kind.
func (in *Interp) simple(b *parser.Block, steady uint64) bool {
	w, s := &in.w, &in.s
	if w.set&^(axisWords|centreWords) != 0 || w.codes > 1 || w.doubt || s.Unknown != 0 || s.FeedMode == profiles.FeedInverseTime {
		return false
	}
	axes := w.axes()
	if w.set == 0 && w.codes == 0 {
		s.Steady = steady
		return true
	}
	if axes == 0 || axes&in.lacking != 0 {
		return false
	}
	m := s.Motion
	if w.codes > 0 {
		m = w.g[profiles.MotionGroup]
	}
	switch m {
	case profiles.TraverseMove, profiles.FeedMove, profiles.ArcCW, profiles.ArcCCW:
	default:
		return false
	}
	in.motionMode()
	if axes&^XYZ == 0 && s.Surface == 0 && in.comp.state == compIdle && len(b.Settings) == 0 && b.Delete == 0 {
		if steady == 0 {
			in.stretches++
			steady = in.stretches
		}
		s.Steady = steady
	}
	if m == profiles.ArcCW || m == profiles.ArcCCW {
		in.arc(b, m)
	} else {
		in.straight(b, m)
	}
	if w.set&^w.used != 0 {
		in.reportUnused(b)
	}
	return true
}

// readable says the faults of a block. Where they are all of comments the
// words are as they would be after mending; otherwise the block is not
// executed and what it names is lost.
func (in *Interp) readable(b *parser.Block) bool {
	comments, told := true, false
	for i := range b.Faults {
		f := &b.Faults[i]
		if f.Pos < int32(len(b.Raw)) && b.Raw[f.Pos] != '(' && b.Raw[f.Pos] != ')' && !inComment(b, f) {
			comments = false
		}
		if f.Wake || told {
			continue // a block that cannot be read is one thing to mend
		}
		told = true
		in.fault = Fault{Kind: Unreadable, Block: b, Word: -1, Other: -1, Pos: f.Pos, End: f.End, Cause: f.Cause}
		in.emitFault()
	}
	if comments {
		return true
	}
	if b.Word('O') != nil {
		in.beginProgram(b)
	}
	in.loseWords(b)
	if bytes.IndexByte(b.Raw, '#') >= 0 {
		in.loseParams()
	}
	// What could not be read may have been any word.
	in.loseAxes(allAxes)
	in.s.Unknown |= UnknownFeed
	return false
}

// beginProgram notes where the program text begins that the main program is in.
func (in *Interp) beginProgram(b *parser.Block) {
	if len(in.frames) == 1 {
		in.frames[0].begin = place{b.Offset, b.Line}
	}
}

// loseWords forgets what the words of a block would have set.
func (in *Interp) loseWords(b *parser.Block) {
	for i := range b.Words {
		word := &b.Words[i]
		t, ok := tenths(word.Value)
		switch {
		case word.Expr != nil || !ok:
			in.loseWord(word.Address)
		case word.Address == 'G':
			in.loseCode(t)
		case word.Address == 'M':
			in.loseM(t)
		default:
			in.loseWord(word.Address)
		}
	}
}

// inComment says whether the fault lies inside a comment that is closed.
func inComment(b *parser.Block, f *parser.Fault) bool {
	for i := range b.Comments {
		if c := &b.Comments[i]; c.Closed && c.Pos < f.Pos && f.End <= c.End {
			return true
		}
	}
	return false
}

func (in *Interp) execOrdered(b *parser.Block) error {
	w, s := &in.w, &in.s
	if s.Comp != profiles.CompOff {
		in.forbiddenInComp(b)
	}
	if m := w.g[profiles.FeedGroup]; m != profiles.Refused {
		if m != s.FeedMode {
			s.FeedSet = false
		}
		s.FeedMode = m
		s.Unknown &^= UnknownFeedMode | UnknownFeed
	}
	// Units come before F here so that F is read in the units of its block, as
	// every control does; the report sets them later and reads F in the old.
	if m := w.g[profiles.UnitsGroup]; m != profiles.Refused {
		in.setUnits(b, m)
	}
	in.turnModes()
	in.feedWordOf(b)
	in.spindleAndTool(b)
	if s.Ended { // in the tool-change program
		return nil
	}
	in.note(b)
	in.coolant(b)
	in.auxiliary()
	if w.g[profiles.NonModal] == profiles.DwellHere {
		in.dwellHere(b)
	}
	in.modes(b)
	switch m := w.g[profiles.NonModal]; m {
	case profiles.SetData:
		in.idleMotion(b)
		in.setData(b)
	case profiles.ClampSpeed:
		if !w.has('S') {
			in.faultMissing(b, w.gAt[profiles.NonModal], 'S')
		}
	case profiles.FinishContour, profiles.RoughTurn, profiles.RoughFace, profiles.RoughPattern,
		profiles.FaceGroove, profiles.TurnGroove, profiles.ThreadCycle:
		return in.turningCycle(b, m)
	case profiles.SetPosition:
		if w.axes() == 0 && in.clamps() {
			break // done with S
		}
		in.idleMotion(b)
		in.setHere(b)
	case profiles.Home, profiles.HomeSecond:
		in.idleMotion(b)
		in.home(b, m)
	default:
		in.setPosition(m)
		in.motion(b)
	}
	return nil
}

// note keeps where the block says a mode that later tools may rely on.
func (in *Interp) note(b *parser.Block) {
	w, s := &in.w, &in.s
	for _, mode := range [...]struct {
		group profiles.Group
		said  *Said
	}{
		{profiles.FeedGroup, &s.FeedModeSaid}, {profiles.PlaneGroup, &s.PlaneSaid},
		{profiles.RetractGroup, &s.RetractSaid}, {profiles.UnitsGroup, &s.UnitsSaid},
	} {
		if w.g[mode.group] == profiles.Refused {
			continue
		}
		*mode.said = Said{Line: b.Line, Offset: b.Offset, Changes: s.Changes}
		if i := w.gAt[mode.group]; i >= 0 && i < len(b.Words) {
			mode.said.Pos, mode.said.End = b.Words[i].Pos, b.Words[i].End
		}
	}
}

// setUnits brings units into force. Numbers of the block that count least
// increments were read in the old ones: they count in the new.
func (in *Interp) setUnits(b *parser.Block, m profiles.Meaning) {
	old := in.s.Units
	in.s.Units = m
	if old != m {
		in.recount(b)
	}
	in.s.Unknown &^= UnknownUnits
	in.linear = 1
	if m == profiles.UnitsInch {
		in.linear = 25.4
	}
}

// feedWordOf reads F: per minute or 1/min, as the feed mode says.
func (in *Interp) feedWordOf(b *parser.Block) {
	w, s := &in.w, &in.s
	if !w.has('F') {
		return
	}
	f := w.take('F')
	if f < 0 {
		in.faultValue(b, w.at['F'-'A'], "a feed is not negative")
		s.Unknown |= UnknownFeed
		return
	}
	if in.takeLead(f) {
		return
	}
	in.feedWord = f
	s.Feed = f / 60
	switch s.FeedMode {
	case profiles.FeedPerMinute:
		s.Feed *= in.linear
	case profiles.FeedPerRevolution:
		s.Feed = f * in.linear
	}
	s.FeedSet = true
	if s.Unknown&(UnknownFeedMode|UnknownUnits) == 0 {
		s.Unknown &^= UnknownFeed
	}
}

// spindleAndTool executes S, T, tool change, gear and spindle codes.
func (in *Interp) spindleAndTool(b *parser.Block) {
	w, s := &in.w, &in.s
	word := in.speedMode(b)
	if w.has('S') {
		if v := w.take('S'); v < 0 {
			in.faultValue(b, w.at['S'-'A'], "a speed is not negative")
			in.loseWord('S')
		} else {
			word = in.speedWord(v)
		}
	}
	switch {
	case !w.has('T'):
	case in.m.Tools.Word == "tool-offset":
		in.turret(b)
	default:
		if t, ok := whole(w.take('T')); ok {
			s.NextTool = int(t)
		} else {
			in.faultValue(b, w.at['T'-'A'], "a tool number is a whole number, 0 or more")
			s.NextTool = -1
		}
	}
	if w.m[toolSlot] == profiles.ToolChange {
		in.toolChange(b)
	}
	if w.m[gearSlot] == profiles.Gear {
		if t, ok := in.code(b, w.mAt[gearSlot]); ok {
			in.shiftGear(w.mAt[gearSlot], in.m.GearOf(t))
		}
	}
	in.spindle(b, word)
}

// spindle starts, stops or changes the speed of the spindle; word is the S word
// that changed the speed, or -1.
func (in *Interp) spindle(b *parser.Block, word int) {
	w, s := &in.w, &in.s
	before := s.Spindle
	switch w.m[spindleSlot] {
	case profiles.SpindleCW:
		s.Spindle = SpindleCW
	case profiles.SpindleCCW:
		s.Spindle = SpindleCCW
	case profiles.SpindleStop, profiles.SpindleOrient:
		s.Spindle = SpindleOff
	default:
		if word < 0 || s.Spindle == SpindleOff {
			return
		}
	}
	if w.m[spindleSlot] != profiles.Refused {
		s.Unknown &^= UnknownSpindle
		if before == s.Spindle && (word < 0 || s.Spindle == SpindleOff) {
			return
		}
		if word < 0 {
			word = w.mAt[spindleSlot]
		}
	}
	if s.Spindle != SpindleOff {
		in.automaticGear(word)
	}
	in.emit(Spindle, word)
}

// shiftGear engages gear i of the profile.
func (in *Interp) shiftGear(word, i int) {
	s := &in.s
	same := s.Gear == i && s.GearCoded
	s.Gear, s.GearCoded = i, true
	s.Unknown &^= UnknownGear
	if same {
		return
	}
	in.emit(Gear, word)
}

// automaticGear is the shift that a control makes for itself: the gear engaged
// is kept while it reaches the speed; else the slowest that does is taken.
func (in *Interp) automaticGear(word int) {
	s := &in.s
	if in.m.Spindle.Shift != "automatic" || !s.SpeedSet || s.Unknown&UnknownSpeed != 0 {
		return
	}
	gears := in.m.Spindle.Gears
	if s.Gear >= 0 && gears[s.Gear].Reaches(s.Speed) {
		return
	}
	for i := range gears {
		if gears[i].Reaches(s.Speed) {
			in.shiftGear(word, i)
			return
		}
	}
}

func (in *Interp) toolChange(b *parser.Block) {
	w, s := &in.w, &in.s
	if s.NextTool < 0 && !in.changing { // it was said before
		in.faultMissing(b, w.mAt[toolSlot], 'T')
	}
	if in.change != nil && !in.changing {
		in.runChange(b)
		return
	}
	in.changed = true
	s.Changes++
	s.Tool = s.NextTool
	s.Unknown &^= UnknownTool
	if s.Tool < 0 {
		s.Unknown |= UnknownTool
	}
	in.op.Manual = in.m.Tools.Pockets == 0
	// The report stops the spindle for a tool change.
	in.emit(Tool, w.mAt[toolSlot])
	s.Spindle = SpindleOff
	s.Unknown &^= UnknownSpindle
}

func (in *Interp) coolant(b *parser.Block) {
	w, s := &in.w, &in.s
	if w.m[mistSlot] == profiles.Mist && !s.Mist {
		s.Mist = true
		in.emit(Coolant, w.mAt[mistSlot])
	}
	switch w.m[floodSlot] {
	case profiles.Flood:
		if !s.Flood {
			s.Flood = true
			in.emit(Coolant, w.mAt[floodSlot])
		}
	case profiles.CoolantOff:
		if s.Flood || s.Mist {
			s.Flood, s.Mist = false, false
			in.emit(Coolant, w.mAt[floodSlot])
		}
	}
}

// modes sets plane, compensation, length, work offset, path, distance and
// retract.
func (in *Interp) modes(b *parser.Block) {
	w, s := &in.w, &in.s
	if m := w.g[profiles.PlaneGroup]; m != profiles.Refused {
		s.Plane = Plane(m - profiles.PlaneXY)
		s.Unknown &^= UnknownPlane
	}
	if m := w.g[profiles.CompGroup]; m != profiles.Refused {
		in.setComp(b, m)
	}
	switch w.g[profiles.LengthGroup] {
	case profiles.LengthOn:
		in.lengthOn(b)
	case profiles.LengthOff:
		in.lengthOff()
	}
	if m := w.g[profiles.OffsetGroup]; m != profiles.Refused {
		in.selectOffset(int(m - profiles.WorkOffset1))
	}
	if m := w.g[profiles.PathGroup]; m != profiles.Refused {
		s.Path = m
	}
	if m := w.g[profiles.DistGroup]; m != profiles.Refused {
		s.Distance = m
		s.Unknown &^= UnknownDistance
	}
	if m := w.g[profiles.RetractGroup]; m != profiles.Refused {
		s.Retract = m
		s.Unknown &^= UnknownRetract
	}
	if m := w.g[profiles.PolarGroup]; m != profiles.Refused {
		in.setPolar(m)
	}
	if w.g[profiles.ScaleGroup]|w.g[profiles.MirrorGroup]|w.g[profiles.RotateGroup] != profiles.Refused {
		in.transforms(b)
	}
}

// reportUnused says which words nothing in the block has used.
func (in *Interp) reportUnused(b *parser.Block) {
	w := &in.w
	if w.doubt || in.s.Unknown&UnknownMotion != 0 {
		return // they may belong to the word that was refused
	}
	left := w.set &^ w.used
	if w.m[stopSlot] == profiles.CallSubprogram {
		left &^= letterBit('P') | letterBit(in.repeatLetter())
	}
	for address := byte('A'); left != 0; address++ {
		if left&1 != 0 {
			in.faultAt(NotUsed, b, w.at[address-'A'])
			in.emitFault()
		}
		left >>= 1
	}
}

// execStop is the stop, call or return of the block.
func (in *Interp) execStop(b *parser.Block) error {
	word := in.w.mAt[stopSlot]
	switch in.w.m[stopSlot] {
	case profiles.ProgramStop:
		in.stop(ProgramStop, word)
	case profiles.OptionalStop:
		in.stop(OptionalStop, word)
	case profiles.PalletStop:
		in.stop(PalletStop, word)
	case profiles.ProgramEnd, profiles.ProgramEndRewind:
		in.end(word)
	case profiles.CallSubprogram:
		return in.call(b, word, false)
	case profiles.ReturnFromSubprogram:
		switch {
		case in.lathe.inside:
			in.faultCause(NotInterpreted, b, word, inContour)
		case len(in.frames) > 1:
			in.leave()
		default:
			in.end(word) // the main program would begin again: one run is what is asked for
		}
	}
	return nil
}

func (in *Interp) stop(kind StopKind, word int) {
	in.op.StopKind = kind
	in.emit(Stop, word)
}

// end is M2 and M30: the modal state goes back to that of power-up, spindle
// and coolant are off.
func (in *Interp) end(word int) {
	in.stop(End, word)
	s := &in.s
	in.modalStart(&in.m.Start)
	in.resetComp()
	s.Spindle, s.Flood, s.Mist = SpindleOff, false, false
	s.Ended = true
}

// emit shows an operation that is not a move.
func (in *Interp) emit(kind OpKind, word int) {
	in.op.InCycle, in.op.Synchron, in.op.Home = false, false, false
	in.emitAs(kind, word)
}

// emitAs is emit of an operation that is part of what the last move was part of.
func (in *Interp) emitAs(kind OpKind, word int) {
	in.releaseHeld()
	in.op.Kind, in.op.Word = kind, word
	in.budget--
	if in.visit.Op != nil {
		in.visit.Op(&in.op)
	}
}

// home is G28 and G30: through the point that the axis words name to the home
// position.
func (in *Interp) home(b *parser.Block, meaning profiles.Meaning) {
	w, s := &in.w, &in.s
	word := w.gAt[profiles.NonModal]
	axes := w.axes()
	if axes != 0 {
		to, known := in.target(b, axes)
		in.move(Traverse, word, to, known, in.movedAxes(axes))
	}
	going := axes
	if axes == 0 || in.m.Control.HomeAxes != "named" {
		going = AxisSet(in.m.AllAxes())
	}
	place, key := &in.homes[0], ".home"
	if meaning == profiles.HomeSecond {
		place, key = &in.homes[1], ".second"
	}
	for i := range profiles.NumAxes {
		if (axes == 0 || axes.Has(i)) && going.Has(i) && !place.known.Has(i) && in.m.Axis(i) != nil {
			in.faultCause(NotInterpreted, b, word, "the profile does not say where "+string(axisLetter[i])+" goes: give axes."+string(axisLetter[i]|0x20)+key)
			break
		}
	}
	machine, machineKnown := s.Machine, s.MachineKnown&^going|place.known&going
	for i := range profiles.NumAxes {
		if going.Has(i) {
			machine[i] = place.at[i]
		}
	}
	in.moveMachine(word, machine, machineKnown, going)
}

// motionMode brings the block's motion code into force and gives the mode, and
// whether the block says it.
func (in *Interp) motionMode() (m profiles.Meaning, explicit bool) {
	s := &in.s
	m = s.Motion
	if said := in.w.g[profiles.MotionGroup]; said != profiles.Refused {
		if !said.IsCycle() || said != m {
			in.cycle.sticky = false
		}
		m, explicit = said, true
		s.Motion = m
		s.Unknown &^= UnknownMotion
	}
	if !m.IsCycle() {
		in.cycle.active = false
	}
	return m, explicit
}

// idleMotion is a motion code beside a code that takes the axis words for
// itself: it comes into force and moves nothing (NISTIR 6556 refuses it).
func (in *Interp) idleMotion(b *parser.Block) {
	m, explicit := in.motionMode()
	if explicit && m != profiles.CycleOff && !in.m.Block.IdleMotion {
		in.faultConflict(b, in.w.gAt[profiles.MotionGroup], in.w.gAt[profiles.NonModal])
	}
}

// motion is the move of the block, if it has one.
func (in *Interp) motion(b *parser.Block) {
	w, s := &in.w, &in.s
	m, explicit := in.motionMode()
	axes := w.axes()
	if m == profiles.CycleOff && w.g[profiles.NonModal] != profiles.MachineCoordinates {
		if axes != 0 {
			in.noMotion(b) // NISTIR 6556: an error
		}
		return
	}
	if axes == 0 && !(explicit && in.arcInPlace(m)) && !(m.IsCycle() && explicit) {
		if w.g[profiles.NonModal] == profiles.MachineCoordinates && !w.doubt {
			in.faultMissing(b, w.gAt[profiles.NonModal], 'X')
		} else if explicit && !in.m.Block.IdleMotion && !w.doubt && !w.clash {
			in.faultMissing(b, w.gAt[profiles.MotionGroup], 'X')
		}
		return
	}
	if s.FeedMode == profiles.FeedInverseTime && m != profiles.TraverseMove && !m.IsCycle() && !w.has('F') {
		in.faultMissing(b, in.moveWord(b), 'F') // NISTIR 6556: in each block of a feed move
	}
	in.refuseLacking(b, axes)
	switch {
	case w.doubt:
		// The axis words may have belonged to the word that was refused.
		more := AxisSet(0)
		if w.strange {
			more = allAxes
		}
		in.cycle.lost = m.IsCycle()
		in.dropMove(more)
	case w.g[profiles.NonModal] == profiles.MachineCoordinates:
		in.inMachine(b, m)
	case m == profiles.TraverseMove || m == profiles.FeedMove:
		in.straight(b, m)
	case m == profiles.ArcCW || m == profiles.ArcCCW:
		in.arc(b, m)
	case m == profiles.Probe:
		in.probe(b)
	case m.IsCycle():
		in.canned(b, m)
	case m == profiles.Thread:
		in.thread(b)
	case m == profiles.TurnCycle || m == profiles.FaceCycle || m == profiles.ThreadPassCycle:
		in.turnPass(b, m)
	default:
		in.noMotion(b)
	}
}

// refuseLacking says that the machine lacks an axis that the block moves.
func (in *Interp) refuseLacking(b *parser.Block, axes AxisSet) {
	for i, letter := range axisLetter {
		if (axes & in.lacking).Has(i) && in.w.has(letter) {
			in.faultAt(NotAccepted, b, in.w.at[letter-'A'])
			in.emitFault()
			in.doubtWord(letter)
		}
	}
}

// arcInPlace says whether the block is a full circle: an arc without axis
// words.
func (in *Interp) arcInPlace(m profiles.Meaning) bool {
	const centre = 1<<('I'-'A') | 1<<('J'-'A') | 1<<('K'-'A')
	return (m == profiles.ArcCW || m == profiles.ArcCCW) && in.w.set&centre != 0
}

// noMotion is a block with axis words where no motion mode is in force.
func (in *Interp) noMotion(b *parser.Block) {
	w := &in.w
	axes := w.axes()
	if in.s.Unknown&UnknownMotion == 0 {
		for i, letter := range axisLetter {
			if axes.Has(i) {
				in.faultCause(NoMotion, b, w.at[letter-'A'], "")
				break
			}
		}
	}
	in.dropMove(0)
}

// dropMove gives up a move that is not executed, after a fault has said why:
// the axes named, and more, are then unknown, and no word of the block is called
// unused.
func (in *Interp) dropMove(more AxisSet) {
	in.left = in.left || !in.w.sets
	in.loseAxes(in.w.axes() | more)
	in.w.used = ^uint32(0)
}

// target is the place that the axis words name.
func (in *Interp) target(b *parser.Block, axes AxisSet) (to Point, known AxisSet) {
	if in.tr.active || in.polar.on {
		return in.targetThrough(b, axes)
	}
	to, known = in.s.At, in.s.Known
	in.targetPlain(b, axes, &to, &known)
	return to, known
}

// targetPlain lets the words of the axes change a place, known along some axes.
func (in *Interp) targetPlain(b *parser.Block, axes AxisSet, to *Point, known *AxisSet) {
	w, s := &in.w, &in.s
	incremental := s.Distance == profiles.Incremental
	for i, letter := range axisLetter {
		if !axes.Has(i) {
			continue
		}
		bit := AxisSet(1) << i
		v := w.take(letter) * in.unit(i)
		switch {
		case in.unitsUnknown(i) || s.Unknown&UnknownDistance != 0 && !w.away.Has(i):
			*known &^= bit
		case incremental || w.away.Has(i):
			to[i] += v // stays unknown where it was
			if *known&bit == 0 {
				in.steps |= bit
			}
		case in.wraps.Has(i):
			to[i] = in.turnWord(b, i, to[i], known.Has(i))
			*known |= bit
		default:
			to[i] = v
			*known |= bit
		}
	}
}

func (in *Interp) straight(b *parser.Block, m profiles.Meaning) {
	axes := in.w.axes()
	to, known := in.target(b, axes)
	kind, word := Feed, in.moveWord(b)
	if m == profiles.TraverseMove {
		kind = Traverse
	}
	in.move(kind, word, to, known, in.movedAxes(axes))
}

// moveWord is the word to show for a move: its G code, or the first axis word.
func (in *Interp) moveWord(b *parser.Block) int {
	w := &in.w
	if w.codes > 0 && w.g[profiles.MotionGroup] != profiles.Refused {
		return w.gAt[profiles.MotionGroup]
	}
	for i := range b.Words {
		if a := b.Words[i].Address; (axisWords|in.away)>>(a-'A')&1 == 1 {
			return i
		}
	}
	return -1
}

// inMachine is G53: the axis words are machine coordinates.
func (in *Interp) inMachine(b *parser.Block, m profiles.Meaning) {
	w, s := &in.w, &in.s
	axes := w.axes()
	if m != profiles.TraverseMove && m != profiles.FeedMove {
		in.faultCause(BadValue, b, w.gAt[profiles.NonModal], "machine coordinates go with traverse or straight feed only")
		in.dropMove(0)
		return
	}
	machine, known := s.Machine, s.MachineKnown
	for i, letter := range axisLetter {
		if !axes.Has(i) {
			continue
		}
		v := w.take(letter) * in.unit(i)
		if w.away.Has(i) {
			machine[i] += v // stays unknown where it was
			continue
		}
		machine[i] = v
		known |= 1 << i
		if in.unitsUnknown(i) {
			known &^= 1 << i
		}
	}
	in.moveMachine(in.moveWord(b), machine, known, axes)
}

// move shows a move to a place in work coordinates and goes there.
func (in *Interp) move(kind OpKind, word int, to Point, known, axes AxisSet) {
	s, op := &in.s, &in.op
	op.Kind, op.Word = kind, word
	op.Steps, in.steps = in.steps&axes, 0
	op.From, op.FromKnown = s.At, s.Known
	op.FromMachine, op.FromMachineKnown = s.Machine, s.MachineKnown
	s.At, s.Known = to, known
	shifted := in.shift.known()
	for i := range profiles.NumAxes {
		if !axes.Has(i) {
			continue
		}
		bit := AxisSet(1) << i
		s.MachineKnown &^= bit
		if known&shifted&bit != 0 {
			total, _ := in.shift.total(i)
			s.Machine[i] = to[i] + total
			s.MachineKnown |= bit
		}
	}
	if in.wraps&axes != 0 {
		in.turnMachine(axes)
		in.show(axes)
		in.unwind(axes)
		return
	}
	in.show(axes)
}

// moveMachine is move to a place in machine coordinates.
func (in *Interp) moveMachine(word int, machine Point, known, axes AxisSet) {
	s, op := &in.s, &in.op
	op.Kind, op.Word = Traverse, word
	if s.Motion == profiles.FeedMove && in.w.g[profiles.NonModal] == profiles.MachineCoordinates {
		op.Kind = Feed
	}
	op.From, op.FromKnown = s.At, s.Known
	op.FromMachine, op.FromMachineKnown = s.Machine, s.MachineKnown
	s.Machine, s.MachineKnown = machine, known
	shifted := in.shift.known()
	for i := range profiles.NumAxes {
		if !axes.Has(i) {
			continue
		}
		bit := AxisSet(1) << i
		s.Known &^= bit
		if known&shifted&bit != 0 {
			total, _ := in.shift.total(i)
			s.At[i] = machine[i] - total
			s.Known |= bit
		}
	}
	in.turnHome(axes)
	op.Home = true
	op.Steps, in.steps = 0, 0
	in.show(axes)
	op.Home = false
	in.unwind(axes)
}

// show fills in the rest of a straight move and shows it.
func (in *Interp) show(axes AxisSet) {
	s, op := &in.s, &in.op
	op.To, op.ToKnown = s.At, s.Known
	op.ToMachine, op.ToMachineKnown = s.Machine, s.MachineKnown
	op.Moves = axes
	op.Length = op.straightLength()
	in.showAt(op.Length)
}

// showAt shows a move whose path is length mm long.
func (in *Interp) showAt(length float64) {
	op := &in.op
	op.Feed, op.PerRev = 0, 0
	if op.Kind != Traverse {
		if op.Lead > 0 || in.s.FeedMode == profiles.FeedPerRevolution {
			op.Feed = in.turnedFeed(length)
		} else {
			op.Feed = in.pathFeed(length)
		}
	}
	if in.s.Surface > 0 {
		in.follow()
	}
	if in.silent {
		return
	}
	if in.lathe.reading {
		if in.lathe.trouble == "" {
			in.lathe.trouble = in.addMove(op)
		}
		return
	}
	if in.comp.state != compIdle {
		in.compMove()
		return
	}
	in.budget--
	if in.visit.Op != nil {
		in.visit.Op(op)
	}
}

// straightLength is the length of the move along the linear axes that are
// known at both ends, in work or in machine coordinates.
func (op *Op) straightLength() float64 {
	work := op.FromKnown&op.ToKnown | op.Steps
	machine := op.FromMachineKnown & op.ToMachineKnown
	sum := 0.0
	for i := range 3 {
		bit := AxisSet(1) << i
		switch {
		case op.Moves&bit == 0:
		case work&bit != 0:
			d := op.To[i] - op.From[i]
			sum += d * d
		case machine&bit != 0:
			d := op.ToMachine[i] - op.FromMachine[i]
			sum += d * d
		}
	}
	return math.Sqrt(sum)
}

// pathFeed is the feed along a path of the length, in mm/s; of a move of rotary
// axes alone in deg/s. Zero: not known.
func (in *Interp) pathFeed(length float64) float64 {
	s := &in.s
	if !s.FeedSet || s.Unknown&(UnknownFeed|UnknownFeedMode) != 0 {
		return 0
	}
	rotary := in.op.Moves&XYZ == 0 && in.op.Moves != 0
	if s.FeedMode == profiles.FeedInverseTime {
		if rotary {
			length = in.rotaryLength()
		}
		return length * s.Feed
	}
	if rotary {
		return in.feedWord / 60
	}
	return s.Feed
}

// rotaryLength is how far the rotary axes turn, in degrees, as the published
// report measures it: the root of the sum of squares.
func (in *Interp) rotaryLength() float64 {
	op, sum := &in.op, 0.0
	for i := 3; i < profiles.NumAxes; i++ {
		if op.Moves.Has(i) && op.FromKnown.Has(i) && op.ToKnown.Has(i) {
			d := op.To[i] - op.From[i]
			sum += d * d
		}
	}
	return math.Sqrt(sum)
}
