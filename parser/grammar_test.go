package parser

import (
	"fmt"
	"io"
	"strings"
	"testing"
)

// readAll reads a program and keeps its blocks.
func readAll(t testing.TB, program string) []*Block {
	t.Helper()
	var blocks []*Block
	r := NewReader(strings.NewReader(program))
	for {
		b, err := r.Next()
		if err == io.EOF {
			return blocks
		}
		if err != nil {
			t.Fatal(err)
		}
		blocks = append(blocks, b.Clone())
	}
}

// gist is a block in one line: what was read, with values, in the order of the
// struct.
func gist(b *Block) string {
	var s []string
	if b.Delete > 0 {
		s = append(s, fmt.Sprintf("/%d", b.Delete))
	}
	for _, w := range b.Words {
		if w.Expr != nil {
			s = append(s, fmt.Sprintf("%c[%v]", w.Address, w.Expr))
		} else {
			s = append(s, fmt.Sprintf("%c%v", w.Address, w.Value))
		}
	}
	for _, set := range b.Settings {
		s = append(s, fmt.Sprintf("%v=%v", &Expr{Op: Param, Args: []*Expr{set.Index}}, set.Value))
	}
	for _, c := range b.Comments {
		s = append(s, string(b.Text(c.Pos, c.End)))
	}
	if f := b.Flow; f != nil {
		then := ""
		if f.Then != nil {
			then = fmt.Sprintf("#%v=%v", f.Then.Index, f.Then.Value)
		}
		switch f.Kind {
		case Goto:
			s = append(s, fmt.Sprint("GOTO ", f.Target))
		case IfGoto:
			s = append(s, fmt.Sprintf("IF %v GOTO %v", f.Cond, f.Target))
		case IfThen:
			s = append(s, fmt.Sprintf("IF %v THEN %s", f.Cond, then))
		case While:
			s = append(s, fmt.Sprintf("WHILE %v DO %v", f.Cond, f.Target))
		case Do:
			s = append(s, fmt.Sprint("DO ", f.Target))
		case EndDo:
			s = append(s, fmt.Sprint("END ", f.Target))
		}
	}
	return strings.Join(s, " ")
}

// What the RS274/NGC report (NISTIR 6556, 2000, from memory) and common
// practice write, and what it says.
func TestBlocks(t *testing.T) {
	tests := []struct{ source, block, says string }{
		{"RS274/NGC, blanks and case mean nothing", "g0x +0. 12 34y 7", "G0 X0.1234 Y7"},
		{"RS274/NGC, the same without", "g0 x+0.1234 y7", "G0 X0.1234 Y7"},
		{"RS274/NGC, setting beside a move", "#3=6 G1 X#3", "G1 X[#3] #3=6"},
		{"RS274/NGC, precedence", "X[2 + 3 * 4 ** 2]", "X[2+[3*[4**2]]]"},
		{"RS274/NGC, ** binds from the left", "X[2 ** 3 ** 2]", "X[[2**3]**2]"},
		{"RS274/NGC, MOD with * and /", "X[7 mod 4 * 2 / 3]", "X[[[7 MOD 4]*2]/3]"},
		{"RS274/NGC, AND OR XOR with + and -", "X[1 and 2 + 3 xor 4 - 5 or 6]", "X[[[[[1 AND 2]+3] XOR 4]-5] OR 6]"},
		{"RS274/NGC, ATAN takes two", "XATAN[1]/[2]", "X[ATAN[1]/[2]]"},
		{"common practice, a setting without brackets", "#3=#3+1 X#3", "X[#3] #3=#3+1"},
		{"common practice, the same with precedence", "#4 = - #3 * 2 + #5 ** 2 / 4 #6=1-[2+3]*4", "#4=[[-#3]*2]+[[#5**2]/4] #6=1-[[2+3]*4]"},
		{"common practice, a conditional one", "IF [#1 LT 2] THEN #1=#1+1", "IF #1 LT 2 THEN #1=#1+1"},
		{"no operator of letters outside brackets", "#1=7 M0 D3", "M0 D3 #1=7"},
		{"RS274/NGC, functions", "XABS[-1]YSQRT[4]ZROUND[FIX[FUP[1.5]]]", "X[ABS[-1]] Y[SQRT[4]] Z[ROUND[FIX[FUP[1.5]]]]"},
		{"RS274/NGC, an address reads before a function", "ACOS[60]", "A[COS[60]]"},
		{"RS274/NGC, but a value does not", "#1=ACOS[.5]", "#1=ACOS[0.5]"},
		{"RS274/NGC, parameter of a parameter", "#[1+2]=[#3*2] X##4", "X[##4] #[1+2]=#3*2"},
		{"RS274/NGC, G81 example", "G90 G81 G98 X4 Y5 Z1.5 R2.8", "G90 G81 G98 X4 Y5 Z1.5 R2.8"},
		{"RS274/NGC, block delete", "/N10 G1", "/1 N10 G1"},
		{"RS274/NGC, G codes with tenths", "G59.1G92.3", "G59.1 G92.3"},
		{"EIA RS-274-D, leading zeros", "N0010G00X+00125Z-0500", "N10 G0 X125 Z-500"},
		{"common practice, delete switches", "/3 M8", "/3 M8"},
		{"common practice, delete switch with blanks", "/ 3M8", "/3 M8"},
		{"common practice, program numbers", "O0012 (FLANGE)", "O12 (FLANGE)"},
		{"ISO 6983-1, main block", ":12 G0", "O12 G0"},
		{"common practice, points", "X.5 Y5. Z-.25 A+5", "X0.5 Y5 Z-0.25 A5"},
		{"common practice, words out of order", "F300 X1 G1 N10", "F300 X1 G1 N10"},
		{"common practice, comment to the end", "G1 ; facing (1)", "G1 ; facing (1)"},
		{"common practice, comment between words", "T3 (1/4 DRILL) M6", "T3 M6 (1/4 DRILL)"},
		{"common practice, Latin-1 in a comment", "M0 (Stück drehen \xfc)", "M0 (Stück drehen \xfc)"},
		{"common practice, jump", "N5 goto 100", "N5 GOTO 100"},
		{"common practice, computed jump", "GOTO[#1+10]", "GOTO #1+10"},
		{"common practice, branch", "N20 IF [#1 EQ 0] GOTO 90", "N20 IF #1 EQ 0 GOTO 90"},
		{"common practice, conditional setting", "IF[#1LT[#2+1]]THEN#3=-#4", "IF #1 LT [#2+1] THEN #3=-#4"},
		{"common practice, comparison binds last", "IF [#1 + 1 GE #2 * 2] GOTO 9", "IF [#1+1] GE [#2*2] GOTO 9"},
		{"common practice, loop", "WHILE [#1 LE 10] DO 1", "WHILE #1 LE 10 DO 1"},
		{"common practice, end of loop", "END1", "END 1"},
		{"common practice, loop without condition", "D O 2", "DO 2"},
		{"no flow: I and F", "G2 I0 F100", "G2 I0 F100"},
		{"no flow: D and O", "D1 O2", "D1 O2"},
		{"no flow: E N D", "E1 N2 D3", "E1 N2 D3"},
		{"computed, with sign", "X-#1 Y+#2 Z-[1+2] A-SIN[30]", "X[-#1] Y[#2] Z[-[1+2]] A[-SIN[30]]"},
		{"computed, signs inside", "X[1--2] Y[-#1**2]", "X[1-[-2]] Y[[-#1]**2]"},
		{"computed, blanks inside names and numbers", "X S I N [3 0]", "X[SIN[30]]"},
		{"nothing", "", ""},
		{"NUL leader and tabs", "\x00\x00\tG0\tX\t1", "G0 X1"},
		{"17 digits", "X0.12345678901234567", "X0.12345678901234566"},
	}
	for _, test := range tests {
		t.Run(test.source, func(t *testing.T) {
			blocks := readAll(t, test.block+"\n")
			if len(blocks) != 1 {
				t.Fatalf("%q gives %d blocks", test.block, len(blocks))
			}
			if says := gist(blocks[0]); says != test.says {
				t.Errorf("%q\nsays %s\nwant %s", test.block, says, test.says)
			}
			for _, f := range blocks[0].Faults {
				t.Errorf("%q: fault %q", test.block, f.Cause)
			}
		})
	}
}

// A broken block says where and why, and what to do; the rest of it is read.
func TestFaults(t *testing.T) {
	deep := strings.Repeat("[", 101) + "1" + strings.Repeat("]", 101)
	tests := []struct {
		block, says string
		faults      []string // place: cause
	}{
		{"X1 ? Y2", "X1 Y2", []string{`?: "?" is not in the language: delete it, or put it into a comment ( )`}},
		{"X Y2", "Y2", []string{"X: address X has no number: write one, for example X0"}},
		{"X1 Y", "X1", []string{"Y: address Y has no number: write one, for example Y0"}},
		{"X=5", "", []string{"X=5: address X has no number: write one, for example X0"}},
		{"X1.2.3 Y2", "Y2", []string{"X1.2.3: number 1.2.3 has more than one point: write one"}},
		{"Y2 X5O.", "Y2 X5", []string{"O.: the letter O stands in a number: write the digit 0 if that was meant"}},
		{"Y2 X5O", "Y2 X5", []string{"O: the letter O stands in a number: write the digit 0 if that was meant"}},
		{"GO X1", "X1", []string{"GO: letters GO have no number: write G0 if the digit 0 was meant, and text into a comment ( )"}},
		{"S5OO M3", "S5 M3", []string{"OO: letters OO have no number: write 00 if the digit 0 was meant, and text into a comment ( )"}},
		{"GOT X1", "X1", []string{"GOT: letters GOT have no number: write one behind each address, and text into a comment ( )"}},
		{"MO5", "O5", []string{`M: the letter O stands behind "M": write the digit 0 if that was meant`}},
		{"X1 Z-O.5", "X1 O0.5", []string{`Z-: the letter O stands behind "-": write the digit 0 if that was meant`}},
		{"X. Y2", "Y2", []string{"X.: a point without digits is no number: write digits before it or behind it, as in 0.5"}},
		{"X" + strings.Repeat("9", 400) + "Y1", "Y1", []string{"X" + strings.Repeat("9", 400) + ": number " + strings.Repeat("9", 20) + ".. is too large: no control takes it"}},
		{"5 X1", "X1", []string{"5: number 5 has no address: write one in front, for example X5"}},
		{"G1 (cut X5", "G1 (cut X5", []string{`(cut X5: "(" is never closed: end the comment with ")"`}},
		{"G1 (a (b) X5", "G1 X5 (a (b)", []string{`(: "(" inside a comment: comments do not nest, the first ")" ends it; delete this "("`}},
		{"G1 ) X5", "G1 X5", []string{`): ")" closes no comment: delete it, or write "(" in front of the comment`}},
		{"G1 / X5", "G1 X5", []string{`/: "/" marks a block that may be skipped: write it first in the block; a quotient stands in brackets, for example X[1/2]`}},
		{"/0 X5", "/1 X5", []string{"0: block delete has no switch 0: write /1 to /9, or / alone"}},
		{"/12 X5", "/1 X5", []string{"12: block delete has no switch 12: write /1 to /9, or / alone"}},
		{"X1+2 Y3", "X1 Y3", []string{`+2: "+" stands outside brackets: write a computed value in brackets, for example X[1+2]`}},
		{"X[1+] Y3", "Y3", []string{`X[1+]: "+" has no value behind it: write a number, a parameter or an expression in brackets`}},
		{"X[1+2 Y3", "", []string{`X[1+2 Y3: "Y" stands behind a value: write an operator in front of it, or end the expression with "]"`}},
		{"G1 X[1+2", "G1", []string{`X[1+2: "[" is never closed: end the expression with "]"`}},
		{"X1] Y2", "X1 Y2", []string{`]: "]" closes no bracket: delete it, or write "[" in front of the expression`}},
		{"[1+2] Y2", "Y2", []string{"[1+2]: expression has no address: write one in front, for example X[1+2]"}},
		{"X[1 (one) + 2] Y2", "Y2 (one)", []string{"X[1 (one) + 2]: a comment stands inside an expression: write it in front or behind"}},
		{"XATAN[1] Y2", "Y2", []string{"XATAN[1]: ATAN takes two values: write ATAN[a]/[b]"}},
		{"X" + deep + " Y2", "Y2", []string{"X" + deep + ": expression is nested deeper than 100 brackets: compute it in steps, with parameter settings"}},
		{"X" + strings.Repeat("#", 101) + "1 Y2", "Y2", []string{"X" + strings.Repeat("#", 101) + "1: expression is nested deeper than 100 brackets: compute it in steps, with parameter settings"}},
		{"# X1", "X1", []string{`#: "#" has no parameter number: write one, for example #1`}},
		{"#1 X1", "X1", []string{"#1: parameter is neither set nor used: write # with = and a value, or an address in front"}},
		{"#1= (none)", "(none)", []string{`#1=: "=" has no value behind it: write a number, a parameter or an expression in brackets`}},
		{"= 5 X1", "X1", []string{`= 5: "=" sets no parameter: write one in front, for example #1=2`}},
		{"N1 GOTO", "N1", []string{"GOTO: GOTO has no sequence number: write one, for example GOTO 100"}},
		{"IF [#1] X5", "X5", []string{"IF [#1]: IF is not complete: write IF [..] GOTO n, or IF [..] THEN #i=.."}},
		{"WHILE [#1 LT 5]", "", []string{"WHILE [#1 LT 5]: WHILE is not complete: write WHILE [..] DO n"}},
		{"GOTO 1 GOTO 2", "GOTO 1", []string{"GOTO 2: a block takes one flow statement: write this one in a block of its own"}},
		{"IF 5", "F5", []string{"I: address I has no number: write one, for example I0"}},
		{"IF5 X1", "F5 X1", []string{"I: address I has no number: write one, for example I0"}},
		{"finish X5", "X5", []string{"finish: letters FINISH have no number: write one behind each address, and text into a comment ( )"}},
		{"G1 \xe9 X1", "G1 X1", []string{"\xe9: byte E9 (hexadecimal) is not in the language: delete it, or put it into a comment ( )"}},
		{"G1 % X1", "G1 X1", []string{`%: "%" is not in the language: delete it, or put it into a comment ( )`}},
	}
	for _, test := range tests {
		t.Run(clip(test.block), func(t *testing.T) {
			b := readAll(t, test.block)[0]
			if says := gist(b); says != test.says {
				t.Errorf("says %s\nwant %s", says, test.says)
			}
			var faults []string
			for _, f := range b.Faults {
				faults = append(faults, string(b.Text(f.Pos, f.End))+": "+f.Cause)
			}
			if got, want := strings.Join(faults, "\n"), strings.Join(test.faults, "\n"); got != want {
				t.Errorf("faults\n%s\nwant\n%s", got, want)
			}
		})
	}
}

func TestWordParts(t *testing.T) {
	tests := []struct {
		word string
		want Word
	}{
		{"X1", Word{Address: 'X', Whole: 1, End: 2, Value: 1}},
		{"x-012.500", Word{Address: 'X', Neg: true, Point: true, Whole: 3, Frac: 3, End: 9, Value: -12.5}},
		{"Y +5.", Word{Address: 'Y', Point: true, Whole: 1, End: 5, Value: 5}},
		{"Z-.5 ", Word{Address: 'Z', Neg: true, Point: true, Frac: 1, End: 4, Value: -0.5}},
		{"N1 0 ", Word{Address: 'N', Whole: 2, End: 4, Value: 10}},
		{":0012", Word{Address: 'O', Whole: 4, End: 5, Value: 12}},
		{"X" + strings.Repeat("0", 300), Word{Address: 'X', Whole: 255, End: 301}},
	}
	for _, test := range tests {
		b := readAll(t, test.word)[0]
		if len(b.Words) != 1 || b.Words[0] != test.want {
			t.Errorf("%q gives %+v, want %+v", test.word, b.Words, test.want)
		}
	}
}

// The places of nodes span their text, brackets of operands included.
func TestExprPlaces(t *testing.T) {
	b := readAll(t, "X[[1+2] * -#[3-4] ** 5]")[0]
	product := b.Words[0].Expr
	power := product.Args[1]
	for _, test := range []struct {
		e    *Expr
		text string
	}{
		{product, "[1+2] * -#[3-4] ** 5"},
		{product.Args[0], "1+2"},
		{power, "-#[3-4] ** 5"},
		{power.Args[0], "-#[3-4]"},
		{power.Args[0].Args[0], "#[3-4]"},
		{power.Args[1], "5"},
	} {
		if got := string(b.Text(test.e.Pos, test.e.End)); got != test.text {
			t.Errorf("place of %v is %q, want %q", test.e, got, test.text)
		}
	}
}

// A block cannot make the reader run away: what is said about it, and what is
// held of it, is bounded.
func TestBounds(t *testing.T) {
	tests := []struct {
		name, block string
		faults      int
		last        string
	}{
		{"faults", strings.Repeat("X ", 100_000), 101, "too much is wrong in this block: the rest of it is not read"},
		{"as many as are told", strings.Repeat("X ", 100), 100, "address X has no number: write one, for example X0"},
		{"brackets", "X" + strings.Repeat("[", 70_000), 1, "expression is too long: compute it in steps, with parameter settings"},
		{"one long expression", "X[1" + strings.Repeat("+1", 40_000) + "]", 1, "expression is too long: compute it in steps, with parameter settings"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			b := readAll(t, test.block)[0]
			if n := len(b.Faults); n != test.faults || b.Faults[n-1].Cause != test.last {
				t.Errorf("%d faults, the last %q", n, b.Faults[n-1].Cause)
			}
		})
	}
	t.Run("many items go through in stretches", func(t *testing.T) {
		b := readAll(t, "#1=2"+strings.Repeat(" X[#1]", 12_000))[0]
		if len(b.Faults) > 0 || len(b.Words) != 12_000 || len(b.Settings) != 1 {
			t.Errorf("%d words, %d settings, faults %v", len(b.Words), len(b.Settings), b.Faults)
		}
	})
}
