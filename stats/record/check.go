package record

import (
	"encoding/json"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"

	"github.com/google/uuid"

	"sextant/stats/game"
)

// Limits of the lists in a body.
const (
	maxTaps = 5000
	maxMS   = 3600 * 1000
)

// keyForm is a fractional index: entries of a list stand in the order of these texts.
var keyForm = regexp.MustCompile(`^[0-9A-Za-z]{1,200}$`)

// CheckBody tells what is wrong with the body of a record of the given kind:
// members that the kind or the game does not know, values that do not fit,
// counts that are negative or not whole, texts that are too long. Pointers are
// into the body. No problems: the body can be decoded into the type that
// belongs to the kind (see the Kind constants).
//
// Of a merged kind the body is a patch: any member may be missing, and null
// takes an optional one away.
func CheckBody(g *game.Game, kind string, raw []byte) game.Problems {
	doc, problems := game.ReadJSON("", raw)
	if len(problems) > 0 {
		return problems
	}
	c := &bodyCheck{g: g, doc: doc}
	var into any
	switch kind {
	case KindObservation:
		into = new(Observation)
		c.observation()
	case KindResult:
		into = new(ResultBody)
		c.result()
	case KindMark:
		into = new(Mark)
		c.mark()
	case KindList:
		into = new(ListBody)
		c.object(doc.Value, "", fields{
			"name": c.text(1, MaxName), "purpose": orNull(c.text(0, MaxText)), "removed": c.flag,
		})
	case KindEntry:
		into = new(EntryBody)
		c.object(doc.Value, "", fields{
			"list": c.id, "team": c.team, "key": c.key, "tier": orNull(c.count(99)), "never": c.flag,
			"reason": orNull(c.text(0, MaxText)), "note": orNull(c.text(0, MaxText)), "removed": c.flag,
		})
	case KindNote:
		into = new(NoteBody)
		c.object(doc.Value, "", fields{
			"team": orNull(c.team), "match": orNull(c.match), "text": c.text(0, MaxText), "removed": c.flag,
		})
	default:
		return game.Problems{doc.Problem("", "%q is no kind of record here; update the program, or keep the record on the device", kind)}
	}
	if len(c.problems) == 0 {
		if err := json.Unmarshal(raw, into); err != nil {
			// Left over: a whole number that is written with a fraction or an exponent.
			c.problem("", "this cannot be read: %v; write whole numbers as digits only", err)
		}
	}
	return c.problems
}

// bodyCheck collects the problems of one body.
type bodyCheck struct {
	g        *game.Game
	doc      *game.Document
	problems game.Problems
}

// check looks at one value.
type check func(v any, at string)

// fields are the members that an object may have.
type fields map[string]check

func (c *bodyCheck) problem(at, format string, args ...any) {
	if len(c.problems) < 100 {
		c.problems = append(c.problems, c.doc.Problem(at, format, args...))
	}
}

// object checks the members of an object in sorted order and that the needed
// ones are there.
func (c *bodyCheck) object(v any, at string, known fields, needed ...string) {
	members, ok := v.(map[string]any)
	if !ok {
		c.problem(at, "write an object")
		return
	}
	for _, name := range needed {
		if _, ok := members[name]; !ok {
			c.problem(at, "%q is missing; add it", name)
		}
	}
	c.members(v, at, func(name string) (check, string) {
		return known[name], "is not known here; take it out, or update the program that wrote it"
	})
}

// members checks each member of an object by what find gives for its name, or
// says what find says.
func (c *bodyCheck) members(v any, at string, find func(name string) (check, string)) {
	members, ok := v.(map[string]any)
	if !ok {
		c.problem(at, "write an object")
		return
	}
	names := make([]string, 0, len(members))
	for name := range members {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		f, otherwise := find(name)
		if f == nil {
			c.problem(at+game.Pointer(name), "%q %s", clip(name), otherwise)
			continue
		}
		f(members[name], at+game.Pointer(name))
	}
}

// orNull lets null pass.
func orNull(f check) check {
	return func(v any, at string) {
		if v != nil {
			f(v, at)
		}
	}
}

func (c *bodyCheck) flag(v any, at string) {
	if _, ok := v.(bool); !ok {
		c.problem(at, "write true or false")
	}
}

// number checks a number by a rule.
func (c *bodyCheck) number(rule func(float64) error) check {
	return func(v any, at string) {
		n, ok := v.(float64)
		if !ok {
			c.problem(at, "write a number; leave the member out when it is not known")
			return
		}
		if err := rule(n); err != nil {
			c.problem(at, "%v", err)
		}
	}
}

// count checks a whole number from 0 to limit.
func (c *bodyCheck) count(limit float64) check {
	return c.number(func(n float64) error {
		if err := CheckCount(n); err != nil {
			return err
		}
		if n > limit {
			return fmt.Errorf("%g is too large; write %g or less", n, limit)
		}
		return nil
	})
}

// text checks a text of at least low and at most limit characters.
func (c *bodyCheck) text(low, limit int) check {
	return func(v any, at string) {
		s, ok := v.(string)
		if !ok {
			c.problem(at, "write a text")
			return
		}
		if err := CheckText(s, limit); err != nil {
			c.problem(at, "%v", err)
		} else if len(strings.TrimSpace(s)) < low {
			c.problem(at, "the text is empty; write something")
		}
	}
}

// word checks a text by a rule.
func (c *bodyCheck) word(v any, at string, rule func(string) error) {
	s, ok := v.(string)
	if !ok {
		c.problem(at, "write a text")
		return
	}
	if err := rule(s); err != nil {
		c.problem(at, "%v", err)
	}
}

func (c *bodyCheck) team(v any, at string) {
	c.word(v, at, func(s string) error {
		if !ValidTeam(s) {
			return fmt.Errorf("%q is not a team; write a number such as 40117 or 40117B", clip(s))
		}
		return nil
	})
}

func (c *bodyCheck) match(v any, at string) {
	c.word(v, at, func(s string) error {
		_, err := ParseMatch(s)
		return err
	})
}

func (c *bodyCheck) id(v any, at string) {
	c.word(v, at, func(s string) error {
		if id, err := uuid.Parse(s); err != nil || id.String() != s {
			return fmt.Errorf("%q is not an id; write a UUID in small letters", clip(s))
		}
		return nil
	})
}

func (c *bodyCheck) key(v any, at string) {
	c.word(v, at, func(s string) error {
		if !keyForm.MatchString(s) {
			return fmt.Errorf("%q is not a place in a list; write letters and digits", clip(s))
		}
		return nil
	})
}

func (c *bodyCheck) play(v any, at string) {
	c.number(func(n float64) error {
		if n != math.Trunc(n) || n < 0 || n > MaxPlay {
			return fmt.Errorf("a play is a whole number from 1 to %d", MaxPlay)
		}
		return nil
	})(v, at)
}

// among checks a text that is one of several.
func (c *bodyCheck) among(words ...string) check {
	return func(v any, at string) {
		c.word(v, at, func(s string) error {
			if !slices.Contains(words, s) {
				return fmt.Errorf("%q is not known here; write one of %s", clip(s), strings.Join(words, ", "))
			}
			return nil
		})
	}
}

// list checks an array of at most limit values.
func (c *bodyCheck) list(v any, at string, limit int, each check) {
	values, ok := v.([]any)
	if !ok {
		c.problem(at, "write an array")
		return
	}
	if len(values) > limit {
		c.problem(at, "there are %d entries; %d is the limit", len(values), limit)
		return
	}
	for i, v := range values {
		each(v, at+game.Pointer(i))
	}
}

// teams checks a list of teams of one alliance.
func (c *bodyCheck) teams(v any, at string) {
	seen := map[any]bool{}
	c.list(v, at, c.g.Alliance.Robots, func(v any, at string) {
		c.team(v, at)
		if _, ok := v.(string); ok && seen[v] {
			c.problem(at, "team %v stands twice; keep one", v)
		} else if ok {
			seen[v] = true
		}
	})
}

func (c *bodyCheck) mark() {
	c.object(c.doc.Value, "", fields{
		"team": c.team, "match": c.match, "kind": c.among(MarkKinds()...), "note": c.text(0, MaxText), "discarded": c.flag,
	}, "team", "match", "kind")
}

func (c *bodyCheck) result() {
	score := c.number(CheckScore)
	c.object(c.doc.Value, "", fields{
		"match": c.match, "play": c.play, "alliance": c.among(string(Red), string(Blue)),
		"score": score, "from_fouls": score, "ranking_points": score,
		"components": func(v any, at string) {
			c.members(v, at, func(name string) (check, string) {
				if _, ok := c.g.Component(name); !ok {
					return nil, "is no component of this game; take it out"
				}
				return score, ""
			})
		},
		"robots": func(v any, at string) { c.members(v, at, c.robots) },
		"absent": c.teams, "disqualified": c.teams, "cards": c.teams, "discarded": c.flag,
	}, "match", "alliance", "score")
}

// robots checks the official values of an action, one a robot.
func (c *bodyCheck) robots(name string) (check, string) {
	a, ok := c.g.Action(name)
	if !ok || a.ByAlliance() {
		return nil, "is no action of a robot in this game; take it out"
	}
	return func(v any, at string) {
		c.list(v, at, c.g.Alliance.Robots, func(v any, at string) {
			c.word(v, at, func(s string) error {
				if s == "" {
					return nil // not known
				}
				return CheckRobotValue(a, s)
			})
		})
	}, ""
}

func (c *bodyCheck) observation() {
	parts := []string{"counts", "choices", "fouls", "answers", "taps"}
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
		"answers": func(v any, at string) { c.members(v, at, c.answer) },
		"taps":    func(v any, at string) { c.list(v, at, maxTaps, c.tap) },
		"absent":  c.flag, "note": c.text(0, MaxText), "edited": c.flag, "discarded": c.flag,
	}, "match", "team", "scout")

	body, _ := c.doc.Value.(map[string]any)
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

func (c *bodyCheck) answer(name string) (check, string) {
	q, ok := c.g.Question(name)
	if !ok || q.When != "match" {
		return nil, "is no question about a match in this game; take it out"
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
	c.number(func(n float64) error {
		if n != math.Trunc(n) || n < 0 || n > maxMS {
			return fmt.Errorf("the time of a tap is whole milliseconds from 0 to %d", maxMS)
		}
		return nil
	})(values[0], at+"/0")
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

// tappable reports whether a timeline may hold a name: a count, flag or volume,
// "ID_missed", "ID:option" of a choice, "ID_tried", a foul, or a question with
// a number or flag (+1 begins, −1 ends).
func (c *bodyCheck) tappable(name string) bool {
	if a, ok := c.g.Action(name); ok {
		return a.Kind != game.Choice
	}
	if _, ok := c.g.Foul(name); ok {
		return true
	}
	if q, ok := c.g.Question(name); ok {
		return q.When == "match" && (q.Kind == "number" || q.Kind == "flag")
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

// clip shortens a text of the input for a message.
func clip(s string) string {
	r := []rune(s)
	if len(r) <= 40 {
		return s
	}
	return string(r[:40]) + "…"
}
