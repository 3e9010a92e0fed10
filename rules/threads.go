package rules

import (
	"bytes"
	"math"
	"strconv"
)

// A metricThread is a row of the general plan of ISO 261, ISO general purpose
// metric screw threads (from memory): nominal diameter, coarse pitch and fine
// pitches, mm. A coarse pitch of 0: there is none.
type metricThread struct {
	diameter, coarse float64
	fine             []float64
}

// metricThreads are the sizes up to 68 mm. The table is never written to.
var metricThreads = [...]metricThread{
	{1, 0.25, []float64{0.2}}, {1.1, 0.25, []float64{0.2}}, {1.2, 0.25, []float64{0.2}}, {1.4, 0.3, []float64{0.2}},
	{1.6, 0.35, []float64{0.2}}, {1.8, 0.35, []float64{0.2}}, {2, 0.4, []float64{0.25}}, {2.2, 0.45, []float64{0.25}},
	{2.5, 0.45, []float64{0.35}}, {3, 0.5, []float64{0.35}}, {3.5, 0.6, []float64{0.35}}, {4, 0.7, []float64{0.5}},
	{4.5, 0.75, []float64{0.5}}, {5, 0.8, []float64{0.5}}, {5.5, 0, []float64{0.5}}, {6, 1, []float64{0.75}},
	{7, 1, []float64{0.75}}, {8, 1.25, []float64{1, 0.75}}, {9, 1.25, []float64{1, 0.75}}, {10, 1.5, []float64{1.25, 1, 0.75}},
	{11, 1.5, []float64{1, 0.75}}, {12, 1.75, []float64{1.5, 1.25, 1}}, {14, 2, []float64{1.5, 1.25, 1}}, {15, 0, []float64{1.5, 1}},
	{16, 2, []float64{1.5, 1}}, {17, 0, []float64{1.5, 1}}, {18, 2.5, []float64{2, 1.5, 1}}, {20, 2.5, []float64{2, 1.5, 1}},
	{22, 2.5, []float64{2, 1.5, 1}}, {24, 3, []float64{2, 1.5, 1}}, {25, 0, []float64{2, 1.5, 1}}, {27, 3, []float64{2, 1.5, 1}},
	{30, 3.5, []float64{3, 2, 1.5, 1}}, {33, 3.5, []float64{3, 2, 1.5}}, {36, 4, []float64{3, 2, 1.5}}, {39, 4, []float64{3, 2, 1.5}},
	{42, 4.5, []float64{4, 3, 2, 1.5}}, {45, 4.5, []float64{4, 3, 2, 1.5}}, {48, 5, []float64{4, 3, 2, 1.5}}, {52, 5, []float64{4, 3, 2, 1.5}},
	{56, 5.5, []float64{4, 3, 2, 1.5}}, {60, 5.5, []float64{4, 3, 2, 1.5}}, {64, 6, []float64{4, 3, 2, 1.5}}, {68, 6, []float64{4, 3, 2, 1.5}},
}

// An inchThread is a size of ASME B1.1, unified inch screw threads (from
// memory): nominal diameter, inch, and threads an inch of the coarse (UNC) and
// the fine (UNF) series; 0: there is none.
type inchThread struct{ diameter, coarse, fine float64 }

// inchThreads are the sizes up to 4 in; those below 1/4 are the numbers 0 to
// 12, whose diameter is 0.060 in and 0.013 in for each number. The table is never
// written to.
var inchThreads = [...]inchThread{
	{0.060, 0, 80}, {0.073, 64, 72}, {0.086, 56, 64}, {0.099, 48, 56}, {0.112, 40, 48}, {0.125, 40, 44}, {0.138, 32, 40},
	{0.164, 32, 36}, {0.190, 24, 32}, {0.216, 24, 28}, {0.25, 20, 28}, {0.3125, 18, 24}, {0.375, 16, 24}, {0.4375, 14, 20},
	{0.5, 13, 20}, {0.5625, 12, 18}, {0.625, 11, 18}, {0.75, 10, 16}, {0.875, 9, 14}, {1, 8, 12}, {1.125, 7, 12}, {1.25, 7, 12},
	{1.375, 6, 12}, {1.5, 6, 12}, {1.75, 5, 0}, {2, 4.5, 0}, {2.25, 4.5, 0}, {2.5, 4, 0}, {2.75, 4, 0}, {3, 4, 0}, {3.25, 4, 0},
	{3.5, 4, 0}, {3.75, 4, 0}, {4, 4, 0},
}

// otherTPI are threads an inch of series that stand in neither table: constant
// pitch of ASME B1.1, pipe threads (common practice).
var otherTPI = [...]float64{4, 6, 8, 11, 11.5, 12, 14, 16, 18, 19, 20, 27, 28, 32}

// nearestPitch is the standard pitch nearest to one, by share, mm.
func nearestPitch(pitch float64) float64 {
	best := math.Inf(1)
	try := func(p float64) {
		if p > 0 && !math.IsInf(p, 0) && math.Abs(math.Log(p/pitch)) < math.Abs(math.Log(best/pitch)) {
			best = p
		}
	}
	for i := range metricThreads {
		try(metricThreads[i].coarse)
		for _, p := range metricThreads[i].fine {
			try(p)
		}
	}
	for i := range inchThreads {
		try(25.4 / inchThreads[i].coarse)
		try(25.4 / inchThreads[i].fine)
	}
	for _, tpi := range otherTPI {
		try(25.4 / tpi)
	}
	return best
}

// A thread is one that a text names.
type thread struct {
	name  string
	pitch float64   // mm
	fine  []float64 // other pitches of a name that gives none: M8 is coarse, and may be meant fine
}

// threadsIn are the threads that a comment or a title names, at most a few.
// What could be something else (M8 is a code too, 10-24 may be a date) counts
// where the text speaks of a tap or a thread.
func threadsIn(text []byte) []thread {
	const most = 4
	var list []thread
	taps := speaksOfTap(text)
	for i := 0; i < len(text) && len(list) < most; {
		t, n := metricAt(text, i, taps)
		if n == 0 {
			t, n = inchAt(text, i, taps)
		}
		if n == 0 {
			i++
			continue
		}
		list = append(list, t)
		i += n
	}
	return list
}

// speaksOfTap says whether a word of the text is of taps and threads.
func speaksOfTap(text []byte) bool {
	for _, word := range bytes.FieldsFunc(bytes.ToUpper(text), func(r rune) bool { return r < 'A' || r > 'Z' }) {
		switch string(word) {
		case "TAP", "TAPS", "TAPPED", "TAPPING", "THREAD", "THREADS", "THD", "UN", "UNC", "UNF", "UNS", "UNEF":
			return true
		}
	}
	return false
}

// metricAt reads M8, M8X1 or M8 x 1.25 at text[i:]; n is its length, 0 for none.
func metricAt(text []byte, i int, taps bool) (t thread, n int) {
	if text[i]|0x20 != 'm' || i > 0 && wordByte(text[i-1]) {
		return t, 0
	}
	diameter, end := number(text, i+1)
	if end == i+1 {
		return t, 0
	}
	if by := pastBlanks(text, end); by < len(text) && (text[by]|0x20 == 'x' || text[by] == '*' || taps && text[by] == '-') {
		from := pastBlanks(text, by+1)
		if pitch, to := number(text, from); to > from && pitch >= 0.2 && pitch <= 8 && pitch < diameter {
			return thread{name: string(text[i:to]), pitch: pitch}, to - i
		}
	}
	if !taps || end < len(text) && wordByte(text[end]) {
		return t, 0
	}
	for j := range metricThreads {
		if m := &metricThreads[j]; m.diameter == diameter && m.coarse > 0 {
			return thread{name: string(text[i:end]), pitch: m.coarse, fine: m.fine}, end - i
		}
	}
	return t, 0
}

// inchAt reads 1/4-20, 1-1/8-7, .500-13, #10-32 or 10-24 at text[i:].
func inchAt(text []byte, i int, taps bool) (t thread, n int) {
	if i > 0 && (wordByte(text[i-1]) || text[i-1] == '.' || text[i-1] == '/' || text[i-1] == '#') {
		return t, 0
	}
	diameter, plain, end := inchSize(text, i)
	if end == i || end >= len(text) || text[end] != '-' {
		return t, 0
	}
	tpi, to := number(text, end+1)
	if to == end+1 || tpi < 4 || tpi > 80 || tpi*2 != math.Trunc(tpi*2) || to < len(text) && (text[to] == '-' || text[to] == '/' || text[to] == '.') {
		return t, 0
	}
	if !taps && (plain || !isInchThread(diameter, tpi)) {
		return t, 0
	}
	return thread{name: string(text[i:to]), pitch: 25.4 / tpi}, to - i
}

// inchSize reads the size of an inch thread, in inches. plain: a whole number
// that may be many things.
func inchSize(text []byte, i int) (size float64, plain bool, end int) {
	if text[i] == '#' {
		v, end := number(text, i+1)
		if end == i+1 {
			return 0, false, i
		}
		return 0.060 + 0.013*v, false, end
	}
	v, end := number(text, i)
	if end == i {
		return 0, false, i
	}
	if f, to := fraction(text, i); to > i {
		return f, false, to
	}
	if end < len(text) && (text[end] == '-' || text[end] == ' ') {
		if f, to := fraction(text, end+1); to > end+1 && f < 1 {
			return v + f, false, to
		}
	}
	plain = v == math.Trunc(v) && bytes.IndexByte(text[i:end], '.') < 0
	if plain && v <= 12 && v > 4 {
		v = 0.060 + 0.013*v
	}
	return v, plain, end
}

// fraction reads 3/8.
func fraction(text []byte, i int) (v float64, end int) {
	above, slash := number(text, i)
	if slash == i || slash >= len(text) || text[slash] != '/' {
		return 0, i
	}
	below, end := number(text, slash+1)
	if end == slash+1 || below == 0 {
		return 0, i
	}
	return above / below, end
}

func isInchThread(diameter, tpi float64) bool {
	for i := range inchThreads {
		if t := &inchThreads[i]; math.Abs(t.diameter-diameter) < 0.0006 && (t.coarse == tpi || t.fine == tpi) {
			return true
		}
	}
	return false
}

// number reads digits with or without a point at text[i:].
func number(text []byte, i int) (v float64, end int) {
	const longest = 8
	for end = i; end < len(text) && end-i < longest && (text[end] >= '0' && text[end] <= '9' || text[end] == '.'); end++ {
	}
	v, err := strconv.ParseFloat(string(text[i:end]), 64)
	if err != nil { // nothing, a point alone, two points
		return 0, i
	}
	return v, end
}

// pastBlanks is the place behind the blanks at text[i:].
func pastBlanks(text []byte, i int) int {
	for i < len(text) && text[i] == ' ' {
		i++
	}
	return i
}

// wordByte says whether c is a letter or a digit.
func wordByte(c byte) bool {
	return c >= '0' && c <= '9' || c|0x20 >= 'a' && c|0x20 <= 'z'
}
