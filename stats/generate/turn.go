package generate

import (
	"math"

	"sextant/stats/game"
)

// full reports whether the rung of a choice is taken by as many robots as are
// credited.
func full(a *act, rung int, taken []float64) bool {
	most := a.Options[a.ladder[rung]].AllianceMax
	return most != nil && taken[rung] >= *most
}

// turn lets robot i do its next thing.
func (m *match) turn(i int) {
	a := &m.actors[i]
	now := a.free
	switch {
	case now >= a.stopped.from && now < a.stopped.to:
		a.free = a.stopped.to
	case len(a.errands) > 0 && a.errands[0].at <= now:
		e := a.errands[0]
		a.errands = a.errands[1:]
		m.errand(a, e)
	case now >= a.defending.from && now < a.defending.to:
		a.free = a.defending.to
		if len(a.errands) > 0 {
			a.free = min(a.free, max(now, a.errands[0].at))
			a.defending.to = a.free
		}
	default:
		if k := m.choose(i, now); k >= 0 {
			m.drive(i, k, now)
		} else {
			a.free = m.wait(a, now)
		}
	}
}

// errand does a flag or tries a choice.
func (m *match) errand(a *actor, e errand) {
	act := &m.c.acts[e.act]
	if act.Kind == game.Flag {
		began := a.free
		a.free += 1 + m.rng.Float64()
		if !a.interrupted(began, a.free) && a.free <= act.to {
			a.deeds = append(a.deeds, deed{at: a.free, act: e.act, units: 1})
		}
		return
	}
	climb := a.climbs[e.act]
	done := a.free
	if e.rung > 0 {
		done += climb.seconds * (0.7 + 0.6*m.rng.Float64())
	}
	reached := e.rung
	switch {
	case a.interrupted(a.free, done):
		reached = 0
	case done > act.to || m.rng.Float64() >= climb.sure:
		reached = 0
		if e.rung > 1 && m.rng.Float64() < 0.5 {
			reached = e.rung - 1
		}
	}
	a.choices[e.act] = end{option: act.ladder[reached], tried: reached < e.rung}
	a.free = done
}

// interrupted reports whether the robot's stop falls into a stretch of time: it
// then loses what it is at.
func (a *actor) interrupted(from, to float64) bool {
	return from < a.stopped.to && to >= a.stopped.from
}

// choose picks the trip that a robot sets out on, −1 if there is none now.
func (m *match) choose(i int, now float64) int {
	a, s := &m.actors[i], &m.sides[i/m.size]
	weights := make([]float64, len(m.c.acts))
	for k := range m.c.acts {
		act, t := &m.c.acts[k], &a.trips[k]
		if !t.able || a.out(k) || now < act.from || now+0.5*t.seconds/a.form > act.to {
			continue
		}
		if len(a.errands) > 0 && now+0.8*t.seconds/a.form > a.errands[0].at && act.to > a.errands[0].at {
			continue // it would be late for what it means to do next
		}
		if m.left(s, k) <= 0 && m.rng.Float64() >= fullIgnore {
			continue
		}
		worth := act.value
		if act.helps >= 0 {
			worth += 0.3 * m.c.acts[act.helps].value
		}
		weights[k] = a.plan[k] * t.taste * t.accuracy * max(worth, 0.25) / t.seconds
	}
	return weighted(m.rng, weights)
}

// left is how many units of an action can still be credited.
func (m *match) left(s *side, k int) float64 {
	left := s.room[k]
	for _, l := range m.c.acts[k].limits {
		if m.c.limits[l].perMatch {
			left = min(left, m.shared[l])
		} else {
			left = min(left, s.left[l])
		}
	}
	return left
}

// drive is one trip: fetch, queue, carry, hit or miss.
func (m *match) drive(i, k int, now float64) {
	a, s, act := &m.actors[i], &m.sides[i/m.size], &m.c.acts[k]
	t := &a.trips[k]
	took := erlang(m.rng, t.seconds/a.form)
	long := act.span.seconds() >= m.c.main.seconds()/2
	if long {
		gone := s.trips * nearBy / (float64(m.size) * m.c.main.seconds())
		took *= 1 + scarce*gone*gone
		if m.rng.Float64() < fetchShare {
			took += max(0, s.queue-now)
			s.queue = max(now, s.queue) + fetchTime
		}
	}
	took = max(took, 1)
	if s.boost[k] > 0 {
		s.boost[k]--
		took *= boosted
	}
	accuracy := t.accuracy
	if d := m.defender(i, now); d != nil {
		took *= 1 + d.defence
		accuracy *= 0.9
	}
	done := now + took
	a.free = done
	if a.interrupted(now, done) {
		a.free = a.stopped.from // what it carried is lost
		return
	}
	if done > act.to {
		a.free = act.to
		return
	}
	units := 1.0
	if act.Kind == game.Volume {
		units = max(1, math.Round(t.load*(0.6+0.8*m.rng.Float64())))
	}
	if act.helps >= 0 {
		a.feeding += took
	}
	if act.Kind == game.Volume { // of a load, some fall beside
		hit := 0.0
		for range int(units) {
			if m.rng.Float64() < accuracy {
				hit++
			}
		}
		if units = hit; hit == 0 {
			return
		}
	} else if m.rng.Float64() >= accuracy {
		a.deeds = append(a.deeds, deed{at: done, act: k, units: 1, missed: true})
		return
	}
	a.deeds = append(a.deeds, deed{at: done, act: k, units: units})
	if long {
		s.trips++
	}
	s.room[k] -= units
	for _, l := range act.limits {
		m.shared[l] -= units
		s.left[l] -= units
	}
	if act.helps >= 0 {
		s.boost[act.helps]++
	}
}

// defender is the robot that gets in the way of robot i at a time: an opponent
// who defends, if i is the strongest of its alliance.
func (m *match) defender(i int, now float64) *actor {
	s := i / m.size
	for j := s * m.size; j < (s+1)*m.size; j++ {
		if m.actors[j].rate > m.actors[i].rate {
			return nil
		}
	}
	for j := (1 - s) * m.size; j < (2-s)*m.size; j++ {
		if d := &m.actors[j]; now >= d.defending.from && now < d.defending.to && !d.absent && !d.interrupted(now, now) {
			return d
		}
	}
	return nil
}

// wait is the next time at which a robot without anything to do may look again.
func (m *match) wait(a *actor, now float64) float64 {
	next := m.c.end
	for k := range m.c.acts {
		if from := m.c.acts[k].from; from > now {
			next = min(next, from)
		}
	}
	for _, at := range []float64{a.defending.from, a.stopped.from} {
		if at > now {
			next = min(next, at)
		}
	}
	if len(a.errands) > 0 && a.errands[0].at > now {
		next = min(next, a.errands[0].at)
	}
	return next
}

// leave settles what is only known at the end of a robot's match.
func (m *match) leave(i int) {
	a := &m.actors[i]
	if a.absent {
		a.deeds, a.stopped, a.defending = nil, span{}, span{}
		return
	}
	for k := range m.c.acts {
		if act := &m.c.acts[k]; !act.ByAlliance() && act.Kind == game.Choice && len(act.ladder) > 0 {
			if _, ok := a.choices[k]; !ok {
				a.choices[k] = end{option: act.ladder[0]}
			}
		}
	}
	if a.stopped.from >= m.c.end {
		a.stopped = span{}
	}
	for f, rate := range a.foulRates {
		rate *= 1 + a.defending.seconds()/30
		for range poisson(m.rng, rate) {
			a.fouls[f]++
		}
	}
}

// together draws what the alliance as a whole did.
func (m *match) together(s int) map[int]float64 {
	var skill float64
	for i := s * m.size; i < (s+1)*m.size; i++ {
		skill += m.actors[i].skill / float64(m.size)
	}
	did := map[int]float64{}
	for k := range m.c.acts {
		act := &m.c.acts[k]
		if !act.ByAlliance() {
			continue
		}
		switch act.Kind {
		case game.Flag:
			if m.rng.Float64() < logistic(-0.2+1.5*skill) {
				did[k] = 1
			}
		case game.Choice:
			if n := len(act.ladder); n > 0 {
				did[k] = float64(act.ladder[min(n-1, int(float64(n)*m.rng.Float64()*logistic(1+skill)))])
			}
		default:
			did[k] = float64(poisson(m.rng, 2*act.load*math.Exp(skill)))
		}
	}
	return did
}
