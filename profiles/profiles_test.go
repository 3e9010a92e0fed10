package profiles

import (
	"math"
	"slices"
	"testing"
)

// Every code of the report's modal groups (NISTIR 6556, tables 4 and 5, from
// memory).
func TestModalGroups(t *testing.T) {
	m, err := Find("rs274ngc", nil)
	if err != nil {
		t.Fatal(err)
	}
	tenths := map[Group][]int{ // of G codes; of M codes where the group is above 100
		NonModal:      {40, 100, 280, 300, 530, 920, 921, 922, 923},
		MotionGroup:   {0, 10, 20, 30, 382, 800, 810, 820, 830, 840, 850, 860, 870, 880, 890},
		PlaneGroup:    {170, 180, 190},
		DistGroup:     {900, 910},
		FeedGroup:     {930, 940},
		UnitsGroup:    {200, 210},
		CompGroup:     {400, 410, 420},
		LengthGroup:   {430, 490},
		RetractGroup:  {980, 990},
		OffsetGroup:   {540, 550, 560, 570, 580, 590, 591, 592, 593},
		PathGroup:     {610, 611, 640},
		StopGroup:     {0, 10, 20, 300, 600},
		ToolGroup:     {60},
		SpindleGroup:  {30, 40, 50},
		CoolantGroup:  {70, 80, 90},
		OverrideGroup: {480, 490},
	}
	codes := 0
	for group, list := range tenths {
		codes += len(list)
		for _, n := range list {
			meaning := m.G(n)
			if group > 100 {
				meaning = m.M(n)
			}
			if meaning.Group() != group {
				t.Errorf("code %g of group %d is %s of group %d", float64(n)/10, group, meaning, meaning.Group())
			}
		}
	}
	if codes != len(m.Codes) {
		t.Errorf("%d codes in the report's groups, %d in the base", codes, len(m.Codes))
	}
}

// What each code of the report does (NISTIR 6556, from memory).
func TestReportCodes(t *testing.T) {
	m, err := Find("rs274ngc", nil)
	if err != nil {
		t.Fatal(err)
	}
	for n, want := range map[int]Meaning{
		0: TraverseMove, 10: FeedMove, 20: ArcCW, 30: ArcCCW, 40: DwellHere, 170: PlaneXY, 180: PlaneZX, 190: PlaneYZ,
		200: UnitsInch, 210: UnitsMM, 280: Home, 300: HomeSecond, 382: Probe, 400: CompOff, 410: CompLeft, 420: CompRight,
		430: LengthOn, 490: LengthOff, 530: MachineCoordinates, 540: WorkOffset1, 593: WorkOffset9, 610: ExactPath,
		611: ExactStop, 640: Continuous, 800: CycleOff, 810: Drill, 820: DrillDwell, 830: Peck, 840: Tap, 850: BoreFeedOut,
		860: BoreStopOut, 870: BackBore, 880: BoreManualOut, 890: BoreDwellOut, 900: Absolute, 910: Incremental,
		920: SetPosition, 921: ClearPosition, 922: SuspendPosition, 923: RestorePosition, 930: FeedInverseTime,
		940: FeedPerMinute, 980: RetractInitial, 990: RetractR, 100: SetData,
		730: Refused, 5: Refused, 9990: Refused, -1: Refused, numCodes: Refused,
	} {
		if got := m.G(n); got != want {
			t.Errorf("G%g is %s, want %s", float64(n)/10, got, want)
		}
	}
	for n, want := range map[int]Meaning{
		0: ProgramStop, 10: OptionalStop, 20: ProgramEnd, 30: SpindleCW, 40: SpindleCCW, 50: SpindleStop, 60: ToolChange,
		70: Mist, 80: Flood, 90: CoolantOff, 300: ProgramEndRewind, 480: OverridesOn, 490: OverridesOff, 600: PalletStop,
		190: Refused, 410: Refused, 980: Refused, -1: Refused, numCodes: Refused,
	} {
		if got := m.M(n); got != want {
			t.Errorf("M%g is %s, want %s", float64(n)/10, got, want)
		}
	}
	for _, address := range []byte("EOUVW") {
		if m.Takes(address) {
			t.Errorf("the report has no %c words", address)
		}
	}
	if m.Arcs.Tolerance != 0.002 || math.Abs(float64(m.Arcs.ToleranceInch)-0.0002*25.4) > 1e-12 || m.Cycles["peck"].ClearPeck != 0.254 {
		t.Errorf("arcs %+v, peck %+v", m.Arcs, m.Cycles["peck"])
	}
}

func TestMeaningNames(t *testing.T) {
	for m := range numMeanings {
		back, ok := ParseMeaning(m.String())
		if !ok || back != m {
			t.Errorf("%d is named %q, which is %d", m, m, back)
		}
		if g := m.Group(); (g < 100) == (m.letter() == 'M') && g != FreeGroup {
			t.Errorf("%s of group %d is of codes with the letter %q", m, g, m.letter())
		}
	}
	for _, name := range []string{"", "Feed", "unknown"} {
		if m, ok := ParseMeaning(name); ok {
			t.Errorf("%q is %s", name, m)
		}
	}
	if s := Meaning(255).String(); s != "unknown" || Meaning(255).Group() != FreeGroup {
		t.Errorf("no meaning is %q", s)
	}
	var cycles []string
	for m := range numMeanings {
		if m.IsCycle() {
			cycles = append(cycles, m.String())
		}
	}
	if !slices.Equal(cycles, []string{"drill", "drill-dwell", "peck", "chip-break", "tap", "bore-feed-out",
		"bore-stop-out", "back-bore", "bore-manual-out", "bore-dwell-out"}) {
		t.Errorf("cycles are %q", cycles)
	}
}

// An inch is 25.4 mm and a foot 12 inches exactly (international yard and
// pound agreement, 1959); kB and KiB as in IEC 80000-13.
func TestUnits(t *testing.T) {
	for _, tt := range []struct {
		dim  *dimension
		text string
		want float64
	}{
		{&lengthDim, "1 in", 25.4},
		{&lengthDim, "0.0025in", 0.0635},
		{&lengthDim, "-24 in", -609.6},
		{&lengthDim, "+.5 mm", 0.5},
		{&lengthDim, "5. mm", 5},
		{&lengthDim, "2.5e-1 cm", 2.5},
		{&lengthDim, "1.2 m", 1200},
		{&lengthDim, " 12 um ", 0.012},
		{&angleDim, "90 deg", 90},
		{&speedDim, "400 in/min", 400 * 25.4 / 60},
		{&speedDim, "10 in/s", 254},
		{&speedDim, "100 ft/min", 30480.0 / 60},
		{&speedDim, "6000 mm/min", 100},
		{&speedDim, "6 m/min", 100},
		{&speedDim, "100 mm/s", 100},
		{&angularSpeedDim, "3 deg/s", 3},
		{&angularSpeedDim, "180 deg/min", 3},
		{&accelerationDim, "0.8 m/s^2", 800},
		{&accelerationDim, "800 mm/s^2", 800},
		{&accelerationDim, "10 in/s^2", 254},
		{&accelerationDim, "1 ft/s^2", 304.8},
		{&angularAccelerationDim, "200 deg/s^2", 200},
		{&jerkDim, "20 m/s^3", 20000},
		{&jerkDim, "10 in/s^3", 254},
		{&angularJerkDim, "900 deg/s^3", 900},
		{&timeDim, "12 ms", 0.012},
		{&timeDim, "250 us", 0.00025},
		{&timeDim, "2 s", 2},
		{&timeDim, "1.5 min", 90},
		{&timeDim, "2 h", 7200},
		{&rotationDim, "1100 rpm", 1100},
		{&rotationDim, "1100 1/min", 1100},
		{&rotationDim, "20 1/s", 1200},
		{&sizeDim, "64 kB", 64000},
		{&sizeDim, "64 KiB", 65536},
		{&sizeDim, "2 MB", 2e6},
		{&sizeDim, "1 MiB", 1048576},
		{&sizeDim, "512 B", 512},
	} {
		got, err := tt.dim.parse(tt.text)
		if err != nil || math.Abs(got-tt.want) > 1e-15*math.Abs(tt.want) {
			t.Errorf("%q is %.17g, %v, want %.17g", tt.text, got, err, tt.want)
		}
	}
}

func TestLibrary(t *testing.T) {
	var got []string
	for _, e := range Library() {
		kind := " machine"
		if e.Base {
			kind = " base"
		}
		got = append(got, e.Name+kind)
		if e.Title == "" {
			t.Errorf("%s has no title", e.Name)
		}
	}
	want := []string{"bed-mill machine", "knee-mill machine", "slant-lathe machine", "lenient base", "parametric base", "rs274ngc base", "tape-era base"}
	if !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}

// The demo shop's programs rely on these of the bed mill.
func TestBedMill(t *testing.T) {
	m, err := Find("bed-mill", nil)
	if err != nil {
		t.Fatal(err)
	}
	if m.GearOf(410) != 0 || m.GearOf(420) != 1 || m.GearOf(400) != -1 || m.GearOf(-1) != -1 || m.GearOf(numCodes) != -1 {
		t.Error("gear codes are not those of the gears")
	}
	if m.M(410) != Gear || m.M(430) != Refused || m.M(190) != SpindleOrient || m.M(980) != CallSubprogram {
		t.Error("M codes are not those of the machine")
	}
	if got := m.CodeFor(UnitsInch) + m.CodeFor(Gear) + m.CodeFor(ChipBreak) + m.CodeFor(Refused); got != "G20M41" {
		t.Errorf("codes of inch, gear, chip break and refused: %q", got)
	}
	if !m.Takes('O') || m.Takes('o') || m.Takes('E') || m.Takes('[') {
		t.Error("words are not those of the machine")
	}
	if m.Spindle.Speed[0] != 40 || m.Spindle.Speed[1] != 4200 || m.Control.Memory != 1000000 {
		t.Errorf("spindle %v, memory %d", m.Spindle.Speed, m.Control.Memory)
	}

	// 16 in by 8 in by 2 in above to 1 in below work zero is in reach of every tool.
	const in = 25.4
	zero := m.WorkOffset(0)
	reach := []struct {
		axis     int
		from, to float64 // in machine coordinates
	}{
		{0, float64(*zero.X), float64(*zero.X) + 16*in},
		{1, float64(*zero.Y), float64(*zero.Y) + 8*in},
	}
	for _, tool := range m.Tools.Loaded {
		gauge := float64(*zero.Z) + float64(tool.Length)
		reach = append(reach, struct {
			axis     int
			from, to float64
		}{2, gauge - 1*in, gauge + 2*in})
	}
	for _, r := range reach {
		travel := m.Axis(r.axis).Travel
		if r.from < float64(travel[0]) || r.to > float64(travel[1]) {
			t.Errorf("%c: %g to %g mm is outside travel %v", AxisLetters[r.axis], r.from, r.to, travel)
		}
	}
	if m.WorkOffset(2) != nil {
		t.Error("G56 is known")
	}
}

// What the tape-era restrictions are for: arcs and numbers are read as on the
// old controls (ISO 6983-1 and EIA RS-274-D from memory; common practice).
func TestKneeMill(t *testing.T) {
	m, err := Find("knee-mill", nil)
	if err != nil {
		t.Fatal(err)
	}
	if m.G(700) != UnitsInch || m.G(200) != Refused || m.G(540) != Refused || m.WorkOffset(0) != nil {
		t.Error("codes are not those of the tape era")
	}
	if a := m.Arcs; a.Centre != "unsigned" || !a.Quadrant || a.Radius || a.FullCircle || a.Helix {
		t.Errorf("arcs are %+v", a)
	}
	if n := m.Numbers; n.Point != "counts" || n.Suppress != "leading" || n.Decimals != (Decimals{4, 3}) || n.Digits != (Decimals{3, 4}) {
		t.Errorf("numbers are %+v", n)
	}
	for _, tt := range []struct {
		rpm   float64
		gears int
	}{{74, 0}, {75, 1}, {380, 1}, {400, 0}, {420, 1}, {1300, 0}, {3600, 1}, {3601, 0}} {
		gears := 0
		for i := range m.Spindle.Gears {
			if m.Spindle.Gears[i].Reaches(tt.rpm) {
				gears++
			}
		}
		if gears != tt.gears {
			t.Errorf("%g rpm can be had on %d belt steps, want %d", tt.rpm, gears, tt.gears)
		}
	}
}

func TestAxesAndCycles(t *testing.T) {
	for _, tt := range []struct {
		name  string
		axes  uint8 // bit 0 is X
		peckQ bool
	}{
		{"bed-mill", 0b000111, true},
		{"slant-lathe", 0b000101, true},
		{"rs274ngc", 0b111111, true}, // a base: all that have words
		{"tape-era", 0b000111, false},
	} {
		m, err := Find(tt.name, nil)
		if err != nil {
			t.Fatal(err)
		}
		if got := m.AllAxes(); got != tt.axes {
			t.Errorf("%s has the axes %06b, want %06b", tt.name, got, tt.axes)
		}
		if got := m.CycleForm(Peck).Has('Q'); got != tt.peckQ {
			t.Errorf("%s: a peck takes Q: %t", tt.name, got)
		}
	}
}

func BenchmarkLoad(b *testing.B) {
	for b.Loop() {
		if _, err := Find("bed-mill", nil); err != nil {
			b.Fatal(err)
		}
	}
}
