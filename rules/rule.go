// Package rules holds what is checked. A rule is a value: a name, a family, a
// level, a text, an example and a maker of checkers; one file a family. The
// engine (Check) walks a program once and shows every block, operation, fault
// and timed move to the checkers. The package prints nothing and knows no
// command line.
package rules

import (
	"tapefit/internal/interp"
	"tapefit/internal/motion"
	"tapefit/parser"
	"tapefit/profiles"
)

// Level is how bad a finding is, with the names of SARIF 2.1.0.
type Level uint8

const (
	Note    Level = iota // worth knowing
	Warning              // likely wrong, or slow; a person decides
	Error                // the machine would refuse it, or do other than is written
)

func (l Level) String() string { return [...]string{"note", "warning", "error"}[l] }

// A Rule is one thing that is checked.
type Rule struct {
	Name    string   // lower-case words with hyphens; part of the interface
	Family  string   // language, numbers, arcs, cycles, modes, spindle, turning, feeds, travel, tools, sequence, control, mechanics, silence; house for those of a profile
	Level   Level    // of its findings, as a rule
	Summary string   // one line: the fault
	Doc     string   // why it matters at the machine, and what to do; plain paragraphs
	Uses    []string // profile values it reads: "spindle.gears"
	Example Example
	// ExampleSet is laid over the machine of the example, each a PATH=VALUE: where
	// no machine of the library is of the kind.
	ExampleSet []string

	New func(m *profiles.Machine, opt *Options) Checker // a nil function in the Checker is not called
}

// An Example is a program on which a rule speaks, and its mending, on which it
// is silent. Both run in tests.
type Example struct {
	Machine string // an embedded machine or base
	Program string
	Mended  string
}

// A Checker looks at one program. What it remembers from one call to the next must
// be reached from State: an editor takes a check up again in its midst (Session).
type Checker struct {
	State []any                      // pointers to what it remembers, and maps
	Block func(*Pass, *parser.Block) // every block of the file, once, in order of the file
	Words Addresses                  // Block is for blocks with a word of these; none: for all
	Exec  func(*Pass, *parser.Block) // every block executed, as often as it is, before its operations
	After func(*Pass, *parser.Block) // every block executed, behind its operations, as often as it is
	Op    func(*Pass, *interp.Op)    // of the kinds in Ops, in order of execution
	Ops   Kinds
	// Steady says that of a move Op looks at State alone: if it has noted nothing, and
	// has not asked to stay, it has nothing to note and to remember as long as
	// State.Steady is the same, and is not called.
	Steady bool
	Fault  func(*Pass, *interp.Fault) // of the kinds in Faults
	Faults []interp.FaultKind
	Timed  func(*Pass, *motion.Timed)
	Losses bool // Timed has nothing to do for a move that loses no time, and need not be called
	End    func(*Pass)
}

// Kinds is a set of operation kinds.
type Kinds uint16

// Of makes a set.
func Of(kinds ...interp.OpKind) Kinds {
	var set Kinds
	for _, k := range kinds {
		set |= 1 << k
	}
	return set
}

// Addresses is a set of addresses of words.
type Addresses uint32

// With makes a set of capital letters.
func With(letters string) Addresses {
	var set Addresses
	for _, c := range []byte(letters) {
		set |= 1 << (c - 'A')
	}
	return set
}

// addresses are those of a block.
func addresses(b *parser.Block) Addresses {
	var set Addresses
	for i := range b.Words {
		set |= 1 << (b.Words[i].Address - 'A')
	}
	return set
}

// Options are what a person says beside the profile.
type Options struct {
	Offsets   map[string]profiles.Offset // over those of the profile, by code: "G54"
	Done      <-chan struct{}            // closed: the check ends where it is
	MaxBlocks int64                      // budget of executed blocks; 0: 100 million
	Stretches bool                       // the costliest stretches are gathered
	Watch     *Watch                     // nil: nobody looks on

	between func(whole bool) // see interp.Options
}

// A Watch looks on while a program is walked, to draw what it does. A nil
// function is not called.
type Watch struct {
	Move  func(op *interp.Op)              // each move, in order of execution
	Timed func(t *motion.Timed)            // each move of known time, in order, some time behind Move
	Stood func(op *interp.Op, now float64) // what is no move, when it is over: so many seconds from the start; all moves before are timed
}

// A Finding is one cause, wherever it repeats. Lines and columns count from 1,
// columns in bytes.
type Finding struct {
	Rule      *Rule
	Level     Level
	Line      int // first place
	Column    int
	EndLine   int // of the last place
	EndColumn int // behind its word
	Count     int
	Silenced  int    // places beside those, where the rule is silenced
	Offset    int64  // in the program, of the block at the first place
	MarkEnd   int    // column behind the word at the first place
	Source    string // the block at the first place, without its end of line; of a long one a piece around the word
	SourceCol int    // column of Source[0]: 1, but for a piece
	Message   string // what was seen and what this machine accepts
	Advice    string // what to do

	key uint64 // of the cause, for Compare
}

// Range is a least and a greatest value; Set says whether there is any.
type Range struct {
	Set      bool
	Min, Max float64
}

// Silenced counts the findings of a rule that are not among the others: it is
// off in the profile, or silenced by comments at each of their places.
type Silenced struct {
	Rule  *Rule
	Count int
}

// Result is what one program comes to on one machine.
type Result struct {
	Path     string
	Machine  *profiles.Machine
	Blocks   int
	Findings []Finding  // in order of place
	Silenced []Silenced // in order of the rules' names
	Times    motion.Times
	// Stretches are the costliest of the program, the longest first, if they were
	// asked for.
	Stretches []motion.Stretch
	// Dropped counts the executed blocks that leave something out, after a fault:
	// what that would take is not in Times. See interp.Interp.Dropped.
	Dropped int
	Extents [profiles.NumAxes]Range // of the tool tip, work coordinates, mm and degrees
}

// Count is how many findings have the level.
func (r *Result) Count(level Level) int {
	n := 0
	for i := range r.Findings {
		if r.Findings[i].Level == level {
			n++
		}
	}
	return n
}

// Incomplete says whether the time leaves something out that belongs to the
// job: what was not executed, and cuts whose way or feed is not known.
func (r *Result) Incomplete() bool {
	return r.Dropped > 0 || r.Times.UnknownCuts > 0 || r.Times.UnknownFeeds > 0
}
