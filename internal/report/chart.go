package report

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"tapefit/profiles"
)

// Size of a chart over time, and the room for its scales, in its own units. The
// script of the page knows them too.
const (
	chartWidth  = 1000.0
	chartHeight = 170.0
	chartLeft   = 52.0
	chartRight  = 8.0
	chartTop    = 8.0
	chartFoot   = 20.0
)

// A chart draws figures over time.
type chart struct {
	b           strings.Builder
	total, most float64
}

func newChart(label string, total, most float64) *chart {
	c := &chart{total: max(finite(total), 1e-9), most: max(finite(most), 1e-9)}
	fmt.Fprintf(&c.b, `<svg viewBox="0 0 %g %g" role="img" aria-label="%s">`, chartWidth, chartHeight, template.HTMLEscapeString(label))
	return c
}

func (c *chart) x(seconds float64) float64 {
	return chartLeft + seconds/c.total*(chartWidth-chartLeft-chartRight)
}

func (c *chart) y(v float64) float64 {
	v = min(max(finite(v), 0), c.most)
	return chartHeight - chartFoot - v/c.most*(chartHeight-chartFoot-chartTop)
}

func (c *chart) end() template.HTML {
	fmt.Fprintf(&c.b, `<line class="axis" x1="%g" y1="%s" x2="%g" y2="%s"/>`, chartLeft, px(c.y(0)), chartWidth-chartRight, px(c.y(0)))
	for i := range 6 {
		t := c.total * float64(i) / 5
		anchor := [...]string{"start", "middle", "middle", "middle", "middle", "end"}[i]
		fmt.Fprintf(&c.b, `<text class="faint" x="%s" y="%g" text-anchor="%s">%s</text>`, px(c.x(t)), chartHeight-5, anchor, clock(t))
	}
	c.b.WriteString(`</svg>`)
	return template.HTML(c.b.String()) // made of numbers, and names that are escaped
}

// figure writes a value of the scale at the left.
func (c *chart) figure(v float64, text string) {
	y := px(c.y(v))
	fmt.Fprintf(&c.b, `<line class="axis" x1="%g" y1="%s" x2="%g" y2="%s"/><text class="faint" x="%g" y="%s" text-anchor="end" dy="3.5">%s</text>`,
		chartLeft, y, chartWidth-chartRight, y, chartLeft-5, y, text)
}

// rounds are two or three round values up to most.
func rounds(most float64) []float64 {
	if !(most > 1e-9 && most < 1e12) {
		return nil
	}
	step := math.Pow(10, math.Floor(math.Log10(most)))
	for _, f := range []float64{0.25, 0.5, 1, 2} {
		if most/(step*f) <= 4 {
			step *= f
			break
		}
	}
	var all []float64
	for v := step; v <= most*1.0001; v += step {
		all = append(all, v)
	}
	return all
}

// spindleChart draws the spindle's speed over the ranges of the gears.
func (s *Scene) spindleChart(total float64) template.HTML {
	most := 0.0
	gears := s.machine.Spindle.Gears
	for _, g := range gears {
		most = max(most, float64(g.Speed[1]))
	}
	for _, step := range s.Spindle {
		most = max(most, math.Abs(step.Speed))
	}
	c := newChart("Spindle speed over time, with the ranges of the gears", total, most*1.04)
	for i, g := range gears {
		low, high := c.y(float64(g.Speed[0])), c.y(float64(g.Speed[1]))
		fmt.Fprintf(&c.b, `<rect class="gear%d" x="%g" y="%s" width="%g" height="%s" fill-opacity="0.75"/>`,
			i%2, chartLeft, px(high), chartWidth-chartLeft-chartRight, px(low-high))
	}
	for _, v := range rounds(most) {
		c.figure(v, short(v, 0))
	}
	width := (chartWidth - chartLeft - chartRight) / float64(max(len(gears), 1))
	for i, g := range gears {
		fmt.Fprintf(&c.b, `<text x="%s" y="%s" dx="4" dy="11">%s %s to %s</text>`, px(chartLeft+width*float64(i)), px(c.y(float64(g.Speed[1]))),
			template.HTMLEscapeString(clean(g.Name)), short(float64(g.Speed[0]), 0), short(float64(g.Speed[1]), 0))
	}
	c.b.WriteString(`<path class="speed" d="`)
	for i, p := range s.speedLine(total) {
		fmt.Fprintf(&c.b, "%c%s %s", "ML"[min(i, 1)], px(c.x(p[0])), px(c.y(p[1])))
	}
	c.b.WriteString(`"/>`)
	return c.end()
}

// speedLine is the spindle's speed over time as the corners of a line: s, rpm.
func (s *Scene) speedLine(total float64) [][2]float64 {
	line := [][2]float64{{0, 0}}
	speed := 0.0
	for _, step := range s.Spindle {
		if !step.Ramp {
			line = append(line, [2]float64{step.Time, speed})
		}
		speed = math.Abs(step.Speed)
		line = append(line, [2]float64{step.Time, speed})
	}
	return append(line, [2]float64{total, speed})
}

// feedColumns is how finely feeds are drawn over time.
const feedColumns = 900

// feeds are those of cuts by column of time, mm/s; a column without cuts has
// none.
type feeds struct {
	wanted, actual [feedColumns]float64
	cuts           [feedColumns]bool
	most           float64
}

// feeds gathers the programmed feed of cuts and the mean speed at which the
// machine goes.
func (s *Scene) feeds(total float64) *feeds {
	var f feeds
	var way, busy [feedColumns]float64
	column := func(t float64) int {
		return min(max(int(t/max(total, 1e-9)*feedColumns), 0), feedColumns-1)
	}
	for i := 1; i < len(s.Vertices); i++ {
		v := &s.Vertices[i]
		seconds := v.Time - v.Start
		if v.Kind == Jump || v.Kind == Rapid || v.Actual <= 0 || seconds <= 0 {
			continue
		}
		from, to := column(v.Start), column(v.Time)
		for k := from; k <= to; k++ {
			part := seconds / float64(to-from+1)
			f.wanted[k] = max(f.wanted[k], v.Feed)
			way[k] += v.Actual * part
			busy[k] += part
		}
	}
	for k := range feedColumns {
		f.most = max(f.most, f.wanted[k])
		if busy[k] > 0 {
			f.cuts[k], f.actual[k] = true, way[k]/busy[k]
			f.most = max(f.most, f.actual[k])
		}
	}
	return &f
}

// feedChart draws the programmed feed of cuts and the mean speed at which the
// machine goes.
func (s *Scene) feedChart(total float64, m *profiles.Machine) template.HTML {
	f := s.feeds(total)
	u := unitsOf(m)
	perMinute := 60 / u.scale
	c := newChart("Programmed and actual feed over time", total, f.most*1.05)
	for _, v := range rounds(f.most * perMinute) {
		c.figure(v/perMinute, short(v, 1))
	}
	c.series("wanted", func(k int) (float64, bool) { return f.wanted[k], f.cuts[k] })
	c.series("actual", func(k int) (float64, bool) { return f.actual[k], f.cuts[k] })
	return c.end()
}

// series draws one value a column of time, where there is one.
func (c *chart) series(class string, at func(k int) (float64, bool)) {
	fmt.Fprintf(&c.b, `<path class="%s" d="`, class)
	open := false
	last := ""
	for k := range feedColumns {
		v, ok := at(k)
		if !ok {
			open = false
			continue
		}
		y := px(c.y(v))
		left, right := px(c.x(c.total*float64(k)/feedColumns)), px(c.x(c.total*float64(k+1)/feedColumns))
		switch {
		case !open:
			c.b.WriteString("M" + left + " " + y + "H" + right)
		case y == last:
			c.b.WriteString("H" + right)
		default:
			c.b.WriteString("V" + y + "H" + right)
		}
		open, last = true, y
	}
	c.b.WriteString(`"/>`)
}
