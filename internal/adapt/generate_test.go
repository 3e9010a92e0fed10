package adapt

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"tapefit/internal/interp"
	"tapefit/profiles"

	"pgregory.net/rapid"
)

// A draft is a program before it is written: what is to be done, with all
// places on the grid of 0.0001 in, so that every way of writing it says the
// same to the last digit. X is the radius.
type draft []act

type actKind int

const (
	goTo      actKind = iota // to, along axes, rapid or not
	turnAbout                // an arc of quarters, or round to `to` where it has none
	drill                    // holes
	comp                     // round a rectangle with cutter compensation
	pass                     // a turning pass and back
	repeat                   // body, times
	say                      // code
	pause                    // seconds
	change                   // of the tool, in one of the forms that are written
)

type act struct {
	kind  actKind
	rapid bool
	to    grid
	axes  interp.AxisSet
	feed  int // tenths of an inch a minute, ten-thousandths of an inch a revolution; 0: as before

	plane    interp.Plane
	offset   [2]int // from the start to the centre, along the axes of the plane
	cw       bool
	quarters int

	meaning profiles.Meaning // of the cycle
	holes   [][2]int
	bottom  int
	r, peck int
	initial bool // retract to the initial level

	body  []act // of moves by to, which is then a distance
	times int

	seconds float64
	code    string

	tool     int
	before   []string // blocks in front of the change
	up       bool     // along Z, in work coordinates
	apart    bool     // T in a block of its own
	after    string   // block behind it
	approach int      // 0: X Y Z at once, 1: X Y and then Z, 2: Z and then X Y, 3: none
}

// grid is a place in ten-thousandths of an inch.
type grid [3]int

// generator draws drafts for a machine.
type generator struct {
	t      *rapid.T
	m      *profiles.Machine
	at     grid
	draft  draft
	axes   interp.AxisSet
	planes []interp.Plane
	speeds []int
}

func draw(t *rapid.T, m *profiles.Machine, most int) draft {
	g := &generator{t: t, m: m, axes: interp.AxisSet(m.AllAxes()) & interp.XYZ}
	for p := interp.XY; p <= interp.YZ; p++ {
		a, b, _ := p.Axes()
		if strings.Contains(m.Arcs.Planes, p.String()) && g.axes.Has(a) && g.axes.Has(b) {
			g.planes = append(g.planes, p)
		}
	}
	g.speeds = []int{90, 200, 300}
	g.goTo(true, g.axes)
	for range rapid.IntRange(1, most).Draw(t, "acts") {
		g.act()
	}
	return g.draft
}

func (g *generator) number(low, high int, what string) int {
	return rapid.IntRange(low, high).Draw(g.t, what)
}

func (g *generator) add(a act) { g.draft = append(g.draft, a) }

// coordinate draws places that come again and places that do not.
func (g *generator) coordinate() int {
	return g.number(-20, 20, "inch tenths")*1000 + rapid.SampledFrom([]int{0, 0, 0, 1, 37, 500}).Draw(g.t, "rest")
}

func (g *generator) goTo(fast bool, axes interp.AxisSet) {
	a := act{kind: goTo, rapid: fast, axes: axes, to: g.at, feed: g.feed(fast)}
	for i := range a.to {
		if axes.Has(i) {
			a.to[i] = g.coordinate()
		}
	}
	g.at = a.to
	g.add(a)
}

// feed is drawn for the first move and now and then.
func (g *generator) feed(fast bool) int {
	if fast {
		return 0
	}
	return rapid.SampledFrom([]int{0, 0, 50, 60, 125}).Draw(g.t, "feed")
}

func (g *generator) act() {
	switch k := g.number(0, 21, "act"); {
	case k < 3:
		g.goTo(true, g.someAxes())
	case k < 9:
		g.goTo(false, g.someAxes())
	case k < 13:
		g.arc()
	case k == 13 && g.m.Kind != "lathe" && g.m.CodeFor(profiles.Drill) != "":
		g.drill()
	case k == 14 && g.m.Name == "bed-mill":
		g.comp()
	case k == 14 && g.m.CodeFor(profiles.TurnCycle) != "":
		g.pass()
	case k == 15:
		g.repeat()
	case k == 16:
		g.add(act{kind: pause, seconds: float64(g.number(1, 30, "dwell")) / 10})
	case k > 19 && g.m.CodeFor(profiles.ToolChange) != "":
		g.change()
	default:
		g.say()
	}
}

func (g *generator) someAxes() interp.AxisSet {
	if axes := interp.AxisSet(g.number(1, 7, "axes")) & g.axes; axes != 0 {
		return axes
	}
	return g.axes
}

func (g *generator) arc() {
	plane := rapid.SampledFrom(g.planes).Draw(g.t, "plane")
	first, second, normal := plane.Axes()
	r := g.number(1, 8, "radius")*500 + rapid.SampledFrom([]int{0, 7}).Draw(g.t, "rest")
	a := act{kind: turnAbout, plane: plane, cw: rapid.Bool().Draw(g.t, "cw"), to: g.at, feed: g.feed(false), axes: 1<<first | 1<<second}
	a.offset = [][2]int{{r, 0}, {0, r}, {-r, 0}, {0, -r}}[g.number(0, 3, "side")]
	if g.m.Arcs.Quadrant || rapid.Bool().Draw(g.t, "quarters") {
		a.quarters = g.number(1, 4, "quarters")
		if g.m.Arcs.Helix && g.axes.Has(normal) && rapid.Bool().Draw(g.t, "helix") {
			a.axes |= 1 << normal
			a.to[normal] += a.quarters * g.number(-300, 300, "rise")
		}
		a.to = g.quarter(a.to, a, a.quarters)
	} else {
		angle := float64(g.number(1, 62, "angle")) / 10
		if a.cw {
			angle = -angle
		}
		sin, cos := math.Sincos(angle)
		x, y := float64(-a.offset[0]), float64(-a.offset[1])
		a.to[first] += a.offset[0] + int(math.Round(x*cos-y*sin))
		a.to[second] += a.offset[1] + int(math.Round(x*sin+y*cos))
	}
	g.at = a.to
	g.add(a)
}

// quarter is where n quarters of the arc lead from a place.
func (g *generator) quarter(from grid, a act, n int) grid {
	first, second, _ := a.plane.Axes()
	x, y := -a.offset[0], -a.offset[1]
	for range n {
		if a.cw {
			x, y = y, -x
		} else {
			x, y = -y, x
		}
	}
	from[first] += a.offset[0] + x
	from[second] += a.offset[1] + y
	return from
}

func (g *generator) drill() {
	cycles := []profiles.Meaning{profiles.Drill}
	for _, m := range [...]profiles.Meaning{profiles.DrillDwell, profiles.Peck} {
		if g.m.CodeFor(m) != "" {
			cycles = append(cycles, m)
		}
	}
	a := act{kind: drill, meaning: rapid.SampledFrom(cycles).Draw(g.t, "cycle"), axes: interp.XYZ, feed: g.feed(false)}
	a.r = g.at[2] - g.number(0, 2, "R")*500
	a.bottom = a.r - g.number(1, 5, "depth")*400
	a.peck = g.number(2, 9, "peck") * 100
	a.seconds = 0.5
	a.initial = g.m.CodeFor(profiles.RetractInitial) != "" && rapid.Bool().Draw(g.t, "initial")
	for range g.number(1, 3, "holes") {
		a.holes = append(a.holes, [2]int{g.coordinate(), g.coordinate()})
	}
	last := a.holes[len(a.holes)-1]
	level := a.r
	if a.initial {
		level = g.at[2]
	}
	a.to = grid{last[0], last[1], level}
	g.at = a.to
	g.add(a)
}

// comp goes round a rectangle: the tool of 1/2 in goes up to it and off again.
func (g *generator) comp() {
	a := act{kind: comp, to: g.at, axes: interp.X | interp.Y, feed: 100, cw: rapid.Bool().Draw(g.t, "cw")}
	a.offset = [2]int{g.number(2, 4, "width") * 10000, g.number(2, 4, "height") * 10000}
	a.quarters = g.number(0, 3, "rounded corners")
	g.add(a)
}

func (g *generator) pass() {
	a := act{kind: pass, to: g.at, axes: interp.X | interp.Z, feed: 50}
	a.to[0] -= g.number(1, 9, "depth") * 100
	a.to[2] -= g.number(1, 9, "length") * 1000
	g.add(a)
}

func (g *generator) repeat() {
	a := act{kind: repeat, times: g.number(1, 3, "times")}
	for range g.number(1, 3, "moves") {
		b := act{kind: goTo, axes: g.someAxes(), rapid: g.number(0, 3, "rapid") == 0}
		for i := range b.to {
			if b.axes.Has(i) {
				b.to[i] = g.number(-9, 9, "distance") * 300
			}
		}
		a.body = append(a.body, b)
	}
	for range a.times {
		for _, b := range a.body {
			for i := range b.to {
				g.at[i] += b.to[i]
			}
		}
	}
	g.add(a)
}

// change draws a tool change: some of what is done before one, in any order, and
// a way back to the work.
func (g *generator) change() {
	a := act{kind: change, tool: g.number(1, 3, "tool"), axes: g.axes, apart: g.number(0, 3, "T apart") == 0}
	for _, text := range []string{"M9", "M5", "M0", "G53 G0 Z0."} {
		if (text[0] == 'M' || g.m.CodeFor(profiles.MachineCoordinates) != "") && rapid.Bool().Draw(g.t, text) {
			a.before = append(a.before, text)
		}
	}
	if rapid.Bool().Draw(g.t, "other order") {
		slices.Reverse(a.before)
	}
	a.up = rapid.Bool().Draw(g.t, "up")
	a.after = rapid.SampledFrom([]string{"", "", "M0", "M1", "M8", "S200 M3", "S200 M3 M0"}).Draw(g.t, "after")
	if strings.Count(a.after, "M") > 1 && g.m.Words.MCodes == 1 {
		a.after = "M0"
	}
	a.approach = g.number(0, 3, "approach")
	if a.approach == 3 && slices.Contains(a.before, "G53 G0 Z0.") {
		a.approach = 1
	}
	a.to = g.at
	if a.up {
		a.to[2] += 20000
	}
	if a.approach < 3 {
		a.to = grid{g.coordinate(), g.coordinate(), g.coordinate()}
	}
	g.at = a.to
	g.add(a)
}

// say draws a code that the machine has.
func (g *generator) say() {
	speed := fmt.Sprintf("S%d ", rapid.SampledFrom([]int{90, 200, 300, 301}).Draw(g.t, "speed"))
	tool := g.number(1, 3, "tool")
	type code struct {
		text string
		need profiles.Meaning
	}
	codes := []code{
		{speed + "M3", profiles.SpindleCW}, {speed + "M4", profiles.SpindleCCW}, {"M5", profiles.SpindleStop},
		{"M8", profiles.Flood}, {"M7", profiles.Mist}, {"M9", profiles.CoolantOff}, {"M8", profiles.Flood},
		{"M0", profiles.ProgramStop}, {"M1", profiles.OptionalStop}, {"G61", profiles.ExactPath}, {"G64", profiles.Continuous},
		{fmt.Sprintf("T%d M6", tool), profiles.ToolChange}, {"M48", profiles.OverridesOn}, {"M24", profiles.Accepted},
	}
	if g.m.Spindle.Shift == "coded" {
		codes = append(codes, code{"M41", profiles.Gear}, code{"M42", profiles.Gear})
	}
	if g.m.Tools.Word == "tool-offset" {
		codes = append(codes, code{fmt.Sprintf("T%02d%02d", tool, tool), profiles.Accepted})
	}
	c := rapid.SampledFrom(codes).Draw(g.t, "code")
	a := act{kind: say, code: c.text}
	switch {
	case c.text == "M24" && g.m.M(240) != profiles.Accepted:
		return
	case c.need != profiles.Accepted && g.m.CodeFor(c.need) == "":
		return
	}
	g.add(a)
	if c.text[0] == 'T' { // the length may change, and where work zero lies
		g.goTo(true, g.axes)
	}
}

// An author writes a draft, each time in another way.
type author struct {
	t        *rapid.T
	m        *profiles.Machine
	plain    bool // always in one way
	b        strings.Builder
	subs     strings.Builder
	subCount int

	at     grid
	begun  bool // a place was said: incremental words mean something
	inch   bool
	inc    bool
	motion string
	plane  interp.Plane
	feed   int
	free   bool // both units have digits enough
}

// write writes the draft; plain is in one way, the first that comes to mind.
func write(t *rapid.T, m *profiles.Machine, d draft, plain bool) string {
	w := &author{t: t, m: m, plain: plain, inch: m.Start.Units == "inch", motion: "?", feed: -1}
	w.free = m.Numbers.Decimals == profiles.Decimals{}
	w.plane = map[string]interp.Plane{"": interp.XY, "xy": interp.XY, "zx": interp.ZX, "yz": interp.YZ}[m.Start.Plane]
	if m.Block.PercentMarks == "needed" {
		w.line("%")
	}
	units := profiles.UnitsMM
	if w.inch {
		units = profiles.UnitsInch
	}
	w.line(w.code(units), w.code(profiles.Absolute))
	for _, a := range d {
		w.act(a)
	}
	w.line("M30")
	if w.subs.Len() > 0 {
		w.b.WriteString(w.subs.String())
	}
	if m.Block.PercentMarks == "needed" {
		w.line("%")
	}
	if w.way("numbered") {
		return withNumbers(w.b.String())
	}
	return w.b.String()
}

// withNumbers is a program with numbers on its blocks. Those that are jumped to have
// theirs, from N5000 on.
func withNumbers(program string) string {
	lines := strings.SplitAfter(program, "\n")
	for i, line := range lines {
		if line != "" && !strings.ContainsRune("%NO/", rune(line[0])) {
			lines[i] = fmt.Sprintf("N%d %s", i, line)
		}
	}
	return strings.Join(lines, "")
}

// way draws whether to write otherwise than plainly.
func (w *author) way(what string) bool {
	return !w.plain && rapid.IntRange(0, 2).Draw(w.t, what) == 0
}

func (w *author) code(m profiles.Meaning) string { return w.m.CodeFor(m) }

func (w *author) line(words ...string) {
	text := strings.Join(words, " ")
	if text = strings.TrimSpace(text); text != "" {
		w.b.WriteString(text + "\n")
	}
}

func (w *author) act(a act) {
	switch a.kind {
	case say:
		for _, word := range strings.SplitAfter(a.code, " ") {
			if strings.HasPrefix(word, "S") && !w.way("S beside its M") {
				w.line(word)
			} else {
				w.b.WriteString(word)
			}
		}
		w.b.WriteString("\n")
		if a.code[0] == 'T' {
			w.distance(false)
			w.begun = false
		}
	case change:
		w.change(a)
	case pause:
		w.line(w.code(profiles.DwellHere), fmt.Sprintf("P%g", a.seconds))
	case goTo:
		w.modes()
		w.straight(a)
	case turnAbout:
		w.modes()
		w.arc(a)
	case drill:
		w.drill(a)
	case comp:
		w.comp(a)
	case pass:
		w.pass(a)
	case repeat:
		w.repeat(a)
	}
}

// change writes a tool change, and the way back to the work in plain places.
func (w *author) change(a act) {
	w.distance(false)
	w.motion = "?"
	go0 := func(axes interp.AxisSet, to grid) {
		if axes &= a.axes; axes != 0 {
			w.line(append([]string{w.code(profiles.TraverseMove)}, w.words(to, axes)...)...)
		}
	}
	if a.up {
		w.at[2] += 20000
		go0(interp.Z, w.at)
	}
	for _, text := range a.before {
		w.line(text)
	}
	if tool := fmt.Sprintf("T%d", a.tool); a.apart {
		w.line(tool)
		w.line(w.code(profiles.ToolChange))
	} else {
		w.line(tool, w.code(profiles.ToolChange))
	}
	w.line(a.after)
	const xy = interp.X | interp.Y
	switch a.approach {
	case 0:
		go0(interp.XYZ, a.to)
	case 1:
		go0(xy, a.to)
		go0(interp.Z, a.to)
	case 2:
		go0(interp.Z, a.to)
		go0(xy, a.to)
	}
	w.at = a.to
	if a.approach == 3 {
		w.begun = w.begun && !slices.Contains(a.before, "G53 G0 Z0.")
	} else {
		w.begun = true
	}
}

// modes changes units and distance mode now and then.
func (w *author) modes() {
	if w.free && w.way("other units") {
		w.inch = !w.inch
		if w.inch {
			w.line(w.code(profiles.UnitsInch))
		} else {
			w.line(w.code(profiles.UnitsMM))
		}
		w.feed = -1
	}
	if w.begun && w.way("other distance mode") {
		w.distance(!w.inc)
	}
}

func (w *author) distance(incremental bool) {
	if w.inc == incremental {
		return
	}
	w.inc = incremental
	if incremental {
		w.line(w.code(profiles.Incremental))
	} else {
		w.line(w.code(profiles.Absolute))
	}
}

// number writes a length on the grid.
func (w *author) number(v int) string {
	if w.inch {
		return fmt.Sprintf("%.4f", float64(v)/1e4)
	}
	return fmt.Sprintf("%.5f", float64(v)*254/1e5)
}

// words are the axis words of a move from where the author stands.
func (w *author) words(to grid, axes interp.AxisSet) []string {
	var words []string
	for i, letter := range "XYZ" {
		if !axes.Has(i) {
			continue
		}
		v := to[i]
		if w.inc {
			v -= w.at[i]
		}
		if i == 0 && w.m.Axes.X != nil && w.m.Axes.X.Diameter {
			v *= 2
		}
		words = append(words, string(letter)+w.number(v))
	}
	return words
}

// lead are the words before the axis words: the motion code and the feed,
// where they are new or are said again.
func (w *author) lead(m profiles.Meaning, feed int) []string {
	var words []string
	if code := w.code(m); code != w.motion || w.way("the code again") {
		words = append(words, code)
		w.motion = code
	}
	if m == profiles.TraverseMove {
		return words
	}
	if feed == 0 {
		feed = max(w.feed, 0)
	}
	if feed > 0 && (feed != w.feed || w.way("the feed again")) {
		words = append(words, w.feedWord(feed))
	}
	return words
}

func (w *author) feedWord(feed int) string {
	w.feed = feed
	switch {
	case w.m.Start.Feed == "per-revolution":
		return fmt.Sprintf("F%.4f", float64(feed)/1e4)
	case w.inch:
		return fmt.Sprintf("F%.1f", float64(feed)/10)
	}
	return fmt.Sprintf("F%.2f", float64(feed)*2.54)
}

func (w *author) straight(a act) {
	m := profiles.FeedMove
	if a.rapid {
		m = profiles.TraverseMove
	}
	one := a.axes == interp.X || a.axes == interp.Y || a.axes == interp.Z
	if w.begun && (!a.rapid || one) && w.way("in two") {
		half := w.at
		even := true
		for i := range half {
			if a.axes.Has(i) {
				even = even && (a.to[i]-w.at[i])%2 == 0
				half[i] += (a.to[i] - w.at[i]) / 2
			}
		}
		if even {
			w.line(append(w.lead(m, a.feed), w.words(half, a.axes)...)...)
			w.at = half
		}
	}
	w.line(append(w.lead(m, a.feed), w.words(a.to, a.axes)...)...)
	w.at, w.begun = a.to, true
}

func (w *author) setPlane(p interp.Plane) {
	if p != w.plane {
		w.line(w.code(profiles.PlaneXY + profiles.Meaning(p)))
		w.plane = p
	}
}

func (w *author) arc(a act) {
	w.setPlane(a.plane)
	if a.quarters == 0 {
		w.oneArc(a)
		return
	}
	apart := w.m.Arcs.Quadrant || a.quarters == 4 && !w.m.Arcs.FullCircle || w.way("in quarters")
	if !apart {
		w.oneArc(a)
		return
	}
	_, _, normal := a.plane.Axes()
	rise := (a.to[normal] - w.at[normal]) / a.quarters
	g := generator{}
	for range a.quarters {
		part := a
		part.quarters = 1
		part.to = g.quarter(w.at, a, 1)
		part.to[normal] = w.at[normal] + rise
		w.oneArc(part)
		x, y := -a.offset[0], -a.offset[1]
		if a.cw {
			x, y = y, -x
		} else {
			x, y = -y, x
		}
		a.offset = [2]int{-x, -y}
	}
}

func (w *author) oneArc(a act) {
	m := profiles.ArcCCW
	if a.cw {
		m = profiles.ArcCW
	}
	words := append(w.lead(m, a.feed), w.words(a.to, a.axes)...)
	first, second, _ := a.plane.Axes()
	radius := max(a.offset[0], -a.offset[0]) + max(a.offset[1], -a.offset[1])
	switch {
	case w.m.Arcs.Radius && (a.quarters == 1 || a.quarters == 3) && w.way("by its radius"):
		if a.quarters == 3 {
			radius = -radius
		}
		words = append(words, "R"+w.number(radius))
	case w.m.Arcs.Centre == "unsigned":
		words = append(words, "I"+w.number(max(a.offset[0], -a.offset[0])), "J"+w.number(max(a.offset[1], -a.offset[1])))
	default:
		words = append(words, "IJK"[first:first+1]+w.number(a.offset[0]), "IJK"[second:second+1]+w.number(a.offset[1]))
	}
	w.line(words...)
	w.at = a.to
}

func (w *author) drill(a act) {
	w.setPlane(interp.XY)
	if w.way("unrolled") {
		w.unrolled(a)
		return
	}
	w.distance(false)
	words := []string{}
	if code := w.code(profiles.RetractR); code != "" {
		if a.initial {
			code = w.code(profiles.RetractInitial)
		}
		words = append(words, code)
	}
	words = append(words, w.code(a.meaning))
	w.motion = w.code(a.meaning)
	for i, hole := range a.holes {
		words = append(words, "X"+w.number(hole[0]), "Y"+w.number(hole[1]))
		if i == 0 {
			words = append(words, "Z"+w.number(a.bottom), "R"+w.number(a.r))
			switch a.meaning {
			case profiles.DrillDwell:
				words = append(words, fmt.Sprintf("P%g", a.seconds))
			case profiles.Peck:
				words = append(words, "Q"+w.number(a.peck))
			}
			if a.feed > 0 {
				words = append(words, w.feedWord(a.feed))
			}
		}
		w.line(words...)
		words = words[:0]
	}
	w.line(w.code(profiles.CycleOff))
	w.motion = "?"
	w.at = a.to
}

// unrolled is a cycle in moves (NISTIR 6556, 3.5.16: from memory).
func (w *author) unrolled(a act) {
	clear := a.r
	if a.initial {
		clear = w.at[2]
	}
	along := func(fast bool, z int) {
		to := w.at
		to[2] = z
		if to != w.at {
			w.straight(act{rapid: fast, axes: interp.Z, to: to, feed: a.feed})
		}
	}
	for _, hole := range a.holes {
		w.straight(act{rapid: true, axes: interp.X | interp.Y, to: grid{hole[0], hole[1], w.at[2]}})
		along(true, a.r)
		const back = 100 // 0.254 mm
		level := a.r
		for a.meaning == profiles.Peck && level-a.peck > a.bottom {
			level -= a.peck
			along(false, level)
			along(true, a.r)
			along(true, min(level+back, a.r))
		}
		along(false, a.bottom)
		if a.meaning == profiles.DrillDwell {
			w.line(w.code(profiles.DwellHere), fmt.Sprintf("P%g", a.seconds))
		}
		along(true, clear)
	}
}

func (w *author) comp(a act) {
	w.setPlane(interp.XY)
	side := profiles.CompLeft
	width, height := a.offset[0], a.offset[1]
	if a.cw {
		side, height = profiles.CompRight, -height
	}
	to := func(x, y int, words ...string) {
		w.modesOfDistance()
		at := w.at
		at[0] += x
		at[1] += y
		w.line(append(append(w.lead(profiles.FeedMove, a.feed), words...), w.words(at, interp.X|interp.Y)...)...)
		w.at = at
	}
	corner := func(x, y, cx, cy int) {
		const r = 5000
		b := act{kind: turnAbout, axes: interp.X | interp.Y, plane: interp.XY, offset: [2]int{cx * r, cy * r}, cw: !a.cw, quarters: 1, feed: a.feed}
		w.modesOfDistance()
		b.to = w.at
		b.to[0] += x * r
		b.to[1] += y * r
		w.oneArc(b)
	}
	up := 1
	if a.cw {
		up = -1
	}
	const r = 5000
	to(0, -10000, w.code(side), "D2")
	switch a.quarters {
	case 0:
		to(-width, 0)
		to(0, height)
		to(width, 0)
	case 1:
		to(r-width, 0)
		corner(-1, up, 0, up)
		to(0, height-up*r)
		to(width, 0)
	default:
		to(r-width, 0)
		corner(-1, up, 0, up)
		to(0, height-2*up*r)
		corner(1, up, 1, 0)
		to(width-r, 0)
	}
	to(0, -height)
	to(0, 10000, w.code(profiles.CompOff))
}

func (w *author) modesOfDistance() {
	if w.way("other distance mode") {
		w.distance(!w.inc)
	}
}

func (w *author) pass(a act) {
	w.distance(false)
	home := w.at
	if !w.way("unrolled") {
		w.line(append([]string{w.code(profiles.TurnCycle), w.feedWord(a.feed)}, w.words(a.to, a.axes)...)...)
		w.motion = "?"
		return
	}
	w.straight(act{rapid: true, axes: interp.X, to: grid{a.to[0], home[1], home[2]}})
	w.straight(act{axes: interp.X | interp.Z, to: a.to, feed: a.feed})
	w.straight(act{axes: interp.X, to: grid{home[0], home[1], a.to[2]}, feed: a.feed})
	w.straight(act{rapid: true, axes: interp.Z, to: home})
}

func (w *author) repeat(a act) {
	moves := func() {
		for _, b := range a.body {
			b.to = grid{w.at[0] + b.to[0], w.at[1] + b.to[1], w.at[2] + b.to[2]}
			w.straight(b)
		}
	}
	jump := func(times int) {
		for range times {
			for _, b := range a.body {
				for i := range b.to {
					w.at[i] += b.to[i]
				}
			}
		}
	}
	switch {
	case w.code(profiles.CallSubprogram) != "" && w.way("as a subprogram"):
		w.distance(true)
		w.subCount++
		name := 100 + w.subCount
		w.line(w.code(profiles.CallSubprogram), fmt.Sprintf("P%d L%d", name, a.times))
		main := w.b
		w.b = strings.Builder{}
		w.line(fmt.Sprintf("O%d", name))
		w.motion = "?"
		moves()
		jump(a.times - 1)
		w.line(w.code(profiles.ReturnFromSubprogram))
		w.subs.WriteString(w.b.String())
		w.b = strings.Builder{}
		w.b.WriteString(main.String())
	case w.m.Block.Flow && w.way("as a loop"):
		w.distance(true)
		w.line("#100=0")
		w.line(fmt.Sprintf("WHILE [#100 LT %d] DO1", a.times))
		w.motion = "?"
		moves()
		jump(a.times - 1)
		w.line("#100=[#100+1]")
		w.line("END1")
	case w.m.Block.Flow && w.way("as a jump"):
		w.distance(true)
		w.subCount++
		w.line("#100=0")
		w.line(fmt.Sprintf("N%d #100=[#100+1]", 5000+w.subCount))
		w.motion = "?"
		moves()
		jump(a.times - 1)
		w.line(fmt.Sprintf("IF [#100 LT %d] GOTO %d", a.times, 5000+w.subCount))
	default:
		for range a.times {
			moves()
		}
	}
	w.motion = "?"
}
