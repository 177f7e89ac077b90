package contrib

import (
	"errors"
	"fmt"
	"math"

	"sextant/stats/contrib/fused"
	"sextant/stats/record"
)

// Between two events robots are rebuilt and drivers learn, in units of the mean
// contribution at the earlier event; plausible, not measured. What all robots
// gain together is the model's shared mean.
const priorWideningSD = 0.3

// earlier reads the estimates of an earlier event, by robot of this one; nil
// gives nil. A robot that was there starts with what was found, its variance
// widened; the others with the mean of all that were there.
func (e *evidence) earlier(p *record.Estimate) (*knowledge, error) {
	if p == nil {
		return nil, nil
	}
	if len(p.Teams) == 0 {
		return nil, errors.New("no teams in it")
	}
	k := &knowledge{robots: make([]fused.Prior, len(e.teams))}
	for i := range p.Teams {
		t := &p.Teams[i]
		if math.IsNaN(t.Working) || math.IsInf(t.Working, 0) {
			return nil, fmt.Errorf("team %s: working is not a number", t.Team)
		}
		if !(t.NowSD > 0) || math.IsInf(t.NowSD, 0) {
			return nil, fmt.Errorf("team %s: now_sd is %v, an estimate has a standard deviation above 0", t.Team, t.NowSD)
		}
		k.level += t.Working / float64(len(p.Teams))
	}
	known := 0
	for i := range p.Teams {
		t := &p.Teams[i]
		r, ok := e.index[t.Team]
		if !ok {
			continue
		}
		if k.robots[r].Var > 0 {
			return nil, fmt.Errorf("team %s stands in it twice", t.Team)
		}
		k.robots[r] = fused.Prior{Mean: t.Working, Var: square(t.NowSD) + square(priorWideningSD*k.level)}
		known++
	}
	if known == 0 {
		return nil, errors.New("none of its teams is at this event")
	}
	return k, nil
}

// knowledge is what an earlier event tells about robots.
type knowledge struct {
	level  float64       // mean contribution there
	robots []fused.Prior // by robot; Var 0: it was not there
}

// CheckPrior says whether estimates of an earlier event can be prior knowledge
// of ev; its only error is a *PriorError.
func CheckPrior(ev *record.Event, p *record.Estimate) error {
	if _, err := newEvidence(ev).earlier(p); err != nil {
		return &PriorError{err}
	}
	return nil
}
