package lsp

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"tapefit/internal/interp"
	"tapefit/internal/report"
	"tapefit/parser"
	"tapefit/profiles"
)

// A reading is a number of the block as the control reads it.
type reading struct {
	ok     bool
	value  float64 // in the units of the program
	length float64 // mm, of a word that is a length
}

// read keeps the numbers of the block that was executed last.
func (s *seen) read(in *interp.Interp) {
	for i := range s.values {
		address := byte('A' + i)
		v := &s.values[i]
		if v.value, v.ok = in.Value(address); v.ok {
			v.length, _ = in.Length(address)
		}
	}
}

// note keeps what of the operations of the block tells what its words mean.
func (s *seen) note(op *interp.Op) {
	switch {
	case op.Kind == interp.Dwell && s.dwell == 0:
		s.dwell = op.Seconds
	case op.Kind == interp.Arc && s.centre == nil:
		at := op.Center
		s.centre = &at
	}
}

// code is what the block's first G code of the modal group means; Refused where it
// has none.
func (s *seen) code(m *profiles.Machine, group profiles.Group) profiles.Meaning {
	for i := range s.block.Words {
		w := &s.block.Words[i]
		if w.Address != 'G' || w.Expr != nil {
			continue
		}
		if meaning := m.G(tenths(w)); meaning.Group() == group && meaning > profiles.Accepted {
			return meaning
		}
	}
	return profiles.Refused
}

// calls says whether the block calls a subprogram.
func (s *seen) calls(m *profiles.Machine) bool {
	return slices.ContainsFunc(s.block.Words, func(w parser.Word) bool {
		return w.Address == 'M' && w.Expr == nil && m.M(tenths(&w)) == profiles.CallSubprogram
	})
}

func tenths(w *parser.Word) int { return int(math.Round(min(max(w.Value, 0), 999) * 10)) }

// argument is what a word means whose letter has a meaning by the code that takes it:
// that of its block, or the one that is in force. It says nothing where that is not
// known.
func argument(m *profiles.Machine, s *seen, w *parser.Word) (says string, lines []string) {
	if strings.IndexByte("DFIJKLPQRUVWXZ", w.Address) < 0 || !s.executed {
		return "", nil
	}
	if slices.Contains(s.unused, w.Pos) {
		return "nothing in this block uses it", nil
	}
	a := arguments{m, s, w}
	nonModal := s.code(m, profiles.NonModal)
	switch {
	case nonModal == profiles.DwellHere:
		return a.ofDwell()
	case nonModal == profiles.SetData:
		return a.ofData(), nil
	case nonModal.IsTurning():
		return a.ofTurning(nonModal)
	case nonModal == profiles.CallArguments || s.calls(m):
		return a.ofCall(nonModal == profiles.CallArguments), nil
	case s.code(m, profiles.ScaleGroup) == profiles.ScaleOn || s.code(m, profiles.RotateGroup) == profiles.RotateOn:
		return a.ofTransform(), nil
	case strings.IndexByte(m.Words.Incremental, w.Address) >= 0:
		return a.away()
	case s.after.Ended || s.after.Unknown&interp.UnknownMotion != 0:
		return "", nil
	}
	switch motion := s.after.Motion; {
	case motion == profiles.ArcCW || motion == profiles.ArcCCW:
		return a.ofArc()
	case motion.IsCycle():
		return a.ofCycle(motion)
	case (motion == profiles.Thread || motion == profiles.ThreadPassCycle) && w.Address == a.lead(motion):
		return "the lead of the thread" + a.length(), nil
	case w.Address == 'R' && (motion == profiles.TurnCycle || motion == profiles.ThreadPassCycle):
		return "the taper: the radius at the start of the pass less that at its end" + a.length(), nil
	case w.Address == 'R' && motion == profiles.FaceCycle:
		return "the taper: Z at the start of the pass less that at its end" + a.length(), nil
	}
	return "", nil
}

// arguments are words of one block.
type arguments struct {
	m *profiles.Machine
	s *seen
	w *parser.Word
}

func (a *arguments) at(letter byte) *reading { return &a.s.values[letter-'A'] }

// length is the value as a length, with a comma in front; "" where it is not known.
func (a *arguments) length() string {
	v := a.at(a.w.Address)
	if !v.ok || a.s.after.Unknown&interp.UnknownUnits != 0 {
		return ""
	}
	return ", " + report.Length(a.m, profiles.Length(v.length))
}

// count is the value as a number that counts.
func (a *arguments) count() (n int64, ok bool) {
	v := a.w.Value
	if a.w.Expr != nil {
		k := a.at(a.w.Address)
		if !k.ok {
			return 0, false
		}
		v = k.value
	}
	return int64(v), v == math.Trunc(v) && math.Abs(v) < 1e9
}

// times is the value as how often something is done.
func (a *arguments) times() string {
	n, ok := a.count()
	switch {
	case !ok:
		return ""
	case n == 1:
		return ", once"
	}
	return fmt.Sprintf(", %d times", n)
}

func (a *arguments) seconds() string {
	if a.s.dwell == 0 {
		return ""
	}
	return ", " + number(a.s.dwell) + " s"
}

// repeat is the address that repeats cycles and calls.
func (a *arguments) repeat() byte {
	if a.m.Block.Repeat == "K" {
		return 'K'
	}
	return 'L'
}

// lead is the address of a thread's lead.
func (a *arguments) lead(motion profiles.Meaning) byte {
	if motion == profiles.Thread && a.m.Turning.ThreadLead == "K" {
		return 'K'
	}
	return 'F'
}

// dwellUnit says in what the control reads a dwell word; a cycle reads P in s where
// the profile says nothing.
func dwellUnit(m *profiles.Machine, address byte) []string {
	switch m.DwellUnit(address) {
	case 1:
		return []string{"this control reads it in seconds"}
	case 1e-3:
		return []string{"this control reads it in thousandths of a second"}
	}
	return nil
}

func (a *arguments) ofDwell() (string, []string) {
	for _, letter := range []byte("PXU") { // the first that stands in the block counts
		if a.m.DwellUnit(letter) != 0 && a.s.block.Word(letter) != nil {
			if letter != a.w.Address {
				break
			}
			return "how long it waits" + a.seconds(), dwellUnit(a.m, letter)
		}
	}
	return "", nil
}

func (a *arguments) ofData() string {
	n, ok := a.count()
	switch {
	case a.w.Address == 'L' && ok && n == 2:
		return "what is set: 2 stands for a work zero"
	case a.w.Address == 'P' && ok && n >= 1 && n <= 9:
		return "which work zero is set: " + offsetCode(a.m, int(n-1))
	}
	return ""
}

// ofCall are the words of a call. Those of one with arguments are mostly parameters
// of the program called.
func (a *arguments) ofCall(arguments bool) string {
	n, ok := a.count()
	digits := a.m.Block.Call == "digits" && !arguments
	repeat := a.repeat()
	if arguments {
		repeat = 'L'
	}
	switch {
	case a.w.Address == 'P' && ok && digits:
		times := "once"
		if n >= 20000 {
			times = fmt.Sprintf("%d times", n/10000)
		}
		return fmt.Sprintf("the program that is called, O%d, %s: the last four digits name it, those in front say how often", n%10000, times)
	case a.w.Address == 'P' && ok:
		return fmt.Sprintf("the program that is called, O%d", n)
	case a.w.Address == repeat && !digits:
		return "how often the program is called" + a.times()
	}
	return ""
}

func (a *arguments) ofTransform() string {
	switch {
	case a.w.Address == 'R' && a.s.code(a.m, profiles.RotateGroup) == profiles.RotateOn:
		return "the angle by which places are turned, in degrees"
	case a.s.code(a.m, profiles.ScaleGroup) != profiles.ScaleOn:
	case a.w.Address == 'P':
		return "the factor by which X, Y and Z are scaled"
	case a.w.Address >= 'I' && a.w.Address <= 'K':
		return "the factor by which " + profiles.AxisLetters[a.w.Address-'I':a.w.Address-'I'+1] + " is scaled"
	}
	return ""
}

// away are U V W as distances.
func (a *arguments) away() (string, []string) {
	i := int(a.w.Address - 'U')
	says := "a distance along " + profiles.AxisLetters[i:i+1] + " from where the tool stands, whatever the distance mode"
	if i == 0 && a.s.after.Diameter {
		says += ", on the diameter"
	}
	where, lines := axisText(a.m, &a.s.after, i)
	if where != "" {
		lines = append([]string{where}, lines...)
	}
	return says, lines
}

func (a *arguments) ofArc() (string, []string) {
	if a.w.Address == 'R' {
		return a.radius()
	}
	if a.w.Address < 'I' || a.w.Address > 'K' || a.s.after.Unknown&interp.UnknownPlane != 0 {
		return "", nil
	}
	i := int(a.w.Address - 'I')
	if first, second, _ := a.s.after.Plane.Axes(); i != first && i != second {
		return "", nil
	}
	axis := profiles.AxisLetters[i : i+1]
	says := map[string]string{
		"absolute": "where the centre of the arc is along " + axis,
		"unsigned": "how far the centre of the arc is from its start along " + axis + ", without sign",
	}[a.m.Arcs.Centre]
	if says == "" {
		says = "how far the centre of the arc is from its start along " + axis
	}
	says += a.length() + byRadius(a.m, i)
	if a.s.centre == nil {
		return says, nil
	}
	return says, []string{"the centre is at " + report.Place(a.m, i, a.s.centre[i])}
}

// radius is R of an arc.
func (a *arguments) radius() (string, []string) {
	var lines []string
	if !a.m.Arcs.Radius {
		lines = append(lines, a.m.Name+" refuses R in arcs: it wants the centre")
	}
	v := a.at('R')
	if !v.ok || v.length == 0 || a.s.after.Unknown&interp.UnknownUnits != 0 {
		return "the radius of the arc", lines
	}
	which := "the arc of no more than half a circle"
	if v.length < 0 {
		which = "the arc of more than half a circle, by the minus sign"
	}
	return "the radius of the arc, " + report.Length(a.m, profiles.Length(math.Abs(v.length))) + ": " + which, lines
}

// ofCycle are the words of a canned cycle.
func (a *arguments) ofCycle(cycle profiles.Meaning) (string, []string) {
	form := a.m.CycleForm(cycle)
	letter := a.w.Address
	if letter == a.repeat() && !strings.ContainsRune(form.Needs, rune(letter)) {
		return "how often the cycle is made" + a.times(), nil
	}
	if !form.Has(letter) {
		return "", nil
	}
	normal := byte('Z')
	if _, _, n := a.s.after.Plane.Axes(); a.m.Kind != "lathe" || a.m.Takes(profiles.AxisLetters[n]) {
		normal = profiles.AxisLetters[n]
	}
	const idle = "this cycle makes no use of it"
	switch letter {
	case 'R':
		if a.m.Control.CycleR == "initial" || a.s.after.Distance == profiles.Incremental {
			return fmt.Sprintf("how far the level at which the feed begins is from that at the call, along %c", normal) + a.length(), nil
		}
		return fmt.Sprintf("the level at which the feed begins, along %c", normal) + a.length(), nil
	case 'Q':
		return a.peck(cycle, form, idle)
	case 'P':
		switch cycle {
		case profiles.Drill, profiles.BoreFeedOut, profiles.Peck, profiles.ChipBreak:
			return idle, nil
		}
		lines := dwellUnit(a.m, 'P')
		if lines == nil {
			lines = []string{"this control reads it in seconds"}
		}
		return "how long it stays at the bottom" + a.seconds(), lines
	case 'I', 'J', 'K':
		if cycle != profiles.BackBore {
			return "", nil
		}
		if axis := profiles.AxisLetters[letter-'I']; axis != normal {
			return fmt.Sprintf("how far beside the hole the tool goes in, along %c", axis) + a.length(), nil
		}
		return fmt.Sprintf("up to where it bores from below, along %c", normal), nil
	}
	return "", nil
}

// peck is Q of a cycle.
func (a *arguments) peck(cycle profiles.Meaning, form profiles.Cycle, idle string) (string, []string) {
	var line string
	switch cycle {
	case profiles.Peck:
		line = "after each it goes out to R"
		if form.ClearPeck > 0 {
			line += ", and back to " + report.Length(a.m, form.ClearPeck) + " above the last depth"
		}
	case profiles.ChipBreak:
		line = "after each it goes back by " + report.Length(a.m, form.ClearPeck)
	default:
		return idle, nil
	}
	return "the depth of one peck" + a.length(), []string{line}
}
