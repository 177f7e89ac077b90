package backtest

import (
	"context"
	"errors"
	"fmt"
	"math"

	"sextant/stats/contrib"
	"sextant/stats/record"
)

// Calibration tells how forecasts of an event fared so far, walking forward:
// the estimate of the program beside the plain least-squares one, by lead time.
type Calibration struct {
	Played int    `json:"played"` // matches with a result
	Rows   []Lead `json:"rows" nullable:"false"`
	// Explained is the share of official points that the game file explains;
	// see record.Fit. nil: no alliance was watched as a whole.
	Explained *float64 `json:"explained,omitempty"`
	Trust     Trust    `json:"trust"`
	// Forecasts are those of the estimate, each made from what was known just
	// before its match, in playing order.
	Forecasts []Match `json:"-"`
}

// Lead is one estimator with forecasts made so many matches ahead.
type Lead struct {
	Estimator string    `json:"estimator"`
	Ahead     int       `json:"ahead"`
	Summary   Summary   `json:"summary"`
	Sharpness Sharpness `json:"sharpness"`
	Bins      []Bin     `json:"bins" nullable:"false"` // of the chance of red, ten of equal width, empty ones left out
}

// Sharpness is how much forecasts dare to say, whatever came of it.
type Sharpness struct {
	SD      float64 `json:"sd"`      // mean standard deviation of a score, points
	Width80 float64 `json:"width80"` // mean width of the 80 % interval, points
	Decided float64 `json:"decided"` // mean |2p − 1|: 0 a coin, 1 always sure
}

// Bin is the forecasts of nearly the same chance p of red, half of a tie
// included.
type Bin struct {
	From   float64 `json:"from"`
	To     float64 `json:"to"`
	Count  int     `json:"count"`
	Chance float64 `json:"chance"` // mean p
	Won    float64 `json:"won"`    // share that red won, a tie ½
	// Low and High hold Won in 90 % of events if the chances are right: quantiles
	// of the binomial law (consistency bars, Bröcker and Smith 2007,
	// doi:10.1175/WAF993.1).
	Low  float64 `json:"low"`
	High float64 `json:"high"`
}

// The levels of trust.
const (
	TrustTooLittle = "too_little" // fewer than 20 forecasts
	TrustNone      = "none"       // no better than a coin, as far as can be told
	TrustSome      = "some"
	TrustGood      = "good" // surely better than a coin by a tenth, and the intervals hold
)

// Trust is what one sentence needs that says how far to trust a forecast today.
type Trust struct {
	Level   string  `json:"level" enum:"too_little,none,some,good"`
	Matches int     `json:"matches"` // forecast
	Correct float64 `json:"correct"` // share on the right side of ½
	// Skill is 1 − Brier score / that of a coin: 0 a coin, 1 always right.
	// Least, its lower end: a standard normal 90 % bound by the matches so far.
	Skill      float64 `json:"skill"`
	Least      float64 `json:"least"`
	Coverage80 float64 `json:"coverage80"`
	// LeastSquares is the skill of the plain least-squares forecast.
	LeastSquares float64 `json:"least_squares"`
}

// Aheads are the lead times that a calibration tells of, in matches.
var Aheads = []int{0, 5, 10, 20}

// learned is the share of played matches that a calibration only learns from.
const learned = 0.15

// Calibrate walks through ev once for each estimator and lead time. draws is
// how often each match is drawn for the chances of ranking points. While no
// match can be forecast there are no rows, which is no error. It stops when ctx
// ends, with its error.
func Calibrate(ctx context.Context, ev *record.Event, draws int) (*Calibration, error) {
	c := &Calibration{Played: len(counted(ev)), Rows: []Lead{}, Forecasts: []Match{}, Trust: Trust{Level: TrustTooLittle}}
	fit, err := contrib.Estimate(ev, contrib.Options{})
	if errors.Is(err, contrib.ErrNoData) {
		return c, nil
	}
	if err != nil {
		return nil, err
	}
	c.Explained = fit.Record().Fit.Explained
	for _, name := range []string{contrib.EstimatorFused, contrib.EstimatorLeastSquares} {
		for _, ahead := range Aheads {
			opt := Options{From: learned, Ahead: ahead, Estimator: name}
			if name == contrib.EstimatorFused {
				opt.Draws = draws
			}
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			report, err := Run(ev, opt)
			if errors.Is(err, ErrTooFew) {
				continue
			}
			if err != nil {
				return nil, fmt.Errorf("%s, %d ahead: %w", name, ahead, err)
			}
			if name == contrib.EstimatorFused && ahead == 0 {
				c.Forecasts = report.Matches
			}
			c.Rows = append(c.Rows, Lead{Estimator: name, Ahead: ahead, Summary: report.Summary, Sharpness: sharpness(report.Matches), Bins: Bins(report.Matches, 10)})
		}
	}
	c.Trust = c.trust()
	return c, nil
}

// p is the chance of red with half of a tie, and o what came of it.
func (m *Match) p() float64 { return m.Chance.Red + m.Chance.Tie/2 }
func (m *Match) o() float64 { return outcome(m.RedScore, m.BlueScore) }

func sharpness(matches []Match) (s Sharpness) {
	n := float64(len(matches))
	for i := range matches {
		m := &matches[i]
		s.SD += (m.Red.SD + m.Blue.SD) / (2 * n)
		s.Width80 += (m.Red.P90 - m.Red.P10 + m.Blue.P90 - m.Blue.P10) / (2 * n)
		s.Decided += math.Abs(2*m.p()-1) / n
	}
	return s
}

// Bins sorts forecasts by the chance of red into so many bins of equal width,
// the same as Decompose. Empty ones are left out.
func Bins(matches []Match, bins int) []Bin {
	all := make([]Bin, bins)
	for i := range matches {
		p := matches[i].p()
		b := &all[min(bins-1, max(0, int(p*float64(bins))))]
		b.Count++
		b.Chance += p
		b.Won += matches[i].o()
	}
	out := []Bin{}
	for k, b := range all {
		if b.Count == 0 {
			continue
		}
		n := float64(b.Count)
		b.From, b.To = float64(k)/float64(bins), float64(k+1)/float64(bins)
		b.Chance, b.Won = b.Chance/n, b.Won/n
		b.Low, b.High = binomial(b.Count, b.Chance, 0.05)/n, binomial(b.Count, b.Chance, 0.95)/n
		out = append(out, b)
	}
	return out
}

// binomial is the least k with P(X ≤ k) ≥ q for n tries of chance p.
func binomial(n int, p, q float64) float64 {
	if p <= 0 {
		return 0
	}
	if p >= 1 {
		return float64(n)
	}
	term, below := float64(n)*math.Log1p(-p), 0.0
	for k := range n {
		if below += math.Exp(term); below >= q-1e-12 {
			return float64(k)
		}
		term += math.Log(float64(n-k)/float64(k+1)) + math.Log(p) - math.Log1p(-p)
	}
	return float64(n)
}

// coin is the Brier score of a coin.
const coin = 0.25

func (c *Calibration) trust() Trust {
	t := Trust{Level: TrustTooLittle, Matches: len(c.Forecasts)}
	for i := range c.Rows {
		r := &c.Rows[i]
		switch {
		case r.Ahead != 0:
		case r.Estimator == contrib.EstimatorFused:
			t.Correct, t.Skill, t.Coverage80 = r.Summary.Correct, 1-r.Summary.Brier/coin, r.Summary.Coverage80
		default:
			t.LeastSquares = 1 - r.Summary.Brier/coin
		}
	}
	n := float64(t.Matches)
	if n < 2 {
		return t
	}
	var squares float64
	for i := range c.Forecasts {
		d := 1 - Brier(c.Forecasts[i].p(), c.Forecasts[i].o())/coin - t.Skill
		squares += d * d / (n - 1)
	}
	t.Least = t.Skill - z90*math.Sqrt(squares/n)
	// Two standard errors of a coverage of 0.8 over 2n scores.
	holds := math.Abs(t.Coverage80-0.8) <= 2*math.Sqrt(0.8*0.2/(2*n))+0.03
	switch {
	case n < 20:
	case t.Least <= 0:
		t.Level = TrustNone
	case t.Least > 0.1 && holds:
		t.Level = TrustGood
	default:
		t.Level = TrustSome
	}
	return t
}

const z90 = 1.2815515655446004 // Φ⁻¹(0.9)
