package main

import (
	"io"
	"os"
	"strconv"

	"golang.org/x/term"

	"tapefit/internal/report"
)

// fileWidth is the width of text that goes to no terminal, but to a file or a
// pipe. A shell may hand its own width on in COLUMNS: what is piped must not hang on
// the window it is piped in, so widthVariable says another.
const (
	fileWidth     = 100
	widthVariable = "TAPEFIT_WIDTH"
)

// text makes the writer of reports for people.
func (a *app) text() *report.Text { return a.textTo(a.stdout) }

// textTo makes a writer for people on standard output or standard error.
func (a *app) textTo(w io.Writer) *report.Text {
	width, variable := fileWidth, widthVariable
	f, terminal := terminalOf(w)
	if terminal {
		variable = "COLUMNS"
		if w, _, err := term.GetSize(int(f.Fd())); err == nil && w > 0 {
			width = w
		}
	}
	if w, err := strconv.Atoi(os.Getenv(variable)); err == nil && w > 0 {
		width = w
	}
	return report.NewText(w, width, terminal && a.coloured())
}

// terminalOf says whether what is written goes to a terminal, and to which.
func terminalOf(w io.Writer) (*os.File, bool) {
	f, ok := w.(*os.File)
	return f, ok && term.IsTerminal(int(f.Fd()))
}

// coloured says whether a terminal may be given colours. NO_COLOR counts where
// it is set and not empty.
func (a *app) coloured() bool {
	return !a.noColor && os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb"
}
