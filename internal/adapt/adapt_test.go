package adapt

import (
	"bytes"
	"errors"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tapefit/profiles"
	"tapefit/rules"
)

var update = flag.Bool("update", false, "write the adapted programs of the demo anew")

// base loads a base with gear codes that do nothing, as the command does.
func base(t testing.TB, name string) *profiles.Machine {
	t.Helper()
	m, err := profiles.FindWith(name, nil, []string{"codes.M41=accepted", "codes.M42=accepted"})
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// adapted adapts a program and gives what was written, also where the proof
// failed.
func adapted(t testing.TB, program string, opt Options) (string, *Result, error) {
	t.Helper()
	file, err := os.Create(filepath.Join(t.TempDir(), "out"))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	r, err := Run(file, strings.NewReader(program), int64(len(program)), "program", opt)
	text, readErr := os.ReadFile(file.Name())
	if readErr != nil {
		t.Fatal(readErr)
	}
	return string(text), r, err
}

func mm(v float64) *float64 { return &v }

const shop = "../../testdata/shop/"

// The programs that posts write for the bed mill, for the knee mill: without
// home position, work offsets and tool lengths, with unsigned quadrant arcs, one
// M code in a block, belts by hand.
var demo = []struct {
	program   string
	tolerance float64
	leaveOut  map[int]bool
}{
	{program: "programs/bearing-cap-metric.ngc", tolerance: 0.02, leaveOut: map[int]bool{880: true}},
	{program: "programs/bolt-circle-parameters.ngc"},
	{program: "programs/flange-bolt-circle.ngc"},
	{program: "programs/gland-plate-proven.ngc"},
	{program: "programs/pump-base-facing.ngc"},
	{program: "programs/strainer-slots-old.ngc"},
	{program: "programs/wear-ring-bore.ngc", tolerance: 0.05},
}

func demoOptions(t testing.TB) Options {
	return Options{
		From: base(t, "lenient"), To: machine(t, "knee-mill"), Guess: true,
		Home: Place{2: mm(25.4)}, Passes: map[string]bool{ClampSpeed: true, ClampFeed: true},
	}
}

func TestDemo(t *testing.T) {
	mends := map[string]bool{}
	for _, p := range Passes() {
		for _, name := range p.Mends {
			mends[name] = true
		}
	}
	for _, d := range demo {
		t.Run(filepath.Base(d.program), func(t *testing.T) {
			source, err := os.ReadFile(shop + d.program)
			if err != nil {
				t.Fatal(err)
			}
			opt := demoOptions(t)
			opt.Tolerance, opt.LeaveOut = d.tolerance, d.leaveOut
			got, r, err := adapted(t, string(source), opt)
			if err != nil {
				t.Fatal(err)
			}
			if !r.Written {
				t.Fatalf("not written: %+v", r.Left)
			}
			for i := range r.After.Findings {
				if f := &r.After.Findings[i]; f.Level == rules.Error && mends[f.Rule.Name] && f.Rule.Name != "program-too-big-for-memory" {
					t.Errorf("%d: %s: %s", f.Line, f.Rule.Name, f.Message)
				}
			}
			asGolden(t, shop+"adapted/"+strings.TrimSuffix(filepath.Base(d.program), ".ngc")+".tap", got)
			again(t, got)
		})
	}
}

// again adapts what was adapted: it fits.
func again(t *testing.T, program string) {
	t.Helper()
	opt := demoOptions(t)
	opt.Passes = nil
	text, r, err := adapted(t, program, opt)
	if err != nil {
		t.Fatalf("adapted again: %v", err)
	}
	if !r.Fits || text != program {
		t.Errorf("adapted again it has changed: %+v", r.Changes)
	}
}

// What runs on a machine comes back byte for byte.
func TestProvenStays(t *testing.T) {
	tests := []struct{ from, to, program string }{
		{"lenient", "bed-mill", "programs/gland-plate-proven.ngc"},
		{"bed-mill", "bed-mill", "programs/gland-plate-proven.ngc"},
		{"lenient", "knee-mill", "tape/foot-plate-proven.tap"},
		{"lenient", "slant-lathe", "lathe/sleeve-turning-proven.ngc"},
		{"lenient", "slant-lathe", "lathe/gland-nut-proven.ngc"},
	}
	for _, test := range tests {
		t.Run(test.from+" "+test.to+" "+filepath.Base(test.program), func(t *testing.T) {
			source, err := os.ReadFile(shop + test.program)
			if err != nil {
				t.Fatal(err)
			}
			opt := Options{From: machine(t, test.from), To: machine(t, test.to), Guess: test.from == "lenient"}
			if opt.Guess {
				opt.From = base(t, test.from)
			}
			got, r, err := adapted(t, string(source), opt)
			if err != nil {
				t.Fatal(err)
			}
			if !r.Fits || !bytes.Equal([]byte(got), source) {
				t.Errorf("it has changed: %+v %+v", r.Changes, r.Left)
			}
		})
	}
}

// Pieces of programs read by the wide base, and what the machine is given for
// them, without the marks and without M30.
func TestRewrite(t *testing.T) {
	const inch = "G20 G90 G94\nG0 X0 Y0 Z1.\n"
	tests := []struct{ name, to, set, source, want string }{
		{"an arc across a quadrant", "knee-mill", "", "G1 X1. F5.\nG3 X-1. I-1.\n",
			"G1 X1. F5.\nG3 X0. Y1. I1. J0.\nX-1. Y0. I0. J1.\n"},
		{"a full circle in two", "bed-mill", "arcs.full_circle=false", "G1 X1. F5.\nG3 I-1.\n",
			"G1 X1. F5.\nG3 X-1. Y0. I-1. J0.\nX1. Y0. I1. J0.\n"},
		{"R for a centre", "bed-mill", "arcs.radius=false", "G1 X1. F5.\nG3 X0. Y1. R1.\n", "G1 X1. F5.\nG3 X0. Y1. I-1. J0.\n"},
		{"absolute centres", "bed-mill", "arcs.centre=absolute", "G1 X1. F5.\nG3 X0. Y1. I-1. J0.\n", "G1 X1. F5.\nG3 X0. Y1. I0. J0.\n"},
		{"a contour under compensation, by its centre", "bed-mill", "arcs.radius=false", "G41 D2 G1 X1. F5.\nG3 X2. Y1. R1.\nG1 Y2.\nG40 X4.\n",
			"G41 D2 G1 X1. F5.\nG3 X2. Y1. I0. J1.\nG1 Y2.\nG40 X4.\n"},
		{"and cut at the quadrants", "bed-mill", "arcs.quadrant=true|arcs.centre=unsigned", "G41 D2 G1 X1. F5.\nG3 X1. Y2. I0 J1.\nG1 X0.\nG40 Y4.\n",
			"G41 D2 G1 X1. F5.\nG3 X2. Y1. I0. J1.\nX1. Y2. I1. J0.\nG1 X0.\nG40 Y4.\n"},
		{"a large radius in chords", "bed-mill", "arcs.largest=0.5 in", "G1 X1. F5.\nG3 X0.9992 Y0.04 R1.\n", "G1 X1. F5.\nX0.9998 Y0.020004\nX0.9992 Y0.04\n"},
		{"three decimals", "bed-mill", "numbers.decimals={inch=3,mm=2}", "G1 X.33333 F5.\nG91 X.33333\nX.33333\nG90\n",
			"G1 X0.333 F5.\nG91 X0.334\nX0.333\nG90\n"},
		{"points are needed", "bed-mill", "numbers.point=needed", "G1 X1 Y2. F5\n", "G1 X1. Y2. F5.\n"},
		{"mm for inches", "bed-mill", "codes.G20=refused|start.units=mm", "G1 X1. F10.\n", "G1 X25.4 F254.\n"},
		{"no incremental mode", "bed-mill", "codes.G91=refused", "G91 G1 X1. F5.\nX1. Y-.5\nG90 X0\n", "G1 X1. F5.\nX2. Y-0.5\nG90 X0\n"},
		{"a cycle that is not there", "bed-mill", "codes.G83=refused", "G99 G83 X1. Z-.3 R.1 Q.2 F5.\nG80\n",
			"G99 X1.\nZ0.1\nG1 Z-0.1 F5.\nG0 Z0.1\nZ-0.09\nG1 Z-0.3\nG0 Z0.1\nG80\n"},
		{"a cycle that ends at R", "knee-mill", "", "G98 G81 X1. Z-.3 R.1 F5.\nX2.\nG80\n",
			"G81 X1. Y0. Z-0.3 R0.1 F5.\nG0 Z1.\nG81 X2. Y0. Z-0.3 R0.1\nG0 Z1.\nG80\n"},
		{"one M code a block", "knee-mill", "", "S700 M3 M8\nX1.\nM9 M5\n", "S700 M3\nM8\nX1.\nM5\nM9\n"},
		{"a gear before the speed", "bed-mill", "", "S3000 M3\nG1 X1. F5.\nM5\n", "M42\nS3000 M3\nG1 X1. F5.\nM5\n"},
		{"a gear code under way", "bed-mill", "", "M41\nS500 M3\nX1.\nM42\nS3000\nX2.\n", "M41\nS500 M3\nX1.\nM5\nM42\nS3000 M3\nX2.\n"},
		{"a belt moved by hand", "knee-mill", "", "S200 M3\nG1 X1. F5.\nS2000\nX2.\nM5\n",
			"M0 (BELT ON SLOW)\nS200 M3\nG1 X1. F5.\nM5\nM0 (BELT ON FAST)\nS2000 M3\nX2.\nM5\n"},
		{"a comment in the other way", "bed-mill", "", "G1 X1. F5. ; to the (left) edge\n", "G1 X1. F5. (to the [left] edge)\n"},
		{"a word that nothing uses", "bed-mill", "", "G64 P.01\nX1.\n", "G64\nX1.\n"},
		{"a sequence number too high", "knee-mill", "", "N9999 X1.\nN10000 X2.\n", "N9999 X1.\nX2.\n"},
		{"parameters and a loop", "bed-mill", "", "#1=1\nWHILE [#1 LE 3] DO 1\nX[#1/2]\n#1=[#1+1]\nEND 1\n", "X0.5\nX1.\nX1.5\n"},
		{"a subprogram", "knee-mill", "", "M98 P9 L2\nX0.\n", "G91 X1. Y.5\nG90\nG91 X1. Y.5\nG90\nX0.\n"},
		{"polar words", "bed-mill", "", "G16\nX2. Y90.\nG15\nX1.\n", "Y2.\nX1.\n"},
		{"mirrored", "bed-mill", "", "G51.1 X0\nX1. Y1.\nG50.1 X0\nX2.\n", "X-1. Y1.\nX2.\n"},
		{"feed by the revolution", "bed-mill", "", "M41\nS500 M3\nG95\nG1 X1. F.01\nG94 F8.\nX2.\nM5\n", "M41\nS500 M3\nG1 X1. F5.\nG94 F8.\nX2.\nM5\n"},
		{"a dwell in ms", "bed-mill", "block.dwell={P=\"ms\"}", "G4 P1.5\nX1.\n", "G4 P1500\nX1.\n"},
		{"a full circle from where no mm ends", "bed-mill", "numbers.decimals={inch=4,mm=3}", "G21\nG1 Y.00254 F100.\nG20 G91\nY-.0001\nG21 G90\nG2 X0 Y0 I-1.27\n",
			"G21\nG1 Y0.003 F100.\nG20 G91\nY-0.0001\nG21 G90\nG2 X-2.54 Y0. I-1.27 J0.\nX0. Y0. I1.27 J0.\n"},
		{"a block with blanks too many", "bed-mill", "block.longest=25", "N34 G1 X1.2345 Y1.2345 F9.\n", "N34G1X1.2345Y1.2345F9.\n"},
		{"a block too long without blanks", "bed-mill", "block.longest=38", "N34 G99 G81 X1.2345 Y1.2345 Z-1.2345 R.1234 F9.\nG80\n",
			"N34 G99 F9.\nG81 X1.2345 Y1.2345 Z-1.2345 R0.1234\nG80\n"},
		{"and deleted with its front", "bed-mill", "block.longest=22", "/N34 G91 G1 X1.2345 Y1.2345\n", "/N34 G91\n/G1 X1.2345 Y1.2345\n"},
		{"a code by another number", "bed-mill", "codes.G70=inch", "G70\nX1.\n", "G70\nX1.\n"},
	}
	from := base(t, "lenient")
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
			source := "%\n" + inch + test.source + "M30\n"
			if strings.Contains(source, "M98") {
				source += "O9\nG91 X1. Y.5\nG90\nM99\n"
			}
			got, r, err := adapted(t, source+"%\n", Options{From: from, To: to})
			if err != nil {
				t.Fatalf("%v\n%s", err, got)
			}
			if !r.Written {
				t.Fatalf("not written: %+v", r.Left)
			}
			got = got[strings.Index(got, "\n")+1:]
			for range 2 { // the two lines that all programs have
				got = got[strings.Index(got, "\n")+1:]
			}
			got = strings.TrimSuffix(got, "M30\n%\n")
			if got != test.want {
				t.Errorf("got\n%s\nwant\n%s", got, test.want)
			}
		})
	}
}

// What a person must decide is told, and nothing is written.
func TestLeft(t *testing.T) {
	tests := []struct{ name, to, source, say string }{
		{"the top of the machine", "knee-mill", "G53 G0 Z0\n", "goes to the top"},
		{"two work zeros", "knee-mill", "G54 X1.\nG55 X2.\n", "more than one work zero"},
		{"compensation without a diameter", "knee-mill", "G41 D7 G1 X1. F5.\nX2.\nG40 X3. Y1.\n", "diameter under D7 is not known"},
		{"a position set anew", "bed-mill without G92", "G92 X0\n", "sets the position anew where it stands"},
		{"a code that nobody knows", "bed-mill", "M88\n", "what M88 does"},
	}
	from := base(t, "lenient")
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			name, without, _ := strings.Cut(test.to, " without ")
			var set []string
			if without != "" {
				set = []string{"codes." + without + "=refused"}
			}
			to, err := profiles.FindWith(name, nil, set)
			if err != nil {
				t.Fatal(err)
			}
			_, r, err := adapted(t, "%\nG20 G90 G94\nG0 X0 Y0 Z1.\n"+test.source+"M30\n%\n", Options{From: from, To: to})
			if err != nil {
				t.Fatal(err)
			}
			if r.Written || len(r.Left) == 0 {
				t.Fatalf("written: %v, left: %+v", r.Written, r.Left)
			}
			for _, l := range r.Left {
				if strings.Contains(l.What, test.say) && l.Level == rules.Error {
					return
				}
			}
			t.Errorf("left %+v, want %q", r.Left, test.say)
		})
	}
}

// A program that says no units may be in either.
func TestUnitless(t *testing.T) {
	_, _, err := adapted(t, "G0 X1.\nM30\n", Options{From: base(t, "lenient"), To: machine(t, "knee-mill")})
	if err == nil || !strings.Contains(err.Error(), "before it says its units") {
		t.Errorf("got %v", err)
	}
}

// A proof that fails is an error, and names the place.
func TestDifferenceIsTold(t *testing.T) {
	var different *Difference
	_, err := Prove(sideOf(machine(t, "bed-mill"), "G0 X1.\n"), sideOf(machine(t, "bed-mill"), "G0 X2.\n"), Allowed{})
	if !errors.As(err, &different) {
		t.Errorf("got %v", err)
	}
}

// A program with subprograms stays one where the machine has them: only the gear
// code is put in before the speed that two gears share.
func TestStructureStays(t *testing.T) {
	source, err := os.ReadFile(shop + "programs/strainer-slots-old.ngc")
	if err != nil {
		t.Fatal(err)
	}
	got, r, err := adapted(t, string(source), Options{From: base(t, "lenient"), To: machine(t, "bed-mill"), Guess: true})
	if err != nil {
		t.Fatal(err)
	}
	want := strings.Replace(string(source), "S950 M3\n", "M41\nS950 M3\n", 1)
	if !r.Written || got != want {
		t.Errorf("written: %v\n%s", r.Written, got)
	}
}

// Blocks with / on a control that does not know it: the switch is set for good.
func TestBlockDelete(t *testing.T) {
	to, err := profiles.FindWith("bed-mill", nil, []string{"block.delete=false"})
	if err != nil {
		t.Fatal(err)
	}
	const source = "%\nG20 G90 G94\nG0 X0 Y0\n/X1. (TRIAL)\n/2 Y1.\nX2.\nM30\n%\n"
	tests := []struct {
		how  Delete
		want string // "": nothing is written
	}{
		{DeleteKept, ""},
		{DeleteOff, " X1. (TRIAL)\n   Y1.\n"},
		{DeleteOn, "X0 Y0\nX2.\n"},
	}
	for _, test := range tests {
		got, r, err := adapted(t, source, Options{From: base(t, "lenient"), To: to, Delete: test.how})
		if err != nil {
			t.Fatal(err)
		}
		if r.Written != (test.want != "") || r.Written && !strings.Contains(got, test.want) {
			t.Errorf("%d: written %v\n%s\n%+v", test.how, r.Written, got, r.Left)
		}
	}
}

// The blocks of a contour stand behind their cycle, and stay there.
func TestContourStays(t *testing.T) {
	const source = "N10 G0 X2. Z.1\nN20 G70 P30 Q50 F.01\nN30 G0 X1.\nN40 G1 Z-1.\nN50 X2.\nN60 M88\nN70 M30\n"
	got, r, err := adapted(t, source, Options{From: machine(t, "slant-lathe"), To: machine(t, "slant-lathe"), LeaveOut: map[int]bool{880: true}})
	if want := strings.Replace(source, "N60 M88\n", "", 1); err != nil || !r.Written || got != want {
		t.Errorf("%v, %+v\n%s", err, r.Left, got)
	}
}

// What stands behind the last move stays behind it.
func TestThinKeepsTheMarkLast(t *testing.T) {
	got, _, err := adapted(t, "%\nG20 G90 G94\nG0 X0. Y0. Z0.\nG1 X1. F5.\nX2.\n%\n",
		Options{From: machine(t, "bed-mill"), To: machine(t, "bed-mill"), Passes: map[string]bool{Thin: true}})
	if err != nil || !strings.HasSuffix(got, "G1 X2. F5.\n%\n") {
		t.Errorf("%v\n%s", err, got)
	}
}

// Passes that nothing needs are made where they are asked for, and those that
// are forbidden are not.
func TestAsked(t *testing.T) {
	tests := []struct {
		pass         string
		on           bool
		source, want string // "": nothing is written
	}{
		{Units, true, "G21\nG1 X25.4 F254.\nM30\n", "G1 X1. F10.\nM30\n"},
		{Distance, true, "G91 G1 X1. F10.\nX1.\nG90 X0.\nM30\n", "G1 X1. F10.\nX2.\nG90 X0.\nM30\n"},
		{Unroll, true, "M98 P2 L2\nM30\nO2\nX1.\nM99\n", "X1.\nX1.\nM30\n"},
		{Unroll, true, "#1=.5\nM41\nS200 M3\nG98 G84 X1. Z[0-#1] R.1 F10.\nX2.\nG80\nM30\n",
			"M41\nS200 M3\nG98 G84 X1. Y0. Z-0.5 R0.1 F10.\nX2.\nG80\nM30\n"},
		{Arcs, false, "G1 X1. F10.\nG3 X0. Y1. I-1.\nM30\n", "G1 X1. F10.\nG3 X0. Y1. I-1.\nM30\n"},
		{Words, false, "G64 P.1\nM30\n", ""},
	}
	for _, test := range tests {
		got, r, err := adapted(t, "%\nG20 G90 G94\nG0 X0. Y0. Z1.\n"+test.source+"%\n",
			Options{From: base(t, "lenient"), To: machine(t, "bed-mill"), Passes: map[string]bool{test.pass: test.on}})
		if err != nil {
			t.Errorf("%s: %v\n%s", test.pass, err, got)
			continue
		}
		if r.Written != (test.want != "") || r.Written && !strings.Contains(got, "G0 X0. Y0. Z1.\n"+test.want) {
			t.Errorf("%s: written %v\n%s\n%+v", test.pass, r.Written, got, r.Left)
		}
	}
}

// asGolden compares a program with what it was when somebody looked at it.
func asGolden(t *testing.T, golden, got string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s has changed: look at it, and write it with -update\n%s", golden, got)
	}
}
