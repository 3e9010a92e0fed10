package report

import (
	"bufio"
	"embed"
	"encoding/base64"
	"encoding/binary"
	"fmt"
	"html/template"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"tapefit/internal/motion"
	"tapefit/parser"
	"tapefit/profiles"
	"tapefit/rules"
)

//go:embed page
var pageFiles embed.FS

// sceneSize is how many dots of a screen the path is to be true to: a wide
// screen, and four times as large.
const sceneSize = 4000

// Page checks a program and writes what was found, with pictures, as one page
// that needs nothing beside it. The error is one of reading src or writing w.
func Page(w io.Writer, src io.ReaderAt, size int64, path string, m *profiles.Machine, set []*rules.Rule, opt rules.Options) (*rules.Result, error) {
	opt.Stretches = true
	r, s, err := look(src, size, path, m, set, opt, nil)
	if err != nil {
		return nil, err
	}
	p := page{r: r, s: s, u: unitsOf(m)}
	if err := p.read(src, size); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	out := bufio.NewWriter(w)
	if err := p.write(out); err != nil {
		return nil, err
	}
	return r, out.Flush()
}

// Counts says how many findings there are of each level.
func Counts(r *rules.Result) string {
	var all []string
	for _, level := range []rules.Level{rules.Error, rules.Warning, rules.Note} {
		all = append(all, plural(r.Count(level), level.String()))
	}
	return strings.Join(all, ", ")
}

// A page is one at work.
type page struct {
	r *rules.Result
	s *Scene
	u units

	listing []listed
	texts   map[int]string // of blocks on the path, by line
	blocks  int
}

// listed is a row of the listing: a block, or a gap.
type listed struct {
	Gap, Level string
	Line       int
	Text       string
	Findings   []int
}

// Bounds of the listing: a program of at most wholeListing blocks is shown
// whole; of a longer one what lies about findings, and both ends.
const (
	wholeListing  = 3000
	aboutFindings = 6
	atEnds        = 60
)

// read goes through the program once more, for its texts.
func (p *page) read(src io.ReaderAt, size int64) error {
	src, _, err := parser.Tape(src, size)
	if err != nil {
		return err
	}
	text := parser.NewFileReader(src, size)
	onPath := map[int]bool{}
	for i := range p.s.Vertices {
		onPath[p.s.Vertices[i].Line] = true
	}
	found := map[int][]int{}
	for i := range p.r.Findings {
		line := p.r.Findings[i].Line
		found[line] = append(found[line], i+1)
	}
	lines := p.r.Blocks
	p.texts = map[int]string{}
	gap := 0
	for {
		b, err := text.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return err
		}
		if b.Kind == parser.Remainder {
			continue
		}
		p.blocks = b.Line
		shown := lines <= wholeListing || b.Line <= atEnds || b.Line > lines-atEnds || p.near(b.Line)
		if !shown {
			gap++
		}
		if shown && gap > 0 {
			p.listing = append(p.listing, listed{Gap: plural(gap, "block") + " left out"})
			gap = 0
		}
		if shown {
			row := listed{Line: b.Line, Text: blockText(b), Findings: found[b.Line]}
			for _, n := range row.Findings {
				if l := p.r.Findings[n-1].Level.String(); row.Level != "error" && (row.Level == "" || l != "note") {
					row.Level = l
				}
			}
			p.listing = append(p.listing, row)
		}
		if onPath[b.Line] {
			p.texts[b.Line] = blockText(b)
		}
	}
	if gap > 0 {
		p.listing = append(p.listing, listed{Gap: plural(gap, "block") + " left out"})
	}
	return nil
}

// near says whether a line lies about a finding.
func (p *page) near(line int) bool {
	for i := range p.r.Findings {
		if d := line - p.r.Findings[i].Line; d >= -aboutFindings && d <= aboutFindings {
			return true
		}
	}
	return false
}

// longestText is how much of a block a page shows, in bytes.
const longestText = 300

func blockText(b *parser.Block) string {
	text := strings.TrimRight(string(b.Raw[:min(len(b.Raw), longestText)]), "\r\n")
	if len(b.Raw) > longestText {
		text += " ..."
	}
	return visible(text)
}

// visible is the text with its blanks, and signs for what cannot be shown.
func visible(text string) string {
	var b strings.Builder
	for _, c := range appendCells(nil, nil, text) {
		b.WriteString(c.text)
	}
	return b.String()
}

type (
	named  struct{ Name, Value string }
	keyed  struct{ Name, Class string }
	viewed struct {
		Name, Title string
		SVG, Small  template.HTML
	}
	charted struct {
		Name, Title, Note string
		SVG               template.HTML
	}
	foundHere struct {
		Number, Line, EndLine, Count                        int
		Level, Rule, Message, Advice, Before, Marked, After string
	}
	part struct {
		Name, Time, Share, Width string
	}
	stretched struct {
		Lines, Tool, Time, Lost, Limit string
		Line                           int
	}
	used struct {
		Name, Deepest, Cutting, Total string
		Speeds, Feeds                 []string // each in a row of its own
		Calls                         int
	}
	pageData struct {
		Title, Machine, MachineTitle                string
		Settings                                    []string
		AtLeast, Cycle, Verdict, VerdictLevel, Sign string
		Facts                                       []named
		Key                                         []keyed
		Hint, PathNote                              string
		Views                                       []viewed
		Charts                                      []charted
		Findings                                    []foundHere
		Silenced                                    string
		Parts, Lost                                 []part
		LostCaption                                 string
		Stretches                                   []stretched
		Tools                                       []used
		LengthUnit, FeedUnit                        string
		Listing                                     []listed
		ListingNote, Caution                        string
		CSS                                         template.CSS
		JS                                          template.JS
		Data                                        template.JS
	}
)

func (p *page) write(w io.Writer) error {
	css, err := pageFiles.ReadFile("page/page.css")
	if err != nil {
		return err
	}
	js, err := pageFiles.ReadFile("page/page.js")
	if err != nil {
		return err
	}
	t, err := template.ParseFS(pageFiles, "page/page.html.tmpl")
	if err != nil {
		return err
	}
	d := p.data()
	d.CSS, d.JS = template.CSS(css), template.JS(js)
	script, err := marshal(p.script())
	if err != nil {
		return err
	}
	d.Data = template.JS(strings.ReplaceAll(string(script), "<", `\u003c`)) // no end of the script in a block's text
	return t.Execute(w, d)
}

func (p *page) data() *pageData {
	r := p.r
	title := "standard input"
	if r.Path != "-" {
		title = clean(filepath.Base(r.Path))
	}
	d := &pageData{
		Title: title, Machine: clean(r.Machine.Name), MachineTitle: clean(r.Machine.Title),
		Cycle: clock(r.Times.Total), AtLeast: atLeast(r), LengthUnit: p.u.name, FeedUnit: p.u.name + "/min",
		Listing: p.listing, Caution: Caution, Silenced: strings.TrimPrefix(silencedIn(r).String(), ", "),
		Key:  []keyed{{"traverse", "rapid"}, {"straight cut", "cut"}, {"arc", "round"}, {"plunge", "plunge"}, {"reach of cuts", "stock"}},
		Hint: "Hover over the path, tap it, or press the arrow keys: the block and its values appear here.",
	}
	for _, s := range r.Machine.Settings {
		d.Settings = append(d.Settings, clean(s))
	}
	p.verdict(d)
	p.facts(d)
	p.found(d)
	p.pictures(d)
	p.times(d)
	p.tools(d)
	d.ListingNote = plural(p.blocks, "block") + "."
	if p.blocks > wholeListing {
		d.ListingNote += " Of so long a program both ends are shown, and what lies about findings."
	}
	return d
}

// verdict says in a sentence whether the machine refuses the program, and why.
func (p *page) verdict(d *pageData) {
	r := p.r
	errs, warnings, notes := r.Count(rules.Error), r.Count(rules.Warning), r.Count(rules.Note)
	first := func(level rules.Level) string {
		for i := range r.Findings {
			if f := &r.Findings[i]; f.Level == level {
				return fmt.Sprintf("line %d, %s", f.Line, clean(f.Message))
			}
		}
		return ""
	}
	switch {
	case errs > 0:
		d.Verdict = fmt.Sprintf("%s would refuse this program or do other than is written: %s, the first in %s.", d.Machine, plural(errs, "error"), first(rules.Error))
		d.VerdictLevel, d.Sign = "error", "✕"
	case warnings > 0:
		d.Verdict = fmt.Sprintf("Nothing that %s would refuse was found; %s to be judged by a person, the first in %s.", d.Machine, plural(warnings, "warning"), first(rules.Warning))
		d.VerdictLevel, d.Sign = "warning", "!"
	case notes > 0:
		d.Verdict = fmt.Sprintf("Nothing that %s would refuse was found; %s worth knowing. This is not a promise that it is safe.", d.Machine, plural(notes, "note"))
		d.VerdictLevel, d.Sign = "note", "i"
	default:
		d.Verdict = fmt.Sprintf("Nothing was found that %s would refuse. This is not a promise that it is safe.", d.Machine)
		d.VerdictLevel, d.Sign = "none", "–"
	}
}

func (p *page) facts(d *pageData) {
	r := p.r
	t := &r.Times
	add := func(name, value string) { d.Facts = append(d.Facts, named{name, value}) }
	add("cutting", clock(t.Cutting)+"  "+percent(t.Cutting, t.Total))
	add("rapid", clock(t.Rapid)+"  "+percent(t.Rapid, t.Total))
	add("the rest", clock(t.Total-t.Cutting-t.Rapid)+"  "+percent(t.Total-t.Cutting-t.Rapid, t.Total))
	if beyond := t.Cutting + t.Rapid - t.Naive; beyond > 0.05 {
		add("beyond feed", "+"+clock(beyond))
	}
	add("operator", stops(t.OperatorStops))
	add("blocks", strconv.Itoa(r.Blocks))
	for i, e := range r.Extents {
		if known(e) {
			u := unitsOfAxis(r.Machine, i)
			name, by := nameOfAxis(r.Machine, i)
			add(name+", "+u.name, u.number(e.Min*by)+" to "+u.number(e.Max*by))
		}
	}
	if most := p.fastest(); most > 0 {
		add("spindle to", short(most, 0)+" rpm")
	}
}

func (p *page) fastest() float64 {
	most := 0.0
	for _, s := range p.s.Spindle {
		most = max(most, math.Abs(s.Speed))
	}
	return most
}

func (p *page) found(d *pageData) {
	for i := range p.r.Findings {
		f := &p.r.Findings[i]
		pos := min(max(f.Column-f.SourceCol, 0), len(f.Source))
		end := min(max(f.MarkEnd-f.SourceCol, pos), len(f.Source))
		d.Findings = append(d.Findings, foundHere{
			Number: i + 1, Line: f.Line, EndLine: f.EndLine, Count: f.Count, Level: f.Level.String(), Rule: f.Rule.Name,
			Message: clean(f.Message), Advice: clean(f.Advice),
			Before: visible(f.Source[:pos]), Marked: visible(f.Source[pos:end]), After: visible(f.Source[end:]),
		})
	}
}

// marks are the findings where they lie on the path: a block that moves nothing
// at the next one that does.
func (p *page) marks() []mark {
	at := map[int]int{} // vertex by line
	var lines []int
	for i := range p.s.Vertices {
		if line := p.s.Vertices[i].Line; p.s.Vertices[i].Kind != Jump {
			if _, known := at[line]; !known {
				at[line] = i
				lines = append(lines, line)
			}
		}
	}
	slices.Sort(lines)
	var all []mark
	for n := range p.r.Findings {
		if k, _ := slices.BinarySearch(lines, p.r.Findings[n].Line); k < len(lines) {
			all = append(all, mark{n + 1, p.s.Vertices[at[lines[k]]].At})
		}
	}
	return all
}

func (p *page) pictures(d *pageData) {
	marks := p.marks()
	if _, ok := p.s.travel(projection{name: "top"}); ok && p.r.Machine.Kind != "lathe" {
		d.Key = append(d.Key, keyed{"soft limits", "travel"})
	}
	for _, v := range projections(p.r.Machine) {
		d.Views = append(d.Views, viewed{v.name, v.title, p.s.view(v, 900, 480, marks), p.s.view(v, 420, 240, marks)})
	}
	d.PathNote = fmt.Sprintf("%s of the tool tip in work coordinates", plural(p.s.Moves, "move"))
	if p.s.Moves > len(p.s.Vertices) {
		d.PathNote += ", drawn to within " + p.u.length(profiles.Length(p.s.Tolerance))
	}
	d.PathNote += "."
	total := p.r.Times.Total
	if p.fastest() > 0 {
		d.Charts = append(d.Charts, charted{"spindle", "Spindle, rpm", "over the ranges of the gears", p.s.spindleChart(total)})
	}
	d.Charts = append(d.Charts, charted{"feed", "Feed, " + d.FeedUnit, "dashed: programmed; line: what the machine does", p.s.feedChart(total, p.r.Machine)})
}

func (p *page) times(d *pageData) {
	t := &p.r.Times
	for _, one := range timeParts(t) {
		if one.always || one.seconds > 0 {
			d.Parts = append(d.Parts, part{one.name, clock(one.seconds), percent(one.seconds, t.Total), short(100*one.seconds/max(t.Total, 1e-9), 1)})
		}
	}
	if beyond := t.Cutting + t.Rapid - t.Naive; beyond > 0.05 {
		d.LostCaption = fmt.Sprintf("Length over feed says %s for cutting and rapid; the machine takes %s more", clock(t.Naive), clock(beyond))
		for limit, seconds := range t.Lost {
			if seconds >= 0.05 {
				d.Lost = append(d.Lost, part{Name: motion.Limit(limit).String(), Time: clock(seconds)})
			}
		}
	}
	for _, s := range costliest(p.r) {
		d.Stretches = append(d.Stretches, stretched{linesOf(&s), toolName(s.Tool), clock(s.Seconds), clock(s.Lost), s.Limit.String(), s.Line})
	}
}

func toolName(number int) string {
	if number < 0 {
		return "unknown"
	}
	return "T" + strconv.Itoa(number)
}

func (p *page) tools(d *pageData) {
	for _, t := range p.r.Times.Tools {
		u := used{Name: toolName(t.Tool), Cutting: clock(t.Cutting), Total: clock(t.Total)}
		for _, loaded := range p.r.Machine.Tools.Loaded {
			if loaded.Number == t.Tool && loaded.Title != "" {
				u.Name += " " + clean(loaded.Title)
			}
		}
		if use := p.s.Tools[t.Tool]; use != nil {
			u.Calls = use.Calls
			u.Speeds, u.Feeds = speedTexts(use, p.u), feedTexts(use, p.u)
			if use.Deepest.Set {
				u.Deepest = p.u.number(use.Deepest.Min)
			}
		}
		d.Tools = append(d.Tools, u)
	}
}

// pageScript is what the script of the page works with. Arrays are little-endian
// in base64, an item a vertex.
type pageScript struct {
	Count    int                  `json:"count"`
	Places   string               `json:"places"` // float32: X Y Z, in display units
	Times    string               `json:"times"`  // float32, s
	Feeds    string               `json:"feeds"`  // float32: programmed and actual, display units a minute
	Speeds   string               `json:"speeds"` // float32, rpm
	Kinds    string               `json:"kinds"`  // uint8
	Tools    string               `json:"tools"`  // int16
	Lines    string               `json:"lines"`  // uint32
	Texts    map[int]string       `json:"texts"`  // blocks by line
	Views    []pageView           `json:"views"`
	Found    []pageFinding        `json:"found"`
	Boxes    map[string][]float64 `json:"boxes"` // corners, three numbers each
	Total    float64              `json:"total"`
	Unit     string               `json:"unit"`
	Decimals int                  `json:"decimals"`
	Lathe    bool                 `json:"lathe"`
	X        string               `json:"x"`     // how places along X are headed
	XBy      float64              `json:"xBy"`   // by what they are multiplied for that
	Chart    [3]float64           `json:"chart"` // width, left and right room of a chart
}

type pageView struct {
	Name   string     `json:"name"`
	Across [3]float64 `json:"across"`
	Up     [3]float64 `json:"up"`
}

type pageFinding struct {
	Line  int    `json:"line"` // of the block, or of the next one that moves
	Level string `json:"level"`
}

func (p *page) script() *pageScript {
	all := p.s.Vertices
	n := len(all)
	places, times, feeds, speeds := make([]float32, 0, 3*n), make([]float32, 0, n), make([]float32, 0, 2*n), make([]float32, 0, n)
	kinds, tools, lines := make([]uint8, 0, n), make([]int16, 0, n), make([]uint32, 0, n)
	for i := range all {
		v := &all[i]
		for _, x := range v.At {
			places = append(places, float32(x/p.u.scale))
		}
		times = append(times, float32(v.Time))
		feeds = append(feeds, float32(v.Feed*60/p.u.scale), float32(v.Actual*60/p.u.scale))
		speeds = append(speeds, float32(v.Speed))
		kinds, tools, lines = append(kinds, uint8(v.Kind)), append(tools, int16(min(max(v.Tool, -1), math.MaxInt16))), append(lines, uint32(v.Line))
	}
	s := &pageScript{
		Count: n, Places: packed(places), Times: packed(times), Feeds: packed(feeds), Speeds: packed(speeds),
		Kinds: packed(kinds), Tools: packed(tools), Lines: packed(lines), Texts: p.texts,
		Total: finite(p.r.Times.Total), Unit: p.u.name, Decimals: p.u.decimals, Lathe: p.r.Machine.Kind == "lathe",
		Chart: [3]float64{chartWidth, chartLeft, chartRight}, Boxes: map[string][]float64{},
		Found: []pageFinding{}, Views: []pageView{},
	}
	s.X, s.XBy = nameOfAxis(p.r.Machine, 0)
	for _, v := range projections(p.r.Machine) {
		s.Views = append(s.Views, pageView{v.name, v.across, v.up})
	}
	for i := range p.r.Findings {
		s.Found = append(s.Found, pageFinding{p.r.Findings[i].Line, p.r.Findings[i].Level.String()})
	}
	if box := p.s.stock(); box != nil {
		s.Boxes["stock"] = flat(box, p.u.scale)
	}
	if i := slices.IndexFunc(projections(p.r.Machine), func(v projection) bool { return v.name == "top" }); i >= 0 {
		if box, ok := p.s.travel(projections(p.r.Machine)[i]); ok {
			s.Boxes["travel"] = flat(box, p.u.scale)
		}
	}
	return s
}

func flat(box [][3]float64, scale float64) []float64 {
	var all []float64
	for _, c := range box {
		for _, v := range c {
			all = append(all, v/scale)
		}
	}
	return all
}

// packed writes numbers little-endian in base64.
func packed(values any) string {
	b, err := binary.Append(nil, binary.LittleEndian, values)
	if err != nil {
		panic(err) // of a slice of numbers of fixed size: cannot fail
	}
	return base64.StdEncoding.EncodeToString(b)
}
