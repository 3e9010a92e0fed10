package lsp

import (
	"fmt"
	"strings"

	"tapefit/internal/report"
	"tapefit/profiles"
)

// plainly is what a control does on a code with the meaning, for who has the
// machine before him; "" of a meaning that it does not know.
func plainly(meaning profiles.Meaning) string {
	switch {
	case meaning >= profiles.WorkOffset1 && meaning <= profiles.WorkOffset9:
		return fmt.Sprintf("Places count from work zero %d from here on.", meaning-profiles.WorkOffset1+1)
	case meaning <= profiles.ThreadPassCycle:
		return plainMotion[meaning]
	}
	return plainOther[meaning]
}

var plainMotion = map[profiles.Meaning]string{
	profiles.Refused:         "The control does not know this code, and stops.",
	profiles.Accepted:        "The control takes this code. Nothing that is computed here depends on it.",
	profiles.TraverseMove:    "Rapid: moves as fast as the axes go. Not for cutting.",
	profiles.FeedMove:        "Moves straight at the feed.",
	profiles.ArcCW:           "Moves along an arc, clockwise, at the feed.",
	profiles.ArcCCW:          "Moves along an arc, counterclockwise, at the feed.",
	profiles.Probe:           "Moves straight at the feed until the probe touches.",
	profiles.CycleOff:        "Ends the canned cycle.",
	profiles.Drill:           "Drills: feed in to Z, rapid out. Again at each place that follows.",
	profiles.DrillDwell:      "Drills and stays at the bottom for P: feed in, dwell, rapid out. Again at each place that follows.",
	profiles.Peck:            "Drills in pecks of Q and comes out to R after each, to clear the chips. Again at each place that follows.",
	profiles.ChipBreak:       "Drills in pecks of Q and goes back a little after each, to break the chip. Again at each place that follows.",
	profiles.Tap:             "Taps: feed in with the spindle, reverse, feed out. Feed and speed must make the pitch. Again at each place that follows.",
	profiles.BoreFeedOut:     "Bores or reams: feed in, feed out. Again at each place that follows.",
	profiles.BoreStopOut:     "Bores: feed in, dwell, spindle stop, rapid out, spindle start. Again at each place that follows.",
	profiles.BackBore:        "Bores from below. Again at each place that follows.",
	profiles.BoreManualOut:   "Bores: feed in, dwell, spindle stop; the operator brings it out by hand.",
	profiles.BoreDwellOut:    "Bores: feed in, dwell, feed out. Again at each place that follows.",
	profiles.Thread:          "Moves straight, tied to the turns of the spindle: a thread, or a part of one.",
	profiles.TurnCycle:       "Turns one pass along Z and comes back to where it began.",
	profiles.FaceCycle:       "Faces one pass along X and comes back to where it began.",
	profiles.ThreadPassCycle: "Cuts one pass of a thread and comes back to where it began.",
}

var plainOther = map[profiles.Meaning]string{
	profiles.PlaneXY:              "Arcs, compensation and cycles are in the XY plane from here on.",
	profiles.PlaneZX:              "Arcs, compensation and cycles are in the ZX plane from here on.",
	profiles.PlaneYZ:              "Arcs, compensation and cycles are in the YZ plane from here on.",
	profiles.Absolute:             "Axis words are places from here on.",
	profiles.Incremental:          "Axis words are distances from where the tool stands, from here on.",
	profiles.FeedInverseTime:      "F is one over the minutes that the move shall take, in each block that feeds.",
	profiles.FeedPerMinute:        "F is by the minute from here on.",
	profiles.FeedPerRevolution:    "F is by the turn of the spindle from here on.",
	profiles.UnitsInch:            "Lengths are in inches from here on.",
	profiles.UnitsMM:              "Lengths are in millimetres from here on.",
	profiles.CompOff:              "Ends cutter compensation: the next move goes back onto the programmed path.",
	profiles.CompLeft:             "Cutter compensation: the tool keeps its radius to the left of the path.",
	profiles.CompRight:            "Cutter compensation: the tool keeps its radius to the right of the path.",
	profiles.LengthOn:             "The length of the tool, from the offset H, is reckoned with from here on.",
	profiles.LengthOff:            "The length of the tool is not reckoned with from here on.",
	profiles.RetractInitial:       "Cycles come out to the level that they began from.",
	profiles.RetractR:             "Cycles come out to R only: mind clamps between the holes.",
	profiles.ExactPath:            "The path is kept exactly: corners are not rounded.",
	profiles.ExactStop:            "The axes stop at the end of each block.",
	profiles.Continuous:           "Corners are passed without a stop where the control can.",
	profiles.SurfaceSpeed:         "S is the speed of the surface: the spindle turns faster as X comes to the centre.",
	profiles.SpindleSpeed:         "S is the speed of the spindle in rpm.",
	profiles.DiameterMode:         "X words are diameters from here on.",
	profiles.RadiusMode:           "X words are radii from here on.",
	profiles.PolarOn:              "Words of the plane's axes are a radius and an angle from here on.",
	profiles.PolarOff:             "Ends polar words.",
	profiles.ScaleOn:              "Places are scaled from here on.",
	profiles.ScaleOff:             "Ends scaling.",
	profiles.MirrorOn:             "Places are mirrored from here on.",
	profiles.MirrorOff:            "Ends mirroring.",
	profiles.RotateOn:             "Places are turned in the plane from here on.",
	profiles.RotateOff:            "Ends turning.",
	profiles.DwellHere:            "Waits.",
	profiles.SetData:              "Sets data of the control: a work zero, with L2.",
	profiles.Home:                 "Goes home by rapid, by way of the place that the axis words name.",
	profiles.HomeSecond:           "Goes to the second home position by rapid, by way of the place that the axis words name.",
	profiles.MachineCoordinates:   "Places of this block count from the machine's zero.",
	profiles.SetPosition:          "Sets what the place of the tool is called now: it shifts the work zero and moves nothing.",
	profiles.ClearPosition:        "Takes the shift of set positions back.",
	profiles.SuspendPosition:      "Takes the shift of set positions back, and keeps it for later.",
	profiles.RestorePosition:      "Brings a kept shift back.",
	profiles.ClampSpeed:           "S is the highest speed of the spindle under constant surface speed.",
	profiles.FinishContour:        "Cuts the contour in the blocks P to Q once.",
	profiles.RoughTurn:            "Roughs in passes along Z down to the contour in the blocks P to Q.",
	profiles.RoughFace:            "Roughs in passes along X down to the contour in the blocks P to Q.",
	profiles.RoughPattern:         "Roughs in passes along the contour in the blocks P to Q.",
	profiles.FaceGroove:           "Cuts grooves into the face, in pecks along Z.",
	profiles.TurnGroove:           "Cuts grooves into the diameter, in pecks along X.",
	profiles.ThreadCycle:          "Cuts a thread in passes of falling depth.",
	profiles.CallArguments:        "Calls the program P, L times. The other words become its local parameters.",
	profiles.ProgramStop:          "Stops until the operator presses start.",
	profiles.OptionalStop:         "Stops where the switch for optional stops is on.",
	profiles.ProgramEnd:           "Ends the program.",
	profiles.ProgramEndRewind:     "Ends the program and goes back to its beginning.",
	profiles.PalletStop:           "Changes the pallet and stops.",
	profiles.ToolChange:           "Changes to the tool that T has named.",
	profiles.SpindleCW:            "Starts the spindle clockwise, at S.",
	profiles.SpindleCCW:           "Starts the spindle counterclockwise, at S.",
	profiles.SpindleStop:          "Stops the spindle.",
	profiles.SpindleOrient:        "Stops the spindle in one place of its turn.",
	profiles.Mist:                 "Switches mist coolant on.",
	profiles.Flood:                "Switches flood coolant on.",
	profiles.CoolantOff:           "Switches all coolant off.",
	profiles.OverridesOn:          "The override switches work from here on.",
	profiles.OverridesOff:         "The override switches do nothing from here on.",
	profiles.CallSubprogram:       "Calls the program that P names.",
	profiles.ReturnFromSubprogram: "Goes back behind the call.",
	profiles.Gear:                 "Shifts the gear of the spindle.",
}

// known is what the profile says of a code with the meaning: one line for each
// thing.
func known(m *profiles.Machine, meaning profiles.Meaning, tenths int) []string {
	switch {
	case meaning == profiles.TraverseMove:
		return axes(m, "rapid", func(i int, a *profiles.Axis) string { return speed(m, i, a.Rapid) })
	case meaning == profiles.FeedMove:
		return feedLimits(m)
	case meaning == profiles.ArcCW || meaning == profiles.ArcCCW:
		return append(arcForms(m), feedLimits(m)...)
	case meaning.IsCycle():
		return cycleForm(m, meaning)
	case meaning == profiles.SpindleCW || meaning == profiles.SpindleCCW || meaning == profiles.SpindleStop:
		return append(gears(m), spindleTimes(m)...)
	case meaning == profiles.Gear:
		return gear(m, m.GearOf(tenths))
	case meaning == profiles.ToolChange:
		return changer(m)
	case meaning == profiles.DwellHere:
		return dwellWords(m)
	case meaning == profiles.Home || meaning == profiles.HomeSecond:
		return homes(m, meaning == profiles.HomeSecond)
	case meaning >= profiles.WorkOffset1 && meaning <= profiles.WorkOffset9:
		return workZero(m, int(meaning-profiles.WorkOffset1))
	case meaning == profiles.Continuous:
		return corner(m)
	case meaning == profiles.CallSubprogram || meaning == profiles.CallArguments:
		return []string{fmt.Sprintf("%s calls up to %d deep", m.Name, m.Block.Subprograms)}
	case meaning == profiles.Accepted && m.TimeOf(tenths) > 0:
		return []string{"it holds the program up for " + report.Duration(profiles.Duration(m.TimeOf(tenths)))}
	}
	return nil
}

func speed(m *profiles.Machine, i int, s profiles.Speed) string {
	if s == 0 {
		return ""
	}
	return report.AxisSpeed(m, i, s)
}

// axes is a line that tells something of each axis; none where nothing is given.
func axes(m *profiles.Machine, what string, tell func(i int, a *profiles.Axis) string) []string {
	var parts []string
	for i := range profiles.NumAxes {
		if a := m.Axis(i); a != nil {
			if told := tell(i, a); told != "" {
				parts = append(parts, string(profiles.AxisLetters[i])+" "+told)
			}
		}
	}
	if parts == nil {
		return nil
	}
	return []string{what + ": " + strings.Join(parts, ", ")}
}

func feedLimits(m *profiles.Machine) []string {
	lines := axes(m, "feeds up to", func(i int, a *profiles.Axis) string { return speed(m, i, a.Feed) })
	if m.Feed.Greatest > 0 {
		lines = append(lines, "F up to "+report.Speed(m, m.Feed.Greatest))
	}
	return lines
}

func arcForms(m *profiles.Machine) []string {
	forms := map[string]string{
		"incremental": "I J K count from the start of the arc to its centre",
		"absolute":    "I J K are the place of the centre",
		"unsigned":    "I J K are the distances from the start to the centre, without sign",
	}
	var lines []string
	if form := forms[m.Arcs.Centre]; form != "" {
		lines = append(lines, form)
	}
	lines = append(lines, yes(m.Arcs.Radius, "R in place of the centre is taken", "R in place of the centre is refused"))
	if m.Arcs.Quadrant {
		lines = append(lines, "an arc stays in one quadrant")
	}
	lines = append(lines, yes(m.Arcs.FullCircle, "a full circle in one block is taken", "a full circle in one block is refused"),
		yes(m.Arcs.Helix, "a third axis may move along", "no third axis moves along"))
	if m.Arcs.Largest > 0 {
		lines = append(lines, "radius up to "+report.Length(m, m.Arcs.Largest))
	}
	return lines
}

func yes(is bool, then, otherwise string) string {
	if is {
		return then
	}
	return otherwise
}

func cycleForm(m *profiles.Machine, meaning profiles.Meaning) []string {
	form, ok := m.Cycles[meaning.String()]
	if !ok {
		return []string{m.Name + " does not have this cycle"}
	}
	var lines []string
	if form.Needs != "" {
		lines = append(lines, "needs "+strings.Join(strings.Split(form.Needs, ""), " "))
	}
	if form.Takes != "" {
		lines = append(lines, "takes "+strings.Join(strings.Split(form.Takes, ""), " "))
	}
	if form.ClearPeck > 0 {
		lines = append(lines, "after a peck: "+report.Length(m, form.ClearPeck))
	}
	return lines
}

// gears are the gears of the spindle with their speeds.
func gears(m *profiles.Machine) []string {
	var lines []string
	for i := range m.Spindle.Gears {
		lines = append(lines, gearLine(&m.Spindle.Gears[i]))
	}
	if lines == nil && len(m.Spindle.Speed) == 2 {
		lines = append(lines, "spindle: "+report.Rotations(m.Spindle.Speed))
	}
	return lines
}

func gearLine(g *profiles.SpindleGear) string {
	line := "gear " + g.Name
	if g.Code != "" {
		line += " (" + g.Code + ")"
	}
	if range_ := report.Rotations(g.Speed); range_ != "" {
		line += ": " + range_
	}
	return line
}

func spindleTimes(m *profiles.Machine) []string {
	var lines []string
	if m.Spindle.Start > 0 {
		lines = append(lines, "from rest to speed in "+report.Duration(m.Spindle.Start))
	}
	if m.Spindle.Stop > 0 {
		lines = append(lines, "to rest in "+report.Duration(m.Spindle.Stop))
	}
	return lines
}

// gear is what the profile says of gear i of the spindle.
func gear(m *profiles.Machine, i int) []string {
	if i < 0 || i >= len(m.Spindle.Gears) {
		return nil
	}
	lines := []string{gearLine(&m.Spindle.Gears[i])}
	if m.Spindle.ShiftTime > 0 {
		lines = append(lines, "a shift takes "+report.Duration(m.Spindle.ShiftTime))
	}
	return append(lines, yes(m.Spindle.Turning, "it may be shifted while the spindle turns", "it is shifted with the spindle stopped"))
}

func changer(m *profiles.Machine) []string {
	var lines []string
	if m.Tools.Pockets > 0 {
		lines = append(lines, fmt.Sprintf("a changer of %d", m.Tools.Pockets))
	} else if m.Kind != "" {
		lines = append(lines, "the operator changes it by hand")
	}
	if m.Tools.ChangeTime > 0 {
		lines = append(lines, "a change takes "+report.Duration(m.Tools.ChangeTime))
	}
	return lines
}

func dwellWords(m *profiles.Machine) []string {
	var lines []string
	for _, address := range []byte("PXU") {
		switch m.DwellUnit(address) {
		case 1:
			lines = append(lines, string(address)+" in seconds")
		case 1e-3:
			lines = append(lines, string(address)+" in thousandths of a second")
		}
	}
	if lines == nil {
		lines = append(lines, "P in seconds")
	}
	return lines
}

func homes(m *profiles.Machine, second bool) []string {
	what := "home, in machine coordinates"
	return axes(m, what, func(i int, a *profiles.Axis) string {
		at := a.Home
		if second {
			at = a.Second
		}
		if at == nil {
			return ""
		}
		return report.AxisLength(m, i, *at)
	})
}

func workZero(m *profiles.Machine, n int) []string {
	o := m.WorkOffset(n)
	if o == nil {
		return []string{"where it lies is not in the profile: travel is not checked"}
	}
	at := [...]*profiles.Length{o.X, o.Y, o.Z, o.A, o.B, o.C}
	return axes(m, "it lies at, in machine coordinates", func(i int, _ *profiles.Axis) string {
		if at[i] == nil {
			return ""
		}
		return report.AxisLength(m, i, *at[i])
	})
}

func corner(m *profiles.Machine) []string {
	switch m.Control.Corner {
	case "stop":
		return []string{m.Name + " stops in each corner all the same"}
	case "tolerance":
		return []string{"corners are cut by up to " + report.Length(m, m.Control.CornerTolerance)}
	case "step":
		return []string{"each axis may change its speed at once by so much as the profile says"}
	}
	return nil
}
