// Package adapt writes a part program anew so that another machine runs it: the
// same moves, feeds, tools, spindle and coolant, in the form that its control
// reads. Blocks that mean the same there stay as they are, byte for byte; the
// others are changed as little as will do, or written from the operations that
// they stand for. What it wrote is read again and compared with the source
// before anybody may use it. What needs a person to decide is not guessed: it
// is told, and nothing is written.
package adapt

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"slices"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
	"tapefit/rules"
)

// Options are what a person says.
type Options struct {
	From, To   *profiles.Machine // what the program is written for, and what shall run it
	Guess      bool              // nobody said what it is written for
	Offsets    map[string]profiles.Offset
	Passes     map[string]bool // by name: asked for (true), or not to be made (false)
	Tolerance  float64         // mm: of chords for curves, and of Thin; 0: DefaultTolerance
	Home       Place           // where moves to the home position go on a machine without them
	Start      Place           // where the tool stands when the program begins; written as a set position
	LeaveOut   map[int]bool    // M codes, by tenths, that a person wants left out
	Delete     Delete          // what becomes of blocks with block delete
	NumberFrom int             // of Renumber: the first number; 0: DefaultNumber
	NumberBy   int             // and the step to the next; 0: DefaultNumber
	MaxBlocks  int64           // budget of executed blocks; 0: that of package interp
	Done       <-chan struct{} // closed: the run ends where it is
}

// Place is a place in work coordinates, mm; nil where nothing is said.
type Place [profiles.NumAxes]*float64

// DefaultTolerance is how far chords may lie from the curve that they stand for,
// in mm: a fifth of what common practice allows a milled profile.
const DefaultTolerance = 0.005

// A Change is what one pass did.
type Change struct {
	Pass  *Pass
	Count int    // blocks of the source
	Line  int    // of the first
	Was   string // it, as it was
	Now   string // and the first block written for it
}

// Left is what a person must decide or know.
type Left struct {
	Level  rules.Level // Error: nothing is written
	Line   int         // of the source, first place
	Count  int
	What   string // was seen
	Decide string // what to do
}

// Result is what came of one program.
type Result struct {
	From, To    *profiles.Machine
	Fits        bool            // the program fits as it stands: it was copied
	Written     bool            // something was written, and the proof holds
	Unfollowed  []rules.Finding // why the source cannot be followed: nothing is written
	Changes     []Change        // in order of Passes
	Left        []Left          // in order of place
	Before      *rules.Result   // of the source, as the machine would read it
	After       *rules.Result   // of what was written; nil where nothing was
	Read, Wrote int64           // bytes
	Proof       Proof
}

// Worst is the highest level of what is left: of findings on what was written,
// and of what a person must decide. ok is false where nothing is left.
func (r *Result) Worst() (worst rules.Level, ok bool) {
	if len(r.Unfollowed) > 0 {
		return rules.Error, true
	}
	for i := range r.Left {
		worst, ok = max(worst, r.Left[i].Level), true
	}
	if r.After != nil {
		for i := range r.After.Findings {
			worst, ok = max(worst, r.After.Findings[i].Level), true
		}
	}
	return worst, ok
}

// File is what a program is written to and read again from.
type File interface {
	io.Writer
	io.ReaderAt
}

// Run adapts the program in src, size bytes long, called path in reports, and
// writes it to out. Whether what is in out may be used, Result.Written says. The
// error is one of reading or writing, or a *Difference: the proof failed.
func Run(out File, src io.ReaderAt, size int64, path string, opt Options) (*Result, error) {
	src, _, err := parser.Tape(src, size)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	var deleted *Change
	if opt.Delete != DeleteKept {
		text, change, err := settled(src, size, opt.Delete)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
		defer text.Close()
		src, deleted = text, change
	}
	if opt.Tolerance == 0 {
		opt.Tolerance = DefaultTolerance
	}
	if opt.Guess && opt.To.Kind == "lathe" {
		opt.From = opt.To // what is wide for mills is another language there
	}
	base := leavingOut(opt.From, opt.LeaveOut)
	opt.From = suited(base, opt.To, opt.Guess)
	checked := rules.Options{Offsets: opt.Offsets, MaxBlocks: opt.MaxBlocks, Done: opt.Done}
	res := &Result{To: opt.To, Read: size}
	if deleted != nil {
		res.Changes = append(res.Changes, *deleted)
	}
	before := async(func() (*rules.Result, error) { return rules.Check(src, size, path, opt.To, rules.All(), checked) })
	seen, err := lookBy(src, size, &opt)
	res.From = opt.From
	var early *attempt
	if err == nil && !seen.unfollowed() {
		if early, err = begin(src, size, seen, res, &opt); err == nil {
			defer early.drop()
		}
	}
	if err == nil {
		err = unambiguous(src, size, base, seen, &opt)
	}
	if res.Before, err = join(before, err); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	if res.Fits, err = fits(res, src, size, seen, &opt); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	if res.Fits {
		res.After, res.Wrote, res.Written = res.Before, size, true
		res.tellPlaces(&seen.places)
		_, err = io.Copy(out, io.NewSectionReader(src, 0, size))
		return res, err
	}
	if seen.unfollowed() {
		return res, unfollowed(res, seen, src, size, path, checked)
	}
	if err := early.take(out, res); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	res.tellPlaces(&seen.places)
	if res.mustDecide() {
		return res, nil
	}
	return res, res.prove(Side{src, size, opt.From, opt.Offsets}, Side{out, res.Wrote, opt.To, opt.Offsets}, path, seen, &opt, checked)
}

// prove checks and proves what was written.
func (r *Result) prove(source, out Side, path string, seen *sight, opt *Options, checked rules.Options) error {
	after := async(func() (*rules.Result, error) {
		return rules.Check(out.Src, out.Size, path, out.Machine, rules.All(), checked)
	})
	var err error
	r.Proof, err = Prove(source, out, r.allowed(opt))
	if err == nil && seen.deletes {
		err = r.proveSwitched(source, out, r.allowed(opt))
	}
	var checkErr error
	if r.After, checkErr = join(after, nil); err != nil || checkErr != nil {
		r.After = nil
	}
	if err := errors.Join(err, checkErr); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	r.Written = !r.mustDecide()
	return nil
}

type outcome[T any] struct {
	value T
	err   error
}

// async runs f beside what goes on; join waits for it.
func async[T any](f func() (T, error)) <-chan outcome[T] {
	c := make(chan outcome[T], 1)
	go func() {
		v, err := f()
		c <- outcome[T]{v, err}
	}()
	return c
}

func join[T any](c <-chan outcome[T], err error) (T, error) {
	o := <-c
	if err == nil {
		err = o.err
	}
	return o.value, err
}

func (r *Result) mustDecide() bool {
	return slices.ContainsFunc(r.Left, func(l Left) bool { return l.Level == rules.Error })
}

// fits says whether the program fits as it stands: nothing is found on the
// machine that a pass would mend, no pass was asked for, and the machine does
// what was meant.
func fits(res *Result, src io.ReaderAt, size int64, seen *sight, opt *Options) (bool, error) {
	for _, on := range opt.Passes {
		if on {
			return false, nil
		}
	}
	mended := map[string]bool{}
	for _, p := range Passes() {
		for _, name := range p.Mends {
			mended[name] = mended[name] || opt.makes(p)
		}
	}
	for i := range res.Before.Findings {
		if f := &res.Before.Findings[i]; mended[f.Rule.Name] {
			return false, nil
		}
	}
	if deleted := len(res.Changes) > 0; deleted || seen.change {
		return false, nil
	}
	switch {
	case opt.From == opt.To:
		return true, nil
	case seen.unfollowed(): // nobody said which control it was written for, and the machine reads it all
		return opt.Guess && res.Before.Dropped == 0, nil
	}
	var different *Difference
	proof, err := Prove(Side{src, size, opt.From, opt.Offsets}, Side{src, size, opt.To, opt.Offsets}, Allowed{LeftOut: leftOut(opt)})
	if errors.As(err, &different) {
		if opt.Guess {
			return false, inItsOwnWay(opt, different)
		}
		return false, nil
	}
	res.Proof = proof
	return err == nil, err
}

// makes says whether a pass is made where it is needed.
func (o *Options) makes(p *Pass) bool {
	if on, said := o.Passes[p.Name]; said {
		return on
	}
	return !p.Asked
}

// unfollowed says why the source cannot be followed.
func unfollowed(res *Result, seen *sight, src io.ReaderAt, size int64, path string, opt rules.Options) error {
	r, err := rules.Check(src, size, path, res.From, rules.All(), opt)
	if err != nil {
		return err
	}
	for i := range r.Findings {
		if f := &r.Findings[i]; seen.obscured[f.Line] && f.Level == rules.Error {
			res.Unfollowed = append(res.Unfollowed, *f)
		}
	}
	return nil
}

// rewriteAll writes the program for the machine. One with calls, loops or
// expressions stays one where that can be, else it is written out.
func rewriteAll(out io.Writer, src io.ReaderAt, size int64, seen *sight, res *Result, opt *Options) error {
	if seen.structured && structures(opt.From, opt.To) && opt.makesNot(Unroll) {
		if done, err := rewriteBy(out, src, size, seen, res, opt, true); done || err != nil {
			return err
		}
	}
	_, err := rewriteBy(out, src, size, seen, res, opt, false)
	return err
}

// makesNot says whether a pass was not asked for.
func (o *Options) makesNot(name string) bool { return !o.Passes[name] }

// rewriteBy writes the program, structured or written out. It gives false,
// having written nothing, where it cannot stay structured.
func rewriteBy(out io.Writer, src io.ReaderAt, size int64, seen *sight, res *Result, opt *Options, structured bool) (bool, error) {
	buffered := bufio.NewWriterSize(out, 1<<16)
	return newAdapter(opt, newWriter(opt.To, buffered), seen, res, structured).write(buffered, src, size)
}

// write follows the program and writes it.
func (a *adapter) write(buffered *bufio.Writer, src io.ReaderAt, size int64) (bool, error) {
	opt, res := a.opt, a.res
	in := interp.New(opt.From, interp.Options{Offsets: opt.Offsets, MaxBlocks: opt.MaxBlocks, Done: opt.Done},
		interp.Visitor{Block: a.onBlock, Exec: a.onExec, After: a.onAfter, Op: a.onOp, Fault: a.onFault})
	a.state = in.State()
	if _, err := in.Run(src, size); err != nil {
		return false, err
	}
	if a.structure.on {
		if a.structure.failed {
			return false, nil
		}
		if err := a.writeStructure(src, size); err != nil {
			return false, err
		}
	}
	a.finish()
	if a.w.err == nil {
		a.w.err = buffered.Flush()
	}
	if a.w.err != nil {
		return false, fmt.Errorf("writing: %w", a.w.err)
	}
	res.Wrote, res.Fits = a.w.bytes, !a.touched && len(res.Changes) == 0
	return true, nil
}
