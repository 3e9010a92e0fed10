package motion

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize/convex/lp"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// Here the planner is judged by what the axes could do at best. With b for the
// squared speed at places along the path, the limits of the axes are lines in the
// b of neighbours, and the time is convex in b (Verscheure et al., 2009; from
// memory). So a plan's distance from the best is bounded by a linear program: over
// all b within the limits the time is at least
//
//	T(plan) + grad T(plan) * (b - plan)
//
// and lp.Simplex, which knows nothing of all this, finds the least of that.

// A sample is a piece of a path between two places, as its axes feel it half way:
// an axis is accelerated by s*b'/2 + c*b.
type sample struct {
	h    float64
	s, c [2]float64
}

// A course is a path in the XY plane from rest to rest.
type course struct {
	name    string
	machine *profiles.Machine
	ops     []interp.Op
}

// limitsOf are the axes' greatest speeds and accelerations.
func (c *course) limitsOf() (speed, accel [2]float64) {
	for i := range 2 {
		speed[i], accel[i] = float64(c.machine.Axis(i).Feed), float64(c.machine.Axis(i).Acceleration)
	}
	return speed, accel
}

// tangent is that of an operation at a share of its length, and the curvature
// vector there.
func tangent(op *interp.Op, at float64) (t, n [2]float64) {
	if op.Kind == interp.Feed {
		l := math.Hypot(op.To[0]-op.From[0], op.To[1]-op.From[1])
		return [2]float64{(op.To[0] - op.From[0]) / l, (op.To[1] - op.From[1]) / l}, n
	}
	turn := op.Sweep * at
	side := 1.0
	if op.CW {
		turn, side = -turn, -1
	}
	angle := math.Atan2(op.From[1]-op.Center[1], op.From[0]-op.Center[0]) + turn
	sin, cos := math.Sincos(angle)
	return [2]float64{-side * sin, side * cos}, [2]float64{-cos / op.Radius, -sin / op.Radius}
}

func lengthOf(op *interp.Op) float64 {
	if op.Kind == interp.Arc {
		return op.Radius * op.Sweep
	}
	return math.Hypot(op.To[0]-op.From[0], op.To[1]-op.From[1])
}

// cornerCap is the squared speed in the corner between two operations: that on the
// arc inscribed within the tolerance, which touches no more than half of each, with
// the lower acceleration of the axes that change their share (facts of the trade:
// plane geometry, v^2/r).
func cornerCap(c *course, a, b *interp.Op) float64 {
	ta, _ := tangent(a, 1)
	tb, _ := tangent(b, 0)
	phi := math.Acos(math.Max(-1, math.Min(1, ta[0]*tb[0]+ta[1]*tb[1])))
	if phi < 0.001 {
		return math.Inf(1)
	}
	e := float64(c.machine.Control.CornerTolerance)
	r := e * math.Cos(phi/2) / (1 - math.Cos(phi/2))
	r = math.Min(r, math.Min(lengthOf(a), lengthOf(b))/2/math.Tan(phi/2))
	_, accel := c.limitsOf()
	least := math.Inf(1)
	for i := range 2 {
		if math.Abs(ta[i]-tb[i]) > 1e-6 {
			least = math.Min(least, accel[i])
		}
	}
	return least * r
}

// grid cuts the course at places given for each operation, shares from 0 to 1.
func (c *course) grid(places [][]float64) (pieces []sample, caps []float64) {
	speed, accel := c.limitsOf()
	at := func(op *interp.Op, u float64) float64 {
		t, n := tangent(op, u)
		most := op.Feed * op.Feed
		for i := range 2 {
			if s := math.Abs(t[i]); s > 0 {
				most = math.Min(most, speed[i]*speed[i]/(s*s))
			}
			if s := math.Abs(n[i]); s > 0 {
				most = math.Min(most, accel[i]/s)
			}
		}
		return most
	}
	caps = []float64{0}
	for k := range c.ops {
		op := &c.ops[k]
		u := places[k]
		if k > 0 {
			caps[len(caps)-1] = math.Min(math.Min(caps[len(caps)-1], at(op, 0)), cornerCap(c, &c.ops[k-1], op))
		}
		for i := 1; i < len(u); i++ {
			s := sample{h: lengthOf(op) * (u[i] - u[i-1])}
			s.s, s.c = tangent(op, (u[i]+u[i-1])/2)
			pieces = append(pieces, s)
			caps = append(caps, at(op, u[i]))
		}
	}
	caps[len(caps)-1] = 0
	return pieces, caps
}

// A row is alpha*b[k] + beta*b[k+1] <= gamma.
type row struct {
	k                  int
	alpha, beta, gamma float64
}

// rows are the limits of acceleration, at half way, where b is the mean.
func rows(pieces []sample, accel [2]float64) []row {
	var all []row
	for k, p := range pieces {
		for i := range 2 {
			q, w := p.s[i]/(2*p.h), p.c[i]/2
			if q == 0 && w == 0 {
				continue
			}
			all = append(all, row{k, w - q, w + q, accel[i]}, row{k, q - w, -q - w, accel[i]})
		}
	}
	return all
}

// best is the greatest b from rest to rest: what is not too fast to slow down in
// time, then what can be reached.
func best(all []row, caps []float64) []float64 {
	b := append([]float64(nil), caps...)
	for _, r := range all {
		if r.alpha > 0 && r.beta > 0 { // an axis turns back
			b[r.k] = math.Min(b[r.k], r.gamma/(r.alpha+r.beta))
			b[r.k+1] = math.Min(b[r.k+1], r.gamma/(r.alpha+r.beta))
		}
	}
	for i := len(all) - 1; i >= 0; i-- {
		if r := all[i]; r.alpha > 0 && r.beta <= 0 {
			b[r.k] = math.Min(b[r.k], (r.gamma-r.beta*b[r.k+1])/r.alpha)
		}
	}
	for _, r := range all {
		if r.beta > 0 && r.alpha <= 0 {
			b[r.k+1] = math.Min(b[r.k+1], (r.gamma-r.alpha*b[r.k])/r.beta)
		}
	}
	return b
}

func timeOf(pieces []sample, b []float64) float64 {
	sum := 0.0
	for k, p := range pieces {
		sum += 2 * p.h / (math.Sqrt(b[k]) + math.Sqrt(b[k+1]))
	}
	return sum
}

// gap is how much faster than b the best on this grid can be, by linear
// programming. The dual program has a row for each place, which keeps it small;
// its start is the one where each place is held by its cap alone.
func gap(t *testing.T, pieces []sample, caps []float64, all []row, b []float64) float64 {
	n := len(caps) - 2 // both ends are at rest
	weight := make([]float64, n)
	for k, p := range pieces {
		x, y := math.Sqrt(b[k]), math.Sqrt(b[k+1])
		for _, end := range [2]struct {
			at   int
			root float64
		}{{k, x}, {k + 1, y}} {
			if i := end.at - 1; i >= 0 && i < n {
				weight[i] += p.h / ((x + y) * (x + y)) * end.root // times b: in shares of it
			}
		}
	}
	columns := len(all) + 2*n
	a := mat.NewDense(n, columns, nil)
	cost := make([]float64, columns)
	for j, r := range all {
		for _, end := range [2]struct {
			at    int
			share float64
		}{{r.k, r.alpha}, {r.k + 1, r.beta}} {
			if i := end.at - 1; i >= 0 && i < n {
				a.Set(i, j, end.share*b[end.at]/r.gamma)
			}
		}
		cost[j] = 1
	}
	basic := make([]int, n)
	sum := 0.0
	for i := range n {
		a.Set(i, len(all)+i, 1)
		cost[len(all)+i] = caps[i+1] / b[i+1]
		a.Set(i, len(all)+n+i, -1)
		basic[i] = len(all) + i
		sum += weight[i]
	}
	most, _, err := lp.Simplex(cost, a, weight, 1e-10, basic)
	if err != nil {
		t.Fatal(err)
	}
	return most - sum
}

// feasible says whether b keeps all limits.
func feasible(all []row, caps, b []float64) error {
	for i := range b {
		if b[i] > caps[i]*(1+1e-12) {
			return fmt.Errorf("b[%d] = %g is over %g", i, b[i], caps[i])
		}
	}
	for _, r := range all {
		if got := r.alpha*b[r.k] + r.beta*b[r.k+1]; got > r.gamma*(1+1e-9) {
			return fmt.Errorf("at %d: %g of %g", r.k, got, r.gamma)
		}
	}
	return nil
}

// evenly cuts operations into pieces of at most the length, and arcs of at most
// two degrees.
func (c *course) evenly(longest float64) [][]float64 {
	places := make([][]float64, len(c.ops))
	for k := range c.ops {
		op := &c.ops[k]
		n := int(math.Ceil(lengthOf(op) / longest))
		if op.Kind == interp.Arc {
			n = max(n, int(math.Ceil(op.Sweep/(2*deg)*math.Min(1, 0.2/longest))))
		}
		for i := range n + 1 {
			places[k] = append(places[k], float64(i)/float64(n))
		}
	}
	return places
}

// thin leaves of fine places those between which b, in shares of itself, goes
// nearly straight, and ends of operations.
func thin(places [][]float64, b []float64, ops []interp.Op, within float64) [][]float64 {
	out := make([][]float64, len(places))
	first := 0
	for k, u := range places {
		out[k] = []float64{u[0]}
		from := 0
		for i := 2; i < len(u); i++ {
			if straight(u, b[first:], from, i, within) && !(ops[k].Kind == interp.Arc && (u[i]-u[from])*ops[k].Sweep > 6*deg) {
				continue
			}
			from = i - 1
			out[k] = append(out[k], u[from])
		}
		out[k] = append(out[k], u[len(u)-1])
		first += len(u) - 1
	}
	return out
}

func straight(u, b []float64, from, to int, within float64) bool {
	for i := from + 1; i < to; i++ {
		w := (u[i] - u[from]) / (u[to] - u[from])
		if math.Abs(b[from]*(1-w)+b[to]*w-b[i]) > within*b[i] {
			return false
		}
	}
	return true
}

func TestBestOfAll(t *testing.T) {
	worst, fastest, cases := 0.0, math.Inf(1), 0
	for _, c := range courses() {
		t.Run(c.name, func(t *testing.T) {
			_, accel := c.limitsOf()
			fine := c.evenly(0.01)
			pieces, caps := c.grid(fine)
			b := best(rows(pieces, accel), caps)
			ideal := timeOf(pieces, b)

			coarse := thin(fine, b, c.ops, 0.01)
			pieces, caps = c.grid(coarse)
			all := rows(pieces, accel)
			b = best(all, caps)
			if err := feasible(all, caps, b); err != nil {
				t.Fatal(err)
			}
			plan := timeOf(pieces, b)
			optimum := plan - gap(t, pieces, caps, all, b)
			grid := math.Abs(plan - ideal)

			got, _ := run(c.machine, c.ops)
			t.Logf("%3d places: planner %.6f s, linear program %.6f (%+.3f %%), its grid %.3f %%", len(caps), got.Total, optimum,
				100*(got.Total/optimum-1), 100*grid/optimum)
			if got.Total > optimum*1.005+grid {
				t.Errorf("%.3f %% slower than the best", 100*(got.Total/optimum-1))
			}
			if got.Total < optimum-grid-5e-4*optimum {
				t.Errorf("%.3f %% faster than the best", 100*(1-got.Total/optimum))
			}
			worst, fastest, cases = math.Max(worst, got.Total/ideal-1), math.Min(fastest, got.Total/ideal-1), cases+1
		})
	}
	t.Logf("%d paths: %+.3f %% to %+.3f %% of the best on a fine grid", cases, 100*fastest, 100*worst)
}

// courses are drawn from a fixed seed.
func courses() []course {
	r := rand.New(rand.NewPCG(1, 2))
	between := func(a, b float64) float64 { return a + (b-a)*r.Float64() }
	var all []course
	kinds := []struct {
		name string
		path func(feed float64) []interp.Op
	}{
		{"zigzag", func(feed float64) []interp.Op {
			points := []interp.Point{{}}
			side := 1.0
			for k := range 5 {
				points = append(points, interp.Point{float64(k+1) * between(0.5, 6), side * between(2, 20)})
				side = -side
			}
			return polyline(feed, points...)
		}},
		{"spiral", func(feed float64) []interp.Op {
			var ops []interp.Op
			at, radius := interp.Point{between(1, 4)}, 0.0
			radius = at[0]
			sign := 1.0
			for range 3 {
				center := interp.Point{at[0] - sign*radius, at[1]}
				op := arcFrom(at, center, false, math.Pi, 0, feed)
				ops = append(ops, op)
				at, sign = op.To, -sign
				radius *= between(1.1, 1.6)
			}
			return ops
		}},
		{"pocket", func(feed float64) []interp.Op {
			w, h, radius := between(2, 20), between(2, 20), between(0.5, 4)
			var ops []interp.Op
			at, angle := interp.Point{}, 0.0
			for k := range 3 {
				length := w
				if k%2 == 1 {
					length = h
				}
				sin, cos := math.Sincos(angle)
				to := interp.Point{at[0] + length*cos, at[1] + length*sin}
				ops = append(ops, feedTo(at, to, feed))
				op := arcFrom(to, interp.Point{to[0] - radius*sin, to[1] + radius*cos}, false, math.Pi/2, 0, feed)
				ops = append(ops, op)
				at, angle = op.To, angle+math.Pi/2
			}
			return ops
		}},
		{"arcs and lines", func(feed float64) []interp.Op {
			var ops []interp.Op
			at := interp.Point{}
			for range 3 {
				to := interp.Point{at[0] + between(-15, 15), at[1] + between(-15, 15)}
				ops = append(ops, feedTo(at, to, feed))
				sin, cos := math.Sincos(between(0, 2*math.Pi))
				radius := between(0.5, 8)
				op := arcFrom(to, interp.Point{to[0] + radius*cos, to[1] + radius*sin}, r.IntN(2) == 0, between(0.3, 4), 0, feed)
				ops = append(ops, op)
				at = op.To
			}
			return ops
		}},
		{"chords", func(feed float64) []interp.Op {
			var points []interp.Point
			bend, n := between(0.5, 5), 24
			for k := range n {
				x := float64(k) * between(0.2, 0.8)
				points = append(points, interp.Point{x, bend * math.Sin(float64(k)*0.3)})
			}
			return polyline(feed, points...)
		}},
	}
	for i := range 9 {
		for _, kind := range kinds {
			feed := []float64{15, 40, 120}[i%3] * between(0.7, 1.3)
			m := mill(300, 300, between(200, 2000))
			if i >= 5 {
				m.Axes.X.Acceleration *= profiles.Acceleration(between(0.4, 1))
				m.Axes.Y.Feed = profiles.Speed(between(20, 120))
			}
			m.Control = control(100000, 0, between(0.01, 0.1))
			all = append(all, course{fmt.Sprintf("%s %d", kind.name, i+1), m, kind.path(feed)})
		}
	}
	return all
}
