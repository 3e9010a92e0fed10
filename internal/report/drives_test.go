package report

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tapefit/profiles"
)

// driveSheet is the data sheet of bed-mill with settings, in lines.
func driveSheet(t *testing.T, settings ...string) string {
	t.Helper()
	m, err := profiles.FindWith("bed-mill", nil, settings)
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	if err := NewText(&out, 100, false).Machine(m); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

// hasLines says whether the sheet has each line, however its columns stand.
func hasLines(t *testing.T, sheet string, want ...string) {
	t.Helper()
	for _, w := range want {
		if !strings.Contains(squeeze(sheet), squeeze(w)) {
			t.Errorf("no %q in\n%s", w, sheet)
		}
	}
}

// By hand, from the profile's figures: 90 V AC are 127.28 V; 230 lbf are
// 1023 N, on a lead of 5.08 mm at 90 % 0.919 N m or 1.313 A, which take 0.66 V;
// 126.62 V at 73.3 V/krpm are 1727.5 rpm, times 0.2 in 345.5 in/min. 15 A are
// 10.5 N m, or 2 pi 0.9 10.5 / 0.00508 = 11688 N. 10 hp at 375 rpm are
// 5252 10 / 375 = 140.1 lbf ft (Machinery's Handbook, from memory).
func TestDriveSheet(t *testing.T) {
	sheet := driveSheet(t)
	hasLines(t, sheet,
		"Z drive 127 V DC of 90 V AC bed-mill.toml:",
		"Z screw lead 0.2 in, 1:1, 90 % bed-mill.toml:",
		"Z rapid by drives 345.49 in/min: the drive's volts computed",
		"Z rapid in force 150 in/min bed-mill.toml:",
		"Z steady thrust 2628 lbf: the drive's current computed",
		"Z left for the cut 2398 lbf steady computed",
		"licensed people and the local codes",
		"low, 4:1 140.1 lbf ft to 375 rpm, 10 hp above computed",
		"low at 1000 rpm 52.5 lbf ft, 10 hp computed",
		"high at 1000 rpm 35 lbf ft, 6.7 hp computed")
	if strings.Contains(sheet, "is beyond") {
		t.Error("the demo's own values are beyond what its drive train gives")
	}
	hasLines(t, driveSheet(t, "display=mm"), "low, 4:1 189.9 N m to 375 rpm, 7.46 kW above computed", "Z mass 350 kg")
}

func TestDriveSheetWhatIf(t *testing.T) {
	hasLines(t, driveSheet(t, "axes.z.rapid=600 in/min"),
		"Z rapid in force 600 in/min --set",
		"Z rapid of 600 in/min is beyond the 345.49 in/min that the drive's volts allow by these figures: one of them is wrong. What the profile gives counts.")
	hasLines(t, driveSheet(t, `axes.z.screw.lead="5 mm"`), "Z rapid by drives 340.0", "Z steady thrust 2670 lbf")
	hasLines(t, driveSheet(t, "axes.z.acceleration=9 m/s^2"), "Z acceleration of 354.33 in/s^2 is beyond the 84.61 in/s^2 that the drive's peak current gives")
	hasLines(t, driveSheet(t, "axes.z.weight=14 kN"), "friction and weight of 3227 lbf take all of the steady thrust, 2628 lbf: motor or drive would get too hot.")
	hasLines(t, driveSheet(t, "spindle.gears[1].speed[1]=6000 rpm"), "gear high: 6000 rpm is beyond the 4500 rpm that the motor's top speed gives through 1:1: one of them is wrong.")
	hasLines(t, driveSheet(t, "axes.z.rapid=computed"), "Z rapid 345.49 in/min computed", "Z rapid in force 345.49 in/min computed")
}

// A drive train of which little is known says what it lacks, and fits.
func TestPoorDriveSheet(t *testing.T) {
	file := filepath.Join(t.TempDir(), "part-mill.toml")
	text := `name = "part-mill"
title = "Mill with half a drive train"
extends = "knee-mill"
spindle.motor = { power = "3 hp", base_speed = "1725 rpm" }
axes.x.screw.lead = "0.2 in"
axes.y.motor.ke = "60 V/krpm"
axes.y.drive.volts = "70 V"
axes.y.screw = { lead = "5 mm", ratio = "1:2.5" }
`
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	m, err := profiles.Load(file)
	if err != nil {
		t.Fatal(err)
	}
	for _, width := range []int{leastWidth, 40, 80} {
		var out bytes.Buffer
		if err := NewText(&out, width, false).Machine(m); err != nil {
			t.Fatal(err)
		}
		widthsAreKept(t, out.String(), width)
		hasLines(t, out.String(), "X rapid by drives needs motor.kt, drive.volts", "Y accel. by drives needs drive.current, motor.inertia, screw.inertia, mass",
			"Y screw lead 0.1969 in, 1:2.5, 90 % by default", "Y rapid by drives 574.15 in/min: the drive's volts", "motor 3 hp from 1725 rpm")
	}
}
