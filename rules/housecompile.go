package rules

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/alecthomas/participle/v2/lexer"

	"tapefit/parser"
	"tapefit/profiles"
)

// A houseCondition is a compiled sentence. It is not changed by those who use
// it.
type houseCondition struct {
	happens happening
	words   []houseWord // events that are judged behind their block
	ops     Kinds
	test    houseTest
	tracked []houseTracked // what the condition asks the past for
	mark    houseWord      // of an event "block": the word to point at
	coolant bool           // the state of the coolant is asked for
}

// judgesBlocks says whether blocks themselves are events.
func (c *houseCondition) judgesBlocks() bool { return c.happens&aBlock != 0 || len(c.words) > 0 }

// A houseTracked is an event that is remembered: one with a name, or a word.
type houseTracked struct {
	happens happening
	word    houseWord
	own     bool // the sentence is about this event itself: where it stands is no past
}

// A houseWord is a word of a block: any with the address, or one value of it.
// The zero value is no word.
type houseWord struct {
	address byte
	any     bool
	value   float64
}

// is says whether a word is it; what is computed may be any value.
func (h houseWord) is(w *parser.Word) truth {
	switch {
	case w.Address != h.address:
		return isFalse
	case h.any:
		return isTrue
	case w.Expr != nil:
		return isUnknown
	}
	return truthOf(math.Abs(w.Value-h.value) < 1e-4) // as controls take computed codes
}

// A houseCompiler turns a sentence into a condition for one machine.
type houseCompiler struct {
	m *profiles.Machine
	c houseCondition
}

// compileHouse reads a condition. The mistake is the first in the text.
func compileHouse(m *profiles.Machine, text string) (*houseCondition, *mistake) {
	s, rest, bad := parseHouse(text)
	if bad != nil {
		return nil, bad
	}
	k := houseCompiler{m: m}
	err := k.sentence(s)
	var found *mistake
	switch {
	case errors.As(err, &found) && (rest == nil || found.pos < rest.pos):
		return nil, found
	case rest != nil:
		return nil, rest
	}
	return &k.c, nil
}

// mistakeAt makes a mistake of tokens.
func mistakeAt(tokens []lexer.Token, format string, args ...any) error {
	m := &mistake{cause: fmt.Sprintf(format, args...)}
	symbols := houseLexer.Symbols()
	some := false
	for _, t := range tokens {
		if t.Type == symbols["Space"] || t.Type == symbols["Article"] || t.EOF() {
			continue
		}
		if !some {
			m.pos, some = t.Pos.Offset, true
		}
		m.end = t.Pos.Offset + len(t.Value)
	}
	return m
}

// spoken are the tokens that are no blanks and no articles.
func spoken(tokens []lexer.Token) []lexer.Token {
	symbols := houseLexer.Symbols()
	return slices.DeleteFunc(slices.Clone(tokens), func(t lexer.Token) bool {
		return t.Type == symbols["Space"] || t.Type == symbols["Article"] || t.EOF()
	})
}

func (k *houseCompiler) sentence(s *houseSentence) error {
	for _, e := range s.Events {
		t, ops, err := k.event(e)
		if err != nil {
			return err
		}
		k.c.happens |= t.happens
		k.c.ops |= ops
		if t.happens == 0 {
			k.c.words = append(k.c.words, t.word)
		}
	}
	all := []houseTest{}
	for _, c := range s.Clauses {
		one, err := k.clause(c)
		if err != nil {
			return err
		}
		all = append(all, one)
	}
	k.c.test = allOf(all)
	return nil
}

// event finds an event and the operations that may be it.
func (k *houseCompiler) event(e *houseEvent) (t houseTracked, ops Kinds, err error) {
	switch {
	case e.Code != "":
		return k.code(e)
	case e.Word && e.Letter == "":
		return t, 0, mistakeAt(e.Tokens, `"word" is followed by its address in capitals, as in "word R"`)
	case e.Word:
		return houseTracked{word: houseWord{address: e.Letter[0], any: true}}, 0, nil
	}
	name := strings.Join(lowered(e.Name), " ")
	for i := range houseEvents {
		if houseEvents[i].name == name {
			return houseTracked{happens: houseEvents[i].event}, houseEvents[i].ops, nil
		}
	}
	return t, 0, unknownName(spoken(e.Tokens), eventNames(), "is no event",
		`an event is a code such as M8, a word such as "word R", `+join(quotedNames(eventNames()), "or"),
		houseEnd, houseLinks)
}

// unknownName tells of words that are no name. Where the first of them are one,
// the fault is what follows.
func unknownName(tokens []lexer.Token, names []string, fault, known, expected string, links []string) error {
	name, written := "", ""
	for i := range tokens {
		name = strings.TrimSpace(name + " " + strings.ToLower(tokens[i].Value))
		written = strings.TrimSpace(written + " " + tokens[i].Value)
		if i == len(tokens)-1 {
			break
		}
		next := strings.ToLower(tokens[i+1].Value)
		if slices.Contains(names, name) && !slices.ContainsFunc(names, func(n string) bool { return strings.HasPrefix(n, name+" "+next[:1]) }) {
			return mistakeAt(tokens[i+1:i+2], "%q cannot stand here%s behind %q expected %s", tokens[i+1].Value,
				orColon(profiles.DidYouMean(next, links)), name, expected)
		}
	}
	if capital := strings.ToUpper(written); len(tokens) == 1 && capitalWord.MatchString(capital) {
		return mistakeAt(tokens, "%q %s: did you mean %q? codes and addresses are written in capitals", written, fault, capital)
	}
	return mistakeAt(tokens, "%q %s%s %s", written, fault, orColon(profiles.DidYouMean(name, names)), known)
}

// capitalWord is a code or an axis, in the capitals that it wants.
var capitalWord = regexp.MustCompile(`^([GM][0-9]+(\.[0-9]+)?|[XYZABC])$`)

func orColon(houseQuestion string) string {
	if houseQuestion == "" {
		return ":"
	}
	return houseQuestion
}

func quotedNames(names []string) []string {
	all := make([]string, len(names))
	for i, n := range names {
		all[i] = strconv.Quote(n)
	}
	return all
}

// code is an event M8. A tool change is judged when it is made, with the state
// before the rest of its block.
func (k *houseCompiler) code(e *houseEvent) (t houseTracked, ops Kinds, err error) {
	w, err := k.codeWord(e.Code, e.Tokens)
	if err != nil {
		return t, 0, err
	}
	if w.address == 'M' && k.m.M(int(math.Round(10*w.value))) == profiles.ToolChange {
		return houseTracked{happens: aToolChange}, spindleOps, nil
	}
	return houseTracked{word: w}, 0, nil
}

// codeWord is a code that this machine's profile knows, if only to refuse it.
func (k *houseCompiler) codeWord(code string, tokens []lexer.Token) (houseWord, error) {
	v, err := strconv.ParseFloat(code[1:], 64)
	w := houseWord{address: code[0], value: v}
	plain := code[:1] + strconv.FormatFloat(v, 'f', -1, 64)
	_, known := k.m.Codes[plain]
	for _, g := range k.m.Spindle.Gears {
		known = known || g.Code == plain
	}
	if err != nil || !known {
		return w, mistakeAt(tokens, "%s is no code of %s: its profile has them under codes", plain, k.m.Name)
	}
	return w, nil
}

func (k *houseCompiler) clause(c *houseClause) (houseTest, error) {
	if c.Past != nil {
		return k.past(c.Past)
	}
	if first := c.Cond.First; c.Link == "" && first.Has == nil && first.Goes == "" {
		return nil, mistakeAt(spoken(c.Tokens)[:1], `before a condition stands "while", as in "tool change while coolant is on"`)
	}
	return k.all(c.Cond)
}

func (k *houseCompiler) all(a *houseAll) (houseTest, error) {
	first, err := k.term(a.First)
	if err != nil {
		return nil, err
	}
	tests := []houseTest{first}
	join := ""
	for _, m := range a.Rest {
		word := strings.ToLower(m.Join)
		if join != "" && word != join {
			return nil, mistakeAt(spoken(m.Tokens)[:1], `"and" and "or" side by side can be read in two ways: put ( ) around what belongs together`)
		}
		join = word
		t, err := k.term(m.Term)
		if err != nil {
			return nil, err
		}
		tests = append(tests, t)
	}
	if join == "or" {
		return anyOf(tests), nil
	}
	return allOf(tests), nil
}

func allOf(tests []houseTest) houseTest {
	if len(tests) == 1 {
		return tests[0]
	}
	return func(w *houseWatch) truth {
		least := isTrue
		for _, t := range tests {
			if least = min(least, t(w)); least == isFalse {
				break
			}
		}
		return least
	}
}

func anyOf(tests []houseTest) houseTest {
	return func(w *houseWatch) truth {
		most := isFalse
		for _, t := range tests {
			if most = max(most, t(w)); most == isTrue {
				break
			}
		}
		return most
	}
}

func (k *houseCompiler) term(t *houseTerm) (houseTest, error) {
	one, err := k.positive(t)
	if err != nil {
		return nil, err
	}
	if t.Not {
		return opposite(one), nil
	}
	return one, nil
}

func opposite(t houseTest) houseTest { return func(w *houseWatch) truth { return -t(w) } }

func (k *houseCompiler) positive(t *houseTerm) (houseTest, error) {
	switch {
	case t.Group != nil:
		return k.all(t.Group)
	case t.Past != nil:
		return k.past(t.Past)
	case t.Has != nil:
		return k.has(t.Has)
	case t.Goes != "":
		if k.m.Kind == "lathe" {
			return nil, mistakeAt(t.Tokens, `on a lathe nothing goes up or down: ask for a place, such as "Z is below 0.1 in"`)
		}
		if err := k.askedAt(houseMoves, "goes up or down", t.Tokens); err != nil {
			return nil, err
		}
		if strings.EqualFold(t.Goes, "up") {
			return goesAlong(1), nil
		}
		return goesAlong(-1), nil
	}
	return k.claim(t.Claim)
}

// askedAt complains where an event of the sentence is none of those that a
// question is of.
func (k *houseCompiler) askedAt(of happening, what string, tokens []lexer.Token) error {
	if of == 0 || k.c.happens&^of == 0 && len(k.c.words) == 0 {
		return nil
	}
	var names []string
	for i := range houseEvents {
		if houseEvents[i].event&of != 0 {
			names = append(names, strconv.Quote(houseEvents[i].name))
		}
	}
	return mistakeAt(tokens, "%s is asked of an event that has none: it belongs to %s", what, join(names, "or"))
}

// has looks for a word in the block of the event.
func (k *houseCompiler) has(h *houseHas) (houseTest, error) {
	word := houseWord{any: true}
	var err error
	if h.Code != "" {
		if word, err = k.codeWord(h.Code, h.Tokens); err != nil {
			return nil, err
		}
	} else {
		word.address = h.Letter[0]
	}
	if !h.No && k.c.mark == (houseWord{}) {
		k.c.mark = word
	}
	t := func(w *houseWatch) truth { return w.here(word) }
	if h.Than != nil || h.Range != nil {
		if h.Code != "" {
			return nil, mistakeAt(h.Tokens, "a code has no value to compare: ask for an address, as in \"has P above 5\"")
		}
		in, err := k.limits(h.Than, h.Range, func(v *houseValue) (float64, error) {
			if v.Number == "" || v.Unit != "" {
				return 0, mistakeAt(v.Tokens, `what a word says is compared with a bare number, as written in the program`)
			}
			return strconv.ParseFloat(v.Number, 64)
		})
		if err != nil {
			return nil, err
		}
		t = func(w *houseWatch) truth { return w.hereWith(word.address, in) }
	}
	if h.No {
		return opposite(t), nil
	}
	return t, nil
}

// past is whether an event came before this one.
func (k *houseCompiler) past(p *housePast) (houseTest, error) {
	x, err := k.track(p.Event)
	if err != nil {
		return nil, err
	}
	came, s := houseTest(nil), p.Scope
	switch {
	case s == nil:
		came = func(w *houseWatch) truth { return w.came(x, -1) }
	case s.SameBlock:
		came = func(w *houseWatch) truth { return w.inBlock(x) }
	case s.BlockBefore:
		came = func(w *houseWatch) truth { return w.inBlockBefore(x) }
	default:
		y := 0
		if s.SameTool {
			y = k.trackThis(houseTracked{happens: aToolChange}, spindleOps)
		} else if y, err = k.track(s.Since); err != nil {
			return nil, err
		}
		came = func(w *houseWatch) truth { return w.came(x, y) }
	}
	if strings.EqualFold(p.Word, "after") {
		return came, nil
	}
	return opposite(came), nil
}

// track remembers an event and gives its number.
func (k *houseCompiler) track(e *houseEvent) (int, error) {
	t, ops, err := k.event(e)
	if err != nil {
		return 0, err
	}
	if t.happens == aBlock {
		return 0, mistakeAt(e.Tokens, `"block" is every block: name what it has, a code or "word R"`)
	}
	return k.trackThis(t, ops), nil
}

func (k *houseCompiler) trackThis(t houseTracked, ops Kinds) int {
	t.own = t.happens == 0 && slices.Contains(k.c.words, t.word)
	k.c.ops |= ops
	if i := slices.Index(k.c.tracked, t); i >= 0 {
		return i
	}
	k.c.tracked = append(k.c.tracked, t)
	return len(k.c.tracked) - 1
}

func (k *houseCompiler) claim(c *houseClaim) (houseTest, error) {
	name, axis := strings.Join(lowered(c.Name), " "), c.Axis+c.Letter
	tokens := spoken(c.Tokens)
	subject := tokens[:len(c.Name)+len(axis)]
	q, ok := k.ask(name, axis)
	switch {
	case !ok && axis != "":
		return nil, mistakeAt(subject, "%q is no place: write X, Y, Z, A, B or C, or \"machine Z\" for machine coordinates", strings.TrimSpace(name+" "+axis))
	case !ok:
		return nil, unknownName(subject, k.questionNames(), "is nothing that can be asked for",
			"known are "+join(quotedNames(k.questionNames()), "and")+", and the axes, as X and machine X", `"is", "above" or "below" with a value`,
			[]string{"is", "are", "above", "below", "over", "under", "between", "at"})
	case axis == "X" && k.xIsDiameter():
		return nil, mistakeAt(subject, `on this lathe the X words are diameters: write "diameter" for what the program says`)
	case axis != "" && k.m.Kind != "" && k.m.Axis(strings.Index(profiles.AxisLetters, axis)) == nil:
		return nil, mistakeAt(subject, "%s has no axis %s", k.m.Name, axis)
	}
	if err := k.askedAt(q.of, q.name, subject); err != nil {
		return nil, err
	}
	k.c.coolant = k.c.coolant || q.name == "coolant"
	t, err := k.predicate(c, &q, subject)
	if err == nil && c.Not {
		t = opposite(t)
	}
	return t, err
}

func (k *houseCompiler) xIsDiameter() bool { return k.m.Axes.X != nil && k.m.Axes.X.Diameter }

func (k *houseCompiler) predicate(c *houseClaim, q *houseQuestion, subject []lexer.Token) (houseTest, error) {
	values := c.OneOf
	if c.Value != nil {
		values = append(values, c.Value)
	}
	switch {
	case c.Than != nil || c.Range != nil:
		if q.number == nil {
			return nil, mistakeAt(subject, "%s is no number: %s", q.name, q.choice())
		}
		in, err := k.limits(c.Than, c.Range, q.quantity)
		if err != nil {
			return nil, err
		}
		number := q.number
		return func(w *houseWatch) truth { return in(number(w)) }, nil
	case len(values) == 0:
		return nil, mistakeAt(subject, "what of %s? %s", q.name, q.choice())
	case c.Is == "":
		return nil, mistakeAt(subject, "behind %q expected \"is\"", q.name)
	}
	var tests []houseTest
	for _, v := range values {
		t, err := q.value(v)
		if err != nil {
			return nil, err
		}
		tests = append(tests, t)
	}
	if len(tests) == 1 {
		return tests[0], nil
	}
	return anyOf(tests), nil
}

// limits compiles a comparison; read reads its values.
func (k *houseCompiler) limits(than *houseThan, between *houseRanged, read func(*houseValue) (float64, error)) (func(houseSpan) truth, error) {
	if between != nil {
		low, err := read(between.From)
		if err != nil {
			return nil, err
		}
		high, err := read(between.To)
		if err != nil {
			return nil, err
		}
		if low > high {
			return nil, mistakeAt(between.From.Tokens, "the lower of the two values stands first")
		}
		return func(s houseSpan) truth { return s.within(low, high) }, nil
	}
	v, err := read(than.Value)
	if err != nil {
		return nil, err
	}
	switch strings.ToLower(than.Word) {
	case "above", "over":
		return func(s houseSpan) truth { return -s.within(math.Inf(-1), v) }, nil
	case "below", "under":
		return func(s houseSpan) truth { return -s.within(v, math.Inf(1)) }, nil
	case "least":
		return func(s houseSpan) truth { return s.within(v, math.Inf(1)) }, nil
	}
	return func(s houseSpan) truth { return s.within(math.Inf(-1), v) }, nil
}

// quantity reads a value with the unit of the question.
func (q *houseQuestion) quantity(v *houseValue) (float64, error) {
	switch {
	case v.Number == "":
		return 0, mistakeAt(v.Tokens, "expected a number: %s", q.choice())
	case strings.HasSuffix(v.Unit, "/rev"):
		return 0, mistakeAt(v.Tokens, "for feed by the revolution write \"feed per revolution is above %s %s\"", v.Number, strings.TrimSuffix(v.Unit, "/rev"))
	case q.read != nil:
		n, err := q.read(strings.TrimSpace(v.Number + " " + v.Unit))
		if err != nil {
			return 0, mistakeAt(v.Tokens, "%s", err)
		}
		return n, nil
	case v.Unit != "":
		return 0, mistakeAt(v.Tokens, "%s is a number without a unit", q.name)
	}
	n, err := strconv.ParseFloat(v.Number, 64)
	if err != nil || n != math.Trunc(n) || n < 0 {
		return 0, mistakeAt(v.Tokens, "%s is a whole number, 0 or more", q.name)
	}
	return n, nil
}

// value compiles what stands behind "is".
func (q *houseQuestion) value(v *houseValue) (houseTest, error) {
	if v.Number != "" && q.number != nil {
		n, err := q.quantity(v)
		number := q.number
		return func(w *houseWatch) truth { return number(w).within(n, n) }, err
	}
	name := v.Code + v.Letter + strings.Join(v.Words, " ") + strings.Trim(v.Quoted, "'")
	for _, s := range q.states {
		if strings.EqualFold(s.name, name) {
			return s.is, nil
		}
	}
	if len(q.states) == 0 {
		return nil, mistakeAt(v.Tokens, "expected a number: %s", q.choice())
	}
	var names []string
	for _, s := range q.states {
		names = append(names, s.name)
	}
	if name == "" {
		name = v.Number
	}
	return nil, mistakeAt(v.Tokens, "%s is never %q%s %s", q.name, name, orColon(profiles.DidYouMean(name, names)), q.choice())
}

// choice says how the question is answered.
func (q *houseQuestion) choice() string {
	var names []string
	for _, s := range q.states {
		names = append(names, s.name)
	}
	states := "it is " + join(names, "or")
	number := "it is compared, as in \"" + q.name + " is above " + q.unit + "\""
	if q.read == nil {
		number = "as in \"" + q.name + " is 5\" or \"" + q.name + " is one of 1, 3, 7\""
	}
	switch {
	case len(names) == 0 && q.number == nil:
		return "the profile has none"
	case len(names) == 0:
		return number
	case q.number == nil:
		return states
	}
	return states + "; or " + number
}
