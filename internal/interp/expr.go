package interp

import (
	"math"

	"tapefit/parser"
)

// numParams is one more than the highest parameter (NISTIR 6556: 1 to 5399,
// from memory).
const numParams = 5400

// evalWord is the value of a word that is computed. False: a fault has said
// why it has none.
func (in *Interp) evalWord(b *parser.Block, i int) (float64, bool) {
	word := &b.Words[i]
	if !in.mayCompute(b, i, word.Expr) {
		return 0, false
	}
	return in.eval(b, i, word.Expr)
}

// mayCompute says whether the control takes parameters and expressions; where
// it does not, that is a fault at the word.
func (in *Interp) mayCompute(b *parser.Block, i int, e *parser.Expr) bool {
	cause := ""
	switch {
	case (e.Op == parser.Param || e.Op == parser.Neg) && !in.m.Block.Parameters:
		cause = RefusedParameters
	case e.Op != parser.Param && e.Op != parser.Neg && !in.m.Block.Expressions:
		cause = RefusedExpressions
	default:
		return true
	}
	f := in.faultAt(NotAccepted, b, i)
	f.Cause = cause
	if i < 0 {
		f.Pos, f.End = e.Pos, e.End
	}
	in.emitFault()
	return false
}

// Causes of NotAccepted faults that are not of a code or address.
const (
	RefusedParameters  = "parameters"
	RefusedExpressions = "expressions"
	RefusedFlow        = "flow statements"
	RefusedBeside      = "words beside a flow statement"
	RefusedBare        = "parameters computed without brackets" // executed all the same
)

// eval is the value of an expression; what has none is a fault.
func (in *Interp) eval(b *parser.Block, i int, e *parser.Expr) (float64, bool) {
	in.vacant = nil
	v, bad, cause := in.compute(e)
	if in.vacant != nil && !in.changing {
		f := in.faultAt(ParamVacant, b, i)
		f.Pos, f.End, f.A = in.vacant.Pos, in.vacant.End, in.vacantNumber
		f.Missing = in.argumentOf(in.vacantNumber)
		in.emitFault()
	}
	in.vacant = nil
	switch cause {
	case "":
		return v, true
	case lostParameter: // the fault that lost it has spoken
		return 0, false
	}
	f := in.faultAt(BadExpression, b, i)
	f.Pos, f.End, f.Cause = bad.Pos, bad.End, cause
	if cause == UnknownParameter {
		f.Kind = NotInterpreted
	}
	in.emitFault()
	return 0, false
}

// compute gives the value, or the node that has none and why.
func (in *Interp) compute(e *parser.Expr) (v float64, bad *parser.Expr, cause string) {
	if e.Op == parser.Number {
		return e.Value, nil, ""
	}
	if v, is := in.asksVacant(e); is {
		return v, nil, ""
	}
	var arg [2]float64
	for i, a := range e.Args {
		if arg[i], bad, cause = in.compute(a); cause != "" {
			return 0, bad, cause
		}
	}
	if e.Op == parser.Param {
		if v, cause = in.param(arg[0]); cause == "" && isVacant(v) {
			v = 0
			if in.vacant == nil && arg[0] >= 1 {
				in.vacant, in.vacantNumber = e, math.Round(arg[0])
			}
		}
	} else {
		v, cause = apply(e.Op, arg[0], arg[1])
	}
	if cause == "" && (math.IsNaN(v) || math.IsInf(v, 0)) {
		cause = "the value is beyond all numbers"
	}
	if cause != "" {
		return 0, e, cause
	}
	return v, nil, ""
}

func (in *Interp) param(number float64) (v float64, cause string) {
	n, ok := whole(number)
	if ok && n == 0 && in.locals.n > 0 {
		return vacant, ""
	}
	if !ok || n < 1 || n >= numParams {
		return 0, "a parameter number is whole, 1 to 5399"
	}
	if n <= int64(in.locals.n) {
		return known(in.locals.own()[n-1])
	}
	if n >= paramProbe {
		if v, cause, is := in.systemParam(int(n)); is {
			return v, cause
		}
	}
	if in.params == nil {
		return vacant, ""
	}
	return known(in.params[n])
}

// vacant is a parameter that nothing has set, which counts as zero (NISTIR 6556). A
// control with local parameters has one that is always so, #0, to compare with (common
// practice). It is a NaN of its own, told by its bits.
var vacant = math.Float64frombits(0x7ff8_0000_5641_4341)

func isVacant(v float64) bool { return math.Float64bits(v) == 0x7ff8_0000_5641_4341 }

// vacancy makes them all vacant.
func vacancy(params []float64) []float64 {
	for i := range params {
		params[i] = vacant
	}
	return params
}

// asksVacant is the value of a comparison with #0: whether a parameter was set. is
// is false of all else.
func (in *Interp) asksVacant(e *parser.Expr) (v float64, is bool) {
	if e.Op != parser.Eq && e.Op != parser.Ne || in.locals.n == 0 {
		return 0, false
	}
	a, b := e.Args[0], e.Args[1]
	if isNothing(a) {
		a, b = b, a
	}
	if !isNothing(b) {
		return 0, false
	}
	empty := false
	if a.Op == parser.Param {
		number, _, cause := in.compute(a.Args[0])
		if cause != "" {
			return 0, false
		}
		value, cause := in.param(number)
		if cause != "" {
			return 0, false // the fault is that of reading it
		}
		empty = isVacant(value)
	} else if _, _, cause := in.compute(a); cause != "" {
		return 0, false
	}
	return truth(empty == (e.Op == parser.Eq)), true
}

// isNothing says whether the expression is #0.
func isNothing(e *parser.Expr) bool {
	return e.Op == parser.Param && e.Args[0].Op == parser.Number && e.Args[0].Value == 0
}

// lostParameter is why a parameter has no value that was set by something which
// has none itself, or which could not be read.
const lostParameter = "lost"

// known is the value of a parameter; NaN stands for one that is lost.
func known(v float64) (float64, string) {
	if math.IsNaN(v) && !isVacant(v) {
		return 0, lostParameter
	}
	return v, ""
}

// loseParams forgets the parameters that a block which cannot be read may have
// set: any.
func (in *Interp) loseParams() {
	if in.params == nil {
		in.params = make([]float64, numParams)
	}
	for i := range in.params {
		in.params[i] = math.NaN()
	}
	if in.locals.n > 0 {
		own := in.locals.own()
		for i := range own {
			own[i] = math.NaN()
		}
	}
}

// truth is 1 or 0.
func truth(is bool) float64 {
	if is {
		return 1
	}
	return 0
}

// apply computes one operation; angles are in degrees.
func apply(op parser.ExprOp, a, b float64) (v float64, cause string) {
	const degree = math.Pi / 180
	switch op {
	case parser.Neg:
		return -a, ""
	case parser.Pow:
		if a < 0 && b != math.Trunc(b) {
			return 0, "a negative number has no power that is not whole"
		}
		return math.Pow(a, b), ""
	case parser.Mul:
		return a * b, ""
	case parser.Div:
		if b == 0 {
			return 0, "division by zero"
		}
		return a / b, ""
	case parser.Mod:
		if b == 0 {
			return 0, "division by zero"
		}
		v = math.Mod(a, b) // never negative (NISTIR 6556)
		if v < 0 {
			v += math.Abs(b)
		}
		return v, ""
	case parser.Add:
		return a + b, ""
	case parser.Sub:
		return a - b, ""
	case parser.And:
		return truth(a != 0 && b != 0), ""
	case parser.Or:
		return truth(a != 0 || b != 0), ""
	case parser.Xor:
		return truth((a != 0) != (b != 0)), ""
	case parser.Eq:
		return truth(a == b), ""
	case parser.Ne:
		return truth(a != b), ""
	case parser.Gt:
		return truth(a > b), ""
	case parser.Ge:
		return truth(a >= b), ""
	case parser.Lt:
		return truth(a < b), ""
	case parser.Le:
		return truth(a <= b), ""
	case parser.Abs:
		return math.Abs(a), ""
	case parser.Acos, parser.Asin:
		if a < -1 || a > 1 {
			return 0, "ACOS and ASIN take -1 to 1"
		}
		if op == parser.Acos {
			return math.Acos(a) / degree, ""
		}
		return math.Asin(a) / degree, ""
	case parser.Atan:
		return math.Atan2(a, b) / degree, ""
	case parser.Cos:
		return math.Cos(a * degree), ""
	case parser.Exp:
		return math.Exp(a), ""
	case parser.Fix:
		return math.Floor(a), ""
	case parser.Fup:
		return math.Ceil(a), ""
	case parser.Ln:
		if a <= 0 {
			return 0, "LN takes a number over zero"
		}
		return math.Log(a), ""
	case parser.Round:
		return math.Round(a), ""
	case parser.Sin:
		return math.Sin(a * degree), ""
	case parser.Sqrt:
		if a < 0 {
			return 0, "SQRT takes zero or more"
		}
		return math.Sqrt(a), ""
	case parser.Tan:
		return math.Tan(a * degree), ""
	}
	return 0, "the operation is not known"
}

// settings sets parameters: all are computed before the first is set, so that a
// block sees none of its own.
func (in *Interp) settings(b *parser.Block, list []parser.Setting) {
	in.pending = in.pending[:0]
	for i := range list {
		set := &list[i]
		if !in.maySet(b, set) {
			return
		}
		if set.Bare && !in.m.Block.BareSettings { // what it means is not in doubt
			f := in.faultAt(NotAccepted, b, -1)
			f.Pos, f.End, f.Cause = set.Pos, set.End, RefusedBare
			in.emitFault()
		}
		number, ok := in.eval(b, -1, set.Index)
		if !ok {
			in.loseParams()
			return
		}
		n, ok := whole(number)
		if !ok || n < 1 || n >= numParams {
			f := in.faultAt(BadExpression, b, -1)
			f.Pos, f.End, f.Cause = set.Pos, set.End, "a parameter number is whole, 1 to 5399"
			in.emitFault()
			return
		}
		v, ok := in.eval(b, -1, set.Value)
		switch {
		case !ok:
			v = math.NaN()
		case isNothing(set.Value):
			v = vacant
		}
		in.pending = append(in.pending, assignment{int(n), v})
	}
	for _, p := range in.pending {
		in.setParam(p.number, p.value)
	}
}

// setParam sets a parameter, 1 to 5399.
func (in *Interp) setParam(number int, v float64) {
	if number <= in.locals.n {
		in.locals.own()[number-1] = v
		return
	}
	if in.params == nil {
		in.params = vacancy(make([]float64, numParams))
	}
	in.params[number] = v
	if !math.IsNaN(v) {
		in.setSystemParam(number, v)
	}
}

// maySet says whether the control takes parameter settings.
func (in *Interp) maySet(b *parser.Block, set *parser.Setting) bool {
	if in.m.Block.Parameters {
		return set.Value.Op == parser.Number || in.mayCompute(b, -1, set.Value)
	}
	f := in.faultAt(NotAccepted, b, -1)
	f.Pos, f.End, f.Cause = set.Pos, set.End, RefusedParameters
	in.emitFault()
	return false
}

// assignment is a parameter setting that waits for the end of its block.
type assignment struct {
	number int
	value  float64
}
