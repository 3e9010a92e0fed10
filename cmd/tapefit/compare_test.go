package main

import (
	"bytes"
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"
)

// Ctrl-C while a program is waited for, or worked on: what was done stays, and
// the run says what was not looked at. On one core, so that it is known what was
// done.
func TestInterruptLeavesWhatWasDone(t *testing.T) {
	mkfifo, err := exec.LookPath("mkfifo")
	if runtime.GOOS == "windows" || err != nil {
		t.Skip("needs pipes with names, and a Ctrl-C that can be sent")
	}
	dir := t.TempDir()
	for name, text := range map[string]string{
		"a.nc": "%\nM30\n%\n",
		"c.nc": "%\nM30\n%\n",
		// Each of three levels calls the next five thousand times: days.
		"loop.nc": "%\nO1\nM98 P2 L5000\nM30\nO2\nM98 P3 L5000\nM99\nO3\nM98 P4 L5000\nM99\nO4\nG90\nM99\n%\n",
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if out, err := exec.Command(mkfifo, filepath.Join(dir, "pipe.nc")).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	for _, tt := range []struct {
		name, long string
		flags      []string
		first      string // of the first program
		want       []string
	}{
		{"compared, at a pipe that nobody writes", "pipe.nc", []string{"--was", "rs274ngc"}, "a.nc",
			[]string{"1 program compared\n", "  2 programs not looked at, or not to the end: interrupted\n"}},
		{"compared, in a program that loops", "loop.nc", []string{"--was", "rs274ngc"}, "a.nc",
			[]string{"1 program compared\n", "  2 programs not looked at, or not to the end: interrupted\n"}},
		{"checked, in a program that loops", "loop.nc", nil, "a.nc on bed-mill",
			[]string{"1 program checked\n", "  2 programs not looked at, or not to the end: interrupted\n"}},
		{"JSON", "loop.nc", []string{"--was", "rs274ngc", "--format", "json"}, `"path":"a.nc"`,
			[]string{`"not_looked_at":2}`}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			args := append([]string{"check", "a.nc", tt.long, "c.nc", "--machine", "bed-mill", "--max-blocks", "9000000000000000"}, tt.flags...)
			ctx, cancel := context.WithTimeout(t.Context(), time.Minute) // a run that does not end must not hold the tests
			defer cancel()
			cmd := exec.CommandContext(ctx, "tapefit", args...)
			cmd.Dir = dir
			cmd.Env = append(os.Environ(), "GOMAXPROCS=1")
			var failures bytes.Buffer
			cmd.Stderr = &failures
			out, err := cmd.StdoutPipe()
			if err != nil {
				t.Fatal(err)
			}
			if err := cmd.Start(); err != nil {
				t.Fatal(err)
			}
			var all strings.Builder
			told := false
			for buf := make([]byte, 4096); ; {
				n, err := out.Read(buf)
				all.Write(buf[:n])
				if !told && strings.Contains(all.String(), tt.first) {
					told = true
					if err := cmd.Process.Signal(os.Interrupt); err != nil {
						t.Error(err)
					}
				}
				if err != nil {
					break
				}
			}
			err = cmd.Wait()
			var exit *exec.ExitError
			if !errors.As(err, &exit) || exit.ExitCode() != statusFailed {
				t.Errorf("%v, want exit status %d", err, statusFailed)
			}
			if got := failures.String(); got != "tapefit: interrupted: not looked at, or not to the end: 2 of 3 programs\n" {
				t.Errorf("standard error is %q", got)
			}
			for _, want := range tt.want {
				if !strings.Contains(all.String(), want) {
					t.Errorf("no %q in\n%s", want, all.String())
				}
			}
			if strings.Contains(all.String(), "c.nc") {
				t.Errorf("a program behind the interrupt is told:\n%s", all.String())
			}
		})
	}
}
