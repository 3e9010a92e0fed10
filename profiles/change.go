package profiles

import (
	"errors"
	"fmt"
	"strings"
)

// A ChangeBlock is one block of tools.change_sequence, read.
type ChangeBlock struct {
	Words   []ChangeWord
	Comment string // without its marks, with {tool} and {name} as they stand; "": none

	SpindleOff, CoolantOff bool
	Tool                   bool // has the tool number
	Change                 bool // it is the change: the tool change code, or the stop where the machine has none
	Stop                   Meaning
	Accepted               int // an accepted M code, by tenths; 0: none

	// Move is how the block moves, Refused where it does not: TraverseMove (Z up
	// to a level in work coordinates), MachineCoordinates, Home or HomeSecond.
	Move Meaning
	Axes uint8           // that move: bit 0 is X
	To   [NumAxes]Length // where to; of Home and HomeSecond nothing
}

// A ChangeWord is a word of a ChangeBlock.
type ChangeWord struct {
	Address byte
	Meaning Meaning // of G and M
	Text    string  // of G and M as it is written: "M5"
	Axis    int     // of X Y Z; its place stands in To
}

// ChangeSequence are the blocks of tools.change_sequence; nil where the profile
// has none.
func (m *Machine) ChangeSequence() []ChangeBlock { return m.codes.change }

// changeSequence reads tools.change_sequence and checks that its blocks make a
// tool change.
func (v *validator) changeSequence() {
	t := &v.m.Tools
	if len(t.ChangeSequence) == 0 {
		return
	}
	const key = "tools.change_sequence"
	if t.Word == "tool-offset" {
		v.fail(key, "here a T word alone brings the tool (tools.word): leave the sequence out, or take back what a base says with []")
		return
	}
	var blocks []ChangeBlock
	for i, text := range t.ChangeSequence {
		b, err := v.m.changeBlock(text)
		if err != nil {
			v.fail(fmt.Sprintf("%s[%d]", key, i), "%q: %s", text, err)
			return
		}
		blocks = append(blocks, b)
	}
	if i, err := v.m.changeOrder(blocks); err != nil {
		v.fail(fmt.Sprintf("%s[%d]", key, i), "%q: %s", t.ChangeSequence[i], err)
		return
	}
	v.m.codes.change = blocks
}

// changeOrder says what is wrong with the blocks as a whole, and at which.
func (m *Machine) changeOrder(blocks []ChangeBlock) (int, error) {
	changed, tool, up, stopped, off := false, false, false, false, false
	for i := range blocks {
		b := &blocks[i]
		const z = 1 << 2
		switch {
		case b.Move != Refused && changed:
			return i, errors.New("moves behind the change are the program's own: leave it out")
		case b.Move != Refused && stopped:
			return i, errors.New("it moves behind a stop or another code: put moves before them")
		case b.Move != Refused && b.Axes != z && (b.Axes&z != 0 || !up):
			return i, errors.New("axes X and Y must not move before Z is up: write Z in a block of its own before them")
		case b.Tool && tool, b.Change && changed:
			return i, errors.New("a second change: a sequence is written for one tool")
		case (b.SpindleOff || b.CoolantOff) && changed:
			return i, errors.New("spindle and coolant go off before the change: write it there")
		}
		off = off || b.SpindleOff
		up = up || b.Axes&z != 0
		stopped = stopped || b.Stop != Refused || b.Accepted != 0
		tool = tool || b.Tool
		changed = changed || b.Change
		switch {
		case changed && !tool:
			return i, errors.New("the word T{tool} is missing: write it here or before")
		case changed && !off && m.CodeFor(ToolChange) == "":
			return i, errors.New("a stop leaves the spindle on: write the code that switches it off before")
		}
	}
	if !changed {
		code := m.CodeFor(ToolChange)
		if code == "" {
			return len(blocks) - 1, errors.New(`this machine has no code for a tool change, so a stop is the change: write "M0 (TOOL {tool})", with the tool in its comment`)
		}
		return len(blocks) - 1, fmt.Errorf("no block changes the tool: write T{tool} %s", code)
	}
	return 0, nil
}

// changeBlock reads one block: codes as a program has them, T{tool}, X Y Z with
// 0 or with a length as profiles write it in braces, and a comment.
func (m *Machine) changeBlock(text string) (ChangeBlock, error) {
	b := ChangeBlock{}
	rest := strings.TrimSpace(text)
	if rest == "" {
		return b, errors.New("there is nothing in it")
	}
	for rest != "" {
		if rest[0] == '(' {
			comment, ok := strings.CutSuffix(rest[1:], ")")
			if !ok || strings.ContainsAny(comment, "()") {
				return b, errors.New("a comment stands at the end of the block, in ( )")
			}
			b.Comment = comment
			break
		}
		address := rest[0]
		if address < 'A' || address > 'Z' {
			return b, fmt.Errorf("%q begins no word: write capitals and numbers, and fields in { }", rest)
		}
		value, after, err := changeValue(rest[1:])
		if err != nil {
			return b, err
		}
		if err := b.add(m, address, value); err != nil {
			return b, err
		}
		rest = strings.TrimLeft(after, " ")
	}
	return b, b.whole(m)
}

// changeValue cuts the number or the field in braces off a text.
func changeValue(text string) (value, rest string, err error) {
	if strings.HasPrefix(text, "{") {
		end := strings.IndexByte(text, '}')
		if end < 0 {
			return "", "", fmt.Errorf("%q: } is missing", text)
		}
		return text[:end+1], text[end+1:], nil
	}
	n := 0
	for n < len(text) && strings.IndexByte("0123456789.-+", text[n]) >= 0 {
		n++
	}
	return text[:n], text[n:], nil
}

// add takes a word into the block.
func (b *ChangeBlock) add(m *Machine, address byte, value string) error {
	word := ChangeWord{Address: address, Axis: -1}
	switch i := strings.IndexByte("XYZ", address); {
	case address == 'G' || address == 'M':
		word.Text = string(address) + value
		letter, tenths, ok := parseCode(word.Text)
		if !ok {
			return fmt.Errorf("%q is no code: write it without zeros before its number, such as M5", word.Text)
		}
		word.Meaning = m.M(tenths)
		if letter == 'G' {
			word.Meaning = m.G(tenths)
		}
		if err := b.code(word.Meaning, tenths, word.Text); err != nil {
			return err
		}
	case address == 'T':
		if value != "{tool}" {
			return errors.New("the number of the tool is another each time: write T{tool}")
		}
		b.Tool = true
	case i >= 0:
		to, err := changePlace(value)
		if err != nil {
			return fmt.Errorf("%c: %w", address, err)
		}
		if m.Axis(i) == nil && m.Kind != "" {
			return fmt.Errorf("the machine has no axis %c", address)
		}
		word.Axis, b.Axes, b.To[i] = i, b.Axes|1<<i, to
	default:
		return fmt.Errorf("%c%s: a tool change has codes, T{tool}, X Y Z and a comment", address, value)
	}
	b.Words = append(b.Words, word)
	return nil
}

// changePlace reads where an axis goes: 0, or a length in braces.
func changePlace(value string) (Length, error) {
	if field, ok := strings.CutPrefix(value, "{"); ok {
		v, err := lengthDim.parse(strings.TrimSuffix(field, "}"))
		return Length(v), err
	}
	if strings.Trim(value, "-+0.") != "" || value == "" {
		return 0, fmt.Errorf("%q has no unit, and programs are in inch or mm: write {2 in}", value)
	}
	return 0, nil
}

// code takes over what a G or M code does.
func (b *ChangeBlock) code(m Meaning, tenths int, text string) error {
	switch m {
	case Refused:
		return fmt.Errorf("%s is not accepted by this machine", text)
	case SpindleStop:
		b.SpindleOff = true
	case CoolantOff:
		b.CoolantOff = true
	case ToolChange:
		b.Change = true
	case TraverseMove, Absolute, Incremental:
	case MachineCoordinates, Home, HomeSecond:
		b.Move = m
	case ProgramStop, OptionalStop:
		b.Stop = m
	case Accepted:
		if text[0] == 'M' && b.Accepted == 0 {
			b.Accepted = tenths
			return nil
		}
		return fmt.Errorf("%s: one M code that is taken without effect stands in a block", text)
	default:
		return fmt.Errorf("%s, %s, is no part of a tool change: spindle and coolant off, moves up and away, stops and the change are", text, m)
	}
	return nil
}

func (b *ChangeBlock) has(m Meaning) bool {
	for i := range b.Words {
		if w := &b.Words[i]; (w.Address == 'G' || w.Address == 'M') && w.Meaning == m {
			return true
		}
	}
	return false
}

// whole checks what the words make together.
func (b *ChangeBlock) whole(m *Machine) error {
	ms := 0
	for i := range b.Words {
		if b.Words[i].Address == 'M' {
			ms++
		}
	}
	for comment := b.Comment; ; {
		_, field, ok := strings.Cut(comment, "{")
		if !ok {
			break
		}
		if field, comment, ok = strings.Cut(field, "}"); !ok || field != "tool" && field != "name" {
			return errors.New("a comment has the fields {tool}, its number, and {name}, what it is")
		}
	}
	if b.Stop == ProgramStop && m.CodeFor(ToolChange) == "" && strings.Contains(b.Comment, "{tool}") {
		b.Change, b.Tool = true, true
	}
	switch {
	case m.Words.MCodes > 0 && ms > m.Words.MCodes:
		return fmt.Errorf("%d M codes, and the control takes %d in a block: write them in blocks of their own", ms, m.Words.MCodes)
	case b.Comment != "" && m.Block.Comments == "":
		return errors.New("the control knows no comments: leave it out")
	case (b.Stop != Refused || b.Accepted != 0) && (b.Axes != 0 || b.Change && b.has(ToolChange)):
		return errors.New("a stop or a code of the machine's own stands in a block of its own")
	}
	return b.moves(m)
}

// moves checks the move of the block.
func (b *ChangeBlock) moves(m *Machine) error {
	const z = 1 << 2
	home := b.Move == Home || b.Move == HomeSecond
	switch {
	case b.Axes == 0 && b.Move == Refused:
		return nil
	case b.Axes == 0:
		return errors.New("it names no axis: write Z")
	case b.Change || b.Tool:
		return errors.New("moves stand in blocks of their own before the change")
	case home && m.Control.HomeAxes != "named":
		return errors.New("here all axes go home at once (control.home_axes): X and Y must not move before Z is up, so write another way up")
	case home && (!b.has(Incremental) || b.To != [NumAxes]Length{}):
		return fmt.Errorf("on its way home the tool goes through the place that is named: write %s and 0, so that it goes straight there", m.CodeFor(Incremental))
	case !home && b.has(Incremental):
		return errors.New("a distance leads to another place each time: write places")
	case !home && !b.has(TraverseMove):
		return fmt.Errorf("a way up goes at rapid: write %s", m.CodeFor(TraverseMove))
	case b.Move == Refused && b.Axes != z:
		return errors.New("where X and Y are free depends on the part: only Z goes to a level in work coordinates")
	case b.Move == Refused:
		b.Move = TraverseMove
	}
	for i := range 3 {
		if b.Axes>>i&1 == 1 && home && homeOf(m.Axis(i), b.Move) == nil {
			return fmt.Errorf("the profile does not say where %c goes: give axes.%c.home, of %s axes.%c.second", AxisLetters[i], AxisLetters[i]|0x20, m.CodeFor(HomeSecond), AxisLetters[i]|0x20)
		}
	}
	return nil
}

// homeOf is where an axis goes by the code, in machine coordinates; nil: not known.
func homeOf(a *Axis, code Meaning) *Length {
	switch {
	case a == nil:
		return nil
	case code == HomeSecond:
		return a.Second
	}
	return a.Home
}

// HomeOf is where axis i goes by Home or HomeSecond, in machine coordinates;
// nil: not known.
func (m *Machine) HomeOf(i int, code Meaning) *Length { return homeOf(m.Axis(i), code) }
