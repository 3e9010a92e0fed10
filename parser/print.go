package parser

import "io"

// Tokens appends the tokens of the block to dst. They stand in order, each
// byte of Raw is in one of them, and none is empty.
func (b *Block) Tokens(dst []Token) []Token {
	end := int32(len(withoutEnd(b.Raw)))
	switch {
	case b.Kind == Outside:
		dst = appendToken(dst, OutsideToken, 0, end)
	case b.Kind == Remainder:
		dst = appendToken(dst, Junk, 0, end)
	case b.Kind == Percent:
		mark := int32(leader(b.Raw, b.Offset))
		for isBlank(b.Raw[mark]) {
			mark++
		}
		dst = appendToken(dst, Space, 0, mark)
		dst = appendToken(dst, PercentToken, mark, end)
	default:
		dst = b.ordinaryTokens(dst, end)
	}
	return appendToken(dst, EndOfBlock, end, int32(len(b.Raw)))
}

// ordinaryTokens merges what was read, each kind of which is in order of place,
// and fills the gaps.
func (b *Block) ordinaryTokens(dst []Token, end int32) []Token {
	words, comments, settings, flow := b.Words, b.Comments, b.Settings, b.Flow
	for at := int32(0); at < end; {
		t := Token{Pos: end, End: end}
		if len(words) > 0 {
			t = Token{WordToken, words[0].Pos, words[0].End}
		}
		if len(comments) > 0 && comments[0].Pos < t.Pos {
			t = Token{CommentToken, comments[0].Pos, comments[0].End}
		}
		if len(settings) > 0 && settings[0].Pos < t.Pos {
			t = Token{SettingToken, settings[0].Pos, settings[0].End}
		}
		if flow != nil && flow.Pos < t.Pos {
			t = Token{FlowToken, flow.Pos, flow.End}
		}
		switch {
		case t.Pos == end:
		case t.Kind == WordToken:
			words = words[1:]
		case t.Kind == CommentToken:
			comments = comments[1:]
		case t.Kind == SettingToken:
			settings = settings[1:]
		default:
			flow = nil
		}
		dst = b.gap(dst, at, t.Pos)
		dst = appendToken(dst, t.Kind, t.Pos, t.End)
		at = t.End
	}
	return dst
}

// gap appends the tokens of what stands between the items, from pos to end:
// blanks, the block delete mark, junk.
func (b *Block) gap(dst []Token, pos, end int32) []Token {
	if pos == 0 {
		start := int32(leader(b.Raw, b.Offset))
		for start < end && isBlank(b.Raw[start]) {
			start++
		}
		dst = appendToken(dst, Space, 0, start)
		pos = start
		if b.Delete > 0 && pos < end && b.Raw[pos] == '/' {
			behind := pos + b.deleteMark(b.Raw[pos:end])
			dst = appendToken(dst, DeleteMark, pos, behind)
			pos = behind
		}
	}
	for pos < end {
		blank := isBlank(b.Raw[pos])
		next := pos + 1
		for next < end && isBlank(b.Raw[next]) == blank {
			next++
		}
		kind := Junk
		if blank {
			kind = Space
		}
		dst = appendToken(dst, kind, pos, next)
		pos = next
	}
	return dst
}

// deleteMark is the length of the block delete mark at the start of s: with
// the switch number, if that is in order.
func (b *Block) deleteMark(s []byte) int32 {
	digit := skipBlanks(s, 1)
	if digit == len(s) || s[digit] != b.Delete+'0' {
		return 1
	}
	if next := skipBlanks(s, digit+1); next < len(s) && isNumeral(s[next]) {
		return 1
	}
	return int32(digit) + 1
}

func appendToken(dst []Token, kind TokenKind, pos, end int32) []Token {
	if pos == end {
		return dst
	}
	return append(dst, Token{kind, pos, end})
}

// Print writes the block as it was written, token by token. Errors are those
// of w.
func Print(w io.Writer, b *Block) error {
	var room [64]Token
	for _, t := range b.Tokens(room[:0]) {
		if _, err := w.Write(b.Text(t.Pos, t.End)); err != nil {
			return err
		}
	}
	return nil
}
