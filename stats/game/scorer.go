package game

import (
	"cmp"
	"math"
	"slices"
)

// Scorer scores matches of one game. It may be used by several goroutines at
// once; the game must not change meanwhile.
type Scorer struct {
	g      *Game
	units  []unit
	limits [][]int // by unit: the limits that it counts for
}

// unit is one thing that is credited on its own: an action, or an option.
type unit struct {
	action *Action
	index  int // of the option; 0 otherwise
	points float64
	max    float64 // what an alliance is credited with at most
	order  int     // of the period; actions at any time come last
}

// key is the unit's name in Scored.Credited.
func (u *unit) key() string {
	if u.action.Kind == Choice {
		return u.action.ID + ":" + u.action.Options[u.index].ID
	}
	return u.action.ID
}

// NewScorer prepares to score matches of a game.
//
// In what order things happened is not known, so caps and limits credit period
// by period, in the order of the file, and within a period the most valuable
// first; what has the same value goes in the order of the file.
func NewScorer(g *Game) *Scorer {
	s := &Scorer{g: g}
	for i := range g.Actions {
		a := &g.Actions[i]
		order := slices.IndexFunc(g.Periods, func(p Period) bool { return p.ID == a.Period })
		if order < 0 {
			order = len(g.Periods)
		}
		for j := range unitsOf(a) {
			limit := a.AllianceMax
			if a.Kind == Choice {
				limit = a.Options[j].AllianceMax
			}
			u := unit{action: a, index: j, points: a.unitPoints(j), max: math.Inf(1), order: order}
			if limit != nil {
				u.max = *limit
			}
			s.units = append(s.units, u)
		}
	}
	slices.SortStableFunc(s.units, func(a, b unit) int {
		return cmp.Or(cmp.Compare(a.order, b.order), cmp.Compare(b.points, a.points))
	})
	s.limits = make([][]int, len(s.units))
	for i, u := range s.units {
		for j, l := range g.Limits {
			if u.action.Kind != Choice && slices.Contains(l.Count, u.action.ID) {
				s.limits[i] = append(s.limits[i], j)
			}
		}
	}
	return s
}

// Score computes what both alliances are credited with.
//
// Where a limit for the whole match is reached, both alliances share what is
// left of it in proportion to what each would have been credited with.
func (s *Scorer) Score(red, blue Played) (Scored, Scored) {
	m := &tally{s: s, played: [2]*Played{&red, &blue}}
	m.credit()
	for side := range m.sides {
		m.sides[side].init(s.g)
	}
	for side := range m.sides {
		m.total(side)
	}
	for side := range m.sides {
		m.rank(side)
	}
	return m.sides[0].out, m.sides[1].out
}

// tally is one match that is being scored. Side 0 is red, 1 blue.
type tally struct {
	s      *Scorer
	played [2]*Played
	sides  [2]side
}

// side is one alliance of a tally.
type side struct {
	credited []float64            // by unit
	robots   map[string][]float64 // credited units by action id; the last entry is the alliance's own
	out      Scored
	bonus    map[string]float64 // points by bonus id, once known
	open     map[string]bool    // bonuses that are being worked out
}

// done is how much of a unit each robot did; the last entry is the alliance's.
func (p *Played) done(u *unit) ([]float64, float64) {
	n := len(p.Robots)
	amounts := make([]float64, n+1)
	if u.action.ByAlliance() {
		amounts[n] = p.Alliance.amount(u.action, u.index)
		return amounts, amounts[n]
	}
	sum := 0.0
	for i, r := range p.Robots {
		amounts[i] = r.amount(u.action, u.index)
		sum += amounts[i]
	}
	return amounts, sum
}

// credit works out how much of each unit counts, and for whom.
func (m *tally) credit() {
	g := m.s.g
	left := make([][2]float64, len(g.Limits)) // a limit per match uses entry 0 only
	for i, l := range g.Limits {
		left[i] = [2]float64{l.Max, l.Max}
	}
	for side := range m.sides {
		n := len(m.played[side].Robots)
		m.sides[side].credited = make([]float64, len(m.s.units))
		m.sides[side].out.Robots = make([]float64, n)
		m.sides[side].robots = map[string][]float64{}
		for i := range g.Actions {
			m.sides[side].robots[g.Actions[i].ID] = make([]float64, n+1)
		}
	}
	for i := range m.s.units {
		u := &m.s.units[i]
		var amounts [2][]float64
		var done, got [2]float64
		for side := range got {
			amounts[side], done[side] = m.played[side].done(u)
			got[side] = min(done[side], u.max)
		}
		for _, l := range m.s.limits[i] {
			if g.Limits[l].Per == "match" {
				if sum := got[0] + got[1]; sum > left[l][0] {
					share := left[l][0] / sum
					got[0], got[1] = got[0]*share, got[1]*share
				}
				continue
			}
			for side := range got {
				got[side] = min(got[side], left[l][side])
			}
		}
		for _, l := range m.s.limits[i] {
			if g.Limits[l].Per == "match" {
				left[l][0] = max(left[l][0]-got[0]-got[1], 0)
				continue
			}
			for side := range got {
				left[l][side] -= got[side]
			}
		}
		for side := range got {
			m.sides[side].take(i, u, amounts[side], done[side], got[side])
		}
	}
}

// take notes what one alliance is credited with of one unit.
func (a *side) take(i int, u *unit, amounts []float64, done, got float64) {
	a.credited[i] = got
	if done == 0 {
		return
	}
	share := 1.0
	if got != done {
		share = got / done
	}
	robots := a.robots[u.action.ID]
	for j, amount := range amounts {
		robots[j] += amount * share
		if j < len(a.out.Robots) {
			a.out.Robots[j] += amount * share * u.points
		} else {
			a.out.Rest += amount * share * u.points
		}
	}
	a.out.Points += got * u.points
}

// init makes the maps of the answer.
func (a *side) init(g *Game) {
	a.out.Components = make(map[string]float64, len(g.Components))
	a.out.RankingPoints = make(map[string]bool, len(g.RankingPoints))
	a.out.Credited = make(map[string]float64, len(a.credited)+len(g.Bonuses))
	a.bonus = make(map[string]float64, len(g.Bonuses))
	a.open = map[string]bool{}
}

// total adds bonuses, components and fouls to one alliance's answer.
func (m *tally) total(side int) {
	g, a := m.s.g, &m.sides[side]
	for i := range m.s.units {
		a.out.Credited[m.s.units[i].key()] = a.credited[i]
	}
	for i := range g.Bonuses {
		a.out.Points += m.bonus(side, &g.Bonuses[i])
	}
	for i := range g.Components {
		a.out.Components[g.Components[i].ID] = m.component(side, &g.Components[i])
	}
	for _, f := range g.Fouls {
		a.out.FromFouls += m.committed(1-side, f.ID) * f.OpponentPoints
	}
	a.out.Points += a.out.FromFouls
}

func (m *tally) committed(side int, foul string) float64 {
	if n := m.played[side].Fouls[foul]; n > 0 {
		return n
	}
	return 0
}

// bonus is the points of a bonus; the first call also shares them out.
func (m *tally) bonus(side int, b *Bonus) float64 {
	a := &m.sides[side]
	if points, known := a.bonus[b.ID]; known || a.open[b.ID] {
		return points
	}
	a.open[b.ID] = true // Load refuses bonuses that depend on themselves; this ends the work on others
	times := 0.0
	if b.ForEach != nil {
		times = m.rows(side, b)
	} else if b.When != nil && m.holds(side, *b.When) {
		times = 1
		a.out.Rest += b.Points
	}
	a.out.Credited[b.ID] = times
	a.bonus[b.ID] = times * b.Points
	return a.bonus[b.ID]
}

// rows is how often a for_each bonus is paid. Its points belong to the robots
// in proportion to their units.
func (m *tally) rows(side int, b *Bonus) float64 {
	a := &m.sides[side]
	units := make([]float64, len(a.out.Robots)+1)
	sum := 0.0
	for _, id := range b.ForEach.Count {
		for i, n := range a.robots[id] {
			units[i] += n
			sum += n
		}
	}
	times := math.Floor(sum/b.ForEach.Step + slack)
	if times <= 0 {
		return 0
	}
	for i, n := range units {
		points := times * b.Points * n / sum
		if i < len(a.out.Robots) {
			a.out.Robots[i] += points
		} else {
			a.out.Rest += points
		}
	}
	return times
}

// component is the value of a component for one alliance.
func (m *tally) component(side int, part *Component) float64 {
	a := &m.sides[side]
	sum := 0.0
	for i := range m.s.units {
		u := &m.s.units[i]
		switch {
		case slices.Contains(part.Sum, u.action.ID):
			sum += a.credited[i] * u.points
		case slices.Contains(part.Count, u.action.ID):
			sum += a.credited[i]
		}
	}
	for i := range m.s.g.Bonuses {
		if b := &m.s.g.Bonuses[i]; slices.Contains(part.Sum, b.ID) {
			sum += m.bonus(side, b)
		}
	}
	return sum
}

// value is a component's value by id; 0 for one that is not in the game.
func (m *tally) value(side int, id string) float64 {
	part, ok := m.s.g.Component(id)
	if !ok {
		return 0
	}
	return m.component(side, part)
}

// holds reports whether one alliance meets a condition.
func (m *tally) holds(side int, t Condition) bool {
	switch {
	case t.Outcome == "win":
		return m.sides[side].out.Points > m.sides[1-side].out.Points+slack
	case t.Outcome == "tie":
		return math.Abs(m.sides[0].out.Points-m.sides[1].out.Points) <= slack
	case t.AtLeast != nil:
		return m.value(side, t.Component) >= m.s.g.Value(*t.AtLeast)-slack
	case t.MoreThan != "":
		return m.value(side, t.Component) > m.value(1-side, t.Component)+slack
	case t.Both != "":
		return m.did(0, t.Both) && m.did(1, t.Both)
	case t.Any != nil:
		return slices.ContainsFunc(t.Any, func(u Condition) bool { return m.holds(side, u) })
	case t.All != nil:
		return !slices.ContainsFunc(t.All, func(u Condition) bool { return !m.holds(side, u) })
	}
	return false
}

// did reports whether an alliance was credited with any of an action.
func (m *tally) did(side int, action string) bool {
	for i := range m.s.units {
		if m.s.units[i].action.ID == action && m.sides[side].credited[i] > 0 {
			return true
		}
	}
	return false
}

// rank gives one alliance its ranking points; both totals must be known.
func (m *tally) rank(side int) {
	a := &m.sides[side]
	for _, p := range m.s.g.RankingPoints {
		gained := m.holds(side, p.When)
		for _, f := range m.s.g.Fouls {
			if f.OpponentGains == p.ID && m.committed(1-side, f.ID) > 0 {
				gained = true
			}
		}
		a.out.RankingPoints[p.ID] = gained
		if gained {
			a.out.Ranking += p.Points
		}
	}
}
