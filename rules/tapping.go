package rules

import (
	"bytes"
	"fmt"
	"math"
	"slices"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
)

// tappings are the rules about tapping. They belong to the cycles.
func tappings() []*Rule {
	const head = "%\nG20\nT6 M6 (1/2-13 TAP)\nM41\nS208 M3\nG0 X0 Y0\nG43 H6 Z1.\n"
	return []*Rule{
		{
			Name: "tapping-feed-mismatch", Family: "cycles", Level: Error,
			Summary: "in a tapping cycle the feed is not the speed times the pitch",
			Doc: `A tap goes one pitch a turn, whatever the program says: F is S times the pitch. With another feed the tap is pushed or pulled along its own thread; held rigidly it strips the thread or breaks. Most often S was changed and F was not.

What pitch is meant is looked for in the comments of the tool's work or in the list of tools ("T6 1/2-13 TAP", "M8X1.25"), then in the tool's title in the profile. Where nothing names the thread, F over S is held against the pitches of ISO 261 and ASME B1.1 (the tables from memory); a pitch that stands in no table, but is a round number of mm or of threads an inch, is taken as meant. One tool that taps two pitches is told in any case. Half a per cent is taken for rounding. A feed a little short, up to five per cent, may be meant with a holder that gives: there the finding is a warning, as it is where only the profile or the tables speak.`,
			Uses: []string{"tools.loaded", "cycles"},
			Example: Example{"bed-mill",
				head + "G84 X0 Y0 Z-.5 R.25 F20.\nG80\nM30\n%\n",
				head + "G84 X0 Y0 Z-.5 R.25 F16.\nG80\nM30\n%\n"},
			New: newTapFeed,
		},
		{
			Name: "tapping-speed-near-shift", Family: "cycles", Level: Note,
			Summary: "tapping at a speed near the end of the gear, where the next one begins",
			Doc:     `In a tapping cycle the spindle reverses in the thread and the feed is tied to it. Within five per cent of the end of the gear that is in, an override that is not at 100 passes that end: where the control shifts by itself it may shift with the tap in the hole, and then the finding is a warning; where gears are shifted by code the spindle stays at the end of its gear. Tap slower, or in the gear in whose middle the speed lies.`,
			Uses:    []string{"spindle.gears", "spindle.shift"},
			Example: Example{"bed-mill",
				"%\nG20\nT6 M6\nM41\nS1080 M3\nG0 X0 Y0\nG43 H6 Z1.\nG84 X0 Y0 Z-.5 R.25 F83.08\nG80\nM30\n%\n",
				head + "G84 X0 Y0 Z-.5 R.25 F16.\nG80\nM30\n%\n"},
			New: newTapNear,
		},
	}
}

// rounding is the share by which F over S may differ from a pitch: F is written
// with few digits.
const rounding = 0.005

// giving is the share by which the feed is set short on purpose where the holder
// of the tap gives (common practice).
const giving = 0.05

// tapFeed knows what threads the text names and what each tool has tapped.
type tapFeed struct {
	m      *profiles.Machine
	listed map[int][]thread // in comments, by a tool number before them
	near   []placed         // in the comments since the tool change, or just before it
	tapped map[int]float64  // pitch by tool, mm
}

// A placed thread stands in the comment of a line.
type placed struct {
	thread
	line int
}

// Bounds of what is kept: no program names more.
const (
	mostListed = 200
	mostNear   = 20
)

func newTapFeed(m *profiles.Machine, _ *Options) Checker {
	if m.CodeFor(profiles.Tap) == "" {
		return Checker{}
	}
	t := &tapFeed{m: m, listed: map[int][]thread{}, tapped: map[int]float64{}}
	return Checker{State: []any{t}, Block: t.block, Op: t.op, Ops: Of(interp.Feed, interp.Tool), Steady: true}
}

// block reads the comments.
func (t *tapFeed) block(_ *Pass, b *parser.Block) {
	for i := range b.Comments {
		c := &b.Comments[i]
		t.comment(b.Text(c.Pos, c.End), b.Line)
	}
	if b.Kind == parser.Outside { // the leader of a tape
		t.comment(b.Raw, b.Line)
	}
}

// comment takes the threads that stand behind a tool number as that tool's, the
// others as those of the work around the comment.
func (t *tapFeed) comment(text []byte, line int) {
	tool, from := -1, 0
	take := func(part []byte) {
		for _, named := range threadsIn(part) {
			switch {
			case tool >= 0 && len(t.listed) < mostListed:
				t.listed[tool] = append(t.listed[tool], named)
			case tool < 0 && len(t.near) < mostNear:
				t.near = append(t.near, placed{named, line})
			}
		}
	}
	for i := 0; i < len(text); i++ {
		if n, end := toolNumber(text, i); end > i {
			take(text[from:i])
			tool, from = n, end
			i = end - 1
		}
	}
	take(text[from:])
}

// toolNumber reads T6, TOOL 6 or TOOL NO 6 at text[i:].
func toolNumber(text []byte, i int) (n, end int) {
	if text[i]|0x20 != 't' || i > 0 && wordByte(text[i-1]) {
		return 0, i
	}
	at := i + 1
	if word := []byte("OOL"); len(text) >= at+len(word) && bytes.EqualFold(text[at:at+len(word)], word) {
		at = pastBlanks(text, at+len(word))
	}
	v, end := number(text, at)
	if end == at || v != math.Trunc(v) {
		return 0, i
	}
	return int(v), end
}

func (t *tapFeed) op(p *Pass, op *interp.Op) {
	if op.Kind == interp.Tool {
		const before = 3 // lines before the change
		t.near = slices.DeleteFunc(t.near, func(c placed) bool { return c.line < op.Block.Line-before })
		return
	}
	if !op.Synchron || op.Lead > 0 || !op.InCycle {
		return
	}
	s := op.State
	pitch := op.PerRev
	if pitch == 0 {
		if op.Feed == 0 || !speedKnown(s) || s.Speed <= 0 {
			return
		}
		pitch = op.Feed * 60 / s.Speed
	}
	t.judge(p, op, pitch)
}

// judge holds a pitch against what is known of the tap, the surest first.
func (t *tapFeed) judge(p *Pass, op *interp.Op, pitch float64) {
	tool := op.State.Tool
	if named := t.named(tool); len(named) > 0 {
		if !fits(named, pitch) {
			t.say(p, op, pitch, named, "the text names")
		}
		return
	}
	before, again := t.tapped[tool]
	if !again && len(t.tapped) < mostListed {
		t.tapped[tool] = pitch
	}
	if again && !within(pitch, before, 2*rounding) && tool >= 0 {
		t.other(p, op, pitch, before)
		return
	}
	if titled := t.titled(tool); len(titled) > 0 {
		if !fits(titled, pitch) {
			t.say(p, op, pitch, titled, "the profile has as tool "+toolName(tool))
		}
		return
	}
	t.unnamed(p, op, pitch)
}

// named are the threads that the text names for the tool.
func (t *tapFeed) named(tool int) []thread {
	if len(t.near) == 0 {
		return t.listed[tool]
	}
	var list []thread
	for _, c := range t.near {
		list = append(list, c.thread)
	}
	return list
}

// titled is the thread in the title that the profile gives the tool.
func (t *tapFeed) titled(tool int) []thread {
	for i := range t.m.Tools.Loaded {
		if l := &t.m.Tools.Loaded[i]; l.Number == tool {
			return threadsIn([]byte(l.Title))
		}
	}
	return nil
}

func within(a, b, share float64) bool { return math.Abs(a-b) <= share*b }

func fits(list []thread, pitch float64) bool {
	return slices.ContainsFunc(list, func(t thread) bool { return within(pitch, t.pitch, rounding) })
}

// say is a pitch that is not that of the thread named.
func (t *tapFeed) say(p *Pass, op *interp.Op, pitch float64, list []thread, who string) {
	n := p.Note(math.Float64bits(pitch)^uint64(op.State.Tool+1), OpPlace(op))
	if n == nil {
		return
	}
	var names []string
	for _, th := range list {
		names = append(names, th.name)
	}
	want := list[0]
	n.Message = fmt.Sprintf("%s; %s %s, pitch %s", p.tapped(op, pitch), who, join(names, "or"), p.pitch(want.pitch))
	n.Advice = fmt.Sprintf("Program %s with this speed, or mend the speed.", t.feedWord(op, want.pitch))
	if len(list) > 1 {
		n.Advice = "Program F as the speed times the pitch of the thread that is meant."
	}
	fine := slices.ContainsFunc(want.fine, func(f float64) bool { return within(pitch, f, rounding) })
	switch {
	case fine:
		n.Level = Warning
		n.Message += fmt.Sprintf("; %s is a fine pitch of %s", p.pitch(pitch), want.name)
		n.Advice += " If the fine thread is meant, name it with its pitch."
	case who != "the text names":
		n.Level = Warning
	case pitch < want.pitch && within(pitch, want.pitch, giving):
		n.Level = Warning
		n.Advice += " Leave a feed that is short on purpose, for a holder that gives."
	}
}

// other is a tap that goes another pitch than before.
func (t *tapFeed) other(p *Pass, op *interp.Op, pitch, before float64) {
	if n := p.Note(math.Float64bits(pitch)^uint64(op.State.Tool+1), OpPlace(op)); n != nil {
		n.Message = fmt.Sprintf("%s; tool %d has tapped at %s before", p.tapped(op, pitch), op.State.Tool, p.pitch(before))
		n.Advice = fmt.Sprintf("A tap has one pitch: program %s with this speed if the first was right.", t.feedWord(op, before))
	}
}

// unnamed holds the pitch against the tables.
func (t *tapFeed) unnamed(p *Pass, op *interp.Op, pitch float64) {
	near := nearestPitch(pitch)
	if within(pitch, near, rounding) || isRound(pitch/0.05) || isRound(25.4/pitch) {
		return
	}
	n := p.Note(math.Float64bits(pitch)^uint64(op.State.Tool+1), OpPlace(op))
	if n == nil {
		return
	}
	n.Level = Warning
	n.Message = fmt.Sprintf("%s; no standard thread has that pitch, the nearest is %s", p.tapped(op, pitch), p.pitch(near))
	n.Advice = "Check speed and feed: F is S times the pitch of the tap."
	if within(pitch, near, giving) {
		n.Advice = fmt.Sprintf("If that is the tap, program %s with this speed.", t.feedWord(op, near))
	}
}

// isRound says whether v is a whole number of some size, but for what rounding F
// leaves.
func isRound(v float64) bool { return v >= 3 && math.Abs(v-math.Round(v)) <= 0.0005*v && v < 100 }

// tapped says what the program has.
func (p *Pass) tapped(op *interp.Op, pitch float64) string {
	if op.PerRev > 0 {
		return fmt.Sprintf("tapping at %s a revolution", p.pitch(pitch))
	}
	return fmt.Sprintf("tapping at %s and S%s goes %s a turn", p.feed(op.Feed), rpm(op.State.Speed), p.pitch(pitch))
}

// pitch writes a pitch; in inches with the threads that lie in one, or with the
// mm where those are the rounder.
func (p *Pass) pitch(mm float64) string {
	switch {
	case p.Machine.Display != "inch":
		return trim(mm, 3) + " mm"
	case !isRound(25.4/mm) && isRound(mm/0.05):
		return fmt.Sprintf("%s in (%s mm)", trim(mm/25.4, 4), trim(mm, 2))
	}
	return fmt.Sprintf("%s in (%s threads an inch)", trim(mm/25.4, 4), trim(25.4/mm, 2))
}

// feedWord is the F that gives a pitch, in the program's units.
func (t *tapFeed) feedWord(op *interp.Op, pitch float64) string {
	unit := 1.0
	if op.State.Units == profiles.UnitsInch {
		unit = 25.4
	}
	if op.PerRev > 0 {
		return "F" + trim(pitch/unit, 4)
	}
	return "F" + trim(pitch*op.State.Speed/unit, 2)
}

// nearEnd is the share of a gear's end within which an override passes it.
const nearEnd = 0.05

func newTapNear(m *profiles.Machine, _ *Options) Checker {
	if len(m.Spindle.Gears) < 2 || m.Spindle.Shift == "by-hand" || m.CodeFor(profiles.Tap) == "" {
		return Checker{}
	}
	return Checker{Op: tapNear, Ops: Of(interp.Feed), Steady: true}
}

func tapNear(p *Pass, op *interp.Op) {
	if !op.Synchron || op.Lead > 0 || !op.InCycle {
		return
	}
	s, m := op.State, p.Machine
	i := gearIn(s)
	if i < 0 || !speedKnown(s) || !m.Spindle.Gears[i].Reaches(s.Speed) {
		return // other rules speak
	}
	low, high, _ := speedRange(m)
	for _, v := range m.Spindle.Gears[i].Speed {
		end := float64(v)
		if end <= low || end >= high || !within(s.Speed, end, nearEnd) {
			continue
		}
		n := p.Note(math.Float64bits(s.Speed)^uint64(i), OpPlace(op))
		if n == nil {
			return
		}
		n.Message = fmt.Sprintf("tapping at S%s, and gear %s ends at %s rpm", rpm(s.Speed), m.Spindle.Gears[i].Name, rpm(end))
		n.Advice = "Tap at a speed further from it, or leave the override of the spindle at 100."
		if m.Spindle.Shift == "automatic" {
			n.Level = Warning
			n.Message += ": with the override turned the control may shift in the thread"
		}
		return
	}
}
