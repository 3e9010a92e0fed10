package main

import (
	"context"

	"github.com/spf13/cobra"

	"tapefit/internal/report"
)

func (a *app) timeCommand() *cobra.Command {
	var walk walkFlags
	var form format
	cmd := &cobra.Command{
		Use:   "time PROGRAM... --machine NAME|FILE.toml",
		Short: "Say how long programs take on a machine, and where the time goes",
		Long: `Time runs part programs against the machine's speeds, accelerations, look-ahead
and reading speed, and says how long the job takes and where the time goes:
cutting, rapids, dwells, tool changes, gear shifts, the spindle, and by tool; what
the machine takes beyond length over feed, and by what; and the costliest stretches
with what holds each back. Operator stops are counted and not in the total.

The figure is as good as the profile. It holds with the overrides at 100 % and
without loading, probing and deburring. It says nothing about whether the
program is right: that is for "tapefit check", and for the machine: dry run
above the part, single block, a hand on feed hold.

PROGRAM is a file, a folder (all part programs below it: ` + programEndings() + `)
or - for standard input. Images of punched tape (ISO 840, EIA RS-244) are known
by their bytes and read as the text on them. Programs are timed on all cores and
shown in order; after Ctrl-C what was done is shown. Exit status: 0, or 2 for
wrong usage, an unreadable file, a bad profile or an interrupt.`,
		Example: `  tapefit time testdata/shop/programs/volute-throat-finish.ngc --machine bed-mill
  tapefit time testdata/shop/programs --machine bed-mill --format json
  tapefit time part.ngc --machine bed-mill --set axes.z.rapid="300 in/min" --set control.look_ahead=50`,
		Args: needPrograms,
		RunE: func(cmd *cobra.Command, args []string) error {
			m, opt, err := a.walk(&walk)
			if m == nil {
				return err
			}
			opt.Stretches = true
			a.time(cmd.Context(), args, job{machine: m, options: opt}, form)
			return nil
		},
	}
	walk.add(cmd)
	addFormat(cmd, &form, formText, formJSON)
	return cmd
}

func (a *app) time(ctx context.Context, args []string, j job, form format) {
	paths := a.programs(args)
	if form == formJSON {
		out := report.NewJSON(a.stdout)
		a.each(ctx, paths, j, func(c *checked) bool { return a.written(out.Time(c.now)) })
		a.written(out.Close())
		return
	}
	out := a.text()
	gone := a.each(ctx, paths, j, func(c *checked) bool { return a.written(out.Time(c.now)) })
	a.written(out.EndTime(gone.unread, gone.left))
}
