package rules

import (
	"fmt"
	"math"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
)

// feeds are the rules about the F word.
func feeds() []*Rule {
	return []*Rule{
		{
			Name: "feed-missing", Family: "feeds", Level: Error,
			Summary: "a feed move with no feed in force",
			Doc:     `Without an F word before it a feed move stops the control, stands still for ever, or runs at the feed of the last program.`,
			Uses:    []string{"start.feed"},
			Example: Example{"rs274ngc", "G0 X0\nG1 X10\nM2\n", "G0 X0\nG1 X10 F100\nM2\n"},
			New: func(*profiles.Machine, *Options) Checker {
				return Checker{Op: feedMissing, Ops: Of(interp.Feed, interp.Arc), Steady: true}
			},
		},
		{
			Name: "feed-over-axis-limit", Family: "feeds", Level: Error,
			Summary: "a feed at which an axis would run over its limit",
			Doc:     `A feed over what the axis can follow trips the following-error alarm in the middle of the cut, or is cut down by the control. The limit is of each axis: a diagonal may be faster than any of them.`,
			Uses:    []string{"axes.*.feed", "axes.*.rapid", "feed.greatest", "feed.least"},
			Example: Example{"bed-mill", "%\nG0 X0 Y0\nG1 X4. F250.\nM30\n%\n", "%\nG0 X0 Y0\nG1 X4. F100.\nM30\n%\n"},
			New:     newFeedLimit,
		},
		{
			Name: "feed-on-traverse", Family: "feeds", Level: Warning,
			Summary: "F in a block that runs at rapid: a forgotten G1",
			Doc:     `Who writes F into a block means a cut. Where the block has no motion code of its own and G0 is in force, the tool goes there at rapid, into the work. Told of with the spindle turning; F beside G0 is for the cuts to come and is left alone.`,
			Uses:    []string{"codes"},
			Example: Example{"bed-mill", "%\nT3 M6\nM42\nS2000 M3\nG0 X0 Y0\nG43 H3 Z1.\nZ.1\nZ-.2 F10.\nX4. F20.\nG0 Z1.\nM30\n%\n", "%\nT3 M6\nM42\nS2000 M3\nG0 X0 Y0\nG43 H3 Z1.\nZ.1\nG1 Z-.2 F10.\nX4. F20.\nG0 Z1.\nM30\n%\n"},
			New:     newFeedOnTraverse,
		},
	}
}

func newFeedOnTraverse(*profiles.Machine, *Options) Checker {
	return Checker{Ops: Of(interp.Traverse, interp.Feed, interp.Arc), Steady: true, Op: func(p *Pass, op *interp.Op) {
		if op.Kind != interp.Traverse {
			p.forgotten = false
			return
		}
		if p.forgotten {
			p.stay() // a code of motion takes it back, whatever the moves before that are
		}
		if op.InCycle || op.Home || op.Length == 0 || !turning(op.State) {
			return
		}
		f := -1
		for i := range op.Block.Words {
			switch w := &op.Block.Words[i]; {
			case w.Address == 'F':
				f = i
			case w.Address == 'G' && p.Machine.G(tenths(w)).Group() == profiles.MotionGroup:
				p.forgotten = false
				return
			}
		}
		if f < 0 {
			return
		}
		p.forgotten = true
		if n := p.Note(0, WordPlace(op.Block, f)); n != nil {
			n.Message = fmt.Sprintf("%s in a block that goes at rapid: %s is in force", wordText(op.Block, f), orCode(p.Machine, profiles.TraverseMove, "the traverse"))
			n.Advice = fmt.Sprintf("Write %s if a cut is meant.", orCode(p.Machine, profiles.FeedMove, "the feed move"))
		}
	}}
}

// tenths is the number of a code times ten; 0 where it is computed.
func tenths(w *parser.Word) int {
	if w.Expr != nil {
		return 0
	}
	return int(math.Round(w.Value * 10))
}

func feedMissing(p *Pass, op *interp.Op) {
	s := op.State
	if s.FeedSet && s.Feed > 0 || s.Unknown&(interp.UnknownFeed|interp.UnknownFeedMode) != 0 || s.FeedMode == profiles.FeedInverseTime || op.Lead > 0 {
		return
	}
	n := p.Note(0, OpPlace(op))
	if n == nil {
		return
	}
	n.Message = "a feed move, and no F is in force"
	if s.FeedSet {
		n.Message = "a feed move at F0: the axes would stand still"
	}
	n.Advice = "Give F in this block or before it."
}

// feedLimit knows the limits of the axes, mm/s and deg/s.
type feedLimit struct {
	axis  [profiles.NumAxes]float64 // 0: none
	least float64                   // of the linear axes: below it nothing can be over
	word  profiles.FeedLimits
	worst map[uint64]*overFeed
}

func newFeedLimit(m *profiles.Machine, _ *Options) Checker {
	f := &feedLimit{least: math.Inf(1), word: m.Feed, worst: map[uint64]*overFeed{}}
	for i := range profiles.NumAxes {
		a := m.Axis(i)
		if a == nil {
			continue
		}
		f.axis[i] = float64(a.HighestFeed())
		if f.axis[i] > 0 {
			f.least = math.Min(f.least, f.axis[i])
		}
	}
	if f.word.Greatest > 0 {
		f.least = math.Min(f.least, float64(f.word.Greatest))
	}
	if math.IsInf(f.least, 1) && f.word.Least == 0 {
		return Checker{}
	}
	return Checker{State: []any{f}, Op: f.op, Ops: Of(interp.Feed, interp.Arc), End: f.end}
}

func (f *feedLimit) op(p *Pass, op *interp.Op) {
	if op.Lead > 0 || op.PerRev > mostPerRev && op.Moves&interp.XYZ != 0 {
		return // thread-lead-limit speaks, or feed-mode-stale
	}
	if feed := highestFeed(op); feed > f.least*(1+1e-9) || op.Moves&^interp.XYZ != 0 {
		f.over(p, op, feed)
	}
	if op.Feed > 0 && op.Feed < float64(f.word.Least)*(1-1e-9) {
		if n := p.Note(math.Float64bits(-op.Feed), OpPlace(op)); n != nil {
			n.Message = fmt.Sprintf("feed %s; the least that %s makes is %s", p.feed(op.Feed), p.Machine.Name, p.feed(float64(f.word.Least)))
			n.Advice = "Program a feed within the control's range."
		}
	}
}

// overLimit says whether the move drives an axis over its highest feed.
func (p *Pass) overLimit(op *interp.Op) bool {
	feed := highestFeed(op)
	for i := range 3 {
		if a := p.Machine.Axis(i); a != nil && a.HighestFeed() > 0 && feed*share(op, i) > float64(a.HighestFeed())*(1+1e-9) {
			return true
		}
	}
	return false
}

// overFeed is the worst of the moves at one feed that is over a limit.
type overFeed struct {
	note   *Finding
	axis   int // noAxis: the control takes no such F
	path   int // the axis in whose units the feed is: X, or the one that turns alone
	feed   float64
	over   float64 // times the limit
	line   int
	perRev float64
	tied   bool // to the spindle: a tap, a thread
	mode   profiles.Meaning
	unit   float64 // mm in one unit of the program; 1 where the feed is in degrees
}

// noAxis stands where it is not an axis that is over its limit but feed.greatest.
const noAxis = -1

// over finds the limit that the feed is furthest over: an axis's, or that of the
// feed itself. One F word is one cause; under inverse time, where each block has
// its own, one limit is.
func (f *feedLimit) over(p *Pass, op *interp.Op, feed float64) {
	worst, over := noAxis, 1+1e-9
	for i := range profiles.NumAxes {
		if f.axis[i] == 0 {
			continue
		}
		if ratio := feed * share(op, i) / f.axis[i]; ratio > over {
			worst, over = i, ratio
		}
	}
	if word := float64(f.word.Greatest); word > 0 && feed/word > over && op.Moves&interp.XYZ != 0 {
		worst, over = noAxis, feed/word // what is advised is to be within both
	}
	if over <= 1+1e-9 {
		return
	}
	if op.Moves&interp.XYZ != 0 && op.State.FeedMode != profiles.FeedInverseTime {
		p.misread(readFast, op, OpPlace(op), sign{over, 'F', feed})
	}
	key := math.Float64bits(op.State.Feed)
	if op.State.FeedMode == profiles.FeedInverseTime {
		key = uint64(worst + 1)
	}
	n := p.Note(key, OpPlace(op))
	if n != nil {
		f.worst[key] = &overFeed{note: n, over: 1}
	}
	o := f.worst[key]
	if o == nil || n == nil && p.hushed(OpPlace(op)) || over <= o.over {
		return
	}
	*o = overFeed{note: o.note, axis: worst, feed: feed, over: over, line: op.Block.Line, perRev: op.PerRev, tied: op.Synchron, mode: op.State.FeedMode, unit: 1}
	switch {
	case op.Moves&interp.XYZ == 0:
		o.path = worst
	case op.State.Units == profiles.UnitsInch:
		o.unit = 25.4
	}
}

func (f *feedLimit) end(p *Pass) {
	for _, o := range f.worst {
		o.say(p, f)
	}
}

func (o *overFeed) say(p *Pass, f *feedLimit) {
	n := o.note
	where := ""
	if o.line != n.Line {
		where = fmt.Sprintf(", at worst in line %d", o.line)
	}
	if o.axis == noAxis {
		takes := "feeds"
		if o.mode == profiles.FeedPerMinute {
			takes = "takes F"
		}
		n.Message = fmt.Sprintf("feed %s%s; %s %s up to %s", p.feed(o.feed), where, p.Machine.Name, takes, p.feed(float64(f.word.Greatest)))
	} else {
		limit := f.axis[o.axis]
		n.Message = fmt.Sprintf("feed %s moves %c at %s%s; that axis of %s feeds up to %s",
			p.axisFeed(o.path, o.feed), profiles.AxisLetters[o.axis], p.axisFeed(o.axis, limit*o.over), where, p.Machine.Name, p.axisFeed(o.axis, limit))
	}
	switch {
	case o.tied && o.perRev > 0:
		n.Message += fmt.Sprintf("; F is %s a revolution", p.fine(o.perRev))
		n.Advice = fmt.Sprintf("Program S smaller by %s or more here; another F would cut another pitch.", trim(math.Ceil(100-100/o.over), 0)+" %")
	case o.tied:
		n.Advice = fmt.Sprintf("Program F%s or less here, and S smaller by the same share: else the pitch is another.", roundedDown(o.feed/o.over*60/o.unit))
	case o.perRev > 0:
		n.Message += fmt.Sprintf("; F is %s a revolution", p.fine(o.perRev))
		n.Advice = fmt.Sprintf("Program F for %s a revolution or less here, or a slower spindle.", p.fineDown(o.perRev/o.over))
	case o.mode == profiles.FeedInverseTime:
		n.Advice = fmt.Sprintf("Give the move more time: F smaller by %s or more, which is %s along the path.", trim(math.Ceil(100-100/o.over-1e-9), 0)+" %", p.axisFeed(o.path, o.feed/o.over))
	default:
		n.Advice = fmt.Sprintf("Program F%s or less here.", roundedDown(o.feed/o.over*60/o.unit))
	}
}

// roundedDown writes a greatest value as a person would: three figures of it,
// and no more of it than there is.
func roundedDown(v float64) string {
	step := math.Pow10(max(-2, int(math.Floor(math.Log10(v)))-2))
	return trim(math.Floor(v/step*(1+1e-12))*step, 2)
}

// axisFeed is the speed of one axis, per minute.
func (p *Pass) axisFeed(i int, v float64) string {
	if i >= 3 {
		return trim(v*60, 1) + " deg/min"
	}
	return p.feed(v)
}

// share is the greatest part of the path speed that falls on axis i.
func share(op *interp.Op, i int) float64 {
	length := op.Length
	if op.Moves&interp.XYZ == 0 {
		length = rotaryLength(op)
	}
	if length == 0 {
		return 0
	}
	if op.Kind == interp.Arc {
		first, second, _ := op.Plane.Axes()
		if i == first || i == second {
			return op.Radius * op.Sweep / op.Length
		}
	}
	if !op.Moves.Has(i) || !(op.FromKnown&op.ToKnown | op.Steps).Has(i) {
		return 0
	}
	return math.Abs(op.To[i]-op.From[i]) / length
}

// rotaryLength is how far the rotary axes turn together, in degrees: the root
// of the sum of squares (NISTIR 6556, from memory).
func rotaryLength(op *interp.Op) float64 {
	sum := 0.0
	for i := 3; i < profiles.NumAxes; i++ {
		if op.Moves.Has(i) && (op.FromKnown&op.ToKnown | op.Steps).Has(i) {
			sum += (op.To[i] - op.From[i]) * (op.To[i] - op.From[i])
		}
	}
	return math.Sqrt(sum)
}
