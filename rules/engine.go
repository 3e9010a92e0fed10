package rules

import (
	"bytes"
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"tapefit/internal/interp"
	"tapefit/internal/motion"
	"tapefit/parser"
	"tapefit/profiles"
)

// A Pass is one walk over one program. Checkers report through it.
type Pass struct {
	Machine *profiles.Machine
	State   *interp.State // in force now
	Size    int64         // of the program, bytes
	Result  *Result       // Times and Extents are complete when End is called

	work  work // behind the operation before this one
	units unitsRead

	forgotten bool // feed-on-traverse has spoken, and no other motion was called since
	unclamped bool // css-crosses-gear has said that no highest speed is set

	rule  *Rule   // whose checker runs
	awake bool    // see stay
	alone *Rule   // whose findings leave nothing to be said by the others
	rules ruleSet // that are checked
	found told
	// silenced are counted like those that are told; silences are the comments
	// by which they are.
	silenced told
	silences []*silence
}

// A ruleSet is shared by all checks for a machine.
type ruleSet []*Rule

// told are the causes by what they came to.
type told struct {
	records map[cause]*record
	causes  map[*Rule]int // with a record
}

func newTold() told { return told{map[cause]*record{}, map[*Rule]int{}} }

// A cause is what findings are counted by.
type cause struct {
	rule *Rule
	key  uint64
}

// A record is a finding and where it was counted: the last place of the walk
// through the file, and some of those in subprograms and loops, which come again.
type record struct {
	Finding
	last  Place
	again map[int64]int32 // by offset of the block: position behind what was counted
}

// mostAgain bounds the places that a record keeps.
const mostAgain = 256

// isNew says whether the place was not counted before, and keeps it.
func (r *record) isNew(at Place) bool {
	onward := at.Offset > r.last.Offset || at.Offset == r.last.Offset && at.Pos > r.last.Pos
	full := len(r.again) >= mostAgain
	if onward && full {
		r.last = at
		return true
	}
	pos, seen := r.again[at.Offset]
	if !onward && (full || seen && at.Pos <= pos) {
		return false
	}
	if !full {
		r.again[at.Offset] = at.Pos
	}
	if onward {
		r.last = at
	}
	return true
}

// mostCauses bounds what one rule tells of a program. Further causes are counted
// under the key overflow: a file with more is no program, or one for another
// machine, and a person looks at it.
const (
	mostCauses = 25
	overflow   = ^uint64(0)
)

// A Place is a stretch of one block.
type Place struct {
	Line     int
	Offset   int64 // of the block
	Pos, End int32
}

// BlockPlace is the whole text of a block, without the blank tape around it.
func BlockPlace(b *parser.Block) Place {
	pos, end := 0, len(b.Raw)
	for end > 0 && (b.Raw[end-1] == '\n' || b.Raw[end-1] == '\r' || b.Raw[end-1] == 0) {
		end--
	}
	for pos < end && b.Raw[pos] == 0 {
		pos++
	}
	return Place{b.Line, b.Offset, int32(pos), int32(end)}
}

// WordPlace is word i of a block; the whole block where i is negative.
func WordPlace(b *parser.Block, i int) Place {
	if i < 0 || i >= len(b.Words) {
		return BlockPlace(b)
	}
	return Place{b.Line, b.Offset, b.Words[i].Pos, b.Words[i].End}
}

// OpPlace is the word that caused an operation.
func OpPlace(op *interp.Op) Place { return WordPlace(op.Block, op.Word) }

// FaultPlace is the text that a fault is about.
func FaultPlace(f *interp.Fault) Place {
	return Place{f.Block.Line, f.Block.Offset, f.Pos, f.End}
}

// Note counts a cause at a place. The first time it gives a finding to be
// filled in with message and advice, then nil. A place that is executed again
// is not counted again. One where the rule is silenced is counted apart, and
// gives nil.
func (p *Pass) Note(key uint64, at Place) *Finding {
	p.stay()
	if p.hushed(at) {
		p.silenced.note(p.rule, key, at)
		return nil
	}
	return p.found.note(p.rule, key, at)
}

func (t *told) note(rule *Rule, key uint64, at Place) *Finding {
	c := cause{rule, key}
	r, again := t.records[c]
	if !again && t.causes[rule] >= mostCauses {
		c.key = overflow
		r, again = t.records[c]
	}
	if !again {
		t.causes[rule]++
		r = &record{Finding: Finding{
			Rule: rule, Level: rule.Level,
			Line: at.Line, Column: int(at.Pos) + 1, Offset: at.Offset, MarkEnd: int(at.End) + 1,
			EndLine: at.Line, EndColumn: int(at.End) + 1, Count: 1,
		}, last: at, again: map[int64]int32{at.Offset: at.Pos}}
		t.records[c] = r
		if c.key == overflow {
			r.Message = fmt.Sprintf("more of this, for other causes than the %d told one by one", mostCauses)
			r.Advice = "Mend those first and check again. Where there are so many, the file may be no program, or one for another machine."
			return nil
		}
		return &r.Finding
	}
	if !r.isNew(at) {
		return nil
	}
	if at.Line > r.EndLine || at.Line == r.EndLine && int(at.End) >= r.EndColumn {
		r.EndLine, r.EndColumn = at.Line, int(at.End)+1
	}
	r.Count++
	return nil
}

// An on is a function of a rule's checker.
type on[F any] struct {
	rule *Rule
	do   F
}

// A named checker is for blocks with certain words.
type named struct {
	on[func(*Pass, *parser.Block)]
	words Addresses
}

// engine holds the checkers of one pass by what they want to see.
type engine struct {
	pass   Pass
	clock  *motion.Clock
	extent extent
	blocks []on[func(*Pass, *parser.Block)]
	named  []named
	words  Addresses // of all named
	after  []on[func(*Pass, *parser.Block)]
	execs  []on[func(*Pass, *parser.Block)]
	ops    [interp.NumOpKinds][]on[func(*Pass, *interp.Op)]
	steady [interp.Arc + 1][]on[func(*Pass, *interp.Op)] // see Checker.Steady
	quiet  [interp.Arc + 1]uint64                        // State.Steady under which they had nothing to note
	faults [interp.NumFaultKinds][]on[func(*Pass, *interp.Fault)]
	timed  []on[func(*Pass, *motion.Timed)]
	losses bool // of the moves they all look at those alone that lose time

	stretches *motion.Stretches // nil: they are not asked for
	watch     *Watch            // nil: nobody looks on

	ends  []on[func(*Pass)]
	state []any // what the checkers remember
	in    *interp.Interp
}

// Check walks the program in src, size bytes long, as machine m would, and says
// what the rules found. The image of a punched tape is read as the text on it.
// The error is one of reading src.
func Check(src io.ReaderAt, size int64, path string, m *profiles.Machine, set []*Rule, opt Options) (*Result, error) {
	src, _, err := parser.Tape(src, size)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	e, err := newEngine(src, size, path, m, set, opt)
	if err != nil {
		return nil, err
	}
	blocks, err := e.in.Run(src, size)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return e.finish(src, size, blocks)
}

// newEngine makes an engine for one program, which is not begun yet.
func newEngine(src io.ReaderAt, size int64, path string, m *profiles.Machine, set []*Rule, opt Options) (e *engine, err error) {
	e = &engine{pass: Pass{Machine: m, Size: size, Result: &Result{Path: path, Machine: m}, work: newWork(m), rules: set, found: newTold(), silenced: newTold()}}
	if len(set) > 0 {
		if e.pass.silences, err = readSilences(src, size); err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
	}
	for _, rule := range set {
		e.add(rule, rule.New(m, &opt))
	}
	var timed func(*motion.Timed)
	e.watch = opt.Watch
	if len(e.timed) > 0 || opt.Stretches || e.watch != nil && e.watch.Timed != nil {
		timed = e.onTimed
		if opt.Stretches {
			e.stretches = new(motion.Stretches)
		}
	}
	e.clock = motion.NewClock(m, timed)
	if e.losses && !opt.Stretches && e.watch == nil {
		e.clock.OnlyLosses()
	}
	e.clock.Load(size)
	visit := interp.Visitor{Block: e.onBlock, Exec: e.onExec, Op: e.onOp, Fault: e.onFault}
	if len(e.after) > 0 {
		visit.After = e.onAfter
	}
	e.in = interp.New(m, interp.Options{Offsets: opt.Offsets, MaxBlocks: opt.MaxBlocks, Done: opt.Done, Between: opt.between}, visit)
	e.pass.State = e.in.State()
	return e, nil
}

// finish ends a check behind the last block.
func (e *engine) finish(src io.ReaderAt, size int64, blocks int) (r *Result, err error) {
	r = e.pass.Result
	r.Blocks = blocks
	r.Times = e.clock.Finish()
	r.Dropped = e.in.Dropped()
	r.Extents = e.extent.all
	if e.stretches != nil {
		r.Stretches = e.stretches.Finish()
	}
	for _, c := range e.ends {
		e.pass.rule = c.rule
		c.do(&e.pass)
	}
	r.Silenced = e.pass.unsaid()
	r.Findings, err = e.pass.findings(src, size)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", r.Path, err)
	}
	return r, nil
}

func (e *engine) add(rule *Rule, c Checker) {
	e.state = append(e.state, c.State...)
	if c.Block != nil {
		on := on[func(*Pass, *parser.Block)]{rule, c.Block}
		if c.Words != 0 {
			e.named = append(e.named, named{on, c.Words})
			e.words |= c.Words
		} else {
			e.blocks = append(e.blocks, on)
		}
	}
	if c.After != nil {
		e.after = append(e.after, on[func(*Pass, *parser.Block)]{rule, c.After})
	}
	if c.Exec != nil {
		e.execs = append(e.execs, on[func(*Pass, *parser.Block)]{rule, c.Exec})
	}
	for kind := range interp.NumOpKinds {
		switch {
		case c.Op == nil || c.Ops&Of(kind) == 0:
		case c.Steady && kind <= interp.Arc:
			e.steady[kind] = append(e.steady[kind], on[func(*Pass, *interp.Op)]{rule, c.Op})
		default:
			e.ops[kind] = append(e.ops[kind], on[func(*Pass, *interp.Op)]{rule, c.Op})
		}
	}
	for _, kind := range c.Faults {
		e.faults[kind] = append(e.faults[kind], on[func(*Pass, *interp.Fault)]{rule, c.Fault})
	}
	if c.Timed != nil {
		e.losses = c.Losses && (e.losses || len(e.timed) == 0)
		e.timed = append(e.timed, on[func(*Pass, *motion.Timed)]{rule, c.Timed})
	}
	if c.End != nil {
		e.ends = append(e.ends, on[func(*Pass)]{rule, c.End})
	}
}

func (e *engine) onBlock(b *parser.Block) {
	for i := range e.blocks {
		c := &e.blocks[i]
		e.pass.rule = c.rule
		c.do(&e.pass, b)
	}
	words := addresses(b) & e.words
	if words == 0 {
		return
	}
	for i := range e.named {
		if c := &e.named[i]; c.words&words != 0 {
			e.pass.rule = c.rule
			c.do(&e.pass, b)
		}
	}
}

func (e *engine) onExec(b *parser.Block) {
	for i := range e.execs {
		c := &e.execs[i]
		e.pass.rule = c.rule
		c.do(&e.pass, b)
	}
	e.clock.Block(len(b.Raw))
}

func (e *engine) onAfter(b *parser.Block) {
	for i := range e.after {
		c := &e.after[i]
		e.pass.rule = c.rule
		c.do(&e.pass, b)
	}
}

func (e *engine) onOp(op *interp.Op) {
	e.extent.add(op)
	if op.Kind <= interp.Arc {
		if s := op.State.Steady; s == 0 || s != e.quiet[op.Kind] {
			e.onState(op) // first: of a forgotten G1 no other rule speaks
		}
	}
	list := e.ops[op.Kind]
	for i := range list {
		c := &list[i]
		e.pass.rule = c.rule
		c.do(&e.pass, op)
	}
	e.pass.work.add(op)
	e.shown(op)
	e.clock.Op(op)
	if op.Kind == interp.Dwell && e.stretches != nil {
		e.stretches.Dwell(op.Block.Line, op.State.Tool, op.Seconds) // the moves before are settled
	}
	if e.watch != nil && op.Kind > interp.Arc && e.watch.Stood != nil {
		e.watch.Stood(op, e.clock.Now())
	}
}

// stay keeps the rules that look at the state alone awake: one of them may have
// something to note of the next move, though the state is the same.
func (p *Pass) stay() { p.awake = true }

// onState shows a move to the rules that look at the state alone.
func (e *engine) onState(op *interp.Op) {
	e.pass.awake = false
	list := e.steady[op.Kind]
	for i := range list {
		c := &list[i]
		e.pass.rule = c.rule
		c.do(&e.pass, op)
	}
	if !e.pass.awake {
		e.quiet[op.Kind] = op.State.Steady
	}
}

// shown shows a move to who looks on, before the clock can time it.
func (e *engine) shown(op *interp.Op) {
	if e.watch != nil && op.Kind <= interp.Arc && e.watch.Move != nil {
		e.watch.Move(op)
	}
}

func (e *engine) onFault(f *interp.Fault) {
	list := e.faults[f.Kind]
	for i := range list {
		c := &list[i]
		e.pass.rule = c.rule
		c.do(&e.pass, f)
	}
}

func (e *engine) onTimed(t *motion.Timed) {
	if e.stretches != nil {
		e.stretches.Add(t)
	}
	if e.watch != nil && e.watch.Timed != nil {
		e.watch.Timed(t)
	}
	for i := range e.timed {
		c := &e.timed[i]
		e.pass.rule = c.rule
		c.do(&e.pass, t)
	}
}

// findings are what was noted, in order of place, each with its block's text.
func (p *Pass) findings(src io.ReaderAt, size int64) ([]Finding, error) {
	all := make([]Finding, 0, len(p.found.records))
	for c, r := range p.found.records {
		if p.alone != nil && p.alone != c.rule {
			continue
		}
		all = append(all, p.told(c, r))
	}
	sortFindings(all)
	for i := range all {
		if err := all[i].quote(src, size); err != nil {
			return nil, err
		}
		if p.alone != nil && !isReadable(all[i].Source) {
			all[i].Source = ""
		}
	}
	return all, nil
}

// isReadable says whether a person can read a line: three quarters of it at
// least are characters that can be shown.
func isReadable(line string) bool {
	shown, all := 0, 0
	for _, r := range line {
		all++
		if r != utf8.RuneError && unicode.IsGraphic(r) || r == '\t' {
			shown++
		}
	}
	return 4*shown >= 3*all
}

// told is a record as it is told.
func (p *Pass) told(c cause, r *record) Finding {
	f := r.Finding
	f.key = c.key
	if level, ok := levelOf(p.Machine, c.rule); ok {
		f.Level = level
	}
	if s := p.silenced.records[c]; s != nil {
		f.Silenced = s.Count
	}
	return f
}

// sortFindings puts them in order of place; of findings of one place that say the
// same too, so that a program always gives the same.
func sortFindings(all []Finding) {
	slices.SortFunc(all, func(a, b Finding) int {
		return cmp.Or(
			cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column), cmp.Compare(b.Level, a.Level),
			strings.Compare(a.Rule.Name, b.Rule.Name), strings.Compare(a.Message, b.Message), cmp.Compare(a.key, b.key),
		)
	})
}

// unsaid counts the causes that are silenced at every place.
func (p *Pass) unsaid() []Silenced {
	counts := map[*Rule]int{}
	for c := range p.silenced.records {
		if p.found.records[c] == nil && (p.alone == nil || p.alone == c.rule) {
			counts[c.rule]++
		}
	}
	var all []Silenced
	for rule, n := range counts {
		all = append(all, Silenced{rule, n})
	}
	slices.SortFunc(all, func(a, b Silenced) int { return strings.Compare(a.Rule.Name, b.Rule.Name) })
	return all
}

// longestQuote is how much of a long block is quoted, in bytes.
const longestQuote = 600

// quote reads the text of the finding's block from the program.
func (f *Finding) quote(src io.ReaderAt, size int64) error {
	from := int64(0)
	if f.MarkEnd > longestQuote {
		from = int64(max(0, f.Column-1-longestQuote/3))
	}
	buf := make([]byte, min(longestQuote, size-f.Offset-from))
	n, err := src.ReadAt(buf, f.Offset+from)
	if err != nil && err != io.EOF {
		return err
	}
	text := buf[:n]
	for i, c := range text {
		if c == '\n' || c == '\r' {
			text = text[:i]
			break
		}
	}
	behind := bytes.TrimLeft(text, "\x00") // blank tape shows nothing
	from += int64(len(text) - len(behind))
	f.Source, f.SourceCol = string(bytes.TrimRight(behind, "\x00")), int(from)+1
	return nil
}

// drop takes back what was noted with the key: at the end it came to too little.
func (p *Pass) drop(key uint64) {
	for _, t := range []*told{&p.found, &p.silenced} {
		if c := (cause{p.rule, key}); t.records[c] != nil {
			delete(t.records, c)
			t.causes[p.rule]--
		}
	}
}
