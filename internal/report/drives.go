package report

import (
	"fmt"
	"math"
	"strings"

	"tapefit/profiles"
)

// driveCaution stands below what is said of drives.
const driveCaution = "Computed from the profile's figures, not measured. Drives, motors and their wiring are for licensed people and the local codes; raise no limit in a drive or a control because of what stands here."

// drivesOf is what drive trains can do, and what the profile says of them.
func drivesOf(m *profiles.Machine) chapter {
	c := chapter{title: "Drive trains"}
	for i := range profiles.NumAxes {
		if a := m.Axis(i); a != nil && a.HasTrain() {
			c.facts = append(c.facts, trainFacts(m, i, a)...)
		}
	}
	if len(c.facts) > 0 {
		c.remarks = append(beyond(m), driveCaution)
	}
	return c
}

func trainFacts(m *profiles.Machine, i int, a *profiles.Axis) []fact {
	letter := profiles.AxisLetters[i : i+1]
	path := "axes." + strings.ToLower(letter) + "."
	u := unitsOf(m)
	var facts []fact
	add := func(name, value, path string) {
		if value != "" {
			facts = append(facts, fact{letter + " " + name, value, path})
		}
	}
	if a.Motor != nil {
		add("motor", motorText(a.Motor), path+"motor")
		add("motor inertia", given(a.Motor.Inertia, inertia), path+"motor.inertia")
		add("motor current", currents(a.Motor.RatedCurrent, a.Motor.PeakCurrent), path+"motor")
		add("motor top speed", given(a.Motor.TopSpeed, rpm), path+"motor.top_speed")
	}
	if a.Drive != nil {
		add("drive", driveVolts(a.Drive), path+"drive")
		add("drive current", currents(a.Drive.Current, a.Drive.PeakCurrent), path+"drive")
	}
	if a.Screw != nil {
		add("screw", screwText(u, a.Screw), path+"screw")
		add("screw inertia", given(a.Screw.Inertia, inertia), path+"screw.inertia")
	}
	add("mass", given(a.Mass, u.mass), path+"mass")
	add("friction", given(a.Friction, u.force), path+"friction")
	add("weight", given(a.Weight, u.force), path+"weight")
	return append(facts, limitFacts(m, i, a)...)
}

// limitFacts are what the drive train gives, with the part that sets the limit,
// and beside it what counts.
func limitFacts(m *profiles.Machine, i int, a *profiles.Axis) []fact {
	letter, u := profiles.AxisLetters[i:i+1], unitsOf(m)
	path := "axes." + strings.ToLower(letter) + "."
	var facts []fact
	add := func(name, value string, by profiles.Part) {
		if by != "" {
			value += ": " + string(by)
		}
		facts = append(facts, fact{letter + " " + name, value, ""})
	}
	l, _ := a.Train()
	if l.Rapid > 0 {
		add("rapid by drives", u.speed(l.Rapid), l.RapidBy)
	} else {
		add("rapid by drives", lacking(a, false), "")
	}
	facts = append(facts, fact{letter + " rapid in force", u.speed(a.Rapid), path + "rapid"})
	if l.Acceleration > 0 {
		add("accel. by drives", u.acceleration(l.Acceleration), l.PeakBy)
	} else {
		add("accel. by drives", lacking(a, true), "")
	}
	if l.FullUpTo > 0 && l.FullUpTo < l.Rapid {
		add("  and less above", u.speed(l.FullUpTo), profiles.DriveVolts)
	}
	facts = append(facts, fact{letter + " accel. in force", u.acceleration(a.Acceleration), path + "acceleration"})
	if l.Continuous > 0 {
		add("steady thrust", u.force(l.Continuous), l.ContinuousBy)
		add("peak thrust", u.force(l.Peak), l.PeakBy)
	}
	if hold := a.Friction + a.Weight; hold > 0 && l.Continuous > 0 {
		add("left for the cut", u.force(max(0, l.Continuous-hold))+" steady", "")
	}
	return facts
}

// lacking says why nothing is computed.
func lacking(a *profiles.Axis, acceleration bool) string {
	if missing := a.Missing(acceleration); len(missing) > 0 {
		return "needs " + strings.Join(missing, ", ")
	}
	return "none against friction and weight"
}

// beyondSlack is how far a given value may lie above the computed one before
// that is said: both are rounded.
const beyondSlack = 0.01

// beyond tells of values that the drive train does not reach.
func beyond(m *profiles.Machine) []string {
	var all []string
	for i := range firstRotary {
		a := m.Axis(i)
		if a == nil {
			continue
		}
		l, _ := a.Train()
		u, letter := unitsOf(m), profiles.AxisLetters[i:i+1]
		if l.Rapid > 0 && a.Rapid > l.Rapid*(1+beyondSlack) {
			all = append(all, fmt.Sprintf("%s rapid of %s is beyond the %s that %s allow by these figures: one of them is wrong. What the profile gives counts.", letter, u.speed(a.Rapid), u.speed(l.Rapid), l.RapidBy))
		}
		if l.Acceleration > 0 && a.Acceleration > l.Acceleration*(1+beyondSlack) {
			all = append(all, fmt.Sprintf("%s acceleration of %s is beyond the %s that %s gives by these figures: one of them is wrong. What the profile gives counts.", letter, u.acceleration(a.Acceleration), u.acceleration(l.Acceleration), l.PeakBy))
		}
		if hold := a.Friction + a.Weight; l.Continuous > 0 && hold >= l.Continuous {
			all = append(all, fmt.Sprintf("%s: friction and weight of %s take all of the steady thrust, %s: motor or drive would get too hot.", letter, u.force(hold), u.force(l.Continuous)))
		}
	}
	return all
}

func motorText(m *profiles.Motor) string {
	var parts []string
	if m.Kt > 0 {
		parts = append(parts, "kt "+short(float64(m.Kt), 4)+" N m/A")
	}
	if m.Ke > 0 {
		parts = append(parts, "ke "+short(float64(m.Ke)*1000*2*math.Pi/60, 2)+" V/krpm")
	}
	if m.Resistance > 0 {
		parts = append(parts, short(float64(m.Resistance), 3)+" ohm")
	}
	return strings.Join(parts, ", ")
}

func inertia(j profiles.Inertia) string { return short(float64(j)*1e4, 2) + " kg cm^2" }

func rpm(r profiles.Rotation) string { return short(float64(r), 1) + " rpm" }

func currents(steady, peak profiles.Current) string {
	var parts []string
	if steady > 0 {
		parts = append(parts, short(float64(steady), 1)+" A")
	}
	if peak > 0 {
		parts = append(parts, "peak "+short(float64(peak), 1)+" A")
	}
	return strings.Join(parts, ", ")
}

func driveVolts(d *profiles.Drive) string {
	if d.DC() <= 0 {
		return ""
	}
	text := short(float64(d.DC()), 0) + " V DC"
	if d.ACVolts > 0 {
		text += " of " + short(float64(d.ACVolts), 1) + " V AC"
	}
	return text
}

func screwText(u units, s *profiles.Screw) string {
	var parts []string
	if s.Lead > 0 {
		parts = append(parts, "lead "+u.length(s.Lead))
	}
	if s.Ratio > 0 {
		parts = append(parts, ratio(s.Ratio))
	}
	if s.Efficiency > 0 {
		parts = append(parts, short(float64(s.Efficiency)*100, 0)+" %")
	} else {
		parts = append(parts, short(float64(profiles.DefaultEfficiency)*100, 0)+" % by default")
	}
	return strings.Join(parts, ", ")
}

// ratio writes a ratio by its larger side: 3.2:1, or 1:2 where the motor is
// the slower.
func ratio(r profiles.Ratio) string {
	if r < 1 {
		return "1:" + short(1/float64(r), 3)
	}
	return short(float64(r), 3) + ":1"
}

// curves are the torque and power of each gear.
func curves(m *profiles.Machine) []fact {
	s := &m.Spindle
	if s.Motor == nil {
		return nil
	}
	u := unitsOf(m)
	text := u.power(s.Motor.Power) + " from " + rpm(s.Motor.BaseSpeed)
	if s.Motor.TopSpeed > 0 {
		text += " to " + rpm(s.Motor.TopSpeed)
	}
	facts := []fact{{"motor", text, "spindle.motor"}}
	for i := range max(1, len(s.Gears)) {
		c, ok := s.Curve(i)
		if !ok {
			continue
		}
		name, speed, turns := "spindle", s.Speed, profiles.Ratio(1)
		if i < len(s.Gears) {
			name, speed, turns = s.Gears[i].Name, s.Gears[i].Speed, s.Gears[i].Ratio
		}
		facts = append(facts, fact{name + ", " + ratio(turns), fmt.Sprintf("%s to %s, %s above", u.torque(c.Torque), rpm(c.Base), u.power(c.Power)), ""})
		for _, at := range curveSpeeds(&c, speed) {
			facts = append(facts, fact{name + " at " + rpm(at), u.torque(c.TorqueAt(at)) + ", " + u.power(c.PowerAt(at)), ""})
		}
	}
	return facts
}

// overspeed tells of gears whose speeds the motor does not reach.
func overspeed(m *profiles.Machine) []string {
	var all []string
	for i, g := range m.Spindle.Gears {
		c, ok := m.Spindle.Curve(i)
		if ok && c.Top > 0 && float64(g.Speed[1]) > float64(c.Top)*(1+ratioSlack) {
			all = append(all, fmt.Sprintf("gear %s: %s is beyond the %s that the motor's top speed gives through %s: one of them is wrong. What the profile gives counts.", g.Name, rpm(g.Speed[1]), rpm(c.Top), ratio(g.Ratio)))
		}
	}
	return all
}

// ratioSlack is how far a gear's speed may be above what its ratio gives:
// plates are rounded, and belts slip.
const ratioSlack = 0.02

// curveSpeeds are round speeds of a gear, 1, 2 or 5 times a power of ten, from
// a twentieth of its highest, and that.
func curveSpeeds(c *profiles.Curve, speed []profiles.Rotation) []profiles.Rotation {
	top := c.Top
	if len(speed) == 2 && (top == 0 || speed[1] < top) {
		top = speed[1]
	}
	if top < 1 || top > 1e7 {
		return nil
	}
	least := top / 20
	if len(speed) == 2 {
		least = max(least, speed[0])
	}
	var all []profiles.Rotation
	for power := 0.1; power < float64(top); power *= 10 {
		for _, step := range []float64{1, 2, 5} {
			if round := profiles.Rotation(math.Round(power*step*10) / 10); round >= least && round < top {
				all = append(all, round)
			}
		}
	}
	return append(all, top)
}

const (
	poundForce = 4.4482216152605    // N
	pound      = 0.45359237         // kg
	horsepower = 745.69987158227022 // W
)

func (u units) inch() bool { return u.name == inches.name }

// force is a force in lbf or N.
func (u units) force(f profiles.Force) string {
	if u.inch() {
		return short(float64(f)/poundForce, 0) + " lbf"
	}
	return short(float64(f), 0) + " N"
}

// mass is a mass in lb or kg.
func (u units) mass(m profiles.Mass) string {
	if u.inch() {
		return short(float64(m)/pound, 0) + " lb"
	}
	return short(float64(m), 1) + " kg"
}

// torque is a torque in lbf ft or N m.
func (u units) torque(t profiles.Torque) string {
	if u.inch() {
		return short(float64(t)/(poundForce*12*mmPerInch/1000), 1) + " lbf ft"
	}
	return short(float64(t), 1) + " N m"
}

// power is a power in hp or kW.
func (u units) power(p profiles.Power) string {
	if u.inch() {
		return short(float64(p)/horsepower, 1) + " hp"
	}
	return short(float64(p)/1000, 2) + " kW"
}
