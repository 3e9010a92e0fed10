package report

import (
	"fmt"

	"tapefit/internal/adapt"
	"tapefit/profiles"
	"tapefit/rules"
)

// Adapt writes what was changed in a program for another machine, what is left
// to a person, how it stood before and stands after, and how well both agree.
// path is the source, out where the new program is; "" where it is nowhere.
func (t *Text) Adapt(path, out string, r *adapt.Result) error {
	if path == "-" {
		path = "standard input"
	}
	t.flow(0, 2, run{t.styles.title, clean(path)}, run{t.styles.quiet, " for " + clean(r.To.Name) + ", read as " + clean(r.From.Name)})
	t.line()
	if r.Fits {
		t.flow(2, 4, run{text: "It fits as it stands: no block was changed."})
	}
	for i := range r.Unfollowed {
		f := &r.Unfollowed[i]
		t.finding(f, fmt.Sprintf("%d:%d", f.Line, f.Column))
		t.line()
	}
	if len(r.Unfollowed) > 0 {
		t.flow(2, 4, run{text: "What the program does is not known there, so that nothing was written. Mend it first; or name the machine that it was written for with --from."})
		return t.out.Flush()
	}
	t.changes(r)
	t.left(r)
	if r.After != nil {
		t.beforeAfter(r)
	}
	switch {
	case !r.Written:
		t.flow(2, 4, run{text: "Nothing was written: what stands at error is for a person to decide."})
	case out != "":
		t.flow(2, 4, run{text: "written to "}, run{t.styles.title, clean(out)})
	default:
		t.flow(2, 4, run{text: "a dry run: nothing was written"})
	}
	t.line()
	t.flow(0, 0, run{t.styles.quiet, Caution})
	return t.out.Flush()
}

// changes lists what each pass did, with its first example.
func (t *Text) changes(r *adapt.Result) {
	widest := 0
	for i := range r.Changes {
		widest = max(widest, len(r.Changes[i].Pass.Name))
	}
	for i := range r.Changes {
		c := &r.Changes[i]
		t.flow(2, 4, run{t.styles.title, fmt.Sprintf("%-*s", widest, c.Pass.Name)},
			run{text: fmt.Sprintf("  %s", c.Pass.Summary)},
			run{t.styles.quiet, fmt.Sprintf("; %s, first at line %d", plural(c.Count, "block"), c.Line)})
	}
	if len(r.Changes) > 0 {
		t.line()
	}
}

// left lists what a person must decide or know: of the change itself, and of
// what is found in the new program.
func (t *Text) left(r *adapt.Result) {
	for i := range r.Left {
		l := &r.Left[i]
		again := ""
		if l.Count > 1 {
			again = fmt.Sprintf(" (%d times)", l.Count)
		}
		t.flow(2, 4, run{t.styles.level[l.Level], fmt.Sprintf("%-7s", l.Level)}, run{text: fmt.Sprintf("  line %d of the source%s", l.Line, again)})
		t.flow(4, 4, run{text: clean(l.What)})
		t.flow(4, 4, run{text: clean(l.Decide)})
		t.line()
	}
	if r.After == nil || r.Fits && len(r.After.Findings) == 0 {
		return
	}
	for i := range r.After.Findings {
		f := &r.After.Findings[i]
		t.finding(f, fmt.Sprintf("%d:%d of the new program", f.Line, f.Column))
		t.line()
	}
}

// beforeAfter compares blocks, bytes and time, and says how far the paths lie
// apart.
func (t *Text) beforeAfter(r *adapt.Result) {
	if !r.Fits {
		t.flow(2, 4, run{text: fmt.Sprintf("before  %s, %s, %s", plural(r.Before.Blocks, "block"), size(profiles.Size(r.Read)), sums(r.Before))})
		t.flow(2, 4, run{text: fmt.Sprintf("after   %s, %s, %s", plural(r.After.Blocks, "block"), size(profiles.Size(r.Wrote)), sums(r.After))})
	}
	u := unitsOf(r.To)
	t.flow(2, 4, run{text: fmt.Sprintf("proof   both programs do the same, %d moves; the paths are at most %s %s apart", r.Proof.Moves, short(r.Proof.Deviation/u.scale, u.decimals+2), u.name)},
		run{text: deepest(r)})
	for _, l := range r.Proof.Limits {
		t.flow(10, 12, run{text: "not proven: " + clean(l)})
	}
	if r.Proof.More > 0 {
		t.flow(10, 12, run{text: fmt.Sprintf("and %d more", r.Proof.More)})
	}
}

func deepest(r *adapt.Result) string {
	if r.Proof.Deviation < 1e-6 {
		return ""
	}
	return fmt.Sprintf(", at line %d (%d of the new program)", r.Proof.SourceLine, r.Proof.OutLine)
}

func sums(r *rules.Result) string {
	return fmt.Sprintf("%s%s, %s, %s", atLeast(r), clock(r.Times.Total), plural(r.Count(rules.Error), "error"), plural(r.Count(rules.Warning), "warning"))
}

// Notes writes what to change in the post that wrote several programs.
func (t *Text) Notes(m *profiles.Machine, n *adapt.Notebook) error {
	t.flow(0, 2, run{t.styles.title, "What to change in the post"}, run{t.styles.quiet, fmt.Sprintf(" for %s: %s, %s", clean(m.Name), plural(n.Programs, "program"), plural(n.Blocks, "block"))})
	notes := n.Notes()
	if len(notes) == 0 {
		t.line()
		t.flow(2, 4, run{text: "Nothing: the programs fit as they stand."})
	}
	for i := range notes {
		note := &notes[i]
		t.line()
		t.flow(2, 4, run{t.styles.title, note.Name}, run{t.styles.quiet, fmt.Sprintf("  %s in %s", plural(note.Blocks, "block"), plural(note.Programs, "program"))})
		t.flow(4, 4, run{text: clean(note.What)})
		where := fmt.Sprintf("%s:%d  ", clean(note.Path), note.Line)
		if note.Was != "" {
			t.flow(4, 6, run{t.styles.quiet, where}, run{text: clean(note.Was)})
		} else {
			t.flow(4, 6, run{t.styles.quiet, where})
		}
		if note.Now != "" && note.Now != note.Was {
			t.flow(4, 6, run{t.styles.quiet, "as it should be  "}, run{text: clean(note.Now)})
		}
	}
	return t.out.Flush()
}
