package adapt

import (
	"errors"
	"io"
	"testing"
)

// An attempt that has failed is told once, and dropped like any other.
func TestAttemptThatFails(t *testing.T) {
	m := machine(t, "bed-mill")
	opt := Options{From: m, To: m, Passes: map[string]bool{Words: true}}
	early, err := begin(torn{}, 1<<20, &sight{obscured: map[int]bool{}, meant: map[int64]bool{}}, &Result{From: m, To: m}, &opt)
	if err != nil {
		t.Fatal(err)
	}
	if err := early.take(io.Discard, &Result{}); !errors.Is(err, errTorn) {
		t.Errorf("got %v, want that the source is torn", err)
	}
	early.drop()
}
