package report

import (
	"math"
	"slices"

	"tapefit/internal/interp"
	"tapefit/profiles"
	"tapefit/rules"
)

// turns are how fast the spindle turns along a move under constant surface speed,
// from its start to its end; nil: it turns as fast all along.
type turns struct {
	at   []turn
	mean float64 // rpm: the turns that it makes over the time of a feed by the revolution
}

// A turn is how fast the spindle turns at one place of a move.
type turn struct {
	way   float64 // share of the move that lies behind
	time  float64 // share of its time that has gone by
	speed float64 // rpm
	bend  bool    // here the speed goes over into another law
}

// turnsOf are those of a move on the machine. A feed by the revolution takes the
// integral of 1/n along the path, as in package motion; what else the axes do goes
// evenly here, so that is near the truth for a traverse, and exact for a feed by
// the minute.
func turnsOf(op *interp.Op, m *profiles.Machine) *turns {
	s := op.State
	if s.Surface <= 0 || s.Unknown&interp.UnknownSpeed != 0 || turning(s) == 0 || !(op.FromKnown & op.ToKnown).Has(0) {
		return nil
	}
	law := s.Law(m)
	if op.PerRev > 0 {
		law = op.Turn
	}
	radius, bends := alongX(op, &law)
	speed := func(way float64) float64 { return law.At(math.Abs(radius(way))) }
	t := &turns{at: []turn{{0, 0, speed(0), true}}}
	sum := 0.0
	for i := 1; i < len(bends); i++ {
		from, to := bends[i-1], bends[i]
		parts := partsOf(speed(from), speed(to))
		for k := 1; k <= parts; k++ {
			a, b := from+(to-from)*float64(k-1)/float64(parts), from+(to-from)*float64(k)/float64(parts)
			if op.PerRev > 0 { // Simpson's rule: exact for a straight line, on which 1/n is linear
				sum += (b - a) * (1/speed(a) + 4/speed((a+b)/2) + 1/speed(b)) / 6
			} else {
				sum += b - a
			}
			t.at = append(t.at, turn{b, sum, speed(b), k == parts})
		}
	}
	if !(sum > 0) || math.IsInf(sum, 0) {
		return nil
	}
	for i := range t.at {
		t.at[i].time /= sum
	}
	if op.PerRev > 0 {
		t.mean = 1 / sum
	}
	return t
}

// partsOf is in how many parts a stretch is drawn on which the speed only rises or
// only falls.
func partsOf(from, to float64) int {
	const most = 40
	if part := most * math.Abs(from-to) / max(from, to); part > 1 {
		return int(min(math.Ceil(part), most))
	}
	return 1
}

// alongX is X along a move by the share of its way, in mm, and the shares where the
// speed has a bend, with both ends: where the law meets its limits, on the centre
// line, and where an arc turns round.
func alongX(op *interp.Op, law *interp.SpeedLaw) (x func(way float64) float64, bends []float64) {
	kinks := []float64{0, law.Radius(law.Highest), -law.Radius(law.Highest)}
	if law.Lowest > 0 {
		kinks = append(kinks, law.Radius(law.Lowest), -law.Radius(law.Lowest))
	}
	bends = []float64{0, 1}
	bend := func(way float64) {
		if way > 0 && way < 1 && len(bends) < 100 {
			bends = append(bends, way)
		}
	}
	first, second, _ := op.Plane.Axes()
	if op.Kind != interp.Arc || first != 0 && second != 0 {
		from, by := op.From[0], op.To[0]-op.From[0]
		for _, k := range kinks {
			bend((k - from) / by)
		}
		slices.Sort(bends)
		return func(way float64) float64 { return from + way*by }, bends
	}
	// X on the arc is center + radius*cos(angle), with the angle counted from X+ and
	// growing along the arc.
	other, sense := second, 1.0
	if second == 0 {
		other, sense = first, -1
	}
	if op.CW {
		sense = -sense
	}
	center, radius := op.Center[0], math.Hypot(op.From[0]-op.Center[0], op.From[other]-op.Center[other])
	from := math.Atan2(sense*(op.From[other]-op.Center[other]), op.From[0]-center)
	at := func(angle float64) { // and a turn further, as often as the arc comes there
		for a := angle + 2*math.Pi*math.Ceil((from-angle)/(2*math.Pi)); a < from+op.Sweep && len(bends) < 100; a += 2 * math.Pi {
			bend((a - from) / op.Sweep)
		}
	}
	at(0)
	at(math.Pi)
	for _, k := range kinks {
		if c := (k - center) / radius; math.Abs(c) < 1 {
			at(math.Acos(c))
			at(-math.Acos(c))
		}
	}
	slices.Sort(bends)
	return func(way float64) float64 { return center + radius*math.Cos(from+way*op.Sweep) }, bends
}

// speeds are the least and the greatest, rpm.
func (t *turns) speeds() (r rules.Range) {
	for i := range t.at {
		widen(&r, t.at[i].speed)
	}
	return r
}

// steady says whether all speeds are one.
func (t *turns) steady() bool {
	r := t.speeds()
	return r.Max-r.Min <= 1e-9*r.Max
}

// when is the turn at a share of the way, which is at or behind that of number i;
// next is the number to go on from.
func (t *turns) when(way float64, i int) (here turn, next int) {
	for i+1 < len(t.at) && t.at[i+1].way < way {
		i++
	}
	if i+1 == len(t.at) {
		return t.at[i], i
	}
	a, b := &t.at[i], &t.at[i+1]
	part := (way - a.way) / (b.way - a.way)
	return turn{way: way, time: a.time + part*(b.time-a.time), speed: a.speed + part*(b.speed-a.speed)}, i
}

// speedsOf are those of the spindle along a move, rpm; not set where it stands or
// is not known.
func speedsOf(op *interp.Op, t *turns) (r rules.Range) {
	if t != nil {
		return t.speeds()
	}
	if n := math.Abs(turning(op.State)); n > 0 {
		widen(&r, n)
	}
	return r
}
