package report

import (
	"bufio"
	"fmt"
	"html/template"
	"io"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"tapefit/internal/motion"
	"tapefit/profiles"
	"tapefit/rules"
)

// Sheet checks a program and writes the setup sheet for the machine's side: what
// to load, set and watch for, in the order in which it is done, with boxes for
// what only the machine can tell. It is one file that needs nothing beside it,
// meant for one or two sheets of A4 or Letter paper in black and white. The
// error is one of reading src or writing w.
func Sheet(w io.Writer, src io.ReaderAt, size int64, path string, m *profiles.Machine, set []*rules.Rule, opt rules.Options) (*rules.Result, error) {
	k := newSetup(m)
	r, s, err := look(src, size, path, m, set, opt, k)
	if err != nil {
		return nil, err
	}
	said, err := readRemarks(src, size, m, k.lines())
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	sh := sheet{r: r, s: s, k: k, said: said, u: unitsOf(m), offsets: opt.Offsets}
	css, err := pageFiles.ReadFile("page/sheet.css")
	if err != nil {
		return nil, err
	}
	t, err := template.ParseFS(pageFiles, "page/sheet.html.tmpl")
	if err != nil {
		return nil, err
	}
	d := sh.data()
	d.CSS = template.CSS(css)
	out := bufio.NewWriter(w)
	if err := t.Execute(out, d); err != nil {
		return nil, err
	}
	return r, out.Flush()
}

// lines are those near which comments are looked for.
func (s *setup) lines() []int {
	var all []int
	for _, t := range s.tools {
		all = append(all, t.line)
	}
	for _, at := range s.stops {
		all = append(all, at.line)
	}
	return all
}

// A sheet is one at work.
type sheet struct {
	r       *rules.Result
	s       *Scene
	k       *setup
	said    *remarks
	u       units
	offsets map[string]profiles.Offset // over those of the profile
}

type (
	// blank is a value to be read or written: a box where Value is "".
	blank struct{ Name, Value string }

	sheetTool struct {
		Name, Title, Does     string
		Calls                 int
		Set                   []blank
		Speeds, Feeds         []string // each in a row of its own
		Gears, Deepest, Total string
	}
	sheetZero struct {
		Code string
		Axes []blank
	}
	sheetGear struct{ Name, By, Range, Use string }
	sheetStop struct {
		Place, Do string
		Quotes    []string
	}
	sheetFinding struct {
		Level, Message string
		Line           int
	}
	sheetData struct {
		Title, Machine, MachineTitle string
		Settings, Head               []string
		Facts                        []named
		AtLeast, Cycle               string
		Verdict, VerdictLevel        string
		Findings                     []sheetFinding
		MoreFindings                 string
		Tools                        []sheetTool
		MoreTools                    bool
		SetTitle, LengthUnit         string
		FeedUnit                     string
		Zeros                        []sheetZero
		Own                          []string
		ZeroNote                     string
		Views                        []viewed
		Reach                        []string
		Gears                        []sheetGear
		GearNote                     string
		Beside                       bool // gears and stops have room side by side
		Stops                        []sheetStop
		StopNote                     string
		Raise                        string
		Lathe                        bool
		CSS                          template.CSS
	}
)

func (h *sheet) data() *sheetData {
	r, m := h.r, h.r.Machine
	d := &sheetData{
		Title: "standard input", Machine: clean(m.Name), MachineTitle: clean(m.Title),
		Head: h.said.head, AtLeast: atLeast(r), Cycle: clock(r.Times.Total),
		LengthUnit: "mm", FeedUnit: h.u.name + "/min", Lathe: m.Kind == "lathe",
	}
	if h.u == inches {
		d.LengthUnit = "inch"
	}
	if r.Path != "-" {
		d.Title = clean(filepath.Base(r.Path))
	}
	for _, s := range m.Settings {
		d.Settings = append(d.Settings, clean(s))
	}
	h.facts(d)
	h.verdict(d)
	h.tools(d)
	h.zeros(d)
	h.pictures(d)
	h.gears(d)
	h.stops(d)
	d.Beside = len(d.Gears) > 0 && len(d.Stops) <= 3
	if z := r.Extents[2]; known(z) && z.Min < 0 && !d.Lathe {
		d.Raise = h.u.number(-z.Min) + " " + h.u.name
	}
	return d
}

func (h *sheet) facts(d *sheetData) {
	t := &h.r.Times
	add := func(name, value string) { d.Facts = append(d.Facts, named{name, value}) }
	add("cutting", clock(t.Cutting))
	add("rapid", clock(t.Rapid))
	add("the rest", clock(t.Total-t.Cutting-t.Rapid))
	hand := stops(t.OperatorStops) + belts(t)
	if t.OperatorStops+t.HandShifts > 0 {
		hand += ", not in the time"
	}
	add("by hand", hand+strings.ReplaceAll(byHand(h.r), "; the shop reckons ", "; reckoned "))
	add("program", fmt.Sprintf("%s, %s bytes", plural(h.r.Blocks, "block"), strconv.FormatInt(h.said.bytes, 10)))
}

// mostSheetFindings is how many findings have room on a sheet.
const mostSheetFindings = 8

func (h *sheet) verdict(d *sheetData) {
	r := h.r
	errs, warnings := r.Count(rules.Error), r.Count(rules.Warning)
	switch {
	case errs > 0:
		d.VerdictLevel = "error"
		d.Verdict = fmt.Sprintf("Do not run it as it is: %s would refuse this program or do other than is written (%s, %s).", d.Machine, plural(errs, "error"), plural(warnings, "warning"))
	case warnings > 0:
		d.VerdictLevel = "warning"
		d.Verdict = fmt.Sprintf("Nothing that %s would refuse was found. %s to be judged before it is run.", d.Machine, plural(warnings, "warning"))
	default:
		d.VerdictLevel = "none"
		d.Verdict = fmt.Sprintf("Nothing that %s would refuse was found. This is not a promise that it is safe.", d.Machine)
	}
	for _, level := range []rules.Level{rules.Error, rules.Warning} {
		for i := range r.Findings {
			f := &r.Findings[i]
			if f.Level == level && len(d.Findings) < mostSheetFindings {
				d.Findings = append(d.Findings, sheetFinding{level.String(), clean(f.Message), f.Line})
			}
		}
	}
	if more := errs + warnings - len(d.Findings); more > 0 {
		d.MoreFindings = fmt.Sprintf("and %d more: tapefit check tells them all, with what to do.", more)
	}
}

// loaded is the tool of the profile with the number, or nil.
func loaded(m *profiles.Machine, number int) *profiles.Tool {
	for i := range m.Tools.Loaded {
		if m.Tools.Loaded[i].Number == number {
			return &m.Tools.Loaded[i]
		}
	}
	return nil
}

func (h *sheet) tools(d *sheetData) {
	m := h.r.Machine
	d.SetTitle = "length and offsets"
	for _, t := range h.k.tools {
		row := sheetTool{Name: toolName(t.number), Calls: t.calls, Set: h.settings(t)}
		if l := loaded(m, t.number); l != nil {
			row.Title = clean(l.Title)
		}
		if t.number < 0 {
			row.Name, row.Title = "?", "in the spindle at the start"
		}
		row.Does = strings.Join(h.said.near[t.line], " ")
		if t.line == 0 {
			row.Does = ""
		}
		if use := h.s.Tools[t.number]; use != nil {
			row.Speeds, row.Feeds = speedTexts(use, h.u), feedTexts(use, h.u)
			if use.Deepest.Set {
				row.Deepest = h.u.number(use.Deepest.Min)
			}
		}
		var gears []string
		for _, g := range t.gears {
			gears = append(gears, h.gearName(g.gear))
		}
		row.Gears = strings.Join(gears, ", ")
		if i := slices.IndexFunc(h.r.Times.Tools, func(one motion.ToolTime) bool { return one.Tool == t.number }); i >= 0 {
			row.Total = clock(h.r.Times.Tools[i].Total)
		}
		d.Tools = append(d.Tools, row)
	}
	d.MoreTools = len(d.Tools) >= mostSetupTools
}

// gearName is how a gear is called on the sheet, with its code.
func (h *sheet) gearName(i int) string {
	gears := h.r.Machine.Spindle.Gears
	switch {
	case len(gears) == 0:
		return ""
	case i < 0 || i >= len(gears):
		return "not said"
	}
	name := clean(gears[i].Name)
	if code := gears[i].Code; code != "" {
		name += " " + code
	}
	return name
}

// settings are the offsets of a tool: what the profile knows, and boxes.
func (h *sheet) settings(t *toolSetup) []blank {
	m := h.r.Machine
	var all []blank
	length := func(name string, l profiles.Length) {
		value := ""
		if l != 0 {
			value = h.u.number(float64(l))
		}
		all = append(all, blank{name, value})
	}
	if m.Tools.Word == "tool-offset" {
		for _, n := range t.lengths {
			l := loaded(m, n)
			if l == nil {
				l = &profiles.Tool{}
			}
			for _, one := range []struct {
				name string
				at   *profiles.Length
			}{{"X, radius", l.OffsetX}, {"Z", l.OffsetZ}} {
				value := ""
				if one.at != nil {
					value = h.u.number(float64(*one.at))
				}
				all = append(all, blank{fmt.Sprintf("no. %d %s", n, one.name), value})
			}
			if len(t.radii) > 0 || l.NoseRadius > 0 {
				length("nose radius", l.NoseRadius)
			}
		}
		if len(t.lengths) == 0 {
			all = append(all, blank{"offset", ""})
		}
		return all
	}
	for _, n := range t.lengths {
		var l profiles.Length
		if tool := loaded(m, n); tool != nil {
			l = tool.Length
		}
		length(fmt.Sprintf("H%d length", n), l)
	}
	if len(t.lengths) == 0 {
		name := "length"
		if m.CodeFor(profiles.LengthOn) != "" {
			name = "no H called; length"
		}
		all = append(all, blank{name, ""})
	}
	for _, n := range t.radii {
		var l profiles.Length
		if tool := m.ToolOfD(n); tool != nil {
			l = tool.Diameter
		}
		length(fmt.Sprintf("D%d diameter", n), l)
	}
	return all
}

// zeros are the work offsets in which the program moves.
func (h *sheet) zeros(d *sheetData) {
	m := h.r.Machine
	for n := range 9 {
		if h.k.offsets>>n&1 == 0 {
			continue
		}
		z := sheetZero{Code: m.CodeFor(profiles.WorkOffset1 + profiles.Meaning(n))}
		o := m.WorkOffset(n)
		if said, ok := h.offsets[z.Code]; ok {
			o = &said
		}
		if o == nil {
			o = &profiles.Offset{}
		}
		if z.Code == "" {
			z.Code = "zero"
		}
		for i, at := range []*profiles.Length{o.X, o.Y, o.Z, o.A, o.B, o.C} {
			if m.Axis(i) == nil && m.Kind != "" || m.Kind == "" && !h.s.Kept[i] {
				continue
			}
			value := ""
			if at != nil {
				value = unitsOfAxis(m, i).number(float64(*at))
			}
			name := profiles.AxisLetters[i : i+1]
			if i == 0 && m.Kind == "lathe" {
				name = "X, radius"
			}
			z.Axes = append(z.Axes, blank{name, value})
		}
		d.Zeros = append(d.Zeros, z)
	}
	for _, z := range h.said.zeros {
		d.Own = append(d.Own, fmt.Sprintf("line %d: %s", z.line, z.text))
	}
	if len(d.Zeros) > 1 {
		d.ZeroNote = "The pictures are drawn from " + m.CodeFor(profiles.WorkOffset1+profiles.Meaning(max(h.s.first, 0))) + ", with the others as the profile has them to it; one that it does not have is drawn as if it lay in the same place."
	}
}

func (h *sheet) pictures(d *sheetData) {
	for _, v := range projections(h.r.Machine) {
		switch v.name {
		case "top", "front":
			d.Views = append(d.Views, viewed{Title: v.title, SVG: h.s.sheetView(v, 560, 290)})
		case "side":
			d.Views = append(d.Views, viewed{Title: v.title, SVG: h.s.sheetView(v, 760, 340)})
		}
	}
	if h.s.stock() == nil {
		d.Views = nil
	}
	for i, e := range h.r.Extents {
		if !known(e) {
			continue
		}
		u := unitsOfAxis(h.r.Machine, i)
		name, by := nameOfAxis(h.r.Machine, i)
		d.Reach = append(d.Reach, fmt.Sprintf("%s %s to %s", name, u.number(e.Min*by), u.number(e.Max*by)))
	}
}

func (h *sheet) gears(d *sheetData) {
	s := &h.r.Machine.Spindle
	unknown := h.gearUses(-1)
	for i, g := range s.Gears {
		by := g.Code
		switch s.Shift {
		case "by-hand":
			by = "by hand"
		case "automatic":
			by = "by the control"
		}
		d.Gears = append(d.Gears, sheetGear{clean(g.Name), by, rotations(g.Speed), strings.Join(h.gearUses(i), ", ")})
	}
	if len(unknown) > 0 && len(s.Gears) > 0 {
		d.GearNote = "Not said by the program, so it runs in the gear that is in: " + strings.Join(unknown, ", ") + "."
		if s.Shift == "by-hand" {
			d.GearNote = "No step reaches: " + strings.Join(unknown, ", ") + "."
		}
	}
}

// gearUses are the tools that cut in a gear, with their speeds.
func (h *sheet) gearUses(gear int) []string {
	var all []string
	for _, t := range h.k.tools {
		for _, g := range t.gears {
			if g.gear == gear {
				use := toolName(t.number) + " at " + rpmText(g.speeds)
				if g.surfaces.Set {
					use += " (" + rangeText(g.surfaces, h.u.surface) + ")"
				}
				all = append(all, use)
			}
		}
	}
	return all
}

func (h *sheet) stops(d *sheetData) {
	for _, at := range h.k.stops {
		row := sheetStop{Place: "line " + strconv.Itoa(at.line), Quotes: h.said.near[at.line]}
		switch {
		case at.line == 0:
			row.Place, row.Quotes = "before the start", nil
		case h.said.numbers[at.line] != "":
			row.Place += ", " + h.said.numbers[at.line]
		}
		if at.count > 1 {
			row.Place += fmt.Sprintf(", %d times", at.count)
		}
		row.Do = h.todo(at, len(row.Quotes) > 0)
		d.Stops = append(d.Stops, row)
	}
	if h.k.more > 0 {
		d.StopNote = fmt.Sprintf("and %s more.", plural(h.k.more, "stop"))
	}
}

// todo says what a person does at a stop.
func (h *sheet) todo(at *stopHere, said bool) string {
	var parts []string
	switch at.kind {
	case stopProgram:
		parts = append(parts, "Program stop.")
	case stopOptional:
		parts = append(parts, "Optional stop: only with its switch on.")
	case stopPallet:
		parts = append(parts, "Stop for the pallet.")
	case stopManual:
		parts = append(parts, "Take the tool out of the bore by hand.")
	case stopTool:
		name := toolName(at.tool)
		if l := loaded(h.r.Machine, at.tool); l != nil && l.Title != "" {
			name += ", " + clean(l.Title)
		}
		parts = append(parts, "Put in "+name+" by hand.")
	}
	if at.belt >= 0 {
		g := h.r.Machine.Spindle.Gears[at.belt]
		belt := fmt.Sprintf("Belt on %s (%s), for %s rpm.", clean(g.Name), rotations(g.Speed), short(at.speeds, 0))
		if at.kind == stopBelt && at.line > 0 {
			belt += " The program does not stop for it."
		}
		parts = append(parts, belt)
	}
	if at.turning {
		parts = append(parts, "The spindle goes on turning: keep hands out.")
	}
	if (at.kind == stopProgram || at.kind == stopOptional) && !said && at.belt < 0 {
		parts = append(parts, "The program does not say what for: ask who wrote it.")
	}
	return strings.Join(parts, " ")
}
