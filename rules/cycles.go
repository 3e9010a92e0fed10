package rules

import (
	"fmt"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// cycles are the rules about canned cycles.
func cycles() []*Rule {
	return []*Rule{{
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
