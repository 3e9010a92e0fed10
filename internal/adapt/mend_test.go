package adapt

import (
	"bytes"
	"strings"
	"testing"

	"tapefit/profiles"
	"tapefit/rules"
)

// guessed is the base that programs are read by when nobody says their machine.
func guessed(t *testing.T) *profiles.Machine {
	t.Helper()
	m, err := profiles.Find(Guessed, nil)
	if err != nil {
		t.Fatal(err)
	}
	if m, err = m.With(GearSettings(m)...); err != nil {
		t.Fatal(err)
	}
	return m
}

func TestMend(t *testing.T) {
	for _, c := range []struct {
		name, machine, program string
		rule                   string // whose finding is mended
		want                   string // the program then; "" where there is no mending
		whole                  bool
	}{
		{"a word that nothing uses", "bed-mill",
			"%\nG20 G90\nM41\nS500 M3\nG0 X0 Y0\nG1 X1. R2 F10.\nM30\n%\n", "word-not-used",
			"%\nG20 G90\nM41\nS500 M3\nG0 X0 Y0\nG1 X1. F10.\nM30\n%\n", false},
		{"one of two words: the other stays", "bed-mill",
			"%\nG20 G90\nM41\nS500 M3\nG0 X0 Y0\nG1 X1. R2 F10.\nG1 X2. P1\nM30\n%\n", "word-not-used",
			"%\nG20 G90\nM41\nS500 M3\nG0 X0 Y0\nG1 X1. F10.\nG1 X2. P1\nM30\n%\n", false},
		{"ends of lines stay", "bed-mill",
			"%\r\nG20 G90\r\nM41\r\nS500 M3\r\nG0 X0 Y0\r\nG1 X1. R2 F10.\r\nM30\r\n%\r\n", "word-not-used",
			"%\r\nG20 G90\r\nM41\r\nS500 M3\r\nG0 X0 Y0\r\nG1 X1. F10.\r\nM30\r\n%\r\n", false},
		{"blocks around it that go with it", "bed-mill",
			"%\nG20 G90\nT4 M6\nS1200 M3\nM42\nG0 X0 Y0\nG1 X1. F10. P2\nM30\n%\n", "gear-shift-in-cut",
			"%\nG20 G90\nT4 M6\nM42\nS1200 M3\nG0 X0 Y0\nG1 X1. F10. P2\nM30\n%\n", false},
		{"a code that nobody knows is not left out", "bed-mill",
			"%\nG20 G90\nM41\nS500 M3\nG0 X0 Y0\nM88\nG1 X1. F10.\nM30\n%\n", "code-not-accepted", "", false},
		{"no pass is for it", "bed-mill", "%\nG20\nG1 X1.\nM30\n%\n", "feed-missing", "", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			to, err := profiles.Find(c.machine, nil)
			if err != nil {
				t.Fatal(err)
			}
			src := []byte(c.program)
			f := finding(t, to, src, c.rule)
			m := NewMender(src, "p.ngc", Options{From: guessed(t), To: to, Guess: true})
			got, err := m.Mend(f, nil)
			if err != nil {
				t.Fatal(err)
			}
			if got == nil {
				if c.want != "" {
					t.Fatal("it is not mended")
				}
				return
			}
			if text := string(Apply(src, got.Edits)); text != c.want || got.Whole != c.whole {
				t.Errorf("whole %v, got\n%s\nwant\n%s", got.Whole, text, c.want)
			}
		})
	}
}

// A program that is too big for the memory: joining moves is of no use, holes made
// cycles are.
func TestMendSize(t *testing.T) {
	program := "%\nG20 G90\nG0 X0. Y0. Z1.\nZ.1\n" + strings.Repeat("X1.\nG1 Z-.5 F5.\nG0 Z.1\nX2.\nG1 Z-.5\nG0 Z.1\n", 20) + "G0 Z1.\nM30\n%\n"
	for _, c := range []struct {
		memory string
		asked  string // "": it cannot be mended
	}{{"600 B", Gather}, {"100 B", ""}} {
		to, err := profiles.FindWith("bed-mill", nil, []string{"control.memory=" + c.memory})
		if err != nil {
			t.Fatal(err)
		}
		got, err := NewMender([]byte(program), "p.ngc", Options{From: guessed(t), To: to, Guess: true}).Mend(finding(t, to, []byte(program), "program-too-big-for-memory"), nil)
		switch {
		case err != nil:
			t.Fatal(err)
		case got == nil:
			if c.asked != "" {
				t.Error(c.memory, "it is not mended")
			}
		case c.asked == "" || got.Asked == nil || got.Asked.Name != c.asked || !got.Whole:
			t.Errorf("%s: mended with %+v", c.memory, got)
		}
	}
}

// finding is the first of the rule.
func finding(t *testing.T, m *profiles.Machine, src []byte, rule string) *rules.Finding {
	t.Helper()
	r, err := rules.Check(bytes.NewReader(src), int64(len(src)), "", m, rules.All(), rules.Options{})
	if err != nil {
		t.Fatal(err)
	}
	var seen []string
	for i := range r.Findings {
		if r.Findings[i].Rule.Name == rule {
			return &r.Findings[i]
		}
		seen = append(seen, r.Findings[i].Rule.Name)
	}
	t.Fatalf("no finding %s, but %s", rule, strings.Join(seen, ", "))
	return nil
}
