package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"tapefit/profiles"
)

// mmPerInch is exact (international yard and pound agreement, 1959).
const mmPerInch = 25.4

// units are those that people read of one axis.
type units struct {
	name     string  // of a length or an angle
	scale    float64 // mm or degrees in one of it
	decimals int     // of a length
	time     string  // of a speed
	seconds  float64 // in one time
}

var (
	inches  = units{"in", mmPerInch, 4, "min", 60}
	metric  = units{"mm", 1, 3, "min", 60}
	degrees = units{"deg", 1, 3, "s", 1} // of rotary axes, whatever the machine displays
)

// unitsOf are the machine's display units: mm where it names none.
func unitsOf(m *profiles.Machine) units {
	if m.Display == "inch" {
		return inches
	}
	return metric
}

// unitsOfAxis are the units of axis i of AxisLetters.
func unitsOfAxis(m *profiles.Machine, i int) units {
	if i >= firstRotary {
		return degrees
	}
	return unitsOf(m)
}

// nameOfAxis is how the places of axis i are headed, and by what they are multiplied
// to be read so: X words of lathes are diameters, and where they are not that is
// said too.
func nameOfAxis(m *profiles.Machine, i int) (name string, by float64) {
	switch a := m.Axis(i); {
	case i == 0 && a != nil && a.Diameter:
		return "X dia.", 2
	case i == 0 && m.Kind == "lathe":
		return "X radius", 1
	}
	return profiles.AxisLetters[i : i+1], 1
}

// firstRotary is the index of A.
const firstRotary = 3

// number is a length without its unit, with all decimals.
func (u units) number(v float64) string { return fixed(v/u.scale, u.decimals) }

// length is a length with its unit and no needless zeros.
func (u units) length(l profiles.Length) string {
	return short(float64(l)/u.scale, u.decimals) + " " + u.name
}

// speed is a speed in in/min, mm/min or deg/s.
func (u units) speed(s profiles.Speed) string {
	return short(float64(s)*u.seconds/u.scale, u.decimals-2) + " " + u.name + "/" + u.time
}

// surface is a speed of the surface as S has it, in ft/min or m/min.
func (u units) surface(v float64) string {
	if u == inches {
		return short(v*60/304.8, 2) + " ft/min"
	}
	return short(v*60/1000, 2) + " m/min"
}

// acceleration is an acceleration in in/s^2, mm/s^2 or deg/s^2.
func (u units) acceleration(a profiles.Acceleration) string {
	return short(float64(a)/u.scale, u.decimals-2) + " " + u.name + "/s^2"
}

// jerk is a jerk in in/s^3, mm/s^3 or deg/s^3.
func (u units) jerk(j profiles.Jerk) string {
	return short(float64(j)/u.scale, u.decimals-2) + " " + u.name + "/s^3"
}

// fixed writes v with so many decimals, and never a minus zero.
func fixed(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		return strings.TrimPrefix(s, "-")
	}
	return s
}

// short is fixed without zeros at the end.
func short(v float64, decimals int) string {
	s := fixed(v, decimals)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

// clock writes seconds as a person reads a clock: 0:07.5, 12:40.0, and from an
// hour on 1:02:40.
func clock(seconds float64) string {
	if math.IsNaN(seconds) || math.IsInf(seconds, 0) {
		return "unknown"
	}
	if tenths := math.Round(seconds * 10); tenths < 36000 {
		t := int64(tenths)
		return fmt.Sprintf("%d:%02d.%d", t/600, t/10%60, t%10)
	}
	whole := math.Round(seconds)
	rest := int64(math.Mod(whole, 3600))
	return fmt.Sprintf("%.0f:%02d:%02d", math.Floor(whole/3600), rest/60, rest%60)
}

// duration writes a profile's time: 12 ms, 2.5 s.
func duration(d profiles.Duration) string {
	if d < 1 {
		return short(float64(d)*1000, 3) + " ms"
	}
	return short(float64(d), 3) + " s"
}

// size writes a profile's number of bytes: decimal, as profiles do.
func size(s profiles.Size) string {
	switch {
	case s >= 1e6 && s%1e5 == 0:
		return short(float64(s)/1e6, 1) + " MB"
	case s >= 1000 && s%100 == 0:
		return short(float64(s)/1000, 1) + " kB"
	case s%1024 == 0 && s > 0:
		return strconv.FormatInt(int64(s)/1024, 10) + " KiB"
	}
	return strconv.FormatInt(int64(s), 10) + " B"
}

// plural counts things: "1 error", "3 errors".
func plural(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return strconv.Itoa(n) + " " + thing + "s"
}
