package check

import "math"

// Two scouts of one robot saw the same match: their counts differ by what each
// overlooks, which is far less than what a robot does from match to match. This
// file says how far rows are apart that are of one robot and match.

const (
	sameLean     = 40.0 // counts' worth of the belief below
	samePrior    = 0.12 // variance of a scout's count, as a share of it
	sameClip     = 2.0  // a pair counts for no more: one of them may be of another robot
	sameSlip     = 0.06 // chance that a count of an honest pair is far off all the same
	sameChoice   = 0.96 // chance that two scouts call one end the same
	otherIsWrong = 0.06 // chance that the other record is the wrong one
)

// agreement is the variance of a scout's count as a share of it, from the
// records that two scouts made of one robot.
func (t *table) agreement() float64 {
	sum, n := samePrior*sameLean, sameLean
	for i := range t.plays {
		for _, ids := range t.plays[i].rows {
			for k := 1; k < len(ids); k++ {
				a, b := t.rows[ids[k-1]], t.rows[ids[k]]
				if !a.usable() || !b.usable() {
					continue
				}
				for c := range t.cells {
					x, y := a.vals[c], b.vals[c]
					if t.cells[c].kind != countCell || math.IsNaN(x) || math.IsNaN(y) || x+y == 0 {
						continue
					}
					sum += math.Min(sameClip, square(x-y)/(x+y))
					n++
				}
			}
		}
	}
	return sum / n
}

// logSame is the log likelihood of row r when other is a record of the same
// robot and match. Cells that only r has are as expected of the robot.
func (t *table) logSame(r, other *row, e *expected, skip func(k int) bool) float64 {
	sum := t.profiles.logRow(r, e, 1, func(k int) bool {
		return skip != nil && skip(k) || !math.IsNaN(other.vals[k])
	})
	for k := range t.cells {
		x, y := r.vals[k], other.vals[k]
		if math.IsNaN(x) || math.IsNaN(y) || skip != nil && skip(k) {
			continue
		}
		if c := &t.cells[k]; c.kind != countCell {
			p := (1 - sameChoice) / float64(max(1, max(2, len(c.names))-1))
			if x == y {
				p = sameChoice
			}
			sum += math.Log(p)
			continue
		}
		s := math.Sqrt(2*t.same*(y+0.4) + square(0.04*y))
		near := normal((x+0.5-y)/s) - normal((x-0.5-y)/s)
		if x == 0 {
			near = normal((0.5 - y) / s)
		}
		sum += math.Log((1-sameSlip)*near + sameSlip/(2*y+6))
	}
	return sum
}

func normal(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }

// logSeat is the log likelihood of row r as one of a robot in a play, beside
// what others than r and without wrote of it there.
func (t *table) logSeat(r *row, robot, play int, without *row, skip func(k int) bool) float64 {
	e := t.profiles.of(robot, play)
	alone := t.profiles.logRow(r, e, 1, skip)
	p := &t.plays[play]
	for s, at := range p.seats {
		if at != robot {
			continue
		}
		var sum, n float64
		for _, id := range p.rows[s] {
			if o := t.rows[id]; o != r && o != without && o.usable() {
				sum += logSum(math.Log(1-otherIsWrong)+t.logSame(r, o, e, skip), math.Log(otherIsWrong)+alone)
				n++
			}
		}
		if n > 0 {
			return sum / n
		}
	}
	return alone
}

func logSum(a, b float64) float64 {
	if a < b {
		a, b = b, a
	}
	return a + math.Log1p(math.Exp(b-a))
}
