package profiles

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
)

// A validator checks the values of a decoded machine: each for itself, and
// those that must agree.
type validator struct {
	*decoder
	m   *Machine
	top *source // the file that was asked for, not what it extends
}

// mostGears is what the table of gear codes can tell apart.
const mostGears = 100

// fail complains of a value, or of one that is missing: then the place is
// that of the table it should stand in.
func (v *validator) fail(path, format string, args ...any) {
	at := path
	for {
		if n := v.places[at]; n != nil && n != defaultPlace && n != computedPlace {
			v.decoder.fail(n, path, format, args...)
			return
		}
		at = at[:max(0, strings.LastIndexAny(at, ".["))]
	}
}

// written is the value as the file has it.
func (v *validator) written(path string) string {
	if n := v.places[path]; n != nil {
		return n.text
	}
	return ""
}

// own says whether the file that was asked for gives the value itself, or a
// setting beside it does. What
// it inherits and has no use for is no fault of it: a machine that refuses
// G87 keeps the base's words for it.
func (v *validator) own(path string) bool {
	n := v.places[path]
	return n != nil && (n.from == v.top || n.flagged())
}

func (v *validator) given(path string) bool { return v.places[path] != nil }

func (v *validator) machine() {
	v.identity()
	v.start()
	v.codes()
	v.words()
	v.block()
	v.numbers()
	v.arcs()
	v.cycles()
	v.spindle()
	v.axes()
	v.control()
	v.tools()
	v.turning()
	v.times()
	v.offsets()
	v.rules()
	v.house()
	v.quote()
	v.unsure()
}

func (v *validator) identity() {
	m := v.m
	switch {
	case m.Name == "":
		v.missing("name", strconv.Quote(v.top.name))
	case strings.Trim(m.Name, "abcdefghijklmnopqrstuvwxyz0123456789-") != "" || m.Name != strings.Trim(m.Name, "-"):
		v.fail("name", "%q: a name has lower-case letters, digits and hyphens between them", m.Name)
	case m.Name != v.top.name:
		v.fail("name", "%q, but the file is %s.toml: give both one name", m.Name, v.top.name)
	}
	if m.Title == "" {
		v.missing("title", `"Bed mill by the door"`)
	}
	if m.Kind == "" {
		for _, path := range []string{"axes", "spindle", "tools", "offsets"} {
			if v.given(path) {
				v.fail("kind", "missing, but the profile has %s: write kind = \"mill\" or \"lathe\"", path)
				break
			}
		}
	} else {
		v.oneOf("kind", m.Kind, "mill", "lathe")
	}
	if m.Display != "" {
		v.oneOf("display", m.Display, "inch", "mm")
	} else if m.Kind != "" {
		v.missing("display", `"inch" or "mm"`)
	}
}

// missing complains of a value that must be given; example is one as written.
func (v *validator) missing(path, example string) {
	key := path[strings.LastIndexByte(path, '.')+1:]
	v.fail(path, "missing: write %s = %s", key, example)
}

func (v *validator) oneOf(path, value string, accepted ...string) {
	if slices.Contains(accepted, value) {
		return
	}
	quoted := make([]string, len(accepted))
	for i, a := range accepted {
		quoted[i] = strconv.Quote(a)
	}
	list := strings.Join(quoted, ", ")
	if !v.given(path) {
		v.fail(path, "missing: accepted are %s", list)
		return
	}
	v.fail(path, "%q is not known%s accepted are %s", value, orColon(DidYouMean(value, accepted)), list)
	if e := v.errs[len(v.errs)-1]; e.Path == path {
		e.accepted = accepted
	}
}

func (v *validator) start() {
	s := &v.m.Start
	v.oneOf("start.units", s.Units, "inch", "mm")
	v.oneOf("start.plane", s.Plane, "xy", "zx", "yz")
	v.oneOf("start.distance", s.Distance, "absolute", "incremental")
	v.oneOf("start.feed", s.Feed, "per-minute", "per-revolution", "inverse-time")
	v.oneOf("start.retract", s.Retract, "initial", "r")
	v.oneOf("start.path", s.Path, "exact-path", "exact-stop", "continuous")
	v.oneOf("start.motion", s.Motion, motionNames()...)
	if s.Offset != "" && v.offsetNumber(s.Offset) < 0 {
		v.fail("start.offset", "%q is no work offset of this profile: accepted are %s", s.Offset, v.offsetCodes())
	}
	if s.Gear != "" && !slices.ContainsFunc(v.m.Spindle.Gears, func(g SpindleGear) bool { return g.Name == s.Gear }) {
		v.fail("start.gear", "%q names no gear in spindle.gears", s.Gear)
	}
}

// motionNames are the motions that can be in force at the start.
func motionNames() []string {
	names := []string{"none"}
	for m := TraverseMove; m <= CycleOff; m++ {
		if m != Probe {
			names = append(names, m.String())
		}
	}
	return names
}

// offsetNumber is 0 to 8 for the code of a work offset, -1 for others.
func (v *validator) offsetNumber(code string) int {
	letter, tenths, ok := parseCode(code)
	if !ok || letter != 'G' || v.m.codes.g[tenths].Group() != OffsetGroup {
		return -1
	}
	return int(v.m.codes.g[tenths] - WorkOffset1)
}

func (v *validator) offsetCodes() string {
	var codes []string
	for m := WorkOffset1; m <= WorkOffset9; m++ {
		if c := v.m.codes.code[m]; c != "" {
			codes = append(codes, c)
		}
	}
	if len(codes) == 0 {
		return "none"
	}
	return strings.Join(codes, ", ")
}

func (v *validator) codes() {
	if len(v.m.Codes) == 0 {
		v.missing("codes", `{ G0 = "traverse", G1 = "feed" } or extend a base`)
	}
	for _, code := range v.m.sortedCodes() {
		path, name := join("codes", code), v.m.Codes[code]
		letter, _, ok := parseCode(code)
		if !ok {
			v.fail(path, "%q is not a code: write G or M and the number without zeros before it, such as G1, M41, \"G59.1\"", code)
			continue
		}
		meaning, known := ParseMeaning(name)
		switch {
		case !known:
			v.fail(path, "%q is no meaning%s accepted are %s", name,
				orColon(DidYouMean(name, meaningNames[:])), strings.Join(meaningsFor(letter), ", "))
		case meaning.letter() != 0 && meaning.letter() != letter:
			v.fail(path, "%q is not for %c codes: accepted are %s", name, letter, strings.Join(meaningsFor(letter), ", "))
		}
		i := slices.IndexFunc(v.m.Spindle.Gears, func(g SpindleGear) bool { return g.Code == code })
		switch {
		case known && i < 0 && meaning == Gear:
			v.fail(path, "\"gear\" does not say which: give the code to one of spindle.gears")
		case known && i >= 0 && meaning != Gear:
			v.fail(path, "%q, but spindle.gears[%d] has the code too: give it one use", name, i)
		}
	}
}

// meaningsFor are the names of meanings that codes with the letter can have.
func meaningsFor(letter byte) []string {
	var names []string
	for m := range numMeanings {
		if l := m.letter(); m != Gear && (l == 0 || l == letter) {
			names = append(names, m.String())
		}
	}
	return names
}

func (v *validator) words() {
	w := &v.m.Words
	if w.Accepted == "" {
		v.missing("words.accepted", `"FGHIJKLMNPQRSTXYZ"`)
	}
	v.letters("words.accepted", w.Accepted)
	v.atLeast("words.m_codes", float64(w.MCodes), 0)
	v.letters("words.incremental", w.Incremental)
	if strings.Trim(w.Incremental, "UVW") != "" {
		v.fail("words.incremental", "%q: distances along X, Y and Z are U, V and W", w.Incremental)
	}
}

// letters checks a set of addresses.
func (v *validator) letters(path, set string) {
	for i, c := range set {
		switch {
		case c < 'A' || c > 'Z':
			v.fail(path, "%q is no address: write letters A to Z without blanks", c)
			return
		case strings.ContainsRune(set[:i], c):
			v.fail(path, "%c stands twice in %q", c, set)
			return
		}
	}
}

func (v *validator) block() {
	b := &v.m.Block
	v.atLeast("block.longest", float64(b.Longest), 0)
	v.between("block.subprograms", b.Subprograms, 0, mostCalls)
	v.between("block.locals", b.Locals, 0, mostLocals)
	if code := v.m.codes.code[CallArguments]; code != "" && b.Locals < lastArgument {
		v.fail(join("codes", code), "its words set local parameters up to #%d, and block.locals is %d: write locals = 33 there", lastArgument, b.Locals)
	}
	if strings.Trim(b.Comments, "(;") != "" || strings.Count(b.Comments, "(") > 1 || strings.Count(b.Comments, ";") > 1 {
		v.fail("block.comments", "%q: accepted are \"\", \"(\", \";\" and \"(;\"", b.Comments)
	}
	v.characters(b.Characters)
	v.numberRange("block.sequence", b.Sequence)
	v.numberRange("block.program_number", b.ProgramNumber)
	v.oneOf("block.percent_marks", b.PercentMarks, "needed", "optional")
	v.oneOf("block.repeat", b.Repeat, "L", "K")
	v.oneOf("block.call", b.Call, "words", "digits")
	for _, address := range slices.Sorted(maps.Keys(b.Dwell)) {
		path := "block.dwell." + address
		if len(address) != 1 || !strings.Contains("PXU", address) {
			v.fail(path, "%q gives no dwell: accepted are P, X, U", address)
			continue
		}
		v.oneOf(path, b.Dwell[address], "s", "ms", "none")
	}
}

// mostCalls bounds the levels of calls, and with them the memory for the ways
// back; mostLocals bounds the local parameters of each level. lastArgument is
// the highest parameter that a word of a call sets (Z, by common practice),
// mostParameter the highest that there is.
const (
	mostCalls    = 10000
	mostLocals   = 99
	lastArgument = 26

	mostParameter = 5399 // NISTIR 6556
)

// between checks a whole number.
func (v *validator) between(path string, value, least, most int) {
	if value < least || value > most {
		v.fail(path, "%d is not within %d to %d", value, least, most)
	}
}

// numberRange checks a lowest and highest whole number; none is any.
func (v *validator) numberRange(path string, r []int) {
	switch {
	case len(r) == 0:
	case len(r) != 2:
		v.fail(path, "%d values: write the lowest and the highest, such as [0, 9999]", len(r))
	case r[0] < 0 || r[0] > r[1]:
		v.fail(path, "[%d, %d]: write the lowest, 0 or more, and then the highest", r[0], r[1])
	}
}

func (v *validator) numbers() {
	n := &v.m.Numbers
	points := []string{"needed", "optional", "counts", "refused"}
	v.oneOf("numbers.point", n.Point, points...)
	v.oneOf("numbers.feed_point", n.FeedPoint, points...)
	v.atLeast("numbers.decimals.inch", float64(n.Decimals.Inch), 0)
	v.atLeast("numbers.decimals.mm", float64(n.Decimals.MM), 0)
	v.atLeast("numbers.digits.inch", float64(n.Digits.Inch), 0)
	v.atLeast("numbers.digits.mm", float64(n.Digits.MM), 0)
	counts := n.Point == "counts" || n.Point == "refused"
	if !counts {
		if n.Suppress != "" {
			v.fail("numbers.suppress", "%q has no use where numbers.point is %q: leave it out", n.Suppress, n.Point)
		}
		return
	}
	v.oneOf("numbers.suppress", n.Suppress, "leading", "trailing")
	if n.Decimals.Inch == 0 && n.Decimals.MM == 0 {
		v.fail("numbers.decimals", "missing: without a point the least increment is needed: write decimals = { inch = 4, mm = 3 }")
	}
	if n.Suppress == "trailing" && n.Digits.Inch == 0 && n.Digits.MM == 0 {
		v.fail("numbers.digits", "missing: where trailing zeros are left out the digits before the point are needed: write digits = { inch = 3, mm = 4 }")
	}
}

func (v *validator) arcs() {
	a := &v.m.Arcs
	v.oneOf("arcs.centre", a.Centre, "incremental", "absolute", "unsigned")
	planes := strings.Fields(a.Planes)
	if len(planes) == 0 {
		v.missing("arcs.planes", `"xy zx yz"`)
	}
	for _, p := range planes {
		v.oneOf("arcs.planes", p, "xy", "zx", "yz")
	}
	v.atLeast("arcs.tolerance", float64(a.Tolerance), 0)
	v.atLeast("arcs.tolerance_inch", float64(a.ToleranceInch), 0)
	v.atLeast("arcs.largest", float64(a.Largest), 0)
}

func (v *validator) cycles() {
	for _, name := range slices.Sorted(maps.Keys(v.m.Cycles)) {
		path, c := "cycles."+name, v.m.Cycles[name]
		meaning, _ := ParseMeaning(name)
		if !meaning.IsCycle() {
			v.fail(path, "%q is no canned cycle%s accepted are %s", name,
				orColon(DidYouMean(name, cycleNames())), strings.Join(cycleNames(), ", "))
			continue
		}
		if v.m.codes.code[meaning] == "" && v.own(path) {
			v.fail(path, "no code has this meaning: write one in codes, such as G81 = %q, or leave the cycle out", name)
		}
		v.letters(path+".needs", c.Needs)
		v.letters(path+".takes", c.Takes)
		if i := strings.IndexAny(c.Takes, c.Needs); i >= 0 {
			v.fail(path+".takes", "%c stands in needs too", c.Takes[i])
		}
		v.atLeast(path+".clear_peck", float64(c.ClearPeck), 0)
		if c.FeedOut != "" {
			v.oneOf(path+".feed_out", c.FeedOut, "r", "clear")
		}
	}
	for _, code := range v.m.sortedCodes() {
		meaning, _ := ParseMeaning(v.m.Codes[code])
		if _, ok := v.m.Cycles[meaning.String()]; meaning.IsCycle() && !ok {
			v.fail(join("codes", code), "%q, but cycles.%s does not say which words it needs: write needs = \"RZ\" there", meaning, meaning)
		}
	}
}

func cycleNames() []string {
	var names []string
	for m := Drill; m.IsCycle(); m++ {
		names = append(names, m.String())
	}
	return names
}

func (v *validator) spindle() {
	s := &v.m.Spindle
	if v.places["spindle.speed"] != defaultPlace { // else its gears are to blame
		v.speeds("spindle.speed", s.Speed)
	}
	v.atLeast("spindle.start", float64(s.Start), 0)
	v.atLeast("spindle.stop", float64(s.Stop), 0)
	v.atLeast("spindle.reverse", float64(s.Reverse), 0)
	v.atLeast("spindle.shift_time", float64(s.ShiftTime), 0)
	v.spindleMotor()
	if s.Shift != "" || len(s.Gears) > 0 {
		v.oneOf("spindle.shift", s.Shift, "coded", "automatic", "by-hand")
	}
	if len(s.Gears) > mostGears {
		v.fail("spindle.gears", "%d gears: at most %d", len(s.Gears), mostGears)
	}
	for i := range s.Gears {
		v.gear(i)
	}
}

// gear checks one gear, and it against those before.
func (v *validator) gear(i int) {
	s := &v.m.Spindle
	g, path := &s.Gears[i], fmt.Sprintf("spindle.gears[%d]", i)
	before := s.Gears[:i]
	if g.Name == "" {
		v.missing(path+".name", strconv.Quote(v.freeName(i)))
	} else if slices.ContainsFunc(before, func(o SpindleGear) bool { return o.Name == g.Name }) {
		v.fail(path+".name", "%q stands twice: give each gear its own name", g.Name)
	}
	if len(g.Speed) == 0 {
		v.missing(path+".speed", exampleSpeeds(before))
	}
	v.speeds(path+".speed", g.Speed)
	v.gearRatio(i)
	if i > 0 && isRange(g.Speed) && isRange(before[i-1].Speed) &&
		(g.Speed[0] < before[i-1].Speed[0] || g.Speed[1] < before[i-1].Speed[1]) {
		v.fail(path+".speed", "slower than the gear before it: write gears from slow to fast")
	}
	v.gearCode(path, g, before)
}

// freeName is a name for gear i that no gear has.
func (v *validator) freeName(i int) string {
	for _, name := range []string{"low", "high", "middle"} {
		if !slices.ContainsFunc(v.m.Spindle.Gears, func(g SpindleGear) bool { return g.Name == name }) {
			return name
		}
	}
	return fmt.Sprintf("step %d", i+1)
}

// freeCode is a code of the usual ones for gears that nothing else has.
func (v *validator) freeCode() string {
	for n := 41; n < 50; n++ {
		code := fmt.Sprintf("M%d", n)
		taken := slices.ContainsFunc(v.m.Spindle.Gears, func(g SpindleGear) bool { return g.Code == code })
		if meaning := v.m.Codes[code]; !taken && (meaning == "" || meaning == Refused.String()) {
			return code
		}
	}
	return "M50"
}

// exampleSpeeds are speeds that may follow those of the gears before.
func exampleSpeeds(before []SpindleGear) string {
	low, high := Rotation(40), Rotation(1100)
	if n := len(before); n > 0 && isRange(before[n-1].Speed) {
		low, high = before[n-1].Speed[1], 4*before[n-1].Speed[1]
	}
	return fmt.Sprintf(`["%g rpm", "%g rpm"]`, low, high)
}

func isRange(r []Rotation) bool { return len(r) == 2 && r[0] < r[1] }

// gearCode checks the code of a gear, and it against those before.
func (v *validator) gearCode(path string, g *SpindleGear, before []SpindleGear) {
	shift := v.m.Spindle.Shift
	letter, _, ok := parseCode(g.Code)
	switch {
	case (shift == "automatic" || shift == "by-hand") && g.Code != "":
		v.fail(path+".code", "%q, but spindle.shift is %q: leave the code out or write shift = \"coded\"", g.Code, shift)
	case shift == "coded" && g.Code == "":
		v.missing(path+".code", strconv.Quote(v.freeCode())+`: spindle.shift is "coded"`)
	case g.Code != "" && (!ok || letter != 'M'):
		v.fail(path+".code", "%q is no M code: write it like %q", g.Code, v.freeCode())
	case g.Code != "" && slices.ContainsFunc(before, func(o SpindleGear) bool { return o.Code == g.Code }):
		v.fail(path+".code", "%q stands twice: give each gear its own code", g.Code)
	}
}

// speeds checks a lowest and highest spindle speed.
func (v *validator) speeds(path string, r []Rotation) {
	switch {
	case len(r) == 0:
	case len(r) != 2:
		v.fail(path, "%d values: write the lowest and the highest, such as [\"40 rpm\", \"1100 rpm\"]", len(r))
	case r[0] < 0:
		v.fail(path+"[0]", "%q is below 0", v.written(path+"[0]"))
	case r[0] >= r[1]:
		v.fail(path, "%q to %q is no range: write the lowest and then the highest", v.written(path+"[0]"), v.written(path+"[1]"))
	}
}

func (v *validator) axes() {
	needed := map[string]string{"mill": "XYZ", "lathe": "XZ"}[v.m.Kind]
	for i := range NumAxes {
		if a := v.m.Axis(i); a != nil {
			v.axis(i, a)
		} else if strings.IndexByte(needed, AxisLetters[i]) >= 0 {
			v.fail(axisPath(i), "missing: a %s has the axes %s, each with rapid and acceleration", v.m.Kind, needed)
		}
	}
	f := &v.m.Feed
	v.atLeast("feed.least", float64(f.Least), 0)
	v.atLeast("feed.greatest", float64(f.Greatest), 0)
	if f.Greatest > 0 && f.Least > f.Greatest {
		v.fail("feed.least", "%q is above feed.greatest, %q", v.written("feed.least"), v.written("feed.greatest"))
	}
}

func (v *validator) axis(i int, a *Axis) {
	path := axisPath(i)
	rapid, acceleration := `"250 in/min"`, `"0.5 m/s^2"`
	if i >= 3 {
		rapid, acceleration = `"40 deg/s"`, `"200 deg/s^2"`
	}
	v.computable(path+".rapid", float64(a.Rapid), rapid, a.Missing(false))
	v.computable(path+".acceleration", float64(a.Acceleration), acceleration, a.Missing(true))
	v.train(i, a)
	v.atLeast(path+".jerk", float64(a.Jerk), 0)
	if v.m.Control.Corner == "step" {
		v.positive(path+".corner_step", float64(a.CornerStep), map[bool]string{false: `"4 in/min"`, true: `"2 deg/s"`}[i >= 3])
	} else {
		v.atLeast(path+".corner_step", float64(a.CornerStep), 0)
	}
	if v.given(path+".feed") && a.Rapid > 0 {
		v.positive(path+".feed", float64(a.Feed), rapid)
		if a.Feed > a.Rapid && v.places[path+".rapid"] == computedPlace {
			v.fail(path+".feed", "%q is above the rapid that the drive train gives, %.4g mm/s: lower it, or leave it out", v.written(path+".feed"), float64(a.Rapid))
		} else if a.Feed > a.Rapid {
			v.fail(path+".feed", "%q is above rapid, %q", v.written(path+".feed"), v.written(path+".rapid"))
		}
	}
	v.atLeast(path+".backlash", float64(a.Backlash), 0)
	v.atLeast(path+".backlash_limit", float64(a.BacklashLimit), 0)
	if a.Diameter && i != 0 {
		v.fail(path+".diameter", "true, but only X words can be diameters")
	}
	v.wrap(i, a)
	switch t := a.Travel; {
	case len(t) == 0:
	case len(t) != 2:
		v.fail(path+".travel", "%d values: write the lowest and the highest place in machine coordinates, such as %s", len(t), examples[kindOfPath(strings.Split(path+".travel", "."))])
	case t[0] >= t[1]:
		v.fail(path+".travel", "%q to %q is no range: write the lowest and then the highest", v.written(path+".travel[0]"), v.written(path+".travel[1]"))
	default:
		v.within(path+".home", a.Home, t)
		v.within(path+".second", a.Second, t)
	}
}

// wrap checks how a rotary axis without ends takes its way.
func (v *validator) wrap(i int, a *Axis) {
	path := axisPath(i) + ".wrap"
	switch {
	case a.Wrap == "":
	case i < 3:
		v.fail(path, "%q, but %c is a linear axis: only A, B and C wrap", a.Wrap, AxisLetters[i])
	case len(a.Travel) > 0:
		v.fail(path, "%q, but the axis has a travel: what wraps has no ends, so leave one of them out", a.Wrap)
	default:
		v.oneOf(path, a.Wrap, "shortest", "sign")
	}
}

func (v *validator) within(path string, place *Length, travel []Length) {
	if place != nil && (*place < travel[0] || *place > travel[1]) {
		v.fail(path, "%q is outside travel", v.written(path))
	}
}

// positive checks a value that must be given and above 0.
func (v *validator) positive(path string, value float64, example string) {
	switch {
	case !v.given(path):
		v.missing(path, example)
	case value <= 0:
		v.fail(path, "%q is not above 0", v.written(path))
	}
}

func (v *validator) atLeast(path string, value, least float64) {
	if value < least && v.places[path] != defaultPlace { // else what it is made of is to blame
		v.fail(path, "%q is below %g", v.written(path), least)
	}
}

func (v *validator) control() {
	c := &v.m.Control
	v.atLeast("control.block_time", float64(c.BlockTime), 0)
	v.atLeast("control.look_ahead", float64(c.LookAhead), 0)
	v.atLeast("control.memory", float64(c.Memory), 0)
	v.link(&c.Link)
	v.oneOf("control.backlash", c.Backlash, "taken-out", "left")
	v.oneOf("control.home_axes", c.HomeAxes, "all", "named")
	v.oneOf("control.comp", c.Comp, "intersect", "refuse-concave")
	v.oneOf("control.cycle_level", c.CycleLevel, "first", "each")
	v.oneOf("control.cycle_r", c.CycleR, "mode", "initial")
	v.oneOf("control.rapid_path", c.RapidPath, "straight", "each-axis")
	if c.Corner == "" { // of a base
		return
	}
	v.oneOf("control.corner", c.Corner, "stop", "tolerance", "step")
	if c.Corner == "tolerance" {
		v.positive("control.corner_tolerance", float64(c.CornerTolerance), `"0.0005 in"`)
	} else {
		v.atLeast("control.corner_tolerance", float64(c.CornerTolerance), 0)
	}
}

func (v *validator) tools() {
	t := &v.m.Tools
	v.atLeast("tools.pockets", float64(t.Pockets), 0)
	v.atLeast("tools.highest", float64(t.Highest), 0)
	v.atLeast("tools.change_time", float64(t.ChangeTime), 0)
	v.between("tools.change_parameter", t.ChangeParameter, 0, mostParameter)
	if t.ChangeParameter != 0 && t.ChangeProgram == "" {
		v.fail("tools.change_parameter", "there is no tools.change_program to read it: leave it out, or write the program")
	}
	if t.Highest >= 0 && t.Highest < t.Pockets {
		v.fail("tools.highest", "%d is below tools.pockets, %d", t.Highest, t.Pockets)
	}
	v.oneOf("tools.word", t.Word, "tool", "tool-offset")
	v.changeSequence()
	seen := map[int]bool{}
	for i, tool := range t.Loaded {
		path := fmt.Sprintf("tools.loaded[%d]", i)
		switch {
		case tool.Number <= 0:
			v.fail(path+".number", "missing or not above 0: write number = 1 for T1")
		case seen[tool.Number]:
			v.fail(path+".number", "T%d stands twice", tool.Number)
		case t.Highest > 0 && tool.Number > t.Highest:
			v.fail(path+".number", "T%d is above tools.highest, %d", tool.Number, t.Highest)
		}
		seen[tool.Number] = true
		v.atLeast(path+".length", float64(tool.Length), 0)
		v.atLeast(path+".diameter", float64(tool.Diameter), 0)
		v.atLeast(path+".d", float64(tool.D), 0)
		if i := slices.IndexFunc(t.Loaded, func(o Tool) bool { return o.Number == tool.D }); t.Shared && tool.D != 0 && i >= 0 {
			v.fail(path+".d", "entry %d of the one table for H and D holds the length of T%d: write an entry of its own, such as d = %d", tool.D, tool.D, tool.Number+20)
		}
		v.atLeast(path+".nose_radius", float64(tool.NoseRadius), 0)
		if d := tool.NoseDirection; d < 0 || d > 9 {
			v.fail(path+".nose_direction", "%d: it is 0 to 9", d)
		}
	}
}

func (v *validator) turning() {
	t := &v.m.Turning
	if t.CycleLines != 1 && t.CycleLines != 2 {
		v.fail("turning.cycle_lines", "%d: a turning cycle is written in 1 block or in 2", t.CycleLines)
	}
	v.atLeast("turning.retract", float64(t.Retract), 0)
	v.oneOf("turning.thread_lead", t.ThreadLead, "F", "K")
	v.letters("turning.counts", t.Counts)
	if d := v.m.Numbers.Decimals; t.Counts != "" && d.Inch == 0 && d.MM == 0 {
		v.fail("turning.counts", "%q, but the least increment is not given: write decimals = { inch = 4, mm = 3 } in numbers", t.Counts)
	}
}

// times checks that each is of an M code that does nothing else here.
func (v *validator) times() {
	for _, code := range slices.Sorted(maps.Keys(v.m.Times)) {
		path := join("times", code)
		if letter, tenths, ok := parseCode(code); !ok || letter != 'M' || v.m.codes.m[tenths] != Accepted {
			v.fail(path, "%q is no M code with the meaning \"accepted\": give it that in codes, or leave its time out", code)
		}
		v.atLeast(path, float64(v.m.Times[code]), 0)
	}
}

// rules checks the settings; the names are checked where rules are known.
func (v *validator) rules() {
	for _, name := range slices.Sorted(maps.Keys(v.m.Rules)) {
		path, setting := join("rules", name), v.m.Rules[name]
		v.oneOf(path+".level", setting.Level, "error", "warning", "note", "off")
		if strings.TrimSpace(setting.Reason) == "" {
			v.missing(path+".reason", `"why it is so in this shop"`)
		}
	}
}

func (v *validator) offsets() {
	for _, code := range slices.Sorted(maps.Keys(v.m.Offsets)) {
		path := "offsets." + code
		if v.own(path) && v.offsetNumber(code) < 0 {
			v.fail(path, "%q is no work offset of this profile: accepted are %s", code, v.offsetCodes())
		}
	}
}

func (v *validator) quote() {
	q := &v.m.Quote
	v.atLeast("quote.rate", float64(q.Rate), 0)
	v.atLeast("quote.setup", float64(q.Setup), 0)
	v.atLeast("quote.load", float64(q.Load), 0)
	v.atLeast("quote.stop", float64(q.Stop), 0)
	v.atLeast("quote.tool_by_hand", float64(q.ToolByHand), 0)
	v.atLeast("quote.gear_by_hand", float64(q.GearByHand), 0)
	v.atLeast("quote.scrap", float64(q.Scrap), 0)
	if q.Scrap >= 1 {
		v.fail("quote.scrap", "%q: no part would be delivered", v.written("quote.scrap"))
	}
}

// unsure checks that each path is that of a quantity on which times hang.
func (v *validator) unsure() {
	for _, value := range slices.Sorted(maps.Keys(v.m.Unsure)) {
		path, share := "unsure."+value, v.m.Unsure[value]
		switch {
		case !hasTime(value):
			v.fail(path, "no time hangs on %q: accepted are quantities of %s, such as axes.x.acceleration", value, strings.Join(timed[:], ", "))
		case v.places[value] == nil || v.places[value] == defaultPlace:
			v.fail(path, "the profile does not give %s: give it, or leave this out", value)
		case !isQuantity(v.places[value]) && v.places[value] != computedPlace:
			v.fail(path, "%s is no quantity: only a number with a unit can be unsure", value)
		case share < 0 || share >= 1:
			v.fail(path, "%q is not within 0 %% to below 100 %%", v.written(path))
		}
	}
}

// timed are the tables with values on which times hang.
var timed = [...]string{"axes", "spindle", "control", "tools", "quote"}

// hasTime says whether a time may hang on the value at a path. Places of axes
// and tools are measures of the machine and no guesses.
func hasTime(path string) bool {
	table, _, _ := strings.Cut(path, ".")
	key := path[strings.LastIndexByte(path, '.')+1:]
	return slices.Contains(timed[:], table) && !strings.Contains(path, "[") &&
		!slices.Contains([]string{"home", "second", "memory", "rate"}, key)
}
