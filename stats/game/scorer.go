package game

import (
	"cmp"
	"math"
	"slices"
)

// Scorer scores matches of one game. It is the game compiled to indices: units,
// components, bonuses and conditions as small tables. It may be used by several
// goroutines at once; the game must not change meanwhile.
//
// What robots did goes in as ids with Score, or as numbers with a Board, which
// allocates nothing.
type Scorer struct {
	g       *Game
	units   []unit  // in the order in which they are credited
	of      [][]int // by action, by option (one entry for other kinds): the unit
	max     []float64
	limited []bool // by unit: some limit counts it
	limits  [][]int
	parts   []part // by Game.Components
	bonuses []bonus
	steps   []step // components and bonuses, what depends on another after it
	ranks   []test
	gains   [][]int // by ranking point: fouls of the opponent that give it
}

// unit is one thing that is credited on its own: an action, or an option.
type unit struct {
	action   *Action
	index    int // of the option; 0 otherwise
	points   float64
	order    int // of the period; actions at any time come last
	alliance bool
}

// key is the unit's name in Scored.Credited.
func (u *unit) key() string {
	if u.action.Kind == Choice {
		return u.action.ID + ":" + u.action.Options[u.index].ID
	}
	return u.action.ID
}

// part is a component: a weighted sum of credited units, and bonuses.
type part struct {
	units   []int
	weights []float64 // points a unit, or 1
	bonuses []int
}

// bonus is a Bonus in indices.
type bonus struct {
	points float64
	units  []int   // of ForEach
	step   float64 // 0: paid once, when
	when   test
}

// step is one component or one bonus that is worked out.
type step struct {
	bonus bool
	index int
}

// The forms of a condition.
type form uint8

const (
	never form = iota
	wins
	ties
	atLeast
	moreThan
	both
	anyOf
	allOf
)

// test is a Condition in indices.
type test struct {
	form  form
	part  int // −1: a component that is not in the game, which is 0
	least float64
	units []int // of both
	list  []test
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
			s.units = append(s.units, unit{action: a, index: j, points: a.unitPoints(j), order: order, alliance: a.ByAlliance()})
		}
	}
	slices.SortStableFunc(s.units, func(a, b unit) int {
		return cmp.Or(cmp.Compare(a.order, b.order), cmp.Compare(b.points, a.points))
	})
	s.of = make([][]int, len(g.Actions))
	for i := range g.Actions {
		s.of[i] = make([]int, unitsOf(&g.Actions[i]))
	}
	s.max = make([]float64, len(s.units))
	s.limited = make([]bool, len(s.units))
	s.limits = make([][]int, len(s.units))
	for i, u := range s.units {
		k := slices.IndexFunc(g.Actions, func(a Action) bool { return a.ID == u.action.ID })
		s.of[k][u.index] = i
		most := u.action.AllianceMax
		if u.action.Kind == Choice {
			most = u.action.Options[u.index].AllianceMax
		}
		s.max[i] = math.Inf(1)
		if most != nil {
			s.max[i] = *most
		}
		for j, l := range g.Limits {
			if u.action.Kind != Choice && slices.Contains(l.Count, u.action.ID) {
				s.limits[i] = append(s.limits[i], j)
				s.limited[i] = true
			}
		}
	}
	s.compileSums()
	return s
}

// compileSums compiles what is worked out from credited units.
func (s *Scorer) compileSums() {
	g := s.g
	for i := range g.Components {
		c := &g.Components[i]
		var p part
		for k, u := range s.units {
			switch {
			case slices.Contains(c.Sum, u.action.ID):
				p.units, p.weights = append(p.units, k), append(p.weights, u.points)
			case slices.Contains(c.Count, u.action.ID):
				p.units, p.weights = append(p.units, k), append(p.weights, 1)
			}
		}
		for k := range g.Bonuses {
			if slices.Contains(c.Sum, g.Bonuses[k].ID) {
				p.bonuses = append(p.bonuses, k)
			}
		}
		s.parts = append(s.parts, p)
	}
	for i := range g.Bonuses {
		b := &g.Bonuses[i]
		out := bonus{points: b.Points}
		switch {
		case b.ForEach != nil:
			out.step = b.ForEach.Step
			for _, id := range b.ForEach.Count {
				out.units = append(out.units, s.unitsOf(id)...)
			}
		case b.When != nil:
			out.when = s.test(b.When)
		}
		s.bonuses = append(s.bonuses, out)
	}
	seen := map[step]bool{} // Load refuses bonuses that depend on themselves; this ends the walk on others
	for i := range s.bonuses {
		s.order(step{bonus: true, index: i}, seen)
	}
	for i := range s.parts {
		s.order(step{index: i}, seen)
	}
	for i := range g.RankingPoints {
		s.ranks = append(s.ranks, s.test(&g.RankingPoints[i].When))
		var fouls []int
		for k, f := range g.Fouls {
			if f.OpponentGains == g.RankingPoints[i].ID {
				fouls = append(fouls, k)
			}
		}
		s.gains = append(s.gains, fouls)
	}
}

// order appends x to the steps, what it depends on first.
func (s *Scorer) order(x step, seen map[step]bool) {
	if seen[x] {
		return
	}
	seen[x] = true
	if x.bonus {
		s.orderTest(&s.bonuses[x.index].when, seen)
	} else {
		for _, b := range s.parts[x.index].bonuses {
			s.order(step{bonus: true, index: b}, seen)
		}
	}
	s.steps = append(s.steps, x)
}

func (s *Scorer) orderTest(t *test, seen map[step]bool) {
	if (t.form == atLeast || t.form == moreThan) && t.part >= 0 {
		s.order(step{index: t.part}, seen)
	}
	for i := range t.list {
		s.orderTest(&t.list[i], seen)
	}
}

// unitsOf are the units of an action; none for an id that is not in the game.
func (s *Scorer) unitsOf(action string) []int {
	k := s.ActionIndex(action)
	if k < 0 {
		return nil
	}
	return s.of[k]
}

func (s *Scorer) test(c *Condition) test {
	t := test{part: slices.IndexFunc(s.g.Components, func(p Component) bool { return p.ID == c.Component })}
	for _, list := range [][]Condition{c.Any, c.All} {
		for i := range list {
			t.list = append(t.list, s.test(&list[i]))
		}
	}
	switch {
	case c.Outcome == "win":
		t.form = wins
	case c.Outcome == "tie":
		t.form = ties
	case c.AtLeast != nil:
		t.form, t.least = atLeast, s.g.Value(*c.AtLeast)
	case c.MoreThan != "":
		t.form = moreThan
	case c.Both != "":
		t.form, t.units = both, s.unitsOf(c.Both)
	case c.Any != nil:
		t.form = anyOf
	case c.All != nil:
		t.form = allOf
	}
	return t
}

// Score computes what both alliances are credited with.
//
// Where a limit for the whole match is reached, both alliances share what is
// left of it in proportion to what each would have been credited with.
func (s *Scorer) Score(red, blue Played) (Scored, Scored) {
	b := s.NewBoard()
	b.Enter(0, &red)
	b.Enter(1, &blue)
	b.Score()
	return b.Scored(0), b.Scored(1)
}

// Enter writes what one alliance (0 red, 1 blue) did, by id, onto the board.
func (b *Board) Enter(side int, p *Played) {
	s := b.s
	d := &b.Did[side]
	d.Reset(len(p.Robots))
	for i := range s.units {
		u := &s.units[i]
		if u.alliance {
			d.Alliance()[i] = p.Alliance.amount(u.action, u.index)
			continue
		}
		for r := range p.Robots {
			d.Robot(r)[i] = p.Robots[r].amount(u.action, u.index)
		}
	}
	for k, f := range s.g.Fouls {
		if n := p.Fouls[f.ID]; n > 0 { // also not NaN
			d.Fouls[k] = n
		}
	}
}

// Scored is the answer for one alliance by id, a copy.
func (b *Board) Scored(side int) Scored {
	s, got := b.s, &b.Got[side]
	out := Scored{
		Points: got.Points, FromFouls: got.FromFouls, Ranking: got.Ranking, Rest: got.Rest,
		Components:    make(map[string]float64, len(s.parts)),
		RankingPoints: make(map[string]bool, len(s.ranks)),
		Credited:      make(map[string]float64, len(s.units)+len(s.bonuses)),
		Robots:        append([]float64{}, got.Robots...),
	}
	for i := range s.units {
		out.Credited[s.units[i].key()] = got.Credited[i]
	}
	for i := range s.bonuses {
		out.Credited[s.g.Bonuses[i].ID] = got.Bonuses[i]
	}
	for i := range s.parts {
		out.Components[s.g.Components[i].ID] = got.Components[i]
	}
	for i := range s.ranks {
		out.RankingPoints[s.g.RankingPoints[i].ID] = got.RankingPoints[i]
	}
	return out
}
