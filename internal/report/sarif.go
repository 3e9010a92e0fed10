package report

import (
	"bufio"
	"fmt"
	"io"
	"net/url"
	"path"
	"path/filepath"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"tapefit/rules"
)

// SARIF writes findings as one log of SARIF 2.1.0 (Static Analysis Results
// Interchange Format, an OASIS standard), for editors and for servers that show
// findings beside the text. Results come a program at a time, so that memory
// stays flat; kept to the end are the names of the programs, which the log
// lists behind the results, and what went wrong.
type SARIF struct {
	out           *bufio.Writer
	begun         bool
	results       int
	rules         []*rules.Rule
	index         map[string]int // of rules, by name
	artifacts     []sarifArtifact
	artifact      map[string]int // index into artifacts, by URI
	notifications []sarifNotification
}

// NewSARIF writes to w. Findings are of the rules in all.
func NewSARIF(w io.Writer, all []*rules.Rule) *SARIF {
	s := &SARIF{out: bufio.NewWriter(w), rules: all, index: map[string]int{}, artifact: map[string]int{}}
	for i, r := range all {
		s.index[r.Name] = i
	}
	return s
}

// The types below are the objects of the standard, by its names, with those of
// their properties that we have something to say in.
type (
	sarifMessage struct {
		Text string `json:"text"`
	}
	sarifRule struct {
		ID       string            `json:"id"`
		Short    sarifMessage      `json:"shortDescription"`
		Full     sarifMessage      `json:"fullDescription"`
		Help     sarifMessage      `json:"help"`
		Default  sarifDefault      `json:"defaultConfiguration"`
		Property sarifRuleProperty `json:"properties"`
	}
	sarifDefault struct {
		Level string `json:"level"`
	}
	sarifRuleProperty struct {
		Family string `json:"family"`
	}
	sarifResult struct {
		RuleID    string              `json:"ruleId"`
		RuleIndex int                 `json:"ruleIndex"`
		Level     string              `json:"level"`
		Message   sarifMessage        `json:"message"`
		Locations []sarifLocation     `json:"locations"`
		Count     int                 `json:"occurrenceCount"`
		Property  sarifResultProperty `json:"properties"`
	}
	sarifResultProperty struct {
		Machine  string   `json:"machine"`
		Settings []string `json:"settings,omitempty"` // over its profile
		LastLine int      `json:"lastLine"`
	}
	sarifLocation struct {
		Physical sarifPhysical `json:"physicalLocation"`
	}
	sarifPhysical struct {
		Artifact sarifArtifactLocation `json:"artifactLocation"`
		Region   *sarifRegion          `json:"region,omitempty"`
		Context  *sarifRegion          `json:"contextRegion,omitempty"`
	}
	// sarifArtifactLocation has no URI where there is no file.
	sarifArtifactLocation struct {
		URI         string        `json:"uri,omitempty"`
		Index       *int          `json:"index,omitempty"`
		Description *sarifMessage `json:"description,omitempty"`
	}
	sarifRegion struct {
		StartLine   int          `json:"startLine"`
		StartColumn int          `json:"startColumn"`
		EndLine     int          `json:"endLine"`
		EndColumn   int          `json:"endColumn"`
		ByteOffset  int64        `json:"byteOffset"`
		ByteLength  int          `json:"byteLength"`
		Snippet     sarifMessage `json:"snippet"`
	}
	sarifArtifact struct {
		Location sarifArtifactLocation `json:"location"`
		Roles    []string              `json:"roles"`
	}
	sarifInvocation struct {
		Successful    bool                `json:"executionSuccessful"`
		Notifications []sarifNotification `json:"toolExecutionNotifications"`
	}
	sarifNotification struct {
		Level     string          `json:"level"`
		Message   sarifMessage    `json:"message"`
		Locations []sarifLocation `json:"locations,omitempty"`
	}
)

// sarifHead names the version and where the standard keeps its schema.
const sarifHead = `{"$schema":"https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json","version":"2.1.0","runs":[
{"tool":{"driver":{"name":"tapefit","rules":`

// sarifForm says how places count: columns as editors do, and lines as the
// parser does, for which a lone CR ends one too.
const sarifForm = `}},
"columnKind":"utf16CodeUnits","newlineSequences":["\r\n","\n","\r"],
"results":`

// Check writes the findings of one program.
func (s *SARIF) Check(r *rules.Result) error {
	if err := s.begin(); err != nil {
		return err
	}
	at := s.program(r.Path)
	for i := range r.Findings {
		f := &r.Findings[i]
		region, context := regions(f)
		err := s.element(s.results, sarifResult{
			RuleID: f.Rule.Name, RuleIndex: s.index[f.Rule.Name], Level: f.Level.String(),
			Message:   sarifMessage{sarifText(sentences(f.Message, f.Advice))},
			Locations: []sarifLocation{{sarifPhysical{at, region, context}}},
			Count:     f.Count,
			Property:  sarifResultProperty{r.Machine.Name, r.Machine.Settings, f.EndLine},
		})
		if err != nil {
			return err
		}
		s.results++
	}
	return s.out.Flush()
}

// Failed notes what went wrong beside the findings: a program that could not
// be read. path is "" where it is of no program.
func (s *SARIF) Failed(path string, failure error) {
	n := sarifNotification{Level: "error", Message: sarifMessage{sarifText(clean(failure.Error()))}}
	if path != "" {
		n.Locations = []sarifLocation{{Physical: sarifPhysical{Artifact: artifactLocation(path)}}}
	}
	s.notifications = append(s.notifications, n)
}

// Close ends the log. It belongs behind the last program, also behind none.
func (s *SARIF) Close() error {
	if err := s.begin(); err != nil {
		return err
	}
	s.out.WriteString("\n],\n\"artifacts\":[")
	if err := elements(s, s.artifacts); err != nil {
		return err
	}
	s.out.WriteString("\n],\n\"invocations\":[")
	notifications := append([]sarifNotification{}, s.notifications...) // not nil: that would be null
	if err := s.element(0, sarifInvocation{len(notifications) == 0, notifications}); err != nil {
		return err
	}
	s.out.WriteString("\n]}\n]}\n")
	return s.out.Flush()
}

// begin writes what stands before the results, once.
func (s *SARIF) begin() error {
	if s.begun {
		return nil
	}
	s.begun = true
	s.out.WriteString(sarifHead + "[")
	all := make([]sarifRule, len(s.rules))
	for i, r := range s.rules {
		all[i] = sarifRule{
			ID:       r.Name,
			Short:    sarifMessage{sarifText(clean(r.Summary))},
			Full:     sarifMessage{sarifText(paragraphs(r.Doc))},
			Help:     sarifMessage{sarifText(help(r))},
			Default:  sarifDefault{r.Level.String()},
			Property: sarifRuleProperty{r.Family},
		}
	}
	if err := elements(s, all); err != nil {
		return err
	}
	s.out.WriteString("\n]" + sarifForm + "[")
	return nil
}

func elements[T any](s *SARIF, all []T) error {
	for i := range all {
		if err := s.element(i, all[i]); err != nil {
			return err
		}
	}
	return nil
}

// element writes the i-th element of an array, on a line of its own.
func (s *SARIF) element(i int, v any) error {
	text, err := marshal(v)
	if err != nil {
		return fmt.Errorf("writing SARIF: %w", err)
	}
	if i > 0 {
		s.out.WriteByte(',')
	}
	s.out.WriteByte('\n')
	_, err = s.out.Write(text)
	return err
}

// program is where results of a program are: its place, with its number in the
// list of artifacts. The list may not hold one twice.
func (s *SARIF) program(path string) sarifArtifactLocation {
	at := artifactLocation(path)
	i, known := s.artifact[at.URI]
	if !known {
		i = len(s.artifacts)
		s.artifact[at.URI] = i
		s.artifacts = append(s.artifacts, sarifArtifact{at, []string{"analysisTarget"}})
	}
	at.Index = &i
	return at
}

func artifactLocation(path string) sarifArtifactLocation {
	if path == "-" {
		return sarifArtifactLocation{Description: &sarifMessage{"standard input"}}
	}
	return sarifArtifactLocation{URI: uri(path)}
}

// uri is a path as a URI reference (RFC 3986): relative where the path is,
// else with the scheme file. Bytes that are not plain are percent-encoded.
func uri(name string) string {
	slashed := path.Clean(filepath.ToSlash(name))
	if !filepath.IsAbs(name) {
		return (&url.URL{Path: slashed}).String()
	}
	if !strings.HasPrefix(slashed, "/") {
		slashed = "/" + slashed // a drive
	}
	return (&url.URL{Scheme: "file", Path: slashed}).String()
}

// regions are the first word of a finding and, around it, its block; nil where
// the finding has no place. Before a piece of a long block each byte is taken
// for one column; byteOffset is exact there too.
func regions(f *rules.Finding) (word, block *sarifRegion) {
	if f.Line < 1 || f.Column < 1 {
		return nil, nil
	}
	source, from := f.Source, max(f.SourceCol, 1)
	column := from // of source, in the log
	if rest, found := strings.CutPrefix(source, byteOrderMark); found && f.Offset == 0 && from == 1 {
		source, from = rest, from+len(byteOrderMark)
	}
	pos := min(max(f.Column-from, 0), len(source))
	end := min(max(f.MarkEnd-from, pos), len(source))
	pos, end, decode := decoding(source, pos, end)
	before, marked, behind := decode(source[:pos]), decode(source[pos:end]), decode(source[end:])
	region := func(lead, text string, at, length int) *sarifRegion {
		start := column + units16(lead)
		offset := f.Offset + int64(from-1+at)
		return &sarifRegion{f.Line, start, f.Line, start + units16(text), offset, length, sarifMessage{text}}
	}
	return region(before, marked, pos, end-pos), region("", before+marked+behind, 0, len(source))
}

// byteOrderMark may begin a file. It is no column of the text.
const byteOrderMark = "\xEF\xBB\xBF"

// decoding says how a block is read up to the end of its word: as UTF-8, the
// word widened to whole characters, or where it is none, as ISO 8859-1 and
// tapes are, each byte a character.
func decoding(source string, pos, end int) (_, _ int, decode func(string) string) {
	whole := end
	for whole < len(source) && !utf8.RuneStart(source[whole]) {
		whole++
	}
	if !utf8.ValidString(source[:whole]) {
		return pos, end, latin1
	}
	for pos > 0 && pos < whole && !utf8.RuneStart(source[pos]) {
		pos--
	}
	// Behind the word may be what is not UTF-8: one U+FFFD for each byte.
	return pos, whole, func(s string) string { return string([]rune(s)) }
}

func latin1(s string) string {
	all := make([]rune, len(s))
	for i := range len(s) {
		all[i] = rune(s[i])
	}
	return string(all)
}

// units16 is how many code units of UTF-16 text takes.
func units16(text string) int {
	n := 0
	for _, r := range text {
		n += utf16.RuneLen(r)
	}
	return n
}

// sarifText escapes what has a meaning in messages of SARIF and none in ours:
// {0} is an argument, [text](place) a link. Programs have both sorts of
// brackets.
func sarifText(text string) string { return sarifEscapes.Replace(text) }

var sarifEscapes = strings.NewReplacer("{", "{{", "}", "}}", "](", `\](`)

// sentences are message and advice as one text.
func sentences(message, advice string) string {
	message, advice = clean(message), clean(advice)
	switch {
	case advice == "":
		return message
	case message == "" || strings.HasSuffix(message, "."):
		return strings.TrimSpace(message + " " + advice)
	}
	return message + ". " + advice
}

// paragraphs are those of a doc, a line each.
func paragraphs(doc string) string {
	var all []string
	for p := range strings.SplitSeq(doc, "\n\n") {
		if p = clean(p); p != "" {
			all = append(all, p)
		}
	}
	return strings.Join(all, "\n\n")
}

// help is what "tapefit rules NAME" tells of a rule.
func help(r *rules.Rule) string {
	text := paragraphs(r.Doc)
	if len(r.Uses) > 0 {
		text += "\n\nReads from the profile: " + clean(strings.Join(r.Uses, ", ")) + "."
	}
	if r.Example.Program != "" {
		text += "\n\nIt speaks on this (" + clean(r.Example.Machine) + "):\n\n" + indented(r.Example.Program) +
			"\nand is silent on this:\n\n" + indented(r.Example.Mended)
	}
	return text
}

func indented(program string) string {
	var b strings.Builder
	for line := range strings.Lines(program) {
		b.WriteString("    " + strings.TrimRight(line, "\r\n") + "\n")
	}
	return b.String()
}
