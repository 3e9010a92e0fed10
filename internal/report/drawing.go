package report

import (
	"fmt"
	"html/template"
	"math"
	"strconv"
	"strings"

	"tapefit/profiles"
	"tapefit/rules"
)

// A projection looks at the path from one side: two coordinates of a place, the
// second upwards.
type projection struct {
	name, title string
	across, up  [3]float64 // shares of X, Y, Z
}

// projections are those of a mill, and of a lathe: its one view is the one from
// above, Z to the right and X up.
func projections(m *profiles.Machine) []projection {
	if m.Kind == "lathe" {
		return []projection{{"side", "Z across, X up", [3]float64{0, 0, 1}, [3]float64{1, 0, 0}}}
	}
	const c, s = 0.8660254037844386, 0.5 // of 30 degrees
	return []projection{
		{"slant", "Slanted", [3]float64{c, -c, 0}, [3]float64{s, s, 1}},
		{"top", "Top", [3]float64{1, 0, 0}, [3]float64{0, 1, 0}},
		{"front", "Front", [3]float64{1, 0, 0}, [3]float64{0, 0, 1}},
		{"right", "Right side", [3]float64{0, 1, 0}, [3]float64{0, 0, 1}},
	}
}

func dot(a, b [3]float64) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

// A drawing is a view of the path as SVG, for pages without scripts and on
// paper.
type drawing struct {
	p             projection
	width, height float64
	scale         float64
	left, top     float64 // of the picture, in mm of the projection: top is its greatest
	b             strings.Builder
}

// view draws the scene. Marks are places with findings, by number.
func (s *Scene) view(p projection, width, height float64, marks []mark) template.HTML {
	d := drawing{p: p, width: width, height: height}
	box := s.bounds(p)
	const margin = 16
	w, h := max(box[1]-box[0], 1e-6), max(box[3]-box[2], 1e-6)
	d.scale = min((width-2*margin)/w, (height-2*margin)/h)
	d.left = (box[0]+box[1])/2 - width/2/d.scale
	d.top = (box[2]+box[3])/2 + height/2/d.scale
	fmt.Fprintf(&d.b, `<svg viewBox="0 0 %g %g" role="img" aria-label="Path of the tool tip, %s">`, width, height, template.HTMLEscapeString(strings.ToLower(p.title)))
	d.box(s.stock(), "stock")
	if travel, ok := s.travel(p); ok {
		d.box(travel, "travel")
	}
	for _, kind := range []PieceKind{Rapid, Cut, Round, Plunge} {
		d.pieces(s.Vertices, kind)
	}
	for _, m := range marks {
		const room = 9 // what lies outside is marked at the edge
		x, y := d.at(m.at)
		x, y = min(max(x, room), width-room), min(max(y, room), height-room)
		fmt.Fprintf(&d.b, `<circle class="mark" cx="%s" cy="%s" r="6"/><text x="%s" y="%s" text-anchor="middle" dy="3.5">%d</text>`,
			px(x), px(y), px(x), px(y), m.number)
	}
	d.b.WriteString(`</svg>`)
	return template.HTML(d.b.String()) // made of numbers and words of ours alone
}

// A mark is a finding's place on the path.
type mark struct {
	number int
	at     [3]float64
}

// px writes a place on a picture. What is far off it stays finite.
func px(v float64) string {
	return strconv.FormatFloat(math.Round(min(max(finite(v), -1e6), 1e6)*10)/10, 'f', -1, 64)
}

func (d *drawing) at(p [3]float64) (x, y float64) {
	return (dot(p, d.p.across) - d.left) * d.scale, (d.top - dot(p, d.p.up)) * d.scale
}

// bounds are those of the cuts, or of all where nothing is cut: least and
// greatest across, and up. Traverses to the ends of the machine would leave
// little room for the part.
func (s *Scene) bounds(p projection) [4]float64 {
	if b := s.boundsOf(p, func(k PieceKind) bool { return k > Rapid }); b[0] <= b[1] {
		w, h := b[1]-b[0], b[3]-b[2]
		more := 0.12 * max(w, h, 1e-6) // so that the way to the part is seen
		return [4]float64{b[0] - more, b[1] + more, b[2] - more, b[3] + more}
	}
	if b := s.boundsOf(p, func(PieceKind) bool { return true }); b[0] <= b[1] {
		return b
	}
	return [4]float64{0, 1, 0, 1}
}

// boundsOf are those of the pieces of some kinds; the least is above the greatest
// where there are none.
func (s *Scene) boundsOf(p projection, drawn func(PieceKind) bool) [4]float64 {
	b := [4]float64{math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)}
	for i := range s.Vertices {
		if !drawn(s.Vertices[i].Kind) && !(i+1 < len(s.Vertices) && drawn(s.Vertices[i+1].Kind) && s.Vertices[i+1].Kind != Jump) {
			continue
		}
		x, y := dot(s.Vertices[i].At, p.across), dot(s.Vertices[i].At, p.up)
		b = [4]float64{min(b[0], x), max(b[1], x), min(b[2], y), max(b[3], y)}
	}
	return b
}

// class is the name of a kind of piece in the style sheet.
func (k PieceKind) class() string { return [...]string{"", "rapid", "cut", "round", "plunge"}[k] }

// pieces draws those of one kind as one path, leaving out what is smaller than a
// dot on the picture.
func (d *drawing) pieces(all []Vertex, kind PieceKind) {
	const dot = 0.7
	begun, open := false, false
	var atX, atY float64 // of the pen
	for i := 1; i < len(all); i++ {
		if all[i].Kind != kind {
			open = false
			continue
		}
		x, y := d.at(all[i].At)
		last := i+1 == len(all) || all[i+1].Kind != kind
		if open && !last && math.Abs(x-atX)+math.Abs(y-atY) < dot {
			continue
		}
		if !begun {
			fmt.Fprintf(&d.b, `<path class="%s" d="`, kind.class())
			begun = true
		}
		if !open {
			fromX, fromY := d.at(all[i-1].At)
			if math.Abs(x-fromX)+math.Abs(y-fromY) < dot && last {
				continue // a dot: a hole seen from above
			}
			d.b.WriteString("M" + px(fromX) + " " + px(fromY))
			open = true
		}
		d.b.WriteString("L" + px(x) + " " + px(y))
		atX, atY = x, y
	}
	if begun {
		d.b.WriteString(`"/>`)
	}
}

// stock is the least box about all cuts, as its eight corners; nil where there
// are none.
func (s *Scene) stock() [][3]float64 {
	var r [3]rules.Range
	for i := 1; i < len(s.Vertices); i++ {
		if k := s.Vertices[i].Kind; k == Cut || k == Round || k == Plunge {
			for a := range 3 {
				widen(&r[a], s.Vertices[i].At[a])
				widen(&r[a], s.Vertices[i-1].At[a])
			}
		}
	}
	return corners(r)
}

func corners(r [3]rules.Range) [][3]float64 {
	var all [][3]float64
	for i := range 8 {
		var p [3]float64
		for a := range p {
			if !r[a].Set {
				return nil
			}
			p[a] = r[a].Min
			if i>>a&1 == 1 {
				p[a] = r[a].Max
			}
		}
		all = append(all, p)
	}
	return all
}

// travel is the box of the soft limits in the coordinates of the path, if they
// and the work offset are known and it does not dwarf the path. Along Z it hangs
// on the tool, and is left out.
func (s *Scene) travel(p projection) ([][3]float64, bool) {
	offset := s.machine.WorkOffset(max(s.first, 0))
	if offset == nil || p.name != "top" {
		return nil, false
	}
	var r [3]rules.Range
	for i, zero := range []*profiles.Length{offset.X, offset.Y} {
		a := s.machine.Axis(i)
		if a == nil || len(a.Travel) != 2 || zero == nil {
			return nil, false
		}
		r[i] = rules.Range{Set: true, Min: float64(a.Travel[0] - *zero), Max: float64(a.Travel[1] - *zero)}
	}
	r[2] = rules.Range{Set: true}
	return corners(r), true
}

// box draws the edges of a box by its corners.
func (d *drawing) box(at [][3]float64, class string) {
	if at == nil {
		return
	}
	fmt.Fprintf(&d.b, `<path class="%s" d="`, class)
	for i := range 8 {
		for a := range 3 {
			if i>>a&1 == 0 {
				x1, y1 := d.at(at[i])
				x2, y2 := d.at(at[i|1<<a])
				if px(x1) != px(x2) || px(y1) != px(y2) {
					d.b.WriteString("M" + px(x1) + " " + px(y1) + "L" + px(x2) + " " + px(y2))
				}
			}
		}
	}
	d.b.WriteString(`"/>`)
}
