package rules

import (
	"fmt"

	"tapefit/internal/motion"
	"tapefit/profiles"
)

// waits are the rules of the family control about moves that wait or creep
// because the control knows too little of what comes.
func waits() []*Rule {
	return []*Rule{
		{
			Name: "look-ahead-too-short", Family: "control", Level: Warning,
			Summary: "the control slows down because it knows too few blocks ahead",
			Doc:     `A control must be able to stop at the end of the blocks that it knows. Where blocks are short and it looks few of them ahead, it never comes to the feed: the axes creep, and the cutter rubs. The seconds are those that the moves lose to that and to nothing else. Silent where more is lost by waiting for blocks to be read: blocks-faster-than-control speaks of the same chords.`,
			Uses:    []string{"control.look_ahead", "axes.*.acceleration"},
			Example: Example{Machine: "bed-mill"}, // every machine of the library reads more slowly than it looks ahead: TestLookAhead
			New:     newLookAhead,
		},
		{
			Name: "link-too-slow", Family: "control", Level: Warning,
			Summary: "blocks come slower over the line than the moves use them up",
			Doc:     `A program that does not fit into the memory is fed over a serial line while it runs. The line brings its baud over the bits of a character, ten as a rule, in characters a second; what short blocks use up faster than that, the axes wait for, standing in the cut. Where the control itself reads blocks more slowly than the line brings them, blocks-faster-than-control speaks.`,
			Uses:    []string{"control.link", "control.drip", "control.memory"},
			Example: Example{Machine: "bed-mill"}, // no machine of the library has a line: TestLink
			New:     newLink,
		},
	}
}

// lookAhead gathers the moves that the look-ahead holds back most.
type lookAhead struct {
	note   *Finding
	moves  int
	length float64 // mm
	time   float64 // s
	feed   float64 // the highest of theirs, mm/s
}

func newLookAhead(m *profiles.Machine, _ *Options) Checker {
	if m.Control.LookAhead == 0 {
		return Checker{}
	}
	l := &lookAhead{}
	return Checker{State: []any{l}, Timed: l.timed, Losses: true, End: l.end}
}

func (l *lookAhead) timed(p *Pass, t *motion.Timed) {
	if t.Limit != motion.ByLookAhead || !t.Cut {
		return
	}
	if n := p.Note(0, Place{t.Line, t.Offset, t.Pos, t.End}); n != nil {
		l.note = n
	}
	l.feed = max(l.feed, t.Feed)
	l.moves++
	l.length += t.Length
	l.time += t.Seconds - t.Wait
}

func (l *lookAhead) end(p *Pass) {
	lost := p.Result.Times.Lost[motion.ByLookAhead]
	if lost < leastWait || lost < 0.01*p.Result.Times.Cutting || lost < p.Result.Times.Lost[motion.ByBlockTime] {
		p.drop(0)
		return
	}
	if l.note == nil { // never, or silenced wherever it was
		return
	}
	known := p.Machine.Control.LookAhead
	l.note.Message = fmt.Sprintf("%s knows %s ahead, too few to come to speed: %s of about %s lose %s s; F of %s becomes about %s there",
		p.Machine.Name, count(known, "block"), count(l.moves, "move"), p.length(l.length/float64(l.moves)), trim(lost, 1), p.feed(l.feed), p.feed(l.length/l.time))
	l.note.Advice = "Use a wider chord tolerance or arcs in the post, or program the feed that is reached."
}

// link gathers the cuts that wait for the line.
type link struct {
	note  *Finding
	moves int
	wait  float64 // s
	own   float64 // s that they take beside
}

func newLink(m *profiles.Machine, _ *Options) Checker {
	if m.Control.Link.Baud == 0 {
		return Checker{}
	}
	l := &link{}
	return Checker{State: []any{l}, Timed: l.timed, Losses: true, End: l.end}
}

func (l *link) timed(p *Pass, t *motion.Timed) {
	if t.Wait == 0 || t.WaitBy != motion.ByLink || !t.Cut {
		return
	}
	if n := p.Note(0, Place{t.Line, t.Offset, t.Pos, t.End}); n != nil {
		l.note = n
	}
	l.moves++
	l.wait += t.Wait
	l.own += t.Seconds - t.Wait
}

func (l *link) end(p *Pass) {
	if l.wait < leastWait {
		p.drop(0)
		return
	}
	if l.note == nil { // silenced wherever it was
		return
	}
	c := &p.Machine.Control.Link
	l.note.Message = fmt.Sprintf("at %d baud the line brings %s characters/s: %s want %s blocks/s and get %s; the axes wait %s s",
		c.Baud, trim(float64(c.Baud)/float64(c.Bits), 0), count(l.moves, "move"), trim(float64(l.moves)/l.own, 0), trim(float64(l.moves)/(l.own+l.wait), 0), trim(l.wait, 1))
	l.note.Advice = "Set the line faster at both ends, leave out block numbers, blanks and zeros at the end, use a wider chord tolerance, or split the program at tool changes so that each part fits into the memory."
}
