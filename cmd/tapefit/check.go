package main

import (
	"context"
	"errors"

	"github.com/spf13/cobra"

	"tapefit/internal/report"
	"tapefit/rules"
)

func (a *app) checkCommand() *cobra.Command {
	var walk walkFlags
	var form format
	var was string
	cmd := &cobra.Command{
		Use:   "check PROGRAM... --machine NAME|FILE.toml [--was NAME|FILE.toml]",
		Short: "Say what a machine would refuse, do wrongly or do slowly",
		Long: `Check reads part programs as the machine would and prints what it would refuse,
do wrongly or do slowly: each finding with its place, the block and a marker
under the word, what this machine accepts, and what to do. A summary follows
with the cycle time and how far the tool tip goes.

PROGRAM is a file, a folder (all part programs below it: ` + programEndings() + `)
or - for standard input. Images of punched tape (ISO 840, EIA RS-244) are known
by their bytes and read as the text on them.

Blocks with block delete (/) are executed, as with the switch off.

Levels: an error is what the machine would refuse, or do other than is written;
a warning is likely wrong or slow, and a person decides; a note is worth knowing.

Formats: text is for people; json is for scripts; sarif (SARIF 2.1.0, an OASIS
standard) is for editors and servers that show findings beside the program.

--was OLD tells what changes for programs that go from OLD to the machine: a row
for each with the cycle time on both, and where what is new begins; then what is
new and what is gone by rule. A program fits where nothing at level error was
found. A finding is the same where rule, level and place are. What a machine
refuses is not executed: what is gone may only be out of sight behind it. --set
is said of the new machine alone; so is --offset, unless both are one machine.

Programs are checked on all cores and shown in order of name. Ctrl-C ends it:
what was done is shown, and how many were not looked at.

Exit status: 0 nothing at level error (with --was: on the new machine), 1
something at level error, 2 wrong usage, an unreadable file, a bad profile, or
an interrupt.

A check without findings is not a promise. tapefit knows neither the part nor
the clamps, and never calls a program safe: dry run above the part, single
block, a hand on feed hold.`,
		Example: `  tapefit check testdata/shop/programs --machine bed-mill
  tapefit check flange.ngc cover.ngc --machine ./my-mill.toml
  tapefit check old.nc --machine knee-mill --offset "G54 X12in Y8in Z-18in"
  tapefit check - --machine rs274ngc < flange.ngc
  tapefit check programs --machine knee-mill --was bed-mill
  tapefit check programs --machine bed-mill --format json > findings.json
  tapefit check programs --machine bed-mill --format sarif > findings.sarif`,
		Args: needPrograms,
		RunE: func(cmd *cobra.Command, args []string) error {
			if was != "" && form == formSARIF {
				return errors.New("--format sarif has findings of one machine: leave --was out, or take text or json")
			}
			j, err := a.job(&walk)
			if j == nil {
				return err
			}
			if was == "" {
				a.check(cmd.Context(), args, *j, form)
			} else if j.was = a.earlier(was, &walk, j.machine); j.was != nil {
				a.compare(cmd.Context(), args, *j, form)
			}
			return nil
		},
	}
	walk.add(cmd)
	cmd.Flags().StringVar(&was, "was", "", "the machine that the programs come from, a `NAME` or FILE.toml: tell what changes")
	addFormat(cmd, &form, formText, formJSON, formSARIF)
	return cmd
}

func (a *app) check(ctx context.Context, args []string, j job, form format) {
	switch form {
	case formJSON:
		out := report.NewJSON(a.stdout)
		a.each(ctx, a.programs(args), j, func(c *checked) bool { return a.judged(c.now) && a.written(out.Check(c.now)) })
		a.written(out.Close())
	case formSARIF:
		out := report.NewSARIF(a.stdout, j.rules)
		a.failed = out.Failed
		a.each(ctx, a.programs(args), j, func(c *checked) bool { return a.judged(c.now) && a.written(out.Check(c.now)) })
		a.written(out.Close())
	default:
		out := a.text()
		gone := a.each(ctx, a.programs(args), j, func(c *checked) bool { return a.judged(c.now) && a.written(out.Check(c.now)) })
		a.written(out.EndCheck(gone.unread, gone.left))
	}
}

// judged raises the exit status by what was found.
func (a *app) judged(r *rules.Result) bool {
	if r.Count(rules.Error) > 0 {
		a.raise(statusFound)
	}
	return true
}
