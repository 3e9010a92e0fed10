package adapt

import (
	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
)

// gearing says which gear a machine whose gears are shifted by code is to be in
// while it runs a program that was written for another: the one that the program's
// own codes engage, and before a speed that it does not reach the lowest that
// does. The proof holds the output against that, so any other gear code differs.
type gearing struct {
	from, to     *profiles.Machine
	adds, clamps bool // gear codes were put in, speeds were brought down
	left         bool // not all that are needed

	gear int // that is in; -1: not known
	own  int // where not all are: the gear by the program's own codes alone
	due  bool
	at   int64 // of the block, where it stands
	code int   // the gear that it says; -1: none
	says bool  // it has a speed
	spin profiles.Meaning
}

// newGearing makes one; nil where the machine has no gear codes.
func newGearing(from, to *profiles.Machine, allowed *Allowed) *gearing {
	if to.Spindle.Shift != "coded" {
		return nil
	}
	power := interp.New(to, interp.Options{}, interp.Visitor{}).State().Gear
	return &gearing{from: from, to: to, adds: allowed.GearsAdded, clamps: allowed.SpeedClamped, left: allowed.GearsLeft, gear: power, own: -1}
}

// within says whether the block has been taken over, and what is done now is done
// by its tool-change program.
func (g *gearing) within(b *parser.Block) bool { return g != nil && g.due && g.at == b.Offset }

// begins takes over a block that is about to be executed.
func (g *gearing) begins(b *parser.Block) {
	if g == nil {
		return
	}
	g.code, g.says, g.spin = -1, false, profiles.Refused
	for i := range b.Words {
		switch w := &b.Words[i]; {
		case w.Address == 'S':
			g.says = true
		case w.Address == 'M' && w.Expr == nil:
			g.word(w)
		}
	}
	g.at, g.due = b.Offset, g.code >= 0 || g.says || g.spin != profiles.Refused
}

// word takes over an M word.
func (g *gearing) word(w *parser.Word) {
	is, was := meaningM(g.to, w), meaningM(g.from, w)
	switch {
	case is == profiles.Gear && (was == profiles.Gear || was == profiles.Accepted):
		g.code = g.to.GearOf(tenths(w))
	case was == profiles.SpindleCW || was == profiles.SpindleCCW || was == profiles.SpindleStop:
		g.spin = was
	}
}

// shifts says whether the block has engaged a gear; s is the state behind its speed.
func (g *gearing) shifts(s *interp.State) (engages bool) {
	if g == nil || !g.due {
		return false
	}
	g.due = false
	if g.code >= 0 {
		if g.gear, engages = g.code, true; g.left {
			g.own = g.code
		}
	}
	stops := g.spin == profiles.SpindleStop
	spins := g.spin != profiles.Refused && !stops
	if !g.adds || !(g.says && !stops || spins && g.gear < 0) || !tellsGear(s) {
		return engages
	}
	v := s.Speed
	if g.clamps {
		v = clampedSpeed(g.to, v)
	}
	set := g.to.Spindle.Reaching(v)
	if v == 0 || set == 0 || g.gear >= 0 && set>>g.gear&1 == 1 {
		return engages
	}
	g.gear = lowest(set)
	return true
}

// gearsDiffer says whether the output is in another gear than it is to be. Where
// not all codes that may be put in need be there, a gear that reaches the speed
// will do, and so will the one that is in without them.
func (m *matcher) gearsDiffer(a, b *state) bool {
	return m.common.gears && a.gear != b.gear && !(m.allowed.GearsLeft && (b.gear == a.ownGear || m.gearFits(b)))
}
