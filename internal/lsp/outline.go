package lsp

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"

	"tapefit/parser"
	"tapefit/profiles"
)

// rank says what stands within what: a program, a tool in it, an operation of the
// tool, a loop, a cycle or a call.
type rank uint8

const (
	ofProgram rank = iota
	ofTool
	ofOperation
	ofLoop
	ofCycle
)

// An item is a stretch of a program that has a name.
type item struct {
	rank       rank
	kind       int
	name, note string
	from, to   int // lines, counted from 0; to is behind the last
	selection  span
	children   []*item
}

// mostItems bounds what is told of one program.
const mostItems = 5000

// An outliner reads a program, in the order of the file and without executing it.
type outliner struct {
	text    *text
	m       *profiles.Machine
	roots   []*item
	open    []*item // one within the other
	folds   []foldingRange
	loops   []int  // lines of DO and WHILE that wait for their END
	tool    string // the last T word
	pending *item  // a comment that stands alone, until it is known what it is about
	begun   bool   // blocks have come since the program began that are no comments
	count   int
}

// outline reads a program. Without a machine codes are those of RS274/NGC.
func outline(ctx context.Context, o *opened, m *profiles.Machine) (*outliner, error) {
	if m == nil {
		var err error
		if m, err = profiles.Find("rs274ngc", nil); err != nil {
			return nil, err
		}
	}
	out := &outliner{text: o.text, m: m}
	src, size := o.reader(ctx)
	r := parser.NewFileReader(src, size)
	for {
		b, err := r.Next()
		if err == io.EOF {
			out.close(ofProgram, len(o.text.starts))
			return out, nil
		}
		if err != nil {
			return nil, err
		}
		if b.Kind == parser.Ordinary {
			out.block(b)
		}
	}
}

func (u *outliner) block(b *parser.Block) {
	line := u.text.lineAt(int(b.Offset))
	alone := len(b.Words) == 0 && b.Flow == nil && len(b.Settings) == 0
	if alone {
		if note := comment(b); note != "" && u.pending == nil {
			u.pending = &item{rank: ofOperation, kind: kindFunction, name: note, from: line, selection: u.place(b, b.Comments[0].Pos, b.Comments[0].End)}
		}
		return
	}
	note, from := comment(b), line
	heading := u.pending
	u.pending = nil
	if heading != nil && note == "" {
		note = heading.name
	}
	if heading != nil {
		from = heading.from
	}
	changed, number := u.toolChange(b)
	switch {
	case b.Word('O') != nil && !u.calls(b):
		w := b.Word('O')
		u.begin(&item{rank: ofProgram, kind: kindModule, name: "O" + strings.TrimLeft(string(b.Text(w.Pos+1, w.End)), " "), note: note, from: from, selection: u.place(b, w.Pos, w.End)})
	case changed >= 0:
		w := &b.Words[changed]
		u.begin(&item{rank: ofTool, kind: kindNamespace, name: "T" + number, note: note, from: from, selection: u.place(b, w.Pos, w.End)})
	case heading != nil && u.begun:
		u.begin(heading)
	case heading != nil && len(u.open) == 1 && u.open[0].note == "":
		u.open[0].note = heading.name // the head of the program
	}
	u.begun = b.Word('O') == nil || u.calls(b)
	if b.Flow != nil {
		u.flow(b, line)
	}
	u.codes(b, line)
}

// comment is the text of the block's first comment for people.
func comment(b *parser.Block) string {
	for _, c := range b.Comments {
		text := strings.Trim(string(b.Text(c.Pos, c.End)), "(); \t\x00")
		if text != "" && !strings.HasPrefix(strings.ToUpper(text), "TAPEFIT") {
			return text
		}
	}
	return ""
}

func (u *outliner) place(b *parser.Block, pos, end int32) span {
	return u.text.span(int(b.Offset)+int(pos), int(b.Offset)+int(end))
}

// toolChange gives the word that changes the tool, and its number; -1 where none
// does.
func (u *outliner) toolChange(b *parser.Block) (word int, number string) {
	word = -1
	for i := range b.Words {
		w := &b.Words[i]
		switch {
		case w.Address == 'T':
			u.tool = "?"
			if w.Expr == nil {
				u.tool = strconv.FormatFloat(w.Value, 'f', -1, 64)
			}
			if u.m.Tools.Word == "tool-offset" {
				word = i
			}
		case w.Address == 'M' && u.meaning(w) == profiles.ToolChange:
			word = i
		}
	}
	return word, u.tool
}

// meaning is what a G or M word does.
func (u *outliner) meaning(w *parser.Word) profiles.Meaning {
	if w.Expr != nil || w.Value < 0 || w.Value > 999.9 {
		return profiles.Refused
	}
	tenths := int(w.Value*10 + 0.5)
	switch w.Address {
	case 'G':
		return u.m.G(tenths)
	case 'M':
		return u.m.M(tenths)
	}
	return profiles.Refused
}

func (u *outliner) calls(b *parser.Block) bool {
	for i := range b.Words {
		if m := u.meaning(&b.Words[i]); m == profiles.CallSubprogram || m == profiles.CallArguments {
			return true
		}
	}
	return false
}

// codes begins and ends cycles, and notes calls.
func (u *outliner) codes(b *parser.Block, line int) {
	for i := range b.Words {
		w := &b.Words[i]
		meaning := u.meaning(w)
		name := string(b.Text(w.Pos, w.End))
		switch {
		case meaning.IsCycle() || meaning >= profiles.TurnCycle && meaning <= profiles.ThreadPassCycle:
			if u.inCycle(name) {
				continue
			}
			u.begin(u.cycle(b, w, meaning, line))
		case meaning == profiles.CycleOff:
			u.close(ofCycle, line+1)
		case meaning.Group() == profiles.MotionGroup:
			u.close(ofCycle, line)
		case meaning.IsTurning() && meaning != profiles.CallArguments:
			u.begin(u.cycle(b, w, meaning, line))
			u.close(ofCycle, line+1)
		case meaning == profiles.CallSubprogram || meaning == profiles.CallArguments:
			called := ""
			if p := b.Word('P'); p != nil {
				called = " " + string(b.Text(p.Pos, p.End))
			}
			u.begin(&item{rank: ofCycle, kind: kindEvent, name: name + called, note: "call", from: line, selection: u.place(b, w.Pos, w.End)})
			u.close(ofCycle, line+1)
		}
	}
}

// inCycle says whether a cycle of the name is being made: its code may stand in
// each block.
func (u *outliner) inCycle(name string) bool {
	n := len(u.open)
	return n > 0 && u.open[n-1].rank == ofCycle && u.open[n-1].name == name
}

func (u *outliner) cycle(b *parser.Block, w *parser.Word, meaning profiles.Meaning, line int) *item {
	return &item{
		rank: ofCycle, kind: kindMethod, name: string(b.Text(w.Pos, w.End)), note: strings.ReplaceAll(meaning.String(), "-", " "),
		from: line, selection: u.place(b, w.Pos, w.End),
	}
}

// flow begins and ends loops.
func (u *outliner) flow(b *parser.Block, line int) {
	f := b.Flow
	switch f.Kind {
	case parser.While, parser.Do:
		u.loops = append(u.loops, line)
		text := strings.TrimSpace(string(b.Text(f.Pos, f.End)))
		if len(text) > 60 {
			text = strings.ToValidUTF8(text[:60], "") + "..."
		}
		u.push(&item{rank: ofLoop, kind: kindOperator, name: text, note: "loop", from: line, selection: u.place(b, f.Pos, f.End)})
	case parser.EndDo:
		if n := len(u.loops); n > 0 {
			u.fold(u.loops[n-1], line+1)
			u.loops = u.loops[:n-1]
		}
		for n := len(u.open); n > 0; n-- {
			if u.open[n-1].rank == ofLoop {
				u.closeTo(n-1, line+1)
				break
			}
		}
	}
}

// begin begins an item behind all of its rank.
func (u *outliner) begin(it *item) {
	u.close(it.rank, it.from)
	u.push(it)
}

func (u *outliner) push(it *item) {
	if u.count++; u.count > mostItems {
		return
	}
	if n := len(u.open); n > 0 {
		u.open[n-1].children = append(u.open[n-1].children, it)
	} else {
		u.roots = append(u.roots, it)
	}
	u.open = append(u.open, it)
}

// close ends all items of the rank and within it, in front of a line.
func (u *outliner) close(r rank, line int) {
	for i, it := range u.open {
		if it.rank >= r {
			u.closeTo(i, line)
			return
		}
	}
}

func (u *outliner) closeTo(n, line int) {
	for _, it := range u.open[n:] {
		it.to = max(line, it.from+1)
		if it.rank != ofLoop {
			u.fold(it.from, it.to)
		}
	}
	u.open = u.open[:n]
}

// fold notes lines that can be folded, from on and before to.
func (u *outliner) fold(from, to int) {
	for to > from+1 { // blank lines at the end stay
		if a, b := u.text.line(min(to-1, len(u.text.starts)-1)); strings.TrimSpace(string(u.text.bytes[a:b])) != "" {
			break
		}
		to--
	}
	if to-from > 1 && len(u.folds) < mostItems {
		u.folds = append(u.folds, foldingRange{from, to - 1, "region"})
	}
}

// symbols lists tools and operations.
func (s *Server) symbols(ctx context.Context, params json.RawMessage) (any, error) {
	u, o, err := s.outlined(ctx, params)
	if err != nil || u == nil {
		return nil, err
	}
	if !s.client.hierarchical {
		return flat(u, o.uri, u.roots, "", []flatSymbol{}), nil
	}
	return nested(u, u.roots), nil
}

func nested(u *outliner, items []*item) []documentSymbol {
	all := []documentSymbol{}
	for _, it := range items {
		all = append(all, documentSymbol{it.name, it.note, it.kind, u.text.lineSpan(it.from, it.to), it.selection, nested(u, it.children)})
	}
	return all
}

func flat(u *outliner, uri string, items []*item, in string, all []flatSymbol) []flatSymbol {
	for _, it := range items {
		name := it.name
		if it.note != "" {
			name = fmt.Sprintf("%s (%s)", it.name, it.note)
		}
		all = append(all, flatSymbol{name, it.kind, location{uri, u.text.lineSpan(it.from, it.to)}, in})
		all = flat(u, uri, it.children, name, all)
	}
	return all
}

// folding lists what can be folded: programs, tools, operations, cycles, loops.
func (s *Server) folding(ctx context.Context, params json.RawMessage) (any, error) {
	u, _, err := s.outlined(ctx, params)
	if err != nil || u == nil {
		return nil, err
	}
	if u.folds == nil {
		return []foldingRange{}, nil
	}
	return u.folds, nil
}

func (s *Server) outlined(ctx context.Context, params json.RawMessage) (*outliner, *opened, error) {
	p, err := ask[atDocument](params)
	if err != nil {
		return nil, nil, err
	}
	o := s.open(p.TextDocument.URI)
	if o == nil {
		return nil, nil, nil
	}
	u, err := outline(ctx, o, s.choose(o.text, o.path, o.settings).profile())
	return u, o, err
}

// profile is the chosen machine, or nil.
func (c choice) profile() *profiles.Machine {
	if c.machine == nil {
		return nil
	}
	return c.Machine
}
