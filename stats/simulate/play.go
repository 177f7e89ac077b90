package simulate

import (
	"math"
	"math/rand/v2"

	"sextant/stats/game"
)

// actionSpread is the standard deviation of the log of an action's share in a
// robot's match: what a robot does more of in one match, it does less of another.
const actionSpread = 0.35

// Lineup is an alliance that plays, and what is assumed of it. Only Robots is
// needed.
type Lineup struct {
	Robots []int // by index of Fit.Teams, each once; fewer than an alliance has: the others are absent
	// Scale is a factor of each robot's θ, in the order of Robots; nil: 1. A
	// scorer who is told to defend has a smaller one.
	Scale []float64
	// Share of the match that each robot has, 0 to 1; NaN, or nil: it is drawn.
	// 0 is a robot that stands all the time, 1 one that nothing stops.
	Share []float64
	// Factor of all θ, as in playoffs, where robots play to win; 0: 1.
	Factor float64
}

// factor is what θ of the k-th robot is multiplied with.
func (l *Lineup) factor(k int) float64 {
	f := 1.0
	if l.Factor != 0 {
		f = l.Factor
	}
	if l.Scale != nil {
		f *= l.Scale[k]
	}
	return f
}

// share is the k-th robot's share if it is given; false: it is to be drawn.
func (l *Lineup) share(k int) (float64, bool) {
	if l.Share == nil || math.IsNaN(l.Share[k]) {
		return 0, false
	}
	return l.Share[k], true
}

// expected is what the k-th robot's mean is multiplied with.
func (l *Lineup) expected(e *Engine, k int) float64 {
	f := l.factor(k)
	if w, ok := l.share(k); ok {
		if full := e.robots[l.Robots[k]].exposure; full > 0 {
			f *= w / full
		}
	}
	return f
}

// Outcome is one drawn match; entry 0 is red, 1 blue.
type Outcome struct {
	Sides [2]Side
}

// Winner is 0 if red has more points, 1 if blue has, −1 for a tie.
func (o *Outcome) Winner() int {
	switch {
	case o.Sides[0].Points > o.Sides[1].Points:
		return 0
	case o.Sides[0].Points < o.Sides[1].Points:
		return 1
	}
	return -1
}

// Side is what one alliance got in one drawn match. Slices belong to the Run
// and hold until its next match.
type Side struct {
	Points    float64 // the whole score, rest and fouls included; whole points
	FromFouls float64
	Rest      float64 // what belongs to no robot
	Uncapped  float64 // points its robots would have without caps and limits
	Credited  float64 // points its robots are credited with, in all
	Ranking   float64 // sum of the ranking points

	RankingPoints []bool    // as in Game.RankingPoints: gained or not
	Components    []float64 // as in Game.Components
	Robots        []float64 // points of each that count, as in Lineup.Robots
}

// Run draws worlds and matches with one source of random numbers, again and
// again in the same memory. A Run is for one goroutine.
type Run struct {
	World World // the truth that matches are played in; DrawWorld fills it

	e     *Engine
	rng   *rand.Rand
	z     []float64 // of a world
	board *game.Board
	noise [2]noise
	out   Outcome
	// by robot of the alliance that plays
	points, share, luck []float64
	weights             []float64 // by act
}

// noise is the luck of one alliance in one match, robots one after the other.
type noise struct {
	u        []float64 // uniform: two for the stop, one an act
	z        []float64 // normal: one for luck, one an act with units
	together []float64 // uniform: one an action by the alliance
	parts    []float64 // normal: one a component, if nobody watched
	rest     float64
	fouls    float64 // received
}

// NewRun prepares to draw. Reseeding the source of rng between draws, as for
// common random numbers of a match in several lineups, is allowed.
func (e *Engine) NewRun(rng *rand.Rand) *Run {
	return &Run{
		e: e, rng: rng, World: make(World, len(e.robots)), z: make([]float64, len(e.robots)),
		board: e.scorer.NewBoard(), weights: make([]float64, len(e.acts)),
	}
}

// DrawWorld draws what is not known of the robots into World: one normal number
// a robot. All matches of a weekend belong to one world.
func (r *Run) DrawWorld() World {
	r.e.world(r.rng, r.z, r.World)
	return r.World
}

// Play draws a match in World. It takes the same random numbers, and as many,
// whoever plays and whatever is assumed of them, absent robots included, so two
// lineups from equal sources have common luck. What it returns holds until the
// next call.
func (r *Run) Play(red, blue *Lineup) *Outcome {
	lineups := [2]*Lineup{red, blue}
	for side, l := range lineups {
		r.draw(&r.noise[side], len(l.Robots))
	}
	e := r.e
	for side, l := range lineups {
		d := &r.board.Did[side]
		d.Reset(len(l.Robots))
		r.robots(side, l)
		r.alliance(&r.noise[side], d)
		r.out.Sides[side].FromFouls = 0
		if e.foulMean > 0 {
			r.out.Sides[side].FromFouls = math.Round(gamma(e.foulMean, e.foulVar, r.noise[side].fouls))
		}
	}
	if e.foul >= 0 {
		each := e.g.Fouls[e.foul].OpponentPoints
		for side := range lineups {
			r.board.Did[1-side].Fouls[e.foul] = math.Round(r.out.Sides[side].FromFouls / each)
		}
	}
	if e.seen {
		r.board.Credit()
	}
	for side, l := range lineups {
		r.finish(l, &r.out.Sides[side], &r.board.Got[side], r.noise[side].rest)
		if len(e.parts) > 0 {
			mean, variance := e.Expected(l)
			above := r.out.Sides[side].Points - r.out.Sides[side].FromFouls - mean + e.foulMean
			r.components(l, above, variance-e.foulVar, r.noise[side].parts, r.board.Got[side].Components)
		}
	}
	r.board.Rank()
	for side := range lineups {
		r.ranking(&r.out.Sides[side], &r.board.Got[side])
	}
	return &r.out
}

// Did is what alliance side (0 red, 1 blue) did in the match drawn last, robots
// in the order of their lineup; it says nothing if nobody watched. It holds
// until the next call of Play.
func (r *Run) Did(side int) *game.Sheet { return &r.board.Did[side] }

// draw fills n for an alliance of so many robots, or for a full one.
func (r *Run) draw(n *noise, robots int) {
	robots = max(robots, r.e.g.Alliance.Robots)
	n.u, n.z, n.together, n.parts = n.u[:0], n.z[:0], n.together[:0], n.parts[:0]
	for range robots {
		a, b := r.pair()
		n.u = append(n.u, a, b)
		n.z = append(n.z, r.rng.NormFloat64())
		if !r.e.seen {
			continue
		}
		half, spare := 0.0, false
		for k := range r.e.acts {
			kind := r.e.acts[k].kind
			if kind == together {
				continue
			}
			if spare {
				n.u = append(n.u, half)
			} else {
				a, half = r.pair()
				n.u = append(n.u, a)
			}
			spare = !spare
			if kind == counted || kind == worth0 {
				n.z = append(n.z, r.rng.NormFloat64())
			}
		}
	}
	if r.e.seen {
		for k := range r.e.acts {
			if r.e.acts[k].kind == together {
				n.together = append(n.together, r.rng.Float64())
			}
		}
	}
	for range r.e.parts {
		n.parts = append(n.parts, r.rng.NormFloat64())
	}
	n.fouls, n.rest = r.rng.NormFloat64(), r.rng.NormFloat64()
}

// pair draws two uniform numbers of 32 bits.
func (r *Run) pair() (float64, float64) {
	const unit = 1.0 / (1 << 32)
	x := r.rng.Uint64()
	return float64(x>>32) * unit, float64(x&(1<<32-1)) * unit
}

// robots draws what the robots of an alliance do onto its sheet, and what that
// is worth without caps.
func (r *Run) robots(side int, l *Lineup) {
	e, n, d, out := r.e, &r.noise[side], &r.board.Did[side], &r.out.Sides[side]
	r.luck, r.share, r.points = r.luck[:0], r.share[:0], r.points[:0]
	slots := len(n.u) / max(len(l.Robots), e.g.Alliance.Robots)
	normal := len(n.z) / max(len(l.Robots), e.g.Alliance.Robots)
	sum := 0.0
	for k, i := range l.Robots {
		u := n.u[k*slots:]
		w := 1.0
		if given, ok := l.share(k); ok {
			w = given
		} else if u[0] < 2*(1-e.robots[i].exposure) { // as often as makes the mean right, a uniform part
			w = u[1]
		}
		z := n.z[k*normal]
		sum += z
		r.share, r.luck = append(r.share, w), append(r.luck, z)
	}
	correlate(r.luck, sum, e.partners)
	out.Uncapped = 0
	for k, i := range l.Robots {
		strength := max(0, r.World[i]*l.factor(k))
		points := gamma(r.share[k]*strength, e.fit.LuckVar(strength, r.share[k]), r.luck[k])
		if e.seen {
			points = r.actions(i, r.share[k], points, n.u[k*slots+2:(k+1)*slots], n.z[k*normal+1:(k+1)*normal], d.Robot(k))
		}
		r.points = append(r.points, points)
		out.Uncapped += points
	}
	if !e.seen { // nothing for the board to credit
		r.board.Got[side].Robots = append(r.board.Got[side].Robots[:0], r.points...)
	}
}

// correlate turns independent normal numbers into ones of pairwise correlation
// c: their mean is stretched by √(1 + (n−1)·c), what is around it by √(1 − c).
func correlate(z []float64, sum, c float64) {
	n := float64(len(z))
	if n < 2 || c == 0 {
		return
	}
	mean := sum / n
	common, own := math.Sqrt(max(0, 1+(n-1)*c)), math.Sqrt(max(0, 1-c))
	for k := range z {
		z[k] = common*mean + own*(z[k]-mean)
	}
}

// actions splits a robot's points into what it did, and returns what these are
// worth: the points, but for whole units and for a robot that has nothing to
// count. A share w of the match is a share w of the chance to end it well.
func (r *Run) actions(robot int, w, points float64, u, z, row []float64) float64 {
	e, own := r.e, &r.e.robots[robot]
	left, worth := points, 0.0
	nu, nz := 0, 0
	for k := range e.acts {
		a := &e.acts[k]
		switch a.kind {
		case together:
			continue
		case choice:
			unit, p := pick(own.options[k], a, u[nu], w)
			row[unit] = 1
			left -= p
		case flag:
			if u[nu] < own.units[k]*w {
				row[a.unit] = 1
				left -= a.points
			}
		case counted:
			r.weights[k] = 0
			if own.units[k] > 0 {
				r.weights[k] = own.units[k] * spreadOut(z[nz])
				worth += r.weights[k] * a.value
			}
			nz++
		case worth0:
			row[a.unit] = round(own.units[k]*w*spreadOut(z[nz]), u[nu])
			nz++
		}
		nu++
	}
	factor := 0.0
	if worth > 0 {
		factor = max(0, left) / worth
	}
	done := points - left
	nu = 0
	for k := range e.acts {
		a := &e.acts[k]
		if a.kind == together {
			continue
		}
		if a.kind == counted {
			n := round(r.weights[k]*factor, u[nu])
			row[a.unit] = n
			done += n * a.value
		}
		nu++
	}
	return done
}

// spreadOut is exp(actionSpread·z): to five digits, which is enough for luck, in
// a third of the time of math.Exp.
func spreadOut(z float64) float64 {
	x := z * (actionSpread / 32)
	y := 1 + x*(1+x*(0.5+x*(1.0/6)))
	y *= y
	y *= y
	y *= y
	y *= y
	return y * y
}

// pick draws an option; a robot that has only a part of the match reaches the
// better ones less often.
func pick(chances []float64, a *act, u, w float64) (unit int, points float64) {
	for o, p := range chances {
		if u -= p * w; u < 0 {
			return a.better[o].unit, a.better[o].points
		}
	}
	return a.unit, a.points
}

// round gives a whole number of the given mean.
func round(x, u float64) float64 {
	whole := math.Floor(x)
	if u < x-whole {
		whole++
	}
	return whole
}

// alliance draws the actions of an alliance as a whole: an even chance.
func (r *Run) alliance(n *noise, d *game.Sheet) {
	if len(n.together) == 0 {
		return
	}
	row, next := d.Alliance(), 0
	for k := range r.e.acts {
		a := &r.e.acts[k]
		if a.kind != together {
			continue
		}
		u := n.together[next]
		next++
		if len(a.better) > 0 {
			if o := int(u * float64(len(a.better)+1)); o > 0 {
				row[a.better[o-1].unit] = 1
			} else {
				row[a.unit] = 1
			}
		} else if u < 0.5 {
			row[a.unit] = 1
		}
	}
}

// finish puts the drawn rest in the place of what the score has beyond robots.
func (r *Run) finish(l *Lineup, out *Side, got *game.Result, rest float64) {
	out.Credited = 0
	for _, p := range got.Robots {
		out.Credited += p
	}
	if r.e.seen {
		out.FromFouls = got.FromFouls
	}
	out.Rest = r.e.fit.Rest(len(l.Robots)) + r.e.restSD*rest
	out.Points = math.Round(out.Credited + out.Rest + out.FromFouls)
	out.Robots, out.Components, out.RankingPoints = got.Robots, got.Components, got.RankingPoints
	got.Points = out.Points
}

// ranking takes back the ranking points of which nothing is known.
func (r *Run) ranking(out *Side, got *game.Result) {
	out.Ranking = got.Ranking
	if r.e.seen {
		return
	}
	for i, told := range r.e.told {
		if got.RankingPoints[i] && !told {
			got.RankingPoints[i] = false
			out.Ranking -= r.e.g.RankingPoints[i].Points
		}
	}
}

// gamma is a gamma law of the given mean and variance at the normal quantile z.
func gamma(mean, variance, z float64) float64 {
	if mean <= 0 || variance <= 0 {
		return max(0, mean)
	}
	c := math.Sqrt(variance) / (3 * mean) // 1/(3·√shape)
	root := 1 - c*c + z*c
	return mean * max(0, root*root*root)
}
