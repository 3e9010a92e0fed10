package report

import (
	"fmt"
	"path/filepath"
	"strings"

	"tapefit/profiles"
	"tapefit/rules"
)

// Changes writes for people what changes for programs that go from one machine
// to another: a row for each, as they come, then what changes by rule and what
// it comes to.
type Changes struct {
	t      *Text
	folder string // that all programs are below; "" for none
	path   int    // width of the paths' column

	programs, unread int
	both             struct{ now, was sum } // programs that fit both
}

// Widths of a row's columns; the path and what changes stand behind them.
const (
	rowIndent   = 2
	changeWidth = len("refused by both")
	errorsWidth = len("+99 -9")
	pathColumn  = rowIndent + changeWidth + 2*(1+clockWidth) + 1 + errorsWidth + 2
	rowForm     = "%*s %*s %*s %*s  "
)

// columns are the cells behind what became of a program, so many columns after
// it.
func columns(behind int, was, now, errors string) string {
	return fmt.Sprintf(rowForm, changeWidth-behind, "", clockWidth, was, clockWidth, now, errorsWidth, errors)
}

// Changes writes the head of the table. The paths are those that come.
func (t *Text) Changes(now, was *profiles.Machine, paths []string) (*Changes, error) {
	c := &Changes{t: t, folder: folderOf(paths)}
	for _, path := range paths {
		c.path = max(c.path, widths.StringWidth(c.name(path)))
	}
	head := []run{{t.styles.title, "From " + clean(was.Name) + " to " + clean(now.Name)}}
	for _, s := range now.Settings {
		head = append(head, run{t.styles.quiet, " --set " + clean(s)})
	}
	rest := ", " + plural(len(paths), "program")
	if c.folder != "" {
		rest += " below " + clean(c.folder)
	}
	t.flow(0, 2, append(head, run{text: rest})...)
	t.line()
	if len(paths) > 0 {
		t.flow(rowIndent, rowIndent, run{t.styles.quiet, columns(0, "was ", "now ", "errors") + "program"})
	}
	return c, t.out.Flush()
}

// folderOf is the folder that all paths lie below, "" where they share none.
func folderOf(paths []string) string {
	if len(paths) == 0 {
		return ""
	}
	folder := filepath.Dir(paths[0])
	for _, path := range paths {
		for folder != "." && !strings.HasPrefix(path, within(folder)) {
			if up := filepath.Dir(folder); up != folder {
				folder = up
			} else {
				return ""
			}
		}
	}
	if folder == "." {
		return ""
	}
	return folder
}

// within is what a path below the folder begins with.
func within(folder string) string {
	if strings.HasSuffix(folder, string(filepath.Separator)) {
		return folder
	}
	return folder + string(filepath.Separator)
}

// name is how a row calls a program.
func (c *Changes) name(path string) string {
	if path == "-" {
		return "standard input"
	}
	if c.folder != "" {
		path = strings.TrimPrefix(path, within(c.folder))
	}
	return clean(path)
}

// Program writes the row of one program.
func (c *Changes) Program(p *rules.Comparison) error {
	change := p.Change()
	style := c.t.styles.clear
	switch change {
	case rules.NewlyRefused:
		style = c.t.styles.level[rules.Error]
	case rules.RefusedByBoth:
		style = c.t.styles.level[rules.Warning]
	case rules.FitsBoth:
		style = nil
		c.both.now.add(p.Now)
		c.both.was.add(p.Was)
	}
	c.programs++
	cells := columns(len(change.String()), rowClock(p.Was), rowClock(p.Now), newAndGone(p))
	c.row(run{style, change.String()}, cells, p.Now.Path, whatChanges(p))
	return c.t.out.Flush()
}

// Unread writes the row of a program that could not be read.
func (c *Changes) Unread(path string, err error) error {
	c.unread++
	why := strings.TrimPrefix(err.Error(), path+": ")
	const what = "not read"
	c.row(run{c.t.styles.level[rules.Error], what}, columns(len(what), "- ", "- ", "-"), path, clean(why))
	return c.t.out.Flush()
}

// row writes what changes behind the path, or below it where there is no room.
func (c *Changes) row(change run, cells, path, what string) {
	t := c.t
	head := []run{change, {nil, cells}, {t.styles.title, c.name(path)}}
	hang := pathColumn + 2
	if hang > t.width/2 {
		hang = 2 * rowIndent // narrow paper
	}
	pad := c.path - widths.StringWidth(c.name(path)) + 2
	if what != "" && pathColumn+c.path+2+widths.StringWidth(what) <= t.width {
		t.flow(rowIndent, hang, append(head, run{text: strings.Repeat(" ", pad) + what})...)
		return
	}
	t.flow(rowIndent, hang, head...)
	if what != "" {
		t.flow(hang, hang, run{text: what})
	}
}

// rowClock is the cycle time in a column, with a + where it is at least that.
// What a machine refuses it does not do, and no time is in the sum for it.
func rowClock(r *rules.Result) string {
	if r.Count(rules.Error) > 0 || r.Incomplete() || !hasSpeeds(r.Machine) {
		return clock(r.Times.Total) + "+"
	}
	return clock(r.Times.Total) + " "
}

// newAndGone counts the errors of a row.
func newAndGone(p *rules.Comparison) string {
	_, fresh := ofLevel(p.New, rules.Error)
	_, gone := ofLevel(p.Gone, rules.Error)
	switch {
	case fresh > 0 && gone > 0:
		return fmt.Sprintf("+%d -%d", fresh, gone)
	case fresh > 0:
		return fmt.Sprintf("+%d", fresh)
	case gone > 0:
		return fmt.Sprintf("-%d", gone)
	case p.Change() == rules.RefusedByBoth:
		return "same"
	}
	return ""
}

// whatChanges says where to look first.
func whatChanges(p *rules.Comparison) string {
	var parts []string
	if first, n := ofLevel(p.New, rules.Error); n > 0 {
		parts = append(parts, first)
	} else if first, n := ofLevel(p.Gone, rules.Error); n > 0 {
		parts = append(parts, "was "+first)
	}
	switch first, n := ofLevel(p.New, rules.Warning); {
	case n > 0 && len(parts) == 0:
		parts = append(parts, plural(n, "new warning"), first)
	case n > 0:
		parts = append(parts, plural(n, "new warning"))
	}
	return strings.Join(parts, ", ")
}

// ofLevel is the place and rule of the first finding at the level, and how many
// there are.
func ofLevel(findings []*rules.Finding, level rules.Level) (first string, n int) {
	for _, f := range findings {
		if f.Level != level {
			continue
		}
		if n == 0 {
			first = fmt.Sprintf("%d:%d %s", f.Line, f.Column, f.Rule.Name)
		}
		n++
	}
	return first, n
}

// End writes what changes by rule, what it comes to, and the cautions. left is
// how many programs were not looked at.
func (c *Changes) End(tally *rules.Tally, left int) error {
	t := c.t
	if c.programs+c.unread > 0 {
		t.line()
	}
	c.byRule(tally.Rules())
	var counts []run
	for change := range rules.NumChanges {
		if n := tally.Programs[change]; n > 0 {
			if len(counts) > 0 {
				counts = append(counts, run{text: ", "})
			}
			counts = append(counts, run{text: fmt.Sprintf("%s %d", change, n)})
		}
	}
	t.flow(0, 0, run{t.styles.title, plural(c.programs, "program") + " compared"})
	t.flow(2, 4, counts...)
	if now, was := &c.both.now, &c.both.was; now.programs > 0 {
		t.flow(2, 4, run{text: fmt.Sprintf("those that fit both: %s%s together, was %s%s",
			least(now), clock(now.seconds), least(was), clock(was.seconds))})
	}
	if tally.StopsNow > 0 || tally.StopsWas > 0 {
		t.flow(2, 4, run{text: fmt.Sprintf("not in the times: %s, was %d", plural(tally.StopsNow, "operator stop"), tally.StopsWas)})
	}
	t.missing(c.unread, left)
	t.line()
	if c.programs > 0 {
		t.flow(0, 0, run{t.styles.quiet, "+ at least: what is refused or not known is not in the time. " + Caution})
	}
	return t.out.Flush()
}

// byRule writes what is new and what is gone of errors and warnings, and of new
// errors the messages that most programs have.
func (c *Changes) byRule(all []*rules.RuleChange) {
	name := 0
	for _, r := range all {
		name = max(name, len(r.Rule.Name))
	}
	const form = "  %-*s  %5s %8s  %5s %8s"
	head := false
	for _, r := range all {
		if r.Level == rules.Note {
			continue
		}
		if !head {
			c.t.flow(rowIndent, rowIndent, run{c.t.styles.quiet, fmt.Sprintf("by rule"+form, name, "", "new", "programs", "gone", "programs")})
			head = true
		}
		c.t.flow(rowIndent, 2*rowIndent, run{c.t.styles.level[r.Level], fmt.Sprintf("%-7s", r.Level)},
			run{text: fmt.Sprintf(form, name, r.Rule.Name, count(r.New), count(r.NewIn), count(r.Gone), count(r.GoneIn))})
		if r.Level == rules.Error {
			c.messages(r)
		}
	}
	if head {
		c.t.line()
	}
}

// mostMessages is how many are shown of a rule.
const mostMessages = 3

// messageColumn is where rules' names and messages begin.
const messageColumn = rowIndent + 7 + 2

// messages shows what several findings of the rule say, or the first of those
// that say each something else.
func (c *Changes) messages(r *rules.RuleChange) {
	told := 0
	for i, m := range r.Messages() {
		if i > 0 && (i == mostMessages || m.Count == 1) {
			break
		}
		times := fmt.Sprintf("%*d x", messageColumn-rowIndent-len(" x "), m.Count)
		c.t.flow(rowIndent, messageColumn, run{c.t.styles.quiet, times}, run{text: " " + clean(m.Text)})
		told += m.Count
	}
	if more := r.New - told; told > 0 && more > 0 {
		c.t.flow(messageColumn, messageColumn, run{c.t.styles.quiet, fmt.Sprintf("and %d more", more)})
	}
}

// count is a number in a table, where none is no news.
func count(n int) string {
	if n == 0 {
		return "-"
	}
	return fmt.Sprint(n)
}
