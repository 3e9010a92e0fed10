package interp

import "tapefit/profiles"

// The parameters that the published report gives a meaning (NISTIR 6556,
// 3.2.1: from memory). Places are in the units in force where they are read or
// set. Homes are used by the next G28 or G30, a work offset comes into force
// when its system is selected the next time (selecting the one in force counts),
// set positions with the code that restores them. The selected system can be
// read; setting it changes nothing until power-up, which lies behind the
// program.
const (
	paramProbe    = 5061 // where the probe has touched: not known beforehand
	paramHome     = 5161 // of G28
	paramHome2    = 5181 // of G30
	paramSet      = 5211 // set position (G92)
	paramSelected = 5220
	paramWork     = 5221 // nine systems, 20 apart
	workStep      = 20
)

// UnknownParameter is the cause of a NotInterpreted fault at an expression.
const UnknownParameter = "the parameter holds a place that neither the profile nor the program gives"

// systemPlace is the vector that parameter n is of, and its axis; nil where n is
// an ordinary one.
func (in *Interp) systemPlace(n int) (v *vector, axis int) {
	for i, first := range [...]int{paramHome, paramHome2, paramSet} {
		if axis = n - first; axis >= 0 && axis < profiles.NumAxes {
			return [...]*vector{&in.homes[0], &in.homes[1], &in.saved}[i], axis
		}
	}
	system := (n - paramWork) / workStep
	axis = (n - paramWork) % workStep
	if n >= paramWork && system < len(in.work) && axis < profiles.NumAxes {
		return &in.work[system], axis
	}
	return nil, 0
}

// systemParam is the value of a parameter that the report gives a meaning. is
// is false for others.
func (in *Interp) systemParam(n int) (v float64, cause string, is bool) {
	switch {
	case n == paramSelected:
		if in.s.Unknown&UnknownOffset != 0 {
			return 0, UnknownParameter, true
		}
		return float64(in.s.Offset + 1), "", true
	case n >= paramProbe && n < paramProbe+profiles.NumAxes && in.probed:
		return 0, UnknownParameter, true
	}
	place, i := in.systemPlace(n)
	if place == nil {
		return 0, "", false
	}
	if !place.known.Has(i) || in.unitsUnknown(i) {
		return 0, UnknownParameter, true
	}
	return place.at[i] / in.unit(i), "", true
}

// setSystemParam sets what a parameter stands for.
func (in *Interp) setSystemParam(n int, v float64) {
	place, i := in.systemPlace(n)
	if place == nil {
		return
	}
	place.at[i] = v * in.unit(i)
	place.known |= 1 << i
	if in.unitsUnknown(i) {
		place.known &^= 1 << i
	}
}

// loadHomes takes the home positions from the profile.
func (in *Interp) loadHomes() {
	for i := range profiles.NumAxes {
		a := in.m.Axis(i)
		if a == nil {
			continue
		}
		for n, at := range [...]*profiles.Length{a.Home, a.Second} {
			if at != nil {
				in.homes[n].at[i] = float64(*at)
				in.homes[n].known |= 1 << i
			}
		}
	}
}
