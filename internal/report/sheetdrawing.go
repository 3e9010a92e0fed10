package report

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"tapefit/profiles"
)

// Room for the dimensions of a sheet's picture, in its own units: below, at the
// left at least and all round; and how wide a sign of its text is at most, figures
// and blanks taken together.
const (
	glyph       = 7.4
	sheetFoot   = 34.0
	sheetLeft   = 88.0
	sheetMargin = 12.0
)

// sheetView draws the reach of the cuts from one side, with its ends measured
// from work zero; "" where nothing is cut. It is for paper: kinds of move differ
// by line, not by colour. A flat picture is less high than most.
func (s *Scene) sheetView(p projection, width, most float64) template.HTML {
	box := s.stock()
	if box == nil {
		return ""
	}
	b := [4]float64{math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)}
	for _, c := range box {
		x, y := dot(c, p.across), dot(c, p.up)
		b = [4]float64{min(b[0], x), max(b[1], x), min(b[2], y), max(b[3], y)}
	}
	e := endsOf(b, p, s.machine)
	left := max(sheetLeft, 24+glyph*float64(max(len(e.top), len(e.bottom))))
	w, h := max(b[1]-b[0], 1e-6), max(b[3]-b[2], 1e-6)
	const air = 1.14 // so that the way in is seen
	height := min(most, sheetFoot+sheetMargin+max(h/w*(width-left-sheetMargin), 60))
	d := drawing{p: p, width: width, height: height}
	d.scale = min((width-left-sheetMargin)/w, (height-sheetFoot-sheetMargin)/h) / air
	d.left = (b[0]+b[1])/2 - (width+left-sheetMargin)/2/d.scale
	d.top = (b[2]+b[3])/2 + (height-sheetFoot+sheetMargin)/2/d.scale
	name := template.HTMLEscapeString(p.title)
	fmt.Fprintf(&d.b, `<svg viewBox="0 0 %g %g" role="img" aria-label="Reach of the cuts, %s, measured from work zero">`, width, height, strings.ToLower(name))
	fmt.Fprintf(&d.b, `<svg x="%g" y="0" width="%g" height="%g" viewBox="%g 0 %g %g">`, left, width-left, height-sheetFoot, left, width-left, height-sheetFoot)
	for _, kind := range []PieceKind{Rapid, Cut, Round, Plunge} {
		d.pieces(s.Vertices, kind)
	}
	d.holes(s.Vertices)
	d.box(box, "stock")
	d.zero(left)
	d.b.WriteString(`</svg>`)
	d.ends(b, left, &e)
	d.b.WriteString(`</svg>`)
	return template.HTML(d.b.String()) // made of numbers and words of ours alone
}

// holes marks plunges that are seen end on, each place once.
func (d *drawing) holes(all []Vertex) {
	seen := map[[2]float64]bool{}
	for i := 1; i < len(all) && len(seen) < 2000; i++ {
		if all[i].Kind != Plunge {
			continue
		}
		x, y := d.at(all[i].At)
		fromX, fromY := d.at(all[i-1].At)
		at := [2]float64{math.Round(x), math.Round(y)}
		if math.Abs(x-fromX)+math.Abs(y-fromY) > 1 || seen[at] {
			continue
		}
		seen[at] = true
		fmt.Fprintf(&d.b, `<path class="hole" d="M%s %sh7m-3.5-3.5v7"/>`, px(x-3.5), px(y))
	}
}

// zero marks work zero, where the picture reaches it.
func (d *drawing) zero(room float64) {
	x, y := d.at([3]float64{})
	if x < room || x > d.width || y < 0 || y > d.height-sheetFoot {
		return
	}
	fmt.Fprintf(&d.b, `<path class="zero" d="M%s %sh32m-16-16v32"/><circle class="zero" cx="%s" cy="%s" r="7"/><path class="zerofill" d="M%s %sh7a7 7 0 0 1-7 7zm0 0h-7a7 7 0 0 1 7-7z"/>`,
		px(x-16), px(y), px(x), px(y), px(x), px(y))
}

// sheetEnds are the texts of the dimensions: at both ends across, with the whole,
// and at both ends up.
type sheetEnds struct{ left, right, whole, both, top, bottom string }

func endsOf(b [4]float64, p projection, m *profiles.Machine) sheetEnds {
	u := unitsOf(m)
	across, acrossBy := axisOf(p.across, m)
	up, upBy := axisOf(p.up, m)
	left, right := u.number(b[0]*acrossBy), u.number(b[1]*acrossBy)
	return sheetEnds{
		left: across + " " + left, right: right, whole: u.number((b[1]-b[0])*acrossBy) + " wide",
		both: across + " " + left + " to " + right,
		top:  up + " " + u.number(b[3]*upBy), bottom: u.number(b[2] * upBy),
	}
}

// ends writes how far the cuts go, as measured from work zero: across below the
// picture, and up at its left, in the room there.
func (d *drawing) ends(b [4]float64, room float64, e *sheetEnds) {
	foot := d.height - sheetFoot
	left, right := (b[0]-d.left)*d.scale, (b[1]-d.left)*d.scale
	top, bottom := (d.top-b[3])*d.scale, (d.top-b[2])*d.scale
	fmt.Fprintf(&d.b, `<path class="dim" d="M%s %sV%gM%s %sV%gM%s %gH%s"/>`,
		px(left), px(bottom+3), foot+16, px(right), px(bottom+3), foot+16, px(left), foot+11, px(right))
	fmt.Fprintf(&d.b, `<path class="dim" d="M%s %sH%gM%s %sH%gM%g %sV%s"/>`,
		px(left-3), px(top), room-16, px(left-3), px(bottom), room-16, room-11, px(top), px(bottom))
	text := func(x, y float64, anchor, text string) {
		fmt.Fprintf(&d.b, `<text x="%s" y="%s" text-anchor="%s">%s</text>`, px(x), px(y), anchor, text)
	}
	if right-left > 190 {
		text(left, foot+29, "start", e.left)
		text((left+right)/2, foot+29, "middle", e.whole)
		text(right, foot+29, "end", e.right)
	} else { // no room below itself
		text((left+right)/2, foot+29, "middle", e.both)
	}
	low, high := max(bottom+4, 12), max(top+4, 12)
	if low-high < 14 {
		low, high = (low+high)/2+7, (low+high)/2-7
	}
	text(room-18, high, "end", e.top)
	text(room-18, low, "end", e.bottom)
}

func unit(i int) (v [3]float64) {
	v[i] = 1
	return v
}

// axisOf names the axis of a direction along one, and says by what a length
// along it is multiplied to be read: X words of lathes are diameters.
func axisOf(along [3]float64, m *profiles.Machine) (name string, by float64) {
	for i := range along {
		if along == unit(i) {
			return nameOfAxis(m, i)
		}
	}
	return "", 1
}
