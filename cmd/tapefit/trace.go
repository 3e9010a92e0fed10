package main

import (
	"context"
	"errors"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"tapefit/internal/interp"
	"tapefit/internal/report"
	"tapefit/parser"
	"tapefit/profiles"
)

func (a *app) traceCommand() *cobra.Command {
	var walk walkFlags
	var form format
	cmd := &cobra.Command{
		Use:   "trace PROGRAM --machine NAME|FILE.toml",
		Short: "Print the operations that a machine would make of a program",
		Long: `Trace reads a part program as the machine would and prints what it would do,
one operation a line, each with the line of the block that causes it: moves,
dwells, spindle, gears, tools, coolant, stops. Cycles are written out,
subprograms followed, parameters computed. What cannot be interpreted goes to
standard error with its place and is left out. PROGRAM is a file, text or an
image of punched tape (ISO 840, EIA RS-244), or - for standard input.

Text is in the units that the machine's people read: X of a lathe with what it
is (dia. or radius), feeds as F has them (F0.01/rev: by the turn of the spindle).
JSON is one object a line, lengths in mm, X as the slide moves, feeds in mm/min
at the start of the move. Places are in the work coordinates of the block; an
axis whose place is not known is null (in text ?).`,
		Example: `  tapefit trace testdata/shop/programs/flange-bolt-circle.ngc --machine bed-mill
  tapefit trace old.nc --machine knee-mill --format json > old.jsonl`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) != 1 {
				return fmt.Errorf("trace takes one program, a file or -; %d are named", len(args))
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if info, err := os.Stat(args[0]); err == nil && info.IsDir() {
				return fmt.Errorf("%s is a folder: trace takes one program", args[0])
			}
			m, opt, err := a.walk(&walk)
			if m == nil {
				return err
			}
			if err := a.trace(cmd.Context(), args[0], m, interp.Options{Offsets: opt.Offsets, MaxBlocks: opt.MaxBlocks}, form); err != nil {
				a.fail(err)
			}
			return nil
		},
	}
	walk.add(cmd)
	addFormat(cmd, &form, formText, formJSON)
	return cmd
}

// trace prints the operations of one program. A fault raises the exit status as
// a finding does.
func (a *app) trace(ctx context.Context, path string, m *profiles.Machine, opt interp.Options, form format) error {
	src, size, err := a.open(ctx, path)
	if err != nil {
		return err
	}
	defer src.Close()
	text, _, err := parser.Tape(interruptible{ctx, src}, size)
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	opt.Done = ctx.Done()
	out := report.NewTrace(a.stdout, m, form == formJSON)
	in := interp.New(m, opt, interp.Visitor{
		Op: out.Op,
		Fault: func(f *interp.Fault) {
			a.raise(statusFound)
			fmt.Fprintln(a.stderr, report.FaultLine(path, f))
		},
	})
	_, err = in.Run(text, size)
	a.written(out.Flush())
	switch {
	case ctx.Err() != nil:
		return errors.New("interrupted: the trace is not whole")
	case err != nil:
		return fmt.Errorf("%s: %w", path, err)
	}
	return nil
}
