package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"tapefit/internal/interp"
	"tapefit/profiles"
	"tapefit/rules"
)

// A format is how findings and times are written.
type format string

const (
	formText  format = "text"
	formJSON  format = "json"
	formSARIF format = "sarif"
	formCSV   format = "csv"
)

// formatFlag is one of the formats that a command has.
type formatFlag struct {
	value *format
	of    []format
}

// addFormat adds --format; the first of the formats is meant without it.
func addFormat(cmd *cobra.Command, value *format, of ...format) {
	*value = of[0]
	f := formatFlag{value, of}
	cmd.Flags().Var(f, "format", "what is written: "+f.choice())
}

func (f formatFlag) String() string { return string(*f.value) }
func (f formatFlag) Type() string   { return f.list("|") }

func (f formatFlag) Set(s string) error {
	if !slices.Contains(f.of, format(s)) {
		return errors.New("write " + f.choice())
	}
	*f.value = format(s)
	return nil
}

// choice is "text, json or sarif".
func (f formatFlag) choice() string {
	last := len(f.of) - 1
	return formatFlag{of: f.of[:last]}.list(", ") + " or " + string(f.of[last])
}

func (f formatFlag) list(between string) string {
	var all []string
	for _, form := range f.of {
		all = append(all, string(form))
	}
	return strings.Join(all, between)
}

func needPrograms(_ *cobra.Command, args []string) error {
	if len(args) == 0 {
		return errors.New("no program given: name files, folders, or - for standard input")
	}
	return nil
}

// shopFlags name the machine, say where profiles are, and what is other than
// they say.
type shopFlags struct {
	machine  string
	folders  []string
	settings []string
	named    map[string]string // flags, by the path of the setting that each is short for
}

func (f *shopFlags) add(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.machine, "machine", "", "the machine: a `NAME` of \"tapefit machines\", or its profile's FILE.toml")
	addProfiles(cmd, &f.folders)
	addSettings(cmd, &f.settings)
}

func addSettings(cmd *cobra.Command, settings *[]string) {
	cmd.Flags().StringArrayVar(settings, "set", nil, "what if: a `PATH=VALUE` over the profile's, such as axes.z.rapid=\"200 in/min\"; may be repeated")
}

// profilesVariable lists folders like PATH does.
const profilesVariable = "TAPEFIT_PROFILES"

func addProfiles(cmd *cobra.Command, folders *[]string) {
	cmd.Flags().StringArrayVar(folders, "profiles", nil, "a `DIR` with profiles of your own; may be repeated (also "+profilesVariable+", a list like PATH)")
}

// folders are those of the flags, then those of the environment. A flag must
// name a folder; the environment outlives folders and may not.
func (a *app) folders(flags []string) (all []string, ok bool) {
	ok = true
	for _, folder := range flags {
		if info, err := os.Stat(folder); err != nil {
			a.fail(fmt.Errorf("--profiles: %w", plainly(err)))
			ok = false
		} else if !info.IsDir() {
			a.fail(fmt.Errorf("--profiles: %s is a file: name its folder, or give the file to --machine", folder))
			ok = false
		}
	}
	return append(flags[:len(flags):len(flags)], filepath.SplitList(os.Getenv(profilesVariable))...), ok
}

// machine loads the machine. Without one, an error is wrong usage, and nil
// says that the failure was reported.
func (a *app) machine(f *shopFlags) (*profiles.Machine, error) {
	if f.machine == "" {
		return nil, errors.New(`no machine given: --machine NAME or --machine FILE.toml ("tapefit machines" lists the names)`)
	}
	folders, ok := a.folders(f.folders)
	if !ok {
		return nil, nil
	}
	m, err := find(f.machine, folders, f.settings)
	if err != nil {
		a.fail(byFlag(err, f.named))
		return nil, nil
	}
	return m, nil
}

// byFlag speaks of the flags that were given, where errors speak of the settings
// that they are short for.
func byFlag(err error, named map[string]string) error {
	all, ok := err.(interface{ Unwrap() []error })
	if !ok {
		return err
	}
	var said []error
	for _, one := range all.Unwrap() {
		var e *profiles.Error
		if errors.As(one, &e) && e.Line == 0 && named[e.Path] != "" {
			one = fmt.Errorf("%s: %s", named[e.Path], e.Message)
		}
		said = append(said, one)
	}
	return errors.Join(said...)
}

// find loads a machine, and checks what its profile has beside it.
func find(name string, folders, settings []string) (*profiles.Machine, error) {
	m, err := profiles.FindWith(name, folders, settings)
	if err != nil {
		return nil, err
	}
	return m, checkBeside(m)
}

// checkBeside reads what is no value of the machine, and so known further up:
// the program blocks in the profile, and the rules that it names.
func checkBeside(m *profiles.Machine) error {
	return errors.Join(interp.CheckProfile(m), rules.CheckProfile(m))
}

// walkFlags say how programs are walked: on which machine, where the work lies,
// and for how long.
type walkFlags struct {
	shopFlags
	offsets   offsetFlags
	maxBlocks int64
}

func (f *walkFlags) add(cmd *cobra.Command) {
	f.shopFlags.add(cmd)
	cmd.Flags().Var(&f.offsets, "offset", "a work zero in machine coordinates, over the profile's; axes not named are unknown; may be repeated")
	cmd.Flags().Int64Var(&f.maxBlocks, "max-blocks", interp.DefaultMaxBlocks, "stop a program that loops after `N` executed blocks and operations")
}

// walk gives the machine and the options that the flags mean. Without a machine,
// an error is wrong usage, and nil says that the failure was reported.
func (a *app) walk(f *walkFlags) (*profiles.Machine, rules.Options, error) {
	opt := rules.Options{MaxBlocks: f.maxBlocks}
	if f.maxBlocks <= 0 {
		return nil, opt, errors.New("--max-blocks must be 1 or more")
	}
	m, err := a.machine(&f.shopFlags)
	if m == nil {
		return nil, opt, err
	}
	if opt.Offsets, err = f.offsets.on(m); err != nil {
		return nil, opt, err
	}
	return m, opt, nil
}

// atMostOne takes one name or none of a kind of thing.
func atMostOne(thing string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) > 1 {
			return fmt.Errorf("%s takes one %s at a time; %d are named", cmd.Name(), thing, len(args))
		}
		return nil
	}
}
