package profiles

import (
	"maps"
	"slices"
	"strconv"
)

// parseCode reads a code as profiles write it: "G1", "G59.1", "M41". tenths is
// the number times ten.
func parseCode(code string) (letter byte, tenths int, ok bool) {
	if len(code) < 2 || code[0] != 'G' && code[0] != 'M' {
		return 0, 0, false
	}
	digits := code[1:]
	if n := len(digits); n > 2 && digits[n-2] == '.' {
		tenths = int(digits[n-1] - '0')
		if digits[n-1] < '1' || digits[n-1] > '9' {
			return 0, 0, false
		}
		digits = digits[:n-2]
	}
	if len(digits) > 3 || len(digits) > 1 && digits[0] == '0' {
		return 0, 0, false
	}
	whole := 0
	for _, c := range []byte(digits) {
		if c < '0' || c > '9' {
			return 0, 0, false
		}
		whole = 10*whole + int(c-'0')
	}
	return code[0], 10*whole + tenths, true
}

// sortedCodes are the keys of m.Codes: G before M, each by number. What is no
// code comes first.
func (m *Machine) sortedCodes() []string {
	return slices.SortedFunc(maps.Keys(m.Codes), func(a, b string) int {
		la, na, _ := parseCode(a)
		lb, nb, _ := parseCode(b)
		if la != lb {
			return int(la) - int(lb)
		}
		if na != nb {
			return na - nb
		}
		if a < b {
			return -1
		}
		return 1
	})
}

// compile makes the tables for look-ups. What is ill-formed it leaves out;
// the validator complains of it.
func (m *Machine) compile() {
	c := &m.codes
	for i := range c.gear {
		c.gear[i] = -1
	}
	for _, code := range m.sortedCodes() {
		if meaning, ok := ParseMeaning(m.Codes[code]); ok {
			c.put(code, meaning)
		}
	}
	for i, g := range m.Spindle.Gears {
		if letter, tenths, ok := parseCode(g.Code); ok && letter == 'M' && i <= mostGears {
			c.put(g.Code, Gear)
			c.gear[tenths] = int8(i)
		}
	}
	for _, letter := range []byte(m.Words.Accepted) {
		if letter >= 'A' && letter <= 'Z' {
			c.words |= 1 << (letter - 'A')
		}
	}
	c.times = map[int]float64{}
	for code, t := range m.Times {
		if letter, tenths, ok := parseCode(code); ok && letter == 'M' {
			c.times[tenths] = float64(t)
		}
	}
	for address, unit := range m.Block.Dwell {
		if len(address) == 1 && address[0]-'A' < 26 {
			c.dwell[address[0]-'A'] = dwellUnits[unit]
		}
	}
	for code, offset := range m.Offsets {
		if letter, tenths, ok := parseCode(code); ok && letter == 'G' && c.g[tenths].Group() == OffsetGroup {
			c.offsets[c.g[tenths]-WorkOffset1] = &offset
		}
	}
}

// dwellUnits are the seconds in one of what a dwell may be written in.
var dwellUnits = map[string]float64{"s": 1, "ms": 1e-3, "none": 0}

// put enters a code; of several with one meaning the first, the lowest, is
// what CodeFor gives.
func (c *compiled) put(code string, meaning Meaning) {
	letter, tenths, ok := parseCode(code)
	if !ok {
		return
	}
	if letter == 'G' {
		c.g[tenths] = meaning
	} else {
		c.m[tenths] = meaning
	}
	if meaning != Refused && c.code[meaning] == "" {
		c.code[meaning] = code
	}
}

// Reading is the machine with other meanings of some M codes, by tenths.
func (m *Machine) Reading(codes map[int]Meaning) *Machine {
	other := *m
	for tenths, meaning := range codes {
		was := other.codes.m[tenths]
		other.codes.m[tenths] = meaning
		if other.codes.code[was] == codeOfM(tenths) {
			other.codes.code[was] = other.firstM(was)
		}
	}
	return &other
}

// firstM is the lowest M code with the meaning, or "".
func (m *Machine) firstM(meaning Meaning) string {
	for tenths, has := range m.codes.m {
		if has == meaning {
			return codeOfM(tenths)
		}
	}
	return ""
}

func codeOfM(tenths int) string { return "M" + strconv.FormatFloat(float64(tenths)/10, 'f', -1, 64) }
