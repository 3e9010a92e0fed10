package profiles

import (
	"bytes"
	"embed"
	"fmt"
	"io"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
)

//go:embed library/*.toml
var library embed.FS

// An Entry is a profile of the embedded library.
type Entry struct {
	Name, Title string
	Base        bool // a dialect without a machine: no kind, no axes
}

// Names are the names of the embedded profiles, machines and bases, sorted.
func Names() []string {
	files, _ := library.ReadDir("library") // cannot fail: it is in the binary
	names := make([]string, len(files))
	for i, f := range files {
		names[i] = strings.TrimSuffix(f.Name(), ".toml")
	}
	return names
}

// Library lists the embedded profiles: machines first, each by name.
func Library() []Entry {
	var machines, bases []Entry
	for _, name := range Names() {
		m, err := loadFrom(embedded(name))
		if err != nil {
			panic(err) // an embedded file is broken: a fault of this program, which its tests find
		}
		if e := (Entry{Name: name, Title: m.Title, Base: m.Kind == ""}); e.Base {
			bases = append(bases, e)
		} else {
			machines = append(machines, e)
		}
	}
	return append(machines, bases...)
}

// InFolder lists the profiles in a folder, by file name, with an error for each that
// cannot be used.
func InFolder(folder string) (entries []Entry, errs []error) {
	files, err := filepath.Glob(filepath.Join(folder, "*.toml"))
	if err != nil {
		return nil, []error{fmt.Errorf("%s: %w", folder, err)}
	}
	for _, file := range files {
		m, err := Load(file)
		if err != nil {
			errs = append(errs, err)
			continue
		}
		entries = append(entries, Entry{Name: m.Name, Title: m.Title, Base: m.Kind == ""})
	}
	return entries, errs
}

// Find gives the machine that a person means: an argument that ends in .toml or
// has a path separator is a file; else it names NAME.toml in one of the
// folders, the first that has it, or an embedded profile: a person's own goes
// before ours.
func Find(name string, folders []string) (*Machine, error) {
	return FindWith(name, folders, nil)
}

// FindWith finds a machine as Find does and lays settings over its profile, each
// a PATH=VALUE: axes.z.rapid=200 in/min. The path is written as Origin takes it
// and errors write it, list items counted from 0. The value is written as in a
// file; one that is no TOML is a text without its quotes. Tables merge key by
// key, all else is replaced. What comes out is checked like a file.
func FindWith(name string, folders, settings []string) (*Machine, error) {
	s, err := findSource(name, folders)
	if err != nil {
		return nil, err
	}
	return loadFrom(s, settings...)
}

func findSource(name string, folders []string) (*source, error) {
	if isPath(name) {
		if err := notAProfile(name); err != nil {
			return nil, err
		}
		return readFile(name)
	}
	for _, folder := range folders {
		file := filepath.Join(folder, name+".toml")
		if _, err := os.Stat(file); err == nil {
			return readFile(file)
		}
	}
	if slices.Contains(Names(), name) {
		return embedded(name), nil
	}
	if err := notAProfile(name); err != nil {
		return nil, err
	}
	return nil, unknownName(name, folders)
}

// notAProfile says that something else is there under the name: a folder, or a
// file of another kind, such as a part program.
func notAProfile(name string) error {
	info, err := os.Stat(name)
	switch {
	case name == "" || err != nil || strings.HasSuffix(name, ".toml") && !info.IsDir():
		return nil
	case info.IsDir():
		return fmt.Errorf("%s is a folder: a machine is named by the file of its profile, FILE.toml, or by a name that \"tapefit machines\" lists; --profiles names a folder with profiles", name)
	}
	return fmt.Errorf("%s is no profile of a machine: their files end in .toml", name)
}

func isPath(name string) bool {
	return strings.HasSuffix(name, ".toml") || strings.ContainsAny(name, `/`+string(os.PathSeparator))
}

// unknownName says which names there are instead.
func unknownName(name string, folders []string) error {
	known := Names()
	for _, folder := range folders {
		files, _ := filepath.Glob(filepath.Join(folder, "*.toml")) // fails on a malformed pattern only, and then there is nothing to list
		for _, f := range files {
			known = append(known, strings.TrimSuffix(filepath.Base(f), ".toml"))
		}
	}
	slices.Sort(known)
	known = slices.Compact(known)
	own := name
	if own == "" {
		own = "my-mill"
	}
	searched := ""
	if len(folders) > 0 {
		searched = " or in " + strings.Join(folders, ", ")
	}
	return fmt.Errorf("no machine %q in the library%s%s known are %s; a file of your own is given by its path, such as ./%s.toml",
		name, searched, orColon(DidYouMean(name, known)), strings.Join(known, ", "), own)
}

// Load reads a profile from a file, with all that it extends, and checks it.
// The error joins one *Error for each thing that is wrong, in order of place.
func Load(file string) (*Machine, error) {
	s, err := readFile(file)
	if err != nil {
		return nil, err
	}
	return loadFrom(s)
}

// A source is the text of one profile.
type source struct {
	name   string // of the profile, from the file's name
	file   string // for people
	folder string // where files beside it lie; "" in the library
	text   []byte
	flag   bool // it is no file but one value, set beside it
}

// mostBytes bounds a profile: the largest in the library has some 5 kB.
const mostBytes = 1 << 20

func readFile(file string) (*source, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, fmt.Errorf("cannot read the profile: %w", err)
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, mostBytes+1))
	if err != nil {
		return nil, fmt.Errorf("cannot read the profile: %w", err)
	}
	text = bytes.TrimPrefix(text, []byte("\xEF\xBB\xBF")) // some editors put a byte order mark in front
	return &source{
		name:   strings.TrimSuffix(filepath.Base(file), ".toml"),
		file:   file,
		folder: filepath.Dir(file),
		text:   text,
	}, nil
}

// embedded is the source of a profile that Names lists.
func embedded(name string) *source {
	file := name + ".toml"
	text, _ := library.ReadFile(path.Join("library", file)) // cannot fail: it is in the binary
	return &source{name: name, file: file, text: text}
}
