package lsp

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"tapefit/internal/adapt"
	"tapefit/rules"
)

// An outcome is what a check of one text came to.
type outcome struct {
	text   *text
	choice choice
	result *rules.Result // nil where there is no machine
	shown  []diagnostic  // one for each finding, in order; of the machine where there is none

	mending sync.Mutex
	mender  *adapt.Mender // made by the first that asks
}

// start checks a program as it is now, beside all else.
func (s *Server) start(d *document) {
	ctx, stop := context.WithCancel(s.ctx)
	s.mu.Lock()
	d.stop()
	d.current, d.stop = ctx, stop
	o := &opened{d.uri, d.path, d.version, d.text, s.settings, nil, d.checked, ctx}
	s.mu.Unlock()
	s.working.Go(func() {
		select {
		case s.checking <- struct{}{}:
		case <-ctx.Done():
			return
		}
		out, err := s.check(ctx, o, func(shown []diagnostic) { s.show(d, o, nil, shown) })
		<-s.checking
		if ctx.Err() != nil {
			return
		}
		if err != nil {
			s.tell(err.Error())
			return
		}
		s.show(d, o, out, out.shown)
	})
}

// show publishes what was found, unless the program has changed meanwhile. out is
// nil where the check still goes on.
func (s *Server) show(d *document, o *opened, out *outcome, shown []diagnostic) {
	s.publishing.Lock()
	defer s.publishing.Unlock()
	s.mu.Lock()
	current := s.docs[o.uri] == d && d.text == o.text && s.phase == atWork
	if current && out != nil {
		d.outcome = out
	}
	s.mu.Unlock()
	if current {
		s.publish(publishParams{o.uri, &o.version, shown})
	}
}

func (s *Server) publish(p publishParams) {
	s.write(outgoing{Version: "2.0", Method: "textDocument/publishDiagnostics", Params: p})
}

// until reads a text until the context is done, so that the next change ends what
// is done with it.
type until struct {
	ctx context.Context
	io.ReaderAt
}

func (r until) ReadAt(p []byte, off int64) (int, error) {
	if err := r.ctx.Err(); err != nil {
		return 0, err
	}
	return r.ReaderAt.ReadAt(p, off)
}

func (o *opened) reader(ctx context.Context) (src io.ReaderAt, size int64) {
	return until{ctx, bytes.NewReader(o.text.bytes)}, int64(len(o.text.bytes))
}

// What is found by then is shown while a check goes on: behind an edit, which a
// person waits for with his hand on the key, and in a program that was opened.
const (
	soonEdited = 30 * time.Millisecond
	soonOpened = 150 * time.Millisecond
)

// A checked is the program of a document as it was checked last, for one machine.
type checked struct {
	mu      sync.Mutex
	machine *machine
	laid    string
	session *rules.Session
}

// on gives the session for a machine and its work offsets, and whether it has begun
// before.
func (c *checked) on(on *choice, path string, max int64) (s *rules.Session, begun bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if begun = c.machine == on.machine && c.laid == on.laid; !begun {
		c.machine, c.laid = on.machine, on.laid
		c.session = rules.NewSession(path, on.Machine, on.rules, rules.Options{MaxBlocks: max, Offsets: on.offsets})
	}
	return c.session, begun
}

// check checks a program. What is found is shown while it goes on, if that takes
// long and show is not nil.
func (s *Server) check(ctx context.Context, o *opened, show func([]diagnostic)) (*outcome, error) {
	out := &outcome{text: o.text, choice: s.choose(o.text, o.path, o.settings), shown: []diagnostic{}}
	c := &out.choice
	if c.err != nil || c.machine == nil || c.machine.err != nil {
		out.shown = append(out.shown, c.trouble(o.text))
		return out, nil
	}
	session, begun := o.checked.on(c, o.path, o.settings.MaxBlocks)
	var soon *rules.Soon
	if show != nil {
		soon = &rules.Soon{After: soonOpened, Show: func(found []rules.Finding) { show(s.diagnostics(o, found)) }}
		if begun {
			soon.After = soonEdited
		}
	}
	r, err := session.Check(ctx, o.text.bytes, soon)
	if err != nil {
		return nil, err
	}
	out.result, out.shown = r, s.diagnostics(o, r.Findings)
	return out, nil
}

func (s *Server) diagnostics(o *opened, found []rules.Finding) []diagnostic {
	shown := make([]diagnostic, 0, len(found))
	for i := range found {
		shown = append(shown, s.diagnostic(o, &found[i]))
	}
	return shown
}

// noMachine is the code of the note that a program is for no machine, and
// badMachine that of the error that its machine cannot be had. They are no rules.
const (
	noMachine  = "no-machine"
	badMachine = "bad-machine"
)

// trouble says that there is no machine to check for, and how to name one.
func (c *choice) trouble(t *text) diagnostic {
	d := diagnostic{Range: t.span(t.line(0)), Severity: severityInformation, Code: noMachine, Source: source}
	err := c.err
	if err == nil && c.machine != nil {
		err = c.machine.err
	}
	if err == nil {
		var names []string
		for _, e := range c.known() {
			names = append(names, e.Name)
		}
		slices.Sort(names)
		d.Message = fmt.Sprintf("not checked: nothing says for which machine this program is.\n"+
			"Write (TAPEFIT MACHINE name) in it, or machine = \"name\" in a file %s in its folder, or set \"machine\" in the editor's settings for tapefit.\n"+
			"Known are %s; \"tapefit machines new\" makes a profile of your own.", FolderFile, strings.Join(names, ", "))
		return d
	}
	d.Severity, d.Code = severityError, badMachine
	if c.end > c.at {
		d.Range = t.span(c.at, c.end)
	}
	d.Message = "not checked: " + err.Error()
	if c.by != "" {
		d.Message += "\nThe machine is named by " + c.by + "."
	}
	return d
}

const source = "tapefit"

// diagnostic is a finding as the editor shows it: at its first place, with the
// advice below the message.
func (s *Server) diagnostic(o *opened, f *rules.Finding) diagnostic {
	from, to := place(f)
	d := diagnostic{
		Range: o.text.span(from, to), Code: f.Rule.Name, Source: source, Message: f.Message + "\n" + f.Advice,
		Severity: [...]int{rules.Error: severityError, rules.Warning: severityWarning, rules.Note: severityInformation}[f.Level],
	}
	if f.Count > 1 {
		d.Message += fmt.Sprintf("\nThis comes %d times, from line %d to %d.", f.Count, f.Line, f.EndLine)
		if s.client.related && f.EndLine > f.Line && f.EndLine <= len(o.text.starts) {
			d.Related = []related{{location{o.uri, o.text.lineSpan(f.EndLine-1, f.EndLine)}, "the last place"}}
		}
	}
	return d
}

// place is the first place of a finding, in bytes.
func place(f *rules.Finding) (from, to int) {
	return int(f.Offset) + f.Column - 1, int(f.Offset) + f.MarkEnd - 1
}

// name is the program's, for people.
func (o *opened) name() string {
	if o.path == "" {
		return o.uri
	}
	return filepath.Base(o.path)
}
