package main

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"
)

// What the README says of measuring acceleration holds: the program is the one that
// it shows, the checker has no error on it, and the formula gives the profile's
// value back.
func TestMeasuringAcceleration(t *testing.T) {
	const folder = "../../testdata/shop/measure/"
	text, err := os.ReadFile(folder + "x-short.ngc")
	if err != nil {
		t.Fatal(err)
	}
	shown := "    " + strings.ReplaceAll(strings.TrimSpace(string(text)), "\n", "\n    ")
	if !strings.Contains(strings.Join(readme(t), "\n"), shown) {
		t.Error("the README shows another program")
	}
	rapid := func(name string) float64 {
		var out, errs bytes.Buffer
		if status := run([]string{"check", folder + name, "--machine", "bed-mill", "--format", "json"}, strings.NewReader(""), &out, &errs); status != statusClear {
			t.Fatalf("%s: status %d\n%s%s", name, status, out.String(), errs.String())
		}
		var report struct {
			Programs []struct {
				Time struct {
					Rapid float64 `json:"rapid_s"`
				}
			}
		}
		if err := json.Unmarshal(out.Bytes(), &report); err != nil {
			t.Fatal(err)
		}
		return report.Programs[0].Time.Rapid
	}
	per := 400 / (rapid("x-long.ngc") - rapid("x-short.ngc"))
	if got := 0.04 * 25.4 * per * per; math.Abs(got-500) > 0.01*500 {
		t.Errorf("%g mm/s^2 by the formula, the profile says 500", got)
	}
}
