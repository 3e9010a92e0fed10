package rules

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tapefit/profiles"
)

// Programs with flow: one cause is one finding, however often it is passed, and
// rules see the blocks that run, not those that stand in the file.
func TestFlowFindings(t *testing.T) {
	for _, c := range []struct {
		name, machine, program string
		want                   []string
	}{
		{"nothing to say", "parametric", "#1=0\nWHILE [#1 LT 3] DO 1\n#1=[#1+1]\nG0 X#1\nEND 1\nM30\n", nil},
		{"a refused code in a loop counts its block once", "parametric", "#1=0\nWHILE [#1 LT 30] DO 1\n#1=[#1+1]\nG95\nEND 1\nG95\nM30\n",
			[]string{"error code-not-accepted 4:1 x2 to 6:4"}},
		{"what is jumped over is not executed", "parametric", "GOTO 9\nG95\nN9 M30\n", nil},
		{"a jump to nowhere, twice", "parametric", "GOTO 7\nGOTO 7\nM30\n", []string{"error jump-target-missing 1:1 x2 to 2:7"}},
		{"a loop closed by a wrong number", "parametric", "DO 1\nG0\nEND 2\nM30\n", []string{"error loop-unmatched 1:1 x2 to 3:6"}},
		{"the end code is reached by going back", "parametric", "GOTO 5\nN1 M30\nN5 GOTO 1\n", nil},
		{"and is never reached", "parametric", "GOTO 5\nM30\nN5 G0\n", []string{"warning program-end-missing 3:1"}},
		{"a loop for ever stands at its DO", "parametric", "G0\nDO 1\nG4 P0\nEND 1\nM30\n", []string{"error loop-runaway 2:1"}},
		{"a machine without flow: one finding", "bed-mill", "#1=0\nWHILE [#1 LT 3] DO 1\n#1=[#1+1]\nEND 1\nM30\n",
			[]string{"error code-not-accepted 2:1 x2 to 4:6"}},
		{"a count without brackets", "rs274ngc", "#1=1\n#1=#1+1\n#1=[#1+1]\n#2=#1*2\nM2\n", []string{"error code-not-accepted 2:1 x2 to 4:8"}},
		{"the same where it is taken", "parametric", "#1=1\n#1=#1+1\nM30\n", nil},
		{"words beside a jump", "parametric", "G0 GOTO 5\nN5 M30\n", []string{"error code-not-accepted 1:1"}},
		{"flow of another product", "parametric", "O100 CALL [1] [2]\nIF [#1 EQ 0] THEN\nENDIF\nM30\n",
			[]string{"error block-unreadable 1:6", "error block-unreadable 2:1", "error block-unreadable 3:1"}},
		{"calls with arguments, too deep", "parametric", "G65 P2\nM30\nO2\nG65 P2\nM99\n", []string{"error calls-too-deep 4:5"}},
		{"brackets without measure", "parametric", "G0 X" + strings.Repeat("[", 10000) + "1" + strings.Repeat("]", 10000) + "\nM30\n",
			[]string{"error block-unreadable 1:4", "error block-too-long 1:257"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := findings(t, machine(t, c.machine), c.program, Options{MaxBlocks: 10000})
			if fmt.Sprint(got) != fmt.Sprint(c.want) {
				t.Errorf("program:\n%s\ngot:\n%s\nwant:\n%s", c.program, strings.Join(got, "\n"), strings.Join(c.want, "\n"))
			}
		})
	}
}

// The programs in testdata/flow and what their README says is wrong in them.
func TestFlowPrograms(t *testing.T) {
	m := machine(t, "../testdata/flow/macro-mill.toml")
	for file, want := range map[string]string{
		"strainer-plate-slots.ngc": "[]",
		"gland-holes-wrong.ngc":    "[error loop-runaway 12:1]",
	} {
		text, err := os.ReadFile(filepath.Join("../testdata/flow", file))
		if err != nil {
			t.Fatal(err)
		}
		if got := fmt.Sprint(findings(t, m, string(text), Options{MaxBlocks: 100000})); got != want {
			t.Errorf("%s: got %s, want %s", file, got, want)
		}
	}
}

// A fault of the profile's tool-change program is one finding at the code that
// runs it, and says where to mend it.
func TestToolChangeProgramFaulty(t *testing.T) {
	file := filepath.Join(t.TempDir(), "test-mill.toml")
	const text = "name = \"test-mill\"\ntitle = \"for a test\"\nextends = \"bed-mill\"\n[tools]\nchange_program = \"\"\"\nM9\nG95\nM6\n\"\"\"\n"
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	m, err := profiles.Load(file)
	if err != nil {
		t.Fatal(err)
	}
	const program = "T2 M6\nT3 M6\nM30\n"
	r, err := Check(strings.NewReader(program), int64(len(program)), "test", m, All(), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Findings) != 1 {
		t.Fatalf("%d findings", len(r.Findings))
	}
	f := r.Findings[0]
	if f.Rule.Name != "tool-change-program-faulty" || f.Line != 1 || f.Column != 4 || f.Count != 2 ||
		f.Message != `line 2 of the tool-change program of test-mill: "G95": not accepted by the control` ||
		!strings.Contains(f.Advice, "test-mill.toml:5") {
		t.Errorf("got %+v", f)
	}
}
