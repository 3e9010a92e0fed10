package main

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

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

// durationFlag is a time with its unit.
type durationFlag time.Duration

func (f *durationFlag) String() string { return time.Duration(*f).String() }
func (f *durationFlag) Type() string   { return "time" }

func (f *durationFlag) Set(text string) error {
	d, err := time.ParseDuration(strings.ReplaceAll(text, " ", ""))
	if err != nil {
		return fmt.Errorf("%q is no time with its unit: write 2s or 300ms", text)
	}
	*f = durationFlag(d)
	return nil
}

// mostParts bounds a lot.
const mostParts = 1_000_000

// partsOf reads how many good parts a lot has; false: it is no such number.
func partsOf(text string) (int, bool) {
	n, err := strconv.Atoi(strings.TrimSpace(text))
	return n, err == nil && n >= 1 && n <= mostParts
}

// partsFlag is the quantity of one lot.
type partsFlag int

func (f *partsFlag) String() string { return strconv.Itoa(int(*f)) }
func (f *partsFlag) Type() string   { return "parts" }

func (f *partsFlag) Set(text string) error {
	n, ok := partsOf(text)
	if !ok {
		return fmt.Errorf("write one whole number of parts from 1 to %d", mostParts)
	}
	*f = partsFlag(n)
	return nil
}

// lots are quantities of good parts, rising: 1,10,50.
type lots []int

func (l *lots) String() string {
	return strings.Join(strings.Fields(strings.Trim(fmt.Sprint([]int(*l)), "[]")), ",")
}
func (l *lots) Type() string { return "lots" }

func (l *lots) Set(text string) error {
	var all []int
	for one := range strings.SplitSeq(text, ",") {
		n, ok := partsOf(one)
		if !ok {
			return fmt.Errorf("write whole numbers of parts from 1 to %d, such as 1,10,50", mostParts)
		}
		all = append(all, n)
	}
	slices.Sort(all)
	*l = slices.Compact(all)
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
