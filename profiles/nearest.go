package profiles

import (
	"fmt"
	"strings"
)

// DidYouMean is `: did you mean "..."?` where a known word is near, or "".
func DidYouMean(word string, known []string) string {
	if s := nearest(word, known); s != "" {
		return fmt.Sprintf(": did you mean %q?", s)
	}
	return ""
}

// nearest is the one known word of which the word is a beginning, as people cut
// them short: "accel". Else it is the one that takes the fewest edits to reach, or
// "" where that would change half of it or more.
func nearest(word string, known []string) string {
	if len(word) > 64 { // no known word is near, and the distance is quadratic
		return ""
	}
	if whole := begunBy(word, known); whole != "" {
		return whole
	}
	best, least := "", 0
	for _, k := range known {
		d := distance(word, k)
		if 2*d <= max(len(word), len(k)) && (best == "" || d < least) {
			best, least = k, d
		}
	}
	return best
}

// leastBegun is how many letters of a word are a beginning of it.
const leastBegun = 4

// begunBy is the one known word that begins with the word, "" where there is none
// or more than one.
func begunBy(word string, known []string) string {
	whole := ""
	for _, k := range known {
		switch {
		case len(word) < leastBegun || !strings.HasPrefix(k, word):
		case whole != "":
			return ""
		default:
			whole = k
		}
	}
	return whole
}

// distance counts the bytes to insert, delete or replace to make a from b
// (Levenshtein 1966).
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := diagonal
			if a[i] != b[j] {
				cost++
			}
			diagonal = row[j+1]
			row[j+1] = min(cost, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}
