package report

import (
	"tapefit/internal/interp"
	"tapefit/rules"
)

// speedTexts are the speeds at which a tool cuts: in rpm, and those of the surface
// as S has them.
func speedTexts(t *ToolUse, u units) (all []string) {
	if t.Speeds.Set {
		all = append(all, rpmText(t.Speeds))
	}
	if t.Surfaces.Set {
		all = append(all, "at "+rangeText(t.Surfaces, u.surface))
	}
	return all
}

// feedTexts are its feeds as F has them: by the minute, and by the revolution with
// the unit.
func feedTexts(t *ToolUse, u units) (all []string) {
	if t.Feeds.Set {
		all = append(all, rangeText(t.Feeds, func(v float64) string { return short(v*60/u.scale, 1) }))
	}
	if t.PerRevs.Set {
		all = append(all, rangeText(t.PerRevs, func(v float64) string { return short(v/u.scale, u.decimals+1) })+" "+u.name+"/rev")
	}
	return all
}

// rpmText is a range of speeds of the spindle.
func rpmText(r rules.Range) string {
	if r.Max >= interp.NoLimit {
		return short(r.Min, 0) + " and up, no clamp"
	}
	return rangeText(r, func(v float64) string { return short(v, 0) })
}

// rangeText is a range, or one value where both ends are written alike.
func rangeText(r rules.Range, write func(float64) string) string {
	switch {
	case !r.Set:
		return ""
	case write(r.Min) == write(r.Max):
		return write(r.Min)
	}
	return write(r.Min) + " to " + write(r.Max)
}
