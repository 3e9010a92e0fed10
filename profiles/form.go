package profiles

import (
	"reflect"
	"strings"
)

// How to write a table or a list, said where something else stands. Small ones
// are shown; others get the heading that they have in a file.

// examples are small tables and lists, by the last keys of their paths.
var examples = map[string]string{
	"block.sequence":        "[0, 9999]",
	"block.program_number":  "[1, 9999]",
	"block.dwell":           `{ P = "s" }`,
	"numbers.decimals":      "{ inch = 4, mm = 3 }",
	"numbers.digits":        "{ inch = 3, mm = 4 }",
	"spindle.speed":         `["40 rpm", "4200 rpm"]`,
	"gears.speed":           `["40 rpm", "1100 rpm"]`,
	"spindle.motor":         `{ power = "10 hp", base_speed = "1500 rpm", top_speed = "4500 rpm" }`,
	"axis.travel":           `["0 in", "40 in"]`,
	"rotary.travel":         `["0 deg", "360 deg"]`,
	"axis.motor":            `{ kt = "0.8 N m/A", inertia = "60 kg cm^2", rated_current = "15 A" }`,
	"axis.drive":            `{ volts = "127 V", current = "20 A" }`,
	"axis.screw":            `{ lead = "0.2 in" }`,
	"control.link":          "{ baud = 9600 }",
	"tools.change_sequence": `["M9", "M5", "G53 G0 Z0", "T{tool} M6"]`,
	"rules":                 `{ level = "off", reason = "why it is so in this shop" }`,
}

// form says how the table or list at a path is written: "" where it is in no
// other.
func form(path string, t reflect.Type, flagged bool) string {
	keys := strings.Split(path, ".")
	last := keys[len(keys)-1]
	if example, ok := examples[kindOfPath(keys)]; ok {
		return "write " + last + " = " + example
	}
	list, item := strings.CutSuffix(path, "]")
	if item {
		list = list[:strings.LastIndexByte(list, '[')]
	}
	switch {
	case flagged:
		return "set its keys one by one, " + path + ".KEY=VALUE"
	case item || t.Kind() == reflect.Slice:
		return "write [[" + list + "]] for each, and its keys in the lines below"
	}
	return "write [" + path + "] on a line of its own, and its keys in the lines below"
}

// kindOfPath is what a path is called in examples.
func kindOfPath(keys []string) string {
	n := len(keys)
	if n == 2 && keys[0] == "rules" {
		return "rules"
	}
	if n < 2 {
		return ""
	}
	table, key := keys[n-2], keys[n-1]
	switch {
	case strings.HasPrefix(table, "gears["):
		table = "gears"
	case n == 3 && keys[0] == "axes" && strings.Contains("abc", table):
		table = "rotary"
	case n == 3 && keys[0] == "axes":
		table = "axis"
	}
	return table + "." + key
}
