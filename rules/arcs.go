package rules

import (
	"fmt"
	"math"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// arcs are the rules about G2 and G3.
func arcs() []*Rule {
	return []*Rule{
		{
			Name: "arc-radius-mismatch", Family: "arcs", Level: Error,
			Summary: "start and end of an arc lie on different radii",
			Doc:     `An arc whose end does not lie on the circle about its centre through its start is refused, or ends in a jerk from one circle to the other. The cause is most often rounding of centres in the post, or a centre that is meant absolute on a control that reads it from the start.`,
			Uses:    []string{"arcs.tolerance", "arcs.tolerance_inch", "arcs.centre"},
			Example: Example{"rs274ngc", "G0 X0 Y0\nG2 X10 I5.1 F100\nM2\n", "G0 X0 Y0\nG2 X10 I5 F100\nM2\n"},
			New:     faultRule(arcRadius, interp.ArcRadius),
		},
		{
			Name: "arc-form-not-accepted", Family: "arcs", Level: Error,
			Summary: "an arc written in a form that this control refuses",
			Doc:     `Controls differ in how an arc is written: centre from the start or absolute, with or without a sign, R instead of a centre, a full circle in one block, a helix, planes, the largest radius. The arc is executed here all the same: its meaning is not in doubt. One that scaling makes an ellipse is not.`,
			Uses:    []string{"arcs.centre", "arcs.radius", "arcs.full_circle", "arcs.helix", "arcs.planes", "arcs.largest"},
			Example: Example{"knee-mill", "%\nG90\nG0 X0 Y0\nG2 X10000 Y10000 R10000 F100\nM30\n%\n", "%\nG90\nG0 X0 Y0\nG2 X10000 Y10000 I10000 J0 F100\nM30\n%\n"},
			New:     faultRule(arcForm, interp.ArcForm),
		},
		{
			Name: "arc-crosses-quadrant", Family: "arcs", Level: Error,
			Summary: "an arc goes from one quadrant into the next",
			Doc:     `Controls of the tape era interpolate within one quadrant: an arc that crosses a line through its centre along an axis must be cut in two there.`,
			Uses:    []string{"arcs.quadrant"},
			Example: Example{"knee-mill", "%\nG90\nG0 X0 Y0\nG2 X20000 Y0 I10000 J0 F100\nM30\n%\n", "%\nG90\nG0 X0 Y0\nG2 X10000 Y10000 I10000 J0 F100\nG2 X20000 Y0 I0 J10000\nM30\n%\n"},
			New:     faultRule(arcQuadrant, interp.ArcQuadrant),
		},
		{
			Name: "arc-against-its-cut", Family: "arcs", Level: Warning,
			Summary: "an arc goes back the way its cut has come: G2 for G3, or the other way round",
			Doc:     `A cut that runs into an arc smoothly would turn on the spot with the other direction of the arc: it goes back along its own way, and round the other, longer part of the circle, through what should stay. That is what G2 typed for G3 does, or a centre with the wrong sign. Told of where the cut before an arc and the arc meet in a cusp, within a degree, and the arc then goes more than half round, or ends in a cusp too. Arcs of less than 3 mm, full circles, and arcs on which compensation begins or ends are left out.`,
			Example: Example{"bed-mill",
				"%\nM42\nS2000 M3\nG0 X0 Y0 Z0\nG1 X2. F10.\nG2 X3. Y1. J1.\nG1 Y2.\nM30\n%\n",
				"%\nM42\nS2000 M3\nG0 X0 Y0 Z0\nG1 X2. F10.\nG3 X3. Y1. J1.\nG1 Y2.\nM30\n%\n"},
			New: newArcAgainst,
		},
	}
}

// against follows the direction in which the cuts go.
type against struct {
	way     way // at the end of the last cut
	arc     bool
	suspect Place // of an arc that began in a cusp; no line: none
	radius  float64
}

// A way is a direction and a length of any unit; length 0: not known.
type way struct {
	to     [3]float64
	length float64
}

// smallestAgainst is from which radius on arcs are judged, mm: letters that are
// engraved turn on the spot.
const smallestAgainst = 3

func newArcAgainst(*profiles.Machine, *Options) Checker {
	a := &against{}
	return Checker{State: []any{a}, Op: a.op, Ops: Of(interp.Traverse, interp.Feed, interp.Arc)}
}
func (a *against) op(p *Pass, op *interp.Op) {
	if op.Corner {
		return // the contour has a corner there, and no arc
	}
	before, arc := a.way, a.arc
	a.arc = op.Kind == interp.Arc
	if op.Kind == interp.Traverse || op.InCycle || op.FromKnown&op.ToKnown&interp.XYZ != interp.XYZ || op.Moves&^interp.XYZ != 0 {
		a.way, a.suspect.Line = way{}, 0
		return
	}
	starts := way{length: op.Length}
	if a.arc {
		starts, a.way = tangent(op, &op.From), tangent(op, &op.To)
	} else {
		for i := range starts.to {
			starts.to[i] = op.To[i] - op.From[i]
		}
		a.way = starts
	}
	if !a.arc && !arc {
		return
	}
	back := cusp(&before, &starts)
	if back && a.suspect.Line != 0 {
		a.say(p, a.suspect, a.radius)
	}
	a.suspect.Line = 0
	switch {
	case !back || !a.arc || op.Radius < smallestAgainst || op.Sweep > 2*math.Pi-1e-3:
	case op.Sweep > math.Pi+1e-3:
		a.say(p, OpPlace(op), op.Radius)
	default:
		a.suspect, a.radius = OpPlace(op), op.Radius
	}
}

func (a *against) say(p *Pass, at Place, radius float64) {
	if n := p.Note(0, at); n != nil {
		m := p.Machine
		n.Message = fmt.Sprintf("the cut before this arc of radius %s would turn on the spot and go back where it came from", p.length(radius))
		n.Advice = fmt.Sprintf("Check %s against %s, and the signs of the centre.", orCode(m, profiles.ArcCW, "clockwise"), orCode(m, profiles.ArcCCW, "counter-clockwise"))
	}
}

// cusp says whether a cut that arrives in one direction goes back in the other.
func cusp(arrives, goes *way) bool {
	const within = -0.99985 // cosine of 179 degrees
	dot := arrives.to[0]*goes.to[0] + arrives.to[1]*goes.to[1] + arrives.to[2]*goes.to[2]
	return dot < within*arrives.length*goes.length
}

// tangent is the direction of an arc in its plane, at one of its ends.
func tangent(op *interp.Op, at *interp.Point) (w way) {
	first, second, _ := op.Plane.Axes()
	x, y := at[first]-op.Center[first], at[second]-op.Center[second]
	if op.CW {
		x, y = -x, -y
	}
	w.to[first], w.to[second], w.length = -y, x, op.Radius
	return w
}

func arcRadius(p *Pass, f *interp.Fault) {
	key := uint64(0)
	if f.Cause == interp.RadiusTooSmall {
		key = 1
	}
	n := p.Note(key, FaultPlace(f))
	if n == nil {
		return
	}
	if key == 1 {
		n.Message = fmt.Sprintf("no circle of radius %s goes through both ends: half of their distance is %s", p.fine(f.A), p.fine(f.B))
		n.Advice = "Check R and the end point. The arc is not executed here; the next move starts from its end."
		return
	}
	diff := f.A - f.B
	if diff < 0 {
		diff = -diff
	}
	n.Message = fmt.Sprintf("the radius is %s at the start and %s at the end: %s apart; %s allows %s",
		p.fine(f.A), p.fine(f.B), p.fine(diff), p.Machine.Name, p.fine(p.radiusTolerance()))
	n.Advice = "Check centre and end point; where all arcs are off, check that the post writes the centre the way this control reads it (" + p.centreText() + "). The arc is not executed here." + p.planeLeft(f.Block)
}

// radiusTolerance is the tolerance in the units in force, mm.
func (p *Pass) radiusTolerance() float64 {
	return interp.RadiusTolerance(p.Machine, p.State.Units)
}

func (p *Pass) centreText() string {
	switch p.Machine.Arcs.Centre {
	case "absolute":
		return "absolute"
	case "unsigned":
		return "from the start, without sign"
	}
	return "from the start, with sign"
}

func arcForm(p *Pass, f *interp.Fault) {
	n := p.Note(textKey(f.Cause), FaultPlace(f))
	if n == nil {
		return
	}
	name := p.Machine.Name
	switch f.Cause {
	case interp.RefusedRadius:
		n.Message = fmt.Sprintf("%s does not take arcs with R; it takes centres %s", name, p.centreText())
		n.Advice = "Have the post write I J K."
	case interp.RefusedSign:
		n.Message = fmt.Sprintf("%s has a sign; %s takes the distances from the start to the centre without sign", wordText(f.Block, f.Word), name)
		n.Advice = "Have the post write I J K without sign, and arcs cut at the quadrants."
	case interp.RefusedCircle:
		n.Message = fmt.Sprintf("a full circle in one block; %s does not take it", name)
		n.Advice = "Cut the circle into quarters."
	case interp.RefusedUnequal:
		n.Message = "an arc while its axes are scaled unlike, or the part is turned out of the arc's plane: that is no arc any more"
		n.Advice = "Scale both axes of the plane alike, or write the curve as short chords. The arc is not executed here; the next move starts from its end."
	case interp.RefusedHelix:
		n.Message = fmt.Sprintf("the arc moves a third axis; %s makes no helix", name)
		n.Advice = "Ramp in straight, or write the helix as short chords."
	case interp.RefusedPlane:
		n.Message = fmt.Sprintf("an arc in the plane %s; %s makes arcs in %s", p.State.Plane, name, p.Machine.Arcs.Planes)
		n.Advice = "Write the arc as short chords, or turn the part."
	case interp.RefusedLargest:
		n.Message = fmt.Sprintf("radius %s; %s makes arcs up to %s", p.length(f.A), name, p.length(f.B))
		n.Advice = "Write the arc as straight chords within the tolerance."
	}
}

func arcQuadrant(p *Pass, f *interp.Fault) {
	key := uint64(0)
	if f.Cause == interp.NoQuadrant {
		key = 1
	}
	n := p.Note(key, FaultPlace(f))
	if n == nil {
		return
	}
	n.Message = fmt.Sprintf("the arc crosses a quadrant; %s wants each arc within one", p.Machine.Name)
	n.Advice = "Cut the arc where it crosses a line through its centre along an axis."
	if key == 1 {
		n.Message = fmt.Sprintf("no centre at these distances gives an arc within one quadrant, as %s wants", p.Machine.Name)
		n.Advice = "Cut the arc at the quadrants, and check the centre and the end point. The arc is not executed here."
	}
}
