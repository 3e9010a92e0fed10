package report

import (
	"bytes"
	"encoding/json"
	"math"
	"reflect"
	"strings"
	"testing"
	"unicode/utf8"

	"tapefit/internal/motion"
	"tapefit/profiles"
	"tapefit/rules"
)

// documented is the form as the contract writes it, with every key once. It is
// read back below, so that a key more or less on either side is found.
const documented = `{ "schema": 1,
  "programs": [ {
    "path": "...", "machine": "...", "blocks": 0,
    "counts": { "error": 0, "warning": 0, "note": 0 },
    "findings": [ { "rule": "...", "level": "error", "line": 1, "column": 1,
                    "end_line": 1, "end_column": 1, "count": 1,
                    "message": "...", "advice": "..." } ],
    "time": { "total_s": 0, "cutting_s": 0, "rapid_s": 0, "dwell_s": 0, "tool_change_s": 0,
              "gear_shift_s": 0, "spindle_s": 0, "other_s": 0, "operator_stops": 0,
              "tools": [ { "tool": 1, "total_s": 0, "cutting_s": 0 } ] },
    "extents": { "x": [0, 0], "y": [0, 0], "z": [0, 0] } } ] }`

// keys lists the keys of a JSON text as paths, in order.
func keys(t *testing.T, text string) []string {
	t.Helper()
	d := json.NewDecoder(strings.NewReader(text))
	var paths []string
	var walk func(path string)
	walk = func(path string) {
		token, err := d.Token()
		if err != nil {
			t.Fatal(err)
		}
		switch token {
		case json.Delim('{'):
			for d.More() {
				key, err := d.Token()
				if err != nil {
					t.Fatal(err)
				}
				paths = append(paths, path+"."+key.(string))
				walk(path + "." + key.(string))
			}
			d.Token()
		case json.Delim('['):
			for d.More() {
				walk(path + "[]")
			}
			d.Token()
		}
	}
	walk("")
	return paths
}

// whole is a result in which every key has a value.
func whole() *rules.Result {
	r := flange()
	r.Findings = r.Findings[:1]
	r.Times.Tools = []motion.ToolTime{{Tool: 3, Total: 1, Cutting: 0.5}}
	r.Extents = [profiles.NumAxes]rules.Range{{Set: true, Max: 1}, {Set: true, Max: 2}, {Set: true, Min: -57.657999999999994}}
	return r
}

func encode(t *testing.T, write func(*JSON) error) string {
	t.Helper()
	var out bytes.Buffer
	j := NewJSON(&out)
	if err := write(j); err != nil {
		t.Fatal(err)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	if !utf8.Valid(out.Bytes()) || !json.Valid(out.Bytes()) {
		t.Fatalf("no valid JSON: %q", out.String())
	}
	return out.String()
}

func TestJSONKeysAreTheDocumented(t *testing.T) {
	got := keys(t, encode(t, func(j *JSON) error { return j.Check(whole()) }))
	if want := keys(t, documented); !reflect.DeepEqual(got, want) {
		t.Errorf("keys\n%q\nwant\n%q", got, want)
	}
}

func TestJSONOfTime(t *testing.T) {
	got := keys(t, encode(t, func(j *JSON) error { return j.Time(whole()) }))
	var want []string
	for _, key := range keys(t, documented) {
		if !strings.Contains(key, "counts") && !strings.Contains(key, "findings") && !strings.Contains(key, "extents") {
			want = append(want, key)
		}
	}
	for _, key := range []string{"at_least", "naive_s", "lost_s", "below_feed_s", "waiting_s", "stretches"} { // beside what check has
		want = append(want, ".programs[]."+key)
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("keys\n%q\nwant\n%q", got, want)
	}
}

func TestJSONValues(t *testing.T) {
	got := encode(t, func(j *JSON) error { return j.Check(whole()) })
	want := `{"schema":1,"programs":[
{"path":"programs/flange.ngc","machine":"bed-mill","blocks":412,"counts":{"error":1,"warning":0,"note":0},` +
		`"findings":[{"rule":"speed-between-gears","level":"error","line":12,"column":6,"end_line":48,"end_column":11,"count":4,` +
		`"message":"no gear reaches S1250: low (M41) ends at 1100 rpm, high (M42) begins at 1400 rpm","advice":"Program S1100 or S1400."}],` +
		`"time":{"total_s":4325.2,"cutting_s":0,"rapid_s":0,"dwell_s":0,"tool_change_s":0,"gear_shift_s":0,"spindle_s":0,"other_s":0,` +
		`"operator_stops":2,"tools":[{"tool":3,"total_s":1,"cutting_s":0.5}]},"extents":{"x":[0,1],"y":[0,2],"z":[-57.658,0]}}
]}
`
	same(t, got, want)
}

func TestJSONOfNothing(t *testing.T) {
	if got := encode(t, func(*JSON) error { return nil }); got != "{\"schema\":1,\"programs\":[\n]}\n" {
		t.Errorf("%q", got)
	}
	// Empty lists are lists, unknown axes are left out.
	got := encode(t, func(j *JSON) error { return j.Check(&rules.Result{Path: "a", Machine: mill}) })
	for _, want := range []string{`"findings":[]`, `"tools":[]`, `"extents":{}`} {
		if !strings.Contains(got, want) {
			t.Errorf("no %s in %s", want, got)
		}
	}
}

// Programs of any bytes and planners of any numbers still give JSON.
func TestJSONOfBadTextAndNumbers(t *testing.T) {
	r := whole()
	r.Path = "caf\xe9 & <co>.nc"
	r.Findings[0].Message = "\x00\xff\u2028 \"quoted\""
	r.Times = motion.Times{Total: math.NaN(), Cutting: math.Inf(1), Tools: []motion.ToolTime{{Total: math.Inf(-1)}}}
	r.Extents[0].Min = math.NaN()
	r.Extents[1].Max = math.Inf(1)
	r.Extents[2].Max = math.MaxFloat64
	got := encode(t, func(j *JSON) error {
		if err := j.Check(r); err != nil {
			return err
		}
		return j.Check(r)
	})
	var decoded struct {
		Programs []struct {
			Path     string
			Findings []struct{ Message string }
			Extents  map[string][2]float64
		}
	}
	if err := json.Unmarshal([]byte(got), &decoded); err != nil {
		t.Fatal(err)
	}
	p := decoded.Programs[1]
	if len(decoded.Programs) != 2 || p.Path != "caf\uFFFD & <co>.nc" || p.Findings[0].Message != "\x00\uFFFD\u2028 \"quoted\"" {
		t.Errorf("%+v", decoded)
	}
	if want := map[string][2]float64{"z": {-57.658, math.MaxFloat64}}; !reflect.DeepEqual(p.Extents, want) {
		t.Errorf("extents %v, want %v", p.Extents, want)
	}
}
