package report

import (
	"math"
	"testing"

	"tapefit/profiles"
)

func TestClock(t *testing.T) {
	for _, tt := range []struct {
		seconds float64
		want    string
	}{
		{0, "0:00.0"}, {7.46, "0:07.5"}, {59.94, "0:59.9"}, {59.96, "1:00.0"}, {760, "12:40.0"},
		{3599.94, "59:59.9"}, {3599.96, "1:00:00"}, {3760.4, "1:02:40"}, {360000, "100:00:00"},
		{math.NaN(), "unknown"}, {math.Inf(1), "unknown"}, {1e300, clock(1e300)},
	} {
		if got := clock(tt.seconds); got != tt.want {
			t.Errorf("clock(%v) = %s, want %s", tt.seconds, got, tt.want)
		}
	}
}

// One inch is 25.4 mm exactly (international yard and pound agreement, 1959).
func TestUnits(t *testing.T) {
	inch, mm := &profiles.Machine{Display: "inch"}, &profiles.Machine{Display: "mm"}
	for _, tt := range []struct{ got, want string }{
		{unitsOf(inch).number(25.4), "1.0000"},
		{unitsOf(inch).number(-0.00001), "0.0000"},
		{unitsOf(mm).number(-0.0004), "0.000"},
		{unitsOf(mm).number(-12.3456), "-12.346"},
		{unitsOf(inch).length(317.5), "12.5 in"},
		{unitsOf(mm).length(300), "300 mm"},
		{unitsOf(inch).speed(250 * 25.4 / 60), "250 in/min"},
		{unitsOf(mm).speed(50), "3000 mm/min"},
		{unitsOf(mm).acceleration(500), "500 mm/s^2"},
		{unitsOfAxis(inch, 3).speed(36), "36 deg/s"},
		{unitsOfAxis(inch, 3).length(-0.5), "-0.5 deg"},
		{duration(0.0125), "12.5 ms"}, {duration(90), "90 s"},
		{size(64000), "64 kB"}, {size(1e6), "1 MB"}, {size(65536), "64 KiB"}, {size(1001), "1001 B"}, {size(0), "0 B"},
		{percent(0, 0), "0 %"}, {percent(0.001, 10), "<1 %"}, {percent(10, 10), "100 %"},
		{plural(1, "error"), "1 error"}, {plural(0, "error"), "0 errors"},
	} {
		if tt.got != tt.want {
			t.Errorf("got %s, want %s", tt.got, tt.want)
		}
	}
}
