package estimate

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"tapefit/internal/motion"
)

// A Run is one measured run of a program at the machine.
type Run struct {
	Program  string // path of the program
	Line     int    // in the list of runs
	Measured []Measure
}

// A Measure is one time of a run.
type Measure struct {
	Part    int // index in Parts
	Seconds float64
}

// Parts are what can be measured of a run, by the names that the columns of a
// list of runs have. Operator stops are not in them: the watch stands meanwhile.
var Parts = [...]struct {
	Name string
	Of   func(*motion.Times) float64
}{
	{"seconds", func(t *motion.Times) float64 { return t.Total }},
	{"cutting", func(t *motion.Times) float64 { return t.Cutting }},
	{"rapid", func(t *motion.Times) float64 { return t.Rapid }},
	{"dwell", func(t *motion.Times) float64 { return t.Dwell }},
	{"tool_change", func(t *motion.Times) float64 { return t.ToolChange }},
	{"gear_shift", func(t *motion.Times) float64 { return t.GearShift }},
	{"spindle", func(t *motion.Times) float64 { return t.Spindle }},
	{"other", func(t *motion.Times) float64 { return t.Other }},
}

// mostRuns bounds a list of runs.
const mostRuns = 10_000

// ReadRuns reads a list of measured runs: CSV with a row of names, "program" and
// "seconds", and more of Parts if they were measured. A time is in seconds, or
// written 12:34.5 or 1:02:03. Paths of programs are from the folder. The error
// names the line.
func ReadRuns(r io.Reader, file, folder string) ([]Run, error) {
	in := csv.NewReader(r)
	in.TrimLeadingSpace, in.Comment, in.FieldsPerRecord = true, '#', -1
	header, err := in.Read()
	switch {
	case err == io.EOF:
		return nil, fmt.Errorf("%s: the list is empty: write program,seconds in the first line and a run in each line below", file)
	case err != nil:
		return nil, fmt.Errorf("%s: no row of names: write program,seconds in the first line (%w)", file, err)
	}
	columns, err := columnsOf(header)
	if err != nil {
		return nil, fmt.Errorf("%s:1: %w", file, err)
	}
	var runs []Run
	for {
		row, err := in.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", file, err)
		}
		line, _ := in.FieldPos(0)
		run, err := runOf(row, columns, folder)
		if err != nil {
			return nil, fmt.Errorf("%s:%d: %w", file, line, err)
		}
		run.Line = line
		if runs = append(runs, run); len(runs) > mostRuns {
			return nil, fmt.Errorf("%s:%d: more than %d runs", file, line, mostRuns)
		}
	}
	if len(runs) == 0 {
		return nil, fmt.Errorf("%s: no runs: write a line for each, such as flange.ngc,652.5", file)
	}
	return runs, nil
}

// columnsOf are what the columns hold: programColumn, or an index in Parts.
func columnsOf(header []string) ([]int, error) {
	columns := make([]int, len(header))
	var names []string
	for _, p := range Parts {
		names = append(names, p.Name)
	}
	for i, name := range header {
		name = strings.ToLower(strings.TrimSpace(strings.TrimPrefix(name, "\uFEFF")))
		part := slices.Index(names, name)
		if name == "program" {
			part = programColumn
		} else if part < 0 {
			if strings.Contains(name, ";") {
				return nil, fmt.Errorf("columns are parted by commas here, not by semicolons as in %q: save the list as CSV with commas", name)
			}
			return nil, fmt.Errorf("no column %q: known are program, %s", name, strings.Join(names, ", "))
		}
		if slices.Contains(columns[:i], part) {
			return nil, fmt.Errorf("column %q stands twice", name)
		}
		columns[i] = part
	}
	if !slices.Contains(columns, programColumn) || len(columns) < 2 {
		return nil, errors.New("columns program and seconds are needed")
	}
	return columns, nil
}

const programColumn = -1

func runOf(row []string, columns []int, folder string) (Run, error) {
	var run Run
	if len(row) > len(columns) {
		return run, fmt.Errorf("%d values for %d columns", len(row), len(columns))
	}
	for i, text := range row {
		text = strings.TrimSpace(text)
		switch {
		case columns[i] == programColumn:
			run.Program = text
			if text != "" && !filepath.IsAbs(text) {
				run.Program = filepath.Join(folder, text)
			}
		case text != "":
			seconds, err := readClock(text)
			if err != nil {
				return run, err
			}
			run.Measured = append(run.Measured, Measure{columns[i], seconds})
		}
	}
	switch {
	case run.Program == "":
		return run, errors.New("no program")
	case len(run.Measured) == 0:
		return run, errors.New("no time")
	}
	return run, run.sound()
}

// sound complains of parts that are longer than their run: each by itself, or all
// together by more than watches are off.
func (r *Run) sound() error {
	whole, sum := 0.0, 0.0
	for _, m := range r.Measured {
		if m.Part == wholeRun {
			whole = m.Seconds
		}
	}
	if whole == 0 {
		return nil
	}
	for _, m := range r.Measured {
		if m.Part == wholeRun {
			continue
		}
		if sum += m.Seconds; m.Seconds > whole {
			return fmt.Errorf("%s takes %g s of a run of %g s: a part is not longer than the whole", Parts[m.Part].Name, m.Seconds, whole)
		}
	}
	if sum > whole+2*math.Hypot(watchSeconds, watchShare*whole) {
		return fmt.Errorf("the parts take %g s together, and the whole run %g s", sum, whole)
	}
	return nil
}

// wholeRun is the index in Parts of the run itself.
const wholeRun = 0

// readClock reads seconds, or hours, minutes and seconds with colons.
func readClock(text string) (float64, error) {
	sum := 0.0
	parts := strings.Split(text, ":")
	for i, p := range parts {
		v, err := strconv.ParseFloat(p, 64)
		whole := i == len(parts)-1 || !strings.ContainsAny(p, ".eE")
		if err != nil || !(v >= 0 && v < 1e7) || !whole || len(parts) > 3 || i > 0 && v >= 60 {
			return 0, fmt.Errorf("%q is no time: write seconds, such as 652.5, or 10:52.5", text)
		}
		sum = sum*60 + v
	}
	if sum == 0 {
		return 0, fmt.Errorf("%q: a run of no time says nothing; leave the value out where it was not measured", text)
	}
	return sum, nil
}
