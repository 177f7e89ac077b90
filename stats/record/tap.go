package record

import (
	"encoding/json"
	"fmt"
)

// Tap is one entry of a scout's timeline, in JSON [ms, action, ±1] or
// [ms, action, ±1, x, y].
type Tap struct {
	MS int // milliseconds since the match started
	// Action is the id of an action; "ID_missed" for a miss; "ID:option" for an
	// option of a choice and "ID_tried" for its try; a foul's id; the id of a
	// question that begins (+1) and ends (−1), such as seconds stopped.
	Action string
	Step   float64 // +1, −1 (taken back), or the batch of a volume
	HasXY  bool
	X, Y   float64 // place on the field in metres, seen from red's side
}

// MarshalJSON writes the array form.
func (t Tap) MarshalJSON() ([]byte, error) {
	if t.HasXY {
		return json.Marshal([]any{t.MS, t.Action, t.Step, t.X, t.Y})
	}
	return json.Marshal([]any{t.MS, t.Action, t.Step})
}

// UnmarshalJSON reads the array form.
func (t *Tap) UnmarshalJSON(b []byte) error {
	var raw []json.RawMessage
	if err := json.Unmarshal(b, &raw); err != nil {
		return fmt.Errorf("a tap is an array [ms, action, step, x?, y?]: %w", err)
	}
	if len(raw) != 3 && len(raw) != 5 {
		return fmt.Errorf("a tap has 3 or 5 values, not %d", len(raw))
	}
	var got Tap
	for i, dst := range []any{&got.MS, &got.Action, &got.Step, &got.X, &got.Y}[:len(raw)] {
		if err := json.Unmarshal(raw[i], dst); err != nil {
			return fmt.Errorf("value %d of a tap: %w", i+1, err)
		}
	}
	got.HasXY = len(raw) == 5
	*t = got
	return nil
}
