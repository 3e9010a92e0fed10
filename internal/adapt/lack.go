package adapt

import (
	"fmt"

	"tapefit/internal/interp"
	"tapefit/parser"
	"tapefit/profiles"
	"tapefit/rules"
)

// What the program says and the machine has nothing for: axes, M codes, data of the
// control. What cannot be written in another way is told with what a person can do.

// lacking are the addresses of axes that a machine does not have.
func lacking(m *profiles.Machine) (letters uint32) {
	for i := range profiles.NumAxes {
		if letter := profiles.AxisLetters[i]; !m.Takes(letter) || !interp.AxisSet(m.AllAxes()).Has(i) {
			letters |= bit(letter)
		}
	}
	return letters
}

// movesAxes says whether the axis words of a block are places: A is the angle of a
// thread in its cycle, and what a call passes on is for the program to say.
func movesAxes(m *profiles.Machine, b *parser.Block) bool {
	for i := range b.Words {
		if w := &b.Words[i]; w.Address == 'G' {
			if code := meaningG(m, w); code.IsTurning() || code == profiles.CallArguments {
				return false
			}
		}
	}
	return true
}

// lacks tells of axes that the machine does not have.
func (a *adapter) lacks(axes interp.AxisSet) {
	for i := range profiles.NumAxes {
		letter := profiles.AxisLetters[i]
		if !axes.Has(i) || a.lacking&bit(letter) == 0 {
			continue
		}
		what, decide := fmt.Sprintf("the program moves %c; %s has no such axis", letter, a.to.Name), "This part needs another machine."
		if i >= firstRotary {
			decide = fmt.Sprintf("If %c stands in one place from beginning to end, take its words out of the source. Else this part needs another machine, or a program for each position of %c.", letter, letter)
		}
		a.leave(rules.Error, a.line, what, decide)
	}
}

// canLeaveOut is what a code with a meaning is read as where a person wants it left
// out; Refused: it cannot be. A spindle that would stop in place stops all the same:
// what comes next relies on that.
func canLeaveOut(m profiles.Meaning) profiles.Meaning {
	switch m {
	case profiles.Mist, profiles.Flood, profiles.CoolantOff, profiles.OverridesOn, profiles.OverridesOff,
		profiles.OptionalStop, profiles.PalletStop:
		return profiles.Accepted
	case profiles.SpindleOrient:
		return profiles.SpindleStop
	}
	return profiles.Refused
}

// leavingOut is the machine that a program is read by without the M codes, by
// tenths, that a person wants left out.
func leavingOut(from *profiles.Machine, codes map[int]bool) *profiles.Machine {
	read := map[int]profiles.Meaning{}
	for t, on := range codes {
		if as := canLeaveOut(from.M(t)); on && as != profiles.Refused {
			read[t] = as
		}
	}
	if len(read) == 0 {
		return from
	}
	return from.Reading(read)
}

// misc writes an M code that is neither of the tool nor of the spindle.
func (a *adapter) misc(b *parser.Block, i int) {
	word := &b.Words[i]
	m, w := meaningM(a.from, word), a.w
	name := "M" + codeText(tenths(word))
	switch {
	case a.opt.LeaveOut[tenths(word)]:
		a.did(Codes)
	case a.unknown>>i&1 == 1:
		a.leave(rules.Error, a.line, fmt.Sprintf("what %s does is not known to %s, by which the program is read", name, a.from.Name),
			fmt.Sprintf("Find out what it does. If the part can do without it, leave it out with --leave-out %s; else write what %s has for it.", name, a.to.Name))
	case m == meaningM(a.to, word):
		w.text(b.Text(word.Pos, word.End))
	case m == profiles.Accepted && isGear(tenths(word)):
		a.did(Gears) // a gear of the other machine
	case m == profiles.Accepted:
		a.leave(rules.Error, a.line, fmt.Sprintf("%s does something on %s that %s has no code for", name, a.from.Name, a.to.Name),
			fmt.Sprintf("If the part can do without it, leave it out with --leave-out %s; else write what does it here.", name))
	case a.to.CodeFor(m) != "":
		a.did(Codes)
		w.code(m)
	default:
		a.noCode(name, m)
	}
	if m == profiles.SpindleOrient {
		w.spindle = interp.SpindleOff
	}
}

// noCode is for an M code of the source that the machine has none for.
func (a *adapter) noCode(name string, m profiles.Meaning) {
	to := a.to
	switch other := map[profiles.Meaning]profiles.Meaning{profiles.Mist: profiles.Flood, profiles.Flood: profiles.Mist}[m]; {
	case m == profiles.CoolantOff && to.CodeFor(profiles.Mist)+to.CodeFor(profiles.Flood) == "":
		a.did(Codes) // nothing is on that it could switch off
	case m == profiles.SpindleOrient:
		a.leave(rules.Error, a.line, fmt.Sprintf("%s stops the spindle in place; %s has no code for that", name, to.Name),
			fmt.Sprintf("If it may stand at any angle, leave it out with --leave-out %s: the spindle is then stopped with %s.", name, to.CodeFor(profiles.SpindleStop)))
	case m == profiles.OverridesOn || m == profiles.OverridesOff:
		a.did(Codes)
		a.leave(rules.Warning, a.line, fmt.Sprintf("%s has no code for %s: it is left out", to.Name, m), "Let the operator do it.")
	case other != profiles.Refused && to.CodeFor(other) != "":
		a.leave(rules.Error, a.line, fmt.Sprintf("%s has no code for %s", to.Name, m),
			fmt.Sprintf("If the part can do without it, leave it out with --leave-out %s; or write %s (%s) into the source.", name, to.CodeFor(other), other))
	default:
		a.leave(rules.Error, a.line, fmt.Sprintf("%s has no code for %s", to.Name, m),
			fmt.Sprintf("If the part can do without it, leave it out with --leave-out %s; else let the operator do it at a stop.", name))
	}
}
