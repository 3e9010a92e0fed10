package main

import (
	"fmt"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// manyBlocks is a program of n short cuts for bed-mill, with a finding at its head
// and one at its end.
func manyBlocks(n int) string {
	var b strings.Builder
	b.WriteString("%\n(TAPEFIT MACHINE bed-mill)\nG20 G90 G17 G94 G64\nT1 M6\nM42\nS2000 M3\nG54 G0 X0 Y0\nG43 H1 Z1. M8\nG1 Z-.1 F30. R1.\n")
	for i := range n {
		fmt.Fprintf(&b, "N%d X%.4f Y%.4f\n", 10*i%99990+10, 2+float64(i%997)/500, 2+float64(i%1009)/400)
	}
	b.WriteString("G903\nG0 Z1. M9\nM30\n%\n")
	return b.String()
}

// BenchmarkLSP is what a person waits for, with the command as it is built and over
// its standard input and output: for the first findings after a program is opened,
// and after an edit in its first block, in its midst and at its end (soon-ms), and
// for all of them (all-ms). cpu-ms is the processor time of the command for each
// opening or edit, with all that it does at the start and at the end of a session.
//
//	go test ./cmd/tapefit -run xxx -bench LSP/blocks=100000 -benchtime 20x
func BenchmarkLSP(b *testing.B) {
	bin := filepath.Join(b.TempDir(), "tapefit")
	if out, err := exec.Command("go", "build", "-o", bin, ".").CombinedOutput(); err != nil {
		b.Fatalf("%v: %s", err, out)
	}
	for _, blocks := range []int{100_000, 1_000_000} {
		text := manyBlocks(blocks)
		b.Run(fmt.Sprintf("blocks=%d/open", blocks), func(b *testing.B) { benchmarkLSP(b, bin, text, -1) })
		for name, line := range map[string]int{"first": 2, "midst": blocks / 2, "last": blocks} {
			b.Run(fmt.Sprintf("blocks=%d/edit=%s", blocks, name), func(b *testing.B) { benchmarkLSP(b, bin, text, line) })
		}
	}
}

// benchmarkLSP puts a comment in front of a line, or takes it out again; where the
// line is negative it opens the program anew.
func benchmarkLSP(b *testing.B, bin, text string, line int) {
	e := startEditor(b, bin)
	e.initialize(nil)
	const uri = "file:///shop/long.ngc"
	var soon, all time.Duration
	version := 0
	for i := range b.N + 1 {
		version++
		var begun time.Time
		switch at := (object{"line": line, "character": 0}); {
		case i == 0 || line < 0:
			version = 1
			begun = time.Now()
			e.open(uri, text)
		case i%2 == 1:
			begun = time.Now()
			e.notify("textDocument/didChange", object{"textDocument": object{"uri": uri, "version": version}, "contentChanges": []any{object{"range": object{"start": at, "end": at}, "text": "(A)\n"}}})
		default:
			begun = time.Now()
			below := object{"line": line + 1, "character": 0}
			e.notify("textDocument/didChange", object{"textDocument": object{"uri": uri, "version": version}, "contentChanges": []any{object{"range": object{"start": at, "end": below}, "text": ""}}})
		}
		if len(e.marks(uri, version)) == 0 {
			b.Fatal("nothing was found")
		}
		first := time.Since(begun)
		e.actions(uri, 4, 0) // nothing is found there: the answer waits for the check, and for nothing else
		if i > 0 {
			soon += first
			all += time.Since(begun)
		}
		for len(e.got) > 0 {
			<-e.got
		}
		if line < 0 {
			e.notify("textDocument/didClose", object{"textDocument": object{"uri": uri}})
			e.marks(uri, 0)
		}
	}
	e.leave(0)
	ms := func(d time.Duration) float64 { return d.Seconds() * 1e3 / float64(b.N) }
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(ms(soon), "soon-ms")
	b.ReportMetric(ms(all), "all-ms")
	b.ReportMetric(ms(e.cmd.ProcessState.UserTime()+e.cmd.ProcessState.SystemTime()), "cpu-ms")
}
