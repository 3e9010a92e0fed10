package adapt

import (
	"fmt"
	"io"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
)

// sight is what must be known of a program before its first block is written.
type sight struct {
	obscured   map[int]bool   // lines with a fault that leaves open what the program does
	structured bool           // it has calls, loops or expressions
	cycles     bool           // canned cycles drill holes
	deletes    bool           // blocks have a mark for block delete
	offsets    groups         // bit n: moves are made under work offset n
	marks      int            // % marks
	counted    bool           // its axis words are written without points
	unitless   bool           // a place is named before units are
	meant      map[int64]bool // sequence numbers that a jump or a contour leads to
	computed   bool           // which, is computed
	places     places
	shifts     bool // the operator must move the belt between two speeds
	change     bool // a tool is changed otherwise than the machine wants, or left elsewhere than it does
}

// leadsTo says whether something may lead to a block, by its sequence number.
func (s *sight) leadsTo(n *parser.Word) bool { return s.computed || s.meant[int64(n.Value)] }

// leads notes the sequence numbers that the block leads to.
func (s *sight) leads(n *numbering, b *parser.Block) {
	n.why, n.refs = "", n.references(b, 0, n.refs[:0])
	s.computed = s.computed || n.why != "" || len(s.meant) > mostRefs
	for i := range n.refs {
		s.meant[n.refs[i].number] = true
	}
}

// mostObscured is how many lines that cannot be followed are told.
const mostObscured = 1000

// unfollowed says whether a fault leaves open what the program does.
func (s *sight) unfollowed() bool { return len(s.obscured) > 0 }

// lookBy looks at the program as the control that it is written for. Where
// nobody said which, and the wide reading fails, it may be written for the
// machine itself: opt.From is then that.
func lookBy(src io.ReaderAt, size int64, opt *Options) (*sight, error) {
	s, err := look(src, size, opt)
	if !opt.Guess || err == nil && !s.unfollowed() || opt.From == opt.To {
		return s, err
	}
	own := *opt
	own.From = leavingOut(opt.To, opt.LeaveOut)
	if as, ownErr := look(src, size, &own); ownErr == nil && !as.unfollowed() {
		opt.From = own.From
		return as, nil
	}
	return s, err
}

// look reads the program once as the machine that it is written for would.
func look(src io.ReaderAt, size int64, opt *Options) (*sight, error) {
	s, err := glance(src, size, opt)
	if err == nil && s.unitless {
		return nil, fmt.Errorf("the program moves before it says its units, and %s does not know them: name the machine that it was written for with --from", opt.From.Name)
	}
	return s, err
}

// glance is look for a program whose units need not be known.
func glance(src io.ReaderAt, size int64, opt *Options) (*sight, error) {
	s := &sight{obscured: map[int]bool{}, meant: map[int64]bool{}, places: places{from: opt.From, to: opt.To}}
	from := opt.From
	numbers := &numbering{m: from}
	said, axes := from.Kind != "", false
	changes, own, belts := opt.changes(), newOwnChange(opt.From, opt.To), newBelting(opt)
	visit := interp.Visitor{
		Block: func(b *parser.Block) {
			s.deletes = s.deletes || b.Delete != 0
			if b.Kind == parser.Percent {
				s.marks++
			}
		},
		Exec: func(b *parser.Block) {
			changes.begins()
			s.structured = s.structured || structural(b, from)
			s.change = s.change || own != nil && own.setsPlace(b)
			s.leads(numbers, b)
			for i := range b.Words {
				word := &b.Words[i]
				switch {
				case word.Address == 'G' && meaningG(from, word).Group() == profiles.UnitsGroup:
					said = true
				case axes || word.Address < 'X' || word.Value == 0:
				default:
					axes = true
					s.counted = !word.Point && from.Numbers.Point != "optional" && from.Numbers.Point != "needed"
				}
			}
		},
		Op: func(op *interp.Op) {
			changes.op(op)
			s.places.op(op)
			belts.op(op)
			s.change = own.op(op, op.Block) != "" || s.change
			if op.Kind <= interp.Arc && !op.Home {
				s.cycles = s.cycles || op.InCycle
				s.offsets |= 1 << op.State.Offset
				s.unitless = s.unitless || !said
			}
		},
		Fault: func(f *interp.Fault) {
			if obscure(f) && len(s.obscured) < mostObscured {
				s.obscured[f.Block.Line] = true
			}
		},
	}
	var in *interp.Interp
	if changes != nil || belts != nil {
		visit.After = func(b *parser.Block) {
			s.change = s.change || changes != nil && changes.other(b)
			belts.ends(b, in.State())
		}
	}
	in = interp.New(from, interp.Options{Offsets: opt.Offsets, MaxBlocks: opt.MaxBlocks, Done: opt.Done}, visit)
	if _, err := in.Run(src, size); err != nil {
		return nil, err
	}
	s.shifts = belts != nil && belts.shifts
	return s, nil
}

// structural says whether the block is part of a program that is more than a
// list of blocks.
func structural(b *parser.Block, m *profiles.Machine) bool {
	if b.Flow != nil || len(b.Settings) > 0 {
		return true
	}
	for i := range b.Words {
		switch word := &b.Words[i]; {
		case word.Expr != nil:
			return true
		case word.Address == 'M':
			if m := meaningM(m, word); m == profiles.CallSubprogram || m == profiles.ReturnFromSubprogram {
				return true
			}
		case word.Address == 'G' && meaningG(m, word) == profiles.CallArguments:
			return true
		}
	}
	return false
}

// obscure says whether a fault leaves open what the program does.
func obscure(f *interp.Fault) bool {
	switch f.Kind {
	case interp.NotUsed, interp.TooManyM, interp.ParamVacant, interp.ArcForm, interp.ArcQuadrant, interp.CompEntryShort, interp.CompUnknown:
		return false
	case interp.NotAccepted:
		// An M code that nobody knows moves nothing: it stays, and is told.
		return f.Word < 0 || f.Block.Words[f.Word].Address != 'M'
	case interp.NotInterpreted:
		return f.Word < 0 || f.Block.Words[f.Word].Address != 'G' // the home position is not known
	}
	return true
}

func meaningG(m *profiles.Machine, w *parser.Word) profiles.Meaning { return m.G(tenths(w)) }

func meaningM(m *profiles.Machine, w *parser.Word) profiles.Meaning { return m.M(tenths(w)) }

// tenths is the code of a G or M word, ten to one.
func tenths(w *parser.Word) int { return int(w.Value*10 + 0.5) }
