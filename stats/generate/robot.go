package generate

import (
	"math"
	"math/rand/v2"

	"sextant/stats/game"
)

// robot is what one invented robot can do, before the day's form.
type robot struct {
	skill     float64 // general ability, log scale, 0 middling, heavy tails
	trips     []trip  // by action
	flags     []float64
	climbs    []climb
	foulRates []float64 // expected a match, by foul
	rate      float64   // points a second of its best trip: how strong partners take it to be
	stops     float64   // chance that something stops it in a match
	noShow    float64   // chance that it does not show
	defends   float64   // chance that it is told to defend
	defence   float64   // how much longer a defended robot needs, share
	starts    []float64 // weights of the start positions
}

// trip is what a robot makes of a repeated action.
type trip struct {
	able     bool
	seconds  float64
	accuracy float64
	taste    float64 // how much its drivers like it, a weight
	load     float64
}

// climb is what a robot makes of a choice: the highest rung of the ladder that
// it tries, how surely it gets there, and how many seconds it takes.
type climb struct {
	rung    int
	sure    float64
	seconds float64
}

// condition is the state of a robot in one of its matches.
type condition struct {
	pace   float64 // speed against its first match
	broken bool    // something that nobody has found yet
	dead   []bool  // by act: its mechanism does not work; nil: all do
}

// newRobot draws a robot. Everything depends on skill, so that who is good at
// one thing tends to be good at others.
func newRobot(rng *rand.Rand, c *course) robot {
	// Student's t with 4 degrees of freedom: a few robots are far ahead.
	var chi float64
	for range 4 {
		z := rng.NormFloat64()
		chi += z * z
	}
	skill := min(max(0.30*rng.NormFloat64()/math.Sqrt(chi/4), -1.2), 1.3)
	r := robot{
		skill:   skill,
		trips:   make([]trip, len(c.acts)),
		flags:   make([]float64, len(c.acts)),
		climbs:  make([]climb, len(c.acts)),
		stops:   min(0.4, 0.10*math.Exp(-0.5*skill+0.7*rng.NormFloat64())),
		noShow:  0.004 * math.Exp(rng.NormFloat64()),
		defends: logistic(-1.6 - 1.5*skill + 0.7*rng.NormFloat64()),
		defence: 0.25 * math.Exp(0.5*rng.NormFloat64()),
	}
	for i := range c.acts {
		a := &c.acts[i]
		bent := rng.NormFloat64() // towards this action
		switch {
		case a.ByAlliance():
		case a.trip():
			t := trip{
				able:     rng.Float64() < logistic(1.1+1.2*skill+0.5*bent),
				seconds:  max(2.5, a.seconds*math.Exp(-0.75*skill-0.25*bent)),
				accuracy: min(0.97, logistic(1.0+0.8*skill+0.5*rng.NormFloat64())),
				taste:    math.Exp(0.6*bent + 0.4*rng.NormFloat64()),
				load:     a.load * math.Exp(0.3*rng.NormFloat64()),
			}
			if !a.Misses {
				t.accuracy = min(0.99, t.accuracy+0.15)
			}
			if a.span.seconds() < c.main.seconds()/3 && rng.Float64() < 0.25 {
				t.able = false // no routine for it
			}
			r.trips[i] = t
			if t.able && a.span.seconds() > c.main.seconds()/2 {
				r.rate = max(r.rate, a.value*t.accuracy/t.seconds)
			}
		case a.Kind == game.Flag:
			r.flags[i] = logistic(1.2 + skill + 0.9*bent)
		case a.Kind == game.Choice && len(a.ladder) > 0:
			n := len(a.ladder)
			rung := min(n-1, int(logistic(0.4+1.6*skill+1.1*bent)*float64(n)))
			r.climbs[i] = climb{
				rung:    rung,
				sure:    logistic(1.5 + 0.7*skill + 0.5*rng.NormFloat64()),
				seconds: (3 + 6*float64(rung)/float64(max(1, n-1))) * math.Exp(-0.3*skill+0.2*rng.NormFloat64()),
			}
		}
	}
	reckless := math.Exp(0.6 * rng.NormFloat64())
	for i := range c.g.Fouls {
		r.foulRates = append(r.foulRates, 0.25*reckless/math.Pow(float64(i+1), 1.5))
	}
	for _, q := range c.g.Questions {
		if q.Role == game.RoleStartPosition {
			for range q.Options {
				r.starts = append(r.starts, math.Exp(1.5*rng.NormFloat64()))
			}
		}
	}
	return r
}

// days draws how a robot fares over the matches it plays: it learns, some are
// changed overnight, some carry a fault for a while. nextDay is its first
// match of the second day. changed and repaired are indices of its matches, or
// −1.
func (r *robot) days(rng *rand.Rand, matches, nextDay int) (days []condition, changed, repaired int) {
	learns := math.Abs(0.05 + 0.06*rng.NormFloat64())
	jump, changed, repaired := 1.0, -1, -1
	if rng.Float64() < 0.12 {
		jump, changed = math.Exp(0.08+0.2*rng.NormFloat64()), nextDay
	}
	sick, well := matches, matches
	if rng.Float64() < 0.15 {
		sick = rng.IntN(matches)
		well = sick + 1 + rng.IntN(3)
		if well < matches {
			repaired = well
		}
	}
	for n := range matches {
		c := condition{pace: 1 + learns*(1-math.Exp(-float64(n)/4)), broken: n >= sick && n < well}
		if n >= nextDay {
			c.pace *= jump
		}
		days = append(days, c)
	}
	if changed >= matches {
		changed = -1
	}
	return days, changed, repaired
}

func logistic(x float64) float64 { return 1 / (1 + math.Exp(-x)) }

// weighted draws an index with the given weights; −1 if all are zero.
func weighted(rng *rand.Rand, weights []float64) int {
	var sum float64
	for _, w := range weights {
		sum += w
	}
	if sum <= 0 {
		return -1
	}
	at := rng.Float64() * sum
	for i, w := range weights {
		if at -= w; at < 0 {
			return i
		}
	}
	return len(weights) - 1
}

// erlang draws from the Erlang distribution of shape 2 with the given mean.
func erlang(rng *rand.Rand, mean float64) float64 {
	return mean / 2 * (rng.ExpFloat64() + rng.ExpFloat64())
}

// poisson draws from the Poisson distribution (Knuth's product method: means
// here are small).
func poisson(rng *rand.Rand, mean float64) int {
	n, p, stop := -1, 1.0, math.Exp(-mean)
	for p > stop {
		p *= rng.Float64()
		n++
	}
	return n
}
