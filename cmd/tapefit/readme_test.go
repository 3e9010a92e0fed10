package main

import (
	"bytes"
	"flag"
	"image/png"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"tapefit/profiles"
)

// readme is the README's lines.
func readme(t *testing.T) []string {
	t.Helper()
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	return strings.Split(string(text), "\n")
}

// update writes the README's outputs anew: go test ./cmd/tapefit -run TestReadmeOutput -update
var update = flag.Bool("update", false, "write what commands print into the README")

// What the README shows of a command is what the command prints, 96 columns wide.
func TestReadmeOutput(t *testing.T) {
	lines := readme(t)
	t.Chdir("../..") // where its reader stands
	t.Setenv(widthVariable, "96")
	seen := 0
	var text []string
	for i := 0; i < len(lines); i++ {
		text = append(text, lines[i])
		command, ok := strings.CutPrefix(lines[i], "    $ tapefit ")
		if !ok {
			continue
		}
		seen++
		var want []string
		for ; i+1 < len(lines) && (lines[i+1] == "" || strings.HasPrefix(lines[i+1], "    ")); i++ {
			want = append(want, lines[i+1])
		}
		var out, errs bytes.Buffer
		run(strings.Fields(command), strings.NewReader(""), &out, &errs)
		for line := range strings.SplitSeq(strings.TrimSpace(out.String()), "\n") {
			text = append(text, strings.TrimRight("    "+line, " "))
		}
		text = append(text, "")
		got := strings.Join(text[len(text)-strings.Count(strings.TrimSpace(out.String()), "\n")-2:], "\n")
		if w := strings.Join(want, "\n"); strings.TrimSpace(got) != strings.TrimSpace(w) && !*update {
			t.Errorf("tapefit %s\nprints:\n%s\n%s\nthe README has:\n%s", command, got, errs.String(), w)
		}
	}
	if seen < 3 {
		t.Errorf("%d commands with output in the README", seen)
	}
	if *update {
		if err := os.WriteFile("README.md", []byte(strings.Join(text, "\n")), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// The pictures that the README shows are there, and none is heavy.
func TestReadmePictures(t *testing.T) {
	all := regexp.MustCompile(`!\[([^\]]*)\]\(([^)]+)\)`).FindAllStringSubmatch(strings.Join(readme(t), "\n"), -1)
	if len(all) < 4 {
		t.Errorf("%d pictures", len(all))
	}
	for _, p := range all {
		f, err := os.Open(filepath.Join("..", "..", p[2]))
		if err != nil {
			t.Error(err)
			continue
		}
		_, err = png.DecodeConfig(f)
		info, statErr := f.Stat()
		f.Close()
		if err != nil || statErr != nil || info.Size() > 150_000 || p[1] == "" {
			t.Errorf("%s, %q: %v, %v, more than 150 kB, or it says nothing to who cannot see it", p[2], p[1], err, statErr)
		}
	}
}

// The README's profile loads and checks a program.
func TestReadmeProfile(t *testing.T) {
	const indent = "       "
	var profile []string
	for _, line := range readme(t) {
		if rest, ok := strings.CutPrefix(line, indent); ok && (len(profile) > 0 || strings.HasPrefix(rest, "name = ")) {
			profile = append(profile, rest)
		} else if line == "" && len(profile) > 0 {
			profile = append(profile, "")
		} else if len(profile) > 0 {
			break
		}
	}
	file := filepath.Join(t.TempDir(), "my-mill.toml")
	if err := os.WriteFile(file, []byte(strings.Join(profile, "\n")), 0o644); err != nil {
		t.Fatal(err)
	}
	m, err := profiles.Load(file)
	if err != nil {
		t.Fatal(err)
	}
	var out, errs bytes.Buffer
	program := "../../testdata/shop/programs/strainer-slots-old.ngc"
	if status := run([]string{"check", program, "--machine", file}, strings.NewReader(""), &out, &errs); status != statusClear || strings.Contains(out.String(), "  error") {
		t.Errorf("a demo program with subprograms on it: status %d\n%s%s", status, out.String(), errs.String())
	}
	if len(m.Spindle.Gears) != 2 || m.Axes.Z == nil || m.Control.BlockTime == 0 {
		t.Errorf("the profile is not read whole: %d lines", len(profile))
	}
}
