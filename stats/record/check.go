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

	maxSatOut = 10 // robots of an alliance that did not play
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
			"name": c.text(1, MaxName), "purpose": orNull(c.text(0, MaxText)), "frozen": c.time, "removed": c.flag,
		})
	case KindEntry:
		into = new(EntryBody)
		c.object(doc.Value, "", fields{
			"list": c.id, "team": c.team, "key": c.key, "tier": orNull(c.count(99)), "never": c.flag,
			"reason": orNull(c.text(0, MaxText)), "note": orNull(c.text(0, MaxText)), "removed": c.flag,
		})
	case KindSelection:
		into = new(SelectionBody)
		c.object(doc.Value, "", fields{
			"step": c.from(1, MaxSteps), "round": c.count(99), "captain": c.team, "invites": c.team,
			"answer": c.among(Accepts, Declines, NoShow, NobodyLeft), "backup": c.flag, "removed": c.flag,
		}, "step", "captain", "answer")
	case KindNote:
		into = new(NoteBody)
		c.object(doc.Value, "", fields{
			"team": orNull(c.team), "match": orNull(c.match), "text": c.text(0, MaxText), "removed": c.flag,
			"list": c.id, "scout": func(v any, at string) { c.word(v, at, CheckScout) },
		})
	case KindQuestion:
		into = new(QuestionBody)
		c.question()
	case KindTraining:
		into = new(Training)
		c.training()
	case KindJudgement:
		into = new(Judgement)
		c.judgement()
	case KindRota:
		into = new(RotaBody)
		c.rota()
	case KindSeat:
		into = new(SeatBody)
		c.seat()
	case KindPit:
		into = new(PitBody)
		c.pit()
	case KindAgreement:
		into = new(AgreementBody)
		c.agreement()
	case KindDebrief:
		into = new(DebriefBody)
		c.debrief()
	case KindSketch:
		into = new(SketchBody)
		c.sketch()
	case KindPin:
		into = new(PinBody)
		c.pin()
	case KindRehearsal:
		into = new(RehearsalBody)
		c.rehearsal()
	case KindPlayoff:
		into = new(PlayoffBody)
		c.object(doc.Value, "", fields{
			"match": c.match, "red": c.playoffSide, "blue": c.playoffSide, "note": c.text(0, MaxText),
		}, "match", "red", "blue")
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

// from checks a whole number from low to high.
func (c *bodyCheck) from(low, high float64) check {
	return c.number(func(n float64) error {
		if n != math.Trunc(n) || n < low || n > high {
			return fmt.Errorf("%g is not a whole number from %g to %g", n, low, high)
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

// playoffSide checks what happened to one alliance around a playoff match.
func (c *bodyCheck) playoffSide(v any, at string) {
	c.object(v, at, fields{
		"time_out": c.flag, "backup": c.team,
		"sat_out": func(v any, at string) {
			c.list(v, at, maxSatOut, func(v any, at string) {
				c.object(v, at, fields{"team": c.team, "why": c.text(0, MaxText)}, "team")
			})
		},
	})
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

// clip shortens a text of the input for a message.
func clip(s string) string {
	r := []rune(s)
	if len(r) <= 40 {
		return s
	}
	return string(r[:40]) + "…"
}
