package record

import (
	"fmt"
	"math"
	"strings"

	"sextant/stats/game"
)

func (c *bodyCheck) observation() {
	parts := []string{"counts", "choices", "fouls", "answers", "from", "to", "taps"}
	c.object(c.doc.Value, "", fields{
		"match": c.match, "play": c.play, "team": c.team,
		"scout":  func(v any, at string) { c.word(v, at, CheckScout) },
		"counts": func(v any, at string) { c.members(v, at, c.tally) },
		"choices": func(v any, at string) {
			c.members(v, at, c.chosen)
		},
		"fouls": func(v any, at string) {
			c.members(v, at, func(name string) (check, string) {
				if _, ok := c.g.Foul(name); !ok {
					return nil, "is no foul of this game; take it out"
				}
				return c.count(MaxCount), ""
			})
		},
		"answers":    func(v any, at string) { c.members(v, at, c.answer) },
		"answers_to": c.answersTo,
		"from":       c.moment, "to": c.moment,
		"taps":   func(v any, at string) { c.list(v, at, maxTaps, c.tap) },
		"absent": c.flag, "note": c.text(0, MaxText), "edited": c.flag, "discarded": c.flag,
		"checked": c.flag, "reason": c.text(0, MaxText),
	}, "match", "team", "scout")

	body, _ := c.doc.Value.(map[string]any)
	from, _ := body["from"].(float64)
	if to, ok := body["to"].(float64); ok && to < from {
		c.problem("/to", "the watching ended before it began; write %g or more, or take from out", from)
	}
	if body["absent"] != true {
		return
	}
	for _, name := range parts {
		empty := body[name] == nil
		switch v := body[name].(type) {
		case map[string]any:
			empty = len(v) == 0
		case []any:
			empty = len(v) == 0
		}
		if !empty {
			c.problem(game.Pointer(name), "the robot was absent, so nothing was seen; take %s out, or set absent to false", name)
		}
	}
}

func (c *bodyCheck) tally(name string) (check, string) {
	a, ok := c.g.Action(name)
	if !ok || a.Kind == game.Choice {
		return nil, "is no action with a count in this game; take it out"
	}
	limit := float64(MaxCount)
	if a.Kind == game.Flag {
		limit = 1
	}
	known := fields{"made": c.count(limit)}
	if a.Misses {
		known["missed"] = c.count(MaxCount)
	}
	return func(v any, at string) { c.object(v, at, known) }, ""
}

func (c *bodyCheck) chosen(name string) (check, string) {
	a, ok := c.g.Action(name)
	if !ok || a.Kind != game.Choice {
		return nil, "is no choice of this game; take it out"
	}
	options := make([]string, len(a.Options))
	for i, o := range a.Options {
		options[i] = o.ID
	}
	known := fields{"option": c.among(options...)}
	if a.Tried {
		known["tried"] = c.flag
	}
	return func(v any, at string) { c.object(v, at, known) }, ""
}

func (c *bodyCheck) answer(name string) (check, string) { return c.answerWhen(name, "match") }

// answerWhen checks the answer to a question that is asked at a match or a pit.
func (c *bodyCheck) answerWhen(name, when string) (check, string) {
	q, ok := c.g.Question(name)
	if !ok || q.When != when {
		return nil, "is no question about a " + when + " in this game; take it out"
	}
	return func(v any, at string) {
		var a game.Answer
		switch v := v.(type) {
		case float64:
			a.Number = &v
		case bool:
			a.Flag = &v
		case string:
			a.Text = &v
		}
		if err := CheckAnswer(q, a); err != nil {
			c.problem(at, "%v", err)
		}
	}, ""
}

// tap checks one entry of the timeline.
func (c *bodyCheck) tap(v any, at string) {
	values, ok := v.([]any)
	if !ok || len(values) != 3 && len(values) != 5 {
		c.problem(at, "a tap is an array of 3 or 5 values: milliseconds, action, step, and x and y in metres")
		return
	}
	c.moment(values[0], at+"/0")
	c.word(values[1], at+"/1", func(s string) error {
		if !c.tappable(s) {
			return fmt.Errorf("%q is nothing that can be tapped in this game; take the tap out", clip(s))
		}
		return nil
	})
	c.number(func(n float64) error {
		if n != math.Trunc(n) || n == 0 || math.Abs(n) > MaxCount {
			return fmt.Errorf("the step of a tap is a whole number, not 0, of at most %d either way", MaxCount)
		}
		return nil
	})(values[2], at+"/2")
	for i := 3; i < len(values); i++ {
		c.number(func(n float64) error {
			if math.Abs(n) > 1000 {
				return fmt.Errorf("a place is in metres, at most 1000 from the corner")
			}
			return nil
		})(values[i], fmt.Sprintf("%s/%d", at, i))
	}
}

// moment checks a time since the start of the match.
func (c *bodyCheck) moment(v any, at string) {
	c.number(func(n float64) error {
		if n != math.Trunc(n) || n < 0 || n > maxMS {
			return fmt.Errorf("a time in the match is whole milliseconds from 0 to %d", maxMS)
		}
		return nil
	})(v, at)
}

// tappable reports whether a timeline may hold a name: a count, flag or volume,
// "ID_missed", "ID:option" of a choice, "ID_tried", a foul, or a question with
// a number or flag (+1 begins, −1 ends), or with the start position (its place).
func (c *bodyCheck) tappable(name string) bool {
	if a, ok := c.g.Action(name); ok {
		return a.Kind != game.Choice
	}
	if _, ok := c.g.Foul(name); ok {
		return true
	}
	if q, ok := c.g.Question(name); ok {
		return q.When == "match" && (q.Kind == "number" || q.Kind == "flag" || q.Role == game.RoleStartPosition)
	}
	if id, ok := strings.CutSuffix(name, "_missed"); ok {
		a, ok := c.g.Action(id)
		return ok && a.Misses
	}
	if id, ok := strings.CutSuffix(name, "_tried"); ok {
		a, ok := c.g.Action(id)
		return ok && a.Tried
	}
	if id, option, ok := strings.Cut(name, ":"); ok {
		a, ok := c.g.Action(id)
		if !ok {
			return false
		}
		_, ok = a.Option(option)
		return ok
	}
	return false
}
