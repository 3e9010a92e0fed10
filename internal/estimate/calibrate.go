package estimate

import (
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"
	"gonum.org/v1/gonum/stat/distuv"

	"tapefit/internal/interp"
	"tapefit/internal/motion"
	"tapefit/profiles"
)

// A Fit is what measured runs tell of a machine's values.
type Fit struct {
	Machine *profiles.Machine
	After   *profiles.Machine // with the values that the runs determine
	Runs    []Run
	Values  []Value
	Before  []float64 // computed seconds of each measure, in order, by the profile
	Fitted  []float64 // by After
	Strange []bool    // measures that no values of the profile bring near: another program, or a slip of the pen
	Noise   float64   // how much wider measures scatter than is assumed of a stop watch; 1: as assumed
	// Together are values that the runs do not tell apart: only what they come
	// to together is known. Indices in Values.
	Together [][]int
}

// A Value is one value of the profile in a fit.
type Value struct {
	Path       string
	Unit       string
	Profile    float64 // as the profile has it, in Unit
	Found      float64 // as the runs have it
	Low, High  float64 // where the true one lies at 95 %, as far as the model holds
	Determined bool    // the runs say it to within mostSpread
	Bound      float64 // in Unit: the bound that Found stands at, which is then not determined; 0: none
	Physical   bool    // the bound is one of what machines have, and not one of the fit
	Silent     bool    // no run hangs on it
}

// Constants of the fit. Values are fitted by their logarithm: they are above
// zero, and one that is half as large is as far off as one twice as large.
const (
	watchSeconds = 0.5  // standard deviation of a stop watch in a hand, s: assumed
	watchShare   = 0.02 // and of a run, as a share of its time: assumed
	prior        = 0.7  // weak standard deviation of each logarithm, so that what no run tells stays where it is
	mostSpread   = 0.5  // half the 95 % range of a logarithm above which a value is not determined
	least        = 1e-3 // seconds by which a run must change when a value doubles, for the run to hang on it
	stepSize     = 0.02 // of the logarithms, for derivatives
	strange      = 6    // standard deviations of a stop watch beyond which a run is not this program's
	likeness     = 0.8  // correlation above which two undetermined values are not told apart
	bounded      = 0.02 // of the logarithms: how near to its bound a value stands at it
	farthest     = 10   // times from the profile's value a fit goes: what is further off is not calibrated but written anew
)

// bounds are what a value can physically be, by the last word of its path, in
// the inner unit: no machine is beyond (common practice, widely drawn).
var bounds = map[string][2]float64{
	"acceleration":     {5, 50e3},    // mm/s^2
	"rapid":            {0.1, 2000},  // mm/s
	"feed":             {0.1, 2000},  // mm/s
	"block_time":       {1e-6, 2},    // s
	"change_time":      {0.2, 600},   // s
	"shift_time":       {0.1, 120},   // s
	"start":            {0.05, 120},  // s
	"stop":             {0.05, 120},  // s
	"reverse":          {0.05, 240},  // s
	"jerk":             {10, 1e7},    // mm/s^3
	"corner_step":      {0.01, 1000}, // mm/s
	"corner_tolerance": {1e-4, 5},    // mm
}

// Fittable are the paths of the values that measured runs may tell: those that
// the profile calls unsure, or where it calls none, those that are mostly
// guessed, as far as it gives them.
func Fittable(m *profiles.Machine) []string {
	var paths []string
	for _, path := range slices.Sorted(maps.Keys(m.Unsure)) {
		if m.Unsure[path] > 0 && !strings.HasPrefix(path, "quote.") {
			paths = append(paths, path)
		}
	}
	if len(paths) > 0 {
		return paths
	}
	for _, path := range []string{
		"axes.x.acceleration", "axes.y.acceleration", "axes.z.acceleration", "control.block_time", "control.corner_tolerance",
		"axes.x.corner_step", "axes.y.corner_step", "axes.z.corner_step", "spindle.start", "spindle.stop", "spindle.reverse", "spindle.shift_time", "tools.change_time",
	} {
		if v, _, err := m.Quantity(path); err == nil && v > 0 {
			paths = append(paths, path)
		}
	}
	return paths
}

// Open gives a program to be read, and its size.
type Open func(path string) (src io.ReaderAt, size int64, close func() error, err error)

// Calibrate fits values of a machine's profile, by their paths, to measured
// runs: least squares over the logarithms, by Newton steps with the curvature of
// Gauss and Newton (gonum/optimize).
// The error is one of reading a program, or of values that cannot be fitted.
func Calibrate(m *profiles.Machine, runs []Run, paths []string, open Open, opt interp.Options) (*Fit, error) {
	c := calibration{m: m, runs: runs, open: open, options: opt}
	for _, path := range paths {
		if err := c.add(path); err != nil {
			return nil, err
		}
	}
	if len(c.values) == 0 {
		return nil, fmt.Errorf("%s gives no value that runs could tell: give acceleration, block_time, change_time", m.Name)
	}
	for _, r := range runs {
		for _, one := range r.Measured {
			c.measured = append(c.measured, one.Seconds)
			c.sigma = append(c.sigma, math.Hypot(watchSeconds, watchShare*one.Seconds))
		}
	}
	if err := c.timeless(); err != nil {
		return nil, err
	}
	u, err := c.solve()
	if err != nil {
		return nil, err
	}
	return c.report(u)
}

// timeless complains of a measure for which the profile has no time at all.
func (c *calibration) timeless() error {
	c.compute(make([]float64, len(c.values)))
	if c.err != nil {
		return c.err
	}
	i := 0
	for _, r := range c.runs {
		for _, one := range r.Measured {
			if !(c.model[i] > 0) {
				return fmt.Errorf("line %d of the runs: %s takes no %s on %s, and %g s were measured: is it another program, or is its part measured under another name?",
					r.Line, r.Program, Parts[one.Part].Name, c.m.Name, one.Seconds)
			}
			i++
		}
	}
	return nil
}

// A calibration is one fit at work.
type calibration struct {
	m        *profiles.Machine
	runs     []Run
	open     Open
	options  interp.Options
	values   []Value
	low, top []float64 // bounds of the logarithms, from the profile's value
	measured []float64
	sigma    []float64 // standard deviation assumed of each

	at       []float64  // where model and jacobian were computed last
	model    []float64  // seconds of each measure
	jacobian *mat.Dense // of model by logarithm
	err      error
}

func (c *calibration) add(path string) error {
	v, unit, err := c.m.Quantity(path)
	if err != nil {
		return err
	}
	inner, err := c.m.Inner(path)
	if err != nil {
		return err
	}
	key := path[strings.LastIndexByte(path, '.')+1:]
	limits, known := bounds[key]
	if !known {
		return fmt.Errorf("%s: runs cannot tell it; they can tell acceleration, jerk, rapid, feed, block_time, corner_tolerance, corner_step, start, stop, reverse, shift_time, change_time", path)
	}
	if !(v > 0) {
		return fmt.Errorf("%s is %g: only a value above 0 can be fitted", path, v)
	}
	low := max(math.Log(limits[0]/inner), -math.Log(farthest))
	top := min(math.Log(limits[1]/inner), math.Log(farthest))
	if !(low < 0 && top > 0) {
		return fmt.Errorf("%s is %g %s: no machine has that", path, v, unit)
	}
	c.values = append(c.values, Value{Path: path, Unit: unit, Profile: v})
	c.low, c.top = append(c.low, low), append(c.top, top)
	return nil
}

// logarithms are those of value over profile, from free variables: between the
// bounds whatever those are.
func (c *calibration) logarithms(u []float64) (x, slope []float64) {
	x, slope = make([]float64, len(u)), make([]float64, len(u))
	for k := range u {
		s := 1 / (1 + math.Exp(-u[k]))
		x[k] = c.low[k] + (c.top[k]-c.low[k])*s
		slope[k] = (c.top[k] - c.low[k]) * s * (1 - s)
	}
	return x, slope
}

// start is where the free variables give the profile's values.
func (c *calibration) start() []float64 {
	u := make([]float64, len(c.values))
	for k := range u {
		s := -c.low[k] / (c.top[k] - c.low[k])
		u[k] = math.Log(s / (1 - s))
	}
	return u
}

func (c *calibration) solve() (x []float64, err error) {
	problem := optimize.Problem{
		Func: func(u []float64) float64 {
			x, _ := c.logarithms(u)
			return c.misfit(x)
		},
		Grad: func(grad, u []float64) {
			x, slope := c.logarithms(u)
			c.compute(x)
			for k := range grad {
				sum := x[k] / (prior * prior)
				for i := range c.model {
					sum += (c.model[i] - c.measured[i]) / (c.sigma[i] * c.sigma[i]) * c.jacobian.At(i, k)
				}
				grad[k] = sum * slope[k]
			}
		},
		Hess: func(hess *mat.SymDense, u []float64) {
			x, slope := c.logarithms(u)
			c.compute(x)
			curve := c.curvature()
			for k := range u {
				for l := k; l < len(u); l++ {
					hess.SetSym(k, l, curve.At(k, l)*slope[k]*slope[l])
				}
			}
		},
	}
	settings := optimize.Settings{MajorIterations: 60, FuncEvaluations: 200, GradientThreshold: 1e-4,
		Converger: &optimize.FunctionConverge{Relative: 1e-7, Absolute: 1e-7, Iterations: 3}}
	result, err := optimize.Minimize(problem, c.start(), &settings, &optimize.Newton{})
	if c.err != nil {
		return nil, c.err
	}
	if result == nil {
		return nil, fmt.Errorf("the fit does not come to an end: %w", err)
	}
	// A line search that can't go on has found its valley's floor: times are not
	// smooth to the last digit.
	x, _ = c.logarithms(result.X)
	return x, nil
}

// misfit is half the sum of squares: what measures are off by, and how far
// values are from the profile.
func (c *calibration) misfit(x []float64) float64 {
	c.compute(x)
	if c.err != nil {
		return math.Inf(1)
	}
	sum := 0.0
	for i := range c.model {
		r := (c.model[i] - c.measured[i]) / c.sigma[i]
		sum += r * r / 2
	}
	for _, v := range x {
		sum += v * v / (2 * prior * prior)
	}
	return sum
}

// compute times all runs at the logarithms x, and a step to either side of each.
func (c *calibration) compute(x []float64) {
	if c.err != nil || slices.Equal(c.at, x) {
		return
	}
	c.at = slices.Clone(x)
	n, p := len(c.measured), len(x)
	c.model, c.jacobian = make([]float64, n), mat.NewDense(n, p, nil)
	variants := make([]*profiles.Machine, 0, 1+2*p)
	for k := -1; k < p; k++ {
		for _, side := range [...]float64{-stepSize, stepSize} {
			moved := slices.Clone(x)
			if k >= 0 {
				moved[k] += side
			}
			v, err := c.machine(moved, nil)
			if err != nil {
				c.err = err
				return
			}
			variants = append(variants, v)
			if k < 0 {
				break
			}
		}
	}
	byProgram := map[string][]motion.Times{}
	i := 0
	for _, r := range c.runs {
		times, known := byProgram[r.Program]
		if !known {
			if times, c.err = c.time(r.Program, variants); c.err != nil {
				c.err = fmt.Errorf("line %d of the runs: %w", r.Line, c.err)
				return
			}
			byProgram[r.Program] = times
		}
		for _, one := range r.Measured {
			of := Parts[one.Part].Of
			c.model[i] = of(&times[0])
			for k := range p {
				c.jacobian.Set(i, k, (of(&times[2+2*k])-of(&times[1+2*k]))/(2*stepSize))
			}
			i++
		}
	}
}

func (c *calibration) time(path string, variants []*profiles.Machine) ([]motion.Times, error) {
	src, size, done, err := c.open(path)
	if err != nil {
		return nil, err
	}
	defer done()
	times, dropped, err := Time(src, size, c.m, variants, c.options)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	if dropped > 0 {
		return nil, fmt.Errorf("%s: the time that is computed for it is not whole: on %s %s with something that is not executed: \"tapefit check\" says where; leave the run out or mend the program",
			path, c.m.Name, blocksHave(dropped))
	}
	if times[0].UnknownCuts > 0 || times[0].UnknownFeeds > 0 {
		return nil, fmt.Errorf("%s: has cuts whose way or feed is not known: \"tapefit check\" says where; leave the run out or mend the program", path)
	}
	return times, nil
}

func blocksHave(n int) string {
	if n == 1 {
		return "it has a block"
	}
	return fmt.Sprintf("it has %d blocks", n)
}

// machine is the profile with values; of those that only says, where it is given.
func (c *calibration) machine(x []float64, only func(k int) bool) (*profiles.Machine, error) {
	var settings []string
	for k, v := range c.values {
		if only != nil && !only(k) {
			continue
		}
		s, err := c.m.Scaled(v.Path, math.Exp(x[k]))
		if err != nil {
			return nil, err
		}
		settings = append(settings, s)
	}
	return c.m.With(settings...)
}

// report says how sure the values at the floor are, from the curvature there.
func (c *calibration) report(x []float64) (*Fit, error) {
	p := len(x)
	c.compute(x)
	if c.err != nil {
		return nil, c.err
	}
	cov, err := c.covariance()
	if err != nil {
		return nil, err
	}
	free := float64(len(c.model) - p)
	f := &Fit{Machine: c.m, Runs: c.runs, Noise: 1}
	half := distuv.UnitNormal.Quantile(0.975)
	if free >= 3 {
		f.Noise = max(1, math.Sqrt(c.chi2()/free))
		half = distuv.StudentsT{Mu: 0, Sigma: 1, Nu: free}.Quantile(0.975)
	}
	for k := range c.values {
		v := &c.values[k]
		spread := half * f.Noise * math.Sqrt(cov.At(k, k))
		v.Silent = c.silent(k)
		v.Found = v.Profile * math.Exp(x[k])
		if at, ok := c.bound(k, x[k]); ok {
			v.Bound = v.Profile * math.Exp(at)
			v.Physical = math.Abs(at) < math.Log(farthest)-bounded
		}
		v.Determined = spread <= mostSpread && !v.Silent && v.Bound == 0
		v.Low, v.High = v.Found*math.Exp(-spread), v.Found*math.Exp(spread)
	}
	f.Values, f.Together = c.values, c.together()
	if f.After, err = c.machine(x, func(k int) bool { return c.values[k].Determined }); err != nil {
		return nil, err
	}
	for k := range x {
		if !c.values[k].Determined {
			x[k] = 0
		}
	}
	c.compute(x)
	f.Fitted = slices.Clone(c.model)
	for i := range c.model {
		f.Strange = append(f.Strange, math.Abs(c.model[i]-c.measured[i]) > strange*c.sigma[i])
	}
	c.compute(make([]float64, p))
	f.Before = c.model
	if c.err != nil {
		return nil, c.err
	}
	return f, nil
}

// bound is the bound that the logarithm x of value k stands at, if it does: the
// runs would have the value beyond it.
func (c *calibration) bound(k int, x float64) (at float64, ok bool) {
	switch {
	case x > c.top[k]-bounded:
		return c.top[k], true
	case x < c.low[k]+bounded:
		return c.low[k], true
	}
	return 0, false
}

func (c *calibration) chi2() float64 {
	sum := 0.0
	for i := range c.model {
		r := (c.model[i] - c.measured[i]) / c.sigma[i]
		sum += r * r
	}
	return sum
}

// silent says whether no measure hangs on value k.
func (c *calibration) silent(k int) bool {
	for i := range c.model {
		if math.Abs(c.jacobian.At(i, k))*math.Ln2 > least {
			return false
		}
	}
	return true
}

// curvature is that of the misfit over the logarithms, the weak prior within it,
// as far as times are straight in them (Gauss and Newton).
func (c *calibration) curvature() *mat.SymDense {
	p := len(c.values)
	curve := mat.NewSymDense(p, nil)
	for k := range p {
		for l := k; l < p; l++ {
			sum := 0.0
			for i := range c.model {
				sum += c.jacobian.At(i, k) * c.jacobian.At(i, l) / (c.sigma[i] * c.sigma[i])
			}
			if k == l {
				sum += 1 / (prior * prior)
			}
			curve.SetSym(k, l, sum)
		}
	}
	return curve
}

// covariance is that of the logarithms: the inverse of the curvature.
func (c *calibration) covariance() (*mat.SymDense, error) {
	var chol mat.Cholesky
	if !chol.Factorize(c.curvature()) {
		return nil, errors.New("the runs give no curvature to judge the values by: are there times without bounds among them?")
	}
	cov := mat.NewSymDense(len(c.values), nil)
	if err := chol.InverseTo(cov); err != nil {
		return nil, fmt.Errorf("the values cannot be judged: %w", err)
	}
	return cov, nil
}

// together groups undetermined values that the runs do not tell apart: what the
// one gains the other loses.
func (c *calibration) together() [][]int {
	group := make([]int, len(c.values))
	for k := range group {
		group[k] = k
	}
	for k := range c.values {
		for l := range k {
			if c.values[k].Silent || c.values[l].Silent || c.values[k].Determined && c.values[l].Determined {
				continue
			}
			if c.alike(k, l) > likeness {
				old, to := group[k], group[l]
				for i := range group {
					if group[i] == old {
						group[i] = to
					}
				}
			}
		}
	}
	var all [][]int
	for k := range group {
		var members []int
		for l := range group {
			if group[l] == k {
				members = append(members, l)
			}
		}
		if len(members) > 1 {
			all = append(all, members)
		}
	}
	return all
}

// alike is the cosine between what two values do to the measures: 1 where runs
// hang on both in the same proportion.
func (c *calibration) alike(k, l int) float64 {
	var kk, ll, kl float64
	for i := range c.model {
		w := 1 / (c.sigma[i] * c.sigma[i])
		a, b := c.jacobian.At(i, k), c.jacobian.At(i, l)
		kk, ll, kl = kk+w*a*a, ll+w*b*b, kl+w*a*b
	}
	if kk == 0 || ll == 0 {
		return 0
	}
	return math.Abs(kl) / math.Sqrt(kk*ll)
}
