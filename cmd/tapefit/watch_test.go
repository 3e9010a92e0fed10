package main

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"tapefit/profiles"
)

// A watched is a folder and the process that watches it.
type watched struct {
	t   *testing.T
	dir string
	cmd *exec.Cmd

	mu          sync.Mutex
	out, errors []string
	readers     sync.WaitGroup
	ended       chan struct{}
}

// watchFolder starts the real command on a folder, through a shell if there is
// a line for it to run first.
func watchFolder(t *testing.T, dir, first string, flags ...string) *watched {
	t.Helper()
	if runtime.GOOS == "windows" {
		t.Skip("a process can't be sent Ctrl-C there")
	}
	args := append([]string{"watch", dir, "--machine", "bed-mill", "--settle", "200ms"}, flags...)
	w := &watched{t: t, dir: dir, cmd: exec.Command("tapefit", args...)}
	if first != "" {
		w.cmd = exec.Command("sh", append([]string{"-c", first + `; exec tapefit "$@"`, "sh"}, args...)...)
	}
	stdout, err1 := w.cmd.StdoutPipe()
	stderr, err2 := w.cmd.StderrPipe()
	if err := errors.Join(err1, err2, w.cmd.Start()); err != nil {
		t.Fatal(err)
	}
	w.readers.Go(func() { w.read(stdout, &w.out) })
	w.readers.Go(func() { w.read(stderr, &w.errors) })
	w.ended = make(chan struct{})
	go func() {
		defer close(w.ended)
		w.readers.Wait()
		w.cmd.Wait()
	}()
	t.Cleanup(func() {
		w.cmd.Process.Kill()
		<-w.ended
	})
	return w
}

func (w *watched) read(from io.Reader, to *[]string) {
	for s := bufio.NewScanner(from); s.Scan(); {
		w.mu.Lock()
		*to = append(*to, s.Text())
		w.mu.Unlock()
	}
}

// lines are those of a program, or all where the name is "".
func (w *watched) lines(name string) []string {
	w.mu.Lock()
	defer w.mu.Unlock()
	var of []string
	for _, line := range w.out {
		if fields := strings.Fields(line); len(fields) > 1 && strings.Count(fields[0], ":") == 2 && (name == "" || fields[1] == name) {
			of = append(of, line)
		}
	}
	return of
}

// wait waits for something as long as a loaded computer may take.
func (w *watched) wait(what string, is func() bool) {
	w.t.Helper()
	deadline := time.After(2 * time.Minute)
	for !is() {
		select {
		case <-time.After(10 * time.Millisecond):
			continue
		case <-deadline:
		case <-w.ended:
		}
		w.mu.Lock()
		defer w.mu.Unlock()
		w.t.Fatalf("never: %s\n%s\n%s", what, strings.Join(w.out, "\n"), strings.Join(w.errors, "\n"))
	}
}

// waitLine waits until the last line of a program has a text in it.
func (w *watched) waitLine(name, text string) {
	w.t.Helper()
	w.wait(name+" "+text, func() bool {
		lines := w.lines(name)
		return len(lines) > 0 && strings.Contains(lines[len(lines)-1], text)
	})
}

// end waits for the end of the process and its exit status. Nothing is left
// half-written, whatever came before.
func (w *watched) end(sig os.Signal, status int) {
	w.t.Helper()
	if sig != nil {
		if err := w.cmd.Process.Signal(sig); err != nil {
			w.t.Fatal(err)
		}
	}
	<-w.ended
	if got := w.cmd.ProcessState.ExitCode(); got != status {
		w.t.Errorf("exit status %d, not %d\n%s", got, status, strings.Join(w.errors, "\n"))
	}
	filepath.WalkDir(w.dir, func(path string, _ os.DirEntry, err error) error {
		if err != nil {
			return nil
		}
		if strings.HasSuffix(path, ".tmp") {
			w.t.Errorf("left behind: %s", path)
		}
		if page, err := os.ReadFile(path); err == nil && strings.HasSuffix(path, ".html") && !bytes.Contains(page, []byte("</html>")) {
			w.t.Errorf("%s is half a page", path)
		}
		return nil
	})
}

func (w *watched) write(name, text string) {
	w.t.Helper()
	path := filepath.Join(w.dir, filepath.FromSlash(name))
	if err := errors.Join(os.MkdirAll(filepath.Dir(path), 0o755), os.WriteFile(path, []byte(text), 0o644)); err != nil {
		w.t.Fatal(err)
	}
}

// page is the page of a program, or "".
func (w *watched) page(name string) string {
	text, err := os.ReadFile(filepath.Join(w.dir, filepath.FromSlash(name)+".html"))
	if err != nil {
		return ""
	}
	return string(text)
}

const (
	goodProgram = "%\nG20 G90 G94\nT1 M6\nM41\nG43 H1\nS500 M3\nG54 G0 X0 Y0\nZ1\nG1 Z0.5 F10\nX1\nG0 Z1\nM5\nM30\n%\n"
	badProgram  = "%\nG20 G90 G94\nS9000 M3\nM5\nM30\n%\n"
	clear       = "0 errors, 0 warnings, 0 notes"
)

// longProgram takes long to check and to draw; bed-mill has the memory for it.
func longProgram() string {
	var b strings.Builder
	b.WriteString("%\nG20 G90 G94\nT1 M6\nM41\nG43 H1\nS500 M3\nG54 G0 X0 Y0\nZ1\nG1 Z0.5 F10\n")
	for i := range 50_000 {
		fmt.Fprintf(&b, "X%.4f Y%.4f\n", float64(i%1000)/1000, float64(i%7)/10)
	}
	b.WriteString("G0 Z1\nM5\nM30\n%\n")
	return b.String()
}

// beingWritten says whether a page is being written.
func (w *watched) beingWritten() bool {
	temporary, _ := filepath.Glob(filepath.Join(w.dir, ".tapefit-*.tmp"))
	return len(temporary) > 0
}

func TestWatch(t *testing.T) {
	w := watchFolder(t, t.TempDir(), "")
	w.write("good.ngc", goodProgram)
	w.waitLine("good.ngc", clear)
	w.write("job 7/BAD.NC", badProgram) // endings are known in any case
	w.wait("a line of the subfolder", func() bool {
		return slices.ContainsFunc(w.lines("job"), func(l string) bool { return strings.Contains(l, "3:1 speed-over-machine: S9000") })
	})
	if !strings.Contains(w.page("job 7/BAD.NC"), "S9000") || !strings.Contains(w.page("good.ngc"), "on bed-mill") {
		t.Error("the pages are missing")
	}
	w.write("good.ngc", badProgram)
	w.waitLine("good.ngc", "speed-over-machine")
	if !strings.Contains(w.page("good.ngc"), "S9000") {
		t.Error("the page is that of the program before")
	}
	// Nothing of this is a program.
	w.write("notes.txt", "x")
	w.write(".saved.ngc", badProgram)
	w.write("page.ngc.html", "x</html>")
	w.write("last.ngc", goodProgram)
	w.waitLine("last.ngc", clear)
	if n := len(w.lines("")); n != 4 {
		t.Errorf("%d lines: %q", n, w.out)
	}
	w.end(os.Interrupt, statusClear)
	if all := strings.Join(w.out, "\n"); !strings.Contains(all, "\n4 checks\n") || !strings.Contains(all, "prove the program out") || strings.Contains(all, "\x1b") {
		t.Errorf("the log is\n%s", all)
	}
}

// A program is not taken for whole while it grows.
func TestWatchPartialWrites(t *testing.T) {
	const settle = 1500 * time.Millisecond
	w := watchFolder(t, t.TempDir(), "", "--settle", settle.String())
	f, err := os.Create(filepath.Join(w.dir, "slow.ngc"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var longest time.Duration // that the program stood still
	last := time.Now()
	for _, block := range strings.SplitAfter(strings.Repeat("(BLOCK)\n", 40)+badProgram, "\n") {
		if _, err := f.WriteString(block); err != nil {
			t.Fatal(err)
		}
		longest, last = max(longest, time.Since(last)), time.Now()
		time.Sleep(50 * time.Millisecond)
	}
	w.waitLine("slow.ngc", "43:1 speed-over-machine")
	if n := len(w.lines("slow.ngc")); n != 1 && longest < settle {
		t.Errorf("%d lines, and the program never stood still for more than %v", n, longest)
	}
	w.end(syscall.SIGTERM, statusClear)
}

// A thousand programs dropped at once are all done once; and not again by the
// next watch, but for those that were changed.
func TestWatchThousand(t *testing.T) {
	dir := t.TempDir()
	w := watchFolder(t, dir, "")
	for i := range 1000 {
		w.write(fmt.Sprintf("%d/%03d.ngc", i%10, i), goodProgram)
	}
	w.wait("all are done", func() bool { return len(w.lines("")) >= 1000 })
	w.end(os.Interrupt, statusClear)
	for i := range 1000 {
		if name := fmt.Sprintf("%d/%03d.ngc", i%10, i); len(w.lines(name)) != 1 || w.page(name) == "" {
			t.Errorf("%s: %q", name, w.lines(name))
		}
	}

	again := watchFolder(t, dir, "")
	again.write("3/503.ngc", badProgram)
	again.write("z.ngc", goodProgram) // after all others
	again.waitLine("z.ngc", clear)
	again.waitLine("3/503.ngc", "speed-over-machine")
	again.end(os.Interrupt, statusClear)
	if n := len(again.lines("")); n != 2 {
		t.Errorf("%d were done again", n)
	}

	// What the pages would tell of another machine is another matter.
	other := watchFolder(t, dir, "", "--set", "control.block_time=17 ms")
	other.wait("all are done again", func() bool { return len(other.lines("")) >= 1001 })
	other.end(os.Interrupt, statusClear)
}

// Whoever reads a page while its program is written again has a whole one, and
// the last is that of the last program.
func TestWatchRewrittenWhileChecked(t *testing.T) {
	w := watchFolder(t, t.TempDir(), "")
	w.write("part.ngc", longProgram())
	w.wait("it is checked", w.beingWritten)
	w.write("part.ngc", badProgram)
	w.waitLine("part.ngc", "speed-over-machine")
	if lines := w.lines("part.ngc"); len(lines) != 1 || !strings.Contains(w.page("part.ngc"), "S9000") {
		t.Errorf("%q", lines)
	}
	// Renamed while it is checked: what was begun comes to nothing.
	w.write("part.ngc", longProgram())
	w.wait("it is checked again", w.beingWritten)
	if err := os.Rename(filepath.Join(w.dir, "part.ngc"), filepath.Join(w.dir, "moved.ngc")); err != nil {
		t.Fatal(err)
	}
	w.waitLine("moved.ngc", clear)
	if lines := w.lines("part.ngc"); len(lines) != 1 || w.page("moved.ngc") == "" {
		t.Errorf("%q", lines)
	}
	w.end(os.Interrupt, statusClear)
}

func TestWatchInterruptedWhileChecking(t *testing.T) {
	w := watchFolder(t, t.TempDir(), "")
	w.write("part.ngc", longProgram())
	w.wait("it is checked", w.beingWritten)
	w.end(os.Interrupt, statusClear)
	if w.page("part.ngc") != "" && len(w.lines("part.ngc")) == 0 {
		t.Error("a page that is not told of")
	}
}

// What cannot be read has its line, holds up no others, and leaves no page that
// tells of another program.
func TestWatchUnreadable(t *testing.T) {
	w := watchFolder(t, t.TempDir(), "")
	if err := os.Symlink("nothing", filepath.Join(w.dir, "dangling.ngc")); err != nil {
		t.Skip(err)
	}
	w.waitLine("dangling.ngc", "not checked: ")
	w.write("part.ngc", goodProgram)
	w.waitLine("part.ngc", clear)
	if os.Geteuid() == 0 {
		t.Log("not tested as root, who reads all: a program without the permission to read")
	} else {
		path := filepath.Join(w.dir, "part.ngc")
		w.write("new.tmp", badProgram)
		if err := errors.Join(os.Chmod(filepath.Join(w.dir, "new.tmp"), 0), os.Rename(filepath.Join(w.dir, "new.tmp"), path)); err != nil {
			t.Fatal(err)
		}
		w.waitLine("part.ngc", "not checked: permission denied")
		if w.page("part.ngc") != "" {
			t.Error("the page of the program before stands beside it")
		}
		if err := os.Chmod(path, 0o644); err != nil {
			t.Fatal(err)
		}
		w.waitLine("part.ngc", "speed-over-machine")
	}
	w.end(os.Interrupt, statusClear)
}

// A page that there is no room for does not appear, and the one before is gone:
// here a page may have some kilobytes.
func TestWatchNoRoom(t *testing.T) {
	dir := t.TempDir()
	w := watchFolder(t, dir, "")
	w.write("part.ngc", goodProgram)
	w.write("other.ngc", goodProgram)
	w.waitLine("part.ngc", clear)
	w.waitLine("other.ngc", clear)
	w.end(os.Interrupt, statusClear)

	w = watchFolder(t, dir, "ulimit -f 8")
	w.write("part.ngc", badProgram)
	w.waitLine("part.ngc", "not checked: cannot write ")
	w.end(os.Interrupt, statusClear)
	if w.page("part.ngc") != "" || w.page("other.ngc") == "" {
		t.Error("the page of the program before stands beside it, or that of another is gone")
	}
}

func TestWatchFolderRemoved(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "inbox")
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	w := watchFolder(t, dir, "")
	w.write("part.ngc", goodProgram)
	w.waitLine("part.ngc", clear)
	if err := os.RemoveAll(dir); err != nil {
		t.Fatal(err)
	}
	w.end(nil, statusFailed)
	if all := strings.Join(w.errors, "\n"); !strings.Contains(all, "tapefit: "+dir+": the folder is gone") {
		t.Error(all)
	}
}

// The reader of the log has gone away: nobody knows what is checked any more.
func TestWatchLogClosed(t *testing.T) {
	dir := t.TempDir()
	cmd := exec.Command("tapefit", "watch", dir, "--machine", "bed-mill", "--settle", "100ms")
	out, err := cmd.StdoutPipe()
	if err == nil {
		err = errors.Join(cmd.Start(), out.Close(), os.WriteFile(filepath.Join(dir, "part.ngc"), []byte(goodProgram), 0o644))
	}
	if err != nil {
		t.Fatal(err)
	}
	if cmd.Wait(); cmd.ProcessState.ExitCode() == statusClear {
		t.Error("it ended as if by Ctrl-C")
	}
}

// Pages that are kept are known by the whole machine: every machine of the
// library can be told from others.
func TestWatchKinds(t *testing.T) {
	seen := map[string]string{}
	for _, e := range profiles.Library() {
		for _, set := range [][]string{nil, {"control.block_time=17 ms"}} {
			m, err := profiles.FindWith(e.Name, nil, set)
			if err != nil {
				t.Fatal(err)
			}
			kind, err := kindOf(job{machine: m})
			if again, _ := kindOf(job{machine: m}); err != nil || again != kind {
				t.Fatalf("%s: %v", e.Name, err)
			}
			name := fmt.Sprint(e.Name, set)
			if same, ok := seen[kind]; ok {
				t.Errorf("%s and %s are taken for one", same, name)
			}
			seen[kind] = name
		}
	}
}
