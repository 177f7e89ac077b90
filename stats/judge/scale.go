package judge

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/mat"

	"sextant/stats/game"
	"sextant/stats/record"
)

const (
	priorSD = 1.0  // plausible: two robots a standard deviation apart are told right 3 times of 4
	draws   = 2000 // of all worths, for ranks
	tail    = 0.1  // of the ranks on either side of the interval
)

// Scales makes one scale for each question of the game over all robots of a
// match, in the order of the game file; a question that nobody answered has a
// scale without robots. The draws come from rng. Judgements of questions that
// the game no longer has, and robots that are not at the event, are left out.
func Scales(ev *record.Event, rng *rand.Rand) ([]record.JudgementScale, error) {
	out := []record.JudgementScale{}
	for i := range ev.Game.Questions {
		q := &ev.Game.Questions[i]
		if q.When != game.WhenJudgement {
			continue
		}
		s, err := scale(ev, q.ID, rng)
		if err != nil {
			return nil, fmt.Errorf("question %s: %w", q.ID, err)
		}
		out = append(out, s)
	}
	return out, nil
}

func scale(ev *record.Event, question string, rng *rand.Rand) (record.JudgementScale, error) {
	here := map[record.TeamID]bool{}
	for _, t := range ev.Teams {
		here[t.ID] = true
	}
	out := record.JudgementScale{Question: question, Teams: []record.JudgedRobot{}, Scouts: []record.JudgingPerson{}}
	index, people := map[record.TeamID]int{}, map[string]int{}
	all := slices.Clone(ev.Judgements)
	// In one order, so that the same judgements give the same digits.
	slices.SortStableFunc(all, func(a, b record.Judgement) int {
		return cmp.Or(a.Match.Compare(b.Match), cmp.Compare(record.PlayOf(a.Play), record.PlayOf(b.Play)), cmp.Compare(a.Scout, b.Scout))
	})
	var choices []Choice
	for _, j := range all {
		if j.Question != question || j.Discarded {
			continue
		}
		c := Choice{Best: None, Worst: None}
		for _, t := range j.Teams {
			if !here[t] {
				continue
			}
			k, ok := index[t]
			if !ok {
				k = len(out.Teams)
				index[t] = k
				out.Teams = append(out.Teams, record.JudgedRobot{Team: t})
			}
			out.Teams[k].Compared++
			c.Set = append(c.Set, k)
			switch t {
			case j.Best:
				c.Best = k
				out.Teams[k].Best++
			case j.Worst:
				c.Worst = k
				out.Teams[k].Worst++
			}
		}
		// A team that left the event was named: nothing is said of the others,
		// least of all that there was no difference.
		if c.Best == None && c.Worst == None && (j.Best != "" || j.Worst != "") {
			continue
		}
		people[j.Scout]++
		out.Judgements++
		choices = append(choices, c)
	}
	fit, err := Worths(len(out.Teams), choices, priorSD)
	if err != nil {
		return out, err
	}
	low, high := rankIntervals(fit, rng)
	for k := range out.Teams {
		t := &out.Teams[k]
		t.Worth, t.SD, t.RankLow, t.RankHigh = fit.Mean[k], fit.SD(k), low[k], high[k]
	}
	slices.SortFunc(out.Teams, func(a, b record.JudgedRobot) int {
		return cmp.Or(cmp.Compare(b.Worth, a.Worth), record.CompareTeams(a.Team, b.Team))
	})
	for k := range out.Teams {
		t := &out.Teams[k]
		t.Rank = k + 1
		t.RankLow, t.RankHigh = min(t.RankLow, t.Rank), max(t.RankHigh, t.Rank)
	}
	for s, n := range people {
		out.Scouts = append(out.Scouts, record.JudgingPerson{Scout: s, Judgements: n})
	}
	slices.SortFunc(out.Scouts, func(a, b record.JudgingPerson) int { return cmp.Compare(a.Scout, b.Scout) })
	return out, nil
}

// rankIntervals are the ranks between which each robot lies in the middle 80 %
// of draws of all worths.
func rankIntervals(f *Fit, rng *rand.Rand) (low, high []int) {
	n := len(f.Mean)
	low, high = make([]int, n), make([]int, n)
	if n == 0 {
		return low, high
	}
	var chol mat.Cholesky
	if !chol.Factorize(f.Cov) {
		for i := range low {
			low[i], high[i] = 1, n // nothing can be told
		}
		return low, high
	}
	var root mat.TriDense
	chol.LTo(&root)
	counts := make([][]int, n) // by robot and rank
	for i := range counts {
		counts[i] = make([]int, n)
	}
	z, u, order := make([]float64, n), make([]float64, n), make([]int, n)
	for range draws {
		for i := range z {
			z[i] = rng.NormFloat64()
			order[i] = i
		}
		for i := range u {
			u[i] = f.Mean[i]
			for j := range i + 1 {
				u[i] += root.At(i, j) * z[j]
			}
		}
		slices.SortFunc(order, func(a, b int) int { return cmp.Compare(u[b], u[a]) })
		for rank, i := range order {
			counts[i][rank]++
		}
	}
	const outside = int(tail * draws)
	for i := range counts {
		sum := 0
		for low[i] = 1; low[i] < n; low[i]++ {
			if sum += counts[i][low[i]-1]; sum > outside {
				break
			}
		}
		sum = 0
		for high[i] = n; high[i] > 1; high[i]-- {
			if sum += counts[i][high[i]-1]; sum > outside {
				break
			}
		}
	}
	return low, high
}
