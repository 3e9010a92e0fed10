package adapt

import (
	"math"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// A matcher goes along two programs in step.
type matcher struct {
	a, b          side // the source, the output
	allowed       Allowed
	common        common
	out           *profiles.Machine
	tol, tolAngle float64 // with the floor
	proof         Proof

	wrong, right float64 // length that was run at unlike feeds, and at like ones since
}

// side is where one of the programs stands.
type side struct {
	reader
	now     state
	line    int  // of the step that set it
	changed bool // since both were compared
}

// run compares the programs to their ends; nil: they agree.
func (m *matcher) run() *Difference {
	for {
		m.a.takeState()
		m.b.takeState()
		x, y := m.a.peek(0), m.b.peek(0)
		if y != nil && y.kind == faultStep {
			return m.differ(x, y, y.text+" in the output")
		}
		if x != nil && x.kind == faultStep {
			return m.differ(x, y, x.text+" in the program, and the output has gone up for it")
		}
		if m.skip(x, y) {
			continue
		}
		if (x == nil) == (y == nil) && (x == nil || x.kind == y.kind) {
			if d := m.compareState(x, y); d != nil {
				return d
			}
		}
		if x == nil && y == nil {
			return nil
		}
		if d := m.pair(x, y); d != nil {
			return d
		}
	}
}

// takeState takes over what is in force.
func (s *side) takeState() {
	for {
		x := s.peek(0)
		if x == nil || x.kind != stateStep {
			return
		}
		s.now, s.line, s.changed = *x.state, x.line, true
		s.next()
	}
}

// pair compares what comes next on both sides and goes past it.
func (m *matcher) pair(x, y *step) *Difference {
	switch {
	case x == nil || y == nil || x.kind != y.kind:
		return m.differ(x, y, "the program "+m.does(x)+", the output "+m.does(y))
	case x.kind == moveStep && x.rapid != y.rapid:
		return m.differ(x, y, "the program "+m.does(x)+", the output "+m.does(y))
	case x.kind == moveStep && !x.open() && !y.open():
		return m.chain(x, y)
	case x.kind == moveStep:
		if what := m.openDiffers(x, y); what != "" {
			return m.differ(x, y, what)
		}
	case x.kind == homeStep:
		if x.rapid != y.rapid || x.moves != y.moves || x.toKnown != y.toKnown || apart(&x.to, &y.to) > m.tol || m.feedsDiffer(&x.feed, &y.feed) {
			return m.differ(x, y, "the program "+m.does(x)+", the output "+m.does(y))
		}
	case x.kind == dwellStep:
		if math.Abs(x.number-y.number) > mostDwell {
			return m.differ(x, y, "the program "+m.does(x)+", the output "+m.does(y))
		}
	case x.number != y.number:
		return m.differ(x, y, "the program "+m.does(x)+", the output "+m.does(y))
	}
	m.a.next()
	m.b.next()
	return nil
}

// mostDwell is by how much rounding may change a dwell, in s: half of the
// coarsest unit that a dwell is written in, which is a millisecond.
const mostDwell = 0.0005 + 1e-9

// skip goes past what may stand on one side alone.
func (m *matcher) skip(x, y *step) bool {
	switch {
	case y != nil && y.kind == dwellStep && m.allowed.DwellsAdded && (x == nil || x.kind != dwellStep || math.Abs(x.number-y.number) > mostDwell):
		m.b.next()
		return true
	case y != nil && y.kind == stopStep && y.number != float64(interp.End) && m.allowed.StopsAdded && (x == nil || x.kind != stopStep || x.number != y.number):
		m.b.next()
		return true
	case isPath(x) && isPath(y) && x.rapid == y.rapid:
		return false
	}
	return m.skipTiny(&m.a, x) || m.skipTiny(&m.b, y)
}

func isPath(s *step) bool { return s != nil && s.kind == moveStep && !s.open() }

// skipTiny goes past moves that are together not longer than the tolerance:
// rounding may have made nothing of them. Where they end is compared with what
// comes behind them.
func (m *matcher) skipTiny(s *side, x *step) bool {
	if !isPath(x) {
		return false
	}
	n := m.tiny(s)
	for range n {
		s.next()
	}
	return n > 0
}

// tiny counts the moves of the path that comes next, if they are together not
// longer than the tolerance.
func (m *matcher) tiny(s *side) int {
	x := s.peek(0)
	length := x.length
	rapid := x.rapid
	for n := 1; length <= m.tol && n < batchSize; n++ {
		next := s.peek(n)
		if !goesOn(next, rapid) {
			return n
		}
		length += next.length
	}
	return 0
}

// goesOn says whether a step goes on along a path.
func goesOn(s *step, rapid bool) bool { return isPath(s) && s.rapid == rapid && !s.jump }

// chain compares two paths up to where both end: at a step that is no such
// move, or that begins elsewhere.
func (m *matcher) chain(x, y *step) *Difference {
	known := x.fromKnown & y.fromKnown
	if x.fromKnown != y.fromKnown && m.common.lengths && m.common.change && !m.allowed.Homed {
		return m.differ(x, y, "where the axes stand is known on one side only: "+axisNames(x.fromKnown^y.fromKnown))
	}
	from, other := only(&x.from, known), only(&y.from, known)
	d := apart(&from, &other)
	if d > m.tol {
		return m.differ(x, y, "the path begins "+m.length(d)+" away: "+m.places(&from, &other, known))
	}
	m.note(d, x, y)
	m.wrong, m.right = 0, 0
	w := walk{m: m, x: x, y: y, rapid: x.rapid, known: known, partial: x.fromKnown != y.fromKnown}
	return w.run()
}

// note keeps the greatest deviation.
func (m *matcher) note(d float64, x, y *step) {
	if d > m.proof.Deviation || m.proof.SourceLine == 0 {
		m.proof.Deviation, m.proof.SourceLine, m.proof.OutLine = d, x.line, y.line
	}
}
