package rules

import (
	"fmt"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// cycles are the rules about canned cycles.
func cycles() []*Rule {
	const head = "%\nT5 M6\nM41\nS700 M3\nG0 X0 Y0\nG43 H5 Z1.\n"
	return []*Rule{{
		Name: "peck-implausible", Family: "cycles", Level: Warning,
		Summary: "pecks far deeper than the hole, or hundreds of them in it",
		Doc:     `Q is the depth of one peck. Where it is many times the depth of the hole the drill goes down in one stroke, its chips pack and it breaks; most often the decimal point is missing. Where it is so small that a hole takes more than a hundred pecks the point stands too far to the left, or Q is in other units than meant; it rubs, and takes for ever. It is the same of the depth of a pass in a roughing cycle and of the pecks of a groove: where that is many times what is to be cut, the tool takes all of it at once.`,
		Uses:    []string{"cycles", "numbers.point", "turning.counts"},
		Example: Example{"bed-mill",
			head + "G83 X0 Y0 Z-1.5 R.1 Q25. F5.\nG80\nM30\n%\n",
			head + "G83 X0 Y0 Z-1.5 R.1 Q.25 F5.\nG80\nM30\n%\n"},
		New: newPecks,
	}, {
		Name: "cycle-not-accepted", Family: "cycles", Level: Error,
		Summary: "a canned cycle that this control does not have",
		Doc:     `The control stops on a canned cycle that it does not know. The holes that follow it are not checked here: without the cycle their words mean nothing.`,
		Uses:    []string{"codes", "cycles"},
		Example: Example{"knee-mill", "%\nG90\nG83 X10000 Y10000 Z-5000 R1000 Q1000 F50\nG80\nM30\n%\n", "%\nG90\nG0 X10000 Y10000\nG81 X10000 Y10000 Z-5000 R1000 F50\nG80\nM30\n%\n"},
		New:     faultRule(cycleRefused, interp.CycleNotAccepted),
	}}
}

func cycleRefused(p *Pass, f *interp.Fault) {
	n := p.Note(uint64(f.A*10), FaultPlace(f))
	if n == nil {
		return
	}
	var has []string
	for _, code := range codesOf(p.Machine, profiles.MotionGroup) {
		if meaning, _ := profiles.ParseMeaning(p.Machine.Codes[code]); meaning.IsCycle() {
			has = append(has, code)
		}
	}
	n.Message = fmt.Sprintf("canned cycle G%s is not accepted by %s", trim(f.A, 1), p.Machine.Name)
	if len(has) > 0 {
		n.Message += "; it has " + join(has, "and")
	}
	n.Advice = "Switch the cycle off in the post so that it writes plain moves. The holes behind it are not checked here."
}

// pecks counts the strokes in one hole.
type pecks struct {
	strokes int
	stroke  float64 // how far the first went, mm
	q       float64 // as it is written, mm; 0: not in the block
	at      Place
	step    int64 // offset of the block of the last turning cycle; -1: none
}

func newPecks(*profiles.Machine, *Options) Checker {
	k := &pecks{step: -1}
	return Checker{State: []any{k}, Op: k.op, Ops: Of(interp.Traverse, interp.Feed), Steady: true, End: k.over}
}

func (k *pecks) op(p *Pass, op *interp.Op) {
	if op.Step > 0 {
		k.turning(p, op)
		return
	}
	k.step = -1
	s := op.State
	_, _, normal := s.Plane.Axes()
	if p.Machine.Kind == "lathe" {
		normal = 2
	}
	switch {
	case !op.InCycle || s.Motion != profiles.Peck && s.Motion != profiles.ChipBreak || op.Moves != 1<<normal:
		k.over(p)
	case op.Kind != interp.Feed || !(op.FromKnown & op.ToKnown).Has(normal):
	case k.strokes == 0:
		*k = pecks{step: -1, strokes: 1, stroke: op.From[normal] - op.To[normal], at: OpPlace(op)}
		for i := range op.Block.Words {
			if w := &op.Block.Words[i]; w.Address == 'Q' && w.Expr == nil && (w.Point || p.Machine.Numbers.Point == "optional") {
				k.at, k.q = WordPlace(op.Block, i), w.Value
				if s.Units == profiles.UnitsInch {
					k.q *= 25.4
				}
			}
		}
	default:
		k.strokes++
	}
}

const (
	manyPecks   = 100
	farOverHole = 10 // times the depth of the hole
	largePeck   = 50 // mm: no drill takes that in one peck without need
)

// tooDeep says whether steps of a depth are far deeper than all that is to be cut.
func tooDeep(step, all float64) bool {
	return all > 0 && (step > farOverHole*all || step > largePeck && step > 2*all)
}

// turning judges a turning cycle by its first move.
func (k *pecks) turning(p *Pass, op *interp.Op) {
	if k.step == op.Block.Offset || !tooDeep(op.Step, op.Depth) {
		return
	}
	k.step = op.Block.Offset
	n := p.Note(3, OpPlace(op))
	if n == nil {
		return
	}
	n.Message = fmt.Sprintf("steps of %s where %s is to be cut: the tool takes it all at once", p.length(op.Step), p.length(op.Depth))
	n.Advice = "Check the decimal point and the units of the step."
	if t := &p.Machine.Turning; t.Counts == "" && p.Machine.Numbers.Point == "optional" {
		n.Advice += " If the control counts least increments in such cycles, say so in the profile: turning.counts."
	}
}

// over judges a hole.
func (k *pecks) over(p *Pass) {
	strokes := k.strokes
	k.strokes = 0
	switch {
	case strokes > manyPecks:
		if n := p.Note(1, k.at); n != nil {
			n.Message = fmt.Sprintf("a hole takes %d pecks of %s", strokes, p.fine(k.stroke))
			n.Advice = "Check the decimal point and the units of Q."
		}
	case strokes == 1 && tooDeep(k.q, k.stroke):
		if n := p.Note(2, k.at); n != nil {
			n.Message = fmt.Sprintf("pecks of %s in a hole of %s: it is drilled in one stroke", p.length(k.q), p.length(k.stroke))
			n.Advice = "Check the decimal point and the units of Q."
		}
	}
}
