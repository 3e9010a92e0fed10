package main

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/signal"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strings"
	"sync"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"tapefit/internal/report"
	"tapefit/internal/watch"
	"tapefit/profiles"
	"tapefit/rules"
)

func (a *app) watchCommand() *cobra.Command {
	var walk walkFlags
	settle := durationFlag(500 * time.Millisecond)
	cmd := &cobra.Command{
		Use:   "watch FOLDER --machine NAME|FILE.toml",
		Short: "Check each program that lands in a folder, and lay a page beside it",
		Long: `Watch checks each part program that lands in a folder, or is changed there, and
writes a page beside it as "tapefit report" does: part.nc gets part.nc.html. Each
has a line: the time of day, its name, the counts, and the first error or else the
cycle time. The page has the rest. Ctrl-C ends it.

Programs are known by their endings (` + programEndings() + `).
Subfolders are watched too, new ones as they come. Hidden files and folders are
left out, links to folders are not followed. A link to a program is checked when
it comes; what it leads to is looked at every 10 seconds or so, as is all of the
folder: shared folders do not tell what other computers write.

What is still being written is waited out: a program is whole when its size and
modification time have stood still for --settle. One that changes while it is
checked gets no page until it stands still again.

Programs that are there at the start are checked, but for those whose page is by
watch, tells of the program as it is (size and modification time), and was made
with the same machine, profile, flags and tapefit. The profile is read once: start
again when it has changed.

A page appears whole or not at all. Where a program cannot be checked, a page by
watch that tells of an earlier one is removed. Other pages stay: when a program is
deleted or renamed, throw its page away yourself.

Exit status: 0 ended by Ctrl-C (or SIGTERM, or the terminal closed), 2 wrong
usage, a bad profile, output that cannot be written, or a folder that cannot be
watched or is gone. What is found makes no difference to it. A page without
findings is not a promise: dry run above the part, single block, a hand on feed
hold.`,
		Example: `  tapefit watch from-cam --machine bed-mill
  tapefit watch /srv/programs --machine ./my-mill.toml --settle 2s >> checked.log`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) != 1 {
				return errors.New("watch wants one folder: each machine has its own")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if time.Duration(settle) < leastSettle {
				return fmt.Errorf("--settle must be %v or more", leastSettle)
			}
			j, err := a.job(&walk)
			if j == nil {
				return err
			}
			if info, err := os.Stat(args[0]); err != nil {
				a.fail(plainly(err))
				return nil
			} else if !info.IsDir() {
				return fmt.Errorf("%s is a file: watch wants its folder", args[0])
			}
			a.watch(cmd.Context(), args[0], time.Duration(settle), *j)
			return nil
		},
	}
	walk.add(cmd)
	cmd.Flags().Var(&settle, "settle", "how long a program must stand still before it is checked, such as 2s or 300ms")
	return cmd
}

// leastSettle is far above the ticks by which systems tell time.
const leastSettle = 50 * time.Millisecond

func (a *app) watch(ctx context.Context, root string, settle time.Duration, j job) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	if !signal.Ignored(syscall.SIGHUP) { // as nohup wants it
		var stop context.CancelFunc
		ctx, stop = signal.NotifyContext(ctx, syscall.SIGHUP)
		defer stop()
	}
	k, err := kindOf(j)
	if err != nil {
		a.fail(err)
		return
	}
	_, terminal := terminalOf(a.stdout)
	w := &watching{app: a, root: root, job: j, kind: k, log: a.text().Log(!terminal), cancel: cancel}
	fmt.Fprintf(a.stderr, "tapefit: watching %s for %s; Ctrl-C ends it\n", strings.Map(printable, root), j.machine.Name)
	err = watch.Folder(ctx, root, watch.Options{
		Settle:  settle,
		Takes:   func(path string) bool { return slices.Contains(endings[:], strings.ToLower(filepath.Ext(path))) },
		Done:    func(path string, info fs.FileInfo) bool { return w.isTrue(watchedPage(path), path, info) },
		Do:      w.program,
		Trouble: w.trouble,
	})
	if err != nil {
		a.fail(plainly(err))
	}
	if !a.broken {
		a.written(w.log.End(w.checks))
	}
}

// A watching is a folder that is watched.
type watching struct {
	app    *app
	root   string
	job    job
	kind   string
	cancel func()

	mu     sync.Mutex // guards what follows, and the output of the app
	log    *report.Log
	checks int
}

// watchedPage is the page of a program. It has the whole name in it: part.nc and
// part.tap are two programs, and part.html may be somebody else's.
func watchedPage(program string) string { return program + ".html" }

// errMoved says that the program has changed while it was checked.
var errMoved = errors.New("the program has changed")

// program checks one and lays its page beside it. It is run for several at a
// time.
func (w *watching) program(ctx context.Context, f *watch.File) bool {
	page := watchedPage(f.Path)
	r, err := w.app.page(ctx, paged{program: f.Path, page: page}, w.job, w.write(f))
	if ctx.Err() != nil || err != nil && !f.Still() {
		return false // the watch ends, or comes back to it
	}
	name := f.Path
	if rel, err := filepath.Rel(w.root, f.Path); err == nil {
		name = rel
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	if err != nil {
		w.removeUntrue(page)
		err = w.log.Failed(name, errors.New(strings.TrimPrefix(err.Error(), f.Path+": "))) // named already
	} else {
		w.checks++
		err = w.log.Checked(name, r)
	}
	if !w.app.written(err) {
		w.cancel() // nobody reads what more there is to say
	}
	return r != nil
}

// write writes the page with its mark.
func (w *watching) write(f *watch.File) pageWriter {
	return func(out io.Writer, src io.ReaderAt, size int64, path string, m *profiles.Machine, set []*rules.Rule, opt rules.Options) (*rules.Result, error) {
		r, err := report.Page(out, src, size, path, m, set, opt)
		switch {
		case err != nil:
			return nil, err
		case !f.Still():
			return nil, errMoved
		}
		_, err = io.WriteString(out, w.mark(f.Path, f.Info))
		return r, err
	}
}

func (w *watching) trouble(err error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.app.say(plainly(err))
}

// A mark ends each page by watch, and says of what it tells: it is a comment of
// HTML with a digest.
const (
	markBegins = "<!-- tapefit watch "
	markLength = len(markBegins) + 2*sha256.Size + len(" -->\n")
)

// mark is that of a program's page.
func (w *watching) mark(program string, info fs.FileInfo) string {
	sum := sha256.Sum256(fmt.Appendf(nil, "%s\n%d\n%d\n%s", filepath.Base(program), info.Size(), info.ModTime().UnixNano(), w.kind))
	return fmt.Sprintf("%s%x -->\n", markBegins, sum)
}

// kindOf is what all pages have in common that are made with one machine, the
// same flags and the same build of this program.
func kindOf(j job) (string, error) {
	build, _ := debug.ReadBuildInfo()
	text, err := json.Marshal([]any{build, j.machine, j.options.Offsets, j.options.MaxBlocks})
	if err != nil {
		return "", fmt.Errorf("%s: %w", j.machine.Name, err)
	}
	return fmt.Sprintf("%x", sha256.Sum256(text)), nil
}

// isTrue says whether a page tells of the program as it is.
func (w *watching) isTrue(page, program string, info fs.FileInfo) bool {
	return markOf(page) == w.mark(program, info)
}

// removeUntrue removes a page of which the program is no longer what it tells
// of. Only pages by watch are.
func (w *watching) removeUntrue(page string) {
	if strings.HasPrefix(markOf(page), markBegins) {
		os.Remove(page) // where that fails, the log says that nothing was checked
	}
}

// markOf reads the last bytes of a page; "" where it has no mark.
func markOf(page string) string {
	f, err := os.Open(page)
	if err != nil {
		return ""
	}
	defer f.Close()
	mark := make([]byte, markLength)
	if _, err := f.Seek(-int64(markLength), io.SeekEnd); err != nil {
		return ""
	}
	if _, err := io.ReadFull(f, mark); err != nil {
		return ""
	}
	return string(mark)
}
