package adapt

import (
	"bytes"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tapefit/profiles"
	"tapefit/rules"
)

// narrow are machines that take less than the bed mill, each in one respect.
var narrow = [][]string{
	{"arcs.centre=absolute"},
	{"arcs.radius=false", "arcs.full_circle=false"},
	{"arcs.centre=unsigned", "arcs.quadrant=true", "arcs.radius=false", "arcs.full_circle=false"},
	{"arcs.helix=false", "arcs.planes=xy"},
	{"arcs.largest=0.5 in"},
	{"numbers.point=needed", "numbers.decimals={inch=4,mm=3}"},
	{"numbers.point=refused", "numbers.suppress=leading", "numbers.decimals={inch=4,mm=3}", "numbers.digits={inch=4,mm=5}"},
	{"numbers.point=refused", "numbers.suppress=trailing", "numbers.decimals={inch=4,mm=3}", "numbers.digits={inch=4,mm=5}"},
	{"codes.G91=refused"},
	{"codes.G90=refused", "start.distance=incremental"},
	{"codes.G81=refused", "codes.G82=refused", "codes.G83=refused", "codes.G85=refused", "codes.G89=refused"},
	{"codes.G20=refused", "start.units=mm"},
	{"words.m_codes=1", "block.longest=50", "block.comments=;"},
	{"block.parameters=false", "block.expressions=false", "block.subprograms=0"},
	{"control.cycle_level=first", "control.cycle_r=initial"},
	{"codes.G98=refused", "codes.G99=refused", "start.retract=r"},
	{"spindle.shift=by-hand", "spindle.gears=[{name=\"low\",speed=[\"40 rpm\",\"1100 rpm\"]},{name=\"high\",speed=[\"800 rpm\",\"4200 rpm\"]}]"},
}

// Random programs for the bed mill, for machines that take less: what is written
// is proven to be the same, and adapted again it stays. What is not written is
// left to a person with a reason.
func TestRandomPrograms(t *testing.T) {
	from := machine(t, "bed-mill")
	to := narrowed(t)
	to = append(to, machine(t, "knee-mill"))
	rapid.Check(t, func(t *rapid.T) {
		m := rapid.SampledFrom(to).Draw(t, "machine")
		program := write(t, from, draw(t, from, 12), false)
		opt := Options{From: from, To: m, Home: Place{2: mm(25.4)}, Tolerance: 0.02}
		opt.Passes = map[string]bool{Thin: rapid.Bool().Draw(t, "thin"), Gather: rapid.Bool().Draw(t, "gather"), Renumber: rapid.Bool().Draw(t, "renumber")}
		var out memory
		r, err := Run(&out, strings.NewReader(program), int64(len(program)), "random", opt)
		if err != nil {
			t.Fatalf("%v %v\n%s\nbecame\n%s", m.Settings, err, program, out.String())
		}
		if !r.Written {
			if len(r.Left) == 0 || !slices.ContainsFunc(r.Left, func(l Left) bool { return l.Level == rules.Error }) {
				t.Fatalf("%v nothing was written, and nothing says why: %+v\n%s", m.Settings, r, program)
			}
			return
		}
		mends := map[string]bool{}
		for _, p := range Passes() {
			for _, name := range p.Mends {
				mends[name] = opt.makes(p)
			}
		}
		// A program may itself shift in the cut, or to a gear that its speed is not in.
		delete(mends, "gear-shift-in-cut")
		delete(mends, "speed-outside-gear")
		if strings.Contains(program, "M98") { // the rule reads a subprogram in the units at the end
			delete(mends, "number-format")
		}
		for i := range r.After.Findings {
			if f := &r.After.Findings[i]; mends[f.Rule.Name] && f.Level == rules.Error {
				t.Fatalf("%v %d: %s\n%s\nbecame\n%s", m.Settings, f.Line, f.Message, program, out.String())
			}
		}
		text := out.String()
		again := Options{From: m, To: m}
		out = memory{}
		r, err = Run(&out, strings.NewReader(text), int64(len(text)), "again", again)
		if err != nil || !r.Fits || !bytes.Equal(out.Bytes(), []byte(text)) {
			t.Fatalf("%v adapted again: %v\n%s\nbecame\n%s", m.Settings, err, text, out.String())
		}
	})
}

// narrowed are bed mills that take less.
func narrowed(t *testing.T) (all []*profiles.Machine) {
	t.Helper()
	for _, set := range narrow {
		m, err := profiles.FindWith("bed-mill", nil, set)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, m)
	}
	return all
}
