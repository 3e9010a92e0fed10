package motion

// Times says where the time of a program goes, in s. The parts add up to Total;
// operator stops are counted, not timed.
type Times struct {
	Total      float64
	Cutting    float64 // feeds and arcs, waiting for the control included
	Rapid      float64
	Dwell      float64
	ToolChange float64
	GearShift  float64
	Spindle    float64 // starting, stopping and reversing
	Other      float64 // the control reading blocks before something that is not a move

	// Waiting is the part of Cutting and Rapid in which the axes stand or creep
	// because the control has not read the next block.
	Waiting float64

	// Naive is what Cutting and Rapid would take by length over programmed feed,
	// rapids at the speed of their axes: what a desk calculator says. Lost is what
	// Cutting and Rapid take beyond it, by what takes it: Cutting + Rapid is Naive
	// and the sum of Lost.
	Naive float64
	Lost  [NumLimits]float64

	// BelowFeed is the part of Cutting spent at less than 90 % of the programmed
	// feed, waiting included.
	BelowFeed float64

	OperatorStops int        // program stops and tool changes by hand; optional stops are not counted
	HandTools     int        // of the operator stops, tool changes
	HandShifts    int        // belt steps that the operator moves for one part of a lot, back to where the next one begins included; at an operator stop, or where one is missing
	Tools         []ToolTime // in order of first use
	UnknownMoves  int        // moves from or to a place that is not known: timed only along the axes that are
	UnknownCuts   int        // of them feeds and arcs
	UnknownFeeds  int        // feeds and arcs without a known feed: timed as fast as the axes can
}

// ToolTime is the share of one tool, from its change to the next.
type ToolTime struct {
	Tool    int // -1: unknown
	Total   float64
	Cutting float64
}

// A Timed move is one that the planner has settled. Moves come out in order,
// behind the look-ahead window, so the block is named by place, not by pointer.
type Timed struct {
	Line     int
	Offset   int64 // of the block in the program
	Pos, End int32 // of the word that caused the move in the block
	Cut      bool
	Length   float64 // mm
	Seconds  float64 // with Wait
	Wait     float64 // of Seconds: for the control to read the block, or for the link
	WaitBy   Limit   // ByBlockTime or ByLink
	Feed     float64 // programmed, mm/s; 0 for traverses
	Top      float64 // greatest speed reached, mm/s
	Tool     int     // -1: unknown

	Limit     Limit   // what it loses most by
	Lost      float64 // of Seconds: beyond length over programmed feed, or over the speed of the axes for a traverse
	BelowFeed float64 // of Seconds: of a cut, slower than 90 % of its feed, with Wait
}
