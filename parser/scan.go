package parser

import (
	"math"
	"strconv"
)

// scan is the fast door: it reads the block at the start of s, with its end of
// line, and gives its length. It knows plain word-address blocks, that is block
// delete, words with plain numbers, and comments; computed values, settings and
// flow statements are scanexpr.go's. On anything else, and where s ends before the
// line does, it gives 0 and leaves the block in no useful
// state: then the grammar has the word. Whatever scan accepts, the grammar
// reads alike; FuzzDoors holds them together.
func (b *Block) scan(s []byte) int {
	b.reset()
	words := b.Words
	for i := 0; uint(i) < uint(len(s)); {
		c := s[i]
		if (c|0x20)-'a' < 26 || c == ':' {
			if len(words) == cap(words) {
				words = append(words, Word{})[:len(words)]
			}
			words = words[:len(words)+1]
			w := &words[len(words)-1]
			w.Pos = int32(i)
			w.Address = c &^ 0x20
			if c == ':' {
				w.Address = 'O'
			}
			at := i
			if i = w.number(s, at+1); i == 0 {
				if i = b.scanFlow(s, at); i > 0 {
					words = words[:len(words)-1]
				} else if i = w.scanComputed(&b.nodes, s, at+1); i == 0 {
					return 0
				}
			}
			continue
		}
		switch c {
		case ' ', '\t', 0:
			i++
			continue
		case '\n':
			b.Words = words
			return i + 1
		case '\r':
			b.Words = words
			return crEnd(s, i)
		case '(', ';':
			i = b.scanComment(s, i)
		case '#':
			i = b.scanSetting(s, i)
		case '/':
			if len(words) > 0 {
				return 0
			}
			i = b.scanDelete(s, i)
		case '0', '1', '2', '3', '4', '5', '6', '7', '8', '9', '.':
			i = resume(words, s, i)
		default:
			return 0
		}
		if i == 0 {
			return 0
		}
	}
	return 0
}

// crEnd is where the line with the CR at i ends; 0 where s does not tell.
func crEnd(s []byte, i int) int {
	if i+1 == len(s) {
		return 0
	}
	if s[i+1] == '\n' {
		return i + 2
	}
	return i + 1
}

// scanComment adds the comment at i and gives its end; 0 where it is not
// closed, or another one opens inside.
func (b *Block) scanComment(s []byte, i int) int {
	whole := s[i] == ';' // to the end of the line
	for j := i + 1; j < len(s); j++ {
		switch s[j] {
		case '\n', '\r':
			if !whole {
				return 0
			}
			b.Comments = append(b.Comments, Comment{int32(i), int32(j), true})
			return j
		case ')':
			if !whole {
				b.Comments = append(b.Comments, Comment{int32(i), int32(j + 1), true})
				return j + 1
			}
		case '(':
			if !whole {
				return 0
			}
		}
	}
	return 0
}

// scanDelete reads the block delete mark at i, in front of all words, with its
// switch number, and gives its end.
func (b *Block) scanDelete(s []byte, i int) int {
	if b.Delete != 0 || len(b.Comments)+len(b.Settings) > 0 || b.Flow != nil {
		return 0
	}
	b.Delete = 1
	j := skipBlanks(s, i+1)
	if j == len(s) || s[j] == '.' || s[j] == '0' {
		return 0
	}
	if s[j] < '1' || s[j] > '9' {
		return i + 1
	}
	b.Delete = s[j] - '0'
	if k := skipBlanks(s, j+1); k == len(s) || isNumeral(s[k]) {
		return 0
	}
	return j + 1
}

// resume reads the last word anew with the digit or point at i, which is
// separated from it by blanks alone, as in "X12. 5".
func resume(words []Word, s []byte, i int) int {
	if len(words) == 0 {
		return 0
	}
	w := &words[len(words)-1]
	if skipBlanks(s, int(w.End)) != i {
		return 0
	}
	return w.spacedNumber(s, int(w.Pos)+1)
}

// skipBlanks is the place of the first byte from i on that is no blank.
func skipBlanks(s []byte, i int) int {
	for i < len(s) && isBlank(s[i]) {
		i++
	}
	return i
}

// isNumeral says whether the byte is a digit or a point.
func isNumeral(c byte) bool { return c-'0' < 10 || c == '.' }

// pow10 are the powers of ten that a float64 holds exactly, and room for an
// index that is masked, not checked.
var pow10 = [32]float64{
	1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
}

// number reads the number behind an address, at i, and gives its end; 0 where
// there is none. The value is that of strconv.ParseFloat: an integer below
// 2^53 and a power of ten up to 10^22 are exact, so their quotient is rounded
// once (W. D. Clinger, "How to Read Floating Point Numbers Accurately", 1990).
func (w *Word) number(s []byte, i int) int {
	at := i
	var sign uint64
	if uint(i) < uint(len(s)) {
		c := s[i]
		if c == '-' {
			sign = 1
		}
		if c == '-' || c == '+' {
			i++
		}
	}
	start := i
	var m uint64
	for ; uint(i) < uint(len(s)); i++ {
		d := s[i] - '0'
		if d > 9 {
			break
		}
		m = m*10 + uint64(d)
	}
	whole := i - start
	frac := 0
	w.Point = false
	if uint(i) < uint(len(s)) && s[i] == '.' {
		w.Point = true
		i++
		start = i
		for ; uint(i) < uint(len(s)); i++ {
			d := s[i] - '0'
			if d > 9 {
				break
			}
			m = m*10 + uint64(d)
		}
		frac = i - start
	}
	if uint(whole+frac-1) >= 19 || m >= 1<<53 {
		return w.spacedNumber(s, at)
	}
	v := float64(int64(m)) / pow10[frac&31]
	w.Value = math.Float64frombits(math.Float64bits(v) | sign<<63)
	w.Neg = sign != 0
	w.Whole = uint8(whole)
	w.Frac = uint8(frac)
	w.End = int32(i)
	if w.Expr != nil { // of an earlier block; mostly there is none, and no write
		w.Expr = nil
	}
	return i
}

// spacedNumber is number for what is rare: blanks in front of the number or
// inside it, and more digits than a float64 holds.
func (w *Word) spacedNumber(s []byte, i int) int {
	var room [32]byte
	text := room[:0]
	i = skipBlanks(s, i)
	w.Neg = false
	if i < len(s) && (s[i] == '-' || s[i] == '+') {
		w.Neg = s[i] == '-'
		text = append(text, s[i])
		i++
	}
	w.Point = false
	end, digits, point := 0, 0, 0
	for ; i < len(s); i++ {
		c := s[i]
		if isBlank(c) {
			continue
		}
		if !isNumeral(c) || c == '.' && w.Point {
			break
		}
		if c == '.' {
			w.Point = true
			point = digits
		} else {
			digits++
		}
		text = append(text, c)
		end = i + 1
	}
	if i == len(s) || digits == 0 || s[i] == '.' {
		return 0
	}
	v, err := strconv.ParseFloat(string(text), 64)
	if err != nil {
		return 0
	}
	if !w.Point {
		point = digits
	}
	w.Value = v
	w.Whole = uint8(min(point, 255))
	w.Frac = uint8(min(digits-point, 255))
	w.End = int32(end)
	w.Expr = nil
	return end
}
