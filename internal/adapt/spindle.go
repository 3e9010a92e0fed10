package adapt

import (
	"fmt"
	"math"
	"math/bits"
	"strings"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
)

// keepsSpeed says whether the speed and the spindle code of a block can stay:
// the gear that is in reaches the speed. set are the addresses of the block.
func (a *adapter) keepsSpeed(set uint32) bool {
	if set&(bit('S')|bit('M')) == 0 {
		return true
	}
	gear, spins := a.w.gear, false
	for i := range a.block.Words {
		if w := &a.block.Words[i]; w.Address == 'M' {
			switch m := meaningM(a.to, w); m {
			case profiles.Gear:
				gear = a.to.GearOf(tenths(w))
			case profiles.SpindleCW, profiles.SpindleCCW:
				spins = true
			}
		}
	}
	s := a.state
	if set&bit('S') == 0 && !(spins && gear < 0) || !tellsGear(s) {
		return true
	}
	v := a.clampedSpeed(s.Speed)
	if v != s.Speed || a.pending != interp.SpindleUnknown {
		return false
	}
	return a.reaches(gear, v)
}

// reaches says whether the speed can be had as the machine now stands, or in no
// gear at all.
func (a *adapter) reaches(gear int, v float64) bool {
	set := a.to.Spindle.Reaching(v)
	switch {
	case set == 0 || v == 0 || !a.makes.gears:
		return true
	case a.to.Spindle.Shift == "coded":
		return gear >= 0 && set>>gear&1 == 1
	case a.to.Spindle.Shift == "by-hand":
		return a.w.belts&set != 0
	}
	return true
}

// lowest is the first gear of a set that is not empty.
func lowest(set uint64) int { return bits.TrailingZeros64(set) }

// tellsGear says whether it is known what speed a gear must reach.
func tellsGear(s *interp.State) bool {
	return s.SpeedSet && s.SpeedMode != profiles.SurfaceSpeed && s.Unknown&interp.UnknownSpeed == 0
}

// mayShift says whether a gear code may stand here as it is.
func (a *adapter) mayShift(int) bool {
	return a.w.spindle == interp.SpindleOff || a.to.Spindle.Turning
}

// setSpeed takes over a speed.
func (a *adapter) setSpeed(v float64) {
	a.w.speed = v
	if set := a.to.Spindle.Reaching(v); set != 0 && a.to.Spindle.Shift == "by-hand" {
		if a.w.belts&set == 0 {
			a.w.belts = set
		}
		a.w.belts &= set
	}
}

// speeds writes gear, speed and spindle of the block, each in the order in which
// a block executes them.
func (a *adapter) speeds(b *parser.Block, split bool) {
	l, w := &a.words, a.w
	if l.gear >= 0 {
		a.gearCode(b, &b.Words[l.gear])
	}
	stop := l.spin == profiles.SpindleStop
	if spins := l.spin == profiles.SpindleCW || l.spin == profiles.SpindleCCW; l.hasS && !stop || spins && w.gear < 0 {
		a.gearFor(a.clampedSpeed(a.state.Speed))
	}
	if l.hasS {
		a.speedWord(b)
	}
	switch {
	case stop:
		if l.left {
			a.did(Codes)
		}
		a.mcode(profiles.SpindleStop)
		w.spindle, a.pending = interp.SpindleOff, interp.SpindleUnknown
	case l.spin == profiles.SpindleCW:
		a.mcode(l.spin)
		w.spindle, a.pending = interp.SpindleCW, interp.SpindleUnknown
	case l.spin == profiles.SpindleCCW:
		a.mcode(l.spin)
		w.spindle, a.pending = interp.SpindleCCW, interp.SpindleUnknown
	case l.hasS && a.pending != interp.SpindleUnknown:
		a.turnOn()
	}
	if split && (l.spin != profiles.Refused || l.hasS) {
		w.flush()
	}
}

// speedWord writes S.
func (a *adapter) speedWord(b *parser.Block) {
	v := a.state.Speed
	word := b.Word('S')
	if a.state.SpeedMode == profiles.SurfaceSpeed {
		a.surfaceWord(b, word)
		return
	}
	if to := a.clampedSpeed(v); to != v {
		a.did(ClampSpeed)
		a.w.whole('S', to)
		a.setSpeed(to)
		return
	}
	a.setSpeed(v)
	if word.Expr != nil {
		a.w.whole('S', v)
	} else {
		a.w.text(b.Text(word.Pos, word.End))
	}
}

// surfaceWord writes S where it is the speed of the surface, in m/min or ft/min as
// the units are.
func (a *adapter) surfaceWord(b *parser.Block, word *parser.Word) {
	w := a.w
	units := a.wantUnits(a.state.Units)
	if a.clamps(b) || units == a.state.Units && w.units == units {
		w.text(b.Text(word.Pos, word.End))
		return
	}
	if w.units != units && !a.saysUnits(b) {
		a.say(&w.units, units, a.state.Units, Units)
	}
	a.did(Units)
	w.whole('S', math.Round(a.state.Surface/surfaceUnit(units)))
}

// surfaceUnit is what one of S is, mm/s: m/min, or ft/min.
func surfaceUnit(units profiles.Meaning) float64 {
	if units == profiles.UnitsInch {
		return 12 * mmPerInch / 60
	}
	return 1000. / 60
}

// saysUnits says whether the block has a code of units.
func (a *adapter) saysUnits(b *parser.Block) bool {
	for _, i := range a.words.g {
		if meaningG(a.from, &b.Words[i]).Group() == profiles.UnitsGroup {
			return true
		}
	}
	return false
}

// clamps says whether S in the block is the highest speed under constant surface
// speed.
func (a *adapter) clamps(b *parser.Block) bool {
	for i := range b.Words {
		if w := &b.Words[i]; w.Address == 'G' {
			switch meaningG(a.from, w) {
			case profiles.ClampSpeed:
				return true
			case profiles.SetPosition:
				return a.from.Spindle.Clamp && !hasAxes(b)
			}
		}
	}
	return false
}

// sameSurface says whether S, where it is the speed of the surface, is read in the
// same units; said are the modal groups of the block.
func (a *adapter) sameSurface(said groups) bool {
	return a.state.SpeedMode != profiles.SurfaceSpeed || a.w.units == a.state.Units || said.has(profiles.UnitsGroup) || a.clamps(a.block)
}

// gearCode writes a gear code of the source: with the spindle stopped where the
// machine wants that, and not where that gear is in already.
func (a *adapter) gearCode(b *parser.Block, word *parser.Word) {
	w := a.w
	gear := -1
	if meaningM(a.to, word) == profiles.Gear {
		gear = a.to.GearOf(tenths(word))
	}
	on := w.spindle != interp.SpindleOff && !a.to.Spindle.Turning
	switch {
	case gear < 0, on && gear == w.gear:
		a.did(Gears) // what gear the speeds need is found from them
		return
	case on:
		a.did(Gears)
		a.stopSpindle()
	}
	w.text(b.Text(word.Pos, word.End))
	w.gear = gear
	if on {
		w.flush()
	}
}

// gearFor engages a gear that reaches the speed, where the one that is in does
// not.
func (a *adapter) gearFor(v float64) {
	w := a.w
	if !tellsGear(a.state) || a.reaches(w.gear, v) {
		return
	}
	a.did(Gears)
	if w.spindle != interp.SpindleOff && (!a.to.Spindle.Turning || a.to.Spindle.Shift == "by-hand") {
		a.stopSpindle()
	}
	gear := lowest(a.to.Spindle.Reaching(v))
	w.flush()
	if a.to.Spindle.Shift == "coded" {
		w.room()
		w.buf = append(w.buf, a.to.Spindle.Gears[gear].Code...)
		w.flush()
		w.gear = gear
		return
	}
	a.belt(gear)
}

// belt writes a stop at which the operator moves the belt.
func (a *adapter) belt(gear int) {
	w, g := a.w, &a.to.Spindle.Gears[gear]
	a.mcode(profiles.ProgramStop)
	text := a.asComment(fmt.Sprintf("BELT ON %s", strings.ToUpper(g.Name)))
	if text != "" {
		w.text([]byte(text))
	} else {
		a.lost.atStop(a.to.CodeFor(profiles.ProgramStop), a.line, []string{fmt.Sprintf("BELT ON %s", strings.ToUpper(g.Name))})
	}
	w.flush()
	w.belts = 1 << gear
	a.stopsAdded++
}

// stopSpindle stops the spindle, to be started again with the next speed or
// before the next move.
func (a *adapter) stopSpindle() {
	w := a.w
	w.flush()
	a.mcode(profiles.SpindleStop)
	w.flush()
	a.pending, w.spindle = w.spindle, interp.SpindleOff
}

// turnOn starts the spindle again.
func (a *adapter) turnOn() {
	to := a.pending
	a.pending = interp.SpindleUnknown
	m := profiles.SpindleCW
	if to == interp.SpindleCCW {
		m = profiles.SpindleCCW
	}
	a.mcode(m)
	a.w.spindle = to
}

// restart starts a spindle that was stopped for a gear and has not been started
// since, in a block of its own.
func (a *adapter) restart() {
	if a.pending == interp.SpindleUnknown {
		return
	}
	line, front := append([]byte(nil), a.w.buf...), a.w.front
	a.w.buf, a.w.front = a.w.buf[:0], 0
	a.turnOn()
	a.w.flush()
	a.w.buf, a.w.front = append(a.w.buf, line...), front
}

// turnTo writes how the spindle turns, in a block of its own.
func (a *adapter) turnTo(to interp.SpindleState) {
	w := a.w
	w.flush()
	switch to {
	case interp.SpindleOff:
		a.mcode(profiles.SpindleStop)
	case interp.SpindleCW:
		a.mcode(profiles.SpindleCW)
	case interp.SpindleCCW:
		a.mcode(profiles.SpindleCCW)
	}
	w.spindle = to
	w.flush()
}

// clampedSpeed is the speed, or the nearest below it that the spindle turns,
// where that is asked for.
func (a *adapter) clampedSpeed(v float64) float64 {
	if !a.makes.clampSpeed {
		return v
	}
	return clampedSpeed(a.to, v)
}

// clampedSpeed is the speed, or the nearest below it that the spindle of the
// machine turns, or else its lowest; rpm.
func clampedSpeed(m *profiles.Machine, v float64) float64 {
	if v <= 0 || m.Spindle.Reaching(v) != 0 {
		return v
	}
	best, least := math.Inf(-1), math.Inf(1)
	consider := func(low, high profiles.Rotation) {
		least = math.Min(least, float64(low))
		switch {
		case v >= float64(low) && v <= float64(high):
			best = v
		case float64(high) < v:
			best = math.Max(best, float64(high))
		}
	}
	for i := range m.Spindle.Gears {
		if s := m.Spindle.Gears[i].Speed; len(s) == 2 {
			consider(s[0], s[1])
		}
	}
	if s := m.Spindle.Speed; len(m.Spindle.Gears) == 0 && len(s) == 2 {
		consider(s[0], s[1])
	}
	switch {
	case !math.IsInf(best, -1):
		return best
	case !math.IsInf(least, 1):
		return least
	}
	return v
}

// share is the greatest part of the feed that axis i has in a move.
func (a *adapter) share(op *done, i int) float64 {
	if !op.Moves.Has(i) {
		return 0
	}
	if first, second, _ := op.Plane.Axes(); op.Kind == interp.Arc && (i == first || i == second) {
		return 1
	}
	if op.Length == 0 || !op.FromKnown.Has(i) && !op.Steps.Has(i) {
		return 0
	}
	return math.Abs(op.To[i]-op.From[i]) / op.Length
}
