package contrib

import "sextant/stats/record"

// leastSquares is the first layer: for every robot the plain least-squares
// figures of the trade (common practice, no source), in points per match,
//
//	offence (OPR)   min Σ (own score     − Σ b over the alliance)²
//	defence (DPR)   min Σ (score allowed − Σ b over the alliance)²
//	margin  (CCWM)  OPR − DPR, the same with the difference of the two
//
// one equation an alliance and match, points by fouls included, every robot of
// the schedule counted. A robot that the schedule does not determine yet has
// nil: no minimum-norm number pretends to know it.
func leastSquares(ev *record.Event, e *evidence) []record.LeastSquares {
	out := make([]record.LeastSquares, len(e.teams))
	var rows []int // sides with a total
	for i := range e.sides {
		if e.sides[i].own != nil {
			rows = append(rows, i)
		}
	}
	if len(rows) == 0 {
		return out
	}
	x := newIncidence(len(e.teams))
	own, allowed := make([]float64, len(rows)), make([]float64, len(rows))
	for k, i := range rows {
		x.add(e.sides[i].robots)
		// Sides of the schedule stand in the order of the matches, red first.
		m := &ev.Matches[i/2]
		own[k], allowed[k] = m.Red.Result.Score, m.Blue.Result.Score
		if i%2 == 1 {
			own[k], allowed[k] = allowed[k], own[k]
		}
	}
	coefs, determined := x.solve(own, allowed)
	for r := range out {
		if !determined[r] {
			continue
		}
		o, d := coefs[0][r], coefs[1][r]
		margin := o - d
		out[r] = record.LeastSquares{Offence: &o, Defence: &d, Margin: &margin}
	}
	return out
}
