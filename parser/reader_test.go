package parser

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"reflect"
	"strings"
	"testing"
	"testing/iotest"

	"pgregory.net/rapid"
)

// seeds are programs of all the forms that the package knows, and some that it
// does not.
var seeds = []string{
	"%\nO0001 (PLATE)\nN10 G90 G21 G17\nN20 T1 M6\nN30 G0 X12.5 Y-3. S900 M3\nN40 G1 Z-.25 F120\nN50 M30\n%\n",
	"g0x +0. 12 34y 7\r\n#3=6 G1 X#3\r\nG90 G81 G98 X4 Y5 Z1.5 R2.8\r\n",
	"N1 G0\rN2 X1\r\nN3 Y2\n\rN4",
	"\xef\xbb\xbf%\r\n(St\xfcck)\r\nM2\r\n",
	"\x00\x00\x00%\x00\n:12\nM30\n%\n\x00\x00",
	"mail header\n\n%\nG0X1\nM2\n%\ntail\n\n%\n",
	"/2 N10 X[1+2*[3-#4]] YSIN[30] Z-#[5]\nIF [#1 EQ 10] GOTO 20\nWHILE [#1 LT 5] DO 1\n#1=[#1+1]\nEND 1\nIF [#2 NE 0] THEN #3=ATAN[1]/[2]\n",
	"X1 ? Y2\nX Y2\n(open\nX[1+\nX1 (a(b)) ; c\n]]]\n= - * / # . : ( [\nhello world\n",
	"", "\n", "\r", "\r\n", "%", "%\n", "X1", "; x", "/",
}

// checkLossless reads a program of any bytes and holds the blocks to what they
// promise.
func checkLossless(t rapid.TB, source []byte, r *Reader) {
	t.Helper()
	var back, printed bytes.Buffer
	line, end := 1, int64(0)
	for {
		b, err := r.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if b.Line != line || b.Offset != end {
			t.Fatalf("block %q is on line %d at %d, want %d at %d", b.Raw, b.Line, b.Offset, line, end)
		}
		end += int64(len(b.Raw))
		if len(b.Raw) == 0 {
			t.Fatalf("line %d: empty block", line)
		}
		if n := len(b.Raw); b.Raw[n-1] == '\n' || b.Raw[n-1] == '\r' {
			line++
		}
		if n := LineLength(b.Raw); n != len(b.Raw) {
			t.Fatalf("%q is more than a line", b.Raw)
		}
		checkTokens(t, b)
		if c := b.Clone(); gist(c) != gist(b) || !reflect.DeepEqual(c.Tokens(nil), b.Tokens(nil)) {
			t.Fatalf("%q: clone differs", b.Raw)
		}
		back.Write(b.Raw)
		if err := Print(&printed, b); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(back.Bytes(), source) || !bytes.Equal(printed.Bytes(), source) {
		t.Fatalf("%q comes back as %q and is printed as %q", source, back.Bytes(), printed.Bytes())
	}
}

// checkTokens checks that the tokens tile the block, that each thing read is
// one of them and that all junk is under a fault.
func checkTokens(t rapid.TB, b *Block) {
	t.Helper()
	at, items := int32(0), 0
	for _, tok := range b.Tokens(nil) {
		if tok.Pos != at || tok.End <= tok.Pos {
			t.Fatalf("%q: token %+v does not follow on %d", b.Raw, tok, at)
		}
		at = tok.End
		switch tok.Kind {
		case WordToken, CommentToken, SettingToken, FlowToken:
			items++
		case Junk:
			checkUnderFault(t, b, tok)
		case Space:
			if s := strings.Trim(string(b.Text(tok.Pos, tok.End)), " \t\x00"); s != "" && s != bom {
				t.Fatalf("%q: %q is no space", b.Raw, s)
			}
		}
	}
	if at != int32(len(b.Raw)) {
		t.Fatalf("%q: tokens end at %d", b.Raw, at)
	}
	want := len(b.Words) + len(b.Comments) + len(b.Settings)
	if b.Flow != nil {
		want++
	}
	if items != want {
		t.Fatalf("%q: %d tokens for %d items", b.Raw, items, want)
	}
	for i, f := range b.Faults {
		if f.Pos >= f.End || f.End > int32(len(b.Raw)) || f.Cause == "" || i > 0 && f.Pos < b.Faults[i-1].Pos {
			t.Fatalf("%q: fault %+v", b.Raw, f)
		}
	}
}

func checkUnderFault(t rapid.TB, b *Block, tok Token) {
	t.Helper()
	if b.Kind == Remainder {
		return // the fault is on the head of the line
	}
	for p := tok.Pos; p < tok.End; p++ {
		under := false
		for _, f := range b.Faults {
			under = under || f.Pos <= p && p < f.End
		}
		if !under {
			t.Fatalf("%q: no fault says what is wrong at %d, faults %+v", b.Raw, p, b.Faults)
		}
	}
}

func TestLossless(t *testing.T) {
	for _, s := range seeds {
		checkLossless(t, []byte(s), NewReader(strings.NewReader(s)))
		checkLossless(t, []byte(s), NewReader(iotest.OneByteReader(strings.NewReader(s))))
	}
}

func TestProgramsAreLossless(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var s strings.Builder
		for range rapid.IntRange(0, 20).Draw(t, "blocks") {
			s.WriteString(blocks().Draw(t, "block"))
			s.WriteString(rapid.SampledFrom([]string{"\n", "\r\n", "\r", "\n%\n"}).Draw(t, "end"))
		}
		checkLossless(t, []byte(s.String()), NewReader(strings.NewReader(s.String())))
	})
}

func FuzzReader(f *testing.F) {
	for _, s := range seeds {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, source []byte) {
		if len(source) > 1<<16 {
			return
		}
		checkLossless(t, source, NewReader(bytes.NewReader(source)))
		// However the bytes arrive, the blocks are the same.
		whole, halves := NewReader(bytes.NewReader(source)), NewReader(iotest.HalfReader(bytes.NewReader(source)))
		for {
			a, errA := whole.Next()
			b, errB := halves.Next()
			if errA != nil || errB != nil {
				if errA != errB {
					t.Fatal(errA, errB)
				}
				break
			}
			if !reflect.DeepEqual(a.Clone(), b.Clone()) {
				t.Fatalf("%q reads as %+v in halves, %+v whole", a.Raw, b, a)
			}
		}
	})
}

// Where the program begins and ends: common practice of tapes and of drip feed.
func TestPercent(t *testing.T) {
	tests := []struct{ name, program, kinds string }{
		{"both marks", "%\nG0\nM30\n%\n", "P..P"},
		{"title behind the mark", "% FLANGE\nG0\nM30\n%\n", "P..P"},
		{"text outside", "from the office\n\n%\nG0\n%\ntail\n\n", "O.P.POO"},
		{"leader and mark order", "\x00\x00\xef%\nG0\n", ".."},
		{"NUL leader", "\x00\x00%\nG0\n%\n", "P.P"},
		{"byte order mark", "\xef\xbb\xbf%\nG0\n%\n", "P.P"},
		{"end mark alone", "G0\nM30\n%\n", "..P"},
		{"end mark alone, NUL trailer", "G0\nM2\n%\n\x00\x00\x00\n", "..PO"},
		{"end mark alone, text behind it", "G0\nm 0 2\n%\ntail\n", "..PO"},
		{"end mark alone, computed words in front", "#1=2\nX[#1] M30\r%\ntail\n", "..PO"},
		{"M30 in a comment ends nothing", "(M30)\n%\nG0\n", "OP."},
		{"subprogram end before the mark", "O1\nM99\n%\ntail\n", "..PO"},
		{"no marks", "G0\nM30\n", ".."},
		{"a third mark is outside", "%\nM30\n%\n%\n", "P.PO"},
		{"blanks in front", "  %\nG0\n\t%\n", "P.P"},
		{"only a mark", "%", "P"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			kinds := ""
			for _, b := range readAll(t, test.program) {
				kinds += string(".POR"[b.Kind])
				if b.Kind != Ordinary && (len(b.Words) > 0 || len(b.Faults) > 0) {
					t.Errorf("%q has words or faults", b.Raw)
				}
			}
			if kinds != test.kinds {
				t.Errorf("%q is %s, want %s", test.program, kinds, test.kinds)
			}
		})
	}
}

func TestReaderAt(t *testing.T) {
	program := "%\nO1\nM98 P2\nM30\nO2\nG1 X1\nM99\n%\ntail\n"
	r := NewReaderAt(strings.NewReader(program), int64(strings.Index(program, "O2")), 5)
	var got []string
	for {
		b, err := r.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if at := program[b.Offset:]; !strings.HasPrefix(at, string(b.Raw)) {
			t.Errorf("block %q is not at its offset", b.Raw)
		}
		got = append(got, fmt.Sprintf("%d %d %s", b.Line, b.Kind, withoutEnd(b.Raw)))
	}
	want := []string{"5 0 O2", "6 0 G1 X1", "7 0 M99", "8 1 %", "9 2 tail"}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}

func TestReadError(t *testing.T) {
	broken := errors.New("cable out")
	r := NewReader(io.MultiReader(strings.NewReader("G0 X1\nG0 X"), iotest.ErrReader(broken)))
	if b, err := r.Next(); err != nil || gist(b) != "G0 X1" {
		t.Fatal(b, err)
	}
	_, err := r.Next() // not X, of which the rest may be missing
	if !errors.Is(err, broken) || !strings.HasPrefix(err.Error(), "line 2: ") {
		t.Errorf("error %v", err)
	}
}

func TestNoProgress(t *testing.T) {
	r := NewReader(iotest.TimeoutReader(iotest.OneByteReader(strings.NewReader("G0\n"))))
	if _, err := r.Next(); !errors.Is(err, iotest.ErrTimeout) {
		t.Errorf("error %v", err)
	}
	r = NewReader(emptyReader{})
	if _, err := r.Next(); !errors.Is(err, io.ErrNoProgress) {
		t.Errorf("error %v", err)
	}
}

type emptyReader struct{}

func (emptyReader) Read([]byte) (int, error) { return 0, nil }

// Lines of 1 MB are read as any other; what is longer than MaxBlock comes back
// in pieces, with one fault.
func TestLongLines(t *testing.T) {
	words := "G1" + strings.Repeat(" X1.5 Y-2", 1<<20/9)
	b := readAll(t, "N1\n"+words+"\nN3\n")
	if len(b) != 3 || len(b[1].Words) != 1+2*(1<<20/9) || len(b[1].Faults) > 0 || gist(b[2]) != "N3" {
		t.Fatalf("%d blocks", len(b))
	}
	comment := "(" + strings.Repeat("x", 1<<20) + ") X#1"
	b = readAll(t, comment)
	if len(b) != 1 || len(b[0].Words) != 1 || len(b[0].Comments) != 1 || len(b[0].Faults) > 0 {
		t.Fatalf("%d blocks", len(b))
	}
	for _, end := range []string{"\n", "\r", "\r\n", ""} {
		for _, size := range []int{MaxBlock - 1, MaxBlock, 2*MaxBlock + 1} {
			source := "N1\n(" + strings.Repeat("x", size-2) + ")" + end + "N3\n"
			checkLossless(t, []byte(source), NewReader(strings.NewReader(source)))
			blocks := readAll(t, source)
			length := size + len(end)
			if end == "" {
				length += len("N3\n")
			}
			head := blocks[1]
			if long := len(head.Faults) == 1; long != (length > MaxBlock) {
				t.Errorf("line of %d bytes: faults %v", length, head.Faults)
			}
			for _, b := range blocks[2:] {
				if b.Line == 2 && (b.Kind != Remainder || len(b.Words)+len(b.Faults) > 0) {
					t.Errorf("line of %d bytes: piece of kind %d", length, b.Kind)
				}
			}
			if last := blocks[len(blocks)-1]; end != "" && (last.Line != 3 || gist(last) != "N3") {
				t.Errorf("line of %d bytes: then %q on line %d", length, last.Raw, last.Line)
			}
		}
	}
	outside := "%\n%\n" + strings.Repeat("x", MaxBlock+5)
	for _, b := range readAll(t, outside)[2:] {
		if b.Kind != Outside || len(b.Faults) > 0 {
			t.Errorf("kind %d, faults %v", b.Kind, b.Faults)
		}
	}
}

// A clone keeps what the reader's next block overwrites.
func TestClone(t *testing.T) {
	r := NewReader(strings.NewReader("/2N1X[#1+2](a)\nIF [#1 EQ 2] THEN #3=4 #5=6\nQ Y9.5 (bb) ;c\n"))
	var clones []*Block
	var gists []string
	for {
		b, err := r.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		clones = append(clones, b.Clone())
		gists = append(gists, gist(b))
	}
	for i, c := range clones {
		if gist(c) != gists[i] {
			t.Errorf("clone was %s, is %s", gists[i], gist(c))
		}
	}
	if got := clones[2].Word('Y'); got == nil || got.Value != 9.5 || clones[2].Word('X') != nil {
		t.Errorf("Y is %v", got)
	}
}

func TestTokens(t *testing.T) {
	names := [...]string{" ", "/", "w", "c", "s", "f", "%", "o", "?", "$"}
	for _, test := range []struct {
		program string
		want    []string
	}{
		{"/2 N10G1\tX1 5 (a);b\r\n", []string{"/:/2", " : ", "w:N10", "w:G1", " :\t", "w:X1 5", " : ", "c:(a)", "c:;b", "$:\r\n"}},
		{"/12 X1", []string{"/:/", "?:12", " : ", "w:X1"}},
		{"/ 1X1", []string{"/:/ 1", "w:X1"}},
		{"\xef\xbb\xbf \x00X1\n", []string{" :\xef\xbb\xbf \x00", "w:X1", "$:\n"}},
		{"#1=2 GOTO 5 ??\r", []string{"s:#1=2", " : ", "f:GOTO 5", " : ", "?:??", "$:\r"}},
		{"X[1 (c) 2] Y1", []string{"?:X[1", " : ", "c:(c)", " : ", "?:2]", " : ", "w:Y1"}},
		{" % title\n", []string{" : ", "%:% title", "$:\n"}},
	} {
		b := readAll(t, test.program)[0]
		var got []string
		for _, tok := range b.Tokens(nil) {
			got = append(got, names[tok.Kind]+":"+string(b.Text(tok.Pos, tok.End)))
		}
		if !reflect.DeepEqual(got, test.want) {
			t.Errorf("%q gives %q, want %q", test.program, got, test.want)
		}
	}
}

func TestPrintError(t *testing.T) {
	full := errors.New("tape full")
	b := readAll(t, "X1 Y2\n")[0]
	if err := Print(failingWriter{full}, b); !errors.Is(err, full) {
		t.Errorf("error %v", err)
	}
}

type failingWriter struct{ err error }

func (w failingWriter) Write([]byte) (int, error) { return 0, w.err }

// A subprogram called again reads the same, wherever the reader stands by then.
func TestRewind(t *testing.T) {
	body := "O2\nG1 X1\nM99\n" + strings.Repeat("G1 X2\n", chunk/3)
	src := strings.NewReader("%\n" + body + "%\ntail\n")
	r := NewReaderAt(src, 2, 2)
	for _, skip := range []int{0, 1, 3, 1000, chunk / 3} {
		for range skip {
			if _, err := r.Next(); err != nil {
				t.Fatal(err)
			}
		}
		r.Rewind(src, 5, 3)
		b, err := r.Next()
		if err != nil || gist(b) != "G1 X1" || b.Line != 3 || b.Offset != 5 {
			t.Fatalf("behind %d blocks: %+v, %v", skip, b, err)
		}
	}
	for {
		if _, err := r.Next(); err == io.EOF {
			break
		}
	}
	r.Rewind(src, 2, 2)
	if b, err := r.Next(); err != nil || gist(b) != "O2" || b.Kind != Ordinary {
		t.Fatalf("behind the end: %+v, %v", b, err)
	}
}
