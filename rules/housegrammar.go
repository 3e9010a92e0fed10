package rules

import (
	"fmt"
	"slices"
	"strings"
	"sync"

	"github.com/alecthomas/participle/v2"
	"github.com/alecthomas/participle/v2/lexer"

	"tapefit/profiles"
)

// The grammar of the conditions of house rules: an event, what has come before
// it, and what is so when it comes. It is LL(1). What the words mean is in
// housewords.go and housecompile.go; here they are only put in order.
//
// A sentence prints back to itself, but for blanks, articles and the case of
// its words.
type (
	// "tool change or M0 without M9 of the same tool while coolant is on"
	houseSentence struct {
		Events  []*houseEvent  `parser:"@@ ( 'or' @@ )*"`
		Clauses []*houseClause `parser:"@@*"`
	}

	// "M8", "word R", "tool change"
	houseEvent struct {
		Tokens []lexer.Token
		Code   string   `parser:"  @Code"`
		Word   bool     `parser:"| ( @'word'"`
		Letter string   `parser:"    @Letter? )"`
		Name   []string `parser:"| @Word+"`
	}

	houseClause struct {
		Tokens []lexer.Token
		Past   *housePast `parser:"  @@"`
		Link   string     `parser:"| @( 'while' | 'where' | 'with' | 'that' )?"`
		Cond   *houseAll  `parser:"  @@"`
	}

	// "before M8 of the same tool", "without M19 in the block before"
	housePast struct {
		Word  string      `parser:"@( 'before' | 'after' | 'without' )"`
		Event *houseEvent `parser:"@@"`
		Scope *houseScope `parser:"@@?"`
	}

	houseScope struct {
		SameBlock   bool        `parser:"  'in' ( @'same' 'block'"`
		BlockBefore bool        `parser:"       | 'block' @'before' )"`
		SameTool    bool        `parser:"| 'of' 'same' @'tool'"`
		Since       *houseEvent `parser:"| 'since' @@"`
	}

	// Conditions joined by "and", or by "or", not by both: people read those in
	// two ways.
	houseAll struct {
		First *houseTerm   `parser:"@@"`
		Rest  []*houseMore `parser:"@@*"`
	}

	houseMore struct {
		Tokens []lexer.Token
		Join   string     `parser:"@( 'and' | 'or' )"`
		Term   *houseTerm `parser:"@@"`
	}

	houseTerm struct {
		Tokens []lexer.Token
		Not    bool        `parser:"@'not'?"`
		Group  *houseAll   `parser:"( '(' @@ ')'"`
		Past   *housePast  `parser:"| @@"`
		Has    *houseHas   `parser:"| @@"`
		It     bool        `parser:"| ( @'it'?"`
		Goes   string      `parser:"    'goes' @( 'up' | 'down' ) )"`
		Claim  *houseClaim `parser:"| @@ )"`
	}

	// "has no R", "has P above 5"
	houseHas struct {
		Tokens []lexer.Token
		Block  bool         `parser:"@'block'?"`
		No     bool         `parser:"'has' @'no'?"`
		Code   string       `parser:"( @Code"`
		Letter string       `parser:"| @Letter )"`
		Than   *houseThan   `parser:"( @@"`
		Range  *houseRanged `parser:"| @@ )?"`
	}

	// "spindle is not off", "speed is above 2000 rpm", "tool is one of 1, 3, 7".
	// A claim without an end parses, so that the fault in its words can be told.
	houseClaim struct {
		Tokens []lexer.Token
		Name   []string      `parser:"( @Word+"`
		Axis   string        `parser:"  @Letter?"`
		Letter string        `parser:"| @Letter )"`
		Is     string        `parser:"@( 'is' | 'are' )?"`
		Not    bool          `parser:"@'not'?"`
		Than   *houseThan    `parser:"( @@"`
		Range  *houseRanged  `parser:"| @@"`
		OneOf  []*houseValue `parser:"| 'one' 'of' @@ ( ',' @@ )*"`
		Value  *houseValue   `parser:"| @@ )?"`
	}

	houseThan struct {
		Word  string      `parser:"( @( 'above' | 'over' | 'below' | 'under' ) | 'at' @( 'least' | 'most' ) )"`
		Value *houseValue `parser:"@@"`
	}

	houseRanged struct {
		From *houseValue `parser:"'between' @@"`
		To   *houseValue `parser:"'and' @@"`
	}

	// "5", "0.5 in", "G54", "XY", "the tool's", 'a name in quotes'
	houseValue struct {
		Tokens []lexer.Token
		Number string   `parser:"  @Number"`
		Unit   string   `parser:"  @( Word | Unit | 'in' )?"`
		Code   string   `parser:"| @Code"`
		Letter string   `parser:"| @Letter"`
		Quoted string   `parser:"| @Quoted"`
		Words  []string `parser:"| @Word+"`
	}
)

// longestHouse bounds a condition, and with it how deep its brackets go.
const longestHouse = 500

// houseLexer tells units before words, so that "in/min" is no "in". Addresses
// are capitals: "a" is an article.
var houseLexer = lexer.MustSimple([]lexer.SimpleRule{
	{Name: "Space", Pattern: `\s+`},
	{Name: "Article", Pattern: `(?:[Tt]he|[Aa]n|a)\b`},
	{Name: "Code", Pattern: `[GM]\d+(?:\.\d+)?`},
	{Name: "Letter", Pattern: `[A-Z]\b`},
	{Name: "Unit", Pattern: `[A-Za-z]+/[A-Za-z0-9^/]+`},
	{Name: "Keyword", Pattern: `(?i:while|where|with|that|and|or|not|before|after|without|since|is|are|above|over|below|under|at|least|most|between|has|no|one|of|in|it|goes)\b`},
	{Name: "Word", Pattern: `[A-Za-z][A-Za-z0-9-]*(?:'s)?`},
	{Name: "Number", Pattern: `[-+]?(?:\d+\.?\d*|\.\d+)`},
	{Name: "Quoted", Pattern: `'[^']*'`},
	{Name: "Other", Pattern: `(?s:.)`},
})

var houseParser = sync.OnceValue(func() *participle.Parser[houseSentence] {
	return participle.MustBuild[houseSentence](participle.Lexer(houseLexer), participle.Elide("Space", "Article"),
		participle.CaseInsensitive("Keyword", "Word"), participle.UseLookahead(0))
})

// A mistake is what is wrong with a condition: text[pos:end], and why.
type mistake struct {
	pos, end int
	cause    string
}

func (m *mistake) Error() string { return m.cause }

// parseHouse reads a condition. Where it goes on behind what can be read, rest
// is the mistake to be told if the words before it have none.
func parseHouse(text string) (s *houseSentence, rest, bad *mistake) {
	if len(text) > longestHouse {
		return nil, nil, &mistake{longestHouse, len(text), fmt.Sprintf("longer than %d characters: make two rules of it", longestHouse)}
	}
	tokens, err := houseTokens(text)
	if err != nil {
		return nil, nil, &mistake{0, len(text), err.Error()}
	}
	lex, err := lexer.Upgrade(&tokens, houseLexer.Symbols()["Space"], houseLexer.Symbols()["Article"])
	if err != nil {
		return nil, nil, &mistake{0, len(text), err.Error()}
	}
	s, err = houseParser().ParseFromLexer(lex, participle.AllowTrailing(true))
	if err != nil {
		at := len(text)
		if e, ok := err.(participle.Error); ok {
			at = e.Position().Offset
		}
		return nil, nil, tokens.misplaced(at)
	}
	if next := lex.Peek(); !next.EOF() {
		rest = tokens.misplaced(next.Pos.Offset)
	}
	return s, rest, nil
}

// houseStream is a condition's tokens, as a lexer.
type houseStream struct {
	all  []lexer.Token // without EOF
	eof  lexer.Token
	next int
}

func (t *houseStream) Next() (lexer.Token, error) {
	if t.next == len(t.all) {
		return t.eof, nil
	}
	t.next++
	return t.all[t.next-1], nil
}

func houseTokens(text string) (houseStream, error) {
	lex, err := houseLexer.LexString("", text)
	if err != nil {
		return houseStream{}, err
	}
	all, err := lexer.ConsumeAll(lex)
	if err != nil {
		return houseStream{}, err
	}
	return houseStream{all: all[:len(all)-1], eof: all[len(all)-1]}, nil
}

// misplaced tells of the token at an offset, by what stands before it.
func (t *houseStream) misplaced(offset int) *mistake {
	symbols := houseLexer.Symbols()
	before, open := "", 0
	for _, token := range t.all {
		switch {
		case token.Type == symbols["Space"] || token.Type == symbols["Article"]:
			continue
		case token.Pos.Offset >= offset:
			return &mistake{token.Pos.Offset, token.Pos.Offset + len(token.Value), houseCause(before, token.Value, open)}
		case token.Value == "(":
			open++
		case token.Value == ")":
			open--
		}
		before = strings.ToLower(token.Value)
	}
	end := t.eof.Pos.Offset
	return &mistake{end, end, houseCause(before, "", open)}
}

// houseCause says what is expected behind the word before, in the place of seen; ""
// is the end of the text.
func houseCause(before, seen string, open int) string {
	expected, known := expectedBehind(before)
	switch {
	case expected == "" && open > 0:
		expected, known = `"and", "or" or ")"`, []string{"and", "or"}
	case expected == "":
		expected, known = houseEnd, houseLinks
	}
	if seen == "" {
		return "it ends here: expected " + expected
	}
	if (before == "or" || before == "and") && strings.Trim(seen, "0123456789.") == "" {
		expected += `; for one of several values write "is one of 1, 3, 7"`
	}
	return fmt.Sprintf("%q cannot stand here%s expected %s", printable([]byte(seen)), orColon(profiles.DidYouMean(strings.ToLower(seen), known)), expected)
}

// houseEnd is what can stand behind an event or a condition.
const houseEnd = `the end, "while" with a condition, or "before", "after" or "without" with an event`

var houseLinks = []string{"while", "where", "with", "that", "before", "after", "without", "or"}

// expectedBehind says what is expected behind a word; "" where most can stand.
func expectedBehind(word string) (expected string, known []string) {
	const condition = `a condition, such as "coolant is on"`
	switch word {
	case "", "before", "after", "without", "since":
		return `an event, such as "tool change", M8 or "word R"`, eventNames()
	case "while", "where", "with", "that", "(", "and", "or", "not":
		return condition, []string{"not", "has", "goes", "before", "after", "without"}
	case "above", "over", "below", "under", "least", "most", "between", ",":
		return `a value, such as "2000 rpm"`, nil
	case "at":
		return `"least" or "most"`, []string{"least", "most"}
	case "one":
		return `"of" and the values, as in "one of 1, 3, 7"`, []string{"of"}
	case "of":
		return `"the same tool"; behind "one", values such as "1, 3, 7"`, []string{"same"}
	case "in":
		return `"the same block" or "the block before"`, []string{"same", "block"}
	case "same":
		return `"block" or "tool"`, []string{"block", "tool"}
	case "it":
		return `"goes up" or "goes down"`, []string{"goes"}
	case "goes":
		return `"up" or "down"`, []string{"up", "down"}
	case "has", "no":
		return "a code or an address, such as M8 or R", nil
	}
	return "", nil
}

// String writes the sentence with one blank between its words.
func (s *houseSentence) String() string {
	var w houseWriter
	for i, e := range s.Events {
		if i > 0 {
			w.add("or")
		}
		w.event(e)
	}
	for _, c := range s.Clauses {
		if c.Past != nil {
			w.past(c.Past)
			continue
		}
		w.add(c.Link)
		w.all(c.Cond)
	}
	return strings.Join(w.words, " ")
}

// A houseWriter puts words behind each other.
type houseWriter struct{ words []string }

func (w *houseWriter) add(words ...string) {
	for _, word := range words {
		if word != "" {
			w.words = append(w.words, word)
		}
	}
}

func (w *houseWriter) event(e *houseEvent) {
	if e.Word {
		w.add("word")
	}
	w.add(e.Code, e.Letter)
	w.add(lowered(e.Name)...)
}

func (w *houseWriter) past(p *housePast) {
	w.add(lowered([]string{p.Word})...)
	w.event(p.Event)
	switch s := p.Scope; {
	case s == nil:
	case s.SameBlock:
		w.add("in the same block")
	case s.BlockBefore:
		w.add("in the block before")
	case s.SameTool:
		w.add("of the same tool")
	default:
		w.add("since")
		w.event(s.Since)
	}
}

func (w *houseWriter) all(a *houseAll) {
	w.term(a.First)
	for _, m := range a.Rest {
		w.add(strings.ToLower(m.Join))
		w.term(m.Term)
	}
}

func (w *houseWriter) term(t *houseTerm) {
	if t.Not {
		w.add("not")
	}
	switch {
	case t.Group != nil:
		inside := houseWriter{}
		inside.all(t.Group)
		w.add("(" + strings.Join(inside.words, " ") + ")")
	case t.Past != nil:
		w.past(t.Past)
	case t.Has != nil:
		w.has(t.Has)
	case t.Goes != "":
		if t.It {
			w.add("it")
		}
		w.add("goes", strings.ToLower(t.Goes))
	default:
		w.claim(t.Claim)
	}
}

func (w *houseWriter) has(h *houseHas) {
	if h.Block {
		w.add("block")
	}
	w.add("has")
	if h.No {
		w.add("no")
	}
	w.add(h.Code, h.Letter)
	w.than(h.Than, h.Range)
}

func (w *houseWriter) claim(c *houseClaim) {
	w.add(lowered(c.Name)...)
	w.add(c.Axis, c.Letter, strings.ToLower(c.Is))
	if c.Not {
		w.add("not")
	}
	w.than(c.Than, c.Range)
	for i, v := range c.OneOf {
		if i == 0 {
			w.add("one of")
		} else {
			w.words[len(w.words)-1] += ","
		}
		w.value(v)
	}
	if c.Value != nil {
		w.value(c.Value)
	}
}

func (w *houseWriter) than(t *houseThan, r *houseRanged) {
	if t != nil {
		word := strings.ToLower(t.Word)
		if slices.Contains([]string{"least", "most"}, word) {
			w.add("at")
		}
		w.add(word)
		w.value(t.Value)
	}
	if r != nil {
		w.add("between")
		w.value(r.From)
		w.add("and")
		w.value(r.To)
	}
}

func (w *houseWriter) value(v *houseValue) {
	w.add(v.Number, v.Unit, v.Code, v.Letter, v.Quoted)
	w.add(v.Words...)
}

func lowered(words []string) []string {
	all := make([]string, len(words))
	for i, word := range words {
		all[i] = strings.ToLower(word)
	}
	return all
}
