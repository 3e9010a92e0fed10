package adapt

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"testing"

	"tapefit/profiles"

	"pgregory.net/rapid"
)

// Random programs, written for one machine and adapted to another with the
// passes that can be asked for: what was written is damaged in one place, and
// where the damage is more than what was allowed the proof does not hold any
// more. A program that was not written is for other tests.
func TestAdaptProperty(t *testing.T) {
	for _, from := range drawnFor {
		for _, to := range []string{"bed-mill", "knee-mill", "slant-lathe", "parametric"} {
			if (from == "slant-lathe") != (to == "slant-lathe") || to == "parametric" && from != to {
				continue
			}
			t.Run(from+" to "+to, func(t *testing.T) { adaptProperty(t, machine(t, from), machine(t, to)) })
		}
	}
}

// Ways to change tools that machines want: by hand behind a stop, in a place for
// it; T and the code in two blocks, and a stop behind them; by a stop alone.
var changeForms = [][]string{
	{`tools.change_sequence=["M5", "M9", "G53 G0 Z0", "G53 G0 X{20 in} Y{20 in}", "M0 (CHANGE TO {name})", "T{tool} M6"]`},
	{`tools.change_sequence=["T{tool}", "G91 G28 Z0", "G90", "M9", "M5", "M6", "M0 (TOOL {tool})"]`},
	{`tools.change_sequence=["M9", "M5", "G53 G0 Z0", "M0 (TOOL {tool}, {name})"]`, "codes.M6=refused"},
	{`tools.change_sequence=["G0 Z{3 in}", "M9", "M10", "T{tool} M6", "M11"]`, "codes.M10=accepted", "codes.M11=accepted"},
}

func TestAdaptChanges(t *testing.T) {
	for i, set := range changeForms {
		for _, from := range []string{"bed-mill", "parametric", "tape-era"} {
			t.Run(fmt.Sprint(from, " ", i), func(t *testing.T) {
				to, err := profiles.FindWith("bed-mill", nil, set)
				if err != nil {
					t.Fatal(err)
				}
				adaptProperty(t, machine(t, from), to)
			})
		}
	}
}

func adaptProperty(t *testing.T, from, to *profiles.Machine) {
	written, damaged, made := 0, 0, map[string]int{}
	rapid.Check(t, func(rt *rapid.T) {
		program := write(rt, from, draw(rt, from, 8), false)
		opt := Options{From: from, To: to, Tolerance: 0.01, Home: Place{mm(0), mm(0), mm(100)}, Passes: map[string]bool{}}
		for _, p := range Passes() {
			if p.Asked {
				opt.Passes[p.Name] = rapid.Bool().Draw(rt, p.Name)
			}
		}
		var out scratch
		r, err := Run(&out, strings.NewReader(program), int64(len(program)), "program", opt)
		var d *Difference
		switch {
		case errors.As(err, &d):
			rt.Fatalf("not proven: %v\n%s", err, program)
		case err != nil:
			rt.Fatal(err)
		case !r.Written:
			return
		}
		written++
		for i := range r.Changes {
			made[r.Changes[i].Pass.Name]++
		}
		if r.allowed(&opt).Change {
			made["with other tool changes"]++
		}
		if strings.Contains(out.String(), "GOTO") {
			made["with jumps"]++
		}
		if opt.Passes[Gather] || opt.Passes[Renumber] || opt.Passes[Unnumber] {
			late := Options{From: to, To: to, Passes: map[string]bool{Gather: opt.Passes[Gather], Renumber: opt.Passes[Renumber], Unnumber: opt.Passes[Unnumber]}}
			if again, r := ran(rt, out.String(), late); !r.Fits || again != out.String() {
				rt.Fatalf("adapted again: %+v %+v\n%s\nbecame\n%s", r.Changes, r.Left, out.String(), again)
			}
		}
		if catches(rt, program, out.String(), r, &opt) {
			damaged++
		}
	})
	t.Logf("written %d, damaged beyond what is allowed %d, made %v", written, damaged, made)
}

// catches damages the output in one place, and says whether that is more than
// what was allowed: then the proof must not hold.
func catches(rt *rapid.T, program, out string, r *Result, opt *Options) bool {
	al := r.allowed(opt)
	mutant := mutate(rt, out)
	if judgeAllowed(opt.To, out, mutant, al) != unlikePrograms {
		return false
	}
	var d *Difference
	p, err := Prove(Side{strings.NewReader(program), int64(len(program)), r.From, nil}, sideOf(opt.To, mutant), al)
	switch {
	case err == nil:
		rt.Fatalf("proven, with a deviation of %g mm for %g\n%s\nadapted\n%s\ndamaged\n%s", p.Deviation, al.Path, program, out, mutant)
	case !errors.As(err, &d):
		rt.Fatal(err)
	}
	return true
}

// scratch is a file in memory.
type scratch struct{ bytes.Buffer }

func (s *scratch) ReadAt(p []byte, at int64) (int, error) {
	return bytes.NewReader(s.Bytes()).ReadAt(p, at)
}
