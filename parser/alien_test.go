package parser

import (
	"bytes"
	"compress/gzip"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io/fs"
	"math/rand"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// longProgram is a program of some hundred blocks.
func longProgram() string {
	var b strings.Builder
	b.WriteString("%\nO1234 (GLAND PLATE)\n")
	for i := range 400 {
		b.WriteString("N" + strings.Repeat("1", 1+i%4) + " G1 X1.2345 Y-2.5 F12.\n")
	}
	return b.String() + "M30\n%\n"
}

// noise is what compressed data looks like, the same in every run.
func noise(n int) []byte {
	data := make([]byte, n)
	rand.New(rand.NewSource(1)).Read(data)
	return data
}

// picture is a photograph of nothing.
func picture() image.Image {
	grey := image.NewGray(image.Rect(0, 0, 96, 96))
	data := noise(96 * 96)
	for i := range data {
		grey.Set(i%96, i/96, color.Gray{data[i]})
	}
	return grey
}

func written(t *testing.T, write func(*bytes.Buffer) error) string {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// Files that a person names by mistake, written by other libraries, against
// text and tapes that are odd in one way or another.
func TestAlien(t *testing.T) {
	program := longProgram()
	pixels := written(t, func(b *bytes.Buffer) error { return png.Encode(b, picture()) })
	for _, tt := range []struct {
		name, file string
		want       bool
	}{
		{"a picture, PNG", pixels, true},
		{"a picture, JPEG", written(t, func(b *bytes.Buffer) error { return jpeg.Encode(b, picture(), nil) }), true},
		{"an archive of a program", written(t, func(b *bytes.Buffer) error {
			z := gzip.NewWriter(b)
			if _, err := z.Write([]byte(program + "(" + strings.ToUpper(string(bytes.ToValidUTF8(noise(2000), nil))) + ")")); err != nil {
				return err
			}
			return z.Close()
		}), true},
		{"noise", string(noise(300_000)), true},
		{"a little noise", string(noise(1000)), true},

		{"nothing", "", false},
		{"a letter", "Dear Sir,\nthe pump is mended.\n", false},
		{"a program", program, false},
		{"a program with a few odd bytes", strings.Replace(program, "X1.2345", "X1.2\x0145", 20), false},
		{"a short one, odd in every block", "%\nG0 X1\x05\nG1 X2\x06 F3\nX4\x07\nM30\n%\n", false},
		{"an odd byte between all blocks", strings.ReplaceAll(program, "\n", "\n\x06"), false},
		{"framed as it is sent", "\x02" + strings.ReplaceAll(program, "\n", "\x11\r\n\x13\x03") + "\x04\x1a", false},
		{"blank tape around and between", strings.Repeat("\x00", 500) + strings.ReplaceAll(program, "\n", "\n\x00\x00\x7f\x00"), false},
		{"comments in ISO 8859-1", strings.ReplaceAll(program, "F12.", "F12. (W\xe4hrend der K\xfchlung \xf6ffnen)"), false},
		{"comments in UTF-8", strings.ReplaceAll(program, "F12.", "F12. (клапан открыть, 弁を開く)"), false},
		{"comments in a Cyrillic code page", strings.ReplaceAll(program, "F12.", "F12. (\xd0\xcf\xcc\xcf\xcd\xd0\xc1 \x80\x9f\x8d)"), false},
		{"comments in a code of two bytes, with shifts", strings.ReplaceAll(program, "F12.", "F12. (\x1b$B%]%s%W\x1b(B)"), false},
		{"UTF-16", "\xff\xfe" + strings.ReplaceAll(program, "", "\x00")[1:], false},
		{"something else behind the end", "%\nG0 X1\nG1 X2 F3\nM30\n%\n" + string(noise(4000)), false},
		{"a tape, ISO 840", string(punch(ISO840, program)), false},
		{"a tape, EIA RS-244", string(punch(RS244, program)), false},
		{"a tape with a leader, ISO 840", strings.Repeat("\x00", 200) + string(punch(ISO840, program)), false},
	} {
		if got := isAlien([]byte(tt.file)[:min(len(tt.file), chunk)]); got != tt.want {
			t.Errorf("%s: no text is %v", tt.name, got)
		}
		r := NewReader(strings.NewReader(tt.file))
		for b, err := r.Next(); err == nil; b, err = r.Next() {
			if tt.want && b.Kind != Outside {
				t.Errorf("%s: %q is read", tt.name, b.Raw)
				break
			}
		}
		if r.Alien() != tt.want {
			t.Errorf("%s: read as no text: %v", tt.name, r.Alien())
		}
	}
}

// A file that is alien is so for who goes on in its midst too.
func TestAlienMark(t *testing.T) {
	file := bytes.NewReader(noise(10_000))
	m, err := Start(file, file.Size())
	if err != nil {
		t.Fatal(err)
	}
	r := NewReaderFrom(file, file.Size(), m)
	if b, err := r.Next(); err != nil || b.Kind != Outside || !r.Alien() {
		t.Errorf("from the mark %+v: %v, %v", m, b, err)
	}
}

// Whatever programs there are, a worn reader or a bad line makes no picture of
// them: plain, and punched in either code.
func TestWornIsNotAlien(t *testing.T) {
	var programs []string
	err := filepath.WalkDir("../testdata", func(path string, d fs.DirEntry, err error) error {
		if ext := filepath.Ext(path); err != nil || d.IsDir() || ext != ".ngc" && ext != ".tap" {
			return err
		}
		text, err := os.ReadFile(path)
		programs = append(programs, strings.ToUpper(string(text[:min(len(text), 8000)])))
		return err
	})
	if err != nil || len(programs) < 20 {
		t.Fatalf("%d programs, %v", len(programs), err)
	}
	rapid.Check(t, func(t *rapid.T) {
		file := []byte(rapid.SampledFrom(programs).Draw(t, "program"))
		worn := 100 // of so many bytes one is another
		switch rapid.IntRange(0, 2).Draw(t, "code") {
		case 1:
			file, worn = punch(ISO840, string(file)), 10
		case 2:
			file, worn = punch(RS244, string(file)), 5
		}
		wear := rand.New(rand.NewSource(rapid.Int64().Draw(t, "wear")))
		for i := range file {
			if wear.Intn(worn) == 0 {
				file[i] = byte(wear.Intn(256))
			}
		}
		if isAlien(file) {
			t.Fatalf("taken for no text: %q", file[:min(200, len(file))])
		}
	})
}
