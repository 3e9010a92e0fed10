// Package estimate says what work takes and costs: a lot of parts on one machine,
// the same job on several, and what measured runs tell of a profile. It decides
// nothing about programs: findings and times come from below. Money and people
// are known here and in the profile's quote, and nowhere else.
package estimate

import (
	"cmp"
	"io"
	"maps"
	"math"
	"slices"

	"tapefit/internal/interp"
	"tapefit/internal/motion"
	"tapefit/parser"
	"tapefit/profiles"
	"tapefit/rules"
)

// A Job is one part on one machine: its programs in turn, each with its own
// set-up.
type Job struct {
	Machine    *profiles.Machine
	Operations []Operation

	unsure []unsure
}

// An Operation is one program of a job.
type Operation struct {
	Result *rules.Result
	varied []motion.Times // with each unsure value low, then high
}

// unsure is one value of the profile that may be off, and the machine with it
// low and high.
type unsure struct {
	path      string
	low, high *profiles.Machine
}

// NewJob makes a job without programs. The error is one of a profile that does
// not stand a value as low or as high as it may be.
func NewJob(m *profiles.Machine) (*Job, error) {
	j := &Job{Machine: m}
	for _, path := range slices.Sorted(maps.Keys(m.Unsure)) {
		share := float64(m.Unsure[path])
		if share == 0 {
			continue
		}
		u := unsure{path: path}
		for _, end := range []struct {
			times float64
			m     **profiles.Machine
		}{{1 - share, &u.low}, {1 + share, &u.high}} {
			setting, err := m.Scaled(path, end.times)
			if err != nil {
				return nil, err
			}
			if *end.m, err = m.With(setting); err != nil {
				return nil, err
			}
		}
		j.unsure = append(j.unsure, u)
	}
	return j, nil
}

// Operation checks and times a program for the job. It changes nothing of it, so
// that programs can be worked on at once. The error is one of reading src.
func (j *Job) Operation(src io.ReaderAt, size int64, path string, set []*rules.Rule, opt rules.Options) (Operation, error) {
	r, err := rules.Check(src, size, path, j.Machine, set, opt)
	if err != nil {
		return Operation{}, err
	}
	var all []*profiles.Machine
	for _, u := range j.unsure {
		all = append(all, u.low, u.high)
	}
	varied, _, err := Time(src, size, j.Machine, all, interp.Options{Offsets: opt.Offsets, MaxBlocks: opt.MaxBlocks, Done: opt.Done})
	return Operation{r, varied}, err
}

// Time interprets a program once, as machine m would, and times it on variants
// of m: machines that differ from it in nothing but how long things take. Dropped
// is how many blocks leave something out that is then in no time.
func Time(src io.ReaderAt, size int64, m *profiles.Machine, variants []*profiles.Machine, opt interp.Options) (times []motion.Times, dropped int, err error) {
	if len(variants) == 0 {
		return nil, 0, nil
	}
	clocks := make([]*motion.Clock, len(variants))
	for i, v := range variants {
		clocks[i] = motion.NewClock(v, nil)
		clocks[i].Load(size)
	}
	src, _, err = parser.Tape(src, size)
	if err != nil {
		return nil, 0, err
	}
	in := interp.New(m, opt, interp.Visitor{
		Exec: func(b *parser.Block) {
			for _, c := range clocks {
				c.Block(len(b.Raw))
			}
		},
		Op: func(op *interp.Op) {
			for _, c := range clocks {
				c.Op(op)
			}
		},
	})
	if _, err := in.Run(src, size); err != nil {
		return nil, 0, err
	}
	times = make([]motion.Times, len(clocks))
	for i, c := range clocks {
		times[i] = c.Finish()
	}
	return times, in.Dropped(), nil
}

// A Range is a figure with how far it may be off: the true one is taken to lie
// between Low and High at about 95 %, as far as the profile's unsure values say.
type Range struct{ Low, Likely, High float64 }

// Times is a range of so many of them.
func (r Range) Times(n float64) Range { return Range{r.Low * n, r.Likely * n, r.High * n} }

// A Lot is what a number of good parts takes and costs.
type Lot struct {
	Quantity int     // good parts
	Begun    float64 // parts that are begun for them, in the long run: scrap is among them
	Seconds  Range   // of the machine with its operator, set-ups included
	Price    Range   // in the currency of the quote; zero without a rate
	Each     Range   // Price by Quantity
	Setup    float64 // of Seconds.Likely: the set-ups
}

// A Part is what one part takes without set-ups, in s.
type Part struct {
	Cycle Range   // of the machine: what tapefit time says
	Hand  float64 // loading, tools and belts by hand, stops
}

// Part is what one part takes.
func (j *Job) Part() Part {
	times := j.likely()
	return Part{
		Cycle: j.spread(func(_ *profiles.Quote, times []motion.Times) float64 { return cycle(times) }),
		Hand:  hand(&j.Machine.Quote, times),
	}
}

// Lot is what a lot of good parts takes and costs; quantity is 1 or more.
func (j *Job) Lot(quantity int) Lot {
	q := &j.Machine.Quote
	l := Lot{Quantity: quantity, Begun: begun(q, quantity), Setup: float64(q.Setup) * float64(len(j.Operations))}
	l.Seconds = j.spread(lotOf(quantity))
	l.Price = l.Seconds.Times(float64(q.Rate) / 3600)
	l.Each = l.Price.Times(1 / float64(quantity))
	return l
}

// A figure is computed from what the shop reckons with and the times of each
// operation.
type figure func(*profiles.Quote, []motion.Times) float64

// lotOf is the seconds of a lot.
func lotOf(quantity int) figure {
	return func(q *profiles.Quote, times []motion.Times) float64 {
		return float64(q.Setup)*float64(len(times)) + begun(q, quantity)*(cycle(times)+hand(q, times))
	}
}

// begun is how many parts are begun, in the long run, for so many good ones.
func begun(q *profiles.Quote, quantity int) float64 {
	return float64(quantity) / (1 - float64(q.Scrap))
}

func cycle(times []motion.Times) float64 {
	sum := 0.0
	for i := range times {
		sum += times[i].Total
	}
	return sum
}

// hand is what people do for one part while the machine waits, in s.
func hand(q *profiles.Quote, times []motion.Times) float64 {
	sum := 0.0
	for i := range times {
		sum += float64(q.Load) + AtMachine(q, &times[i])
	}
	return sum
}

// AtMachine is what people do while a program waits for them, in s: tools and
// belts by hand, and stops. A belt is moved at a stop, and its time comes to that
// of the stop.
func AtMachine(q *profiles.Quote, t *motion.Times) float64 {
	return float64(t.HandTools)*float64(q.ToolByHand) +
		float64(t.HandShifts)*float64(q.GearByHand) +
		float64(t.OperatorStops-t.HandTools)*float64(q.Stop)
}

func (j *Job) likely() []motion.Times {
	times := make([]motion.Times, len(j.Operations))
	for i := range times {
		times[i] = j.Operations[i].Result.Times
	}
	return times
}

// spread is a figure with its range: each unsure value low and high in its turn,
// and what that makes of the figure taken together as the root of the sum of
// squares, the unsure values being independent of each other (JCGM 100:2008,
// Guide to the expression of uncertainty in measurement, 5.1.2: from memory).
func (j *Job) spread(of figure) Range {
	likely := of(&j.Machine.Quote, j.likely())
	below, above := 0.0, 0.0
	for i, u := range j.unsure {
		low, high := of(&u.low.Quote, j.varied(2*i)), of(&u.high.Quote, j.varied(2*i+1))
		less, more := likely-min(low, high, likely), max(low, high, likely)-likely
		below += less * less
		above += more * more
	}
	return Range{likely - math.Sqrt(below), likely, likely + math.Sqrt(above)}
}

func (j *Job) varied(i int) []motion.Times {
	times := make([]motion.Times, len(j.Operations))
	for k := range times {
		times[k] = j.Operations[k].varied[i]
	}
	return times
}

// An Influence is what one unsure value makes of a figure.
type Influence struct {
	Path      string
	Share     float64 // by which the value may be off
	Low, High float64 // of the seconds of a lot, with the value low and with it high
}

// Influences are what the unsure values make of a lot's seconds, the weightiest
// first.
func (j *Job) Influences(quantity int) []Influence {
	lot := lotOf(quantity)
	var all []Influence
	for i, u := range j.unsure {
		all = append(all, Influence{u.path, float64(j.Machine.Unsure[u.path]), lot(&u.low.Quote, j.varied(2*i)), lot(&u.high.Quote, j.varied(2*i+1))})
	}
	slices.SortStableFunc(all, func(a, b Influence) int {
		return cmp.Compare(math.Abs(b.High-b.Low), math.Abs(a.High-a.Low))
	})
	return all
}
