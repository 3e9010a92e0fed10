package profiles

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

var (
	offsetCode  = regexp.MustCompile(`^G\d{1,3}(\.[1-9])?$`)
	offsetPlace = regexp.MustCompile(`^\s*([XYZABC])\s*([-+]?(?:\d+\.?\d*|\.\d+))\s*(IN|MM|DEG)?(?:\s+|$)`)
)

// ParseOffset reads a work offset as people write it, G54 X12in Y8in Z-18in, blanks
// and case left free; axes that are not named stay unknown. A bare number
// is refused: an inch taken for a millimetre breaks a machine.
func ParseOffset(text string) (code string, o Offset, err error) {
	code, rest, _ := strings.Cut(strings.ToUpper(strings.TrimSpace(text)), " ")
	if !offsetCode.MatchString(code) {
		return "", o, fmt.Errorf(`%q does not begin with a work offset: write "G54 X12in Y8in Z-18in"`, text)
	}
	axes := [NumAxes]**Length{&o.X, &o.Y, &o.Z, &o.A, &o.B, &o.C}
	for rest = strings.TrimSpace(rest); rest != ""; {
		part := offsetPlace.FindStringSubmatch(rest)
		if part == nil {
			return "", o, fmt.Errorf(`%q is no place of an axis: write X12in or X304.8mm`, rest)
		}
		i := strings.IndexByte(AxisLetters, part[1][0])
		if *axes[i] != nil {
			return "", o, fmt.Errorf("%s is given twice in %q", part[1], text)
		}
		place, err := offsetAlong(i, part)
		if err != nil {
			return "", o, err
		}
		*axes[i] = &place
		rest = rest[len(part[0]):]
	}
	if o == (Offset{}) {
		return "", o, fmt.Errorf(`%q names no axis: write "G54 X12in Y8in Z-18in"`, text)
	}
	return code, o, nil
}

// firstRotary is the index of A: what turns is measured in degrees.
const firstRotary = 3

func offsetAlong(axis int, part []string) (Length, error) {
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
	return Length(value), nil
}

// TakesOffset says whether a code is one of the machine's work offsets.
func (m *Machine) TakesOffset(code string) bool {
	letter, tenths, ok := parseCode(code)
	meaning := m.G(tenths)
	return ok && letter == 'G' && meaning >= WorkOffset1 && meaning <= WorkOffset9
}
