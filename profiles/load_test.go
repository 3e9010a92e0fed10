package profiles

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// shopMill is a profile without fault. The tests of messages change one line.
const shopMill = `name = "shop-mill"
title = "Mill by the door"
extends = "rs274ngc"
kind = "mill"
display = "inch"
[start]
units = "inch"
[spindle]
shift = "coded"
shift_time = "4 s"
[[spindle.gears]]
name = "low"
code = "M41"
speed = ["40 rpm", "1100 rpm"]
[[spindle.gears]]
name = "high"
code = "M42"
speed = ["800 rpm", "4200 rpm"]
[axes.x]
travel = ["0 in", "40 in"]
home = "0 in"
rapid = "250 in/min"
feed = "150 in/min"
acceleration = "0.5 m/s^2"
[axes.y]
rapid = "250 in/min"
acceleration = "0.5 m/s^2"
[axes.z]
rapid = "150 in/min"
acceleration = "0.35 m/s^2"
[axes.a]
rapid = "30 deg/s"
acceleration = "180 deg/s^2"
[control]
block_time = "8 ms"
memory = "64 kB"
corner = "tolerance"
corner_tolerance = "0.0005 in"
[tools]
pockets = 16
[[tools.loaded]]
number = 1
length = "4 in"
[[tools.loaded]]
number = 2
[offsets.G54]
x = "12 in"
[codes]
M19 = "spindle-orient"
`

// write puts a profile in a new folder and gives its path.
func write(t *testing.T, name, text string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return file
}

// loadText loads a profile as a person's file, with places without folders.
func loadText(t *testing.T, text string) (*Machine, string) {
	t.Helper()
	file := write(t, "shop-mill.toml", text)
	m, err := Load(file)
	if err == nil {
		return m, ""
	}
	return m, strings.ReplaceAll(err.Error(), filepath.Dir(file)+string(filepath.Separator), "")
}

func TestMessages(t *testing.T) {
	const motions = `"none", "traverse", "feed", "arc-cw", "arc-ccw", "cycle-off"`
	const cycles = `drill, drill-dwell, peck, chip-break, tap, bore-feed-out, bore-stop-out, back-bore, bore-manual-out, bore-dwell-out`
	const lengths = `in, mm, cm, m, um`
	const speeds = `in/min, mm/min, mm/s, m/min, in/s, ft/min`
	tests := []struct{ old, new, want string }{
		// Turning.
		{"[axes.z]\n", "[axes.z]\ndiameter = true\n", `:29: axes.z.diameter: true, but only X words can be diameters`},
		{"[tools]\n", "[words]\nincremental = \"UX\"\n[tools]\n", `:40: words.incremental: "UX": distances along X, Y and Z are U, V and W`},
		{"[tools]\n", "[turning]\ncycle_lines = 3\n[tools]\n", `:40: turning.cycle_lines: 3: a turning cycle is written in 1 block or in 2`},
		{"[tools]\n", "[turning]\nthread_lead = \"P\"\n[tools]\n", `:40: turning.thread_lead: "P" is not known: accepted are "F", "K"`},
		{"[tools]\n", "[turning]\ncounts = \"PQ\"\n[tools]\n", `:40: turning.counts: "PQ", but the least increment is not given: write decimals = { inch = 4, mm = 3 } in numbers`},
		{"[tools]\n", "[tools]\nword = \"turret\"\n", `:40: tools.word: "turret" is not known: accepted are "tool", "tool-offset"`},
		{"number = 2", "number = 2\nnose_direction = 10", `:46: tools.loaded[1].nose_direction: 10: it is 0 to 9`},
		{"number = 2", "number = 2\nnose_radius = \"-1 mm\"", `:46: tools.loaded[1].nose_radius: "-1 mm" is below 0`},
		{"[tools]\n", "[times]\nM24 = \"6 s\"\n[tools]\n", `:40: times.M24: "M24" is no M code with the meaning "accepted": give it that in codes, or leave its time out`},
		{"[tools]\n", "[times]\nM24 = 6\n[tools]\n", `:40: times.M24: "6" has no unit: write "6 s" or "6 ms"`},
		// Quantities.
		{`speed = ["800 rpm", "4200 rpm"]`, `speed = ["800 rpm", 4200]`,
			`:18: spindle.gears[1].speed[1]: "4200" has no unit: write "4200 rpm"`},
		{`speed = ["800 rpm", "4200 rpm"]`, `speed = ["800", "4200 rpm"]`,
			`:18: spindle.gears[1].speed[0]: "800" has no unit: write "800 rpm"`},
		{`home = "0 in"`, `home = 0`, `:21: axes.x.home: "0" has no unit: write "0 in" or "0 mm"`},
		{`feed = "150 in/min"`, `feed = 150.5`, `:23: axes.x.feed: "150.5" has no unit: write "150.5 in/min" or "150.5 mm/min"`},
		{`block_time = "8 ms"`, `block_time = "8"`, `:35: control.block_time: "8" has no unit: write "8 s" or "8 ms"`},
		{`memory = "64 kB"`, `memory = 64`, `:36: control.memory: "64" has no unit: write "64 kB" or "64 MB"`},
		{`rapid = "30 deg/s"`, `rapid = 30`, `:32: axes.a.rapid: "30" has no unit: write "30 deg/s" or "30 deg/min"`},
		{`acceleration = "180 deg/s^2"`, `acceleration = "180"`, `:33: axes.a.acceleration: "180" has no unit: write "180 deg/s^2"`},
		{`home = "0 in"`, `home = "0 inn"`, `:21: axes.x.home: "0 inn" has the unknown unit "inn": did you mean "in"? units of a length are ` + lengths},
		{`home = "0 in"`, `home = "0 inches"`, `:21: axes.x.home: "0 inches" has the unknown unit "inches": did you mean "in"? units of a length are ` + lengths},
		{`home = "0 in"`, `home = "0 furlongs"`, `:21: axes.x.home: "0 furlongs" has the unknown unit "furlongs": units of a length are ` + lengths},
		{`acceleration = "0.35 m/s^2"`, `acceleration = "0.35 m/s²"`,
			`:30: axes.z.acceleration: "0.35 m/s²" has the unknown unit "m/s²": did you mean "m/s^2"? units of an acceleration are m/s^2, in/s^2, mm/s^2, ft/s^2`},
		{`feed = "150 in/min"`, `feed = "5 mm"`, `:23: axes.x.feed: "5 mm" is a length, but a speed is due: its units are ` + speeds},
		{`feed = "150 in/min"`, `feed = "5 deg/s"`, `:23: axes.x.feed: "5 deg/s" is a speed of rotation, but a speed is due: its units are ` + speeds},
		{`rapid = "30 deg/s"`, `rapid = "30 in/min"`, `:32: axes.a.rapid: "30 in/min" is a speed, but a speed of rotation is due: its units are deg/s, deg/min`},
		{`home = "0 in"`, `home = "1/2 in"`, `:21: axes.x.home: "1/2 in" is not a number with a unit: a length is written like "12.5 in" or "12.5 mm"`},
		{`home = "0 in"`, `home = "1e999 in"`, `:21: axes.x.home: "1e999 in" is too large a number`},
		{`home = "0 in"`, `home = ""`, `:21: axes.x.home: "" is not a number with a unit: a length is written like "12.5 in" or "12.5 mm"`},
		{`home = "0 in"`, `home = ["0 in"]`, `:21: axes.x.home: this is a list, but a length such as "12.5 in" or "12.5 mm" is due`},
		{`home = "0 in"`, `home = true`, `:21: axes.x.home: "true" is true or false, but a length such as "12.5 in" or "12.5 mm" is due`},
		{`memory = "64 kB"`, `memory = "1.5 B"`, `:36: control.memory: "1.5 B" is no whole number of bytes below 9 PB`},

		// Keys and kinds of values.
		{`rapid = "250 in/min"`, `rapd = "250 in/min"`,
			`:22: axes.x.rapd: unknown key in 'rapd = "250 in/min"': did you mean "rapid"? known here are travel, home, second, rapid, feed, acceleration, jerk, corner_step, backlash, backlash_limit, diameter, wrap, motor, drive, screw, mass, friction, weight`},
		{`[control]`, `[contrl]`, `:34: contrl: unknown key in '[contrl]': did you mean "control"? known here are name, title, extends, kind, display, start, codes, words, block, numbers, arcs, cycles, spindle, axes, feed, control, tools, turning, offsets, times, quote, unsure, rules, house`},
		{`number = 1`, `weight = 1`, `:42: tools.loaded[0].weight: unknown key in 'weight = 1': known here are number, title, length, diameter, d, offset_x, offset_z, nose_radius, nose_direction`},
		{`x = "12 in"`, `q = "12 in"`, `:47: offsets.G54.q: unknown key in 'q = "12 in"': known here are x, y, z, a, b, c`},
		{`kind = "mill"`, `kind = 3`, `:4: kind: "3" is a number, but a text in "quotes" is due`},
		{`pockets = 16`, `pockets = "16"`, `:40: tools.pockets: "16" is a text, but a whole number without a unit is due`},
		{`pockets = 16`, `pockets = 1.5`, `:40: tools.pockets: "1.5" is a number, but a whole number without a unit is due`},
		{`pockets = 16`, `pockets = 99999999999`, `:40: tools.pockets: 99999999999 is too large a number: at most 2147483647`},
		{`[control]`, `[block]` + "\ndelete = 1\n[control]", `:35: block.delete: "1" is a number, but true or false is due`},
		{`travel = ["0 in", "40 in"]`, `travel = "40 in"`, `:20: axes.x.travel: "40 in" is a text, but a list in [ ] is due: write travel = ["0 in", "40 in"]`},
		{`kind = "mill"`, `kind = 1990-05-01`, `:4: kind: "1990-05-01" is a date, but a text in "quotes" is due`},
		{"[codes]\nM19 = \"spindle-orient\"", `[[codes]]`, `:48: codes: this is a list, but a table is due: write [codes] on a line of its own, and its keys in the lines below`},
		{`display = "inch"`, `display = "inch"` + "\nfeed = 3", `:6: feed: "3" is a number, but a table is due: write [feed] on a line of its own, and its keys in the lines below`},

		// TOML.
		{`kind = "mill"`, `kind = mill`,
			`:4: unexpected character U+006D 'm' at start of value in 'kind = mill': profiles are TOML 1.0, texts and quantities stand in "quotes" and so do codes with a point ("G59.1")`},
		{`kind = "mill"`, `kind = "mill"` + "\nkind = \"lathe\"",
			`:5: key kind is already defined in 'kind = "lathe"': profiles are TOML 1.0, texts and quantities stand in "quotes" and so do codes with a point ("G59.1")`},
		{`M19 = "spindle-orient"`, "\"G38.2\" = \"probe\"\nG38.2 = \"refused\"", `:50: codes.G38.2: stands twice, once in quotes`},

		// What the machine is.
		{`name = "shop-mill"`, ``, `:1: name: missing: write name = "shop-mill"`},
		{`name = "shop-mill"`, `name = "Shop Mill"`, `:1: name: "Shop Mill": a name has lower-case letters, digits and hyphens between them`},
		{`name = "shop-mill"`, `name = "mill"`, `:1: name: "mill", but the file is shop-mill.toml: give both one name`},
		{`title = "Mill by the door"`, ``, `:1: title: missing: write title = "Bed mill by the door"`},
		{`kind = "mill"`, ``, `:1: kind: missing, but the profile has axes: write kind = "mill" or "lathe"`},
		{`kind = "mill"`, `kind = "mil"`, `:4: kind: "mil" is not known: did you mean "mill"? accepted are "mill", "lathe"`},
		{`display = "inch"`, `display = "inches"`, `:5: display: "inches" is not known: did you mean "inch"? accepted are "inch", "mm"`},
		{`extends = "rs274ngc"`, `extends = "rs274"`,
			`:3: extends: no profile "rs274" in the library: did you mean "rs274ngc"? known are bed-mill, knee-mill, lenient, parametric, rs274ngc, slant-lathe, tape-era; a file beside this one is written "./rs274.toml"`},

		// The start, codes and words.
		{`units = "inch"`, `units = "G20"`, `:7: start.units: "G20" is not known: accepted are "inch", "mm"`},
		{`units = "inch"`, `motion = "feeds"`, `:7: start.motion: "feeds" is not known: did you mean "feed"? accepted are ` + motions},
		{`units = "inch"`, `offset = "G53"`, `:7: start.offset: "G53" is no work offset of this profile: accepted are G54, G55, G56, G57, G58, G59, G59.1, G59.2, G59.3`},
		{`units = "inch"`, `gear = "middle"`, `:7: start.gear: "middle" names no gear in spindle.gears`},
		{`M19 = "spindle-orient"`, `G01 = "feed"`, `:49: codes.G01: "G01" is not a code: write G or M and the number without zeros before it, such as G1, M41, "G59.1"`},
		{`M19 = "spindle-orient"`, `M42 = "refused"`, `:49: codes.M42: "refused", but spindle.gears[1] has the code too: give it one use`},
		{`M19 = "spindle-orient"`, `M43 = "gear"`, `:49: codes.M43: "gear" does not say which: give the code to one of spindle.gears`},
		{`M19 = "spindle-orient"`, `G73 = "chip-break"`, `:49: codes.G73: "chip-break", but cycles.chip-break does not say which words it needs: write needs = "RZ" there`},
		{`M19 = "spindle-orient"`, `M19 = "feed"`, `:49: codes.M19: "feed" is not for M codes: accepted are refused, accepted, program-stop, optional-stop, end, end-rewind, pallet-stop, tool-change, spindle-cw, spindle-ccw, spindle-stop, spindle-orient, mist, flood, coolant-off, overrides-on, overrides-off, call, return`},
		{`M19 = "spindle-orient"`, `M19 = "spindle-orientt"`, `:49: codes.M19: "spindle-orientt" is no meaning: did you mean "spindle-orient"? accepted are refused, accepted, program-stop, optional-stop, end, end-rewind, pallet-stop, tool-change, spindle-cw, spindle-ccw, spindle-stop, spindle-orient, mist, flood, coolant-off, overrides-on, overrides-off, call, return`},
		{`[control]`, "[words]\naccepted = \"XYz\"\n[control]", `:35: words.accepted: 'z' is no address: write letters A to Z without blanks`},
		{`[control]`, "[words]\naccepted = \"XYX\"\n[control]", `:35: words.accepted: X stands twice in "XYX"`},

		// Blocks, numbers, arcs, cycles.
		{`[control]`, "[block]\ncomments = \"#\"\n[control]", `:35: block.comments: "#": accepted are "", "(", ";" and "(;"`},
		{`[control]`, "[block]\nsubprograms = 10001\n[control]", `:35: block.subprograms: 10001 is not within 0 to 10000`},
		{`[control]`, "[block]\nlocals = 100\n[control]", `:35: block.locals: 100 is not within 0 to 99`},
		{`M19 = "spindle-orient"`, `G65 = "call-arguments"`, `:49: codes.G65: its words set local parameters up to #26, and block.locals is 0: write locals = 33 there`},
		{`pockets = 16`, "pockets = 16\nchange_parameter = 6000\nchange_program = \"M6\"", `:41: tools.change_parameter: 6000 is not within 0 to 5399`},
		{`pockets = 16`, "pockets = 16\nchange_parameter = 1", `:41: tools.change_parameter: there is no tools.change_program to read it: leave it out, or write the program`},
		{`pockets = 16`, "pockets = 16\nchange_sequence = [\"M9\", \"M5\"]", `:41: tools.change_sequence[1]: "M5": no block changes the tool: write T{tool} M6`},
		{`pockets = 16`, "pockets = 16\nchange_sequence = [\"M6\"]", `:41: tools.change_sequence[0]: "M6": the word T{tool} is missing: write it here or before`},
		{`pockets = 16`, "pockets = 16\nchange_sequence = [\"T3 M6\"]", `:41: tools.change_sequence[0]: "T3 M6": the number of the tool is another each time: write T{tool}`},
		{`pockets = 16`, "pockets = 16\nchange_sequence = [\"T{tool} M6\", \"T{tool} M6\"]", `:41: tools.change_sequence[1]: "T{tool} M6": a second change: a sequence is written for one tool`},
		{`pockets = 16`, "pockets = 16\nchange_sequence = [\"T{tool} M6\", \"M5\"]", `:41: tools.change_sequence[1]: "M5": spindle and coolant go off before the change: write it there`},
		{`pockets = 16`, "pockets = 16\nchange_sequence = [\"T{tool} M6\", \"G53 G0 Z0\"]", `:41: tools.change_sequence[1]: "G53 G0 Z0": moves behind the change are the program's own: leave it out`},
		{`pockets = 16`, "pockets = 16\nchange_sequence = [\"G53 G0 X0 Y0\", \"G53 G0 Z0\", \"T{tool} M6\"]", `:41: tools.change_sequence[0]: "G53 G0 X0 Y0": axes X and Y must not move before Z is up: write Z in a block of its own before them`},
		{`pockets = 16`, "pockets = 16\nchange_sequence = [\"G53 G0 X0 Z0\", \"T{tool} M6\"]", `:41: tools.change_sequence[0]: "G53 G0 X0 Z0": axes X and Y must not move before Z is up: write Z in a block of its own before them`},
		{`pockets = 16`, "pockets = 16\nchange_sequence = [\"M0\", \"G53 G0 Z0\", \"T{tool} M6\"]", `:41: tools.change_sequence[1]: "G53 G0 Z0": it moves behind a stop or another code: put moves before them`},
		{`pockets = 16`, "pockets = 16\nchange_sequence = [\"G53 G0 Z-2\", \"T{tool} M6\"]", `:41: tools.change_sequence[0]: "G53 G0 Z-2": Z: "-2" has no unit, and programs are in inch or mm: write {2 in}`},
		{`pockets = 16`, "pockets = 16\nchange_sequence = [\"G53 G0 Z{2 inn}\", \"T{tool} M6\"]", `:41: tools.change_sequence[0]: "G53 G0 Z{2 inn}": Z: "2 inn" has the unknown unit "inn": did you mean "in"? units of a length are ` + lengths},
		{`pockets = 16`, "pockets = 16\nchange_sequence = [\"G0 X{2 in}\", \"T{tool} M6\"]", `:41: tools.change_sequence[0]: "G0 X{2 in}": where X and Y are free depends on the part: only Z goes to a level in work coordinates`},
		{`pockets = 16`, "pockets = 16\nchange_sequence = [\"G53 Z0\", \"T{tool} M6\"]", `:41: tools.change_sequence[0]: "G53 Z0": a way up goes at rapid: write G0`},
		{`pockets = 16`, "pockets = 16\nchange_sequence = [\"G28 Z0\", \"T{tool} M6\"]", `:41: tools.change_sequence[0]: "G28 Z0": here all axes go home at once (control.home_axes): X and Y must not move before Z is up, so write another way up`},
		{`pockets = 16`, "pockets = 16\nchange_sequence = [\"M99\", \"T{tool} M6\"]", `:41: tools.change_sequence[0]: "M99": M99 is not accepted by this machine`},
		{`pockets = 16`, "pockets = 16\nchange_sequence = [\"M3\", \"T{tool} M6\"]", `:41: tools.change_sequence[0]: "M3": M3, spindle-cw, is no part of a tool change: spindle and coolant off, moves up and away, stops and the change are`},
		{`pockets = 16`, "pockets = 16\nchange_sequence = [\"M05\", \"T{tool} M6\"]", `:41: tools.change_sequence[0]: "M05": "M05" is no code: write it without zeros before its number, such as M5`},
		{`pockets = 16`, "pockets = 16\nchange_sequence = [\"M0 (TOOL {nr})\", \"T{tool} M6\"]", `:41: tools.change_sequence[0]: "M0 (TOOL {nr})": a comment has the fields {tool}, its number, and {name}, what it is`},
		{`pockets = 16`, "pockets = 16\nchange_sequence = [\"M5 (\", \"T{tool} M6\"]", `:41: tools.change_sequence[0]: "M5 (": a comment stands at the end of the block, in ( )`},
		{`pockets = 16`, "pockets = 16\nchange_sequence = [\"m5\", \"T{tool} M6\"]", `:41: tools.change_sequence[0]: "m5": "m5" begins no word: write capitals and numbers, and fields in { }`},
		{`pockets = 16`, "pockets = 16\nchange_sequence = [\"\", \"T{tool} M6\"]", `:41: tools.change_sequence[0]: "": there is nothing in it`},
		{`[control]`, "[block]\nlongest = -1\n[control]", `:35: block.longest: "-1" is below 0`},
		{`[control]`, "[block]\nsequence = [1]\n[control]", `:35: block.sequence: 1 values: write the lowest and the highest, such as [0, 9999]`},
		{`[control]`, "[block]\nsequence = [9, 1]\n[control]", `:35: block.sequence: [9, 1]: write the lowest, 0 or more, and then the highest`},
		{`[control]`, "[numbers]\npoint = \"must\"\n[control]", `:35: numbers.point: "must" is not known: accepted are "needed", "optional", "counts", "refused"`},
		{`[control]`, "[numbers]\nsuppress = \"leading\"\n[control]", `:35: numbers.suppress: "leading" has no use where numbers.point is "optional": leave it out`},
		{`[control]`, "[numbers]\npoint = \"counts\"\nsuppress = \"leading\"\n[control]",
			`:34: numbers.decimals: missing: without a point the least increment is needed: write decimals = { inch = 4, mm = 3 }`},
		{`[control]`, "[numbers]\npoint = \"counts\"\ndecimals.inch = 4\nsuppress = \"trailing\"\n[control]",
			`:34: numbers.digits: missing: where trailing zeros are left out the digits before the point are needed: write digits = { inch = 3, mm = 4 }`},
		{`[control]`, "[block]\nrepeat = \"H\"\n[control]", `:35: block.repeat: "H" is not known: accepted are "L", "K"`},
		{`[control]`, "[block]\ncall = \"P\"\n[control]", `:35: block.call: "P" is not known: accepted are "words", "digits"`},
		{`[control]`, "[block]\ndwell.Q = \"s\"\n[control]", `:35: block.dwell.Q: "Q" gives no dwell: accepted are P, X, U`},
		{`[control]`, "[block]\ndwell.\"\" = \"s\"\n[control]", `:35: block.dwell.: "" gives no dwell: accepted are P, X, U`},
		{`[control]`, "[block]\ndwell.P = \"min\"\n[control]", `:35: block.dwell.P: "min" is not known: accepted are "s", "ms", "none"`},
		{`[control]`, "[cycles.tap]\nfeed_out = \"up\"\n[control]", `:35: cycles.tap.feed_out: "up" is not known: accepted are "r", "clear"`},
		{`[control]`, "[arcs]\ncentre = \"relative\"\n[control]", `:35: arcs.centre: "relative" is not known: accepted are "incremental", "absolute", "unsigned"`},
		{`[control]`, "[arcs]\nplanes = \"xy xyz\"\n[control]", `:35: arcs.planes: "xyz" is not known: did you mean "xy"? accepted are "xy", "zx", "yz"`},
		{`[control]`, "[cycles.pecking]\n[control]", `:34: cycles.pecking: "pecking" is no canned cycle: did you mean "peck"? accepted are ` + cycles},
		{`[control]`, "[cycles.chip-break]\n[control]", `:34: cycles.chip-break: no code has this meaning: write one in codes, such as G81 = "chip-break", or leave the cycle out`},
		{`[control]`, "[cycles.peck]\ntakes = \"XYQ\"\n[control]", `:35: cycles.peck.takes: Q stands in needs too`},

		// Spindle.
		{`shift = "coded"`, `shift = "manual"`, `:9: spindle.shift: "manual" is not known: accepted are "coded", "automatic", "by-hand"`},
		{`shift = "coded"`, ``, `:8: spindle.shift: missing: accepted are "coded", "automatic", "by-hand"`},
		{`shift_time = "4 s"`, `shift_time = "-4 s"`, `:10: spindle.shift_time: "-4 s" is below 0`},
		{`shift = "coded"`, `shift = "by-hand"`, "" +
			`:13: spindle.gears[0].code: "M41", but spindle.shift is "by-hand": leave the code out or write shift = "coded"` + "\n" +
			`shop-mill.toml:17: spindle.gears[1].code: "M42", but spindle.shift is "by-hand": leave the code out or write shift = "coded"`},
		{`code = "M42"`, ``, `:15: spindle.gears[1].code: missing: write code = "M42": spindle.shift is "coded"`},
		{`code = "M42"`, `code = "42"`, `:17: spindle.gears[1].code: "42" is no M code: write it like "M42"`},
		{`code = "M42"`, `code = "M41"`, `:17: spindle.gears[1].code: "M41" stands twice: give each gear its own code`},
		{`name = "high"`, `name = "low"`, `:16: spindle.gears[1].name: "low" stands twice: give each gear its own name`},
		{`name = "high"`, ``, `:15: spindle.gears[1].name: missing: write name = "high"`},
		{`speed = ["800 rpm", "4200 rpm"]`, `speed = ["4200 rpm", "800 rpm"]`, `:18: spindle.gears[1].speed: "4200 rpm" to "800 rpm" is no range: write the lowest and then the highest`},
		{`speed = ["800 rpm", "4200 rpm"]`, `speed = ["20 rpm", "4200 rpm"]`, `:18: spindle.gears[1].speed: slower than the gear before it: write gears from slow to fast`},
		{`speed = ["800 rpm", "4200 rpm"]`, `speed = ["4200 rpm"]`, `:18: spindle.gears[1].speed: 1 values: write the lowest and the highest, such as ["40 rpm", "1100 rpm"]`},
		{`speed = ["800 rpm", "4200 rpm"]`, ``, `:15: spindle.gears[1].speed: missing: write speed = ["1100 rpm", "4400 rpm"]`},
		{`speed = ["40 rpm", "1100 rpm"]`, `speed = ["-40 rpm", "1100 rpm"]`, `:14: spindle.gears[0].speed[0]: "-40 rpm" is below 0`},

		// Axes and feeds.
		{`travel = ["0 in", "40 in"]`, `travel = ["40 in", "0 in"]`, `:20: axes.x.travel: "40 in" to "0 in" is no range: write the lowest and then the highest`},
		{`travel = ["0 in", "40 in"]`, `travel = ["40 in"]`, `:20: axes.x.travel: 1 values: write the lowest and the highest place in machine coordinates, such as ["0 in", "40 in"]`},
		{`home = "0 in"`, `home = "41 in"`, `:21: axes.x.home: "41 in" is outside travel`},
		{`feed = "150 in/min"`, `feed = "251 in/min"`, `:23: axes.x.feed: "251 in/min" is above rapid, "250 in/min"`},
		{`feed = "150 in/min"`, `feed = "0 in/min"`, `:23: axes.x.feed: "0 in/min" is not above 0`},
		{`feed = "150 in/min"`, `backlash = "-1 in"`, `:23: axes.x.backlash: "-1 in" is below 0`},
		{`rapid = "150 in/min"`, ``, `:28: axes.z.rapid: missing: write rapid = "250 in/min"`},
		{`acceleration = "180 deg/s^2"`, ``, `:31: axes.a.acceleration: missing: write acceleration = "200 deg/s^2"`},
		{`acceleration = "0.35 m/s^2"`, `acceleration = "0 m/s^2"`, `:30: axes.z.acceleration: "0 m/s^2" is not above 0`},
		{`[axes.y]`, `[axes.b]`, "" + // two faults, of an axis that is not there and of one that turns
			`:26: axes.b.rapid: "250 in/min" is a speed, but a speed of rotation is due: its units are deg/s, deg/min` + "\n" +
			`shop-mill.toml:27: axes.b.acceleration: "0.5 m/s^2" is an acceleration, but an acceleration of rotation is due: its units are deg/s^2`},
		{"[axes.y]\nrapid = \"250 in/min\"\nacceleration = \"0.5 m/s^2\"\n", ``, `:19: axes.y: missing: a mill has the axes XYZ, each with rapid and acceleration`},
		{`[control]`, "[feed]\nleast = \"9 in/min\"\ngreatest = \"1 in/min\"\n[control]", `:35: feed.least: "9 in/min" is above feed.greatest, "1 in/min"`},

		{`rapid = "30 deg/s"`, "rapid = \"30 deg/s\"\nwrap = \"shorter\"", `:33: axes.a.wrap: "shorter" is not known: did you mean "shortest"? accepted are "shortest", "sign"`},
		{`rapid = "30 deg/s"`, "rapid = \"30 deg/s\"\nwrap = \"sign\"\ntravel = [\"0 deg\", \"90 deg\"]", `:33: axes.a.wrap: "sign", but the axis has a travel: what wraps has no ends, so leave one of them out`},
		{`home = "0 in"`, `wrap = "sign"`, `:21: axes.x.wrap: "sign", but X is a linear axis: only A, B and C wrap`},

		// Control, tools, offsets.
		{`memory = "64 kB"`, `link = "300 baud"`, `:36: control.link: "300 baud" is a text, but a table is due: write link = { baud = 9600 }`},
		{`memory = "64 kB"`, `cycle_level = "last"`, `:36: control.cycle_level: "last" is not known: accepted are "first", "each"`},
		{`memory = "64 kB"`, `cycle_r = "absolute"`, `:36: control.cycle_r: "absolute" is not known: accepted are "mode", "initial"`},
		{`corner = "tolerance"`, `corner = "round"`, `:37: control.corner: "round" is not known: accepted are "stop", "tolerance", "step"`},
		{`corner = "tolerance"`, `corner = "step"`, `:19: axes.x.corner_step: missing: write corner_step = "4 in/min"
shop-mill.toml:25: axes.y.corner_step: missing: write corner_step = "4 in/min"
shop-mill.toml:28: axes.z.corner_step: missing: write corner_step = "4 in/min"
shop-mill.toml:31: axes.a.corner_step: missing: write corner_step = "2 deg/s"`},
		{`memory = "64 kB"`, `rapid_path = "bent"`, `:36: control.rapid_path: "bent" is not known: accepted are "straight", "each-axis"`},
		{`acceleration = "0.35 m/s^2"`, "acceleration = \"0.35 m/s^2\"\njerk = \"20 m/s^2\"",
			`:31: axes.z.jerk: "20 m/s^2" is an acceleration, but a jerk is due: its units are m/s^3, in/s^3, mm/s^3`},
		{`acceleration = "180 deg/s^2"`, "acceleration = \"180 deg/s^2\"\njerk = \"-20 deg/s^3\"", `:34: axes.a.jerk: "-20 deg/s^3" is below 0`},
		{`corner_tolerance = "0.0005 in"`, ``, `:34: control.corner_tolerance: missing: write corner_tolerance = "0.0005 in"`},
		{`memory = "64 kB"`, `home_axes = "each"`, `:36: control.home_axes: "each" is not known: accepted are "all", "named"`},
		{`pockets = 16`, `pockets = -2`, `:40: tools.pockets: "-2" is below 0`},
		{`shift_time = "4 s"`, `start = "-4 s"`, `:10: spindle.start: "-4 s" is below 0`}, // and the time of a reversal, which is made of it
		{`pockets = 16`, "pockets = 16\nhighest = 8", `:41: tools.highest: 8 is below tools.pockets, 16`},
		{`number = 2`, `number = 1`, `:45: tools.loaded[1].number: T1 stands twice`},
		{`number = 2`, `number = 17`, `:45: tools.loaded[1].number: T17 is above tools.highest, 16`},
		{`number = 2`, ``, `:44: tools.loaded[1].number: missing or not above 0: write number = 1 for T1`},
		{`length = "4 in"`, `length = "-4 in"`, `:43: tools.loaded[0].length: "-4 in" is below 0`},
		{"pockets = 16\n[[tools.loaded]]\nnumber = 1", "pockets = 16\nshared_offsets = true\n[[tools.loaded]]\nnumber = 1\nd = 2",
			`:44: tools.loaded[0].d: entry 2 of the one table for H and D holds the length of T2: write an entry of its own, such as d = 21`},
		{"[codes]", "[rules]\nfeed-missing = { level = \"of\", reason = \"ours\" }\n[codes]", `:49: rules.feed-missing.level: "of" is not known: did you mean "off"? accepted are "error", "warning", "note", "off"`},
		{"[codes]", "[rules]\nfeed-missing = { level = \"off\" }\n[codes]", `:49: rules.feed-missing.reason: missing: write reason = "why it is so in this shop"`},
		{"[codes]", "[rules.feed-missing]\nlevel = \"off\"\nreason = \" \"\n[codes]", `:50: rules.feed-missing.reason: missing: write reason = "why it is so in this shop"`},
		{"[codes]", "[rules]\nfeed-missing = \"off\"\n[codes]", `:49: rules.feed-missing: "off" is a text, but a table is due: write feed-missing = { level = "off", reason = "why it is so in this shop" }`},
		{`[offsets.G54]`, `[offsets.G60]`, `:46: offsets.G60: "G60" is no work offset of this profile: accepted are G54, G55, G56, G57, G58, G59, G59.1, G59.2, G59.3`},
	}
	for _, tt := range tests {
		t.Run(tt.new, func(t *testing.T) {
			text := strings.Replace(shopMill, tt.old, tt.new, 1)
			if text == shopMill {
				t.Fatalf("%q is not in the profile", tt.old)
			}
			_, got := loadText(t, text)
			if want := "shop-mill.toml" + tt.want; got != want {
				t.Errorf("got  %s\nwant %s", got, want)
			}
		})
	}
}

func TestSoundProfile(t *testing.T) {
	m, got := loadText(t, shopMill)
	if got != "" {
		t.Fatal(got)
	}
	for path, want := range map[string]string{
		"name":                     "shop-mill.toml:1",
		"axes.x.rapid":             "shop-mill.toml:22",
		"spindle.gears[1].code":    "shop-mill.toml:17",
		"spindle.gears[1].speed":   "shop-mill.toml:18",
		"codes.M19":                "shop-mill.toml:49",
		"codes.G38.2":              lineOf(t, "rs274ngc", `"G38.2" = `),
		"words.m_codes":            lineOf(t, "rs274ngc", `m_codes = `),
		"axes.y.feed":              "default",
		"spindle.speed":            "default",
		"axes.x.second":            "",
		"tools.loaded[0].diameter": "",
	} {
		got := m.Origin(path)
		if i := strings.LastIndexByte(got, filepath.Separator); i >= 0 {
			got = got[i+1:]
		}
		if got != want {
			t.Errorf("%s comes from %q, want %q", path, got, want)
		}
	}
}

// lineOf is where an embedded profile has the text.
func lineOf(t *testing.T, name, text string) string {
	t.Helper()
	s := embedded(name)
	before, _, found := strings.Cut(string(s.text), text)
	if !found {
		t.Fatalf("%s has no %q", s.file, text)
	}
	return fmt.Sprintf("%s:%d", s.file, 1+strings.Count(before, "\n"))
}

// All that is wrong is told at once, in order of place.
func TestAllErrors(t *testing.T) {
	text := strings.NewReplacer(`"4 s"`, `4`, `rapid = "150 in/min"`, `rapd = "150 in/min"`, `"64 kB"`, `"64 kb"`, `number = 2`, `number = "two"`).Replace(shopMill)
	_, got := loadText(t, text)
	want := []string{
		`shop-mill.toml:10: spindle.shift_time: "4" has no unit: write "4 s" or "4 ms"`,
		`shop-mill.toml:29: axes.z.rapd: unknown key in 'rapd = "150 in/min"': did you mean "rapid"? known here are travel, home, second, rapid, feed, acceleration, jerk, corner_step, backlash, backlash_limit, diameter, wrap, motor, drive, screw, mass, friction, weight`,
		`shop-mill.toml:36: control.memory: "64 kb" has the unknown unit "kb": did you mean "kB"? units of a size are kB, MB, B, KiB, MiB`,
		`shop-mill.toml:45: tools.loaded[1].number: "two" is a text, but a whole number without a unit is due`,
	}
	if lines := strings.Split(got, "\n"); strings.Join(lines, "\n") != strings.Join(want, "\n") {
		t.Errorf("got\n%s\nwant\n%s", got, strings.Join(want, "\n"))
	}
}

func TestExtends(t *testing.T) {
	folder := t.TempDir()
	put := func(name, text string) {
		if err := os.WriteFile(filepath.Join(folder, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	put("shop-mill.toml", shopMill)
	put("better-mill.toml", `name = "better-mill"
title = "Mill by the door, Z screw renewed"
extends = "./shop-mill.toml"
arcs.tolerance = "0.001 in"
[codes]
G38.2 = "refused" # without quotes, as people write it
G59.3 = "refused"
M10 = "accepted"
[axes.z]
rapid = "200 in/min"
[spindle]
gears = [{ name = "only", code = "M41", speed = ["40 rpm", "2000 rpm"] }]
[offsets.G59.1]
x = "1 in"
`)
	m, err := Load(filepath.Join(folder, "better-mill.toml"))
	if err != nil {
		t.Fatal(err)
	}
	switch {
	case m.Title != "Mill by the door, Z screw renewed" || m.Kind != "mill":
		t.Errorf("title %q, kind %q", m.Title, m.Kind)
	case m.G(382) != Refused || m.G(593) != Refused || m.M(100) != Accepted || m.G(10) != FeedMove || m.M(190) != SpindleOrient:
		t.Error("codes of three levels do not merge")
	case m.Axes.Z.Rapid != 200*25.4/60 || m.Axes.Z.Acceleration != 350:
		t.Errorf("Z is %+v: tables merge key by key", *m.Axes.Z)
	case len(m.Spindle.Gears) != 1 || m.Spindle.Speed[1] != 2000 || m.GearOf(420) != -1 || m.M(420) != Refused:
		t.Errorf("spindle is %+v: lists replace", m.Spindle)
	case m.Arcs.ToleranceInch != 0.0254:
		t.Errorf("arc tolerance in inch is %g mm: the base's hides the child's", m.Arcs.ToleranceInch)
	case m.WorkOffset(6) == nil || *m.WorkOffset(6).X != 25.4 || m.WorkOffset(0) == nil || m.WorkOffset(1) != nil:
		t.Error("offsets do not merge")
	}

	for i := range mostLevels + 1 {
		put(fmt.Sprintf("deep-%d.toml", i), fmt.Sprintf("extends = \"./deep-%d.toml\"\n", i+1))
	}
	put("a.toml", "name = \"a\"\nextends = \"./b.toml\"\n")
	put("b.toml", "name = \"b\"\nextends = \"./a.toml\"\n")
	put("lost.toml", "name = \"lost\"\nextends = \"./nowhere.toml\"\n")
	put("broken.toml", "name = broken\n")
	put("worn-mill.toml", strings.NewReplacer("shop-mill", "worn-mill", `"250 in/min"`, "250").Replace(shopMill))
	put("young-mill.toml", "name = \"young-mill\"\ntitle = \"New\"\nextends = \"./worn-mill.toml\"\ndisplay = 1\naxes.y.rapid = \"9 m/min\"\n")
	put("tape.toml", "#"+strings.Repeat("0", mostBytes))
	put("heir.toml", "name = \"heir\"\n\nextends = \"./broken.toml\"\n")
	at := folder + string(filepath.Separator)
	for file, want := range map[string]string{
		"a.toml":      at + `b.toml:2: extends: "./a.toml" extends itself, by ` + at + "a.toml -> " + at + "b.toml -> " + at + "a.toml",
		"lost.toml":   at + `lost.toml:2: extends: "./nowhere.toml": cannot read the profile: open ` + at + `nowhere.toml: no such file or directory`,
		"deep-0.toml": at + `deep-15.toml:1: extends: more than 16 levels of extends`,
		"tape.toml":   at + `tape.toml:1: longer than 1 MiB: this is no profile`,
		"young-mill.toml": at + `young-mill.toml:4: display: "1" is a number, but a text in "quotes" is due` + "\n" +
			at + `worn-mill.toml:22: axes.x.rapid: "250" has no unit: write "250 in/min" or "250 mm/min"`,
		"heir.toml": at + `heir.toml:3: extends: the base "./broken.toml" cannot be used` + "\n" + at + `broken.toml:1: unexpected character U+0062`,
	} {
		_, err := Load(filepath.Join(folder, file))
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: got  %v\nwant %s", file, err, want)
		}
	}
}

func TestFind(t *testing.T) {
	folder := filepath.Dir(write(t, "shop-mill.toml", shopMill))
	if m, err := Find("shop-mill", []string{filepath.Join(folder, "none"), folder}); err != nil || m.Name != "shop-mill" {
		t.Errorf("by name in a folder: %v", err)
	}
	if m, err := Find(filepath.Join(folder, "shop-mill.toml"), nil); err != nil || m.Name != "shop-mill" {
		t.Errorf("by path: %v", err)
	}
	for _, tt := range []struct {
		name    string
		folders []string
		want    string
	}{
		{"bedmill", nil, `no machine "bedmill" in the library: did you mean "bed-mill"? known are bed-mill, knee-mill, lenient, parametric, rs274ngc, slant-lathe, tape-era; a file of your own is given by its path, such as ./bedmill.toml`},
		{"shop-mil", []string{folder}, `no machine "shop-mil" in the library or in ` + folder + `: did you mean "shop-mill"? known are bed-mill, knee-mill, lenient, parametric, rs274ngc, shop-mill, slant-lathe, tape-era; a file of your own is given by its path, such as ./shop-mil.toml`},
		{"", nil, `no machine "" in the library: known are bed-mill, knee-mill, lenient, parametric, rs274ngc, slant-lathe, tape-era; a file of your own is given by its path, such as ./my-mill.toml`},
		{"./none.toml", nil, `cannot read the profile: open ./none.toml: no such file or directory`},
	} {
		if _, err := Find(tt.name, tt.folders); err == nil || err.Error() != tt.want {
			t.Errorf("%q: got  %v\nwant %s", tt.name, err, tt.want)
		}
	}
}

func FuzzLoad(f *testing.F) {
	for _, name := range Names() {
		f.Add(embedded(name).text)
	}
	f.Add([]byte(shopMill))
	f.Fuzz(func(t *testing.T, text []byte) {
		m, err := loadFrom(&source{name: "shop-mill", file: "shop-mill.toml", text: text})
		if err != nil {
			if !strings.Contains(err.Error(), ".toml:") {
				t.Errorf("no place in %q", err)
			}
			return
		}
		for i := range NumAxes {
			if a := m.Axis(i); a != nil && (a.Rapid <= 0 || a.Feed <= 0 || a.Acceleration <= 0) {
				t.Errorf("axis %c of a valid machine cannot move: %+v", AxisLetters[i], *a)
			}
		}
		for code, name := range m.Codes {
			letter, tenths, ok := parseCode(code)
			if got := map[byte]func(int) Meaning{'G': m.G, 'M': m.M}[letter]; !ok || got(tenths).String() != name {
				t.Errorf("%s is not %s in the table", code, name)
			}
		}
	})
}

// A person's own profile goes before an embedded one of the same name, and may
// begin with a byte order mark.
func TestOwnBeforeEmbedded(t *testing.T) {
	folder := t.TempDir()
	own := "\xEF\xBB\xBFname = \"bed-mill\"\ntitle = \"Ours\"\nextends = \"rs274ngc\"\n"
	if err := os.WriteFile(filepath.Join(folder, "bed-mill.toml"), []byte(own), 0o644); err != nil {
		t.Fatal(err)
	}
	if m, err := Find("bed-mill", []string{folder}); err != nil || m.Title != "Ours" {
		t.Errorf("got %+v, %v", m, err)
	}
}

// What a control reads: characters and the line they come over.
func TestWire(t *testing.T) {
	for _, c := range []struct{ setting, want string }{
		{`block.characters=A-Z0-9 %()+-./`, ""},
		{`block.characters=Z-A`, `"Z-A" runs backwards: write A-Z`},
		{`block.characters=A-Z`, `0 is missing, and no program can do without it`},
		{`block.characters=A-Z0-9-é`, `accepted are the characters of a keyboard, without accents`},
		{`control.link.baud=4800`, ""},
		{`control.link.baud=-1`, `-1 is not within 0 to 10000000`},
		{`control.link.bits=10`, `control.link.baud: missing: write baud = 9600`},
		{`control.backlash=some`, `"some" is not known: accepted are "taken-out", "left"`},
		{`axes.x.backlash_limit=-1 in`, `"-1 in" is below 0`},
	} {
		m, err := FindWith("bed-mill", nil, []string{c.setting})
		if c.want == "" && err != nil || c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)) {
			t.Errorf("%s: got %v, want %q", c.setting, err, c.want)
			continue
		}
		if err != nil {
			continue
		}
		if set, limited := m.Characters(); limited && (!set['A'] || !set['M'] || !set['5'] || !set['-'] || !set['\n'] || set['a'] || set['\t']) {
			t.Errorf("%s: the set is not what is written", c.setting)
		}
		if l := m.Control.Link; l.Baud > 0 && (l.Bits != 10 || l.Buffer != 1000) {
			t.Errorf("%s: defaults are %+v", c.setting, l)
		}
	}
}
