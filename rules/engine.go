package rules

import (
	"io"

	"tapefit/profiles"
)

// A Pass is one walk over one program. Checkers report through it.
type Pass struct{}

// All are the rules, by family and then by name.
func All() []*Rule { return nil }

// Find is the rule with the name, or nil.
func Find(name string) *Rule { return nil }

// Check walks the program in src, size bytes long, as machine m would, and says
// what the rules found. The error is one of reading src.
func Check(src io.ReaderAt, size int64, path string, m *profiles.Machine, set []*Rule, opt Options) (*Result, error) {
	return nil, nil
}
