package lsp

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"tapefit/internal/adapt"
	"tapefit/parser"
	"tapefit/profiles"
	"tapefit/rules"
)

const quickFix = "quickfix"

// codeActions offers what can be done about what was found in a range: to mend it,
// to silence it, and to name the machine.
func (s *Server) codeActions(ctx context.Context, params json.RawMessage) (any, error) {
	p, err := ask[codeActionParams](params)
	if err != nil {
		return nil, err
	}
	all := []codeAction{}
	o := s.open(p.TextDocument.URI)
	if o == nil || !wants(p.Context.Only) {
		return all, nil
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	defer context.AfterFunc(o.current, stop)() // of a text that is no more nobody wants to know
	out := o.outcome
	if out == nil || out.text != o.text { // the program has changed, and its check is not ready
		if out, err = s.check(ctx, o, nil); err != nil {
			return nil, err
		}
	}
	if out.result == nil {
		for _, d := range out.shown {
			if overlaps(d.Range, p.Range) {
				all = append(all, s.namings(o, &out.choice, d)...)
			}
		}
		return all, nil
	}
	for i := range out.shown {
		if !overlaps(out.shown[i].Range, p.Range) {
			continue
		}
		f := &out.result.Findings[i]
		mended, err := s.mending(ctx, o, out, f, out.shown[i])
		if err != nil {
			return nil, err
		}
		all = append(append(all, mended...), s.silencings(o, out, f, out.shown[i])...)
	}
	return all, nil
}

// wants says whether the kinds that the client asks for have quick fixes among
// them; none stands for all.
func wants(only []string) bool {
	return len(only) == 0 || slices.Contains(only, quickFix) || slices.Contains(only, "")
}

// overlaps says whether two ranges have a line in common and touch there.
func overlaps(a, b span) bool { return !before(a.End, b.Start) && !before(b.End, a.Start) }

func before(a, b position) bool {
	return a.Line < b.Line || a.Line == b.Line && a.Character < b.Character
}

// mending offers what adapting the program makes of the finding's blocks.
func (s *Server) mending(ctx context.Context, o *opened, out *outcome, f *rules.Finding, d diagnostic) ([]codeAction, error) {
	if !adapt.Mends(f.Rule.Name) {
		return nil, nil
	}
	out.mending.Lock() // one at a time: the next may be ready then
	defer out.mending.Unlock()
	if out.mender == nil {
		c := out.choice
		out.mender = adapt.NewMender(o.text.bytes, o.name(), adapt.Options{From: c.from, To: c.Machine, Offsets: c.offsets, Guess: true, MaxBlocks: o.settings.MaxBlocks})
	}
	m, err := out.mender.Mend(f, ctx.Done())
	if m == nil || err != nil {
		return nil, err
	}
	title := mendTitle(o.text, m)
	if m.Whole {
		title = fmt.Sprintf("Write the whole program for %s: %s alone cannot be mended, %d places change", out.choice.Name, f.Rule.Name, len(m.Edits))
	}
	var edits []textEdit
	for _, e := range m.Edits {
		edits = append(edits, textEdit{o.text.lineSpan(e.From-1, e.To-1), o.withEnd(e)})
	}
	return []codeAction{{Title: title, Kind: quickFix, Diagnostics: []diagnostic{d}, Preferred: !m.Whole && m.Asked == nil, Edit: s.edit(o, edits)}}, nil
}

// withEnd is the new text of an edit; behind a last line without an end it brings one.
func (o *opened) withEnd(e adapt.Edit) string {
	if last := len(o.text.starts); e.From > last && len(o.text.bytes) > 0 && o.text.starts[last-1] < len(o.text.bytes) {
		return o.text.lineEnd() + e.Text
	}
	return e.Text
}

// mendTitle shows what is written.
func mendTitle(t *text, m *adapt.Mending) string {
	const most = 60
	lines := strings.FieldsFunc(m.Edits[0].Text, func(r rune) bool { return r == '\n' || r == '\r' })
	if len(lines) == 0 {
		return "Mend: leave the block out"
	}
	text := strings.Join(lines, " / ")
	if len(text) > most {
		text = strings.ToValidUTF8(text[:most], "") + "..."
	}
	if n := len(m.Edits); n > 1 {
		text += fmt.Sprintf(" (and %d more)", n-1)
	}
	if m.Asked != nil && m.Asked.Alters {
		return "Change what the machine does (" + m.Asked.Name + "): write " + text
	}
	return "Mend: write " + text
}

// silencings offers comments that silence the rule. Each has no reason yet, and so
// silences nothing until a person writes one.
func (s *Server) silencings(o *opened, out *outcome, f *rules.Finding, d diagnostic) []codeAction {
	if f.Rule.Family == "silence" || f.Line < 1 {
		return nil
	}
	line := o.text.lineAt(int(f.Offset))
	if from, to := o.text.line(line); strings.HasPrefix(strings.TrimSpace(string(o.text.bytes[from:to])), "%") {
		return nil // what stands in front of the mark is no part of the program
	}
	offer := func(verb, what string) []codeAction {
		comment, ok := commentFor(out.choice.Machine, "TAPEFIT "+verb+" "+f.Rule.Name+": ")
		if !ok {
			return nil
		}
		at := position{Line: line}
		edit := s.edit(o, []textEdit{{span{at, at}, comment + o.text.lineEnd()}})
		return []codeAction{{Title: "Silence " + f.Rule.Name + " " + what + ": write the reason into the comment", Kind: quickFix, Diagnostics: []diagnostic{d}, Edit: edit}}
	}
	all := offer("SKIP", "in this block")
	if f.Count > 1 {
		all = append(all, offer("OFF", "from here on")...)
	}
	return all
}

// commentFor writes a comment in a way that the machine takes; ok is false where it
// takes none, or none so long.
func commentFor(m *profiles.Machine, text string) (comment string, ok bool) {
	if set, limited := m.Characters(); limited && strings.ContainsFunc(text, func(r rune) bool { return r > 127 || !set[r] }) {
		text = strings.ToUpper(strings.ReplaceAll(text, ":", "")) // names are read in any case, and without the colon
	}
	switch {
	case strings.Contains(m.Block.Comments, "("):
		comment = "(" + text + ")"
	case strings.Contains(m.Block.Comments, ";"):
		comment = "; " + text
	}
	return comment, comment != "" && (m.Block.Longest == 0 || len(comment) <= m.Block.Longest)
}

// namings offers a comment that names a machine, for each that is known.
func (s *Server) namings(o *opened, c *choice, d diagnostic) []codeAction {
	if d.Code != noMachine {
		return nil
	}
	at, front := o.text.head()
	var all []codeAction
	for _, e := range c.known() {
		if e.Base {
			continue
		}
		edit := s.edit(o, []textEdit{{span{at, at}, front + "(TAPEFIT MACHINE " + e.Name + ")" + o.text.lineEnd()}})
		all = append(all, codeAction{Title: "This program is for " + e.Name + ": " + e.Title, Kind: quickFix, Diagnostics: []diagnostic{d}, Edit: edit})
	}
	return all
}

// head is where a block comes to stand first in the program: what is in front of
// the first % mark is no part of it, and no control reads it. front goes before the
// block, where the text ends without an end of line.
func (t *text) head() (at position, front string) {
	r := parser.NewFileReader(bytes.NewReader(t.bytes), int64(len(t.bytes)))
	first := -1 // line behind the mark
	for {
		b, err := r.Next()
		if err != nil { // at the end: of a text in memory there is no other
			break
		}
		switch {
		case b.Kind == parser.Percent || b.Kind == parser.Outside:
			first = -1
			continue
		case first < 0:
			first = t.lineAt(int(b.Offset))
		}
		if len(bytes.TrimSpace(b.Raw)) > 0 { // blank lines may stand before the mark too
			break
		}
	}
	if first >= 0 {
		return position{Line: first}, ""
	}
	if from, to := t.line(len(t.starts) - 1); from < to {
		front = t.lineEnd()
	}
	return t.span(len(t.bytes), len(t.bytes)).Start, front
}

// edit is a change of the program as it was when it was asked about.
func (s *Server) edit(o *opened, edits []textEdit) workspaceEdit {
	if s.client.documentChanges {
		return workspaceEdit{DocumentChanges: []documentEdit{{documentID{o.uri, o.version}, edits}}}
	}
	return workspaceEdit{Changes: map[string][]textEdit{o.uri: edits}}
}

// lineEnd is how lines of the text end: as the first one does.
func (t *text) lineEnd() string {
	if len(t.starts) < 2 {
		return "\n"
	}
	_, to := t.line(0)
	return string(t.bytes[to:t.starts[1]])
}
