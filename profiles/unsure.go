package profiles

import (
	"fmt"
	"slices"
	"strconv"
)

// With is the machine with settings over its profile, as FindWith takes them,
// and over those that it has.
func (m *Machine) With(settings ...string) (*Machine, error) {
	tree, err := resolve(m.from, nil)
	if err != nil {
		return nil, err
	}
	all := slices.Concat(m.Settings, settings)
	if errs := applySettings(tree, all, true); len(errs) > 0 {
		return nil, joinErrors(errs, m.from)
	}
	return machineOf(tree, m.from, all)
}

// Quantity is the value at a path as the profile writes it: "0.5 m/s^2" is 0.5
// and "m/s^2"; one that a drive train gives is in ours. The error says that it gives none.
func (m *Machine) Quantity(path string) (number float64, unit string, err error) {
	n := m.codes.places[path]
	if n == computedPlace {
		number, unit = m.computed(path)
		return number, unit, nil
	}
	if n == nil || !isQuantity(n) {
		return 0, "", fmt.Errorf("%s does not give %s as a number with a unit%s", m.Name, path, DidYouMean(path, m.quantityPaths()))
	}
	q, _ := quantities.ParseString("", n.text) // as it was when it was decoded
	number, err = strconv.ParseFloat(q.Number, 64)
	return number, string(q.Unit), err
}

// quantityPaths are the paths at which the profile gives a number with a unit.
func (m *Machine) quantityPaths() []string {
	var paths []string
	for path, n := range m.codes.places {
		if n == computedPlace || n != nil && isQuantity(n) {
			paths = append(paths, path)
		}
	}
	slices.Sort(paths)
	return paths
}

// Scaled is the setting that makes the quantity at a path so many times as
// large: "axes.x.acceleration=0.55 m/s^2".
func (m *Machine) Scaled(path string, times float64) (string, error) {
	number, unit, err := m.Quantity(path)
	if err != nil {
		return "", err
	}
	return path + "=" + strconv.FormatFloat(number*times, 'g', -1, 64) + " " + unit, nil
}

func isQuantity(n *node) bool {
	if n.kind != stringNode {
		return false
	}
	q, err := quantities.ParseString("", n.text)
	return err == nil && q.Unit != ""
}

// Inner is the quantity at a path in the unit that it has inside: mm, s, mm/s.
func (m *Machine) Inner(path string) (float64, error) {
	number, unit, err := m.Quantity(path)
	if err != nil {
		return 0, err
	}
	for _, d := range dimensions {
		if u, known := d.unit(unit); known {
			return number * u.factor, nil
		}
	}
	return 0, fmt.Errorf("%s: unknown unit %q", path, unit)
}
