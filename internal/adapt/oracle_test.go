package adapt

import (
	"fmt"
	"math"
	"strings"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
)

// The oracle judges slowly, and by another way than Prove, whether two programs
// do the same: all operations are kept, arcs become chords, and the distance of
// two paths is the Fréchet distance of polygons, decided exactly (Alt and Godau,
// "Computing the Fréchet distance between two polygonal curves", 1995: from
// memory).

// An item is an event, or a path on which all that key says is in force.
type item struct {
	key    string
	path   []interp.Point
	closed bool // no move is added to it
}

// history is what a program does.
type history struct {
	items   []item
	refused bool // a block was not executed
	unclear bool
	oracle

	feeds bool // a change of feed begins a new path

	spindle, coolant, gear, overrides string
}

// An oracle says what is compared, and how finely.
type oracle struct {
	chord                float64 // mm that a chord may lie from its arc
	share                float64 // of a feed that rounding may have changed
	seen                 *[]float64
	stops, speeds, rates bool // are not compared
	changes              bool // what is on when a tool is changed is
}

// rate is a feed, or the one that was seen before and is as good as the same.
func (o *oracle) rate(v float64) float64 {
	for _, w := range *o.seen {
		if math.Abs(v-w) <= o.share*w {
			return w
		}
	}
	*o.seen = append(*o.seen, v)
	return v
}

func (o oracle) historyOf(m *profiles.Machine, program string, feeds bool) *history {
	h := &history{oracle: o, feeds: feeds, spindle: "off", coolant: "flood false mist false"}
	in := interp.New(m, interp.Options{MaxBlocks: 20000}, interp.Visitor{
		Exec: func(b *parser.Block) { h.exec(m, b) },
		Op:   h.op,
		Fault: func(f *interp.Fault) {
			switch f.Kind {
			case interp.NotUsed, interp.TooManyM, interp.CompEntryShort:
			case interp.ArcForm, interp.ArcQuadrant:
				h.refused = h.refused || f.Cause == interp.RefusedUnequal || f.Cause == interp.NoQuadrant
			case interp.CompUnknown, interp.NotInterpreted:
				h.unclear = true
			default:
				h.refused = true
			}
		},
	})
	if _, err := in.Run(strings.NewReader(program), int64(len(program))); err != nil {
		panic(err)
	}
	h.event("all is done %s", h.gear)
	return h
}

func (h *history) event(format string, args ...any) {
	h.items = append(h.items, item{key: fmt.Sprintf(format, args...), closed: true})
}

func (h *history) force() string {
	return h.spindle + h.coolant + h.gear + h.overrides
}

func (h *history) exec(m *profiles.Machine, b *parser.Block) {
	for _, w := range b.Words {
		if w.Address != 'M' {
			continue
		}
		switch n := int(math.Round(w.Value * 10)); m.M(n) {
		case profiles.Accepted:
			h.event("M%d %s", n, h.force())
		case profiles.SpindleOrient:
			h.event("orient %s", h.force())
		case profiles.OverridesOn: // as at the start
			h.overrides = ""
		case profiles.OverridesOff:
			h.overrides = m.M(n).String()
		}
	}
}

func (h *history) op(op *interp.Op) {
	s := op.State
	switch op.Kind {
	case interp.Spindle:
		h.spindle = "off"
		if h.speeds && s.Spindle != interp.SpindleOff {
			h.spindle = fmt.Sprint(s.Spindle)
		} else if s.Spindle != interp.SpindleOff {
			h.spindle = fmt.Sprintf("%d at %g, %g, %t", s.Spindle, s.Speed, s.Surface, s.SpeedSet)
		}
	case interp.Coolant:
		h.coolant = fmt.Sprintf("flood %t mist %t", s.Flood, s.Mist)
	case interp.Gear:
		h.gear = fmt.Sprint("gear ", s.Gear)
	case interp.Tool:
		if h.changes { // as the machine wants: what is on then counts
			h.event("tool %d %.3s %s", s.Tool, h.spindle, h.coolant)
		} else {
			h.event("tool %d", s.Tool)
		}
		if !op.Turret {
			h.spindle = "off"
		}
	case interp.Dwell:
		if op.Seconds > 0 {
			h.event("dwell %.3f %s", op.Seconds, h.force())
		}
	case interp.Stop:
		if op.StopKind == interp.End {
			h.event("end")
		} else if !h.stops {
			h.event("stop %d %s", op.StopKind, h.force())
		}
	case interp.Traverse, interp.Feed, interp.Arc:
		h.move(op)
	}
}

func (h *history) move(op *interp.Op) {
	s := op.State
	kind := "feed"
	if op.Kind == interp.Traverse {
		kind = "traverse"
	}
	key := fmt.Sprintf("%s %s G%d H%d %v %t %t", kind, h.force(), s.Offset, s.LengthH, s.Path, op.Synchron, s.Motion == profiles.Probe)
	if h.feeds && op.Kind != interp.Traverse {
		if s.FeedMode == profiles.FeedPerRevolution {
			key += fmt.Sprintf(" %.6g a revolution", h.rate(s.Feed)) // however fast the spindle turns
		} else {
			key += fmt.Sprintf(" %.6g", h.rate(op.Feed))
		}
	}
	if op.Home {
		if op.Moves&^(op.FromMachineKnown&op.ToMachineKnown) == 0 && op.FromMachine == op.ToMachine {
			return
		}
		h.items = append(h.items, item{key: fmt.Sprintf("home %s %d %d", key, op.Moves, op.ToMachineKnown&op.Moves), path: []interp.Point{only(&op.ToMachine, op.ToMachineKnown&op.Moves)}, closed: true})
		return
	}
	if known := op.FromKnown & op.ToKnown; op.Moves&^known != 0 {
		from, to := only(&op.From, op.FromKnown), only(&op.To, op.ToKnown)
		for i := range to {
			if op.Steps.Has(i) {
				to[i] = op.To[i] - op.From[i]
			}
		}
		h.items = append(h.items, item{key: fmt.Sprintf("open %s %d %d %d %d", key, op.Moves, op.FromKnown, op.ToKnown, op.Steps), path: []interp.Point{from, to}, closed: true})
		return
	}
	from, to := only(&op.From, op.FromKnown), only(&op.To, op.ToKnown)
	if op.Kind != interp.Arc && from == to {
		return
	}
	axes := 0
	for i := range from {
		d := math.Abs(from[i] - to[i])
		if d > 0 {
			axes++
		}
		if kind == "traverse" && d > 0 && d < 50*h.chord {
			h.unclear = true // whether it moves several axes
		}
	}
	key += fmt.Sprint(op.FromKnown)
	h.path(key, h.polygon(op, from, to), kind == "traverse" && axes > 1)
}

// polygon is a move as points.
func (h *history) polygon(op *interp.Op, from, to interp.Point) []interp.Point {
	points := []interp.Point{from}
	if op.Kind == interp.Arc {
		first, second, _ := op.Plane.Axes()
		n := math.Ceil(op.Sweep / (2 * math.Acos(math.Max(0.5, 1-h.chord/op.Radius))))
		x, y := from[first]-op.Center[first], from[second]-op.Center[second]
		// Where the radii at both ends are not the same, one goes over into the other.
		grow := math.Hypot(to[first]-op.Center[first], to[second]-op.Center[second])/math.Hypot(x, y) - 1
		for k := 1.0; k < n; k++ {
			turn := op.Sweep * k / n
			if op.CW {
				turn = -turn
			}
			sin, cos := math.Sincos(turn)
			var p interp.Point
			for i := range p {
				p[i] = from[i] + (to[i]-from[i])*k/n
			}
			r := 1 + grow*k/n
			p[first], p[second] = op.Center[first]+r*(x*cos-y*sin), op.Center[second]+r*(x*sin+y*cos)
			points = append(points, p)
		}
	}
	return append(points, to)
}

// path adds to the path before, if that goes on.
func (h *history) path(key string, points []interp.Point, alone bool) {
	if n := len(h.items); n > 0 && !alone && !h.items[n-1].closed && h.items[n-1].key == key {
		last := &h.items[n-1]
		if gap := apart(&last.path[len(last.path)-1], &points[0]); gap < 1e-7 {
			last.path = append(last.path, points[1:]...)
			return
		}
	}
	h.items = append(h.items, item{key: key, path: points, closed: alone})
}

type verdict int

const (
	alikeEnough verdict = iota
	unlikePrograms
	hardToSay
)

// judge compares a program and a mutant of it. Between what is surely alike and
// what is surely not there is a band about the tolerance where it does not say.
func judge(m *profiles.Machine, source, mutant string, tol float64) verdict {
	return oracle{chord: tol / 40, share: 1e-6, seen: new([]float64)}.judge(m, source, mutant, tol)
}

// judgeAllowed compares an output and a mutant of it by what remains to be
// compared after what was changed on purpose. Each of both may lie apart from
// the source by the tolerance.
func judgeAllowed(m *profiles.Machine, out, mutant string, al Allowed) verdict {
	o := oracle{share: 3 * al.Feed, seen: new([]float64), stops: al.StopsAdded, speeds: al.SpeedClamped, rates: al.FeedClamped,
		changes: al.Change && switchesOff(m)}
	o.chord = al.Path / 20
	return o.judge(m, out, mutant, 2*al.Path)
}

// switchesOff says whether the machine wants spindle and coolant off before a tool
// change.
func switchesOff(m *profiles.Machine) bool {
	text := strings.Join(m.Tools.ChangeSequence, " ")
	return strings.Contains(text, "M5") && strings.Contains(text, "M9")
}

func (o oracle) judge(m *profiles.Machine, source, mutant string, tol float64) verdict {
	a, b := o.historyOf(m, source, false), o.historyOf(m, mutant, false)
	switch {
	case b.refused:
		return unlikePrograms
	case a.unclear || b.unclear:
		return hardToSay
	}
	if v := a.against(b, 0.9*tol, 1.1*tol); v != alikeEnough || o.rates {
		return v
	}
	// Where the feed changes a little earlier or later nobody minds.
	return o.historyOf(m, source, true).against(o.historyOf(m, mutant, true), 0.9*tol, 2.5*tol)
}

func (h *history) against(other *history, low, high float64) verdict {
	// What is so short that rounding may make nothing of it has no order.
	for _, list := range [...][]item{h.items, other.items} {
		for _, it := range list {
			if it.path != nil && !strings.HasPrefix(it.key, "open") && !strings.HasPrefix(it.key, "home") && length(it.path) <= 4*high {
				return hardToSay
			}
		}
	}
	if len(h.items) != len(other.items) {
		return unlikePrograms
	}
	v := alikeEnough
	for i, a := range h.items {
		b := other.items[i]
		switch {
		case a.key != b.key, len(a.path) == 0 != (len(b.path) == 0):
			return unlikePrograms
		case len(a.path) == 0 || closeTo(a.path, b.path, low):
		case closeTo(a.path, b.path, high):
			v = hardToSay
		default:
			return unlikePrograms
		}
	}
	return v
}

func length(path []interp.Point) float64 {
	sum := 0.0
	for i := 1; i < len(path); i++ {
		sum += apart(&path[i-1], &path[i])
	}
	return sum
}

// interval is a part of a segment, from 0 to 1; empty where from is over to.
type interval struct{ from, to float64 }

var nothing = interval{1, 0}

func (i interval) empty() bool { return i.from > i.to }

// free is the part of a segment that lies within eps of a point, in X Y Z and
// in A B C.
func free(p, a, b *interp.Point, eps float64) interval {
	all := interval{0, 1}
	for k := 0; k < 6; k += 3 {
		// |a + t(b-a) - p| = eps
		var aa, ab, bb float64
		for i := k; i < k+3; i++ {
			d, e := b[i]-a[i], a[i]-p[i]
			aa, ab, bb = aa+d*d, ab+d*e, bb+e*e
		}
		if aa == 0 {
			if bb > eps*eps {
				return nothing
			}
			continue
		}
		root := ab*ab - aa*(bb-eps*eps)
		if root < 0 {
			return nothing
		}
		root = math.Sqrt(root)
		all.from, all.to = math.Max(all.from, (-ab-root)/aa), math.Min(all.to, (-ab+root)/aa)
	}
	if all.empty() {
		return nothing
	}
	return all
}

// closeTo says whether the Fréchet distance of two polygons is at most eps.
func closeTo(p, q []interp.Point, eps float64) bool {
	if apart(&p[0], &q[0]) > eps || apart(&p[len(p)-1], &q[len(q)-1]) > eps {
		return false
	}
	if len(p) == 1 {
		p = []interp.Point{p[0], p[0]}
	}
	if len(q) == 1 {
		q = []interp.Point{q[0], q[0]}
	}
	n, m := len(p)-1, len(q)-1
	// below[i]: what can be reached of segment i of p beside point j of q; left:
	// of segment j of q beside point i of p.
	below := make([]interval, n)
	for i := range below {
		below[i] = nothing
		if i == 0 || below[i-1].to == 1 && !below[i-1].empty() {
			if f := free(&q[0], &p[i], &p[i+1], eps); f.from == 0 {
				below[i] = f
			}
		}
	}
	started := true // the left side can be reached from the beginning
	for j := range m {
		left := nothing
		if started {
			if f := free(&p[0], &q[j], &q[j+1], eps); f.from == 0 {
				left = f
			}
			started = !left.empty() && left.to == 1
		}
		for i := range n {
			if left.empty() && below[i].empty() {
				continue
			}
			right := free(&p[i+1], &q[j], &q[j+1], eps)
			above := free(&q[j+1], &p[i], &p[i+1], eps)
			if below[i].empty() { // to the right only behind where the left side is entered
				right.from = math.Max(right.from, left.from)
			}
			if left.empty() {
				above.from = math.Max(above.from, below[i].from)
			}
			if right.empty() {
				right = nothing
			}
			if above.empty() {
				above = nothing
			}
			left, below[i] = right, above
		}
		if j == m-1 {
			return !left.empty() && left.to == 1 || !below[n-1].empty() && below[n-1].to == 1
		}
	}
	return false
}
