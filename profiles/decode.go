package profiles

import (
	"fmt"
	"math"
	"reflect"
	"regexp"
	"strconv"
	"strings"
)

// dimensionOf is the dimension of the quantity types, for linear and for
// rotary axes.
var dimensionOf = map[reflect.Type][2]*dimension{
	reflect.TypeFor[Length]():       {&lengthDim, &angleDim},
	reflect.TypeFor[Speed]():        {&speedDim, &angularSpeedDim},
	reflect.TypeFor[Acceleration](): {&accelerationDim, &angularAccelerationDim},
	reflect.TypeFor[Jerk]():         {&jerkDim, &angularJerkDim},
	reflect.TypeFor[Duration]():     {&timeDim, &timeDim},
	reflect.TypeFor[Rotation]():     {&rotationDim, &rotationDim},
	reflect.TypeFor[Size]():         {&sizeDim, &sizeDim},
	reflect.TypeFor[Share]():        {&shareDim, &shareDim},
	reflect.TypeFor[Rate]():         {&rateDim, &rateDim},

	reflect.TypeFor[Current]():         {&currentDim, &currentDim},
	reflect.TypeFor[Voltage]():         {&voltageDim, &voltageDim},
	reflect.TypeFor[Resistance]():      {&resistanceDim, &resistanceDim},
	reflect.TypeFor[Force]():           {&forceDim, &forceDim},
	reflect.TypeFor[Mass]():            {&massDim, &massDim},
	reflect.TypeFor[Inertia]():         {&inertiaDim, &inertiaDim},
	reflect.TypeFor[Power]():           {&powerDim, &powerDim},
	reflect.TypeFor[TorqueConstant]():  {&torqueConstantDim, &torqueConstantDim},
	reflect.TypeFor[VoltageConstant](): {&voltageConstantDim, &voltageConstantDim},
}

// A decoder fills a Machine from a tree and keeps where each value stands.
type decoder struct {
	places map[string]*node // by path
	errs   []*Error
}

// mostErrors bounds what is said about one profile: a file that is no profile
// at all is wrong in every line.
const mostErrors = 100

func (d *decoder) fail(n *node, path, format string, args ...any) {
	if len(d.errs) < mostErrors {
		d.errs = append(d.errs, n.place(path, format, args...))
	}
}

// value decodes a node into v. rotary says that it belongs to an axis which
// turns, so that lengths are angles.
func (d *decoder) value(n *node, v reflect.Value, path string, rotary bool) {
	d.places[path] = n
	if dims, ok := dimensionOf[v.Type()]; ok {
		dim := dims[0]
		if rotary {
			dim = dims[1]
		}
		d.quantity(n, v, path, dim)
		return
	}
	if v.Type() == reflect.TypeFor[Ratio]() {
		d.ratio(n, v, path)
		return
	}
	switch v.Kind() {
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		d.value(n, v.Elem(), path, rotary)
	case reflect.Struct:
		d.table(n, v, path, rotary)
	case reflect.Map:
		d.mapping(n, v, path)
	case reflect.Slice:
		d.list(n, v, path, rotary)
	default:
		d.scalar(n, v, path)
	}
}

func (d *decoder) table(n *node, v reflect.Value, path string, rotary bool) {
	if !d.is(n, tableNode, path, "a table", form(path, v.Type(), n.flagged())) {
		return
	}
	fields := map[string]reflect.Value{}
	var known []string
	for i := range v.NumField() {
		if key := v.Type().Field(i).Tag.Get("toml"); key != "" {
			fields[key] = v.Field(i)
			known = append(known, key)
		}
	}
	letters := axisLetters(v.Type())
	for _, key := range n.keys {
		child, inside := n.fields[key], join(path, key)
		field, ok := fields[key]
		switch {
		case ok:
			d.value(child, field, inside, rotary || letters && strings.Contains("abc", key))
		case len(d.errs) < mostErrors:
			d.fail(child, inside, "unknown key in '%s'%s known here are %s", child.sourceLine(),
				orColon(DidYouMean(key, known)), strings.Join(known, ", "))
		}
	}
}

// axisLetters says whether the keys of a table are those of axes.
func axisLetters(t reflect.Type) bool {
	return t == reflect.TypeFor[AxisTable]() || t == reflect.TypeFor[Offset]()
}

// mapping decodes a table whose keys are codes or names.
func (d *decoder) mapping(n *node, v reflect.Value, path string) {
	if !d.is(n, tableNode, path, "a table", form(path, v.Type(), n.flagged())) {
		return
	}
	v.Set(reflect.MakeMap(v.Type()))
	for _, key := range n.keys {
		e := reflect.New(v.Type().Elem()).Elem()
		d.value(n.fields[key], e, join(path, key), false)
		v.SetMapIndex(reflect.ValueOf(key), e)
	}
}

func (d *decoder) list(n *node, v reflect.Value, path string, rotary bool) {
	if !d.is(n, arrayNode, path, "a list in [ ]", form(path, v.Type(), n.flagged())) {
		return
	}
	v.Set(reflect.MakeSlice(v.Type(), len(n.items), len(n.items)))
	for i, item := range n.items {
		d.value(item, v.Index(i), fmt.Sprintf("%s[%d]", path, i), rotary)
	}
}

func (d *decoder) scalar(n *node, v reflect.Value, path string) {
	switch v.Kind() {
	case reflect.String:
		if d.is(n, stringNode, path, `a text in "quotes"`, "") {
			v.SetString(n.text)
		}
	case reflect.Bool:
		if d.is(n, boolNode, path, "true or false", "") {
			v.SetBool(n.text == "true")
		}
	case reflect.Int:
		if !d.is(n, integerNode, path, "a whole number without a unit", "") {
			return
		}
		i, err := strconv.ParseInt(n.text, 0, 32)
		if err != nil {
			d.fail(n, path, "%s is too large a number: at most %d", n.text, math.MaxInt32)
			return
		}
		v.SetInt(i)
	}
}

// is says whether the node has the kind that is due, and if not, complains;
// remedy is what to do, where the kind alone does not tell.
func (d *decoder) is(n *node, kind nodeKind, path, due, remedy string) bool {
	if n.kind == kind {
		return true
	}
	what := n.kind.String()
	if n.text != "" {
		what = fmt.Sprintf("%q is %s", n.text, what)
	} else {
		what = "this is " + what
	}
	if remedy != "" {
		remedy = ": " + remedy
	}
	d.fail(n, path, "%s, but %s is due%s", what, due, remedy)
	return false
}

func (d *decoder) quantity(n *node, v reflect.Value, path string, dim *dimension) {
	if n.kind != stringNode && n.kind != integerNode && n.kind != floatNode {
		d.is(n, stringNode, path, dim.name+" such as "+dim.example("12.5"), "")
		return
	}
	x, err := dim.parse(n.text)
	switch {
	case err != nil:
		d.fail(n, path, "%s", err)
	case v.CanFloat():
		v.SetFloat(x)
	case x != math.Trunc(x) || math.Abs(x) > 1<<53:
		d.fail(n, path, "%q is no whole number of bytes below 9 PB", n.text)
	default:
		v.SetInt(int64(x))
	}
}

// ratioForm is how a ratio is written.
var ratioForm = regexp.MustCompile(`^\s*([0-9]+\.?[0-9]*|\.[0-9]+)\s*:\s*([0-9]+\.?[0-9]*|\.[0-9]+)\s*$`)

// ratio decodes "2:1". A bare number would not say which of the two turns
// faster.
func (d *decoder) ratio(n *node, v reflect.Value, path string) {
	parts := ratioForm.FindStringSubmatch(n.text)
	if n.kind != stringNode || parts == nil {
		d.fail(n, path, "%q is no ratio: write turns of the motor and of what it drives, such as \"2:1\" where the motor turns twice as fast", n.text)
		return
	}
	motor, errMotor := strconv.ParseFloat(parts[1], 64)
	driven, errDriven := strconv.ParseFloat(parts[2], 64)
	if ratio := motor / driven; errMotor == nil && errDriven == nil && ratio >= 1e-3 && ratio <= 1e3 {
		v.SetFloat(ratio)
		return
	}
	d.fail(n, path, "%q is not within 1:1000 to 1000:1", n.text)
}

func join(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}
