package check

import (
	"math"

	"sextant/stats/contrib"
)

// effects says how far contributions move when a record is put right, without
// estimating anew: by how much one record weighs in its robot's contribution,
// the variance of what is known of it over the variance of what one record
// tells. It is right to first order.
type effects struct {
	t      *table
	weight []float64 // by robot: of a record that is there
	gain   []float64 // of one more
	sd     []float64 // by how much one more is expected to move it
	luck   []float64
	worth  []float64 // strength
	seen   []float64 // matches watched
}

// scoutSD is a scout's error as a share of a robot's points, as the estimates
// have it before they learn.
const scoutSD = 0.12

func newEffects(t *table, fit *contrib.Fit) *effects {
	n := len(t.teams)
	e := &effects{t: t, weight: make([]float64, n), gain: make([]float64, n), sd: make([]float64, n), luck: make([]float64, n), worth: make([]float64, n), seen: make([]float64, n)}
	if fit == nil {
		return e
	}
	record := fit.Record()
	for i := range record.Teams {
		team := &record.Teams[i]
		r, ok := t.index[team.Team]
		at, known := fit.Index(team.Team)
		if !ok || !known {
			continue
		}
		e.worth[r], e.seen[r] = math.Max(0, fit.Strength(at)), float64(team.Watched)
		luck := fit.LuckVar(e.worth[r], 1) + square(scoutSD*e.worth[r]) + 1e-9
		v := square(team.SD)
		e.weight[r] = math.Min(1, v/luck)
		e.gain[r] = v / (v + luck)
		e.sd[r] = math.Sqrt(2/math.Pi) * v / math.Sqrt(v+luck)
		e.luck[r] = luck
	}
	return e
}

// points of a row, and of what is expected of a robot in its place.
func (e *effects) points(r *row) (row, expected float64) {
	x := e.t.profiles.of(r.robot, r.play)
	row = e.t.totals.of(r, x)[0]
	for k := range e.t.cells {
		m, _ := e.t.totals.cell(0, k, x, r.exposed(&e.t.cells[k]))
		expected += m
	}
	return row, expected
}

// farOut is from how many standard deviations of luck on a record weighs less:
// an estimate takes it for an outlier. Plausible, and about right for exchanges.
const farOut = 5.0

// shared is the weight of one record of several of the same robot and match.
func (e *effects) shared(r *row) float64 {
	own, usual := e.points(r)
	far := 1.0
	if luck := e.luck[r.robot]; luck > 0 {
		far = math.Min(1, farOut*math.Sqrt(luck)/(math.Abs(own-usual)+1e-9))
	}
	n := 0.0
	for _, id := range e.t.plays[r.play].rows[r.seat] {
		if e.t.rows[id].usable() {
			n++
		}
	}
	return far * e.weight[r.robot] / math.Max(1, n)
}

// mended fills in what putting a fault right moves.
func (e *effects) mended(s *Suspect, f *fault) {
	r := e.t.rows[f.rows[0]]
	own, usual := e.points(r)
	s.Most = e.t.teams[r.robot]
	switch f.kind {
	case Swap:
		o := e.t.rows[f.rows[1]]
		other, _ := e.points(o)
		s.Shift = e.shared(r) * (other - own)
		s.Also = &Moved{Team: e.t.teams[o.robot], Shift: e.shared(o) * (own - other)}
		if math.Abs(s.Also.Shift) > math.Abs(s.Shift) {
			s.Shift, s.Also.Shift = s.Also.Shift, s.Shift
			s.Most, s.Also.Team = s.Also.Team, s.Most
		}
	case Period, Stuck:
		x := e.t.profiles.of(r.robot, r.play)
		ch := &e.t.totals.channels[0]
		if f.kind == Stuck {
			m := x.rate[f.cell] * r.exposed(&e.t.cells[f.cell])
			s.Likely = []Likely{e.t.likely(r, f.cell, math.Round(m))}
			s.Shift = e.shared(r) * ch.unit[f.cell] * (m - r.vals[f.cell])
			break
		}
		later := e.t.cells[f.cell].later
		moved := math.Min(r.vals[later], math.Max(1, x.rate[f.cell]))
		for k := range e.t.cells { // makes and misses of all that may have moved
			c := &e.t.cells[k]
			if c.later < 0 || !(r.vals[k] == 0) || !(r.vals[c.later] > 0) {
				continue
			}
			if n := math.Min(r.vals[c.later], math.Round(x.rate[k])); n > 0 {
				s.Likely = append(s.Likely, e.t.likely(r, k, n), e.t.likely(r, c.later, r.vals[c.later]-n))
			}
		}
		s.Shift = e.shared(r) * moved * (ch.unit[f.cell] - ch.unit[later])
	default:
		s.Shift = e.shared(r) * (usual - own)
	}
	s.Effect = math.Abs(s.Shift)
}

// likely is a count of a row, and what it most likely was.
func (t *table) likely(r *row, k int, to float64) Likely {
	return Likely{Action: t.cells[k].id, Missed: t.cells[k].missed, From: r.vals[k], To: to}
}
