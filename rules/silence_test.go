package rules

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tapefit/profiles"
)

// toldOf is what a check of a program comes to: the findings, then what is not
// told of them.
func toldOf(t *testing.T, m *profiles.Machine, program string) string {
	t.Helper()
	r, err := Check(strings.NewReader(program), int64(len(program)), "test", m, All(), Options{})
	if err != nil {
		t.Fatal(err)
	}
	var list []string
	for _, f := range r.Findings {
		s := fmt.Sprintf("%s %s %d:%d", f.Level, f.Rule.Name, f.Line, f.Column)
		if f.Count > 1 {
			s += fmt.Sprintf(" x%d to %d:%d", f.Count, f.EndLine, f.EndColumn)
		}
		if f.Silenced > 0 {
			s += fmt.Sprintf(" beside %d", f.Silenced)
		}
		list = append(list, s)
	}
	for _, s := range r.Silenced {
		list = append(list, fmt.Sprintf("silenced %d %s", s.Count, s.Rule.Name))
	}
	return strings.Join(list, "\n")
}

func TestSilence(t *testing.T) {
	for _, c := range []struct{ name, program, want string }{
		{"a stretch", "(TAPEFIT OFF word-not-used: R IS FOR THE OTHER CONTROL)\nG1 X1 R2 F100\nX2 R2\n(TAPEFIT ON word-not-used)\nM2\n",
			"error spindle-off-in-cut 2:1 x2 to 3:3\nsilenced 1 word-not-used"},
		{"the block of OFF is in it, that of ON is not", "G0 X1 R2 (tapefit off word-not-used: why)\nX2 R2\nX3 R2 (tapefit on word-not-used)\nM2\n",
			"warning word-not-used 3:4 beside 2"},
		{"the first place that is told is the finding's", "(TAPEFIT OFF word-not-used: why)\nG0 X1 R2\n(TAPEFIT ON word-not-used)\nX2 R3\nX3 R4\nM2\n",
			"warning word-not-used 4:4 x2 to 5:6 beside 1"},
		{"places behind the finding's", "G0 X1 R2\n(TAPEFIT SKIP word-not-used: why)\nX2 R3\nX3 R4\nM2\n",
			"warning word-not-used 1:7 x2 to 4:6 beside 1"},
		{"to the end where nothing ends it", "G0 X1 R2\n(TAPEFIT OFF word-not-used: why)\nX2 R3\nX3 R4\nM2\n",
			"warning word-not-used 1:7 beside 2"},
		{"SKIP: its own block and the next", "G0 X1 R2 (TAPEFIT SKIP word-not-used: why)\nX2 R3\nX3 R4\nM2\n",
			"warning word-not-used 3:4 beside 2"},
		{"SKIP twice, and blank lines: the next block that says something", "(TAPEFIT SKIP word-not-used: why)\n(TAPEFIT SKIP spindle-off-in-cut: A DRAG KNIFE)\n\nG1 X1 R2 F100\nM2\n",
			"silenced 1 spindle-off-in-cut\nsilenced 1 word-not-used"},
		{"behind a semicolon, in any case", "G0 X1 R2 ; TapeFit Skip Word-Not-Used - why\nM2\n", "error code-not-accepted 1:10\nsilenced 1 word-not-used"},
		{"another rule is not silenced", "(TAPEFIT OFF word-missing: why)\nG0 X1 R2\nM2\n", "note silence-unused 1:1\nwarning word-not-used 2:7"},
		{"two causes are two", "(TAPEFIT OFF word-not-used: why)\nG0 X1 R2 Q3\nM2\n", "silenced 2 word-not-used"},
		{"a block that is unreadable", "G0 X0\n(TAPEFIT SKIP block-unreadable: THE CONTROL KNOWS IT)\nX Y1\nM2\n", "silenced 1 block-unreadable"},
		{"the end of the program, which is told at the last block", "G0 X1\nX2 (TAPEFIT SKIP program-end-missing: DRIP FED)\n", "silenced 1 program-end-missing"},

		{"no reason: nothing is silenced", "G0 X1 R2 (TAPEFIT SKIP word-not-used)\nM2\n",
			"warning word-not-used 1:7\nwarning silence-without-reason 1:10"},
		{"a colon is no reason", "(TAPEFIT OFF word-not-used: )\nG0 X1 R2\n(TAPEFIT ON word-not-used)\nM2\n",
			"warning silence-without-reason 1:1\nwarning word-not-used 2:7"},
		{"no such rule", "(TAPEFIT SKIP word-unused: why)\nG0 X1 R2\nM2\n", "warning silence-unknown-rule 1:1\nwarning word-not-used 2:7"},
		{"what speaks of silences is not silenced", "(TAPEFIT OFF silence-unused: why)\n(TAPEFIT SKIP word-not-used: why)\nG0 X1\nM2\n",
			"warning silence-unknown-rule 1:1\nnote silence-unused 2:1"},
		{"nothing to silence", "(TAPEFIT OFF word-not-used: why)\nG0 X1\n(TAPEFIT ON word-not-used)\nM2\n", "note silence-unused 1:1"},
		{"off already", "(TAPEFIT OFF word-not-used: why)\n(TAPEFIT OFF word-not-used: why)\nG0 X1 R2\nM2\n", "note silence-unused 2:1\nsilenced 1 word-not-used"},
		{"not off", "G0 X1\n(TAPEFIT ON word-not-used)\nM2\n", "note silence-unused 2:1"},
		{"another verb, no rule", "(TAPEFIT IGNORE word-not-used: why)\n(TAPEFIT OFF)\n(TAPEFIT)\nG0 X1\nM2\n",
			"warning silence-not-read 1:1\nwarning silence-not-read 2:1\nwarning silence-not-read 3:1"},
		{"comments for people", "(TAPEFITTER: ADAMS)\n(SEE TAPEFIT OFF word-not-used: why)\nG0 X1 R2\nM2\n", "warning word-not-used 3:7"},
		{"outside the % marks there are no comments", "(TAPEFIT OFF word-not-used: why)\n%\nG0 X1 R2\nM2\n%\n", "warning word-not-used 3:7"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := toldOf(t, machine(t, "rs274ngc"), c.program); got != c.want {
				t.Errorf("program:\n%s\ngot:\n%s\nwant:\n%s", c.program, got, c.want)
			}
		})
	}
}

// A subprogram is executed before the walk comes to the comments in it, and its
// places come again with each call.
func TestSilenceInSubprogram(t *testing.T) {
	m := machine(t, "bed-mill")
	for _, c := range []struct{ name, program, want string }{
		{"a stretch in it", "G0 X0\nM98 P2 L3\nM30\nO2\n(TAPEFIT OFF code-not-accepted: NEW CONTROL)\nG95\n(TAPEFIT ON code-not-accepted)\nG95\nM99\n",
			"error code-not-accepted 8:1 beside 1"},
		{"all of it", "G0 X0\nM98 P2 L3\nM30\nO2\n(TAPEFIT OFF code-not-accepted: NEW CONTROL)\nG95\nG95\nM99\n",
			"silenced 1 code-not-accepted"},
		{"the call's block is another place", "G0 X0\nM98 P2 (TAPEFIT SKIP code-not-accepted: NEW CONTROL)\nM30\nO2\nG95\nM99\n",
			"note silence-unused 2:8\nerror code-not-accepted 5:1"},
		{"the worst is looked for among what is told", "G0 X0\n(TAPEFIT SKIP travel-exceeded: THE CLAMP IS OFF)\nX35.\nX30.\nM30\n",
			"error travel-exceeded 4:1 beside 1"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := toldOf(t, m, c.program); got != c.want {
				t.Errorf("program:\n%s\ngot:\n%s\nwant:\n%s", c.program, got, c.want)
			}
		})
	}
	r := checkBytes(t, []byte("G0 X0\n(TAPEFIT SKIP travel-exceeded: THE CLAMP IS OFF)\nX35.\nX30.\nM30\n"), m, All())
	if len(r.Findings) != 1 || strings.Contains(r.Findings[0].Message, "line 3") {
		t.Errorf("the message speaks of a silenced place: %+v", r.Findings)
	}
}

// shopRules is bed-mill with a table of rules.
func shopRules(t *testing.T, table string) (*profiles.Machine, error) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "shop-mill.toml")
	text := "name = \"shop-mill\"\ntitle = \"Bed mill\"\nextends = \"bed-mill\"\n[rules]\n" + table
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return profiles.Load(file)
}

func TestProfileRules(t *testing.T) {
	const program = "M41\nS500 M3\nG0 X0 R2\n(TAPEFIT SKIP word-not-used: why)\nX1. R2\nG95\nS5000\nM30\n"
	for _, c := range []struct{ name, table, want string }{
		{"as ever", "", "warning word-not-used 3:7 beside 1\nerror code-not-accepted 6:1\nerror speed-over-machine 7:1"},
		{"off, and no word of comments that silence it", `word-not-used = { level = "off", reason = "our post writes R" }`,
			"error code-not-accepted 6:1\nerror speed-over-machine 7:1\nsilenced 1 word-not-used"},
		{"milder and sharper", "word-not-used = { level = \"error\", reason = \"cost us a part\" }\nspeed-over-machine = { level = \"note\", reason = \"the control holds it\" }",
			"error word-not-used 3:7 beside 1\nerror code-not-accepted 6:1\nnote speed-over-machine 7:1"},
		{"what the rule itself makes milder too", "speed-outside-gear = { level = \"note\", reason = \"the lamp shows the gear\" }",
			"warning word-not-used 3:7 beside 1\nerror code-not-accepted 6:1\nerror speed-over-machine 7:1"},
	} {
		t.Run(c.name, func(t *testing.T) {
			m, err := shopRules(t, c.table)
			if err != nil {
				t.Fatal(err)
			}
			if err := CheckProfile(m); err != nil {
				t.Fatal(err)
			}
			if got := toldOf(t, m, program); got != c.want {
				t.Errorf("got:\n%s\nwant:\n%s", got, c.want)
			}
		})
	}
	m, err := shopRules(t, "speed-outside-gear = { level = \"note\", reason = \"the lamp shows the gear\" }")
	if err != nil {
		t.Fatal(err)
	}
	if got := toldOf(t, m, "G0 X0\nS3000 M3\nG1 X1. F10.\nM30\n"); got != "note speed-outside-gear 2:1" {
		t.Errorf("a finding whose level the rule lowers: %s", got)
	}
	m, err = shopRules(t, "silence-unused = { level = \"off\", reason = \"programs for three machines\" }")
	if err != nil {
		t.Fatal(err)
	}
	if got := toldOf(t, m, "(TAPEFIT SKIP word-not-used: why)\nG0 X0\nM30\n"); got != "silenced 1 silence-unused" {
		t.Errorf("a rule on silences, off in the profile: %s", got)
	}
}

func TestProfileRuleNames(t *testing.T) {
	m, err := shopRules(t, "word-unused = { level = \"off\", reason = \"why\" }\nquite-another-thing = { level = \"off\", reason = \"why\" }\n")
	if err != nil {
		t.Fatal(err)
	}
	err = CheckProfile(m)
	if err == nil {
		t.Fatal("taken")
	}
	got := strings.Split(err.Error(), "\n")
	for i, want := range []string{
		`shop-mill.toml:6: rules.quite-another-thing: no rule "quite-another-thing": "tapefit rules" lists them`,
		`shop-mill.toml:5: rules.word-unused: no rule "word-unused": did you mean "word-not-used"? "tapefit rules" lists them`,
	} {
		if i >= len(got) || !strings.HasSuffix(got[i], want) {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

// More comments than are kept: the rest silences nothing, and that is told.
func TestManySilences(t *testing.T) {
	program := strings.Repeat("G0 X1 R2 (TAPEFIT SKIP word-not-used: why)\nX2\n", mostSilences+5) + "M2\n"
	line := 2*mostSilences + 1
	want := fmt.Sprintf("warning word-not-used %d:7 x5 to %d:9 beside %d\nwarning silence-not-read %d:10", line, line+8, mostSilences, line)
	if got := toldOf(t, machine(t, "rs274ngc"), program); got != want {
		t.Errorf("got:\n%s\nwant:\n%s", got, want)
	}
}

// The search finds the mark wherever a chunk of the file ends, and in short
// files.
func TestMentions(t *testing.T) {
	const chunk = 256 << 10
	for _, at := range []int{0, 1, 2, 5, 6, 7, 100, chunk - 8, chunk - 7, chunk - 6, chunk - 5, chunk - 4, chunk - 3, chunk - 2, chunk - 1, chunk, chunk + 1, 2*chunk - 10, 2*chunk - 7} {
		for _, word := range []string{"tapefit", "TAPEFIT", "TaPeFiT"} {
			for _, behind := range []int{0, 1, 300, chunk} {
				program := []byte(strings.Repeat("X", max(0, at-9)) + strings.Repeat("P", min(at, 9)) + word + strings.Repeat("p", min(behind, 9)) + strings.Repeat("X", max(0, behind-9)))
				if last, err := lastMention(bytes.NewReader(program), int64(len(program))); err != nil || last != int64(at) {
					t.Fatalf("%s at %d of %d: %v, %v", word, at, len(program), last, err)
				}
				program[at+6] = 'p'
				if last, err := lastMention(bytes.NewReader(program), int64(len(program))); err != nil || last >= 0 {
					t.Fatalf("nothing at %d of %d: %v, %v", at, len(program), last, err)
				}
			}
		}
	}
	if last, err := lastMention(bytes.NewReader(nil), 0); last >= 0 || err != nil {
		t.Errorf("an empty file: %v, %v", last, err)
	}
	if _, err := lastMention(unreadableFile{}, 10); err == nil {
		t.Error("an error of reading is lost")
	}
}

// unreadableFile can't be read.
type unreadableFile struct{}

func (unreadableFile) ReadAt([]byte, int64) (int, error) { return 0, io.ErrClosedPipe }
