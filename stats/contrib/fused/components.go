package fused

import "math"

// The variance components, as indices of a Components.
const (
	Robot     = iota // τ: how far robots lie apart
	MatchBase        // φ₀: a robot's matches, the part that does not grow with its strength
	MatchRoot        // φ₁: the part that grows with the square root of its strength
	ScoutBase        // r₀: a scout's count, the part that does not grow
	ScoutRate        // r₁: the part that grows with what there is to count
	Bias             // β: how far scouts lie apart
	Walk             // q: how far a robot drifts from one of its matches to the next
	Rest             // what an alliance scores beyond its robots, from match to match
	Partners         // κ: correlation of the luck of two robots of an alliance, not a standard deviation
	componentCount
)

// Components are standard deviations in units of s, but Partners is a correlation.
type Components [componentCount]float64

// ComponentPrior is the prior of one component: log-normal, but that of
// Partners is normal around Median with standard deviation SD.
type ComponentPrior struct {
	Name   string
	Median float64 // units of s
	SD     float64 // of the log
	Reason string
}

// Priors is the one table of priors. With little data they decide; at the end
// of an event mostly the data do. They come from simulated events of several
// kinds, not from any real season.
var Priors = [componentCount]ComponentPrior{
	Robot:     {"robots", 0.55, 0.15, "skill is spread so that the best add two to three times the mean"},
	MatchBase: {"match_base", 0.15, 0.20, "starts, partners and luck that hit weak and strong robots alike"},
	MatchRoot: {"match_root", 0.40, 0.125, "counts of pieces vary about like Poisson counts of a few points each"},
	ScoutBase: {"scout_base", 0.08, 0.25, "a miscounted piece or a wrong end position now and then"},
	ScoutRate: {"scout_rate", 0.10, 0.25, "busy robots are miscounted in proportion"},
	Bias:      {"scout_bias", 0.06, 0.20, "scouts miss a few in a hundred, some more than others"},
	Walk:      {"walk", 0.05, 0.25, "robots change slowly between repairs"},
	Rest:      {"rest", 0.03, 0.40, "awards and human players, in most games little"},
	Partners:  {"partners", 0, 0.15, "below 0 where robots take scarce pieces from each other, above where they help"},
}

// Fixed priors of the state, units of s.
const (
	sharedSD     = 0.5   // of the mean of all robots around s
	biasMean     = -0.02 // scouts miss more than they invent
	commonBiasSD = 0.04  // of all scouts alike: what is hard to see, everybody misses
	driftSD      = 0.008 // per match of a robot's own
	shiftSD      = 0.10  // of λ, a share: in playoffs everybody plays harder and defends more; plausible, not measured
	leastShift   = 0.1   // of 1 + λ, whatever is mistyped
	totalSD      = 0.025 // slips of the official score, and whole points
	weakBase     = 0.15  // the noise of a robot that adds next to nothing is that of this much
	weakCount    = 0.30  // and a scout's error that of counting this much
)

// Medians are the components where nothing was learned.
func Medians() (c Components) {
	for i, p := range Priors {
		c[i] = p.Median
	}
	return c
}

// The correlation of partners' luck stays where the luck of an alliance is
// above 0, whatever the search tries.
const minPartners, maxPartners = -0.4, 0.8

// coordinates are the components as distances from the median in prior
// standard deviations: N(0, 1) each under the prior.
func (c Components) coordinates() (u [componentCount]float64) {
	for i, p := range Priors {
		u[i] = math.Log(c[i]/p.Median) / p.SD
	}
	u[Partners] = (c[Partners] - Priors[Partners].Median) / Priors[Partners].SD
	return u
}

func fromCoordinates(u [componentCount]float64) (c Components) {
	for i, p := range Priors {
		c[i] = p.Median * math.Exp(p.SD*u[i])
	}
	c[Partners] = min(max(Priors[Partners].Median+Priors[Partners].SD*u[Partners], minPartners), maxPartners)
	return c
}
