package rules

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write testdata/shop/findings.txt anew")

// The demo shop's programs, each on the machine it is written for, and what is
// found: a change here must be meant.
func TestDemo(t *testing.T) {
	const shop = "../testdata/shop"
	golden := filepath.Join(shop, "findings.txt")
	var sb strings.Builder
	for _, c := range []struct{ folder, machine string }{
		{"programs", "bed-mill"}, {"tape", "knee-mill"}, {"lathe", "slant-lathe"},
	} {
		files, err := filepath.Glob(filepath.Join(shop, c.folder, "*.*"))
		if err != nil || len(files) == 0 {
			t.Fatalf("no programs in %s: %v", c.folder, err)
		}
		m := machine(t, c.machine)
		set, err := For(m)
		if err != nil {
			t.Fatal(err)
		}
		for _, file := range files {
			f, err := os.Open(file)
			if err != nil {
				t.Fatal(err)
			}
			defer f.Close()
			info, err := f.Stat()
			if err != nil {
				t.Fatal(err)
			}
			r, err := Check(f, info.Size(), file, m, set, Options{})
			if err != nil {
				t.Fatal(err)
			}
			fmt.Fprintf(&sb, "%s/%s on %s: %d blocks\n", c.folder, filepath.Base(file), c.machine, r.Blocks)
			for _, x := range r.Findings {
				fmt.Fprintf(&sb, "  %d:%d %s %s", x.Line, x.Column, x.Level, x.Rule.Name)
				if x.Count > 1 {
					fmt.Fprintf(&sb, " (%d to line %d)", x.Count, x.EndLine)
				}
				fmt.Fprintf(&sb, "\n    %s\n    %s\n", x.Message, x.Advice)
			}
		}
	}
	if *update {
		if err := os.WriteFile(golden, []byte(sb.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if got := sb.String(); got != string(want) {
		t.Errorf("the findings on the demo have changed; look at the difference with -update\ngot:\n%s\nwant:\n%s", got, want)
	}
}
