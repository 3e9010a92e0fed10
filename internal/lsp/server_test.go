package lsp

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"testing"
	"time"

	"tapefit/profiles"
)

func framed(body string) string {
	return fmt.Sprintf("Content-Length: %d\r\n\r\n%s", len(body), body)
}

func TestTooLong(t *testing.T) {
	in := io.MultiReader(
		strings.NewReader(fmt.Sprintf("Content-Length: %d\r\n\r\n", mostMessage+1)), io.LimitReader(zeros{}, mostMessage+1),
		strings.NewReader(framed(`{"id":1,"method":"initialize","params":{}}`)))
	c := newConn(in, io.Discard)
	if _, err := c.read(); err != errTooLong {
		t.Fatalf("got %v, want %v", err, errTooLong)
	}
	if body, err := c.read(); err != nil || !bytes.Contains(body, []byte("initialize")) {
		t.Errorf("behind it came %q, %v", body, err)
	}
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) {
	clear(p)
	return len(p), nil
}

// A header that promises much makes no room for it.
func TestPromise(t *testing.T) {
	before := testing.AllocsPerRun(1, func() {
		c := newConn(strings.NewReader(fmt.Sprintf("Content-Length: %d\r\n\r\n{}", mostMessage)), io.Discard)
		if _, err := c.read(); err == nil {
			t.Error("a cut off message was read")
		}
	})
	if before > 100 {
		t.Errorf("%v allocations", before)
	}
}

func FuzzFrame(f *testing.F) {
	for _, s := range []string{
		framed(`{"id":1,"method":"initialize","params":{}}`) + framed(`{"method":"exit"}`),
		"Content-Length: 3\r\n\r\nabc", "content-length : 2 \n\n{}", "\r\n\r\n", "Content-Length: 99999999999999999999\r\n\r\n", ":\n", "Content-Length: 1\r\nContent-Length: 2\r\n\r\n{}",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, sent []byte) {
		var out bytes.Buffer
		_, err := Serve(context.Background(), bytes.NewReader(sent), &out, Settings{})
		_ = err // any bytes end in an error or in none, and never in a panic
		c := newConn(&out, io.Discard)
		for {
			body, err := c.read()
			if err == io.EOF {
				return
			}
			if err != nil || !json.Valid(body) {
				t.Fatalf("what was answered is broken: %v %q", err, body)
			}
		}
	})
}

// FuzzSession sends every request about a text, whatever it is, and an edit.
func FuzzSession(f *testing.F) {
	for _, s := range []string{
		"%\nO1 (A)\n(TAPEFIT MACHINE knee-mill)\nT1 M6\nG81 X1. Z-1. R.1\nX2.\nG80\nM98 P1\nWHILE [#1 LT 5] DO1\n#1=[#1+1]\nEND1\nGOTO 7\nN7 M30\n%\n",
		"G1 X1 R2\rG2 X1 Y1\r\n(\xff\U0001F527", "", "%", "\x00\x00", "N1 GOTO 1", "(TAPEFIT MACHINE ../../x.toml)",
	} {
		f.Add(s, 3, 2, 1, 4, "X1\n")
	}
	f.Fuzz(func(t *testing.T, text string, line, character, toLine, toCharacter int, with string) {
		if len(text) > 2000 || strings.Contains(strings.ToLower(text+with), ".toml") {
			return
		}
		var in bytes.Buffer
		send := func(m map[string]any) {
			b, err := json.Marshal(m)
			if err != nil {
				t.Skip()
			}
			in.WriteString(framed(string(b)))
		}
		type object = map[string]any
		doc := object{"uri": "untitled:1", "version": 2}
		at, to := position{line, character}, position{toLine, toCharacter}
		asks := func(from int) {
			for i, method := range []string{"hover", "definition", "documentSymbol", "foldingRange", "codeAction"} {
				send(object{"id": from + i, "method": "textDocument/" + method, "params": object{"textDocument": doc, "position": at, "range": span{at, to}}})
			}
		}
		send(object{"id": 0, "method": "initialize", "params": object{"initializationOptions": object{"machine": "bed-mill"}}})
		send(object{"method": "textDocument/didOpen", "params": object{"textDocument": object{"uri": "untitled:1", "version": 1, "text": text}}})
		asks(10)
		send(object{"method": "textDocument/didChange", "params": object{"textDocument": doc, "contentChanges": []any{object{"range": span{at, to}, "text": with}}}})
		asks(20)
		ctx, stop := context.WithTimeout(context.Background(), 20*time.Second)
		defer stop()
		r, w := io.Pipe()
		answers := make(chan int, 1)
		go func() {
			n := 0
			c := newConn(r, io.Discard)
			for {
				body, err := c.read()
				if err != nil || !json.Valid(body) {
					answers <- n
					return
				}
				var m struct{ ID *int }
				if json.Unmarshal(body, &m); m.ID != nil {
					if n++; n == 11 {
						stop() // all is answered
					}
				}
			}
		}()
		// The server is left waiting for more, so that it answers all.
		Serve(ctx, io.MultiReader(&in, waiting{ctx}), w, Settings{MaxBlocks: 10_000})
		w.Close()
		if n := <-answers; n != 11 {
			t.Fatalf("%d answers of 11", n)
		}
	})
}

// waiting reads nothing until the context is done.
type waiting struct{ ctx context.Context }

func (w waiting) Read([]byte) (int, error) {
	<-w.ctx.Done()
	return 0, io.EOF
}

// Every meaning that a profile can give to a code is told in plain words.
func TestPlainly(t *testing.T) {
	for m := profiles.Meaning(0); m < 255 && m.String() != "unknown"; m++ {
		if plainly(m) == "" {
			t.Errorf("%s has no words", m)
		}
	}
}
