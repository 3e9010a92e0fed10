package adapt

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"tapefit/parser"
	"tapefit/profiles"
	"tapefit/rules"
)

// numbering gives the blocks of a program sequence numbers anew, or leaves off
// those that nothing leads to. It goes over the text: first for what leads to
// numbers (jumps, and the blocks P to Q of a contour), then for the blocks that
// are meant, and then to write. Where it is not sure which block is meant it
// changes nothing.
type numbering struct {
	m           *profiles.Machine
	text        text
	anew, strip bool
	first, step int64

	refs    []ref
	sought  map[int64]bool // numbers that refs name
	places  map[sought]found
	targets []target // in order of place
	edits   []edit
	count   int64 // of blocks that get a number
	per     int64 // so many, then the numbers begin again

	line   int    // of trouble
	why    string // it changes nothing; "": it does
	decide string

	without   int // blocks that have no room for a number
	atWithout int // the first of them
	given     Change
	left      Change
}

// A ref is a number in a block that leads to another.
type ref struct {
	pos, end int32
	sought
	line int
}

// sought is a number as it is looked for: in one program of the file, or in all.
type sought struct {
	number  int64
	program int // -1: all
}

// found says how many blocks have a number that is sought, and the last of them.
type found struct{ blocks, target int }

// An edit writes a number in place of a stretch of a block.
type edit struct {
	pos, end int32
	number   int64 // noNumber: the stretch goes
	address  bool  // N stands in front of it
	blank    bool  // and a blank behind it
}

// Of numbers that blocks get: none at all, and the one that they have.
const (
	noNumber  = -1
	ownNumber = -2
)

// A target is a block that a number may lead to.
type target struct {
	number, order int64 // order: of those that get a number, from 0
	offset        int64
	program       int
	meant         bool
}

const (
	mostRefs = 1 << 16
	// highestNumber is where numbers end on a control that takes any.
	highestNumber = 99_999_999
	// DefaultNumber is the first sequence number and the step between two:
	// common practice, which leaves room for blocks put in by hand.
	DefaultNumber = 10
)

// numberAll gives sequence numbers anew, or leaves them off.
func numberAll(out io.Writer, source, now text, res *Result, opt *Options) error {
	n := &numbering{
		m: opt.To, text: now, sought: map[int64]bool{},
		anew: opt.makes(Find(Renumber)), strip: opt.makes(Find(Unnumber)), first: int64(opt.NumberFrom), step: int64(opt.NumberBy),
	}
	if n.first == 0 {
		n.first = DefaultNumber
	}
	if n.step == 0 {
		n.step = DefaultNumber
	}
	for _, look := range [...]func() error{n.survey, n.resolve, n.enough, n.tryOut} {
		if err := look(); err != nil {
			return err
		}
		if n.why != "" {
			line, err := now.lineOf(n.line, source, res)
			if err != nil {
				return err
			}
			res.leave(rules.Warning, line, "the sequence numbers stay as they are: "+n.why, n.decide)
			return now.copyTo(out, res)
		}
	}
	buffered := bufio.NewWriterSize(out, 1<<16)
	written, err := n.write(buffered)
	if err != nil {
		return err
	}
	if err := buffered.Flush(); err != nil {
		return fmt.Errorf("writing: %w", err)
	}
	return n.tell(written, source, res)
}

// tell takes what was done into the result.
func (n *numbering) tell(written int64, source text, res *Result) error {
	fits := res.Fits
	for _, c := range [...]struct {
		change *Change
		pass   string
	}{{&n.left, Unnumber}, {&n.given, Renumber}} {
		if c.change.Count == 0 {
			continue
		}
		var err error
		if c.change.Line, err = n.text.lineOf(c.change.Line, source, res); err != nil {
			return err
		}
		c.change.Pass = Find(c.pass)
		res.Changes, fits = append(res.Changes, *c.change), false
	}
	if n.without > 0 {
		line, err := n.text.lineOf(n.atWithout, source, res)
		if err != nil {
			return err
		}
		res.leave(rules.Note, line, fmt.Sprintf("%d blocks have no room for a sequence number: %s reads %d characters", n.without, n.m.Name, n.m.Block.Longest),
			"They have none. Nothing leads to them.")
	}
	if n.anew && n.per < n.count {
		res.leave(rules.Note, 1, fmt.Sprintf("%d blocks want numbers from N%d by %d, and %s takes none over N%d: they begin again from N%d", n.count, n.first, n.step, n.m.Name, n.highest(), n.first),
			"Nothing jumps in this program, so it runs. To find a block by its number, take a smaller --number-by.")
	}
	res.Wrote, res.Fits = written, fits
	return nil
}

// stays says why nothing is changed.
func (n *numbering) stays(line int, why, decide string) {
	if n.why == "" {
		n.line, n.why, n.decide = line, why, decide
	}
}

// blocks shows the blocks, and how many programs have begun before each.
func (n *numbering) blocks(show func(b *parser.Block, program int) error) error {
	r := parser.NewFileReader(n.text.src, n.text.size)
	program := 0
	for {
		b, err := r.Next()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		if b.Kind != parser.Ordinary || b.Word('O') != nil {
			program++
		}
		if err := show(b, program); err != nil {
			return err
		}
	}
}

// survey finds what leads to numbers, and counts the blocks.
func (n *numbering) survey() error {
	return n.blocks(func(b *parser.Block, program int) error {
		if b.Kind != parser.Ordinary {
			return nil
		}
		if w := b.Word('N'); w != nil && w.Expr != nil {
			n.stays(b.Line, "a block has one that is computed", "Write a plain number there.")
		}
		n.refs = n.references(b, program, n.refs)
		if len(n.refs) > mostRefs {
			n.stays(b.Line, "there are too many jumps", "Number the program by hand.")
			n.refs = n.refs[:0]
		}
		if !n.strip && n.numbers(b) {
			n.count++
		}
		return nil
	})
}

// numbers says whether a block gets a number: one that does something, or has one.
func (n *numbering) numbers(b *parser.Block) bool {
	if b.Kind != parser.Ordinary {
		return false
	}
	if b.Word('N') != nil {
		return true
	}
	return len(b.Faults) == 0 && b.Word('O') == nil && (len(b.Words)+len(b.Settings) > 0 || b.Flow != nil)
}

// references adds what in the block leads to sequence numbers.
func (n *numbering) references(b *parser.Block, program int, refs []ref) []ref {
	const computed = "it is computed where the program goes"
	if f := b.Flow; f != nil && (f.Kind == parser.Goto || f.Kind == parser.IfGoto) {
		v := f.Target.Value
		if f.Target.Op != parser.Number || v != math.Trunc(v) {
			n.stays(b.Line, computed, "Write the number itself behind GOTO; or leave the numbers.")
			return refs
		}
		return append(refs, ref{f.Target.Pos, f.Target.End, sought{int64(v), program}, b.Line})
	}
	if b.Word('P') == nil && b.Word('Q') == nil {
		return refs
	}
	for i := range b.Words {
		w := &b.Words[i]
		switch m := n.meaning(w); {
		case m.IsContour():
			for _, letter := range [...]byte{'P', 'Q'} {
				word := b.Word(letter)
				if word == nil {
					continue
				}
				if word.Expr != nil || word.Value != math.Trunc(word.Value) {
					n.stays(b.Line, computed, "Write the numbers of the contour's blocks themselves; or leave the numbers.")
					return refs
				}
				refs = append(refs, ref{word.Pos + 1, word.End, sought{int64(word.Value), -1}, b.Line})
			}
			return refs
		case m == profiles.ReturnFromSubprogram && b.Word('P') != nil, m == profiles.CallSubprogram && b.Word('Q') != nil:
			n.stays(b.Line, fmt.Sprintf("%s may lead to one here, and tapefit does not follow it", b.Text(w.Pos, w.End)), "Number the program by hand.")
			return refs
		}
	}
	return refs
}

func (n *numbering) meaning(w *parser.Word) profiles.Meaning {
	switch {
	case w.Expr != nil:
		return profiles.Refused
	case w.Address == 'G':
		return meaningG(n.m, w)
	case w.Address == 'M':
		return meaningM(n.m, w)
	}
	return profiles.Refused
}

// resolve finds the blocks that are meant. Each number must stand once where it is
// looked for: which of several a control takes depends on where it is.
func (n *numbering) resolve() error {
	if len(n.refs) == 0 {
		return nil
	}
	for i := range n.refs {
		n.sought[n.refs[i].number] = true
	}
	if err := n.findTargets(); err != nil {
		return err
	}
	n.place()
	for i := range n.refs {
		r := &n.refs[i]
		switch blocks := n.places[r.sought].blocks; {
		case blocks == 0:
			n.stays(r.line, fmt.Sprintf("N%d is looked for, and no block has it", r.number), "Mend the jump first: numbered anew, it might lead somewhere.")
		case blocks > 1:
			n.stays(r.line, fmt.Sprintf("N%d is looked for, and %d blocks have it", r.number, blocks), "Give each block that is looked for a number of its own.")
		default:
			n.targets[n.places[r.sought].target].meant = true
		}
	}
	n.targets = slices.DeleteFunc(n.targets, func(t target) bool { return !t.meant })
	n.place()
	if n.strip {
		n.count = int64(len(n.targets))
		for i := range n.targets {
			n.targets[i].order = int64(i)
		}
	}
	return nil
}

// place notes which blocks have the numbers, in their program and in the file.
func (n *numbering) place() {
	n.places = map[sought]found{}
	for i := range n.targets {
		for _, program := range [...]int{n.targets[i].program, -1} {
			at := sought{n.targets[i].number, program}
			n.places[at] = found{n.places[at].blocks + 1, i}
		}
	}
}

// findTargets finds the blocks with numbers that are looked for.
func (n *numbering) findTargets() error {
	order := int64(0)
	return n.blocks(func(b *parser.Block, program int) error {
		if !n.numbers(b) {
			return nil
		}
		if w := b.Word('N'); w != nil && n.sought[int64(w.Value)] && w.Value == math.Trunc(w.Value) {
			n.targets = append(n.targets, target{number: int64(w.Value), order: order, offset: b.Offset, program: program})
			if len(n.targets) > mostRefs {
				n.stays(b.Line, "there are too many blocks with numbers that are looked for", "Number the program by hand.")
				n.targets = n.targets[:0]
			}
		}
		order++
		return nil
	})
}

// highest is the highest number that the machine takes.
func (n *numbering) highest() int64 {
	if ends := n.m.Block.Sequence; len(ends) == 2 {
		return int64(ends[1])
	}
	return highestNumber
}

// enough looks whether there are numbers enough.
func (n *numbering) enough() error {
	if !n.anew {
		return nil
	}
	low := int64(0)
	if ends := n.m.Block.Sequence; len(ends) == 2 {
		low = int64(ends[0])
	}
	switch high := n.highest(); {
	case !n.m.Takes('N'):
		n.stays(1, n.m.Name+" takes no sequence numbers", "Leave them off with --pass "+Unnumber+".")
	case n.first < low || n.first > high:
		n.stays(1, fmt.Sprintf("%s takes N%d to N%d", n.m.Name, low, high), "Say with --number-from where they shall begin.")
	default:
		n.per = (high-n.first)/n.step + 1
		if n.count > n.per && (len(n.refs) > 0 || n.m.Block.SequenceRising) {
			n.stays(1, fmt.Sprintf("%d blocks want numbers from N%d by %d, and %s takes none over N%d", n.count, n.first, n.step, n.m.Name, high),
				"Take a smaller --number-by; or number only the blocks that something leads to, with --pass "+Unnumber+" beside it.")
		}
	}
	return nil
}

// tryOut looks whether all blocks can be written. Those that nothing leads to, and
// that lead to nothing, can be left without a number.
func (n *numbering) tryOut() error {
	if len(n.refs) == 0 {
		return nil
	}
	_, err := n.write(io.Discard)
	n.given, n.left, n.without = Change{}, Change{}, 0
	return err
}

// write writes the program.
func (n *numbering) write(out io.Writer) (written int64, err error) {
	order, next := int64(0), 0
	var line []byte
	var refs []ref
	err = n.blocks(func(b *parser.Block, program int) error {
		at := -1 // the target that it is
		if next < len(n.targets) && n.targets[next].offset == b.Offset {
			at = next
			next++
		}
		line = append(line[:0], b.Raw...)
		if n.numbers(b) {
			refs = refs[:0]
			if len(n.refs) > 0 {
				refs = n.references(b, program, refs)
			}
			line = n.block(line[:0], b, refs, at, order)
			order++
		}
		written += int64(len(line))
		if _, err := out.Write(line); err != nil {
			return fmt.Errorf("writing: %w", err)
		}
		return nil
	})
	return written, err
}

// block writes a block with its new number.
func (n *numbering) block(dst []byte, b *parser.Block, refs []ref, at int, order int64) []byte {
	number, off := n.numberOf(b, at, order)
	dst = n.edited(dst, b, refs, number)
	longest := n.m.Block.Longest
	if size := len(bytes.TrimRight(dst, "\r\n")); longest > 0 && size > longest && size > len(b.Raw)-len(lineEnd(b)) {
		if at >= 0 || len(refs) > 0 {
			n.stays(b.Line, fmt.Sprintf("the block would be longer than the %d characters that %s reads", longest, n.m.Name), "Make the block shorter, or take smaller numbers.")
			return append(dst[:0], b.Raw...)
		}
		if n.without++; n.without == 1 {
			n.atWithout = b.Line
		}
		dst = n.edited(dst[:0], b, nil, noNumber)
	}
	if !bytes.Equal(dst, b.Raw) {
		c := &n.given
		if off {
			c = &n.left
		}
		if c.Count++; c.Count == 1 {
			c.Line, c.Was, c.Now = b.Line, strings.TrimSpace(string(b.Raw)), strings.TrimSpace(string(dst))
		}
	}
	return dst
}

// numberOf is the number that a block gets; off says that it loses the one that it
// has. at is the target that it is, -1 for none.
func (n *numbering) numberOf(b *parser.Block, at int, order int64) (number int64, off bool) {
	switch {
	case n.strip && at < 0:
		return noNumber, b.Word('N') != nil
	case !n.anew:
		return ownNumber, false
	case n.strip:
		order = int64(at)
	}
	return n.at(order), false
}

// at is the number of a block by its order.
func (n *numbering) at(order int64) int64 { return n.first + order%n.per*n.step }

// edited is the block with a number in place of its own, and with new numbers in
// what leads to others. A block that had nothing but a number is gone without.
func (n *numbering) edited(dst []byte, b *parser.Block, refs []ref, number int64) []byte {
	edits := n.edits[:0]
	switch old := b.Word('N'); {
	case number == ownNumber:
	case old != nil:
		e := edit{pos: old.Pos, end: old.End, number: number, address: true}
		for number == noNumber && e.end < int32(len(b.Raw)) && (b.Raw[e.end] == ' ' || b.Raw[e.end] == '\t') {
			e.end++
		}
		if number == noNumber && len(b.Words) == 1 && len(b.Comments)+len(b.Settings)+len(b.Faults) == 0 && b.Flow == nil {
			return dst
		}
		edits = append(edits, e)
	case number != noNumber:
		at := front(b)
		blank := len(b.Words) < 2 || bytes.IndexByte(bytes.TrimSpace(b.Raw[at:]), ' ') >= 0
		edits = append(edits, edit{at, at, number, true, blank})
	}
	for i := range refs {
		if r := &refs[i]; n.anew {
			edits = append(edits, edit{pos: r.pos, end: r.end, number: n.at(n.targets[n.places[r.sought].target].order)})
		}
	}
	slices.SortFunc(edits, func(x, y edit) int { return int(x.pos - y.pos) })
	n.edits = edits
	at := int32(0)
	for i := range edits {
		dst = edits[i].write(append(dst, b.Raw[at:edits[i].pos]...))
		at = edits[i].end
	}
	return append(dst, b.Raw[at:]...)
}

func (e *edit) write(dst []byte) []byte {
	if e.number == noNumber {
		return dst
	}
	if e.address {
		dst = append(dst, 'N')
	}
	dst = strconv.AppendInt(dst, e.number, 10)
	if e.blank {
		dst = append(dst, ' ')
	}
	return dst
}

// front is where the number of a block goes: behind its block delete mark, and in
// front of all else.
func front(b *parser.Block) int32 {
	var room [16]parser.Token
	for _, t := range b.Tokens(room[:0]) {
		if t.Kind != parser.Space && t.Kind != parser.DeleteMark {
			return t.Pos
		}
	}
	return 0
}
