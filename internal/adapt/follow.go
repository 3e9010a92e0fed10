package adapt

import (
	"bytes"
	"math"
	"slices"
	"strings"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
	"tapefit/rules"
)

// adapter follows the source block by block, as the control that it was written
// for executes it, and writes each for the other machine.
type adapter struct {
	opt        *Options
	from, to   *profiles.Machine
	w          *writer
	res        *Result
	seen       *sight
	state      *interp.State                               // of the source, now
	before     interp.State                                // and before the block
	ops        []done                                      // of the block
	makes      struct{ gears, clampSpeed, clampFeed bool } // passes that are asked for each block
	lacking    uint32                                      // addresses of axes that the machine does not have
	depth      int                                         // of blocks within a block: a contour, a tool-change program
	unroll     bool                                        // blocks are written as they are executed
	unused     uint64                                      // bit n: nothing uses word n of the block
	unknown    uint64                                      // bit n: nobody knows what word n of the block does
	turned     groups                                      // of polar words, scaling, mirroring, turning: what is on
	resolved   bool                                        // cutter compensation is written out
	marks      int                                         // % marks written
	begun      bool
	touched    bool // a block is not what it was
	named      bool // words were written: a program number behind them is that of a subprogram
	ended      bool
	stopsAdded int
	pending    interp.SpindleState // to be started again with the next speed; SpindleUnknown: nothing
	repeats    map[int64]bool      // blocks of a structured program that were written before, by offset
	changes    map[string]*Change
	left       map[string]*Left
	fresh      []*Change // first made in this block
	words      wordList
	pieces     []piece
	why        string // the pass for which the block may not stay; "": for what is met when it is written
	block      *parser.Block
	thin       thin
	gather     gather
	structure  structure
	change     aChange
	own        *ownChange
	contours   contours
	cutting    cutting
	late       []lateNumber
	lost       lost
	line       int // of the source: that of block, or of a move held back
}

// done is an operation with what of the state it leaves.
type done struct {
	interp.Op
	line    int
	late    bool // its block came before
	contour bool // its block is one of a contour that a cycle goes along
	spindle interp.SpindleState
}

// newAdapter makes one; structured says that calls, loops and expressions shall
// stay.
func newAdapter(opt *Options, w *writer, seen *sight, res *Result, structured bool) *adapter {
	a := &adapter{
		opt: opt, from: opt.From, to: opt.To, w: w, res: res, seen: seen,
		unroll: seen.structured && !structured, changes: map[string]*Change{}, left: map[string]*Left{},
	}
	a.lacking = lacking(opt.To)
	a.makes.gears, a.makes.clampSpeed, a.makes.clampFeed = opt.makes(Find(Gears)), opt.makes(Find(ClampSpeed)), opt.makes(Find(ClampFeed))
	a.change.changing, a.own = opt.changes(), newOwnChange(opt.From, opt.To)
	a.thin.on, a.thin.tol = opt.makes(Find(Thin)) && !structured, 0.9*opt.Tolerance
	if structured {
		if opt.makes(Find(Thin)) {
			a.leave(rules.Note, 1, "the program keeps its subprograms, loops or expressions, and runs of short moves in it are not joined",
				"If that is wanted, write it out with --pass "+Unroll+".")
		}
		a.structure = structure{on: true, texts: map[int64][]byte{}}
		w.holds = true
	}
	if a.unroll {
		a.repeats = map[int64]bool{}
	}
	w.count = opt.To.Numbers.Point == "refused" || opt.To.Numbers.Point == "counts" && seen.counted
	if seen.shifts {
		w.tellsBelt, w.belts = true, 0
	}
	if seen.offsets&(seen.offsets-1) != 0 && w.m.CodeFor(profiles.WorkOffset1) == "" {
		a.leave(rules.Error, 1, "the program works from more than one work zero; "+w.m.Name+" has no codes for them",
			"Split the program at the change of the part's zero, and adapt each half.")
	}
	return a
}

// did counts a change of the block that is being written.
func (a *adapter) did(pass string) {
	c := a.changes[pass]
	if c == nil {
		c = &Change{Pass: Find(pass), Line: a.line, Was: a.source()}
		a.changes[pass] = c
		if on, said := a.opt.Passes[pass]; said && !on {
			a.leave(rules.Error, a.line, "this block needs the pass "+pass+", which is not to be made", "Allow it, or mend the block by hand.")
		}
		a.fresh = append(a.fresh, c)
	}
	if c.Count == 0 || c.Line != a.line {
		c.Count++
	}
}

// source is the text of the block.
func (a *adapter) source() string {
	if a.block == nil {
		return ""
	}
	return strings.TrimSpace(string(bytes.Trim(a.block.Raw, "\r\n\x00")))
}

// leave notes what a person must decide or know.
func (a *adapter) leave(level rules.Level, line int, what, decide string) {
	l := a.left[what]
	if l == nil {
		l = &Left{Level: level, Line: line, What: what, Decide: decide}
		a.left[what] = l
	}
	l.Count++
}

func (a *adapter) onBlock(b *parser.Block) {
	switch {
	case a.structure.on:
		if b.Kind == parser.Percent {
			a.marks++
		}
	case b.Kind == parser.Percent:
		a.marks++
		a.passed(b)
	case b.Kind != parser.Ordinary:
		a.passed(b)
	case a.contours.inText(b):
		a.passed(b)
	case a.state.Ended && !a.unroll:
		a.passed(b)
		a.line, a.block = b.Line, b
	}
}

// passed writes a block that is never executed, as it is.
func (a *adapter) passed(b *parser.Block) {
	a.endGather()
	a.release()
	a.w.write(b.Raw)
}

func (a *adapter) onExec(b *parser.Block) {
	if a.depth > 0 && b.Offset == a.block.Offset {
		return // a tool-change program, which stands for the block
	}
	if a.depth++; a.depth > 1 {
		a.sees(b)
		return
	}
	a.contours.end = 0
	a.before = *a.state
	a.block, a.line = b, b.Line
	a.unused, a.unknown = 0, 0
	a.change.begins()
}

func (a *adapter) onOp(op *interp.Op) {
	if a.block == nil {
		return
	}
	a.change.op(op)
	elsewhere := op.Block.Offset != a.block.Offset
	a.ops = append(a.ops, done{
		Op: *op, line: op.Block.Line, late: elsewhere && a.contours.end == 0, contour: elsewhere && a.contours.end != 0,
		spindle: op.State.Spindle,
	})
}

func (a *adapter) onFault(f *interp.Fault) {
	if f.Word < 0 || f.Word >= 64 || a.block == nil || f.Block.Offset != a.block.Offset {
		return
	}
	switch f.Kind {
	case interp.NotUsed:
		a.unused |= 1 << f.Word
	case interp.NotAccepted:
		a.unknown |= 1 << f.Word
	}
}

func (a *adapter) onAfter(b *parser.Block) {
	if a.depth == 0 { // the budget is spent
		return
	}
	if a.depth--; a.depth > 0 {
		return
	}
	a.begin(b)
	a.losesComments(b)
	if a.gathers(b) {
		a.named = true
		a.ops = a.ops[:0]
		return
	}
	a.w.recent = a.w.recent[:0]
	if a.holds(b) {
		a.named = true
		a.ops = a.ops[:0]
		return
	}
	a.release()
	a.put(b)
}

// put writes the block that was just executed, as it is or anew.
func (a *adapter) put(b *parser.Block) {
	a.w.recent = a.w.recent[:0]
	a.restore()
	a.resolved = a.resolved && !a.compOver()
	a.w.doubt(b, a.from)
	wrote := a.changesTool(b)
	wrote = a.followsOwn(b) || wrote
	a.keepsPitch()
	said, kept := a.keeps(b)
	kept = kept && !a.change.writes && a.keepsCycle(b)
	if a.opt.Delete == DeleteOn && len(bytes.TrimSpace(b.Raw)) == 0 {
		// it was left out, and leaves nothing
	} else if kept {
		if a.pending != interp.SpindleUnknown && (len(a.ops) > 0 || hasAxes(b)) {
			a.turnOn()
			a.w.flush()
			wrote = true
		}
		kept = !wrote
		a.w.write(b.Raw)
		a.w.follow(&a.before, a.state, a.moved(), said)
		a.followWords(b)
		a.keptCycle(b)
	} else {
		a.rewrite(b)
		a.touched = a.touched || a.structure.on || !bytes.Equal(a.w.recent, b.Raw)
	}
	if a.unroll {
		a.repeats[b.Offset] = true
	}
	if a.structure.on {
		a.hold(b, kept)
	}
	a.examples()
	a.named = a.named || len(b.Words) > 0
	a.ops = a.ops[:0]
}

// examples takes what was written last for what the changes that were first made
// there have come to.
func (a *adapter) examples() {
	for _, c := range a.fresh {
		c.Now = strings.Join(strings.FieldsFunc(string(a.w.recent), func(r rune) bool { return r == '\n' || r == '\r' }), " / ")
	}
	a.fresh = a.fresh[:0]
}

// hasAxes says whether the block has axis words: compensation may hold its move
// back.
func hasAxes(b *parser.Block) bool {
	for i := range b.Words {
		if axisLetters&bit(b.Words[i].Address) != 0 {
			return true
		}
	}
	return false
}

// compOver says whether the source has left cutter compensation and stands where
// the machine does.
func (a *adapter) compOver() bool {
	if a.before.Comp != profiles.CompOff || a.state.Comp != profiles.CompOff || a.holdsMoves() {
		return false
	}
	for i := range profiles.NumAxes {
		if a.before.Known.Has(i) && math.Abs(a.w.snap(i, a.before.At[i])-a.w.at[i]) > 1e-7 {
			return false
		}
	}
	return true
}

// moved are the axes that the operations of the block move.
func (a *adapter) moved() (set interp.AxisSet) {
	for i := range a.ops {
		if op := &a.ops[i]; op.Kind <= interp.Arc {
			set |= op.Moves
		}
	}
	return set | ^a.before.Known&a.state.Known | a.before.Known&^a.state.Known | differs(&a.before.At, &a.state.At)
}

func differs(a, b *interp.Point) (set interp.AxisSet) {
	for i := range a {
		if a[i] != b[i] {
			set |= 1 << i
		}
	}
	return set
}

// begin writes what stands before the first block.
func (a *adapter) begin(b *parser.Block) {
	if e := lineEnd(b); e != "" {
		a.w.end = e
	}
	if a.begun {
		return
	}
	a.begun = true
	a.w.blank = bytes.IndexByte(bytes.TrimSpace(b.Raw), ' ') >= 0 || len(b.Words) < 2
	if a.marks == 0 && a.to.Block.PercentMarks == "needed" {
		a.did(Marks)
		a.w.write([]byte("%" + a.w.end))
		a.marks++
	}
	a.startPlace()
	if a.structure.on {
		a.structure.head = append([]byte{}, a.w.held...)
		a.w.held = a.w.held[:0]
	}
}

// startPlace writes where the tool stands when the program begins.
func (a *adapter) startPlace() {
	a.touched = a.touched || a.opt.Start != Place{}
	any := false
	for i, v := range a.opt.Start {
		if v == nil {
			continue
		}
		if !any {
			any = true
			if a.to.CodeFor(profiles.SetPosition) == "" {
				a.leave(rules.Error, 1, a.to.Name+" has no code that sets a position", "Leave --start out, and set the zero by hand.")
				return
			}
			a.ready()
			a.w.code(profiles.SetPosition)
		}
		n := a.counts(i, *v)
		a.w.number(profiles.AxisLetters[i], n)
		a.w.at[i] = n * a.w.step(i)
		a.w.known |= 1 << i
	}
	a.w.flush()
}

// finish writes what stands behind the last block, and puts what was done in
// order.
func (a *adapter) finish() {
	a.endGather()
	a.release()
	if len(a.ops) > 0 { // the last move, held back to the end
		a.lateMoves()
		a.ops = a.ops[:0]
	}
	a.w.flush()
	if a.to.Block.PercentMarks == "needed" && a.marks < 2 {
		a.did(Marks)
		a.w.write([]byte("%" + a.w.end))
	}
	a.tellLost()
	for _, p := range Passes() {
		if c := a.changes[p.Name]; c != nil {
			a.res.Changes = append(a.res.Changes, *c)
		}
	}
	for _, l := range a.left {
		a.res.Left = append(a.res.Left, *l)
	}
	a.res.sortLeft()
}

// sortLeft puts what is left in order of place.
func (r *Result) sortLeft() {
	slices.SortFunc(r.Left, func(x, y Left) int {
		if d := x.Line - y.Line; d != 0 {
			return d
		}
		return strings.Compare(x.What, y.What)
	})
}
