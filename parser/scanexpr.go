package parser

// This file is the fast door for computed values, parameter settings and flow
// statements. Like scan it accepts what is written plainly and leaves the rest
// to the grammar: names with blanks inside, deep nesting, anything wrong.

// fastDepth and fastValues bound how deep the fast door follows brackets and #,
// and how many values one expression has there; the rest is the grammar's, which
// has bounds of its own.
const (
	fastDepth  = maxDepth
	fastValues = 1000
)

// exprScanner reads one value. It fails once and for all.
type exprScanner struct {
	nodes  *nodes
	s      []byte
	i      int // of the next byte
	depth  int
	values int  // read so far
	bare   bool // outside brackets: operators are no letters
	failed bool
}

// node is an expression with room for its arguments.
type node struct {
	Expr
	args [2]*Expr
}

// nodes are those of the trees of one block, used again for the next one.
type nodes struct {
	all  []*node // one by one: trees point into them, so they stay where they are
	used int
}

// mostNodes bounds what is kept for use again.
const mostNodes = 1 << 12

func (n *nodes) add(e Expr) *node {
	if n.used >= mostNodes {
		return &node{Expr: e}
	}
	if n.used == len(n.all) {
		n.all = append(n.all, new(node))
	}
	one := n.all[n.used]
	n.used++
	one.Expr = e
	return one
}

// next skips blanks and gives the byte that follows; 0 at the end.
func (x *exprScanner) next() byte {
	x.i = skipBlanks(x.s, x.i)
	if x.i >= len(x.s) {
		return 0
	}
	return x.s[x.i]
}

// take steps over the byte if it stands next.
func (x *exprScanner) take(c byte) bool {
	if x.next() != c {
		x.failed = true
		return false
	}
	x.i++
	return true
}

// A spot is a value with its outer bounds: those of an expression in brackets
// are its own, without them.
type spot struct {
	e        *Expr
	pos, end int32
}

// signed is a value with an optional sign.
func (x *exprScanner) signed() spot {
	c := x.next()
	at := int32(x.i)
	if c != '-' && c != '+' {
		return x.primary()
	}
	x.i++
	digits := isNumeral(x.next())
	v := x.primary()
	if x.failed {
		return v
	}
	v.pos = at
	switch {
	case digits: // the sign is the number's
		v.e.Pos = at
		if c == '-' {
			v.e.Value = -v.e.Value
		}
	case c == '-':
		n := x.nodes.add(Expr{Op: Neg, Pos: at, End: v.end})
		n.args[0] = v.e
		n.Args = n.args[:1]
		v.e = &n.Expr
	}
	return v
}

// primary is a number, a parameter, an expression in brackets or a function.
func (x *exprScanner) primary() spot {
	c := x.next()
	at := int32(x.i)
	x.values++
	x.depth++
	defer func() { x.depth-- }()
	switch {
	case x.depth > fastDepth || x.values > fastValues:
		x.failed = true
	case isNumeral(c):
		var w Word
		end := w.number(x.s, x.i)
		if end == 0 || x.i >= len(x.s) || isNumeralNext(x.s, end) {
			x.failed = true
			break
		}
		x.i = end
		n := x.nodes.add(Expr{Op: Number, Pos: at, End: int32(end), Value: w.Value})
		return spot{&n.Expr, at, int32(end)}
	case c == '#':
		x.i++
		v := x.primary()
		if x.failed {
			break
		}
		n := x.nodes.add(Expr{Op: Param, Pos: at, End: v.end})
		n.args[0] = v.e
		n.Args = n.args[:1]
		return spot{&n.Expr, at, v.end}
	case c == '[':
		e := x.bracket()
		return spot{e, at, int32(x.i)}
	case isLetter(c):
		return x.function(at)
	default:
		x.failed = true
	}
	return spot{}
}

// isNumeralNext says whether a digit or a point follows behind blanks: a number
// with blanks inside.
func isNumeralNext(s []byte, i int) bool {
	i = skipBlanks(s, i)
	return i < len(s) && isNumeral(s[i])
}

// bracket is an expression in brackets.
func (x *exprScanner) bracket() *Expr {
	if !x.take('[') {
		return nil
	}
	bare := x.bare
	x.bare = false
	first := x.signed()
	e := x.climb(first, 1)
	x.bare = bare
	if x.failed || !x.take(']') {
		return nil
	}
	return e
}

func (x *exprScanner) function(at int32) spot {
	for _, f := range functions {
		end := x.spelled(f.name)
		if end == 0 {
			continue
		}
		i := skipBlanks(x.s, end)
		if i >= len(x.s) || x.s[i] != '[' {
			continue
		}
		x.i = i
		n := x.nodes.add(Expr{Op: f.op, Pos: at})
		n.args[0] = x.bracket()
		n.Args = n.args[:1]
		if f.op == Atan {
			if x.failed || !x.take('/') || x.next() != '[' {
				break
			}
			n.args[1] = x.bracket()
			n.Args = n.args[:2]
		}
		n.End = int32(x.i)
		return spot{&n.Expr, at, n.End}
	}
	x.failed = true
	return spot{}
}

// spelled gives the end of the name at i, in one piece; 0 where it does not
// stand there.
func (x *exprScanner) spelled(name string) int {
	if len(x.s)-x.i < len(name) {
		return 0
	}
	for k := range len(name) {
		if x.s[x.i+k]&^0x20 != name[k] {
			return 0
		}
	}
	return x.i + len(name)
}

// operator looks for an operator at i and gives the place behind it.
func (x *exprScanner) operator() (op ExprOp, binds, end int) {
	switch c := x.next(); {
	case c == '+':
		return Add, 2, x.i + 1
	case c == '-':
		return Sub, 2, x.i + 1
	case c == '/':
		return Div, 3, x.i + 1
	case c == '*':
		if i := skipBlanks(x.s, x.i+1); i < len(x.s) && x.s[i] == '*' {
			return Pow, 4, i + 1
		}
		return Mul, 3, x.i + 1
	case isLetter(c) && !x.bare:
		for _, o := range operators {
			if isLetter(o.name[0]) {
				if end := x.spelled(o.name); end > 0 {
					return o.op, o.binds, end
				}
			}
		}
	}
	return 0, 0, 0
}

// climb reads operations as long as they bind at least as tight as said.
func (x *exprScanner) climb(first spot, least int) *Expr {
	e := first.e
	for !x.failed {
		op, binds, end := x.operator()
		if end == 0 || binds < least {
			break
		}
		x.i = end
		next := x.signed()
		if x.failed {
			break
		}
		right := x.climb(next, binds+1)
		if x.failed {
			break
		}
		n := x.nodes.add(Expr{Op: op, Pos: first.pos, End: max(next.end, right.End)})
		n.args = [2]*Expr{e, right}
		n.Args = n.args[:2]
		e = &n.Expr
	}
	return e
}

// scanComputed reads the computed value of a word behind its address, at i, and
// gives its end; 0 where the grammar must.
func (w *Word) scanComputed(nodes *nodes, s []byte, i int) int {
	x := exprScanner{nodes: nodes, s: s, i: i}
	v := x.signed()
	if x.failed || v.e.Op == Number && v.e.Pos == v.pos {
		return 0 // a number without brackets is number's, with all that Word says of it
	}
	*w = Word{Address: w.Address, Pos: w.Pos, End: v.end, Expr: v.e}
	return int(v.end)
}

// scanSetting reads the parameter setting at i and gives its end.
func (b *Block) scanSetting(s []byte, i int) int {
	x := exprScanner{nodes: &b.nodes, s: s, i: i}
	set := x.setting()
	if x.failed {
		return 0
	}
	b.Settings = append(b.Settings, set)
	return int(set.End)
}

func (x *exprScanner) setting() (set Setting) {
	if x.next() != '#' {
		x.failed = true
		return set
	}
	set.Pos = int32(x.i)
	x.i++
	set.Index = x.primary().e
	if x.failed || !x.take('=') {
		return set
	}
	v := x.signed()
	set.Value, set.End = v.e, v.end
	if x.failed {
		return set
	}
	x.bare = true
	if e := x.climb(v, 1); e != v.e {
		set.Value, set.End, set.Bare = e, e.End, true
	}
	x.bare = false
	return set
}

// scanFlow reads the flow statement at i and gives its end; 0 where the letters
// are no flow word or the grammar must.
func (b *Block) scanFlow(s []byte, i int) int {
	if b.Flow != nil {
		return 0
	}
	x := exprScanner{nodes: &b.nodes, s: s, i: i}
	f := Flow{Pos: int32(i)}
	switch {
	case x.word("GOTO"):
		f.Kind = Goto
		x.target(&f)
	case x.word("IF"):
		f.Cond = x.bracket()
		x.next()
		if x.word("GOTO") {
			f.Kind = IfGoto
			x.target(&f)
		} else if x.word("THEN") {
			f.Kind = IfThen
			set := x.setting()
			f.Then, f.End = &set, set.End
		} else {
			x.failed = true
		}
	case x.word("WHILE"):
		f.Kind, f.Cond = While, x.bracket()
		x.next()
		if x.failed = x.failed || !x.word("DO"); !x.failed {
			x.target(&f)
		}
	case x.word("DO"):
		f.Kind = Do
		x.target(&f)
	case x.word("END"):
		f.Kind = EndDo
		x.target(&f)
	default:
		return 0
	}
	if x.failed {
		return 0
	}
	found := f // so that what is no flow statement allocates nothing
	b.Flow = &found
	return int(found.End)
}

// word steps over a flow word if it stands at i with what belongs behind it.
func (x *exprScanner) word(name string) bool {
	end := x.spelled(name)
	if x.failed || end == 0 {
		return false
	}
	for _, f := range flowWords {
		if f.name != name {
			continue
		}
		i := skipBlanks(x.s, end)
		for k := range len(f.behind) {
			if i < len(x.s) && x.s[i] == f.behind[k] {
				x.i = end
				return true
			}
		}
	}
	return false
}

func (x *exprScanner) target(f *Flow) {
	v := x.primary()
	f.Target, f.End = v.e, v.end
}
