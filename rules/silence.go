package rules

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"

	"tapefit/parser"
	"tapefit/profiles"
)

// silences are the rules about the comments that silence rules. What they say
// can't be silenced by such a comment. They come last of all, since they look
// at what the others were kept from saying.
func silences() []*Rule {
	return []*Rule{
		{
			Name: "silence-without-reason", Family: silenceFamily, Level: Warning,
			Summary: "a comment that would silence a rule and gives no reason",
			Doc:     `The one who runs the job next year must know why nothing was said. A comment without a reason silences nothing.`,
			Example: silenceExample("(TAPEFIT SKIP word-not-used)", "(TAPEFIT SKIP word-not-used: R IS FOR THE OTHER CONTROL)"),
			New:     silenceRule(withoutReason),
		},
		{
			Name: "silence-unknown-rule", Family: silenceFamily, Level: Warning,
			Summary: "a comment that would silence a rule that there is not",
			Doc:     `The name is mistyped, or of a rule that no comment can silence: those about such comments. "tapefit rules" lists the names.`,
			Example: silenceExample("(TAPEFIT SKIP word-unused: R IS FOR THE OTHER CONTROL)", "(TAPEFIT SKIP word-not-used: R IS FOR THE OTHER CONTROL)"),
			New:     silenceRule(unknownSilenced),
		},
		{
			Name: "silence-not-read", Family: silenceFamily, Level: Warning,
			Summary: "a comment to tapefit that it cannot use",
			Doc: `A comment that begins with TAPEFIT silences a rule from its block on (OFF, until ON, or the end of the program), or in its own block and the next (SKIP):

(TAPEFIT OFF word-not-used: P IS FOR THE OTHER CONTROL)

(TAPEFIT ON word-not-used)

(TAPEFIT SKIP word-not-used: P IS FOR THE OTHER CONTROL)

TAPEFIT MACHINE and the name of a machine says what the program is written for: editors check it for that one ("tapefit lsp"). What is written otherwise does nothing. Nor do more than 500 of them in a program: a rule that is silenced so often is better switched off in the profile.`,
			Example: silenceExample("(TAPEFIT IGNORE word-not-used: R IS FOR THE OTHER CONTROL)", "(TAPEFIT SKIP word-not-used: R IS FOR THE OTHER CONTROL)"),
			New:     silenceRule(notRead),
		},
		{
			Name: "silence-unused", Family: silenceFamily, Level: Note,
			Summary: "a comment that silences a rule where it has nothing to say",
			Doc:     `What it silenced was mended, or never was: it may hide the next fault that comes there. Take it out. An ON for a rule that is not off is told too.`,
			Example: Example{"rs274ngc", "(TAPEFIT OFF word-not-used: R IS FOR THE OTHER CONTROL)\nG0 X0\nM2\n", "G0 X0\nM2\n"},
			New:     silenceRule(unusedSilence),
		},
	}
}

const silenceFamily = "silence"

// silenceExample has the comment in front of a block on which word-not-used
// speaks.
func silenceExample(wrong, right string) Example {
	const head, tail = "G0 X0\n", "\nG1 X1 R2 F100\nM2\n"
	return Example{"rs274ngc", head + wrong + tail, head + right + tail}
}

// silenceRule makes checkers that look at each silence of the program, at the
// end.
func silenceRule(do func(*Pass, *silence)) func(*profiles.Machine, *Options) Checker {
	return func(*profiles.Machine, *Options) Checker {
		return Checker{End: func(p *Pass) {
			for _, s := range p.silences {
				do(p, s)
			}
		}}
	}
}

// A silence is a comment that silences a rule, or would.
type silence struct {
	verb, rule string // "off", "on", "skip", or something else; rule in lower case
	reason     bool
	at         Place
	from, to   int64 // offsets of the blocks where the rule is silent: from <= offset < to
	used       bool  // something was silenced; by an ON: something was ended
	beyond     bool  // one more than are kept
}

// mostSilences bounds what is kept of a program.
const mostSilences = 500

func (s *silence) unreadable() bool {
	return s.beyond || s.rule == "" || s.verb != "off" && s.verb != "on" && s.verb != "skip"
}

func withoutReason(p *Pass, s *silence) {
	if s.unreadable() || s.verb == "on" || s.reason || !p.silenceable(s.rule) {
		return
	}
	if n := p.Note(textKey(s.rule), s.at); n != nil {
		n.Message = fmt.Sprintf("%s is not silenced: the comment gives no reason", s.rule)
		n.Advice = fmt.Sprintf("Write why behind the name: TAPEFIT %s %s: the reason.", strings.ToUpper(s.verb), s.rule)
	}
}

func unknownSilenced(p *Pass, s *silence) {
	if s.unreadable() || p.silenceable(s.rule) {
		return
	}
	n := p.Note(textKey(s.rule), s.at)
	if n == nil {
		return
	}
	n.Message = fmt.Sprintf("no rule %q%s", s.rule, profiles.DidYouMean(s.rule, p.ruleNames()))
	n.Advice = "Write the name as tapefit shows it with the finding."
	if Find(s.rule) != nil {
		n.Message = fmt.Sprintf("%s speaks of such comments, and none silences it", s.rule)
		n.Advice = "Mend the comment that it speaks of; or switch the rule off in the profile, under [rules]."
	}
}

func notRead(p *Pass, s *silence) {
	if !s.unreadable() {
		return
	}
	key := textKey(s.verb)
	if s.beyond {
		key = 0
	}
	n := p.Note(key, s.at)
	if n == nil {
		return
	}
	switch {
	case s.beyond:
		n.Message = fmt.Sprintf("more than %d comments to tapefit: from here on they silence nothing", mostSilences)
		n.Advice = "Silence a stretch with OFF and ON, or set the rule's level in the profile, under [rules]."
		return
	case s.verb == machineVerb:
		n.Message = "a comment to tapefit that names no machine"
		n.Advice = "Write TAPEFIT MACHINE and its name as \"tapefit machines\" lists it, or take the comment out."
		return
	case s.rule == "":
		n.Message = "a comment to tapefit that names no rule"
	default:
		n.Message = fmt.Sprintf("a comment to tapefit that is not read: it knows OFF, ON and SKIP, not %q", strings.ToUpper(s.verb))
	}
	n.Advice = "Write TAPEFIT SKIP, the rule, a colon and the reason; or TAPEFIT OFF in that way, and TAPEFIT ON with the rule behind the stretch."
}

func unusedSilence(p *Pass, s *silence) {
	if s.used || s.unreadable() || !p.silenceable(s.rule) || s.verb != "on" && (!s.reason || !p.speaks(s.rule)) {
		return
	}
	n := p.Note(textKey(s.verb, s.rule), s.at)
	switch {
	case n == nil:
	case s.verb == "on":
		n.Message = fmt.Sprintf("%s is not off here: this comment ends nothing", s.rule)
		n.Advice = "Take the comment out, or write the TAPEFIT OFF that it should end."
	default:
		n.Message = fmt.Sprintf("%s has nothing to say there: this comment silences nothing", s.rule)
		n.Advice = "Take the comment out, so that it hides no fault that comes later."
	}
}

// speaks says whether the rule is checked and not off in the profile: else it
// can't be known whether a comment would have been needed.
func (p *Pass) speaks(rule string) bool {
	return p.Machine.Rules[rule].Level != levelOff && slices.ContainsFunc(p.rules, func(r *Rule) bool { return r.Name == rule })
}

// silenceable says whether there is a rule of the name that a comment silences.
func (p *Pass) silenceable(rule string) bool {
	if slices.ContainsFunc(p.rules, func(r *Rule) bool { return r.Name == rule && r.Family == houseFamily }) {
		return true
	}
	r := Find(rule)
	return r != nil && r.Family != silenceFamily
}

// ruleNames are the names of all rules, and of those that are checked here.
func (p *Pass) ruleNames() []string {
	names := ruleNames()
	for _, r := range p.rules {
		if r.Family == houseFamily {
			names = append(names, r.Name)
		}
	}
	return names
}

func ruleNames() []string {
	var names []string
	for _, r := range All() {
		names = append(names, r.Name)
	}
	return names
}

// levelOff is the level of a rule that a profile switches off.
const levelOff = "off"

// levelOf is the level that the profile sets for the rule; ok is false where it
// sets none.
func levelOf(m *profiles.Machine, rule *Rule) (level Level, ok bool) {
	for l := Note; l <= Error; l++ {
		if m.Rules[rule.Name].Level == l.String() {
			return l, true
		}
	}
	return 0, false
}

// hushed says whether the rule that runs is silent at the place, by the profile
// or by a comment.
func (p *Pass) hushed(at Place) bool {
	hushed := p.Machine.Rules[p.rule.Name].Level == levelOff
	if p.rule.Family == silenceFamily {
		return hushed
	}
	for _, s := range p.silences {
		if s.from <= at.Offset && at.Offset < s.to && s.rule == p.rule.Name {
			s.used, hushed = true, true
		}
	}
	return hushed
}

// readSilences gives the comments that silence rules. They are read before the
// walk, since that comes to blocks out of order: a subprogram is executed
// before the comments in front of it come by. Nearly no program has one, and
// those without are not parsed for it.
func readSilences(src io.ReaderAt, size int64) ([]*silence, error) {
	last, err := lastMention(src, size)
	if err != nil || last < 0 {
		return nil, err
	}
	r := parser.NewFileReader(src, size)
	l := silenceList{open: map[string]*silence{}}
	for {
		b, err := r.Next()
		if err == io.EOF {
			l.close(size)
			return l.all, nil
		}
		if err != nil {
			return nil, err
		}
		l.block(b)
		if b.Offset > last && len(l.skip) == 0 {
			l.close(size)
			return l.all, nil
		}
	}
}

// mark begins the comments, in whatever case.
const mark = "tapefit"

// lastMention is the offset of the last mark in the program, -1 where there is none:
// it looks for the mark's rarest letter.
func lastMention(src io.ReaderAt, size int64) (last int64, err error) {
	const letter = 2 // "p": few words have it, and the search runs through most of a program at once
	last = -1
	buf := make([]byte, min(size, 256<<10))
	for off := int64(0); off < size; off += int64(len(buf) - len(mark) + 1) {
		n, err := src.ReadAt(buf, off)
		if err != nil && err != io.EOF {
			return -1, err
		}
		for _, c := range [...]byte{mark[letter], mark[letter] - 'a' + 'A'} {
			for i := 0; i < n; i++ {
				next := bytes.IndexByte(buf[i:n], c)
				if next < 0 {
					break
				}
				i += next
				if from := i - letter; from >= 0 && from+len(mark) <= n && bytes.EqualFold(buf[from:from+len(mark)], []byte(mark)) {
					last = max(last, off+int64(from))
				}
			}
		}
		if off+int64(n) >= size || n < len(buf) {
			break
		}
	}
	return last, nil
}

// A silenceList gathers silences, block by block.
type silenceList struct {
	all  []*silence
	open map[string]*silence // by rule: of OFF without its ON so far
	skip []*silence          // wait for the end of the block they reach to
}

func (l *silenceList) block(b *parser.Block) {
	behind := b.Offset + int64(len(b.Raw))
	if says := len(b.Words)+len(b.Settings)+len(b.Faults) > 0 || b.Flow != nil; says {
		for _, s := range l.skip {
			s.to = behind
		}
		l.skip = l.skip[:0]
	}
	for _, c := range b.Comments {
		if s := readSilence(b, c); s != nil {
			l.add(s, behind)
		}
	}
}

// add takes a silence whose block ends at an offset.
func (l *silenceList) add(s *silence, behind int64) {
	if len(l.all) > mostSilences {
		return
	}
	s.beyond = len(l.all) == mostSilences
	l.all = append(l.all, s)
	off := l.open[s.rule]
	switch {
	case s.unreadable():
	case s.verb == "on" && off != nil:
		off.end(s.at.Offset)
		delete(l.open, s.rule)
		s.used = true
	case s.verb == "off" && off == nil:
		l.open[s.rule] = s
	case s.verb == "skip" && s.reason:
		s.to = behind
		l.skip = append(l.skip, s)
	}
}

// end ends what an OFF silences.
func (s *silence) end(offset int64) {
	if s.reason {
		s.to = offset
	}
}

// close ends what no comment ends, at the end of the program.
func (l *silenceList) close(size int64) {
	for _, s := range l.open {
		s.end(size)
	}
	for _, s := range l.skip {
		s.to = size
	}
}

// readSilence reads a comment, and gives nil where it is one for people, or names
// the machine.
func readSilence(b *parser.Block, c parser.Comment) *silence {
	rest, ok := toUs(b, c)
	if !ok {
		return nil
	}
	s := &silence{at: Place{b.Line, b.Offset, c.Pos, c.End}, from: b.Offset, to: b.Offset}
	s.verb, rest = cutWord(rest)
	s.rule, rest = cutWord(rest)
	if s.verb == machineVerb && s.rule != "" {
		return nil
	}
	s.reason = strings.Trim(rest, blanks+":.-") != ""
	return s
}

// toUs gives what stands behind the mark of a comment, in lower case; ok is false
// where the comment is one for people.
func toUs(b *parser.Block, c parser.Comment) (rest string, ok bool) {
	text := bytes.TrimLeft(b.Text(c.Pos+1, c.End), blanks)
	if len(text) < len(mark) || !bytes.EqualFold(text[:len(mark)], []byte(mark)) {
		return "", false
	}
	rest = strings.ToLower(string(bytes.TrimSuffix(text[len(mark):], []byte(")"))))
	return rest, rest == "" || strings.Contains(blanks, rest[:1]) // else it is a longer word
}

// blanks stand between the parts of a comment; blank tape and ends of lines
// among them.
const blanks = " \t\x00\r\n"

// longestName bounds what is kept of a comment.
const longestName = 64

// cutWord takes the first word off a text.
func cutWord(text string) (word, rest string) {
	text = strings.TrimLeft(text, blanks+":")
	end := strings.IndexAny(text, blanks+":")
	if end < 0 {
		end = len(text)
	}
	return strings.Clone(text[:min(end, longestName)]), text[end:]
}
