// Package lsp is a language server for part programs: the Language Server Protocol
// 3.17 over a pair of streams. An editor that speaks it shows what the checker finds
// while a program is typed, what a code does on the machine and what is in force at
// a block, and offers to mend. The package judges nothing itself: findings come from
// rules, mendings from adapt.
//
// One goroutine reads messages and applies changes in their order. What takes long
// (a check, an answer) works beside it, on a text that never changes, and ends when
// the next change makes it needless.
package lsp

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/url"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
)

// A Server speaks with one client.
type Server struct {
	*conn
	base     Settings // of the command line
	machines shelf
	checking chan struct{} // bounds how many checks work at a time
	asked    chan struct{} // and how many answers
	working  sync.WaitGroup
	ctx      context.Context // of all work
	client   client

	mu       sync.Mutex // of all below
	phase    phase
	settings Settings
	docs     map[string]*document
	cancels  map[string]context.CancelFunc // of requests at work, by id

	publishing sync.Mutex // diagnostics go out one after the other
}

// client is what the client can do.
type client struct {
	configuration, watching, related, hierarchical, documentChanges bool
}

// phase is where the client and the server stand.
type phase uint8

const (
	fresh    phase = iota // before initialize
	atWork                // after it
	shutDown              // after shutdown
)

// A document is a program that the editor has open.
type document struct {
	uri, path string
	version   int
	text      *text
	current   context.Context    // done when the text is no longer this one
	stop      context.CancelFunc // ends current
	outcome   *outcome           // of the last check; nil before the first
	checked   *checked
}

// Serve speaks with the client until it sends exit or in ends. It is clean where
// the client has sent shutdown and then exit. The error is one of reading, of
// writing, or of a client that does not keep to the base protocol.
func Serve(ctx context.Context, in io.Reader, out io.Writer, base Settings) (clean bool, err error) {
	ctx, stop := context.WithCancel(ctx)
	if base.MaxBlocks <= 0 {
		base.MaxBlocks = DefaultMaxBlocks
	}
	s := &Server{
		conn: newConn(in, out), base: base, settings: base, ctx: ctx,
		checking: make(chan struct{}, runtime.GOMAXPROCS(0)), asked: make(chan struct{}, runtime.GOMAXPROCS(0)),
		docs: map[string]*document{}, cancels: map[string]context.CancelFunc{},
	}
	defer s.working.Wait()
	defer stop()
	for got := range s.messages(ctx) {
		switch {
		case errors.Is(got.err, errTooLong):
			s.tell(got.err.Error())
			continue
		case got.err == io.EOF:
			return false, s.failure()
		case got.err != nil:
			return false, got.err
		}
		if s.handle(got.body) {
			s.mu.Lock()
			defer s.mu.Unlock()
			return s.phase == shutDown, s.failure()
		}
		if err := s.failure(); err != nil {
			return false, err
		}
	}
	return false, nil // interrupted
}

// A received is a message, or why there is none.
type received struct {
	body []byte
	err  error
}

// messages gives what is read, until the context is done: a read from an editor
// that says nothing cannot be cut short, and is left behind.
func (s *Server) messages(ctx context.Context) <-chan received {
	read, given := make(chan received), make(chan received)
	go func() {
		for {
			body, err := s.read()
			select {
			case read <- received{body, err}:
			case <-ctx.Done():
				return
			}
			if err != nil && !errors.Is(err, errTooLong) {
				return
			}
		}
	}()
	go func() {
		defer close(given)
		for {
			select {
			case r := <-read:
				select {
				case given <- r:
				case <-ctx.Done():
					return
				}
			case <-ctx.Done():
				return
			}
		}
	}()
	return given
}

// handle handles one message. It says whether that was exit.
func (s *Server) handle(body []byte) (exit bool) {
	if p := openedBy(body); p != nil {
		if s.atWork() {
			s.didOpen(p)
		}
		return false
	}
	var m incoming
	if err := json.Unmarshal(body, &m); err != nil {
		s.refuse(nil, parseError, "this is no message: "+err.Error())
		return false
	}
	request := len(m.ID) > 0 && string(m.ID) != "null"
	switch {
	case m.Method == "" && request:
		s.answered(&m)
	case m.Method == "":
		s.refuse(nil, invalidRequest, "a message has neither a method nor an id")
	case m.Method == "exit":
		return true
	case request:
		s.request(&m)
	default:
		s.notification(&m)
	}
	return false
}

// openedBy reads the message that a program was opened, nil where it is another. It
// has the whole program in it, which takes long to read, and so is not read twice.
func openedBy(body []byte) *didOpenParams {
	const head = 200 // the method stands in front of its parameters
	if !bytes.Contains(body[:min(len(body), head)], []byte(opens)) {
		return nil
	}
	var m struct {
		ID     json.RawMessage `json:"id"`
		Method string          `json:"method"`
		Params didOpenParams   `json:"params"`
	}
	if json.Unmarshal(body, &m) != nil || m.Method != opens || len(m.ID) > 0 {
		return nil
	}
	return &m.Params
}

const opens = "textDocument/didOpen"

// request answers a request, or has it answered.
func (s *Server) request(m *incoming) {
	s.mu.Lock()
	phase := s.phase
	s.mu.Unlock()
	switch {
	case m.Method == "initialize" && phase == fresh:
		s.initialize(m)
		return
	case m.Method == "initialize":
		s.refuse(m.ID, invalidRequest, "initialize comes once")
		return
	case phase == fresh:
		s.refuse(m.ID, notInitialized, m.Method+" before initialize")
		return
	case phase == shutDown:
		s.refuse(m.ID, invalidRequest, m.Method+" after shutdown")
		return
	case m.Method == "shutdown":
		s.shutdown(m.ID)
		return
	}
	do := map[string]func(context.Context, json.RawMessage) (any, error){
		"textDocument/hover":          s.hover,
		"textDocument/codeAction":     s.codeActions,
		"textDocument/documentSymbol": s.symbols,
		"textDocument/foldingRange":   s.folding,
		"textDocument/definition":     s.definition,
	}[m.Method]
	if do == nil {
		s.refuse(m.ID, methodNotFound, m.Method+" is not known here")
		return
	}
	s.answer(m.ID, m.Params, do)
}

// mostWaiting bounds the requests that are not yet answered.
const mostWaiting = 256

// errParams is what a request has asked in a way that is none.
var errParams = errors.New("the parameters cannot be read")

// answer works on a request beside the reading of messages.
func (s *Server) answer(id, params json.RawMessage, do func(context.Context, json.RawMessage) (any, error)) {
	ctx, cancel := context.WithCancel(s.ctx)
	s.mu.Lock()
	waiting := len(s.cancels)
	_, twice := s.cancels[string(id)]
	if waiting < mostWaiting && !twice {
		s.cancels[string(id)] = cancel
	}
	s.mu.Unlock()
	if waiting >= mostWaiting || twice {
		cancel()
		s.refuse(id, invalidRequest, "too many requests at a time, or one with the id of another")
		return
	}
	s.working.Go(func() {
		s.asked <- struct{}{}
		result, err := do(ctx, params)
		<-s.asked
		s.mu.Lock()
		delete(s.cancels, string(id))
		s.mu.Unlock()
		cancelled := ctx.Err() != nil
		cancel()
		switch {
		case cancelled:
			s.refuse(id, requestCancelled, "cancelled")
		case errors.Is(err, context.Canceled):
			s.refuse(id, contentModified, "the program has changed")
		case errors.Is(err, errParams):
			s.refuse(id, invalidParams, err.Error())
		case err != nil:
			s.refuse(id, internalError, err.Error())
		default:
			s.write(response{"2.0", id, result})
		}
	})
}

func (s *Server) refuse(id json.RawMessage, code int, why string) {
	if id == nil {
		id = json.RawMessage("null")
	}
	s.write(failure{"2.0", id, rpcError{code, why}})
}

// tell shows a person what went wrong.
func (s *Server) tell(what string) {
	s.write(outgoing{Version: "2.0", Method: "window/showMessage", Params: map[string]any{"type": severityError, "message": "tapefit: " + what}})
}

// notification takes note of what the client tells. What is not known is passed
// over, as the protocol wants.
func (s *Server) notification(m *incoming) {
	if !s.atWork() {
		return
	}
	switch m.Method {
	case "initialized":
		s.initialized()
	case opens:
		var p didOpenParams
		if json.Unmarshal(m.Params, &p) == nil {
			s.didOpen(&p)
		}
	case "textDocument/didChange":
		s.didChange(m.Params)
	case "textDocument/didClose":
		s.didClose(m.Params)
	case "textDocument/didSave", "workspace/didChangeWatchedFiles":
		s.again()
	case "workspace/didChangeConfiguration":
		s.didChangeConfiguration(m.Params)
	case "$/cancelRequest":
		s.cancelRequest(m.Params)
	}
}

// atWork says whether the client has begun and not ended.
func (s *Server) atWork() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.phase == atWork
}

func (s *Server) cancelRequest(params json.RawMessage) {
	var p struct {
		ID json.RawMessage `json:"id"`
	}
	if json.Unmarshal(params, &p) != nil {
		return
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if cancel := s.cancels[string(p.ID)]; cancel != nil {
		cancel()
	}
}

// initialize tells the client what can be done here.
func (s *Server) initialize(m *incoming) {
	var p initializeParams
	if err := json.Unmarshal(m.Params, &p); err != nil {
		s.refuse(m.ID, invalidParams, err.Error())
		return
	}
	w, t := &p.Capabilities.Workspace, &p.Capabilities.TextDocument
	s.client = client{w.Configuration, w.WatchedFiles.Dynamic, t.Diagnostics.Related, t.Symbols.Hierarchical, w.WorkspaceEdit.DocumentChanges}
	s.set(p.Options)
	s.mu.Lock()
	s.phase = atWork
	s.mu.Unlock()
	s.write(response{"2.0", m.ID, map[string]any{
		"serverInfo": map[string]string{"name": "tapefit"},
		"capabilities": map[string]any{
			"positionEncoding":       "utf-16",
			"textDocumentSync":       map[string]any{"openClose": true, "change": 2, "save": true},
			"hoverProvider":          true,
			"definitionProvider":     true,
			"documentSymbolProvider": true,
			"foldingRangeProvider":   true,
			"codeActionProvider":     map[string]any{"codeActionKinds": []string{quickFix}},
		},
	}})
}

// Ids of what this server asks the client.
const (
	askWatch         = "watch"
	askConfiguration = "configuration"
)

// initialized asks for what the client is to tell from now on.
func (s *Server) initialized() {
	if s.client.watching {
		watchers := []any{map[string]string{"globPattern": "**/*.toml"}}
		s.write(outgoing{"2.0", askWatch, "client/registerCapability", map[string]any{"registrations": []any{map[string]any{
			"id": "profiles", "method": "workspace/didChangeWatchedFiles", "registerOptions": map[string]any{"watchers": watchers},
		}}}})
	}
	s.ask()
}

// ask asks for the settings, where the client can be asked.
func (s *Server) ask() {
	if s.client.configuration {
		s.write(outgoing{"2.0", askConfiguration, "workspace/configuration", map[string]any{"items": []any{map[string]string{"section": "tapefit"}}}})
	}
}

// answered takes the client's answer.
func (s *Server) answered(m *incoming) {
	var items []json.RawMessage
	if string(m.ID) == `"`+askConfiguration+`"` && json.Unmarshal(m.Result, &items) == nil && len(items) == 1 && s.set(items[0]) {
		s.again()
	}
}

func (s *Server) didChangeConfiguration(params json.RawMessage) {
	var p struct {
		Settings json.RawMessage `json:"settings"`
	}
	if json.Unmarshal(params, &p) == nil && s.set(p.Settings) {
		s.again()
		return
	}
	s.ask()
}

// set takes settings as the client has them: an object with machine, profiles and
// offset, itself or under "tapefit". It says whether it was one. What they do not have is
// that of the command line.
func (s *Server) set(raw json.RawMessage) bool {
	var p struct {
		Settings
		Under *Settings `json:"tapefit"`
	}
	if len(raw) == 0 || string(raw) == "null" {
		return false
	}
	if err := json.Unmarshal(raw, &p); err != nil {
		s.tell("the settings cannot be read: " + wrongSetting(err))
		return false
	}
	set := p.Settings
	if p.Under != nil {
		set = *p.Under
	}
	if set.Machine == "" {
		set.Machine = s.base.Machine
	}
	if s.base.Machine == "" || s.base.Machine == set.Machine {
		set.Offsets = append(set.Offsets, s.base.Offsets...)
	}
	set.Profiles = append(set.Profiles, s.base.Profiles...)
	set.Values, set.MaxBlocks = s.base.Values, s.base.MaxBlocks
	s.mu.Lock()
	s.settings = set
	s.mu.Unlock()
	return true
}

func (s *Server) shutdown(id json.RawMessage) {
	s.mu.Lock()
	s.phase = shutDown
	for _, d := range s.docs {
		d.stop()
	}
	s.mu.Unlock()
	s.write(response{"2.0", id, nil})
}

func (s *Server) didOpen(p *didOpenParams) {
	d := &document{uri: p.TextDocument.URI, path: pathOf(p.TextDocument.URI), version: p.TextDocument.Version, text: newText(p.TextDocument.Text), current: s.ctx, stop: func() {}, checked: new(checked)}
	s.mu.Lock()
	if old := s.docs[d.uri]; old != nil {
		old.stop()
	}
	s.docs[d.uri] = d
	s.mu.Unlock()
	s.machines.clear() // profiles may have been written to meanwhile
	s.start(d)
}

func (s *Server) didChange(params json.RawMessage) {
	var p didChangeParams
	if json.Unmarshal(params, &p) != nil {
		return
	}
	s.mu.Lock()
	d := s.docs[p.TextDocument.URI]
	if d == nil {
		s.mu.Unlock()
		return
	}
	d.stop()
	d.text, d.version = d.text.edited(p.Changes), p.TextDocument.Version
	s.mu.Unlock()
	s.start(d)
}

func (s *Server) didClose(params json.RawMessage) {
	var p atDocument
	if json.Unmarshal(params, &p) != nil {
		return
	}
	uri := p.TextDocument.URI
	s.mu.Lock()
	d := s.docs[uri]
	delete(s.docs, uri)
	s.mu.Unlock()
	if d == nil {
		return
	}
	d.stop()
	s.working.Go(func() {
		s.publishing.Lock()
		defer s.publishing.Unlock()
		s.mu.Lock()
		opened := s.docs[uri] != nil
		s.mu.Unlock()
		if !opened {
			s.publish(publishParams{URI: uri, Diagnostics: []diagnostic{}})
		}
	})
}

// again checks all programs again, with profiles as they are now.
func (s *Server) again() {
	s.machines.clear()
	s.mu.Lock()
	var all []*document
	for _, d := range s.docs {
		d.stop()
		all = append(all, d)
	}
	s.mu.Unlock()
	for _, d := range all {
		s.start(d)
	}
}

// open gives the program that the client asks about, as it is now. A program that
// is not open is none: nil, and there is no answer.
func (s *Server) open(uri string) *opened {
	s.mu.Lock()
	defer s.mu.Unlock()
	d := s.docs[uri]
	if d == nil {
		return nil
	}
	return &opened{uri, d.path, d.version, d.text, s.settings, d.outcome, d.checked, d.current}
}

// An opened is what is known of a program at one moment.
type opened struct {
	uri, path string
	version   int
	text      *text
	settings  Settings
	outcome   *outcome // nil where none is ready; it may be of an earlier text
	checked   *checked
	current   context.Context
}

// ask reads the parameters of a request about a program.
func ask[P any](params json.RawMessage) (p P, err error) {
	if err := json.Unmarshal(params, &p); err != nil {
		return p, fmt.Errorf("%w: %w", errParams, err)
	}
	return p, nil
}

// pathOf is the path of a file URI (RFC 8089), "" of any other.
func pathOf(uri string) string {
	u, err := url.Parse(uri)
	if err != nil || u.Scheme != "file" {
		return ""
	}
	path := u.Path
	if len(path) > 2 && path[0] == '/' && path[2] == ':' { // /c:/folder
		path = path[1:]
	}
	if strings.ContainsRune(path, 0) {
		return ""
	}
	return filepath.FromSlash(path)
}
