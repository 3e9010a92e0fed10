package report

import (
	"encoding/csv"
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"

	"tapefit/internal/estimate"
	"tapefit/profiles"
	"tapefit/rules"
)

// Columns of a quote.
const (
	quantityWidth = 8
	moneyWidth    = 11
	countWidth    = 7
)

// Quote writes what lots of a job take and cost.
func (t *Text) Quote(j *estimate.Job, quantities []int) error {
	q := &j.Machine.Quote
	t.quoteHeading(j)
	t.line()
	part := j.Part()
	t.flow(2, 4, run{t.styles.quiet, fmt.Sprintf("%-*s", nameWidth, "each part") + cells(moneyWidth, "low", "likely", "high")})
	t.flow(2, 4, run{text: fmt.Sprintf("%-*s", nameWidth, "cycle")}, run{text: rangeCells(part.Cycle, clock)}, run{text: leastOf(j)})
	t.flow(2, 4, run{text: fmt.Sprintf("%-*s", nameWidth, "by hand") + cells(moneyWidth, "", clock(part.Hand))})
	if q.Setup > 0 {
		t.flow(2, 4, run{text: fmt.Sprintf("%-*s", nameWidth, "set-up, a lot") + cells(moneyWidth, "", clock(j.Lot(1).Setup))})
	}
	t.line()
	t.lots(j, quantities)
	t.line()
	t.influences(j, quantities[len(quantities)-1])
	t.flow(2, 4, run{t.styles.quiet, "The times hold with the overrides at 100 % and leave out what is not in the profile: probing, deburring, waiting for people. " +
		"A quote says nothing about whether a program is right."})
	return t.out.Flush()
}

// quoteHeading names the programs and the machine, and says which of them it
// refuses.
func (t *Text) quoteHeading(j *estimate.Job) {
	on := " on " + clean(j.Machine.Name)
	for _, s := range j.Machine.Settings {
		on += " --set " + clean(s)
	}
	if len(j.Operations) == 1 {
		t.flow(0, 2, run{t.styles.title, programName(j.Operations[0].Result.Path)}, run{t.styles.quiet, on})
	} else {
		t.flow(0, 2, run{t.styles.title, plural(len(j.Operations), "program") + " of one part"}, run{t.styles.quiet, on})
	}
	for i := range j.Operations {
		t.quoteOperation(j.Operations[i].Result, len(j.Operations) > 1)
	}
}

// quoteOperation says what of a program keeps its figures from being those of
// the job; among several it names the program with its time first.
func (t *Text) quoteOperation(r *rules.Result, several bool) {
	name := programName(r.Path)
	if several {
		time := clock(r.Times.Total)
		if r.Incomplete() {
			time = ">" + time
		}
		t.flow(2, 4, run{text: fmt.Sprintf("%-*s", clockWidth+2, time)}, run{text: name})
	}
	indent := 2
	if several {
		indent, name = 2+clockWidth+2, "it"
	}
	if n := r.Count(rules.Error); n > 0 {
		holds := "The figures hold for the program as it will have to be."
		if r.Incomplete() {
			holds = "What is refused or not known is not in the figures: they are the least."
		}
		t.flow(indent, indent+2, run{t.styles.level[rules.Error], fmt.Sprintf("%s has %s on this machine", name, plural(n, "error"))},
			run{text: ": \"tapefit check\" says which. " + holds})
	}
	t.timeless(r, indent, name)
}

// timeless doubts a program that takes no time.
func (t *Text) timeless(r *rules.Result, indent int, name string) {
	if r.Times.Total == 0 {
		t.flow(indent, indent+2, run{t.styles.level[rules.Warning], name + " takes no time on this machine"},
			run{text: ": is it the whole program, and the right one?"})
	}
}

func programName(path string) string {
	if path == "-" {
		return "standard input"
	}
	return clean(path)
}

// leastOf says that something is left out of the time.
func leastOf(j *estimate.Job) string {
	if isLeast(j) {
		return "  at least: \"tapefit time\" says what is left out"
	}
	return ""
}

// isLeast says whether something is left out of the time of a program.
func isLeast(j *estimate.Job) bool {
	return slices.ContainsFunc(j.Operations, func(o estimate.Operation) bool { return o.Result.Incomplete() })
}

// cells writes each text at the right of a column so wide; one that is wider is
// parted from that before it all the same.
func cells(width int, texts ...string) string {
	var row strings.Builder
	for _, text := range texts {
		fmt.Fprintf(&row, " %*s", width-1, text)
	}
	return row.String()
}

// rangeCells are low, likely and high; likely alone where there is no range.
func rangeCells(r estimate.Range, write func(float64) string) string {
	if r.Low == r.High {
		return cells(moneyWidth, "", write(r.Likely))
	}
	return cells(moneyWidth, write(r.Low), write(r.Likely), write(r.High))
}

// lots is the table of quantities.
func (t *Text) lots(j *estimate.Job, quantities []int) {
	q := &j.Machine.Quote
	least := ""
	if isLeast(j) {
		least = ">"
	}
	time := func(v float64) string { return least + clock(v) }
	price := func(v float64) string { return least + money(v) }
	lot := fmt.Sprintf("%*s", quantityWidth, "quantity") + cells(quantityWidth, "begun")
	if q.Rate == 0 {
		t.flow(2, 4, run{t.styles.quiet, lot + cells(moneyWidth, "low", "likely", "high")})
		for _, n := range quantities {
			l := j.Lot(n)
			t.flow(2, 4, run{text: lotCells(n, l.Begun) + rangeCells(l.Seconds, time)})
		}
		why := "the profile gives no rate"
		if j.Machine.Origin("quote.rate") != "" {
			why = "the rate is 0"
		}
		t.flow(2, 4, run{text: "Times alone: " + why + ". Write rate = \"95 /h\" under [quote], or --rate \"95 /h\"."})
	} else {
		each := "each"
		if q.Currency != "" {
			each += ", " + clean(q.Currency)
		}
		t.flow(2, 4, run{t.styles.quiet, fmt.Sprintf("%*s", 2*quantityWidth, "") + cells(moneyWidth, "", "", "", each)})
		t.flow(2, 4, run{t.styles.quiet, lot + cells(moneyWidth, "time", "price", "low", "likely", "high")})
		for _, n := range quantities {
			l := j.Lot(n)
			t.flow(2, 4, run{text: lotCells(n, l.Begun) + cells(moneyWidth, time(l.Seconds.Likely), price(l.Price.Likely))},
				run{text: rangeCells(l.Each, price)})
		}
	}
	if missing := peopleMissing(q); missing != "" {
		t.flow(2, 4, run{text: missing})
	}
}

func lotCells(quantity int, begun float64) string {
	return fmt.Sprintf("%*d", quantityWidth, quantity) + cells(quantityWidth, strconv.FormatFloat(begun, 'f', 1, 64))
}

// peopleMissing says which of what people do for each part and lot is in no
// figure, because the profile gives no time for it.
func peopleMissing(q *profiles.Quote) string {
	switch {
	case q.Setup == 0 && q.Load == 0:
		return "Set-up and loading are in no figure: write setup and load under [quote], or --setup and --load."
	case q.Setup == 0:
		return "Set-up is in no figure: write setup under [quote], or --setup."
	case q.Load == 0:
		return "Loading is in no figure: write load under [quote], or --load."
	}
	return ""
}

func money(v float64) string { return strconv.FormatFloat(v, 'f', 2, 64) }

// influences says from what the range comes.
func (t *Text) influences(j *estimate.Job, quantity int) {
	all := j.Influences(quantity)
	if len(all) == 0 {
		t.flow(2, 4, run{text: "No range: the profile says of no value how far off it may be. Write \"quote.setup\" = \"30 %\" under [unsure], " +
			"or let \"tapefit calibrate\" say it from measured runs."})
		return
	}
	t.flow(2, 4, run{text: fmt.Sprintf("The range, at about 95 %%, comes from what the profile says may be off, for a lot of %d:", quantity)})
	likely := j.Lot(quantity).Seconds.Likely
	for _, in := range all {
		if in.Low == in.High {
			continue
		}
		t.flow(4, 6, run{text: fmt.Sprintf("%-26s%6s   %s to %s", clean(in.Path), "±"+share(in.Share),
			signedClock(min(in.Low, in.High)-likely), signedClock(max(in.Low, in.High)-likely))})
	}
}

func signedClock(seconds float64) string {
	if seconds < 0 {
		return "-" + clock(-seconds)
	}
	return "+" + clock(seconds)
}

// The forms of quotes and routes in JSON.
type (
	jsonRange struct {
		Low    float64 `json:"low"`
		Likely float64 `json:"likely"`
		High   float64 `json:"high"`
	}
	jsonQuote struct {
		Schema     int             `json:"schema"`
		Machine    string          `json:"machine"`
		Set        []string        `json:"set,omitempty"`
		Currency   string          `json:"currency"`
		Rate       float64         `json:"rate_per_h"`
		Operations []jsonOperation `json:"operations"`
		Cycle      jsonRange       `json:"cycle_s"`
		Hand       float64         `json:"hand_s"`
		Lots       []jsonLot       `json:"lots"`
		Unsure     []jsonUnsure    `json:"unsure"` // for the last of the lots
	}
	jsonOperation struct {
		Path    string     `json:"path"`
		Counts  jsonCounts `json:"counts"`
		AtLeast bool       `json:"at_least"` // something is left out of the time
		Time    jsonTime   `json:"time"`
	}
	jsonLot struct {
		Quantity int        `json:"quantity"`
		Begun    float64    `json:"begun"`
		Setup    float64    `json:"setup_s"`
		Seconds  jsonRange  `json:"total_s"`
		Price    *jsonRange `json:"price"` // null without a rate
		Each     *jsonRange `json:"each"`
	}
	jsonUnsure struct {
		Path  string  `json:"path"`
		Share float64 `json:"share"`
		Low   float64 `json:"low_s"`
		High  float64 `json:"high_s"`
	}
)

func lotOf(j *estimate.Job, l *estimate.Lot) jsonLot {
	lot := jsonLot{Quantity: l.Quantity, Begun: l.Begun, Setup: finite(l.Setup), Seconds: rangeOf(l.Seconds)}
	if j.Machine.Quote.Rate > 0 {
		price, each := rangeOf(l.Price), rangeOf(l.Each)
		lot.Price, lot.Each = &price, &each
	}
	return lot
}

func rangeOf(r estimate.Range) jsonRange {
	return jsonRange{finite(r.Low), finite(r.Likely), finite(r.High)}
}

// QuoteJSON writes what lots of a job take and cost as one JSON object.
func QuoteJSON(w io.Writer, j *estimate.Job, quantities []int) error {
	part := j.Part()
	q := jsonQuote{
		Schema: Schema, Machine: j.Machine.Name, Set: j.Machine.Settings,
		Currency: j.Machine.Quote.Currency, Rate: float64(j.Machine.Quote.Rate),
		Operations: operationsOf(j), Cycle: rangeOf(part.Cycle), Hand: finite(part.Hand),
		Unsure: []jsonUnsure{},
	}
	for _, n := range quantities {
		l := j.Lot(n)
		q.Lots = append(q.Lots, lotOf(j, &l))
	}
	for _, in := range j.Influences(quantities[len(quantities)-1]) {
		q.Unsure = append(q.Unsure, jsonUnsure{in.Path, in.Share, finite(in.Low), finite(in.High)})
	}
	return writeJSON(w, q)
}

func operationsOf(j *estimate.Job) []jsonOperation {
	all := []jsonOperation{}
	for i := range j.Operations {
		r := j.Operations[i].Result
		all = append(all, jsonOperation{r.Path, jsonCounts{r.Count(rules.Error), r.Count(rules.Warning), r.Count(rules.Note)},
			r.Incomplete(), jsonTimes(&r.Times)})
	}
	return all
}

func writeJSON(w io.Writer, v any) error {
	text, err := marshal(v)
	if err != nil {
		return fmt.Errorf("writing JSON: %w", err)
	}
	_, err = w.Write(append(text, '\n'))
	return err
}

// QuoteCSV writes a row a lot, times in s, below a row of names. Prices are empty
// where the profile gives no rate.
func QuoteCSV(w io.Writer, j *estimate.Job, quantities []int) error {
	out := csv.NewWriter(w)
	out.Write([]string{"machine", "quantity", "begun", "total_low_s", "total_s", "total_high_s", "currency",
		"price_low", "price", "price_high", "each_low", "each", "each_high"})
	for _, n := range quantities {
		l := j.Lot(n)
		row := []string{j.Machine.Name, strconv.Itoa(n), strconv.FormatFloat(l.Begun, 'f', 2, 64),
			seconds(l.Seconds.Low), seconds(l.Seconds.Likely), seconds(l.Seconds.High), j.Machine.Quote.Currency}
		for _, v := range []float64{l.Price.Low, l.Price.Likely, l.Price.High, l.Each.Low, l.Each.Likely, l.Each.High} {
			cell := ""
			if j.Machine.Quote.Rate > 0 {
				cell = money(v)
			}
			row = append(row, cell)
		}
		out.Write(row)
	}
	out.Flush()
	return out.Error()
}

func seconds(v float64) string { return strconv.FormatFloat(finite(v), 'f', 1, 64) }

// quoteOf is what the shop reckons with, for the data sheet.
func quoteOf(m *profiles.Machine) chapter {
	q := &m.Quote
	c := chapter{title: "Quote"}
	for _, f := range []struct {
		fact
		given bool
	}{
		{fact{"rate", strings.TrimSpace(money(float64(q.Rate)) + " " + q.Currency + " an hour"), "quote.rate"}, q.Rate > 0},
		{fact{"set-up", clock(float64(q.Setup)), "quote.setup"}, q.Setup > 0},
		{fact{"load", clock(float64(q.Load)), "quote.load"}, q.Load > 0},
		{fact{"program stop", clock(float64(q.Stop)), "quote.stop"}, q.Stop > 0},
		{fact{"tool by hand", clock(float64(q.ToolByHand)), "quote.tool_by_hand"}, q.ToolByHand > 0},
		{fact{"gear by hand", clock(float64(q.GearByHand)), "quote.gear_by_hand"}, q.GearByHand > 0},
		{fact{"scrap", share(float64(q.Scrap)), "quote.scrap"}, q.Scrap > 0},
	} {
		if f.given {
			c.facts = append(c.facts, f.fact)
		}
	}
	return c
}

// unsureOf is how far off values of the profile may be, for the data sheet.
func unsureOf(m *profiles.Machine) chapter {
	c := chapter{title: "Unsure"}
	for _, path := range slices.Sorted(maps.Keys(m.Unsure)) {
		c.facts = append(c.facts, fact{path, "within " + share(float64(m.Unsure[path])), "unsure." + path})
	}
	return c
}

// share writes a share in percent.
func share(v float64) string { return short(v*100, 1) + " %" }
