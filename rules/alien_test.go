package rules

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math/rand"
	"strings"
	"testing"
)

// A file that is no text has one finding, whatever it is called, and nothing of
// it is shown that nobody can read. A letter's first line tells which it is.
func TestNotAProgram(t *testing.T) {
	photo := image.NewGray(image.Rect(0, 0, 256, 256))
	dots := rand.New(rand.NewSource(2))
	for i := range 256 * 256 {
		photo.Set(i%256, i/256, color.Gray{uint8(dots.Intn(256))})
	}
	var picture bytes.Buffer
	if err := png.Encode(&picture, photo); err != nil {
		t.Fatal(err)
	}
	const bytesOf = "this is no part program: the bytes are neither text nor a punched tape, as in a picture or an archive"
	for _, tt := range []struct{ name, file, message, source string }{
		{"a picture", picture.String(), bytesOf, "\x89PNG"},
		{"its middle", picture.String()[5000:], bytesOf, ""},
		{"a letter", strings.Repeat("Dear Sir, the pump is mended.\n", 120),
			"this is no part program: 100 of the first 100 blocks cannot be read", "Dear Sir, the pump is mended."},
	} {
		for _, m := range []string{"bed-mill", "knee-mill", "lenient"} {
			r, err := Check(strings.NewReader(tt.file), int64(len(tt.file)), "part.nc", machine(t, m), All(), Options{})
			if err != nil {
				t.Fatal(err)
			}
			if len(r.Findings) != 1 || r.Findings[0].Rule.Name != "not-a-program" || r.Findings[0].Message != tt.message || r.Findings[0].Source != tt.source {
				t.Errorf("%s on %s: %d findings, the first %+v", tt.name, m, len(r.Findings), r.Findings[:min(1, len(r.Findings))])
			}
			if r.Dropped == 0 {
				t.Errorf("%s on %s: a time is given as if it were the whole", tt.name, m)
			}
		}
	}
}
