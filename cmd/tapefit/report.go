package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"tapefit/internal/report"
	"tapefit/profiles"
	"tapefit/rules"
)

func (a *app) reportCommand() *cobra.Command {
	var walk walkFlags
	var out string
	var pics pictureFlags
	cmd := &cobra.Command{
		Use:   "report PROGRAM... --machine NAME|FILE.toml",
		Short: "Write what check and time say as a page with pictures",
		Long: `Report checks part programs and writes each as one page, a file that needs no
network and nothing beside it: whether the machine refuses the program and why,
the cycle time, the path from several sides with the findings on it, spindle and
feed over time, where the time goes, the tools, and the program with its findings.
In a browser the path can be zoomed, and what is chosen in one view shows in the
others; without scripts, and on paper, it is a still report.

With one program -o names the page, PROGRAM.html in this folder where it is left
out; the folder that it is to lie in must be there. With several -o names a folder,
which is made if it is not there, with a page for each. Pages that are there are
written anew.

With --svg or --png the pictures that --picture names are written, below each
other, as one file for mails and quotes: views of the path (slant, top, front and
right of a mill, side of a lathe), the spindle's speed over its gears (spindle),
the programmed and the real feed over time (feed). A page then comes only with -o.

Exit status: 0 nothing at level error, 1 something at level error, 2 wrong usage,
an unreadable file or a bad profile. A page without findings is not a promise:
dry run above the part, single block, a hand on feed hold.`,
		Example: `  tapefit report testdata/shop/programs/flange-bolt-circle.ngc --machine bed-mill -o flange.html
  tapefit report testdata/shop/programs --machine bed-mill -o pages
  tapefit report testdata/shop/programs/gland-plate-proven.ngc --machine bed-mill --png plate.png --picture top,spindle`,
		Args: needPrograms,
		RunE: func(cmd *cobra.Command, args []string) error {
			j, err := a.job(&walk)
			if j == nil {
				return err
			}
			if pics.asked() && out != "" && slices.Equal(args, []string{"-"}) {
				release, err := a.hold(cmd.Context())
				if err != nil {
					a.failAt("-", err)
					return nil
				}
				defer release()
			}
			if pics.asked() {
				if err := a.pictures(cmd.Context(), args, &pics, *j); err != nil || out == "" {
					return err
				}
			}
			pages, err := a.pages(args, out, ".html")
			if err != nil {
				return err
			}
			a.report(cmd.Context(), pages, *j, report.Page)
			return nil
		},
	}
	walk.add(cmd)
	pics.add(cmd)
	cmd.Flags().StringVarP(&out, "out", "o", "", "the `FILE.html` to write, or of several programs the folder")
	return cmd
}

// A paged program has a page to be written.
type paged struct {
	program, page string
	among         bool // it is one of the pages of a folder, which is made if it is not there
}

// A pageWriter checks a program and writes a page of it.
type pageWriter func(w io.Writer, src io.ReaderAt, size int64, path string, m *profiles.Machine, set []*rules.Rule, opt rules.Options) (*rules.Result, error)

// pages are the pages of the programs that the arguments name, whose names end
// as ending says. The error is one of usage.
func (a *app) pages(args []string, out, ending string) ([]paged, error) {
	paths := a.programs(args)
	if len(paths) == 1 && !isFolder(out) {
		if out == "" {
			out = pageName(paths[0], ending)
		}
		if ext := strings.ToLower(filepath.Ext(out)); ext != ".html" && ext != ".htm" {
			return nil, fmt.Errorf("-o %s: the name of a page ends in .html", out)
		}
		return []paged{{program: paths[0], page: out}}, nil
	}
	if out == "" && len(paths) > 1 {
		return nil, errors.New("several programs: -o names the folder for their pages")
	}
	if ext := strings.ToLower(filepath.Ext(out)); len(paths) > 1 && !isFolder(out) && (ext == ".html" || ext == ".htm") {
		return nil, fmt.Errorf("-o %s: there are %d programs, and -o names the folder for their pages", out, len(paths))
	}
	var all []paged
	for _, path := range paths {
		page := filepath.Join(out, pageName(path, ending))
		for n := 2; slices.ContainsFunc(all, func(p paged) bool { return p.page == page }); n++ {
			page = filepath.Join(out, pageName(path, fmt.Sprintf("-%d%s", n, ending)))
		}
		all = append(all, paged{path, page, true})
	}
	return all, nil
}

func isFolder(path string) bool {
	info, err := os.Stat(path)
	return err == nil && info.IsDir()
}

func pageName(program, ending string) string {
	if program == "-" {
		return "program" + ending
	}
	base := filepath.Base(program)
	return strings.TrimSuffix(base, filepath.Ext(base)) + ending
}

func (a *app) report(ctx context.Context, pages []paged, j job, write pageWriter) {
	for _, p := range pages {
		r, err := a.page(ctx, p, j, write)
		switch {
		case ctx.Err() != nil:
			a.fail(errors.New("interrupted: not all pages were written"))
			return
		case err != nil:
			a.failAt(p.program, err)
			continue
		}
		a.judged(r)
		if _, err := fmt.Fprintf(a.stdout, "%s: %s\n", p.page, report.Counts(r)); !a.written(err) {
			return
		}
	}
}

// page writes one page, which appears whole or not at all.
func (a *app) page(ctx context.Context, p paged, j job, write pageWriter) (r *rules.Result, err error) {
	src, size, err := a.open(ctx, p.program)
	if err != nil {
		return nil, err
	}
	defer src.Close()
	if p.among {
		if err := os.MkdirAll(filepath.Dir(p.page), 0o755); err != nil {
			return nil, plainly(err)
		}
	}
	err = writeOver(p.page, func(w io.Writer) error {
		opt := j.options
		opt.Done = ctx.Done()
		r, err = write(w, interruptible{ctx, src}, size, p.program, j.machine, j.rules, opt)
		if err == nil && ctx.Err() != nil {
			return ctx.Err() // also without an error it may have ended early
		}
		return err
	})
	return r, err
}

// writeOver writes a file under another name first and then in the place of what
// was there.
func writeOver(path string, write func(io.Writer) error) error {
	f, err := os.CreateTemp(filepath.Dir(path), ".tapefit-*.tmp")
	if err != nil {
		return unwritten(path, err)
	}
	out := bufio.NewWriter(f)
	if err = write(out); err == nil {
		err = out.Flush()
	}
	if err == nil {
		err = f.Chmod(0o644)
	}
	if closed := f.Close(); err == nil {
		err = closed
	}
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err == nil {
		return nil
	}
	os.Remove(f.Name())
	if at := (*fs.PathError)(nil); errors.As(err, &at) && at.Path != f.Name() {
		return plainly(err) // of what was read to write it
	}
	return unwritten(path, err)
}

// unwritten says of a file why it was not written, where the system speaks of
// the other name.
func unwritten(path string, err error) error {
	var at *fs.PathError
	var renamed *os.LinkError
	switch {
	case errors.As(err, &at):
		err = at.Err
	case errors.As(err, &renamed):
		err = renamed.Err
	default:
		return err
	}
	return fmt.Errorf("cannot write %s: %w", path, err)
}
