package lsp

import (
	"strings"
	"sync"
)

// A shelf keeps the machines that were loaded: reading a profile takes longer than
// checking most programs.
type shelf struct {
	mu   sync.Mutex
	kept map[string]*machine
}

// mostKept bounds it: a shop has fewer machines.
const mostKept = 64

// get gives a machine as the profile was when it was first asked for, after the
// last clear.
func (s *shelf) get(name string, folders, values []string) *machine {
	key := strings.Join([]string{name, strings.Join(folders, "\x00"), strings.Join(values, "\x00")}, "\x01")
	s.mu.Lock()
	defer s.mu.Unlock()
	if m := s.kept[key]; m != nil {
		return m
	}
	if s.kept == nil || len(s.kept) >= mostKept {
		s.kept = map[string]*machine{}
	}
	m := load(name, folders, values)
	s.kept[key] = m
	return m
}

// clear makes profiles be read again.
func (s *shelf) clear() {
	s.mu.Lock()
	s.kept = nil
	s.mu.Unlock()
}
