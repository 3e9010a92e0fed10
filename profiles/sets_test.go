package profiles

import (
	"math"
	"strings"
	"testing"
)

// withSettings loads shopMill with settings over it.
func withSettings(settings ...string) (*Machine, string) {
	m, err := loadFrom(&source{name: "shop-mill", file: "shop-mill.toml", text: []byte(shopMill)}, settings...)
	if err != nil {
		return nil, err.Error()
	}
	return m, ""
}

func TestSettings(t *testing.T) {
	tests := []struct {
		settings     []string
		path, origin string
		holds        func(m *Machine) bool
	}{
		// The quotes of a text may be lost to the shell.
		{[]string{`axes.z.rapid="200 in/min"`}, "axes.z.rapid", "--set", func(m *Machine) bool { return near(m.Axes.Z.Rapid, 200*25.4/60) }},
		{[]string{`axes.z.rapid=200 in/min`}, "axes.z.rapid", "--set", func(m *Machine) bool { return near(m.Axes.Z.Rapid, 200*25.4/60) }},
		{[]string{` axes.z.rapid = '200 in/min' # if the drive were new`}, "axes.z.rapid", "--set", func(m *Machine) bool { return near(m.Axes.Z.Rapid, 200*25.4/60) }},
		{[]string{`control.look_ahead=50`}, "control.look_ahead", "--set", func(m *Machine) bool { return m.Control.LookAhead == 50 }},
		{[]string{`block.delete=false`}, "block.delete", "--set", func(m *Machine) bool { return !m.Block.Delete }},
		{[]string{`title=Mill by the door, Z screw renewed`}, "title", "--set", func(m *Machine) bool { return m.Title == "Mill by the door, Z screw renewed" }},
		{[]string{"tools.change_program=G53 G0 Z0\nM6\n"}, "tools.change_program", "--set", func(m *Machine) bool { return m.Tools.ChangeProgram == "G53 G0 Z0\nM6" }},
		// What other values follow from it is as with a file.
		{[]string{`axes.z.rapid=200 in/min`}, "axes.z.feed", "default", func(m *Machine) bool { return m.Axes.Z.Feed == m.Axes.Z.Rapid }},
		{[]string{`arcs.tolerance=0.001 in`}, "arcs.tolerance_inch", "default", func(m *Machine) bool { return near(m.Arcs.ToleranceInch, 0.0254) }},
		{[]string{`arcs.tolerance=0.001 in`, `arcs.tolerance_inch=0.002 in`}, "arcs.tolerance_inch", "--set", func(m *Machine) bool { return near(m.Arcs.ToleranceInch, 0.0508) }},
		// Lists and their items.
		{[]string{`axes.x.travel=["0 in","50 in"]`}, "axes.x.travel[1]", "--set", func(m *Machine) bool { return near(m.Axes.X.Travel[1], 1270) }},
		{[]string{`axes.x.travel[1]=50 in`}, "axes.x.travel", "shop-mill.toml:20 and --set", func(m *Machine) bool { return near(m.Axes.X.Travel[1], 1270) && m.Axes.X.Travel[0] == 0 }},
		{[]string{`spindle.gears[1].speed[1]=6000 rpm`}, "spindle.gears[1]", "shop-mill.toml:15 and --set", func(m *Machine) bool { return m.Spindle.Speed[1] == 6000 && m.Spindle.Gears[1].Code == "M42" }},
		{[]string{`spindle.gears[1].speed[1]=6000 rpm`}, "spindle.gears[0]", "shop-mill.toml:11", func(m *Machine) bool { return m.Spindle.Speed[0] == 40 }},
		{[]string{`tools.loaded[0].length=100 mm`}, "tools.loaded[0].length", "--set", func(m *Machine) bool { return m.Tools.Loaded[0].Length == 100 }},
		// Values that must agree are set together.
		{[]string{`spindle.shift=automatic`, `spindle.gears[0].code=`, `spindle.gears[1].code=""`}, "spindle.shift", "--set", func(m *Machine) bool { return m.GearOf(410) < 0 }},
		{[]string{`axes.x.rapid=100 in/min`, `axes.x.feed=100 in/min`}, "axes.x.feed", "--set", func(m *Machine) bool { return m.Axes.X.Feed == m.Axes.X.Rapid }},
		{[]string{`axes.b.rapid=20 deg/s`, `axes.b.acceleration=90 deg/s^2`}, "axes.b", "--set", func(m *Machine) bool { return m.Axes.B.Rapid == 20 }},
		// Codes: the point is the code's, with or without quotes.
		{[]string{`codes.M10=accepted`}, "codes.M10", "--set", func(m *Machine) bool { return m.M(100) == Accepted }},
		{[]string{`codes.G38.2=refused`}, "codes.G38.2", "--set", func(m *Machine) bool { return m.G(382) == Refused && m.G(10) == FeedMove }},
		{[]string{`codes."G38.2"="refused"`}, "codes.G38.2", "--set", func(m *Machine) bool { return m.G(382) == Refused }},
		{[]string{`codes={G38.2="refused", M10="accepted"}`}, "codes.G38.2", "--set", func(m *Machine) bool { return m.G(382) == Refused && m.M(100) == Accepted }},
		{[]string{`offsets.G54.x=3 in`}, "offsets.G54", "shop-mill.toml:46 and --set", func(m *Machine) bool { return near(*m.WorkOffset(0).X, 76.2) }},
		{[]string{`offsets.G59.1.x=3 in`}, "offsets.G59.1", "--set", func(m *Machine) bool { return near(*m.WorkOffset(6).X, 76.2) }},
		{[]string{`offsets.G54={y="3 in"}`}, "offsets.G54.x", "shop-mill.toml:47", func(m *Machine) bool { return near(*m.WorkOffset(0).X, 304.8) && near(*m.WorkOffset(0).Y, 76.2) }},
	}
	for _, tt := range tests {
		m, complaint := withSettings(tt.settings...)
		switch {
		case complaint != "":
			t.Errorf("%q: %s", tt.settings, complaint)
		case !tt.holds(m):
			t.Errorf("%q is not in force", tt.settings)
		case m.Origin(tt.path) != tt.origin:
			t.Errorf("%q: %s comes from %q, not %q", tt.settings, tt.path, m.Origin(tt.path), tt.origin)
		}
	}
}

func near[Q ~float64](got Q, want float64) bool { return math.Abs(float64(got)-want) < 1e-9 }

func TestSettingMessages(t *testing.T) {
	tests := []struct{ setting, want string }{
		{`axes.z.rapd=200 in/min`, `--set axes.z.rapd: unknown key in 'axes.z.rapd=200 in/min': did you mean "rapid"? known here are travel, home, second, rapid, feed, acceleration, jerk, corner_step, backlash, backlash_limit, diameter, wrap, motor, drive, screw, mass, friction, weight`},
		{`axes.z.rapid=200`, `--set axes.z.rapid: "200" has no unit: write "200 in/min" or "200 mm/min"`},
		{`axes.z.rapid=200 IPM`, `--set axes.z.rapid: "200 IPM" has the unknown unit "IPM": did you mean "in/min"? units of a speed are in/min, mm/min, mm/s, m/min, in/s, ft/min`},
		{`axes.z.rapid=200 inch/min`, `--set axes.z.rapid: "200 inch/min" has the unknown unit "inch/min": did you mean "in/min"? units of a speed are in/min, mm/min, mm/s, m/min, in/s, ft/min`},
		{`axes.z.rapid=`, `--set axes.z.rapid: "" is not a number with a unit: a speed is written like "12.5 in/min" or "12.5 mm/min"`},
		{`axes.z.rapid.most=3`, `--set axes.z.rapid: this is a table, but a speed such as "12.5 in/min" or "12.5 mm/min" is due`},
		{`axes.z=3`, `--set axes.z: "3" is a number, but a table is due: set its keys one by one, axes.z.KEY=VALUE`},
		{`control.look_ahead=many`, `--set control.look_ahead: "many" is a text, but a whole number without a unit is due`},
		{"control.look_ahead=50\nkind = \"lathe\"", `--set control.look_ahead: "50\nkind = \"lathe\"" is a text, but a whole number without a unit is due`},
		{`spindle.shift=coded by hand`, `--set spindle.shift: "coded by hand" is not known: accepted are "coded", "automatic", "by-hand"`},
		{`codes.M10=acepted`, `--set codes.M10: "acepted" is no meaning: did you mean "accepted"? accepted are refused, accepted, program-stop,`},
		{`offsets.G51.x=1 in`, `--set offsets.G51: "G51" is no work offset of this profile: accepted are G54, G55, G56, G57, G58, G59, G59.1, G59.2, G59.3`},
		{`axes.b.rapid=20 deg/s`, `--set axes.b.acceleration: missing: write acceleration = "200 deg/s^2"`},
		{`name=door-mill`, `--set name: "door-mill", but the file is shop-mill.toml: give both one name`},
		{`extends=tape-era`, `--set extends: what a profile extends cannot be set: write a file of your own, or name another machine`},
		// What no longer agrees with it stands in the file.
		{`axes.x.rapid=100 in/min`, `shop-mill.toml:23: axes.x.feed: "150 in/min" is above rapid, "100 in/min"`},
		// Lists.
		{`spindle.gear[1].code=M43`, `--set spindle.gear[1].code: the profile has no list "gear": did you mean "gears"?`},
		{`spindle.gears[2].code=M43`, `--set spindle.gears[2].code: the list has 2 items, counted from [0]: to add one, set the whole list`},
		{`axes.x[0]=3`, `--set axes.x[0]: [0] takes an item of a list, and there is none`},
		{`axes.x.travel=["0 in"`, `--set axes.x.travel: ["0 in" is not whole: a list is written ["0 in", "40 in"], a table {x = "1 in"}, a text "4 s" or without quotes`},
		{`axes.x.travel=0 in`, `--set axes.x.travel: "0 in" is a text, but a list in [ ] is due: write travel = ["0 in", "40 in"]`},
		// The form.
		{`axes.z.rapid`, `--set axes.z.rapid: no value: write axes.z.rapid=VALUE`},
		{``, `--set: "" does not begin with a path of keys: write axes.z.rapid="200 in/min" or spindle.gears[0].code=M41`},
		{`=3`, `--set: "=3" does not begin with a path of keys: write axes.z.rapid="200 in/min" or spindle.gears[0].code=M41`},
		{`axes..z=3`, `--set: "axes..z=3" does not begin with a path of keys: write axes.z.rapid="200 in/min" or spindle.gears[0].code=M41`},
		{`axes.z.rapid 200 in/min`, `--set: "axes.z.rapid 200 in/min" does not begin with a path of keys: write axes.z.rapid="200 in/min" or spindle.gears[0].code=M41`},
		{`codes={"G38.2"="refused", G38.2="refused"}`, `--set codes: a code stands twice, once in quotes`},
		{`title=` + strings.Repeat("x", mostBytes+1), `--set title: longer than 1 MiB: this is no value`},
	}
	for _, tt := range tests {
		m, got := withSettings(tt.setting)
		if m != nil || got != tt.want && !(strings.HasSuffix(tt.want, ",") && strings.HasPrefix(got, tt.want)) {
			t.Errorf("%.80s: got\n  %.300s\nwant\n  %s", tt.setting, got, tt.want)
		}
	}
}

// All that is wrong with settings is told at once, and one path is set once.
func TestManySettings(t *testing.T) {
	for _, tt := range []struct {
		settings []string
		want     string
	}{
		{[]string{`control.look_ahead=50`, `control.look_ahead=60`}, `--set control.look_ahead: set twice`},
		{[]string{`offsets.G54.x=1 in`, `offsets.G54={x="2 in"}`}, `--set offsets.G54: set twice`},
		{[]string{`axes.x.rapid`, `spindle.gears[7]=1`}, "--set axes.x.rapid: no value: write axes.x.rapid=VALUE\n" +
			`--set spindle.gears[7]: the list has 2 items, counted from [0]: to add one, set the whole list`},
		{[]string{`axes.z.rapid=9`, `control.memory=64 kb`}, `--set control.memory: "64 kb" has the unknown unit "kb": did you mean "kB"? units of a size are kB, MB, B, KiB, MiB` + "\n" +
			`--set axes.z.rapid: "9" has no unit: write "9 in/min" or "9 mm/min"`}, // in the order of the profile
	} {
		if m, got := withSettings(tt.settings...); m != nil || got != tt.want {
			t.Errorf("%q: got\n%s\nwant\n%s", tt.settings, got, tt.want)
		}
	}
}

// A setting is for one run: the library stays as it is.
func TestFindWith(t *testing.T) {
	set := []string{`axes.z.rapid=300 in/min`}
	with, err := FindWith("bed-mill", nil, set)
	if err != nil {
		t.Fatal(err)
	}
	without, err := Find("bed-mill", nil)
	if err != nil {
		t.Fatal(err)
	}
	if !near(with.Axes.Z.Rapid, 127) || !near(without.Axes.Z.Rapid, 63.5) || without.Origin("axes.z.rapid") == "--set" {
		t.Errorf("Z rapid is %g mm/s with the setting and %g without", with.Axes.Z.Rapid, without.Axes.Z.Rapid)
	}
	if len(with.Settings) != 1 || with.Settings[0] != set[0] || without.Settings != nil {
		t.Errorf("settings are %q and %q", with.Settings, without.Settings)
	}
	own := write(t, "shop-mill.toml", shopMill)
	if m, err := FindWith(own, nil, set); err != nil || m.Origin("axes.z.rapid") != "--set" {
		t.Errorf("over a file: %v", err)
	}
}

func FuzzSetting(f *testing.F) {
	for _, s := range []string{`axes.z.rapid="200 in/min"`, `axes.x.travel=["0 in","50 in"]`, `codes."G38.2"=refused`,
		`offsets.G59.1={x="1 in"}`, `spindle.gears[1].speed[0]=5 rpm`, `codes={G38.2="refused"}`, `tools=`, "a=1\nb=2", `=`, `a[0]`} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, setting string) {
		m, complaint := withSettings(setting)
		if (m == nil) != (complaint != "") {
			t.Errorf("machine %v, complaint %q", m, complaint)
		}
		if m == nil && !strings.HasPrefix(complaint, "--set") && !strings.HasPrefix(complaint, "shop-mill.toml:") && !strings.HasPrefix(complaint, "rs274ngc.toml:") {
			t.Errorf("%q: no place in %q", setting, complaint)
		}
	})
}
