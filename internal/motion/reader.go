package motion

import "tapefit/profiles"

// A reader is the control reading ahead: a queue with room for some blocks,
// measured by the time that it took to make them ready.
type reader struct {
	block  float64 // for one block, s; 0: no limit
	room   float64 // most that can be ready, s
	ready  float64 // s
	blocks int     // executed and not yet charged
}

func newReader(m *profiles.Machine) reader {
	r := reader{block: max(0, float64(m.Control.BlockTime))}
	r.room = r.block * float64(max(m.Control.LookAhead, 1))
	r.fill()
	return r
}

func (r *reader) fill() { r.ready = r.room }

// take gives the blocks that were executed since it was last called.
func (r *reader) take() int {
	n := r.blocks
	r.blocks = 0
	return n
}

// use uses up blocks, then reads on for the seconds of what they do. It gives
// the time that the axes wait for the blocks first.
func (r *reader) use(blocks int, seconds float64) (wait float64) {
	if r.block == 0 {
		return 0
	}
	r.ready -= float64(blocks) * r.block
	if r.ready < 0 {
		wait = -r.ready
		r.ready = 0
	}
	r.ready = min(r.room, r.ready+seconds)
	return wait
}
