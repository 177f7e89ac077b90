package contrib

import (
	"math"

	"sextant/stats/game"
	"sextant/stats/record"
)

// worth turns a scout's record into points. What the record leaves empty is
// filled with what that robot is expected to do, and the doubt about it is
// kept: an empty cell is never a zero.
type worth struct {
	e     *evidence
	units []worthUnit
}

// worthUnit is one action with points, seen by at least one scout.
type worthUnit struct {
	action       *game.Action
	points       float64 // a unit, for_each bonuses shared out; 0 for a choice
	value        func(*record.Observation) (points float64, seen bool)
	mean         []float64 // expected points a match, by robot
	fillVariance []float64 // points², of one match around it
}

func newWorth(e *evidence) *worth {
	w := &worth{e: e}
	for i := range e.game.Actions {
		a := &e.game.Actions[i]
		if a.ByAlliance() {
			continue
		}
		if a.Kind == game.Choice {
			w.addChoice(a)
		} else {
			w.addCount(a)
		}
	}
	return w
}

// addCount: points a unit, and a share of a bonus that is paid for every so
// many units (a robot's own part of it, before rounding to whole steps).
func (w *worth) addCount(a *game.Action) {
	points := w.e.game.RobotPoints(game.Robot{Counts: map[string]float64{a.ID: 1}})
	for _, b := range w.e.game.Bonuses {
		if b.ForEach == nil || b.ForEach.Step <= 0 {
			continue
		}
		for _, id := range b.ForEach.Count {
			if id == a.ID {
				points += b.Points / b.ForEach.Step
			}
		}
	}
	if points == 0 {
		return
	}
	count := made(a.ID)
	s, ok := shrink(w.e.watched(count))
	if !ok {
		return
	}
	u := worthUnit{action: a, points: points, value: func(o *record.Observation) (float64, bool) {
		n, seen := count(o)
		return n * points, seen
	}}
	for r, m := range s.mean {
		u.mean = append(u.mean, m*points)
		u.fillVariance = append(u.fillVariance, (s.within+s.variance[r])*points*points)
	}
	w.units = append(w.units, u)
}

func (w *worth) addChoice(a *game.Action) {
	points := map[string]float64{}
	worthless := true
	var shares []shrunken
	for _, o := range a.Options {
		points[o.ID] = w.e.game.RobotPoints(game.Robot{Choices: map[string]string{a.ID: o.ID}})
		worthless = worthless && points[o.ID] == 0
		s, ok := shrink(w.e.watched(chose(a.ID, o.ID)))
		if !ok {
			return // nobody saw any of it
		}
		shares = append(shares, s)
	}
	if worthless {
		return
	}
	u := worthUnit{action: a, value: func(o *record.Observation) (float64, bool) {
		c, ok := o.Choices[a.ID]
		if !ok || c.Option == "" {
			return 0, false
		}
		return points[c.Option], true
	}}
	for r := range w.e.teams {
		var sum, mean, squares float64
		for k, o := range a.Options {
			share := math.Max(0, shares[k].mean[r])
			sum += share
			mean += share * points[o.ID]
			squares += share * square(points[o.ID])
		}
		if sum > 0 {
			mean, squares = mean/sum, squares/sum
		}
		u.mean = append(u.mean, mean)
		u.fillVariance = append(u.fillVariance, math.Max(0, squares-mean*mean))
	}
	w.units = append(w.units, u)
}

// points of one record, uncapped, and the variance that empty cells add. What
// the venue published of the robot (by action id; nil: nothing) comes before
// what the scout saw. False: no cell with points was filled in, so the record
// has no total.
func (w *worth) points(o *record.Observation, official map[string]string) (points, fill float64, ok bool) {
	if !w.e.complete(o) {
		return 0, 0, false
	}
	o = merged(o, official, w.e.game)
	r := w.e.index[o.Team]
	for _, u := range w.units {
		if v, seen := u.value(o); seen {
			points += v
			ok = true
		} else {
			points += u.mean[r]
			fill += u.fillVariance[r]
		}
	}
	return points, fill, ok
}
