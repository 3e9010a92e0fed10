package lsp

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"tapefit/internal/adapt"
	"tapefit/internal/interp"
	"tapefit/profiles"
	"tapefit/rules"
)

// Settings say which machine programs are for that do not say it themselves, and
// where profiles are.
type Settings struct {
	Machine  string   `json:"machine"`  // a name of "tapefit machines", or FILE.toml; "": none
	Profiles []string `json:"profiles"` // folders with profiles, absolute paths
	Offsets  []string `json:"offset"`   // where work lies on Machine, each as for --offset: "G54 X12in Y8in Z-18in"
	Values   []string `json:"-"`        // each a PATH=VALUE over the profile's, as for --set

	// MaxBlocks is the budget of executed blocks and of operations of one program; 0:
	// DefaultMaxBlocks.
	MaxBlocks int64 `json:"-"`
}

// DefaultMaxBlocks ends a program that loops sooner than package interp does: an
// editor waits for it. Few parts that a machine ends in a week have so many.
const DefaultMaxBlocks = 10_000_000

// FolderFile says for the programs in its folder, and those below, which machine
// they are for.
const FolderFile = ".tapefit.toml"

// folderFile is what it holds.
type folderFile struct {
	Machine  string   `toml:"machine"`  // a name, or a file as seen from the folder
	Profiles []string `toml:"profiles"` // folders with profiles, as seen from the folder
	Offsets  []string `toml:"offset"`   // where work lies on that machine, each as for --offset
}

// A machine is one with what is needed to check programs for it. It is shared and
// never changed.
type machine struct {
	*profiles.Machine
	rules []*rules.Rule
	from  *profiles.Machine // what programs are taken to be written in, when they are mended
	err   error             // it cannot be had: nothing else is set
}

// A choice is the machine of a program, and what named it.
type choice struct {
	*machine          // nil: nothing names one
	err      error    // nothing can be named: the file in the folder is broken
	at, end  int      // bytes of the comment that names it; at = end where none does
	by       string   // for people
	folders  []string // with profiles, where nothing names a machine

	offsets map[string]profiles.Offset // over those of the profile, by code
	laid    string                     // what they were made of
}

// choose finds the machine of a program: that of a comment in it, of the file in
// its folder or the nearest one above, of the settings. path is "" where the
// program is in no file.
func (s *Server) choose(t *text, path string, set Settings) choice {
	src := bytes.NewReader(t.bytes)
	name, at, err := rules.NamedMachine(src, src.Size())
	if err != nil {
		return choice{err: err}
	}
	folder, file, err := nearest(path)
	if err != nil {
		return choice{err: err}
	}
	folders := set.Profiles
	for i := len(file.Profiles) - 1; i >= 0; i-- { // those of the folder come first
		folders = append([]string{from(folder, file.Profiles[i])}, folders...)
	}
	var c choice
	switch {
	case name != "":
		c.at, c.end, c.by = int(at.Offset)+int(at.Pos), int(at.Offset)+int(at.End), "a comment in the program"
	case file.Machine != "":
		name, c.by = file.Machine, filepath.Join(folder, FolderFile)
		if isFile(name) {
			name = from(folder, name)
		}
		file.Machine = name
	case set.Machine != "":
		name, c.by = set.Machine, "the settings"
	default:
		c.folders = folders
		return c
	}
	c.machine = s.machines.get(name, folders, set.Values)
	if c.machine.err == nil {
		c.lay(name, file.Machine, file.Offsets, filepath.Join(folder, FolderFile))
		c.lay(name, set.Machine, set.Offsets, "the settings")
	}
	return c
}

// lay adds the work offsets that are said where a machine is named to those that are
// said already, which count. Where another machine has its work is nothing to this
// one; where none is named any is meant.
func (c *choice) lay(name, machine string, offsets []string, where string) {
	if machine != "" && machine != name {
		return
	}
	for _, text := range offsets {
		code, o, err := profiles.ParseOffset(text)
		if err == nil && !c.TakesOffset(code) {
			err = fmt.Errorf("%s is no work offset on %s", code, c.Name)
		}
		if err != nil {
			c.err = cmp.Or(c.err, fmt.Errorf("%s: offset: %w", where, err))
			continue
		}
		if _, said := c.offsets[code]; said {
			continue
		}
		if c.offsets == nil {
			c.offsets = map[string]profiles.Offset{}
		}
		c.offsets[code] = o
		c.laid += text + "\n"
	}
}

// known are the profiles that a program without a machine can name: those in the
// folders, then those of the library.
func (c *choice) known() []profiles.Entry {
	var all []profiles.Entry
	add := func(entries []profiles.Entry) {
		for _, e := range entries {
			if !slices.ContainsFunc(all, func(o profiles.Entry) bool { return o.Name == e.Name }) {
				all = append(all, e)
			}
		}
	}
	for _, folder := range c.folders {
		entries, _ := profiles.InFolder(folder) // what cannot be used cannot be named: "tapefit machines" says why
		add(entries)
	}
	add(profiles.Library())
	return all
}

func isFile(name string) bool {
	return strings.HasSuffix(name, ".toml") || strings.ContainsAny(name, `/`+string(os.PathSeparator))
}

// from is a path as seen from a folder.
func from(folder, path string) string {
	if filepath.IsAbs(path) {
		return path
	}
	return filepath.Join(folder, path)
}

// mostFolderFile bounds a FolderFile, in bytes.
const mostFolderFile = 64 << 10

// nearest reads the FolderFile in the folder of the program, or in the nearest
// folder above that has one. It is empty where none has.
func nearest(path string) (folder string, f folderFile, err error) {
	if !filepath.IsAbs(path) {
		return "", f, nil
	}
	for folder = filepath.Dir(path); ; folder = filepath.Dir(folder) {
		name := filepath.Join(folder, FolderFile)
		text, err := readFile(name)
		switch {
		case err == nil:
			return folder, f, decode(name, text, &f)
		case !errors.Is(err, os.ErrNotExist):
			return "", f, err
		case folder == filepath.Dir(folder):
			return "", f, nil
		}
	}
}

func readFile(name string) ([]byte, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, mostFolderFile+1))
	if err == nil && len(text) > mostFolderFile {
		err = fmt.Errorf("%s: it is longer than %d bytes", name, mostFolderFile)
	}
	return text, err
}

// decode reads a FolderFile. The error has its line.
func decode(name string, text []byte, f *folderFile) error {
	err := toml.NewDecoder(bytes.NewReader(text)).DisallowUnknownFields().Decode(f)
	var unknown *toml.StrictMissingError
	var broken *toml.DecodeError
	switch {
	case errors.As(err, &unknown) && len(unknown.Errors) > 0:
		line, _ := unknown.Errors[0].Position()
		return fmt.Errorf("%s:%d: %s: no such key: write machine, or profiles", name, line, strings.Join(unknown.Errors[0].Key(), "."))
	case errors.As(err, &broken):
		line, _ := broken.Position()
		return fmt.Errorf("%s:%d: %w", name, line, err)
	case err != nil:
		return fmt.Errorf("%s: %w", name, err)
	}
	return nil
}

// load loads a machine and all that is needed with it.
func load(name string, folders, values []string) *machine {
	m, err := profiles.FindWith(name, folders, values)
	if err == nil {
		err = errors.Join(interp.CheckProfile(m), rules.CheckProfile(m))
	}
	if err != nil {
		return &machine{err: err}
	}
	set, err := rules.For(m)
	if err != nil {
		return &machine{err: err}
	}
	from := m
	if m.Kind != "lathe" { // what is wide for mills is another language there
		if from, err = profiles.Find(adapt.Guessed, nil); err == nil {
			from, err = from.With(adapt.GearSettings(from)...)
		}
	}
	return &machine{Machine: m, rules: set, from: from, err: err}
}
