package report

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"tapefit/profiles"
	"tapefit/rules"
)

// widthsAreKept fails on a line that is wider than the terminal.
func widthsAreKept(t *testing.T, text string, width int) {
	t.Helper()
	for line := range strings.Lines(text) {
		if w := widthOf(appendCells(nil, nil, strings.TrimSuffix(line, "\n"))); w > width {
			t.Errorf("%d columns of %d: %q", w, width, line)
		}
	}
}

// The figures below are those of the profile's file.
func TestDataSheet(t *testing.T) {
	m, err := profiles.Find("bed-mill", nil)
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	if err := NewText(&out, 100, false).Machine(m); err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(out.String(), "\n")
	for _, tt := range []struct{ name, value, origin string }{
		{"X travel", "0 in to 40 in", "axes.x.travel"},
		{"Z backlash", "0.0025 in", "axes.z.backlash"},
		{"Y highest feed", "150 in/min", "axes.y.feed"},
		{"gear low", "40 to 1100 rpm by M41", "spindle.gears[0]"},
		{"speed", "40 to 4200 rpm", "spindle.speed"},
		{"block time", "8 ms", "control.block_time"},
		{"look-ahead", "24 blocks", "control.look_ahead"},
		{"changer", "16 pockets", "tools.pockets"},
		{"G54", "X 12 in, Y 8 in, Z -18 in", "offsets.G54"},
		{"longest block", "at most 256 characters", "block.longest"},
		{"comp, inside corners", "intersect", "control.comp"},
		{"N numbers rise", "no", "block.sequence_rising"},
		{"cycle end and motion", "no", "block.cycle_off_beside"},
		{"radius tolerance", "0.0001 in", "arcs.tolerance"},
		{"gear", "not given", "start.gear"},
	} {
		want := fmt.Sprintf("  %-*s  %s", factWidth, tt.name, tt.value)
		found := false
		for _, line := range lines {
			found = found || strings.HasPrefix(line, want) && strings.HasSuffix(line, m.Origin(tt.origin)) &&
				strings.TrimSpace(strings.TrimSuffix(strings.TrimPrefix(line, want), m.Origin(tt.origin))) == ""
		}
		if !found {
			t.Errorf("no line %q from %q in\n%s", want, m.Origin(tt.origin), out.String())
		}
	}
	for code, meaning := range m.Codes {
		if !strings.Contains(out.String(), fmt.Sprintf("%-5s %s", code, meaning)) {
			t.Errorf("code %s %s is left out", code, meaning)
		}
	}
}

func TestEveryDataSheetFits(t *testing.T) {
	for _, name := range profiles.Names() {
		m, err := profiles.Find(name, nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, width := range []int{leastWidth, 40, 80, 200} {
			var out bytes.Buffer
			if err := NewText(&out, width, false).Machine(m); err != nil {
				t.Fatal(err)
			}
			widthsAreKept(t, out.String(), width)
		}
	}
}

func TestListOfMachines(t *testing.T) {
	var out bytes.Buffer
	err := NewText(&out, 60, false).Machines("in shop", []profiles.Entry{
		{Name: "keyseater", Title: "Small mill by the window, with a title that goes on"},
		{Name: "tape", Title: "An old control", Base: true},
	})
	if err != nil {
		t.Fatal(err)
	}
	same(t, out.String(), `Machines in shop
  keyseater  Small mill by the window, with a title that
             goes on

Bases in shop: what a control accepts, without a machine
  tape       An old control

`)
}

func TestListOfRules(t *testing.T) {
	var out bytes.Buffer
	if err := NewText(&out, 60, false).Rules([]*rules.Rule{
		{Name: "arc-short", Family: "arcs", Level: rules.Error, Summary: "an arc that ends before it has begun"},
		{Name: "arc-wide", Family: "arcs", Level: rules.Note, Summary: "an arc"},
		{Name: "feed", Family: "feeds", Level: rules.Warning, Summary: "a feed"},
	}); err != nil {
		t.Fatal(err)
	}
	same(t, out.String(), `arcs
  arc-short  error    an arc that ends before it has begun
  arc-wide   note     an arc

feeds
  feed       warning  a feed
`)
}

// Whatever a rule says about itself is printed, at any width.
func TestEveryRuleIsTold(t *testing.T) {
	for _, r := range rules.All() {
		for _, width := range []int{leastWidth, 40, 80, 120} {
			var out bytes.Buffer
			if err := NewText(&out, width, false).Rule(r); err != nil {
				t.Fatal(err)
			}
			widthsAreKept(t, out.String(), width)
			text := squeeze(out.String())
			parts := []string{r.Name, r.Family, r.Level.String(), r.Summary, r.Doc, strings.Join(r.Uses, ",")}
			if r.Example.Program != "" {
				parts = append(parts, r.Example.Machine)
			}
			for _, part := range parts {
				if !strings.Contains(text, squeeze(part)) {
					t.Errorf("%s at %d: %q is left out", r.Name, width, part)
				}
			}
		}
	}
	if len(rules.All()) == 0 {
		t.Error("no rules")
	}
}

func TestRule(t *testing.T) {
	var out bytes.Buffer
	if err := NewText(&out, 60, false).Rule(&rules.Rule{
		Name: "word-not-used", Family: "language", Level: rules.Warning, Summary: "a word that nothing uses",
		Doc: "First\nparagraph.\n\nSecond one.", Uses: []string{"codes", "cycles"},
		Example: rules.Example{Machine: "bed-mill", Program: "%\nG0 P1\n\n%\n", Mended: "G0\n"},
	}); err != nil {
		t.Fatal(err)
	}
	same(t, out.String(), `word-not-used  warning, language
a word that nothing uses

  First paragraph.

  Second one.

Reads from the profile  codes, cycles

It speaks on this (bed-mill)
      1 | %
      2 | G0 P1
      3 |
      4 | %

and is silent on this
      1 | G0
`)
}
