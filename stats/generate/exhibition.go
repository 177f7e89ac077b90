package generate

import (
	"fmt"
	"math/rand/v2"

	"sextant/stats/game"
	"sextant/stats/record"
)

// Exhibition plays a match that is on no schedule, such as one of a playoff,
// with every robot in the condition of its last match, and says what both
// alliances are credited with. Alliances are of one size. The error: a team
// that is not at the event, or alliances of different sizes.
func (w *World) Exhibition(rng *rand.Rand, red, blue []record.TeamID) (game.Scored, game.Scored, error) {
	if len(red) != len(blue) || len(red) == 0 {
		return game.Scored{}, game.Scored{}, fmt.Errorf("alliances of %d and %d robots", len(red), len(blue))
	}
	var robots []*robot
	var conditions []condition
	for _, side := range [][]record.TeamID{red, blue} {
		for _, id := range side {
			t := -1
			for k := range w.teams {
				if w.teams[k].ID == id {
					t = k
				}
			}
			if t < 0 {
				return game.Scored{}, game.Scored{}, fmt.Errorf("team %s is not at the event", id)
			}
			robots, conditions = append(robots, &w.robots[t]), append(conditions, w.last(t))
		}
	}
	p := playMatch(rng, w.course, robots, conditions)
	a, b := w.score(game.NewScorer(w.course.g), &p)
	return a, b, nil
}

// last is the condition of a team in its last match.
func (w *World) last(team int) condition {
	for m := len(w.meetings) - 1; m >= 0; m-- {
		for place, t := range w.meetings[m].slots {
			if t == team {
				return w.conditions[m][place]
			}
		}
	}
	return condition{pace: 1}
}
