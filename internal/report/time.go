package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"tapefit/internal/estimate"
	"tapefit/internal/motion"
	"tapefit/rules"
)

// Time writes where the time of one program goes.
func (t *Text) Time(r *rules.Result) error {
	t.heading(r)
	t.line()
	times := &r.Times
	for _, part := range timeParts(times) {
		if part.always || part.seconds > 0 {
			t.share(part.name, part.seconds, times.Total)
		}
	}
	t.flow(2, 4, run{t.styles.title, fmt.Sprintf("%-*s%*s", nameWidth, "total", clockWidth, clock(times.Total))}, run{text: onlyLeast(r)})
	t.beyondNaive(r)
	t.byTool(r)
	t.stretches(r)
	t.line()
	counted := ""
	if times.OperatorStops+times.HandShifts > 0 {
		counted = ", counted and not timed"
	}
	t.flow(2, 4, run{text: stops(times.OperatorStops) + belts(times)}, run{t.styles.quiet, counted + byHand(r)})
	t.speedless(r.Machine)
	if n := times.UnknownMoves - times.UnknownCuts; n > 0 {
		t.flow(2, 4, run{text: plural(n, "traverse") + " from or to an unknown place: timed along the known axes only"})
	}
	t.untimed(r)
	if hasSpeeds(r.Machine) {
		t.timeless(r, 2, "the program")
	}
	t.line()
	t.sum.add(r)
	return t.out.Flush()
}

func onlyLeast(r *rules.Result) string {
	if r.Incomplete() {
		return "  at least"
	}
	return ""
}

// A timePart is one kind of thing that takes time.
type timePart struct {
	name    string
	seconds float64
	always  bool // told also where it is nothing
}

func timeParts(t *motion.Times) []timePart {
	return []timePart{
		{"cutting", t.Cutting, true},
		{"rapid", t.Rapid, true},
		{"dwell", t.Dwell, false},
		{"tool change", t.ToolChange, false},
		{"gear shift", t.GearShift, false},
		{"spindle", t.Spindle, false},
		{"other", t.Other, false},
	}
}

// Columns of the table.
const (
	nameWidth  = 14
	clockWidth = 9
)

// share is a row of the table with its bar.
func (t *Text) share(name string, seconds, total float64) {
	row := fmt.Sprintf("%-*s%*s  %5s  ", nameWidth, name, clockWidth, clock(seconds), percent(seconds, total))
	bar := ""
	if room := min(t.width-2-len(row), longestBar); room > 0 && total > 0 {
		bar = strings.Repeat("#", int(math.Round(seconds/total*float64(room))))
	}
	t.flow(2, 4, run{text: row}, run{t.styles.quiet, bar})
}

// longestBar is that of the whole, in columns.
const longestBar = 50

// beyondNaive says what the machine takes beyond length over feed, and by what.
func (t *Text) beyondNaive(r *rules.Result) {
	times := &r.Times
	moving := times.Cutting + times.Rapid
	if beyond := moving - times.Naive; beyond >= 0.05 && beyond >= moving/1000 {
		t.line()
		t.flow(2, 4, run{text: fmt.Sprintf("Length over feed says %s for cutting and rapid; the machine takes %s more:",
			clock(times.Naive), clock(beyond))})
		type part struct {
			name    string
			seconds float64
		}
		var parts []part
		for limit, seconds := range times.Lost {
			if seconds >= 0.05 {
				parts = append(parts, part{motion.Limit(limit).String(), seconds})
			}
		}
		slices.SortStableFunc(parts, func(a, b part) int { return cmp.Compare(b.seconds, a.seconds) })
		for _, p := range parts {
			t.flow(4, 6, run{text: fmt.Sprintf("%-*s%*s", limitWidth, p.name, clockWidth, clock(p.seconds))})
		}
	}
	if times.BelowFeed > 0 && times.Cutting > 0 {
		t.line()
		t.flow(2, 4, run{text: fmt.Sprintf("%s of cutting (%s) goes at less than 90 %% of the programmed feed", clock(times.BelowFeed), percent(times.BelowFeed, times.Cutting))})
	}
}

// limitWidth is the width of the column of limits.
const limitWidth = 26

// stretches are the costliest, with what holds each back.
func (t *Text) stretches(r *rules.Result) {
	list := costliest(r)
	if len(list) == 0 {
		return
	}
	t.line()
	t.flow(2, 4, run{t.styles.quiet, fmt.Sprintf("%-18s%-6s%*s%*s  %s", "costliest lines", "tool", clockWidth, "total", clockWidth+1, "lost", "held back by")})
	for _, s := range list {
		tool := "?"
		if s.Tool >= 0 {
			tool = toolName(s.Tool)
		}
		t.flow(2, 4, run{text: fmt.Sprintf("%-18s%-6s%*s%*s  %s", linesOf(&s), tool, clockWidth, clock(s.Seconds), clockWidth+1, clock(s.Lost), s.Limit)})
	}
}

// costliest are the stretches that are worth telling: a hundredth of the time and
// more.
func costliest(r *rules.Result) []motion.Stretch {
	for i := range r.Stretches {
		if r.Stretches[i].Seconds < r.Times.Total/100 {
			return r.Stretches[:i]
		}
	}
	return r.Stretches
}

// linesOf are the lines of a stretch: "41 to 52".
func linesOf(s *motion.Stretch) string {
	if s.EndLine > s.Line {
		return fmt.Sprintf("%d to %d", s.Line, s.EndLine)
	}
	return strconv.Itoa(s.Line)
}

// belts are those that the operator moves for each part.
func belts(t *motion.Times) string {
	if t.HandShifts == 0 {
		return ""
	}
	return " and " + plural(t.HandShifts, "belt move")
}

// byHand is what the shop reckons for what operators do.
func byHand(r *rules.Result) string {
	seconds := estimate.AtMachine(&r.Machine.Quote, &r.Times)
	if seconds == 0 {
		return ""
	}
	return "; the shop reckons " + clock(seconds) + " for them"
}

func (t *Text) byTool(r *rules.Result) {
	if len(r.Times.Tools) == 0 {
		return
	}
	t.line()
	t.flow(2, 4, run{t.styles.quiet, fmt.Sprintf("%-*s%*s%*s", nameWidth, "by tool", clockWidth, "total", clockWidth+2, "cutting")})
	for _, tool := range r.Times.Tools {
		name := "T" + strconv.Itoa(tool.Tool)
		if tool.Tool < 0 {
			name = "unknown"
		}
		t.flow(2, 4, run{text: fmt.Sprintf("%-*s%*s%*s", nameWidth, name, clockWidth, clock(tool.Total),
			clockWidth+2, clock(tool.Cutting))})
	}
}

// percent is a share in whole percents. What is not nothing is not called 0.
func percent(part, whole float64) string {
	p := part / whole * 100
	switch {
	case whole <= 0 || part <= 0:
		return "0 %"
	case p < 1:
		return "<1 %"
	}
	return fixed(p, 0) + " %"
}

// EndTime writes what the programs take together. unread is how many could not
// be read, left how many were not looked at.
func (t *Text) EndTime(unread, left int) error {
	s := &t.sum
	if s.programs+unread+left > 1 {
		t.flow(0, 0, run{t.styles.title, plural(s.programs, "program") + " timed"})
		t.together()
		t.missing(unread, left)
	}
	return t.out.Flush()
}

// together says what all programs take.
func (t *Text) together() {
	if t.sum.programs > 0 {
		t.flow(2, 4, run{text: least(&t.sum)}, run{t.styles.title, clock(t.sum.seconds)}, run{text: " and " + stops(t.sum.stops) + " together"})
	}
}

func least(s *sum) string {
	if s.incomplete {
		return "at least "
	}
	return ""
}

// missing says of how many programs nothing is told.
func (t *Text) missing(unread, left int) {
	if unread > 0 {
		t.flow(2, 4, run{t.styles.level[rules.Error], plural(unread, "program") + " could not be read"})
	}
	if left > 0 {
		t.flow(2, 4, run{t.styles.level[rules.Error], plural(left, "program") + " not looked at, or not to the end: interrupted"})
	}
}
