package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"tapefit/internal/estimate"
	"tapefit/internal/interp"
	"tapefit/internal/report"
	"tapefit/profiles"
)

// calibrateFlags say which machine is fitted, what of it, and where to.
type calibrateFlags struct {
	shop   shopFlags
	values []string
	out    string
}

func (a *app) calibrateCommand() *cobra.Command {
	var f calibrateFlags
	var form format
	cmd := &cobra.Command{
		Use:   "calibrate RUNS.csv --machine NAME|FILE.toml",
		Short: "Find values of a profile from measured runs",
		Long: `Calibrate reads how long programs really took and finds the values of the profile
with which the computed times come nearest: accelerations, block time, tool change,
gear shift, spindle start. It says how well the runs fit before and after, how
sure each value is, and which values these runs cannot tell, not tell apart or
would have beyond what is fitted: 10 times the profile's value or a tenth of it, or
what no machine has. Those stay as they are.

RUNS.csv has a first row of names, program and seconds, and a row for each run. A
time is in seconds, or written 10:52 or 1:02:03. Where parts of a run were measured
too they have columns of their own: cutting, rapid, dwell, tool_change, gear_shift,
spindle, other. Stop the watch while an operator works. Paths are from the list's
folder. A run is refused if its program has cuts that are not known, or blocks that
the machine does not execute: its time would not be whole.

What is fitted is what the profile calls unsure ([unsure]), or --value. The profile
is never changed: the values go into a new one that extends it, NAME-calibrated.toml
in this folder, or the file that -o names.

Measure with the guards closed, nothing in the spindle, the program dry above the
part and a hand on feed hold; open no cabinet for it: drives and wiring are for
licensed people and the local codes.

Exit status: 0 values were found and written, 1 the runs determine none,
2 wrong usage, an unreadable file or a bad profile.`,
		Example: `  tapefit calibrate runs.csv --machine bed-mill
  tapefit calibrate runs.csv --machine ./my-mill.toml --value axes.z.acceleration --value control.block_time -o my-mill-2.toml`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) != 1 {
				return errors.New("give one list of runs, such as runs.csv")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			m, err := a.machine(&f.shop)
			if m == nil {
				return err
			}
			return a.calibrate(cmd.Context(), args[0], m, &f, form)
		},
	}
	cmd.Flags().StringVar(&f.shop.machine, "machine", "", "the machine: a `NAME` of \"tapefit machines\", or its profile's FILE.toml")
	addProfiles(cmd, &f.shop.folders)
	cmd.Flags().StringArrayVar(&f.values, "value", nil, "a `PATH` of the profile to be found, such as axes.z.acceleration; may be repeated")
	cmd.Flags().StringVarP(&f.out, "out", "o", "", "the `FILE.toml` to write")
	addFormat(cmd, &form, formText, formJSON)
	return cmd
}

func (a *app) calibrate(ctx context.Context, list string, m *profiles.Machine, f *calibrateFlags, form format) error {
	out := f.out
	if out == "" {
		out = m.Name + "-calibrated.toml"
	}
	if !strings.HasSuffix(out, ".toml") {
		return fmt.Errorf("-o %s: the name of a profile ends in .toml", out)
	}
	if err := mayCreate(out); err != nil {
		a.fail(err)
		return nil
	}
	fit, err := a.fit(ctx, list, m, f.values)
	if err != nil {
		if ctx.Err() != nil {
			err = errors.New("interrupted: nothing was written")
		}
		a.fail(err)
		return nil
	}
	if len(fit.Determined()) == 0 {
		a.raise(statusFound)
		out = ""
	} else if err := writeOverlay(fit, out); err != nil {
		a.fail(err)
		return nil
	}
	if form == formJSON {
		a.written(report.FitJSON(a.stdout, fit, out))
	} else {
		a.written(a.text().Fit(fit, out))
	}
	return nil
}

func (a *app) fit(ctx context.Context, list string, m *profiles.Machine, values []string) (*estimate.Fit, error) {
	file, err := os.Open(list)
	if err != nil {
		return nil, plainly(err)
	}
	defer file.Close()
	runs, err := estimate.ReadRuns(file, list, filepath.Dir(list))
	if err != nil {
		return nil, err
	}
	if len(values) == 0 {
		values = estimate.Fittable(m)
	}
	slices.Sort(values)
	open := func(path string) (io.ReaderAt, int64, func() error, error) {
		src, size, err := a.open(ctx, path)
		if err != nil {
			return nil, 0, nil, err
		}
		return interruptible{ctx, src}, size, src.Close, nil
	}
	return estimate.Calibrate(m, runs, slices.Compact(values), open, interp.Options{Done: ctx.Done()})
}

// writeOverlay writes the fitted values as a profile that extends the machine's.
func writeOverlay(fit *estimate.Fit, out string) error {
	extends := fit.Machine.Name
	if file := fit.Machine.File(); file != "" {
		rel, err := relativeTo(filepath.Dir(out), file)
		if err != nil {
			return err
		}
		extends = rel
	}
	name := strings.TrimSuffix(filepath.Base(out), ".toml")
	if err := writeNew(out, fit.Overlay(name, extends)); err != nil {
		return err
	}
	if _, err := profiles.Load(out); err != nil {
		os.Remove(out)
		return fmt.Errorf("%s would be no profile: %w", out, err)
	}
	return nil
}

// relativeTo is the path of a file from a folder, written so that it is known
// for one.
func relativeTo(folder, file string) (string, error) {
	from, err := filepath.Abs(folder)
	if err != nil {
		return "", err
	}
	to, err := filepath.Abs(file)
	if err != nil {
		return "", err
	}
	rel, err := filepath.Rel(from, to)
	if err != nil {
		return to, nil // on another drive
	}
	rel = filepath.ToSlash(rel)
	if !strings.HasPrefix(rel, ".") {
		rel = "./" + rel
	}
	return rel, nil
}
