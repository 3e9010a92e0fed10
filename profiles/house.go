package profiles

import (
	"fmt"
	"reflect"
	"strings"
)

// A HouseRule is what only this shop knows: an event, and what must not be so
// when it comes. Package rules reads When; its words are told in
// profiles/HOUSE.md.
type HouseRule struct {
	Name    string `toml:"name"`    // lower-case words with hyphens, none of the rules' own
	When    string `toml:"when"`    // "tool change while coolant is on"
	Message string `toml:"message"` // what is wrong, in a sentence
	Advice  string `toml:"advice"`  // what to do; optional
	Level   string `toml:"level"`   // "error", "warning", "note"; default "warning"
	Reason  string `toml:"reason"`  // for who reads the profile next; optional
}

// ParseQuantity reads a quantity as profiles write it, such as "0.5 in", in the
// unit of Q. The error says what was written and what is accepted, without a
// place.
func ParseQuantity[Q Length | Speed | Duration | Rotation](text string) (Q, error) {
	v, err := dimensionOf[reflect.TypeFor[Q]()][0].parse(text)
	return Q(v), err
}

// ParseAngle reads a quantity such as "90 deg", in degrees.
func ParseAngle(text string) (float64, error) { return angleDim.parse(text) }

// house checks the texts of house rules but for their conditions, which are
// checked where rules are known.
func (v *validator) house() {
	seen := map[string]bool{}
	for i, h := range v.m.House {
		path := fmt.Sprintf("house[%d]", i)
		switch {
		case h.Name == "":
			v.missing(path+".name", `"coolant-off-before-change"`)
		case strings.Trim(h.Name, "abcdefghijklmnopqrstuvwxyz0123456789-") != "" || h.Name != strings.Trim(h.Name, "-") || len(h.Name) > longestRuleName:
			v.fail(path+".name", "%q: a name has lower-case letters, digits and hyphens between them, at most %d", h.Name, longestRuleName)
		case seen[h.Name]:
			v.fail(path+".name", "%q stands twice: give each rule its own name", h.Name)
		}
		seen[h.Name] = true
		if strings.TrimSpace(h.When) == "" {
			v.missing(path+".when", `"tool change while coolant is on"`)
		}
		if strings.TrimSpace(h.Message) == "" {
			v.missing(path+".message", `"the coolant runs during a tool change"`)
		}
		if h.Level != "" {
			v.oneOf(path+".level", h.Level, "error", "warning", "note")
		}
	}
}

// longestRuleName is what a comment that silences a rule can name.
const longestRuleName = 64
