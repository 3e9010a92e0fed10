package adapt

import (
	"os"
	"strings"
	"testing"

	"tapefit/internal/interp"
	"tapefit/profiles"
	"tapefit/rules"

	"pgregory.net/rapid"
)

// Holes as a post writes them that knows no cycles, and what becomes of them:
// without the first two and the last two lines, which all have.
func TestGather(t *testing.T) {
	const four = "X1.\nZ.1\nG1 Z-.5 F5.\nG0 Z.1\nX2.\nG1 Z-.5\nG0 Z.1\nY1.\nG1 Z-.5\nG0 Z.1\n"
	tests := []struct{ name, to, set, source, want string }{
		{"out to R", "bed-mill", "", four, "G99 G81 X1. Y0. Z-0.5 R0.1 F5.\nX2.\nY1.\nG80\n"},
		{"on a control that always ends at R", "tape-era", "", four, "G81 X1. Y0. Z-0.5 R0.1 F5.\nX2.\nY1.\nG80\n"},
		{"out to the level over the work", "bed-mill", "", "X1.\nZ.1\nG1 Z-.5 F5.\nG0 Z1.\nX2.\nZ.1\nG1 Z-.5\nG0 Z1.\n",
			"G98 G81 X1. Y0. Z-0.5 R0.1 F5.\nX2.\nG80\n"},
		{"that level is not there", "tape-era", "", "X1.\nZ.1\nG1 Z-.5 F5.\nG0 Z1.\nX2.\nZ.1\nG1 Z-.5\nG0 Z1.\n",
			"X1.\nZ.1\nG1 Z-.5 F5.\nG0 Z1.\nX2.\nZ.1\nG1 Z-.5\nG0 Z1.\n"},
		{"out to a lower level than that of the approach", "bed-mill", "", "X1.\nZ.1\nG1 Z-.5 F5.\nG0 Z.4\nX2.\nZ.1\nG1 Z-.5\nG0 Z.4\nX3.\nZ.1\nG1 Z-.5\nG0 Z.4\n",
			"X1.\nZ0.4\nG98 G81 X1. Y0. Z-0.5 R0.1 F5.\nX2.\nX3.\nG80\n"},
		{"the last one further out", "bed-mill", "", four + "X3.\nG1 Z-.5\nG0 Z1.\nX0.\n",
			"G99 G81 X1. Y0. Z-0.5 R0.1 F5.\nX2.\nY1.\nX3.\nG80\nG0 Z1.\nX0.\n"},
		{"an end of cycles that was there", "bed-mill", "", four + "N5 G80\nG0 X3.\n", "G99 G81 X1. Y0. Z-0.5 R0.1 F5.\nX2.\nY1.\nN5 G80\nG0 X3.\n"},
		{"a cycle behind it that relies on a mode", "bed-mill", "", "G98\n" + four + "G81 X3. Z-.5 R.1 F5.\nX4.\nG80\n",
			"G98\nG99 G81 X1. Y0. Z-0.5 R0.1 F5.\nX2.\nY1.\nG80\nG98\nG81 X3. Z-.5 R.1 F5.\nX4.\nG80\n"},
		{"a cycle behind it in increments", "bed-mill", "", "G91\nX1.\nZ-.9\nG1 Z-.6 F5.\nG0 Z.6\nX1.\nG1 Z-.6\nG0 Z.6\nG81 X1. Z-.6 R0.\nX1.\nG80\n",
			"G91\nG90 G99 G81 X1. Y0. Z-0.5 R0.1 F5.\nX2.\nG80\nG91 G98\nG81 X1. Z-.6 R0.\nX1.\nG80\n"},
		{"a spindle stop at the bottom by a cycle, behind it", "bed-mill", "", "M41\nS200 M3\n" + four + "G86 X3. Z-.5 R.1 P.1\nG80\nM5\n",
			"M41\nS200 M3\nG99 G81 X1. Y0. Z-0.5 R0.1 F5.\nX2.\nY1.\nG80\nG98\nG86 X3. Z-.5 R.1 P.1\nG80\nM5\n"},
		{"numbered", "bed-mill", "", "N1 X1.\nN2 Z.1\nN3 G1 Z-.5 F5.\nN4 G0 Z.1\nN5 X2.\nN6 G1 Z-.5\nN7 G0 Z1.\nN8 X0.\n",
			"N1 G99 G81 X1. Y0. Z-0.5 R0.1 F5.\nN5 X2.\nN6 G80\nN7 G0 Z1.\nN8 X0.\n"},
		{"a move behind it that relies on a mode", "bed-mill", "", four + "Y2.5\nM9\nG1 X0. F5.\n",
			"G99 G81 X1. Y0. Z-0.5 R0.1 F5.\nX2.\nY1.\nG80\nG0 Y2.5\nM9\nG1 X0. F5.\n"},
		{"the feed behind it is another", "bed-mill", "", strings.Replace(four, "G1", "F9.\nG1", 1) + "M9\nG1 X0.\n",
			"G99 G81 X1. Y0. Z-0.5 R0.1 F5.\nX2.\nY1.\nG80\nM9\nG1 X0.\n"},
		{"a dwell", "bed-mill", "", "X1.\nZ.1\nG1 Z-.5 F5.\nG4 P.5\nG0 Z.1\nX2.\nG1 Z-.5\nG4 P.5\nG0 Z.1\n",
			"G99 G82 X1. Y0. Z-0.5 R0.1 P0.5 F5.\nX2.\nG80\n"},
		{"a dwell in ms", "bed-mill", `block.dwell={P="ms"}`, "X1.\nZ.1\nG1 Z-.5 F5.\nG4 P500\nG0 Z.1\nX2.\nG1 Z-.5\nG4 P500\nG0 Z.1\n",
			"G99 G82 X1. Y0. Z-0.5 R0.1 P500 F5.\nX2.\nG80\n"},
		{"pecks out to R, and back to 0.010 in over the last depth", "bed-mill", "",
			"X1.\nZ.1\nG1 Z-.1 F5.\nG0 Z.1\nZ-.09\nG1 Z-.3\nG0 Z.1\nZ-.29\nG1 Z-.35\nG0 Z.1\n",
			"G99 G83 X1. Y0. Z-0.35 R0.1 Q0.2 F5.\nG80\n"},
		{"with another clearance than the machine's", "bed-mill", "",
			"X1.\nZ.1\nG1 Z-.1 F5.\nG0 Z.1\nZ-.05\nG1 Z-.3\nG0 Z.1\n",
			"X1.\nZ.1\nG1 Z-.1 F5.\nG0 Z.1\nZ-.05\nG1 Z-.3\nG0 Z.1\n"},
		{"the machine's own clearance", "bed-mill", `cycles.peck={needs="RZQ",takes="XYL",clear_peck="0.05 in"}`,
			"X1.\nZ.1\nG1 Z-.1 F5.\nG0 Z.1\nZ-.05\nG1 Z-.3\nG0 Z.1\n", "G99 G83 X1. Y0. Z-0.3 R0.1 Q0.2 F5.\nG80\n"},
		{"pecks that become smaller", "bed-mill", "",
			"X1.\nZ.1\nG1 Z-.1 F5.\nG0 Z.1\nZ-.09\nG1 Z-.25\nG0 Z.1\nZ-.24\nG1 Z-.35\nG0 Z.1\n",
			"X1.\nZ.1\nG1 Z-.1 F5.\nG0 Z.1\nZ-.09\nG1 Z-.25\nG0 Z.1\nZ-.24\nG1 Z-.35\nG0 Z.1\n"},
		{"chips broken", "lenient", "", "X1.\nZ.1\nG1 Z-.1 F5.\nG0 Z-.09\nG1 Z-.3\nG0 Z-.29\nG1 Z-.5\nG0 Z.1\n",
			"G99 G73 X1. Y0. Z-0.5 R0.1 Q0.2 F5.\nG80\n"},
		{"bored, and out at the feed to R", "knee-mill", "", "X1.\nZ.1\nG1 Z-.5 F5.\nZ.1\nG0 X2.\nG1 Z-.5\nZ.1\nG0 X3.\n",
			"G85 X1. Y0. Z-0.5 R0.1 F5.\nX2.\nG80\nG0 X3.\n"},
		{"bored, and out at the feed all the way", "bed-mill", "", "X1.\nZ.1\nG1 Z-.5 F5.\nZ1.\nG0 X2.\nZ.1\nG1 Z-.5\nZ1.\nG0 X3.\n",
			"G98 G85 X1. Y0. Z-0.5 R0.1 F5.\nX2.\nG80\nG0 X3.\n"},
		{"a dwell before the feed out", "bed-mill", "", "X1.\nZ.1\nG1 Z-.5 F5.\nG4 P.5\nG1 Z.1\nG0 X2.\nG1 Z-.5\nG4 P.5\nG1 Z.1\nG0 X3.\n",
			"G99 G89 X1. Y0. Z-0.5 R0.1 P0.5 F5.\nX2.\nG80\nG0 X3.\n"},
		{"another depth begins another cycle", "bed-mill", "", four + "X3.\nG1 Z-.6\nG0 Z.1\nX4.\nG1 Z-.6\nG0 Z.1\nX5.\nG1 Z-.6\nG0 Z.1\n",
			"G99 G81 X1. Y0. Z-0.5 R0.1 F5.\nX2.\nY1.\nG80\nG99 G81 X3. Y1. Z-0.6 R0.1\nX4.\nX5.\nG80\n"},
		{"in increments", "bed-mill", "", "X1.\nG91\nZ-.9\nG1 Z-.6 F5.\nG0 Z.6\nX1.\nG1 Z-.6\nG0 Z.6\nX1.\nG1 Z-.6\nG0 Z.6\nX1. Y1.\nG90\n",
			"G99 G81 X1. Y0. Z-0.5 R0.1 F5.\nX2.\nX3.\nG80\nG91 G0 X1. Y1.\nG90\n"},
		{"three axes at once are no approach", "bed-mill", "", "X1. Z.1\nG1 Z-.5 F5.\nG0 X2. Z.1\n", "X1. Z.1\nG1 Z-.5 F5.\nG0 X2. Z.1\n"},
		{"a slot is no hole", "bed-mill", "", "X1.\nZ.1\nG1 Z-.5 F5.\nX2.\nG0 Z.1\n", "X1.\nZ.1\nG1 Z-.5 F5.\nX2.\nG0 Z.1\n"},
		{"a plunge at two feeds", "bed-mill", "", "X1.\nZ.1\nG1 Z-.2 F5.\nZ-.5 F3.\nG0 Z.1\n", "X1.\nZ.1\nG1 Z-.2 F5.\nZ-.5 F3.\nG0 Z.1\n"},
		{"a comment stays with its block", "bed-mill", "", "X1.\nZ.1\nG1 Z-.5 F5. (FIRST)\nG0 Z.1\n", "X1.\nZ.1\nG1 Z-.5 F5. (FIRST)\nG0 Z.1\n"},
		{"a spindle stop at the bottom is another cycle", "bed-mill", "", "X1.\nZ.1\nG1 Z-.5 F5.\nM5\nG0 Z.1\n", "X1.\nZ.1\nG1 Z-.5 F5.\nM5\nG0 Z.1\n"},
		{"a control without the cycle", "bed-mill", "codes.G81=refused", four, four},
		{"a control without an end of cycles", "bed-mill", "codes.G80=refused", four, four},
		{"blocks too short for a cycle", "bed-mill", "block.longest=50", four, four},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			var set []string
			if test.set != "" {
				set = strings.Split(test.set, "|")
			}
			to, err := profiles.FindWith(test.to, nil, set)
			if err != nil {
				t.Fatal(err)
			}
			inch := to.CodeFor(profiles.UnitsInch)
			head, tail := "%\n"+inch+" G90 G94 G0 X0. Y0. Z1.\n", "M30\n%\n"
			opt := Options{From: to, To: to, Passes: map[string]bool{Gather: true}}
			got, r, err := adapted(t, head+test.source+tail, opt)
			if err != nil {
				t.Fatalf("%v\n%s", err, got)
			}
			if !r.Written {
				t.Fatalf("not written: %+v", r.Left)
			}
			if want := head + test.want + tail; got != want {
				t.Errorf("got\n%s\nwant\n%s", got, want)
			}
			if r.Fits != (got == head+test.source+tail) {
				t.Errorf("it fits: %v", r.Fits)
			}
			if twice, r, err := adapted(t, got, opt); err != nil || !r.Fits || twice != got {
				t.Errorf("gathered again: %v %+v\n%s", err, r.Changes, twice)
			}
		})
	}
}

// What the bed mill's program became for the knee mill, which has no cycle for
// deep holes, becomes cycles again for the bed mill, with numbers of their own.
func TestGatherDemo(t *testing.T) {
	source, err := os.ReadFile(shop + "adapted/flange-bolt-circle.tap")
	if err != nil {
		t.Fatal(err)
	}
	opt := Options{From: machine(t, "knee-mill"), To: machine(t, "bed-mill"), Passes: map[string]bool{Gather: true, Renumber: true}}
	got, r, err := adapted(t, string(source), opt)
	if err != nil || !r.Written {
		t.Fatalf("%v, %+v\n%s", err, r, got)
	}
	asGolden(t, shop+"adapted/flange-bolt-circle-gathered.ngc", got)
	opt.From = opt.To
	if twice, r, err := adapted(t, got, opt); err != nil || !r.Fits || twice != got {
		t.Errorf("adapted again: %v %+v", err, r.Changes)
	}
}

// Where no hole can be made a cycle that is told.
func TestGatherSaysWhyNot(t *testing.T) {
	for _, c := range []struct{ machine, set, say string }{
		{"bed-mill", "codes.G80=refused", "no code that ends cycles"},
		{"bed-mill", "block.longest=50", "may have 64"},
		{"slant-lathe", "block.longest=80", "is a lathe"},
	} {
		m, err := profiles.FindWith(c.machine, nil, []string{c.set})
		if err != nil {
			t.Fatal(err)
		}
		_, r, err := adapted(t, "%\nG0 X1.\nM30\n%\n", Options{From: m, To: m, Passes: map[string]bool{Gather: true}})
		if err != nil || !r.Fits || len(r.Left) != 1 || r.Left[0].Level != rules.Note || !strings.Contains(r.Left[0].What, c.say) {
			t.Errorf("%s %s: %v %+v", c.machine, c.set, err, r.Left)
		}
	}
}

// The line that is told is one of the source, also where blocks were put in
// before.
func TestGatherTellsTheSource(t *testing.T) {
	source := "%\nG20 G90 G94\nS200 M3 M8\nS2000\nG0 X0. Y0. Z1.\nG43 H1\nX1.\nZ.1\nG1 Z-.5 F5.\nG0 Z.1\nX2.\nG1 Z-.5\nG0 Z.1\nM30\n%\n"
	_, r, err := adapted(t, source, Options{From: base(t, "lenient"), To: machine(t, "knee-mill"), Passes: map[string]bool{Gather: true}})
	if err != nil {
		t.Fatal(err)
	}
	made := r.Changes[len(r.Changes)-1]
	if made.Pass.Name != Gather || made.Line != 7 || made.Count != 7 || made.Was != "X1." || made.Now != "G81 X1. Y0. Z-0.5 R0.1 F5." {
		t.Errorf("told %+v", made)
	}
}

// A program that keeps its subprograms is left as it is, and says so.
func TestGatherKeepsStructure(t *testing.T) {
	source := "%\nG20 G90 G94\nG0 X0. Y0. Z1.\nM98 P2 L3\nM30\nO2\nG91 X1.\nZ-.9\nG1 Z-.6 F5.\nG0 Z1.5\nG90\nM99\n%\n"
	opt := Options{From: machine(t, "bed-mill"), To: machine(t, "bed-mill"), Passes: map[string]bool{Gather: true}}
	got, r, err := adapted(t, source, opt)
	if err != nil || got != source {
		t.Errorf("%v\n%s", err, got)
	}
	if len(r.Left) != 1 || r.Left[0].Level != rules.Note || !strings.Contains(r.Left[0].Decide, Unroll) {
		t.Errorf("left %+v", r.Left)
	}
	opt.Passes[Unroll] = true
	got, _, err = adapted(t, source, opt)
	if err != nil || !strings.Contains(got, "G98 G81 X1. Y0. Z-0.5 R0.1 F5.\nX2.\nX3.\nG80\n") {
		t.Errorf("%v\n%s", err, got)
	}
}

// holes draws a program for the machine that drills by plain moves, with what
// may come between holes.
func holes(t *rapid.T, m *profiles.Machine) string {
	g := &generator{t: t, m: m, at: grid{0, 0, 10000}, axes: interp.XYZ}
	w := &author{t: t, m: m, inch: true, motion: "?", feed: -1, at: g.at, begun: true}
	w.line("%")
	w.line(w.code(profiles.UnitsInch), w.code(profiles.Absolute))
	w.line(w.code(profiles.TraverseMove) + " X0 Y0 Z1.")
	for range g.number(1, 4, "patterns") {
		g.pattern(w)
		switch g.number(0, 5, "between") {
		case 0:
			w.line(w.code(profiles.Flood))
		case 1:
			g.goTo(false, interp.XYZ)
			w.straight(g.draft[len(g.draft)-1])
		case 2:
			w.distance(!w.inc)
		}
		g.at = w.at
	}
	w.line("M30")
	w.line("%")
	return w.b.String()
}

// pattern draws holes that are alike, or nearly.
func (g *generator) pattern(w *author) {
	a := act{kind: drill, axes: interp.XYZ, feed: rapid.SampledFrom([]int{50, 60}).Draw(g.t, "feed")}
	a.meaning = rapid.SampledFrom([]profiles.Meaning{profiles.Drill, profiles.Drill, profiles.DrillDwell, profiles.Peck}).Draw(g.t, "cycle")
	a.r = g.at[2] - g.number(0, 2, "R")*500
	a.bottom, a.peck, a.seconds = a.r-g.number(1, 5, "depth")*400, g.number(2, 9, "peck")*100, 0.5
	a.initial = rapid.Bool().Draw(g.t, "initial")
	for range g.number(1, 4, "holes") {
		if g.number(0, 9, "odd") == 0 {
			a.bottom -= 100
		}
		a.holes = [][2]int{{g.coordinate(), g.coordinate()}}
		w.unrolled(a)
	}
}

// Random holes for machines of all kinds: what is written is proven, fits, and
// comes back as it is, gathered again or not. Damaged in one place it is not proven.
func TestGatherRandom(t *testing.T) {
	from := machine(t, "bed-mill")
	to := narrowed(t)
	to = append(to, from, machine(t, "knee-mill"))
	gathered, damaged := 0, 0
	rapid.Check(t, func(rt *rapid.T) {
		m := rapid.SampledFrom(to).Draw(rt, "machine")
		program := holes(rt, from)
		opt := Options{From: from, To: m, Tolerance: 0.02, Passes: map[string]bool{Gather: true}}
		got, r := ran(rt, program, opt)
		if !r.Written {
			if !r.mustDecide() {
				rt.Fatalf("%v nothing was written, and nothing says why\n%s", m.Settings, program)
			}
			return
		}
		for i := range r.Changes {
			if r.Changes[i].Pass.Name == Gather {
				gathered++
			}
		}
		if catches(rt, program, got, r, &opt) {
			damaged++
		}
		for _, passes := range []map[string]bool{nil, {Gather: true}} {
			again, r := ran(rt, got, Options{From: m, To: m, Passes: passes})
			if !r.Fits || again != got {
				rt.Fatalf("%v adapted again with %v: %+v\n%s\nbecame\n%s", m.Settings, passes, r.Changes, got, again)
			}
		}
	})
	t.Logf("gathered in %d programs, damaged %d", gathered, damaged)
}

func ran(t *rapid.T, program string, opt Options) (string, *Result) {
	var out memory
	r, err := Run(&out, strings.NewReader(program), int64(len(program)), "program", opt)
	if err != nil {
		t.Fatalf("%v %v\n%s\nbecame\n%s", opt.To.Settings, err, program, out.String())
	}
	return out.String(), r
}
