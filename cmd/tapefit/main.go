// Command tapefit says at the desk what a machine would refuse, do wrongly or
// do slowly in a part program, and how long the job takes there. This package
// is the command line: flags, files and printing. What is checked lies in
// rules, what is printed in internal/report.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"os/signal"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"
	"unicode"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"tapefit/profiles"
)

func main() {
	cobra.EnableCommandSorting = false // help lists them in the order of rootCommand
	os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}

// Exit statuses, in rising order: the highest that was earned is given.
const (
	statusClear  = iota // nothing at level error
	statusFound         // something at level error
	statusFailed        // usage, unreadable file, bad profile
)

// An app is one run of the command.
type app struct {
	stdin          io.Reader
	stdinRead      atomic.Bool
	held           source // standard input, while it is read more than once
	heldSize       int64
	stdout, stderr io.Writer
	noColor        bool
	broken         bool // output has failed
	status         int
	failed         func(path string, err error) // is told of failures too; nil where the report has no place for them
}

// run is the whole command; it gives the exit status.
func run(args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop) // a second Ctrl-C ends at once

	a := &app{stdin: stdin, stdout: stdout, stderr: stderr}
	root := a.rootCommand()
	root.SetArgs(args)
	root.SetOut(stdout)
	root.SetErr(stderr)
	// Commands report their own failures, with fail; what comes back as an
	// error is wrong usage.
	if cmd, err := root.ExecuteContextC(ctx); err != nil {
		if a.fail(err); cmd.Name() == "help" {
			cmd = root
		}
		fmt.Fprintf(stderr, "run \"%s --help\"\n", cmd.CommandPath())
	}
	return a.status
}

func (a *app) rootCommand() *cobra.Command {
	root := &cobra.Command{
		Use:   "tapefit",
		Short: "What an old machine would refuse, do wrongly or do slowly in a part program",
		Long: `tapefit reads part programs (G-code) and the profile of a machine, and says at
the desk what that machine would refuse, do wrongly or do slowly, and how long
the job takes there.

It knows what the profile tells it and nothing of the part, the clamps or the
tool in your hand. It never calls a program safe. Prove every program out: dry
run above the part, single block, a hand on feed hold.`,
		Example: `  tapefit check testdata/shop/programs --machine bed-mill
  tapefit time testdata/shop/programs/volute-throat-finish.ngc --machine bed-mill
  tapefit machines bed-mill
  tapefit rules speed-straddles-gear`,
		SilenceErrors: true,
		SilenceUsage:  true,
		// A script whose command got lost must not take silence for a check.
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return nil
			}
			return unknownCommand(cmd, args[0])
		},
		RunE: func(cmd *cobra.Command, _ []string) error {
			fmt.Fprintln(a.stderr, cmd.Long)
			fmt.Fprint(a.stderr, "\n", cmd.UsageString(), "\n")
			return errors.New("no command given")
		},
	}
	root.SuggestionsMinimumDistance = 2
	root.CompletionOptions.HiddenDefaultCmd = true
	root.PersistentFlags().BoolVar(&a.noColor, "no-color", false, "no colours, also on a terminal (as NO_COLOR in the environment)")
	// In the order in which they come to be used.
	root.AddCommand(a.checkCommand(), a.timeCommand(), a.reportCommand(), a.sheetCommand(), a.watchCommand(), a.lspCommand(),
		a.adaptCommand(), a.quoteCommand(), a.routeCommand(), a.calibrateCommand(), a.machinesCommand(), a.rulesCommand(), a.traceCommand())
	root.SetHelpCommand(helpCommand(root))
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		if c == root && c.Flags().NArg() > 0 { // a flag of the command that was meant
			return unknownCommand(root, c.Flags().Arg(0))
		}
		if name, found := strings.CutPrefix(err.Error(), "unknown flag: --"); found {
			return fmt.Errorf("%w%s", err, nearestFlag(c, name))
		}
		var number *strconv.NumError // its text is for programmers
		if text, _, found := strings.Cut(err.Error(), ": strconv."); found && errors.As(err, &number) {
			if errors.Is(err, strconv.ErrRange) {
				return fmt.Errorf("%s: write a whole number, not larger than %d", text, math.MaxInt64)
			}
			return fmt.Errorf("%s: write a whole number", text)
		}
		return err
	})
	return root
}

// nearestFlag asks whether a flag of the command was meant.
func nearestFlag(c *cobra.Command, name string) string {
	var known []string
	c.Flags().VisitAll(func(f *pflag.Flag) {
		if !f.Hidden {
			known = append(known, "--"+f.Name)
		}
	})
	return profiles.DidYouMean("--"+name, known)
}

// helpCommand shows the help of a command, and fails where there is none of the
// name.
func helpCommand(root *cobra.Command) *cobra.Command {
	return &cobra.Command{
		Use:   "help [COMMAND]",
		Short: "Tell about a command",
		RunE: func(_ *cobra.Command, args []string) error {
			of, rest, err := root.Find(args)
			if of == nil || err != nil || len(rest) > 0 {
				return unknownCommand(root, strings.Join(args, " "))
			}
			of.InitDefaultHelpFlag()
			return of.Help()
		},
	}
}

// unknownCommand names the nearest there are.
func unknownCommand(root *cobra.Command, name string) error {
	hint := ""
	if near := root.SuggestionsFor(name); len(near) > 0 {
		hint = ": did you mean " + strings.Join(near, " or ") + "?"
	}
	return fmt.Errorf("unknown command %q%s", name, hint)
}

// raise sets the exit status, unless it is higher already.
func (a *app) raise(status int) { a.status = max(a.status, status) }

// fail reports a failure of the run. Errors of a profile have a line each.
func (a *app) fail(err error) { a.failAt("", err) }

// failAt reports a failure with one program, or with none where path is "".
func (a *app) failAt(path string, err error) {
	a.raise(statusFailed)
	if a.failed != nil {
		a.failed(path, err)
	}
	a.say(err)
}

// say tells of what went wrong and does not fail the run.
func (a *app) say(err error) {
	for line := range strings.SplitSeq(strings.TrimSpace(err.Error()), "\n") {
		line = strings.Map(printable, line)
		if !strings.HasPrefix(line, " ") { // else what the line before shows
			line = "tapefit: " + line
		}
		fmt.Fprintln(a.stderr, line)
	}
}

// printable keeps names of files from steering the terminal.
func printable(r rune) rune {
	if unicode.IsGraphic(r) {
		return r
	}
	return unicode.ReplacementChar
}

// written says whether output went well. A reader that has gone away, such as
// head, wants no more of it and no complaint.
func (a *app) written(err error) bool {
	switch {
	case err == nil:
		return true
	case a.broken: // and said so
		return false
	case errors.Is(err, syscall.EPIPE), errors.Is(err, io.ErrClosedPipe):
		a.raise(statusFailed)
	default:
		a.fail(fmt.Errorf("writing: %w", err))
	}
	a.broken = true
	return false
}
