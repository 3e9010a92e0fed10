package report

import (
	"bytes"
	"encoding/json"
	"errors"
	"reflect"
	"strings"
	"testing"

	"tapefit/internal/motion"
	"tapefit/profiles"
	"tapefit/rules"
)

var (
	refusedCode = &rules.Rule{Name: "code-not-accepted", Level: rules.Error}
	sharedSpeed = &rules.Rule{Name: "speed-straddles-gear", Level: rules.Warning}
	worthNoting = &rules.Rule{Name: "silence-unused", Level: rules.Note}
)

// moved are programs that go from one mill to another, in the order of their
// rows.
func moved() []*rules.Comparison {
	speeds := profiles.AxisTable{X: &profiles.Axis{Rapid: 100}}
	now := &profiles.Machine{Name: "new-mill", Axes: speeds, Settings: []string{"axes.x.rapid=4 in/s"}}
	was := &profiles.Machine{Name: "old-mill", Axes: speeds}
	finding := func(r *rules.Rule, line int, message string) rules.Finding {
		return rules.Finding{Rule: r, Level: r.Level, Line: line, Column: 4, EndLine: line, EndColumn: 7, Count: 1, Message: message, Advice: "Mend it."}
	}
	on := func(path string, m *profiles.Machine, seconds float64, stops int, findings ...rules.Finding) *rules.Result {
		return &rules.Result{Path: path, Machine: m, Blocks: 9, Findings: findings, Times: motion.Times{Total: seconds, OperatorStops: stops}}
	}
	g95 := finding(refusedCode, 3, "G95 is not accepted by new-mill")
	g93 := finding(refusedCode, 5, "G93 is not accepted")
	again := finding(refusedCode, 8, "G95 is not accepted by new-mill")
	speed := finding(sharedSpeed, 6, "S950 lies in two gears")
	note := finding(worthNoting, 7, "silences nothing")
	return []*rules.Comparison{
		rules.Compare(on("jobs/a.nc", now, 61, 2), on("jobs/a.nc", was, 62, 0)),
		rules.Compare(on("jobs/b.nc", now, 7, 0, speed, note), on("jobs/b.nc", was, 4000, 0)),
		rules.Compare(on("jobs/deep/c.nc", now, 1, 0, g95, speed), on("jobs/deep/c.nc", was, 33, 0)),
		rules.Compare(on("jobs/deep/d.nc", now, 1, 0, g95, again), on("jobs/deep/d.nc", was, 2, 0, g93)),
		rules.Compare(on("jobs/e.nc", now, 1, 0, g93), on("jobs/e.nc", was, 2, 0, g93)),
		rules.Compare(on("jobs/f.nc", now, 5, 0), on("jobs/f.nc", was, 2, 0, g93)),
	}
}

func compareText(t *testing.T, width int) string {
	t.Helper()
	var out bytes.Buffer
	all := moved()
	paths := []string{"jobs/gone.nc"}
	for _, c := range all {
		paths = append(paths, c.Now.Path)
	}
	table, err := NewText(&out, width, false).Changes(all[0].Now.Machine, all[0].Was.Machine, paths)
	if err != nil {
		t.Fatal(err)
	}
	var tally rules.Tally
	for _, c := range all {
		if err := table.Program(c); err != nil {
			t.Fatal(err)
		}
		tally.Add(c)
	}
	if err := table.Unread("jobs/gone.nc", errors.New("jobs/gone.nc: no such file")); err != nil {
		t.Fatal(err)
	}
	if err := table.End(&tally, 12); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

func TestCompareText(t *testing.T) {
	same(t, compareText(t, 100), `From old-mill to new-mill --set axes.x.rapid=4 in/s, 7 programs below jobs

                       was       now  errors  program
  fits both         1:02.0    1:01.0          a.nc
  fits both        1:06:40    0:07.0          b.nc       1 new warning, 6:4 speed-straddles-gear
  newly refused     0:33.0    0:01.0+     +1  deep/c.nc  3:4 code-not-accepted, 1 new warning
  refused by both   0:02.0+   0:01.0+  +2 -1  deep/d.nc  3:4 code-not-accepted
  refused by both   0:02.0+   0:01.0+   same  e.nc
  now fits          0:02.0+   0:05.0      -1  f.nc       was 5:4 code-not-accepted
  not read               -         -       -  gone.nc    no such file

  by rule                          new programs   gone programs
  error    code-not-accepted         3        2      2        2
       3 x G95 is not accepted by new-mill
  warning  speed-straddles-gear      2        2      -        -

6 programs compared
  fits both 2, newly refused 1, now fits 1, refused by both 2
  those that fit both: 1:08.0 together, was 1:07:42
  not in the times: 2 operator stops, was 0
  1 program could not be read
  12 programs not looked at, or not to the end: interrupted

+ at least: what is refused or not known is not in the time. Whatever is said or not said here,
prove the program out: dry run above the part, single block, a hand on feed hold.
`)
}

// On narrow paper a row goes on below; nothing is wider and nothing is cut off.
func TestCompareTextNarrow(t *testing.T) {
	words := func(text string) []string { return strings.Fields(text) }
	wide := words(compareText(t, 200))
	for _, width := range []int{80, 60, 40} {
		narrow := compareText(t, width)
		for line := range strings.Lines(narrow) {
			if len(strings.TrimRight(line, "\n")) > width {
				t.Errorf("%d columns: %q", width, line)
			}
		}
		if got := words(narrow); !reflect.DeepEqual(got, wide) {
			t.Errorf("%d columns: other words:\n%s", width, narrow)
		}
	}
}

func TestFolderOf(t *testing.T) {
	for _, tt := range []struct {
		paths []string
		want  string
	}{
		{nil, ""},
		{[]string{"a.nc"}, ""},
		{[]string{"jobs/a.nc", "jobs/deep/b.nc"}, "jobs"},
		{[]string{"jobs/deep/b.nc", "jobs/a.nc"}, "jobs"},
		{[]string{"jobs/a.nc", "jobs2/a.nc"}, ""},
		{[]string{"jobs/a.nc", "-"}, ""},
		{[]string{"/a.nc", "/b/c.nc"}, "/"},
		{[]string{"/jobs/a.nc", "b.nc"}, ""},
		{[]string{"../jobs/a.nc", "../jobs/b.nc"}, "../jobs"},
	} {
		if got := folderOf(tt.paths); got != tt.want {
			t.Errorf("%q: %q, want %q", tt.paths, got, tt.want)
		}
	}
}

// documentedComparison has every key that a comparison adds to the report of
// check, once.
const documentedComparison = `{ "schema": 1,
  "programs": [ {
    "path": "...", "machine": "...", "set": ["..."], "blocks": 0,
    "counts": { "error": 0, "warning": 0, "note": 0 },
    "findings": [ { "rule": "...", "level": "error", "line": 1, "column": 1,
                    "end_line": 1, "end_column": 1, "count": 1,
                    "message": "...", "advice": "...", "new": true } ],
    "time": { "total_s": 0, "cutting_s": 0, "rapid_s": 0, "dwell_s": 0, "tool_change_s": 0,
              "gear_shift_s": 0, "spindle_s": 0, "other_s": 0, "operator_stops": 0, "tools": [] },
    "extents": {},
    "change": "refused-by-both",
    "was": {
      "machine": "...", "blocks": 0,
      "counts": { "error": 0, "warning": 0, "note": 0 },
      "findings": [ { "rule": "...", "level": "error", "line": 1, "column": 1,
                      "end_line": 1, "end_column": 1, "count": 1,
                      "message": "...", "advice": "...", "gone": true } ],
      "time": { "total_s": 0, "cutting_s": 0, "rapid_s": 0, "dwell_s": 0, "tool_change_s": 0,
                "gear_shift_s": 0, "spindle_s": 0, "other_s": 0, "operator_stops": 0, "tools": [] },
      "extents": {} } } ],
  "unread": [ { "path": "...", "message": "..." } ],
  "rules": [ { "rule": "...", "level": "error", "new": 0, "new_programs": 0, "gone": 0, "gone_programs": 0,
               "messages": [ { "message": "...", "count": 1 } ] } ],
  "changes": { "fits-both": 0, "newly-refused": 0, "now-fits": 0, "refused-by-both": 0 },
  "not_looked_at": 0 }`

func TestCompareJSON(t *testing.T) {
	var out bytes.Buffer
	j := NewJSON(&out)
	j.Failed("jobs/gone.nc", errors.New("jobs/gone.nc: no such file"))
	j.Failed("", errors.New("interrupted"))
	var tally rules.Tally
	d := moved()[3]
	d.Now.Findings = d.Now.Findings[:1]
	c := rules.Compare(d.Now, d.Was)
	tally.Add(c)
	if err := j.Compare(c); err != nil {
		t.Fatal(err)
	}
	if err := j.EndCompare(&tally, 12); err != nil {
		t.Fatal(err)
	}
	if got, want := keys(t, out.String()), keys(t, documentedComparison); !reflect.DeepEqual(got, want) {
		t.Errorf("keys\n%q\nwant\n%q", got, want)
	}
	var read struct {
		Programs []struct {
			Change   string
			Findings []struct {
				Rule string
				New  bool
			}
			Was struct {
				Machine  string
				Findings []struct{ Gone bool }
			}
		}
		Unread  []struct{ Path, Message string }
		Rules   []map[string]any
		Changes map[string]int
		Left    int `json:"not_looked_at"`
	}
	if err := json.Unmarshal(out.Bytes(), &read); err != nil {
		t.Fatalf("%v\n%s", err, out.String())
	}
	p := read.Programs[0]
	if p.Change != "refused-by-both" || !p.Findings[0].New || p.Was.Machine != "old-mill" || !p.Was.Findings[0].Gone ||
		len(read.Unread) != 1 || read.Changes["refused-by-both"] != 1 || len(read.Changes) != int(rules.NumChanges) || read.Left != 12 {
		t.Errorf("%+v\n%s", read, out.String())
	}
}

// Without a program it is still one object with all its lists.
func TestCompareJSONEmpty(t *testing.T) {
	var out bytes.Buffer
	if err := NewJSON(&out).EndCompare(new(rules.Tally), 0); err != nil {
		t.Fatal(err)
	}
	same(t, out.String(), `{"schema":1,"programs":[
],
"unread":[],"rules":[],"changes":{"fits-both":0,"newly-refused":0,"now-fits":0,"refused-by-both":0},"not_looked_at":0}
`)
}
