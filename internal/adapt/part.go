package adapt

import (
	"bytes"
	"math"
	"strconv"

	"tapefit/profiles"
)

// fit makes the line no longer than the control reads: without blanks, which mean
// nothing; where that is not enough, what holds on goes into a line in front.
func (w *writer) fit() {
	longest := w.m.Block.Longest
	if longest == 0 || len(w.buf) <= longest || bytes.IndexByte(w.buf, '(') >= 0 {
		return
	}
	if len(w.buf)-bytes.Count(w.buf, []byte(" ")) > longest {
		w.part()
	}
	if len(w.buf) > longest {
		w.buf = bytes.ReplaceAll(w.buf, []byte(" "), nil)
	}
}

// part writes the words of the line that may as well stand in one in front of it.
// Block delete is for both.
func (w *writer) part() {
	if bytes.ContainsAny(w.buf, "[#;=") {
		return
	}
	var front, rest []byte
	for words := w.buf; len(words) > 0; {
		n := 1
		for n < len(words) && (words[n] < 'A' || words[n] > 'Z') {
			n++
		}
		word := bytes.TrimSpace(words[:n])
		words = words[n:]
		switch {
		case word[0] == '/':
			front, rest = append(front, word...), append(rest, word...)
		case w.goesAhead(word):
			front = w.joined(front, word)
		default:
			rest = w.joined(rest, word)
		}
	}
	if len(front) > 0 && front[len(front)-1] != '/' {
		w.write(append(front, w.end...))
		w.buf = append(w.buf[:0], rest...)
	}
}

// joined is the line with one word more.
func (w *writer) joined(line, word []byte) []byte {
	if n := len(line); w.blank && n > 0 && line[n-1] != '/' {
		line = append(line, ' ')
	}
	return append(line, word...)
}

// goesAhead says whether a word of a line means the same in a line in front of it:
// the number, a feed that holds on, and codes that move nothing and hold on.
func (w *writer) goesAhead(word []byte) bool {
	switch word[0] {
	case 'N':
		return true
	case 'F':
		return w.feedMode != profiles.FeedInverseTime
	case 'G':
		code, err := strconv.ParseFloat(string(word[1:]), 64)
		if err != nil {
			return false
		}
		switch w.m.G(int(math.Round(code * 10))).Group() {
		case profiles.PlaneGroup, profiles.DistGroup, profiles.FeedGroup, profiles.UnitsGroup, profiles.RetractGroup:
			return true
		}
	}
	return false
}
