package profiles

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"sort"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// An Error is one thing that is wrong with a profile.
type Error struct {
	File    string
	Line    int    // from 1; 0: the value was set beside the profile, and File is "--set"
	Path    string // of the key: "spindle.gears[1].speed[0]"; "" where the text is no TOML
	Message string

	accepted []string // texts that the key takes, where it takes only some
}

func (e *Error) Error() string {
	switch {
	case e.Line == 0 && e.Path == "":
		return fmt.Sprintf("%s: %s", e.File, e.Message)
	case e.Line == 0:
		return fmt.Sprintf("%s %s: %s", e.File, e.Path, e.Message)
	case e.Path == "":
		return fmt.Sprintf("%s:%d: %s", e.File, e.Line, e.Message)
	}
	return fmt.Sprintf("%s:%d: %s: %s", e.File, e.Line, e.Path, e.Message)
}

// A node is a value of a profile with its place. The plain decoder of the TOML
// package tells no places of values that are well-formed but wrong for us, nor
// can it lay one file over another; so the document is kept as a tree.
type node struct {
	kind nodeKind
	from *source
	line int // from 1; 0 of a value that was set beside the profile

	touched bool // a value in it was set beside the profile

	text   string           // of a scalar: the string, or the number as written
	keys   []string         // of a table, in order
	fields map[string]*node // of a table
	items  []*node          // of an array
}

type nodeKind uint8

const (
	tableNode nodeKind = iota
	arrayNode
	stringNode
	integerNode
	floatNode
	boolNode
	dateNode
)

func (k nodeKind) String() string {
	return [...]string{"a table", "a list", "a text", "a number", "a number", "true or false", "a date"}[k]
}

// place makes an error at the node.
func (n *node) place(path, format string, args ...any) *Error {
	return &Error{File: n.from.file, Line: n.line, Path: path, Message: fmt.Sprintf(format, args...)}
}

// set puts a field in a table.
func (n *node) set(key string, value *node) {
	if n.fields == nil {
		n.fields = map[string]*node{}
	}
	if n.fields[key] == nil {
		n.keys = append(n.keys, key)
	}
	n.fields[key] = value
}

// child is the field of a table, or nil; also of nil.
func (n *node) child(key string) *node {
	if n == nil {
		return nil
	}
	return n.fields[key]
}

// drop takes a field out of a table; nil has none.
func (n *node) drop(key string) {
	if n.child(key) != nil {
		delete(n.fields, key)
		n.keys = slices.DeleteFunc(n.keys, func(k string) bool { return k == key })
	}
}

// sourceLine is the text of the node's line, shortened for a message.
func (n *node) sourceLine() string {
	rest := n.from.text
	for range n.line - 1 {
		_, rest, _ = bytes.Cut(rest, []byte("\n"))
	}
	line, _, _ := bytes.Cut(rest, []byte("\n"))
	text := []rune(strings.TrimSpace(string(line)))
	if len(text) > 60 {
		return string(text[:57]) + "..."
	}
	return string(text)
}

// readTree reads a profile's text.
func readTree(s *source) (*node, error) {
	if len(s.text) > mostBytes {
		return nil, &Error{File: s.file, Line: 1, Message: "longer than 1 MiB: this is no profile"}
	}
	// The tree builder below sees one expression at a time. What is wrong with
	// the whole, such as a key that stands twice, the decoder knows.
	var whole map[string]any
	if err := toml.Unmarshal(s.text, &whole); err != nil {
		return nil, notTOML(s, err)
	}
	b := builder{from: s}
	for i, c := range s.text {
		if c == '\n' {
			b.ends = append(b.ends, i)
		}
	}
	return b.build()
}

// notTOML gives the decoder's error its place and, for what profiles bring
// about often, the remedy.
func notTOML(s *source, err error) error {
	e := &Error{File: s.file, Line: 1, Message: strings.TrimPrefix(err.Error(), "toml: ")}
	var d *toml.DecodeError
	if errors.As(err, &d) {
		e.Line, _ = d.Position()
	}
	if n := (&node{from: s, line: e.Line}).sourceLine(); n != "" {
		e.Message += " in '" + n + "'"
	}
	e.Message += `: profiles are TOML 1.0, texts and quantities stand in "quotes" and so do codes with a point ("G59.1")`
	return e
}

// A builder makes the tree of one text.
type builder struct {
	from   *source
	parser unstable.Parser
	ends   []int // offsets of line ends
}

func (b *builder) line(r unstable.Range) int {
	return 1 + sort.SearchInts(b.ends, int(r.Offset))
}

func (b *builder) build() (*node, error) {
	root := &node{from: b.from, line: 1}
	b.parser.Reset(b.from.text)
	table, err := root, error(nil)
	for b.parser.NextExpression() {
		e := b.parser.Expression()
		switch e.Kind {
		case unstable.Table:
			table, err = b.descend(root, e.Key(), false)
		case unstable.ArrayTable:
			table, err = b.descend(root, e.Key(), true)
		case unstable.KeyValue:
			err = b.keyValue(table, e)
		}
		if err != nil {
			return nil, err
		}
	}
	if err := b.parser.Error(); err != nil {
		return nil, &Error{File: b.from.file, Line: 1, Message: err.Error()}
	}
	for _, key := range []string{"codes", "offsets"} {
		if table := root.fields[key]; table != nil {
			if root.fields[key], err = joinCodes(table, key); err != nil {
				return nil, err
			}
		}
	}
	if table := root.fields["unsure"]; table != nil {
		root.fields["unsure"], err = joinPaths(table, "unsure")
	}
	return root, err
}

// joinCodes takes codes with a point as they were meant where they stand
// without quotes: to TOML "G38.2 = ..." is a table in a table.
func joinCodes(table *node, path string) (*node, error) {
	joined := &node{kind: table.kind, from: table.from, line: table.line, text: table.text, items: table.items}
	for _, key := range table.keys {
		outer := table.fields[key]
		rest := &node{from: outer.from, line: outer.line}
		for _, tenth := range outer.keys {
			inner := outer.fields[tenth]
			if len(tenth) != 1 || tenth[0] < '0' || tenth[0] > '9' {
				rest.set(tenth, inner)
				continue
			}
			code := key + "." + tenth
			if table.fields[code] != nil {
				return nil, inner.place(join(path, code), "stands twice, once in quotes")
			}
			joined.set(code, inner)
		}
		switch {
		case len(rest.keys) == len(outer.keys):
			joined.set(key, outer)
		case len(rest.keys) > 0:
			joined.set(key, rest)
		}
	}
	return joined, nil
}

// joinPaths takes the keys of a table, which are paths of values elsewhere in the
// profile, as they were meant where they stand without quotes: to TOML
// "axes.x.rapid = ..." is a table in a table.
func joinPaths(table *node, path string) (*node, error) {
	if table.kind != tableNode {
		return table, nil // the decoder complains
	}
	flat := &node{from: table.from, line: table.line}
	return flat, flat.gather(table, path, "")
}

// gather puts the values of a table, and of the tables in it, under their paths.
func (n *node) gather(table *node, top, path string) error {
	for _, key := range table.keys {
		value, inside := table.fields[key], join(path, key)
		switch {
		case value.kind == tableNode:
			if err := n.gather(value, top, inside); err != nil {
				return err
			}
		case n.fields[inside] != nil:
			return value.place(join(top, inside), "stands twice, once in quotes")
		default:
			n.set(inside, value)
		}
	}
	return nil
}

// descend goes from a table to the one that the key names, and makes what is
// missing on the way. Of a list of tables it takes the last, or a new one at
// the end of the key if element is set.
func (b *builder) descend(table *node, key unstable.Iterator, element bool) (*node, error) {
	more := key.Next()
	for more {
		k := key.Node()
		name, line := string(k.Data), b.line(k.Raw)
		more = key.Next()
		next := table.fields[name]
		switch {
		case next == nil && element && !more:
			next = &node{kind: arrayNode, from: b.from, line: line}
			table.set(name, next)
		case next == nil:
			next = &node{from: b.from, line: line}
			table.set(name, next)
		}
		if next.kind == arrayNode {
			if element && !more {
				next.items = append(next.items, &node{from: b.from, line: line})
			}
			if len(next.items) > 0 {
				next = next.items[len(next.items)-1]
			}
		}
		if next.kind != tableNode {
			return nil, &Error{File: b.from.file, Line: line, Path: name, Message: "stands twice, once as a table"}
		}
		table = next
	}
	return table, nil
}

// keyValue puts a value, whose key may have points, in a table.
func (b *builder) keyValue(table *node, e *unstable.Node) error {
	key, last := e.Key(), (*unstable.Node)(nil)
	for key.Next() {
		last = key.Node()
		if key.IsLast() {
			break
		}
		next := table.fields[string(last.Data)]
		if next == nil {
			next = &node{from: b.from, line: b.line(last.Raw)}
			table.set(string(last.Data), next)
		}
		if next.kind != tableNode {
			return &Error{File: b.from.file, Line: next.line, Path: string(last.Data), Message: "stands twice, once as a table"}
		}
		table = next
	}
	value, err := b.value(e.Value(), b.line(last.Raw))
	if err != nil {
		return err
	}
	table.set(string(last.Data), value)
	return nil
}

// value makes a node of a value; line is where its key stands.
func (b *builder) value(v *unstable.Node, line int) (*node, error) {
	n := &node{from: b.from, line: line}
	children := v.Children()
	switch v.Kind {
	case unstable.InlineTable:
		for children.Next() {
			if err := b.keyValue(n, children.Node()); err != nil {
				return nil, err
			}
		}
		return n, nil
	case unstable.Array:
		n.kind = arrayNode
		for children.Next() {
			item, err := b.value(children.Node(), line)
			if err != nil {
				return nil, err
			}
			n.items = append(n.items, item)
		}
		return n, nil
	}
	n.line = b.line(v.Raw)
	n.text = string(v.Data)
	switch v.Kind {
	case unstable.String:
		n.kind = stringNode
	case unstable.Bool:
		n.kind = boolNode
	case unstable.Integer:
		n.kind = integerNode
	case unstable.Float:
		n.kind = floatNode
	default:
		n.kind = dateNode
	}
	return n, nil
}

// overlay lays a child's table over its base's: tables merge key by key, all
// else replaces.
func overlay(base, child *node) *node {
	if base == nil || base.kind != tableNode || child.kind != tableNode {
		return child
	}
	merged := &node{from: child.from, line: child.line}
	for _, k := range base.keys {
		merged.set(k, base.fields[k])
	}
	for _, k := range child.keys {
		merged.set(k, overlay(base.fields[k], child.fields[k]))
	}
	return merged
}
