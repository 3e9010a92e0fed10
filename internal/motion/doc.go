// Package motion turns operations into seconds: how long a control with these
// axes, this look-ahead and this reading speed takes over them. It knows no
// rule and judges nothing. It keeps as many moves as the control looks ahead
// and forgets the rest.
//
// # The model
//
// A move is a straight line or an arc, with a length L in mm. Its speed limit
// is the least of the programmed feed (traverses have none), the greatest feed
// of the control, and of each axis its own limit over its share of the
// direction, limit/|u|.
//
// With b for the squared speed, an axis is accelerated by u*b'/2 along the path
// and, on an arc of radius r, by n*b/r towards its centre: both together stay
// within its limit. Both are linear in b. An arc at a feed that leaves room for
// both all around is one move with one acceleration; else it is followed in
// pieces of two degrees (bend.go), where its speed limit and what its axes can
// add change from piece to piece. On straight paths the plan is the best that
// there is, on arcs within a tenth of a per cent of it: linear programming on a
// fine grid says so (optimum_test.go).
//
// A feed by the revolution is its way in one revolution times the spindle's
// speed. Under constant surface speed that changes along the move with the
// distance from the centre line; the move then has one speed limit, its length
// over the time that it takes by the closed form (turnedTime), and the axes'
// limits hold for that mean.
//
// The acceleration along a straight line is the least a/|u| of its axes. An axis
// without a value has no limit.
//
// A rotary axis that moves along with X, Y or Z takes part by its degrees for
// each mm of path: the feed is along XYZ, as NISTIR 6556 has it (from memory).
// Where rotary axes move alone the path is in degrees.
//
// Within a move the speed is a trapezoid, or a triangle where L is too short:
// constant acceleration, full speed, constant deceleration. From rest to rest
// that is L >= v^2/a: L/v + v/a; else 2*sqrt(L/a).
//
// At a junction of two moves the speed is that of the slower one, or less:
//
//   - nothing where the block that ends asks for an exact stop, where the
//     control does not look ahead, where a traverse meets a feed (common
//     practice: a rapid comes to its place before the cut begins) and where
//     anything but a move stands between. Coolant counts as such: controls wait
//     for it.
//   - no limit where the path goes straight on: a deflection of at most a
//     thousandth of a radian, which is what rounding to the least increment
//     makes of a tangent junction.
//   - else nothing in exact path mode, or where the profile's corner is "stop"
//     or its tolerance is zero.
//   - else the speed on an arc inscribed in the corner of deflection phi, which
//     stays within the tolerance e: r = e*cos(phi/2)/(1-cos(phi/2)), and
//     v = sqrt(a*r) with the least acceleration of the linear axes whose share
//     of the direction changes. The arc touches the two moves r*tan(phi/2) from
//     the corner, and that must not be more than half of the shorter: on short
//     chords this, not e, decides, and gives the curve that the chords stand
//     for. A rotary axis may change its speed over the same length.
//   - or, where the profile's corner is "step", the speed at which no axis changes
//     its own by more than its step: step/|u2-u1|.
//
// The control knows the move that is made and the next N, its look-ahead, and
// can stop at the end of what it knows. So the speed at the end of a move is
// the greatest from which the moves known then can be slowed to rest, within
// the limits of all their junctions, and that can be reached by then.
//
// A control that takes b seconds for a block has room for N blocks (for one,
// where N is 0). It starts full; standing or moving for t seconds makes t/b
// more blocks ready, up to N; a block uses one up. Where none is ready, the
// axes wait for the rest of it.
//
// A program that does not fit the memory comes over the link meanwhile, which
// gives baud/bits characters a second; the control holds a buffer of them.
//
// A limit of jerk makes each change of speed longer: by a/j, or less where the
// acceleration a is not reached (smooth.go). Moves are planned without it, with
// its limit v^3/r^2 on arcs, and its time is added: once for a change that goes
// over several moves.
//
// Where an axis reverses, the path waits until its backlash is taken up, from
// rest to rest. A thread waits half a turn of the spindle. Where traverses are
// each axis's own affair they take the longest time of all, from rest to rest.
//
// Spindle, gears, tools, dwells and M codes that the profile times take the times
// of the profile, one after the other and with the axes at rest. A change of speed takes the share of the
// starting time that its rpm have of the highest. The end of the program stops
// the spindle. A turret turns with the spindle running.
//
// # What it does not know
//
// Servo lag: real moves take some hundredths of a second more. The path is as
// programmed: what a rounded corner saves in length is not taken off, and its
// limit holds at the corner itself, not over the arc. The step of centripetal
// acceleration where a line meets an arc has no limit of jerk. A control that has
// run out of blocks slows down and speeds up again: only the waiting is counted.
// A spindle under constant surface speed follows the tool without delay.
// Moves count for the look-ahead, not blocks without one. A feed without F is
// timed by the axes' limits alone, and a move that no limit bounds, such as a
// traverse without a rapid speed in the profile, takes no time at all.
package motion
