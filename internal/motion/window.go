package motion

import "math"

// A move is one in the look-ahead window. Speeds are squared, mm^2/s^2: along a
// path of constant acceleration they are linear in the distance.
type move struct {
	length float64 // mm, or degrees where only rotary axes move
	speed  float64 // limit along the path
	slow   float64 // reciprocal of the acceleration, 0: none is too great
	entry  float64 // greatest at its start that the junction there allows, squared
	gain   float64 // of a straight move 2 * acceleration * length: most it can add or take off, squared
	keep   float64 // see window: 1 of a straight move

	wanted float64 // programmed speed along the path
	capped Limit   // what makes speed less
	why    Limit   // what makes entry less than the speeds of this move and the one before

	// Of what was in the window when it was last turned, from this move on: the
	// greatest entry speed from which one can leave with x is min(most, x*scale+slope).
	most, scale, slope float64
	mostWhy            Limit // of the move that most comes from

	sharp    float64 // reciprocal of the jerk
	alone    float64 // s, of a traverse in which each axis goes for itself
	lag      float64 // s, to take up backlash
	wait     float64 // s, for the spindle to come round
	feed     float64
	supply   supply // read since the move before
	line     int
	offset   int64
	pos, end int32
	cut      bool
	rotary   bool // only rotary axes move
	steady   bool // at its limit all along it has no more to count
	bent     bool // an arc: its bend is in Clock.bends
	chord    bool // see chord.go
}

// profile is the time of the move, in s, and the greatest speed on it, if it is
// entered and left with these squared speeds, of which vin and vout are the roots.
// They have to be such that it can be made: neither above the limit, nor further
// apart than gain.
func (m *move) profile(in, out, vin, vout float64) (seconds, top float64) {
	limit := m.speed * m.speed
	peak := (in + out + m.gain) / 2
	top = m.speed
	cruise := 0.0
	if peak >= limit {
		peak = limit
		if cruise = m.length - (2*limit-in-out)*m.slow/2; cruise > 0 {
			cruise /= m.speed
		} else {
			cruise = 0
		}
	} else {
		top = math.Sqrt(peak)
	}
	// (peak-in)/(top+v) is top-v without the loss of digits in a short move.
	up, down := 0.0, 0.0
	if peak > in {
		up = (peak - in) / (top + vin)
	}
	if peak > out {
		down = (peak - out) / (top + vout)
	}
	return (up+down)*m.slow + cruise, top
}

// A window is the queue of moves that the control knows: the oldest is the one
// it makes next. The greatest speed at the start of each, from which the axes
// can still come to rest at the end of the last, is
//
//	f(x) = min(entry, x*keep + gain)
//
// of the speed x at its end. Such functions compose to functions of the same
// form, min(most, x*scale + slope), so a queue of them is folded like two stacks:
// of the front part each move has the fold of itself and what follows, of the back
// part there is one fold for all. Each move is folded twice in its life, however
// long the window, and as nothing is ever subtracted no digits are lost.
type window struct {
	ring               []move // its length is a power of two
	head, flip, tail   int    // front: head to flip, back: flip to tail; indices in the ring modulo its length
	most, scale, slope float64
	mostWhy            Limit
}

// newWindow makes one for n moves.
func newWindow(n int) window {
	size := 1
	for size < n {
		size *= 2
	}
	return window{ring: make([]move, size), most: math.Inf(1), scale: 1}
}

func (w *window) at(i int) *move { return &w.ring[i&(len(w.ring)-1)] }

func (w *window) len() int { return w.tail - w.head }

// push takes in the move m, which was written to at(tail).
func (w *window) push(m *move) {
	if most := m.entry*w.scale + w.slope; most < w.most {
		w.most, w.mostWhy = most, m.why
	}
	w.slope += m.gain * w.scale
	w.scale *= m.keep
	w.tail++
}

// pop takes out the oldest move, which holds until the next push, and gives with it
// the greatest squared speed at its end: that with which the next one may be entered
// so that the axes can rest at the end of the last, and what makes it that: rest
// where it is the rest at the end. It is 0 of the last one.
func (w *window) pop(rest Limit) (m *move, x float64, why Limit) {
	if w.head == w.flip {
		w.turn()
	}
	m = w.at(w.head)
	w.head++
	x, why = w.slope, rest
	if w.most < x {
		x, why = w.most, w.mostWhy
	}
	if w.head < w.flip {
		next := w.at(w.head)
		if x = x*next.scale + next.slope; next.most <= x {
			x, why = next.most, next.mostWhy
		}
	}
	return m, x, why
}

// turn makes the back part the front.
func (w *window) turn() {
	most, scale, slope, why := math.Inf(1), 1.0, 0.0, ByFeed
	for i := w.tail - 1; i >= w.head; i-- {
		m := w.at(i)
		if most = most*m.keep + m.gain; !(m.entry > most) { // NaN where nothing limits it
			most, why = m.entry, m.why
		}
		slope = slope*m.keep + m.gain
		scale *= m.keep
		m.most, m.scale, m.slope, m.mostWhy = most, scale, slope, why
	}
	w.flip = w.tail
	w.most, w.scale, w.slope = math.Inf(1), 1, 0
}
