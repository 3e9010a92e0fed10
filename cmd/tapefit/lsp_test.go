package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"
	"unicode/utf16"
)

// TestLSP drives the command, built as a person would build it.
func TestLSP(t *testing.T) {
	bin := filepath.Join(t.TempDir(), "tapefit")
	if out, err := exec.Command("go", "build", "-o", bin, ".").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	for _, c := range []struct {
		name string
		run  func(*testing.T, starter)
	}{
		{"session", lspSession}, {"machine", lspMachine}, {"positions", lspPositions},
		{"offsets", lspOffsets}, {"wrong order", lspWrongOrder}, {"ends", lspEnds}, {"typing", lspTyping},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.run(t, func(t *testing.T, args ...string) *editor { return startEditor(t, bin, args...) })
		})
	}
}

// A starter starts the server with more arguments.
type starter func(t *testing.T, args ...string) *editor

// An editor speaks with the server as an editor would, over its standard input and
// output.
type editor struct {
	t      testing.TB
	cmd    *exec.Cmd
	in     io.WriteCloser
	stderr strings.Builder
	last   int

	got chan map[string]any // messages that are no answers
	mu  sync.Mutex
	ans map[string]chan map[string]any // by id
}

// patience is how long a message may take on a busy machine.
const patience = 30 * time.Second

func startEditor(t testing.TB, bin string, args ...string) *editor {
	t.Helper()
	var err error
	e := &editor{t: t, cmd: exec.Command(bin, append([]string{"lsp"}, args...)...), got: make(chan map[string]any, 1000), ans: map[string]chan map[string]any{}}
	e.cmd.Stderr = &e.stderr
	if e.in, err = e.cmd.StdinPipe(); err != nil {
		t.Fatal(err)
	}
	out, err := e.cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := e.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { e.cmd.Process.Kill() })
	go e.listen(bufio.NewReader(out))
	return e
}

func (e *editor) listen(r *bufio.Reader) {
	defer close(e.got)
	for {
		n := -1
		for {
			line, err := r.ReadString('\n')
			if err != nil {
				return
			}
			line = strings.TrimSpace(line)
			if line == "" {
				break
			}
			if v, ok := strings.CutPrefix(line, "Content-Length: "); ok {
				n, _ = strconv.Atoi(v)
			}
		}
		body := make([]byte, n)
		if _, err := io.ReadFull(r, body); err != nil {
			return
		}
		var m map[string]any
		if json.Unmarshal(body, &m) != nil {
			m = map[string]any{"broken": string(body)}
		}
		if _, asks := m["method"]; !asks {
			e.answer(fmt.Sprint(m["id"])) <- m
			continue
		}
		e.got <- m
	}
}

func (e *editor) answer(id string) chan map[string]any {
	e.mu.Lock()
	defer e.mu.Unlock()
	if e.ans[id] == nil {
		e.ans[id] = make(chan map[string]any, 10)
	}
	return e.ans[id]
}

func (e *editor) raw(text string) {
	e.t.Helper()
	if _, err := io.WriteString(e.in, text); err != nil {
		e.t.Fatalf("%v; stderr: %s", err, e.stderr.String())
	}
}

func (e *editor) send(m map[string]any) {
	e.t.Helper()
	m["jsonrpc"] = "2.0"
	body, err := json.Marshal(m)
	if err != nil {
		e.t.Fatal(err)
	}
	e.raw(fmt.Sprintf("Content-Length: %d\r\n\r\n%s", len(body), body))
}

func (e *editor) notify(method string, params any) {
	e.t.Helper()
	e.send(map[string]any{"method": method, "params": params})
}

// wait waits for the answer with the id.
func (e *editor) wait(id string) map[string]any {
	e.t.Helper()
	select {
	case m := <-e.answer(id):
		return m
	case <-time.After(patience):
		e.t.Fatalf("no answer to %s", id)
		return nil
	}
}

// request gives the result of a request, or fails.
func (e *editor) request(method string, params any) any {
	e.t.Helper()
	e.last++
	e.send(map[string]any{"id": e.last, "method": method, "params": params})
	m := e.wait(strconv.Itoa(e.last))
	if m["error"] != nil {
		e.t.Fatalf("%s: %v", method, m["error"])
	}
	return m["result"]
}

// refused wants a request to be refused with the code.
func (e *editor) refused(method string, params any, code float64) {
	e.t.Helper()
	e.last++
	e.send(map[string]any{"id": e.last, "method": method, "params": params})
	e.refusal(strconv.Itoa(e.last), method, code)
}

func (e *editor) refusal(id, what string, code float64) {
	e.t.Helper()
	m := e.wait(id)
	if why, _ := m["error"].(map[string]any); why == nil || why["code"] != code {
		e.t.Errorf("%s: got %v, want the error %v", what, m, code)
	}
}

type object = map[string]any

// fullClient is a client that can do all that the server asks about.
var fullClient = object{
	"workspace": object{"workspaceEdit": object{"documentChanges": true}},
	"textDocument": object{
		"publishDiagnostics": object{"relatedInformation": true},
		"documentSymbol":     object{"hierarchicalDocumentSymbolSupport": true},
	},
}

func (e *editor) initialize(options any) {
	e.t.Helper()
	e.request("initialize", object{"processId": nil, "rootUri": nil, "capabilities": fullClient, "initializationOptions": options})
	e.notify("initialized", object{})
}

func (e *editor) open(uri, text string) {
	e.t.Helper()
	e.notify("textDocument/didOpen", object{"textDocument": object{"uri": uri, "languageId": "gcode", "version": 1, "text": text}})
}

func (e *editor) replace(uri string, version int, text string) {
	e.t.Helper()
	e.notify("textDocument/didChange", object{"textDocument": object{"uri": uri, "version": version}, "contentChanges": []any{object{"text": text}}})
}

type mark struct {
	Range struct {
		Start, End struct{ Line, Character int }
	}
	Severity      int
	Code, Message string
}

func (m mark) String() string {
	return fmt.Sprintf("%d:%d-%d:%d %s", m.Range.Start.Line, m.Range.Start.Character, m.Range.End.Line, m.Range.End.Character, m.Code)
}

// marks waits for what is found in a version of a program.
func (e *editor) marks(uri string, version int) []mark {
	e.t.Helper()
	deadline := time.After(patience)
	for {
		select {
		case m := <-e.got:
			if m == nil {
				e.t.Fatalf("the server is gone: %s", e.stderr.String())
			}
			var p struct {
				URI         string
				Version     int
				Diagnostics []mark
			}
			remake(e.t, m["params"], &p)
			if m["method"] == "textDocument/publishDiagnostics" && p.URI == uri && p.Version == version {
				return p.Diagnostics
			}
		case <-deadline:
			e.t.Fatalf("nothing was found in version %d of %s", version, uri)
		}
	}
}

func remake(t testing.TB, from, to any) {
	t.Helper()
	b, err := json.Marshal(from)
	if err == nil {
		err = json.Unmarshal(b, to)
	}
	if err != nil {
		t.Fatal(err)
	}
}

func codes(marks []mark) []string {
	all := []string{}
	for _, m := range marks {
		all = append(all, m.Code)
	}
	return all
}

// leave ends the session and wants the exit status.
func (e *editor) leave(status int) {
	e.t.Helper()
	e.request("shutdown", nil)
	e.notify("exit", nil)
	e.ends(status)
}

func (e *editor) ends(status int) {
	e.t.Helper()
	err := e.cmd.Wait()
	got := 0
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		got = exit.ExitCode()
	} else if err != nil {
		e.t.Fatal(err)
	}
	if got != status {
		e.t.Errorf("exit status %d, want %d; stderr: %s", got, status, e.stderr.String())
	}
}

// applied makes the edits of an action in a program.
func applied(t *testing.T, text string, action any) string {
	t.Helper()
	var a struct {
		Edit struct {
			DocumentChanges []struct {
				TextDocument struct{ Version int }
				Edits        []struct {
					Range   struct{ Start, End struct{ Line, Character int } }
					NewText string
				}
			}
		}
	}
	remake(t, action, &a)
	if len(a.Edit.DocumentChanges) != 1 {
		t.Fatalf("no change of one document: %v", action)
	}
	edits := a.Edit.DocumentChanges[0].Edits
	wide := utf16.Encode([]rune(text))
	var starts []int
	for i := range len(wide) + 1 {
		if i == 0 || wide[i-1] == '\n' || wide[i-1] == '\r' && (i == len(wide) || wide[i] != '\n') {
			starts = append(starts, i)
		}
	}
	at := func(line, character int) int { return min(starts[line]+character, len(wide)) }
	for _, e := range slices.Backward(edits) {
		from, to := at(e.Range.Start.Line, e.Range.Start.Character), at(e.Range.End.Line, e.Range.End.Character)
		wide = slices.Replace(slices.Clone(wide), from, to, utf16.Encode([]rune(e.NewText))...)
	}
	return string(utf16.Decode(wide))
}

func place(uri string, line, character int) object {
	return object{"textDocument": object{"uri": uri}, "position": object{"line": line, "character": character}}
}

// actions are those for a place in a program, by title.
func (e *editor) actions(uri string, line, character int) map[string]any {
	e.t.Helper()
	at := object{"line": line, "character": character}
	all := map[string]any{}
	got, _ := e.request("textDocument/codeAction", object{"textDocument": object{"uri": uri}, "range": object{"start": at, "end": at}, "context": object{"diagnostics": []any{}}}).([]any)
	for _, a := range got {
		all[a.(object)["title"].(string)] = a
	}
	return all
}

const pocket = `%
O100 (GLAND PLATE)
(TAPEFIT MACHINE bed-mill)
G20 G90 G17 G94
(SPOT THE HOLES)
T4 M6
M41
S900 M3
G0 X0 Y0
G43 H4 Z1. M8
G1 X1. R2 F10.
G98 G81 X0 Y0 Z-.2 R.1 F5.
X1.
G80 M9
M98 P200
M30
O200
G91 G0 X.1
G90
M99
%
`

func lspSession(t *testing.T, start starter) {
	e := start(t)
	e.initialize(nil)
	const uri = "file:///shop/pocket.ngc"
	e.open(uri, pocket)
	marks := e.marks(uri, 1)
	var at mark
	for _, m := range marks {
		if m.Code == "word-not-used" {
			at = m
		}
	}
	if got, want := at.String(), "10:7-10:9 word-not-used"; got != want || at.Severity != 2 {
		t.Fatalf("found %v, want %s as a warning among it", marks, want)
	}

	text := fmt.Sprint(e.request("textDocument/hover", place(uri, 11, 5)))
	for _, want := range []string{"**G81** on bed-mill", "Drills: feed in to Z", "tool T4 (1/2 in spot drill)", "length offset H4", "S 900 rpm", "gear low (M41)", "flood", "feed       Z-0.2000  F5"} {
		if !strings.Contains(text, want) {
			t.Errorf("the hover does not say %q:\n%s", want, text)
		}
	}
	text = fmt.Sprint(e.request("textDocument/hover", place(uri, 7, 1)))
	if !strings.Contains(text, "as rpm, reached in low and high") || !strings.Contains(text, "gear high (M42): 800 to 4200 rpm") {
		t.Errorf("the hover of S has not the gears:\n%s", text)
	}

	acts := e.actions(uri, 10, 8)
	mend, silence := acts["Mend: write G1 X1. F10."], acts["Silence word-not-used in this block: write the reason into the comment"]
	if mend == nil || silence == nil {
		t.Fatalf("no mending or no silencing among %v", acts)
	}
	silenced := applied(t, pocket, silence)
	e.replace(uri, 2, silenced)
	if found := codes(e.marks(uri, 2)); !slices.Contains(found, "silence-without-reason") || !slices.Contains(found, "word-not-used") {
		t.Errorf("a silence without a reason leaves %v", found)
	}
	e.replace(uri, 3, strings.Replace(silenced, "word-not-used: ", "word-not-used: A SPARE WORD OF THE POST", 1))
	if found := codes(e.marks(uri, 3)); slices.Contains(found, "silence-without-reason") || slices.Contains(found, "word-not-used") {
		t.Errorf("a silence with its reason leaves %v", found)
	}
	mended := applied(t, pocket, mend)
	if want := strings.Replace(pocket, " R2", "", 1); mended != want {
		t.Fatalf("mended it is\n%s", mended)
	}
	e.replace(uri, 4, mended)
	if found := codes(e.marks(uri, 4)); slices.Contains(found, "word-not-used") {
		t.Errorf("mended, it still has %v", found)
	}

	def := e.request("textDocument/definition", place(uri, 14, 5))
	if fmt.Sprint(def) != "map[range:map[end:map[character:4 line:16] start:map[character:0 line:16]] uri:file:///shop/pocket.ngc]" {
		t.Errorf("M98 P200 leads to %v", def)
	}
	if got, want := names(e.request("textDocument/documentSymbol", place(uri, 0, 0)), ""), "O100 (GLAND PLATE) 1-15\n  T4 (SPOT THE HOLES) 4-15\n    G81 (drill) 11-13\n    M98 P200 (call) 14-14\nO200 16-20\n"; got != want {
		t.Errorf("symbols are\n%swant\n%s", got, want)
	}
	var folds []struct{ StartLine, EndLine int }
	remake(t, e.request("textDocument/foldingRange", place(uri, 0, 0)), &folds)
	for _, want := range []struct{ StartLine, EndLine int }{{1, 15}, {4, 15}, {11, 13}} {
		if !slices.Contains(folds, want) {
			t.Errorf("%v cannot be folded: %v", want, folds)
		}
	}
	e.notify("textDocument/didClose", object{"textDocument": object{"uri": uri}})
	if left := e.marks(uri, 0); len(left) != 0 {
		t.Errorf("closed, it still has %v", left)
	}
	e.leave(0)
}

// names writes symbols with their lines, one below the other.
func names(symbols any, indent string) string {
	var b strings.Builder
	all, _ := symbols.([]any)
	for _, s := range all {
		m := s.(object)
		r := m["range"].(object)
		line := func(end string) float64 { return r[end].(object)["line"].(float64) }
		fmt.Fprint(&b, indent, m["name"])
		if m["detail"] != nil {
			fmt.Fprintf(&b, " (%s)", m["detail"])
		}
		fmt.Fprintf(&b, " %.0f-%.0f\n", line("start"), line("end")-1)
		b.WriteString(names(m["children"], indent+"  "))
	}
	return b.String()
}

func lspMachine(t *testing.T, start starter) {
	dir := t.TempDir()
	write := func(name, text string) {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	uri := "file://" + filepath.ToSlash(filepath.Join(dir, "part.ngc"))
	const program = "%\nG70\nM30\n%\n" // inches of a tape-era control; bed-mill has no G70
	e := start(t)
	e.initialize(nil)
	e.open(uri, program)
	marks := e.marks(uri, 1)
	if len(marks) != 1 || marks[0].Code != "no-machine" || marks[0].Severity != 3 || !strings.Contains(marks[0].Message, "TAPEFIT MACHINE") {
		t.Fatalf("without a machine: %v", marks)
	}
	act := e.actions(uri, 0, 0)["This program is for bed-mill: "+titleOf(t, "bed-mill")]
	if act == nil {
		t.Fatal("nothing offers to name the machine")
	}
	named := applied(t, program, act)
	if !strings.HasPrefix(named, "%\n(TAPEFIT MACHINE bed-mill)\n") {
		t.Errorf("named, it is %q", named)
	}
	ours := t.TempDir()
	if err := os.WriteFile(filepath.Join(ours, "turret.toml"), []byte("name = \"turret\"\ntitle = \"The one by the door\"\nextends = \"bed-mill\"\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	own := start(t, "--profiles", ours)
	own.initialize(nil)
	const headed = "(PART 17)\n" + program // the mark is not in the first line
	own.open(uri, headed)
	if marks := own.marks(uri, 1); len(marks) != 1 || !strings.Contains(marks[0].Message, "tape-era, turret;") {
		t.Errorf("with a folder of profiles: %v", marks)
	}
	act = own.actions(uri, 0, 0)["This program is for turret: The one by the door"]
	if act == nil {
		t.Fatal("nothing offers the machine of the folder")
	}
	if text := applied(t, headed, act); text != "(PART 17)\n%\n(TAPEFIT MACHINE turret)\nG70\nM30\n%\n" {
		t.Errorf("named, it is %q", text)
	} else {
		own.replace(uri, 2, text)
		if found := codes(own.marks(uri, 2)); !slices.Equal(found, []string{"code-not-accepted"}) {
			t.Errorf("named, it has %v", found)
		}
	}
	said := func(version int, text, want string) {
		t.Helper()
		e.replace(uri, version, text)
		if found := codes(e.marks(uri, version)); !slices.Contains(found, want) && want != "" || want == "" && len(found) > 0 {
			t.Errorf("version %d: %v, want %q", version, found, want)
		}
	}
	said(2, named, "code-not-accepted")
	e.notify("workspace/didChangeConfiguration", object{"settings": object{"tapefit": object{"machine": "bed-mill"}}})
	said(3, program, "code-not-accepted")
	write(".tapefit.toml", "machine = \"knee-mill\"\n")
	said(4, program, "") // the folder goes before the settings
	said(5, named, "code-not-accepted")
	said(6, strings.Replace(named, "bed-mill", "bad-mill", 1), "bad-machine")
	write(".tapefit.toml", "machine = \"./own.toml\"\n")
	write("own.toml", "name = \"own\"\ntitle = \"Ours\"\nextends = \"tape-era\"\n")
	said(7, program, "")
	write("own.toml", "name = \"own\"\ntitel = \"Ours\"\n")
	e.notify("textDocument/didSave", object{"textDocument": object{"uri": uri}})
	if found := e.marks(uri, 7); len(found) != 1 || !strings.Contains(found[0].Message, "own.toml:2") {
		t.Errorf("a broken profile: %v", found)
	}
	write(".tapefit.toml", "machin = \"knee-mill\"\n")
	e.replace(uri, 8, program)
	if found := e.marks(uri, 8); len(found) != 1 || !strings.Contains(found[0].Message, ".tapefit.toml:1: machin: no such key") {
		t.Errorf("a broken file in the folder: %v", found)
	}
	e.leave(0)
}

// Work offsets count on the machine that they are said of, and change what is found
// at once.
func lspOffsets(t *testing.T, start starter) {
	dir := t.TempDir()
	uri := "file://" + filepath.ToSlash(filepath.Join(dir, "part.ngc"))
	const program = "%\nG20 G90\nG53 G0 Z0\nG55 G0 X5. Y0\nM30\n%\n"
	e := start(t, "--machine", "bed-mill", "--offset", "G55 X99in Y8in Z-16in")
	e.initialize(nil)
	version := 0
	said := func(text, want string) {
		t.Helper()
		if version++; version == 1 {
			e.open(uri, text)
		} else {
			e.replace(uri, version, text)
		}
		all := e.marks(uri, version)
		if found := codes(all); !slices.Contains(found, want) && want != "" || want == "" && slices.Contains(found, "travel-exceeded") {
			t.Errorf("version %d: %v, want %q", version, all, want)
		}
	}
	said(program, "travel-exceeded") // X 104 in on a table of less
	folder := func(text string) {
		if err := os.WriteFile(filepath.Join(dir, ".tapefit.toml"), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	folder("machine = \"bed-mill\"\noffset = [\"G55 X10in Y8in Z-16in\"]\n")
	said(program, "") // the folder goes before the flag
	folder("machine = \"knee-mill\"\noffset = [\"G55 X10in\"]\n")
	said("%\n(TAPEFIT MACHINE bed-mill)\n"+program[2:], "travel-exceeded") // that is another machine's
	folder("offset = [\"G55 X10\"]\n")
	said(program, "bad-machine")
	e.notify("workspace/didChangeConfiguration", object{"settings": object{"offset": []string{"G55 X10in Y8in Z-16in"}}})
	folder("offset = []\n")
	said(program, "")
	e.leave(0)
}

func titleOf(t *testing.T, name string) string {
	t.Helper()
	m, err := find(name, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	return m.Title
}

// Places are in UTF-16 and lines end as they end.
func lspPositions(t *testing.T, start starter) {
	e := start(t, "--machine", "rs274ngc")
	e.initialize(object{})
	for i, end := range []string{"\n", "\r\n", "\r"} {
		uri := fmt.Sprintf("untitled:%d", i)
		text := strings.ReplaceAll("(FR\u00c4SEN \U0001F527)\nG0 X1\n(\U0001F527) G1 X2 R2 F10\nM2\n", "\n", end)
		e.open(uri, text)
		found := e.marks(uri, 1)
		if len(found) == 0 || !slices.ContainsFunc(found, func(m mark) bool { return m.String() == "2:11-2:13 word-not-used" }) {
			t.Errorf("lines that end in %q: %v", end, found)
		}
		// R2, by its place in UTF-16, is taken out.
		at := func(c int) object { return object{"line": 2, "character": c} }
		e.notify("textDocument/didChange", object{"textDocument": object{"uri": uri, "version": 2},
			"contentChanges": []any{object{"range": object{"start": at(11), "end": at(14)}, "text": ""}}})
		if found := e.marks(uri, 2); slices.Contains(codes(found), "word-not-used") {
			t.Errorf("lines that end in %q, mended: %v", end, found)
		}
	}
	e.leave(0)
}

func lspWrongOrder(t *testing.T, start starter) {
	e := start(t)
	e.refused("textDocument/hover", place("file:///a", 0, 0), -32002)
	e.open("file:///a", "M2\n") // is passed over
	e.initialize(nil)
	e.refused("initialize", object{"capabilities": object{}}, -32600)
	e.refused("textDocument/unheardOf", object{}, -32601)
	e.notify("textDocument/unheardOf", object{})
	e.notify("$/setTrace", object{"value": "off"})
	e.refused("textDocument/hover", []any{1}, -32602)
	e.raw("Content-Length: 9\r\n\r\n{\"id\": 1]")
	e.refusal("<nil>", "broken JSON", -32700)
	e.raw("Content-Type: text/plain\r\ncontent-length: 2\r\n\r\n{}")
	e.refusal("<nil>", "no method", -32600)
	if got := e.request("textDocument/hover", place("file:///none", 0, 0)); got != nil {
		t.Errorf("a program that is not open has the hover %v", got)
	}
	e.notify("textDocument/didChange", object{"textDocument": object{"uri": "file:///none", "version": 2}, "contentChanges": []any{object{"text": ""}}})
	e.open("file:///b", "M2\n")
	e.marks("file:///b", 1)
	if got := e.request("textDocument/hover", place("file:///b", 99, 99)); got != nil {
		t.Errorf("without a machine there is the hover %v", got)
	}
	e.request("shutdown", nil)
	e.refused("textDocument/hover", place("file:///b", 0, 0), -32600)
	e.notify("exit", nil)
	e.ends(0)
}

func lspEnds(t *testing.T, start starter) {
	for _, c := range []struct {
		name, sends string
		status      int
	}{
		{"exit without shutdown", "Content-Length: 17\r\n\r\n{\"method\":\"exit\"}", 1},
		{"the editor is gone", "", 1},
		{"no length", "Content-Type: x\r\n\r\n{}", 2},
		{"a length that is none", "Content-Length: -4\r\n\r\n{}", 2},
		{"no field", "hello\r\n\r\n", 2},
		{"cut off", "Content-Length: 99\r\n\r\n{}", 2},
		{"an endless header", strings.Repeat("x", 20000), 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			e := start(t)
			io.WriteString(e.in, c.sends) // the server may be gone before it is all written
			e.in.Close()
			e.ends(c.status)
		})
	}
}

// Of edits that come faster than checks the last one counts.
func lspTyping(t *testing.T, start starter) {
	e := start(t, "--machine", "rs274ngc")
	e.initialize(nil)
	const uri = "untitled:typed"
	long := strings.Repeat("G1 X1. F100\nX2.\n", 20000)
	e.open(uri, long+"M2\n")
	for v := 2; v <= 30; v++ {
		at := object{"line": 7, "character": 0}
		e.notify("textDocument/didChange", object{"textDocument": object{"uri": uri, "version": v},
			"contentChanges": []any{object{"range": object{"start": at, "end": at}, "text": "G64 R1\n"}}})
	}
	found := e.marks(uri, 30)
	if !slices.ContainsFunc(found, func(m mark) bool {
		return m.Code == "word-not-used" && strings.Contains(m.Message, "29 times, from line 8 to 36")
	}) {
		t.Errorf("found %v", found)
	}
	e.leave(0)
}
