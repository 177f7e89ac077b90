package api

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"sextant/stats/game"
)

// unmarshalJSON reads a body as strictly as a game file is read (see
// game.ReadJSON), so that the place of a slip is named.
func unmarshalJSON(data []byte, into any) error {
	if _, problems := game.ReadJSON("", data); len(problems) > 0 {
		return errors.New(strings.TrimLeft(problems.Error(), ": "))
	}
	return json.Unmarshal(data, into)
}

// strictJSON reads a JSON document into a Go value and refuses members that
// the type does not have.
func strictJSON(data []byte, into any) error {
	if _, problems := game.ReadJSON("", data); len(problems) > 0 {
		return malformed.because("The body cannot be read. "+strings.TrimLeft(problems.Error(), ": "), jsonItems(problems)...)
	}
	return decodeStrictly(data, into)
}

// decodeStrictly decodes JSON of which it is known that it is well formed.
func decodeStrictly(data []byte, into any) error {
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	err := dec.Decode(into)
	if err == nil {
		if _, err = dec.Token(); errors.Is(err, io.EOF) {
			return nil
		}
		err = errors.New("there is more after the end of the document")
	}
	item := problemItem{Message: strings.TrimPrefix(err.Error(), "json: ")}
	var typ *json.UnmarshalTypeError
	if errors.As(err, &typ) {
		item.Pointer = "/" + strings.ReplaceAll(typ.Field, ".", "/")
		item.Message = fmt.Sprintf("a %s has no place here", typ.Value)
	}
	return invalid.because("Nothing was changed. "+item.text(), item)
}
