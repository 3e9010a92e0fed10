package main

import (
	"fmt"
	"maps"
	"regexp"
	"strconv"
	"strings"

	"tapefit/profiles"
)

// offsetFlags are work offsets by code: G54 X12in Y8in Z-18in.
type offsetFlags map[string]profiles.Offset

func (f *offsetFlags) String() string { return "" }
func (f *offsetFlags) Type() string   { return "offset" }

func (f *offsetFlags) Set(text string) error {
	code, offset, err := parseOffset(text)
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
		tenths, _ := codeTenths(code)
		if meaning := m.G(tenths); meaning < profiles.WorkOffset1 || meaning > profiles.WorkOffset9 {
			return nil, fmt.Errorf("--offset: %s is no work offset on %s", code, m.Name)
		}
	}
	return f, nil
}

var (
	offsetCode  = regexp.MustCompile(`^G\d{1,3}(\.[1-9])?$`)
	offsetPlace = regexp.MustCompile(`^\s*([XYZABC])\s*([-+]?(?:\d+\.?\d*|\.\d+))\s*(IN|MM|DEG)?(?:\s+|$)`)
)

// codeTenths is the number of a code times ten: G59.1 is 591.
func codeTenths(code string) (int, error) {
	whole, tenth, _ := strings.Cut(code[1:], ".")
	return strconv.Atoi(whole + (tenth + "0")[:1])
}

// parseOffset reads a work offset, blanks and case left free. A bare number
// is refused: an inch taken for a millimetre breaks a machine.
func parseOffset(text string) (code string, o profiles.Offset, err error) {
	code, rest, _ := strings.Cut(strings.ToUpper(strings.TrimSpace(text)), " ")
	if !offsetCode.MatchString(code) {
		return "", o, fmt.Errorf(`%q does not begin with a work offset: write "G54 X12in Y8in Z-18in"`, text)
	}
	axes := [profiles.NumAxes]**profiles.Length{&o.X, &o.Y, &o.Z, &o.A, &o.B, &o.C}
	for rest = strings.TrimSpace(rest); rest != ""; {
		part := offsetPlace.FindStringSubmatch(rest)
		if part == nil {
			return "", o, fmt.Errorf(`%q is no place of an axis: write X12in or X304.8mm`, rest)
		}
		i := strings.IndexByte(profiles.AxisLetters, part[1][0])
		if *axes[i] != nil {
			return "", o, fmt.Errorf("%s is given twice in %q", part[1], text)
		}
		place, err := placeOf(i, part)
		if err != nil {
			return "", o, err
		}
		*axes[i] = &place
		rest = rest[len(part[0]):]
	}
	if o == (profiles.Offset{}) {
		return "", o, fmt.Errorf(`%q names no axis: write "G54 X12in Y8in Z-18in"`, text)
	}
	return code, o, nil
}

// firstRotary is the index of A: what turns is measured in degrees.
const firstRotary = 3

func placeOf(axis int, part []string) (profiles.Length, error) {
	letter, number, unit := part[1], part[2], part[3]
	rotary := axis >= firstRotary
	switch {
	case unit == "" && rotary:
		return 0, fmt.Errorf("%s%s has no unit: write %[1]s%[2]sdeg", letter, number)
	case unit == "":
		return 0, fmt.Errorf("%s%s has no unit: write %[1]s%[2]sin or %[1]s%[2]smm", letter, number)
	case rotary != (unit == "DEG"):
		return 0, fmt.Errorf("%s%s%s: lengths are in or mm, angles deg", letter, number, strings.ToLower(unit))
	}
	value, err := strconv.ParseFloat(number, 64)
	if err != nil {
		return 0, fmt.Errorf("%s%s: %w", letter, number, err)
	}
	if unit == "IN" {
		value *= 25.4
	}
	return profiles.Length(value), nil
}
