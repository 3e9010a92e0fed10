package profiles

import (
	"strings"
	"testing"
)

func TestUnsure(t *testing.T) {
	for _, c := range []struct{ name, text, says string }{
		{"quoted", "[unsure]\n\"axes.x.acceleration\" = \"20 %\"\n", ""},
		{"without quotes", "[unsure]\naxes.x.acceleration = \"20 %\"\ncontrol.block_time = \"5 %\"\n", ""},
		{"of the quote", "[quote]\nsetup = \"45 min\"\nrate = \"95 /h\"\nscrap = \"3 %\"\n[unsure]\nquote.setup = \"30 %\"\n", ""},
		{"twice", "[unsure]\naxes.x.acceleration = \"20 %\"\n\"axes.x.acceleration\" = \"10 %\"\n", "stands twice"},
		{"not given", "[unsure]\nspindle.reverse = \"20 %\"\n", "the profile does not give spindle.reverse"},
		{"a place", "[unsure]\naxes.x.home = \"20 %\"\n", "no time hangs on"},
		{"a text", "[unsure]\ncontrol.corner = \"20 %\"\n", "is no quantity"},
		{"too much", "[unsure]\naxes.x.rapid = \"100 %\"\n", "not within"},
		{"another unit", "[unsure]\naxes.x.rapid = \"3 s\"\n", "a share is due"},
		{"all parts bad", "[quote]\nscrap = \"100 %\"\n", "no part would be delivered"},
		{"a rate by the second", "[quote]\nrate = \"95 /s\"\n", "units of an hourly rate are /h, /min"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := loadFrom(&source{name: "shop-mill", file: "shop-mill.toml", text: []byte(shopMill + c.text)})
			if c.says == "" && err != nil || c.says != "" && (err == nil || !strings.Contains(err.Error(), c.says)) {
				t.Errorf("got %v, want %q", err, c.says)
			}
		})
	}
}

func TestWith(t *testing.T) {
	m, err := FindWith("bed-mill", nil, []string{"axes.x.rapid=200 in/min", "unsure.axes.x.rapid=10 %"})
	if err != nil {
		t.Fatal(err)
	}
	if m.Unsure["axes.x.rapid"] != 0.1 {
		t.Errorf("unsure: %v", m.Unsure)
	}
	up, err := m.Scaled("axes.x.rapid", 1.1)
	if err != nil {
		t.Fatal(err)
	}
	faster, err := m.With(up)
	if err != nil {
		t.Fatal(err)
	}
	again, err := faster.With("axes.x.rapid=150 in/min")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		m    *Machine
		want float64 // in/min
	}{{m, 200}, {faster, 220}, {again, 150}} {
		if got := float64(c.m.Axes.X.Rapid) * 60 / 25.4; got < c.want-1e-9 || got > c.want+1e-9 {
			t.Errorf("rapid %g in/min, not %g", got, c.want)
		}
	}
	if _, err := m.Scaled("spindle.reverse_x", 2); err == nil {
		t.Error("a value that is not given was scaled")
	}
	if number, unit, err := m.Quantity("axes.y.acceleration"); number != 0.5 || unit != "m/s^2" || err != nil {
		t.Errorf("%g %q %v", number, unit, err)
	}
}
