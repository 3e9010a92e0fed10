package report

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	cdpage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// A browser opens pages as a person does, and keeps what it complains of and
// what it asks for.
type browser struct {
	ctx context.Context
	mu  sync.Mutex
	bad []string // errors of the console, and requests beside the page
}

// openPage opens a page in a real browser. Without one it says which tests did
// not run.
func openPage(t testing.TB, text string, before ...chromedp.Action) *browser {
	t.Helper()
	var path string
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if found, err := exec.LookPath(name); err == nil {
			path = found
			break
		}
	}
	if path == "" {
		t.Skip("no chromium in PATH (apt-get install chromium): " + t.Name() + " did not run, and how the page behaves in a browser is not tested")
	}
	file := filepath.Join(t.TempDir(), "page.html")
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.WindowSize(1366, 768),
		chromedp.WSURLReadTimeout(2*time.Minute))
	alloc, end := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(end)
	ctx, end := chromedp.NewContext(alloc)
	t.Cleanup(end)
	ctx, end = context.WithTimeout(ctx, 3*time.Minute)
	t.Cleanup(end)
	b := &browser{ctx: ctx}
	chromedp.ListenTarget(ctx, func(event any) {
		b.mu.Lock()
		defer b.mu.Unlock()
		switch e := event.(type) {
		case *runtime.EventExceptionThrown:
			b.bad = append(b.bad, e.ExceptionDetails.Error())
		case *runtime.EventConsoleAPICalled:
			if e.Type == runtime.APITypeError || e.Type == runtime.APITypeWarning {
				b.bad = append(b.bad, fmt.Sprint("console: ", e.Args))
			}
		case *log.EventEntryAdded:
			b.bad = append(b.bad, e.Entry.Text)
		case *network.EventRequestWillBeSent:
			if url := e.Request.URL; url != "file://"+file && !strings.HasPrefix(url, "data:") {
				b.bad = append(b.bad, "asks for "+url)
			}
		}
	})
	b.run(t, append(append([]chromedp.Action{network.Enable(), log.Enable(), emulation.SetDeviceMetricsOverride(1366, 768, 1, false)}, before...), chromedp.Navigate("file://"+file))...)
	return b
}

func (b *browser) run(t testing.TB, actions ...chromedp.Action) {
	t.Helper()
	if err := chromedp.Run(b.ctx, actions...); err != nil {
		t.Fatal(err)
	}
}

// eval is the value of an expression on the page.
func eval[T any](t testing.TB, b *browser, expression string, how ...chromedp.EvaluateOption) (v T) {
	t.Helper()
	b.run(t, chromedp.Evaluate(expression, &v, how...))
	return v
}

// changes waits until an expression has another value than it had, as long as a
// loaded computer may take.
func (b *browser) changes(t testing.TB, expression, was string) bool {
	t.Helper()
	for range 100 {
		if eval[string](t, b, expression) != was {
			return true
		}
		b.run(t, chromedp.Sleep(200*time.Millisecond))
	}
	return false
}

// quiet fails where the page has complained or asked for anything.
func (b *browser) quiet(t testing.TB) {
	t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, what := range b.bad {
		t.Error(what)
	}
}

const (
	pieceText  = `document.getElementById("piece").textContent`
	chosenLine = `(document.querySelector("#listing tr.chosen") || {dataset: {}}).dataset.line || ""`
)

func TestPageInABrowser(t *testing.T) {
	b := openPage(t, pageOf(t, "bed-mill", "programs/flange-bolt-circle.ngc", demo(t, "programs/flange-bolt-circle.ngc")))
	if !eval[bool](t, b, `document.documentElement.dataset.alive === "yes" && document.querySelector(".still").hidden`) {
		t.Fatal("the script has not come to its end")
	}

	// All that a person looks for first is on the first screen.
	for _, what := range []string{"h1", ".verdict", ".cycle b", "#path", ".facts dl"} {
		if bottom := eval[float64](t, b, fmt.Sprintf(`document.querySelector(%q).getBoundingClientRect().bottom`, what)); bottom > 768 {
			t.Errorf("%s ends at %g, below the first screen", what, bottom)
		}
	}

	// Hovering over the path shows the block there, and marks it in the others.
	found := false
	for y := 220.0; y < 640 && !found; y += 7 {
		for x := 420.0; x < 1300 && !found; x += 60 {
			b.run(t, input.DispatchMouseEvent(input.MouseMoved, x, y))
			found = strings.Contains(eval[string](t, b, pieceText), "line ")
		}
	}
	if !found {
		t.Fatal("no piece of the path is found by hovering")
	}
	line := eval[string](t, b, chosenLine)
	if line == "" || !strings.Contains(eval[string](t, b, pieceText), "line "+line+" ") {
		t.Errorf("the listing marks line %q, the path tells %q", line, eval[string](t, b, pieceText))
	}
	if n := eval[int](t, b, `[...document.querySelectorAll(".cursor")].filter(c => !c.hidden).length`); n != 2 {
		t.Errorf("%d charts show the moment", n)
	}

	// A finding chosen shows its place; M42 moves nothing, so the next move does.
	b.run(t, chromedp.Click(`#f1 .pick`))
	if got := eval[string](t, b, pieceText); !strings.Contains(got, "line 15 ") && !strings.Contains(got, "line 16 ") {
		t.Errorf("the finding in line 14 leads to %q", got)
	}

	// A moment of a chart, and rows by keyboard.
	b.run(t, chromedp.ScrollIntoView(`[data-chart="feed"]`))
	b.run(t, chromedp.Evaluate(`(() => { const c = document.querySelector('[data-chart="feed"]'), r = c.getBoundingClientRect();
		c.dispatchEvent(new MouseEvent("click", {clientX: r.left + r.width * 0.6, clientY: r.top + 20, bubbles: true})); })()`, nil))
	if got := eval[string](t, b, pieceText); !strings.Contains(got, "T6") && !strings.Contains(got, "T5") {
		t.Errorf("the moment at six tenths tells %q", got)
	}
	b.run(t, chromedp.Evaluate(`document.querySelectorAll("#listing tr[data-line]")[20].focus()`, nil), chromedp.KeyEvent("\u0302")) // arrow down
	b.run(t, chromedp.Evaluate(`document.querySelectorAll("#listing tr[data-line]")[20].dispatchEvent(new KeyboardEvent("keydown", {key: "ArrowDown", bubbles: true}))`, nil))
	if got := eval[string](t, b, `document.activeElement.dataset.line || ""`); got != "22" {
		t.Errorf("arrow down in row 21 leads to %q", got)
	}

	// The path by keyboard, and its views.
	b.run(t, chromedp.Focus(`#path`))
	before := eval[string](t, b, pieceText)
	b.run(t, chromedp.Evaluate(`document.getElementById("path").dispatchEvent(new KeyboardEvent("keydown", {key: "ArrowRight"}))`, nil))
	if after := eval[string](t, b, pieceText); after == before {
		t.Errorf("arrow right stays at %q", after)
	}
	picture := `document.getElementById("path").toDataURL()`
	resting := chromedp.Sleep(300 * time.Millisecond) // what is still drawn comes to its end
	b.run(t, resting)
	slanted := eval[string](t, b, picture)
	b.run(t, chromedp.Click(`[data-view="top"]`))
	if !b.changes(t, picture, slanted) || eval[string](t, b, `document.querySelector('[data-view="top"]').getAttribute("aria-pressed")`) != "true" {
		t.Error("the view from above is that from the slant")
	}
	b.run(t, resting)
	top := eval[string](t, b, picture)
	b.run(t, chromedp.Click(`[data-zoom="in"]`))
	if !b.changes(t, picture, top) {
		t.Error("zooming in changes nothing")
	}
	b.quiet(t)
}

// Without scripts the page is a still report.
func TestPageWithoutScripts(t *testing.T) {
	b := openPage(t, pageOf(t, "bed-mill", "part.ngc", demo(t, "programs/impeller-cover-contour.ngc")), emulation.SetScriptExecutionDisabled(true))
	var still, canvas []float64
	b.run(t, chromedp.ActionFunc(func(ctx context.Context) error {
		_, _, _, _, layout, _, err := cdpage.GetLayoutMetrics().Do(ctx)
		still = []float64{layout.ClientWidth, layout.ClientHeight}
		return err
	}))
	_ = canvas
	var shot []byte
	b.run(t, chromedp.CaptureScreenshot(&shot))
	if len(shot) < 20_000 || still[0] < 1000 {
		t.Errorf("a picture of %d bytes", len(shot))
	}
	b.quiet(t)
}

// On paper it is a few pages, with the still picture.
func TestPageOnPaper(t *testing.T) {
	b := openPage(t, pageOf(t, "bed-mill", "part.ngc", demo(t, "programs/flange-bolt-circle.ngc")))
	var pdf []byte
	b.run(t, chromedp.ActionFunc(func(ctx context.Context) (err error) {
		pdf, _, err = cdpage.PrintToPDF().WithPaperWidth(8.27).WithPaperHeight(11.69).WithPreferCSSPageSize(true).Do(ctx)
		return err
	}))
	pages := len(regexp.MustCompile(`/Type\s*/Page\b[^s]`).FindAll(pdf, -1))
	if !bytes.HasPrefix(pdf, []byte("%PDF")) || pages < 2 || pages > 8 {
		t.Errorf("%d pages", pages)
	}
}

// Labels and contrast, in light and in dark: WCAG 2.1, 1.4.3 wants 4.5 to 1 for
// text (from memory), 4.1.2 a name for each control.
func TestPageForEverybody(t *testing.T) {
	for _, scheme := range []string{"light", "dark"} {
		b := openPage(t, pageOf(t, "bed-mill", "part.ngc", demo(t, "programs/bearing-cap-metric.ngc")),
			emulation.SetEmulatedMedia().WithFeatures([]*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}))
		for _, what := range eval[[]string](t, b, contrastScript) {
			t.Errorf("%s: %s", scheme, what)
		}
		for _, what := range eval[[]string](t, b, `[...document.querySelectorAll("button, a, canvas, [role=img], [tabindex]")].filter(e =>
			!(e.getAttribute("aria-label") || e.textContent.trim())).map(e => e.outerHTML.slice(0, 80))`) {
			t.Errorf("%s: no name: %s", scheme, what)
		}
		if n := eval[int](t, b, `document.querySelectorAll("h1").length`); n != 1 {
			t.Errorf("%d first headings", n)
		}
		if bad := eval[int](t, b, `(() => { let last = 1, bad = 0; for (const h of document.querySelectorAll("h1,h2,h3")) { const n = +h.tagName[1]; if (n > last + 1) bad++; last = n; } return bad; })()`); bad != 0 {
			t.Errorf("%d headings leave a level out", bad)
		}
		b.quiet(t)
	}
}

// contrastScript lists texts whose contrast with what is behind them is below
// 4.5, by the formula of WCAG 2.1 (relative luminance; from memory).
const contrastScript = `(() => {
	const part = c => { c /= 255; return c <= 0.03928 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4; };
	const light = ([r, g, b]) => 0.2126 * part(r) + 0.7152 * part(g) + 0.0722 * part(b);
	const colour = text => { const m = text.match(/[\d.]+/g).map(Number); return m.length > 3 && m[3] === 0 ? null : m; };
	const behind = e => { for (; e; e = e.parentElement) { const c = colour(getComputedStyle(e).backgroundColor); if (c) return c; } return [255, 255, 255]; };
	const bad = new Set();
	for (const e of document.querySelectorAll("body *")) {
		if (!e.checkVisibility() || e.closest(".hide, .skip, svg") || ![...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim())) continue;
		const a = light(colour(getComputedStyle(e).color)), b = light(behind(e));
		const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
		if (ratio < 4.5) bad.add(e.tagName + "." + e.className + " " + ratio.toFixed(2) + " " + e.textContent.trim().slice(0, 40));
	}
	return [...bad];
})()`

// The picture of a long path is stretched while a person zooms, and drawn as it is
// when he rests.
func TestPageOfALongPath(t *testing.T) {
	var program strings.Builder
	program.WriteString("%\nG20 G90\nT7 M6\nM42\nS4000 M3\nG54 G0 X0 Y0\nG43 H7 Z1.\nG1 Z-.1 F60.\n")
	for i := range 12_000 {
		fmt.Fprintf(&program, "X%.3f Y%.3f\n", float64(i*i%1009)/200, float64(i*i*i%997)/200)
	}
	program.WriteString("G0 Z1.\nM30\n%\n")
	b := openPage(t, pageOf(t, "bed-mill", "long.ngc", program.String()))
	const picture = `document.getElementById("path").toDataURL()`
	// The page's clock stands until the picture of that frame is taken, however long it takes.
	const wheel = `new Promise((done) => {
		const path = document.getElementById("path"), r = path.getBoundingClientRect(), now = performance.now;
		performance.now = () => 0;
		path.dispatchEvent(new WheelEvent("wheel", {deltaY: -90, clientX: r.left + 300, clientY: r.top + 200, cancelable: true}));
		requestAnimationFrame(() => { done(` + picture + `); performance.now = now; });
	})`
	before := eval[string](t, b, picture)
	moved := eval[string](t, b, wheel, awaited)
	if moved == before {
		t.Error("zooming changes nothing at once")
	}
	if !b.changes(t, picture, moved) {
		t.Error("at rest the picture is the stretched one still")
	}
	b.quiet(t)
}

// On a lathe the piece that is chosen says what its X is, and the speed that the
// spindle has there.
func TestPageOfALathe(t *testing.T) {
	b := openPage(t, pageOf(t, "slant-lathe", "face.ngc", facing))
	key := func(name string) string {
		b.run(t, chromedp.Evaluate(`document.getElementById("path").dispatchEvent(new KeyboardEvent("keydown", {key: "`+name+`"}))`, nil))
		return eval[string](t, b, pieceText)
	}
	var cut []string // backwards, a piece each
	text := key("End")
	for range 200 {
		if strings.Contains(text, "G1 X0 F.01") {
			cut = append(cut, text)
		} else if len(cut) > 0 {
			break
		}
		text = key("ArrowLeft")
	}
	if len(cut) < 10 {
		t.Fatalf("a cut of %d pieces", len(cut))
	}
	for _, tt := range []struct{ piece, want string }{
		{cut[0], `X dia\. 0\.0000  Z 0\.0000 in.*feed 7\.0, goes [67]\.\d in/min.*spindle 700 rpm`},
		{cut[len(cut)-1], `X dia\. 3\.\d+  .*feed [12]\.\d, goes [12]\.\d in/min.*spindle (19|20)\d rpm`},
	} {
		if !regexp.MustCompile(tt.want).MatchString(tt.piece) {
			t.Errorf("%q, want %s", tt.piece, tt.want)
		}
	}
	b.quiet(t)
}
