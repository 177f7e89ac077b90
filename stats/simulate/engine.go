package simulate

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/mat"

	"sextant/stats/contrib"
	"sextant/stats/game"
)

// Engine draws matches. It is made once from an estimate and may be used from
// several goroutines, each with its own random source.
type Engine struct {
	fit      *contrib.Fit
	g        *game.Game
	scorer   *game.Scorer
	profiles []contrib.Profile // by robot; empty: nobody watched, so totals only
	lower    *mat.TriDense
	value    []float64  // points of a unit by action, for_each bonuses shared out
	foul     *game.Foul // the one that stands for all; nil: the game has none
}

// New prepares to simulate.
func New(fit *contrib.Fit) *Engine {
	e := &Engine{fit: fit, g: fit.Game(), scorer: game.NewScorer(fit.Game())}
	e.value = make([]float64, len(e.g.Actions))
	for k := range e.g.Actions {
		a := &e.g.Actions[k]
		e.value[k] = a.Points
		for _, b := range e.g.Bonuses {
			if b.ForEach != nil && slices.Contains(b.ForEach.Count, a.ID) {
				e.value[k] += b.Points / b.ForEach.Step
			}
		}
	}
	n := len(fit.Teams())
	for i := range n {
		p, ok := fit.Profile(i)
		if !ok {
			e.profiles = nil
			break
		}
		e.profiles = append(e.profiles, p)
	}
	for k := range e.g.Fouls {
		f := &e.g.Fouls[k]
		if f.OpponentPoints > 0 && (e.foul == nil || f.OpponentPoints < e.foul.OpponentPoints) {
			e.foul = f
		}
	}
	cov := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			cov.SetSym(i, j, fit.StrengthCov(i, j))
		}
	}
	e.lower = mat.NewTriDense(n, mat.Lower, nil)
	var chol mat.Cholesky
	if chol.Factorize(cov) {
		chol.LTo(e.lower)
	} else { // rounding took the last digit of a certain number
		for i := range n {
			e.lower.SetTri(i, i, math.Sqrt(math.Max(0, cov.At(i, i))))
		}
	}
	return e
}

// counted reports whether action k's units carry the rest of a robot's points.
func (e *Engine) counted(k int) bool {
	a := &e.g.Actions[k]
	return !a.ByAlliance() && (a.Kind == game.Count || a.Kind == game.Volume) && e.value[k] > 0
}

// Details reports whether actions are drawn. If not, nobody watched anything:
// scores are drawn, but components and ranking points other than for the
// outcome are not known.
func (e *Engine) Details() bool { return e.profiles != nil }

// World is one possible truth: θ of every robot in points, by index of Fit.Teams.
type World []float64

// World draws what is not known of the robots. rng gives one normal number a robot.
func (e *Engine) World(rng *rand.Rand) World {
	n := len(e.fit.Teams())
	z, w := make([]float64, n), make(World, n)
	for i := range z {
		z[i] = rng.NormFloat64()
	}
	for i := range w {
		w[i] = e.fit.Strength(i)
		for j := 0; j <= i; j++ {
			w[i] += e.lower.At(i, j) * z[j]
		}
	}
	return w
}

// Side is what one alliance got in one drawn match.
type Side struct {
	game.Scored         // Points is the whole score, rest and fouls included
	Uncapped    float64 // points its robots would have without caps and limits
	Credited    float64 // points its robots are credited with, in all
}

// Match draws a match of world w between alliances of robots, by index.
func (e *Engine) Match(rng *rand.Rand, w World, red, blue []int) (Side, Side) {
	redPlayed, redPoints := e.play(rng, w, red)
	bluePlayed, bluePoints := e.play(rng, w, blue)
	redFouls, blueFouls := e.fouls(rng), e.fouls(rng) // received
	redRest, blueRest := e.rest(rng, len(red)), e.rest(rng, len(blue))
	if e.foul != nil {
		bluePlayed.Fouls = map[string]float64{e.foul.ID: math.Round(redFouls / e.foul.OpponentPoints)}
		redPlayed.Fouls = map[string]float64{e.foul.ID: math.Round(blueFouls / e.foul.OpponentPoints)}
	}
	var a, b game.Scored
	if e.Details() {
		a, b = e.scorer.Score(redPlayed, bluePlayed)
	} else {
		a.Robots, b.Robots = redPoints, bluePoints
		a.FromFouls, b.FromFouls = redFouls, blueFouls
	}
	one, two := e.finish(a, redPoints, redRest), e.finish(b, bluePoints, blueRest)
	e.outcome(&one, &two)
	e.outcome(&two, &one)
	return one, two
}

// finish puts the drawn rest in the place of what the score has beyond robots.
func (e *Engine) finish(s game.Scored, drawn []float64, rest float64) Side {
	out := Side{Scored: s}
	for k, p := range drawn {
		out.Uncapped += p
		out.Credited += s.Robots[k]
	}
	out.Rest = rest
	out.Points = math.Round(out.Credited + rest + s.FromFouls)
	return out
}

// outcome settles the ranking points for winning and tying by the whole score.
func (e *Engine) outcome(s, other *Side) {
	if s.RankingPoints == nil {
		s.RankingPoints = map[string]bool{}
	}
	for i := range e.g.RankingPoints {
		p := &e.g.RankingPoints[i]
		got, was := false, s.RankingPoints[p.ID]
		switch p.When.Outcome {
		case "win":
			got = s.Points > other.Points
		case "tie":
			got = s.Points == other.Points
		default:
			continue
		}
		if got != was {
			s.RankingPoints[p.ID] = got
			if got {
				s.Ranking += p.Points
			} else {
				s.Ranking -= p.Points
			}
		}
	}
}

// fouls draws the points that an alliance receives by fouls.
func (e *Engine) fouls(rng *rand.Rand) float64 {
	z := rng.NormFloat64()
	mean, variance := e.fit.Fouls()
	if mean <= 0 {
		return 0
	}
	return math.Round(gamma(mean, variance, z))
}

func (e *Engine) rest(rng *rand.Rand, robots int) float64 {
	return e.fit.Rest(robots) + e.fit.RestSD()*rng.NormFloat64()
}

// gamma is a gamma law of the given mean and variance at the normal quantile z.
func gamma(mean, variance, z float64) float64 {
	if mean <= 0 || variance <= 0 {
		return math.Max(0, mean)
	}
	shape := mean * mean / variance
	root := 1 - 1/(9*shape) + z/(3*math.Sqrt(shape))
	return mean * math.Max(0, root*root*root)
}
