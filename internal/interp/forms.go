package interp

import (
	"strings"

	"tapefit/parser"
	"tapefit/profiles"
)

// The forms in which controls differ: which words say how long, how often and
// which program.

// dwellLetters are the words that may say how long, the first that stands in
// the block first.
var dwellLetters = [...]byte{'P', 'X', 'U'}

// dwellHere waits. An X that says how long is no axis word.
func (in *Interp) dwellHere(b *parser.Block) {
	w := &in.w
	word := w.gAt[profiles.NonModal]
	wanted := byte(0)
	for _, letter := range dwellLetters {
		unit := in.m.DwellUnit(letter)
		if unit == 0 {
			continue
		}
		if wanted == 0 {
			wanted = letter
		}
		if !w.has(letter) {
			continue
		}
		v := w.take(letter)
		if letter != 'P' {
			v = in.plain(b, letter)
			w.set &^= letterBit(letter)
		}
		if v < 0 {
			in.faultValue(b, w.at[letter-'A'], "a dwell is not negative")
			return
		}
		in.op.Seconds = v * unit
		in.emit(Dwell, word)
		return
	}
	if wanted == 0 {
		wanted = 'P'
	}
	in.faultMissing(b, word, wanted)
	// A time at another address is no move.
	w.set &^= letterBit('X') | letterBit('U')
}

// cycleDwellUnit is how many seconds one of P is worth in a canned cycle.
func (in *Interp) cycleDwellUnit() float64 {
	if unit := in.m.DwellUnit('P'); unit != 0 {
		return unit
	}
	return 1
}

// repeatLetter is the address that repeats cycles and calls.
func (in *Interp) repeatLetter() byte {
	if in.m.Block.Repeat == "K" {
		return 'K'
	}
	return 'L'
}

// count takes a word that counts: its number as written, in any number form.
func (in *Interp) count(b *parser.Block, letter byte) (int64, bool) {
	v := in.w.take(letter)
	if word := &b.Words[in.w.at[letter-'A']]; word.Expr == nil {
		v = word.Value
	}
	return whole(v)
}

// needs says whether a cycle cannot do without the word, and so takes it for
// itself.
func needs(form profiles.Cycle, letter byte) bool {
	return strings.IndexByte(form.Needs, letter) >= 0
}

// cycleRepeats is how often the cycle of the block is executed. False: a fault
// has said why not.
func (in *Interp) cycleRepeats(b *parser.Block, form profiles.Cycle) (int64, bool) {
	letter := in.repeatLetter()
	if !in.w.has(letter) || needs(form, letter) {
		return 1, true
	}
	n, ok := in.count(b, letter)
	if !ok || n == 0 {
		in.faultValue(b, in.w.at[letter-'A'], "a count of repeats is a whole number, 1 or more")
		return 0, false
	}
	return n, true
}

// callWords is the program that the call of a block names, and how often it is
// executed; word is the code of the call. One with arguments is always repeated
// by L: K is an argument. False: a fault has said why there is no call.
func (in *Interp) callWords(b *parser.Block, word int, arguments bool) (number, repeats int64, ok bool) {
	w := &in.w
	if !w.has('P') {
		in.faultMissing(b, word, 'P')
		return 0, 0, false
	}
	number, ok = in.count(b, 'P')
	if !ok {
		in.faultValue(b, w.at['P'-'A'], "a program number is a whole number")
		return 0, 0, false
	}
	letter := in.repeatLetter()
	switch {
	case arguments:
		letter = 'L'
	case in.m.Block.Call == "digits":
		return number % 10000, max(1, number/10000), true
	}
	if !w.has(letter) {
		return number, 1, true
	}
	repeats, ok = in.count(b, letter)
	if !ok {
		in.faultValue(b, w.at[letter-'A'], "a count of repeats is a whole number, 0 or more")
	}
	return number, repeats, ok
}
