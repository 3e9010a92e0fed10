package lsp

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"tapefit/internal/interp"
	"tapefit/internal/report"
	"tapefit/parser"
	"tapefit/profiles"
)

// hover says what the word under the cursor does on the machine, what the block
// makes, and what is in force there.
func (s *Server) hover(ctx context.Context, params json.RawMessage) (any, error) {
	p, err := ask[atPosition](params)
	if err != nil {
		return nil, err
	}
	o := s.open(p.TextDocument.URI)
	if o == nil {
		return nil, nil
	}
	c := s.choose(o.text, o.path, o.settings)
	if c.machine == nil || c.machine.err != nil {
		return nil, nil
	}
	line := min(max(p.Position.Line, 0), len(o.text.starts)-1)
	seen, err := look(ctx, o, &c, line+1)
	if err != nil || seen.block == nil {
		return nil, err
	}
	at := int32(o.text.offset(p.Position) - int(seen.block.Offset))
	var b strings.Builder
	answer := &hover{}
	if i := wordAt(seen.block, at); i >= 0 {
		w := &seen.block.Words[i]
		r := o.text.span(int(seen.block.Offset)+int(w.Pos), int(seen.block.Offset)+int(w.End))
		answer.Range = &r
		tellWord(&b, c.Machine, seen, w)
	}
	seen.tell(&b, c.Machine)
	answer.Contents = markup{"markdown", strings.TrimRight(b.String(), "\n")}
	return answer, nil
}

// wordAt is the index of the word that byte at of the block is in or behind, or -1.
func wordAt(b *parser.Block, at int32) int {
	return slices.IndexFunc(b.Words, func(w parser.Word) bool { return w.Pos <= at && at < w.End })
}

// A seen is a block as the machine executes it, the first time.
type seen struct {
	block    *parser.Block // nil: the line holds none
	executed bool
	before   interp.State
	after    interp.State
	more     int           // operations beyond those
	faults   bool          // it was not executed as it is written
	unused   []int32       // places of words that nothing in it uses
	values   [26]reading   // of its words, by address
	dwell    float64       // s, of its first dwell
	centre   *interp.Point // of its first arc
	trace    *report.Trace
	out      bytes.Buffer
}

// mostOps bounds what is told of one block: a cycle makes many operations.
const mostOps = 6

// look walks the program on the machine to the end of the block in a line.
func look(ctx context.Context, o *opened, c *choice, line int) (*seen, error) {
	m := c.Machine
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	s := &seen{}
	s.trace = report.NewTrace(&s.out, m, false)
	src, size := o.reader(ctx)
	src, _, err := parser.Tape(src, size)
	if err != nil {
		return nil, err
	}
	var in *interp.Interp
	done := make(chan struct{})
	in = interp.New(m, interp.Options{Offsets: c.offsets, MaxBlocks: o.settings.MaxBlocks, Done: done}, interp.Visitor{
		Block: func(b *parser.Block) {
			if b.Line == line && s.block == nil {
				s.block = b.Clone()
			}
		},
		Exec: func(b *parser.Block) {
			if b.Line == line && !s.executed {
				s.block, s.before = b.Clone(), *in.State()
			}
		},
		After: func(b *parser.Block) {
			if b.Line == line && !s.executed {
				s.executed, s.after = true, *in.State()
				s.read(in)
				stop() // the rest need not be read
				close(done)
			}
		},
		Op: func(op *interp.Op) {
			if op.Block.Line != line || s.executed {
				return
			}
			s.note(op)
			if s.more++; s.more <= mostOps {
				s.trace.Op(op)
			}
		},
		Fault: func(f *interp.Fault) {
			if f.Block.Line != line {
				return
			}
			s.faults = true
			if f.Kind == interp.NotUsed {
				s.unused = append(s.unused, f.Pos)
			}
		},
	})
	_, err = in.Run(src, size)
	if s.executed {
		err = nil
	}
	return s, errors.Join(err, s.trace.Flush())
}

// tell writes what the block makes and what is in force behind it.
func (s *seen) tell(b *strings.Builder, m *profiles.Machine) {
	if !s.executed {
		if len(s.block.Words) > 0 {
			b.WriteString("This block is not executed.\n")
		}
		return
	}
	if s.out.Len() > 0 {
		b.WriteString("This block makes\n\n```text\n" + s.out.String())
		if s.more > mostOps {
			fmt.Fprintf(b, "and %d more\n", s.more-mostOps)
		}
		b.WriteString("```\n\n")
	}
	if s.faults {
		b.WriteString("It is not executed as it is written: see what was found here.\n\n")
	}
	b.WriteString("In force at the end of this block: " + strings.Join(inForce(m, &s.after), "; ") + ".\n")
}

// inForce tells a state, part by part.
func inForce(m *profiles.Machine, s *interp.State) []string {
	var all []string
	add := func(what interp.Unknown, text string) {
		if s.Unknown&what != 0 {
			return
		}
		if text != "" {
			all = append(all, text)
		}
	}
	add(interp.UnknownMotion, motion(s.Motion))
	add(interp.UnknownUnits, yes(s.Units == profiles.UnitsInch, "inch", "mm"))
	add(interp.UnknownDistance, s.Distance.String())
	add(interp.UnknownPlane, "plane "+s.Plane.String())
	add(interp.UnknownOffset, "work zero "+offsetCode(m, s.Offset))
	add(interp.UnknownComp, yes(s.Comp == profiles.CompOff, "no cutter compensation", s.Comp.String()))
	all = append(all, toolText(m, s), lengthText(s), spindleText(m, s))
	add(interp.UnknownGear, gearText(m, s))
	all = append(all, feedText(m, s), coolantText(s))
	if unknown := unknownParts(s); unknown != "" {
		all = append(all, "not known here: "+unknown)
	}
	return slices.DeleteFunc(all, func(text string) bool { return text == "" })
}

func motion(m profiles.Meaning) string {
	if m == profiles.Refused {
		return "no motion code"
	}
	return m.String()
}

func offsetCode(m *profiles.Machine, n int) string {
	if code := m.CodeFor(profiles.WorkOffset1 + profiles.Meaning(n)); code != "" {
		return code
	}
	return strconv.Itoa(n + 1)
}

func toolText(m *profiles.Machine, s *interp.State) string {
	if s.Tool < 0 || s.Unknown&interp.UnknownTool != 0 {
		return "tool not known"
	}
	return "tool " + toolName(m, s.Tool)
}

// toolName is a tool's number with what the profile calls it.
func toolName(m *profiles.Machine, n int) string {
	text := "T" + strconv.Itoa(n)
	for i := range m.Tools.Loaded {
		if t := &m.Tools.Loaded[i]; t.Number == n && t.Title != "" {
			return text + " (" + t.Title + ")"
		}
	}
	return text
}

func lengthText(s *interp.State) string {
	switch {
	case s.Unknown&interp.UnknownLength != 0 || s.LengthH < 0:
		return "length offset not known"
	case s.LengthH == 0:
		return "no length offset"
	}
	return "length offset H" + strconv.Itoa(s.LengthH)
}

func spindleText(m *profiles.Machine, s *interp.State) string {
	if s.Unknown&interp.UnknownSpindle != 0 || s.Spindle == interp.SpindleUnknown {
		return "spindle not known"
	}
	text := [...]string{interp.SpindleOff: "spindle off", interp.SpindleCW: "spindle clockwise", interp.SpindleCCW: "spindle counterclockwise"}[s.Spindle]
	switch {
	case s.Surface > 0:
		text += ", S " + report.Surface(m, s.Surface) + " at the surface"
		if s.Spindle != interp.SpindleOff && s.Unknown&interp.UnknownSpeed == 0 {
			text += ", " + rpm(s.Speed) + " here"
		}
		return text
	case s.Unknown&interp.UnknownSpeed != 0:
		return text + ", speed not known"
	case s.Speed > 0:
		return text + ", S " + number(s.Speed) + " rpm"
	}
	return text + ", no S"
}

func gearText(m *profiles.Machine, s *interp.State) string {
	if s.Gear < 0 || s.Gear >= len(m.Spindle.Gears) {
		return ""
	}
	return gearLine(&m.Spindle.Gears[s.Gear])
}

func feedText(m *profiles.Machine, s *interp.State) string {
	switch {
	case s.Unknown&(interp.UnknownFeed|interp.UnknownFeedMode) != 0:
		return "feed not known"
	case !s.FeedSet || s.Feed == 0:
		return "no F"
	case s.FeedMode == profiles.FeedPerRevolution:
		return "F " + report.Length(m, profiles.Length(s.Feed)) + " a turn"
	case s.FeedMode == profiles.FeedInverseTime:
		return "F one over " + number(1/(60*s.Feed)) + " min"
	}
	return "F " + report.Speed(m, profiles.Speed(s.Feed))
}

func coolantText(s *interp.State) string {
	switch {
	case s.Flood && s.Mist:
		return "flood and mist"
	case s.Flood:
		return "flood"
	case s.Mist:
		return "mist"
	}
	return "coolant off"
}

func unknownParts(s *interp.State) string {
	names := [...]string{"motion code", "plane", "distance mode", "feed mode", "units", "compensation", "retract level", "work zero"}
	var all []string
	for i, name := range names {
		if s.Unknown>>i&1 == 1 {
			all = append(all, name)
		}
	}
	return strings.Join(all, ", ")
}

// number is a number without needless zeros.
func number(v float64) string { return strconv.FormatFloat(math.Round(v*1e4)/1e4, 'f', -1, 64) }

// tellWord writes what a word does on the machine.
func tellWord(b *strings.Builder, m *profiles.Machine, s *seen, w *parser.Word) {
	text := string(s.block.Text(w.Pos, w.End))
	fmt.Fprintf(b, "**%s** on %s", strings.TrimSpace(text), m.Name)
	says, lines := wordText(m, s, w)
	if says != "" {
		b.WriteString(": " + says)
	}
	b.WriteString("\n\n")
	for _, line := range lines {
		b.WriteString("- " + line + "\n")
	}
	if len(lines) > 0 {
		b.WriteString("\n")
	}
}

// wordText is what a word does, and what the profile says of it.
func wordText(m *profiles.Machine, s *seen, w *parser.Word) (says string, lines []string) {
	if !m.Takes(w.Address) && w.Address != 'N' && w.Address != 'O' {
		return "the control does not take words with this letter", nil
	}
	if says, lines := argument(m, s, w); says != "" {
		return says, lines
	}
	if axis := strings.IndexByte(profiles.AxisLetters, w.Address); axis >= 0 {
		return axisText(m, &s.after, axis)
	}
	switch w.Address {
	case 'G', 'M':
		if w.Expr != nil {
			return "which code this is, the control computes", nil
		}
		tenths := int(math.Round(min(max(w.Value, 0), 1000) * 10))
		meaning := m.G(tenths)
		if w.Address == 'M' {
			meaning = m.M(tenths)
		}
		return plainly(meaning), known(m, meaning, tenths)
	case 'S':
		return speedWord(m, s, w)
	case 'F':
		return "the feed", feedLimits(m)
	case 'T':
		return "the tool", toolLines(m, int(w.Value), yes(m.Tools.Word == "tool-offset", "tool and offset at once", ""))
	case 'H':
		return "the number of a length offset", offsetLines(m, int(w.Value))
	case 'D':
		return "the number of a radius offset", offsetLines(m, int(w.Value))
	case 'N':
		return "the number of the block", nil
	case 'O':
		return "the number of the program", nil
	}
	return "", nil
}

func axisText(m *profiles.Machine, s *interp.State, i int) (says string, lines []string) {
	a := m.Axis(i)
	if a == nil {
		if m.Kind != "" {
			return "the machine has no such axis", nil
		}
		return "", nil
	}
	if len(a.Travel) == 2 {
		lines = append(lines, fmt.Sprintf("travel %s to %s in machine coordinates%s", report.AxisLength(m, i, a.Travel[0]), report.AxisLength(m, i, a.Travel[1]), byRadius(m, i)))
	}
	if a.Rapid > 0 {
		lines = append(lines, "rapid "+report.AxisSpeed(m, i, a.Rapid))
	}
	if a.Feed > 0 {
		lines = append(lines, "feed up to "+report.AxisSpeed(m, i, a.Feed))
	}
	if s.Known.Has(i) {
		at := profiles.Length(s.At[i])
		says = "the tool is at " + report.AxisLength(m, i, at) + " behind this block"
		if i == 0 && s.Diameter {
			says = "the tool is at a diameter of " + report.AxisLength(m, i, 2*at) + " behind this block"
		}
	}
	if s.MachineKnown.Has(i) {
		lines = append(lines, "that is "+report.AxisLength(m, i, profiles.Length(s.Machine[i]))+" in machine coordinates"+byRadius(m, i))
	}
	return says, lines
}

// byRadius says of X of a lathe that it goes as the slide moves.
func byRadius(m *profiles.Machine, i int) string {
	return yes(i == 0 && m.Kind == "lathe", ", by the radius", "")
}

func toolLines(m *profiles.Machine, n int, form string) (lines []string) {
	if form != "" {
		return []string{form}
	}
	for i := range m.Tools.Loaded {
		if t := &m.Tools.Loaded[i]; t.Number == n {
			return toolFacts(m, t)
		}
	}
	if len(m.Tools.Loaded) > 0 {
		return []string{"it is not among the loaded tools of the profile"}
	}
	return nil
}

func toolFacts(m *profiles.Machine, t *profiles.Tool) (lines []string) {
	if t.Title != "" {
		lines = append(lines, t.Title)
	}
	if t.Diameter > 0 {
		lines = append(lines, "diameter "+report.Length(m, t.Diameter))
	}
	if t.Length > 0 {
		lines = append(lines, "length "+report.Length(m, t.Length))
	}
	return lines
}

func offsetLines(m *profiles.Machine, n int) []string {
	if t := m.ToolOfD(n); t != nil && n != 0 {
		return toolFacts(m, t)
	}
	return nil
}
