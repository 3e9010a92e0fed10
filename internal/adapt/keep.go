package adapt

import (
	"bytes"
	"math"
	"strings"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
)

const (
	axisLetters = 7<<('X'-'A') | 7
	numbered    = axisLetters | 7<<('U'-'A') | 7<<('I'-'A') | 1<<('R'-'A') | 1<<('Q'-'A')
)

func bit(address byte) uint32 { return 1 << (address - 'A') }

// keeps says whether the block may stay as it is: the machine takes every word
// of it, reads the same numbers, and is in the state in which they mean the
// same. said are the modal groups that it names.
func (a *adapter) keeps(b *parser.Block) (said groups, ok bool) {
	a.why = ""
	if a.unused != 0 {
		a.why = Words
	}
	if a.unused|a.unknown != 0 || a.turned != 0 || a.resolved || len(b.Faults) > 0 || !a.keepsForm(b) {
		return 0, false
	}
	set, ms := uint32(0), 0
	for i := range b.Words {
		w := &b.Words[i]
		if !a.keepsWord(w) && !a.keepsUnmeasured(b, w) || a.countedElsewhere(b, w) {
			return 0, false
		}
		switch w.Address {
		case 'G':
			m := meaningG(a.to, w)
			if g := m.Group(); g < profiles.StopGroup {
				if g == profiles.MotionGroup && said.has(g) && !a.to.Block.CycleOffBeside {
					a.why = Codes
					return 0, false
				}
				said |= 1 << g
			}
			if !a.keepsCode(m, b) {
				return 0, false
			}
		case 'M':
			ms++
		}
		set |= bit(w.Address)
	}
	if limit := a.to.Words.MCodes; limit > 0 && ms > limit {
		return 0, false
	}
	if set&a.lacking != 0 && movesAxes(a.from, b) {
		return 0, false
	}
	return said, a.keepsState(set, said) && a.keepsOps(b) && a.keepsContour(b) && a.keepsSpeed(set)
}

// keepsForm looks at all but words.
func (a *adapter) keepsForm(b *parser.Block) bool {
	block := &a.to.Block
	if b.Delete != 0 && !block.Delete || !a.keepsStructure(b) {
		return false
	}
	if block.Longest > 0 && len(b.Raw) > block.Longest && len(bytes.TrimRight(b.Raw, "\r\n")) > block.Longest {
		a.why = Length
		return false
	}
	for i := range b.Comments {
		if c := &b.Comments[i]; a.unroll && a.repeats[b.Offset] || strings.IndexByte(block.Comments, b.Raw[c.Pos]) < 0 {
			return false
		}
	}
	return true
}

func (a *adapter) keepsWord(w *parser.Word) bool {
	if !a.to.Takes(w.Address) && w.Address != 'G' && w.Address != 'M' {
		return false
	}
	switch w.Address {
	case 'G', 'M', 'N', 'O':
		if w.Expr != nil {
			return false
		}
	}
	switch w.Address {
	case 'N':
		return a.takesNumber(w)
	case 'O':
		return within(a.to.Block.ProgramNumber, w.Value) && !(a.unroll && a.named)
	case 'G':
		m := meaningG(a.to, w)
		return m != profiles.Refused && m == meaningG(a.from, w)
	case 'M':
		return a.keepsM(w)
	case 'T':
		return a.to.Tools.Word == a.from.Tools.Word
	}
	if a.sameNumber(w) {
		return true
	}
	a.why = Numbers
	return false
}

// keepsUnmeasured says whether the word is one of a turning cycle that is no length,
// and so the same on both controls.
func (a *adapter) keepsUnmeasured(b *parser.Block, w *parser.Word) bool {
	if w.Expr != nil || !a.to.Takes(w.Address) {
		return false
	}
	for i := range b.Words {
		if g := &b.Words[i]; g.Address == 'G' && interp.Unmeasured(meaningG(a.from, g), w.Address) {
			return true
		}
	}
	return false
}

// countedElsewhere says whether the word is a length of a turning cycle, without a
// point, that counts least increments on one of the controls only: those of D and P
// are told by no form of numbers.
func (a *adapter) countedElsewhere(b *parser.Block, w *parser.Word) bool {
	if w.Address != 'D' && w.Address != 'P' || w.Point || w.Expr != nil || w.Value == 0 {
		return false
	}
	to, from := &a.to.Turning, &a.from.Turning
	if counting(a.to) == counting(a.from) || strings.IndexByte(to.Counts, w.Address) >= 0 && strings.IndexByte(from.Counts, w.Address) >= 0 {
		return false
	}
	for i := range b.Words {
		if g := &b.Words[i]; g.Address == 'G' {
			if m := meaningG(a.from, g); m.IsTurning() && !interp.Unmeasured(m, w.Address) {
				return true
			}
		}
	}
	return false
}

// counting says whether numbers without a point count least increments.
func counting(m *profiles.Machine) bool {
	return m.Numbers.Point == "counts" || m.Numbers.Point == "refused"
}

func (a *adapter) keepsM(w *parser.Word) bool {
	m, was := meaningM(a.to, w), meaningM(a.from, w)
	switch {
	case m == profiles.Refused:
		return false
	case m == profiles.Gear:
		return (was == profiles.Gear || was == profiles.Accepted) && a.mayShift(a.to.GearOf(tenths(w)))
	case m == profiles.CallSubprogram || m == profiles.ReturnFromSubprogram:
		return !a.unroll && m == was
	}
	return m == was
}

func within(ends []int, v float64) bool {
	return len(ends) != 2 || v >= float64(ends[0]) && v <= float64(ends[1])
}

// sameNumber says whether both controls read the same number, and the machine
// all digits of it.
func (a *adapter) sameNumber(w *parser.Word) bool {
	to, from := &a.to.Numbers, &a.from.Numbers
	point, was := to.Point, from.Point
	switch {
	case w.Expr != nil:
		return true // its value is no matter of how it is written
	case w.Address == 'F':
		point, was = to.FeedPoint, from.FeedPoint
	case numbered&bit(w.Address) == 0:
		return true
	case w.Address >= 'U' && w.Address <= 'W' && a.to.Words.Incremental != a.from.Words.Incremental,
		(w.Address == 'X' || w.Address == 'U') && a.w.diameter != a.state.Diameter && w.Value != 0:
		return false
	}
	counts := point == "counts" || point == "refused"
	decimals, digits := to.Decimals.MM, to.Digits.MM
	if a.state.Units == profiles.UnitsInch {
		decimals, digits = to.Decimals.Inch, to.Digits.Inch
	}
	switch {
	case w.Point && point == "refused":
		return false
	case w.Point:
		return (decimals == 0 || int(w.Frac) <= decimals || w.Address == 'F') && (digits == 0 || int(w.Whole) <= digits)
	case w.Value == 0:
		return true
	case point == "needed":
		return false
	case !counts && (was == "counts" || was == "refused"):
		return false
	case !counts:
		return digits == 0 || int(w.Whole) <= digits
	}
	return a.w.count == (w.Address != 'F') && (was == "counts" || was == "refused") &&
		to.Suppress == from.Suppress && to.Decimals == from.Decimals && to.Digits == from.Digits &&
		(digits == 0 || int(w.Whole) <= digits+decimals)
}

// keepsCode looks at a G code that means the same on both.
func (a *adapter) keepsCode(m profiles.Meaning, b *parser.Block) bool {
	to, from := a.to, a.from
	switch {
	case m.IsCycle():
		return a.sameCycle(m)
	case m.IsTurning() || m >= profiles.Thread && m <= profiles.ThreadPassCycle:
		return a.sameTurning(m) && a.w.diameter == a.state.Diameter
	case m.Group() >= profiles.PolarGroup && m.Group() <= profiles.RotateGroup:
		return false // written out: what moves under it depends on it
	}
	switch m {
	case profiles.DwellHere:
		for _, letter := range [...]byte{'P', 'X', 'U'} {
			if b.Word(letter) != nil && to.DwellUnit(letter) != from.DwellUnit(letter) {
				return false
			}
		}
	case profiles.SetData:
		return setsOffset(b)
	case profiles.Home, profiles.HomeSecond:
		return to.Control.HomeAxes == from.Control.HomeAxes
	case profiles.UnitsInch, profiles.UnitsMM:
		return a.wantUnits(m) == m
	case profiles.Absolute, profiles.Incremental:
		return a.wantDistance(m) == m
	case profiles.CompLeft, profiles.CompRight:
		return to.Control.Comp == from.Control.Comp || to.Control.Comp == "intersect"
	}
	return true
}

// sameCycle says whether both controls make the same of the cycle.
func (a *adapter) sameCycle(m profiles.Meaning) bool {
	to, from := a.to.CycleForm(m), a.from.CycleForm(m)
	if to.ClearPeck != from.ClearPeck || feedsOutTo(to) != feedsOutTo(from) {
		return false
	}
	for _, letter := range []byte(to.Needs) {
		if a.block.Word(letter) == nil && !from.Has(letter) {
			return false
		}
	}
	for i := range a.block.Words {
		switch letter := a.block.Words[i].Address; letter {
		case 'R', 'P', 'Q', 'I', 'J', 'K', 'L':
			if !to.Has(letter) || letter == 'P' && dwellUnit(a.to) != dwellUnit(a.from) {
				return false
			}
		}
	}
	return cycleLevel(a.to) == cycleLevel(a.from) && a.to.Control.CycleR == a.from.Control.CycleR && a.to.Block.Repeat == a.from.Block.Repeat &&
		(a.w.retract == a.before.Retract && a.retracts() || a.saysRetract())
}

func feedsOutTo(c profiles.Cycle) string {
	if c.FeedOut == "clear" {
		return "clear"
	}
	return "r"
}

func cycleLevel(m *profiles.Machine) string {
	if m.Control.CycleLevel == "each" {
		return "each"
	}
	return "first"
}

// retracts says whether the machine is told, or always holds, the level that
// cycles end at.
func (a *adapter) retracts() bool { return a.w.retract == a.state.Retract || a.saysRetract() }

func (a *adapter) saysRetract() bool {
	for i := range a.block.Words {
		if w := &a.block.Words[i]; w.Address == 'G' && w.Expr == nil && meaningG(a.to, w).Group() == profiles.RetractGroup {
			return true
		}
	}
	return false
}

// keepsState says whether the machine is in the state in which the words mean
// what they mean in the source.
func (a *adapter) keepsState(set uint32, said groups) bool {
	w, s := a.w, a.state
	if set&bit('S') != 0 && !a.sameSurface(said) {
		return false
	}
	if set&(numbered|bit('F')) == 0 && said == 0 {
		return true
	}
	moves := set&axisLetters != 0 || len(a.ops) > 0
	switch {
	case w.units != s.Units && !said.has(profiles.UnitsGroup) && set&(numbered|bit('F')) != 0:
		return false
	case !moves:
		return true
	case w.distance != s.Distance && !said.has(profiles.DistGroup),
		w.plane != s.Plane && !said.has(profiles.PlaneGroup),
		w.feedMode != s.FeedMode && !said.has(profiles.FeedGroup),
		w.motion != s.Motion && !said.has(profiles.MotionGroup) && !said.has(profiles.NonModal),
		w.comp != s.Comp && !said.has(profiles.CompGroup):
		return false
	case s.Motion.IsCycle() && !said.has(profiles.MotionGroup):
		return a.sameCycle(s.Motion)
	case s.Motion >= profiles.Thread && s.Motion <= profiles.ThreadPassCycle && !said.has(profiles.MotionGroup):
		return a.sameTurning(s.Motion)
	}
	return true
}

// keepsOps looks at what the block does.
func (a *adapter) keepsOps(b *parser.Block) bool {
	w := a.w
	for i := range a.ops {
		op := &a.ops[i]
		if op.late && a.to.CodeFor(profiles.CompLeft) == "" {
			return false
		}
		if op.Kind > interp.Arc || op.late || op.contour {
			continue
		}
		if a.state.Distance == profiles.Incremental || op.Kind == interp.Arc {
			for axis := range profiles.NumAxes {
				if op.Moves.Has(axis) && a.before.Known.Has(axis) && math.Abs(w.at[axis]-a.before.At[axis]) > 1e-7 {
					return false // the machine stands where it was rounded to
				}
			}
		}
		if op.Kind != interp.Traverse && op.Lead == 0 && a.state.FeedMode == profiles.FeedPerMinute && b.Word('F') == nil &&
			op.Feed > 0 && !sameRate(a.inForce(op, op.Feed), w.feed) {
			return false
		}
		if a.clampedFeed(op) != op.Feed {
			return false
		}
		if op.Kind == interp.Arc && !op.InCycle && !a.keepsArc(b, op) {
			return false
		}
	}
	return true
}

// keepsArc says whether the machine takes the arc as it is written.
func (a *adapter) keepsArc(b *parser.Block, op *done) bool {
	arcs := &a.to.Arcs
	first, second, _ := op.Plane.Axes()
	switch {
	case !a.makesArc(op):
		return false
	case arcs.Quadrant && crosses(op.From, op.To, op.Center, op.CW, op.Plane, op.Sweep),
		!arcs.FullCircle && op.Sweep > 2*math.Pi-1e-6:
		return false
	case !arcs.Helix && op.Moves&^(1<<first|1<<second) != 0: // a word is enough
		return false
	case arcs.NeedsEnd && b.Word(profiles.AxisLetters[first]) == nil && b.Word(profiles.AxisLetters[second]) == nil:
		return false
	case b.Word('R') != nil:
		return arcs.Radius
	}
	if arcs.Centre != a.from.Arcs.Centre {
		return false
	}
	r1 := math.Hypot(op.To[first]-op.Center[first], op.To[second]-op.Center[second])
	return math.Abs(op.Radius-r1) <= interp.RadiusTolerance(a.to, a.state.Units) || a.state.Comp != profiles.CompOff
}

// followWords takes over what the words of a kept block set beside modes.
func (a *adapter) followWords(b *parser.Block) {
	w := a.w
	for i := range b.Words {
		switch word := &b.Words[i]; word.Address {
		case 'M':
			a.followM(word)
		case 'F':
			if a.state.FeedMode != profiles.FeedInverseTime {
				w.feed = a.state.Feed
			}
		case 'S':
			a.setSpeed(a.state.Speed)
		}
	}
	if w.motion.IsCycle() {
		w.cycle = hole{} // what it holds, the source knows
	}
}

func (a *adapter) followM(word *parser.Word) {
	w := a.w
	switch meaningM(a.to, word) {
	case profiles.Gear:
		w.gear = a.to.GearOf(tenths(word))
	case profiles.ToolChange:
		w.spindle = interp.SpindleOff
		if a.to.Tools.Pockets == 0 {
			w.freesBelt(true)
		}
	case profiles.ProgramStop:
		w.freesBelt(false)
	}
}
