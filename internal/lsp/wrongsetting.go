package lsp

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"
)

// wrongSetting says what is wrong with settings, for who wrote them into an editor.
func wrongSetting(err error) string {
	var wrong *json.UnmarshalTypeError
	if !errors.As(err, &wrong) {
		return err.Error()
	}
	key := wrong.Field[strings.LastIndexByte(wrong.Field, '.')+1:]
	form := `{"machine": "my-mill"}`
	switch key {
	case "machine":
		form = `"my-mill"`
	case "profiles":
		form = `["/shop/profiles"]`
	case "offset":
		form = `["G54 X12in Y8in Z-18in"]`
	case "":
		return fmt.Sprintf("they are %s: write %s", valueName(wrong.Value), form)
	}
	return fmt.Sprintf("%s has %s: write %q: %s", key, valueName(wrong.Value), key, form)
}

// valueName is what people call a value of JSON.
func valueName(value string) string {
	kind, _, _ := strings.Cut(value, " ") // "number 1.5"
	switch kind {
	case "number":
		return "a number"
	case "string":
		return "a text"
	case "bool":
		return "true or false"
	case "array":
		return "a list"
	}
	return "an object"
}
