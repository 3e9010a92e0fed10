package report

import "tapefit/profiles"

// Length writes a length in the units that the machine's people read: "1.25 in".
func Length(m *profiles.Machine, l profiles.Length) string { return unitsOf(m).length(l) }

// AxisLength writes a place or a way of axis i of AxisLetters: a length, or
// degrees.
func AxisLength(m *profiles.Machine, i int, l profiles.Length) string {
	return unitsOfAxis(m, i).length(l)
}

// AxisSpeed writes a speed of axis i: "400 in/min", or deg/s.
func AxisSpeed(m *profiles.Machine, i int, s profiles.Speed) string {
	return unitsOfAxis(m, i).speed(s)
}

// Speed writes a speed along the path.
func Speed(m *profiles.Machine, s profiles.Speed) string { return unitsOf(m).speed(s) }

// Surface writes a speed of the surface in mm/s as S has it: "200 ft/min".
func Surface(m *profiles.Machine, v float64) string { return unitsOf(m).surface(v) }

// Place writes a place along axis i with its letter, X of a lathe with what it is:
// "X dia. 4 in".
func Place(m *profiles.Machine, i int, at float64) string {
	name, by := nameOfAxis(m, i)
	return name + " " + AxisLength(m, i, profiles.Length(at*by))
}

// Duration writes a time of a profile: "12 ms", "2.5 s".
func Duration(d profiles.Duration) string { return duration(d) }

// Rotations writes a range of speeds of the spindle: "40 to 1100 rpm".
func Rotations(ends []profiles.Rotation) string { return rotations(ends) }
