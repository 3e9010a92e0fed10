package report

import (
	"fmt"
	"math"
	"strings"

	"tapefit/profiles"
)

// A scale places speeds in columns. It is logarithmic: a step to the right is a
// share of the speed, so that slow gears and the gaps between them have room.
type scale struct {
	low, high float64 // rpm, of the first and of the last column
	columns   int
}

// gearScale is a scale from the lowest speed of all gears to the highest. One
// that begins at 0 begins beyond its end; then two powers of ten are shown.
func gearScale(gears []profiles.SpindleGear, columns int) scale {
	s := scale{low: math.Inf(1), columns: columns}
	for _, g := range gears {
		low, high := float64(g.Speed[0]), float64(g.Speed[1])
		s.high = max(s.high, high)
		if low == 0 {
			low = high / 100
		}
		s.low = min(s.low, low)
	}
	s.low = max(s.low, s.high/1e4) // else one creeping speed leaves no room for the rest
	return s
}

// at is the column of a speed, with its fraction.
func (s scale) at(speed float64) float64 {
	if speed <= s.low {
		return 0
	}
	return min(1, math.Log(speed/s.low)/math.Log(s.high/s.low)) * float64(s.columns-1)
}

// bar draws a range of speeds: |-----|, or <----| where it begins below the
// scale. Ends are rounded inwards, so that gaps are not drawn shut.
func (s scale) bar(low, high float64) string {
	from, to := int(math.Ceil(s.at(low))), int(math.Floor(s.at(high)))
	if from > to {
		from = to
	}
	row := strings.Repeat(" ", from) + strings.Repeat("-", to-from+1)
	line := []byte(row)
	line[from], line[to] = '|', '|'
	if low < s.low {
		line[from] = '<'
	}
	return string(line)
}

// ruler is a line of round speeds, each above its column: 1, 2 or 5 times a
// power of ten, and the end.
func (s scale) ruler() string {
	line := []byte(strings.Repeat(" ", s.columns))
	put := func(speed float64) {
		text := short(speed, 0)
		from := int(math.Round(s.at(speed))) - len(text)/2
		from = max(0, min(from, s.columns-len(text)))
		around := line[max(0, from-1):min(s.columns, from+len(text)+1)]
		if strings.Trim(string(around), " ") == "" {
			copy(line[from:], text)
		}
	}
	put(s.high)
	for _, step := range []float64{1, 5, 2} { // what has no room is left out, the twos first
		for power := math.Pow(10, math.Floor(math.Log10(s.low))); power*step < s.high; power *= 10 {
			if power*step >= s.low {
				put(power * step)
			}
		}
	}
	return strings.TrimRight(string(line), " ")
}

// leastBar is the least width at which bars tell anything.
const leastBar = 30

// gears draws the gears as bars over one scale of speeds, and writes which
// speeds two gears share and which none reaches.
func (t *Text) gears(m *profiles.Machine) {
	gears := m.Spindle.Gears
	if len(gears) == 0 {
		return
	}
	label := len("rpm")
	for _, g := range gears {
		label = max(label, len(clean(g.Name)))
	}
	label = min(label, factWidth)
	if columns := min(t.width, 80) - 2 - label - 2; columns >= leastBar && drawable(gears) {
		s := gearScale(gears, columns)
		t.line()
		t.out.WriteString(fmt.Sprintf("  %-*s  %s\n", label, "rpm", s.ruler()))
		for _, g := range gears {
			t.out.WriteString(fmt.Sprintf("  %s  %s\n", fitted(g.Name, label), s.bar(float64(g.Speed[0]), float64(g.Speed[1]))))
		}
	}
	beside := *t
	beside.width = min(t.width, 80) // as the bars
	for _, between := range betweenGears(gears) {
		beside.flow(2, 4, run{text: between})
	}
}

// drawable says whether the speeds are of a size that a ruler can show.
func drawable(gears []profiles.SpindleGear) bool {
	top := gears[len(gears)-1].Speed[1]
	return top >= 1 && top <= 1e7
}

// fitted is a name in so many columns: a longer one is cut, since the bars say
// which gear it is by their order too.
func fitted(name string, width int) string {
	cells := appendCells(nil, nil, clean(name))
	var b strings.Builder
	used := 0
	for _, c := range cells {
		if used+c.width > width {
			break
		}
		b.WriteString(c.text)
		used += c.width
	}
	return b.String() + strings.Repeat(" ", width-used)
}

// betweenGears says of each gear and the next which speeds both reach, or
// neither.
func betweenGears(gears []profiles.SpindleGear) []string {
	var all []string
	for i, g := range gears[1:] {
		before := gears[i]
		low, high := g.Speed[0], before.Speed[1]
		switch {
		case low < high:
			all = append(all, fmt.Sprintf("both %s and %s: %s", clean(before.Name), clean(g.Name), rotations([]profiles.Rotation{low, high})))
		case low > high:
			all = append(all, "no gear: "+rotations([]profiles.Rotation{high, low}))
		}
	}
	return all
}
