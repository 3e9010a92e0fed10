package estimate

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tapefit/internal/interp"
	"tapefit/profiles"
	"tapefit/rules"
)

func machine(t *testing.T, settings ...string) *profiles.Machine {
	t.Helper()
	m, err := profiles.FindWith("bed-mill", nil, settings)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// job is one of programs; the demo's unsure values are taken as they stand.
func job(t *testing.T, m *profiles.Machine, programs ...string) *Job {
	t.Helper()
	j, err := NewJob(m)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range programs {
		o, err := j.Operation(strings.NewReader(p), int64(len(p)), "part.ngc", nil, rules.Options{})
		if err != nil {
			t.Fatal(err)
		}
		j.Operations = append(j.Operations, o)
	}
	return j
}

// certain are settings that take back what the demo's machine says may be off.
var certain = []string{
	"unsure.quote.setup=0 %", "unsure.quote.load=0 %", "unsure.axes.x.acceleration=0 %", "unsure.axes.y.acceleration=0 %",
	"unsure.axes.z.acceleration=0 %", "unsure.control.block_time=0 %", "unsure.tools.change_time=0 %", "unsure.spindle.start=0 %",
}

func with(settings ...string) []string {
	return append(certain[:len(certain):len(certain)], settings...)
}

// A lot by hand (common practice: set-up once, parts begun times the time of
// each): 30 min + 50/0.8 * (60 s dwell + 2 min load + 15 s stop).
func TestLot(t *testing.T) {
	m := machine(t, with("quote.setup=30 min", "quote.load=2 min", "quote.stop=15 s", "quote.scrap=20 %", "quote.rate=72 /h")...)
	j := job(t, m, "%\nG4 P60\nM0\nM30\n%\n")
	lot := j.Lot(50)
	if want := 1800 + 62.5*195; lot.Begun != 62.5 || math.Abs(lot.Seconds.Likely-want) > 0.5 { // some ms go into reading blocks
		t.Errorf("%+v, not %g s", lot, want)
	}
	if price := lot.Seconds.Likely * 0.02; math.Abs(lot.Price.Likely-price) > 1e-9 || math.Abs(lot.Each.Likely-price/50) > 1e-9 {
		t.Errorf("%+v, not %g", lot, price)
	}
	if lot.Seconds.Low != lot.Seconds.Likely || lot.Seconds.High != lot.Seconds.Likely {
		t.Errorf("nothing is unsure, and yet %+v", lot.Seconds)
	}
	if two := job(t, m, "%\nM30\n%\n", "%\nM30\n%\n").Lot(1); two.Setup != 3600 {
		t.Errorf("two operations are set up in %g s", two.Setup)
	}
}

// What a person does is counted by kind: T1 and T2 by hand, one stop.
func TestHand(t *testing.T) {
	m, err := profiles.FindWith("knee-mill", nil, []string{"quote.load=10 s", "quote.tool_by_hand=100 s", "quote.stop=1000 s", "quote.gear_by_hand=1 s"})
	if err != nil {
		t.Fatal(err)
	}
	j := job(t, m, "%\nT1M6\nM0\nT2M6\nM30\n%\n")
	if got := j.Part().Hand; got != 10+2*100+1000 {
		t.Errorf("%g s by hand: %+v", got, j.Operations[0].Result.Times)
	}
}

// A belt that is moved at a stop takes its own time beside that of the stop: from
// slow to fast and back, for each part. What is unsure of it widens the range of
// each of the ten parts: 2 x 100 s by 30 %.
func TestBeltsByHand(t *testing.T) {
	m, err := profiles.FindWith("knee-mill", nil, []string{"quote.load=10 s", "quote.stop=1000 s", "quote.gear_by_hand=100 s", "quote.scrap=0 %",
		"unsure.quote.setup=0 %", "unsure.quote.load=0 %", "unsure.quote.tool_by_hand=0 %", "unsure.axes.x.acceleration=0 %", "unsure.axes.y.acceleration=0 %",
		"unsure.axes.z.acceleration=0 %", "unsure.control.block_time=0 %", "unsure.quote.gear_by_hand=30 %"})
	if err != nil {
		t.Fatal(err)
	}
	j := job(t, m, "%\nS300M3\nM5\nM0\nS2000M3\nM5\nM30\n%\n")
	if got, want := j.Part().Hand, 10.+1000+2*100; got != want {
		t.Errorf("%g s by hand, not %g: %+v", got, want, j.Operations[0].Result.Times)
	}
	got := j.Lot(10).Seconds
	if math.Abs(got.High-got.Likely-600) > 1e-6 || math.Abs(got.Likely-got.Low-600) > 1e-6 {
		t.Errorf("%+v", got)
	}
	if r := NewRoute(j, "", 1); r.Part.Hand != j.Part().Hand {
		t.Errorf("route has %g s by hand", r.Part.Hand)
	}
}

// Two independent values: the root of the sum of squares (JCGM 100:2008, 5.1.2:
// from memory). 30 min by 10 % is 180 s, and 10 times 4 min by 10 % is 240 s:
// together 300 s.
func TestSpread(t *testing.T) {
	m, err := machine(t, with("quote.setup=30 min", "quote.load=4 min", "quote.scrap=0 %")...).With("unsure.quote.setup=10 %", "unsure.quote.load=10 %")
	if err != nil {
		t.Fatal(err)
	}
	j := job(t, m, "%\nM30\n%\n")
	got := j.Lot(10).Seconds
	if math.Abs(got.High-got.Likely-300) > 1e-6 || math.Abs(got.Likely-got.Low-300) > 1e-6 {
		t.Errorf("%+v", got)
	}
	if in := j.Influences(10); len(in) != 2 || in[0].Path != "quote.load" || math.Abs(in[0].High-in[0].Low-480) > 1e-6 {
		t.Errorf("%+v", in)
	}
}

// One walk times as many machines as walks for each of them.
func TestTime(t *testing.T) {
	m := machine(t)
	var variants []*profiles.Machine
	for _, s := range []string{"axes.x.acceleration=0.1 m/s^2", "control.block_time=40 ms", "tools.change_time=30 s", "spindle.start=9 s", "control.look_ahead=1"} {
		v, err := m.With(s)
		if err != nil {
			t.Fatal(err)
		}
		variants = append(variants, v)
	}
	files, err := filepath.Glob("../../testdata/shop/programs/*.ngc")
	if err != nil || len(files) == 0 {
		t.Fatal(files, err)
	}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		src := strings.NewReader(string(text))
		together, _, err := Time(src, src.Size(), m, variants, interp.Options{})
		if err != nil {
			t.Fatal(err)
		}
		for i, v := range variants {
			alone, err := rules.Check(src, src.Size(), file, v, nil, rules.Options{})
			if err != nil {
				t.Fatal(err)
			}
			if got, want := together[i].Total, alone.Times.Total; got != want {
				t.Errorf("%s with %s: %g s, alone %g s", file, v.Settings, got, want)
			}
		}
	}
}

func TestRank(t *testing.T) {
	const program = "%\nG4 P60\nM30\n%\n"
	route := func(program string, settings ...string) *Route {
		return NewRoute(job(t, machine(t, settings...), program), "", 10)
	}
	dear, cheap := route(program, "quote.rate=100 /h"), route(program, "quote.rate=90 /h")
	refused := route(program, "quote.rate=10 /h")
	refused.Refused, refused.Errors = 1, 3
	worse := route(program, "quote.rate=10 /h")
	worse.Refused, worse.Errors = 1, 4
	unpriced := route("%\nM30\n%\n", "quote.rate=0 /h")
	yen, slow := route(program, "quote.rate=80 /h", "quote.currency=JPY"), route("%\nG4 P90\nM30\n%\n", "quote.rate=10 /h")
	for _, c := range []struct {
		name      string
		in, order []*Route
	}{
		{"by price", []*Route{dear, cheap}, []*Route{cheap, dear}},
		{"what fits comes first", []*Route{worse, refused, dear}, []*Route{dear, refused, worse}},
		{"by time where the currencies differ", []*Route{slow, yen}, []*Route{yen, slow}},
		{"by time where a rate is missing", []*Route{cheap, unpriced}, []*Route{unpriced, cheap}},
	} {
		Rank(c.in)
		for i := range c.in {
			if c.in[i] != c.order[i] {
				t.Errorf("%s: place %d", c.name, i+1)
			}
		}
	}
}
