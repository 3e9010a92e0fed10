// Package interp turns blocks into operations: what a control would do, in the
// order in which it would do it, with the block that caused each. It keeps the
// modal state and no memory of the program. What it cannot interpret it says
// as a Fault, and what that leaves open is unknown until the program sets it
// again: no operation is invented. It judges nothing: whether an operation is
// wise is for rules.
package interp

import (
	"tapefit/parser"
	"tapefit/profiles"
)

// Point is a place: X Y Z in mm, A B C in degrees.
type Point [profiles.NumAxes]float64

// AxisSet is a set of axes: bit 0 is X, bit 5 is C.
type AxisSet uint8

// Has says whether axis i is in the set.
func (s AxisSet) Has(i int) bool { return s>>i&1 == 1 }

// Axes of the linear part of a Point.
const (
	X AxisSet = 1 << iota
	Y
	Z
	A
	B
	C
	XYZ = X | Y | Z
)

// Plane is the plane of arcs, cutter compensation and canned cycles.
type Plane uint8

const (
	XY Plane = iota
	ZX
	YZ
)

// Axes are the indices in a Point of the first and second axis of the plane
// and of the one along its normal: X Y Z, Z X Y, Y Z X.
func (p Plane) Axes() (first, second, normal int) {
	switch p {
	case ZX:
		return 2, 0, 1
	case YZ:
		return 1, 2, 0
	}
	return 0, 1, 2
}

func (p Plane) String() string { return [...]string{"xy", "zx", "yz"}[p] }

// OpKind is what an operation does.
type OpKind uint8

const (
	Traverse  OpKind = iota // straight, at rapid speed
	Feed                    // straight, at Feed
	Arc                     // around Center in Plane, helical where the normal axis or others move
	Dwell                   // Seconds
	Spindle                 // State.Spindle, State.Speed have changed
	Tool                    // State.Tool has changed: a tool change was made
	Gear                    // State.Gear has changed
	Coolant                 // State.Flood, State.Mist have changed
	Stop                    // StopKind
	Auxiliary               // Seconds: an accepted M code that takes time, such as a bar feed
	NumOpKinds
)

// StopKind is how the program stops.
type StopKind uint8

const (
	ProgramStop StopKind = iota
	OptionalStop
	PalletStop
	ManualStop // out of a cycle by hand
	End
)

// An Op is one operation. It belongs to the interpreter and holds until the
// visitor returns.
type Op struct {
	Kind  OpKind
	Block *parser.Block // which caused it
	Word  int           // index in Block.Words of the word that caused it, -1 where no single one did

	// Of Traverse, Feed and Arc. From and To are in the work coordinates active
	// at the block, of the tool's centre where cutter compensation is on; an axis that is not in FromKnown or ToKnown is unknown, its
	// number there meaningless. FromMachine and ToMachine are the same places in
	// machine coordinates, known only with the work offset, the tool length and
	// the home position.
	From, To                         Point
	FromKnown, ToKnown               AxisSet
	FromMachine, ToMachine           Point
	FromMachineKnown, ToMachineKnown AxisSet
	Moves                            AxisSet // axes that move or may move; the others stand still
	Steps                            AxisSet // of them: To-From is known though the places are not, by an increment
	Feed                             float64 // along the path: mm/s, deg/s where only rotary axes move; 0 where unknown or not set
	InCycle                          bool    // made by a canned cycle
	Synchron                         bool    // feed is tied to the spindle: tapping, threads
	Corner                           bool    // an arc round an outside corner, made by cutter compensation
	Home                             bool    // to the home position or in machine coordinates: G28, G30, G53

	// Of a feed that goes by the revolution: how far along the path in one, mm
	// (degrees of rotary axes alone), and how fast the spindle turns meanwhile;
	// PerRev is 0 of every other. Feed is then that at the start.
	PerRev float64
	Turn   SpeedLaw
	Lead   float64 // of a thread: mm a revolution along the axis that goes further; 0: no thread
	// Of a turning cycle that goes down in steps: one pass or peck as the program gives
	// it, and all of them together, mm; 0 of every other.
	Step, Depth float64

	// Of Arc. Center is absolute, in the coordinates of From and To, its
	// component along the normal is that of From.
	Center Point
	Plane  Plane
	CW     bool    // seen against the normal
	Turns  int     // 1: up to one full turn
	Radius float64 // at the start, mm
	Sweep  float64 // angle travelled, rad, positive
	Length float64 // of the path of X Y Z, mm, of all three kinds of move; of the known axes where some are unknown

	Seconds  float64 // of Dwell and Auxiliary
	StopKind StopKind
	Manual   bool // of Tool: changed by the operator
	Turret   bool // of Tool: the spindle goes on as it is

	State *State // after the operation
}

// SpindleState says how the spindle turns.
type SpindleState uint8

const (
	SpindleUnknown SpindleState = iota
	SpindleOff
	SpindleCW
	SpindleCCW
)

// Said is where a code was executed that brought a mode into force. Line 0: no
// code of the program did, the mode is that of power-up.
type Said struct {
	Line     int
	Offset   int64 // of the block
	Pos, End int32 // of the word
	Changes  int   // tool changes made before
}

// Stale says whether the mode was left in force by a tool before the one that
// works now, after so many changes. What stands before the first change holds
// for the whole program.
func (s *Said) Stale(changes int) bool { return s.Changes != 0 && s.Changes != changes }

// A State is what is in force at a block. Rules read it and never write it.
type State struct {
	Motion   profiles.Meaning // Refused: unknown
	Plane    Plane
	Distance profiles.Meaning
	FeedMode profiles.Meaning
	Units    profiles.Meaning
	Comp     profiles.Meaning
	Retract  profiles.Meaning
	Path     profiles.Meaning
	Offset   int // work offset 0 to 8

	Unknown Unknown // what of the above and below a fault has left open

	// Where the program said last what is in force of these, and how many tool
	// changes it has made so far.
	FeedModeSaid, PlaneSaid, RetractSaid, UnitsSaid Said
	Changes                                         int

	Feed      float64 // F as programmed, mm/s under FeedPerMinute (deg/s where only rotary axes move); mm under FeedPerRevolution; 1/s under FeedInverseTime; 0 not set
	FeedSet   bool
	Spindle   SpindleState
	Speed     float64          // S, rpm; 0 not set; under SurfaceSpeed what the spindle turns at with the tool at At
	SpeedMode profiles.Meaning // SpindleSpeed or SurfaceSpeed
	Surface   float64          // S under SurfaceSpeed, mm/s; 0: another mode, or not known
	Clamp     float64          // highest speed under SurfaceSpeed, rpm; 0: none
	Diameter  bool             // X words are diameters; X in points is the radius all the same
	SpeedSet  bool
	Gear      int  // index in the profile's gears; -1 unknown or none
	GearCoded bool // the program or the control has engaged it; false: power-up state
	Tool      int  // in the spindle; -1 unknown
	NextTool  int  // T word, -1 none
	LengthH   int  // H of the tool length offset; 0 none; -1 unknown
	CompD     int
	Flood     bool
	Mist      bool

	At           Point // in the active work coordinates: the place of the program, whatever compensation is on
	Known        AxisSet
	Machine      Point
	MachineKnown AxisSet
	Ended        bool // M2 or M30 was executed

	// Steady is a number that stays the same over blocks that move X, Y and Z and
	// change nothing of all this but places and which of G0 to G3 is in force; 0:
	// this block may change more, or may be left out.
	Steady uint64
}

// Unknown is a set of parts of the state.
type Unknown uint16

const (
	UnknownMotion Unknown = 1 << iota
	UnknownPlane
	UnknownDistance
	UnknownFeedMode
	UnknownUnits
	UnknownComp
	UnknownRetract
	UnknownOffset
	UnknownFeed
	UnknownSpeed
	UnknownSpindle
	UnknownGear
	UnknownTool
	UnknownLength
)

// FaultKind is what the interpreter met that it, or the control, cannot do.
type FaultKind uint8

const (
	Unreadable        FaultKind = iota // the block has parser faults: Fault.Cause is one
	NotAccepted                        // Word: a code or address that the profile refuses
	CycleNotAccepted                   // Word: a canned cycle that the profile refuses
	Conflict                           // Word and Other are of one modal group
	NotUsed                            // Word: nothing in the block uses it
	Missing                            // Word (a G or M code) needs a word with the address Missing
	ArcRadius                          // A, B: radius at start and end, mm
	ArcForm                            // the arc is written in a form that the profile refuses: Cause
	ArcQuadrant                        // the arc crosses a quadrant
	BadValue                           // Word: its value is out of range or not a number: Cause
	BadExpression                      // division by zero, root of a negative number: Cause
	SubprogramMissing                  // Word: P names no program of the file
	CallTooDeep                        // Word: deeper than the profile's levels
	Runaway                            // the budget of blocks is spent
	NoMotion                           // axis words without a motion mode in force
	TooManyM                           // Word: the first M code over the number in A
	NotInterpreted                     // known and accepted, but not computed by this version: Cause
	CompForbidden                      // what compensation does not allow: Cause
	CompUnknown                        // the diameter under D (A) is not in the profile: the path is that of the program
	CompEntryShort                     // A: length of the first move with compensation, B: radius of the tool, mm
	CompArcSmall                       // A: radius of an arc with the tool on its inside, B: radius of the tool, mm
	CompGouge                          // the tool's path does not fit: Cause
	CompInside                         // an inside corner, which the control refuses in compensation
	JumpMissing                        // the flow statement: sequence number A stands nowhere in the program
	LoopUnmatched                      // the flow statement: DO or END number A (-1: none) has no other half: Cause
	ToolChangeFault                    // Word: the profile's tool-change program cannot be run, from its line A: Cause
	ParamVacant                        // the expression: parameter A is read and nothing has set it; what is executed is zero. Missing: the argument of the call that would have
	ReturnMissing                      // Word: the O word of a subprogram that runs out without its return; what is executed is a return
	NotAProgram                        // most of the first blocks cannot be read, A of B, or the file is no text at all, 0 of 0; nothing more is read
	NumFaultKinds
)

// A Fault is one such meeting. It holds until the visitor returns.
type Fault struct {
	Kind     FaultKind
	Block    *parser.Block
	Word     int   // index in Block.Words, or -1
	Other    int   // index of the other word of a Conflict, or -1
	Pos, End int32 // place in the block: of the word, where there is one
	Missing  byte  // address
	A, B     float64
	Cause    string // what was seen and what is accepted, for kinds that have one
}
