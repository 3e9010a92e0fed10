package report

import (
	"fmt"
	"strings"
	"time"

	"tapefit/rules"
)

// A Log has one line for each program that was checked, as it comes: the time of
// day, its name, and in short what was found.
type Log struct {
	t     *Text
	whole bool
	time  func() time.Time
}

// Log begins a log. A whole one is for files; else lines are cut at the width.
func (t *Text) Log(whole bool) *Log { return &Log{t, whole, time.Now} }

// What names and counts get, so that what stands behind is mostly in columns.
const (
	nameColumn   = 28
	countsColumn = len("0 errors, 0 warnings, 0 notes")
)

// Checked writes the line of a program: behind the counts the first error, and
// where there is none the cycle time.
func (l *Log) Checked(name string, r *rules.Result) error {
	var counts [rules.Error + 1]int
	for level := range counts {
		counts[level] = r.Count(rules.Level(level))
	}
	runs := append(l.t.counts(counts), run{text: silencedIn(r).String()})
	width := 0
	for _, r := range runs {
		width += widths.StringWidth(r.text)
	}
	runs = append(runs, run{text: strings.Repeat(" ", max(countsColumn-width, 0)+2)})
	for i := range r.Findings {
		if f := &r.Findings[i]; f.Level == rules.Error {
			return l.line(name, append(runs, run{text: fmt.Sprintf("%d:%d %s: %s", f.Line, f.Column, f.Rule.Name, clean(f.Message))})...)
		}
	}
	return l.line(name, append(runs, run{text: atLeast(r)}, run{l.t.styles.title, clock(r.Times.Total)})...)
}

// Failed writes the line of a program that could not be checked.
func (l *Log) Failed(name string, err error) error {
	return l.line(name, run{l.t.styles.level[rules.Error], "not checked"}, run{text: ": " + clean(err.Error())})
}

func (l *Log) line(name string, runs ...run) error {
	name = clean(name)
	pad := strings.Repeat(" ", max(nameColumn-widths.StringWidth(name), 0)+2)
	var cells []cell
	for _, r := range append([]run{{l.t.styles.quiet, l.time().Format(time.TimeOnly) + "  "}, {l.t.styles.title, name}, {text: pad}}, runs...) {
		cells = appendCells(cells, r.style, r.text)
	}
	l.t.cells(l.cut(cells))
	return l.t.out.Flush()
}

// cut leaves of a line what one row has room for.
func (l *Log) cut(cells []cell) []cell {
	const more = "..."
	if l.whole || widthOf(cells) <= l.t.width {
		return cells
	}
	room := l.t.width - len(more)
	for i, c := range cells {
		if room -= c.width; room < 0 {
			return appendCells(cells[:i:i], nil, more)
		}
	}
	return cells
}

// End says how many checks there were, and the cautions.
func (l *Log) End(checks int) error {
	l.t.line()
	l.t.flow(0, 0, run{l.t.styles.title, plural(checks, "check")})
	l.t.line()
	l.t.flow(0, 0, run{l.t.styles.quiet, Caution})
	return l.t.out.Flush()
}
