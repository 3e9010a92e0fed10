package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"tapefit/profiles"
)

func (a *app) machinesCheckCommand() *cobra.Command {
	var folders []string
	cmd := &cobra.Command{
		Use:   "check FILE.toml...",
		Short: "Say everything that is wrong with profiles, each fault at its line",
		Long: `Check reads profiles, with all that they extend, and prints every fault as
FILE:LINE: KEY: what is wrong and what is accepted, so that an editor can go
there. Of text that is no TOML it can tell the first fault only. A machine's
name will do in the place of a file.

It tells whether a profile can be used, not whether it is true: run programs on
it that you have proven.

Exit status: 0 nothing wrong, 2 something wrong or unreadable.`,
		Example: `  tapefit machines check ./my-mill.toml
  tapefit machines check shop/*.toml`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) == 0 {
				return errors.New("no profile given: name files")
			}
			return nil
		},
		RunE: func(_ *cobra.Command, args []string) error {
			search, ok := a.folders(folders)
			if !ok {
				return nil
			}
			for _, name := range args {
				if !a.checkProfile(name, search) {
					break
				}
			}
			return nil
		},
	}
	addProfiles(cmd, &folders)
	return cmd
}

// checkProfile prints the faults of one profile. It gives false when output has
// failed.
func (a *app) checkProfile(name string, folders []string) bool {
	m, err := profiles.Find(name, folders)
	var fault *profiles.Error
	switch {
	case err != nil && !errors.As(err, &fault): // there is no profile to complain of
		a.fail(err)
		return true
	case err == nil:
		err = checkBeside(m)
	}
	text := name + ": nothing wrong"
	if err != nil {
		a.raise(statusFailed)
		text = err.Error()
	}
	for line := range strings.SplitSeq(text, "\n") {
		if _, err := fmt.Fprintln(a.stdout, strings.Map(printable, line)); !a.written(err) {
			return false
		}
	}
	return true
}
