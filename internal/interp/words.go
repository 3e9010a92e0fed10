package interp

import (
	"math"

	"tapefit/parser"
	"tapefit/profiles"
)

// words are the words of one block, sorted: values by address, codes by modal
// group. One is reused for all blocks.
type words struct {
	set  uint32      // bit n: address 'A'+n stands in the block, G and M apart
	used uint32      // bit n: something has used it
	val  [26]float64 // numbers as the control reads them, in the units of the program
	at   [26]int     // index in Block.Words

	g     [numGroups]profiles.Meaning // by group of G codes; Refused: none
	gAt   [numGroups]int
	m     [numSlots]profiles.Meaning
	mAt   [numSlots]int
	codes int // G and M codes

	clash bool // two motion codes: a fault has said so

	away  AxisSet // axes whose word is a distance from where they stand: U V W
	aux   float64 // s, of accepted M codes
	auxAt int

	mCount  int
	doubt   bool // a word was refused: axis words may have belonged to it
	strange bool // it was a G code: it may move more axes than it names
	sets    bool // it was one that takes axis words and moves nothing
}

// numGroups is one more than the highest modal group of G codes.
const numGroups = 20

// Slots of M codes: a group, or a part of one.
const (
	stopSlot = iota // program stop and end, call and return
	toolSlot
	spindleSlot
	mistSlot
	floodSlot // also coolant off
	overrideSlot
	gearSlot
	numSlots
)

const (
	axisWords   = 7<<('X'-'A') | 7            // X Y Z, A B C
	centreWords = 7<<('I'-'A') | 1<<('R'-'A') // I J K, R
)

// axisLetter is the address of each axis; axisOf the way back, -1 for others.
var axisLetter = [profiles.NumAxes]byte{'X', 'Y', 'Z', 'A', 'B', 'C'}

func letterBit(address byte) uint32 { return 1 << (address - 'A') }

func (w *words) has(address byte) bool { return w.set&letterBit(address) != 0 }

// take is the value of a word, which is used by that; zero where it is missing.
func (w *words) take(address byte) float64 {
	if !w.has(address) {
		return 0
	}
	w.used |= letterBit(address)
	return w.val[address-'A']
}

// Value is the number at the address in the block that was executed last, as the
// control reads it in the units of the program. It holds in Visitor.After. False: the
// block has no such word, or has it for an axis.
func (in *Interp) Value(address byte) (v float64, ok bool) {
	return in.w.val[address-'A'], in.w.has(address)
}

// Length is Value of a word that is a length, in mm. X words count as they are
// written; in the cycles of grooves and threads a word may count least increments.
func (in *Interp) Length(address byte) (mm float64, ok bool) {
	switch {
	case !in.w.has(address):
		return 0, false
	case in.w.g[profiles.NonModal].IsTurning():
		return in.mm(address, 0), true
	}
	return in.w.val[address-'A'] * in.linear, true
}

// axes are the axes that have a word in the block.
func (w *words) axes() AxisSet {
	s := w.set
	return AxisSet(s>>('X'-'A')&7 | s&7<<3)
}

// sort reads the words of the block into in.w. What the profile refuses and
// what stands twice is a fault.
func (in *Interp) sort(b *parser.Block) {
	w := &in.w
	w.set, w.used, w.doubt, w.strange, w.sets, w.clash, w.away = 0, 0, false, false, false, false, 0
	if w.codes > 0 {
		w.g = [numGroups]profiles.Meaning{}
		w.m = [numSlots]profiles.Meaning{}
		w.mCount, w.aux = 0, 0
		w.codes = 0
	}
	for i := range b.Words {
		word := &b.Words[i]
		switch word.Address {
		case 'N', 'O':
			if word.Address == 'O' {
				in.beginProgram(b)
			}
			if !in.m.Takes(word.Address) {
				in.faultAt(NotAccepted, b, i)
				in.emitFault()
			}
		case 'G':
			in.sortG(b, i)
		case 'M':
			if w.g[profiles.NonModal] == profiles.CallArguments {
				in.sortWord(b, i)
			} else {
				in.sortM(b, i)
			}
		default:
			in.sortWord(b, i)
		}
	}
	if w.set&in.away != 0 {
		in.foldAway(b)
	}
	if m := w.g[profiles.NonModal]; m.IsTurning() {
		in.unmeasured(b, m)
	}
}

// unmeasured takes words of a turning cycle that are no lengths as they are
// written: they count no least increments.
func (in *Interp) unmeasured(b *parser.Block, m profiles.Meaning) {
	w := &in.w
	for _, letter := range [...]byte{'A', 'Q', 'R'} {
		if word := w.at[letter-'A']; w.has(letter) && Unmeasured(m, letter) && b.Words[word].Expr == nil {
			w.val[letter-'A'] = b.Words[word].Value
		}
	}
}

// Unmeasured says whether a word of a turning cycle is a number and no length,
// whatever its control takes numbers without a point for: a sequence number, the
// passes of a pattern, the angle of a thread.
func Unmeasured(m profiles.Meaning, address byte) bool {
	switch address {
	case 'P', 'Q':
		return m.IsContour()
	case 'R':
		return m == profiles.RoughPattern
	case 'A':
		return m == profiles.ThreadCycle
	}
	return false
}

func (in *Interp) sortWord(b *parser.Block, i int) {
	w, word := &in.w, &b.Words[i]
	bit := letterBit(word.Address)
	if w.set&bit != 0 {
		in.faultConflict(b, i, w.at[word.Address-'A'])
		return
	}
	if !in.m.Takes(word.Address) {
		in.faultAt(NotAccepted, b, i)
		in.emitFault()
		in.doubtWord(word.Address)
		return
	}
	v, ok := in.value(b, i)
	if !ok {
		in.doubtWord(word.Address)
		in.loseWord(word.Address)
		return
	}
	w.set |= bit
	w.at[word.Address-'A'] = i
	w.val[word.Address-'A'] = v
}

// value is the number of a word as the control reads it.
func (in *Interp) value(b *parser.Block, i int) (float64, bool) {
	word := &b.Words[i]
	v := word.Value
	if word.Expr != nil {
		var ok bool
		if v, ok = in.evalWord(b, i); !ok {
			return 0, false
		}
	} else if !word.Point && in.countsNumbers(word.Address) {
		v *= in.countWorth(word)
	}
	if !(v > -1e9 && v < 1e9) {
		in.faultValue(b, i, "the number is out of range")
		return 0, false
	}
	return v, true
}

// countsNumbers says whether a number without a point counts least increments
// at the address.
func (in *Interp) countsNumbers(address byte) bool {
	point := in.m.Numbers.Point
	switch address {
	case 'X', 'Y', 'Z', 'I', 'J', 'K', 'R', 'Q', 'A', 'B', 'C', 'U', 'V', 'W':
	case 'F':
		point = in.m.Numbers.FeedPoint
	default:
		return false
	}
	return point == "counts" || point == "refused"
}

// countWorth is what one in the last digit written is worth, in the units of
// the program. With leading zeros left off the last digit is the least
// increment; with trailing zeros left off the first digit is the greatest.
func (in *Interp) countWorth(word *parser.Word) float64 {
	n := &in.m.Numbers
	digits := n.Digits.MM
	if in.s.Units == profiles.UnitsInch {
		digits = n.Digits.Inch
	}
	if n.Suppress == "trailing" {
		return math.Pow10(digits - int(word.Whole))
	}
	return in.leastIncrement()
}

// leastIncrement is one in the last digit that the control reads, in the units
// of the program.
func (in *Interp) leastIncrement() float64 {
	if in.s.Units == profiles.UnitsInch {
		return math.Pow10(-in.m.Numbers.Decimals.Inch)
	}
	return math.Pow10(-in.m.Numbers.Decimals.MM)
}

// recount reads the numbers of the block that count least increments again,
// after a change of units.
func (in *Interp) recount(b *parser.Block) {
	w := &in.w
	for i := range b.Words {
		word := &b.Words[i]
		if w.set&letterBit(word.Address) == 0 || w.at[word.Address-'A'] != i {
			continue
		}
		if word.Expr == nil && !word.Point && in.countsNumbers(word.Address) {
			w.val[word.Address-'A'] = word.Value * in.countWorth(word)
		}
	}
	if m := w.g[profiles.NonModal]; m.IsTurning() {
		in.unmeasured(b, m)
	}
}

// tenths is the code of a G or M word, ten to one: G59.1 is 591.
func tenths(v float64) (int, bool) {
	t := math.Round(v * 10)
	return int(t), t >= 0 && t < 10000 && math.Abs(v*10-t) < 1e-3
}

// code is the code of the G or M word i.
func (in *Interp) code(b *parser.Block, i int) (int, bool) {
	word := &b.Words[i]
	v := word.Value
	if word.Expr != nil {
		var ok bool
		if v, ok = in.evalWord(b, i); !ok {
			in.w.doubt = true
			return 0, false
		}
	}
	t, ok := tenths(v)
	if !ok {
		t = -1
	}
	return t, true
}

func (in *Interp) sortG(b *parser.Block, i int) {
	w := &in.w
	w.codes++
	t, ok := in.code(b, i)
	if !ok {
		return
	}
	meaning := in.m.G(t)
	switch meaning {
	case profiles.Refused:
		kind := NotAccepted
		if cycleCode(t) {
			kind = CycleNotAccepted
		}
		in.faultAt(kind, b, i).A = float64(t) / 10
		in.emitFault()
		in.loseCode(t)
		in.doubtCode(b, t)
		return
	case profiles.Accepted:
		return
	}
	slot := int(meaning.Group())
	if w.g[slot] != profiles.Refused {
		ends := w.g[slot] == profiles.CycleOff && !meaning.IsCycle() || meaning == profiles.CycleOff && !w.g[slot].IsCycle()
		if !ends || !in.m.Block.CycleOffBeside {
			in.faultConflict(b, i, w.gAt[slot])
			w.clash = meaning.Group() == profiles.MotionGroup
		}
		if w.g[slot] != profiles.CycleOff {
			return // the first is taken, and any motion code before the end of a cycle
		}
	}
	w.g[slot], w.gAt[slot] = meaning, i
}

// cycleCode says whether the published report and common practice have a
// canned cycle at the code.
func cycleCode(t int) bool {
	return t == 730 || t == 740 || t == 760 || t >= 810 && t <= 890
}

func (in *Interp) sortM(b *parser.Block, i int) {
	w := &in.w
	w.codes++
	w.mCount++
	t, ok := in.code(b, i)
	if !ok {
		return
	}
	if limit := in.m.Words.MCodes; limit > 0 && w.mCount == limit+1 {
		in.faultAt(TooManyM, b, i).A = float64(limit)
		in.emitFault()
	}
	meaning := in.m.M(t)
	var slot int
	switch meaning.Group() {
	case profiles.StopGroup:
		slot = stopSlot
	case profiles.ToolGroup:
		slot = toolSlot
	case profiles.SpindleGroup:
		slot = spindleSlot
	case profiles.CoolantGroup:
		slot = floodSlot
		if meaning == profiles.Mist {
			slot = mistSlot // mist and flood may stand together (NISTIR 6556)
		}
	case profiles.OverrideGroup:
		slot = overrideSlot
	case profiles.GearGroup:
		slot = gearSlot
	default:
		if meaning == profiles.Refused {
			in.faultAt(NotAccepted, b, i).A = float64(t) / 10
			in.emitFault()
			in.loseM(t)
			in.left = in.left || in.lastsM(t)
			w.used |= letterBit('P') | letterBit('L') // they may have belonged to it
		} else if s := in.m.TimeOf(t); s > 0 {
			w.aux += s
			w.auxAt = i
		}
		return
	}
	if w.m[slot] != profiles.Refused {
		in.faultConflict(b, i, w.mAt[slot])
		return
	}
	w.m[slot], w.mAt[slot] = meaning, i
}

// loseM forgets what a refused M code would have set, by the numbers of the
// published report and, for gears, common practice.
func (in *Interp) loseM(t int) {
	switch {
	case t >= 30 && t <= 50 || t == 190 || t == 130 || t == 140: // M13, M14: spindle and coolant, common practice
		in.s.Unknown |= UnknownSpindle
	case t >= 400 && t <= 449:
		in.s.Unknown |= UnknownGear
		in.s.Gear = -1
	case t == 60:
		in.s.Unknown |= UnknownTool
	}
}

// loseCode forgets what a refused G code would have set, by the numbers of the
// published report and common practice, so that one refused code is one
// finding.
func (in *Interp) loseCode(t int) {
	s := &in.s
	switch {
	case t == 700 || t == 710:
		s.Unknown |= UnknownUnits
	case t <= 30 || t >= 320 && t <= 339 || t >= 380 && t <= 389 || t >= 720 && t <= 899:
		s.Unknown |= UnknownMotion
		s.Motion = profiles.Refused
	case t == 150 || t == 160: // the pair is polar, or no longer is
		s.Unknown |= UnknownDistance
	case t >= 170 && t <= 199:
		s.Unknown |= UnknownPlane
	case t == 200 || t == 210:
		s.Unknown |= UnknownUnits
	case t >= 400 && t <= 420:
		s.Unknown |= UnknownComp
	case t >= 430 && t <= 499:
		s.Unknown |= UnknownLength
		in.shift.lose(&in.s, toolPart, Z)
	case t >= 540 && t <= 599 || t >= 920 && t <= 929 || t >= 500 && t <= 529 || t >= 680 && t <= 699:
		s.Unknown |= UnknownOffset
		in.shift.lose(&in.s, workPart, X|Y|Z|A|B|C)
	case t == 900 || t == 910:
		s.Unknown |= UnknownDistance
	case t >= 930 && t <= 959:
		s.Unknown |= UnknownFeedMode | UnknownFeed
	case t >= 960 && t <= 979:
		in.loseWord('S')
	case t == 980 || t == 990:
		s.Unknown |= UnknownRetract
	}
}

// loseWord forgets what a word with the address would have set.
func (in *Interp) loseWord(address byte) {
	s := &in.s
	switch address {
	case 'F':
		s.Unknown |= UnknownFeed
	case 'S':
		s.Unknown |= UnknownSpeed
		s.Surface = 0
	case 'T':
		s.NextTool = -1
	case 'U', 'V', 'W':
		if letterBit(address)&in.away != 0 {
			in.loseAxes(1 << (address - 'U'))
		}
	default:
		for i, letter := range axisLetter {
			if letter == address {
				in.loseAxes(1 << i)
			}
		}
	}
}

// loseAxes forgets where the axes are.
func (in *Interp) loseAxes(axes AxisSet) {
	in.s.Known &^= axes
	in.s.MachineKnown &^= axes
}

// lose forgets all that a subprogram or an unreadable block may have changed.
func (in *Interp) lose() {
	in.s.Unknown = ^Unknown(0)
	in.s.Motion = profiles.Refused
	in.s.Gear, in.s.Tool, in.s.NextTool, in.s.LengthH = -1, -1, -1, -1
	in.s.Spindle = SpindleUnknown
	in.loseAxes(X | Y | Z | A | B | C)
	in.s.Surface = 0
	in.shift = shift{}
	in.cycle.active = false
}
