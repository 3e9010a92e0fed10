package report

import (
	"io"
	"math"
	"strings"

	"tapefit/parser"
	"tapefit/profiles"
)

// remarks are what the people behind a program wrote into it: its head, and
// what stands near the lines that a setup names. And the blocks that set work
// zero by themselves.
type remarks struct {
	machine *profiles.Machine
	head    []string
	open    bool             // the head may go on
	near    map[int][]string // by line of the setup
	numbers map[int]string   // sequence numbers, by line of the setup
	zeros   []zeroBlock      // that set work zero
	bytes   int64

	before []string // comments alone in their blocks, before the block that is read
	age    int      // blocks since them
	wait   int      // line that waits for a comment behind it, 0: none
	left   int      // blocks for which it waits
}

type zeroBlock struct {
	line int
	text string
}

// Bounds of remarks.
const (
	mostHead      = 9
	mostNear      = 2
	mostZeros     = 4
	farthestAhead = 3 // blocks that a comment may lie before what it is about
	farthestAfter = 2
)

// readRemarks goes through a program once for its texts.
func readRemarks(src io.ReaderAt, size int64, m *profiles.Machine, lines []int) (*remarks, error) {
	src, _, err := parser.Tape(src, size)
	if err != nil {
		return nil, err
	}
	k := &remarks{machine: m, open: true, near: map[int][]string{}, numbers: map[int]string{}, bytes: size}
	for _, line := range lines {
		k.near[line] = nil
	}
	text := parser.NewFileReader(src, size)
	for {
		b, err := text.Next()
		if err == io.EOF {
			return k, nil
		}
		if err != nil {
			return nil, err
		}
		k.block(b)
	}
}

func (k *remarks) block(b *parser.Block) {
	said := commentsOf(b)
	if k.open {
		k.heading(b, said)
	}
	if k.open {
		return // the head is not about the block behind it
	}
	_, asked := k.near[b.Line]
	if asked && len(b.Words) > 0 && b.Words[0].Address == 'N' {
		k.numbers[b.Line] = clean(string(b.Raw[b.Words[0].Pos:b.Words[0].End]))
	}
	switch {
	case asked && len(said) > 0:
		k.near[b.Line] = said
	case asked && k.age <= farthestAhead && len(k.before) > 0:
		k.near[b.Line] = k.before
	case asked:
		k.wait, k.left = b.Line, farthestAfter
	case k.wait > 0 && len(said) > 0:
		k.near[k.wait], k.wait = said, 0
	case k.wait > 0:
		if k.left--; k.left <= 0 {
			k.wait = 0
		}
	}
	switch alone := len(b.Words) == 0 && len(said) > 0 && b.Kind == parser.Ordinary; {
	case alone && k.age == 0 && len(k.before) < mostNear:
		k.before = append(k.before, said...)
	case alone:
		k.before, k.age = said, 0
	default:
		k.age++
		if asked {
			k.before = nil
		}
	}
	k.zero(b)
}

// heading takes in the comments before the first block that does anything, and
// on a tape the text before its first mark.
func (k *remarks) heading(b *parser.Block, said []string) {
	if b.Kind == parser.Outside {
		if text := clean(string(b.Raw[:min(len(b.Raw), longestText)])); text != "" {
			said = []string{text}
		}
	}
	for _, w := range b.Words {
		if w.Address != 'O' && w.Address != 'N' {
			k.open = false
			return
		}
	}
	for _, text := range said {
		if len(k.head) < mostHead {
			k.head = append(k.head, text)
		}
	}
}

// zero keeps a block that sets work zero, by where the axes stand or by number.
func (k *remarks) zero(b *parser.Block) {
	sets, axes := false, false
	for i := range b.Words {
		w := &b.Words[i]
		switch w.Address {
		case 'G':
			if tenths := math.Round(w.Value * 10); w.Expr == nil && tenths >= 0 && tenths < 1e5 {
				meaning := k.machine.G(int(tenths))
				sets = sets || meaning == profiles.SetPosition || meaning == profiles.SetData
			}
		case 'X', 'Y', 'Z', 'U', 'V', 'W', 'A', 'B', 'C':
			axes = true
		}
	}
	if sets && axes && len(k.zeros) < mostZeros {
		k.zeros = append(k.zeros, zeroBlock{b.Line, clean(blockText(b))})
	}
}

// commentsOf are the comments of a block without their marks.
func commentsOf(b *parser.Block) []string {
	var all []string
	for _, c := range b.Comments {
		text := string(b.Raw[c.Pos:min(c.End, c.Pos+longestText)])
		text = clean(strings.TrimSuffix(strings.TrimLeft(text, "(;"), ")"))
		if text != "" && len(all) < mostNear {
			all = append(all, text)
		}
	}
	return all
}
