package rules

import (
	"fmt"
	"strings"
	"testing"
)

// The drip feed: 480 characters/s at 4800 baud and ten bits (common practice).
// Blocks of 16 characters come 30 a second; chords of 0.01 in at 60 in/min are
// used up 100 a second, so 3000 of them take 100 s on the line and 30 s at the
// feed; the buffer of 1000 characters saves 2.1 s of the 70.
func TestLink(t *testing.T) {
	var sb strings.Builder
	sb.WriteString("%\nM42\nS2000 M3\nG0 X0 Y0 Z1.\nG91\nG1 F60.\n")
	for i := range 3000 {
		fmt.Fprintf(&sb, "N%05d X0.01000\n", i)
	}
	sb.WriteString("M30\n%\n")
	for _, c := range []struct {
		name     string
		settings []string
		want     string
	}{
		{"fits into the memory", []string{"control.link.baud=4800", "control.block_time=0 s"}, ""},
		{"always fed", []string{"control.link.baud=4800", "control.drip=true", "control.block_time=0 s"}, "at 4800 baud the line brings 480 characters/s: "},
		{"does not fit", []string{"control.link.baud=4800", "control.memory=10 kB", "control.block_time=0 s"}, "at 4800 baud the line brings 480 characters/s: "},
		{"a fast line", []string{"control.link.baud=38400", "control.drip=true", "control.block_time=0 s"}, ""},
		{"no line known", []string{"control.memory=10 kB"}, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			program := sb.String()
			r, err := Check(strings.NewReader(program), int64(len(program)), "test", with(t, "bed-mill", c.settings...), All(), Options{})
			if err != nil {
				t.Fatal(err)
			}
			got := ""
			for _, f := range r.Findings {
				if f.Rule.Name == "link-too-slow" {
					got = f.Message
				}
			}
			if c.want == "" && got != "" || !strings.HasPrefix(got, c.want) {
				t.Fatalf("got %q, want %q", got, c.want)
			}
			if c.want == "" {
				return
			}
			var wait float64
			if _, err := fmt.Sscanf(got[strings.Index(got, "wait "):], "wait %f s", &wait); err != nil || wait < 67 || wait > 70 {
				t.Errorf("waits %g s, want 67 to 70: %s", wait, got)
			}
		})
	}
}

// Chords of 0.02 in at 100 in/min (42.3 mm/s) with 0.5 m/s^2: to stop takes
// 1.79 mm. Four blocks more than the one that moves are 2.03 mm, enough; one is
// 0.51 mm, and from there no more than sqrt(2*500*0.51) = 22.5 mm/s can be
// stopped (any mechanics text): 1000 chords lose about 10 s of 22.
func TestLookAhead(t *testing.T) {
	program := "%\nM42\nS2000 M3\nG0 X0 Y0 Z1.\nG91\nG1 F100.\n" + strings.Repeat("X.02\n", 1000) + "M30\n%\n"
	for _, c := range []struct {
		settings []string
		want     int
	}{
		{[]string{"control.look_ahead=4", "control.block_time=0 s"}, 0},
		{[]string{"control.look_ahead=1", "control.block_time=0 s"}, 1},
		{[]string{"control.look_ahead=1", "control.block_time=60 ms"}, 0}, // reading is what holds it back
	} {
		if got := findings(t, with(t, "bed-mill", c.settings...), program, Options{}); names(got, "look-ahead-too-short") != c.want {
			t.Errorf("%v: %q", c.settings, got)
		}
	}
}
