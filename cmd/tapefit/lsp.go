package main

import (
	"errors"
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"

	"tapefit/internal/lsp"
)

func (a *app) lspCommand() *cobra.Command {
	var f shopFlags
	var maxBlocks int64
	var offsets offsetTexts
	cmd := &cobra.Command{
		Use:   "lsp",
		Short: "A language server: an editor shows findings while a program is typed",
		Long: `Lsp speaks the Language Server Protocol (3.17) over standard input and output:
an editor starts it and shows what is found while a program is typed, what a code
does on the machine and what is in force at a block. It offers to mend a finding or
to silence it with a reason, lists tools and operations, folds them, and goes to
subprograms and the targets of jumps.

The machine of a program is named by the first of these that there is:
  a comment in the program           (TAPEFIT MACHINE bed-mill)
  a file ` + lsp.FolderFile + ` in its folder,     machine = "bed-mill"
  or in the nearest one above        profiles = ["profiles"]
  the editor's settings              {"machine": "bed-mill", "profiles": ["/shop/profiles"]}
  --machine
In ` + lsp.FolderFile + ` a machine may be a file, ./my-mill.toml, and paths start from its
folder. Where work lies on that machine is said beside it, in the file and in the
settings under offset, a list: ["G54 X12in Y8in Z-18in"], or with --offset. Of a
code that is said more than once the first counts, in the order above. Settings come as initializationOptions or by workspace/didChangeConfiguration,
there also under "tapefit". Profiles are read again when a program is opened or saved.

Exit status: 0 after shutdown and exit, 1 where the editor went without, 2 wrong
usage, or an editor that does not keep to the protocol.`,
		Example: `  tapefit lsp
  tapefit lsp --machine bed-mill --profiles /shop/profiles`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) > 0 {
				return fmt.Errorf("lsp takes no program: the editor sends it; %d are named", len(args))
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, _ []string) error {
			if maxBlocks <= 0 {
				return errors.New("--max-blocks must be 1 or more")
			}
			folders, ok := a.folders(f.folders)
			if !ok {
				return nil
			}
			for i := range folders {
				if abs, err := filepath.Abs(folders[i]); err == nil {
					folders[i] = abs
				}
			}
			base := lsp.Settings{Machine: f.machine, Profiles: folders, Offsets: offsets.texts, Values: f.settings, MaxBlocks: maxBlocks}
			if base.Machine != "" {
				m, err := find(base.Machine, folders, f.settings)
				if err != nil {
					a.fail(err)
					return nil
				}
				if _, err := offsets.of.on(m); err != nil {
					return err
				}
			}
			clean, err := lsp.Serve(cmd.Context(), a.stdin, a.stdout, base)
			if err != nil {
				a.fail(fmt.Errorf("lsp: %w", err))
			} else if !clean {
				a.raise(statusFound)
			}
			return nil
		},
	}
	f.add(cmd)
	cmd.Flags().Var(&offsets, "offset", "where work lies on --machine, as for check: \"G54 X12in Y8in Z-18in\"; may be repeated")
	cmd.Flags().Int64Var(&maxBlocks, "max-blocks", lsp.DefaultMaxBlocks, "stop a program that loops after `N` executed blocks and operations")
	return cmd
}

// offsetTexts are work offsets as they were written.
type offsetTexts struct {
	of    offsetFlags
	texts []string
}

func (f *offsetTexts) String() string { return "" }
func (f *offsetTexts) Type() string   { return "offset" }

func (f *offsetTexts) Set(text string) error {
	f.texts = append(f.texts, text)
	return f.of.Set(text)
}
