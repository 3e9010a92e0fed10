package motion

import (
	"math"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
)

// Operations and machines by hand: the interpreter and the loader have tests of
// their own.

const allAxes = interp.XYZ | interp.A | interp.B | interp.C

var (
	continuous = &interp.State{Path: profiles.Continuous, Tool: -1}
	exactStop  = &interp.State{Path: profiles.ExactStop, Tool: -1}
	exactPath  = &interp.State{Path: profiles.ExactPath, Tool: -1}
	someBlock  = &parser.Block{Line: 1, Raw: []byte("G1 X1\n"), Words: []parser.Word{{Address: 'G', End: 2}, {Address: 'X', Pos: 3, End: 5}}}
)

// mill has three equal axes; mm/s, mm/s^2, 0 is not given.
func mill(rapid, feed, accel float64) *profiles.Machine {
	axis := func() *profiles.Axis {
		return &profiles.Axis{Rapid: profiles.Speed(rapid), Feed: profiles.Speed(feed), Acceleration: profiles.Acceleration(accel)}
	}
	return &profiles.Machine{Axes: profiles.AxisTable{X: axis(), Y: axis(), Z: axis()}}
}

func control(ahead int, block, tolerance float64) profiles.Control {
	return profiles.Control{
		LookAhead: ahead, BlockTime: profiles.Duration(block),
		Corner: "tolerance", CornerTolerance: profiles.Length(tolerance),
	}
}

func line(kind interp.OpKind, from, to interp.Point, feed float64) interp.Op {
	op := interp.Op{
		Kind: kind, Block: someBlock, From: from, To: to, FromKnown: allAxes, ToKnown: allAxes,
		Feed: feed, State: continuous,
	}
	for i := range from {
		if from[i] != to[i] {
			op.Moves |= 1 << i
		}
	}
	op.Length = math.Sqrt((to[0]-from[0])*(to[0]-from[0]) + (to[1]-from[1])*(to[1]-from[1]) + (to[2]-from[2])*(to[2]-from[2]))
	return op
}

func feedTo(from, to interp.Point, feed float64) interp.Op { return line(interp.Feed, from, to, feed) }

func traverse(from, to interp.Point) interp.Op { return line(interp.Traverse, from, to, 0) }

// arcFrom is an arc in the XY plane that rises along Z.
func arcFrom(from, center interp.Point, cw bool, sweep, rise, feed float64) interp.Op {
	x, y := from[0]-center[0], from[1]-center[1]
	turn := sweep
	if cw {
		turn = -sweep
	}
	sin, cos := math.Sincos(turn)
	to := from
	to[0] = center[0] + x*cos - y*sin
	to[1] = center[1] + x*sin + y*cos
	to[2] += rise
	radius := math.Hypot(x, y)
	op := interp.Op{
		Kind: interp.Arc, Block: someBlock, From: from, To: to, FromKnown: allAxes, ToKnown: allAxes,
		Moves: interp.X | interp.Y, Center: center, CW: cw, Turns: 1, Radius: radius, Sweep: sweep,
		Length: math.Hypot(radius*sweep, rise), Feed: feed, State: continuous,
	}
	if rise != 0 {
		op.Moves |= interp.Z
	}
	op.Center[2] = from[2]
	return op
}

// in gives the operations another state.
func in(s *interp.State, ops ...interp.Op) []interp.Op {
	for i := range ops {
		ops[i].State = s
	}
	return ops
}

// polyline feeds from point to point.
func polyline(feed float64, points ...interp.Point) []interp.Op {
	var ops []interp.Op
	for i := 1; i < len(points); i++ {
		ops = append(ops, feedTo(points[i-1], points[i], feed))
	}
	return ops
}

func run(m *profiles.Machine, ops []interp.Op) (Times, []Timed) {
	var all []Timed
	c := NewClock(m, func(t *Timed) { all = append(all, *t) })
	for i := range ops {
		c.Block(20)
		c.Op(&ops[i])
	}
	return c.Finish(), all
}

func near(got, want float64) bool {
	return math.Abs(got-want) <= 1e-9*math.Max(math.Abs(got), math.Abs(want))
}
