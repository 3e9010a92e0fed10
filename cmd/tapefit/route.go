package main

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"tapefit/internal/estimate"
	"tapefit/internal/interp"
	"tapefit/internal/report"
	"tapefit/rules"
)

// routeFlags name the machines of a job and the variants of one.
type routeFlags struct {
	machines  []string
	folders   []string
	variants  []string
	offsets   offsetFlags
	maxBlocks int64
	quantity  partsFlag
}

func (a *app) routeCommand() *cobra.Command {
	f := routeFlags{quantity: 1}
	var form format
	cmd := &cobra.Command{
		Use:   "route PROGRAM... --machines NAME,NAME...",
		Short: "Say on which machine a job is best made, or what a change of one would bring",
		Long: `Route checks and times the programs of a job on several machines and ranks them:
those that take every program first, then by price for the quantity, or by time
where a machine has no rate under [quote] or the prices are not in one currency.

With one machine, each --set is a variant of it, a column beside the machine as
it is, and each program is a row: what a faster rapid or a finer screw would bring
over these programs. Values of one variant are parted by semicolons.

No figure here says that a program is right or that a machine can hold the work:
dry run above the part, single block, a hand on feed hold.

Exit status: 0 every program fits one machine at least, 1 none takes all,
2 wrong usage, an unreadable file or a bad profile.`,
		Example: `  tapefit route testdata/shop/programs/gland-plate-proven.ngc --machines bed-mill,knee-mill
  tapefit route testdata/shop/programs --machines bed-mill --set "axes.z.rapid=250 in/min" --set "control.block_time=2 ms; control.look_ahead=200"`,
		Args: needPrograms,
		RunE: func(cmd *cobra.Command, args []string) error {
			columns, err := a.columns(&f)
			if columns == nil {
				return err
			}
			a.route(cmd.Context(), args, &f, columns, form)
			return nil
		},
	}
	flags := cmd.Flags()
	flags.StringSliceVar(&f.machines, "machines", nil, "the machines: `NAMES` of \"tapefit machines\", or profiles FILE.toml, parted by commas")
	addProfiles(cmd, &f.folders)
	flags.StringArrayVar(&f.variants, "set", nil, "with one machine, a variant of it: `PATH=VALUE`, several parted by semicolons; may be repeated")
	flags.Var(&f.offsets, "offset", "a work zero in machine coordinates, over the profiles'; may be repeated")
	flags.Int64Var(&f.maxBlocks, "max-blocks", interp.DefaultMaxBlocks, "stop a program that loops after `N` executed blocks and operations")
	flags.Var(&f.quantity, "quantity", "good parts in the lot that is priced")
	addFormat(cmd, &form, formText, formJSON)
	return cmd
}

// A column is one machine, or a variant of one.
type column struct {
	job     *estimate.Job
	variant string
	options rules.Options
}

// columns loads the machines. Without any, an error is wrong usage, and nil says
// that the failure was reported.
func (a *app) columns(f *routeFlags) ([]column, error) {
	for i, name := range f.machines {
		f.machines[i] = strings.TrimSpace(name) // as people write lists
	}
	f.machines = slices.DeleteFunc(f.machines, func(name string) bool { return name == "" })
	switch {
	case f.maxBlocks <= 0:
		return nil, errors.New("--max-blocks must be 1 or more")
	case len(f.machines) == 0:
		return nil, errors.New(`no machines given: --machines NAME,NAME... ("tapefit machines" lists the names)`)
	case len(f.variants) > 0 && len(f.machines) > 1:
		return nil, errors.New("--set makes variants of one machine: give one with --machines")
	}
	for i, name := range f.machines {
		if slices.Contains(f.machines[:i], name) {
			return nil, fmt.Errorf("--machines names %s twice", name)
		}
	}
	folders, ok := a.folders(f.folders)
	if !ok {
		return nil, nil
	}
	variants := append([]string{""}, f.variants...)
	var all []column
	for _, name := range f.machines {
		for _, variant := range variants {
			c, err := newColumn(name, folders, variant, f)
			if err != nil {
				a.fail(err)
				return nil, nil
			}
			all = append(all, c)
		}
	}
	return all, nil
}

func newColumn(name string, folders []string, variant string, f *routeFlags) (column, error) {
	c := column{variant: variant, options: rules.Options{MaxBlocks: f.maxBlocks}}
	m, err := find(name, folders, partedSettings(variant))
	if err != nil {
		return c, err
	}
	if c.options.Offsets, err = f.offsets.on(m); err != nil {
		return c, err
	}
	c.job, err = estimate.NewJob(m)
	return c, err
}

// partedSettings are the settings of a variant, parted by semicolons outside
// quotes.
func partedSettings(variant string) []string {
	quoted := false
	var all []string
	for _, part := range strings.FieldsFunc(variant, func(r rune) bool {
		if r == '"' {
			quoted = !quoted
		}
		return r == ';' && !quoted
	}) {
		if part = strings.TrimSpace(part); part != "" {
			all = append(all, part)
		}
	}
	return all
}

func (a *app) route(ctx context.Context, args []string, f *routeFlags, columns []column, form format) {
	if a.take(ctx, a.programs(args), columns); ctx.Err() != nil || len(columns[0].job.Operations) == 0 {
		return
	}
	var routes []*estimate.Route
	fits := false
	for _, c := range columns {
		r := estimate.NewRoute(c.job, c.variant, int(f.quantity))
		fits = fits || r.Fits()
		routes = append(routes, r)
	}
	if !fits {
		a.raise(statusFound)
	}
	a.written(a.writeRoutes(routes, f, form))
}

func (a *app) writeRoutes(routes []*estimate.Route, f *routeFlags, form format) error {
	variants := len(f.variants) > 0
	if !variants {
		estimate.Rank(routes)
	}
	switch {
	case form == formJSON:
		return report.RoutesJSON(a.stdout, routes, int(f.quantity))
	case variants:
		return a.text().Variants(routes)
	default:
		return a.text().Routes(routes, int(f.quantity))
	}
}

// A taken program has an operation for each column.
type taken struct {
	path       string
	operations []estimate.Operation
	err        error
}

// take takes programs into the job of each column, on all cores, and gives how
// many it has taken. What can't be read is reported and left out of all.
func (a *app) take(ctx context.Context, paths []string, columns []column) int {
	n, stdin := 0, slices.Index(paths, "-")
	inOrder(len(paths), func(i int) taken {
		if paths[i] == "-" && i != stdin {
			return taken{path: "-", err: errStdinTwice}
		}
		all, err := a.operationOn(ctx, paths[i], columns)
		return taken{paths[i], all, err}
	}, func(t taken) bool {
		switch {
		case ctx.Err() != nil:
			a.fail(errors.New("interrupted: not all programs were read"))
			return false
		case t.err != nil:
			a.failAt(t.path, t.err)
			return true
		}
		n++
		for i, o := range t.operations {
			job := columns[i].job
			job.Operations = append(job.Operations, o)
		}
		return true
	})
	return n
}

func (a *app) operationOn(ctx context.Context, path string, columns []column) ([]estimate.Operation, error) {
	src, size, err := a.open(ctx, path)
	if err != nil {
		return nil, err
	}
	defer src.Close()
	var all []estimate.Operation
	for _, c := range columns {
		c.options.Done = ctx.Done()
		set, err := rules.For(c.job.Machine)
		if err != nil {
			return nil, err
		}
		o, err := c.job.Operation(interruptible{ctx, src}, size, path, set, c.options)
		if err != nil {
			return nil, err
		}
		all = append(all, o)
	}
	return all, nil
}
