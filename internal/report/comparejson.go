package report

import (
	"fmt"
	"strings"

	"tapefit/rules"
)

// A comparison in JSON is the report of check for the machine that programs go
// to, so that what reads the one reads the other, with what changes beside it.
type (
	jsonCompared struct {
		jsonCheck
		Change string  `json:"change"`
		Was    jsonWas `json:"was"`
	}
	// jsonWas is the program on the machine that it comes from.
	jsonWas struct {
		Machine  string        `json:"machine"`
		Blocks   int           `json:"blocks"`
		Counts   jsonCounts    `json:"counts"`
		Findings []jsonFinding `json:"findings"`
		Time     jsonTime      `json:"time"`
		Extents  jsonExtents   `json:"extents"`
	}
	jsonUnread struct {
		Path    string `json:"path"`
		Message string `json:"message"`
	}
	jsonRuleChange struct {
		Rule         string `json:"rule"`
		Level        string `json:"level"`
		New          int    `json:"new"`
		NewPrograms  int    `json:"new_programs"`
		Gone         int    `json:"gone"`
		GonePrograms int    `json:"gone_programs"`

		Messages []jsonMessage `json:"messages"` // of new findings, the most frequent first
	}
	jsonMessage struct {
		Message string `json:"message"`
		Count   int    `json:"count"`
	}
	jsonChanges struct {
		FitsBoth      int `json:"fits-both"`
		NewlyRefused  int `json:"newly-refused"`
		NowFits       int `json:"now-fits"`
		RefusedByBoth int `json:"refused-by-both"`
	}
)

// Compare writes what changes for one program.
func (j *JSON) Compare(p *rules.Comparison) error {
	c := jsonCompared{jsonCheck: jsonChecked(p.Now), Change: strings.ReplaceAll(p.Change().String(), " ", "-")}
	was := jsonChecked(p.Was)
	c.Was = jsonWas{was.Machine, was.Blocks, was.Counts, was.Findings, was.Time, was.Extents}
	each(p.Now.Findings, p.New, func(i int) { c.Findings[i].New = true })
	each(p.Was.Findings, p.Gone, func(i int) { was.Findings[i].Gone = true })
	return j.program(c)
}

// each calls do for those of all that are in some; both are in one order.
func each(all []rules.Finding, some []*rules.Finding, do func(i int)) {
	for i := range all {
		if len(some) > 0 && some[0] == &all[i] {
			do(i)
			some = some[1:]
		}
	}
}

// Failed keeps what could not be read for the end.
func (j *JSON) Failed(path string, err error) {
	if path != "" {
		j.unread = append(j.unread, jsonUnread{path, err.Error()})
	}
}

// EndCompare ends the object with what changes by rule and what it comes to.
// left is how many programs were not looked at.
func (j *JSON) EndCompare(tally *rules.Tally, left int) error {
	if !j.begun {
		j.begin()
	}
	changed := []jsonRuleChange{}
	for _, r := range tally.Rules() {
		messages := []jsonMessage{}
		for _, m := range r.Messages() {
			messages = append(messages, jsonMessage{m.Text, m.Count})
		}
		changed = append(changed, jsonRuleChange{r.Rule.Name, r.Level.String(), r.New, r.NewIn, r.Gone, r.GoneIn, messages})
	}
	unread := append([]jsonUnread{}, j.unread...)
	text, err := marshal(struct {
		Unread  []jsonUnread     `json:"unread"`
		Rules   []jsonRuleChange `json:"rules"`
		Changes jsonChanges      `json:"changes"`
		Left    int              `json:"not_looked_at"`
	}{unread, changed, jsonChanges{
		FitsBoth:      tally.Programs[rules.FitsBoth],
		NewlyRefused:  tally.Programs[rules.NewlyRefused],
		NowFits:       tally.Programs[rules.NowFits],
		RefusedByBoth: tally.Programs[rules.RefusedByBoth],
	}, left})
	if err != nil {
		return fmt.Errorf("writing JSON: %w", err)
	}
	fmt.Fprintf(j.out, "\n],\n%s\n", text[1:]) // the members without the brace
	return j.out.Flush()
}
