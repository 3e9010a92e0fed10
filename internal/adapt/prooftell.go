package adapt

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// differ is a difference at two steps; nil is the end of a program.
func (m *matcher) differ(x, y *step, what string) *Difference {
	d := &Difference{What: what}
	if x != nil {
		d.SourceLine = x.line
	}
	if y != nil {
		d.OutLine = y.line
	}
	return d
}

// openDiffers compares two moves of which it is not known where they begin or
// end: what the program says must be the same. It gives what is not, or "".
func (m *matcher) openDiffers(x, y *step) string {
	differ := "the program " + m.does(x) + ", the output " + m.does(y)
	if x.open() != y.open() && m.common.lengths && m.common.change && !m.allowed.Homed {
		return differ + ": where it begins is known on one side only"
	}
	open := x.moves &^ (x.fromKnown & y.fromKnown)
	known := x.toKnown & y.toKnown &^ (x.steps | y.steps)
	a, b := only(&x.to, known), only(&y.to, known)
	d := apart(&a, &b)
	a, b = only(&x.to, x.steps), only(&y.to, y.steps)
	d = math.Max(d, apart(&a, &b))
	a, b = only(&x.from, x.fromKnown&y.fromKnown), only(&y.from, x.fromKnown&y.fromKnown)
	d = math.Max(d, apart(&a, &b))
	switch {
	case x.arc || y.arc:
		return differ
	case x.moves != y.moves && (x.moves^y.moves)&open != 0, x.steps != y.steps, (x.toKnown^y.toKnown)&open != 0:
		return differ
	case d > m.tol:
		return differ + ", " + m.length(d) + " away"
	case !x.rapid && m.feedsDiffer(&x.feed, &y.feed):
		return "the feed is " + m.rateText(&x.feed) + " in the program and " + m.rateText(&y.feed) + " in the output"
	}
	m.note(d, x, y)
	return ""
}

// near says whether two numbers are the same but for a share of themselves.
func near(a, b, share float64) bool {
	const noise = 1e-7 // of computing with floats
	return math.Abs(a-b) <= math.Max(math.Abs(a), math.Abs(b))*(share+noise)
}

// feedsDiffer compares two feeds.
func (m *matcher) feedsDiffer(a, b *rate) bool {
	if x, y := m.a.now.speed, m.b.now.speed; m.a.now.synchron && a.kind == perTime && b.kind == perTime && x > 0 && y > 0 {
		return !near(a.value/x, b.value/y, m.allowed.Feed) // a tap has one pitch
	}
	if m.allowed.SpeedClamped && a.kind == perTime && a.kind == b.kind && m.b.now.speed > 0 && m.b.now.speed < m.a.now.speed {
		// Each tooth cuts what it cut before.
		slower := *a
		slower.value *= m.b.now.speed / m.a.now.speed
		if near(slower.value, b.value, m.allowed.Feed) || m.clampedFeed(&slower, b) {
			return false
		}
	}
	if a.kind == b.kind {
		return !near(a.value, b.value, m.allowed.Feed) && !m.clampedFeed(a, b)
	}
	// A feed by the revolution may be said by the minute while the speed holds.
	x, y := a, b
	if x.kind != perRev {
		x, y = b, a
	}
	if x.kind != perRev || y.kind != perTime || !x.still || x.speed == 0 {
		return true
	}
	if (m.allowed.SpeedClamped || m.allowed.FeedClamped) && x == a && m.a.now.speed > 0 {
		return m.feedsDiffer(&rate{value: x.value * m.a.now.speed / 60}, y)
	}
	return !near(x.speed, y.value, m.allowed.Feed)
}

// clampedFeed says whether the output has brought a feed within what its
// machine does: with the speed, by the same share; to the limits of the F word,
// or else to those of its axes.
func (m *matcher) clampedFeed(a, b *rate) bool {
	if !m.allowed.FeedClamped || a.kind != perTime || b.value == 0 || m.a.now.synchron {
		return false
	}
	want, share := a.value, m.allowed.Feed
	if x, y := m.a.now.speed, m.b.now.speed; m.allowed.SpeedClamped && y > 0 && x > y {
		want *= y / x
	}
	least, most := float64(m.out.Feed.Least), float64(m.out.Feed.Greatest)
	switch {
	case near(b.value, want, share),
		least > 0 && want < least && near(b.value, least, share),
		most > 0 && want > most && near(b.value, most, share):
		return true
	}
	// A path across two axes may be faster than each of them.
	return b.value <= want && b.value >= m.slowestAxis()*(1-share-1e-7)
}

// slowestAxis is the highest feed of the slowest axis of the output's machine.
func (m *matcher) slowestAxis() float64 {
	slowest := math.Inf(1)
	for i := range profiles.NumAxes {
		if axis := m.out.Axis(i); axis != nil {
			slowest = math.Min(slowest, float64(axis.HighestFeed()))
		}
	}
	return slowest
}

// compareState compares what is in force, where that has changed.
func (m *matcher) compareState(x, y *step) *Difference {
	if !m.a.changed && !m.b.changed {
		return nil
	}
	m.a.changed, m.b.changed = false, false
	what := m.stateDiffers(&m.a.now, &m.b.now)
	if what == "" {
		return nil
	}
	return &Difference{What: what, SourceLine: m.a.line, OutLine: m.b.line}
}

// stateDiffers says in what two states are not the same, or "".
func (m *matcher) stateDiffers(a, b *state) string {
	unlike := func(what string, a, b any) string {
		return fmt.Sprintf("%s is %v in the program and %v in the output", what, a, b)
	}
	offset := a.offset
	if to, ok := m.allowed.Offsets[offset]; ok {
		offset = to
	}
	switch {
	case a.spindle != b.spindle:
		return unlike("the spindle", spindleText(a.spindle), spindleText(b.spindle))
	case (a.surface > 0) != (b.surface > 0) || !near(a.surface, b.surface, m.allowed.Speed) && math.Abs(a.surface-b.surface) > m.allowed.Surface:
		return unlike("the surface speed", num(a.surface*0.06)+" m/min", num(b.surface*0.06)+" m/min")
	case !m.speedsAgree(a.speed, b.speed):
		return unlike("the spindle speed", speedText(a.speed), speedText(b.speed))
	case !near(a.clamp, b.clamp, m.allowed.Speed) && !(m.allowed.SpeedClamped && b.clamp > 0 && (a.clamp == 0 || b.clamp < a.clamp)):
		return unlike("the highest spindle speed", num(a.clamp), num(b.clamp))
	case m.gearsDiffer(a, b):
		return fmt.Sprintf("the gear is to be %s, and is %s in the output", m.gearText(a.gear), m.gearText(b.gear))
	case a.flood != b.flood || a.mist != b.mist:
		return unlike("the coolant", coolantText(a), coolantText(b))
	case offset != b.offset:
		return unlike("the work offset", a.offset+1, b.offset+1)
	case a.length != b.length:
		return unlike("the tool length offset", "H"+strconv.Itoa(a.length), "H"+strconv.Itoa(b.length))
	case a.path != b.path:
		return unlike("the way through corners", a.path, b.path)
	case a.comp != b.comp || a.compD != b.compD:
		return unlike("the compensation of a tool that is not known", fmt.Sprintf("%v D%d", a.comp, a.compD), fmt.Sprintf("%v D%d", b.comp, b.compD))
	case a.synchron != b.synchron:
		return unlike("the feed, by spindle,", tied(a.synchron), tied(b.synchron))
	case a.probe != b.probe:
		return unlike("the move", probing(a.probe), probing(b.probe))
	case a.overrides != b.overrides:
		return unlike("the state of the override switches", overrideText(a.overrides), overrideText(b.overrides))
	}
	return ""
}

// speedsAgree compares two speeds in rpm; the second may be the nearest that
// the machine reaches.
func (m *matcher) speedsAgree(a, b float64) bool {
	if near(a, b, m.allowed.Speed) {
		return true
	}
	if !m.allowed.SpeedClamped || a <= 0 || b <= 0 || m.reaches(a) {
		return false
	}
	// Nothing that the machine reaches lies between the two.
	low, high := math.Min(a, b), math.Max(a, b)
	slack := high * (m.allowed.Speed + 1e-7)
	for _, r := range m.ranges() {
		if r[0] < high-slack && r[1] > low+slack {
			return false
		}
	}
	return true
}

// ranges are the lowest and highest speed of each gear, or of the spindle.
func (m *matcher) ranges() (all [][2]float64) {
	s := &m.out.Spindle
	for i := range s.Gears {
		if g := s.Gears[i].Speed; len(g) == 2 {
			all = append(all, [2]float64{float64(g[0]), float64(g[1])})
		}
	}
	if len(all) == 0 && len(s.Speed) == 2 {
		all = append(all, [2]float64{float64(s.Speed[0]), float64(s.Speed[1])})
	}
	return all
}

func (m *matcher) reaches(speed float64) bool {
	all := m.ranges()
	for _, r := range all {
		if speed >= r[0] && speed <= r[1] {
			return true
		}
	}
	return len(all) == 0
}

// gearFits says whether the gear of the output turns the spindle as fast as
// it is to turn.
func (m *matcher) gearFits(b *state) bool {
	return b.gear >= 0 && (b.spindle == interp.SpindleOff || b.surface > 0 || b.speed < 0 || m.out.Spindle.Gears[b.gear].Reaches(b.speed))
}

// does says what a step does, as the end of "the program ...".
func (m *matcher) does(s *step) string {
	if s == nil {
		return "ends"
	}
	switch s.kind {
	case moveStep:
		to := s.toKnown & s.moves &^ s.steps
		text := "feeds"
		switch {
		case s.rapid:
			text = "goes at rapid"
		case s.arc:
			text = "feeds round an arc"
		}
		if s.steps != 0 {
			text += " by " + m.place(&s.to, s.steps)
		}
		return text + " to " + m.place(&s.to, to)
	case homeStep:
		return "goes to the machine position " + m.place(&s.to, s.toKnown) + " along " + axisNames(s.moves)
	case toolStep:
		if s.number < 0 {
			return "changes to a tool that is not known"
		}
		return "changes to tool " + num(s.number)
	case dwellStep:
		return "dwells " + num(s.number) + " s"
	case stopStep:
		return [...]string{"stops", "stops if the switch says so", "stops for the pallet", "stops for a move by hand", "ends with M2 or M30"}[int(s.number)]
	case codeStep:
		return "has M" + num(s.number/10)
	case orientStep:
		return "stops the spindle in place"
	}
	return "goes on"
}

// doesNext is does for a step that may be a change of what is in force.
func (m *matcher) doesNext(side *side, s *step) string {
	if s == nil || s.kind != stateStep {
		return m.does(s)
	}
	a, b := side.now, s.state
	switch {
	case a.spindle != b.spindle:
		return "turns the spindle " + spindleText(b.spindle)
	case a.speed != b.speed, a.surface != b.surface, a.clamp != b.clamp:
		return "changes the spindle speed"
	case a.gear != b.gear:
		return "shifts the gear"
	case a.flood != b.flood, a.mist != b.mist:
		return "turns the coolant to " + coolantText(b)
	case a.offset != b.offset:
		return "changes the work offset"
	case a.length != b.length:
		return "changes the tool length offset"
	}
	return "changes how the moves are made"
}

// place writes the axes of a place, in the units that the machine's people read.
func (m *matcher) place(p *interp.Point, axes interp.AxisSet) string {
	if axes == 0 {
		return "a place that is not known"
	}
	var s []string
	for i := range p {
		if axes.Has(i) {
			s = append(s, profiles.AxisLetters[i:i+1]+m.axis(p, i))
		}
	}
	return strings.Join(s, " ")
}

// places writes two places by the axes in which they differ.
func (m *matcher) places(p, q *interp.Point, axes interp.AxisSet) string {
	axes = m.unlikeAxes(p, q, axes)
	return m.place(p, axes) + " in the program, " + m.place(q, axes) + " in the output"
}

// unlikeAxes are the axes in which two places differ, all where none does.
func (m *matcher) unlikeAxes(p, q *interp.Point, axes interp.AxisSet) interp.AxisSet {
	unlike := interp.AxisSet(0)
	for i := range p {
		if axes.Has(i) && math.Abs(p[i]-q[i]) > m.tol/10 {
			unlike |= 1 << i
		}
	}
	if unlike == 0 {
		return axes
	}
	return unlike
}

func (m *matcher) axis(p *interp.Point, i int) string {
	v := p[i]
	switch {
	case i >= 3:
		return strconv.FormatFloat(v/(m.tol/m.tolAngle), 'f', 3, 64)
	case i == 0 && m.out.Axes.X != nil && m.out.Axes.X.Diameter:
		v *= 2
	}
	if m.out.Display == "inch" {
		return strconv.FormatFloat(v/25.4, 'f', 4, 64)
	}
	return strconv.FormatFloat(v, 'f', 3, 64)
}

// length writes a length with its unit.
func (m *matcher) length(v float64) string {
	if m.out.Display == "inch" {
		return strconv.FormatFloat(v/25.4, 'f', 5, 64) + " in"
	}
	return strconv.FormatFloat(v, 'f', 4, 64) + " mm"
}

// rateText writes a feed with its unit.
func (m *matcher) rateText(r *rate) string {
	unit, scale := " mm", 1.0
	if m.out.Display == "inch" {
		unit, scale = " in", 1/25.4
	}
	switch {
	case r.value == 0 && r.kind == perRev:
		return "not set, by the revolution"
	case r.value == 0:
		return "not set"
	case r.kind == perTime:
		return num(r.value*60*scale) + unit + "/min"
	case r.kind == perRev:
		return num(r.value*scale) + unit + " a revolution"
	}
	return "a lead of " + num(r.value*scale) + unit
}

func (m *matcher) gearText(i int) string {
	if i < 0 || i >= len(m.out.Spindle.Gears) {
		return "not set"
	}
	return m.out.Spindle.Gears[i].Name
}

// num writes a number as people do, to five digits behind the point.
func num(v float64) string {
	return strconv.FormatFloat(math.Round(v*1e5)/1e5, 'f', -1, 64)
}

func axisNames(axes interp.AxisSet) string {
	var s []string
	for i := range profiles.NumAxes {
		if axes.Has(i) {
			s = append(s, profiles.AxisLetters[i:i+1])
		}
	}
	return strings.Join(s, " ")
}

func spindleText(s interp.SpindleState) string {
	return [...]string{"unknown", "off", "on clockwise", "on counter-clockwise"}[s]
}

func speedText(v float64) string {
	if v < 0 {
		return "not set"
	}
	return num(v) + " rpm"
}

func coolantText(s *state) string {
	switch {
	case s.flood && s.mist:
		return "flood and mist"
	case s.flood:
		return "flood"
	case s.mist:
		return "mist"
	}
	return "off"
}

func overrideText(m profiles.Meaning) string {
	if m == profiles.Refused {
		return "on"
	}
	return m.String()
}

func tied(yes bool) string {
	if yes {
		return "tied to it"
	}
	return "free of it"
}

func probing(yes bool) string {
	if yes {
		return "probing"
	}
	return "no probing"
}
