package adapt

import (
	"strings"
	"testing"

	"tapefit/profiles"
	"tapefit/rules"
)

// Whole programs as posts and people begin and end them, for a control of the
// tape time that has no home position and no small letters (common practice).
func TestWholePrograms(t *testing.T) {
	tests := []struct{ name, to, source, want string }{
		{"home by distances, from where nobody knows", "knee-mill",
			"G20 G90 G17\nG91 G28 Z0.\nG90\nT4 M6\nS1000 M3\nG0 X0. Y0.\nZ1. M8\nG1 Z-.1 F5.\nG91 G28 Z0. M9\nG90\nM30\n",
			"G70 G90 G17\nG0 Z1.\nG90\nG0 Z2.\nT4 M6\nS1000 M3\nG0 X0. Y0.\nZ1. M8\nG1 Z-.1 F5.\nG0 Z1. M9\nG90\nM30\n"},
		{"what goes on by distances is told so", "knee-mill",
			"G20 G90 G17\nG0 Z1.\nX0. Y0.\nG91 G28 Z0.\nG0 X1.\nX1.\nG90 X0.\nM30\n",
			"G70 G90 G17\nG0 Z1.\nX0. Y0.\nZ1.\nG91 G0 X1.\nX1.\nG90 X0.\nM30\n"},
		{"small letters, and a comment with what the tape has not", "knee-mill",
			"g20 g90 (jack's vise, #3 stop, 45°)\ng0 x0 y0\nz1.\n\tx1.\nm30\n",
			"G70 G90 (JACK S VISE,  3 STOP, 45 )\nG0 X0 Y0\nZ1.\n X1.\nM30\n"},
		{"codes behind the move, and the stop last", "knee-mill",
			"G70 G90\nN1 G0 X0 Y0\n/N2 G43 H1 Z1. M8\nN3 G49 Z1. M9\nN4 G49 X1. M0 (LOOK)\nM30\n",
			"G70 G90\nN1 G0 X0 Y0\n/N2 Z1. M8\nN3 Z1. M9\nN4 X1. M0 (LOOK)\nM30\n"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			opt := demoOptions(t)
			opt.Passes = nil
			got, r, err := adapted(t, "%\n"+test.source+"%\n", opt)
			if err != nil {
				t.Fatalf("%v\n%s", err, got)
			}
			if !r.Written {
				t.Fatalf("not written: %+v", r.Left)
			}
			if want := "%\n" + test.want + "%\n"; got != want {
				t.Errorf("got\n%s\nwant\n%s", got, want)
			}
			again(t, got)
		})
	}
}

// A machine that moves by distances only cannot be sent to a place from where
// nobody knows.
func TestHomeByDistancesOnly(t *testing.T) {
	opt := demoOptions(t)
	to, err := profiles.FindWith("knee-mill", nil, []string{"codes.G90=refused", "start.distance=incremental"})
	if err != nil {
		t.Fatal(err)
	}
	opt.To, opt.Passes = to, nil
	_, r, err := adapted(t, "%\nG20 G91 G28 Z0.\nM30\n%\n", opt)
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Left) != 1 || r.Left[0].Level != rules.Error || !strings.Contains(r.Left[0].What, "where Z stands is not known") {
		t.Errorf("left %+v", r.Left)
	}
}

// Characters stay where the pass is not to be made.
func TestCharactersLeft(t *testing.T) {
	opt := demoOptions(t)
	opt.Passes = map[string]bool{Characters: false}
	got, _, err := adapted(t, "%\n(shop's own)\nG70 G90\nM30\n%\n", opt)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(got, "(shop's own)") {
		t.Errorf("made, and it was not to be: %s", got)
	}
}

// Compensation holds moves back: they keep their numbers, and block delete of the
// block in which they are written at last is not theirs.
func TestOffsetContourKeepsItsNumbers(t *testing.T) {
	const head, tail = "%\nN1 G70 G90\nT4 M6\nS1000 M3\nG0 X-1. Y0.\nZ-.25\n", "N14 G0 Z1.\nM30\n%\n"
	const contour = "N7 G41 D4 G1 X0. Y1. F10.\nN8 Y3.\nN9 X3.\n/N10 M1\nN11 Y0.\nN12 X-1.\nN13 G40 Y-1.\n"
	const want = "N7 G1 X-0.25 Y1. F10.\nN8 Y3.\nN9 G2 X0. Y3.25 I0.25 J0.\nG1 X3.\n/N10 M1\n" +
		"N11 G2 X3.25 Y3. I0. J0.25\nG1 Y0.\nN12 G2 X3. Y-0.25 I0.25 J0.\nG1 X-1.\nN13 Y-1.\n"
	opt := demoOptions(t)
	from, err := profiles.FindWith("bed-mill", nil, []string{"codes.G70=inch"})
	if err != nil {
		t.Fatal(err)
	}
	opt.From, opt.Guess, opt.Passes = from, false, nil
	got, r, err := adapted(t, head+contour+tail, opt)
	if err != nil || !r.Written {
		t.Fatalf("%v %+v", err, r)
	}
	if got != head+want+tail {
		t.Errorf("got\n%s\nwant\n%s", got, head+want+tail)
	}
	for _, number := range []string{"N7 ", "N9 "} {
		_, r, err := adapted(t, head+strings.Replace(contour, number, "/"+number, 1)+tail, opt)
		if err != nil {
			t.Fatal(err)
		}
		if r.Written || !strings.Contains(r.Left[0].What, "block delete") {
			t.Errorf("/%s: left %+v", number, r.Left)
		}
	}
}

// What is left to a person is shown to no post as it should be: here the contour
// without its offset.
func TestNotesOfWhatIsLeft(t *testing.T) {
	opt := demoOptions(t)
	opt.Passes = nil
	_, r, err := adapted(t, "%\nG70 G90\nG0 X-1. Y0. Z-.2\nG41 D4 G1 X0. Y1. F10.\nY3.\nG40 X-1.\nM30\n%\n", opt)
	if err != nil {
		t.Fatal(err)
	}
	book := NewNotebook(opt.To)
	book.Add("program", r)
	for _, note := range book.Notes() {
		if note.Name == CompPath {
			if note.Now != "" {
				t.Errorf("%q is shown as it should be", note.Now)
			}
			return
		}
	}
	t.Errorf("no note of %s: %+v", CompPath, book.Notes())
}
