package motion

import (
	"math"
	"testing"
)

func TestStretches(t *testing.T) {
	cut := func(line, tool int, seconds, lost float64, by Limit) Timed {
		return Timed{Line: line, Tool: tool, Cut: true, Seconds: seconds, Lost: lost, Limit: by}
	}
	rapid := func(line, tool int, seconds float64) Timed {
		return Timed{Line: line, Tool: tool, Seconds: seconds}
	}
	for _, c := range []struct {
		name  string
		moves []Timed
		want  []Stretch
	}{
		{"nothing", nil, nil},
		{"holes of one tool are one stretch", []Timed{
			rapid(1, 5, 1), cut(2, 5, 4, 0, ByFeed), rapid(3, 5, 1), cut(4, 5, 4, 0.1, ByAcceleration), rapid(5, 5, 1), cut(6, 5, 4, 0, ByFeed),
		}, []Stretch{{1, 6, 5, 15, 12, 0.1, ByFeed}}},
		{"another tool", []Timed{rapid(1, 1, 1), cut(2, 1, 4, 0, ByFeed), rapid(3, 2, 1), cut(4, 2, 9, 0, ByFeed)},
			[]Stretch{{3, 4, 2, 10, 9, 0, ByFeed}, {1, 2, 1, 5, 4, 0, ByFeed}}},
		{"a starved contour behind a plain pass", []Timed{
			rapid(1, 1, 1), cut(2, 1, 30, 0, ByFeed), rapid(3, 1, 1), cut(4, 1, 10, 6, ByBlockTime), cut(5, 1, 10, 1, ByCorner),
		}, []Stretch{{1, 2, 1, 31, 30, 0, ByFeed}, {3, 5, 1, 21, 20, 7, ByBlockTime}}},
		{"the lines of a subprogram called from below it", []Timed{rapid(90, 1, 1), cut(10, 1, 2, 0, ByFeed), cut(91, 1, 1, 0, ByFeed)},
			[]Stretch{{10, 91, 1, 4, 3, 0, ByFeed}}},
		{"a traverse alone", []Timed{rapid(4, -1, 2)}, []Stretch{{4, 4, -1, 2, 0, 0, ByFeed}}},
	} {
		var s Stretches
		for i := range c.moves {
			s.Add(&c.moves[i])
		}
		got := s.Finish()
		if len(got) != len(c.want) {
			t.Errorf("%s: %+v", c.name, got)
			continue
		}
		for i := range got {
			if got[i] != c.want[i] {
				t.Errorf("%s: %+v, not %+v", c.name, got[i], c.want[i])
			}
		}
	}
}

// Of many stretches the ten costliest are kept, and all are found.
func TestStretchesKeepTheCostliest(t *testing.T) {
	var s Stretches
	for i := range 1000 {
		seconds := float64((i*7919)%1000) + 1 // each of 1 to 1000 once
		s.Add(&Timed{Line: i + 1, Tool: i, Cut: true, Seconds: seconds})
	}
	got := s.Finish()
	if len(got) != mostStretches {
		t.Fatal(len(got))
	}
	for i := range got {
		if want := float64(1000 - i); math.Abs(got[i].Seconds-want) > 0 {
			t.Errorf("place %d: %g s, not %g", i+1, got[i].Seconds, want)
		}
	}
}

// A dwell in a cut is part of it, one elsewhere is told by itself: what a person
// would look for is where the program waits.
func TestStretchesDwell(t *testing.T) {
	rapid := Timed{Line: 1, Tool: 5, Seconds: 1}
	cut := Timed{Line: 2, Tool: 5, Cut: true, Seconds: 4}
	for _, c := range []struct {
		name string
		do   func(*Stretches)
		want []Stretch
	}{
		{"nothing but dwells", func(s *Stretches) { s.Dwell(3, 5, 2.5); s.Dwell(4, 5, 1500) },
			[]Stretch{{3, 4, 5, 1502.5, 0, 1502.5, ByDwell}}},
		{"between traverses", func(s *Stretches) { s.Add(&rapid); s.Dwell(9, 5, 60); s.Add(&rapid); s.Add(&cut) },
			[]Stretch{{9, 9, 5, 60, 0, 60, ByDwell}, {1, 2, 5, 5, 4, 0, ByFeed}, {1, 1, 5, 1, 0, 0, ByFeed}}},
		{"at the bottom of holes", func(s *Stretches) {
			for range 3 {
				s.Add(&rapid)
				s.Add(&cut)
				s.Dwell(2, 5, 2)
				s.Add(&rapid)
			}
		}, []Stretch{{1, 2, 5, 23, 12, 6, ByDwell}, {1, 1, 5, 1, 0, 0, ByFeed}}},
		{"so short that it holds nothing back", func(s *Stretches) { s.Add(&cut); s.Dwell(3, 5, 0.25) },
			[]Stretch{{2, 3, 5, 4.25, 4, 0.25, ByFeed}}},
		{"of another tool", func(s *Stretches) { s.Add(&cut); s.Dwell(7, 6, 20) },
			[]Stretch{{7, 7, 6, 20, 0, 20, ByDwell}, {2, 2, 5, 4, 4, 0, ByFeed}}},
		{"of no time", func(s *Stretches) { s.Dwell(7, 6, 0); s.Dwell(7, 6, math.NaN()) }, nil},
	} {
		var s Stretches
		c.do(&s)
		got := s.Finish()
		if len(got) != len(c.want) {
			t.Errorf("%s: %+v", c.name, got)
			continue
		}
		for i := range got {
			if got[i] != c.want[i] {
				t.Errorf("%s: %+v, not %+v", c.name, got[i], c.want[i])
			}
		}
	}
}
