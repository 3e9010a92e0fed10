package profiles

import (
	"bytes"
	_ "embed"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"text/template"
	"unicode"
)

// A Question is one thing that a starter wants to know of a machine.
type Question struct {
	Key      string   // its name: "x-rapid"
	Text     string   // what is asked, and how the answer is written
	Default  string   // taken for an empty answer
	Optional bool     // an empty answer leaves the value out
	Choices  []string // lines that show what can be answered, where the words alone don't tell

	sample string // an answer that is right, while there is none
}

// Needed says whether an empty answer won't do.
func (q *Question) Needed() bool { return q.Default == "" && !q.Optional }

// A Starter gathers answers about a machine and makes of them a commented
// profile to go on from. Answers are checked by the loader as they come, so
// what it makes always loads.
type Starter struct {
	name      string
	questions []Question
	answers   map[string]string // by key; an empty one was left out
}

// NewStarter begins a starter for NAME.toml.
func NewStarter(name string) (*Starter, error) {
	if slices.Contains(Names(), name) {
		return nil, fmt.Errorf("%q is a profile of the library: give yours another name", name)
	}
	s := &Starter{name: name, questions: Questions(), answers: map[string]string{}}
	s.question(baseKey).Choices = baseChoices() // not in Questions: to know them takes loading the library
	_, err := s.load()
	return s, err
}

// baseKey is the question for the base.
const baseKey = "base"

// Questions are all that a starter may ask, in order.
func Questions() []Question {
	all := []Question{
		{Key: "title", Text: `which machine it is, in one line, such as "Mill by the door"`, sample: "Mill"},
		{Key: "kind", Text: "mill or lathe", sample: "mill"},
		{Key: "display", Text: "inch or mm: what its people read, and the control wakes up in", sample: "inch"},
		{Key: baseKey, Text: "what the control speaks: a base of \"tapefit machines\"", Default: "rs274ngc"},
	}
	for _, letter := range []string{"X", "Y", "Z"} {
		key := strings.ToLower(letter)
		all = append(all,
			Question{Key: key + "-travel", Text: "soft limits of " + letter + " in machine coordinates, such as 0 to 40 in" + byRadius + "; empty: not known", Optional: true},
			Question{Key: key + "-rapid", Text: "rapid of " + letter + ", such as 250 in/min", sample: "250 in/min"},
			Question{Key: key + "-acceleration", Text: "acceleration of " + letter + ", measured over short moves", Default: "0.3 m/s^2"})
	}
	return append(all,
		Question{Key: "shift", Text: "how gears or belt steps are shifted: none (there is one range), coded (by M code), automatic (by the control), by-hand", sample: noShift},
		Question{Key: "speed", Text: "lowest and highest spindle speed, such as 40 to 3500 rpm", sample: "40 to 3500 rpm"},
		Question{Key: "gears", Text: "gears or belt steps from slow to fast: name and speeds of each, and its code where they are shifted by code, such as low 40 to 1100 rpm M41, high 800 to 4200 rpm M42"},
		Question{Key: "shift-time", Text: "time of a shift of gears, with the spindle stopped", Default: "5 s"},
		Question{Key: "spindle-start", Text: "time of the spindle from rest to speed", Default: "3 s"},
		Question{Key: "spindle-stop", Text: "time of the spindle from speed to rest", Default: "3 s"},
		Question{Key: "pockets", Text: "pockets in the tool changer or turret; 0 where the operator changes tools", sample: "0"},
		Question{Key: "change-time", Text: "time of a tool change, from stop to ready to cut", Default: "10 s"},
		Question{Key: "block-time", Text: "time the control takes to make a block ready", Default: "10 ms"},
		Question{Key: "look-ahead", Text: "blocks that it knows ahead of the one that moves", Default: "10"})
}

// byRadius is said in the question for travels.
const byRadius = " (X of a lathe by the radius)"

// bases are the profiles of the library that are no machines.
func bases() []string {
	var names []string
	for _, e := range Library() {
		if e.Base {
			names = append(names, e.Name)
		}
	}
	return names
}

// baseChoices are the bases with their titles.
func baseChoices() []string {
	var lines []string
	for _, e := range Library() {
		if e.Base {
			lines = append(lines, fmt.Sprintf("%-11s %s", e.Name, e.Title))
		}
	}
	return lines
}

// noShift is the answer of a spindle without gears.
const noShift = "none"

// shifts are the ways of shifting that can be answered.
var shifts = []string{noShift, "coded", "automatic", "by-hand"}

// Asks says whether the question has a meaning for the machine, by the answers
// so far.
func (s *Starter) Asks(key string) bool {
	switch key {
	case "y-travel", "y-rapid", "y-acceleration":
		return s.answers["kind"] == "mill"
	case "speed":
		return s.answers["shift"] == noShift
	case "gears":
		return s.answers["shift"] != noShift && s.answers["shift"] != ""
	case "shift-time": // by hand it is the operator's time
		return s.answers["shift"] == "coded" || s.answers["shift"] == "automatic"
	case "change-time":
		return s.answers["pockets"] != "0"
	}
	return true
}

// Next is the first question without an answer; false where all are answered.
func (s *Starter) Next() (Question, bool) {
	for _, q := range s.questions {
		if _, ok := s.answers[q.Key]; !ok && s.Asks(q.Key) {
			return s.worded(q), true
		}
	}
	return Question{}, false
}

// worded is a question as the answers before it make it: with examples in the
// units of the machine, and of a lathe's diameters on a lathe alone.
func (s *Starter) worded(q Question) Question {
	if s.answers["display"] == "mm" {
		q.Text = strings.NewReplacer("0 to 40 in", "0 to 1000 mm", "250 in/min", "6000 mm/min").Replace(q.Text)
	}
	if q.Key != "x-travel" || s.answers["kind"] != "lathe" {
		q.Text = strings.Replace(q.Text, byRadius, "", 1)
	}
	return q
}

// Missing are the questions, by their keys, that need an answer and have none.
func (s *Starter) Missing() []string {
	var keys []string
	for _, q := range s.questions {
		if s.answers[q.Key] == "" && q.Needed() && s.Asks(q.Key) {
			keys = append(keys, q.Key)
		}
	}
	return keys
}

// Answer takes an answer, or says what is wrong with it. Questions are answered
// in their order: what one means may depend on those before.
func (s *Starter) Answer(key, answer string) error {
	answer = strings.TrimSpace(answer)
	q := s.question(key)
	if q == nil {
		return fmt.Errorf("no question %q", key)
	}
	switch {
	case !s.Asks(key):
		return errors.New("it has no use with the answers before it: leave it out")
	case answer == "" && q.Needed():
		return errors.New("there is no usual answer to this one")
	case key == "shift" && !slices.Contains(shifts, answer):
		return fmt.Errorf("%q is not known%s accepted are %s", answer, orColon(DidYouMean(answer, shifts)), strings.Join(shifts, ", "))
	case strings.ContainsFunc(answer, func(r rune) bool { return !unicode.IsGraphic(r) }):
		return errors.New("the answer has characters that cannot be shown")
	case key == baseKey && answer != "" && !slices.Contains(bases(), answer):
		return fmt.Errorf("%q is no base%s known are %s", answer, orColon(DidYouMean(answer, bases())), strings.Join(bases(), ", "))
	}
	s.answers[key] = answer
	if _, err := s.load(); err != nil {
		delete(s.answers, key)
		return err
	}
	return nil
}

func (s *Starter) question(key string) *Question {
	if i := slices.IndexFunc(s.questions, func(q Question) bool { return q.Key == key }); i >= 0 {
		return &s.questions[i]
	}
	return nil
}

// Text is the profile, with the defaults of what was not answered. While a
// question that needs an answer has none, it is an error.
func (s *Starter) Text() ([]byte, error) {
	if missing := s.Missing(); len(missing) > 0 {
		return nil, fmt.Errorf("no answer to %s", strings.Join(missing, ", "))
	}
	return s.load()
}

// load makes the profile, with samples where there are no answers yet, and
// loads it. The error is of one line for each thing that is wrong.
func (s *Starter) load() ([]byte, error) {
	text, err := s.text()
	if err != nil {
		return nil, err
	}
	file := s.name + ".toml"
	if _, err := loadFrom(&source{name: s.name, file: file, text: text}); err != nil {
		var all []string
		for _, e := range faults(err) {
			all = append(all, e.Message)
		}
		if len(all) == 0 {
			return nil, err
		}
		return nil, errors.New(strings.Join(slices.Compact(all), "\n"))
	}
	return text, nil
}

// answer is what was answered, or else the default or the sample; guess says
// that a person did not give it.
func (s *Starter) answer(key string) (text string, guess bool) {
	if text = s.answers[key]; text != "" {
		return text, false
	}
	q := s.question(key)
	return q.Default + q.sample, true
}

//go:embed starter.tmpl
var starterText string

// quoteTOML writes a text of graphic characters as TOML does.
func quoteTOML(text string) string {
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(text) + `"`
}

// text fills in the template.
func (s *Starter) text() ([]byte, error) {
	values := map[string]any{"name": s.name}
	for _, key := range []string{"title", "kind", "display", "base", "shift"} {
		values[key], _ = s.answer(key)
	}
	_, values["base_guess"] = s.answer(baseKey)
	values["pockets"], _ = s.answer("pockets")
	values["change_time"], values["change_guess"] = s.answer("change-time")
	values["block_time"], values["block_guess"] = s.answer("block-time")
	values["look_ahead"], values["ahead_guess"] = s.answer("look-ahead")
	for _, key := range []string{"pockets", "look_ahead"} { // they stand in the file without quotes
		n, err := strconv.ParseUint(values[key].(string), 10, 31)
		if err != nil {
			return nil, fmt.Errorf("%q is no whole number, 0 or more", values[key])
		}
		values[key] = strconv.FormatUint(n, 10) // TOML takes no zeros before it
	}
	maps.Copy(values, exampleValues(values["display"] == "mm"))
	base, err := Find(values["base"].(string), nil)
	if err != nil {
		return nil, err
	}
	values["offset"], values["change"] = base.CodeFor(WorkOffset1), changeExample(base)
	if values["axes"], err = s.axes(); err != nil {
		return nil, err
	}
	if err := s.spindle(values); err != nil {
		return nil, err
	}
	values["unsure"] = s.guessed()
	tmpl, err := template.New("starter").Funcs(template.FuncMap{"quote": quoteTOML}).Parse(starterText)
	if err != nil {
		return nil, fmt.Errorf("the starter: %w", err)
	}
	var out bytes.Buffer
	if err := tmpl.Execute(&out, values); err != nil {
		return nil, fmt.Errorf("the starter: %w", err)
	}
	return out.Bytes(), nil
}

// exampleValues are those of the lines that are examples.
func exampleValues(metric bool) map[string]any {
	if metric {
		return map[string]any{"backlash": "0.01 mm", "corner": "0.01 mm", "tool": "12 mm end mill", "length": "120 mm", "diameter": "12 mm", "zero": "200 mm"}
	}
	return map[string]any{"backlash": "0.0005 in", "corner": "0.0005 in", "tool": "1/2 in end mill", "length": "5 in", "diameter": "0.5 in", "zero": "10 in"}
}

// changeExample is a tool change in the codes of a base, as an example.
func changeExample(base *Machine) string {
	blocks := []string{base.CodeFor(CoolantOff), base.CodeFor(SpindleStop)}
	if up := base.CodeFor(MachineCoordinates); up != "" {
		blocks = append(blocks, up+" "+base.CodeFor(TraverseMove)+" Z0")
	}
	blocks = append(blocks, "T{tool} "+base.CodeFor(ToolChange))
	return `"` + strings.Join(blocks, `", "`) + `"`
}

// A starterAxis is an axis as the template writes it.
type starterAxis struct {
	Letter           string
	Travel, Diameter bool
	Low, High, Home  string
	Rapid            string
	Acceleration     string
	Guess            bool // of the acceleration
}

func (s *Starter) axes() ([]starterAxis, error) {
	kind, _ := s.answer("kind")
	var axes []starterAxis
	for _, letter := range []string{"x", "y", "z"} {
		if letter == "y" && kind == "lathe" {
			continue
		}
		a := starterAxis{Letter: letter, Diameter: letter == "x" && kind == "lathe", Low: "0 in", High: "40 in"}
		if display, _ := s.answer("display"); display == "mm" {
			a.Low, a.High = "0 mm", "1000 mm"
		}
		if travel := s.answers[letter+"-travel"]; travel != "" {
			var err error
			if a.Low, a.High, err = fromTo(travel, "0 to 40 in"); err != nil {
				return nil, err
			}
			a.Travel = true
		}
		a.Home = a.Low
		if letter == "z" {
			a.Home = a.High
		}
		a.Rapid, _ = s.answer(letter + "-rapid")
		a.Acceleration, a.Guess = s.answer(letter + "-acceleration")
		axes = append(axes, a)
	}
	return axes, nil
}

// A starterGear is a gear as the template writes it.
type starterGear struct{ Name, Code, Low, High string }

// guessed are the paths of the quantities that nobody has answered.
func (s *Starter) guessed() []string {
	var paths []string
	for _, q := range []struct{ key, path string }{
		{"x-acceleration", "axes.x.acceleration"}, {"y-acceleration", "axes.y.acceleration"}, {"z-acceleration", "axes.z.acceleration"},
		{"spindle-start", "spindle.start"}, {"spindle-stop", "spindle.stop"}, {"shift-time", "spindle.shift_time"},
		{"block-time", "control.block_time"}, {"change-time", "tools.change_time"},
	} {
		changer, _ := s.answer("pockets")
		if _, guess := s.answer(q.key); guess && s.Asks(q.key) && (q.key != "change-time" || changer != "0") {
			paths = append(paths, q.path)
		}
	}
	return paths
}

// spindle enters the gears, or the range of speeds where there are none.
func (s *Starter) spindle(values map[string]any) error {
	values["start"], values["start_guess"] = s.answer("spindle-start")
	values["stop"], values["stop_guess"] = s.answer("spindle-stop")
	if s.Asks("shift-time") {
		values["shift_time"], values["shift_guess"] = s.answer("shift-time")
	}
	if values["shift"] == noShift {
		speed, _ := s.answer("speed")
		low, high, err := fromTo(speed, "40 to 3500 rpm")
		values["low"], values["high"] = low, high
		return err
	}
	var gears []starterGear
	text := s.answers["gears"]
	if text == "" { // while they are not answered
		text = "low 40 to 1100 rpm"
		if values["shift"] == "coded" {
			text += " M41"
		}
	}
	for one := range strings.SplitSeq(text, ",") {
		g, err := parseGear(one)
		if err != nil {
			return err
		}
		gears = append(gears, g)
	}
	values["gears"] = gears
	return nil
}

// parseGear reads "low 40 to 1100 rpm M41".
func parseGear(text string) (starterGear, error) {
	words := strings.Fields(text)
	if len(words) < 4 {
		return starterGear{}, fmt.Errorf("%q: write name and speeds, such as low 40 to 1100 rpm", strings.TrimSpace(text))
	}
	g := starterGear{Name: words[0]}
	words = words[1:]
	if last := words[len(words)-1]; last[0] == 'M' {
		g.Code, words = last, words[:len(words)-1]
	}
	var err error
	g.Low, g.High, err = fromTo(strings.Join(words, " "), "40 to 1100 rpm")
	return g, err
}

// fromTo reads "0 in to 40 in", or "0 to 40 in" where both are in one unit.
func fromTo(text, example string) (low, high string, err error) {
	low, high, ok := strings.Cut(text, " to ")
	low, high = strings.TrimSpace(low), strings.TrimSpace(high)
	if !ok || low == "" || high == "" {
		return "", "", fmt.Errorf("%q: write the lowest and the highest with \"to\" between them, such as %s", text, example)
	}
	if q, err := quantities.ParseString("", high); err == nil {
		if first, err := quantities.ParseString("", low); err == nil && first.Unit == "" && q.Unit != "" {
			low += " " + string(q.Unit)
		}
	}
	return low, high, nil
}
