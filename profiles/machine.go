// Package profiles says what one machine accepts and what it can do. A profile
// is a TOML file; the bases and the demo shop's machines are embedded from
// library/. The package knows no program: it loads, resolves and validates
// profiles, and answers questions about codes, words and limits.
package profiles

// Inside, every quantity is in mm, degrees for rotary axes, s, mm/s, mm/s^2,
// rpm, bytes, shares of one and money per hour. In a profile each carries its
// unit: "0.0025 in", "400 in/min", "0.8 m/s^2", "12 ms", "1100 rpm", "64 kB",
// "3 %", "95 /h". A bare number is an error there.
type (
	Length       float64 // mm
	Speed        float64 // mm/s; of a rotary axis deg/s
	Acceleration float64 // mm/s^2; of a rotary axis deg/s^2
	Jerk         float64 // mm/s^3; of a rotary axis deg/s^3
	Duration     float64 // s
	Rotation     float64 // rpm
	Size         int64   // bytes; kB is 1000, KiB 1024
	Share        float64 // of one: "3 %" is 0.03
	Rate         float64 // money per hour, in the shop's currency
)

// NumAxes counts the axes a machine can have; AxisLetters names them in order.
const (
	NumAxes     = 6
	AxisLetters = "XYZABC"
)

// Machine is a resolved profile: the file with all that it extends. A zero
// value means "not given", and what needs it says so. Validate has passed.
type Machine struct {
	Name    string `toml:"name"`    // lower case, digits and hyphens
	Title   string `toml:"title"`   // one line for people
	Extends string `toml:"extends"` // name of the base, or ""
	Kind    string `toml:"kind"`    // "mill" or "lathe"; "" in a base
	Display string `toml:"display"` // "inch" or "mm": what its people read

	Start   Start             `toml:"start"`
	Codes   map[string]string `toml:"codes"` // "G1" = "feed": see Meaning
	Words   Words             `toml:"words"`
	Block   BlockForm         `toml:"block"`
	Numbers Numbers           `toml:"numbers"`
	Arcs    Arcs              `toml:"arcs"`
	Cycles  map[string]Cycle  `toml:"cycles"` // by meaning: "drill", "peck", ...
	Spindle Spindle           `toml:"spindle"`
	Axes    AxisTable         `toml:"axes"`
	Feed    FeedLimits        `toml:"feed"`
	Control Control           `toml:"control"`
	Tools   Tools             `toml:"tools"`
	Turning Turning           `toml:"turning"`
	Offsets map[string]Offset `toml:"offsets"` // "G54": where the work zero lies in machine coordinates

	// Times are how long accepted M codes hold the program up: a bar feed, a part
	// catcher.
	Times map[string]Duration `toml:"times"`

	// Quote is what work on the machine costs, and what people do beside it.
	Quote Quote `toml:"quote"`

	// Unsure says how far off a value of the profile may be, by its path
	// ("axes.x.acceleration"): the true one lies within that share of it, below or
	// above, at about 95 %. What is not listed is taken as it stands.
	Unsure map[string]Share `toml:"unsure"`

	// Rules are what this shop wants to be told of: a level other than the rule's
	// own, or none. What their names mean, package rules knows.
	Rules map[string]RuleSetting `toml:"rules"`

	House []HouseRule `toml:"house"` // this shop's own rules

	// Settings are what was laid over the profile, each a PATH=VALUE as given: what
	// is said of this machine holds with them.
	Settings []string

	codes compiled // made by Load from all of it
	from  *source  // the file that was asked for
}

// Quote is what the shop reckons with for work on the machine. Nothing of it
// bears on what the control does.
type Quote struct {
	Currency   string   `toml:"currency"`     // as it stands behind amounts: "EUR"; "": none is written
	Rate       Rate     `toml:"rate"`         // of the machine with its operator; 0: not known, and times are quoted alone
	Setup      Duration `toml:"setup"`        // of a program, once a lot: clamps, tools, work zero, prove-out
	Load       Duration `toml:"load"`         // of a program, each part: unclamp, clean, clamp
	Stop       Duration `toml:"stop"`         // each program stop, until the start button; what is done at it beside
	ToolByHand Duration `toml:"tool_by_hand"` // each tool that the operator changes
	GearByHand Duration `toml:"gear_by_hand"` // each belt step that the operator moves, beside the stop at which he does
	Scrap      Share    `toml:"scrap"`        // of the parts that are begun, how many are not delivered
}

// RuleSetting is the level at which what a rule finds is told, and why it is
// another than the rule's own.
type RuleSetting struct {
	Level  string `toml:"level"`  // "error", "warning", "note", or "off": counted and not told
	Reason string `toml:"reason"` // for who reads the profile next
}

// Start is the modal state at power-up and after the end of a program.
type Start struct {
	Units    string `toml:"units"`    // "inch" or "mm"
	Plane    string `toml:"plane"`    // "xy", "zx", "yz"
	Distance string `toml:"distance"` // "absolute", "incremental"
	Feed     string `toml:"feed"`     // "per-minute", "per-revolution", "inverse-time"
	Retract  string `toml:"retract"`  // "initial", "r"
	Offset   string `toml:"offset"`   // "G54"
	Path     string `toml:"path"`     // "exact-path", "exact-stop", "continuous"
	Motion   string `toml:"motion"`   // a motion meaning ("feed"), or "none"
	Gear     string `toml:"gear"`     // the spindle gear engaged; "" is unknown
}

// Words says which addresses the control takes, and how often.
type Words struct {
	Accepted string `toml:"accepted"` // "ABCDFGHIJKLMNOPQRSTXYZ"
	MCodes   int    `toml:"m_codes"`  // in one block; 0: no limit
	// Incremental are those of U V W that are distances along X Y Z, whatever
	// the distance mode. In blocks of a contour cycle U and W are allowances.
	Incremental string `toml:"incremental"`
}

// BlockForm says what may stand in a block beside plain words.
type BlockForm struct {
	Longest       int    `toml:"longest"`        // characters without the end of the line; 0: no limit
	Delete        bool   `toml:"delete"`         // "/" is known
	Comments      string `toml:"comments"`       // of "(" and ";": which ways of writing are known
	Parameters    bool   `toml:"parameters"`     // #1, #1=2
	Expressions   bool   `toml:"expressions"`    // [1+2], SIN[30]
	BareSettings  bool   `toml:"bare_settings"`  // #3=#3+1; without, #3=[#3+1] alone (NISTIR 6556)
	Subprograms   int    `toml:"subprograms"`    // levels of calls, at most 10000; 0: none
	Flow          bool   `toml:"flow"`           // GOTO, IF, WHILE
	Locals        int    `toml:"locals"`         // highest parameter of which each call with arguments has its own; 0: all are common (NISTIR 6556)
	Sequence      []int  `toml:"sequence"`       // lowest and highest N; empty: any
	ProgramNumber []int  `toml:"program_number"` // lowest and highest O; empty: any
	PercentMarks  string `toml:"percent_marks"`  // "needed", "optional"; default "optional"

	// Characters are those that the control reads, written one by one or as
	// ranges of letters or digits: "A-Z0-9 %()+-./". Ends of lines and blank tape
	// are always read. "": all.
	Characters string `toml:"characters"`
	// SequenceRising says that numbers of blocks must rise through each program,
	// as where a block is sought by its number.
	SequenceRising bool `toml:"sequence_rising"`

	// Dwell says which words give the time of a dwell, and in what: "s", "ms", or
	// "none" to take back what a base says. P in s where neither says anything. Of
	// several that stand in a block the first of P, X and U counts. X and U without
	// a point count thousandths where axis words count least increments. A cycle's
	// P is in the unit of P, or in s.
	Dwell      map[string]string `toml:"dwell"`
	Repeat     string            `toml:"repeat"`      // the address that repeats cycles and calls: "L", the default, or "K" (but in cycles that need a K of their own)
	Call       string            `toml:"call"`        // of subprograms: "words" (P names, Repeat repeats), the default, or "digits" (the last four digits of P name, those before repeat)
	IdleMotion bool              `toml:"idle_motion"` // a motion code that moves nothing in its block is taken, and comes into force: G1 alone, G0 beside G28 (NISTIR 6556 refuses both)

	// CycleOffBeside says that the end of a cycle may stand beside a motion code,
	// which is then in force: G0 G40 G49 G80 G90 at the start of a program. NISTIR
	// 6556 refuses it; many controls take it, common practice.
	CycleOffBeside bool `toml:"cycle_off_beside"`
}

// Numbers says how the control reads numbers of axis words.
type Numbers struct {
	Point     string   `toml:"point"`      // "needed", "optional" (X1 is 1), "counts" (X1 is one least increment, X1. is 1), "refused" (always counts)
	Decimals  Decimals `toml:"decimals"`   // most digits after the point that are read; 0: no limit
	Digits    Decimals `toml:"digits"`     // most digits before the point; 0: no limit
	Suppress  string   `toml:"suppress"`   // of numbers without a point: "leading", "trailing", "" where Point is "needed" or "optional"
	FeedPoint string   `toml:"feed_point"` // F: as Point; default "optional"
}

// Decimals is a count of digits for each unit of length.
type Decimals struct {
	Inch int `toml:"inch"`
	MM   int `toml:"mm"`
}

// Arcs says which forms of G2 and G3 the control takes.
type Arcs struct {
	Centre     string `toml:"centre"`      // of I J K: "incremental" (from the start, signed), "absolute", "unsigned" (from the start, without sign, within one quadrant)
	Radius     bool   `toml:"radius"`      // the R form is taken
	Quadrant   bool   `toml:"quadrant"`    // one arc stays in one quadrant
	NeedsEnd   bool   `toml:"needs_end"`   // an axis word of the plane stands in each arc with a centre, of a full circle too (NISTIR 6556)
	FullCircle bool   `toml:"full_circle"` // end = start with a centre
	Helix      bool   `toml:"helix"`       // a third axis may move along
	Planes     string `toml:"planes"`      // of "xy zx yz": where arcs work
	Tolerance  Length `toml:"tolerance"`   // greatest difference of start and end radius
	// ToleranceInch is Tolerance for programs in inches; Tolerance where not given.
	ToleranceInch Length `toml:"tolerance_inch"`
	Largest       Length `toml:"largest"` // radius; 0: no limit
}

// Cycle says which words a canned cycle needs and may have besides.
type Cycle struct {
	Needs string `toml:"needs"` // "RZ"
	Takes string `toml:"takes"` // "XYL"
	// ClearPeck is how far above the last depth a peck comes back down to, and
	// how far a chip break goes back.
	ClearPeck Length `toml:"clear_peck"`
	// FeedOut is where to a cycle that feeds out goes at the feed: "r" (to R, and
	// by traverse from there), the default, or "clear" (all the way to the level
	// that it retracts to: NISTIR 6556).
	FeedOut string `toml:"feed_out"`
}

// Spindle says how fast the spindle turns and how its gears are shifted.
type Spindle struct {
	Speed     []Rotation    `toml:"speed"`         // lowest and highest; from the gears where not given
	Start     Duration      `toml:"start"`         // from rest to speed
	Stop      Duration      `toml:"stop"`          // from speed to rest
	Reverse   Duration      `toml:"reverse"`       // from one way to the other, in a tapping cycle; default Stop + Start
	Shift     string        `toml:"shift"`         // "coded" (by M code), "automatic" (by the control, from S), "by-hand" (the operator moves a belt while the machine is stopped)
	Turning   bool          `toml:"shift_turning"` // a shift may be made while the spindle turns
	ShiftTime Duration      `toml:"shift_time"`
	GoesOn    bool          `toml:"goes_on"` // the control goes on at once when the spindle is started, without waiting for its speed
	Gears     []SpindleGear `toml:"gears"`   // from slow to fast; empty: no gears
	// Clamp says that the code for set-position, with S and without axis words,
	// sets the highest speed under constant surface speed.
	Clamp bool `toml:"clamp_with_set_position"`

	Motor *SpindleMotor `toml:"motor"`
}

// SpindleGear is one range of the spindle: a gear or a belt step.
type SpindleGear struct {
	Name  string     `toml:"name"`
	Code  string     `toml:"code"`  // "M41"; "" where Shift is not "coded"
	Speed []Rotation `toml:"speed"` // lowest and highest; 0 to the motor's top speed through Ratio where not given
	Ratio Ratio      `toml:"ratio"` // turns of the motor to turns of the spindle: "3.2:1"
}

// AxisTable holds the machine's axes; nil where it has none of that name.
type AxisTable struct {
	X *Axis `toml:"x"`
	Y *Axis `toml:"y"`
	Z *Axis `toml:"z"`
	A *Axis `toml:"a"`
	B *Axis `toml:"b"`
	C *Axis `toml:"c"`
}

// HighestFeed is what the axis feeds at most: Feed, or Rapid where that is not
// given; 0 where neither is.
func (a *Axis) HighestFeed() Speed {
	if a.Feed == 0 {
		return a.Rapid
	}
	return a.Feed
}

// Axis says what one axis can do.
type Axis struct {
	Travel       []Length     `toml:"travel"` // soft limits in machine coordinates
	Home         *Length      `toml:"home"`   // where G28 goes, in machine coordinates
	Second       *Length      `toml:"second"` // where G30 goes
	Rapid        Speed        `toml:"rapid"`
	Feed         Speed        `toml:"feed"` // highest in G1 to G3; Rapid where not given
	Acceleration Acceleration `toml:"acceleration"`
	Jerk         Jerk         `toml:"jerk"`        // how fast the acceleration may change; 0: at once
	CornerStep   Speed        `toml:"corner_step"` // by which its speed may change at once, where control.corner is "step"
	Backlash     Length       `toml:"backlash"`    // as an indicator shows it, before anything takes it out
	// BacklashLimit is how much of it is good for this axis: what is more is
	// told of. Default of X, Y and Z: 0.001 in.
	BacklashLimit Length `toml:"backlash_limit"`
	// Diameter, of X alone: X words are diameters at the start. All else about
	// the axis, here and inside, is as the slide moves: the radius.
	Diameter bool `toml:"diameter"`
	// Wrap is how a rotary axis without ends goes to a place in absolute mode:
	// "shortest" (the shorter way; forwards where both are alike), "sign" (the
	// sign of the word is the way, its number the place). Places are then 0 to
	// below 360 degrees. "": it counts its turns, like a linear axis.
	Wrap string `toml:"wrap"`

	// The drive train of a linear axis, from which rapid and acceleration are
	// computed where they are not given: see Train. "computed" takes back those of
	// a base.
	Motor    *Motor `toml:"motor"`
	Drive    *Drive `toml:"drive"`
	Screw    *Screw `toml:"screw"`
	Mass     Mass   `toml:"mass"`     // that moves along, with the largest part on it
	Friction Force  `toml:"friction"` // of slides and seals, to be overcome at any speed
	Weight   Force  `toml:"weight"`   // of a vertical axis: what the counterbalance leaves of it
}

// FeedLimits bound the F word itself, whatever the axes can do.
type FeedLimits struct {
	Least    Speed `toml:"least"`
	Greatest Speed `toml:"greatest"`
}

// Control says how fast programs are read and how corners are rounded.
type Control struct {
	BlockTime       Duration `toml:"block_time"`       // to make one block ready; 0: no limit
	LookAhead       int      `toml:"look_ahead"`       // blocks that are known ahead of the one that moves; 0: stops at the end of each
	Memory          Size     `toml:"memory"`           // for one program; 0: no limit
	Drip            bool     `toml:"drip"`             // programs are fed over the line while they run, whatever their size
	Link            Link     `toml:"link"`             // the line over which they are
	Backlash        string   `toml:"backlash"`         // "taken-out" (the control moves an axis by its backlash where it reverses), the default, or "left"
	Corner          string   `toml:"corner"`           // in continuous mode: "stop", "tolerance" or "step" (each axis changes its speed by its corner_step at once); default of a machine "stop"
	CornerTolerance Length   `toml:"corner_tolerance"` // how far a corner may be cut, where Corner is "tolerance"
	RapidPath       string   `toml:"rapid_path"`       // of traverses: "straight" (all axes together), the default, or "each-axis" (each as fast as it can: the path has a bend)
	// HomeAxes says which axes G28 and G30 move: "all" (NISTIR 6556, the default) or the "named" ones; all where none is named.
	HomeAxes string `toml:"home_axes"`
	// Comp says what becomes of an inside corner in cutter compensation: "intersect" (the control looks ahead to where the offset
	// paths cross) or "refuse-concave" (it does not look ahead and stops: NISTIR 6556, the default).
	Comp string `toml:"comp"`
	// CycleLevel says from where canned cycles take the initial level, to which
	// they retract and from which R counts: "first" (where the axis stood before
	// the first of cycles in a row; R and Z hold as they were meant where they
	// were written), the default, or "each" (where it stands before each block,
	// and R and Z kept from an earlier block are read anew in the distance mode
	// of the block: NISTIR 6556).
	CycleLevel string `toml:"cycle_level"`
	// CycleR is what R of canned cycles is: by "mode" (a place in absolute mode,
	// a distance from the initial level in incremental mode), the default, or
	// from the "initial" level in both.
	CycleR string `toml:"cycle_r"`
	// EndKeepsCoolant says that the end of a program leaves the coolant as it is
	// (NISTIR 6556 switches it off).
	EndKeepsCoolant bool `toml:"end_keeps_coolant"`
}

// Link is the serial line over which programs come that are larger than the
// memory.
type Link struct {
	Baud   int  `toml:"baud"`   // bits a second; 0: not known
	Bits   int  `toml:"bits"`   // for one character, with start, parity and stop; default 10
	Buffer Size `toml:"buffer"` // characters that the control keeps ready; default 1 kB
}

// Tools says how tools are changed and which are known.
type Tools struct {
	Pockets    int      `toml:"pockets"`     // in the changer, T1 up; 0: no changer, the operator changes
	Highest    int      `toml:"highest"`     // T and H and D number; 0: Pockets
	ChangeTime Duration `toml:"change_time"` // from stop to ready to cut
	// Word is what a T word is: "tool", which a tool change code then brings (the
	// default), or "tool-offset", T0203: tool 2 at once, with offset 3.
	Word string `toml:"word"`
	// ChangeProgram are the blocks that the tool change code runs in place of the
	// change alone, as a shop's own macro does; the code in them is the change
	// itself, and ChangeTime the time of that alone. ChangeParameter is the
	// parameter that holds the tool number there; 0: none does.
	ChangeProgram   string `toml:"change_program"`
	ChangeParameter int    `toml:"change_parameter"`
	// ChangeSequence are the blocks that a tool change is written as in a program
	// for this machine, in order: "M9", "M5", "G53 G0 Z0", "T{tool} M6". They say
	// what must be so where a tool is changed; what is so already is not written
	// again. Places but 0 carry their unit, "G0 Z{2 in}", and a level in work
	// coordinates is gone to from below alone. A comment may have {tool}, the
	// number, and {name}, the title. Where the machine has no code for a change,
	// the stop with {tool} in its comment is the change. Nothing but the writing
	// of programs depends on it.
	ChangeSequence []string `toml:"change_sequence"`
	Loaded         []Tool   `toml:"loaded"`
	Shared         bool     `toml:"shared_offsets"` // H and D numbers are of one table: one number holds a length or a diameter
}

// Tool is one that stands in the machine.
type Tool struct {
	Number   int    `toml:"number"`
	Title    string `toml:"title"`
	Length   Length `toml:"length"`   // from the gauge line to the tip: what its H offset holds
	Diameter Length `toml:"diameter"` // what its D offset holds
	D        int    `toml:"d"`        // number of its D offset; 0: that of the tool

	// Of a turning tool: how far the turret's place lies from the tip's, X as
	// the slide moves, nil where it is not known; the radius of the nose; and
	// where the tip that is set lies from the nose's centre: 1 X+ Z+, 2 X+ Z-,
	// 3 X- Z-, 4 X- Z+, 5 Z+, 6 X+, 7 Z-, 8 X-, 0 and 9 in the centre.
	OffsetX       *Length `toml:"offset_x"`
	OffsetZ       *Length `toml:"offset_z"`
	NoseRadius    Length  `toml:"nose_radius"`
	NoseDirection int     `toml:"nose_direction"`
}

// Turning says how the turning cycles are written.
type Turning struct {
	CycleLines int    `toml:"cycle_lines"` // blocks of one cycle: 2 (the default), or 1
	Retract    Length `toml:"retract"`     // from the cut before the way back, where the cycle does not say
	ThreadLead string `toml:"thread_lead"` // the word for the lead in a thread block: "F" (the default) or "K"
	// Counts are addresses that, without a point, count least increments
	// (numbers.decimals) in the cycles of grooves and threads, whatever
	// numbers.point says of other words.
	Counts string `toml:"counts"`
}

// Offset is a work offset: where the work zero lies, in machine coordinates.
// A nil axis is unknown.
type Offset struct {
	X *Length `toml:"x"`
	Y *Length `toml:"y"`
	Z *Length `toml:"z"`
	A *Length `toml:"a"`
	B *Length `toml:"b"`
	C *Length `toml:"c"`
}

// compiled holds the code tables, so that a look-up on the fast path is an
// index and no more.
type compiled struct {
	g       [numCodes]Meaning // by tenths: G59.1 is 591
	m       [numCodes]Meaning // by tenths too, though no base has an M code with a point
	gear    [numCodes]int8    // of M codes, by tenths: index in Spindle.Gears, -1 for none
	words   uint32            // bit n: 'A'+n is accepted
	code    [numMeanings]string
	offsets [9]*Offset
	times   map[int]float64 // s, of accepted M codes, by tenths
	dwell   [26]float64     // seconds in one of a dwell word, by address: 0 for none
	change  []ChangeBlock
	places  map[string]*node // of every value given, by path: see Origin
}

const numCodes = 10000 // G0 to G999.9

// G is what the preparatory function does, by tenths: G59.1 is 591.
func (m *Machine) G(tenths int) Meaning {
	if tenths < 0 || tenths >= numCodes {
		return Refused
	}
	return m.codes.g[tenths]
}

// M is what the miscellaneous function does, by tenths like G.
func (m *Machine) M(tenths int) Meaning {
	if tenths < 0 || tenths >= numCodes {
		return Refused
	}
	return m.codes.m[tenths]
}

// GearOf is the index in Spindle.Gears of the gear that an M code, by tenths,
// engages, or -1.
func (m *Machine) GearOf(tenths int) int {
	if tenths < 0 || tenths >= numCodes {
		return -1
	}
	return int(m.codes.gear[tenths])
}

// TimeOf is how long an accepted M code, by tenths, holds the program up, in s.
func (m *Machine) TimeOf(tenths int) float64 { return m.codes.times[tenths] }

// Takes says whether the control takes words with the address.
func (m *Machine) Takes(address byte) bool {
	return address >= 'A' && address <= 'Z' && m.codes.words>>(address-'A')&1 == 1
}

// CodeFor is the code with the meaning ("G20"), the lowest where several have
// it, or "".
func (m *Machine) CodeFor(meaning Meaning) string { return m.codes.code[meaning] }

// WorkOffset is the work offset n, 0 to 8 (G54 to G59.3 in the published
// report), or nil where the profile does not give it.
func (m *Machine) WorkOffset(n int) *Offset { return m.codes.offsets[n] }

// Axis is the machine's axis i of AxisLetters, or nil.
func (m *Machine) Axis(i int) *Axis {
	switch i {
	case 0:
		return m.Axes.X
	case 1:
		return m.Axes.Y
	case 2:
		return m.Axes.Z
	case 3:
		return m.Axes.A
	case 4:
		return m.Axes.B
	case 5:
		return m.Axes.C
	}
	return nil
}
