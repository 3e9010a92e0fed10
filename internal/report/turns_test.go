package report

import (
	"math"
	"strings"
	"testing"

	"tapefit/internal/interp"
	"tapefit/rules"
)

// facing is a cut to the centre line at 200 ft/min, from a diameter of 4 in.
const facing = "%\nG20 G18 G40 G80 G90 G95\nG28 U0 W0\nT0101\nM41\nG50 S700\nG0 X4. Z0\nG96 S200 M3\nG1 X0 F.01\nG0 Z.1\nM5\nG28 U0 W0\nM30\n%\n"

// rpmAt is 12*sfm/(pi*D), D in inches (Machinery's Handbook, from memory).
func rpmAt(sfm, diameter float64) float64 { return 12 * sfm / (math.Pi * diameter) }

// The spindle's curve while a face is cut under constant surface speed. At f in a
// turn the radius goes from r0 to r in pi*(r0^2-r^2)/(f*v) s, with v in in/s: so
// with half of the time gone the spindle turns 281 rpm, and the clamp is met after
// 29.1 s of 33.8.
func TestSpindleWhileFacing(t *testing.T) {
	s, r := sceneOf(t, "slant-lathe", facing)
	begin, end := 0.0, 0.0
	for i := range s.Vertices {
		if v := &s.Vertices[i]; v.Line == 9 && v.Kind == Cut {
			if begin == 0 {
				begin = v.Start
			}
			end = v.Time
		}
	}
	if math.Abs(end-begin-33.8) > 0.1 {
		t.Fatalf("the cut goes from %g s to %g s", begin, end)
	}
	at := func(time float64) float64 {
		line := s.speedLine(r.Times.Total)
		for i := 1; i < len(line); i++ {
			if a, b := line[i-1], line[i]; a[0] <= time && time < b[0] {
				return a[1] + (b[1]-a[1])*(time-a[0])/(b[0]-a[0])
			}
		}
		return 0
	}
	const f, v = 0.01, 200 * 12 / 60.0
	for _, seconds := range []float64{0.01, 5, 10, 16.9, 20, 25, 28, 29, 29.2, 33} {
		radius := math.Sqrt(4 - seconds*f*v/math.Pi)
		want := min(700, rpmAt(200, 2*radius))
		if got := at(begin + seconds); math.Abs(got-want) > 0.01*want {
			t.Errorf("after %g s: %g rpm, want %g", seconds, got, want)
		}
	}
	if got := at(begin + 16.9); math.Abs(got-281) > 2 {
		t.Errorf("half way: %g rpm", got)
	}
}

// On each piece of a path the spindle turns by the diameter at its end, and the
// feed is as many turns as it makes meanwhile: on straight cuts and arcs, across
// the centre line, within a clamp and the end of a gear.
func TestPiecesUnderSurfaceSpeed(t *testing.T) {
	for _, tt := range []struct {
		name, cut  string
		sfm, f     float64
		least, top float64 // of the speeds
	}{
		{"face", "G0 X4. Z0\nG96 S200 M3\nG1 X0 F.01\n", 200, .01, rpmAt(200, 4), 650},
		{"over the centre line", "G0 X4. Z0\nG96 S200 M3\nG1 X-1. F.01\n", 200, .01, rpmAt(200, 4), 650},
		{"below the gear", "G0 X12. Z0\nG96 S60 M3\nG1 X4. F.01\n", 60, .01, 30, rpmAt(60, 4)},
		{"taper", "G0 X1.5 Z0\nG96 S200 M3\nG1 X3. Z-2. F.01\n", 200, .01, rpmAt(200, 3), rpmAt(200, 1.5)},
		{"round the corner", "G0 X2. Z0\nG96 S200 M3\nG3 X3. Z-.5 K-.5 F.008\n", 200, .008, rpmAt(200, 3), rpmAt(200, 2)},
		{"into a neck and out", "G0 X3. Z0\nG96 S200 M3\nG2 X3. Z-1. I0 K-.5 F.008\n", 200, .008, rpmAt(200, 3), rpmAt(200, 2)},
		{"along", "G0 X3. Z0\nG96 S200 M3\nG1 Z-1. F.008\n", 200, .008, rpmAt(200, 3), rpmAt(200, 3)},
		{"counterclockwise", "G0 X4. Z0\nG96 S200 M4\nG1 X1.5 F.01\n", 200, .01, rpmAt(200, 4), rpmAt(200, 1.5)},
	} {
		s, _ := sceneOf(t, "slant-lathe", "%\nG20 G18 G40 G80 G90 G95\nG28 U0 W0\nT0505\nM41\nG50 S650\n"+tt.cut+"M5\nM30\n%\n")
		use, cuts := s.Tools[5], 0
		if use == nil || math.Abs(use.Speeds.Min-tt.least) > 1e-6*tt.least || math.Abs(use.Speeds.Max-tt.top) > 1e-6*tt.top {
			t.Errorf("%s: %+v, want speeds from %g to %g", tt.name, use, tt.least, tt.top)
			continue
		}
		if got := speedTexts(use, inches)[1]; got != "at "+short(tt.sfm, 0)+" ft/min" {
			t.Errorf("%s: %q", tt.name, got)
		}
		if got := feedTexts(use, inches); len(got) != 1 || got[0] != short(tt.f, 3)+" in/rev" {
			t.Errorf("%s: %q", tt.name, got)
		}
		for i := 1; i < len(s.Vertices); i++ {
			v, before := &s.Vertices[i], &s.Vertices[i-1]
			if v.Kind != Cut && v.Kind != Round {
				continue
			}
			cuts++
			want := func(v *Vertex) float64 {
				diameter := 2 * math.Abs(v.At[0]) / mmPerInch
				return min(max(rpmAt(tt.sfm, max(diameter, 1e-9)), 30), 650)
			}
			from, to := want(before), want(v)
			if math.Abs(math.Abs(v.Speed)-to) > 0.005*to || v.Speed < 0 != strings.Contains(tt.cut, "M4") {
				t.Errorf("%s: %g rpm at X %g mm, want %g", tt.name, v.Speed, v.At[0], to)
			}
			turned := v.Feed * 60 / (tt.f * mmPerInch)
			if turned < min(from, to)*0.99 || turned > max(from, to)*1.01 {
				t.Errorf("%s: a feed of %g turns a minute between %g and %g rpm", tt.name, turned, from, to)
			}
			if way := math.Hypot(v.At[0]-before.At[0], v.At[2]-before.At[2]); math.Abs(way/(v.Time-v.Start)-v.Actual) > 0.01*v.Actual {
				t.Errorf("%s: a piece of %g mm in %g s at %g mm/s", tt.name, way, v.Time-v.Start, v.Actual)
			}
		}
		if cuts == 0 {
			t.Errorf("%s: no cuts", tt.name)
		}
	}
}

// However many cuts there are, the curve is bounded, and keeps the highest speed.
func TestSpindleCurveIsBounded(t *testing.T) {
	var b strings.Builder
	b.WriteString("%\nG20 G18 G40 G80 G90 G95\nG28 U0 W0\nT0101\nM41\nG50 S700\nG0 X4. Z0\nG96 S200 M3\n")
	for range 300 {
		b.WriteString("G1 X1. F.01\nG0 X4.\n")
	}
	b.WriteString("G1 X0\nM5\nM30\n%\n")
	s, _ := sceneOf(t, "slant-lathe", b.String())
	last := s.Spindle[len(s.Spindle)-1]
	if len(s.Spindle) >= mostSteps || last.Speed != 0 {
		t.Errorf("%d steps, the last at %g rpm", len(s.Spindle), last.Speed)
	}
	if most := (&page{s: s}).fastest(); most != 700 {
		t.Errorf("at most %g rpm", most)
	}
}

// Where nothing bounds the speed no figure is made up for it.
func TestSpeedWithoutLimit(t *testing.T) {
	if got, want := rpmText(rules.Range{Set: true, Min: 191, Max: interp.NoLimit}), "191 and up, no clamp"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
