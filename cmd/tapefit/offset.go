package main

import (
	"fmt"
	"maps"

	"tapefit/profiles"
)

// offsetFlags are work offsets by code: G54 X12in Y8in Z-18in.
type offsetFlags map[string]profiles.Offset

func (f *offsetFlags) String() string { return "" }
func (f *offsetFlags) Type() string   { return "offset" }

func (f *offsetFlags) Set(text string) error {
	code, offset, err := profiles.ParseOffset(text)
	if err != nil {
		return err
	}
	if _, twice := (*f)[code]; twice {
		return fmt.Errorf("%s is given twice", code)
	}
	if *f == nil {
		*f = offsetFlags{}
	}
	(*f)[code] = offset
	return nil
}

// on gives the offsets, if each is a work offset that the machine accepts.
func (f offsetFlags) on(m *profiles.Machine) (map[string]profiles.Offset, error) {
	for code := range maps.Keys(f) {
		if !m.TakesOffset(code) {
			return nil, fmt.Errorf("--offset: %s is no work offset on %s", code, m.Name)
		}
	}
	return f, nil
}
