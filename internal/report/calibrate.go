package report

import (
	"fmt"
	"io"
	"math"
	"path/filepath"
	"strconv"
	"strings"

	"tapefit/internal/estimate"
	"tapefit/rules"
)

// Fit writes what measured runs tell of a machine's values. file is where the
// overlay was written, "" where none was.
func (t *Text) Fit(f *estimate.Fit, file string) error {
	programs := map[string]bool{}
	for _, r := range f.Runs {
		programs[r.Program] = true
	}
	t.flow(0, 2, run{t.styles.title, fmt.Sprintf("%s of %s", plural(len(f.Runs), "run"), plural(len(programs), "program"))},
		run{t.styles.quiet, " on " + clean(f.Machine.Name)})
	t.line()
	t.measures(f)
	t.line()
	t.values(f)
	t.undetermined(f)
	t.line()
	if file != "" {
		t.flow(2, 4, run{t.styles.title, clean(file)}, run{text: " holds these values over " + clean(f.Machine.Name) + ", which is as it was."})
	}
	t.flow(2, 4, run{t.styles.quiet, "A stop watch is taken to be good to 0.5 s and 2 % of the run. The values are those with which this model of the machine " +
		"fits the runs best: try them on a run that was not among them. Measure with the guards closed and nothing in the spindle; open no cabinet for it."})
	return t.out.Flush()
}

// measures lists each measure with what was computed for it.
func (t *Text) measures(f *estimate.Fit) {
	t.flow(2, 4, run{t.styles.quiet, fmt.Sprintf("%*s%*s%*s  %s", moneyWidth, "measured", moneyWidth+9, "by the profile", moneyWidth+9, "calibrated", "run")})
	i := 0
	for _, r := range f.Runs {
		for _, m := range r.Measured {
			name := clean(filepath.Base(r.Program))
			if m.Part > 0 {
				name += ", " + strings.ReplaceAll(estimate.Parts[m.Part].Name, "_", " ")
			}
			t.flow(2, 4, run{text: fmt.Sprintf("%*s%*s%9s%*s%9s  %s", moneyWidth, clock(m.Seconds),
				moneyWidth, clock(f.Before[i]), off(f.Before[i], m.Seconds), moneyWidth, clock(f.Fitted[i]), off(f.Fitted[i], m.Seconds), name)})
			if f.Strange[i] {
				t.flow(moneyWidth+2, moneyWidth+4, run{t.styles.level[rules.Warning], fmt.Sprintf("line %d of the list: still far off", r.Line)},
					run{text: ". Another program, an override, a slip of the pen? Leave it out and see what the others say."})
			}
			i++
		}
	}
	t.flow(2, 4, run{text: fmt.Sprintf("%*s%*s%*s", moneyWidth, "off by", moneyWidth+9, rootMeanSquare(f, f.Before), moneyWidth+9, rootMeanSquare(f, f.Fitted))},
		run{t.styles.quiet, "  root mean square"})
}

func off(computed, measured float64) string {
	return fmt.Sprintf("%+.1f %%", 100*(computed/measured-1))
}

func rootMeanSquare(f *estimate.Fit, computed []float64) string {
	sum, i := 0.0, 0
	for _, r := range f.Runs {
		for _, m := range r.Measured {
			d := computed[i]/m.Seconds - 1
			sum += d * d
			i++
		}
	}
	return fmt.Sprintf("%.1f %%", 100*math.Sqrt(sum/float64(max(i, 1))))
}

// values are those that the runs tell.
func (t *Text) values(f *estimate.Fit) {
	found := f.Determined()
	if len(found) == 0 {
		t.flow(2, 4, run{t.styles.level[rules.Warning], "No value is determined by these runs."},
			run{text: " Measure programs that differ: short moves and long ones, many tool changes and none, small chords and plain cuts."})
		return
	}
	t.flow(2, 4, run{t.styles.quiet, fmt.Sprintf("%-26s%-18s%-18s%s", "value", "profile", "from the runs", "at 95 %")})
	for _, v := range found {
		t.flow(2, 4, run{text: fmt.Sprintf("%-26s%-18s", clean(v.Path), figure(v.Profile)+" "+v.Unit)},
			run{t.styles.title, fmt.Sprintf("%-18s", figure(v.Found)+" "+v.Unit)}, run{text: figure(v.Low) + " to " + figure(v.High)})
	}
}

// undetermined says which values stay as they are, and why.
func (t *Text) undetermined(f *estimate.Fit) {
	grouped := map[int]bool{}
	said := false
	say := func(runs ...run) {
		if !said {
			t.line()
			said = true
		}
		t.flow(2, 4, runs...)
	}
	for _, group := range f.Together {
		var names []string
		for _, k := range group {
			grouped[k] = true
			names = append(names, clean(f.Values[k].Path))
		}
		say(run{text: strings.Join(names, ", ")}, run{t.styles.quiet, ": these runs do not tell them apart; what is not in the table stays as it is"})
	}
	for k, v := range f.Values {
		switch {
		case v.Bound != 0:
			say(run{text: clean(v.Path)}, run{t.styles.level[rules.Warning], ": " + atBound(&v)}, run{text: ". It stays as it is. Another program, an override, a slip of the pen? " +
				"Or write it nearer into the profile and calibrate again."})
		case v.Determined || grouped[k]:
		case v.Silent:
			say(run{text: clean(v.Path)}, run{t.styles.quiet, ": no run hangs on it; it stays as it is"})
		default:
			say(run{text: clean(v.Path)}, run{t.styles.quiet, ": these runs say too little of it; it stays as it is"})
		}
	}
}

// atBound says that a value stands at a bound, and at which.
func atBound(v *estimate.Value) string {
	than, why := "or more", "10 times the profile's, and a fit goes no further"
	if v.Bound < v.Profile {
		than, why = "or less", "a tenth of the profile's, and a fit goes no further"
	}
	if v.Physical {
		why = "the bound of what machines have"
	}
	return fmt.Sprintf("the runs would have it %s %s %s: that is %s", figure(v.Bound), v.Unit, than, why)
}

// figure is a number to three digits.
func figure(v float64) string {
	text := strconv.FormatFloat(v, 'g', 3, 64)
	if strings.Contains(text, "e") {
		text = strconv.FormatFloat(v, 'f', -1, 64)
	}
	return text
}

type (
	jsonFit struct {
		Schema  int         `json:"schema"`
		Machine string      `json:"machine"`
		File    string      `json:"file,omitempty"`
		Runs    []jsonRun   `json:"runs"`
		Values  []jsonValue `json:"values"`
		Alike   [][]string  `json:"not_told_apart"`
	}
	jsonRun struct {
		Program  string  `json:"program"`
		Part     string  `json:"part"`
		Measured float64 `json:"measured_s"`
		Before   float64 `json:"before_s"`
		After    float64 `json:"after_s"`
		Strange  bool    `json:"strange"` // still far off
	}
	jsonValue struct {
		Path       string  `json:"path"`
		Unit       string  `json:"unit"`
		Profile    float64 `json:"profile"`
		Found      float64 `json:"found"`
		Low        float64 `json:"low"`
		High       float64 `json:"high"`
		Determined bool    `json:"determined"`
		Bound      float64 `json:"bound,omitempty"` // that the value stands at; it is then not determined
	}
)

// FitJSON writes a fit as one JSON object.
func FitJSON(w io.Writer, f *estimate.Fit, file string) error {
	j := jsonFit{Schema: Schema, Machine: f.Machine.Name, File: file, Runs: []jsonRun{}, Alike: [][]string{}}
	i := 0
	for _, r := range f.Runs {
		for _, m := range r.Measured {
			j.Runs = append(j.Runs, jsonRun{r.Program, estimate.Parts[m.Part].Name, m.Seconds, finite(f.Before[i]), finite(f.Fitted[i]), f.Strange[i]})
			i++
		}
	}
	for _, v := range f.Values {
		j.Values = append(j.Values, jsonValue{v.Path, v.Unit, v.Profile, finite(v.Found), finite(v.Low), finite(v.High), v.Determined, finite(v.Bound)})
	}
	for _, group := range f.Together {
		var names []string
		for _, k := range group {
			names = append(names, f.Values[k].Path)
		}
		j.Alike = append(j.Alike, names)
	}
	return writeJSON(w, j)
}
