package rules

import (
	"fmt"
	"slices"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// parameters are the rules about parameters.
func parameters() []*Rule {
	return []*Rule{{
		Name: "parameter-never-set", Family: "language", Level: Warning,
		Summary: "a parameter is used and nothing has set it",
		Doc: `A parameter that nothing has set has no place to go to: one control takes it for zero, another leaves the word out, a third takes what an earlier program has left in it. Most often a digit was mistyped, or an argument is missing in the call. tapefit executes it as zero. A program that may be called without an argument tests for it first, as IF [#24 EQ #0] does.

Parameters that every call has for itself (block.locals) are set by the program or by the call, and nothing else. Others keep their value from program to program, and a person or another program may have set them on purpose: those of #100 and above are told together as a note.`,
		Uses:    []string{"block.locals", "block.parameters"},
		Example: Example{"parametric", "#1=60\nG0 X[#11/2]\nM30\n", "#1=60\nG0 X[#1/2]\nM30\n"},
		New:     newVacant,
	}}
}

// vacants are the parameters that were used and never set.
type vacants struct {
	note   *Finding
	common []int // of those that a person may have set, the first few
	more   bool
}

func newVacant(*profiles.Machine, *Options) Checker {
	v := &vacants{}
	return Checker{State: []any{v}, Fault: v.fault, Faults: []interp.FaultKind{interp.ParamVacant}, End: v.end}
}

// firstCommon is the first parameter that people set by hand, where the profile has no
// local ones (common practice).
const firstCommon = 100

// mostParameters bounds those that a finding names.
const mostParameters = 8

func (v *vacants) fault(p *Pass, f *interp.Fault) {
	number := int(f.A)
	locals := p.Machine.Block.Locals
	if number > locals && (locals > 0 || number >= firstCommon) {
		v.held(p, f, number)
		return
	}
	n := p.Note(uint64(number), FaultPlace(f))
	if n == nil {
		return
	}
	n.Message = fmt.Sprintf("#%d is used and nothing has set it: here it counts as 0", number)
	n.Advice = fmt.Sprintf("Check its number, or set it before; a program that may do without it tests first: IF [#%d EQ #0].", number)
	switch {
	case f.Missing != 0:
		n.Message = fmt.Sprintf("#%d is used, and no %c in the call has set it: here it counts as 0", number, f.Missing)
		n.Advice = fmt.Sprintf("Write %c into the call; a program that may do without it tests first: IF [#%d EQ #0].", f.Missing, number)
	case locals == 0:
		n.Message += ", and " + p.Machine.Name + " takes what was left in it"
		n.Advice = "Check its number, or set it before."
	}
}

// held is of a parameter that the control holds from program to program.
func (v *vacants) held(p *Pass, f *interp.Fault, number int) {
	if n := p.Note(0, FaultPlace(f)); n != nil {
		v.note = n
	}
	if slices.Contains(v.common, number) {
		return
	}
	if v.more = v.more || len(v.common) == mostParameters; !v.more {
		v.common = append(v.common, number)
	}
}

func (v *vacants) end(p *Pass) {
	if v.note == nil {
		return
	}
	slices.Sort(v.common)
	names := make([]string, len(v.common))
	for i, n := range v.common {
		names[i] = fmt.Sprintf("#%d", n)
	}
	if v.more {
		names = append(names, "others")
	}
	v.note.Level = Note
	v.note.Message = fmt.Sprintf("used and never set: %s; here 0 is taken, at the machine what the control holds", join(names, "and"))
	v.note.Advice = "Places, times and travels that hang on it are not those at the machine. To have them checked, set it in a copy of the program."
}
