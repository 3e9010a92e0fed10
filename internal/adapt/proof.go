package adapt

import (
	"fmt"
	"io"
	"maps"
	"sync"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
)

// A Side is one of the two programs of a proof, on the machine that reads it.
type Side struct {
	Src     io.ReaderAt
	Size    int64
	Machine *profiles.Machine
	Offsets map[string]profiles.Offset // over those of the profile, by code: "G54"
}

// Allowed is what was changed on purpose. The zero value allows nothing.
type Allowed struct {
	Path  float64 // mm: how far the two paths may lie apart
	Angle float64 // degrees: the same of rotary axes
	Feed  float64 // share of itself by which rounding may have changed a feed
	Speed float64 // share of itself by which rounding may have changed a speed
	// Surface is by how much rounding may have changed a surface speed, mm/s: its
	// number is a whole one in m/min and in ft/min.
	Surface float64

	SpeedClamped bool // a speed that the machine does not reach became the nearest that it does
	FeedClamped  bool // a feed that the machine does not reach became one that it does
	GearsAdded   bool // the gear codes that the speeds need were put in
	GearsLeft    bool // not all of them: the operator does the rest
	DwellsAdded  bool // dwells were put in
	StopsAdded   bool // program stops were put in, for what is done by hand
	Homed        bool // moves in machine coordinates became moves to Home, in work coordinates; axes that are nil there stay
	Home         Place
	Change       bool         // tools are changed as the output's machine wants (tools.change_sequence)
	LeftOut      map[int]bool // M codes, by tenths, that do on the source's machine what tapefit does not compute, and are not in the output
	Offsets      map[int]int  // work offsets (0 is G54) that go by another code in the output; nil: none
}

// A Proof says how well two programs agree.
type Proof struct {
	Deviation  float64 // mm: the greatest distance of the two paths; of rotary axes in mm as Allowed.Path is to Allowed.Angle
	SourceLine int     // where that is
	OutLine    int
	Moves      int64 // of the source that were compared

	// Limits are what the proof does not cover, in plain words with the line of
	// the source: what its control could not execute. More counts those beyond
	// the first few.
	Limits []string
	More   int
}

// A Difference is where two programs are not the same, and in what.
type Difference struct {
	What                string // "the feed is 300 mm/min in the program and 200 mm/min in the output"
	SourceLine, OutLine int    // 0: the program has ended
}

func (d *Difference) Error() string {
	return fmt.Sprintf("%s of the program, %s of the output: %s", at(d.SourceLine), at(d.OutLine), d.What)
}

func at(line int) string {
	if line == 0 {
		return "end"
	}
	return fmt.Sprintf("line %d", line)
}

// Prove interprets two programs, each as its own machine would, and compares
// what they do: the events in their order (tools, stops, dwells, M codes), what
// is in force at each of them and at each move (spindle, coolant, gear, work
// offset), the feeds, and the path as curves, whatever they are cut into. It
// keeps nothing of the programs in memory. The error is a *Difference, or one
// of reading.
//
// Two curves agree where a point can run along each, never back, so that the
// points are nowhere further apart than what is allowed. The runs are made from
// end to end of the pieces: the one whose end comes first waits for where the
// other is nearest. That finds no run where a path goes back and forth by more
// than the tolerance in the one and not in the other, so what is proven holds;
// that something is not proven may be such a place.
func Prove(source, out Side, allowed Allowed) (Proof, error) {
	common := inCommon(source.Machine, out.Machine)
	from, by := source.Machine, out.Machine
	share(&source, &out)
	done := make(chan struct{})
	m := matcher{allowed: allowed, common: common, out: out.Machine, tol: allowed.Path + floor, tolAngle: allowed.Angle + floor}
	var wait sync.WaitGroup
	start := func(side *Side, isOut bool, to *reader) *recorder {
		r := &recorder{m: side.Machine, common: common, scale: m.tol / m.tolAngle, out: isOut, steps: newPipe(done)}
		to.p = r.steps
		if allowed.Change {
			r.change = newChanging(from, by)
		}
		if !isOut {
			r.leftOut = allowed.LeftOut
			r.gears = newGearing(source.Machine, out.Machine, &allowed)
			if allowed.Homed {
				r.homes = &homing{from, by, allowed.Home}
			}
		}
		wait.Go(func() {
			r.err = r.run(side)
			r.steps.close()
		})
		return r
	}
	a := start(&source, false, &m.a.reader)
	b := start(&out, true, &m.b.reader)
	diff := m.run()
	close(done)
	wait.Wait()
	p := m.proof
	p.Moves = a.moves
	p.Limits, p.More = append(a.limits.told, b.limits.told...), a.limits.more+b.limits.more
	switch {
	case a.err != nil:
		return p, fmt.Errorf("program: %w", a.err)
	case b.err != nil:
		return p, fmt.Errorf("output: %w", b.err)
	case diff != nil:
		return p, diff
	}
	return p, nil
}

// floor is what computing with floats may cost, in mm or degrees.
const floor = 1e-6

// inCommon is what two machines can be compared by.
func inCommon(a, b *profiles.Machine) common {
	both := func(meanings ...profiles.Meaning) bool {
		for _, m := range meanings {
			if a.CodeFor(m) == "" || b.CodeFor(m) == "" {
				return false
			}
		}
		return true
	}
	return common{
		lengths:   lengths(a) == lengths(b),
		paths:     both(profiles.ExactPath, profiles.Continuous),
		gears:     b.Spindle.Shift == "coded",
		overrides: both(profiles.OverridesOn, profiles.OverridesOff),
		orient:    both(profiles.SpindleOrient),
		change:    a.Tools.ChangeProgram == b.Tools.ChangeProgram,
		axes:      interp.AxisSet(a.AllAxes() & b.AllAxes()),
	}
}

// lengths says whether the machine has tool length offsets.
func lengths(m *profiles.Machine) bool {
	return m.CodeFor(profiles.LengthOn) != "" || m.Tools.Word == "tool-offset"
}

// share gives both sides the same shop: the tools, work zeros and home
// positions of the machine that runs the output and, where its profile says
// none, those of the other. Only the programs are to be compared.
func share(source, out *Side) {
	a, b := *source.Machine, *out.Machine
	tools := append([]profiles.Tool(nil), b.Tools.Loaded...)
	for _, t := range a.Tools.Loaded {
		known := false
		for i := range b.Tools.Loaded {
			known = known || b.Tools.Loaded[i].Number == t.Number
		}
		if !known {
			tools = append(tools, t)
		}
	}
	a.Tools.Loaded, b.Tools.Loaded = tools, tools
	shareHomes(&a, &b)
	offsets, outOffsets := map[string]profiles.Offset{}, map[string]profiles.Offset{}
	for n := range 9 {
		from, to := a.CodeFor(profiles.WorkOffset1+profiles.Meaning(n)), b.CodeFor(profiles.WorkOffset1+profiles.Meaning(n))
		o, ok := out.Offsets[to]
		if own := b.WorkOffset(n); !ok && own != nil {
			o, ok = *own, true
		}
		if !ok {
			o, ok = source.Offsets[from]
		}
		if own := a.WorkOffset(n); !ok && own != nil {
			o, ok = *own, true
		}
		if ok {
			offsets[from], outOffsets[to] = o, o
		}
	}
	maps.DeleteFunc(offsets, func(code string, _ profiles.Offset) bool { return code == "" })
	source.Machine, source.Offsets = &a, offsets
	out.Machine, out.Offsets = &b, outOffsets
}

// shareHomes gives both machines the same home positions.
func shareHomes(a, b *profiles.Machine) {
	for i, p := range [...]struct{ a, b **profiles.Axis }{
		{&a.Axes.X, &b.Axes.X}, {&a.Axes.Y, &b.Axes.Y}, {&a.Axes.Z, &b.Axes.Z},
		{&a.Axes.A, &b.Axes.A}, {&a.Axes.B, &b.Axes.B}, {&a.Axes.C, &b.Axes.C},
	} {
		var one, other profiles.Axis
		if *p.a != nil {
			one = **p.a
		}
		if *p.b != nil {
			other = **p.b
		}
		home, second := other.Home, other.Second
		if home == nil {
			home = one.Home
		}
		if second == nil {
			second = one.Second
		}
		one.Home, other.Home, one.Second, other.Second = home, home, second, second
		// A base has every axis; a machine has those that it has.
		if *p.a != nil || a.Kind == "" && *p.b != nil && a.Takes(profiles.AxisLetters[i]) {
			*p.a = &one
		}
		if *p.b != nil || b.Kind == "" && *p.a != nil && b.Takes(profiles.AxisLetters[i]) {
			*p.b = &other
		}
	}
}

// run interprets the side's program and sends its steps.
func (r *recorder) run(side *Side) error {
	src, _, err := parser.Tape(side.Src, side.Size)
	if err != nil {
		return err
	}
	r.now = state{spindle: interp.SpindleOff, gear: -1, ownGear: -1}
	r.in = interp.New(r.m, interp.Options{Offsets: side.Offsets, Done: r.steps.done}, interp.Visitor{Exec: r.exec, Op: r.op, Fault: r.fault})
	_, err = r.in.Run(src, side.Size)
	r.shift(r.in.State())
	r.endBlock()
	r.tellState(r.line)
	return err
}
