package motion

import (
	"math"
	"testing"

	"tapefit/internal/interp"
	"tapefit/profiles"

	"pgregory.net/rapid"
)

// anyMachine draws a machine; some limits are not given.
func anyMachine(t *rapid.T) *profiles.Machine {
	m := &profiles.Machine{}
	axis := func(name string) *profiles.Axis {
		a := &profiles.Axis{
			Rapid: profiles.Speed(rapid.Float64Range(20, 400).Draw(t, name+" rapid")),
			Feed:  profiles.Speed(rapid.SampledFrom([]float64{0, 10, 60, 200}).Draw(t, name+" feed")),
		}
		a.Acceleration = profiles.Acceleration(rapid.SampledFrom([]float64{0, 40, 350, 500, 3000}).Draw(t, name+" acceleration"))
		return a
	}
	m.Axes = profiles.AxisTable{X: axis("X"), Y: axis("Y"), Z: axis("Z"), A: axis("A")}
	m.Control = control(rapid.SampledFrom([]int{0, 1, 2, 3, 7, 24, 200}).Draw(t, "look-ahead"),
		rapid.SampledFrom([]float64{0, 0.001, 0.012, 0.06}).Draw(t, "block time"),
		rapid.SampledFrom([]float64{0, 0.002, 0.05, 1}).Draw(t, "tolerance"))
	m.Control.Corner = rapid.SampledFrom([]string{"tolerance", "tolerance", "step", "stop"}).Draw(t, "corner")
	for i := range 4 {
		m.Axis(i).CornerStep = profiles.Speed(rapid.SampledFrom([]float64{1, 5, 30}).Draw(t, "step"))
		m.Axis(i).Backlash = profiles.Length(rapid.SampledFrom([]float64{0, 0, 0.02}).Draw(t, "backlash"))
	}
	m.Control.RapidPath = rapid.SampledFrom([]string{"straight", "each-axis"}).Draw(t, "rapids")
	m.Spindle = profiles.Spindle{Start: 2, Stop: 3, ShiftTime: 4, Speed: []profiles.Rotation{40, 4000}}
	m.Tools.ChangeTime = 9
	return m
}

// A step is what one block of a drawn program does: its operations and how many
// blocks the control reads for them.
type step struct {
	blocks int
	op     interp.Op
}

// anyProgram draws moves that hang together, mostly short ones nearly straight
// on, with something else between them now and then.
func anyProgram(t *rapid.T) []step {
	var steps []step
	at := interp.Point{}
	angle := 0.0
	state := continuous
	n := rapid.IntRange(1, 120).Draw(t, "moves")
	for len(steps) < n {
		blocks := 1
		if rapid.IntRange(0, 9).Draw(t, "more blocks") == 0 {
			blocks = rapid.IntRange(0, 40).Draw(t, "blocks")
		}
		var op interp.Op
		feed := rapid.SampledFrom([]float64{5, 20, 25, 100}).Draw(t, "feed")
		length := rapid.SampledFrom([]float64{0.001, 0.2, 0.2, 0.3, 3, 50}).Draw(t, "length")
		switch kind := rapid.IntRange(0, 19).Draw(t, "kind"); kind {
		case 0:
			op = interp.Op{Kind: interp.Coolant, State: state}
		case 1:
			op = interp.Op{Kind: interp.Dwell, Seconds: length, State: state}
		case 2:
			op = spin(interp.SpindleState(rapid.IntRange(0, 3).Draw(t, "spindle")), 100*feed)
		case 3:
			op = change(rapid.IntRange(-1, 3).Draw(t, "tool"))
		case 4:
			state = rapid.SampledFrom([]*interp.State{continuous, continuous, exactPath, exactStop}).Draw(t, "path mode")
			continue
		case 5:
			to := at
			to[0] += length
			to[2] += 2
			op = traverse(at, to)
		case 6:
			to := at
			to[3] += 20 * length
			op = feedTo(at, to, feed)
		case 7, 8:
			center := at
			sin, cos := math.Sincos(angle)
			center[0], center[1] = at[0]-length*sin, at[1]+length*cos
			sweep := rapid.Float64Range(0.01, 2*math.Pi).Draw(t, "sweep")
			rise := rapid.SampledFrom([]float64{0, 0, 1}).Draw(t, "rise")
			op = arcFrom(at, center, false, sweep, rise, feed)
			angle += sweep
		default:
			angle += rapid.SampledFrom([]float64{0, 0, 0.00001, 0.03, 0.2, 1.5, math.Pi}).Draw(t, "turn")
			sin, cos := math.Sincos(angle)
			to := at
			to[0], to[1] = at[0]+length*cos, at[1]+length*sin
			to[2] += rapid.SampledFrom([]float64{0, 0, 0.05}).Draw(t, "down")
			to[3] += rapid.SampledFrom([]float64{0, 0, 0, 0, 1}).Draw(t, "A")
			op = feedTo(at, to, feed)
		}
		if op.Kind <= interp.Arc {
			at = op.To
			op.State = state
		}
		steps = append(steps, step{blocks, op})
	}
	return steps
}

func runSteps(m *profiles.Machine, steps []step, visit func(*Clock, *Timed)) Times {
	var c *Clock
	c = NewClock(m, func(t *Timed) {
		if visit != nil {
			visit(c, t)
		}
	})
	for i := range steps {
		for range steps[i].blocks {
			c.Block(20)
		}
		c.Op(&steps[i].op)
	}
	return c.Finish()
}

func TestPartsAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var cut, fast, wait, lost, below float64
		got := runSteps(anyMachine(t), anyProgram(t), func(_ *Clock, m *Timed) {
			if m.Cut {
				cut += m.Seconds
			} else {
				fast += m.Seconds
			}
			wait += m.Wait
			lost += m.Lost
			below += m.BelowFeed
			if m.Lost < 0 || m.BelowFeed < 0 || m.BelowFeed > m.Seconds || m.Slow() && m.BelowFeed == 0 || m.Limit == ByFeed && m.Lost > lossless {
				t.Fatalf("%+v", *m)
			}
			if m.Feed > 0 && m.Length > 0 && m.Seconds < m.Wait+m.Length/m.Feed-1e-12*m.Seconds { // Wait may be thousands of times the rest
				t.Fatalf("faster than its feed: %+v", *m)
			}
			if m.Wait < 0 || m.Length > 0 && m.Feed > 0 && m.Top > m.Feed {
				t.Fatalf("%+v", *m)
			}
		})
		if sum := got.Cutting + got.Rapid + got.Dwell + got.ToolChange + got.GearShift + got.Spindle + got.Other; sum != got.Total {
			t.Fatalf("parts make %v, total is %v", sum, got.Total)
		}
		if !near(cut, got.Cutting) || !near(fast, got.Rapid) || !near(wait, got.Waiting) {
			t.Fatalf("moves make %v, %v and %v: %+v", cut, fast, wait, got)
		}
		sum := 0.0
		for _, l := range got.Lost {
			sum += l
		}
		if !near(got.Naive+sum, cut+fast) || !near(got.Naive+lost, cut+fast) || !near(below, got.BelowFeed) {
			t.Fatalf("moves lose %v and go %v below the feed: %+v", lost, below, got)
		}
		tools := 0.0
		seen := map[int]bool{}
		for _, tool := range got.Tools {
			tools += tool.Total
			if seen[tool.Tool] || tool.Cutting > tool.Total*(1+1e-12) {
				t.Fatalf("%+v", got.Tools)
			}
			seen[tool.Tool] = true
		}
		if !near(tools, got.Total) {
			t.Fatalf("tools make %v, total is %v", tools, got.Total)
		}
	})
}

// settled is a move with the squared speeds that the clock gave it.
type settled struct {
	move
	in, out float64
}

// plan is the model word for word: when a move begins, the control goes
// backward from rest at the end of the moves it knows.
func plan(moves []settled, ahead int) []float64 {
	out := make([]float64, len(moves))
	speed := 0.0
	for k := range moves {
		end := 0.0
		for j := min(k+ahead, len(moves)-1); j > k; j-- {
			end = math.Min(moves[j].entry, end*moves[j].keep+moves[j].gain)
		}
		if moves[k].bent { // how it speeds up is a matter of its own
			speed = math.Min(end, moves[k].out)
		} else {
			speed = math.Min(end, speed+moves[k].gain)
		}
		out[k] = speed
	}
	return out
}

func TestWindowIsThePlan(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := anyMachine(t)
		var moves []settled
		speed := 0.0
		runSteps(m, anyProgram(t), func(c *Clock, _ *Timed) {
			moves = append(moves, settled{*c.window.at(c.window.head - 1), speed, c.speed2})
			speed = c.speed2
		})
		if speed != 0 {
			t.Fatalf("the program ends at %g mm/s", math.Sqrt(speed))
		}
		for k, want := range plan(moves, m.Control.LookAhead) {
			s := &moves[k]
			limit := s.speed * s.speed
			if !near(s.out, want) {
				t.Fatalf("move %d ends at %.15g, by the plan at %.15g", k, s.out, want)
			}
			const slack = 1 + 1e-12
			if s.in > limit*slack || s.out > limit*slack || s.in > s.entry*slack {
				t.Fatalf("move %d is too fast: %+v", k, *s)
			}
			if s.bent {
				continue
			}
			if s.out > (s.in+s.gain)*slack || s.in > (s.out+s.gain)*slack {
				t.Fatalf("move %d cannot be made: %+v", k, *s)
			}
		}
	})
}

// A control that is better in one thing is never slower: its greatest speed at
// every point of the path is no lower, and a wait grows by no more than the
// moves before it have become shorter.
func TestBetterIsNotSlower(t *testing.T) {
	faster := func(a *profiles.Axis, by float64) *profiles.Axis {
		b := *a
		b.Acceleration *= profiles.Acceleration(by)
		b.Rapid *= profiles.Speed(by)
		b.Feed *= profiles.Speed(by)
		return &b
	}
	for name, better := range map[string]func(*rapid.T, *profiles.Machine){
		"acceleration": func(t *rapid.T, m *profiles.Machine) {
			x := *m.Axes.X
			x.Acceleration *= 1.5
			m.Axes.X = &x
		},
		"all axes": func(t *rapid.T, m *profiles.Machine) {
			by := rapid.Float64Range(1, 3).Draw(t, "by")
			m.Axes = profiles.AxisTable{X: faster(m.Axes.X, by), Y: faster(m.Axes.Y, by), Z: faster(m.Axes.Z, by), A: faster(m.Axes.A, by)}
		},
		"look-ahead": func(t *rapid.T, m *profiles.Machine) {
			m.Control.LookAhead += rapid.IntRange(1, 50).Draw(t, "more")
		},
		"block time": func(t *rapid.T, m *profiles.Machine) {
			m.Control.BlockTime *= profiles.Duration(rapid.Float64Range(0, 1).Draw(t, "part"))
		},
		"tolerance": func(t *rapid.T, m *profiles.Machine) {
			m.Control.CornerTolerance += 0.01
		},
		"step": func(t *rapid.T, m *profiles.Machine) {
			x := *m.Axes.X
			x.CornerStep *= 2
			m.Axes.X = &x
		},
		"backlash": func(t *rapid.T, m *profiles.Machine) {
			x := *m.Axes.X
			x.Backlash /= 2
			m.Axes.X = &x
		},
	} {
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				m, steps := anyMachine(t), anyProgram(t)
				before := runSteps(m, steps, nil)
				than := *m
				better(t, &than)
				after := runSteps(&than, steps, nil)
				if after.Total > before.Total*(1+1e-12) {
					t.Fatalf("%.15g s, and %.15g s when better", before.Total, after.Total)
				}
			})
		})
	}
}

// Whatever numbers a program holds, the times are numbers.
func TestWildNumbers(t *testing.T) {
	wild := []float64{0, 1, -1, 1e-300, 5e-324, 1e-160, 1e12, 1e200, -1e308, math.MaxFloat64, math.Inf(1), math.NaN()}
	number := rapid.SampledFrom(wild)
	rapid.Check(t, func(t *rapid.T) {
		m := anyMachine(t)
		steps := anyProgram(t)
		for i := range steps {
			op := &steps[i].op
			if rapid.Bool().Draw(t, "tame") {
				continue
			}
			axis := rapid.IntRange(0, 5).Draw(t, "axis")
			for _, v := range []*float64{&op.To[axis], &op.From[0], &op.Center[1], &op.Radius, &op.Sweep, &op.Feed, &op.Seconds} {
				if rapid.Bool().Draw(t, "wild") {
					*v = number.Draw(t, "number")
				}
			}
			if rapid.Bool().Draw(t, "all axes") {
				op.Moves = allAxes
			}
		}
		got := runSteps(m, steps, func(_ *Clock, m *Timed) {
			for _, v := range []float64{m.Length, m.Seconds, m.Wait, m.Top} {
				if math.IsNaN(v) || math.IsInf(v, 0) || v < 0 {
					t.Fatalf("%+v", *m)
				}
			}
		})
		if !(got.Total >= 0) || math.IsInf(got.Total, 0) {
			t.Fatalf("%+v", got)
		}
	})
}

func TestNothingIsAllocated(t *testing.T) {
	m := mill(100, 100, 500)
	m.Control = control(24, 0.008, 0.01)
	ops := append(chords(256, 0.2, 25), waves(8, 3, 25)...)
	ops = append(ops, interp.Op{Kind: interp.Dwell, Seconds: 0.1, State: continuous}, interp.Op{Kind: interp.Coolant, State: continuous})
	c := NewClock(m, func(*Timed) {})
	got := testing.AllocsPerRun(10, func() {
		for i := range ops {
			c.Block(20)
			c.Op(&ops[i])
		}
	})
	if got != 0 {
		t.Errorf("%g allocations", got)
	}
}
