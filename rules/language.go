package rules

import (
	"fmt"
	"math"
	"strings"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
)

// language are the rules about what the control reads at all.
func language() []*Rule {
	return []*Rule{
		{
			Name: "block-unreadable", Family: "language", Level: Error,
			Summary: "text in a block is in no form of the language",
			Doc:     `The control stops with an alarm on a block that it cannot read, or reads something else than was meant. tapefit does not guess what was meant: the block is not executed, and what it may have set is unknown until the program sets it again.`,
			Example: Example{"rs274ngc", "G0 X1 Y\nM2\n", "G0 X1 Y2\nM2\n"},
			New:     faultRule(unreadable, interp.Unreadable),
		},
		{
			Name: "not-a-program", Family: "language", Level: Error,
			Summary: "a file that is no part program",
			Doc:     `Most of the first blocks cannot be read, or the bytes are no text at all: the file is something else, such as a letter, a picture or a list, or it is damaged. It is not read to its end, and nothing else is said of it.`,
			Example: Example{"rs274ngc", strings.Repeat("Dear Sir, the pump is mended.\n", 120), "(DEAR SIR, THE PUMP IS MENDED.)\nM2\n"},
			New:     faultRule(notAProgram, interp.NotAProgram),
		},
		{
			Name: "code-not-accepted", Family: "language", Level: Error,
			Summary: "a code, address or form that this control refuses",
			Doc:     `Every control accepts its own part of the language. A code that it does not know stops the program with an alarm, often in the middle of the part. The finding names the code and, where there are any, the codes of the same modal group that the control does take.`,
			Uses:    []string{"codes", "words", "block.parameters", "block.expressions", "block.flow", "block.comments", "block.delete", "spindle.gears"},
			Example: Example{"bed-mill", "%\nG95\nM30\n%\n", "%\nG94\nM30\n%\n"},
			New:     newNotAccepted,
		},
		{
			Name: "codes-conflict", Family: "language", Level: Error,
			Summary: "two words in one block that exclude each other",
			Doc:     `Two codes of one modal group in a block contradict each other; a control stops on them, or silently obeys the last. The same holds for an address that stands twice, for R beside I J K, for a motion code beside one that takes the axis words (G0 beside G28) where the profile does not allow it, and for more M codes than the control takes in one block.`,
			Uses:    []string{"codes", "words.m_codes", "block.idle_motion", "block.cycle_off_beside"},
			Example: Example{"rs274ngc", "G0 G1 X1 F100\nM2\n", "G1 X1 F100\nM2\n"},
			New:     faultRule(conflict, interp.Conflict, interp.TooManyM),
		},
		{
			Name: "word-not-used", Family: "language", Level: Warning,
			Summary: "a word that nothing in its block uses",
			Doc:     `A word that no code of the block uses is at best noise and at worst the trace of a code that is missing: an R behind G1, a P without its dwell. Some controls ignore it, some stop, some keep it for the next cycle.`,
			Uses:    []string{"cycles"},
			Example: Example{"rs274ngc", "G1 X1 R2 F100\nM2\n", "G1 X1 F100\nM2\n"},
			New:     faultRule(notUsed, interp.NotUsed),
		},
		{
			Name: "word-missing", Family: "language", Level: Error,
			Summary: "a code without a word that it needs",
			Doc:     `A cycle without its R, an arc without a centre, a dwell without a time, axis words with no motion mode in force: the control stops, or fills in whatever stood in the last program.`,
			Uses:    []string{"cycles"},
			Example: Example{"rs274ngc", "G0 X0 Y0\nG2 X10\nM2\n", "G0 X0 Y0\nG2 X10 I5 F100\nM2\n"},
			New:     faultRule(missing, interp.Missing, interp.NoMotion),
		},
		{
			Name: "value-not-usable", Family: "language", Level: Error,
			Summary: "a number out of range, or an expression without a value",
			Doc:     `A negative feed, a tool number with a fraction, a peck of zero, a division by zero: the control stops on the value. What the word would have set is unknown until the program sets it again.`,
			Example: Example{"rs274ngc", "G0 X[1/0]\nM2\n", "G0 X[1/2]\nM2\n"},
			New:     faultRule(badValue, interp.BadValue, interp.BadExpression),
		},
		{
			Name: "not-interpreted", Family: "language", Level: Warning,
			Summary: "the control may take it, but tapefit does not compute it",
			Doc:     `tapefit says when it does not know. What stands here is in the language and may well run, but its effect on motion is not computed; positions and modes that it could change are unknown until the program sets them again, and checks that depend on them are silent.`,
			Example: Example{"rs274ngc", "G10 L20 P1 X0\nM2\n", "G10 L2 P1 X0\nM2\n"},
			New:     faultRule(notInterpreted, interp.NotInterpreted),
		},
	}
}

// faultRule makes checkers that turn each fault of the kinds into a note.
func faultRule(do func(*Pass, *interp.Fault), kinds ...interp.FaultKind) func(*profiles.Machine, *Options) Checker {
	return func(*profiles.Machine, *Options) Checker { return Checker{Fault: do, Faults: kinds} }
}

// key of a cause that is a text: FNV-1a.
func textKey(parts ...string) uint64 {
	h := uint64(14695981039346656037)
	for _, s := range parts {
		for i := range len(s) {
			h = (h ^ uint64(s[i])) * 1099511628211
		}
		h = (h ^ 0xff) * 1099511628211
	}
	return h
}

func notAProgram(p *Pass, f *interp.Fault) {
	if n := p.Note(0, Place{Line: 1}); n != nil {
		n.Message = "this is no part program: the bytes are neither text nor a punched tape, as in a picture or an archive"
		if f.B > 0 {
			n.Message = fmt.Sprintf("this is no part program: %s of the first %s blocks cannot be read", trim(f.A, 0), trim(f.B, 0))
		}
		n.Advice = "Check the file: was it sent or saved whole, and is it the right one?"
		p.alone = p.rule
	}
}

func unreadable(p *Pass, f *interp.Fault) {
	n := p.Note(textKey(f.Cause), FaultPlace(f))
	if n == nil {
		return
	}
	n.Message = f.Cause
	n.Advice = "Mend the block; it is not executed here, and what it names is unknown until the program sets it again."
	if at := strings.LastIndex(f.Cause, ": "); at > 0 {
		n.Message = f.Cause[:at]
		n.Advice = capital(f.Cause[at+2:]) + ". What the block names is unknown here until the program sets it again."
	}
}

// newNotAccepted adds to the refused codes what the block as a whole may not
// have.
func newNotAccepted(m *profiles.Machine, _ *Options) Checker {
	return Checker{
		Fault: notAccepted, Faults: []interp.FaultKind{interp.NotAccepted},
		Block: func(p *Pass, b *parser.Block) {
			if b.Delete != 0 && !m.Block.Delete {
				at := BlockPlace(b)
				at.End = min(at.End, at.Pos+1)
				if n := p.Note(textKey("delete"), at); n != nil {
					n.Message = fmt.Sprintf("block delete (/) is not known to %s", m.Name)
					n.Advice = "Take the / out, or the block: decide which is meant."
				}
			}
			for i := range b.Comments {
				refusedComment(p, m, b, &b.Comments[i])
			}
		},
	}
}

func refusedComment(p *Pass, m *profiles.Machine, b *parser.Block, c *parser.Comment) {
	mark := string(b.Raw[c.Pos])
	if strings.Contains(m.Block.Comments, mark) {
		return
	}
	if n := p.Note(textKey("comment", mark), Place{b.Line, b.Offset, c.Pos, c.End}); n != nil {
		n.Message = fmt.Sprintf("a comment that begins with %q; %s takes no comments", mark, m.Name)
		if m.Block.Comments != "" {
			n.Message = fmt.Sprintf("a comment that begins with %q; %s takes those that begin with %q", mark, m.Name, m.Block.Comments)
		}
		n.Advice = "Have the post write comments the way this control takes them, or none."
	}
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

func notAccepted(p *Pass, f *interp.Fault) {
	if f.Word < 0 || f.Cause != "" {
		n := p.Note(textKey(f.Cause), FaultPlace(f))
		if n == nil {
			return
		}
		n.Message = fmt.Sprintf("%s are not accepted by %s", capital(f.Cause), p.Machine.Name)
		n.Advice = "Have the post write plain numbers and moves."
		if f.Cause == interp.RefusedBare {
			n.Advice = "Write the value in brackets, as in #3=[#3+1]."
		}
		if f.Cause == interp.RefusedBeside {
			n.Advice = "Write the flow statement in a block of its own; here the words are left out."
		}
		return
	}
	word := &f.Block.Words[f.Word]
	switch word.Address {
	case 'G', 'M':
		refusedCode(p, f, word)
	default:
		if n := p.Note(uint64(word.Address), FaultPlace(f)); n != nil {
			n.Message = fmt.Sprintf("%s does not take the address %c; it takes %s", p.Machine.Name, word.Address, letters(p.Machine.Words.Accepted))
			if p.Machine.Takes(word.Address) {
				n.Message = fmt.Sprintf("%s has no axis %c", p.Machine.Name, word.Address)
			}
			n.Advice = "Take the word out, or write what it does another way."
			if typed, zero := insteadOfZero(f.Block, f.Word); typed != "" {
				n.Advice = fmt.Sprintf("If the letter O of %s is meant for a zero, write the digit: %s.", typed, zero)
			}
		}
	}
}

func refusedCode(p *Pass, f *interp.Fault, word *parser.Word) {
	code := string(word.Address) + trim(f.A, 1)
	n := p.Note(uint64(word.Address)<<32|uint64(f.A*10), FaultPlace(f))
	if n == nil {
		return
	}
	n.Message = fmt.Sprintf("%s is not accepted by %s", code, p.Machine.Name)
	group, what := kin(word.Address, f.A)
	if codes := codesOf(p.Machine, group); what != "" && len(codes) > 0 {
		n.Message += fmt.Sprintf("; for %s it takes %s", what, join(codes, "and"))
	}
	if word.Address == 'M' && f.A >= 40 && f.A < 45 && len(p.Machine.Spindle.Gears) > 0 {
		n.Message += "; its gears are " + gearList(p.Machine)
	}
	n.Advice = "Take it out, or write what it does with codes that this control takes."
}

// kin is the modal group that a refused code would belong to, by the numbers of
// the published report and common practice.
func kin(address byte, number float64) (profiles.Group, string) {
	if address == 'M' {
		return profiles.NonModal, ""
	}
	switch {
	case number >= 17 && number < 20:
		return profiles.PlaneGroup, "the plane"
	case number >= 20 && number < 22 || number >= 70 && number < 72:
		return profiles.UnitsGroup, "units"
	case number >= 40 && number < 43:
		return profiles.CompGroup, "cutter compensation"
	case number >= 43 && number < 50:
		return profiles.LengthGroup, "tool length"
	case number >= 54 && number < 60:
		return profiles.OffsetGroup, "work offsets"
	case number >= 61 && number < 65:
		return profiles.PathGroup, "the path mode"
	case number >= 90 && number < 92:
		return profiles.DistGroup, "distances"
	case number >= 93 && number < 96:
		return profiles.FeedGroup, "the feed mode"
	case number >= 98 && number < 100:
		return profiles.RetractGroup, "the retract level"
	}
	return profiles.NonModal, ""
}

func conflict(p *Pass, f *interp.Fault) {
	b := f.Block
	if f.Kind == interp.TooManyM {
		if n := p.Note(0, FaultPlace(f)); n != nil {
			n.Message = fmt.Sprintf("more than %s M code%s in one block; %s takes no more", trim(f.A, 0), plural(int(f.A)), p.Machine.Name)
			n.Advice = "Put " + wordText(b, f.Word) + " in a block of its own."
		}
		return
	}
	one, other := wordText(b, f.Other), wordText(b, f.Word)
	n := p.Note(uint64(b.Words[f.Word].Address)<<8|uint64(b.Words[f.Other].Address), FaultPlace(f))
	if n == nil {
		return
	}
	switch {
	case modalMotion(p.Machine, b, f):
		n.Message = fmt.Sprintf("%s and %s both use the axis words of the block; %s takes only one such code", other, one, p.Machine.Name)
		n.Advice = fmt.Sprintf("Put %s in a block of its own. Here it comes into force and moves nothing.", other)
		return
	case b.Words[f.Word].Address == 'R':
		n.Message = fmt.Sprintf("%s and %s both give the arc's centre", one, other)
	case b.Words[f.Word].Address == b.Words[f.Other].Address && b.Words[f.Word].Address != 'G' && b.Words[f.Word].Address != 'M':
		n.Message = fmt.Sprintf("%s and %s: the address %c stands twice in the block", one, other, b.Words[f.Word].Address)
	default:
		n.Message = fmt.Sprintf("%s and %s are of one modal group: only one of them can be in force", one, other)
	}
	n.Advice = "Leave one of them, or put them in two blocks. Here the first is taken."
	if cycleOff(p.Machine, b, f.Word) || cycleOff(p.Machine, b, f.Other) {
		n.Advice = "Put them in two blocks; if this control takes both, write cycle_off_beside = true under [block] in the profile. Here the motion code is taken."
	}
}

// cycleOff says whether word i ends a canned cycle.
func cycleOff(m *profiles.Machine, b *parser.Block, i int) bool {
	w := &b.Words[i]
	return w.Address == 'G' && w.Expr == nil && m.G(int(math.Round(w.Value*10))) == profiles.CycleOff
}

// modalMotion says whether a motion code stands beside one of another group
// that takes the axis words.
func modalMotion(m *profiles.Machine, b *parser.Block, f *interp.Fault) bool {
	group := func(i int) profiles.Group {
		if w := &b.Words[i]; w.Address == 'G' && w.Expr == nil {
			return m.G(int(math.Round(w.Value * 10))).Group()
		}
		return profiles.FreeGroup
	}
	return group(f.Word) == profiles.MotionGroup && group(f.Other) == profiles.NonModal
}

func plural(n int) string {
	if n == 1 {
		return ""
	}
	return "s"
}

func notUsed(p *Pass, f *interp.Fault) {
	word := &f.Block.Words[f.Word]
	if word.Address >= 'I' && word.Address <= 'K' && p.planeLeft(f.Block) != "" {
		return // of an arc in another plane than is meant: plane-stale or arc-radius-mismatch speaks
	}
	n := p.Note(uint64(word.Address), FaultPlace(f))
	if n == nil {
		return
	}
	n.Message = fmt.Sprintf("nothing in this block uses %s", wordText(f.Block, f.Word))
	n.Advice = "Take it out, or write the code that it was meant for."
	switch word.Address {
	case 'P':
		n.Advice = "Take it out, or write the code that it was meant for: a dwell, a cycle, a subprogram call."
	case 'H':
		n.Advice = "Write " + orCode(p.Machine, profiles.LengthOn, "the tool length code") + " in the same block, or take it out."
	case 'D':
		n.Advice = "Write it in the block that switches cutter compensation on, or take it out."
	case 'I', 'J', 'K', 'R':
		n.Advice = "Take it out; if an arc or a cycle was meant, its code is missing."
	}
}

// orCode is the machine's code for a meaning, or words where it has none.
func orCode(m *profiles.Machine, meaning profiles.Meaning, words string) string {
	if code := m.CodeFor(meaning); code != "" {
		return code
	}
	return words
}

func missing(p *Pass, f *interp.Fault) {
	if f.Kind == interp.NoMotion {
		if n := p.Note(0, FaultPlace(f)); n != nil {
			n.Message = "axis words, but no motion mode is in force"
			n.Advice = fmt.Sprintf("Write %s or %s in the block; here the axes named are unknown until then.",
				orCode(p.Machine, profiles.TraverseMove, "traverse"), orCode(p.Machine, profiles.FeedMove, "feed"))
		}
		return
	}
	code := wordText(f.Block, f.Word)
	motion := f.Word < 0 || f.Block.Words[f.Word].Address != 'M'
	key := textKey(code)
	if motion { // said again or still in force: one cause
		key = uint64(p.State.Motion)
	}
	n := p.Note(key<<8|uint64(f.Missing), FaultPlace(f))
	if n == nil {
		return
	}
	what := missingText[f.Missing]
	if m := p.State.Motion; motion && (m == profiles.ArcCW || m == profiles.ArcCCW) && strings.IndexByte("XYZ", f.Missing) >= 0 {
		what = "an axis word of its plane, for a full circle too"
	}
	if t, ok := p.turningText(f); ok {
		what = t
	}
	if f.Word >= 0 && f.Block.Words[f.Word].Address != 'G' && f.Block.Words[f.Word].Address != 'M' {
		code = orCode(p.Machine, p.State.Motion, "the motion") + ", in force at " + code + ","
	}
	n.Message = fmt.Sprintf("%s needs %s", code, what)
	n.Advice = "Add it; without it the control stops or takes what it last had."
}

// missingText says what a missing address is for.
var missingText = map[byte]string{
	'X': "the axis words that it is about", 'Y': "a Y word", 'Z': "Z, the bottom of the hole",
	'I': "a centre (I J K) or R", 'J': "a centre (I J K) or R", 'K': "a centre (I J K) or R",
	'R': "R, the level where feeding begins", 'P': "P", 'Q': "Q, the depth of one peck", 'H': "H, the number of the length offset",
	'T': "a T word, in its block or before", 'F': "an F word in the same block",
	'S': "an S word", 'L': "L", 'D': "D", 'A': "an A word", 'B': "a B word", 'C': "a C word",
}

// turningText is missingText where the block is of a turning cycle, or of one
// that is in force.
func (p *Pass) turningText(f *interp.Fault) (string, bool) {
	m := p.State.Motion
	if f.Word >= 0 {
		if w := &f.Block.Words[f.Word]; w.Address == 'G' && p.Machine.G(int(w.Value*10+0.5)).IsTurning() {
			m = p.Machine.G(int(w.Value*10 + 0.5))
		}
	}
	switch {
	case m.IsContour() && f.Missing == 'P':
		return "P, the sequence number at which its contour begins", true
	case m.IsContour() && f.Missing == 'Q':
		return "Q, the sequence number at which its contour ends", true
	case m == profiles.ThreadCycle && (f.Missing == 'P' || f.Missing == 'K'):
		return string(f.Missing) + ", the height of the thread", true
	case m == profiles.ThreadCycle && (f.Missing == 'Q' || f.Missing == 'D'):
		return string(f.Missing) + ", the depth of the first cut", true
	case m == profiles.Thread || m == profiles.ThreadPassCycle || m == profiles.ThreadCycle:
		if f.Missing == 'F' || f.Missing == 'K' {
			return string(f.Missing) + ", the lead of the thread", true
		}
	}
	if f.Missing == 'X' || f.Missing == 'Z' {
		return string(f.Missing) + ", the end of the cut", m.IsTurning() || m == profiles.TurnCycle || m == profiles.FaceCycle || m == profiles.ThreadPassCycle
	}
	return "", false
}

func badValue(p *Pass, f *interp.Fault) {
	n := p.Note(textKey(f.Cause), FaultPlace(f))
	if n == nil {
		return
	}
	text := printable(f.Block.Text(f.Pos, f.End))
	n.Message = fmt.Sprintf("%s: %s", text, f.Cause)
	n.Advice = "Mend the value; what it would set is unknown here until the program sets it again." + p.planeLeft(f.Block) + p.cycleLeft(f.Block)
}

// cycleLeft is a word more for faults of a block that means no hole, it may be: a
// cycle is in force, and the block does not call it.
func (p *Pass) cycleLeft(b *parser.Block) string {
	m := p.State.Motion
	if !m.IsCycle() || b.Word('G') != nil {
		return ""
	}
	return fmt.Sprintf(" The cycle %s is still in force: if no hole is meant here, write %s before it.", orCode(p.Machine, m, m.String()), orCode(p.Machine, profiles.CycleOff, "its end"))
}

func notInterpreted(p *Pass, f *interp.Fault) {
	n := p.Note(textKey(f.Cause), FaultPlace(f))
	if n == nil {
		return
	}
	n.Message = fmt.Sprintf("%s: %s", printable(f.Block.Text(f.Pos, f.End)), f.Cause)
	n.Advice = "Look at what follows by eye: checks that depend on it are silent until the program sets what it may have changed."
}
