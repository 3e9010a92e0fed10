package adapt

import (
	"math"

	"tapefit/profiles"
)

// threads says whether the machine cuts a straight thread with a code of its own,
// and reads the lead of this one fine enough.
func (a *adapter) threads(op *done) bool {
	return a.to.CodeFor(profiles.Thread) != "" && a.to.Takes(a.leadLetter()) &&
		math.Abs(a.readLead(op.Lead)-op.Lead) <= rounding*op.Lead
}

// rounding is the share of itself by which writing may change a feed or a lead.
const rounding = 2e-4

// leadLetter is the address of the lead in a thread block.
func (a *adapter) leadLetter() byte {
	if a.to.Turning.ThreadLead == "K" {
		return 'K'
	}
	return 'F'
}

// readLead is a lead as the machine reads what is written for it, mm. F has all
// digits, K those of a place.
func (a *adapter) readLead(lead float64) float64 {
	if a.leadLetter() == 'F' {
		return lead
	}
	return math.Round(lead/a.centreStep()) * a.centreStep()
}

// leadWord writes the lead of a thread in each block that cuts one. Where F is it,
// that is also the feed by the revolution which is then in force.
func (a *adapter) leadWord(lead float64) {
	w := a.w
	if a.leadLetter() == 'K' {
		w.number('K', math.Round(lead/a.centreStep()))
		return
	}
	in := w.feed
	w.feed = 0
	w.revWord(lead)
	if w.feedMode != profiles.FeedPerRevolution {
		w.feed = in
	}
}
