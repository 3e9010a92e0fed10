package rules

import (
	"fmt"
	"strings"
	"testing"
)

// A tool of bed-mill cuts an inch along X from x, in the low or the high gear.
func work1(tool int, gear string, x int) string {
	form := orderLow
	if gear == "high" {
		form = orderHigh
	}
	return fmt.Sprintf(form, tool, x, x+1)
}

func TestOrderFindings(t *testing.T) {
	job := func(works ...string) string { return orderHead + strings.Join(works, "") + "M30\n%\n" }
	findingsTable{
		{"low high low high at four places", "bed-mill", job(work1(2, "low", 0), work1(3, "high", 4), work1(4, "low", 8), work1(7, "high", 12)),
			[]string{"note gear-order-wasteful 14:4"}},
		{"the same at one place: the order is needed", "bed-mill", job(work1(2, "low", 0), work1(3, "high", 0), work1(4, "low", 0), work1(7, "high", 0)), nil},
		{"low high low: the next part begins low again, so nothing is won", "bed-mill", job(work1(2, "low", 0), work1(3, "high", 4), work1(4, "low", 8)), nil},
		{"the operator turns the part between: free are the two behind", "bed-mill", job(work1(2, "low", 0), work1(3, "high", 4), "M0\n", work1(4, "low", 8), work1(7, "high", 12)),
			[]string{"note gear-order-wasteful 26:4"}},
		{"the operator turns the part each time", "bed-mill", job(work1(2, "low", 0), work1(3, "high", 4), "M0\n", work1(4, "low", 8), "M0\n", work1(7, "high", 12)), nil},
		{"nearer than the tools are wide", "bed-mill", job(work1(8, "low", 0), work1(1, "high", 2), work1(4, "low", 4), work1(7, "high", 5)), nil},
		{"a tool again, the other cuts elsewhere", "bed-mill", job(work1(2, "low", 0), work1(3, "low", 4), work1(2, "low", 8)),
			[]string{"note tool-called-twice-apart 25:4"}},
		{"a tool again, to finish behind the other", "bed-mill", job(work1(2, "low", 0), work1(3, "low", 0), work1(2, "low", 0)), nil},
		{"again behind a tool that needs its first work, at a place of its own", "bed-mill", job(work1(2, "low", 0), work1(3, "low", 0), work1(2, "low", 8)),
			[]string{"note tool-called-twice-apart 25:4"}},
		{"the same tool twice with nothing between", "bed-mill", job(work1(2, "low", 0), work1(2, "low", 8)), nil},
	}.run(t)
}

// Two vices whose places in the machine are known: G54 at X12, G55 at X30. Where
// the profile does not know them they may be one place.
func TestOrderOffsets(t *testing.T) {
	program := orderHead + "G54\n" + work1(2, "low", 0) + work1(3, "low", 0) + "G55\n" + work1(2, "low", 0) + work1(3, "low", 0) + "M30\n%\n"
	m := machine(t, "bed-mill")
	want := "[note tool-called-twice-apart 27:4]"
	if got := findings(t, m, program, Options{}); fmt.Sprint(got) != want {
		t.Errorf("got %q", got)
	}
	unknown := strings.ReplaceAll(program, "G55", "G56")
	if got := findings(t, m, unknown, Options{}); names(got, "tool-called-twice-apart") != 0 {
		t.Errorf("got %q", got)
	}
}
