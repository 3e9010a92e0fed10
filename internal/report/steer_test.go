package report

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
	"unicode"

	"tapefit/rules"
)

// A program, its name and what is said of it may have any bytes: none of them
// reaches a terminal that could obey it. What a script reads is the same as ever.
func TestNothingSteersATerminal(t *testing.T) {
	var every strings.Builder
	for c := range 256 {
		if c != '\n' && c != '\r' {
			every.WriteByte(byte(c))
		}
	}
	every.WriteString("\u0085\u009b31m\u200f\u202e\u2066")
	r := whole()
	r.Path += every.String()
	f := &r.Findings[0]
	f.Source, f.Message, f.Advice, f.Column, f.MarkEnd = every.String(), every.String(), every.String(), 5, 40
	for name, write := range map[string]func(*bytes.Buffer) error{
		"text": func(b *bytes.Buffer) error { return NewText(b, 80, false).Check(r) },
		"JSON": func(b *bytes.Buffer) error {
			j := NewJSON(b)
			if err := j.Check(r); err != nil {
				return err
			}
			return j.Close()
		},
		"SARIF": func(b *bytes.Buffer) error {
			s := NewSARIF(b, []*rules.Rule{f.Rule})
			if err := s.Check(r); err != nil {
				return err
			}
			return s.Close()
		},
	} {
		var out bytes.Buffer
		if err := write(&out); err != nil {
			t.Fatal(name, err)
		}
		for _, c := range out.String() {
			if c != '\n' && (unicode.IsControl(c) || unicode.Is(unicode.Bidi_Control, c)) {
				t.Errorf("%s has %U", name, c)
			}
		}
		if name != "text" && !json.Valid(out.Bytes()) {
			t.Errorf("no valid %s: %q", name, out.String())
		}
	}
	text, err := marshal("a\u009b\u202e<é")
	var read string
	if err != nil || json.Unmarshal(text, &read) != nil || read != "a\u009b\u202e<é" {
		t.Errorf("%s, %v reads as %q", text, err, read)
	}
}
