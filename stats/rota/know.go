package rota

import (
	"math"
	"slices"

	"sextant/stats/contrib"
	"sextant/stats/record"
)

// Know reads what is known of each robot from an estimate and its event: asked
// are those that a question is open about, places how many robots the pick list
// needs (captains not counted among them are still on it). fit may be nil: then
// nothing is known of anybody.
func Know(ev *record.Event, fit *contrib.Fit, asked []record.TeamID, places int) []Robot {
	seen := map[record.TeamID]int{}
	for i := range ev.Observations {
		if o := &ev.Observations[i]; !o.Discarded {
			seen[o.Team]++
		}
	}
	var out []Robot
	for _, t := range ev.Teams {
		r := Robot{Team: t.ID, Var: 1, Luck: 0.6, Walk: 0.005, Seen: seen[t.ID], List: 0.5, Asked: slices.Contains(asked, t.ID)}
		if fit != nil {
			if i, ok := fit.Index(t.ID); ok {
				r.Var, r.Walk = fit.StrengthCov(i, i), fit.WalkVar()
				r.Luck = fit.LuckVar(fit.Strength(i), fit.Exposure(i))
			}
		}
		out = append(out, r)
	}
	if fit != nil {
		undecided(out, fit, places)
	}
	return out
}

// undecided sets List: the chance of a robot to be worth one of the places, and a
// little for all, since forecasts are of all. The chance is a normal law's
// around the robot's strength; the line is halfway between the last place and
// the next. Weighing only those at the line was tried and told less of
// everybody else (stats/rota.md).
func undecided(robots []Robot, fit *contrib.Fit, places int) {
	var strengths []float64
	for i := range fit.Teams() {
		strengths = append(strengths, fit.Strength(i))
	}
	if places < 1 || places >= len(strengths) {
		return
	}
	slices.Sort(strengths)
	slices.Reverse(strengths)
	line := (strengths[places-1] + strengths[places]) / 2
	for k := range robots {
		i, ok := fit.Index(robots[k].Team)
		if !ok {
			continue
		}
		p := 0.5 * math.Erfc((line-fit.Strength(i))/math.Sqrt(2*max(robots[k].Var, 1e-9)))
		robots[k].List = min(1, 0.3+p)
	}
}
