package report

import (
	"bytes"
	"encoding/xml"
	"image/color"
	"image/png"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"tapefit/profiles"
	"tapefit/rules"
)

func picturesOf(t testing.TB, machine, name, program string, names ...string) *Pictures {
	t.Helper()
	m, err := profiles.Find(machine, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(names) == 0 {
		names = PictureNames(m)
	}
	src := strings.NewReader(program)
	p, _, err := Draw(src, src.Size(), name, m, rules.All(), rules.Options{}, names)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func svgOf(t testing.TB, p *Pictures) string {
	t.Helper()
	var out bytes.Buffer
	if err := p.SVG(&out); err != nil {
		t.Fatal(err)
	}
	for d := xml.NewDecoder(bytes.NewReader(out.Bytes())); ; {
		if _, err := d.Token(); err == io.EOF {
			break
		} else if err != nil {
			t.Fatalf("no SVG: %v", err)
		}
	}
	return out.String()
}

// A picture says what it is of, in which units, and what its lines mean, and
// needs no style beside it.
func TestPictureSays(t *testing.T) {
	for _, tt := range []struct {
		machine, program, picture string
		want                      []string
	}{
		{"bed-mill", "programs/gland-plate-proven.ngc", "top", []string{"gland-plate-proven.ngc on bed-mill, 11:07.2: path of the tool tip, top", ">X, in<", ">Y, in<", ">arc<", ">plunge<"}},
		{"bed-mill", "programs/flange-bolt-circle.ngc", "slant", []string{", 1 error: path", ">each 2 in long<", ">Z<", ">14<", ">finding, by its line<"}},
		{"bed-mill", "programs/gland-plate-proven.ngc", "spindle", []string{">spindle, rpm<", ">gear low, 40 to 1100 rpm<", ">gear high, 800 to 4200 rpm<", ">2:00<"}},
		{"bed-mill", "programs/gland-plate-proven.ngc", "feed", []string{">feed, in/min<", ">programmed<", ">what the machine does<"}},
		{"slant-lathe", "lathe/gland-nut-proven.ngc", "side", []string{">X dia., in<", ">Z, in<"}},
	} {
		svg := svgOf(t, picturesOf(t, tt.machine, tt.program, demo(t, tt.program), tt.picture))
		for _, want := range tt.want {
			if !strings.Contains(svg, want) {
				t.Errorf("%s of %s has no %q", tt.picture, tt.program, want)
			}
		}
		for _, never := range []string{"class=", "<script", "<style", "href"} {
			if strings.Contains(svg, never) {
				t.Errorf("%s of %s has %q", tt.picture, tt.program, never)
			}
		}
	}
}

// A length is as long across as up: a circle is drawn round.
func TestPictureIsTrueToShape(t *testing.T) {
	svg := svgOf(t, picturesOf(t, "bed-mill", "part.ngc", "%\nG21 G90 M41\nT2 M6\nS800 M3\nG0 G54 X0 Y0\nG43 H2 Z5\nG0 X30 Y0\nG1 Z-1 F100\nG2 X30 Y0 I-30\nG0 Z5\nM30\n%\n", "top"))
	var x, y rules.Range
	for _, path := range regexp.MustCompile(`(?s)<path d="([^"]+)"\s*style="[^"]*stroke:#00795A`).FindAllStringSubmatch(svg, -1) {
		for _, at := range regexp.MustCompile(`[ML](-?[\d.]+),(-?[\d.]+)`).FindAllStringSubmatch(path[1], -1) {
			across, _ := strconv.ParseFloat(at[1], 64)
			up, _ := strconv.ParseFloat(at[2], 64)
			if len(regexp.MustCompile(`[ML]`).FindAllString(path[1], -1)) > 4 { // the sample in the legend has two
				widen(&x, across)
				widen(&y, up)
			}
		}
	}
	if !x.Set || x.Max-x.Min < 100 || math.Abs((x.Max-x.Min)-(y.Max-y.Min)) > 0.02*(x.Max-x.Min) {
		t.Errorf("a circle is %g wide and %g high", x.Max-x.Min, y.Max-y.Min)
	}
}

// An image has the picture in it: white paper and the colours of the cuts.
func TestPictureAsImage(t *testing.T) {
	var out bytes.Buffer
	if err := picturesOf(t, "bed-mill", "part.ngc", demo(t, "programs/gland-plate-proven.ngc"), "top").PNG(&out); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&out)
	if err != nil {
		t.Fatal(err)
	}
	counts := map[color.NRGBA]int{}
	for y := range img.Bounds().Dy() {
		for x := range img.Bounds().Dx() {
			counts[color.NRGBAModel.Convert(img.At(x, y)).(color.NRGBA)]++
		}
	}
	if counts[color.NRGBA{255, 255, 255, 255}] < 100_000 || counts[cutColor] < 500 || counts[roundColor] < 300 {
		t.Errorf("of white %d dots, of cuts %d, of arcs %d", counts[color.NRGBA{255, 255, 255, 255}], counts[cutColor], counts[roundColor])
	}
}

// Any file makes pictures.
func TestPicturesOfAnything(t *testing.T) {
	for name, program := range map[string]string{
		"empty":    "",
		"bytes":    string([]byte{0, 1, 2, 0xff, 0xfe, '%', '\n', 0x80}),
		"<b>&":     "%\nG20 G90\nG0 X1. Y1. Z1.\nM30\n%\n",
		"far away": "%\nG0 X99999999999999999999\nG1 X-99999999999999999999 F1\nG1 Z5 Y1\nZ0 Y2\nG2 X1 I1e300\nM30\n%\n",
		"tape":     demo(t, "tape/foot-plate-proven.tap"),
	} {
		for _, machine := range []string{"bed-mill", "slant-lathe", "rs274ngc"} {
			svg := svgOf(t, picturesOf(t, machine, name, program))
			if strings.Contains(svg, "NaN") || strings.Contains(svg, "Inf") {
				t.Errorf("%s on %s: numbers that are none", name, machine)
			}
		}
	}
	mill, _ := profiles.Find("bed-mill", nil)
	lathe, _ := profiles.Find("slant-lathe", nil)
	if got := PictureNames(mill); !slices.Equal(got, []string{"slant", "top", "front", "right", "spindle", "feed"}) {
		t.Errorf("%v", got)
	}
	if got := PictureNames(lathe); !slices.Equal(got, []string{"side", "spindle", "feed"}) {
		t.Errorf("%v", got)
	}
}
