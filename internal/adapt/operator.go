package adapt

import (
	"fmt"
	"strings"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/rules"
)

// lost are comments that are left out because the control reads none. What stands
// at a stop is meant for the operator, who must have it from elsewhere.
type lost struct {
	count, line int      // of comments; the first
	before      []string // in the blocks just before, which have nothing else
	told        []string // at stops, the first few, with the stop
	more        int
	stop        int // line of the first
}

// mostTold is how many texts at stops are named.
const mostTold = 6

// losesComments takes over the comments of a block that was just executed.
func (a *adapter) losesComments(b *parser.Block) {
	l := &a.lost
	if _, again := a.structure.texts[b.Offset]; again || a.unroll && a.repeats[b.Offset] {
		return
	}
	var texts []string
	for i := range b.Comments {
		c := &b.Comments[i]
		if strings.IndexByte(a.to.Block.Comments, b.Raw[c.Pos]) >= 0 {
			continue
		}
		text := strings.TrimSpace(strings.Trim(string(b.Text(c.Pos, c.End)), "();"))
		if text == "" || a.asComment(text) != "" {
			continue
		}
		if l.count++; l.count == 1 {
			l.line = b.Line
		}
		texts = append(texts, text)
	}
	stop := a.stopWord(b)
	switch {
	case stop != "":
		l.atStop(stop, b.Line, append(l.before, texts...))
	case len(b.Words) == 0, len(b.Words) == 1 && b.Words[0].Address == 'N':
		l.before = append(l.before, texts...)
		l.before = l.before[max(0, len(l.before)-mostTold):]
		return
	}
	l.before = l.before[:0]
}

// stopWord is the word of a block at which the operator comes; "": none.
func (a *adapter) stopWord(b *parser.Block) string {
	for i := range a.ops {
		op := &a.ops[i]
		if op.Kind == interp.Stop && op.StopKind != interp.End && !op.late && op.Word >= 0 && op.Word < len(b.Words) {
			return string(b.Text(b.Words[op.Word].Pos, b.Words[op.Word].End))
		}
	}
	return ""
}

// atStop notes what the operator is told at a stop.
func (l *lost) atStop(stop string, line int, texts []string) {
	if len(texts) == 0 {
		return
	}
	if l.stop == 0 {
		l.stop = line
	}
	if len(l.told) == mostTold {
		l.more++
		return
	}
	l.told = append(l.told, fmt.Sprintf("%s %q (line %d)", stop, strings.Join(texts, ", "), line))
}

// tellLost says that comments are left out, and what the operator does not read now.
func (a *adapter) tellLost() {
	l := &a.lost
	switch {
	case len(l.told) > 0:
		told := strings.Join(l.told, "; ")
		if l.more > 0 {
			told += fmt.Sprintf(" and %d more", l.more)
		}
		a.leave(rules.Warning, l.stop, fmt.Sprintf("%s reads no comments: they are left out, and with them what the operator is told at stops: %s", a.to.Name, told),
			"Write it on the setup sheet.")
	case l.count > 0:
		a.leave(rules.Note, l.line, fmt.Sprintf("%s reads no comments: they are left out", a.to.Name), "Keep the source: it has them.")
	}
}
