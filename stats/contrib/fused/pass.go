package fused

import (
	"fmt"
	"math"
	"slices"

	"sextant/stats/contrib/statespace"
)

// outlierLimit is the |t| from which on a scout's row loses weight.
const outlierLimit = 4.0

// model is a Problem with its state laid out and its work space; one pass
// allocates nothing. It is not safe for concurrent use.
type model struct {
	p      *Problem
	filter *statespace.Filter
	batch  *statespace.Batch
	spread []float64 // c_k per scout
	tail   []float64 // hᵢ per robot
	gain   float64   // matches of its own that a robot plays in one play, for δ

	time float64 // matches of its own that every robot has had, for δ

	index []int // scratch
	coef  []float64
	luck  []float64 // √Var e of the robots of the play
}

// course says which kind of pass: over the event (all matches count alike) or
// now (with walk, drift and marks).
type course struct {
	now     bool
	observe func(play int, m *model) // called before each update; nil: not
	after   func(play int, m *model) // and after it
	trained func(m *model)           // called after the update by trainings, which are rows of the batch
}

func newModel(p *Problem) *model {
	m := &model{p: p, filter: statespace.New(p.Robots + p.Scouts + 3), batch: statespace.NewBatch(),
		spread: slices.Repeat([]float64{1}, p.Scouts), tail: slices.Repeat([]float64{1}, p.Robots)}
	m.gain = 2 * float64(p.Size) / math.Max(1, float64(p.Robots))
	return m
}

// twin is another model of the same problem, spreads and tails, to work beside this one.
func (m *model) twin() *model {
	t := newModel(m.p)
	t.spread, t.tail = m.spread, m.tail
	return t
}

func (m *model) scoutIndex(k int) int { return m.p.Robots + k }
func (m *model) drift() int           { return m.p.Robots + m.p.Scouts }
func (m *model) rest() int            { return m.p.Robots + m.p.Scouts + 1 }

// shift is λ: how much more all robots do in playoffs, as a share.
func (m *model) shift() int { return m.p.Robots + m.p.Scouts + 2 }

// harder is 1 + λ in a play of the playoffs, else 1.
func (m *model) harder(play *Play) float64 {
	if !play.Playoff {
		return 1
	}
	return math.Max(leastShift, 1+m.filter.Mean(m.shift()))
}

// strength is θ of a robot now, units of s.
func (m *model) strength(robot int) float64 {
	return m.filter.Mean(robot) + m.time*m.filter.Mean(m.drift())
}

// begin sets the state to what is believed before the first match.
func (m *model) begin(c *Components, now bool) {
	f := m.filter
	f.Reset()
	f.AddShared(0, m.p.Robots, sharedSD*sharedSD)
	for i := range m.p.Robots {
		mean, variance := 1.0, c[Robot]*c[Robot]*m.tail[i]
		if m.p.Prior != nil {
			// Newcomers are drawn from the field of the earlier event, whose
			// level the shared mean moves for all; the product of both beliefs
			// about the others would count the field twice.
			mean = m.p.Level / m.p.Scale
			if m.p.Prior[i].Var > 0 {
				mean, variance = m.p.Prior[i].Mean/m.p.Scale, m.p.Prior[i].Var/(m.p.Scale*m.p.Scale)
			}
		}
		f.SetMean(i, mean)
		f.AddVar(i, variance)
	}
	f.AddShared(m.p.Robots, m.p.Robots+m.p.Scouts, commonBiasSD*commonBiasSD)
	for k := range m.p.Scouts {
		f.SetMean(m.scoutIndex(k), biasMean)
		f.AddVar(m.scoutIndex(k), c[Bias]*c[Bias])
	}
	if now {
		f.SetVar(m.drift(), driftSD*driftSD)
	}
	f.SetVar(m.rest(), square(m.p.RestSD/m.p.Scale))
	f.SetVar(m.shift(), shiftSD*shiftSD)
	m.time = 0
}

// pass runs through all plays and returns the log likelihood of all rows.
func (m *model) pass(c *Components, how course) (float64, error) {
	m.begin(c, how.now)
	sum, err := m.train(c, how)
	if err != nil {
		return 0, err
	}
	for i := range m.p.Plays {
		play := &m.p.Plays[i]
		if how.now {
			m.move(c, play)
		}
		m.rows(c, play)
		if how.observe != nil {
			how.observe(i, m)
		}
		ll, err := m.filter.UpdateGuarded(m.batch, outlierLimit)
		if err != nil {
			return 0, fmt.Errorf("play %d: %w", i+1, err)
		}
		if how.after != nil {
			how.after(i, m)
		}
		sum += ll
	}
	return sum, nil
}

// move lets time pass before a play.
func (m *model) move(c *Components, play *Play) {
	if len(play.Totals) > 0 {
		m.time += m.gain
	}
	for _, r := range play.Present {
		m.filter.AddVar(r.Robot, c[Walk]*c[Walk])
	}
	for _, mark := range play.Marks {
		m.filter.AddVar(mark.Robot, mark.SD*mark.SD)
	}
}

// matchVar is Var e of a robot of the given strength that has all its time.
func matchVar(c *Components, strength float64) float64 {
	return c[MatchBase]*c[MatchBase] + c[MatchRoot]*c[MatchRoot]*max(strength, weakBase)
}

// rows puts the batch of a play together.
func (m *model) rows(c *Components, play *Play) {
	b, f, s := m.batch, m.filter, m.p.Scale
	b.Reset()
	m.luck = m.luck[:0]
	hard := m.harder(play)
	for _, r := range play.Present {
		theta := hard * m.strength(r.Robot)
		// Half the robot's own strength and half the mean: weights by its own
		// alone would bias it low, since bad luck would look precise.
		variance := matchVar(c, 0.5*math.Max(theta, weakBase)+0.5) * r.Exposure
		b.Noise(variance + r.ExposureVar*theta*theta)
		m.luck = append(m.luck, math.Sqrt(variance))
	}
	for _, side := range play.Sides {
		for i := side.From; i < side.To; i++ {
			for j := i + 1; j < side.To; j++ {
				b.Correlate(i, j, c[Partners]*m.luck[i]*m.luck[j])
			}
		}
	}
	for _, t := range play.Totals {
		var usual, time float64 // outside of playoffs
		for _, r := range play.Present[t.From:t.To] {
			usual += r.Exposure * m.strength(r.Robot)
			time += hard * r.Exposure
		}
		share := float64(t.To-t.From) / float64(m.p.Size)
		mean := hard*usual + share*f.Mean(m.rest())
		row := b.Add(t.Own/s-mean, totalSD*totalSD+m.restVar(c)+t.Var/(s*s))
		for k := t.From; k < t.To; k++ {
			row.State(play.Present[k].Robot, hard*play.Present[k].Exposure).Shares(k, 1)
		}
		row.State(m.rest(), share)
		if play.Playoff {
			row.State(m.shift(), usual)
		}
		if m.time > 0 {
			row.State(m.drift(), time*m.time)
		}
	}
	for _, v := range play.Views {
		r := play.Present[v.Slot]
		z := v.Points / s
		usual := r.Exposure * m.strength(r.Robot)
		expected := hard * usual
		if v.Official {
			row := b.Add(z-expected, totalSD*totalSD+v.Var/(s*s))
			row.State(r.Robot, hard*r.Exposure).Shares(v.Slot, 1)
			if play.Playoff {
				row.State(m.shift(), usual)
			}
			if m.time > 0 {
				row.State(m.drift(), hard*r.Exposure*m.time)
			}
			continue
		}
		factor := 1 + f.Mean(m.scoutIndex(v.Scout))
		// What there was to count: for the bias by expectation, since a
		// count's own error in its own weight would drift into the bias; for
		// the error half by expectation, since a robot that was counted too
		// low would look as if it had been counted well.
		variance := m.spread[v.Scout]*countVar(c, 0.5*z/factor+0.5*expected) + v.Var/(s*s)
		row := b.Add(z-factor*expected, variance).Guard()
		row.State(r.Robot, factor*hard*r.Exposure).State(m.scoutIndex(v.Scout), expected).Shares(v.Slot, factor)
		if play.Playoff {
			row.State(m.shift(), factor*usual)
		}
		if m.time > 0 {
			row.State(m.drift(), factor*hard*r.Exposure*m.time)
		}
	}
}

// restVar is the variance of the rest from match to match: the component, as
// its prior is lifted to what the game has for it.
func (m *model) restVar(c *Components) float64 {
	lift := math.Max(1, m.p.RestMatchSD/(m.p.Scale*Priors[Rest].Median))
	return square(c[Rest] * lift)
}

// countVar is Var ε of a middling scout who has so much to count.
func countVar(c *Components, there float64) float64 {
	return c[ScoutBase]*c[ScoutBase] + square(c[ScoutRate]*max(there, weakCount))
}

func square(x float64) float64 { return x * x }
