package parser

import (
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// doors reads one line, which may have an end, through all doors: the scanner,
// the grammar with its short ways, and participle alone. Scanned is nil where
// the scanner hands the line on, and the last two are held together.
func doors(t rapid.TB, line string) (scanned, ruled *Block) {
	t.Helper()
	raw := []byte(line)
	n := LineLength(raw)
	raw = raw[:n]
	var s Block
	if s.scan([]byte(line[:n]+"\n")) > 0 {
		s.Raw = raw
		scanned = s.Clone()
	}
	var g, p Block
	var short law
	strict := law{strict: true}
	short.read(&g, withoutEnd(raw), 1) // not at the start of the program
	strict.read(&p, withoutEnd(raw), 1)
	g.Raw, p.Raw = raw, raw
	ruled = g.Clone()
	if pure := p.Clone(); !sameBlock(ruled, pure) {
		t.Fatalf("%q:\nshort way  %s %+v\nparticiple %s %+v", line, gist(ruled), ruled, gist(pure), pure)
	}
	return scanned, ruled
}

// sameBlock compares bit by bit: -0 is not 0.
func sameBlock(a, b *Block) bool {
	return reflect.DeepEqual(a, b) && slices.EqualFunc(a.Words, b.Words, func(v, w Word) bool {
		return math.Float64bits(v.Value) == math.Float64bits(w.Value)
	})
}

// The scanner takes what CAM output is made of, and leaves the rest.
func TestFastDoor(t *testing.T) {
	tests := []struct {
		line string
		fast bool
	}{
		{"", true},
		{"N1230 X12.3456 Y-3.0021 Z-0.25", true},
		{"G2X1.Y-.5I0J+1", true},
		{"g0x +0. 12 34y 7", true},
		{"/N10G1(rough)X1;end", true},
		{"/2 N10", true},
		{"/ 2N10", true},
		{"O0001 (PLATE)", true},
		{":12", true},
		{"\x00\x00N1\tG0", true},
		{"X123456789.123456789", true},
		{"X-0", true},
		{"N1 G1 (Stück)", true},
		{"/12 X1", false},
		{"//X1", false},
		{"X1/Y2", false},
		{"END1/", false},
		{"#1=2/", false},
		{"(a)/X1", false},
		{"X1 (a) 2", false},
		{"X1.2.3", false},
		{"X1. 2 .3", false},
		{"XY1", false},
		{"X", false},
		{"X#1", true},
		{"#1=2", true},
		{"X[1]", true},
		{"(a", false},
		{"(a(b)", false},
		{"X1)", false},
		{"X--1", false},
		{"%", false},
		{"X\xe9", false},
		{"IF[1]GOTO2", true},
		{"X" + strings.Repeat("9", 400), false},
	}
	for _, test := range tests {
		scanned, ruled := doors(t, test.line)
		if fast := scanned != nil; fast != test.fast {
			t.Errorf("%q: fast door %v, want %v", test.line, fast, test.fast)
		}
		if scanned != nil && !sameBlock(scanned, ruled) {
			t.Errorf("%q:\nscanner %+v\ngrammar %+v", test.line, scanned, ruled)
		}
	}
}

// The scanner's numbers are those of strconv, bit by bit.
func TestNumbersAreExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`[+-]?([0-9]{1,24}(\.[0-9]{0,24})?|\.[0-9]{1,24})`).Draw(t, "number")
		var w Word
		line := "X" + text + "\n"
		if end := w.number([]byte(line), 1); end != len(line)-1 {
			t.Fatalf("%q ends at %d", text, end)
		}
		want, err := strconv.ParseFloat(text, 64)
		if err != nil {
			t.Fatal(err)
		}
		if math.Float64bits(w.Value) != math.Float64bits(want) {
			t.Fatalf("%q is %v, want %v", text, w.Value, want)
		}
	})
}

// blocks makes plausible blocks, with odd spacing and case.
func blocks() *rapid.Generator[string] {
	number := rapid.OneOf(
		rapid.StringMatching(`[+-]?[0-9]{1,5}\.?`),
		rapid.StringMatching(`[+-]?[0-9]{0,4}\.[0-9]{1,5}`),
		rapid.StringMatching(`-?[0-9]{1,3} ?\. ?[0-9] [0-9]{1,3}`),
		rapid.StringMatching(`[0-9]{15,25}\.[0-9]{0,9}`),
	)
	word := rapid.Custom(func(t *rapid.T) string {
		return rapid.StringMatching(`[NGMXYZIJKFSTO:xyzgm][ \t]?`).Draw(t, "address") + number.Draw(t, "number")
	})
	item := rapid.OneOf(
		word, word, word, word,
		rapid.StringMatching(`\([A-Z 0-9:;]{0,12}\)`),
		rapid.StringMatching(`#[1-9]=-?[0-9]{1,3}`),
		rapid.SampledFrom([]string{
			"X[#1+2]", "y-sin[30]", "X[1+2*3**2-#[4]/-5]", "Z-[ATAN[1]/[2] MOD 3]", "#[#2+1]=[1 AND -2]", "X+#3", "#4=COS[#1]*2", "If[#1gt-2]then#3=[4]", "Z#5", "if [#1 eq 1] goto 20", "WHILE[#1LT3]DO1", "END1", "GOTO 10", "(open", "X", "?", "//", "5", "%", "\xe9", "\x00",
		}),
	)
	gap := rapid.SampledFrom([]string{"", "", " ", "  ", "\t", "\x00"})
	return rapid.Custom(func(t *rapid.T) string {
		var s strings.Builder
		s.WriteString(gap.Draw(t, "gap"))
		s.WriteString(rapid.SampledFrom([]string{"", "", "", "/", "/2", "/ 3 "}).Draw(t, "delete"))
		for range rapid.IntRange(0, 7).Draw(t, "items") {
			s.WriteString(item.Draw(t, "item"))
			s.WriteString(gap.Draw(t, "gap"))
		}
		s.WriteString(rapid.SampledFrom([]string{"", "", "", "; to the end (1"}).Draw(t, "comment"))
		return s.String()
	})
}

func TestDoorsAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		line := blocks().Draw(t, "block")
		scanned, ruled := doors(t, line)
		if scanned != nil && !sameBlock(scanned, ruled) {
			t.Fatalf("%q:\nscanner %+v\ngrammar %+v", line, scanned, ruled)
		}
	})
}

func FuzzDoors(f *testing.F) {
	for _, s := range seeds {
		for len(s) > 0 {
			n := LineLength([]byte(s))
			f.Add(s[:n])
			s = s[n:]
		}
	}
	f.Fuzz(func(t *testing.T, line string) {
		if len(line) > 1<<10 { // participle alone looks at the rest of a line for each item
			return
		}
		scanned, ruled := doors(t, line)
		if scanned != nil && !sameBlock(scanned, ruled) {
			t.Fatalf("%q:\nscanner %+v\ngrammar %+v", line, scanned, ruled)
		}
	})
}

// What an expression is written as reads as the same expression.
func TestExprString(t *testing.T) {
	var tree func(depth int) *rapid.Generator[*Expr]
	tree = func(depth int) *rapid.Generator[*Expr] {
		return rapid.Custom(func(t *rapid.T) *Expr {
			op := Number
			if depth > 0 {
				op = ExprOp(rapid.IntRange(int(Number), int(Tan)).Draw(t, "op"))
			}
			e := &Expr{Op: op}
			args := 1
			switch {
			case op == Number:
				e.Value = float64(rapid.IntRange(-9999, 9999).Draw(t, "number")) / 100
				return e
			case op >= Pow && op <= Le, op == Atan:
				args = 2
			}
			for range args {
				e.Args = append(e.Args, tree(depth-1).Draw(t, "arg"))
			}
			return e
		})
	}
	rapid.Check(t, func(t *rapid.T) {
		e := tree(4).Draw(t, "expression")
		line := "X[" + e.String() + "]"
		scanned, b := doors(t, line)
		if scanned != nil && !sameBlock(scanned, b) {
			t.Fatalf("%s:\nscanner %+v\ngrammar %+v", line, scanned, b)
		}
		if len(b.Words) != 1 || len(b.Faults) > 0 {
			t.Fatalf("%s does not read: %+v", line, b.Faults)
		}
		back := b.Words[0].Expr
		if back == nil || !sameTree(e, back) {
			t.Fatalf("%s reads as %v", line, back)
		}
	})
}

func sameTree(a, b *Expr) bool {
	return a.Op == b.Op && a.Value == b.Value && slices.EqualFunc(a.Args, b.Args, sameTree)
}

// The fast path of a running reader does not allocate.
func TestNoAllocations(t *testing.T) {
	r := NewReader(strings.NewReader(linesProgram(1 << 20)))
	for range 100 {
		if _, err := r.Next(); err != nil {
			t.Fatal(err)
		}
	}
	if n := testing.AllocsPerRun(10_000, func() {
		if _, err := r.Next(); err != nil {
			t.Fatal(err)
		}
	}); n != 0 {
		t.Errorf("%v allocations a block", n)
	}
}
