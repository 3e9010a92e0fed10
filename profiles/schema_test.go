package profiles

import (
	"encoding/json"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/pelletier/go-toml/v2"
	"github.com/santhosh-tekuri/jsonschema/v6"
)

// compileSchema reads the schema with a library that knows nothing of ours.
func compileSchema(t *testing.T) (*jsonschema.Schema, map[string]any) {
	t.Helper()
	text, err := Schema()
	if err != nil {
		t.Fatal(err)
	}
	var doc map[string]any
	if err := json.Unmarshal(text, &doc); err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("profile.json", doc); err != nil {
		t.Fatal(err)
	}
	schema, err := c.Compile("profile.json")
	if err != nil {
		t.Fatal(err)
	}
	if schema.DraftVersion != 2020 {
		t.Errorf("the schema is of draft %d", schema.DraftVersion)
	}
	return schema, doc
}

// judge validates a profile's text as an editor would: TOML in, no base.
func judge(t *testing.T, schema *jsonschema.Schema, text string) error {
	t.Helper()
	var tree map[string]any
	if err := toml.Unmarshal([]byte(text), &tree); err != nil {
		t.Fatal(err)
	}
	// Through JSON, so that the judge sees the types of JSON alone.
	data, err := json.Marshal(tree)
	if err != nil {
		t.Fatal(err)
	}
	value, err := jsonschema.UnmarshalJSON(strings.NewReader(string(data)))
	if err != nil {
		t.Fatal(err)
	}
	return schema.Validate(value)
}

// Every profile that there is loads, so the schema must take it.
func TestSchemaTakesSoundProfiles(t *testing.T) {
	schema, _ := compileSchema(t)
	files, _ := filepath.Glob("library/*.toml")
	for _, pattern := range []string{"../testdata/*.toml", "../testdata/*/*.toml"} {
		more, _ := filepath.Glob(pattern)
		files = append(files, more...)
	}
	if len(files) < 9 {
		t.Errorf("%d profiles only", len(files))
	}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if err := judge(t, schema, string(text)); err != nil {
			t.Errorf("%s: %v", file, err)
		}
	}
}

// One change of a sound profile, judged by the schema and by the loader: they
// must be of one mind.
func TestSchemaAndLoaderAgree(t *testing.T) {
	schema, _ := compileSchema(t)
	if err := judge(t, schema, shopMill); err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		old, new string
		sound    bool
	}{
		{`rapid = "250 in/min"`, `rapid = "6.35 m/min"`, true},
		{`rapid = "250 in/min"`, `rapid = "250in/min"`, true},
		{`rapid = "250 in/min"`, `rapid = " +2.5e2  in/min "`, true},
		{`rapid = "250 in/min"`, `rapid = 250`, false},
		{`rapid = "250 in/min"`, `rapid = "250"`, false},
		{`rapid = "250 in/min"`, `rapid = "250 in"`, false},
		{`rapid = "250 in/min"`, `rapid = "250 inch/min"`, false},
		{`rapid = "250 in/min"`, `rapid = "in/min"`, false},
		{`rapid = "250 in/min"`, `rapd = "250 in/min"`, false},
		{`rapid = "30 deg/s"`, `rapid = "30 in/min"`, false},
		{`acceleration = "180 deg/s^2"`, `acceleration = "1 m/s^2"`, false},
		{`acceleration = "0.35 m/s^2"`, `acceleration = "0.35 m/s²"`, false},
		{`speed = ["800 rpm", "4200 rpm"]`, `speed = ["800 1/min", "70 1/s"]`, true},
		{`speed = ["800 rpm", "4200 rpm"]`, `speed = ["8001/min", "70 1/s"]`, false},
		{`speed = ["800 rpm", "4200 rpm"]`, `speed = [800, 4200]`, false},
		{`speed = ["800 rpm", "4200 rpm"]`, `speed = "4200 rpm"`, false},
		{`kind = "mill"`, `kind = "lathe"`, true},
		{`kind = "mill"`, `kind = "mil"`, false},
		{`kind = "mill"`, `kind = 3`, false},
		{`title = "Mill by the door"`, ``, false},
		{`name = "shop-mill"`, `name = "Shop Mill"`, false},
		{`extends = "rs274ngc"`, `extends = "rs274"`, false},
		{`pockets = 16`, `pockets = "16"`, false},
		{`pockets = 16`, `pockets = 16.5`, false},
		{`pockets = 16`, "pockets = 16\nshared_offsets = true", true},
		{`pockets = 16`, "pockets = 16\nshared_offsets = 1", false},
		{`M19 = "spindle-orient"`, `"G38.2" = "refused"`, true},
		{`M19 = "spindle-orient"`, `G38.2 = "refused"`, true},
		{`M19 = "spindle-orient"`, `G38.2 = "spindle-orient"`, false},
		{`M19 = "spindle-orient"`, `M19 = "orient"`, false},
		{`M19 = "spindle-orient"`, `M19 = "feed"`, false},
		{`M19 = "spindle-orient"`, `M41 = "gear"`, true},
		{`M19 = "spindle-orient"`, `G01 = "feed"`, false},
		{`M19 = "spindle-orient"`, `"G38.20" = "refused"`, false},
		{`[offsets.G54]`, `[offsets.G59.1]`, true},
		{`[offsets.G54]`, `[offsets.work]`, false},
		{`x = "12 in"`, `x = "12 deg"`, false},
		{`x = "12 in"`, `a = "12 deg"`, true},
		{`[control]`, "[cycles.peck]\ntakes = \"XY\"\n[control]", true},
		{`[control]`, "[cycles.pecking]\ntakes = \"XY\"\n[control]", false},
		{`[control]`, "[cycles.tap]\nfeed_out = \"up\"\n[control]", false},
		{`[control]`, "[block]\ndwell.X = \"ms\"\n[control]", true},
		{`[control]`, "[block]\ndwell.Q = \"ms\"\n[control]", false},
		{`[control]`, "[block]\ndwell.P = \"min\"\n[control]", false},
		{`[control]`, "[arcs]\nplanes = \"xy zx\"\n[control]", true},
		{`[control]`, "[arcs]\nplanes = \"xy xz\"\n[control]", false},
		{`[control]`, "[numbers]\nsuppress = \"\"\n[control]", true}, // what a base says is taken back
		{`[control]`, "[numbers]\nsuppress = \"both\"\n[control]", false},
		{`[control]`, "[start]\nmotion = \"none\"\n[control]", false}, // the table stands twice
		{`units = "inch"`, "units = \"inch\"\nmotion = \"none\"", true},
		{`units = "inch"`, "units = \"inch\"\nmotion = \"probe\"", false},
		{`rapid = "30 deg/s"`, "rapid = \"30 deg/s\"\nwrap = \"sign\"", true},
		{`rapid = "30 deg/s"`, "rapid = \"30 deg/s\"\nwrap = \"signed\"", false},
		{`[codes]`, "[rules.feed-missing]\nlevel = \"of\"\nreason = \"ours\"\n[codes]", false},
		{`[codes]`, "[rules.feed-missing]\nlevel = \"off\"\nreason = \"ours\"\n[codes]", true},
	} {
		text := strings.Replace(shopMill, tt.old, tt.new, 1)
		if text == shopMill {
			t.Fatalf("%q is not in the profile", tt.old)
		}
		_, complaint := loadText(t, text)
		if (complaint == "") != tt.sound {
			t.Errorf("%s: the loader says %q", tt.new, complaint)
		}
		var tree map[string]any
		if toml.Unmarshal([]byte(text), &tree) != nil {
			continue // an editor knows without a schema
		}
		if err := judge(t, schema, text); (err == nil) != tt.sound {
			t.Errorf("%s: the schema says %v", tt.new, err)
		}
	}
}

// Each key of the Go types is in the schema with its kind of value, nothing
// else is, and what the comments say is there too.
func TestSchemaHasEveryKey(t *testing.T) {
	_, doc := compileSchema(t)
	defs := doc["$defs"].(map[string]any)
	seen, described := 0, 0
	var walk func(typ reflect.Type, table map[string]any)
	walk = func(typ reflect.Type, table map[string]any) {
		properties := table["properties"].(map[string]any)
		if table["additionalProperties"] != false {
			t.Errorf("%s: keys that are not known are taken", typ)
		}
		keys := 0
		for i := range typ.NumField() {
			key := typ.Field(i).Tag.Get("toml")
			if key == "" {
				continue
			}
			keys++
			value, ok := properties[key].(map[string]any)
			if !ok {
				t.Errorf("%s: no key %q", typ, key)
				continue
			}
			if value["description"] != nil {
				described++
			}
			inner := typ.Field(i).Type
			for slices.Contains([]reflect.Kind{reflect.Slice, reflect.Pointer, reflect.Map}, inner.Kind()) {
				inner = inner.Elem()
			}
			if inner.Kind() == reflect.Struct {
				walk(inner, defs[inner.Name()].(map[string]any))
			}
		}
		if keys != len(properties) {
			t.Errorf("%s: %d keys, %d in the schema", typ, keys, len(properties))
		}
		seen += keys
	}
	walk(reflect.TypeFor[Machine](), doc)
	if described < seen*2/3 {
		t.Errorf("%d of %d keys are described", described, seen)
	}
	start := defs["Start"].(map[string]any)["properties"].(map[string]any)["retract"].(map[string]any)
	if start["description"] != `"initial", "r"` || !slices.Equal(start["enum"].([]any), []any{"initial", "r"}) {
		t.Errorf("start.retract is %v", start)
	}
}
