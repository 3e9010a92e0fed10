package interp

import (
	"fmt"
	"io"

	"tapefit/parser"
	"tapefit/profiles"
)

// Visitor is shown what happens, in order. Functions that are nil are not
// called. What they are given holds until they return.
type Visitor struct {
	Block func(*parser.Block) // every block of the file, once, in order of the file, whether executed or not
	Exec  func(*parser.Block) // every block executed, as often as it is, before its operations
	Op    func(*Op)
	Fault func(*Fault)
}

// Options are what a person says beside the profile.
type Options struct {
	Offsets   map[string]profiles.Offset // over those of the profile, by code: "G54"
	MaxBlocks int64                      // budget of executed blocks; 0: DefaultMaxBlocks
}

// DefaultMaxBlocks is the budget of executed blocks: far more than any part
// needs, few enough to end a runaway within a minute or so.
const DefaultMaxBlocks = 100_000_000

// Interp executes one program. Make it with New, use it once.
type Interp struct {
	m     *profiles.Machine
	visit Visitor

	src     io.ReaderAt
	size    int64
	budget  int64
	depth   int              // of subprogram calls
	subs    map[int64]place  // of O words; nil until the first call
	readers []*parser.Reader // one for each depth of calls

	s       State
	w       words
	op      Op
	fault   Fault
	cycle   cycle
	work    [9]vector // work offsets
	shift   shift
	saved   vector    // set position put aside by G92.2
	params  []float64 // 1 to 5399; nil until one is set
	pending []assignment

	lathe turning
	away  uint32 // of U V W: addresses that are distances

	linear   float64 // mm in one unit of the program: 1 or 25.4
	feedWord float64 // F as written, per minute
	over     map[string]profiles.Offset
	silent   bool // moves are made and not shown
	comp     comp
}

// A place is where a subprogram begins.
type place struct {
	offset int64
	line   int
}

// New makes an interpreter for programs on machine m, in its power-up state
// with every position unknown.
func New(m *profiles.Machine, opt Options, visit Visitor) *Interp {
	in := &Interp{m: m, visit: visit, budget: opt.MaxBlocks, over: opt.Offsets}
	if in.budget <= 0 {
		in.budget = DefaultMaxBlocks
	}
	in.op.State = &in.s
	for _, letter := range []byte(m.Words.Incremental) {
		in.away |= letterBit(letter)
	}
	in.powerUp()
	return in
}

// State is what is in force now.
func (in *Interp) State() *State { return &in.s }

// Run executes the program in src, size bytes of text (see parser.Tape for a
// punched tape), to its end and reads what
// stands behind that end without executing it. It gives the number of blocks in
// the file. The error is one of reading src; what is wrong with the program is
// a Fault.
func (in *Interp) Run(src io.ReaderAt, size int64) (blocks int, err error) {
	in.src, in.size = src, size
	r := parser.NewFileReader(src, size)
	for {
		b, err := r.Next()
		if err == io.EOF {
			in.releaseHeld()
			return blocks, nil
		}
		if err != nil {
			return blocks, fmt.Errorf("block %d: %w", blocks+1, err)
		}
		blocks++
		if in.visit.Block != nil {
			in.visit.Block(b)
		}
		if b.Kind != parser.Ordinary || in.s.Ended {
			continue
		}
		if _, err := in.exec(b); err != nil {
			return blocks, err
		}
	}
}

// call executes the program that P names, as often as L says.
func (in *Interp) call(b *parser.Block) error {
	w := &in.w
	if !w.has('P') {
		in.faultMissing(b, w.mAt[stopSlot], 'P')
		return nil
	}
	times := 1.0
	if w.has('L') {
		times = w.val['L'-'A']
	}
	number, ok := whole(w.val['P'-'A'])
	repeats, okL := whole(times)
	switch {
	case !ok:
		in.faultValue(b, w.at['P'-'A'], "a program number is a whole number")
		return nil
	case !okL:
		in.faultValue(b, w.at['L'-'A'], "a count of repeats is a whole number, 0 or more")
		return nil
	case in.depth >= in.m.Block.Subprograms:
		in.faultAt(CallTooDeep, b, w.at['P'-'A']).A = float64(in.m.Block.Subprograms)
		in.emitFault()
		return nil
	}
	at, found, err := in.subprogram(number)
	if err != nil {
		return err
	}
	if !found {
		in.faultAt(SubprogramMissing, b, w.at['P'-'A']).A = float64(number)
		in.emitFault()
		in.lose()
		return nil
	}
	in.depth++
	defer func() { in.depth-- }()
	for range repeats {
		if err := in.body(at); err != nil {
			return err
		}
		if in.s.Ended {
			return nil
		}
	}
	return nil
}

// body executes from a place to the next return.
func (in *Interp) body(at place) error {
	r := in.reader(at)
	for first := true; ; first = false {
		b, err := r.Next()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return fmt.Errorf("line %d: %w", at.line, err)
		}
		if b.Kind != parser.Ordinary {
			return nil
		}
		// The next program number ends a body that lacks its return.
		if !first && b.Word('O') != nil {
			return nil
		}
		stop, err := in.exec(b)
		if err != nil {
			return err
		}
		if stop == profiles.ReturnFromSubprogram || in.s.Ended {
			return nil
		}
	}
}

// reader is the reader of this depth of calls, set to a place.
func (in *Interp) reader(at place) *parser.Reader {
	if in.depth > len(in.readers) {
		in.readers = append(in.readers, parser.NewReaderAt(in.src, at.offset, at.line))
		return in.readers[in.depth-1]
	}
	r := in.readers[in.depth-1]
	r.Rewind(in.src, at.offset, at.line)
	return r
}

// subprogram finds a program number in the file. The first search reads the
// file once and keeps the places of all.
func (in *Interp) subprogram(number int64) (place, bool, error) {
	if in.subs == nil {
		in.subs = map[int64]place{}
		r := parser.NewFileReader(in.src, in.size)
		for {
			b, err := r.Next()
			if err == io.EOF {
				break
			}
			if err != nil {
				return place{}, false, err
			}
			o := b.Word('O')
			if o == nil {
				continue
			}
			if n, ok := whole(o.Value); ok {
				if _, twice := in.subs[n]; !twice {
					in.subs[n] = place{b.Offset, b.Line}
				}
			}
		}
	}
	at, found := in.subs[number]
	return at, found, nil
}

// whole is v as a whole number, 0 or more.
func whole(v float64) (int64, bool) {
	n := int64(v)
	return n, v >= 0 && v < 1e15 && float64(n) == v
}

// spend takes one block or move from the budget and says whether it may be
// executed. The first that may not is a Fault; the program then ends.
func (in *Interp) spend(b *parser.Block, word int) bool {
	if in.budget > 0 {
		in.budget--
		return true
	}
	if !in.s.Ended {
		in.faultAt(Runaway, b, word)
		in.emitFault()
		in.s.Ended = true
	}
	return false
}
