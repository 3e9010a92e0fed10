package profiles

import (
	"errors"
	"fmt"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
)

// loadFrom makes the machine of a source: it lays the texts over each other and
// the settings over them, decodes what comes out, fills in defaults and checks
// it.
func loadFrom(s *source, settings ...string) (*Machine, error) {
	tree, err := resolve(s, nil)
	if err != nil {
		return nil, err
	}
	if errs := applySettings(tree, settings, false); len(errs) > 0 {
		return nil, joinErrors(errs, s)
	}
	return machineOf(tree, s, settings)
}

// machineOf decodes the tree of a profile, fills in defaults and checks it.
func machineOf(tree *node, s *source, settings []string) (*Machine, error) {
	takeBack(tree)
	m := &Machine{}
	d := decoder{places: map[string]*node{}}
	d.value(tree, reflect.ValueOf(m).Elem(), "", false)
	if len(d.errs) == 0 { // half a machine would be blamed for what is missing through another fault
		m.fillIn(&d)
		m.compile()
		v := validator{m: m, top: s, decoder: &d}
		v.machine()
	}
	if len(d.errs) > 0 {
		return nil, joinErrors(d.errs, s)
	}
	m.codes.places = d.places
	m.Settings, m.from = settings, s
	return m, nil
}

// joinErrors sorts by place, what the file itself says before what it extends.
func joinErrors(errs []*Error, top *source) error {
	slices.SortStableFunc(errs, func(a, b *Error) int {
		if a.File != b.File {
			if a.File == top.file {
				return -1
			}
			if b.File == top.file {
				return 1
			}
			return strings.Compare(a.File, b.File)
		}
		return a.Line - b.Line
	})
	all := make([]error, len(errs))
	for i, e := range errs {
		all[i] = e
	}
	return errors.Join(all...)
}

// mostLevels bounds a chain of extends; links between folders could make one
// without end.
const mostLevels = 16

// resolve reads a source and lays it over what it extends. above are the
// sources that led here.
func resolve(s *source, above []*source) (*node, error) {
	tree, err := readTree(s)
	if err != nil {
		return nil, err
	}
	extends := tree.fields["extends"]
	if extends == nil || extends.kind != stringNode || extends.text == "" {
		return tree, nil // of another kind: the decoder complains
	}
	above = append(above, s)
	base, err := baseOf(s, extends, above)
	if err != nil {
		return nil, err
	}
	under, err := resolve(base, above)
	if err != nil {
		return nil, fmt.Errorf("%w\n%w", extends.place("extends", "the base %q cannot be used", extends.text), err)
	}
	for _, own := range []string{"name", "title", "extends"} { // of one file each
		under.drop(own)
	}
	if tree.child("arcs").child("tolerance") != nil { // else the base's would stay in force for inch programs
		under.child("arcs").drop("tolerance_inch")
	}
	return overlay(under, tree), nil
}

// baseOf finds what a source extends: a file beside it, or an embedded profile.
func baseOf(s *source, extends *node, above []*source) (*source, error) {
	name := extends.text
	var base *source
	var err error
	switch {
	case slices.Contains(Names(), name):
		base = embedded(name)
	case isPath(name) && s.folder != "":
		if !filepath.IsAbs(name) {
			name = filepath.Join(s.folder, name)
		}
		if base, err = readFile(name); err != nil {
			return nil, fmt.Errorf("%w: %w", extends.place("extends", "%q", extends.text), err)
		}
	default:
		known := Names()
		return nil, extends.place("extends", "no profile %q in the library%s known are %s; a file beside this one is written \"./%s.toml\"",
			name, orColon(DidYouMean(name, known)), strings.Join(known, ", "), strings.TrimSuffix(name, ".toml"))
	}
	for _, a := range above {
		if a.file == base.file && a.folder == base.folder {
			return nil, extends.place("extends", "%q extends itself, by %s", extends.text, route(above, base))
		}
	}
	if len(above) >= mostLevels {
		return nil, extends.place("extends", "more than %d levels of extends", mostLevels)
	}
	return base, nil
}

// route writes the way of a circle.
func route(above []*source, base *source) string {
	var b strings.Builder
	for _, a := range above {
		b.WriteString(a.file + " -> ")
	}
	return b.String() + base.file
}

// fillIn sets the defaults: those that follow from other values, and the choice
// that is common practice where a profile says nothing.
func (m *Machine) fillIn(d *decoder) {
	byDefault := func(path string, set func()) {
		if d.places[path] == nil {
			set()
			d.places[path] = defaultPlace
		}
	}
	m.compute(d)
	for i := range NumAxes {
		if a := m.Axis(i); a != nil {
			byDefault(axisPath(i)+".feed", func() { a.Feed = a.Rapid })
			if i < 3 {
				byDefault(axisPath(i)+".backlash_limit", func() { a.BacklashLimit = 0.0254 })
			}
		}
	}
	byDefault("spindle.reverse", func() { m.Spindle.Reverse = m.Spindle.Start + m.Spindle.Stop })
	if gears := m.Spindle.Gears; len(gears) > 0 && wellFormed(gears) {
		byDefault("spindle.speed", func() { m.Spindle.Speed = span(gears) })
	}
	byDefault("tools.highest", func() { m.Tools.Highest = m.Tools.Pockets })
	byDefault("numbers.feed_point", func() { m.Numbers.FeedPoint = "optional" })
	byDefault("block.percent_marks", func() { m.Block.PercentMarks = "optional" })
	byDefault("arcs.tolerance_inch", func() { m.Arcs.ToleranceInch = m.Arcs.Tolerance })
	byDefault("control.home_axes", func() { m.Control.HomeAxes = "all" })
	byDefault("control.backlash", func() { m.Control.Backlash = "taken-out" })
	if m.Control.Link.Baud > 0 {
		byDefault("control.link.bits", func() { m.Control.Link.Bits = 10 })
		byDefault("control.link.buffer", func() { m.Control.Link.Buffer = 1000 })
	}
	byDefault("tools.word", func() { m.Tools.Word = "tool" })
	byDefault("turning.cycle_lines", func() { m.Turning.CycleLines = 2 })
	byDefault("turning.thread_lead", func() { m.Turning.ThreadLead = "F" })
	byDefault("control.comp", func() { m.Control.Comp = "refuse-concave" })
	byDefault("control.cycle_level", func() { m.Control.CycleLevel = "first" })
	byDefault("control.rapid_path", func() { m.Control.RapidPath = "straight" })
	byDefault("control.cycle_r", func() { m.Control.CycleR = "mode" })
	byDefault("block.repeat", func() { m.Block.Repeat = "L" })
	byDefault("block.call", func() { m.Block.Call = "words" })
	byDefault("block.dwell", func() { m.Block.Dwell = map[string]string{"P": "s"} })
	if m.Kind != "" {
		byDefault("control.corner", func() { m.Control.Corner = "stop" })
	}
}

// span is from the lowest to the highest speed of all gears.
func span(gears []SpindleGear) []Rotation {
	low, high := gears[0].Speed[0], gears[0].Speed[1]
	for _, g := range gears {
		low, high = min(low, g.Speed[0]), max(high, g.Speed[1])
	}
	return []Rotation{low, high}
}

// wellFormed says whether each gear has its two speeds.
func wellFormed(gears []SpindleGear) bool {
	return !slices.ContainsFunc(gears, func(g SpindleGear) bool { return len(g.Speed) != 2 })
}

// defaultPlace stands for values that no file gives.
var defaultPlace = &node{}

// Origin says where a value comes from: "bed-mill.toml:31" for the file that
// gives it, "--set" where it was set beside the file, "bed-mill.toml:31 and
// --set" for a table or list of which a part was, "default" where other values
// give it, "computed" where a drive train does, "" where it is not given. The path is that of the keys:
// "axes.x.rapid", "codes.G38.2", "spindle.gears[1].code".
func (m *Machine) Origin(path string) string {
	switch n := m.codes.places[path]; {
	case n == nil:
		return ""
	case n == defaultPlace:
		return "default"
	case n == computedPlace:
		return computed
	case n.flagged():
		return setFile
	case n.touched:
		return fmt.Sprintf("%s:%d and %s", n.from.file, n.line, setFile)
	default:
		return fmt.Sprintf("%s:%d", n.from.file, n.line)
	}
}

func gearPath(i int) string { return fmt.Sprintf("spindle.gears[%d]", i) }

func axisPath(i int) string { return "axes." + strings.ToLower(AxisLetters[i:i+1]) }
