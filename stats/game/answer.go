package game

import (
	"bytes"
	"encoding/json"
	"errors"
)

// Answer is the answer to a question: a number, a flag, or text (free text or
// the option of a choice). Exactly one is set. In JSON it is the bare value.
type Answer struct {
	Number *float64
	Flag   *bool
	Text   *string
}

// MarshalJSON writes the bare value.
func (a Answer) MarshalJSON() ([]byte, error) {
	switch {
	case a.Number != nil:
		return json.Marshal(*a.Number)
	case a.Flag != nil:
		return json.Marshal(*a.Flag)
	case a.Text != nil:
		return json.Marshal(*a.Text)
	}
	return []byte("null"), nil
}

// UnmarshalJSON reads a bare number, true, false or string.
func (a *Answer) UnmarshalJSON(b []byte) error {
	*a = Answer{}
	b = bytes.TrimSpace(b)
	switch {
	case len(b) == 0:
		return errors.New("an answer is empty")
	case b[0] == '"':
		return json.Unmarshal(b, &a.Text)
	case b[0] == 't' || b[0] == 'f':
		return json.Unmarshal(b, &a.Flag)
	case b[0] == '-' || b[0] >= '0' && b[0] <= '9':
		return json.Unmarshal(b, &a.Number)
	}
	return errors.New("an answer is a number, true, false or text; leave it out when the question was not answered")
}
