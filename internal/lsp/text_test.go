package lsp

import (
	"slices"
	"testing"
	"unicode/utf16"

	"pgregory.net/rapid"
)

func TestPositions(t *testing.T) {
	// U+1F527 has two units in UTF-16 and four bytes in UTF-8, ü one and two.
	x := newText("G0 X1\r\n(FR\u00c4SEN \U0001F527) G1\rM30\n\n")
	for _, c := range []struct {
		offset int
		want   position
	}{
		{0, position{0, 0}}, {5, position{0, 5}}, {6, position{0, 5}},
		{7, position{1, 0}}, {10, position{1, 3}}, {12, position{1, 4}},
	} {
		if got := x.position(c.offset); got != c.want {
			t.Errorf("offset %d is %v, want %v", c.offset, got, c.want)
		}
	}
	g1 := slices.Index(x.bytes, ')') + 2
	if got, want := x.position(g1), (position{1, 12}); got != want {
		t.Errorf("G1 is at %v, want %v", got, want)
	}
	if got := x.offset(position{1, 12}); got != g1 {
		t.Errorf("%v is offset %d, want %d", position{1, 12}, got, g1)
	}
	for _, c := range []struct {
		at   position
		want int
	}{
		{position{0, 99}, 5}, {position{-1, 0}, 0}, {position{99, 0}, len(x.bytes)}, {position{0, -3}, 0},
		{position{1, 9}, g1 - 6}, // between the halves of U+1F527: in front of it
	} {
		if got := x.offset(c.at); got != c.want {
			t.Errorf("%v is offset %d, want %d", c.at, got, c.want)
		}
	}
	if n := len(x.starts); n != 5 {
		t.Errorf("%d lines, want 5", n)
	}
}

// An edited text is what a slice of UTF-16 makes of it, and has its lines where a
// new text has them.
func TestEdited(t *testing.T) {
	piece := rapid.StringOfN(rapid.SampledFrom([]rune("GX1 \r\n\r\nä\U0001F527")), 0, 12, -1)
	rapid.Check(t, func(t *rapid.T) {
		x := newText(piece.Draw(t, "text"))
		var changes []contentChange
		want := string(x.bytes)
		for range rapid.IntRange(1, 5).Draw(t, "changes") {
			// Places are drawn as offsets in UTF-16 and made positions by hand.
			wide := utf16.Encode([]rune(want))
			a := rapid.IntRange(0, len(wide)).Draw(t, "from")
			b := rapid.IntRange(a, len(wide)).Draw(t, "to")
			for a > 0 && a < len(wide) && (inside(wide, a)) {
				a--
			}
			for b < len(wide) && inside(wide, b) {
				b++
			}
			with := piece.Draw(t, "with")
			changes = append(changes, contentChange{&span{wideAt(wide, a), wideAt(wide, b)}, with})
			want = string(utf16.Decode(wide[:a])) + with + string(utf16.Decode(wide[b:]))
		}
		before := string(x.bytes)
		got := x.edited(changes)
		if string(got.bytes) != want {
			t.Fatalf("got %q, want %q", got.bytes, want)
		}
		if all := newText(want); !slices.Equal(got.starts, all.starts) {
			t.Fatalf("%q has lines at %v, want %v", want, got.starts, all.starts)
		}
		if string(x.bytes) != before {
			t.Fatal("the text before was changed")
		}
	})
}

// inside says whether offset i is no place for an edit: within a surrogate pair or
// within CR LF.
func inside(wide []uint16, i int) bool {
	return i > 0 && (utf16.IsSurrogate(rune(wide[i])) && wide[i] >= 0xDC00 || wide[i-1] == '\r' && wide[i] == '\n')
}

func wideAt(wide []uint16, offset int) (p position) {
	for i := range offset {
		p.Character++
		if wide[i] == '\n' || wide[i] == '\r' && (i+1 == len(wide) || wide[i+1] != '\n') {
			p = position{Line: p.Line + 1}
		}
	}
	return p
}
