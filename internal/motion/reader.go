package motion

import "tapefit/profiles"

// A reader is the control reading ahead: a queue with room for some blocks,
// measured by the time that it took to make them ready. Where the program comes
// over a link meanwhile, there is a second queue before it, of characters.
type reader struct {
	block float64 // for one block, s; 0: no limit
	room  float64 // most that can be ready, s
	ready float64 // s

	link   float64 // for one character over the link, s; 0: none, or not known
	memory int64   // bytes; -1: no program is kept in it
	char   float64 // link, or 0 where the program is in the memory
	store  float64 // most characters that can be ready, by the time they took, s
	held   float64 // s

	next supply // executed and not yet charged
}

// A supply is what has to be read.
type supply struct {
	blocks int
	chars  int
}

func newReader(m *profiles.Machine) reader {
	r := reader{block: max(0, float64(m.Control.BlockTime))}
	r.room = r.block * float64(max(m.Control.LookAhead, 1))
	r.fill()
	if l := m.Control.Link; l.Baud > 0 && l.Bits > 0 {
		r.link = float64(l.Bits) / float64(l.Baud)
		r.store = float64(max(l.Buffer, 1)) * r.link
	}
	r.memory = int64(m.Control.Memory)
	if m.Control.Drip {
		r.memory = -1
	}
	return r
}

// load takes a program of so many bytes: into the memory, if it fits.
func (r *reader) load(size int64) {
	if r.memory != 0 && size > r.memory { // 0: any fits
		r.char = r.link
		r.fill()
	}
}

func (r *reader) fill() { r.ready, r.held = r.room, r.store }

// take gives what was executed since it was last called.
func (r *reader) take() supply {
	s := r.next
	r.next = supply{}
	return s
}

// keepsUp is use where there is no link and the axes need not wait. False: there is
// one, or they have to, and nothing is used up yet.
func (r *reader) keepsUp(s supply, seconds float64) bool {
	ready := r.ready - float64(s.blocks)*r.block
	if ready < 0 || r.char > 0 {
		return false
	}
	if ready += seconds; ready > r.room {
		ready = r.room
	}
	r.ready = ready
	return true
}

// use uses up blocks, then reads on for the seconds of what they do. It gives
// the time that the axes wait for the blocks first, and what for.
func (r *reader) use(s supply, seconds float64) (wait float64, why Limit) {
	if r.block == 0 && r.char == 0 {
		return 0, ByBlockTime
	}
	r.ready -= float64(s.blocks) * r.block
	if r.ready < 0 {
		wait = -r.ready
	}
	if r.char > 0 {
		r.held -= float64(s.chars) * r.char
		if -r.held > wait {
			wait, why = -r.held, ByLink
		}
		r.held = min(r.store, r.held+wait+seconds)
	}
	if r.ready += wait + seconds; r.ready > r.room {
		r.ready = r.room
	}
	if why != ByLink {
		why = ByBlockTime
	}
	return wait, why
}
