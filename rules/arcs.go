package rules

import (
	"fmt"

	"tapefit/internal/interp"
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
	}
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
	n.Advice = "Check centre and end point; where all arcs are off, check that the post writes the centre the way this control reads it (" + p.centreText() + "). The arc is not executed here." + p.planeLeft()
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
