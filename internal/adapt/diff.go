package adapt

import (
	"bytes"
	"hash/maphash"
	"io"
	"math"
	"math/bits"

	"tapefit/parser"
)

// A Row is a block of the source beside the block of the output that stands for
// it. Source or Out is nil where the other stands alone.
type Row struct {
	Source, Out *Block
	Same        bool // both, byte for byte but for the end of the line
}

// A Block is one line of a program as it is written.
type Block struct {
	Line int
	Text string // without its end of line

	exact     uint64 // hash of the text
	words     uint64 // a bit for each word that it has, but N
	addresses uint32 // bit n: 'A'+n
}

// alignSpan is how many blocks of each side are aligned at once. What lies
// further off than that is not found again.
const alignSpan = 256

// Align puts the blocks of two programs side by side, in order: equal blocks
// where they can be, and those that have most in common. It gives each row as
// it is found, and stops when give says false. Memory does not grow with the
// programs: both are read once, through a window.
func Align(source io.ReaderAt, sourceSize int64, out io.ReaderAt, outSize int64, give func(Row) bool) error {
	a := aligner{a: lines{r: parser.NewFileReader(source, sourceSize)}, b: lines{r: parser.NewFileReader(out, outSize)}}
	a.a.seed = maphash.MakeSeed()
	a.b.seed = a.a.seed
	for {
		if err := a.a.fill(); err != nil {
			return err
		}
		if err := a.b.fill(); err != nil {
			return err
		}
		if len(a.a.at) == 0 && len(a.b.at) == 0 {
			return nil
		}
		if !a.window(give) {
			return nil
		}
	}
}

// lines is a window on the blocks of one program.
type lines struct {
	r    *parser.Reader
	seed maphash.Seed
	at   []*Block
	end  bool // nothing comes behind at
}

func (l *lines) fill() error {
	for !l.end && len(l.at) < alignSpan {
		b, err := l.r.Next()
		switch {
		case err == io.EOF:
			l.end = true
			return nil
		case err != nil:
			return err
		}
		l.at = append(l.at, l.block(b))
	}
	return nil
}

func (l *lines) block(b *parser.Block) *Block {
	text := bytes.Trim(b.Raw, "\r\n\x00") // NUL is blank tape
	line := &Block{Line: b.Line, Text: string(text), exact: maphash.Bytes(l.seed, text)}
	for i := range b.Words {
		w := &b.Words[i]
		if w.Address == 'N' {
			continue
		}
		line.addresses |= 1 << (w.Address - 'A')
		line.words |= 1 << wordBit(w)
	}
	return line
}

// wordBit is which of 64 bits stands for a word. It is the same in every run, so
// that one program always looks the same beside another. The factor is the
// golden ratio of 2^64, which scatters what is close (Knuth, The Art of Computer
// Programming, vol. 3, 6.4: from memory).
func wordBit(w *parser.Word) uint64 {
	const golden = 0x9E3779B97F4A7C15
	return ((math.Float64bits(w.Value)*golden ^ uint64(w.Address)) * golden) >> 58
}

// drop goes past n blocks.
func (l *lines) drop(n int) { l.at = l.at[:copy(l.at, l.at[n:])] }

// An aligner keeps the table of one window: the most that the first i and the
// first j blocks, counted from the ends, can have in common.
type aligner struct {
	a, b  lines
	table [alignSpan + 1][alignSpan + 1]int32
}

// window gives the rows of one window; while more is to come only the first
// half, so that each block has been seen with what lies around it.
func (al *aligner) window(give func(Row) bool) bool {
	x, y := al.a.at, al.b.at
	n := 0
	for n < len(x) && n < len(y) && x[n].exact == y[n].exact {
		if !give(Row{x[n], y[n], true}) {
			return false
		}
		n++
	}
	if n > 0 {
		al.a.drop(n)
		al.b.drop(n)
		return true
	}
	al.weigh(x, y)
	last := al.a.end && al.b.end
	i, j := 0, 0
	for i < len(x) || j < len(y) {
		if !last && (i >= alignSpan/2 || j >= alignSpan/2) {
			break
		}
		row := al.choose(x, y, i, j)
		if row.Source != nil {
			i++
		}
		if row.Out != nil {
			j++
		}
		if !give(row) {
			return false
		}
	}
	al.a.drop(i)
	al.b.drop(j)
	return true
}

// weigh fills the table from the ends (Needleman and Wunsch, 1970: from memory).
func (al *aligner) weigh(x, y []*Block) {
	t := &al.table
	for j := range len(y) + 1 {
		t[len(x)][j] = 0
	}
	for i := len(x) - 1; i >= 0; i-- {
		t[i][len(y)] = 0
		for j := len(y) - 1; j >= 0; j-- {
			best := max(t[i+1][j], t[i][j+1])
			if s := alike(x[i], y[j]); s > 0 {
				best = max(best, t[i+1][j+1]+s)
			}
			t[i][j] = best
		}
	}
}

// choose is the row at blocks i and j.
func (al *aligner) choose(x, y []*Block, i, j int) Row {
	t := &al.table
	switch {
	case i == len(x):
		return Row{Out: y[j]}
	case j == len(y):
		return Row{Source: x[i]}
	}
	if s := alike(x[i], y[j]); s > 0 && t[i][j] == t[i+1][j+1]+s {
		return Row{x[i], y[j], x[i].exact == y[j].exact}
	}
	if t[i][j] == t[i+1][j] {
		return Row{Source: x[i]}
	}
	return Row{Out: y[j]}
}

// alike is how much two blocks have in common: equal text most of all, then
// words, then addresses.
func alike(x, y *Block) int32 {
	if x.exact == y.exact {
		return 100
	}
	words := bits.OnesCount64(x.words & y.words)
	common := bits.OnesCount32(x.addresses & y.addresses)
	if common == 0 {
		return 0
	}
	other := bits.OnesCount32(x.addresses ^ y.addresses)
	return int32(max(1, 6*words+3*common-2*other))
}
