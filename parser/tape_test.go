package parser

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"io"
	"math/bits"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"testing/iotest"

	"pgregory.net/rapid"
)

var update = flag.Bool("update", false, "punch the images in testdata/tape anew")

// punch is the image of a tape with the text, which has upper case letters. In
// ISO 840 blocks end with CR LF, as punches write them. Characters that the
// code has not are skipped.
func punch(code Code, text string) []byte {
	var rows []byte
	for _, c := range []byte(text) {
		switch {
		case code == RS244:
			if row := bytes.IndexByte(rs244[1:], c); row >= 0 && c != 0 {
				rows = append(rows, byte(row+1))
			}
		case c == '\n':
			rows = append(rows, 0x8D, 0x0A)
		default:
			rows = append(rows, evenParity(c))
		}
	}
	return rows
}

// evenParity is a 7-bit character with its parity in track 8.
func evenParity(c byte) byte { return c | byte(bits.OnesCount8(c)&1)<<7 }

// tapes are both codes with what rubs a row out.
var tapes = [...]struct {
	code   Code
	rubOut byte
}{{ISO840, 0xFF}, {RS244, 0x7F}}

// untape is the text of an image, which must be a tape of the code.
func untape(t rapid.TB, image []byte, want Code) io.ReaderAt {
	t.Helper()
	text, code, err := Tape(bytes.NewReader(image), int64(len(image)))
	if err != nil {
		t.Fatal(err)
	}
	if code != want {
		t.Fatalf("%x is taken for %v, not %v", image, code, want)
	}
	return text
}

func allOf(t rapid.TB, src io.ReaderAt, size int) string {
	t.Helper()
	text, err := io.ReadAll(io.NewSectionReader(src, 0, int64(size)))
	if err != nil || len(text) != size {
		t.Fatalf("%d of %d bytes, %v", len(text), size, err)
	}
	return string(text)
}

// plainTape is a short program of all digits.
const plainTape = "%\nN10 G90 G00 X12 Y-3\nN20 G01 Z-45 F678\nN30 M30\n%\n"

// Each row of EIA RS-244 has an odd number of holes, its digits are binary in
// tracks 1 to 4, and its letters are digits in three zones (EIA RS-244, from
// memory). No character stands for two rows.
func TestRS244(t *testing.T) {
	rows := 0
	char := map[byte]bool{}
	for row, c := range rs244 {
		if c == 0 {
			continue
		}
		rows++
		if bits.OnesCount8(uint8(row))%2 == 0 {
			t.Errorf("%q is row %#04x, which has an even number of holes", c, row)
		}
		if char[c] {
			t.Errorf("%q has two rows", c)
		}
		char[c] = true
	}
	if rows != 10+26+12 {
		t.Errorf("%d rows", rows)
	}
	for _, row := range []byte{rs244Backspace, rs244LowerCase, rs244UpperCase, rs244Delete} {
		if bits.OnesCount8(row)%2 == 0 || rs244[row] != 0 {
			t.Errorf("row %#04x", row)
		}
	}
	const track6, track7 = 0x20, 0x40
	for _, zone := range []struct {
		first, last byte
		holes, from byte
	}{{'1', '9', 0, 1}, {'A', 'I', track6 | track7, 1}, {'J', 'R', track7, 1}, {'S', 'Z', track6, 2}} {
		for c := zone.first; c <= zone.last; c++ {
			row := zone.holes | (zone.from + c - zone.first)
			if bits.OnesCount8(row)%2 == 0 {
				row |= 0x10
			}
			if rs244[row] != c {
				t.Errorf("%q is not row %#04x", c, row)
			}
		}
	}
}

// Each row of each code reads as its character or as misread.
func TestRows(t *testing.T) {
	for row := range 256 {
		row := byte(row)
		even := bits.OnesCount8(row)%2 == 0
		iso, eia := ISO840.text(row), RS244.text(row)
		switch {
		case row == 0:
			if iso != 0 || eia != 0 {
				t.Error("blank tape is read")
			}
			continue
		case even == (iso == misread):
			t.Errorf("row %#04x is %#04x in ISO 840", row, iso)
		case even && eia != misread:
			t.Errorf("row %#04x is %#04x in EIA RS-244", row, eia)
		}
		if iso != misread && iso != 0 && evenParity(iso) != row || iso == 0 && row != 0x88 && row != 0x8D && row != 0xFF {
			t.Errorf("row %#04x is %#04x in ISO 840", row, iso)
		}
	}
}

func TestRoundTrip(t *testing.T) {
	iso := " \t!\"#$%&'()*+,-./0123456789:;<=>?@ABCDEFGHIJKLMNOPQRSTUVWXYZ[]^_"
	eia := " \t%&()+,-./0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
	for code, all := range map[Code]string{ISO840: iso, RS244: eia} {
		text := plainTape + "(" + all + "\n"
		image := punch(code, text)
		got := allOf(t, untape(t, image, code), len(image))
		if strings.ReplaceAll(got, "\x00", "") != text {
			t.Errorf("%v: %q comes back as %q", code, text, got)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		tape := rapid.SampledFrom(tapes[:]).Draw(t, "code")
		text := plainTape + strings.Join(rapid.SliceOf(rapid.StringMatching(`(/ ?)?[A-Z][+-]?[0-9]{1,6}(\.[0-9]{1,4})?( [A-Z][0-9.]{1,5}){0,5}`)).Draw(t, "blocks"), "\n")
		image := bytes.Repeat([]byte{0}, rapid.IntRange(0, 300).Draw(t, "leader"))
		image = append(image, punch(tape.code, text)...)
		for range rapid.IntRange(0, 5).Draw(t, "rub-outs") {
			image = append(image, tape.rubOut)
		}
		src := untape(t, image, tape.code)
		whole := allOf(t, src, len(image))
		if strings.ReplaceAll(whole, "\x00", "") != text {
			t.Fatalf("%q comes back as %q", text, whole)
		}
		from := rapid.IntRange(0, len(whole)).Draw(t, "from")
		part := make([]byte, rapid.IntRange(1, 100).Draw(t, "bytes"))
		n, err := src.ReadAt(part, int64(from))
		if (err != nil) != (n < len(part)) || string(part[:n]) != whole[from:min(from+len(part), len(whole))] {
			t.Fatalf("from %d on: %q, %v", from, part[:n], err)
		}
		if twice, err := io.ReadAll(iotest.OneByteReader(io.NewSectionReader(src, 0, int64(len(image))))); err != nil || string(twice) != whole {
			t.Fatalf("byte by byte it is %q, %v", twice, err)
		}
	})
}

// readTape is what a reader makes of an image: a line each of the blocks that
// are in the program, faults behind them.
func readTape(t *testing.T, image []byte, code Code) []string {
	t.Helper()
	r := NewFileReader(untape(t, image, code), int64(len(image)))
	var lines []string
	for {
		b, err := r.Next()
		if err == io.EOF {
			return lines
		}
		if err != nil {
			t.Fatal(err)
		}
		if b.Kind != Ordinary {
			continue
		}
		line := fmt.Sprintf("%d:", b.Line)
		for _, w := range b.Words {
			line += fmt.Sprintf(" %c%v", w.Address, w.Value)
		}
		for _, f := range b.Faults {
			line += fmt.Sprintf(" |%d-%d %s", b.Offset+int64(f.Pos), b.Offset+int64(f.End), f.Cause)
		}
		lines = append(lines, line)
	}
}

// What stands on tapes beside the program: common practice of the trade.
func TestTapes(t *testing.T) {
	leader := make([]byte, 500)
	byEye := []byte("\x7E\x11\x11\x11\x7E\x00\x7F\x49\x49\x49\x36\x00\x3E\x41\x41\x41\x22\x00\x7F\x41\x41\x41\x3E\x00\x7F\x49\x49\x49\x41\x00")
	const block = "N5 G4 F40\n"
	good := []string{"2: N5 G4 F40", "3: N10 G90 G0 X12 Y-3", "4: N20 G1 Z-45 F678", "5: N30 M30"}
	for _, tape := range tapes {
		program := "%\n" + block + plainTape[2:]
		whole := punch(tape.code, program)
		x12 := bytes.Index(whole, punch(tape.code, "X12"))
		badRow := whole[x12+1] ^ 0x08 // a hole too few or too many
		for _, test := range []struct {
			name  string
			image []byte
			want  []string
		}{
			{"nothing", whole, good},
			{"leader and trailer", slicesOf(leader, whole, leader), good},
			{"leader of rub-outs", slicesOf(bytes.Repeat([]byte{tape.rubOut}, 80), whole), good},
			{"leader to be read by eye", slicesOf(leader, byEye, leader, whole, leader), good},
			{"trailer to be read by eye", slicesOf(whole, leader, byEye, leader), good},
			{"rub-outs over a mispunched block", slicesOf(whole[:x12], bytes.Repeat([]byte{tape.rubOut}, 20), whole[x12:]), good},
			{"a rub-out inside a number", slicesOf(whole[:x12+2], []byte{tape.rubOut}, whole[x12+2:]), good},
			{"a misread row", slicesOf(whole[:x12+1], []byte{badRow}, whole[x12+2:]), []string{good[0],
				fmt.Sprintf("3: N10 G90 G0 Y-3 |%d-%d parity error in row %d of the tape, 0x%02x with an %s number of holes: punch the row anew, or type the block again",
					x12+1, x12+2, x12+2, badRow, map[Code]string{ISO840: "odd", RS244: "even"}[tape.code]), good[2], good[3]}},
		} {
			t.Run(fmt.Sprint(tape.code, "/", test.name), func(t *testing.T) {
				if got := readTape(t, test.image, tape.code); !reflect.DeepEqual(got, test.want) {
					t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(test.want, "\n"))
				}
			})
		}
	}
}

func slicesOf(parts ...[]byte) []byte { return bytes.Join(parts, nil) }

// Holes that EIA RS-244 has no sign for are no parity error; in a comment a
// misread row is one, though any byte may stand there; what follows from it is
// not said; a block keeps a bounded number.
func TestMisreadRows(t *testing.T) {
	start, rest := punch(RS244, "%\nN10 G90 X1"), punch(RS244, "2 Y3\nN20 M30\n"+plainTape[2:])
	for _, test := range []struct {
		name   string
		middle []byte
		faults []string
	}{
		{"no sign", []byte{0x0D}, []string{"row 13 of the tape, 0x0d, is no character of EIA RS-244: punch the row anew, or type the block again"}},
		{"all eight tracks", []byte{0xFF}, []string{"parity error in row 13 of the tape, 0xff with an even number of holes: punch the row anew, or type the block again"}},
		{"blank", []byte{0}, []string{"row 13 of the tape is blank inside a block: punch the row anew, or type the block again"}},
		{"blank stretch and a rub-out", []byte{0x7F, 0, 0, 0}, []string{"row 14 of the tape is blank inside a block: punch the row anew, or type the block again"}},
		{"rub-outs", []byte{0x7F, 0x7F}, nil},
		{"in a comment", slicesOf(punch(RS244, " (BO"), []byte{0x03}, punch(RS244, "E) X")), []string{"parity error in row 17 of the tape, 0x03 with an even number of holes: punch the row anew, or type the block again"}},
		{"a closing mark misread", slicesOf(punch(RS244, " (BORE"), []byte{0x48}), []string{"parity error in row 19 of the tape, 0x48 with an even number of holes: punch the row anew, or type the block again"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			image := slicesOf(start, test.middle, rest)
			r := NewFileReader(untape(t, image, RS244), int64(len(image)))
			if b, err := r.Next(); err != nil || b.Kind != Percent {
				t.Fatal(b, err)
			}
			b, err := r.Next()
			if err != nil {
				t.Fatal(err)
			}
			var faults []string
			for _, f := range b.Faults {
				faults = append(faults, f.Cause)
			}
			if !reflect.DeepEqual(faults, test.faults) {
				t.Errorf("got %q, want %q", faults, test.faults)
			}
		})
	}
	image := slicesOf(bytes.Repeat(punch(RS244, plainTape[2:len(plainTape)-2]), 100), punch(RS244, "X1"), bytes.Repeat([]byte{0x03}, 150), punch(RS244, "\n"))
	last := readTape(t, image, RS244)
	if n := strings.Count(last[len(last)-1], "|"); n != maxFaults+1 {
		t.Errorf("%d faults in one block", n)
	}
}

// A subprogram read again from its place reports its misread rows too.
func TestTapeReaderAt(t *testing.T) {
	image := slicesOf(punch(RS244, plainTape), []byte{0x03}, punch(RS244, "G4\n"))
	r := NewReaderAt(untape(t, image, RS244), int64(len(punch(RS244, plainTape))), 7)
	if b, err := r.Next(); err != nil || len(b.Faults) != 1 || !strings.Contains(b.Faults[0].Cause, "parity error in row 51") {
		t.Errorf("%+v, %v", b, err)
	}
}

// Text is never taken for a tape, whatever its comments say in whatever
// language; nor is what is too short, or too dirty, to tell.
func TestNoTape(t *testing.T) {
	files, err := filepath.Glob("../testdata/*/*.ngc")
	more, err2 := filepath.Glob("../testdata/shop/*/*.*")
	if err != nil || err2 != nil || len(files) == 0 || len(more) == 0 {
		t.Fatal(files, more, err, err2)
	}
	texts := map[string]string{
		"nothing":                 "",
		"blank tape":              strings.Repeat("\x00", 5000),
		"rub-outs":                strings.Repeat("\xFF", 5000),
		"Latin-1 in a comment":    "(B\xDCRO: GR\xD6\xDFE 5\xB0)\nG0 X1\n",
		"nothing but a comment":   "(\xB1\xB2\xB4\xB7\xB8\xB1\xB2\xB4\xB7\xB8\xB1\xB2\xB4\xB7\xB8\xB1\xB2\xB4\xB7\xB8)\n",
		"comment to the end":      ";\xB1\xB2\xB4\xB7\xB8\xB1\xB2\xB4\xB7\xB8\xB1\xB2\xB4\xB7\xB8\xB1\xB2\xB4\xB7\xB8\n",
		"prose in Latin-1":        "Gr\xFC\xDFe aus dem B\xFCro: das Blatt f\xFCr die K\xF6pfe h\xE4ngt \xFCber der Fr\xE4se\n",
		"prose in UTF-8":          "Grüße aus dem Büro, große Stücke À À À À\nG0 X1\n",
		"prose in code page 1252": "PUMPE 5\x80, PLATTE 6\x80, KAPPE 7\x80\nG0 X1\nM30\n",
		"UTF-16":                  "G\x000\x00X\x001\x00\n\x00M\x003\x000\x00\n\x00",
		"too short":               string(punch(ISO840, "G0X1\n")),
		"too dirty":               string(slicesOf(punch(ISO840, "%\nN10"), []byte("1247NOZX"), punch(ISO840, plainTape[2:]))),
		"no blocks":               string(punch(ISO840, "MEMORANDUM ON PUMPS\nWHICH ARE OLD\nAND LEAK\n")),
		"no end of block":         string(punch(RS244, "N10G0X1Y2Z3F4N20G0X1")),
	}
	for _, f := range append(files, more...) {
		text, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		texts[f] = string(text)
	}
	for name, text := range texts {
		src := strings.NewReader(text)
		same, code, err := Tape(src, src.Size())
		if err != nil || code != None || same != io.ReaderAt(src) {
			t.Errorf("%s: taken for %v, %v", name, code, err)
		}
	}
}

// Programs in text with letters of any code page in their comments, and prose
// of words in Latin-1, are no tapes.
func TestTextIsNoTape(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var s strings.Builder
		for range rapid.IntRange(0, 30).Draw(t, "lines") {
			switch rapid.IntRange(0, 3).Draw(t, "kind") {
			case 0:
				s.WriteString(rapid.StringMatching(`[ -~]{0,40}`).Draw(t, "ASCII"))
			case 1:
				s.WriteString(blocks().Draw(t, "block"))
			case 2:
				s.WriteString("(")
				s.Write(rapid.SliceOfN(rapid.ByteRange(0xA0, 0xFF), 0, 40).Draw(t, "comment"))
				s.WriteString(")")
			default:
				for range rapid.IntRange(1, 12).Draw(t, "words") {
					s.Write(rapid.SliceOfN(rapid.ByteRange(0xC0, 0xFF), 1, 8).Draw(t, "word"))
					s.WriteString(" ")
				}
			}
			s.WriteString(rapid.SampledFrom([]string{"\n", "\r\n"}).Draw(t, "end"))
		}
		if code := Recognise([]byte(s.String())); code != None {
			t.Fatalf("%q is taken for %v", s.String(), code)
		}
	})
}

// damaged reads a tape of which rows fail to be read.
type damaged struct {
	io.ReaderAt
	from int64
	err  error
}

func (d damaged) ReadAt(p []byte, off int64) (int, error) {
	if off+int64(len(p)) > d.from {
		return 0, d.err
	}
	return d.ReaderAt.ReadAt(p, off)
}

func TestTapeReadError(t *testing.T) {
	broken := errors.New("cable out")
	if _, _, err := Tape(damaged{strings.NewReader(plainTape), 0, broken}, 40); !errors.Is(err, broken) {
		t.Errorf("error %v", err)
	}
	image := bytes.Repeat(punch(ISO840, plainTape), 2*chunk/len(plainTape))
	text, code, err := Tape(damaged{bytes.NewReader(image), chunk, broken}, int64(len(image)))
	if code != ISO840 || err != nil {
		t.Fatal(code, err)
	}
	if _, err := text.ReadAt(make([]byte, 10), chunk); !errors.Is(err, broken) {
		t.Errorf("error %v", err)
	}
}

// Demo tapes: programs of the demo shop as its punch would give them, the notes
// in front left out.
func TestPunchDemo(t *testing.T) {
	for _, demo := range []struct {
		file, source string
		code         Code
		spoil        func([]byte) []byte
	}{
		{"foot-plate-proven.eia", "foot-plate-proven.tap", RS244, nil},
		{"foot-plate-proven.iso", "foot-plate-proven.tap", ISO840, nil},
		{"packing-follower-worn.eia", "packing-follower.tap", RS244, spoil},
	} {
		source, err := os.ReadFile(filepath.Join("../testdata/shop/tape", demo.source))
		if err != nil {
			t.Fatal(err)
		}
		program := string(source[bytes.IndexByte(source, '%'):])
		rows := punch(demo.code, program)
		if demo.spoil != nil {
			rows = demo.spoil(rows)
		}
		image := slicesOf(make([]byte, 120), rows, make([]byte, 80))
		file := filepath.Join("../testdata/tape", demo.file)
		if *update {
			if err := os.WriteFile(file, image, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		if golden, err := os.ReadFile(file); err != nil || !bytes.Equal(golden, image) {
			t.Errorf("%s is not as punched (%v): look at the difference with -update", file, err)
		}
		if got := allOf(t, untape(t, image, demo.code), len(image)); demo.spoil == nil && strings.ReplaceAll(got, "\x00", "") != program {
			t.Errorf("%s reads %q", file, got)
		}
	}
}

// spoil loses a hole of N70, the only one of its row, adds one in N120, and rubs
// a mispunched block out behind N200.
func spoil(rows []byte) []byte {
	hole := func(text string, at int, track byte) {
		rows[bytes.Index(rows, punch(RS244, text))+at] ^= track
	}
	hole("N70 G01 Z-1500", 10, 0x01)
	hole("N120 G02 X17500", 5, 0x40)
	behind := bytes.Index(rows, punch(RS244, "N210"))
	return slicesOf(rows[:behind], bytes.Repeat([]byte{rs244Delete}, 14), rows[behind:])
}

// FuzzTape reads any bytes as a tape of each code and as what they are taken
// for: nothing panics, no byte is lost, misread rows are reported in their
// place, and text is no tape.
func FuzzTape(f *testing.F) {
	for _, s := range seeds {
		f.Add([]byte(s))
		f.Add(punch(ISO840, strings.ToUpper(s)))
		f.Add(punch(RS244, strings.ToUpper(s)))
	}
	f.Add(slicesOf(make([]byte, 100), punch(RS244, plainTape), []byte{0x03, 0x7F}))
	f.Add(punch(ISO840, plainTape))
	f.Fuzz(func(t *testing.T, image []byte) {
		if len(image) > 1<<16 {
			return
		}
		src := bytes.NewReader(image)
		_, taken, err := Tape(src, src.Size())
		if err != nil {
			t.Fatal(err)
		}
		if taken != None && isText(image) {
			t.Fatalf("%q is taken for %v", image, taken)
		}
		for _, code := range []Code{ISO840, RS244} {
			tp := &tape{src: src, code: code, table: code.table()}
			tp.leader, tp.opening = leaderByEye(image, &tp.table)
			checkTape(t, image, tp)
		}
	})
}

// isText says whether the bytes are text without control characters and with
// letters of other languages in its comments alone.
func isText(s []byte) bool {
	for line := range bytes.SplitSeq(s, []byte("\n")) {
		for line := range bytes.SplitSeq(line, []byte("\r")) {
			if bytes.ContainsFunc(line, func(r rune) bool { return r < ' ' && r != 0 && r != '\t' }) {
				return false
			}
			for len(line) > 0 {
				i := bytes.IndexAny(line, "(;")
				if i < 0 {
					i = len(line)
				}
				for _, c := range line[:i] {
					if c >= 0x80 {
						return false
					}
				}
				line = line[i:]
				if end := bytes.IndexByte(line, ')'); len(line) > 0 && line[0] == '(' && end >= 0 {
					line = line[end+1:]
				} else {
					line = nil
				}
			}
		}
	}
	return true
}

func checkTape(t *testing.T, image []byte, tp *tape) {
	r := NewFileReader(tp, int64(len(image)))
	read := 0
	for {
		b, err := r.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		under := int32(0) // what is up to here is under a fault, if it is misread
		for _, f := range b.Faults {
			if bytes.IndexByte(b.Raw[under:max(under, f.Pos)], misread) >= 0 {
				t.Fatalf("%q: misread rows without a fault, faults %+v", b.Raw, b.Faults)
			}
			under = max(under, f.End)
		}
		if b.Kind == Ordinary && bytes.IndexByte(b.Raw[under:], misread) >= 0 {
			t.Fatalf("%q: misread rows without a fault, faults %+v", b.Raw, b.Faults)
		}
		for i, c := range b.Raw {
			row := image[int(b.Offset)+i]
			at := b.Offset + int64(i)
			if want := tp.code.text(row); c != want && !(c == 0 && tp.leader <= at && at < tp.opening) {
				t.Fatalf("row %#04x is read as %#04x", row, c)
			}
		}
		read += len(b.Raw)
	}
	if read != len(image) {
		t.Fatalf("%d of %d rows are read", read, len(image))
	}
}
