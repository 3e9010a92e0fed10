package report

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"tapefit/internal/estimate"
	"tapefit/internal/motion"
	"tapefit/rules"
)

// Routes writes a row a machine, the best first.
func (t *Text) Routes(routes []*estimate.Route, quantity int) error {
	first := routes[0]
	t.flow(0, 2, run{t.styles.title, jobName(first.Job)}, run{t.styles.quiet, ", a lot of " + fmt.Sprint(quantity)})
	t.line()
	names := len("machine")
	for _, r := range routes {
		names = max(names, len(r.Job.Machine.Name))
	}
	t.flow(2, 4, run{t.styles.quiet, fmt.Sprintf("%-*s  %-10s", names, "machine", "fits") +
		cells(moneyWidth, "cycle", "by hand") + cells(countWidth, "tools", "stops") + cells(moneyWidth, "each")})
	for _, r := range routes {
		t.line()
		t.routeRow(r, names)
	}
	t.line()
	t.flow(2, 4, run{t.styles.quiet, "Ranked by how many programs fit, by errors, then by " + rankedBy(routes) + ". No figure says that a program is right: " +
		"prove it out: dry run above the part, single block, a hand on feed hold."})
	return t.out.Flush()
}

func jobName(j *estimate.Job) string {
	if len(j.Operations) == 1 {
		return programName(j.Operations[0].Result.Path)
	}
	return plural(len(j.Operations), "program")
}

func rankedBy(routes []*estimate.Route) string {
	if why := estimate.Unpriced(routes); why != "" {
		return "time: " + why
	}
	return "price"
}

func (t *Text) routeRow(r *estimate.Route, names int) {
	m := r.Job.Machine
	fits, style := "yes", t.styles.clear
	if !r.Fits() {
		fits, style = fmt.Sprintf("%d of %d", len(r.Job.Operations)-r.Refused, len(r.Job.Operations)), t.styles.level[rules.Error]
	}
	each := "no rate"
	if m.Quote.Rate > 0 {
		each = strings.TrimSpace(money(r.Lot.Each.Likely) + " " + clean(m.Quote.Currency))
	}
	cycle := clock(r.Part.Cycle.Likely)
	if r.Partial {
		cycle, each = ">"+cycle, ">"+each
	}
	t.flow(2, 4, run{t.styles.title, fmt.Sprintf("%-*s", names, clean(m.Name))}, run{style, fmt.Sprintf("  %-10s", fits)},
		run{text: cells(moneyWidth, cycle, clock(r.Part.Hand)) + cells(countWidth, strconv.Itoa(r.Tools), strconv.Itoa(r.Stops))},
		run{text: cells(moneyWidth, each)})
	if f := r.First; f != nil {
		t.flow(4, 6, run{t.styles.level[rules.Error], plural(r.Errors, "error") + ", the first "}, run{text: fmt.Sprintf("%s:%d:%d %s: %s",
			programName(r.FirstIn), f.Line, f.Column, f.Rule.Name, clean(f.Message))})
	}
	if r.Partial {
		t.flow(4, 6, run{text: "the cycle is at least this: \"tapefit time\" says what is left out"})
	}
	t.timelessOf(r.Job)
	if at, lost, of := limiting(r.Job); lost > 0 {
		t.flow(4, 6, run{text: fmt.Sprintf("most is lost by %s: %s of %s", at, clock(lost), clock(of))})
	}
}

// timelessOf doubts the first program of a job that takes no time, and counts the
// others.
func (t *Text) timelessOf(j *estimate.Job) {
	var first *rules.Result
	more := 0
	for i := range j.Operations {
		switch r := j.Operations[i].Result; {
		case r.Times.Total != 0:
		case first == nil:
			first = r
		default:
			more++
		}
	}
	if first == nil {
		return
	}
	name := programName(first.Path)
	if more > 0 {
		name += ", the first of " + plural(more+1, "program") + ","
	}
	t.timeless(first, 4, name)
}

// limiting is what takes the most time beyond length over feed, in all programs
// of a job, and of how much.
func limiting(j *estimate.Job) (at motion.Limit, lost, of float64) {
	var sum [motion.NumLimits]float64
	for i := range j.Operations {
		times := &j.Operations[i].Result.Times
		of += times.Total
		for k, v := range times.Lost {
			sum[k] += v
		}
	}
	for k, v := range sum {
		if v > lost {
			at, lost = motion.Limit(k), v
		}
	}
	return at, lost, of
}

// variantWidth is the width of a variant's column.
const variantWidth = 14

// Variants writes a row a program and a column for the machine as it is and
// each variant of it.
func (t *Text) Variants(routes []*estimate.Route) error {
	base := routes[0]
	on := " on " + clean(base.Job.Machine.Name) + ", and as it would be"
	t.flow(0, 2, run{t.styles.title, jobName(base.Job)}, run{t.styles.quiet, on})
	for i, r := range routes[1:] {
		t.flow(2, 6, run{t.styles.title, variantName(i + 1)}, run{text: "   " + clean(r.Variant)})
	}
	t.line()
	columns := func(name string, cell func(i int, r *estimate.Route) string) []run {
		row := []run{{text: name}}
		for i, r := range routes {
			row = append(row, run{text: fmt.Sprintf("%*s", variantWidth, cell(i, r))})
		}
		return row
	}
	room := max(t.width-2-len(routes)*variantWidth, 16)
	head := columns(fmt.Sprintf("%-*s", room, ""), func(i int, _ *estimate.Route) string {
		if i == 0 {
			return "as it is"
		}
		return variantName(i)
	})
	t.flow(2, 4, head...)
	for k := range base.Job.Operations {
		t.flow(2, 4, columns(pathCell(programName(base.Job.Operations[k].Result.Path), room), func(_ int, r *estimate.Route) string {
			return clock(r.Job.Operations[k].Result.Times.Total)
		})...)
	}
	t.line()
	for _, row := range []struct {
		name string
		cell func(i int, r *estimate.Route) string
	}{
		{"together", func(_ int, r *estimate.Route) string { return clock(r.Part.Cycle.Likely) }},
		{"less time", func(i int, r *estimate.Route) string {
			if i == 0 || base.Part.Cycle.Likely == 0 {
				return ""
			}
			return fmt.Sprintf("%.1f %%", 100*(1-r.Part.Cycle.Likely/base.Part.Cycle.Likely)+0)
		}},
		{"programs that fit", func(_ int, r *estimate.Route) string {
			return fmt.Sprintf("%d of %d", len(r.Job.Operations)-r.Refused, len(r.Job.Operations))
		}},
		{"most is lost by", func(_ int, r *estimate.Route) string {
			at, lost, _ := limiting(r.Job)
			if lost <= 0 {
				return "nothing"
			}
			return at.String()
		}},
	} {
		t.flow(2, 4, columns(fmt.Sprintf("%-*s", room, row.name), row.cell)...)
	}
	t.line()
	t.timelessOf(base.Job)
	t.flow(2, 4, run{t.styles.quiet, "What is laid over the profile must be true of the machine before it can count on it: screws, drives and " +
		"wiring are for licensed people and the local codes."})
	return t.out.Flush()
}

func variantName(i int) string {
	if i <= 26 {
		return string(rune('A' + i - 1))
	}
	return fmt.Sprint(i)
}

// pathCell is a name cut at its front to so many columns, and padded to them: of
// paths the end tells more.
func pathCell(name string, room int) string {
	r := []rune(name)
	if len(r) > room-2 {
		r = append([]rune("..."), r[len(r)-(room-5):]...)
	}
	return string(r) + strings.Repeat(" ", max(room-len(r), 0))
}

type (
	jsonRoutes struct {
		Schema   int         `json:"schema"`
		Quantity int         `json:"quantity"`
		Unpriced string      `json:"unpriced,omitempty"` // why they are ranked by time and not by price
		Routes   []jsonRoute `json:"routes"`             // ranked, or the machine as it is and its variants in their order
	}
	jsonRoute struct {
		Machine  string          `json:"machine"`
		Set      []string        `json:"set,omitempty"`
		Fits     bool            `json:"fits"`
		Refused  int             `json:"refused"` // programs with errors
		Errors   int             `json:"errors"`
		First    *jsonFirst      `json:"first,omitempty"`
		Cycle    jsonRange       `json:"cycle_s"`
		AtLeast  bool            `json:"at_least"`
		Hand     float64         `json:"hand_s"`
		Tools    int             `json:"tools"`
		Stops    int             `json:"operator_stops"`
		Limit    string          `json:"limit"` // what loses the most time; "" where none is lost
		Lost     float64         `json:"limit_lost_s"`
		Currency string          `json:"currency"`
		Rate     float64         `json:"rate_per_h"`
		Lot      jsonLot         `json:"lot"`
		Programs []jsonOperation `json:"programs"`
	}
	jsonFirst struct {
		Path    string `json:"path"`
		Line    int    `json:"line"`
		Column  int    `json:"column"`
		Rule    string `json:"rule"`
		Message string `json:"message"`
	}
)

// RoutesJSON writes routes as one JSON object.
func RoutesJSON(w io.Writer, routes []*estimate.Route, quantity int) error {
	all := jsonRoutes{Schema: Schema, Quantity: quantity, Unpriced: estimate.Unpriced(routes), Routes: []jsonRoute{}}
	for _, r := range routes {
		m, l := r.Job.Machine, r.Lot
		j := jsonRoute{
			Machine: m.Name, Set: m.Settings, Fits: r.Fits(), Refused: r.Refused, Errors: r.Errors,
			Cycle: rangeOf(r.Part.Cycle), AtLeast: r.Partial, Hand: finite(r.Part.Hand), Tools: r.Tools, Stops: r.Stops,
			Currency: m.Quote.Currency, Rate: float64(m.Quote.Rate),
			Lot:      lotOf(r.Job, &l),
			Programs: operationsOf(r.Job),
		}
		if f := r.First; f != nil {
			j.First = &jsonFirst{r.FirstIn, f.Line, f.Column, f.Rule.Name, f.Message}
		}
		if at, lost, _ := limiting(r.Job); lost > 0 {
			j.Limit, j.Lost = at.String(), finite(lost)
		}
		all.Routes = append(all.Routes, j)
	}
	return writeJSON(w, all)
}
