package standings

import (
	"sextant/stats/contrib"
	"sextant/stats/record"
)

// Schedule is how hard a robot's qualification matches were and will be.
type Schedule struct {
	Team   record.TeamID `json:"team"`
	Past   Hardness      `json:"past"`
	ToCome Hardness      `json:"to_come"`
}

// Hardness of some matches, by what robots are worth now, in points.
type Hardness struct {
	Matches int `json:"matches"`
	// Partners and Opponents are the means per robot; 0 without matches.
	Partners  float64 `json:"partners"`
	Opponents float64 `json:"opponents"`
	// Edge is the mean margin by which an average robot of the event in this
	// robot's place would win: above zero the schedule is easy.
	Edge float64 `json:"edge"`
}

// Strength tells how hard the schedule of every robot is, in order of number.
// fit must be an estimate of ev.
func Strength(ev *record.Event, fit *contrib.Fit) []Schedule {
	b := newBoard(ev)
	var average float64
	for i := range b.teams {
		average += fit.Mean(i) / float64(len(b.teams))
	}
	out := make([]Schedule, len(b.teams))
	for i, t := range b.teams {
		out[i].Team = t
	}
	type sums struct{ partners, with, opponents, against float64 }
	count := func(matches []*record.Match, of func(*Schedule) *Hardness) {
		all := make([]sums, len(b.teams))
		for _, m := range matches {
			for side, own := range [][]record.TeamID{m.Red.Teams, m.Blue.Teams} {
				other := [][]record.TeamID{m.Blue.Teams, m.Red.Teams}[side]
				for _, t := range own {
					i, ok := b.index[t]
					if !ok {
						continue
					}
					h := of(&out[i])
					h.Matches++
					edge := average
					for _, u := range own {
						if j, ok := b.index[u]; ok && j != i {
							all[i].partners += fit.Mean(j)
							all[i].with++
							edge += fit.Mean(j)
						}
					}
					for _, u := range other {
						if j, ok := b.index[u]; ok {
							all[i].opponents += fit.Mean(j)
							all[i].against++
							edge -= fit.Mean(j)
						}
					}
					h.Edge += edge
				}
			}
		}
		for i := range all {
			h := of(&out[i])
			if h.Matches > 0 {
				h.Edge /= float64(h.Matches)
			}
			if all[i].with > 0 {
				h.Partners = all[i].partners / all[i].with
			}
			if all[i].against > 0 {
				h.Opponents = all[i].opponents / all[i].against
			}
		}
	}
	count(b.played, func(s *Schedule) *Hardness { return &s.Past })
	var rest []*record.Match
	for i := range b.rest {
		rest = append(rest, b.rest[i].match)
	}
	count(rest, func(s *Schedule) *Hardness { return &s.ToCome })
	return out
}
