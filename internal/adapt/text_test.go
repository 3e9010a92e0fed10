package adapt

import (
	"strings"
	"testing"

	"tapefit/profiles"
)

// The mark that the control needs stands in a line of its own, also behind a last
// block without an end of line.
func TestMarksAlone(t *testing.T) {
	tests := []struct{ name, source, want string }{
		{"no end of line", "%\nG70 G90\nG0 X1.\nM30", "%\nG70 G90\nG0 X1.\nM30\n%\n"},
		{"no mark at all", "G70 G90\nG0 X1.\nM30", "%\nG70 G90\nG0 X1.\nM30\n%\n"},
		{"ends of two characters", "%\r\nG70 G90\r\nG0 X1.\r\nM30", "%\r\nG70 G90\r\nG0 X1.\r\nM30\r\n%\r\n"},
		{"behind a block that is written anew", "%\nG70 G90\nG0 X1.\nM2", "%\nG70 G90\nG0 X1.\nM2\n%\n"},
		{"an end of line", "%\nG70 G90\nG0 X1.\nM30\n", "%\nG70 G90\nG0 X1.\nM30\n%\n"},
		{"a mark without an end of line", "%\nG70 G90\nG0 X1.\nM30\n%", "%\nG70 G90\nG0 X1.\nM30\n%"},
		{"blank tape behind it", "%\nG70 G90\nG0 X1.\nM30\x00", "%\nG70 G90\nG0 X1.\nM30\x00\n%\n"},
	}
	for _, test := range tests {
		got, r, err := adapted(t, test.source, Options{From: base(t, "lenient"), To: machine(t, "knee-mill")})
		if err != nil || !r.Written {
			t.Errorf("%s: %v %+v", test.name, err, r.Left)
			continue
		}
		if got != test.want {
			t.Errorf("%s: got %q, want %q", test.name, got, test.want)
		}
	}
}

// A comment that adapt writes has only what the control reads.
func TestCommentInCharacters(t *testing.T) {
	for _, test := range []struct{ characters, comments, text, want string }{
		{"", "(", "1/2 End Mill (HSS)", "(1/2 End Mill [HSS])"},
		{"A-Z0-9 ()/[]", "(", "1/2 End Mill (HSS)", "(1/2 END MILL [HSS])"},
		{"A-Z0-9 ()/", "(", "1/2 END MILL (HSS)", "(1/2 END MILL HSS)"},
		{"A-Z0-9 ()", "(", "1/2 END MILL (HSS), LONG", "(1 2 END MILL HSS LONG)"},
		{"A-Z0-9 ;", ";", "1/2 END MILL (HSS)", "; 1 2 END MILL HSS"},
		{"A-Z0-9 ()", "(", "FRÄSER", "(FR SER)"},
		{"A-Z0-9 ()", "(", "  ", ""},
		{"A-Z0-9 ()", "", "END MILL", ""},
	} {
		to := *machine(t, "knee-mill")
		to.Block.Characters, to.Block.Comments = test.characters, test.comments
		if got := (&adapter{to: &to}).asComment(test.text); got != test.want {
			t.Errorf("%q in %q: got %q, want %q", test.text, test.characters, got, test.want)
		}
	}
	to, err := profiles.FindWith("knee-mill", nil, []string{`tools.change_sequence=["G0 Z{2 in}", "M9", "M5", "M0 ({tool}: {name})"]`,
		`tools.loaded=[{number = 1, title = "end mill (HSS)"}]`, "codes.M6=refused", "words.accepted=FGIJKMNOPRSXYZ"})
	if err != nil {
		t.Fatal(err)
	}
	got, r, err := adapted(t, "%\nG20 G90\nG0 X0 Y0 Z2.\nT1 M6\nX1.\nM30\n%\n", Options{From: base(t, "lenient"), To: to})
	if err != nil || !r.Written || !strings.Contains(got, "(1: END MILL HSS)") {
		t.Errorf("%v %+v\n%s", err, r.Left, got)
	}
}
