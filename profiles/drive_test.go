package profiles

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// within says whether a value is within a share of what is wanted.
func within[Q ~float64](got Q, want, share float64) bool {
	return math.Abs(float64(got)-want) <= share*math.Abs(want)
}

// coarse is an axis with a coarse screw on a small drive, in figures of our own.
func coarse() *Axis {
	return &Axis{
		Motor:    &Motor{Kt: 0.5, Ke: 0.5, Inertia: 0.002, RatedCurrent: 25, PeakCurrent: 80, Resistance: 0.5},
		Drive:    &Drive{ACVolts: 90, Current: 20, PeakCurrent: 40},
		Screw:    &Screw{Lead: 10, Inertia: 0.001, Efficiency: 0.9, Ratio: 1},
		Mass:     400,
		Friction: 300,
	}
}

// Published formulas (Machinery's Handbook and textbooks, from memory), worked
// by hand.
func TestTrainFormulas(t *testing.T) {
	l, ok := coarse().Train()
	if !ok {
		t.Fatal("no drive train")
	}
	// Thrust = 2 pi e T / lead: 10 N m on 10 mm at 90 % are 5655 N.
	if !within(l.Continuous, 5654.87, 1e-5) || l.ContinuousBy != DriveCurrent {
		t.Errorf("continuous thrust %g N by %s", l.Continuous, l.ContinuousBy)
	}
	if !within(l.Peak, 11309.7, 1e-5) || l.PeakBy != DrivePeakCurrent {
		t.Errorf("peak thrust %g N by %s", l.Peak, l.PeakBy)
	}
	// 300 N of friction are 0.5305 N m or 1.061 A, which take 0.53 V of 127.28 V;
	// the rest at 0.5 V s/rad is 253.5 rad/s or 2420.7 rpm, times 10 mm.
	if !within(l.Rapid, 2420.7/60*10, 1e-4) || l.RapidBy != DriveVolts {
		t.Errorf("rapid %g mm/s by %s", l.Rapid, l.RapidBy)
	}
	// 40 A take 20 V: (127.28 - 20) / 0.5 = 214.6 rad/s.
	if !within(l.FullUpTo, 214.56/(2*math.Pi)*10, 1e-4) {
		t.Errorf("full acceleration up to %g mm/s", l.FullUpTo)
	}
	// 400 kg on 1.5915 mm/rad are 1.0132e-3 kg m^2, through the loss 1.1258e-3;
	// with screw and rotor 4.1258e-3. (20 - 0.5305) N m / J = 4718.9 rad/s^2.
	if !within(l.Acceleration, 4718.9*1.59155, 1e-4) {
		t.Errorf("acceleration %g mm/s^2", l.Acceleration)
	}
}

// Rectified and smoothed, 90 V AC give about 127 V DC, 1.41 times as much
// (common practice).
func TestSupply(t *testing.T) {
	if d := (Drive{ACVolts: 90}); !within(d.DC(), 127, 0.005) || !within(d.DC(), 1.41*90, 0.005) {
		t.Errorf("90 V AC give %g V DC", d.DC())
	}
	if d := (Drive{Volts: 127}); d.DC() != 127 {
		t.Errorf("127 V DC are %g", d.DC())
	}
}

// With 20 A drives on coarse screws the rapid is reached but the thrust is not
// (common practice): on half the lead the rapid is half and the thrust double,
// and with 40 A drives the thrust alone is double.
func TestCoarseScrew(t *testing.T) {
	a := coarse()
	a.Friction = 0
	l, _ := a.Train()
	a.Screw.Lead = 5
	fine, _ := a.Train()
	if !within(fine.Rapid, float64(l.Rapid)/2, 1e-9) || !within(fine.Continuous, float64(l.Continuous)*2, 1e-9) {
		t.Errorf("lead 10 mm: %+v, 5 mm: %+v", l, fine)
	}
	// Two turns of the motor for one of the screw are half a lead.
	a.Screw.Lead, a.Screw.Ratio = 10, 2
	if geared, _ := a.Train(); !within(geared.Rapid, float64(fine.Rapid), 1e-9) || !within(geared.Continuous, float64(fine.Continuous), 1e-9) {
		t.Errorf("geared %+v, fine %+v", geared, fine)
	}
	a.Screw.Ratio, a.Drive.Current, a.Motor.RatedCurrent = 1, 40, 60
	if large, _ := a.Train(); !within(large.Rapid, float64(l.Rapid), 1e-9) || !within(large.Continuous, float64(l.Continuous)*2, 1e-9) {
		t.Errorf("20 A: %+v, 40 A: %+v", l, large)
	}
}

// Which part is the limit.
func TestLimitingPart(t *testing.T) {
	for _, tt := range []struct {
		name                      string
		change                    func(a *Axis)
		rapid, continuous, peaked Part
	}{
		{"as it is", func(*Axis) {}, DriveVolts, DriveCurrent, DrivePeakCurrent},
		{"a small motor", func(a *Axis) { a.Motor.RatedCurrent, a.Motor.PeakCurrent = 15, 30 }, DriveVolts, MotorCurrent, MotorPeakCurrent},
		{"a drive without peak", func(a *Axis) { a.Drive.PeakCurrent = 0 }, DriveVolts, DriveCurrent, DriveCurrent},
		{"a motor without peak", func(a *Axis) { a.Motor.PeakCurrent = 0 }, DriveVolts, DriveCurrent, MotorCurrent},
		{"a slow motor", func(a *Axis) { a.Motor.TopSpeed = 2000 }, MotorTopSpeed, DriveCurrent, DrivePeakCurrent},
		{"no current given", func(a *Axis) { a.Motor, a.Drive = &Motor{Ke: 0.5}, &Drive{Volts: 100} }, DriveVolts, "", ""},
		{"a weight that it can't hold", func(a *Axis) { a.Weight = 12000 }, "", DriveCurrent, DrivePeakCurrent},
	} {
		a := coarse()
		tt.change(a)
		if l, ok := a.Train(); !ok || l.RapidBy != tt.rapid || l.ContinuousBy != tt.continuous || l.PeakBy != tt.peaked {
			t.Errorf("%s: %+v", tt.name, l)
		}
	}
}

// The closed forms against the motion itself, in small steps of time: current
// by what the volts leave, force by the current, speed by the force. The speed
// settles at the computed rapid, and while current is the limit the axis
// accelerates as computed.
func TestTrainAgainstMotion(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string, low, high float64) float64 { return rapid.Float64Range(low, high).Draw(t, name) }
		a := &Axis{
			Motor:    &Motor{Kt: TorqueConstant(draw("kt", 0.2, 1)), Inertia: Inertia(draw("rotor", 5e-4, 5e-3)), RatedCurrent: 30, Resistance: Resistance(draw("ohm", 0.2, 1))},
			Drive:    &Drive{Volts: Voltage(draw("volts", 60, 200)), Current: Current(draw("current", 10, 30))},
			Screw:    &Screw{Lead: Length(draw("lead", 4, 20)), Inertia: Inertia(draw("screw", 2e-4, 5e-3)), Efficiency: Share(draw("efficiency", 0.3, 0.95)), Ratio: Ratio(draw("ratio", 0.5, 3))},
			Mass:     Mass(draw("mass", 50, 1000)),
			Friction: Force(draw("friction", 0, 400)),
		}
		l, ok := a.Train()
		if !ok || l.FullUpTo <= 0 || l.Acceleration <= 0 {
			return // too weak for its friction
		}
		turn := float64(a.Screw.Lead) / 1000 / (2 * math.Pi) // m in one radian of the screw
		i, e := float64(a.Screw.Ratio), float64(a.Screw.Efficiency)
		load := (float64(a.Mass)*turn*turn/e + float64(a.Screw.Inertia)) / (i * i)
		omega, at, full := 0.0, 0.0, 0.75*float64(l.FullUpTo)/float64(l.Acceleration)
		all := float64(a.Motor.Inertia) + load
		// The current reaches its end in no time; the speed comes near its own by
		// e in one constant of time, once the volts are the limit.
		slow := all * float64(a.Motor.Resistance) / (float64(a.Motor.Kt) * float64(a.Motor.Kt))
		step := float64(l.FullUpTo) / float64(l.Acceleration) / 200 // s
		for n := range 200 + 200*12 {
			if n == 200 {
				step = slow / 200
			}
			current := min(float64(a.Drive.Current), (float64(a.Drive.Volts)-float64(a.Motor.Kt)*omega)/float64(a.Motor.Resistance))
			torque := float64(a.Motor.Kt)*current - float64(a.Friction)*turn/(e*i)
			omega += step * torque / all
			if at += step; at < full && !within(Speed(omega*turn/i*1000), float64(l.Acceleration)*at, 1e-6) {
				t.Fatalf("after %g s %g mm/s, and %g mm/s^2 computed", at, omega*turn/i*1000, l.Acceleration)
			}
		}
		if v := Speed(omega * turn / i * 1000); !within(v, float64(l.Rapid), 1e-2) {
			t.Fatalf("settles at %g mm/s, computed %g", v, l.Rapid)
		}
	})
}

// Torque (N m) = 9549 kW / rpm; below the base speed torque is constant, above
// it power; a gear multiplies torque and divides speed (Machinery's Handbook,
// from memory).
func TestCurve(t *testing.T) {
	s := &Spindle{
		Motor: &SpindleMotor{Power: 7500, BaseSpeed: 1500, TopSpeed: 6000},
		Gears: []SpindleGear{{Ratio: 4}, {Ratio: 1}, {}},
	}
	low, ok := s.Curve(0)
	high, ok2 := s.Curve(1)
	if !ok || !ok2 {
		t.Fatal("no curve")
	}
	if !within(high.Torque, 9549*7.5/1500, 1e-4) || high.Base != 1500 || high.Top != 6000 {
		t.Errorf("direct: %+v", high)
	}
	if !within(low.Torque, 4*9549*7.5/1500, 1e-4) || low.Base != 375 || low.Top != 1500 {
		t.Errorf("4:1: %+v", low)
	}
	for _, tt := range []struct{ rpm, torque, kw float64 }{
		{0, 190.98, 0}, {100, 190.98, 2}, {375, 190.98, 7.5}, {750, 95.49, 7.5}, {1500, 47.745, 7.5}, {1501, 0, 0},
	} {
		if got := low.TorqueAt(Rotation(tt.rpm)); !within(got, tt.torque, 1e-4) {
			t.Errorf("%g rpm: %g N m, want %g", tt.rpm, got, tt.torque)
		}
		if got := low.PowerAt(Rotation(tt.rpm)); !within(got, tt.kw*1000, 1e-4) {
			t.Errorf("%g rpm: %g W, want %g kW", tt.rpm, got, tt.kw)
		}
	}
	if _, ok := s.Curve(2); ok {
		t.Error("a gear without ratio has a curve")
	}
	if direct, ok := (&Spindle{Motor: s.Motor}).Curve(0); !ok || direct != high {
		t.Errorf("without gears: %+v", direct)
	}
}

// Units against definitions: a pound of 0.45359237 kg, an inch of 25.4 mm,
// standard gravity of 9.80665 m/s^2; handbook figures from memory.
func TestDriveUnits(t *testing.T) {
	for _, tt := range []struct {
		dim   *dimension
		text  string
		value float64
	}{
		{&forceDim, "1 lbf", 4.4482216},
		{&massDim, "2.2046226 lb", 1},
		{&inertiaDim, "1 lb in^2", 2.9263967e-4},
		{&inertiaDim, "1 lbf in s^2", 0.11298483},
		{&inertiaDim, "1 ozf in s^2", 7.0615518e-3},
		{&inertiaDim, "20 kg cm^2", 2e-3},
		{&inertiaDim, "20  kg   cm^2", 2e-3},
		{&powerDim, "10 hp", 7456.9987},
		{&torqueConstantDim, "1 lbf in/A", 0.11298483},
		{&voltageConstantDim, "60 V/krpm", 0.57295780},
		{&voltageConstantDim, "0.5 V s/rad", 0.5},
		{&resistanceDim, "500 mohm", 0.5},
	} {
		if got, err := tt.dim.parse(tt.text); err != nil || !within(got, tt.value, 1e-6) {
			t.Errorf("%s is %g, %v; want %g", tt.text, got, err, tt.value)
		}
	}
}

// trainMill is shopMill with a drive train on Z.
var trainMill = strings.NewReplacer("[axes.a]", `[axes.z.motor]
kt = "0.5 N m/A"
ke = "52.36 V/krpm"
inertia = "20 kg cm^2"
rated_current = "25 A"
peak_current = "80 A"
[axes.z.drive]
volts = "127 V"
current = "20 A"
peak_current = "40 A"
[axes.z.screw]
lead = "10 mm"
inertia = "10 kg cm^2"
efficiency = "90 %"
ratio = "1:1"
[axes.a]`, "acceleration = \"0.35 m/s^2\"", "acceleration = \"0.35 m/s^2\"\nmass = \"400 kg\"").Replace(shopMill)

// What is given stays in force; what is not is computed, and all else uses it.
func TestComputedLimits(t *testing.T) {
	given, complaint := loadText(t, trainMill)
	if complaint != "" {
		t.Fatal(complaint)
	}
	l, ok := given.Axes.Z.Train()
	if !ok || !near(given.Axes.Z.Rapid, 63.5) || given.Axes.Z.Acceleration != 350 || !within(l.Rapid, 127/52.36*1000/60*10, 1e-3) {
		t.Errorf("given %+v, computed %+v", given.Axes.Z, l)
	}
	none := strings.NewReplacer("rapid = \"150 in/min\"\n", "", "acceleration = \"0.35 m/s^2\"\n", "").Replace(trainMill)
	m, complaint := loadText(t, none)
	if complaint != "" {
		t.Fatal(complaint)
	}
	if z := m.Axes.Z; z.Rapid != l.Rapid || z.Feed != l.Rapid || z.Acceleration != l.Acceleration ||
		m.Origin("axes.z.rapid") != "computed" || m.Origin("axes.z.acceleration") != "computed" || m.Origin("axes.z.feed") != "default" {
		t.Errorf("computed %+v, from %q", z, m.Origin("axes.z.rapid"))
	}
	// What if the screw were finer: half the rapid, twice the thrust.
	for _, text := range []string{trainMill, none} {
		fine, err := loadFrom(&source{name: "shop-mill", file: "shop-mill.toml", text: []byte(text)}, `axes.z.screw.lead="5 mm"`)
		if err != nil {
			t.Fatal(err)
		}
		f, _ := fine.Axes.Z.Train()
		if !within(f.Rapid, float64(l.Rapid)/2, 1e-9) || !within(f.Continuous, float64(l.Continuous)*2, 1e-9) {
			t.Errorf("lead 10 mm: %+v, 5 mm: %+v", l, f)
		}
		if want := map[bool]Speed{true: given.Axes.Z.Rapid, false: f.Rapid}[text == trainMill]; fine.Axes.Z.Rapid != want {
			t.Errorf("in force is %g mm/s, not %g", fine.Axes.Z.Rapid, want)
		}
	}
	// A value that the file gives is taken back.
	back, err := loadFrom(&source{name: "shop-mill", file: "shop-mill.toml", text: []byte(trainMill)}, "axes.z.rapid=computed", "axes.z.acceleration=computed")
	if err != nil || back.Axes.Z.Rapid != l.Rapid || back.Axes.Z.Acceleration != l.Acceleration {
		t.Errorf("taken back: %v", err)
	}
}

func TestTrainMessages(t *testing.T) {
	for _, tt := range []struct{ old, new, want string }{
		{`volts = "127 V"`, `volts = 127`, `axes.z.drive.volts: "127" has no unit: write "127 V"`},
		{`volts = "127 V"`, `volts = "127 A"`, `axes.z.drive.volts: "127 A" is a current, but a voltage is due: its units are V`},
		{`volts = "127 V"`, "volts = \"127 V\"\nac_volts = \"90 V\"", `axes.z.drive.ac_volts: given beside volts: leave one of them out`},
		{`kt = "0.5 N m/A"`, `kt = "0.5 Nm/A"`, `axes.z.motor.kt: "0.5 Nm/A" has the unknown unit "Nm/A": did you mean "N m/A"? units of a torque for an ampere are N m/A, lbf in/A, ozf in/A`},
		{`kt = "0.5 N m/A"`, `kt = "0 N m/A"`, `axes.z.motor.kt: "0 N m/A" is not above 0`},
		{`lead = "10 mm"`, `lead = "10 m m"`, `axes.z.screw.lead: "10 m m" has the unknown unit "m m": did you mean "mm"? units of a length are in, mm, cm, m, um`},
		{`ratio = "1:1"`, `ratio = 1`, `axes.z.screw.ratio: "1" is no ratio: write turns of the motor and of what it drives, such as "2:1" where the motor turns twice as fast`},
		{`ratio = "1:1"`, `ratio = "1:0"`, `axes.z.screw.ratio: "1:0" is not within 1:1000 to 1000:1`},
		{`efficiency = "90 %"`, `efficiency = 0.9`, `axes.z.screw.efficiency: "0.9" has no unit: write "90 %"`},
		{`efficiency = "90 %"`, `efficiency = "190 %"`, `axes.z.screw.efficiency: "190 %" is above 100 %`},
		{`peak_current = "40 A"`, `peak_current = "4 A"`, `axes.z.drive.peak_current: "4 A" is below current, "20 A"`},
		{`rapid = "150 in/min"`, ``, ``},
		{`rapid = "150 in/min"`, `feed = "1000 in/min"`, `axes.z.feed: "1000 in/min" is above the rapid that the drive train gives, 404.3 mm/s: lower it, or leave it out`},
		{`rapid = "150 in/min"`, `weight = "20 kN"`, `axes.z.rapid: not given, and the drive train does not move the axis against friction and weight: write rapid = "250 in/min", or look at the drive train`},
		{`rapid = "30 deg/s"`, "rapid = \"30 deg/s\"\nmass = \"3 kg\"", `axes.a.mass: A turns, and drive trains are computed of linear axes only: give rapid and acceleration`},
		{`rapid = "30 deg/s"`, `rapid = "computed"`, `axes.a.rapid: missing: write rapid = "40 deg/s"`},
		{`mass = "400 kg"`, ``, ``},
	} {
		text := strings.Replace(trainMill, tt.old, tt.new, 1)
		if text == trainMill {
			t.Fatalf("%q is not in the profile", tt.old)
		}
		_, got := loadText(t, text)
		if _, after, ok := strings.Cut(got, ": "); ok {
			got = after
		}
		if got != tt.want {
			t.Errorf("%s: got  %s\nwant %s", tt.new, got, tt.want)
		}
	}
	_, got := loadText(t, strings.NewReplacer("acceleration = \"0.35 m/s^2\"\nmass = \"400 kg\"\n", "", "lead = \"10 mm\"\n", "", "rapid = \"150 in/min\"\n", "").Replace(trainMill))
	for _, want := range []string{
		`axes.z.rapid: missing: write rapid = "250 in/min", or what it is computed from: screw.lead`,
		`axes.z.acceleration: missing: write acceleration = "0.5 m/s^2", or what it is computed from: screw.lead, mass`,
	} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is not in\n%s", want, got)
		}
	}
}

// The speeds of a gear come from its ratio where they are not given.
func TestGearRatios(t *testing.T) {
	const motor = "motor = { power = \"10 hp\", base_speed = \"1750 rpm\", top_speed = \"4200 rpm\" }\n"
	load := func(low, high string) (*Machine, string) {
		return loadText(t, strings.NewReplacer("shift_time", motor+"shift_time",
			`speed = ["40 rpm", "1100 rpm"]`, low, `speed = ["800 rpm", "4200 rpm"]`, high).Replace(shopMill))
	}
	m, complaint := load(`ratio = "4:1"`, "ratio = \"1:1\"\nspeed = [\"800 rpm\", \"4200 rpm\"]")
	if complaint != "" || m.Spindle.Gears[0].Speed[1] != 1050 || m.Spindle.Speed[1] != 4200 || m.Origin("spindle.gears[0].speed") != "computed" {
		t.Errorf("derived: %s, %+v", complaint, m)
	}
	for _, tt := range []struct{ low, high, want string }{
		{"speed = [\"40 rpm\", \"1100 rpm\"]", `ratio = "0:1"`, `spindle.gears[1].ratio: "0:1" is not within 1:1000 to 1000:1`},
		{"ratio = \"1:1\"\nspeed = [\"40 rpm\", \"1100 rpm\"]", "ratio = \"4:1\"\nspeed = [\"800 rpm\", \"1050 rpm\"]",
			`"4:1" is slower than the gear before it, "1:1": write gears from slow to fast`},
	} {
		if _, got := load(tt.low, tt.high); !strings.Contains(got, tt.want) {
			t.Errorf("got %s\nwant %s", got, tt.want)
		}
	}
}

// A computed value can be unsure too, and is scaled as others are.
func TestUnsureComputed(t *testing.T) {
	m, err := FindWith("bed-mill", nil, []string{"axes.z.acceleration=computed", "axes.z.rapid=computed", "unsure.axes.z.rapid=10 %"})
	if err != nil {
		t.Fatal(err)
	}
	for path, value := range map[string]func(*Machine) float64{
		"axes.z.rapid":        func(m *Machine) float64 { return float64(m.Axes.Z.Rapid) },
		"axes.z.acceleration": func(m *Machine) float64 { return float64(m.Axes.Z.Acceleration) },
	} {
		setting, err := m.Scaled(path, 0.9)
		if err != nil {
			t.Fatal(err)
		}
		slower, err := m.With(setting)
		if err != nil || !near(value(slower)/value(m), 0.9) {
			t.Errorf("%s: %v", setting, err)
		}
	}
}
