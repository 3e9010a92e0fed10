package adapt

import (
	"fmt"
	"strings"
	"testing"

	"tapefit/internal/interp"
	"tapefit/profiles"
	"tapefit/rules"

	"pgregory.net/rapid"
)

// flow makes a machine read jumps.
const flow = "block.flow=true|block.parameters=true|block.expressions=true"

// What becomes of the numbers of a program, and what is said where they stay.
func TestNumbers(t *testing.T) {
	const (
		jumping = "with flow"
		both    = Renumber + " " + Unnumber
		loop    = "#1=0\nN7 G0 X#1\n#1=[#1+1]\nIF [#1 LT 3] GOTO 7\n"
	)
	tests := []struct{ name, machine, set, passes, source, want, say string }{
		{"blocks without numbers", "bed-mill", "", Renumber, "G0 X1.\n(MILL)\n\nX2.\n", "N10 G0 X1.\n(MILL)\n\nN20 X2.\n", ""},
		{"written without blanks", "bed-mill", "", Renumber, "G0X1.\nX2.\n", "N10G0X1.\nN20 X2.\n", ""},
		{"old numbers", "bed-mill", "", Renumber, "N1 G0 X1.\nN0002X2.\n", "N10 G0 X1.\nN20X2.\n", ""},
		{"with block delete", "bed-mill", "", Renumber, "/G0 X1.\n/2 N5 X2.\n", "/N10 G0 X1.\n/2 N20 X2.\n", ""},
		{"a program number has none", "bed-mill", "", Renumber, "O5\nG0 X1.\n", "O5\nN10 G0 X1.\n", ""},
		{"left off", "bed-mill", "", Unnumber, "N10 G0 X1.\nN20X2. (N30)\n/N30 X3.\nN40\n", "G0 X1.\nX2. (N30)\n/X3.\n", ""},
		{"jumps go along", jumping, "", Renumber, loop, "N10 #1=0\nN20 G0 X#1\nN30 #1=[#1+1]\nN40 IF [#1 LT 3] GOTO 20\n", ""},
		{"a jump beside its own number", jumping, "", Renumber, "GOTO7\nN3 X9.\nN7 G0 X1.\n", "N10 GOTO30\nN20 X9.\nN30 G0 X1.\n", ""},
		{"what is jumped to stays", jumping, "", Unnumber, loop + "N8 X1.\n", loop + "X1.\n", ""},
		{"only what is jumped to", jumping, "", both, loop + "N8 X1.\n", "#1=0\nN10 G0 X#1\n#1=[#1+1]\nIF [#1 LT 3] GOTO 10\nX1.\n", ""},
		{"in two programs of the file", jumping, "", Renumber,
			"GOTO 7\nX5.\nN7 M98 P2\nM30\nO2\nGOTO 7\nX6.\nN7 G0 X1.\nM99\n", "N10 GOTO 30\nN20 X5.\nN30 M98 P2\nN40 M30\nO2\nN50 GOTO 70\nN60 X6.\nN70 G0 X1.\nN80 M99\n", ""},
		{"a contour", "slant-lathe", "", Renumber,
			"G0 X2. Z.1\nG70 P100 Q120 F.01\nN100 G0 X1.\nN110 G1 Z-1.\nN120 X2.\n", "N10 G0 X2. Z.1\nN20 G70 P30 Q50 F.01\nN30 G0 X1.\nN40 G1 Z-1.\nN50 X2.\n", ""},
		{"a contour keeps its ends", "slant-lathe", "", Unnumber,
			"G0 X2. Z.1\nG70 P100 Q120 F.01\nN100 G0 X1.\nN110 G1 Z-1.\nN120 X2.\n", "G0 X2. Z.1\nG70 P100 Q120 F.01\nN100 G0 X1.\nG1 Z-1.\nN120 X2.\n", ""},
		{"where to is computed", jumping, "", both, "#1=7\nGOTO #1\nX5.\nN7 G0 X1.\n", "", "computed"},
		{"nowhere", jumping, "", Renumber, "#1=1\nIF [#1 EQ 0] GOTO 10\nG0 X1.\n", "", "no block has it"},
		{"to one of two", jumping, "", Renumber, "GOTO 7\nN7 G0 X1.\nN7 X2.\n", "", "2 blocks have it"},
		{"to a number that stands twice in a contour", "slant-lathe", "", Unnumber,
			"N100 G0 X2. Z.1\nG70 P100 Q120 F.01\nN100 G0 X1.\nN110 G1 Z-1.\nN120 X2.\n", "", "2 blocks have it"},
		{"a return that may lead to one, of a program that is not called", jumping, "", Renumber, "G0 X1.\nM30\nO2\nG0 X1.\nM99 P8\n", "", "may lead to one"},
		{"more than the control takes: again from the start", "bed-mill", "block.sequence=[0,25]", Renumber, "G0 X1.\nX2.\nX3.\nX4.\n", "N10 G0 X1.\nN20 X2.\nN10 X3.\nN20 X4.\n", "begin again from N10"},
		{"more, and the numbers must rise", "bed-mill", "block.sequence=[0,25]|block.sequence_rising=true", Renumber, "G0 X1.\nX2.\nX3.\n", "", "takes none over N25"},
		{"more, and jumps", jumping, "block.sequence=[0,25]", Renumber, loop, "", "takes none over N25"},
		{"more, but only one is jumped to", jumping, "block.sequence=[0,25]", both, loop, strings.ReplaceAll(strings.ReplaceAll(loop, "N7", "N10"), "GOTO 7", "GOTO 10"), ""},
		{"a control without numbers", "bed-mill", `words.accepted="FGIJKLMOPQRSTXYZ"`, Renumber, "G0 X1.\n", "", "takes no sequence numbers"},
		{"no room in the block", "bed-mill", "block.longest=12", Renumber, "G0 X1. Y1.\nX2.\n", "G0 X1. Y1.\nN20 X2.\n", "no room"},
		{"no room for a jump", jumping, "block.longest=20", Renumber, "#1=1\nIF [#1 EQ 0] GOTO 7\nN7 G0 X1.\n", "", "longer than the 20 characters"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			var set []string
			if test.set != "" {
				set = strings.Split(test.set, "|")
			}
			name := test.machine
			if name == jumping {
				name, set = "bed-mill", append(set, strings.Split(flow, "|")...)
			}
			m, err := profiles.FindWith(name, nil, set)
			if err != nil {
				t.Fatal(err)
			}
			opt := Options{From: m, To: m, Passes: map[string]bool{}}
			for _, pass := range strings.Fields(test.passes) {
				opt.Passes[pass] = true
			}
			const tail = "\n"
			got, r, err := adapted(t, test.source+tail, opt)
			if err != nil {
				t.Fatalf("%v\n%s", err, got)
			}
			want := test.want + tail
			if test.want == "" {
				want = test.source + tail
			}
			if !r.Written || got != want {
				t.Errorf("written: %v, got\n%s\nwant\n%s", r.Written, got, want)
			}
			if said := fmt.Sprint(r.Left); test.say == "" && len(r.Left) > 0 || !strings.Contains(said, test.say) {
				t.Errorf("said %+v, want %q", r.Left, test.say)
			}
			if twice, r, err := adapted(t, got, opt); err != nil || !r.Fits || twice != got {
				t.Errorf("numbered again: %v %+v\n%s", err, r.Changes, twice)
			}
		})
	}
}

// A block that is jumped to keeps its number, whatever becomes of its words.
func TestNumberOfTarget(t *testing.T) {
	const source = "%\nG20 G90 G94\n#1=0\nN20000 G64\nG0 X#1\n#1=[#1+1]\nIF [#1 LT 3] GOTO 20000\nM30\n%\n"
	tests := []struct {
		name, set string
		passes    map[string]bool
		want      string // "": nothing is written
	}{
		{"of which nothing else is left", "codes.G64=refused", nil, strings.Replace(source, " G64", "", 1)},
		{"beyond the control's range", "block.sequence=[0,9999]", nil, ""},
		{"beyond it, and numbered anew", "block.sequence=[0,9999]", map[string]bool{Renumber: true, Unnumber: true}, strings.ReplaceAll(source, "20000", "10")},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			to, err := profiles.FindWith("bed-mill", nil, append(strings.Split(flow, "|"), test.set))
			if err != nil {
				t.Fatal(err)
			}
			got, r, err := adapted(t, source, Options{From: machine(t, "parametric"), To: to, Passes: test.passes})
			if err != nil {
				t.Fatalf("%v\n%s", err, got)
			}
			if r.Written != (test.want != "") || r.Written && got != test.want {
				t.Errorf("written: %v\n%s\n%+v", r.Written, got, r.Left)
			}
			if !r.Written && (len(r.Left) != 1 || r.Left[0].Level != rules.Error || !strings.Contains(r.Left[0].Decide, Renumber)) {
				t.Errorf("left %+v", r.Left)
			}
		})
	}
}

// Random programs that jump: numbered anew, and without numbers that nothing leads
// to, they do the same and stay as they are from then on. Damaged they do not.
func TestNumbersRandom(t *testing.T) {
	m := machine(t, "parametric")
	jumps, damaged := 0, 0
	rapid.Check(t, func(rt *rapid.T) {
		g := &generator{t: rt, m: m, axes: interp.XYZ}
		g.goTo(true, g.axes)
		for range g.number(1, 3, "loops") {
			g.repeat()
			g.goTo(false, g.axes)
		}
		program := write(rt, m, g.draft, false)
		opt := Options{From: m, To: m, NumberFrom: g.number(1, 7000, "from"), NumberBy: g.number(1, 20, "by"), Passes: map[string]bool{}}
		opt.Passes[Renumber] = g.number(0, 3, "anew") > 0
		opt.Passes[Unnumber] = !opt.Passes[Renumber] || g.number(0, 1, "off") > 0
		got, r := ran(rt, program, opt)
		if !r.Written || len(r.Left) > 0 {
			rt.Fatalf("written %v, left %+v\n%s", r.Written, r.Left, program)
		}
		if again, r := ran(rt, got, opt); !r.Fits || again != got {
			rt.Fatalf("again: %+v\n%s\nbecame\n%s", r.Changes, got, again)
		}
		if strings.Contains(got, "GOTO") {
			jumps++
			if catches(rt, program, got, r, &opt) {
				damaged++
			}
		}
	})
	t.Logf("with jumps %d, damaged %d", jumps, damaged)
}
