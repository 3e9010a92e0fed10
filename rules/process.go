package rules

import (
	"bytes"
	"fmt"
	"math"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
)

// processes are the rules about what goes on beside the moves: dwells, stops and
// coolant. They belong to the sequence.
func processes() []*Rule {
	const head = "%\nT5 M6\nM41\nS650 M3\nG0 X0 Y0\nG43 H5 Z1. M8\n"
	return []*Rule{
		{
			Name: "dwell-implausible", Family: "sequence", Level: Warning,
			Summary: "a dwell so long or so short that seconds and milliseconds were mixed up",
			Doc:     `On one control P500 is half a second, on another more than eight minutes: the tool rubs in the hole and work-hardens it, and everybody waits. The other way round the dwell is over before the spindle has turned at all. Told are dwells of more than 60 s, in a canned cycle of more than 10 s, and those of less than 0.01 s. A program without any cut, that warms up the spindle, may dwell as long as it wants.`,
			Uses:    []string{"block.dwell"},
			Example: Example{"bed-mill",
				head + "G82 X0 Y0 Z-.2 R.1 P250 F4.\nG80\nM30\n%\n",
				head + "G82 X0 Y0 Z-.2 R.1 P.25 F4.\nG80\nM30\n%\n"},
			New: newDwell,
		},
		{
			Name: "stop-without-retract", Family: "sequence", Level: Warning,
			Summary: "the program stops or changes the tool while the tool is down in the work",
			Doc:     `At a stop the operator measures, clears chips or turns the spindle off: a tool that stands in the cut marks the part, is in his way, and breaks when the spindle is stopped in it. At a tool change it is drawn out of the work by the change itself, if the machine does that. The finding stands where the tool was fed and has not been retracted since, by a traverse or a feed upwards. A tool that a traverse lowers again to below where it was fed into the work is told too: G0 Z0 where G53 G0 Z0 was meant. On a lathe any traverse counts as a retract, but a turret that turns beside what the tool has cut, within 10 mm (0.4 in) of it, comes with its longest tool into the part or the chuck.`,
			Uses:    []string{"codes"},
			Example: Example{"bed-mill",
				head + "G1 Z-.5 F4.\nM0\nG0 Z1.\nM30\n%\n",
				head + "G1 Z-.5 F4.\nG0 Z1.\nM0\nM30\n%\n"},
			New: func(*profiles.Machine, *Options) Checker {
				return Checker{Op: stopped, Ops: Of(interp.Stop, interp.Tool)}
			},
		},
		{
			Name: "coolant-never-on", Family: "sequence", Level: Warning,
			Summary: "a tool cuts dry while most others have coolant",
			Doc:     `Most often the coolant code was lost when a tool was put in or a program was joined: the drill runs dry, welds its chips and breaks. Told is a tool that never has coolant in a program where more tools have it than not. A tool that is meant to cut dry, with ceramic or for a finish, is silenced by a comment with the reason. A tool in whose work the program calls an M code that the profile accepts without saying what it does, or refuses, is left out: that may be its coolant.`,
			Uses:    []string{"codes"},
			Example: Example{"bed-mill",
				head + "G1 Z-.1 F4.\nG0 Z1.\nT4 M6\nS800 M3\nG43 H4 Z1.\nG1 Z-.1\nG0 Z1.\nM9\nT2 M6\nS800 M3\nG43 H2 Z1.\nG1 Z-.1\nG0 Z1.\nM30\n%\n",
				head + "G1 Z-.1 F4.\nG0 Z1.\nT4 M6\nS800 M3\nG43 H4 Z1.\nG1 Z-.1\nG0 Z1.\nM9\nT2 M6\nS800 M3\nG43 H2 Z1. M8\nG1 Z-.1\nG0 Z1.\nM30\n%\n"},
			New: newCoolantNeverOn,
		},
		{
			Name: "coolant-never-off", Family: "sequence", Level: Warning,
			Summary: "the program ends with the coolant on, and the control leaves it so",
			Doc:     `By the published RS274/NGC the end of the program switches the coolant off. A control that does not (control.end_keeps_coolant) lets it run while the part is taken out, on whoever reaches in, and over the night.`,
			Uses:    []string{"control.end_keeps_coolant", "codes"},
			Example: Example{"bed-mill",
				head + "G1 Z-.1 F4.\nG0 Z1.\nM30\n%\n",
				head + "G1 Z-.1 F4.\nG0 Z1.\nM9\nM30\n%\n"},
			ExampleSet: []string{"control.end_keeps_coolant=true"},
			New: func(m *profiles.Machine, _ *Options) Checker {
				if !m.Control.EndKeepsCoolant {
					return Checker{}
				}
				return Checker{Op: wetEnd, Ops: Of(interp.Stop)}
			},
		},
	}
}

// Dwells in s that nobody means.
const (
	longDwell      = 60
	longCycleDwell = 10
	shortDwell     = 0.01
)

func newDwell(*profiles.Machine, *Options) Checker {
	return Checker{Ops: Of(interp.Dwell), Op: dwells, End: func(p *Pass) {
		if !p.work.any {
			p.drop(keyLong)
		}
	}}
}

const (
	keyLong = iota
	keyCycle
	keyShort
)

func dwells(p *Pass, op *interp.Op) {
	key, word := uint64(keyLong), dwellWord(p.Machine, op)
	switch s := op.Seconds; {
	case op.InCycle && s > longCycleDwell:
		key = keyCycle
	case s > longDwell:
	case s > 0 && s < shortDwell:
		key = keyShort
	default:
		return
	}
	n := p.Note(key, word)
	if n == nil {
		return
	}
	n.Message = fmt.Sprintf("a dwell of %s s", trim(op.Seconds, 4))
	if op.InCycle {
		n.Message += " in each hole"
	}
	if key == keyShort {
		n.Message += ", over before anything happens"
	}
	n.Message += "; " + dwellUnits(p.Machine, op.Block, word)
	n.Advice = "If milliseconds were meant, write the dwell in seconds."
	if key == keyShort {
		n.Advice = "If seconds were meant, write the dwell in the unit of this control."
	}
}

// dwellWord is the word that gives the time, where it stands in the block.
func dwellWord(m *profiles.Machine, op *interp.Op) Place {
	for i := range op.Block.Words {
		if a := op.Block.Words[i].Address; (a == 'P' || !op.InCycle && (a == 'X' || a == 'U')) && m.DwellUnit(a) > 0 {
			return WordPlace(op.Block, i)
		}
	}
	return OpPlace(op)
}

// dwellUnits says in what this control takes the dwell that the word at a place gives.
func dwellUnits(m *profiles.Machine, b *parser.Block, at Place) string {
	letters := []byte("PXU")
	if at.Pos < at.End && at.Offset == b.Offset && bytes.IndexByte(letters, b.Raw[at.Pos]) >= 0 {
		letters = []byte{b.Raw[at.Pos]}
	}
	for _, a := range letters {
		switch m.DwellUnit(a) {
		case 1:
			return fmt.Sprintf("%c is in seconds on %s", a, m.Name)
		case 0.001:
			return fmt.Sprintf("%c is in milliseconds on %s", a, m.Name)
		}
	}
	return m.Name + " has no word for the time"
}

// stopped is a stop or a tool change.
func stopped(p *Pass, op *interp.Op) {
	if op.Kind == interp.Tool && !p.work.down {
		standing(p, op)
		return
	}
	if !p.work.down || op.Kind == interp.Stop && (op.StopKind == interp.End || op.StopKind == interp.ManualStop) {
		return
	}
	what, key := "the program stops", uint64(0)
	if op.Kind == interp.Tool {
		what, key = "the tool is changed", 1
	}
	advice := "Retract by traverse before it."
	if op.Turret {
		what, key, advice = "the turret turns", 2, "Go to a place by traverse before it where the turret has room to turn."
	}
	if n := p.Note(key, OpPlace(op)); n != nil {
		n.Message = what + " with the tool where it was fed to, not retracted"
		n.Advice = advice
	}
}

// standing is a tool change where the tool stands at the work, though not where it was
// fed to.
func standing(p *Pass, op *interp.Op) {
	w, s := &p.work, op.State
	switch {
	case op.Turret && w.beside(s):
		if n := p.Note(3, OpPlace(op)); n != nil {
			n.Message = fmt.Sprintf("the turret turns at %s, Z %s, beside what the tool has cut, or in it: at up to %s, from Z %s on", p.across(s.At[0]), p.length(s.At[2]), p.across(w.x.Max), p.length(w.z.Max))
			n.Advice = "Go to a place by traverse before it where the turret has room to turn."
		}
	case !op.Turret && w.lowered:
		if n := p.Note(1, OpPlace(op)); n != nil {
			n.Message = fmt.Sprintf("the tool is changed at Z %s, to where a traverse has lowered it behind its last cut: it was fed into the work from Z %s", p.length(w.level), p.length(w.begun))
			n.Advice = "Retract before it."
			if code := p.Machine.CodeFor(profiles.MachineCoordinates); code != "" {
				n.Advice = fmt.Sprintf("Retract before it. If the home position was meant, %s is missing in that traverse.", code)
			}
		}
	}
}

// neverOn marks the tools of which nobody knows whether they have coolant.
type neverOn struct {
	doubt map[Place]bool // by their change
}

func newCoolantNeverOn(m *profiles.Machine, _ *Options) Checker {
	if m.CodeFor(profiles.Flood) == "" && m.CodeFor(profiles.Mist) == "" {
		return Checker{}
	}
	c := &neverOn{doubt: map[Place]bool{}}
	return Checker{State: []any{c}, Block: c.block, Words: With("M"), End: c.end}
}

// block looks for M codes of which the profile does not say what they do.
func (c *neverOn) block(p *Pass, b *parser.Block) {
	for i := range b.Words {
		w := &b.Words[i]
		if w.Address != 'M' {
			continue
		}
		if m := p.Machine.M(int(math.Round(w.Value * 10))); (m == profiles.Refused || m == profiles.Accepted) && len(c.doubt) < mostStretches {
			c.doubt[p.work.now.at] = true
		}
	}
}

func (c *neverOn) end(p *Pass) {
	all, ok := p.work.stretches()
	if !ok {
		return
	}
	wet, dry := 0, 0
	for i := range all {
		switch t := &all[i]; {
		case t.wet > 0:
			wet++
		case t.cuts > 0:
			dry++
		}
	}
	if wet <= dry {
		return
	}
	for i := range all {
		t := &all[i]
		if t.cuts == 0 || t.wet > 0 || t.at.Line == 0 || c.doubt[t.at] {
			continue
		}
		if n := p.Note(uint64(t.tool+1), t.at); n != nil {
			n.Message = fmt.Sprintf("tool %s cuts dry; %s in this program %s coolant", toolName(t.tool), count(wet, "other tool"), has(wet))
			n.Advice = fmt.Sprintf("Switch the coolant on for it with %s, or say in a comment why it cuts dry.", orCode(p.Machine, profiles.Flood, orCode(p.Machine, profiles.Mist, "its code")))
		}
	}
}

func has(n int) string {
	if n == 1 {
		return "has"
	}
	return "have"
}

// wetEnd is the end of a program on a control that leaves the coolant on.
func wetEnd(p *Pass, op *interp.Op) {
	if op.StopKind != interp.End || !op.State.Flood && !op.State.Mist {
		return
	}
	if n := p.Note(0, OpPlace(op)); n != nil {
		n.Message = fmt.Sprintf("the program ends with the coolant on; %s leaves it on", p.Machine.Name)
		n.Advice = fmt.Sprintf("Write %s before the end.", orCode(p.Machine, profiles.CoolantOff, "coolant off"))
	}
}
