package rules

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"strings"
	"testing"
)

// What a checker's functions are bound to, or write to outside of themselves, they
// remember: State must have it. Where one forgets that, an editor is told of faults
// that are mended; no other test need notice.
func TestStateIsNamed(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil || len(files) == 0 {
		t.Fatal(err)
	}
	set, checkers := token.NewFileSet(), 0
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(set, name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range file.Decls {
			f, ok := d.(*ast.FuncDecl)
			if !ok {
				continue
			}
			s := stateOf{named: map[string]bool{}, used: map[string]token.Pos{}}
			ast.Inspect(f, s.look)
			for name, at := range s.used {
				checkers++
				if !s.named[name] {
					t.Errorf("%s: a checker remembers %s, and its State does not name that", set.Position(at), name)
				}
			}
		}
	}
	if checkers < 50 {
		t.Errorf("only %d things are remembered by all rules: this test does not see them", checkers)
	}
}

// stateOf gathers what the State of the checkers in one function names, and what
// their functions use.
type stateOf struct {
	named map[string]bool
	used  map[string]token.Pos
}

func (s *stateOf) look(n ast.Node) bool {
	switch n := n.(type) {
	case *ast.CompositeLit:
		if id, ok := n.Type.(*ast.Ident); ok && id.Name == "Checker" {
			for _, e := range n.Elts {
				kv := e.(*ast.KeyValueExpr)
				s.field(kv.Key.(*ast.Ident).Name, kv.Value)
			}
		}
	case *ast.AssignStmt:
		for i, l := range n.Lhs {
			if sel, ok := l.(*ast.SelectorExpr); ok && len(n.Rhs) == len(n.Lhs) {
				s.field(sel.Sel.Name, n.Rhs[i])
			}
		}
	}
	return true
}

func (s *stateOf) field(name string, value ast.Expr) {
	switch name {
	case "State":
		ast.Inspect(value, func(n ast.Node) bool {
			if id, ok := n.(*ast.Ident); ok {
				s.named[id.Name] = true
			}
			return true
		})
	case "Block", "Exec", "After", "Op", "Fault", "Timed", "End":
		switch v := value.(type) {
		case *ast.SelectorExpr: // a method of what it is bound to
			if id := root(v.X); id != nil && id.Obj != nil {
				s.used[id.Name] = v.Pos()
			}
		case *ast.FuncLit:
			s.closure(v)
		}
	}
}

// closure notes what a function writes to that is not its own, or whose methods it
// calls; a machine and a Pass remember nothing of a rule.
func (s *stateOf) closure(f *ast.FuncLit) {
	note := func(e ast.Expr) {
		id := root(e)
		if id == nil || id.Obj == nil || id.Name == "m" || id.Name == "p" {
			return
		}
		if at := id.Obj.Pos(); at < f.Pos() || at > f.End() {
			s.used[id.Name] = e.Pos()
		}
	}
	ast.Inspect(f.Body, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.AssignStmt:
			for _, l := range n.Lhs {
				note(l)
			}
		case *ast.IncDecStmt:
			note(n.X)
		case *ast.CallExpr:
			if sel, ok := n.Fun.(*ast.SelectorExpr); ok {
				note(sel.X)
			}
		}
		return true
	})
}

// root is the variable that an expression begins with.
func root(e ast.Expr) *ast.Ident {
	for {
		switch x := e.(type) {
		case *ast.Ident:
			return x
		case *ast.SelectorExpr:
			e = x.X
		case *ast.StarExpr:
			e = x.X
		case *ast.ParenExpr:
			e = x.X
		case *ast.IndexExpr:
			e = x.X
		default:
			return nil
		}
	}
}
