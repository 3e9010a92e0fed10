package lsp

import (
	"encoding/json"
	"testing"
)

// Settings of a wrong kind are told as a person would write them right, whatever
// the decoder makes of it.
func TestWrongSetting(t *testing.T) {
	for _, tt := range []struct{ settings, want string }{
		{`{"machine": 5}`, `machine has a number: write "machine": "my-mill"`},
		{`{"machine": ["bed-mill"]}`, `machine has a list: write "machine": "my-mill"`},
		{`{"tapefit": {"machine": {}}}`, `machine has an object: write "machine": "my-mill"`},
		{`{"profiles": "/shop/profiles"}`, `profiles has a text: write "profiles": ["/shop/profiles"]`},
		{`{"profiles": [1.5]}`, `profiles has a number: write "profiles": ["/shop/profiles"]`},
		{`{"tapefit": {"offset": true}}`, `offset has true or false: write "offset": ["G54 X12in Y8in Z-18in"]`},
		{`{"tapefit": "bed-mill"}`, `tapefit has a text: write "tapefit": {"machine": "my-mill"}`},
		{`"bed-mill"`, `they are a text: write {"machine": "my-mill"}`},
	} {
		var p struct {
			Settings
			Under *Settings `json:"tapefit"`
		}
		err := json.Unmarshal([]byte(tt.settings), &p)
		if err == nil {
			t.Errorf("%s is taken", tt.settings)
		} else if got := wrongSetting(err); got != tt.want {
			t.Errorf("%s: %s, want %s", tt.settings, got, tt.want)
		}
	}
}
