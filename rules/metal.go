package rules

import (
	"fmt"
	"math"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// metals belong to the travels.
func metals() []*Rule {
	const head = "%\nG20 G18 G40 G80 G90 G95\nT0303\nM41\nG97 S500 M3\nG0 X2.1 Z-1.\n"
	return []*Rule{{
		Name: "rapid-into-metal", Family: "travel", Level: Warning,
		Summary: "a traverse of a turning tool to where the program's own cuts show metal",
		Doc: `A tool that was fed straight in stands in a slot of its own width: a traverse towards the chuck goes into the wall, and one further in goes into what is left of the bar. So does one along a diameter that the program has just turned, from a place below it. Most often G1 is forgotten, X was not sent out first, or the sign of U is wrong.

Told of are a traverse towards Z minus from the bottom of a plunge, where nothing was cut before; one on in the direction of the plunge, behind the face; and one along what was turned, from a feed inwards, with a tool whose nose points outwards in the profile (nose_direction 3, 4 or 8). What was in the bar before the program began, a bore or a groove, tapefit does not see.`,
		Uses: []string{"tools.loaded"},
		Example: Example{"slant-lathe",
			head + "G1 X1.5 F.004\nG0 Z-2.\nX5.\nZ2.\nM5\nM30\n%\n",
			head + "G1 X1.5 F.004\nG0 X2.1\nZ-2.\nX5. Z2.\nM5\nM30\n%\n"},
		New: newMetal,
	}}
}

// metal keeps what the program has cut, and how the tool came to where it is.
type metal struct {
	cuts []cutAlong
	more bool // there were more than mostCuts: nothing is judged

	plunged bool    // the last move was the end of a plunge that began behind a traverse
	inwards bool    // the last move was fed inwards from what was turned
	entry   float64 // radius at which the plunge or the feed inwards began, mm
	fed     bool    // the last move was a feed
}

// A cutAlong is one feed move: where it lay along Z, and how near it came to the
// centre line, mm.
type cutAlong struct{ low, high, near float64 }

// mostCuts bounds what is kept of a program.
const mostCuts = 500

const (
	wall  = 1   // mm: less is clearance from a wall, or the slack of a tool in its slot
	below = 0.1 // mm: less is a relief
)

func newMetal(m *profiles.Machine, _ *Options) Checker {
	if m.Kind != "lathe" {
		return Checker{}
	}
	t := &metal{}
	return Checker{State: []any{t}, Op: t.op, Ops: Of(interp.Traverse, interp.Feed, interp.Arc, interp.Tool)}
}

func (t *metal) op(p *Pass, op *interp.Op) {
	const plane = interp.X | interp.Z
	switch {
	case t.more:
		return
	case op.Kind == interp.Tool || op.InCycle || op.Home || op.FromKnown&op.ToKnown&plane != plane:
		t.plunged, t.inwards, t.fed = false, false, false
	case op.Kind == interp.Traverse:
		t.traverse(p, op)
		t.plunged, t.inwards, t.fed = false, false, false
	default:
		t.feed(op)
	}
	if op.Kind == interp.Feed || op.Kind == interp.Arc {
		t.keep(op)
	}
}

// keep takes in a cut. Where it lies is not known of one that is not placed: then
// nothing more is judged.
func (t *metal) keep(op *interp.Op) {
	if (op.FromKnown&op.ToKnown)&(interp.X|interp.Z) != interp.X|interp.Z || len(t.cuts) == mostCuts {
		t.more, t.cuts = true, nil
		return
	}
	a, b := op.From[2], op.To[2]
	t.cuts = append(t.cuts, cutAlong{math.Min(a, b), math.Max(a, b), math.Min(math.Abs(op.From[0]), math.Abs(op.To[0]))})
}

// feed follows how the tool is fed in.
func (t *metal) feed(op *interp.Op) {
	in, along := op.From[0]-op.To[0], op.To[2]-op.From[2]
	straight := op.Kind == interp.Feed && op.Lead == 0 && op.From[0] > 0 && in > below
	t.plunged = straight && math.Abs(along) < slack && (t.plunged || !t.fed)
	t.inwards = straight && !t.plunged && in > wall
	if straight && !t.fed || t.inwards {
		t.entry = op.From[0]
	}
	t.fed = true
}

func (t *metal) traverse(p *Pass, op *interp.Op) {
	r, to, z, along := op.From[0], op.To[0], op.From[2], op.To[2]-op.From[2]
	stays := to <= r+slack // it does not come out
	switch {
	case t.plunged && stays && along < -wall && z < -wall && !t.open(op.To[2], z-wall, r, 0):
		t.say(p, op, 0, fmt.Sprintf("a traverse to Z %s from the bottom of a plunge at %s, Z %s: nothing was cut there before", p.length(op.To[2]), p.across(r), p.length(z)),
			"Go out along X first, in front of where it was fed in.")
	case t.plunged && math.Abs(along) < slack && to < r-wall && z < -wall && !t.open(z-slack, z+slack, to, 0):
		t.say(p, op, 1, fmt.Sprintf("a traverse on into the bar, from %s, where it was fed to, to %s at Z %s: nothing was cut there before", p.across(r), p.across(to), p.length(z)),
			"Make it a feed move, or check where the feed before it ends.")
	case t.inwards && stays && along > wall && z < -wall && pointsIn(p.Machine, op.State.Tool) && t.turned(z+wall, op.To[2]-wall, r) && !t.open(z+wall, op.To[2]-wall, r, wall):
		t.say(p, op, 2, fmt.Sprintf("a traverse to Z %s at %s, below what was turned there, to %s", p.length(op.To[2]), p.across(r), p.across(t.entry)),
			"Check the sign of the move before it: a turning tool goes out, by U plus, before it goes back.")
	}
}

// open says whether something was cut between two places along Z as near to the
// centre line as r, by a cut that is at least so long along Z.
func (t *metal) open(low, high, r, least float64) bool {
	for i := range t.cuts {
		if c := &t.cuts[i]; c.low <= high && c.high >= low && c.near <= r+below && c.high-c.low >= least {
			return true
		}
	}
	return false
}

// turned says whether something was turned between two places along Z, to further
// from the centre line than r.
func (t *metal) turned(low, high, r float64) bool {
	for i := range t.cuts {
		if c := &t.cuts[i]; c.low < low && c.high > low+wall && c.low < high && c.near > r+wall {
			return true
		}
	}
	return false
}

// pointsIn says whether the nose of a tool points to the centre line in the profile: it
// turns what is outside.
func pointsIn(m *profiles.Machine, tool int) bool {
	for i := range m.Tools.Loaded {
		if t := &m.Tools.Loaded[i]; t.Number == tool {
			return t.NoseDirection == 3 || t.NoseDirection == 4 || t.NoseDirection == 8
		}
	}
	return false
}

// across tells a radius as the machine's people do.
func (p *Pass) across(r float64) string {
	if a := p.Machine.Axis(0); a != nil && a.Diameter {
		return "diameter " + p.length(2*r)
	}
	return "radius " + p.length(r)
}

func (t *metal) say(p *Pass, op *interp.Op, key uint64, message, advice string) {
	if n := p.Note(key, OpPlace(op)); n != nil {
		n.Message, n.Advice = message, advice
	}
}
