// Package recall takes an image of all that some pointers lead to, and puts it
// back in place. What remembers something, be it a hundred small things that point
// at each other, can so be taken up again where it was before, without a word
// about copying in any of them. The package knows nothing of what it is used for.
//
// Nothing moves: after Restore every pointer leads where it led, and finds there
// what was there. So whoever holds a pointer (a function bound to its receiver,
// another goroutine that waits) need not be told.
package recall

import "reflect"

// A Camera takes images. It is for one goroutine.
type Camera struct {
	shared func(reflect.Type) bool
	leads  map[reflect.Type]bool
}

// NewCamera makes one. It takes no image of values of a type that is shared: what
// never changes, or belongs to others. They must be all that is reached and also
// used elsewhere at the same time, for an image writes to all that it has.
func NewCamera(shared func(reflect.Type) bool) *Camera {
	return &Camera{shared: shared, leads: map[reflect.Type]bool{}}
}

// An Image is what was found at one moment.
type Image struct {
	cells []cell
	bytes int
}

// A cell is one variable, one array behind a slice, or one map.
type cell struct {
	live  reflect.Value // a pointer's target, a slice, a map
	saved reflect.Value // a copy of it; of a map a slice of its keys and one of its values
	also  reflect.Value
}

// A place tells cells apart: a structure begins where its first field does.
type place struct {
	at  uintptr
	typ reflect.Type
	n   int
}

// Take takes an image of what the roots, which are pointers or maps, lead to
// through pointers, slices and maps. Functions, channels and interfaces it keeps as
// they are, and does not look behind them.
func (c *Camera) Take(roots ...any) *Image {
	s := shot{c, &Image{}, map[place]bool{}}
	for _, r := range roots {
		v := reflect.New(reflect.TypeOf(r)).Elem()
		v.Set(reflect.ValueOf(r))
		s.follow(v)
	}
	return s.Image
}

// Size is about how much memory the image takes, in bytes.
func (m *Image) Size() int { return m.bytes }

// Restore puts all back. It can be done any number of times.
func (m *Image) Restore() {
	for i := range m.cells {
		c := &m.cells[i]
		switch c.live.Kind() {
		case reflect.Map:
			c.live.Clear()
			for i := range c.saved.Len() {
				c.live.SetMapIndex(c.saved.Index(i), c.also.Index(i))
			}
		case reflect.Slice:
			reflect.Copy(c.live, c.saved)
		default:
			c.live.Set(c.saved)
		}
	}
}

// Overlaps says whether two images have anything in common: they must then not be
// restored, nor what they are of be used, at the same time.
func (m *Image) Overlaps(o *Image) bool {
	mine := map[uintptr]bool{}
	for i := range m.cells {
		mine[m.cells[i].at()] = true
	}
	for i := range o.cells {
		if mine[o.cells[i].at()] {
			return true
		}
	}
	return false
}

func (c *cell) at() uintptr {
	if k := c.live.Kind(); k == reflect.Map || k == reflect.Slice {
		return c.live.Pointer()
	}
	return c.live.Addr().Pointer()
}

// A shot is an image in the making.
type shot struct {
	*Camera
	*Image
	seen map[place]bool
}

// follow goes on from a variable to what it leads to.
func (s *shot) follow(v reflect.Value) {
	t := v.Type()
	if !s.leadsOn(t) {
		return
	}
	switch t.Kind() {
	case reflect.Pointer:
		s.pointer(v)
	case reflect.Slice:
		s.slice(v)
	case reflect.Map:
		s.mapped(v)
	case reflect.Array:
		for i := range v.Len() {
			s.follow(v.Index(i))
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if f := v.Field(i); s.leadsOn(f.Type()) {
				s.follow(variable(f))
			}
		}
	}
}

// variable is a field as a variable that can be read and set, whoever may name it.
func variable(f reflect.Value) reflect.Value {
	return reflect.NewAt(f.Type(), f.Addr().UnsafePointer()).Elem()
}

func (s *shot) fresh(at uintptr, t reflect.Type, n int) bool {
	p := place{at, t, n}
	old := s.seen[p]
	s.seen[p] = true
	return !old
}

func (s *shot) pointer(v reflect.Value) {
	if v.IsNil() || !s.fresh(v.Pointer(), v.Type(), 1) {
		return
	}
	target := v.Elem()
	saved := reflect.New(target.Type()).Elem()
	saved.Set(target)
	s.cells = append(s.cells, cell{live: target, saved: saved})
	s.bytes += int(target.Type().Size())
	s.follow(target)
}

func (s *shot) slice(v reflect.Value) {
	n, t := v.Len(), v.Type()
	if n == 0 || !s.fresh(v.Pointer(), t, n) {
		return
	}
	live := v.Slice3(0, n, n) // a header of its own: v is a variable
	saved := reflect.MakeSlice(t, n, n)
	reflect.Copy(saved, live)
	s.cells = append(s.cells, cell{live: live, saved: saved})
	s.bytes += n * int(t.Elem().Size())
	if s.leadsOn(t.Elem()) {
		for i := range n {
			s.follow(live.Index(i))
		}
	}
}

func (s *shot) mapped(v reflect.Value) {
	if v.IsNil() || !s.fresh(v.Pointer(), v.Type(), 1) {
		return
	}
	t, n := v.Type(), v.Len()
	live := reflect.New(t).Elem()
	live.Set(v)
	keys, values := reflect.MakeSlice(reflect.SliceOf(t.Key()), n, n), reflect.MakeSlice(reflect.SliceOf(t.Elem()), n, n)
	each := live.MapRange()
	for i := 0; each.Next(); i++ {
		keys.Index(i).SetIterKey(each)
		values.Index(i).SetIterValue(each)
	}
	s.cells = append(s.cells, cell{live, keys, values})
	s.bytes += n * int(t.Key().Size()+t.Elem().Size())
	if s.leadsOn(t.Elem()) {
		for i := range n {
			s.follow(values.Index(i))
		}
	}
}

// leadsOn says whether anything can be reached from values of a type.
func (c *Camera) leadsOn(t reflect.Type) bool {
	known, ok := c.leads[t]
	if ok {
		return known
	}
	leads := false
	switch t.Kind() {
	case reflect.Pointer, reflect.Slice:
		leads = !c.shared(t) && !c.shared(t.Elem())
	case reflect.Map:
		leads = !c.shared(t) && !c.shared(t.Elem())
	case reflect.Array:
		leads = !c.shared(t) && t.Len() > 0 && c.leadsOn(t.Elem())
	case reflect.Struct:
		for i := 0; i < t.NumField() && !leads && !c.shared(t); i++ {
			leads = c.leadsOn(t.Field(i).Type)
		}
	}
	c.leads[t] = leads
	return leads
}
