package main

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"tapefit/internal/estimate"
	"tapefit/internal/report"
	"tapefit/rules"
)

// quoteFlags are values of the profile's quote with a flag of their own.
type quoteFlags struct{ rate, setup, load, scrap string }

func (f *quoteFlags) add(cmd *cobra.Command) {
	flags := cmd.Flags()
	flags.StringVar(&f.rate, "rate", "", "of the machine with its operator, over the profile's: \"95 /h\"")
	flags.StringVar(&f.setup, "setup", "", "set-up of each program, once a lot: \"45 min\"")
	flags.StringVar(&f.load, "load", "", "to change the part, for each program: \"3 min\"")
	flags.StringVar(&f.scrap, "scrap", "", "share of the parts begun that are not delivered: \"3 %\"")
}

// settings are what was given, as settings over the profile, and the flags by the
// paths that they set. A number without its unit is an error.
func (f *quoteFlags) settings() (all []string, named map[string]string, err error) {
	named = map[string]string{}
	for _, one := range []struct{ flag, value, unit string }{
		{"rate", f.rate, "/h"}, {"setup", f.setup, "min"}, {"load", f.load, "min"}, {"scrap", f.scrap, "%"},
	} {
		if one.value == "" {
			continue
		}
		if _, err := strconv.ParseFloat(one.value, 64); err == nil {
			return nil, nil, fmt.Errorf("--%s: %q has no unit: write \"%s %s\"", one.flag, one.value, one.value, one.unit)
		}
		path := "quote." + one.flag
		all = append(all, path+"="+byClock(one.value))
		named[path] = "--" + one.flag
	}
	return all, named, nil
}

// byClock takes 4:30 for what it means there: minutes and seconds.
func byClock(value string) string {
	minutes, seconds, ok := strings.Cut(value, ":")
	m, err := strconv.ParseUint(minutes, 10, 32)
	s, err2 := strconv.ParseUint(seconds, 10, 32)
	if !ok || err != nil || err2 != nil || s >= 60 || len(seconds) != 2 {
		return value
	}
	return fmt.Sprintf("%d s", 60*m+s)
}

func (a *app) quoteCommand() *cobra.Command {
	var walk walkFlags
	var form format
	var money quoteFlags
	quantities := lots{1, 10, 100}
	cmd := &cobra.Command{
		Use:   "quote PROGRAM... --machine NAME|FILE.toml",
		Short: "Say what lots of a part take and cost on a machine",
		Long: `Quote times the programs of one part on a machine, adds what people do, and says
what lots of it take and cost: set-up once a lot, for each part the cycle, loading,
tools and belts changed by hand and program stops, and the parts that will be
scrap. Several programs are the operations of one part, each with its own set-up.

What the shop reckons with stands under [quote] in the profile: rate, setup, load,
stop, tool_by_hand, gear_by_hand, scrap, currency. Flags set them for this run.

Low and high come from what the profile says may be off, under [unsure]: each
value low and high in its turn, taken together as independent of each other, at
about 95 %. Without any there is no range. "tapefit calibrate" finds them from
measured runs.

The figures hold with the overrides at 100 %. They say nothing about whether the
programs are right: that is for "tapefit check", and for the machine: dry run
above the part, single block, a hand on feed hold.

Exit status: 0, or 2 for wrong usage, an unreadable file or a bad profile.`,
		Example: `  tapefit quote testdata/shop/programs/gland-plate.ngc --machine bed-mill --quantity 1,10,50
  tapefit quote op10.ngc op20.ngc --machine knee-mill --rate "85 /h" --setup "1 h" --scrap "3 %"
  tapefit quote part.ngc --machine bed-mill --format csv > quote.csv`,
		Args: needPrograms,
		RunE: func(cmd *cobra.Command, args []string) error {
			settings, named, err := money.settings()
			if err != nil {
				return err
			}
			walk.settings, walk.named = append(walk.settings, settings...), named
			m, opt, err := a.walk(&walk)
			if m == nil {
				return err
			}
			j, err := estimate.NewJob(m)
			if err != nil {
				a.fail(err)
				return nil
			}
			if a.operations(cmd.Context(), args, j, opt) {
				a.quote(j, quantities, form)
			}
			return nil
		},
	}
	walk.add(cmd)
	money.add(cmd)
	cmd.Flags().Var(&quantities, "quantity", "good parts in a lot; several are written `1,10,50`")
	addFormat(cmd, &form, formText, formJSON, formCSV)
	return cmd
}

// operations takes the programs into a job. False: one could not be read, and
// the job is not whole.
func (a *app) operations(ctx context.Context, args []string, j *estimate.Job, opt rules.Options) bool {
	columns := []column{{job: j, options: opt}}
	paths := a.programs(args)
	return a.take(ctx, paths, columns) == len(paths) && len(paths) > 0
}

func (a *app) quote(j *estimate.Job, quantities []int, form format) {
	switch form {
	case formJSON:
		a.written(report.QuoteJSON(a.stdout, j, quantities))
	case formCSV:
		a.written(report.QuoteCSV(a.stdout, j, quantities))
	default:
		a.written(a.text().Quote(j, quantities))
	}
}
