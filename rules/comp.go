package rules

import (
	"fmt"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// compensation are the rules about cutter radius compensation.
func compensation() []*Rule {
	return []*Rule{
		{
			Name: "comp-not-allowed", Family: "tools", Level: Error,
			Summary: "what is not allowed while cutter compensation is on",
			Doc:     `Compensation begins and ends on a straight move in its plane. While it is on, the published RS274/NGC, and most controls with it, refuse another plane, other units, another work zero, another side or tool radius, canned cycles, and moves to the home position or in machine coordinates: they switch it off first. Most often the code for that was forgotten. The finding for a tool change is tool-change-in-comp.`,
			Uses:    []string{"codes", "control.comp"},
			Example: Example{"bed-mill", "%\nG0 X0 Y0\nG41 D2 G1 X1. F10.\nG53 G0 Z0\nM30\n%\n", "%\nG0 X0 Y0\nG41 D2 G1 X1. F10.\nG40 X2.\nG53 G0 Z0\nM30\n%\n"},
			New:     faultRule(compForbidden, interp.CompForbidden),
		},
		{
			Name: "comp-radius-unknown", Family: "tools", Level: Note,
			Summary: "cutter compensation by a diameter that the profile does not have",
			Doc:     `Under compensation the tool's centre goes beside the programmed contour, at the distance of the radius set under D. Without that diameter tapefit follows the contour itself: travels and times are a little off, and corners too narrow for the tool are not seen.`,
			Uses:    []string{"tools.loaded"},
			Example: Example{"bed-mill", "%\nG0 X0 Y0\nG41 D12 G1 X1. F10.\nG40 X2.\nM30\n%\n", "%\nG0 X0 Y0\nG41 D2 G1 X1. F10.\nG40 X2.\nM30\n%\n"},
			New:     faultRule(compUnknown, interp.CompUnknown),
		},
		{
			Name: "comp-entry-too-short", Family: "tools", Level: Error,
			Summary: "the first move with compensation is shorter than the tool's radius",
			Doc:     `On the first straight move after G41 or G42 the tool goes from the contour to beside it, by its radius. A move shorter than the radius leaves no room for that: the control stops, or the tool enters the contour.`,
			Uses:    []string{"tools.loaded"},
			Example: Example{"bed-mill", "%\nG0 X0 Y0\nG41 D2 G1 Y0.2 F10.\nY2.\nG40 X-1.\nM30\n%\n", "%\nG0 X0 Y-0.5\nG41 D2 G1 Y0.2 F10.\nY2.\nG40 X-1.\nM30\n%\n"},
			New:     faultRule(compEntryShort, interp.CompEntryShort),
		},
		{
			Name: "comp-arc-too-small", Family: "tools", Level: Error,
			Summary: "an arc smaller than the tool that shall go round its inside",
			Doc:     `A tool cannot cut a fillet of a smaller radius than its own. With compensation the control stops on the arc. Where it looks ahead, a fillet of just the tool's radius is taken; the published RS274/NGC refuses that too.`,
			Uses:    []string{"tools.loaded", "control.comp"},
			Example: Example{"bed-mill", "%\nG0 X0 Y-1.\nG41 D2 G1 X0 Y0 F10.\nX2.\nG3 X2.2 Y0.2 J0.2\nG1 Y2.\nG40 X1.\nM30\n%\n", "%\nG0 X0 Y-1.\nG41 D2 G1 X0 Y0 F10.\nX2.\nG3 X2.3 Y0.3 J0.3\nG1 Y2.\nG40 X1.\nM30\n%\n"},
			New:     faultRule(compArcSmall, interp.CompArcSmall),
		},
		{
			Name: "comp-gouge", Family: "tools", Level: Error,
			Summary: "a contour into which the compensated tool does not fit",
			Doc:     `In an inside corner the tool's path ends where the paths beside both moves cross. Where they do not cross, where the move between two corners is shorter than the tool needs, or where blocks without motion in the plane part the moves so that the control does not see the corner coming, the tool cuts into the contour or the control stops. A control that does not look ahead at all refuses every inside corner: it needs an arc of more than the tool's radius there. tapefit compares each move with its neighbours; a contour that comes back to itself further on is not compared.`,
			Uses:    []string{"tools.loaded", "control.comp"},
			Example: Example{"bed-mill", "%\nG0 X0 Y-1.\nG41 D2 G1 X0 Y0 F10.\nX2.\nY0.3\nX0\nG40 Y-1.\nM30\n%\n", "%\nG0 X0 Y-1.\nG41 D2 G1 X0 Y0 F10.\nX2.\nY0.6\nX0\nG40 Y-1.\nM30\n%\n"},
			New:     newCompGouge,
		},
	}
}

func compForbidden(p *Pass, f *interp.Fault) {
	if n := p.Note(textKey(f.Cause), FaultPlace(f)); n != nil {
		n.Message = fmt.Sprintf("%s: %s", wordText(f.Block, f.Word), f.Cause)
		n.Advice = fmt.Sprintf("Switch compensation off (%s) before it, on a straight move away from the part.", orCode(p.Machine, profiles.CompOff, "compensation off"))
		if f.Cause == interp.CompOnArc || f.Cause == interp.CompOffArc {
			n.Advice = "Put a straight move between, longer than the tool's radius."
		}
	}
}

func compUnknown(p *Pass, f *interp.Fault) {
	n := p.Note(uint64(int64(f.A)+1), FaultPlace(f))
	if n == nil {
		return
	}
	n.Message = "cutter compensation for the tool in the spindle, and the program does not say which that is: the path here is that of the program"
	n.Advice = "Write D with the compensation."
	switch {
	case p.Machine.Kind == "lathe" && f.A < 0:
		n.Message = "compensation for the nose of the tool, and no offset is in force that would tell its radius: the path here is that of the program"
		n.Advice = "Call the tool with its offset before it."
	case p.Machine.Kind == "lathe":
		n.Message = fmt.Sprintf("the nose radius under offset %.0f is not in the profile of %s: the path here is that of the program", f.A, p.Machine.Name)
		n.Advice = "Give the tool with nose_radius and nose_direction in tools.loaded to have the path of its tip checked."
	case f.A >= 0:
		n.Message = fmt.Sprintf("the diameter under D%.0f is not in the profile of %s: the path here is that of the program", f.A, p.Machine.Name)
		n.Advice = "Give the tool with its diameter in tools.loaded to have the path of its centre checked."
	}
}

func compEntryShort(p *Pass, f *interp.Fault) {
	if n := p.Note(0, FaultPlace(f)); n != nil {
		n.Message = fmt.Sprintf("the first move with compensation is %s long, and the tool's radius is %s", p.length(f.A), p.length(f.B))
		n.Advice = "Begin further away from the contour, on a straight move longer than the radius."
	}
}

func compArcSmall(p *Pass, f *interp.Fault) {
	if n := p.Note(0, FaultPlace(f)); n != nil {
		n.Message = fmt.Sprintf("the tool goes round the inside of an arc of radius %s, and its own radius is %s", p.fine(f.A), p.fine(f.B))
		n.Advice = "Take a smaller tool, or widen the arc. The chord stands for the arc here."
	}
}

// newCompGouge takes back what it noted of traverses, away from the contour as a
// rule, where compensation was then found to be on still: it was never switched
// off, and another rule says so.
func newCompGouge(*profiles.Machine, *Options) Checker {
	noted, along := false, false // of traverses; of cuts
	return Checker{
		State:  []any{&noted, &along},
		Faults: []interp.FaultKind{interp.CompGouge, interp.CompInside, interp.CompForbidden},
		Fault: func(p *Pass, f *interp.Fault) {
			away := p.State.Motion == profiles.TraverseMove && !along
			switch {
			case f.Kind != interp.CompForbidden:
				compGouge(p, f, away)
				noted, along = noted || away, along || !away
			case noted && f.Cause != interp.CompOnArc && f.Cause != interp.CompOffArc:
				p.dropAway()
			}
		},
		Ops: Of(interp.Tool, interp.Stop),
		Op: func(p *Pass, op *interp.Op) {
			s := op.State
			if noted && (op.Kind == interp.Tool || op.StopKind == interp.End) && s.Comp != profiles.CompOff && s.Unknown&interp.UnknownComp == 0 {
				p.dropAway()
			}
		},
	}
}

// awayKey marks the cause of a fault on a traverse.
const awayKey = 1 << 63

func (p *Pass) dropAway() {
	for _, cause := range [...]string{interp.CompBehind, ""} {
		p.drop(textKey(cause) ^ awayKey)
	}
}

func compGouge(p *Pass, f *interp.Fault, away bool) {
	key := textKey(f.Cause)
	if away {
		key ^= awayKey
	}
	n := p.Note(key, FaultPlace(f))
	if n == nil {
		return
	}
	n.Message = "the compensated tool cuts into the contour: " + f.Cause
	n.Advice = "Take a smaller tool, widen the corner, or bring the moves on both sides of the corner together."
	if f.Kind == interp.CompInside {
		n.Message = fmt.Sprintf("an inside corner under compensation; %s does not look ahead and refuses it", p.Machine.Name)
		n.Advice = fmt.Sprintf("Round the corner with an arc of more than the tool's radius, or have the post write the path of the tool's centre with %s.",
			orCode(p.Machine, profiles.CompOff, "compensation off"))
	}
}
