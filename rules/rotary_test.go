package rules

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"tapefit/profiles"
)

func tableMill(t *testing.T) *profiles.Machine {
	t.Helper()
	m, err := profiles.Load("../testdata/machines/table-mill.toml")
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// How long moves of a rotary axis take (NISTIR 6556, 2.1.2.5, from memory: in
// units per minute the feed is that of the tool tip along X Y Z where one of them
// moves, else degrees per minute, along the root of the sum of squares; in
// inverse time the move takes 1/F minutes). The accelerations of the machine
// are such that they take no time to speak of.
func TestRotaryTimes(t *testing.T) {
	m := tableMill(t)
	const start = "G21 G90 G94\nM3 S1000\nG0 X0 Y0 Z0 A0\n"
	for _, c := range []struct {
		name, program string
		rapid         bool
		want          float64 // s
	}{
		{"mixed: along X", "G1 X60 A180 F600\n", false, 6},
		{"mixed: along X and Y, two turns", "G91 G1 X30 Y40 A180 F600\nX-30 Y-40 A180\n", false, 10},
		{"rotary alone: degrees per minute", "G1 A90 F720\n", false, 7.5},
		{"rotary alone in inches: degrees all the same", "G20\nG1 A90 F720\n", false, 7.5},
		{"more than a turn in G91", "G91 G1 A720 F1440\n", false, 30},
		{"inverse time, mixed", "G93 G1 X60 A90 F2\n", false, 30},
		{"inverse time, rotary alone", "G93 G1 A90 F4\n", false, 15},
		{"the table is the slower: 180 degrees at 40 a second", "G1 X1 A180 F3000\n", false, 4.5},
		{"the shorter way through zero", "G1 A-10 F600\n", false, 1},
		{"the shorter way, 350 is ten degrees off", "G0 A350\n", true, 10.0 / 60},
		{"on from there", "G0 A170\nA-170\n", true, 190.0 / 60},
		{"home takes the shorter way too", "G0 A350\nG91 G28 A0\n", true, 20.0 / 60},
	} {
		t.Run(c.name, func(t *testing.T) {
			program := start + c.program + "M2\n"
			r, err := Check(strings.NewReader(program), int64(len(program)), "test", m, nil, Options{})
			if err != nil {
				t.Fatal(err)
			}
			got := r.Times.Cutting
			if c.rapid {
				got = r.Times.Rapid
			}
			if r.Times.UnknownMoves > 1 || math.Abs(got-c.want) > 0.002*c.want {
				t.Errorf("%s takes %.4f s, want %.4f; %+v", c.program, got, c.want, r.Times)
			}
		})
	}
}

// What is said about a rotary axis: an axis without ends has no travel to leave,
// and its feed has a limit like any other.
func TestRotaryFindings(t *testing.T) {
	m := tableMill(t)
	for _, c := range []struct {
		program string
		want    []string
	}{
		{"G0 X0 Y0 Z0 A0\nA3600\nG91 A-7200\nM2\n", nil},
		{"G0 X0 Y0 Z0 A0\nX401\nM2\n", []string{"error travel-exceeded 2:1"}},
		{"M3 S100\nG0 X0 Y0 Z0 A0\nG1 X10 A90 F240\nM2\n", nil}, // 90 degrees in 2.5 s: 36 a second
		{"M3 S100\nG0 X0 Y0 Z0 A0\nG1 X10 A90 F300\nM2\n", []string{"error feed-over-axis-limit 3:1"}},
		{"M3 S100\nG0 X0 Y0 Z0 A0\nG1 A90 F2400\nM2\n", nil},
		{"M3 S100\nG0 X0 Y0 Z0 A0\nG1 A90 F2500\nM2\n", []string{"error feed-over-axis-limit 3:1"}},
		{"M3 S100\nG0 X0 Y0 Z10 A0 F60\nG81 X1 Z-1 R2 A90\nG80\nM2\n", []string{"error value-not-usable 3:1"}},
	} {
		if got := findings(t, m, c.program, Options{}); fmt.Sprint(got) != fmt.Sprint(c.want) {
			t.Errorf("%sgot %q, want %q", c.program, got, c.want)
		}
	}
}

// H and D of one table: one entry is a length or a diameter.
func TestSharedOffsets(t *testing.T) {
	m := tableMill(t)
	for _, c := range []struct {
		program string
		want    int
	}{
		{"T1 M6\nG43 H1 Z10\nG41 D21 G1 X5 F10\nG40 X0\nM2\n", 0},
		{"T1 M6\nG43 H1 Z10\nG41 D1 G1 X5 F10\nG40 X0\nM2\n", 1},
		{"G41 D7 G1 X5 F10\nG40 X0\nT7 M6\nG43 H7 Z10\nG43 H7 Z12\nM2\n", 1},
		{"G43 H0 Z10\nG41 D0 G1 X5 F10\nM2\n", 0}, // nothing, in any table
	} {
		if got := findings(t, m, c.program, Options{}); names(got, "offset-number-shared") != c.want {
			t.Errorf("%sgot %q, want %d", c.program, got, c.want)
		}
	}
	own := machine(t, "bed-mill")
	if got := findings(t, own, "T1 M6\nG43 H1 Z10.\nG41 D1\nG40\nM2\n", Options{}); names(got, "offset-number-shared") != 0 {
		t.Errorf("two tables: %q", got)
	}
}
