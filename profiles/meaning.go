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

	PlaneXY
	PlaneZX
	PlaneYZ

	Absolute
	Incremental

	FeedInverseTime
	FeedPerMinute

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
	StopGroup     Group = 104
	ToolGroup     Group = 106
	SpindleGroup  Group = 107
	CoolantGroup  Group = 108
	OverrideGroup Group = 109
	GearGroup     Group = 110 // of ours: the report has no gear codes
	FreeGroup     Group = 120 // accepted codes without effect here: never in conflict
)
