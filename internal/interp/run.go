package interp

import (
	"fmt"
	"io"
	"math"
	"strings"

	"tapefit/parser"
	"tapefit/profiles"
)

// Visitor is shown what happens, in order. Functions that are nil are not
// called. What they are given holds until they return.
type Visitor struct {
	Block func(*parser.Block) // every block of the file, once, in order of the file, whether executed or not
	Exec  func(*parser.Block) // every block executed, as often as it is, before its operations
	After func(*parser.Block) // every block executed, behind its operations; not those of a tool-change program
	Op    func(*Op)
	Fault func(*Fault)
}

// Options are what a person says beside the profile.
type Options struct {
	Offsets   map[string]profiles.Offset // over those of the profile, by code: "G54"
	MaxBlocks int64                      // budget of executed blocks and of operations; 0: DefaultMaxBlocks
	Done      <-chan struct{}            // closed: the program ends where it is; nil: never
	Between   func(whole bool)           // called in front of each block that the main pass comes to; whole: Resume can go on from there
}

// DefaultMaxBlocks is the budget of executed blocks and of operations: far more than any part
// needs, few enough to end a runaway within a minute or so.
const DefaultMaxBlocks = 100_000_000

// Interp executes one program. Make it with New, use it once.
type Interp struct {
	m     *profiles.Machine
	visit Visitor

	budget int64
	asked  int64 // the budget, in 65,536ths, when Done was last asked
	done   <-chan struct{}
	main   mainPass
	frames []frame // levels of calls
	loops  []loop
	turns  turns
	moved  bool // the block has led elsewhere than to the next one: frames has where
	locals locals

	change   *text // the tool-change program of the profile; nil where it has none
	changing bool  // it is being run
	changed  bool  // and has made the change
	outside  Visitor

	s      State
	w      words
	op     Op
	fault  Fault
	cycle  cycle
	work   [9]vector // work offsets
	shift  shift
	saved  vector    // set position as the last G92 made it; G92.3 brings it back
	homes  [2]vector // of G28 and of G30, machine coordinates
	probed bool      // a probe has moved
	tr     transform
	polar  polar
	wraps  AxisSet   // rotary axes whose places wrap
	params []float64 // 1 to 5399; nil until one is set
	// The first parameter that the expression being computed reads and nothing has
	// set; nil: none.
	vacant       *parser.Expr
	vacantNumber float64
	pending      []assignment
	steps        AxisSet // axes that target has moved by an increment from an unknown place

	lathe   turning
	away    uint32  // of U V W: addresses that are distances
	lacking AxisSet // axes that the machine does not have

	stretches uint64 // that were steady so far: see State.Steady

	left    bool // the block leaves out something that takes time: see Dropped
	dropped int  // blocks of which that is so

	linear   float64 // mm in one unit of the program: 1 or 25.4
	feedWord float64 // F as written, per minute
	over     map[string]profiles.Offset
	silent   bool // moves are made and not shown
	comp     comp
}

// New makes an interpreter for programs on machine m, in its power-up state
// with every position unknown.
func New(m *profiles.Machine, opt Options, visit Visitor) *Interp {
	in := &Interp{m: m, visit: visit, budget: opt.MaxBlocks, over: opt.Offsets, done: opt.Done, main: mainPass{between: opt.Between}}
	if in.budget <= 0 {
		in.budget = DefaultMaxBlocks
	}
	in.op.State = &in.s
	for i := range profiles.NumAxes {
		if m.Axis(i) == nil && m.Kind != "" {
			in.lacking |= 1 << i
		}
	}
	for _, letter := range []byte(m.Words.Incremental) {
		in.away |= letterBit(letter)
	}
	if in.locals.n = m.Block.Locals; in.locals.n > 0 {
		in.locals.push()
	}
	if program := m.Tools.ChangeProgram; program != "" {
		in.change = newText(strings.NewReader(program), int64(len(program)))
	}
	in.powerUp()
	return in
}

// State is what is in force now.
func (in *Interp) State() *State { return &in.s }

// A mainPass reads the file in its order.
type mainPass struct {
	r                *parser.Reader
	skip             int64 // what stands in front of it is jumped over
	blocks           int
	read, unreadable int // of those
	between          func(whole bool)
}

// Run executes the program in src, size bytes of text (see parser.Tape for a
// punched tape), to its end and reads what
// stands behind that end without executing it. It gives the number of blocks in
// the file. The error is one of reading src; what is wrong with the program is
// a Fault.
func (in *Interp) Run(src io.ReaderAt, size int64) (blocks int, err error) {
	in.frames = append(in.frames, frame{text: newText(src, size), times: 1})
	in.main.r = parser.NewFileReader(src, size)
	return in.mainRun()
}

// Mark is where the main pass stands, while it calls Between.
func (in *Interp) Mark() parser.Mark {
	m, _ := in.main.r.Mark()
	return m
}

// Resume is Run from a mark on, once all that the interpreter remembers has been put
// back as it was there: in a program that may be another behind the mark. See
// parser.NewReaderFrom for what must be the same.
func (in *Interp) Resume(src io.ReaderAt, size int64, from parser.Mark, done <-chan struct{}) (blocks int, err error) {
	in.frames[0].text = newText(src, size)
	in.main.r = parser.NewReaderFrom(src, size, from)
	in.done = done
	return in.mainRun()
}

// pause calls Between. What has been read elsewhere than in the main pass is kept,
// and searched for on both sides of the block: where there is any of that, what the
// interpreter has come to does not hang on the blocks before alone.
func (in *Interp) pause() {
	_, whole := in.main.r.Mark()
	if whole = whole && len(in.frames) == 1 && !in.frames[0].text.read; whole && in.change != nil {
		for i := range in.change.readers {
			in.change.readers[i].next = -1 // where a reader stands is not to be remembered
		}
	}
	in.main.between(whole)
}

func (in *Interp) mainRun() (blocks int, err error) {
	m := &in.main
	for {
		if m.between != nil {
			in.pause()
		}
		b, err := m.r.Next()
		if err == io.EOF {
			in.releaseHeld()
			return m.blocks, nil
		}
		if err != nil {
			return m.blocks, fmt.Errorf("block %d: %w", m.blocks+1, err)
		}
		if !in.counted(b) {
			return m.blocks, nil
		}
		if b.Kind != parser.Ordinary || in.s.Ended || b.Offset < m.skip {
			continue
		}
		if in.frames[0].begin.line == 0 {
			in.frames[0].begin = place{b.Offset, b.Line}
		}
		if err := in.exec(b); err != nil {
			return m.blocks, err
		}
		if in.moved {
			// What lies behind this block is for the loop here; what lies before
			// it, or in another program, is read again.
			if err := in.goOn(0, after(b).offset); err != nil {
				return m.blocks, err
			}
			m.skip = in.frames[0].next.offset
		}
	}
}

// counted counts a block of the file and shows it. False: so many cannot be read,
// or the file is so far from text, that this is no program.
func (in *Interp) counted(b *parser.Block) bool {
	m := &in.main
	if b.Kind != parser.Remainder {
		m.blocks++
	}
	if in.visit.Block != nil {
		in.visit.Block(b)
	}
	if len(b.Faults) > 0 {
		m.unreadable++
	} else if len(b.Words) > 0 {
		m.read++
	}
	if !m.r.Alien() && (m.unreadable < mostUnreadable || m.unreadable <= m.read) {
		return true
	}
	f := in.faultAt(NotAProgram, b, -1)
	f.A, f.B = float64(m.unreadable), float64(m.unreadable+m.read)
	in.emitFault()
	in.s.Ended = true
	return false
}

// mostUnreadable is how many blocks that cannot be read are borne before what
// can is counted against them: a letter, a picture or a list is no program, and
// each of its lines takes long.
const mostUnreadable = 100

// whole is v as a whole number, 0 or more. What is computed counts as whole
// within a ten-thousandth (NISTIR 6556).
func whole(v float64) (int64, bool) {
	n := math.Round(v)
	return int64(n), v > -1e-4 && v < 1e15 && math.Abs(v-n) <= 1e-4
}
