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
