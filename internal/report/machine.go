package report

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"tapefit/profiles"
)

// Machines lists profiles of one place, machines first.
func (t *Text) Machines(place string, entries []profiles.Entry) error {
	widest := 0
	for _, e := range entries {
		widest = max(widest, len(e.Name))
	}
	for _, base := range []bool{false, true} {
		title := "Machines " + place
		if base {
			title = "Bases " + place + ": what a control accepts, without a machine"
		}
		for _, e := range entries {
			if e.Base != base {
				continue
			}
			if title != "" {
				t.flow(0, 2, run{t.styles.title, clean(title)})
				title = ""
			}
			t.entry([]run{{text: fmt.Sprintf("%-*s", widest, clean(e.Name))}}, 2+widest+2, run{text: clean(e.Title)})
		}
		if title == "" {
			t.line()
		}
	}
	return t.out.Flush()
}

// A fact is one line of a data sheet. An empty value is not given.
type fact struct {
	name, value string
	path        string // of the keys in the profile, for its origin; "" of what is computed here
}

// A chapter is a part of a data sheet.
type chapter struct {
	title string
	facts []fact

	remarks []string // below them
}

// Machine writes the data sheet of a machine, and where each value comes from.
func (t *Text) Machine(m *profiles.Machine) error {
	t.flow(0, 2, run{t.styles.title, clean(m.Name)}, run{text: "  " + clean(m.Title)})
	for _, c := range []chapter{
		general(m), axesOf(m), drivesOf(m), spindleOf(m), controlOf(m), toolsOf(m), turningOf(m), offsetsOf(m),
		startOf(m), blocksOf(m), numbersOf(m), arcsOf(m), cyclesOf(m), rulesOf(m), houseOf(m), quoteOf(m), unsureOf(m),
	} {
		if len(c.facts) == 0 {
			continue
		}
		t.line()
		t.flow(0, 2, run{t.styles.title, c.title})
		name, value := factWidth, valueWidth
		for _, f := range c.facts {
			name, value = max(name, len(f.name)), max(value, len(f.value), len(notGiven))
		}
		for _, f := range c.facts {
			t.fact(m, f, name, value)
		}
		for _, remark := range c.remarks {
			t.flow(2, 4, run{text: clean(remark)})
		}
		if c.title == spindleTitle {
			t.gears(m)
		}
	}
	t.line()
	t.codes(m)
	return t.out.Flush()
}

const (
	factWidth    = 20
	notGiven     = "not given"
	spindleTitle = "Spindle"
)

// fact writes one line of a chapter, whose columns of names and of values are so
// wide. Origins stand in a column where there is room.
func (t *Text) fact(m *profiles.Machine, f fact, name, widest int) {
	value := run{text: clean(f.value)}
	if f.value == "" {
		value = run{t.styles.quiet, notGiven}
	}
	head := run{text: fmt.Sprintf("%-*s", name, clean(f.name))}
	origin := "computed"
	if f.path != "" {
		origin = clean(m.Origin(f.path))
	}
	if origin == "" {
		t.flow(2, 4, head, run{text: "  "}, value)
		return
	}
	gap := 2 + max(0, widest-len(value.text))
	if 2+name+2+len(value.text)+gap+len(origin) > t.width {
		gap = 2
	}
	t.flow(2, 4, head, run{text: "  "}, value, run{text: strings.Repeat(" ", gap)}, run{t.styles.quiet, origin})
}

// valueWidth is the least width of the column of values, so that short
// chapters line up with each other.
const valueWidth = 26

func general(m *profiles.Machine) chapter {
	kind := m.Kind
	if kind == "" {
		kind = "a base: no machine"
	}
	return chapter{title: "Machine", facts: []fact{
		{"kind", kind, "kind"},
		{"extends", m.Extends, "extends"},
		{"people read", m.Display, "display"},
	}}
}

func axesOf(m *profiles.Machine) chapter {
	c := chapter{title: "Axes"}
	for i := range profiles.NumAxes {
		a := m.Axis(i)
		if a == nil {
			continue
		}
		u := unitsOfAxis(m, i)
		letter := profiles.AxisLetters[i : i+1]
		path := "axes." + strings.ToLower(letter) + "."
		c.facts = append(c.facts,
			fact{letter + " travel", span(a.Travel, u.length), path + "travel"},
			fact{letter + " home", pointer(a.Home, u.length), path + "home"},
			fact{letter + " rapid", given(a.Rapid, u.speed), path + "rapid"},
			fact{letter + " highest feed", given(a.Feed, u.speed), path + "feed"},
			fact{letter + " acceleration", given(a.Acceleration, u.acceleration), path + "acceleration"},
			fact{letter + " backlash", given(a.Backlash, u.length), path + "backlash"},
			fact{letter + " backlash good to", given(a.BacklashLimit, u.length), path + "backlash_limit"},
		)
		if a.Jerk > 0 {
			c.facts = append(c.facts, fact{letter + " jerk", u.jerk(a.Jerk), path + "jerk"})
		}
		if a.CornerStep > 0 {
			c.facts = append(c.facts, fact{letter + " step in corners", u.speed(a.CornerStep), path + "corner_step"})
		}
		if a.Diameter {
			c.facts = append(c.facts, fact{letter + " words", "diameters", path + "diameter"})
		}
		if a.Wrap != "" {
			c.facts = append(c.facts, fact{letter + " wraps", a.Wrap, path + "wrap"})
		}
		if a.Second != nil {
			c.facts = append(c.facts, fact{letter + " second home", u.length(*a.Second), path + "second"})
		}
	}
	if m.Feed != (profiles.FeedLimits{}) {
		u := unitsOf(m)
		c.facts = append(c.facts,
			fact{"least F", given(m.Feed.Least, u.speed), "feed.least"},
			fact{"greatest F", given(m.Feed.Greatest, u.speed), "feed.greatest"})
	}
	return c
}

func spindleOf(m *profiles.Machine) chapter {
	s := &m.Spindle
	c := chapter{title: spindleTitle, facts: []fact{{"speed", rotations(s.Speed), "spindle.speed"}}}
	for i, g := range s.Gears {
		value := rotations(g.Speed)
		if g.Code != "" {
			value += " by " + g.Code
		}
		c.facts = append(c.facts, fact{"gear " + g.Name, value, fmt.Sprintf("spindle.gears[%d]", i)})
	}
	c.facts = append(c.facts,
		fact{"start", given(s.Start, duration), "spindle.start"},
		fact{"stop", given(s.Stop, duration), "spindle.stop"},
		fact{"reverse", given(s.Reverse, duration), "spindle.reverse"})
	if s.GoesOn {
		c.facts = append(c.facts, fact{"waits for the speed", "no", "spindle.goes_on"})
	}
	if len(s.Gears) > 0 {
		c.facts = append(c.facts,
			fact{"shift", s.Shift, "spindle.shift"},
			fact{"shift while turning", yes(s.Turning), "spindle.shift_turning"},
			fact{"shift time", given(s.ShiftTime, duration), "spindle.shift_time"})
	}
	c.facts = append(c.facts, curves(m)...)
	c.remarks = overspeed(m)
	return c
}

func controlOf(m *profiles.Machine) chapter {
	k := &m.Control
	c := chapter{title: "Control", facts: []fact{
		{"block time", given(k.BlockTime, duration), "control.block_time"},
		{"look-ahead", plural(k.LookAhead, "block"), "control.look_ahead"},
		{"memory", given(k.Memory, size), "control.memory"},
		{"backlash", k.Backlash, "control.backlash"},
		{"corners", k.Corner, "control.corner"},
	}}
	if k.Drip || k.Link.Baud > 0 {
		c.facts = append(c.facts,
			fact{"always drip-fed", yes(k.Drip), "control.drip"},
			fact{"line", fmt.Sprintf("%d baud, %d bits a character", k.Link.Baud, k.Link.Bits), "control.link"},
			fact{"buffer of the line", given(k.Link.Buffer, size), "control.link.buffer"})
	}
	if k.Corner == "tolerance" {
		c.facts = append(c.facts, fact{"corner tolerance", unitsOf(m).length(k.CornerTolerance), "control.corner_tolerance"})
	}
	c.facts = append(c.facts,
		fact{"rapids", k.RapidPath, "control.rapid_path"},
		fact{"axes sent home", k.HomeAxes, "control.home_axes"},
		fact{"comp, inside corners", k.Comp, "control.comp"},
		fact{"cycles: level from", k.CycleLevel, "control.cycle_level"},
		fact{"cycles: R by", k.CycleR, "control.cycle_r"})
	if k.EndKeepsCoolant {
		c.facts = append(c.facts, fact{"coolant at the end", "left as it is", "control.end_keeps_coolant"})
	}
	return c
}

func toolsOf(m *profiles.Machine) chapter {
	pockets := "no changer"
	if m.Tools.Pockets > 0 {
		pockets = strconv.Itoa(m.Tools.Pockets) + " pockets"
	}
	c := chapter{title: "Tools", facts: []fact{
		{"changer", pockets, "tools.pockets"},
		{"highest number", strconv.Itoa(m.Tools.Highest), "tools.highest"},
		{"change time", given(m.Tools.ChangeTime, duration), "tools.change_time"},
	}}
	if program := m.Tools.ChangeProgram; program != "" {
		c.facts = append(c.facts, fact{"change program", plural(strings.Count(strings.TrimSpace(program), "\n")+1, "block"), "tools.change_program"})
	}
	if n := m.Tools.ChangeParameter; n > 0 {
		c.facts = append(c.facts, fact{"its tool number", "in #" + strconv.Itoa(n), "tools.change_parameter"})
	}
	if blocks := m.Tools.ChangeSequence; len(blocks) > 0 {
		c.facts = append(c.facts, fact{"a change is written", strings.Join(blocks, " / "), "tools.change_sequence"})
	}
	if m.Tools.Shared {
		c.facts = append(c.facts, fact{"H and D", "of one table", "tools.shared_offsets"})
	}
	u := unitsOf(m)
	for i, tool := range m.Tools.Loaded {
		value := tool.Title
		if tool.Length > 0 {
			value += ", length " + u.length(tool.Length)
		}
		if tool.Diameter > 0 {
			value += ", diameter " + u.length(tool.Diameter)
		}
		if tool.NoseRadius > 0 {
			value += ", nose radius " + u.length(tool.NoseRadius)
		}
		c.facts = append(c.facts, fact{"T" + strconv.Itoa(tool.Number), strings.TrimPrefix(value, ", "), fmt.Sprintf("tools.loaded[%d]", i)})
	}
	return c
}

// turningOf is how a lathe's cycles are written, and what its own M codes take.
func turningOf(m *profiles.Machine) chapter {
	c := chapter{title: "Turning"}
	if m.Kind != "lathe" {
		return c
	}
	c.facts = append(c.facts,
		fact{"T word", m.Tools.Word, "tools.word"},
		fact{"lead of a thread", m.Turning.ThreadLead + " word", "turning.thread_lead"},
		fact{"blocks of a cycle", strconv.Itoa(m.Turning.CycleLines), "turning.cycle_lines"},
		fact{"retract of a cycle", given(m.Turning.Retract, unitsOf(m).length), "turning.retract"})
	for _, code := range sortedCodes(m.Times) {
		c.facts = append(c.facts, fact{code + " takes", duration(m.Times[code]), "times." + code})
	}
	return c
}

func offsetsOf(m *profiles.Machine) chapter {
	c := chapter{title: "Work offsets: where work zero lies in machine coordinates"}
	for _, code := range sortedCodes(m.Offsets) {
		o := m.Offsets[code]
		var parts []string
		for i, at := range []*profiles.Length{o.X, o.Y, o.Z, o.A, o.B, o.C} {
			if at != nil {
				parts = append(parts, profiles.AxisLetters[i:i+1]+" "+unitsOfAxis(m, i).length(*at))
			}
		}
		c.facts = append(c.facts, fact{code, strings.Join(parts, ", "), "offsets." + code})
	}
	return c
}

func startOf(m *profiles.Machine) chapter {
	s := &m.Start
	return chapter{title: "In force at power-up and after the end of a program", facts: []fact{
		{"units", s.Units, "start.units"},
		{"plane", s.Plane, "start.plane"},
		{"distance", s.Distance, "start.distance"},
		{"feed", s.Feed, "start.feed"},
		{"cycles retract to", s.Retract, "start.retract"},
		{"work offset", s.Offset, "start.offset"},
		{"path", s.Path, "start.path"},
		{"motion", s.Motion, "start.motion"},
		{"gear", s.Gear, "start.gear"},
	}}
}

func blocksOf(m *profiles.Machine) chapter {
	b := &m.Block
	subprograms, locals := "none", "none"
	if b.Subprograms > 0 {
		subprograms = plural(b.Subprograms, "level")
	}
	if b.Locals > 0 {
		locals = "#1 to #" + strconv.Itoa(b.Locals) + " of each call with arguments"
	}
	return chapter{title: "Blocks", facts: []fact{
		{"words", m.Words.Accepted, "words.accepted"},
		{"M codes in a block", limit(m.Words.MCodes, "word"), "words.m_codes"},
		{"longest block", limit(b.Longest, "character"), "block.longest"},
		{"characters", orAll(b.Characters), "block.characters"},
		{"block delete", yes(b.Delete), "block.delete"},
		{"comments", b.Comments, "block.comments"},
		{"parameters", yes(b.Parameters), "block.parameters"},
		{"expressions", yes(b.Expressions), "block.expressions"},
		{"#3=#3+1, no brackets", yes(b.BareSettings), "block.bare_settings"},
		{"local parameters", locals, "block.locals"},
		{"flow statements", yes(b.Flow), "block.flow"},
		{"subprograms", subprograms, "block.subprograms"},
		{"sequence numbers", numberRange("N", b.Sequence), "block.sequence"},
		{"N numbers rise", yes(b.SequenceRising), "block.sequence_rising"},
		{"program numbers", numberRange("O", b.ProgramNumber), "block.program_number"},
		{"% lines", b.PercentMarks, "block.percent_marks"},
		{"dwell", dwell(b), "block.dwell"},
		{"repeats", b.Repeat, "block.repeat"},
		{"repeats of a call", b.Call, "block.call"},
		{"motion code alone", yes(b.IdleMotion), "block.idle_motion"},
		{"cycle end and motion", yes(b.CycleOffBeside), "block.cycle_off_beside"},
	}}
}

// orAll is the text, or that there is no limit.
func orAll(text string) string {
	if text == "" {
		return "all"
	}
	return text
}

// dwell writes which words say how long: "P in s, X in s".
func dwell(b *profiles.BlockForm) string {
	var list []string
	for _, address := range []string{"P", "X", "U"} {
		if unit := b.Dwell[address]; unit != "" && unit != "none" {
			list = append(list, address+" in "+unit)
		}
	}
	return strings.Join(list, ", ")
}

func numbersOf(m *profiles.Machine) chapter {
	n := &m.Numbers
	return chapter{title: "Numbers", facts: []fact{
		{"decimal point", n.Point, "numbers.point"},
		{"point in F", n.FeedPoint, "numbers.feed_point"},
		{"zeros left out", n.Suppress, "numbers.suppress"},
		{"digits before it", digits(n.Digits), "numbers.digits"},
		{"digits behind it", digits(n.Decimals), "numbers.decimals"},
	}}
}

func arcsOf(m *profiles.Machine) chapter {
	a, u := &m.Arcs, unitsOf(m)
	c := chapter{title: "Arcs", facts: []fact{
		{"centre I J K", a.Centre, "arcs.centre"},
		{"R form", yes(a.Radius), "arcs.radius"},
		{"one quadrant only", yes(a.Quadrant), "arcs.quadrant"},
		{"full circle", yes(a.FullCircle), "arcs.full_circle"},
		{"circle without end", yes(!a.NeedsEnd), "arcs.needs_end"},
		{"helix", yes(a.Helix), "arcs.helix"},
		{"planes", a.Planes, "arcs.planes"},
		{"radius tolerance", given(a.Tolerance, u.length), "arcs.tolerance"},
	}}
	if a.ToleranceInch != a.Tolerance {
		c.facts = append(c.facts, fact{"in inch programs", given(a.ToleranceInch, u.length), "arcs.tolerance_inch"})
	}
	if a.Largest > 0 {
		c.facts = append(c.facts, fact{"largest radius", u.length(a.Largest), "arcs.largest"})
	}
	return c
}

func cyclesOf(m *profiles.Machine) chapter {
	c := chapter{title: "Canned cycles"}
	for meaning := profiles.Drill; meaning <= profiles.BoreDwellOut; meaning++ {
		form, ok := m.Cycles[meaning.String()]
		code := m.CodeFor(meaning)
		if !ok || code == "" {
			continue
		}
		value := "needs " + form.Needs
		if form.Takes != "" {
			value += ", takes " + form.Takes
		}
		if form.FeedOut == "clear" {
			value += ", feeds out all the way"
		}
		if form.ClearPeck > 0 {
			value += ", back by " + unitsOf(m).length(form.ClearPeck)
		}
		c.facts = append(c.facts, fact{code + " " + meaning.String(), value, "cycles." + meaning.String()})
	}
	return c
}

// codes lists the codes and what they do, under the file that says so.
func (t *Text) codes(m *profiles.Machine) {
	byFile := map[string][]string{}
	var files []string
	widest := 0
	for _, code := range sortedCodes(m.Codes) {
		file := m.Origin("codes." + code)
		if colon := strings.LastIndexByte(file, ':'); colon >= 0 {
			file = file[:colon]
		}
		if byFile[file] == nil {
			files = append(files, file)
		}
		byFile[file] = append(byFile[file], fmt.Sprintf("%-5s %s", code, m.Codes[code]))
		widest = max(widest, 6+len(m.Codes[code]))
	}
	for _, file := range files {
		title := "Codes"
		if file != "" {
			title += " from " + file
		}
		t.flow(0, 2, run{t.styles.title, clean(title)})
		t.grid(byFile[file], widest)
		t.line()
	}
}

// grid writes items in columns, read downwards.
func (t *Text) grid(items []string, widest int) {
	columns := max(1, t.width/(widest+2))
	height := (len(items) + columns - 1) / columns
	for row := range height {
		var b strings.Builder
		for i := row; i < len(items); i += height {
			fmt.Fprintf(&b, "%-*s", widest+2, items[i])
		}
		t.flow(2, 4, run{text: b.String()})
	}
}

// sortedCodes are the keys of a table of codes: G before M, each by number.
func sortedCodes[V any](table map[string]V) []string {
	codes := make([]string, 0, len(table))
	for code := range table {
		codes = append(codes, code)
	}
	slices.SortFunc(codes, func(a, b string) int {
		x, _ := strconv.ParseFloat(a[1:], 64)
		y, _ := strconv.ParseFloat(b[1:], 64)
		if a[0] != b[0] || x == y {
			return strings.Compare(a, b)
		}
		return int(10*x) - int(10*y)
	})
	return codes
}

// given writes a quantity, "" where it is zero: not given.
func given[Q ~float64 | ~int64](q Q, write func(Q) string) string {
	if q == 0 {
		return ""
	}
	return write(q)
}

func rulesOf(m *profiles.Machine) chapter {
	c := chapter{title: "Rules at a level of their own"}
	for _, name := range slices.Sorted(maps.Keys(m.Rules)) {
		setting := m.Rules[name]
		c.facts = append(c.facts, fact{name, setting.Level + ": " + setting.Reason, "rules." + name + ".level"})
	}
	return c
}

func houseOf(m *profiles.Machine) chapter {
	c := chapter{title: "Rules of this shop"}
	for i, h := range m.House {
		c.facts = append(c.facts, fact{h.Name, strings.Join(strings.Fields(h.When), " "), fmt.Sprintf("house[%d].when", i)})
	}
	return c
}

func pointer(l *profiles.Length, write func(profiles.Length) string) string {
	if l == nil {
		return ""
	}
	return write(*l)
}

// span writes a lowest and a highest length.
func span(ends []profiles.Length, write func(profiles.Length) string) string {
	if len(ends) != 2 {
		return ""
	}
	return write(ends[0]) + " to " + write(ends[1])
}

func rotations(ends []profiles.Rotation) string {
	if len(ends) != 2 {
		return ""
	}
	return short(float64(ends[0]), 1) + " to " + short(float64(ends[1]), 1) + " rpm"
}

func numberRange(address string, ends []int) string {
	if len(ends) != 2 {
		return "any"
	}
	return fmt.Sprintf("%s%d to %s%d", address, ends[0], address, ends[1])
}

func digits(d profiles.Decimals) string {
	if d == (profiles.Decimals{}) {
		return "no limit"
	}
	return fmt.Sprintf("%d in inch, %d in mm", d.Inch, d.MM)
}

// limit writes a greatest number of things, of which 0 is none.
func limit(n int, thing string) string {
	if n == 0 {
		return "no limit"
	}
	return "at most " + plural(n, thing)
}

func yes(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}
