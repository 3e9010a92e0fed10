package adapt

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
	"tapefit/rules"
)

// wordList are the words of a block by what they are for. One is reused.
type wordList struct {
	g, m   []int // indices of G and M words, apart from N and O
	stops  []int // of M words: stops, the end
	o      int   // index of O; -1: none
	hasS   bool
	hasT   bool
	hasF   bool
	spin   profiles.Meaning // the spindle code; Refused: none
	change bool             // a tool change
	gear   int              // index of a gear code; -1: none
	left   bool             // the spindle code stands for one that a person wants left out
	axes   interp.AxisSet   // axis words
	away   interp.AxisSet   // of those the ones that are distances: U, V and W
	nonMod profiles.Meaning // the code that is for the block alone
	motion profiles.Meaning // the motion code; Refused: none
	ends   bool             // the end of a cycle stands beside it
}

func (l *wordList) sort(b *parser.Block, a *adapter) {
	*l = wordList{g: l.g[:0], m: l.m[:0], stops: l.stops[:0], o: -1, gear: -1}
	for i := range b.Words {
		switch w := &b.Words[i]; w.Address {
		case 'N':
		case 'O':
			l.o = i
		case 'G':
			l.sortG(i, meaningG(a.from, w))
		case 'M':
			l.sortM(i, w, a)
		case 'S':
			l.hasS = true
		case 'T':
			l.hasT = true
		case 'F':
			l.hasF = true
		default:
			for axis := range profiles.NumAxes {
				if profiles.AxisLetters[axis] == w.Address && a.unused>>i&1 == 0 {
					l.axes |= 1 << axis
				}
			}
			if strings.IndexByte(a.from.Words.Incremental, w.Address) >= 0 && a.unused>>i&1 == 0 {
				l.away |= 1 << (w.Address - 'U')
			}
		}
	}
	if l.nonMod.IsTurning() {
		l.away = 0 // allowances, and places that the cycle reads
	}
	l.axes |= l.away
}

func (l *wordList) sortG(i int, m profiles.Meaning) {
	switch g := m.Group(); {
	case g == profiles.MotionGroup && m == profiles.CycleOff && l.motion != profiles.Refused:
		l.ends = true
	case g == profiles.MotionGroup:
		l.ends, l.motion = l.motion == profiles.CycleOff, m
	case g == profiles.NonModal:
		l.nonMod = m
	default:
		l.g = append(l.g, i)
	}
}

func (l *wordList) sortM(i int, w *parser.Word, a *adapter) {
	m := meaningM(a.from, w)
	if m == profiles.Accepted && meaningM(a.to, w) == profiles.Gear {
		m = profiles.Gear
	}
	switch m.Group() {
	case profiles.StopGroup:
		if m != profiles.CallSubprogram && m != profiles.ReturnFromSubprogram {
			l.stops = append(l.stops, i)
		}
	case profiles.SpindleGroup:
		l.spin, l.left = m, a.opt.LeaveOut[tenths(w)]
		if m == profiles.SpindleOrient {
			l.spin = profiles.Refused
			l.m = append(l.m, i)
		}
	case profiles.ToolGroup:
		l.change = true
	case profiles.GearGroup:
		l.gear = i
	default:
		l.m = append(l.m, i)
	}
}

// rewrite writes the block anew, in as many as it takes: what was held back from
// blocks before it, tool, gear, spindle and coolant, modes, the moves, the stop.
func (a *adapter) rewrite(b *parser.Block) {
	l := &a.words
	l.sort(b, a)
	if a.why != "" {
		a.did(a.why)
	}
	a.label(b)
	a.lateMoves()
	a.w.tail, a.w.said = a.comment(b), false
	if l.o >= 0 {
		a.programNumber(b, &b.Words[l.o])
	}
	total := len(l.m) + len(l.stops)
	for _, on := range [...]bool{l.change, l.spin != profiles.Refused, l.gear >= 0} {
		if on {
			total++
		}
	}
	limit := a.to.Words.MCodes
	split := limit > 0 && total > limit
	if split {
		a.did(OneM)
	}
	if movesAxes(a.from, b) {
		a.lacks(l.axes)
	}
	a.tool(b, split)
	a.speeds(b, split)
	for _, i := range l.m {
		a.misc(b, i)
		if split {
			a.w.flush()
		}
	}
	if !l.hasT && !l.change {
		a.w.front = len(a.w.buf)
	}
	a.modes(b)
	if a.w.slash && a.resolved && l.axes != 0 {
		a.leave(rules.Error, b.Line, "a move with block delete (/) in a contour that must be offset here: left out, the moves beside it would be others",
			"Decide which is meant: --block-delete off executes these blocks, on leaves them out.")
	}
	a.moves(b)
	a.w.flush()
	a.numberAlone(b)
	a.w.flushEmpty()
	if a.unroll && structural(b, a.from) {
		a.did(Unroll)
	}
}

// label begins the lines of the block: block delete and sequence number.
func (a *adapter) label(b *parser.Block) {
	w := a.w
	w.slash, w.label = b.Delete != 0, w.label[:0]
	if b.Delete != 0 && !a.to.Block.Delete {
		w.slash = false
		a.leave(rules.Error, b.Line, "block delete (/) is not known to "+a.to.Name,
			"Decide which is meant: --block-delete off executes these blocks, on leaves them out.")
	}
	word := b.Word('N')
	if word == nil {
		return
	}
	if !a.takesNumber(word) {
		a.did(Sequence)
		if !a.unroll && a.seen.leadsTo(word) {
			a.leave(rules.Error, b.Line, fmt.Sprintf("%s is led to by its number, and %s does not take it", b.Text(word.Pos, word.End), a.to.Name),
				"Give the blocks numbers anew with --pass "+Renumber+".")
		}
		return
	}
	w.label = append(w.label, b.Text(word.Pos, word.End)...)
}

// takesNumber says whether the machine takes a sequence number, or another in its
// place will be given.
func (a *adapter) takesNumber(word *parser.Word) bool {
	return a.to.Takes('N') && (within(a.to.Block.Sequence, word.Value) || a.opt.Passes[Renumber])
}

// numberAlone writes the number of a block of which nothing else is left, where
// something leads to it.
func (a *adapter) numberAlone(b *parser.Block) {
	w := a.w
	if word := b.Word('N'); word != nil && len(w.label) > 0 && !a.unroll && a.seen.leadsTo(word) {
		label := string(w.label)
		w.label = w.label[:0]
		w.text([]byte(label))
		w.flush()
	}
	a.holdNumber()
	w.label = w.label[:0]
}

// programNumber writes the program number alone in a block, or as a comment
// where the control has no place for it.
func (a *adapter) programNumber(b *parser.Block, word *parser.Word) {
	w := a.w
	if a.unroll && a.named {
		return // it is that of a subprogram
	}
	if a.to.Takes('O') && within(a.to.Block.ProgramNumber, word.Value) {
		w.text(b.Text(word.Pos, word.End))
		w.flush()
		return
	}
	a.did(Sequence)
	if text := a.asComment(string(b.Text(word.Pos, word.End))); text != "" {
		w.text([]byte(text))
		w.flush()
	}
}

// lateMoves writes moves of blocks that came before this one, which
// compensation has held back, with the numbers of those blocks. Block delete of
// this block is not theirs: with its switch on they would be left out.
func (a *adapter) lateMoves() {
	w := a.w
	if !a.holdsMoves() {
		w.flush()
		return
	}
	label, slash := append([]byte(nil), w.label...), w.slash
	w.label, w.slash = w.label[:0], false
	for i := range a.ops {
		op := &a.ops[i]
		if op.late && a.to.CodeFor(profiles.CompLeft) == "" {
			a.heldNumber(op.line)
			a.resolvedMove(op)
		}
	}
	w.flush()
	w.label, w.slash = append(w.label[:0], label...), slash
}

// holdsMoves says whether a move of a block before was held back until now.
func (a *adapter) holdsMoves() bool {
	for i := range a.ops {
		if a.ops[i].late {
			return true
		}
	}
	return false
}

// A lateNumber is the sequence number of a block whose move is held back.
type lateNumber struct {
	line int
	text []byte
}

// holdNumber keeps the number of a block that has written nothing with it, for
// its move that is held back.
func (a *adapter) holdNumber() {
	const most = 8 // compensation holds back fewer blocks
	if len(a.w.label) == 0 || !a.resolved || a.words.axes == 0 {
		return
	}
	if len(a.late) == most {
		a.late = a.late[1:]
	}
	a.late = append(a.late, lateNumber{a.line, append([]byte(nil), a.w.label...)})
}

// heldNumber begins the next line with the number of the block in a line of the
// source, where it was kept.
func (a *adapter) heldNumber(line int) {
	for i := range a.late {
		if a.late[i].line == line {
			a.w.flush()
			a.w.label = append(a.w.label[:0], a.late[i].text...)
			a.late = a.late[i+1:]
			return
		}
	}
}

// tool writes the tool and its change.
func (a *adapter) tool(b *parser.Block, split bool) {
	l, w := &a.words, a.w
	if !l.hasT && !l.change {
		return
	}
	if a.from.Tools.Word != a.to.Tools.Word && (a.from.Tools.Word == "tool-offset" || a.to.Tools.Word == "tool-offset") {
		a.leave(rules.Error, a.line, "T words bring tool and offset at once on one of the two machines, and on the other not",
			"Write the tool changes for "+a.to.Name+" by hand.")
		return
	}
	if l.change && a.change.writes {
		a.changeTool(b)
		return
	}
	if l.change && w.spindle != interp.SpindleOff && a.to.Tools.Pockets == 0 {
		a.pending = interp.SpindleUnknown
	}
	switch {
	case !l.hasT:
	case !a.to.Takes('T') && l.change:
		a.leave(rules.Error, a.line, a.to.Name+" has no T words, and its profile does not say how a tool is changed",
			"Say it there: tools.change_sequence, with the stop at which the operator changes.")
	case !a.to.Takes('T'):
		a.did(Words) // the tool is only made ready; who changes it by hand looks for it then
	default:
		if word := b.Word('T'); word.Expr == nil {
			w.text(b.Text(word.Pos, word.End))
		} else {
			w.whole('T', float64(max(a.state.NextTool, 0)))
		}
	}
	if l.change {
		a.mcode(profiles.ToolChange)
		w.spindle = interp.SpindleOff
		if a.to.Tools.Pockets == 0 {
			w.freesBelt(true)
		}
	}
	if split && l.change {
		w.flush()
	}
}

// mcode appends the machine's code for a meaning.
func (a *adapter) mcode(m profiles.Meaning) {
	if a.to.CodeFor(m) != "" {
		a.w.code(m)
		return
	}
	other := profiles.Refused
	switch m {
	case profiles.ProgramEnd:
		other = profiles.ProgramEndRewind
	case profiles.ProgramEndRewind:
		other = profiles.ProgramEnd
	}
	if a.to.CodeFor(other) != "" {
		a.did(Codes)
		a.w.code(other)
		return
	}
	decide := "Decide what stands in its place, and write it into the source."
	if code := a.from.CodeFor(m); canLeaveOut(m) != profiles.Refused && code != "" {
		decide = fmt.Sprintf("If the part can do without it, leave it out with --leave-out %s; else write what stands in its place into the source.", code)
	}
	a.leave(rules.Error, a.line, fmt.Sprintf("%s has no code for %s", a.to.Name, m), decide)
}

// codeText is the number of a code that is given by tenths.
func codeText(tenths int) string { return strconv.FormatFloat(float64(tenths)/10, 'f', -1, 64) }

// modes writes the codes that hold on.
func (a *adapter) modes(b *parser.Block) {
	for _, i := range a.words.g {
		word := &b.Words[i]
		m := meaningG(a.from, word)
		if m == profiles.Refused || m == profiles.Accepted {
			if m == meaningG(a.to, word) && m == profiles.Accepted {
				a.w.text(b.Text(word.Pos, word.End))
			}
			continue
		}
		a.mode(b, word, m)
	}
	if len(a.words.g) > 0 || a.words.hasF || a.words.axes != 0 {
		a.ready()
	}
	switch idle := a.words.hasF && !a.resolved && !a.cuts() && a.state.Feed > 0; {
	case idle && a.state.FeedMode == profiles.FeedPerMinute:
		a.w.feedWord(a.state.Feed)
	case idle && a.state.FeedMode == profiles.FeedPerRevolution && a.w.feedMode == a.state.FeedMode:
		a.w.revWord(a.state.Feed)
	}
}

// cuts says whether the block makes feed moves.
func (a *adapter) cuts() bool {
	for i := range a.ops {
		if op := &a.ops[i]; (op.Kind == interp.Feed || op.Kind == interp.Arc) && !op.late {
			return true
		}
	}
	return false
}

func (a *adapter) mode(b *parser.Block, word *parser.Word, m profiles.Meaning) {
	w := a.w
	same := meaningG(a.to, word) == m
	switch m.Group() {
	case profiles.UnitsGroup:
		a.say(&w.units, a.wantUnits(m), m, Units)
		return
	case profiles.DistGroup:
		if !a.toPlace() { // else ready says what it needs
			a.say(&w.distance, a.wantDistance(m), m, Distance)
		}
		return
	case profiles.FeedGroup:
		was := w.feedMode
		if a.say(&w.feedMode, a.wantFeedMode(m), m, FeedModes); was != w.feedMode {
			w.feed = 0
		}
		return
	case profiles.PolarGroup, profiles.ScaleGroup, profiles.MirrorGroup, profiles.RotateGroup:
		a.transform(m)
		return
	case profiles.CompGroup:
		a.compMode(b, m)
		return
	case profiles.DiameterGroup:
		if a.to.CodeFor(m) != "" {
			w.diameter = m == profiles.DiameterMode
		} // else places are written as the machine reads them
	case profiles.SpeedGroup:
		if a.to.CodeFor(m) == "" && m != profiles.SpindleSpeed {
			a.leave(rules.Error, a.line, fmt.Sprintf("%s has no code for %s", a.to.Name, m), "This part needs another machine, or another program.")
		}
	}
	if a.to.CodeFor(m) == "" {
		a.did(Codes)
		a.without(m)
		return
	}
	switch m.Group() {
	case profiles.PlaneGroup:
		w.plane = interp.Plane(m - profiles.PlaneXY)
	case profiles.RetractGroup:
		w.retract = m
	}
	if same {
		w.text(b.Text(word.Pos, word.End))
	} else {
		a.did(Codes)
		w.code(m)
	}
	if m == profiles.LengthOn && a.state.LengthH > 0 {
		w.whole('H', float64(a.state.LengthH))
	}
}

// without tells what it means that the machine has no code for a mode.
func (a *adapter) without(m profiles.Meaning) {
	name := a.to.Name
	switch m.Group() {
	case profiles.LengthGroup:
		if m == profiles.LengthOn {
			a.leave(rules.Warning, a.line, name+" has no tool length offsets: the codes are left out",
				"Set all tools to one length, or set the zero of Z anew at each tool change.")
		}
	case profiles.OffsetGroup:
		a.leave(rules.Warning, a.line, name+" has no work offsets: the code is left out",
			"Set the zero where the source has it; --start writes where the tool stands at the start.")
	case profiles.PathGroup:
		a.leave(rules.Note, a.line, fmt.Sprintf("%s has no code for %s: corners are as it makes them", name, m), "Look at the corners of the first part.")
	}
}

// say writes a mode that is wanted, where the machine is in another or the
// source says it here too; asked is what the source says.
func (a *adapter) say(in *profiles.Meaning, want, asked profiles.Meaning, pass string) {
	if want != asked {
		a.did(pass)
	}
	if a.to.CodeFor(want) == "" || want == *in && want != asked {
		return
	}
	*in = want
	if want == profiles.UnitsInch || want == profiles.UnitsMM {
		a.w.feed = 0
	}
	a.w.code(want)
}

// wantUnits are the units in which the machine is told what the source says in
// the units m.
func (a *adapter) wantUnits(m profiles.Meaning) profiles.Meaning {
	if a.opt.Passes[Units] {
		m = profiles.UnitsMM
		if a.to.Display == "inch" {
			m = profiles.UnitsInch
		}
	}
	return a.want(m, a.w.units)
}

func (a *adapter) wantDistance(m profiles.Meaning) profiles.Meaning {
	if a.opt.Passes[Distance] {
		m = profiles.Absolute
	}
	return a.want(m, a.w.distance)
}

func (a *adapter) wantFeedMode(m profiles.Meaning) profiles.Meaning {
	if a.to.CodeFor(m) != "" {
		return m
	}
	return profiles.FeedPerMinute
}

// want is the mode m where the machine has a code for it, else the one that is in
// force, or that of the same group that it has a code for.
func (a *adapter) want(m, in profiles.Meaning) profiles.Meaning {
	if a.to.CodeFor(m) != "" || m == in {
		return m
	}
	return in
}

// ready says the units, the distance mode and the feed mode that the source has
// here, where the machine is in others.
func (a *adapter) ready() {
	w, s := a.w, a.state
	distance := s.Distance
	if a.toPlace() {
		distance = profiles.Absolute
	}
	for _, mode := range [...]struct {
		in       *profiles.Meaning
		want, is profiles.Meaning
		pass     string
	}{
		{&w.units, a.wantUnits(s.Units), s.Units, Units},
		{&w.distance, a.wantDistance(distance), distance, Distance},
		{&w.feedMode, a.wantFeedMode(s.FeedMode), s.FeedMode, FeedModes},
	} {
		if *mode.in != mode.want {
			if a.say(mode.in, mode.want, mode.is, mode.pass); mode.in == &w.feedMode {
				w.feed = 0
			}
		}
	}
}

// transform notes a mode under which places are written out.
func (a *adapter) transform(m profiles.Meaning) {
	a.did(Transforms)
	switch m {
	case profiles.PolarOn, profiles.ScaleOn, profiles.MirrorOn, profiles.RotateOn:
		a.turned |= 1 << m.Group()
	default:
		a.turned &^= 1 << m.Group()
	}
}

// compMode writes a code of cutter compensation, or begins to write the path
// out.
func (a *adapter) compMode(b *parser.Block, m profiles.Meaning) {
	w := a.w
	if a.to.CodeFor(m) != "" {
		w.code(m)
		w.comp = m
		if word := b.Word('D'); m != profiles.CompOff && word != nil {
			w.text(b.Text(word.Pos, word.End))
		}
		return
	}
	a.did(Codes)
	if m == profiles.CompOff {
		return
	}
	a.resolved = true
	a.did(CompPath)
	if a.from.ToolOfD(a.state.CompD) == nil {
		a.leave(rules.Error, a.line, fmt.Sprintf("%s has no cutter compensation, and the diameter under D%d is not known", a.to.Name, a.state.CompD),
			"Name the machine that the program was written for with --from: its profile has the tools; or --set tools there.")
	}
}

// counts is a place along axis i in the last digit written.
func (a *adapter) counts(i int, v float64) float64 { return math.Round(v / a.w.step(i)) }

// plain writes a word with a number that is no place.
func plain(v float64) []byte { return strconv.AppendFloat(nil, round(v, 4), 'f', -1, 64) }
