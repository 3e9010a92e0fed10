package adapt

import (
	"fmt"
	"math"
	"strings"

	"tapefit/internal/interp"
	"tapefit/profiles"
	"tapefit/rules"
)

// places are moves in machine coordinates to elsewhere than home. Each machine has a
// zero of its own, so that the same numbers are another place on another machine.
type places struct {
	from, to *profiles.Machine
	line     int      // of the first
	count    int      // of moves
	named    []string // the first few, as they are written
}

// mostPlaces is how many of them are named.
const mostPlaces = 4

// op takes over an operation of the source.
func (p *places) op(op *interp.Op) {
	if p.from.Name == p.to.Name || !op.Home || isHome(gOf(p.from, op)) || p.to.CodeFor(profiles.MachineCoordinates) == "" || p.isHome(op) {
		return
	}
	if p.count++; p.count == 1 {
		p.line = op.Block.Line
	}
	if len(p.named) == mostPlaces {
		return
	}
	var words []string
	for i := range op.Block.Words {
		if w := &op.Block.Words[i]; axisLetters&bit(w.Address) != 0 {
			words = append(words, string(op.Block.Text(w.Pos, w.End)))
		}
	}
	p.named = append(p.named, fmt.Sprintf("%s (line %d)", strings.Join(words, " "), op.Block.Line))
}

// isHome says whether the move goes to the home position of the machine that is to run
// it, or to the top of it.
func (p *places) isHome(op *interp.Op) bool {
	const same = 1e-3 // mm
	for i := range profiles.NumAxes {
		if !op.Moves.Has(i) {
			continue
		}
		axis, at := p.to.Axis(i), op.ToMachine[i]
		if axis == nil || !op.ToMachineKnown.Has(i) {
			return false
		}
		home := axis.Home != nil && math.Abs(at-float64(*axis.Home)) <= same
		top := i == 2 && len(axis.Travel) == 2 && math.Abs(at-float64(axis.Travel[1])) <= same
		if !home && !top {
			return false
		}
	}
	return true
}

// left is what a person must know of them; fits says that the program stays as it is.
// Where nobody knows what machine it was written for, it may be this one.
func (p *places) left(fits bool) (l Left, any bool) {
	known := p.from.Kind != ""
	if p.count == 0 || fits && !known {
		return l, false
	}
	named := strings.Join(p.named, ", ")
	if p.count > len(p.named) {
		named += fmt.Sprintf(" and %d more", p.count-len(p.named))
	}
	code := p.from.CodeFor(profiles.MachineCoordinates)
	l = Left{Level: rules.Warning, Line: p.line, Count: 1,
		What:   fmt.Sprintf("%s goes to places in the machine coordinates of %s: %s. %s counts from a zero of its own: there they are other places", code, p.from.Name, named, p.to.Name),
		Decide: fmt.Sprintf("Write them into the source as %s needs them, and look where it goes, high above the part.", p.to.Name)}
	if !known {
		l.Level = rules.Note
		l.What = fmt.Sprintf("%s goes to places in machine coordinates: %s. If the program was not written for %s, they are other places there", code, named, p.to.Name)
	}
	return l, true
}

// tellPlaces adds what is to be known of them.
func (r *Result) tellPlaces(p *places) {
	if l, any := p.left(r.Fits); any {
		r.Left = append(r.Left, l)
		r.sortLeft()
	}
}
