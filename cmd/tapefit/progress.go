package main

import (
	"fmt"
	"io"
	"os"
	"strings"

	"golang.org/x/term"
)

// A progress is a line on a terminal that says how far a run is. A nil one does
// nothing.
type progress struct {
	w           io.Writer
	width       int
	done, total int
	shown       int // columns that have to be cleared
}

// progress makes the line for so many programs; nil where standard error is no
// terminal, or there is nothing to wait for.
func (a *app) progress(total int) *progress {
	f, ok := a.stderr.(*os.File)
	if !ok || total < 2 || os.Getenv("TERM") == "dumb" || !term.IsTerminal(int(f.Fd())) {
		return nil
	}
	width, _, err := term.GetSize(int(f.Fd()))
	if err != nil || width <= 0 {
		width = 80
	}
	p := &progress{w: f, width: width, total: total}
	p.draw()
	return p
}

// clear takes the line away, so that others can be written.
func (p *progress) clear() {
	if p != nil && p.shown > 0 {
		fmt.Fprintf(p.w, "\r%*s\r", p.shown, "")
		p.shown = 0
	}
}

// step shows that one more is done.
func (p *progress) step() {
	if p != nil {
		p.done++
		p.draw()
	}
}

// barWidth is how wide the bar is where there is room.
const barWidth = 40

func (p *progress) draw() {
	line := fmt.Sprintf("%d of %d programs", p.done, p.total)
	if room := min(barWidth, p.width-len(line)-len(" [] ")); room > 0 {
		full := room * p.done / p.total
		line = "[" + strings.Repeat("#", full) + strings.Repeat(" ", room-full) + "] " + line
	}
	if len(line) < p.width { // a full line would wrap, and could not be cleared
		fmt.Fprint(p.w, line)
		p.shown = len(line)
	}
}
