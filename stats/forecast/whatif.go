package forecast

import (
	"fmt"
	"math"
	"slices"

	"sextant/stats/contrib"
	"sextant/stats/record"
	"sextant/stats/simulate"
)

// Detail is a forecast with what only drawing tells.
type Detail struct {
	Forecast record.Forecast `json:"forecast"`
	Red      Distribution    `json:"red"`
	Blue     Distribution    `json:"blue"`
}

// Distribution is one alliance's score as it was drawn.
type Distribution struct {
	// Quantiles of the score at (i + ½)/41, i from 0 to 40: the middle one is
	// the median. Whole points, fouls received included.
	Quantiles []float64 `json:"quantiles" nullable:"false"`
	// Capped is what caps and limits take off on average, in points.
	Capped float64 `json:"capped"`
	// Components are expected values by id; empty if nobody watched.
	Components map[string]float64 `json:"components,omitempty"`
}

const quantiles = 41

// Change is what is assumed of a match that may be otherwise. The zero Change
// leaves it as it is.
type Change struct {
	Replace []Swap          `json:"replace,omitempty"`
	Stop    []record.TeamID `json:"stop,omitempty"` // robots that stand all match
	Defend  []Defence       `json:"defend,omitempty"`
	Feed    []Feeding       `json:"feed,omitempty"`
}

// Swap puts one robot in the place of another. If both play in the match they
// change places.
type Swap struct {
	Out record.TeamID `json:"out"`
	In  record.TeamID `json:"in"`
}

// Defence is an assumption of whoever asks: data say little about it.
type Defence struct {
	Team    record.TeamID `json:"team"`    // who defends
	Against record.TeamID `json:"against"` // an opponent
	Loss    float64       `json:"loss"`    // share of its points that the opponent loses, 0 to 0.6
	Keeps   float64       `json:"keeps"`   // share of its own points that the defender still makes, 0 to 1
}

// Feeding is an assumption too: a robot hands pieces to a partner, who scores more.
type Feeding struct {
	Team  record.TeamID `json:"team"`  // who feeds
	To    record.TeamID `json:"to"`    // a partner
	Gain  float64       `json:"gain"`  // share of its points that the partner makes more, 0 to 1
	Keeps float64       `json:"keeps"` // share of its own points that the feeder still makes, 0 to 1
}

// MostLoss is the most that defence may be assumed to take.
const MostLoss = 0.6

// ChangeError says which part of a Change cannot be; Field is a JSON Pointer
// into it.
type ChangeError struct{ Field, Message string }

func (e *ChangeError) Error() string { return e.Message }

// WhatIf forecasts m as it stands and with a change, with common random numbers
// so that they differ by the change alone. A match that cannot be forecast is
// an error of Match's kind; a change that cannot be is a *ChangeError.
func WhatIf(e *simulate.Engine, f *contrib.Fit, m *record.Match, c *Change, runs int) (before, after Detail, err error) {
	red, blue, err := lineUps(f, m)
	if err != nil {
		return before, after, err
	}
	sides := [2]*simulate.Lineup{{Robots: red}, {Robots: blue}}
	before = detail(e, f, m.ID, sides, runs)
	if err := c.apply(f, sides); err != nil {
		return before, after, err
	}
	return before, detail(e, f, m.ID, sides, runs), nil
}

// Lineups are the alliances of m, red first, with a change; nil: none. Its
// errors are those of WhatIf.
func Lineups(f *contrib.Fit, m *record.Match, c *Change) ([2]simulate.Lineup, error) {
	red, blue, err := lineUps(f, m)
	if err != nil {
		return [2]simulate.Lineup{}, err
	}
	out := [2]simulate.Lineup{{Robots: red}, {Robots: blue}}
	if c == nil {
		return out, nil
	}
	err = c.apply(f, [2]*simulate.Lineup{&out[0], &out[1]})
	return out, err
}

// Drawing is the forecast of m with the distributions of both scores.
func Drawing(e *simulate.Engine, f *contrib.Fit, m *record.Match, runs int) (Detail, error) {
	red, blue, err := lineUps(f, m)
	if err != nil {
		return Detail{}, err
	}
	return detail(e, f, m.ID, [2]*simulate.Lineup{{Robots: red}, {Robots: blue}}, runs), nil
}

func detail(e *simulate.Engine, f *contrib.Fit, id record.MatchID, sides [2]*simulate.Lineup, runs int) Detail {
	drawn := e.For(id).ForecastLineups(Source(id), sides[0], sides[1], runs)
	s := scaledFor(f, id)
	var robots [2][]int
	for side, l := range sides {
		for k, i := range l.Robots {
			by := 1.0
			if l.Scale != nil {
				by = l.Scale[k]
			}
			if l.Share != nil && l.Share[k] == 0 {
				by = 0
			}
			s.by[i] = by
			robots[side] = append(robots[side], i)
		}
	}
	return Detail{
		Forecast: joined(s, id, robots[0], robots[1], &drawn),
		Red:      distribution(&drawn.Red), Blue: distribution(&drawn.Blue),
	}
}

func distribution(s *simulate.SideSummary) Distribution {
	d := Distribution{Capped: s.Capped, Components: s.Components}
	for i := range quantiles {
		d.Quantiles = append(d.Quantiles, s.Quantile((float64(i)+0.5)/quantiles))
	}
	return d
}

// scaled is a fit of which some robots do a part only of what they can; who is
// not in by does all of it.
// In playoffs all do 1 + shift as much.
type scaled struct {
	*contrib.Fit
	by             map[int]float64
	shift, shiftSD float64
}

// scaledFor is the fit as it is for a match.
func scaledFor(f *contrib.Fit, id record.MatchID) scaled {
	s := scaled{Fit: f, by: map[int]float64{}}
	if id.Playoffs() {
		s.shift, s.shiftSD = f.Shift()
	}
	return s
}

func (s scaled) factor(i int) float64 {
	if f, ok := s.by[i]; ok {
		return f * (1 + s.shift)
	}
	return 1 + s.shift
}

// Mean is that of Fit, times the part.
func (s scaled) Mean(i int) float64 { return s.factor(i) * s.Fit.Mean(i) }

// Cov is that of Fit, times both parts.
// In playoffs what is not known of the shift is common to all.
func (s scaled) Cov(i, j int) float64 {
	both := s.factor(i) * s.factor(j)
	return both * (s.Fit.Cov(i, j) + s.Fit.Mean(i)*s.Fit.Mean(j)*s.shiftSD*s.shiftSD/((1+s.shift)*(1+s.shift)))
}

// MatchVariance leaves out who does nothing.
func (s scaled) MatchVariance(robots ...int) float64 {
	return s.Fit.MatchVariance(slices.DeleteFunc(slices.Clone(robots), func(i int) bool { return s.factor(i) == 0 })...)
}

// apply changes the lineups.
func (c *Change) apply(f *contrib.Fit, sides [2]*simulate.Lineup) error {
	for k, swap := range c.Replace {
		at := fmt.Sprintf("/replace/%d", k)
		if swap.Out == swap.In {
			return &ChangeError{at + "/in", fmt.Sprintf("team %s cannot take its own place", swap.In)}
		}
		in, ok := f.Index(swap.In)
		if !ok {
			return &ChangeError{at + "/in", fmt.Sprintf("team %s is not at this event", swap.In)}
		}
		side, place, err := find(f, sides, swap.Out, at+"/out")
		if err != nil {
			return err
		}
		out := sides[side].Robots[place]
		if other, there, err := find(f, sides, swap.In, ""); err == nil {
			sides[other].Robots = slices.Clone(sides[other].Robots)
			sides[other].Robots[there] = out
		}
		sides[side].Robots = slices.Clone(sides[side].Robots)
		sides[side].Robots[place] = in
	}
	for _, l := range sides {
		l.Scale, l.Share = make([]float64, len(l.Robots)), make([]float64, len(l.Robots))
		for k := range l.Robots {
			l.Scale[k], l.Share[k] = 1, math.NaN()
		}
	}
	for k, team := range c.Stop {
		side, place, err := find(f, sides, team, fmt.Sprintf("/stop/%d", k))
		if err != nil {
			return err
		}
		sides[side].Share[place] = 0
	}
	for k, d := range c.Defend {
		at := fmt.Sprintf("/defend/%d", k)
		side, place, err := find(f, sides, d.Team, at+"/team")
		if err != nil {
			return err
		}
		other, there, err := find(f, sides, d.Against, at+"/against")
		switch {
		case err != nil:
			return err
		case side == other:
			return &ChangeError{at + "/against", fmt.Sprintf("teams %s and %s are of one alliance", d.Team, d.Against)}
		case !(d.Loss >= 0 && d.Loss <= MostLoss):
			return &ChangeError{at + "/loss", fmt.Sprintf("the loss is %v: a share from 0 to %v", d.Loss, MostLoss)}
		case !(d.Keeps >= 0 && d.Keeps <= 1):
			return &ChangeError{at + "/keeps", fmt.Sprintf("what the defender keeps is %v: a share from 0 to 1", d.Keeps)}
		}
		sides[side].Scale[place] *= d.Keeps
		sides[other].Scale[there] *= 1 - d.Loss
	}
	return c.feed(f, sides)
}

// feed is the part of apply that is about feeding.
func (c *Change) feed(f *contrib.Fit, sides [2]*simulate.Lineup) error {
	for k, d := range c.Feed {
		at := fmt.Sprintf("/feed/%d", k)
		side, place, err := find(f, sides, d.Team, at+"/team")
		if err != nil {
			return err
		}
		other, there, err := find(f, sides, d.To, at+"/to")
		switch {
		case err != nil:
			return err
		case side != other || place == there:
			return &ChangeError{at + "/to", fmt.Sprintf("team %s is no partner of %s", d.To, d.Team)}
		case !(d.Gain >= 0 && d.Gain <= 1):
			return &ChangeError{at + "/gain", fmt.Sprintf("the gain is %v: a share from 0 to 1", d.Gain)}
		case !(d.Keeps >= 0 && d.Keeps <= 1):
			return &ChangeError{at + "/keeps", fmt.Sprintf("what the feeder keeps is %v: a share from 0 to 1", d.Keeps)}
		}
		sides[side].Scale[place] *= d.Keeps
		sides[side].Scale[there] *= 1 + d.Gain
	}
	return nil
}

// find is where a team plays.
func find(f *contrib.Fit, sides [2]*simulate.Lineup, t record.TeamID, field string) (side, place int, err error) {
	if i, ok := f.Index(t); ok {
		for side, l := range sides {
			if place := slices.Index(l.Robots, i); place >= 0 {
				return side, place, nil
			}
		}
	}
	return 0, 0, &ChangeError{field, fmt.Sprintf("team %s does not play in this match", t)}
}
