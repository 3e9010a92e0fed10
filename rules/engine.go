package rules

// A Pass is one walk over one program. Checkers report through it.
type Pass struct{}
