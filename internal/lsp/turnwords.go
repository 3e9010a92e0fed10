package lsp

import (
	"fmt"
	"strings"

	"tapefit/profiles"
)

// ofTurning are the words of a turning cycle. One that is written in two blocks has
// other words in its first: where there are no contour and no place.
func (a *arguments) ofTurning(m profiles.Meaning) (string, []string) {
	two := a.m.Turning.CycleLines == 2
	if m.IsContour() {
		if says := a.ofContour(m); says != "" {
			return says, nil
		}
	}
	switch {
	case two && a.opens(m):
		return a.first(m), nil
	case m == profiles.FaceGroove || m == profiles.TurnGroove:
		return a.ofGroove(m, two)
	case m == profiles.ThreadCycle:
		return a.ofThread(two)
	case !two:
		return a.only(m), nil
	}
	return "", nil
}

// opens says whether the block is the first of two.
func (a *arguments) opens(m profiles.Meaning) bool {
	letters := "XZUW"
	if m.IsContour() {
		letters = "PQ"
	}
	return m != profiles.FinishContour && !strings.ContainsFunc(letters, func(letter rune) bool { return a.s.block.Word(byte(letter)) != nil })
}

// ofContour are the words that every cycle along a contour has.
func (a *arguments) ofContour(m profiles.Meaning) string {
	n, ok := a.count()
	along := a.s.block.Word('P') != nil && a.s.block.Word('Q') != nil && m != profiles.FinishContour
	switch a.w.Address {
	case 'P':
		if ok {
			return fmt.Sprintf("the contour begins with the block N%d", n)
		}
	case 'Q':
		if ok {
			return fmt.Sprintf("the contour ends with the block N%d", n)
		}
	case 'U':
		if along {
			return "what is left along X for finishing" + a.length() + yes(a.s.after.Diameter, ", on the diameter", ", by the radius")
		}
	case 'W':
		if along {
			return "what is left along Z for finishing" + a.length()
		}
	}
	return ""
}

// first are the words of the first of two blocks.
func (a *arguments) first(m profiles.Meaning) string {
	switch letter := a.w.Address; {
	case m == profiles.RoughTurn && letter == 'U':
		return "the depth of one cut, by the radius" + a.length()
	case m == profiles.RoughFace && letter == 'W':
		return "the depth of one cut, along Z" + a.length()
	case m == profiles.RoughPattern && letter == 'U':
		return "how far from the contour the first pass is along X, by the radius" + a.length()
	case m == profiles.RoughPattern && letter == 'W':
		return "how far from the contour the first pass is along Z" + a.length()
	case m == profiles.RoughPattern && letter == 'R':
		return "the number of passes" + a.times()
	case (m == profiles.RoughTurn || m == profiles.RoughFace) && letter == 'R':
		return "how far it goes back after each cut" + a.length()
	case (m == profiles.FaceGroove || m == profiles.TurnGroove) && letter == 'R':
		return "how far it goes back after each peck" + a.length()
	case m == profiles.ThreadCycle:
		return a.threadFirst()
	}
	return ""
}

// threadFirst are the words of the first block of a thread cycle.
func (a *arguments) threadFirst() string {
	switch a.w.Address {
	case 'P':
		if n, ok := a.count(); ok && n >= 0 && n < 1_000_000 {
			return fmt.Sprintf("three numbers of two digits: passes at the full depth, %d; run-out in tenths of the lead, %s leads; angle of the tool, %d degrees", n/10000, number(float64(n/100%100)/10), n%100)
		}
	case 'Q':
		return "the least depth of a cut, by the radius" + a.length()
	case 'R':
		return "the depth of the last cut, by the radius" + a.length()
	}
	return ""
}

// only are the words of a cycle of one block that one of two has in its first.
func (a *arguments) only(m profiles.Meaning) string {
	switch letter := a.w.Address; {
	case (m == profiles.RoughTurn || m == profiles.RoughFace) && letter == 'D':
		return "the depth of one cut" + a.length()
	case m == profiles.RoughPattern && letter == 'I':
		return "how far from the contour the first pass is along X, by the radius" + a.length()
	case m == profiles.RoughPattern && letter == 'K':
		return "how far from the contour the first pass is along Z" + a.length()
	case m == profiles.RoughPattern && letter == 'D':
		return "the number of passes" + a.times()
	}
	return ""
}

// ofGroove are the words of a groove.
func (a *arguments) ofGroove(m profiles.Meaning, two bool) (string, []string) {
	along := map[byte]string{'I': "X", 'K': "Z", 'D': "aside"}
	if two {
		along = map[byte]string{'P': "X", 'Q': "Z", 'R': "aside"}
	}
	axis := along[a.w.Address]
	deep := yes(m == profiles.TurnGroove, "X", "Z")
	radius := yes(axis == "X", ", by the radius", "")
	switch axis {
	case "":
		return a.folded()
	case "aside":
		return "how far it goes aside at the bottom before it comes out" + a.length(), nil
	case deep:
		return "the depth of one peck along " + axis + radius + a.length(), nil
	}
	return "the step aside to the next place along " + axis + radius + a.length(), nil
}

// ofThread are the words of the block of a thread cycle that says where it goes.
func (a *arguments) ofThread(two bool) (string, []string) {
	means := map[byte]string{'I': "taper", 'K': "height", 'D': "first"}
	if two {
		means = map[byte]string{'R': "taper", 'P': "height", 'Q': "first"}
	}
	means['F'] = "lead"
	switch means[a.w.Address] {
	case "lead":
		return "the lead of the thread" + a.length(), nil
	case "taper":
		return "the taper: the radius at the start of the thread less that at its end" + a.length(), nil
	case "height":
		return "the height of the thread, by the radius" + a.length(), nil
	case "first":
		return "the depth of the first cut, by the radius" + a.length(), nil
	}
	return a.folded()
}

// folded are U and W in a cycle where they are distances.
func (a *arguments) folded() (string, []string) {
	if strings.IndexByte(a.m.Words.Incremental, a.w.Address) >= 0 {
		return a.away()
	}
	return "", nil
}
