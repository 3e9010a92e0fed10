package report

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"unicode/utf8"

	"tapefit/internal/motion"
	"tapefit/profiles"
	"tapefit/rules"
)

var (
	mill    = &profiles.Machine{Name: "bed-mill", Display: "inch", Axes: profiles.AxisTable{X: &profiles.Axis{Rapid: 100}}}
	between = &rules.Rule{Name: "speed-between-gears", Family: "spindle", Level: rules.Error}
	unused  = &rules.Rule{Name: "word-not-used", Family: "language", Level: rules.Warning}
)

// flange is a program with two findings, in inches.
func flange() *rules.Result {
	return &rules.Result{
		Path:    "programs/flange.ngc",
		Machine: mill,
		Blocks:  412,
		Findings: []rules.Finding{{
			Rule: between, Level: rules.Error, Line: 12, Column: 6, EndLine: 48, EndColumn: 11, Count: 4, MarkEnd: 11,
			Source: "N120 S1250 M3", SourceCol: 1,
			Message: "no gear reaches S1250: low (M41) ends at 1100 rpm, high (M42) begins at 1400 rpm",
			Advice:  "Program S1100 or S1400.",
		}, {
			Rule: unused, Level: rules.Warning, Line: 104, Column: 23, EndLine: 104, EndColumn: 28, Count: 1, MarkEnd: 28,
			Source: "N1040 G0 G90 X1.25 Y2 P0.01 (ABOVE THE POCKET)", SourceCol: 1,
			Message: "nothing in this block uses P0.01",
			Advice:  "Take it out.",
		}},
		Times:   motion.Times{Total: 4325.2, OperatorStops: 2},
		Extents: [profiles.NumAxes]rules.Range{0: {Set: true, Min: -6.35, Max: 304.8}, 2: {Set: true, Min: -12.7, Max: 0}, 3: {Set: true, Min: 0, Max: 90}},
	}
}

func TestCheckText(t *testing.T) {
	for _, tt := range []struct {
		width int
		want  string
	}{
		{40, `
programs/flange.ngc on bed-mill

  error      12:6  speed-between-gears
    no gear reaches S1250: low (M41)
    ends at 1100 rpm, high (M42) begins
    at 1400 rpm
     12 | N120 S1250 M3
        |      ^~~~~
    Program S1100 or S1400.
    and 3 more up to line 48

  warning  104:23  word-not-used
    nothing in this block uses P0.01
    104 | N1040 G0 G90 X1.25 Y2 P0.01
        |                       ^~~~~
        | (ABOVE THE POCKET)
    Take it out.

  1 error, 1 warning, 0 notes
  412 blocks, 1:12:05 and 2 operator
    stops
  tool tip: X -0.2500 to 12.0000, Z
    -0.5000 to 0.0000 in, A 0.000 to
    90.000 deg

`},
		{80, `
programs/flange.ngc on bed-mill

  error      12:6  speed-between-gears
    no gear reaches S1250: low (M41) ends at 1100 rpm, high (M42) begins at 1400
    rpm
     12 | N120 S1250 M3
        |      ^~~~~
    Program S1100 or S1400.
    and 3 more up to line 48

  warning  104:23  word-not-used
    nothing in this block uses P0.01
    104 | N1040 G0 G90 X1.25 Y2 P0.01 (ABOVE THE POCKET)
        |                       ^~~~~
    Take it out.

  1 error, 1 warning, 0 notes
  412 blocks, 1:12:05 and 2 operator stops
  tool tip: X -0.2500 to 12.0000, Z -0.5000 to 0.0000 in, A 0.000 to 90.000 deg

`},
		{120, `
programs/flange.ngc on bed-mill

  error      12:6  speed-between-gears
    no gear reaches S1250: low (M41) ends at 1100 rpm, high (M42) begins at 1400 rpm
     12 | N120 S1250 M3
        |      ^~~~~
    Program S1100 or S1400.
    and 3 more up to line 48

  warning  104:23  word-not-used
    nothing in this block uses P0.01
    104 | N1040 G0 G90 X1.25 Y2 P0.01 (ABOVE THE POCKET)
        |                       ^~~~~
    Take it out.

  1 error, 1 warning, 0 notes
  412 blocks, 1:12:05 and 2 operator stops
  tool tip: X -0.2500 to 12.0000, Z -0.5000 to 0.0000 in, A 0.000 to 90.000 deg

`},
	} {
		t.Run(fmt.Sprint(tt.width), func(t *testing.T) {
			var out bytes.Buffer
			if err := NewText(&out, tt.width, false).Check(flange()); err != nil {
				t.Fatal(err)
			}
			same(t, out.String(), tt.want[1:])
		})
	}
}

// same compares line by line, so that the failing one is seen.
func same(t *testing.T, got, want string) {
	t.Helper()
	g, w := strings.Split(got, "\n"), strings.Split(want, "\n")
	for i := range max(len(g), len(w)) {
		if i >= len(g) || i >= len(w) || g[i] != w[i] {
			t.Fatalf("line %d differs; got\n%s\nwant\n%s", i+1, got, want)
		}
	}
}

func TestCheckTextOfManyPrograms(t *testing.T) {
	proven := &rules.Result{Path: "-", Machine: &profiles.Machine{Name: "slant-lathe", Display: "mm"}, Blocks: 1,
		Times: motion.Times{Total: 59.96, UnknownMoves: 1}, Extents: [profiles.NumAxes]rules.Range{0: {Set: true, Min: -0.0001, Max: 25.4}}}
	var out bytes.Buffer
	text := NewText(&out, 80, false)
	for _, r := range []*rules.Result{flange(), proven} {
		out.Reset()
		if err := text.Check(r); err != nil {
			t.Fatal(err)
		}
	}
	if err := text.EndCheck(1, 0); err != nil {
		t.Fatal(err)
	}
	same(t, out.String(), `standard input on slant-lathe

  Nothing found; this is not a promise that it is safe.
  1 block, 1:00.0 and no operator stops
  tool tip: X 0.000 to 25.400 mm
  slant-lathe gives no axis speeds: the time leaves out what depends on them.

2 programs checked
  1 error, 1 warning, 0 notes
  1 program with nothing found
  1:13:05 and 2 operator stops together
  1 program could not be read

Whatever is said or not said here, prove the program out: dry run above the
part, single block, a hand on feed hold.
`)
}

// A run in which nothing could be read must not end like a check.
func TestNoCheckNoCaution(t *testing.T) {
	var out bytes.Buffer
	if err := NewText(&out, 80, false).EndCheck(2, 0); err != nil {
		t.Fatal(err)
	}
	same(t, out.String(), "0 programs checked\n  2 programs could not be read\n\n")
}

func TestTimeText(t *testing.T) {
	r := flange()
	r.Times = motion.Times{Total: 800, Cutting: 488.4, Rapid: 203.6, Dwell: 0.5, ToolChange: 18, GearShift: 4, Spindle: 85.5,
		Naive: 600, BelowFeed: 97.7, Waiting: 62.31, OperatorStops: 1, UnknownMoves: 2, Tools: []motion.ToolTime{{Tool: -1, Total: 10}, {Tool: 4, Total: 790, Cutting: 488.4}}}
	r.Times.Lost[motion.ByBlockTime], r.Times.Lost[motion.ByCorner], r.Times.Lost[motion.ByLookAhead] = 62.31, 29.66, 0.03
	r.Stretches = []motion.Stretch{
		{Line: 16, EndLine: 2032, Tool: 4, Seconds: 480, Cutting: 440, Lost: 91.5, Limit: motion.ByBlockTime},
		{Line: 9, EndLine: 9, Tool: -1, Seconds: 10, Limit: motion.ByFeed},
		{Line: 3000, EndLine: 3001, Tool: 4, Seconds: 7, Limit: motion.ByCorner}, // less than a hundredth: not told
	}
	var out bytes.Buffer
	text := NewText(&out, 80, false)
	if err := text.Time(r); err != nil {
		t.Fatal(err)
	}
	if err := text.EndTime(0, 0); err != nil {
		t.Fatal(err)
	}
	same(t, out.String(), `programs/flange.ngc on bed-mill

  cutting          8:08.4   61 %  ############################
  rapid            3:23.6   25 %  ############
  dwell            0:00.5   <1 %
  tool change      0:18.0    2 %  #
  gear shift       0:04.0   <1 %
  spindle          1:25.5   11 %  #####
  total           13:20.0

  Length over feed says 10:00.0 for cutting and rapid; the machine takes 1:32.0
    more:
    block time                   1:02.3
    corner                       0:29.7

  1:37.7 of cutting (20 %) goes at less than 90 % of the programmed feed

  by tool           total    cutting
  unknown          0:10.0     0:00.0
  T4              13:10.0     8:08.4

  costliest lines   tool      total      lost  held back by
  16 to 2032        T4       8:00.0    1:31.5  block time
  9                 ?        0:10.0    0:00.0  programmed feed

  1 operator stop, counted and not timed
  2 traverses from or to an unknown place: timed along the known axes only

`)
}

// The text is the same with and without colour, but for the colours.
func TestColour(t *testing.T) {
	var plain, coloured bytes.Buffer
	for _, text := range []*Text{NewText(&plain, 60, false), NewText(&coloured, 60, true)} {
		if err := text.Check(flange()); err != nil {
			t.Fatal(err)
		}
		if err := text.EndCheck(0, 0); err != nil {
			t.Fatal(err)
		}
	}
	if bytes.ContainsRune(plain.Bytes(), '\x1b') {
		t.Error("colours where none are wanted")
	}
	for _, want := range []string{
		"\x1b[31;1merror  \x1b[0;22m", // red
		"\x1b[33;1mwarning\x1b[0;22m", // yellow
		"\x1b[1mspeed-between-gears\x1b[22m",
	} {
		if !strings.Contains(coloured.String(), want) {
			t.Errorf("no %q in %q", want, coloured.String())
		}
	}
	same(t, sgr.ReplaceAllString(coloured.String(), ""), plain.String())
}

// Text from programs and paths can't steer the terminal.
func TestNoEscapesFromPrograms(t *testing.T) {
	r := flange()
	r.Path = "a\x1b[2Jb\nc\u202e.ngc"
	r.Findings[0].Message = "it says \x1b]0;x\x07 and \xff"
	r.Findings[0].Source = "N1 (\x1b[31m\x00\u200b) S1250"
	var out bytes.Buffer
	if err := NewText(&out, 80, false).Check(r); err != nil {
		t.Fatal(err)
	}
	if strings.ContainsAny(out.String(), "\x1b\x07\x00\u202e\u200b") || !utf8.Valid(out.Bytes()) {
		t.Errorf("%q", out.String())
	}
	for _, want := range []string{"a\uFFFD[2Jb c\uFFFD.ngc on", "it says \uFFFD]0;x\uFFFD and \uFFFD\n", "| N1 (\uFFFD[31m\uFFFD\uFFFD) S1250\n"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("no %q in\n%s", want, out.String())
		}
	}
}

// What is silenced is counted behind the levels: of one program, and of all.
func TestSilencedText(t *testing.T) {
	r := flange()
	r.Findings = r.Findings[:1]
	r.Findings[0].Silenced = 1
	r.Silenced = []rules.Silenced{{Rule: unused, Count: 2}}
	quiet := &rules.Result{Path: "cover.ngc", Machine: mill, Silenced: []rules.Silenced{{Rule: between, Count: 1}, {Rule: unused, Count: 1}}}
	var out bytes.Buffer
	text := NewText(&out, 80, false)
	for _, one := range []*rules.Result{r, quiet} {
		if err := text.Check(one); err != nil {
			t.Fatal(err)
		}
	}
	if err := text.EndCheck(0, 0); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"    and 3 more up to line 48\n    1 place beside, where it is silenced\n",
		"  1 error, 0 warnings, 0 notes, 2 silenced (word-not-used)\n",
		"  0 errors, 0 warnings, 0 notes, 2 silenced (speed-between-gears, word-not-used)\n",
		"2 programs checked\n  1 error, 0 warnings, 0 notes, 4 silenced (speed-between-gears, word-not-used)\n",
	} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("no %q in\n%s", want, out.String())
		}
	}
	if strings.Contains(out.String(), "Nothing found") || strings.Contains(out.String(), "with nothing found") {
		t.Errorf("what is silenced is taken for nothing:\n%s", out.String())
	}
}
