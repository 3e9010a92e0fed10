package adapt

import (
	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
)

// anyBelt is where the operator moves the belt as it is needed: every step is possible.
const anyBelt = ^uint64(0)

// belting sees ahead whether a program must be stopped only so that the operator
// moves the belt. Once he is told of it there he relies on being told: the belt that
// the first speed needs, and that of each tool, must then be said too. Else the next
// part begins with the belt of the end of this one.
type belting struct {
	to     *profiles.Machine
	clamps bool
	belts  uint64 // that all speeds since the last stop can have
	shifts bool
}

// newBelting makes one; nil where no belt is moved by hand or nobody is told.
func newBelting(opt *Options) *belting {
	if opt.To.Spindle.Shift != "by-hand" || !opt.makes(Find(Gears)) {
		return nil
	}
	return &belting{to: opt.To, clamps: opt.makes(Find(ClampSpeed)), belts: anyBelt}
}

// op takes over an operation at which the operator is there.
func (g *belting) op(op *interp.Op) {
	if g == nil {
		return
	}
	stop := op.Kind == interp.Stop && (op.StopKind == interp.ProgramStop || op.StopKind == interp.PalletStop)
	if stop || op.Kind == interp.Tool && !op.Turret && g.to.Tools.Pockets == 0 {
		g.belts = anyBelt
	}
}

// ends takes over an executed block; s is the state behind it.
func (g *belting) ends(b *parser.Block, s *interp.State) {
	if g == nil || b.Word('S') == nil || !tellsGear(s) {
		return
	}
	v := s.Speed
	if g.clamps {
		v = clampedSpeed(g.to, v)
	}
	if set := g.to.Spindle.Reaching(v); set != 0 && v != 0 {
		if g.shifts = g.shifts || g.belts&set == 0; g.belts&set == 0 {
			g.belts = set
		}
		g.belts &= set
	}
}

// freesBelt says that the operator is at the machine, and moves the belt as it is
// needed. At a tool change he knows of that only where nothing else tells him.
func (w *writer) freesBelt(change bool) {
	if !change || !w.tellsBelt {
		w.belts = anyBelt
	}
}
