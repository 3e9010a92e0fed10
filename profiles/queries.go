package profiles

import "strings"

// Reaches says whether the gear turns the spindle at the speed, in rpm.
func (g *SpindleGear) Reaches(speed float64) bool {
	return len(g.Speed) == 2 && speed >= float64(g.Speed[0]) && speed <= float64(g.Speed[1])
}

// Reaching are the gears that turn the spindle at the speed, in rpm: bit n is gear n.
func (s *Spindle) Reaching(speed float64) (set uint64) {
	for i := range s.Gears {
		if s.Gears[i].Reaches(speed) {
			set |= 1 << i
		}
	}
	return set
}

// AllAxes are the machine's axes: bit 0 is X, bit 5 is C. A base without axes
// has all that it takes words of.
func (m *Machine) AllAxes() uint8 {
	var set uint8
	for i := range NumAxes {
		if m.Axis(i) != nil {
			set |= 1 << i
		}
	}
	if set != 0 {
		return set
	}
	for i := range NumAxes {
		if m.Takes(AxisLetters[i]) {
			set |= 1 << i
		}
	}
	return set
}

// CycleForm is the form of a canned cycle; zero where the profile gives none.
func (m *Machine) CycleForm(meaning Meaning) Cycle { return m.Cycles[meaning.String()] }

// ToolOfD is the loaded tool whose D offset has the number, or nil.
func (m *Machine) ToolOfD(number int) *Tool {
	for i := range m.Tools.Loaded {
		t := &m.Tools.Loaded[i]
		if t.D == number && number != 0 || t.D == 0 && t.Number == number {
			return t
		}
	}
	return nil
}

// DwellUnit is how many seconds one of a dwell word with the address is worth;
// 0 where such a word gives no dwell.
func (m *Machine) DwellUnit(address byte) float64 { return m.codes.dwell[address-'A'] }

// Has says whether the cycle needs or takes a word with the address.
func (c Cycle) Has(address byte) bool {
	return strings.IndexByte(c.Needs, address) >= 0 || strings.IndexByte(c.Takes, address) >= 0
}

// File is the file that the machine was loaded from, "" for one of the library.
func (m *Machine) File() string {
	if m.from.folder == "" {
		return ""
	}
	return m.from.file
}
