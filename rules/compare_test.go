package rules

import (
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"tapefit/profiles"
)

// mill is one of two machines that differ in a code that is refused, the top
// speed and the travel of X.
func mill(t testing.TB, name, refused, speed, travel string) *profiles.Machine {
	t.Helper()
	text := fmt.Sprintf(`name = %q
title = "A mill"
extends = "rs274ngc"
kind = "mill"
display = "mm"
[start]
units = "mm"
[codes]
%s = "refused"
[spindle]
shift = "by-hand"
[[spindle.gears]]
name = "direct"
speed = ["10 rpm", %q]
[axes.x]
travel = ["0 mm", %q]
home = "0 mm"
rapid = "6000 mm/min"
acceleration = "0.5 m/s^2"
[axes.y]
rapid = "6000 mm/min"
acceleration = "0.5 m/s^2"
[axes.z]
rapid = "6000 mm/min"
acceleration = "0.5 m/s^2"
[offsets.G54]
x = "0 mm"
`, name, refused, speed, travel)
	file := filepath.Join(t.TempDir(), name+".toml")
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	m, err := profiles.Load(file)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func TestCompare(t *testing.T) {
	was := mill(t, "old-mill", "G61", "6000 rpm", "600 mm")
	now := mill(t, "new-mill", "G93", "3000 rpm", "400 mm")
	for _, tt := range []struct {
		name, program string
		change        Change
		fresh, gone   []string // line:column rule
	}{
		{"nothing to say", "G0 X100\nM2\n", FitsBoth, nil, nil},
		{"the same warning on both", "S1000 M3\nG1 X1 R2 F100\nM5\nM2\n", FitsBoth, nil, nil},
		{"a code that the new control lacks", "G93\nG94\nM2\n", NewlyRefused, []string{"1:1 code-not-accepted"}, nil},
		{"a code that the old control lacked", "G61\nG64\nM2\n", NowFits, nil, []string{"1:1 code-not-accepted"}},
		{"each lacks another code in one block", "G0 X1\nG61\nG64\nG93\nM2\n", RefusedByBoth, []string{"4:1 code-not-accepted"}, []string{"2:1 code-not-accepted"}},
		{"a speed that the new spindle does not reach", "S4000 M3\nM5\nM2\n", NewlyRefused, []string{"1:1 speed-over-machine"}, nil},
		// 700 is beyond both tables: the new one ends before, at 500, and has
		// nothing less to say.
		{"a shorter table is new where it begins, and not gone where the old one ended", "G0 X500\nX700\nX300\nM2\n",
			RefusedByBoth, []string{"1:4 travel-exceeded"}, nil},
		{"refused for the same, told in other numbers", "S7000 M3\nM5\nM2\n", RefusedByBoth, nil, nil},
	} {
		var both [2]*Result
		for i, m := range []*profiles.Machine{now, was} {
			r, err := Check(strings.NewReader(tt.program), int64(len(tt.program)), "part.nc", m, All(), Options{})
			if err != nil {
				t.Fatal(err)
			}
			both[i] = r
		}
		c := Compare(both[0], both[1])
		if c.Change() != tt.change || !reflect.DeepEqual(worst(c.New), tt.fresh) || !reflect.DeepEqual(worst(c.Gone), tt.gone) {
			t.Errorf("%s: %s, new %v, gone %v; want %s, %v, %v", tt.name, c.Change(), worst(c.New), worst(c.Gone), tt.change, tt.fresh, tt.gone)
		}
		// The way back has the same differences, the other way about.
		back := Compare(both[1], both[0])
		if !reflect.DeepEqual(places(back.New), places(c.Gone)) || !reflect.DeepEqual(places(back.Gone), places(c.New)) {
			t.Errorf("%s: back: new %v, gone %v", tt.name, places(back.New), places(back.Gone))
		}
	}
}

// worst are the places of the errors.
func worst(findings []*Finding) []string {
	return places(slices.DeleteFunc(slices.Clone(findings), func(f *Finding) bool { return f.Level != Error }))
}

func places(findings []*Finding) []string {
	var all []string
	for _, f := range findings {
		all = append(all, fmt.Sprintf("%d:%d %s", f.Line, f.Column, f.Rule.Name))
	}
	return all
}

// A machine compared with itself has no news, whatever the program; and what is
// new and what is gone stand in order of place.
func TestCompareShop(t *testing.T) {
	programs, err := filepath.Glob("../testdata/shop/*/*")
	if err != nil || len(programs) < 10 {
		t.Fatal(programs, err)
	}
	var tally, still Tally
	for _, path := range programs {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		var on [2]*Result
		for i, name := range []string{"knee-mill", "bed-mill"} {
			if on[i], err = Check(strings.NewReader(string(text)), int64(len(text)), path, machine(t, name), All(), Options{}); err != nil {
				t.Fatal(err)
			}
		}
		if c := Compare(on[0], on[0]); len(c.New)+len(c.Gone) > 0 {
			t.Errorf("%s: the same machine makes a difference: %v %v", path, places(c.New), places(c.Gone))
		} else {
			still.Add(c)
		}
		c := Compare(on[0], on[1])
		tally.Add(c)
		for _, list := range [][]*Finding{c.New, c.Gone} {
			if !slices.IsSortedFunc(list, func(a, b *Finding) int { return comparePlaces(a.Line, a.Column, b.Line, b.Column) }) {
				t.Errorf("%s: not in order: %v", path, places(list))
			}
		}
	}
	if len(still.Rules()) != 0 {
		t.Errorf("changes by rule on the same machine: %v", still.Rules())
	}
	if n := tally.Programs[FitsBoth] + tally.Programs[NewlyRefused] + tally.Programs[NowFits] + tally.Programs[RefusedByBoth]; n != len(programs) {
		t.Errorf("%d of %d programs counted", n, len(programs))
	}
	for _, r := range tally.Rules() {
		told := 0
		for _, m := range r.Messages() {
			told += m.Count
		}
		if told != r.New || r.NewIn > r.New || r.GoneIn > r.Gone || r.New > 0 && r.NewIn == 0 {
			t.Errorf("%s: %+v, %d messages", r.Rule.Name, r, told)
		}
	}
}
