package profiles

import (
	"math"
	"strings"
	"testing"
)

// One inch is 25.4 mm exactly (international yard and pound agreement, 1959).
func TestParseOffset(t *testing.T) {
	at := func(mm float64) *Length { l := Length(mm); return &l }
	for _, tt := range []struct {
		text, code string
		want       Offset
	}{
		{"G54 X12in Y8in Z-18in", "G54", Offset{X: at(304.8), Y: at(8 * 25.4), Z: at(-18 * 25.4)}},
		{"g59.1 x 12.5 mm", "G59.1", Offset{X: at(12.5)}},
		{"  G55  Z-.5in A+90deg ", "G55", Offset{Z: at(-12.7), A: at(90)}},
		{"G56 C 45 deg B0deg", "G56", Offset{B: at(0), C: at(45)}},
	} {
		code, got, err := ParseOffset(tt.text)
		if err != nil || code != tt.code {
			t.Errorf("%q: code %q, error %v", tt.text, code, err)
			continue
		}
		for i, pair := range [][2]*Length{{got.X, tt.want.X}, {got.Y, tt.want.Y}, {got.Z, tt.want.Z}, {got.A, tt.want.A}, {got.B, tt.want.B}, {got.C, tt.want.C}} {
			if g, w := pair[0], pair[1]; (g == nil) != (w == nil) || g != nil && math.Abs(float64(*g-*w)) > 1e-9 {
				t.Errorf("%q: axis %c differs", tt.text, AxisLetters[i])
			}
		}
	}
}

func TestParseOffsetRefuses(t *testing.T) {
	for _, tt := range []struct{ text, want string }{
		{"", "does not begin with a work offset"},
		{"X12in", "does not begin with a work offset"},
		{"G54X12in", "does not begin with a work offset"},
		{"G54", "names no axis"},
		{"G54 X12", "X12 has no unit: write X12in or X12mm"},
		{"G54 A12", "A12 has no unit: write A12deg"},
		{"G54 A12mm", "angles deg"},
		{"G54 X12deg", "lengths are in or mm"},
		{"G54 X12in X13in", "X is given twice"},
		{"G54 Xin", "is no place of an axis"},
		{"G54 X1inY2in", "is no place of an axis"},
		{"G54 Q1in", "is no place of an axis"},
		{"G54 X1e3in", "is no place of an axis"},
		{"G54 X" + strings.Repeat("9", 400) + "in", "out of range"},
	} {
		if _, _, err := ParseOffset(tt.text); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%q: error %v, want %q", tt.text, err, tt.want)
		}
	}
}

func TestTakesOffset(t *testing.T) {
	m, err := Find("bed-mill", nil)
	if err != nil {
		t.Fatal(err)
	}
	for code, want := range map[string]bool{"G54": true, "G59.3": true, "G53": false, "M54": false, "G": false, "": false, "54": false} {
		if got := m.TakesOffset(code); got != want {
			t.Errorf("%q: %v", code, got)
		}
	}
}
