package lsp

import (
	"fmt"
	"math"
	"strings"

	"tapefit/internal/interp"
	"tapefit/internal/report"
	"tapefit/parser"
	"tapefit/profiles"
)

// speedWord is what an S word says in its block: the speed of the spindle, that of
// the surface, or the highest there may be.
func speedWord(m *profiles.Machine, s *seen, w *parser.Word) (says string, lines []string) {
	if s.clamps(m) {
		return "the highest speed of the spindle under constant surface speed, in rpm", append(speedFits(m, w), gears(m)...)
	}
	if s.executed && s.after.SpeedMode == profiles.SurfaceSpeed && s.after.Surface > 0 {
		return "the speed of the surface, " + report.Surface(m, s.after.Surface), append(surfaced(m, &s.after), gears(m)...)
	}
	if !s.executed {
		return "the speed of the spindle", append(speedFits(m, w), gears(m)...)
	}
	return "the speed of the spindle, in rpm", append(speedFits(m, w), gears(m)...)
}

// clamps says whether S is the highest speed in the block, as the interpreter takes
// it.
func (s *seen) clamps(m *profiles.Machine) bool {
	axes := strings.ContainsFunc(profiles.AxisLetters, func(letter rune) bool { return s.block.Word(byte(letter)) != nil })
	switch s.code(m, profiles.NonModal) {
	case profiles.ClampSpeed:
		return true
	case profiles.SetPosition:
		return m.Spindle.Clamp && !axes
	}
	return false
}

// surfaced is what constant surface speed makes of the spindle where the tool
// stands.
func surfaced(m *profiles.Machine, s *interp.State) []string {
	if s.Unknown&interp.UnknownSpeed != 0 || !s.Known.Has(0) {
		return []string{"how fast the spindle turns hangs on X, which is not known here"}
	}
	law := s.Law(m)
	line := fmt.Sprintf("behind this block it turns at %s, with the tool at %s", rpm(s.Speed), report.Place(m, 0, s.At[0]))
	free := math.Inf(1)
	if x := math.Abs(s.At[0]); x > 0 {
		free = law.Radius(x) // radius and speed stand for each other
	}
	switch {
	case free > law.Highest && s.Clamp == law.Highest:
		line += ": the clamp holds it there"
	case free > law.Highest || free < law.Lowest:
		line += ": gear and spindle go no further"
	}
	return []string{line}
}

func rpm(v float64) string { return number(math.Round(v)) + " rpm" }

// speedFits says which gears reach a speed.
func speedFits(m *profiles.Machine, w *parser.Word) []string {
	if w.Expr != nil || len(m.Spindle.Gears) == 0 {
		return nil
	}
	var names []string
	for i := range m.Spindle.Gears {
		if g := &m.Spindle.Gears[i]; g.Reaches(w.Value) {
			names = append(names, g.Name)
		}
	}
	if names == nil {
		return []string{"as rpm, no gear reaches it"}
	}
	return []string{"as rpm, reached in " + strings.Join(names, " and ")}
}
