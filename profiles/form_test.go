package profiles

import (
	"reflect"
	"strings"
	"testing"
)

// containers are the paths of all tables and lists of a profile, with what
// stands in them: of a list its first item, of a table with free keys one.
func containers(t reflect.Type, path string, found map[string]reflect.Type) {
	if _, quantity := dimensionOf[t]; quantity || t == reflect.TypeFor[Ratio]() {
		return
	}
	switch t.Kind() {
	case reflect.Pointer:
		containers(t.Elem(), path, found)
	case reflect.Slice:
		found[path] = t
		containers(t.Elem(), path+"[0]", found)
	case reflect.Map:
		found[path] = t
		containers(t.Elem(), join(path, "G54"), found)
	case reflect.Struct:
		if path != "" {
			found[path] = t
		}
		for i := range t.NumField() {
			if key := t.Field(i).Tag.Get("toml"); key != "" {
				containers(t.Field(i).Type, join(path, key), found)
			}
		}
	}
}

// Where a number stands in the place of a table or list, a form is told, and
// what is told is read without complaint when it is written.
func TestFormsAreRead(t *testing.T) {
	found := map[string]reflect.Type{}
	containers(reflect.TypeFor[Machine](), "", found)
	shown := map[string]bool{}
	for path, kind := range found {
		told := form(path, kind, false)
		text := ""
		switch written, example, inline := strings.Cut(strings.TrimPrefix(told, "write "), " = "); {
		case inline:
			table := path[:strings.LastIndexByte(path, '.')]
			shown[kindOfPath(strings.Split(path, "."))] = true
			if gear, _, ok := strings.Cut(table, "[0]"); ok {
				text = "[[" + gear + "]]\n" + written + " = " + example + "\n"
			} else {
				text = "[" + table + "]\n" + written + " = " + example + "\n"
			}
		default:
			heading, _, ok := strings.Cut(written, "] ")
			if !ok {
				t.Fatalf("%s: %s", path, told)
			}
			text = heading + "]\n"
		}
		tree, err := readTree(&source{name: "form", file: "form.toml", text: []byte(text)})
		if err != nil {
			t.Fatalf("%s: %s: %v", path, told, err)
		}
		d := decoder{places: map[string]*node{}}
		d.value(tree, reflect.New(reflect.TypeFor[Machine]()).Elem(), "", false)
		for _, e := range d.errs {
			t.Errorf("%s: %s: %v", path, told, e)
		}
		if d.places[strings.TrimSuffix(path, "[0]")] == nil {
			t.Errorf("%s: %s is something else", path, told)
		}
	}
	for example := range examples {
		if !shown[example] {
			t.Errorf("the example of %s is told nowhere", example)
		}
	}
}
