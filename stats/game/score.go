package game

// Robot is what one robot did in one match, by id. A count or volume holds
// units, a flag 0 or 1; what is missing was not done. Ids that are not in the
// game are passed over.
type Robot struct {
	Counts  map[string]float64
	Choices map[string]string // option id by choice id
}

// Played is what one alliance did in one match.
type Played struct {
	Robots []Robot
	// Alliance holds the actions that belong to no single robot (Action.By).
	Alliance Robot
	Fouls    map[string]float64 // committed by this alliance, by foul id
}

// Scored is what an alliance is credited with.
type Scored struct {
	Points        float64            // the whole score, FromFouls included
	FromFouls     float64            // points received by the opponent's fouls
	Components    map[string]float64 // every component of the game, by id
	RankingPoints map[string]bool    // every ranking point of the game, by id: gained or not
	Ranking       float64            // the sum of the ranking points gained
	// Credited has the units that counted, by action id; robots that were
	// credited with an option by "action:option"; how often a bonus was paid
	// by its id.
	Credited map[string]float64
	// Robots are the points of each robot, in the order of Played.Robots. Where
	// a cap cut what several robots did, they share what was credited in
	// proportion to what they did.
	Robots []float64
	// Rest is what belongs to no robot: actions by the alliance and bonuses
	// other than for_each. Points = FromFouls + Rest + the sum of Robots.
	Rest float64
}

// slack absorbs the rounding of sums of decimal fractions in comparisons.
const slack = 1e-9

// Score computes what both alliances are credited with. It is NewScorer(g).Score.
func (g *Game) Score(red, blue Played) (Scored, Scored) { return NewScorer(g).Score(red, blue) }

// RobotPoints is what a robot did times the points of each action: no caps, no
// limits, no bonuses, nothing by the alliance.
func (g *Game) RobotPoints(r Robot) float64 {
	sum := 0.0
	for i := range g.Actions {
		a := &g.Actions[i]
		if a.ByAlliance() {
			continue
		}
		for j := range unitsOf(a) {
			sum += a.unitPoints(j) * r.amount(a, j)
		}
	}
	return sum
}

// unitsOf is how many different things of an action are credited on their own:
// the options of a choice, else one.
func unitsOf(a *Action) int {
	if a.Kind == Choice {
		return len(a.Options)
	}
	return 1
}

func (a *Action) unitPoints(j int) float64 {
	if a.Kind == Choice {
		return a.Options[j].Points
	}
	return a.Points
}

// amount is how much of the j-th unit of an action a robot did.
func (r Robot) amount(a *Action, j int) float64 {
	if a.Kind == Choice {
		if r.Choices[a.ID] == a.Options[j].ID {
			return 1
		}
		return 0
	}
	n := r.Counts[a.ID]
	if !(n > 0) { // also NaN
		return 0
	}
	if a.Kind == Flag {
		return min(n, 1)
	}
	return n
}
