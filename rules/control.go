package rules

import (
	"fmt"

	"tapefit/internal/motion"
	"tapefit/parser"
	"tapefit/profiles"
)

// control are the rules about what the control can hold and how fast it reads.
func control() []*Rule {
	return []*Rule{
		{
			Name: "block-too-long", Family: "control", Level: Error,
			Summary: "a block of more characters than the control reads",
			Doc:     `A block goes into a buffer of fixed length. What is longer is cut off or refused; cut off, a coordinate can lose its last digits.`,
			Uses:    []string{"block.longest"},
			Example: Example{"knee-mill", "%\n(A COMMENT OF MORE THAN EIGHTY CHARACTERS, AS POSTS WRITE THEM WITH PART AND FIXTURE NAMES)\nM30\n%\n", "%\n(A SHORT COMMENT)\nM30\n%\n"},
			New:     newBlockTooLong,
		},
		{
			Name: "program-too-big-for-memory", Family: "control", Level: Error,
			Summary: "the program does not fit into the control's memory",
			Doc:     `What does not fit must be drip-fed over the line, if the control can, or split at a tool change.`,
			Uses:    []string{"control.memory"},
			Example: Example{Machine: "knee-mill"},
			New:     newTooBig,
		},
		{
			Name: "blocks-faster-than-control", Family: "control", Level: Warning,
			Summary: "short blocks come faster than the control reads them",
			Doc:     `Each block takes the control a fixed time to make ready. Where moves are shorter in time than that, the axes wait for the control: the feed sags, the machine shudders from block to block, and the cutter rubs and leaves marks. The message tells the blocks a second that the feed asks for, those that the control reads, and the feed that really results. Isolated short blocks among long ones are taken up by the control's look-ahead and are not reported.`,
			Uses:    []string{"control.block_time", "control.look_ahead", "axes.*.acceleration"},
			Example: Example{"bed-mill", starved, "%\nG0 X0 Y0\nG1 X10. F40.\nM30\n%\n"},
			New:     newFaster,
		},
	}
}

// starved is a program of chords that a control with 8 ms a block cannot feed.
const starved = "%\nG0 X0 Y0\nG91\nG1 F100.\nM98 P2 L200\nM30\nO2\nX0.005\nX0.005 Y0.0001\nM99\n%\n"

func newBlockTooLong(m *profiles.Machine, _ *Options) Checker {
	longest := m.Block.Longest
	if longest == 0 {
		return Checker{}
	}
	return Checker{Block: func(p *Pass, b *parser.Block) {
		// A block without its end of line is never longer than with it.
		if len(b.Raw) <= longest || b.Kind == parser.Outside || b.Kind == parser.Remainder {
			return
		}
		at := BlockPlace(b)
		length := 0 // blank tape and rub-outs are not stored
		for i, c := range b.Raw[:at.End] {
			if c == 0 {
				continue
			}
			if length++; length == longest+1 {
				at.Pos = int32(i)
			}
		}
		if length <= longest {
			return
		}
		if n := p.Note(0, at); n != nil {
			n.Message = fmt.Sprintf("this block has %d characters; %s reads %d", length, p.Machine.Name, longest)
			n.Advice = "Split the block, or shorten its comment."
		}
	}}
}

func newTooBig(m *profiles.Machine, _ *Options) Checker {
	if m.Control.Memory == 0 {
		return Checker{}
	}
	return Checker{End: func(p *Pass) {
		if p.Size <= int64(m.Control.Memory) {
			return
		}
		if n := p.Note(0, Place{Line: 1}); n != nil {
			n.Message = fmt.Sprintf("the program has %s; the memory of %s holds %s", size(p.Size), m.Name, size(int64(m.Control.Memory)))
			n.Advice = "Drip-feed it, split it at a tool change, or thin it out: fewer, longer blocks within the tolerance."
			if m.Control.Link.Baud > 0 || m.Control.Drip { // a way that the control has
				n.Level = Note
			}
		}
	}}
}

// size writes bytes as people do.
func size(n int64) string {
	switch {
	case n >= 1_000_000:
		return trim(float64(n)/1e6, 1) + " MB"
	case n >= 10_000:
		return trim(float64(n)/1e3, 0) + " kB"
	}
	return fmt.Sprintf("%d bytes", n)
}

// faster gathers the moves for which the axes waited for the control.
type faster struct {
	note    *Finding
	blocks  int
	length  float64 // of the moves that waited, mm
	seconds float64 // they took
	wait    float64 // of that
	feed    float64 // the highest of theirs
	worst   float64 // least time that the path would allow for one block
}

func newFaster(m *profiles.Machine, _ *Options) Checker {
	if m.Control.BlockTime == 0 {
		return Checker{}
	}
	f := &faster{}
	return Checker{State: []any{f}, Timed: f.timed, Losses: true, End: f.end}
}

func (f *faster) timed(p *Pass, t *motion.Timed) {
	own := t.Seconds - t.Wait
	// A long move waits a little for the blocks before it that move nothing.
	if t.Wait == 0 || t.WaitBy != motion.ByBlockTime || !t.Cut || own > 10*float64(p.Machine.Control.BlockTime) {
		return
	}
	if n := p.Note(0, Place{t.Line, t.Offset, t.Pos, t.End}); n != nil {
		f.note = n
	}
	f.feed = max(f.feed, t.Feed)
	if f.blocks == 0 || own < f.worst {
		f.worst = own
	}
	f.blocks++
	f.length += t.Length
	f.seconds += t.Seconds
	f.wait += t.Wait
}

// leastWait is the waiting, in s, from which on it is worth a word.
const leastWait = 0.5

func (f *faster) end(p *Pass) {
	if f.wait < leastWait && f.wait < 0.1*p.Result.Times.Cutting {
		p.drop(0)
		return
	}
	if f.note == nil { // never, or silenced wherever it was
		return
	}
	read := 1 / float64(p.Machine.Control.BlockTime)
	f.note.Message = fmt.Sprintf("blocks come faster than %s reads them: %s want up to %s blocks/s, it reads %s; %sthe axes wait %s s",
		p.Machine.Name, count(f.blocks, "move"), trim(1/f.worst, 0), trim(read, 0), p.slower(f.feed, f.length/f.seconds), trim(f.wait, 1))
	f.note.Advice = fmt.Sprintf("Use a wider chord tolerance or arcs in the post, or program the feed that is reached: chords of %s at this feed would do.",
		p.length(f.feed/read))
}

// slower says what becomes of a feed, mm/s, where much becomes of it.
func (p *Pass) slower(feed, reached float64) string {
	if reached > 0.95*feed {
		return ""
	}
	return fmt.Sprintf("F of %s becomes about %s there and ", p.feed(feed), p.feed(reached))
}

func count(n int, what string) string { return fmt.Sprintf("%d %s%s", n, what, plural(n)) }
