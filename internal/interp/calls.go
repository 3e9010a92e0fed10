package interp

import (
	"fmt"
	"io"
	"math"

	"tapefit/parser"
	"tapefit/profiles"
)

// A frame is one level of calls: level 0 is the main program. Calls nest in
// Interp.frames and not on the stack of this program.
type frame struct {
	text  *text
	begin place // of the program
	next  place // where it goes on
	from  place // the block that called
	loops int   // how many of Interp.loops belong to the levels below
	times int64 // to be run
	done  int64 // of them
	own   bool  // it has local parameters of its own
}

// top is the frame in execution. It holds until the next call.
func (in *Interp) top() *frame { return &in.frames[len(in.frames)-1] }

// goTo makes the place the next to be executed.
func (in *Interp) goTo(at place) {
	in.top().next = at
	in.moved = true
}

// goOn executes from where the last block has led to, until the level base
// has returned or, on level 0, the place back of the main pass is reached.
func (in *Interp) goOn(base int, back int64) error {
	for len(in.frames) > base && !in.s.Ended {
		in.moved = false
		if len(in.frames) == 1 && in.top().next.offset >= back {
			return nil
		}
		if err := in.body(back); err != nil {
			return err
		}
	}
	in.moved = false
	return nil
}

// body executes blocks in the order of the text, until one leads elsewhere, the
// program ends or, on level 0, back is reached.
func (in *Interp) body(back int64) error {
	level, f := len(in.frames)-1, *in.top()
	if level > 0 {
		back = math.MaxInt64
	}
	for at := f.next; !in.moved && !in.s.Ended; {
		b, err := f.text.block(level, at)
		if err == io.EOF || err == nil && ends(b, f.begin) {
			if level == 0 { // the file has become shorter meanwhile
				at.offset = back
				in.goTo(at)
				return nil
			}
			in.leave()
			in.returnMissing(f.text, level, f.begin)
			return nil
		}
		if err != nil {
			return fmt.Errorf("line %d: %w", at.line, err)
		}
		at = after(b)
		if b.Kind == parser.Ordinary {
			if err := in.exec(b); err != nil {
				return err
			}
		}
		if !in.moved && at.offset >= back {
			in.goTo(at)
		}
	}
	return nil
}

// returnMissing tells of a subprogram that has run out without its return. The
// tool-change program of a profile needs none.
func (in *Interp) returnMissing(t *text, level int, begin place) {
	if t == in.change {
		return
	}
	b, err := t.block(level, begin)
	if err != nil { // the file has become shorter meanwhile
		return
	}
	for i := range b.Words {
		if b.Words[i].Address == 'O' {
			in.faultAt(ReturnMissing, b, i)
			in.emitFault()
		}
	}
}

// enter begins a call from block b.
func (in *Interp) enter(b *parser.Block, f frame) {
	caller := in.top()
	caller.next = after(b)
	f.next, f.from, f.loops = f.begin, place{b.Offset, b.Line}, len(in.loops)
	in.frames = append(in.frames, f)
	in.moved = true
}

// leave ends a call, or begins its next repeat.
func (in *Interp) leave() {
	in.moved = true
	f := in.top()
	in.loops = in.loops[:f.loops]
	f.done++
	if f.done < f.times {
		f.next = f.begin
		if f.own {
			in.locals.again()
		}
		return
	}
	if f.own {
		in.locals.pop()
	}
	in.frames = in.frames[:len(in.frames)-1]
}

// call enters the program that the block names, as often as it says; word is the code of
// the call. With arguments it gets local parameters of its own.
func (in *Interp) call(b *parser.Block, word int, arguments bool) error {
	w := &in.w
	if in.lathe.inside {
		in.faultCause(NotInterpreted, b, word, inContour)
		return nil
	}
	number, repeats, ok := in.callWords(b, word, arguments)
	levels := len(in.frames) - 1
	if in.changing {
		levels-- // the tool-change program is no call of the program's
	}
	switch {
	case !ok:
		return nil
	case levels >= in.m.Block.Subprograms:
		in.faultAt(CallTooDeep, b, w.at['P'-'A']).A = float64(in.m.Block.Subprograms)
		in.emitFault()
		return nil
	}
	text := in.top().text
	at, found, err := text.subprogram(number)
	if err != nil {
		return err
	}
	if !found {
		in.faultAt(SubprogramMissing, b, w.at['P'-'A']).A = float64(number)
		in.emitFault()
		in.lose()
		return nil
	}
	if repeats == 0 {
		return nil
	}
	if arguments {
		in.locals.push()
		in.setArguments()
	}
	in.enter(b, frame{text: text, begin: at, times: repeats, own: arguments})
	return nil
}

// argument is the local parameter that a word of a call with arguments sets, by
// common practice; 0 for G L N O P, which set none.
var argument = [26]uint8{
	0: 1, 'B' - 'A': 2, 'C' - 'A': 3, 'I' - 'A': 4, 'J' - 'A': 5, 'K' - 'A': 6, 'D' - 'A': 7, 'E' - 'A': 8, 'F' - 'A': 9,
	'H' - 'A': 11, 'M' - 'A': 13, 'Q' - 'A': 17, 'R' - 'A': 18, 'S' - 'A': 19, 'T' - 'A': 20, 'U' - 'A': 21, 'V' - 'A': 22, 'W' - 'A': 23,
	'X' - 'A': 24, 'Y' - 'A': 25, 'Z' - 'A': 26,
}

// callArguments is the block of a call with arguments: all its words are for
// the call.
func (in *Interp) callArguments(b *parser.Block) error {
	w := &in.w
	code := w.gAt[profiles.NonModal]
	for slot, m := range w.g {
		if m != profiles.Refused && profiles.Group(slot) != profiles.NonModal {
			in.faultConflict(b, w.gAt[slot], code)
		}
	}
	for slot, m := range w.m {
		if m != profiles.Refused {
			in.faultConflict(b, code, w.mAt[slot])
		}
	}
	if w.doubt { // what it would be called with is not known
		in.lose()
		return nil
	}
	return in.call(b, code, true)
}

// setArguments sets the new local parameters by the words of the block.
func (in *Interp) setArguments() {
	own := in.locals.own()
	for i, n := range argument {
		if n > 0 && in.w.has('A'+byte(i)) {
			own[n-1] = in.w.val[i]
		}
	}
	in.locals.keep()
}

// argumentOf is the address that would have set a local parameter in the call with
// arguments that the level in execution belongs to; 0: there is none.
func (in *Interp) argumentOf(number float64) byte {
	for i := len(in.frames) - 1; i > 0; i-- {
		if !in.frames[i].own {
			continue
		}
		for letter, n := range argument {
			if n > 0 && float64(n) == number {
				return 'A' + byte(letter)
			}
		}
	}
	return 0
}

// locals are the local parameters of all levels that have some. Each level
// keeps beside them what it was called with, for its repeats.
type locals struct {
	n   int // of one level
	all []float64
}

// own are those of the level in execution, #1 first.
func (l *locals) own() []float64 { return l.all[len(l.all)-2*l.n : len(l.all)-l.n] }

func (l *locals) push() { l.all = append(l.all, vacancy(make([]float64, 2*l.n))...) }

func (l *locals) pop() { l.all = l.all[:len(l.all)-2*l.n] }

// keep puts the values aside as what the level was called with; again takes
// them back.
func (l *locals) keep() { copy(l.all[len(l.all)-l.n:], l.own()) }

func (l *locals) again() { copy(l.own(), l.all[len(l.all)-l.n:]) }
