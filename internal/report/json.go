package report

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"unicode"

	"tapefit/internal/motion"
	"tapefit/profiles"
	"tapefit/rules"
)

// JSON writes reports for programs: one object, whose "programs" come one at a
// time and a line each, so that a thousand need no more memory than one.
type JSON struct {
	out    *bufio.Writer
	begun  bool
	unread []jsonUnread // of a comparison
}

// Schema is the version of the form. It grows when a key is renamed, removed
// or changes its meaning, and not when one is added.
const Schema = 1

// NewJSON writes to w. Each program is flushed when it is whole.
func NewJSON(w io.Writer) *JSON { return &JSON{out: bufio.NewWriter(w)} }

// The types below are the form, in the order of its documents.
type (
	jsonCheck struct {
		Path     string        `json:"path"`
		Machine  string        `json:"machine"`
		Set      []string      `json:"set,omitempty"` // over the machine's profile
		Blocks   int           `json:"blocks"`
		Counts   jsonCounts    `json:"counts"`
		Findings []jsonFinding `json:"findings"`
		Time     jsonTime      `json:"time"`
		Extents  jsonExtents   `json:"extents"`
	}
	jsonTimed struct {
		Path    string   `json:"path"`
		Machine string   `json:"machine"`
		Set     []string `json:"set,omitempty"` // over the machine's profile
		Blocks  int      `json:"blocks"`
		Time    jsonTime `json:"time"`
		AtLeast bool     `json:"at_least"` // something is left out of the time
		// Naive is cutting and rapid by length over feed, Lost what they take beyond
		// it, by what; Below is cutting at less than 90 % of the feed.
		Naive     float64            `json:"naive_s"`
		Lost      map[string]float64 `json:"lost_s"`
		Below     float64            `json:"below_feed_s"`
		Waiting   float64            `json:"waiting_s"`
		Stretches []jsonStretch      `json:"stretches"`
	}
	jsonStretch struct {
		Line    int     `json:"line"`
		EndLine int     `json:"end_line"`
		Tool    int     `json:"tool"` // -1: unknown
		Total   float64 `json:"total_s"`
		Cutting float64 `json:"cutting_s"`
		Lost    float64 `json:"lost_s"`
		Limit   string  `json:"limit"`
	}
	jsonCounts struct {
		Error   int `json:"error"`
		Warning int `json:"warning"`
		Note    int `json:"note"`
	}
	jsonFinding struct {
		Rule      string `json:"rule"`
		Level     string `json:"level"`
		Line      int    `json:"line"`
		Column    int    `json:"column"`
		EndLine   int    `json:"end_line"`
		EndColumn int    `json:"end_column"`
		Count     int    `json:"count"`
		Message   string `json:"message"`
		Advice    string `json:"advice"`
		New       bool   `json:"new,omitempty"`  // in a comparison
		Gone      bool   `json:"gone,omitempty"` // in a comparison
	}
	jsonTime struct {
		Total         float64    `json:"total_s"`
		Cutting       float64    `json:"cutting_s"`
		Rapid         float64    `json:"rapid_s"`
		Dwell         float64    `json:"dwell_s"`
		ToolChange    float64    `json:"tool_change_s"`
		GearShift     float64    `json:"gear_shift_s"`
		Spindle       float64    `json:"spindle_s"`
		Other         float64    `json:"other_s"`
		OperatorStops int        `json:"operator_stops"`
		BeltMoves     int        `json:"belt_moves,omitempty"` // by hand, for each part of a lot
		Tools         []jsonTool `json:"tools"`
	}
	jsonTool struct {
		Tool    int     `json:"tool"`
		Total   float64 `json:"total_s"`
		Cutting float64 `json:"cutting_s"`
	}
	// jsonExtents are least and greatest by axis, nil where none is known.
	jsonExtents [profiles.NumAxes]*[2]float64
)

// Check writes the report of one program.
func (j *JSON) Check(r *rules.Result) error { return j.program(jsonChecked(r)) }

func jsonChecked(r *rules.Result) jsonCheck {
	return jsonCheck{
		Path:     r.Path,
		Machine:  r.Machine.Name,
		Set:      r.Machine.Settings,
		Blocks:   r.Blocks,
		Counts:   jsonCounts{r.Count(rules.Error), r.Count(rules.Warning), r.Count(rules.Note)},
		Findings: jsonFindings(r.Findings),
		Time:     jsonTimes(&r.Times),
		Extents:  jsonRanges(r),
	}
}

// Time writes the times of one program.
func (j *JSON) Time(r *rules.Result) error {
	t := &r.Times
	timed := jsonTimed{
		Path: r.Path, Machine: r.Machine.Name, Set: r.Machine.Settings, Blocks: r.Blocks, Time: jsonTimes(t), AtLeast: r.Incomplete(),
		Naive: finite(t.Naive), Lost: map[string]float64{}, Below: finite(t.BelowFeed), Waiting: finite(t.Waiting),
		Stretches: []jsonStretch{},
	}
	for limit, seconds := range t.Lost {
		if seconds > 0 {
			timed.Lost[motion.Limit(limit).String()] = finite(seconds)
		}
	}
	for _, s := range r.Stretches {
		timed.Stretches = append(timed.Stretches, jsonStretch{s.Line, s.EndLine, s.Tool, finite(s.Seconds), finite(s.Cutting), finite(s.Lost), s.Limit.String()})
	}
	return j.program(timed)
}

// Close ends the object. It belongs behind the last program, also behind none.
func (j *JSON) Close() error {
	if !j.begun {
		j.begin()
	}
	j.out.WriteString("\n]}\n")
	return j.out.Flush()
}

func (j *JSON) begin() {
	fmt.Fprintf(j.out, `{"schema":%d,"programs":[`, Schema)
	j.begun = true
}

func (j *JSON) program(p any) error {
	if j.begun {
		j.out.WriteByte(',')
	} else {
		j.begin()
	}
	j.out.WriteByte('\n')
	// Marshal replaces what is not UTF-8; numbers are finite by the time they
	// are here, so it cannot fail.
	text, err := marshal(p)
	if err != nil {
		return fmt.Errorf("writing JSON: %w", err)
	}
	j.out.Write(text)
	return j.out.Flush()
}

// marshal leaves <, > and & as they are: this is no web page.
func marshal(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	err := e.Encode(v)
	return steerless(bytes.TrimRight(b.Bytes(), "\n")), err
}

// steerless escapes in JSON what the encoder leaves and a terminal may obey: the
// control characters from 7F to 9F, and those that turn the direction of text.
func steerless(text []byte) []byte {
	steers := func(r rune) bool { return r >= 0x7f && r <= 0x9f || unicode.Is(unicode.Bidi_Control, r) }
	if bytes.IndexFunc(text, steers) < 0 {
		return text
	}
	var b bytes.Buffer
	for _, r := range string(text) {
		if steers(r) {
			fmt.Fprintf(&b, `\u%04x`, r)
			continue
		}
		b.WriteRune(r)
	}
	return b.Bytes()
}

func jsonFindings(findings []rules.Finding) []jsonFinding {
	all := make([]jsonFinding, len(findings)) // not nil: that would be null
	for i := range findings {
		f := &findings[i]
		all[i] = jsonFinding{Rule: f.Rule.Name, Level: f.Level.String(), Line: f.Line, Column: f.Column,
			EndLine: f.EndLine, EndColumn: f.EndColumn, Count: f.Count, Message: f.Message, Advice: f.Advice}
	}
	return all
}

func jsonTimes(t *motion.Times) jsonTime {
	tools := make([]jsonTool, len(t.Tools))
	for i, tool := range t.Tools {
		tools[i] = jsonTool{tool.Tool, finite(tool.Total), finite(tool.Cutting)}
	}
	return jsonTime{finite(t.Total), finite(t.Cutting), finite(t.Rapid), finite(t.Dwell), finite(t.ToolChange),
		finite(t.GearShift), finite(t.Spindle), finite(t.Other), t.OperatorStops, t.HandShifts, tools}
}

// finite is v, or 0 where JSON has no number for it.
func finite(v float64) float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	return v
}

func jsonRanges(r *rules.Result) jsonExtents {
	var e jsonExtents
	for i, axis := range r.Extents {
		if known(axis) {
			e[i] = &[2]float64{rounded(axis.Min), rounded(axis.Max)}
		}
	}
	return e
}

// rounded drops what is below a millionth: it comes of adding up increments
// and of inches in mm, and is no place.
func rounded(v float64) float64 {
	if r := math.Round(v*1e6) / 1e6; finite(r) == r {
		return r
	}
	return v
}

// known says whether a range has two numbers in it.
func known(r rules.Range) bool { return r.Set && finite(r.Min) == r.Min && finite(r.Max) == r.Max }

// MarshalJSON writes the axes that are known, in their order.
func (e jsonExtents) MarshalJSON() ([]byte, error) {
	b := []byte{'{'}
	for i, axis := range e {
		if axis == nil {
			continue
		}
		if len(b) > 1 {
			b = append(b, ',')
		}
		pair, err := json.Marshal(axis)
		if err != nil {
			return nil, err
		}
		b = fmt.Appendf(b, `"%c":%s`, profiles.AxisLetters[i]|0x20, pair)
	}
	return append(b, '}'), nil
}
