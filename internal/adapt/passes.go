package adapt

// A Pass is one kind of change.
type Pass struct {
	Name    string   // lower-case words with hyphens; part of the interface
	Summary string   // one line
	Doc     string   // when it is made, and what stays
	Mends   []string // rules whose findings it mends
	Asked   bool     // made only where it is asked for; the others are made where they are needed
	Alters  bool     // what the machine does is then another: slower, along another path, without blocks
}

// Names of the passes.
const (
	Numbers     = "numbers"
	Words       = "words"
	Comments    = "comments"
	Characters  = "characters"
	Length      = "block-length"
	Sequence    = "sequence-numbers"
	Marks       = "marks"
	Units       = "units"
	Distance    = "distance"
	Arcs        = "arcs"
	Chords      = "chords"
	Cycles      = "cycles"
	Unroll      = "unroll"
	Transforms  = "transforms"
	CompPath    = "comp-path"
	FeedModes   = "feed-modes"
	OneM        = "one-m-code"
	Codes       = "codes"
	Gears       = "gears"
	ToolChange  = "tool-change"
	Homing      = "homing"
	ClampSpeed  = "clamp-speed"
	ClampFeed   = "clamp-feed"
	BlockDelete = "block-delete"
	Thin        = "thin"
	Gather      = "gather"
	Unnumber    = "unnumber"
	Renumber    = "renumber"
)

// Passes are all passes, in the order in which they are told.
func Passes() []*Pass {
	return []*Pass{
		{Name: Numbers, Summary: "numbers in the form that the control reads", Mends: []string{"number-format"},
			Doc: `Point, decimals and suppressed zeros as the profile says. Places are rounded, not distances: in incremental blocks the distance is taken from where the rounded one before has ended, so that nothing adds up.`},
		{Name: Words, Summary: "words that nothing uses are left out", Mends: []string{"word-not-used"},
			Doc: `A P behind G64, an H without its code. What the control does not know, and might mean something, stays and is told.`},
		{Name: Comments, Summary: "comments in the way of writing that the control knows", Mends: []string{"code-not-accepted"},
			Doc: `From ; to ( ) and back; where the control knows none they are left out. What stands beside a stop or right before it, for the operator, is told then.`},
		{Name: Characters, Summary: "capitals for small letters, and in comments blanks for what the control does not read", Mends: []string{"characters-not-accepted"},
			Doc: `A tab becomes a blank. Other characters outside comments stay and are told.`},
		{Name: Length, Summary: "blocks of no more characters than the control reads", Mends: []string{"block-too-long"},
			Doc: `Comments go into blocks of their own and are broken at blanks. Blanks between words are left out; where that is not enough, the sequence number, the feed and codes that hold on go into a block in front.`},
		{Name: Sequence, Summary: "sequence numbers and program numbers within the control's range", Mends: []string{"sequence-number-out-of-range", "program-number-out-of-range"},
			Doc: `Numbers beyond the range are left off. A program number that the control has no place for becomes a comment.`},
		{Name: Marks, Summary: "the % marks that the control needs", Mends: []string{"percent-marks-missing"},
			Doc: `One before the first block and one behind the last.`},
		{Name: Units, Summary: "inch to mm, or mm to inch", Mends: []string{"code-not-accepted"},
			Doc: `Where the control has no code for the program's units; asked for, to what the machine's people read. Surface speeds and leads of threads go along, surface speeds as whole numbers.`},
		{Name: Distance, Summary: "incremental to absolute, or absolute to incremental", Mends: []string{"code-not-accepted"},
			Doc: `Where the control has no code for the program's distance mode; asked for, to absolute.`},
		{Name: Arcs, Summary: "arcs in the form that the control takes", Mends: []string{"arc-form-not-accepted", "arc-crosses-quadrant", "arc-radius-mismatch"},
			Doc: `Centres from the start, absolute or without sign; R; arcs cut at the quadrants; full circles cut in two. Ends stay true, centres are rounded so that both radii agree. Contours under cutter compensation too.`},
		{Name: Chords, Summary: "curves that the control does not make as straight moves", Mends: []string{"arc-form-not-accepted"},
			Doc: `Helices, arcs in other planes and of larger radius than the control makes, within the tolerance.`},
		{Name: Cycles, Summary: "canned cycles as the control makes them, or as moves", Mends: []string{"cycle-not-accepted", "code-not-accepted", "word-missing", "word-not-used"},
			Doc: `Cycles that it has, but reads or retracts otherwise, are written in its own way. Tapping stays a cycle: plain feeds are not tied to the spindle. Turning cycles go over from two blocks to one and back; the blocks of their contours stay where they are. In other units, or where X goes by the radius on one of the two lathes, they are written as moves; passes of a thread with the code for a straight one.`},
		{Name: Unroll, Summary: "subprograms, loops and expressions written out", Mends: []string{"code-not-accepted", "calls-too-deep"},
			Doc: `Each block as often as it is executed, with the values that it has then.`},
		{Name: Transforms, Summary: "mirrored, scaled, turned and polar places written out", Mends: []string{"code-not-accepted"},
			Doc: `Places in plain work coordinates.`},
		{Name: CompPath, Summary: "cutter compensation written out for the tool's diameter", Mends: []string{"code-not-accepted"},
			Doc: `Where the control has none: the path of the tool's centre. The diameter comes from the profile that the program is read by.`},
		{Name: FeedModes, Summary: "feed by the revolution or by time as feed by the minute", Mends: []string{"code-not-accepted"},
			Doc: `Where the control has no code for the program's feed mode. Where it has one for feed by time, a move that is written anew has the time of its own length.`},
		{Name: OneM, Summary: "no more M codes in a block than the control takes", Mends: []string{"codes-conflict"},
			Doc: `In blocks of their own, in the order in which one block executes them.`},
		{Name: Codes, Summary: "G and M codes by the numbers of the control", Mends: []string{"code-not-accepted", "codes-conflict"},
			Doc: `A code whose meaning has another number here is mapped. One that says what holds on this control anyway is left out; where that leaves something to do it is told. G80 beside G0 goes into a block in front where the control does not take both.`},
		{Name: Gears, Summary: "gear codes and belt stops before the speeds that need them", Mends: []string{"speed-outside-gear", "speed-straddles-gear", "gear-shift-in-cut"},
			Doc: `The lowest gear that reaches the speed, with the spindle stopped where the machine wants that; a stop for moving the belt where gears are shifted by hand. A program with such a stop says the belt of its first speed too, and that of each tool.`},
		{Name: ToolChange, Summary: "tool changes as the machine wants them",
			Doc: `Where the profile has tools.change_sequence: what it says before a change, and the program has not done, is put in; T and the change code stand in one block or in two as it has them; stops behind the change follow. The coolant is on again before the next move for which the program has it on. What is done already stays, in the order that it has. Coolant that the machine's tool-change program switches off is on again too. A program that goes on from where it stood, though the tool has gone up, is told.`},
		{Name: Homing, Summary: "moves to the home position as moves to a place of the work", Mends: []string{"code-not-accepted"},
			Doc: `Where the control has no code for them: to the place given with --home. Z goes up to it, not down. Where the control goes to places in machine coordinates, and its profile says where home is, the move home is one of those and needs no --home.`},
		{Name: ClampSpeed, Summary: "speeds brought down to what the spindle and its gears turn, and feeds by the same share", Asked: true, Alters: true,
			Mends: []string{"speed-over-machine", "speed-between-gears"},
			Doc:   `The chip stays as thick as it was, and the pitch of a tap what it was.`},
		{Name: ClampFeed, Summary: "feeds brought down to what the axes make", Asked: true, Alters: true, Mends: []string{"feed-over-axis-limit"},
			Doc: `Each move by its own direction. Taps and threads keep their pitch: where one is too fast, nothing is written, and the S and F for it are told.`},
		{Name: BlockDelete, Summary: "blocks with block delete executed or left out for good", Asked: true, Alters: true, Mends: []string{"code-not-accepted"},
			Doc: `As the switch would be set: see --block-delete.`},
		{Name: Thin, Summary: "runs of short moves joined, and arcs put through them, within a tolerance", Asked: true, Alters: true,
			Mends: []string{"blocks-faster-than-control", "program-too-big-for-memory"},
			Doc:   `Corners and reversals stay. See --tolerance.`},
		{Name: Gather, Summary: "holes drilled with plain moves as canned cycles", Asked: true,
			Mends: []string{"blocks-faster-than-control", "program-too-big-for-memory"},
			Doc:   `Where the machine has a cycle that goes the same way: down to R, in, pecks with the clearance of the profile, dwell, out. The next holes are places, G80 ends it. What is no such hole stays, and so do blocks with comments and programs that keep subprograms or loops.`},
		{Name: Unnumber, Summary: "sequence numbers left off that nothing leads to", Asked: true,
			Mends: []string{"program-too-big-for-memory"},
			Doc:   `Blocks that a GOTO or a contour names keep theirs. Where it is computed which block is meant, all stay.`},
		{Name: Renumber, Summary: "sequence numbers given anew", Asked: true,
			Mends: []string{"sequence-number-out-of-range", "sequence-numbers-not-rising"},
			Doc:   `From the first block to the last, see --number-from and --number-by; GOTO, and P and Q of a contour, go along. Beside unnumber only the blocks that something leads to. Where it is computed, or not sure, which block is meant, all numbers stay; where the control's highest is passed they begin again, but not where something leads to them.`},
	}
}

// Find is the pass with the name, or nil.
func Find(name string) *Pass {
	for _, p := range Passes() {
		if p.Name == name {
			return p
		}
	}
	return nil
}
