package rules

import (
	"fmt"
	"math"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
)

// unitsMisreads belong to the modes.
func unitsMisreads() []*Rule {
	const metric = "T2 M6\nM41\nS800 M3\nG54 G0 X0 Y0\nG43 H2 Z25.\nZ5.\nG1 Z-6. F120.\nX180. F300.\nY95.\nG0 Z25.\nM30\n%\n"
	return []*Rule{
		{
			Name: "units-misread", Family: "modes", Level: Error,
			Summary: "the numbers look like millimetres and are read as inches, or the other way round",
			Doc: `A program without a code for units is read in those in which the control wakes up, or which the last job left. Millimetres read as inches go through the part, the table and the ends of the axes; inches read as millimetres come so close to the part with every retract that the first traverse ends in it.

Millimetres are seen by places, depths and feeds that this machine cannot do, that are too much by far, and that it could all do in millimetres; one wrong number is not enough. Where nothing is too much by far, it takes all three in a program in which no number is written as people write inches. It is the same where the code is there and is the wrong one. What else is said of travels, feeds and depths then hangs on it and is left out. Inches are seen, where no code says units, by small numbers written with four decimals or without a zero before the point, and slow feeds throughout; then the finding is a warning.`,
			Uses:    []string{"start.units", "codes", "axes.*.travel", "axes.*.feed", "tools.loaded"},
			Example: Example{"bed-mill", "%\n" + metric, "%\nG21\n" + metric},
			New:     newUnitsMisread,
		},
	}
}

// letterMisreads belong to the language.
func letterMisreads() []*Rule {
	return []*Rule{
		{
			Name: "program-number-inside-block", Family: "language", Level: Error,
			Summary: "an O word behind other words: a letter O for a zero, most often",
			Doc:     `O begins a program and stands first in its block. X5O10, typed for X5010 or X5.010, is X5 and the number of a program: the axis goes somewhere else, and no control warns.`,
			Uses:    []string{"words.accepted"},
			Example: Example{"bed-mill", "%\nM41\nS500 M3\nG0 X0 Z1.\nG1 X1.5O2 F10.\nM30\n%\n", "%\nM41\nS500 M3\nG0 X0 Z1.\nG1 X1.502 F10.\nM30\n%\n"},
			New:     newInsideNumber,
		},
	}
}

func newInsideNumber(m *profiles.Machine, _ *Options) Checker {
	if !m.Takes('O') {
		return Checker{} // code-not-accepted speaks
	}
	return Checker{Words: With("O"), Block: func(p *Pass, b *parser.Block) {
		for i := range b.Words {
			if b.Words[i].Address != 'O' || i == 0 || i == 1 && b.Words[0].Address == 'N' || len(b.Faults) > 0 {
				continue
			}
			n := p.Note(0, WordPlace(b, i))
			if n == nil {
				continue
			}
			n.Message = fmt.Sprintf("%s stands behind other words: O is the number of a program and stands first in its block", wordText(b, i))
			n.Advice = "Put it in a block of its own."
			if typed, zero := insteadOfZero(b, i); typed != "" {
				n.Message = fmt.Sprintf("%s is read as %s and the number of a program, %s", typed, wordText(b, i-1), wordText(b, i))
				n.Advice = fmt.Sprintf("Write the digit 0 in place of the letter O: %s, or what else was meant.", zero)
			}
		}
	}}
}

// insteadOfZero says whether word i is a letter O in the number of the word
// before it: that number as it is typed, and with the digit; else "".
func insteadOfZero(b *parser.Block, i int) (typed, zero string) {
	if i == 0 || b.Words[i].Address != 'O' || b.Words[i-1].End != b.Words[i].Pos || b.Words[i-1].Expr != nil || b.Raw[b.Words[i].Pos] == ':' {
		return "", ""
	}
	one, two := wordText(b, i-1), wordText(b, i)
	return one + two, one + "0" + two[1:]
}

// How a program in the wrong units goes wrong.
type misreading uint8

const (
	readAcross misreading = 1 << iota // along X or Y
	readDeep                          // along Z
	readFast
)

// unitsRead gathers what the rules about travels, feeds and depths see of a
// program that may be in other units than those in which it is read.
type unitsRead struct {
	signs  misreading // that would be no fault in millimetres
	strong bool       // one of them is far beyond what an inch program asks for
	doubt  bool       // something speaks against millimetres
	first  Place      // of the signs
	said   interp.Said
	worst  [3]sign // of each kind
}

// A sign is something that a machine cannot do.
type sign struct {
	by    float64 // times the limit
	what  byte    // the address
	value float64 // mm, mm/s
}

// How far beyond a limit no inch program goes that was made for a machine at
// all like this one: places and depths, feeds.
const (
	farBeyond   = 2.5
	farTooQuick = 5
)

// misread takes in something that this machine cannot do in the units in force.
func (p *Pass) misread(kind misreading, op *interp.Op, at Place, seen sign) {
	s, u := op.State, &p.units
	if s.Units != profiles.UnitsInch || s.Unknown&interp.UnknownUnits != 0 {
		u.doubt = true
		return
	}
	if u.signs == 0 {
		u.first, u.said = at, s.UnitsSaid
	}
	far := farBeyond
	if kind == readFast {
		far = farTooQuick
	}
	u.doubt = u.doubt || seen.by > 25.4 || (s.UnitsSaid.Line == 0) != (u.said.Line == 0)
	u.strong = u.strong || seen.by >= far
	u.signs |= kind
	if worst := &u.worst[kind>>1]; seen.by > worst.by { // 1, 2, 4: in order
		*worst = seen
	}
}

// looksMetric says whether the program is in millimetres and read in inches. Where
// nothing goes far beyond the machine everything does that can, and no word of those
// written is as people write inches.
func (u *unitsRead) looksMetric(written int) bool {
	several := u.signs&(u.signs-1) != 0
	all := u.signs == readAcross|readDeep|readFast && written == 0
	return several && (u.strong || all) && !u.doubt
}

// hangOnUnits are the rules that speak again and again of a program in the wrong
// units.
var hangOnUnits = [...]string{"travel-exceeded", "feed-over-axis-limit", "cut-deeper-than-tool", "feed-mode-stale", "thread-lead-limit", "tapping-feed-mismatch", "number-format"}

// inches is how a program looks that is in inches.
type inches struct {
	written int     // words as people and posts write them in inches
	moved   bool    // something moves, by a feed
	largest float64 // place along X, Y and Z, mm as read
	fastest float64 // mm/min, or mm a revolution times perRevShare
	first   Place   // of the moves
}

// Bounds of a program in inches read as millimetres: few machines are larger in
// inches, and no cut in millimetres is as slow throughout (common practice).
const (
	mostInches  = 60
	mostPerMin  = 60
	leastWords  = 3
	perRevShare = 1000 // 0.06 mm a revolution is as slow as 60 mm/min
)

func newUnitsMisread(m *profiles.Machine, _ *Options) Checker {
	w := &inches{}
	c := Checker{State: []any{w}, Block: w.block, Words: With("XYZIJKR"), End: func(p *Pass) {
		switch {
		case p.units.looksMetric(w.written):
			p.sayMetric()
		case w.looksInch():
			w.say(p)
		}
	}}
	if m.CodeFor(profiles.UnitsInch) != "" && m.Start.Units == "mm" {
		c.Op, c.Ops = w.op, Of(interp.Traverse, interp.Feed, interp.Arc)
	}
	return c
}

// block looks at how numbers are written: four decimals and more, or no digit
// before the point, are of inches.
func (w *inches) block(p *Pass, b *parser.Block) {
	if p.units.doubt && w.written >= leastWords {
		return // nothing more to learn
	}
	for i := range b.Words {
		switch word := &b.Words[i]; word.Address {
		case 'X', 'Y', 'Z', 'I', 'J', 'K', 'R':
			if word.Expr != nil || word.Value == 0 {
				continue
			}
			if word.Frac >= 4 {
				p.units.doubt = p.units.doubt || math.Mod(math.Abs(word.Value)*1e3+1e-6, 1) > 1e-5
			}
			if word.Frac >= 4 || word.Point && word.Whole == 0 && word.Frac > 0 {
				w.written++
			}
		}
	}
}

func (w *inches) op(_ *Pass, op *interp.Op) {
	s := op.State
	if s.UnitsSaid.Line != 0 || s.Units != profiles.UnitsMM || s.Unknown&interp.UnknownUnits != 0 {
		w.largest = math.Inf(1)
		return
	}
	if op.Home {
		return
	}
	if w.first.Line == 0 {
		w.first = OpPlace(op)
	}
	for i := range 3 {
		if op.Moves.Has(i) && op.ToKnown.Has(i) {
			w.largest = math.Max(w.largest, math.Abs(op.To[i]))
		}
	}
	if op.Kind == interp.Traverse || op.InCycle && op.Synchron || op.Lead > 0 {
		return
	}
	w.moved = true
	switch {
	case op.PerRev > 0:
		w.fastest = math.Max(w.fastest, op.PerRev*perRevShare)
	case op.Feed > 0:
		w.fastest = math.Max(w.fastest, op.Feed*60)
	}
}

func (w *inches) looksInch() bool {
	return w.moved && w.written >= leastWords && w.largest <= mostInches && w.fastest > 0 && w.fastest <= mostPerMin
}

func (w *inches) say(p *Pass) {
	if n := p.Note(1, w.first); n != nil {
		n.Level = Warning
		n.Message = fmt.Sprintf("no code for units stands before the moves, and %s then reads millimetres; the numbers look like inches: none is over %s, the highest feed is %s mm/min, and they are written with four decimals or without a zero before the point",
			p.Machine.Name, trim(math.Ceil(w.largest), 0), trim(w.fastest, 1))
		n.Advice = fmt.Sprintf("Write %s before the first move, if inches are meant; %s if they are not.",
			orCode(p.Machine, profiles.UnitsInch, "the code for inches"), orCode(p.Machine, profiles.UnitsMM, "the code for millimetres"))
		if w.fastest > 0 {
			p.instead("number-format", "feed-mode-stale")
		}
	}
}

// sayMetric tells of millimetres read as inches, in place of all that comes of it.
func (p *Pass) sayMetric() {
	u, m := &p.units, p.Machine
	at, why := u.first, "no code for units stands before them"
	code := orCode(m, profiles.UnitsMM, "the code for millimetres")
	advice := fmt.Sprintf("Write %s before the first move.", code)
	if s := &u.said; s.Line != 0 {
		at = Place{s.Line, s.Offset, s.Pos, s.End}
		why = orCode(m, profiles.UnitsInch, "a code") + " says so"
		advice = fmt.Sprintf("Write %s in its place, if millimetres are meant.", code)
	}
	n := p.Note(0, at)
	if n == nil {
		return
	}
	var seen []string
	for _, w := range u.worst {
		switch {
		case w.what == 'F':
			seen = append(seen, "feed "+p.feed(w.value))
		case w.what != 0:
			seen = append(seen, fmt.Sprintf("%c to %s", w.what, p.length(w.value)))
		}
	}
	n.Message = fmt.Sprintf("the numbers look like millimetres and are read as inches, %s: %s are beyond %s, and in millimetres it could do all of it", why, join(seen, "and"), m.Name)
	n.Advice = advice + " What else comes of it, in travels, feeds and depths, is not told one by one."
	p.instead(hangOnUnits[:]...)
}

// instead leaves out what the named rules found: a finding that is told says it.
func (p *Pass) instead(names ...string) {
	for _, t := range []*told{&p.found, &p.silenced} {
		for c := range t.records {
			for _, name := range names {
				if c.rule.Name == name {
					delete(t.records, c)
				}
			}
		}
	}
}
