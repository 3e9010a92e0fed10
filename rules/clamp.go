package rules

import (
	"fmt"
	"math"

	"tapefit/parser"
	"tapefit/profiles"
)

// clamps are the rules about the highest speed that a program sets. They belong
// to the turning.
func clamps() []*Rule {
	return []*Rule{{
		Name: "clamp-over-machine", Family: "turning", Level: Warning,
		Summary: "a highest speed over the highest that the spindle has",
		Doc:     `A clamp over what the spindle can do clamps nothing: under constant surface speed the spindle goes to its own highest, and whoever reads the program believes that the job was thought through. Most often the program comes from a faster machine, and its chuck and jaws are thought of for that too.`,
		Uses:    []string{"spindle.speed", "spindle.gears", "spindle.clamp_with_set_position"},
		Example: Example{"slant-lathe",
			"G20 T0101\nM41\nG50 S4000\nG96 S250 M3\nM30\n",
			"G20 T0101\nM41\nG50 S700\nG96 S250 M3\nM30\n"},
		New: newClampOver,
	}}
}

func newClampOver(m *profiles.Machine, _ *Options) Checker {
	low, top, ok := speedRange(m)
	if !ok || m.CodeFor(profiles.SurfaceSpeed) == "" || clampCode(m) == "the clamp" {
		return Checker{}
	}
	return Checker{Words: With("S"), Block: func(p *Pass, b *parser.Block) {
		s := -1
		for i := range b.Words {
			if b.Words[i].Address == 'S' {
				s = i
			}
		}
		if s < 0 || b.Words[s].Expr != nil || b.Words[s].Value <= top || !setsClamp(m, b) {
			return
		}
		if n := p.Note(math.Float64bits(b.Words[s].Value), WordPlace(b, s)); n != nil {
			n.Message = fmt.Sprintf("the speed is clamped at %s; the spindle of %s turns %s to %s rpm", wordText(b, s), m.Name, rpm(low), rpm(top))
			n.Advice = fmt.Sprintf("Set what chuck, jaws and part bear on this machine, S%s or less.", rpm(top))
		}
	}}
}

// setsClamp says whether S in the block is a highest speed.
func setsClamp(m *profiles.Machine, b *parser.Block) bool {
	clamp, axes := false, false
	for i := range b.Words {
		switch w := &b.Words[i]; w.Address {
		case 'G':
			meaning := m.G(int(math.Round(w.Value * 10)))
			clamp = clamp || meaning == profiles.ClampSpeed || meaning == profiles.SetPosition && m.Spindle.Clamp
		case 'X', 'Y', 'Z', 'A', 'B', 'C', 'U', 'V', 'W':
			axes = true
		}
	}
	return clamp && !axes
}
