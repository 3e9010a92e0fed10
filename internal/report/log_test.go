package report

import (
	"bytes"
	"errors"
	"testing"
	"time"

	"tapefit/rules"
)

func TestLog(t *testing.T) {
	rule := &rules.Rule{Name: "gear-shift-in-cut"}
	found := &rules.Result{Findings: []rules.Finding{
		{Rule: rule, Level: rules.Warning, Line: 2, Column: 1, Message: "slow"},
		{Rule: rule, Level: rules.Error, Line: 14, Column: 5, Message: "M42 shifts\n the gear"},
		{Rule: rule, Level: rules.Error, Line: 15, Column: 1, Message: "and again"},
	}}
	quick := &rules.Result{}
	quick.Times.Total = 12.5
	for _, c := range []struct {
		width int
		whole bool
		write func(l *Log) error
		want  string
	}{
		{96, true, func(l *Log) error { return l.Checked("plate.nc", quick) },
			"07:05:09  plate.nc                      0 errors, 0 warnings, 0 notes  0:12.5\n"},
		{60, true, func(l *Log) error { return l.Checked("flange.nc", found) },
			"07:05:09  flange.nc                     2 errors, 1 warning, 0 notes   14:5 gear-shift-in-cut: M42 shifts the gear\n"},
		{76, false, func(l *Log) error { return l.Checked("flange.nc", found) },
			"07:05:09  flange.nc                     2 errors, 1 warning, 0 notes   14...\n"},
		{40, false, func(l *Log) error { return l.Checked("a/name that is longer than the column is.nc", quick) },
			"07:05:09  a/name that is longer than ...\n"},
		{96, true, func(l *Log) error { return l.Failed("new\x1b[2J\nline.nc", errors.New("permission\x07 denied")) },
			"07:05:09  new\uFFFD[2J line.nc               not checked: permission\uFFFD denied\n"},
		{200, true, func(l *Log) error { return l.End(3) }, "\n3 checks\n\n" + Caution + "\n"},
	} {
		var out bytes.Buffer
		l := NewText(&out, c.width, false).Log(c.whole)
		l.time = func() time.Time { return time.Date(2026, 3, 1, 7, 5, 9, 0, time.Local) }
		if err := c.write(l); err != nil {
			t.Fatal(err)
		}
		if got := out.String(); got != c.want {
			t.Errorf("%q\nnot %q", got, c.want)
		}
	}
}
