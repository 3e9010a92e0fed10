package rules

import (
	"fmt"
	"strings"
	"testing"

	"tapefit/profiles"
)

// What is advised is within every limit: the program that follows it has no
// finding left, and one that takes a little more does.
func TestFeedAdvice(t *testing.T) {
	const (
		mill  = "M41\nS500 M3\nG0 X0 Y0 Z1.\n%s\nM30\n"
		lathe = "M42\nS2000 M3\nG0 X2. Z.5\n%s\nM30\n"
	)
	for _, tt := range []struct {
		name, machine, greatest string
		program, block          string
		message, advice         string
		mended, more            string
	}{
		{"the axis", "bed-mill", "400 in/min", mill, "G1 X4. F200.",
			"feed 200 in/min moves X at 200 in/min; that axis of bed-mill feeds up to 150 in/min", "Program F150 or less here.",
			"G1 X4. F150.", "G1 X4. F151."},
		{"the control below the axis", "bed-mill", "80 in/min", mill, "G1 X4. F200.",
			"feed 200 in/min; bed-mill takes F up to 80 in/min", "Program F80 or less here.",
			"G1 X4. F80.", "G1 X4. F81."},
		{"the axis below the control, on a slope", "bed-mill", "140 in/min", mill, "G1 X3. Z-3. F200.",
			"feed 200 in/min moves Z at 160 in/min; that axis of bed-mill feeds up to 100 in/min", "Program F125 or less here.",
			"G1 X3. Z-3. F125.", "G1 X3. Z-3. F126."},
		{"inverse time: four inches in a fiftieth of a minute", "bed-mill", "120 in/min", mill, "G93 G1 X4. F50.",
			"feed 200 in/min; bed-mill feeds up to 120 in/min",
			"Give the move more time: F smaller by 40 % or more, which is 120 in/min along the path.",
			"G93 G1 X4. F30.", "G93 G1 X4. F30.5"},
		{"inverse time, a share with a fraction", "bed-mill", "", mill, "G93 G1 X4. F51.",
			"feed 204 in/min moves X at 204 in/min; that axis of bed-mill feeds up to 150 in/min",
			"Give the move more time: F smaller by 27 % or more, which is 150 in/min along the path.",
			"G93 G1 X4. F37.23", "G93 G1 X4. F38."},
		{"a revolution", "slant-lathe", "61 in/min", lathe, "G1 Z-1. F.08",
			"feed 160 in/min; slant-lathe feeds up to 61 in/min; F is 0.08 in a revolution",
			"Program F for 0.0305 in a revolution or less here, or a slower spindle.",
			"G1 Z-1. F.0305", "G1 Z-1. F.0306"},
		{"a revolution, no round number", "slant-lathe", "61.018 in/min", lathe, "G1 Z-1. F.08",
			"feed 160 in/min; slant-lathe feeds up to 61.02 in/min; F is 0.08 in a revolution",
			"Program F for 0.0305 in a revolution or less here, or a slower spindle.",
			"G1 Z-1. F.0305", "G1 Z-1. F.0306"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			var set []string
			if tt.greatest != "" {
				set = append(set, "feed.greatest="+tt.greatest)
			}
			m, err := profiles.FindWith(tt.machine, nil, set)
			if err != nil {
				t.Fatal(err)
			}
			of := func(block string) (found []Finding) {
				text := fmt.Sprintf(tt.program, block)
				r, err := Check(strings.NewReader(text), int64(len(text)), "test", m, All(), Options{})
				if err != nil {
					t.Fatal(err)
				}
				for _, f := range r.Findings {
					if f.Rule.Name == "feed-over-axis-limit" {
						found = append(found, f)
					}
				}
				return found
			}
			if found := of(tt.block); len(found) != 1 || found[0].Message != tt.message || found[0].Advice != tt.advice {
				t.Errorf("%s: %+v", tt.block, found)
			}
			if found := of(tt.mended); len(found) != 0 {
				t.Errorf("%s, as advised: %s", tt.mended, found[0].Message)
			}
			if len(of(tt.more)) == 0 {
				t.Errorf("%s is over, and nothing is said", tt.more)
			}
		})
	}
}
