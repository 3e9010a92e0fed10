package parser

import (
	"math"
	"strconv"
)

// Down to functionNamed, this file makes the tree that the package gives out of the
// one that participle builds.

func (f *flowItem) flow() *Flow {
	flow := &Flow{Pos: place(f.Pos), End: place(f.EndPos)}
	switch {
	case f.Goto != nil:
		flow.Kind, flow.Target = Goto, f.Goto.expr()
	case f.If != nil && f.If.Goto != nil:
		flow.Kind, flow.Cond, flow.Target = IfGoto, f.If.Cond.expr(), f.If.Goto.expr()
	case f.If != nil:
		flow.Kind, flow.Cond, flow.Then = IfThen, f.If.Cond.expr(), f.If.Then.setting()
	case f.While != nil:
		flow.Kind, flow.Cond, flow.Target = While, f.While.Cond.expr(), f.While.Do.expr()
	case f.Do != nil:
		flow.Kind, flow.Target = Do, f.Do.expr()
	default:
		flow.Kind, flow.Target = EndDo, f.End.expr()
	}
	return flow
}

func (s *setting) setting() *Setting {
	value := expression{First: s.Value.First}
	for _, t := range s.Value.Rest {
		value.Rest = append(value.Rest, &operation{t.EndPos, t.Op, t.Right})
	}
	return &Setting{place(s.Pos), place(s.EndPos), s.Index.expr(), value.expr(), len(value.Rest) > 0}
}

// expr builds the tree by precedence climbing: all operators bind from the left.
func (x *expression) expr() *Expr {
	rest := x.Rest
	return climb(x.First, &rest, 1)
}

// climb takes operations off rest as long as they bind at least as tight as
// said.
func climb(first *signed, rest *[]*operation, least int) *Expr {
	e := first.expr()
	for len(*rest) > 0 {
		r := (*rest)[0]
		op, binds := operatorNamed(r.Op)
		if binds < least {
			break
		}
		*rest = (*rest)[1:]
		right := climb(r.Right, rest, binds+1)
		end := place(r.EndPos)
		if right.End > end {
			end = right.End
		}
		e = &Expr{Op: op, Pos: place(first.Pos), End: end, Args: []*Expr{e, right}}
	}
	return e
}

func (s *signed) expr() *Expr {
	e := s.Value.expr()
	switch {
	case s.Sign == "":
	case s.Value.Number != "": // the sign is the number's
		e.Pos, e.Value = place(s.Pos), float(s.Sign, s.Value.Number)
	case s.Sign == "-":
		return &Expr{Op: Neg, Pos: place(s.Pos), End: place(s.EndPos), Args: []*Expr{e}}
	}
	return e
}

func (p *primary) expr() *Expr {
	e := &Expr{Pos: place(p.Pos), End: place(p.EndPos)}
	switch {
	case p.Param != nil:
		e.Op, e.Args = Param, []*Expr{p.Param.expr()}
	case p.Bracket != nil:
		return p.Bracket.expr()
	case p.Atan != nil:
		e.Op, e.Args = Atan, []*Expr{p.Atan.Over.expr(), p.Atan.Under.expr()}
	case p.Call != nil:
		e.Op, e.Args = functionNamed(p.Call.Name), []*Expr{p.Call.Arg.expr()}
	default:
		e.Op, e.Value = Number, float("", p.Number)
	}
	return e
}

func operatorNamed(name string) (op ExprOp, binds int) {
	for _, o := range operators {
		if o.name == name {
			return o.op, o.binds
		}
	}
	return 0, 0
}

func functionNamed(name string) ExprOp {
	for _, f := range functions {
		if f.name == name {
			return f.op
		}
	}
	return 0
}

// String writes the expression so that it reads as the same tree: with
// brackets around each operation inside another, in upper case, without
// blanks but around operators of letters. An operation that stands alone has
// no brackets: as the value of a word it needs them.
func (e *Expr) String() string { return string(e.append(nil)) }

func (e *Expr) append(dst []byte) []byte {
	switch {
	case e.Op == Number:
		return strconv.AppendFloat(dst, e.Value, 'f', -1, 64)
	case e.Op == Param:
		return e.Args[0].operand(append(dst, '#'))
	case e.Op == Neg && e.Args[0].Op == Number: // without brackets it were a negative number
		return e.Args[0].bracket(append(dst, '-'))
	case e.Op == Neg:
		return e.Args[0].operand(append(dst, '-'))
	case e.Op == Atan:
		dst = e.Args[0].bracket(append(dst, "ATAN"...))
		return e.Args[1].bracket(append(dst, '/'))
	case e.Op >= Abs:
		return e.Args[0].bracket(append(dst, e.Op.name()...))
	}
	dst = e.Args[0].operand(dst)
	dst = append(dst, e.Op.name()...)
	return e.Args[1].operand(dst)
}

// operand is append, in brackets where the text would else be read otherwise.
func (e *Expr) operand(dst []byte) []byte {
	if e.Op == Number && !math.Signbit(e.Value) || e.Op == Param || e.Op >= Abs {
		return e.append(dst)
	}
	return e.bracket(dst)
}

func (e *Expr) bracket(dst []byte) []byte {
	return append(e.append(append(dst, '[')), ']')
}

// name is how the operator stands between its values, or the function in
// front of its bracket.
func (op ExprOp) name() string {
	for _, o := range operators {
		if o.op == op && isLetter(o.name[0]) {
			return " " + o.name + " "
		}
		if o.op == op {
			return o.name
		}
	}
	for _, f := range functions {
		if f.op == op {
			return f.name
		}
	}
	return ""
}
