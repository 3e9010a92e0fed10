// Command gen writes the demo shop's one long program: the finish of a volute
// core box with a ball end mill, in the short blocks of such output. It is kept
// so that the file can be made again and its geometry looked up; it takes no
// input and always writes the same bytes.
//
// Run it from the top of the module:
//
//	go run ./testdata/shop/gen
package main

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"os"
)

const path = "testdata/shop/programs/volute-throat-finish.ngc"

func main() {
	if err := write(path); err != nil {
		fmt.Fprintln(os.Stderr, "gen:", err)
		os.Exit(1)
	}
}

func write(path string) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	w := bufio.NewWriter(f)
	program(w)
	if err := w.Flush(); err != nil {
		f.Close()
		return fmt.Errorf("write %s: %w", path, err)
	}
	return f.Close()
}

// The part, in inches and degrees. The volute is cut by its parting plane, Z0;
// half of it is a channel of half-round section whose radius grows with the
// angle round the pump shaft. Only the throat, where the channel is widest, is
// cut here. The edge at the parting plane is rounded.
const (
	shaft    = 1.30 // from the shaft to the near wall of the channel, seen at Z0
	narrow   = 0.28 // radius of the section at 0 degrees
	growth   = 0.40 // by which it has grown at 360 degrees
	from, to = 260.0, 350.0
	round    = 0.045 // radius of the edge
	ball     = 0.125 // radius of the tool
	land     = 0.060 // of each pass, on the parting plane
	stepOver = 0.0340
	chordal  = 0.00003 // how far a chord may leave the true path
	level    = 1.0     // of traverses
)

// A place is where the tip of the ball stands.
type place struct{ x, y, z float64 }

func program(w io.Writer) {
	header(w)
	at, n := place{}, 60
	turn := stepOver / (shaft + narrow + growth) * 180 / math.Pi
	for i := 0; from+float64(i)*turn <= to; i++ {
		line := pass(from + float64(i)*turn)
		if i%2 == 1 {
			reverse(line)
		}
		if i == 0 {
			fmt.Fprintf(w, "N10 G0 G54 X%s Y%s\nN20 G43 H7 Z%s\nN30 M8\nN40 Z.1\nN50 G1 Z%s F20.\n",
				number(line[0].x), number(line[0].y), number(level), number(line[0].z))
			at = line[0]
			line = line[1:]
		}
		for j, p := range line {
			feed := ""
			if i == 0 && j == 0 {
				feed = " F90."
			}
			fmt.Fprintf(w, "N%d%s%s\n", n, words(at, p), feed)
			at = p
			n++
		}
	}
	fmt.Fprintf(w, "N%d G0 Z%s\nN%d M9\nN%d M5\nN%d G53 G0 Z0.\nN%d M30\n%%\n", n, number(level), n+1, n+2, n+3, n+4)
}

func header(w io.Writer) {
	io.WriteString(w, `%
O1105
(VOLUTE CORE BOX, LOWER HALF, THROAT, FINISH)
(MATERIAL: ALUMINIUM 6061)
(STOCK: ROUGHED, 0.015 LEFT IN THE CHANNEL AND ON ITS EDGES)
(ZERO: G54, SHAFT CENTRE, PARTING PLANE IS Z0)
(TOOL: T7 1/4 BALL END MILL, 3 FLUTES, PROGRAMMED AT THE TIP)
(POST OUTPUT, INCH. PASSES ACROSS THE CHANNEL, CHORDS WITHIN 0.00003)
G20 G17 G40 G49 G80 G90 G94
G64
G53 G0 Z0.
T7 M6
M42
S4000 M3
`)
}

// pass is one way across the channel, from the shaft side out, in the plane
// through the shaft axis at the angle. The centre of the ball runs along the
// land, round the edge, through the channel and out the same way. The slope of
// the spiral against that plane is left out of account: it is under 3 degrees.
func pass(degrees float64) []place {
	r := narrow + growth*degrees/360
	middle := shaft + r
	// The edge is an arc that touches the parting plane and the channel: its
	// centre is the radius under the plane, channel and edge radius from the middle.
	side := math.Sqrt((r+round)*(r+round) - round*round)
	dip := math.Asin(round / (r + round)) // of the line from the middle to that centre

	s := []point{{-side - land, ball}, {-side, ball}}
	s = bend(s, point{-side, -round}, round+ball, math.Pi/2, dip)
	s = bend(s, point{}, r-ball, math.Pi+dip, 2*math.Pi-dip)
	s = bend(s, point{side, -round}, round+ball, math.Pi-dip, math.Pi/2)
	s = append(s, point{side + land, ball})

	sin, cos := math.Sincos(degrees * math.Pi / 180)
	line := make([]place, len(s))
	for i, p := range s {
		line[i] = place{(middle + p.out) * cos, (middle + p.out) * sin, p.up - ball}
	}
	return line
}

// A point is a place in the plane of a pass: outward from the middle of the
// section, and up from the parting plane.
type point struct{ out, up float64 }

// bend adds the chords of an arc without its start, which is there already.
func bend(s []point, center point, radius, a, b float64) []point {
	longest := 2 * math.Acos(1-chordal/radius) // angle of a chord within tolerance
	n := math.Ceil(math.Abs(b-a) / longest)
	for i := 1.0; i <= n; i++ {
		sin, cos := math.Sincos(a + (b-a)*i/n)
		s = append(s, point{center.out + radius*cos, center.up + radius*sin})
	}
	return s
}

func reverse(line []place) {
	for i, j := 0, len(line)-1; i < j; i, j = i+1, j-1 {
		line[i], line[j] = line[j], line[i]
	}
}

// words are the axis words of a move: those that change, as written.
func words(from, to place) string {
	s := ""
	for _, axis := range [...]struct {
		letter   string
		from, to float64
	}{{"X", from.x, to.x}, {"Y", from.y, to.y}, {"Z", from.z, to.z}} {
		if text := number(axis.to); text != number(axis.from) {
			s += " " + axis.letter + text
		}
	}
	return s
}

// number is v with four decimals, without zeros that say nothing.
func number(v float64) string {
	text := fmt.Sprintf("%.4f", v)
	for text[len(text)-1] == '0' {
		text = text[:len(text)-1]
	}
	switch {
	case text == "0." || text == "-0.":
		return "0."
	case len(text) > 2 && text[:2] == "0.":
		return text[1:]
	case len(text) > 3 && text[:3] == "-0.":
		return "-" + text[2:]
	}
	return text
}
