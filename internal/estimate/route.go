package estimate

import (
	"cmp"
	"slices"

	"tapefit/rules"
)

// A Route is one machine that a job could go to, or one variant of it.
type Route struct {
	Job     *Job
	Variant string // what was set over the machine's profile; "": it is as it is
	Lot     Lot
	Part    Part
	Refused int            // programs with findings at level error
	Errors  int            // of those findings
	First   *rules.Finding // of them; nil where there is none
	FirstIn string         // path of its program
	Tools   int            // that the programs call
	Stops   int            // of the operator, for one part
	Partial bool           // of a time, something is left out: what was not executed, or cuts that are not known
}

// NewRoute sums a job up for a lot of so many parts.
func NewRoute(j *Job, variant string, quantity int) *Route {
	r := &Route{Job: j, Variant: variant, Lot: j.Lot(quantity), Part: j.Part()}
	tools := map[int]bool{}
	for i := range j.Operations {
		one := j.Operations[i].Result
		if n := one.Count(rules.Error); n > 0 {
			r.Refused++
			r.Errors += n
		}
		if r.First == nil {
			r.first(one)
		}
		r.Stops += one.Times.OperatorStops
		r.Partial = r.Partial || one.Incomplete()
		for _, t := range one.Times.Tools {
			if t.Tool >= 0 {
				tools[t.Tool] = true
			}
		}
	}
	r.Tools = len(tools)
	return r
}

func (r *Route) first(one *rules.Result) {
	for i := range one.Findings {
		if f := &one.Findings[i]; f.Level == rules.Error {
			r.First, r.FirstIn = f, one.Path
			return
		}
	}
}

// Fits says whether the machine takes every program, as far as was seen.
func (r *Route) Fits() bool { return r.Refused == 0 }

// Unpriced says why the prices of the machines cannot be compared; "" where they
// can.
func Unpriced(routes []*Route) string {
	for _, r := range routes {
		switch {
		case r.Job.Machine.Quote.Rate == 0:
			return "not every machine has a rate"
		case r.Job.Machine.Quote.Currency != routes[0].Job.Machine.Quote.Currency:
			return "the prices are not in one currency"
		}
	}
	return ""
}

// Rank puts routes in order: machines that take every program before those that
// take fewer, those with few errors before those with many; then by price, or by
// time where the prices cannot be compared.
func Rank(routes []*Route) {
	priced := Unpriced(routes) == ""
	slices.SortStableFunc(routes, func(a, b *Route) int {
		figure := func(r *Route) float64 {
			if priced {
				return r.Lot.Price.Likely
			}
			return r.Lot.Seconds.Likely
		}
		return cmp.Or(cmp.Compare(a.Refused, b.Refused), cmp.Compare(a.Errors, b.Errors), cmp.Compare(figure(a), figure(b)))
	})
}
