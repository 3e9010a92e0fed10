// Package watch tells which files of a folder have landed or changed, once each
// has come to rest. It knows names, sizes and times of files and nothing of
// what is in them.
//
// What the system tells of a folder are hints: they come late, twice, not at
// all where too many come at once, and never for what another computer writes
// to a shared folder. So a hint only says where to look, the folder is looked
// through from time to time besides, and what counts is what a file is then.
package watch

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"syscall"
	"time"

	"github.com/fsnotify/fsnotify"
)

// Options say which files are of interest and when.
type Options struct {
	// Settle is how long size and modification time of a file must stand still
	// before it is taken for whole; above 0.
	Settle time.Duration

	// Takes says by its path whether a file is of interest.
	Takes func(path string) bool

	// Done says whether a file that was found, and not seen to change, has been
	// done before.
	Done func(path string, info fs.FileInfo) bool

	// Do does a file. It is called for several at a time, and ends early when the
	// context is done. It says whether that went well: where it did not, the next
	// hint about the file is enough to do it again.
	Do func(ctx context.Context, f *File) bool

	// Trouble is told what goes wrong and does not end the watch.
	Trouble func(error)
}

// A File is one at rest.
type File struct {
	Path string
	Info fs.FileInfo // of what a link leads to; of the link where that is nothing
}

// Still says whether the file is what it was when it was taken up.
func (f *File) Still() bool {
	info, err := look(f.Path)
	return err == nil && same(f.Info, info)
}

// look is what a file is, behind its link.
func look(path string) (fs.FileInfo, error) {
	if info, err := os.Stat(path); err == nil {
		return info, nil
	}
	return os.Lstat(path)
}

func same(a, b fs.FileInfo) bool {
	return os.SameFile(a, b) && a.Size() == b.Size() && a.ModTime().Equal(b.ModTime())
}

// Folder does the files in a folder and its subfolders, those that are there and
// are not done, and those that land or change, until the context is done; that is
// no error. An error is that the folder cannot be watched, or no longer. Hidden
// files and folders are left out, links to folders are not followed. Memory goes
// with the number of files of interest, some 500 bytes for each.
func Folder(ctx context.Context, root string, opt Options) error {
	w, err := newWatcher(root, opt)
	if err != nil {
		return err
	}
	return w.run(ctx)
}

// rescanAfter is the time from one look through the folder to the next, unless
// looking takes so long that it would be more than a twentieth of the time.
const rescanAfter = 10 * time.Second

// A watcher is a folder that is watched. All but Do and the forwarding of errors
// goes on in one goroutine.
type watcher struct {
	Options
	root   string
	id     fs.FileInfo // of the root: another folder of its name is not it
	system *fsnotify.Watcher
	missed chan struct{} // the system has lost hints

	files    map[string]*file
	settling []*file
	ready    []*file           // in their order; those not atReady have moved on
	folders  map[string]int    // the round in which each was last seen
	round    int               // counts looks through the folder
	troubles map[string]string // of folders, what was told of them
	rescan   time.Duration

	tasks    chan *file
	finished chan outcome
}

// A file is one of interest.
type file struct {
	path  string
	state state
	info  fs.FileInfo // as last looked at
	since time.Time   // when it last changed, or was said to
	again bool        // said to have changed while it is being done
	round int

	done   fs.FileInfo // what was done last, or nil
	begun  time.Time   // when that was begun
	failed bool
}

type state uint8

const (
	atRest  state = iota // nothing to do
	settles              // waits to stand still
	atReady              // waits for its turn
	atWork
)

// An outcome is what came of doing a file; info is nil where there is none.
type outcome struct {
	*file
	info  fs.FileInfo
	begun time.Time
	ok    bool
}

func newWatcher(root string, opt Options) (*watcher, error) {
	root = filepath.Clean(root)
	id, err := os.Stat(root)
	if err != nil {
		return nil, err
	}
	system, err := fsnotify.NewWatcher()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", root, err)
	}
	return &watcher{
		Options: opt, root: root, id: id, system: system, missed: make(chan struct{}, 1),
		files: map[string]*file{}, folders: map[string]int{}, troubles: map[string]string{}, rescan: rescanAfter,
		tasks: make(chan *file), finished: make(chan outcome, runtime.GOMAXPROCS(0)),
	}, nil
}

func (w *watcher) run(ctx context.Context) error {
	var crew sync.WaitGroup
	defer crew.Wait()
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	defer close(w.tasks)
	for range cap(w.finished) {
		crew.Go(func() { w.work(ctx) })
	}
	crew.Go(w.forward)
	defer w.system.Close()
	return w.loop(ctx)
}

// forward takes the errors of the system, which waits for that with its locks
// held. Whatever they are, hints may be lost.
func (w *watcher) forward() {
	for range w.system.Errors {
		select {
		case w.missed <- struct{}{}:
		default: // a look is due already
		}
	}
}

// work does files.
func (w *watcher) work(ctx context.Context) {
	for f := range w.tasks {
		o := outcome{file: f, begun: time.Now(), ok: true}
		if info, err := look(f.path); err == nil {
			o.info = info
			o.ok = w.Do(ctx, &File{f.path, info})
		}
		select {
		case w.finished <- o:
		case <-ctx.Done():
		}
	}
}

func (w *watcher) loop(ctx context.Context) error {
	if err := w.lookThrough(); err != nil {
		return err
	}
	through := time.NewTimer(w.rescan)
	defer through.Stop()
	tick := time.NewTimer(w.Settle / 4)
	defer tick.Stop()
	ticks, hurries := true, false
	hints := w.system.Events
	for {
		if len(w.settling) > 0 && !ticks {
			tick.Reset(w.Settle / 4)
			ticks = true
		}
		next, tasks := w.next()
		var err error
		select {
		case <-ctx.Done():
			return nil
		case e, open := <-hints:
			if !open {
				hints = nil // looking through the folder goes on
			}
			err = w.hint(e)
		case tasks <- next:
			next.state, next.again = atWork, false
			w.ready = w.ready[1:]
		case o := <-w.finished:
			w.finish(o)
		case <-tick.C:
			ticks = false
			w.settle(time.Now())
		case <-w.missed:
			if !hurries { // not at once: where many are missed, more will be
				through.Reset(min(w.Settle, w.rescan))
				hurries = true
			}
		case <-through.C:
			hurries = false
			begun := time.Now()
			err = w.lookThrough()
			through.Reset(max(w.rescan, 20*time.Since(begun)))
		}
		if err != nil {
			return err
		}
	}
}

// next is the file whose turn it is and where it goes, or nil and a channel that
// takes nothing.
func (w *watcher) next() (*file, chan<- *file) {
	for len(w.ready) > 0 && w.ready[0].state != atReady {
		w.ready = w.ready[1:]
	}
	if len(w.ready) == 0 {
		w.ready = nil // the array of those that were is let go
		return nil, nil
	}
	return w.ready[0], w.tasks
}

// hint follows what the system says of a path.
func (w *watcher) hint(e fsnotify.Event) error {
	path := filepath.Clean(e.Name)
	if e.Op == 0 {
		return nil
	}
	if path == w.root {
		return w.stands()
	}
	if hidden(path) {
		return nil
	}
	if e.Has(fsnotify.Remove | fsnotify.Rename) {
		w.forget(path)
	}
	if e.Has(fsnotify.Create | fsnotify.Chmod) {
		if info, err := os.Lstat(path); err == nil && info.IsDir() {
			w.scan(path)
			return nil
		}
	}
	if e.Has(fsnotify.Create|fsnotify.Write|fsnotify.Chmod) && w.Takes(path) {
		w.touch(path, nil)
	}
	return nil
}

func hidden(path string) bool { return strings.HasPrefix(filepath.Base(path), ".") }

// errGone tells what has become of the folder.
var errGone = errors.New("the folder is gone, or another one stands in its place: name it again once it is back")

// stands says whether the root is still there, can be read, and is the one that
// is watched.
func (w *watcher) stands() error {
	f, err := os.Open(w.root)
	if errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s: %w", w.root, errGone)
	}
	if err != nil {
		return err
	}
	defer f.Close()
	info, err := f.Stat()
	if err == nil && !os.SameFile(info, w.id) {
		return fmt.Errorf("%s: %w", w.root, errGone)
	}
	return err
}

// forget takes note that there is nothing under a path any more.
func (w *watcher) forget(path string) {
	if f := w.files[path]; f != nil && f.state == atRest {
		delete(w.files, path) // in other states it is missed by whoever looks
	}
	if _, ok := w.folders[path]; !ok {
		return
	}
	// What was below it may go on under another name, and would be reported
	// under the old one.
	below := path + string(filepath.Separator)
	for folder := range w.folders {
		if folder == path || strings.HasPrefix(folder, below) {
			w.unwatch(folder)
		}
	}
}

func (w *watcher) unwatch(folder string) {
	w.system.Remove(folder) // an error says that the system did so before
	delete(w.folders, folder)
	delete(w.troubles, folder)
}

// touch takes note that a file has changed, or may have; info is what it is, or
// nil where that is still to be looked at.
func (w *watcher) touch(path string, info fs.FileInfo) {
	f := w.files[path]
	if f == nil {
		f = &file{path: path, round: w.round}
		w.files[path] = f
	}
	f.since = time.Now()
	switch f.state {
	case atWork:
		f.again = true
	case settles:
	default: // one that is atReady is not at rest after all
		if info == nil {
			info, _ = look(path)
		}
		f.info, f.state = info, settles
		w.settling = append(w.settling, f)
	}
}

// settle moves on the files that have stood still for long enough.
func (w *watcher) settle(now time.Time) {
	var still []*file
	w.settling = slices.DeleteFunc(w.settling, func(f *file) bool {
		if now.Sub(f.since) < w.Settle {
			return false
		}
		info, err := look(f.path)
		switch {
		case err != nil || !regular(info):
			delete(w.files, f.path)
		case f.info == nil || !same(f.info, info):
			f.info, f.since = info, now
			return false
		case f.unchanged():
			f.state = atRest
		default:
			f.state = atReady
			still = append(still, f)
		}
		return true
	})
	slices.SortFunc(still, func(a, b *file) int { return strings.Compare(a.path, b.path) })
	w.ready = append(w.ready, still...)
}

// regular says whether something is a file, or a link to nothing, of which
// whoever does it can tell.
func regular(info fs.FileInfo) bool {
	return info.Mode().IsRegular() || info.Mode()&fs.ModeSymlink != 0
}

// unchanged says whether the file is what was done last. Hints may come after
// that.
func (f *file) unchanged() bool {
	if f.done == nil || f.failed || !same(f.done, f.info) {
		return false
	}
	written := f.info.ModTime()
	return written.Add(grain(written)).Before(f.begun)
}

// grain is how far apart two writes may be that leave the same modification
// time: it goes by the ticks of the system, or by two seconds on the media of
// cameras and old controls (FAT; common knowledge).
func grain(t time.Time) time.Duration {
	if t.Nanosecond() == 0 {
		return 2 * time.Second
	}
	return 20 * time.Millisecond
}

// finish takes note of a file that was done.
func (w *watcher) finish(o outcome) {
	f := o.file
	if o.info == nil {
		delete(w.files, f.path) // and if there is another by now, a hint follows
		if f.again {
			w.touch(f.path, nil)
		}
		return
	}
	f.state, f.done, f.begun, f.failed = atRest, o.info, o.begun, !o.ok
	if f.again || !(&File{f.path, o.info}).Still() {
		w.touch(f.path, nil)
	}
}

// lookThrough looks through the whole folder, and forgets what is gone.
func (w *watcher) lookThrough() error {
	if err := w.stands(); err != nil {
		return err
	}
	w.round++
	w.scan(w.root)
	for folder, round := range w.folders {
		if round != w.round {
			w.unwatch(folder)
		}
	}
	for path, f := range w.files {
		if f.round != w.round && f.state == atRest {
			delete(w.files, path)
		}
	}
	return nil
}

// scan looks through a folder and those below.
func (w *watcher) scan(folder string) {
	// Watched first: what lands while it is read is in one of both. One that is
	// watched already may be another folder of that name by now.
	watched := w.system.Add(folder)
	entries, read := os.ReadDir(folder)
	if errors.Is(read, fs.ErrNotExist) {
		w.forget(folder)
		return
	}
	w.folders[folder] = w.round
	w.trouble(folder, unwatched(folder, watched), read)
	for _, e := range entries {
		path := filepath.Join(folder, e.Name())
		switch {
		case hidden(path):
		case e.IsDir():
			w.scan(path)
		case w.Takes(path):
			w.found(path)
		}
	}
}

// unwatched says what it means that the system does not watch a folder.
func unwatched(folder string, err error) error {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, syscall.ENOSPC): // so inotify says it
		err = errors.New("the system watches no more folders for you (fs.inotify.max_user_watches)")
	}
	return fmt.Errorf("%s: what lands there is found with a delay of %v or more: %w", folder, rescanAfter, err)
}

// trouble tells of trouble with a folder when it begins or becomes another.
func (w *watcher) trouble(folder string, watched, read error) {
	err := watched
	if read != nil {
		err = read // that it can't be watched either goes without saying
	}
	if err == nil {
		delete(w.troubles, folder)
	} else if w.troubles[folder] != err.Error() {
		w.troubles[folder] = err.Error()
		w.Trouble(err)
	}
}

// found takes note of a file that is in the folder.
func (w *watcher) found(path string) {
	info, err := look(path)
	if err != nil || !regular(info) {
		return
	}
	f := w.files[path]
	switch {
	case f == nil && w.Done(path, info):
		w.files[path] = &file{path: path, round: w.round, done: info, begun: time.Now()}
	case f == nil || f.state == atRest && !same(f.done, info):
		w.touch(path, info)
	}
	w.files[path].round = w.round
}
