package generate

import (
	"fmt"
	"math/rand/v2"
	"slices"

	"sextant/stats/game"
	"sextant/stats/record"
)

// Exhibition plays a match that is on no schedule, with every robot in the
// condition of its last match, and says what both alliances are credited with.
// Alliances are of one size. The error: a team that is not at the event, or
// alliances of different sizes.
func (w *World) Exhibition(rng *rand.Rand, red, blue []record.TeamID) (game.Scored, game.Scored, error) {
	p, err := w.exhibit(rng, red, blue)
	if err != nil {
		return game.Scored{}, game.Scored{}, err
	}
	a, b := w.score(game.NewScorer(w.course.g), &p)
	return a, b, nil
}

// Playoff plays a match of the playoff and returns it with its official result.
// The same match and play between the same robots always ends the same way. The
// errors are those of Exhibition.
func (w *World) Playoff(m record.Match) (record.Match, error) {
	s := w.seeds[len(w.seeds)-1].play
	rng := rand.New(rand.NewPCG(s[0]+uint64(m.ID.Number), s[1]+uint64(record.PlayOf(m.Play))))
	p, err := w.exhibit(rng, m.Red.Teams, m.Blue.Teams)
	if err != nil {
		return record.Match{}, err
	}
	w.publish(rng, &m, &p)
	for _, a := range []*record.Alliance{&m.Red, &m.Blue} {
		a.Result.RankingPoints = nil // there are none in a playoff
	}
	return m, nil
}

// exhibit lets robots play in the condition of their last match.
func (w *World) exhibit(rng *rand.Rand, red, blue []record.TeamID) (played, error) {
	if len(red) != len(blue) || len(red) == 0 {
		return played{}, fmt.Errorf("alliances of %d and %d robots", len(red), len(blue))
	}
	var robots []*robot
	var conditions []condition
	for _, id := range slices.Concat(red, blue) {
		t := slices.IndexFunc(w.teams, func(t record.Team) bool { return t.ID == id })
		if t < 0 {
			return played{}, fmt.Errorf("team %s is not at the event", id)
		}
		robots, conditions = append(robots, &w.robots[t]), append(conditions, w.last(t))
	}
	return playMatch(rng, w.course, robots, conditions), nil
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
