package simulate

import (
	"math"
	"math/rand/v2"

	"sextant/stats/game"
)

// actionSpread is the standard deviation of the log of an action's share in a
// robot's match: what a robot does more of in one match, it does less of another.
const actionSpread = 0.35

// play draws what the robots of an alliance do, and the points of each without
// caps. Every call takes the same number of random numbers for the same robots.
func (e *Engine) play(rng *rand.Rand, w World, robots []int) (game.Played, []float64) {
	var p game.Played
	p.Alliance = e.together(rng)
	points := make([]float64, len(robots))
	share := make([]float64, len(robots))
	luck := make([]float64, len(robots))
	sum := 0.0
	for k, r := range robots {
		share[k] = e.exposure(rng, r)
		luck[k] = rng.NormFloat64()
		sum += luck[k]
	}
	correlate(luck, sum, e.fit.Partners())
	for k, r := range robots {
		strength := math.Max(0, w[r])
		points[k] = gamma(share[k]*strength, e.fit.LuckVar(strength, share[k]), luck[k])
		if e.Details() {
			var robot game.Robot
			robot, points[k] = e.actions(rng, r, share[k], points[k])
			p.Robots = append(p.Robots, robot)
		}
	}
	return p, points
}

// correlate turns independent normal numbers into ones of pairwise correlation
// c: their mean is stretched by √(1 + (n−1)·c), what is around it by √(1 − c).
func correlate(z []float64, sum, c float64) {
	n := float64(len(z))
	if n < 2 || c == 0 {
		return
	}
	mean := sum / n
	common, own := math.Sqrt(math.Max(0, 1+(n-1)*c)), math.Sqrt(math.Max(0, 1-c))
	for k := range z {
		z[k] = common*mean + own*(z[k]-mean)
	}
}

// exposure draws the share of a match that a robot has: all of it, or, as often
// as makes the mean right, a uniform part.
func (e *Engine) exposure(rng *rand.Rand, r int) float64 {
	stops, part := rng.Float64(), rng.Float64()
	if stops < 2*(1-e.fit.Exposure(r)) {
		return part
	}
	return 1
}

// actions splits a robot's points into what it did, and returns what these are
// worth: the points, but for whole units and for a robot that has nothing to
// count. A share w of the match is a share w of the chance to end it well.
func (e *Engine) actions(rng *rand.Rand, r int, w, points float64) (game.Robot, float64) {
	own := &e.profiles[r]
	out := game.Robot{Counts: map[string]float64{}, Choices: map[string]string{}}
	left := points
	weights := make([]float64, len(e.g.Actions))
	var worth float64
	for k := range e.g.Actions {
		a := &e.g.Actions[k]
		u, z := rng.Float64(), rng.NormFloat64()
		switch {
		case a.ByAlliance():
		case a.Kind == game.Choice:
			if o := pick(own.Options[k], a.Options, u, w); o >= 0 {
				out.Choices[a.ID] = a.Options[o].ID
				left -= a.Options[o].Points
			}
		case a.Kind == game.Flag:
			if u < own.Units[k]*w {
				out.Counts[a.ID] = 1
				left -= a.Points
			}
		case e.counted(k):
			weights[k] = own.Units[k] * math.Exp(actionSpread*z)
			worth += weights[k] * e.value[k]
		default: // worth nothing, but it may count for a component
			out.Counts[a.ID] = round(own.Units[k]*w*math.Exp(actionSpread*z), u)
		}
	}
	factor := 0.0
	if worth > 0 {
		factor = math.Max(0, left) / worth
	}
	done := points - left
	for k := range e.g.Actions {
		if u := rng.Float64(); weights[k] > 0 {
			n := round(weights[k]*factor, u)
			out.Counts[e.g.Actions[k].ID] = n
			done += n * e.value[k]
		}
	}
	return out, done
}

// pick draws an option; a robot that has only a part of the match reaches the
// better ones less often.
func pick(chances []float64, options []game.Option, u, w float64) int {
	least := -1
	for o := range options {
		if least < 0 || options[o].Points < options[least].Points {
			least = o
		}
	}
	for o, p := range chances {
		if o == least {
			continue
		}
		if u -= p * w; u < 0 {
			return o
		}
	}
	return least
}

// round gives a whole number of the given mean.
func round(x, u float64) float64 {
	whole := math.Floor(x)
	if u < x-whole {
		whole++
	}
	return whole
}

// together draws the actions of an alliance as a whole.
func (e *Engine) together(rng *rand.Rand) game.Robot {
	out := game.Robot{Counts: map[string]float64{}, Choices: map[string]string{}}
	for k := range e.g.Actions {
		a := &e.g.Actions[k]
		if !a.ByAlliance() {
			continue
		}
		switch u := rng.Float64(); {
		case a.Kind == game.Choice:
			out.Choices[a.ID] = a.Options[int(u*float64(len(a.Options)))].ID
		case u < 0.5:
			out.Counts[a.ID] = 1
		}
	}
	return out
}
