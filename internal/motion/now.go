package motion

// Now is how much time of the program is settled, in s: of all that was taken
// in, where the axes stand; moves of the look-ahead are not in it.
func (c *Clock) Now() float64 {
	t := &c.times
	return t.Cutting + t.Rapid + t.Dwell + t.ToolChange + t.GearShift + t.Spindle + t.Other
}
