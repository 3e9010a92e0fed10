package rules

import (
	"bytes"
	"cmp"
	"context"
	"fmt"
	"reflect"
	"slices"
	"sync"
	"time"

	"tapefit/internal/recall"
	"tapefit/parser"
	"tapefit/profiles"
)

// A Session checks a program again and again while a person writes it. A check
// begins where the program has changed, or little before: at the last of the stops,
// which are images of all that the engine remembers, made every few thousand blocks.
//
// Behind the first call, jump, loop or contour of a cycle there are no stops: what a
// program has come to there hangs on blocks that stand anywhere.
type Session struct {
	machine *profiles.Machine
	set     []*Rule
	path    string
	opt     Options

	mu     sync.Mutex // of all below: one check at a time
	camera *recall.Camera
	e      *engine // nil: none is begun
	text   []byte  // what it has walked, or has begun to
	stops  []stop  // in it
	start  parser.Mark
	every  int // blocks from one to the next
	look   int // blocks from one look at the clock to the next
	since  int // blocks since the last

	ctx    context.Context // of the check that runs
	soon   *Soon           // nil: shown, or not asked for
	begun  time.Time
	from   parser.Mark // where it began
	behind int64       // offset behind what has changed; 0: all is new
	found  *Result     // of the last check that came to its end
	in     []byte      // in this text
}

// A stop is a place from which a check can go on.
type stop struct {
	mark  parser.Mark
	image *recall.Image
}

// Bounds of what a session keeps: beyond them every second stop goes.
const (
	mostStops    = 64
	mostOfImages = 64 << 20 // bytes
	firstEvery   = 4096     // blocks
	firstLook    = 256
)

// Soon is for who waits for findings: what is known when a check has gone on for
// some time and has passed the place of the change. Show is called at most once. What
// it is given are the findings up to there; behind them those of the last check,
// moved as the text has; of rules that speak at the end of a program all are those of
// the last check. They have no Source.
type Soon struct {
	After time.Duration
	Show  func([]Finding)
}

// NewSession makes a session for one program on a machine. Of the options those for
// who looks on are not used.
func NewSession(path string, m *profiles.Machine, set []*Rule, opt Options) *Session {
	opt.Watch, opt.Stretches = nil, false
	return &Session{machine: m, set: set, path: path, opt: opt, camera: recall.NewCamera(sharedByChecks), every: firstEvery, look: firstLook}
}

// sharedByChecks are the types of what the checks of a machine have in common, and
// of blocks, which nobody remembers who does not copy them.
func sharedByChecks(t reflect.Type) bool {
	switch t {
	case reflect.TypeFor[Rule](), reflect.TypeFor[ruleSet](), reflect.TypeFor[houseCondition](),
		reflect.TypeFor[parser.Reader](), reflect.TypeFor[parser.Block](), reflect.TypeFor[parser.Expr]():
		return true
	}
	return t.Kind() == reflect.Struct && t.PkgPath() == reflect.TypeFor[profiles.Machine]().PkgPath()
}

// Check is what Check gives for the text, which must not be changed from now on. It
// ends with the error of the context when that is done.
func (s *Session) Check(ctx context.Context, text []byte, soon *Soon) (*Result, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	src, size := stopping{ctx, bytes.NewReader(text)}, int64(len(text))
	_, code, err := parser.Tape(src, size)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", s.path, err)
	}
	if code != parser.None {
		s.e, s.stops = nil, nil
		opt := s.opt
		opt.Done = ctx.Done()
		return Check(src, size, s.path, s.machine, s.set, opt)
	}
	s.ctx, s.soon, s.begun = ctx, soon, time.Now()
	blocks, err := s.walk(src, text)
	if err = cmp.Or(ctx.Err(), err); err != nil {
		return nil, fmt.Errorf("%s: %w", s.path, err)
	}
	r, err := s.e.finish(src, size, blocks)
	if err != nil {
		return nil, err
	}
	told := *r // the engine goes on with its own
	told.Times.Tools = slices.Clone(r.Times.Tools)
	s.found, s.in = &told, text
	return &told, nil
}

// stopping reads until the context is done.
type stopping struct {
	ctx context.Context
	*bytes.Reader
}

func (r stopping) ReadAt(p []byte, off int64) (int, error) {
	if err := r.ctx.Err(); err != nil {
		return 0, err
	}
	return r.Reader.ReadAt(p, off)
}

// walk walks the text, from the last stop in front of what has changed or from its
// beginning.
func (s *Session) walk(src stopping, text []byte) (blocks int, err error) {
	size := int64(len(text))
	same := commonPrefix(s.text, text)
	_, behind := changed(s.text, text, same)
	if s.text == nil {
		behind = 0
	}
	s.behind, s.since = int64(behind), 0
	start, err := parser.Start(src, size)
	if err != nil {
		return 0, err
	}
	if start != s.start {
		same = 0
	}
	s.keepStops(int64(same), size)
	if len(s.stops) > 0 {
		silences, err := readSilences(src, size)
		if err != nil {
			return 0, err
		}
		if last := s.stops[len(s.stops)-1]; s.goesOn(last, silences) {
			s.text, s.from, s.e.pass.Size = text, last.mark, size
			return s.e.in.Resume(src, size, last.mark, s.ctx.Done())
		}
	}
	opt := s.opt
	opt.Done, opt.between = s.ctx.Done(), s.between
	s.text, s.stops, s.from, s.start = text, nil, start, start
	if s.e, err = newEngine(src, size, s.path, s.machine, s.set, opt); err != nil {
		return 0, err
	}
	return s.e.in.Run(src, size)
}

// keepStops keeps those that lie in front of what has changed.
func (s *Session) keepStops(same, size int64) {
	memory := int64(s.machine.Control.Memory)
	if (size > memory) != (int64(len(s.text)) > memory) { // it comes over the line, or does no more
		same = 0
	}
	n := len(s.stops)
	for n > 0 && s.stops[n-1].mark.Offset >= same {
		n--
	}
	clear(s.stops[n:])
	s.stops = s.stops[:n]
}

// goesOn puts all back as it was at a stop. False: other rules are silenced in front
// of it than were.
func (s *Session) goesOn(at stop, silences []*silence) bool {
	p := &s.e.pass
	n := 0
	for ; n < len(silences) && n < len(p.silences) && silences[n].at.Offset < at.mark.Offset; n++ {
		if !silences[n].alike(p.silences[n], at.mark.Offset) {
			return false
		}
	}
	at.image.Restore()
	for i := range n {
		silences[i].used = silences[i].used || p.silences[i].used
	}
	p.silences = silences
	return true
}

// alike says whether two silences silence the same up to an offset.
func (s *silence) alike(o *silence, upTo int64) bool {
	return s.verb == o.verb && s.rule == o.rule && s.reason == o.reason && s.at == o.at && s.beyond == o.beyond &&
		s.from == o.from && min(s.to, upTo) == min(o.to, upTo)
}

// between is called between two blocks.
func (s *Session) between(whole bool) {
	if s.since++; s.since%s.look != 0 || s.ctx.Err() != nil {
		return
	}
	at := s.e.in.Mark()
	if s.soon != nil && at.Offset >= s.behind && time.Since(s.begun) >= s.soon.After {
		s.soon.Show(s.soFar(at))
		s.soon = nil
	}
	if whole && s.since >= s.every {
		s.since = 0
		s.stops = append(s.stops, stop{at, s.camera.Take(append(slices.Clip(s.e.state), s.e)...)})
		s.thin()
	}
}

// thin takes every second stop away where there are too many.
func (s *Session) thin() {
	size := 0
	for i := range s.stops {
		size += s.stops[i].image.Size()
	}
	if len(s.stops) <= mostStops && size <= mostOfImages {
		return
	}
	n := 0
	for i := 1; i < len(s.stops); i += 2 {
		s.stops[n] = s.stops[i]
		n++
	}
	clear(s.stops[n:])
	s.stops, s.every = s.stops[:n], 2*s.every
}

// soFar are the findings for Soon, where the walk stands.
func (s *Session) soFar(at parser.Mark) []Finding {
	late := map[*Rule]bool{} // they may take back what they have noted
	for i := range s.e.ends {
		late[s.e.ends[i].rule] = true
	}
	all := []Finding{}
	now := map[cause]int{}
	p := &s.e.pass
	for c, r := range p.found.records {
		if !late[c.rule] && r.Message != "" {
			now[c] = len(all)
			all = append(all, p.told(c, r))
		}
	}
	for _, f := range s.moved() {
		i, known := now[cause{f.Rule, f.key}]
		switch {
		case known:
			all[i].Count = max(all[i].Count, f.Count)
			if f.EndLine > all[i].EndLine {
				all[i].EndLine, all[i].EndColumn = f.EndLine, f.EndColumn
			}
		case late[f.Rule] || f.Offset >= at.Offset:
			all = append(all, f)
		}
	}
	sortFindings(all)
	return all
}

// moved are the findings of the last check as they stand in the text now. Those in
// what has changed are left out.
func (s *Session) moved() []Finding {
	if s.found == nil {
		return nil
	}
	same := commonPrefix(s.in, s.text)
	was, is := changed(s.in, s.text, same)
	first := bytes.LastIndexByte(s.text[:same], '\n') + 1
	line := 1
	if from := int(s.from.Offset); from <= first {
		line = s.from.Line + lines(s.text[from:first])
	} else {
		line += lines(s.text[:first])
	}
	behind := line + lines(s.in[first:was])
	more := lines(s.text[first:is]) - lines(s.in[first:was])
	var all []Finding
	for _, f := range s.found.Findings {
		switch {
		case f.Offset >= int64(was):
			f.Offset += int64(is - was)
			f.Line += more
		case f.Offset >= int64(first):
			continue
		}
		if f.EndLine >= behind {
			f.EndLine += more
		}
		all = append(all, f)
	}
	return all
}

// changed gives the offsets of the line behind all that differs in two texts of
// which the first so many bytes are the same.
func changed(old, text []byte, same int) (was, is int) {
	n := commonSuffix(old[same:], text[same:])
	was, is = len(old)-n, len(text)-n
	end := bytes.IndexByte(text[is:], '\n') + 1
	if end == 0 {
		end = n
	}
	return was + end, is + end
}

// lines is the number of line ends in b, which begins a line.
func lines(b []byte) (n int) {
	for len(b) > 0 {
		b = b[parser.LineLength(b):]
		n++
	}
	return n
}

// atOnce is how much of two texts is compared at a time, in bytes.
const atOnce = 4 << 10

// commonPrefix is how many bytes are the same at the beginning of both.
func commonPrefix(a, b []byte) int {
	n, most := 0, min(len(a), len(b))
	for n+atOnce <= most && bytes.Equal(a[n:n+atOnce], b[n:n+atOnce]) {
		n += atOnce
	}
	for n < most && a[n] == b[n] {
		n++
	}
	return n
}

// commonSuffix is how many bytes are the same at the end of both.
func commonSuffix(a, b []byte) int {
	n, most := 0, min(len(a), len(b))
	for n+atOnce <= most && bytes.Equal(a[len(a)-n-atOnce:len(a)-n], b[len(b)-n-atOnce:len(b)-n]) {
		n += atOnce
	}
	for n < most && a[len(a)-n-1] == b[len(b)-n-1] {
		n++
	}
	return n
}
