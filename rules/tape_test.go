package rules

import (
	"bytes"
	"fmt"
	"os"
	"reflect"
	"strings"
	"testing"

	"tapefit/profiles"
)

func checkBytes(t *testing.T, program []byte, m *profiles.Machine, set []*Rule) *Result {
	t.Helper()
	r, err := Check(bytes.NewReader(program), int64(len(program)), "tape", m, set, Options{})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func read(t *testing.T, path string) []byte {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// A tape image comes to what the text on it comes to, on every machine: the
// same findings in the same lines and columns, the same time.
func TestTapeIsItsText(t *testing.T) {
	text := read(t, "../testdata/shop/tape/foot-plate-proven.tap")
	text = text[bytes.IndexByte(text, '%'):] // the notes in front are not punched
	set := All()
	for _, name := range []string{"knee-mill", "bed-mill", "slant-lathe", "rs274ngc"} {
		m := machine(t, name)
		want := checkBytes(t, text, m, set)
		if name == "bed-mill" && len(want.Findings) == 0 {
			t.Fatal("nothing found: this test shows nothing")
		}
		for _, tape := range []string{"foot-plate-proven.eia", "foot-plate-proven.iso"} {
			got := checkBytes(t, read(t, "../testdata/tape/"+tape), m, set)
			if got.Blocks != want.Blocks+1 || !reflect.DeepEqual(got.Times, want.Times) || !reflect.DeepEqual(got.Extents, want.Extents) {
				t.Errorf("%s on %s: %d blocks, %+v, want one more than %d, %+v", tape, name, got.Blocks, got.Times, want.Blocks, want.Times)
			}
			for i := range got.Findings {
				got.Findings[i].Offset = 0 // the leader and CR are rows too
			}
			for i := range want.Findings {
				want.Findings[i].Offset = 0
			}
			if !reflect.DeepEqual(got.Findings, want.Findings) {
				t.Errorf("%s on %s:\n%+v\nwant\n%+v", tape, name, got.Findings, want.Findings)
			}
		}
	}
}

// Two holes that a worn reader missed are told with their place, and what the
// text has wrong is told beside them.
func TestWornTape(t *testing.T) {
	m := machine(t, "knee-mill")
	text := read(t, "../testdata/shop/tape/packing-follower.tap")
	notes := bytes.Count(text[:bytes.IndexByte(text, '%')], []byte("\n"))
	want := map[string]bool{"8:11 block-unreadable": true, "13:6 block-unreadable": true}
	for _, f := range checkBytes(t, text, m, All()).Findings {
		if f.Line -= notes; f.Rule.Name == "reversal-in-cut" {
			f.Line, f.Column = 25, 6 // its first place is one of the blocks that are lost
		}
		want[place(&f)] = true
	}
	got := map[string]bool{}
	for _, f := range checkBytes(t, read(t, "../testdata/tape/packing-follower-worn.eia"), m, All()).Findings {
		got[place(&f)] = true
		if f.Rule.Name == "block-unreadable" && !strings.Contains(f.Message, "of the tape") {
			t.Errorf("%+v", f)
		}
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

func place(f *Finding) string { return fmt.Sprintf("%d:%d %s", f.Line, f.Column, f.Rule.Name) }

// Blank tape and rub-outs are not stored: they make no block too long.
func TestBlankTapeIsNoText(t *testing.T) {
	m := machine(t, "knee-mill") // 80 characters
	blank := strings.Repeat("\x00", 100)
	for _, program := range []string{blank + "%\nM30\n%\n" + blank, "%\nG0 X" + blank + "1" + blank + "\nM30\n%\n"} {
		for _, f := range checkBytes(t, []byte(program), m, All()).Findings {
			if f.Rule.Name == "block-too-long" {
				t.Errorf("%+v", f)
			}
		}
	}
	long := blank + "(" + strings.Repeat("A", 50) + blank + strings.Repeat("B", 50) + ")\nM30\n"
	for _, f := range checkBytes(t, []byte(long), m, All()).Findings {
		if f.Rule.Name == "block-too-long" {
			if !strings.Contains(f.Message, "102 characters") || f.Column != 100+80+100+1 {
				t.Errorf("%+v", f)
			}
			return
		}
	}
	t.Error("102 characters are not too long")
}
