package recall

import (
	"fmt"
	"maps"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// A shelf is of every kind of thing that an image goes through.
type shelf struct {
	n      int
	name   string
	list   []int
	boxes  []*box
	byName map[string]*box
	counts map[int]int
	lists  map[int][]int
	pair   [2]box
	first  *box // one of the boxes, or one of the pair
	any    any
	do     func() int
	self   *shelf
	board  *board
}

type box struct {
	weight int
	inside []int
}

// A board is shared by all shelves.
type board struct{ length int }

func camera() *Camera {
	return NewCamera(func(t reflect.Type) bool { return t == reflect.TypeFor[board]() })
}

// text is all of a shelf, and what is the same as what.
func (s *shelf) text() string {
	where := -1
	for i, b := range s.boxes {
		if b == s.first {
			where = i
		}
	}
	t := fmt.Sprint(s.n, s.name, s.list, s.counts, s.lists, s.pair, where, s.first == &s.pair[1], s.any, s.do(), s.self == s)
	for _, b := range s.boxes {
		t += fmt.Sprint(*b)
	}
	for _, name := range slices.Sorted(maps.Keys(s.byName)) {
		t += fmt.Sprint(name, *s.byName[name], slices.Index(s.boxes, s.byName[name]))
	}
	return t
}

// change does something to a shelf, anywhere.
func (s *shelf) change(t *rapid.T) {
	x := rapid.IntRange(0, 9).Draw(t, "x")
	switch rapid.IntRange(0, 14).Draw(t, "change") {
	case 0:
		s.n, s.name = x, fmt.Sprint(x)
	case 1:
		s.list = append(s.list, x)
	case 2:
		s.list = s.list[:len(s.list)/2]
	case 3:
		for i := range s.list {
			s.list[i] += x
		}
	case 4:
		s.boxes = append(s.boxes, &box{weight: x})
	case 5:
		for _, b := range s.boxes {
			b.weight, b.inside = b.weight+x, append(b.inside, x)
		}
	case 6:
		if len(s.boxes) > 0 {
			s.first = s.boxes[x%len(s.boxes)]
			s.byName[fmt.Sprint(x)] = s.first
		}
	case 7:
		delete(s.byName, fmt.Sprint(x))
		clear(s.counts)
	case 8:
		s.counts[x]++
	case 9:
		s.lists[x] = append(s.lists[x], x)
		for _, l := range s.lists {
			l[0]++
		}
	case 10:
		s.pair[x%2].inside = append(s.pair[x%2].inside, x)
		s.first = &s.pair[1]
	case 11:
		s.any = x
	case 12:
		s.do = func() int { return x }
	case 13:
		s.counts, s.byName = map[int]int{x: x}, map[string]*box{}
	case 14:
		slices.Reverse(s.boxes)
	}
}

func newShelf() *shelf {
	s := &shelf{byName: map[string]*box{}, counts: map[int]int{}, lists: map[int][]int{}, do: func() int { return -1 }, board: &board{}}
	s.self = s
	return s
}

// Whatever was done since, an image brings back what was, as often as it is asked
// to, and images do not get in each other's way.
func TestRestore(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, c := newShelf(), camera()
		var images []*Image
		var texts []string
		for range rapid.IntRange(1, 40).Draw(t, "steps") {
			switch rapid.IntRange(0, 5).Draw(t, "step") {
			case 0:
				images, texts = append(images, c.Take(s)), append(texts, s.text())
			case 1:
				if len(images) > 0 {
					i := rapid.IntRange(0, len(images)-1).Draw(t, "image")
					images[i].Restore()
					if got := s.text(); got != texts[i] {
						t.Fatalf("brought back\n%s\nit was\n%s", got, texts[i])
					}
				}
			default:
				s.change(t)
			}
		}
	})
}

// What is shared is left alone, and an image knows what it would write to.
func TestShared(t *testing.T) {
	one, two := newShelf(), newShelf()
	two.board = one.board
	c := camera()
	a, b := c.Take(one), c.Take(two)
	one.board.length = 7
	a.Restore()
	if one.board.length != 7 {
		t.Error("what is shared was put back")
	}
	if a.Overlaps(b) {
		t.Error("two shelves with one board overlap")
	}
	two.counts = one.counts
	if !c.Take(two).Overlaps(a) {
		t.Error("two shelves with one map do not overlap")
	}
	if a.Size() < int(reflect.TypeFor[shelf]().Size()) {
		t.Error("an image of", a.Size(), "bytes")
	}
}

// A map may be a root.
func TestRoots(t *testing.T) {
	m, n := map[int]int{1: 2}, 3
	i := camera().Take(m, &n)
	m[1], m[4], n = 5, 6, 7
	i.Restore()
	if len(m) != 1 || m[1] != 2 || n != 3 {
		t.Error(m, n)
	}
}
