package adapt

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"tapefit/parser"
	"tapefit/profiles"
	"tapefit/rules"
)

// Guessed is the base by which programs are read that nobody says the machine of.
const Guessed = "lenient"

// GearSettings are for a base, which is no machine and has no gears: with them it
// takes the codes that common practice has for gears, without effect.
func GearSettings(m *profiles.Machine) []string {
	var settings []string
	for tenths := 400; tenths < 450; tenths += 10 {
		if m.Kind == "" && m.M(tenths) == profiles.Refused {
			settings = append(settings, fmt.Sprintf("codes.M%d=accepted", tenths/10))
		}
	}
	return settings
}

// A Mender mends single findings of one program. It holds the program and what
// adapting makes of it, a few times over, in memory: it is for an editor, which
// does so too.
type Mender struct {
	src    []byte
	path   string
	opt    Options
	before *rules.Result
	runs   map[string]*mendRun // by the pass asked for; "" by none
}

// A mendRun is the whole program, adapted.
type mendRun struct {
	res    *Result // nil: it cannot be adapted
	pieces []piecemeal
}

// A piecemeal is what adapting made of some blocks of the source: the lines from
// from on, before to, are written as text. They may be none: from = to.
type piecemeal struct {
	from, to int
	text     []string
}

// An Edit writes the lines of the source from From on, before To, anew. Lines count
// from 1. Text is whole lines with their ends.
type Edit struct {
	From, To int
	Text     string
}

// A Mending is what mends a finding.
type Mending struct {
	Asked *Pass // nil, or the pass that makes the change, one that changes what the machine does
	Edits []Edit
	Whole bool // all that the machine needs is in it, since this finding cannot be mended alone
}

// NewMender makes one for the program src. Of the options, passes are chosen by
// the finding.
func NewMender(src []byte, path string, opt Options) *Mender {
	return &Mender{src: src, path: path, opt: opt, runs: map[string]*mendRun{}}
}

// Mends says whether a pass is for findings of the rule, without looking whether
// it can mend this one.
func Mends(rule string) bool { return len(passesFor(rule)) > 0 }

func passesFor(rule string) []*Pass {
	return slices.DeleteFunc(Passes(), func(p *Pass) bool { return !slices.Contains(p.Mends, rule) })
}

// Mend gives the smallest change that mends the finding, or nil where there is
// none. The change is made of what adapting the whole program writes for the blocks
// of the finding. After it the finding is gone on the machine, none is new, and
// what the program does, as it was written, is proven the same. Where that does
// not hold for the blocks alone, what adapting makes of the program is taken
// whole. The error is one of the checks, or context.Canceled where stop was closed.
func (m *Mender) Mend(f *rules.Finding, stop <-chan struct{}) (*Mending, error) {
	m.opt.Done = stop
	passes := passesFor(f.Rule.Name)
	if len(passes) == 0 {
		return nil, nil
	}
	// Passes that are made unasked come first: they leave what the machine does.
	if slices.ContainsFunc(passes, func(p *Pass) bool { return !p.Asked }) {
		return m.mendBy(f, "")
	}
	for _, p := range passes {
		if mending, err := m.mendBy(f, p.Name); mending != nil || err != nil {
			return mending, err
		}
	}
	return nil, nil
}

// mendBy is Mend by a pass that is asked for, or by those that are made unasked.
func (m *Mender) mendBy(f *rules.Finding, asked string) (*Mending, error) {
	run, err := m.run(asked)
	if err != nil || run.res == nil {
		return nil, err
	}
	for _, near := range [...]bool{false, true} {
		edits := run.edits(f, near)
		if len(edits) == 0 {
			continue
		}
		if good, err := m.proven(run, f, edits); err != nil {
			return nil, err
		} else if good {
			return &Mending{Asked: Find(asked), Edits: edits}, nil
		}
	}
	if run.res.Written && of(run.res.After, f.Rule.Name) < of(m.before, f.Rule.Name) {
		return &Mending{Asked: Find(asked), Edits: run.all(), Whole: true}, nil
	}
	return nil, nil
}

// run adapts the program, once for each pass that may be asked for.
func (m *Mender) run(asked string) (*mendRun, error) {
	if run := m.runs[asked]; run != nil {
		return run, nil
	}
	opt := m.opt
	opt.Passes = map[string]bool{ToolChange: false} // no finding is mended by it
	if asked != "" {
		opt.Passes[asked] = true
	}
	out := &inMemory{room: 8*len(m.src) + 1<<20}
	src := bytes.NewReader(m.src)
	res, err := Run(out, src, src.Size(), m.path, opt)
	if ended(opt.Done) {
		return nil, context.Canceled
	}
	run := &mendRun{}
	m.runs[asked] = run
	// Where the proof failed, or a person must decide elsewhere, pieces may be good
	// all the same: each is proven alone.
	if res == nil || res.Before == nil || res.Fits || len(res.Unfollowed) > 0 || len(out.text) == 0 {
		return run, nil
	}
	if err != nil {
		res.Written = false
	}
	m.before, run.res = res.Before, res
	run.pieces, err = pieces(m.src, out.text)
	return run, err
}

func ended(c <-chan struct{}) bool {
	select {
	case <-c:
		return true
	default:
		return false
	}
}

// pieces are the blocks that differ. What stands in the output alone goes with
// the block in front of it.
func pieces(src, out []byte) ([]piecemeal, error) {
	var all []piecemeal
	line, end := 1, lineEndOf(src)
	err := Align(bytes.NewReader(src), int64(len(src)), bytes.NewReader(out), int64(len(out)), func(r Row) bool {
		from := line
		if r.Source != nil {
			line = r.Source.Line + 1
		}
		if r.Same {
			return true
		}
		var text []string
		if r.Out != nil {
			text = []string{r.Out.Text + end}
		}
		if last := len(all) - 1; r.Source == nil && last >= 0 && all[last].to == from {
			all[last].text = append(all[last].text, text...)
		} else {
			all = append(all, piecemeal{from, line, text})
		}
		return true
	})
	return all, err
}

// lineEndOf is how the first line of the program ends.
func lineEndOf(src []byte) string {
	switch i := bytes.IndexAny(src, "\r\n"); {
	case i < 0 || src[i] == '\n':
		return "\n"
	case i+1 < len(src) && src[i+1] == '\n':
		return "\r\n"
	}
	return "\r"
}

// edits are the pieces at the blocks of the finding; of near, those too that
// touch them, and those that touch these.
func (r *mendRun) edits(f *rules.Finding, near bool) []Edit {
	from, to := f.Line, max(f.Line, f.EndLine)+1
	hits := func(p piecemeal) bool {
		if near || p.from == p.to {
			return p.from <= to && p.to >= from
		}
		return p.from < to && p.to > from
	}
	for grown := near; grown; {
		grown = false
		for _, p := range r.pieces {
			if hits(p) && (p.from < from || p.to > to) {
				from, to, grown = min(from, p.from), max(to, p.to), true
			}
		}
	}
	return joined(r.pieces, hits)
}

// joined are the edits of some pieces; what touches is one edit.
func joined(pieces []piecemeal, some func(piecemeal) bool) []Edit {
	var edits []Edit
	for _, p := range pieces {
		if !some(p) {
			continue
		}
		text := strings.Join(p.text, "")
		if last := len(edits) - 1; last >= 0 && edits[last].To == p.from {
			edits[last].To = p.to
			edits[last].Text += text
		} else {
			edits = append(edits, Edit{p.from, p.to, text})
		}
	}
	return edits
}

func (r *mendRun) all() []Edit { return joined(r.pieces, func(piecemeal) bool { return true }) }

// proven says whether the edits mend the finding and change nothing else.
func (m *Mender) proven(run *mendRun, f *rules.Finding, edits []Edit) (bool, error) {
	text := Apply(m.src, edits)
	src := bytes.NewReader(text)
	checked := rules.Options{Offsets: m.opt.Offsets, MaxBlocks: m.opt.MaxBlocks, Done: m.opt.Done}
	after, err := rules.Check(src, src.Size(), m.path, m.opt.To, rules.All(), checked)
	if err != nil {
		return false, err
	}
	if has(after, f) || !none(after, m.before) {
		return false, nil
	}
	is := Side{bytes.NewReader(m.src), int64(len(m.src)), run.res.From, m.opt.Offsets}
	al := run.res.allowed(&m.opt)
	al.GearsLeft = al.GearsAdded // of those that other findings need
	for _, reader := range [...]*profiles.Machine{run.res.From, m.opt.To} {
		if ended(m.opt.Done) {
			return false, context.Canceled
		}
		var different *Difference
		out := Side{src, src.Size(), reader, m.opt.Offsets}
		proof, err := Prove(is, out, al)
		whole := err == nil && len(proof.Limits) == 0 // what could not be followed may be what is left out
		if whole && bytes.IndexByte(m.src, '/') >= 0 {
			_, err = switched(is, out, al)
		}
		if whole && err == nil {
			return true, nil
		}
		if err != nil && !errors.As(err, &different) {
			return false, err
		}
	}
	return false, nil
}

// has says whether the finding is among the result's. Lines may have moved.
func has(r *rules.Result, f *rules.Finding) bool {
	return slices.ContainsFunc(r.Findings, func(g rules.Finding) bool { return same(&g, f) })
}

// of counts the findings of a rule. What they say may change with the program: how
// big it is.
func of(r *rules.Result, rule string) (n int) {
	for i := range r.Findings {
		if r.Findings[i].Rule.Name == rule {
			n++
		}
	}
	return n
}

func same(a, b *rules.Finding) bool { return a.Rule.Name == b.Rule.Name && a.Message == b.Message }

// none says whether nothing is found that was not before.
func none(after, before *rules.Result) bool {
	return !slices.ContainsFunc(after.Findings, func(f rules.Finding) bool {
		return !has(before, &f)
	})
}

// Apply gives the program with the edits made. They stand in order.
func Apply(src []byte, edits []Edit) []byte {
	var out []byte
	line, rest := 1, src
	next := func() []byte {
		n := parser.LineLength(rest)
		taken := rest[:n]
		rest = rest[n:]
		line++
		return taken
	}
	for _, e := range edits {
		for line < e.From && len(rest) > 0 {
			out = append(out, next()...)
		}
		if n := len(out); n > 0 && out[n-1] != '\n' && out[n-1] != '\r' {
			out = append(out, lineEndOf(src)...) // the last line has no end
		}
		out = append(out, e.Text...)
		for line < e.To && len(rest) > 0 {
			next()
		}
	}
	return append(out, rest...)
}

// inMemory is a File in memory, of bounded size: loops may be written out.
type inMemory struct {
	text []byte
	room int
}

func (f *inMemory) Write(p []byte) (int, error) {
	if len(f.text)+len(p) > f.room {
		return 0, errors.New("written out, the program is too long for an editor")
	}
	f.text = append(f.text, p...)
	return len(p), nil
}

func (f *inMemory) ReadAt(p []byte, off int64) (int, error) {
	if off >= int64(len(f.text)) {
		return 0, io.EOF
	}
	n := copy(p, f.text[off:])
	if n < len(p) {
		return n, io.EOF
	}
	return n, nil
}
