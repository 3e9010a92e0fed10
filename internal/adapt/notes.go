package adapt

import (
	"fmt"
	"slices"
	"strings"

	"tapefit/profiles"
	"tapefit/rules"
)

// A Note is one thing to change in the post that wrote several programs.
type Note struct {
	Name     string // of the pass, or of the rule that is left
	What     string // to change
	Programs int    // that have it
	Blocks   int
	Path     string // of the first, and its first block
	Line     int
	Was, Now string
}

// A Notebook gathers notes over the outputs of one post.
type Notebook struct {
	m        *profiles.Machine
	notes    map[string]*Note
	Programs int
	Blocks   int
}

// NewNotebook begins one for a machine.
func NewNotebook(m *profiles.Machine) *Notebook {
	return &Notebook{m: m, notes: map[string]*Note{}}
}

// Add takes over what had to be changed in one program, and what is left.
func (n *Notebook) Add(path string, r *Result) {
	n.Programs++
	n.Blocks += r.Before.Blocks
	for i := range r.Changes {
		c := r.Changes[i]
		if slices.ContainsFunc(r.Left, func(l Left) bool { return l.Level == rules.Error && l.Line == c.Line }) {
			c.Now = "" // it is not done with what was written
		}
		n.note(c.Pass.Name, advice(c.Pass, n.m), path, c.Line, c.Count, c.Was, c.Now)
	}
	for i := range r.Left {
		if l := &r.Left[i]; l.Level == rules.Error {
			n.note("left to you", l.What+". "+l.Decide, path, l.Line, l.Count, "", "")
		}
	}
	found := r.After
	if found == nil {
		return
	}
	for i := range found.Findings {
		if f := &found.Findings[i]; f.Level == rules.Error && f.Rule.Family != "travel" || f.Rule.Name == "blocks-faster-than-control" {
			n.note(f.Rule.Name, f.Advice, path, f.Line, f.Count, strings.TrimSpace(f.Source), "")
		}
	}
}

func (n *Notebook) note(name, what, path string, line, blocks int, was, now string) {
	key := name
	if name == "left to you" {
		key = what
	}
	at := n.notes[key]
	if at == nil {
		at = &Note{Name: name, What: what, Path: path, Line: line, Was: was, Now: now}
		n.notes[key] = at
	}
	at.Programs++
	at.Blocks += blocks
}

// Notes are the notes, those of most blocks first.
func (n *Notebook) Notes() []Note {
	all := make([]Note, 0, len(n.notes))
	for _, note := range n.notes {
		all = append(all, *note)
	}
	slices.SortFunc(all, func(a, b Note) int {
		if d := b.Blocks - a.Blocks; d != 0 {
			return d
		}
		return strings.Compare(a.Name+a.What, b.Name+b.What)
	})
	return all
}

// advice is what a post must do so that a pass is not needed on the machine.
func advice(p *Pass, m *profiles.Machine) string {
	switch p.Name {
	case Numbers:
		return "Write numbers " + numberForm(&m.Numbers) + "."
	case Words:
		return "Leave out words that no code of the block uses."
	case Comments:
		if m.Block.Comments == "" {
			return "Write no comments."
		}
		return fmt.Sprintf("Begin comments with %s.", strings.Join(strings.Split(m.Block.Comments, ""), " or "))
	case Characters:
		return "Write capitals, comments too, and only what the control reads: " + m.Block.Characters + "."
	case Length:
		return fmt.Sprintf("Write blocks of at most %d characters.", m.Block.Longest)
	case Sequence:
		if s := m.Block.Sequence; len(s) == 2 {
			return fmt.Sprintf("Number blocks from N%d to N%d, or not at all.", s[0], s[1])
		}
		return "Write program numbers that the control has a place for."
	case Marks:
		return "Write % alone in a block before the first block and behind the last."
	case Units:
		return "Write the units that the control has a code for."
	case Distance:
		return "Write the distance mode that the control has a code for."
	case Arcs:
		return "Write arcs " + arcForm(&m.Arcs) + "."
	case Chords:
		return "Write helices and arcs that the control does not make as chords within the tolerance of the part."
	case Cycles:
		return "Switch cycle output off, or to the cycles that the control has: " + cycleCodes(m) + "."
	case Unroll:
		return "Write moves, no subprograms, loops or parameters."
	case Transforms:
		return "Write places in plain work coordinates: no polar words, mirroring, scaling or turning."
	case CompPath:
		return "Offset contours in the post, or before it: the control has no cutter compensation."
	case FeedModes:
		return "Write feed by the minute."
	case OneM:
		return fmt.Sprintf("Write no more than %d M code in a block.", m.Words.MCodes)
	case Codes:
		return "Leave out the codes that the control does not have, or write its own."
	case Gears:
		return "Write " + gearForm(&m.Spindle) + "."
	case ToolChange:
		return "Write tool changes so: " + strings.Join(m.Tools.ChangeSequence, " / ") + "."
	case Gather:
		return "Switch cycle output on, for the cycles that the control has: " + cycleCodes(m) + "."
	case Unnumber:
		return "Number no blocks but those that something leads to."
	case Homing:
		return "Retract to a place of the work, not to the home position."
	}
	return p.Summary + "."
}

func numberForm(n *profiles.Numbers) string {
	var parts []string
	switch n.Point {
	case "needed", "optional":
		parts = append(parts, "with a decimal point")
	case "counts":
		parts = append(parts, "all with a decimal point, or all without")
	case "refused":
		parts = append(parts, "without a decimal point, in least increments")
	}
	if d := n.Decimals; d.Inch > 0 && d.MM > 0 {
		parts = append(parts, fmt.Sprintf("with %d decimals in inches and %d in mm", d.Inch, d.MM))
	}
	return strings.Join(parts, ", ")
}

func arcForm(a *profiles.Arcs) string {
	form := "with centres from the start, with sign"
	switch a.Centre {
	case "absolute":
		form = "with absolute centres"
	case "unsigned":
		form = "with centres from the start, without sign"
	}
	if !a.Radius {
		form += ", not with R"
	}
	switch {
	case a.Quadrant:
		form += ", cut at the quadrants"
	case !a.FullCircle:
		form += ", full circles in two"
	}
	return form
}

// cycleCodes are the codes of the canned cycles that the machine has.
func cycleCodes(m *profiles.Machine) string {
	var codes []string
	for c := profiles.Drill; c.IsCycle(); c++ {
		if code := m.CodeFor(c); code != "" && m.CycleForm(c).Needs != "" {
			codes = append(codes, code)
		}
	}
	if len(codes) == 0 {
		return "none"
	}
	return strings.Join(codes, " ")
}

func gearForm(s *profiles.Spindle) string {
	var gears []string
	for i := range s.Gears {
		g := &s.Gears[i]
		name := g.Code
		if name == "" {
			name = g.Name
		}
		if len(g.Speed) == 2 {
			gears = append(gears, fmt.Sprintf("%s %g to %g rpm", name, float64(g.Speed[0]), float64(g.Speed[1])))
		}
	}
	list := strings.Join(gears, ", ")
	if s.Shift == "by-hand" {
		return "a program stop with the spindle off before a speed of another belt step: " + list
	}
	form := "the gear code before the speed: " + list
	if !s.Turning {
		form += "; with the spindle stopped"
	}
	return form
}
