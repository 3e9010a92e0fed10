// Package report writes what was found for people and for programs: text for
// a terminal, JSON, SARIF, the data sheet of a machine, the text of a rule. It
// decides nothing: findings, levels and times come from below and are printed
// as they are. No finding and no name of a rule is known here.
package report

import (
	"bufio"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/fatih/color"

	"tapefit/profiles"
	"tapefit/rules"
)

// Text writes reports for people. Lines are broken at the width and nothing is
// cut off. It is for one output and one goroutine.
type Text struct {
	out    *bufio.Writer
	width  int
	styles styles
	sum    sum
}

// styles are the colours; without colour each is there and does nothing.
type styles struct {
	level               [rules.Error + 1]*color.Color
	title, quiet, clear *color.Color
	gone                *color.Color // of two programs, what the old one has alone
}

// sum is what the programs come to together.
type sum struct {
	programs, clean int
	counts          [rules.Error + 1]int
	silenced        silenced
	seconds         float64
	stops           int
	incomplete      bool // of one at least the time is not whole
}

// leastWidth bounds the width from below: a gutter and a word must have room.
const leastWidth = 24

// NewText writes to w, width columns wide, with or without colour. Each report
// is flushed when it is whole.
func NewText(w io.Writer, width int, colour bool) *Text {
	t := &Text{out: bufio.NewWriter(w), width: max(width, leastWidth)}
	s := &t.styles
	s.level[rules.Error] = color.New(color.FgRed, color.Bold)
	s.level[rules.Warning] = color.New(color.FgYellow, color.Bold)
	s.level[rules.Note] = color.New(color.FgCyan, color.Bold)
	s.title, s.quiet, s.clear = color.New(color.Bold), color.New(color.Faint), color.New(color.FgGreen)
	s.gone = color.New(color.FgRed)
	for _, c := range append(s.level[:], s.title, s.quiet, s.clear, s.gone) {
		// Each on its own: the package's switch is global and follows the
		// standard output, which need not be where this goes.
		if colour {
			c.EnableColor()
		} else {
			c.DisableColor()
		}
	}
	return t
}

// Check writes the findings of one program and its summary.
func (t *Text) Check(r *rules.Result) error {
	t.heading(r)
	places := make([]string, len(r.Findings))
	widest := 0
	for i := range r.Findings {
		f := &r.Findings[i]
		places[i] = fmt.Sprintf("%d:%d", f.Line, f.Column)
		widest = max(widest, len(places[i]))
	}
	for i := range r.Findings {
		t.line()
		t.finding(&r.Findings[i], fmt.Sprintf("%*s", widest, places[i]))
	}
	t.line()
	t.summary(r)
	t.line()
	t.sum.add(r)
	return t.out.Flush()
}

// EndCheck writes what all programs come to together and the cautions.
// unread is how many programs could not be read, left how many were not looked
// at.
func (t *Text) EndCheck(unread, left int) error {
	s := &t.sum
	if s.programs+unread+left > 1 {
		t.flow(0, 0, run{t.styles.title, plural(s.programs, "program") + " checked"})
		if s.programs > 0 {
			t.flow(2, 4, append(t.counts(s.counts), run{text: s.silenced.String()})...)
			if s.clean > 0 {
				t.flow(2, 4, run{text: plural(s.clean, "program") + " with nothing found"})
			}
		}
		t.together()
		t.missing(unread, left)
		t.line()
	}
	if s.programs > 0 {
		t.flow(0, 0, run{t.styles.quiet, Caution})
	}
	return t.out.Flush()
}

// Caution stands at the end of every check.
const Caution = "Whatever is said or not said here, prove the program out: dry run above the part, " +
	"single block, a hand on feed hold."

func (s *sum) add(r *rules.Result) {
	s.programs++
	if len(r.Findings) == 0 && len(r.Silenced) == 0 {
		s.clean++
	}
	for level := range s.counts {
		s.counts[level] += r.Count(rules.Level(level))
	}
	s.silenced.add(r)
	s.seconds += r.Times.Total
	s.stops += r.Times.OperatorStops
	s.incomplete = s.incomplete || r.Incomplete()
}

// silenced is how many findings are not told, and of which rules.
type silenced struct {
	count int
	rules []string
}

func (s *silenced) add(r *rules.Result) {
	for _, one := range r.Silenced {
		s.count += one.Count
		if i, told := slices.BinarySearch(s.rules, one.Rule.Name); !told {
			s.rules = slices.Insert(s.rules, i, one.Rule.Name)
		}
	}
}

func silencedIn(r *rules.Result) *silenced {
	s := new(silenced)
	s.add(r)
	return s
}

// String is what goes behind the counts of those that are told.
func (s *silenced) String() string {
	if s.count == 0 {
		return ""
	}
	return fmt.Sprintf(", %d silenced (%s)", s.count, strings.Join(s.rules, ", "))
}

// heading names the program and the machine, with what was set beside its
// profile: on paper nothing else would tell the report from that of the machine.
func (t *Text) heading(r *rules.Result) {
	path := r.Path
	if path == "-" {
		path = "standard input"
	}
	on := " on " + clean(r.Machine.Name)
	for _, s := range r.Machine.Settings {
		on += " --set " + clean(s)
	}
	t.flow(0, 2, run{t.styles.title, clean(path)}, run{t.styles.quiet, on})
}

// Columns of a finding: its text, and its block behind a gutter.
const (
	findingIndent = 2
	messageIndent = 4
	gutterWidth   = messageIndent + 3
)

func (t *Text) finding(f *rules.Finding, place string) {
	level := t.styles.level[f.Level]
	head := []run{{level, fmt.Sprintf("%-7s", f.Level)}, {nil, "  " + place + "  "}}
	name := run{t.styles.title, f.Rule.Name}
	if findingIndent+7+2+len(place)+2+len(f.Rule.Name) > t.width {
		// The name is kept whole for searching.
		t.flow(findingIndent, messageIndent, head...)
		t.flow(messageIndent, messageIndent, name)
	} else {
		t.flow(findingIndent, messageIndent, append(head, name)...)
	}
	t.flow(messageIndent, messageIndent, run{text: clean(f.Message)})
	t.block(f, level)
	if f.Advice != "" {
		t.flow(messageIndent, messageIndent, run{text: clean(f.Advice)})
	}
	for _, more := range []string{repeats(f), elsewhere(f)} {
		if more != "" {
			t.flow(messageIndent, messageIndent, run{t.styles.quiet, more})
		}
	}
}

// elsewhere says at how many places the finding is silenced.
func elsewhere(f *rules.Finding) string {
	if f.Silenced == 0 {
		return ""
	}
	return plural(f.Silenced, "place") + " beside, where it is silenced"
}

// repeats says where else the finding is.
func repeats(f *rules.Finding) string {
	switch {
	case f.Count <= 1:
		return ""
	case f.EndLine > f.Line:
		return fmt.Sprintf("and %d more up to line %d", f.Count-1, f.EndLine)
	}
	return fmt.Sprintf("and %d more in this block", f.Count-1)
}

// block shows the block of a finding behind its line number, and marks the
// word.
func (t *Text) block(f *rules.Finding, level *color.Color) {
	if strings.TrimSpace(f.Source) == "" {
		return
	}
	gutter := fmt.Sprintf("%*d", gutterWidth, f.Line)
	room := t.room(gutter)
	var cells []cell
	if f.SourceCol > 1 {
		for _, c := range appendCells(nil, t.styles.quiet, "... ") {
			c.pos, c.end = 0, 0 // of no byte of the source
			cells = append(cells, c)
		}
	}
	cells = appendCells(cells, nil, f.Source)
	// What is missing at the end of the block is marked behind it.
	cells = append(cells, cell{text: " ", width: 1, pos: len(f.Source), end: len(f.Source) + 1, blank: true})
	pos := min(max(f.Column-f.SourceCol, 0), len(f.Source))
	end := max(f.MarkEnd-f.SourceCol, pos+1)
	begun := false
	for _, row := range breakRows(cells, room, room) {
		t.row(gutter, row)
		gutter = strings.Repeat(" ", len(gutter))
		if m := marker(row, pos, end, room, begun); m != "" {
			t.row(gutter, appendCells(nil, level, m))
			begun = true
		}
	}
}

// room is what a gutter leaves for the block.
func (t *Text) room(gutter string) int { return max(t.width-len(gutter)-len(" | "), 8) }

// row writes a row of a block behind its gutter.
func (t *Text) row(gutter string, row []cell) {
	t.out.WriteString(t.styles.quiet.Sprint(gutter + " |"))
	if len(trimRight(row)) > 0 {
		t.out.WriteByte(' ')
	}
	t.cells(row)
}

// summary says what one program comes to.
func (t *Text) summary(r *rules.Result) {
	if len(r.Findings) == 0 && len(r.Silenced) == 0 {
		t.flow(2, 4, run{t.styles.clear, "Nothing found"}, run{text: "; this is not a promise that it is safe."})
	} else {
		var counts [rules.Error + 1]int
		for level := range counts {
			counts[level] = r.Count(rules.Level(level))
		}
		t.flow(2, 4, append(t.counts(counts), run{text: silencedIn(r).String()})...)
	}
	t.flow(2, 4, run{text: plural(r.Blocks, "block") + ", " + atLeast(r)}, run{t.styles.title, clock(r.Times.Total)},
		run{text: " and " + stops(r.Times.OperatorStops)})
	t.untimed(r)
	if reach := extents(r); reach != "" {
		t.flow(2, 4, run{text: reach})
	}
	t.speedless(r.Machine)
}

func atLeast(r *rules.Result) string {
	if r.Incomplete() {
		return "at least "
	}
	return ""
}

// untimed says what the time leaves out.
func (t *Text) untimed(r *rules.Result) {
	var parts []string
	if n := r.Dropped; n > 0 {
		parts = append(parts, plural(n, "block")+" with something that is not executed")
	}
	if n := r.Times.UnknownCuts; n > 0 {
		parts = append(parts, plural(n, "cut")+" from or to an unknown place")
	}
	if n := r.Times.UnknownFeeds; n > 0 {
		parts = append(parts, plural(n, "cut")+" without a known feed")
	}
	if len(parts) > 0 {
		t.flow(2, 4, run{text: "not in the time, or not whole: " + strings.Join(parts, ", ")})
	}
}

// speedless says why the time of a machine without speeds is short.
func (t *Text) speedless(m *profiles.Machine) {
	if !hasSpeeds(m) {
		t.flow(2, 4, run{text: clean(m.Name) + " gives no axis speeds: the time leaves out what depends on them."})
	}
}

// hasSpeeds says whether the profile tells how fast any axis is.
func hasSpeeds(m *profiles.Machine) bool {
	for i := range profiles.NumAxes {
		if a := m.Axis(i); a != nil && a.Rapid > 0 {
			return true
		}
	}
	return false
}

// counts says how many findings there are of each level.
func (t *Text) counts(counts [rules.Error + 1]int) []run {
	var runs []run
	for level := rules.Error; ; level-- {
		n := counts[level]
		r := run{text: plural(n, level.String())}
		if n > 0 {
			r.style = t.styles.level[level]
		}
		runs = append(runs, r)
		if level == rules.Note {
			return runs
		}
		runs = append(runs, run{text: ", "})
	}
}

func stops(n int) string {
	if n == 0 {
		return "no operator stops"
	}
	return plural(n, "operator stop")
}

// extents says how far the tool tip goes, with the units behind the last axis
// that has them.
func extents(r *rules.Result) string {
	var b strings.Builder
	unit := ""
	for i, e := range r.Extents {
		if !known(e) {
			continue
		}
		u := unitsOfAxis(r.Machine, i)
		switch unit {
		case "":
			b.WriteString("tool tip: ")
		case u.name:
			b.WriteString(", ")
		default:
			b.WriteString(" " + unit + ", ")
		}
		unit = u.name
		if a := r.Machine.Axis(i); a != nil && a.Diameter {
			fmt.Fprintf(&b, "%c (radius) %s to %s", profiles.AxisLetters[i], u.number(e.Min), u.number(e.Max))
			continue
		}
		fmt.Fprintf(&b, "%c %s to %s", profiles.AxisLetters[i], u.number(e.Min), u.number(e.Max))
	}
	if unit == "" {
		return ""
	}
	return b.String() + " " + unit
}

// Paragraph writes a text of one paragraph, broken to the width; the rows behind
// the first are indented by hang.
func (t *Text) Paragraph(hang int, text string) error {
	t.flow(0, hang, run{text: text})
	return t.out.Flush()
}

// flow writes runs as one paragraph: the first row indented by indent, the
// others by hang. Blanks inside it are kept.
func (t *Text) flow(indent, hang int, runs ...run) {
	var cells []cell
	for _, r := range runs {
		cells = appendCells(cells, r.style, r.text)
	}
	for i, row := range breakRows(cells, t.width-indent, t.width-hang) {
		if i > 0 {
			indent = hang
		}
		t.out.WriteString(strings.Repeat(" ", indent))
		t.cells(row)
	}
}

// cells writes one row and ends the line.
func (t *Text) cells(row []cell) {
	row = trimRight(row)
	for len(row) > 0 {
		n := 1
		for n < len(row) && row[n].style == row[0].style {
			n++
		}
		var b strings.Builder
		for _, c := range row[:n] {
			b.WriteString(c.text)
		}
		if style := row[0].style; style != nil {
			t.out.WriteString(style.Sprint(b.String()))
		} else {
			t.out.WriteString(b.String())
		}
		row = row[n:]
	}
	t.line()
}

func (t *Text) line() { t.out.WriteByte('\n') }
