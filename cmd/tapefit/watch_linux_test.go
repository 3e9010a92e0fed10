package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
)

// The system keeps so many events and no more: those of the programs here are
// lost, since the watch stands still while they land.
func TestWatchEventsLost(t *testing.T) {
	text, err := os.ReadFile("/proc/sys/fs/inotify/max_queued_events")
	if err != nil {
		t.Skip(err)
	}
	most, err := strconv.Atoi(strings.TrimSpace(string(text)))
	if err != nil || most > 100_000 {
		t.Skipf("so many events are kept: %s", text)
	}
	w := watchFolder(t, t.TempDir(), "")
	w.write("first.ngc", goodProgram)
	w.waitLine("first.ngc", clear)
	if err := w.cmd.Process.Signal(syscall.SIGSTOP); err != nil {
		t.Fatal(err)
	}
	var notes [2]*os.File
	for i := range notes {
		f, err := os.Create(filepath.Join(w.dir, fmt.Sprint(i, ".txt")))
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		notes[i] = f
	}
	for i := range most + 1000 { // in turn: events that are alike become one
		notes[i%2].WriteString("x")
	}
	for i := range 50 {
		w.write(fmt.Sprintf("new/%02d.ngc", i), goodProgram)
	}
	w.write("first.ngc", badProgram)
	if err := w.cmd.Process.Signal(syscall.SIGCONT); err != nil {
		t.Fatal(err)
	}
	w.wait("all are done", func() bool { return len(w.lines("")) >= 52 })
	w.waitLine("first.ngc", "speed-over-machine")
	w.end(os.Interrupt, statusClear)
	if n := len(w.lines("")); n != 52 {
		t.Errorf("%d lines", n)
	}
}
