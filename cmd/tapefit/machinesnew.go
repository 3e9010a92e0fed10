package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"tapefit/profiles"
)

func (a *app) machinesNewCommand() *cobra.Command {
	answers := map[string]*string{}
	cmd := &cobra.Command{
		Use:   "new NAME",
		Short: "Write a commented profile to go on from",
		Long: `New asks a few questions about a machine and writes NAME.toml, a profile with
comments that say where the rest is to be found. An answer that cannot be is
asked again, with the reason. Each question has a flag, and what flags answer is
not asked. Where standard input is no terminal nothing is asked: flags must
answer what has no usual answer.

The file is never written over another. What was not answered is marked A GUESS,
and listed under [unsure], by which quotes have their range: measure it, with the
guards closed and no cabinet open.`,
		Example: `  tapefit machines new my-mill
  tapefit machines new my-mill --title "Mill by the door" --kind mill --display inch \
    --x-rapid "250 in/min" --y-rapid "250 in/min" --z-rapid "150 in/min" \
    --shift coded --gears "low 40 to 1100 rpm M41, high 800 to 4200 rpm M42" --pockets 16`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) != 1 {
				return errors.New("name the new machine: tapefit machines new my-mill")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			file := strings.TrimSuffix(args[0], ".toml") + ".toml"
			s, err := profiles.NewStarter(strings.TrimSuffix(filepath.Base(file), ".toml"))
			if err != nil {
				return err
			}
			if err := mayCreate(file); err != nil { // before a person has answered it all
				a.fail(err)
				return nil
			}
			for _, q := range profiles.Questions() {
				if !cmd.Flags().Changed(q.Key) {
					continue
				}
				if err := s.Answer(q.Key, *answers[q.Key]); err != nil {
					return fmt.Errorf("--%s: %w", q.Key, err)
				}
			}
			return a.newMachine(cmd.Context(), s, file)
		},
	}
	cmd.Flags().SortFlags = false // in the order of the questions
	for _, q := range profiles.Questions() {
		usage := q.Text
		if q.Default != "" {
			usage += fmt.Sprintf(" (else %s, a guess)", q.Default)
		}
		answers[q.Key] = cmd.Flags().String(q.Key, "", usage)
	}
	return cmd
}

// newMachine asks what is not answered yet, and writes the file.
func (a *app) newMachine(ctx context.Context, s *profiles.Starter, file string) error {
	in, ok := a.stdin.(*os.File)
	if ok && term.IsTerminal(int(in.Fd())) {
		if err := a.interview(ctx, s, linesOf(in)); err != nil {
			a.fail(err)
			return nil
		}
	} else if err := answeredByFlags(s); err != nil {
		return err
	}
	text, err := s.Text()
	if err == nil {
		err = writeNew(file, text)
	}
	if err != nil {
		a.fail(err)
		return nil
	}
	_, err = fmt.Fprintf(a.stdout, `%s is written. Read its comments and fill in the rest.
  tapefit machines check %[1]s    what is wrong with it, by line
  tapefit machines %[1]s          its data sheet
`, shellPath(file))
	a.written(err)
	return nil
}

// shellPath is the path of a file that is not taken for a machine's name.
func shellPath(file string) string {
	if filepath.Base(file) == file {
		return "." + string(filepath.Separator) + file
	}
	return file
}

// answeredByFlags says whether what has no usual answer was given by flags; the
// error names those that were not.
func answeredByFlags(s *profiles.Starter) error {
	with := map[string]string{"kind": " (and of a mill --y-rapid)", "shift": " (and --speed with none, --gears with others)"}
	var missing []string
	for _, key := range s.Missing() {
		missing = append(missing, "--"+key+with[key])
	}
	if len(missing) > 0 {
		return errors.New("standard input is no terminal, so nothing can be asked: answer by " + strings.Join(missing, ", "))
	}
	return nil
}

// interview asks the questions on standard error until each has an answer that
// can be.
func (a *app) interview(ctx context.Context, s *profiles.Starter, lines <-chan string) error {
	fmt.Fprintln(a.stderr, "An empty answer takes what stands in [ ]. Ctrl-C ends, and nothing is written.")
	for q, more := s.Next(); more; q, more = s.Next() {
		usual := ""
		if q.Default != "" {
			usual = " [" + q.Default + "]"
		}
		out := a.textTo(a.stderr)
		fmt.Fprintln(a.stderr)
		out.Paragraph(2, q.Key+": "+q.Text+usual)
		for _, line := range q.Choices {
			out.Paragraph(14, "  "+line)
		}
		fmt.Fprint(a.stderr, "> ")
		select {
		case <-ctx.Done():
			return errors.New("interrupted: nothing is written")
		case line, ok := <-lines:
			if !ok {
				fmt.Fprintln(a.stderr)
				return fmt.Errorf("the answers end before %s: nothing is written", q.Key)
			}
			if err := s.Answer(q.Key, line); err != nil {
				for line := range strings.SplitSeq(err.Error(), "\n") {
					out.Paragraph(2, strings.Map(printable, line))
				}
			}
		}
	}
	return nil
}

// linesOf reads lines as they are asked for, in the background so that Ctrl-C
// ends the waiting for one.
func linesOf(r io.Reader) <-chan string {
	lines := make(chan string)
	go func() {
		defer close(lines)
		for s := bufio.NewScanner(r); s.Scan(); {
			lines <- s.Text()
		}
	}()
	return lines
}

// mayCreate says whether a new file can have the name.
func mayCreate(file string) error {
	_, err := os.Lstat(file)
	switch {
	case err == nil:
		return fmt.Errorf("%s is there already and is not written over: give another name", file)
	case !errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("cannot write %s: %w", file, plainly(err))
	}
	return nil
}

// writeNew writes a file that is not there yet: under another name first, so
// that half a file never has this one.
func writeNew(file string, text []byte) (err error) {
	f, err := os.CreateTemp(filepath.Dir(file), ".tapefit-*.tmp")
	if err != nil {
		return fmt.Errorf("cannot write %s: %w", file, plainly(err))
	}
	defer func() {
		if err != nil {
			os.Remove(f.Name())
			err = fmt.Errorf("cannot write %s: %w", file, plainly(err))
		}
	}()
	_, err = f.Write(text)
	err = errors.Join(err, f.Chmod(0o644), f.Close())
	if err != nil {
		return err
	}
	if err := mayCreate(file); err != nil {
		return err
	}
	return os.Rename(f.Name(), file)
}
