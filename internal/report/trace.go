package report

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strconv"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// A Trace writes operations as they come, one a line: text in the units that
// the machine's people read, X as a diameter where the program's X words are,
// or JSON Lines in mm and mm/min as the design has them, X always as the slide
// moves. It keeps the first error of writing and writes nothing after it.
type Trace struct {
	w     *bufio.Writer
	m     *profiles.Machine
	units units
	axes  []int
	json  bool
	buf   []byte
	err   error
}

// NewTrace writes to w; Flush writes out what is left.
func NewTrace(w io.Writer, m *profiles.Machine, json bool) *Trace {
	t := &Trace{w: bufio.NewWriterSize(w, 1<<16), m: m, units: unitsOf(m), json: json}
	all := m.AllAxes()
	for i := range profiles.NumAxes {
		if all>>i&1 == 1 {
			t.axes = append(t.axes, i)
		}
	}
	return t
}

// Flush writes out what is left and gives the first error of writing.
func (t *Trace) Flush() error {
	if err := t.w.Flush(); t.err == nil {
		t.err = err
	}
	return t.err
}

// Op writes one operation.
func (t *Trace) Op(op *interp.Op) {
	if t.err != nil {
		return
	}
	t.buf = t.buf[:0]
	if t.json {
		t.jsonLine(op)
	} else {
		t.textLine(op)
	}
	t.buf = append(t.buf, '\n')
	_, t.err = t.w.Write(t.buf)
}

// jsonLine appends the operation as a JSON object. An axis whose place is not
// known is null.
func (t *Trace) jsonLine(op *interp.Op) {
	s := op.State
	t.buf = append(t.buf, `{"line":`...)
	t.buf = strconv.AppendInt(t.buf, int64(op.Block.Line), 10)
	t.buf = append(t.buf, `,"op":"`...)
	t.buf = append(t.buf, opName(op.Kind)...)
	t.buf = append(t.buf, '"')
	switch op.Kind {
	case interp.Traverse, interp.Feed, interp.Arc:
		t.jsonMove(op)
	case interp.Dwell, interp.Auxiliary:
		t.number("seconds", op.Seconds)
	case interp.Spindle:
		t.text("state", spindleName(s.Spindle))
		t.number("speed", s.Speed)
		if s.Surface > 0 {
			t.number("surface", s.Surface*60/1000)
		}
	case interp.Tool:
		t.number("tool", float64(s.Tool))
	case interp.Gear:
		t.text("gear", t.gear(s.Gear))
	case interp.Coolant:
		t.text("state", coolantName(s))
	case interp.Stop:
		t.text("kind", stopName(op.StopKind))
	}
	t.buf = append(t.buf, '}')
}

func (t *Trace) jsonMove(op *interp.Op) {
	t.buf = append(t.buf, `,"to":{`...)
	for n, i := range t.axes {
		if n > 0 {
			t.buf = append(t.buf, ',')
		}
		t.buf = append(t.buf, '"', profiles.AxisLetters[i]|0x20, '"', ':')
		if op.ToKnown.Has(i) {
			t.buf = appendNumber(t.buf, op.To[i])
		} else {
			t.buf = append(t.buf, "null"...)
		}
	}
	t.buf = append(t.buf, '}')
	if op.Kind == interp.Arc {
		first, second, _ := op.Plane.Axes()
		t.buf = append(t.buf, `,"center":{`...)
		for n, i := range [2]int{min(first, second), max(first, second)} {
			if n > 0 {
				t.buf = append(t.buf, ',')
			}
			t.buf = append(t.buf, '"', profiles.AxisLetters[i]|0x20, '"', ':')
			t.buf = appendNumber(t.buf, op.Center[i])
		}
		t.buf = append(t.buf, '}')
		t.text("plane", op.Plane.String())
		t.number("turns", float64(op.Turns))
		t.buf = append(t.buf, `,"cw":`...)
		t.buf = strconv.AppendBool(t.buf, op.CW)
	}
	if op.Kind != interp.Traverse {
		t.number("feed", op.Feed*60)
	}
}

func (t *Trace) number(name string, v float64) {
	t.buf = append(append(append(t.buf, ',', '"'), name...), '"', ':')
	t.buf = appendNumber(t.buf, v)
}

func (t *Trace) text(name, v string) {
	t.buf = append(append(append(t.buf, ',', '"'), name...), '"', ':')
	t.buf = strconv.AppendQuote(t.buf, v)
}

// appendNumber writes v to nine decimals at most: a thousandth of a nanometre.
// JSON has no number for what is not finite.
func appendNumber(buf []byte, v float64) []byte {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return append(buf, "null"...)
	}
	v = math.Round(v*1e9) / 1e9
	if v == 0 {
		v = 0 // not -0
	}
	return strconv.AppendFloat(buf, v, 'f', -1, 64)
}

// textLine appends the operation for people.
func (t *Trace) textLine(op *interp.Op) {
	t.buf = fmt.Appendf(t.buf, "%6d  %-9s ", op.Block.Line, opName(op.Kind))
	s := op.State
	switch op.Kind {
	case interp.Traverse, interp.Feed, interp.Arc:
		t.textMove(op)
	case interp.Dwell, interp.Auxiliary:
		t.buf = fmt.Appendf(t.buf, "%g s", op.Seconds)
	case interp.Spindle:
		t.buf = append(t.buf, spindleName(s.Spindle)...)
		switch {
		case s.Spindle == interp.SpindleOff:
		case s.Surface > 0:
			t.buf = fmt.Appendf(t.buf, " %s at the surface", t.units.surface(s.Surface))
		case !s.SpeedSet:
			t.buf = append(t.buf, " S?"...)
		default:
			t.buf = fmt.Appendf(t.buf, " S%g", s.Speed)
		}
	case interp.Tool:
		t.buf = fmt.Appendf(t.buf, "T%d", s.Tool)
		if op.Manual {
			t.buf = append(t.buf, " by hand"...)
		}
	case interp.Gear:
		t.buf = append(t.buf, t.gear(s.Gear)...)
	case interp.Coolant:
		t.buf = append(t.buf, coolantName(s)...)
	case interp.Stop:
		t.buf = append(t.buf, stopName(op.StopKind)...)
	}
}

func (t *Trace) textMove(op *interp.Op) {
	for _, i := range t.axes {
		if !op.Moves.Has(i) {
			continue
		}
		t.buf = append(t.buf, ' ')
		if op.ToKnown.Has(i) {
			t.place(op, i, op.To[i])
		} else {
			t.buf = append(t.buf, profiles.AxisLetters[i], '?')
		}
	}
	if op.Kind == interp.Arc {
		first, second, _ := op.Plane.Axes()
		way := "ccw"
		if op.CW {
			way = "cw"
		}
		t.buf = fmt.Appendf(t.buf, "  %s about ", way)
		t.place(op, first, op.Center[first])
		t.buf = append(t.buf, ' ')
		t.place(op, second, op.Center[second])
	}
	if op.Kind != interp.Traverse {
		t.feed(op)
	}
}

// place appends a place along axis i, and whether it is a diameter or the radius.
func (t *Trace) place(op *interp.Op, i int, v float64) {
	what := ""
	switch {
	case i == 0 && op.State.Diameter:
		v, what = 2*v, " dia."
	case i == 0 && t.m.Kind == "lathe":
		what = " radius"
	}
	t.buf = append(t.buf, profiles.AxisLetters[i])
	if i >= firstRotary {
		t.buf = strconv.AppendFloat(t.buf, v, 'f', 3, 64)
	} else {
		t.buf = append(t.buf, t.units.number(v)...)
	}
	t.buf = append(t.buf, what...)
}

// feed appends the feed as F has it.
func (t *Trace) feed(op *interp.Op) {
	scale, per := t.units.scale, op.PerRev
	if op.Moves&interp.XYZ == 0 {
		scale = 1 // degrees
	}
	if op.Lead > 0 {
		per = op.Lead
	}
	switch {
	case !(op.Feed > 0):
		t.buf = append(t.buf, "  F?"...)
	case op.PerRev > 0:
		t.buf = fmt.Appendf(t.buf, "  F%s/rev", short(per/scale, t.units.decimals+1))
	default:
		t.buf = fmt.Appendf(t.buf, "  F%s", short(op.Feed*60/scale, 2))
	}
}

func (t *Trace) gear(i int) string {
	if i < 0 || i >= len(t.m.Spindle.Gears) {
		return "unknown"
	}
	return t.m.Spindle.Gears[i].Name
}

func opName(k interp.OpKind) string {
	return [...]string{"traverse", "feed", "arc", "dwell", "spindle", "tool", "gear", "coolant", "stop", "auxiliary"}[k]
}

func spindleName(s interp.SpindleState) string {
	return [...]string{"unknown", "off", "cw", "ccw"}[s]
}

func coolantName(s *interp.State) string {
	switch {
	case s.Flood:
		return "flood"
	case s.Mist:
		return "mist"
	}
	return "off"
}

func stopName(k interp.StopKind) string {
	return [...]string{"program", "optional", "pallet", "manual", "end"}[k]
}

// faultNames say in a few words what a fault is; check tells the whole.
var faultNames = [interp.NumFaultKinds]string{
	interp.Unreadable:        "cannot be read",
	interp.NotAccepted:       "is not accepted",
	interp.CycleNotAccepted:  "is a canned cycle that is not accepted",
	interp.Conflict:          "contradicts another word of the block",
	interp.NotUsed:           "is used by nothing in the block",
	interp.Missing:           "lacks a word that it needs",
	interp.ArcRadius:         "has unlike radii at start and end",
	interp.ArcForm:           "is an arc in a form that is not accepted",
	interp.ArcQuadrant:       "crosses a quadrant",
	interp.BadValue:          "has a value that cannot be used",
	interp.BadExpression:     "has no value",
	interp.SubprogramMissing: "calls a program that is not in the file",
	interp.CallTooDeep:       "calls too deep",
	interp.Runaway:           "is where the budget of blocks is spent",
	interp.NoMotion:          "names axes with no motion mode in force",
	interp.TooManyM:          "is one M code too many",
	interp.NotAProgram:       "is where reading ends: this is no part program",
	interp.NotInterpreted:    "is not computed",
	interp.CompForbidden:     "is not allowed in compensation",
	interp.CompUnknown:       "compensates a tool whose diameter is not in the profile",
	interp.CompEntryShort:    "begins compensation on a move shorter than the tool's radius",
	interp.CompArcSmall:      "is an arc too small for the tool",
	interp.CompGouge:         "lets the compensated tool cut into the contour",
	interp.CompInside:        "makes an inside corner, which is not accepted in compensation",
	interp.JumpMissing:       "leads to a sequence number that is not there",
	interp.LoopUnmatched:     "is half a loop",
	interp.ToolChangeFault:   "runs a tool-change program that cannot be run whole",
	interp.ParamVacant:       "is a parameter that nothing has set",
	interp.ReturnMissing:     "begins a subprogram that runs out without its return",
}

// FaultLine is a fault as one line for standard error: place, text, what is
// wrong.
func FaultLine(path string, f *interp.Fault) string {
	text := string(f.Block.Text(f.Pos, f.End))
	const longest = 60
	if len(text) > longest {
		text = text[:longest] + "..."
	}
	line := fmt.Sprintf("%s:%d:%d: %q %s", clean(path), f.Block.Line, f.Pos+1, text, faultNames[f.Kind])
	if f.Kind == interp.Unreadable {
		line += ": " + f.Cause
	}
	return line
}
