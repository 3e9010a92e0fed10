package report

import (
	"fmt"
	"strconv"

	"tapefit/rules"
)

// Time writes where the time of one program goes.
func (t *Text) Time(r *rules.Result) error {
	t.heading(r)
	t.line()
	times := &r.Times
	for _, part := range []struct {
		name    string
		seconds float64
		always  bool
	}{
		{"cutting", times.Cutting, true},
		{"rapid", times.Rapid, true},
		{"dwell", times.Dwell, false},
		{"tool change", times.ToolChange, false},
		{"gear shift", times.GearShift, false},
		{"spindle", times.Spindle, false},
		{"other", times.Other, false},
	} {
		if part.always || part.seconds > 0 {
			t.share(part.name, part.seconds, times.Total)
		}
	}
	t.flow(2, 4, run{t.styles.title, fmt.Sprintf("%-*s%*s", nameWidth, "total", clockWidth, clock(times.Total))}, run{text: onlyLeast(r)})
	if times.Waiting > 0 {
		t.line()
		t.flow(2, 4, run{t.styles.level[rules.Warning], clock(times.Waiting)},
			run{text: fmt.Sprintf(" (%s) of cutting and rapid is waiting: the axes stand or creep until the control has read the next block.",
				percent(times.Waiting, times.Total))})
	}
	t.byTool(r)
	t.line()
	counted := ""
	if times.OperatorStops > 0 {
		counted = ", counted and not timed"
	}
	t.flow(2, 4, run{text: stops(times.OperatorStops)}, run{t.styles.quiet, counted})
	t.speedless(r.Machine)
	if n := times.UnknownMoves - times.UnknownCuts; n > 0 {
		t.flow(2, 4, run{text: plural(n, "traverse") + " from or to an unknown place: timed along the known axes only"})
	}
	t.untimed(r)
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

// Columns of the table.
const (
	nameWidth  = 14
	clockWidth = 9
)

func (t *Text) share(name string, seconds, total float64) {
	t.flow(2, 4, run{text: fmt.Sprintf("%-*s%*s  %5s", nameWidth, name, clockWidth, clock(seconds), percent(seconds, total))})
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
