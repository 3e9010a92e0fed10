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
	was     *earlier // nil where nothing is compared
}

// set are the rules of the machine, those of its shop among them; nil says that
// the failure was reported.
func (a *app) set(m *profiles.Machine) []*rules.Rule {
	set, err := rules.For(m)
	if err != nil {
		a.fail(err)
		return nil
	}
	return set
}

// job is what the flags mean. Without a job, an error is wrong usage, and nil
// says that the failure was reported.
func (a *app) job(f *walkFlags) (*job, error) {
	m, opt, err := a.walk(f)
	if m == nil {
		return nil, err
	}
	set := a.set(m)
	if set == nil {
		return nil, nil
	}
	return &job{machine: m, rules: set, options: opt}, nil
}

// earlier is the machine that a comparison starts from.
type earlier struct {
	machine *profiles.Machine
	rules   []*rules.Rule // with the house rules of that machine
	options rules.Options
}

// A checked is what came of one program.
type checked struct {
	path     string
	now, was *rules.Result // was is nil where nothing is compared
	err      error
}

// missing counts the programs of which nothing is told.
type missing struct {
	unread int // could not be read
	left   int // not looked at, or not to the end: interrupted
}

// each checks the programs and shows each result, in order, until show says no.
// What can't be read is reported, the others are still checked. After an
// interrupt what was done is shown, and how much was not is reported.
func (a *app) each(ctx context.Context, paths []string, j job, show func(*checked) bool) missing {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var gone missing
	bar := a.progress(len(paths))
	stdin := slices.Index(paths, "-")
	inOrder(len(paths), func(i int) *checked {
		if paths[i] == "-" && i != stdin {
			return &checked{path: "-", err: errStdinTwice}
		}
		return a.one(ctx, paths[i], j)
	}, func(c *checked) bool {
		bar.clear()
		defer bar.step()
		switch {
		case errors.Is(c.err, context.Canceled):
			gone.left++
		case c.err != nil:
			a.failAt(c.path, c.err)
			gone.unread++
		case !show(c):
			cancel() // the others need not be finished
			return false
		}
		return true
	})
	bar.clear()
	if gone.left > 0 {
		a.fail(fmt.Errorf("interrupted: not looked at, or not to the end: %d of %d programs", gone.left, len(paths)))
	}
	return gone
}

// one checks one program. It is run for several at a time.
func (a *app) one(ctx context.Context, path string, j job) *checked {
	c := &checked{path: path}
	src, size, err := a.open(ctx, path)
	if err != nil {
		c.err = err
		return c
	}
	defer src.Close()
	on := func(m *profiles.Machine, set []*rules.Rule, opt rules.Options) *rules.Result {
		if c.err != nil {
			return nil
		}
		opt.Done = ctx.Done()
		r, err := rules.Check(interruptible{ctx, src}, size, path, m, set, opt)
		if c.err = err; ctx.Err() != nil {
			c.err = ctx.Err() // also without an error it may have ended early
		}
		return r
	}
	c.now = on(j.machine, j.rules, j.options)
	if j.was != nil {
		c.was = on(j.was.machine, j.was.rules, j.was.options)
	}
	return c
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
	held    bool // Close leaves it open: it is read again
}

func (s source) Close() error {
	if s.held {
		return nil
	}
	err := s.File.Close()
	if s.scratch {
		// Where an open file can be removed, spool has done so.
		if gone := os.Remove(s.Name()); !errors.Is(gone, fs.ErrNotExist) {
			err = errors.Join(err, gone)
		}
	}
	return err
}

var errStdinTwice = errors.New("-: standard input is named twice and can be read once")

// open gives a program to be read. What can't be read from anywhere (standard
// input, a pipe) goes through a temporary file: a program may be larger than
// memory.
func (a *app) open(ctx context.Context, path string) (source, int64, error) {
	if path == "" {
		return source{}, 0, errors.New("a program with no name: name a file, a folder, or - for standard input")
	}
	if path == "-" {
		if a.held.File != nil {
			return a.held, a.heldSize, nil
		}
		if a.stdinRead.Swap(true) {
			return source{}, 0, errStdinTwice
		}
		return spool(ctx, path, func() (io.ReadCloser, error) { return io.NopCloser(a.stdin), nil })
	}
	if strings.EqualFold(filepath.Ext(path), ".toml") {
		return source{}, 0, fmt.Errorf("%s: the profile of a machine, no part program: \"tapefit machines check\" checks it, --machine takes it", path)
	}
	// Opening a pipe waits for its writer, and spool waits for an interrupt too.
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() {
		return spool(ctx, path, func() (io.ReadCloser, error) { return os.Open(path) })
	}
	f, err := os.Open(path)
	if err != nil {
		return source{}, 0, plainly(err)
	}
	info, err := f.Stat()
	if err != nil {
		f.Close()
		return source{}, 0, plainly(err)
	}
	return source{File: f}, info.Size(), nil
}

// hold reads standard input for a command that opens it more than once for one
// program, until release is called.
func (a *app) hold(ctx context.Context) (release func(), err error) {
	src, size, err := a.open(ctx, "-")
	if err != nil {
		return nil, err
	}
	a.held, a.heldSize = src, size
	a.held.held = true
	return func() {
		a.held = source{}
		src.Close()
	}, nil
}

// spool copies what is opened to a temporary file.
func spool(ctx context.Context, path string, open func() (io.ReadCloser, error)) (source, int64, error) {
	f, err := os.CreateTemp("", "tapefit-*")
	if err != nil {
		return source{}, 0, fmt.Errorf("%s: %w", path, err)
	}
	os.Remove(f.Name()) // gone whatever happens, where an open file can be removed
	s := source{File: f, scratch: true}
	type copied struct {
		size int64
		err  error
	}
	done := make(chan copied, 1)
	go func() {
		r, err := open()
		if err != nil {
			done <- copied{0, err}
			return
		}
		defer r.Close()
		size, err := io.Copy(f, r)
		done <- copied{size, err}
	}()
	// A read from a terminal can't be cut short: the run ends beside it.
	select {
	case c := <-done:
		if c.err == nil {
			return s, c.size, nil
		}
		err = inFile(path, c.err)
	case <-ctx.Done():
		err = ctx.Err()
	}
	s.Close()
	return source{}, 0, err
}

// inFile is an error with the place first, once.
func inFile(path string, err error) error {
	var at *fs.PathError
	if errors.As(err, &at) {
		return plainly(err)
	}
	return fmt.Errorf("%s: %w", path, err)
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
