package main

import (
	"fmt"
	"strings"

	"tapefit/internal/adapt"
	"tapefit/profiles"
)

// lengthFlag is a length with its unit, in mm.
type lengthFlag float64

func (f *lengthFlag) String() string { return "" }
func (f *lengthFlag) Type() string   { return "length" }

func (f *lengthFlag) Set(text string) error {
	_, o, err := profiles.ParseOffset("G54 X" + strings.ReplaceAll(text, " ", ""))
	if err != nil {
		return fmt.Errorf("%q is no length with its unit: write 0.0004in or 0.01mm", text)
	}
	if *o.X <= 0 {
		return fmt.Errorf("%q is not above zero", text)
	}
	*f = lengthFlag(*o.X)
	return nil
}

// placeFlag is a place in work coordinates: X0in Y0in Z2in.
type placeFlag adapt.Place

func (f *placeFlag) String() string { return "" }
func (f *placeFlag) Type() string   { return "place" }

func (f *placeFlag) Set(text string) error {
	_, o, err := profiles.ParseOffset("G54 " + text)
	if err != nil {
		return err
	}
	for i, v := range [...]*profiles.Length{o.X, o.Y, o.Z, o.A, o.B, o.C} {
		if v != nil {
			mm := float64(*v)
			f[i] = &mm
		}
	}
	return nil
}
