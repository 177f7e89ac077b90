package record

import "sextant/stats/game"

// RobotFrom is what an observation says about a robot in the form that scoring
// reads, and the ids of the robot's actions that were not watched. Scoring
// takes these as not done; whoever must not read "not watched" as zero looks at
// them first. An absent robot did nothing, and that was seen.
//
// Actions by the alliance are in it too when the scout recorded them; scoring a
// robot passes them over.
func RobotFrom(g *game.Game, o *Observation) (game.Robot, []string) {
	r := game.Robot{Counts: map[string]float64{}, Choices: map[string]string{}}
	if o.Absent {
		return r, nil
	}
	var unseen []string
	for i := range g.Actions {
		a := &g.Actions[i]
		seen := false
		if a.Kind == game.Choice {
			if option := o.Choices[a.ID].Option; option != "" {
				r.Choices[a.ID], seen = option, true
			}
		} else if made := o.Counts[a.ID].Made; made != nil {
			r.Counts[a.ID], seen = *made, true
		}
		if !seen && !a.ByAlliance() {
			unseen = append(unseen, a.ID)
		}
	}
	return r, unseen
}

// PlayedFrom is what the observations of one alliance's robots, one each in
// the order of stations, say about the alliance; nil: nobody watched that
// robot. Beside it stand, robot by robot, the ids of actions that were not
// watched. Of an action by the alliance the largest count and the most valuable
// option that any of the scouts saw is taken.
func PlayedFrom(g *game.Game, robots []*Observation) (game.Played, [][]string) {
	p := game.Played{
		Robots:   make([]game.Robot, len(robots)),
		Alliance: game.Robot{Counts: map[string]float64{}, Choices: map[string]string{}},
		Fouls:    map[string]float64{},
	}
	unseen := make([][]string, len(robots))
	for i, o := range robots {
		if o == nil {
			o = &Observation{}
		}
		p.Robots[i], unseen[i] = RobotFrom(g, o)
		for id, n := range o.Fouls {
			p.Fouls[id] += n
		}
		for j := range g.Actions {
			if a := &g.Actions[j]; a.ByAlliance() {
				raise(&p.Alliance, p.Robots[i], a)
			}
		}
	}
	return p, unseen
}

// raise lifts what an alliance did of an action to what one scout saw.
func raise(alliance *game.Robot, seen game.Robot, a *game.Action) {
	if a.Kind != game.Choice {
		if n, ok := seen.Counts[a.ID]; ok {
			alliance.Counts[a.ID] = max(alliance.Counts[a.ID], n)
		}
		return
	}
	option, ok := a.Option(seen.Choices[a.ID])
	if !ok {
		return
	}
	if before, ok := a.Option(alliance.Choices[a.ID]); !ok || option.Points > before.Points {
		alliance.Choices[a.ID] = option.ID
	}
}
