package profiles

import (
	"math"
	"strings"
)

// Quantities of drive trains, in SI units inside.
type (
	Current         float64 // A
	Voltage         float64 // V
	Resistance      float64 // ohm
	Force           float64 // N
	Torque          float64 // N m
	Mass            float64 // kg
	Inertia         float64 // kg m^2
	Power           float64 // W
	TorqueConstant  float64 // N m/A
	VoltageConstant float64 // V s/rad
	Ratio           float64 // turns of the motor in one turn of what it drives; written "2:1"
)

// Motor is the motor of an axis, by its data sheet. Of kt and ke one is enough:
// in SI units they are one number, where both are of the same current and
// voltage (of brushless motors: peak values of one phase to another).
type Motor struct {
	Kt           TorqueConstant  `toml:"kt"`            // torque of one ampere
	Ke           VoltageConstant `toml:"ke"`            // voltage of one turn, such as "60 V/krpm"
	Inertia      Inertia         `toml:"inertia"`       // of the rotor, with brake and coupling or pulleys
	RatedCurrent Current         `toml:"rated_current"` // for as long as one likes
	PeakCurrent  Current         `toml:"peak_current"`  // while accelerating; RatedCurrent where not given
	Resistance   Resistance      `toml:"resistance"`    // hot; without it the volts that it takes are left out
	TopSpeed     Rotation        `toml:"top_speed"`     // by its plate
}

// Drive is the amplifier of an axis. Of volts and ac_volts one is given.
type Drive struct {
	Volts       Voltage `toml:"volts"`        // DC, under load
	ACVolts     Voltage `toml:"ac_volts"`     // AC before it is rectified and smoothed: DC is 1.41 times as much
	Current     Current `toml:"current"`      // limit, for as long as one likes
	PeakCurrent Current `toml:"peak_current"` // limit for the time of an acceleration; Current where not given
}

// Screw is what makes turns of the motor a way of the slide.
type Screw struct {
	Lead       Length  `toml:"lead"`       // way of the slide in one turn of the screw
	Inertia    Inertia `toml:"inertia"`    // of the screw, with the pulley on it
	Efficiency Share   `toml:"efficiency"` // default 90 %, of a ball screw; a trapezoidal one has 25 to 50 %
	Ratio      Ratio   `toml:"ratio"`      // turns of the motor to turns of the screw; default 1:1
}

// SpindleMotor is the motor of the spindle, by its plate.
type SpindleMotor struct {
	Power     Power    `toml:"power"`      // for as long as one likes
	BaseSpeed Rotation `toml:"base_speed"` // up to which its torque is whole, and from which its power is
	TopSpeed  Rotation `toml:"top_speed"`
}

// A Part is the part of a drive train that sets a limit.
type Part string

const (
	DriveVolts       Part = "the drive's volts"
	MotorTopSpeed    Part = "the motor's top speed"
	DriveCurrent     Part = "the drive's current"
	DrivePeakCurrent Part = "the drive's peak current"
	MotorCurrent     Part = "the motor's rated current"
	MotorPeakCurrent Part = "the motor's peak current"
)

// Limits is what a drive train can do, and which part is the limit. What the
// profile doesn't tell enough for is 0.
type Limits struct {
	Rapid Speed // steady, against friction and weight
	// FullUpTo is the speed up to which the volts can still drive the peak current:
	// above it the axis accelerates less. 0 where the resistance is not given.
	FullUpTo     Speed
	Acceleration Acceleration // at peak current, against friction and weight
	Continuous   Force        // thrust of the screw, friction and weight not taken off
	Peak         Force

	RapidBy, ContinuousBy, PeakBy Part
}

// DefaultEfficiency is that of a ball screw (Machinery's Handbook and makers'
// catalogues, from memory: 85 to 95 %).
const DefaultEfficiency Share = 0.9

// DC is the voltage that the drive works from. A smoothed supply stands at the
// peak of the AC, the square root of two times its effective value (any
// textbook of electricity; common practice says 1.41).
func (d *Drive) DC() Voltage {
	if d.Volts > 0 {
		return d.Volts
	}
	return Voltage(math.Sqrt2) * d.ACVolts
}

// torqueConstant is Kt, or what follows from Ke: in SI units the power that goes in as
// volts times current comes out as torque times speed, so both are one number.
func (m *Motor) torqueConstant() float64 {
	if m.Kt > 0 {
		return float64(m.Kt)
	}
	return float64(m.Ke)
}

func (m *Motor) voltageConstant() float64 {
	if m.Ke > 0 {
		return float64(m.Ke)
	}
	return float64(m.Kt)
}

// Train is what the drive train of a linear axis can do; false where the
// profile gives none.
//
// Formulas (Machinery's Handbook, and textbooks of servo drives; from memory),
// in SI units, with lead l, efficiency e, ratio i, current I, mass m, friction
// and weight F:
//
//	thrust        2 pi e i Kt I / l
//	speed         (V - I R) / Ke of the motor, times l / (2 pi i) of the slide;
//	              I is the current that holds against F
//	acceleration  (Kt I - F l / (2 pi e i)) / J, times l / (2 pi i), where
//	              J = J motor + (J screw + m (l / 2 pi)^2 / e) / i^2
func (a *Axis) Train() (Limits, bool) {
	if a.Motor == nil || a.Drive == nil || a.Screw == nil || a.Screw.Lead <= 0 || a.Motor.torqueConstant() <= 0 {
		return Limits{}, false
	}
	t := a.transmission()
	var l Limits
	var continuous, peak float64
	continuous, l.ContinuousBy = least(a.Drive.Current, DriveCurrent, a.Motor.RatedCurrent, MotorCurrent)
	peak, l.PeakBy = a.peak()
	l.Continuous = Force(finite(continuous * t.kt / t.torque))
	l.Peak = Force(finite(peak * t.kt / t.torque))
	l.Rapid, l.RapidBy = a.computedRapid(t)
	if v := float64(a.Drive.DC()) - peak*float64(a.Motor.Resistance); l.Rapid > 0 && peak > 0 && a.Motor.Resistance > 0 {
		l.FullUpTo = min(l.Rapid, Speed(max(0, v/t.ke*t.way*1000)))
	}
	if a.Mass > 0 && a.Motor.Inertia > 0 && a.Screw.Inertia > 0 {
		mass := float64(a.Mass) * t.way * t.torque // both ways through the screw, once with its loss
		j := float64(a.Motor.Inertia) + float64(a.Screw.Inertia)/(t.ratio*t.ratio) + mass
		l.Acceleration = Acceleration(finite(max(0, peak*t.kt-t.hold) / j * t.way * 1000))
	}
	return l, true
}

// A transmission is a drive train in SI units.
type transmission struct {
	kt, ke float64
	ratio  float64 // turns of the motor in one of the screw
	way    float64 // m of the slide in one radian of the motor
	torque float64 // N m of the motor for 1 N of thrust
	hold   float64 // N m of the motor against friction and weight
}

func (a *Axis) transmission() transmission {
	t := transmission{kt: a.Motor.torqueConstant(), ke: a.Motor.voltageConstant(), ratio: 1}
	if a.Screw.Ratio > 0 {
		t.ratio = float64(a.Screw.Ratio)
	}
	efficiency := DefaultEfficiency
	if a.Screw.Efficiency > 0 {
		efficiency = a.Screw.Efficiency
	}
	t.way = float64(a.Screw.Lead) / 1000 / (2 * math.Pi * t.ratio)
	t.torque = t.way / float64(efficiency)
	t.hold = float64(a.Friction+a.Weight) * t.torque
	return t
}

// peak is the current of an acceleration, and what sets it.
func (a *Axis) peak() (float64, Part) {
	drive, drivePart := a.Drive.PeakCurrent, DrivePeakCurrent
	if drive <= 0 {
		drive, drivePart = a.Drive.Current, DriveCurrent
	}
	motor, motorPart := a.Motor.PeakCurrent, MotorPeakCurrent
	if motor <= 0 {
		motor, motorPart = a.Motor.RatedCurrent, MotorCurrent
	}
	return least(drive, drivePart, motor, motorPart)
}

// least is the smaller of two limits, of which 0 is none.
func least(a Current, partA Part, b Current, partB Part) (float64, Part) {
	switch {
	case a <= 0 && b <= 0:
		return 0, ""
	case b <= 0, a > 0 && a <= b:
		return float64(a), partA
	}
	return float64(b), partB
}

// computedRapid is the steady speed that the volts allow, or the motor.
func (a *Axis) computedRapid(t transmission) (Speed, Part) {
	volts := float64(a.Drive.DC()) - t.hold/t.kt*float64(a.Motor.Resistance)
	peak, _ := a.peak()
	if a.Drive.DC() <= 0 || volts <= 0 || peak > 0 && peak*t.kt <= t.hold {
		return 0, ""
	}
	turning, part := volts/t.ke, DriveVolts
	if top := float64(a.Motor.TopSpeed) * 2 * math.Pi / 60; top > 0 && top < turning {
		turning, part = top, MotorTopSpeed
	}
	return Speed(finite(turning * t.way * 1000)), part
}

// finite is v, or 0 where the figures are so far from any machine that it is no
// number.
func finite(v float64) float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	return v
}

// Missing are the keys below the axis without which its rapid, or its
// acceleration, can't be computed.
func (a *Axis) Missing(acceleration bool) []string {
	var keys []string
	need := func(ok bool, key string) {
		if !ok {
			keys = append(keys, key)
		}
	}
	motor, drive, screw := Motor{}, Drive{}, Screw{}
	if a.Motor != nil {
		motor = *a.Motor
	}
	if a.Drive != nil {
		drive = *a.Drive
	}
	if a.Screw != nil {
		screw = *a.Screw
	}
	need(motor.torqueConstant() > 0, "motor.kt")
	need(screw.Lead > 0, "screw.lead")
	if !acceleration {
		need(drive.DC() > 0, "drive.volts")
		return keys
	}
	need(drive.Current > 0 || drive.PeakCurrent > 0 || motor.RatedCurrent > 0 || motor.PeakCurrent > 0, "drive.current")
	need(motor.Inertia > 0, "motor.inertia")
	need(screw.Inertia > 0, "screw.inertia")
	need(a.Mass > 0, "mass")
	return keys
}

// HasTrain says whether the profile gives any part of a drive train.
func (a *Axis) HasTrain() bool { return a.Motor != nil || a.Drive != nil || a.Screw != nil }

// A Curve is what a spindle gives in one gear, losses left out: whole torque up
// to Base, whole power from there to Top (Machinery's Handbook and textbooks,
// from memory: constant torque below the base speed of a drive, constant power
// above).
type Curve struct {
	Power  Power
	Torque Torque   // whole
	Base   Rotation // of the spindle
	Top    Rotation // of the spindle; 0: not known
}

// Curve is that of gear i; without gears i is 0, and the motor drives the
// spindle one to one. False where motor or ratio are not given.
func (s *Spindle) Curve(i int) (Curve, bool) {
	m, ratio := s.Motor, 1.0
	if i < len(s.Gears) {
		ratio = float64(s.Gears[i].Ratio)
	}
	if m == nil || m.Power <= 0 || m.BaseSpeed <= 0 || ratio <= 0 {
		return Curve{}, false
	}
	base := float64(m.BaseSpeed) / ratio
	return Curve{
		Power:  m.Power,
		Torque: torqueAt(m.Power, base),
		Base:   Rotation(base),
		Top:    Rotation(float64(m.TopSpeed) / ratio),
	}, true
}

// torqueAt is power over angular speed: 9549 N m for 1 kW at 1 rpm.
func torqueAt(p Power, rpm float64) Torque {
	return Torque(finite(float64(p) / (rpm * 2 * math.Pi / 60)))
}

// TorqueAt is the torque at a speed of the spindle, 0 beyond Top.
func (c *Curve) TorqueAt(rpm Rotation) Torque {
	switch {
	case c.Top > 0 && rpm > c.Top:
		return 0
	case rpm <= c.Base:
		return c.Torque
	}
	return torqueAt(c.Power, float64(rpm))
}

// PowerAt is the power at a speed of the spindle, 0 beyond Top.
func (c *Curve) PowerAt(rpm Rotation) Power {
	return Power(float64(c.TorqueAt(rpm)) * float64(rpm) * 2 * math.Pi / 60)
}

// computed is how a profile takes back a value that its base gives, so that it
// is computed again, and what Origin says of such a value.
const computed = "computed"

// computable are the keys of linear axes that a drive train gives.
var computable = []string{"rapid", "acceleration"}

// takeBack drops the values of axes that are written as "computed".
func takeBack(tree *node) {
	axes := tree.child("axes")
	for _, letter := range AxisLetters {
		axis := axes.child(strings.ToLower(string(letter)))
		for _, key := range computable {
			if n := axis.child(key); n != nil && n.kind == stringNode && n.text == computed {
				axis.drop(key)
			}
		}
	}
}

// computedPlace stands for values that a drive train gives.
var computedPlace = &node{}

// compute fills in what drive trains give and the profile doesn't.
func (m *Machine) compute(d *decoder) {
	give := func(path string, ok bool, set func()) {
		if ok && d.places[path] == nil {
			set()
			d.places[path] = computedPlace
		}
	}
	for i := range linearAxes {
		if a := m.Axis(i); a != nil {
			l, _ := a.Train()
			give(axisPath(i)+".rapid", l.Rapid > 0, func() { a.Rapid = l.Rapid })
			give(axisPath(i)+".acceleration", l.Acceleration > 0, func() { a.Acceleration = l.Acceleration })
		}
	}
	for i := range m.Spindle.Gears {
		g := &m.Spindle.Gears[i]
		c, ok := m.Spindle.Curve(i)
		give(gearPath(i)+".speed", ok && c.Top > 0, func() { g.Speed = []Rotation{0, c.Top} })
	}
}

// computed is a value that a drive train gives on which times hang.
func (m *Machine) computed(path string) (number float64, unit string) {
	for i := range linearAxes {
		switch path {
		case axisPath(i) + ".rapid":
			return float64(m.Axis(i).Rapid), "mm/s"
		case axisPath(i) + ".acceleration":
			return float64(m.Axis(i).Acceleration), "mm/s^2"
		}
	}
	return 0, ""
}

// linearAxes counts the axes that are linear: X, Y, Z.
const linearAxes = 3
