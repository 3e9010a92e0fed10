package motion

import (
	"testing"

	"tapefit/internal/interp"
	"tapefit/profiles"
)

func TestWaitingForTheControl(t *testing.T) {
	// 100 blocks of 0.1 mm at 1200 mm/min: 5 ms each, and the control needs 12.
	// It begins with its N blocks ready: 100 blocks take it 1200 ms, less what
	// was ready, less the 99 moves during which it reads for the next.
	points := make([]interp.Point, 101)
	for i := range points {
		points[i][0] = 0.1 * float64(i)
	}
	ops := polyline(20, points...)
	for _, test := range []struct {
		ahead int
		block float64
		wait  float64
	}{
		{24, 0.012, 1.2 - 24*0.012 - 0.495},
		{1, 0.012, 1.2 - 0.012 - 0.495},
		{0, 0.012, 1.2 - 0.012 - 0.495}, // it still has room for the next block
		{200, 0.012, 0},
		{24, 0.005, 0},
		{24, 0, 0},
		{1, 0.0051, 100*0.0051 - 0.0051 - 0.495},
	} {
		m := mill(100, 100, 0)
		m.Control = control(test.ahead, test.block, 0)
		got, all := run(m, ops)
		if !near(got.Total, 0.5+test.wait) || !near(got.Waiting, test.wait) || got.Total != got.Cutting {
			t.Errorf("look-ahead %d, %g s a block: %+v, want a wait of %g s", test.ahead, test.block, got, test.wait)
		}
		sum := 0.0
		for _, move := range all {
			sum += move.Wait
			if !near(move.Seconds-move.Wait, 0.005) {
				t.Errorf("look-ahead %d, %g s a block: a move takes %+v", test.ahead, test.block, move)
			}
		}
		if !near(sum, test.wait) {
			t.Errorf("look-ahead %d, %g s a block: moves wait %g s", test.ahead, test.block, sum)
		}
	}
}

func TestReadingBetweenMoves(t *testing.T) {
	m := mill(10, 10, 0)
	m.Control = control(5, 0.1, 0)
	dwell := interp.Op{Kind: interp.Dwell, Seconds: 0.25, State: continuous}
	manual := interp.Op{Kind: interp.Stop, StopKind: interp.ProgramStop, State: continuous}
	short := feedTo(interp.Point{}, interp.Point{0.01}, 10) // 1 ms
	long := feedTo(interp.Point{}, interp.Point{100}, 10)   // 10 s
	type step struct {
		blocks int
		op     *interp.Op
	}
	for _, test := range []struct {
		name        string
		steps       []step
		wait, other float64
	}{
		{"ready at the start", []step{{5, &long}}, 0, 0},
		{"a block too many at the start", []step{{6, &long}}, 0.1, 0},
		{"filled while a long move runs", []step{{1, &long}, {5, &long}}, 0, 0},
		{"no more than fits", []step{{1, &long}, {7, &long}}, 0.2, 0},
		{"moves of one block", []step{{5, &short}, {0, &short}, {0, &short}}, 0, 0},
		{"blocks without a move before a short one", []step{{5, &short}, {4, &short}}, 0.399, 0},
		{"a dwell reads on", []step{{4, &short}, {1, &dwell}, {3, &short}}, 0.049, 0},
		{"a dwell has to be read too", []step{{5, &short}, {2, &dwell}}, 0, 0.199},
		{"an operator waits long enough", []step{{5, &short}, {1, &manual}, {5, &short}}, 0, 0.099},
		{"blocks at the end", []step{{1, &long}, {8, nil}}, 0, 0.3},
	} {
		c := NewClock(m, nil)
		for _, s := range test.steps {
			for range s.blocks {
				c.Block(20)
			}
			if s.op != nil {
				c.Op(s.op)
			}
		}
		got := c.Finish()
		if !near(got.Waiting, test.wait) || !near(got.Other, test.other) {
			t.Errorf("%s: waits %g s and %g s before other things, want %g and %g", test.name, got.Waiting, got.Other, test.wait, test.other)
		}
	}
}

// shop is a machine with round numbers.
func shop() *profiles.Machine {
	m := mill(10, 10, 0)
	m.Spindle = profiles.Spindle{
		Speed: []profiles.Rotation{40, 4000}, Start: 2, Stop: 3, Reverse: 1.5, ShiftTime: 4,
	}
	m.Tools.ChangeTime = 9
	return m
}

func spin(state interp.SpindleState, rpm float64) interp.Op {
	return interp.Op{Kind: interp.Spindle, State: &interp.State{Spindle: state, Speed: rpm, SpeedSet: true}}
}

func change(tool int) interp.Op {
	return interp.Op{Kind: interp.Tool, State: &interp.State{Tool: tool}}
}

var shift = interp.Op{Kind: interp.Gear, State: &interp.State{Gear: 1}}

func TestSpindle(t *testing.T) {
	const cw, ccw, off, unknown = interp.SpindleCW, interp.SpindleCCW, interp.SpindleOff, interp.SpindleUnknown
	lost := spin(cw, 4000)
	lost.State.Unknown = interp.UnknownSpeed
	for _, test := range []struct {
		name string
		ops  []interp.Op
		want float64
	}{
		{"start", []interp.Op{spin(cw, 1000)}, 2},
		{"start and stop", []interp.Op{spin(cw, 1000), spin(off, 1000)}, 5},
		{"stop at rest", []interp.Op{spin(off, 1000)}, 0},
		{"reverse", []interp.Op{spin(cw, 1000), spin(ccw, 1000)}, 3.5},
		{"the same again", []interp.Op{spin(cw, 1000), spin(cw, 1000)}, 2},
		{"faster: 1000 of 4000 rpm", []interp.Op{spin(cw, 1000), spin(cw, 2000)}, 2.5},
		{"slower: 500 of 4000 rpm", []interp.Op{spin(cw, 1000), spin(cw, 500)}, 2.25},
		{"faster than it can", []interp.Op{spin(cw, 1000), spin(cw, 90000)}, 4},
		{"speed lost", []interp.Op{spin(cw, 1000), lost, spin(cw, 1000)}, 2},
		{"speed without knowing whether it turns", []interp.Op{spin(unknown, 1000), spin(unknown, 2000)}, 0},
		{"tap", []interp.Op{spin(cw, 500), spin(ccw, 500), spin(cw, 500)}, 5},
		{"the end stops it", []interp.Op{spin(cw, 1000), {Kind: interp.Stop, StopKind: interp.End}}, 5},
		{"a program stop does not", []interp.Op{spin(cw, 1000), {Kind: interp.Stop, StopKind: interp.ProgramStop}, spin(cw, 1000)}, 2},
	} {
		got, _ := run(shop(), test.ops)
		if !near(got.Spindle, test.want) || got.Total != got.Spindle {
			t.Errorf("%s: %+v, want %g s", test.name, got, test.want)
		}
	}

	m := shop()
	m.Spindle.Reverse = 0
	m.Spindle.Speed = nil
	m.Spindle.Gears = []profiles.SpindleGear{{Speed: []profiles.Rotation{40, 1000}}, {Speed: []profiles.Rotation{500, 2000}}}
	if got, _ := run(m, []interp.Op{spin(cw, 1000), spin(ccw, 1000)}); got.Spindle != 2+5 {
		t.Errorf("a reversal is a stop and a start: %g s", got.Spindle)
	}
	if got, _ := run(m, []interp.Op{spin(cw, 1000), spin(cw, 2000)}); got.Spindle != 2+1 {
		t.Errorf("1000 of 2000 rpm of the highest gear: %g s", got.Spindle)
	}
}

func TestGearsAndTools(t *testing.T) {
	const cw = interp.SpindleCW
	hand := change(1)
	hand.Manual = true
	turning := shop()
	turning.Spindle.Turning = true
	for _, test := range []struct {
		name                     string
		m                        *profiles.Machine
		ops                      []interp.Op
		spindle, gears, changing float64
		stops                    int
	}{
		{"shift at rest", shop(), []interp.Op{shift}, 0, 4, 0, 0},
		{"shift while it turns: stop and start", shop(), []interp.Op{spin(cw, 900), shift}, 2 + 5, 4, 0, 0},
		{"shift while it turns, as it may", turning, []interp.Op{spin(cw, 900), shift}, 2, 4, 0, 0},
		{"change", shop(), []interp.Op{change(1)}, 0, 0, 9, 0},
		{"change with the spindle on", shop(), []interp.Op{spin(cw, 900), change(1), spin(cw, 900)}, 2 + 3 + 2, 0, 9, 0},
		{"change by hand", shop(), []interp.Op{hand}, 0, 0, 0, 1},
		{"stops", shop(), []interp.Op{
			{Kind: interp.Stop, StopKind: interp.ProgramStop},
			{Kind: interp.Stop, StopKind: interp.OptionalStop},
			{Kind: interp.Stop, StopKind: interp.PalletStop},
			{Kind: interp.Stop, StopKind: interp.ManualStop},
			{Kind: interp.Stop, StopKind: interp.End},
		}, 0, 0, 0, 3},
		{"coolant", shop(), []interp.Op{{Kind: interp.Coolant}}, 0, 0, 0, 0},
	} {
		got, _ := run(test.m, test.ops)
		if tools := test.name == "change by hand"; got.HandShifts != 0 || (got.HandTools == 1) != tools {
			t.Errorf("%s: %d shifts and %d tools by hand", test.name, got.HandShifts, got.HandTools)
		}
		if got.Spindle != test.spindle || got.GearShift != test.gears || got.ToolChange != test.changing || got.OperatorStops != test.stops ||
			got.Total != test.spindle+test.gears+test.changing {
			t.Errorf("%s: %+v", test.name, got)
		}
	}
}

func TestToolShares(t *testing.T) {
	second := feedTo(interp.Point{}, interp.Point{10}, 10) // 1 s
	rapid := traverse(interp.Point{}, interp.Point{20})    // 2 s
	dwell := interp.Op{Kind: interp.Dwell, Seconds: 0.5, State: continuous}
	for _, test := range []struct {
		name string
		ops  []interp.Op
		want []ToolTime
	}{
		{"nothing", nil, nil},
		{"no tool called", []interp.Op{second, rapid}, []ToolTime{{-1, 3, 1}}},
		{"two tools", []interp.Op{change(3), second, rapid, change(1), dwell, second}, []ToolTime{{3, 12, 1}, {1, 10.5, 1}}},
		{"before the first", []interp.Op{rapid, change(3), second}, []ToolTime{{-1, 2, 0}, {3, 10, 1}}},
		{"one comes back", []interp.Op{change(3), second, change(1), second, change(3), second}, []ToolTime{{3, 20, 2}, {1, 10, 1}}},
		{"the stop is the old tool's", []interp.Op{change(3), spin(interp.SpindleCW, 900), change(1)}, []ToolTime{{3, 14, 0}, {1, 9, 0}}},
		{"an unknown tool", []interp.Op{change(-1), second}, []ToolTime{{-1, 10, 1}}},
	} {
		got, _ := run(shop(), test.ops)
		if len(got.Tools) != len(test.want) {
			t.Errorf("%s: %+v", test.name, got.Tools)
			continue
		}
		for i, w := range test.want {
			if g := got.Tools[i]; g.Tool != w.Tool || !near(g.Total, w.Total) || !near(g.Cutting, w.Cutting) {
				t.Errorf("%s: %+v, want %+v", test.name, g, w)
			}
		}
	}
}

// A file of tool changes is no tool list: what is over the bound goes to the
// unknown tool, and no time is lost.
func TestManyTools(t *testing.T) {
	var ops []interp.Op
	for n := range mostTools + 500 {
		ops = append(ops, change(n), interp.Op{Kind: interp.Dwell, Seconds: 0.5, State: continuous})
	}
	got, _ := run(shop(), ops)
	sum := 0.0
	for _, tool := range got.Tools {
		sum += tool.Total
	}
	if len(got.Tools) != mostTools || got.Tools[0].Tool != -1 || !near(sum, got.Total) {
		t.Errorf("%d tools, the first %d; %g s of %g", len(got.Tools), got.Tools[0].Tool, sum, got.Total)
	}
}

func TestTimedNamesThePlace(t *testing.T) {
	m := mill(10, 10, 0)
	m.Control.LookAhead = 3
	ops := polyline(5, interp.Point{}, interp.Point{1}, interp.Point{2})
	ops = append(ops, traverse(interp.Point{2}, interp.Point{7}))
	ops[0].Word, ops[1].Word, ops[2].Word = 1, -1, 0
	_, all := run(m, ops)
	want := []Timed{
		{Line: 1, Pos: 3, End: 5, Cut: true, Length: 1, Seconds: 0.2, Feed: 5, Top: 5, Tool: -1, WaitBy: ByBlockTime},
		{Line: 1, Pos: 0, End: 5, Cut: true, Length: 1, Seconds: 0.2, Feed: 5, Top: 5, Tool: -1, WaitBy: ByBlockTime},
		{Line: 1, Pos: 0, End: 2, Length: 5, Seconds: 0.5, Top: 10, Tool: -1, WaitBy: ByBlockTime},
	}
	if len(all) != len(want) {
		t.Fatalf("%+v", all)
	}
	for i := range want {
		if all[i] != want[i] {
			t.Errorf("%+v, want %+v", all[i], want[i])
		}
	}
}
