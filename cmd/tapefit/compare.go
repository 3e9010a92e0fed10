package main

import (
	"context"
	"fmt"

	"tapefit/internal/report"
	"tapefit/profiles"
	"tapefit/rules"
)

// earlier loads the machine that programs come from; nil says that the failure
// was reported. It is as its profile has it. Where work lies is said of the new
// machine: on another one the same place has other coordinates.
func (a *app) earlier(name string, f *walkFlags, now *profiles.Machine) *earlier {
	folders, ok := a.folders(f.folders)
	if !ok {
		return nil
	}
	m, err := find(name, folders, nil)
	if err != nil {
		a.fail(fmt.Errorf("--was: %w", err))
		return nil
	}
	set, err := rules.For(m)
	if err != nil {
		a.fail(fmt.Errorf("--was: %w", err))
		return nil
	}
	e := &earlier{machine: m, rules: set, options: rules.Options{MaxBlocks: f.maxBlocks}}
	if m.Name == now.Name {
		e.options.Offsets = f.offsets
	}
	return e
}

// compare tells what changes for the programs when they go to another machine.
func (a *app) compare(ctx context.Context, args []string, j job, form format) {
	var tally rules.Tally
	show := func(write func(*rules.Comparison) error) func(*checked) bool {
		return func(c *checked) bool {
			p := rules.Compare(c.now, c.was)
			tally.Add(p)
			return a.judged(c.now) && a.written(write(p))
		}
	}
	paths := a.programs(args)
	if form == formJSON {
		out := report.NewJSON(a.stdout)
		a.failed = out.Failed
		gone := a.each(ctx, paths, j, show(out.Compare))
		a.written(out.EndCompare(&tally, gone.left))
		return
	}
	out, err := a.text().Changes(j.machine, j.was.machine, paths)
	if !a.written(err) {
		return
	}
	a.failed = func(path string, err error) {
		if path != "" {
			a.written(out.Unread(path, err))
		}
	}
	gone := a.each(ctx, paths, j, show(out.Program))
	a.written(out.End(&tally, gone.left))
}
