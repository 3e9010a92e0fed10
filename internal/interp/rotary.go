package interp

import (
	"math"

	"tapefit/parser"
	"tapefit/profiles"
)

// wrapping are the rotary axes of the machine whose places wrap at 360 degrees.
func wrapping(m *profiles.Machine) (axes AxisSet) {
	for i := 3; i < profiles.NumAxes; i++ {
		if a := m.Axis(i); a != nil && a.Wrap != "" {
			axes |= 1 << i
		}
	}
	return axes
}

// turnTo is where a wrapping axis comes to that stands at from and is sent to v,
// both in degrees, counted on from from: it lies by up to a turn below or above.
// Of a "sign" axis negative says the way and the number the place; the others
// go the shorter way, forwards where both are alike.
func turnTo(wrap string, from, v float64, negative bool) float64 {
	if wrap != "sign" {
		d := oneTurn(v - from)
		if d > 180 {
			d -= 360
		}
		return from + d
	}
	d := oneTurn(math.Abs(v) - from)
	if negative && d > 0 {
		d -= 360
	}
	return from + d
}

// turnWord is the place of wrapping axis i after its word, in absolute mode.
func (in *Interp) turnWord(b *parser.Block, i int, from float64, known bool) float64 {
	word := &b.Words[in.w.at[axisLetter[i]-'A']]
	v := in.w.val[axisLetter[i]-'A']
	negative := word.Neg
	if word.Expr != nil {
		negative = v < 0
	}
	wrap := in.m.Axis(i).Wrap
	switch {
	case known:
		return turnTo(wrap, from, v, negative)
	case wrap == "sign":
		return oneTurn(math.Abs(v))
	}
	return oneTurn(v)
}

// turnMachine carries how far a wrapping axis has turned in work coordinates
// over to machine coordinates, so that both tell of one movement.
func (in *Interp) turnMachine(axes AxisSet) {
	s, op := &in.s, &in.op
	for i := 3; i < profiles.NumAxes; i++ {
		bit := AxisSet(1) << i
		if in.wraps&axes&bit == 0 {
			continue
		}
		if op.FromKnown&s.Known&op.FromMachineKnown&s.MachineKnown&bit != 0 {
			s.Machine[i] = op.FromMachine[i] + s.At[i] - op.From[i]
		}
	}
}

// turnHome is turnMachine for a move to a place in machine coordinates: the
// axis takes the shorter way there.
func (in *Interp) turnHome(axes AxisSet) {
	s, op := &in.s, &in.op
	for i := 3; i < profiles.NumAxes; i++ {
		bit := AxisSet(1) << i
		if in.wraps&axes&op.FromMachineKnown&s.MachineKnown&bit == 0 {
			continue
		}
		s.Machine[i] = turnTo("shortest", op.FromMachine[i], s.Machine[i], false)
		if op.FromKnown&s.Known&bit != 0 {
			s.At[i] = op.From[i] + s.Machine[i] - op.FromMachine[i]
		}
	}
}

// unwind brings places of wrapping axes back to 0 to below 360 degrees, after
// the operation has told how far the axis has turned.
func (in *Interp) unwind(axes AxisSet) {
	s := &in.s
	for i := 3; i < profiles.NumAxes; i++ {
		if (in.wraps & axes).Has(i) {
			s.At[i], s.Machine[i] = oneTurn(s.At[i]), oneTurn(s.Machine[i])
		}
	}
}
