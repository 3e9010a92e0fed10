package adapt

import (
	"strings"

	"tapefit/parser"
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
	text = strings.TrimSpace(text)
	marks := a.to.Block.Comments
	switch {
	case text == "":
		return ""
	case strings.Contains(marks, "("):
		return "(" + strings.NewReplacer("(", "[", ")", "]").Replace(text) + ")"
	case strings.Contains(marks, ";"):
		return "; " + text
	}
	return ""
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
