package adapt

import (
	"bufio"
	"fmt"
	"io"
	"os"

	"tapefit/profiles"
	"tapefit/rules"
)

// Some passes work on what the others have written: on a program that is in the
// machine's form. So they see what a cycle, a loop or a unit has become, and
// adapting again changes nothing.

// A text is a program at a place between two passes.
type text struct {
	src  io.ReaderAt
	size int64
}

// writeAll writes the program for the machine, and then anew for each of the late
// passes that are needed or asked for.
func writeAll(out io.Writer, src io.ReaderAt, size int64, seen *sight, res *Result, opt *Options) error {
	write := func(w io.Writer) error { return rewriteAll(w, src, size, seen, res, opt) }
	strange, err := spells(text{src, size}, opt)
	if err != nil {
		return err
	}
	for _, late := range [...]struct {
		on    bool
		write func(out io.Writer, source, now text, res *Result, opt *Options) error
	}{
		{strange, spellAll},
		{opt.makes(Find(Gather)), gatherAll},
		{opt.makes(Find(Unnumber)) || opt.makes(Find(Renumber)), numberAll},
	} {
		if !late.on {
			continue
		}
		now, err := os.CreateTemp("", "tapefit-*")
		if err != nil {
			return err
		}
		defer os.Remove(now.Name())
		defer now.Close()
		if err := write(now); err != nil || res.mustDecide() {
			return err
		}
		written := text{now, res.Wrote}
		write = func(w io.Writer) error { return late.write(w, text{src, size}, written, res, opt) }
	}
	return write(out)
}

// copyTo writes a program as it is.
func (t text) copyTo(out io.Writer, res *Result) error {
	res.Wrote = t.size
	if _, err := io.Copy(out, io.NewSectionReader(t.src, 0, t.size)); err != nil {
		return fmt.Errorf("writing: %w", err)
	}
	return nil
}

// lineOf is the line of the source that a line of the program has come from.
func (t text) lineOf(line int, source text, res *Result) (int, error) {
	if res.Fits {
		return line, nil
	}
	from := 1
	err := Align(source.src, source.size, t.src, t.size, func(r Row) bool {
		if r.Source != nil {
			from = r.Source.Line
		}
		return r.Out == nil || r.Out.Line < line
	})
	return from, err
}

// gatherAll makes cycles of holes that are drilled with plain moves. Where the
// program would have to be changed in anything else for that, it stays.
func gatherAll(out io.Writer, source, now text, res *Result, opt *Options) error {
	own := Options{From: opt.To, To: opt.To, Offsets: opt.Offsets, MaxBlocks: opt.MaxBlocks, Done: opt.Done, Tolerance: opt.Tolerance, Passes: map[string]bool{}}
	for _, p := range Passes() {
		own.Passes[p.Name] = p.Name == Gather
	}
	seen, err := glance(now.src, now.size, &own)
	if err != nil {
		return err
	}
	if why, decide := noGathering(opt.To, seen); why != "" {
		res.leave(rules.Note, 1, "holes are not made cycles: "+why, decide)
		return now.copyTo(out, res)
	}
	trial, err := os.CreateTemp("", "tapefit-*")
	if err != nil {
		return err
	}
	defer os.Remove(trial.Name())
	defer trial.Close()
	buffered := bufio.NewWriterSize(trial, 1<<16)
	part := &Result{From: opt.To, To: opt.To}
	a := newAdapter(&own, newWriter(opt.To, buffered), seen, part, false)
	a.gather.on = true
	if _, err := a.write(buffered, now.src, now.size); err != nil {
		return err
	}
	if len(part.Changes) == 0 {
		return now.copyTo(out, res)
	}
	made := part.Changes[0]
	for _, other := range part.Changes {
		if other.Pass.Name == Gather {
			continue
		}
		line, err := now.lineOf(other.Line, source, res)
		if err != nil {
			return err
		}
		res.leave(rules.Note, line, fmt.Sprintf("holes are not made cycles: %q would then have to be written anew too (%s)", other.Was, other.Pass.Name), "Look at that block, and adapt again.")
		return now.copyTo(out, res)
	}
	if made.Line, err = now.lineOf(made.Line, source, res); err != nil {
		return err
	}
	res.Changes, res.Fits = append(res.Changes, made), false
	return text{trial, part.Wrote}.copyTo(out, res)
}

// noGathering says why no holes of the program can be made cycles; "" where they
// can.
func noGathering(m *profiles.Machine, seen *sight) (why, decide string) {
	longest := m.Block.Longest
	switch {
	case seen.structured:
		return "the program keeps its subprograms, loops or expressions", "If that is wanted, write it out with --pass " + Unroll + "."
	case seen.unfollowed():
		return "the program has blocks that " + m.Name + " does not execute", "Mend those first."
	case m.Kind == "lathe":
		return m.Name + " is a lathe", "Leave the pass out."
	case m.CodeFor(profiles.CycleOff) == "":
		return m.Name + " has no code that ends cycles", "Leave the pass out."
	case longest > 0 && longest < roomForCycle:
		return fmt.Sprintf("%s reads blocks of %d characters, and one with a cycle may have %d", m.Name, longest, roomForCycle), "Leave the pass out."
	}
	return "", ""
}

// leave notes what a person must decide or know of the program as a whole.
func (r *Result) leave(level rules.Level, line int, what, decide string) {
	r.Left = append(r.Left, Left{Level: level, Line: line, Count: 1, What: what, Decide: decide})
	r.sortLeft()
}
