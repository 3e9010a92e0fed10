package interp

import (
	"tapefit/parser"
	"tapefit/profiles"
)

// vector is a place of which some axes may be unknown.
type vector struct {
	at    Point
	known AxisSet
}

// shift is what lies between work and machine coordinates: machine = work +
// work offset + set position (G92) + tool length.
type shift struct {
	parts [3]vector
}

const (
	workPart = iota
	setPart
	toolPart
)

const allAxes = X | Y | Z | A | B | C

// total is the shift along axis i, where it is known.
func (sh *shift) total(i int) (float64, bool) {
	sum, known := 0.0, true
	for p := range sh.parts {
		sum += sh.parts[p].at[i]
		known = known && sh.parts[p].known.Has(i)
	}
	return sum, known
}

// known are the axes along which the whole shift is known.
func (sh *shift) known() AxisSet {
	return sh.parts[0].known & sh.parts[1].known & sh.parts[2].known
}

// change gives one part of the shift a new value along axis i. The machine
// stands still: the work coordinates change under it.
func (sh *shift) change(s *State, part, i int, value float64, known bool) {
	p := &sh.parts[part]
	bit := AxisSet(1) << i
	delta, deltaKnown := value-p.at[i], known && p.known.Has(i)
	p.at[i] = value
	p.known &^= bit
	if known {
		p.known |= bit
	}
	if deltaKnown {
		s.At[i] -= delta
		return
	}
	s.Known &^= bit
	if total, ok := sh.total(i); ok && s.MachineKnown.Has(i) {
		s.At[i] = s.Machine[i] - total
		s.Known |= bit
	}
}

// lose forgets one part of the shift and, with it, the work coordinates.
func (sh *shift) lose(s *State, part int, axes AxisSet) {
	for i := range profiles.NumAxes {
		if axes.Has(i) {
			sh.change(s, part, i, 0, false)
		}
	}
}

// powerUp is the state before the first block.
func (in *Interp) powerUp() {
	s := &in.s
	*s = State{Gear: -1, Tool: -1, NextTool: -1, Spindle: SpindleOff}
	st := &in.m.Start
	in.modalStart(st)
	s.Units = profiles.UnitsMM
	in.linear = 1
	if st.Units == "inch" {
		s.Units = profiles.UnitsInch
		in.linear = 25.4
	}
	for i, g := range in.m.Spindle.Gears {
		if g.Name == st.Gear {
			s.Gear = i
		}
	}
	for n := range in.work {
		o := in.m.WorkOffset(n)
		if said, ok := in.over[in.m.CodeFor(profiles.WorkOffset1+profiles.Meaning(n))]; ok {
			o = &said
		}
		if o != nil {
			in.work[n] = offsetVector(o)
		}
	}
	in.loadHomes()
	in.wraps = wrapping(in.m)
	in.shift.parts[workPart] = in.work[s.Offset]
	in.shift.parts[setPart].known = allAxes
	in.shift.parts[toolPart].known = allAxes
}

// modalStart sets the modal state that power-up and program end share.
func (in *Interp) modalStart(st *profiles.Start) {
	s := &in.s
	s.Plane = XY
	switch st.Plane {
	case "zx":
		s.Plane = ZX
	case "yz":
		s.Plane = YZ
	}
	s.Distance = choose(st.Distance == "incremental", profiles.Incremental, profiles.Absolute)
	s.FeedMode = choose(st.Feed == "inverse-time", profiles.FeedInverseTime, profiles.FeedPerMinute)
	if st.Feed == "per-revolution" {
		s.FeedMode = profiles.FeedPerRevolution
	}
	s.SpeedMode, s.Surface = profiles.SpindleSpeed, 0
	s.Diameter = in.m.Axes.X != nil && in.m.Axes.X.Diameter
	s.Retract = choose(st.Retract == "r", profiles.RetractR, profiles.RetractInitial)
	s.Path = profiles.Continuous
	switch st.Path {
	case "exact-path":
		s.Path = profiles.ExactPath
	case "exact-stop":
		s.Path = profiles.ExactStop
	}
	s.Motion = profiles.Refused
	if m, ok := profiles.ParseMeaning(st.Motion); ok && m.Group() == profiles.MotionGroup {
		s.Motion = m
	}
	s.Comp, s.CompD = profiles.CompOff, 0
	s.Offset = 0
	for n := range in.work {
		if st.Offset != "" && in.m.CodeFor(profiles.WorkOffset1+profiles.Meaning(n)) == st.Offset {
			s.Offset = n
		}
	}
}

func choose(first bool, a, b profiles.Meaning) profiles.Meaning {
	if first {
		return a
	}
	return b
}

func offsetVector(o *profiles.Offset) (v vector) {
	for i, l := range [profiles.NumAxes]*profiles.Length{o.X, o.Y, o.Z, o.A, o.B, o.C} {
		if l != nil {
			v.at[i] = float64(*l)
			v.known |= 1 << i
		}
	}
	return v
}

// selectOffset puts work offset n in force.
func (in *Interp) selectOffset(n int) {
	if in.s.Offset == n && in.s.Unknown&UnknownOffset == 0 && in.work[n] == in.shift.parts[workPart] {
		return
	}
	in.s.Offset = n
	in.s.Unknown &^= UnknownOffset
	in.reloadOffset()
}

// reloadOffset makes the shift follow the work offset in force.
func (in *Interp) reloadOffset() {
	v := &in.work[in.s.Offset]
	for i := range profiles.NumAxes {
		in.shift.change(&in.s, workPart, i, v.at[i], v.known.Has(i))
	}
}

// lengthOn is G43 H: the length of the tool that the profile has under the
// number, unknown where it has none.
func (in *Interp) lengthOn(b *parser.Block) {
	w := &in.w
	if !w.has('H') {
		in.faultMissing(b, w.gAt[profiles.LengthGroup], 'H')
		in.s.LengthH = -1
		in.s.Unknown |= UnknownLength
		in.shift.lose(&in.s, toolPart, Z)
		return
	}
	h, ok := whole(w.take('H'))
	if !ok {
		in.faultValue(b, w.at['H'-'A'], "an offset number is a whole number, 0 or more")
		return
	}
	in.s.LengthH = int(h)
	in.s.Unknown &^= UnknownLength
	if h == 0 {
		in.shift.change(&in.s, toolPart, 2, 0, true)
		return
	}
	for i := range in.m.Tools.Loaded {
		if t := &in.m.Tools.Loaded[i]; t.Number == int(h) && t.Length != 0 {
			in.shift.change(&in.s, toolPart, 2, float64(t.Length), true)
			return
		}
	}
	in.shift.lose(&in.s, toolPart, Z)
}

func (in *Interp) lengthOff() {
	in.s.LengthH = 0
	in.s.Unknown &^= UnknownLength
	in.shift.change(&in.s, toolPart, 2, 0, true)
}

// setPosition is what takes a set position back: G92.1 for good, G92.2 until
// G92.3 brings it back.
func (in *Interp) setPosition(meaning profiles.Meaning) {
	switch meaning {
	case profiles.ClearPosition, profiles.SuspendPosition:
		if meaning == profiles.ClearPosition {
			in.saved = vector{known: allAxes}
		}
		for i := range profiles.NumAxes {
			in.shift.change(&in.s, setPart, i, 0, true)
		}
	case profiles.RestorePosition:
		for i := range profiles.NumAxes {
			in.shift.change(&in.s, setPart, i, in.saved.at[i], in.saved.known.Has(i))
		}
	}
}

// setHere makes the axis words the coordinates of the place where the axes
// stand.
func (in *Interp) setHere(b *parser.Block) {
	w, s := &in.w, &in.s
	axes := w.axes()
	if axes == 0 {
		in.faultMissing(b, w.gAt[profiles.NonModal], 'X')
		return
	}
	if in.tr.active {
		in.faultCause(NotInterpreted, b, w.gAt[profiles.NonModal], "a position set while the part is mirrored, scaled or rotated is not computed")
		in.takeAxes()
		in.shift.lose(&in.s, setPart, allAxes)
		return
	}
	set := &in.shift.parts[setPart]
	for i, letter := range axisLetter {
		if !axes.Has(i) {
			continue
		}
		bit := AxisSet(1) << i
		v := w.take(letter) * in.unit(i)
		if w.away.Has(i) {
			v += s.At[i]
		}
		rest := in.shift.parts[workPart].known & in.shift.parts[toolPart].known
		switch {
		case s.Known.Has(i) && set.known.Has(i):
			set.at[i] += s.At[i] - v
		case s.MachineKnown.Has(i) && rest.Has(i) && !w.away.Has(i):
			set.at[i] = s.Machine[i] - in.shift.parts[workPart].at[i] - in.shift.parts[toolPart].at[i] - v
			set.known |= bit
		default:
			set.known &^= bit
		}
		s.At[i] = v
		if !w.away.Has(i) {
			s.Known |= bit
		}
		if in.unitsUnknown(i) {
			s.Known &^= bit
		}
	}
	in.saved = *set
}

// setData is G10: L2 P sets a work offset.
func (in *Interp) setData(b *parser.Block) {
	w := &in.w
	if !w.has('L') || w.take('L') != 2 {
		in.faultCause(NotInterpreted, b, w.gAt[profiles.NonModal], "only L2, which sets a work offset, is computed")
		w.used |= ^uint32(0)
		in.shift.lose(&in.s, workPart, allAxes)
		return
	}
	w.used |= axisWords
	if !w.has('P') {
		in.faultMissing(b, w.gAt[profiles.NonModal], 'P')
		return
	}
	n, ok := whole(w.take('P'))
	if !ok || n < 1 || n > 9 {
		in.faultValue(b, w.at['P'-'A'], "P is the work offset to set, 1 to 9")
		return
	}
	v := &in.work[n-1]
	axes := w.axes()
	for i, letter := range axisLetter {
		if axes.Has(i) {
			v.at[i] = w.take(letter) * in.unit(i)
			v.known |= 1 << i
		}
	}
	if int(n-1) == in.s.Offset {
		in.reloadOffset()
	}
}

// unit is mm in one unit of the program along axis i, 1 of a rotary axis. X
// words that are diameters count half.
func (in *Interp) unit(i int) float64 {
	switch {
	case i == 0 && in.s.Diameter:
		return in.linear / 2
	case i < 3:
		return in.linear
	}
	return 1
}

func (in *Interp) unitsUnknown(i int) bool {
	return i < 3 && in.s.Unknown&UnknownUnits != 0
}
