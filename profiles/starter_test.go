package profiles

import (
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/pelletier/go-toml/v2"
)

// answered makes a starter of answers, and takes defaults for the rest.
func answered(t *testing.T, answers map[string]string) *Starter {
	t.Helper()
	s, err := NewStarter("door-mill")
	if err != nil {
		t.Fatal(err)
	}
	for q, ok := s.Next(); ok; q, ok = s.Next() {
		if err := s.Answer(q.Key, answers[q.Key]); err != nil {
			t.Fatalf("%s, %q: %v", q.Key, answers[q.Key], err)
		}
	}
	return s
}

// loadStarter loads what a starter writes, as a person's file.
func loadStarter(t *testing.T, text string) *Machine {
	t.Helper()
	m, err := Load(write(t, "door-mill.toml", text))
	if err != nil {
		t.Errorf("%v in\n%s", err, text)
	}
	return m
}

// example is a line of a starter that shows how a value would be written.
var example = regexp.MustCompile(`(?m)^#([a-zA-Z0-9_.]+ = |\[)`)

// Whatever is answered, the file loads, holds the answers, is taken by the
// schema, and its examples are right when their # is taken away.
func TestStarter(t *testing.T) {
	schema, _ := compileSchema(t)
	s, err := NewStarter("door-mill")
	if err != nil {
		t.Fatal(err)
	}
	spindles := []map[string]string{
		{"shift": "none", "speed": "40 to 3500 rpm"},
		{"shift": "none", "speed": "0 rpm to 70 1/s"},
		{"shift": "coded", "gears": "low 40 to 1100 rpm M41, high 800 rpm to 4200 rpm M42"},
		{"shift": "automatic", "gears": "one 20 to 200 rpm,two 180 to 1800 rpm"},
		{"shift": "by-hand", "gears": "slow 75 to 380 rpm, middle 420 to 1250 rpm, fast 1400 to 3600 rpm"},
	}
	others := []map[string]string{
		{"display": "inch", "x-travel": "0 to 40 in", "z-travel": "-20 in to 0 in", "pockets": "16", "change-time": "9 s", "block-time": "1 ms", "look-ahead": "0"},
		{"display": "mm", "pockets": "0", "x-acceleration": "500 mm/s^2"},
	}
	for _, kind := range []string{"mill", "lathe"} {
		for _, base := range bases() {
			for i, spindle := range spindles {
				other := others[i%2] // not each with each: that would say no more
				answers := map[string]string{"title": `Mill "by" the\door`, "kind": kind, "base": base,
					"x-rapid": "250 in/min", "y-rapid": "6 m/min", "z-rapid": "100 mm/s"}
				maps.Copy(answers, spindle)
				maps.Copy(answers, other)
				s.answers = answers
				text, err := s.Text()
				if err != nil {
					t.Fatal(err)
				}
				m := loadStarter(t, string(text))
				if m == nil || m.Kind != kind || m.Extends != base || m.Title != answers["title"] || !near(m.Axes.Z.Rapid, 100) ||
					(m.Axes.Y == nil) != (kind == "lathe") || len(m.Spindle.Gears) != len(strings.Split(answers["gears"], ","))*min(1, len(answers["gears"])) {
					t.Errorf("%v are not in\n%s", answers, text)
				}
				if err := judge(t, schema, string(text)); err != nil {
					t.Error(err)
				}
				loadStarter(t, example.ReplaceAllString(string(text), "$1"))
			}
		}
	}
}

// Every example is a line that the test above uncomments, and a guess is marked.
func TestStarterComments(t *testing.T) {
	s := answered(t, map[string]string{"title": "Mill", "kind": "mill", "display": "inch", "shift": "none", "speed": "0 to 100 rpm",
		"x-rapid": "1 m/min", "y-rapid": "1 m/min", "z-rapid": "1 m/min", "pockets": "3", "z-acceleration": "0.1 m/s^2"})
	text, err := s.Text()
	if err != nil {
		t.Fatal(err)
	}
	if n := len(example.FindAllString(string(text), -1)); n < 20 {
		t.Errorf("%d examples in\n%s", n, text)
	}
	for line := range strings.Lines(string(text)) {
		if strings.HasPrefix(line, "#") && !strings.HasPrefix(line, "# ") && line != "#\n" && !example.MatchString(line) {
			t.Errorf("no example, and no comment: %q", line)
		}
	}
	// Base, X and Y acceleration, start, stop, corners, change time, block time, look-ahead; and the word is explained.
	if n := strings.Count(string(text), "A GUESS"); n != 10 {
		t.Errorf("%d guesses in\n%s", n, text)
	}
	var tree map[string]any
	if err := toml.Unmarshal(text, &tree); err != nil {
		t.Error(err)
	}
}

// What nobody has answered is guessed, as a time that is not 0, and told to be
// unsure; what was answered is not.
func TestStarterGuesses(t *testing.T) {
	mill := map[string]string{"title": "Mill", "kind": "mill", "display": "inch", "x-rapid": "1 m/min", "y-rapid": "1 m/min", "z-rapid": "1 m/min",
		"x-acceleration": "1 m/s^2", "shift": "coded", "gears": "low 40 to 1100 rpm M41", "pockets": "3"}
	lathe := map[string]string{"title": "Lathe", "kind": "lathe", "display": "mm", "x-rapid": "1 m/min", "z-rapid": "1 m/min",
		"shift": "by-hand", "gears": "low 40 to 1100 rpm", "spindle-start": "2 s", "spindle-stop": "0 s", "pockets": "0",
		"x-acceleration": "1 m/s^2", "z-acceleration": "1 m/s^2", "block-time": "1 ms"}
	for _, tt := range []struct {
		answers map[string]string
		spindle [3]Duration // start, stop, shift
		unsure  string
	}{
		{mill, [3]Duration{3, 3, 5}, "axes.y.acceleration axes.z.acceleration control.block_time spindle.shift_time spindle.start spindle.stop tools.change_time"},
		{lathe, [3]Duration{2, 0, 0}, ""},
	} {
		text, err := answered(t, tt.answers).Text()
		if err != nil {
			t.Fatal(err)
		}
		m := loadStarter(t, string(text))
		if got := [3]Duration{m.Spindle.Start, m.Spindle.Stop, m.Spindle.ShiftTime}; got != tt.spindle {
			t.Errorf("%s: start, stop and shift are %v, want %v", tt.answers["title"], got, tt.spindle)
		}
		if got := strings.Join(slices.Sorted(maps.Keys(m.Unsure)), " "); got != tt.unsure {
			t.Errorf("%s: unsure are %q, want %q", tt.answers["title"], got, tt.unsure)
		}
	}
}

func TestStarterRefuses(t *testing.T) {
	mill := map[string]string{"title": "Mill", "kind": "mill", "display": "inch", "shift": "coded", "gears": "low 40 to 1100 rpm M41",
		"x-rapid": "1 m/min", "y-rapid": "1 m/min", "z-rapid": "1 m/min", "pockets": "3"}
	answers := answered(t, mill).answers
	for _, tt := range []struct{ key, answer, want string }{
		{"title", "", "there is no usual answer to this one"},
		{"title", "a\x1bb", "the answer has characters that cannot be shown"},
		{"kind", "mil", `"mil" is not known: did you mean "mill"? accepted are "mill", "lathe"`},
		{"display", "inches", `"inches" is not known: did you mean "inch"? accepted are "inch", "mm"`},
		{"base", "tape", `"tape" is no base: did you mean "tape-era"? known are lenient, parametric, rs274ngc, tape-era`},
		{"base", "bed-mill", `"bed-mill" is no base: known are lenient, parametric, rs274ngc, tape-era`},
		{"x-travel", "40", `"40": write the lowest and the highest with "to" between them, such as 0 to 40 in`},
		{"x-travel", "0 to 40", `"0" has no unit: write "0 in" or "0 mm"` + "\n" + `"40" has no unit: write "40 in" or "40 mm"`},
		{"x-travel", "40 to 0 in", `"40 in" to "0 in" is no range: write the lowest and then the highest`},
		{"x-rapid", "250", `"250" has no unit: write "250 in/min" or "250 mm/min"`},
		{"x-rapid", "0 in/min", `"0 in/min" is not above 0`},
		{"x-rapid", `250 in/min" #`, `"250 in/min\" #" is not a number with a unit: a speed is written like "12.5 in/min" or "12.5 mm/min"`},
		{"x-acceleration", "5 mm", `"5 mm" is a length, but an acceleration is due: its units are m/s^2, in/s^2, mm/s^2, ft/s^2`},
		{"shift", "manual", `"manual" is not known: accepted are none, coded, automatic, by-hand`},
		{"gears", "low 40 to 1100 rpm", `missing: write code = "M41": spindle.shift is "coded"`},
		{"gears", "low 40 to 1100 rpm M41 high", `"40 to 1100 rpm M41 high": it`},
		{"gears", "low 40 M41", `"low 40 M41": write name and speeds, such as low 40 to 1100 rpm`},
		{"gears", "low 40 to 1100 rpm M41, low 800 to 4200 rpm M42", `"low" stands twice: give each gear its own name`},
		{"pockets", "some", `"some" is no whole number, 0 or more`},
		{"look-ahead", "-1", `"-1" is no whole number, 0 or more`},
		{"block-time", "8", `"8" has no unit: write "8 s" or "8 ms"`},
		{"speed", "40 to 3500 rpm", "it has no use with the answers before it: leave it out"},
		{"a-rapid", "1 deg/s", `no question "a-rapid"`},
	} {
		s, err := NewStarter("door-mill")
		if err != nil {
			t.Fatal(err)
		}
		s.answers = maps.Clone(answers)
		err = s.Answer(tt.key, tt.answer)
		if tt.key == "gears" && strings.HasSuffix(tt.want, ": it") { // which of the two is wrong, is not said
			if err == nil {
				t.Errorf("%s, %q is taken", tt.key, tt.answer)
			}
			continue
		}
		if err == nil || err.Error() != tt.want {
			t.Errorf("%s, %q: got %v, want %s", tt.key, tt.answer, err, tt.want)
		}
	}
	for name, want := range map[string]string{
		"bed-mill": `"bed-mill" is a profile of the library: give yours another name`,
		"Door":     `"Door": a name has lower-case letters, digits and hyphens between them`,
		"":         "missing: write name = \"\"",
	} {
		if _, err := NewStarter(name); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v", name, err)
		}
	}
}

// A lathe is not asked of Y, nor a spindle without gears of them.
func TestStarterAsksWhatMatters(t *testing.T) {
	for _, tt := range []struct {
		answers map[string]string
		not     []string
	}{
		{map[string]string{"kind": "mill", "shift": "coded", "gears": "a 1 to 2 rpm M41", "pockets": "3"}, []string{"speed"}},
		{map[string]string{"kind": "lathe", "shift": "none", "speed": "1 to 2 rpm", "pockets": "0"}, []string{"y-travel", "y-rapid", "y-acceleration", "gears", "shift-time", "change-time"}},
		{map[string]string{"kind": "mill", "shift": "automatic", "gears": "a 1 to 2 rpm", "pockets": "3"}, []string{"speed"}},
		{map[string]string{"kind": "mill", "shift": "by-hand", "gears": "a 1 to 2 rpm", "pockets": "3"}, []string{"speed", "shift-time"}},
	} {
		maps.Copy(tt.answers, map[string]string{"title": "T", "display": "mm", "x-rapid": "1 m/min", "y-rapid": "1 m/min", "z-rapid": "1 m/min"})
		s := answered(t, tt.answers)
		for _, q := range Questions() {
			if _, asked := s.answers[q.Key]; asked == slices.Contains(tt.not, q.Key) {
				t.Errorf("%v: %s is asked: %v", tt.answers, q.Key, asked)
			}
		}
	}
	if s, err := NewStarter("door-mill"); err != nil {
		t.Error(err)
	} else if _, err := s.Text(); fmt.Sprint(err) != "no answer to title, kind, display, x-rapid, z-rapid, shift, pockets" {
		t.Errorf("without answers: %v", err)
	}
}

func FuzzStarter(f *testing.F) {
	f.Add("x-travel", "0 to 40 in")
	f.Add("gears", "low 40 to 1100 rpm M41, high 800 to 4200 rpm M42")
	f.Add("title", `a "b" \c`)
	f.Add("pockets", "007")
	begun, err := NewStarter("door-mill")
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, key, answer string) {
		s := &Starter{name: begun.name, questions: begun.questions, answers: map[string]string{"shift": "coded", "kind": "mill", "pockets": "3"}}
		if s.Answer(key, answer) != nil {
			return
		}
		text, err := s.load()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := Load(write(t, "door-mill.toml", string(text))); err != nil {
			t.Errorf("%s, %q: %v", key, answer, err)
		}
	})
}

// Examples are in the units of the machine, diameters are spoken of on lathes
// alone, and the bases are told with what they are.
func TestStarterWording(t *testing.T) {
	s, err := NewStarter("by-the-door")
	if err != nil {
		t.Fatal(err)
	}
	texts := map[string]string{}
	for _, a := range []struct{ key, answer string }{
		{"title", "Mill"}, {"kind", "mill"}, {"display", "mm"}, {"base", ""}, {"x-travel", ""}, {"x-rapid", "6 m/min"},
	} {
		q, _ := s.Next()
		if q.Key != a.key {
			t.Fatalf("asked for %s, not %s", q.Key, a.key)
		}
		texts[q.Key] = q.Text
		if q.Key == "base" && !slices.ContainsFunc(q.Choices, func(line string) bool {
			return strings.HasPrefix(line, "tape-era ") && strings.Contains(line, "EIA RS-274-D")
		}) {
			t.Errorf("the bases are told as %q", q.Choices)
		}
		if err := s.Answer(a.key, a.answer); err != nil {
			t.Fatal(err)
		}
	}
	if want := "soft limits of X in machine coordinates, such as 0 to 1000 mm; empty: not known"; texts["x-travel"] != want {
		t.Errorf("asked %q, want %q", texts["x-travel"], want)
	}
	if want := "rapid of X, such as 6000 mm/min"; texts["x-rapid"] != want {
		t.Errorf("asked %q, want %q", texts["x-rapid"], want)
	}
}
