package rules

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"unicode"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
)

const houseFamily = "house"

// For are the rules for programs on a machine: all, and those of its profile.
// The error is that of CheckProfile.
func For(m *profiles.Machine) ([]*Rule, error) {
	all := All()
	if len(m.House) == 0 {
		return all, nil
	}
	if err := CheckProfile(m); err != nil {
		return nil, err
	}
	var own []*Rule
	for i := range m.House {
		c, bad := compileHouse(m, m.House[i].When)
		if bad != nil { // CheckProfile has looked
			return nil, bad
		}
		own = append(own, houseRule(m, i, c))
	}
	// The rules about silences look at what the others were kept from saying.
	last := len(all) - len(silences())
	return slices.Concat(all[:last], own, all[last:]), nil
}

// houseRule makes a rule of an entry of the profile.
func houseRule(m *profiles.Machine, i int, c *houseCondition) *Rule {
	h := &m.House[i]
	level := Warning
	for l := Note; l <= Error; l++ {
		if h.Level == l.String() {
			level = l
		}
	}
	when := strings.Join(strings.Fields(h.When), " ")
	doc := fmt.Sprintf("A rule of this shop, from %s. It speaks when: %s.", m.Origin(housePath(i)+".when"), when)
	if h.Advice != "" {
		doc += "\n\n" + h.Advice
	}
	if h.Reason != "" {
		doc += "\n\nWhy: " + h.Reason
	}
	rule := &Rule{Name: h.Name, Family: houseFamily, Level: level, Summary: h.Message, Doc: doc, Uses: []string{housePath(i)}}
	advice := h.Advice
	if advice == "" {
		advice = fmt.Sprintf("This shop's rule is for: %s (%s).", when, m.Origin(housePath(i)+".when"))
	}
	rule.New = func(*profiles.Machine, *Options) Checker {
		w := &houseWatch{c: c, message: h.Message, advice: advice, seen: make([]houseStamp, len(c.tracked))}
		return w.checker()
	}
	return rule
}

func housePath(i int) string { return fmt.Sprintf("house[%d]", i) }

// checkHouse says what is wrong with the house rules of a profile, each with
// its place and a mark under the words.
func checkHouse(m *profiles.Machine) error {
	var errs []error
	for i, h := range m.House {
		path := housePath(i)
		if Find(h.Name) != nil {
			errs = append(errs, fmt.Errorf("%s: %s.name: %q is one of the rules that all machines have: give it another name", m.Origin(path+".name"), path, h.Name))
		}
		if _, bad := compileHouse(m, h.When); bad != nil {
			errs = append(errs, fmt.Errorf("%s: %s.when: %w\n%s", m.Origin(path+".when"), path, bad, markedText(h.When, bad)))
		}
	}
	return errors.Join(errs...)
}

// markedText shows the text with a mark under the mistake.
func markedText(text string, bad *mistake) string {
	const window = 90 // of a long text
	blank := func(r rune) rune {
		if unicode.IsPrint(r) {
			return r
		}
		return ' '
	}
	pos, end := min(bad.pos, len(text)), min(bad.end, len(text))
	lead := []rune(strings.Map(blank, text[:pos]))
	rest := []rune(strings.Map(blank, text[pos:]))
	width := max(1, len([]rune(text[pos:end])))
	if over := len(lead) - window*2/3; over > 0 && len(lead)+len(rest) > window {
		lead = append([]rune("... "), lead[over:]...)
	}
	if room := max(window-len(lead), width); len(rest) > room {
		rest = append(rest[:room:room], []rune(" ...")...)
	}
	return fmt.Sprintf("    %s%s\n    %s^%s", string(lead), string(rest), strings.Repeat(" ", len(lead)), strings.Repeat("~", min(width, window)-1))
}

// CheckProfile says what in a profile is for rules and of none of them, with
// the places: names in its table of rules, and its own rules.
func CheckProfile(m *profiles.Machine) error {
	known := ruleNames()
	for _, h := range m.House {
		known = append(known, h.Name)
	}
	var errs []error
	for _, name := range slices.Sorted(maps.Keys(m.Rules)) {
		if !slices.Contains(known, name) {
			path := "rules." + name
			errs = append(errs, fmt.Errorf("%s: %s: no rule %q%s \"tapefit rules\" lists them", m.Origin(path), path, name,
				orColon(profiles.DidYouMean(name, known))))
		}
	}
	return errors.Join(append(errs, checkHouse(m))...)
}

// A houseWatch looks for one house rule in one program. It remembers when the events
// came that the condition asks the past for, and nothing else.
type houseWatch struct {
	c               *houseCondition
	message, advice string

	// The event that is judged: op is nil where it is a block.
	op     *interp.Op
	block  *parser.Block
	state  *interp.State
	number int64 // of the block, counted from 1 as executed; -1 not known

	now     int64 // counts what is remembered
	blocks  int64 // executed to their end that have words
	last    int64 // offset of the last of them
	seen    []houseStamp
	lost    houseStamp // what may have held any event: a block that could not be read or run
	coolant int64      // when it was last known to change
	turning bool       // the spindle
	cycle   int64      // number of the block whose cycle was seen
	judged  bool       // the block was judged at its stop
}

// A houseStamp says when something came last: 0 never. prior is the block in which
// it came before that one.
type houseStamp struct{ at, block, prior int64 }

func (w *houseWatch) note(s *houseStamp) {
	w.now++
	s.at = w.now
	if block := w.blocks + 1; block != s.block {
		s.prior, s.block = s.block, block
	}
}

// houseLosing are the faults behind which anything may have been done.
var houseLosing = []interp.FaultKind{interp.SubprogramMissing, interp.CallTooDeep, interp.JumpMissing, interp.LoopUnmatched, interp.ToolChangeFault}

// checker asks for no more than the condition needs.
func (w *houseWatch) checker() Checker {
	c := Checker{State: []any{w}, Op: w.onOp, Ops: w.c.ops}
	if w.c.coolant {
		c.Ops |= Of(interp.Coolant)
	}
	if w.c.judgesBlocks() {
		c.Ops |= Of(interp.Stop)
	}
	if w.c.judgesBlocks() || len(w.c.tracked) > 0 || w.c.coolant || w.c.happens&aCycle != 0 {
		c.After = w.after
		c.Fault, c.Faults = func(*Pass, *interp.Fault) { w.note(&w.lost) }, houseLosing
	}
	return c
}

func (w *houseWatch) onOp(p *Pass, op *interp.Op) {
	w.op, w.block, w.state, w.number = op, op.Block, op.State, w.numberOf(p, op)
	happens := w.happens(op)
	if happens&w.c.happens != 0 && w.c.test(w) == isTrue {
		w.speak(p, OpPlace(op))
	}
	for i := range w.c.tracked {
		if happens&w.c.tracked[i].happens != 0 {
			w.note(&w.seen[i])
		}
	}
	switch op.Kind {
	case interp.Coolant:
		w.now++
		w.coolant = w.now
	case interp.Stop: // the last of its block, but for one by hand: the end resets what is in force
		if op.StopKind != interp.ManualStop && w.c.judgesBlocks() {
			w.judgeBlock(p, op.Block, op.State)
			w.judged = true
		}
	}
}

// numberOf is the number of the block of an operation. A move that was held
// back under cutter compensation comes later than its block.
func (w *houseWatch) numberOf(p *Pass, op *interp.Op) int64 {
	switch {
	case op.State == p.State:
		return w.blocks + 1
	case op.Block.Offset == w.last:
		return w.blocks
	}
	return -1
}

// happens gives the named events that an operation is.
func (w *houseWatch) happens(op *interp.Op) (set happening) {
	switch op.Kind {
	case interp.Traverse:
		set = aMove | aRapid
	case interp.Feed:
		set = aMove | aFeedMove
	case interp.Arc:
		set = aMove | aFeedMove | anArc
	case interp.Dwell:
		set = aDwell
	case interp.Gear:
		set = aGearShift
	case interp.Coolant:
		set = aCoolantStop
		if op.State.Flood || op.State.Mist {
			set = aCoolantStart
		}
	case interp.Tool:
		set = aToolChange
		w.turning = w.turning && op.Turret
	case interp.Spindle:
		set = w.spindle(op.State)
	case interp.Stop:
		set = w.stop(op.StopKind)
	}
	if op.InCycle && w.cycle != w.blocks+1 {
		w.cycle = w.blocks + 1
		set |= aCycle
	}
	return set
}

func (w *houseWatch) spindle(s *interp.State) (set happening) {
	turns := s.Spindle == interp.SpindleCW || s.Spindle == interp.SpindleCCW
	switch {
	case turns && !w.turning:
		set = aSpindleStart
	case !turns && w.turning:
		set = aSpindleStop
	}
	w.turning = turns
	return set
}

func (w *houseWatch) stop(kind interp.StopKind) happening {
	switch kind {
	case interp.End:
		w.turning = false
		return anEnd
	case interp.OptionalStop:
		return aStop | anOptionalStop
	case interp.ProgramStop:
		return aStop | aProgramStop
	}
	return aStop
}

// after judges and counts a block that was executed.
func (w *houseWatch) after(p *Pass, b *parser.Block) {
	if w.c.judgesBlocks() && !w.judged {
		w.judgeBlock(p, b, p.State)
	}
	w.judged = false
	for i := range w.c.tracked {
		if t := &w.c.tracked[i]; t.happens == 0 && t.word.in(b) == isTrue {
			w.note(&w.seen[i])
		}
	}
	if len(b.Faults) > 0 || hasComputedCode(b) {
		w.note(&w.lost)
	}
	if len(b.Words) > 0 {
		w.blocks++
		w.last = b.Offset
	}
}

// hasComputedCode says whether a code of the block is computed: it may be any.
func hasComputedCode(b *parser.Block) bool {
	for i := range b.Words {
		if w := &b.Words[i]; w.Expr != nil && (w.Address == 'G' || w.Address == 'M') {
			return true
		}
	}
	return false
}

func (w *houseWatch) judgeBlock(p *Pass, b *parser.Block, s *interp.State) {
	w.op, w.block, w.state, w.number = nil, b, s, w.blocks+1
	if w.c.happens&aBlock != 0 && len(b.Words) > 0 && w.c.test(w) == isTrue {
		w.speak(p, wordOrBlock(b, w.c.mark))
	}
	for _, word := range w.c.words {
		if word.in(b) == isTrue && w.c.test(w) == isTrue {
			w.speak(p, wordOrBlock(b, word))
		}
	}
}

// wordOrBlock is the place of the word; the whole block where it has none.
func wordOrBlock(b *parser.Block, word houseWord) Place {
	return WordPlace(b, slices.IndexFunc(b.Words, func(w parser.Word) bool { return word.is(&w) == isTrue }))
}

func (w *houseWatch) speak(p *Pass, at Place) {
	if n := p.Note(0, at); n != nil {
		n.Message, n.Advice = w.message, w.advice
	}
}

// in says whether the block has the word.
func (h houseWord) in(b *parser.Block) truth {
	found := isFalse
	for i := range b.Words {
		found = max(found, h.is(&b.Words[i]))
	}
	if len(b.Faults) > 0 {
		return max(found, isUnknown)
	}
	return found
}

// here is whether the block of the event has the word.
func (w *houseWatch) here(word houseWord) truth { return word.in(w.block) }

// hereWith is whether the block has a word with the address whose number, as
// written, is within limits.
func (w *houseWatch) hereWith(address byte, in func(houseSpan) truth) truth {
	found := isFalse
	for i := range w.block.Words {
		word := &w.block.Words[i]
		if word.Address == address {
			found = max(found, in(knownIf(word.Expr == nil, word.Value)))
		}
	}
	if len(w.block.Faults) > 0 {
		return max(found, isUnknown)
	}
	return found
}

// came is whether tracked event x came since y came last; since the program
// began where y is negative.
func (w *houseWatch) came(x, y int) truth {
	t, at, since := &w.c.tracked[x], w.seen[x].at, int64(0)
	if y >= 0 {
		since = w.seen[y].at
	}
	here := isFalse
	if t.happens == 0 && !t.own {
		here = w.here(t.word)
	}
	switch {
	case here == isTrue:
		return isTrue
	case at > since && (y < 0 || w.lost.at < at):
		return isTrue
	case at > since || w.lost.at > since:
		return isUnknown
	}
	return here
}

// inBlock is whether tracked event x came in the block of this one.
func (w *houseWatch) inBlock(x int) truth {
	t := &w.c.tracked[x]
	switch {
	case t.happens == 0:
		return w.here(t.word)
	case w.number < 0 || len(w.block.Faults) > 0:
		return isUnknown
	}
	return truthOf(w.seen[x].at > 0 && w.seen[x].block == w.number)
}

// inBlockBefore is whether tracked event x came in the block before that of
// this one.
func (w *houseWatch) inBlockBefore(x int) truth {
	before := w.number - 1
	s := &w.seen[x]
	switch {
	case w.number < 0:
		return isUnknown
	case s.at > 0 && before > 0 && (s.block == before || s.prior == before):
		return isTrue
	case w.lost.at > 0 && (w.lost.block == before || w.lost.prior == before):
		return isUnknown
	}
	return isFalse
}
