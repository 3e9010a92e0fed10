package report

import (
	"bytes"
	"testing"

	"pgregory.net/rapid"

	"tapefit/profiles"
)

func geared(speeds ...[2]profiles.Rotation) *profiles.Machine {
	m := &profiles.Machine{}
	for i, s := range speeds {
		m.Spindle.Gears = append(m.Spindle.Gears, profiles.SpindleGear{Name: "gear-" + string(rune('a'+i)), Speed: s[:]})
	}
	return m
}

// On a logarithmic scale equal shares are equally long: of 60 columns from 10 to
// 1000 rpm the tenfold is half, and 100 rpm lies between columns 30 and 31.
func TestGearBars(t *testing.T) {
	for _, tt := range []struct {
		name string
		m    *profiles.Machine
		want string
	}{
		{"apart", geared([2]profiles.Rotation{10, 80}, [2]profiles.Rotation{100, 1000}), `
  rpm     10      20          50       100     200         500    1000
  gear-a  |-------------------------|
  gear-b                                |----------------------------|
  no gear: 80 to 100 rpm
`},
		{"overlapping", geared([2]profiles.Rotation{10, 200}, [2]profiles.Rotation{100, 1000}), `
  rpm     10      20          50       100     200         500    1000
  gear-a  |-------------------------------------|
  gear-b                                |----------------------------|
  both gear-a and gear-b: 100 to 200 rpm
`},
		{"from rest", geared([2]profiles.Rotation{0, 1000}, [2]profiles.Rotation{1000, 6000}), `
  rpm     10   20       50    100    200     500  1000   2000     6000
  gear-a  <-----------------------------------------|
  gear-b                                             |---------------|
`},
		{"too slow to draw", geared([2]profiles.Rotation{0, 5e-324}, [2]profiles.Rotation{0, 0.5}), "  both gear-a and gear-b: 0 to 0 rpm\n"},
	} {
		var out bytes.Buffer
		text := NewText(&out, 70, false)
		text.gears(tt.m)
		text.out.Flush()
		t.Run(tt.name, func(t *testing.T) { same(t, out.String(), tt.want) })
	}
}

// Whatever the gears are, no line is wider than 80 columns or the terminal.
func TestGearBarsFit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := &profiles.Machine{}
		for range rapid.IntRange(0, 6).Draw(t, "gears") {
			low := profiles.Rotation(rapid.Float64Range(0, 1e7).Draw(t, "low"))
			m.Spindle.Gears = append(m.Spindle.Gears, profiles.SpindleGear{
				Name:  rapid.StringMatching(`[a-z \x{4e00}]{0,30}`).Draw(t, "name"),
				Speed: []profiles.Rotation{low, low + profiles.Rotation(rapid.Float64Range(1e-9, 1e9).Draw(t, "more"))},
			})
		}
		var out bytes.Buffer
		width := rapid.IntRange(leastWidth, 120).Draw(t, "width")
		text := NewText(&out, width, false)
		text.gears(m)
		text.out.Flush()
		for _, line := range bytes.Split(out.Bytes(), []byte("\n")) {
			if w := widthOf(appendCells(nil, nil, string(line))); w > min(width, 80) {
				t.Fatalf("%d columns of %d: %q", w, width, line)
			}
		}
	})
}
