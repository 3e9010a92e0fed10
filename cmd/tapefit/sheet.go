package main

import (
	"github.com/spf13/cobra"

	"tapefit/internal/report"
)

func (a *app) sheetCommand() *cobra.Command {
	var walk walkFlags
	var out string
	cmd := &cobra.Command{
		Use:   "sheet PROGRAM... --machine NAME|FILE.toml",
		Short: "Write the setup sheet for the machine's side, to be printed",
		Long: `Sheet writes what the person at the machine needs on one or two sheets of A4 or
Letter paper, as a page that any browser prints: the tools in order of use with
their lengths and offsets, the work zeros and a picture of how far the cuts go
from them, which tool cuts in which gear, the stops and what to do there, and a
place to sign off the dry run. What the profile knows is printed; what only the
machine can tell is an empty box. What this machine would refuse stands on top.

The program's own words are taken over: the comments at its head, and those near
tool changes and stops.

With one program -o names the sheet, PROGRAM-sheet.html in this folder where it is
left out; the folder that it is to lie in must be there. With several -o names a
folder, which is made if it is not there, with a sheet for each. Sheets that are
there are written anew.

Exit status: 0 nothing at level error, 1 something at level error, 2 wrong usage,
an unreadable file or a bad profile. A sheet is not a promise: dry run above the
part, single block, a hand on feed hold.`,
		Example: `  tapefit sheet testdata/shop/programs/gland-plate-proven.ngc --machine bed-mill -o gland-plate-sheet.html
  tapefit sheet testdata/shop/tape --machine knee-mill -o sheets`,
		Args: needPrograms,
		RunE: func(cmd *cobra.Command, args []string) error {
			j, err := a.job(&walk)
			if j == nil {
				return err
			}
			pages, err := a.pages(args, out, "-sheet.html")
			if err != nil {
				return err
			}
			a.report(cmd.Context(), pages, *j, report.Sheet)
			return nil
		},
	}
	walk.add(cmd)
	cmd.Flags().StringVarP(&out, "out", "o", "", "the `FILE.html` to write, or of several programs the folder")
	return cmd
}
