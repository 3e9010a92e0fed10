package interp

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tapefit/parser"
)

// A line is one block of a random program with flow.
type line struct {
	kind   string // "program", "count", "goto", "if", "while", "do", "end", "call", "macro", "return", "stop", "plain"
	n      int    // sequence number of its own, 0 for none
	target int    // sequence number, label or program
	param  int    // counted, compared, or given as A
	limit  int    // of the comparison; repeats of a call
}

func (l line) String() string {
	s := ""
	if l.kind == "program" {
		return fmt.Sprintf("O%d", l.target)
	}
	if l.n > 0 {
		s = fmt.Sprintf("N%d ", l.n)
	}
	switch l.kind {
	case "count":
		return s + fmt.Sprintf("#%d=[#%d+1]", l.param, l.param)
	case "goto":
		return s + fmt.Sprintf("GOTO %d", l.target)
	case "if":
		return s + fmt.Sprintf("IF [#%d LT %d] GOTO %d", l.param, l.limit, l.target)
	case "while":
		return s + fmt.Sprintf("WHILE [#%d LT %d] DO %d", l.param, l.limit, l.target)
	case "do":
		return s + fmt.Sprintf("DO %d", l.target)
	case "end":
		return s + fmt.Sprintf("END %d", l.target)
	case "call":
		return s + fmt.Sprintf("M98 P%d L%d", l.target, l.limit)
	case "macro":
		return s + fmt.Sprintf("G65 P%d L%d A#%d", l.target, l.limit, l.param)
	case "return":
		return s + "M99"
	case "stop":
		return s + "M30"
	}
	return s + "G4 P0"
}

// A model runs the lines from a slice, by recursion, with nothing remembered:
// what the interpreter does from a file, slowly and plainly.
type model struct {
	lines  []line
	common [1000]int
	local  *[34]int
	budget int
	trace  []int // line numbers, from 1, of what was executed
	levels int
}

type outcome int

const (
	returned outcome = iota
	ended
)

// cell is a parameter: local up to #33.
func (m *model) cell(n int) *int {
	if n <= 33 {
		return &m.local[n]
	}
	return &m.common[n]
}

// bounds are the lines of the program that line i belongs to.
func (m *model) bounds(i int) (from, to int) {
	from = i
	for from > 0 && m.lines[from].kind != "program" {
		from--
	}
	to = i + 1
	for to < len(m.lines) && m.lines[to].kind != "program" {
		to++
	}
	return from, to
}

// find looks for a sequence number, forward and then from the beginning.
func (m *model) find(i, n int) int {
	from, to := m.bounds(i)
	for _, r := range [][2]int{{i + 1, to}, {from, i + 1}} {
		for j := r[0]; j < r[1]; j++ {
			if m.lines[j].n == n {
				return j
			}
		}
	}
	return -1
}

// matching is the line of the END of the loop at line i, -1 for none.
func (m *model) matching(i int) int {
	_, to := m.bounds(i)
	for j, deep := i+1, 1; j < to; j++ {
		switch l := m.lines[j]; {
		case l.target != m.lines[i].target:
		case l.kind == "do" || l.kind == "while":
			deep++
		case l.kind == "end":
			if deep--; deep == 0 {
				return j
			}
		}
	}
	return -1
}

// run executes from line i to a return or an end. main says that it is the main
// program, which runs on over program numbers.
func (m *model) run(i int, main bool) outcome {
	var loops []int // lines of DO
	for first := true; i < len(m.lines); first = false {
		l := m.lines[i]
		if l.kind == "program" && !first && !main {
			return returned
		}
		if m.budget--; m.budget < 0 {
			return ended
		}
		m.trace = append(m.trace, i+1)
		next := i + 1
		switch l.kind {
		case "count":
			*m.cell(l.param)++
		case "if", "goto":
			if l.kind == "if" && *m.cell(l.param) >= l.limit {
				break
			}
			if j := m.find(i, l.target); j >= 0 {
				next = j
				loops = slices.DeleteFunc(loops, func(d int) bool { return j < d || j > m.matching(d) })
			}
		case "while", "do":
			next = m.loop(i, &loops)
		case "end":
			for k := len(loops) - 1; k >= 0; k-- {
				if m.matching(loops[k]) == i {
					next, loops = loops[k], loops[:k+1]
					break
				}
			}
		case "call", "macro":
			if m.call(i, l) == ended {
				return ended
			}
		case "return":
			if main {
				return ended
			}
			return returned
		case "stop":
			return ended
		}
		i = next
	}
	return returned
}

// loop is a WHILE or DO; it gives the line to go on with.
func (m *model) loop(i int, loops *[]int) int {
	l := m.lines[i]
	end := m.matching(i)
	if k := slices.Index(*loops, i); k >= 0 {
		*loops = (*loops)[:k]
	} else if n := len(*loops); end < 0 || n > 0 && m.matching((*loops)[n-1]) < end {
		return i + 1 // it has no end, or crosses another: a fault, and not run
	}
	if l.kind == "while" && *m.cell(l.param) >= l.limit {
		return end + 1
	}
	*loops = append(*loops, i)
	return i + 1
}

func (m *model) call(i int, l line) outcome {
	at := slices.IndexFunc(m.lines, func(x line) bool { return x.kind == "program" && x.target == l.target })
	if m.levels >= 4 || at < 0 {
		return returned
	}
	m.levels++
	defer func() { m.levels-- }()
	local, a := m.local, *m.cell(l.param)
	defer func() { m.local = local }()
	for range l.limit {
		if l.kind == "macro" {
			m.local = &[34]int{}
			m.local[1] = a
		}
		if m.run(at, false) == ended {
			return ended
		}
	}
	return returned
}

// drawProgram makes a program of a main program and some subprograms with
// jumps, loops and calls, sound and broken ones.
func drawProgram(t *rapid.T) []line {
	kinds := []string{"plain", "plain", "count", "count", "goto", "if", "if", "while", "do", "end", "end", "call", "macro", "return", "stop"}
	draw := func(name string, least, most int) int { return rapid.IntRange(least, most).Draw(t, name) }
	var lines []line
	for p := range draw("programs", 1, 3) {
		if p > 0 || draw("O first", 0, 1) == 1 {
			lines = append(lines, line{kind: "program", target: p + 1})
		}
		for range draw("lines", 1, 14) {
			l := line{kind: rapid.SampledFrom(kinds).Draw(t, "kind"), param: rapid.SampledFrom([]int{1, 2, 101, 102}).Draw(t, "param"), limit: draw("limit", 1, 3)}
			if draw("numbered", 0, 2) == 0 {
				l.n = draw("N", 1, 4)
			}
			l.target = draw("target", 1, 4)
			if l.kind == "while" || l.kind == "do" || l.kind == "end" {
				l.target = draw("label", 1, 2)
			}
			lines = append(lines, l)
		}
	}
	return lines
}

// Whatever the program, the interpreter executes the blocks that the model does,
// in its order, and shows each block of the file once.
func TestFlowModel(t *testing.T) {
	const budget = 400
	m := profile(t, "")
	rapid.Check(t, func(t *rapid.T) {
		lines := drawProgram(t)
		var text strings.Builder
		for _, l := range lines {
			fmt.Fprintln(&text, l)
		}
		want := model{lines: lines, budget: budget, local: &[34]int{}}
		want.run(0, true)

		var got, shown []int
		in := New(m, Options{}, Visitor{
			Exec:  func(b *parser.Block) { got = append(got, b.Line) },
			Block: func(b *parser.Block) { shown = append(shown, b.Line) },
		})
		in.budget = 1 << 40 // looking for blocks must not end it before the model
		in.visit.Exec = func(b *parser.Block) {
			got = append(got, b.Line)
			if len(got) == budget {
				in.budget = 0
			}
		}
		if _, err := in.Run(strings.NewReader(text.String()), int64(text.Len())); err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(got, want.trace) {
			t.Fatalf("program:\n%s\nexecuted %v\nwant     %v", text.String(), got, want.trace)
		}
		for i, l := range shown {
			if l != i+1 {
				t.Fatalf("program:\n%s\nshown %v", text.String(), shown)
			}
		}
		if len(shown) != len(lines) {
			t.Fatalf("%d of %d blocks shown", len(shown), len(lines))
		}
	})
}
