package profiles

import (
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"unicode"

	"github.com/invopop/jsonschema"
)

// typeSources are the files whose types a profile is decoded into: what their
// comments say of a key, an editor shows.
//
//go:embed machine.go house.go drive.go
var typeSources embed.FS

// Schema is the JSON Schema (draft 2020-12) of profiles, for editors. It is
// made of the Go types at run time, what their comments say included, and of
// the loader's own units, meanings and choices, so that it can't say other than
// the loader does. What a schema can't tell (values that must agree, what a
// base gives) it leaves to the loader.
func Schema() ([]byte, error) {
	docs, err := readDocs(typeSources)
	if err != nil {
		return nil, fmt.Errorf("schema: %w", err)
	}
	s := schemaMaker{docs: docs, defs: jsonschema.Definitions{}}
	root := s.table(reflect.TypeFor[Machine](), "", false)
	root.Version = jsonschema.Version
	root.Title = "Profile of a machine for tapefit"
	root.Required = []string{"name", "title"} // of one file each; all else a base can give
	root.Definitions = s.defs
	text, err := json.MarshalIndent(root, "", "  ")
	if err != nil {
		return nil, fmt.Errorf("schema: %w", err)
	}
	return append(text, '\n'), nil
}

// A schemaMaker makes the schema of the types. Paths are those of a sample: the
// first item of a list, any key of a map.
type schemaMaker struct {
	docs map[string]string // by type, "Axis", and field, "Axis.Wrap"
	defs jsonschema.Definitions
}

// of is the schema of values of the type. rotary is as in the decoder.
func (s *schemaMaker) of(t reflect.Type, path string, rotary bool) *jsonschema.Schema {
	if dims, ok := dimensionOf[t]; ok {
		dim := dims[0]
		if rotary {
			dim = dims[1]
		}
		return dim.schema()
	}
	if t == reflect.TypeFor[Ratio]() {
		return &jsonschema.Schema{Type: "string", Pattern: ratioForm.String(), Examples: []any{"2:1"}}
	}
	switch t.Kind() {
	case reflect.Pointer:
		return s.of(t.Elem(), path, rotary)
	case reflect.Struct:
		return s.reference(t, path, rotary)
	case reflect.Map:
		return s.mapping(t, path)
	case reflect.Slice:
		return &jsonschema.Schema{Type: "array", Items: s.of(t.Elem(), path+"[0]", rotary)}
	case reflect.Bool:
		return &jsonschema.Schema{Type: "boolean"}
	case reflect.Int:
		return &jsonschema.Schema{Type: "integer"}
	}
	return textSchema(path)
}

// reference is a reference to the definition of a table.
func (s *schemaMaker) reference(t reflect.Type, path string, rotary bool) *jsonschema.Schema {
	name := t.Name()
	if rotary {
		name = "Rotary" + name
	}
	if s.defs[name] == nil {
		s.defs[name] = &jsonschema.Schema{} // a table in itself finds it
		*s.defs[name] = *s.table(t, path, rotary)
	}
	return &jsonschema.Schema{Ref: "#/$defs/" + name}
}

func (s *schemaMaker) table(t reflect.Type, path string, rotary bool) *jsonschema.Schema {
	table := &jsonschema.Schema{
		Type:                 "object",
		Description:          s.docs[t.Name()],
		Properties:           jsonschema.NewProperties(),
		AdditionalProperties: jsonschema.FalseSchema,
	}
	for i := range t.NumField() {
		field := t.Field(i)
		key := field.Tag.Get("toml")
		if key == "" {
			continue
		}
		value := s.of(field.Type, join(path, key), rotary || axisLetters(t) && strings.Contains("abc", key))
		if t == reflect.TypeFor[Axis]() && !rotary && slices.Contains(computable, key) {
			value = &jsonschema.Schema{AnyOf: []*jsonschema.Schema{value, {Enum: []any{computed}}}}
		}
		value.Description = s.docs[t.Name()+"."+field.Name]
		table.Properties.Set(key, value)
	}
	return table
}

// mapping is the schema of a table whose keys are codes or names.
func (s *schemaMaker) mapping(t reflect.Type, path string) *jsonschema.Schema {
	table := &jsonschema.Schema{Type: "object"}
	sample, pattern := "x", ""
	switch path {
	case "codes":
		table.AdditionalProperties = jsonschema.FalseSchema
		table.PatternProperties = map[string]*jsonschema.Schema{
			codePattern("G"): unquoted(&jsonschema.Schema{Type: "string", Enum: texts(meaningsFor('G'))}),
			codePattern("M"): unquoted(&jsonschema.Schema{Type: "string", Enum: texts(append(meaningsFor('M'), Gear.String()))}),
		}
		return table
	case "offsets":
		sample, pattern = "G54", codePattern("G")
	case "times":
		sample, pattern = "M10", codePattern("M")
	case "cycles":
		sample, pattern = Drill.String(), "^("+strings.Join(cycleNames(), "|")+")$"
	case "block.dwell":
		sample, pattern = "P", "^[PXU]$"
	}
	element := s.of(t.Elem(), join(path, sample), false)
	if pattern == "" {
		table.AdditionalProperties = element
		return table
	}
	if path == "offsets" {
		element = unquoted(element)
	}
	table.AdditionalProperties = jsonschema.FalseSchema
	table.PatternProperties = map[string]*jsonschema.Schema{pattern: element}
	return table
}

// codePattern matches what parseCode takes.
func codePattern(letter string) string { return `^` + letter + `(0|[1-9][0-9]{0,2})(\.[1-9])?$` }

// unquoted takes a code's value, or the table that TOML makes of a code with a
// point and without quotes: see joinCodes.
func unquoted(value *jsonschema.Schema) *jsonschema.Schema {
	return &jsonschema.Schema{AnyOf: []*jsonschema.Schema{value, {
		Type:                 "object",
		PatternProperties:    map[string]*jsonschema.Schema{"^[1-9]$": value},
		AdditionalProperties: jsonschema.FalseSchema,
	}}}
}

// schema matches what parse takes.
func (d *dimension) schema() *jsonschema.Schema {
	units := make([]string, len(d.units))
	for i, u := range d.units {
		units[i] = `\s*` + strings.ReplaceAll(regexp.QuoteMeta(u.name), " ", `\s+`)
		if unicode.IsDigit(rune(u.name[0])) { // "1 1/min": without the blank it would be the number's
			units[i] = `\s+` + u.name
		}
	}
	return &jsonschema.Schema{
		Type:     "string",
		Pattern:  `^\s*[-+]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][-+]?[0-9]+)?(` + strings.Join(units, "|") + `)\s*$`,
		Examples: []any{"12.5 " + d.units[0].name},
	}
}

// textSchema is the schema of a text.
func textSchema(path string) *jsonschema.Schema {
	text := &jsonschema.Schema{Type: "string"}
	switch path {
	case "name":
		text.Pattern = `^[a-z0-9]([a-z0-9-]*[a-z0-9])?$`
	case "extends":
		text.AnyOf = []*jsonschema.Schema{{Enum: texts(Names())}, {Pattern: `^$|\.toml$|[/\\]`}}
	case "arcs.planes": // several in one text
		word := "(" + strings.Join(choices(path), "|") + ")"
		text.Pattern = `^\s*` + word + `(\s+` + word + `)*\s*$`
	default:
		text.Enum = texts(choices(path))
	}
	return text
}

func texts(all []string) []any {
	var list []any
	for _, s := range all {
		list = append(list, s)
	}
	return list
}

// A sample has all that the validator's choices depend on.
const sample = `name = "sample"
title = "Sample"
extends = "rs274ngc"
kind = "mill"
display = "mm"
spindle.gears = [{ name = "low" }]
axes.x.rapid = "1 mm/s"
axes.a.rapid = "1 deg/s"
tools.loaded = [{ number = 1 }]
house = [{ name = "own", when = "M8", message = "M8" }]
[numbers]
decimals = { inch = 4, mm = 3 }
`

// choices are the texts that a key takes where it takes only some; nil where it
// takes any. The validator knows them, and is asked with a text that is none.
func choices(path string) []string {
	accepted, ok := refusal(path, `"?"`, "numbers.point=counts")
	if !ok || accepted == nil {
		return nil
	}
	if _, refused := refusal(path, `""`, "numbers.point=optional"); !refused { // it takes back what a base says
		accepted = append(slices.Clip(accepted), "")
	}
	return accepted
}

// refusal sets a value in the sample and says whether it is refused, and what
// is accepted instead where the validator lists it.
func refusal(path, value, beside string) (accepted []string, refused bool) {
	_, err := loadFrom(&source{name: "sample", file: "sample.toml", text: []byte(sample)}, path+"="+value, beside)
	for _, e := range faults(err) {
		if e.Path == path {
			return e.accepted, true
		}
	}
	return nil, false
}

// faults are the errors that joinErrors has joined.
func faults(err error) []*Error {
	joined, ok := err.(interface{ Unwrap() []error })
	if !ok {
		return nil
	}
	var all []*Error
	for _, err := range joined.Unwrap() {
		var e *Error
		if errors.As(err, &e) {
			all = append(all, e)
		}
	}
	return all
}

// readDocs reads what Go files say of their types and fields.
func readDocs(files fs.FS) (map[string]string, error) {
	docs := map[string]string{}
	names, err := fs.Glob(files, "*.go")
	if err != nil {
		return nil, err
	}
	for _, name := range names {
		text, err := fs.ReadFile(files, name)
		if err != nil {
			return nil, err
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, text, parser.ParseComments)
		if err != nil {
			return nil, err
		}
		ast.Inspect(file, func(n ast.Node) bool {
			if decl, ok := n.(*ast.GenDecl); ok && decl.Tok == token.TYPE {
				docType(docs, decl)
			}
			return true
		})
	}
	return docs, nil
}

// docType enters what a declaration says of a type and its fields: of a field
// what stands above it and behind it.
func docType(docs map[string]string, decl *ast.GenDecl) {
	for _, spec := range decl.Specs {
		t, _ := spec.(*ast.TypeSpec)
		table, ok := t.Type.(*ast.StructType)
		if !ok {
			continue
		}
		docs[t.Name.Name] = oneLine(decl.Doc.Text())
		for _, field := range table.Fields.List {
			for _, name := range field.Names {
				docs[t.Name.Name+"."+name.Name] = oneLine(field.Doc.Text() + " " + field.Comment.Text())
			}
		}
	}
}

func oneLine(text string) string { return strings.Join(strings.Fields(text), " ") }
