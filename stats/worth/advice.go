package worth

import (
	"cmp"
	"math"
	"slices"

	"sextant/stats/record"
)

// tieAt is how many standard errors of the difference a candidate has to be
// behind the first to be told from it.
const tieAt = 2

// Advice is what the worlds drawn so far say.
func (e *Evaluation) Advice() *record.Advice {
	ranking := e.board.Ranking()
	out := &record.Advice{Runs: e.runs, Candidates: []record.Candidate{}, OurAlliance: e.board.AllianceOf(ranking[e.us])}
	turn, on := e.board.Turn()
	if on {
		out.OnTheClock = turn.Captain
		out.OurTurn = e.workers[0].onTurn()
	}
	if on && out.OurAlliance > 0 {
		out.Pick = e.board.PickNumber(out.OurAlliance-1, 1)
		out.NextPick = e.board.PickNumber(out.OurAlliance-1, 2)
	}
	out.Invitation = e.bothFutures(turn.Captain)
	order, diffs := e.rank()
	best := e.bestIn()
	for _, k := range order {
		p := e.candidates[k]
		c := record.Candidate{
			Team: ranking[p], Points: e.m.mean[e.index[p]], SE: diffs[k].se, BestIn: best[k],
			Worth: mean(e.worth, e.worth, len(e.candidates), k), EventWin: mean(e.win, e.worth, len(e.candidates), k),
			Final: mean(e.final, e.worth, len(e.candidates), k), HereNextTurn: e.stillThere(k), Then: e.then(k),
		}
		c.Tie = k == order[0] || diffs[k].mean > -tieAt*diffs[k].se
		c.Reasons = e.reasons(p, &c, out)
		c.Reason = sentence(c.Reasons)
		out.Candidates = append(out.Candidates, c)
		out.SE = max(out.SE, c.SE)
	}
	return out
}

// mean is the mean over worlds in which candidate k was there.
func mean(values, there []float32, stride, k int) float64 {
	sum, n := 0.0, 0.0
	for at := k; at < len(values); at += stride {
		if there[at] == there[at] {
			sum += float64(values[at])
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return sum / n
}

// difference in worth to the first candidate.
type difference struct{ mean, se float64 }

// means of worth by candidate, over the worlds in which it was there, and how
// many these are.
func (e *Evaluation) means() (means []float64, worlds []int) {
	c := len(e.candidates)
	means, worlds = make([]float64, c), make([]int, c)
	for k := range c {
		for at := k; at < len(e.worth); at += c {
			if e.worth[at] == e.worth[at] {
				worlds[k]++
			}
		}
		means[k] = mean(e.worth, e.worth, c, k)
	}
	return means, worlds
}

// rank orders the candidates that were there in any world, best first.
func (e *Evaluation) rank() ([]int, []difference) {
	means, worlds := e.means()
	var order []int
	for k, n := range worlds {
		if n > 0 {
			order = append(order, k)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(means[b], means[a]) })
	out := make([]difference, len(means))
	for _, k := range order {
		out[k] = e.difference(k, order[0], means, worlds)
	}
	return order, out
}

// difference of candidate k to the first, of two means that share most worlds
// but not all: before our turn a candidate may be gone in some of them. The
// standard error is that of a difference of ratios (Cochran, Sampling
// Techniques, 3rd ed. 1977, §6.4, linearised); if both are there in every world
// it is the paired one.
func (e *Evaluation) difference(k, first int, means []float64, worlds []int) difference {
	if k == first {
		return difference{}
	}
	if min(worlds[k], worlds[first]) < 2 {
		return difference{0, 1} // nothing is known yet
	}
	part := func(v float32, of int) float64 {
		if v != v {
			return 0
		}
		return (float64(v) - means[of]) / math.Sqrt(float64(worlds[of])*float64(worlds[of]-1))
	}
	square := 0.0
	for at := 0; at < len(e.worth); at += len(means) {
		d := part(e.worth[at+k], k) - part(e.worth[at+first], first)
		square += d * d
	}
	return difference{means[k] - means[first], math.Sqrt(square)}
}

// bestIn is the share of worlds in which each candidate is the best of those
// that are there; equal ones share a world.
func (e *Evaluation) bestIn() []float64 {
	n := len(e.candidates)
	out := make([]float64, n)
	worlds := 0.0
	for at := 0; at < len(e.worth); at += n {
		best, ties := float32(-1), 0.0
		for _, w := range e.worth[at : at+n] {
			switch {
			case w > best:
				best, ties = w, 1
			case w == best:
				ties++
			}
		}
		if ties == 0 {
			continue
		}
		worlds++
		for k, w := range e.worth[at : at+n] {
			if w == best {
				out[k] += 1 / ties
			}
		}
	}
	for k := range out {
		out[k] /= max(worlds, 1)
	}
	return out
}

func (e *Evaluation) stillThere(k int) float64 {
	var there, n float64
	for at := k; at < len(e.here); at += len(e.candidates) {
		if e.here[at] >= 0 {
			there += float64(e.here[at])
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return there / n
}

// then is the most frequent next pick after candidate k.
func (e *Evaluation) then(k int) *record.Then {
	count := map[int16]int{}
	n := 0
	best := int16(none)
	for at := k; at < len(e.second); at += len(e.candidates) {
		if e.worth[at] != e.worth[at] {
			continue
		}
		n++
		if s := e.second[at]; s >= 0 {
			count[s]++
			if best < 0 || count[s] > count[best] || count[s] == count[best] && s < best {
				best = s
			}
		}
	}
	if best < 0 {
		return nil
	}
	return &record.Then{Team: e.board.Ranking()[best], Share: float64(count[best]) / float64(n)}
}

// bothFutures sums up what an invitation by the captain on the clock brings.
func (e *Evaluation) bothFutures(captain record.TeamID) *record.Invitation {
	a, c := e.turn, e.captain
	if a < 0 || e.workers[0].onTurn() || !e.board.MayInvite(c, e.us) || e.runs == 0 {
		return nil
	}
	out := &record.Invitation{Captain: captain}
	n := float64(len(e.invited))
	var sum, square float64
	for i := range e.invited {
		x := &e.invited[i]
		for f, o := range map[*record.Future]*outcome{&out.Accept: &x.accept, &out.Decline: &x.decline} {
			f.Worth += o.worth / n
			f.EventWin += o.win / n
			f.Final += o.final / n
		}
		d := x.accept.worth - x.decline.worth
		sum += d
		square += d * d
	}
	m := sum / n
	out.SE = math.Sqrt(max(square/n-m*m, 0) / max(n-1, 1))
	switch {
	case m > tieAt*out.SE:
		out.Answer = record.Accepts
	case m < -tieAt*out.SE:
		out.Answer = record.Declines
	}
	return out
}
