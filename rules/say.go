package rules

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"tapefit/parser"
	"tapefit/profiles"
)

// length is mm in the units that the machine's people read.
func (p *Pass) length(mm float64) string {
	if p.Machine.Display == "inch" {
		return trim(mm/25.4, 4) + " in"
	}
	return trim(mm, 3) + " mm"
}

// fine is length with one more decimal, for what is smaller than the last.
func (p *Pass) fine(mm float64) string {
	if p.Machine.Display == "inch" {
		return trim(mm/25.4, 5) + " in"
	}
	return trim(mm, 4) + " mm"
}

// fineDown is fine of a greatest value: rounded down, so that what it says is
// within it.
func (p *Pass) fineDown(mm float64) string {
	step := 1e-4
	if p.Machine.Display == "inch" {
		step = 25.4e-5
	}
	return p.fine(math.Floor(mm/step*(1+1e-12)) * step)
}

// feed is mm/s in the units that the machine's people read, per minute.
func (p *Pass) feed(v float64) string {
	const small = 2.54 // mm/min: two decimals would leave nothing of it
	if v > 0 && v*60 < small {
		return p.smaller(v*60, 1e-4) + "/min"
	}
	if p.Machine.Display == "inch" {
		return trim(v*60/25.4, 2) + " in/min"
	}
	return trim(v*60, 1) + " mm/min"
}

// along is a place on axis i: length, or degrees of a rotary axis.
func (p *Pass) along(i int, v float64) string {
	if i >= 3 {
		return trim(v, 3) + " deg"
	}
	return p.length(v)
}

// trim writes v with at most the decimals, without zeros at the end.
func trim(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		s = "0"
	}
	return s
}

// rpm writes a speed as S word.
func rpm(v float64) string { return trim(v, 1) }

// wordText is word i of the block as it is written, without blanks.
func wordText(b *parser.Block, i int) string {
	if i < 0 || i >= len(b.Words) {
		return ""
	}
	return printable(b.Text(b.Words[i].Pos, b.Words[i].End))
}

// printable is text that may stand in a message: blanks folded, control
// characters and bytes that are not UTF-8 shown as such, long text shortened.
func printable(text []byte) string {
	const longest = 40
	var sb strings.Builder
	for _, r := range string(text) {
		switch {
		case sb.Len() >= longest:
			sb.WriteString("...")
			return sb.String()
		case r <= ' ':
			continue
		case r == 0x7f || r == '\uFFFD':
			sb.WriteByte('?')
		default:
			sb.WriteRune(r)
		}
	}
	return sb.String()
}

// letters writes addresses as a list: "A, B and C".
func letters(set string) string {
	list := strings.Split(set, "")
	return join(list, "and")
}

// join writes a list with a word before its last member.
func join(list []string, last string) string {
	if len(list) < 2 {
		return strings.Join(list, "")
	}
	return strings.Join(list[:len(list)-1], ", ") + " " + last + " " + list[len(list)-1]
}

// codesOf are the codes that the machine accepts of a modal group, lowest
// first.
func codesOf(m *profiles.Machine, group profiles.Group) []string {
	var list []string
	for code, name := range m.Codes {
		meaning, ok := profiles.ParseMeaning(name)
		if ok && meaning != profiles.Refused && meaning.Group() == group {
			list = append(list, code)
		}
	}
	slices.SortFunc(list, byNumber)
	return list
}

func byNumber(a, b string) int {
	x, _ := strconv.ParseFloat(a[1:], 64)
	y, _ := strconv.ParseFloat(b[1:], 64)
	switch {
	case x < y:
		return -1
	case x > y:
		return 1
	}
	return strings.Compare(a, b)
}

// gearList describes the gears: "low (M41) 40 to 1100, high (M42) 800 to 4200 rpm".
func gearList(m *profiles.Machine) string {
	var list []string
	for i := range m.Spindle.Gears {
		list = append(list, gearText(&m.Spindle.Gears[i]))
	}
	return join(list, "and") + " rpm"
}

func gearText(g *profiles.SpindleGear) string {
	code := ""
	if g.Code != "" {
		code = " (" + g.Code + ")"
	}
	return fmt.Sprintf("%s%s %s to %s", g.Name, code, rpm(float64(g.Speed[0])), rpm(float64(g.Speed[1])))
}
