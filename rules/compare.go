package rules

import (
	"cmp"
	"maps"
	"slices"
	"strings"
)

// A Change is what becomes of a program that goes from one machine to another.
// A program fits a machine on which nothing at level error is found in it.
type Change uint8

const (
	FitsBoth Change = iota
	NewlyRefused
	NowFits
	RefusedByBoth
	NumChanges
)

func (c Change) String() string {
	return [...]string{"fits both", "newly refused", "now fits", "refused by both"}[c]
}

// A Comparison is one program on the machine it goes to, and on the one it
// comes from.
type Comparison struct {
	Now, Was *Result
	New      []*Finding // of Now and not of Was, in order of place
	Gone     []*Finding // of Was and not of Now, in order of place
}

// Compare tells what changes for a program. A finding is the same on both
// machines where rule, level and first place are. It is no other either where
// the rule has the same cause on the other machine, and that stretch holds its
// place: travel that is exceeded from line 12 on, and on the machine before
// from line 40 on, is new in line 12 and not gone in line 40.
//
// What a machine refuses is not executed, and rules are silent on what is left
// open by it: a finding may be gone for that reason alone.
func Compare(now, was *Result) *Comparison {
	c := &Comparison{Now: now, Was: was, New: without(now.Findings, was.Findings), Gone: without(was.Findings, now.Findings)}
	// What is left at one place has causes that the machines themselves tell
	// apart, and is the same for people. Of two and one, one is new.
	for i := 0; i < len(c.New); i++ {
		if j := slices.IndexFunc(c.Gone, c.New[i].standsWith); j >= 0 {
			c.New, c.Gone = slices.Delete(c.New, i, i+1), slices.Delete(c.Gone, j, j+1)
			i--
		}
	}
	return c
}

// without are the findings whose cause the others do not have at that place.
func without(findings, others []Finding) []*Finding {
	var left []*Finding
	for i := range findings {
		f := &findings[i]
		if !slices.ContainsFunc(others, func(o Finding) bool { return o.covers(f) }) {
			left = append(left, f)
		}
	}
	return left
}

// covers says whether o is of the same cause as f, and f begins in its stretch.
func (o *Finding) covers(f *Finding) bool {
	return o.alike(f) && o.key == f.key && comparePlaces(o.Line, o.Column, f.Line, f.Column) <= 0 &&
		comparePlaces(f.Line, f.Column, o.EndLine, o.EndColumn) <= 0
}

// standsWith says whether both are of one rule and begin at one place.
func (f *Finding) standsWith(o *Finding) bool {
	return f.alike(o) && comparePlaces(f.Line, f.Column, o.Line, o.Column) == 0
}

func (f *Finding) alike(o *Finding) bool { return f.Level == o.Level && f.Rule.Name == o.Rule.Name }

func comparePlaces(line, column, otherLine, otherColumn int) int {
	return cmp.Or(cmp.Compare(line, otherLine), cmp.Compare(column, otherColumn))
}

// Change is what becomes of the program.
func (c *Comparison) Change() Change {
	refuses, refused := c.Now.Count(Error) > 0, c.Was.Count(Error) > 0
	switch {
	case refuses && refused:
		return RefusedByBoth
	case refuses:
		return NewlyRefused
	case refused:
		return NowFits
	}
	return FitsBoth
}

// A Tally adds up comparisons. Its zero value is an empty one.
type Tally struct {
	Programs           [NumChanges]int // by what became of them
	StopsNow, StopsWas int             // by the operator

	changes map[ruleAtLevel]*RuleChange
}

type ruleAtLevel struct {
	name  string
	level Level
}

// A RuleChange is what changes in the findings of one rule at one level.
type RuleChange struct {
	Rule   *Rule
	Level  Level
	New    int // findings
	NewIn  int // programs
	Gone   int
	GoneIn int

	messages map[string]int // of new findings
}

// A MessageCount is how many new findings say the same.
type MessageCount struct {
	Text  string
	Count int
}

// mostMessages bounds what is kept of a rule: with more, the messages name what
// each program alone has.
const mostMessages = 256

// Add counts one program.
func (t *Tally) Add(c *Comparison) {
	t.Programs[c.Change()]++
	t.StopsNow += c.Now.Times.OperatorStops
	t.StopsWas += c.Was.Times.OperatorStops
	seen := map[*RuleChange]bool{}
	for _, f := range c.New {
		r := t.of(f)
		r.New++
		if !seen[r] {
			seen[r] = true
			r.NewIn++
		}
		if r.messages[f.Message] > 0 || len(r.messages) < mostMessages {
			r.messages[f.Message]++
		}
	}
	clear(seen)
	for _, f := range c.Gone {
		r := t.of(f)
		r.Gone++
		if !seen[r] {
			seen[r] = true
			r.GoneIn++
		}
	}
}

func (t *Tally) of(f *Finding) *RuleChange {
	if t.changes == nil {
		t.changes = map[ruleAtLevel]*RuleChange{}
	}
	k := ruleAtLevel{f.Rule.Name, f.Level}
	if t.changes[k] == nil {
		t.changes[k] = &RuleChange{Rule: f.Rule, Level: f.Level, messages: map[string]int{}}
	}
	return t.changes[k]
}

// Rules are the rules of which something is new or gone: by level, the worst
// first; then what is new in most programs, then what is gone from most.
func (t *Tally) Rules() []*RuleChange {
	return slices.SortedFunc(maps.Values(t.changes), func(a, b *RuleChange) int {
		return cmp.Or(cmp.Compare(b.Level, a.Level), cmp.Compare(b.NewIn, a.NewIn), cmp.Compare(b.New, a.New),
			cmp.Compare(b.GoneIn, a.GoneIn), cmp.Compare(b.Gone, a.Gone), strings.Compare(a.Rule.Name, b.Rule.Name))
	})
}

// Messages are what new findings say, the most frequent first. Beyond 256 of a
// rule others are not kept.
func (r *RuleChange) Messages() []MessageCount {
	var all []MessageCount
	for text, n := range r.messages {
		all = append(all, MessageCount{text, n})
	}
	slices.SortFunc(all, func(a, b MessageCount) int {
		return cmp.Or(cmp.Compare(b.Count, a.Count), strings.Compare(a.Text, b.Text))
	})
	return all
}
