package report

import (
	"fmt"
	"strings"

	"tapefit/rules"
)

// Rules lists rules under their families, in the order given.
func (t *Text) Rules(all []*rules.Rule) error {
	widest := 0
	for _, r := range all {
		widest = max(widest, len(r.Name))
	}
	family := ""
	for _, r := range all {
		if r.Family != family {
			if family != "" {
				t.line()
			}
			family = r.Family
			t.flow(0, 2, run{t.styles.title, family})
		}
		head := []run{{nil, fmt.Sprintf("%-*s  ", widest, r.Name)}, {t.styles.level[r.Level], fmt.Sprintf("%-7s", r.Level)}}
		hang := 2 + widest + 2 + 7 + 2
		t.entry(head, hang, run{text: clean(r.Summary)})
	}
	return t.out.Flush()
}

// entry writes a row of a list: a head and, hanging at a column, a text. Where
// that leaves too little room the text goes below.
func (t *Text) entry(head []run, hang int, text run) {
	const leastText = 28
	if t.width-hang < leastText {
		t.flow(2, 4, head...)
		t.flow(4, 4, text)
		return
	}
	t.flow(2, hang, append(head, run{text: "  "}, text)...)
}

// Rule writes what there is to know about one rule.
func (t *Text) Rule(r *rules.Rule) error {
	t.flow(0, 2, run{t.styles.title, r.Name}, run{text: "  "}, run{t.styles.level[r.Level], r.Level.String()},
		run{t.styles.quiet, ", " + r.Family})
	t.flow(0, 0, run{text: clean(r.Summary)})
	t.line()
	for paragraph := range strings.SplitSeq(r.Doc, "\n\n") {
		if text := clean(paragraph); text != "" {
			t.flow(2, 2, run{text: text})
			t.line()
		}
	}
	if len(r.Uses) > 0 {
		t.flow(0, 2, run{t.styles.title, "Reads from the profile"}, run{text: "  " + clean(strings.Join(r.Uses, ", "))})
		t.line()
	}
	if r.Example.Program == "" { // it would be too big, or needs a machine of its own
		return t.out.Flush()
	}
	on := strings.Join(append([]string{r.Example.Machine}, r.ExampleSet...), " --set ")
	t.listing("It speaks on this ("+on+")", r.Example.Program)
	t.line()
	t.listing("and is silent on this", r.Example.Mended)
	return t.out.Flush()
}

// listing shows a program with its line numbers.
func (t *Text) listing(title, program string) {
	t.flow(0, 2, run{t.styles.title, clean(title)})
	number, same, last := 0, 0, ""
	for line := range strings.Lines(program) {
		number++
		if same++; line != last {
			same, last = 1, line
		}
		if same > 3 { // a program that only has to be long
			if same == 4 {
				t.row(strings.Repeat(" ", gutterWidth), appendCells(nil, nil, "and so on"))
			}
			continue
		}
		gutter := fmt.Sprintf("%*d", gutterWidth, number)
		room := t.room(gutter)
		cells := appendCells(nil, nil, strings.TrimRight(line, "\r\n"))
		if len(cells) == 0 {
			t.row(gutter, nil)
		}
		for _, row := range breakRows(cells, room, room) {
			t.row(gutter, row)
			gutter = strings.Repeat(" ", len(gutter))
		}
	}
}
