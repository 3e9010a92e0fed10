package profiles

import (
	"fmt"
	"strings"
)

// CharacterSet is what a control reads of the characters 0 to 255.
type CharacterSet [256]bool

// Characters are those that the control reads, with the ends of lines and blank
// tape; false: all of them.
func (m *Machine) Characters() (set CharacterSet, limited bool) {
	if m.Block.Characters == "" {
		return set, false
	}
	set, _ = characterSet(m.Block.Characters) // Validate has seen it
	return set, true
}

// characterSet reads what block.characters says. A hyphen is itself but between
// two letters of one case or two digits, where it makes a range.
func characterSet(text string) (set CharacterSet, err error) {
	for _, c := range "\n\r\x00" { // ends of lines, blank tape and rub-outs
		set[c] = true
	}
	for i := 0; i < len(text); i++ {
		c := text[i]
		set[c] = true
		if i+2 >= len(text) || text[i+1] != '-' || kindOf(c) == 0 || kindOf(text[i+2]) != kindOf(c) {
			continue
		}
		last := text[i+2]
		if last < c {
			return set, fmt.Errorf("%q runs backwards: write %c-%c", text[i:i+3], last, c)
		}
		for ; c < last; c++ {
			set[c] = true
		}
		set[last] = true
		i += 2
	}
	return set, nil
}

// kindOf is 'A' of capitals, 'a' of small letters, '0' of digits, else 0.
func kindOf(c byte) byte {
	switch {
	case c >= 'A' && c <= 'Z':
		return 'A'
	case c >= 'a' && c <= 'z':
		return 'a'
	case c >= '0' && c <= '9':
		return '0'
	}
	return 0
}

// characters checks block.characters: a control that does not read its own
// addresses and digits reads nothing.
func (v *validator) characters(text string) {
	if text == "" {
		return
	}
	set, err := characterSet(text)
	if err != nil {
		v.fail("block.characters", "%s", err)
		return
	}
	for _, c := range v.m.Words.Accepted + "N0123456789-" {
		if c < 256 && !set[c] {
			v.fail("block.characters", "%c is missing, and no program can do without it: write \"A-Z0-9 %%()+-./\" and what this control reads besides", c)
			return
		}
	}
	if i := strings.IndexFunc(text, func(r rune) bool { return r < ' ' && r != '\t' || r > '~' }); i >= 0 {
		v.fail("block.characters", "%q: accepted are the characters of a keyboard, without accents", text[i:])
	}
}

// link checks the serial line. Bits of a character are at least start, five of
// it and stop (common practice).
func (v *validator) link(l *Link) {
	v.between("control.link.baud", l.Baud, 0, 10_000_000)
	if !v.given("control.link") {
		return
	}
	if l.Baud == 0 {
		v.missing("control.link.baud", "9600")
		return
	}
	v.between("control.link.bits", l.Bits, 7, 12)
	if l.Buffer < 1 {
		v.fail("control.link.buffer", "%q: write how many characters the control keeps ready, such as \"1 kB\"", v.written("control.link.buffer"))
	}
}
