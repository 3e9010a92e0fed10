package lsp

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"sync"
)

// Bounds of what a client may send. A program of mostMessage bytes has some two
// million blocks.
const (
	mostMessage = 64 << 20 // bytes of one message
	mostHeader  = 8 << 10  // bytes of the header of one
	mostAtOnce  = 4 << 20  // bytes of one for which there is room before they come
)

// errTooLong is a message over mostMessage: it was read past.
var errTooLong = fmt.Errorf("a message of more than %d MiB was not read", mostMessage>>20)

// A conn is the base protocol of LSP 3.17: a header with Content-Length, an empty
// line, and a body of JSON.
type conn struct {
	in *bufio.Reader

	writing sync.Mutex // of out and err
	out     io.Writer
	err     error // of out, once it has one
}

func newConn(in io.Reader, out io.Writer) *conn {
	return &conn{in: bufio.NewReaderSize(in, mostHeader), out: out}
}

// read gives the body of the next message. At the end between messages the error
// is io.EOF. After errTooLong the next message can be read; after any other error
// none can, since nobody knows where it begins.
func (c *conn) read() ([]byte, error) {
	n, err := c.header()
	if err != nil {
		return nil, err
	}
	if n > mostMessage {
		if _, err := io.CopyN(io.Discard, c.in, n); err != nil {
			return nil, cut(err)
		}
		return nil, errTooLong
	}
	var body bytes.Buffer // it grows with what comes, whatever the header says
	body.Grow(int(min(n, mostAtOnce)) + bytes.MinRead)
	if _, err := io.CopyN(&body, c.in, n); err != nil {
		return nil, cut(err)
	}
	return body.Bytes(), nil
}

// cut is an error in the midst of a message: an end there is none that was meant.
func cut(err error) error {
	if err == io.EOF {
		err = io.ErrUnexpectedEOF
	}
	return fmt.Errorf("reading a message: %w", err)
}

// header reads the header and gives the length of the body.
func (c *conn) header() (length int64, err error) {
	length = -1
	for total := 0; ; {
		line, err := c.in.ReadSlice('\n')
		total += len(line)
		switch {
		case err == io.EOF && total == 0:
			return 0, io.EOF
		case errors.Is(err, bufio.ErrBufferFull) || total > mostHeader:
			return 0, fmt.Errorf("the header of a message is longer than %d bytes", mostHeader)
		case err != nil:
			return 0, cut(err)
		}
		text := strings.TrimRight(string(line), "\r\n")
		if text == "" {
			if length < 0 {
				return 0, errors.New("a message has no Content-Length in its header")
			}
			return length, nil
		}
		name, value, ok := strings.Cut(text, ":")
		if !ok {
			return 0, fmt.Errorf("a message has %.40q in its header, which is no field", text)
		}
		if strings.EqualFold(name, "Content-Length") {
			length, err = strconv.ParseInt(strings.TrimSpace(value), 10, 64)
			if err != nil || length < 0 {
				return 0, fmt.Errorf("a message has the Content-Length %.40q, which is no number of bytes", value)
			}
		}
	}
}

// write sends a message. After the first failure nothing more is sent.
func (c *conn) write(m any) {
	body, err := json.Marshal(m)
	c.writing.Lock()
	defer c.writing.Unlock()
	if c.err == nil {
		c.err = err
	}
	if c.err != nil {
		return
	}
	if _, err := fmt.Fprintf(c.out, "Content-Length: %d\r\n\r\n%s", len(body), body); err != nil {
		c.err = fmt.Errorf("writing: %w", err)
	}
}

// failure is the first failure of writing.
func (c *conn) failure() error {
	c.writing.Lock()
	defer c.writing.Unlock()
	return c.err
}
