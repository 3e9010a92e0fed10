package adapt

import (
	"math"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
)

// thin joins runs of short straight feed moves into longer ones, and puts arcs
// through them, within the tolerance. Corners and reversals stay: a run ends
// there. Moves are held until the run ends, at most longestRun of them, so
// memory does not grow with the program.
type thin struct {
	on    bool
	tol   float64 // mm
	at    []interp.Point
	line  []int // of the source, of the move to the point
	label [][]byte
	feed  float64 // of all of them, mm/s
	moves interp.AxisSet
	begin interp.State // of the source at the first
}

const (
	longestRun  = 4096
	longestSpan = 512 // moves that become one
	cornerCos   = 0.9 // of the deflection, about 25 degrees, from which on a point is a corner
)

// holds takes the block into the run where it is a plain straight feed move.
func (a *adapter) holds(b *parser.Block) bool {
	t := &a.thin
	if !t.on || a.change.busy() || a.own.busy() || len(a.ops) != 1 || b.Delete != 0 || len(b.Comments)+len(b.Settings)+len(b.Faults) > 0 || b.Flow != nil || a.unused|a.unknown != 0 {
		return false
	}
	op := &a.ops[0]
	s := a.state
	if op.Kind != interp.Feed || op.late || op.InCycle || op.Synchron || op.Lead > 0 || op.Home || op.PerRev > 0 || op.Feed <= 0 ||
		op.Moves&^interp.XYZ != 0 || op.FromKnown&op.ToKnown&interp.XYZ != interp.XYZ || a.before.Comp != profiles.CompOff || s.Comp != profiles.CompOff ||
		s.FeedMode == profiles.FeedInverseTime || s.Motion != profiles.FeedMove || a.pending != interp.SpindleUnknown {
		return false
	}
	for i := range b.Words {
		switch w := &b.Words[i]; w.Address {
		case 'X', 'Y', 'Z', 'U', 'V', 'W', 'F':
		case 'N':
			if !a.unroll && a.seen.leadsTo(w) {
				return false
			}
		case 'G':
			if meaningG(a.from, w) != profiles.FeedMove {
				return false
			}
		default:
			return false
		}
	}
	feed := a.clampedFeed(op)
	if len(t.at) > 0 && (!sameRate(feed, t.feed) || len(t.at) > longestRun || t.corner(&op.To)) {
		a.release()
	}
	if len(t.at) == 0 {
		t.at = append(t.at, op.From)
		t.feed, t.begin, t.moves = feed, *s, 0
	}
	a.label(b)
	n := len(t.at) - 1
	if n == len(t.label) {
		t.label = append(t.label, nil)
	}
	t.label[n] = append(t.label[n][:0], a.w.label...)
	a.w.label = a.w.label[:0]
	t.at, t.line = append(t.at, op.To), append(t.line, b.Line)
	t.moves |= op.Moves
	return true
}

// corner says whether a move on from the last point would leave it as a corner.
func (t *thin) corner(to *interp.Point) bool {
	n := len(t.at)
	if n < 2 {
		return false
	}
	u, v := span(&t.at[n-2], &t.at[n-1]), span(&t.at[n-1], to)
	lu, lv := norm(u), norm(v)
	return lu > 0 && lv > 0 && dot(u, v) < cornerCos*lu*lv
}

// release writes the run.
func (a *adapter) release() {
	t := &a.thin
	if len(t.at) == 0 {
		return
	}
	now, line := a.state, a.line
	a.state = &t.begin
	a.ready()
	for i := 0; i < len(t.at)-1; {
		j := t.straight(i)
		op := a.segment(i, j)
		if arc, k := t.arc(i, a.to); k >= j+2 {
			arc.Feed, arc.Moves = t.feed, op.Moves
			op, j = arc, k
		}
		op.line, a.line = t.line[i], t.line[i]
		if j > i+1 {
			a.did(Thin)
		}
		a.words.motion, a.w.said = profiles.Refused, false
		a.w.label = append(a.w.label[:0], t.label[i]...)
		a.operation(&op, 0)
		a.w.flush()
		i = j
	}
	a.w.label = a.w.label[:0]
	a.state, a.line = now, line
	t.at, t.line = t.at[:0], t.line[:0]
}

// segment is the straight move from point i to point j.
func (a *adapter) segment(i, j int) done {
	t := &a.thin
	op := done{}
	op.Kind, op.Feed, op.Moves = interp.Feed, t.feed, t.moves
	op.From, op.To = t.at[i], t.at[j]
	op.FromKnown, op.ToKnown = interp.XYZ, interp.XYZ
	op.Length = norm(span(&op.From, &op.To))
	return op
}

// furthest is the greatest j, up to longestSpan moves from i on, for which ok
// holds as far as doubling and halving the distance finds it; i+1 holds.
func (t *thin) furthest(i int, ok func(j int) bool) int {
	last := min(len(t.at)-1, i+longestSpan)
	good, step := i+1, 1
	for good+step <= last && ok(good+step) {
		good += step
		step *= 2
	}
	for ; step > 0; step /= 2 {
		if good+step <= last && ok(good+step) {
			good += step
		}
	}
	return good
}

// straight is how far one straight move from point i may go: all points lie
// within the tolerance of it, in its direction.
func (t *thin) straight(i int) int {
	return t.furthest(i, func(j int) bool {
		from, to := &t.at[i], &t.at[j]
		d := span(from, to)
		length := norm(d)
		if length == 0 {
			return false
		}
		gone := 0.0
		for k := i + 1; k < j; k++ {
			p := span(from, &t.at[k])
			along := dot(p, d) / length
			if along < gone || along > length {
				return false
			}
			gone = along
			if off := dot(p, p) - along*along; off > t.tol*t.tol {
				return false
			}
		}
		return true
	})
}

// arc is how far one arc from point i may go, at most half a turn in a plane in
// which the machine makes arcs; k is i where there is none.
func (t *thin) arc(i int, m *profiles.Machine) (best done, k int) {
	k = i
	if len(t.at)-i < 4 {
		return best, k
	}
	plane := t.begin.Plane
	_, _, normal := plane.Axes()
	if math.Abs(t.at[i+1][normal]-t.at[i][normal]) > 1e-9 || math.Abs(t.at[i+2][normal]-t.at[i][normal]) > 1e-9 {
		return best, k
	}
	j := t.furthest(i+2, func(j int) bool {
		op, ok := t.through(i, j, plane)
		if ok {
			best, k = op, j
		}
		return ok
	})
	if k != j { // the last that was tried did not hold
		if op, ok := t.through(i, j, plane); ok {
			return op, j
		}
		return best, i
	}
	return best, k
}

// through is the arc through the points i and j and one half way between, if all
// that lie between are within the tolerance of it, and it of the moves.
func (t *thin) through(i, j int, plane interp.Plane) (done, bool) {
	first, second, normal := plane.Axes()
	flat := func(n int) vec { return vec{t.at[n][first], t.at[n][second]} }
	from, mid, to := flat(i), flat((i+j)/2), flat(j)
	c, ok := circumcentre(from, mid, to)
	r := from.minus(c).length()
	if !ok || r > 1e4 {
		return done{}, false
	}
	cw := cross(mid.minus(from), to.minus(from)) < 0
	gone := 0.0
	for n := i + 1; n <= j; n++ {
		p := flat(n)
		if math.Abs(t.at[n][normal]-t.at[i][normal]) > 1e-9 || math.Abs(p.minus(c).length()-r) > t.tol {
			return done{}, false
		}
		step := turn(flat(n-1), p, c, cw)
		// Between its ends the arc lies outside the chord.
		if gone += step; gone > math.Pi || step > 1 || r*(1-math.Cos(step/2)) > t.tol {
			return done{}, false
		}
	}
	op := done{}
	op.Kind, op.Plane, op.CW, op.Turns, op.Radius = interp.Arc, plane, cw, 1, r
	op.From, op.To, op.Center = t.at[i], t.at[j], t.at[i]
	op.Center[first], op.Center[second] = c[0], c[1]
	op.FromKnown, op.ToKnown = interp.XYZ, interp.XYZ
	op.Sweep = turn(from, to, c, cw)
	op.Length = r * op.Sweep
	return op, true
}

// circumcentre is the centre of the circle through three places; ok is false
// where they lie on a line.
func circumcentre(a, b, c vec) (vec, bool) {
	u, v := b.minus(a), c.minus(a)
	d := 2 * cross(u, v)
	if math.Abs(d) <= 1e-9*u.length()*v.length() { // two of them may be one place
		return vec{}, false
	}
	uu, vv := u[0]*u[0]+u[1]*u[1], v[0]*v[0]+v[1]*v[1]
	return vec{a[0] + (v[1]*uu-u[1]*vv)/d, a[1] + (u[0]*vv-v[0]*uu)/d}, true
}

func cross(u, v vec) float64 { return u[0]*v[1] - u[1]*v[0] }

// span is the way from one place to another along X Y Z.
func span(from, to *interp.Point) (d [3]float64) {
	for i := range d {
		d[i] = to[i] - from[i]
	}
	return d
}

func dot(u, v [3]float64) float64 { return u[0]*v[0] + u[1]*v[1] + u[2]*v[2] }

func norm(u [3]float64) float64 { return math.Sqrt(dot(u, u)) }
