package profiles

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/alecthomas/participle/v2"
	"github.com/alecthomas/participle/v2/lexer"
)

// A quantity is a number and its unit as a person writes them: "0.0025 in".
type quantity struct {
	Number string   `parser:"@Number"`
	Unit   unitName `parser:"@Unit*"`
}

// A unitName is a unit as our tables write it: those of a product, such as
// "N m", with one blank between.
type unitName string

// Capture adds a word.
func (u *unitName) Capture(words []string) error {
	*u = unitName(strings.TrimPrefix(string(*u)+" "+strings.Join(words, " "), " "))
	return nil
}

// The grammar of quantities. "1/min" is one unit, so units are looked for
// before numbers.
var quantities = participle.MustBuild[quantity](
	participle.Lexer(lexer.MustSimple([]lexer.SimpleRule{
		{Name: "Unit", Pattern: `%|(1?/)?\pL[\pL0-9]*([/^²]+[\pL0-9]*)*`},
		{Name: "Number", Pattern: `[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?`},
		{Name: "Space", Pattern: `\s+`},
	})),
	participle.Elide("Space"),
)

// A unit is one way to write a dimension; a value of 1 is factor in ours.
type unit struct {
	name   string
	factor float64
}

// A dimension is what a quantity measures. The first two units are those that
// a message proposes.
type dimension struct {
	name  string // with its article
	units []unit
}

// One inch is 25.4 mm exactly (international yard and pound agreement, 1959);
// a foot is 12 in, a minute 60 s. kB and MB are decimal, KiB and MiB binary
// (IEC 80000-13).
const mmPerInch = 25.4

var (
	lengthDim = dimension{"a length", []unit{
		{"in", mmPerInch}, {"mm", 1}, {"cm", 10}, {"m", 1000}, {"um", 1e-3}}}
	angleDim = dimension{"an angle", []unit{{"deg", 1}}}
	speedDim = dimension{"a speed", []unit{
		{"in/min", mmPerInch / 60}, {"mm/min", 1.0 / 60}, {"mm/s", 1}, {"m/min", 1000.0 / 60},
		{"in/s", mmPerInch}, {"ft/min", 12 * mmPerInch / 60}}}
	angularSpeedDim = dimension{"a speed of rotation", []unit{{"deg/s", 1}, {"deg/min", 1.0 / 60}}}
	accelerationDim = dimension{"an acceleration", []unit{
		{"m/s^2", 1000}, {"in/s^2", mmPerInch}, {"mm/s^2", 1}, {"ft/s^2", 12 * mmPerInch}}}
	angularAccelerationDim = dimension{"an acceleration of rotation", []unit{{"deg/s^2", 1}}}
	jerkDim                = dimension{"a jerk", []unit{{"m/s^3", 1000}, {"in/s^3", mmPerInch}, {"mm/s^3", 1}}}
	angularJerkDim         = dimension{"a jerk of rotation", []unit{{"deg/s^3", 1}}}
	timeDim                = dimension{"a time", []unit{
		{"s", 1}, {"ms", 1e-3}, {"us", 1e-6}, {"min", 60}, {"h", 3600}}}
	rotationDim = dimension{"a spindle speed", []unit{{"rpm", 1}, {"1/min", 1}, {"1/s", 60}}}
	sizeDim     = dimension{"a size", []unit{
		{"kB", 1000}, {"MB", 1e6}, {"B", 1}, {"KiB", 1 << 10}, {"MiB", 1 << 20}}}
	shareDim = dimension{"a share", []unit{{"%", 0.01}}}
	rateDim  = dimension{"an hourly rate", []unit{{"/h", 1}, {"/min", 60}}}
)

// A pound is 0.45359237 kg exactly (1959), standard gravity 9.80665 m/s^2
// (CGPM 1901); a horsepower is 550 ft lbf/s.
const (
	kgPerPound = 0.45359237
	gravity    = 9.80665
	lbf        = kgPerPound * gravity
	inch       = mmPerInch / 1000 // m
)

// Dimensions of drive trains, in SI units.
var (
	currentDim    = dimension{"a current", []unit{{"A", 1}, {"mA", 1e-3}}}
	voltageDim    = dimension{"a voltage", []unit{{"V", 1}}}
	resistanceDim = dimension{"a resistance", []unit{{"ohm", 1}, {"mohm", 1e-3}}}
	forceDim      = dimension{"a force", []unit{{"N", 1}, {"lbf", lbf}, {"kN", 1000}}}
	massDim       = dimension{"a mass", []unit{{"kg", 1}, {"lb", kgPerPound}}}
	inertiaDim    = dimension{"a moment of inertia", []unit{
		{"kg cm^2", 1e-4}, {"lb in^2", kgPerPound * inch * inch}, {"kg m^2", 1}, {"lbf in s^2", lbf * inch}, {"ozf in s^2", lbf / 16 * inch}}}
	powerDim          = dimension{"a power", []unit{{"kW", 1000}, {"hp", 550 * 12 * inch * lbf}, {"W", 1}}}
	torqueConstantDim = dimension{"a torque for an ampere", []unit{
		{"N m/A", 1}, {"lbf in/A", lbf * inch}, {"ozf in/A", lbf / 16 * inch}}}
	voltageConstantDim = dimension{"a voltage for a speed", []unit{
		{"V/krpm", 60 / (2 * math.Pi * 1000)}, {"V s/rad", 1}}}
)

var dimensions = []*dimension{&lengthDim, &angleDim, &speedDim, &angularSpeedDim, &accelerationDim,
	&angularAccelerationDim, &jerkDim, &angularJerkDim, &timeDim, &rotationDim, &sizeDim, &shareDim, &rateDim, &currentDim, &voltageDim,
	&resistanceDim, &forceDim, &massDim, &inertiaDim, &powerDim, &torqueConstantDim, &voltageConstantDim}

// parse reads a quantity of the dimension. The error says what was written and
// what is accepted, without a place.
func (d *dimension) parse(text string) (float64, error) {
	q, err := quantities.ParseString("", text)
	if err != nil {
		return 0, fmt.Errorf("%q is not a number with a unit: %s is written like %s", text, d.name, d.example("12.5"))
	}
	u, known := d.unit(string(q.Unit))
	switch {
	case q.Unit == "":
		return 0, fmt.Errorf("%q has no unit: write %s", text, d.example(d.asWritten(q.Number)))
	case !known:
		return 0, d.wrongUnit(text, string(q.Unit))
	}
	n, err := strconv.ParseFloat(q.Number, 64)
	if v := n * u.factor; err == nil && !math.IsInf(v, 0) {
		return v, nil
	}
	return 0, fmt.Errorf("%q is too large a number", text)
}

// asWritten is a number without a unit as it may have been meant: a share of up
// to 1 in parts of a hundred.
func (d *dimension) asWritten(number string) string {
	if v, err := strconv.ParseFloat(number, 64); d == &shareDim && err == nil && v > 0 && v <= 1 {
		return strconv.FormatFloat(math.Round(v*1e6)/1e4, 'f', -1, 64)
	}
	return number
}

func (d *dimension) unit(name string) (unit, bool) {
	i := slices.IndexFunc(d.units, func(u unit) bool { return u.name == name })
	if i < 0 {
		return unit{}, false
	}
	return d.units[i], true
}

// wrongUnit tells a unit of another dimension from one that is none.
func (d *dimension) wrongUnit(text, name string) error {
	for _, other := range dimensions {
		if _, known := other.unit(name); known {
			return fmt.Errorf("%q is %s, but %s is due: its units are %s", text, other.name, d.name, d.list())
		}
	}
	return fmt.Errorf("%q has the unknown unit %q%s units of %s are %s",
		text, name, orColon(d.meant(name)), d.name, d.list())
}

// meant asks whether a unit was meant that the shop floor writes another way,
// or in other letters; "" where none is near.
func (d *dimension) meant(name string) string {
	names := d.names()
	for _, ours := range names {
		if strings.EqualFold(name, ours) || slices.Contains(otherNames(ours), strings.ToLower(name)) {
			return fmt.Sprintf(": did you mean %q?", ours)
		}
	}
	return DidYouMean(name, names)
}

// otherNames are what people write for a unit of ours, common practice in the
// trade. They are not taken: one unit has one name in all profiles.
func otherNames(ours string) []string {
	switch ours {
	case "in":
		return []string{"inch", "inches"}
	case "in/min":
		return []string{"ipm", "inch/min", "inches/min", "inches per minute", "in per min"}
	case "mm/min":
		return []string{"mmpm", "mm per min"}
	case "ft/min":
		return []string{"fpm", "sfm", "sfpm"}
	case "s":
		return []string{"sec", "secs", "seconds"}
	case "min":
		return []string{"mins", "minutes"}
	case "h":
		return []string{"hr", "hrs", "hours"}
	case "deg":
		return []string{"degrees"}
	}
	return nil
}

// orColon goes between a statement and what follows from it.
func orColon(question string) string {
	if question == "" {
		return ":"
	}
	return question
}

func (d *dimension) names() []string {
	names := make([]string, len(d.units))
	for i, u := range d.units {
		names[i] = u.name
	}
	return names
}

func (d *dimension) list() string { return strings.Join(d.names(), ", ") }

// example writes the number with the units that a person would most likely
// have meant. Of spindle speeds and rotary axes that is one unit only.
func (d *dimension) example(number string) string {
	first := strconv.Quote(number + " " + d.units[0].name)
	if len(d.units) == 1 || d.name == rotationDim.name {
		return first
	}
	return first + " or " + strconv.Quote(number+" "+d.units[1].name)
}
