package adapt

import (
	"testing"

	"strings"

	"pgregory.net/rapid"
)

// drawnFor are the machines and bases that programs are drawn for.
var drawnFor = []string{"bed-mill", "knee-mill", "slant-lathe", "rs274ngc", "parametric", "tape-era"}

// onEach runs a property for each machine of the shop.
func onEach(t *testing.T, property func(*testing.T, string)) {
	for _, name := range drawnFor {
		t.Run(name, func(t *testing.T) { property(t, name) })
	}
}

// A program is itself, and no deviation is found.
func TestProveItself(t *testing.T) {
	onEach(t, func(t *testing.T, name string) {
		m := machine(t, name)
		rapid.Check(t, func(t *rapid.T) {
			program := write(t, m, draw(t, m, 12), false)
			p, err := Prove(sideOf(m, program), sideOf(m, program), Allowed{})
			if err != nil || p.Deviation != 0 || len(p.Limits) > 0 {
				t.Fatalf("%v, %g mm, %q\n%s", err, p.Deviation, p.Limits, program)
			}
		})
	})
}

// A draft written in two ways is one program.
func TestProveTwoWritings(t *testing.T) {
	onEach(t, func(t *testing.T, name string) {
		m := machine(t, name)
		rapid.Check(t, func(t *rapid.T) {
			d := draw(t, m, 12)
			one, other := write(t, m, d, true), write(t, m, d, false)
			p, err := Prove(sideOf(m, one), sideOf(m, other), Allowed{Path: 1e-5})
			if err != nil || len(p.Limits) > 0 {
				t.Fatalf("%v, %q\n%s\n%s", err, p.Limits, one, other)
			}
		})
	})
}

// A mutant of a program is proven where it does the same within the tolerance,
// and never where it does not.
func TestProveMutants(t *testing.T) {
	onEach(t, func(t *testing.T, name string) {
		m := machine(t, name)
		verdicts := map[verdict]int{}
		rapid.Check(t, func(t *rapid.T) {
			program := write(t, m, draw(t, m, 8), false)
			tol := rapid.SampledFrom([]float64{0.0005, 0.005, 0.02}).Draw(t, "tolerance")
			mutant := mutate(t, program)
			v := judge(m, program, mutant, tol)
			verdicts[v]++
			p, err := Prove(sideOf(m, program), sideOf(m, mutant), Allowed{Path: tol, Angle: tol})
			switch {
			case v == unlikePrograms && err == nil:
				t.Fatalf("proven, with a deviation of %g mm for %g\n%s\n%s", p.Deviation, tol, program, mutant)
			case v == alikeEnough && err != nil:
				t.Fatalf("for %g mm: %v\n%s\n%s", tol, err, program, mutant)
			}
		})
		t.Logf("alike %d, unlike %d, not said %d", verdicts[alikeEnough], verdicts[unlikePrograms], verdicts[hardToSay])
	})
}

// mutate damages a program in one place: a word or a block is changed, dropped,
// doubled or exchanged for its neighbour.
func mutate(t *rapid.T, program string) string {
	lines := strings.SplitAfter(program, "\n")
	i := rapid.IntRange(0, len(lines)-2).Draw(t, "block")
	line := strings.TrimSuffix(lines[i], "\n")
	words := strings.Fields(line)
	kind := rapid.IntRange(0, 11).Draw(t, "mutation")
	if kind < 8 && (len(words) == 0 || strings.ContainsAny(line, "#%D")) {
		kind = 8 + kind%3 // parameters are another language; % marks and loops have no words
	}
	switch kind {
	case 8:
		lines[i] = ""
	case 9:
		lines[i] += lines[i]
	case 10, 11:
		if i+2 < len(lines) {
			lines[i], lines[i+1] = lines[i+1], lines[i]
		}
	default:
		lines[i] = strings.Join(mutateWords(t, words, kind), " ") + "\n"
	}
	return strings.Join(lines, "")
}

func mutateWords(t *rapid.T, words []string, kind int) []string {
	i := rapid.IntRange(0, len(words)-1).Draw(t, "word")
	w := words[i]
	switch kind {
	case 0:
		return append(words[:i:i], words[i+1:]...)
	case 1:
		return append(words[:i+1:i+1], words[i:]...)
	case 2:
		j := rapid.IntRange(0, len(words)-1).Draw(t, "other word")
		words[i], words[j] = words[j][:1]+w[1:], w[:1]+words[j][1:]
	case 3:
		if n, ok := strings.CutPrefix(w[1:], "-"); ok {
			words[i] = w[:1] + n
		} else {
			words[i] = w[:1] + "-" + w[1:]
		}
	case 4:
		words[i] = rapid.StringMatching("[XYZIJKRFSPQGMTHL]").Draw(t, "address") + w[1:]
	default:
		digits := []int{}
		for k := range w {
			if w[k] >= '0' && w[k] <= '9' {
				digits = append(digits, k)
			}
		}
		if len(digits) > 0 {
			k := rapid.SampledFrom(digits).Draw(t, "digit")
			words[i] = w[:k] + string(rapid.RuneFrom([]rune("0123456789")).Draw(t, "new digit")) + w[k+1:]
		}
	}
	return words
}
