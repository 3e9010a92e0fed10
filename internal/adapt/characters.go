package adapt

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"tapefit/parser"
	"tapefit/profiles"
)

// Old controls read what a punch had on its keys: capitals, and few marks. What
// people and posts write beyond that means nothing to the motion: small letters
// are capitals to every control that reads them, and a comment is for a person,
// who reads it with a blank in place of an accent too.

// spells says whether the text must be looked through for characters that the
// machine does not read.
func spells(t text, opt *Options) (bool, error) {
	set, limited := opt.To.Characters()
	if !limited || !opt.makes(Find(Characters)) {
		return false, nil
	}
	buf := make([]byte, 1<<16)
	for at := int64(0); at < t.size; {
		n, err := t.src.ReadAt(buf, at)
		for _, c := range buf[:n] {
			if !set[c] {
				return true, nil
			}
		}
		at += int64(n)
		if err == io.EOF {
			break
		}
		if err != nil {
			return false, fmt.Errorf("reading: %w", err)
		}
	}
	return false, nil
}

// spellAll writes the text in characters that the machine reads, as far as that
// leaves what it says.
func spellAll(out io.Writer, source, now text, res *Result, opt *Options) error {
	set, _ := opt.To.Characters()
	buffered := bufio.NewWriterSize(out, 1<<16)
	change := Change{Pass: Find(Characters)}
	written := int64(0)
	r := parser.NewFileReader(now.src, now.size)
	var line []byte
	for {
		b, err := r.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return err
		}
		if line = append(line[:0], b.Raw...); b.Kind != parser.Outside && b.Kind != parser.Remainder {
			line = spelt(line[:0], b, &set, opt.To.Block.Comments)
		}
		if !bytes.Equal(line, b.Raw) {
			if change.Count++; change.Count == 1 {
				change.Line, change.Was, change.Now = b.Line, strings.TrimSpace(string(b.Raw)), strings.TrimSpace(string(line))
			}
		}
		written += int64(len(line))
		if _, err := buffered.Write(line); err != nil {
			return fmt.Errorf("writing: %w", err)
		}
	}
	if err := buffered.Flush(); err != nil {
		return fmt.Errorf("writing: %w", err)
	}
	if change.Count > 0 {
		var err error
		if change.Line, err = now.lineOf(change.Line, source, res); err != nil {
			return err
		}
		res.Changes, res.Fits = append(res.Changes, change), false
		order := Passes()
		place := func(c Change) int {
			return slices.IndexFunc(order, func(p *Pass) bool { return p.Name == c.Pass.Name })
		}
		slices.SortStableFunc(res.Changes, func(a, b Change) int { return place(a) - place(b) })
	}
	res.Wrote = written
	return nil
}

// spelt appends the block in characters of the set: small letters as capitals, in
// comments of the control a blank for what is left, and outside them for a tab.
func spelt(dst []byte, b *parser.Block, set *profiles.CharacterSet, marks string) []byte {
	comments := b.Comments
	for i := 0; i < len(b.Raw); {
		c, size := b.Raw[i], 1
		for len(comments) > 0 && int(comments[0].End) <= i {
			comments = comments[1:]
		}
		comment := len(comments) > 0 && int(comments[0].Pos) <= i && strings.IndexByte(marks, b.Raw[comments[0].Pos]) >= 0
		switch capital := c &^ ('a' - 'A'); {
		case set[c]:
		case c >= 'a' && c <= 'z' && set[capital]:
			c = capital
		case comment && set[' ']:
			_, size = utf8.DecodeRune(b.Raw[i:comments[0].End])
			c = ' '
		case c == '\t' && set[' ']:
			c = ' '
		}
		dst = append(dst, c)
		i += size
	}
	return dst
}
