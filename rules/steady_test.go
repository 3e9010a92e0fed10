package rules

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tapefit/profiles"
)

// Rules that look at the state alone, and rules for certain words, are not called
// for everything: what is found must be what it would be if they were.
func TestSteadyRulesMissNothing(t *testing.T) {
	eager := slices.Clone(All())
	for i, rule := range eager {
		r := *rule
		r.New = func(m *profiles.Machine, opt *Options) Checker {
			c := rule.New(m, opt)
			c.Steady, c.Words = false, 0
			return c
		}
		eager[i] = &r
	}
	plain := []string{"X1.", "X2.", "Y1.", "Y2.", "Z-0.5", "Z-0.7", "Z1.", "G0", "G1", "G2 I0.5", "G3 R1."}
	modes := []string{"F10.", "F0", "F900.", "S900", "S1000", "S9000", "M3", "M5", "M8", "M9", "T1 M6", "G40", "G54", "G55", "G17", "G18", "G20", "G21",
		"G90", "G91", "G94", "G28 Z0", "M0", "M1", "/G0", "/X3.", "/M8", "M4", "(1/2-13 TAP)", "N10", "N20"}
	more := map[string][]string{
		"bed-mill":    {"M41", "M42", "G43 H1", "G43 H2", "G49", "G41 D2", "G98", "G99", "G81 R0.1", "G80", "D3"},
		"slant-lathe": {"M41", "M42", "T0202", "T0200", "T0101", "G96 S300", "G97", "G99", "G95", "G50 S2000", "G41"},
		"rs274ngc":    {"G43 H1", "G93", "G95", "G98", "G99", "G84 R0.1", "G80", "G92 X0", "#1=2", "A90.", "G53"},
	}
	odd := []string{"M77", "Q9.", "A", "O7", "G95", "G2"}
	var machines []*profiles.Machine
	for _, name := range []string{"bed-mill", "slant-lathe", "rs274ngc"} {
		machines = append(machines, machine(t, name))
	}
	check := func(t *rapid.T) {
		m := rapid.SampledFrom(machines).Draw(t, "machine")
		var text strings.Builder
		for range rapid.IntRange(1, 40).Draw(t, "blocks") {
			from := plain
			switch n := rapid.IntRange(0, 99).Draw(t, "kind"); {
			case n < 1:
				from = odd
			case n < 15:
				from = modes
			case n < 25:
				from = more[m.Name]
			}
			text.WriteString(strings.Join(rapid.SliceOfNDistinct(rapid.SampledFrom(from), 1, 3, rapid.ID).Draw(t, "words"), " ") + "\n")
		}
		program := []byte(text.String())
		var found [2]string
		for i, set := range [2][]*Rule{All(), eager} {
			r, err := Check(bytes.NewReader(program), int64(len(program)), "p", m, set, Options{})
			if err != nil {
				t.Fatal(err)
			}
			for _, x := range r.Findings {
				found[i] += fmt.Sprintf("%s %d:%d-%d:%d %d %s\n", x.Rule.Name, x.Line, x.Column, x.EndLine, x.EndColumn, x.Count, x.Message)
			}
		}
		if found[0] != found[1] {
			t.Fatalf("%s\nfound:\n%s\nwith all rules called for all:\n%s", program, found[0], found[1])
		}
	}
	for range 8 { // a hundred programs each
		rapid.Check(t, check)
	}
}
