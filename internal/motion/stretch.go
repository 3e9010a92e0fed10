package motion

import (
	"cmp"
	"slices"
)

// A Stretch is a part of a program that one tool makes and one thing holds back:
// cuts in a row, with the traverses between them and the dwells in them, as long as
// the same limit takes the most time from pass to pass; or dwells in a row.
type Stretch struct {
	Line, EndLine int // lowest and highest line of its moves
	Tool          int // -1: unknown
	Seconds       float64
	Cutting       float64 // of Seconds
	Lost          float64 // of Seconds: beyond length over feed; dwells are
	Limit         Limit   // what takes most of Lost; ByFeed where that is little
}

// mostStretches are kept.
const mostStretches = 10

// little is the share of a pass below which what it loses is not what limits it.
const little = 0.1

// Stretches gathers the costliest stretches of one program from its moves. It
// holds a few numbers, however long the program is.
type Stretches struct {
	top  []Stretch // the costliest, in no order
	now  stretching
	pass stretching // that goes on: from a traverse to the next one
}

// stretching is a stretch with what it loses by each limit.
type stretching struct {
	Stretch
	lost [NumLimits + 1]float64 // the last by dwells
	cut  bool                   // a cut has begun, so that a traverse ends the pass
}

// Add takes in the next move.
func (s *Stretches) Add(t *Timed) {
	p := &s.pass
	if p.Seconds > 0 && (t.Tool != p.Tool || p.cut && !t.Cut) {
		s.endPass()
	}
	if p.Seconds == 0 {
		p.Line, p.EndLine, p.Tool = t.Line, t.Line, t.Tool
	}
	p.Line, p.EndLine = min(p.Line, t.Line), max(p.EndLine, t.Line)
	p.Seconds += t.Seconds
	p.Lost += t.Lost
	p.lost[t.Limit] += t.Lost
	if t.Cut {
		p.cut = true
		p.Cutting += t.Seconds
	}
}

// Dwell takes in a dwell behind the moves so far. In a cut it belongs to that, as
// at the bottom of a hole; elsewhere it is a pass of its own.
func (s *Stretches) Dwell(line, tool int, seconds float64) {
	if !(seconds > 0) {
		return
	}
	seconds = min(seconds, longest)
	p := &s.pass
	inCut := p.cut && p.Tool == tool
	if !inCut {
		if p.Seconds > 0 {
			s.endPass()
		}
		p.Line, p.EndLine, p.Tool = line, line, tool
	}
	p.Line, p.EndLine = min(p.Line, line), max(p.EndLine, line)
	p.Seconds += seconds
	p.Lost += seconds
	p.lost[ByDwell] += seconds
	if !inCut {
		s.endPass()
	}
}

// endPass puts the pass to the stretch that goes on, if both are held back
// alike, and ends that stretch if not.
func (s *Stretches) endPass() {
	p := &s.pass
	p.Limit = p.most()
	if s.now.Seconds > 0 && (p.Tool != s.now.Tool || p.Limit != s.now.Limit) {
		s.end()
	}
	n := &s.now
	if n.Seconds == 0 {
		*n = *p
	} else {
		n.Line, n.EndLine = min(n.Line, p.Line), max(n.EndLine, p.EndLine)
		n.Seconds, n.Cutting, n.Lost = n.Seconds+p.Seconds, n.Cutting+p.Cutting, n.Lost+p.Lost
	}
	*p = stretching{}
}

// most is the limit that takes the most time, if it is not little.
func (p *stretching) most() Limit {
	at := ByFeed
	for k := range NumLimits + 1 {
		if p.lost[k] > p.lost[at] {
			at = k
		}
	}
	if p.Lost < little*p.Seconds {
		return ByFeed
	}
	return at
}

// end keeps the stretch, if it is among the costliest.
func (s *Stretches) end() {
	n := s.now.Stretch
	s.now = stretching{}
	if len(s.top) < mostStretches {
		s.top = append(s.top, n)
		return
	}
	least := 0
	for i := range s.top {
		if s.top[i].Seconds < s.top[least].Seconds {
			least = i
		}
	}
	if n.Seconds > s.top[least].Seconds {
		s.top[least] = n
	}
}

// Finish gives the costliest stretches, the longest first: ten at most.
func (s *Stretches) Finish() []Stretch {
	if s.pass.Seconds > 0 {
		s.endPass()
	}
	if s.now.Seconds > 0 {
		s.end()
	}
	slices.SortFunc(s.top, func(a, b Stretch) int {
		return cmp.Or(cmp.Compare(b.Seconds, a.Seconds), cmp.Compare(a.Line, b.Line))
	})
	return s.top
}
