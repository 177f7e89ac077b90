package generate

import (
	"math/rand/v2"
	"slices"
	"strconv"

	"sextant/stats/game"
	"sextant/stats/record"
)

// score lets the game file say what both alliances are credited with.
func (w *World) score(s *game.Scorer, p *played) (red, blue game.Scored) {
	size := len(p.robots) / 2
	var did [2]game.Played
	for side := range did {
		did[side] = game.Played{Alliance: w.together(p.alliance[side]), Fouls: map[string]float64{}}
		for r := side * size; r < (side+1)*size; r++ {
			d := &p.robots[r]
			did[side].Robots = append(did[side].Robots, w.robotOf(d))
			for f, times := range d.fouls {
				did[side].Fouls[w.course.g.Fouls[f].ID] += float64(times)
			}
		}
	}
	return s.Score(did[0], did[1])
}

// together is what an alliance did as a whole, as the game scores it.
func (w *World) together(units map[int]float64) game.Robot {
	r := game.Robot{Counts: map[string]float64{}, Choices: map[string]string{}}
	for k, n := range units {
		if a := &w.course.acts[k]; a.Kind == game.Choice {
			r.Choices[a.ID] = a.Options[int(n)].ID
		} else {
			r.Counts[a.ID] = n
		}
	}
	return r
}

// robotOf is what one robot did.
func (w *World) robotOf(d *doing) game.Robot {
	r := game.Robot{Counts: map[string]float64{}, Choices: map[string]string{}}
	for _, e := range d.deeds {
		if !e.missed {
			r.Counts[w.course.acts[e.act].ID] += e.units
		}
	}
	for k, got := range d.choices {
		r.Choices[w.course.acts[k].ID] = w.course.acts[k].Options[got.option].ID
	}
	return r
}

// cardShare is the chance that a robot's worst foul brings it a card.
const cardShare = 0.1

// publish writes the official result of a match that was played.
func (w *World) publish(rng *rand.Rand, m *record.Match, p *played) {
	red, blue := w.score(game.NewScorer(w.course.g), p)
	size := len(m.Red.Teams)
	for side, got := range []*game.Scored{&red, &blue} {
		a := m.Side([]record.Colour{record.Red, record.Blue}[side])
		fouls, points := got.FromFouls, got.Ranking
		a.Result = &record.Result{Score: got.Points, FromFouls: &fouls, Components: got.Components, RankingPoints: &points}
		robots := p.robots[side*size : (side+1)*size]
		for r := range robots {
			if robots[r].absent {
				a.Absent = append(a.Absent, a.Teams[r])
			}
			if n := len(robots[r].fouls); n > 0 && robots[r].fouls[n-1] > 0 && rng.Float64() < cardShare {
				a.Cards = append(a.Cards, a.Teams[r])
			}
		}
		if w.opt.RobotFacts {
			a.Result.Robots = w.facts(robots)
		}
	}
}

// facts are the choices and flags of an alliance's robots as the venue
// publishes them; "" for a robot that was not there.
func (w *World) facts(robots []doing) map[string][]string {
	facts := map[string][]string{}
	for k := range w.course.acts {
		a := &w.course.acts[k]
		if a.ByAlliance() || a.Kind != game.Choice && a.Kind != game.Flag {
			continue
		}
		for i := range robots {
			d, value := &robots[i], ""
			switch {
			case d.absent:
			case a.Kind == game.Choice:
				value = a.Options[d.choices[k].option].ID
			default:
				done := slices.ContainsFunc(d.deeds, func(e deed) bool { return e.act == k })
				value = strconv.Itoa(map[bool]int{true: 1}[done])
			}
			facts[a.ID] = append(facts[a.ID], value)
		}
	}
	return facts
}
