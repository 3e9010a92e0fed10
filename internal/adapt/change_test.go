package adapt

import (
	"errors"
	"strings"
	"testing"

	"tapefit/profiles"
	"tapefit/rules"
)

// changeCases are tool changes on a machine, and what becomes of them. The
// programs are for the bed mill in inches; before the change the tool has cut,
// coolant on, and stands over the work.
var changeCases = []struct{ name, set, source, want string }{
	{"nothing is done: all is put in, and the coolant is on again", "",
		"T2 M6\nS900 M3\nG0 X1. Y1.\nG43 H2 Z.5\nG1 Z0. F5.\n",
		"M9\nM5\nG53 G0 Z0.\nT2 M6\nS900 M3\nM8\nG0 X1. Y1.\nG43 H2 Z.5\nG1 Z0. F5.\n"},
	{"what is done already stays in its order", "",
		"M5\nM9\nG53 G0 Z0.\n(DRILL)\nT2 M6\nS900 M3\nG0 X1. Y1.\nG43 H2 Z.5\nM8\n",
		"M5\nM9\nG53 G0 Z0.\n(DRILL)\nT2 M6\nS900 M3\nG0 X1. Y1.\nG43 H2 Z.5\nM8\n"},
	{"home by another code", "",
		"M9\nM5\nG91 G28 Z0\nG90\nT2 M6\nS900 M3\nG0 X1. Y1. Z.5\nM8\n",
		"M9\nM5\nG91 G28 Z0\nG90\nT2 M6\nS900 M3\nG0 X1. Y1. Z.5\nM8\n"},
	{"the program switches the coolant itself", "",
		"M5\nG53 G0 Z0.\nT2 M6\nM9\nS900 M3\nG0 X1. Y1. Z.5\nM8\n",
		"M5\nG53 G0 Z0.\nM9\nT2 M6\nM9\nS900 M3\nG0 X1. Y1. Z.5\nM8\n"},
	{"numbers and comments of the block", "",
		"M9\nM5\nN40 T2 M6 (DRILL)\nG0 X1. Y1. Z.5\n",
		"M9\nM5\nN40 G53 G0 Z0.\nT2 M6 (DRILL)\nG0 X1. Y1. Z.5\n"},
	{"T and the code in one block", "",
		"M9\nM5\nG53 G0 Z0.\nT2\nM6\nG0 X1. Y1. Z.5\n",
		"M9\nM5\nG53 G0 Z0.\nT2\nT2 M6\nG0 X1. Y1. Z.5\n"},
	{"and in two", `tools.change_sequence=["T{tool}", "M5", "M6"]`,
		"M5\nT2 M6 S900 M3\nG0 X1. Y1. Z.5\n",
		"M5\nT2\nM6\nS900 M3\nG0 X1. Y1. Z.5\n"},
	{"by hand, behind a stop that names the tool", `tools.change_sequence=["M9", "M5", "G53 G0 Z0", "M0 (CHANGE TO {tool}, {name})", "T{tool} M6"]`,
		"M9\nM5\nT2 M6\nG0 X1. Y1. Z.5\n",
		"M9\nM5\nG53 G0 Z0.\nM0 (CHANGE TO 2, 1/2 IN END MILL)\nT2 M6\nG0 X1. Y1. Z.5\n"},
	{"the stop stands there already", `tools.change_sequence=["M9", "M5", "M0 (CHANGE TO {name})", "T{tool} M6"]`,
		"M9\nM5\nM0 (END MILL)\nT2 M6\nG0 X1. Y1. Z.5\n",
		"M9\nM5\nM0 (END MILL)\nT2 M6\nG0 X1. Y1. Z.5\n"},
	{"a stop behind the change", `tools.change_sequence=["M9", "M5", "T{tool} M6", "M0 (TOOL {tool} IN?)"]`,
		"M9\nM5\nT2 M6\nS900 M3\nG0 X1. Y1. Z.5\n",
		"M9\nM5\nT2 M6\nM0 (TOOL 2 IN?)\nS900 M3\nG0 X1. Y1. Z.5\n"},
	{"the stop behind stands there already", `tools.change_sequence=["M9", "M5", "T{tool} M6", "M0 (TOOL {tool} IN?)"]`,
		"M9\nM5\nT2 M6\n(LOOK)\nM0\nS900 M3\nG0 X1. Y1. Z.5\n",
		"M9\nM5\nT2 M6\n(LOOK)\nM0\nS900 M3\nG0 X1. Y1. Z.5\n"},
	{"no code for a change: the stop is it", `codes.M6=refused|tools.change_sequence=["M9", "M5", "G53 G0 Z0", "M0 (TOOL {tool})"]`,
		"M9\nM5\nT2 M6\nS900 M3\nG0 X1. Y1. Z.5\n",
		"M9\nM5\nG53 G0 Z0.\nM0 (TOOL 2)\nS900 M3\nG0 X1. Y1. Z.5\n"},
	{"a place to change by hand, after Z is up", `tools.change_sequence=["M9", "M5", "G53 G0 Z0", "G53 G0 X{20 in} Y{0 in}", "T{tool} M6"]`,
		"M9\nM5\nG53 G0 Z0.\nT2 M6\nG0 X1. Y1.\nZ.5\n",
		"M9\nM5\nG53 G0 Z0.\nG53 G0 X20. Y0.\nT2 M6\nG0 X1. Y1.\nZ.5\n"},
	{"home in Z by distance", `tools.change_sequence=["M9", "M5", "G91 G28 Z0", "G90", "T{tool} M6"]`,
		"M9\nM5\nT2 M6\nG0 X1. Y1.\nZ.5\n",
		"M9\nM5\nG91 G28 Z0.\nG90\nT2 M6\nG0 X1. Y1.\nZ.5\n"},
	{"a level over the work", `tools.change_sequence=["G0 Z{2 in}", "M9", "M5", "T{tool} M6"]`,
		"M9\nM5\nT2 M6\nG0 X1. Y1.\nZ.5\n",
		"M9\nM5\nG0 Z2.\nT2 M6\nG0 X1. Y1.\nZ.5\n"},
	{"it stands higher", `tools.change_sequence=["G0 Z{2 in}", "M9", "M5", "T{tool} M6"]`,
		"M9\nM5\nG0 Z3.\nT2 M6\nG0 X1. Y1.\nZ.5\n",
		"M9\nM5\nG0 Z3.\nT2 M6\nG0 X1. Y1.\nZ.5\n"},
	{"a clamp of the machine's own", `codes.M10=accepted|codes.M11=accepted|tools.change_sequence=["M9", "M5", "M10", "T{tool} M6", "M11"]`,
		"M9\nM5\nT2 M6\nG0 X1. Y1. Z.5\n",
		"M9\nM5\nM10\nT2 M6\nM11\nG0 X1. Y1. Z.5\n"},
	{"millimetres", "",
		"M9\nM5\nG21\nG0 Z20.\nT2 M6\nG0 X25. Y25. Z15.\n",
		"M9\nM5\nG21\nG0 Z20.\nG53 G0 Z0.\nT2 M6\nG0 X25. Y25. Z15.\n"},
}

// changeHead is what is done before each of changeCases.
const changeHead = "%\nG20 G90 G94\nT1 M6\nM41\nS500 M3\nG0 X0 Y0\nG43 H1 Z1.\nM8\nG1 Z.1 F5.\n"

func TestChanges(t *testing.T) {
	from := machine(t, "bed-mill")
	for _, test := range changeCases {
		t.Run(test.name, func(t *testing.T) {
			to, got, r := changed(t, from, test.set, test.source)
			if !r.Written {
				t.Fatalf("not written: %+v", r.Left)
			}
			if !strings.HasSuffix(got, "G1 Z.1 F5.\n"+test.want+"M30\n%\n") {
				t.Errorf("got\n%s\nwant\n%s", got, test.want)
			}
			text, again, err := adapted(t, got, Options{From: to, To: to})
			if err != nil || !again.Fits || text != got {
				t.Errorf("adapted again: %v %+v\n%s", err, again.Changes, text)
			}
		})
	}
}

// changed adapts a program with a tool change.
func changed(t *testing.T, from *profiles.Machine, set, source string) (*profiles.Machine, string, *Result) {
	t.Helper()
	var settings []string
	if set != "" {
		settings = strings.Split(set, "|")
	}
	to, err := profiles.FindWith("bed-mill", nil, settings)
	if err != nil {
		t.Fatal(err)
	}
	got, r, err := adapted(t, changeHead+source+"M30\n%\n", Options{From: from, To: to})
	if err != nil {
		t.Fatalf("%v\n%s", err, got)
	}
	return to, got, r
}

// Each word that stands in what was written for a change, left out or doubled as
// a block, is a difference: but for comments, and T said ahead.
func TestChangesDamaged(t *testing.T) {
	from := machine(t, "bed-mill")
	harmless := map[string]bool{
		"T2": true, // ahead of T2 M6, or of M6: the tool is another then, and that is seen there
	}
	for _, test := range changeCases {
		to, got, r := changed(t, from, test.set, test.source)
		al := r.allowed(&Options{From: from, To: to})
		if !al.Change {
			continue
		}
		program := changeHead + test.source + "M30\n%\n"
		lines := strings.SplitAfter(got, "\n")
		source := strings.SplitAfter(program, "\n")
		for i, line := range lines {
			if i < len(source) && i < strings.Count(changeHead, "\n") || strings.HasPrefix(line, "(") {
				continue
			}
			for _, damaged := range damages(strings.TrimSuffix(line, "\n")) {
				if harmless[damaged.word] && strings.Count(got, "T2") > 1 {
					continue
				}
				mutant := strings.Join(lines[:i], "") + damaged.line + strings.Join(lines[i+1:], "")
				inFront := strings.Contains(strings.Join(lines[i:], ""), "T2")
				if v := judgeAllowed(to, got, mutant, al); v != unlikePrograms && !(damaged.stop && inFront) {
					continue // it does the same
				}
				_, err := Prove(sideOf(from, program), sideOf(to, mutant), al)
				var d *Difference
				if !errors.As(err, &d) {
					t.Errorf("%s: %q without %q is proven: %v\n%s", test.name, line, damaged.word, err, mutant)
				}
			}
		}
	}
}

type damage struct {
	word, line string
	stop       bool // a difference whatever else it does
}

// damages are a line with one word less each.
func damages(line string) (all []damage) {
	code, comment, _ := strings.Cut(line, "(")
	if comment != "" {
		comment = "(" + comment
	}
	words := strings.Fields(code)
	for k, w := range words {
		rest := append(append([]string{}, words[:k]...), words[k+1:]...)
		all = append(all, damage{w, strings.Join(rest, " ") + comment + "\n", strings.Contains("M0 M9 M5 M6", w)})
	}
	return all
}

// What would be dangerous is told, and nothing is written.
func TestChangesLeft(t *testing.T) {
	from := machine(t, "bed-mill")
	const place = `tools.change_sequence=["M9", "M5", "G53 G0 Z0", "G53 G0 X{20 in} Y{0 in}", "T{tool} M6"]`
	tests := []struct{ name, set, source, say string }{
		{"it cuts on at the depth", "", "T2 M6\nS900 M3\nG1 X1.\n", "goes on from where it stood"},
		{"it goes down by a distance", "", "T2 M6\nS900 M3\nG91 G0 Z-.1\nG90 G1 X1.\n", "goes on from where it stood"},
		{"a cycle takes its level from there", "", "T2 M6\nS900 M3\nG0 X1. Y1.\nG98 G81 X1. Z-.2 R.1 F4.\nG80\n", "goes on from where it stood"},
		{"down where tools are changed", place, "T2 M6\nS900 M3\nG0 Z.1\nX1. Y1.\n", "goes down behind the tool change"},
		{"it is told where it stands", "", "T2 M6\nG92 X0 Y0 Z2.\nG0 X1. Y1.\nZ.1\n", "sets the position where the tool stood"},
		{"X alone comes back", place, "T2 M6\nS900 M3\nG0 X1.\nZ.1\n", "goes down behind the tool change"},
		{"the contour is not left", "", "G41 D1 G1 X1. F5.\nX2.\nT2 M6\nG40 G0 X3. Y1.\nZ1.\n", "cutter compensation on"},
		{"a level over the work, and a cut at the depth", `tools.change_sequence=["G0 Z{2 in}", "T{tool} M6"]`, "T2 M6\nS900 M3\nG1 X1.\n", "goes on from where it stood"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			_, got, r := changed(t, from, test.set, test.source)
			for _, l := range r.Left {
				if strings.Contains(l.What, test.say) && l.Level == rules.Error {
					return
				}
			}
			t.Errorf("written %v, left %+v, want %q\n%s", r.Written, r.Left, test.say, got)
		})
	}
}

// Without the pass the change stays, where the machine takes it.
func TestChangesOff(t *testing.T) {
	m := machine(t, "bed-mill")
	source := changeHead + "T2 M6\nS900 M3\nG1 X1.\nM30\n%\n"
	got, r, err := adapted(t, source, Options{From: m, To: m, Passes: map[string]bool{ToolChange: false}})
	if err != nil || !r.Fits || got != source {
		t.Errorf("%v %+v\n%s", err, r, got)
	}
}

// A program for a control that does not know where its machine stands: of the
// axes that go to the place for the change, only those move that have left it.
func TestChangesAgain(t *testing.T) {
	to, err := profiles.FindWith("bed-mill", nil, changeForms[0])
	if err != nil {
		t.Fatal(err)
	}
	const source = "%\nG70 G90\nG0 X0 Y0 Z0\nT1\nM6\nG0 X0\nT1\nM6\nM30\n%\n"
	got, r, err := adapted(t, source, Options{From: machine(t, "tape-era"), To: to})
	if err != nil || !r.Written {
		t.Fatalf("%v %+v\n%s", err, r, got)
	}
	const place = "G53 G0 X20. Y20.\n"
	if strings.Count(got, place) != 2 {
		t.Errorf("not twice at the place for tools:\n%s", got)
	}
	// The second time Y stands there, so that it need not be named, but X must be.
	at := strings.LastIndex(got, place)
	for _, second := range []struct {
		text string
		same bool
	}{{"G53 G0 X20.\n", true}, {"G53 G0 Y20.\n", false}, {"", false}} {
		damaged := got[:at] + second.text + got[at+len(place):]
		_, err := Prove(sideOf(machine(t, "tape-era"), source), sideOf(to, damaged), r.allowed(&Options{From: r.From, To: to}))
		if (err == nil) != second.same {
			t.Errorf("%q the second time: %v", second.text, err)
		}
	}
}
