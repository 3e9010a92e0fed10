package adapt

import (
	"errors"
	"fmt"
	"io"
	"maps"

	"tapefit/profiles"
)

// A program says nothing of how it is meant to be read. Where several ways are
// open, it is read in the one that was named; else in one that all agree with.

// suited is a base with the cycles of the machine where a base leaves open how
// they are made: a language has no way of its own to come out of a hole. levels
// says that the levels of cycles are the machine's too.
func suited(from, to *profiles.Machine, levels bool) *profiles.Machine {
	if from.Kind != "" || from.Name == to.Name {
		return from
	}
	suited := *from
	if levels {
		suited.Control.CycleLevel, suited.Control.CycleR = to.Control.CycleLevel, to.Control.CycleR
	}
	suited.Cycles = maps.Clone(from.Cycles)
	for name, own := range to.Cycles {
		if c, ok := suited.Cycles[name]; ok {
			c.FeedOut, c.ClearPeck = own.FeedOut, own.ClearPeck
			suited.Cycles[name] = c
		}
	}
	return &suited
}

// unambiguous says, as an error, where the canned cycles of a program would go
// elsewhere by the levels of the base than by those of the machine, and nobody
// said which are meant.
func unambiguous(src io.ReaderAt, size int64, base *profiles.Machine, seen *sight, opt *Options) error {
	if !opt.Guess || opt.From == opt.To || !seen.cycles ||
		cycleLevel(base) == cycleLevel(opt.To) && base.Control.CycleR == opt.To.Control.CycleR {
		return nil
	}
	_, err := Prove(Side{src, size, suited(base, opt.To, false), opt.Offsets}, Side{src, size, opt.From, opt.Offsets}, Allowed{})
	var different *Difference
	if errors.As(err, &different) {
		return inItsOwnWay(opt, different)
	}
	return err
}

// inItsOwnWay is the error that a program is read in two ways.
func inItsOwnWay(opt *Options, different *Difference) error {
	return fmt.Errorf("%s and %s both read it without complaint, and each in its own way: name the one that it was written for with --from (%v; the program is what %s makes of it, the output what %s does)",
		opt.To.Name, opt.From.Name, different, opt.From.Name, opt.To.Name)
}
