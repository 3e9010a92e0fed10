package motion

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// A climb against its own law, integrated in small steps (midpoint rule, any
// numerics text): at each angle the path is speeded up by the most that
// |t*a + n*s| <= limit leaves to both axes.
func TestClimb(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := bend{radius: rapid.Float64Range(0.5, 200).Draw(t, "radius"), share: 1, even: true, other: boundless}
		b.curve = 1 / b.radius
		b.accel = [2]float64{rapid.Float64Range(50, 2000).Draw(t, "ax"), 0}
		b.accel[1] = b.accel[0] * rapid.Float64Range(0.3, 3).Draw(t, "ay/ax")
		centripetal := min(b.accel[0], b.accel[1]) * rapid.Float64Range(0.01, evenShare).Draw(t, "share")
		b.limit = centripetal * b.radius
		in := b.limit * rapid.SampledFrom([]float64{0, 0.1, 0.5, 0.9}).Draw(t, "in")
		angle := rapid.Float64Range(-math.Pi, math.Pi).Draw(t, "angle")

		got, ok := b.climb(math.Cos(angle), math.Sin(angle), in)
		if !ok || !b.climbs() {
			t.Fatal("no end")
		}
		want := b.integrate(angle, in)
		if math.Abs(got.angle-want.angle) > 2e-4+1e-3*want.angle || math.Abs(got.seconds/want.seconds-1) > 2e-3 {
			t.Fatalf("got %+v, integrated %+v", got, want)
		}
	})
}

// integrate is climb in steps of time.
func (b *bend) integrate(angle, in float64) climb {
	at, limit := in*b.curve, b.limit*b.curve
	gain := func(angle, s float64) float64 {
		sin, cos := math.Sincos(angle)
		most := math.Inf(1)
		for i, axis := range [2]struct{ t, n float64 }{{-sin, -cos}, {cos, -sin}} {
			if axis.t < 0 {
				axis.t, axis.n = -axis.t, -axis.n
			}
			if axis.t > 0 {
				most = min(most, (b.accel[i]-axis.n*s)/axis.t)
			}
		}
		return most
	}
	c := climb{}
	// The squared speed over the radius is the root of s by time: ds/dt = 2*a*omega.
	omega := math.Sqrt(at / b.radius)
	step := (math.Sqrt(limit*b.radius) - math.Sqrt(in)) / max(b.accel[0], b.accel[1]) / 10000
	for omega*omega*b.radius < limit {
		half := omega + gain(angle+c.angle, omega*omega*b.radius)/b.radius*step/2
		middle := angle + c.angle + omega*step/2
		c.angle += half * step
		omega += gain(middle, half*half*b.radius) / b.radius * step
		c.seconds += step
	}
	return c
}
