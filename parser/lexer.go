package parser

import (
	"io"
	"strconv"
	"strings"

	"github.com/alecthomas/participle/v2/lexer"
)

// The kinds of token that the grammar is written in. Blanks mean nothing in
// the language, so they may stand inside a number and between the letters of a
// name; what is left of them is elided.
const (
	blankToken    lexer.TokenType = iota + 1
	addressToken                  // a letter, upper case, or :
	numberToken                   // digits and at most one point
	badNumber                     // no digit, or more than one point
	hugeNumber                    // beyond the range of a float64
	functionToken                 // SIN, in front of a bracket
	binaryToken                   // *, **, MOD, EQ ...
	operatorToken                 // a sign, a bracket, =
	paramToken                    // #
	flowToken                     // GOTO ..., in front of what belongs to it
	commentToken
	slashToken
	junkToken   // bytes of no use
	closingMark // ) without (
	deepToken   // a bracket or # that nests deeper than maxDepth
)

// maxDepth bounds how deep brackets and # may nest, and so how deep the
// grammar recurses.
const maxDepth = 100

// maxTokens bounds how much of a block is held as tokens at a time.
const maxTokens = 1 << 16

// bytesLexer is the participle lexer of the language. It works on bytes, not
// on runes: offsets are bytes, and comments may be in any code.
type bytesLexer struct{}

// Symbols names the tokens for the grammar.
func (bytesLexer) Symbols() map[string]lexer.TokenType {
	return map[string]lexer.TokenType{
		"EOF": lexer.EOF, "Blank": blankToken, "Address": addressToken, "Number": numberToken,
		"BadNumber": badNumber, "HugeNumber": hugeNumber, "Function": functionToken, "Binary": binaryToken, "Operator": operatorToken, "Param": paramToken,
		"Flow": flowToken, "Comment": commentToken, "Slash": slashToken, "Junk": junkToken,
		"ClosingMark": closingMark, "Deep": deepToken,
	}
}

// Lex reads all of r, the text of one block.
func (bytesLexer) Lex(_ string, r io.Reader) (lexer.Lexer, error) {
	text, err := io.ReadAll(r)
	if err != nil {
		return nil, err
	}
	return &blockLexer{text: text}, nil
}

// A blockLexer splits the text of a block into tokens. What a letter is depends
// on what stands before it: "A COS[30]" is the word A with a function, but
// behind = the same letters are the function ACOS.
type blockLexer struct {
	text   []byte
	at     int
	value  bool  // a value may stand next
	nested []int // for each open bracket: by how much it went deeper
	depth  int   // the sum of nested
	params int   // the # in a row just read
}

// Next gives the next token; behind the last one, EOF. There are no errors.
func (l *blockLexer) Next() (lexer.Token, error) {
	at := l.at
	t := lexer.Token{Type: lexer.EOF, Pos: lexer.Position{Offset: at, Line: 1, Column: at + 1}}
	if at == len(l.text) {
		return t, nil
	}
	t.Type, t.Value = l.scan()
	if t.Type == blankToken {
		return t, nil
	}
	if t.Type != paramToken {
		l.params = 0
	}
	switch t.Type {
	case addressToken, paramToken, flowToken, operatorToken, binaryToken, deepToken:
		l.value = t.Value != "]"
	case slashToken: // divides in brackets; elsewhere it is the block delete mark
		l.value = len(l.nested) > 0
	default:
		l.value = false
	}
	return t, nil
}

// scan steps over one token.
func (l *blockLexer) scan() (lexer.TokenType, string) {
	at := l.at
	c := l.text[at]
	l.at++
	switch {
	case isBlank(c):
		l.at = skipBlanks(l.text, l.at)
		return blankToken, ""
	case isLetter(c):
		return l.letter()
	case isNumeral(c):
		return l.number()
	}
	switch c {
	case ':':
		return addressToken, ":"
	case '#', '[', ']':
		return l.nest(c)
	case '+', '-', '=':
		return operatorToken, string(c)
	case '*':
		if next := skipBlanks(l.text, l.at); next < len(l.text) && l.text[next] == '*' {
			l.at = next + 1
			return binaryToken, "**"
		}
		return binaryToken, "*"
	case '/':
		return slashToken, "/"
	case ';':
		l.at = len(l.text)
		return commentToken, ";"
	case '(':
		for l.at < len(l.text) && l.text[l.at-1] != ')' {
			l.at++
		}
		return commentToken, "("
	case ')':
		return closingMark, ")"
	}
	for l.at < len(l.text) && isJunk(l.text[l.at]) {
		l.at++
	}
	return junkToken, ""
}

// letter reads the name, or else the address, of which the first letter is
// just read.
func (l *blockLexer) letter() (lexer.TokenType, string) {
	at := l.at - 1
	if len(l.nested) > 0 && !l.value {
		for _, o := range operators {
			if end := l.spelled(at, o.name); end > 0 {
				l.at = end
				return binaryToken, o.name
			}
		}
	}
	if l.value {
		for _, f := range functions {
			if end := l.spelled(at, f.name); end > 0 && l.follows(end, "[") {
				l.at = end
				return functionToken, f.name
			}
		}
	}
	if len(l.nested) == 0 {
		for _, f := range flowWords {
			if end := l.spelled(at, f.name); end > 0 && l.follows(end, f.behind) {
				l.at = end
				return flowToken, f.name
			}
		}
	}
	return addressToken, string(l.text[at] &^ 0x20)
}

// spelled gives the end of the name at the place; 0 where it does not stand there.
func (l *blockLexer) spelled(at int, name string) int {
	for i := range len(name) {
		if i > 0 {
			at = skipBlanks(l.text, at)
		}
		if at == len(l.text) || l.text[at]&^0x20 != name[i] {
			return 0
		}
		at++
	}
	return at
}

// follows says whether one of the bytes stands next, behind blanks.
func (l *blockLexer) follows(at int, bytes string) bool {
	at = skipBlanks(l.text, at)
	return at < len(l.text) && strings.IndexByte(bytes, l.text[at]) >= 0
}

// number reads on behind the first digit or point.
func (l *blockLexer) number() (lexer.TokenType, string) {
	digits, points := 0, 0
	clean := make([]byte, 0, 16)
	for i := l.at - 1; i < len(l.text); i++ {
		c := l.text[i]
		if isBlank(c) {
			continue
		}
		if !isNumeral(c) {
			break
		}
		if c == '.' {
			points++
		} else {
			digits++
		}
		clean = append(clean, c)
		l.at = i + 1
	}
	if digits == 0 || points > 1 {
		return badNumber, string(clean)
	}
	if _, err := strconv.ParseFloat(string(clean), 64); err != nil {
		return hugeNumber, string(clean)
	}
	return numberToken, string(clean)
}

// nest keeps count of how deep the brackets and # go.
func (l *blockLexer) nest(c byte) (lexer.TokenType, string) {
	switch {
	case c == ']':
		if n := len(l.nested); n > 0 {
			l.depth -= l.nested[n-1]
			l.nested = l.nested[:n-1]
		}
		return operatorToken, "]"
	case c == '#':
		l.params++
	default:
		l.nested = append(l.nested, l.params+1)
		l.depth += l.params + 1
		l.params = 0
	}
	if l.depth+l.params > maxDepth {
		return deepToken, "deep"
	}
	if c == '#' {
		return paramToken, "#"
	}
	return operatorToken, "["
}

func isLetter(c byte) bool { return (c|0x20)-'a' < 26 }

// isJunk says whether the byte has no use in the language.
func isJunk(c byte) bool {
	return !isBlank(c) && !isLetter(c) && !isNumeral(c) && strings.IndexByte(":#[]+-=*/;()", c) < 0
}
