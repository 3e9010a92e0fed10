package adapt

import (
	"fmt"
	"math"

	"tapefit/internal/interp"
)

// A walk runs a point along each of two paths, never back.
type walk struct {
	m       *matcher
	x, y    *step   // which the points are on; nil behind the end
	u, v    float64 // where on them
	uLow    float64 // how much earlier the point on x could be, for where that on y is
	vLow    float64 // and that on y
	rapid   bool
	known   interp.AxisSet
	partial bool // only the axes in known are compared
	end     step // of the path that has ended: its point stays there
}

// A stride takes the points on to u and v, where they are d apart.
type stride struct{ u, v, d float64 }

// run takes both points to the ends of the paths.
func (w *walk) run() *Difference {
	w.mask(w.x)
	w.mask(w.y)
	for w.x != nil || w.y != nil {
		if d := w.step(); d != nil {
			return d
		}
	}
	return nil
}

// mask leaves out the axes that are not compared.
func (w *walk) mask(s *step) {
	if w.partial && s != nil {
		s.from, s.to = only(&s.from, w.known), only(&s.to, w.known)
	}
}

// step makes one stride: to the end of at least one piece.
func (w *walk) step() *Difference {
	x, y := w.x, w.y
	switch {
	case x == nil:
		x = &w.end
	case y == nil:
		y = &w.end
	case w.u == 0 && w.v == 0 && x.curve == y.curve:
		return w.take(x, y, stride{1, 1, 0})
	}
	s, best := w.stride(x, y)
	if s.d > w.m.tol && w.goBack(x, y) {
		s, _ = w.stride(x, y)
	}
	if s.d > w.m.tol {
		return w.astray(x, y, best)
	}
	return w.take(x, y, s)
}

// stride is the best stride from where the points are, and how far they are
// apart by the best there is, if that is too far.
func (w *walk) stride(x, y *step) (s stride, best float64) {
	best = apart(&x.to, &y.to)
	for _, s = range w.strides(x, y) {
		if s.d <= w.m.tol {
			s.d = math.Max(s.d, between(&x.curve, w.u, s.u, &y.curve, w.v, s.v, w.m.proof.Deviation))
		}
		if s.d <= w.m.tol {
			return s, s.d
		}
		best = math.Min(best, s.d)
	}
	return s, best
}

// goBack takes back how far a point has gone on to be nearest to the other,
// since now the other turns round by less than the tolerance: it had better
// waited on the way. It says whether there was something to take back.
func (w *walk) goBack(x, y *step) bool {
	if w.x == nil || w.y == nil || x.arc || y.arc || w.uLow >= w.u && w.vLow >= w.v {
		return false
	}
	u, v := w.u, w.v
	w.u, w.v = math.Min(w.u, x.nearest(w.uLow, &y.to)), math.Min(w.v, y.nearest(w.vLow, &x.to))
	if w.u == u && w.v == v {
		return false
	}
	p, q := x.at(w.u), y.at(w.v)
	w.m.note(apart(&p, &q), x, y)
	return true
}

// strides are the ways to go on, the best first: the piece that ends first to
// its end, the other to where it is nearest to that; or both to their ends.
func (w *walk) strides(x, y *step) [3]stride {
	both := stride{1, 1, apart(&x.to, &y.to)}
	none := stride{d: math.Inf(1)}
	if w.x == nil || w.y == nil {
		return [3]stride{both, none, none}
	}
	if w.rapid && (w.m.bends(x) || w.m.bends(y)) {
		return w.rapidStrides(x, y, both)
	}
	if both.d <= w.m.proof.Deviation && 4*both.d <= math.Min(x.length*(1-w.u), y.length*(1-w.v)) {
		return [3]stride{both, none, none} // nothing closer could be of use
	}
	v, u := y.nearest(w.v, &x.to), x.nearest(w.u, &y.to)
	if u == 1 && v == 1 {
		return [3]stride{both, none, none}
	}
	p, q := y.at(v), x.at(u)
	first, second := stride{1, v, apart(&x.to, &p)}, stride{u, 1, apart(&y.to, &q)}
	if v == 1 || u < 1 && second.d < first.d {
		first, second = second, first
	}
	return [3]stride{first, second, both}
}

// rapidStrides are those of a traverse that moves several axes. How they go
// there is the control's own affair, each as fast as it can perhaps, so both
// programs must say the same move; what is too short to matter may be left out.
func (w *walk) rapidStrides(x, y *step, both stride) [3]stride {
	none := stride{d: math.Inf(1)}
	first, second := none, none
	if x.length*(1-w.u) <= w.m.tol {
		p := y.at(w.v)
		first = stride{1, w.v, apart(&x.to, &p)}
	}
	if y.length*(1-w.v) <= w.m.tol {
		p := x.at(w.u)
		second = stride{w.u, 1, apart(&y.to, &p)}
	}
	if w.u != 0 || w.v != 0 {
		both = none
	}
	return [3]stride{both, first, second}
}

// bends says whether a traverse moves more than one axis by more than the
// tolerance.
func (m *matcher) bends(s *step) bool {
	n := 0
	for i := range s.from {
		if math.Abs(s.to[i]-s.from[i]) > m.tol {
			n++
		}
	}
	return n > 1
}

// take makes the stride.
func (w *walk) take(x, y *step, s stride) *Difference {
	if w.x != nil && w.y != nil && !w.rapid {
		if w.m.unlike(x, y, math.Max(x.length*(s.u-w.u), y.length*(s.v-w.v))) {
			return w.m.differ(x, y, "the feed is "+w.m.rateText(&x.feed)+" in the program and "+w.m.rateText(&y.feed)+" in the output")
		}
	}
	w.m.note(s.d, x, y)
	w.wait(x, y, s)
	xEnds, yEnds := w.x != nil && s.u == 1, w.y != nil && s.v == 1
	w.u, w.v = s.u, s.v
	// The steps may not be looked at behind next.
	xTo, xLine, yTo, yLine := x.to, x.line, y.to, y.line
	if xEnds {
		if w.x, w.u = w.onward(&w.m.a); w.x == nil && w.y != nil {
			w.stay(xTo, xLine)
		}
	}
	if yEnds {
		if w.y, w.v = w.onward(&w.m.b); w.y == nil && w.x != nil {
			w.stay(yTo, yLine)
		}
	}
	return nil
}

// wait notes how early the point that has not come to the end of its piece
// could have stayed.
func (w *walk) wait(x, y *step, s stride) {
	switch {
	case s.u < 1:
		w.uLow, w.vLow = math.Min(s.u, math.Max(w.uLow, x.enters(&y.to, w.m.tol))), 0
	case s.v < 1:
		w.uLow, w.vLow = 0, math.Min(s.v, math.Max(w.vLow, y.enters(&x.to, w.m.tol)))
	default:
		w.uLow, w.vLow = 0, 0
	}
}

// stay keeps a point where its path has ended.
func (w *walk) stay(at interp.Point, line int) {
	w.end = step{kind: moveStep, line: line}
	w.end.from, w.end.to = at, at
}

// onward goes on to the next step of the path, if there is one. Moves of the
// other kind that rounding may have made nothing of do not part it.
func (w *walk) onward(s *side) (*step, float64) {
	s.next()
	w.m.passGears(s)
	next := s.peek(0)
	if next != nil && next.kind == stateStep && w.m.gearAlone(s, next.state) {
		s.takeState()
		next = s.peek(0)
	}
	if isPath(next) && !next.jump && next.rapid != w.rapid {
		if n := w.m.tiny(s); n > 0 && goesOn(s.peek(n), w.rapid) {
			for range n {
				s.next()
			}
			next = s.peek(0)
		}
	}
	if !goesOn(next, w.rapid) {
		return nil, 1
	}
	w.mask(next)
	return next, 0
}

// gearAlone says whether a state brings nothing but another gear, which may be
// missing in the output.
func (m *matcher) gearAlone(s *side, to *state) bool {
	now := s.now
	now.gear, now.ownGear = to.gear, to.ownGear
	return m.allowed.GearsLeft && now == *to && (s == &m.a || m.gearFits(to))
}

// unlike counts a length that was run at feeds that are not the same, and says
// whether that is more than where two pieces meet.
func (m *matcher) unlike(x, y *step, length float64) bool {
	slack := 2 * m.tol
	if !m.feedsDiffer(&x.feed, &y.feed) {
		if m.wrong > 0 {
			if m.right += length; m.right > slack {
				m.wrong = 0
			}
		}
		return false
	}
	m.wrong, m.right = m.wrong+length, 0
	return m.wrong > slack
}

// astray is where the points cannot go on together.
func (w *walk) astray(x, y *step, d float64) *Difference {
	m := w.m
	short, long, next := "program", "output", &m.a
	at, to := &x.to, &y.to
	switch {
	case w.x == nil:
	case w.y == nil:
		short, long, next = long, short, &m.b
		at, to = to, at
	default:
		return m.differ(x, y, "the paths part: "+m.places(at, to, w.known)+", "+m.length(d)+" away")
	}
	then := next.peek(0)
	if then != nil && then.kind == faultStep {
		return m.differ(x, then, then.text+" in the output")
	}
	axes := m.unlikeAxes(at, to, w.known)
	return m.differ(x, y, fmt.Sprintf("the path goes on in the %s to %s, %s away; in the %s it ends at %s, and then it %s",
		long, m.place(to, axes), m.length(d), short, m.place(at, axes), m.doesNext(next, then)))
}
