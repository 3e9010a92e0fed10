package main

import (
	"errors"

	"github.com/spf13/cobra"

	"tapefit/profiles"
)

func (a *app) machinesCommand() *cobra.Command {
	var folders, settings []string
	var schema bool
	cmd := &cobra.Command{
		Use:   "machines [NAME|FILE.toml]",
		Short: "List the machines, or show the data sheet of one",
		Long: `Machines lists the profiles that --machine takes by name: the embedded ones and
those in your own folders. With a name or a file it prints the data sheet of
one: what its control accepts, its limits and gears, and the file and line that
each value comes from.

A profile is a TOML file. "tapefit machines new" begins your own; or write one
with extends = "bed-mill" or another name of this list and only what differs.

To ask what if, --set puts a value over the profile's for one run, here and in
check, time and trace. Its path is written as errors write it (axes.x.travel,
codes.G38.2, spindle.gears[0].speed, items counted from 0), its value as in a
file; where the shell takes the quotes of a text, that is no matter. What is set
is checked like a file, so values that must agree are set together. The sheet
shows --set as the place they come from.

--schema prints the JSON Schema (draft 2020-12) of profiles: an editor that
knows it completes keys and codes, shows what they mean, and marks what is
wrong. It sees one file and no base; "tapefit machines check" sees all.`,
		Example: `  tapefit machines
  tapefit machines bed-mill
  tapefit machines ./my-mill.toml
  tapefit machines --schema > profile.schema.json
  tapefit machines bed-mill --set axes.z.rapid="200 in/min" --set 'axes.x.travel=["0 in", "50 in"]'`,
		Args: atMostOne("machine"),
		RunE: func(_ *cobra.Command, args []string) error {
			if schema {
				return a.printSchema(len(args) > 0 || len(settings) > 0)
			}
			if len(args) == 0 && len(settings) > 0 {
				return errors.New("--set is for one machine: name it")
			}
			search, ok := a.folders(folders)
			if !ok {
				return nil
			}
			if len(args) == 0 {
				a.listMachines(search)
				return nil
			}
			m, err := find(args[0], search, settings)
			if err != nil {
				a.fail(err)
				return nil
			}
			a.written(a.text().Machine(m))
			return nil
		},
	}
	addProfiles(cmd, &folders)
	addSettings(cmd, &settings)
	cmd.Flags().BoolVar(&schema, "schema", false, "print the JSON Schema of profiles, for editors")
	cmd.AddCommand(a.machinesCheckCommand(), a.machinesNewCommand())
	return cmd
}

// printSchema prints the schema of profiles, which is that of none in particular.
func (a *app) printSchema(named bool) error {
	if named {
		return errors.New("--schema is of all profiles: name no machine, and no --set")
	}
	schema, err := profiles.Schema()
	if err != nil {
		a.fail(err)
		return nil
	}
	_, err = a.stdout.Write(schema)
	a.written(err)
	return nil
}

func (a *app) listMachines(folders []string) {
	out := a.text()
	if !a.written(out.Machines("in the library", profiles.Library())) {
		return
	}
	for _, folder := range folders {
		if !a.written(out.Machines("in "+folder, a.entries(folder))) {
			return
		}
	}
}

// entries are the profiles in a folder. One that can't be used is reported.
func (a *app) entries(folder string) []profiles.Entry {
	entries, errs := profiles.InFolder(folder)
	for _, err := range errs {
		a.fail(err)
	}
	return entries
}
