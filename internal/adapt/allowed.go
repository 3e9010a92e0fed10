package adapt

import (
	"maps"

	"tapefit/profiles"
)

// allowed is what was changed on purpose, as the proof shall allow it.
func (r *Result) allowed(opt *Options) Allowed {
	made := map[string]bool{}
	for i := range r.Changes {
		made[r.Changes[i].Pass.Name] = true
	}
	al := Allowed{LeftOut: leftOut(opt),
		Path: pathTolerance(opt.To), Angle: 0.002, Feed: rounding,
		SpeedClamped: made[ClampSpeed], FeedClamped: made[ClampSpeed] || made[ClampFeed],
		GearsAdded: made[Gears], StopsAdded: made[Gears] && opt.To.Spindle.Shift == "by-hand",
	}
	al.Change = made[ToolChange]
	if made[Units] {
		al.Surface = surfaceUnit(profiles.UnitsMM) / 2 // S is whole
	}
	if made[Homing] {
		al.Homed, al.Home = true, opt.Home
	}
	if made[Chords] || made[Thin] {
		al.Path = max(al.Path, opt.Tolerance+al.Path/2)
	}
	return al
}

// leftOut are M codes of the source, by tenths, that do nothing on its machine,
// and are other codes on this one or are left out.
func leftOut(opt *Options) map[int]bool {
	set := maps.Clone(opt.LeaveOut)
	if set == nil {
		set = map[int]bool{}
	}
	for t := 400; t < 450; t++ {
		if opt.From.M(t) == profiles.Accepted && opt.To.M(t) != profiles.Accepted {
			set[t] = true
		}
	}
	return set
}

// isGear says whether an M code, by tenths, is one of those that common practice
// has for gears.
func isGear(tenths int) bool { return tenths >= 400 && tenths < 450 }

// pathTolerance is how far rounding takes a path of straight moves and arcs, mm:
// a step and a half of the coarser units, and what the machine lets the radii of an arc
// differ by.
func pathTolerance(m *profiles.Machine) float64 {
	w := newWriter(m, nil)
	t := 0.0
	for _, units := range [...]profiles.Meaning{profiles.UnitsInch, profiles.UnitsMM} {
		if m.CodeFor(units) != "" || w.units == units {
			w.units = units
			t = max(t, 1.5*w.step(2))
		}
	}
	return t
}
