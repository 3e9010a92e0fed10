// Command shots takes the pictures of the demo that the README shows, in a
// browser window of 1366 x 768, and writes them beside itself:
//
//	go run ./testdata/shop/shots
//
// It needs chromium in PATH, and is run from the top of the tree.
package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/color/palette"
	"image/draw"
	"image/png"
	"log"
	"os"
	"os/exec"
	"path/filepath"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

const folder = "testdata/shop/shots"

// A shot is a page that the command writes, seen from some place in it.
type shot struct {
	file          string
	command       []string
	scroll        string // what is brought to the top, "" the top itself
	width, height int64
}

var shots = []shot{
	{"report.png", []string{"report", "testdata/shop/programs/flange-bolt-circle.ngc", "--machine", "bed-mill"}, "", 1366, 768},
	{"report-over-time.png", []string{"report", "testdata/shop/programs/flange-bolt-circle.ngc", "--machine", "bed-mill"}, ".charts", 1366, 768},
	{"sheet.png", []string{"sheet", "testdata/shop/programs/gland-plate-proven.ngc", "--machine", "bed-mill"}, "", 930, 768},
}

func main() {
	log.SetFlags(0)
	if err := run(); err != nil {
		log.Fatal("shots: ", err)
	}
}

func run() error {
	scratch, err := os.MkdirTemp("", "shots-*")
	if err != nil {
		return err
	}
	defer os.RemoveAll(scratch)
	tapefit := filepath.Join(scratch, "tapefit")
	if out, err := exec.Command("go", "build", "-o", tapefit, "./cmd/tapefit").CombinedOutput(); err != nil {
		return fmt.Errorf("go build: %w\n%s", err, out)
	}
	alloc, end := chromedp.NewExecAllocator(context.Background(), append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.NoSandbox, chromedp.WindowSize(1366, 768), chromedp.WSURLReadTimeout(2*time.Minute))...)
	defer end()
	ctx, end := chromedp.NewContext(alloc)
	defer end()
	for i, s := range shots {
		page := filepath.Join(scratch, fmt.Sprintf("%d.html", i))
		var found *exec.ExitError // exit status 1: the demo has planted faults
		if out, err := exec.Command(tapefit, append(s.command, "-o", page)...).CombinedOutput(); err != nil && (!errors.As(err, &found) || found.ExitCode() != 1) {
			return fmt.Errorf("tapefit %v: %w\n%s", s.command, err, out)
		}
		if err := s.take(ctx, page); err != nil {
			return fmt.Errorf("%s: %w", s.file, err)
		}
	}
	picture := filepath.Join(folder, "path.png")
	return exec.Command(tapefit, "report", "testdata/shop/programs/gland-plate-proven.ngc", "--machine", "bed-mill", "--png", picture, "--picture", "slant").Run()
}

// take shows the page and writes what is seen.
func (s *shot) take(ctx context.Context, page string) error {
	actions := []chromedp.Action{
		emulation.SetDeviceMetricsOverride(s.width, s.height, 1, false),
		chromedp.Navigate("file://" + page),
		chromedp.Sleep(500 * time.Millisecond), // the canvas is drawn in the next frame
	}
	if s.scroll != "" {
		actions = append(actions, chromedp.Evaluate(fmt.Sprintf("document.querySelector(%q).scrollIntoView()", s.scroll), nil), chromedp.Sleep(200*time.Millisecond))
	}
	var seen []byte
	if err := chromedp.Run(ctx, append(actions, chromedp.CaptureScreenshot(&seen))...); err != nil {
		return err
	}
	img, err := png.Decode(bytes.NewReader(seen))
	if err != nil {
		return err
	}
	var out bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&out, few(img)); err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(folder, s.file), out.Bytes(), 0o644)
}

// few is the image in its 255 most used colours, which makes a small file.
func few(img image.Image) image.Image {
	counts := map[color.RGBA]int{}
	b := img.Bounds()
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			counts[color.RGBAModel.Convert(img.At(x, y)).(color.RGBA)]++
		}
	}
	colours := color.Palette{}
	for len(colours) < 255 && len(counts) > 0 {
		var most color.RGBA
		n := 0
		for c, k := range counts {
			if k > n || k == n && less(c, most) {
				most, n = c, k
			}
		}
		colours = append(colours, most)
		delete(counts, most)
	}
	if len(colours) == 0 {
		colours = palette.Plan9
	}
	flat := image.NewPaletted(b, colours)
	draw.Draw(flat, b, img, b.Min, draw.Src)
	return flat
}

func less(a, b color.RGBA) bool {
	return a.R < b.R || a.R == b.R && (a.G < b.G || a.G == b.G && a.B < b.B)
}
