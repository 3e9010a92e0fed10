package profiles

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

// setFile stands for the file of a value that was set beside the profile.
const setFile = "--set"

// A setting is one value for a profile, written as PATH=VALUE: the path as
// errors and Origin write it, the value as in a file or, where it is no TOML, a
// text without its quotes.
type setting struct {
	path  string // as written
	steps []step
	value *node
	again bool // it may lie over another setting
}

// A step goes from a table to one of its keys, or from a list to an item.
type step struct {
	key  string
	item int // from 0; -1: the step is a key
}

// pathStep is the next step of a path that begins with a point. A key with a
// point in it, such as a code, may stand in quotes.
var pathStep = regexp.MustCompile(`^(?:\.([A-Za-z0-9_-]+)|\."([^"]*)"|\[(\d{1,4})\])`)

func setError(path, format string, args ...any) *Error {
	return &Error{File: setFile, Path: path, Message: fmt.Sprintf(format, args...)}
}

func parseSetting(text string) (*setting, *Error) {
	s := &setting{}
	whole := "." + strings.TrimSpace(text)
	rest := whole
	for {
		part := pathStep.FindStringSubmatch(rest)
		if part == nil {
			break
		}
		next := step{key: part[1] + part[2], item: -1}
		if part[3] != "" {
			next.item, _ = strconv.Atoi(part[3]) // at most four digits
		}
		s.steps = append(s.steps, next)
		rest = rest[len(part[0]):]
	}
	s.path = strings.TrimPrefix(strings.TrimSuffix(whole, rest), ".")
	rest = strings.TrimSpace(rest)
	switch {
	case rest == "" && len(s.steps) > 0:
		return nil, setError(s.path, `no value: write %s=VALUE`, s.path)
	case len(s.steps) == 0 || rest[0] != '=':
		return nil, setError("", `%q does not begin with a path of keys: write axes.z.rapid="200 in/min" or spindle.gears[0].code=M41`, text)
	case s.steps[0].key == "extends":
		return nil, setError(s.path, "what a profile extends cannot be set: write a file of your own, or name another machine")
	}
	s.joinCode()
	from := &source{file: setFile, flag: true, text: []byte(text)}
	var err error
	if s.value, err = readValue(strings.TrimSpace(rest[1:])); err != nil {
		return nil, setError(s.path, "%s", err)
	}
	s.value.claim(from)
	if s.steps[0].key == "unsure" {
		return s, s.joinPath()
	}
	if len(s.steps) == 1 && (s.steps[0].key == "codes" || s.steps[0].key == "offsets") && s.value.kind == tableNode {
		if s.value, err = joinCodes(s.value, s.path); err != nil {
			return nil, setError(s.path, "a code stands twice, once in quotes")
		}
	}
	return s, nil
}

// joinCode takes codes.G38.2 as it is meant: the point is the code's.
func (s *setting) joinCode() {
	if len(s.steps) < 3 || s.steps[0].key != "codes" && s.steps[0].key != "offsets" {
		return
	}
	if code, tenth := s.steps[1], s.steps[2]; code.item < 0 && len(tenth.key) == 1 && tenth.key[0] >= '0' && tenth.key[0] <= '9' {
		s.steps[1].key += "." + tenth.key
		s.steps = append(s.steps[:2:2], s.steps[3:]...)
	}
}

// joinPath takes unsure.axes.x.rapid as it is meant: the rest is one path.
func (s *setting) joinPath() *Error {
	path := ""
	for _, part := range s.steps[1:] {
		if part.item >= 0 {
			path += fmt.Sprintf("[%d]", part.item)
			continue
		}
		path = join(path, part.key)
	}
	if path != "" {
		s.steps = []step{s.steps[0], {path, -1}}
		return nil
	}
	var err error
	if s.value, err = joinPaths(s.value, s.path); err != nil {
		return setError(s.path, "a path stands twice, once in quotes")
	}
	return nil
}

// readValue reads a value as in a file. What is no TOML and does not begin as
// a list, a table or a text is a text: the shell has taken its quotes, or
// nobody wrote them.
func readValue(text string) (*node, error) {
	const key = "value"
	tree, err := readTree(&source{file: setFile, text: []byte(key + " = " + text)})
	switch {
	case len(text) > mostBytes:
		return nil, fmt.Errorf("longer than 1 MiB: this is no value")
	case err == nil && len(tree.keys) == 1 && tree.child(key) != nil: // else it has lines that are keys of their own
		return tree.child(key), nil
	case text != "" && strings.Contains(`["{'`, text[:1]):
		return nil, fmt.Errorf(`%s is not whole: a list is written ["0 in", "40 in"], a table {x = "1 in"}, a text "4 s" or without quotes`, text)
	}
	return &node{kind: stringNode, text: text}, nil
}

// claim makes a setting the place of a value and of all in it.
func (n *node) claim(from *source) {
	n.from, n.line = from, 0
	for _, field := range n.fields {
		field.claim(from)
	}
	for _, item := range n.items {
		item.claim(from)
	}
}

// applySettings lays settings over the tree of a profile. again says that a
// later one may lie over an earlier one.
func applySettings(tree *node, texts []string, again bool) []*Error {
	var errs []*Error
	for _, text := range texts {
		s, err := parseSetting(text)
		if err == nil {
			s.again = again
			_, err = s.lay(tree, s.steps, s.value)
		}
		if err != nil {
			errs = append(errs, err)
		}
	}
	arcs := tree.child("arcs")
	if arcs.child("tolerance").flagged() && !arcs.child("tolerance_inch").flagged() {
		arcs.drop("tolerance_inch") // as for a file that extends another: else it would stay in force for inch programs
	}
	return errs
}

// lay gives what stands in the place of under when the value is laid over it at
// the end of the steps: tables merge key by key, all else replaces.
func (s *setting) lay(under *node, steps []step, value *node) (*node, *Error) {
	switch {
	case len(steps) > 0 && steps[0].item >= 0:
		return s.layItem(under, steps, value)
	case len(steps) > 0:
		return s.layKey(under, steps, value)
	case under != nil && under.kind == tableNode && value.kind == tableNode:
		for _, key := range value.keys {
			if _, err := s.layKey(under, []step{{key, -1}}, value.fields[key]); err != nil {
				return nil, err
			}
		}
		return under, nil
	case under.flagged() && !s.again:
		return nil, setError(s.path, "set twice")
	}
	return value, nil
}

func (s *setting) layKey(under *node, steps []step, value *node) (*node, *Error) {
	if under == nil || under.kind != tableNode { // where no table is due, the decoder complains
		under = &node{from: s.value.from}
	}
	key := steps[0].key
	old := under.fields[key]
	if old == nil && len(steps) > 1 && steps[1].item >= 0 {
		return nil, setError(s.path, "the profile has no list %q%s", key, DidYouMean(key, under.keys))
	}
	child, err := s.lay(old, steps[1:], value)
	if err != nil {
		return nil, err
	}
	under.set(key, child)
	under.touched = true
	return under, nil
}

func (s *setting) layItem(under *node, steps []step, value *node) (*node, *Error) {
	i := steps[0].item
	switch {
	case under == nil || under.kind != arrayNode:
		return nil, setError(s.path, "[%d] takes an item of a list, and there is none", i)
	case i >= len(under.items):
		return nil, setError(s.path, "the list has %d items, counted from [0]: to add one, set the whole list", len(under.items))
	}
	item, err := s.lay(under.items[i], steps[1:], value)
	if err != nil {
		return nil, err
	}
	under.items[i] = item
	under.touched = true
	return under, nil
}

// flagged says whether a value was set beside the profile; nil was not.
func (n *node) flagged() bool { return n != nil && n.from.flag }
