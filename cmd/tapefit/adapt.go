package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"tapefit/internal/adapt"
	"tapefit/internal/report"
	"tapefit/parser"
	"tapefit/profiles"
	"tapefit/rules"
)

// adaptFlags say for what a program is adapted, how, and where it goes.
type adaptFlags struct {
	walk       walkFlags
	from       string
	out        string
	inPlace    bool
	dryRun     bool
	postNotes  bool
	deletes    string
	diff       bool
	passes     []string
	tolerance  lengthFlag
	home       placeFlag
	leaveOut   []string
	start      placeFlag
	numberFrom int
	numberBy   int
}

func (a *app) adaptCommand() *cobra.Command {
	var f adaptFlags
	cmd := &cobra.Command{
		Use:   "adapt PROGRAM --machine NAME|FILE.toml [-o OUT]",
		Short: "Write a program anew so that a machine runs it",
		Long: `Adapt writes a part program so that the machine runs it: the same moves, feeds,
tools, spindle and coolant, in the form that its control reads. Blocks that mean
the same there stay as they are, byte for byte. What it wrote is read again as
the machine would and compared with the source as its own control would read
it; where both do not do the same, nothing is written and the place is shown.
A program that fits already comes back as it is; without --from one that both
the machine and that base read without complaint, each in its own way, does not.

The source is read by --from, the machine or base that it was written for;
without it by the base "` + adapt.Guessed + `", which takes what most posts write for mills.

What a person must decide is not guessed: it is told, and nothing is written.

Passes are made where they are needed; those that change what the machine does
(clamp-speed, clamp-feed, thin) or how the program reads (gather, renumber) only
where they are asked for:

` + passList() + `
The new program goes to -o, by default next to the source (flange.ngc for
knee-mill: flange.knee-mill.ngc), never over the source unless --in-place is
given, which keeps the source as NAME.bak. -o - writes it to standard output and
the report to standard error.

With --post-notes many programs of one post are looked over, and what to change in
the post is listed, each with its count, its first block and how that should look.

Exit status: 0 adapted and nothing left at level error, 1 something at level
error is left or could not be adapted, 2 wrong usage, an unreadable file, a bad
profile, or a proof that failed.`,
		Example: `  tapefit adapt testdata/shop/programs/gland-plate-proven.ngc --machine knee-mill --home "Z1in" --dry-run
  tapefit adapt old.nc --machine bed-mill --pass clamp-speed --pass clamp-feed -o new.nc
  tapefit adapt mould.nc --machine bed-mill --pass thin --tolerance "0.0004 in"`,
		Args: func(_ *cobra.Command, args []string) error {
			if f.postNotes {
				return needPrograms(nil, args)
			}
			if len(args) != 1 {
				return fmt.Errorf("adapt takes one program, a file or -; %d are named", len(args))
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if f.postNotes {
				return a.postNotes(cmd.Context(), args, &f)
			}
			if isFolder(args[0]) {
				return fmt.Errorf("%s is a folder: adapt takes one program, and --post-notes looks over many", args[0])
			}
			return a.adaptOne(cmd.Context(), args[0], &f)
		},
	}
	f.add(cmd)
	return cmd
}

func (f *adaptFlags) add(cmd *cobra.Command) {
	f.walk.add(cmd)
	flags := cmd.Flags()
	flags.StringVar(&f.from, "from", "", "the machine or base that the program was written for: a `NAME` or FILE.toml")
	flags.StringVarP(&f.out, "output", "o", "", "write the new program to `FILE`; - is standard output")
	flags.BoolVar(&f.inPlace, "in-place", false, "write over the source, and keep it as NAME.bak")
	flags.BoolVar(&f.dryRun, "dry-run", false, "write nothing, say what would be done")
	flags.BoolVar(&f.diff, "diff", false, "show the blocks that differ, the source beside the new program")
	flags.BoolVar(&f.postNotes, "post-notes", false, "write nothing; look over PROGRAM... and list what to change in the post that wrote them")
	flags.StringArrayVar(&f.passes, "pass", nil, "a `PASS` to be made though nothing needs it, or not to be made: PASS=off; may be repeated")
	flags.Var(&f.tolerance, "tolerance", "how far chords may lie from their curve, and thinned moves from theirs: 0.0004in, 0.01mm")
	flags.Var(&f.home, "home", "where moves home go on a machine without codes for them, in work coordinates, Z no lower than it stands: \"Z1in\"")
	flags.StringVar(&f.deletes, "block-delete", "keep", "blocks with /: `keep` them, or settle the switch for good: on leaves them out, off executes them")
	flags.StringSliceVar(&f.leaveOut, "leave-out", nil, "M `CODES` that the part can do without: M88,M29")
	flags.IntVar(&f.numberFrom, "number-from", 0, "the first `NUMBER` that --pass renumber gives; 10 where nothing is said")
	flags.IntVar(&f.numberBy, "number-by", 0, "the `STEP` from one number to the next; 10 where nothing is said")
	flags.Var(&f.start, "start", "where the tool stands when the program begins, written as a set position: \"X0in Y0in Z2in\"")
}

// passList tells the passes for --help.
func passList() string {
	var b strings.Builder
	for _, p := range adapt.Passes() {
		asked := ""
		if p.Asked {
			asked = " (asked for)"
		}
		fmt.Fprintf(&b, "  %-17s %s%s\n", p.Name, p.Summary, asked)
	}
	return b.String()
}

var mCode = regexp.MustCompile(`^M\d{1,3}(\.[1-9])?$`)

// adaptOptions are what the flags mean. Without a machine, an error is wrong usage,
// and nil says that the failure was reported.
func (a *app) adaptOptions(f *adaptFlags) (*adapt.Options, error) {
	to, walked, err := a.walk(&f.walk)
	if to == nil {
		return nil, err
	}
	opt := &adapt.Options{
		To: to, Offsets: walked.Offsets, MaxBlocks: walked.MaxBlocks, Passes: map[string]bool{}, LeaveOut: map[int]bool{},
		Tolerance: float64(f.tolerance), NumberFrom: f.numberFrom, NumberBy: f.numberBy, Home: adapt.Place(f.home), Start: adapt.Place(f.start), Guess: f.from == "",
	}
	if f.numberFrom < 0 || f.numberBy < 0 {
		return nil, errors.New("--number-from and --number-by: write whole numbers, 1 or more")
	}
	switch f.deletes {
	case "keep":
	case "off":
		opt.Delete = adapt.DeleteOff
	case "on":
		opt.Delete = adapt.DeleteOn
	default:
		return nil, fmt.Errorf("--block-delete %s: write keep, off or on", f.deletes)
	}
	for _, text := range f.passes {
		name, off := strings.CutSuffix(text, "=off")
		if adapt.Find(name) == nil {
			return nil, fmt.Errorf("--pass: no pass %q: \"tapefit adapt --help\" lists them", name)
		}
		opt.Passes[name] = !off
	}
	if f.numberFrom+f.numberBy > 0 && !opt.Passes[adapt.Renumber] {
		return nil, fmt.Errorf("--number-from and --number-by go with --pass %s", adapt.Renumber)
	}
	for _, code := range f.leaveOut {
		if !mCode.MatchString(code) {
			return nil, fmt.Errorf("--leave-out: %q is no M code: write M88", code)
		}
		tenths, err := codeTenths(code)
		if err != nil {
			return nil, fmt.Errorf("--leave-out: %s: %w", code, err)
		}
		opt.LeaveOut[tenths] = true
	}
	if opt.From, err = a.adaptFrom(f, to); err != nil {
		a.fail(err)
		return nil, nil
	}
	return opt, nil
}

// adaptFrom is the machine that the program was written for. A base is no
// machine: it is given gear codes that do nothing, so that programs may have some,
// and speaks in the units of the other.
func (a *app) adaptFrom(f *adaptFlags, to *profiles.Machine) (*profiles.Machine, error) {
	name := f.from
	if name == "" {
		name = adapt.Guessed
	}
	if name == f.walk.machine {
		return to, nil
	}
	folders, ok := a.folders(f.walk.folders)
	if !ok {
		return nil, errors.New("--from cannot be looked for")
	}
	m, err := find(name, folders, nil)
	if err != nil || m.Kind != "" {
		return m, err
	}
	return find(name, folders, append(adapt.GearSettings(m), "display="+to.Display))
}

// adaptOne adapts one program. An error is wrong usage.
func (a *app) adaptOne(ctx context.Context, path string, f *adaptFlags) error {
	opt, err := a.adaptOptions(f)
	if opt == nil {
		return err
	}
	out, err := f.target(path, opt.To)
	if err != nil {
		return err
	}
	if err := a.adaptTo(ctx, path, out, f, opt); err != nil {
		a.fail(err)
	}
	return nil
}

// target is where the new program goes; "" in a dry run.
func (f *adaptFlags) target(path string, to *profiles.Machine) (string, error) {
	switch {
	case f.inPlace && (f.out != "" || path == "-"):
		return "", errors.New("--in-place writes over the source: it goes neither with -o nor with standard input")
	case f.dryRun:
		return "", nil
	case f.inPlace:
		return path, nil
	case f.out == "" && path == "-":
		return "", errors.New("say with -o where the new program shall go; -o - is standard output")
	case f.out == "":
		ext := filepath.Ext(path)
		return strings.TrimSuffix(path, ext) + "." + to.Name + ext, nil
	case sameFile(f.out, path):
		return "", errors.New("-o names the source: give --in-place if it shall be written over")
	}
	return f.out, nil
}

func sameFile(a, b string) bool {
	one, err := os.Stat(a)
	if err != nil {
		return false
	}
	two, err := os.Stat(b)
	return err == nil && os.SameFile(one, two)
}

func (a *app) adaptTo(ctx context.Context, path, out string, f *adaptFlags, opt *adapt.Options) error {
	src, size, err := a.open(ctx, path)
	if err != nil {
		return err
	}
	defer src.Close()
	if size == 0 {
		return fmt.Errorf("%s: the file is empty: there is nothing to adapt; was it saved whole?", path)
	}
	folder := os.TempDir()
	if out != "" && out != "-" {
		folder = filepath.Dir(out) // so that it can be renamed
	}
	file, err := os.CreateTemp(folder, ".tapefit-*")
	if err != nil {
		return unwritten(cmp.Or(out, folder), err)
	}
	defer os.Remove(file.Name())
	defer file.Close()
	opt.Done = ctx.Done()
	r, err := adapt.Run(file, interruptible{ctx, src}, size, path, *opt)
	switch {
	case ctx.Err() != nil:
		return errors.New("interrupted: nothing was written")
	case err != nil:
		return fmt.Errorf("%w; nothing was written", err)
	}
	if worst, any := r.Worst(); any && worst == rules.Error {
		a.raise(statusFound)
	}
	if f.diff && r.Written && !r.Fits {
		text, _, err := parser.Tape(interruptible{ctx, src}, size)
		if err != nil {
			return err
		}
		a.written(a.adaptReport(out).Diff(text, size, file, r.Wrote))
	}
	if r.Written && out != "" {
		if err := a.place(file, src, out, f.inPlace); err != nil {
			return err
		}
	}
	return a.adapted(path, out, r)
}

// postNotes lists what to change in the post that wrote the programs.
func (a *app) postNotes(ctx context.Context, args []string, f *adaptFlags) error {
	opt, err := a.adaptOptions(f)
	if opt == nil {
		return err
	}
	book := adapt.NewNotebook(opt.To)
	for _, path := range a.programs(args) {
		r, err := a.adaptScratch(ctx, path, *opt)
		switch {
		case ctx.Err() != nil:
			a.fail(errors.New("interrupted: not all programs were read"))
			return nil
		case err != nil:
			a.failAt(path, err)
			continue
		}
		book.Add(path, r)
		if worst, any := r.Worst(); any && worst == rules.Error {
			a.raise(statusFound)
		}
	}
	a.written(a.text().Notes(opt.To, book))
	return nil
}

// adaptScratch adapts a program into a file that nobody keeps.
func (a *app) adaptScratch(ctx context.Context, path string, opt adapt.Options) (*adapt.Result, error) {
	src, size, err := a.open(ctx, path)
	if err != nil {
		return nil, err
	}
	defer src.Close()
	file, err := os.CreateTemp("", "tapefit-*")
	if err != nil {
		return nil, plainly(err)
	}
	defer os.Remove(file.Name())
	defer file.Close()
	opt.Done = ctx.Done()
	return adapt.Run(file, interruptible{ctx, src}, size, path, opt)
}

// place brings the new program to where it goes.
func (a *app) place(file *os.File, src source, out string, inPlace bool) error {
	if out == "-" {
		_, err := io.Copy(a.stdout, io.NewSectionReader(file, 0, 1<<62))
		a.written(err)
		return nil
	}
	mode := os.FileMode(0o644)
	if info, err := src.Stat(); err == nil {
		mode = info.Mode().Perm()
	}
	if err := errors.Join(file.Chmod(mode), file.Sync(), file.Close()); err != nil {
		return fmt.Errorf("%s: %w", out, err)
	}
	if inPlace {
		backup := out + ".bak"
		if err := os.Link(out, backup); err != nil {
			return fmt.Errorf("the source is to be kept as %s: %w: move that file away", backup, errors.Unwrap(err))
		}
	}
	if err := os.Rename(file.Name(), out); err != nil {
		return fmt.Errorf("%s: %w", out, err)
	}
	return nil
}

// adapted tells what was done.
func (a *app) adapted(path, out string, r *adapt.Result) error {
	text := a.adaptReport(out)
	if !r.Written {
		out = ""
	}
	a.written(text.Adapt(path, out, r))
	return nil
}

// adaptReport is where people read what was done: not where the program goes.
func (a *app) adaptReport(out string) *report.Text {
	if out == "-" {
		return report.NewText(a.stderr, fileWidth, false)
	}
	return a.text()
}

// codeTenths is the number of a code times ten: G59.1 is 591.
func codeTenths(code string) (int, error) {
	whole, tenth, _ := strings.Cut(code[1:], ".")
	return strconv.Atoi(whole + (tenth + "0")[:1])
}
