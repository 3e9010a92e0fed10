package report

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"testing"
	"unicode/utf16"
	"unicode/utf8"

	"pgregory.net/rapid"

	"tapefit/profiles"
	"tapefit/rules"
)

// The types below are the objects of SARIF 2.1.0 that a log of ours may have,
// from memory of the OASIS standard and its schema: a pointer is what they
// require of the object or what we promise, and what is not named here is
// refused, so that no property is misspelt or in the wrong place.
type (
	logObject struct {
		Schema  *string      `json:"$schema"`
		Version *string      `json:"version"` // required
		Runs    *[]runObject `json:"runs"`    // required
	}
	runObject struct {
		Tool             *toolObject         `json:"tool"` // required
		ColumnKind       *string             `json:"columnKind"`
		NewlineSequences []string            `json:"newlineSequences"`
		Results          *[]resultObject     `json:"results"` // required of a run that looked for results
		Artifacts        *[]artifactObject   `json:"artifacts"`
		Invocations      *[]invocationObject `json:"invocations"`
	}
	toolObject struct {
		Driver *componentObject `json:"driver"` // required
	}
	componentObject struct {
		Name  *string             `json:"name"` // required
		Rules *[]descriptorObject `json:"rules"`
	}
	descriptorObject struct {
		ID      *string        `json:"id"` // required
		Short   *messageObject `json:"shortDescription"`
		Full    *messageObject `json:"fullDescription"`
		Help    *messageObject `json:"help"`
		Default *struct {
			Level *string `json:"level"`
		} `json:"defaultConfiguration"`
		Properties *struct {
			Family *string `json:"family"`
		} `json:"properties"`
	}
	// messageObject is a message, a multiformatMessageString or an
	// artifactContent: each with no more than its text.
	messageObject struct {
		Text *string `json:"text"` // required in the second; in the first, or an id
	}
	resultObject struct {
		RuleID     *string           `json:"ruleId"`
		RuleIndex  *int              `json:"ruleIndex"`
		Level      *string           `json:"level"`
		Message    *messageObject    `json:"message"` // required
		Locations  *[]locationObject `json:"locations"`
		Count      *int              `json:"occurrenceCount"`
		Properties *struct {
			Machine  *string  `json:"machine"`
			Settings []string `json:"settings"`
			LastLine *int     `json:"lastLine"`
		} `json:"properties"`
	}
	locationObject struct {
		Physical *physicalObject `json:"physicalLocation"`
	}
	physicalObject struct {
		Artifact *artifactLocationObject `json:"artifactLocation"` // required, or an address
		Region   *regionObject           `json:"region"`
		Context  *regionObject           `json:"contextRegion"`
	}
	artifactLocationObject struct {
		URI         *string        `json:"uri"`
		Index       *int           `json:"index"`
		Description *messageObject `json:"description"`
	}
	regionObject struct {
		StartLine   *int           `json:"startLine"`
		StartColumn *int           `json:"startColumn"`
		EndLine     *int           `json:"endLine"`
		EndColumn   *int           `json:"endColumn"`
		ByteOffset  *int           `json:"byteOffset"`
		ByteLength  *int           `json:"byteLength"`
		Snippet     *messageObject `json:"snippet"`
	}
	artifactObject struct {
		Location *artifactLocationObject `json:"location"`
		Roles    []string                `json:"roles"`
	}
	invocationObject struct {
		Successful    *bool                 `json:"executionSuccessful"` // required
		Notifications *[]notificationObject `json:"toolExecutionNotifications"`
	}
	notificationObject struct {
		Level     *string          `json:"level"`
		Message   *messageObject   `json:"message"` // required
		Locations []locationObject `json:"locations"`
	}
)

// failer is a test of either sort.
type failer interface {
	Helper()
	Fatalf(format string, args ...any)
	Errorf(format string, args ...any)
}

// validRun reads a log and holds it to the standard.
func validRun(t failer, text []byte) runObject {
	t.Helper()
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	var log logObject
	if err := d.Decode(&log); err != nil {
		t.Fatalf("no log: %v in %q", err, text)
	}
	if _, err := d.Token(); err != io.EOF || !utf8.Valid(text) {
		t.Fatalf("more than one value, or not UTF-8: %v", err)
	}
	if log.Schema == nil || log.Version == nil || *log.Version != "2.1.0" || log.Runs == nil || len(*log.Runs) != 1 {
		t.Fatalf("$schema, version or runs: %.300s", text)
	}
	if u, err := url.Parse(*log.Schema); err != nil || !u.IsAbs() || !strings.HasSuffix(u.Path, "sarif-schema-2.1.0.json") {
		t.Errorf("$schema %q: %v", *log.Schema, err)
	}
	run := (*log.Runs)[0]
	if run.Tool == nil || run.Tool.Driver == nil || run.Tool.Driver.Name == nil || *run.Tool.Driver.Name != "tapefit" ||
		run.Tool.Driver.Rules == nil || run.Results == nil || run.Artifacts == nil || run.Invocations == nil || len(*run.Invocations) != 1 {
		t.Fatalf("the run lacks something: %.300s", text)
	}
	if run.ColumnKind == nil || *run.ColumnKind != "utf16CodeUnits" { // or unicodeCodePoints; columns are held to this one
		t.Errorf("columnKind is %v", run.ColumnKind)
	}
	validRules(t, *run.Tool.Driver.Rules)
	seen := map[string]bool{}
	for i, a := range *run.Artifacts {
		validArtifactLocation(t, a.Location)
		if !slices.Equal(a.Roles, []string{"analysisTarget"}) { // one of the standard's roles
			t.Errorf("artifact %d: roles %q", i, a.Roles)
		}
		if key := deref(a.Location.URI); seen[key] {
			t.Errorf("artifact %q is listed twice; the list must be unique", key)
		} else {
			seen[key] = true
		}
	}
	for i := range *run.Results {
		validResult(t, &run, &(*run.Results)[i])
	}
	validInvocation(t, (*run.Invocations)[0])
	return run
}

func validRules(t failer, all []descriptorObject) {
	t.Helper()
	for i, r := range all {
		if r.ID == nil || *r.ID == "" || r.Default == nil || r.Properties == nil || deref(r.Properties.Family) == "" {
			t.Fatalf("rule %d lacks something: %+v", i, r)
		}
		validLevel(t, r.Default.Level)
		for _, m := range []*messageObject{r.Short, r.Full, r.Help} {
			validMessage(t, m)
		}
		if slices.ContainsFunc(all[:i], func(o descriptorObject) bool { return *o.ID == *r.ID }) {
			t.Errorf("rule %s is there twice", *r.ID)
		}
	}
}

func validResult(t failer, run *runObject, r *resultObject) {
	t.Helper()
	if r.RuleID == nil || r.RuleIndex == nil || r.Locations == nil || len(*r.Locations) != 1 || r.Properties == nil ||
		deref(r.Properties.Machine) == "" || r.Properties.LastLine == nil {
		t.Fatalf("result lacks something: %+v", r)
	}
	all := *run.Tool.Driver.Rules
	if *r.RuleIndex < 0 || *r.RuleIndex >= len(all) || *all[*r.RuleIndex].ID != *r.RuleID {
		t.Fatalf("rule %s is not at %d", *r.RuleID, *r.RuleIndex)
	}
	validLevel(t, r.Level)
	validMessage(t, r.Message)
	if r.Count == nil || *r.Count < 1 {
		t.Errorf("%s: occurrenceCount %v", *r.RuleID, r.Count)
	}
	place := (*r.Locations)[0].Physical
	if place == nil {
		t.Fatalf("%s: no place", *r.RuleID)
	}
	validArtifactLocation(t, place.Artifact)
	if i := place.Artifact.Index; i == nil || *i < 0 || *i >= len(*run.Artifacts) || deref((*run.Artifacts)[*i].Location.URI) != deref(place.Artifact.URI) {
		t.Fatalf("%s: its program is not in the list", *r.RuleID)
	}
	validRegion(t, place.Region)
	validRegion(t, place.Context)
	if in, around := place.Region, place.Context; *in.StartLine != *around.StartLine || *in.StartColumn < *around.StartColumn || *in.EndColumn > *around.EndColumn ||
		*in.ByteOffset < *around.ByteOffset || *in.ByteOffset+*in.ByteLength > *around.ByteOffset+*around.ByteLength {
		t.Errorf("%s: the block does not hold the word", *r.RuleID)
	}
	if *r.Properties.LastLine < *place.Region.StartLine {
		t.Errorf("%s: ends in line %d before line %d", *r.RuleID, *r.Properties.LastLine, *place.Region.StartLine)
	}
}

func validRegion(t failer, r *regionObject) {
	t.Helper()
	if r == nil || r.StartLine == nil || r.StartColumn == nil || r.EndLine == nil || r.EndColumn == nil ||
		r.ByteOffset == nil || r.ByteLength == nil || r.Snippet == nil || r.Snippet.Text == nil {
		t.Fatalf("region lacks something: %+v", r)
	}
	if *r.StartLine < 1 || *r.StartColumn < 1 || *r.EndLine != *r.StartLine || *r.EndColumn < *r.StartColumn || *r.ByteOffset < 0 || *r.ByteLength < 0 {
		t.Errorf("region %d:%d to %d:%d, %d bytes at %d", *r.StartLine, *r.StartColumn, *r.EndLine, *r.EndColumn, *r.ByteLength, *r.ByteOffset)
	}
	if n := len(utf16.Encode([]rune(*r.Snippet.Text))); n != *r.EndColumn-*r.StartColumn {
		t.Errorf("%q has %d code units in %d columns", *r.Snippet.Text, n, *r.EndColumn-*r.StartColumn)
	}
}

// uriReference are the characters of a URI reference without query and
// fragment (RFC 3986, appendix A; from memory).
var uriReference = regexp.MustCompile(`^([A-Za-z0-9._~!$&'()*+,;=:@/-]|%[0-9A-Fa-f]{2})*$`)

func validArtifactLocation(t failer, a *artifactLocationObject) {
	t.Helper()
	switch {
	case a == nil || a.URI == nil && a.Description == nil:
		t.Fatalf("no place of a program")
	case a.URI == nil:
		validMessage(t, a.Description)
	default:
		if _, err := url.Parse(*a.URI); err != nil || *a.URI == "" || !uriReference.MatchString(*a.URI) {
			t.Errorf("uri %q: %v", *a.URI, err)
		}
	}
}

func validInvocation(t failer, in invocationObject) {
	t.Helper()
	if in.Successful == nil || in.Notifications == nil || *in.Successful != (len(*in.Notifications) == 0) {
		t.Fatalf("invocation %+v", in)
	}
	for _, n := range *in.Notifications {
		validLevel(t, n.Level)
		validMessage(t, n.Message)
		for _, l := range n.Locations {
			validArtifactLocation(t, l.Physical.Artifact)
		}
	}
}

func validLevel(t failer, level *string) {
	t.Helper()
	if !slices.Contains([]string{"none", "note", "warning", "error"}, deref(level)) {
		t.Errorf("level %q", deref(level))
	}
}

// In messages a brace stands for itself doubled, and [text](place) is a link;
// ours have no arguments and no links.
var (
	loneBrace = regexp.MustCompile(`^([^{}]|\{\{|\}\})*$`)
	link      = regexp.MustCompile(`(^|[^\\])\]\(`)
)

func validMessage(t failer, m *messageObject) {
	t.Helper()
	if m == nil || deref(m.Text) == "" || !loneBrace.MatchString(*m.Text) || link.MatchString(*m.Text) {
		t.Errorf("message %+v %q", m, deref(m.Text))
	}
}

func deref(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}

// sarif writes a log of results.
func sarif(t failer, all []*rules.Rule, results ...*rules.Result) (string, runObject) {
	t.Helper()
	var out bytes.Buffer
	s := NewSARIF(&out, all)
	for _, r := range results {
		if err := s.Check(r); err != nil {
			t.Fatalf("%v", err)
		}
	}
	if err := s.Close(); err != nil {
		t.Fatalf("%v", err)
	}
	return out.String(), validRun(t, out.Bytes())
}

// written are rules with all their texts.
func written() []*rules.Rule {
	one, other := *between, *unused
	one.Summary, one.Doc = "a speed that no gear reaches", "The head has\ntwo gears.\n\nBetween them is {nothing}."
	one.Uses = []string{"spindle.gears"}
	one.Example = rules.Example{Machine: "bed-mill", Program: "S1250\r\n", Mended: "S1100\r\n"}
	other.Summary, other.Doc = "a word that nothing uses", "It was forgotten."
	return []*rules.Rule{&other, &one}
}

func TestSARIFValues(t *testing.T) {
	got, _ := sarif(t, written(), flange())
	want := `{"$schema":"https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json","version":"2.1.0","runs":[
{"tool":{"driver":{"name":"tapefit","rules":[
{"id":"word-not-used","shortDescription":{"text":"a word that nothing uses"},"fullDescription":{"text":"It was forgotten."},` +
		`"help":{"text":"It was forgotten."},"defaultConfiguration":{"level":"warning"},"properties":{"family":"language"}},
{"id":"speed-between-gears","shortDescription":{"text":"a speed that no gear reaches"},` +
		`"fullDescription":{"text":"The head has two gears.\n\nBetween them is {{nothing}}."},` +
		`"help":{"text":"The head has two gears.\n\nBetween them is {{nothing}}.\n\nReads from the profile: spindle.gears.\n\n` +
		`It speaks on this (bed-mill):\n\n    S1250\n\nand is silent on this:\n\n    S1100\n"},` +
		`"defaultConfiguration":{"level":"error"},"properties":{"family":"spindle"}}
]}},
"columnKind":"utf16CodeUnits","newlineSequences":["\r\n","\n","\r"],
"results":[
{"ruleId":"speed-between-gears","ruleIndex":1,"level":"error",` +
		`"message":{"text":"no gear reaches S1250: low (M41) ends at 1100 rpm, high (M42) begins at 1400 rpm. Program S1100 or S1400."},` +
		`"locations":[{"physicalLocation":{"artifactLocation":{"uri":"programs/flange.ngc","index":0},` +
		`"region":{"startLine":12,"startColumn":6,"endLine":12,"endColumn":11,"byteOffset":5,"byteLength":5,"snippet":{"text":"S1250"}},` +
		`"contextRegion":{"startLine":12,"startColumn":1,"endLine":12,"endColumn":14,"byteOffset":0,"byteLength":13,"snippet":{"text":"N120 S1250 M3"}}}}],` +
		`"occurrenceCount":4,"properties":{"machine":"bed-mill","lastLine":48}},
{"ruleId":"word-not-used","ruleIndex":0,"level":"warning","message":{"text":"nothing in this block uses P0.01. Take it out."},` +
		`"locations":[{"physicalLocation":{"artifactLocation":{"uri":"programs/flange.ngc","index":0},` +
		`"region":{"startLine":104,"startColumn":23,"endLine":104,"endColumn":28,"byteOffset":22,"byteLength":5,"snippet":{"text":"P0.01"}},` +
		`"contextRegion":{"startLine":104,"startColumn":1,"endLine":104,"endColumn":47,"byteOffset":0,"byteLength":46,` +
		`"snippet":{"text":"N1040 G0 G90 X1.25 Y2 P0.01 (ABOVE THE POCKET)"}}}}],` +
		`"occurrenceCount":1,"properties":{"machine":"bed-mill","lastLine":104}}
],
"artifacts":[
{"location":{"uri":"programs/flange.ngc"},"roles":["analysisTarget"]}
],
"invocations":[
{"executionSuccessful":true,"toolExecutionNotifications":[]}
]}
]}
`
	same(t, got, want)
}

// checked runs all rules over a program.
func checked(t *testing.T, name string, program []byte, m *profiles.Machine) *rules.Result {
	t.Helper()
	r, err := rules.Check(bytes.NewReader(program), int64(len(program)), name, m, rules.All(), rules.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// textOf is what an editor shows of a file: UTF-8 if all of it is, else ISO
// 8859-1, and no byte order mark.
func textOf(program []byte) []string {
	text := strings.TrimPrefix(string(program), "\uFEFF")
	if !utf8.Valid(program) {
		all := make([]rune, len(program))
		for i, c := range program {
			all[i] = rune(c)
		}
		text = string(all)
	}
	return regexp.MustCompile("\r\n|\r|\n").Split(text, -1)
}

// marked is what an editor marks: the code units of a region.
func marked(t *testing.T, lines []string, r *regionObject) string {
	t.Helper()
	units := utf16.Encode([]rune(lines[*r.StartLine-1]))
	if *r.EndColumn-1 > len(units) {
		t.Fatalf("line %d has no column %d", *r.StartLine, *r.EndColumn)
	}
	return string(utf16.Decode(units[*r.StartColumn-1 : *r.EndColumn-1]))
}

// All programs of testdata that are text, on machines of all sorts: the log is
// valid, and what an editor would mark is what the log quotes.
func TestSARIFOfRealPrograms(t *testing.T) {
	const root = "../../testdata"
	texts := map[string][]string{}
	var files []string
	err := filepath.WalkDir(root, func(path string, entry fs.DirEntry, err error) error {
		if slices.Contains([]string{".ngc", ".nc"}, filepath.Ext(path)) {
			files = append(files, path)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"bed-mill", "knee-mill", "slant-lathe"} {
		m, err := profiles.Find(name, nil)
		if err != nil {
			t.Fatal(err)
		}
		var results []*rules.Result
		findings := 0
		for _, file := range files {
			program, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			texts[uri(file)] = textOf(program)
			results = append(results, checked(t, file, program, m))
			findings += len(results[len(results)-1].Findings)
		}
		_, run := sarif(t, rules.All(), results...)
		if len(*run.Results) != findings || findings < 10 || len(*run.Artifacts) != len(files) {
			t.Errorf("%s: %d results of %d findings, %d of %d programs", name, len(*run.Results), findings, len(*run.Artifacts), len(files))
		}
		for _, r := range *run.Results {
			place := (*r.Locations)[0].Physical
			lines := texts[*place.Artifact.URI]
			for _, region := range []*regionObject{place.Region, place.Context} {
				if got := marked(t, lines, region); got != *region.Snippet.Text {
					t.Errorf("%s:%d:%d: an editor marks %q, the log quotes %q", *place.Artifact.URI, *region.StartLine, *region.StartColumn, got, *region.Snippet.Text)
				}
			}
		}
	}
}

// Columns of text that is not ASCII, from a real check: the tap code G84.9 is
// taken by no control of ours.
func TestSARIFColumns(t *testing.T) {
	m, err := profiles.Find("bed-mill", nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		name, block string
		column      int // in UTF-16 code units, counted by hand
	}{
		{"ASCII", "N10 G84.9", 5},
		{"UTF-8, one unit", "(TÊTE Ø10) G84.9", 12},
		{"UTF-8, two units", "(𝄞) G84.9", 6},
		{"ISO 8859-1", "(T\xCATE \xD810) G84.9", 12},
		{"ISO 8859-1 with two letters that would be one of UTF-8", "(\xABFU\xDF\xBB) G84.9", 9},
		{"ISO 8859-1 behind the word", "N10 G84.9 (T\xCATE)", 5},
		{"byte order mark", "\uFEFFN10 G84.9", 5},
		{"blank tape", "\x00\x00\x00N10 G84.9", 8},
	} {
		program := []byte(tt.block + "\nM30\n")
		_, run := sarif(t, rules.All(), checked(t, "a.nc", program, m))
		i := slices.IndexFunc(*run.Results, func(r resultObject) bool { return *r.RuleID == "cycle-not-accepted" })
		if i < 0 {
			t.Errorf("%s: not found", tt.name)
			continue
		}
		r := (*(*run.Results)[i].Locations)[0].Physical.Region
		from, length := *r.ByteOffset, *r.ByteLength
		if *r.StartColumn != tt.column || *r.EndColumn != tt.column+5 || *r.Snippet.Text != "G84.9" || string(program[from:from+length]) != "G84.9" {
			t.Errorf("%s: columns %d to %d, %q, bytes %q; want column %d", tt.name, *r.StartColumn, *r.EndColumn, *r.Snippet.Text, program[from:from+length], tt.column)
		}
	}
}

// A fault may be about one byte of a character; the log marks the whole.
func TestSARIFMarksWholeCharacters(t *testing.T) {
	r := flange()
	r.Findings = r.Findings[:1]
	f := &r.Findings[0]
	f.Source, f.Column, f.MarkEnd = "(Ê) Ø", 6, 7
	for range 2 {
		_, run := sarif(t, written(), r)
		got := (*(*run.Results)[0].Locations)[0].Physical.Region
		if *got.StartColumn != 5 || *got.EndColumn != 6 || *got.Snippet.Text != "Ø" || *got.ByteLength != 2 {
			t.Errorf("columns %d to %d, %q", *got.StartColumn, *got.EndColumn, *got.Snippet.Text)
		}
		f.Column, f.MarkEnd = 7, 8 // its second byte
	}
	// What is missing is marked behind the block, and has no width.
	f.Source, f.Column, f.MarkEnd = "G81 X1", 7, 8
	_, run := sarif(t, written(), r)
	if got := (*(*run.Results)[0].Locations)[0].Physical.Region; *got.StartColumn != 7 || *got.EndColumn != 7 {
		t.Errorf("columns %d to %d", *got.StartColumn, *got.EndColumn)
	}
}

// Any bytes at any place give a valid log.
func TestSARIFOfAnyBytes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := flange()
		f := &r.Findings[0]
		f.Source = string(rapid.SliceOf(rapid.SampledFrom([]byte("X1 ({[]}\x00\\\"\xC3\x89\xF0\x9D\x84\x9E\xEF\xBB\xBF\xFF"))).Draw(t, "source"))
		f.SourceCol = rapid.IntRange(1, 1000).Draw(t, "from")
		f.Column = rapid.IntRange(1, 1010).Draw(t, "column")
		f.MarkEnd = f.Column + rapid.IntRange(0, 9).Draw(t, "length")
		f.Message = "saw " + f.Source
		r.Path = "p" + rapid.String().Draw(t, "path")
		sarif(t, written(), r)
	})
}

func TestSARIFURI(t *testing.T) {
	for _, tt := range []struct{ path, want string }{
		{"programs/flange.ngc", "programs/flange.ngc"},
		{"./programs//flange.ngc", "programs/flange.ngc"},
		{"../old/a.nc", "../old/a.nc"},
		{"wear ring #2, 50%.nc", "wear%20ring%20%232,%2050%25.nc"},
		{"why?.nc", "why%3F.nc"},
		{"O1234:2.nc", "./O1234:2.nc"}, // else a scheme
		{"tête.nc", "t%C3%AAte.nc"},
		{"t\xEAte.nc", "t%EAte.nc"}, // a name in ISO 8859-1
		{"a[1].nc", "a%5B1%5D.nc"},
	} {
		got := uri(tt.path)
		if got != tt.want || !uriReference.MatchString(got) {
			t.Errorf("%q is %s, want %s", tt.path, got, tt.want)
		}
		if back, err := url.Parse(got); err != nil || filepath.Clean(back.Path) != filepath.Clean(tt.path) {
			t.Errorf("%q comes back as %q, %v", tt.path, back.Path, err)
		}
	}
	whole, err := filepath.Abs("a b.nc")
	if err != nil {
		t.Fatal(err)
	}
	if got, err := url.Parse(uri(whole)); err != nil || got.Scheme != "file" || got.Host != "" || !strings.HasSuffix(got.Path, "/a b.nc") {
		t.Errorf("%s: %v, %v", whole, got, err)
	}
}

// What programs have in brackets is neither an argument nor a link.
func TestSARIFMessages(t *testing.T) {
	for _, tt := range []struct{ message, advice, want string }{
		{"nothing uses P1", "Take it out.", "nothing uses P1. Take it out."},
		{"It ends here.", "Add M30.", "It ends here. Add M30."},
		{"nothing uses P1", "", "nothing uses P1"},
		{"{0} is no word", "", "{{0}} is no word"},
		{"X[#1+2](FACE) has no value", "", `X[#1+2\](FACE) has no value`},
		{"saw \x1b[31m\tX", "", "saw \uFFFD[31m X"},
	} {
		r := flange()
		r.Findings[0].Message, r.Findings[0].Advice = tt.message, tt.advice
		_, run := sarif(t, written(), r)
		got := *(*run.Results)[0].Message.Text
		if got != tt.want {
			t.Errorf("%q, want %q", got, tt.want)
		}
	}
}

func TestSARIFOfNothingAndFailures(t *testing.T) {
	_, run := sarif(t, rules.All())
	if len(*run.Results) != 0 || len(*run.Artifacts) != 0 || !*(*run.Invocations)[0].Successful {
		t.Errorf("%+v", run)
	}

	var out bytes.Buffer
	s := NewSARIF(&out, written())
	s.Failed("no such.nc", errors.New("no such.nc: no such file"))
	if err := s.Check(&rules.Result{Path: "-", Machine: mill}); err != nil {
		t.Fatal(err)
	}
	s.Failed("", errors.New("interrupted"))
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	run = validRun(t, out.Bytes())
	failures := *(*run.Invocations)[0].Notifications
	if len(failures) != 2 || *failures[0].Locations[0].Physical.Artifact.URI != "no%20such.nc" || failures[1].Locations != nil ||
		*failures[0].Message.Text != "no such.nc: no such file" || *failures[0].Level != "error" {
		t.Errorf("%s", out.String())
	}
	// Standard input is no file.
	if at := (*run.Artifacts)[0].Location; at.URI != nil || *at.Description.Text != "standard input" {
		t.Errorf("%+v", at)
	}
}

func TestSARIFListsAProgramOnce(t *testing.T) {
	one, again, other := flange(), flange(), flange()
	again.Path, other.Path = "./"+again.Path, "other.nc"
	_, run := sarif(t, written(), one, other, again)
	if len(*run.Artifacts) != 2 || len(*run.Results) != 6 {
		t.Errorf("%d programs, %d results", len(*run.Artifacts), len(*run.Results))
	}
}

// Results go out as they come and are not kept.
func TestSARIFStreams(t *testing.T) {
	var out bytes.Buffer
	s := NewSARIF(&out, written())
	r := flange()
	if err := s.Check(r); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(out.String(), "nothing in this block uses P0.01") {
		t.Error("the results of a whole program are not written")
	}

	r.Findings[0].Source = strings.Repeat("X1 ", 200)
	for range 500 {
		r.Findings = append(r.Findings, r.Findings[0])
	}
	counted := new(counter)
	s = NewSARIF(counted, written())
	before := heap()
	for i := range 20 {
		r.Path = fmt.Sprint("programs/", i, ".nc")
		if err := s.Check(r); err != nil {
			t.Fatal(err)
		}
	}
	after := heap()
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if after > before+1<<20 || *counted < 10<<20 {
		t.Errorf("%d bytes written, and the heap grew by %d", *counted, int64(after)-int64(before))
	}
}

// counter counts what is written to it.
type counter int

func (c *counter) Write(p []byte) (int, error) {
	*c += counter(len(p))
	return len(p), nil
}

// heap is how many bytes are in use.
func heap() uint64 {
	var stats runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&stats)
	return stats.HeapAlloc
}
