package report

import (
	"path/filepath"
	"strings"
	"testing"
)

// sheetOf writes the setup sheet of a program and gives its text.
func sheetOf(t testing.TB, machine, name, program string) string {
	t.Helper()
	return madeOf(t, Sheet, machine, name, program)
}

// words is the text of a page without its marks, blanks as one.
func words(page string) string {
	_, page, _ = strings.Cut(page, "</style>")
	var b strings.Builder
	for part := range strings.SplitSeq(page, "<") {
		tag, text, _ := strings.Cut(part, ">")
		if strings.HasPrefix(tag, `span class="box`) {
			b.WriteString(" [ ]")
		}
		b.WriteString(" " + text)
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

// What the person at the machine is told, and what is left to be filled in.
func TestSheetSays(t *testing.T) {
	for _, tt := range []struct {
		machine, program string
		want, never      []string
	}{
		{"bed-mill", "programs/gland-plate-proven.ngc", []string{
			"MATERIAL: BRONZE C932",
			"Nothing that bed-mill would refuse was found. This is not a promise that it is safe.",
			"T2 1/2 in end mill OUTSIDE 6.00 X 4.00, CORNERS 0.75, CLIMB, TWO LEVELS H2 length 5.0000 2000 high M42 20 -0.4400 4:01",
			"G54 in the profile as set X 12.0000 [ ] Y 8.0000 [ ] Z -18.0000 [ ]",
			"low M41 40 to 1100 rpm T1 at 600, T5 at 700, T6 at 260",
			"None: it runs from start to end without a stop.",
			"raised by more than the deepest Z, 0.7500 in",
			"licensed people",
		}, nil},
		{"bed-mill", "programs/bearing-bracket-mended.ngc", []string{
			"Do not run it as it is: bed-mill would refuse this program or do other than is written (4 errors, 2 warnings).",
			"line 27 : X goes to machine 41.5 in",
			"H4 length 5.2500", // the H5 that was forgotten
			"line 64, N520 Program stop. CLEAN THE SLOTS, CHECK THEM WITH THE GAUGE",
			"G55 in the profile as set X 30.0000",
			"X -6.7500", // in G55, though the way home before it was under G54
		}, []string{"G54 in the profile"}},
		{"bed-mill", "programs/impeller-cover-contour.ngc", []string{"H2 length 5.0000 D2 diameter 0.5000"}, nil},
		{"bed-mill", "programs/bearing-cap-metric.ngc", []string{"T22 [ ]", "not said"}, nil},
		{"knee-mill", "tape/foot-plate-proven.tap", []string{
			"SET DIALS WITH THE TOOL 2 IN ABOVE",
			"T1 [ ] length [ ] 700 middle",
			"line 9, N20 Put in T1 by hand. Belt on middle (420 to 1250 rpm), for 700 rpm.",
			"line 83, N760 Put in T2 by hand.",
			"line 10: N30 G92 X0 Y0 Z20000",
			"X not known [ ]",
			"2 operator stops, not in the time; reckoned 4:00.0",
		}, []string{"H0", "no H called"}},
		{"slant-lathe", "lathe/gland-nut-proven.ngc", []string{
			"no. 1 X, radius 2.5000 no. 1 Z 3.1000 nose radius 0.0312",
			"T3 grooving tool, 0.125 wide (2 calls)",
			"332 to 700 at 200 ft/min low M41 0.002 to 0.003 in/rev", // parted off from 2.3 in: 12*200/(pi*2.3) rpm
			"T1 at 414 to 700 (260 ft/min), T2 at 575 to 700 (320 ft/min), T3 at 332 to 700 (200 ft/min), T4 at 420",
			"0.08333 in/rev -0.9600",
			"X dia. 2.4000",
			"X, radius 0.0000 [ ]",
		}, []string{"Dry run above the part"}},
	} {
		text := words(sheetOf(t, tt.machine, tt.program, demo(t, tt.program)))
		for _, want := range tt.want {
			if !strings.Contains(text, want) {
				t.Errorf("%s: the sheet does not say %q:\n%s", tt.program, want, text)
			}
		}
		for _, never := range tt.never {
			if strings.Contains(text, never) {
				t.Errorf("%s: the sheet says %q", tt.program, never)
			}
		}
	}
}

// Stops by hand, as a knee mill has them, and a spindle that goes on at a stop.
func TestSheetStops(t *testing.T) {
	for _, tt := range []struct {
		name, machine, program, want string
	}{
		{"belt at the stop before", "knee-mill", "%\nG70 G90\nT1 M6\nS300 M3\nG0 Z1\nM5\n(BELT OVER, TIGHTEN IT)\nM0\nS900 M3\nG1 Z0 F5\nM30\n%\n",
			"line 8 Program stop. Belt on middle (420 to 1250 rpm), for 900 rpm. BELT OVER, TIGHTEN IT"},
		{"belt without a stop", "knee-mill", "%\nG70 G90\nT1 M6\nS300 M3\nG0 Z1\nM5\nS900 M3\nG1 Z0 F5\nM30\n%\n",
			"line 7 Belt on middle (420 to 1250 rpm), for 900 rpm. The program does not stop for it."},
		{"belt before the start", "knee-mill", "%\nG70 G90\nS300 M3\nG0 Z1\nG1 Z0 F5\nM30\n%\n",
			"before the start Belt on slow (75 to 380 rpm), for 300 rpm."},
		{"spindle on", "bed-mill", "%\nG20 G90 M41\nS300 M3\nM0\nG1 Z0 F5\nM30\n%\n",
			"line 4 Program stop. The spindle goes on turning: keep hands out. The program does not say what for"},
		{"optional", "bed-mill", "%\nG20 G90\nM1 (MEASURE THE BORE)\nM30\n%\n",
			"line 3 Optional stop: only with its switch on. MEASURE THE BORE"},
		{"in a loop", "bed-mill", "%\nG20 G90\nM98 P7 L3\nM30\nO7\nM0\n(TURN THE PART)\nM99\n%\n",
			"line 6, 3 times Program stop. TURN THE PART"},
	} {
		if text := words(sheetOf(t, tt.machine, "part.ngc", tt.program)); !strings.Contains(text, tt.want) {
			t.Errorf("%s: the sheet does not say %q:\n%s", tt.name, tt.want, text)
		}
	}
}

// A sheet needs nothing beside it, has no script, and takes no marks from the
// program.
func TestSheetStandsAlone(t *testing.T) {
	const evil = `<script>alert(1)</script><img src=x>`
	page := sheetOf(t, "bed-mill", `"><b>.ngc`, "%\n("+evil+")\nG20 G90\n("+evil+")\nM0\nT1 M6 ("+evil+")\nG1 X2. F1.\nM30\n%\n")
	for _, never := range []string{"<script", "<img", `<b>.ngc`, "http://", "https://", `src="`, "@import", "url("} {
		if strings.Contains(page, never) {
			t.Errorf("the sheet has %q", never)
		}
	}
}

// Any file makes a sheet, and none is endless.
func TestSheetOfAnything(t *testing.T) {
	var many strings.Builder
	many.WriteString("%\nG20 G90\n")
	for i := range 3000 {
		many.WriteString("T" + string(rune('1'+i%9)) + " M6\nM0\nG1 X1. F1.\n")
	}
	many.WriteString("M30\n%\n")
	for name, program := range map[string]string{
		"empty":     "",
		"bytes":     string([]byte{0, 1, 2, 0xff, 0xfe, '%', '\n', 0x80}),
		"far away":  "%\nG0 X99999999999999999999\nG1 X-99999999999999999999 F1\nG1 Z5 Y1\nZ0 Y2\nG2 X1 I1e300\nM30\n%\n",
		"long line": strings.Repeat("G1 X1 ", 100000),
		"many":      many.String(),
		"tape":      demo(t, "tape/foot-plate-proven.tap"),
	} {
		for _, machine := range []string{"bed-mill", "knee-mill", "slant-lathe", "rs274ngc"} {
			page := sheetOf(t, machine, name, program)
			if strings.Contains(page, "NaN") || strings.Contains(page, "Inf") || !strings.HasSuffix(strings.TrimSpace(page), "</html>") {
				t.Errorf("%s on %s: no whole sheet", name, machine)
			}
			if len(page) > 200_000 {
				t.Errorf("%s on %s: %d bytes", name, machine, len(page))
			}
		}
	}
}

// The sheets of a machine are alike in form, so that who knows one finds his way
// in all: five steps and two pictures.
func TestSheetOfTheDemo(t *testing.T) {
	all, err := filepath.Glob("../../testdata/shop/programs/*.ngc")
	if err != nil || len(all) < 10 {
		t.Fatal(all, err)
	}
	for _, path := range all {
		page := sheetOf(t, "bed-mill", path, demo(t, "programs/"+filepath.Base(path)))
		if n := strings.Count(page, "<h2>"); n != 5 {
			t.Errorf("%s: %d steps", path, n)
		}
		if n := strings.Count(page, "<svg viewBox"); n != 2 {
			t.Errorf("%s: %d pictures", path, n)
		}
	}
}
