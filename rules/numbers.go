package rules

import (
	"fmt"
	"strings"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
)

// numbers are the rules about how numbers are written.
func numbers() []*Rule {
	return []*Rule{{
		Name: "number-format", Family: "numbers", Level: Error,
		Summary: "a number in a form that this control reads wrongly or refuses",
		Doc:     `Where a control counts least increments, X1 is one ten-thousandth of an inch and X1. is an inch: a program that mixes both moves ten thousand times too far or not at all. Others refuse a number without a point, or with more digits than their format has.`,
		Uses:    []string{"numbers.point", "numbers.decimals", "numbers.digits", "numbers.suppress"},
		Example: Example{"knee-mill", "%\nG90\nG0 X1.25 Y0.5\nG0 X2 Y0.5\nM30\n%\n", "%\nG90\nG0 X1.25 Y0.5\nG0 X2. Y0.5\nM30\n%\n"},
		New:     newNumberFormat,
	}}
}

// numberFormat looks at the numbers of axis words.
type numberFormat struct {
	form    *profiles.Numbers
	pointed bool // an axis word with a point has been seen
	words   uint32
}

func newNumberFormat(m *profiles.Machine, _ *Options) Checker {
	f := &numberFormat{form: &m.Numbers}
	for _, letter := range "XYZABCIJKRQUVW" {
		f.words |= 1 << (letter - 'A')
	}
	if m.Numbers.Point == "optional" && m.Numbers.Decimals == (profiles.Decimals{}) && m.Numbers.Digits == (profiles.Decimals{}) {
		return Checker{}
	}
	return Checker{State: []any{f}, Block: f.block}
}

func (f *numberFormat) block(p *Pass, b *parser.Block) {
	for i := range b.Words {
		w := &b.Words[i]
		if f.words>>(w.Address-'A')&1 == 0 || w.Expr != nil {
			continue
		}
		f.point(p, b, i)
		f.digits(p, b, i)
	}
}

// keys of the causes of number-format.
const (
	pointNeeded = iota
	pointRefused
	pointMixed
	decimalsOver
	digitsOver
)

func (f *numberFormat) point(p *Pass, b *parser.Block, i int) {
	w := &b.Words[i]
	if w.Point {
		f.pointed = true
		if f.form.Point == "refused" {
			if n := p.Note(pointRefused, WordPlace(b, i)); n != nil {
				n.Message = fmt.Sprintf("%s has a decimal point; %s takes none and counts least increments", wordText(b, i), p.Machine.Name)
				n.Advice = "Have the post write numbers without a point, in least increments."
			}
		}
		return
	}
	if w.Value == 0 {
		return // nothing is nothing in any format
	}
	switch {
	case f.form.Point != "needed" && (f.form.Point != "counts" || !f.pointed) || unpointed(p.Machine, b, w.Address):
	case f.form.Point == "needed":
		if n := p.Note(pointNeeded, WordPlace(b, i)); n != nil {
			n.Message = fmt.Sprintf("%s has no decimal point; %s wants one", wordText(b, i), p.Machine.Name)
			n.Advice = fmt.Sprintf("Write %s.", wordText(b, i)) + " and have the post always write the point."
		}
	default:
		if n := p.Note(pointMixed, WordPlace(b, i)); n != nil {
			n.Message = fmt.Sprintf("%s has no decimal point though words before it have: %s counts it as %s least increments", wordText(b, i), p.Machine.Name, trim(w.Value, 0))
			n.Advice = fmt.Sprintf("If %s. is meant, write the point; write all numbers of a program one way.", wordText(b, i))
		}
	}
}

// unpointed says whether the word is one of a turning cycle that is written without
// a point beside others that have one: no length at all, or one that counts least
// increments there (common practice: the steps of grooves and threads).
func unpointed(m *profiles.Machine, b *parser.Block, address byte) bool {
	for i := range b.Words {
		w := &b.Words[i]
		cycle := profiles.Refused
		if w.Address == 'G' && w.Expr == nil {
			cycle = m.G(tenths(w))
		}
		switch {
		case !cycle.IsTurning():
		case interp.Unmeasured(cycle, address):
			return true
		case !cycle.IsContour():
			return strings.IndexByte(m.Turning.Counts, address) >= 0 || address == 'Q' && m.Numbers.Point == "counts"
		}
	}
	return false
}

// digits checks the count of digits before and behind the point.
func (f *numberFormat) digits(p *Pass, b *parser.Block, i int) {
	w := &b.Words[i]
	decimals, digits := f.form.Decimals.MM, f.form.Digits.MM
	if p.State.Units == profiles.UnitsInch {
		decimals, digits = f.form.Decimals.Inch, f.form.Digits.Inch
	}
	if w.Point && decimals > 0 && int(w.Frac) > decimals {
		if n := p.Note(decimalsOver, WordPlace(b, i)); n != nil {
			n.Message = fmt.Sprintf("%s has %d digits behind the point; %s reads %d", wordText(b, i), w.Frac, p.Machine.Name, decimals)
			n.Advice = fmt.Sprintf("Have the post round to %d decimals, arc centres too.", decimals)
		}
	}
	most := digits
	if !w.Point && (f.form.Point == "counts" || f.form.Point == "refused") {
		most += decimals
	}
	if digits > 0 && int(w.Whole) > most {
		if n := p.Note(digitsOver, WordPlace(b, i)); n != nil {
			n.Message = fmt.Sprintf("%s has %d digits before the point; %s reads %d", wordText(b, i), w.Whole, p.Machine.Name, most)
			n.Advice = "Check the number: it is longer than the control's format."
		}
	}
}
