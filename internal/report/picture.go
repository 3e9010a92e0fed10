package report

import (
	"bytes"
	"fmt"
	"image/color"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"

	"tapefit/profiles"
	"tapefit/rules"
)

// Names of the charts among the pictures; the others are views of the path.
const (
	spindlePicture = "spindle"
	feedPicture    = "feed"
)

// PictureNames are the pictures that there are of a program on the machine: views
// of the path, the usual one first, and charts over time.
func PictureNames(m *profiles.Machine) []string {
	var all []string
	for _, v := range projections(m) {
		all = append(all, v.name)
	}
	return append(all, spindlePicture, feedPicture)
}

// Pictures are views and charts of one program, below each other, to be written
// as one file that stands alone: for mails and quotes.
type Pictures struct {
	page  page
	names []string
}

// Draw checks a program and draws it. Names are of PictureNames. The error is one
// of reading src.
func Draw(src io.ReaderAt, size int64, path string, m *profiles.Machine, set []*rules.Rule, opt rules.Options, names []string) (*Pictures, *rules.Result, error) {
	r, s, err := look(src, size, path, m, set, opt, nil)
	if err != nil {
		return nil, nil, err
	}
	return &Pictures{page{r: r, s: s, u: unitsOf(m)}, names}, r, nil
}

// Sizes of pictures, and the dots of a raster image.
const (
	pictureWidth = 18 * vg.Centimeter
	viewHeight   = 11.5 * vg.Centimeter
	chartRoom    = 6.5 * vg.Centimeter // a chart with its title and legend
	pictureDots  = 150                 // an inch
)

// SVG writes them as a drawing with its own style.
func (p *Pictures) SVG(w io.Writer) error {
	c := vgsvg.New(pictureWidth, p.height())
	p.draw(draw.New(c))
	var text bytes.Buffer
	if _, err := c.WriteTo(&text); err != nil {
		return err
	}
	// Who does not have the font is to get one of its kind.
	_, err := w.Write(bytes.ReplaceAll(text.Bytes(), []byte("font-family:Liberation Sans;"), []byte("font-family:Liberation Sans,sans-serif;")))
	return err
}

// PNG writes them as an image.
func (p *Pictures) PNG(w io.Writer) error {
	c := vgimg.NewWith(vgimg.UseWH(pictureWidth, p.height()), vgimg.UseDPI(pictureDots))
	p.draw(draw.New(c))
	_, err := vgimg.PngCanvas{Canvas: c}.WriteTo(w)
	return err
}

func (p *Pictures) height() (h vg.Length) {
	for _, name := range p.names {
		h += roomOf(name)
	}
	return h
}

func roomOf(name string) vg.Length {
	if name == spindlePicture || name == feedPicture {
		return chartRoom
	}
	return viewHeight
}

func (p *Pictures) draw(c draw.Canvas) {
	for _, name := range p.names {
		h := roomOf(name)
		part := draw.Crop(c, 0, 0, c.Max.Y-c.Min.Y-h, 0)
		part.SetColor(color.White)
		part.Fill(part.Rectangle.Path())
		part = draw.Crop(part, 8, -12, 4, -8)
		switch name {
		case spindlePicture:
			p.spindle(part)
		case feedPicture:
			p.feed(part)
		default:
			i := slices.IndexFunc(projections(p.page.r.Machine), func(v projection) bool { return v.name == name })
			p.view(part, projections(p.page.r.Machine)[i])
		}
		c.Max.Y -= h
	}
}

// Colours and lines are those of the page: kinds differ by both.
var (
	inkColor     = color.NRGBA{0x1c, 0x23, 0x28, 0xff}
	rapidColor   = color.NRGBA{0x6b, 0x76, 0x80, 0xff}
	cutColor     = color.NRGBA{0x00, 0x60, 0x9c, 0xff}
	roundColor   = color.NRGBA{0x00, 0x79, 0x5a, 0xff}
	plungeColor  = color.NRGBA{0xa8, 0x64, 0x00, 0xff}
	markColor    = color.NRGBA{0xb3, 0x4a, 0x00, 0xff}
	gridColor    = color.NRGBA{0xd3, 0xd1, 0xc8, 0xff}
	gearColors   = [2]color.NRGBA{{0xc9, 0xdd, 0xe8, 0xb0}, {0xf0, 0xdc, 0xae, 0xb0}}
	pictureLines = [...]draw.LineStyle{
		Rapid:  {Color: rapidColor, Width: 0.5, Dashes: []vg.Length{4, 3}},
		Cut:    {Color: cutColor, Width: 0.9},
		Round:  {Color: roundColor, Width: 1.1, Dashes: []vg.Length{9, 1.5}},
		Plunge: {Color: plungeColor, Width: 1.4, Dashes: []vg.Length{1.5, 1.5}},
	}
)

// frame is a plot without data, in the picture's fonts.
func (p *Pictures) frame(what, across, up string) *plot.Plot {
	r := p.page.r
	title := "standard input"
	if r.Path != "-" {
		title = clean(filepath.Base(r.Path))
	}
	title += " on " + clean(r.Machine.Name) + ", " + atLeast(r) + clock(r.Times.Total)
	if n := r.Count(rules.Error); n > 0 {
		title += ", " + plural(n, "error")
	}
	f := plot.New()
	sans := font.Font{Typeface: "Liberation", Variant: "Sans"}
	f.Title.Text, f.Title.Padding = title+": "+what, 5
	f.Title.TextStyle.Font = font.From(sans, 10)
	f.Title.TextStyle.Color = inkColor
	for i, axis := range []*plot.Axis{&f.X, &f.Y} {
		axis.Label.Text = [...]string{across, up}[i]
		axis.Label.TextStyle.Font, axis.Tick.Label.Font = font.From(sans, 9), font.From(sans, 8)
		axis.Label.TextStyle.Color, axis.Tick.Label.Color = inkColor, inkColor
		axis.LineStyle.Color, axis.Tick.LineStyle.Color = rapidColor, rapidColor
		axis.Padding = 0
	}
	return f
}

// An entry of the legend is what a line or a patch of colour means.
type entry struct {
	name string
	line draw.LineStyle
	fill color.Color // nil: a line
}

// legend writes entries in a row at the foot, and gives the canvas above it.
func legend(c draw.Canvas, f *plot.Plot, entries []entry) draw.Canvas {
	const height, sample = 15, 24
	style := f.X.Tick.Label
	style.XAlign, style.YAlign = draw.XLeft, draw.YCenter
	x, y := c.Min.X+30, c.Min.Y+height/2
	for _, e := range entries {
		if e.fill != nil {
			c.FillPolygon(e.fill, []vg.Point{{X: x, Y: y - 4}, {X: x + sample, Y: y - 4}, {X: x + sample, Y: y + 4}, {X: x, Y: y + 4}})
		} else {
			c.StrokeLine2(e.line, x, y, x+sample, y)
		}
		c.FillText(style, vg.Point{X: x + sample + 4, Y: y}, e.name)
		x += sample + 16 + style.Width(e.name)
	}
	return draw.Crop(c, 0, 0, height, 0)
}

// A drawn is what is drawn over the scales of a plot.
type drawn func(c draw.Canvas, f *plot.Plot)

func (d drawn) Plot(c draw.Canvas, f *plot.Plot) { d(c, f) }

// view draws the path from one side, as true to shape as the paper.
func (p *Pictures) view(c draw.Canvas, v projection) {
	m, u := p.page.r.Machine, p.page.u
	across, acrossBy := axisOf(v.across, m)
	up, upBy := axisOf(v.up, m)
	f := p.frame("path of the tool tip, "+v.name, across+", "+u.name, up+", "+u.name)
	entries := []entry{{"traverse", pictureLines[Rapid], nil}, {"straight cut", pictureLines[Cut], nil}, {"arc", pictureLines[Round], nil}, {"plunge", pictureLines[Plunge], nil}}
	marks := p.page.marks()
	if len(marks) > 0 {
		entries = append(entries, entry{name: "finding, by its line", line: draw.LineStyle{Color: markColor, Width: 3}})
	}
	c = legend(c, f, entries)
	b := p.page.s.bounds(v)
	f.X.Min, f.X.Max, f.Y.Min, f.Y.Max = b[0]/u.scale, b[1]/u.scale, b[2]/u.scale, b[3]/u.scale
	if across == "" || up == "" { // no axis lies in the paper: a cross of them says how long one is
		f.HideAxes()
		f.X.Label.Text, f.Y.Label.Text = "", ""
	} else {
		f.X.Tick.Marker, f.Y.Tick.Marker = lengthTicks(acrossBy), lengthTicks(upBy)
		grid := plotter.NewGrid()
		grid.Horizontal.Color, grid.Vertical.Color = gridColor, gridColor
		f.Add(grid)
	}
	for range 2 { // the room for figures hangs on the scales a little
		room := f.DataCanvas(c)
		sameScale(&f.X, &f.Y, room.Max.X-room.Min.X, room.Max.Y-room.Min.Y)
	}
	f.Add(drawn(func(c draw.Canvas, f *plot.Plot) { p.path(c, f, v) }))
	if across == "" || up == "" {
		f.Add(drawn(func(c draw.Canvas, f *plot.Plot) { p.triad(c, f, v) }))
	}
	f.Add(drawn(func(c draw.Canvas, f *plot.Plot) { p.marks(c, f, v, marks) }))
	f.Draw(c)
}

// sameScale widens one of two scales, so that a length is as long on both.
func sameScale(x, y *plot.Axis, width, height vg.Length) {
	perX, perY := (x.Max-x.Min)/float64(width), (y.Max-y.Min)/float64(height)
	widen := func(a *plot.Axis, by float64) {
		middle, half := (a.Min+a.Max)/2, (a.Max-a.Min)/2*by
		a.Min, a.Max = middle-half, middle+half
	}
	if !(perX > 0) || !(perY > 0) || math.IsInf(perX, 0) || math.IsInf(perY, 0) {
		x.Min, x.Max, y.Min, y.Max = 0, 1, 0, 1
		return
	}
	if perX < perY {
		widen(x, perY/perX)
	} else {
		widen(y, perX/perY)
	}
}

// lengthTicks are round figures along an axis whose lengths are read multiplied:
// X words of lathes are diameters.
type lengthTicks float64

func (by lengthTicks) Ticks(low, high float64) []plot.Tick {
	ticks := plot.DefaultTicks{}.Ticks(low*float64(by), high*float64(by))
	for i := range ticks {
		ticks[i].Value /= float64(by)
	}
	return ticks
}

// path draws the pieces kind by kind, and holes seen end on as crosses.
func (p *Pictures) path(c draw.Canvas, f *plot.Plot, v projection) {
	x, y := f.Transforms(&c)
	at := func(vertex *Vertex) vg.Point {
		return vg.Point{X: x(dot(vertex.At, v.across) / p.page.u.scale), Y: y(dot(vertex.At, v.up) / p.page.u.scale)}
	}
	const near = 0.35 // of a point: smaller than is seen
	all := p.page.s.Vertices
	for _, kind := range []PieceKind{Rapid, Cut, Round, Plunge} {
		var line []vg.Point
		end := func() {
			if len(line) > 1 {
				c.StrokeLines(pictureLines[kind], c.ClipLinesXY(line)...)
			}
			line = line[:0]
		}
		for i := 1; i < len(all); i++ {
			if all[i].Kind != kind {
				end()
				continue
			}
			if len(line) == 0 {
				line = append(line, at(&all[i-1]))
			}
			to := at(&all[i])
			last := i+1 == len(all) || all[i+1].Kind != kind
			if from := line[len(line)-1]; math.Hypot(float64(to.X-from.X), float64(to.Y-from.Y)) < near {
				if last && len(line) == 1 && kind == Plunge && c.Contains(to) {
					c.StrokeLine2(draw.LineStyle{Color: plungeColor, Width: 1.2}, to.X-3, to.Y, to.X+3, to.Y)
					c.StrokeLine2(draw.LineStyle{Color: plungeColor, Width: 1.2}, to.X, to.Y-3, to.X, to.Y+3)
				}
				if !last || len(line) == 1 {
					continue
				}
			}
			line = append(line, to)
		}
		end()
	}
}

// triad draws a round length along each axis, in the lower left corner.
func (p *Pictures) triad(c draw.Canvas, f *plot.Plot, v projection) {
	u := p.page.u
	room := float64(c.Max.X - c.Min.X)
	perPoint := (f.X.Max - f.X.Min) / room
	long := rounds(perPoint * room / 8)
	if len(long) == 0 {
		return
	}
	length := long[len(long)-1]
	style := f.X.Tick.Label
	style.XAlign, style.YAlign = draw.XCenter, draw.YCenter
	from := vg.Point{X: c.Min.X + vg.Length(length/perPoint) + 4, Y: c.Min.Y + vg.Length(length/perPoint) + 16}
	from.X, from.Y = max(from.X, c.Min.X+30), min(from.Y, c.Min.Y+60)
	for i := range 3 {
		along := vg.Point{X: vg.Length(v.across[i] * length / perPoint), Y: vg.Length(v.up[i] * length / perPoint)}
		to := from.Add(along)
		c.StrokeLine2(draw.LineStyle{Color: inkColor, Width: 1.2}, from.X, from.Y, to.X, to.Y)
		c.FillText(style, to.Add(along.Scale(8/vg.Length(math.Max(math.Hypot(float64(along.X), float64(along.Y)), 1e-9)))), profiles.AxisLetters[i:i+1])
	}
	style.XAlign = draw.XLeft
	c.FillText(style, vg.Point{X: from.X - 16, Y: from.Y - 22}, "each "+short(length, u.decimals)+" "+u.name+" long")
}

// marks rings the places of findings, with the line of each; places that lie
// together have one ring.
func (p *Pictures) marks(c draw.Canvas, f *plot.Plot, v projection, marks []mark) {
	x, y := f.Transforms(&c)
	style := f.X.Tick.Label
	style.Color, style.XAlign, style.YAlign = markColor, draw.XLeft, draw.YCenter
	seen := map[[2]int]bool{}
	for _, m := range marks {
		at := vg.Point{X: x(dot(m.at, v.across) / p.page.u.scale), Y: y(dot(m.at, v.up) / p.page.u.scale)}
		at.X, at.Y = min(max(at.X, c.Min.X+6), c.Max.X-40), min(max(at.Y, c.Min.Y+6), c.Max.Y-6)
		cell := [2]int{int(at.X / 30), int(at.Y / 10)}
		if seen[cell] {
			continue
		}
		seen[cell] = true
		c.SetLineStyle(draw.LineStyle{Color: markColor, Width: 1.4})
		var ring vg.Path
		ring.Move(vg.Point{X: at.X + 4.5, Y: at.Y})
		ring.Arc(at, 4.5, 0, 2*math.Pi)
		c.Stroke(ring)
		c.FillText(style, vg.Point{X: at.X + 7, Y: at.Y}, fmt.Sprint(p.page.r.Findings[m.number-1].Line))
	}
}

// timeTicks are round times, about seven of them.
type timeTicks struct{}

func (timeTicks) Ticks(low, high float64) []plot.Tick {
	step := 1.0
	for _, s := range []float64{1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 36000, 86400} {
		step = s
		if (high-low)/s <= 8 {
			break
		}
	}
	step = max(step, (high-low)/8)
	var all []plot.Tick
	for t := 0.0; t <= high*1.0001 && len(all) < 12; t += step {
		all = append(all, plot.Tick{Value: t, Label: strings.TrimSuffix(clock(t), ".0")})
	}
	return all
}

// roundTicks are two or three round figures from 0 on.
type roundTicks struct{}

func (roundTicks) Ticks(_, high float64) []plot.Tick {
	all := []plot.Tick{{Value: 0, Label: "0"}}
	for _, v := range rounds(high) {
		all = append(all, plot.Tick{Value: v, Label: short(v, 2)})
	}
	return all
}

// chart is a frame over the time of the program.
func (p *Pictures) chart(what, up string, most float64) *plot.Plot {
	f := p.frame(what, "time from the start", up)
	f.X.Min, f.X.Max, f.X.Tick.Marker = 0, max(finite(p.page.r.Times.Total), 1e-3), timeTicks{}
	f.Y.Min, f.Y.Max = 0, max(finite(most), 1e-3)*1.05
	f.Y.Tick.Marker = roundTicks{}
	grid := plotter.NewGrid()
	grid.Horizontal.Color, grid.Vertical.Color = gridColor, nil
	f.Add(grid)
	return f
}

// spindle draws the speed over the ranges of the gears.
func (p *Pictures) spindle(c draw.Canvas) {
	s := p.page.s
	line := s.speedLine(p.page.r.Times.Total)
	most := p.page.fastest()
	gears := s.machine.Spindle.Gears
	for _, g := range gears {
		most = max(most, float64(g.Speed[1]))
	}
	f := p.chart("spindle", "spindle, rpm", most)
	speed := draw.LineStyle{Color: inkColor, Width: 1.2}
	entries := []entry{{"speed", speed, nil}}
	for i, g := range gears {
		fill := gearColors[i%2]
		entries = append(entries, entry{"gear " + clean(g.Name) + ", " + rotations(g.Speed), draw.LineStyle{}, fill})
		f.Add(drawn(func(c draw.Canvas, f *plot.Plot) {
			_, y := f.Transforms(&c)
			low, high := y(float64(g.Speed[0])), y(float64(g.Speed[1]))
			c.FillPolygon(fill, []vg.Point{{X: c.Min.X, Y: low}, {X: c.Max.X, Y: low}, {X: c.Max.X, Y: high}, {X: c.Min.X, Y: high}})
		}))
	}
	f.Add(drawn(func(c draw.Canvas, f *plot.Plot) {
		x, y := f.Transforms(&c)
		var at []vg.Point
		for _, corner := range line {
			at = append(at, vg.Point{X: x(corner[0]), Y: y(corner[1])})
		}
		c.StrokeLines(speed, at)
	}))
	f.Draw(legend(c, f, entries))
}

// feed draws the programmed feed of cuts and what the machine makes of it.
func (p *Pictures) feed(c draw.Canvas) {
	total := p.page.r.Times.Total
	all := p.page.s.feeds(total)
	perMinute := 60 / p.page.u.scale
	f := p.chart("feed of cuts", "feed, "+p.page.u.name+"/min", all.most*perMinute)
	wanted := draw.LineStyle{Color: plungeColor, Width: 0.9, Dashes: []vg.Length{4, 3}}
	actual := draw.LineStyle{Color: cutColor, Width: 1.2}
	steps := func(style draw.LineStyle, values *[feedColumns]float64) {
		f.Add(drawn(func(c draw.Canvas, f *plot.Plot) {
			x, y := f.Transforms(&c)
			var at []vg.Point
			for k, v := range values {
				if !all.cuts[k] {
					c.StrokeLines(style, at)
					at = at[:0]
					continue
				}
				left, right, up := x(total*float64(k)/feedColumns), x(total*float64(k+1)/feedColumns), y(v*perMinute)
				at = append(at, vg.Point{X: left, Y: up}, vg.Point{X: right, Y: up})
			}
			c.StrokeLines(style, at)
		}))
	}
	steps(actual, &all.actual)
	steps(wanted, &all.wanted)
	f.Draw(legend(c, f, []entry{{"programmed", wanted, nil}, {"what the machine does", actual, nil}}))
}
