package parser

import "bytes"

// What makes the beginning of a file no text. Compressed or binary data has such
// a byte in 18 on average, all bytes being alike there; text has none, but for
// noise on a line or a floppy.
const (
	fewestStrange    = 8  // bytes that no text has
	wellOfOneStrange = 50 // of so many bytes one may be strange
)

// isStrange says whether a byte is a control character that no program has: not
// blank tape, a tabulator or an end of line, none that frames a transmission or
// switches reader and punch (2 to 4, 17 to 20), shifts the set of characters
// (14, 15, 27), corrects what was punched (8) or ends a file (26). Meanings by
// ISO 646 and ISO 6429, uses by common practice.
func isStrange(c byte) bool {
	const plain = 1<<0 | 1<<2 | 1<<3 | 1<<4 | 1<<8 | 1<<'\t' | 1<<'\n' | 1<<'\v' | 1<<'\f' | 1<<'\r' |
		1<<14 | 1<<15 | 1<<17 | 1<<18 | 1<<19 | 1<<20 | 1<<26 | 1<<27
	return c < ' ' && plain>>c&1 == 0
}

// isAlien says whether a file that begins with head, and is no tape that can be
// recognised, is neither a program nor any other text: a picture, an archive.
// Letters of any language and in any code are text. A program with something
// else behind its end is a program, and a tape too damaged to be recognised is
// left to be read.
func isAlien(head []byte) bool {
	strange := 0
	for _, c := range head {
		if isStrange(c) {
			strange++
		}
	}
	shown := len(head) - bytes.Count(head, []byte{0})
	if strange < fewestStrange || strange*wellOfOneStrange < shown || isMostlyRS244(head) {
		return false
	}
	first := bytes.IndexFunc(head, func(r rune) bool { return r < ' ' && isStrange(byte(r)) })
	var text [256]byte
	for c := range text {
		text[c] = byte(c)
	}
	return !looksLikeBlocks(head[:first], &text)
}

// isMostlyRS244 says whether most rows are characters of EIA RS-244, whose
// digits are control characters in text. Of all rows there are it has one in four.
func isMostlyRS244(rows []byte) bool {
	table := RS244.table()
	good, punched := 0, 0
	for _, row := range rows {
		if row != 0 {
			punched++
			if table[row] != misread {
				good++
			}
		}
	}
	return 2*good > punched
}
