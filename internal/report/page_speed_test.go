package report

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/runtime"

	"tapefit/profiles"
	"tapefit/rules"
)

// millionMoves is a program of a million moves: short chords over a wavy surface, in
// rows, with arcs from one to the next and a finding in every thousandth block.
func millionMoves() []byte {
	var b bytes.Buffer
	b.WriteString("%\nG20 G90 G17 G94 G64\nT7 M6\nM42\nS4000 M3\nG54 G0 X0 Y0\nG43 H7 Z1. M8\nG1 Z-.1 F60.\n")
	const rows, inRow = 1000, 998
	for row := range rows {
		y := float64(row) * .006
		for i := range inRow {
			x := float64(i) / inRow * 6
			if row%2 == 1 {
				x = 6 - x
			}
			fmt.Fprintf(&b, "X%.4f Y%.4f Z%.4f\n", x, y+.003*math.Sin(9*x), -.2+.1*math.Sin(3*x)*math.Cos(2*y))
		}
		fmt.Fprintf(&b, "G%d Y%.4f J.003\nG1\n", 3-row%2, y+.006)
		if row%100 == 50 {
			fmt.Fprintf(&b, "G%d\n", 901+row/100)
		}
	}
	b.WriteString("G0 Z1. M9\nM30\n%\n")
	return b.Bytes()
}

// frames is a script that does something to the picture in each of 40 frames, and
// gives the times of the frames in ms, from one to the next: the handler, drawing and
// painting are in them. Nothing is faster than a frame of the screen, 17 ms.
const frames = `new Promise((done) => {
	const path = document.getElementById("path"), r = path.getBoundingClientRect(), times = [];
	const at = (type, n, more) => path.dispatchEvent(new PointerEvent(type, {pointerId: 1, clientX: r.left + r.width / 2 + 9 * (n %% 20), clientY: r.top + r.height / 2 + 4 * (n %% 20), bubbles: true, ...more}));
	path.setPointerCapture = () => {};
	let n = 0, last = 0;
	const step = (now) => {
		if (n > 1) times.push(now - last);
		last = now;
		if (n > 41) { at("pointerup", n); done(times); return; }
		%s
		n++;
		requestAnimationFrame(step);
	};
	requestAnimationFrame(step);
})`

// BenchmarkPageInABrowser is what a person waits for with the page of a program of a
// million moves: to have it written (write-s), from the first request of the browser
// until it is drawn and answers (open-s), and for a frame while he moves the picture,
// zooms, and hovers over the path: the middle one and the longest of 40.
//
//	go test ./internal/report -run xxx -bench PageInABrowser -benchtime 3x
func BenchmarkPageInABrowser(b *testing.B) {
	m, err := profiles.Find("bed-mill", nil)
	if err != nil {
		b.Fatal(err)
	}
	program := millionMoves()
	sums := map[string]float64{}
	for range b.N {
		begun := time.Now()
		var page strings.Builder
		if _, err := Page(&page, bytes.NewReader(program), int64(len(program)), "waves.ngc", m, rules.All(), rules.Options{}); err != nil {
			b.Fatal(err)
		}
		sums["write-s"] += time.Since(begun).Seconds()
		br := openPage(b, page.String())
		sums["open-s"] += eval[float64](b, br, `new Promise((done) => requestAnimationFrame(() => setTimeout(() => done(performance.now() / 1000))))`, awaited)
		if !eval[bool](b, br, `document.documentElement.dataset.alive === "yes"`) {
			b.Fatal("the script has not come to its end")
		}
		sums["page-MB"] += float64(page.Len()) / 1e6
		for _, way := range []struct{ name, step string }{
			{"pan", `if (n === 0) at("pointerdown", n); at("pointermove", n);`},
			{"zoom", `path.dispatchEvent(new WheelEvent("wheel", {deltaY: n % 20 < 10 ? -60 : 60, clientX: r.left + 300, clientY: r.top + 200, cancelable: true}));`},
			{"hover", `at("pointermove", n);`},
		} {
			times := eval[[]float64](b, br, fmt.Sprintf(frames, way.step), awaited)
			middle, longest := spread(times)
			sums[way.name+"-ms"] += middle
			sums[way.name+"-most-ms"] = max(sums[way.name+"-most-ms"], longest*float64(b.N))
		}
	}
	b.ReportMetric(0, "ns/op")
	for name, sum := range sums {
		b.ReportMetric(sum/float64(b.N), name)
	}
}

// awaited waits for what an expression promises.
func awaited(p *runtime.EvaluateParams) *runtime.EvaluateParams { return p.WithAwaitPromise(true) }

// spread is the middle one and the greatest of some values.
func spread(v []float64) (middle, most float64) {
	slices.Sort(v)
	return v[len(v)/2], v[len(v)-1]
}
