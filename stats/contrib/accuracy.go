package contrib

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"sextant/stats/record"
)

// shots are what a robot tried in each match, and how much of it counted.
type shots struct{ made, missed []int }

func (s *shots) total() (made, tries int) {
	for k := range s.made {
		made += s.made[k]
		tries += s.made[k] + s.missed[k]
	}
	return made, tries
}

// shotsOf has, by robot, the matches in which an action's hits and misses were
// both seen; what two scouts saw of one match is averaged and rounded to whole
// shots, so that it counts once.
func (e *evidence) shotsOf(id string) []shots {
	out := make([]shots, len(e.teams))
	for i := range e.sides {
		views := e.sides[i].views
		for a := 0; a < len(views); {
			b := a
			var made, missed, n float64
			for ; b < len(views) && views[b].robot == views[a].robot; b++ {
				t, ok := views[b].obs.Counts[id]
				if !ok || t.Made == nil || t.Missed == nil || !e.complete(views[b].obs) {
					continue
				}
				made, missed, n = made+*t.Made, missed+*t.Missed, n+1
			}
			if n > 0 {
				if hit, miss := int(math.Round(made/n)), int(math.Round(missed/n)); hit+miss > 0 {
					s := &out[views[a].robot]
					s.made, s.missed = append(s.made, hit), append(s.missed, miss)
				}
			}
			a = b
		}
	}
	return out
}

// accuracies is each robot's share of tries that counted, nil where no try was
// seen, with an interval that 80 % of the true shares lie in. Shots of one
// match are not independent: a match has a share of its own around the robot's,
//
//	made ~ Beta-binomial(tries, p, ρ),   Var made = n·p·(1 − p)·(1 + (n − 1)·ρ),
//
// with one ρ for all robots. Misses are seen less often than makes, so accuracy
// runs high; no correction is made.
func (e *evidence) accuracies(id string) []*record.Accuracy {
	by := e.shotsOf(id)
	rho := correlation(by)
	out := make([]*record.Accuracy, len(by))
	for r := range by {
		made, tries := by[r].total()
		if tries == 0 {
			continue
		}
		low, high := by[r].interval(rho, 0.8)
		out[r] = &record.Accuracy{Share: float64(made) / float64(tries), Low: low, High: high, Tries: tries}
	}
	return out
}

const (
	// What ρ is taken to be before any shot is seen, and for how many matches
	// that counts: plausible, not measured.
	priorCorrelation = 0.03
	priorMatches     = 20
)

// correlation is ρ, by moments (Williams 1982, doi:10.2307/2347977): Pearson's
// χ² of the matches' shares around the robot's own exceeds its degrees of
// freedom by ρ·Σ(n − 1)·(1 − n/Σn), as each match takes part in its robot's share.
func correlation(by []shots) float64 {
	var excess, weight float64
	matches, all := 0.0, 0.0
	for _, s := range by {
		made, tries := s.total()
		p := float64(made) / float64(tries)
		if len(s.made) < 2 || made == 0 || made == tries {
			continue // nothing around which to vary
		}
		for k := range s.made {
			n := float64(s.made[k] + s.missed[k])
			own := 1 - n/float64(tries)
			excess += square(float64(s.made[k])-n*p)/(n*p*(1-p)) - own
			weight += (n - 1) * own
			matches++
			all += n
		}
	}
	lean := 5.0 * priorMatches // of five tries a match, before any is seen
	if matches > 0 {
		lean = math.Max(1, all/matches-1) * priorMatches
	}
	return math.Min(0.9, math.Max(0, (excess+priorCorrelation*lean)/(weight+lean)))
}

// interval has the equal tails of the posterior of p with the prior Beta(½, ½):
// Jeffreys' interval (Brown, Cai, DasGupta 2001, doi:10.1214/ss/1009213286)
// where ρ is 0. As there, the lower end is 0 when nothing counted and the upper
// is 1 when everything did.
//
// With θ = ρ/(1 − ρ) the likelihood of a match is, up to a factor without p,
//
//	Π_{j<made} (p + j·θ) · Π_{j<missed} (1 − p + j·θ),
//
// and in p = sin²t, in which the prior is flat, its logarithm is summed up on a grid.
func (s *shots) interval(rho, confidence float64) (low, high float64) {
	made, tries := s.total()
	if rho < 1e-9 {
		return jeffreys(float64(made), float64(tries), confidence)
	}
	theta := rho / (1 - rho)
	hits, misses := reaching(s.made), reaching(s.missed)
	const cells = 512
	const width = math.Pi / 2 / cells
	var density [cells]float64
	top := math.Inf(-1)
	for c := range density {
		sin, cos := math.Sincos((float64(c) + 0.5) * width)
		p, q := sin*sin, cos*cos
		var l float64
		for j, n := range hits {
			l += float64(n) * math.Log(p+float64(j)*theta)
		}
		for j, n := range misses {
			l += float64(n) * math.Log(q+float64(j)*theta)
		}
		density[c] = l
		top = math.Max(top, l)
	}
	var sum float64
	for c, l := range density {
		density[c] = math.Exp(l - top)
		sum += density[c]
	}
	at := func(share float64) float64 {
		left := share * sum
		for c, d := range density {
			if d >= left {
				sin := math.Sin((float64(c) + left/d) * width)
				return sin * sin
			}
			left -= d
		}
		return 1
	}
	low, high = at((1-confidence)/2), at((1+confidence)/2)
	if made == 0 {
		low = 0
	}
	if made == tries {
		high = 1
	}
	return low, high
}

// reaching counts, for each j, the matches with more than j.
func reaching(counts []int) []int {
	var out []int
	for _, n := range counts {
		for len(out) < n {
			out = append(out, 0)
		}
		for j := range n {
			out[j]++
		}
	}
	return out
}

// jeffreys is the equal-tailed interval of Beta(x + ½, n − x + ½), with the
// lower end 0 when x is 0 and the upper 1 when x is n.
func jeffreys(x, n, confidence float64) (low, high float64) {
	b := distuv.Beta{Alpha: x + 0.5, Beta: n - x + 0.5}
	low, high = b.Quantile((1-confidence)/2), b.Quantile((1+confidence)/2)
	if x <= 0 {
		low = 0
	}
	if x >= n {
		high = 1
	}
	return low, high
}
