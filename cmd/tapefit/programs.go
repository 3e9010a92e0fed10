package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"tapefit/profiles"
	"tapefit/rules"
)

// endings are the names' ends by which part programs are known in a folder, in
// lower case. Tape images have them too; whether a file is one its bytes say.
var endings = [...]string{".ngc", ".nc", ".tap", ".cnc", ".eia", ".iso", ".ptp", ".tape"}

func programEndings() string { return strings.Join(endings[:], " ") }

// A job is what is done with each program.
type job struct {
	machine *profiles.Machine
	rules   []*rules.Rule
	options rules.Options
}

// each checks the programs that the arguments name and shows each result, until
// show says no. What can't be read is reported, the others are still checked;
// unread is how many those are.
func (a *app) each(ctx context.Context, args []string, j job, show func(*rules.Result) bool) (unread int) {
	for _, path := range a.programs(args) {
		r, err := a.one(ctx, path, j)
		switch {
		case ctx.Err() != nil:
			a.fail(errors.New("interrupted: not all programs were read"))
			return unread
		case err != nil:
			a.failAt(path, err)
			unread++
		case !show(r):
			return unread
		}
	}
	return unread
}

func (a *app) one(ctx context.Context, path string, j job) (*rules.Result, error) {
	src, size, err := a.open(ctx, path)
	if err != nil {
		return nil, err
	}
	defer src.Close()
	opt := j.options
	opt.Done = ctx.Done()
	return rules.Check(interruptible{ctx, src}, size, path, j.machine, j.rules, opt)
}

// interruptible reads until the context is done, so that Ctrl-C ends a long
// check.
type interruptible struct {
	ctx context.Context
	io.ReaderAt
}

func (r interruptible) ReadAt(p []byte, off int64) (int, error) {
	if err := r.ctx.Err(); err != nil {
		return 0, err
	}
	return r.ReaderAt.ReadAt(p, off)
}

// programs are the files that the arguments name, folders searched through. A
// folder without any is reported: whoever named it expects a check.
func (a *app) programs(args []string) []string {
	var paths []string
	for _, arg := range args {
		info, err := os.Stat(arg)
		if arg == "-" || err != nil || !info.IsDir() {
			paths = append(paths, arg) // that it can't be read will be said when it is
			continue
		}
		below := a.below(arg)
		if len(below) == 0 {
			a.fail(fmt.Errorf("%s: no part program in this folder or below: names that end in %s are looked for; other files can be named one by one",
				arg, programEndings()))
		}
		paths = append(paths, below...)
	}
	return paths
}

// below are the part programs in a folder and its folders, in order of name.
// Hidden ones are left out: they belong to other tools.
func (a *app) below(root string) []string {
	var paths []string
	err := filepath.WalkDir(root, func(path string, entry fs.DirEntry, err error) error {
		switch hidden := path != root && strings.HasPrefix(entry.Name(), "."); {
		case err != nil:
			a.fail(plainly(err))
			return nil // on with the next
		case entry.IsDir() && hidden:
			return filepath.SkipDir
		case !hidden && isProgram(path):
			paths = append(paths, path)
		}
		return nil
	})
	if err != nil {
		a.fail(plainly(err))
	}
	return paths
}

// isProgram says whether a path below a folder is a part program: a file, or a
// link to one.
func isProgram(path string) bool {
	if !slices.Contains(endings[:], strings.ToLower(filepath.Ext(path))) {
		return false
	}
	info, err := os.Stat(path)
	return err != nil || info.Mode().IsRegular() // a dangling link is reported when it is read
}

// A source is a program that can be read from anywhere in it.
type source struct {
	*os.File
	scratch bool // a temporary file, removed on Close
}

func (s source) Close() error {
	err := s.File.Close()
	if s.scratch {
		// Where an open file can be removed, spool has done so.
		if gone := os.Remove(s.Name()); !errors.Is(gone, fs.ErrNotExist) {
			err = errors.Join(err, gone)
		}
	}
	return err
}

// open gives a program to be read. What can't be read from anywhere (standard
// input, a pipe) goes through a temporary file: a program may be larger than
// memory.
func (a *app) open(ctx context.Context, path string) (source, int64, error) {
	if path == "-" {
		if a.stdinRead {
			return source{}, 0, errors.New("-: standard input is named twice and can be read once")
		}
		a.stdinRead = true
		return spool(ctx, path, a.stdin)
	}
	f, err := os.Open(path)
	if err != nil {
		return source{}, 0, plainly(err)
	}
	info, err := f.Stat()
	switch {
	case err != nil:
		f.Close()
		return source{}, 0, plainly(err)
	case info.Mode().IsRegular():
		return source{File: f}, info.Size(), nil
	}
	defer f.Close()
	return spool(ctx, path, f)
}

// spool copies r to a temporary file.
func spool(ctx context.Context, path string, r io.Reader) (source, int64, error) {
	f, err := os.CreateTemp("", "tapefit-*")
	if err != nil {
		return source{}, 0, fmt.Errorf("%s: %w", path, err)
	}
	os.Remove(f.Name()) // gone whatever happens, where an open file can be removed
	s := source{f, true}
	type copied struct {
		size int64
		err  error
	}
	done := make(chan copied, 1)
	go func() {
		size, err := io.Copy(f, r)
		done <- copied{size, err}
	}()
	// A read from a terminal can't be cut short: the run ends beside it.
	select {
	case c := <-done:
		if c.err == nil {
			return s, c.size, nil
		}
		err = fmt.Errorf("%s: %w", path, c.err)
	case <-ctx.Done():
		err = ctx.Err()
	}
	s.Close()
	return source{}, 0, err
}

// plainly is an error of a file with its place first and without the name of
// the system call.
func plainly(err error) error {
	var at *fs.PathError
	if errors.As(err, &at) {
		return fmt.Errorf("%s: %w", at.Path, at.Err)
	}
	return err
}
