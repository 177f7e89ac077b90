package store

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"reflect"
	"strings"
	"unicode/utf8"
)

// cleanBody gives a JSON object a form that the database keeps without loss:
// no NUL and no half surrogate pair in texts, no number beyond a double. Members
// come out sorted.
func cleanBody(raw json.RawMessage) (json.RawMessage, error) {
	dec := json.NewDecoder(bytes.NewReader(raw))
	dec.UseNumber()
	var body map[string]any
	if err := dec.Decode(&body); err != nil {
		return nil, fmt.Errorf("not a JSON object: %w", err)
	}
	if _, err := dec.Token(); err != io.EOF {
		return nil, errors.New("there is something behind the JSON object")
	}
	if body == nil {
		return nil, errors.New("not a JSON object")
	}
	if err := checkValue(body); err != nil {
		return nil, err
	}
	return encode(body)
}

func checkValue(v any) error {
	switch v := v.(type) {
	case string:
		if strings.ContainsRune(v, 0) {
			return errors.New("a text has the control character U+0000")
		}
		if !utf8.ValidString(v) {
			return errors.New("a text is not UTF-8")
		}
	case json.Number:
		if f, err := v.Float64(); err != nil || math.IsInf(f, 0) {
			return fmt.Errorf("the number %.40s is too large", v)
		}
	case []any:
		for _, e := range v {
			if err := checkValue(e); err != nil {
				return err
			}
		}
	case map[string]any:
		for name, e := range v {
			if err := errors.Join(checkValue(name), checkValue(e)); err != nil {
				return err
			}
		}
	}
	return nil
}

// encode writes JSON without the escapes that only matter inside HTML.
func encode(v any) (json.RawMessage, error) {
	var buf bytes.Buffer
	enc := json.NewEncoder(&buf)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		return nil, err
	}
	return bytes.TrimSuffix(buf.Bytes(), []byte("\n")), nil
}

// sameJSON compares values, not their spelling: 1 and 1.0 are the same.
func sameJSON(a, b json.RawMessage) bool {
	var va, vb any
	return json.Unmarshal(a, &va) == nil && json.Unmarshal(b, &vb) == nil && reflect.DeepEqual(va, vb)
}
