package check

import (
	"cmp"
	"fmt"
	"slices"

	"sextant/stats/record"
)

// missing are seats of played matches that nobody watched, or only in part.
// Nothing is missing where nobody ever scouts.
func (t *table) missing(e *effects) (out []Suspect) {
	if len(t.rows) == 0 {
		return nil
	}
	for i := range t.plays {
		p := &t.plays[i]
		if !p.match.Played() {
			continue
		}
		for s, robot := range p.seats {
			if robot < 0 || p.absent[s] {
				continue
			}
			whole := slices.ContainsFunc(p.rows[s], func(id int) bool { return !t.rows[id].half || t.rows[id].obs.Checked })
			if whole {
				continue
			}
			m := Suspect{Match: p.match.ID, Play: later(p.match.Play), Kind: Missing, Teams: []record.TeamID{t.teams[robot]}, Scouts: []string{},
				Probability: 1, Effect: e.sd[robot], Most: t.teams[robot], Reason: "Nobody watched this robot."}
			for _, id := range p.rows[s] {
				m.Scouts = append(m.Scouts, t.rows[id].scout)
				m.Reason = "Only a part of the match was watched."
			}
			out = append(out, m)
		}
	}
	return out
}

// strangers are records of robots that are not in the match they name.
func (t *table) strangers(e *effects) (out []Suspect) {
	for _, o := range t.stray {
		if o.Checked {
			continue
		}
		s := Suspect{Match: o.Match, Play: later(o.Play), Teams: []record.TeamID{o.Team}, Scouts: []string{o.Scout}, Probability: 1, fact: true}
		play := -1
		for i := range t.plays {
			if t.plays[i].match.ID == o.Match && max(1, t.plays[i].match.Play) == max(1, o.Play) {
				play = i
			}
		}
		robot, known := t.index[o.Team]
		if known {
			s.Kind, s.Most = WrongRobot, o.Team
			s.Effect = e.sd[robot]
			near := t.nearest(robot, play, o)
			if near >= 0 {
				other := t.plays[near].match.ID
				s.Other = &other
				s.Reason = fmt.Sprintf("%s is not in this match; it plays %s.", o.Team, other)
				out = append(out, s)
				continue
			}
		} else {
			s.Kind = UnknownTeam
		}
		candidates := t.candidates(o, play)
		s.Teams = append(s.Teams, candidates...)
		what := "No such team is at the event"
		if known {
			what = "The team is not in this match"
		}
		s.Reason = what + "."
		if len(candidates) > 0 {
			s.Most = candidates[0]
			s.Effect = e.sd[t.index[candidates[0]]]
			s.Reason = fmt.Sprintf("%s; nearest is %s.", what, candidates[0])
		}
		out = append(out, s)
	}
	return out
}

// nearest is the play next to the one that a record names in which its robot
// is, −1 if there is none: one match off. A match that no schedule has, or one
// of another play, is next to every match of the robot that this scout did not
// record.
func (t *table) nearest(robot, play int, o *record.Observation) int {
	if play >= 0 {
		for _, next := range []int{t.plays[play].before, t.plays[play].after} {
			if next >= 0 && slices.Contains(t.plays[next].seats, robot) {
				return next
			}
		}
		return -1
	}
	best, far := -1, 0
	for i := range t.plays {
		m := t.plays[i].match.ID
		s := slices.Index(t.plays[i].seats, robot)
		if s < 0 || m.Stage != o.Match.Stage || slices.ContainsFunc(t.plays[i].rows[s], func(id int) bool { return t.rows[id].scout == o.Scout }) {
			continue
		}
		if d := max(m.Number-o.Match.Number, o.Match.Number-m.Number); best < 0 || d < far {
			best, far = i, d
		}
	}
	return best
}

// candidates are the teams whose numbers are nearest to the one written, among
// those of the match (of the event, if there is no such match), those that
// nobody watched first, at most three.
func (t *table) candidates(o *record.Observation, play int) []record.TeamID {
	type candidate struct {
		team record.TeamID
		far  int
		seen bool
	}
	var all []candidate
	if play >= 0 {
		p := &t.plays[play]
		for s, robot := range p.seats {
			if robot >= 0 {
				all = append(all, candidate{t.teams[robot], distance(string(o.Team), string(t.teams[robot])), len(p.rows[s]) > 0})
			}
		}
	} else {
		for _, team := range t.teams {
			all = append(all, candidate{team, distance(string(o.Team), string(team)), false})
		}
	}
	slices.SortStableFunc(all, func(a, b candidate) int {
		seen := func(c candidate) int {
			if c.seen {
				return 1
			}
			return 0
		}
		// A robot that somebody watched is one slip of the finger further away.
		return cmp.Or(cmp.Compare(a.far+seen(a), b.far+seen(b)), cmp.Compare(a.far, b.far), record.CompareTeams(a.team, b.team))
	})
	var out []record.TeamID
	for _, c := range all[:min(3, len(all))] {
		if c.far <= max(2, len(o.Team)/2) {
			out = append(out, c.team)
		}
	}
	return out
}

// distance counts the slips between two numbers: a digit wrong, missing, too
// many, or two neighbours exchanged (optimal string alignment; Damerau 1964,
// doi:10.1145/363958.363994).
func distance(a, b string) int {
	rows := make([][]int, len(a)+1)
	for i := range rows {
		rows[i] = make([]int, len(b)+1)
		rows[i][0] = i
	}
	for j := range rows[0] {
		rows[0][j] = j
	}
	for i := 1; i <= len(a); i++ {
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			rows[i][j] = min(rows[i-1][j]+1, rows[i][j-1]+1, rows[i-1][j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				rows[i][j] = min(rows[i][j], rows[i-2][j-2]+1)
			}
		}
	}
	return rows[len(a)][len(b)]
}
