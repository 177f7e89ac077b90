package record

import (
	"fmt"
	"math"
	"strings"

	"github.com/google/uuid"

	"sextant/stats/game"
)

// maxAnswersTo bounds the questions that one record answers.
const maxAnswersTo = 20

func (c *bodyCheck) question() {
	c.object(c.doc.Value, "", fields{
		"team": c.team, "match": c.match, "text": c.text(1, MaxText), "owner": c.text(0, MaxName),
		"asked_of": c.among(AskedOfScouts, AskedOfLeads), "done": c.flag,
		"record": c.id,
	}, "text")
}

// answersTo checks what an observation answers to questions, by their record ids.
func (c *bodyCheck) answersTo(v any, at string) {
	if members, ok := v.(map[string]any); ok && len(members) > maxAnswersTo {
		c.problem(at, "there are %d answers; %d is the limit", len(members), maxAnswersTo)
		return
	}
	c.members(v, at, func(name string) (check, string) {
		if id, err := uuid.Parse(name); err != nil || id.String() != name {
			return nil, "is no id of a question; write a UUID in small letters"
		}
		return c.text(1, MaxText), ""
	})
}

func (c *bodyCheck) training() {
	whole := func(low, high float64) check {
		return c.number(func(n float64) error {
			if n != math.Trunc(n) || n < low || n > high {
				return fmt.Errorf("write a whole number from %g to %g", low, high)
			}
			return nil
		})
	}
	tallies := func(v any, at string) { c.members(v, at, c.trained) }
	c.object(c.doc.Value, "", fields{
		"scout": func(v any, at string) { c.word(v, at, CheckScout) },
		"script": func(v any, at string) {
			c.object(v, at, fields{
				"seed": whole(0, 1<<32), "version": whole(1, 1000),
				"seconds": c.number(func(n float64) error {
					if !(n > 0 && n <= 3600) {
						return fmt.Errorf("write seconds above 0, at most 3600")
					}
					return nil
				}),
			}, "seed", "version", "seconds")
		},
		"truth": tallies, "seen": tallies, "discarded": c.flag,
	}, "scout", "script", "truth", "seen")
}

// trained checks one count of a training: of an action, or of "action:option".
func (c *bodyCheck) trained(name string) (check, string) {
	id, option, ok := strings.Cut(name, ":")
	if !ok {
		return c.tally(name)
	}
	a, known := c.g.Action(id)
	if known {
		_, known = a.Option(option)
	}
	if !known {
		return nil, "is no option of this game; take it out"
	}
	return func(v any, at string) { c.object(v, at, fields{"made": c.count(1)}, "made") }, ""
}

func (c *bodyCheck) judgement() {
	size := 2 * c.g.Alliance.Robots
	seen := map[string]bool{}
	c.object(c.doc.Value, "", fields{
		"match": c.match, "play": c.play,
		"question": func(v any, at string) {
			c.word(v, at, func(s string) error {
				if q, ok := c.g.Question(s); !ok || q.When != game.WhenJudgement {
					return fmt.Errorf("%q is no question about all robots of a match in this game", clip(s))
				}
				return nil
			})
		},
		"scout": func(v any, at string) { c.word(v, at, CheckScout) },
		"teams": func(v any, at string) {
			c.list(v, at, size, func(v any, at string) {
				c.team(v, at)
				if s, ok := v.(string); ok {
					if seen[s] {
						c.problem(at, "team %s stands twice; keep one", clip(s))
					}
					seen[s] = true
				}
			})
			if values, ok := v.([]any); ok && len(values) < 2 {
				c.problem(at, "it takes two robots to compare; name them all")
			}
		},
		"best": c.team, "worst": c.team, "discarded": c.flag,
	}, "match", "question", "scout", "teams")

	body, _ := c.doc.Value.(map[string]any)
	for _, name := range []string{"best", "worst"} {
		if s, ok := body[name].(string); ok && !seen[s] {
			c.problem(game.Pointer(name), "%q is none of the teams that were compared", clip(s))
		}
	}
	if best, ok := body["best"].(string); ok && body["worst"] == best {
		c.problem("/worst", "the same robot cannot be best and worst; leave both out for no difference")
	}
}
