package profiles

import "strings"

// computable checks a value that must be given or computed; missing are the
// keys that it can't be computed without.
func (v *validator) computable(path string, value float64, example string, missing []string) {
	axis := path[:strings.LastIndexByte(path, '.')]
	train := v.given(axis+".motor") || v.given(axis+".drive") || v.given(axis+".screw")
	switch {
	case v.given(path) || !train:
		v.positive(path, value, example)
	case len(missing) > 0:
		v.fail(path, "missing: write %s = %s, or what it is computed from: %s", path[len(axis)+1:], example, strings.Join(missing, ", "))
	default:
		v.fail(path, "not given, and the drive train does not move the axis against friction and weight: write %s = %s, or look at the drive train", path[len(axis)+1:], example)
	}
}

// train checks the drive train of an axis, each value that is given.
func (v *validator) train(i int, a *Axis) {
	path := axisPath(i)
	for _, key := range []string{"motor", "drive", "screw", "mass", "friction", "weight"} {
		if i >= linearAxes && v.given(path+"."+key) {
			v.fail(path+"."+key, "%c turns, and drive trains are computed of linear axes only: give rapid and acceleration", AxisLetters[i])
			return
		}
	}
	if a.Motor == nil {
		a = &Axis{Motor: &Motor{}, Drive: a.Drive, Screw: a.Screw, Mass: a.Mass, Friction: a.Friction, Weight: a.Weight}
	}
	m, d, s := a.Motor, a.Drive, a.Screw
	v.above0(path+".motor.kt", float64(m.Kt))
	v.above0(path+".motor.ke", float64(m.Ke))
	v.above0(path+".motor.inertia", float64(m.Inertia))
	v.above0(path+".motor.rated_current", float64(m.RatedCurrent))
	v.above0(path+".motor.peak_current", float64(m.PeakCurrent))
	v.above0(path+".motor.resistance", float64(m.Resistance))
	v.above0(path+".motor.top_speed", float64(m.TopSpeed))
	v.notBelow(path+".motor.peak_current", float64(m.PeakCurrent), path+".motor.rated_current", float64(m.RatedCurrent))
	if d != nil {
		v.drive(path+".drive", d)
	}
	if s != nil {
		v.above0(path+".screw.lead", float64(s.Lead))
		v.above0(path+".screw.inertia", float64(s.Inertia))
		v.above0(path+".screw.efficiency", float64(s.Efficiency))
		if s.Efficiency > 1 {
			v.fail(path+".screw.efficiency", "%q is above 100 %%", v.written(path+".screw.efficiency"))
		}
	}
	v.above0(path+".mass", float64(a.Mass))
	v.atLeast(path+".friction", float64(a.Friction), 0)
	v.atLeast(path+".weight", float64(a.Weight), 0)
}

func (v *validator) drive(path string, d *Drive) {
	v.above0(path+".volts", float64(d.Volts))
	v.above0(path+".ac_volts", float64(d.ACVolts))
	v.above0(path+".current", float64(d.Current))
	v.above0(path+".peak_current", float64(d.PeakCurrent))
	v.notBelow(path+".peak_current", float64(d.PeakCurrent), path+".current", float64(d.Current))
	if v.given(path+".volts") && v.given(path+".ac_volts") {
		v.fail(path+".ac_volts", "given beside volts: leave one of them out")
	}
}

// above0 checks a value that need not be given.
func (v *validator) above0(path string, value float64) {
	if v.given(path) && value <= 0 {
		v.fail(path, "%q is not above 0", v.written(path))
	}
}

func (v *validator) notBelow(path string, value float64, least string, limit float64) {
	if v.given(path) && v.given(least) && value < limit {
		v.fail(path, "%q is below %s, %q", v.written(path), least[strings.LastIndexByte(least, '.')+1:], v.written(least))
	}
}

func (v *validator) spindleMotor() {
	m := v.m.Spindle.Motor
	if m == nil {
		return
	}
	v.positive("spindle.motor.power", float64(m.Power), `"7.5 kW"`)
	v.positive("spindle.motor.base_speed", float64(m.BaseSpeed), `"1500 rpm"`)
	v.above0("spindle.motor.top_speed", float64(m.TopSpeed))
	v.notBelow("spindle.motor.top_speed", float64(m.TopSpeed), "spindle.motor.base_speed", float64(m.BaseSpeed))
}

// gearRatio checks a gear's ratio against that of the gear before.
func (v *validator) gearRatio(i int) {
	if i == 0 {
		return
	}
	gears := v.m.Spindle.Gears
	if before := gears[i-1].Ratio; before > 0 && gears[i].Ratio > before {
		v.fail(gearPath(i)+".ratio", "%q is slower than the gear before it, %q: write gears from slow to fast",
			v.written(gearPath(i)+".ratio"), v.written(gearPath(i-1)+".ratio"))
	}
}
