package adapt

import (
	"bufio"
	"bytes"
	"math"
	"strconv"
	"strings"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
)

// mmPerInch is exact (international yard and pound agreement, 1959).
const mmPerInch = 25.4

// writer writes blocks for one machine and keeps the state that its control has
// when it has read them: what is written next depends on that, not on the state
// of the source.
type writer struct {
	m   *profiles.Machine
	out *bufio.Writer
	err error // of out, the first

	bytes  int64
	recent []byte // what was written for the block, up to mostRecent
	holds  bool   // lines are held in held, and not written
	open   bool   // the line written last has no end
	held   []byte
	buf    []byte // the block being written
	slash  bool   // it has block delete
	label  []byte // its sequence number, for the first line
	tail   []byte // its comment, for the first line
	moves  bool   // the line has a move, or another thing that a block does once
	said   bool   // a motion code of the block was written
	ms     int    // M codes in the line
	front  int    // so long is the line with no more than its number and S and M words; 0: it has none, or they stay
	blank  bool   // words are parted by blanks
	end    string // of a line
	count  bool   // numbers of axis words have no point

	// What is in force on the machine.
	motion    profiles.Meaning // Refused: to be said before the next move
	plane     interp.Plane
	distance  profiles.Meaning
	feedMode  profiles.Meaning
	units     profiles.Meaning
	retract   profiles.Meaning
	comp      profiles.Meaning
	diameter  bool    // X words are diameters
	feed      float64 // mm/s under per-minute, mm under per-revolution; 0: to be said before the next feed move
	speed     float64 // rpm; 0: not said
	spindle   interp.SpindleState
	gear      int    // -1: not known
	belts     uint64 // of gears shifted by hand: those that all speeds since the last stop can have
	tellsBelt bool   // the operator is told which
	at        interp.Point
	known     interp.AxisSet
	cycle     hole       // the canned cycle in force, motion says which
	levels    holeLevels // that it was told
	level     float64
	inCycle   bool // cycles stand in a row
	doubts    doubts
}

func newWriter(m *profiles.Machine, out *bufio.Writer) *writer {
	w := &writer{m: m, out: out, blank: true, end: "\n", gear: -1, belts: anyBelt, spindle: interp.SpindleOff, comp: profiles.CompOff}
	// The state at power-up is the interpreter's to know.
	s := interp.New(m, interp.Options{}, interp.Visitor{}).State()
	w.motion, w.plane, w.distance, w.feedMode = s.Motion, s.Plane, s.Distance, s.FeedMode
	w.units, w.retract, w.gear, w.diameter = s.Units, s.Retract, s.Gear, s.Diameter
	return w
}

// write writes a line as it is, with its end. Behind the last line of a text, which may
// have none, it begins another.
func (w *writer) write(line []byte) {
	if text := bytes.Trim(line, "\x00"); len(text) > 0 && !w.holds { // NUL is blank tape
		if w.open && text[0] != '\n' && text[0] != '\r' {
			w.open = false
			w.write([]byte(w.end))
		}
		last := text[len(text)-1]
		w.open = last != '\n' && last != '\r'
	}
	if len(w.recent) < mostRecent {
		w.recent = append(w.recent, line...)
	}
	if w.holds {
		w.held = append(w.held, line...)
		return
	}
	if w.err == nil {
		_, w.err = w.out.Write(line)
	}
	w.bytes += int64(len(line))
}

// mostRecent is how much of what was written for a block is shown as an example.
const mostRecent = 120

// flush ends the line being written and writes it, if it has anything.
func (w *writer) flush() {
	if len(w.buf) == 0 {
		return
	}
	w.behind()
	w.fit()
	if len(w.tail) > 0 {
		if longest := w.m.Block.Longest; longest > 0 && len(w.buf)+1+len(w.tail) > longest {
			line := append([]byte(nil), w.buf...)
			w.comments()
			w.buf = append(w.buf[:0], line...)
		} else {
			w.buf = append(append(w.buf, ' '), w.tail...)
			w.tail = w.tail[:0]
		}
	}
	w.buf = append(w.buf, w.end...)
	w.write(w.buf)
	w.buf, w.moves, w.ms = w.buf[:0], false, 0
}

// behind puts S and M words that stand in front of the moves of the line behind
// them, where people write them. They are carried out in one order, wherever in
// the block they stand (NISTIR 6556, table 8).
func (w *writer) behind() {
	front := w.front
	w.front = 0
	if front == 0 || front >= len(w.buf) {
		return
	}
	number := 0
	for number < front && (number < 2 && strings.IndexByte("/Nn", w.buf[number]) >= 0 || w.buf[number] >= '0' && w.buf[number] <= '9') {
		number++
	}
	codes, moves := bytes.TrimSpace(w.buf[number:front]), bytes.TrimSpace(w.buf[front:])
	line := w.joined(w.joined(append([]byte(nil), w.buf[:number]...), moves), codes)
	w.buf = append(w.buf[:0], line...)
}

// comments writes the comment alone, in as many lines as it needs.
func (w *writer) comments() {
	text := string(w.tail)
	w.tail = w.tail[:0]
	for _, line := range broken(text, w.m.Block.Longest) {
		w.write([]byte(line + w.end))
	}
}

// flushEmpty ends a block of which nothing but the comment, or not even that, is
// left.
func (w *writer) flushEmpty() {
	w.flush()
	if len(w.tail) > 0 {
		w.comments()
	}
}

// room begins a word.
func (w *writer) room() {
	if len(w.buf) == 0 {
		if w.slash {
			w.buf = append(w.buf, '/')
		}
		w.buf = append(w.buf, w.label...)
		w.label = w.label[:0]
	}
	if n := len(w.buf); w.blank && n > 0 && w.buf[n-1] != '/' {
		w.buf = append(w.buf, ' ')
	}
}

// text appends a word as it is written.
func (w *writer) text(word []byte) {
	w.room()
	if word[0] == 'M' || word[0] == 'm' {
		w.ms++
	}
	w.buf = append(w.buf, word...)
}

// code appends the machine's code for a meaning: "G17".
func (w *writer) code(m profiles.Meaning) {
	w.text([]byte(w.m.CodeFor(m)))
}

// whole appends a word that is a count: T3, H3.
func (w *writer) whole(address byte, v float64) {
	w.room()
	w.buf = append(w.buf, address)
	w.buf = strconv.AppendFloat(w.buf, round(v, 3), 'f', -1, 64)
}

// inch is how many mm are in one unit that the machine now reads.
func (w *writer) inch() float64 { return inUnits(w.units) }

// inUnits is what one in the units is worth, mm.
func inUnits(units profiles.Meaning) float64 {
	if units == profiles.UnitsInch {
		return mmPerInch
	}
	return 1
}

// decimals are the digits behind the point that are written.
func (w *writer) decimals() int {
	d := &w.m.Numbers.Decimals
	switch {
	case w.units == profiles.UnitsInch && d.Inch > 0:
		return d.Inch
	case w.units == profiles.UnitsInch:
		return 6 // no limit: finer than any control moves
	case d.MM > 0:
		return d.MM
	}
	return 5
}

// step is what one in the last digit written moves axis i: mm or degrees.
func (w *writer) step(i int) float64 {
	step := math.Pow10(-w.decimals())
	if i < firstRotary {
		step *= w.inch()
	}
	if i == 0 && w.diameter {
		step /= 2
	}
	return step
}

// firstRotary is the index of A.
const firstRotary = 3

// snap is the nearest place along axis i that can be written.
func (w *writer) snap(i int, v float64) float64 {
	step, off := w.step(i), w.off(i)
	return math.Round((v-off)/step)*step + off
}

// off is how far beside the places that can be written the machine stands along
// axis i, mm, and stays while it moves by distances: it has come there in other
// units.
func (w *writer) off(i int) float64 {
	if w.distance != profiles.Incremental || !w.known.Has(i) {
		return 0
	}
	return beside(w.at[i], w.step(i))
}

// beside is how far v lies from the nearest multiple of step.
func beside(v, step float64) float64 {
	if off := v - math.Round(v/step)*step; math.Abs(off) > 1e-7 {
		return off
	}
	return 0
}

// goTo appends the word that brings axis i to a place, or to the nearest that
// can be written: in incremental mode by the distance from where the machine
// then stands, so that rounding does not add up.
func (w *writer) goTo(i int, to float64) {
	step := w.step(i)
	n := math.Round(to / step)
	if w.distance == profiles.Incremental {
		to = w.snap(i, to)
		n = math.Round((to - w.at[i]) / step)
	} else {
		to = n * step
	}
	w.at[i] = to
	w.known |= 1 << i
	w.sure(1 << i)
	w.number(profiles.AxisLetters[i], n)
}

// goBy appends the word that moves axis i by a distance, from a place that is
// not known.
func (w *writer) goBy(i int, by float64) { w.number(profiles.AxisLetters[i], math.Round(by/w.step(i))) }

// number appends a word with n in the last digit.
func (w *writer) number(address byte, n float64) {
	w.room()
	w.buf = append(w.buf, address)
	if w.count {
		w.buf = w.appendCount(w.buf, n)
		return
	}
	w.buf = appendPoint(w.buf, n, w.decimals())
}

// appendPoint writes n/10^d with its point and without zeros at the end.
func appendPoint(dst []byte, n float64, d int) []byte {
	if n < 0 {
		dst = append(dst, '-')
		n = -n
	}
	whole, scale := int64(n), int64(1)
	for range d {
		scale *= 10
	}
	dst = append(strconv.AppendInt(dst, whole/scale, 10), '.')
	for rest := whole % scale; rest > 0; rest %= scale {
		scale /= 10
		dst = append(dst, byte('0'+rest/scale))
	}
	return dst
}

// appendCount writes n without a point: zeros in front are left off, or those at
// the end.
func (w *writer) appendCount(dst []byte, n float64) []byte {
	if n < 0 {
		dst = append(dst, '-')
		n = -n
	}
	if w.m.Numbers.Suppress != "trailing" || n == 0 {
		return strconv.AppendFloat(dst, n+0, 'f', 0, 64)
	}
	digits := w.m.Numbers.Digits.MM
	if w.units == profiles.UnitsInch {
		digits = w.m.Numbers.Digits.Inch
	}
	from := len(dst)
	for rest := n; rest < math.Pow10(digits+w.decimals()-1); rest *= 10 {
		dst = append(dst, '0')
	}
	dst = strconv.AppendFloat(dst, n, 'f', 0, 64)
	for len(dst) > from+1 && dst[len(dst)-1] == '0' {
		dst = dst[:len(dst)-1]
	}
	return dst
}

// feedWord appends F where the feed is another than the one in force, mm/s.
func (w *writer) feedWord(feed float64) {
	if feed <= 0 || sameRate(feed, w.feed) {
		return
	}
	w.feed = feed
	perMinute := feed * 60 / w.inch()
	// To a ten-thousandth of itself, which is finer than any drive.
	w.rate(perMinute, min(max(4-int(math.Floor(math.Log10(perMinute))), 2), 4))
}

// revWord appends F where the feed by the revolution is another than the one in
// force, mm.
func (w *writer) revWord(feed float64) {
	if feed <= 0 || sameRate(feed, w.feed) {
		return
	}
	w.feed = feed
	w.rate(feed/w.inch(), 6)
}

// rate appends F with n, to d digits behind the point where it has one.
func (w *writer) rate(n float64, d int) {
	w.room()
	w.buf = append(w.buf, 'F')
	switch w.m.Numbers.FeedPoint {
	case "counts", "refused":
		w.buf = w.appendCount(w.buf, math.Round(n*math.Pow10(w.decimals())))
	default:
		w.buf = appendPoint(w.buf, math.Round(n*math.Pow10(d)), d)
	}
}

func sameRate(a, b float64) bool { return math.Abs(a-b) <= 1e-6*math.Max(math.Abs(a), math.Abs(b)) }

func round(v float64, d int) float64 { return math.Round(v*math.Pow10(d)) / math.Pow10(d) }

// follow takes over what a block that was written as it stood has changed, from
// the states of the source before and after it. said are the modal groups that
// it names.
func (w *writer) follow(before, after *interp.State, moved interp.AxisSet, said groups) {
	if said.has(profiles.MotionGroup) || before.Motion != after.Motion {
		w.motion = after.Motion
	}
	if said.has(profiles.PlaneGroup) {
		w.plane = after.Plane
	}
	if said.has(profiles.DistGroup) {
		w.distance = after.Distance
	}
	if said.has(profiles.FeedGroup) {
		w.feedMode = after.FeedMode
		w.feed = 0
	}
	if said.has(profiles.UnitsGroup) {
		w.units = after.Units
	}
	if said.has(profiles.RetractGroup) {
		w.retract = after.Retract
	}
	if said.has(profiles.CompGroup) {
		w.comp = after.Comp
	}
	if said.has(profiles.DiameterGroup) {
		w.diameter = after.Diameter
	}
	if !w.motion.IsCycle() {
		w.inCycle = false
	}
	if w.motion.IsCycle() && !w.inCycle {
		_, _, normal := w.plane.Axes()
		w.inCycle, w.level = true, before.At[normal]
	}
	w.sure(moved)
	for i := range profiles.NumAxes {
		if moved.Has(i) {
			w.at[i] = after.At[i]
			w.known = w.known&^(1<<i) | after.Known&(1<<i)
		}
	}
	w.spindle = after.Spindle
}

// groups is a set of modal groups of G codes.
type groups uint32

func (g groups) has(group profiles.Group) bool { return g>>group&1 == 1 }

// lineEnd is the end of line of a block.
func lineEnd(b *parser.Block) string {
	raw := b.Raw
	n := len(raw)
	switch {
	case n > 1 && raw[n-2] == '\r' && raw[n-1] == '\n':
		return "\r\n"
	case n > 0 && raw[n-1] == '\r':
		return "\r"
	case n > 0 && raw[n-1] == '\n':
		return "\n"
	}
	return ""
}
