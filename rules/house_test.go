package rules

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/alecthomas/participle/v2/lexer"

	"tapefit/profiles"
)

// shop is a machine with house rules, from a profile that extends another.
func shop(t testing.TB, extends, more string) (*profiles.Machine, error) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "shop.toml")
	text := fmt.Sprintf("name = \"shop\"\ntitle = \"shop\"\nextends = %q\n%s", extends, more)
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return profiles.Load(file)
}

// houseOf makes one house rule of a sentence.
func houseOf(when string) string {
	return fmt.Sprintf("[[house]]\nname = \"own\"\nwhen = %q\nmessage = \"seen\"\n", when)
}

// foundBy checks a program by the rules of a machine and gives the places where
// the rule speaks, and the names of the other rules that do.
func foundBy(t testing.TB, m *profiles.Machine, rule, program string) (places []string, others []string) {
	t.Helper()
	set, err := For(m)
	if err != nil {
		t.Fatal(err)
	}
	r, err := Check(strings.NewReader(program), int64(len(program)), "test", m, set, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range r.Findings {
		if f.Message == "" || f.Advice == "" {
			t.Errorf("%s says nothing", f.Rule.Name)
		}
		if f.Rule.Name == rule {
			places = append(places, fmt.Sprintf("%d:%d x%d", f.Line, f.Column, f.Count))
		} else {
			others = append(others, f.Rule.Name)
		}
	}
	return places, others
}

// A houseExample is one of profiles/HOUSE.md.
type houseExample struct{ rule, machine, wrong, right string }

var houseListing = regexp.MustCompile(`(?m)(?:^    .*\n|^\n)+`)

func houseExamples(t testing.TB) []houseExample {
	t.Helper()
	text, err := os.ReadFile("../profiles/HOUSE.md")
	if err != nil {
		t.Fatal(err)
	}
	var all []houseExample
	for _, part := range strings.Split(string(text), "\n### ")[1:] {
		var listings []string
		for _, l := range houseListing.FindAllString(part, -1) {
			if l = strings.ReplaceAll("\n"+strings.Trim(l, "\n"), "\n    ", "\n"); strings.TrimSpace(l) != "" {
				listings = append(listings, strings.TrimPrefix(l, "\n")+"\n")
			}
		}
		machine := regexp.MustCompile(`speaks on this \((.*)\)`).FindStringSubmatch(part)
		if len(listings) != 3 || machine == nil {
			t.Fatalf("an example that is not a rule, a machine and two programs:\n%s\n%q", part, listings)
		}
		all = append(all, houseExample{listings[0], machine[1], listings[1], listings[2]})
	}
	return all
}

// The examples of the page: each rule speaks once on the first program, and is
// silent on the second, on which nothing else is wrong either.
func TestHousePage(t *testing.T) {
	all := houseExamples(t)
	if len(all) != 10 {
		t.Errorf("%d examples", len(all))
	}
	for _, c := range all {
		m, err := shop(t, c.machine, c.rule)
		if err != nil {
			t.Fatal(err)
		}
		name := m.House[0].Name
		t.Run(name, func(t *testing.T) {
			if places, others := foundBy(t, m, name, c.wrong); len(places) != 1 || len(others) != 0 {
				t.Errorf("on the first program: %q, and others: %q", places, others)
			}
			if places, others := foundBy(t, m, name, c.right); len(places) != 0 || len(others) != 0 {
				t.Errorf("on the mended program: %q, and others: %q", places, others)
			}
		})
	}
}

// The page has all words that a sentence can be made of.
func TestHousePageIsWhole(t *testing.T) {
	text, err := os.ReadFile("../profiles/HOUSE.md")
	if err != nil {
		t.Fatal(err)
	}
	words := eventNames()
	for _, m := range []string{"bed-mill", "slant-lathe"} {
		k := houseCompiler{m: machine(t, m)}
		words = append(words, k.questionNames()...)
	}
	for _, q := range houseQuestions {
		for _, s := range q.states {
			words = append(words, s.name)
		}
	}
	for _, w := range words {
		if w == "compensation" || w == "XZ" || w == "tool's" { // other ways to say what is there
			continue
		}
		if !strings.Contains(string(text), "`"+w+"`") && !strings.Contains(string(text), "is "+w+"`") && !strings.Contains(string(text), "are "+w+"`") {
			t.Errorf("%q is not told of", w)
		}
	}
}

// Sentences on programs, and where they speak.
func TestHouseRules(t *testing.T) {
	for _, c := range []struct {
		name, machine, when, program string
		want                         string // places, or ""
	}{
		{"the coolant goes off in the block of the change: still on in it", "bed-mill", "tool change while coolant is on", "T2 M6\nM8\nT3 M6 M9\nM30\n", "3:4 x1"},
		{"the code is the change", "bed-mill", "M6 while coolant is on", "T2 M6 M8\nM9\nT3 M6\nM30\n", ""},
		{"codes are judged behind their block", "bed-mill", "M8 while spindle is off", "M41\nM8 S500 M3\nM5\nM8\nM30\n", "4:1 x1"},
		{"the end is judged before it resets", "bed-mill", "M30 while coolant is on", "M8\nM30\n", "2:1 x1"},
		{"the end as an event", "bed-mill", "end while coolant is on", "M8\nM30\n", "2:1 x1"},
		{"many places, one finding", "bed-mill", "rapid that goes up", "G0 X0 Z0\nZ1.\nZ2.\nZ1.\nZ3.\nM30\n", "2:1 x3"},
		{"a word", "bed-mill", "word R", "G0 X0\nG81 X0 Z-1. R0.1 F5.\nG80\nM30\n", "2:13 x1"},
		{"a word's number as written", "bed-mill", "block has P above 5", "G4 P2.\nG4 P6.\nM30\n", "2:4 x1"},
		{"a number within", "bed-mill", "block has P between 5 and 6", "G4 P2.\nG4 P6.\nM30\n", "2:4 x1"},
		{"a code with a zero before it", "bed-mill", "M8", "M08\nM30\n", "1:1 x1"},
		{"after", "bed-mill", "feed move after M9 of the same tool", "T2 M6\nG0 X0 Y0 Z1.\nG1 X1. F5.\nM9\nX2.\nM30\n", "5:1 x1"},
		{"not before the first", "bed-mill", "tool change after tool change", "T2 M6\nT3 M6\nM30\n", "2:4 x1"},
		{"a code after itself", "bed-mill", "M1 after M1", "M1\nG0 X0\nM1\nM30\n", "3:1 x1"},
		{"since", "bed-mill", "feed move without M8 since spindle start", "M8\nM41\nS500 M3\nG0 X0 Y0 Z1.\nG1 X1. F5.\nM8\nX2.\nM30\n", "5:1 x1"},
		{"in the same block", "bed-mill", "word S without M3 in the same block", "M41\nS500 M3\nS600\nM30\n", "3:1 x1"},
		{"comments are no blocks before", "bed-mill", "tool change without M19 in the block before", "M19\n(2 IN FACE MILL)\n\nT2 M6\nM30\n", ""},
		{"the block before in a subprogram", "bed-mill", "tool change without M19 in the block before", "O1\nM98 P2\nT2 M6\nM30\nO2\nM19\nM99\n", "3:4 x1"},
		{"brackets", "bed-mill", "rapid while (X is above 1 in or Y is above 1 in) and Z is below 1 in", "G0 X0 Y0 Z5.\nX2.\nZ0.5\nX0\nM30\n", "3:1 x1"},
		{"not", "bed-mill", "rapid while not (X is between 0 in and 1 in)", "G0 X0\nX1.\nX1.1\nM30\n", "3:1 x1"},
		{"what is not known makes no finding", "bed-mill", "rapid while Z is below 1 in", "G0 X0\nX1.\nM30\n", ""},
		{"nor its negative", "bed-mill", "rapid while not Z is below 1 in", "G0 X0\nX1.\nM30\n", ""},
		{"a lost block may have had the code", "bed-mill", "feed move without M8", "G0 X0 Y0 Z1.\nG1 X?\nG1 X1. F5.\nM30\n", ""},
		{"a call that is not here too", "bed-mill", "feed move without M8", "G0 X0 Y0 Z1.\nM98 P77\nG90 G1 X1. F5.\nM30\n", ""},
		{"and the coolant", "bed-mill", "tool change while coolant is on", "M8\nG1 X?\nT2 M6\nM30\n", ""},
		{"long enough, though not all of it is known", "bed-mill", "move with length over 2 in", "G91 G0 X3. Y3.\nG90 X0 Z1.\nM30\n", "1:5 x1"},
		{"feed along the path", "bed-mill", "feed move while feed is at least 20 in/min", "G0 X0 Y0 Z1.\nG1 X1. F19.\nY1. F20.\nM30\n", "3:1 x1"},
		{"of a cycle too", "bed-mill", "cycle while motion is G81", "G0 X0 Y0 Z1.\nG81 X0 Y0 Z-1. R0.1 F5.\nX1.\nG80\nM30\n", "2:1 x2"},
		{"the gear by name", "bed-mill", "spindle start while gear is not high", "M41\nS500 M3\nM30\n", "2:1 x1"},
		{"units", "bed-mill", "move while units are mm", "G0 X0\nG21 X1.\nM30\n", "2:5 x1"},
		{"comp", "bed-mill", "rapid while comp is left", "T2 M6\nG0 X0 Y-1. Z0\nG41 D2 G1 Y0 F10.\nG0 Y2.\nG40 X-1.\nM30\n", "4:1 x1"},
		{"held back under compensation, judged by its own block", "bed-mill", "feed move while coolant is off", "T2 M6\nG0 X0 Y-1. Z0 M8\nG41 D2 G1 Y0 F10.\nY2.\nM9\nG40 X-1.\nM30\n", "6:5 x1"},
		{"the tool's own length", "bed-mill", "G43 while length offset is not the tool's", "T2 M6\nG0 G43 H2 Z1.\nG43 H3 Z1.\nM30\n", "3:1 x1"},
		{"a dwell", "bed-mill", "dwell with time above 10 s", "G4 P2.\nG4 P500.\nM30\n", "2:1 x1"},
		{"spindle stop by its code", "bed-mill", "spindle stop while coolant is on", "M41\nS500 M3 M8\nM5\nM9\nM30\n", "3:1 x1"},
		{"a gear shift by code", "bed-mill", "gear shift of", "", "error"},
		{"diameter", "slant-lathe", "move while diameter is above 1 in", "G20\nT0101\nG0 X.9 Z.1\nX1.1\nM30\n", "4:1 x1"},
		{"on a tape-era control", "knee-mill", "program stop without M9 in the block before", "%\nM8\nM0\nM9\nM0\nM30\n%\n", "3:1 x1"},
	} {
		t.Run(c.name, func(t *testing.T) {
			m, err := shop(t, c.machine, houseOf(c.when))
			if err != nil {
				t.Fatal(err)
			}
			if c.want == "error" {
				if CheckProfile(m) == nil {
					t.Error("no error")
				}
				return
			}
			places, _ := foundBy(t, m, "own", c.program)
			if got := strings.Join(places, ", "); got != c.want {
				t.Errorf("%s\non\n%s\ngot %q, want %q", c.when, c.program, got, c.want)
			}
		})
	}
}

// Tool changes by a program of the shop's own and by a turret.
func TestHouseToolChanges(t *testing.T) {
	const macro = "[tools]\nchange_program = \"M9\\nM5\\nG53 G0 Z0\\nM6\\n\"\n"
	const program = "T2 M6\nM41\nS500 M3 M8\nG0 G43 H2 Z1.\nT3 M6\nM30\n"
	for _, c := range []struct{ machine, more, when, program, want string }{
		{"bed-mill", macro, "tool change while coolant is on or spindle is turning", program, ""},
		{"bed-mill", macro, "tool change while machine Z is below -0.1 in", program, ""},
		{"bed-mill", "", "tool change while machine Z is below -0.1 in", program, "5:4 x1"},
		{"bed-mill", macro, "tool change after coolant stop since coolant start", program, "5:4 x1"},
		{"bed-mill", "", "tool change while tool is 3", program, "5:4 x1"},
		{"slant-lathe", "", "tool change while coolant is on", "T0101\nM8\nT0303\nM30\n", "3:1 x1"},
	} {
		m, err := shop(t, c.machine, c.more+houseOf(c.when))
		if err != nil {
			t.Fatal(err)
		}
		places, _ := foundBy(t, m, "own", c.program)
		if got := strings.Join(places, ", "); got != c.want {
			t.Errorf("%s on %s with %q: got %q, want %q", c.when, c.machine, c.more, got, c.want)
		}
	}
}

// What is wrong with a sentence is told with the nearest word and a mark below.
func TestHouseMistakes(t *testing.T) {
	for _, c := range []struct{ machine, when, markedText, want string }{
		{"bed-mill", "tool chnage while coolant is on", "tool chnage", `did you mean "tool change"?`},
		{"bed-mill", "tool change whlie coolant is on", "whlie", `did you mean "while"?`},
		{"bed-mill", "tool change while collant is on", "collant", `did you mean "coolant"?`},
		{"bed-mill", "tool change while the coolant on", "on", `behind "coolant" expected "is"`},
		{"bed-mill", "tool change while coolant is onn", "onn", `did you mean "on"?`},
		{"bed-mill", "tool change coolant is on", "coolant", `expected the end, "while"`},
		{"bed-mill", "tool change while coolant", "coolant", "what of coolant? it is on, off, flood or mist"},
		{"bed-mill", "tool change while", "", "it ends here: expected a condition"},
		{"bed-mill", "", "", "it ends here: expected an event"},
		{"bed-mill", "while coolant is on", "while", "expected an event"},
		{"bed-mill", "tool change or while", "while", "cannot stand here"},
		{"bed-mill", "feed move while speed is above 2000", "2000", `write "2000 rpm"`},
		{"bed-mill", "feed move while speed is above 20 in", "20 in", "a spindle speed is due"},
		{"bed-mill", "feed move while feed is above 0.1 in/rev", "0.1 in/rev", `"feed per revolution is above 0.1 in"`},
		{"bed-mill", "feed move while tool is 5 in", "5 in", "without a unit"},
		{"bed-mill", "feed move while tool is 1 or 3", "3", `"is one of 1, 3, 7"`},
		{"bed-mill", "feed move while tool is 1 and X is above 1 in or X is below 0 in", "or", "put ( ) around"},
		{"bed-mill", "feed move while (tool is 1", "", `expected "and", "or" or ")"`},
		{"bed-mill", "feed move while X is between 2 in and 1 in", "2 in", "the lower of the two"},
		{"bed-mill", "feed move while gear is hihg", "hihg", `did you mean "high"? it is low or high`},
		{"bed-mill", "feed move while offset is G99", "G99", "it is G54"},
		{"bed-mill", "feed move while B is above 90 deg", "B", "bed-mill has no axis B"},
		{"bed-mill", "feed move while Q is above 1 in", "Q", "is no place"},
		{"bed-mill", "M88", "M88", "no code of bed-mill"},
		{"bed-mill", "tool change without m5", "m5", `did you mean "M5"? codes and addresses are written in capitals`},
		{"bed-mill", "rapid while z below 0.1 in", "z", `did you mean "Z"? codes and addresses are written in capitals`},
		{"bed-mill", "T0303", "T0303", "\"T0303\" is no event"},
		{"bed-mill", "word", "word", `as in "word R"`},
		{"bed-mill", "dwell with length above 1 in", "length", "it belongs to"},
		{"bed-mill", "M8 that goes down", "goes down", "it belongs to"},
		{"bed-mill", "feed move without block", "block", "every block"},
		{"bed-mill", "feed move before M8 in the same pocket", "pocket", `expected "block"`},
		{"bed-mill", "tool change while plane is above 5 rpm", "plane", "is no number: it is XY"},
		{"bed-mill", "block has M8 above 5", "has M8 above 5", "a code has no value"},
		{"bed-mill", "block has P above 5 mm", "5 mm", "a bare number"},
		{"bed-mill", "tool change; M8", ";", "cannot stand here"},
		{"bed-mill", "move while coolant is on" + strings.Repeat(" or coolant is on", 40), "", "longer than 500"},
		{"slant-lathe", "move while X is above 1 in", "X", `write "diameter"`},
		{"slant-lathe", "rapid that goes down", "goes down", "on a lathe"},
		{"bed-mill", "move while diameter is above 1 in", "diameter", "is nothing that can be asked for"},
	} {
		_, bad := compileHouse(machine(t, c.machine), c.when)
		if bad == nil {
			t.Errorf("%q: no mistake", c.when)
			continue
		}
		if !strings.Contains(bad.cause, c.want) {
			t.Errorf("%q: %s; want %q", c.when, bad.cause, c.want)
		}
		if got := c.when[bad.pos:bad.end]; got != c.markedText && len(c.when) <= longestHouse {
			t.Errorf("%q: marked is %q, want %q", c.when, got, c.markedText)
		}
	}
}

// The places of mistakes in a profile.
func TestHouseProfile(t *testing.T) {
	m, err := shop(t, "bed-mill", "[[house]]\nname = \"own\"\nwhen = \"tool change while collant is on\"\nmessage = \"x\"\n[[house]]\nname = \"feed-missing\"\nwhen = \"M8\"\nmessage = \"x\"\n[rules]\nfeed-missin = {level = \"off\", reason = \"x\"}\n")
	if err != nil {
		t.Fatal(err)
	}
	err = CheckProfile(m)
	for _, want := range []string{
		"shop.toml:6: house[0].when: \"collant\" is nothing",
		"\n    tool change while collant is on\n                      ^~~~~~~",
		"house[1].name: \"feed-missing\" is one of the rules",
		"shop.toml:13: rules.feed-missin: no rule \"feed-missin\": did you mean \"feed-missing\"?",
	} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("missing %q in\n%v", want, err)
		}
	}
	if _, again := For(m); again == nil {
		t.Error("For gives rules of a profile that is wrong")
	}
}

// House rules obey the profile's levels and the comments in programs.
func TestHouseSilence(t *testing.T) {
	m, err := shop(t, "bed-mill", houseOf("M8")+"[rules]\nown = {level = \"note\", reason = \"x\"}\n")
	if err != nil {
		t.Fatal(err)
	}
	set, err := For(m)
	if err != nil {
		t.Fatal(err)
	}
	program := "(TAPEFIT SKIP own: A TRIAL)\nM8\nM9\nM8\nM9\n(TAPEFIT SKIP owm: A TRIAL)\nM30\n"
	r, err := Check(strings.NewReader(program), int64(len(program)), "test", m, set, Options{})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, f := range r.Findings {
		got = append(got, fmt.Sprintf("%s %s %d (%d silenced) %s", f.Level, f.Rule.Name, f.Line, f.Silenced, f.Message))
	}
	want := `[note own 4 (1 silenced) seen warning silence-unknown-rule 6 (0 silenced) no rule "owm": did you mean "own"?]`
	if fmt.Sprint(got) != want {
		t.Errorf("got  %v\nwant %s", got, want)
	}
}

// A house rule that has nothing to say costs no allocation for each block.
func TestHouseAllocations(t *testing.T) {
	m, err := shop(t, "bed-mill", houseOf("feed move or word Q without M8 in the block before while coolant is on and (X is above 900 in or has E) and not tool is one of 1, 3"))
	if err != nil {
		t.Fatal(err)
	}
	set, err := For(m)
	if err != nil {
		t.Fatal(err)
	}
	own := set[len(set)-len(silences())-1 : len(set)-len(silences())]
	allocations := func(blocks int) float64 {
		program := "G0 X0 Y0 Z1.\nM8\nG1 F10.\n" + strings.Repeat("X1. Y1.\nX0 Y0.5\n", blocks) + "M30\n"
		return testing.AllocsPerRun(3, func() {
			if _, err := Check(strings.NewReader(program), int64(len(program)), "test", m, own, Options{}); err != nil {
				t.Fatal(err)
			}
		})
	}
	if few, many := allocations(1000), allocations(20000); many > few+20 {
		t.Errorf("%.0f allocations for 2000 blocks, %.0f for 40000", few, many)
	}
}

// FuzzHouse reads any text as a condition: nothing panics, a mistake has a place
// in the text and a cause, and what parses prints back to the same words and
// compiles to the same.
func FuzzHouse(f *testing.F) {
	for _, c := range houseExamples(f) {
		m, err := shop(f, c.machine, c.rule)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(m.House[0].When)
	}
	for _, when := range []string{"A while (not (X is at most 1 in))", "word R or block has no P between 1 and 2 since", "M8 while gear is 'low' with it goes up", "rapid while Z 0.5in", "tool change\nwithout the M19 in the block before", "\xff(", "((((((("} {
		f.Add(when)
	}
	m := machine(f, "bed-mill")
	f.Fuzz(func(t *testing.T, text string) {
		_, bad := compileHouse(m, text)
		if bad != nil {
			if bad.cause == "" || bad.pos < 0 || bad.end < bad.pos || bad.end > len(text) {
				t.Fatalf("%q: %+v", text, *bad)
			}
			_ = markedText(text, bad)
		}
		s, rest, wrong := parseHouse(text)
		if rest != nil || wrong != nil {
			return
		}
		printed := s.String()
		again, rest, wrong := parseHouse(printed)
		if len(printed) > longestHouse { // brackets without blanks grow by some
			return
		}
		if rest != nil || wrong != nil {
			t.Fatalf("%q prints as %q, which does not parse: %v %v", text, printed, rest, wrong)
		}
		if got := again.String(); got != printed {
			t.Fatalf("%q prints as %q and then as %q", text, printed, got)
		}
		if a, b := spokenText(t, text), spokenText(t, printed); !strings.EqualFold(a, b) {
			t.Fatalf("%q has the words\n%q, but prints as\n%q", text, a, b)
		}
		if _, worse := compileHouse(m, printed); (worse == nil) != (bad == nil) {
			t.Fatalf("%q compiles: %v; %q: %v", text, bad, printed, worse)
		}
	})
}

// spokenText are the tokens of a condition that mean something.
func spokenText(t *testing.T, text string) string {
	tokens, err := houseTokens(text)
	if err != nil {
		t.Fatal(err)
	}
	var all []string
	for _, token := range spoken(append(tokens.all, lexer.Token{Type: lexer.EOF})) {
		all = append(all, token.Value)
	}
	return strings.Join(all, "|")
}
