package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"tapefit/internal/report"
)

// pictureFlags say which pictures are written, and into which files.
type pictureFlags struct {
	svg, png string
	names    []string
}

func (f *pictureFlags) add(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.svg, "svg", "", "a `FILE.svg` for pictures, as a drawing")
	cmd.Flags().StringVar(&f.png, "png", "", "a `FILE.png` for pictures, as an image")
	cmd.Flags().StringSliceVar(&f.names, "picture", nil, "which `PICTURES` --svg and --png have, such as top,spindle; without it the first view of the path")
}

func (f *pictureFlags) asked() bool { return f.svg != "" || f.png != "" || f.names != nil }

// pictures draws one program. The error is one of usage.
func (a *app) pictures(ctx context.Context, args []string, f *pictureFlags, j job) error {
	paths := a.programs(args)
	there := report.PictureNames(j.machine)
	names := f.names
	if len(names) == 0 {
		names = there[:1]
	}
	for _, name := range names {
		if !slices.Contains(there, name) {
			return fmt.Errorf("--picture %s: the pictures of %s are %s", name, j.machine.Name, strings.Join(there, ", "))
		}
	}
	switch {
	case f.svg == "" && f.png == "":
		return errors.New("--picture: --svg or --png names the file for it")
	case len(paths) != 1:
		return errors.New("--svg and --png are of one program")
	case f.svg != "" && strings.ToLower(filepath.Ext(f.svg)) != ".svg":
		return fmt.Errorf("--svg %s: the name of a drawing ends in .svg", f.svg)
	case f.png != "" && strings.ToLower(filepath.Ext(f.png)) != ".png":
		return fmt.Errorf("--png %s: the name of an image ends in .png", f.png)
	}
	if err := a.drawInto(ctx, paths[0], f, names, j); err != nil {
		a.failAt(paths[0], err)
	}
	return nil
}

func (a *app) drawInto(ctx context.Context, path string, f *pictureFlags, names []string, j job) error {
	src, size, err := a.open(ctx, path)
	if err != nil {
		return err
	}
	defer src.Close()
	opt := j.options
	opt.Done = ctx.Done()
	p, r, err := report.Draw(interruptible{ctx, src}, size, path, j.machine, j.rules, opt, names)
	if ctx.Err() != nil {
		return errors.New("interrupted: no picture was written")
	}
	if err != nil {
		return err
	}
	a.judged(r)
	for _, one := range []struct {
		file  string
		write func(io.Writer) error
	}{{f.svg, p.SVG}, {f.png, p.PNG}} {
		if one.file == "" {
			continue
		}
		if err := writeOver(one.file, one.write); err != nil {
			return err
		}
		if _, err := fmt.Fprintf(a.stdout, "%s: %s\n", one.file, report.Counts(r)); !a.written(err) {
			return nil
		}
	}
	return nil
}
