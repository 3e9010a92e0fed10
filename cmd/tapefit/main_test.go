package main

import (
	"bytes"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"tapefit": main})
}

func TestScripts(t *testing.T) {
	shop, err := filepath.Abs("../../testdata/shop/programs")
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		RequireExplicitExec: true,
		Setup: func(env *testscript.Env) error {
			env.Setenv("SHOP", shop)
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"exits": exits},
	})
}

// exits runs a command and wants its exit status: exits 2 tapefit check.
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits STATUS COMMAND...")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	got := 0
	if err := ts.Exec(args[1], args[2:]...); err != nil {
		var exit *exec.ExitError
		if !errors.As(err, &exit) {
			ts.Fatalf("%v", err)
		}
		got = exit.ExitCode()
	}
	if got != want {
		ts.Fatalf("exit status %d, not %d", got, want)
	}
}

// oneWrite takes one write and is closed then, like head -1.
type oneWrite struct{ bytes.Buffer }

func (w *oneWrite) Write(p []byte) (int, error) {
	if w.Len() > 0 {
		return 0, io.ErrClosedPipe
	}
	return w.Buffer.Write(p)
}

func TestClosedPipeIsQuiet(t *testing.T) {
	var out oneWrite
	var failures bytes.Buffer
	run([]string{"check", "../../testdata/shop/programs", "--machine", "bed-mill"}, strings.NewReader(""), &out, &failures)
	if out.Len() == 0 || failures.Len() > 0 {
		t.Errorf("%d bytes written, complaint %q", out.Len(), failures.String())
	}
}

// full is a disk without room.
type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("no room") }

func TestFailedOutputIsSaidOnce(t *testing.T) {
	for _, form := range []string{"text", "json", "sarif"} {
		var failures bytes.Buffer
		status := run([]string{"check", "-", "--machine", "bed-mill", "--format", form}, strings.NewReader("%\nM30\n%\n"), full{}, &failures)
		if status != statusFailed || failures.String() != "tapefit: writing: no room\n" {
			t.Errorf("%s: status %d, %q", form, status, failures.String())
		}
	}
}

// interrupting is standard input on which the operator presses Ctrl-C.
type interrupting struct{ t *testing.T }

func (r interrupting) Read([]byte) (int, error) {
	self, err := os.FindProcess(os.Getpid())
	if err == nil {
		err = self.Signal(os.Interrupt)
	}
	if err != nil {
		r.t.Error(err)
	}
	select {} // no more input, and no end
}

func TestInterrupt(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("a process can't send itself Ctrl-C there")
	}
	scratch := t.TempDir()
	t.Setenv("TMPDIR", scratch)
	var out, failures bytes.Buffer
	status := run([]string{"check", "-", "--machine", "bed-mill", "--format", "json"}, interrupting{t}, &out, &failures)
	if status != statusFailed || !strings.Contains(failures.String(), "interrupted") {
		t.Errorf("status %d, %q", status, failures.String())
	}
	if out.String() != "{\"schema\":1,\"programs\":[\n]}\n" {
		t.Errorf("output is %q", out.String())
	}
	if left, err := os.ReadDir(scratch); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}
