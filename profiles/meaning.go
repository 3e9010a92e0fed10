package profiles

// A Meaning is what a control does on a preparatory (G) or miscellaneous (M)
// code. Profiles map codes to meanings, so that a control which uses another
// number for a thing is an edit of its profile, not of this program. The names
// in profiles are those of the String method.
type Meaning uint8

const (
	Refused  Meaning = iota // the control stops on it
	Accepted                // the control takes it; nothing that tapefit computes depends on it

	// Group 1, motion.
	TraverseMove
	FeedMove
	ArcCW
	ArcCCW
	Probe
	CycleOff
	Drill         // feed in, traverse out
	DrillDwell    // feed in, dwell, traverse out
	Peck          // in steps of Q, out to R each time
	ChipBreak     // in steps of Q, a short way back each time
	Tap           // feed in, reverse, feed out
	BoreFeedOut   // feed in, feed out
	BoreStopOut   // feed in, dwell, stop, traverse out, restart
	BackBore      // from below
	BoreManualOut // feed in, dwell, stop, out by hand
	BoreDwellOut  // feed in, dwell, feed out

	Thread          // straight, its lead tied to the spindle
	TurnCycle       // one pass along Z and back to where it began
	FaceCycle       // one pass along X and back
	ThreadPassCycle // one pass of a thread and back

	PlaneXY
	PlaneZX
	PlaneYZ

	Absolute
	Incremental

	FeedInverseTime
	FeedPerMinute
	FeedPerRevolution

	UnitsInch
	UnitsMM

	CompOff
	CompLeft
	CompRight

	LengthOn
	LengthOff

	RetractInitial // cycles end at the level they began from
	RetractR       // cycles end at R

	WorkOffset1 // G54 in the published report; the next eight follow
	WorkOffset2
	WorkOffset3
	WorkOffset4
	WorkOffset5
	WorkOffset6
	WorkOffset7
	WorkOffset8
	WorkOffset9

	ExactPath
	ExactStop
	Continuous

	SurfaceSpeed // S is the speed of the surface, m/min or ft/min
	SpindleSpeed // S is that of the spindle, rpm

	DiameterMode // X words are diameters
	RadiusMode

	// Modes of ISO 6983 and common practice that the report does not have.
	PolarOn // words of the plane's axes are a radius and an angle
	PolarOff
	ScaleOn // by P, or I J K, about the axis words
	ScaleOff
	MirrorOn // at the lines that the axis words name
	MirrorOff
	RotateOn // by R about the axis words
	RotateOff

	// Group 0, for the block alone.
	DwellHere
	SetData // G10: L2 sets a work offset
	Home
	HomeSecond
	MachineCoordinates
	SetPosition
	ClearPosition
	SuspendPosition
	RestorePosition
	ClampSpeed    // S is the highest speed of the spindle under SurfaceSpeed
	FinishContour // the blocks P to Q, once
	RoughTurn     // passes along Z down to the contour P to Q
	RoughFace     // passes along X down to it
	RoughPattern  // passes along it
	FaceGroove    // pecks along Z, side by side
	TurnGroove    // pecks along X, side by side
	ThreadCycle   // a thread in passes of falling depth
	CallArguments // P names a program, L repeats it, the other words are its local parameters

	// Miscellaneous functions.
	ProgramStop
	OptionalStop
	ProgramEnd
	ProgramEndRewind
	PalletStop
	ToolChange
	SpindleCW
	SpindleCCW
	SpindleStop
	SpindleOrient
	Mist
	Flood
	CoolantOff
	OverridesOn
	OverridesOff
	CallSubprogram // P names it, L repeats it
	ReturnFromSubprogram
	Gear // of the spindle: which one, Machine.GearOf tells

	numMeanings
)

// Group is a modal group of the published report (NISTIR 6556, tables 4 and 5:
// from memory). Groups of M codes are numbered from 100 so that they do not
// meet those of G codes.
type Group uint8

const (
	NonModal      Group = 0
	MotionGroup   Group = 1
	PlaneGroup    Group = 2
	DistGroup     Group = 3
	FeedGroup     Group = 5
	UnitsGroup    Group = 6
	CompGroup     Group = 7
	LengthGroup   Group = 8
	RetractGroup  Group = 10
	OffsetGroup   Group = 12
	PathGroup     Group = 13
	SpeedGroup    Group = 14 // of later practice: the report has no turning
	DiameterGroup Group = 15
	PolarGroup    Group = 16 // 16 to 19 are of ours
	ScaleGroup    Group = 17
	MirrorGroup   Group = 18
	RotateGroup   Group = 19
	StopGroup     Group = 104
	ToolGroup     Group = 106
	SpindleGroup  Group = 107
	CoolantGroup  Group = 108
	OverrideGroup Group = 109
	GearGroup     Group = 110 // of ours: the report has no gear codes
	FreeGroup     Group = 120 // accepted codes without effect here: never in conflict
)

// meaningNames are the names in profiles, part of the interface: never renamed.
var meaningNames = [numMeanings]string{
	Refused: "refused", Accepted: "accepted",

	TraverseMove: "traverse", FeedMove: "feed", ArcCW: "arc-cw", ArcCCW: "arc-ccw", Probe: "probe",
	CycleOff: "cycle-off", Drill: "drill", DrillDwell: "drill-dwell", Peck: "peck", ChipBreak: "chip-break",
	Tap: "tap", BoreFeedOut: "bore-feed-out", BoreStopOut: "bore-stop-out", BackBore: "back-bore",
	BoreManualOut: "bore-manual-out", BoreDwellOut: "bore-dwell-out",
	Thread: "thread", TurnCycle: "turn-cycle", FaceCycle: "face-cycle", ThreadPassCycle: "thread-pass-cycle",

	PlaneXY: "plane-xy", PlaneZX: "plane-zx", PlaneYZ: "plane-yz",
	Absolute: "absolute", Incremental: "incremental",
	FeedInverseTime: "inverse-time", FeedPerMinute: "per-minute", FeedPerRevolution: "per-revolution",
	UnitsInch: "inch", UnitsMM: "mm",
	CompOff: "comp-off", CompLeft: "comp-left", CompRight: "comp-right",
	LengthOn: "length-on", LengthOff: "length-off",
	RetractInitial: "retract-initial", RetractR: "retract-r",
	WorkOffset1: "work-offset-1", WorkOffset2: "work-offset-2", WorkOffset3: "work-offset-3",
	WorkOffset4: "work-offset-4", WorkOffset5: "work-offset-5", WorkOffset6: "work-offset-6",
	WorkOffset7: "work-offset-7", WorkOffset8: "work-offset-8", WorkOffset9: "work-offset-9",
	ExactPath: "exact-path", ExactStop: "exact-stop", Continuous: "continuous",
	SurfaceSpeed: "surface-speed", SpindleSpeed: "spindle-speed", DiameterMode: "diameter-mode", RadiusMode: "radius-mode",
	PolarOn: "polar-on", PolarOff: "polar-off", ScaleOn: "scale-on", ScaleOff: "scale-off",
	MirrorOn: "mirror-on", MirrorOff: "mirror-off", RotateOn: "rotate-on", RotateOff: "rotate-off",

	DwellHere: "dwell", SetData: "set-data", Home: "home", HomeSecond: "home-second",
	MachineCoordinates: "machine-coordinates", SetPosition: "set-position", ClearPosition: "clear-position",
	SuspendPosition: "suspend-position", RestorePosition: "restore-position",
	ClampSpeed: "clamp-speed", FinishContour: "finish-contour", RoughTurn: "rough-turn", RoughFace: "rough-face",
	RoughPattern: "rough-pattern", FaceGroove: "face-groove", TurnGroove: "turn-groove", ThreadCycle: "thread-cycle",
	CallArguments: "call-arguments",

	ProgramStop: "program-stop", OptionalStop: "optional-stop", ProgramEnd: "end", ProgramEndRewind: "end-rewind",
	PalletStop: "pallet-stop", ToolChange: "tool-change",
	SpindleCW: "spindle-cw", SpindleCCW: "spindle-ccw", SpindleStop: "spindle-stop", SpindleOrient: "spindle-orient",
	Mist: "mist", Flood: "flood", CoolantOff: "coolant-off",
	OverridesOn: "overrides-on", OverridesOff: "overrides-off",
	CallSubprogram: "call", ReturnFromSubprogram: "return", Gear: "gear",
}

// String is the meaning's name in profiles.
func (m Meaning) String() string {
	if m >= numMeanings {
		return "unknown"
	}
	return meaningNames[m]
}

// ParseMeaning gives the meaning with the name.
func ParseMeaning(name string) (Meaning, bool) {
	for m, s := range meaningNames {
		if s == name {
			return Meaning(m), true
		}
	}
	return Refused, false
}

// IsCycle says whether the meaning is a canned cycle; CycleOff is none.
func (m Meaning) IsCycle() bool { return m >= Drill && m <= BoreDwellOut }

// IsTurning says whether the meaning is a turning cycle with its own words:
// the blocks of a contour, grooves, a thread.
func (m Meaning) IsTurning() bool { return m >= FinishContour && m <= ThreadCycle }

// IsContour says whether the meaning is a cycle along the contour blocks P to
// Q, where U and W are allowances and no places.
func (m Meaning) IsContour() bool { return m >= FinishContour && m <= RoughPattern }

// Group is the modal group: two codes of one group, but FreeGroup and
// NonModal, exclude each other in a block (of NonModal, what moves or sets
// axes does; that is for the interpreter). Mist and Flood share a group and
// may stand together. The report has no calls: they stop the flow of the
// block like the stops and are put with them.
func (m Meaning) Group() Group {
	switch {
	case m <= Accepted || m >= numMeanings:
		return FreeGroup
	case m <= ThreadPassCycle:
		return MotionGroup
	case m <= PlaneYZ:
		return PlaneGroup
	case m <= Incremental:
		return DistGroup
	case m <= FeedPerRevolution:
		return FeedGroup
	case m <= UnitsMM:
		return UnitsGroup
	case m <= CompRight:
		return CompGroup
	case m <= LengthOff:
		return LengthGroup
	case m <= RetractR:
		return RetractGroup
	case m <= WorkOffset9:
		return OffsetGroup
	case m <= Continuous:
		return PathGroup
	case m <= SpindleSpeed:
		return SpeedGroup
	case m <= RadiusMode:
		return DiameterGroup
	case m <= RotateOff:
		return PolarGroup + Group(m-PolarOn)/2
	case m <= CallArguments:
		return NonModal
	}
	return m.miscGroup()
}

// miscGroup is Group of the miscellaneous functions.
func (m Meaning) miscGroup() Group {
	switch {
	case m <= PalletStop || m == CallSubprogram || m == ReturnFromSubprogram:
		return StopGroup
	case m == ToolChange:
		return ToolGroup
	case m <= SpindleOrient:
		return SpindleGroup
	case m <= CoolantOff:
		return CoolantGroup
	case m <= OverridesOff:
		return OverrideGroup
	}
	return GearGroup
}

// letter is the address of codes that can have the meaning: 'G', 'M', or 0
// for both.
func (m Meaning) letter() byte {
	switch {
	case m <= Accepted:
		return 0
	case m < ProgramStop:
		return 'G'
	}
	return 'M'
}
