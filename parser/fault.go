package parser

import (
	"fmt"
	"strconv"
	"strings"
)

// textWord is how many letters without numbers in a row are a word of text, such
// as a flow statement of another language: what is wrong behind it is no cause
// of its own.
const textWord = 3

// broken says what is wrong with the item from token first to token end, which
// fails at token bad. Comments in it are kept.
func (l *law) broken(first, bad, end int) {
	pos, to := l.toks[first].Pos.Offset, l.toks[l.before(end)+1].Pos.Offset
	l.fault(pos, to, l.cause(first, bad))
	l.b.Faults[len(l.b.Faults)-1].Wake = l.wake
	l.joinLetters()
	last := &l.b.Faults[len(l.b.Faults)-1]
	if l.toks[first].Type == flowToken || !l.wake && last.End-last.Pos >= textWord && l.allLetters(last) {
		l.wake = true
	}
	for i := first + 1; i < end; i++ {
		if l.toks[i].Type == commentToken {
			l.addComment(l.toks[i].Pos.Offset, l.toks[i+1].Pos.Offset)
		}
	}
}

// joinLetters makes one fault of two letters side by side that both have no
// number, so that a line of plain text does not give a fault for each letter.
func (l *law) joinLetters() {
	f := l.b.Faults
	if len(f) < 2 {
		return
	}
	a, b := &f[len(f)-2], &f[len(f)-1]
	if a.End != b.Pos || b.End != b.Pos+1 || !l.allLetters(b) || l.lettersTo != a.End && !l.allLetters(a) {
		return
	}
	a.End = b.End
	l.lettersTo = a.End // so that a long run of letters is not read again for each
	l.b.Faults = f[:len(f)-1]
	if a.End-a.Pos > mostLetters {
		return
	}
	letters := string(upper(l.text[a.Pos:a.End]))
	a.Cause = "letters " + clip(letters) + " have no number: write one behind each address, and text into a comment ( )"
	if zeros := strings.TrimRight(letters, "O"); len(zeros) <= 1 {
		a.Cause = "letters " + letters + " have no number: write " + zeros + strings.Repeat("0", len(letters)-len(zeros)) + " if the digit 0 was meant, and text into a comment ( )"
	}
	for _, w := range flowWords {
		if w.name == letters {
			a.Cause = flowCause(letters)
		}
	}
}

// mostLetters is from how many letters on the cause of a fault stays as it is:
// clip shows no more of them.
const mostLetters = 21

func (l *law) allLetters(f *Fault) bool {
	for _, c := range l.text[f.Pos:f.End] {
		if !isLetter(c) {
			return false
		}
	}
	return true
}

func upper(s []byte) []byte {
	u := make([]byte, len(s))
	for i, c := range s {
		u[i] = c &^ 0x20
	}
	return u
}

// flowCause is what to say about a word of a flow statement that stands
// without what belongs to it.
func flowCause(word string) string {
	switch word {
	case "GOTO":
		return "GOTO has no sequence number: write one, for example GOTO 100"
	case "IF":
		return "IF is not complete: write IF [..] GOTO n, or IF [..] THEN #i=.."
	case "THEN":
		return "THEN is not complete: write IF [..] THEN #i=.."
	case "WHILE":
		return "WHILE is not complete: write WHILE [..] DO n"
	}
	return word + " has no number: write one, for example " + word + " 1"
}

// cause is what is wrong with the item from token first on that fails at token
// bad, and what to do.
func (l *law) cause(first, bad int) string {
	t := &l.toks[bad]
	switch {
	case t.Type == deepToken:
		return fmt.Sprintf("expression is nested deeper than %d brackets: compute it in steps, with parameter settings", maxDepth)
	case l.letterO(first, bad):
		return "the letter O stands in a number: write the digit 0 if that was meant"
	case t.Type == badNumber && t.Value == ".":
		return "a point without digits is no number: write digits before it or behind it, as in 0.5"
	case t.Type == badNumber:
		return "number " + clip(t.Value) + " has more than one point: write one"
	case t.Type == hugeNumber:
		return "number " + clip(t.Value) + " is too large: no control takes it"
	case first == bad:
		return l.strayCause(bad)
	}
	open := l.openBracket(first, bad)
	if open >= 0 && t.EOF() {
		return `"[" is never closed: end the expression with "]"`
	}
	if open >= 0 && t.Type == commentToken {
		return "a comment stands inside an expression: write it in front or behind"
	}
	before := l.toks[l.before(bad)]
	if next := l.toks[bad]; next.Type == addressToken && (next.Value == "O" || next.Value == "o") && (before.Type == addressToken || before.Type == operatorToken) {
		return "the letter O stands behind " + l.quote(l.before(bad)) + ": write the digit 0 if that was meant"
	}
	switch {
	case before.Type == addressToken:
		return "address " + before.Value + " has no number: write one, for example " + before.Value + "0"
	case before.Type == paramToken:
		return `"#" has no parameter number: write one, for example #1`
	case before.Type == flowToken:
		return flowCause(before.Value)
	case before.Value == "]" || before.Type == slashToken:
		if s := l.behindBracket(first, bad); s != "" {
			return s
		}
	}
	if open < 0 && (before.Type == numberToken || before.Value == "]") {
		return "parameter is neither set nor used: write # with = and a value, or an address in front"
	}
	if before.Type == numberToken || before.Value == "]" {
		return l.quote(bad) + ` stands behind a value: write an operator in front of it, or end the expression with "]"`
	}
	return l.quote(l.before(bad)) + " has no value behind it: write a number, a parameter or an expression in brackets"
}

// behindBracket is what to say where something must follow the bracket that
// closes in front of token bad and does not; "" where nothing must.
func (l *law) behindBracket(first, bad int) string {
	i := l.before(bad)
	if l.toks[i].Type == slashToken {
		i = l.before(i)
	}
	for depth := 0; i > first; i = l.before(i) {
		switch l.toks[i].Value {
		case "]":
			depth++
		case "[":
			depth--
		}
		if depth == 0 {
			break
		}
	}
	switch opener := l.toks[l.before(i)]; {
	case i == first:
	case opener.Value == "ATAN":
		return "ATAN takes two values: write ATAN[a]/[b]"
	case opener.Type == flowToken:
		return flowCause(opener.Value)
	}
	return ""
}

// openBracket is the index of the innermost bracket open in front of token
// bad, or -1.
func (l *law) openBracket(first, bad int) int {
	depth := 0
	for i := bad - 1; i >= first; i-- {
		switch l.toks[i].Value {
		case "]":
			depth++
		case "[":
			if depth == 0 {
				return i
			}
			depth--
		}
	}
	return -1
}

// letterO says whether the item from token first, which fails at token bad, is
// the letter O behind a number, as in X5O. for X50.
func (l *law) letterO(first, bad int) bool {
	t := &l.toks[first]
	if t.Type != addressToken || t.Value != "O" && t.Value != "o" || first == 0 || l.before(bad) != first {
		return false
	}
	before, at := &l.toks[first-1], t.Pos.Offset
	return before.Type == numberToken && before.Pos.Offset+len(before.Value) == at
}

// strayCause is what to say about token i where an item should begin.
func (l *law) strayCause(i int) string {
	switch t := &l.toks[i]; {
	case t.Type == numberToken:
		return "number " + clip(t.Value) + " has no address: write one in front, for example X" + clip(t.Value)
	case t.Type == closingMark:
		return `")" closes no comment: delete it, or write "(" in front of the comment`
	case t.Value == "[":
		return `expression has no address: write one in front, for example X[1+2]`
	case t.Value == "]":
		return `"]" closes no bracket: delete it, or write "[" in front of the expression`
	case t.Value == "=":
		return `"=" sets no parameter: write one in front, for example #1=2`
	case t.Type == operatorToken || t.Type == binaryToken:
		return l.quote(i) + " stands outside brackets: write a computed value in brackets, for example X[1+2]"
	case t.Type == flowToken:
		return flowCause(t.Value)
	case t.Type == slashToken:
		return `"/" marks a block that may be skipped: write it first in the block; a quotient stands in brackets, for example X[1/2]`
	}
	return l.quote(i) + " is not in the language: delete it, or put it into a comment ( )"
}

// quote is token i as written, in quotes; bytes that do not print are told by
// number.
func (l *law) quote(i int) string {
	t := l.toks[i]
	if t.EOF() {
		return "the end of the block"
	}
	text := l.text[t.Pos.Offset:l.toks[i+1].Pos.Offset]
	for _, c := range text {
		if c < ' ' || c > '~' {
			if len(text) == 1 {
				return fmt.Sprintf("byte %02X (hexadecimal)", c)
			}
			return strconv.QuoteToASCII(clip(string(text)))
		}
	}
	return `"` + clip(string(text)) + `"`
}

// clip shortens what is quoted from a program.
func clip(s string) string {
	if len(s) > 20 {
		return s[:20] + ".."
	}
	return s
}
