package contrib

import (
	"cmp"
	"slices"
	"strconv"
	"sync"

	"sextant/stats/game"
	"sextant/stats/record"
)

// evidence is an event in the form that the layers read: robots are indices
// into teams, and every play of a match is two sides.
type evidence struct {
	game      *game.Game
	teams     []record.TeamID // in order of number
	index     map[record.TeamID]int
	size      int // robots of a full alliance
	sides     []side
	marks     []record.Mark     // of known robots, in order of match, each robot and match once
	trainings []record.Training // of scouts, before the event
	worth     func() *worth     // what records are worth, made once

	// Points received by fouls, per alliance and match: the mean and variance
	// over the totals that have them published; 0 when none has.
	foulMean, foulVar float64
}

// side is one alliance in one play of one match.
type side struct {
	match  record.MatchID
	play   int
	robots []int // indices of the robots in the schedule
	absent []bool
	// own is the official score without points by fouls; nil when it was not
	// published or belongs to a later play. ownVar is of what was filled in.
	own    *float64
	ownVar float64
	views  []view // what scouts saw, in order of robot and scout
	// official has the venue's values, by robot and action id; nil: none.
	official map[int]map[string]string
}

// view is one scout's record of one robot in one play of a match.
type view struct {
	robot int // index
	obs   *record.Observation
}

// newEvidence sorts an event out. Observations of a match that is not in the
// schedule still tell about the robot: they make a side of their own, without a
// total. Those of a robot that the schedule does not have in that match are
// about another robot, nobody knows which, and are left out; so are those of a
// team that is not at the event.
func newEvidence(ev *record.Event) *evidence {
	e := &evidence{game: ev.Game, trainings: ev.Trainings, size: ev.Game.Alliance.Robots, index: map[record.TeamID]int{}}
	for _, t := range ev.Teams {
		e.teams = append(e.teams, t.ID)
	}
	slices.SortFunc(e.teams, record.CompareTeams)
	e.teams = slices.Compact(e.teams)
	for i, t := range e.teams {
		e.index[t] = i
	}

	type key struct {
		match record.MatchID
		play  int
		robot int
	}
	at := map[key]int{} // index into sides
	counts := countedPlays(ev)
	var fouls []float64
	for i := range ev.Matches {
		for _, c := range []record.Colour{record.Red, record.Blue} {
			if r := ev.Matches[i].Side(c).Result; counts[i] && r.FromFouls != nil {
				fouls = append(fouls, *r.FromFouls)
			}
		}
	}
	e.foulMean, e.foulVar = foulMoments(fouls)
	scheduled := map[record.MatchID]bool{}
	for i := range ev.Matches {
		m := &ev.Matches[i]
		scheduled[m.ID] = true
		for _, c := range []record.Colour{record.Red, record.Blue} {
			a := m.Side(c)
			s := side{match: m.ID, play: m.Play}
			for _, t := range a.Teams {
				r, ok := e.index[t]
				if !ok {
					continue
				}
				at[key{m.ID, m.Play, r}] = len(e.sides)
				s.robots = append(s.robots, r)
				s.absent = append(s.absent, slices.Contains(a.Absent, t))
			}
			if counts[i] {
				own := a.Result.Own()
				if a.Result.FromFouls == nil {
					own -= e.foulMean // not published here, although elsewhere
					s.ownVar = e.foulVar
				}
				s.own = &own
			}
			if a.Result != nil {
				s.official = e.officialValues(a)
			}
			e.sides = append(e.sides, s)
		}
	}

	views := make([]*record.Observation, 0, len(ev.Observations))
	for i := range ev.Observations {
		o := &ev.Observations[i]
		if _, ok := e.index[o.Team]; ok && !o.Discarded {
			views = append(views, o)
		}
	}
	slices.SortStableFunc(views, func(a, b *record.Observation) int {
		return cmp.Or(a.Match.Compare(b.Match), cmp.Compare(max(1, a.Play), max(1, b.Play)),
			record.CompareTeams(a.Team, b.Team), cmp.Compare(a.Scout, b.Scout))
	})
	for _, o := range record.JoinParts(e.game, views) {
		r := e.index[o.Team]
		k := key{o.Match, max(1, o.Play), r}
		i, ok := at[k]
		if !ok && scheduled[o.Match] {
			continue
		}
		if !ok {
			i = len(e.sides)
			at[k] = i
			e.sides = append(e.sides, side{match: k.match, play: k.play, robots: []int{r}, absent: []bool{false}})
		}
		e.sides[i].views = append(e.sides[i].views, view{robot: r, obs: o})
	}
	e.addMarks(ev.Marks)
	e.worth = sync.OnceValue(func() *worth { return newWorth(e) })
	return e
}

// officialValues are the venue's values of an alliance's robots, by robot and action.
func (e *evidence) officialValues(a *record.Alliance) map[int]map[string]string {
	if len(a.Result.Robots) == 0 {
		return nil
	}
	out := map[int]map[string]string{}
	for id, values := range a.Result.Robots {
		for k, t := range a.Teams {
			r, ok := e.index[t]
			if !ok || k >= len(values) || values[k] == "" {
				continue
			}
			if out[r] == nil {
				out[r] = map[string]string{}
			}
			out[r][id] = values[k]
		}
	}
	return out
}

// officialNumber reads an official count or flag.
func officialNumber(s string) (float64, bool) {
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil
}

// foulMoments is the mean and variance of points by fouls; the variance leans
// on the square of the mean (an exponential law) while there are few.
func foulMoments(fouls []float64) (mean, variance float64) {
	if len(fouls) == 0 {
		return 0, 0
	}
	for _, f := range fouls {
		mean += f
	}
	mean /= float64(len(fouls))
	const lean = 4
	variance = lean * mean * mean
	for _, f := range fouls {
		variance += square(f - mean)
	}
	return mean, variance / (float64(len(fouls)) - 1 + lean)
}

// countedPlays tells of each match whether its result counts: it is there, and
// it is the last play.
func countedPlays(ev *record.Event) []bool {
	last := map[record.MatchID]int{}
	for i := range ev.Matches {
		last[ev.Matches[i].ID] = max(last[ev.Matches[i].ID], ev.Matches[i].Play)
	}
	out := make([]bool, len(ev.Matches))
	for i := range ev.Matches {
		m := &ev.Matches[i]
		out[i] = m.Played() && m.Play == last[m.ID]
	}
	return out
}

func (e *evidence) addMarks(marks []record.Mark) {
	for _, m := range marks {
		if _, ok := e.index[m.Team]; ok && m.Kind != record.MarkNoChange {
			e.marks = append(e.marks, m)
		}
	}
	slices.SortStableFunc(e.marks, func(a, b record.Mark) int {
		return cmp.Or(a.Match.Compare(b.Match), record.CompareTeams(a.Team, b.Team))
	})
	e.marks = slices.CompactFunc(e.marks, func(a, b record.Mark) bool { return a.Team == b.Team && a.Match == b.Match })
}

// totals are the alliance totals that tell about robots: an alliance of which
// nobody came does not.
func (e *evidence) totals() []total {
	var out []total
	for i := range e.sides {
		s := &e.sides[i]
		if s.own == nil {
			continue
		}
		t := total{own: *s.own}
		for k, r := range s.robots {
			if !s.absent[k] {
				t.robots = append(t.robots, r)
			}
		}
		if len(t.robots) > 0 {
			out = append(out, t)
		}
	}
	return out
}

// played counts the matches with an official result, in all and by robot.
func (e *evidence) played() (matches int, by []int) {
	by = make([]int, len(e.teams))
	sides := 0
	for i := range e.sides {
		if e.sides[i].own == nil {
			continue
		}
		sides++
		for _, r := range e.sides[i].robots {
			by[r]++
		}
	}
	return sides / 2, by
}
