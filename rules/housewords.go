package rules

import (
	"math"
	"slices"
	"strings"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// This file is the dictionary of house rules: the events, and what can be
// asked when one comes.

// A happening is a set of events that have a name. Codes and words are apart.
type happening uint32

const (
	aMove happening = 1 << iota
	aFeedMove
	aRapid
	anArc
	aCycle
	aDwell
	aToolChange
	aGearShift
	aSpindleStart
	aSpindleStop
	aCoolantStart
	aCoolantStop
	aStop
	aProgramStop
	anOptionalStop
	anEnd
	aBlock // judged behind the block, like codes and words

	houseMoves = aMove | aFeedMove | aRapid | anArc
)

var houseEvents = []struct {
	name  string
	event happening
	ops   Kinds // of which the event may be
}{
	{"move", aMove, Of(interp.Traverse, interp.Feed, interp.Arc)},
	{"feed move", aFeedMove, Of(interp.Feed, interp.Arc)},
	{"rapid", aRapid, Of(interp.Traverse)},
	{"arc", anArc, Of(interp.Arc)},
	{"cycle", aCycle, Of(interp.Traverse, interp.Feed, interp.Arc, interp.Dwell)},
	{"dwell", aDwell, Of(interp.Dwell)},
	{"tool change", aToolChange, Of(interp.Tool)},
	{"gear shift", aGearShift, Of(interp.Gear)},
	{"spindle start", aSpindleStart, spindleOps},
	{"spindle stop", aSpindleStop, spindleOps},
	{"coolant start", aCoolantStart, Of(interp.Coolant)},
	{"coolant stop", aCoolantStop, Of(interp.Coolant)},
	{"stop", aStop, Of(interp.Stop)},
	{"program stop", aProgramStop, Of(interp.Stop)},
	{"optional stop", anOptionalStop, Of(interp.Stop)},
	{"end", anEnd, Of(interp.Stop)},
	{"block", aBlock, 0},
}

// spindleOps are the operations by which the spindle starts and stops.
var spindleOps = Of(interp.Spindle, interp.Tool, interp.Stop)

func eventNames() []string {
	names := make([]string, len(houseEvents))
	for i := range houseEvents {
		names[i] = houseEvents[i].name
	}
	return names
}

// truth is of three values: what is not known makes no finding. The lesser of
// two is their "and", the greater their "or", the negative is "not".
type truth int8

const (
	isFalse truth = iota - 1
	isUnknown
	isTrue
)

func truthOf(is bool) truth {
	if is {
		return isTrue
	}
	return isFalse
}

// A houseTest is a compiled condition. It may be used by several watches at a time.
type houseTest func(*houseWatch) truth

// A houseSpan holds a number that is known to lie in it: from -Inf to +Inf where
// nothing is known of it.
type houseSpan struct{ from, to float64 }

var anyNumber = houseSpan{math.Inf(-1), math.Inf(1)}

func exactly(v float64) houseSpan { return houseSpan{v, v} }

func knownIf(known bool, v float64) houseSpan {
	if known {
		return exactly(v)
	}
	return anyNumber
}

// houseRounding is what rounding may put between two numbers that are meant to be the
// same: in mm, mm/s, rpm, degrees and s.
const houseRounding = 1e-6

// within says whether the number lies between two limits, both included.
func (s houseSpan) within(low, high float64) truth {
	switch {
	case s.from >= low-houseRounding && s.to <= high+houseRounding:
		return isTrue
	case s.to < low-houseRounding || s.from > high+houseRounding:
		return isFalse
	}
	return isUnknown
}

// A houseQuestion is what can be asked of: a number, one of a few states, or both.
type houseQuestion struct {
	name   string
	of     happening // events that it can be asked at; 0: of all
	number func(*houseWatch) houseSpan
	read   func(text string) (float64, error) // a number with its unit; nil: a whole number
	unit   string                             // an example of what read reads
	states []houseState
}

// A houseState is a value that has a name.
type houseState struct {
	name string
	is   houseTest
}

// houseQuestions are those that do not depend on the machine.
var houseQuestions = []houseQuestion{
	{name: "coolant", states: []houseState{
		{"on", coolant(func(s *interp.State) bool { return s.Flood || s.Mist })},
		{"off", coolant(func(s *interp.State) bool { return !s.Flood && !s.Mist })},
		{"flood", coolant(func(s *interp.State) bool { return s.Flood })},
		{"mist", coolant(func(s *interp.State) bool { return s.Mist })},
	}},
	{name: "spindle", states: []houseState{
		{"on", spindleIs(interp.SpindleCW, interp.SpindleCCW)}, {"turning", spindleIs(interp.SpindleCW, interp.SpindleCCW)},
		{"off", spindleIs(interp.SpindleOff)}, {"cw", spindleIs(interp.SpindleCW)}, {"ccw", spindleIs(interp.SpindleCCW)},
	}},
	{name: "speed", number: speedOf, read: readAs[profiles.Rotation], unit: "2000 rpm"},
	{name: "surface speed", number: surfaceOf, read: readAs[profiles.Speed], unit: "600 ft/min", states: []houseState{
		{"on", surfaceIs(profiles.SurfaceSpeed)}, {"off", surfaceIs(profiles.SpindleSpeed)},
	}},
	{name: "feed", number: feedOf, read: readAs[profiles.Speed], unit: "20 in/min"},
	{name: "feed per revolution", number: feedPerTurn, read: readAs[profiles.Length], unit: "0.005 in"},
	{name: "tool", number: func(w *houseWatch) houseSpan {
		return knownIf(w.state.Tool >= 0 && w.state.Unknown&interp.UnknownTool == 0, float64(w.state.Tool))
	}},
	{name: "length", of: houseMoves, number: lengthOf, read: readAs[profiles.Length], unit: "2 in"},
	{name: "radius", of: anArc, number: func(w *houseWatch) houseSpan { return knownIf(w.op.Radius > 0, w.op.Radius) },
		read: readAs[profiles.Length], unit: "0.1 in"},
	{name: "time", of: aDwell, number: func(w *houseWatch) houseSpan { return exactly(w.op.Seconds) }, read: readAs[profiles.Duration], unit: "5 s"},
	{name: "plane", states: []houseState{
		{"XY", planeIs(interp.XY)}, {"ZX", planeIs(interp.ZX)}, {"XZ", planeIs(interp.ZX)}, {"YZ", planeIs(interp.YZ)},
	}},
	{name: "units", states: []houseState{
		{"inch", modeIs(profiles.UnitsInch, interp.UnknownUnits, unitsOf)}, {"mm", modeIs(profiles.UnitsMM, interp.UnknownUnits, unitsOf)},
	}},
	{name: "distance mode", states: []houseState{
		{"absolute", modeIs(profiles.Absolute, interp.UnknownDistance, distanceOf)},
		{"incremental", modeIs(profiles.Incremental, interp.UnknownDistance, distanceOf)},
	}},
	{name: "feed mode", states: []houseState{
		{"per-minute", modeIs(profiles.FeedPerMinute, interp.UnknownFeedMode, feedModeOf)},
		{"per-revolution", modeIs(profiles.FeedPerRevolution, interp.UnknownFeedMode, feedModeOf)},
		{"inverse-time", modeIs(profiles.FeedInverseTime, interp.UnknownFeedMode, feedModeOf)},
	}},
	{name: "path mode", states: []houseState{
		{"exact-path", modeIs(profiles.ExactPath, 0, pathModeOf)}, {"exact-stop", modeIs(profiles.ExactStop, 0, pathModeOf)},
		{"continuous", modeIs(profiles.Continuous, 0, pathModeOf)},
	}},
	{name: "compensation", states: compensations},
	{name: "comp", states: compensations},
	{name: "length offset", states: []houseState{
		{"on", lengthIs(func(s *interp.State) truth { return truthOf(s.LengthH > 0) })},
		{"off", lengthIs(func(s *interp.State) truth { return truthOf(s.LengthH == 0) })},
		{"tool's", lengthIs(func(s *interp.State) truth {
			if s.Tool < 0 || s.Unknown&interp.UnknownTool != 0 {
				return isUnknown
			}
			return truthOf(s.LengthH == s.Tool)
		})},
	}},
}

var compensations = []houseState{
	{"off", modeIs(profiles.CompOff, interp.UnknownComp, compModeOf)},
	{"on", func(w *houseWatch) truth { return -modeIs(profiles.CompOff, interp.UnknownComp, compModeOf)(w) }},
	{"left", modeIs(profiles.CompLeft, interp.UnknownComp, compModeOf)},
	{"right", modeIs(profiles.CompRight, interp.UnknownComp, compModeOf)},
}

func readAs[Q profiles.Length | profiles.Speed | profiles.Duration | profiles.Rotation](text string) (float64, error) {
	q, err := profiles.ParseQuantity[Q](text)
	return float64(q), err
}

func unitsOf(s *interp.State) profiles.Meaning    { return s.Units }
func distanceOf(s *interp.State) profiles.Meaning { return s.Distance }
func feedModeOf(s *interp.State) profiles.Meaning { return s.FeedMode }
func pathModeOf(s *interp.State) profiles.Meaning { return s.Path }
func compModeOf(s *interp.State) profiles.Meaning { return s.Comp }

func modeIs(m profiles.Meaning, bit interp.Unknown, mode func(*interp.State) profiles.Meaning) houseTest {
	return func(w *houseWatch) truth {
		if w.state.Unknown&bit != 0 {
			return isUnknown
		}
		return truthOf(mode(w.state) == m)
	}
}

func planeIs(p interp.Plane) houseTest {
	return func(w *houseWatch) truth {
		if w.state.Unknown&interp.UnknownPlane != 0 {
			return isUnknown
		}
		return truthOf(w.state.Plane == p)
	}
}

// coolant is not known where a block since its last change was lost.
func coolant(is func(*interp.State) bool) houseTest {
	return func(w *houseWatch) truth {
		if w.lost.at > w.coolant {
			return isUnknown
		}
		return truthOf(is(w.state))
	}
}

func spindleIs(states ...interp.SpindleState) houseTest {
	return func(w *houseWatch) truth {
		s := w.state
		if s.Unknown&interp.UnknownSpindle != 0 || s.Spindle == interp.SpindleUnknown {
			return isUnknown
		}
		return truthOf(slices.Contains(states, s.Spindle))
	}
}

func surfaceIs(mode profiles.Meaning) houseTest {
	return func(w *houseWatch) truth {
		if w.state.Unknown&interp.UnknownSpeed != 0 {
			return isUnknown
		}
		return truthOf((w.state.SpeedMode == profiles.SurfaceSpeed) == (mode == profiles.SurfaceSpeed))
	}
}

func lengthIs(is func(*interp.State) truth) houseTest {
	return func(w *houseWatch) truth {
		if w.state.LengthH < 0 || w.state.Unknown&interp.UnknownLength != 0 {
			return isUnknown
		}
		return is(w.state)
	}
}

// speedOf is S in rpm; under constant surface speed that at the end of the move.
func speedOf(w *houseWatch) houseSpan {
	s := w.state
	known := s.SpeedSet && s.Unknown&interp.UnknownSpeed == 0 && (s.SpeedMode != profiles.SurfaceSpeed || s.Surface > 0)
	return knownIf(known, s.Speed)
}

func surfaceOf(w *houseWatch) houseSpan {
	s := w.state
	return knownIf(s.Surface > 0 && s.Unknown&interp.UnknownSpeed == 0, s.Surface)
}

// feedOf is the feed along the path of a feed move, and else F, in mm/s.
func feedOf(w *houseWatch) houseSpan {
	s := w.state
	if w.op != nil && (w.op.Kind == interp.Feed || w.op.Kind == interp.Arc) {
		return knownIf(w.op.Feed > 0 && w.op.Moves&interp.XYZ != 0, w.op.Feed)
	}
	return knownIf(s.FeedSet && s.FeedMode == profiles.FeedPerMinute && s.Unknown&(interp.UnknownFeed|interp.UnknownFeedMode) == 0, s.Feed)
}

// feedPerTurn is how far the tool feeds in one turn of the spindle, mm.
func feedPerTurn(w *houseWatch) houseSpan {
	s := w.state
	if w.op != nil && (w.op.Kind == interp.Feed || w.op.Kind == interp.Arc) {
		return knownIf(w.op.PerRev > 0 && w.op.Moves&interp.XYZ != 0, w.op.PerRev)
	}
	return knownIf(s.FeedSet && s.FeedMode == profiles.FeedPerRevolution && s.Unknown&(interp.UnknownFeed|interp.UnknownFeedMode) == 0, s.Feed)
}

// lengthOf is how far a move goes, mm; at least that where an axis that moves
// is not known.
func lengthOf(w *houseWatch) houseSpan {
	op := w.op
	known := op.FromKnown&op.ToKnown | op.FromMachineKnown&op.ToMachineKnown | op.Steps
	if op.Moves&interp.XYZ&^known != 0 {
		return houseSpan{op.Length, math.Inf(1)}
	}
	return exactly(op.Length)
}

// placeOf is the place on an axis, at the end of a move: mm, of rotary axes
// degrees.
func placeOf(axis int, machine bool) func(*houseWatch) houseSpan {
	return func(w *houseWatch) houseSpan {
		at, known := &w.state.At, w.state.Known
		isMove := w.op != nil && w.op.Kind <= interp.Arc
		switch {
		case isMove && machine:
			at, known = &w.op.ToMachine, w.op.ToMachineKnown
		case isMove:
			at, known = &w.op.To, w.op.ToKnown
		case machine:
			at, known = &w.state.Machine, w.state.MachineKnown
		}
		return knownIf(known.Has(axis), at[axis])
	}
}

// goesAlong says whether a move ends lower (way is -1) or higher (1) than it began.
func goesAlong(way float64) houseTest {
	const z = 2
	return func(w *houseWatch) truth {
		op := w.op
		switch {
		case !op.Moves.Has(z):
			return isFalse
		case (op.FromKnown&op.ToKnown | op.Steps).Has(z):
			return truthOf(way*(op.To[z]-op.From[z]) > houseRounding)
		case (op.FromMachineKnown & op.ToMachineKnown).Has(z):
			return truthOf(way*(op.ToMachine[z]-op.FromMachine[z]) > houseRounding)
		}
		return isUnknown
	}
}

// ask finds the question with the name on this machine: the words, then the
// address behind them.
func (c *houseCompiler) ask(name string, axis string) (q houseQuestion, ok bool) {
	if axis != "" {
		return c.askPlace(name, axis)
	}
	switch name {
	case "gear":
		return c.askGear(), true
	case "offset", "work offset":
		return c.askCode("offset", profiles.OffsetGroup, func(m profiles.Meaning) houseTest {
			return func(w *houseWatch) truth {
				if w.state.Unknown&interp.UnknownOffset != 0 {
					return isUnknown
				}
				return truthOf(w.state.Offset == int(m-profiles.WorkOffset1))
			}
		}), true
	case "motion":
		return c.askCode("motion", profiles.MotionGroup, func(m profiles.Meaning) houseTest {
			return func(w *houseWatch) truth {
				if w.state.Unknown&interp.UnknownMotion != 0 || w.state.Motion == profiles.Refused {
					return isUnknown
				}
				return truthOf(w.state.Motion == m)
			}
		}), true
	case "diameter":
		if c.m.Kind != "lathe" {
			return houseQuestion{}, false
		}
		x := placeOf(0, false)
		return houseQuestion{name: name, read: readAs[profiles.Length], unit: "2 in", number: func(w *houseWatch) houseSpan {
			s := x(w)
			return houseSpan{2 * s.from, 2 * s.to}
		}}, true
	}
	i := slices.IndexFunc(houseQuestions, func(q houseQuestion) bool { return q.name == name })
	if i < 0 {
		return houseQuestion{}, false
	}
	return houseQuestions[i], true
}

// askPlace is "Z" or "machine Z".
func (c *houseCompiler) askPlace(name, axis string) (houseQuestion, bool) {
	i := strings.Index(profiles.AxisLetters, axis)
	if i < 0 || name != "" && name != "machine" {
		return houseQuestion{}, false
	}
	q := houseQuestion{name: strings.TrimSpace(name + " " + axis), number: placeOf(i, name != ""), read: readAs[profiles.Length], unit: "0.5 in"}
	if i >= 3 {
		q.read, q.unit = profiles.ParseAngle, "90 deg"
	}
	return q, true
}

func (c *houseCompiler) askGear() houseQuestion {
	q := houseQuestion{name: "gear"}
	for i, g := range c.m.Spindle.Gears {
		q.states = append(q.states, houseState{g.Name, func(w *houseWatch) truth {
			if w.state.Gear < 0 || w.state.Unknown&interp.UnknownGear != 0 {
				return isUnknown
			}
			return truthOf(w.state.Gear == i)
		}})
	}
	return q
}

// askCode has the machine's codes of a modal group as states.
func (c *houseCompiler) askCode(name string, group profiles.Group, is func(profiles.Meaning) houseTest) houseQuestion {
	q := houseQuestion{name: name}
	for _, code := range codesOf(c.m, group) {
		meaning, _ := profiles.ParseMeaning(c.m.Codes[code]) // codesOf has looked
		q.states = append(q.states, houseState{code, is(meaning)})
	}
	return q
}

// questionNames are what can be asked on this machine.
func (c *houseCompiler) questionNames() []string {
	names := []string{"gear", "offset", "motion"}
	for i := range houseQuestions {
		names = append(names, houseQuestions[i].name)
	}
	if c.m.Kind == "lathe" {
		names = append(names, "diameter")
	}
	return names
}
