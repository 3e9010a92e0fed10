package parser

// Participle takes some twenty microseconds for an item, and most of what comes
// to the grammar is one broken item among plain ones: text outside comments, a
// file that is no program. So the law has a short way of its own. The
// check functions walk the grammar of grammar.go over the tokens and find where
// an item ends or goes wrong; build makes the items that are written plainly.
// Participle reads the rest, and in tests, where law.strict is set, everything:
// both ways must come to the same block.

// check walks over the item that begins at token first. It gives the index
// behind its last token, or that of the token at which it goes wrong.
func (l *law) check(first int) (at int, ok bool) {
	switch t := &l.toks[first]; t.Type {
	case addressToken:
		return l.checkSigned(first + 1)
	case paramToken:
		return l.checkSetting(first)
	case commentToken:
		return first + 1, true
	case slashToken:
		if i := l.skip(first + 1); l.toks[i].Type == numberToken {
			return i + 1, true
		}
		return first + 1, true
	case flowToken:
		return l.checkFlow(first)
	}
	return first, false
}

// expect steps over the token behind blanks from i on, if it has the text.
func (l *law) expect(i int, text string) (at int, ok bool) {
	i = l.skip(i)
	if l.toks[i].Value == text {
		return i + 1, true
	}
	return i, false
}

func (l *law) checkFlow(i int) (at int, ok bool) {
	switch l.toks[i].Value {
	case "GOTO", "DO", "END":
		return l.checkPrimary(i + 1)
	case "IF":
		if at, ok = l.checkBracket(i + 1); !ok {
			return at, false
		}
		if i, ok = l.expect(at, "GOTO"); ok {
			return l.checkPrimary(i)
		}
		if i, ok = l.expect(at, "THEN"); ok {
			return l.checkSetting(i)
		}
		return i, false
	case "WHILE":
		if at, ok = l.checkBracket(i + 1); !ok {
			return at, false
		}
		if at, ok = l.expect(at, "DO"); !ok {
			return at, false
		}
		return l.checkPrimary(at)
	}
	return i, false
}

func (l *law) checkSetting(i int) (at int, ok bool) {
	if at, ok = l.expect(i, "#"); !ok {
		return at, false
	}
	if at, ok = l.checkPrimary(at); !ok {
		return at, false
	}
	if at, ok = l.expect(at, "="); !ok {
		return at, false
	}
	if at, ok = l.checkSigned(at); !ok {
		return at, false
	}
	for l.symbol(l.skip(at)) { // computed without brackets
		if at, ok = l.checkSigned(l.skip(at) + 1); !ok {
			return at, false
		}
	}
	return at, true
}

// symbol says whether token i is an operator that is no letters.
func (l *law) symbol(i int) bool {
	switch l.toks[i].Value {
	case "**", "*", "/", "+", "-":
		return true
	}
	return false
}

func (l *law) checkSigned(i int) (at int, ok bool) {
	i = l.skip(i)
	if v := l.toks[i].Value; v == "+" || v == "-" {
		i++
	}
	return l.checkPrimary(i)
}

// checkPrimary recurses no deeper than maxDepth: what is deeper is a deepToken.
func (l *law) checkPrimary(i int) (at int, ok bool) {
	i = l.skip(i)
	switch t := &l.toks[i]; {
	case t.Type == numberToken:
		return i + 1, true
	case t.Type == paramToken:
		return l.checkPrimary(i + 1)
	case t.Value == "[":
		return l.checkBracket(i)
	case t.Type == functionToken:
		at, ok = l.checkBracket(i + 1)
		if !ok || t.Value != "ATAN" {
			return at, ok
		}
		if at, ok = l.expect(at, "/"); !ok {
			return at, false
		}
		return l.checkBracket(at)
	}
	return i, false
}

// checkBracket walks over an expression in brackets.
func (l *law) checkBracket(i int) (at int, ok bool) {
	if at, ok = l.expect(i, "["); !ok {
		return at, false
	}
	for {
		if at, ok = l.checkSigned(at); !ok {
			return at, false
		}
		at = l.skip(at)
		switch t := &l.toks[at]; {
		case t.Value == "]":
			return at + 1, true
		case t.Type == binaryToken || t.Value == "+" || t.Value == "-" || t.Value == "/":
			at++
		default:
			return at, false
		}
	}
}

// build puts the item from token first to token end, which is in order, into
// the block, if it is written plainly.
func (l *law) build(first, end int) bool {
	b, t := l.b, &l.toks[first]
	settings := len(b.Settings)
	pos, behind := t.Pos.Offset, l.toks[end].Pos.Offset
	switch t.Type {
	case commentToken:
		l.addComment(pos, behind)
		return true
	case addressToken:
		return l.buildWord(first, end)
	case slashToken:
		mark := &deleteMark{}
		if i := l.skip(first + 1); i < end {
			mark.Switch = &number{l.toks[i].Pos, l.toks[end].Pos, l.toks[i].Value}
		}
		l.addMark(mark)
		return true
	case paramToken:
		if b.scanSetting(l.text, pos) == behind {
			return true
		}
		b.Settings = b.Settings[:settings]
	case flowToken:
		if b.Flow != nil {
			return false
		}
		if b.scanFlow(l.text, pos) == behind {
			return true
		}
		b.Flow = nil
	}
	return false
}

// buildWord puts in a word with a plain value.
func (l *law) buildWord(first, end int) bool {
	t := &l.toks[first]
	w := Word{Address: t.Value[0], Pos: place(t.Pos), End: place(l.toks[end].Pos)}
	if w.Address == ':' {
		w.Address = 'O'
	}
	sign, value := "", l.skip(first+1)
	if v := l.toks[value].Value; v == "+" || v == "-" {
		sign, value = v, l.skip(value+1)
	}
	if number := &l.toks[value]; number.Type == numberToken {
		w.plain(sign, number.Value)
	} else if w.scanComputed(&l.b.nodes, l.text, t.Pos.Offset+1) != l.toks[end].Pos.Offset {
		return false
	}
	l.b.Words = append(l.b.Words, w)
	return true
}
