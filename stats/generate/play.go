package generate

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"

	"sextant/stats/game"
)

// deed is one thing that a robot did.
type deed struct {
	at     float64 // seconds since the start of the match
	act    int
	units  float64
	missed bool
}

// doing is all that one robot did in a match.
type doing struct {
	absent    bool
	deeds     []deed      // in order of time; flags too
	choices   map[int]end // by action
	fouls     []int       // by foul
	stopped   span        // when something stopped it
	defending span
	feeding   float64 // seconds on trips that only help
	start     int     // start position, −1 if the game does not ask
}

// end is where a robot ended up with a choice.
type end struct {
	option int
	tried  bool // and failed to do better
}

// played is one match.
type played struct {
	robots   []doing
	alliance [2]map[int]float64 // actions of the alliance: units, or the index of the option
}

// actor is a robot while it plays.
type actor struct {
	*robot
	condition
	doing
	form    float64   // of this match; over 1 is faster
	plan    []float64 // weight of each action in this match
	free    float64   // when it can start the next thing
	errands []errand  // what is due at a time, in order
}

// errand is a flag or a choice that a robot means to do from a time on.
type errand struct {
	at   float64
	act  int
	rung int
}

// match is the state while a match runs.
type match struct {
	rng    *rand.Rand
	c      *course
	size   int
	actors []actor
	sides  [2]side
	shared []float64 // what is left of limits per match
}

// side is what the robots of an alliance share.
type side struct {
	queue float64   // when the place where pieces are fetched is free again
	trips float64   // made so far: pieces near by get scarce
	left  []float64 // of limits per alliance
	room  []float64 // of each action's alliance_max
	boost []int     // helping trips that nobody has used yet, by action
}

// Plausible habits of a match.
const (
	formSD     = 0.28 // of the log of a robot's form in a match
	planSD     = 0.7  // of the log of what it feels like doing
	fetchShare = 0.5  // of trips that start where a partner may stand in the way
	fetchTime  = 1.8  // s
	scarce     = 0.8  // how much longer a trip gets when the near pieces are gone
	nearBy     = 15.0 // s: one piece near by for so many seconds of a robot
	fullIgnore = 0.08 // chance to go on although no more is credited
	boosted    = 0.65 // length of a trip that a partner fed
)

// playMatch plays one match second by second; the robots stand red first.
func playMatch(rng *rand.Rand, c *course, robots []*robot, conditions []condition) played {
	m := &match{rng: rng, c: c, size: len(robots) / 2, actors: make([]actor, len(robots))}
	for _, l := range c.limits {
		m.shared = append(m.shared, l.max)
	}
	for s := range m.sides {
		m.sides[s] = side{left: slices.Clone(m.shared), room: make([]float64, len(c.acts)), boost: make([]int, len(c.acts))}
		for i := range c.acts {
			m.sides[s].room[i] = math.Inf(1)
			if cap := c.acts[i].AllianceMax; cap != nil {
				m.sides[s].room[i] = *cap
			}
		}
	}
	for i := range m.actors {
		m.enter(i, robots[i], conditions[i])
	}
	for s := range m.sides {
		m.agree(s)
	}
	for {
		next := 0
		for i := range m.actors {
			if m.actors[i].free < m.actors[next].free {
				next = i
			}
		}
		if m.actors[next].free >= c.end {
			break
		}
		m.turn(next)
	}
	p := played{}
	for i := range m.actors {
		m.leave(i)
		p.robots = append(p.robots, m.actors[i].doing)
	}
	for s := range p.alliance {
		p.alliance[s] = m.together(s)
	}
	return p
}

// enter draws a robot's form and troubles of this match.
func (m *match) enter(i int, r *robot, cond condition) {
	a := &m.actors[i]
	*a = actor{robot: r, condition: cond, form: cond.pace * math.Exp(formSD*m.rng.NormFloat64())}
	a.choices = map[int]end{}
	a.fouls = make([]int, len(r.foulRates))
	a.start = weighted(m.rng, r.starts)
	for range m.c.acts {
		a.plan = append(a.plan, math.Exp(planSD*m.rng.NormFloat64()))
	}
	stops, noShow := r.stops, r.noShow
	if cond.broken {
		stops, noShow = 0.7, 0.15
	}
	a.stopped = span{m.c.end, m.c.end}
	if m.rng.Float64() < stops {
		a.stopped.from = m.rng.Float64() * m.c.end
		if m.rng.Float64() < 0.6 {
			a.stopped.to = min(m.c.end, a.stopped.from+4+20*m.rng.ExpFloat64())
		}
	}
	if m.rng.Float64() < noShow {
		a.absent, a.free = true, m.c.end
	}
}

// agree is what an alliance says before the match: who defends whom, who
// tries what where only some are credited.
func (m *match) agree(s int) {
	own := m.actors[s*m.size : (s+1)*m.size]
	weakest := 0
	for i := range own {
		if own[i].rate < own[weakest].rate {
			weakest = i
		}
	}
	if d := &own[weakest]; m.rng.Float64() < d.defends {
		d.defending.from = m.c.main.from + m.c.main.seconds()*0.5*m.rng.Float64()
		d.defending.to = min(m.c.main.to, d.defending.from+m.c.main.seconds()*(0.1+0.5*m.rng.Float64()))
	}
	for k := range m.c.acts {
		act := &m.c.acts[k]
		if act.ByAlliance() || act.trip() {
			continue
		}
		taken := make([]float64, len(act.ladder))
		for i := range own {
			a := &own[i]
			e := errand{act: k}
			if a.out(k) {
				continue
			}
			if act.Kind == game.Flag {
				if m.rng.Float64() >= a.flags[k] {
					continue
				}
				e.at = act.from + min(4, act.span.seconds()/3)*m.rng.Float64()
			} else {
				e.rung = a.climbs[k].rung
				for e.rung > 0 && full(act, e.rung, taken) && m.rng.Float64() >= fullIgnore {
					e.rung--
				}
				if e.rung < 0 {
					continue
				}
				taken[e.rung]++
				need := a.climbs[k].seconds
				e.at = max(act.from, act.to-1.5*need-0.4*act.span.seconds()*m.rng.Float64())
			}
			a.errands = append(a.errands, e)
		}
	}
	for i := range own {
		slices.SortStableFunc(own[i].errands, func(x, y errand) int { return cmp.Compare(x.at, y.at) })
	}
}
