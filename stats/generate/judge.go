package generate

import (
	"math"
	"math/rand/v2"

	"sextant/stats/game"
	"sextant/stats/record"
)

// judgeNoise is how far, in log odds, a glance at six robots lies from how well
// they really drive; the noise of a logit, so that scouts are neither blind nor
// sure.
const judgeNoise = 1.0

// Judge is what the scouts of match i (from 0) say to one question over all
// its robots; share is the part of them who are asked. The same i and question
// always give the same, and asking changes nothing of what else is drawn.
// Robots that move fast and often are called the best, whatever the question.
func (w *World) Judge(i int, question string, share float64) []record.Judgement {
	q, ok := w.course.g.Question(question)
	if !ok || q.When != game.WhenJudgement {
		return nil
	}
	m, seen := w.Play(i)
	seed := w.seeds[i].watch
	for _, c := range question {
		seed[1] = seed[1]*1099511628211 + uint64(c) // another stream for each question
	}
	rng := source([2]uint64{^seed[0], seed[1]})
	p := w.run(source(w.seeds[i].play), i)
	teams := append(append([]record.TeamID{}, m.Red.Teams...), m.Blue.Teams...)
	var out []record.Judgement
	done := map[string]bool{}
	for _, o := range seen {
		if done[o.Scout] || rng.Float64() >= share {
			continue
		}
		done[o.Scout] = true
		j := record.Judgement{Match: m.ID, Play: m.Play, Question: question, Scout: o.Scout, Teams: teams}
		best, worst := extremes(rng, p.robots)
		if rng.Float64() >= 0.08 { // now and then nobody stands out
			j.Best, j.Worst = teams[best], teams[worst]
		}
		out = append(out, j)
	}
	return out
}

// extremes are the robots that look best and worst: by how much they did, with
// the noise of a glance.
func extremes(rng *rand.Rand, robots []doing) (best, worst int) {
	top, bottom := math.Inf(-1), math.Inf(1)
	for k := range robots {
		d := &robots[k]
		look := math.Log1p(float64(len(d.deeds))) * 2
		if d.absent {
			look = -2
		}
		look -= d.stopped.seconds() / 40
		look += judgeNoise * rng.NormFloat64()
		if look > top {
			best, top = k, look
		}
		if look < bottom {
			worst, bottom = k, look
		}
	}
	return best, worst
}
