package rules

import (
	"io"

	"tapefit/parser"
)

// machineVerb is behind the mark of a comment that says which machine the program
// is written for: (TAPEFIT MACHINE bed-mill).
const machineVerb = "machine"

// NamedMachine gives the machine that a comment of the program names, in lower
// case, and where the comment is: the first counts. The name is "" where none does.
// Whoever checks a program and is told another machine takes that one. The error is
// one of reading src.
func NamedMachine(src io.ReaderAt, size int64) (name string, at Place, err error) {
	last, err := lastMention(src, size)
	if err != nil || last < 0 {
		return "", at, err
	}
	r := parser.NewFileReader(src, size)
	for {
		b, err := r.Next()
		if err == io.EOF {
			return "", at, nil
		}
		if err != nil {
			return "", at, err
		}
		if b.Offset > last {
			return "", at, nil
		}
		for _, c := range b.Comments {
			rest, ours := toUs(b, c)
			if !ours {
				continue
			}
			verb, rest := cutWord(rest)
			if name, _ := cutWord(rest); verb == machineVerb && name != "" {
				return name, Place{b.Line, b.Offset, c.Pos, c.End}, nil
			}
		}
	}
}
