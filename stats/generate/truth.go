package generate

import (
	"math"
	"slices"

	"sextant/stats/game"
	"sextant/stats/record"
)

// Truth is what only the generator knows: an oracle to measure estimates by.
type Truth struct {
	Game    string        `json:"game"`
	Runs    int           `json:"runs"`    // how often each match was played over
	Teams   []TeamTruth   `json:"teams"`   // in order of number
	Matches []MatchTruth  `json:"matches"` // in playing order
	Scouts  []ScoutTruth  `json:"scouts"`
	Marks   []record.Mark `json:"marks"` // that the own scouts noticed
	// Altered are the robots that are another from one of their matches on, if
	// any were asked for.
	Altered []Alteration `json:"altered,omitempty"`

	// Mistakes are what went wrong in the stands, in playing order. Robots
	// that nobody watched are among them, as kind "missing".
	Mistakes []Mistake `json:"mistakes"`
}

// TeamTruth is a robot's expected contribution in points per match, points
// received by fouls excluded, over the matches it plays.
type TeamTruth struct {
	Team    record.TeamID      `json:"team"`
	Points  float64            `json:"points"`
	Working float64            `json:"working"` // in matches in which nothing stops it
	Stops   float64            `json:"stops"`   // share of matches absent or 20 s or more stopped
	Actions map[string]float64 `json:"actions"` // units per match; of a choice "action:option", a share
	Misses  map[string]float64 `json:"misses"`  // per match, by action, where misses are recorded
}

// MatchTruth is the forecast of somebody who knows every robot, its condition
// that day, and nothing of the match's luck.
type MatchTruth struct {
	record.Forecast
	// RankingPoints are the chances of each ranking point, by its id.
	RankingPoints map[record.Colour]map[string]float64 `json:"ranking_points"`
}

// ScoutTruth is how well a scout sees.
type ScoutTruth struct {
	Scout   string  `json:"scout"`
	Careful bool    `json:"careful"`
	Sees    float64 `json:"sees"`  // share of makes that are counted
	Twice   float64 `json:"twice"` // share of those that are counted twice
	// Tires is by which share of it all that goes wrong grows with each match
	// without a break.
	Tires float64 `json:"tires,omitempty"`
}

// stopCounts is from how many seconds on a stop counts as one; see the contract.
const stopCounts = 20.0

// Truth plays every match over, runs times (at least 2), and tells what comes
// out on average.
func (w *World) Truth(runs int) *Truth {
	runs = max(runs, 2)
	t := &Truth{Game: w.course.g.ID, Runs: runs, Marks: w.Marks(len(w.schedule)), Mistakes: []Mistake{}, Scouts: []ScoutTruth{}}
	if t.Marks == nil {
		t.Marks = []record.Mark{}
	}
	sums := make([]tally, len(w.teams))
	for i := range sums {
		sums[i].actions, sums[i].misses = map[string]float64{}, map[string]float64{}
	}
	for i := range w.meetings {
		t.Matches = append(t.Matches, w.playOver(i, runs, sums))
		_, _, wrong := w.play(i)
		t.Mistakes = append(t.Mistakes, wrong...)
	}
	for i, s := range sums {
		team := TeamTruth{Team: w.teams[i].ID, Points: round(s.points / s.n), Stops: round(s.stops / s.n), Actions: map[string]float64{}, Misses: map[string]float64{}}
		if s.working > 0 {
			team.Working = round(s.workingPoints / s.working)
		}
		for id, units := range s.actions {
			team.Actions[id] = round(units / s.n)
		}
		for id, units := range s.misses {
			team.Misses[id] = round(units / s.n)
		}
		t.Teams = append(t.Teams, team)
	}
	for _, a := range w.altered {
		s := &sums[slices.IndexFunc(w.teams, func(t record.Team) bool { return t.ID == a.Team })]
		a.After = round(s.late / s.lateN)
		a.Before = round((s.points - s.late) / (s.n - s.lateN))
		t.Altered = append(t.Altered, a)
	}
	for _, s := range w.scouts {
		t.Scouts = append(t.Scouts, ScoutTruth{Scout: s.name, Careful: s.careful, Sees: round(s.sees), Twice: round(s.twice), Tires: round(s.tires)})
	}
	return t
}

// tally sums up what a robot does in all runs of all its matches.
type tally struct {
	n, points, working, workingPoints, stops float64
	lateN, late                              float64 // of n and points: since it was altered
	actions, misses                          map[string]float64
}

func (s *tally) add(c *course, d *doing, points float64) {
	s.n++
	s.points += points
	stopped := d.stopped.seconds()
	switch {
	case d.absent || stopped >= stopCounts:
		s.stops++
	case stopped == 0:
		s.working++
		s.workingPoints += points
	}
	for _, e := range d.deeds {
		if a := &c.acts[e.act]; !e.missed {
			s.actions[a.ID] += e.units
		} else if a.Misses {
			s.misses[a.ID]++
		}
	}
	for k, got := range d.choices {
		s.actions[c.acts[k].ID+":"+c.acts[k].Options[got.option].ID]++
	}
}

// playOver plays match i runs times with other luck.
func (w *World) playOver(i, runs int, sums []tally) MatchTruth {
	rng := source(w.seeds[i].truth)
	slots := w.meetings[i].slots
	size := len(slots) / 2
	since := make([]bool, len(slots)) // the robot was altered
	for r, t := range slots {
		since[r] = slices.ContainsFunc(w.altered, func(a Alteration) bool {
			return a.Team == w.teams[t].ID && a.Match.Compare(w.schedule[i].ID) <= 0
		})
	}
	scorer := game.NewScorer(w.course.g)
	scores := map[record.Colour][]float64{}
	m := MatchTruth{RankingPoints: map[record.Colour]map[string]float64{record.Red: {}, record.Blue: {}}}
	m.Match = w.schedule[i].ID
	for range runs {
		p := w.run(rng, i)
		red, blue := w.score(scorer, &p)
		for side, s := range map[record.Colour]*game.Scored{record.Red: &red, record.Blue: &blue} {
			scores[side] = append(scores[side], s.Points)
			for id, got := range s.RankingPoints {
				if got {
					m.RankingPoints[side][id] += 1 / float64(runs)
				}
			}
		}
		for r := range p.robots {
			points := red.Robots
			if r >= size {
				points = blue.Robots
			}
			sums[slots[r]].add(w.course, &p.robots[r], points[r%size])
			if since[r] {
				sums[slots[r]].lateN++
				sums[slots[r]].late += points[r%size]
			}
		}
		switch {
		case red.Points > blue.Points:
			m.Chance.Red++
		case red.Points < blue.Points:
			m.Chance.Blue++
		default:
			m.Chance.Tie++
		}
	}
	m.Chance.Red /= float64(runs)
	m.Chance.Blue /= float64(runs)
	m.Chance.Tie /= float64(runs)
	for _, chances := range m.RankingPoints {
		for id, p := range chances {
			chances[id] = round(p)
		}
	}
	m.Red, m.Blue = spread(scores[record.Red]), spread(scores[record.Blue])
	return m
}

// round keeps what the runs can tell: four decimals.
func round(x float64) float64 { return math.Round(x*1e4) / 1e4 }

// spread sums scores up: mean, standard deviation, 10 and 90 % quantiles.
func spread(scores []float64) (s record.ScoreSpread) {
	n := float64(len(scores))
	for _, x := range scores {
		s.Mean += x / n
	}
	for _, x := range scores {
		s.SD += (x - s.Mean) * (x - s.Mean) / (n - 1)
	}
	s.Mean, s.SD = round(s.Mean), round(math.Sqrt(s.SD))
	slices.Sort(scores)
	s.P10 = math.Floor(scores[int(0.1*(n-1))])
	s.P90 = math.Ceil(scores[int(math.Ceil(0.9*(n-1)))])
	return s
}
