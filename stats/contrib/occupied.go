package contrib

import (
	"math"

	"sextant/stats/game"
	"sextant/stats/record"
)

// occupied tells which share of a match's points a robot could not make, since
// it stood still, defended or fed others.
type occupied struct {
	stopped   *game.Question   // nil: the game does not ask
	other     []*game.Question // defending and feeding seconds
	seconds   float64          // of the driver-controlled period
	spans     []period         // where points are made, with their shares
	hasShares bool
}

// period is a stretch of the match, in seconds since its start, and the share
// of a robot's points that is made in it.
type period struct{ from, to, share float64 }

func newOccupied(e *evidence) *occupied {
	o := &occupied{seconds: e.game.DriverSeconds()}
	if q, ok := e.game.QuestionByRole(game.RoleStoppedSeconds); ok {
		o.stopped = q
	}
	for _, role := range []string{game.RoleDefendingSeconds, game.RoleFeedingSeconds} {
		if q, ok := e.game.QuestionByRole(role); ok {
			o.other = append(o.other, q)
		}
	}
	o.layShares(e)
	return o
}

// layShares splits the points that scouts saw by the periods they belong to.
func (o *occupied) layShares(e *evidence) {
	at := map[string]period{"": {0, e.game.MatchSeconds(), 0}}
	now := 0.0
	for _, p := range e.game.Periods {
		if p.Within == "" {
			at[p.ID] = period{now, now + p.Seconds, 0}
			now += p.Seconds + p.PauseAfter
		}
	}
	for range e.game.Periods { // a period may be within one that is within another
		for _, p := range e.game.Periods {
			if around, ok := at[p.Within]; ok && p.Within != "" {
				at[p.ID] = period{math.Max(around.from, around.to-p.Seconds), around.to, 0}
			}
		}
	}
	points, all := map[string]float64{}, 0.0
	for _, u := range e.worth().units {
		for _, m := range u.mean {
			points[u.action.Period] += math.Max(0, m)
			all += math.Max(0, m)
		}
	}
	add := func(id string) {
		if p, ok := at[id]; ok && all > 0 && points[id] > 0 && p.to > p.from {
			p.share = points[id] / all
			o.spans = append(o.spans, p)
		}
	}
	add("")
	for _, p := range e.game.Periods {
		add(p.ID)
	}
	o.hasShares = len(o.spans) > 0
}

// lost is the share of its points that the robot of a record could not make,
// and the seconds that it stood still; false: the record says nothing about it.
func (o *occupied) lost(v *record.Observation) (share, stopped float64, known bool) {
	stopped, known = seconds(v, o.stopped)
	share = o.of(v, o.stopped, stopped)
	for _, q := range o.other {
		if s, ok := seconds(v, q); ok {
			known = true
			share += o.of(v, q, s)
		}
	}
	return math.Min(1, share), stopped, known
}

// of is what so many seconds cost: by where they lie, if the timeline tells, as
// a robot that stops in the last seconds loses the end of the match and not a
// tenth of everything; else evenly.
func (o *occupied) of(v *record.Observation, q *game.Question, s float64) float64 {
	if s <= 0 || o.seconds <= 0 {
		return 0
	}
	even := math.Min(1, s/o.seconds)
	if q == nil || !o.hasShares {
		return even
	}
	lies, lost := o.laid(v, q)
	// The answer is what the scout stands for; a timeline that does not agree
	// with it was corrected by hand.
	if lies <= 0 || math.Abs(lies-s) > math.Max(5, 0.25*s) {
		return even
	}
	return lost
}

// laid adds up the stretches that the timeline has for a question (+1 begins
// one, −1 ends it) and what they cost.
func (o *occupied) laid(v *record.Observation, q *game.Question) (length, lost float64) {
	end := 0.0
	for _, p := range o.spans {
		end = math.Max(end, p.to)
	}
	began := -1.0
	take := func(to float64) {
		length += math.Max(0, to-began)
		for _, p := range o.spans {
			lost += p.share * math.Max(0, math.Min(to, p.to)-math.Max(began, p.from)) / (p.to - p.from)
		}
		began = -1
	}
	for _, t := range v.Taps {
		at := math.Min(end, float64(t.MS)/1000)
		switch {
		case t.Action != q.ID:
		case t.Step > 0 && began < 0:
			began = at
		case t.Step < 0 && began >= 0:
			take(at)
		}
	}
	if began >= 0 {
		take(end)
	}
	return length, lost
}

// seconds is the answer to a question about seconds.
func seconds(v *record.Observation, q *game.Question) (float64, bool) {
	if q == nil {
		return 0, false
	}
	a, ok := v.Answers[q.ID]
	if !ok || a.Number == nil {
		return 0, false
	}
	return math.Max(0, *a.Number), true
}
