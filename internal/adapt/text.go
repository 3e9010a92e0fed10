package adapt

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"tapefit/parser"
	"tapefit/profiles"
)

// comment is the text of the block's comments, as the machine takes it; "" where
// there is none, or it was written before.
func (a *adapter) comment(b *parser.Block) []byte {
	if len(b.Comments) == 0 || a.unroll && a.repeats[b.Offset] {
		return nil
	}
	var all []byte
	for i := range b.Comments {
		c := &b.Comments[i]
		text := b.Text(c.Pos, c.End)
		if !c.Closed || strings.IndexByte(a.to.Block.Comments, text[0]) < 0 {
			a.did(Comments)
			text = []byte(a.asComment(strings.Trim(string(text), "();")))
		}
		if len(all) > 0 && len(text) > 0 && a.w.blank {
			all = append(all, ' ')
		}
		all = append(all, text...)
	}
	return all
}

// asComment is a text as a comment; "" where the machine takes none.
func (a *adapter) asComment(text string) string {
	marks := a.to.Block.Comments
	if strings.Contains(marks, "(") {
		text = strings.NewReplacer("(", "[", ")", "]").Replace(text)
	}
	text = inCharacters(a.to, strings.TrimSpace(text))
	switch {
	case text == "":
		return ""
	case strings.Contains(marks, "("):
		return "(" + text + ")"
	case strings.Contains(marks, ";"):
		return "; " + text
	}
	return ""
}

// inCharacters is a text for a comment in what the machine reads: capitals for small
// letters, and a blank for what is left.
func inCharacters(m *profiles.Machine, text string) string {
	set, limited := m.Characters()
	if !limited {
		return text
	}
	other := false
	text = strings.Map(func(r rune) rune {
		switch capital := unicode.ToUpper(r); {
		case r < utf8.RuneSelf && set[r]:
			return r
		case capital < utf8.RuneSelf && set[capital]:
			return capital
		}
		other = true
		return ' '
	}, text)
	if other {
		text = strings.Join(strings.Fields(text), " ")
	}
	return text
}

// broken is a comment in pieces of at most longest characters, broken at blanks.
func broken(comment string, longest int) []string {
	if longest <= 2 || len(comment) <= longest {
		return []string{comment}
	}
	first, last := comment[:1], ""
	if first == "(" {
		last = ")"
	}
	text := strings.TrimSuffix(comment[1:], last)
	room := longest - len(first) - len(last)
	var all []string
	for len(text) > room {
		at := strings.LastIndexByte(text[:room+1], ' ')
		if at <= 0 {
			at = room
		}
		all = append(all, first+strings.TrimSpace(text[:at])+last)
		text = strings.TrimSpace(text[at:])
	}
	if text != "" {
		all = append(all, first+text+last)
	}
	return all
}
