package parser

import (
	"errors"
	"strconv"
	"strings"
	"sync"

	"github.com/alecthomas/participle/v2"
	"github.com/alecthomas/participle/v2/lexer"
)

// The law: a block is a run of items, and the types below are their grammar.
// It is LL(1) in the tokens of lexer.go.
type (
	item struct {
		Word    *word       `parser:"  @@"`
		Setting *setting    `parser:"| @@"`
		Comment string      `parser:"| @Comment"`
		Mark    *deleteMark `parser:"| @@"`
		Flow    *flowItem   `parser:"| @@"`
	}
	deleteMark struct {
		Slash  string  `parser:"@'/'"`
		Switch *number `parser:"@@?"`
	}
	number struct {
		Pos, EndPos lexer.Position
		Digits      string `parser:"@Number"`
	}
	flowItem struct {
		Pos, EndPos lexer.Position
		Goto        *primary `parser:"  'GOTO' @@"`
		If          *branch  `parser:"| 'IF' @@"`
		While       *loop    `parser:"| 'WHILE' @@"`
		Do          *primary `parser:"| 'DO' @@"`
		End         *primary `parser:"| 'END' @@"`
	}
	branch struct {
		Cond *expression `parser:"'[' @@ ']'"`
		Goto *primary    `parser:"( 'GOTO' @@"`
		Then *setting    `parser:"| 'THEN' @@ )"`
	}
	loop struct {
		Cond *expression `parser:"'[' @@ ']'"`
		Do   *primary    `parser:"'DO' @@"`
	}
	setting struct {
		Pos, EndPos lexer.Position
		Index       *primary `parser:"'#' @@"`
		Value       *sum     `parser:"'=' @@"`
	}
	// The value of a setting may be computed without brackets, by operators that are
	// no letters (common practice; NISTIR 6556 wants brackets).
	sum struct {
		First *signed `parser:"@@"`
		Rest  []*term `parser:"@@*"`
	}
	term struct {
		EndPos lexer.Position
		Op     string  `parser:"@('**' | '*' | '/' | '+' | '-')"`
		Right  *signed `parser:"@@"`
	}
	word struct {
		Pos, EndPos lexer.Position
		Address     string  `parser:"@Address"`
		Value       *signed `parser:"@@"`
	}
)

// Expressions. Participle finds the values and what stands between them; which
// operator binds first is settled in expr.go: one rule for each precedence
// would say it here, at half again the allocations.
type (
	expression struct {
		Pos   lexer.Position
		First *signed      `parser:"@@"`
		Rest  []*operation `parser:"@@*"`
	}
	operation struct {
		EndPos lexer.Position
		Op     string  `parser:"@(Binary | '+' | '-' | '/')"`
		Right  *signed `parser:"@@"`
	}
	signed struct {
		Pos, EndPos lexer.Position
		Sign        string   `parser:"@('+' | '-')?"`
		Value       *primary `parser:"@@"`
	}
	primary struct {
		Pos, EndPos lexer.Position
		Number      string      `parser:"  @Number"`
		Param       *primary    `parser:"| '#' @@"`
		Bracket     *expression `parser:"| '[' @@ ']'"`
		Atan        *quotient   `parser:"| 'ATAN' @@"`
		Call        *call       `parser:"| @@"`
	}
	quotient struct {
		Over  *expression `parser:"'[' @@ ']' '/'"`
		Under *expression `parser:"'[' @@ ']'"`
	}
	call struct {
		Name string      `parser:"@Function"`
		Arg  *expression `parser:"'[' @@ ']'"`
	}
)

// flowWords are the words of flow statements, with the bytes one of which must
// stand behind for the letters not to be addresses.
var flowWords = [...]struct{ name, behind string }{
	{"GOTO", "0123456789.#["},
	{"IF", "["},
	{"THEN", "#"},
	{"WHILE", "["},
	{"DO", "0123456789.#["},
	{"END", "0123456789.#["},
}

// operators are those between two values, with how tight they bind.
var operators = [...]struct {
	name  string
	op    ExprOp
	binds int
}{
	{"**", Pow, 4},
	{"*", Mul, 3}, {"/", Div, 3}, {"MOD", Mod, 3},
	{"+", Add, 2}, {"-", Sub, 2}, {"AND", And, 2}, {"OR", Or, 2}, {"XOR", Xor, 2},
	{"EQ", Eq, 1}, {"NE", Ne, 1}, {"GT", Gt, 1}, {"GE", Ge, 1}, {"LT", Lt, 1}, {"LE", Le, 1},
}

var functions = [...]struct {
	name string
	op   ExprOp
}{
	{"ABS", Abs}, {"ACOS", Acos}, {"ASIN", Asin}, {"ATAN", Atan}, {"COS", Cos}, {"EXP", Exp}, {"FIX", Fix},
	{"FUP", Fup}, {"LN", Ln}, {"ROUND", Round}, {"SIN", Sin}, {"SQRT", Sqrt}, {"TAN", Tan},
}

// itemParser is built on first use: a program of plain blocks never needs it.
// With no look-ahead beyond the next token an item fails where it goes wrong,
// not where it began.
var itemParser = sync.OnceValue(func() *participle.Parser[item] {
	return participle.MustBuild[item](participle.Lexer(bytesLexer{}), participle.Elide("Blank"), participle.UseLookahead(0))
})

// law reads blocks by the grammar, item by item, so that one broken item does
// not take the rest of the block with it.
type law struct {
	b         *Block
	text      []byte
	items     int // read so far, broken ones too
	toks      []lexer.Token
	whole     bool  // toks reach to the end of the text
	wake      bool  // a word of text or a broken flow statement has stood in the block
	lettersTo int32 // end of the last fault that is known to be letters alone

	strict bool // participle reads every item: in tests
}

// maxFaults bounds what is said about one block.
const (
	maxFaults = 100
	tooMuch   = "too much is wrong in this block: the rest of it is not read"
)

// read reads the words of the block with the text, a line without its end that
// stands at offset, into b, which is empty.
func (l *law) read(b *Block, text []byte, offset int64) {
	l.b, l.text, l.items, l.wake, l.lettersTo = b, text, 0, false, 0
	for at := leader(text, offset); at < len(text); {
		at = l.stretch(at)
	}
	l.b, l.text = nil, nil
}

// stretch reads as many items from the place on as fit into maxTokens, and
// gives the place behind them.
func (l *law) stretch(at int) int {
	l.tokenize(at)
	first := l.skip(0)
	for start := first; !l.toks[first].EOF(); {
		it, end, bad := l.item(first)
		next := l.skip(end)
		if l.toks[next].EOF() && !l.whole {
			// More tokens might make more of the item.
			if first > start {
				break
			}
			l.fault(l.toks[first].Pos.Offset, len(l.text), "expression is too long: compute it in steps, with parameter settings")
			return len(l.text)
		}
		switch {
		case bad >= 0:
			l.broken(first, bad, end)
		case it != nil:
			l.add(it, l.toks[first].Pos.Offset, l.toks[end].Pos.Offset)
		case !l.build(first, end):
			l.parse(first, end)
		}
		l.items++
		first = next
		if rest := l.toks[next].Pos.Offset; rest < len(l.text) && len(l.b.Faults) >= maxFaults {
			l.fault(rest, len(l.text), tooMuch)
			return len(l.text)
		}
	}
	return l.toks[first].Pos.Offset
}

// item finds the item that begins at token first. It ends in front of token
// end. A broken one goes wrong at token bad; else bad is negative, and there is
// an item where participle has read it.
func (l *law) item(first int) (it *item, end, bad int) {
	bad = -1
	if l.strict {
		it, end, bad = l.participle(first, len(l.toks)-1)
	} else if at, ok := l.check(first); ok {
		end = at
	} else {
		bad = at
	}
	if l.toks[first].Type == slashToken && l.items > 0 { // a mark stands first in the block
		bad = first
	}
	if bad >= 0 {
		return nil, l.resync(first, bad), bad
	}
	return it, end, bad
}

// parse puts the item from token first to token end, which is in order, into
// the block by the grammar.
func (l *law) parse(first, end int) {
	if it, _, bad := l.participle(first, end); bad < 0 {
		l.add(it, l.toks[first].Pos.Offset, l.toks[end].Pos.Offset)
	} else {
		l.broken(first, bad, end)
	}
}

// participle parses the item that begins at token first, of tokens in front of
// token most. It ends in front of token end, or goes wrong at token bad.
func (l *law) participle(first, most int) (it *item, end, bad int) {
	peek, _ := lexer.Upgrade(&replay{l.toks[first:most], lexer.EOFToken(l.toks[most].Pos)}, blankToken) // replay has no errors
	it, err := itemParser().ParseFromLexer(peek, participle.AllowTrailing(true))
	if err != nil {
		return nil, 0, l.failure(first, err)
	}
	return it, first + int(peek.RawCursor()), -1
}

// tokenize fills toks from the place on, with an EOF at their end.
func (l *law) tokenize(at int) {
	l.toks = l.toks[:0]
	lex := blockLexer{text: l.text, at: at}
	for {
		t, _ := lex.Next() // it has no errors
		if len(l.toks) == maxTokens && !t.EOF() {
			t = lexer.EOFToken(t.Pos)
		}
		l.toks = append(l.toks, t)
		if t.EOF() {
			l.whole = t.Pos.Offset == len(l.text)
			return
		}
	}
}

// replay gives tokens again, and then the end.
type replay struct {
	toks []lexer.Token
	end  lexer.Token
}

func (r *replay) Next() (lexer.Token, error) {
	if len(r.toks) == 0 {
		return r.end, nil
	}
	t := r.toks[0]
	r.toks = r.toks[1:]
	return t, nil
}

// skip is the index of the first token from i on that is no blank.
func (l *law) skip(i int) int {
	for l.toks[i].Type == blankToken {
		i++
	}
	return i
}

// add puts a read item, which stands from pos to end, into the block.
func (l *law) add(it *item, pos, end int) {
	switch {
	case it.Mark != nil:
		l.addMark(it.Mark)
	case it.Flow != nil && l.b.Flow != nil:
		l.fault(pos, end, "a block takes one flow statement: write this one in a block of its own")
	case it.Flow != nil:
		l.b.Flow = it.Flow.flow()
	case it.Setting != nil:
		l.b.Settings = append(l.b.Settings, *it.Setting.setting())
	case it.Word != nil:
		l.addWord(it.Word)
	default:
		l.addComment(pos, end)
	}
}

// addMark puts in the block delete mark, which stands first.
func (l *law) addMark(m *deleteMark) {
	l.b.Delete = 1
	if s := m.Switch; s != nil {
		if d := s.Digits; len(d) != 1 || d < "1" {
			l.fault(s.Pos.Offset, s.EndPos.Offset, "block delete has no switch "+clip(d)+": write /1 to /9, or / alone")
			return
		}
		l.b.Delete = s.Digits[0] - '0'
	}
}

// addWord puts in a word.
func (l *law) addWord(it *word) {
	w := Word{Address: it.Address[0], Pos: place(it.Pos), End: place(it.EndPos)}
	if w.Address == ':' {
		w.Address = 'O'
	}
	if digits := it.Value.Value.Number; digits == "" {
		w.Expr = it.Value.expr()
	} else {
		w.plain(it.Value.Sign, digits)
	}
	l.b.Words = append(l.b.Words, w)
}

// plain makes a number the value of the word.
func (w *Word) plain(sign, digits string) {
	w.Neg = sign == "-"
	w.Value = float(sign, digits)
	whole, frac, point := strings.Cut(digits, ".")
	w.Point, w.Whole, w.Frac = point, uint8(min(len(whole), 255)), uint8(min(len(frac), 255))
}

// addComment puts in a comment, with a fault where it is not closed or another
// one opens inside.
func (l *law) addComment(pos, end int) {
	text := l.text[pos:end]
	closed := text[0] == ';' || text[len(text)-1] == ')'
	l.b.Comments = append(l.b.Comments, Comment{int32(pos), int32(end), closed})
	if !closed {
		l.fault(pos, end, `"(" is never closed: end the comment with ")"`)
		return
	}
	if inner := strings.IndexByte(string(text[1:]), '('); text[0] == '(' && inner >= 0 {
		l.fault(pos+1+inner, pos+2+inner, `"(" inside a comment: comments do not nest, the first ")" ends it; delete this "("`)
	}
}

func (l *law) fault(pos, end int, cause string) {
	l.b.Faults = append(l.b.Faults, Fault{Pos: int32(pos), End: int32(end), Cause: cause})
}

// failure is the index of the token at which the item from first on goes wrong.
func (l *law) failure(first int, err error) int {
	var at participle.Error
	if !errors.As(err, &at) {
		return first
	}
	for i := first; ; i++ {
		t := &l.toks[i]
		if t.EOF() || t.Type != blankToken && t.Pos.Offset >= at.Position().Offset {
			return i
		}
	}
}

// resync is the index of the first token behind a broken item: where the next
// item begins outside brackets, or the end.
func (l *law) resync(first, bad int) int {
	depth := 0
	for i := first; ; i++ {
		t := &l.toks[i]
		if t.EOF() || i > first && i >= bad && depth == 0 && l.begins(i) {
			return i
		}
		switch {
		case t.Type == blankToken:
		case l.text[t.Pos.Offset] == '[':
			depth++
		case l.text[t.Pos.Offset] == ']' && depth > 0:
			depth--
		}
	}
}

// begins says whether an item, or another fault, begins at token i.
func (l *law) begins(i int) bool {
	switch l.toks[i].Type {
	case addressToken, flowToken, commentToken, junkToken, closingMark, slashToken:
		return true
	case paramToken: // of a setting, if it is not the value of something
		switch before := l.toks[l.before(i)]; before.Type {
		case operatorToken:
			return before.Value == "]"
		case paramToken, deepToken, addressToken, binaryToken:
			return false
		}
		return true
	}
	return false
}

// before is the index of the token in front of token i, blanks aside; 0 where
// there is none.
func (l *law) before(i int) int {
	for i--; i > 0 && l.toks[i].Type == blankToken; i-- {
	}
	return max(i, 0)
}

// float is the value of a number. The lexer gives digits and at most one
// point, and none that is out of range.
func float(sign, digits string) float64 {
	v, _ := strconv.ParseFloat(sign+digits, 64)
	return v
}

func place(p lexer.Position) int32 { return int32(p.Offset) }
