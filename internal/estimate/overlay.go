package estimate

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Determined are the values that the runs tell.
func (f *Fit) Determined() []Value {
	var all []Value
	for _, v := range f.Values {
		if v.Determined {
			all = append(all, v)
		}
	}
	return all
}

// Overlay is a profile of the name that extends the fitted one, as its TOML
// refers to it, and holds the values that the runs determine, each with how far
// off it may still be.
func (f *Fit) Overlay(name, extends string) []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "# Values of %s as %d measured runs have them; all else is as it was.\n", f.Machine.Name, len(f.Runs))
	fmt.Fprintf(&b, "name = %s\ntitle = %s\nextends = %s\n\n", strconv.Quote(name), strconv.Quote(f.Machine.Title+", calibrated"), strconv.Quote(extends))
	for _, v := range f.Determined() {
		fmt.Fprintf(&b, "%s = %s # was %s\n", v.Path, strconv.Quote(written(v.Found)+" "+v.Unit), written(v.Profile)+" "+v.Unit)
	}
	b.WriteString("\n# The share within which each lies at 95 %, as far as the runs tell.\n[unsure]\n")
	for _, v := range f.Determined() {
		fmt.Fprintf(&b, "%s = %s\n", strconv.Quote(v.Path), strconv.Quote(written(100*v.Share())+" %"))
	}
	return b.Bytes()
}

// Share is how far off the value may still be, as a share of it: the wider side.
func (v *Value) Share() float64 {
	return min(max(v.High/v.Found-1, 1-v.Low/v.Found), 0.99)
}

// written is a number to four digits.
func written(v float64) string {
	text := strconv.FormatFloat(v, 'g', 4, 64)
	if strings.ContainsAny(text, "e") && math.Abs(v) > 1e-9 {
		text = strconv.FormatFloat(v, 'f', -1, 64)
	}
	return text
}
