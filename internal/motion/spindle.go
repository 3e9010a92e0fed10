package motion

import (
	"math"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

// A spindle takes its times from the profile and remembers how it turns. All
// its methods give seconds.
type spindle struct {
	start, stop, reverse, shift float64
	turning                     bool    // gears may be shifted while it turns
	highest                     float64 // rpm

	state interp.SpindleState
	speed float64 // rpm, of the last that was known
}

func newSpindle(m *profiles.Machine) spindle {
	p := &m.Spindle
	s := spindle{
		start: float64(p.Start), stop: float64(p.Stop), reverse: float64(p.Reverse),
		shift: float64(p.ShiftTime), turning: p.Turning,
		state: interp.SpindleOff,
	}
	if s.reverse <= 0 {
		s.reverse = s.start + s.stop
	}
	if p.GoesOn {
		s.start = 0 // it comes up while the program goes on
	}
	if len(p.Speed) > 0 {
		s.highest = float64(p.Speed[len(p.Speed)-1])
		return s
	}
	for _, g := range p.Gears {
		if len(g.Speed) > 0 {
			s.highest = max(s.highest, float64(g.Speed[len(g.Speed)-1]))
		}
	}
	return s
}

// turns says whether it is known to turn.
func (s *spindle) turns() bool {
	return s.state == interp.SpindleCW || s.state == interp.SpindleCCW
}

// set goes over to how it turns after a block.
func (s *spindle) set(to *interp.State) float64 {
	if to.Spindle == interp.SpindleOff {
		return s.off()
	}
	before, turned, was := s.state, s.turns(), s.speed
	s.state = to.Spindle
	if to.Unknown&interp.UnknownSpeed == 0 {
		s.speed = to.Speed
	}
	switch {
	case !s.turns():
		return 0
	case !turned:
		return s.start
	case before != s.state:
		return s.reverse
	case s.highest > 0:
		return s.start * min(1, math.Abs(s.speed-was)/s.highest)
	}
	return 0
}

// off stops it.
func (s *spindle) off() float64 {
	turned := s.turns()
	s.state = interp.SpindleOff
	if turned {
		return s.stop
	}
	return 0
}

// pause stops it for a shift of gears and starts it again, where the gears do
// not shift while it turns.
func (s *spindle) pause() float64 {
	if s.turning || !s.turns() {
		return 0
	}
	return s.stop + s.start
}
