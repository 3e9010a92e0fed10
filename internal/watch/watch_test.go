package watch

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
)

// A bench is a folder that is watched in a test.
type bench struct {
	t      *testing.T
	root   string
	during func(f *File) bool // runs while a file is done; nil: nothing, and well
	w      *watcher
	ended  chan error

	mu       sync.Mutex
	done     []string // what was in the files that were done and stood still
	troubles []string
}

// newBench watches a folder that has these files (name, text, name, text).
func newBench(t *testing.T, files ...string) *bench {
	t.Helper()
	b := &bench{t: t, root: t.TempDir(), ended: make(chan error, 1)}
	for i := 0; i < len(files); i += 2 {
		b.write(files[i], files[i+1])
	}
	w, err := newWatcher(b.root, Options{
		Settle: 50 * time.Millisecond,
		Takes:  func(path string) bool { return filepath.Ext(path) == ".nc" },
		Done: func(path string, _ fs.FileInfo) bool {
			_, err := os.Stat(path + ".done")
			return err == nil
		},
		Do: b.do,
		Trouble: func(err error) {
			b.mu.Lock()
			defer b.mu.Unlock()
			b.troubles = append(b.troubles, err.Error())
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	w.rescan = time.Hour // so that what is seen was told by the system
	b.w = w
	return b
}

func (b *bench) start() {
	ctx, cancel := context.WithCancel(context.Background())
	go func() { b.ended <- b.w.run(ctx) }()
	b.t.Cleanup(func() {
		cancel()
		if err := <-b.ended; err != nil {
			b.t.Errorf("ended with %v", err)
		}
	})
}

func (b *bench) do(_ context.Context, f *File) bool {
	text, err := os.ReadFile(f.Path)
	if err != nil {
		text = []byte("unreadable")
	}
	ok := b.during == nil || b.during(f)
	if f.Still() {
		b.mu.Lock()
		defer b.mu.Unlock()
		rel, _ := filepath.Rel(b.root, f.Path)
		b.done = append(b.done, filepath.ToSlash(rel)+" "+string(text))
	}
	return ok
}

func (b *bench) path(name string) string { return filepath.Join(b.root, filepath.FromSlash(name)) }

// write puts a file into its place whole: on a loaded computer one that is written
// there might stand empty for longer than it takes to settle.
func (b *bench) write(name, text string) {
	b.t.Helper()
	path := b.path(name)
	err := errors.Join(os.MkdirAll(filepath.Dir(path), 0o755), os.WriteFile(path+"~", []byte(text), 0o644), os.Rename(path+"~", path))
	if err != nil {
		b.t.Fatal(err)
	}
}

// want waits until exactly these were done, in any order.
func (b *bench) want(done ...string) {
	b.t.Helper()
	slices.Sort(done)
	var got []string
	if !eventually(func() bool {
		b.mu.Lock()
		defer b.mu.Unlock()
		got = slices.Sorted(slices.Values(b.done))
		return len(got) >= len(done)
	}) || !slices.Equal(got, done) {
		b.t.Fatalf("done: %q\nwant: %q", got, done)
	}
}

// eventually waits for something as long as a loaded computer may take.
func eventually(is func() bool) bool {
	for deadline := time.Now().Add(time.Minute); time.Now().Before(deadline); time.Sleep(10 * time.Millisecond) {
		if is() {
			return true
		}
	}
	return false
}

func TestThereAtTheStart(t *testing.T) {
	b := newBench(t, "a.nc", "1", "old.nc", "2", "old.nc.done", "", "sub/deep/b.nc", "3", "sub/text.txt", "4", ".hidden.nc", "5", ".git/c.nc", "6")
	b.start()
	b.want("a.nc 1", "sub/deep/b.nc 3")
	b.write("old.nc", "7") // changed, so it is to be done
	b.want("a.nc 1", "sub/deep/b.nc 3", "old.nc 7")
}

// A file that changes while it is done is done again, once, and what came of it
// before is known to be of no use.
func TestChangedWhileDone(t *testing.T) {
	b := newBench(t, "a.nc", "old")
	first := true
	b.during = func(*File) bool {
		if first {
			first = false
			if err := os.WriteFile(b.path("a.nc"), []byte("new"), 0o644); err != nil { // no other is done meanwhile
				t.Error(err)
			}
		}
		return true
	}
	b.start()
	b.want("a.nc new")
}

// Another file of the same name is done also where size and time are those of
// the one before.
func TestRenamedIntoPlace(t *testing.T) {
	b := newBench(t, "a.nc", "old", "beside", "new")
	long := time.Now().Add(-time.Hour)
	for _, name := range []string{"a.nc", "beside"} {
		if err := os.Chtimes(b.path(name), long, long); err != nil {
			t.Fatal(err)
		}
	}
	b.start()
	b.want("a.nc old")
	if err := os.Rename(b.path("beside"), b.path("a.nc")); err != nil {
		t.Fatal(err)
	}
	b.want("a.nc old", "a.nc new")
}

func TestFoldersComeAndGo(t *testing.T) {
	b := newBench(t, "a/b/1.nc", "1")
	b.start()
	b.want("a/b/1.nc 1")
	if err := os.Rename(b.path("a"), b.path("c")); err != nil {
		t.Fatal(err)
	}
	b.want("a/b/1.nc 1", "c/b/1.nc 1")
	b.write("c/b/2.nc", "2") // reported under the new name
	b.want("a/b/1.nc 1", "c/b/1.nc 1", "c/b/2.nc 2")
	b.write("a/b/3.nc", "3") // another folder of the old name
	b.want("a/b/1.nc 1", "c/b/1.nc 1", "c/b/2.nc 2", "a/b/3.nc 3")
	if err := os.RemoveAll(b.path("c")); err != nil {
		t.Fatal(err)
	}
	b.write("c/b/2.nc", "4")
	b.want("a/b/1.nc 1", "c/b/1.nc 1", "c/b/2.nc 2", "a/b/3.nc 3", "c/b/2.nc 4")
}

// What did not go well is done again at a hint that else means nothing.
func TestFailedAgain(t *testing.T) {
	b := newBench(t, "a.nc", "1")
	ok := false
	b.during = func(*File) bool { ok = !ok; return !ok }
	b.start()
	b.want("a.nc 1")
	if err := os.Chmod(b.path("a.nc"), 0o600); err != nil {
		t.Fatal(err)
	}
	b.want("a.nc 1", "a.nc 1")
}

// Where the system tells nothing, as of a shared folder, looking finds it; and
// where it says that it has lost hints, looking is what is done.
func TestWithoutHints(t *testing.T) {
	for _, lost := range []bool{false, true} {
		b := newBench(t, "1.nc", "1", "2.nc", "2", "gone/3.nc", "3")
		if !lost {
			b.w.rescan = 20 * time.Millisecond
		}
		b.w.system.Close()
		b.start()
		b.want("1.nc 1", "2.nc 2", "gone/3.nc 3")
		b.write("1.nc", "one")
		b.write("new/4.nc", "4")
		if err := os.RemoveAll(b.path("gone")); err != nil {
			t.Fatal(err)
		}
		if lost {
			b.w.missed <- struct{}{}
		}
		b.want("1.nc 1", "2.nc 2", "gone/3.nc 3", "1.nc one", "new/4.nc 4")
		// It was told once of each folder that hints are missing; an hour is too
		// long for a second time.
		b.mu.Lock()
		if !lost && len(b.troubles) != 3 {
			t.Errorf("troubles: %q", b.troubles)
		}
		b.mu.Unlock()
	}
}

func TestFolderGone(t *testing.T) {
	for _, replaced := range []bool{false, true} {
		b := newBench(t, "1.nc", "1")
		b.w.rescan = 50 * time.Millisecond
		go func() { b.ended <- b.w.run(context.Background()) }()
		b.want("1.nc 1")
		if err := os.Rename(b.root, b.root+"-away"); err != nil {
			t.Fatal(err)
		}
		if replaced {
			os.Mkdir(b.root, 0o755)
		}
		if err := <-b.ended; !errors.Is(err, errGone) || !strings.Contains(err.Error(), b.root) {
			t.Errorf("ended with %v", err)
		}
	}
}

func TestLinks(t *testing.T) {
	b := newBench(t, "kept/1.nc", "1")
	for to, name := range map[string]string{
		"kept/1.nc": "link.nc", "nowhere.txt": "dangling.nc", "kept": "folder", ".": "round",
	} {
		if err := os.Symlink(to, b.path(name)); err != nil {
			t.Skip(err)
		}
	}
	if runtime.GOOS == "linux" {
		b.w.rescan = 50 * time.Millisecond
	}
	b.start()
	b.want("kept/1.nc 1", "link.nc 1", "dangling.nc unreadable")
	b.write("nowhere.txt", "there") // and by looking it is found
	b.want("kept/1.nc 1", "link.nc 1", "dangling.nc unreadable", "dangling.nc there")
}

// A hint that comes late, of a file that was done as it is, means nothing; but
// within the grain of the clock that wrote the time a file may have changed
// behind it.
func TestUnchanged(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.nc")
	if err := os.WriteFile(path, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	at := time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		written, begun time.Duration
		failed, want   bool
	}{
		{0, 3 * time.Second, false, true},
		{0, 3 * time.Second, true, false},
		{0, time.Second, false, false}, // two seconds on some media
		{time.Millisecond, time.Second, false, true},
		{time.Millisecond, 2 * time.Millisecond, false, false},
		{time.Hour, time.Second, false, false}, // its clock is ahead of ours
	} {
		if err := os.Chtimes(path, at, at.Add(c.written)); err != nil {
			t.Fatal(err)
		}
		info, err := look(path)
		if err != nil {
			t.Fatal(err)
		}
		f := file{info: info, done: info, begun: at.Add(c.begun), failed: c.failed}
		if got := f.unchanged(); got != c.want {
			t.Errorf("%+v: %v", c, got)
		}
	}
}

// Files that are written without end are waited for and hold up no others.
func TestWrittenWithoutEnd(t *testing.T) {
	b := newBench(t)
	b.start()
	stop := make(chan struct{})
	var writers sync.WaitGroup
	writers.Go(func() {
		f, err := os.Create(b.path("long.nc"))
		if err != nil {
			t.Error(err)
			return
		}
		defer f.Close()
		for {
			select {
			case <-stop:
				return
			case <-time.After(time.Millisecond):
				f.WriteString("N1 ")
			}
		}
	})
	for i := range 3 {
		b.write("short.nc", string(rune('1'+i)))
		if !eventually(func() bool {
			b.mu.Lock()
			defer b.mu.Unlock()
			return slices.Contains(b.done, "short.nc "+string(rune('1'+i)))
		}) {
			t.Fatal("held up")
		}
	}
	close(stop)
	writers.Wait()
	if !eventually(func() bool {
		text, err := os.ReadFile(b.path("long.nc"))
		b.mu.Lock()
		defer b.mu.Unlock()
		return err == nil && slices.Contains(b.done, "long.nc "+string(text))
	}) {
		t.Fatal("never done")
	}
}
